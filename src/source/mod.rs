//! The file as text: byte spans, lines and columns, and the YAML tree with a span on every node.
//!
//! Two readers read every file and are compared; what they disagree on is refused.
//! This room knows YAML and nothing of wiring.

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

/// A node of the document.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NodeId(pub u32);
