//! The JSON Schema in `schemas/` is what the code makes, and it agrees with the reader.
//!
//! After a change of the language run `LOOMWRIGHT_BLESS=1 cargo test --test schema` to write the file anew.

// A test reads and writes files; the library does not.
#![allow(clippy::disallowed_methods)]

use loomwright::{netlist, source};
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn examples() -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = fs::read_dir(root().join("examples"))
        .expect("the examples are part of the project")
        .map(|entry| entry.expect("a folder can be listed").path())
        .filter(|path| {
            path.extension()
                .is_some_and(|extension| extension == "yaml")
        })
        .collect();
    files.sort();
    assert!(!files.is_empty());
    files
}

/// What an editor sees: the plain values, numbers and truth values included.
fn value(text: &str) -> Value {
    serde_yaml::from_str(text).expect("the text is YAML")
}

fn validator() -> jsonschema::Validator {
    jsonschema::draft202012::new(&netlist::schema()).expect("the schema is a schema")
}

/// Compares a generated file with what the code makes; writes it anew when told to.
fn assert_generated(name: &str, made: &str) {
    let path = root().join("schemas").join(name);
    if std::env::var_os("LOOMWRIGHT_BLESS").is_some() {
        fs::create_dir_all(root().join("schemas")).expect("the folder can be made");
        fs::write(&path, made).expect("the file can be written");
    }
    let written = fs::read_to_string(&path).unwrap_or_default();
    assert!(
        written == made,
        "schemas/{name} is out of date: run LOOMWRIGHT_BLESS=1 cargo test --test schema"
    );
}

#[test]
fn the_file_in_schemas_is_what_the_code_makes() {
    let made = serde_json::to_string_pretty(&netlist::schema()).expect("a schema is JSON") + "\n";
    assert_generated("netlist.schema.json", &made);
}

#[test]
fn the_language_page_is_what_the_code_makes() {
    let page = netlist::page();
    // A key whose form the page cannot name would read "map or list"; there is none.
    assert!(!page.contains("map or list"), "{page}");
    assert_generated("language.md", &page);
}

#[test]
fn the_schema_itself_is_valid() {
    assert!(jsonschema::draft202012::meta::is_valid(&netlist::schema()));
}

#[test]
fn every_section_and_every_shape_is_accepted_by_reader_and_schema() {
    let validator = validator();
    for text in [
        "loomwright: 1\nboat: {name: Sanderling, practice: us, system: 12 V}\n",
        "zones: {console: {ambient: 30 °C, engine-space: true}}\npoints: {p: {zone: console}}\n",
        "ways: {w: {between: [p, q], length: 12 ft 6 in}}\nbundles: {b: {never-together: [[W1, W2], W3], others: 2}}\n",
        "batteries: {start: {bank: start, chemistry: flooded, capacity: 75 Ah}}\nbanks: {bow: {strings: [[a, b, c]], mid-taps: a}}\n",
        "switches: {s: {terminals: [a, b], positions: {\"off\": [], a: [[x, y]], b: [x, y], c: {closes: [[x, y]], joins-banks: true}, d: ~}}}\n",
        "fuse-blocks: {b: {ways: {1: 10 A, 2: auto, 3: {rating: 5 A, name: radio}, 4: ~}, negative: {studs: 6}}}\n",
        "loads: {l: {draw: 60 W, inputs: {main: {draw: 1 A}}, hours: 2 h}}\nbuses: {n: {studs: 10, on: a.+}}\n",
        "circuits: {c: {feed: b.1, switch: s, through: [s, {plug: [3a, 3b]}], load: l, return: n, length: [3 m, 2 m]}}\n",
        "runs: {W1: {from: a.+, to: b.in, bundle: x, via: [p, q]}, W2: ~}\nscenarios: {day: {positions: {s: a}, on: all}}\n",
        "interlocks: [{never: {a: on, b: on}, reason: one key}]\naccept: [{rule: OC101, element: W1, reason: seen}]\n",
        "runs:\nloads:\npolicy:\naccept:\n",
    ] {
        let reading = source::read(text.as_bytes());
        assert_eq!(reading.diagnostics, [], "{text}");
        assert_eq!(netlist::read(&reading).1, [], "{text}");
        let faults: Vec<String> = validator
            .iter_errors(&value(text))
            .map(|fault| fault.to_string())
            .collect();
        assert_eq!(faults, Vec::<String>::new(), "{text}");
    }
}

#[test]
fn every_example_is_accepted_by_reader_and_schema() {
    let validator = validator();
    for path in examples() {
        let text = fs::read_to_string(&path).expect("an example can be read");
        let reading = source::read(text.as_bytes());
        assert_eq!(reading.diagnostics, [], "{}", path.display());
        assert_eq!(netlist::read(&reading).1, [], "{}", path.display());
        let faults: Vec<String> = validator
            .iter_errors(&value(&text))
            .map(|fault| format!("{}: {fault}", fault.instance_path()))
            .collect();
        assert_eq!(faults, Vec::<String>::new(), "{}", path.display());
    }
}

#[test]
fn what_the_reader_refuses_the_schema_refuses() {
    let validator = validator();
    for text in [
        "laods: {}\n",
        "loomwright: 2\n",
        "runs: {W1: {lenght: 3 m}}\n",
        "runs: [W1]\n",
        "runs: {W1: 5}\n",
        "runs: {W1: {from: [a]}}\n",
        "runs: {W1: {spare: yes}}\n",
        "fuse-blocks: {b: {ways: {1: [10 A]}}}\n",
        "fuse-blocks: {b: {negative: {stud: 6}}}\n",
        "switches: {s: {positions: {a: {join-banks: true}}}}\n",
        "accept: {a: 1}\n",
    ] {
        let reading = source::read(text.as_bytes());
        assert_eq!(reading.diagnostics, [], "{text}");
        assert_ne!(netlist::read(&reading).1, [], "the reader takes {text}");
        assert!(!validator.is_valid(&value(text)), "the schema takes {text}");
    }
}
