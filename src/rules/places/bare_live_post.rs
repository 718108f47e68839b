//! A battery post or a positive bus that a spanner can fall on.

use super::super::telling::listed;
use crate::analysis::Facts;
use crate::analysis::poles::Pole;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::ComponentKind;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL727",
    name: "bare-live-post",
    title: "A live battery post or bus is not covered",
    severity: Severity::Warning,
    basis: &[
        citations::LAW_BATTERY_TERMINALS,
        citations::LAW_LIVE_TERMINALS,
    ],
    checks: "The ungrounded post of every battery and every bus above the negative is covered: booted, capped, or in a box. One that is declared bare is a warning; one that says nothing is noted.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, covered: false, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, covered: true, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Fit a boot or a cover.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let mut silent: Vec<&str> = Vec::new();
    let mut first = None;
    for component in &system.components {
        let live = match component.kind {
            ComponentKind::Battery => true,
            ComponentKind::Bus => component
                .terminals
                .first()
                .is_some_and(|&stud| facts.poles.of(system.node_of(stud)) == Pole::Positive),
            _ => false,
        };
        if !live {
            continue;
        }
        match component.covered {
            Some(given) if given.value => {}
            Some(given) => findings.push(
                rule.finding(
                    &component.name,
                    format!("the live metal of {} is bare", component.name),
                )
                .label(given.span.unwrap_or(component.span), "not covered")
                .repair(format!("fit a boot or a cover over {}", component.name)),
            ),
            None => {
                first.get_or_insert(component.span);
                silent.push(&component.name);
            }
        }
    }
    if let Some(span) = first {
        let mut note = rule.finding(
            silent[0],
            format!(
                "{} not say whether {} live metal is covered",
                match silent.len() {
                    1 => format!("{} does", silent[0]),
                    _ => format!("{} do", listed(&silent)),
                },
                if silent.len() == 1 { "its" } else { "their" }
            ),
        );
        note.severity = Severity::Note;
        findings.push(
            note.and_also(&silent)
                .label(span, "covered?")
                .repair("cover it and write `covered: true`"),
        );
    }
}
