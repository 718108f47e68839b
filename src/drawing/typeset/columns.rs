//! How wide the columns of a list are, and how large its lettering: by what stands in them.

use super::lines::{at_most, longest_word, wrapped};
use crate::font;
use crate::schedule::{Block, Column, ColumnKind, Field, Sheet};

/// Sizes of lettering that are tried, in mm: the first has capitals of 2.5 mm, the last of 1.85 mm.
const SIZES: [f64; 4] = [3.5, 3.2, 2.9, 2.6];

/// Smallest lettering that is taken to save paper, in mm: capitals of 2.1 mm.
const LEAST_CHOSEN: f64 = 2.9;

/// A list is set smaller where it is then no higher than this share.
const WORTH_IT: f64 = 0.84;

/// Figures that the hand works to are so much larger.
const STRONG: f64 = 1.2;

/// Space between a cell's text and its lines, in mm.
pub(super) const PAD: f64 = 0.8;

/// Side of a tick box in mm.
pub(super) const TICK: f64 = 4.5;

/// Least height of a cell that is written into, in mm.
const TO_WRITE: f64 = 8.0;

/// Least length of a line that is written on, in mm.
const LEAST_BLANK: f64 = 14.0;

/// Most lines of a cell; the whole text stands in the table for machines.
const MOST_LINES: usize = 16;

/// Share of the paper that a single word may claim.
const WORD_SHARE: f64 = 0.2;

/// The columns of a sheet on its paper.
#[derive(Clone, Debug)]
pub(super) struct Columns {
    /// Size of the lettering in mm.
    pub size: f64,
    /// Widths in mm, with their sum the width of the table.
    pub widths: Vec<f64>,
}

/// One cell as it is set.
#[derive(Clone, Debug)]
pub(super) struct Set {
    pub lines: Vec<String>,
    pub size: f64,
    pub strong: bool,
    pub tick: bool,
    /// A line to write on, after the words.
    pub blank: bool,
}

impl Set {
    /// Height in mm with the space around it.
    pub(super) fn height(&self, width: f64) -> f64 {
        let text = self.lines.len() as f64 * pitch(self.size) + 2.0 * PAD;
        match (self.tick, self.blank) {
            (true, _) => TICK + 2.0 * PAD,
            (false, true) if self.lines.iter().all(String::is_empty) => TO_WRITE,
            (false, true) if self.beside(width).is_some() => text.max(TO_WRITE),
            (false, true) => text + TO_WRITE - 2.0 * PAD,
            (false, false) => text,
        }
    }

    /// Where the line to write on begins beside the words, in mm from the cell's left edge, where room is left.
    pub(super) fn beside(&self, width: f64) -> Option<f64> {
        let last = self.lines.last()?;
        let from = font::set_width(last, self.size) + 2.0 * PAD;
        (width - from >= LEAST_BLANK).then_some(from)
    }
}

/// From line to line, in mm.
pub(super) fn pitch(size: f64) -> f64 {
    1.25 * size
}

impl Columns {
    /// Chooses the largest lettering in which no word has to be broken, or a smaller one where that makes the list much
    /// shorter, and gives every column the room of its words.
    pub(super) fn new(sheet: &Sheet, width: f64) -> Self {
        let mut needs = vec![[0.0_f64; SIZES.len()]; sheet.columns.len()];
        for (column, need) in sheet.columns.iter().zip(&mut needs) {
            widen(need, width, |size| longest_word(column.heading, size));
        }
        for row in sheet.blocks.iter().flat_map(|block: &Block| &block.rows) {
            for ((field, column), need) in row.iter().zip(&sheet.columns).zip(&mut needs) {
                widen(need, width, |size| least(field, column.kind, size));
            }
        }
        let mut best: Option<(Self, f64)> = None;
        for (index, &size) in SIZES.iter().enumerate() {
            let least: Vec<f64> = needs.iter().map(|need| need[index]).collect();
            let is_small = size < LEAST_CHOSEN && best.is_some();
            if is_small || least.iter().sum::<f64>() > width {
                continue;
            }
            let mut widths = shared(&sheet.columns, &least, width);
            let balance = Balance::new(sheet, size);
            balance.settle(&mut widths, &least);
            let height = balance.height(&widths, size);
            let is_better = |(_, known): &(Self, f64)| height < WORTH_IT * known;
            if best.as_ref().is_none_or(is_better) {
                best = Some((Self { size, widths }, height));
            }
        }
        if let Some((best, _)) = best {
            return best;
        }
        // Too many columns for any lettering: words are broken, each column giving way alike.
        let size = SIZES[SIZES.len() - 1];
        let all: f64 = needs.iter().map(|need| need[SIZES.len() - 1]).sum();
        Self {
            size,
            widths: needs
                .iter()
                .map(|need| need[SIZES.len() - 1] * width / all)
                .collect(),
        }
    }

