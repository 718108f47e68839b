//! Records from the tree: one at a time, each fault under its own characters.
//!
//! A record is read by its own serde code, straight from the tree. Unknown keys are reported and passed over; a value of
//! the wrong shape is reported, left out, and the record is read again without it. So one reading tells all faults of a
//! record, and no record hides the next. Fields are all optional, so a record without its faulty values always reads.

use super::Entry;
use crate::diag::{self, Diagnostic};
use crate::source::{
    Document, Findings, Meaning, Node, NodeId, Span, UNKNOWN_KEY, WRONG_SHAPE, shortened,
};
use serde::de::value::BorrowedStrDeserializer;
use serde::de::{
    self, DeserializeOwned, DeserializeSeed, Deserializer, Expected, MapAccess, SeqAccess,
    Unexpected, Visitor,
};
use serde::forward_to_deserialize_any;
use std::collections::BTreeSet;
use std::fmt;

/// Most values left out of one record before it is given up; every key of the largest record can be wrong.
const MAX_LEFT_OUT: usize = 50;

/// Reads the records of one file and collects their faults.
pub(super) struct RecordReader<'d> {
    document: &'d Document,
    pub(super) findings: Findings,
    /// Faulty nodes already told; an aliased record has its faults once.
    told: BTreeSet<NodeId>,
    /// Values left out of the record being read: the map or list and the place in it.
    left_out: Vec<(NodeId, usize)>,
    /// Designation of the record being read.
    element: &'d str,
}

impl<'d> RecordReader<'d> {
    pub(super) fn new(document: &'d Document) -> Self {
        Self {
            document,
            findings: Findings::default(),
            told: BTreeSet::new(),
            left_out: Vec::new(),
            element: "",
        }
    }

    /// A section that maps designations to records.
    pub(super) fn records<T: DeserializeOwned + Default>(
        &mut self,
        key: NodeId,
        section: NodeId,
    ) -> Vec<Entry<T>> {
        match self.document.node(section) {
            Node::Map(entries) => entries
                .iter()
                .map(|&(name, value)| self.record(name, value))
                .collect(),
            Node::Scalar {
                meaning: Meaning::Nothing,
                ..
            } => Vec::new(),
            _ => {
                self.element = "";
                self.wrong_shape(section, Some(key), "a map of designations");
                Vec::new()
            }
        }
    }

    /// A section that lists records without designations; they are numbered from 1.
    pub(super) fn list<T: DeserializeOwned + Default>(
        &mut self,
        key: NodeId,
        section: NodeId,
    ) -> Vec<Entry<T>> {
        match self.document.node(section) {
            Node::List(items) => {
                let mut entries = Vec::with_capacity(items.len());
                for (index, &item) in items.iter().enumerate() {
                    let place = Place {
                        node: item,
                        key: None,
                        within: None,
                    };
                    let mut entry: Entry<T> = self.one(key, place);
                    entry.name = (index + 1).to_string();
                    entry.name_span = entry.span;
                    entries.push(entry);
                }
                entries
            }
            Node::Scalar {
                meaning: Meaning::Nothing,
                ..
            } => Vec::new(),
            _ => {
                self.element = "";
                self.wrong_shape(section, Some(key), "a list");
                Vec::new()
            }
        }
    }

    /// One record; what cannot be read of it is reported and left out.
    pub(super) fn record<T: DeserializeOwned + Default>(
        &mut self,
        key: NodeId,
        node: NodeId,
    ) -> Entry<T> {
        self.one(
            key,
            Place {
                node,
                key: Some(key),
                within: None,
            },
        )
    }

    /// The record at a place, under the designation of a key.
    fn one<T: DeserializeOwned + Default>(&mut self, key: NodeId, place: Place) -> Entry<T> {
        let node = place.node;
        let document = self.document;
        self.element = document.text(key).unwrap_or_default();
        self.left_out.clear();
        let value = loop {
            let fault = match T::deserialize(Value {
                reader: &mut *self,
                node,
            }) {
                Ok(value) => break value,
                Err(fault) => fault,
            };
            let place = fault.place.unwrap_or(place);
            self.report(&fault.what, place);
            // A record that is no map at all has nothing to leave out.
            let Some(within) = place.within else {
                break T::default();
            };
            self.left_out.push(within);
            if self.left_out.len() >= MAX_LEFT_OUT || self.findings.is_full() {
                break T::default();
            }
        };
        Entry {
            name: self.element.to_owned(),
            name_span: document.span(key),
            span: document.span(node),
            node,
            value,
        }
    }

