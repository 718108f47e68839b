//! Lists as pages: a sheet of rows set on paper, in millimetres.
//!
//! A head stands on every page, the headings of the columns too; no row is cut by the end of a page, and every
//! third row is shaded for the finger to follow. Lettering has capitals of 2.5 mm where the columns allow, of 2.1 mm
//! where that makes a list much shorter, never under 1.8 mm. A column with nothing in it is left out. A text that needs more than its cell may have ends with `…` and stands whole in the table for
//! machines.

mod columns;
mod front;
mod lines;
mod page;

pub use front::{Entry, FRONT, Front, Place, front, number};
pub use page::{Format, Hand, LEFT, RIGHT, TOP, shape, text};

use super::scene::{Anchor, Sheet as Drawn};
use crate::font;
use crate::schedule::{Block, ColumnKind, Field, Head, Sheet};
use columns::{Columns, PAD, Set, TICK, pitch};
pub(super) use lines::{shortened, wrapped};
use page::{BODY, SHADE, SMALL};

/// Thin lines of a table, in mm.
const THIN: f64 = 0.18;
/// Heavy lines, in mm.
const HEAVY: f64 = 0.5;
/// Lettering of the heading of a block.
const GROUP: f64 = 3.9;
/// Between the heading of a block and the words beside it, in mm.
const BESIDE: f64 = 4.0;
/// Lettering of a label drawn at its own size.
const LABEL: f64 = 3.0;

/// Sets a list on its pages. There is always at least one.
#[must_use]
pub fn pages(head: &Head, sheet: &Sheet) -> Vec<Drawn> {
    let sheet = &without_empty_columns(sheet);
    let format = Format::new(head.paper, sheet.orientation);
    let mut hand = Hand::new(head, sheet.title, format);
    hand.open();
    for remark in &sheet.remarks {
        hand.paragraph(remark, SMALL, false);
    }
    if !sheet.remarks.is_empty() {
        hand.gap(1.5);
    }
    if !sheet.columns.is_empty() {
        Table {
            columns: Columns::new(sheet, format.room()),
            sheet,
            hand: &mut hand,
            top: None,
        }
        .blocks();
    }
    strips(&mut hand, sheet);
    cautions(&mut hand, sheet);
    hand.close(sheet.title)
}

/// The sheet without columns that nothing stands in and nothing is to be written into.
fn without_empty_columns(sheet: &Sheet) -> Sheet {
    let mut kept = vec![false; sheet.columns.len()];
    let rows = || sheet.blocks.iter().flat_map(|block| &block.rows);
    for row in rows() {
        for (kept, field) in kept.iter_mut().zip(row) {
            *kept |= match field {
                Field::Tick | Field::Blank(_) => true,
                Field::Text(text) | Field::Strong(text) => !text.is_empty(),
                Field::Lines(lines) => lines.iter().any(|line| !line.is_empty()),
            };
        }
    }
    let mut short = sheet.clone();
    if rows().next().is_none() {
        return short;
    }
    let keep = |index: usize| kept.get(index).copied().unwrap_or(true);
    let mut at = 0..;
    short.columns.retain(|_| at.next().is_some_and(keep));
    for row in short.blocks.iter_mut().flat_map(|block| &mut block.rows) {
        let mut at = 0..;
        row.retain(|_| at.next().is_some_and(keep));
    }
    short
}

/// Totals with as many on a line as it holds.
fn packed(totals: &[String], room: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for total in totals {
        if let Some(last) = lines.last_mut() {
            let longer = format!("{last}. {total}");
            if font::set_width(&longer, BODY) <= room {
                *last = longer;
                continue;
            }
        }
        lines.push(total.clone());
    }
    lines
}

/// The rows of a sheet.
struct Table<'a, 'h> {
    columns: Columns,
    sheet: &'a Sheet,
    hand: &'a mut Hand<'h>,
    /// Where the upright lines of the rows begin on this page.
    top: Option<f64>,
}

impl Table<'_, '_> {
    fn blocks(&mut self) {
        if self
            .sheet
            .blocks
            .iter()
            .all(|block| block.rows.is_empty() && block.totals.is_empty())
        {
            self.headings();
            self.end_run();
            self.hand.paragraph("Nothing to list.", BODY, false);
            return;
        }
        for index in 0..self.sheet.blocks.len() {
            self.block(index);
        }
        self.end_run();
    }

