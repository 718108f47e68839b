//! Shapes of everything that has its place: bars, boxes, parts in line, wires, labels, references, zones.

use super::Format;
use super::circuit::{Circuit, Hub, HubKind, Item};
use super::layout::{
    BLOCK_BAR, BlockFace, DIAL, Face, LEADING, LOOSE, Lettering, Measured, OUTSIDE, WAY_DEVICE,
    WIDEST_PLACE, hub_name, label_pad, terminal_word,
};
use super::legend::Used;
use super::pages::{self, Part, ZONE_NAME, ZONE_PAD, Zoning};
use super::plan::{End, Grid, Plan};
use super::scene::{Anchor, Area, At, Form, Group, Mark, OFFSHEET, Rgb, Role, Shape, Stroke};
use super::standing::{self, Standing};
use super::symbols::{self, HALO, LINE, Pen, Symbol, WIRE, ring};
use super::words::{self, SMALL, TEXT, signed};
use crate::system::{ComponentId, ComponentKind, ConductorId, GearId, System, TerminalId, ZoneId};
use std::collections::BTreeMap;

/// Filling of a zone: light enough to print as white.
pub(super) const ZONE_FILL: Rgb = Rgb(0xF1, 0xF5, 0xF9);
/// How far the border of a zone stands from the loads, between them and the labels beside them, in mm.
const BORDER: f64 = 0.35;
/// Room between the border of a zone and lettering on it, in mm.
const OPENING: f64 = 0.4;
/// Colour of the border of a zone.
const ZONE_LINE: Rgb = Rgb(0x60, 0x70, 0x80);
/// Kind of a part in line.
pub(super) const INLINE: &str = "inline";
/// Radius of the dot where a wire meets a bar, in mm.
const DOT: f64 = 0.8;

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

fn text(at: (f64, f64), content: &str, size: f64, anchor: Anchor) -> Shape {
    Shape {
        form: Form::Text {
            at,
            text: content.to_owned(),
            size,
            anchor,
            bold: false,
        },
        stroke: None,
        fill: Some(Rgb::BLACK),
        mark: Mark::Plain,
    }
}

fn filled(at: (f64, f64), width: f64, height: f64) -> Shape {
    Shape {
        form: Form::Rect {
            at,
            width,
            height,
            radius: 0.0,
        },
        stroke: None,
        fill: Some(Rgb::BLACK),
        mark: Mark::Plain,
    }
}

fn outline(at: (f64, f64), width: f64, height: f64) -> Shape {
    Shape {
        form: Form::Rect {
            at,
            width,
            height,
            radius: 0.0,
        },
        stroke: Some(Stroke::black(LINE)),
        fill: Some(Rgb::WHITE),
        mark: Mark::Plain,
    }
}

fn line(points: Vec<(f64, f64)>, width: f64) -> Shape {
    Shape {
        form: Form::Polyline(points),
        stroke: Some(Stroke::black(width)),
        fill: None,
        mark: Mark::Plain,
    }
}

fn dot(centre: (f64, f64)) -> Shape {
    Shape {
        form: Form::Circle {
            centre,
            radius: DOT,
        },
        stroke: None,
        fill: Some(Rgb::BLACK),
        mark: Mark::Outside,
    }
}

fn port(centre: (f64, f64), name: String) -> Shape {
    Shape {
        form: Form::Circle {
            centre,
            radius: 0.3,
        },
        stroke: None,
        fill: Some(Rgb::BLACK),
        mark: Mark::Port(name),
    }
}

/// The border of a zone.
pub(super) fn outline_of_zone() -> Stroke {
    Stroke {
        width: 0.25,
        colour: ZONE_LINE,
        dash: Some((2.0, 1.0)),
    }
}

/// Opens the borders of zones where lettering stands on them.
pub(super) fn open_borders(groups: &mut [Group]) {
    let texts: Vec<Area> = groups
        .iter()
        .filter(|group| !matches!(group.role, Role::Zone { .. } | Role::Frame))
        .flat_map(|group| &group.shapes)
        .filter(|shape| matches!(shape.form, Form::Text { .. }))
        .filter_map(|shape| shape.form.area())
        .collect();
    for group in groups {
        if !matches!(group.role, Role::Zone { .. }) {
            continue;
        }
        let mut shapes = Vec::with_capacity(group.shapes.len());
        for mut shape in group.shapes.drain(..) {
            let points = match &shape.form {
                Form::Rect {
                    at: (left, top),
                    width,
                    height,
                    ..
                } => {
                    let (right, bottom) = (left + width, top + height);
                    let corners = [(*left, *top), (right, *top), (right, bottom)];
                    [&corners[..], &[(*left, bottom), (*left, *top)]].concat()
                }
                Form::Polyline(points) => points.clone(),
                _ => Vec::new(),
            };
            let opened: Vec<Vec<At>> = points
                .windows(2)
                .map(|side| opened((side[0], side[1]), &texts))
                .collect();
            let Some(stroke) = shape
                .stroke
                .filter(|_| opened.iter().any(|side| side.len() != 2))
            else {
                shapes.push(shape);
                continue;
            };
            let pieces = opened.iter().flat_map(|side| side.chunks_exact(2));
            let pieces: Vec<Shape> = pieces
                .map(|piece| Shape {
                    form: Form::Polyline(piece.to_vec()),
                    stroke: Some(stroke),
                    fill: None,
                    mark: Mark::Outside,
                })
                .collect();
            if matches!(shape.form, Form::Rect { .. }) {
                shape.stroke = None;
                shapes.push(shape);
            }
            shapes.extend(pieces);
        }
        group.shapes = shapes;
    }
}

