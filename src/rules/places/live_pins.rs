//! Pins that stay live when a connector is parted.

use super::super::telling::{listed, with_positions};
use crate::analysis::Facts;
use crate::analysis::states::{Constraints, Reach, Reached, Spread, Witness, affordable, set_to};
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{
    Component, ComponentId, Contacts, Known, LinkKind, NodeId, SourceKind, TerminalId,
};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL709",
    name: "live-pins",
    title: "Exposed pins are live when a connector is parted",
    severity: Severity::Error,
    basis: &[citations::LAW_LIVE_TERMINALS, citations::COMMON_PRACTICE],
    checks: "With a connector parted, the half that a battery can still reach in some combination of positions carries recessed sockets, not pins. Where the half does not say what its contacts are it is not proved. A half that only a charging source can make live is noted. Pins on the negative pass.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
connectors:
  plug: {cavities: 2, contact-rating: 20 A, a: {contacts: pins}, b: {contacts: sockets}, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: plug.1a, gauge: 14 AWG, colour: red, length: 5 ft}
  W4: {from: plug.1b, to: fan.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
connectors:
  plug: {cavities: 2, contact-rating: 20 A, a: {contacts: sockets}, b: {contacts: pins}, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: plug.1a, gauge: 14 AWG, colour: red, length: 5 ft}
  W4: {from: plug.1b, to: fan.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Turn the connector round, so that the half towards the battery carries the sockets.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let posts = |battery: bool| -> Vec<NodeId> {
        facts
            .nets
            .ungrounded()
            .iter()
            .filter(|pole| {
                (system.sources[pole.source.index()].kind == SourceKind::Battery) == battery
            })
            .map(|pole| pole.node)
            .collect()
    };
    let (batteries, others) = (posts(true), posts(false));
    let constraints = Constraints::none(system);
    let mut left = affordable(system);
    for (index, component) in system.components.iter().enumerate() {
        let Some(connector) = &component.connector else {
            continue;
        };
        if connector
            .contacts
            .iter()
            .all(|&contacts| is_sockets(contacts))
        {
            continue;
        }
        // Three searches a connector at most.
        let Some(rest) = left.checked_sub(3) else {
            findings.push(
                rule.not_proved(
                    &component.name,
                    "the boat has too many connectors to part each of them; this one and those after it are left out",
                )
                .label(component.span, "from here on")
                .repair("describe fewer connectors in one file"),
            );
            return;
        };
        left = rest;
        let id = ComponentId::at(index);
        let reach = Reach::new(system, &constraints, |link| {
            let link = &system.links[link.index()];
            let parted = matches!(link.kind, LinkKind::Mate { .. }) && link.component == id;
            (!parted).then_some(f64::INFINITY)
        });
        let by_battery = reach.spread(&batteries);
        let by_others = reach.spread(&others);
        for (half, contacts) in connector.contacts.iter().enumerate() {
            if is_sockets(*contacts) {
                continue;
            }
            let terminals = component
                .terminals
                .iter()
                .copied()
                .filter(|&terminal| facts.system.half_of(terminal) == half)
                .filter(|&terminal| !facts.nets.is_negative(system.node_of(terminal)));
            let reached = |spread: &Spread<'_>, terminal: TerminalId| {
                spread.reached(system.node_of(terminal)) != Reached::Never
            };
            let live: Vec<TerminalId> = terminals
                .clone()
                .filter(|&terminal| reached(&by_battery, terminal))
                .collect();
            if !live.is_empty() {
                let shown = by_battery.answer(system.node_of(live[0])).witness();
                findings.push(told(rule, facts, component, half, &live, shown.as_ref()));
                continue;
            }
            let charged: Vec<TerminalId> = terminals
                .filter(|&terminal| reached(&by_others, terminal))
                .collect();
            if !charged.is_empty() && contacts.is_some() {
                let mut note = told(rule, facts, component, half, &charged, None);
                note.severity = Severity::Note;
                note.message.push_str(" while a charging source works");
                findings.push(note);
            }
        }
    }
}

fn is_sockets(contacts: Known<Contacts>) -> bool {
    contacts.is_some_and(|given| given.value == Contacts::Sockets)
}

fn told(
    rule: &Rule,
    facts: &Facts<'_>,
    component: &Component,
    half: usize,
    live: &[TerminalId],
    shown: Option<&Witness>,
) -> Diagnostic {
    let system = facts.system;
    let name = &component.name;
    let letter = ["a", "b"][half];
    let names: Vec<String> = live
        .iter()
        .map(|&terminal| system.terminal_name(terminal))
        .collect();
    let given = component
        .connector
        .as_ref()
        .and_then(|connector| connector.contacts[half]);
    let off_normal = shown.map_or(&[][..], |shown| &shown.off_normal);
    let with = with_positions(system, off_normal);
    let mut finding = match given {
        Some(given) => rule
            .finding(
                name,
                format!(
                    "with {name} parted, its half {letter} shows live pins: {}{with}",
                    listed(&names)
                ),
            )
            .label(given.span.unwrap_or(component.span), "pins"),
        None => rule
            .not_proved(
                name,
                format!(
                    "with {name} parted, {} stays live{with}, and its half {letter} does not say whether it has pins or sockets",
                    listed(&names)
                ),
            )
            .label(component.span, "pins or sockets?"),
    };
    if let Some(&conductor) = live
        .iter()
        .find_map(|&terminal| facts.returns.landings.on(terminal).conductors.first())
    {
        finding = finding.label(system.conductors[conductor.index()].span, "stays live");
    }
    if let Some(shown) = shown {
        finding = finding.in_positions(set_to(system, &shown.off_normal));
    }
    finding.repair(match given {
        Some(_) => format!("turn {name} round, so that its live half carries the sockets"),
        None => {
            format!("write `{letter}: {{contacts: sockets}}` if its half {letter} carries sockets")
        }
    })
}
