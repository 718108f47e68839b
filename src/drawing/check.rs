//! Counts of what would make a sheet unreadable: crossings, and things that lie over each other.
//!
//! A drawing with an overlap is a fault of this program, not of the boat; tests hold every count at zero.
//! Wires, parts and texts are compared by their rectangles, through a grid of cells, so a sheet costs what it holds.

use super::scene::{Area, At, Form, Mark, OFFSHEET, Role, Sheet};
use std::collections::BTreeMap;

/// Two places nearer than this are the same, in mm.
const SAME: f64 = 0.5;
/// Two wires on one line may share no more than this, in mm.
const SHARED: f64 = 2.0;
/// A wire's end may be this far from the port it is named for, in mm.
const AT_PORT: f64 = 1.5;
/// Side of a cell of the grid, in mm.
const CELL: f64 = 25.0;

/// What was counted on a sheet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Counts {
    /// Wires.
    pub wires: usize,
    /// Drawings of parts, references included.
    pub parts: usize,
    /// References to other places.
    pub references: usize,
    /// Points where two wires cross.
    pub crossings: usize,
    /// Bends of wires.
    pub bends: usize,
    /// Segments that are neither level nor upright.
    pub oblique: usize,
    /// Pairs of wires that lie on each other.
    pub wire_overlaps: usize,
    /// Pairs of parts, or of a part and a block, that overlap.
    pub part_overlaps: usize,
    /// Wires that pass through a part or block they do not end at.
    pub through_parts: usize,
    /// Wire ends that miss the port they are named for.
    pub off_port: usize,
    /// Pairs of labels that overlap.
    pub label_overlaps: usize,
    /// Labels that lie on a part or a block.
    pub labels_on_parts: usize,
    /// Texts, labels included, that lie on another wire's line.
    pub texts_on_wires: usize,
    /// Pairs of other texts, or of a text and a label, that overlap.
    pub text_overlaps: usize,
    /// Wires without a label.
    pub unlabelled: usize,
    /// Parts that stand outside their zone or in another's, and zones that overlap.
    pub zone_faults: usize,
    /// Things outside the frame of the paper.
    pub off_sheet: usize,
    /// Length of all wires in mm.
    pub wire_length: f64,
    /// Length of all wires in mm if each went straight along and across.
    pub least_length: f64,
    /// Smallest lettering of a wire label in mm; none without labels.
    pub smallest_label: Option<f64>,
    /// What each fault is about, for messages.
    pub faults: Vec<String>,
}

impl Counts {
    /// Faults of any kind but crossings and bends, which a drawing may need.
    #[must_use]
    pub fn overlaps(&self) -> usize {
        self.oblique
            + self.wire_overlaps
            + self.part_overlaps
            + self.through_parts
            + self.off_port
            + self.label_overlaps
            + self.labels_on_parts
            + self.texts_on_wires
            + self.text_overlaps
            + self.unlabelled
            + self.zone_faults
            + self.off_sheet
    }
}

/// One straight piece of a wire.
struct Line<'s> {
    wire: &'s str,
    from: At,
    to: At,
}

impl Line<'_> {
    fn area(&self) -> Area {
        Area {
            left: self.from.0.min(self.to.0),
            top: self.from.1.min(self.to.1),
            right: self.from.0.max(self.to.0),
            bottom: self.from.1.max(self.to.1),
        }
    }

    fn level(&self) -> bool {
        (self.from.1 - self.to.1).abs() < 1e-6
    }

    fn upright(&self) -> bool {
        (self.from.0 - self.to.0).abs() < 1e-6
    }
}

/// A part, a block or a text with its rectangle.
struct Thing<'s> {
    name: &'s str,
    area: Area,
    zone: Option<&'s str>,
    zoned: bool,
    label: bool,
}

/// Rectangles hashed into square cells.
struct Cells {
    cells: BTreeMap<(i64, i64), Vec<usize>>,
}

