//! Rows onto sheets: how far each row must stand below the one above, and where a ladder goes on.
//!
//! Rows are cut, never text: a bar that does not fit goes on in the next strip or on the next sheet.

use super::circuit::{Cell, Circuit, HubKind, Item};
use super::layout::{BAR_RIM, BOX_RIM, Column, LEADING, Lettering, Measured, label_pad, whole};
use super::plan::{End, Grid};
use super::symbols::MODULE;
use super::words::{self, SMALL, TEXT};
use crate::system::{ComponentKind, System, ZoneId};
use std::collections::BTreeMap;
use std::ops::{Range, RangeInclusive};

/// Room between things on neighbouring rows, in mm.
const ROW_GAP: f64 = 0.8;
/// Least distance of two rows, in mm.
pub(super) const LEAST_PITCH: f64 = 5.0;
/// Height above a wire that its label takes, in mm.
pub(super) const LABEL_UP: f64 = 3.3;
/// Height below a wire that the second line of its label takes, in mm.
pub(super) const LABEL_DOWN: f64 = 3.2;
/// Room around what a zone's rectangle holds, in mm.
pub(super) const ZONE_PAD: f64 = 1.0;
/// Height of the name of a zone above what it holds, in mm.
pub(super) const ZONE_NAME: f64 = 3.8;
/// How far below everything the main negative goes round, in mm.
pub(super) const RAIL_DROP: f64 = 5.0;
/// How far a bar reaches below the last row of a strip when it goes on in the next, in mm.
const CUT_RIM: f64 = 2.0;
/// Width of a rectangle from which on it is too wide for the name of its zone alone, in mm.
const WIDEST_ZONE: f64 = 80.0;
/// How far the name of a single terminal reaches to either side at most, in mm.
const SPREAD: f64 = 8.0;
/// Room round a ladder, in mm.
pub(super) const GRID_GAP: f64 = 7.5;

/// What rows may fill on a sheet.
#[derive(Clone, Copy, Debug)]
pub(super) struct Room {
    pub(super) left: f64,
    pub(super) width: f64,
    pub(super) top: f64,
    /// Lower edge left of the title block, and above it.
    pub(super) bottoms: [f64; 2],
    /// Left edge of the title block.
    pub(super) title: f64,
}

impl Room {
    /// Lower edge for something between two places.
    pub(super) fn bottom(&self, right: f64) -> f64 {
        self.bottoms[usize::from(right > self.title - GRID_GAP / 2.0)]
    }
}

/// A run of rows on one sheet.
#[derive(Clone, Debug)]
pub(super) struct Part {
    pub(super) grid: usize,
    pub(super) sheet: usize,
    pub(super) rows: Range<usize>,
    /// Height of each row on the sheet.
    pub(super) ys: Vec<f64>,
    /// Left edge.
    pub(super) x: f64,
    pub(super) width: f64,
    /// Lower edge of what is drawn.
    pub(super) bottom: f64,
    /// Upper edge of what is drawn.
    pub(super) top: f64,
    /// Height above its first row at which the title of each bar begins.
    pub(super) lifts: BTreeMap<usize, f64>,
    /// Depth below its last row at which the name of each single terminal begins.
    pub(super) drops: BTreeMap<usize, f64>,
    /// Its own measures, where it is drawn wider than the other rows of its grid.
    pub(super) wider: Option<Box<Measured>>,
}

impl Part {
    /// Its measures, among those of all grids.
    pub(super) fn measured<'m>(&'m self, all: &'m [Measured]) -> &'m Measured {
        self.wider.as_deref().unwrap_or(&all[self.grid])
    }
}

/// Zones of a grid: all in one, or the zone of the load on each row.
#[derive(Clone, Debug)]
pub(super) enum Zoning {
    /// Everything that has a zone is in this one.
    Whole(ZoneId),
    /// Rows in runs of loads in one zone: first row, last row; and the zone of all that stands left of the loads,
    /// and of all that stands right of them, where it is one.
    Runs(Vec<(ZoneId, usize, usize)>, [Option<ZoneId>; 2]),
}

impl Zoning {
    /// Whether the load on a row stands in a rectangle of its zone.
    pub(super) fn boxes(&self, row: usize) -> bool {
        match self {
            Self::Whole(_) => true,
            Self::Runs(runs, _) => runs
                .iter()
                .any(|&(_, first, last)| (first..=last).contains(&row)),
        }
    }
}

