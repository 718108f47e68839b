//! Facts about conductors as sold: sizes, diameters, least sizes, accepted types.

use super::citations::{
    BY_ROW_SECONDARY, INSULATION_TYPES, OUTSIDE_DIAMETERS, SAE_AREAS, TRADE_LISTS,
};
use super::table::table;
use super::{Basis, Practice, RuleSet};
use crate::units::{Celsius, CrossSection, Gauge, Metres};
use std::sync::LazyLock;

table!(SOLD_SIZES, "sold_sizes.csv", TRADE_LISTS);
table!(MINIMUM_SIZES, "minimum_sizes.csv", BY_ROW_SECONDARY);
table!(WIRE_OD, "wire_od.csv", OUTSIDE_DIAMETERS);
table!(SAE_AREA, "sae_areas.csv", SAE_AREAS);
table!(INSULATION, "insulation_types.csv", INSULATION_TYPES);

/// The sizes that a practice commonly sells, thinnest first.
#[must_use]
pub fn sold_sizes(practice: Practice) -> &'static [Gauge] {
    match practice {
        Practice::Us => &SOLD.0,
        Practice::Metric => &SOLD.1,
    }
}

/// How a conductor is installed, as far as least sizes go.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Installation {
    /// By itself or in an open bundle.
    Separate,
    /// One core of a sheathed cable.
    Sheathed,
    /// Inside a panel.
    Panel,
}

/// The smallest conductor that a rule set allows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MinimumSize {
    /// The size; any conductor with at least its area passes.
    pub size: Gauge,
    /// How far a core may leave its sheath.
    pub max_outside_sheath: Option<Metres>,
    /// Where the limit comes from.
    pub basis: Basis,
}

/// The smallest conductor of a rule set; `None` where it says nothing of the case.
#[must_use]
pub fn minimum_size(rule_set: RuleSet, installation: Installation) -> Option<MinimumSize> {
    let case = match installation {
        Installation::Separate => "separate",
        Installation::Sheathed => "sheathed",
        Installation::Panel => "panel",
    };
    MINIMUM
        .iter()
        .find(|(set, key, _)| *set == rule_set && *key == case)
        .map(|(_, _, minimum)| *minimum)
}

/// Outside diameter of an insulated conductor, an upper estimate.
///
/// A size that is not listed, and every metric size, takes the nearest AWG size whose area is not
/// smaller. `None` above 4/0 AWG.
#[must_use]
pub fn outside_diameter(gauge: Gauge) -> Option<(Metres, Basis)> {
    OUTSIDE
        .iter()
        .find(|(size, _, _)| size.by_area(&gauge).is_ge())
        .map(|&(_, diameter, basis)| (diameter, basis))
}

/// Least copper area of automotive cable sold under an AWG number; about 10 % below the AWG area.
#[must_use]
pub fn automotive_area(gauge: Gauge) -> Option<(CrossSection, Basis)> {
    AUTOMOTIVE
        .iter()
        .find(|(size, _)| *size == gauge)
        .map(|&(_, area)| (area, SAE_AREA.basis))
}

/// A type of conductor that the law accepts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InsulationType {
    /// Name of the type, with its publication where the name alone would not tell.
    pub name: &'static str,
    /// Rating in dry places; `None` where only the print on the wire says.
    pub dry: Option<Celsius>,
    /// Rating in wet places.
    pub wet: Option<Celsius>,
    /// Paragraph of the law that names it; the confidence is that of the ratings.
    pub basis: Basis,
}

/// The conductor types that the law accepts.
#[must_use]
pub fn insulation_types() -> &'static [InsulationType] {
    &TYPES
}