impl Cells {
    fn new(areas: impl Iterator<Item = Area>) -> Self {
        let mut cells: BTreeMap<(i64, i64), Vec<usize>> = BTreeMap::new();
        for (index, area) in areas.enumerate() {
            for key in Self::keys(area) {
                cells.entry(key).or_default().push(index);
            }
        }
        Self { cells }
    }

    fn keys(area: Area) -> impl Iterator<Item = (i64, i64)> {
        #[allow(clippy::cast_possible_truncation)] // a sheet has a few dozen cells
        let cell = |place: f64| (place / CELL).floor() as i64;
        let (left, right) = (cell(area.left), cell(area.right));
        let (top, bottom) = (cell(area.top), cell(area.bottom));
        (left..=right).flat_map(move |x| (top..=bottom).map(move |y| (x, y)))
    }

    /// Indices of rectangles near one, each once, in order.
    fn near(&self, area: Area) -> Vec<usize> {
        let mut found: Vec<usize> = Self::keys(area)
            .filter_map(|key| self.cells.get(&key))
            .flatten()
            .copied()
            .collect();
        found.sort_unstable();
        found.dedup();
        found
    }
}

/// The part of a terminal's name before its last point.
fn part_of(terminal: &str) -> &str {
    terminal.rsplit_once('.').map_or(terminal, |(part, _)| part)
}

/// How much of a level or upright line lies inside a rectangle drawn in by a margin.
fn inside(line: &Line<'_>, area: Area, margin: f64) -> f64 {
    let lines = line.area();
    let along =
        |from: f64, to: f64, low: f64, high: f64| to.min(high - margin) - from.max(low + margin);
    let x = along(lines.left, lines.right, area.left, area.right);
    let y = along(lines.top, lines.bottom, area.top, area.bottom);
    if line.level() && y >= 0.0 {
        x
    } else if line.upright() && x >= 0.0 {
        y
    } else {
        f64::NEG_INFINITY
    }
}

