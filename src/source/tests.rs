//! Every trap of YAML that was met in practice, each with the finding it must give and the characters it points at.

use super::*;
use std::fmt::Write;

/// Rule names and the characters under each finding's first label.
fn faults(text: &str) -> Vec<(&'static str, String)> {
    let reading = read(text.as_bytes());
    let shown = &reading.text;
    let told: Vec<_> = reading
        .diagnostics
        .iter()
        .map(|finding| {
            let label = finding
                .labels
                .first()
                .map_or("", |label| &shown[label.span.start..label.span.end]);
            (finding.name, label.to_owned())
        })
        .collect();
    assert_eq!(
        reading.document.is_none(),
        !told.is_empty(),
        "a file is usable exactly if nothing is wrong: {text:?}"
    );
    told
}

fn one(text: &str, name: &str, characters: &str) {
    assert_eq!(
        faults(text),
        [(name, characters.to_owned())].map(|(name, text)| (leak(name), text)),
        "{text:?}"
    );
}

/// The name as the table of faults has it; a name that is in no table fails the test.
fn leak(name: &str) -> &'static str {
    FAULTS
        .iter()
        .find(|fault| fault.name == name)
        .map_or("no such fault", |fault| fault.name)
}

fn good(text: &str) -> (String, Document) {
    let reading = read(text.as_bytes());
    assert_eq!(reading.diagnostics, [], "{text:?}");
    (
        reading.text,
        reading.document.expect("a text without faults has a tree"),
    )
}

fn value<'d>(document: &'d Document, key: &str) -> Option<&'d str> {
    document
        .child(document.root(), key)
        .and_then(|node| document.text(node))
}

#[test]
fn a_byte_order_mark_is_skipped_and_counted() {
    let (text, document) = good("\u{FEFF}a: é\n");
    let span = document
        .value_span(document.root(), "a")
        .expect("a has a value");
    assert_eq!((span, &text[span.start..span.end]), (Span::new(6, 8), "é"));
    one("a: b\u{FEFF}c\n", "hidden-character", "\u{FEFF}");
    one("\u{FEFF}\u{FEFF}a: b\n", "hidden-character", "\u{FEFF}");
}

#[test]
fn duplicate_keys_have_two_labels() {
    let reading = read(b"a: {x: 1, y: 2, x: 3}\n");
    let spans: Vec<_> = reading.diagnostics[0]
        .labels
        .iter()
        .map(|label| label.span)
        .collect();
    assert_eq!(reading.diagnostics.len(), 1);
    assert_eq!(spans, [Span::new(16, 17), Span::new(4, 5)]);
    one("a: 1\n\"a\": 2\n", "duplicate-key", "\"a\"");
    // A name is its characters: a number and a text of the same characters are one name.
    one("b: {1: x, '1': y}\n", "duplicate-key", "'1'");
}

#[test]
fn duplicate_keys_are_found_in_large_maps_too() {
    let mut text = String::from("runs:\n");
    for number in 0..200 {
        writeln!(text, "  W{number}: {{}}").expect("a text grows");
    }
    text.push_str("  W7: {}\n  W7: {}\n");
    assert_eq!(faults(&text), vec![("duplicate-key", "W7".to_owned()); 2]);
}

#[test]
fn all_faults_of_a_file_are_told_in_one_run() {
    let found = faults("a: *x\na: !t 1\nb: {<<: 1, [c]: 2}\nd: @\nd: {e: 1, e: 2}\n");
    let names: Vec<_> = found.iter().map(|(name, _)| *name).collect();
    assert_eq!(
        names,
        [
            "unknown-alias",
            "duplicate-key",
            "tag",
            "merge-key",
            "key-not-a-name",
            "syntax-error",
            "duplicate-key"
        ]
    );
}

#[test]
fn aliases_are_the_node_they_name() {
    let (text, document) = good("a: &way {length: 3 m}\nb: *way\nc: &n x\n*n : y\n");
    let root = document.root();
    assert_eq!(document.child(root, "a"), document.child(root, "b"));
    assert_eq!(value(&document, "x"), Some("y"));
    let span = document.span(document.follow(root, &["b", "length"]));
    assert_eq!(&text[span.start..span.end], "3 m");
}

#[test]
fn an_anchor_set_again_names_the_newer_value() {
    let (_, document) = good("a: &x 1\nb: *x\nc: &x 2\nd: *x\n");
    assert_eq!(
        (value(&document, "b"), value(&document, "d")),
        (Some("1"), Some("2"))
    );
}

