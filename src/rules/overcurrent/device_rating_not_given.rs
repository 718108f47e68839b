//! A device without a rating: nothing behind it can be proved.

use crate::analysis::Facts;
use crate::analysis::states::ends;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "OC108",
    name: "device-rating-not-given",
    title: "Rating of an overcurrent device is not given",
    severity: Severity::NotProved,
    basis: &[citations::LAW_OVERCURRENT],
    checks: "Every fuse, breaker and way has a rating, unless the way is spare. What a device without a rating protects is not proved: no finding about the conductors behind it can be trusted until the rating is known.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {form: blade regular, zone: cabin}
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
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Read the rating off the device and write it down, or write `auto` to have it chosen.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for device in &system.devices {
        let (a, _) = ends(system, device.link);
        if device.rating.is_some() || device.spare || facts.nets.is_negative(a) {
            continue;
        }
        findings.push(
            rule.not_proved(
                &device.name,
                format!(
                    "the rating of {} is not given, so what it protects is not proved",
                    device.name
                ),
            )
            .label(device.span, "no rating")
            .repair(format!(
                "read the rating off {} and write it, or write `auto` to have it chosen",
                device.name
            )),
        );
    }
}
