//! A length that is the way out and back, where one conductor goes one way.

use super::super::telling::length;
use crate::analysis::Facts;
use crate::analysis::fill::length_of_ways;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::ConductorId;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "WY103",
    name: "length-twice-the-way",
    title: "Given length is twice the measured way",
    severity: Severity::Note,
    basis: &[citations::COMMON_PRACTICE],
    checks: "The length of a conductor is that of one conductor, one way. Where it is within a twentieth of twice the measured ways, the round trip of a drop table was probably written; the wire is then cut too long and its drop told twice. A return that goes to a nearer stud or takes another way has its own length and is not meant.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
points:
  bench: {zone: cabin}
  bow: {zone: cabin}
ways:
  trunk: {between: [bench, bow], length: 6 ft}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, at: bench}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, at: bench}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, at: bow}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 12 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
points:
  bench: {zone: cabin}
  bow: {zone: cabin}
ways:
  trunk: {between: [bench, bow], length: 6 ft}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, at: bench}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, at: bench}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, at: bow}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft 3 in}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black}
",
    fix: "Write the length of the one conductor, or leave it out, so that it follows from the ways.",
    check,
};

/// How near to twice the way a length is to look like a round trip.
const NEAR: f64 = 0.05;

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for (index, conductor) in system.conductors.iter().enumerate() {
        let id = ConductorId::at(index);
        let (Some(given), Some(way)) = (conductor.length, length_of_ways(system, id)) else {
            continue;
        };
        let share = given.value.0 / (2.0 * way.0);
        if way.0 <= 0.0 || (share - 1.0).abs() > NEAR {
            continue;
        }
        findings.push(
            rule.finding(
                &conductor.number,
                format!(
                    "{} is given as {}, twice the {} of its way; is that the round trip?",
                    conductor.number,
                    length(system, given.value),
                    length(system, way)
                ),
            )
            .label(
                given.span.unwrap_or(conductor.span),
                "one conductor, one way",
            )
            .compared(
                Figure::new("length", given.value.0, "m"),
                Figure::new("length of the ways", way.0, "m"),
            )
            .repair(format!(
                "write the length of {} alone, or leave it out",
                conductor.number
            )),
        );
    }
}
