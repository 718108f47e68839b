//! Findings and schedules as JSON, with the same content as the text on a terminal and the printed lists.
//!
//! Keys and their order are fixed; `format` rises when a reader would have to change.

use crate::diag::{Diagnostic, Figure, SetTo, Severity, Tally};
use crate::schedule::{Cell, Fingerprint, Table};
use crate::source::{LineIndex, Position};
use crate::standards::Basis;
use serde::Serialize;

/// Version of the shape of these files.
pub const FORMAT: u32 = 1;

/// What a run has to say, for a program to read.
#[derive(Clone, Copy, Debug)]
pub struct Report<'r> {
    /// Name of the input as it was given; empty in a paper, which does not depend on where its netlist lies.
    pub file: &'r str,
    /// Its text, which the places count lines in.
    pub text: &'r str,
    /// Its fingerprint.
    pub fingerprint: Fingerprint,
    /// The findings in their order.
    pub findings: &'r [Diagnostic],
    /// Their count.
    pub tally: Tally,
    /// Whether the file could be read as a boat.
    pub usable: bool,
    /// Names of the papers made.
    pub papers: &'r [String],
}

/// Writes a report.
#[must_use]
pub fn report(report: &Report<'_>) -> String {
    let lines = LineIndex::new(report.text);
    let shown = ReportShape {
        program: "loomwright",
        version: env!("CARGO_PKG_VERSION"),
        format: FORMAT,
        file: report.file,
        fingerprint: report.fingerprint.to_string(),
        status: match (report.usable, report.tally.is_clean()) {
            (false, _) => "unusable",
            (true, true) => "clean",
            (true, false) => "findings",
        },
        counts: report.tally,
        findings: report
            .findings
            .iter()
            .map(|finding| FindingShape::new(finding, &lines))
            .collect(),
        papers: report.papers,
    };
    text(&shown)
}

/// Writes tables, each as a list of records under its name, one record a line.
#[must_use]
pub fn tables(fingerprint: Fingerprint, tables: &[&Table]) -> String {
    let cells: usize = tables
        .iter()
        .map(|table| table.rows.len() * table.columns.len())
        .sum();
    let mut out = String::with_capacity(32 * cells);
    out.push_str("{\n\"program\": \"loomwright\",\n\"version\": ");
    push(&mut out, env!("CARGO_PKG_VERSION"));
    out.push_str(",\n\"format\": ");
    push(&mut out, &FORMAT);
    out.push_str(",\n\"fingerprint\": ");
    push(&mut out, &fingerprint.to_string());
    for table in tables {
        out.push_str(",\n");
        push(&mut out, table.stem);
        out.push_str(": [");
        let keys: Vec<String> = (0..)
            .zip(table.columns)
            .map(|(index, name)| {
                let mut key = String::from(if index == 0 { "" } else { ", " });
                push(&mut key, name);
                key.push_str(": ");
                key
            })
            .collect();
        for (index, row) in table.rows.iter().enumerate() {
            out.push_str(if index == 0 { "\n" } else { ",\n" });
            record(&mut out, &keys, row);
        }
        out.push_str("\n]");
    }
    out.push_str("\n}\n");
    out
}

/// Adds one record; the keys have their marks already.
fn record(out: &mut String, keys: &[String], row: &[Cell]) {
    out.push('{');
    for (key, cell) in keys.iter().zip(row) {
        out.push_str(key);
        match cell {
            Cell::Text(text) if text.bytes().all(is_plain) => {
                out.push('"');
                out.push_str(text);
                out.push('"');
            }
            Cell::Text(text) => push(out, text),
            // A fixed count of decimals is a JSON number as it stands.
            Cell::Number(number) => out.push_str(number),
            Cell::Empty => out.push_str("null"),
        }
    }
    out.push('}');
}

/// Whether a byte stands in a JSON text as it is: RFC 8259, section 7.
fn is_plain(byte: u8) -> bool {
    byte >= b' ' && byte != b'"' && byte != b'\\'
}

/// Adds a text or a number in its JSON form.
fn push(out: &mut String, value: &(impl Serialize + ?Sized)) {
    out.push_str(&serde_json::to_string(value).expect("texts and numbers have a JSON form"));
}

fn text(shown: &impl Serialize) -> String {
    let mut text = serde_json::to_string_pretty(shown)
        .expect("keys are text and numbers are finite, so nothing can fail");
    text.push('\n');
    text
}

#[derive(Serialize)]
struct ReportShape<'r> {
    program: &'static str,
    version: &'static str,
    format: u32,
    #[serde(skip_serializing_if = "str::is_empty")]
    file: &'r str,
    fingerprint: String,
    status: &'static str,
    counts: Tally,
    findings: Vec<FindingShape<'r>>,
    papers: &'r [String],
}

#[derive(Serialize)]
struct FindingShape<'r> {
    rule: &'static str,
    name: &'static str,
    severity: Severity,
    message: &'r str,
    element: &'r str,
    also: &'r [String],
    places: Vec<PlaceShape<'r>>,
    value: Option<&'r Figure>,
    limit: Option<&'r Figure>,
    positions: &'r [SetTo],
    path: &'r [String],
    basis: Vec<BasisShape<'r>>,
    help: &'r str,
}

/// A place: lines and columns count from 1, columns in characters; bytes count from 0, the end exclusive.
#[derive(Serialize)]
struct PlaceShape<'r> {
    line: usize,
    column: usize,
    end_line: usize,
    end_column: usize,
    start_byte: usize,
    end_byte: usize,
    text: &'r str,
}

#[derive(Serialize)]
struct BasisShape<'r> {
    #[serde(flatten)]
    basis: &'r Basis,
    text: String,
}

impl<'r> FindingShape<'r> {
    fn new(finding: &'r Diagnostic, lines: &LineIndex<'_>) -> Self {
        Self {
            rule: finding.rule,
            name: finding.name,
            severity: finding.severity,
            message: &finding.message,
            element: &finding.element,
            also: &finding.also,
            places: finding
                .labels
                .iter()
                .map(|label| {
                    let Position { line, column } = lines.position(label.span.start);
                    let end = lines.position(label.span.end);
                    PlaceShape {
                        line,
                        column,
                        end_line: end.line,
                        end_column: end.column,
                        start_byte: label.span.start,
                        end_byte: label.span.end,
                        text: &label.text,
                    }
                })
                .collect(),
            value: finding.value.as_ref(),
            limit: finding.limit.as_ref(),
            positions: &finding.positions,
            path: &finding.path,
            basis: finding
                .basis
                .iter()
                .map(|basis| BasisShape {
                    basis,
                    text: basis.to_string(),
                })
                .collect(),
            help: &finding.help,
        }
    }
}
