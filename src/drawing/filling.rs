//! Words set one behind the other in lines of one width.
//!
//! What to do with a word that is wider than a line is left to who sets it.

use crate::font::Extent;

/// Lines that fill up word by word.
pub(super) struct Filling<F> {
    /// Width of a text, in mm.
    width_of: F,
    /// Width of a line, in mm.
    room: f64,
    lines: Vec<String>,
    line: String,
    extent: Extent,
}

impl<F: Fn(Extent) -> f64> Filling<F> {
    pub(super) fn new(room: f64, width_of: F) -> Self {
        Self {
            width_of,
            room,
            lines: Vec::new(),
            line: String::new(),
            extent: Extent::default(),
        }
    }

    /// Puts a word behind those before it; where it does not fit, ends the line before it and says so.
    pub(super) fn takes(&mut self, word: &str) -> bool {
        let space = if self.line.is_empty() { "" } else { " " };
        let longer = self.extent.with(space).with(word);
        if (self.width_of)(longer) <= self.room {
            self.line.push_str(space);
            self.line.push_str(word);
            self.extent = longer;
            return true;
        }
        if !self.line.is_empty() {
            self.end_line();
        }
        false
    }

    /// Puts a piece behind what the line has, whether it fits or not; tells whether it did.
    pub(super) fn push(&mut self, piece: &str) -> bool {
        self.line.push_str(piece);
        self.extent.push_str(piece);
        (self.width_of)(self.extent) <= self.room
    }

    /// What the line has so far.
    pub(super) fn line(&self) -> &str {
        &self.line
    }

    /// Ends the line so many bytes from its beginning; the rest begins the next one.
    pub(super) fn break_at(&mut self, at: usize) {
        let rest = self.line.split_off(at);
        self.lines.push(std::mem::replace(&mut self.line, rest));
        self.extent = Extent::default().with(&self.line);
    }

    /// Ends the line.
    pub(super) fn end_line(&mut self) {
        self.lines.push(std::mem::take(&mut self.line));
        self.extent = Extent::default();
    }

    /// All lines; none for no words.
    pub(super) fn finish(mut self) -> Vec<String> {
        if !self.line.is_empty() {
            self.lines.push(self.line);
        }
        self.lines
    }
}

/// The same with one empty line for no words.
pub(super) fn or_empty(mut lines: Vec<String>) -> Vec<String> {
    if lines.is_empty() {
        lines.push(String::new());
    }
    lines
}
