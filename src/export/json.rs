//! Findings and schedules as JSON, with the same content as the text on a terminal and the printed lists.
//!
//! Keys and their order are fixed; `format` rises when a reader would have to change.

use crate::diag::{Diagnostic, Figure, SetTo, Severity, Tally};
use crate::schedule::{Cell, Fingerprint, Table};
use crate::source::{LineIndex, Position};
use crate::standards::Basis;
use serde::Serialize;
use serde_json::{Map, Number, Value};

/// Version of the shape of these files.
pub const FORMAT: u32 = 1;

/// What a run has to say, for a program to read.
#[derive(Clone, Copy, Debug)]
pub struct Report<'r> {
    /// Name of the input as it was given.
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

/// Writes tables, each as a list of records under its name.
#[must_use]
pub fn tables(fingerprint: Fingerprint, tables: &[Table]) -> String {
    let mut shown = Map::new();
    shown.insert("program".into(), "loomwright".into());
    shown.insert("version".into(), env!("CARGO_PKG_VERSION").into());
    shown.insert("format".into(), FORMAT.into());
    shown.insert("fingerprint".into(), fingerprint.to_string().into());
    for table in tables {
        let rows = table.rows.iter().map(|row| {
            let record = table.columns.iter().zip(row);
            Value::Object(
                record
                    .map(|(&name, cell)| (name.to_owned(), value(cell)))
                    .collect(),
            )
        });
        shown.insert(table.stem.to_owned(), Value::Array(rows.collect()));
    }
    text(&Value::Object(shown))
}

fn value(cell: &Cell) -> Value {
    match cell {
        Cell::Text(text) => Value::String(text.clone()),
        Cell::Number(number) => number
            .parse::<i64>()
            .map(Number::from)
            .ok()
            .or_else(|| number.parse().ok().and_then(Number::from_f64))
            .map_or(Value::Null, Value::Number),
        Cell::Empty => Value::Null,
    }
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
