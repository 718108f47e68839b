//! The papers of the examples, byte for byte.
//!
//! A change that is meant: `LOOMWRIGHT_BLESS=1 cargo test --test golden` writes them anew; read the difference.
//! Only papers that hang on the netlist and the tables of the bench are kept; what the rules say has tests of its own.

// A test reads and writes files; the library does not.
#![allow(clippy::disallowed_methods)]

use loomwright::{Want, compile};
use std::fs;
use std::path::Path;

const KEPT: [&str; 6] = [
    "cut-list.csv",
    "label-schedule.csv",
    "bill-of-materials.csv",
    "power-up.csv",
    "energy-budget.csv",
    "cut-list.html",
];

#[test]
fn papers_of_the_examples_are_as_kept() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let bless = std::env::var_os("LOOMWRIGHT_BLESS").is_some();
    let mut changed = Vec::new();
    for name in ["smallest", "marsh-pipit-rev-a", "teal-skerry-rev-a"] {
        let netlist = fs::read(root.join(format!("examples/{name}.yaml"))).expect("an example");
        let compiled = compile(&netlist, Want::Papers);
        for kept in KEPT {
            // The page is long and only its shape is of interest here: the smallest boat shows it.
            if kept == "cut-list.html" && name != "smallest" {
                continue;
            }
            let made = compiled
                .papers
                .iter()
                .find(|paper| paper.name == kept)
                .expect("the paper is made");
            let path = root.join(format!("tests/golden/{name}/{kept}"));
            if bless {
                fs::create_dir_all(path.parent().expect("it lies in a folder"))
                    .expect("a folder can be made");
                fs::write(&path, &made.content).expect("a file can be written");
            }
            let text = fs::read_to_string(&path).unwrap_or_default();
            // The count of open findings stands on every page and has nothing to do with its rows.
            if without_open_line(&text) != without_open_line(made.text().expect("it is a text")) {
                changed.push(format!("{name}/{kept}"));
            }
        }
    }
    assert!(
        changed.is_empty(),
        "changed: {changed:?}; LOOMWRIGHT_BLESS=1 cargo test --test golden writes them anew"
    );
}

fn without_open_line(page: &str) -> String {
    let Some((before, rest)) = page.split_once("<p class=\"open\">") else {
        return page.to_owned();
    };
    let after = rest.split_once("</p>").map_or("", |(_, after)| after);
    format!("{before}{after}")
}
