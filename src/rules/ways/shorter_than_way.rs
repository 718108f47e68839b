//! A length that is written and does not reach along the ways.

use super::super::telling::{length, listed};
use crate::analysis::Facts;
use crate::analysis::fill::{length_of_ways, ways_of};
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::ConductorId;
use crate::units::Metres;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "WY102",
    name: "length-shorter-than-way",
    title: "Given length is shorter than the measured way",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "A conductor between two placed parts that states its length is at least as long as the measured ways between them. One of the two is wrong: a wire cut to the shorter one does not reach, and its drop is larger than it is told to be.",
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
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 4 ft}
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
    fix: "Measure again, or leave the length out, so that it follows from the ways.",
    check,
};

/// Lengths that differ by less are one, in metres.
const SAME: f64 = 1e-3;

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for (index, conductor) in system.conductors.iter().enumerate() {
        let id = ConductorId::at(index);
        let (Some(given), Some(way)) = (conductor.length, length_of_ways(system, id)) else {
            continue;
        };
        if given.value.0 >= way.0 - SAME {
            continue;
        }
        let ways = ways_of(system, id);
        let names: Vec<&str> = ways
            .iter()
            .map(|way| system.ways[way.index()].name.as_str())
            .collect();
        let (word, measure) = if ways.len() == 1 {
            ("way", "measures")
        } else {
            ("ways", "measure")
        };
        let first = ways.first().map(|way| {
            let way = &system.ways[way.index()];
            way.length
                .and_then(|length| length.span)
                .unwrap_or(way.span)
        });
        let told = |metres: Metres| length(system, metres);
        findings.push(
            rule.finding(
                &conductor.number,
                format!(
                    "{} is given as {}; its {word} {} {measure} {}",
                    conductor.number,
                    told(given.value),
                    listed(&names),
                    told(way)
                ),
            )
            .label(given.span.unwrap_or(conductor.span), "too short to reach")
            .label(first, "measured here")
            .compared(
                Figure::new("length", given.value.0, "m"),
                Figure::new("length of the ways", way.0, "m"),
            )
            .repair(format!(
                "measure {} again, or leave its length out, so that it follows from the ways",
                conductor.number
            )),
        );
    }
}
