//! A device that stands too far along the conductor from what feeds it.

use super::super::telling::{along, length, shown, with_positions};
use super::unprotected_conductor::repair;
use crate::analysis::Facts;
use crate::analysis::protection::{Fault, Kind};
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use std::fmt::Write;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "OC102",
    name: "device-too-far",
    title: "Overcurrent device stands too far from its source",
    severity: Severity::Error,
    basis: &[citations::LAW_PLACEMENT],
    checks: "Along the conductors from the source of power, or from the bus, switch stud or protected conductor that feeds it, to the far end of each conductor whose device stands beyond it: at most 7 in, 40 in where it is sheathed or enclosed the whole way, 72 in from a battery, without passing a bus. What lies before the device is protected by nothing, so it must be short.",
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
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 7 ft}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 1 ft}
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
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 7 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Move the device towards the source until the conductor before it is within the limit.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    for fault in facts.protection.faults() {
        match fault.kind {
            Kind::TooFar { device } => {
                let device = &facts.system.devices[device.index()];
                findings.push(too_far(rule, facts, fault, &device.name));
            }
            Kind::LengthNotGiven => findings.push(no_length(rule, facts, fault)),
            _ => {}
        }
    }
}

fn too_far(rule: &Rule, facts: &Facts<'_>, fault: &Fault, device: &str) -> Diagnostic {
    let system = facts.system;
    let conductor = &system.conductors[fault.conductor.index()];
    let source = &system.sources[fault.pole.source.index()];
    let post = system.terminal_name(fault.pole.terminal);
    let mut message = format!(
        "{device} is the first device in {} from {post}",
        conductor.number
    );
    message.push_str(&with_positions(system, &fault.positions));
    let mut finding = rule.finding(&conductor.number, String::new());
    if fault.length.known.0.is_finite() {
        let _ = write!(
            message,
            "; {}{} of conductor lie before it, the limit is {}",
            if fault.length.incomplete {
                "more than "
            } else {
                ""
            },
            length(system, fault.length.known),
            length(system, fault.limit.max)
        );
        finding = finding.compared(
            Figure::new("unprotected length", fault.length.known.0, "m"),
            Figure::new("greatest unprotected length", fault.limit.max.0, "m"),
        );
    } else {
        message.push_str("; a bus lies between");
    }
    finding.message = message;
    finding = finding
        .label(conductor.span, "unprotected up to its device")
        .label(source.span, "can feed it");
    shown(finding, system, &fault.positions, &post, &fault.path)
        .on_basis([fault.limit.basis])
        .repair(format!(
            "move {device} towards {}, or {}",
            system.terminal_name(fault.end),
            repair(facts, fault)
        ))
}

fn no_length(rule: &Rule, facts: &Facts<'_>, fault: &Fault) -> Diagnostic {
    let system = facts.system;
    let conductor = &system.conductors[fault.conductor.index()];
    let post = system.terminal_name(fault.pole.terminal);
    rule.not_proved(
        &conductor.number,
        format!(
            "how far the device of {} stands from {post} is not known, because a length is not given; the limit is {}",
            conductor.number,
            length(system, fault.limit.max)
        ),
    )
    .label(
        conductor.span,
        if conductor.length.is_none() {
            "its length is not given"
        } else {
            "fed through a conductor without a length"
        },
    )
    .on_basis([fault.limit.basis])
    .along(along(system, &post, &fault.path))
    .repair("measure it and write its `length`")
}
