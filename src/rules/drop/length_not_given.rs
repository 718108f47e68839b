//! Conductors whose length is not given, and the drops that are not proved for want of it.

use super::super::telling::{listed, numbers, wires};
use crate::analysis::Facts;
use crate::analysis::voltage_drop::Missing;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{CircuitId, ConductorId, LoadId, SourceId};
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "VD302",
    name: "length-not-given",
    title: "Length of a conductor is not given, so drops are not proved",
    severity: Severity::NotProved,
    basis: &[citations::INSPECTED_DROP],
    checks: "Every conductor on the way to a load or from a charging source has a length, given or following from measured ways. Without it no drop along it is proved. A size or a draw that is missing is told by the rules of its own.",
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
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, insulation: 105 °C, colour: black}
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
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, insulation: 105 °C, colour: black, length: 6 ft}
",
    fix: "Measure it along the way it lies, and write the `length`.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    if let Some(error) = facts.currents.failed.or(facts.drops.failed) {
        findings.push(
            rule.not_proved(
                "",
                format!("no current and no drop of this boat is proved: {error}"),
            )
            .repair("leave out cross ties between circuits, or split the boat into several files"),
        );
    }
    let mut needed_by: Vec<Vec<&str>> = vec![Vec::new(); system.conductors.len()];
    for (index, load) in system.loads.iter().enumerate() {
        if let Some(drop) = facts.drops.of(LoadId::at(index)) {
            for id in lengths(&drop.missing) {
                needed_by[id.index()].push(&load.name);
            }
        }
    }
    for (index, source) in system.sources.iter().enumerate() {
        if let Some(drop) = facts.drops.charging(SourceId::at(index)) {
            for id in lengths(&drop.missing) {
                needed_by[id.index()].push(&source.name);
            }
        }
    }
    // Conductors of one circuit are told together; each other one by itself.
    let mut groups: BTreeMap<(Option<CircuitId>, Option<u32>), Vec<ConductorId>> = BTreeMap::new();
    for (index, names) in needed_by.iter().enumerate() {
        if !names.is_empty() {
            let id = ConductorId::at(index);
            let circuit = system.conductors[index].circuit;
            groups
                .entry((circuit, circuit.is_none().then_some(id.0)))
                .or_default()
                .push(id);
        }
    }
    for ids in groups.into_values() {
        let mut names: Vec<&str> = Vec::new();
        for id in &ids {
            for name in &needed_by[id.index()] {
                if !names.contains(name) {
                    names.push(name);
                }
            }
        }
        let conductor = &system.conductors[ids[0].index()];
        let (what, verb) = if ids.len() == 1 {
            ("length", "is")
        } else {
            ("lengths", "are")
        };
        findings.push(
            rule.not_proved(
                &conductor.number,
                format!(
                    "the {what} of {} {verb} not given, so the drop of {} is not proved",
                    wires(system, &ids),
                    listed(&names)
                ),
            )
            .and_also(numbers(system, &ids))
            .label(conductor.span, "no length given")
            .repair(format!(
                "measure {} along the way and write the `length`",
                wires(system, &ids)
            )),
        );
    }
}

/// The conductors whose length is missing.
fn lengths(missing: &[Missing]) -> impl Iterator<Item = ConductorId> {
    missing.iter().filter_map(|missing| match missing {
        Missing::Length(id) => Some(*id),
        _ => None,
    })
}
