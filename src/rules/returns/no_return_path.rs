//! A load whose current finds no way back to what feeds it.

use crate::analysis::Facts;
use crate::analysis::returns::SourceReturn;
use crate::analysis::states::{Reached, conducts, ends};
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::rules::telling::listed;
use crate::source::Span;
use crate::standards::citations;
use crate::system::{ComponentKind, Load, LoadId, LoadKind, NodeId, SourceId, System, TerminalId};
use std::collections::BTreeSet;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "RP601",
    name: "no-return-path",
    title: "A load's negative never reaches the negative of its source",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "For every load that some source can feed, the negative reaches a negative of that source's system in at least one combination of switch positions. Coils and combiners are judged by a rule of their own. A load without a return does not work, or finds a way that nobody planned: through another load, a shield or the water. A load that returns through its case says so with the conductor or joint that carries it.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
  lamp: {draw: 10 W, kind: lamp, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W4: {from: fan.+, to: lamp.+, gauge: 14 AWG, colour: red, length: 1 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
  lamp: {draw: 10 W, kind: lamp, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W4: {from: fan.+, to: lamp.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W5: {from: lamp.-, to: fan.-, gauge: 14 AWG, colour: black, length: 1 ft}
",
    fix: "Run a conductor from the load's negative to the negative bus of the system that feeds it.",
    check,
};

/// Conductors followed to name the end of a negative; only the words depend on it.
const LONGEST_CHAIN: usize = 100;

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    if facts.returns.unseen > 0 {
        if let Some(last) = system.sources.last() {
            findings.push(
                rule.not_proved(
                    "",
                    format!(
                        "the boat has too many sources to follow the return of every load; {} are left out",
                        facts.returns.unseen
                    ),
                )
                .label(last.span, "one of those left out")
                .repair("check the returns in parts, or describe fewer sources in one file"),
            );
        }
        return;
    }
    let mut last_told = None;
    for (index, load) in system.loads.iter().enumerate() {
        let component = &system.components[load.component.index()];
        if load.kind == LoadKind::Coil || component.kind == ComponentKind::Combiner {
            continue;
        }
        let found = facts.returns.load(LoadId::at(index));
        // A source whose own negative leads nowhere is told once, not for everything that it feeds.
        let open = |source: SourceId| match system.sources[source.index()].bank {
            Some(bank) => facts.isolation.floating.contains(&bank),
            None => facts.returns.source(source) == SourceReturn::Open,
        };
        let negative = system.links[load.link.index()].b;
        let wired = facts.returns.landings.on(negative).count() > 0;
        let told_there = wired && found.fed_by.iter().all(|&source| open(source));
        if found.fed_by.is_empty() || told_there || last_told == Some(load.component) {
            continue;
        }
        let undecided = match found.back {
            Reached::Somewhen => continue,
            Reached::Undecided => true,
            Reached::Never => false,
        };
        last_told = Some(load.component);
        let sources: Vec<&str> = found
            .fed_by
            .iter()
            .map(|source| system.sources[source.index()].name.as_str())
            .collect();
        let feeder = &system.sources[found.fed_by[0].index()];
        let (span, place, how) = end_of_negative(facts, load);
        let finding = if undecided {
            rule.not_proved(
                &component.name,
                format!(
                    "it could not be decided whether the negative of {} reaches a negative of {}: the network is too knotted",
                    component.name,
                    listed(&sources)
                ),
            )
        } else {
            rule.finding(
                &component.name,
                format!(
                    "{how}, so no current returns from {} to {}, which feeds it",
                    component.name,
                    listed(&sources)
                ),
            )
        };
        findings.push(
            finding
                .label(span, place)
                .label(feeder.span, "it is fed from here")
                .repair(format!(
                    "run a conductor from {} to the negative bus that {} returns to",
                    system.terminal_name(system.links[load.link.index()].b),
                    feeder.name
                )),
        );
    }
}

/// Where the negative of a load ends: the place to change, a word for it, and a clause.
fn end_of_negative(facts: &Facts<'_>, load: &Load) -> (Span, &'static str, String) {
    let system = facts.system;
    let terminal = system.links[load.link.index()].b;
    let landed = facts.returns.landings.on(terminal);
    let name = system.terminal_name(terminal);
    let Some(&conductor) = landed.conductors.first() else {
        return (
            load.span,
            "no negative",
            format!("nothing is wired to {name}"),
        );
    };
    let conductor = &system.conductors[conductor.index()];
    let (_, negative) = ends(system, load.link);
    let island = facts.returns.grounds.island(negative);
    if let Some(&other) = facts.returns.grounds.sources(island).first() {
        let how = format!(
            "{name} is joined to {} and shares no pole with what feeds it",
            system.sources[other.index()].name
        );
        return (conductor.span, "goes to another system", how);
    }
    let last = last_terminal(system, terminal, far_end(facts, negative));
    (
        conductor.span,
        "this negative leads nowhere",
        format!("the negative from {name} goes no further than {last}"),
    )
}

/// The bar, post or ground that a negative reaches, else the far end of its first conductors.
fn far_end(facts: &Facts<'_>, from: NodeId) -> NodeId {
    let exits = facts.returns.ways.exits(from);
    if let Some(&(stop, _)) = exits.first() {
        return stop;
    }
    // Without any bar there is a chain or a tree of conductors; its first way is followed.
    let system = facts.system;
    let mut seen = BTreeSet::from([from]);
    let mut at = from;
    for _ in 0..LONGEST_CHAIN {
        let next = system.nodes[at.index()].links.iter().find_map(|&link| {
            let (a, b) = ends(system, link);
            let other = if a == at { b } else { a };
            (conducts(system, link) && seen.insert(other)).then_some(other)
        });
        match next {
            Some(next) => at = next,
            None => break,
        }
    }
    at
}

fn last_terminal(system: &System, from: TerminalId, node: NodeId) -> String {
    let terminals = &system.nodes[node.index()].terminals;
    let other = terminals.iter().find(|&&terminal| terminal != from);
    system.terminal_name(other.copied().unwrap_or(from))
}
