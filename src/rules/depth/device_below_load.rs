//! A device that carries more, or nearly as much, as it is rated for.

use super::super::telling::{rating, switches_at};
use super::{also_on, nearest_devices};
use crate::analysis::Facts;
use crate::analysis::currents::CaseKind;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::{citations, constants};
use crate::system::{DeviceId, Duty, LoadId};
use crate::units::{Amps, Rounding, amps, decimal};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "DP804",
    name: "device-below-load",
    title: "Device is rated below the current that it carries",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "The rating of each device is at least the largest current through it, in the declared scenarios or else with everything on; where the excess is intermittent it is a note. A continuous current above four fifths of the rating is a note too: makers advise to stay below 75 to 80 %, and heat takes more. A device that opens without a fault will be replaced by a larger one.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  heater-fuse: {rating: 7.5 A, form: blade regular, zone: cabin}
loads:
  heater: {draw: 8 A, kind: heater, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: heater-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: heater-fuse.out, to: heater.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: heater.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  heater-fuse: {rating: 10 A, form: blade regular, zone: cabin}
loads:
  heater: {draw: 8 A, kind: heater, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: heater-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: heater-fuse.out, to: heater.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: heater.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Fit the next larger device that its conductor allows, or fewer loads behind it.",
    check,
};

/// Currents nearer than this are one; in amperes.
const SAME_AMPS: f64 = 1e-6;

/// The loads that hang on a device with no other device between.
#[derive(Clone, Default)]
struct Direct {
    loads: Vec<LoadId>,
    /// What its continuous loads take together.
    continuous: f64,
}

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let mut direct = vec![Direct::default(); system.devices.len()];
    for (index, load) in system.loads.iter().enumerate() {
        for device in nearest_devices(facts, LoadId::at(index)) {
            let direct = &mut direct[device.index()];
            direct.loads.push(LoadId::at(index));
            if load.duty == Duty::Continuous {
                direct.continuous += load.current().map_or(0.0, |current| current.0);
            }
        }
    }
    for (index, direct) in direct.iter().enumerate() {
        findings.extend(judge(rule, facts, DeviceId::at(index), direct));
    }
}

fn judge(rule: &Rule, facts: &Facts<'_>, id: DeviceId, direct: &Direct) -> Option<Diagnostic> {
    let system = facts.system;
    let device = &system.devices[id.index()];
    let rated = device.rating?;
    let peak = facts.currents.load(device.link);
    let case = facts.currents.cases.get(peak.case?)?;
    let charging = matches!(case.kind, CaseKind::Charging(_));
    // A device with further devices behind it carries a mixture, of which nothing is taken off.
    let continuous = if direct.loads.is_empty() {
        peak.amps
    } else {
        Amps(direct.continuous.min(peak.amps.0))
    };
    let (share, basis) = constants::continuous_load_share();
    let above = |current: Amps, limit: Amps| current.0 > limit.0 + SAME_AMPS;
    let (severity, current, limit, words) = if above(peak.amps, rated.value) {
        let severity = if above(continuous, rated.value) {
            Severity::Warning
        } else {
            Severity::Note
        };
        (severity, peak.amps, rated.value, String::new())
    } else if above(continuous, rated.value * share) && !charging {
        let percent = decimal(share * 100.0, 0);
        let words = format!(", above {percent} % for a continuous current");
        (Severity::Note, continuous, rated.value * share, words)
    } else {
        return None;
    };
    let mut finding = rule.finding(
        &device.name,
        format!(
            "{} carries {} {}{}; it is rated {}{words}",
            device.name,
            amps(current, Rounding::Up),
            facts.currents.words(system, peak),
            switches_at(&facts.currents.positions(system, peak)),
            rating(rated.value),
        ),
    );
    finding.severity = severity;
    let load = direct.loads.iter().copied().max_by(|&a, &b| {
        let current = |id: LoadId| {
            system.loads[id.index()]
                .current()
                .map_or(0.0, |current| current.0)
        };
        current(a).total_cmp(&current(b)).then_with(|| b.cmp(&a))
    });
    let finding = finding
        .label(rated.span.or(Some(device.span)), "rated here")
        .label(
            load.map(|id| {
                let load = &system.loads[id.index()];
                load.draw.and_then(|draw| draw.span).unwrap_or(load.span)
            }),
            "the largest load behind it",
        )
        .compared(
            Figure::new("current", current.0, "A"),
            Figure::new("limit", limit.0, "A"),
        )
        .in_positions(facts.currents.positions(system, peak))
        .repair(format!(
            "fit a larger device in {} as far as its conductor allows, or move a load to another",
            device.name
        ));
    Some(also_on(finding, [basis]))
}
