//! A bus that is wired to the other pole than it is meant for.

use crate::analysis::Facts;
use crate::analysis::poles::Pole;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::source::Span;
use crate::standards::citations;
use crate::system::{Component, ComponentKind, Polarity, TerminalId};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "RP605",
    name: "bus-of-wrong-polarity",
    title: "A bus is wired to the other pole than it is meant for",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "A bus that is declared positive lies above the negative, one declared negative or bonding lies on it, and so does the negative built into a fuse block. What is landed later on a bus of the wrong pole is a dead short or a reversed load. A bus that no source is wired to is not judged, and none while a battery is reversed.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
switches:
  master: {kind: battery, rating: 50 A, zone: cabin}
buses:
  supply: {polarity: negative, studs: 4, rating: 50 A, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: master.in, gauge: 14 AWG, colour: red, length: 2 ft}
  W3: {from: master.out, to: supply, gauge: 14 AWG, colour: red, length: 1 ft}
  W4: {from: supply, to: fan.+, gauge: 14 AWG, colour: red, length: 3 ft}
  W5: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
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
  master: {kind: battery, rating: 50 A, zone: cabin}
buses:
  supply: {polarity: positive, studs: 4, rating: 50 A, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: master.in, gauge: 14 AWG, colour: red, length: 2 ft}
  W3: {from: master.out, to: supply, gauge: 14 AWG, colour: red, length: 1 ft}
  W4: {from: supply, to: fan.+, gauge: 14 AWG, colour: red, length: 3 ft}
  W5: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Correct the polarity that the file states, or move the conductors to the bus of their own pole.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    if facts.isolation.has_reversed_battery(system) {
        return;
    }
    for component in &system.components {
        let meant = match (component.kind, component.polarity) {
            (ComponentKind::Bus, Some(polarity)) => {
                component.terminals.first().map(|&stud| (stud, polarity))
            }
            (ComponentKind::FuseBlock, _) => {
                built_in_negative(facts, component).map(|stud| (stud, Polarity::Negative))
            }
            _ => None,
        };
        let Some((stud, polarity)) = meant else {
            continue;
        };
        let (word, wrong) = match polarity {
            Polarity::Positive => ("positive", Pole::Negative),
            Polarity::Negative => ("negative", Pole::Positive),
            Polarity::Bonding => ("bonding", Pole::Positive),
        };
        let node = system.node_of(stud);
        if facts.poles.of(node) != wrong {
            continue;
        }
        let volts = facts.poles.voltage(node).map_or(0.0, |(low, _)| low.0);
        let where_it_lies = match wrong {
            Pole::Negative => "on the negative".to_owned(),
            _ => format!("{volts:.0} V above the negative"),
        };
        let name = match component.kind {
            ComponentKind::FuseBlock => format!("{}.negative", component.name),
            _ => component.name.clone(),
        };
        let (first, others) = landed(facts, component, system.node_of(stud));
        let mut finding = rule
            .finding(
                &name,
                format!("{name} is meant to be {word} and lies {where_it_lies}"),
            )
            .label(component.span, format!("meant to be {word}"));
        finding = finding.label(first, format!("one of {others} landed here"));
        findings.push(finding.repair(format!(
            "correct the polarity of {name}, or move its conductors to the bus of their own pole"
        )));
    }
}

/// A stud of the negative that is built into a block.
fn built_in_negative(facts: &Facts<'_>, block: &Component) -> Option<TerminalId> {
    let system = facts.system;
    block.terminals.iter().copied().find(|&terminal| {
        let name = &system.terminals[terminal.index()].name;
        name.starts_with("negative.")
    })
}

/// The first conductor on a point of a component, and how many there are.
fn landed(
    facts: &Facts<'_>,
    component: &Component,
    node: crate::system::NodeId,
) -> (Option<Span>, usize) {
    let system = facts.system;
    let on: Vec<_> = component
        .terminals
        .iter()
        .filter(|&&terminal| system.node_of(terminal) == node)
        .flat_map(|&terminal| &facts.returns.landings.on(terminal).conductors)
        .collect();
    (
        on.first().map(|id| system.conductors[id.index()].span),
        on.len(),
    )
}
