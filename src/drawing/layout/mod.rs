//! Measures of one grid: how wide every column must be, and where each thing on a row then stands.
//!
//! Columns follow from the longest label in them; lettering has one size and is never scaled.

mod cuts;
mod faces;
mod plates;
mod references;
mod solver;

pub(super) use cuts::MAY_BE_CUT;
pub(super) use faces::{Face, Lead, Strip, label_pad};
pub(super) use plates::{BLOCK_BAR, BOX_RIM, BlockFace, DIAL, Plate, WAY_DEVICE, hub_name};
pub(super) use references::{
    OUTSIDE, WIDEST_PLACE, reference_lines, reference_width, terminal_word,
};

use super::circuit::{Circuit, HubKind};
use super::font;
use super::pages::Zoning;
use super::plan::{End, Grid, Plan};
use super::symbols::MODULE;
use super::words::{self, TEXT};
use crate::system::{ComponentKind, System};
use faces::{JOINT, SHORTEST_WIRE, class, lead_length};
use solver::Solver;
use std::collections::BTreeMap;

/// Stands over what nothing feeds.
pub(super) const LOOSE: &str = "Not connected, or fed by nothing:";

/// Room between a bar and what stands beside it, in mm.
const GAP: f64 = 5.0;

/// Height of a line of text with its spacing, in mm.
pub(super) const LEADING: f64 = 1.2;

/// How far a bar reaches beyond its first and last row, in mm.
pub(super) const BAR_RIM: f64 = 2.5;

/// How wire labels are set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Lettering {
    /// Number, size and colour in one line above the wire.
    OneLine,
    /// The number above the wire, size and colour below it.
    TwoLines,
    /// As in two lines, with the places where wires go on in more and shorter lines.
    Narrow,
}

impl Lettering {
    /// Letters in a line of a reference.
    fn reference(self) -> usize {
        match self {
            Self::OneLine | Self::TwoLines => 24,
            Self::Narrow => 14,
        }
    }
}

/// Something with a place from left to right.
#[derive(Clone, Copy, Debug)]
pub(super) struct Column {
    pub(super) x: f64,
    pub(super) width: f64,
}

/// A grid with all its columns in place.
#[derive(Clone, Debug)]
pub(super) struct Measured {
    pub(super) columns: Vec<Column>,
    pub(super) strips: Vec<Strip>,
    pub(super) plates: Vec<Plate>,
    pub(super) lettering: Lettering,
    pub(super) width: f64,
    /// As far left as each column may stand.
    pushed: Vec<f64>,
    /// Column of the loads.
    load_column: usize,
    /// The loads stand in one column.
    pub(super) aligned: bool,
    /// Boxes that stand in the column of the loads.
    consumers: Vec<usize>,
    /// Least distances: left column, right column, gap.
    edges: Vec<(usize, usize, f64)>,
    /// Text of each reference, with room for the place.
    pub(super) refs: BTreeMap<usize, Vec<String>>,
}

/// A length in whole millimetres, or a count that was worked out as one; nothing below zero.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // no sheet has a thousandth of what overflows
pub(super) fn whole(length: f64) -> usize {
    length.max(0.0) as usize
}

/// Rounds a length up to the grid.
pub(super) fn on_grid(length: f64) -> f64 {
    (length / MODULE - 1e-6).ceil().max(0.0) * MODULE
}

/// What a grid is measured from.
pub(super) struct Source<'a> {
    pub(super) system: &'a System,
    pub(super) circuit: &'a Circuit,
    pub(super) plan: &'a Plan,
    pub(super) grid: &'a Grid,
    pub(super) zoning: &'a Zoning,
}

impl Source<'_> {
    /// Names the zones of parts that stand in no rectangle of their zone and not in that of the ladder's head.
    fn name_zones(&self, strips: &mut [Strip]) {
        if let Zoning::Whole(_) = self.zoning {
            return;
        }
        // A post has no title that could name its zone.
        let head = self
            .grid
            .head
            .map(|hub| &self.circuit.hubs[hub])
            .filter(|hub| !matches!(hub.kind, HubKind::Post | HubKind::Splice))
            .and_then(|hub| self.system.components[hub.component.index()].zone);
        for (row, segs) in self.grid.rows.iter().enumerate() {
            for &seg in segs {
                let mut behind = false;
                for face in &mut strips[seg].faces {
                    let load = face.cell.kind.is_load();
                    behind |= load;
                    let zone = words::cell_zone(self.system, &face.cell);
                    let told = if load {
                        self.zoning.boxes(row)
                    } else {
                        zone == head || zone == self.zoning.side(behind)
                    };
                    let Some(name) = words::zone(self.system, zone).filter(|_| !told) else {
                        continue;
                    };
                    match face.below.first_mut() {
                        Some(line) if !line.is_empty() => {
                            line.push_str(", ");
                            line.push_str(name);
                        }
                        Some(line) => line.push_str(name),
                        None => face.below.push(name.to_owned()),
                    }
                }
            }
        }
    }
}

