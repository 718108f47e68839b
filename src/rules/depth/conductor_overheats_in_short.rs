//! A conductor that a short heats beyond its insulation before its device has opened.

use super::super::telling::{numbers, rating, wires};
use super::{also_on, form, is_judged};
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::{
    self, Basis, FuseForm, InsulationFamily, adiabatic_k, citations, constants, opening_points,
    withstand_time,
};
use crate::system::{Conductor, ConductorId, Device, DeviceId};
use crate::units::{Amps, Rounding, Seconds, amps, decimal};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "DP803",
    name: "conductor-overheats-in-short",
    title: "Device may open later than the conductor stands a short",
    severity: Severity::Warning,
    basis: &[citations::ADIABATIC],
    checks: "With a short at the near end and at the far end of each protected conductor: by the published opening times of its device's form the device has opened before the conductor reaches the limit of its insulation, t = (k·S/I)², which holds for about five seconds. The times are acceptance points, nothing is interpolated, and a current beyond the last point is told as not judged where that point does not suffice. A conductor at the limit of its insulation chars, and sets fire to what lies beside it.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 7 Ah, resistance: 60 mΩ, zone: cabin}
fuses:
  pump-fuse: {rating: 30 A, form: bolt-down strip small, voltage: 32 V, interrupting: 2000 A, zone: cabin}
loads:
  pump: {draw: 8 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: pump-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: pump-fuse.out, to: pump.+, gauge: 14 AWG, colour: red, length: 2 ft}
  W3: {from: pump.-, to: house.-, gauge: 14 AWG, colour: black, length: 2 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 7 Ah, resistance: 60 mΩ, zone: cabin}
fuses:
  pump-fuse: {rating: 10 A, form: blade regular, zone: cabin}
loads:
  pump: {draw: 8 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: pump-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: pump-fuse.out, to: pump.+, gauge: 14 AWG, colour: red, length: 2 ft}
  W3: {from: pump.-, to: house.-, gauge: 14 AWG, colour: black, length: 2 ft}
",
    fix: "Fit a smaller or faster device, or a thicker conductor.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let forms: Vec<Option<FuseForm>> = system.devices.iter().map(form).collect();
    let mut open: Vec<ConductorId> = Vec::new();
    for index in 0..system.conductors.len() {
        let id = ConductorId::at(index);
        if !is_judged(facts, id) {
            continue;
        }
        let mut worst: Option<Late<'_>> = None;
        let mut left_open = false;
        for far in facts.faults.far_ends(id) {
            let Some(device) = far.device else { continue };
            let near = facts.faults.at(far.near).map(|found| found.current);
            for (current, end) in [(near, "near"), (Some(far.current), "far")] {
                let Some(current) = current else { continue };
                match weigh(facts, id, device, forms[device.index()], current) {
                    Weighed::Stands => {}
                    Weighed::Open => left_open = true,
                    Weighed::Late(late) => {
                        let late = Late { end, ..late };
                        let worse = worst
                            .as_ref()
                            .is_none_or(|other| late.excess() > other.excess());
                        if worse {
                            worst = Some(late);
                        }
                    }
                }
            }
        }
        match worst {
            Some(late) => findings.push(late.told(rule)),
            None if left_open => open.push(id),
            None => {}
        }
    }
    findings.extend(not_judged(rule, facts, &open));
}

/// How a conductor fares in one short.
enum Weighed<'f> {
    /// Its device has opened before it is too hot, or it gives off the heat.
    Stands,
    /// Published times do not reach so far.
    Open,
    /// Its device may take longer.
    Late(Late<'f>),
}

struct Late<'f> {
    conductor: &'f Conductor,
    device: &'f Device,
    rated: Amps,
    current: Amps,
    end: &'static str,
    opens: Seconds,
    stands: Seconds,
    basis: [Basis; 2],
}

fn weigh<'f>(
    facts: &Facts<'f>,
    conductor: ConductorId,
    device: DeviceId,
    form: Option<FuseForm>,
    current: Amps,
) -> Weighed<'f> {
    let conductor = &facts.system.conductors[conductor.index()];
    let device = &facts.system.devices[device.index()];
    // What is not given is asked for by other rules.
    let (Some(gauge), Some(rated)) = (conductor.gauge, device.rating) else {
        return Weighed::Stands;
    };
    let insulation = conductor.insulation.value;
    let Some((k, k_basis)) = adiabatic_k(insulation, InsulationFamily::supposed(insulation)) else {
        return Weighed::Open;
    };
    let Some(stands) = withstand_time(gauge.value, k, current) else {
        return Weighed::Stands;
    };
    if stands > constants::adiabatic_validity().0 {
        return Weighed::Stands;
    }
    let percent = current / rated.value * 100.0;
    let Some(form) = form else {
        return Weighed::Open;
    };
    let Some((opens, basis)) = standards::opened_within(form, percent) else {
        return Weighed::Open;
    };
    let beyond = opening_points(form)
        .last()
        .is_none_or(|last| percent > last.percent);
    if opens <= stands {
        Weighed::Stands
    } else if beyond {
        Weighed::Open
    } else {
        Weighed::Late(Late {
            conductor,
            device,
            rated: rated.value,
            current,
            end: "",
            opens,
            stands,
            basis: [k_basis, basis],
        })
    }
}

impl Late<'_> {
    fn excess(&self) -> f64 {
        self.opens / self.stands
    }

    fn told(&self, rule: &Rule) -> Diagnostic {
        let finding = rule
            .finding(
                &self.conductor.number,
                format!(
                    "a short at the {} end of {} draws {}, at which {} ({}) may take {} s to open; the conductor stands it for {} s",
                    self.end,
                    self.conductor.number,
                    amps(self.current, Rounding::Nearest),
                    self.device.name,
                    rating(self.rated),
                    decimal(self.opens.0, 1),
                    decimal(self.stands.0, 1),
                ),
            )
            .label(
                self.conductor
                    .gauge
                    .and_then(|given| given.span)
                    .or(Some(self.conductor.span)),
                "too thin for so long a short",
            )
            .label(
                self.device
                    .rating
                    .and_then(|given| given.span)
                    .or(Some(self.device.span)),
                "opens so late",
            )
            .compared(
                Figure::new("time to open", self.opens.0, "s"),
                Figure::new("time that the conductor stands", self.stands.0, "s"),
            )
            .repair(format!(
                "fit a smaller or faster device in {}, or a thicker conductor in place of {}",
                self.device.name, self.conductor.number
            ));
        also_on(finding, self.basis)
    }
}

/// One note for all conductors whose devices have no published time for so large a current.
fn not_judged(rule: &Rule, facts: &Facts<'_>, open: &[ConductorId]) -> Option<Diagnostic> {
    let system = facts.system;
    let first = &system.conductors[open.first()?.index()];
    let (verb, plural) = if open.len() == 1 {
        ("is", "")
    } else {
        ("are", "s")
    };
    let mut finding = rule.finding(
        "",
        format!(
            "whether conductor{plural} {} {verb} safe from heat in a short is not judged: for so large a current no opening time of the device is published",
            wires(system, open)
        ),
    );
    finding.severity = Severity::Note;
    let finding = finding.and_also(numbers(system, open));
    Some(finding.label(first.span, "for example").repair(
        "compare the let-through energy on the maker's data sheet with (k·S)² of the conductor",
    ))
}
