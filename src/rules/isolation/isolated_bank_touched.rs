//! A bank declared isolated that touches another system.

use super::super::telling::shown;
use super::{in_positions, place};
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "BI404",
    name: "isolated-bank-touched",
    title: "Isolated bank shares a pole with another bank",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "No combination of positions joins any post of a bank declared `isolated: true` to any post of another bank, by its positive, its negative or the middle of its string. A bank that is taken to float and does not puts its voltage on the negative that everybody touches.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
banks:
  bow: {isolated: true}
batteries:
  bow-battery: {bank: bow, chemistry: agm, voltage: 24 V, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  bow-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  bow-fan: {draw: 2 A, kind: motor, drop: 10 %, voltage: 24 V, zone: cabin}
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: bow-battery.+, to: bow-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: bow-fuse.out, to: bow-fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: bow-fan.-, to: bow-battery.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W4: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W5: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W6: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W7: {from: bow-battery.-, to: house.-, gauge: 8 AWG, colour: black, length: 3 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
banks:
  bow: {isolated: true}
batteries:
  bow-battery: {bank: bow, chemistry: agm, voltage: 24 V, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  bow-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  bow-fan: {draw: 2 A, kind: motor, drop: 10 %, voltage: 24 V, zone: cabin}
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: bow-battery.+, to: bow-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: bow-fuse.out, to: bow-fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: bow-fan.-, to: bow-battery.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W4: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W5: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W6: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Take the path between the two systems out, or declare the bank not isolated.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for (index, contact) in facts.isolation.contacts.iter().enumerate() {
        // One path between two systems reaches every bank of the other one.
        let again = facts.isolation.contacts[..index].iter().any(|before| {
            before.bank == contact.bank && before.witness.off_normal == contact.witness.off_normal
        });
        if again {
            continue;
        }
        let [bank, other] = [contact.bank, contact.other].map(|id| &system.banks[id.index()]);
        let finding = rule
            .finding(
                &bank.name,
                format!(
                    "isolated bank {} is joined to {}, bank {}{}",
                    bank.name,
                    system.node_name(contact.post),
                    other.name,
                    in_positions(system, &contact.witness)
                ),
            )
            .label(place(system, &contact.witness), "joins the two systems")
            .label(
                bank.isolated.and_then(|given| given.span),
                "declared isolated",
            )
            .label(other.span, "the other bank")
            .repair(format!(
                "open the path between {} and {}",
                bank.name, other.name
            ));
        findings.push(shown(
            finding,
            system,
            &contact.witness.off_normal,
            &bank.name,
            &contact.witness.path,
        ));
    }
}
