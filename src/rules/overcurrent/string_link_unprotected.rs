//! A link between the posts of one bank, longer than neighbouring batteries need.

use super::super::telling::length;
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::{self, PlacementCase, RuleSet, citations};
use crate::system::{BankId, SourceKind, System};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "OC109",
    name: "string-link-unprotected",
    title: "Long link between batteries of one bank has no device",
    severity: Severity::Warning,
    basis: &[citations::LAW_PLACEMENT_NEAR, citations::COMMON_PRACTICE],
    checks: "A conductor straight from the post of one battery to the post of another of the same bank is at most 7 in long, 40 in where it is sheathed or enclosed. The law lets it be 72 in; a link that leaves the battery box carries the full short-circuit current of the bank and deserves a device.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 24 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
banks:
  house: {strings: [[low, high]]}
batteries:
  low: {bank: house, voltage: 12 V, chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  high: {bank: house, voltage: 12 V, chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: low.+, to: high.-, gauge: 8 AWG, colour: red, length: 3 ft}
  W2: {from: high.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W3: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W4: {from: fan.-, to: low.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 24 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
banks:
  house: {strings: [[low, high]]}
batteries:
  low: {bank: house, voltage: 12 V, chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  high: {bank: house, voltage: 12 V, chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: low.+, to: high.-, gauge: 8 AWG, colour: red, length: 6 in}
  W2: {from: high.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W3: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W4: {from: fan.-, to: low.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Put the batteries side by side, or fit a device in the link.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let posts = posts(system);
    let law = |case| standards::placement_limit(RuleSet::Law, case);
    let mut told = vec![false; system.conductors.len()];
    for fault in facts.protection.faults() {
        told[fault.conductor.index()] = true;
    }
    for (index, conductor) in system.conductors.iter().enumerate() {
        let (a, b) = (system.node_of(conductor.from), system.node_of(conductor.to));
        let same_bank = posts[a.index()].is_some() && posts[a.index()] == posts[b.index()];
        let (Some(given), true, false) = (conductor.length, same_bank, told[index]) else {
            continue;
        };
        if a == b || facts.nets.is_negative(a) {
            continue;
        }
        let sheathed = conductor.sheathed.is_some_and(|given| given.value);
        let case = if sheathed {
            PlacementCase::Sheathed
        } else {
            PlacementCase::NearSource
        };
        let Some(limit) = law(case) else { continue };
        if given.value <= limit.max {
            continue;
        }
        findings.push(
            rule.finding(
                &conductor.number,
                format!(
                    "{} joins posts of one bank and is {} long without a device; the limit is {}",
                    conductor.number,
                    length(system, given.value),
                    length(system, limit.max)
                ),
            )
            .label(conductor.span, "no device in this link")
            .label(given.span, "its length")
            .compared(
                Figure::new("length", given.value.0, "m"),
                Figure::new("greatest length", limit.max.0, "m"),
            )
            .repair(format!(
                "shorten {} to {}, or fit a device in it",
                conductor.number,
                length(system, limit.max)
            )),
        );
    }
}

/// The bank whose battery has a post at each node.
fn posts(system: &System) -> Vec<Option<BankId>> {
    let mut posts = vec![None; system.nodes.len()];
    for source in &system.sources {
        if source.kind == SourceKind::Battery {
            let link = &system.links[source.link.index()];
            posts[system.node_of(link.a).index()] = source.bank;
            posts[system.node_of(link.b).index()] = source.bank;
        }
    }
    posts
}
