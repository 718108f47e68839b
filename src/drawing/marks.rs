//! Marks of findings: a number beside the element that a finding is about, its weight told by the shape around it.
//!
//! A mark takes free room near its element and lies on nothing; the index tells what each number means.
//! An error stands white in a black field with round ends, a warning in a white one with a heavy line, what is not
//! proved in one with a broken line, a note in a small square.

use super::font;
use super::frame;
use super::index::{area, spot};
use super::pages::Room;
use super::render::INLINE;
use super::scene::{
    Anchor, Area, At, Form, Group, Mark, OFFSHEET, Rgb, Role, Shape, SheetKind, Stroke,
};
use super::standing::{Standing, fade};
use super::words::{SMALL, is_pole, signed};
use super::{Format, Rendered};
use crate::diag::{Diagnostic, Severity, on_paper};
use crate::system::{ComponentKind, System, TerminalId};
use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::ops::Range;

/// Height of a mark, in mm.
pub(super) const HEIGHT: f64 = 2.8;
/// Room between a mark and anything else, in mm.
const CLEAR: f64 = 0.3;
/// Room that a mark rather has to what it is not about, in mm.
const APART_FROM_OTHERS: f64 = 1.2;
/// How far a mark may stand from its element, in mm.
const REACH: f64 = 22.0;
/// Distances up to which places are listed, one ring after the other, in mm.
const RINGS: [f64; 3] = [LEADER, 6.0, REACH];
/// Steps in which room is looked for, across and down, in mm.
const STEPS: [f64; 2] = [1.25, 0.7];
/// From this distance on a line leads from the mark to its element, in mm.
const LEADER: f64 = 1.2;
/// Side of the cells in which what is drawn is looked up, in mm.
const CELL: f64 = 10.0;
/// Distance within which an equal voltage is not written again, in mm.
const APART: f64 = 30.0;
/// Stands before the number of elements that one mark is for.
pub(super) const MANY: char = '×';
/// Most elements of one note that are marked each on a sheet; of more, the first is marked for all.
const MOST_ALIKE: usize = 3;
/// Most places tried for one mark.
const MOST_TRIED: usize = 4000;

/// A finding with its number on the drawing.
#[derive(Clone, Debug)]
pub(super) struct Marked {
    /// Number from 1, in the order of the findings.
    pub(super) number: usize,
    severity: Severity,
    rule: &'static str,
    message: String,
    /// Sheets and fields of what it is about.
    places: Vec<String>,
    /// What it is about, where one mark stands for many.
    about: Vec<String>,
}

impl Marked {
    /// Whether one of its elements is drawn.
    pub(super) fn is_drawn(&self) -> bool {
        !self.places.is_empty()
    }

    /// What the index says of it.
    pub(super) fn told(&self) -> String {
        let places = if self.places.is_empty() {
            String::new()
        } else {
            format!("{}: ", self.places.join(", "))
        };
        let told = |name: &String| {
            let mut words = self.message.split([' ', ',', ';']);
            words.any(|word| word == name)
        };
        let about = if self.about.iter().all(told) {
            String::new()
        } else {
            format!("; about {}", self.about.join(", "))
        };
        format!(
            "{places}{} {}, {}{about}",
            self.rule,
            self.severity.word(),
            self.message
        )
    }
}

