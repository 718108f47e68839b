//! What was chosen for the boat: sizes and ratings that the file leaves to be chosen, and why each is what it is.
//!
//! Sizing fills it in; rules, schedules and the settled copy read it. Nothing here chooses.

use super::{ConductorId, DeviceId};
use crate::source::Span;
use crate::units::{Amps, Gauge};

/// Whether a chosen value holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Standing {
    /// The file asks for it, so it holds, here or in the settled copy that the file is.
    Chosen,
    /// The file leaves the value out: this is a proposal, and the boat as it is stays not proved.
    Proposed,
}

/// A limit that a chosen value keeps.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Limit {
    /// The rule that asks for it; empty where none does, as at the end of a series.
    pub rule: &'static str,
    /// What it says, with its figures.
    pub words: String,
    /// The value that it asks for, as printed.
    pub asks: String,
}

/// The size of conductors that share a field.
#[derive(Clone, Debug, PartialEq)]
pub struct SizeChoice {
    /// The conductors, in file order.
    pub conductors: Vec<ConductorId>,
    /// Their size.
    pub size: Gauge,
    /// Whether it holds.
    pub standing: Standing,
    /// The fields that ask for it; none where it is left out.
    pub spans: Vec<Span>,
    /// Why it is no thinner.
    pub governs: Limit,
    /// What asks for most after that.
    pub next: Option<Limit>,
    /// Their copper in mm² times m, as far as lengths are given.
    pub copper: f64,
}

/// The rating of a device.
#[derive(Clone, Debug, PartialEq)]
pub struct RatingChoice {
    /// The device.
    pub device: DeviceId,
    /// Its rating.
    pub rating: Amps,
    /// Whether it holds.
    pub standing: Standing,
    /// The field that asks for it.
    pub span: Option<Span>,
    /// Why it is no smaller.
    pub governs: Limit,
    /// How far it could rise, and what stops it there.
    pub next: Option<Limit>,
}

/// What a conflict is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ConflictKind {
    /// The size of conductors.
    Size,
    /// The rating of a device.
    Rating,
}

/// Rules that no value on sale keeps together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Conflict {
    /// What it is about.
    pub kind: ConflictKind,
    /// Designation of what has no value.
    pub element: String,
    /// Others that it is about.
    pub also: Vec<String>,
    /// The place to change.
    pub span: Option<Span>,
    /// Where the other limit comes from.
    pub other: Option<Span>,
    /// Ids of the rules that collide.
    pub rules: Vec<&'static str>,
    /// What collides, with its figures.
    pub message: String,
    /// The smallest change that frees it.
    pub help: String,
}

/// A settled value that would be chosen otherwise now.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Moved {
    /// Wire number or device.
    pub element: String,
    /// Others of the same field.
    pub also: Vec<String>,
    /// The field.
    pub span: Option<Span>,
    /// The settled value, as printed.
    pub settled: String,
    /// The value that would be chosen, as printed.
    pub would_be: String,
    /// Why.
    pub why: String,
    /// It would be larger than the settled one.
    pub up: bool,
}

/// Copper of all chosen conductors, and how near to the least it is.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Copper {
    /// What was chosen, in mm² times m.
    pub chosen: f64,
    /// No choice that passes has less, in mm² times m.
    pub least: f64,
    /// What was chosen is the least.
    pub exact: bool,
    /// Added on purpose, so that fewer spools do, in mm² times m.
    pub for_spools: f64,
}

/// Everything that was chosen.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Chosen {
    /// Sizes, in file order of their first conductor.
    pub sizes: Vec<SizeChoice>,
    /// Ratings, in file order.
    pub ratings: Vec<RatingChoice>,
    /// What has no choice that passes.
    pub conflicts: Vec<Conflict>,
    /// Settled values that would move.
    pub moved: Vec<Moved>,
    /// Copper of the sizes.
    pub copper: Copper,
}

impl Chosen {
    /// Nothing in the file was to be chosen.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.sizes.is_empty() && self.ratings.is_empty() && self.conflicts.is_empty()
    }
}
