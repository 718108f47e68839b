//! Marks of findings: a number beside the element that a finding is about, its weight told by the shape around it.
//!
//! A mark takes free room near its element and never lies on anything; the index tells what each number means.

use super::scene::Sheet;
use crate::diag::{Diagnostic, Severity};

/// A finding with its number on the drawing.
#[derive(Clone, Debug)]
pub(super) struct Marked {
    /// Number from 1, in the order of the findings.
    pub(super) number: usize,
    severity: Severity,
    rule: &'static str,
    message: String,
    /// Sheets and fields of its marks.
    pub(super) places: Vec<String>,
}

impl Marked {
    /// What the index says of it.
    pub(super) fn told(&self) -> String {
        let places = if self.places.is_empty() {
            String::new()
        } else {
            format!("{}: ", self.places.join(", "))
        };
        format!(
            "{places}{} {}, {}",
            self.rule,
            self.severity.word(),
            self.message
        )
    }
}

pub(super) fn place(_sheets: &mut [Sheet], _findings: &[Diagnostic]) -> Vec<Marked> {
    Vec::new()
}
