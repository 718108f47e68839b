//! loomwright compiles a YAML netlist of a small craft's DC wiring into proofs, drawings and bench papers.
//!
//! The rooms stand in order below: each may use those before it in the list of [`compile`], none behind it.

pub mod analysis;
pub mod cli;
pub mod diag;
pub mod drawing;
pub mod export;
pub mod font;
pub mod netlist;
pub mod resolve;
pub mod rules;
pub mod schedule;
pub mod sizing;
pub mod source;
pub mod standards;
pub mod system;
pub mod units;

use analysis::Facts;
use diag::{Diagnostic, Severity, Tally};
use drawing::{BenchDrawing, SheetOptions, SheetSize};
use export::json::Report;
use export::{Form, Order, PaperFile, Unmade};
use schedule::{Fingerprint, Head, Rows, Sheet, Table};
use source::LineIndex;
use system::System;

/// What a run is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Want {
    /// The findings alone.
    Findings,
    /// The findings and every paper.
    Papers,
}

/// What comes of a netlist.
#[derive(Clone, Debug)]
pub struct Compiled {
    /// The file's text; the places of the findings count its bytes.
    pub text: String,
    /// Fingerprint of the file.
    pub fingerprint: Fingerprint,
    /// Everything that was found, in the order of the file.
    pub findings: Vec<Diagnostic>,
    /// How many findings of each weight.
    pub tally: Tally,
    /// Whether the file could be read as one boat; if not, nothing about its wiring is proved.
    pub usable: bool,
    /// The papers, where they are wanted and the file is usable.
    pub papers: Vec<PaperFile>,
    /// Papers that were wanted and could not be made.
    pub unmade: Vec<Unmade>,
    /// Papers that are too long to be made without being asked for by name.
    pub spared: Vec<Unmade>,
    /// Names of the papers that this boat can have, for choosing among them.
    pub stems: Vec<&'static str>,
}

/// A netlist read, resolved and its open sizes and ratings chosen, before anything about its wiring is judged.
#[derive(Clone, Debug)]
pub struct Draft {
    /// The file's text; the places of the findings count its bytes.
    pub text: String,
    /// Fingerprint of the file.
    pub fingerprint: Fingerprint,
    /// The faults of the file itself, as they were met.
    pub findings: Vec<Diagnostic>,
    /// The boat; none where the file is no netlist.
    pub boat: Option<System>,
    /// Whether the file could be read as one boat without an error.
    pub usable: bool,
}

/// Reads and resolves the bytes of a netlist, and chooses the sizes and ratings that it leaves open.
#[must_use]
pub fn draft(bytes: &[u8]) -> Draft {
    let mut reading = source::read(bytes);
    let mut findings = std::mem::take(&mut reading.diagnostics);
    let (netlist, faults) = netlist::read(&reading);
    findings.extend(faults);
    let boat = netlist
        .zip(reading.document.as_ref())
        .map(|(netlist, document)| {
            let (mut system, faults) = resolve::resolve(&netlist, document);
            findings.extend(faults);
            sizing::size(&mut system);
            system
        });
    let usable = boat.is_some()
        && findings
            .iter()
            .all(|finding| finding.severity != Severity::Error);
    Draft {
        text: reading.text,
        fingerprint: Fingerprint::of(bytes),
        findings,
        boat,
        usable,
    }
}

/// What the user asks of the papers beside the file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Choices {
    /// Paper of the schematic; without it the one that folds to the paper of the lists.
    pub sheet: Option<SheetSize>,
    /// Which papers are wanted, and in which forms.
    pub order: Order,
}

/// Compiles the bytes of a netlist: text, records, boat, sizes, facts, findings, papers.
///
/// A fault never stops it before everything that can be found is found. A file with faults of its own has no papers.
#[must_use]
pub fn compile(bytes: &[u8], want: Want) -> Compiled {
    compile_with(bytes, want, &Choices::default())
}