impl Measured {
    /// Measures a grid.
    pub(super) fn new(source: &Source<'_>, lettering: Lettering) -> Self {
        // Without a common column for the loads, and then without regard to bars in passing, there is always a way.
        for (aligned, separate) in [(true, true), (false, true)] {
            let (measured, sound) = Self::attempt(source, lettering, (aligned, separate));
            if sound {
                return measured;
            }
        }
        Self::attempt(source, lettering, (false, false)).0
    }

    /// Measures a grid, and tells whether its distances agree with each other.
    fn attempt(
        source: &Source<'_>,
        lettering: Lettering,
        (aligned, separate): (bool, bool),
    ) -> (Self, bool) {
        let &Source {
            system,
            circuit,
            plan,
            grid,
            ..
        } = source;
        let mut solver = Solver {
            columns: Vec::new(),
            edges: Vec::new(),
        };
        let plates: Vec<Plate> = (0..grid.pieces.len())
            .map(|piece| Plate::new(system, grid, circuit, piece, source.zoning))
            .collect();
        let mut ready: Vec<Strip> = grid
            .segs
            .iter()
            .map(|seg| Strip::new(system, circuit, seg))
            .collect();
        source.name_zones(&mut ready);
        for face in ready.iter_mut().flat_map(|strip| &mut strip.faces) {
            face.measure();
        }
        let mut ready = ready.into_iter();
        for plate in &plates {
            solver.column(plate.width());
        }
        let load_column = solver.column(0.0);
        let mut refs = BTreeMap::new();
        let mut strips = Vec::with_capacity(grid.segs.len());
        // Columns that grow from each bar, and those behind the loads.
        let mut from_bar: Vec<Vec<(u8, usize)>> = vec![Vec::new(); grid.pieces.len()];
        let mut behind_loads: Vec<(u8, usize)> = Vec::new();
        // Columns of strips that hang on a bar on their right only.
        let mut free_starts: Vec<usize> = Vec::new();
        for seg in &grid.segs {
            let Some(mut strip) = ready.next() else { break };
            let mut at_end = |end: End, solver: &mut Solver| match end {
                End::Piece(piece, _) => piece,
                End::Ref(reference) => {
                    let letters = lettering.reference();
                    let lines = reference_lines(system, circuit, plan, reference, letters);
                    let width = reference_width(&lines);
                    refs.insert(reference, lines);
                    solver.column(width)
                }
                End::Hub(..) | End::Open => solver.column(MODULE),
            };
            strip.ends = [
                at_end(seg.left, &mut solver),
                at_end(seg.right, &mut solver),
            ];
            let load_face = strip
                .faces
                .iter()
                .rposition(|face| face.cell.kind.is_load());
            // A part that touches a bar stands next to it, whatever the other rows do.
            let touches = |lead: Option<&Lead>, end: End| {
                lead.is_some_and(|lead| lead.item.is_none())
                    && piece_of(end).is_some()
                    && !strip.faces.is_empty()
            };
            let hangs = touches(strip.leads.last(), seg.right) && load_face.is_none();
            let leans = touches(strip.leads.first(), seg.left) && load_face != Some(0);
            let mut list = match seg.left {
                End::Piece(piece, _) if !hangs && !leans => {
                    Some(std::mem::take(&mut from_bar[piece]))
                }
                _ => None,
            };
            let mut after = std::mem::take(&mut behind_loads);
            let mut own: Vec<(u8, usize)> = Vec::new();
            let mut next = 0;
            for index in 0..strip.faces.len() {
                let face = &strip.faces[index];
                let width = face.width();
                let class = class(face.cell.kind);
                let behind = aligned && load_face.is_some_and(|load| index > load);
                let column = if aligned && load_face == Some(index) {
                    next = 0;
                    load_column
                } else {
                    let list = if behind {
                        &mut after
                    } else {
                        list.as_mut().unwrap_or(&mut own)
                    };
                    let found = list[next.min(list.len())..]
                        .iter()
                        .position(|&(known, _)| known == class)
                        .map(|offset| next + offset);
                    let at = found.unwrap_or_else(|| {
                        // A new column stands before the first of a later class.
                        let at = list[next.min(list.len())..]
                            .iter()
                            .position(|&(known, _)| known > class)
                            .map_or(list.len(), |offset| next + offset);
                        list.insert(at, (class, solver.column(0.0)));
                        at
                    });
                    next = at + 1;
                    list[at].1
                };
                let slot = &mut solver.columns[column].width;
                *slot = slot.max(width);
                strip.faces[index].column = column;
            }
            if hangs {
                free_starts.extend(own.iter().map(|&(_, column)| column));
            } else if piece_of(seg.left).is_none() && piece_of(seg.right).is_some() {
                free_starts.push(strip.ends[0]);
                free_starts.extend(own.iter().map(|&(_, column)| column));
            }
            if let (Some(list), End::Piece(piece, _)) = (list, seg.left) {
                from_bar[piece] = list;
            }
            behind_loads = after;
            let mut previous = strip.ends[0];
            for (index, lead) in strip.leads.iter().enumerate() {
                let following = strip
                    .faces
                    .get(index)
                    .map_or(strip.ends[1], |face| face.column);
                let stub = seg.chain.is_none();
                let length = match (lead.item, seg.left, seg.right) {
                    (None, End::Ref(_), _) | (None, _, End::Ref(_)) => SHORTEST_WIRE,
                    _ if stub => JOINT,
                    _ => lead_length(circuit, lead, lettering),
                };
                solver.apart(previous, following, length);
                previous = following;
            }
            strips.push(strip);
        }
        for &(left, right) in &grid.order {
            solver.apart(left, right, GAP);
        }
        // Boxes of loads with several inputs begin where the other loads begin.
        let consumers: Vec<usize> = (0..grid.pieces.len())
            .filter(|&piece| {
                let hub = &circuit.hubs[grid.pieces[piece].hub];
                let kind = system.components[hub.component.index()].kind;
                hub.kind == HubKind::Box && kind == ComponentKind::Load
            })
            .collect();
        if aligned {
            for &piece in &consumers {
                let width = solver.columns[load_column].width;
                solver.apart(load_column, piece, -width);
            }
        }
        if separate {
            rows_apart(grid, &strips, &plates, &mut solver);
        }
        for (side, rail) in grid.rails.iter().enumerate() {
            let Some(rail) = *rail else { continue };
            let other = grid.rails[1 - side];
            for column in 0..solver.columns.len() {
                let idle = column == load_column && solver.columns[column].width == 0.0;
                if column == rail || Some(column) == other || idle {
                    continue;
                }
                if side == 0 {
                    solver.apart(rail, column, GAP);
                } else {
                    solver.apart(column, rail, GAP);
                }
            }
        }
        // Titles keep to the right of the left edge.
        let edge = solver.column(0.0);
        for (piece, plate) in plates.iter().enumerate() {
            solver.apart(edge, piece, plate.overhang()[0].max(0.0));
        }
        // The names of zones keep to their rectangles.
        let [within, before, behind] = source.zoning.name_widths(system);
        if aligned {
            let slot = &mut solver.columns[load_column].width;
            *slot = slot.max(on_grid(within));
            if before > 0.0 {
                solver.apart(edge, load_column, before);
            }
        }
        let sound = solver.solve();
        let pushed: Vec<f64> = solver.columns.iter().map(|column| column.x).collect();
        solver.draw_right(&free_starts);
        let width = solver
            .columns
            .iter()
            .map(|column| column.x + column.width)
            .chain(plates.iter().enumerate().map(|(piece, plate)| {
                solver.columns[piece].x + plate.sides[0] + plate.title_start() + plate.title_width()
            }))
            .fold(
                if grid.loose {
                    font::width(LOOSE, TEXT)
                } else {
                    0.0
                },
                f64::max,
            );
        let mut measured = Self {
            edges: solver.edges,
            pushed,
            load_column,
            aligned,
            consumers,
            columns: solver.columns,
            strips,
            plates,
            lettering,
            width,
            refs,
        };
        let from = match source.zoning {
            Zoning::Whole(_) => 0.0,
            Zoning::Runs(..) if aligned => measured.load_edges()[1],
            Zoning::Runs(..) => return (measured, sound),
        };
        if behind > 0.0 {
            measured.width = measured.width.max(from + behind);
        }
        (measured, sound)
    }