/// Marks every finding on the sheets that show its elements.
pub(super) fn place(
    system: &System,
    drawings: &mut [Rendered],
    boards: &mut Boards,
    findings: &[Diagnostic],
) -> Vec<Marked> {
    if findings.is_empty() {
        return Vec::new();
    }
    let targets = Targets::new(system, drawings);
    let mut marked = Vec::with_capacity(findings.len());
    for (index, finding) in findings.iter().enumerate() {
        let mut mark = Marked {
            number: index + 1,
            severity: finding.severity,
            rule: finding.rule,
            message: on_paper(&finding.message),
            places: Vec::new(),
            about: Vec::new(),
        };
        // By sheet, in the order of the elements.
        let mut drawn: Vec<Vec<(&str, Target)>> = Vec::new();
        for element in std::iter::once(&finding.element).chain(&finding.also) {
            let Some(target) = targets.find(element) else {
                continue;
            };
            let here = |of: &&mut Vec<(&str, Target)>| {
                let first = of[0].1;
                (first.drawing, first.sheet) == (target.drawing, target.sheet)
            };
            match drawn.iter_mut().find(here) {
                Some(of) => of.push((element, target)),
                None => drawn.push(vec![(element, target)]),
            }
        }
        for found in &drawn {
            let first = found[0].1;
            let drawing = &mut drawings[first.drawing];
            let sheet = &mut drawing.sheets[first.sheet];
            let board = boards.of((first.drawing, first.sheet), drawing.format, &sheet.groups);
            // A note about many is told once on a sheet, with how many it is about.
            let once = mark.severity == Severity::Note && found.len() > MOST_ALIKE;
            let shown = if once { &found[..1] } else { &found[..] };
            for &(_, target) in shown {
                let field = frame::field(drawing.format, target.at);
                let place = format!("{}/{field}", sheet.number);
                if !mark.places.contains(&place) {
                    mark.places.push(place);
                }
            }
            let (mut words, mut about) = (mark.number.to_string(), String::new());
            if once {
                let names: Vec<&str> = found.iter().map(|&(element, _)| element).collect();
                let _ = write!(words, " {MANY}{}", found.len());
                about = format!(", about {}", names.join(", "));
                mark.about.extend(names.into_iter().map(str::to_owned));
            }
            for &(element, target) in shown {
                let near = &targets.areas[target.areas.0..target.areas.1];
                if let Some(mut group) = board.mark(&mark, &words, (target, near)) {
                    group.id = format!("finding-{}-{element}", finding.rule);
                    group.title.push_str(&about);
                    sheet.groups.push(group);
                }
            }
        }
        marked.push(mark);
    }
    marked
}

/// Writes the voltage beside every terminal that has one and room for it; all of them are in the index.
pub(super) fn place_voltages(
    system: &System,
    drawings: &mut [Rendered],
    boards: &mut Boards,
    standing: &Standing,
) {
    let voltages = standing.voltages(system);
    for (drawing, rendered) in drawings.iter_mut().enumerate() {
        for (index, sheet) in rendered.sheets.iter_mut().enumerate() {
            if sheet.kind != SheetKind::Wiring {
                continue;
            }
            let board = boards.of((drawing, index), rendered.format, &sheet.groups);
            let mut told: Vec<(At, &str)> = Vec::new();
            let mut notes = Vec::new();
            for (port, centre) in sheet.groups.iter().flat_map(ports) {
                let terminal = terminal_of(port);
                let Some(words) = voltages.get(terminal) else {
                    continue;
                };
                let near = |&(at, other): &(At, &str)| {
                    other == words && (at.0 - centre.0).hypot(at.1 - centre.1) < APART
                };
                if told.iter().any(near) {
                    continue;
                }
                if let Some(shape) = board.note(words, centre) {
                    told.push((centre, words));
                    notes.push(Group {
                        id: format!("volts-{port}"),
                        role: Role::Note,
                        title: format!("{terminal}: {words}"),
                        shapes: vec![shape],
                    });
                }
            }
            sheet.groups.extend(notes);
        }
    }
}

/// Writes the poles beside the terminals of sources whose symbol does not tell them, and of reversed loads.
pub(super) fn place_poles(
    system: &System,
    drawings: &mut [Rendered],
    boards: &mut Boards,
    standing: Option<&Standing>,
) {
    let by_name: BTreeMap<&str, ComponentKind> = system
        .components
        .iter()
        .map(|component| (component.name.as_str(), component.kind))
        .collect();
    let dead: BTreeSet<String> = standing.map_or_else(BTreeSet::new, |standing| {
        (0..system.terminals.len())
            .map(TerminalId::at)
            .filter(|&terminal| !standing.is_strong(system, terminal))
            .map(|terminal| system.terminal_name(terminal))
            .collect()
    });
    for (drawing, rendered) in drawings.iter_mut().enumerate() {
        for (index, sheet) in rendered.sheets.iter_mut().enumerate() {
            if sheet.kind != SheetKind::Wiring {
                continue;
            }
            let mut notes = Vec::new();
            for group in &sheet.groups {
                let Role::Part { name, kind, .. } = &group.role else {
                    continue;
                };
                let Some(&component) = by_name.get(name.as_str()) else {
                    continue;
                };
                if *kind != INLINE || component == ComponentKind::Connector {
                    continue;
                }
                let middle = area(group).map_or(0.0, |area| f64::midpoint(area.left, area.right));
                for (port, centre) in ports(group) {
                    let terminal = terminal_of(port);
                    let word = terminal.strip_prefix(name.as_str());
                    let Some(word) = word.and_then(|word| word.strip_prefix('.')) else {
                        continue;
                    };
                    let told = match (component, word) {
                        (ComponentKind::Battery, _) => true,
                        // Supply comes from the left.
                        (ComponentKind::Load | ComponentKind::Instrument, "+") => {
                            centre.0 <= middle
                        }
                        (ComponentKind::Load | ComponentKind::Instrument, "-") => {
                            centre.0 >= middle
                        }
                        _ => !is_pole(word),
                    };
                    if told {
                        continue;
                    }
                    let board = boards.of((drawing, index), rendered.format, &sheet.groups);
                    let Some(mut shape) = board.note(&signed(word), centre) else {
                        continue;
                    };
                    if dead.contains(terminal) {
                        fade(std::slice::from_mut(&mut shape));
                    }
                    notes.push(Group {
                        id: format!("terminal-{port}"),
                        role: Role::Note,
                        title: terminal.to_owned(),
                        shapes: vec![shape],
                    });
                }
            }
            sheet.groups.extend(notes);
        }
    }
}

