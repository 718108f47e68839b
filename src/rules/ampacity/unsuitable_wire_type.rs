//! Wire that is not insulated stranded copper cable for boats.

use super::super::telling::{NAMES_TOLD, numbers, wires};
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::ConductorId;
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "AM208",
    name: "unsuitable-wire-type",
    title: "Wire type is not stranded boat cable",
    severity: Severity::Warning,
    basis: &[citations::LAW_CONDUCTOR, citations::LAW_CONDUCTOR_BELOW_50_V],
    checks: "The `wire-type` of a conductor that carries current is not one that names solid wire, household cord, bell, speaker or telephone wire, or aluminium: those corrode through, work-harden and break, and their insulation is not made for bilge water or oil. A type that is not given is not judged.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, insulation: 105 °C, wire-type: speaker wire, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, insulation: 105 °C, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, insulation: 105 °C, wire-type: UL 1426 boat cable, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, insulation: 105 °C, colour: black, length: 6 ft}
",
    fix: "Use insulated stranded copper cable made for boats.",
    check,
};

/// Words of a wire type that tell what does not belong in a boat's power wiring, with the reason.
const UNSUITABLE: &[(&str, &str)] = &[
    ("solid", "solid wire breaks where it vibrates"),
    ("lamp cord", "household cord is not made for damp"),
    (
        "household",
        "household cable is not made for damp and movement",
    ),
    (
        "house wire",
        "household cable is not made for damp and movement",
    ),
    ("extension cord", "household cord is not made for damp"),
    ("zip cord", "household cord is not made for damp"),
    ("bell wire", "bell wire is not made for power"),
    ("speaker", "speaker wire has no insulation rating for power"),
    ("telephone", "telephone wire is not made for power"),
    ("aluminium", "the law asks for copper"),
    ("aluminum", "the law asks for copper"),
];

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let mut groups: BTreeMap<(String, &str), Vec<ConductorId>> = BTreeMap::new();
    for (index, conductor) in system.conductors.iter().enumerate() {
        let Some(given) = conductor.wire_type.as_ref().filter(|_| !conductor.spare) else {
            continue;
        };
        let words = given.value.to_lowercase();
        if let Some((_, reason)) = UNSUITABLE.iter().find(|(word, _)| words.contains(word)) {
            groups
                .entry((given.value.clone(), reason))
                .or_default()
                .push(ConductorId::at(index));
        }
    }
    // As many a finding as a message names.
    let told = groups
        .iter()
        .flat_map(|(key, ids)| ids.chunks(NAMES_TOLD).map(move |ids| (key, ids)));
    for ((wire_type, reason), ids) in told {
        let conductor = &system.conductors[ids[0].index()];
        let names = wires(system, ids);
        let verb = if ids.len() == 1 { "is" } else { "are" };
        let span = conductor
            .wire_type
            .as_ref()
            .and_then(|given| given.span)
            .unwrap_or(conductor.span);
        findings.push(
            rule.finding(
                &conductor.number,
                format!("{names} {verb} `{wire_type}`: {reason}"),
            )
            .and_also(numbers(system, ids))
            .label(span, "not for power wiring in a boat")
            .repair(format!("use stranded boat cable for {names}")),
        );
    }
}