/// Compiles the bytes of a netlist, with papers as the user asks for them.
#[must_use]
pub fn compile_with(bytes: &[u8], want: Want, choices: &Choices) -> Compiled {
    let Draft {
        text,
        fingerprint,
        mut findings,
        boat,
        usable,
    } = draft(bytes);
    let wanted = boat.as_ref().filter(|_| usable && want == Want::Papers);
    let order = &choices.order;
    // The drawing needs the boat alone, so it is laid out beside the facts.
    let lay_out = || wanted.and_then(|system| lay_out(system, fingerprint, choices));
    let judge = || {
        let facts = boat.as_ref().map(Facts::new);
        let mut judged = Vec::new();
        let mut accepted = 0;
        if let Some(facts) = &facts {
            judged = rules::run(facts);
            accepted = rules::accept(facts.system, &mut judged);
        }
        (facts, judged, accepted)
    };
    let (laid_out, (facts, judged, accepted)) = if wanted.is_some() {
        side_by_side(lay_out, judge)
    } else {
        (None, judge())
    };
    findings.extend(judged);
    diag::sort(&mut findings);
    let tally = Tally::of(&findings, accepted);
    // The findings are marked on the drawing, so it is finished beside the lists.
    let list = || {
        facts.as_ref().filter(|_| wanted.is_some()).map(|facts| {
            let report = Report {
                file: "",
                text: &text,
                fingerprint,
                findings: &findings,
                tally,
                usable,
                papers: &[],
            };
            list(facts, &report, order)
        })
    };
    let draw = || wanted.map(|system| draw(system, laid_out, &findings, order));
    let (lists, drawn) = if wanted.is_some() {
        side_by_side(list, draw)
    } else {
        (None, None)
    };
    let papers = match (drawn, lists) {
        (Some(drawn), Some(lists)) => finish(order, drawn, lists),
        _ => Papers::default(),
    };
    Compiled {
        text,
        fingerprint,
        findings,
        tally,
        usable,
        papers: papers.made,
        unmade: papers.unmade,
        spared: papers.spared,
        stems: papers.stems,
    }
}

/// Papers made so far.
#[derive(Debug, Default)]
struct Papers {
    made: Vec<PaperFile>,
    unmade: Vec<Unmade>,
    spared: Vec<Unmade>,
    stems: Vec<&'static str>,
}

/// The lists of a boat and what is made of them alone.
struct Lists {
    head: Head,
    sheets: Vec<Sheet>,
    drawings: Vec<BenchDrawing>,
    papers: Papers,
}

/// The drawing as far as the boat alone tells it; none where it is not wanted.
fn lay_out(
    system: &System,
    fingerprint: Fingerprint,
    choices: &Choices,
) -> Option<(SheetOptions, drawing::Document)> {
    let order = &choices.order;
    (order.wants("schematic") && order.is_drawn()).then(|| {
        let mut options = SheetOptions::for_boat(system, fingerprint.to_string());
        options.size = choices.sheet.unwrap_or(options.size);
        let document = drawing::document(system, &options);
        (options, document)
    })
}

/// Finishes the drawing of a boat and writes each sheet as a picture.
fn draw(
    system: &System,
    laid_out: Option<(SheetOptions, drawing::Document)>,
    findings: &[Diagnostic],
    order: &Order,
) -> (Vec<BenchDrawing>, Papers) {
    let mut papers = Papers::default();
    let mut drawings = Vec::new();
    papers.stems.push("schematic");
    if let Some((options, document)) = laid_out {
        drawings.push(BenchDrawing::plain(
            "schematic",
            "Schematic",
            document.finish(system, &options, findings),
        ));
    }
    papers.picture(&drawings, order);
    (drawings, papers)
}

impl Papers {
    /// Puts others behind these.
    fn add(&mut self, others: Self) {
        self.made.extend(others.made);
        self.unmade.extend(others.unmade);
        self.spared.extend(others.spared);
        self.stems.extend(others.stems);
    }

    /// Writes each sheet of drawings as a picture, in the forms that are wanted.
    fn picture(&mut self, drawings: &[BenchDrawing], order: &Order) {
        for drawing in drawings {
            // Tiles are many; the document has them, and they are pictures only for who asks for them.
            if drawing.is_tiled() && order.only.is_empty() {
                continue;
            }
            if order.has(Form::Svg) {
                self.made.extend(export::drawings(drawing));
            }
            if order.has(Form::Png) {
                let (made, unmade) = export::pictures(drawing, order.dpi);
                self.made.extend(made);
                self.unmade.extend(unmade);
            }
        }
    }
}

