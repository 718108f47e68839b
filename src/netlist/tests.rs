//! Records: every fault told in one run, each under its own characters.

use super::*;
use crate::source;

fn netlist(text: &str) -> (Netlist, Vec<Diagnostic>) {
    let reading = source::read(text.as_bytes());
    assert_eq!(reading.diagnostics, []);
    let (netlist, findings) = read(&reading);
    (netlist.expect("a readable text gives a netlist"), findings)
}

/// Rule name, element, characters under the first label, message and help of each finding.
fn told(text: &str) -> Vec<[String; 5]> {
    let reading = source::read(text.as_bytes());
    let (_, findings) = read(&reading);
    findings
        .into_iter()
        .map(|finding| {
            let characters = finding
                .labels
                .first()
                .map_or("", |label| &text[label.span.start..label.span.end]);
            [
                finding.name.to_owned(),
                finding.element,
                characters.to_owned(),
                finding.message,
                finding.help,
            ]
        })
        .collect()
}

#[test]
fn a_clean_file_gives_its_records() {
    let text = "loomwright: 1\nboat: {name: Sanderling, practice: us, system: 12 V}\n\
                runs:\n  W1: {from: a.+, to: b.in, gauge: 14 AWG, length: 2.50 m}\n  2:\n";
    let (netlist, findings) = netlist(text);
    assert_eq!(findings, []);
    let run = &netlist.runs[0];
    assert_eq!(run.name, "W1");
    assert_eq!(&text[run.name_span.start..run.name_span.end], "W1");
    assert!(text[run.span.start..run.span.end].starts_with("{from: a.+"));
    assert_eq!(
        run.value.gauge.as_ref().map(text::GaugeText::as_str),
        Some("14 AWG")
    );
    assert_eq!(run.value.cranking, None);
    assert_eq!(netlist.runs[1].name, "2");
    assert_eq!(netlist.runs[1].value, RunRecord::default());
}

#[test]
fn numbers_keep_the_digits_written() {
    let (netlist, _) = netlist("loads: {a: {name: 1.50, voltage: 0x10, kind: 007}}\n");
    let load = &netlist.loads[0].value;
    let texts = [load.name.as_ref(), load.kind.as_ref()].map(|text| text.map(text::Text::as_str));
    assert_eq!(texts, [Some("1.50"), Some("007")]);
    assert_eq!(
        load.voltage.as_ref().map(text::VoltageText::as_str),
        Some("0x10")
    );
}

#[test]
fn unknown_keys_are_named_with_the_record_they_stand_in() {
    let found =
        told("runs:\n  W1: {lenght: 3 m, from: [a], hue: red, spare: yes}\n  W2: {form: x}\n");
    let expected: [[&str; 5]; 5] = [
        [
            "unknown-key",
            "W1",
            "lenght",
            "`lenght` is not a key of a run",
            "did you mean `length`?",
        ],
        [
            "wrong-shape",
            "W1",
            "[a]",
            "`from` is a list; a text or number is expected",
            "",
        ],
        [
            "unknown-key",
            "W1",
            "hue",
            "`hue` is not a key of a run",
            "",
        ],
        [
            "wrong-shape",
            "W1",
            "yes",
            "`spare` is the text `yes`; `true` or `false` is expected",
            "write `true`",
        ],
        [
            "unknown-key",
            "W2",
            "form",
            "`form` is not a key of a run",
            "did you mean `from`?",
        ],
    ];
    for (found, expected) in found.iter().zip(expected) {
        assert_eq!(
            found[..4],
            expected[..4]
                .iter()
                .map(ToString::to_string)
                .collect::<Vec<_>>()[..]
        );
        if expected[1] != "W1" || expected[2] != "hue" {
            assert_eq!(found[4], expected[4]);
        }
    }
    assert_eq!(found.len(), expected.len());
    assert!(
        found[2][4].starts_with("a run has the keys `from`, `to`"),
        "{}",
        found[2][4]
    );
}

#[test]
fn faults_inside_a_record_are_found_at_every_depth() {
    let found = told(
        "switches:\n  selector:\n    positions:\n      a: {closes: [[x, y]], join-banks: true}\n      b: {closes: 5}\n      c: 7\n      d: [[x, {y: 1}]]\n\
         fuse-blocks:\n  helm: {negative: {studs: 4, ratng: 2 A}, ways: {1: 10 A, 2: {rating: [1], nmae: x}, 3: [1]}}\n",
    );
    let short: Vec<_> = found
        .iter()
        .map(|[name, element, characters, ..]| [name, element, characters].map(String::as_str))
        .collect();
    assert_eq!(
        short,
        [
            ["unknown-key", "selector", "join-banks"],
            ["wrong-shape", "selector", "5"],
            ["wrong-shape", "selector", "7"],
            ["wrong-shape", "selector", "{y: 1}"],
            ["unknown-key", "helm", "ratng"],
            ["wrong-shape", "helm", "[1]"],
            ["unknown-key", "helm", "nmae"],
            ["wrong-shape", "helm", "[1]"],
        ]
    );
    assert_eq!(found[0][4], "did you mean `joins-banks`?");
    assert_eq!(found[4][3], "`ratng` is not a key of a block negative");
}

