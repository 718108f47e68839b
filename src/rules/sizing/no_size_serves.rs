//! A size that is to be chosen, and no size on sale that every rule allows.

use super::told;
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::ConflictKind;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "SZ101",
    name: "no-size-serves",
    title: "No size on sale passes every rule for a conductor",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Where the size of a conductor is `auto`: one of the sizes that the practice sells fits its contacts, carries its current where it lies, is protected by its devices and keeps every drop limit that it lies on the way of; and no load is under its voltage, no short cleared too late, no return too thin and no hole too small because of sizes that are chosen. The rules that collide are named, with the smallest change that frees them.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
connectors:
  helm-plug: {cavities: 2, contact-rating: 20 A, accepts: [18 AWG, 14 AWG], a: {contacts: sockets}, b: {contacts: pins}, zone: cabin}
  bench-plug: {cavities: 2, contact-rating: 40 A, accepts: [12 AWG, 8 AWG], a: {contacts: sockets}, b: {contacts: pins}, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 6 ft}
  W3: {from: fan.-, to: helm-plug.1b, gauge: 14 AWG, insulation: 105 °C, colour: black, length: 1 ft}
  W4: {from: helm-plug.1a, to: bench-plug.1b, gauge: auto, insulation: 105 °C, colour: black, length: 4 ft}
  W5: {from: bench-plug.1a, to: house.-, gauge: 12 AWG, insulation: 105 °C, colour: black, length: 1 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
connectors:
  helm-plug: {cavities: 2, contact-rating: 20 A, accepts: [18 AWG, 14 AWG], a: {contacts: sockets}, b: {contacts: pins}, zone: cabin}
  bench-plug: {cavities: 2, contact-rating: 40 A, accepts: [14 AWG, 8 AWG], a: {contacts: sockets}, b: {contacts: pins}, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 6 ft}
  W3: {from: fan.-, to: helm-plug.1b, gauge: 14 AWG, insulation: 105 °C, colour: black, length: 1 ft}
  W4: {from: helm-plug.1a, to: bench-plug.1b, gauge: auto, insulation: 105 °C, colour: black, length: 4 ft}
  W5: {from: bench-plug.1a, to: house.-, gauge: 12 AWG, insulation: 105 °C, colour: black, length: 1 ft}
",
    fix: "Make the change that the finding names, or another that frees one of the rules.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let conflicts = facts.system.chosen.conflicts.iter();
    let of_sizes = conflicts.filter(|conflict| conflict.kind == ConflictKind::Size);
    findings.extend(of_sizes.map(|conflict| told(rule, conflict)));
}
