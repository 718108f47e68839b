//! Byte offset to line and column, for people and editors.

use std::fmt;

/// A place as an editor counts it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Position {
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
}

impl fmt::Display for Position {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}:{}", self.line, self.column)
    }
}

/// Bytes between two counted places; keeps one very long line from being counted over and over.
const STRIDE: usize = 1024;

/// Finds the line and column of byte offsets in one text.
#[derive(Clone, Debug)]
pub struct LineIndex<'t> {
    text: &'t str,
    /// Byte offset of each line's first character.
    starts: Vec<usize>,
    /// Characters that begin before each multiple of [`STRIDE`].
    counted: Vec<usize>,
}

impl<'t> LineIndex<'t> {
    /// Looks through the text once. A line ends with LF, CR LF or CR; a byte order mark is no column.
    #[must_use]
    pub fn new(text: &'t str) -> Self {
        let bytes = text.as_bytes();
        let mut starts = vec![text.len() - text.strip_prefix('\u{FEFF}').unwrap_or(text).len()];
        let mut counted = Vec::with_capacity(bytes.len() / STRIDE + 1);
        let mut characters = 0;
        for (offset, &byte) in bytes.iter().enumerate() {
            if offset % STRIDE == 0 {
                counted.push(characters);
            }
            characters += usize::from(begins_character(byte));
            if byte == b'\n' || (byte == b'\r' && bytes.get(offset + 1) != Some(&b'\n')) {
                starts.push(offset + 1);
            }
        }
        Self {
            text,
            starts,
            counted,
        }
    }

    /// Line and column of a byte offset; an offset behind the text counts as its end.
    #[must_use]
    pub fn position(&self, offset: usize) -> Position {
        let offset = offset.min(self.text.len());
        let line = self.starts.partition_point(|&start| start <= offset).max(1);
        let start = self.starts[line - 1].min(offset);
        Position {
            line,
            column: self.characters(offset) - self.characters(start) + 1,
        }
    }

    /// Number of lines.
    #[must_use]
    pub fn len(&self) -> usize {
        self.starts.len()
    }

    /// Never: every text has a first line.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.starts.is_empty()
    }

    /// Characters that begin before the offset.
    fn characters(&self, offset: usize) -> usize {
        let Some(&counted) = self.counted.get(offset / STRIDE) else {
            // Only the end of a text whose length is a multiple of the stride has no entry.
            let last = self.counted.last().copied().unwrap_or(0);
            return last
                + count(
                    &self.text.as_bytes()[self.counted.len().saturating_sub(1) * STRIDE..offset],
                );
        };
        counted + count(&self.text.as_bytes()[offset / STRIDE * STRIDE..offset])
    }
}

fn count(bytes: &[u8]) -> usize {
    bytes.iter().filter(|&&byte| begins_character(byte)).count()
}

/// Continuation bytes of UTF-8 have the form `10xxxxxx` (RFC 3629, section 3).
fn begins_character(byte: u8) -> bool {
    byte & 0xC0 != 0x80
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str, offset: usize) -> (usize, usize) {
        let Position { line, column } = LineIndex::new(text).position(offset);
        (line, column)
    }

    #[test]
    fn columns_count_characters_not_bytes() {
        let text = "µ²: x\nb: é\n";
        assert_eq!(at(text, text.find('x').expect("x is in the text")), (1, 5));
        assert_eq!(at(text, text.find('é').expect("é is in the text")), (2, 4));
        assert_eq!(at(text, text.len()), (3, 1));
        assert_eq!(at(text, text.len() + 9), (3, 1));
    }

    #[test]
    fn every_kind_of_line_end_counts_once() {
        assert_eq!(at("a\r\nb\rc\nd", 7), (4, 1));
        assert_eq!(at("a\r\nb\rc\nd", 1), (1, 2));
    }

    #[test]
    fn a_byte_order_mark_is_no_column() {
        assert_eq!(at("\u{FEFF}ab", 4), (1, 2));
        assert_eq!(at("\u{FEFF}ab", 0), (1, 1));
    }

    #[test]
    fn an_empty_text_has_one_line() {
        assert_eq!(at("", 0), (1, 1));
        assert_eq!(LineIndex::new("").len(), 1);
    }

    #[test]
    fn long_lines_agree_with_plain_counting() {
        let text = "aé→𝄞".repeat(2000);
        let index = LineIndex::new(&text);
        for (nth, (offset, _)) in text.char_indices().enumerate() {
            assert_eq!(index.position(offset).column, nth + 1);
        }
        let aligned = "x".repeat(2 * STRIDE);
        assert_eq!(at(&aligned, aligned.len()), (1, 2 * STRIDE + 1));
    }
}