    fn is_left_out(&self, within: (NodeId, usize)) -> bool {
        self.left_out.contains(&within)
    }

    fn report(&mut self, what: &What, place: Place) {
        match what {
            What::Shape(expected) => self.wrong_shape(place.node, place.key, expected),
            What::UnknownKey(known) => self.unknown_key(place.node, "", known),
            What::Other(message) => {
                let message = message.clone();
                self.tell(place.node, |finding| Diagnostic { message, ..finding });
            }
        }
    }

    fn wrong_shape(&mut self, node: NodeId, key: Option<NodeId>, expected: &str) {
        let found = found(self.document, node);
        let message = match key.and_then(|key| self.document.text(key)) {
            Some(key) => format!("`{}` is {found}; {expected} is expected", shortened(key)),
            None => format!("{found} stands here; {expected} is expected"),
        };
        let help = truth_meant(self.document.text(node), expected);
        self.tell(node, |finding| Diagnostic {
            message,
            help,
            ..finding
        });
    }

    /// Tells a wrong shape once; the finding is filled in by the caller.
    fn tell(&mut self, node: NodeId, fill: impl FnOnce(Diagnostic) -> Diagnostic) {
        if self.told.insert(node) {
            let (span, element) = (self.document.span(node), self.element);
            self.findings.add(|| {
                let mut finding = WRONG_SHAPE.says("").label(span, "here");
                element.clone_into(&mut finding.element);
                fill(finding)
            });
        }
    }

    fn unknown_key(&mut self, key: NodeId, record: &str, known: &[&'static str]) {
        if !self.told.insert(key) {
            return;
        }
        let (span, element) = (self.document.span(key), self.element);
        let text = self.document.text(key).unwrap_or_default();
        let noun = noun(record);
        self.findings.add(|| {
            let place = if noun.is_empty() {
                "here".to_owned()
            } else {
                format!("of {}", with_article(&noun))
            };
            let help = match diag::nearest(text, known.iter().copied()) {
                Some(near) => format!("did you mean `{near}`?"),
                None if noun.is_empty() => format!("the keys here are {}", list_of(known)),
                None => format!("{} has the keys {}", with_article(&noun), list_of(known)),
            };
            let mut finding = UNKNOWN_KEY
                .says(format!("`{}` is not a key {place}", shortened(text)))
                .label(span, "this key")
                .repair(help);
            element.clone_into(&mut finding.element);
            finding
        });
    }
}

/// Words of the truth values that people write and YAML reads as text.
fn truth_meant(text: Option<&str>, expected: &str) -> String {
    if expected != TRUTH {
        return String::new();
    }
    match text.map(str::to_lowercase).as_deref() {
        Some("yes" | "on" | "y") => "write `true`".to_owned(),
        Some("no" | "off" | "n") => "write `false`".to_owned(),
        _ => String::new(),
    }
}

const TRUTH: &str = "`true` or `false`";

/// What stands at a node, in words.
fn found(document: &Document, node: NodeId) -> String {
    match document.node(node) {
        Node::Map(_) => "a map".to_owned(),
        Node::List(_) => "a list".to_owned(),
        Node::Scalar {
            meaning: Meaning::Nothing,
            ..
        } => "nothing".to_owned(),
        Node::Scalar {
            meaning: Meaning::Truth(value),
            ..
        } => format!("the truth value `{value}`"),
        Node::Scalar {
            meaning: Meaning::Number,
            text,
            ..
        } => format!("the number `{}`", shortened(text)),
        Node::Scalar { text, .. } => format!("the text `{}`", shortened(text)),
    }
}

/// The words for a record type: `FuseBlockRecord` is a `fuse block`.
fn noun(record: &str) -> String {
    let stem = record
        .strip_suffix("Record")
        .or_else(|| record.strip_suffix("Map"))
        .unwrap_or(record);
    let mut words = String::new();
    for letter in stem.chars() {
        if letter.is_uppercase() && !words.is_empty() {
            words.push(' ');
        }
        words.extend(letter.to_lowercase());
    }
    words
}

fn with_article(noun: &str) -> String {
    let article = if noun.starts_with(['a', 'e', 'i', 'o', 'u']) {
        "an"
    } else {
        "a"
    };
    format!("{article} {noun}")
}

fn list_of(known: &[&str]) -> String {
    let quoted: Vec<String> = known.iter().map(|key| format!("`{key}`")).collect();
    quoted.join(", ")
}

/// What a record cannot take.
#[derive(Debug)]
enum What {
    /// Something else is expected.
    Shape(String),
    /// A key that is none of these.
    UnknownKey(&'static [&'static str]),
    /// The record's own words.
    Other(String),
}