impl Zoning {
    /// Least widths of the rectangles round the loads, left of them, and right of them or round everything.
    pub(super) fn name_widths(&self, system: &System) -> [f64; 3] {
        let width = |zone: ZoneId| zone_width(system, zone);
        match self {
            Self::Whole(zone) => [0.0, 0.0, width(*zone)],
            Self::Runs(runs, sides) => [
                runs.iter().map(|run| width(run.0)).fold(0.0, f64::max),
                sides[0].map_or(0.0, width),
                sides[1].map_or(0.0, width),
            ],
        }
    }

    /// The zone of everything on one side of the loads.
    pub(super) fn side(&self, behind: bool) -> Option<ZoneId> {
        match self {
            Self::Whole(zone) => Some(*zone),
            Self::Runs(_, sides) => sides[usize::from(behind)],
        }
    }
}

/// Width of a rectangle that holds the name of a zone.
fn zone_width(system: &System, zone: ZoneId) -> f64 {
    super::font::width(&system.zones[zone.index()].name, TEXT) + 2.0
}

/// Parts in line of a segment.
fn cells<'c>(circuit: &'c Circuit, grid: &'c Grid, seg: usize) -> impl Iterator<Item = &'c Cell> {
    let record = &grid.segs[seg];
    let items = record.chain.map_or(&[][..], |chain| {
        &circuit.chains[chain].items[record.items.clone()]
    });
    items.iter().filter_map(|item| match item {
        Item::Cell(cell) => Some(cell),
        _ => None,
    })
}

/// The one zone of everything left of the loads, and of everything right of them.
fn side_zones(system: &System, circuit: &Circuit, grid: &Grid) -> [Option<ZoneId>; 2] {
    let mut sides: [Vec<ZoneId>; 2] = [Vec::new(), Vec::new()];
    let mut loads = false;
    let mut bars = [false; 2];
    for seg in 0..grid.segs.len() {
        let mut parts: Vec<&Cell> = cells(circuit, grid, seg).collect();
        if grid.segs[seg].flipped {
            parts.reverse();
        }
        let load = parts.iter().rposition(|cell| cell.kind.is_load());
        loads |= load.is_some();
        for (index, cell) in parts.iter().enumerate() {
            let zone = words::cell_zone(system, cell);
            match load {
                Some(load) if index == load => {}
                Some(load) => sides[usize::from(index > load)].extend(zone),
                // Without a load on its row it can come to stand on either side.
                None => sides.iter_mut().for_each(|side| side.extend(zone)),
            }
        }
    }
    let is_consumer = |piece: usize| {
        let hub = &circuit.hubs[grid.pieces[piece].hub];
        let kind = system.components[hub.component.index()].kind;
        hub.kind == HubKind::Box && kind == ComponentKind::Load
    };
    // Bars on which a load lands from the left stand right of the loads.
    let mut behind = vec![false; grid.pieces.len()];
    for (index, seg) in grid.segs.iter().enumerate() {
        let End::Piece(right, _) = seg.right else {
            continue;
        };
        let consumer = matches!(seg.left, End::Piece(left, _) if is_consumer(left));
        behind[right] |= consumer || cells(circuit, grid, index).any(|cell| cell.kind.is_load());
    }
    for (index, piece) in grid.pieces.iter().enumerate() {
        let hub = &circuit.hubs[piece.hub];
        let component = &system.components[hub.component.index()];
        if is_consumer(index) || hub.kind == HubKind::Post {
            continue;
        }
        if grid.rails[0] == Some(index) {
            sides[0].extend(component.zone);
            continue;
        }
        let negative = hub.kind.elastic()
            && circuit.pole(system, piece.hub, 0) == super::scene::Pole::Negative;
        sides[usize::from(negative)].extend(component.zone);
        if negative && !behind[index] {
            // It may stand on either side.
            sides[0].extend(component.zone);
        }
        bars[usize::from(negative)] |= hub.kind.elastic() && component.zone.is_some();
    }
    if grid.rails.iter().any(Option::is_some) {
        return [None, None];
    }
    // A rectangle is worth drawing round a bar; stray parts in line name their zone themselves.
    [0, 1].map(|side| {
        let zones = &mut sides[side];
        zones.sort_unstable();
        zones.dedup();
        match zones.as_slice() {
            [only] if loads && bars[side] => Some(*only),
            _ => None,
        }
    })
}

