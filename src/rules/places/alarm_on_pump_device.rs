//! The alarm dies with the pump that it watches.

use super::common::loads_of;
use crate::analysis::Facts;
use crate::analysis::states::ends;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{LoadId, Service};
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL717",
    name: "alarm-on-pump-device",
    title: "An alarm lies behind the device of a bilge pump",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "An alarm does not lie on the branch of a bilge pump, behind the same last fuse or breaker: when the pump stalls and opens its device, the alarm that should tell of it is dead. Devices further up may be shared.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  pump-fuse: {rating: 7.5 A, form: blade regular, zone: cabin}
loads:
  pump: {draw: 3 A, kind: motor, service: bilge-pump, always-on: true, zone: cabin}
  high-water: {draw: 10 mA, kind: horn, service: alarm, always-on: true, zone: cabin}
runs:
  W1: {from: house.+, to: pump-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: pump-fuse.out, to: pump.+, gauge: 14 AWG, colour: brown, length: 5 ft}
  W3: {from: pump.-, to: house.-, gauge: 14 AWG, colour: black, length: 5 ft}
  W5: {from: pump-fuse.out, to: high-water.+, gauge: 14 AWG, colour: brown, length: 5 ft}
  W6: {from: high-water.-, to: house.-, gauge: 14 AWG, colour: black, length: 5 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  pump-fuse: {rating: 7.5 A, form: blade regular, zone: cabin}
  alarm-fuse: {rating: 3 A, form: blade regular, zone: cabin}
loads:
  pump: {draw: 3 A, kind: motor, service: bilge-pump, always-on: true, zone: cabin}
  high-water: {draw: 10 mA, kind: horn, service: alarm, always-on: true, zone: cabin}
runs:
  W1: {from: house.+, to: pump-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: pump-fuse.out, to: pump.+, gauge: 14 AWG, colour: brown, length: 5 ft}
  W3: {from: pump.-, to: house.-, gauge: 14 AWG, colour: black, length: 5 ft}
  W4: {from: house.+, to: alarm-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W5: {from: alarm-fuse.out, to: high-water.+, gauge: 14 AWG, colour: brown, length: 5 ft}
  W6: {from: high-water.-, to: house.-, gauge: 14 AWG, colour: black, length: 5 ft}
",
    fix: "Feed the alarm from a fused way of its own.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let mut pump_on: BTreeMap<u32, LoadId> = BTreeMap::new();
    for pump in loads_of(facts, Service::BilgePump) {
        let (positive, _) = ends(system, system.loads[pump.index()].link);
        pump_on.entry(facts.branches.of(positive)).or_insert(pump);
    }
    for alarm in loads_of(facts, Service::Alarm) {
        let alarm = &system.loads[alarm.index()];
        let (positive, _) = ends(system, alarm.link);
        let branch = facts.branches.of(positive);
        let (Some(pump), Some(device)) =
            (pump_on.get(&branch), facts.branches.devices(branch).first())
        else {
            continue;
        };
        let pump = &system.loads[pump.index()];
        let device = &system.devices[device.index()];
        findings.push(
            rule.finding(
                &alarm.name,
                format!(
                    "{} goes dead with {}, the device of the bilge pump {}",
                    alarm.name, device.name, pump.name
                ),
            )
            .label(alarm.span, "the alarm")
            .label(device.span, "one device for both")
            .repair(format!("feed {} from a fused way of its own", alarm.name)),
        );
    }
}
