//! A load that loses more voltage than its class allows.

use super::super::telling::{listed, wires};
use super::{SAME_PERCENT, case_words, most_resistance};
use crate::analysis::Facts;
use crate::analysis::voltage_drop::{DropLimit, LoadDrop, load_limit, positions};
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::{citations, rule_drop_resistance, sold_sizes};
use crate::system::{ConductorId, Load, LoadId};
use crate::units::{Rounding, amps, format_against, volts};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "VD301",
    name: "drop-exceeded",
    title: "Voltage drop to a load is above the limit of its class",
    severity: Severity::Warning,
    basis: &[citations::INSPECTED_DROP],
    checks: "The round-trip drop of every load by the size formula (K = 10.75 over the true area), through feeder and branch and both poles, with the current of everything that runs at the same time, against 3 % for critical loads (navigation lights, bilge pumps and blowers, electronics, alarms), 10 % for others, or the load's own limit. Judged in the declared scenarios in which it runs; else with everything on in the worst battery-switch position that neither joins banks nor is for emergencies. A load that safety depends on is an error.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  light-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  anchor-light: {draw: 2 A, kind: lamp, service: navigation-light, zone: cabin}
runs:
  W1: {from: house.+, to: light-fuse.in, gauge: 16 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: light-fuse.out, to: anchor-light.+, gauge: 16 AWG, insulation: 105 °C, colour: red, length: 25 ft}
  W3: {from: anchor-light.-, to: house.-, gauge: 16 AWG, insulation: 105 °C, colour: black, length: 25 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  light-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  anchor-light: {draw: 2 A, kind: lamp, service: navigation-light, zone: cabin}
runs:
  W1: {from: house.+, to: light-fuse.in, gauge: 16 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: light-fuse.out, to: anchor-light.+, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 25 ft}
  W3: {from: anchor-light.-, to: house.-, gauge: 14 AWG, insulation: 105 °C, colour: black, length: 25 ft}
",
    fix: "Use thicker conductors, or a shorter way, where most of it is lost.",
    check,
};

/// Loads named as sharing a feeder before the rest is counted.
const SHARING_TOLD: usize = 3;

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    for (index, load) in facts.system.loads.iter().enumerate() {
        let id = LoadId::at(index);
        let Some(drop) = facts.drops.of(id) else {
            continue;
        };
        let limit = load_limit(facts.system, load);
        if load.draw.is_some() && drop.percent > limit.percent + SAME_PERCENT {
            findings.push(exceeded(rule, facts, id, load, drop, &limit));
        }
    }
}

fn exceeded(
    rule: &Rule,
    facts: &Facts<'_>,
    id: LoadId,
    load: &Load,
    drop: &LoadDrop,
    limit: &DropLimit,
) -> Diagnostic {
    let system = facts.system;
    let (share, most) = format_against(drop.percent, limit.percent, "%");
    let at_least = if drop.missing.is_empty() {
        ""
    } else {
        "at least "
    };
    let lost = volts(drop.total, Rounding::Up);
    let parts = format!(
        "{} in the feeder, {} in its own conductors; {} in the positive, {} in the negative",
        volts(drop.split.feeder(), Rounding::Nearest),
        volts(drop.split.branch(), Rounding::Nearest),
        volts(drop.split.positive(), Rounding::Nearest),
        volts(drop.split.negative(), Rounding::Nearest)
    );
    let mut finding = rule.finding(
        &load.name,
        format!(
            "{} loses {at_least}{lost} by the size formula, {share} of {:.0} V, {}; at most {most} is allowed ({}): {parts}{}{}",
            load.name,
            load.nominal.value.0,
            case_words(system, &drop.case),
            limit.class,
            as_solved(facts, id, load, limit),
            sharing(facts, id)
        ),
    );
    if load.vital {
        finding.severity = Severity::Error;
    }
    // The limit's own authority comes first; the neighbouring law is the only one whose text was read.
    finding.basis.insert(0, limit.basis);
    let own: Vec<ConductorId> = drop
        .own_positive
        .iter()
        .chain(&drop.own_negative)
        .copied()
        .collect();
    let shared: Vec<ConductorId> = drop
        .path
        .iter()
        .copied()
        .filter(|id| !own.contains(id))
        .collect();
    let blamed = if drop.split.branch() >= drop.split.feeder() {
        &own
    } else {
        &shared
    };
    if let Some(worst) = most_resistance(system, blamed) {
        let conductor = &system.conductors[worst.index()];
        let span = conductor
            .gauge
            .and_then(|gauge| gauge.span)
            .unwrap_or(conductor.span);
        finding = finding.label(span, "most of it is lost here");
    }
    let origin = load.drop.span.unwrap_or(load.span);
    finding
        .label(origin, "limit of this load")
        .compared(
            Figure::new("voltage drop", drop.percent, "%"),
            Figure::new("largest drop", limit.percent, "%"),
        )
        .in_positions(positions(system, &drop.case))
        .along(
            drop.path
                .iter()
                .map(|id| system.conductors[id.index()].number.clone())
                .collect(),
        )
        .repair(repair(facts, load, drop, limit, &own, &shared))
}