/// Whether some rows have anything left of the loads, and right of them.
pub(super) fn sides_held(grid: &Grid, measured: &Measured, rows: &Range<usize>) -> [bool; 2] {
    let [left, right] = measured.load_edges();
    let pieces = grid.pieces.iter().enumerate();
    let bars = pieces
        .filter(|(_, piece)| piece.first < rows.end && piece.last >= rows.start)
        .map(|(piece, _)| (measured.bar_left(piece), measured.bar_right(piece)));
    let segs = rows.clone().flat_map(|row| &grid.rows[row]);
    let ends = segs.flat_map(|&seg| {
        let strip = &measured.strips[seg];
        let faces = strip.faces.iter().map(|face| face.column);
        faces.chain(strip.ends)
    });
    let columns = ends.map(|column| {
        let Column { x, width } = measured.columns[column];
        (x, x + width)
    });
    let (mut before, mut behind) = (false, false);
    for (from, to) in bars.chain(columns) {
        before |= from < left - 1e-6;
        behind |= to > right + 1e-6;
    }
    [before, behind]
}

/// Finds the zones of a grid.
pub(super) fn zoning(system: &System, circuit: &Circuit, grid: &Grid) -> Zoning {
    let parts = (0..grid.segs.len())
        .flat_map(|seg| cells(circuit, grid, seg))
        .filter_map(|cell| words::cell_zone(system, cell));
    let hubs = grid
        .pieces
        .iter()
        .enumerate()
        .filter(|(piece, _)| !grid.rails.contains(&Some(*piece)))
        .filter_map(|(_, piece)| system.components[circuit.hubs[piece.hub].component.index()].zone);
    let mut zones: Vec<ZoneId> = parts.chain(hubs).collect();
    zones.sort_unstable();
    zones.dedup();
    if grid.loose {
        return Zoning::Runs(Vec::new(), [None, None]);
    }
    // A name that is very long stands with its parts.
    let short = |zone: ZoneId| zone_width(system, zone) < WIDEST_ZONE;
    if let [only] = zones.as_slice()
        && short(*only)
    {
        return Zoning::Whole(*only);
    }
    let mut runs: Vec<(ZoneId, usize, usize)> = Vec::new();
    for (row, segs) in grid.rows.iter().enumerate() {
        let load = segs
            .iter()
            .find_map(|&seg| cells(circuit, grid, seg).find(|cell| cell.kind.is_load()));
        let Some(zone) = load.and_then(|cell| words::cell_zone(system, cell)) else {
            continue;
        };
        match runs.last_mut() {
            Some((known, _, last)) if *known == zone && *last + 1 == row => *last = row,
            _ => runs.push((zone, row, row)),
        }
    }
    // A single load names its zone in words, which takes less room.
    runs.retain(|&(zone, first, last)| last > first && short(zone));
    let sides = side_zones(system, circuit, grid);
    Zoning::Runs(runs, sides.map(|side| side.filter(|&zone| short(zone))))
}

/// Distance of the name of each bar from its row.
type Names = Vec<(usize, f64)>;

/// A rectangle on a row, measured from its axis: left, right, height above, depth below.
type Extent = (f64, f64, f64, f64);

