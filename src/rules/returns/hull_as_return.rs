//! Hull, engine block or bonding that carries the return of a load.

use crate::analysis::Facts;
use crate::analysis::poles::Pole;
use crate::analysis::states::ends;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::source::Span;
use crate::standards::{Basis, Confidence, citations};
use crate::system::{
    Component, ComponentKind, GroundKind, LinkKind, LoadId, LoadKind, NodeId, Polarity, Service,
    SourceKind,
};

/// The hull is no conductor, and the engine block only for its own gear.
const ISO_HULL: Basis = Basis::clause("ISO 10133", "2012", "checklist 1-3", Confidence::Secondary);

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "RP608",
    name: "hull-as-return",
    title: "Hull, engine block or bonding carries a return",
    severity: Severity::Error,
    basis: &[ISO_HULL, citations::COMMON_PRACTICE],
    checks: "No load returns through hull, bonding or engine block alone: its own negative reaches a bus or a battery post without them. The engine block carries its own gear: cranking motors, alternators, senders, loads that serve the engine, and relay coils in its zone. A bus of negatives does not hang on hull or bonding alone. A bond that no load current has to take passes. Current in the hull eats it and whatever is joined to it.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
grounds:
  hull: {kind: hull, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: hull, gauge: 14 AWG, colour: black, length: 1 ft}
  W4: {from: hull, to: house.-, gauge: 8 AWG, colour: green, length: 3 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
grounds:
  hull: {kind: hull, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W4: {from: hull, to: house.-, gauge: 8 AWG, colour: green, length: 3 ft}
",
    fix: "Run the negative to a bus or to the battery.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let mut last_told = None;
    for (index, load) in system.loads.iter().enumerate() {
        let found = facts.returns.load(LoadId::at(index));
        let component = &system.components[load.component.index()];
        // A load that does not get back at all is told as that.
        let back = found.back != crate::analysis::states::Reached::Never;
        if !back || last_told == Some(load.component) {
            continue;
        }
        let (_, negative) = ends(system, load.link);
        let Some(through) = through_ground(facts, negative) else {
            continue;
        };
        let serves_engine = load.kind == LoadKind::Starter
            || load.service == Service::Engine
            || component.subkind.eq_ignore_ascii_case("sender")
            || (load.kind == LoadKind::Coil
                && component.zone.is_some()
                && component.zone == through.ground.zone);
        if through.all_engine && serves_engine {
            continue;
        }
        last_told = Some(load.component);
        findings.push(told(rule, &component.name, load.span, &through));
    }
    for source in &system.sources {
        let (_, negative) = ends(system, source.link);
        if source.kind == SourceKind::Battery {
            continue;
        }
        let Some(through) = through_ground(facts, negative) else {
            continue;
        };
        if through.all_engine && source.kind == SourceKind::Alternator {
            continue;
        }
        let component = &system.components[source.component.index()];
        findings.push(told(rule, &component.name, source.span, &through));
    }
    buses(rule, facts, findings);
}

fn told(rule: &Rule, name: &str, span: Span, through: &Through<'_>) -> Diagnostic {
    let ground = through.ground;
    rule.finding(
        name,
        format!(
            "{name} returns through {} ({}) in place of a conductor",
            words(ground),
            ground.name
        ),
    )
    .label(through.conductor.unwrap_or(span), "its return lands here")
    .label(ground.span, words(ground))
    .repair(format!(
        "run the negative of {name} to a bus or to the battery"
    ))
}

/// Where a return meets hull, bonding or engine.
struct Through<'s> {
    ground: &'s Component,
    /// Every way out is an engine block.
    all_engine: bool,
    /// The conductor that lands there.
    conductor: Option<Span>,
}

/// The ground that a negative depends on, if it reaches no bus and no post without one.
fn through_ground<'s>(facts: &Facts<'s>, negative: NodeId) -> Option<Through<'s>> {
    let system = facts.system;
    let mut found: Option<Through<'s>> = None;
    for &(stop, link) in facts.returns.ways.exits(negative) {
        // A reversed motor also meets the positive bus; only its negative side is a return.
        if matches!(facts.poles.of(stop), Pole::Positive) {
            continue;
        }
        let ground = ground_at(facts, stop)?;
        let is_engine = ground.ground == Some(GroundKind::Engine);
        let conductor = match system.links[link.index()].kind {
            LinkKind::Conductor(id) => Some(system.conductors[id.index()].span),
            _ => None,
        };
        match &mut found {
            None => {
                found = Some(Through {
                    ground,
                    all_engine: is_engine,
                    conductor,
                });
            }
            Some(through) => through.all_engine &= is_engine,
        }
    }
    found
}

fn ground_at<'s>(facts: &Facts<'s>, stop: NodeId) -> Option<&'s Component> {
    let system = facts.system;
    system.nodes[stop.index()]
        .terminals
        .iter()
        .map(|&terminal| system.component_of(terminal))
        .find(|component| {
            component.kind == ComponentKind::Ground || component.polarity == Some(Polarity::Bonding)
        })
}

/// Buses of negatives that reach their batteries through hull or bonding only.
fn buses(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let grounds = &facts.returns.grounds;
    for component in &system.components {
        let Some(&stud) = component.terminals.first() else {
            continue;
        };
        let node = system.node_of(stud);
        let is_negative_bus = component.kind == ComponentKind::Bus
            && component.polarity == Some(Polarity::Negative)
            && facts.poles.of(node) == Pole::Negative;
        if !is_negative_bus || !grounds.sources(grounds.island(node)).is_empty() {
            continue;
        }
        findings.push(
            rule.finding(
                &component.name,
                format!(
                    "{} reaches its batteries through hull or bonding only",
                    component.name
                ),
            )
            .label(
                component.span,
                "no conductor to a battery or to another bus",
            )
            .repair(format!(
                "run a conductor from {} to the main negative bus",
                component.name
            )),
        );
    }
}

fn words(ground: &Component) -> &'static str {
    match (ground.kind, ground.ground) {
        (ComponentKind::Bus, _) | (_, Some(GroundKind::Bonding)) => "the bonding",
        (_, Some(GroundKind::Engine)) => "the engine block",
        _ => "the hull",
    }
}
