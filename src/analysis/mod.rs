//! Facts about the boat, each computed once by one function.
//!
//! Rules, sizing, schedules and drawings all take a number from here; nothing here judges it.

pub mod ampacity;
pub mod currents;
pub mod poles;
pub mod solve;
pub mod states;

#[cfg(test)]
mod testing;

use crate::system::System;
use ampacity::Ampacities;
use currents::{Cases, Currents};
use poles::Poles;

/// The boat with everything that is computed about it.
#[derive(Debug)]
pub struct Facts<'s> {
    /// The resolved boat.
    pub system: &'s System,
    /// Pole and nominal voltage of every node.
    pub poles: Poles,
    /// What every conductor may carry where it lies.
    pub ampacities: Ampacities,
    /// The largest current of every link.
    pub currents: Currents,
}

impl<'s> Facts<'s> {
    /// Computes all facts.
    #[must_use]
    pub fn new(system: &'s System) -> Self {
        let poles = Poles::new(system);
        let ampacities = Ampacities::new(system, &poles);
        Self {
            system,
            currents: Currents::new(system, &Cases::new(system), |_| {}),
            poles,
            ampacities,
        }
    }
}