static SOLD: LazyLock<(Vec<Gauge>, Vec<Gauge>)> = LazyLock::new(|| {
    let rows = SOLD_SIZES.rows();
    let of = |practice: &str| {
        rows.iter()
            .filter(|row| row.text("practice") == practice)
            .map(|row| row.size("size"))
            .collect()
    };
    (of("us"), of("metric"))
});
static MINIMUM: LazyLock<Vec<(RuleSet, &'static str, MinimumSize)>> = LazyLock::new(|| {
    MINIMUM_SIZES
        .rows()
        .iter()
        .filter_map(|row| {
            let minimum = MinimumSize {
                size: row.size("size"),
                max_outside_sheath: row.quantity("max_outside_sheath"),
                basis: row.basis(),
            };
            Some((
                RuleSet::of_publication(row.text("publication"))?,
                row.text("case"),
                minimum,
            ))
        })
        .collect()
});
static OUTSIDE: LazyLock<Vec<(Gauge, Metres, Basis)>> = LazyLock::new(|| {
    WIRE_OD
        .rows()
        .iter()
        .map(|row| {
            (
                row.awg("awg"),
                Metres(row.value("outside_in") * 0.0254),
                row.basis(),
            )
        })
        .collect()
});
static AUTOMOTIVE: LazyLock<Vec<(Gauge, CrossSection)>> = LazyLock::new(|| {
    SAE_AREA
        .rows()
        .iter()
        .map(|row| {
            (
                row.awg("awg"),
                CrossSection::from_circular_mils(row.value("min_cmil")),
            )
        })
        .collect()
});
static TYPES: LazyLock<Vec<InsulationType>> = LazyLock::new(|| {
    INSULATION
        .rows()
        .iter()
        .map(|row| InsulationType {
            name: row.text("type"),
            dry: row.number("dry_c").map(Celsius),
            wet: row.number("wet_c").map(Celsius),
            basis: row.basis(),
        })
        .collect()
});

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::{Confidence, citations};

    #[test]
    fn sizes_are_listed_thinnest_first() {
        for practice in [Practice::Us, Practice::Metric] {
            let sizes = sold_sizes(practice);
            assert_eq!(sizes.len(), 14);
            assert!(sizes.is_sorted_by(|a, b| a.by_area(b).is_lt()));
        }
        assert!(OUTSIDE.is_sorted_by(|a, b| a.0.by_area(&b.0).is_lt() && a.1 < b.1));
    }

    #[test]
    fn least_sizes() {
        let least = |set, case| minimum_size(set, case).expect("the rule set has the case");
        let law = least(RuleSet::Law, Installation::Separate);
        assert_eq!(
            (law.size, law.basis),
            (Gauge::Awg(16), citations::LAW_SEPARATE_SIZE)
        );
        let sheathed = least(RuleSet::Law, Installation::Sheathed);
        assert_eq!(sheathed.size, Gauge::Awg(18));
        assert_eq!(sheathed.max_outside_sheath, Some(Metres(0.762)));
        assert_eq!(sheathed.basis, citations::LAW_SHEATHED_SIZE);
        assert_eq!(minimum_size(RuleSet::Law, Installation::Panel), None);
        let iso = least(RuleSet::Iso, Installation::Separate);
        assert_eq!(
            (iso.size, iso.basis),
            (Gauge::Metric(1.0), citations::ISO_SIZE)
        );
        let inspected = least(RuleSet::Inspected, Installation::Separate);
        assert_eq!(
            (inspected.size, inspected.basis),
            (Gauge::Awg(14), citations::INSPECTED_SIZE)
        );
    }

    #[test]
    fn diameters_of_metric_sizes_come_from_the_next_thicker_gauge() {
        let inches = |gauge| outside_diameter(gauge).map(|(diameter, _)| diameter.0 / 0.0254);
        let near = |value: Option<f64>, expected: f64| {
            value.is_some_and(|value| (value - expected).abs() < 1e-9)
        };
        assert!(near(inches(Gauge::Awg(14)), 0.133));
        assert!(near(inches(Gauge::Awg(5)), 0.352));
        // 2.5 mm² lies between 14 AWG (2.08) and 12 AWG (3.31).
        assert!(near(inches(Gauge::Metric(2.5)), 0.152));
        assert_eq!(inches(Gauge::Metric(120.0)), None);
        let (_, basis) = outside_diameter(Gauge::Awg(14)).expect("listed");
        assert_eq!(basis.confidence, Confidence::Secondary);
    }

    #[test]
    fn automotive_cable_holds_less_copper() {
        for (gauge, area) in AUTOMOTIVE.iter() {
            let share = *area / gauge.area();
            assert!((0.88..0.98).contains(&share), "{gauge}: {share}");
        }
        assert_eq!(automotive_area(Gauge::Awg(-2)), None);
        assert!(
            insulation_types()
                .iter()
                .any(|kind| kind.dry == Some(Celsius(125.0)))
        );
    }
}
