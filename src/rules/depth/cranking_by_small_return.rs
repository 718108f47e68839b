//! A starter whose current finds a small conductor once its own cable is off.

use super::super::telling::at_most;
use crate::analysis::Facts;
use crate::analysis::states::set_to;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::units::{Rounding, amps};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "DP814",
    name: "cranking-by-small-return",
    title: "Cranking current can return by a small conductor",
    severity: Severity::Warning,
    basis: &[citations::LAW_COMMON_CONDUCTOR],
    checks: "With each heavy conductor of a starter's return off in turn, the cranking current returns through no other conductor beyond its derated ampacity. The law asks for a common conductor between engines for this reason; here every return is looked at. A loose negative cable then makes a fire of a gauge wire, which no device protects.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  start: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
switches:
  master: {kind: battery, rating: 250 A, intermittent-rating: 500 A, zone: cabin}
loads:
  starter: {draw: 150 A, kind: starter, service: engine, duty: surge, bank: start, zone: cabin}
grounds:
  engine-block: {kind: engine, zone: cabin}
buses:
  negative: {polarity: negative, studs: 4, rating: 100 A, zone: cabin}
runs:
  B1: {from: start.+, to: master.in, gauge: 1/0 AWG, colour: red, length: 2 ft, cranking: true}
  B2: {from: master.out, to: starter.+, gauge: 1/0 AWG, colour: red, length: 4 ft, cranking: true}
  B3: {from: starter.-, to: engine-block, gauge: 1/0 AWG, colour: black, length: 1 ft, cranking: true}
  B4: {from: engine-block, to: start.-, gauge: 1/0 AWG, colour: black, length: 4 ft, cranking: true}
  W1: {from: engine-block, to: negative, gauge: 12 AWG, colour: black, length: 6 ft}
  W2: {from: negative, to: start.-, gauge: 6 AWG, colour: black, length: 4 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  start: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
switches:
  master: {kind: battery, rating: 250 A, intermittent-rating: 500 A, zone: cabin}
loads:
  starter: {draw: 150 A, kind: starter, service: engine, duty: surge, bank: start, zone: cabin}
grounds:
  engine-block: {kind: engine, zone: cabin}
buses:
  negative: {polarity: negative, studs: 4, rating: 100 A, zone: cabin}
runs:
  B1: {from: start.+, to: master.in, gauge: 1/0 AWG, colour: red, length: 2 ft, cranking: true}
  B2: {from: master.out, to: starter.+, gauge: 1/0 AWG, colour: red, length: 4 ft, cranking: true}
  B3: {from: starter.-, to: engine-block, gauge: 1/0 AWG, colour: black, length: 1 ft, cranking: true}
  B4: {from: engine-block, to: start.-, gauge: 1/0 AWG, colour: black, length: 4 ft, cranking: true}
  W2: {from: negative, to: start.-, gauge: 6 AWG, colour: black, length: 4 ft}
",
    fix: "Let the engine return by one way only, or make every way as heavy as the cranking cable.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for small in &facts.sneaks.small_returns {
        let starter = &system.loads[small.starter.index()];
        let off = &system.conductors[small.off.index()];
        let wire = &system.conductors[small.wire.index()];
        findings.push(
            rule.finding(
                &wire.number,
                format!(
                    "with {} off, {} of the current of {} return through {}; its derated ampacity is {}",
                    off.number,
                    amps(small.current, Rounding::Up),
                    starter.name,
                    wire.number,
                    at_most(small.ampacity)
                ),
            )
            .label(
                wire.gauge.and_then(|given| given.span).or(Some(wire.span)),
                "burns when the cable is off",
            )
            .label(off.span, "the cable that may come off")
            .compared(
                Figure::new("cranking current", small.current.0, "A"),
                Figure::new("derated ampacity", small.ampacity.0, "A"),
            )
            .in_positions(set_to(system, &small.off_normal))
            .repair(format!(
                "take {} off the way between both ends of {}, or make it as heavy as that cable",
                wire.number, off.number
            )),
        );
    }
}
