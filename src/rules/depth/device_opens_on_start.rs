//! A device that may open while its motor runs up.

use super::super::telling::rating;
use super::{also_on, form, nearest_devices};
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::{self, citations, constants};
use crate::system::{DeviceId, Duty, LoadId};
use crate::units::{Amps, Rounding, amps, decimal};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "DP805",
    name: "device-opens-on-start",
    title: "Device may open when its load starts",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Where a load states its peak: by the published points of its form the device before it holds that current for the half second that a motor may take to run up. A device that may open within the tenth of a second of the inrush is a warning, one that may open later a note, and so is one of a form for which no point is published. A device of the largest size that the maker of the load allows is taken as the maker's word. Both times are common practice.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  pump-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  pump: {draw: 3 A, peak: 15 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: pump-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: pump-fuse.out, to: pump.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: pump.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  pump-fuse: {rating: 15 A, form: blade regular, zone: cabin}
loads:
  pump: {draw: 3 A, peak: 15 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: pump-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: pump-fuse.out, to: pump.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: pump.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Fit a larger or slower device that the conductor and the maker of the load allow.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    for (index, load) in facts.system.loads.iter().enumerate() {
        if load.peak.is_none() || load.duty == Duty::Surge {
            continue;
        }
        let id = LoadId::at(index);
        // Of several devices that may feed it the smallest opens first.
        let rating = |device: &DeviceId| {
            let rating = facts.system.devices[device.index()].rating;
            rating.map_or(Amps(f64::MAX), |given| given.value)
        };
        let smallest = nearest_devices(facts, id)
            .into_iter()
            .min_by(|a, b| rating(a).total_cmp(&rating(b)).then_with(|| a.cmp(b)));
        findings.extend(smallest.and_then(|device| judge(rule, facts, id, device)));
    }
}

fn judge(rule: &Rule, facts: &Facts<'_>, load: LoadId, device: DeviceId) -> Option<Diagnostic> {
    let load = &facts.system.loads[load.index()];
    let device = &facts.system.devices[device.index()];
    let (peak, rated) = (load.peak?, device.rating?);
    // The size that the maker of the load states has been tried with its start.
    if load
        .largest_fuse
        .is_some_and(|largest| rated.value >= largest.value)
    {
        return None;
    }
    let share = peak.value / rated.value;
    // A current at the rating is carried for long.
    if share <= 1.0 {
        return None;
    }
    let ((start, _), (inrush, basis)) = (constants::motor_start(), constants::motor_inrush());
    let form = form(device).filter(|&form| !standards::opening_points(form).is_empty());
    let (severity, words, more) = match form {
        None => (
            Severity::Note,
            "for how long it holds that is not published for its form".to_owned(),
            None,
        ),
        Some(form) => match standards::holds_for(form, share * 100.0) {
            Some((holds, _)) if holds >= start => return None,
            Some((holds, point)) => (
                if holds < inrush {
                    Severity::Warning
                } else {
                    Severity::Note
                },
                format!("which may open it after {} s", decimal(holds.0, 2)),
                Some(point),
            ),
            None => (
                Severity::Warning,
                "beyond the last published point, so it opens at once".to_owned(),
                None,
            ),
        },
    };
    let mut finding = rule.finding(
        &device.name,
        format!(
            "{} takes up to {} when it starts, {} % of the {} of {}, {words}",
            load.name,
            amps(peak.value, Rounding::Up),
            decimal(share * 100.0, 0),
            rating(rated.value),
            device.name,
        ),
    );
    finding.severity = severity;
    let finding = finding
        .label(rated.span.or(Some(device.span)), "rated here")
        .label(peak.span, "its peak")
        .compared(
            Figure::new("peak", peak.value.0, "A"),
            Figure::new("device rating", rated.value.0, "A"),
        )
        .repair(format!(
            "compare the curve of {} with the start of {}, or fit at least {} where conductor and maker allow it",
            device.name,
            load.name,
            rating(Amps(peak.value.0.ceil()))
        ));
    Some(also_on(finding, [basis].into_iter().chain(more)))
}
