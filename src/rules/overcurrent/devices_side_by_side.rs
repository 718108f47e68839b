//! One stretch of circuit fed through two devices at once.

use super::super::telling::{listed, rating, shown, with_positions};
use crate::analysis::Facts;
use crate::analysis::states::{Answer, Constraints, Reach, affordable, conducts, ends, walk};
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{DeviceId, GearKind, LinkId, LinkKind, NodeId, System};
use crate::units::Amps;
use petgraph::unionfind::UnionFind;
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "OC111",
    name: "devices-side-by-side",
    title: "Two devices feed one stretch of circuit side by side",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "In no combination of positions do two overcurrent devices that are fed from one point also meet on their load side: their ratings then add up, and pulling one of them leaves the stretch live. A pump that is fed by hand and by its float, or a load that must stay live, has two feeds on purpose; whether its joint feeds the panel back is asked by another rule. Devices at the head of twin cables that each have one at their far end too are not meant.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  main-fuse: {rating: 20 A, form: blade regular, zone: cabin}
fuse-blocks:
  block: {feed-rating: 30 A, form: blade regular, ways: {1: 5 A, 2: 5 A, 3: spare}, zone: cabin}
splices:
  joint: {kind: butt, sealed: true, zone: cabin}
loads:
  fan: {draw: 2 A, kind: heater, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 10 AWG, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: block.feed, gauge: 10 AWG, colour: red, length: 1 ft}
  W3: {from: block.1, to: joint, gauge: 14 AWG, colour: red, length: 1 ft}
  W4: {from: block.2, to: joint, gauge: 14 AWG, colour: red, length: 1 ft}
  W5: {from: joint, to: fan.+, gauge: 14 AWG, colour: red, length: 2 ft}
  W6: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 3 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  main-fuse: {rating: 20 A, form: blade regular, zone: cabin}
fuse-blocks:
  block: {feed-rating: 30 A, form: blade regular, ways: {1: 5 A, 2: 5 A, 3: spare}, zone: cabin}
splices:
  joint: {kind: butt, sealed: true, zone: cabin}
loads:
  fan: {draw: 2 A, kind: heater, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 10 AWG, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: block.feed, gauge: 10 AWG, colour: red, length: 1 ft}
  W3: {from: block.1, to: joint, gauge: 14 AWG, colour: red, length: 1 ft}
  W5: {from: joint, to: fan.+, gauge: 14 AWG, colour: red, length: 2 ft}
  W6: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 3 ft}
",
    fix: "Feed the stretch through one device.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let gate = |link: LinkId| {
        let (a, b) = ends(system, link);
        let is_device = matches!(system.links[link.index()].kind, LinkKind::Device(_));
        (!is_device && !facts.nets.is_negative(a) && !facts.nets.is_negative(b))
            .then_some(f64::INFINITY)
    };
    // With every contact closed: only devices that then lie between the same two stretches are looked at further.
    let mut merged = UnionFind::<u32>::new(system.nodes.len());
    for index in 0..system.links.len() {
        let link = LinkId::at(index);
        if conducts(system, link) && gate(link).is_some() {
            let (a, b) = ends(system, link);
            merged.union(a.0, b.0);
        }
    }
    let mut groups: BTreeMap<(u32, u32), Vec<DeviceId>> = BTreeMap::new();
    for (index, device) in system.devices.iter().enumerate() {
        let (a, b) = ends(system, device.link);
        let key = (merged.find(a.0), merged.find(b.0));
        if conducts(system, device.link) && key.0 != key.1 && !facts.nets.is_negative(a) {
            groups.entry(key).or_default().push(DeviceId::at(index));
        }
    }
    groups.retain(|_, devices| devices.len() > 1);
    if groups.is_empty() {
        return;
    }
    let reach = Reach::new(system, &Constraints::none(system), gate);
    for devices in groups.values().take(affordable(system)) {
        findings.extend(judge(rule, facts, &reach, devices, gate));
    }
}

fn judge(
    rule: &Rule,
    facts: &Facts<'_>,
    reach: &Reach<'_>,
    devices: &[DeviceId],
    gate: impl Fn(LinkId) -> Option<f64>,
) -> Option<Diagnostic> {
    let system = facts.system;
    let nodes = |id: DeviceId| ends(system, system.devices[id.index()].link);
    let first = devices[0];
    let (inside, outside) = nodes(first);
    let spread = reach.spread(&[outside]);
    for &other in &devices[1..] {
        let (other_inside, other_outside) = nodes(other);
        let Answer::Yes(witness) = spread.answer(other_outside) else {
            continue;
        };
        let pass = |link: LinkId| gate(link).is_some();
        let fed = walk(system, &witness.state, &[inside], pass);
        let stretch = walk(system, &witness.state, &[outside], pass);
        if !fed.reaches(other_inside) || is_meant(system, |node| stretch.reaches(node)) {
            continue;
        }
        let names = [first, other].map(|id| system.devices[id.index()].name.as_str());
        let together: Option<Amps> = [first, other]
            .iter()
            .map(|id| system.devices[id.index()].rating.map(|given| given.value))
            .sum();
        let sum = together.map_or_else(String::new, |sum| {
            format!("; together they let {} pass", rating(sum))
        });
        let finding = rule
            .finding(
                names[1],
                format!(
                    "{} feed one stretch of circuit side by side{}{sum}",
                    listed(&names),
                    with_positions(system, &witness.off_normal)
                ),
            )
            .and_also(names)
            .label(system.devices[other.index()].span, "this one")
            .label(system.devices[first.index()].span, "and this one")
            .repair(format!(
                "take what {} feeds off one of the two",
                listed(&names)
            ));
        return Some(shown(
            finding,
            system,
            &witness.off_normal,
            names[0],
            &witness.path,
        ));
    }
    None
}

/// Whether a stretch holds a load with two feeds on purpose: one that must stay live, or one with a float.
fn is_meant(system: &System, holds: impl Fn(NodeId) -> bool) -> bool {
    let stays = system.loads.iter().any(|load| {
        load.always_on.is_some_and(|given| given.value) && holds(ends(system, load.link).0)
    });
    stays
        || system.links.iter().enumerate().any(|(index, link)| {
            let LinkKind::Contact { gear, .. } = link.kind else {
                return false;
            };
            let (a, b) = ends(system, LinkId::at(index));
            system.gears[gear.index()].kind == GearKind::Float && (holds(a) || holds(b))
        })
}