/// Terminals that a group shows, with their places.
fn ports(group: &Group) -> impl Iterator<Item = (&str, At)> {
    group
        .shapes
        .iter()
        .filter_map(|shape| match (&shape.mark, &shape.form) {
            (Mark::Port(port), Form::Circle { centre, .. }) => Some((port.as_str(), *centre)),
            _ => None,
        })
}

/// The terminal of a landing: a second one on a stud has a number behind a colon.
fn terminal_of(port: &str) -> &str {
    let terminal = port.split_once(':').map_or(port, |(name, _)| name);
    terminal.strip_suffix('.').unwrap_or(terminal)
}

/// What is drawn on each sheet, looked through once.
#[derive(Default)]
pub(super) struct Boards {
    /// By drawing and sheet.
    known: BTreeMap<(usize, usize), Board>,
}

impl Boards {
    fn of(&mut self, sheet: (usize, usize), format: Format, groups: &[Group]) -> &mut Board {
        let new = || Board::new(format, sheet.1, groups);
        self.known.entry(sheet).or_insert_with(new)
    }
}

/// The drawing of an element that a mark points at.
#[derive(Clone, Copy, Debug)]
struct Target {
    drawing: usize,
    sheet: usize,
    group: usize,
    /// What the mark stands beside: from where to where in the list of all.
    areas: (usize, usize),
    /// The point by which its place is told.
    at: At,
}

/// Where every element is drawn first.
struct Targets {
    /// By name of a part, `part.terminal`, wire number, or zone.
    by_name: BTreeMap<String, Target>,
    /// Rectangles of all that may be marked, one target after the other.
    areas: Vec<Area>,
}

impl Targets {
    fn new(system: &System, drawings: &[Rendered]) -> Self {
        let mut by_name = BTreeMap::new();
        let mut areas: Vec<Area> = Vec::new();
        let mut kept = |near: &mut dyn Iterator<Item = Area>| {
            let first = areas.len();
            areas.extend(near);
            (first, areas.len())
        };
        for (drawing, rendered) in drawings.iter().enumerate() {
            for (sheet, record) in rendered.sheets.iter().enumerate() {
                if record.kind != SheetKind::Wiring {
                    continue;
                }
                for (index, group) in record.groups.iter().enumerate() {
                    let (Some(at), Some(area)) = (spot(group), area(group)) else {
                        continue;
                    };
                    let target = Target {
                        drawing,
                        sheet,
                        group: index,
                        areas: (0, 0),
                        at,
                    };
                    match &group.role {
                        Role::Part { kind, .. } if *kind == OFFSHEET => {}
                        Role::Part { name, kind, .. } => {
                            if !by_name.contains_key(name) {
                                // Near one of its shapes, not only near the rectangle around all of them.
                                let shapes = group.shapes.iter();
                                let drawn =
                                    shapes.filter(|shape| !matches!(shape.mark, Mark::Port(_)));
                                let areas = kept(&mut drawn.filter_map(|shape| shape.form.area()));
                                by_name.insert(name.clone(), Target { areas, ..target });
                            }
                            let body = group.shapes.iter().find_map(|shape| match shape.form {
                                Form::Rect { .. } => shape.form.area(),
                                _ => None,
                            });
                            for shape in &group.shapes {
                                if let (Mark::Port(port), Form::Circle { centre, .. }) =
                                    (&shape.mark, &shape.form)
                                {
                                    // A way of a block is its row from edge to edge.
                                    let area = match body.filter(|_| *kind == "block") {
                                        Some(body) => Area {
                                            top: centre.1 - 1.0,
                                            bottom: centre.1 + 1.0,
                                            ..body
                                        },
                                        None => shape.form.area().unwrap_or(area),
                                    };
                                    let areas = kept(&mut std::iter::once(area));
                                    let at = *centre;
                                    let target = Target {
                                        areas,
                                        at,
                                        ..target
                                    };
                                    by_name.entry(port.clone()).or_insert(target);
                                }
                            }
                        }
                        Role::Wire { number, .. } => {
                            let areas = kept(&mut std::iter::once(area));
                            let target = Target { areas, ..target };
                            by_name.entry(number.clone()).or_insert(target);
                        }
                        Role::Zone { name } => {
                            // The name of a zone is marked, not the middle of its room.
                            let text = group.shapes.iter().find_map(|shape| match shape.form {
                                Form::Text { .. } => shape.form.area(),
                                _ => None,
                            });
                            let areas = kept(&mut std::iter::once(text.unwrap_or(area)));
                            let name = format!("zone {name}");
                            by_name.entry(name).or_insert(Target { areas, ..target });
                        }
                        _ => {}
                    }
                }
            }
        }
        let mut targets = Self { by_name, areas };
        targets.name_others(system);
        targets
    }