/// What the solved network says beside the formula: `; as solved it loses 4.2 % in scenario night, which fails too`.
fn as_solved(facts: &Facts<'_>, id: LoadId, load: &Load, limit: &DropLimit) -> String {
    let Some(solved) = facts.drops.solved(id) else {
        return String::new();
    };
    let percent = solved.lost() / load.nominal.value * 100.0;
    let (share, _) = format_against(percent, limit.percent, "%");
    let verdict = if percent > limit.percent + SAME_PERCENT {
        "fails too"
    } else {
        "passes"
    };
    format!(
        "; as solved it loses {share} {}, which {verdict}",
        solved.words(facts.system)
    )
}

/// Who else is on the feeder: `; pump (10 A), fan (3.0 A) and 4 more share the feeder`.
fn sharing(facts: &Facts<'_>, load: LoadId) -> String {
    let others = facts.drops.sharing(load);
    if others.is_empty() {
        return String::new();
    }
    let mut told: Vec<String> = others
        .iter()
        .take(SHARING_TOLD)
        .map(|&(other, current)| {
            let name = &facts.system.loads[other.index()].name;
            format!("{name} ({})", amps(current, Rounding::Nearest))
        })
        .collect();
    if others.len() > SHARING_TOLD {
        told.push(format!("{} more", others.len() - SHARING_TOLD));
    }
    let verb = if others.len() == 1 { "shares" } else { "share" };
    format!("; {} {verb} the feeder", listed(&told))
}

/// The thinnest size for the load's own conductors that brings it within the limit, or a word about its feeder.
fn repair(
    facts: &Facts<'_>,
    load: &Load,
    drop: &LoadDrop,
    limit: &DropLimit,
    own: &[ConductorId],
    shared: &[ConductorId],
) -> String {
    let system = facts.system;
    let allowed = load.nominal.value * (limit.percent / 100.0);
    let left = allowed - drop.split.feeder();
    let current = load.current().unwrap_or_default();
    let metres: f64 = own
        .iter()
        .filter_map(|id| system.conductors[id.index()].length)
        .map(|length| length.value.0)
        .sum();
    let enough = sold_sizes(system.boat.practice).iter().find(|&&size| {
        let (per_metre, _) = rule_drop_resistance(size);
        current.0 * per_metre.0 * metres <= left.0
    });
    match enough {
        Some(size) if !own.is_empty() && left.0 > 0.0 => {
            format!("use at least {size} for {}", wires(system, own))
        }
        _ if shared.is_empty() => format!("bring {} nearer to its source", load.name),
        _ => format!(
            "use thicker conductors for the feeder {}, which alone loses {}",
            wires(system, shared),
            volts(drop.split.feeder(), Rounding::Nearest)
        ),
    }
}
