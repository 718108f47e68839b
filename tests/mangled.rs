//! Examples with something wrong in them, through the whole pipeline: no panic, no paper of a faulty file,
//! and every place of every finding inside the text.

// The names of the papers are our own and always in small letters.
#![allow(clippy::case_sensitive_file_extension_comparisons)]

use loomwright::{Want, compile};
use proptest::prelude::*;

const EXAMPLES: [&str; 4] = [
    include_str!("../examples/smallest.yaml"),
    include_str!("../examples/marsh-pipit-rev-0.yaml"),
    include_str!("../examples/teal-skerry-rev-a.yaml"),
    include_str!("../examples/mud-plover-rev-0.yaml"),
];

/// Values that stand where another was meant.
const HOSTILE: [&str; 14] = [
    "0 A",
    "-5 A",
    "1e300 A",
    "0 ft",
    "999999 ft",
    "0.000001 mm",
    "1 mm²",
    "4/0 AWG",
    "auto",
    "~",
    "[]",
    "{}",
    "\"=1+1\"",
    "\"<b>&'\"",
];

#[derive(Clone, Debug)]
enum Mangle {
    /// A line is taken out.
    Drop,
    /// A line stands twice.
    Double,
    /// The value behind the last colon of a line becomes another.
    Value(usize),
    /// The line changes places with the next.
    Swap,
    /// The file ends here.
    Cut,
}

fn mangles() -> impl Strategy<Value = Mangle> {
    prop_oneof![
        3 => Just(Mangle::Drop),
        1 => Just(Mangle::Double),
        4 => (0..HOSTILE.len()).prop_map(Mangle::Value),
        1 => Just(Mangle::Swap),
        1 => Just(Mangle::Cut),
    ]
}

fn mangled(text: &str, changes: &[(usize, Mangle)]) -> String {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    for (at, mangle) in changes {
        if lines.is_empty() {
            break;
        }
        let at = at % lines.len();
        match mangle {
            Mangle::Drop => {
                lines.remove(at);
            }
            Mangle::Double => lines.insert(at, lines[at].clone()),
            Mangle::Value(value) => {
                let line = &lines[at];
                if let Some(colon) = line.rfind(": ") {
                    let closing: String = line.chars().filter(|letter| *letter == '}').collect();
                    lines[at] = format!("{}: {}{closing}", &line[..colon], HOSTILE[*value]);
                }
            }
            Mangle::Swap => {
                let next = (at + 1) % lines.len();
                lines.swap(at, next);
            }
            Mangle::Cut => lines.truncate(at),
        }
    }
    lines.join("\n") + "\n"
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(384))]

    #[test]
    fn a_mangled_boat_never_panics(
        example in 0..EXAMPLES.len(),
        changes in prop::collection::vec((0usize..1000, mangles()), 1..5),
    ) {
        let text = mangled(EXAMPLES[example], &changes);
        let compiled = compile(text.as_bytes(), Want::Papers);
        prop_assert_eq!(compiled.papers.is_empty(), !compiled.usable);
        for label in compiled.findings.iter().flat_map(|finding| &finding.labels) {
            prop_assert!(label.span.start <= label.span.end);
            prop_assert!(compiled.text.is_char_boundary(label.span.start));
            prop_assert!(compiled.text.is_char_boundary(label.span.end));
        }
        for paper in &compiled.papers {
            let Some(text) = paper.text() else { continue };
            if paper.name.ends_with(".html") || paper.name.ends_with(".svg") {
                prop_assert!(!text.contains("<b>&'"), "{}", paper.name);
            }
            if paper.name.ends_with(".csv") {
                prop_assert!(!text.contains(",=1+1"), "{}", paper.name);
            }
            if paper.name.ends_with(".json") {
                let read: Result<serde_json::Value, _> = serde_json::from_str(text);
                prop_assert!(read.is_ok(), "{}", paper.name);
            }
        }
    }
}