    /// Leads the names of loads, devices, circuits and banks to the part or wire that is drawn for them.
    fn name_others(&mut self, system: &System) {
        let part = |component: usize| system.components[component].name.as_str();
        for load in &system.loads {
            self.name(&load.name, part(load.component.index()));
        }
        for device in &system.devices {
            self.name(&device.name, part(device.component.index()));
        }
        for circuit in &system.circuits {
            let load = circuit
                .load
                .map(|load| part(system.loads[load.index()].component.index()));
            let first = circuit
                .conductors
                .first()
                .map(|first| system.conductors[first.index()].number.as_str());
            for drawn in load.into_iter().chain(first) {
                self.name(&circuit.name, drawn);
                self.name(&circuit.number, drawn);
            }
        }
        for bank in &system.banks {
            if let Some(first) = bank.strings.iter().flatten().next() {
                let first = system.sources[first.index()].component.index();
                self.name(&bank.name, part(first));
            }
        }
    }

    fn name(&mut self, name: &str, drawn: &str) {
        if !self.by_name.contains_key(name)
            && let Some(&target) = self.by_name.get(drawn)
        {
            self.by_name.insert(name.to_owned(), target);
        }
    }

    /// The drawing of an element that a finding names.
    fn find(&self, element: &str) -> Option<Target> {
        let known = |name: &str| self.by_name.get(name).copied();
        if element.is_empty() {
            return None;
        }
        known(element)
            .or_else(|| known(&format!("zone {element}")))
            .or_else(|| known(element.rsplit_once('.')?.0))
    }
}

/// What is drawn on a sheet, and where there is room left.
struct Board {
    room: Room,
    /// Cells of the sheet, row by row; what lies beyond its edge is in those at the edge.
    cells: Vec<Cell>,
    across: usize,
    down: usize,
}

/// Where a mark could stand; the nearest first, then the highest, then the leftmost.
#[derive(Clone, Copy, Debug)]
struct Place {
    gap: f64,
    area: Area,
    /// Its index in the lattice, row by row.
    at: usize,
}

impl Ord for Place {
    fn cmp(&self, other: &Self) -> Ordering {
        let by = |a: f64, b: f64| a.total_cmp(&b);
        by(self.gap, other.gap)
            .then(by(self.area.top, other.area.top))
            .then(by(self.area.left, other.area.left))
    }
}

