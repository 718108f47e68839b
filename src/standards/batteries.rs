//! Estimates about batteries where the file gives no figure: voltage, resistance, Peukert, usable share.
//!
//! None of these may pass a safety check by itself; each returns the side that its use needs.

use super::citations::{BATTERIES, REST_VOLTAGE};
use super::table::{Row, Shipped, table};
use super::{Basis, Confidence, constants};
use crate::units::{AmpHours, Amps, Ohms, Volts};
use std::sync::LazyLock;

table!(BATTERY, "batteries.csv", BATTERIES);
table!(REST, "battery_rest_voltage.csv", REST_VOLTAGE);

/// Battery chemistry.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Chemistry {
    /// Flooded lead-acid.
    Flooded,
    /// Absorbed-glass-mat lead-acid.
    Agm,
    /// Gel lead-acid.
    Gel,
    /// Lithium iron phosphate.
    LithiumIronPhosphate,
}

impl Chemistry {
    fn key(self) -> &'static str {
        match self {
            Self::Flooded => "flooded",
            Self::Agm => "agm",
            Self::Gel => "gel",
            Self::LithiumIronPhosphate => "lithium-iron-phosphate",
        }
    }
}

/// Least and greatest usual Peukert exponent.
#[must_use]
pub fn peukert_range(chemistry: Chemistry) -> ((f64, f64), Basis) {
    let block = block(chemistry);
    let basis = Basis {
        confidence: Confidence::Secondary,
        ..BATTERY.basis
    };
    ((block.peukert_low, block.peukert_high), basis)
}

/// Share of the capacity that is meant to be used.
#[must_use]
pub fn usable_share(chemistry: Chemistry) -> (f64, Basis) {
    let basis = Basis {
        confidence: Confidence::CommonPractice,
        ..BATTERY.basis
    };
    (block(chemistry).usable_share, basis)
}

/// Highest voltage on charge of a battery of some nominal voltage.
#[must_use]
pub fn max_charge_voltage(chemistry: Chemistry, nominal: Volts) -> (Volts, Basis) {
    let block = block(chemistry);
    (block.max_charge * block.count(nominal), BATTERY.basis)
}

/// Rest voltage at a state of charge in percent, by straight lines between the listed states.
///
/// `None` outside the listed states.
#[must_use]
pub fn rest_voltage(
    chemistry: Chemistry,
    nominal: Volts,
    charge_percent: f64,
) -> Option<(Volts, Basis)> {
    let points = match chemistry {
        Chemistry::LithiumIronPhosphate => &REST_POINTS.1,
        _ => &REST_POINTS.0,
    };
    let after = points
        .iter()
        .position(|&(charge, _)| charge >= charge_percent)?;
    let (upper_charge, upper) = points[after];
    let voltage = match after.checked_sub(1).map(|before| points[before]) {
        _ if upper_charge <= charge_percent => upper,
        Some((lower_charge, lower)) => {
            let share = (charge_percent - lower_charge) / (upper_charge - lower_charge);
            lower + (upper - lower) * share
        }
        None => return None,
    };
    Some((voltage * block(chemistry).count(nominal), REST.basis))
}

/// Two estimates of the internal resistance of one battery.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InternalResistance {
    /// For the sag under load: not too small.
    pub typical: Ohms,
    /// For fault current: not too large.
    pub least: Ohms,
    /// Where they come from.
    pub basis: Basis,
}

/// Internal resistance of one battery, from what is known of it.
///
/// With a cranking current, from its test: (12.6 V − 7.2 V) over that current for each 12 V block.
/// A warm battery has less, so `least` takes a share of it. Without one, from the chemistry; the
/// resistance of lithium blocks scales with the inverse of the capacity.
#[must_use]
pub fn internal_resistance(
    chemistry: Chemistry,
    nominal: Volts,
    capacity: Option<AmpHours>,
    cranking: Option<Amps>,
) -> InternalResistance {
    let block = block(chemistry);
    let count = block.count(nominal);
    if let Some(current) = cranking.filter(|&current| current > Amps(0.0)) {
        let (open, basis) = constants::cranking_test_open();
        let (end, _) = constants::cranking_test_end();
        let (share, _) = constants::cranking_resistance_share();
        let typical = (open - end) / current * count;
        return InternalResistance {
            typical,
            least: typical * share,
            basis,
        };
    }
    let scale = match (block.resistance_at, capacity) {
        (Some(listed), Some(capacity)) if capacity > AmpHours(0.0) => listed / capacity,
        _ => 1.0,
    };
    InternalResistance {
        typical: block.typical * (scale * count),
        least: block.least * (scale * count),
        basis: BATTERY.basis,
    }
}

/// What is listed for a 12 V block of a chemistry.
struct Block {
    key: &'static str,
    nominal: Volts,
    peukert_low: f64,
    peukert_high: f64,
    usable_share: f64,
    max_charge: Volts,
    least: Ohms,
    typical: Ohms,
    resistance_at: Option<AmpHours>,
}

