//! Rows, drawings and findings as bytes: SVG, PDF, PNG, HTML, CSV, XLSX, Markdown, JSON. This room knows file formats
//! and no electricity.

pub mod csv;
mod document;
pub mod html;
pub mod json;
pub mod markdown;
mod names;
mod order;
#[cfg(feature = "pdf")]
pub mod pdf;
#[cfg(feature = "png")]
pub mod png;
pub mod simulator;
pub mod svg;
pub mod words;
#[cfg(feature = "xlsx")]
pub mod xlsx;

pub use document::{DOCUMENT, Numbering, Part, document};
pub use order::{DEFAULT_DPI, Form, Order, Purpose, ROWS_UNASKED, Unmade};

use crate::drawing::BenchDrawing;
use crate::schedule::{Head, Sheet, Table};

/// A finished paper: a file name without any folder, and its content.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PaperFile {
    /// File name.
    pub name: String,
    /// Content.
    pub content: Vec<u8>,
}

impl PaperFile {
    /// A paper.
    #[must_use]
    pub fn new(name: impl Into<String>, content: impl Into<Vec<u8>>) -> Self {
        Self {
            name: name.into(),
            content: content.into(),
        }
    }

    /// The content of a paper that is a text; none for pictures and the like.
    #[must_use]
    pub fn text(&self) -> Option<&str> {
        std::str::from_utf8(&self.content).ok()
    }
}

/// The findings for a program, as one paper.
#[must_use]
pub fn findings(report: &json::Report<'_>) -> PaperFile {
    PaperFile::new("findings.json", json::report(report))
}

/// Sheets of a drawing, each as one SVG: `schematic-01.svg`, `connectors-helm-plug.svg`.
#[must_use]
pub fn drawings(drawing: &BenchDrawing) -> Vec<PaperFile> {
    names::sheet_names(drawing)
        .iter()
        .zip(&drawing.sheets)
        .map(|(name, sheet)| PaperFile::new(format!("{name}.svg"), svg::write(sheet)))
        .collect()
}

/// Sheets of a drawing, each as one picture, named as its SVG; and those that could not be made.
#[must_use]
pub fn pictures(drawing: &BenchDrawing, dpi: u16) -> (Vec<PaperFile>, Vec<Unmade>) {
    let (mut made, mut unmade) = (Vec::new(), Vec::new());
    #[cfg(feature = "png")]
    let pen = png::Pen::new(dpi);
    for (name, sheet) in names::sheet_names(drawing).iter().zip(&drawing.sheets) {
        let name = format!("{name}.png");
        #[cfg(feature = "png")]
        let drawn = pen.draw(sheet).map_err(|error| error.to_string());
        #[cfg(not(feature = "png"))]
        let drawn: Result<Vec<u8>, String> = {
            let _ = (sheet, dpi);
            Err(left_out("png"))
        };
        match drawn {
            Ok(content) => made.push(PaperFile::new(name, content)),
            Err(why) => unmade.push(Unmade { paper: name, why }),
        }
    }
    (made, unmade)
}

/// Each sheet of a boat as a page.
#[must_use]
pub fn pages(head: &Head, sheets: &[&Sheet]) -> Vec<PaperFile> {
    sheets
        .iter()
        .map(|sheet| PaperFile::new(format!("{}.html", sheet.stem), html::sheet(head, sheet)))
        .collect()
}

/// Each table of a boat as CSV.
#[must_use]
pub fn tables(tables: &[&Table]) -> Vec<PaperFile> {
    tables
        .iter()
        .map(|table| PaperFile::new(format!("{}.csv", table.stem), csv::table(table)))
        .collect()
}

/// All tables of a boat as one JSON text.
#[must_use]
pub fn together(head: &Head, tables: &[&Table]) -> PaperFile {
    PaperFile::new("schedules.json", json::tables(head.fingerprint, tables))
}

/// All lists of a boat as one Markdown text.
#[must_use]
pub fn lists(head: &Head, sheets: &[&Sheet]) -> PaperFile {
    PaperFile::new("schedules.md", markdown::lists(head, sheets))
}

/// All tables of a boat in one workbook.
///
/// # Errors
/// A limit of the format is passed, or this program was built without the writer.
pub fn workbook(head: &Head, tables: &[&Table]) -> Result<PaperFile, Unmade> {
    let name = "schedules.xlsx";
    #[cfg(feature = "xlsx")]
    let made = xlsx::workbook(head, tables);
    #[cfg(not(feature = "xlsx"))]
    let made: Result<Vec<u8>, String> = {
        let _ = (head, tables);
        Err(left_out("xlsx"))
    };
    match made {
        Ok(content) => Ok(PaperFile::new(name, content)),
        Err(why) => Err(Unmade {
            paper: name.to_owned(),
            why,
        }),
    }
}

/// Why a form is not there at all.
#[must_use]
pub fn left_out(feature: &str) -> String {
    format!("this program was built without it; build it with `--features {feature}`")
}
