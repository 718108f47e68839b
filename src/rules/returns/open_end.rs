//! A conductor that ends at nothing.

use crate::analysis::Facts;
use crate::analysis::poles::Pole;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{ComponentKind, Conductor, LinkKind, NodeId, System, TerminalId};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "RP606",
    name: "open-end",
    title: "A conductor ends at nothing",
    severity: Severity::Error,
    basis: &[citations::LAW_LIVE_TERMINALS, citations::COMMON_PRACTICE],
    checks: "A conductor that lands on a splice or in a connector cavity meets another conductor there, or in the other half. It is an error where the end can be live, a warning elsewhere. A spare conductor that is capped says `spare: true`. Switches, loads and devices with a terminal to spare are only noted.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
splices:
  joint: {kind: butt, sealed: true, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W4: {from: fan.+, to: joint, gauge: 14 AWG, colour: red, length: 3 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
splices:
  joint: {kind: butt, sealed: true, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W4: {from: fan.+, to: joint, gauge: 14 AWG, colour: red, length: 3 ft, spare: true}
",
    fix: "Take the conductor out, run it to where it belongs, or cap its end and write `spare: true`.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for conductor in system.conductors.iter().filter(|wire| !wire.spare) {
        let open: Vec<TerminalId> = [conductor.from, conductor.to]
            .into_iter()
            .filter(|&end| is_open(system, conductor, end))
            .collect();
        let Some(&end) = open.first() else {
            continue;
        };
        let node = system.node_of(end);
        let live = matches!(facts.poles.of(node), Pole::Positive | Pole::Either);
        let at = system.terminal_name(end);
        let mut finding = rule.finding(
            &conductor.number,
            match (open.len(), live) {
                (2, _) => format!("{} is joined to nothing at either end", conductor.number),
                (_, true) => format!(
                    "{} ends at {at}, where nothing else is joined, and can be live there",
                    conductor.number
                ),
                (_, false) => format!(
                    "{} ends at {at}, where nothing else is joined",
                    conductor.number
                ),
            },
        );
        if !live {
            finding.severity = Severity::Warning;
        }
        findings.push(
            finding
                .label(conductor.span, "open end")
                .label(system.component_of(end).span, "nothing else is joined here")
                .repair(format!(
                    "take {} out, run it on, or cap its end and write `spare: true`",
                    conductor.number
                )),
        );
    }
}

/// Whether a conductor is alone on a splice, or alone in both halves of a cavity.
fn is_open(system: &System, conductor: &Conductor, end: TerminalId) -> bool {
    match system.component_of(end).kind {
        ComponentKind::Splice => only_link(system, system.node_of(end)),
        ComponentKind::Connector => {
            let node = system.node_of(end);
            let links = &system.nodes[node.index()].links;
            let others = links.iter().filter(|&&link| link != conductor.link);
            let mut mated = Vec::new();
            for &link in others {
                let LinkKind::Mate { .. } = system.links[link.index()].kind else {
                    return false;
                };
                mated.push(crate::analysis::states::across(system, link, node));
            }
            mated.iter().all(|&other| only_link(system, other))
        }
        _ => false,
    }
}

/// Whether at most one link ends at a node.
fn only_link(system: &System, node: NodeId) -> bool {
    system.nodes[node.index()].links.len() <= 1
}
