//! A board cut to the paper of the lists: tiles that overlap, with crosses that meet and bars to check the scale.

use super::place::Layout;
use crate::drawing::bench_page::{Ink, Pager, one_line, paper_size};
use crate::drawing::frame::FILING_MARGIN;
use crate::drawing::scene::{Anchor, Area, At, Form, Group, Role, Shape, Sheet, SheetKind, Stroke};
use crate::drawing::words::TEXT;
use crate::schedule::Head;
use crate::system::Paper;

/// Margin of a tile, in mm.
const MARGIN: f64 = 12.0;
/// What two tiles share, in mm.
pub(super) const OVERLAP: f64 = 10.0;
/// Room around the board, in mm.
const AROUND: f64 = 12.0;
/// Most tiles of one board; a larger one is printed from its large sheet.
const MOST_TILES: usize = 240;
/// Two bars to measure: 100 mm, and 4 in of 25.4 mm.
const BARS: [(f64, &str); 2] = [(100.0, "100 mm"), (101.6, "4 in")];

/// How a board is cut.
pub(super) struct Plan {
    /// Upper left corner of the first tile's window, on the board.
    origin: At,
    /// Width and height of a window.
    window: (f64, f64),
    paper: (f64, f64),
    columns: usize,
    rows: usize,
    /// Tiles with something on them, as row and column from 0.
    printed: Vec<(usize, usize)>,
}

impl Plan {
    pub(super) fn new(paper: Paper, layout: &Layout, shapes: &[Shape]) -> Self {
        let (height, width) = paper_size(paper);
        let window = (width - 2.0 * MARGIN, height - 2.0 * MARGIN);
        let (left, top, right, bottom) = layout.bounds();
        let count = |length: f64, window: f64| {
            let tiles = ((length + 2.0 * AROUND - OVERLAP) / (window - OVERLAP)).ceil();
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            // at least one, bounded below
            let tiles = tiles.clamp(1.0, 1e6) as usize;
            tiles
        };
        let (columns, rows) = (count(right - left, window.0), count(bottom - top, window.1));
        // The board stands in the middle of what its tiles cover.
        let cover = |tiles: usize, window: f64| tiles as f64 * (window - OVERLAP) + OVERLAP;
        let origin = (
            f64::midpoint(left, right) - cover(columns, window.0) / 2.0,
            f64::midpoint(top, bottom) - cover(rows, window.1) / 2.0,
        );
        let mut plan = Self {
            origin,
            window,
            paper: (width, height),
            columns,
            rows,
            printed: Vec::new(),
        };
        if columns.saturating_mul(rows) <= MOST_TILES {
            for row in 0..rows {
                for column in 0..columns {
                    let area = plan.area(row, column);
                    if shapes.iter().any(|shape| touches(&shape.form, area)) {
                        plan.printed.push((row, column));
                    }
                }
            }
        }
        plan
    }

    /// What a tile shows of the board.
    fn area(&self, row: usize, column: usize) -> Area {
        let left = self.origin.0 + column as f64 * (self.window.0 - OVERLAP);
        let top = self.origin.1 + row as f64 * (self.window.1 - OVERLAP);
        Area {
            left,
            top,
            right: left + self.window.0,
            bottom: top + self.window.1,
        }
    }

    /// Which tile lies where.
    pub(super) fn map(&self, pager: &mut Pager<'_>, layout: &Layout) {
        if self.printed.is_empty() {
            pager.paragraph("The board takes more tiles than can be joined by hand: print the large sheet on a roll.");
            return;
        }
        let whole = (
            self.columns as f64 * (self.window.0 - OVERLAP) + OVERLAP,
            self.rows as f64 * (self.window.1 - OVERLAP) + OVERLAP,
        );
        let scale = (pager.room() / whole.0).min(70.0 / whole.1).min(0.2);
        let left = FILING_MARGIN;
        pager.paragraph(&format!(
            "{} tiles, named row/column; empty ones are left out. Neighbours overlap by {OVERLAP} mm: lay cross on cross.",
            self.printed.len()
        ));
        let (top, ink) = pager.take(whole.1 * scale + 4.0);
        let at = |(x, y): At| {
            (
                left + (x - self.origin.0) * scale,
                top + (y - self.origin.1) * scale,
            )
        };
        for &(row, column) in &self.printed {
            let area = self.area(row, column);
            let (x, y) = at((area.left, area.top));
            let size = (self.window.0 * scale, self.window.1 * scale);
            ink.rect((x, y), size.0, size.1, None);
            let name = format!("{}/{}", row + 1, column + 1);
            if size.0 > 9.0 && size.1 > 4.0 {
                ink.text((x + 0.8, y + 3.0), &name, TEXT, Anchor::Start);
            }
        }
        for run in &layout.runs {
            ink.line(run.points.iter().map(|&point| at(point)).collect(), 0.5);
        }
    }

