//! The chart of each fuse block at the size of its lid, with the ways where they are, to be cut out and stuck on.

use super::bench::{Canvas, EDGE, FINE, RULE_HEIGHT, cut_to, rule, upright};
use super::scene::{Anchor, At, Shape, Sheet};
use super::shapes::{rect, text};
use crate::font;
use crate::schedule::{Head, Lid, LidWay, Rows, Shortener, lids};

/// Height of a line over the size of its lettering.
const LINE: f64 = 1.25;
/// Free edge inside a cell, in mm.
const PAD: f64 = 1.0;
/// Largest lettering of a lid, in mm.
const LARGEST: f64 = 4.0;
/// Height of the title of a lid, in mm.
const TITLE: f64 = 6.5;
/// Paper that a lid larger than the lists' paper gets around it, in mm.
const AROUND: f64 = 40.0;

/// One sheet for each block that states its size, with the block's name.
pub(super) fn sheets(rows: &Rows<'_>, head: &Head) -> Vec<(String, Vec<Sheet>)> {
    let lids = lids(rows.facts());
    let sized = lids.iter().filter_map(|lid| Some((lid, lid.size_mm?)));
    sized
        .enumerate()
        .map(|(index, (lid, size))| {
            let sheet = sheet(lid, size, head, index + 1);
            (lid.block.clone(), vec![sheet])
        })
        .collect()
}

fn sheet(lid: &Lid, size: (f64, f64), head: &Head, number: usize) -> Sheet {
    let (short, long) = upright(head.paper);
    let holds =
        |paper: (f64, f64)| paper.0 >= size.0 + 2.0 * EDGE && paper.1 >= size.1 + AROUND + EDGE;
    let paper = [(short, long), (long, short)]
        .into_iter()
        .find(|&paper| holds(paper))
        .unwrap_or((
            (size.0 + 2.0 * EDGE).max(short),
            (size.1 + AROUND + EDGE).max(short),
        ));
    let mut canvas = Canvas::new(paper, format!("Lid of {}", lid.block));
    let title = cut_to(
        &format!("Lid of {}", lid.block),
        4.0,
        (paper.0 - 2.0 * EDGE) / 2.0,
    );
    canvas.head(head, &title, number);
    let words = "100 mm. Cut along the outline; one copy on the lid, one at the helm.";
    canvas.block(
        "rule-100mm",
        "rule-100mm".to_owned(),
        rule((EDGE, 21.0), words),
    );
    let at = ((paper.0 - size.0) / 2.0, 21.0 + RULE_HEIGHT + 4.0);
    let mut shapes = vec![rect(at, size, Some(0.25), None)];
    let room = size.0 - 2.0 * PAD;
    let name = format!(
        "{}, {}: never fit a larger one than printed",
        lid.block, head.boat
    );
    shapes.push(text(
        (at.0 + PAD, at.1 + 4.4),
        cut_to(&name, font_for(&name, room), room),
        font_for(&name, room),
        Anchor::Start,
    ));
    canvas.block("lid", format!("lid {}", lid.block), shapes);
    let columns = lid.columns.max(1);
    let rows = lid.ways.len().div_ceil(columns).max(1);
    let cell = (size.0 / columns as f64, (size.1 - TITLE) / rows as f64);
    let Some(lettering) = Lettering::of(lid, cell) else {
        let words =
            "This lid is too small for its ways in letters that can be read: use the fuse chart.";
        let lines = super::bench::wrapped(words, FINE, room);
        let shapes = lines.into_iter().enumerate().map(|(row, words)| {
            let base = at.1 + TITLE + FINE * (1.0 + LINE * row as f64);
            text((at.0 + PAD, base), words, FINE, Anchor::Start)
        });
        canvas.group("refused", "", shapes.collect());
        return canvas.finish();
    };
    let mut short = Shortener::new(lettering.letters);
    for (index, way) in lid.ways.iter().enumerate() {
        let (column, row) = (index / rows, index % rows);
        let corner = (
            at.0 + cell.0 * column as f64,
            at.1 + TITLE + cell.1 * row as f64,
        );
        let mut shapes = vec![rect(corner, cell, Some(0.18), None)];
        shapes.extend(lettering.way(way, corner, &mut short));
        canvas.block(
            format!("way-{}", index + 1),
            format!("way {}", way.way),
            shapes,
        );
    }
    canvas.finish()
}