#[test]
fn what_is_right_in_a_faulty_record_is_kept() {
    let (netlist, findings) =
        netlist("runs: {W1: {from: [a], to: b.1, lenght: 3 m}}\nloads: {x: 5, y: {draw: 2 A}}\n");
    assert_eq!(findings.len(), 3);
    assert_eq!(
        netlist.runs[0].value.to.as_ref().map(text::Text::as_str),
        Some("b.1")
    );
    assert_eq!(netlist.runs[0].value.from, None);
    // A record that is none still has its designation, so that nothing else is reported as unknown.
    assert_eq!(netlist.loads[0].name, "x");
    assert_eq!(
        netlist.loads[1]
            .value
            .draw
            .as_ref()
            .map(text::DrawText::as_str),
        Some("2 A")
    );
}

#[test]
fn sections_have_their_shape_and_their_name() {
    let found = told(
        "laods: {}\nruns: [a]\nloads: x\nboat: [1]\ninterlocks: {a: 1}\naccept: [5, {rul: x}]\nzones:\n",
    );
    let expected = [
        [
            "unknown-section",
            "",
            "laods",
            "`laods` is not a section of a netlist",
            "did you mean `loads`?",
        ],
        [
            "wrong-shape",
            "",
            "[a]",
            "`runs` is a list; a map of designations is expected",
            "",
        ],
        [
            "wrong-shape",
            "",
            "x",
            "`loads` is the text `x`; a map of designations is expected",
            "",
        ],
        [
            "wrong-shape",
            "boat",
            "[1]",
            "`boat` is a list; a map with the keys of a boat is expected",
            "",
        ],
        [
            "wrong-shape",
            "",
            "{a: 1}",
            "`interlocks` is a map; a list is expected",
            "",
        ],
        [
            "wrong-shape",
            "accept",
            "5",
            "the number `5` stands here; a map with the keys of an acceptance is expected",
            "",
        ],
        [
            "unknown-key",
            "accept",
            "rul",
            "`rul` is not a key of an acceptance",
            "did you mean `rule`?",
        ],
    ];
    assert_eq!(found, expected.map(|line| line.map(str::to_owned)));
}

#[test]
fn listed_records_are_numbered() {
    let (netlist, findings) =
        netlist("accept:\n- {rule: OC101, element: W1, reason: x}\n- {rule: OC102}\n");
    assert_eq!(findings, []);
    let names: Vec<_> = netlist
        .accept
        .iter()
        .map(|entry| entry.name.as_str())
        .collect();
    assert_eq!(names, ["1", "2"]);
}

#[test]
fn another_version_of_the_language_is_refused() {
    assert_eq!(
        told("loomwright: 2\n")[0][..3],
        ["unknown-language", "", "2"].map(str::to_owned)
    );
    assert_eq!(told("loomwright: [1]\n")[0][0], "unknown-language");
    assert_eq!(told("loomwright: 1\n").len() + told("zones: {}\n").len(), 0);
}

#[test]
fn an_unusable_file_gives_findings_but_no_netlist() {
    let text = "runs:\n  W1: {form: x}\nzones: @\nloads:\n  p: {darw: 2 A}\n";
    let reading = source::read(text.as_bytes());
    let (netlist, findings) = read(&reading);
    assert!(netlist.is_none());
    let messages: Vec<_> = findings
        .iter()
        .map(|finding| finding.message.as_str())
        .collect();
    assert_eq!(
        messages,
        [
            "`form` is not a key of a run",
            "`darw` is not a key of a load (found after a syntax error)"
        ]
    );
}

#[test]
fn a_fault_of_an_aliased_record_is_told_once() {
    assert_eq!(told("runs: {W1: &a {lenght: 3 m}, W2: *a}\n").len(), 1);
    assert_eq!(
        told("runs: {W1: &a {from: &b [1]}, W2: {from: *b, to: *b}}\n").len(),
        1
    );
}

#[test]
fn a_record_full_of_faults_is_given_up_in_time() {
    let many = vec!["{a: 1}"; 20_000].join(", ");
    let found = told(&format!("runs: {{W1: {{via: [{many}]}}}}\n"));
    assert!((2..=100).contains(&found.len()), "{}", found.len());
    let keys: Vec<String> = (0..20_000).map(|number| format!("k{number}: 1")).collect();
    let found = told(&format!("runs: {{W1: {{{}}}}}\n", keys.join(", ")));
    assert_eq!(found.len(), source::MAX_FINDINGS + 1);
}

#[test]
fn every_record_type_has_a_noun() {
    let found = told("alternators: {a: {x: 1}}\nfuse-blocks: {a: {x: 1}}\nallowances: {x: 1}\n");
    let messages: Vec<_> = found.iter().map(|line| line[3].as_str()).collect();
    assert_eq!(
        messages,
        [
            "`x` is not a key of an alternator",
            "`x` is not a key of a fuse block",
            "`x` is not a key of an allowance"
        ]
    );
}
