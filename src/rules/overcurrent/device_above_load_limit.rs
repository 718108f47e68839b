//! A load behind a device larger than its maker allows.

use super::super::telling::rating;
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::LoadId;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "OC107",
    name: "device-above-load-limit",
    title: "Device is larger than the maker of the load allows",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "The largest device that stands between a load and any source, over all combinations of switch positions, is not above the largest fuse that the maker of the load allows. A fuse protects the wire; only the maker knows what protects the load, above all a motor that is held.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 15 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, largest-fuse: 5 A, zone: cabin}
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
  fan: {draw: 2 A, kind: motor, drop: 10 %, largest-fuse: 5 A, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Fit a device no larger than the maker of the load allows.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for (index, load) in system.loads.iter().enumerate() {
        let Some(largest) = load.largest_fuse else {
            continue;
        };
        let Some(limiting) = facts.protection.load(LoadId::at(index)) else {
            continue;
        };
        if limiting.rating <= largest.value {
            continue;
        }
        let device = limiting.device.map(|id| &system.devices[id.index()]);
        let name = device.map_or("the device built into its source", |device| {
            device.name.as_str()
        });
        findings.push(
            rule.finding(
                &load.name,
                format!(
                    "{name} is rated {}; the maker of {} allows at most {}",
                    rating(limiting.rating),
                    load.name,
                    rating(largest.value)
                ),
            )
            .label(
                device.and_then(|device| device.rating.map_or(Some(device.span), |it| it.span)),
                "rated here",
            )
            .label(largest.span, "largest fuse its maker allows")
            .compared(
                Figure::new("device rating", limiting.rating.0, "A"),
                Figure::new("largest rating allowed", largest.value.0, "A"),
            )
            .repair(format!("fit {} in {name}", rating(largest.value))),
        );
    }
}
