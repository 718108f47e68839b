//! Shapes of everything that has its place: bars, boxes, parts in line, wires, labels, references, zones.

mod hubs;
mod ports;
mod strips;
mod wires;
mod zones;

pub(super) use wires::hex;
pub(super) use zones::{ZONE_FILL, open_borders, outline_of_zone};

use super::Format;
use super::circuit::Circuit;
use super::layout::{LOOSE, Measured};
use super::legend::Used;
use super::pages::{Part, Zoning};
use super::plan::{End, Plan};
use super::scene::{Anchor, Group, Rgb, Role};
use super::standing::Standing;
use super::words::{self, TEXT};
use crate::drawing::shapes::text;
use crate::system::{ComponentId, ConductorId, System, TerminalId, ZoneId};
use std::collections::BTreeMap;

/// Kind of a part in line.
pub(super) const INLINE: &str = "inline";

/// Where something stands: sheet index and point.
pub(super) type Spot = (usize, (f64, f64));

/// Spots by reference or hub.
type Spots = Vec<(usize, Spot)>;

/// What all parts of the drawing share.
pub(super) struct Stage<'a> {
    pub(super) system: &'a System,
    pub(super) circuit: &'a Circuit,
    pub(super) plan: &'a Plan,
    pub(super) measured: &'a [Measured],
    pub(super) zonings: &'a [Zoning],
    /// Sheet and field of each reference, such as `2/C4`.
    pub(super) ref_places: BTreeMap<usize, String>,
    /// Places of each hub that is drawn in pieces.
    pub(super) hub_places: BTreeMap<usize, Vec<String>>,
    /// How often each component is drawn.
    pub(super) pieces: Vec<u32>,
    /// How often each component has been drawn so far.
    pub(super) drawn: Vec<u32>,
    pub(super) used: Used,
    /// Sheets of the document before the first one here.
    pub(super) before: usize,
    /// The state that is shown, if any.
    pub(super) standing: Option<&'a Standing>,
    /// Paper, for the fields of the border.
    size: Format,
    colours: BTreeMap<(String, Option<String>), (Rgb, Option<Rgb>)>,
    references: usize,
}

/// Groups of one sheet, by layer.
#[derive(Default)]
pub(super) struct Layers {
    pub(super) zones: Vec<Group>,
    pub(super) wires: Vec<Group>,
    pub(super) parts: Vec<Group>,
    pub(super) labels: Vec<Group>,
    /// How often each zone has a rectangle on this sheet.
    zone_count: BTreeMap<ZoneId, usize>,
    /// How often a wire lands on each terminal on this sheet.
    landings: BTreeMap<TerminalId, usize>,
    /// Port at each end of each lead: grid, segment, lead, side.
    ports: BTreeMap<(usize, usize, usize, usize), String>,
    /// Group of the first piece of each wire.
    first_piece: BTreeMap<ConductorId, usize>,
    /// How often each wire is drawn on this sheet.
    wire_count: BTreeMap<ConductorId, usize>,
}

impl Layers {
    /// All groups, lowest first.
    pub(super) fn groups(&self) -> impl Iterator<Item = &Group> {
        let layers = [&self.zones, &self.wires, &self.parts, &self.labels];
        layers.into_iter().flatten()
    }
}

/// Counts of drawings of each component: parts in line, and bars.
pub(super) fn count_pieces(
    system: &System,
    circuit: &Circuit,
    plan: &Plan,
    measured: &[Measured],
    parts: &[Part],
) -> Vec<u32> {
    let mut counts = vec![0; system.components.len()];
    for part in parts {
        let grid = &plan.grids[part.grid];
        let mut hubs = std::collections::BTreeSet::new();
        for row in part.rows.clone() {
            for &seg in &grid.rows[row] {
                for face in &part.measured(measured).strips[seg].faces {
                    counts[face.cell.component.index()] += 1;
                }
                for end in [grid.segs[seg].left, grid.segs[seg].right] {
                    if let End::Piece(piece, _) = end {
                        hubs.insert(piece);
                    }
                }
            }
        }
        for piece in hubs {
            counts[circuit.hubs[grid.pieces[piece].hub].component.index()] += 1;
        }
    }
    counts
}

