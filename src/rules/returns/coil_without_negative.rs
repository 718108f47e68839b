//! A relay coil or a combiner whose negative leads nowhere.

use crate::analysis::Facts;
use crate::analysis::poles::Pole;
use crate::analysis::states::Reached;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{ComponentKind, LoadId, LoadKind, TerminalId, TerminalRole};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "RP611",
    name: "coil-without-negative",
    title: "A relay coil or a combiner lacks its negative",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "The negative of a relay coil that something can energise, and the negative lead of a combiner, reach the negative of their system. Without it the relay never works and the combiner cannot sense. A combiner that needs no negative lead says `self-referenced: true`.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
switches:
  fan-switch: {rating: 5 A, zone: cabin}
relays:
  fan-relay: {contacts: make, rating: 30 A, coil-draw: 0.2 A, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan-relay.com, gauge: 14 AWG, colour: red, length: 3 ft}
  W3: {from: fan-relay.no, to: fan.+, gauge: 14 AWG, colour: red, length: 3 ft}
  W4: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W5: {from: fan-fuse.out, to: fan-switch.in, gauge: 14 AWG, colour: red, length: 3 ft}
  W6: {from: fan-switch.out, to: fan-relay.coil+, gauge: 14 AWG, colour: red, length: 1 ft}
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
  fan-switch: {rating: 5 A, zone: cabin}
relays:
  fan-relay: {contacts: make, rating: 30 A, coil-draw: 0.2 A, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan-relay.com, gauge: 14 AWG, colour: red, length: 3 ft}
  W3: {from: fan-relay.no, to: fan.+, gauge: 14 AWG, colour: red, length: 3 ft}
  W4: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W5: {from: fan-fuse.out, to: fan-switch.in, gauge: 14 AWG, colour: red, length: 3 ft}
  W6: {from: fan-switch.out, to: fan-relay.coil+, gauge: 14 AWG, colour: red, length: 1 ft}
  W7: {from: fan-relay.coil-, to: fan.-, gauge: 14 AWG, colour: black, length: 3 ft}
",
    fix: "Run its negative to the negative bus.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for (index, load) in system.loads.iter().enumerate() {
        let found = facts.returns.load(LoadId::at(index));
        let lost = !found.fed_by.is_empty() && found.back == Reached::Never;
        if load.kind == LoadKind::Coil && lost {
            let negative = system.links[load.link.index()].b;
            findings.push(told(
                rule,
                facts,
                negative,
                "so the relay never closes",
                "run it to the negative bus",
            ));
        }
    }
    for component in &system.components {
        if component.kind != ComponentKind::Combiner {
            continue;
        }
        let Some(&negative) = component
            .terminals
            .iter()
            .find(|terminal| system.terminals[terminal.index()].role == TerminalRole::Negative)
        else {
            continue;
        };
        if !matches!(
            facts.poles.of(system.node_of(negative)),
            Pole::Negative | Pole::Either
        ) {
            findings.push(told(
                rule,
                facts,
                negative,
                "so the combiner cannot sense",
                "run it to the negative bus, or write `self-referenced: true` if it needs none",
            ));
        }
    }
}

fn told(
    rule: &Rule,
    facts: &Facts<'_>,
    negative: TerminalId,
    so: &str,
    repair: &str,
) -> Diagnostic {
    let system = facts.system;
    let component = system.component_of(negative);
    let name = system.terminal_name(negative);
    let landed = facts.returns.landings.on(negative).conductors.first();
    let (span, how) = match landed {
        None => (component.span, format!("nothing is wired to {name}")),
        Some(id) => (
            system.conductors[id.index()].span,
            format!("{name} reaches no negative of what feeds it"),
        ),
    };
    rule.finding(&component.name, format!("{how}, {so}"))
        .label(span, "no negative")
        .repair(format!("{name}: {repair}"))
}
