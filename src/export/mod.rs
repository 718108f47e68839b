//! Rows and findings as bytes: CSV, HTML, JSON. This room knows file formats and no electricity.

pub mod csv;
pub mod html;
pub mod json;
#[cfg(feature = "pdf")]
pub mod pdf;
pub mod simulator;
pub mod svg;
pub mod words;

use crate::drawing;
use crate::schedule::{Head, Sheet, Table};

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

/// Drawings of the bench, each sheet as one picture: `label-sheets-02.svg`.
#[must_use]
pub fn bench(drawings: &[drawing::BenchDrawing]) -> Vec<PaperFile> {
    drawings
        .iter()
        .flat_map(|drawing| {
            let sheets = drawing.sheets.iter().enumerate();
            sheets.map(|(index, sheet)| PaperFile {
                name: format!("{}-{:02}.svg", drawing.stem, index + 1),
                text: svg::write(sheet),
            })
        })
        .collect()
}

/// Each sheet of a boat as a page.
#[must_use]
pub fn pages(head: &Head, sheets: &[Sheet]) -> Vec<PaperFile> {
    sheets
        .iter()
        .map(|sheet| PaperFile {
            name: format!("{}.html", sheet.stem),
            text: html::sheet(head, sheet),
        })
        .collect()
}

/// Each table of a boat as CSV, and all of them together as JSON.
#[must_use]
pub fn tables(head: &Head, tables: &[Table]) -> Vec<PaperFile> {
    let together = PaperFile {
        name: "schedules.json".to_owned(),
        text: json::tables(head.fingerprint, tables),
    };
    let single = tables.iter().map(|table| PaperFile {
        name: format!("{}.csv", table.stem),
        text: csv::table(table),
    });
    single.chain(std::iter::once(together)).collect()
}
