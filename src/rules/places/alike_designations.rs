//! Designations that differ by a hyphen or by capitals only.

use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::source::Span;
use crate::standards::citations;
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL722",
    name: "alike-designations",
    title: "Two designations differ only by case, hyphen or space",
    severity: Severity::Note,
    basis: &[citations::COMMON_PRACTICE],
    checks: "No two components, and no two wire numbers, are the same once hyphens, underscores, spaces and capitals are left out. On a label in the bilge they are one and the same.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  Fan: {draw: 1 A, kind: motor, drop: 10 %, zone: cabin}
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W4: {from: fan.+, to: Fan.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W5: {from: Fan.-, to: fan.-, gauge: 14 AWG, colour: black, length: 1 ft}
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
loads:
  blower: {draw: 1 A, kind: motor, drop: 10 %, zone: cabin}
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W4: {from: fan.+, to: blower.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W5: {from: blower.-, to: fan.-, gauge: 14 AWG, colour: black, length: 1 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Rename one of them.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let components = system
        .components
        .iter()
        .map(|component| (component.name.as_str(), component.span));
    let conductors = system
        .conductors
        .iter()
        .map(|conductor| (conductor.number.as_str(), conductor.span));
    alike(rule, "components", components, findings);
    alike(rule, "wire numbers", conductors, findings);
}

fn alike<'s>(
    rule: &Rule,
    what: &str,
    names: impl Iterator<Item = (&'s str, Span)>,
    findings: &mut Vec<Diagnostic>,
) {
    let mut seen: BTreeMap<String, (&str, Span)> = BTreeMap::new();
    for (name, span) in names {
        let plain: String = name
            .chars()
            .filter(|letter| !matches!(letter, '-' | '_' | ' '))
            .flat_map(char::to_lowercase)
            .collect();
        match seen.get(&plain) {
            None => {
                seen.insert(plain, (name, span));
            }
            // The same name twice is a fault of the file, told where it is read.
            Some(&(first, _)) if first == name => {}
            Some(&(first, first_span)) => findings.push(
                rule.finding(
                    name,
                    format!("the {what} {first} and {name} read alike on a label"),
                )
                .label(span, "the second one")
                .label(first_span, "the first one")
                .repair(format!("rename {name} or {first}")),
            ),
        }
    }
}
