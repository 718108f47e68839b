//! Conductors whose ampacity cannot be looked up.

use super::super::telling::{numbers, wires};
use super::{served, size_is_free, size_span};
use crate::analysis::Facts;
use crate::analysis::ampacity::Unrated;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::{RuleSet, citations, minimum_size};
use crate::system::{CircuitId, Conductor, ConductorId, Practice};
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "AM202",
    name: "size-not-given",
    title: "Size of a conductor is not given, or no table lists it",
    severity: Severity::NotProved,
    basis: &[citations::LAW_AMPACITY],
    checks: "Every conductor that can carry load current has a size, and the table lists that size at the conductor's insulation rating. Without it neither its ampacity nor the drop of what it feeds is proved.",
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
  W3: {from: fan.-, to: house.-, insulation: 105 °C, colour: black, length: 6 ft}
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
    fix: "Read the size off the insulation, or write `auto` to have it chosen.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let served = served(facts);
    let mut blank: BTreeMap<(Option<CircuitId>, Option<u32>), Vec<ConductorId>> = BTreeMap::new();
    for (index, conductor) in system.conductors.iter().enumerate() {
        let id = ConductorId::at(index);
        // A size that is asked for and not there has no choice that passes, which is told as that.
        let asked = conductor.size_asked.is_some();
        if conductor.sense || conductor.spare || asked && conductor.gauge.is_none() {
            continue;
        }
        match facts.ampacities.allowed(system, id) {
            Err(Unrated::NoGauge) => {
                let alone = conductor.circuit.is_none().then_some(id.0);
                blank
                    .entry((conductor.circuit, alone))
                    .or_default()
                    .push(id);
            }
            Err(Unrated::NotListed(..)) if !size_is_free(facts, id, &served[index]) => {
                findings.extend(unlisted(rule, facts, conductor));
            }
            _ => {}
        }
    }
    for ids in blank.into_values() {
        let first = &system.conductors[ids[0].index()];
        let (what, verb) = if ids.len() == 1 {
            ("size", "is")
        } else {
            ("sizes", "are")
        };
        findings.push(
            rule.not_proved(
                &first.number,
                format!(
                    "the {what} of {} {verb} not given, so ampacity and drop are not proved",
                    wires(system, &ids)
                ),
            )
            .and_also(numbers(system, &ids))
            .label(first.span, "no size given")
            .repair(format!(
                "write the `gauge` of {} as printed on the insulation, or `auto` to have it chosen",
                wires(system, &ids)
            )),
        );
    }
}

/// A size that no table lists, unless it is below the least size, which is told as that.
fn unlisted(rule: &Rule, facts: &Facts<'_>, conductor: &Conductor) -> Option<Diagnostic> {
    let gauge = conductor.gauge?.value;
    let rule_set = match facts.system.boat.practice {
        Practice::Us => RuleSet::Law,
        Practice::Metric => RuleSet::Iso,
    };
    let least = minimum_size(rule_set, crate::standards::Installation::Sheathed);
    if least.is_some_and(|least| gauge.area() < least.size.area()) {
        return None;
    }
    let insulation = conductor.insulation.value;
    Some(
        rule.not_proved(
            &conductor.number,
            format!(
                "no table lists {gauge} at {:.0} °C, so the ampacity of {} is not proved",
                insulation.0, conductor.number
            ),
        )
        .label(size_span(conductor), "not in the table")
        .label(conductor.insulation.span, "at this insulation rating")
        .repair(format!(
            "use a listed size and an insulation rating of at least 60 °C for {}",
            conductor.number
        )),
    )
}
