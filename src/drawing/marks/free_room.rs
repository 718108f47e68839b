//! Free room on a sheet: what is taken, and the nearest place for a mark, a voltage or a pole that lies on nothing.

use super::targets::Target;
use super::{HEIGHT, Marked, flag, flag_width};
use crate::drawing::index::area;
use crate::drawing::layout;
use crate::drawing::pages::Room;
use crate::drawing::scene::{Anchor, Area, At, Form, Group, Mark, Role, Shape, Stroke};
use crate::drawing::shapes::text;
use crate::drawing::words::SMALL;
use crate::drawing::{Format, font, frame};
use std::cmp::Ordering;
use std::ops::Range;

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

/// Most places tried for one mark.
const MOST_TRIED: usize = 4000;

/// What is drawn on a sheet, and where there is room left.
pub(super) struct Board {
    pub(super) room: Room,
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
    pub(super) fn new(format: Format, sheet: usize, groups: &[Group]) -> Self {
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
    pub(super) fn note(&mut self, words: &str, at: At) -> Option<Shape> {
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
                    return Some(text((left, area.bottom), words, SMALL, Anchor::Start));
                }
            }
        }
        None
    }

    /// Draws a mark beside its target; none where there is no room for it.
    pub(super) fn mark(
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
pub(super) fn around(one: At, other: At) -> Area {
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
    let steps = layout::whole(length / 0.5).max(1);
    (1..=steps).map(move |step| {
        let share = step as f64 / steps as f64;
        (
            near.0 + (far.0 - near.0) * share,
            near.1 + (far.1 - near.1) * share,
        )
    })
}