    /// Draws the columns apart until the grid has a width, and no further than to so many times its own.
    ///
    /// Every distance grows, so nothing comes nearer to anything.
    pub(super) fn stretch(&mut self, width: f64, most: f64) {
        let ends = self.columns.iter().map(|column| (column.x, column.width));
        let titles = self.plates.iter().enumerate().map(|(piece, plate)| {
            let title = plate.sides[0] + plate.title_start() + plate.title_width();
            (self.columns[piece].x, title)
        });
        let factor = ends
            .chain(titles)
            .filter(|&(x, _)| x > 0.0)
            .map(|(x, right)| (width - right) / x)
            .fold(most, f64::min);
        if factor <= 1.0 {
            return;
        }
        for column in &mut self.columns {
            column.x = (column.x * factor / MODULE + 1e-6).floor() * MODULE;
        }
        self.width = self
            .columns
            .iter()
            .map(|column| column.x + column.width)
            .chain(self.plates.iter().enumerate().map(|(piece, plate)| {
                self.columns[piece].x + plate.sides[0] + plate.title_start() + plate.title_width()
            }))
            .fold(self.width, f64::max);
    }

    /// Left and right edge of what stands in the column of the loads.
    pub(super) fn load_edges(&self) -> [f64; 2] {
        let column = self.columns[self.load_column];
        let mut right = column.x + column.width;
        for &piece in &self.consumers {
            right = right.max(self.columns[piece].x + self.columns[piece].width);
        }
        [column.x, right]
    }

