//! A motor that is held, and a device that lets its current pass.

use super::super::telling::rating;
use super::{also_on, form, nearest_devices};
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::{self, citations, constants};
use crate::system::{DeviceId, LoadId, LoadKind};
use crate::units::{Amps, Rounding, amps, decimal};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "DP806",
    name: "held-motor-not-cleared",
    title: "Device lets the current of a held motor pass",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Where a motor states its current with the rotor held, and is not protected against that inside: by the published points of its form the device before it opens within ten minutes. It is a note where the device is what the maker of the motor allows, and where no point is published. A pump that is jammed by a rag heats its windings until they burn.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  pump-fuse: {rating: 10 A, form: blade regular, zone: cabin}
loads:
  pump: {draw: 4 A, stall: 12 A, kind: motor, drop: 10 %, zone: cabin}
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
  pump-fuse: {rating: 7.5 A, form: blade regular, zone: cabin}
loads:
  pump: {draw: 4 A, stall: 12 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: pump-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: pump-fuse.out, to: pump.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: pump.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Fit a smaller device, or a motor that is thermally protected.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    for (index, load) in facts.system.loads.iter().enumerate() {
        let guarded = load.thermally_protected.is_some_and(|given| given.value);
        if load.kind != LoadKind::Motor || load.stall.is_none() || guarded {
            continue;
        }
        let id = LoadId::at(index);
        // Of several devices that may feed it the largest lets most pass.
        let rating = |device: &DeviceId| {
            let rating = facts.system.devices[device.index()].rating;
            rating.map_or(Amps(0.0), |given| given.value)
        };
        let largest = nearest_devices(facts, id)
            .into_iter()
            .max_by(|a, b| rating(a).total_cmp(&rating(b)).then_with(|| b.cmp(a)));
        findings.extend(largest.and_then(|device| judge(rule, facts, id, device)));
    }
}

fn judge(rule: &Rule, facts: &Facts<'_>, load: LoadId, device: DeviceId) -> Option<Diagnostic> {
    let load = &facts.system.loads[load.index()];
    let device = &facts.system.devices[device.index()];
    let (stall, rated) = (load.stall?, device.rating?);
    let percent = stall.value / rated.value * 100.0;
    let (minutes, basis) = constants::held_motor_minutes();
    let points = form(device).filter(|&form| !standards::opening_points(form).is_empty());
    let opened = points.and_then(|form| standards::opened_within(form, percent));
    if opened.is_some_and(|(time, _)| time.0 <= minutes * 60.0) {
        return None;
    }
    let by_maker = load
        .largest_fuse
        .is_some_and(|largest| rated.value <= largest.value);
    let (severity, words) = match (points, opened) {
        // Nothing passes less than its rating, so the lack of points leaves this much open only above it.
        (None, _) if percent > 100.0 => (
            Severity::Note,
            "when that opens it is not published for its form".to_owned(),
        ),
        (_, Some((time, _))) => (
            Severity::Warning,
            format!(
                "which may take {} minutes to open it",
                decimal(time.0 / 60.0, 0)
            ),
        ),
        (_, None) => (Severity::Warning, "which may never open it".to_owned()),
    };
    let mut finding = rule.finding(
        &device.name,
        format!(
            "{} takes {} with the rotor held, {} % of the {} of {}, {words}",
            load.name,
            amps(stall.value, Rounding::Nearest),
            decimal(percent, 0),
            rating(rated.value),
            device.name,
        ),
    );
    finding.severity = if by_maker { Severity::Note } else { severity };
    let finding = finding
        .label(rated.span.or(Some(device.span)), "rated here")
        .label(stall.span, "current with the rotor held")
        .compared(
            Figure::new("current of the held motor", stall.value.0, "A"),
            Figure::new("device rating", rated.value.0, "A"),
        )
        .repair(if by_maker {
            format!("ask the maker of {} whether it is protected inside, and say so", load.name)
        } else {
            format!(
                "fit less than {} in {} where the running current allows it, or a motor that is thermally protected",
                rating(Amps((stall.value.0).floor())),
                device.name
            )
        });
    Some(also_on(
        finding,
        [basis].into_iter().chain(opened.map(|(_, basis)| basis)),
    ))
}
