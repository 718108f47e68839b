//! A house load that draws on the start bank.

use super::super::telling::{listed, shown};
use super::{in_positions, place};
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "BI410",
    name: "start-bank-drained",
    title: "House load can draw on the start bank",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "No combination of positions lets a load draw on a bank whose purpose is to start the engine, except positions declared `joins-banks` or `emergency`. Excused are cranking motors, coils, loads whose service is the engine, instruments, converters that charge from it, and loads that name the bank with `bank`. Boats with no other bank for the house are not asked, and states in which the start bank is joined to another bank are left to the rules on joined banks. A drained start bank is found out when the engine is needed.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  start: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  start-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  house-fuse: {rating: 5 A, form: blade regular, zone: cabin}
switches:
  selector:
    kind: battery
    rating: 100 A
    zone: cabin
    terminals: [start, house, feed]
    positions:
      \"off\": []
      house: [[house, feed]]
      start: [[start, feed]]
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: start.+, to: start-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: start-fuse.out, to: selector.start, gauge: 14 AWG, colour: red, length: 1 ft}
  W3: {from: house.+, to: house-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W4: {from: house-fuse.out, to: selector.house, gauge: 14 AWG, colour: red, length: 1 ft}
  W5: {from: selector.feed, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W6: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W7: {from: start.-, to: house.-, gauge: 8 AWG, colour: black, length: 2 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  start: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  start-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  house-fuse: {rating: 5 A, form: blade regular, zone: cabin}
switches:
  selector:
    kind: battery
    rating: 100 A
    zone: cabin
    terminals: [start, house, feed]
    positions:
      \"off\": []
      house: [[house, feed]]
      start: {closes: [[start, feed]], emergency: true}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: start.+, to: start-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: start-fuse.out, to: selector.start, gauge: 14 AWG, colour: red, length: 1 ft}
  W3: {from: house.+, to: house-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W4: {from: house-fuse.out, to: selector.house, gauge: 14 AWG, colour: red, length: 1 ft}
  W5: {from: selector.feed, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W6: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W7: {from: start.-, to: house.-, gauge: 8 AWG, colour: black, length: 2 ft}
",
    fix: "Feed the load from the house bank, or declare the position `emergency: true`.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for drain in &facts.isolation.drains {
        let bank = &system.banks[drain.bank.index()];
        let names: Vec<&str> = drain
            .loads
            .iter()
            .map(|id| system.loads[id.index()].name.as_str())
            .collect();
        let load = &system.loads[drain.loads[0].index()];
        let finding = rule
            .finding(
                &load.name,
                format!(
                    "{} can draw on start bank {}{}",
                    listed(&names),
                    bank.name,
                    in_positions(system, &drain.witness)
                ),
            )
            .and_also(&names)
            .label(load.span, "draws on the start bank")
            .label(place(system, &drain.witness), "lets it")
            .label(bank.span, "the start bank")
            .repair(format!(
                "feed {} from another bank; write `bank: {}` if it belongs to the engine, or `emergency: true` at the position",
                load.name, bank.name
            ));
        findings.push(shown(
            finding,
            system,
            &drain.witness.off_normal,
            &bank.name,
            &drain.witness.path,
        ));
    }
}
