//! The second reader, and the comparison of what both have read.
//!
//! A text that two readers understand differently has no sure meaning, so a difference is a fault of the text.
//! The second reader's values are looked at as they come and are not kept.

use super::Span;
use super::faults::{AMBIGUOUS_TEXT, Findings};
use super::parse::{MAX_EXPANDED, MAX_NODES};
use super::scalar::{self, Meaning, Number};
use super::tree::{Document, Kind, NodeId, Scalar};
use serde::de::{DeserializeSeed, Deserializer, Error, IgnoredAny, MapAccess, SeqAccess, Visitor};
use std::fmt;

/// Most values looked at, aliases followed; cannot be reached by a tree within its own limits.
const MAX_STEPS: u64 = MAX_EXPANDED / 8 + MAX_NODES as u64;

/// Reads the text from `start` on again and reports every place where the tree differs.
pub(super) fn compare(text: &str, start: usize, document: &Document, findings: &mut Findings) {
    let mut walk = Walk {
        document,
        differences: Vec::new(),
        steps: 0,
    };
    let reader = serde_yaml::Deserializer::from_str(&text[start..]);
    let outcome = At {
        walk: &mut walk,
        node: document.root(),
    }
    .deserialize(reader);
    let mut differences = walk.differences;
    differences.dedup();
    let told = !differences.is_empty();
    for node in differences {
        findings.add(|| {
            AMBIGUOUS_TEXT
                .says("this text can be read in two ways")
                .label(document.span(node), "here")
                .repair("put the value between quotes")
        });
    }
    if let Err(error) = outcome
        && !told
    {
        let at = error.location().map_or(0, |location| location.index());
        let at = text.floor_char_boundary((start + at).min(text.len()));
        let span = Span::new(at, text.ceil_char_boundary((at + 1).min(text.len())));
        findings.add(|| {
            AMBIGUOUS_TEXT
                .says("this text is YAML to one reader and not to another")
                .label(span, "here")
                .repair("put a space behind each `:` and `,`, spaces in place of tabs, and unusual values between quotes")
        });
    }
}

struct Walk<'d> {
    document: &'d Document,
    differences: Vec<NodeId>,
    steps: u64,
}

/// One node of the tree, to be compared with the second reader's next value.
struct At<'w, 'd> {
    walk: &'w mut Walk<'d>,
    node: NodeId,
}

impl<'d> At<'_, 'd> {
    fn kind(&self) -> &'d Kind {
        &self.walk.document.nodes[self.node.index()].kind
    }

    fn differs(self) {
        self.walk.differences.push(self.node);
    }

    /// Compares a scalar by what it means and by its text.
    fn scalar(self, same: impl FnOnce(Meaning, &str) -> bool) {
        let document = self.walk.document;
        let agrees = match self.kind() {
            Kind::Scalar(Scalar { meaning, .. }) => {
                same(*meaning, document.text(self.node).unwrap_or_default())
            }
            _ => false,
        };
        if !agrees {
            self.differs();
        }
    }

    fn number(self, other: Number) {
        self.scalar(|meaning, text| {
            meaning == Meaning::Number && scalar::number(text).is_some_and(|own| same(own, other))
        });
    }
}

fn same(own: Number, other: Number) -> bool {
    match (own, other) {
        (Number::Real(own), Number::Real(other)) => {
            own.to_bits() == other.to_bits() || (own.is_nan() && other.is_nan())
        }
        _ => own == other,
    }
}

impl<'de> DeserializeSeed<'de> for At<'_, '_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, reader: D) -> Result<(), D::Error> {
        self.walk.steps += 1;
        if self.walk.steps > MAX_STEPS {
            return Err(D::Error::custom("too many values"));
        }
        reader.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for At<'_, '_> {
    type Value = ();

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("an untagged value")
    }
    fn visit_unit<E: Error>(self) -> Result<(), E> {
        self.scalar(|meaning, _| meaning == Meaning::Nothing);
        Ok(())
    }
    fn visit_bool<E: Error>(self, value: bool) -> Result<(), E> {
        self.scalar(|meaning, _| meaning == Meaning::Truth(value));
        Ok(())
    }
    fn visit_u64<E: Error>(self, value: u64) -> Result<(), E> {
        self.number(Number::Natural(u128::from(value)));
        Ok(())
    }
    fn visit_u128<E: Error>(self, value: u128) -> Result<(), E> {
        self.number(Number::Natural(value));
        Ok(())
    }
    fn visit_i64<E: Error>(self, value: i64) -> Result<(), E> {
        self.number(Number::Negative(i128::from(value)));
        Ok(())
    }
    fn visit_i128<E: Error>(self, value: i128) -> Result<(), E> {
        self.number(Number::Negative(value));
        Ok(())
    }
    fn visit_f64<E: Error>(self, value: f64) -> Result<(), E> {
        self.number(Number::Real(value));
        Ok(())
    }
    fn visit_str<E: Error>(self, value: &str) -> Result<(), E> {
        self.scalar(|meaning, text| meaning == Meaning::Text && text == value);
        Ok(())
    }
    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<(), A::Error> {
        let Kind::List(items) = self.kind() else {
            self.differs();
            while list.next_element::<IgnoredAny>()?.is_some() {}
            return Ok(());
        };
        for &node in items {
            if list
                .next_element_seed(At {
                    walk: &mut *self.walk,
                    node,
                })?
                .is_none()
            {
                self.differs();
                return Ok(());
            }
        }
        if list.next_element::<IgnoredAny>()?.is_some() {
            self.differs();
            while list.next_element::<IgnoredAny>()?.is_some() {}
        }
        Ok(())
    }
    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<(), A::Error> {
        let Kind::Map { entries, .. } = self.kind() else {
            self.differs();
            while map.next_entry::<IgnoredAny, IgnoredAny>()?.is_some() {}
            return Ok(());
        };
        for &(key, value) in entries {
            if map
                .next_key_seed(At {
                    walk: &mut *self.walk,
                    node: key,
                })?
                .is_none()
            {
                self.differs();
                return Ok(());
            }
            map.next_value_seed(At {
                walk: &mut *self.walk,
                node: value,
            })?;
        }
        if map.next_entry::<IgnoredAny, IgnoredAny>()?.is_some() {
            self.differs();
            while map.next_entry::<IgnoredAny, IgnoredAny>()?.is_some() {}
        }
        Ok(())
    }
}
