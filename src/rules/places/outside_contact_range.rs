//! A conductor that a contact is not made for.

use super::common::size_span;
use crate::analysis::Facts;
use crate::diag::Figure;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::ConductorId;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL713",
    name: "outside-contact-range",
    title: "A conductor is too thick or too thin for the contact it is crimped in",
    severity: Severity::Error,
    basis: &[citations::BENCH_PRACTICE],
    checks: "The area of every conductor that lands in a connector lies in the range that its contacts take. A thin conductor pulls out, a thick one loses strands to fit. Nothing is said where the range or the size is not given.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
connectors:
  plug: {cavities: 2, contact-rating: 20 A, accepts: [20 AWG, 16 AWG], a: {contacts: sockets}, b: {contacts: pins}, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: plug.1a, gauge: 14 AWG, colour: red, length: 5 ft}
  W4: {from: plug.1b, to: fan.+, gauge: 14 AWG, colour: red, length: 1 ft}
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
connectors:
  plug: {cavities: 2, contact-rating: 20 A, accepts: [20 AWG, 14 AWG], a: {contacts: sockets}, b: {contacts: pins}, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: plug.1a, gauge: 14 AWG, colour: red, length: 5 ft}
  W4: {from: plug.1b, to: fan.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Use contacts that take the conductor, or a conductor that the contacts take.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for (index, conductor) in system.conductors.iter().enumerate() {
        let Some(gauge) = conductor.gauge else {
            continue;
        };
        let mut last_told = None;
        for end in [conductor.from, conductor.to] {
            let component = system.component_of(end);
            let accepts = component.connector.as_ref().and_then(|it| it.accepts);
            let Some((thinnest, thickest)) = accepts else {
                continue;
            };
            let (limit, how) = if gauge.value.by_area(&thinnest.value).is_lt() {
                (thinnest, "too thin")
            } else if gauge.value.by_area(&thickest.value).is_gt() {
                (thickest, "too thick")
            } else {
                continue;
            };
            if last_told.replace(&component.name) == Some(&component.name) {
                continue;
            }
            let contact = system.terminal_name(end);
            findings.push(
                rule.finding(
                    &conductor.number,
                    format!(
                        "{} is {} and {how} for {contact}, which takes {} to {}",
                        conductor.number, gauge.value, thinnest.value, thickest.value
                    ),
                )
                .label(size_span(facts, ConductorId::at(index)), how)
                .label(
                    limit.span.unwrap_or(component.span),
                    "what its contacts take",
                )
                .compared(
                    Figure::new("area of the conductor", gauge.value.area().0, "mm²"),
                    Figure::new("limit of the contact", limit.value.area().0, "mm²"),
                )
                .repair(format!(
                    "use contacts that take {}, or make {} {} in {}",
                    gauge.value, conductor.number, limit.value, component.name
                )),
            );
        }
    }
}
