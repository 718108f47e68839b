//! What closed contacts, devices and connector contacts lose where the file gives no resistance.
//!
//! A meter sees these losses, so an expected reading without them would send people after faults that are none.
//! They are assumptions and are told as such; nothing passes a check because of them.

use super::Basis;
use super::citations::BENCH_PRACTICE;
use super::table::{Shipped, table};
use crate::units::{Amps, Ohms, Volts};
use std::sync::LazyLock;

table!(PARTS, "part_resistance.csv", BENCH_PRACTICE);

/// A part that current passes when it is closed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ClosedPart {
    /// Battery switch.
    BatterySwitch,
    /// Any other contact moved by hand, float, key, time or pressure.
    Switch,
    /// Relay or solenoid contact.
    Relay,
    /// Combiner between banks.
    Combiner,
    /// Mated pair of connector contacts.
    ConnectorContact,
    /// Fuse or breaker.
    OvercurrentDevice,
}

impl ClosedPart {
    const ALL: [Self; 6] = [
        Self::BatterySwitch,
        Self::Switch,
        Self::Relay,
        Self::Combiner,
        Self::ConnectorContact,
        Self::OvercurrentDevice,
    ];

    fn key(self) -> &'static str {
        match self {
            Self::BatterySwitch => "battery-switch",
            Self::Switch => "switch",
            Self::Relay => "relay",
            Self::Combiner => "combiner",
            Self::ConnectorContact => "connector-contact",
            Self::OvercurrentDevice => "overcurrent-device",
        }
    }
}

/// Resistance assumed for a closed part: its usual loss at its rated current over that current.
#[must_use]
pub fn closed_resistance(part: ClosedPart, rating: Option<Amps>) -> (Ohms, Basis) {
    let (drop, unrated) = ROWS[part as usize];
    let ohms = match rating.filter(|&rating| rating > Amps(0.0)) {
        Some(rating) => drop / rating,
        None => unrated,
    };
    (ohms, PARTS.basis)
}

/// In the order of [`ClosedPart::ALL`].
static ROWS: LazyLock<Vec<(Volts, Ohms)>> = LazyLock::new(|| {
    let rows = PARTS.rows();
    ClosedPart::ALL
        .iter()
        .map(|part| {
            let row = rows
                .iter()
                .find(|row| row.text("part") == part.key())
                .shipped();
            (
                Volts(row.value("drop_at_rated_mv") / 1000.0),
                Ohms(row.value("unrated_mohm") / 1000.0),
            )
        })
        .collect()
});

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_larger_rating_has_less_resistance() {
        for part in ClosedPart::ALL {
            assert_eq!(ClosedPart::ALL[part as usize], part);
            let at = |amps| closed_resistance(part, Some(Amps(amps))).0;
            assert!(at(300.0) < at(10.0) && at(300.0) > Ohms(0.0));
            assert!(closed_resistance(part, None).0 > Ohms(0.0));
        }
        // 50 mV at 300 A.
        let (ohms, _) = closed_resistance(ClosedPart::BatterySwitch, Some(Amps(300.0)));
        assert!((ohms.0 - 0.000_166_667).abs() < 1e-9);
        assert_eq!(
            closed_resistance(ClosedPart::Switch, Some(Amps(0.0))).0,
            Ohms(0.005)
        );
    }
}