#[test]
fn faulty_aliases_are_refused() {
    one("a: *b\n", "unknown-alias", "*b");
    one("a: &x [1, *x]\n", "alias-in-own-anchor", "*x");
    one("a: &x {b: {c: *x}}\n", "alias-in-own-anchor", "*x");
    one("a: &long 1\nb: *lnog\n", "unknown-alias", "*lnog");
    assert!(
        read(b"a: &long 1\nb: *lnog\n").diagnostics[0]
            .help
            .contains("*long")
    );
}

#[test]
fn aliases_cannot_blow_the_file_up() {
    // The doubling kind.
    let mut text = String::from("a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n");
    for level in 1..12 {
        let items = vec![format!("*a{}", level - 1); 10].join(", ");
        writeln!(text, "a{level}: &a{level} [{items}]").expect("a text grows");
    }
    assert_eq!(faults(&text)[0].0, "expands-too-far");
    // One long scalar, named 20,000 times.
    let text = format!(
        "a: &a {}\nb: [{}]\n",
        "x".repeat(100_000),
        vec!["*a"; 20_000].join(",")
    );
    assert_eq!(faults(&text), [("expands-too-far", "*a".to_owned())]);
}

#[test]
fn nesting_has_a_limit_in_blocks_brackets_and_aliases() {
    one(
        &format!("a: {}{}\n", "[".repeat(200), "]".repeat(200)),
        "nested-too-deeply",
        "[",
    );
    let mut blocks = String::new();
    for level in 0..150 {
        writeln!(blocks, "{}a:", " ".repeat(level)).expect("a text grows");
    }
    assert_eq!(faults(&blocks)[0].0, "nested-too-deeply");
    let mut both = String::new();
    for level in 0..90 {
        writeln!(both, "{}a:", " ".repeat(level)).expect("a text grows");
    }
    writeln!(
        both,
        "{}b: {}{}",
        " ".repeat(90),
        "[".repeat(90),
        "]".repeat(90)
    )
    .expect("a text grows");
    assert_eq!(faults(&both)[0].0, "nested-too-deeply");
    let mut chain = String::from("a0: &a0 [x]\n");
    for level in 1..150 {
        writeln!(chain, "a{level}: &a{level} [*a{}]", level - 1).expect("a text grows");
    }
    assert_eq!(faults(&chain)[0].0, "nested-too-deeply");
    let deepest = format!(
        "a: {}{}\n",
        "[".repeat(MAX_NESTING - 1),
        "]".repeat(MAX_NESTING - 1)
    );
    good(&deepest);
}

#[test]
fn a_million_brackets_neither_hang_nor_overflow() {
    for text in [
        "[".repeat(1_000_000),
        "{a: ".repeat(300_000),
        "- ".repeat(500_000),
        "? ".repeat(500_000),
    ] {
        assert!(!faults(&text).is_empty());
    }
}

#[test]
fn a_second_document_is_refused() {
    one("a: 1\n---\nb: 1\n", "second-document", "---");
    one("a: 1\n---\n", "second-document", "---");
    assert_eq!(faults("a: 1\n...\nb: 1\n")[0].0, "second-document");
    good("---\na: 1\n...\n");
}

#[test]
fn keys_are_names() {
    one("a: {<<: {b: 1}}\n", "merge-key", "<<");
    good("a: {\"<<\": 1}\n");
    one("a: 1\n? [b]\n: c\n", "key-not-a-name", "[b]");
    one("a: {{b: c}: d}\n", "key-not-a-name", "{b: c}");
    one("a: 1\n: b\n", "key-not-a-name", "");
    one("a: 1\n'': b\n", "key-not-a-name", "''");
    one("a: 1\nnull: b\n", "key-not-a-name", "null");
}

#[test]
fn tags_and_directives_are_not_used() {
    one("a: !part b\n", "tag", "!part");
    one("a: !!str 12\n", "tag", "!!str");
    one("a: !!map {b: 1}\n", "tag", "!!map");
    one("%YAML 1.2\n---\na: 1\n", "syntax-error", "%");
}

#[test]
fn tabs_are_named_as_tabs() {
    one("a:\n\tb: 1\n", "tab-indentation", "\t");
    one("a: x\n\tb: 1\n", "tab-indentation", "\t");
    good("a:\t1 \t# a tab between values is no indentation\n");
}

#[test]
fn characters_read_in_two_ways_are_refused() {
    for character in ['\u{85}', '\u{2028}', '\u{2029}'] {
        one(
            &format!("a: b{character}c\n"),
            "foreign-line-break",
            &character.to_string(),
        );
    }
    for character in [
        '\0', '\u{1}', '\u{7}', '\u{B}', '\u{C}', '\u{1B}', '\u{7F}', '\u{9F}', '\u{FFFF}',
    ] {
        one(
            &format!("a: b{character}c\n"),
            "control-character",
            &character.to_string(),
        );
    }
    for character in ['\u{AD}', '\u{200B}', '\u{202E}', '\u{2066}'] {
        one(
            &format!("a: b{character}c\n"),
            "hidden-character",
            &character.to_string(),
        );
    }
    good("a: \"tab\there, ° ² µ Ω → é 漢 \u{1F6A4}\"\n");
}

