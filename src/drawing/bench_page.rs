//! Pages for the bench: a head, a foot, paragraphs and tables set in millimetres, on the paper of the lists.
//!
//! Rows never leave their page and text never leaves its cell: it is broken into lines. Nothing here knows wiring.

use super::filling::{Filling, or_empty};
use super::frame::{FILING_MARGIN, MARGIN};
use super::scene::{Anchor, At, Form, Group, Mark, Rgb, Role, Shape, Sheet, SheetKind, Stroke};
use super::words::{HEADING, TEXT};
use crate::font::{self, Extent};
use crate::schedule::{DEFERENCE, Head};
use crate::system::Paper;

/// Height of a line of text, in em.
const LINE_EM: f64 = 1.3;
/// Room inside a cell, in mm.
const PAD: f64 = 0.8;
/// Side of a box to tick, in mm.
const TICK: f64 = 4.0;
/// Every third row is shaded, so that a finger can follow it.
const SHADE: Rgb = Rgb(232, 232, 232);
/// Most characters of a text in one cell; what is longer is no label of a bench.
const MOST_CHARACTERS: usize = 400;

/// Shapes as they are drawn.
#[derive(Clone, Debug, Default)]
pub(super) struct Ink {
    pub(super) shapes: Vec<Shape>,
}

impl Ink {
    pub(super) fn line(&mut self, points: Vec<At>, width: f64) {
        self.stroke(points, Stroke::black(width));
    }

    pub(super) fn dashed(&mut self, points: Vec<At>, width: f64) {
        self.stroke(
            points,
            Stroke {
                dash: Some((1.5, 1.2)),
                ..Stroke::black(width)
            },
        );
    }

    pub(super) fn stroke(&mut self, points: Vec<At>, stroke: Stroke) {
        self.push(Form::Polyline(points), Some(stroke), None);
    }

    pub(super) fn rect(&mut self, at: At, width: f64, height: f64, fill: Option<Rgb>) {
        let form = Form::Rect {
            at,
            width,
            height,
            radius: 0.0,
        };
        let stroke = fill.is_none().then(|| Stroke::black(0.25));
        self.push(form, stroke, fill);
    }

    pub(super) fn framed(&mut self, at: At, width: f64, height: f64) {
        let form = Form::Rect {
            at,
            width,
            height,
            radius: 0.0,
        };
        self.push(form, Some(Stroke::black(0.35)), Some(Rgb::WHITE));
    }

    pub(super) fn circle(&mut self, centre: At, radius: f64, fill: Option<Rgb>, width: f64) {
        self.push(
            Form::Circle { centre, radius },
            Some(Stroke::black(width)),
            fill,
        );
    }

    pub(super) fn polygon(&mut self, points: Vec<At>, fill: Rgb) {
        self.push(Form::Polygon(points), None, Some(fill));
    }

    pub(super) fn cross(&mut self, (x, y): At, arm: f64, width: f64) {
        self.line(vec![(x - arm, y), (x + arm, y)], width);
        self.line(vec![(x, y - arm), (x, y + arm)], width);
    }

    pub(super) fn text(&mut self, at: At, text: &str, size: f64, anchor: Anchor) {
        self.lettering(at, text, size, anchor, false);
    }

    pub(super) fn bold(&mut self, at: At, text: &str, size: f64, anchor: Anchor) {
        self.lettering(at, text, size, anchor, true);
    }

    fn lettering(&mut self, at: At, text: &str, size: f64, anchor: Anchor, bold: bool) {
        if !text.is_empty() {
            let form = Form::Text {
                at,
                text: text.to_owned(),
                size,
                anchor,
                bold,
            };
            self.push(form, None, Some(Rgb::BLACK));
        }
    }

    fn push(&mut self, form: Form, stroke: Option<Stroke>, fill: Option<Rgb>) {
        self.shapes.push(Shape {
            form,
            stroke,
            fill,
            mark: Mark::Plain,
        });
    }

    pub(super) fn group(self, id: &str, name: &str) -> Group {
        Group {
            id: id.to_owned(),
            role: Role::Block {
                name: name.to_owned(),
            },
            title: String::new(),
            shapes: self.shapes,
        }
    }
}

/// Share by which a reader's own setting of the embedded font may be wider than counted.
const SPARE: f64 = 1.06;

/// Width of a text on these pages, in mm.
fn wide(text: &str, size: f64) -> f64 {
    SPARE * font::set_width(text, size)
}