impl PartialOrd for Place {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Place {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Place {}

/// Places around an element in which a mark is tried, up to a distance from it.
struct Lattice {
    /// Left edges, leftmost first, and how far each is from the element across.
    lefts: Vec<f64>,
    aside: Vec<f64>,
    /// Upper edges, highest first, and how far each is from the element up or down.
    tops: Vec<f64>,
    above: Vec<f64>,
}

impl Lattice {
    fn new(from: Area, width: f64, ring: f64) -> Self {
        // Wider rings have the same places and more of them.
        let line = |low: f64, high: f64, step: f64| -> Vec<f64> {
            let first = low - REACH;
            let skipped = ((REACH - ring) / step).ceil();
            let mut places = Vec::new();
            let mut index = skipped;
            let mut at = first + index * step;
            while at <= high + ring {
                places.push(at);
                index += 1.0;
                at = first + index * step;
            }
            places
        };
        let lefts = line(from.left - width, from.right, STEPS[0]);
        let tops = line(from.top - HEIGHT, from.bottom, STEPS[1]);
        Self {
            aside: lefts
                .iter()
                .map(|&left| between((left, left + width), (from.left, from.right)))
                .collect(),
            above: tops
                .iter()
                .map(|&top| between((top, top + HEIGHT), (from.top, from.bottom)))
                .collect(),
            lefts,
            tops,
        }
    }

    /// Distance of a place from the element.
    fn gap(&self, row: usize, column: usize) -> f64 {
        self.aside[column].hypot(self.above[row])
    }
}

/// Distance of a place from the nearest of some rectangles, and that rectangle; of no rectangles, its own.
fn nearest(place: Area, near: &[Area]) -> (f64, Area) {
    let squared = |area: Area| {
        let aside = between((place.left, place.right), (area.left, area.right));
        let above = between((place.top, place.bottom), (area.top, area.bottom));
        aside * aside + above * above
    };
    near.iter()
        .map(|&area| (squared(area), area))
        .min_by(|one, other| one.0.total_cmp(&other.0))
        .map_or((0.0, place), |(squared, area)| (squared.sqrt(), area))
}

/// Distance between two stretches of a line; zero where they meet.
fn between(one: (f64, f64), other: (f64, f64)) -> f64 {
    (other.0 - one.1).max(one.0 - other.1).max(0.0)
}

/// Something drawn.
#[derive(Clone, Copy, Debug)]
struct Taken {
    area: Area,
    group: usize,
}

/// What is drawn in one cell.
#[derive(Clone, Debug, Default)]
struct Cell {
    /// Lettering, over which no line leads.
    lettering: Vec<Taken>,
    /// Lines and symbols.
    lines: Vec<Taken>,
}

/// What a line from a mark to its element may cross.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Over {
    Nothing,
    /// Lines and symbols, but no lettering.
    Lines,
}

/// Group index of what belongs to no element.
const NOBODY: usize = usize::MAX;
/// Stands for no group at all where one may be passed over.
const NONE: usize = usize::MAX - 1;

/// Index of the cell at a distance from the edge, of so many.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped to what there is
fn cell(at: f64, count: usize) -> usize {
    (at.max(0.0) / CELL).min((count - 1) as f64) as usize
}

impl Board {
    fn new(format: Format, sheet: usize, groups: &[Group]) -> Self {
        let room = frame::room(format, sheet);
        let across = cell(room.left + room.width, usize::MAX) + 2;
        let down = cell(room.bottoms[0].max(room.bottoms[1]), usize::MAX) + 2;
        let mut board = Self {
            room,
            cells: vec![Cell::default(); across * down],
            across,
            down,
        };
        for (index, group) in groups.iter().enumerate() {
            match &group.role {
                Role::Frame => {}
                Role::Block { .. } => {
                    if let Some(area) = area(group) {
                        board.take(area, index, true);
                    }
                }
                Role::Zone { .. } => {
                    for shape in &group.shapes {
                        let Some(area) = shape.form.area() else {
                            continue;
                        };
                        if matches!(shape.form, Form::Text { .. }) {
                            board.take(area, index, true);
                        } else {
                            board.outline(area, index);
                        }
                    }
                }
                _ => {
                    for shape in &group.shapes {
                        if let Form::Polyline(points) = &shape.form {
                            for pair in points.windows(2) {
                                board.take(around(pair[0], pair[1]), index, false);
                            }
                        } else if let Some(area) = shape.form.area() {
                            let text = matches!(shape.form, Form::Text { .. });
                            board.take(area, index, text);
                        }
                    }
                }
            }
        }
        board
    }

    fn take(&mut self, area: Area, group: usize, text: bool) {
        let taken = Taken { area, group };
        for index in self.under(area) {
            let cell = &mut self.cells[index];
            let list = if text {
                &mut cell.lettering
            } else {
                &mut cell.lines
            };
            list.push(taken);
        }
    }

