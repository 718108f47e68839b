//! A sense lead tapped where the current of loads has already lost voltage.

use crate::analysis::Facts;
use crate::analysis::states::{across, conducts, ends};
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{
    ComponentKind, LinkId, LinkKind, NodeId, SourceKind, System, TerminalId, TerminalRole,
};
use crate::units::Amps;
use std::collections::BTreeSet;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "VD311",
    name: "sense-lead-behind-drop",
    title: "Sense lead is tapped where loads take voltage away",
    severity: Severity::Note,
    basis: &[citations::COMMON_PRACTICE],
    checks: "A run that only senses starts at a battery post, or at a point that no conductor with load or charging current parts from one: what it reads is else the battery less the drop of whatever runs. Taps of a shunt measure current and are not meant; nor is a meter at the panel that is fed from there without a sense lead.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  sense-fuse: {rating: 1 A, form: blade regular, zone: cabin}
buses:
  positive: {polarity: positive, studs: 4, rating: 50 A, covered: true, zone: cabin}
instruments:
  meter: {kind: voltmeter, senses: [probe], always-on: true, draw: 0.01 A, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: positive, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: positive, to: fan.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W4: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  M1: {from: positive, to: meter.+, gauge: 16 AWG, colour: red, length: 6 in}
  M2: {from: meter.-, to: house.-, gauge: 16 AWG, colour: black, length: 6 ft}
  S1: {from: positive, to: sense-fuse.in, gauge: 16 AWG, colour: red, length: 6 in, sense: true}
  S2: {from: sense-fuse.out, to: meter.probe, gauge: 16 AWG, colour: red, length: 6 ft, sense: true}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  sense-fuse: {rating: 1 A, form: blade regular, zone: cabin}
buses:
  positive: {polarity: positive, studs: 4, rating: 50 A, covered: true, zone: cabin}
instruments:
  meter: {kind: voltmeter, senses: [probe], always-on: true, draw: 0.01 A, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: positive, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: positive, to: fan.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W4: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  M1: {from: positive, to: meter.+, gauge: 16 AWG, colour: red, length: 6 in}
  M2: {from: meter.-, to: house.-, gauge: 16 AWG, colour: black, length: 6 ft}
  S1: {from: house.+, to: sense-fuse.in, gauge: 16 AWG, colour: red, length: 6 in, sense: true}
  S2: {from: sense-fuse.out, to: meter.probe, gauge: 16 AWG, colour: red, length: 6 ft, sense: true}
",
    fix: "Take the sense lead to the post of the battery.",
    check,
};

/// A current that moves no reading.
const STILL: Amps = Amps(0.05);
/// Links looked at for one lead.
const MAX_STEPS: usize = 4_096;

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let mut posts: BTreeSet<NodeId> = BTreeSet::new();
    for source in &system.sources {
        if source.kind == SourceKind::Battery {
            let (a, b) = ends(system, source.link);
            posts.extend([a, b]);
        }
    }
    for conductor in &system.conductors {
        let senses =
            |terminal: TerminalId| system.terminals[terminal.index()].role == TerminalRole::Sense;
        let shunt =
            |terminal: TerminalId| system.component_of(terminal).kind == ComponentKind::Shunt;
        if !conductor.sense || shunt(conductor.from) || shunt(conductor.to) {
            continue;
        }
        let tap = if senses(conductor.from) {
            conductor.to
        } else {
            conductor.from
        };
        let node = system.node_of(tap);
        // The far end of a longer lead is told with its first run.
        let part = system.component_of(tap).kind;
        let goes_on = matches!(part, ComponentKind::Fuse | ComponentKind::Splice);
        if goes_on || still_reaches(facts, system, node, conductor.link, &posts) {
            continue;
        }
        findings.push(
            rule.finding(
                &conductor.number,
                format!(
                    "{} senses at {}, which conductors with load current part from every battery post",
                    conductor.number,
                    system.terminal_name(tap)
                ),
            )
            .label(conductor.span, "senses here")
            .repair(format!("take {} to the post of the battery", conductor.number)),
        );
    }
}

/// Whether a battery post is reached without a conductor that carries current.
fn still_reaches(
    facts: &Facts<'_>,
    system: &System,
    from: NodeId,
    own: LinkId,
    posts: &BTreeSet<NodeId>,
) -> bool {
    let mut seen = BTreeSet::from([from]);
    let mut open = vec![from];
    while let Some(node) = open.pop() {
        if posts.contains(&node) {
            return true;
        }
        for &link in &system.nodes[node.index()].links {
            let carries = matches!(system.links[link.index()].kind, LinkKind::Conductor(_))
                && facts.currents.load(link).amps > STILL;
            if link == own || carries || !conducts(system, link) {
                continue;
            }
            let next = across(system, link, node);
            if seen.len() < MAX_STEPS && seen.insert(next) {
                open.push(next);
            }
        }
    }
    false
}
