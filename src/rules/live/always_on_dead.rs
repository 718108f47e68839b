//! A load that must stay live and does not.

use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "LV503",
    name: "always-on-dead",
    title: "Load that must stay live is dead with every battery switch off",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "With every battery switch off, some position of the other switches keeps every load live that declares `always-on: true`: a bilge pump whose float closes, an alarm, a memory. A pump behind the switch lets the boat sink at its mooring.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  main-fuse: {rating: 20 A, form: blade regular, zone: cabin}
  pump-fuse: {rating: 5 A, form: blade regular, zone: cabin}
switches:
  master: {kind: battery, rating: 100 A, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
  pump: {draw: 2 A, kind: motor, drop: 10 %, always-on: true, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: master.in, gauge: 12 AWG, colour: red, length: 1 ft}
  W3: {from: master.out, to: fan.+, gauge: 12 AWG, colour: red, length: 6 ft}
  W4: {from: fan.-, to: house.-, gauge: 12 AWG, colour: black, length: 6 ft}
  W5: {from: master.out, to: pump-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W6: {from: pump-fuse.out, to: pump.+, gauge: 14 AWG, colour: brown, length: 6 ft}
  W7: {from: pump.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  main-fuse: {rating: 20 A, form: blade regular, zone: cabin}
  pump-fuse: {rating: 5 A, form: blade regular, zone: cabin}
switches:
  master: {kind: battery, rating: 100 A, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
  pump: {draw: 2 A, kind: motor, drop: 10 %, always-on: true, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: master.in, gauge: 12 AWG, colour: red, length: 1 ft}
  W3: {from: master.out, to: fan.+, gauge: 12 AWG, colour: red, length: 6 ft}
  W4: {from: fan.-, to: house.-, gauge: 12 AWG, colour: black, length: 6 ft}
  W5: {from: house.+, to: pump-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W6: {from: pump-fuse.out, to: pump.+, gauge: 14 AWG, colour: brown, length: 6 ft}
  W7: {from: pump.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Feed the load from the battery side of the switch, through a device of its own.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for &id in facts.live.dead() {
        let load = &system.loads[id.index()];
        findings.push(
            rule.finding(
                &load.name,
                format!(
                    "{} is dead with every battery switch off, whatever the other switches do",
                    load.name
                ),
            )
            .label(load.span, "dead with the battery switches off")
            .label(
                load.always_on.and_then(|given| given.span),
                "must stay live",
            )
            .repair(format!(
                "feed {} from the battery side of the battery switch, through a device of its own",
                load.name
            )),
        );
    }
}