    /// Indices of the cells under a rectangle.
    fn under(&self, area: Area) -> impl Iterator<Item = usize> + use<> {
        let across = self.across;
        let columns = cell(area.left, across)..=cell(area.right, across);
        let rows = cell(area.top, self.down)..=cell(area.bottom, self.down);
        rows.flat_map(move |y| columns.clone().map(move |x| y * across + x))
    }

    fn outline(&mut self, area: Area, group: usize) {
        let Area {
            left,
            top,
            right,
            bottom,
        } = area;
        for (left, top, right, bottom) in [
            (left, top, right, top),
            (left, bottom, right, bottom),
            (left, top, left, bottom),
            (right, top, right, bottom),
        ] {
            let line = Area {
                left,
                top,
                right,
                bottom,
            };
            self.take(line, group, false);
        }
    }

    /// Whether nothing but the shapes of one group touches a rectangle.
    fn is_free(&self, area: Area, but: usize, over: Over) -> bool {
        let near = Area {
            left: area.left - CLEAR,
            top: area.top - CLEAR,
            right: area.right + CLEAR,
            bottom: area.bottom + CLEAR,
        };
        let passes = |taken: &Taken| taken.group == but || !near.overlaps(grown(taken.area), 0.0);
        self.under(near).all(|index| {
            let cell = &self.cells[index];
            cell.lettering.iter().all(passes)
                && (over == Over::Lines || cell.lines.iter().all(passes))
        })
    }

    /// By place of a lattice, row by row: whether anything drawn touches a mark of a width there.
    ///
    /// What is drawn takes a rectangle of places; looking each up in turn is far longer where all are taken.
    fn taken_of(&self, lattice: &Lattice, width: f64) -> Vec<bool> {
        let stretches = |starts: &[f64], length: f64| -> Vec<(f64, f64)> {
            starts
                .iter()
                .map(|&start| (start - CLEAR, start + length + CLEAR))
                .collect()
        };
        let across = stretches(&lattice.lefts, width);
        let down = stretches(&lattice.tops, HEIGHT);
        let mut taken = vec![false; across.len() * down.len()];
        let (Some(left), Some(right)) = (across.first(), across.last()) else {
            return taken;
        };
        let (Some(top), Some(bottom)) = (down.first(), down.last()) else {
            return taken;
        };
        let columns = cell(left.0, self.across)..=cell(right.1, self.across);
        let rows = cell(top.0, self.down)..=cell(bottom.1, self.down);
        for y in rows {
            let near_rows = in_cell(&down, y, self.down);
            for x in columns.clone() {
                let near_columns = in_cell(&across, x, self.across);
                let cell = &self.cells[y * self.across + x];
                for drawn in cell.lettering.iter().chain(&cell.lines) {
                    let area = grown(drawn.area);
                    let under = touched(&across, &near_columns, (area.left, area.right));
                    if under.is_empty() {
                        continue;
                    }
                    for row in touched(&down, &near_rows, (area.top, area.bottom)) {
                        let start = row * across.len();
                        taken[start + under.start..start + under.end].fill(true);
                    }
                }
            }
        }
        taken
    }

    /// Lettering beside a point, close enough to need no line; none where there is no room for it.
    fn note(&mut self, words: &str, at: At) -> Option<Shape> {
        let width = font::width(words, SMALL);
        let height = SMALL * 0.75;
        let room = self.room;
        // Above and below, on either side, then a little further away.
        for gap in [0.5, 1.3, 2.1, 2.9] {
            for (left, top) in [
                (at.0 + gap, at.1 - gap - height),
                (at.0 + gap, at.1 + gap),
                (at.0 - gap - width, at.1 - gap - height),
                (at.0 - gap - width, at.1 + gap),
            ] {
                let area = Area {
                    left,
                    top,
                    right: left + width,
                    bottom: top + height,
                };
                let inside = left >= room.left && area.right <= room.left + room.width;
                if inside && top >= room.top && self.is_free(area, NONE, Over::Nothing) {
                    self.take(area, NOBODY, true);
                    return Some(Shape {
                        form: Form::Text {
                            at: (left, area.bottom),
                            text: words.to_owned(),
                            size: SMALL,
                            anchor: super::scene::Anchor::Start,
                            bold: false,
                        },
                        stroke: None,
                        fill: Some(super::scene::Rgb::BLACK),
                        mark: super::scene::Mark::Plain,
                    });
                }
            }
        }
        None
    }

