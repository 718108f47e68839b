//! A device that opens the negative and leaves the load live.

use crate::analysis::Facts;
use crate::analysis::states::ends;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "OC104",
    name: "device-in-negative",
    title: "Overcurrent device stands in the negative",
    severity: Severity::Warning,
    basis: &[citations::INSPECTED_GROUNDED_CONDUCTOR],
    checks: "No fuse or breaker has both its ends on the negative of a system. When it opens, the circuit is dead by its look and live by its positive, and a fault to the engine or hull passes it by. Isolated posts inside a series string are no negative. The clause cited binds inspected vessels; elsewhere it is good practice.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  return-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: return-fuse.in, gauge: 14 AWG, colour: black, length: 6 ft}
  W4: {from: return-fuse.out, to: house.-, gauge: 14 AWG, colour: black, length: 6 in}
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
    fix: "Take the device out of the negative and fit it in the positive.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for device in system.devices.iter().filter(|device| !device.spare) {
        let (a, b) = ends(system, device.link);
        if a == b || !facts.nets.is_negative(a) || !facts.nets.is_negative(b) {
            continue;
        }
        findings.push(
            rule.finding(
                &device.name,
                format!(
                    "{} stands in the negative: when it opens, what it feeds stays live",
                    device.name
                ),
            )
            .label(device.span, "both ends are on the negative")
            .repair(format!(
                "join the conductors at {} and fit the device in the positive",
                device.name
            )),
        );
    }
}