/// What one row takes, with its left edge at zero; and how far the titles of bars that begin on it are lifted.
pub(super) fn extents(
    system: &System,
    circuit: &Circuit,
    grid: &Grid,
    measured: &Measured,
    zoning: &Zoning,
    row: usize,
    opens: &dyn Fn(usize) -> bool,
) -> (Vec<Extent>, Names, Names) {
    let mut found: Vec<Extent> = Vec::new();
    let mut titles = Vec::new();
    let mut feet = Vec::new();
    let mut drops = Vec::new();
    for &seg in &grid.rows[row] {
        let strip = &measured.strips[seg];
        for face in &strip.faces {
            let column = measured.columns[face.column];
            let (mut up, mut down) = face.heights();
            let width = face.width();
            let left = if face.tail {
                column.x
            } else {
                column.x + (column.width - width) / 2.0
            };
            let mut right = if face.tail {
                column.x + column.width
            } else {
                left + width
            };
            if face.cell.kind.is_load()
                && let Zoning::Runs(runs, _) = zoning
            {
                for &(zone, first, last) in runs {
                    if first == row {
                        up += ZONE_NAME;
                        let name = &system.zones[zone.index()].name;
                        right = right.max(left + super::font::width(name, TEXT));
                    }
                    if last == row {
                        down += ZONE_PAD;
                    }
                }
            }
            found.push((left, right, up, down));
        }
        for (index, lead) in strip.leads.iter().enumerate() {
            let (from, to) = lead_span(grid, measured, seg, index);
            found.push((from, to, 0.6, 0.6));
            if let Some(Item::Wire(id)) = lead.item {
                let (from, to) = label_span(grid, measured, seg, index);
                let width = circuit.labels[id.index()].width(measured.lettering);
                let pad = label_pad((from, to), width);
                let (left, right) = if lead.label_left {
                    (from, from + width + pad)
                } else {
                    (to - width - pad, to)
                };
                let down = match measured.lettering {
                    Lettering::OneLine => 0.6,
                    Lettering::TwoLines | Lettering::Narrow => LABEL_DOWN,
                };
                found.push((left, right, LABEL_UP, down));
            }
        }
        for (side, end) in [grid.segs[seg].left, grid.segs[seg].right]
            .into_iter()
            .enumerate()
        {
            if let End::Ref(reference) = end {
                let column = measured.columns[strip.ends[side]];
                let half = reference_height(measured, reference) / 2.0;
                found.push((column.x, column.x + column.width, half, half));
            }
        }
    }
    for (piece, record) in grid.pieces.iter().enumerate() {
        if record.first > row || record.last < row {
            continue;
        }
        let (left, right) = (measured.bar_left(piece), measured.bar_right(piece));
        let rim = rim(circuit.hubs[record.hub].kind);
        if record.first == row || opens(piece) {
            found.push((left, right, rim, 0.0));
            titles.push((piece, rim));
        }
        if record.last > row {
            let kind = circuit.hubs[record.hub].kind;
            found.push((left, right, 0.0, cut_rim(kind)));
        }
        if record.last == row && circuit.hubs[record.hub].kind == HubKind::Post {
            feet.push(piece);
        }
        if record.last == row {
            let ground = if circuit.hubs[record.hub].kind == HubKind::Ground {
                5.0
            } else {
                0.0
            };
            found.push((left, right, 0.0, rim + ground));
        }
    }
    // The name of a single terminal stands below it, under what stands beside it.
    for piece in feet {
        let (left, right) = foot_span(system, circuit, grid, measured, piece);
        let drop = drop_below(&found, left, right);
        drops.push((piece, drop));
        found.push((left, right, 0.0, drop + 0.4 + SMALL));
    }
    // Each title stands over what is there already, titles before it included.
    let mut lifts = Vec::with_capacity(titles.len());
    for (piece, rim) in titles {
        let plate = &measured.plates[piece];
        let lift = title_lift(measured, &found, piece, rim);
        lifts.push((piece, lift));
        if opens(piece) && circuit.hubs[grid.pieces[piece].hub].kind == HubKind::Post {
            let (left, right) = foot_span(system, circuit, grid, measured, piece);
            found.push((left, right, lift + 0.4 + SMALL, 0.0));
        } else if !plate.title.is_empty() {
            let left = measured.bar_left(piece) + plate.title_start();
            let right = left + plate.title_width();
            found.push((left, right, lift + plate.title_height(), 0.0));
        }
    }
    (found, lifts, drops)
}

/// Width that the name of a single terminal takes under its bar.
fn foot_span(
    system: &System,
    circuit: &Circuit,
    grid: &Grid,
    measured: &Measured,
    piece: usize,
) -> (f64, f64) {
    let port = circuit.hubs[grid.pieces[piece].hub].ports.first();
    let word = port.map_or("", |port| {
        super::layout::terminal_word(system, port.terminal)
    });
    let mut room = super::font::width(word, SMALL);
    if grid.rows.len() > super::layout::MAY_BE_CUT {
        room += super::font::width(" 00/A0", SMALL);
    }
    let half = room / 2.0;
    let middle = f64::midpoint(measured.bar_left(piece), measured.bar_right(piece));
    (middle - half, middle + half)
}

/// Depth below a row of everything between two places.
fn drop_below(found: &[Extent], left: f64, right: f64) -> f64 {
    found
        .iter()
        .filter(|&&(from, to, _, _)| from < right && to > left)
        .map(|&(_, _, _, down)| down)
        .fold(1.0, f64::max)
}

/// Height above the row at which the title of a bar begins: over the bar and over what stands beside it.
fn title_lift(measured: &Measured, found: &[Extent], piece: usize, rim: f64) -> f64 {
    let plate = &measured.plates[piece];
    let left = measured.bar_left(piece) + plate.title_start();
    // The name of a single terminal reaches to both sides of it.
    let spread = if plate.title.is_empty() { SPREAD } else { 0.0 };
    let (left, right) = (left - spread, left + plate.title_width() + spread);
    found
        .iter()
        .filter(|&&(from, to, _, _)| from < right && to > left)
        .map(|&(_, _, up, _)| up)
        .fold(rim, f64::max)
}