    /// Draws a mark beside its target; none where there is no room for it.
    fn mark(
        &mut self,
        mark: &Marked,
        words: &str,
        (target, near): (Target, &[Area]),
    ) -> Option<Group> {
        let width = flag_width(words);
        let room = self.room;
        let bounds = Area {
            left: room.left - 3.0,
            top: room.top - 3.0,
            right: room.left + room.width + 3.0,
            bottom: room.bottoms[0].max(room.bottoms[1]),
        };
        let from = near.iter().copied().reduce(Area::union)?;
        // The nearest place is mostly free, so that the far ones are not even listed.
        let mut free = Vec::new();
        // Near the rectangle around all, but not near anything in it.
        let mut later: Vec<Place> = Vec::new();
        let mut found = None;
        let mut tried = 0;
        let mut passed = -1.0;
        'rings: for ring in RINGS {
            let lattice = Lattice::new(from, width, ring);
            let mut places: Vec<Place> = Vec::new();
            for (row, &top) in lattice.tops.iter().enumerate() {
                for (column, &left) in lattice.lefts.iter().enumerate() {
                    let gap = lattice.gap(row, column);
                    if gap <= passed || gap > ring {
                        continue;
                    }
                    let area = Area {
                        left,
                        top,
                        right: left + width,
                        bottom: top + HEIGHT,
                    };
                    let limit = if area.right > room.title {
                        room.bottoms[1]
                    } else {
                        bounds.bottom
                    };
                    let inside = area.left >= bounds.left
                        && area.top >= bounds.top
                        && area.right <= bounds.right
                        && area.bottom <= limit;
                    if inside {
                        places.push(Place {
                            gap,
                            area,
                            at: row * lattice.lefts.len() + column,
                        });
                    }
                }
            }
            passed = ring;
            let rest = MOST_TRIED - tried;
            if places.len() > rest {
                places.select_nth_unstable(rest);
                places.truncate(rest);
            }
            tried += places.len();
            let taken = self.taken_of(&lattice, width);
            places.retain(|place| !taken[place.at]);
            if near.len() > 1 {
                for place in &mut places {
                    place.gap = nearest(place.area, near).0;
                }
            }
            places.append(&mut later);
            places.sort_unstable();
            later = places.split_off(places.partition_point(|place| place.gap <= ring));
            // Near its element it stands apart from all others, where there is such a place.
            let apart = places
                .iter()
                .take_while(|place| place.gap < LEADER)
                .find(|place| {
                    let around = widened(place.area, APART_FROM_OTHERS - CLEAR);
                    self.is_free(around, target.group, Over::Nothing)
                });
            if let Some(place) = apart {
                found = Some((place.area, None));
                break 'rings;
            }
            for Place { gap, area, .. } in places {
                if gap < LEADER {
                    found = Some((area, None));
                    break 'rings;
                }
                let line = leader(area, nearest(area, near).1);
                if self.leads(line, target.group, Over::Nothing) {
                    found = Some((area, Some(line)));
                    break 'rings;
                }
                free.push((area, line));
            }
            if tried == MOST_TRIED {
                break;
            }
        }
        let found = found.or_else(|| {
            free.into_iter()
                .find(|&(_, line)| self.leads(line, target.group, Over::Lines))
                .map(|(area, line)| (area, Some(line)))
        });
        let (area, line) = found?;
        self.take(area, NOBODY, true);
        let mut shapes = Vec::new();
        if let Some((near, far)) = line {
            shapes.push(Shape {
                form: Form::Polyline(vec![near, far]),
                stroke: Some(Stroke::black(0.18)),
                fill: None,
                mark: Mark::Outside,
            });
            for at in along(near, far) {
                self.take(
                    Area {
                        left: at.0,
                        top: at.1,
                        right: at.0,
                        bottom: at.1,
                    },
                    NOBODY,
                    false,
                );
            }
        }
        shapes.extend(flag(mark.severity, area, words));
        Some(Group {
            id: String::new(),
            role: Role::Finding {
                number: mark.number,
                rule: mark.rule,
                severity: mark.severity.word(),
            },
            title: format!("{} {}: {}", mark.rule, mark.severity.word(), mark.message),
            shapes,
        })
    }