    /// The tiles as sheets.
    pub(super) fn sheets(&self, head: &Head, title: &str, shapes: &[Shape]) -> Vec<Sheet> {
        let (width, height) = self.paper;
        self.printed
            .iter()
            .map(|&(row, column)| {
                let area = self.area(row, column);
                let offset = (MARGIN - area.left, MARGIN - area.top);
                let inside: Vec<Shape> = shapes
                    .iter()
                    .flat_map(|shape| clipped(shape, area))
                    .collect();
                let mut ink = Ink::default();
                for mark in self.marks(row, column) {
                    ink.cross((mark.0 + offset.0, mark.1 + offset.1), 4.0, 0.18);
                }
                let name = format!("{}/{}", row + 1, column + 1);
                ink.bold((MARGIN, 8.0), &format!("tile {name}"), TEXT, Anchor::Start);
                let words = format!("{title}, {}, {}", head.boat, head.fingerprint);
                let words = one_line(&words, width - 2.0 * MARGIN - 40.0, TEXT);
                ink.text((MARGIN + 30.0, 8.0), &words, TEXT, Anchor::Start);
                scale_bars(&mut ink, (MARGIN + 4.0, height - 6.0));
                Sheet {
                    kind: SheetKind::Bench,
                    number: 1,
                    count: 1,
                    width,
                    height,
                    title: format!("{title}, tile {name}"),
                    groups: vec![
                        Group {
                            id: "board".to_owned(),
                            role: Role::Block {
                                name: "board".to_owned(),
                            },
                            title: String::new(),
                            shapes: moved(&inside, offset),
                        },
                        ink.group("marks", "marks"),
                    ],
                    filled: 1.0,
                }
            })
            .collect()
    }

    /// Crosses of a tile, on the board: in the middle of what it shares with its neighbours.
    fn marks(&self, row: usize, column: usize) -> [At; 4] {
        let at = |row: usize, column: usize| {
            let area = self.area(row, column);
            (area.left + OVERLAP / 2.0, area.top + OVERLAP / 2.0)
        };
        [
            at(row, column),
            at(row, column + 1),
            at(row + 1, column),
            at(row + 1, column + 1),
        ]
    }
}

/// Bars to measure, side by side.
pub(super) fn scale_bars(ink: &mut Ink, (x, y): At) {
    let mut left = x;
    for (length, name) in BARS {
        ink.line(vec![(left, y), (left + length, y)], 0.35);
        for end in [left, left + length] {
            ink.line(vec![(end, y - 2.0), (end, y + 2.0)], 0.25);
        }
        ink.text((left + length / 2.0, y - 0.8), name, TEXT, Anchor::Middle);
        left += length + 15.0;
    }
}

/// Shapes moved as a whole.
pub(super) fn moved(shapes: &[Shape], (dx, dy): At) -> Vec<Shape> {
    let shift = |at: At| (at.0 + dx, at.1 + dy);
    shapes
        .iter()
        .map(|shape| {
            let mut shape = shape.clone();
            match &mut shape.form {
                Form::Polyline(points) | Form::Polygon(points) => {
                    for at in points.iter_mut() {
                        *at = shift(*at);
                    }
                }
                Form::Rect { at, .. } | Form::Text { at, .. } => *at = shift(*at),
                Form::Circle { centre, .. } | Form::Arc { centre, .. } => *centre = shift(*centre),
            }
            shape
        })
        .collect()
}

/// Whether a shape reaches into a window.
fn touches(form: &Form, window: Area) -> bool {
    match form {
        Form::Polyline(points) => points
            .windows(2)
            .any(|pair| clip(pair[0], pair[1], window).is_some()),
        other => other
            .area()
            .is_some_and(|area| area.overlaps(window, -1e-9)),
    }
}

