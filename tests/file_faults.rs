//! Faults of names, quantities and circuits: what is told, and under which characters.

// A test reads and writes files; the library does not.
#![allow(clippy::disallowed_methods)]

use loomwright::diag::{Diagnostic, Severity};
use loomwright::system::System;
use loomwright::{netlist, resolve, source};

fn resolved(text: &str) -> (System, Vec<Diagnostic>) {
    let reading = source::read(text.as_bytes());
    assert_eq!(reading.diagnostics, [], "the text itself is sound");
    let (netlist, findings) = netlist::read(&reading);
    assert_eq!(findings, [], "the records are sound");
    let document = reading
        .document
        .as_ref()
        .expect("a sound text has a document");
    resolve::resolve(&netlist.expect("a sound text has a netlist"), document)
}

#[test]
fn every_example_resolves_with_notes_only() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let mut seen = 0;
    for file in std::fs::read_dir(folder).expect("the examples can be listed") {
        let path = file.expect("the examples can be listed").path();
        let text = std::fs::read_to_string(&path).expect("an example can be read");
        let (system, findings) = resolved(&text);
        let faults: Vec<&Diagnostic> = findings
            .iter()
            .filter(|finding| finding.severity != Severity::Note)
            .collect();
        assert!(faults.is_empty(), "{}: {faults:#?}", path.display());
        assert!(!system.conductors.is_empty());
        seen += 1;
    }
    assert!(seen > 0);
}
