//! Figures that are more often a slip of the pen than a fact.

use super::Basis;
use super::citations::BENCH_PRACTICE;
use super::table::{Shipped, table};
use crate::units::Amps;
use std::sync::LazyLock;

table!(DRAWS, "plausible_draws.csv", BENCH_PRACTICE);

/// Kind of load, as far as its draw goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DrawKind {
    /// Lamp.
    Lamp,
    /// Electronics.
    Electronics,
    /// Gauge, meter or sender.
    Instrument,
    /// Horn or buzzer.
    Horn,
    /// Power outlet.
    Outlet,
    /// Coil of a relay.
    Coil,
    /// Heater.
    Heater,
    /// Motor.
    Motor,
    /// Cranking motor.
    Starter,
}

/// The greatest draw of a kind of load that needs no second look.
#[must_use]
pub fn plausible_draw(kind: DrawKind) -> (Amps, Basis) {
    let key = match kind {
        DrawKind::Lamp => "lamp",
        DrawKind::Electronics => "electronics",
        DrawKind::Instrument => "instrument",
        DrawKind::Horn => "horn",
        DrawKind::Outlet => "outlet",
        DrawKind::Coil => "coil",
        DrawKind::Heater => "heater",
        DrawKind::Motor => "motor",
        DrawKind::Starter => "starter",
    };
    ROWS.iter()
        .find(|(kind, _, _)| *kind == key)
        .map(|&(_, most, basis)| (most, basis))
        .shipped()
}

static ROWS: LazyLock<Vec<(&'static str, Amps, Basis)>> = LazyLock::new(|| {
    DRAWS
        .rows()
        .iter()
        .map(|row| (row.text("kind"), Amps(row.value("max_a")), row.basis()))
        .collect()
});

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_has_a_figure() {
        let all = [
            DrawKind::Instrument,
            DrawKind::Coil,
            DrawKind::Lamp,
            DrawKind::Horn,
            DrawKind::Electronics,
            DrawKind::Outlet,
            DrawKind::Heater,
            DrawKind::Motor,
            DrawKind::Starter,
        ];
        let figures: Vec<Amps> = all.iter().map(|&kind| plausible_draw(kind).0).collect();
        assert!(figures.is_sorted(), "{figures:?}");
        assert_eq!(ROWS.len(), all.len());
    }
}
