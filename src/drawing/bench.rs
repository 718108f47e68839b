//! Drawings of the bench at exact size: cutting bars, labels, lids of fuse blocks.
//!
//! What stands on them is decided in `schedule`; here it only gets its place. Every sheet has a rule of 100 mm, because
//! a printer that scales makes every label wrong.

use super::filling::Filling;
use super::scene::{Anchor, At, Group, Rgb, Role, Shape, Sheet, SheetKind};
use super::shapes::{line, rect, text};
use super::{block_lids, board, connector_face, label_sheets, spool_bars, wallet};
use crate::font::{self, Extent};
use crate::schedule::{DEFERENCE, Head, Rows};
use crate::system::Paper;

/// One drawing of the bench, on one or several sheets.
#[derive(Clone, Debug, PartialEq)]
pub struct BenchDrawing {
    /// File name without its ending: `spool-bars`.
    pub stem: &'static str,
    /// Title.
    pub title: &'static str,
    /// Its sheets; at least one.
    pub sheets: Vec<Sheet>,
    /// What its sheets are named after, in their order; empty where they only have numbers.
    pub parts: Vec<DrawingPart>,
}

/// The sheets of one thing within a drawing: of a harness, of a connector, of a block.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DrawingPart {
    /// Name of the thing, as the file has it.
    pub name: String,
    /// How many sheets it has.
    pub sheets: usize,
}

/// The drawings of a boat's bench that have something to show, of those that are wanted by their file name.
#[must_use]
pub fn bench_drawings(
    rows: &Rows<'_>,
    head: &Head,
    wanted: impl Fn(&str) -> bool,
) -> Vec<BenchDrawing> {
    let boards = board_parts(rows, head);
    let of_each = |pages: fn(&board::BoardParts<'_>) -> Vec<Sheet>| -> Vec<Named> {
        let each = boards.iter();
        each.map(|parts| (parts.harness.name.clone(), pages(parts)))
            .collect()
    };
    let mut drawings = Vec::new();
    let mut add = |stem, title, parts: &dyn Fn() -> Vec<Named>| {
        if wanted(stem) {
            drawings.push(BenchDrawing::parted(stem, title, parts()));
        }
    };
    add("spool-bars", "Cutting bars", &|| {
        unnamed(spool_bars::sheets(rows, head))
    });
    add(LABEL_SHEETS, "Label sheets", &|| {
        label_sheets::sheets(rows, head)
    });
    add("block-lids", "Fuse block lids", &|| {
        block_lids::sheets(rows, head)
    });
    add("wallet-card", "Wallet card", &|| {
        unnamed(wallet::sheets(rows, head))
    });
    add("connectors", "Connector charts", &|| {
        let each = rows.charts().iter();
        each.map(|chart| {
            let pages = connector_face::connector_pages(head, chart);
            (chart.name.clone(), pages)
        })
        .collect()
    });
    add(TILES, "Harness boards as tiles", &|| {
        of_each(|parts| board::board_pages(parts, board::Straights::Short))
    });
    add("continuity", "Continuity tests", &|| {
        of_each(board::continuity_pages)
    });
    add(WHOLE, "Harness boards in one piece", &|| {
        of_each(|parts| vec![board::board_sheet(parts)])
    });
    drawings.retain(|drawing| !drawing.sheets.is_empty());
    drawings
}

/// Boards as tiles with nothing left out: many pages, made only for who asks for them by name.
#[must_use]
pub fn whole_boards(rows: &Rows<'_>, head: &Head) -> BenchDrawing {
    let tiles = |parts: &board::BoardParts<'_>| {
        let pages = board::board_pages(parts, board::Straights::Whole);
        (parts.harness.name.clone(), pages)
    };
    BenchDrawing::parted(
        board::WHOLE_TILES,
        "Harness boards as tiles, nothing left out",
        board_parts(rows, head).iter().map(tiles).collect(),
    )
}

fn board_parts<'r>(rows: &'r Rows<'_>, head: &'r Head) -> Vec<board::BoardParts<'r>> {
    rows.harnesses()
        .each()
        .map(|each| board::BoardParts {
            system: rows.system(),
            head,
            harness: each.harness,
            wires: each.wires,
            segments: each.segments,
            continuity: each.continuity,
            charts: rows.charts(),
        })
        .collect()
}

