//! A bank whose negative reaches no load.

use crate::analysis::Facts;
use crate::analysis::isolation::bottoms;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "BI409",
    name: "negative-not-common",
    title: "Negative of a bank reaches no load that its positive feeds",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Where some combination of positions lets a bank feed a load, its negative reaches the negative of some load. Otherwise nothing that the bank feeds can return to it: the bank is dead by a conductor that was never fitted.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  port: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  starboard: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  port-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  starboard-fuse: {rating: 5 A, form: blade regular, zone: cabin}
switches:
  selector:
    kind: battery
    rating: 100 A
    zone: cabin
    terminals: [port, starboard, feed]
    positions: {\"off\": [], port: [[port, feed]], starboard: [[starboard, feed]]}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: port.+, to: port-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: port-fuse.out, to: selector.port, gauge: 14 AWG, colour: red, length: 1 ft}
  W3: {from: starboard.+, to: starboard-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W4: {from: starboard-fuse.out, to: selector.starboard, gauge: 14 AWG, colour: red, length: 1 ft}
  W5: {from: selector.feed, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W6: {from: fan.-, to: port.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  port: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  starboard: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  port-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  starboard-fuse: {rating: 5 A, form: blade regular, zone: cabin}
switches:
  selector:
    kind: battery
    rating: 100 A
    zone: cabin
    terminals: [port, starboard, feed]
    positions: {\"off\": [], port: [[port, feed]], starboard: [[starboard, feed]]}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: port.+, to: port-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: port-fuse.out, to: selector.port, gauge: 14 AWG, colour: red, length: 1 ft}
  W3: {from: starboard.+, to: starboard-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W4: {from: starboard-fuse.out, to: selector.starboard, gauge: 14 AWG, colour: red, length: 1 ft}
  W5: {from: selector.feed, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W6: {from: fan.-, to: port.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W7: {from: port.-, to: starboard.-, gauge: 8 AWG, colour: black, length: 2 ft}
",
    fix: "Join the negative of the bank to the common negative.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for &id in &facts.isolation.floating {
        let bank = &system.banks[id.index()];
        let Some(&post) = bottoms(system, bank).first() else {
            continue;
        };
        findings.push(
            rule.finding(
                &bank.name,
                format!(
                    "{}, the negative of bank {}, reaches no load that the bank feeds",
                    system.node_name(post),
                    bank.name
                ),
            )
            .label(bank.span, "its negative is not joined to the common")
            .repair(format!(
                "join {} to the common negative",
                system.node_name(post)
            )),
        );
    }
}