#[test]
fn bytes_that_are_no_text_keep_every_offset() {
    let reading = read(b"a: \xB0C\nb: \xFF\xFE\na: 1\n");
    assert_eq!(reading.text, "a: ?C\nb: ??\na: 1\n");
    let spans: Vec<_> = reading
        .diagnostics
        .iter()
        .map(|finding| (finding.name, finding.labels[0].span))
        .collect();
    assert_eq!(
        spans,
        [
            ("not-utf-8", Span::new(3, 4)),
            ("not-utf-8", Span::new(9, 10)),
            ("not-utf-8", Span::new(10, 11)),
            ("duplicate-key", Span::new(12, 13)),
        ]
    );
    let utf16: Vec<u8> = std::iter::once(0xFEFF_u16)
        .chain("a: 1\n".encode_utf16())
        .flat_map(u16::to_le_bytes)
        .collect();
    assert!(
        read(&utf16)
            .diagnostics
            .iter()
            .any(|finding| finding.help.contains("UTF-16"))
    );
}

#[test]
fn files_without_a_map_are_refused() {
    for text in ["", "\n\n", "# only a comment\n", "---\n", "~\n", "\u{FEFF}"] {
        one(text, "empty-file", "");
    }
    one("- a\n", "root-not-a-map", "- a");
    one("hello\n", "root-not-a-map", "hello");
    one("a:b\n", "root-not-a-map", "a:b");
    assert!(read(&vec![b' '; MAX_BYTES + 1]).diagnostics[0].rule == "NF001");
}

#[test]
fn too_many_values_are_refused() {
    let text = format!("a: [{}1]\n", "1,".repeat(MAX_NODES));
    assert_eq!(faults(&text), [("too-many-values", "1".to_owned())]);
}

#[test]
fn syntax_errors_point_at_their_cause() {
    one("a: 'x\n", "syntax-error", "'");
    one("a: [1, 2\n", "syntax-error", "[");
    one("a: {b: [1, 2}\n", "syntax-error", "[");
    one("a: {b: 1}}\n", "syntax-error", "}");
    one("a: @b\n", "syntax-error", "@");
    one("a: b: c\n", "syntax-error", ":");
    one("a: - b\n", "syntax-error", "-");
    one("a:\n  b: 1\n c: 2\n", "syntax-error", "c");
    one("a: \"x\" y\n", "syntax-error", "y");
}

#[test]
fn reading_goes_on_at_the_next_section() {
    let text = "runs:\n  W1: {from: a, to: b\nloads:\n  x: {}\n  x: {}\nzones: @\nways:\n  y: {}\n  y: {}\n";
    let found = faults(text);
    let expected = [
        ("syntax-error", "{"),
        ("duplicate-key", "x"),
        ("syntax-error", "@"),
        ("duplicate-key", "y"),
    ];
    assert_eq!(
        found,
        expected.map(|(name, characters)| (leak(name), characters.to_owned()))
    );
    let reading = read(text.as_bytes());
    let late: Vec<_> = reading
        .diagnostics
        .iter()
        .map(|finding| finding.message.contains("after a syntax error"))
        .collect();
    assert_eq!(late, [false, true, true, true]);
    let salvage = reading.salvage.expect("sections were read");
    let names: Vec<_> = salvage
        .entries(salvage.root())
        .iter()
        .map(|&(key, _)| salvage.text(key))
        .collect();
    assert_eq!(names, [Some("runs"), Some("loads"), Some("ways")]);
}

#[test]
fn records_before_a_syntax_error_are_kept() {
    let reading = read(b"runs:\n  W1: {from: a}\n  W2: {from: b}}\n  W3: {from: c}\nloads: {}\n");
    let salvage = reading.salvage.expect("sections were read");
    let runs = salvage.follow(salvage.root(), &["runs"]);
    let names: Vec<_> = salvage
        .entries(runs)
        .iter()
        .map(|&(key, _)| salvage.text(key))
        .collect();
    assert_eq!(names, [Some("W1"), Some("W2")]);
    assert!(reading.diagnostics[0].help.contains("line 4 is not read"));
}

#[test]
fn resuming_ends_after_twenty_errors() {
    let mut text = String::new();
    for number in 0..60 {
        writeln!(text, "s{number}: @").expect("a text grows");
    }
    assert_eq!(faults(&text).len(), MAX_RESUMES + 1);
    // Anchors that stand before an error are still known behind it.
    assert_eq!(
        faults("a: &x 1\nb: @\nc: *x\n"),
        [("syntax-error", "@".to_owned())]
    );
}

