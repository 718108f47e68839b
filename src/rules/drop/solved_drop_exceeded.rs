//! A load that passes by the size formula and not by what a meter would show.

use super::super::telling::listed;
use super::SAME_PERCENT;
use crate::analysis::Facts;
use crate::analysis::voltage_drop::load_limit;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::{Basis, Confidence};
use crate::system::LoadId;
use crate::units::{Rounding, Volts, format_against, volts};

/// Where the figure comes from.
const SOLVED: Basis = Basis::clause(
    "IEC 60228, FAA AC 43.13-1B",
    "",
    "largest resistance of tinned stranded cable, at its temperature",
    Confidence::Computed,
);

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "VD305",
    name: "solved-drop-exceeded",
    title: "Voltage drop passes by the size formula but not as solved",
    severity: Severity::Note,
    basis: &[SOLVED],
    checks: "The solved drop, between the terminals of the source and those of the load, with the largest resistance that conforming cable may have at its temperature, contacts and fuses, where the size formula passes. The formula supposes cool copper and nothing else, so real cable loses up to a quarter more: worth knowing before relying on the last tenth of a per cent.",
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
  W2: {from: light-fuse.out, to: anchor-light.+, gauge: 16 AWG, insulation: 105 °C, colour: red, length: 21 ft}
  W3: {from: anchor-light.-, to: house.-, gauge: 16 AWG, insulation: 105 °C, colour: black, length: 21 ft}
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
  W2: {from: light-fuse.out, to: anchor-light.+, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 21 ft}
  W3: {from: anchor-light.-, to: house.-, gauge: 14 AWG, insulation: 105 °C, colour: black, length: 21 ft}
",
    fix: "Use the next thicker size where the last of the limit matters.",
    check,
};

/// One load that passes by the formula only.
struct Passing {
    load: LoadId,
    percent: f64,
    limit: f64,
}

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let mut passing: Vec<Passing> = Vec::new();
    for (index, load) in system.loads.iter().enumerate() {
        let id = LoadId::at(index);
        let (Some(drop), Some(solved)) = (facts.drops.of(id), facts.drops.solved(id)) else {
            continue;
        };
        let limit = load_limit(system, load).percent;
        let percent = solved.lost() / load.nominal.value * 100.0;
        let passes = drop.percent <= limit + SAME_PERCENT && drop.missing.is_empty();
        if passes && percent > limit + SAME_PERCENT {
            passing.push(Passing {
                load: id,
                percent,
                limit,
            });
        }
    }
    // One note for the whole boat, led by the load that is furthest over.
    passing.sort_by(|a, b| {
        (b.percent / b.limit)
            .total_cmp(&(a.percent / a.limit))
            .then(a.load.cmp(&b.load))
    });
    let Some(worst) = passing.first() else {
        return;
    };
    let load = &system.loads[worst.load.index()];
    let by_formula = facts.drops.of(worst.load).map_or(0.0, |drop| drop.percent);
    let (share, most) = format_against(worst.percent, worst.limit, "%");
    let Some(solved) = facts.drops.solved(worst.load) else {
        return;
    };
    let when = solved.words(system);
    let part = |part: Volts| volts(part, Rounding::Nearest);
    let parts = format!(
        "{} in the feeder, {} in its own way; {} in the positive, {} in the negative; {} of it in contacts, devices and joints",
        part(solved.split.feeder()),
        part(solved.split.branch()),
        part(solved.split.positive()),
        part(solved.split.negative()),
        part(solved.joints),
    );
    let others: Vec<String> = passing[1..]
        .iter()
        .map(|other| {
            let (share, _) = format_against(other.percent, other.limit, "%");
            format!("{} ({share})", system.loads[other.load.index()].name)
        })
        .collect();
    let likewise = match others.len() {
        0 => String::new(),
        1 => format!("; {} passes the same way", others[0]),
        _ => format!("; {} pass the same way", listed(&others)),
    };
    findings.push(
        rule.finding(
            &load.name,
            format!(
                "{} loses {share} as solved {when}, though {by_formula:.1} % by the size formula; the limit is {most}: {parts}{likewise}",
                load.name
            ),
        )
        .label(load.span, "passes by the formula only")
        .compared(
            Figure::new("solved drop", worst.percent, "%"),
            Figure::new("largest drop", worst.limit, "%"),
        )
        .repair(format!(
            "use the next thicker size on the way to {} if the last of it matters",
            load.name
        )),
    );
}