impl<'a> Stage<'a> {
    pub(super) fn new(
        system: &'a System,
        circuit: &'a Circuit,
        plan: &'a Plan,
        measured: &'a [Measured],
        zonings: &'a [Zoning],
        size: Format,
    ) -> Self {
        Self {
            before: 0,
            standing: None,
            size,
            system,
            circuit,
            plan,
            measured,
            zonings,
            ref_places: BTreeMap::new(),
            hub_places: BTreeMap::new(),
            pieces: Vec::new(),
            drawn: vec![0; system.components.len()],
            used: Used::default(),
            colours: BTreeMap::new(),
            references: 0,
        }
    }

    /// Spot of each reference and of each bar in a part of the drawing.
    pub(super) fn spots(&self, part: &Part) -> (Spots, Spots) {
        let grid = &self.plan.grids[part.grid];
        let measured = part.measured(self.measured);
        let (mut refs, mut hubs) = (Vec::new(), BTreeMap::new());
        for (row, &y) in part.rows.clone().zip(&part.ys) {
            for &seg in &grid.rows[row] {
                let ends = measured.strips[seg].ends;
                for (side, end) in [grid.segs[seg].left, grid.segs[seg].right]
                    .into_iter()
                    .enumerate()
                {
                    match end {
                        End::Ref(reference) => {
                            let x = part.x + measured.columns[ends[side]].x;
                            refs.push((reference, (part.sheet, (x, y))));
                        }
                        End::Piece(piece, _) => {
                            let spot = (part.sheet, (part.x + measured.bar_left(piece), y));
                            hubs.entry(piece).or_insert((grid.pieces[piece].hub, spot));
                        }
                        _ => {}
                    }
                }
            }
        }
        (refs, hubs.into_values().collect())
    }

    /// Draws one part of a grid.
    pub(super) fn part(&mut self, part: &Part, layers: &mut Layers) {
        let zones = self.zones(part, layers);
        if self.plan.grids[part.grid].loose {
            layers.labels.push(Group {
                id: "loose".to_owned(),
                role: Role::Note,
                title: String::new(),
                shapes: vec![text((part.x, part.top + 2.0), LOOSE, TEXT, Anchor::Start)],
            });
        }
        self.bars(part, layers, &zones);
        let grid = &self.plan.grids[part.grid];
        for (row, &y) in part.rows.clone().zip(&part.ys) {
            for &seg in &grid.rows[row] {
                self.strip(part, seg, y, row, &zones, layers);
            }
        }
    }

    /// Sheet and field of a point.
    pub(super) fn place(&self, sheet: usize, at: (f64, f64)) -> String {
        format!(
            "{}/{}",
            self.before + sheet + 1,
            super::frame::field(self.size, at)
        )
    }

    /// Name of a landing: the terminal's, with a number from the second landing on.
    fn port_name(&self, layers: &mut Layers, terminal: TerminalId) -> String {
        let count = layers.landings.entry(terminal).or_default();
        *count += 1;
        let name = self.system.terminal_name(terminal);
        match (*count, name.contains('.')) {
            (1, _) => name,
            (count, true) => format!("{name}:{count}"),
            // What stands before the last point names the part.
            (count, false) => format!("{name}.:{count}"),
        }
    }

    /// Designation, number and id of the next drawing of a component.
    fn next_piece(&mut self, component: ComponentId) -> (String, Option<u32>, String) {
        let name = self.system.components[component.index()].name.clone();
        let count = &mut self.drawn[component.index()];
        *count += 1;
        let several = self
            .pieces
            .get(component.index())
            .is_some_and(|&pieces| pieces > 1);
        let id = if several {
            format!("part-{name}-{count}")
        } else {
            format!("part-{name}")
        };
        (name, several.then_some(*count), id)
    }

    fn part_title(&self, component: ComponentId, name: &str) -> String {
        let record = &self.system.components[component.index()];
        let mut words = vec![name.to_owned()];
        if record.label != record.name {
            words.push(record.label.clone());
        }
        if let Some(zone) = words::zone(self.system, record.zone) {
            words.push(format!("zone {zone}"));
        }
        words.join(", ")
    }
}