/// A text in lines that are no wider than a width.
pub(super) fn wrapped(text: &str, width: f64, size: f64) -> Vec<String> {
    let text = match text.char_indices().nth(MOST_CHARACTERS) {
        Some((end, _)) => &text[..end],
        None => text,
    };
    let mut filling = Filling::new(width, |extent| SPARE * extent.set_width(size));
    for word in text.split_whitespace() {
        if filling.takes(word) {
            continue;
        }
        // A word longer than a line is broken behind a point or a hyphen where it has one in time.
        for character in word.chars() {
            let before = filling.line().len();
            let fits = filling.push(character.encode_utf8(&mut [0; 4]));
            if !fits && before > 0 {
                let after = filling.line()[..before].rfind(['.', '-', '_', '/']);
                filling.break_at(after.map_or(before, |at| at + 1));
            }
        }
    }
    or_empty(filling.finish())
}

/// A column of a table.
#[derive(Clone, Copy, Debug)]
pub(super) struct Column {
    pub(super) heading: &'static str,
    /// Its share of the width.
    pub(super) share: f64,
    /// It holds boxes to tick.
    pub(super) tick: bool,
}

pub(super) const fn column(heading: &'static str, share: f64) -> Column {
    Column {
        heading,
        share,
        tick: false,
    }
}

pub(super) const fn tick(heading: &'static str) -> Column {
    Column {
        heading,
        share: 10.0,
        tick: true,
    }
}

/// A row broken into lines, with its height.
struct Row {
    cells: Vec<Vec<String>>,
    height: f64,
}

/// A table with its columns measured.
pub(super) struct Grid<'c> {
    columns: &'c [Column],
    widths: Vec<f64>,
}

impl<'c> Grid<'c> {
    pub(super) fn new(columns: &'c [Column], width: f64) -> Self {
        let shares: f64 = columns.iter().map(|column| column.share).sum();
        Self {
            columns,
            widths: columns
                .iter()
                .map(|column| width * column.share / shares)
                .collect(),
        }
    }

    fn row(&self, cells: &[String]) -> Row {
        let cells: Vec<Vec<String>> = self
            .widths
            .iter()
            .enumerate()
            .map(|(index, width)| {
                let text = cells.get(index).map_or("", String::as_str);
                wrapped(text, width - 2.0 * PAD, TEXT)
            })
            .collect();
        let lines = cells.iter().map(Vec::len).max().unwrap_or(1) as f64;
        Row {
            cells,
            height: (lines * TEXT * LINE_EM + 2.0 * PAD).max(TICK + 2.0 * PAD),
        }
    }

    fn heading(&self) -> Row {
        let words: Vec<String> = self
            .columns
            .iter()
            .map(|column| column.heading.to_owned())
            .collect();
        self.row(&words)
    }

    fn draw(&self, ink: &mut Ink, (x, y): At, row: &Row, look: Look) {
        let width: f64 = self.widths.iter().sum();
        if look == Look::Shaded {
            ink.rect((x, y), width, row.height, Some(SHADE));
        }
        let mut left = x;
        for ((column, cell), width) in self.columns.iter().zip(&row.cells).zip(&self.widths) {
            if column.tick && look != Look::Heading {
                ink.framed((left + PAD, y + PAD), TICK, TICK);
            }
            let mut base = y + PAD + TEXT;
            for line in cell {
                if look == Look::Heading {
                    ink.bold((left + PAD, base), line, TEXT, Anchor::Start);
                } else {
                    ink.text((left + PAD, base), line, TEXT, Anchor::Start);
                }
                base += TEXT * LINE_EM;
            }
            left += width;
        }
        let weight = if look == Look::Heading { 0.5 } else { 0.18 };
        ink.line(
            vec![(x, y + row.height), (x + width, y + row.height)],
            weight,
        );
    }

    /// Draws the whole table at one place; returns where it ends.
    pub(super) fn draw_all(&self, ink: &mut Ink, (x, y): At, rows: &[Vec<String>]) -> f64 {
        let head = self.heading();
        self.draw(ink, (x, y), &head, Look::Heading);
        let mut y = y + head.height;
        for (index, cells) in rows.iter().enumerate() {
            let row = self.row(cells);
            self.draw(ink, (x, y), &row, Look::of(index));
            y += row.height;
        }
        y
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Look {
    Heading,
    Plain,
    Shaded,
}

impl Look {
    fn of(index: usize) -> Self {
        if index % 3 == 2 {
            Self::Shaded
        } else {
            Self::Plain
        }
    }
}

/// Width and height of the paper of the lists, upright.
pub(super) fn paper_size(paper: Paper) -> (f64, f64) {
    match paper {
        Paper::A4 => (210.0, 297.0),
        Paper::Letter => (215.9, 279.4),
    }
}

/// Share of the width that a table has beside another as wide.
pub(super) const HALF: f64 = 0.485;

/// A table with its heading, its columns, its rows and its share of the width.
pub(super) type Beside<'t> = (&'t str, &'t [Column], &'t [Vec<String>], f64);

/// Pages that fill from the top.
pub(super) struct Pager<'h> {
    head: &'h Head,
    title: String,
    width: f64,
    height: f64,
    done: Vec<Ink>,
    ink: Ink,
    /// Where the content of a page begins.
    first: f64,
    y: f64,
}

