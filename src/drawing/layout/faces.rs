//! Parts in line and the leads between them: their words, and how much room they need.

use super::{LEADING, Lettering, on_grid};
use crate::drawing::circuit::{Cell, CellKind, Circuit, Item};
use crate::drawing::plan::Seg;
use crate::drawing::symbols::{self, Symbol};
use crate::drawing::words::{self, SMALL, TEXT};
use crate::system::System;

/// Room on both sides of a wire label, in mm.
const LABEL_PAD: f64 = 0.7;

/// Room between a wire label and what stands at the end of its wire, where there is enough, in mm.
const LABEL_CLEAR: f64 = 2.0;

/// Shortest wire, in mm.
pub(super) const SHORTEST_WIRE: f64 = 5.0;

/// Length of a joint between parts bolted together, in mm.
pub(super) const JOINT: f64 = 2.5;

/// A part in line on its row.
#[derive(Clone, Debug)]
pub(in crate::drawing) struct Face {
    pub(in crate::drawing) cell: Cell,
    pub(in crate::drawing) symbol: Symbol,
    /// Drawn mirrored, because the chain runs the other way.
    pub(in crate::drawing) mirror: bool,
    pub(in crate::drawing) above: Vec<String>,
    pub(in crate::drawing) below: Vec<String>,
    pub(in crate::drawing) column: usize,
    /// The text stands behind the symbol, over and under its lead.
    pub(in crate::drawing) tail: bool,
    /// Width of its text, once all of it is there.
    pub(super) text: f64,
}

/// A conductor or joint between two things on a row.
#[derive(Clone, Copy, Debug)]
pub(in crate::drawing) struct Lead {
    /// The conductor or joint; none where parts touch.
    pub(in crate::drawing) item: Option<Item>,
    /// The label stands at the left end, next to the load.
    pub(in crate::drawing) label_left: bool,
}

/// One segment with its parts: leads and faces in turn, a lead first and last.
#[derive(Clone, Debug)]
pub(in crate::drawing) struct Strip {
    pub(in crate::drawing) faces: Vec<Face>,
    pub(in crate::drawing) leads: Vec<Lead>,
    /// Columns of free ends.
    pub(in crate::drawing) ends: [usize; 2],
}

/// The symbol of a part in line.
fn face_symbol(system: &System, cell: &Cell) -> Symbol {
    if let Some(symbol) = symbols::of_simple(cell.kind) {
        return symbol;
    }
    let component = &system.components[cell.component.index()];
    match cell.kind {
        CellKind::Device(device) => symbols::of_device(system.devices[device.index()].kind),
        CellKind::Contact(gear) => symbols::of_gear(system.gears[gear.index()].kind),
        CellKind::Source(source) => symbols::of_source(system.sources[source.index()].kind),
        CellKind::Instrument => symbols::of_instrument(&component.subkind),
        CellKind::Mate(_) => {
            let contacts = component
                .connector
                .as_ref()
                .map_or([None, None], |connector| {
                    [
                        connector.contacts[0].map(|given| given.value),
                        connector.contacts[1].map(|given| given.value),
                    ]
                });
            let reversed = system.terminals[cell.ends[0].index()].name.ends_with('b');
            symbols::of_connector(if reversed {
                [contacts[1], contacts[0]]
            } else {
                contacts
            })
        }
        _ => Symbol::Plain,
    }
}

/// Order of columns: what stands nearer to the supply first.
pub(super) fn class(kind: CellKind) -> u8 {
    match kind {
        CellKind::Battery(_) | CellKind::Source(_) => 0,
        CellKind::Device(_) => 1,
        CellKind::Shunt | CellKind::Diode | CellKind::Combiner(_) => 2,
        CellKind::Contact(_) => 3,
        CellKind::Mate(_) => 4,
        CellKind::Splice | CellKind::Plain => 5,
        CellKind::Load(..) | CellKind::Instrument | CellKind::Bunch(_) => 6,
    }
}

