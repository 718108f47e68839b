//! Resistance of conductors per metre, in three readings that must not be mixed.
//!
//! *Rule* resistance reproduces the published size formula and no more. *Physical* resistance is the
//! most that conforming cable may have, for voltages that a meter will show. *Least* resistance is
//! that of solid ideal copper, for the largest current that a fault can draw.
//! All are for one conductor; a circuit counts its way out and its way back.

use super::citations::{AIRCRAFT_RESISTANCE, IEC_RESISTANCE};
use super::table::table;
use super::{Basis, Confidence, constants};
use crate::units::{Celsius, CrossSection, Gauge, OhmsPerMetre};
use std::sync::LazyLock;

table!(RESISTANCE_AWG, "resistance_awg.csv", AIRCRAFT_RESISTANCE);
table!(RESISTANCE_METRIC, "resistance_metric.csv", IEC_RESISTANCE);

/// The international foot in metres.
const FOOT: f64 = 0.3048;

/// Resistance by the size formula CM = K·I·L/E with K = 10.75 ohm·cmil/ft over the true area.
///
/// AWG and metric sizes alike: the constant is a property of the copper that the formula supposes.
/// The metric formula with 0.0164 gives 8.2 % less, so both profiles are judged with this one.
#[must_use]
pub fn rule_drop_resistance(gauge: Gauge) -> (OhmsPerMetre, Basis) {
    let (k, basis) = constants::rule_drop_k();
    (OhmsPerMetre(k / gauge.area().circular_mils() / FOOT), basis)
}

/// Resistance by the metric size formula E = 0.0164·I·L/S.
///
/// It is 8.2 % below K = 10.75 and below every conforming cable; shown beside it, never judged with.
#[must_use]
pub fn rule_drop_resistance_iso(gauge: Gauge) -> (OhmsPerMetre, Basis) {
    let (k, basis) = constants::rule_drop_iso();
    (OhmsPerMetre(k / gauge.area().0), basis)
}

/// The most resistance that tinned stranded cable of a size may have, at a conductor temperature.
///
/// AWG: the maximum of the aircraft table, brought from the nominal area of that wire to the true
/// AWG area; aircraft wire of one number may hold more or less copper than the AWG size. Its
/// figures have two digits from 8 AWG up. Metric: the maximum of IEC 60228 class 5, tinned. Both
/// bind the maker, unlike a figure computed for ideal copper. A size that its table does not list
/// takes the next thinner listed size, scaled by area, or the thinnest where none is thinner.
#[must_use]
pub fn physical_resistance(gauge: Gauge, conductor: Celsius) -> (OhmsPerMetre, Basis) {
    let (rows, table) = if gauge.is_awg() {
        (&*AWG, RESISTANCE_AWG.basis)
    } else {
        (&*METRIC, RESISTANCE_METRIC.basis)
    };
    let listed = rows
        .iter()
        .rposition(|row| row.gauge.by_area(&gauge).is_le())
        .unwrap_or(0);
    let row = &rows[listed];
    let at_20 = row.at_20 * (row.area / gauge.area());
    // A figure is computed, not read, as soon as it is scaled.
    let scaled = row.area != gauge.area();
    let least = if scaled {
        Confidence::Computed
    } else {
        Confidence::Read
    };
    let basis = Basis {
        confidence: table.confidence.max(least),
        ..table
    };
    (at_temperature(at_20, conductor), basis)
}

/// Resistance of solid annealed copper of the size's area, at a conductor temperature.
///
/// No cable has less for its area, so a fault current computed from it is not too small.
#[must_use]
pub fn least_resistance(gauge: Gauge, conductor: Celsius) -> (OhmsPerMetre, Basis) {
    let (resistivity, basis) = constants::copper_resistivity();
    (
        at_temperature(OhmsPerMetre(resistivity / gauge.area().0), conductor),
        basis,
    )
}

