//! Several conductors on one way of a block.

use super::super::telling::wires;
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{ComponentId, ComponentKind, ConductorId, Service, System, TerminalId};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL712",
    name: "way-shared",
    title: "Several conductors leave one way of a block",
    severity: Severity::Note,
    basis: &[citations::COMMON_PRACTICE],
    checks: "One conductor leaves each way of a fuse block or panel. Two circuits on one way share its device, and one of them is missing from the chart on the lid. Navigation lights that belong together, such as both sidelights, may share one, and so may conductors to one and the same part.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  main-fuse: {rating: 10 A, form: blade regular, zone: cabin}
fuse-blocks:
  block: {feed-rating: 30 A, form: blade regular, ways: {1: 5 A, 2: spare, 3: spare}, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
  lamp: {draw: 1 A, kind: lamp, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: block.feed, gauge: 12 AWG, colour: red, length: 1 ft}
  W3: {from: block.1, to: fan.+, gauge: 14 AWG, colour: red, length: 5 ft}
  W4: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W5: {from: block.1, to: lamp.+, gauge: 14 AWG, colour: red, length: 5 ft}
  W6: {from: lamp.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  main-fuse: {rating: 10 A, form: blade regular, zone: cabin}
fuse-blocks:
  block: {feed-rating: 30 A, form: blade regular, ways: {1: 5 A, 2: 5 A, 3: spare}, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
  lamp: {draw: 1 A, kind: lamp, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: block.feed, gauge: 12 AWG, colour: red, length: 1 ft}
  W3: {from: block.1, to: fan.+, gauge: 14 AWG, colour: red, length: 5 ft}
  W4: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W5: {from: block.2, to: lamp.+, gauge: 14 AWG, colour: red, length: 5 ft}
  W6: {from: lamp.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Give each circuit a way of its own.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for device in &system.devices {
        let component = &system.components[device.component.index()];
        let out = system.links[device.link.index()].b;
        let landed = &facts.returns.landings.on(out).conductors;
        if component.kind != ComponentKind::FuseBlock
            || landed.len() < 2
            || belong_together(system, out, landed)
        {
            continue;
        }
        let last = &system.conductors[landed[landed.len() - 1].index()];
        findings.push(
            rule.finding(
                &device.name,
                format!("{} leave {}", wires(system, landed), device.name),
            )
            .label(device.span, "one way")
            .label(last.span, "one of its conductors")
            .repair(format!("move {} to a way of its own", last.number)),
        );
    }
}

/// Whether all conductors of a way lead straight to navigation lights, or all to one part.
fn belong_together(system: &System, way: TerminalId, landed: &[ConductorId]) -> bool {
    let parts: Vec<ComponentId> = landed
        .iter()
        .map(|id| &system.conductors[id.index()])
        .map(|conductor| {
            if conductor.from == way {
                conductor.to
            } else {
                conductor.from
            }
        })
        .map(|far| system.terminals[far.index()].component)
        .collect();
    let is_light = |part: &ComponentId| {
        system
            .loads
            .iter()
            .any(|load| load.component == *part && load.service == Service::NavigationLight)
    };
    parts.iter().all(is_light) || parts.windows(2).all(|pair| pair[0] == pair[1])
}