impl Block {
    /// How many blocks in series make a nominal voltage; below one block, the share of one.
    ///
    /// From about 10 V up it is whole, so that 12 V and 12.8 V are one block and 36 V are three.
    fn count(&self, nominal: Volts) -> f64 {
        let count = nominal / self.nominal;
        if count > 0.8 { count.round() } else { count }
    }
}

fn block(chemistry: Chemistry) -> &'static Block {
    BLOCKS
        .iter()
        .find(|block| block.key == chemistry.key())
        .shipped()
}

static BLOCKS: LazyLock<Vec<Block>> = LazyLock::new(|| {
    let milliohms = |row: &Row, column: &str| Ohms(row.value(column) / 1000.0);
    BATTERY
        .rows()
        .iter()
        .map(|row| Block {
            key: row.text("chemistry"),
            nominal: Volts(row.value("block_v")),
            peukert_low: row.value("peukert_low"),
            peukert_high: row.value("peukert_high"),
            usable_share: row.value("usable_share"),
            max_charge: Volts(row.value("max_charge_v")),
            least: milliohms(row, "least_mohm"),
            typical: milliohms(row, "typical_mohm"),
            resistance_at: row.number("resistance_at_ah").map(AmpHours),
        })
        .collect()
});

type RestPoints = Vec<(f64, Volts)>;

/// Rest voltage of a block by state of charge, emptiest first: lead-acid, lithium iron phosphate.
static REST_POINTS: LazyLock<(RestPoints, RestPoints)> = LazyLock::new(|| {
    let rows = REST.rows();
    let points = |column: &str| {
        rows.iter()
            .rev()
            .filter_map(|row| Some((row.value("charge_percent"), Volts(row.number(column)?))))
            .collect()
    };
    (points("lead_v"), points("lfp_v"))
});

#[cfg(test)]
mod tests {
    use super::*;
    use Chemistry::{Agm, Flooded, Gel, LithiumIronPhosphate};

    #[test]
    fn every_chemistry_is_listed_and_in_range() {
        for chemistry in [Flooded, Agm, Gel, LithiumIronPhosphate] {
            let ((low, high), _) = peukert_range(chemistry);
            assert!(1.0 <= low && low <= high && high < 1.5);
            let (share, _) = usable_share(chemistry);
            assert!((0.0..=1.0).contains(&share));
            let resistance = internal_resistance(chemistry, Volts(12.0), None, None);
            assert!(resistance.least < resistance.typical);
            let (full, _) = rest_voltage(chemistry, Volts(12.0), 100.0).expect("listed");
            assert!(full < max_charge_voltage(chemistry, Volts(12.0)).0);
        }
        for points in [&REST_POINTS.0, &REST_POINTS.1] {
            assert!(points.is_sorted_by(|a, b| a.0 < b.0 && a.1 < b.1));
        }
    }

    #[test]
    fn blocks_in_series() {
        let charge = |chemistry, nominal| max_charge_voltage(chemistry, Volts(nominal)).0.0;
        assert!((charge(LithiumIronPhosphate, 36.0) - 43.8).abs() < 1e-9);
        assert!((charge(LithiumIronPhosphate, 51.2) - 58.4).abs() < 1e-9);
        assert!((charge(Flooded, 6.0) - 7.4).abs() < 1e-9);
        assert!((charge(Agm, 24.0) - 29.6).abs() < 1e-9);
    }

    #[test]
    fn rest_voltage_by_charge() {
        let rest = |chemistry, percent| {
            rest_voltage(chemistry, Volts(12.0), percent).map(|(voltage, _)| voltage.0)
        };
        assert_eq!(rest(Flooded, 100.0), Some(12.6));
        assert!(rest(Flooded, 62.5).is_some_and(|voltage| (voltage - 12.3).abs() < 1e-9));
        assert_eq!(rest(Flooded, 0.0), Some(11.6));
        assert_eq!(rest(Flooded, -1.0), None);
        assert_eq!(rest(Flooded, 101.0), None);
        assert_eq!(rest(LithiumIronPhosphate, 50.0), Some(13.2));
    }

    #[test]
    fn resistance_from_the_cranking_test() {
        // 800 A at −18 °C: 5.4 V / 800 A = 6.75 mΩ.
        let battery = internal_resistance(Flooded, Volts(12.0), None, Some(Amps(800.0)));
        assert!((battery.typical.0 - 0.006_75).abs() < 1e-9);
        assert!((battery.least.0 - 0.003_375).abs() < 1e-9);
        let small = internal_resistance(
            LithiumIronPhosphate,
            Volts(12.8),
            Some(AmpHours(140.0)),
            None,
        );
        assert!((small.typical.0 - 0.001_6).abs() < 1e-9);
        let none = internal_resistance(Flooded, Volts(12.0), None, Some(Amps(0.0)));
        assert_eq!(none.typical, Ohms(0.005));
    }
}
