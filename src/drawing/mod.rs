//! The schematic: a resolved boat as sheets of primitives in millimetres.
//!
//! A DC system is nearly a ladder and is drawn as one: hubs are upright bars, chains are level rows between them.
//! What fits no row is broken off, and both ends name each other by sheet and field.
//! This room judges nothing and writes no file; exporters turn its sheets into bytes.

pub mod bench;
mod bench_page;
mod block_lids;
pub mod board;
pub mod check;
mod circuit;
pub mod connector_face;
mod draft;
mod filling;
mod frame;
mod index;
mod label_sheets;
mod layout;
mod legend;
mod marks;
mod naming;
mod overview;
mod packing;
mod pages;
mod plan;
mod render;
pub mod scene;
mod selection;
mod shapes;
mod spool_bars;
pub mod standing;
mod symbols;
pub mod typeset;
mod wallet;
mod words;

pub use crate::font;
pub use bench::{BenchDrawing, DrawingPart, LABEL_SHEETS, bench_drawings, whole_boards};
pub use scene::{Sheet, SheetKind};
pub use selection::Selection;

use crate::diag::Diagnostic;
use crate::system::{Paper, System};
use circuit::Circuit;
use draft::Draft;
use packing::Taken;
use standing::Standing;

/// Paper of the schematic, across.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SheetSize {
    /// 297 × 210 mm.
    A4,
    /// 420 × 297 mm.
    A3,
    /// 279.4 × 215.9 mm.
    Letter,
    /// 431.8 × 279.4 mm.
    Tabloid,
}

impl SheetSize {
    /// Width and height in mm, across.
    #[must_use]
    pub fn millimetres(self) -> (f64, f64) {
        match self {
            Self::A4 => (297.0, 210.0),
            Self::A3 => (420.0, 297.0),
            Self::Letter => (279.4, 215.9),
            Self::Tabloid => (431.8, 279.4),
        }
    }

    /// The sheet that folds to the paper of the lists.
    #[must_use]
    pub fn folding_to(paper: Paper) -> Self {
        match paper {
            Paper::A4 => Self::A3,
            Paper::Letter => Self::Tabloid,
        }
    }

    /// Wide enough for two strips.
    fn is_wide(self) -> bool {
        matches!(self, Self::A3 | Self::Tabloid)
    }

    fn format(self) -> Format {
        let (width, height) = self.millimetres();
        Format {
            width,
            height,
            wide: self.is_wide(),
            paper: self.name(),
        }
    }

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::A4 => "A4",
            Self::A3 => "A3",
            Self::Letter => "Letter",
            Self::Tabloid => "Tabloid",
        }
    }
}

/// Measures of a sheet; one may be longer than its paper where nothing else holds a row.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Format {
    width: f64,
    height: f64,
    wide: bool,
    /// Name of the paper.
    paper: &'static str,
}

/// What the file does not say about its drawing.
#[derive(Clone, Debug)]
pub struct SheetOptions {
    /// Paper.
    pub size: SheetSize,
    /// Fingerprint of the netlist for the title block; empty for none.
    pub fingerprint: String,
    /// The state that the boat is drawn in; none for the drawing as built, with every contact open.
    pub standing: Option<Standing>,
    /// The part of the boat that is drawn; none for all of it.
    pub selection: Option<Selection>,
}

impl SheetOptions {
    /// The sheets that suit the boat's paper.
    #[must_use]
    pub fn for_boat(system: &System, fingerprint: String) -> Self {
        Self {
            size: SheetSize::folding_to(system.boat.paper),
            fingerprint,
            standing: None,
            selection: None,
        }
    }
}

/// Draws every component and every conductor of a boat, and nothing else.
///
/// Everything is on some sheet; the same boat gives the same sheets.
#[must_use]
pub fn schematic(system: &System, options: &SheetOptions) -> Vec<Sheet> {
    let circuit = Circuit::new(system);
    let mut manner = Manner::wiring(0, options);
    let mut wiring = Rendered::new(system, &circuit, options, &manner);
    if wiring.pending.is_some() {
        manner.legend = Legend::WithRows;
        wiring = Rendered::new(system, &circuit, options, &manner);
    }
    wiring.legend_apart();
    finish(system, options, vec![wiring])
}

