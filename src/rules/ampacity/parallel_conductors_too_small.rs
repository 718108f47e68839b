//! Conductors in parallel that cannot each carry what they share.

use super::super::telling::wires;
use super::{case_words, size_span};
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::{Basis, Confidence};
use crate::system::{ConductorId, NodeId};
use crate::units::{Amps, format_against};
use std::collections::BTreeMap;

/// Where the limit comes from.
const PARALLEL: Basis = Basis::clause(
    "ABYC E-11",
    "",
    "parallel conductors",
    Confidence::Secondary,
);

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "AM209",
    name: "parallel-conductors-too-small",
    title: "Parallel conductors cannot each carry the current they share",
    severity: Severity::Warning,
    basis: &[PARALLEL],
    checks: "Where several conductors join the same two points, each of them may carry their whole current by itself: when one comes loose, the device that they share does not open.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  heater-fuse: {rating: 30 A, form: blade regular, zone: cabin}
loads:
  heater: {draw: 28 A, kind: heater, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: heater-fuse.in, gauge: 10 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: heater-fuse.out, to: heater.+, gauge: 16 AWG, insulation: 105 °C, colour: red, length: 6 ft}
  W3: {from: heater-fuse.out, to: heater.+, gauge: 16 AWG, insulation: 105 °C, colour: red, length: 6 ft}
  W4: {from: heater.-, to: house.-, gauge: 10 AWG, insulation: 105 °C, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  heater-fuse: {rating: 30 A, form: blade regular, zone: cabin}
loads:
  heater: {draw: 28 A, kind: heater, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: heater-fuse.in, gauge: 10 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: heater-fuse.out, to: heater.+, gauge: 10 AWG, insulation: 105 °C, colour: red, length: 6 ft}
  W4: {from: heater.-, to: house.-, gauge: 10 AWG, insulation: 105 °C, colour: black, length: 6 ft}
",
    fix: "Use one conductor that carries the whole current, or several of which each does.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let mut groups: BTreeMap<(NodeId, NodeId), Vec<ConductorId>> = BTreeMap::new();
    for (index, conductor) in system.conductors.iter().enumerate() {
        let (from, to) = (system.node_of(conductor.from), system.node_of(conductor.to));
        if from != to && !conductor.sense && !conductor.spare {
            groups
                .entry((from.min(to), from.max(to)))
                .or_default()
                .push(ConductorId::at(index));
        }
    }
    for ids in groups.into_values().filter(|ids| ids.len() > 1) {
        let current =
            |id: &ConductorId| facts.currents.load(system.conductors[id.index()].link).amps;
        // Parallel conductors carry their largest currents together: they share one.
        let total: Amps = ids.iter().map(current).sum();
        let weakest = ids
            .iter()
            .filter_map(|&id| Some((id, facts.ampacities.allowed(system, id).ok()?.derated)))
            .min_by(|(_, a), (_, b)| a.total_cmp(b));
        let Some((id, derated)) = weakest.filter(|&(_, derated)| derated < total) else {
            continue;
        };
        let conductor = &system.conductors[id.index()];
        let peak = facts.currents.load(conductor.link);
        let (shared, limit) = format_against(total.0, derated.0, "A");
        findings.push(
            rule.finding(
                &conductor.number,
                format!(
                    "{} share {shared} {}; {} alone may carry {limit}",
                    wires(system, &ids),
                    case_words(facts, peak),
                    conductor.number
                ),
            )
            .label(size_span(conductor), "too thin to carry it alone")
            .compared(
                Figure::new("shared current", total.0, "A"),
                Figure::new("derated ampacity", derated.0, "A"),
            )
            .in_positions(facts.currents.positions(system, peak))
            .repair(format!(
                "replace {} by one conductor that may carry {shared}",
                wires(system, &ids)
            )),
        );
    }
}