/// What a window shows of a shape: lines end at its edge, other shapes are whole where they touch it.
fn clipped(shape: &Shape, window: Area) -> Vec<Shape> {
    let Form::Polyline(points) = &shape.form else {
        return if touches(&shape.form, window) {
            vec![shape.clone()]
        } else {
            Vec::new()
        };
    };
    let mut parts: Vec<Vec<At>> = Vec::new();
    for pair in points.windows(2) {
        let Some((from, to)) = clip(pair[0], pair[1], window) else {
            continue;
        };
        match parts.last_mut() {
            Some(part) if part.last() == Some(&from) => part.push(to),
            _ => parts.push(vec![from, to]),
        }
    }
    parts
        .into_iter()
        .map(|points| Shape {
            form: Form::Polyline(points),
            stroke: shape.stroke.map(|stroke| Stroke { ..stroke }),
            fill: shape.fill,
            mark: shape.mark.clone(),
        })
        .collect()
}

/// The part of a straight line inside a window, after Y.-D. Liang and B. A. Barsky (1984).
fn clip(from: At, to: At, window: Area) -> Option<(At, At)> {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let (mut first, mut last) = (0.0_f64, 1.0_f64);
    for (step, room) in [
        (-dx, from.0 - window.left),
        (dx, window.right - from.0),
        (-dy, from.1 - window.top),
        (dy, window.bottom - from.1),
    ] {
        if step.abs() < 1e-12 {
            if room < 0.0 {
                return None;
            }
            continue;
        }
        let share = room / step;
        if step < 0.0 {
            first = first.max(share);
        } else {
            last = last.min(share);
        }
    }
    let at = |share: f64| (from.0 + share * dx, from.1 + share * dy);
    (first <= last).then(|| {
        let start = if first <= 0.0 { from } else { at(first) };
        let end = if last >= 1.0 { to } else { at(last) };
        (start, end)
    })
}

#[cfg(test)]
mod tests {
    use super::super::place::Run;
    use super::*;

    fn board(width: f64, height: f64) -> Layout {
        Layout {
            nodes: vec![(0.0, 0.0), (width, height)],
            runs: vec![Run {
                branch: 0,
                points: vec![(0.0, 0.0), (width, 0.0), (width, height)],
                leader: Vec::new(),
            }],
            blocks: Vec::new(),
            breaks: Vec::new(),
        }
    }

    fn ink(layout: &Layout) -> Vec<Shape> {
        let mut ink = Ink::default();
        ink.line(layout.runs[0].points.clone(), 0.35);
        ink.shapes
    }

    #[test]
    fn tiles_cover_the_board_and_their_crosses_meet() {
        for paper in [Paper::A4, Paper::Letter] {
            for (width, height) in [(100.0, 50.0), (900.0, 260.0), (2500.0, 700.0)] {
                let layout = board(width, height);
                let shapes = ink(&layout);
                let plan = Plan::new(paper, &layout, &shapes);
                // Every point of the line is on a printed tile.
                for pair in layout.runs[0].points.windows(2) {
                    for step in 0..=100 {
                        let share = f64::from(step) / 100.0;
                        let x = pair[0].0 + share * (pair[1].0 - pair[0].0);
                        let y = pair[0].1 + share * (pair[1].1 - pair[0].1);
                        assert!(plan.printed.iter().any(|&(row, column)| {
                            let area = plan.area(row, column);
                            area.left <= x && x <= area.right && area.top <= y && y <= area.bottom
                        }));
                    }
                }
                for &(row, column) in &plan.printed {
                    let here = plan.marks(row, column);
                    let beside = plan.marks(row, column + 1);
                    let below = plan.marks(row + 1, column);
                    for (a, b) in [
                        (here[1], beside[0]),
                        (here[3], beside[2]),
                        (here[2], below[0]),
                    ] {
                        assert!((a.0 - b.0).hypot(a.1 - b.1) < 1e-9);
                    }
                    let area = plan.area(row, column);
                    for mark in here {
                        assert!(mark.0 > area.left && mark.0 < area.right);
                        assert!(mark.1 > area.top && mark.1 < area.bottom);
                    }
                }
                // What tiles show together is the line, with the overlaps twice.
                assert!(plan.printed.len() <= plan.rows * plan.columns);
            }
        }
    }

    #[test]
    fn lines_end_at_the_edge_of_a_window() {
        let window = Area {
            left: 0.0,
            top: 0.0,
            right: 10.0,
            bottom: 10.0,
        };
        assert_eq!(
            clip((-5.0, 5.0), (15.0, 5.0), window),
            Some(((0.0, 5.0), (10.0, 5.0)))
        );
        assert_eq!(clip((-5.0, 12.0), (15.0, 12.0), window), None);
        assert_eq!(
            clip((2.0, 2.0), (3.0, 4.0), window),
            Some(((2.0, 2.0), (3.0, 4.0)))
        );
        assert_eq!(clip((-1.0, -3.0), (-1.0, 20.0), window), None);
    }
}
