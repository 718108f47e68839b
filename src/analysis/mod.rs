//! Facts about the boat, each computed once by one function.
//!
//! Rules, sizing, schedules and drawings all take a number from here; nothing here judges it.

pub mod ampacity;
pub mod isolation;
pub mod poles;
pub mod protection;
pub mod solve;
pub mod states;

#[cfg(test)]
mod testing;

use crate::system::System;
use ampacity::Ampacities;
use isolation::Nets;
use poles::Poles;
use protection::Protection;

/// The boat with everything that is computed about it.
#[derive(Debug)]
pub struct Facts<'s> {
    /// The resolved boat.
    pub system: &'s System,
    /// Pole and nominal voltage of every node.
    pub poles: Poles,
    /// What every conductor may carry where it lies.
    pub ampacities: Ampacities,
    /// Galvanic nets, their negatives, and the poles that can feed a fault.
    pub nets: Nets,
    /// What protects every conductor against every source.
    pub protection: Protection,
}

impl<'s> Facts<'s> {
    /// Computes all facts.
    #[must_use]
    pub fn new(system: &'s System) -> Self {
        let poles = Poles::new(system);
        let ampacities = Ampacities::new(system, &poles);
        let nets = Nets::new(system);
        let protection = Protection::new(system, &nets, &ampacities);
        Self {
            system,
            poles,
            ampacities,
            nets,
            protection,
        }
    }
}