/// Sheets with the name of what they show.
type Named = (String, Vec<Sheet>);

/// Sheets that have numbers alone.
fn unnamed(sheets: Vec<Sheet>) -> Vec<Named> {
    vec![(String::new(), sheets)]
}

/// File name of the label sheets, without its ending.
pub const LABEL_SHEETS: &str = "label-sheets";

/// File name of the tiles, without its ending.
pub const TILES: &str = "harnesses";

/// File name of the boards in one piece, without its ending.
pub const WHOLE: &str = "harness-boards";

impl BenchDrawing {
    /// A drawing whose sheets have numbers alone.
    #[must_use]
    pub fn plain(stem: &'static str, title: &'static str, sheets: Vec<Sheet>) -> Self {
        let mut drawing = Self {
            stem,
            title,
            sheets,
            parts: Vec::new(),
        };
        drawing.number();
        drawing
    }

    /// A drawing whose sheets are named after what they show, where that has a name.
    fn parted(stem: &'static str, title: &'static str, parts: Vec<Named>) -> Self {
        let mut drawing = Self::plain(stem, title, Vec::new());
        for (name, sheets) in parts {
            drawing.parts.push(DrawingPart {
                name,
                sheets: sheets.len(),
            });
            drawing.sheets.extend(sheets);
        }
        drawing
            .parts
            .retain(|part| part.sheets > 0 && !part.name.is_empty());
        drawing.number();
        drawing
    }

    fn number(&mut self) {
        let count = self.sheets.len();
        for (index, sheet) in self.sheets.iter_mut().enumerate() {
            sheet.number = index + 1;
            sheet.count = count;
        }
    }

    /// Whether it is a board cut to tiles, of which there are many.
    #[must_use]
    pub fn is_tiled(&self) -> bool {
        self.stem == TILES || self.stem == board::WHOLE_TILES
    }

    /// Whether its sheets are pages of paper, and not longer than any.
    #[must_use]
    pub fn is_paged(&self) -> bool {
        self.sheets
            .iter()
            .all(|sheet| sheet.kind != SheetKind::Roll)
    }
}

/// Edge of a bench sheet that printers leave free, in mm.
pub(super) const EDGE: f64 = 12.0;

/// Lettering of bench sheets, in mm.
pub(super) const BODY: f64 = 2.5;

/// Smallest lettering, in mm.
pub(super) const FINE: f64 = 1.8;

/// Ink of what is left over.
pub(super) const SHADE: Rgb = Rgb(224, 224, 224);

/// Width and height of the paper of the lists, upright.
pub(super) fn upright(paper: Paper) -> (f64, f64) {
    match paper {
        Paper::A4 => (210.0, 297.0),
        Paper::Letter => (215.9, 279.4),
    }
}

/// A sheet being drawn.
pub(super) struct Canvas {
    pub(super) width: f64,
    pub(super) height: f64,
    groups: Vec<Group>,
    title: String,
}

impl Canvas {
    pub(super) fn new((width, height): (f64, f64), title: impl Into<String>) -> Self {
        Self {
            width,
            height,
            groups: Vec::new(),
            title: title.into(),
        }
    }

    /// Shapes that belong together, under an id that is theirs alone on the sheet.
    pub(super) fn group(&mut self, id: impl Into<String>, title: &str, shapes: Vec<Shape>) {
        self.push(id, Role::Note, title, shapes);
    }

    /// The same with a name that a program finds them by.
    pub(super) fn block(&mut self, id: impl Into<String>, name: String, shapes: Vec<Shape>) {
        self.push(id, Role::Block { name }, "", shapes);
    }

    fn push(&mut self, id: impl Into<String>, role: Role, title: &str, shapes: Vec<Shape>) {
        if !shapes.is_empty() {
            self.groups.push(Group {
                id: id.into(),
                role,
                title: title.to_owned(),
                shapes,
            });
        }
    }