    fn row_height(&self, row: &[Set]) -> f64 {
        row.iter()
            .zip(&self.columns.widths)
            .map(|(cell, width)| cell.height(*width))
            .fold(pitch(self.columns.size), f64::max)
    }

    /// What has to stand on one page where a block begins: a heading never stands without a first row, its own or that
    /// of the block which it is over.
    fn opening(&self, index: usize) -> f64 {
        let mut height = 0.0;
        for block in &self.sheet.blocks[index..] {
            height += self.bar_height(block);
            if let Some(first) = block.rows.first() {
                height += self.row_height(&self.columns.row(first));
            }
            if block.rows.len() < 2 {
                height += self.totals_height(block);
            }
            if !block.rows.is_empty() || !block.totals.is_empty() {
                break;
            }
        }
        height
    }

    fn block(&mut self, index: usize) {
        let block = &self.sheet.blocks[index];
        let rows: Vec<Vec<Set>> = block.rows.iter().map(|row| self.columns.row(row)).collect();
        let heights: Vec<f64> = rows.iter().map(|row| self.row_height(row)).collect();
        let totals = self.totals_height(block);
        let opening = self.opening(index);
        if index == 0 {
            self.hand.need(self.headings_height() + opening);
            self.headings();
        } else if !self.hand.fits(opening) {
            self.turn(None);
        }
        self.bar(block, "");
        for (index, (row, &height)) in rows.iter().zip(&heights).enumerate() {
            // Totals never stand without the last row.
            let last = index + 1 == rows.len();
            let needed = height + if last { totals } else { 0.0 };
            if index > 0 && !self.hand.fits(needed) {
                self.turn(Some(block));
            }
            self.row(row, height, index % 3 == 2);
        }
        for total in packed(&block.totals, self.totals_room()) {
            self.total(&total);
        }
    }

    /// Goes to the next page, with the headings again, and the block's own where it goes on.
    fn turn(&mut self, block: Option<&Block>) {
        self.end_run();
        self.hand.open();
        self.headings();
        if let Some(block) = block {
            self.bar(block, " (continued)");
        }
    }

    fn headings_height(&self) -> f64 {
        self.heading_lines()
            .iter()
            .map(|lines| lines.len() as f64 * pitch(self.columns.size))
            .fold(0.0, f64::max)
            + 2.0 * PAD
    }

    fn heading_lines(&self) -> Vec<Vec<String>> {
        self.sheet
            .columns
            .iter()
            .zip(&self.columns.widths)
            .map(|(column, width)| wrapped(column.heading, self.columns.size, width - 2.0 * PAD))
            .collect()
    }

    fn headings(&mut self) {
        let (size, height) = (self.columns.size, self.headings_height());
        let top = self.hand.y;
        self.hand.across(top, HEAVY);
        let mut left = LEFT;
        let lines = self.heading_lines();
        for (index, lines) in lines.iter().enumerate() {
            let width = self.columns.widths[index];
            let kind = self.sheet.columns[index].kind;
            self.set_lines(lines, (left, top), width, size, (kind, true));
            left += width;
        }
        self.hand.y += height;
        self.hand.across(self.hand.y, HEAVY);
        self.top = Some(top);
    }

    fn bar_height(&self, block: &Block) -> f64 {
        if block.title.is_empty() {
            return 0.0;
        }
        bar_lines(self.hand, block, "").len() as f64 * pitch(GROUP) + 2.0 * PAD
    }

    /// The heading of a block, over all columns.
    fn bar(&mut self, block: &Block, more: &str) {
        if block.title.is_empty() {
            return;
        }
        self.end_run();
        let top = self.hand.y;
        let lines = bar_lines(self.hand, block, more);
        for (index, line) in lines.iter().enumerate() {
            let y = baseline(top, GROUP) + index as f64 * pitch(GROUP);
            let mut x = LEFT + PAD;
            for (words, bold) in line {
                self.hand
                    .put(text((x, y), words, GROUP, Anchor::Start, *bold));
                x += font::set_width(words, GROUP) + BESIDE;
            }
        }
        self.hand.across(top, HEAVY);
        self.hand.y += lines.len() as f64 * pitch(GROUP) + 2.0 * PAD;
        self.sides(top);
        self.hand.across(self.hand.y, THIN);
        self.top = Some(self.hand.y);
    }

