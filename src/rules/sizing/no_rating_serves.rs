//! A rating that is to be chosen, and no rating on sale that serves.

use super::told;
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::ConflictKind;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "SZ102",
    name: "no-rating-serves",
    title: "No rating on sale passes every rule for a device",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Where the rating of a device is `auto`: one of the ratings that its form is sold with, and its holder takes, carries what flows and lets its loads start, and is not above what their makers and the conductors of given sizes behind it allow. The rules that collide are named, with the smallest change that frees them.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  winch-fuse: {rating: auto, form: blade regular, zone: cabin}
loads:
  winch: {draw: 12 A, kind: motor, duty: intermittent, drop: 10 %, largest-fuse: 10 A, zone: cabin}
runs:
  W1: {from: house.+, to: winch-fuse.in, gauge: 12 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: winch-fuse.out, to: winch.+, gauge: 12 AWG, insulation: 105 °C, colour: red, length: 6 ft}
  W3: {from: winch.-, to: house.-, gauge: 12 AWG, insulation: 105 °C, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  winch-fuse: {rating: auto, form: blade regular, zone: cabin}
loads:
  winch: {draw: 12 A, kind: motor, duty: intermittent, drop: 10 %, largest-fuse: 15 A, zone: cabin}
runs:
  W1: {from: house.+, to: winch-fuse.in, gauge: 12 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: winch-fuse.out, to: winch.+, gauge: 12 AWG, insulation: 105 °C, colour: red, length: 6 ft}
  W3: {from: winch.-, to: house.-, gauge: 12 AWG, insulation: 105 °C, colour: black, length: 6 ft}
",
    fix: "Make the change that the finding names, or another that frees one of the rules.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let conflicts = facts.system.chosen.conflicts.iter();
    let of_ratings = conflicts.filter(|conflict| conflict.kind == ConflictKind::Rating);
    findings.extend(of_ratings.map(|conflict| told(rule, conflict)));
}