impl Face {
    pub(super) fn new(system: &System, circuit: &Circuit, cell: Cell) -> Self {
        let symbol = face_symbol(system, &cell);
        let (above, below) = match cell.kind {
            CellKind::Bunch(index) => {
                let bunch = &circuit.bunches[index as usize];
                (bunch.above.clone(), bunch.below.clone())
            }
            _ => words::cell_lines(system, &cell),
        };
        let mirror = match cell.kind {
            CellKind::Battery(source) => {
                let link = &system.links[system.sources[source.index()].link.index()];
                link.a == cell.ends[0]
            }
            CellKind::Diode => system.terminals[cell.ends[0].index()].name != "in",
            _ => false,
        };
        Self {
            tail: cell.kind.is_load() && symbol != Symbol::Converter,
            cell,
            symbol,
            mirror,
            above,
            below,
            column: 0,
            text: 0.0,
        }
    }

    /// Measures its text.
    pub(super) fn measure(&mut self) {
        self.text = words::widest(&self.above, TEXT).max(words::widest(&self.below, SMALL));
    }

    /// Width of its column.
    pub(in crate::drawing) fn width(&self) -> f64 {
        let (symbol, _, _) = self.symbol.size();
        if self.tail {
            on_grid(symbol + self.text + 2.0)
        } else {
            on_grid(symbol.max(self.text + 1.0))
        }
    }

    /// Height above and below the row, with its text.
    pub(in crate::drawing) fn heights(&self) -> (f64, f64) {
        let (_, up, down) = self.symbol.size();
        let below = self.below.iter().filter(|line| !line.is_empty()).count();
        // From the first baseline to the top of the last line, and so downward.
        let lines = |count: usize, size: f64| match count {
            0 => 0.0,
            _ => (count as f64 - 1.0) * size * LEADING + size,
        };
        let (over, under) = (lines(self.above.len(), TEXT), lines(below, SMALL));
        if self.tail {
            (up.max(over + 0.7), down.max(under + 0.8))
        } else {
            let gap = |height: f64, room: f64| if height > 0.0 { height + room } else { 0.0 };
            (up + gap(over, 0.4), down + gap(under, 0.5))
        }
    }
}

impl Strip {
    pub(super) fn new(system: &System, circuit: &Circuit, seg: &Seg) -> Self {
        let mut faces = Vec::new();
        let mut leads = Vec::new();
        let mut pending = None;
        let mut loaded = false;
        let items: Vec<Item> = seg
            .chain
            .map(|chain| circuit.chains[chain].items[seg.items.clone()].to_vec())
            .unwrap_or_default();
        let ordered: Box<dyn Iterator<Item = Item>> = if seg.flipped {
            Box::new(items.into_iter().rev())
        } else {
            Box::new(items.into_iter())
        };
        for item in ordered {
            match item {
                Item::Cell(mut cell) => {
                    if seg.flipped {
                        cell.ends.reverse();
                    }
                    leads.push(Lead {
                        item: pending.take(),
                        label_left: loaded,
                    });
                    loaded |= cell.kind.is_load();
                    faces.push(Face::new(system, circuit, cell));
                }
                other => pending = Some(other),
            }
        }
        leads.push(Lead {
            item: pending,
            label_left: loaded,
        });
        Self {
            faces,
            leads,
            ends: [usize::MAX; 2],
        }
    }
}

/// Room between a wire label and the end of its wire, where the wire has room for the label on so much of it.
pub(in crate::drawing) fn label_pad((from, to): (f64, f64), width: f64) -> f64 {
    LABEL_CLEAR
        .min(to - from - width - LABEL_PAD)
        .max(LABEL_PAD)
}

/// Length that a lead needs.
pub(super) fn lead_length(circuit: &Circuit, lead: &Lead, lettering: Lettering) -> f64 {
    match lead.item {
        None => 0.0,
        Some(Item::Wire(id)) => {
            let text = circuit.labels[id.index()].width(lettering);
            on_grid((text + 2.0 * LABEL_PAD).max(SHORTEST_WIRE))
        }
        Some(_) => JOINT,
    }
}
