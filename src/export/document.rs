//! All papers of a boat as one PDF: front page, contents with page numbers, drawings, lists.

use super::{PaperFile, Unmade};
use crate::drawing::{self, BenchDrawing, DrawingPart, typeset};
use crate::schedule::{Head, Sheet};

/// File name of the document.
pub const DOCUMENT: &str = "papers.pdf";

/// One chapter of the document.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Title in the contents and the bookmarks.
    pub title: String,
    /// Its pages.
    pub sheets: Vec<drawing::Sheet>,
    /// What its pages are named after, in their order; may be empty.
    pub parts: Vec<DrawingPart>,
    /// Whether its pages carry their number in the document.
    pub numbering: Numbering,
}

/// Whether pages carry their number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Numbering {
    /// At their foot.
    AtFoot,
    /// Not at all: the page is stock of which every place may be a label.
    Left,
}

/// Writes the document; none where there is nothing to put into it.
///
/// # Errors
/// A sheet is larger than a PDF can be, or this program was built without the writer.
pub fn document(
    head: &Head,
    drawings: &[BenchDrawing],
    lists: &[&Sheet],
) -> Result<Option<PaperFile>, Unmade> {
    let mut parts: Vec<Part> = drawings
        .iter()
        .map(|drawing| Part {
            title: drawing.title.to_owned(),
            sheets: drawing.sheets.clone(),
            parts: drawing.parts.clone(),
            numbering: if drawing.stem == drawing::LABEL_SHEETS {
                Numbering::Left
            } else {
                Numbering::AtFoot
            },
        })
        .collect();
    parts.extend(lists.iter().map(|list| Part {
        title: list.title.to_owned(),
        sheets: typeset::pages(head, list),
        parts: Vec::new(),
        numbering: Numbering::AtFoot,
    }));
    parts.retain(|part| !part.sheets.is_empty());
    if parts.is_empty() {
        return Ok(None);
    }
    write(head, parts)
        .map(|content| Some(PaperFile::new(DOCUMENT, content)))
        .map_err(|why| Unmade {
            paper: DOCUMENT.to_owned(),
            why,
        })
}

#[cfg(not(feature = "pdf"))]
fn write(_head: &Head, _parts: Vec<Part>) -> Result<Vec<u8>, String> {
    Err(super::left_out("pdf"))
}

#[cfg(feature = "pdf")]
fn write(head: &Head, mut parts: Vec<Part>) -> Result<Vec<u8>, String> {
    use super::pdf::{Chapter, Document, Link, write_document};

    let entries: Vec<typeset::Entry> = parts
        .iter()
        .map(|part| typeset::Entry {
            title: part.title.clone(),
            pages: part.sheets.len(),
            parts: part
                .parts
                .iter()
                .map(|part| (part.name.clone(), part.sheets))
                .collect(),
        })
        .collect();
    let front = typeset::front(head, &entries);
    let links: Vec<Link> = front
        .places
        .iter()
        .map(|place| Link {
            page: place.page,
            area: place.area,
            target: place.leads_to,
        })
        .collect();
    parts.insert(
        0,
        Part {
            title: typeset::FRONT.to_owned(),
            sheets: front.sheets,
            parts: Vec::new(),
            numbering: Numbering::AtFoot,
        },
    );
    let count = parts.iter().map(|part| part.sheets.len()).sum();
    let pages = parts.iter_mut().flat_map(|part| {
        let numbering = part.numbering;
        part.sheets.iter_mut().map(move |sheet| (numbering, sheet))
    });
    for (number, (numbering, sheet)) in (1..).zip(pages) {
        if numbering == Numbering::AtFoot {
            typeset::number(sheet, number, count);
        }
    }
    let document = Document {
        title: format!("Papers of {}", head.boat),
        subject: format!(
            "Wiring of {}, revision {}, netlist {}",
            head.boat, head.revision, head.fingerprint
        ),
        author: head.creator.clone(),
        chapters: parts
            .iter()
            .map(|part| Chapter {
                title: part.title.clone(),
                sheets: &part.sheets,
                parts: part
                    .parts
                    .iter()
                    .map(|part| (part.name.clone(), part.sheets))
                    .collect(),
            })
            .collect(),
        links,
    };
    write_document(&document).map_err(|error| error.to_string())
}
