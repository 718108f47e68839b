//! A load or a charging source whose current the shunt does not see.

use crate::analysis::Facts;
use crate::analysis::poles::Pole;
use crate::analysis::states::{conducts, ends};
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::source::Span;
use crate::standards::citations;
use crate::system::{Component, ComponentKind, LinkId, LinkKind, NodeId, SourceKind, System};
use petgraph::unionfind::UnionFind;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "RP613",
    name: "shunt-bypassed",
    title: "A return bypasses the shunt",
    severity: Severity::Note,
    basis: &[citations::COMMON_PRACTICE],
    checks: "With a shunt in the negative, loads and charging sources return to its system side, so that the monitor counts them. What returns to the battery side is not counted. Loads that must stay live, such as bilge pumps, may be left out on purpose and are not told.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
buses:
  negative: {polarity: negative, studs: 4, rating: 50 A, zone: cabin}
shunts:
  shunt: {rating: 100 A, voltage: 50 mV, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
  lamp: {draw: 10 W, kind: lamp, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W4: {from: fan.+, to: lamp.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W5: {from: lamp.-, to: negative, gauge: 14 AWG, colour: black, length: 6 ft}
  W6: {from: negative, to: shunt.system, gauge: 8 AWG, colour: black, length: 1 ft}
  W7: {from: shunt.battery, to: house.-, gauge: 8 AWG, colour: black, length: 1 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
buses:
  negative: {polarity: negative, studs: 4, rating: 50 A, zone: cabin}
shunts:
  shunt: {rating: 100 A, voltage: 50 mV, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
  lamp: {draw: 10 W, kind: lamp, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: negative, gauge: 14 AWG, colour: black, length: 6 ft}
  W4: {from: fan.+, to: lamp.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W5: {from: lamp.-, to: negative, gauge: 14 AWG, colour: black, length: 6 ft}
  W6: {from: negative, to: shunt.system, gauge: 8 AWG, colour: black, length: 1 ft}
  W7: {from: shunt.battery, to: house.-, gauge: 8 AWG, colour: black, length: 1 ft}
",
    fix: "Move the return to the system side of the shunt.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let shunts = || {
        system
            .components
            .iter()
            .filter(|component| component.kind == ComponentKind::Shunt)
    };
    if shunts().next().is_none() {
        return;
    }
    let net = without_shunts(system);
    for shunt in shunts() {
        let [battery, behind, ..] = shunt.terminals[..] else {
            continue;
        };
        let (battery, behind) = (system.node_of(battery), system.node_of(behind));
        if facts.poles.of(battery) != Pole::Negative {
            continue;
        }
        if net(battery) == net(behind) {
            findings.push(
                rule.finding(
                    &shunt.name,
                    format!("conductors beside {} carry part of its current", shunt.name),
                )
                .label(shunt.span, "both its sides are joined without it")
                .repair(format!(
                    "leave {} the only way between its two sides",
                    shunt.name
                )),
            );
            continue;
        }
        let bypasses = |node| net(node) == net(battery);
        let mut last_told = None;
        for load in &system.loads {
            let (_, negative) = ends(system, load.link);
            let on_purpose = load.always_on.is_some_and(|given| given.value);
            if on_purpose || last_told == Some(load.component) || !bypasses(negative) {
                continue;
            }
            last_told = Some(load.component);
            let part = &system.components[load.component.index()];
            findings.push(told(rule, facts, shunt, part, load.span, load.link));
        }
        for source in &system.sources {
            let (_, negative) = ends(system, source.link);
            if source.kind != SourceKind::Battery && bypasses(negative) {
                let part = &system.components[source.component.index()];
                findings.push(told(rule, facts, shunt, part, source.span, source.link));
            }
        }
    }
}

fn told(
    rule: &Rule,
    facts: &Facts<'_>,
    shunt: &Component,
    part: &Component,
    span: Span,
    link: LinkId,
) -> Diagnostic {
    let system = facts.system;
    let negative = system.links[link.index()].b;
    let landed = facts.returns.landings.on(negative).conductors.first();
    let span = landed.map_or(span, |id| system.conductors[id.index()].span);
    rule.finding(
        &part.name,
        format!(
            "{} returns to the battery side of {}, which does not count it",
            part.name, shunt.name
        ),
    )
    .label(span, "returns to the battery side")
    .label(shunt.span, "the shunt")
    .repair(format!(
        "move the return of {} to the system side of {}",
        part.name, shunt.name
    ))
}

/// The net of every node with the shunts taken out and the switches open.
fn without_shunts(system: &System) -> impl Fn(NodeId) -> u32 {
    let mut merged = UnionFind::<u32>::new(system.nodes.len());
    for (index, link) in system.links.iter().enumerate() {
        let id = LinkId::at(index);
        let inside = system.components[link.component.index()].kind == ComponentKind::Shunt
            && link.kind == LinkKind::Joint;
        let switched = matches!(link.kind, LinkKind::Contact { .. } | LinkKind::Diode { .. });
        if !inside && !switched && conducts(system, id) {
            let (a, b) = ends(system, id);
            merged.union(a.0, b.0);
        }
    }
    move |node| merged.find(node.0)
}
