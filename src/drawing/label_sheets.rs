//! Labels on their sheets, at exact millimetres, in the order the ends are terminated in.
//!
//! The first sheet of each stock is for plain paper: the outlines of all labels, to be held against the stock.

use super::bench::{Canvas, FINE, RULE, RULE_HEIGHT, cut_to, rule, rule_down};
use super::scene::{Anchor, At, Rgb, Shape, Sheet};
use super::shapes::{line, rect, text};
use crate::schedule::{Code, EDGE_MM, Head, LINE, Label, Printing, Rows, label_stocks};
use crate::system::{LabelKind, LabelPage, LabelStock};

/// Hairline of cuts and outlines, in mm.
const HAIR: f64 = 0.1;
/// Height of letters above the baseline over the size, as the scene takes it.
const ASCENT: f64 = 0.8;

/// Check sheets and label sheets of every stock that comes in sheets, with the stock's name.
pub(super) fn sheets(rows: &Rows<'_>, head: &Head) -> Vec<(String, Vec<Sheet>)> {
    let stocks = label_stocks(rows.system());
    let mut parts = Vec::new();
    for (index, stock) in stocks.iter().enumerate() {
        let Some(page) = &stock.page else { continue };
        let mut printed: Vec<(usize, usize, &Label, &Printing)> = Vec::new();
        for (order, label) in rows.labels().iter().enumerate() {
            if let Ok(printing) = &label.printing
                && printing.stock == index
            {
                let copies = 1..=label.quantity;
                printed.extend(copies.map(|copy| (order + 1, copy, label, printing)));
            }
        }
        if printed.is_empty() {
            continue;
        }
        let grid = Grid::new(stock, page);
        let needed = printed.len().div_ceil(grid.on_a_sheet());
        let mut sheets = vec![check_sheet(stock, &grid, head, (printed.len(), needed))];
        for (number, chunk) in printed.chunks(grid.on_a_sheet()).enumerate() {
            let title = format!("Labels on {}, sheet {} of {needed}", stock.name, number + 1);
            let mut canvas = Canvas::new(grid.paper, title.clone());
            grid.rule(&mut canvas, &format!("100 mm. {}: {title}", head.boat));
            for (place, (order, copy, label, printing)) in chunk.iter().enumerate() {
                let at = grid.place(place);
                let name = format!(
                    "label {} {}",
                    rows.system().conductors[label.conductor.index()].number,
                    label.end.letter()
                );
                let shapes = drawn(stock, printing, at);
                canvas.block(format!("label-{order}-{copy}"), name, shapes);
            }
            sheets.push(canvas.finish());
        }
        parts.push((stock.name.clone(), sheets));
    }
    parts
}

/// Where the rule finds its room.
#[derive(Clone, Copy, Debug, PartialEq)]
enum RuleAt {
    /// Across, its line beginning at this point.
    Across(At),
    /// Down, its line beginning at this point.
    Down(At),
}

/// The places of the labels of a stock on a sheet, in mm.
struct Grid {
    paper: (f64, f64),
    first: At,
    step: (f64, f64),
    columns: usize,
    /// Rows that labels are printed in: one is left out where the rule finds no other room.
    rows: usize,
    rule: Option<RuleAt>,
    size: (f64, f64),
}

impl Grid {
    fn new(stock: &LabelStock, page: &LabelPage) -> Self {
        let mm = |length: crate::units::Metres| length.0 * 1000.0;
        let mut grid = Self {
            paper: (mm(page.width), mm(page.height)),
            first: (mm(page.left), mm(page.top)),
            step: (mm(page.across), mm(page.down)),
            columns: page.columns as usize,
            rows: page.rows as usize,
            rule: None,
            size: (mm(stock.width), mm(stock.height)),
        };
        grid.rule = grid.rule_room();
        // Stock without margins gives its last row to the rule: a sheet that is not checked is a wasted sheet.
        if grid.rule.is_none() && grid.rows > 1 {
            grid.rows -= 1;
            grid.rule = grid.rule_room();
            if grid.rule.is_none() {
                grid.rows += 1;
            }
        }
        grid
    }

    /// A strip above, below or beside the labels that the rule fits in.
    fn rule_room(&self) -> Option<RuleAt> {
        const CLEAR: f64 = 1.0;
        let (width, height) = self.paper;
        let right = self.first.0 + self.step.0 * (self.columns - 1) as f64 + self.size.0;
        let bottom = self.first.1 + self.step.1 * (self.rows - 1) as f64 + self.size.1;
        let needed = RULE_HEIGHT + 2.0 * CLEAR;
        let (across, down) = ((width - RULE) / 2.0, (height - RULE) / 2.0);
        if across >= 2.0 && self.first.1 >= needed {
            return Some(RuleAt::Across((across, self.first.1 - CLEAR - RULE_HEIGHT)));
        }
        if across >= 2.0 && height - bottom >= needed {
            return Some(RuleAt::Across((across, bottom + CLEAR)));
        }
        if down >= 2.0 && self.first.0 >= 5.0 {
            return Some(RuleAt::Down((self.first.0 - 3.0, down)));
        }
        if down >= 2.0 && width - right >= 5.0 {
            return Some(RuleAt::Down((right + CLEAR, down)));
        }
        None
    }

    fn on_a_sheet(&self) -> usize {
        self.columns * self.rows
    }

    /// Upper left corner of a label, row by row.
    fn place(&self, index: usize) -> At {
        let (row, column) = (index / self.columns, index % self.columns);
        (
            self.first.0 + self.step.0 * column as f64,
            self.first.1 + self.step.1 * row as f64,
        )
    }