impl<'h> Pager<'h> {
    /// Upright pages.
    pub(super) fn upright(head: &'h Head, title: String) -> Self {
        let (width, height) = paper_size(head.paper);
        Self::new(head, title, width, height)
    }

    /// Pages that lie across.
    pub(super) fn across(head: &'h Head, title: String) -> Self {
        let (width, height) = paper_size(head.paper);
        Self::new(head, title, height, width)
    }

    fn new(head: &'h Head, title: String, width: f64, height: f64) -> Self {
        let mut pager = Self {
            head,
            title,
            width,
            height,
            done: Vec::new(),
            ink: Ink::default(),
            first: 0.0,
            y: 0.0,
        };
        pager.top();
        pager
    }

    pub(super) fn room(&self) -> f64 {
        self.width - FILING_MARGIN - MARGIN
    }

    /// Height that an empty page has for its content.
    pub(super) fn depth(&self) -> f64 {
        self.bottom() - self.first
    }

    fn bottom(&self) -> f64 {
        self.height - MARGIN - 9.0
    }

    fn top(&mut self) {
        let (left, right) = (FILING_MARGIN, self.width - MARGIN);
        let ink = &mut self.ink;
        let title = one_line(&self.title, (right - left) * 0.72, HEADING);
        ink.bold((left, MARGIN + 4.0), &title, HEADING, Anchor::Start);
        let boat = [
            self.head.boat.as_str(),
            &revision(self.head),
            self.head.date.as_str(),
        ]
        .into_iter()
        .filter(|part| !part.is_empty())
        .collect::<Vec<_>>()
        .join(", ");
        let room = right - left - wide(&title, HEADING) - 4.0;
        let boat = one_line(&boat, room, TEXT);
        ink.text((right, MARGIN + 4.0), &boat, TEXT, Anchor::End);
        let line = format!("{}. {}.", self.head.open, self.head.units);
        let mut base = MARGIN + 8.5;
        for line in wrapped(&line, right - left, TEXT) {
            ink.text((left, base), &line, TEXT, Anchor::Start);
            base += TEXT * LINE_EM;
        }
        let rule = base - TEXT * LINE_EM + 2.0;
        ink.line(vec![(left, rule), (right, rule)], 0.35);
        self.first = rule + 4.5;
        self.y = self.first;
    }

    fn turn(&mut self) {
        self.done.push(std::mem::take(&mut self.ink));
        self.top();
    }

    /// Room of a height: where it begins, and what is drawn on. Turns the page where it does not fit.
    pub(super) fn take(&mut self, height: f64) -> (f64, &mut Ink) {
        if self.y + height > self.bottom() && self.y > self.first {
            self.turn();
        }
        let y = self.y;
        self.y += height;
        (y, &mut self.ink)
    }

    pub(super) fn heading(&mut self, text: &str) {
        // A heading is never the last line of a page.
        let left = FILING_MARGIN;
        let text = one_line(text, self.room(), HEADING);
        let (y, ink) = self.take(16.0);
        ink.bold((left, y + 5.0), &text, HEADING, Anchor::Start);
        self.y -= 9.0;
    }

    pub(super) fn paragraph(&mut self, text: &str) {
        let left = FILING_MARGIN;
        for line in wrapped(text, self.room(), TEXT) {
            let (y, ink) = self.take(TEXT * LINE_EM);
            ink.text((left, y + TEXT), &line, TEXT, Anchor::Start);
        }
        self.y += 1.0;
    }

    pub(super) fn table(&mut self, columns: &[Column], rows: &[Vec<String>]) {
        let left = FILING_MARGIN;
        let grid = Grid::new(columns, self.room());
        let head = grid.heading();
        let mut open = false;
        for (index, cells) in rows.iter().enumerate() {
            let row = grid.row(cells);
            let wanted = row.height + if open { 0.0 } else { head.height };
            if self.y + wanted > self.bottom() && self.y > self.first {
                self.turn();
                open = false;
            }
            if !open {
                let y = self.y;
                grid.draw(&mut self.ink, (left, y), &head, Look::Heading);
                self.y += head.height;
                open = true;
            }
            let y = self.y;
            grid.draw(&mut self.ink, (left, y), &row, Look::of(index));
            self.y += row.height;
        }
        self.y += 3.0;
    }

