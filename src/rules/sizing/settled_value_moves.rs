//! A settled value that would be chosen otherwise now.

use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "SZ103",
    name: "settled-value-moves",
    title: "Settled size or rating would be chosen otherwise now",
    severity: Severity::Note,
    basis: &[citations::COMMON_PRACTICE],
    checks: "A size or rating written as `auto 14 AWG` was chosen once and is kept, so that a bench plan does not move under the hands of whoever works to it. Where the boat has changed so that another value would be chosen now, this is told with the reason; whether the settled value still passes is told by the other rules.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: auto 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: auto 14 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: auto 14 AWG, insulation: 105 °C, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: auto 14 AWG, insulation: 105 °C, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: auto 3 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: auto 16 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: auto 16 AWG, insulation: 105 °C, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: auto 16 AWG, insulation: 105 °C, colour: black, length: 6 ft}
",
    fix: "Write `auto` alone and settle the file again, or leave it as it is.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    for moved in &facts.system.chosen.moved {
        let why = if moved.why.is_empty() {
            String::new()
        } else {
            format!(": {}", moved.why)
        };
        findings.push(
            rule.finding(
                &moved.element,
                format!(
                    "{} is settled at {}; {} would be chosen now{why}",
                    moved.element, moved.settled, moved.would_be
                ),
            )
            .and_also(moved.also.iter().map(String::as_str))
            .label(
                moved.span,
                format!("{} would be chosen now", moved.would_be),
            )
            .repair(format!(
                "write `auto` in its place and settle the file again to take {}",
                moved.would_be
            )),
        );
    }
}
