//! A switch that opens the negative and leaves the load live.

use crate::analysis::Facts;
use crate::analysis::poles::Pole;
use crate::analysis::states::{Reached, across, conducts, ends};
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::rules::telling::listed;
use crate::standards::citations;
use crate::system::{
    ComponentKind, GearId, GearKind, LinkId, LinkKind, LoadId, LoadKind, NodeId, System,
};
use std::collections::{BTreeMap, VecDeque};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "RP607",
    name: "switch-only-in-negative",
    title: "A switch opens the negative only",
    severity: Severity::Warning,
    basis: &[citations::INSPECTED_GROUNDED_CONDUCTOR],
    checks: "A load whose negative passes a switch, and whose positive passes none but battery switches, stays live when it is switched off: a fault to the engine, the hull or wet wood then runs it, or feeds the bilge. A battery switch does not stand in the negative alone either. A switch that opens both poles passes, and so do senders, gauges and relay coils, which are switched in their negative by habit. The clause cited binds inspected vessels; elsewhere it is good practice.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
switches:
  fan-switch: {rating: 10 A, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, always-on: true, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: fan-switch.in, gauge: 14 AWG, colour: black, length: 1 ft}
  W4: {from: fan-switch.out, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
switches:
  fan-switch: {rating: 10 A, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, always-on: true, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan-switch.in, gauge: 14 AWG, colour: red, length: 5 ft}
  W3: {from: fan-switch.out, to: fan.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W4: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Move the switch into the positive, or use one that opens both poles.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let live = unswitched(system, Post::Positive);
    let returned = unswitched(system, Post::Negative);
    let mut loads_of: BTreeMap<GearId, Vec<LoadId>> = BTreeMap::new();
    // Loads on one net meet the same switches.
    let mut gears_of: BTreeMap<u32, Vec<GearId>> = BTreeMap::new();
    for (index, load) in system.loads.iter().enumerate() {
        let component = &system.components[load.component.index()];
        let by_habit = load.kind == LoadKind::Coil
            || matches!(
                component.kind,
                ComponentKind::Instrument | ComponentKind::Combiner
            );
        let id = LoadId::at(index);
        let (positive, negative) = ends(system, load.link);
        let returns = facts.returns.load(id).back == Reached::Somewhen;
        if by_habit || !returns || !live[positive.index()] || returned[negative.index()] {
            continue;
        }
        let gears = gears_of
            .entry(facts.nets.net(negative))
            .or_insert_with(|| nearest_gears(system, negative));
        for &gear in gears.iter() {
            loads_of.entry(gear).or_default().push(id);
        }
    }
    for (gear, loads) in loads_of {
        let gear = &system.gears[gear.index()];
        let names: Vec<&str> = loads
            .iter()
            .map(|load| system.loads[load.index()].name.as_str())
            .collect();
        let first = &system.loads[loads[0].index()];
        let component = &system.components[gear.component.index()];
        findings.push(
            rule.finding(
                &gear.name,
                format!(
                    "{} opens only the negative of {}, whose positive stays live",
                    gear.name,
                    listed(&names)
                ),
            )
            .label(component.span, "stands in the negative")
            .label(first.span, "stays live when it is switched off")
            .repair(format!(
                "move {} into the positive of {}, or use a switch that opens both poles",
                gear.name, first.name
            )),
        );
    }
    battery_switches(rule, facts, findings);
}

/// Battery switches with contacts in the negative and none in the positive.
fn battery_switches(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let mut negative = vec![false; system.gears.len()];
    let mut positive = vec![false; system.gears.len()];
    for (index, link) in system.links.iter().enumerate() {
        if let LinkKind::Contact { gear, .. } = link.kind {
            let (a, b) = ends(system, LinkId::at(index));
            let poles = [facts.poles.of(a), facts.poles.of(b)];
            negative[gear.index()] |= poles == [Pole::Negative; 2];
            positive[gear.index()] |= poles.contains(&Pole::Positive);
        }
    }
    for (index, gear) in system.gears.iter().enumerate() {
        if gear.kind != GearKind::BatterySwitch || !negative[index] || positive[index] {
            continue;
        }
        let component = &system.components[gear.component.index()];
        findings.push(
            rule.finding(
                &gear.name,
                format!(
                    "{} opens the negative only, so everything stays live with it off",
                    gear.name
                ),
            )
            .label(component.span, "stands in the negative")
            .repair(format!(
                "move {} into the positive, or use a switch that opens both poles",
                gear.name
            )),
        );
    }
}

/// Which posts of the sources a search begins at.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Post {
    Positive,
    Negative,
}

/// Whether a link passes current without a hand at a switch: battery switches and combiners count as closed.
fn passes(system: &System, link: LinkId) -> bool {
    match system.links[link.index()].kind {
        LinkKind::Contact { gear, .. } => matches!(
            system.gears[gear.index()].kind,
            GearKind::BatterySwitch | GearKind::Combiner
        ),
        _ => conducts(system, link),
    }
}

/// Nodes that a post of some source reaches without passing a switch of a circuit.
fn unswitched(system: &System, post: Post) -> Vec<bool> {
    let starts = system.sources.iter().map(|source| {
        let (a, b) = ends(system, source.link);
        if post == Post::Positive { a } else { b }
    });
    let mut reached = vec![false; system.nodes.len()];
    let mut queue: VecDeque<NodeId> = VecDeque::new();
    for node in starts {
        if !std::mem::replace(&mut reached[node.index()], true) {
            queue.push_back(node);
        }
    }
    while let Some(node) = queue.pop_front() {
        for &link in &system.nodes[node.index()].links {
            let other = across(system, link, node);
            if passes(system, link) && !std::mem::replace(&mut reached[other.index()], true) {
                queue.push_back(other);
            }
        }
    }
    reached
}

/// The switches that a negative meets first, in file order.
fn nearest_gears(system: &System, from: NodeId) -> Vec<GearId> {
    let mut gears = Vec::new();
    let mut reached = std::collections::BTreeSet::from([from]);
    let mut queue = VecDeque::from([from]);
    while let Some(node) = queue.pop_front() {
        for &link in &system.nodes[node.index()].links {
            if let LinkKind::Contact { gear, .. } = system.links[link.index()].kind
                && !passes(system, link)
            {
                gears.push(gear);
                continue;
            }
            let other = across(system, link, node);
            if passes(system, link) && reached.insert(other) {
                queue.push_back(other);
            }
        }
    }
    gears.sort_unstable();
    gears.dedup();
    gears
}
