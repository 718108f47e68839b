//! Current that finds another way once something is open: through a load, or through a conductor too small for it.
//!
//! An opening is a device that is pulled, a conductor of the negative that has come off, or nothing but a switch that
//! stands open. A sneak path is looked for where one can be: a part that has lost its return or its feed, and hangs on
//! the rest by two loads. It is then solved with every load a resistance at its nominal current. Back-feed through a
//! joint of conductors is no sneak path of this kind. Nothing here says whether what is found matters.

mod circuit;
mod paths;
mod returns;

pub use paths::{Opening, Sneak};
pub use returns::SmallReturn;

use super::ampacity::Ampacities;
use super::poles::Poles;
use crate::system::System;

/// Sneak paths and small returns of the whole boat.
#[derive(Clone, Debug)]
pub struct Sneaks {
    /// Loads that are fed through other loads, in the order of their openings.
    pub sneaks: Vec<Sneak>,
    /// Cranking currents that return by a small conductor once a large one is off.
    pub small_returns: Vec<SmallReturn>,
    /// There were more places to look at than the effort allows.
    pub incomplete: bool,
}

impl Sneaks {
    /// Looks for them.
    #[must_use]
    pub fn new(system: &System, poles: &Poles, ampacities: &Ampacities) -> Self {
        let (sneaks, incomplete) = paths::find(system, poles);
        Self {
            sneaks,
            small_returns: returns::find(system, poles, ampacities),
            incomplete,
        }
    }
}

#[cfg(test)]
mod tests;
