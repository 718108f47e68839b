//! A motor and an instrument on one negative before the bus.

use crate::analysis::Facts;
use crate::analysis::states::ends;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::{citations, physical_resistance};
use crate::system::{
    Component, ComponentKind, ConductorId, LinkKind, Load, LoadId, LoadKind, NodeId,
};
use crate::units::{Rounding, amps};
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "RP612",
    name: "shared-negative",
    title: "An instrument shares its negative with a motor",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Gauges, senders and other electronics do not share a negative conductor with a motor before the bus, the battery or the engine block. The drop that the motor makes in the shared conductor lifts the negative of the instrument: needles move, screens restart, and if that one conductor opens the motor draws its current through the instrument. Feeders between buses are shared by nature and pass.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  gauge-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
  gauges: {draw: 0.5 A, kind: electronics, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W4: {from: house.+, to: gauge-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W5: {from: gauge-fuse.out, to: gauges.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W6: {from: gauges.-, to: fan.-, gauge: 14 AWG, colour: black, length: 1 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  gauge-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
  gauges: {draw: 0.5 A, kind: electronics, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W4: {from: house.+, to: gauge-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W5: {from: gauge-fuse.out, to: gauges.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W6: {from: gauges.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Run the negative of the instrument to the bus by itself.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let ways = &facts.returns.ways;
    // The first motor whose return passes each conductor.
    let mut motor_on: BTreeMap<ConductorId, LoadId> = BTreeMap::new();
    for (index, load) in system.loads.iter().enumerate() {
        if !matches!(load.kind, LoadKind::Motor | LoadKind::Starter) {
            continue;
        }
        let (_, mut at) = ends(system, load.link);
        while let Some((link, behind)) = ways.next(at) {
            if let LinkKind::Conductor(id) = system.links[link.index()].kind {
                if motor_on.contains_key(&id) {
                    break;
                }
                motor_on.insert(id, LoadId::at(index));
            }
            at = behind;
        }
    }
    // By node: the first conductor further on that a motor's return passes.
    let mut ahead: BTreeMap<NodeId, Option<ConductorId>> = BTreeMap::new();
    let mut last_told = None;
    for load in &system.loads {
        let component = &system.components[load.component.index()];
        if !is_sensitive(load, component) || last_told == Some(load.component) {
            continue;
        }
        let (_, negative) = ends(system, load.link);
        let Some(shared) = shared_ahead(facts, negative, &motor_on, &mut ahead) else {
            continue;
        };
        last_told = Some(load.component);
        let wire = &system.conductors[shared.index()];
        let motor = &system.loads[motor_on[&shared].index()];
        let drop =
            wire.gauge
                .zip(wire.length)
                .zip(motor.current())
                .map(|((gauge, length), current)| {
                    let warm = system.boat.policy.conductor_temperature;
                    current * (physical_resistance(gauge.value, warm).0 * length.value)
                });
        let current = motor.current().map_or_else(String::new, |current| {
            format!(" ({})", amps(current, Rounding::Up))
        });
        let lifts = drop.map_or_else(String::new, |drop| {
            format!(
                ", and lifts its negative by {:.0} mV",
                (drop.0 * 1000.0).ceil()
            )
        });
        let mut finding = rule.finding(
            &component.name,
            format!(
                "{} carries the return of {} and of the motor {}{current}{lifts}",
                wire.number, component.name, motor.name
            ),
        );
        finding.value = drop.map(|drop| Figure::new("drop in the shared negative", drop.0, "V"));
        findings.push(
            finding
                .label(load.span, "shares its negative")
                .label(wire.span, "the shared conductor")
                .repair(format!(
                    "run the negative of {} to the bus by itself",
                    component.name
                )),
        );
    }
}

/// Gauges, senders and electronics; not the standby current of a combiner.
fn is_sensitive(load: &Load, component: &Component) -> bool {
    match component.kind {
        ComponentKind::Instrument => true,
        ComponentKind::Load => load.kind == LoadKind::Electronics,
        _ => false,
    }
}

/// The first conductor on the way from a point to the bus that a motor's return passes too.
fn shared_ahead(
    facts: &Facts<'_>,
    from: NodeId,
    motor_on: &BTreeMap<ConductorId, LoadId>,
    ahead: &mut BTreeMap<NodeId, Option<ConductorId>>,
) -> Option<ConductorId> {
    let mut passed = Vec::new();
    let mut at = from;
    let found = loop {
        if let Some(&known) = ahead.get(&at) {
            break known;
        }
        passed.push(at);
        let Some((link, behind)) = facts.returns.ways.next(at) else {
            break None;
        };
        if let LinkKind::Conductor(id) = facts.system.links[link.index()].kind
            && motor_on.contains_key(&id)
        {
            break Some(id);
        }
        at = behind;
    };
    for node in passed {
        ahead.insert(node, found);
    }
    found
}
