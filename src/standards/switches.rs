//! How much larger than its load a switch is chosen.

use super::Basis;
use super::citations::AIRCRAFT_SWITCHES;
use super::table::table;
use crate::units::Volts;
use std::sync::LazyLock;

table!(FACTORS, "switch_factors.csv", AIRCRAFT_SWITCHES);

/// Kind of load that a switch makes and breaks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SwitchedLoad {
    /// Filament lamps, which draw many times their current when cold.
    Lamp,
    /// Coils and solenoids.
    Inductive,
    /// Heaters and other resistive loads.
    Resistive,
    /// Motors.
    Motor,
}

/// Rating that a switch needs over the current of its load, where it is rated for resistive loads.
///
/// A voltage between the listed ones takes the higher; `None` above 24 V.
#[must_use]
pub fn switch_factor(load: SwitchedLoad, nominal: Volts) -> Option<(f64, Basis)> {
    let key = match load {
        SwitchedLoad::Lamp => "lamp",
        SwitchedLoad::Inductive => "inductive",
        SwitchedLoad::Resistive => "resistive",
        SwitchedLoad::Motor => "motor",
    };
    ROWS.iter()
        .filter(|(name, _, _, _)| *name == key)
        .find(|(_, voltage, _, _)| *voltage >= nominal)
        .map(|&(_, _, factor, basis)| (factor, basis))
}

/// Lower voltages first within each kind of load.
static ROWS: LazyLock<Vec<(&'static str, Volts, f64, Basis)>> = LazyLock::new(|| {
    FACTORS
        .rows()
        .iter()
        .map(|row| {
            let voltage = Volts(row.value("nominal_v"));
            (row.text("load"), voltage, row.value("factor"), row.basis())
        })
        .collect()
});

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::Confidence;

    #[test]
    fn factors_by_load_and_voltage() {
        let factor = |load, volts| switch_factor(load, Volts(volts)).map(|(factor, _)| factor);
        assert_eq!(factor(SwitchedLoad::Lamp, 12.0), Some(5.0));
        assert_eq!(factor(SwitchedLoad::Inductive, 12.0), Some(2.0));
        assert_eq!(factor(SwitchedLoad::Resistive, 12.0), Some(1.0));
        assert_eq!(factor(SwitchedLoad::Motor, 12.0), Some(2.0));
        assert_eq!(factor(SwitchedLoad::Lamp, 12.8), Some(8.0));
        assert_eq!(factor(SwitchedLoad::Motor, 24.0), Some(3.0));
        assert_eq!(factor(SwitchedLoad::Motor, 36.0), None);
        let (_, basis) = switch_factor(SwitchedLoad::Lamp, Volts(24.0)).expect("listed");
        assert_eq!(basis.confidence, Confidence::Memory);
    }
}