    /// A table in two halves side by side where a page holds them, else as one.
    pub(super) fn halves(&mut self, heading: &str, columns: &[Column], rows: &[Vec<String>]) {
        let room = self.room();
        let width = room * HALF;
        let grid = Grid::new(columns, width);
        let (one, other) = rows.split_at(rows.len().div_ceil(2));
        let height = |rows: &[Vec<String>]| -> f64 {
            let rows = rows.iter().map(|cells| grid.row(cells).height);
            grid.heading().height + rows.sum::<f64>()
        };
        let needed = 7.0 + height(one).max(height(other));
        if other.is_empty() || needed > self.depth() {
            self.heading(heading);
            self.table(columns, rows);
            return;
        }
        let (top, ink) = self.take(needed + 3.0);
        ink.bold((FILING_MARGIN, top + 5.0), heading, HEADING, Anchor::Start);
        grid.draw_all(ink, (FILING_MARGIN, top + 7.0), one);
        grid.draw_all(ink, (FILING_MARGIN + room - width, top + 7.0), other);
    }

    /// Two tables side by side where a page holds both, else one after the other.
    pub(super) fn beside(&mut self, tables: [Beside<'_>; 2]) {
        let room = self.room();
        let height = |&(_, columns, rows, share): &Beside<'_>| {
            let grid = Grid::new(columns, room * share);
            let rows = rows.iter().map(|cells| grid.row(cells).height);
            7.0 + grid.heading().height + rows.sum::<f64>()
        };
        let needed = tables.iter().map(height).fold(0.0, f64::max);
        if needed > self.depth() {
            for (heading, columns, rows, _) in tables {
                self.heading(heading);
                self.table(columns, rows);
            }
            return;
        }
        let (top, ink) = self.take(needed + 3.0);
        let mut left = FILING_MARGIN;
        for (place, (heading, columns, rows, share)) in tables.into_iter().enumerate() {
            let width = room * share;
            if place > 0 {
                left = FILING_MARGIN + room - width;
            }
            ink.bold((left, top + 5.0), heading, HEADING, Anchor::Start);
            Grid::new(columns, width).draw_all(ink, (left, top + 7.0), rows);
        }
    }

    /// The finished pages; `name` is what they are called in tables of contents.
    pub(super) fn finish(mut self, name: &str) -> Vec<Sheet> {
        self.done.push(std::mem::take(&mut self.ink));
        let count = self.done.len();
        let (left, right) = (FILING_MARGIN, self.width - MARGIN);
        let foot = self.height - MARGIN;
        let mut sheets = Vec::with_capacity(count);
        for (index, mut ink) in self.done.into_iter().enumerate() {
            ink.line(vec![(left, foot - 7.5), (right, foot - 7.5)], 0.25);
            let lines = wrapped(DEFERENCE, right - left - 38.0, TEXT);
            for (row, line) in lines.iter().take(2).enumerate() {
                let y = foot - 4.0 + row as f64 * TEXT * LINE_EM;
                ink.text((left, y), line, TEXT, Anchor::Start);
            }
            let page = format!("page {} of {count}", index + 1);
            ink.text((right, foot - 4.0), &page, TEXT, Anchor::End);
            let print = self.head.fingerprint.to_string();
            ink.text(
                (right, foot - 4.0 + TEXT * LINE_EM),
                &print,
                TEXT,
                Anchor::End,
            );
            sheets.push(Sheet {
                kind: SheetKind::Bench,
                number: index + 1,
                count,
                width: self.width,
                height: self.height,
                title: name.to_owned(),
                groups: vec![ink.group("page", "page")],
                filled: 1.0,
            });
        }
        sheets
    }
}

/// The revision in words; empty where none is given.
pub(super) fn revision(head: &Head) -> String {
    if head.revision.is_empty() {
        String::new()
    } else {
        format!("revision {}", head.revision)
    }
}

/// A text that fits one line, shortened with three points where it does not.
pub(super) fn one_line(text: &str, width: f64, size: f64) -> String {
    if wide(text, size) <= width {
        return text.to_owned();
    }
    let points = wide("...", size);
    let mut extent = Extent::default();
    let kept = text.char_indices().find_map(|(at, character)| {
        extent.push(character);
        (SPARE * extent.set_width(size) + points > width).then_some(at)
    });
    format!("{}...", &text[..kept.unwrap_or(text.len())])
}