/// Ends of the pieces, two by two, that lettering leaves of an upright or level line.
fn opened((from, to): (At, At), texts: &[Area]) -> Vec<At> {
    let upright = (from.0 - to.0).abs() < 1e-9;
    let (start, end) = if upright {
        (from.1.min(to.1), from.1.max(to.1))
    } else {
        (from.0.min(to.0), from.0.max(to.0))
    };
    let mut gaps: Vec<(f64, f64)> = texts
        .iter()
        .filter_map(|area| {
            let (aside, along) = if upright {
                ((area.left, area.right), (area.top, area.bottom))
            } else {
                ((area.top, area.bottom), (area.left, area.right))
            };
            let line = if upright { from.0 } else { from.1 };
            let lies = aside.0 < line && line < aside.1;
            let gap = (along.0 - OPENING, along.1 + OPENING);
            (lies && gap.0 < end && gap.1 > start).then_some(gap)
        })
        .collect();
    gaps.sort_by(|one, other| one.0.total_cmp(&other.0));
    let point = |at: f64| if upright { (from.0, at) } else { (at, from.1) };
    let mut pieces = Vec::new();
    let mut at = start;
    for gap in gaps {
        if gap.0 > at {
            pieces.extend([point(at), point(gap.0)]);
        }
        at = at.max(gap.1);
    }
    if at < end {
        pieces.extend([point(at), point(end)]);
    }
    pieces
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

    /// Rectangles of the zones, lowest of all.
    fn zones(&self, part: &Part, layers: &mut Layers) -> ZoneNames {
        let grid = &self.plan.grids[part.grid];
        let measured = part.measured(self.measured);
        let mut names = ZoneNames::default();
        match &self.zonings[part.grid] {
            Zoning::Whole(zone) => {
                let at = (part.x - ZONE_PAD, part.top - ZONE_PAD);
                let below = match self.joined_rails(part) {
                    Some(_) => pages::RAIL_DROP - 0.5,
                    None => ZONE_PAD,
                };
                let size = (
                    measured.width + 2.0 * ZONE_PAD,
                    part.bottom - part.top + ZONE_PAD + below,
                );
                names.whole = Some((*zone, self.zone_box(layers, *zone, at, size, [false; 2])));
            }
            Zoning::Runs(runs, sides) => {
                let [left_edge, right_edge] = measured.load_edges();
                let (top, height) = (part.top - ZONE_PAD, part.bottom - part.top + 2.0 * ZONE_PAD);
                names.edges = [part.x + left_edge, part.x + right_edge];
                let held = pages::sides_held(grid, measured, &part.rows);
                let side = |side: usize| sides[side].filter(|_| measured.aligned && held[side]);
                if let Some(zone) = side(0) {
                    let at = (part.x - ZONE_PAD, top);
                    let size = (left_edge - BORDER + ZONE_PAD, height);
                    names.sides[0] =
                        Some((zone, self.zone_box(layers, zone, at, size, [false; 2])));
                }
                if let Some(zone) = side(1) {
                    let at = (part.x + right_edge + BORDER, top);
                    let size = (measured.width - right_edge - BORDER + ZONE_PAD, height);
                    names.sides[1] =
                        Some((zone, self.zone_box(layers, zone, at, size, [false; 2])));
                }
                for &(zone, first, last) in runs {
                    let from = first.max(part.rows.start);
                    let to = (last + 1).min(part.rows.end);
                    if from >= to {
                        continue;
                    }
                    let (mut left, mut right) = (f64::MAX, f64::MIN);
                    let (mut top, mut bottom) = (f64::MAX, f64::MIN);
                    for row in from..to {
                        let y = part.ys[row - part.rows.start];
                        for &seg in &grid.rows[row] {
                            let load = measured.strips[seg]
                                .faces
                                .iter()
                                .rfind(|face| face.cell.kind.is_load());
                            let Some(face) = load else { continue };
                            let column = measured.columns[face.column];
                            let (up, down) = face.heights();
                            let name = if row == from { ZONE_NAME } else { 0.0 };
                            left = left.min(part.x + column.x);
                            right = right.max(part.x + column.x + column.width);
                            top = top.min(y - up - name);
                            bottom = bottom.max(y + down);
                        }
                    }
                    if left > right {
                        continue;
                    }
                    let room =
                        super::font::width(&self.system.zones[zone.index()].name, TEXT) + 1.0;
                    let width = (right - left).max(room);
                    // Next to another rectangle the line of that one is enough.
                    let beside = [
                        names.sides[0].is_some() && (left - names.edges[0]).abs() < 1.0,
                        names.sides[1].is_some() && (left + width - names.edges[1]).abs() < 1.0,
                    ];
                    let name = self.zone_box(
                        layers,
                        zone,
                        (left - BORDER + 0.05, top),
                        (width + 2.0 * BORDER - 0.1, bottom - top + 0.5 * ZONE_PAD),
                        beside,
                    );
                    for row in from..to {
                        names.rows.insert(row, (zone, name.clone()));
                    }
                }
            }
        }
        names
    }

    fn zone_box(
        &self,
        layers: &mut Layers,
        zone: ZoneId,
        at: (f64, f64),
        (width, height): (f64, f64),
        beside: [bool; 2],
    ) -> String {
        let record = &self.system.zones[zone.index()];
        let count = layers.zone_count.entry(zone).or_default();
        *count += 1;
        let name = if *count == 1 {
            record.name.clone()
        } else {
            format!("{}#{count}", record.name)
        };
        let mut title = vec![format!("zone {}", record.name)];
        if record.engine_space {
            title.push("engine space".to_owned());
        }
        if record.gasoline_vapour {
            title.push("gasoline vapour".to_owned());
        }
        let line = outline_of_zone();
        let plain = |form: Form, stroke: Option<Stroke>, fill: Option<Rgb>| Shape {
            form,
            stroke,
            fill,
            mark: Mark::Plain,
        };
        let area = Form::Rect {
            at,
            width,
            height,
            radius: 0.0,
        };
        let (left, top, right, bottom) = (at.0, at.1, at.0 + width, at.1 + height);
        let corners = [(left, top), (right, top), (right, bottom), (left, bottom)];
        let sides: Vec<Vec<(f64, f64)>> = match beside {
            [false, false] => Vec::new(),
            [true, false] => vec![corners.to_vec()],
            [false, true] => vec![vec![corners[1], corners[0], corners[3], corners[2]]],
            [true, true] => vec![corners[..2].to_vec(), corners[2..].to_vec()],
        };
        let mut shapes = vec![plain(
            area,
            Some(line).filter(|_| sides.is_empty()),
            Some(ZONE_FILL),
        )];
        for side in sides {
            shapes.push(Shape {
                mark: Mark::Outside,
                ..plain(Form::Polyline(side), Some(line), None)
            });
        }
        shapes.push(text(
            (at.0 + 1.0, at.1 + 3.2),
            &record.name,
            TEXT,
            Anchor::Start,
        ));
        layers.zones.push(Group {
            id: format!("zone-{name}"),
            role: Role::Zone { name: name.clone() },
            title: title.join(", "),
            shapes,
        });
        name
    }

    fn bars(&mut self, part: &Part, layers: &mut Layers, zones: &ZoneNames) {
        let grid = &self.plan.grids[part.grid];
        let measured = part.measured(self.measured);
        for (piece, record) in grid.pieces.iter().enumerate() {
            if record.first == usize::MAX
                || record.last < part.rows.start
                || record.first >= part.rows.end
            {
                continue;
            }
            let from = record.first.max(part.rows.start);
            let to = record.last.min(part.rows.end - 1);
            let lands = (from..=to).any(|row| {
                grid.rows[row].iter().any(|&seg| {
                    let seg = &grid.segs[seg];
                    [seg.left, seg.right]
                        .iter()
                        .any(|end| matches!(end, End::Piece(of, _) if *of == piece))
                })
            });
            if !lands {
                continue;
            }
            let (y0, y1) = (
                part.ys[from - part.rows.start],
                part.ys[to - part.rows.start],
            );
            let hub = &self.circuit.hubs[record.hub];
            let mut shapes = Vec::new();
            let (left, right) = (
                part.x + measured.bar_left(piece),
                part.x + measured.bar_right(piece),
            );
            let rim = pages::rim(hub.kind);
            // A bar that goes on elsewhere ends just below its last row here.
            let goes_on = record.last >= part.rows.end;
            let foot = if goes_on {
                pages::cut_rim(hub.kind)
            } else {
                rim
            };
            let mut bottom = y1 + foot;
            if record.last < part.rows.end {
                bottom = bottom.max(y0 - rim + pages::table_height(measured, piece));
            }
            match hub.kind {
                HubKind::Bus | HubKind::Ground => {
                    let middle = f64::midpoint(left, right);
                    shapes.push(filled((middle - 1.0, y0 - rim), 2.0, y1 - y0 + rim + foot));
                    if hub.kind == HubKind::Ground && !goes_on {
                        shapes.push(line(
                            vec![(middle, y1 + rim), (middle, y1 + rim + 1.0)],
                            LINE,
                        ));
                        for (index, half) in [2.4, 1.5, 0.6].into_iter().enumerate() {
                            let y = y1 + rim + 1.0 + 0.9 * index as f64;
                            shapes.push(line(vec![(middle - half, y), (middle + half, y)], LINE));
                        }
                    }
                }
                HubKind::Post | HubKind::Splice => {
                    let middle = f64::midpoint(left, right);
                    shapes.push(filled((middle - 0.5, y0 - 0.8), 1.0, y1 - y0 + 1.6));
                    if hub.kind == HubKind::Splice {
                        shapes.push(dot((middle, f64::midpoint(y0, y1))));
                    }
                }
                HubKind::Block => {
                    shapes.push(outline(
                        (left, y0 - rim),
                        right - left,
                        y1 - y0 + rim + foot,
                    ));
                    shapes.push(filled(
                        (left + 0.4, y0 - rim + 0.6),
                        BLOCK_BAR - 0.4,
                        y1 - y0 + rim + foot - 1.2,
                    ));
                }
                HubKind::Box | HubKind::Tie => {
                    shapes.push(outline((left, y0 - rim), right - left, bottom - y0 + rim));
                    let lines = measured.plates[piece].table.clone();
                    let sides = box_sides(self.system, grid, hub, piece);
                    let (mut x, first) = (left + sides + 3.0, y0 - rim + 2.4);
                    if let Some((gear, firsts)) = &measured.plates[piece].dial {
                        self.dial((x, first), *gear, firsts, &mut shapes);
                        x += DIAL;
                    }
                    for (line, words) in lines.iter().enumerate() {
                        let y = first + line as f64 * SMALL * LEADING;
                        shapes.push(text((x, y), words, SMALL, Anchor::Start));
                    }
                    if lines.is_empty() {
                        self.box_mark(
                            hub,
                            (left + sides + 7.5, f64::midpoint(y0 - rim, bottom)),
                            &mut shapes,
                        );
                    }
                }
            }
            let mut lines = measured.plates[piece].title.clone();
            if let Some(places) = self.hub_places.get(&record.hub)
                && measured.plates[piece].also
            {
                let here = self.place(part.sheet, (left, y0));
                let others: Vec<&str> = places
                    .iter()
                    .filter(|place| **place != here)
                    .map(String::as_str)
                    .collect();
                if !others.is_empty() {
                    let more = if others.len() > 1 { " …" } else { "" };
                    lines.push(format!("also {}{more}", others[0]));
                }
            }
            let lift = part.lifts.get(&piece).copied().unwrap_or(rim);
            let mut y = y0 - lift - 0.8 - (lines.len().saturating_sub(1)) as f64 * TEXT * LEADING;
            for words in &lines {
                let (at, anchor) = if measured.plates[piece].title_ends {
                    (right, Anchor::End)
                } else {
                    (left + measured.plates[piece].title_start(), Anchor::Start)
                };
                shapes.push(text((at, y), words, TEXT, anchor));
                y += TEXT * LEADING;
            }
            if let (HubKind::Post, Some(port)) = (hub.kind, hub.ports.first()) {
                let word = signed(terminal_word(self.system, port.terminal));
                let x = f64::midpoint(left, right);
                if let Some(drop) = part.drops.get(&piece) {
                    let at = (x, y1 + drop + 0.4 + 0.8 * SMALL);
                    shapes.push(text(at, &word, SMALL, Anchor::Middle));
                }
                // A terminal whose rows were cut tells where the others are.
                if record.first < part.rows.start {
                    let here = self.place(part.sheet, (left, y0));
                    let places = self
                        .hub_places
                        .get(&record.hub)
                        .map_or(&[][..], Vec::as_slice);
                    let other = places
                        .iter()
                        .find(|place| **place != here)
                        .or(places.first());
                    let other = other.map_or("", String::as_str);
                    let at = (x, y0 - lift - 0.4 - 0.2 * SMALL);
                    shapes.push(text(at, &format!("{word} {other}"), SMALL, Anchor::Middle));
                }
            }
            let name = hub_name(self.system, hub);
            let component = self.system.components[hub.component.index()].kind;
            self.used
                .symbols
                .extend(symbols::of_hub(hub.kind, component));
            let title = self.part_title(hub.component, &name);
            // The ports follow with the wires that land on them.
            self.bar_ports(part, piece, (from, to), layers, &mut shapes);
            let (mut name, piece_number, mut id) = self.next_piece(hub.component);
            if hub.block_negative {
                // Its terminals are named behind this one.
                name.push_str(".negative");
                id.push_str("-negative");
            }
            if self.is_dead(hub) {
                standing::fade(&mut shapes);
            }
            layers.parts.push(Group {
                id,
                role: Role::Part {
                    name,
                    piece: piece_number,
                    zone: zones.holding(
                        self.system.components[hub.component.index()].zone,
                        Place::Span(left, right),
                    ),
                    kind: hub_word(hub.kind),
                },
                title,
                shapes,
            });
        }
        self.rails(part, layers);
    }

    /// One moving contact and a fixed one beside each position of a switch.
    fn dial(&self, (x, y): (f64, f64), gear: GearId, firsts: &[usize], shapes: &mut Vec<Shape>) {
        // Half the height of capital letters above their baseline.
        let at = |line: usize| y + line as f64 * SMALL * LEADING - 0.7;
        let (Some(&first), Some(&last)) = (firsts.first(), firsts.last()) else {
            return;
        };
        let hinge = (x + 0.6, f64::midpoint(at(first), at(last)));
        let fixed = x + DIAL - 1.6;
        let stands = self
            .standing
            .and_then(|standing| standing.position(gear))
            .unwrap_or(self.system.gears[gear.index()].normal);
        if let Some(&line_of) = firsts.get(usize::from(stands)) {
            shapes.push(line(vec![hinge, (fixed, at(line_of))], LINE));
        }
        for centre in firsts
            .iter()
            .map(|&line_of| (fixed, at(line_of)))
            .chain([hinge])
        {
            shapes.push(ring(centre));
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

    /// Whether a state is shown in which nothing reaches a hub.
    fn is_dead(&self, hub: &Hub) -> bool {
        self.standing.is_some_and(|standing| {
            let strong = |terminal| standing.is_strong(self.system, terminal);
            !hub.ports.iter().any(|port| strong(port.terminal))
        })
    }

    /// Both bars of the main negative, where they are joined below the rows of a part.
    fn joined_rails(&self, part: &Part) -> Option<[usize; 2]> {
        let grid = &self.plan.grids[part.grid];
        let [Some(left), Some(right)] = grid.rails else {
            return None;
        };
        let within = |piece: usize| {
            let piece = grid.pieces[piece];
            piece.first < part.rows.end
                && piece.last >= part.rows.start
                && piece.last < part.rows.end
        };
        let right_piece = grid.pieces[right];
        let beside = right_piece.first < part.rows.end && right_piece.last >= part.rows.start;
        (left != right && within(left) && beside).then_some([left, right])
    }

    /// Left and right bar of the main negative, joined below everything.
    fn rails(&mut self, part: &Part, layers: &mut Layers) {
        let grid = &self.plan.grids[part.grid];
        let measured = part.measured(self.measured);
        let Some([left, right]) = self.joined_rails(part) else {
            return;
        };
        let hub = &self.circuit.hubs[grid.pieces[left].hub];
        let middle = |piece: usize| {
            part.x + f64::midpoint(measured.bar_left(piece), measured.bar_right(piece))
        };
        let (x0, x1) = (middle(left), middle(right));
        let y = part.bottom + pages::RAIL_DROP / 2.0;
        let below = |piece: usize| {
            let last = grid.pieces[piece].last.min(part.rows.end - 1);
            part.ys[last - part.rows.start] + pages::rim(hub.kind)
        };
        let thick = if hub.kind == HubKind::Post { 1.0 } else { 2.0 };
        let mut shapes = vec![Shape {
            mark: Mark::Outside,
            ..line(
                vec![(x0, below(left)), (x0, y), (x1, y), (x1, below(right))],
                thick,
            )
        }];
        if self.is_dead(hub) {
            standing::fade(&mut shapes);
        }
        layers.wires.push(Group {
            id: format!("rail-{}", hub_name(self.system, hub)),
            role: Role::Note,
            title: format!("{}, drawn on both sides", hub_name(self.system, hub)),
            shapes,
        });
    }

    fn box_mark(&self, hub: &Hub, (x, y): (f64, f64), shapes: &mut Vec<Shape>) {
        let component = &self.system.components[hub.component.index()];
        let symbol = match component.kind {
            ComponentKind::Instrument => Some(symbols::of_instrument(&component.subkind)),
            ComponentKind::Load => {
                let kind = self
                    .system
                    .loads
                    .iter()
                    .find(|load| load.component == hub.component);
                kind.map(|load| symbols::of_load(load.kind))
            }
            kind => symbols::in_box(kind),
        };
        let Some(symbol) = symbol else { return };
        let (width, _, _) = symbol.size();
        Pen {
            origin: (x - width / 2.0, y),
            mirror: None,
            shapes,
        }
        .symbol(symbol);
    }

    /// Terminals of a bar where segments land on it in these rows.
    fn bar_ports(
        &mut self,
        part: &Part,
        piece: usize,
        (from, to): (usize, usize),
        layers: &mut Layers,
        shapes: &mut Vec<Shape>,
    ) {
        let grid = &self.plan.grids[part.grid];
        let measured = part.measured(self.measured);
        let record = grid.pieces[piece];
        let hub = &self.circuit.hubs[record.hub];
        let (left, right) = (
            part.x + measured.bar_left(piece),
            part.x + measured.bar_right(piece),
        );
        // The way of a block on the row above, and its height.
        let mut above = None;
        for row in from..=to {
            let y = part.ys[row - part.rows.start];
            for &seg in &grid.rows[row] {
                for (on_right, end) in [(true, grid.segs[seg].left), (false, grid.segs[seg].right)]
                {
                    let End::Piece(of, port_index) = end else {
                        continue;
                    };
                    if of != piece {
                        continue;
                    }
                    let Some(port_record) = hub.ports.get(port_index) else {
                        continue;
                    };
                    let x = if on_right { right } else { left };
                    let word = if self.circuit.single_line {
                        String::new()
                    } else {
                        signed(terminal_word(self.system, port_record.terminal))
                    };
                    let word = word.as_str();
                    match hub.kind {
                        HubKind::Bus | HubKind::Ground | HubKind::Post | HubKind::Splice => {
                            let middle = f64::midpoint(left, right);
                            shapes.push(line(vec![(middle, y), (x, y)], LINE));
                            shapes.push(dot((middle, y)));
                            if hub.kind == HubKind::Bus && !word.is_empty() {
                                let (at, anchor) = if on_right {
                                    ((right + 0.5, y - 1.0), Anchor::Start)
                                } else {
                                    ((left - 0.5, y - 1.0), Anchor::End)
                                };
                                shapes.push(text(at, word, SMALL, anchor));
                            }
                        }
                        HubKind::Block => {
                            let face = BlockFace::new(self.system, hub);
                            let fuse = left + BLOCK_BAR + 2.0 + face.number;
                            let way = port_record.device.filter(|_| on_right);
                            let same = above.filter(|&(device, _)| Some(device) == way);
                            above = way.map(|device| (device, y));
                            if let Some((_, height)) = same {
                                // Several wires of one way part behind its device, which is there once.
                                let fork = fuse + WAY_DEVICE;
                                let path = vec![(fork, height), (fork, y), (right, y)];
                                shapes.push(line(path, LINE));
                                shapes.push(dot((fork, height)));
                            } else if let Some(device) = way {
                                shapes.push(line(vec![(left + BLOCK_BAR, y), (fuse, y)], LINE));
                                let record = &self.system.devices[device.index()];
                                if record.spare {
                                    shapes.push(dot((fuse, y)));
                                } else {
                                    let symbol = symbols::of_device(record.kind);
                                    self.used.symbols.insert(symbol);
                                    let mut drawn = Vec::new();
                                    Pen {
                                        origin: (fuse, y),
                                        mirror: None,
                                        shapes: &mut drawn,
                                    }
                                    .symbol(symbol);
                                    if self.standing.is_some() {
                                        standing::close_blades(&mut drawn);
                                    }
                                    shapes.append(&mut drawn);
                                    shapes
                                        .push(line(vec![(fuse + WAY_DEVICE, y), (right, y)], LINE));
                                }
                                shapes.push(text(
                                    (left + BLOCK_BAR + 1.0, y - 1.0),
                                    word,
                                    SMALL,
                                    Anchor::Start,
                                ));
                                let rating = words::rating(self.system, device);
                                shapes.push(text(
                                    (right - 1.0, y - 1.0),
                                    &rating,
                                    SMALL,
                                    Anchor::End,
                                ));
                            } else if !on_right {
                                shapes.push(text((left - 0.5, y - 1.0), word, SMALL, Anchor::End));
                            } else {
                                shapes.push(line(vec![(left + BLOCK_BAR, y), (right, y)], LINE));
                                shapes.push(text((right - 1.0, y - 1.0), word, SMALL, Anchor::End));
                            }
                        }
                        HubKind::Box | HubKind::Tie => {
                            let (at, anchor) = if on_right {
                                ((right - 1.0, y + 0.7), Anchor::End)
                            } else {
                                ((left + 1.0, y + 0.7), Anchor::Start)
                            };
                            shapes.push(text(at, word, SMALL, anchor));
                        }
                    }
                    let name = self.port_name(layers, port_record.terminal);
                    let lead = if on_right {
                        0
                    } else {
                        measured.strips[seg].leads.len() - 1
                    };
                    let key = (part.grid, seg, lead, usize::from(!on_right));
                    layers.ports.insert(key, name.clone());
                    shapes.push(port((x, y), name));
                }
            }
        }
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

    fn strip(
        &mut self,
        part: &Part,
        seg: usize,
        y: f64,
        row: usize,
        zones: &ZoneNames,
        layers: &mut Layers,
    ) {
        let plan = self.plan;
        let grid = &plan.grids[part.grid];
        let measured = part.measured(self.measured);
        let strip = &measured.strips[seg];
        let record = &grid.segs[seg];
        let mut ends: Vec<(Option<TerminalId>, Option<TerminalId>)> = Vec::new();
        let hub_terminal = |end: End| match end {
            End::Piece(piece, port) => {
                let hub = &self.circuit.hubs[grid.pieces[piece].hub];
                hub.ports.get(port).map(|port| port.terminal)
            }
            _ => None,
        };
        for index in 0..strip.leads.len() {
            let before = match index.checked_sub(1) {
                Some(before) => Some(strip.faces[before].cell.ends[1]),
                None => hub_terminal(record.left),
            };
            let after = match strip.faces.get(index) {
                Some(face) => Some(face.cell.ends[0]),
                None => hub_terminal(record.right),
            };
            ends.push((before, after));
        }
        for (index, face) in strip.faces.iter().enumerate() {
            let (left, right) = pages::face_ports(measured, face);
            let place = if face.cell.kind.is_load() {
                Place::Load(row)
            } else {
                Place::Span(part.x + left, part.x + right)
            };
            let zone = zones.holding(words::cell_zone(self.system, &face.cell), place);
            self.face(part, face, y, zone, (seg, index), layers);
        }
        for (index, lead) in strip.leads.iter().enumerate() {
            let (from, to) = pages::lead_span(grid, measured, seg, index);
            let (from, to) = (part.x + from, part.x + to);
            let at_ref = |end: End| matches!(end, End::Ref(_));
            match lead.item {
                Some(Item::Wire(id)) => {
                    let conductor = &self.system.conductors[id.index()];
                    let (before, after) = ends[index];
                    // A piece runs as its conductor does, so that the first piece has the first end.
                    let forward = before == Some(conductor.from)
                        || after == Some(conductor.to)
                        || before.is_none() && after.is_none();
                    let mut names = [0, 1].map(|side| {
                        let terminal = if side == 0 { before } else { after };
                        layers
                            .ports
                            .get(&(part.grid, seg, index, side))
                            .cloned()
                            .or_else(|| {
                                terminal.map(|terminal| self.system.terminal_name(terminal))
                            })
                    });
                    let (from, to) = if forward {
                        (from, to)
                    } else {
                        names.reverse();
                        (to, from)
                    };
                    self.wire(id, (from, to, y), names, layers);
                    let (from, to) = pages::label_span(grid, measured, seg, index);
                    let span = (part.x + from, part.x + to, y);
                    self.label(id, span, lead.label_left, measured.lettering, layers);
                }
                Some(_) => self.joint((from, to, y), ends[index], layers),
                None if index == 0 && at_ref(record.left)
                    || index + 1 == strip.leads.len() && at_ref(record.right) =>
                {
                    let end = if index == 0 {
                        record.left
                    } else {
                        record.right
                    };
                    let outer = match end {
                        End::Ref(reference) => plan.refs[reference].outer,
                        _ => None,
                    };
                    match outer {
                        Some(outer) => self.way_out((from, to, y), outer, ends[index], layers),
                        None => self.joint((from, to, y), ends[index], layers),
                    }
                }
                // With one line for both poles nothing leads on from a part to the negative.
                None if self.circuit.single_line && ends[index].1.is_none() => {}
                None if to - from > 1e-6 && record.chain.is_some() => {
                    self.joint((from, to, y), ends[index], layers);
                }
                None => {}
            }
        }
        for (side, end) in [record.left, record.right].into_iter().enumerate() {
            let column = measured.columns[strip.ends[side]];
            match end {
                End::Ref(reference) => {
                    let spot = (part.x + column.x, y, column.width);
                    self.reference(reference, side == 1, spot, measured, layers);
                }
                End::Open if record.chain.is_some() => {
                    let lead = if side == 0 {
                        strip.leads.first()
                    } else {
                        strip.leads.last()
                    };
                    let wired = lead.is_some_and(|lead| lead.item.is_some());
                    let x = part.x
                        + if side == 0 {
                            column.x + column.width
                        } else {
                            column.x
                        };
                    if wired {
                        let wire = match lead.and_then(|lead| lead.item) {
                            Some(Item::Wire(id)) => {
                                self.system.conductors[id.index()].number.as_str()
                            }
                            _ => "joint",
                        };
                        self.open_end((x, y), side == 1, wire, layers);
                    }
                }
                _ => {}
            }
        }
    }

    /// The line from a part to the reference that names what lands there and is not drawn.
    fn way_out(
        &self,
        (from, to, y): (f64, f64, f64),
        outer: usize,
        ends: (Option<TerminalId>, Option<TerminalId>),
        layers: &mut Layers,
    ) {
        let here = ends.0.or(ends.1);
        let here = here.map_or_else(String::new, |here| self.system.terminal_name(here));
        layers.wires.push(Group {
            id: format!("out-{here}"),
            role: Role::Note,
            title: format!(
                "{here} goes on, {OUTSIDE}: {}",
                self.circuit.outer[outer].words
            ),
            shapes: vec![line(vec![(from, y), (to, y)], LINE)],
        });
    }

    fn joint(
        &self,
        (from, to, y): (f64, f64, f64),
        (before, after): (Option<TerminalId>, Option<TerminalId>),
        layers: &mut Layers,
    ) {
        let mut shapes = vec![line(vec![(from, y), (to, y)], LINE)];
        let dead = self.standing.is_some_and(|standing| {
            let strong = |end: TerminalId| standing.is_strong(self.system, end);
            ![before, after].into_iter().flatten().any(strong)
        });
        if dead {
            standing::fade(&mut shapes);
        }
        let ends: Vec<String> = [before, after]
            .into_iter()
            .flatten()
            .map(|terminal| self.system.terminal_name(terminal))
            .collect();
        layers.wires.push(Group {
            id: format!("joint-{}", ends.join("-")),
            role: Role::Note,
            title: "bolted together, no conductor".to_owned(),
            shapes,
        });
    }

    fn open_end(&self, (x, y): (f64, f64), right: bool, wire: &str, layers: &mut Layers) {
        let _ = self;
        let centre = if right { (x + 0.6, y) } else { (x - 0.6, y) };
        layers.wires.push(Group {
            id: format!("open-{wire}"),
            role: Role::Note,
            title: "open end".to_owned(),
            shapes: vec![ring(centre)],
        });
    }

    fn face(
        &mut self,
        part: &Part,
        face: &Face,
        y: f64,
        zone: Option<String>,
        (seg, index): (usize, usize),
        layers: &mut Layers,
    ) {
        let measured = part.measured(self.measured);
        let (left, right) = pages::face_ports(measured, face);
        let (left, right) = (part.x + left, part.x + right);
        let (width, up, down) = face.symbol.size();
        let mut shapes = Vec::new();
        self.used.symbols.insert(face.symbol);
        Pen {
            origin: (left, y),
            mirror: face.mirror.then_some(width),
            shapes: &mut shapes,
        }
        .symbol(face.symbol);
        if self
            .standing
            .is_some_and(|standing| standing.closes(face.cell.ends[0], face.cell.ends[1]))
        {
            standing::close_blades(&mut shapes);
        }
        let leading = |size: f64| size * LEADING;
        if face.tail {
            if !self.circuit.single_line {
                shapes.push(line(vec![(left + width, y), (right, y)], LINE));
            }
            let x = left + width + 0.5;
            let count = face.above.len() as f64;
            for (index, words) in face.above.iter().enumerate() {
                let base = y - 1.1 - (count - 1.0 - index as f64) * leading(TEXT);
                shapes.push(text((x, base), words, TEXT, Anchor::Start));
            }
            for (index, words) in face.below.iter().enumerate() {
                let base = y + 0.7 + 0.8 * SMALL + index as f64 * leading(SMALL);
                shapes.push(text((x, base), words, SMALL, Anchor::Start));
            }
        } else {
            let x = f64::midpoint(left, right);
            let count = face.above.len() as f64;
            for (index, words) in face.above.iter().enumerate() {
                let base = y - up - 0.8 - (count - 1.0 - index as f64) * leading(TEXT);
                shapes.push(text((x, base), words, TEXT, Anchor::Middle));
            }
            let shown = face.below.iter().filter(|line| !line.is_empty());
            for (index, words) in shown.enumerate() {
                let base = y + down + 0.5 + 0.8 * SMALL + index as f64 * leading(SMALL);
                shapes.push(text((x, base), words, SMALL, Anchor::Middle));
            }
        }
        let sides = if face.tail && self.circuit.single_line {
            1
        } else {
            2
        };
        for (side, x) in [left, right].into_iter().take(sides).enumerate() {
            let terminal = face.cell.ends[side];
            // The post beside the part carries the terminal where several conductors land.
            if !self.has_post(terminal) {
                let name = self.port_name(layers, terminal);
                layers
                    .ports
                    .insert((part.grid, seg, index + side, 1 - side), name.clone());
                shapes.push(port((x, y), name));
            }
        }
        if let Some(standing) = self.standing
            && !standing.is_live(self.system, face.cell.ends)
        {
            standing::fade(&mut shapes);
        }
        let component = face.cell.component;
        let mut title = self.part_title(component, &self.system.components[component.index()].name);
        for terminal in face.cell.ends {
            title.push_str(", ");
            title.push_str(&self.system.terminal_name(terminal));
        }
        let (name, piece, id) = self.next_piece(component);
        layers.parts.push(Group {
            id,
            role: Role::Part {
                name,
                piece,
                zone,
                kind: INLINE,
            },
            title,
            shapes,
        });
    }

    fn has_post(&self, terminal: TerminalId) -> bool {
        self.circuit
            .posts
            .get(terminal.index())
            .copied()
            .unwrap_or(false)
    }

    /// Screen colours of a conductor; white under the outline where none is given.
    fn colour(&mut self, id: ConductorId) -> (Rgb, Option<Rgb>) {
        let conductor = &self.system.conductors[id.index()];
        let Some(colour) = &conductor.colour else {
            return (Rgb(0xFF, 0xFF, 0xFF), None);
        };
        let key = (colour.value.base.clone(), colour.value.stripe.clone());
        if let Some(&known) = self.colours.get(&key) {
            return known;
        }
        let parsed = words::parse_colour(&colour.value);
        let screen = |plain: crate::standards::PlainColour| hex(plain.srgb);
        let found = parsed.map_or((Rgb(0xFF, 0xFF, 0xFF), None), |colour| {
            (screen(colour.base), colour.stripe.map(screen))
        });
        if let Some(parsed) = parsed {
            self.used.colour(parsed);
        }
        self.colours.insert(key, found);
        found
    }

    fn wire(
        &mut self,
        id: ConductorId,
        (from, to, y): (f64, f64, f64),
        [before, after]: [Option<String>; 2],
        layers: &mut Layers,
    ) {
        let (base, stripe) = self.colour(id);
        let conductor = &self.system.conductors[id.index()];
        let node = self.system.node_of(conductor.from);
        let pole = self.circuit.poles[node.index()];
        let count = layers.wire_count.entry(id).or_default();
        *count += 1;
        let id_text = if *count == 1 {
            format!("wire-{}", conductor.number)
        } else {
            format!("wire-{}-{count}", conductor.number)
        };
        let points = vec![(from, y), (to, y)];
        let shape = |width: f64, colour: Rgb, mark: Mark| Shape {
            form: Form::Polyline(points.clone()),
            stroke: Some(Stroke {
                width,
                colour,
                dash: None,
            }),
            fill: None,
            mark,
        };
        let mut shapes = vec![
            shape(HALO, Rgb::BLACK, Mark::Halo),
            shape(WIRE, base, Mark::Wire),
        ];
        if let Some(stripe) = stripe {
            let mut dashed = shape(WIRE, stripe, Mark::Outside);
            if let Some(stroke) = &mut dashed.stroke {
                stroke.dash = Some((1.5, 2.0));
            }
            shapes.push(dashed);
        }
        let reading = self.standing.map(|standing| {
            if !standing.is_live_wire(id) {
                standing::fade(&mut shapes);
                return ", dead".to_owned();
            }
            format!(", {}", standing.wire_words(id))
        });
        let label = &self.circuit.labels[id.index()];
        let function = if conductor.function.is_empty() {
            String::new()
        } else {
            format!(": {}", conductor.function)
        };
        let group = Group {
            id: id_text,
            role: Role::Wire {
                number: conductor.number.clone(),
                from: before,
                to: after,
                pole,
            },
            title: format!(
                "{}{function}, {} to {}{}{}",
                label.line,
                self.system.terminal_name(conductor.from),
                self.system.terminal_name(conductor.to),
                words::ways(self.system, id)
                    .map_or_else(String::new, |ways| format!(", by way of {ways}")),
                reading.unwrap_or_default()
            ),
            shapes,
        };
        // The piece with the first end of a broken-off conductor comes first.
        let has_start = matches!(&group.role, Role::Wire { from: Some(_), .. });
        let known = layers.first_piece.get(&id).copied();
        match known {
            Some(at) if has_start => {
                let later = std::mem::replace(&mut layers.wires[at], group);
                layers.wires.push(later);
            }
            _ => {
                layers.first_piece.entry(id).or_insert(layers.wires.len());
                layers.wires.push(group);
            }
        }
    }

    fn label(
        &self,
        id: ConductorId,
        (from, to, y): (f64, f64, f64),
        left: bool,
        lettering: Lettering,
        layers: &mut Layers,
    ) {
        let conductor = &self.system.conductors[id.index()];
        let label = &self.circuit.labels[id.index()];
        let pad = label_pad((from, to), label.width(lettering));
        let (x, anchor) = if left {
            (from + pad, Anchor::Start)
        } else {
            (to - pad, Anchor::End)
        };
        let [mut line, mut first, mut second] =
            [&label.line, &label.words[0], &label.words[1]].map(Clone::clone);
        if let Some(standing) = self.standing {
            let words = standing.wire_words(id);
            let whole = format!("{} {words}", conductor.number);
            // Never wider than what it takes the place of.
            let fits = super::font::width(&whole, TEXT) <= super::font::width(&line, TEXT);
            line = if fits {
                whole.trim_end().to_owned()
            } else {
                conductor.number.clone()
            };
            first.clone_from(&conductor.number);
            let fits = super::font::width(&words, TEXT) <= super::font::width(&second, TEXT);
            second = if fits { words } else { String::new() };
        }
        let mut shapes = match lettering {
            Lettering::OneLine => vec![text((x, y - 1.0), &line, TEXT, anchor)],
            Lettering::TwoLines | Lettering::Narrow => vec![
                text((x, y - 1.0), &first, TEXT, anchor),
                text((x, y + 2.6), &second, TEXT, anchor),
            ],
        };
        shapes.retain(|shape| !matches!(&shape.form, Form::Text { text, .. } if text.is_empty()));
        if let Some(standing) = self.standing
            && !standing.is_live_wire(id)
        {
            standing::fade(&mut shapes);
        }
        layers.labels.push(Group {
            id: format!("label-{}-{}", conductor.number, layers.labels.len()),
            role: Role::WireLabel {
                number: conductor.number.clone(),
            },
            title: String::new(),
            shapes,
        });
    }

    fn reference(
        &mut self,
        reference: usize,
        on_right: bool,
        (x, y, width): (f64, f64, f64),
        measured: &Measured,
        layers: &mut Layers,
    ) {
        let height = pages::reference_height(measured, reference);
        let (top, bottom) = (y - height / 2.0, y + height / 2.0);
        let tip = 2.0;
        let points = if on_right {
            vec![
                (x, top),
                (x + width - tip, top),
                (x + width, y),
                (x + width - tip, bottom),
                (x, bottom),
            ]
        } else {
            vec![
                (x + tip, top),
                (x + width, top),
                (x + width, bottom),
                (x + tip, bottom),
                (x, y),
            ]
        };
        let record = self.plan.refs[reference];
        let (symbol, dash) = match record.outer {
            Some(_) => (Symbol::Outside, Some(symbols::DASHES)),
            None => (Symbol::Reference, None),
        };
        self.used.symbols.insert(symbol);
        let mut shapes = vec![Shape {
            form: Form::Polygon(points),
            stroke: Some(Stroke {
                dash,
                ..Stroke::black(LINE)
            }),
            fill: Some(Rgb::WHITE),
            mark: Mark::Plain,
        }];
        let place = self
            .ref_places
            .get(&(reference ^ 1))
            .cloned()
            .unwrap_or_default();
        let mut lines = measured.refs.get(&reference).cloned().unwrap_or_default();
        if let Some(last) = lines.last_mut() {
            *last = last.replace(WIDEST_PLACE, &place);
        }
        let middle = x + width / 2.0 + if on_right { -tip / 2.0 } else { tip / 2.0 };
        let mut base = top + 0.5 + 0.8 * TEXT + 0.2;
        for words in &lines {
            shapes.push(text((middle, base), words, TEXT, Anchor::Middle));
            base += TEXT * LEADING;
        }
        self.references += 1;
        let wire = record.wire.map_or_else(
            || match record.outer {
                Some(_) => "part".to_owned(),
                None => "bolted".to_owned(),
            },
            |id| self.system.conductors[id.index()].number.clone(),
        );
        if let (Some(standing), Some(id)) = (self.standing, record.wire)
            && !standing.is_live_wire(id)
        {
            standing::fade(&mut shapes);
        }
        let name = format!("to-{}-{}", wire, reference + 1);
        layers.parts.push(Group {
            id: format!("ref-{}", reference + 1),
            role: Role::Part {
                name,
                piece: None,
                zone: None,
                kind: OFFSHEET,
            },
            title: match record.outer {
                Some(outer) => {
                    let words = &self.circuit.outer[outer].words;
                    match record.wire {
                        Some(_) => format!("{wire} goes on {words}, {OUTSIDE}"),
                        None => format!("{words}, {OUTSIDE}"),
                    }
                }
                None => format!(
                    "{wire} goes on to {} at {place}",
                    self.system.terminal_name(record.far)
                ),
            },
            shapes,
        });
    }
}

/// Width of the names on the left inside a box.
fn box_sides(system: &System, grid: &Grid, hub: &Hub, piece: usize) -> f64 {
    grid.segs
        .iter()
        .filter_map(|seg| match seg.right {
            End::Piece(of, port) if of == piece => Some(port),
            _ => None,
        })
        .filter_map(|port| hub.ports.get(port))
        .map(|port| super::font::width(&signed(terminal_word(system, port.terminal)), SMALL))
        .fold(0.0, f64::max)
}

fn hub_word(kind: HubKind) -> &'static str {
    match kind {
        HubKind::Bus => "bus",
        HubKind::Block => "block",
        HubKind::Post => "post",
        HubKind::Splice => "splice",
        HubKind::Ground => "ground",
        HubKind::Box | HubKind::Tie => "box",
    }
}

/// A colour of the screen from its six hexadecimal digits.
pub(super) fn hex(text: &str) -> Rgb {
    let value = u32::from_str_radix(text.trim_start_matches('#'), 16).unwrap_or(0xFF_FF_FF);
    let byte = |shift: u32| u8::try_from(value >> shift & 0xFF).unwrap_or(0xFF);
    Rgb(byte(16), byte(8), byte(0))
}

/// Where something stands against the loads.
#[derive(Clone, Copy)]
enum Place {
    /// In the column of the loads, on a row.
    Load(usize),
    /// Between two places from left to right.
    Span(f64, f64),
}

/// Names of the zones' rectangles in one part of the drawing.
#[derive(Default)]
struct ZoneNames {
    whole: Option<(ZoneId, String)>,
    /// Rectangles left and right of the loads.
    sides: [Option<(ZoneId, String)>; 2],
    /// Left and right edge of the column of the loads.
    edges: [f64; 2],
    rows: BTreeMap<usize, (ZoneId, String)>,
}

impl ZoneNames {
    /// The rectangle that holds something of a zone.
    fn holding(&self, zone: Option<ZoneId>, place: Place) -> Option<String> {
        let found = match (&self.whole, place) {
            (Some(whole), _) => Some(whole),
            (None, Place::Load(row)) => self.rows.get(&row),
            (None, Place::Span(_, right)) if right < self.edges[0] - 1.0 => self.sides[0].as_ref(),
            (None, Place::Span(left, _)) if left > self.edges[1] + 0.5 => self.sides[1].as_ref(),
            (None, Place::Span(..)) => None,
        };
        found
            .filter(|(held, _)| Some(*held) == zone)
            .map(|(_, name)| name.clone())
    }
}
