//! A breaker that closes again by itself, or that can be held closed on a fault.

use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{ComponentKind, DeviceKind};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "OC105",
    name: "not-reset-by-hand",
    title: "Breaker resets itself, or can be held closed on a fault",
    severity: Severity::Error,
    basis: &[citations::LAW_OVERCURRENT],
    checks: "Every breaker is reset by hand and trip-free: it opens on a fault even while its handle is held. One that closes again by itself heats the fault over and over; only a motor may have one inside it.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
breakers:
  fan-breaker: {rating: 5 A, reset: automatic, trip-free: true, voltage: 32 V, interrupting: 3000 A, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-breaker.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-breaker.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
breakers:
  fan-breaker: {rating: 5 A, reset: manual, trip-free: true, voltage: 32 V, interrupting: 3000 A, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-breaker.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-breaker.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Fit a manually reset, trip-free breaker or a fuse.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    for device in &facts.system.devices {
        let component = facts.system.components[device.component.index()].kind;
        let held = device.trip_free.filter(|given| !given.value);
        if device.kind == DeviceKind::SelfResetting {
            findings.push(
                rule.finding(
                    &device.name,
                    format!("{} closes again by itself after a trip", device.name),
                )
                .label(device.span, "resets itself")
                .repair("fit a breaker that is reset by hand, or a fuse"),
            );
        } else if let Some(held) = held {
            findings.push(
                rule.finding(
                    &device.name,
                    format!("{} can be held closed on a fault", device.name),
                )
                .label(held.span, "not trip-free")
                .repair("fit a trip-free breaker, or a fuse"),
            );
        } else if component == ComponentKind::Breaker && device.trip_free.is_none() {
            findings.push(
                rule.not_proved(
                    &device.name,
                    format!("whether {} is trip-free is not given", device.name),
                )
                .label(device.span, "`trip-free` is not given")
                .repair("look at its data sheet and write `trip-free: true`"),
            );
        }
    }
}