    fn rule(&self, canvas: &mut Canvas, words: &str) {
        let shapes = match self.rule {
            Some(RuleAt::Across(at)) => rule(at, &cut_to(words, FINE, RULE - 2.0)),
            Some(RuleAt::Down(at)) => rule_down(at),
            None => return,
        };
        canvas.block("rule-100mm", "rule-100mm".to_owned(), shapes);
    }
}

/// The sheet for plain paper.
fn check_sheet(
    stock: &LabelStock,
    grid: &Grid,
    head: &Head,
    (labels, sheets): (usize, usize),
) -> Sheet {
    let title = format!("Check sheet of {}", stock.name);
    let mut canvas = Canvas::new(grid.paper, title.clone());
    grid.rule(&mut canvas, &format!("100 mm. {}: {title}", head.boat));
    let outlines: Vec<Shape> = (0..grid.on_a_sheet())
        .map(|index| rect(grid.place(index), grid.size, Some(HAIR), None))
        .collect();
    canvas.block("outlines", "outlines".to_owned(), outlines);
    if stock.kind == LabelKind::Wrap {
        let printed = stock.printed.0 * 1000.0;
        let tails = (0..grid.on_a_sheet()).map(|index| {
            let (x, y) = grid.place(index);
            line([(x, y + printed), (x + grid.size.0, y + printed)], HAIR)
        });
        canvas.group("tails", "where the clear tail begins", tails.collect());
    }
    // One thing to do in each label, from the first on: what has no room there is cut, as the labels themselves show.
    let words = [
        "1. Print this on plain paper at 100 %.".to_owned(),
        "2. Measure the rule: 100 mm.".to_owned(),
        "3. Hold it against the stock: every outline lies on a label.".to_owned(),
        format!("4. Print {sheets} of stock: {labels} labels."),
        format!("Labels: {}", stock.name),
    ];
    let mut shapes = Vec::new();
    for (index, words) in words.iter().enumerate().take(grid.on_a_sheet()) {
        let (x, y) = grid.place(index);
        let room = grid.size.0 - 2.0 * EDGE_MM;
        let lines = super::bench::wrapped(words, FINE, room);
        for (row, words) in lines.into_iter().enumerate() {
            let base = y + EDGE_MM + FINE * (ASCENT + LINE * row as f64);
            if base + FINE * (1.0 - ASCENT) <= y + grid.size.1 {
                shapes.push(text((x + EDGE_MM, base), words, FINE, Anchor::Start));
            }
        }
    }
    canvas.group("words", "", shapes);
    canvas.finish()
}

/// A label with its upper left corner at a point.
fn drawn(stock: &LabelStock, printing: &Printing, (x, y): At) -> Vec<Shape> {
    let mm = |length: crate::units::Metres| length.0 * 1000.0;
    let (width, height) = (mm(stock.width), mm(stock.height));
    match stock.kind {
        // The text stands next to the tail: of a printed part longer than the turn, the rest is wrapped over.
        LabelKind::Wrap => face(
            stock,
            printing,
            (x, y + mm(stock.printed) - printing.height_mm),
        ),
        LabelKind::Flag => {
            let mut shapes = face(stock, printing, (x, y));
            shapes.extend(face(stock, printing, (x + width - printing.width_mm, y)));
            shapes
        }
        LabelKind::Strip => {
            let mut shapes = vec![rect((x, y), (width, height), Some(HAIR), None)];
            shapes.extend(face(stock, printing, (x, y)));
            shapes
        }
        LabelKind::Sleeve => face(
            stock,
            printing,
            (x, y + (height - printing.height_mm) / 2.0),
        ),
    }
}

/// One face: the code at the left, the lines beside it, in the middle of the height.
fn face(stock: &LabelStock, printing: &Printing, (x, y): At) -> Vec<Shape> {
    let mut shapes = Vec::new();
    let mut left = x + EDGE_MM;
    if let (Some(code), Some(module)) = (&printing.code, stock.module) {
        let module = module.0 * 1000.0;
        let edge = code.side as f64 * module;
        let corner = (x + EDGE_MM + module, y + (printing.height_mm - edge) / 2.0);
        shapes.extend(squares(code, module, corner));
        left += edge + 2.0 * module;
    }
    let tall: f64 = printing.sized().map(|(_, size)| LINE * size).sum();
    let mut top = y + (printing.height_mm - tall) / 2.0;
    for (words, size) in printing.sized() {
        // Half of the free height of a line above the letters, half below.
        let base = top + size * ((LINE - 1.0) / 2.0 + ASCENT);
        shapes.push(text((left, base), words, size, Anchor::Start));
        top += LINE * size;
    }
    shapes
}

/// Dark squares; those side by side are one shape, so that no seam shows between them.
fn squares(code: &Code, module: f64, (x, y): At) -> Vec<Shape> {
    let mut shapes = Vec::new();
    for row in 0..code.side {
        let mut column = 0;
        while column < code.side {
            let dark = |column: usize| code.dark.get(row * code.side + column) == Some(&true);
            let from = column;
            while column < code.side && dark(column) {
                column += 1;
            }
            if column > from {
                let at = (x + module * from as f64, y + module * row as f64);
                let size = (module * (column - from) as f64, module);
                shapes.push(rect(at, size, None, Some(Rgb::BLACK)));
            }
            column += usize::from(column == from);
        }
    }
    shapes
}
