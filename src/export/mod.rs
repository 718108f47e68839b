//! Rows and findings as bytes: CSV, HTML, JSON. This room knows file formats and no electricity.

pub mod csv;
pub mod html;
pub mod json;
pub mod simulator;
pub mod svg;

use crate::drawing;
use crate::schedule::{Head, Lists};

/// A finished paper: a file name without any folder, and its content.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PaperFile {
    /// File name.
    pub name: String,
    /// Content.
    pub text: String,
}

/// The findings for a program, as one paper.
#[must_use]
pub fn findings(report: &json::Report<'_>) -> PaperFile {
    PaperFile {
        name: "findings.json".to_owned(),
        text: json::report(report),
    }
}

/// Sheets of the schematic, each as one picture: `schematic-01.svg`.
#[must_use]
pub fn drawings(sheets: &[drawing::Sheet]) -> Vec<PaperFile> {
    sheets
        .iter()
        .enumerate()
        .map(|(index, sheet)| PaperFile {
            name: format!("schematic-{:02}.svg", index + 1),
            text: svg::write(sheet),
        })
        .collect()
}

/// Every list of a boat: each sheet as a page, each table as CSV, and all tables together as JSON.
#[must_use]
pub fn lists(head: &Head, lists: &Lists) -> Vec<PaperFile> {
    let pages = lists.sheets.iter().map(|sheet| PaperFile {
        name: format!("{}.html", sheet.stem),
        text: html::sheet(head, sheet),
    });
    let tables = lists.tables.iter().map(|table| PaperFile {
        name: format!("{}.csv", table.stem),
        text: csv::table(table),
    });
    let together = PaperFile {
        name: "schedules.json".to_owned(),
        text: json::tables(head.fingerprint, &lists.tables),
    };
    pages
        .chain(tables)
        .chain(std::iter::once(together))
        .collect()
}
