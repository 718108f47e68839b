//! Conductors thinner than any may be, whatever they carry.

use super::super::telling::{numbers, wires};
use super::{also_on, served, size_is_free, size_span};
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::{Installation, MinimumSize, RuleSet, citations, minimum_size};
use crate::system::{CircuitId, Conductor, ConductorId, Practice};
use crate::units::Gauge;
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "AM204",
    name: "conductor-below-minimum-size",
    title: "Conductor is thinner than the least size",
    severity: Severity::Warning,
    basis: &[citations::LAW_SEPARATE_SIZE, citations::LAW_SHEATHED_SIZE],
    checks: "A conductor by itself has at least 16 AWG (metric practice: 1 mm²), a core of a sheathed cable at least 18 AWG (0.75 mm²), whatever it carries: thinner ones break. Exempt are supplied leads under 7 in, cranking conductors, conductors that only sense, and electronics of less than 1 A.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  lamp-fuse: {rating: 2 A, form: blade regular, zone: cabin}
loads:
  lamp: {draw: 1 A, kind: lamp, zone: cabin}
runs:
  W1: {from: house.+, to: lamp-fuse.in, gauge: 16 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: lamp-fuse.out, to: lamp.+, gauge: 18 AWG, insulation: 105 °C, colour: red, length: 6 ft}
  W3: {from: lamp.-, to: house.-, gauge: 18 AWG, insulation: 105 °C, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  lamp-fuse: {rating: 2 A, form: blade regular, zone: cabin}
loads:
  lamp: {draw: 1 A, kind: lamp, zone: cabin}
runs:
  W1: {from: house.+, to: lamp-fuse.in, gauge: 16 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: lamp-fuse.out, to: lamp.+, gauge: 18 AWG, insulation: 105 °C, colour: red, length: 6 ft, cable: lamp-cable}
  W3: {from: lamp.-, to: house.-, gauge: 18 AWG, insulation: 105 °C, colour: black, length: 6 ft, cable: lamp-cable}
",
    fix: "Use the least size or a thicker one, or a sheathed cable.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let mut groups: BTreeMap<(Option<CircuitId>, Option<u32>), Vec<ConductorId>> = BTreeMap::new();
    let least = least_sizes(facts);
    for (index, (conductor, least)) in system.conductors.iter().zip(&least).enumerate() {
        let id = ConductorId::at(index);
        let thin = least.as_ref().is_some_and(|least| {
            conductor
                .gauge
                .is_some_and(|gauge| gauge.value.area() < least.size.area())
        });
        if thin {
            let alone = conductor.circuit.is_none().then_some(id.0);
            groups
                .entry((conductor.circuit, alone))
                .or_default()
                .push(id);
        }
    }
    for ids in groups.into_values() {
        let index = ids[0].index();
        if let (Some(gauge), Some(least)) = (system.conductors[index].gauge, &least[index]) {
            findings.push(thin(rule, facts, &ids, gauge.value, least));
        }
    }
}

/// The least size of every conductor; none where the law leaves it free.
pub(crate) fn least_sizes(facts: &Facts<'_>) -> Vec<Option<MinimumSize>> {
    let system = facts.system;
    let rule_set = match system.boat.practice {
        Practice::Us => RuleSet::Law,
        Practice::Metric => RuleSet::Iso,
    };
    let separate = minimum_size(rule_set, Installation::Separate);
    let sheathed = minimum_size(rule_set, Installation::Sheathed);
    let served = served(facts);
    system
        .conductors
        .iter()
        .enumerate()
        .map(|(index, conductor)| {
            if size_is_free(facts, ConductorId::at(index), &served[index]) {
                None
            } else if is_sheathed(conductor) {
                sheathed
            } else {
                separate
            }
        })
        .collect()
}

fn is_sheathed(conductor: &Conductor) -> bool {
    conductor.cable.is_some() || conductor.sheathed.is_some_and(|given| given.value)
}

fn thin(
    rule: &Rule,
    facts: &Facts<'_>,
    ids: &[ConductorId],
    gauge: Gauge,
    least: &MinimumSize,
) -> Diagnostic {
    let conductor = &facts.system.conductors[ids[0].index()];
    let names = wires(facts.system, ids);
    let verb = if ids.len() == 1 { "is" } else { "are" };
    let place = if is_sheathed(conductor) {
        "in a sheath"
    } else {
        "by itself"
    };
    let finding = rule
        .finding(
            &conductor.number,
            format!(
                "{names} {verb} {gauge}, {:.2} mm²; the least {place} is {}, {:.2} mm²",
                gauge.area().0,
                least.size,
                least.size.area().0
            ),
        )
        .and_also(numbers(facts.system, ids))
        .label(size_span(conductor), "thinner than the least size")
        .compared(
            Figure::new("cross-section", gauge.area().0, "mm²"),
            Figure::new("least cross-section", least.size.area().0, "mm²"),
        )
        .repair(format!("use at least {} for {names}", least.size));
    also_on(finding, [least.basis])
}
