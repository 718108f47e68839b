//! Whole boats as an electrician draws them: clean as they stand, and each with faults put in one at a time.
//!
//! `tests/boats/*.yaml` are the boats; a clean one has no finding that counts, and only the notes that
//! `tests/boats/*.faults` lists first. Each fault is written there as an edit of the boat and everything that must be
//! told of it:
//!
//! ```text
//! == what is wrong
//! - text of the boat, found there once
//! + what stands there instead
//! ! OC101 W2 battery-switch=combine
//! ```
//!
//! Several lines of `-` or of `+` are one text of several lines, and an edit ends where the next `-` begins. `!` names
//! rule, element and the positions off normal. All findings that count must be named and no others may be there, so a
//! fault that is told in the wrong place fails as well as one that is not told.

// A test reads files; the library does not.
#![allow(clippy::disallowed_methods)]

use loomwright::diag::Diagnostic;
use loomwright::{Want, compile};
use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};

/// One change of a boat: what stood there, and what stands there instead.
#[derive(Default)]
struct Edit {
    old: Vec<String>,
    new: Vec<String>,
}

/// One fault put into a boat.
#[derive(Default)]
struct Fault {
    title: String,
    edits: Vec<Edit>,
    told: Vec<String>,
}

/// What a file of faults says of its boat.
#[derive(Default)]
struct Cases {
    notes: Vec<String>,
    faults: Vec<Fault>,
}

fn cases(text: &str) -> Cases {
    let mut cases = Cases::default();
    for line in text.lines() {
        let (mark, rest) = line.split_at(line.len().min(2));
        if mark == "==" {
            cases.faults.push(Fault {
                title: rest.trim().to_owned(),
                ..Fault::default()
            });
            continue;
        }
        let fault = cases.faults.last_mut();
        match (mark.trim_end(), fault) {
            ("" | "#", _) => {}
            ("!", None) => cases.notes.push(rest.trim().to_owned()),
            ("!", Some(fault)) => fault.told.push(rest.trim().to_owned()),
            ("-", Some(fault)) => {
                let is_next = fault.edits.last().is_none_or(|edit| !edit.new.is_empty());
                if is_next {
                    fault.edits.push(Edit::default());
                }
                let edit = fault.edits.last_mut().expect("an edit was just begun");
                edit.old.push(rest.to_owned());
            }
            ("+", Some(fault)) => {
                let edit = fault.edits.last_mut().expect("`-` comes before `+`");
                edit.new.push(rest.to_owned());
            }
            _ => panic!("a line of faults begins with ==, -, +, ! or #: {line}"),
        }
    }
    cases
}

fn edited(boat: &str, fault: &Fault) -> String {
    let mut text = boat.to_owned();
    for edit in &fault.edits {
        let old = edit.old.join("\n");
        let times = text.matches(&old).count();
        assert_eq!(times, 1, "{}: {old:?} stands there once", fault.title);
        text = text.replacen(&old, &edit.new.join("\n"), 1);
    }
    text
}

fn words(finding: &Diagnostic) -> String {
    let mut words = format!("{} {}", finding.rule, finding.element);
    for set in &finding.positions {
        let _ = write!(words, " {}={}", set.switch, set.position);
    }
    words.trim_end().to_owned()
}

fn sorted(mut lines: Vec<String>) -> Vec<String> {
    lines.sort();
    lines
}

fn boats() -> Vec<(PathBuf, String, Cases)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/boats");
    let mut files: Vec<PathBuf> = fs::read_dir(&root)
        .expect("the boats are there")
        .map(|entry| entry.expect("the folder can be listed").path())
        .filter(|path| path.extension().is_some_and(|end| end == "yaml"))
        .collect();
    files.sort();
    files
        .into_iter()
        .map(|file| {
            let boat = fs::read_to_string(&file).expect("a boat is a text file");
            let faults = fs::read_to_string(file.with_extension("faults"));
            (
                file,
                boat,
                cases(&faults.expect("each boat has its faults")),
            )
        })
        .collect()
}

fn is_counted(finding: &Diagnostic) -> bool {
    finding.severity.counts()
}

/// Compares what is told with what should be, and writes down how they differ.
fn compare(wrong: &mut String, title: &str, expected: &[String], found: &[&Diagnostic]) {
    let told = sorted(found.iter().map(|finding| words(finding)).collect());
    let expected = sorted(expected.to_vec());
    if told == expected {
        return;
    }
    let _ = writeln!(wrong, "{title}");
    for line in expected.iter().filter(|line| !told.contains(line)) {
        let _ = writeln!(wrong, "  missing  ! {line}");
    }
    for finding in found {
        let line = words(finding);
        if !expected.contains(&line) {
            let _ = writeln!(wrong, "  too much ! {line}\n           {}", finding.message);
        }
    }
}

#[test]
fn clean_boats_are_clean() {
    let mut wrong = String::new();
    let boats = boats();
    assert!(boats.len() >= 10, "{} boats", boats.len());
    for (file, boat, cases) in boats {
        let found = compile(boat.as_bytes(), Want::Findings).findings;
        let all: Vec<&Diagnostic> = found.iter().collect();
        compare(&mut wrong, &file.display().to_string(), &cases.notes, &all);
        assert!(!found.iter().any(is_counted), "{wrong}");
    }
    assert!(wrong.is_empty(), "\n{wrong}");
}

#[test]
fn each_fault_is_told_where_it_is_and_nothing_else() {
    let mut wrong = String::new();
    let mut count = 0;
    for (file, boat, cases) in boats() {
        for fault in &cases.faults {
            let text = edited(&boat, fault);
            let found = compile(text.as_bytes(), Want::Findings).findings;
            let counted: Vec<&Diagnostic> = found.iter().filter(|it| is_counted(it)).collect();
            let title = format!("{}: {}", file.display(), fault.title);
            compare(&mut wrong, &title, &fault.told, &counted);
            count += 1;
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}");
    assert!(count >= 30, "{count} faults");
}
