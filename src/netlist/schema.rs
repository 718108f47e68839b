//! JSON Schema of the language, made from the records.
//!
//! It serves completion and checking in editors; the reader itself never looks at it.

use super::records::{
    AcceptanceRecord, AllowanceRecord, BoatRecord, InterlockRecord, PolicyRecord,
};
use super::{LANGUAGE, LANGUAGE_KEY, section_schemas};
use schemars::generate::SchemaSettings;
use serde_json::{Map, Value, json};

/// The schema of a whole file (JSON Schema, draft 2020-12).
#[must_use]
pub fn schema() -> Value {
    let mut generator = SchemaSettings::draft2020_12().into_generator();
    let version = LANGUAGE.parse::<u64>().map_or(Value::Null, Value::from);
    let mut properties = Map::new();
    properties.insert(
        LANGUAGE_KEY.to_owned(),
        json!({ "description": "Version of the language.", "enum": [version, LANGUAGE] }),
    );
    let single = [
        (
            "boat",
            "The boat and the head of every paper.",
            generator.subschema_for::<BoatRecord>(),
        ),
        (
            "policy",
            "Choices where published rules disagree.",
            generator.subschema_for::<PolicyRecord>(),
        ),
        (
            "allowances",
            "Allowances of the cut list.",
            generator.subschema_for::<AllowanceRecord>(),
        ),
    ];
    for (key, description, record) in single {
        properties.insert(
            key.to_owned(),
            json!({ "description": description, "anyOf": [record, { "type": "null" }] }),
        );
    }
    for (key, description, record) in section_schemas(&mut generator) {
        properties.insert(
            key.to_owned(),
            json!({
                "description": description,
                "type": ["object", "null"],
                "additionalProperties": { "anyOf": [record, { "type": "null" }] }
            }),
        );
    }
    let lists = [
        (
            "interlocks",
            "Positions that cannot occur together.",
            generator.subschema_for::<InterlockRecord>(),
        ),
        (
            "accept",
            "Accepted findings.",
            generator.subschema_for::<AcceptanceRecord>(),
        ),
    ];
    for (key, description, record) in lists {
        properties.insert(
            key.to_owned(),
            json!({ "description": description, "type": ["array", "null"], "items": record }),
        );
    }
    let mut definitions: Vec<_> = generator.take_definitions(true).into_iter().collect();
    definitions.sort_by(|(a, _), (b, _)| a.cmp(b));
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "DC wiring of a small craft",
        "description": "A netlist: what the boat has and how it is connected. Maps are keyed by designation.",
        "type": "object",
        "properties": properties,
        "additionalProperties": false,
        "$defs": definitions.into_iter().collect::<Map<_, _>>(),
    })
}
