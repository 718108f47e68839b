//! A charger that a battery switch cuts off from its bank.

use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "BI413",
    name: "charger-behind-switch",
    title: "Battery switch cuts a charger off from its bank",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "The output of each shore charger and solar controller reaches a battery with every battery switch off. A boat is left with its battery switches off; a charger on their far side then charges nothing and keeps the boat live.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  charger-fuse: {rating: 15 A, form: blade regular, zone: cabin}
switches:
  master: {kind: battery, rating: 100 A, zone: cabin}
chargers:
  charger: {outputs: {1: {current: 10 A, voltage: 14.4 V}}, self-limiting: true, zone: cabin}
runs:
  W1: {from: house.+, to: charger-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W2: {from: charger-fuse.out, to: master.in, gauge: 12 AWG, colour: red, length: 1 ft}
  W3: {from: master.out, to: charger.1+, gauge: 12 AWG, colour: red, length: 3 ft}
  W4: {from: charger.-, to: house.-, gauge: 12 AWG, colour: black, length: 3 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  charger-fuse: {rating: 15 A, form: blade regular, zone: cabin}
chargers:
  charger: {outputs: {1: {current: 10 A, voltage: 14.4 V}}, self-limiting: true, zone: cabin}
runs:
  W1: {from: house.+, to: charger-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W2: {from: charger-fuse.out, to: charger.1+, gauge: 12 AWG, colour: red, length: 3 ft}
  W4: {from: charger.-, to: house.-, gauge: 12 AWG, colour: black, length: 3 ft}
",
    fix: "Land the charger on the battery side of the switch.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for &id in &facts.isolation.charging.switched {
        let source = &system.sources[id.index()];
        findings.push(
            rule.finding(
                &source.name,
                format!(
                    "{} reaches no battery with every battery switch off",
                    source.name
                ),
            )
            .label(source.span, "on the switched side")
            .repair(format!(
                "land {} on the battery side of the battery switch, through its own fuse",
                source.name
            )),
        );
    }
}
