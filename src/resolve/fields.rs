//! A field of a record together with the characters it is written in.
//!
//! Only this file asks the document for places; it reads no values.

use crate::netlist::Entry;
use crate::netlist::text::{
    ChargeText, CurrentText, DrawText, DurationText, GaugeText, LengthText, NumberText, OneOrMany,
    PercentText, RatingText, ResistanceText, SizeText, TemperatureText, Text, VoltageText,
};
use crate::source::{Document, Node, NodeId, Span};
use std::ops::Range;

/// A text of the file, whatever it should be read as.
pub(super) trait Written {
    /// The characters.
    fn written(&self) -> &str;
}

macro_rules! written {
    ($($name:ident),*) => { $(impl Written for $name {
        fn written(&self) -> &str { self.as_str() }
    })* };
}

written!(
    ChargeText,
    CurrentText,
    DrawText,
    DurationText,
    GaugeText,
    LengthText,
    NumberText,
    PercentText,
    RatingText,
    ResistanceText,
    SizeText,
    TemperatureText,
    Text,
    VoltageText
);

/// A node of the document, and the element of the boat it belongs to.
#[derive(Clone, Copy)]
pub(super) struct At<'n> {
    document: &'n Document,
    node: NodeId,
    /// Designation of the record, for messages.
    pub(super) element: &'n str,
    /// Characters of the designation.
    name_span: Span,
}

impl<'n> At<'n> {
    /// The place of a record.
    pub(super) fn entry<T>(document: &'n Document, entry: &'n Entry<T>) -> Self {
        Self {
            document,
            node: entry.node,
            element: &entry.name,
            name_span: entry.name_span,
        }
    }

    /// The characters of the record's designation.
    pub(super) fn name_span(self) -> Span {
        self.name_span
    }

    /// Whether it is a list.
    pub(super) fn is_list(self) -> bool {
        matches!(self.document.node(self.node), Node::List(_))
    }

    /// The place of a key's value; the record itself where the key is missing.
    pub(super) fn key(self, key: &str) -> Self {
        match self.document.child(self.node, key) {
            Some(node) => Self { node, ..self },
            None => self,
        }
    }

    /// The place of a key itself.
    pub(super) fn key_at(self, key: &str) -> Self {
        match self.document.key_node(self.node, key) {
            Some(node) => Self { node, ..self },
            None => self,
        }
    }

    /// The place of an item; the node itself where it is no list, as for a single value.
    pub(super) fn item(self, index: usize) -> Self {
        match self.document.items(self.node).get(index) {
            Some(&node) => Self { node, ..self },
            None => self,
        }
    }

    /// The place of the first key of a map; the node itself where it is none.
    pub(super) fn first_key(self) -> Self {
        match self.document.entries(self.node).first() {
            Some(&(node, _)) => Self { node, ..self },
            None => self,
        }
    }

    /// The place of the first value of a map; the node itself where it is none.
    pub(super) fn first_value(self) -> Self {
        match self.document.entries(self.node).first() {
            Some(&(_, node)) => Self { node, ..self },
            None => self,
        }
    }

    /// The same place, told as belonging to another element.
    pub(super) fn of(self, element: &'n str) -> Self {
        Self { element, ..self }
    }

    /// Its characters.
    pub(super) fn span(self) -> Span {
        self.document.span(self.node)
    }

    /// The characters of a key, without its value.
    pub(super) fn key_span(self, key: &str) -> Option<Span> {
        self.document.key_span(self.node, key)
    }

    /// The field of a key, where the record has it.
    pub(super) fn field<T: Written>(
        self,
        key: &'static str,
        value: Option<&'n T>,
    ) -> Option<Field<'n>> {
        value.map(|value| self.key(key).text(key, value))
    }

    /// The field that stands at this very place.
    pub(super) fn text<T: Written>(self, key: &'static str, value: &'n T) -> Field<'n> {
        Field {
            key,
            text: value.written(),
            at: self,
        }
    }

    /// The fields of a list, or the one of a single value.
    pub(super) fn list<T: Written>(
        self,
        key: &'static str,
        values: Option<&'n OneOrMany<T>>,
    ) -> Vec<Field<'n>> {
        let list = self.key(key);
        let values = values.map_or(&[][..], |values| &values.0);
        let fields = values.iter().enumerate();
        fields
            .map(|(index, value)| list.item(index).text(key, value))
            .collect()
    }
}

/// A text and where it stands.
#[derive(Clone, Copy)]
pub(super) struct Field<'n> {
    /// Its key, for messages.
    pub(super) key: &'static str,
    /// Its characters as the reader understands them.
    pub(super) text: &'n str,
    /// Its place.
    pub(super) at: At<'n>,
}

impl<'n> Field<'n> {
    /// Its characters in the file.
    pub(super) fn span(self) -> Span {
        self.at.span()
    }

    /// A part of its characters, given in bytes of the text.
    pub(super) fn part(self, range: Range<usize>) -> Span {
        self.at.document.part(self.at.node, range)
    }

    /// `rating` of `main-fuse`, for the beginning of a message.
    pub(super) fn title(self) -> String {
        if self.at.element.is_empty() {
            quoted(self.key)
        } else {
            format!("{} of {}", quoted(self.key), quoted(self.at.element))
        }
    }

    /// The element it belongs to.
    pub(super) fn element(self) -> &'n str {
        self.at.element
    }
}

/// Characters of a name that a message repeats at most.
const MAX_SHOWN: usize = 60;

/// A name between backticks, cut where it is too long for a message.
pub(super) fn quoted(name: &str) -> String {
    match name.char_indices().nth(MAX_SHOWN) {
        Some((end, _)) => format!("`{}…`", &name[..end]),
        None => format!("`{name}`"),
    }
}

/// Names in one line: `a`, `b` and `c`; of many only the first are told.
pub(super) fn listed<'a>(names: impl ExactSizeIterator<Item = &'a str>) -> String {
    const MAX_NAMES: usize = 12;
    let count = names.len();
    let mut shown: Vec<String> = names.take(MAX_NAMES).map(quoted).collect();
    if count > MAX_NAMES {
        return format!("{} and {} more", shown.join(", "), count - MAX_NAMES);
    }
    match (shown.pop(), shown.is_empty()) {
        (None, _) => "none".to_owned(),
        (Some(last), true) => last,
        (Some(last), false) => format!("{} and {last}", shown.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_listed_in_one_line() {
        assert_eq!(listed([].into_iter()), "none");
        assert_eq!(listed(["a"].into_iter()), "`a`");
        assert_eq!(listed(["a", "b", "c"].into_iter()), "`a`, `b` and `c`");
        let many: Vec<String> = (1..=20).map(|number| number.to_string()).collect();
        let line = listed(many.iter().map(String::as_str));
        assert!(line.ends_with("`12` and 8 more"), "{line}");
    }

    #[test]
    fn long_names_are_cut() {
        let long = "é".repeat(100);
        assert_eq!(quoted(&long).chars().count(), MAX_SHOWN + 3);
    }
}