    /// Sets one row, the lines for one end of a wire beside each other in all its cells.
    pub(super) fn row(&self, fields: &[Field]) -> Vec<Set> {
        let several = |field: &Field| match field {
            Field::Lines(lines) if lines.len() > 1 => Some(lines.len()),
            _ => None,
        };
        let counts: Vec<usize> = fields.iter().filter_map(several).collect();
        let alike = counts.windows(2).all(|pair| pair[0] == pair[1]);
        let cells = fields.iter().take(self.widths.len()).enumerate();
        let Some(&count) = counts.first().filter(|_| alike && counts.len() > 1) else {
            return cells.map(|(index, field)| self.set(index, field)).collect();
        };
        let parts: Vec<Option<Vec<Vec<String>>>> = cells
            .clone()
            .map(|(index, field)| match field {
                Field::Lines(lines) if lines.len() > 1 => {
                    let width = self.widths[index] - 2.0 * PAD;
                    Some(
                        lines
                            .iter()
                            .map(|line| wrapped(line, self.size, width))
                            .collect(),
                    )
                }
                _ => None,
            })
            .collect();
        let high: Vec<usize> = (0..count)
            .map(|end| {
                let parts = parts.iter().flatten();
                parts.map(|part| part[end].len()).max().unwrap_or(1)
            })
            .collect();
        cells
            .zip(parts)
            .map(|((index, field), part)| {
                let mut set = self.set(index, field);
                if let Some(part) = part {
                    let mut lines = Vec::new();
                    for (mut own, high) in part.into_iter().zip(&high) {
                        own.resize(*high, String::new());
                        lines.extend(own);
                    }
                    let width = self.widths[index] - 2.0 * PAD;
                    set.lines = at_most(lines, MOST_LINES, set.size, width);
                }
                set
            })
            .collect()
    }

    /// Sets one cell.
    fn set(&self, index: usize, field: &Field) -> Set {
        let width = self.widths[index] - 2.0 * PAD;
        let (size, strong) = match field {
            Field::Strong(_) => (self.size * STRONG, true),
            _ => (self.size, false),
        };
        let wrap = |text: &str| wrapped(text, size, width);
        let lines = match field {
            Field::Tick => Vec::new(),
            Field::Text(text) | Field::Strong(text) | Field::Blank(text) => wrap(text),
            Field::Lines(lines) => lines.iter().flat_map(|line| wrap(line)).collect(),
        };
        Set {
            lines: at_most(lines, MOST_LINES, size, width),
            size,
            strong,
            tick: matches!(field, Field::Tick),
            blank: matches!(field, Field::Blank(_)),
        }
    }
}

/// Raises the least widths of a column, one for each size.
fn widen(need: &mut [f64; SIZES.len()], paper: f64, least: impl Fn(f64) -> f64) {
    // Widths are in proportion to the size, so one measuring does for all.
    let unit = least(1.0);
    for (need, size) in need.iter_mut().zip(SIZES) {
        *need = need.max((unit * size).min(paper * WORD_SHARE) + 2.0 * PAD);
    }
}

/// Width in mm under which a cell would have a word broken, or a figure parted from its unit.
fn least(field: &Field, kind: ColumnKind, size: f64) -> f64 {
    let line = |text: &str, size: f64| match kind {
        ColumnKind::Figure => font::set_width(text, size),
        ColumnKind::Text | ColumnKind::Tick => longest_word(text, size),
    };
    match field {
        // The box has its own size, whatever the lettering; the smallest lettering decides.
        Field::Tick => TICK / SIZES[SIZES.len() - 1] * size,
        Field::Strong(text) => font::set_width(text, size * STRONG),
        Field::Text(text) | Field::Blank(text) => line(text, size),
        Field::Lines(lines) => lines
            .iter()
            .map(|text| line(text, size))
            .fold(0.0, f64::max),
    }
}