/// How far a hub reaches beyond its outer rows.
pub(super) fn rim(kind: HubKind) -> f64 {
    match kind {
        HubKind::Bus | HubKind::Ground => BAR_RIM,
        HubKind::Post | HubKind::Splice => 1.0,
        HubKind::Block | HubKind::Box | HubKind::Tie => BOX_RIM,
    }
}

/// How far a hub reaches beyond its last row of a strip when it goes on elsewhere.
///
/// A block holds the blade of the breaker on that row.
pub(super) fn cut_rim(kind: HubKind) -> f64 {
    match kind {
        HubKind::Block => BOX_RIM,
        _ => rim(kind).min(CUT_RIM),
    }
}

/// Height of the symbol of a reference.
pub(super) fn reference_height(measured: &Measured, reference: usize) -> f64 {
    let lines = measured.refs.get(&reference).map_or(1, Vec::len);
    lines as f64 * TEXT * LEADING + 1.0
}

/// Height that the table of a box needs.
pub(super) fn table_height(measured: &Measured, piece: usize) -> f64 {
    let lines = measured.plates[piece].table.len();
    if lines == 0 {
        0.0
    } else {
        lines as f64 * SMALL * LEADING + 2.0
    }
}

/// Ends of a lead from left to right, with the grid's left edge at zero.
pub(super) fn lead_span(grid: &Grid, measured: &Measured, seg: usize, index: usize) -> (f64, f64) {
    let strip = &measured.strips[seg];
    let column = |end: usize| measured.columns[strip.ends[end]];
    let from = match (index.checked_sub(1), grid.segs[seg].left) {
        (Some(before), _) => face_ports(measured, &strip.faces[before]).1,
        (None, End::Piece(piece, _)) => measured.bar_right(piece),
        (None, _) => column(0).x + column(0).width,
    };
    let to = match strip.faces.get(index) {
        Some(face) => face_ports(measured, face).0,
        None => match grid.segs[seg].right {
            End::Piece(piece, _) => measured.bar_left(piece),
            _ => measured.columns[strip.ends[1]].x,
        },
    };
    (from, to)
}

/// The part of a lead that is free for its label: between the columns, not the ports.
pub(super) fn label_span(grid: &Grid, measured: &Measured, seg: usize, index: usize) -> (f64, f64) {
    let strip = &measured.strips[seg];
    let edge = |column: usize| {
        let column = measured.columns[column];
        (column.x, column.x + column.width)
    };
    let piece_edge = |piece: usize| {
        let sides = measured.plates[piece].sides;
        (
            measured.bar_left(piece) - sides[0],
            measured.bar_right(piece) + sides[1],
        )
    };
    let from = match index.checked_sub(1) {
        Some(before) => edge(strip.faces[before].column).1,
        None => match grid.segs[seg].left {
            End::Piece(piece, _) => piece_edge(piece).1,
            _ => edge(strip.ends[0]).1,
        },
    };
    let to = match strip.faces.get(index) {
        Some(face) => edge(face.column).0,
        None => match grid.segs[seg].right {
            End::Piece(piece, _) => piece_edge(piece).0,
            _ => edge(strip.ends[1]).0,
        },
    };
    (from, to)
}

/// Places of the ports of a part in line.
pub(super) fn face_ports(measured: &Measured, face: &super::layout::Face) -> (f64, f64) {
    let column = measured.columns[face.column];
    let (width, _, _) = face.symbol.size();
    if face.tail {
        (column.x, column.x + column.width)
    } else {
        let left = column.x + ((column.width - width) / 2.0 / MODULE).floor() * MODULE;
        (left, left + width)
    }
}

/// Lowest occupied height at every millimetre of the width.
struct Skyline {
    heights: Vec<f64>,
}

impl Skyline {
    fn new(width: f64) -> Self {
        Self {
            heights: vec![f64::NEG_INFINITY; whole(width.ceil()) + 8],
        }
    }

    fn range(&self, left: f64, right: f64) -> Range<usize> {
        let count = self.heights.len();
        let from = whole(left).min(count - 1);
        let to = whole(right.ceil()).clamp(from + 1, count);
        from..to
    }

    fn height(&self, left: f64, right: f64) -> f64 {
        self.heights[self.range(left, right)]
            .iter()
            .copied()
            .fold(f64::NEG_INFINITY, f64::max)
    }

