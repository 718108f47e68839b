//! Allowances, steps, sleeves and spares of the bench papers; nearly all common practice.
//!
//! A file may replace any of them. How they add up to a cut length is decided in `schedule`.

use super::Basis;
use super::citations::{AIRCRAFT_SLACK, BENCH_PRACTICE, HARNESS_TOLERANCE};
use super::table::{Row, Shipped, table};
use crate::units::{Gauge, LengthStyle, Metres, parse_quantity};
use std::sync::LazyLock;

table!(ALLOWANCES, "cut_allowances.csv", AIRCRAFT_SLACK);
table!(ROUNDING, "cut_rounding.csv", BENCH_PRACTICE);
table!(SPARES, "spares.csv", BENCH_PRACTICE);
table!(SLEEVES, "label_sleeves.csv", BENCH_PRACTICE);
table!(TOLERANCE, "harness_tolerance.csv", HARNESS_TOLERANCE);

/// What is added to the length of a conductor along its route.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CutAllowances {
    /// For each re-termination at an end; `constants::slack_re_terminations` of them.
    pub re_termination: Metres,
    /// Drip loop at a device fed from above.
    pub drip_loop: Metres,
    /// Service loop behind a hinged panel or a plug in a console.
    pub service_loop: Metres,
    /// Lay-up and wander in a bundle, percent.
    pub lay_up_percent: f64,
    /// A route measured by string and not on a model, percent.
    pub string_percent: f64,
}

/// The default allowances of a conductor.
#[must_use]
pub fn cut_allowances(gauge: Gauge) -> (CutAllowances, Basis) {
    let allowances = if is_battery_cable(gauge) {
        CUT.1
    } else {
        CUT.0
    };
    (allowances, ALLOWANCES.basis)
}

/// Whether a size is handled as battery cable at the bench: above 8 AWG or 10 mm².
#[must_use]
pub fn is_battery_cable(gauge: Gauge) -> bool {
    let largest_small = if gauge.is_awg() {
        Gauge::Awg(8)
    } else {
        Gauge::Metric(10.0)
    };
    gauge.by_area(&largest_small).is_gt()
}

/// The step that a cut length is rounded up to.
#[must_use]
pub fn cut_step(length: Metres, style: LengthStyle) -> (Metres, Basis) {
    let key = match style {
        LengthStyle::FeetInches => "feet",
        LengthStyle::MetresMillimetres => "metric",
    };
    let step = STEPS
        .iter()
        .filter(|(style, _, _)| *style == key)
        .find(|(_, below, _)| below.is_none_or(|below| length < below))
        .map(|&(_, _, step)| step)
        .shipped();
    (step, ROUNDING.basis)
}

/// Material that is bought with a reserve.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SpareItem {
    /// Wire and cable.
    Wire,
    /// Terminals.
    Terminals,
    /// Contacts of connectors.
    Contacts,
    /// Fuses.
    Fuses,
    /// Clamps.
    Clamps,
}

/// How much more of an item is bought.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Spare {
    /// Percent of the net quantity, rounded up.
    Percent(f64),
    /// Pieces of each rating.
    Pieces(f64),
}

/// The reserve of an item.
#[must_use]
pub fn spare(item: SpareItem) -> (Spare, Basis) {
    let key = match item {
        SpareItem::Wire => "wire",
        SpareItem::Terminals => "terminals",
        SpareItem::Contacts => "contacts",
        SpareItem::Fuses => "fuses",
        SpareItem::Clamps => "clamps",
    };
    let spare = SPARE_ROWS
        .iter()
        .find(|(name, _)| *name == key)
        .map(|&(_, spare)| spare)
        .shipped();
    (spare, SPARES.basis)
}

/// Marker sleeve and wrap label of a conductor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LabelSleeve {
    /// Bore as supplied, as it is sold: `3/8 in`.
    pub supplied_name: &'static str,
    /// Bore as supplied; recovered it is this over `constants::sleeve_ratio`.
    pub supplied: Metres,
    /// Length of a wrap label or flag.
    pub flag: Metres,
}

/// Marker sleeve of a conductor; a size that is not listed, and every metric size, takes that of the
/// nearest AWG size whose area is not smaller. `None` above 4/0 AWG.
#[must_use]
pub fn label_sleeve(gauge: Gauge) -> Option<(LabelSleeve, Basis)> {
    SLEEVE_ROWS
        .iter()
        .find(|(size, _)| size.by_area(&gauge).is_ge())
        .map(|&(_, sleeve)| (sleeve, SLEEVES.basis))
}

/// How much longer than drawn a finished harness may be; it may never be shorter.
#[must_use]
pub fn harness_tolerance(length: Metres) -> (Metres, Basis) {
    let plus = TOLERANCES
        .iter()
        .find(|row| row.up_to.is_none_or(|up_to| length <= up_to))
        .map(|row| row.plus.unwrap_or(length * (row.plus_percent / 100.0)))
        .shipped();
    (plus, TOLERANCE.basis)
}

