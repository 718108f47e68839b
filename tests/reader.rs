//! No bytes can make the reader panic, hang or point outside the file.
//!
//! A fixed generator mangles good and bad texts; whatever comes out must be read to an end, with every span inside the text
//! and on a character border. The generator is our own and has a fixed start, so a failure comes back in every run.

use loomwright::netlist;
use loomwright::source::{self, Document, LineIndex, Node, Reading, Span, Style};

/// Marsaglia's xorshift generator with 64 bits (Journal of Statistical Software 8(14), 2003; shifts 13, 7, 17).
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    fn below(&mut self, limit: usize) -> usize {
        usize::try_from(self.next() % limit.max(1) as u64).expect("the remainder is below a usize")
    }

    fn pick<'a, T: ?Sized>(&mut self, from: &[&'a T]) -> &'a T {
        from[self.below(from.len())]
    }
}

const TEXTS: &[&str] = &[
    include_str!("../examples/smallest.yaml"),
    "\u{FEFF}boat: {name: Sanderling, practice: us, system: 12 V}\r\nruns:\r\n  W1: {from: a.+, to: b.in, length: 12 ft 6 in}\r\n  W2: {from: b.out, gauge: 2.5 mm²}\r\n",
    "zones: {c: &z {ambient: 30 °C}, d: *z}\nloads:\n  pump: {draw: 60 W, kind: 'motor', always-on: true}\n  \"lamp µ\": {draw: \"7\\u00b2 A\"}\n",
    "switches:\n  s:\n    terminals: [a, b, feed]\n    positions:\n      \"off\": []\n      a: [[a, feed]]\n      both: {closes: [[a, b, feed]], joins-banks: true}\n",
    "fuse-blocks:\n  h: {ways: {1: 10 A, 2: auto, 3: {rating: 5 A}}, negative: {studs: 6}}\naccept:\n- {rule: OC101, reason: |\n   long\n   text\n  }\n- rule: x\n  reason: >-\n    folded\n    text\n",
    "a: [1, [2, {b: c}], \"x\ty\"]\n? d\n: e\n---\nf: !t g\n",
];

const PIECES: &[&str] = &[
    "{",
    "}",
    "[",
    "]",
    ":",
    ": ",
    ",",
    "- ",
    "\n",
    "\r",
    "\r\n",
    "\t",
    " ",
    "  ",
    "#",
    " # x\n",
    "'",
    "\"",
    "\\",
    "|",
    ">",
    "|+\n",
    ">-\n",
    "&a ",
    "*a",
    "*b ",
    "!t ",
    "!!str ",
    "<<: ",
    "? ",
    "---\n",
    "...\n",
    "%YAML 1.2\n",
    "@",
    "`",
    "~",
    "null",
    "true",
    "012",
    "0x1F",
    "1e999",
    "\u{85}",
    "\u{2028}",
    "\u{FEFF}",
    "\u{200B}",
    "\0",
    "\u{7}",
    "é",
    "漢",
    "\u{1F6A4}",
    "runs:\n",
    "loads: ",
    "W1: ",
    "from: ",
    "a.+",
    "14 AWG",
    "\n\n\n",
    "{a: {a: {a: ",
    "[[[[[[[[",
    "      ",
];

fn mangled(dice: &mut Dice) -> Vec<u8> {
    let mut bytes = dice.pick(TEXTS).as_bytes().to_vec();
    for _ in 0..=dice.below(6) {
        let at = dice.below(bytes.len() + 1);
        let end = (at + dice.below(12)).min(bytes.len());
        match dice.below(6) {
            0 => drop(bytes.splice(at..at, dice.pick(PIECES).bytes())),
            1 => drop(bytes.splice(at..end, dice.pick(PIECES).bytes())),
            2 => drop(bytes.drain(at..end)),
            3 => {
                let copy = bytes[at..end].to_vec();
                let to = dice.below(bytes.len() + 1);
                drop(bytes.splice(to..to, copy));
            }
            4 => {
                if let Some(byte) = bytes.get_mut(at) {
                    *byte = u8::try_from(dice.below(256)).expect("below 256");
                }
            }
            _ => bytes.truncate(at.max(1)),
        }
    }
    bytes
}

