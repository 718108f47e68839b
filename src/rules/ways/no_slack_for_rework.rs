//! An allowance that leaves no wire for a second terminal.

use super::super::telling::length;
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::{citations, constants, cut_allowances};
use crate::units::{Gauge, Metres};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "WY104",
    name: "no-slack-for-rework",
    title: "Cut allowance leaves less than two re-terminations",
    severity: Severity::Note,
    basis: &[citations::AIRCRAFT_SLACK],
    checks: "An allowance of the cut list that the file sets itself leaves wire for two re-terminations at each end, 25 mm each for small wire and 40 mm each for battery cable. A terminal that is cut off once more must not make a new wire of it. A fixed stub inside a panel may do with less.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
allowances: {termination: 20 mm}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
allowances: {termination: 50 mm}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Leave the allowance out, or set it to what two re-terminations take.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let given = &system.boat.policy.allowances;
    let times = constants::slack_re_terminations().0 as f64;
    for (name, given, size) in [
        ("termination", given.termination, "16 AWG"),
        ("cable-termination", given.cable_termination, "2/0 AWG"),
    ] {
        let (Some(given), Ok(gauge)) = (given, size.parse::<Gauge>()) else {
            continue;
        };
        let wanted = cut_allowances(gauge).0.re_termination * times;
        if given.value.0 + SAME >= wanted.0 {
            continue;
        }
        let told = |metres: Metres| length(system, metres);
        findings.push(
            rule.finding(
                name,
                format!(
                    "the allowance `{name}` is {}; two re-terminations take {}",
                    told(given.value),
                    told(wanted)
                ),
            )
            .label(given.span, "less than two re-terminations")
            .compared(
                Figure::new("allowance", given.value.0, "m"),
                Figure::new("two re-terminations", wanted.0, "m"),
            )
            .repair(format!("leave `{name}` out, or write {}", told(wanted))),
        );
    }
}

/// Lengths nearer than this are one.
const SAME: f64 = 1e-6;
