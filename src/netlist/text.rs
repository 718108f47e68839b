//! Field types of the records: text as written, with the schema of what it should be.
//!
//! Reading a record never judges a value; a number, a truth value and a text all become text here.
//! `resolve` turns the text into a quantity and reports it under its own characters.

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;
use serde::de::{self, Deserializer, SeqAccess, Visitor};
use std::borrow::Cow;
use std::fmt;
use std::marker::PhantomData;

/// Any scalar, kept as the characters serde hands over.
struct ScalarVisitor;

impl Visitor<'_> for ScalarVisitor {
    type Value = String;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("a text or number")
    }
    fn visit_str<E: de::Error>(self, value: &str) -> Result<String, E> {
        Ok(value.to_owned())
    }
    fn visit_bool<E: de::Error>(self, value: bool) -> Result<String, E> {
        Ok(value.to_string())
    }
    fn visit_i64<E: de::Error>(self, value: i64) -> Result<String, E> {
        Ok(value.to_string())
    }
    fn visit_u64<E: de::Error>(self, value: u64) -> Result<String, E> {
        Ok(value.to_string())
    }
    fn visit_f64<E: de::Error>(self, value: f64) -> Result<String, E> {
        Ok(value.to_string())
    }
}

macro_rules! text_field {
    ($(#[$doc:meta])* $name:ident, $kinds:tt, [$($example:literal),*]) => {
        $(#[$doc])*
        #[derive(Clone, Debug, PartialEq, Eq)]
        pub struct $name(pub String);

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(reader: D) -> Result<Self, D::Error> {
                reader.deserialize_any(ScalarVisitor).map(Self)
            }
        }

        impl JsonSchema for $name {
            fn schema_name() -> Cow<'static, str> {
                stringify!($name).into()
            }
            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                json_schema!({ "type": $kinds, "examples": [$($example),*] })
            }
        }

        impl $name {
            /// The characters written.
            #[must_use]
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }
    };
}

text_field!(/// A name, a designation or free text.
    Text, ["string", "number", "boolean"], ["helm-block.3"]);
text_field!(/// A length with its unit.
    LengthText, "string", ["12 ft 6 in", "3.8 m"]);
text_field!(/// A current with its unit.
    CurrentText, "string", ["7 A", "30 mA"]);
text_field!(/// A current or a power with its unit.
    DrawText, "string", ["7 A", "60 W"]);
text_field!(/// A voltage with its unit.
    VoltageText, "string", ["12 V"]);
text_field!(/// A resistance with its unit.
    ResistanceText, "string", ["5 mΩ"]);
text_field!(/// A temperature with its unit.
    TemperatureText, "string", ["40 °C"]);
text_field!(/// A charge with its unit.
    ChargeText, "string", ["75 Ah"]);
text_field!(/// A duration with its unit.
    DurationText, "string", ["2 h", "5 min"]);
text_field!(/// A conductor size: a gauge or a metric area, or `auto`.
    GaugeText, "string", ["14 AWG", "2.5 mm²", "auto"]);
text_field!(/// A conductor size where none can be chosen: a gauge or a metric area.
    SizeText, "string", ["14 AWG", "2.5 mm²"]);
text_field!(/// A share in per cent.
    PercentText, "string", ["3 %"]);
text_field!(/// A device rating, or `auto`, or `spare` for an empty way.
    RatingText, "string", ["10 A", "auto", "spare"]);
text_field!(/// A whole number or a plain number.
    NumberText, ["number", "string"], [10]);

/// A truth value: `true` or `false`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct Flag(pub bool);

/// One value or a list of values; a single one reads as a list of one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OneOrMany<T>(pub Vec<T>);

impl<T> Default for OneOrMany<T> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

struct OneOrManyVisitor<T>(PhantomData<T>);

impl<'de, T: Deserialize<'de>> Visitor<'de> for OneOrManyVisitor<T> {
    type Value = OneOrMany<T>;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("one value or a list of values")
    }
    fn visit_str<E: de::Error>(self, value: &str) -> Result<Self::Value, E> {
        T::deserialize(de::value::StrDeserializer::new(value)).map(|item| OneOrMany(vec![item]))
    }
    fn visit_u64<E: de::Error>(self, value: u64) -> Result<Self::Value, E> {
        T::deserialize(de::value::U64Deserializer::new(value)).map(|item| OneOrMany(vec![item]))
    }
    fn visit_i64<E: de::Error>(self, value: i64) -> Result<Self::Value, E> {
        T::deserialize(de::value::I64Deserializer::new(value)).map(|item| OneOrMany(vec![item]))
    }
    fn visit_f64<E: de::Error>(self, value: f64) -> Result<Self::Value, E> {
        T::deserialize(de::value::F64Deserializer::new(value)).map(|item| OneOrMany(vec![item]))
    }
    fn visit_bool<E: de::Error>(self, value: bool) -> Result<Self::Value, E> {
        T::deserialize(de::value::BoolDeserializer::new(value)).map(|item| OneOrMany(vec![item]))
    }
    fn visit_map<A: de::MapAccess<'de>>(self, map: A) -> Result<Self::Value, A::Error> {
        T::deserialize(de::value::MapAccessDeserializer::new(map)).map(|item| OneOrMany(vec![item]))
    }
    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Self::Value, A::Error> {
        let mut items = Vec::new();
        while let Some(item) = list.next_element()? {
            items.push(item);
        }
        Ok(OneOrMany(items))
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for OneOrMany<T> {
    fn deserialize<D: Deserializer<'de>>(reader: D) -> Result<Self, D::Error> {
        reader.deserialize_any(OneOrManyVisitor(PhantomData))
    }
}

impl<T: JsonSchema> JsonSchema for OneOrMany<T> {
    fn schema_name() -> Cow<'static, str> {
        format!("OneOrMany{}", T::schema_name()).into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let item = generator.subschema_for::<T>();
        json_schema!({ "anyOf": [item, { "type": "array", "items": item }] })
    }
}
