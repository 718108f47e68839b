//! File names of drawings that are named after things of the boat.
//!
//! A name comes from the netlist, and so from anybody: only plain letters, digits, `-`, `.` and `_` reach the file
//! system, always behind the drawing's own word, so that no name is hidden, reserved or leads out of the folder.
//! A file keeps its name when another harness or connector is added.

use crate::drawing::{BenchDrawing, DrawingPart};
use crate::schedule::Fingerprint;
use std::collections::BTreeMap;

/// Longest part of a file name that comes from the netlist, in characters.
const LONGEST: usize = 60;

/// The names of a drawing's sheets, without their endings, in their order.
pub(super) fn sheet_names(drawing: &BenchDrawing) -> Vec<String> {
    let stem = drawing.stem;
    if drawing.parts.is_empty() {
        let numbers = 1..=drawing.sheets.len();
        return numbers
            .map(|number| format!("{stem}-{number:02}"))
            .collect();
    }
    let names: Vec<Vec<String>> = drawing.parts.iter().map(pages).collect();
    // Two names may come to one on a file system that does not tell capitals apart.
    let mut count: BTreeMap<String, usize> = BTreeMap::new();
    for name in names.iter().flatten() {
        *count.entry(name.to_ascii_lowercase()).or_default() += 1;
    }
    drawing
        .parts
        .iter()
        .zip(names)
        .flat_map(|(part, names)| {
            let clash = names
                .iter()
                .any(|name| count[&name.to_ascii_lowercase()] > 1);
            let mark = if clash {
                format!("-{}", mark(&part.name))
            } else {
                String::new()
            };
            names
                .into_iter()
                .map(move |name| format!("{stem}-{name}{mark}"))
        })
        .collect()
}

/// The names of the sheets of one thing.
fn pages(part: &DrawingPart) -> Vec<String> {
    let name = plain(&part.name);
    if part.sheets == 1 {
        return vec![name];
    }
    (1..=part.sheets)
        .map(|page| format!("{name}-{page:02}"))
        .collect()
}

/// A name as a part of a file name; where something of it is lost, with a mark that is its own.
fn plain(name: &str) -> String {
    let mut out = String::new();
    let mut whole = true;
    for letter in name.replace(" + ", " and ").chars() {
        let put = match letter {
            'a'..='z' | 'A'..='Z' | '0'..='9' => letter,
            '-' | '.' if !out.is_empty() && !out.ends_with(['-', '.', '_']) => letter,
            ' ' if !out.is_empty() && !out.ends_with(['-', '.', '_']) => '_',
            _ => {
                whole = false;
                if out.is_empty() || out.ends_with(['-', '.', '_']) {
                    continue;
                }
                '-'
            }
        };
        if out.len() == LONGEST {
            whole = false;
            break;
        }
        out.push(put);
    }
    let kept = out.trim_end_matches(['-', '.', '_']);
    if whole && !kept.is_empty() && kept.len() == out.len() {
        return out;
    }
    if kept.is_empty() {
        return mark(name);
    }
    format!("{kept}-{}", mark(name))
}

/// Eight digits that two different names hardly share.
fn mark(name: &str) -> String {
    let mut digits = Fingerprint::of(name.as_bytes()).to_string();
    digits.truncate(8);
    digits
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(parts: &[(&str, usize)]) -> Vec<String> {
        let mut drawing = BenchDrawing::plain("connectors", "Connector charts", Vec::new());
        for &(name, sheets) in parts {
            drawing.parts.push(DrawingPart {
                name: name.to_owned(),
                sheets,
            });
        }
        sheet_names(&drawing)
    }

    #[test]
    fn plain_names_stay_and_sheets_are_counted() {
        assert_eq!(
            names(&[("helm-plug", 2), ("loom + aft at X1.b", 1)]),
            [
                "connectors-helm-plug-01",
                "connectors-helm-plug-02",
                "connectors-loom_and_aft_at_X1.b"
            ]
        );
    }

    /// Device names that a common file system keeps for itself; from memory.
    #[test]
    fn whatever_a_name_is_its_file_is_plain_and_its_own() {
        let long = "W".repeat(5000);
        let hostile = [
            "../../etc/passwd",
            "..",
            ".",
            "",
            " ",
            " leading",
            "trailing.",
            "con",
            "CON",
            "nul",
            "a/b",
            "a\\b",
            "a:b",
            "a-b",
            "=1+1",
            "-x",
            "x\u{202E}y",
            "x\u{200B}y",
            "\u{6F22}",
            "\u{5B57}",
            "helm",
            "Helm",
            "HELM",
            "a + b",
            "a and b",
            "loom",
            "loom-02",
            &long,
            &long[1..],
        ];
        let parts: Vec<(&str, usize)> = hostile.iter().map(|&name| (name, 2)).collect();
        let names = names(&parts);
        let mut seen = std::collections::BTreeSet::new();
        for name in &names {
            let fine = |letter: char| letter.is_ascii_alphanumeric() || "-._".contains(letter);
            assert!(name.chars().all(fine) && !name.contains(".."), "{name}");
            assert!(name.len() < 120 && !name.ends_with('.'), "{name}");
            assert!(seen.insert(name.to_ascii_lowercase()), "{name} twice");
        }
        assert_eq!(names.len(), 2 * hostile.len());
    }

    #[test]
    fn a_name_does_not_change_when_another_is_added() {
        let one = names(&[("mast-loom", 1), ("stern/loom", 3)]);
        let more = names(&[
            ("bow-loom", 4),
            ("mast-loom", 1),
            ("x", 1),
            ("stern/loom", 3),
        ]);
        assert!(one.iter().all(|name| more.contains(name)), "{more:?}");
    }
}
