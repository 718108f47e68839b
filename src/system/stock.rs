//! Cables of several cores, and what is at hand for the bench: spools, offcuts, label stock.

use super::{Colour, Conductor, ConductorId, Given, Known, SpoolId, System};
use crate::source::Span;
use crate::units::{Gauge, Metres};
use std::collections::BTreeMap;

/// A sheathed cable of several cores.
#[derive(Clone, Debug)]
pub struct Cable {
    /// Designation.
    pub name: String,
    /// Place of the designation; the first use of it where it has no record.
    pub span: Span,
    /// Its cores, in file order.
    pub cores: Vec<ConductorId>,
    /// Diameter over the sheath.
    pub outside: Known<Metres>,
    /// Spool that it is cut from.
    pub spool: Option<SpoolId>,
}

/// Wire or cable at hand, and how more of it is sold.
#[derive(Clone, Debug)]
pub struct StockSpool {
    /// Designation.
    pub name: String,
    /// Place of the designation.
    pub span: Span,
    /// Size of the wire, or of the thickest core.
    pub gauge: Known<Gauge>,
    /// Insulation colour.
    pub colour: Known<Colour>,
    /// Wire type.
    pub wire_type: Known<String>,
    /// Number of cores of a sheathed cable; none for a single wire.
    pub cores: Option<u32>,
    /// Diameter over the insulation or the sheath.
    pub outside: Known<Metres>,
    /// What is on each spool.
    pub lengths: Vec<Metres>,
    /// Offcuts.
    pub offcuts: Vec<Metres>,
    /// Lengths that it is sold in; empty for any length.
    pub sold: Vec<Metres>,
}

/// How a label sits on its wire.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LabelKind {
    /// A printed part with a clear tail that is wrapped over it.
    Wrap,
    /// Heat-shrink sleeve.
    Sleeve,
    /// Folded over the wire, so that both halves stick to each other.
    Flag,
    /// Plain paper, cut and put under clear sleeve.
    Strip,
}

/// What labels are printed on. All measures in metres.
#[derive(Clone, Debug, PartialEq)]
pub struct LabelStock {
    /// Designation.
    pub name: String,
    /// Place of the designation.
    pub span: Span,
    /// How a label sits on its wire.
    pub kind: LabelKind,
    /// Sheet and the grid on it; none for stock that only a label printer takes.
    pub page: Option<LabelPage>,
    /// Width of one label, along its lines.
    pub width: Metres,
    /// Height of one label.
    pub height: Metres,
    /// Height of the printed part; that of the label where it has no clear tail.
    pub printed: Metres,
    /// Bore of a sleeve as supplied and as recovered.
    pub bores: Option<(Metres, Metres)>,
    /// Edge of one square of a Data Matrix code; none for no code.
    pub module: Option<Metres>,
}

/// A sheet of labels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LabelPage {
    /// Width of the sheet.
    pub width: Metres,
    /// Height of the sheet.
    pub height: Metres,
    /// From the left edge to the first label.
    pub left: Metres,
    /// From the upper edge to the first label.
    pub top: Metres,
    /// From one label to the next, across.
    pub across: Metres,
    /// From one label to the next, down.
    pub down: Metres,
    /// Labels side by side.
    pub columns: u32,
    /// Labels one below the other.
    pub rows: u32,
}

/// Which spools serve a wire.
///
/// Size, colour and type are all the same; a spool and a wire that give no type go together, because both then have
/// that of the policy or none.
#[derive(Clone, Debug, Default)]
pub struct StockIndex {
    by_kind: BTreeMap<String, Vec<SpoolId>>,
}

impl StockIndex {
    /// Gathers the spools of single wire; a spool without a size serves nothing.
    #[must_use]
    pub fn new(system: &System) -> Self {
        let mut by_kind: BTreeMap<String, Vec<SpoolId>> = BTreeMap::new();
        for (index, spool) in system.spools.iter().enumerate() {
            let Some(gauge) = spool.gauge.filter(|_| spool.cores.is_none()) else {
                continue;
            };
            by_kind
                .entry(kind(
                    gauge.value,
                    spool.colour.as_ref(),
                    spool.wire_type.as_ref(),
                ))
                .or_default()
                .push(SpoolId::at(index));
        }
        Self { by_kind }
    }

    /// The spools that serve a single wire, in file order.
    #[must_use]
    pub fn spools(&self, conductor: &Conductor) -> &[SpoolId] {
        let Some(gauge) = conductor.gauge.filter(|_| !self.by_kind.is_empty()) else {
            return &[];
        };
        let kind = kind(
            gauge.value,
            conductor.colour.as_ref(),
            conductor.wire_type.as_ref(),
        );
        self.by_kind.get(&kind).map_or(&[], Vec::as_slice)
    }
}

/// Size, colour and type in one; only the last may hold any character.
fn kind(gauge: Gauge, colour: Option<&Given<Colour>>, wire_type: Option<&Given<String>>) -> String {
    let (base, stripe) = colour.map_or(("", ""), |colour| {
        let stripe = colour.value.stripe.as_deref();
        (colour.value.base.as_str(), stripe.unwrap_or_default())
    });
    let wire_type = wire_type.map_or("", |wire_type| wire_type.value.as_str());
    format!("{gauge}/{base}/{stripe}/{wire_type}")
}

impl LabelStock {
    /// Length of the clear tail of a wrap label.
    #[must_use]
    pub fn tail(&self) -> Metres {
        self.height - self.printed
    }
}
