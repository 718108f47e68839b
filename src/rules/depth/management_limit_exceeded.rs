//! A battery whose management cuts out before its loads are all on.

use super::super::telling::{rating, switches_at};
use super::own_feeds;
use crate::analysis::Facts;
use crate::analysis::currents::CaseKind;
use crate::analysis::states::ends;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{Duty, Load, Source, SourceKind};
use crate::units::{Amps, Rounding, amps};

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
        let charging = peak
            .case
            .and_then(|case| facts.currents.cases.get(case))
            .is_some_and(|case| matches!(case.kind, CaseKind::Charging(_)));
        let (current, words, positions) = if charging {
            // The largest current flows into it, which is judged elsewhere; what the loads take is added up instead.
            (
                loads_of(facts, source),
                "with everything on".to_owned(),
                Vec::new(),
            )
        } else {
            (
                peak.amps,
                facts.currents.words(system, peak),
                facts.currents.positions(system, peak),
            )
        };
        if current <= limit.value {
            continue;
        }
        findings.push(
            rule.finding(
                &source.name,
                format!(
                    "{} carries {} {words}{}; its management allows {}",
                    source.name,
                    amps(current, Rounding::Up),
                    switches_at(&positions),
                    rating(limit.value)
                ),
            )
            .label(limit.span.or(Some(source.span)), "allowed here")
            .compared(
                Figure::new("current", current.0, "A"),
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

/// The share of a battery in all loads that its bank feeds, cranking left out.
fn loads_of(facts: &Facts<'_>, battery: &Source) -> Amps {
    let system = facts.system;
    let Some(bank) = battery.bank else {
        return Amps(0.0);
    };
    let sum: Amps = system
        .loads
        .iter()
        .filter(|load| load.duty != Duty::Surge)
        .filter(|load| {
            let (positive, _) = ends(system, load.link);
            own_feeds(facts, positive).any(|feed| {
                facts.faults.feeds()[feed]
                    .batteries
                    .iter()
                    .any(|id| system.sources[id.index()].bank == Some(bank))
            })
        })
        .filter_map(Load::current)
        .sum();
    let strings: f64 = system.banks[bank.index()].strings.iter().map(|_| 1.0).sum();
    sum / strings.max(1.0)
}