/// The width of the paper by the shares of the columns, none under its least.
fn shared(columns: &[Column], least: &[f64], width: f64) -> Vec<f64> {
    let all: f64 = columns.iter().map(|column| column.width_mm).sum();
    let wanted: Vec<f64> = columns
        .iter()
        .zip(least)
        .map(|(column, &least)| (column.width_mm * width / all).max(least))
        .collect();
    // What the narrow ones got too much is taken from those with room to spare, in proportion to it.
    let over = wanted.iter().sum::<f64>() - width;
    let spare: f64 = wanted
        .iter()
        .zip(least)
        .map(|(wanted, least)| wanted - least)
        .sum();
    if over <= 0.0 || spare <= 0.0 {
        return wanted;
    }
    wanted
        .iter()
        .zip(least)
        .map(|(wanted, least)| wanted - (wanted - least) * over / spare)
        .collect()
}

/// Rows that are looked at for the balance of the columns.
const SAMPLE: usize = 40;

/// Trials for it.
const TRIALS: usize = 900;

/// The first rows of a sheet, for finding widths that make them low.
struct Balance {
    /// For each column, each row's lengths of line in mm.
    columns: Vec<Vec<Vec<f64>>>,
    rows: usize,
}

impl Balance {
    fn new(sheet: &Sheet, size: f64) -> Self {
        let all: Vec<&Vec<Field>> = sheet.blocks.iter().flat_map(|block| &block.rows).collect();
        // Rows from all over the sheet: its blocks differ.
        let step = all.len().div_ceil(SAMPLE).max(1);
        let rows: Vec<&&Vec<Field>> = all.iter().step_by(step).collect();
        let long = |text: &str, size: f64| font::set_width(text, size);
        let columns = (0..sheet.columns.len())
            .map(|column| {
                rows.iter()
                    .map(|row| match row.get(column) {
                        None | Some(Field::Tick) => Vec::new(),
                        Some(Field::Strong(text)) => vec![long(text, size * STRONG)],
                        Some(Field::Text(text) | Field::Blank(text)) => vec![long(text, size)],
                        Some(Field::Lines(lines)) => {
                            lines.iter().map(|text| long(text, size)).collect()
                        }
                    })
                    .collect()
            })
            .collect();
        Self {
            columns,
            rows: rows.len(),
        }
    }

    /// Lines that each row needs in a column of a width. Words leave about a tenth of a full line empty.
    fn lines(&self, column: usize, width: f64) -> Vec<f64> {
        let room = (width - 2.0 * PAD).max(1.0);
        let one = |long: &f64| match long / room {
            fits if fits <= 1.0 => 1.0,
            more => (more * 1.1).ceil(),
        };
        self.columns[column]
            .iter()
            .map(|row| row.iter().map(one).sum())
            .collect()
    }

    /// Height of the rows together, in mm.
    fn height(&self, widths: &[f64], size: f64) -> f64 {
        let lines: Vec<Vec<f64>> = (0..widths.len())
            .map(|column| self.lines(column, widths[column]))
            .collect();
        (0..self.rows)
            .map(|row| {
                let most = lines.iter().map(|column| column[row]).fold(1.0, f64::max);
                (most * pitch(size)).max(TICK) + 2.0 * PAD
            })
            .sum()
    }

    /// Moves width between columns as long as the rows get lower together, none under its least.
    fn settle(&self, widths: &mut [f64], least: &[f64]) {
        let count = widths.len();
        let mut lines: Vec<Vec<f64>> = (0..count)
            .map(|column| self.lines(column, widths[column]))
            .collect();
        // The highest cell counts; the others a little, so that a row held up by two cells gets lower in two steps.
        let together = |lines: &[Vec<f64>]| -> f64 {
            (0..self.rows)
                .map(|row| {
                    let cells = || lines.iter().map(|column| column[row]);
                    cells().fold(0.0, f64::max) + 0.05 * cells().sum::<f64>()
                })
                .sum()
        };
        let mut now = together(&lines);
        let mut trials = 0;
        for step in [8.0, 4.0, 2.0] {
            let mut moved = true;
            while moved {
                moved = false;
                for to in 0..count {
                    for from in 0..count {
                        let spare = widths[from] - step >= least[from];
                        if from == to || !spare || trials >= TRIALS {
                            continue;
                        }
                        trials += 1;
                        let mut tried = lines.clone();
                        tried[from] = self.lines(from, widths[from] - step);
                        tried[to] = self.lines(to, widths[to] + step);
                        let then = together(&tried);
                        if then < now - 1e-9 {
                            widths[from] -= step;
                            widths[to] += step;
                            (lines, now, moved) = (tried, then, true);
                        }
                    }
                }
            }
        }
    }
}