    fn row(&mut self, row: &[Set], height: f64, shaded: bool) {
        let top = self.hand.y;
        if shaded {
            let room = self.hand.format.room();
            self.hand.area((LEFT, top), (room, height), SHADE);
        }
        let mut left = LEFT;
        for (index, cell) in row.iter().enumerate() {
            let width = self.columns.widths[index];
            if cell.tick {
                self.hand.tick((left + PAD, top + PAD), TICK);
            } else {
                let kind = self.sheet.columns[index].kind;
                self.set_lines(
                    &cell.lines,
                    (left, top),
                    width,
                    cell.size,
                    (kind, cell.strong),
                );
                let words = cell.lines.iter().any(|line| !line.is_empty());
                if cell.blank && words {
                    let from = cell.beside(width).unwrap_or(PAD);
                    let y = top + height - 1.5 * PAD;
                    let ends = [(left + from, y), (left + width - PAD, y)];
                    self.hand.line(&ends, 0.3);
                }
            }
            left += width;
        }
        self.hand.y += height;
        self.hand.across(self.hand.y, THIN);
        if self.top.is_none() {
            self.top = Some(top);
        }
    }

    fn totals_room(&self) -> f64 {
        self.hand.format.room() - 2.0 * PAD
    }

    fn totals_height(&self, block: &Block) -> f64 {
        let room = self.totals_room();
        packed(&block.totals, room)
            .iter()
            .map(|total| {
                let lines = wrapped(total, BODY, room);
                lines.len() as f64 * pitch(BODY) + 2.0 * PAD
            })
            .sum()
    }

    fn total(&mut self, total: &str) {
        self.end_run();
        let lines = wrapped(total, BODY, self.totals_room());
        let height = lines.len() as f64 * pitch(BODY) + 2.0 * PAD;
        if !self.hand.fits(height) {
            self.hand.open();
        }
        let top = self.hand.y;
        for (index, line) in lines.iter().enumerate() {
            let y = baseline(top, BODY) + index as f64 * pitch(BODY);
            self.hand
                .put(text((LEFT + PAD, y), line, BODY, Anchor::Start, true));
        }
        self.hand.y += height;
        self.sides(top);
        self.hand.across(self.hand.y, HEAVY);
    }

    fn set_lines(
        &mut self,
        lines: &[String],
        (left, top): (f64, f64),
        width: f64,
        size: f64,
        (kind, bold): (ColumnKind, bool),
    ) {
        let (x, anchor) = match kind {
            ColumnKind::Figure => (left + width - PAD, Anchor::End),
            ColumnKind::Text | ColumnKind::Tick => (left + PAD, Anchor::Start),
        };
        for (index, line) in lines.iter().enumerate() {
            let y = baseline(top, size) + index as f64 * pitch(size);
            self.hand.put(text((x, y), line, size, anchor, bold));
        }
    }

    /// Draws the upright lines of the rows so far.
    fn end_run(&mut self) {
        let Some(top) = self.top.take() else {
            return;
        };
        let bottom = self.hand.y;
        if bottom - top < 1e-9 {
            return;
        }
        let mut x = LEFT;
        self.hand.line(&[(x, top), (x, bottom)], THIN);
        for width in self.columns.widths.clone() {
            x += width;
            self.hand.line(&[(x, top), (x, bottom)], THIN);
        }
    }

    fn sides(&mut self, top: f64) {
        let (bottom, right) = (self.hand.y, LEFT + self.hand.format.room());
        for x in [LEFT, right] {
            self.hand.line(&[(x, top), (x, bottom)], THIN);
        }
    }
}

