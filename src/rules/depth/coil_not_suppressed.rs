//! A coil that throws its spike at the electronics beside it.

use super::super::telling::listed;
use super::nearest_devices;
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{DeviceId, GearId, LoadId, LoadKind, Service};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "DP809",
    name: "coil-not-suppressed",
    title: "Coil without suppression shares its device with electronics",
    severity: Severity::Note,
    basis: &[citations::COMMON_PRACTICE],
    checks: "The coil of a relay has a diode or a resistor across it where it shares its overcurrent device with electronic equipment. The energy of a coil that is switched off comes back as a spike of hundreds of volts.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  helm-fuse: {rating: 7.5 A, form: blade regular, zone: cabin}
  pump-fuse: {rating: 15 A, form: blade regular, zone: cabin}
switches:
  pump-switch: {rating: 5 A, zone: cabin}
relays:
  pump-relay: {contacts: make, rating: 30 A, coil-draw: 0.2 A, zone: cabin}
loads:
  plotter: {draw: 2 A, kind: electronics, service: electronics, zone: cabin}
  pump: {draw: 8 A, kind: motor, drop: 10 %, zone: cabin}
buses:
  negative: {polarity: negative, studs: 6, rating: 100 A, zone: cabin}
runs:
  W1: {from: house.+, to: helm-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: helm-fuse.out, to: plotter.+, gauge: 14 AWG, colour: red, length: 2 ft}
  W3: {from: helm-fuse.out, to: pump-switch.in, gauge: 14 AWG, colour: red, length: 2 ft}
  W4: {from: pump-switch.out, to: pump-relay.coil+, gauge: 14 AWG, colour: red, length: 2 ft}
  W5: {from: pump-relay.coil-, to: negative, gauge: 14 AWG, colour: black, length: 2 ft}
  W6: {from: house.+, to: pump-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W7: {from: pump-fuse.out, to: pump-relay.com, gauge: 12 AWG, colour: red, length: 2 ft}
  W8: {from: pump-relay.no, to: pump.+, gauge: 12 AWG, colour: red, length: 4 ft}
  W9: {from: pump.-, to: negative, gauge: 12 AWG, colour: black, length: 4 ft}
  W10: {from: plotter.-, to: negative, gauge: 14 AWG, colour: black, length: 2 ft}
  W11: {from: negative, to: house.-, gauge: 8 AWG, colour: black, length: 1 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  helm-fuse: {rating: 7.5 A, form: blade regular, zone: cabin}
  pump-fuse: {rating: 15 A, form: blade regular, zone: cabin}
switches:
  pump-switch: {rating: 5 A, zone: cabin}
relays:
  pump-relay: {contacts: make, rating: 30 A, coil-draw: 0.2 A, suppressed: true, zone: cabin}
loads:
  plotter: {draw: 2 A, kind: electronics, service: electronics, zone: cabin}
  pump: {draw: 8 A, kind: motor, drop: 10 %, zone: cabin}
buses:
  negative: {polarity: negative, studs: 6, rating: 100 A, zone: cabin}
runs:
  W1: {from: house.+, to: helm-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: helm-fuse.out, to: plotter.+, gauge: 14 AWG, colour: red, length: 2 ft}
  W3: {from: helm-fuse.out, to: pump-switch.in, gauge: 14 AWG, colour: red, length: 2 ft}
  W4: {from: pump-switch.out, to: pump-relay.coil+, gauge: 14 AWG, colour: red, length: 2 ft}
  W5: {from: pump-relay.coil-, to: negative, gauge: 14 AWG, colour: black, length: 2 ft}
  W6: {from: house.+, to: pump-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W7: {from: pump-fuse.out, to: pump-relay.com, gauge: 12 AWG, colour: red, length: 2 ft}
  W8: {from: pump-relay.no, to: pump.+, gauge: 12 AWG, colour: red, length: 4 ft}
  W9: {from: pump.-, to: negative, gauge: 12 AWG, colour: black, length: 4 ft}
  W10: {from: plotter.-, to: negative, gauge: 14 AWG, colour: black, length: 2 ft}
  W11: {from: negative, to: house.-, gauge: 8 AWG, colour: black, length: 1 ft}
",
    fix: "Use a relay with a diode or a resistor across its coil, or feed the coil from a device of its own.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let mut electronics: Vec<(DeviceId, LoadId)> = Vec::new();
    let coils: Vec<(GearId, LoadId)> = system
        .gears
        .iter()
        .enumerate()
        .filter(|(_, gear)| !gear.suppressed.is_some_and(|given| given.value))
        .filter_map(|(index, gear)| Some((GearId::at(index), gear.coil?)))
        .collect();
    if coils.is_empty() {
        return;
    }
    for (index, load) in system.loads.iter().enumerate() {
        if load.kind == LoadKind::Electronics || load.service == Service::Electronics {
            let id = LoadId::at(index);
            electronics.extend(
                nearest_devices(facts, id)
                    .into_iter()
                    .map(|device| (device, id)),
            );
        }
    }
    for (gear, coil) in coils {
        for device in nearest_devices(facts, coil) {
            let beside: Vec<&str> = electronics
                .iter()
                .filter(|(shared, _)| *shared == device)
                .map(|(_, load)| system.loads[load.index()].name.as_str())
                .collect();
            if beside.is_empty() {
                continue;
            }
            let gear = &system.gears[gear.index()];
            let device = &system.devices[device.index()];
            let words = if gear.suppressed.is_some() {
                "has no suppression"
            } else {
                "does not say whether it is suppressed"
            };
            findings.push(
                rule.finding(
                    &gear.name,
                    format!(
                        "the coil of {} {words}; it shares {} with {}",
                        gear.name,
                        device.name,
                        listed(&beside)
                    ),
                )
                .label(
                    gear.suppressed
                        .and_then(|given| given.span)
                        .or(Some(system.components[gear.component.index()].span)),
                    "no suppression given",
                )
                .label(Some(device.span), "shared with electronics")
                .repair(format!(
                    "use a relay with a diode or a resistor across its coil as {}, and write `suppressed: true`",
                    gear.name
                )),
            );
        }
    }
}
