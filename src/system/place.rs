//! Places: zones, points, ways, bundles, and the stretch of a conductor in each.

use super::{BundleId, ConductorId, Known, PointId, WayId, ZoneId};
use crate::source::Span;
use crate::units::{Celsius, Metres};

/// How wet a zone is, driest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Wetness {
    /// Never wet.
    Dry,
    /// Condensation.
    Damp,
    /// Spray and rain.
    Spray,
    /// Wet in use.
    Wet,
    /// Below the bilge-water level.
    Bilge,
}

/// A space of the boat.
#[derive(Clone, Debug)]
pub struct Zone {
    /// Designation.
    pub name: String,
    /// Place of the designation.
    pub span: Span,
    /// Highest air temperature.
    pub ambient: Known<Celsius>,
    /// The engine-space factor applies.
    pub engine_space: bool,
    /// Place where engine space is declared.
    pub engine_space_span: Option<Span>,
    /// Gasoline vapour can gather.
    pub gasoline_vapour: bool,
    /// Place where gasoline vapour is declared.
    pub gasoline_vapour_span: Option<Span>,
    /// How wet it is.
    pub wet: Known<Wetness>,
    /// How it is reached; empty when not given.
    pub access: String,
}

/// A named place.
#[derive(Clone, Debug)]
pub struct Point {
    /// Designation.
    pub name: String,
    /// Place of the designation.
    pub span: Span,
    /// Zone it lies in.
    pub zone: Option<ZoneId>,
}

/// A measured segment between two points.
#[derive(Clone, Debug)]
pub struct Way {
    /// Designation.
    pub name: String,
    /// Place of the designation.
    pub span: Span,
    /// One end.
    pub from: PointId,
    /// The other end.
    pub to: PointId,
    /// Measured length.
    pub length: Known<Metres>,
    /// Zone it runs through.
    pub zone: Option<ZoneId>,
    /// Bundle of the conductors that take it.
    pub bundle: Option<BundleId>,
    /// Conductors are sheathed or enclosed all along it.
    pub sheathed: bool,
    /// Smallest hole on the way.
    pub hole: Known<Metres>,
    /// Drip or service loop to add.
    pub slack: Known<Metres>,
}

/// Conductors that travel together.
#[derive(Clone, Debug)]
pub struct Bundle {
    /// Designation.
    pub name: String,
    /// Place of the designation; the first use of it where it has no record.
    pub span: Span,
    /// Zone it runs through.
    pub zone: Option<ZoneId>,
    /// Sheathed or enclosed all along.
    pub sheathed: bool,
    /// Groups of which only one circuit carries current at a time; the conductors of one circuit do so together.
    pub never_together: Vec<Vec<ConductorId>>,
    /// Further current-carrying conductors that the file does not list.
    pub others: u32,
    /// Smallest hole it passes.
    pub hole: Known<Metres>,
}

/// A part of a conductor's length: where it lies and with whom.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// Length of this part; none when only the whole is known.
    pub length: Option<Metres>,
    /// Zone it lies in.
    pub zone: Option<ZoneId>,
    /// Bundle it lies in.
    pub bundle: Option<BundleId>,
    /// Way it takes.
    pub way: Option<WayId>,
}
