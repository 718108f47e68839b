//! The rules page is what the code says.
//!
//! After a change of a rule run `LOOMWRIGHT_BLESS=1 cargo test --test generated` to write the page anew.

// A test reads and writes files; the library does not.
#![allow(clippy::disallowed_methods)]

use loomwright::rules;
use loomwright::{resolve, source};
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

/// Every rule of the catalogue has a netlist in `tests/rules` that comes near its fault and must stay silent about it.
///
/// `tests/rules.rs` runs them: a finding that no comment of the file expects fails there. Here each folder must hold a
/// part of a boat that its rule is silent about, so a file in which everything is expected to fail does not count.
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
    let mut without = Vec::new();
    for id in ids {
        let folder = root.join("tests/rules").join(id);
        let files = fs::read_dir(&folder).into_iter().flatten();
        let silent = files.flatten().any(|entry| {
            let text = fs::read_to_string(entry.path()).unwrap_or_default();
            let told = text.lines().filter(|line| line.contains("# <- ")).count();
            // Elements of a netlist: its map entries of one indentation.
            let elements = text.lines().filter(|line| {
                line.starts_with("  ") && !line.starts_with("   ") && line.contains(':')
            });
            text.starts_with("# ") && told < elements.count()
        });
        if !silent {
            without.push(id);
        }
    }
    assert!(without.is_empty(), "no false alarm is tried: {without:?}");
}
