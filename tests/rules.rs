//! Every rule against its own two netlists, and against the edge cases in `tests/rules`.
//!
//! `fails` must yield the rule's id and no other finding that counts, `passes` none at all.
//! An edge case names the findings it expects in a comment at the end of their line, `# <- OC101`; the line is
//! that of the finding's first label, and only findings of the rule whose folder it lies in are compared.

// A test reads files; the library does not.
#![allow(clippy::disallowed_methods)]

use loomwright::diag::{Diagnostic, Severity};
use loomwright::source::LineIndex;
use loomwright::{Want, compile, rules};
use std::collections::BTreeMap;
use std::fmt::Write;
use std::fs;
use std::path::Path;

fn counted(text: &str) -> Vec<Diagnostic> {
    let compiled = compile(text.as_bytes(), Want::Findings);
    compiled
        .findings
        .into_iter()
        .filter(|finding| finding.severity.counts())
        .collect()
}

fn told(findings: &[Diagnostic]) -> String {
    let mut text = String::new();
    for finding in findings {
        let _ = writeln!(
            text,
            "    {} {} {}: {}",
            finding.rule,
            finding.severity.word(),
            finding.element,
            finding.message
        );
    }
    text
}

#[test]
fn every_rule_finds_its_fault_and_nothing_else() {
    let mut wrong = String::new();
    for rule in rules::all() {
        let findings = counted(rule.fails);
        let ids: Vec<&str> = findings.iter().map(|finding| finding.rule).collect();
        let notes_only = rule.severity == Severity::Note && ids.is_empty();
        let own = if notes_only {
            compile(rule.fails.as_bytes(), Want::Findings)
                .findings
                .iter()
                .any(|finding| finding.rule == rule.id)
        } else {
            !ids.is_empty() && ids.iter().all(|id| *id == rule.id)
        };
        if !own {
            let _ = writeln!(wrong, "  {} fails:\n{}", rule.id, told(&findings));
        }
        let findings = counted(rule.passes);
        let noted = compile(rule.passes.as_bytes(), Want::Findings)
            .findings
            .iter()
            .any(|finding| finding.rule == rule.id);
        if !findings.is_empty() || noted {
            let _ = writeln!(wrong, "  {} passes:\n{}", rule.id, told(&findings));
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}");
}

#[test]
fn every_rule_has_an_id_and_a_name_of_its_own() {
    let mut ids = BTreeMap::new();
    let mut names = BTreeMap::new();
    for rule in rules::all() {
        assert_eq!(ids.insert(rule.id, rule.name), None, "{}", rule.id);
        assert_eq!(names.insert(rule.name, rule.id), None, "{}", rule.name);
        let plain = |text: &str| !text.is_empty() && !text.ends_with(['.', ' ']);
        assert!(
            plain(rule.title),
            "{} has a title without a period",
            rule.id
        );
        assert!(
            rule.checks.ends_with('.'),
            "{} tells what it checks",
            rule.id
        );
        assert!(rule.fix.ends_with('.'), "{} tells the repair", rule.id);
    }
}

/// Findings say what is measured, where, and what to do, in the shape all reports rely on.
#[test]
fn findings_are_whole() {
    for rule in rules::all() {
        for finding in compile(rule.fails.as_bytes(), Want::Findings).findings {
            if finding.rule != rule.id {
                continue;
            }
            assert!(!finding.message.is_empty(), "{}", rule.id);
            assert!(
                !finding.message.ends_with('.'),
                "{}: {}",
                rule.id,
                finding.message
            );
            assert!(!finding.labels.is_empty(), "{} points nowhere", rule.id);
            assert!(!finding.help.is_empty(), "{} has no repair", rule.id);
            assert!(!finding.basis.is_empty(), "{} has no authority", rule.id);
        }
    }
}

#[test]
fn edge_cases_yield_what_their_comments_say() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/rules");
    let mut wrong = String::new();
    let mut folders: Vec<_> = fs::read_dir(&root)
        .expect("the folder of edge cases is there")
        .map(|entry| entry.expect("the folder can be listed").path())
        .filter(|path| path.is_dir())
        .collect();
    folders.sort();
    for folder in folders {
        let id = folder
            .file_name()
            .and_then(|name| name.to_str())
            .expect("a folder is named after its rule");
        let known = rules::all().into_iter().any(|rule| rule.id == id);
        assert!(known, "{id} is the id of a rule");
        let mut files: Vec<_> = fs::read_dir(&folder)
            .expect("the folder can be listed")
            .map(|entry| entry.expect("the folder can be listed").path())
            .collect();
        files.sort();
        for file in files {
            let text = fs::read_to_string(&file).expect("an edge case is a text file");
            let expected = expectations(&text);
            let found = findings_of(&text, id);
            if expected != found {
                let _ = writeln!(
                    wrong,
                    "  {}\n    expected {expected:?}\n    found    {found:?}",
                    file.display()
                );
                let _ = writeln!(wrong, "{}", told(&counted(&text)));
            }
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}");
}

/// Line number and id of every expectation.
fn expectations(text: &str) -> Vec<(usize, String)> {
    text.lines()
        .enumerate()
        .filter_map(|(index, line)| {
            let (_, ids) = line.split_once("# <- ")?;
            Some(
                ids.split_whitespace()
                    .map(move |id| (index + 1, id.to_owned())),
            )
        })
        .flatten()
        .collect()
}

/// Line number and id of every finding of a rule, notes included, in the order of the file.
fn findings_of(text: &str, id: &str) -> Vec<(usize, String)> {
    let compiled = compile(text.as_bytes(), Want::Findings);
    let lines = LineIndex::new(&compiled.text);
    let faults: Vec<&Diagnostic> = compiled
        .findings
        .iter()
        .filter(|finding| finding.rule.starts_with("NF") && finding.severity == Severity::Error)
        .collect();
    assert!(
        faults.is_empty(),
        "an edge case is a sound file: {faults:?}"
    );
    let mut found: Vec<(usize, String)> = compiled
        .findings
        .iter()
        .filter(|finding| finding.rule == id)
        .map(|finding| {
            let line = finding
                .labels
                .first()
                .map_or(0, |label| lines.position(label.span.start).line);
            (line, finding.rule.to_owned())
        })
        .collect();
    found.sort();
    found
}

/// Eighteen banks on one bar: every pair is told, or that a bank of it is joined to more than are told.
#[test]
fn a_bank_joined_to_many_says_so() {
    let mut text = String::from(
        "loomwright: 1\nboat: {name: Example, practice: us, system: 12 V}\nbatteries:\n",
    );
    for number in 1..=18 {
        let _ = writeln!(text, "  b{number:02}: {{chemistry: agm, capacity: 60 Ah}}");
    }
    text.push_str("buses:\n  bar: {polarity: positive, studs: 20}\nruns:\n");
    for number in 1..=18 {
        let _ = writeln!(
            text,
            "  W{number:02}: {{from: b{number:02}.+, to: bar, gauge: 6 AWG, length: 1 ft}}"
        );
    }
    let found = counted(&text);
    let joined = |one: u32, other: u32| {
        let words = format!("banks b{one:02} and b{other:02} are joined");
        let pair = |finding: &Diagnostic| finding.message.starts_with(&words);
        found.iter().any(pair)
    };
    let is_crowded = |bank: u32| {
        found.iter().any(|finding| {
            finding.element == format!("b{bank:02}")
                && finding.message.contains("joined to more than 16 others")
        })
    };
    for one in 1..=18 {
        for other in one + 1..=18 {
            assert!(
                joined(one, other) || is_crowded(one),
                "{one} and {other} are joined"
            );
        }
    }
    assert!(is_crowded(1) && !is_crowded(2));
}

/// The return of an isolated bank landed on the common negative: the bank stays isolated, the return is led back.
#[test]
fn an_isolated_bank_is_not_told_to_join_the_common_negative() {
    let text = include_str!("rules/BI409/isolated-by-design.yaml")
        .replace("to: bow-battery.-", "to: house.-");
    let found = counted(&text);
    let finding = found
        .iter()
        .find(|finding| finding.rule == "BI409")
        .expect("nothing comes back to the bank");
    assert_eq!(
        finding.help,
        "lead the returns of the loads of bank bow to bow-battery.-"
    );
}
