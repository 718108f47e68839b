//! The findings as a sheet to work through, heaviest first.

use super::cautions;
use super::paper::{Block, Cell, Column, Field, Orientation, Sheet, Table};
use crate::diag::{Diagnostic, Severity, on_paper};
use crate::source::{LineIndex, Position};
use crate::system::System;

const COLUMNS: &[&str] = &[
    "severity",
    "rule",
    "name",
    "element",
    "line",
    "column",
    "message",
    "help",
    "positions",
    "path",
    "basis",
];

/// The findings as records, in the order of the file.
#[must_use]
pub fn findings_table(findings: &[Diagnostic], lines: &LineIndex<'_>) -> Table {
    let rows = findings
        .iter()
        .map(|finding| {
            let place = place(finding, lines);
            vec![
                Cell::text(finding.severity.word()),
                Cell::text(finding.rule),
                Cell::text(finding.name),
                Cell::text(&finding.element),
                place.map_or(Cell::Empty, |place| Cell::count(place.line)),
                place.map_or(Cell::Empty, |place| Cell::count(place.column)),
                Cell::text(&finding.message),
                Cell::text(&finding.help),
                Cell::text(positions(finding)),
                Cell::text(finding.path.join(" → ")),
                Cell::text(authorities(finding).join("; ")),
            ]
        })
        .collect();
    Table {
        stem: "findings",
        columns: COLUMNS,
        rows,
    }
}

/// The findings to be ticked off: errors, warnings, not proved, notes.
#[must_use]
pub fn findings_sheet(system: &System, findings: &[Diagnostic], lines: &LineIndex<'_>) -> Sheet {
    let blocks = [
        (Severity::Error, "Errors"),
        (Severity::Warning, "Warnings"),
        (
            Severity::NotProved,
            "Not proved, because a value is not given",
        ),
        (Severity::Note, "Notes, accepted findings among them"),
    ]
    .into_iter()
    .map(|(severity, title)| Block {
        title: title.to_owned(),
        rows: findings
            .iter()
            .filter(|finding| finding.severity == severity)
            .map(|finding| row(finding, lines))
            .collect(),
        ..Block::default()
    })
    .chain(accepted_by_owner(system))
    .filter(|block| !block.rows.is_empty() || !block.totals.is_empty())
    .collect();
    Sheet {
        stem: "findings",
        title: "Findings",
        orientation: Orientation::Across,
        remarks: vec![
            "What the netlist was compared with and where it falls short. A sheet without rows is no proof that the boat is safe: \
             only what the file says could be looked at."
                .to_owned(),
        ],
        columns: vec![
            Column::tick("Done"),
            Column::text("Rule, line", 24.0),
            Column::text("Element", 32.0),
            Column::text("Finding", 100.0),
            Column::text("Repair", 60.0),
            Column::text("Compared with", 50.0),
        ],
        blocks,
        strips: Vec::new(),
        cautions: vec![cautions::DISCONNECT, cautions::NEVER_LARGER, cautions::NO_AC],
    }
}

/// Every acceptance that the file declares, one line each; none where it declares none.
pub(super) fn accepted_by_owner(system: &System) -> Option<Block> {
    let lines: Vec<String> = system
        .acceptances
        .iter()
        .map(|acceptance| {
            format!(
                "{} for {}: {}",
                acceptance.rule,
                if acceptance.element.is_empty() {
                    "the whole file"
                } else {
                    &acceptance.element
                },
                acceptance.reason
            )
        })
        .collect();
    (!lines.is_empty()).then(|| Block {
        title: "Accepted by the owner, with the reason".to_owned(),
        detail: "written in the netlist; each one that meets no finding is told as NF100"
            .to_owned(),
        totals: lines,
        ..Block::default()
    })
}

fn row(finding: &Diagnostic, lines: &LineIndex<'_>) -> Vec<Field> {
    let line =
        place(finding, lines).map_or_else(String::new, |place| format!("line {}", place.line));
    let mut message = vec![on_paper(&finding.message)];
    if !finding.positions.is_empty() {
        message.push(format!("With {}", positions(finding)));
    }
    if !finding.path.is_empty() {
        message.push(format!("Path {}", finding.path.join(" → ")));
    }
    vec![
        Field::Tick,
        Field::Lines(vec![finding.rule.to_owned(), line]),
        Field::text(&finding.element),
        Field::Lines(message),
        Field::text(on_paper(&finding.help)),
        Field::Lines(authorities(finding)),
    ]
}

fn place(finding: &Diagnostic, lines: &LineIndex<'_>) -> Option<Position> {
    finding
        .labels
        .first()
        .map(|label| lines.position(label.span.start))
}

fn positions(finding: &Diagnostic) -> String {
    finding
        .positions
        .iter()
        .map(|set| format!("{} = {}", set.switch, set.position))
        .collect::<Vec<_>>()
        .join(", ")
}

fn authorities(finding: &Diagnostic) -> Vec<String> {
    finding.basis.iter().map(ToString::to_string).collect()
}