    /// Whether a line from a mark to its element crosses nothing it may not.
    fn leads(&self, (near, far): (At, At), group: usize, over: Over) -> bool {
        along(near, far).all(|(x, y)| {
            self.is_free(
                Area {
                    left: x,
                    top: y,
                    right: x,
                    bottom: y,
                },
                group,
                over,
            )
        })
    }
}

/// Which of ascending stretches reach into a row or column of cells, of so many.
fn in_cell(stretches: &[(f64, f64)], index: usize, count: usize) -> Range<usize> {
    let first = stretches.partition_point(|stretch| cell(stretch.1, count) < index);
    let end = stretches.partition_point(|stretch| cell(stretch.0, count) <= index);
    first..end
}

/// Which of some ascending stretches share more than a point with another.
fn touched(stretches: &[(f64, f64)], among: &Range<usize>, other: (f64, f64)) -> Range<usize> {
    let some = &stretches[among.clone()];
    let first = some.partition_point(|stretch| stretch.1 <= other.0);
    let end = some.partition_point(|stretch| stretch.0 < other.1);
    among.start + first..among.start + end.max(first)
}

/// The rectangle around a straight line.
fn around(one: At, other: At) -> Area {
    Area {
        left: one.0.min(other.0),
        top: one.1.min(other.1),
        right: one.0.max(other.0),
        bottom: one.1.max(other.1),
    }
}

/// A rectangle with some thickness, so that lines have one.
fn grown(area: Area) -> Area {
    widened(area, 0.3)
}

/// A rectangle with so much more on every side.
fn widened(area: Area, by: f64) -> Area {
    Area {
        left: area.left - by,
        top: area.top - by,
        right: area.right + by,
        bottom: area.bottom + by,
    }
}

/// The shortest line between a mark and its element.
fn leader(mark: Area, element: Area) -> (At, At) {
    let across = |low: f64, high: f64, other_low: f64, other_high: f64| {
        if high < other_low {
            (high, other_low)
        } else if other_high < low {
            (low, other_high)
        } else {
            let middle = f64::midpoint(low.max(other_low), high.min(other_high));
            (middle, middle)
        }
    };
    let (x0, x1) = across(mark.left, mark.right, element.left, element.right);
    let (y0, y1) = across(mark.top, mark.bottom, element.top, element.bottom);
    ((x0, y0), (x1, y1))
}

/// Points along a line, half a millimetre apart; its first bit belongs to the mark.
fn along(near: At, far: At) -> impl Iterator<Item = At> {
    let length = (far.0 - near.0).hypot(far.1 - near.1);
    let steps = super::layout::whole(length / 0.5).max(1);
    (1..=steps).map(move |step| {
        let share = step as f64 / steps as f64;
        (
            near.0 + (far.0 - near.0) * share,
            near.1 + (far.1 - near.1) * share,
        )
    })
}

/// Width of a mark with its number, in mm.
pub(super) fn flag_width(words: &str) -> f64 {
    font::width(words, SMALL) + 2.0
}

/// The shape around a number.
pub(super) fn flag(severity: Severity, area: Area, words: &str) -> [Shape; 2] {
    let (round, stroke, fill, ink) = match severity {
        Severity::Error => (true, Stroke::black(0.35), Rgb::BLACK, Rgb::WHITE),
        Severity::Warning => (true, Stroke::black(0.5), Rgb::WHITE, Rgb::BLACK),
        Severity::NotProved => (
            true,
            Stroke {
                dash: Some((0.8, 0.5)),
                ..Stroke::black(0.35)
            },
            Rgb::WHITE,
            Rgb::BLACK,
        ),
        Severity::Note => (false, Stroke::black(0.18), Rgb::WHITE, Rgb::BLACK),
    };
    let (width, height) = (area.right - area.left, area.bottom - area.top);
    [
        Shape {
            form: Form::Rect {
                at: (area.left, area.top),
                width,
                height,
                radius: if round { height / 2.0 } else { 0.0 },
            },
            stroke: Some(stroke),
            fill: Some(fill),
            mark: Mark::Plain,
        },
        Shape {
            form: Form::Text {
                at: (
                    f64::midpoint(area.left, area.right),
                    f64::midpoint(area.top, area.bottom) + 0.72,
                ),
                text: words.to_owned(),
                size: SMALL,
                anchor: Anchor::Middle,
                bold: false,
            },
            stroke: None,
            fill: Some(ink),
            mark: Mark::Plain,
        },
    ]
}
