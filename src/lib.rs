//! loomwright compiles a YAML netlist of a small craft's DC wiring into proofs, drawings and bench papers.
//!
//! The rooms stand in order below: each may use those before it in the list of [`compile`], none behind it.

pub mod analysis;
pub mod cli;
pub mod diag;
pub mod drawing;
pub mod export;
pub mod netlist;
pub mod resolve;
pub mod rules;
pub mod schedule;
pub mod source;
pub mod standards;
pub mod system;
pub mod units;

use analysis::Facts;
use diag::{Diagnostic, Severity, Tally};
use drawing::SheetOptions;
use export::PaperFile;
use export::json::Report;
use schedule::{Fingerprint, Head};
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

/// A netlist read and resolved, before anything about its wiring is judged.
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

/// Reads and resolves the bytes of a netlist.
#[must_use]
pub fn draft(bytes: &[u8]) -> Draft {
    let mut reading = source::read(bytes);
    let mut findings = std::mem::take(&mut reading.diagnostics);
    let (netlist, faults) = netlist::read(&reading);
    findings.extend(faults);
    let boat = netlist
        .zip(reading.document.as_ref())
        .map(|(netlist, document)| {
            let (system, faults) = resolve::resolve(&netlist, document);
            findings.extend(faults);
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

/// Compiles the bytes of a netlist: text, records, boat, facts, findings, papers.
///
/// A fault never stops it before everything that can be found is found. A file with faults of its own has no papers.
#[must_use]
pub fn compile(bytes: &[u8], want: Want) -> Compiled {
    let Draft {
        text,
        fingerprint,
        mut findings,
        boat,
        usable,
    } = draft(bytes);
    let facts = boat.as_ref().map(Facts::new);
    let mut accepted = 0;
    if let Some(facts) = &facts {
        let mut judged = rules::run(facts);
        accepted = rules::accept(facts.system, &mut judged);
        findings.extend(judged);
    }
    diag::sort(&mut findings);
    let tally = Tally::of(&findings, accepted);

    let papers = match &facts {
        Some(facts) if usable && want == Want::Papers => {
            let system = facts.system;
            let options = SheetOptions::for_boat(system, fingerprint.to_string());
            let head = Head::new(system, &tally, fingerprint);
            let lines = LineIndex::new(&text);
            let mut papers = export::drawings(&drawing::schematic(system, &options));
            papers.push(export::findings(&Report {
                file: "",
                text: &text,
                fingerprint,
                findings: &findings,
                tally,
                usable,
                papers: &[],
            }));
            papers.extend(export::lists(
                &head,
                &schedule::lists(facts, &findings, &lines),
            ));
            papers
        }
        _ => Vec::new(),
    };
    Compiled {
        text,
        fingerprint,
        findings,
        tally,
        usable,
        papers,
    }
}