/// The drawing of a boat as it is handed out: an overview, every conductor, an index; no overview of a part of it.
#[must_use]
pub fn document(system: &System, options: &SheetOptions) -> Document {
    let mut circuit = Circuit::new(system);
    let mut overview = None;
    let mut manner = Manner::wiring(0, options);
    if let Some(selection) = &options.selection {
        circuit = selection::selected(system, &circuit, selection);
    } else {
        let lines = overview::single_line(system, &circuit);
        let mut drawn = Rendered::new(system, &lines, options, &Manner::overview(options));
        // One legend explains both.
        let groups = drawn.sheets.iter().flat_map(|sheet| &sheet.groups);
        drawn.used.look_through(groups);
        manner.before = drawn.sheets.len();
        manner.used.symbols.clone_from(&drawn.used.symbols);
        manner.used.keys.clone_from(&drawn.used.keys);
        // A last sheet of the overview that is nearly empty has room for the legend.
        if drawn.ends_empty() {
            manner.legend = Legend::Apart;
        }
        overview = Some(drawn);
    }
    let draw = |manner: &Manner<'_>| Rendered::new(system, &circuit, options, manner);
    let gathered = |overview: &Option<Rendered>, wiring: Rendered| {
        let mut overview = overview.clone();
        if let Some(overview) = &mut overview {
            overview::name_places(overview, &wiring);
        }
        overview.into_iter().chain([wiring]).collect::<Vec<_>>()
    };
    let mut wiring = draw(&manner);
    if let Some(used) = wiring.pending.take() {
        wiring.pending = match &mut overview {
            Some(overview) => overview.take_legend(used),
            None => Some(used),
        };
        if wiring.pending.is_some() && manner.legend == Legend::Apart {
            manner.legend = Legend::OnSheet;
            wiring = draw(&manner);
        }
    }
    let mut other = None;
    if wiring.pending.is_some() {
        manner.legend = Legend::WithRows;
        let drawn = draw(&manner);
        other = drawn.legend.map(|_| gathered(&overview, drawn));
    }
    Document {
        drawings: gathered(&overview, wiring),
        other,
    }
}

/// A drawing that lacks its index, its numbers and its title blocks.
#[derive(Clone, Debug)]
pub struct Document {
    drawings: Vec<Rendered>,
    /// The same with a sheet more, for the legend and the last rows, where no sheet of these has room for it.
    other: Option<Vec<Rendered>>,
}

impl Document {
    /// Marks the findings and adds the index and the title blocks.
    #[must_use]
    pub fn finish(
        mut self,
        system: &System,
        options: &SheetOptions,
        findings: &[Diagnostic],
    ) -> Vec<Sheet> {
        let mut boards = marks::Boards::default();
        let standing = options.standing.as_ref();
        marks::place_poles(system, &mut self.drawings, &mut boards, standing);
        if let Some(standing) = standing {
            marks::place_voltages(system, &mut self.drawings, &mut boards, standing);
        }
        let mut marked = marks::place(system, &mut self.drawings, &mut boards, findings);
        if options.selection.is_some() {
            marked.retain(marks::Marked::is_drawn);
        }
        let mut index = index::sheets(system, options, &self.drawings, &marked);
        // A legend that no sheet of the wiring has room for stands behind the lists, or else on a sheet of its own.
        if let Some(wiring) = self.drawings.last_mut()
            && let Some(used) = wiring.pending.take()
        {
            wiring.pending = index.take_legend(used);
            if wiring.pending.is_some() {
                if let Some(drawings) = self.other.take() {
                    let document = Self {
                        drawings,
                        other: None,
                    };
                    return document.finish(system, options, findings);
                }
                wiring.legend_apart();
                index = index::sheets(system, options, &self.drawings, &marked);
            }
        }
        self.drawings.push(index);
        finish(system, options, self.drawings)
    }
}

/// Gives every sheet its number and title block, and every group an id that no other group has.
fn finish(system: &System, options: &SheetOptions, mut drawings: Vec<Rendered>) -> Vec<Sheet> {
    explain(&mut drawings);
    let count = drawings.iter().map(|drawing| drawing.sheets.len()).sum();
    let mut sheets: Vec<Sheet> = Vec::with_capacity(count);
    for drawing in drawings {
        for (mut sheet, names) in drawing.sheets.into_iter().zip(drawing.names) {
            sheet.number = sheets.len() + 1;
            sheet.count = count;
            let block = frame::title(system, options, drawing.format, &sheet, &names);
            sheet.groups.push(block);
            sheets.push(sheet);
        }
    }
    naming::unique(&mut sheets);
    sheets
}

/// Where the legend of a drawing stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Legend {
    /// It has none.
    None,
    /// On one of its sheets, where one has room.
    OnSheet,
    /// On one sheet more, with the last rows.
    WithRows,
    /// With another drawing.
    Apart,
}