/// Counts the faults of a sheet.
#[must_use]
pub fn check(sheet: &Sheet) -> Counts {
    let mut counts = Counts::default();
    let mut lines: Vec<Line<'_>> = Vec::new();
    let mut ends: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    let mut named: Vec<(&str, &str, At)> = Vec::new();
    let mut labelled: BTreeMap<&str, usize> = BTreeMap::new();
    let mut ports: BTreeMap<&str, At> = BTreeMap::new();
    let mut parts: Vec<Thing<'_>> = Vec::new();
    let mut texts: Vec<Thing<'_>> = Vec::new();
    let mut zones: Vec<(&str, Area)> = Vec::new();
    let paper = Area {
        left: 0.0,
        top: 0.0,
        right: sheet.width,
        bottom: sheet.height,
    };
    for group in &sheet.groups {
        let mut area: Option<Area> = None;
        let (name, zone, solid) = match &group.role {
            Role::Part {
                name, zone, kind, ..
            } => {
                counts.references += usize::from(*kind == OFFSHEET);
                (name.as_str(), zone.as_deref(), true)
            }
            Role::Block { name } => (name.as_str(), None, true),
            Role::WireLabel { number } => {
                labelled.insert(number, 1);
                (number.as_str(), None, false)
            }
            _ => ("", None, false),
        };
        for shape in &group.shapes {
            let Some(own) = shape.form.area() else {
                continue;
            };
            if own.left < paper.left
                || own.top < paper.top
                || own.right > paper.right
                || own.bottom > paper.bottom
            {
                counts.off_sheet += 1;
                counts.faults.push(format!("{} leaves the paper", group.id));
            }
            match (&shape.form, &group.role, &shape.mark) {
                (Form::Text { size, .. }, role, _) => {
                    let label = matches!(role, Role::WireLabel { .. });
                    if label {
                        let least = counts.smallest_label.get_or_insert(*size);
                        *least = least.min(*size);
                    }
                    // Texts of the frame and inside a block are laid out by hand.
                    if !matches!(role, Role::Frame | Role::Block { .. }) {
                        texts.push(Thing {
                            name: if label { name } else { &group.id },
                            area: own,
                            zone: None,
                            zoned: false,
                            label,
                        });
                    }
                }
                (
                    Form::Polyline(points),
                    Role::Wire {
                        number, from, to, ..
                    },
                    Mark::Wire,
                ) => {
                    let before = lines.len();
                    for pair in points.windows(2) {
                        lines.push(Line {
                            wire: number,
                            from: pair[0],
                            to: pair[1],
                        });
                    }
                    counts.bends += (lines.len() - before).saturating_sub(1);
                    let (Some(&first), Some(&last)) = (points.first(), points.last()) else {
                        continue;
                    };
                    for pair in points.windows(2) {
                        counts.wire_length += (pair[0].0 - pair[1].0).hypot(pair[0].1 - pair[1].1);
                    }
                    counts.least_length += (first.0 - last.0).abs() + (first.1 - last.1).abs();
                    let list = ends.entry(number).or_default();
                    for (terminal, at) in [(from, first), (to, last)] {
                        if let Some(terminal) = terminal {
                            list.push(terminal);
                            named.push((number, terminal, at));
                        }
                    }
                }
                (_, Role::Zone { name }, Mark::Plain) => zones.push((name, own)),
                (Form::Circle { centre, .. }, _, Mark::Port(port)) => {
                    ports.insert(port, *centre);
                }
                (_, _, Mark::Plain) if solid => {
                    area = Some(area.map_or(own, |known| known.union(own)));
                }
                _ => {}
            }
        }
        if let Some(area) = area {
            parts.push(Thing {
                name,
                area,
                zone,
                zoned: matches!(group.role, Role::Part { .. }),
                label: false,
            });
        }
    }
    counts.wires = ends.len();
    counts.parts = parts.iter().filter(|part| part.zoned).count();
    for (wire, terminal, at) in &named {
        let near = ports.get(terminal).is_some_and(|port| {
            (port.0 - at.0).abs() <= AT_PORT && (port.1 - at.1).abs() <= AT_PORT
        });
        if !near {
            counts.off_port += 1;
            counts.faults.push(format!("wire {wire} misses {terminal}"));
        }
    }
    for wire in ends.keys().filter(|wire| !labelled.contains_key(*wire)) {
        counts.unlabelled += 1;
        counts.faults.push(format!("wire {wire} has no label"));
    }
    count_lines(&lines, &mut counts);
    count_parts(&parts, &lines, &ends, &zones, &mut counts);
    count_texts(&texts, &parts, &lines, &mut counts);
    counts
}