/// Resistance at another temperature, from that at 20 °C: R = R20·(234.5 + T)/(234.5 + 20).
#[must_use]
pub fn at_temperature(at_20: OhmsPerMetre, conductor: Celsius) -> OhmsPerMetre {
    let (zero, _) = constants::copper_zero_resistance();
    at_20 * ((conductor - zero) / (Celsius(20.0) - zero))
}

/// A listed size with the area that its resistance is stated for.
struct Row {
    gauge: Gauge,
    area: CrossSection,
    at_20: OhmsPerMetre,
}

/// Thinnest first.
static AWG: LazyLock<Vec<Row>> = LazyLock::new(|| {
    RESISTANCE_AWG
        .rows()
        .iter()
        .map(|row| Row {
            gauge: row.awg("awg"),
            area: CrossSection::from_circular_mils(row.value("area_cmil")),
            at_20: OhmsPerMetre(row.value("max_ohm_per_kft") / 1000.0 / FOOT),
        })
        .collect()
});
/// Thinnest first.
static METRIC: LazyLock<Vec<Row>> = LazyLock::new(|| {
    RESISTANCE_METRIC
        .rows()
        .iter()
        .map(|row| Row {
            gauge: Gauge::Metric(row.value("area_mm2")),
            area: CrossSection(row.value("area_mm2")),
            at_20: OhmsPerMetre(row.value("tinned_ohm_per_km") / 1000.0),
        })
        .collect()
});

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::{Practice, sold_sizes};

    const COOL: Celsius = Celsius(20.0);

    #[test]
    fn resistance_falls_with_area() {
        for practice in [Practice::Us, Practice::Metric] {
            for read in [physical_resistance, least_resistance] {
                let values: Vec<f64> = sold_sizes(practice)
                    .iter()
                    .map(|&size| read(size, COOL).0.0)
                    .collect();
                assert!(values.is_sorted_by(|a, b| a > b), "{values:?}");
            }
        }
        let all: Vec<f64> = (-3..=24)
            .rev()
            .map(|n| physical_resistance(Gauge::Awg(n), COOL).0.0)
            .collect();
        assert!(all.is_sorted_by(|a, b| a > b), "{all:?}");
    }

    #[test]
    fn no_cable_has_less_than_solid_copper_and_the_rule_lies_between() {
        for practice in [Practice::Us, Practice::Metric] {
            for &size in sold_sizes(practice) {
                let least = least_resistance(size, COOL).0;
                let most = physical_resistance(size, COOL).0;
                let rule = rule_drop_resistance(size).0;
                assert!(
                    least < rule && rule < most,
                    "{size}: {least:?} {rule:?} {most:?}"
                );
            }
        }
    }

    #[test]
    fn the_metric_formula_is_lower_by_a_twelfth() {
        let size = Gauge::Metric(2.5);
        let ratio = rule_drop_resistance_iso(size).0 / rule_drop_resistance(size).0;
        // 0.0164 against 10.75 ohm·cmil/ft = 0.017872 ohm·mm²/m.
        assert!((ratio - 0.9177).abs() < 0.0001, "{ratio}");
    }

    #[test]
    fn sizes_that_no_table_lists() {
        // 3 AWG (52 635 cmil) from the line of 4 AWG: 0.28 ohm per 1000 ft on 42 615 cmil.
        let (value, basis) = physical_resistance(Gauge::Awg(3), COOL);
        assert!((value.0 * 304.8 - 0.2267).abs() < 0.0001, "{value:?}");
        assert_eq!(basis.confidence, Confidence::Computed);
        let (thin, _) = physical_resistance(Gauge::Metric(0.25), COOL);
        assert!((thin.0 - 0.0802).abs() < 1e-9);
        let (listed, basis) = physical_resistance(Gauge::Metric(2.5), Celsius(50.0));
        assert!((listed.0 - 0.008_21 * 284.5 / 254.5).abs() < 1e-12);
        assert_eq!(basis.confidence, Confidence::Secondary);
    }
}
