//! The language as one page to read: every section, every key, how its value is written, what it means.
//!
//! Made from the schema, so that page, schema and reader cannot drift apart.

use super::schema::schema;
use serde_json::Value;

/// How the value of a key is written, by the schema type behind it.
const FORMS: &[(&str, &str)] = &[
    ("Text", "text"),
    ("LengthText", "length: `12 ft 6 in`, `3.8 m`"),
    ("CurrentText", "current: `7 A`, `30 mA`"),
    ("DrawText", "current or power: `7 A`, `60 W`"),
    ("VoltageText", "voltage: `12 V`"),
    ("ResistanceText", "resistance: `5 mΩ`"),
    ("TemperatureText", "temperature: `40 °C`, `104 °F`"),
    ("ChargeText", "charge: `75 Ah`"),
    ("DurationText", "duration: `2 h`, `5 min`"),
    ("GaugeText", "size: `14 AWG`, `2/0 AWG`, `2.5 mm²`, `auto`"),
    ("SizeText", "size: `14 AWG`, `2/0 AWG`, `2.5 mm²`"),
    ("PercentText", "share: `3 %`"),
    ("RatingText", "rating: `10 A`, `auto`, `spare`"),
    ("NumberText", "number"),
    ("Flag", "`true` or `false`"),
    ("OneOrManyText", "one or a list"),
    ("OneOrManySizeText", "list of sizes: `[20 AWG, 12 AWG]`"),
    ("OneOrManyLengthText", "a length or a list: `[1 ft, 14 ft]`"),
    (
        "OneOrManyThrough",
        "list: `[plug.3, nav-switch: [in, out]]`",
    ),
    (
        "OneOrManyVia",
        "one or a list: `[keel]`, or a list a leg: `[[], [keel, bow]]`",
    ),
    ("Through", "a part, or `{part: [enter, leave]}`"),
    (
        "Position",
        "groups `[[a, b], [c, d]]`, or `{closes: [[a, b]], joins-banks: true, emergency: true}`",
    ),
    (
        "FuseWay",
        "`10 A`, `spare`, or `{rating: 10 A, name: horn}`",
    ),
    ("HalfRecord", "`{contacts: sockets, zone: console}`"),
    (
        "InputRecord",
        "`{draw: 6 A, always-on: false, standby: 10 mA}`",
    ),
    (
        "OutputRecord",
        "`{current: 10 A, voltage: 14.4 V, chemistry: agm}`",
    ),
    ("BlockNegativeRecord", "`{studs: 6, rating: 100 A}`"),
];

const HEAD: &str = "\
# The language, key by key

This page is made from the code (`LOOMWRIGHT_BLESS=1 cargo test --test schema` rewrites it). `netlist.schema.json`
beside it says the same to an editor.

A file is a map of sections; most sections map a designation to a record. Every key may be left out: what a check then
cannot judge is reported as *not proved*, never as passed. A terminal is written `part.terminal`; a part that is one
electrical point (bus, splice, ground) may be written by its bare name. Terminals by kind of part:

| part | terminals |
|---|---|
| battery, alternator, solar array, load, instrument | `+`, `-` |
| load with `inputs` | one for each input, and `-` |
| switch without `terminals`, fuse, breaker | `in`, `out` |
| switch with `terminals` | as listed |
| fuse block | `feed`, each way by its number, `negative` where it has one |
| bus | `1`, `2`, ... or the bare name |
| relay | `coil+`, `coil-`, `com`, `no`, `nc` |
| combiner | `a`, `b`, `-` |
| diode isolator | `in`, `1`, `2`, ... |
| charger | `1+`, `2+`, ... and `-`; with isolated outputs `1-`, `2-`, ... |
| converter | `in+`, `in-`, `out+`, `out-` |
| shunt | `battery`, `system`, `battery-sense`, `system-sense` |
| connector | `3a` and `3b` for cavity 3; half `a` faces the supply |
| splice, ground | the bare name |
";

/// The page as Markdown.
#[must_use]
pub fn page() -> String {
    let schema = schema();
    let mut lines = vec![String::from(HEAD)];
    let Some(sections) = schema["properties"].as_object() else {
        return lines.concat();
    };
    for (name, section) in sections {
        lines.push(format!("\n## `{name}`\n\n"));
        let Some(record) = record_of(&schema, section) else {
            if let Some(text) = section["description"].as_str() {
                lines.push(format!("{text} Write `{name}: 1`.\n"));
            }
            continue;
        };
        let description = record["description"]
            .as_str()
            .or(section["description"].as_str());
        lines.push(format!("{}\n\n", description.unwrap_or_default()));
        lines.push(String::from(
            "| key | written as | meaning |\n|---|---|---|\n",
        ));
        let Some(keys) = record["properties"].as_object() else {
            continue;
        };
        for (key, value) in keys {
            let meaning = value["description"]
                .as_str()
                .unwrap_or_default()
                .replace('\n', " ");
            lines.push(format!(
                "| `{key}` | {} | {} |\n",
                form(value).replace('|', "\\|"),
                meaning.replace('|', "\\|")
            ));
        }
    }
    lines.concat()
}

/// The record definition behind a section, whether it is one record, a map of records or a list of records.
fn record_of<'s>(schema: &'s Value, section: &Value) -> Option<&'s Value> {
    let holders = [section, &section["additionalProperties"], &section["items"]];
    let name = holders.into_iter().find_map(reference)?;
    Some(&schema["$defs"][name])
}

/// The name of the definition that a schema refers to, directly or as the first of its choices.
fn reference(value: &Value) -> Option<&str> {
    let direct = value["$ref"].as_str();
    let choice = || {
        value["anyOf"]
            .as_array()?
            .iter()
            .find_map(|choice| choice["$ref"].as_str())
    };
    direct.or_else(choice)?.strip_prefix("#/$defs/")
}

fn form(value: &Value) -> String {
    let known = |name: &str| {
        FORMS
            .iter()
            .find(|(known, _)| *known == name)
            .map(|(_, form)| *form)
    };
    if let Some(form) = reference(value).and_then(known) {
        return form.to_owned();
    }
    if let Some(form) = reference(&value["additionalProperties"]).and_then(known) {
        return format!("map of name to {form}");
    }
    if let Some(form) = reference(&value["items"]).and_then(known) {
        return format!("list of: {form}");
    }
    String::from("map or list")
}
