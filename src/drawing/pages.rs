//! Rows onto sheets: how far each row must stand below the one above, and where a ladder goes on.
//!
//! Rows are cut, never text: a bar that does not fit goes on in the next strip or on the next sheet.

use super::circuit::{Cell, Circuit, HubKind, Item};
use super::layout::{BAR_RIM, BOX_RIM, LABEL_PAD, LEADING, Lettering, Measured};
use super::plan::{End, Grid};
use super::symbols::MODULE;
use super::words::{self, SMALL, TEXT};
use crate::system::{System, ZoneId};
use std::ops::Range;

/// Room between things on neighbouring rows, in mm.
const ROW_GAP: f64 = 0.8;
/// Least distance of two rows, in mm.
const LEAST_PITCH: f64 = 5.0;
/// Height above a wire that its label takes, in mm.
pub(super) const LABEL_UP: f64 = 3.3;
/// Height below a wire that the second line of its label takes, in mm.
pub(super) const LABEL_DOWN: f64 = 3.2;
/// Room around what a zone's rectangle holds, in mm.
pub(super) const ZONE_PAD: f64 = 1.0;
/// Height of the name of a zone above what it holds, in mm.
pub(super) const ZONE_NAME: f64 = 3.8;
/// Room below the ladders of a strip, in mm.
const GRID_GAP: f64 = 7.5;

/// Rectangle of the sheet that rows may fill.
#[derive(Clone, Copy, Debug)]
pub(super) struct Room {
    pub(super) left: f64,
    pub(super) width: f64,
    pub(super) top: f64,
    pub(super) bottom: f64,
}

/// The rooms of a sheet.
#[derive(Clone, Debug)]
pub(super) struct Rooms {
    /// Strips side by side.
    pub(super) strips: Vec<Room>,
    /// The whole width above the title block.
    pub(super) full: Room,
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
    /// Lower edge of what is drawn.
    pub(super) bottom: f64,
    /// Upper edge of what is drawn.
    pub(super) top: f64,
}

/// All rows on sheets.
#[derive(Clone, Debug)]
pub(super) struct Paged {
    pub(super) parts: Vec<Part>,
    /// Next free height in each strip of each sheet.
    pub(super) tops: Vec<Vec<f64>>,
}

/// Zones of a grid: all in one, or the zone of the load on each row.
#[derive(Clone, Debug)]
pub(super) enum Zoning {
    /// Everything that has a zone is in this one.
    Whole(ZoneId),
    /// Rows in runs of loads in one zone: first row, last row.
    Runs(Vec<(ZoneId, usize, usize)>),
}