/// The largest lettering of a title that fits, not below the smallest.
fn font_for(words: &str, room: f64) -> f64 {
    let size = room / font::width(words, 1.0).max(1e-9);
    crate::units::round_down_to(size.clamp(FINE, 3.0), 0.01)
}

/// How the ways of a lid are written.
struct Lettering {
    size: f64,
    cell: (f64, f64),
    /// From the edge of the cell to the rating's end, and to the name.
    columns: (f64, f64),
    /// Characters that a name may have.
    letters: usize,
    /// The wire stands on a line of its own.
    two_lines: bool,
}

impl Lettering {
    /// Two lines where they fit, else one; none where even that cannot be read.
    fn of(lid: &Lid, cell: (f64, f64)) -> Option<Self> {
        const FEWEST: usize = 6;
        let widest = |size: f64, words: fn(&LidWay) -> &str| {
            let widths = lid.ways.iter().map(|way| font::width(words(way), size));
            widths.fold(0.0, f64::max)
        };
        let by_lines = [(true, 2.0), (false, 1.0)];
        by_lines.into_iter().find_map(|(two_lines, lines)| {
            let by_height = (cell.1 - PAD) / (lines * LINE);
            // From large to small, so that the names keep their letters.
            let mut size = by_height.min(LARGEST);
            while size >= FINE {
                let number = widest(size, |way| &way.way);
                let rating = PAD + number + 2.0 * PAD + widest(size, |way| &way.rating);
                let name = rating + 2.0 * PAD;
                // The widest letter is nearly one em: a name of so many letters fits whatever they are.
                let room = (cell.0 - name - PAD) / size;
                let letters = floor(room);
                let longest = lid.ways.iter().map(|way| way.name.chars().count()).max();
                let wanted = longest.unwrap_or(0).min(18);
                if letters >= wanted.max(1) || (letters >= FEWEST && size < FINE + 0.1) {
                    return Some(Self {
                        size,
                        cell,
                        columns: (rating, name),
                        letters: letters.max(1),
                        two_lines,
                    });
                }
                size -= 0.1;
            }
            None
        })
    }

    fn way(&self, way: &LidWay, (x, y): At, short: &mut Shortener) -> Vec<Shape> {
        let lines = if self.two_lines { 2.0 } else { 1.0 };
        let top = y + (self.cell.1 - lines * LINE * self.size) / 2.0;
        let base = |row: f64| top + self.size * (LINE * row + (LINE - 1.0) / 2.0 + 0.8);
        let name = short.fit("", &way.name.to_uppercase());
        let (rating, left) = (x + self.columns.0, x + self.columns.1);
        let room = self.cell.0 - self.columns.1 - PAD;
        let size = self.size;
        let mut shapes = vec![
            text((x + PAD, base(0.0)), way.way.as_str(), size, Anchor::Start),
            text((rating, base(0.0)), way.rating.as_str(), size, Anchor::End),
            text(
                (left, base(0.0)),
                cut_to(&name, size, room),
                size,
                Anchor::Start,
            ),
        ];
        if self.two_lines {
            let size = FINE.min(self.size);
            shapes.push(text(
                (left, base(1.0)),
                cut_to(&way.wire, size, room),
                size,
                Anchor::Start,
            ));
        }
        shapes
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // letters of a cell
fn floor(value: f64) -> usize {
    value.clamp(0.0, 1000.0).floor() as usize
}
