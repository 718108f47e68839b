//! The file as text: byte spans, lines and columns, and the YAML tree with a span on every node.
//!
//! Two readers read every file and are compared; what they disagree on is refused.
//! A fault of the text never ends the reading: [`read`] goes on where it can and reports all of them.
//! This room knows YAML and nothing of wiring.

mod agree;
mod faults;
mod lines;
mod parse;
mod scalar;
#[cfg(test)]
mod tests;
mod text;
mod tree;
mod words;

pub use faults::{FAULTS, Fault, MAX_FINDINGS};
pub use lines::{LineIndex, Position};
pub use parse::{MAX_EXPANDED, MAX_NESTING, MAX_NODES, MAX_RESUMES};
pub use scalar::{Meaning, Style};
pub use text::MAX_BYTES;
pub use tree::{Document, Node, NodeId};

pub(crate) use faults::{
    Findings, UNKNOWN_KEY, UNKNOWN_LANGUAGE, UNKNOWN_SECTION, WRONG_SHAPE, shortened,
};

use crate::diag::{self, Diagnostic, Severity};

/// A range of bytes in the file, end exclusive.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span {
    /// First byte.
    pub start: usize,
    /// One past the last byte.
    pub end: usize,
}

impl Span {
    /// A span from start to end.
    #[must_use]
    pub fn new(start: usize, end: usize) -> Self {
        Self { start, end }
    }
}

/// What a file says, as far as it could be read.
#[derive(Clone, Debug)]
pub struct Reading {
    /// The file's text; every span counts its bytes. A byte that is no text stands here as `?`.
    pub text: String,
    /// The tree, if the text has exactly one meaning.
    pub document: Option<Document>,
    /// What could be read of a text that has no sure meaning: good for finding further faults, never for judging a boat.
    pub salvage: Option<Document>,
    /// Where the first syntax error stands; everything found behind it may be a consequence of it.
    pub broken_at: Option<usize>,
    /// The faults of the text, in the order of the file.
    pub diagnostics: Vec<Diagnostic>,
}

impl Reading {
    /// Says in a finding that it stands behind a syntax error, where it does.
    #[must_use]
    pub fn with_doubt(&self, mut finding: Diagnostic) -> Diagnostic {
        let start = finding.labels.first().map(|label| label.span.start);
        if self
            .broken_at
            .is_some_and(|broken| start.is_some_and(|start| start > broken))
        {
            finding.message.push_str(AFTER_SYNTAX_ERROR);
        }
        finding
    }
}

const AFTER_SYNTAX_ERROR: &str = " (found after a syntax error)";

/// Reads the bytes of a file.
#[must_use]
pub fn read(bytes: &[u8]) -> Reading {
    let mut findings = Findings::default();
    let Some(text::Decoded {
        shown,
        clean,
        start,
    }) = text::decode(bytes, &mut findings)
    else {
        return Reading {
            text: String::new(),
            document: None,
            salvage: None,
            broken_at: None,
            diagnostics: findings.finish(),
        };
    };
    let parse::Parsed {
        document,
        broken_at,
    } = parse::parse(&clean, start, &mut findings);
    if let Some(document) = &document
        && findings.is_empty()
    {
        agree::compare(&clean, start, document, &mut findings);
    }
    let diagnostics = findings.finish();
    let refused = diagnostics
        .iter()
        .any(|finding| finding.severity == Severity::Error);
    let (document, salvage) = if refused {
        (None, document)
    } else {
        (document, None)
    };
    let mut reading = Reading {
        text: shown,
        document,
        salvage,
        broken_at,
        diagnostics: Vec::new(),
    };
    reading.diagnostics = diagnostics
        .into_iter()
        .map(|finding| reading.with_doubt(finding))
        .collect();
    diag::sort(&mut reading.diagnostics);
    reading
}