    fn raise(&mut self, left: f64, right: f64, to: f64) {
        let range = self.range(left, right);
        for height in &mut self.heights[range] {
            *height = height.max(to);
        }
    }
}

/// A grid with its measures.
#[derive(Clone, Copy)]
pub(super) struct Ladder<'a> {
    pub(super) system: &'a System,
    pub(super) circuit: &'a Circuit,
    pub(super) grid: &'a Grid,
    pub(super) measured: &'a Measured,
    pub(super) zoning: &'a Zoning,
}

/// Rows one below the other.
pub(super) struct Stacked {
    pub(super) ys: Vec<f64>,
    /// Lower edge after each row.
    pub(super) bottoms: Vec<f64>,
    /// Distances of names above their first rows and below their last ones.
    pub(super) names: [BTreeMap<usize, f64>; 2],
}

impl Ladder<'_> {
    /// Room below its rows: the main negative goes round below everything.
    pub(super) fn below(&self) -> f64 {
        let rails = self.grid.rails.iter().all(Option::is_some);
        if rails { RAIL_DROP } else { 0.0 }
    }

    /// Heights of as many rows as fit, at least one, and the lower edge after each.
    pub(super) fn stack(&self, start: usize, top: f64, bottom: f64) -> Stacked {
        let (grid, measured, zoning) = (self.grid, self.measured, self.zoning);
        let mut skyline = Skyline::new(measured.width + 10.0);
        let (mut ys, mut bottoms): (Vec<f64>, Vec<f64>) = (Vec::new(), Vec::new());
        let whole = match zoning {
            Zoning::Whole(_) => ZONE_NAME + ZONE_PAD,
            Zoning::Runs(_, sides) if sides.iter().any(Option::is_some) => ZONE_NAME + ZONE_PAD,
            Zoning::Runs(..) if grid.loose => ZONE_NAME + ZONE_PAD,
            Zoning::Runs(..) => 0.0,
        };
        let mut lowest = top;
        let (mut lifts, mut drops) = (BTreeMap::new(), BTreeMap::new());
        for row in start..grid.rows.len() {
            let opens = |piece: usize| row == start && grid.pieces[piece].first < start;
            let (extents, titles, feet) = extents(
                self.system,
                self.circuit,
                grid,
                measured,
                zoning,
                row,
                &opens,
            );
            let mut y = ys.last().map_or(top + whole, |above| above + LEAST_PITCH);
            for &(left, right, up, _) in &extents {
                let above = skyline.height(left, right);
                y = y.max(if above.is_finite() {
                    above + ROW_GAP + up
                } else {
                    top + whole + up
                });
            }
            let first = ys.first().copied().unwrap_or(top);
            y = if ys.is_empty() {
                y
            } else {
                first + ((y - first) / MODULE - 1e-6).ceil() * MODULE
            };
            for &(left, right, _, down) in &extents {
                skyline.raise(left, right, y + down);
                lowest = lowest.max(y + down);
            }
            for (piece, record) in grid.pieces.iter().enumerate() {
                if record.last == row && !measured.plates[piece].table.is_empty() {
                    let begin = record.first.max(start) - start;
                    let from = ys.get(begin).copied().unwrap_or(y) - BOX_RIM;
                    let to = from + table_height(measured, piece);
                    skyline.raise(measured.bar_left(piece), measured.bar_right(piece), to);
                    lowest = lowest.max(to);
                }
            }
            let edge = lowest + if whole > 0.0 { ZONE_PAD } else { 0.0 };
            if edge > bottom && !ys.is_empty() {
                break;
            }
            lifts.extend(titles);
            drops.extend(feet);
            ys.push(y);
            bottoms.push(edge);
        }
        Stacked {
            ys,
            bottoms,
            names: [lifts, drops],
        }
    }

    /// The last of some rows before which the ladder may be cut; none where each of them cuts a box.
    ///
    /// The bars of single terminals are cut only where it cannot be helped.
    pub(super) fn cut(&self, ends: &RangeInclusive<usize>) -> Option<usize> {
        let whole = |end: usize, posts: bool| {
            self.grid.pieces.iter().all(|piece| {
                let kind = self.circuit.hubs[piece.hub].kind;
                let may = kind.elastic() || posts && kind == HubKind::Post;
                may || piece.first >= end || piece.last < end
            })
        };
        [false, true]
            .into_iter()
            .find_map(|posts| ends.clone().rev().find(|&end| whole(end, posts)))
    }
}