#[derive(Clone, Copy, Debug)]
struct Place {
    node: NodeId,
    /// The key whose value it is.
    key: Option<NodeId>,
    /// The map or list that holds it, and its place there.
    within: Option<(NodeId, usize)>,
}

#[derive(Debug)]
struct Fault {
    what: What,
    place: Option<Place>,
}

impl Fault {
    fn new(what: What) -> Self {
        Self { what, place: None }
    }

    fn shape(expected: &str) -> Self {
        Self::new(What::Shape(expected.to_owned()))
    }

    /// Keeps the innermost place.
    fn at(mut self, place: Place) -> Self {
        self.place.get_or_insert(place);
        self
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.what {
            What::Shape(expected) => write!(out, "{expected} is expected"),
            What::UnknownKey(_) => out.write_str("unknown key"),
            What::Other(message) => out.write_str(message),
        }
    }
}

impl std::error::Error for Fault {}

impl de::Error for Fault {
    fn custom<T: fmt::Display>(message: T) -> Self {
        Self::new(What::Other(message.to_string()))
    }
    fn invalid_type(_: Unexpected<'_>, expected: &dyn Expected) -> Self {
        Self::shape(&expected.to_string())
    }
    fn invalid_value(_: Unexpected<'_>, expected: &dyn Expected) -> Self {
        Self::shape(&expected.to_string())
    }
    fn invalid_length(_: usize, expected: &dyn Expected) -> Self {
        Self::shape(&expected.to_string())
    }
    fn unknown_field(_: &str, known: &'static [&'static str]) -> Self {
        Self::new(What::UnknownKey(known))
    }
    fn unknown_variant(_: &str, known: &'static [&'static str]) -> Self {
        Self::new(What::Shape(format!("one of {}", list_of(known))))
    }
}

/// A node as serde reads it.
///
/// A number is handed over as it is written, because records hold text; nothing is rounded or reformatted.
struct Value<'r, 'd> {
    reader: &'r mut RecordReader<'d>,
    node: NodeId,
}

impl<'r, 'd> Value<'r, 'd> {
    fn look(&self) -> Node<'d> {
        self.reader.document.node(self.node)
    }

    fn entries(self, entries: &'d [(NodeId, NodeId)], known: Option<Known>) -> Entries<'r, 'd> {
        Entries {
            reader: self.reader,
            map: self.node,
            pairs: entries,
            next: 0,
            known,
        }
    }

    fn items(self, items: &'d [NodeId]) -> Items<'r, 'd> {
        Items {
            reader: self.reader,
            list: self.node,
            nodes: items,
            next: 0,
        }
    }
}

impl<'d> Deserializer<'d> for Value<'_, 'd> {
    type Error = Fault;

    fn deserialize_any<V: Visitor<'d>>(self, visitor: V) -> Result<V::Value, Fault> {
        match self.look() {
            Node::Map(entries) => visitor.visit_map(self.entries(entries, None)),
            Node::List(items) => visitor.visit_seq(self.items(items)),
            Node::Scalar {
                meaning: Meaning::Nothing,
                ..
            } => visitor.visit_unit(),
            Node::Scalar {
                meaning: Meaning::Truth(value),
                ..
            } => visitor.visit_bool(value),
            Node::Scalar { text, .. } => visitor.visit_borrowed_str(text),
        }
    }

    fn deserialize_bool<V: Visitor<'d>>(self, visitor: V) -> Result<V::Value, Fault> {
        match self.look() {
            Node::Scalar {
                meaning: Meaning::Truth(value),
                ..
            } => visitor.visit_bool(value),
            _ => Err(Fault::shape(TRUTH)),
        }
    }

    fn deserialize_str<V: Visitor<'d>>(self, visitor: V) -> Result<V::Value, Fault> {
        match self.look() {
            Node::Scalar {
                meaning: Meaning::Nothing,
                ..
            }
            | Node::Map(_)
            | Node::List(_) => Err(Fault::shape("a text")),
            Node::Scalar { text, .. } => visitor.visit_borrowed_str(text),
        }
    }

    fn deserialize_string<V: Visitor<'d>>(self, visitor: V) -> Result<V::Value, Fault> {
        self.deserialize_str(visitor)
    }

    fn deserialize_option<V: Visitor<'d>>(self, visitor: V) -> Result<V::Value, Fault> {
        match self.look() {
            Node::Scalar {
                meaning: Meaning::Nothing,
                ..
            } => visitor.visit_none(),
            _ => visitor.visit_some(self),
        }
    }

    fn deserialize_newtype_struct<V: Visitor<'d>>(
        self,
        _: &'static str,
        visitor: V,
    ) -> Result<V::Value, Fault> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_seq<V: Visitor<'d>>(self, visitor: V) -> Result<V::Value, Fault> {
        match self.look() {
            Node::List(items) => visitor.visit_seq(self.items(items)),
            _ => Err(Fault::shape("a list")),
        }
    }

    fn deserialize_map<V: Visitor<'d>>(self, visitor: V) -> Result<V::Value, Fault> {
        match self.look() {
            Node::Map(entries) => visitor.visit_map(self.entries(entries, None)),
            _ => Err(Fault::shape("a map")),
        }
    }

    fn deserialize_struct<V: Visitor<'d>>(
        self,
        record: &'static str,
        keys: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Fault> {
        match self.look() {
            Node::Map(entries) => {
                visitor.visit_map(self.entries(entries, Some(Known { record, keys })))
            }
            // A designation with nothing behind it is a record of which nothing is given.
            Node::Scalar {
                meaning: Meaning::Nothing,
                ..
            } => visitor.visit_map(self.entries(&[], None)),
            _ => Err(Fault::shape(&format!(
                "a map with the keys of {}",
                with_article(&noun(record))
            ))),
        }
    }

    fn deserialize_ignored_any<V: Visitor<'d>>(self, visitor: V) -> Result<V::Value, Fault> {
        visitor.visit_unit()
    }

    forward_to_deserialize_any! {
        <W: Visitor<'d>>
        i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char bytes byte_buf unit unit_struct tuple tuple_struct enum
        identifier
    }
}