fn check_span(text: &str, span: Span) {
    assert!(
        span.start <= span.end && span.end <= text.len(),
        "{span:?} is outside of {text:?}"
    );
    assert!(
        text.is_char_boundary(span.start) && text.is_char_boundary(span.end),
        "{span:?} splits a character of {text:?}"
    );
}

/// A refused character is read as spaces, so only a clean file's scalars stand in it as they are.
fn check_tree(text: &str, document: &Document, as_written: bool) {
    for node in document.nodes() {
        let span = document.span(node);
        check_span(text, span);
        if let Node::Scalar {
            text: scalar,
            style,
            ..
        } = document.node(node)
        {
            let part = document.part(node, 0..scalar.len());
            check_span(text, part);
            let written = &text[span.start..span.end];
            let bare =
                style == Style::Plain && !written.is_empty() && !written.contains(['\n', '\r']);
            if as_written && (bare || part != span) {
                assert_eq!(&text[part.start..part.end], scalar, "{text:?}");
            }
        }
        for &(key, value) in document.entries(node) {
            let name = document.text(key).expect("a key is a scalar");
            assert_eq!(document.child(node, name), Some(value), "{text:?}");
        }
    }
}

fn check(bytes: &[u8]) -> Reading {
    let reading = source::read(bytes);
    assert_eq!(
        reading.text.len(),
        bytes.len(),
        "offsets are those of the file"
    );
    assert_eq!(
        reading.document.is_some(),
        reading.diagnostics.is_empty(),
        "{:?}",
        reading.text
    );
    if let Some(document) = reading.document.as_ref().or(reading.salvage.as_ref()) {
        check_tree(&reading.text, document, reading.document.is_some());
    }
    let (netlist, findings) = netlist::read(&reading);
    assert_eq!(netlist.is_some(), reading.document.is_some());
    let lines = LineIndex::new(&reading.text);
    for finding in reading.diagnostics.iter().chain(&findings) {
        assert!(
            !finding.message.is_empty() && !finding.message.ends_with('.'),
            "{finding:?}"
        );
        assert!(!finding.message.contains('\n'), "{finding:?}");
        for label in &finding.labels {
            check_span(&reading.text, label.span);
            assert!(lines.position(label.span.start) <= lines.position(label.span.end));
        }
    }
    reading
}

#[test]
fn mangled_files_are_read_to_an_end() {
    let mut dice = Dice(0x5EA0_0A75_B0A7_11FE);
    let (mut clean, mut faulty) = (0, 0);
    for _ in 0..4000 {
        let bytes = mangled(&mut dice);
        let reading = check(&bytes);
        *(if reading.diagnostics.is_empty() {
            &mut clean
        } else {
            &mut faulty
        }) += 1;
    }
    // A generator that only makes rubbish, or none, would test little.
    assert!(
        clean > 100 && faulty > 1000,
        "{clean} clean, {faulty} faulty"
    );
}

#[test]
fn any_heap_of_pieces_is_read_to_an_end() {
    let mut dice = Dice(0x0B0A_7B0A_7B0A_7B0A);
    for _ in 0..3000 {
        let pieces: String = (0..dice.below(30)).map(|_| dice.pick(PIECES)).collect();
        check(pieces.as_bytes());
    }
}

#[test]
fn the_same_bytes_give_the_same_findings() {
    let mut dice = Dice(0x1234_5678_9ABC_DEF1);
    for _ in 0..200 {
        let bytes = mangled(&mut dice);
        let (one, other) = (source::read(&bytes), source::read(&bytes));
        assert_eq!(one.diagnostics, other.diagnostics);
        assert_eq!(netlist::read(&one).1, netlist::read(&other).1);
    }
}

#[test]
fn every_prefix_of_a_file_is_read_to_an_end() {
    for text in TEXTS {
        for end in 0..text.len().min(600) {
            check(&text.as_bytes()[..end]);
        }
    }
}