/// The heading of a block in lines of heavy and light words; the words after it stand beside it where they fit, else
/// on lines of their own.
fn bar_lines(hand: &Hand<'_>, block: &Block, more: &str) -> Vec<Vec<(String, bool)>> {
    let room = hand.format.room() - 2.0 * PAD;
    let title = wrapped(&format!("{}{more}", block.title), GROUP, room);
    let mut lines: Vec<Vec<(String, bool)>> =
        title.into_iter().map(|line| vec![(line, true)]).collect();
    if !block.detail.is_empty() && more.is_empty() {
        let detail = wrapped(&block.detail, GROUP, room);
        let wide = |words: &str| font::set_width(words, GROUP);
        match (lines.as_mut_slice(), detail.as_slice()) {
            ([title], [detail]) if wide(&title[0].0) + BESIDE + wide(detail) <= room => {
                title.push((detail.clone(), false));
            }
            _ => lines.extend(detail.into_iter().map(|line| vec![(line, false)])),
        }
    }
    lines.truncate(8);
    lines
}

/// Where the first line of a cell stands, below its upper edge.
fn baseline(top: f64, size: f64) -> f64 {
    top + PAD + 0.92 * size
}

/// Labels at their own size.
fn strips(hand: &mut Hand<'_>, sheet: &Sheet) {
    if sheet.strips.is_empty() {
        return;
    }
    hand.open();
    hand.paragraph(
        "Labels at their own size. Print at 100 %, then measure this line: it is 100 mm long.",
        BODY,
        true,
    );
    let y = hand.y + 3.0;
    hand.line(
        &[
            (LEFT, y - 2.0),
            (LEFT, y),
            (LEFT + 100.0, y),
            (LEFT + 100.0, y - 2.0),
        ],
        0.3,
    );
    hand.y += 7.0;
    let right = LEFT + hand.format.room();
    let (mut x, mut tallest) = (LEFT, 0.0_f64);
    for strip in &sheet.strips {
        let long = strip.length_mm.clamp(5.0, hand.format.room());
        let high = strip.lines.len() as f64 * 1.15 * LABEL + 2.0;
        let room = high + pitch(SMALL) + 3.0;
        if x > LEFT && x + long > right {
            (x, hand.y, tallest) = (LEFT, hand.y + tallest, 0.0);
        }
        if !hand.fits(room) {
            hand.open();
            (x, tallest) = (LEFT, 0.0);
        }
        hand.frame((x, hand.y), (long, high));
        for (index, line) in strip.lines.iter().enumerate() {
            let y = hand.y + 1.0 + 0.9 * LABEL + index as f64 * 1.15 * LABEL;
            let line = lines::shortened(line, LABEL, long - 2.0);
            hand.put(text((x + 1.0, y), &line, LABEL, Anchor::Start, false));
        }
        let caption = lines::shortened(&strip.caption, SMALL, long.max(20.0));
        let wide = font::set_width(&caption, SMALL);
        hand.put(text(
            (x, hand.y + high + 0.95 * SMALL),
            &caption,
            SMALL,
            Anchor::Start,
            false,
        ));
        x += long.max(wide) + 3.0;
        tallest = tallest.max(room);
    }
    hand.y += tallest;
}

/// The cautions of a sheet in a box, together where a page holds them.
fn cautions(hand: &mut Hand<'_>, sheet: &Sheet) {
    if sheet.cautions.is_empty() {
        return;
    }
    let room = hand.format.room() - 10.0;
    let set: Vec<Vec<String>> = sheet
        .cautions
        .iter()
        .map(|caution| wrapped(caution, BODY, room))
        .collect();
    let lines: usize = set.iter().map(Vec::len).sum();
    let height = (lines + 1) as f64 * pitch(BODY) + 4.0;
    hand.gap(3.0);
    hand.need(height.min(hand.format.body() - 40.0));
    let mut top = hand.y;
    hand.y += 1.5;
    hand.words("Cautions", LEFT + 2.0, BODY, true);
    for caution in &set {
        if !hand.fits(caution.len() as f64 * pitch(BODY) + 2.0) {
            hand.heavy_frame(top);
            hand.open();
            top = hand.y;
            hand.y += 1.5;
        }
        let dot = (LEFT + 2.5, hand.y + 0.92 * BODY);
        hand.put(text(dot, "•", BODY, Anchor::Start, false));
        for line in caution {
            hand.words(line, LEFT + 6.0, BODY, false);
        }
    }
    hand.y += 1.5;
    hand.heavy_frame(top);
}

#[cfg(test)]
mod tests;
