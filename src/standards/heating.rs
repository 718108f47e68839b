//! How long a conductor stands a fault current.
//!
//! The adiabatic rule supposes that no heat leaves the copper; it holds for about five seconds.

use super::citations::ADIABATIC;
use super::table::table;
use super::{Basis, constants};
use crate::units::{Amps, Celsius, Gauge, Seconds};

table!(FACTORS, "adiabatic_k.csv", ADIABATIC);

/// What the insulation is made of, as far as its limit in a fault goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum InsulationFamily {
    /// PVC, up to 160 °C in a fault.
    Pvc,
    /// Cross-linked polymers, up to 250 °C in a fault.
    CrossLinked,
}

impl InsulationFamily {
    /// The family to suppose where only the rating is known.
    ///
    /// PVC stands less than cross-linked insulation, so it is supposed as far up as PVC is sold.
    #[must_use]
    pub fn supposed(insulation: Celsius) -> Self {
        if insulation <= constants::pvc_highest_rating().0 {
            Self::Pvc
        } else {
            Self::CrossLinked
        }
    }

    /// The temperature that the insulation stands in a fault.
    #[must_use]
    pub fn fault_limit(self) -> (Celsius, Basis) {
        match self {
            Self::Pvc => constants::pvc_fault_limit(),
            Self::CrossLinked => constants::cross_linked_fault_limit(),
        }
    }
}

/// Adiabatic factor k of copper in A·√s/mm², the conductor being at its rating when the fault starts.
///
/// k = 226·√ln((Tf + 234.5)/(Ti + 234.5)); Ti the rating, Tf the limit of the insulation.
/// `None` where the rating leaves no room below the limit.
#[must_use]
pub fn adiabatic_k(insulation: Celsius, family: InsulationFamily) -> Option<(f64, Basis)> {
    let (limit, _) = family.fault_limit();
    k_between(insulation, limit).map(|k| (k, FACTORS.basis))
}

/// Time in which a fault current heats a conductor to the limit of its insulation: t = (k·S/I)².
///
/// Beyond `constants::adiabatic_validity` the conductor sheds heat and stands it longer.
/// `None` for a current that is not above zero.
#[must_use]
pub fn withstand_time(gauge: Gauge, k: f64, fault: Amps) -> Option<Seconds> {
    if fault <= Amps(0.0) {
        return None;
    }
    let root = k * gauge.area().0 / fault.0;
    Some(Seconds(root * root))
}

/// The factor between two conductor temperatures; `None` where the second is not above the first.
fn k_between(start: Celsius, end: Celsius) -> Option<f64> {
    let (factor, _) = constants::adiabatic_copper();
    let (zero, _) = constants::copper_zero_resistance();
    (end > start && start > zero).then(|| factor * ((end - zero) / (start - zero)).ln().sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_formula_gives_every_published_factor() {
        // IEC 60364-4-43 and 5-54 as reproduced in a national text: whole numbers.
        let rows = FACTORS.rows();
        assert_eq!(rows.len(), 13);
        let mut published = 0;
        for row in &rows {
            let ends = (
                Celsius(row.value("initial_c")),
                Celsius(row.value("final_c")),
            );
            let k = k_between(ends.0, ends.1).expect("the limit is above the start");
            if let Some(printed) = row.number("k") {
                published += 1;
                assert!(
                    (k - printed).abs() < 0.51,
                    "{}: {k} {printed}",
                    row.text("insulation")
                );
            }
        }
        assert_eq!(published, 10);
    }

    #[test]
    fn rating_decides_the_factor_and_the_cautious_family() {
        let k = |rating| {
            let rating = Celsius(rating);
            adiabatic_k(rating, InsulationFamily::supposed(rating)).map(|(k, _)| k)
        };
        let near = |value: Option<f64>, expected: f64| {
            value.is_some_and(|value| (value - expected).abs() < 0.05)
        };
        assert!(near(k(70.0), 115.0));
        assert!(near(k(105.0), 87.6));
        assert!(near(k(125.0), 123.5));
        assert_eq!(k(250.0), None);
        assert_eq!(adiabatic_k(Celsius(160.0), InsulationFamily::Pvc), None);
    }

    #[test]
    fn withstand() {
        let size = Gauge::Metric(2.5);
        let time = withstand_time(size, 115.0, Amps(500.0)).expect("a current flows");
        assert!((time.0 - 0.3306).abs() < 0.0001);
        assert_eq!(withstand_time(size, 115.0, Amps(0.0)), None);
    }
}
