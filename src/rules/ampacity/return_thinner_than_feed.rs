//! A return conductor thinner than the positive of the same load.

use super::size_span;
use crate::analysis::Facts;
use crate::analysis::states::ends;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::rules::telling::{numbers, wires};
use crate::standards::citations;
use crate::system::{ComponentKind, ConductorId, LoadId};
use crate::units::Gauge;
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "AM206",
    name: "return-thinner-than-feed",
    title: "Return conductor is thinner than the positive of the same loads",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Where a load has conductors of its own on both sides, no return conductor is thinner than its thinnest positive: the same current flows in both, and the device is chosen for the positive. A shared return is not thinner than the thinnest shared positive of loads that all return through it, for it carries at least as much. A return that is thicker than each of several feeds and takes them all is as it should be.",
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
/// Conductors looked at, load by load, for shared returns.
const MAX_STEPS: usize = 4_000_000;

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    own_returns(rule, facts, findings);
    shared_returns(rule, facts, findings);
}

/// Conductors that carry one load's current only.
fn own_returns(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for (index, load) in system.loads.iter().enumerate() {
        let Some(drop) = facts.drops.of(LoadId::at(index)) else {
            continue;
        };
        let Some(current) = load.current() else {
            continue;
        };
        // The positives of a combiner are sized for what it passes, its negative for its own electronics.
        if system.components[load.component.index()].kind == ComponentKind::Combiner {
            continue;
        }
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

/// Conductors that several loads share, on both sides.
fn shared_returns(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let is_negative = |id: ConductorId| {
        let (a, b) = ends(system, system.conductors[id.index()].link);
        facts.nets.is_negative(a) || facts.nets.is_negative(b)
    };
    // By load: its shared positive conductors. By conductor: the loads that share it.
    let mut positives: Vec<Vec<ConductorId>> = vec![Vec::new(); system.loads.len()];
    let mut sharing: Vec<Vec<LoadId>> = vec![Vec::new(); system.conductors.len()];
    for (index, positives) in positives.iter_mut().enumerate() {
        let Some(drop) = facts.drops.of(LoadId::at(index)) else {
            continue;
        };
        for &id in &drop.path {
            let own = drop.own_positive.contains(&id) || drop.own_negative.contains(&id);
            if own || system.conductors[id.index()].gauge.is_none() {
                continue;
            }
            sharing[id.index()].push(LoadId::at(index));
            if !is_negative(id) {
                positives.push(id);
            }
        }
    }
    let area = |id: ConductorId| {
        system.conductors[id.index()]
            .gauge
            .map_or(0.0, |gauge| gauge.value.area().0)
    };
    let peak = |id: ConductorId| {
        let conductor = &system.conductors[id.index()];
        facts.currents.load(conductor.link).amps.0
    };
    // What is thick for another reason, such as the cable of a battery, asks nothing of the return.
    for shared in &mut positives {
        let least = shared.iter().map(|&id| area(id)).min_by(f64::total_cmp);
        shared.retain(|&id| Some(area(id)) == least);
    }
    let mut steps = MAX_STEPS;
    let mut thin: BTreeMap<ConductorId, Vec<ConductorId>> = BTreeMap::new();
    for index in 0..system.conductors.len() {
        let id = ConductorId::at(index);
        let loads = &sharing[index];
        if loads.len() < 2 || !is_negative(id) {
            continue;
        }
        let cost = loads.iter().map(|load| positives[load.index()].len());
        let Some(left) = steps.checked_sub(cost.sum()) else {
            findings.push(
                rule.not_proved(
                    "",
                    "the boat has too many shared returns to compare all of them with their feeds",
                )
                .label(size_span(&system.conductors[index]), "from here on")
                .repair("check a part of the boat by itself"),
            );
            break;
        };
        steps = left;
        let mut through: BTreeMap<ConductorId, usize> = BTreeMap::new();
        for load in loads {
            for &positive in &positives[load.index()] {
                // Of several returns in parallel each carries a share only.
                let carries_it = peak(id) * (1.0 + SAME) + SAME >= peak(positive);
                if carries_it && area(positive) > area(id) {
                    *through.entry(positive).or_default() += 1;
                }
            }
        }
        let feed = through
            .into_iter()
            .filter(|&(positive, count)| count > 1 && count == sharing[positive.index()].len())
            .map(|(positive, _)| positive)
            .max_by(|a, b| area(*a).total_cmp(&area(*b)).then_with(|| b.cmp(a)));
        if let Some(feed) = feed {
            thin.entry(feed).or_default().push(id);
        }
    }
    for (feed, ids) in thin {
        let Some(&worst) = ids
            .iter()
            .min_by(|a, b| area(**a).total_cmp(&area(**b)).then_with(|| a.cmp(b)))
        else {
            continue;
        };
        let (thinnest, positive) = (
            &system.conductors[worst.index()],
            &system.conductors[feed.index()],
        );
        let (Some(size), Some(feed_size)) = (thinnest.gauge, positive.gauge) else {
            continue;
        };
        findings.push(
            rule.finding(
                &thinnest.number,
                format!(
                    "the {} loads that {} feeds in {} return through {}, as thin as {}",
                    sharing[feed.index()].len(),
                    positive.number,
                    feed_size.value,
                    wires(system, &ids),
                    size.value
                ),
            )
            .and_also(numbers(system, &ids))
            .label(size_span(thinnest), "thinner than the feed")
            .label(size_span(positive), "the feed of the same loads")
            .compared(
                Figure::new("cross-section", size.value.area().0, "mm²"),
                Figure::new("least cross-section", feed_size.value.area().0, "mm²"),
            )
            .repair(format!(
                "use at least {} for {}",
                feed_size.value,
                wires(system, &ids)
            )),
        );
    }
}