    /// Left edge of the bar or box of a piece.
    pub(super) fn bar_left(&self, piece: usize) -> f64 {
        self.columns[piece].x + self.plates[piece].sides[0]
    }

    /// Right edge of the bar or box of a piece.
    pub(super) fn bar_right(&self, piece: usize) -> f64 {
        self.bar_left(piece) + self.plates[piece].body
    }
}

/// Keeps the bars that a row meets, and the free ends on it, one beside the other.
fn rows_apart(grid: &Grid, strips: &[Strip], plates: &[Plate], solver: &mut Solver) {
    let depth = grid.depths();
    let mut starts: Vec<Vec<usize>> = vec![Vec::new(); grid.rows.len()];
    for (piece, record) in grid.pieces.iter().enumerate() {
        if record.first != usize::MAX {
            starts[record.first].push(piece);
        }
    }
    let mut open: Vec<usize> = Vec::new();
    let mut known = std::collections::BTreeSet::new();
    for (row, segs) in grid.rows.iter().enumerate() {
        open.retain(|&piece| grid.pieces[piece].last >= row);
        open.extend(&starts[row]);
        open.sort_by_key(|&piece| (depth[piece], piece));
        // Titles stand over a bar's first row; where rows are cut, one is set above the other.
        let heads = |piece: usize| {
            let first = grid.pieces[piece].first;
            first == row || first == row + 1
        };
        for pair in open.windows(2) {
            let (left, right) = (pair[0], pair[1]);
            if known.insert((left, right, heads(left), heads(right))) {
                let one = if heads(left) {
                    plates[left].overhang()[1]
                } else {
                    0.0
                };
                let two = if heads(right) {
                    plates[right].overhang()[0]
                } else {
                    0.0
                };
                solver.apart(left, right, GAP.max(one + two + 2.0));
            }
        }
        // Bars that begin one row below have their title beside this row's bars.
        // Over a bar that ends here there is room for it, once the rows stand further apart.
        let passing = |bar: &usize| grid.pieces[*bar].last > row;
        for &piece in starts.get(row + 1).into_iter().flatten() {
            let next = open
                .iter()
                .copied()
                .filter(passing)
                .find(|&bar| (depth[bar], bar) > (depth[piece], piece));
            let last = open
                .iter()
                .copied()
                .filter(passing)
                .rfind(|&bar| (depth[bar], bar) < (depth[piece], piece));
            if let Some(right) = next {
                solver.apart(piece, right, GAP.max(plates[piece].overhang()[1] + 2.0));
            }
            if let Some(left) = last {
                solver.apart(left, piece, GAP.max(plates[piece].overhang()[0] + 2.0));
            }
        }
        let mut previous_free: Option<usize> = None;
        for &seg in segs {
            let record = &grid.segs[seg];
            let ends = strips[seg].ends;
            if let (None, End::Piece(bar, _)) = (piece_of(record.left), record.right) {
                let before = open
                    .iter()
                    .copied()
                    .rfind(|&other| (depth[other], other) < (depth[bar], bar));
                if let Some(before) = before {
                    solver.apart(before, ends[0], GAP);
                }
            }
            if let Some(free) = previous_free.take() {
                solver.apart(free, ends[0], GAP);
            }
            let bar = || open.iter().find(|&&bar| grid.rails[0] != Some(bar));
            if let (None, None, Some(&first)) =
                (piece_of(record.left), piece_of(record.right), bar())
            {
                // A strip without a bar stands left of the bars in passing.
                solver.apart(ends[1], first, GAP);
            }
            if piece_of(record.right).is_none() {
                previous_free = Some(ends[1]);
                if let End::Piece(bar, _) = record.left {
                    let next = open
                        .iter()
                        .copied()
                        .find(|&other| (depth[other], other) > (depth[bar], bar));
                    if let Some(next) = next {
                        solver.apart(ends[1], next, GAP);
                    }
                }
            }
        }
    }
}

fn piece_of(end: End) -> Option<usize> {
    match end {
        End::Piece(piece, _) => Some(piece),
        _ => None,
    }
}