/// Wires against wires.
fn count_lines(lines: &[Line<'_>], counts: &mut Counts) {
    let cells = Cells::new(lines.iter().map(Line::area));
    for (index, line) in lines.iter().enumerate() {
        if !line.level() && !line.upright() {
            counts.oblique += 1;
            counts.faults.push(format!("wire {} is oblique", line.wire));
        }
        let area = line.area();
        for other in cells.near(area).into_iter().filter(|&other| other > index) {
            let second = &lines[other];
            if second.wire == line.wire {
                continue;
            }
            let far = second.area();
            let (x, y) = (
                area.right.min(far.right) - area.left.max(far.left),
                area.bottom.min(far.bottom) - area.top.max(far.top),
            );
            let along = line.level() && second.level() && y.abs() <= SAME && x > SHARED
                || line.upright() && second.upright() && x.abs() <= SAME && y > SHARED;
            if along {
                counts.wire_overlaps += 1;
                counts.faults.push(format!(
                    "wires {} and {} lie on each other",
                    line.wire, second.wire
                ));
            }
            let (level, upright) = if line.level() {
                (area, far)
            } else {
                (far, area)
            };
            let crosses = line.level() != second.level()
                && level.left + SAME < upright.left
                && upright.left < level.right - SAME
                && upright.top + SAME < level.top
                && level.top < upright.bottom - SAME;
            if crosses {
                counts.crossings += 1;
            }
        }
    }
}

/// Parts against parts, wires and zones.
fn count_parts(
    parts: &[Thing<'_>],
    lines: &[Line<'_>],
    ends: &BTreeMap<&str, Vec<&str>>,
    zones: &[(&str, Area)],
    counts: &mut Counts,
) {
    let cells = Cells::new(parts.iter().map(|part| part.area));
    for (index, part) in parts.iter().enumerate() {
        for other in cells
            .near(part.area)
            .into_iter()
            .filter(|&other| other > index)
        {
            if part.area.overlaps(parts[other].area, SAME) {
                counts.part_overlaps += 1;
                counts.faults.push(format!(
                    "parts {} and {} overlap",
                    part.name, parts[other].name
                ));
            }
        }
        if !part.zoned {
            continue;
        }
        for (zone, area) in zones {
            let held = area.left - SAME <= part.area.left
                && area.top - SAME <= part.area.top
                && part.area.right <= area.right + SAME
                && part.area.bottom <= area.bottom + SAME;
            let own = part.zone == Some(zone);
            let foreign = part.zone.is_some() && !own && area.overlaps(part.area, SAME);
            if own && !held || foreign {
                counts.zone_faults += 1;
                counts.faults.push(format!(
                    "part {} stands across the edge of zone {zone}",
                    part.name
                ));
            }
        }
    }
    for (index, (zone, area)) in zones.iter().enumerate() {
        for (other, far) in &zones[index + 1..] {
            if area.overlaps(*far, SAME) {
                counts.zone_faults += 1;
                counts
                    .faults
                    .push(format!("zones {zone} and {other} overlap"));
            }
        }
    }
    let mut passed: Vec<(&str, usize)> = Vec::new();
    for line in lines {
        let own = ends.get(line.wire).map_or(&[][..], Vec::as_slice);
        for at in cells.near(line.area()) {
            let part = &parts[at];
            let foreign = !own.iter().any(|terminal| part_of(terminal) == part.name);
            if foreign && inside(line, part.area, SAME) > SAME && !passed.contains(&(line.wire, at))
            {
                passed.push((line.wire, at));
                counts.through_parts += 1;
                counts
                    .faults
                    .push(format!("wire {} passes through {}", line.wire, part.name));
            }
        }
    }
}

/// Texts against texts, parts and wires.
fn count_texts(texts: &[Thing<'_>], parts: &[Thing<'_>], lines: &[Line<'_>], counts: &mut Counts) {
    let text_cells = Cells::new(texts.iter().map(|text| text.area));
    let part_cells = Cells::new(parts.iter().map(|part| part.area));
    let line_cells = Cells::new(lines.iter().map(Line::area));
    for (index, text) in texts.iter().enumerate() {
        for other in text_cells
            .near(text.area)
            .into_iter()
            .filter(|&other| other > index)
        {
            let second = &texts[other];
            if text.area.overlaps(second.area, SAME) {
                if text.label && second.label {
                    counts.label_overlaps += 1;
                } else {
                    counts.text_overlaps += 1;
                }
                counts.faults.push(format!(
                    "texts of {} and {} overlap",
                    text.name, second.name
                ));
            }
        }
        if text.label {
            for at in part_cells.near(text.area) {
                if text.area.overlaps(parts[at].area, SAME) {
                    counts.labels_on_parts += 1;
                    counts
                        .faults
                        .push(format!("label {} lies on {}", text.name, parts[at].name));
                }
            }
        }
        for at in line_cells.near(text.area) {
            let line = &lines[at];
            let own = text.label && line.wire == text.name;
            if !own && inside(line, text.area, SAME) > SAME {
                counts.texts_on_wires += 1;
                counts
                    .faults
                    .push(format!("text of {} lies on wire {}", text.name, line.wire));
            }
        }
    }
}