    /// Boat, title, revision and place in the drawing; at the foot who comes first.
    pub(super) fn head(&mut self, head: &Head, title: &str, sheet: usize) {
        let right = self.width - EDGE;
        let mut shapes = vec![text((EDGE, 16.0), title, 4.0, Anchor::Start)];
        let mut about = vec![head.boat.clone()];
        if !head.revision.is_empty() {
            about.push(format!("revision {}", head.revision));
        }
        if !head.date.is_empty() {
            about.push(head.date.clone());
        }
        about.push(format!("sheet {sheet}"));
        let room = right - EDGE - font::width(title, 4.0) - 6.0;
        shapes.push(text(
            (right, 16.0),
            cut_to(&about.join(", "), BODY, room),
            BODY,
            Anchor::End,
        ));
        shapes.push(line([(EDGE, 18.0), (right, 18.0)], 0.35));
        let foot = self.height - 8.0;
        let netlist = format!("netlist {}", head.fingerprint);
        let room = right - EDGE - font::width(&netlist, FINE) - 4.0;
        shapes.push(text((right, foot), netlist, FINE, Anchor::End));
        for (row, part) in wrapped(DEFERENCE, FINE, room).into_iter().enumerate() {
            let at = (EDGE, foot - 1.2 * FINE + 1.2 * FINE * row as f64);
            shapes.push(text(at, part, FINE, Anchor::Start));
        }
        self.block("head", "head".to_owned(), shapes);
    }

    pub(super) fn finish(self) -> Sheet {
        Sheet {
            kind: SheetKind::Bench,
            number: 1,
            count: 1,
            width: self.width,
            height: self.height,
            title: self.title,
            groups: self.groups,
            filled: 1.0,
        }
    }
}

/// Height of the rule with its words, in mm.
pub(super) const RULE_HEIGHT: f64 = 5.0;

/// Length of the rule, in mm.
pub(super) const RULE: f64 = 100.0;

/// A rule of 100 mm to the right of a point, ticked every 10 mm, with what to do about it beneath.
pub(super) fn rule((x, y): At, words: &str) -> Vec<Shape> {
    let mut shapes = vec![line([(x, y), (x + RULE, y)], 0.2)];
    for step in 0..=10 {
        let tick = x + RULE / 10.0 * f64::from(step);
        let long = if step % 5 == 0 { 2.0 } else { 1.2 };
        shapes.push(line([(tick, y), (tick, y + long)], 0.2));
    }
    shapes.push(text((x + 1.0, y + 4.4), words, FINE, Anchor::Start));
    shapes
}

/// The same downward; its words do not turn and are left out.
pub(super) fn rule_down((x, y): At) -> Vec<Shape> {
    let mut shapes = vec![line([(x, y), (x, y + RULE)], 0.2)];
    for step in 0..=10 {
        let tick = y + RULE / 10.0 * f64::from(step);
        let long = if step % 5 == 0 { 2.0 } else { 1.2 };
        shapes.push(line([(x, tick), (x + long, tick)], 0.2));
    }
    shapes
}

/// A box to tick, 4 mm wide.
pub(super) fn tick((x, y): At) -> Shape {
    rect((x, y), (4.0, 4.0), Some(0.25), None)
}

/// A text broken into lines of a width; a word that is longer than a line is cut.
pub(super) fn wrapped(words: &str, size: f64, room: f64) -> Vec<String> {
    let mut filling = Filling::new(room, |extent| extent.width(size));
    for word in words.split(' ') {
        if !filling.takes(word) {
            filling.push(&cut_to(word, size, room));
        }
    }
    filling.finish()
}

/// A text that is no wider than its room; one that is cut ends with `…`.
///
/// For furniture and bench drawings; names on the schematic itself are never cut.
pub(super) fn cut_to(words: &str, size: f64, room: f64) -> String {
    if font::width(words, size) <= room {
        return words.to_owned();
    }
    let mut extent = Extent::default();
    let kept = words.char_indices().find_map(|(at, letter)| {
        extent.push(letter);
        (extent.with("…").width(size) > room).then_some(at)
    });
    format!("{}…", words[..kept.unwrap_or(words.len())].trim_end())
}
