//! Terminals of parts in use that nothing is wired to.

use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::rules::telling::listed;
use crate::standards::citations;
use crate::system::{ComponentKind, LinkKind, TerminalId, TerminalRole};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "RP614",
    name: "unused-terminal",
    title: "A terminal of a part in use has nothing wired to it",
    severity: Severity::Note,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Terminals of loads, switches, relays, fuses, breakers, isolators and charging sources have something wired to them. A throw or an output to spare is common; the note is there for the one that was forgotten. Studs, cavities, ways of a block and sense terminals are not told, and a part that nothing at all is wired to is told once.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
switches:
  fan-switch:
    rating: 10 A
    terminals: [feed, fast, slow]
    positions: {\"off\": [], fast: [[feed, fast]], slow: [[feed, slow]]}
    zone: cabin
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan-switch.feed, gauge: 14 AWG, colour: red, length: 5 ft}
  W3: {from: fan-switch.fast, to: fan.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W4: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
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
  fan-switch:
    rating: 10 A
    terminals: [feed, fast]
    positions: {\"off\": [], fast: [[feed, fast]]}
    zone: cabin
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan-switch.feed, gauge: 14 AWG, colour: red, length: 5 ft}
  W3: {from: fan-switch.fast, to: fan.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W4: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Wire the terminal, or leave it out of the file where the part has none.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    use ComponentKind as K;
    let system = facts.system;
    for component in &system.components {
        let judged = matches!(
            component.kind,
            K::Load
                | K::Switch
                | K::Relay
                | K::Isolator
                | K::Fuse
                | K::Breaker
                | K::Charger
                | K::Alternator
                | K::Converter
                | K::Solar
                | K::Combiner
                | K::Battery
        );
        if !judged {
            continue;
        }
        let unused: Vec<TerminalId> = component
            .terminals
            .iter()
            .copied()
            .filter(|&terminal| {
                system.terminals[terminal.index()].role != TerminalRole::Sense
                    && facts.returns.landings.on(terminal).count() == 0
                    && !joined_inside(facts, terminal)
            })
            .collect();
        if unused.is_empty() {
            continue;
        }
        let all = unused.len() == component.terminals.len();
        if all && component.kind == K::Load {
            // Told as a load without supply.
            continue;
        }
        let names: Vec<String> = unused
            .iter()
            .map(|&terminal| system.terminal_name(terminal))
            .collect();
        let message = if all {
            format!("nothing is wired to {}", component.name)
        } else {
            format!("nothing is wired to {}", listed(&names))
        };
        findings.push(
            rule.finding(&component.name, message)
                .label(component.span, "has terminals to spare")
                .repair("wire what was forgotten, or leave out what the part does not have"),
        );
    }
}

/// Whether a joint inside the part leads to a terminal that is wired, as with the two negatives of a converter.
fn joined_inside(facts: &Facts<'_>, terminal: TerminalId) -> bool {
    let system = facts.system;
    let node = system.node_of(terminal);
    system.nodes[node.index()].links.iter().any(|link| {
        let link = &system.links[link.index()];
        let other = link.across(terminal);
        link.kind == LinkKind::Joint && facts.returns.landings.on(other).count() > 0
    })
}
