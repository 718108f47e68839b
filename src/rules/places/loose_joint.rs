//! A joint that holds by twist, spring or tape.

use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::ComponentKind;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL725",
    name: "loose-joint",
    title: "A joint holds by twist, spring, wing nut or tape",
    severity: Severity::Warning,
    basis: &[
        citations::INSPECTED_BATTERY,
        citations::LAW_BATTERY_CONNECTORS,
    ],
    checks: "Splices are crimped, screwed or soldered and clamped. Twist-on caps, spring clips, wing nuts, insulation-piercing taps and tape work loose under way. The clauses cited forbid spring tension on battery posts and bind inspected vessels for the rest; elsewhere it is good practice.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
splices:
  joint: {kind: twist-on, sealed: true, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: joint, gauge: 14 AWG, colour: red, length: 5 ft}
  W4: {from: joint, to: fan.+, gauge: 14 AWG, colour: red, length: 1 ft}
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
splices:
  joint: {kind: butt, sealed: true, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: joint, gauge: 14 AWG, colour: red, length: 5 ft}
  W4: {from: joint, to: fan.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Crimp a sealed splice, or land the conductors on a terminal block.",
    check,
};

/// Words for joints that do not hold.
const LOOSE: [&str; 9] = [
    "twist",
    "wire nut",
    "wing nut",
    "spring",
    "clip",
    "crocodile",
    "alligator",
    "piercing",
    "tape",
];

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    for component in &facts.system.components {
        let kind = component.subkind.to_lowercase().replace(['-', '_'], " ");
        let loose = LOOSE.iter().any(|word| kind.contains(word));
        if component.kind != ComponentKind::Splice || !loose {
            continue;
        }
        findings.push(
            rule.finding(
                &component.name,
                format!(
                    "{} is a {} joint, which works loose under way",
                    component.name, component.subkind
                ),
            )
            .label(component.span, "a joint that does not hold")
            .repair(format!(
                "crimp a sealed splice in place of {}",
                component.name
            )),
        );
    }
}
