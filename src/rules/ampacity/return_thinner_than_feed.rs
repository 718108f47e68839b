//! A return conductor thinner than the positive of the same load.

use super::size_span;
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::rules::telling::wires;
use crate::standards::citations;
use crate::system::{ConductorId, LoadId};
use crate::units::Gauge;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "AM206",
    name: "return-thinner-than-feed",
    title: "Return conductor is thinner than the positive of the same load",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Where a load has conductors of its own on both sides, no return conductor is thinner than its thinnest positive: the same current flows in both, and the device is chosen for the positive.",
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
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 16 AWG, insulation: 105 °C, colour: black, length: 6 ft}
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
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, insulation: 105 °C, colour: black, length: 6 ft}
",
    fix: "Use the same size on both sides.",
    check,
};

/// Share by which two currents may differ and still be one.
const SAME: f64 = 1e-6;

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for (index, load) in system.loads.iter().enumerate() {
        let Some(drop) = facts.drops.of(LoadId::at(index)) else {
            continue;
        };
        let Some(current) = load.current() else {
            continue;
        };
        // A conductor that ever carries more is shared in some other case, and chosen for that.
        let is_own = |id: &ConductorId| {
            let peak = facts.currents.load(system.conductors[id.index()].link);
            peak.amps.0 <= current.0 * (1.0 + SAME) + SAME
        };
        let size = |id: &ConductorId| Some((*id, system.conductors[id.index()].gauge?.value));
        let sizes = |ids: &[ConductorId]| -> Vec<(ConductorId, Gauge)> {
            ids.iter()
                .filter(|id| is_own(id))
                .filter_map(size)
                .collect()
        };
        let positive = sizes(&drop.own_positive);
        let Some(&(feed, feed_size)) = positive.iter().min_by(|(_, a), (_, b)| a.by_area(b)) else {
            continue;
        };
        let thin: Vec<(ConductorId, Gauge)> = sizes(&drop.own_negative)
            .into_iter()
            .filter(|(_, size)| size.area() < feed_size.area())
            .collect();
        let Some(&(worst, worst_size)) = thin.iter().min_by(|(_, a), (_, b)| a.by_area(b)) else {
            continue;
        };
        let ids: Vec<ConductorId> = thin.iter().map(|&(id, _)| id).collect();
        let conductor = &system.conductors[worst.index()];
        let positive = &system.conductors[feed.index()];
        findings.push(
            rule.finding(
                &conductor.number,
                format!(
                    "the return of {} is {worst_size} in {}, thinner than its thinnest positive {}, {feed_size}",
                    load.name,
                    wires(system, &ids),
                    positive.number
                ),
            )
            .label(size_span(conductor), "thinner than the positive")
            .label(size_span(positive), "the thinnest positive")
            .compared(
                Figure::new("cross-section", worst_size.area().0, "mm²"),
                Figure::new("least cross-section", feed_size.area().0, "mm²"),
            )
            .repair(format!(
                "use at least {feed_size} for {}",
                wires(system, &ids)
            )),
        );
    }
}