#[test]
fn a_text_read_in_two_ways_is_refused() {
    // One reader ends an anchor's name at the point, the other does not.
    assert_eq!(faults("a: &x.y 1\nb: 2\n")[0].0, "ambiguous-text");
    assert_eq!(faults("a: &x: {b: 1}\n")[0].0, "ambiguous-text");
}

#[test]
fn integers_of_any_size_are_only_text_to_us() {
    let (_, document) = good(
        "a: 18446744073709551616\nb: 340282366920938463463374607431768211456\nc: -9223372036854775809\nd: 0b11\ne: -0x1F\nf: 1e999\n\
         g: .nan\nh: -.inf\ni: 007\nj: -0\nk: 0x\nl: +5\nm: 0o8\nn: 1_000\no: 1.50\n",
    );
    assert_eq!(value(&document, "a"), Some("18446744073709551616"));
    assert_eq!(value(&document, "i"), Some("007"));
    assert_eq!(value(&document, "o"), Some("1.50"));
}

#[test]
fn words_and_measures_stay_text() {
    let (_, document) =
        good("a: [14 AWG, 4/0 AWG, 1/2 in, 12:30, yes, no, on, off, 012, 1_000, 2024-01-02]\n");
    for &item in document.items(document.follow(document.root(), &["a"])) {
        assert!(
            matches!(
                document.node(item),
                Node::Scalar {
                    meaning: Meaning::Text,
                    ..
                }
            ),
            "{:?} is no text",
            document.text(item)
        );
    }
}

#[test]
fn spans_cover_exactly_what_is_written() {
    let text = "é: {b: 1, d: [1,\n 2]}\r\nf:\r\n  g: \"µ\"\r\n  h: 'x'\r\n  # comment\r\n\r\ni: z  # note\r\n";
    let (text, document) = good(text);
    let slice = |path: &[&str]| {
        let span = document.span(document.follow(document.root(), path));
        &text[span.start..span.end]
    };
    assert_eq!(slice(&["é"]), "{b: 1, d: [1,\n 2]}");
    assert_eq!(slice(&["é", "d"]), "[1,\n 2]");
    assert_eq!(slice(&["é", "d", "1"]), "2");
    assert_eq!(slice(&["f"]), "g: \"µ\"\r\n  h: 'x'");
    assert_eq!(slice(&["f", "g"]), "\"µ\"");
    assert_eq!(slice(&["i"]), "z");
    assert_eq!(
        document
            .key_span(document.root(), "i")
            .map(|span| &text[span.start..span.end]),
        Some("i")
    );
}

#[test]
fn parts_are_exact_where_the_text_stands_as_it_is() {
    let (text, document) = good(
        "a: 12 ft 6 in\nb: \"12 µm\"\nc: \"1\\u00b2 m\"\nd: x\n  y\ne: |\n  12 m\nf: 'it''s 3'\n",
    );
    let part = |key: &str, range| {
        let span = document.part(document.follow(document.root(), &[key]), range);
        &text[span.start..span.end]
    };
    assert_eq!(part("a", 6..7), "6");
    assert_eq!(part("b", 3..6), "µm");
    assert_eq!(part("c", 0..1), "\"1\\u00b2 m\"");
    assert_eq!(part("d", 0..1), "x\n  y");
    assert_eq!(part("f", 0..2), "'it''s 3'");
    assert_eq!(part("a", 3..99), "12 ft 6 in");
    assert!(part("e", 0..2).contains("12 m"));
}

#[test]
fn empty_values_are_nothing_with_an_empty_span() {
    let (_, document) = good("a:\nb: ''\nc: ~\n");
    let node = document.follow(document.root(), &["a"]);
    assert!(matches!(
        document.node(node),
        Node::Scalar {
            meaning: Meaning::Nothing,
            ..
        }
    ));
    assert_eq!(document.span(node).start, document.span(node).end);
    assert_eq!(value(&document, "b"), Some(""));
}

#[test]
fn block_texts_end_alike_for_both_readers() {
    for text in [
        "a: |\n  x",
        "a: |\n  x\n",
        "a: >\n  x\n  y\n\n",
        "a: |+\n  x\n\n",
        "a: |-\n  x\n\n",
        "a: |2\n    x\n",
    ] {
        good(text);
    }
}

#[test]
fn following_a_path_stops_at_the_last_node_met() {
    let (_, document) = good("a: {b: [1]}\n");
    let list = document.follow(document.root(), &["a", "b"]);
    assert_eq!(
        document.follow(document.root(), &["a", "b", "7", "x"]),
        list
    );
    assert_eq!(document.child(list, "x"), None);
}
