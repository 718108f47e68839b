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

/// A finding as a test file expects it: line, rule, and the characters under the first label.
type Expected = (usize, String, String);

/// Reads the comments `# NF030 characters; NF031 others` of a test file.
///
/// A rule without characters stands for a finding without a place; it is expected on no line.
fn expected(text: &str) -> Vec<Expected> {
    let mut all = Vec::new();
    for (index, line) in text.lines().enumerate() {
        let Some((_, comment)) = line.split_once("# NF") else {
            continue;
        };
        for item in format!("NF{comment}").split("; ") {
            match item.trim().split_once(' ') {
                Some((rule, characters)) => {
                    all.push((index + 1, rule.to_owned(), characters.to_owned()));
                }
                None => all.push((0, item.trim().to_owned(), String::new())),
            }
        }
    }
    all.sort();
    all
}

fn told(text: &str, findings: &[Diagnostic]) -> Vec<Expected> {
    let lines = source::LineIndex::new(text);
    let mut all: Vec<Expected> = findings
        .iter()
        .map(|finding| match finding.labels.first() {
            Some(label) => (
                lines.position(label.span.start).line,
                finding.rule.to_owned(),
                text[label.span.start..label.span.end].to_owned(),
            ),
            None => (0, finding.rule.to_owned(), String::new()),
        })
        .collect();
    all.sort();
    all
}

fn files(folder: &str) -> Vec<(String, String)> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let mut all: Vec<(String, String)> = std::fs::read_dir(folder)
        .expect("the folder can be listed")
        .map(|file| {
            let path = file.expect("the folder can be listed").path();
            let text = std::fs::read_to_string(&path).expect("the file can be read");
            (path.display().to_string(), text)
        })
        .collect();
    all.sort();
    all
}

#[test]
fn every_fault_is_told_under_its_own_characters() {
    let mut rules: Vec<&str> = Vec::new();
    for (name, text) in files("tests/file_faults") {
        let (_, findings) = resolved(&text);
        let (expected, told) = (expected(&text), told(&text, &findings));
        let missing: Vec<&Expected> = expected.iter().filter(|one| !told.contains(one)).collect();
        let extra: Vec<&Expected> = told.iter().filter(|one| !expected.contains(one)).collect();
        assert!(
            missing.is_empty() && extra.is_empty() && expected.len() == told.len(),
            "{name}\n missing {missing:#?}\n extra {extra:#?}"
        );
        for finding in &findings {
            assert!(!finding.help.is_empty(), "{finding:#?}");
            assert!(!finding.message.ends_with('.'), "{finding:#?}");
            assert!(
                finding.labels.iter().all(|label| !label.text.is_empty()),
                "{finding:#?}"
            );
            rules.push(finding.rule);
        }
    }
    // These two need files far larger than a test file; they have tests of their own.
    let large = ["NF067", "NF072"];
    for fault in resolve::FAULTS {
        let seen = rules.contains(&fault.id) || large.contains(&fault.id);
        assert!(seen, "{} {} is in no file", fault.id, fault.name);
    }
}

/// Every text with one of its lines left out.
fn with_a_line_missing(text: &str) -> impl Iterator<Item = String> {
    let lines: Vec<&str> = text.lines().collect();
    (0..lines.len()).map(move |left_out| {
        let mut rest = lines.clone();
        rest.remove(left_out);
        rest.join("\n")
    })
}

#[test]
fn half_a_file_resolves_as_far_as_it_can() {
    let mut texts = files("tests/file_faults");
    texts.extend(files("examples").into_iter().take(1));
    let mut resolved = 0;
    for (name, whole) in texts {
        for text in with_a_line_missing(&whole) {
            let reading = source::read(text.as_bytes());
            let (netlist, _) = netlist::read(&reading);
            let (Some(netlist), Some(document)) = (netlist, reading.document.as_ref()) else {
                continue;
            };
            let (system, findings) = resolve::resolve(&netlist, document);
            resolved += 1;
            assert_eq!(system.graph.link_count(), system.links.len(), "{name}");
            for label in findings.iter().flat_map(|finding| &finding.labels) {
                assert!(
                    text.get(label.span.start..label.span.end).is_some(),
                    "{name}"
                );
            }
        }
    }
    assert!(resolved > 100);
}

#[test]
fn every_example_resolves_with_notes_only() {
    let examples = files("examples");
    assert!(!examples.is_empty());
    for (name, text) in examples {
        let (system, findings) = resolved(&text);
        let faults: Vec<&Diagnostic> = findings
            .iter()
            .filter(|finding| finding.severity != Severity::Note)
            .collect();
        assert!(faults.is_empty(), "{name}: {faults:#?}");
        assert!(!system.conductors.is_empty());
    }
}
