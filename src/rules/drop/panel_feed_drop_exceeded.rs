//! A block or panel whose feed loses too much before any branch begins.

use super::super::telling::wires;
use super::{SAME_PERCENT, case_words, most_resistance};
use crate::analysis::Facts;
use crate::analysis::voltage_drop::{panel_limit, positions};
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::ConductorId;
use crate::units::{Rounding, format_against, volts};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "VD304",
    name: "panel-feed-drop-exceeded",
    title: "Voltage drop of a block's main feed is above 3 %",
    severity: Severity::Warning,
    basis: &[citations::ABYC_DROP, citations::ISO_DROP],
    checks: "The round-trip drop from the source to the feed of every fuse block or panel, and from where its loads return, with the currents that judge its loads, against the limit of critical circuits (3 % unless the policy says otherwise).",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  main-fuse: {rating: 30 A, form: blade maxi, zone: cabin}
fuse-blocks:
  block: {feed-rating: 60 A, form: blade regular, ways: {1: 25 A}, zone: cabin}
loads:
  heater: {draw: 20 A, kind: heater, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 10 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: block.feed, gauge: 10 AWG, insulation: 105 °C, colour: red, length: 20 ft}
  W3: {from: block.1, to: heater.+, gauge: 10 AWG, insulation: 105 °C, colour: red, length: 2 ft}
  W4: {from: heater.-, to: house.-, gauge: 10 AWG, insulation: 105 °C, colour: black, length: 5 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  main-fuse: {rating: 30 A, form: blade maxi, zone: cabin}
fuse-blocks:
  block: {feed-rating: 60 A, form: blade regular, ways: {1: 25 A}, zone: cabin}
loads:
  heater: {draw: 20 A, kind: heater, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 6 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: block.feed, gauge: 6 AWG, insulation: 105 °C, colour: red, length: 20 ft}
  W3: {from: block.1, to: heater.+, gauge: 10 AWG, insulation: 105 °C, colour: red, length: 2 ft}
  W4: {from: heater.-, to: house.-, gauge: 10 AWG, insulation: 105 °C, colour: black, length: 5 ft}
",
    fix: "Use thicker conductors for the feed and its return.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let limit = panel_limit(system);
    for block in &facts.drops.blocks {
        if block.percent <= limit.percent + SAME_PERCENT {
            continue;
        }
        let Some(drop) = facts.drops.of(block.load) else {
            continue;
        };
        let component = &system.components[block.block.index()];
        let (share, most) = format_against(block.percent, limit.percent, "%");
        let feed: Vec<ConductorId> = drop
            .path
            .iter()
            .copied()
            .filter(|id| !drop.own_positive.contains(id) && !drop.own_negative.contains(id))
            .collect();
        let mut finding = rule.finding(
            &component.name,
            format!(
                "the feed of {} loses {}, {share}, {}; at most {most} is allowed for the main feed of a panel",
                component.name,
                volts(block.total, Rounding::Up),
                case_words(system, &drop.case)
            ),
        );
        if let Some(worst) = most_resistance(system, &feed) {
            let conductor = &system.conductors[worst.index()];
            let span = conductor
                .gauge
                .and_then(|gauge| gauge.span)
                .unwrap_or(conductor.span);
            finding = finding.label(span, "most of it is lost here");
        }
        findings.push(
            finding
                .label(component.span, "this block")
                .compared(
                    Figure::new("voltage drop", block.percent, "%"),
                    Figure::new("largest drop", limit.percent, "%"),
                )
                .in_positions(positions(system, &drop.case))
                .repair(format!(
                    "use thicker conductors for {}",
                    wires(system, &feed)
                )),
        );
    }
}
