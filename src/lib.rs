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
use drawing::{SheetOptions, SheetSize};
use export::PaperFile;
use export::json::Report;
use schedule::{Fingerprint, Head, Rows};
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
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Choices {
    /// Paper of the schematic; without it the one that folds to the paper of the lists.
    pub sheet: Option<SheetSize>,
}

/// Compiles the bytes of a netlist: text, records, boat, sizes, facts, findings, papers.
///
/// A fault never stops it before everything that can be found is found. A file with faults of its own has no papers.
#[must_use]
pub fn compile(bytes: &[u8], want: Want) -> Compiled {
    compile_with(bytes, want, Choices::default())
}

/// Compiles the bytes of a netlist, with papers as the user asks for them.
#[must_use]
pub fn compile_with(bytes: &[u8], want: Want, choices: Choices) -> Compiled {
    let Draft {
        text,
        fingerprint,
        mut findings,
        boat,
        usable,
    } = draft(bytes);
    // The drawing needs the boat alone, so it is made beside the facts and the lists.
    let drawn = boat
        .as_ref()
        .filter(|_| usable && want == Want::Papers)
        .map(|system| {
            let mut options = SheetOptions::for_boat(system, fingerprint.to_string());
            options.size = choices.sheet.unwrap_or(options.size);
            (system, options)
        });
    let draw = || {
        drawn.as_ref().map_or_else(Vec::new, |(system, options)| {
            export::drawings(&drawing::document(system, options).finish(system, options))
        })
    };
    let mut judge_and_list = || {
        let facts = boat.as_ref().map(Facts::new);
        let mut accepted = 0;
        if let Some(facts) = &facts {
            let mut judged = rules::run(facts);
            accepted = rules::accept(facts.system, &mut judged);
            findings.extend(judged);
        }
        diag::sort(&mut findings);
        let tally = Tally::of(&findings, accepted);
        let Some(facts) = facts.as_ref().filter(|_| drawn.is_some()) else {
            return (tally, Vec::new());
        };
        let head = Head::new(facts.system, &tally, fingerprint);
        let lines = LineIndex::new(&text);
        let mut papers = vec![export::findings(&Report {
            file: "",
            text: &text,
            fingerprint,
            findings: &findings,
            tally,
            usable,
            papers: &[],
        })];
        let rows = Rows::new(facts, &findings, &lines);
        let (pages, tables) = side_by_side(
            || export::pages(&head, &rows.sheets()),
            || export::tables(&head, &rows.tables()),
        );
        papers.extend(pages.into_iter().chain(tables));
        papers.extend(export::bench(&drawing::bench_drawings(&rows, &head)));
        (tally, papers)
    };
    let (mut papers, (tally, lists)) = if drawn.is_some() {
        side_by_side(draw, judge_and_list)
    } else {
        (Vec::new(), judge_and_list())
    };
    papers.extend(lists);
    Compiled {
        text,
        fingerprint,
        findings,
        tally,
        usable,
        papers,
    }
}

/// Runs two pieces of work on two threads, and in turn where no thread is to be had.
///
/// Neither sees the other's result, so what comes out does not depend on which is first.
fn side_by_side<A: Send, B>(one: impl Fn() -> A + Sync, other: impl FnOnce() -> B) -> (A, B) {
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