/// Writes the lists of a boat, but for the document that needs the drawings too.
fn list(facts: &Facts<'_>, report: &Report<'_>, order: &Order) -> Lists {
    let head = Head::new(facts.system, &report.tally, report.fingerprint);
    let lines = LineIndex::new(report.text);
    let rows = Rows::new(facts, report.findings, &lines);
    let mut papers = Papers::default();
    let named = order.wants("findings");
    if order.has(Form::Json) && named {
        papers.made.push(export::findings(report));
    }
    let on_sheets = [Form::Html, Form::Markdown, Form::Pdf];
    let in_tables = [Form::Csv, Form::Json, Form::Xlsx];
    let sheets_of = || {
        let all = if on_sheets.iter().any(|form| order.has(*form)) || !order.only.is_empty() {
            rows.sheets()
        } else {
            Vec::new()
        };
        let stems: Vec<&'static str> = all.iter().map(|sheet| sheet.stem).collect();
        let sheets: Vec<Sheet> = all
            .into_iter()
            .filter(|sheet| order.wants(sheet.stem))
            .collect();
        let all: Vec<&Sheet> = sheets.iter().collect();
        let mut made = Vec::new();
        if order.has(Form::Html) {
            made.extend(export::pages(&head, &all));
        }
        if order.has(Form::Markdown) && !all.is_empty() {
            made.push(export::lists(&head, &all));
        }
        (sheets, made, stems)
    };
    let tables_of = || {
        let all = if in_tables.iter().any(|form| order.has(*form)) || !order.only.is_empty() {
            rows.tables()
        } else {
            Vec::new()
        };
        let stems: Vec<&'static str> = all.iter().map(|table| table.stem).collect();
        let tables: Vec<&Table> = all.iter().filter(|table| order.wants(table.stem)).collect();
        let (mut made, mut unmade) = (Vec::new(), Vec::new());
        if order.has(Form::Csv) {
            made.extend(export::tables(&tables));
        }
        if order.has(Form::Json) && !tables.is_empty() {
            made.push(export::together(&head, &tables));
        }
        if order.has(Form::Xlsx) && !tables.is_empty() {
            match export::workbook(&head, &tables) {
                Ok(paper) => made.push(paper),
                Err(why) => unmade.push(why),
            }
        }
        (made, unmade, stems)
    };
    let drawings_of = || {
        let mut papers = Papers::default();
        if !order.is_drawn() && order.only.is_empty() {
            return (Vec::new(), papers);
        }
        // Tiles are pages of the document, boards in one piece are pictures; what no form shows is not drawn.
        let pictured = order.has(Form::Svg) || order.has(Form::Png);
        let shown = |stem: &str| match stem {
            _ if !order.only.is_empty() => true,
            drawing::bench::TILES => order.has(Form::Pdf),
            drawing::bench::WHOLE => pictured,
            _ => true,
        };
        let mut drawings = drawing::bench_drawings(&rows, &head, shown);
        papers
            .stems
            .extend(drawings.iter().map(|drawing| drawing.stem));
        if !rows.harnesses().harnesses().list.is_empty() {
            let boards = [drawing::bench::TILES, drawing::bench::WHOLE];
            papers.stems.extend(boards);
        }
        papers.stems.push(drawing::board::WHOLE_TILES);
        drawings.retain(|drawing| order.wants(drawing.stem));
        if order.names(drawing::board::WHOLE_TILES) {
            let whole = drawing::whole_boards(&rows, &head);
            drawings.extend((!whole.sheets.is_empty()).then_some(whole));
        }
        papers.picture(&drawings, order);
        (drawings, papers)
    };
    let ((drawings, drawn), ((sheets, pages, first), (tables, unmade, second))) =
        side_by_side(drawings_of, || side_by_side(sheets_of, tables_of));
    papers.made.extend(pages.into_iter().chain(tables));
    papers.unmade.extend(unmade);
    papers.stems.extend(first.into_iter().chain(second));
    papers.add(drawn);
    Lists {
        head,
        sheets,
        drawings,
        papers,
    }
}

/// Puts drawings and lists together, and writes the document of both.
fn finish(
    order: &Order,
    (mut drawings, drawn): (Vec<BenchDrawing>, Papers),
    lists: Lists,
) -> Papers {
    let mut papers = drawn;
    papers.add(lists.papers);
    papers.stems.sort_unstable();
    papers.stems.dedup();
    let rows: usize = lists
        .sheets
        .iter()
        .flat_map(|sheet| &sheet.blocks)
        .map(|block| block.rows.len())
        .sum();
    if order.has(Form::Pdf) && rows > order.most_rows {
        papers.spared.push(Unmade {
            paper: order.document(),
            why: format!("it would have {rows} rows on many hundred pages; `--as pdf` makes it, `--only` makes a part"),
        });
    } else if order.has(Form::Pdf) {
        let sheets: Vec<&Sheet> = lists.sheets.iter().collect();
        // A board in one piece is longer than a page; its tiles are in the document.
        drawings.extend(lists.drawings.into_iter().filter(BenchDrawing::is_paged));
        match export::document(&lists.head, &drawings, &sheets) {
            Ok(Some(paper)) => papers.made.push(PaperFile {
                name: order.document(),
                ..paper
            }),
            Ok(None) => {}
            Err(why) => papers.unmade.push(why),
        }
    }
    papers
}

/// Runs two pieces of work on two threads, and in turn where no thread is to be had.
///
/// Neither sees the other's result, so what comes out does not depend on which is first.
pub(crate) fn side_by_side<A: Send, B>(
    one: impl Fn() -> A + Sync,
    other: impl FnOnce() -> B,
) -> (A, B) {
    std::thread::scope(|scope| {
        let thread = std::thread::Builder::new().spawn_scoped(scope, &one);
        let second = other();
        let first = match thread.map(std::thread::ScopedJoinHandle::join) {
            Ok(Ok(first)) => first,
            Ok(Err(panic)) => std::panic::resume_unwind(panic),
            Err(_) => one(),
        };
        (first, second)
    })
}
