//! A battery whose management cuts out before its loads are all on.

use super::super::telling::{rating, switches_at};
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::SourceKind;
use crate::units::{Rounding, amps};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "DP810",
    name: "management-limit-exceeded",
    title: "Loads draw more than the management of the battery allows",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "The largest current out of each battery, in the declared scenarios or else with everything on, is within the continuous limit that the file states for its management. A management that cuts out takes everything with it.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: lithium-iron-phosphate, capacity: 60 Ah, short-circuit: 5000 A, management-limit: 50 A, zone: cabin}
fuses:
  heater-fuse: {rating: 80 A, form: class T, voltage: 125 V, interrupting: 20000 A, zone: cabin}
loads:
  heater: {draw: 60 A, kind: heater, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: heater-fuse.in, gauge: 2 AWG, colour: red, length: 6 in}
  W2: {from: heater-fuse.out, to: heater.+, gauge: 2 AWG, colour: red, length: 6 ft}
  W3: {from: heater.-, to: house.-, gauge: 2 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: lithium-iron-phosphate, capacity: 60 Ah, short-circuit: 5000 A, management-limit: 100 A, zone: cabin}
fuses:
  heater-fuse: {rating: 80 A, form: class T, voltage: 125 V, interrupting: 20000 A, zone: cabin}
loads:
  heater: {draw: 60 A, kind: heater, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: heater-fuse.in, gauge: 2 AWG, colour: red, length: 6 in}
  W2: {from: heater-fuse.out, to: heater.+, gauge: 2 AWG, colour: red, length: 6 ft}
  W3: {from: heater.-, to: house.-, gauge: 2 AWG, colour: black, length: 6 ft}
",
    fix: "Let fewer loads run together, or fit batteries that allow more.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for source in &system.sources {
        let (SourceKind::Battery, Some(limit)) = (source.kind, source.current) else {
            continue;
        };
        let peak = facts.currents.load(source.link);
        if peak.amps <= limit.value {
            continue;
        }
        let positions = facts.currents.positions(system, peak);
        findings.push(
            rule.finding(
                &source.name,
                format!(
                    "{} carries {} {}{}; its management allows {}",
                    source.name,
                    amps(peak.amps, Rounding::Up),
                    facts.currents.words(system, peak),
                    switches_at(&positions),
                    rating(limit.value)
                ),
            )
            .label(limit.span.or(Some(source.span)), "allowed here")
            .compared(
                Figure::new("current", peak.amps.0, "A"),
                Figure::new("management limit", limit.value.0, "A"),
            )
            .in_positions(positions)
            .repair(format!(
                "declare scenarios if not everything runs together, or fit batteries that allow more than {}",
                source.name
            )),
        );
    }
}