/// What differs between drawings made of the same symbols.
#[derive(Debug)]
struct Manner<'o> {
    kind: SheetKind,
    /// Sheets before the first one.
    before: usize,
    /// What the legend explains beside what the drawing uses.
    used: legend::Used,
    legend: Legend,
    standing: Option<&'o Standing>,
    /// What the part of the boat is called that is drawn.
    part: Option<&'o str>,
}

impl<'o> Manner<'o> {
    fn wiring(before: usize, options: &'o SheetOptions) -> Self {
        Self {
            standing: options.standing.as_ref(),
            part: options
                .selection
                .as_ref()
                .map(|selection| selection.title.as_str()),
            kind: SheetKind::Wiring,
            before,
            used: legend::Used::default(),
            legend: Legend::OnSheet,
        }
    }

    fn overview(options: &'o SheetOptions) -> Self {
        Self {
            kind: SheetKind::Overview,
            legend: Legend::None,
            ..Self::wiring(0, options)
        }
    }
}

/// Sheets without title blocks, in the order of their numbers.
#[derive(Clone, Debug)]
struct Rendered {
    format: Format,
    sheets: Vec<Sheet>,
    /// Names of the ladders on each sheet.
    names: Vec<Vec<String>>,
    used: legend::Used,
    /// What is taken of each sheet.
    taken: Vec<Taken>,
    /// Sheet, corner and width of the legend.
    legend: Option<(usize, scene::At, f64)>,
    /// What a legend explains that no sheet here has room for.
    pending: Option<legend::Used>,
}

impl Rendered {
    /// Draws a circuit on the paper asked for.
    fn new(
        system: &System,
        circuit: &Circuit,
        options: &SheetOptions,
        manner: &Manner<'_>,
    ) -> Self {
        Draft::fitting(system, circuit, options.size, manner).render(system, circuit, manner)
    }

    /// Whether its last sheet, behind others, is half empty.
    fn ends_empty(&self) -> bool {
        let last = self.taken.last().filter(|_| self.sheets.len() > 1);
        last.is_some_and(|taken| taken.filled() < HALF)
    }

    /// Draws the legend on the last sheet; gives back what it explains where that has no room.
    fn take_legend(&mut self, used: legend::Used) -> Option<legend::Used> {
        let sizes = legend::sizes(&used, frame::room(self.format, 0).width);
        let last = self.sheets.len().checked_sub(1);
        let (Some(last), Some(taken)) = (last, self.taken.last_mut()) else {
            return Some(used);
        };
        let Some((x, y, width)) = taken.block(&sizes) else {
            return Some(used);
        };
        let sheet = &mut self.sheets[last];
        sheet.groups.push(legend::legend(&used, (x, y), width));
        sheet.filled = taken.filled();
        self.legend = Some((last, (x, y), width));
        self.used = used;
        None
    }

    /// Draws a legend that no sheet has room for on one of its own.
    fn legend_apart(&mut self) {
        let Some(used) = self.pending.take() else {
            return;
        };
        let Some(mut sheet) = self.sheets.last().cloned() else {
            return;
        };
        let names = vec!["legend".to_owned()];
        sheet.groups = vec![frame::border(self.format)];
        sheet.title = words::few(&names, 1);
        sheet.number += 1;
        let room = frame::room(self.format, self.sheets.len());
        self.taken.push(Taken::new(room));
        self.sheets.push(sheet);
        self.names.push(names);
        // An empty sheet has room for any legend.
        self.pending = self.take_legend(used);
    }
}

/// Draws the legend anew with what all sheets show in the end.
fn explain(drawings: &mut [Rendered]) {
    let Some(with) = (drawings.iter()).position(|drawing| drawing.legend.is_some()) else {
        return;
    };
    let mut used = drawings[with].used.clone();
    let sheets = drawings.iter().flat_map(|drawing| &drawing.sheets);
    used.look_through(sheets.flat_map(|sheet| &sheet.groups));
    let drawing = &mut drawings[with];
    let Some((sheet, at, width)) = drawing.legend else {
        return;
    };
    let legend = legend::legend(&used, at, width);
    let groups = &mut drawing.sheets[sheet].groups;
    if let Some(drawn) = groups.iter_mut().find(|group| group.id == legend.id) {
        *drawn = legend;
    }
}

/// Share of its room below which a sheet counts as half empty.
const HALF: f64 = 0.5;