impl Zoning {
    /// Whether the load on a row stands in a rectangle of its zone.
    pub(super) fn boxes(&self, row: usize) -> bool {
        match self {
            Self::Whole(_) => true,
            Self::Runs(runs) => runs
                .iter()
                .any(|&(_, first, last)| (first..=last).contains(&row)),
        }
    }
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
    if let [only] = zones.as_slice() {
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
    runs.retain(|(_, first, last)| last > first);
    Zoning::Runs(runs)
}

/// A rectangle on a row, measured from its axis: left, right, height above, depth below.
type Extent = (f64, f64, f64, f64);

/// What one row takes, with its left edge at zero.
pub(super) fn extents(
    system: &System,
    circuit: &Circuit,
    grid: &Grid,
    measured: &Measured,
    zoning: &Zoning,
    row: usize,
    opens: &dyn Fn(usize) -> bool,
) -> Vec<Extent> {
    let mut found = Vec::new();
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
                && let Zoning::Runs(runs) = zoning
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
                let lines = words::wire_label(&system.conductors[id.index()]);
                let width = match measured.lettering {
                    Lettering::OneLine => super::font::width(&lines.join(" "), TEXT),
                    Lettering::TwoLines => words::widest(&lines, TEXT),
                };
                let (left, right) = if lead.label_left {
                    (from, from + width + LABEL_PAD)
                } else {
                    (to - width - LABEL_PAD, to)
                };
                let down = match measured.lettering {
                    Lettering::OneLine => 0.6,
                    Lettering::TwoLines => LABEL_DOWN,
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
        let plate = &measured.plates[piece];
        let (left, right) = (measured.bar_left(piece), measured.bar_right(piece));
        let rim = rim(circuit.hubs[record.hub].kind);
        if record.first == row || opens(piece) {
            found.push((left, right, rim, 0.0));
            if !plate.title.is_empty() {
                found.push((
                    left,
                    left + plate.title_width(),
                    rim + plate.title_height(),
                    0.0,
                ));
            }
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
    found
}

/// How far a hub reaches beyond its outer rows.
pub(super) fn rim(kind: HubKind) -> f64 {
    match kind {
        HubKind::Bus | HubKind::Ground => BAR_RIM,
        HubKind::Post | HubKind::Splice => 1.0,
        HubKind::Block | HubKind::Box | HubKind::Tie => BOX_RIM,
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
    let from = match index.checked_sub(1) {
        Some(before) => face_ports(measured, &strip.faces[before]).1,
        None => match grid.segs[seg].left {
            End::Piece(piece, _) => measured.bar_right(piece),
            _ => {
                let column = measured.columns[strip.ends[0]];
                column.x + column.width
            }
        },
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
            heights: vec![f64::NEG_INFINITY; width.ceil().max(0.0) as usize + 8],
        }
    }

    fn range(&self, left: f64, right: f64) -> Range<usize> {
        let count = self.heights.len();
        let from = (left.max(0.0).floor() as usize).min(count - 1);
        let to = (right.max(0.0).ceil() as usize).clamp(from + 1, count);
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

/// Flows grids into the rooms of as many sheets as they need.
pub(super) struct Flow<'a> {
    pub(super) system: &'a System,
    pub(super) circuit: &'a Circuit,
    pub(super) rooms: &'a dyn Fn(usize) -> Rooms,
    pub(super) paged: Paged,
    sheet: usize,
    strip: usize,
}

impl<'a> Flow<'a> {
    pub(super) fn new(
        system: &'a System,
        circuit: &'a Circuit,
        rooms: &'a dyn Fn(usize) -> Rooms,
    ) -> Self {
        let mut flow = Self {
            system,
            circuit,
            rooms,
            paged: Paged {
                parts: Vec::new(),
                tops: Vec::new(),
            },
            sheet: 0,
            strip: 0,
        };
        flow.open_sheet(0);
        flow
    }

    fn open_sheet(&mut self, sheet: usize) {
        while self.paged.tops.len() <= sheet {
            let rooms = (self.rooms)(self.paged.tops.len());
            self.paged
                .tops
                .push(rooms.strips.iter().map(|room| room.top).collect());
        }
        self.sheet = sheet;
        self.strip = 0;
    }

    /// The room that comes next for something of a width, and the height at which it is free.
    fn room(&mut self, width: f64) -> (Room, f64, bool) {
        let rooms = (self.rooms)(self.sheet);
        if width > rooms.strips[0].width + 1e-6 {
            let top = self.paged.tops[self.sheet]
                .iter()
                .copied()
                .fold(rooms.full.top, f64::max);
            return (rooms.full, top, true);
        }
        let room = rooms.strips[self.strip];
        (room, self.paged.tops[self.sheet][self.strip], false)
    }

    fn next_room(&mut self, full: bool) {
        let rooms = (self.rooms)(self.sheet);
        if !full && self.strip + 1 < rooms.strips.len() {
            self.strip += 1;
        } else {
            self.open_sheet(self.sheet + 1);
        }
    }

    fn take(&mut self, full: bool, to: f64) {
        let tops = &mut self.paged.tops[self.sheet];
        if full {
            tops.fill(to);
        } else {
            tops[self.strip] = to;
        }
    }

    /// Takes a rectangle for a block; gives its sheet and upper left corner.
    pub(super) fn block(&mut self, width: f64, height: f64) -> (usize, f64, f64) {
        for _ in 0..8 {
            let (room, top, full) = self.room(width);
            let fresh = top <= room.top + 1e-6;
            if top + height <= room.bottom || fresh {
                self.take(full, top + height + GRID_GAP);
                return (self.sheet, room.left, top);
            }
            self.next_room(full);
        }
        let (room, top, _) = self.room(width);
        (self.sheet, room.left, top)
    }

    /// Puts all rows of a grid on sheets.
    pub(super) fn grid(&mut self, index: usize, grid: &Grid, measured: &Measured, zoning: &Zoning) {
        let mut start = 0;
        while start < grid.rows.len() {
            let (room, top, full) = self.room(measured.width);
            let fresh = top <= room.top + 1e-6;
            let (ys, bottoms) = self.stack(grid, measured, zoning, start, top, room.bottom);
            let fitting = ys.len();
            let all = start + fitting == grid.rows.len();
            let end = if all {
                grid.rows.len()
            } else {
                self.cut(grid, start, start + fitting)
            };
            let rows = end - start;
            // A new strip is better than a row or two, or than a box cut in half.
            let too_few = rows == 0 || !all && rows < 3.min(grid.rows.len());
            if too_few && !fresh {
                self.next_room(full);
                continue;
            }
            let rows = if rows == 0 { fitting.max(1) } else { rows };
            let bottom = bottoms.get(rows - 1).copied().unwrap_or(room.bottom);
            self.paged.parts.push(Part {
                grid: index,
                sheet: self.sheet,
                rows: start..start + rows,
                ys: ys[..rows.min(ys.len())].to_vec(),
                x: room.left,
                bottom,
                top,
            });
            self.take(full, bottom + GRID_GAP);
            start += rows;
            if start < grid.rows.len() {
                self.next_room(full);
            }
        }
    }

    /// Heights of as many rows as fit, at least one, and the lower edge after each.
    fn stack(
        &self,
        grid: &Grid,
        measured: &Measured,
        zoning: &Zoning,
        start: usize,
        top: f64,
        bottom: f64,
    ) -> (Vec<f64>, Vec<f64>) {
        let mut skyline = Skyline::new(measured.width + 10.0);
        let (mut ys, mut bottoms): (Vec<f64>, Vec<f64>) = (Vec::new(), Vec::new());
        let whole = if let Zoning::Whole(_) = zoning {
            ZONE_NAME + ZONE_PAD
        } else {
            0.0
        };
        let mut lowest = top;
        for row in start..grid.rows.len() {
            let opens = |piece: usize| row == start && grid.pieces[piece].first < start;
            let extents = extents(
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
            ys.push(y);
            bottoms.push(edge);
        }
        (ys, bottoms)
    }

    /// The last row before a limit at which no part of one piece is cut.
    fn cut(&self, grid: &Grid, start: usize, limit: usize) -> usize {
        for end in (start + 1..=limit).rev() {
            let whole = grid.pieces.iter().all(|piece| {
                let kind = self.circuit.hubs[piece.hub].kind;
                kind.elastic() || piece.first >= end || piece.last < end
            });
            if whole {
                return end;
            }
        }
        limit
    }
}
