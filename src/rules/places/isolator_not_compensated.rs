//! A diode isolator that takes its volts from the charge.

use super::common::told_volts;
use crate::analysis::Facts;
use crate::diag::Figure;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::LinkKind;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL730",
    name: "isolator-not-compensated",
    title: "A diode isolator is not compensated by its charging source",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Where the forward voltage of a diode isolator is more than the voltage drop allowed to a critical circuit, the charging source in front of it senses the battery behind it. Else every battery is charged with that much less and never gets full. An electronic isolator gives its low `forward-voltage`. Where nothing is said it is not proved.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  start: {bank: start, chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
chargers:
  charger: {outputs: {1: {current: 10 A, voltage: 15 V, chemistry: agm}}, self-limiting: true, zone: cabin}
isolators:
  isolator: {outputs: 2, rating: 50 A, compensated: false, zone: cabin}
fuses:
  house-fuse: {rating: 15 A, form: blade regular, zone: cabin}
  start-fuse: {rating: 15 A, form: blade regular, zone: cabin}
runs:
  W1: {from: charger.1+, to: isolator.in, gauge: 10 AWG, colour: red, length: 6 in}
  W2: {from: isolator.1, to: house-fuse.out, gauge: 10 AWG, colour: red, length: 6 in}
  W3: {from: house.+, to: house-fuse.in, gauge: 10 AWG, colour: red, length: 6 in}
  W4: {from: isolator.2, to: start-fuse.out, gauge: 10 AWG, colour: red, length: 6 in}
  W5: {from: start.+, to: start-fuse.in, gauge: 10 AWG, colour: red, length: 6 in}
  W6: {from: charger.-, to: house.-, gauge: 10 AWG, colour: black, length: 1 ft}
  W7: {from: start.-, to: house.-, gauge: 8 AWG, colour: black, length: 1 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  start: {bank: start, chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
chargers:
  charger: {outputs: {1: {current: 10 A, voltage: 15 V, chemistry: agm}}, self-limiting: true, zone: cabin}
isolators:
  isolator: {outputs: 2, rating: 50 A, compensated: true, zone: cabin}
fuses:
  house-fuse: {rating: 15 A, form: blade regular, zone: cabin}
  start-fuse: {rating: 15 A, form: blade regular, zone: cabin}
runs:
  W1: {from: charger.1+, to: isolator.in, gauge: 10 AWG, colour: red, length: 6 in}
  W2: {from: isolator.1, to: house-fuse.out, gauge: 10 AWG, colour: red, length: 6 in}
  W3: {from: house.+, to: house-fuse.in, gauge: 10 AWG, colour: red, length: 6 in}
  W4: {from: isolator.2, to: start-fuse.out, gauge: 10 AWG, colour: red, length: 6 in}
  W5: {from: start.+, to: start-fuse.in, gauge: 10 AWG, colour: red, length: 6 in}
  W6: {from: charger.-, to: house.-, gauge: 10 AWG, colour: black, length: 1 ft}
  W7: {from: start.-, to: house.-, gauge: 8 AWG, colour: black, length: 1 ft}
",
    fix: "Lead the sense wire of the source to the battery, or fit an isolator of low drop.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let share = system.boat.policy.critical_drop_percent / 100.0;
    let mut last_told = None;
    for link in &system.links {
        let LinkKind::Diode { forward } = link.kind else {
            continue;
        };
        if last_told == Some(link.component) {
            continue;
        }
        last_told = Some(link.component);
        let component = &system.components[link.component.index()];
        let behind = facts.poles.voltage(system.node_of(link.b));
        let nominal = behind.map_or(system.boat.nominal, |(_, high)| high);
        let allowed = nominal * share;
        if forward <= allowed {
            continue;
        }
        let name = &component.name;
        let finding = match component.compensated {
            Some(given) if given.value => continue,
            Some(given) => rule
                .finding(
                    name,
                    format!(
                        "{name} takes {} from what charges through it, which does not sense behind it; {} are allowed",
                        told_volts(forward),
                        told_volts(allowed)
                    ),
                )
                .label(given.span.unwrap_or(component.span), "not compensated"),
            None => rule
                .not_proved(
                    name,
                    format!(
                        "{name} takes {} from what charges through it and does not say whether the source senses behind it",
                        told_volts(forward)
                    ),
                )
                .label(component.span, "compensated?"),
        };
        findings.push(
            finding
                .compared(
                    Figure::new("forward voltage", forward.0, "V"),
                    Figure::new("drop allowed", allowed.0, "V"),
                )
                .repair(format!(
                    "lead the sense wire of the charging source to the battery behind {name} and write `compensated: true`"
                )),
        );
    }
}
