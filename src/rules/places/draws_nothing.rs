//! A load that is said to take no current.

use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL721",
    name: "draws-nothing",
    title: "A load is said to draw nothing",
    severity: Severity::Note,
    basis: &[citations::COMMON_PRACTICE],
    checks: "A load draws more than nothing. Its conductors, device and voltage drop pass for any size when it does not. Signal gear that takes a few milliamperes says so in `mA`.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  lamp: {draw: 0 A, kind: lamp, zone: cabin}
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W4: {from: fan.+, to: lamp.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W5: {from: lamp.-, to: fan.-, gauge: 14 AWG, colour: black, length: 1 ft}
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
  lamp: {draw: 1 A, kind: lamp, zone: cabin}
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W4: {from: fan.+, to: lamp.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W5: {from: lamp.-, to: fan.-, gauge: 14 AWG, colour: black, length: 1 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Write what it takes.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    for load in &facts.system.loads {
        let (Some(draw), Some(current)) = (load.draw, load.current()) else {
            continue;
        };
        if current.0 > 0.0 {
            continue;
        }
        findings.push(
            rule.finding(
                &load.name,
                format!(
                    "{} draws nothing, so everything about its circuit passes",
                    load.name
                ),
            )
            .label(draw.span.unwrap_or(load.span), "no current")
            .repair(format!("write what {} takes", load.name)),
        );
    }
}
