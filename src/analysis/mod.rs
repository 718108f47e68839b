//! Facts about the boat, each computed once by one function.
//!
//! Rules, sizing, schedules and drawings all take a number from here; nothing here judges it.

pub mod solve;
pub mod states;

#[cfg(test)]
mod testing;

use crate::system::System;

/// The boat with everything that is computed about it.
#[derive(Debug)]
pub struct Facts<'s> {
    /// The resolved boat.
    pub system: &'s System,
}

impl<'s> Facts<'s> {
    /// Computes all facts.
    #[must_use]
    pub fn new(system: &'s System) -> Self {
        Self { system }
    }
}
