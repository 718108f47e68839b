//! The rules page is what the code says.
//!
//! After a change of a rule run `LOOMWRIGHT_BLESS=1 cargo test --test generated` to write the page anew.

// A test reads and writes files; the library does not.
#![allow(clippy::disallowed_methods)]

use loomwright::diag::Severity;
use loomwright::{Want, compile, resolve, rules, source};
use std::collections::BTreeSet;
use std::fmt::Write;
use std::fs;
use std::path::Path;

fn rules_page() -> String {
    let mut page = String::from(
        "# Rules\n\n\
         What is checked, why, and on whose authority. Made from the code: \
         `LOOMWRIGHT_BLESS=1 cargo test --test generated` writes it anew.\n\
         `loomwright explain RULE` prints one of these.\n\n\
         | id | name | severity | what |\n|---|---|---|---|\n",
    );
    for rule in rules::all() {
        let _ = writeln!(
            page,
            "| [{0}](#{1}) | {2} | {3} | {4} |",
            rule.id,
            anchor(&heading(rule)),
            rule.name,
            rule.severity.word(),
            rule.title
        );
    }
    for rule in rules::all() {
        let _ = write!(
            page,
            "\n## {}\n\n{} ({}).\n\n{}\n\n",
            heading(rule),
            rule.title,
            rule.severity.word(),
            rule.checks
        );
        for basis in rule.basis {
            let _ = writeln!(page, "- Compared with {basis}");
        }
        let _ = write!(page, "\nUsual repair: {}\n", rule.fix);
        for (title, netlist) in [("Fails", rule.fails), ("Passes", rule.passes)] {
            let _ = write!(
                page,
                "\n{title}:\n\n```yaml\n{}\n```\n",
                netlist.trim_matches('\n')
            );
        }
    }
    page.push_str(
        "\n## Faults of a file\n\nFound before any wiring is judged; a file that has one has no papers.\n\n\
         | id | name | what |\n|---|---|---|\n",
    );
    for fault in source::FAULTS
        .iter()
        .chain(resolve::FAULTS)
        .chain([&rules::ACCEPTS_NOTHING])
    {
        let _ = writeln!(page, "| {} | {} | {} |", fault.id, fault.name, fault.title);
    }
    page
}

fn heading(rule: &rules::Rule) -> String {
    format!("{} {}", rule.id, rule.name)
}

fn anchor(heading: &str) -> String {
    heading.to_lowercase().replace(' ', "-")
}

#[test]
fn the_rules_page_is_what_the_code_says() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/rules/RULES.md");
    let made = rules_page();
    if std::env::var_os("LOOMWRIGHT_BLESS").is_some() {
        fs::write(&path, &made).expect("the page can be written");
    }
    let kept = fs::read_to_string(&path).unwrap_or_default();
    assert!(
        kept == made,
        "src/rules/RULES.md is out of date: run LOOMWRIGHT_BLESS=1 cargo test --test generated"
    );
}

#[test]
fn ids_and_names_are_given_once() {
    let mut ids = BTreeSet::new();
    let mut names = BTreeSet::new();
    let rules = rules::all();
    let faults = source::FAULTS.iter().chain(resolve::FAULTS);
    let all = rules
        .iter()
        .map(|rule| (rule.id, rule.name))
        .chain(faults.map(|fault| (fault.id, fault.name)))
        .chain([(rules::ACCEPTS_NOTHING.id, rules::ACCEPTS_NOTHING.name)]);
    for (id, name) in all {
        assert!(ids.insert(id), "{id} is given twice");
        assert!(names.insert(name), "{name} is given twice");
    }
}

/// The account of faults names every rule, and nothing that is not there.
#[test]
fn the_account_of_faults_is_true() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/rules/COVERAGE.md");
    let text = fs::read_to_string(path).expect("the account is there");
    let rows: Vec<&str> = text
        .lines()
        .filter(|line| line.starts_with("| ") && !line.starts_with("| fault "))
        .collect();
    let known: BTreeSet<&str> = rules::all().iter().map(|rule| rule.id).collect();
    let titles: BTreeSet<&str> = loomwright::schedule::inspection_titles().collect();
    let mut named = BTreeSet::new();
    for row in &rows {
        let cells: Vec<&str> = row.split('|').map(str::trim).collect();
        assert_eq!(cells.len(), 5, "a fault, an answer and a remark: {row}");
        assert!(!cells[1].is_empty() && !cells[2].is_empty(), "{row}");
        for id in cells[2].split(", ").filter_map(|id| id.strip_prefix('`')) {
            let id = id.trim_end_matches('`');
            assert!(known.contains(id), "{id} is no rule: {row}");
            named.insert(id);
        }
        for line in cells[2..4]
            .iter()
            .filter_map(|cell| cell.split_once("inspection: "))
        {
            let title = line.1.split(',').next().unwrap_or_default();
            assert!(titles.contains(title), "{title} is not inspected: {row}");
        }
    }
    let missing: Vec<&&str> = known.difference(&named).collect();
    assert!(missing.is_empty(), "in no row: {missing:?}");
    assert!(rows.len() > 120, "the whole catalogue has a row each");
}

/// Every rule of the catalogue has a netlist in `tests/rules` that comes near its fault and is sound.
///
/// Such a netlist expects no finding at all: none of its rule, not even a note, and no error of any other. Files in
/// which some elements fail and others do not are looked at by `tests/rules.rs`, and do not count here.
#[test]
fn every_rule_of_the_catalogue_has_its_false_alarm() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let text =
        fs::read_to_string(root.join("src/rules/COVERAGE.md")).expect("the account is there");
    let (catalogue, _) = text
        .split_once("## Beyond the catalogue")
        .expect("the catalogue ends where other rules begin");
    let ids: BTreeSet<&str> = catalogue
        .lines()
        .filter(|line| line.starts_with("| "))
        .flat_map(|line| line.split('|').nth(2).unwrap_or_default().split(", "))
        .filter_map(|id| id.trim().strip_prefix('`')?.strip_suffix('`'))
        .collect();
    assert!(ids.len() > 80, "the rules of the whole catalogue");
    let (mut without, mut wrong) = (Vec::new(), String::new());
    for id in ids {
        let folder = root.join("tests/rules").join(id);
        let files = fs::read_dir(&folder).into_iter().flatten().flatten();
        let mut sound = 0;
        for file in files.map(|entry| entry.path()) {
            let text = fs::read_to_string(&file).expect("a netlist is a text file");
            if text.contains("# <- ") {
                continue;
            }
            assert!(text.starts_with("# "), "{} says what it is", file.display());
            sound += 1;
            for finding in compile(text.as_bytes(), Want::Findings).findings {
                if finding.rule == id || finding.severity == Severity::Error {
                    let _ = writeln!(
                        wrong,
                        "  {}: {} {}: {}",
                        file.display(),
                        finding.rule,
                        finding.element,
                        finding.message
                    );
                }
            }
        }
        if sound == 0 {
            without.push(id);
        }
    }
    assert!(without.is_empty(), "no false alarm is tried: {without:?}");
    assert!(wrong.is_empty(), "\n{wrong}");
}
