//! A short at the far end of a conductor that draws too little to open its device.

use super::super::telling::rating;
use super::{also_on, feed_words, form, is_judged};
use crate::analysis::Facts;
use crate::analysis::fault_current::FarEnd;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::{self, citations, constants};
use crate::system::{ConductorId, DeviceId};
use crate::units::{Amps, Rounding, amps, decimal};
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "DP802",
    name: "short-not-cleared",
    title: "Short at the far end is too small to open the device",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "A short at the far end of each protected conductor, fed by the weakest single battery over warm copper, draws at least six times the rating of the device before it. Less is enough where the published opening times of the form say that it opens within five seconds. Six times is common practice; trade figures run from five to six, so between three and a half times, where every published fuse family opens within seconds, and six it is told as a note. A short that its device lets pass heats the wire until something burns.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  masthead-fuse: {rating: 20 A, zone: cabin}
loads:
  masthead-light: {draw: 0.2 A, kind: lamp, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: masthead-fuse.in, gauge: 16 AWG, colour: red, length: 6 in}
  W2: {from: masthead-fuse.out, to: masthead-light.+, gauge: 16 AWG, colour: red, length: 40 ft}
  W3: {from: masthead-light.-, to: house.-, gauge: 16 AWG, colour: black, length: 40 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  masthead-fuse: {rating: 1 A, zone: cabin}
loads:
  masthead-light: {draw: 0.2 A, kind: lamp, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: masthead-fuse.in, gauge: 16 AWG, colour: red, length: 6 in}
  W2: {from: masthead-fuse.out, to: masthead-light.+, gauge: 16 AWG, colour: red, length: 40 ft}
  W3: {from: masthead-light.-, to: house.-, gauge: 16 AWG, colour: black, length: 40 ft}
",
    fix: "Fit a smaller device, or a thicker conductor.",
    check,
};

/// The conductor of a device whose far end fares worst.
struct Worst {
    conductor: ConductorId,
    far: FarEnd,
}

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let mut worst: BTreeMap<DeviceId, Worst> = BTreeMap::new();
    let mut unknown: BTreeMap<DeviceId, ConductorId> = BTreeMap::new();
    for index in 0..system.conductors.len() {
        let conductor = ConductorId::at(index);
        if !is_judged(facts, conductor) {
            continue;
        }
        for far in facts.faults.far_ends(conductor) {
            let Some(device) = far.device else { continue };
            if let Some(missing) = far.unknown {
                unknown.entry(device).or_insert(missing);
            }
            let worse = worst
                .get(&device)
                .is_none_or(|found| far.current < found.far.current);
            if worse {
                let far = *far;
                worst.insert(device, Worst { conductor, far });
            }
        }
    }
    let unseen = facts.faults.unseen_feeds();
    if unseen > 0
        && let Some(source) = system.sources.last()
    {
        findings.push(
            rule.not_proved(
                "",
                format!("{unseen} batteries and strings are left out, because the boat has more than the effort allowed can cover"),
            )
            .label(source.span, "one of the last")
            .repair("check a part of the boat by itself"),
        );
    }
    for (device, found) in worst {
        if clears(facts, device, found.far.current) == Some(false) {
            findings.push(told(rule, facts, device, &found));
        } else if let Some(&missing) = unknown.get(&device) {
            findings.push(not_judged(rule, facts, device, missing));
        }
    }
}

/// Whether a device opens in time at a current; none where it has no rating.
fn clears(facts: &Facts<'_>, device: DeviceId, current: Amps) -> Option<bool> {
    let device = &facts.system.devices[device.index()];
    let rated = device.rating?.value;
    let times = current / rated;
    if times >= constants::clearing_multiple().0 {
        return Some(true);
    }
    let opened = form(device).and_then(|form| standards::opened_within(form, times * 100.0));
    Some(opened.is_some_and(|(time, _)| time <= constants::adiabatic_validity().0))
}

fn told(rule: &Rule, facts: &Facts<'_>, device: DeviceId, found: &Worst) -> Diagnostic {
    let system = facts.system;
    let record = &system.devices[device.index()];
    let conductor = &system.conductors[found.conductor.index()];
    let rated = record.rating.map_or(Amps(0.0), |given| given.value);
    let (times, basis) = constants::clearing_multiple();
    let current = found.far.current;
    let mut finding = rule
        .finding(
            &record.name,
            format!(
                "a short at the far end of {} draws {} from {} alone, {} times the {} of {}; under {} times it may not open in time",
                conductor.number,
                amps(current, Rounding::Nearest),
                feed_words(facts, found.far.feed),
                decimal(current / rated, 1),
                rating(rated),
                record.name,
                decimal(times, 0),
            ),
        )
        .label(
            record.rating.and_then(|given| given.span).or(Some(record.span)),
            "too large for so small a current",
        )
        .label(
            conductor
                .length
                .and_then(|given| given.span)
                .or(Some(conductor.span)),
            "the short lies at its far end",
        )
        .compared(
            Figure::new("smallest fault current", current.0, "A"),
            Figure::new("current that opens it in time", times * rated.0, "A"),
        )
        .repair(format!(
            "fit at most {} in {}, or a thicker conductor in place of {}",
            rating(Amps((current.0 / times).floor().max(1.0))),
            record.name,
            conductor.number
        ));
    let (slow, slow_basis) = constants::slow_clearing_multiple();
    if current / rated >= slow {
        finding.severity = Severity::Note;
    }
    also_on(finding, [basis, slow_basis])
}

fn not_judged(
    rule: &Rule,
    facts: &Facts<'_>,
    device: DeviceId,
    missing: ConductorId,
) -> Diagnostic {
    let system = facts.system;
    let record = &system.devices[device.index()];
    let conductor = &system.conductors[missing.index()];
    let what = if conductor.gauge.is_none() {
        "size"
    } else {
        "length"
    };
    let mut finding = rule
        .not_proved(
            &record.name,
            format!(
                "whether a short at the far end opens {} is not judged: the {what} of {} is not given",
                record.name, conductor.number
            ),
        )
        .label(conductor.span, format!("{what} not given"))
        .repair(format!("give the {what} of {}", conductor.number));
    // The missing size or length is counted where it is asked for.
    finding.severity = Severity::Note;
    finding
}
