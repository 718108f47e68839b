//! Cranking cables that leave the starter little of the battery.

use super::most_resistance;
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::{citations, constants};
use crate::system::Origin;
use crate::units::{Rounding, volts};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "VD310",
    name: "cranking-drop-exceeded",
    title: "Cranking cables lose much of the battery's voltage",
    severity: Severity::Warning,
    basis: &[citations::BENCH_PRACTICE],
    checks: "The voltage lost in cables, switches and joints between the posts of the battery and the starter while it cranks, both poles, as solved: at most 1 V at 12 V nominal, in proportion at others; above half of that it is a note. A starter that states a drop limit of its own, as its engine's maker may, is judged by that alone.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  start: {bank: start, chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
banks:
  start: {purpose: start}
switches:
  master: {kind: battery, rating: 200 A, intermittent-rating: 500 A, zone: cabin}
loads:
  starter: {draw: 200 A, kind: starter, bank: start, drop: ordinary, zone: cabin}
runs:
  W1: {from: start.+, to: master.in, gauge: 6 AWG, colour: red, length: 4 ft 6 in, cranking: true}
  W2: {from: master.out, to: starter.+, gauge: 6 AWG, colour: red, length: 4 ft 6 in, cranking: true}
  W3: {from: starter.-, to: start.-, gauge: 6 AWG, colour: black, length: 4 ft 6 in}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  start: {bank: start, chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
banks:
  start: {purpose: start}
switches:
  master: {kind: battery, rating: 200 A, intermittent-rating: 500 A, zone: cabin}
loads:
  starter: {draw: 200 A, kind: starter, bank: start, drop: ordinary, zone: cabin}
runs:
  W1: {from: start.+, to: master.in, gauge: 2 AWG, colour: red, length: 3 ft, cranking: true}
  W2: {from: master.out, to: starter.+, gauge: 2 AWG, colour: red, length: 3 ft, cranking: true}
  W3: {from: starter.-, to: start.-, gauge: 2 AWG, colour: black, length: 3 ft}
",
    fix: "Use thicker or shorter cranking cables on both poles.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let (at_12_volts, basis) = constants::cranking_drop();
    for cranking in &facts.energy.cranking {
        let load = &system.loads[cranking.load.index()];
        if load.drop.origin == Origin::Written
            && matches!(load.drop.value, crate::system::DropClass::Percent(_))
        {
            continue;
        }
        let limit = at_12_volts * (load.nominal.value.0 / NOMINAL);
        let lost = cranking.at_battery - cranking.at_starter;
        if lost.0 <= limit.0 / 2.0 {
            continue;
        }
        let mut finding = rule.finding(
            &load.name,
            format!(
                "{} of the {} at the posts of {} are lost before {} while it cranks; {} is commonly the most",
                volts(lost, Rounding::Up),
                volts(cranking.at_battery, Rounding::Nearest),
                system.banks[cranking.bank.index()].name,
                load.name,
                volts(limit, Rounding::Down)
            ),
        );
        if lost <= limit {
            finding.severity = Severity::Note;
        }
        finding.basis = vec![basis];
        let path = facts
            .drops
            .of(cranking.load)
            .map(|drop| drop.path.as_slice());
        let worst = path.and_then(|path| most_resistance(system, path));
        let (place, name) = worst.map_or((load.span, "the cranking cables"), |id| {
            let conductor = &system.conductors[id.index()];
            let size = conductor.gauge.and_then(|gauge| gauge.span);
            (size.unwrap_or(conductor.span), conductor.number.as_str())
        });
        findings.push(
            finding
                .label(place, "loses most of it")
                .label(load.span, "cranks")
                .compared(
                    Figure::new("voltage lost", lost.0, "V"),
                    Figure::new("largest loss", limit.0, "V"),
                )
                .repair(format!("use a thicker or shorter cable for {name}")),
        );
    }
}

/// Nominal voltage that the limit is stated for.
const NOMINAL: f64 = 12.0;
