//! Connectors of one shape that carry unlike voltages.

use super::common::told_volts;
use crate::analysis::Facts;
use crate::analysis::isolation::same_nominal;
use crate::analysis::states::ends;
use crate::diag::Figure;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::source::Span;
use crate::standards::citations;
use crate::system::Component;
use crate::units::Volts;
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL708",
    name: "shape-shared",
    title: "Connectors of one shape carry unlike voltages",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Connectors of one shape and keying carry one nominal voltage; 12 V and 12.8 V count as one. Two that can be mated by mistake put 36 V on 12 V gear. The voltage of a connector is the highest that its contacts are wired to, or that the loads behind it are made for. Connectors that give no shape are not compared.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
banks:
  bow: {purpose: bow, isolated: true}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  bow-battery: {bank: bow, voltage: 24 V, chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  bow-fuse: {rating: 5 A, form: blade regular, zone: cabin}
connectors:
  fan-plug: {cavities: 2, contact-rating: 20 A, shape: two-way flat, a: {contacts: sockets}, b: {contacts: pins}, zone: cabin}
  bow-plug: {cavities: 2, contact-rating: 20 A, shape: two-way flat, a: {contacts: sockets}, b: {contacts: pins}, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
  bow-motor: {draw: 2 A, kind: motor, drop: 10 %, voltage: 24 V, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan-plug.1a, gauge: 14 AWG, colour: red, length: 5 ft}
  W3: {from: fan-plug.1b, to: fan.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W4: {from: fan.-, to: fan-plug.2b, gauge: 14 AWG, colour: black, length: 1 ft}
  W5: {from: fan-plug.2a, to: house.-, gauge: 14 AWG, colour: black, length: 5 ft}
  M1: {from: bow-battery.+, to: bow-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  M2: {from: bow-fuse.out, to: bow-plug.1a, gauge: 14 AWG, colour: red, length: 5 ft}
  M3: {from: bow-plug.1b, to: bow-motor.+, gauge: 14 AWG, colour: red, length: 1 ft}
  M4: {from: bow-motor.-, to: bow-plug.2b, gauge: 14 AWG, colour: black, length: 1 ft}
  M5: {from: bow-plug.2a, to: bow-battery.-, gauge: 14 AWG, colour: black, length: 5 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
banks:
  bow: {purpose: bow, isolated: true}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  bow-battery: {bank: bow, voltage: 24 V, chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  bow-fuse: {rating: 5 A, form: blade regular, zone: cabin}
connectors:
  fan-plug: {cavities: 2, contact-rating: 20 A, shape: two-way flat, a: {contacts: sockets}, b: {contacts: pins}, zone: cabin}
  bow-plug: {cavities: 2, contact-rating: 20 A, shape: two-way round, a: {contacts: sockets}, b: {contacts: pins}, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
  bow-motor: {draw: 2 A, kind: motor, drop: 10 %, voltage: 24 V, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan-plug.1a, gauge: 14 AWG, colour: red, length: 5 ft}
  W3: {from: fan-plug.1b, to: fan.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W4: {from: fan.-, to: fan-plug.2b, gauge: 14 AWG, colour: black, length: 1 ft}
  W5: {from: fan-plug.2a, to: house.-, gauge: 14 AWG, colour: black, length: 5 ft}
  M1: {from: bow-battery.+, to: bow-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  M2: {from: bow-fuse.out, to: bow-plug.1a, gauge: 14 AWG, colour: red, length: 5 ft}
  M3: {from: bow-plug.1b, to: bow-motor.+, gauge: 14 AWG, colour: red, length: 1 ft}
  M4: {from: bow-motor.-, to: bow-plug.2b, gauge: 14 AWG, colour: black, length: 1 ft}
  M5: {from: bow-plug.2a, to: bow-battery.-, gauge: 14 AWG, colour: black, length: 5 ft}
",
    fix: "Fit a connector of another shape or keying on one of the voltages.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let mut made_for: BTreeMap<u32, Volts> = BTreeMap::new();
    for load in &system.loads {
        let (positive, _) = ends(system, load.link);
        let held = made_for
            .entry(facts.nets.net(positive))
            .or_insert(load.nominal.value);
        *held = held.max(load.nominal.value);
    }
    let mut shapes: BTreeMap<String, Vec<(&Component, Span, Volts)>> = BTreeMap::new();
    for component in &system.components {
        let shape = component
            .connector
            .as_ref()
            .and_then(|it| it.shape.as_ref());
        let (Some(shape), Some(volts)) = (shape, voltage(facts, component, &made_for)) else {
            continue;
        };
        let span = shape.span.unwrap_or(component.span);
        let key = shape.value.split_whitespace().collect::<Vec<_>>().join(" ");
        shapes
            .entry(key.to_lowercase())
            .or_default()
            .push((component, span, volts));
    }
    for (shape, connectors) in shapes {
        let Some(&(low, low_span, low_volts)) =
            connectors.iter().min_by(|a, b| a.2.total_cmp(&b.2))
        else {
            continue;
        };
        // One finding for each connector that the lowest must not be mated with.
        for &(high, high_span, high_volts) in &connectors {
            if same_nominal(low_volts, high_volts) {
                continue;
            }
            findings.push(
                rule.finding(
                    &high.name,
                    format!(
                        "{} carries {} and {} carries {}, and both are of the shape {shape}",
                        high.name,
                        told_volts(high_volts),
                        low.name,
                        told_volts(low_volts)
                    ),
                )
                .label(high_span, format!("{} here", told_volts(high_volts)))
                .label(low_span, format!("{} here", told_volts(low_volts)))
                .compared(
                    Figure::new("voltage of the one", high_volts.0, "V"),
                    Figure::new("voltage of the other", low_volts.0, "V"),
                )
                .repair(format!("fit {} in another shape or keying", high.name)),
            );
        }
    }
}

/// The highest nominal voltage that the contacts of a connector are wired to or feed.
fn voltage(
    facts: &Facts<'_>,
    component: &Component,
    made_for: &BTreeMap<u32, Volts>,
) -> Option<Volts> {
    let system = facts.system;
    component
        .terminals
        .iter()
        .map(|&terminal| system.node_of(terminal))
        .filter_map(|node| {
            let wired = facts.poles.voltage(node).map(|(_, high)| high);
            let fed = made_for.get(&facts.nets.net(node)).copied();
            wired.into_iter().chain(fed).max_by(Volts::total_cmp)
        })
        .filter(|volts| volts.0 > 0.0)
        .max_by(Volts::total_cmp)
}
