//! Wire numbers that a hurried eye reads as one and the same.

use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL731",
    name: "look-alike-numbers",
    title: "Two wire numbers differ only in letters that look like figures",
    severity: Severity::Note,
    basis: &[citations::COMMON_PRACTICE],
    checks: "No two wire numbers are the same once O and Q are read as 0, I as 1, Z as 2, S as 5, G as 6 and B as 8. On a sleeve of 2 mm type, in the bilge, by torch light, they are one and the same. The label schedule also names every wire number with an I, an O or a Q.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 1 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W10: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W1O: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 1 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W10: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W11: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Number one of them otherwise, without I, O and Q.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let mut seen = BTreeMap::new();
    for conductor in &facts.system.conductors {
        let shown = conductor.number.to_uppercase();
        let read: String = shown.chars().map(as_figure).collect();
        let (first_shown, first) = seen.entry(read).or_insert((shown.clone(), conductor));
        // Numbers that differ by capitals alone have a rule of their own.
        if *first_shown == shown {
            continue;
        }
        let number = &conductor.number;
        findings.push(
            rule.finding(
                number,
                format!(
                    "the wire numbers {} and {number} look alike on a label",
                    first.number
                ),
            )
            .label(conductor.span, "the second one")
            .label(first.span, "the first one")
            .repair(format!("renumber {number} or {}", first.number)),
        );
    }
}

/// The figure that a capital looks like.
fn as_figure(letter: char) -> char {
    match letter {
        'O' | 'Q' => '0',
        'I' => '1',
        'Z' => '2',
        'S' => '5',
        'G' => '6',
        'B' => '8',
        other => other,
    }
}
