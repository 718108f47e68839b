//! More conductors on a bus than it has studs.

use crate::analysis::Facts;
use crate::diag::Figure;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{ComponentKind, TerminalId};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL711",
    name: "bus-full",
    title: "More terminals land on a bus than it has studs",
    severity: Severity::Note,
    basis: &[citations::COMMON_PRACTICE],
    checks: "A bus, or the negative built into a block, has a stud for every conductor and part that lands on it. Up to four may share a stud, so this is only noted; it tells when a bus is full and the next load has no place.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
buses:
  negative: {polarity: negative, studs: 2, rating: 50 A, zone: cabin}
loads:
  lamp: {draw: 1 A, kind: lamp, zone: cabin}
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: negative, gauge: 14 AWG, colour: black, length: 5 ft}
  W4: {from: negative, to: house.-, gauge: 14 AWG, colour: black, length: 1 ft}
  W5: {from: fan.+, to: lamp.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W6: {from: lamp.-, to: negative, gauge: 14 AWG, colour: black, length: 5 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
buses:
  negative: {polarity: negative, studs: 3, rating: 50 A, zone: cabin}
loads:
  lamp: {draw: 1 A, kind: lamp, zone: cabin}
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: negative, gauge: 14 AWG, colour: black, length: 5 ft}
  W4: {from: negative, to: house.-, gauge: 14 AWG, colour: black, length: 1 ft}
  W5: {from: fan.+, to: lamp.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W6: {from: lamp.-, to: negative, gauge: 14 AWG, colour: black, length: 5 ft}
",
    fix: "Fit a longer bus, or a second one.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for component in &system.components {
        let Some(studs) = component.studs else {
            continue;
        };
        let on = |terminal: &&TerminalId| {
            let name = &system.terminals[terminal.index()].name;
            component.kind == ComponentKind::Bus || name.starts_with("negative.")
        };
        let landed: usize = component
            .terminals
            .iter()
            .filter(on)
            .map(|&terminal| facts.returns.landings.on(terminal).count())
            .sum();
        if landed <= studs.value as usize {
            continue;
        }
        findings.push(
            rule.finding(
                &component.name,
                format!(
                    "{landed} terminals land on {}, which has {} studs",
                    component.name, studs.value
                ),
            )
            .label(studs.span.unwrap_or(component.span), "its studs")
            .compared(
                Figure::new("terminals", landed as f64, ""),
                Figure::new("studs", f64::from(studs.value), ""),
            )
            .repair(format!(
                "fit a longer bus in place of {}, or a second one",
                component.name
            )),
        );
    }
}