/// Small wire, battery cable.
static CUT: LazyLock<(CutAllowances, CutAllowances)> = LazyLock::new(|| {
    let rows = ALLOWANCES.rows();
    let row = |key: &str| {
        rows.iter()
            .find(|row| row.text("allowance") == key)
            .shipped()
    };
    let read = |column: &str| {
        let length = |key: &str| row(key).quantity::<Metres>(column).shipped();
        CutAllowances {
            re_termination: length("re-termination"),
            drip_loop: length("drip-loop"),
            service_loop: length("service-loop"),
            lay_up_percent: row("lay-up-percent").value(column),
            string_percent: row("string-percent").value(column),
        }
    };
    (read("small"), read("large"))
});

type Step = (&'static str, Option<Metres>, Metres);

static STEPS: LazyLock<Vec<Step>> = LazyLock::new(|| {
    ROUNDING
        .rows()
        .iter()
        .filter_map(|row| {
            Some((
                row.text("style"),
                row.quantity("below"),
                row.quantity("step")?,
            ))
        })
        .collect()
});
static SPARE_ROWS: LazyLock<Vec<(&'static str, Spare)>> = LazyLock::new(|| {
    let read = |row: &Row| {
        let percent = row.number("percent").map(Spare::Percent);
        Some((
            row.text("item"),
            percent.or_else(|| row.number("pieces").map(Spare::Pieces))?,
        ))
    };
    SPARES.rows().iter().filter_map(read).collect()
});
static SLEEVE_ROWS: LazyLock<Vec<(Gauge, LabelSleeve)>> = LazyLock::new(|| {
    SLEEVES
        .rows()
        .iter()
        .filter_map(|row| {
            let name = row.text("supplied");
            let sleeve = LabelSleeve {
                supplied_name: name,
                supplied: parse_quantity(name).ok()?,
                flag: Metres(row.value("flag_mm") / 1000.0),
            };
            Some((row.awg("awg"), sleeve))
        })
        .collect()
});

struct ToleranceRow {
    up_to: Option<Metres>,
    plus: Option<Metres>,
    plus_percent: f64,
}

static TOLERANCES: LazyLock<Vec<ToleranceRow>> = LazyLock::new(|| {
    TOLERANCE
        .rows()
        .iter()
        .map(|row| ToleranceRow {
            up_to: row.number("up_to_m").map(Metres),
            plus: row.number("plus_mm").map(|plus| Metres(plus / 1000.0)),
            plus_percent: row.number("plus_percent").unwrap_or(0.0),
        })
        .collect()
});

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "figures of tables are compared exactly")]
mod tests {
    use super::*;
    use crate::standards::{constants, outside_diameter};

    #[test]
    fn allowances_by_size() {
        let (small, _) = cut_allowances(Gauge::Awg(8));
        let (large, _) = cut_allowances(Gauge::Awg(6));
        assert_eq!(
            (small.re_termination, large.re_termination),
            (Metres(0.025), Metres(0.04))
        );
        assert_eq!(cut_allowances(Gauge::Metric(10.0)).0, small);
        assert_eq!(cut_allowances(Gauge::Metric(16.0)).0, large);
        assert!(small.lay_up_percent > large.lay_up_percent);
        assert_eq!(constants::slack_re_terminations().0, 2);
    }

    #[test]
    fn steps_by_length() {
        let step = |length, style| cut_step(Metres(length), style).0.0;
        assert_eq!(step(2.99, LengthStyle::MetresMillimetres), 0.025);
        assert_eq!(step(3.0, LengthStyle::MetresMillimetres), 0.05);
        assert_eq!(step(3.04, LengthStyle::FeetInches), 0.0254);
        assert_eq!(step(3.048, LengthStyle::FeetInches), 0.0762);
        assert_eq!(STEPS.len(), ROUNDING.rows().len());
    }

    #[test]
    fn spares_of_every_item() {
        assert_eq!(spare(SpareItem::Wire).0, Spare::Percent(10.0));
        assert_eq!(spare(SpareItem::Terminals).0, Spare::Percent(20.0));
        assert_eq!(spare(SpareItem::Contacts).0, Spare::Percent(15.0));
        assert_eq!(spare(SpareItem::Fuses).0, Spare::Pieces(2.0));
        assert_eq!(spare(SpareItem::Clamps).0, Spare::Percent(10.0));
    }

    #[test]
    fn every_sleeve_passes_its_wire_and_grips_it() {
        assert_eq!(SLEEVE_ROWS.len(), SLEEVES.rows().len());
        for (gauge, sleeve) in SLEEVE_ROWS.iter() {
            let (diameter, _) = outside_diameter(*gauge).expect("a sleeve size has a diameter");
            let recovered = sleeve.supplied / constants::sleeve_ratio().0;
            assert!(
                sleeve.supplied >= diameter * constants::sleeve_bore_margin().0,
                "{gauge}"
            );
            assert!(
                recovered <= diameter * constants::sleeve_grip_margin().0,
                "{gauge}"
            );
        }
        let metric = label_sleeve(Gauge::Metric(2.5)).map(|(sleeve, _)| sleeve.supplied_name);
        assert_eq!(metric, Some("1/4 in"));
    }

    #[test]
    fn tolerance_by_length() {
        let plus = |length| harness_tolerance(Metres(length)).0.0;
        assert_eq!(
            [plus(0.3), plus(1.0), plus(3.0), plus(7.5)],
            [0.025, 0.05, 0.1, 0.15]
        );
        assert!((plus(10.0) - 0.5).abs() < 1e-9);
    }
}