/// The keys that a record has.
#[derive(Clone, Copy)]
struct Known {
    record: &'static str,
    keys: &'static [&'static str],
}

/// A map as serde walks it.
struct Entries<'r, 'd> {
    reader: &'r mut RecordReader<'d>,
    map: NodeId,
    pairs: &'d [(NodeId, NodeId)],
    next: usize,
    known: Option<Known>,
}

impl<'d> MapAccess<'d> for Entries<'_, 'd> {
    type Error = Fault;

    fn next_key_seed<K: DeserializeSeed<'d>>(
        &mut self,
        seed: K,
    ) -> Result<Option<K::Value>, Fault> {
        while let Some(&(key, _)) = self.pairs.get(self.next) {
            let text = self.reader.document.text(key).unwrap_or_default();
            let within = (self.map, self.next);
            self.next += 1;
            if self.reader.is_left_out(within) {
                continue;
            }
            if let Some(Known { record, keys }) = self.known
                && !keys.contains(&text)
            {
                self.reader.unknown_key(key, record, keys);
                continue;
            }
            return seed
                .deserialize(BorrowedStrDeserializer::new(text))
                .map(Some)
                .map_err(|fault: Fault| {
                    fault.at(Place {
                        node: key,
                        key: None,
                        within: Some(within),
                    })
                });
        }
        Ok(None)
    }

    fn next_value_seed<W: DeserializeSeed<'d>>(&mut self, seed: W) -> Result<W::Value, Fault> {
        let index = self.next - 1;
        let (key, node) = self.pairs[index];
        seed.deserialize(Value {
            reader: &mut *self.reader,
            node,
        })
        .map_err(|fault| {
            fault.at(Place {
                node,
                key: Some(key),
                within: Some((self.map, index)),
            })
        })
    }
}

/// A list as serde walks it.
struct Items<'r, 'd> {
    reader: &'r mut RecordReader<'d>,
    list: NodeId,
    nodes: &'d [NodeId],
    next: usize,
}

impl<'d> SeqAccess<'d> for Items<'_, 'd> {
    type Error = Fault;

    fn next_element_seed<S: DeserializeSeed<'d>>(
        &mut self,
        seed: S,
    ) -> Result<Option<S::Value>, Fault> {
        while let Some(&node) = self.nodes.get(self.next) {
            let within = (self.list, self.next);
            self.next += 1;
            if self.reader.is_left_out(within) {
                continue;
            }
            return seed
                .deserialize(Value {
                    reader: &mut *self.reader,
                    node,
                })
                .map(Some)
                .map_err(|fault| {
                    fault.at(Place {
                        node,
                        key: None,
                        within: Some(within),
                    })
                });
        }
        Ok(None)
    }
}

/// The place of a field in its record: the value where it is given, else the whole record.
impl<T> Entry<T> {
    /// The characters of a key's value; `None` if the key is not given.
    #[must_use]
    pub fn field_span(&self, document: &Document, key: &str) -> Option<Span> {
        document.value_span(self.node, key)
    }
}
