//! Two banks joined by a position that does not say so.

use super::super::telling::{listed, shown};
use super::{Unlike, in_positions, place, unlike};
use crate::analysis::Facts;
use crate::analysis::isolation::JOINS_TOLD;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "BI401",
    name: "banks-joined",
    title: "Two banks are joined without a position declared to join them",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Over all combinations of switch, relay and combiner positions: the positives of two banks are joined only in positions that declare `joins-banks: true`. Banks that are joined unawares discharge each other, and the one that should start the engine is flat with the rest. The finding names the fewest positions that show it and the path they close.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  port: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  starboard: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  port-fuse: {rating: 60 A, form: blade maxi, zone: cabin}
  starboard-fuse: {rating: 60 A, form: blade maxi, zone: cabin}
switches:
  parallel:
    kind: battery
    rating: 100 A
    zone: cabin
    positions:
      \"off\": []
      joined: [[in, out]]
    normal: \"off\"
runs:
  W1: {from: port.+, to: port-fuse.in, gauge: 8 AWG, colour: red, length: 6 in}
  W2: {from: port-fuse.out, to: parallel.in, gauge: 8 AWG, colour: red, length: 1 ft}
  W3: {from: parallel.out, to: starboard-fuse.out, gauge: 8 AWG, colour: red, length: 1 ft}
  W4: {from: starboard-fuse.in, to: starboard.+, gauge: 8 AWG, colour: red, length: 6 in}
  W5: {from: port.-, to: starboard.-, gauge: 8 AWG, colour: black, length: 2 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  port: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  starboard: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  port-fuse: {rating: 60 A, form: blade maxi, zone: cabin}
  starboard-fuse: {rating: 60 A, form: blade maxi, zone: cabin}
switches:
  parallel:
    kind: battery
    rating: 100 A
    zone: cabin
    positions:
      \"off\": []
      joined: {closes: [[in, out]], joins-banks: true}
    normal: \"off\"
runs:
  W1: {from: port.+, to: port-fuse.in, gauge: 8 AWG, colour: red, length: 6 in}
  W2: {from: port-fuse.out, to: parallel.in, gauge: 8 AWG, colour: red, length: 1 ft}
  W3: {from: parallel.out, to: starboard-fuse.out, gauge: 8 AWG, colour: red, length: 1 ft}
  W4: {from: starboard-fuse.in, to: starboard.+, gauge: 8 AWG, colour: red, length: 6 in}
  W5: {from: port.-, to: starboard.-, gauge: 8 AWG, colour: black, length: 2 ft}
",
    fix: "Separate the banks, or declare `joins-banks: true` where the position is meant to join them.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for join in &facts.isolation.joins {
        let graver = matches!(unlike(system, join), Unlike::Voltage | Unlike::Chemistry);
        if !join.undeclared || graver {
            continue;
        }
        let [one, other] = join.banks.map(|id| &system.banks[id.index()]);
        let finding = rule
            .finding(
                &one.name,
                format!(
                    "banks {} and {} are joined{}",
                    one.name,
                    other.name,
                    in_positions(system, &join.witness)
                ),
            )
            .label(place(system, &join.witness), "joins them")
            .label(one.span, "this bank")
            .label(other.span, "and this one")
            .repair(format!(
                "open the path between {} and {}, or write `joins-banks: true` at the position that is meant to join them",
                one.name, other.name
            ));
        findings.push(shown(
            finding,
            system,
            &join.witness.off_normal,
            &one.name,
            &join.witness.path,
        ));
    }
    for &bank in &facts.isolation.crowded {
        let bank = &system.banks[bank.index()];
        findings.push(
            rule.finding(
                &bank.name,
                format!(
                    "bank {} is joined to more than {JOINS_TOLD} others; the rest is not told one by one",
                    bank.name
                ),
            )
            .label(bank.span, "joined to many banks")
            .repair("open what joins the banks that are told, and check again"),
        );
    }
    if facts.isolation.unseen > 0 {
        findings.push(
            rule.not_proved(
                "",
                "the boat has too many banks and sources to look from all of them; what they join is not proved"
                    .to_owned(),
            )
            .label(
                system.banks.last().map(|bank| bank.span),
                "not all banks are looked from",
            )
            .repair("describe parts of the boat that share no pole in files of their own"),
        );
    }
    for undecided in &facts.isolation.undecided {
        let element = &undecided.elements[0];
        let span = system
            .banks
            .iter()
            .map(|bank| (&bank.name, bank.span))
            .chain(
                system
                    .sources
                    .iter()
                    .map(|source| (&source.name, source.span)),
            )
            .find(|(name, _)| *name == element)
            .map(|(_, span)| span);
        findings.push(
            rule.not_proved(
                element,
                format!(
                    "the switches make too many combinations to tell what is joined to {}",
                    listed(&undecided.elements)
                ),
            )
            .label(span, "not decided")
            .repair("describe positions that cannot occur together under `interlocks`"),
        );
    }
}
