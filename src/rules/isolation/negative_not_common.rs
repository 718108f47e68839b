//! A bank whose negative reaches no load, or not that of a bank that its positive is joined to.

use super::super::telling::listed;
use crate::analysis::Facts;
use crate::analysis::isolation::bottoms;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::BankId;
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "BI409",
    name: "negative-not-common",
    title: "Negative of a bank reaches no load that its positive feeds",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Where some combination of positions lets a bank feed a load, its negative reaches the negative of some load. Otherwise nothing that the bank feeds can return to it: the bank is dead by a conductor that was never fitted. Two banks whose positives some position joins have their negatives joined in some position too.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  port: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  starboard: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  port-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  starboard-fuse: {rating: 5 A, form: blade regular, zone: cabin}
switches:
  selector:
    kind: battery
    rating: 100 A
    zone: cabin
    terminals: [port, starboard, feed]
    positions: {\"off\": [], port: [[port, feed]], starboard: [[starboard, feed]]}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: port.+, to: port-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: port-fuse.out, to: selector.port, gauge: 14 AWG, colour: red, length: 1 ft}
  W3: {from: starboard.+, to: starboard-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W4: {from: starboard-fuse.out, to: selector.starboard, gauge: 14 AWG, colour: red, length: 1 ft}
  W5: {from: selector.feed, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W6: {from: fan.-, to: port.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  port: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  starboard: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  port-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  starboard-fuse: {rating: 5 A, form: blade regular, zone: cabin}
switches:
  selector:
    kind: battery
    rating: 100 A
    zone: cabin
    terminals: [port, starboard, feed]
    positions: {\"off\": [], port: [[port, feed]], starboard: [[starboard, feed]]}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: port.+, to: port-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: port-fuse.out, to: selector.port, gauge: 14 AWG, colour: red, length: 1 ft}
  W3: {from: starboard.+, to: starboard-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W4: {from: starboard-fuse.out, to: selector.starboard, gauge: 14 AWG, colour: red, length: 1 ft}
  W5: {from: selector.feed, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W6: {from: fan.-, to: port.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W7: {from: port.-, to: starboard.-, gauge: 8 AWG, colour: black, length: 2 ft}
",
    fix: "Join the negative of the bank to the common negative.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for (apart, others) in apart(&facts.isolation.unreturned) {
        let [first, apart] = [others[0], apart].map(|id| &system.banks[id.index()]);
        let [below, own] = [first, apart].map(|bank| bottoms(system, bank));
        let (Some(&below), Some(&own)) = (below.first(), own.first()) else {
            continue;
        };
        let others: Vec<&str> = others
            .iter()
            .map(|id| system.banks[id.index()].name.as_str())
            .collect();
        findings.push(
            rule.finding(
                &apart.name,
                format!(
                    "the positive of bank {} can be joined to that of {}, and {} never reaches {}: nothing flows between them",
                    apart.name,
                    listed(&others),
                    system.node_name(own),
                    system.node_name(below)
                ),
            )
            .and_also(&others)
            .label(apart.span, "its negative is not joined to the other one")
            .label(first.span, "the other bank")
            .repair(format!(
                "join {} to {}",
                system.node_name(own),
                system.node_name(below)
            )),
        );
    }
    for &id in &facts.isolation.floating {
        let bank = &system.banks[id.index()];
        let Some(&post) = bottoms(system, bank).first() else {
            continue;
        };
        let name = system.node_name(post);
        // What floats on purpose is not put right by tying it down.
        let (label, repair) = if bank.isolated.is_some_and(|given| given.value) {
            (
                "no load that it feeds comes back to it",
                format!(
                    "lead the returns of the loads of bank {} to {name}",
                    bank.name
                ),
            )
        } else {
            (
                "its negative is not joined to the common",
                format!("join {name} to the common negative"),
            )
        };
        findings.push(
            rule.finding(
                &bank.name,
                format!(
                    "{name}, the negative of bank {}, reaches no load that the bank feeds",
                    bank.name
                ),
            )
            .label(bank.span, label)
            .repair(repair),
        );
    }
}

/// The banks that lie apart, each once with those it is joined to: the one in most pairs first, the later of equal ones.
fn apart(pairs: &[[BankId; 2]]) -> Vec<(BankId, Vec<BankId>)> {
    let mut left = pairs.to_vec();
    let mut told = Vec::new();
    while !left.is_empty() {
        let mut counts: BTreeMap<BankId, usize> = BTreeMap::new();
        for &bank in left.iter().flatten() {
            *counts.entry(bank).or_default() += 1;
        }
        let Some((&bank, _)) = counts.iter().max_by_key(|&(&bank, &count)| (count, bank)) else {
            break;
        };
        let of = |pair: &[BankId; 2]| match *pair {
            [one, other] if one == bank => Some(other),
            [one, other] if other == bank => Some(one),
            _ => None,
        };
        told.push((bank, left.iter().filter_map(of).collect()));
        left.retain(|pair| !pair.contains(&bank));
    }
    told
}
