//! A charging source that loses much of its voltage before the battery.

use super::super::telling::wires;
use super::{SAME_PERCENT, case_words, most_resistance};
use crate::analysis::Facts;
use crate::analysis::voltage_drop::positions;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::SourceId;
use crate::units::{Rounding, format_against, volts};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "VD303",
    name: "charging-drop-exceeded",
    title: "Voltage drop between a charging source and its battery is above 3 %",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "The drop in conductors, out and back, from every charging source at its rated current to what it charges, against the limit of critical circuits (3 % unless the policy says otherwise). More than that leaves the battery undercharged, unless the source senses at the battery. Diodes are not counted.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  solar-fuse: {rating: 15 A, form: blade regular, zone: cabin}
solar:
  panel: {current: 10 A, voltage: 14.4 V, chemistry: agm, zone: cabin}
runs:
  W1: {from: house.+, to: solar-fuse.in, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: panel.+, to: solar-fuse.out, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 20 ft}
  W3: {from: panel.-, to: house.-, gauge: 14 AWG, insulation: 105 °C, colour: black, length: 20 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  solar-fuse: {rating: 15 A, form: blade regular, zone: cabin}
solar:
  panel: {current: 10 A, voltage: 14.4 V, chemistry: agm, zone: cabin}
runs:
  W1: {from: house.+, to: solar-fuse.in, gauge: 10 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: panel.+, to: solar-fuse.out, gauge: 10 AWG, insulation: 105 °C, colour: red, length: 10 ft}
  W3: {from: panel.-, to: house.-, gauge: 10 AWG, insulation: 105 °C, colour: black, length: 10 ft}
",
    fix: "Use thicker conductors between the source and the battery, or sense at the battery.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let limit = system.boat.policy.critical_drop_percent;
    for (index, source) in system.sources.iter().enumerate() {
        let Some(drop) = facts.drops.charging(SourceId::at(index)) else {
            continue;
        };
        if drop.percent <= limit + SAME_PERCENT {
            continue;
        }
        let (share, most) = format_against(drop.percent, limit, "%");
        let at_least = if drop.missing.is_empty() {
            ""
        } else {
            "at least "
        };
        let mut finding = rule.finding(
            &source.name,
            format!(
                "{} loses {at_least}{}, {share} of {:.0} V, on the way to what it charges, {}; at most {most} keeps the battery charged",
                source.name,
                volts(drop.total, Rounding::Up),
                source.nominal.value.0,
                case_words(system, &drop.case)
            ),
        );
        if let Some(worst) = most_resistance(system, &drop.path) {
            let conductor = &system.conductors[worst.index()];
            let span = conductor
                .gauge
                .and_then(|gauge| gauge.span)
                .unwrap_or(conductor.span);
            finding = finding.label(span, "most of it is lost here");
        }
        let current = source
            .current
            .and_then(|current| current.span)
            .unwrap_or(source.span);
        findings.push(
            finding
                .label(current, "at this current")
                .compared(
                    Figure::new("voltage drop", drop.percent, "%"),
                    Figure::new("largest drop", limit, "%"),
                )
                .in_positions(positions(system, &drop.case))
                .repair(format!(
                    "use thicker conductors for {}",
                    wires(system, &drop.path)
                )),
        );
    }
}
