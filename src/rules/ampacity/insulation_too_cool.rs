//! Insulation that the place it lies in is too hot for.

use crate::analysis::Facts;
use crate::analysis::ampacity::passed;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::rules::telling::{NAMES_TOLD, numbers, wires};
use crate::standards::{Basis, citations, constants};
use crate::system::{Conductor, ConductorId, Origin, Zone, ZoneId};
use crate::units::Celsius;
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "AM205",
    name: "insulation-too-cool",
    title: "Insulation is rated too low for a place the conductor passes",
    severity: Severity::Warning,
    basis: &[],
    checks: "The insulation rating of a conductor against every zone it passes: at least 75 °C in an engine space, and above the zone's ambient everywhere, or it may carry nothing there.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
  engine: {ambient: 50 °C, engine-space: true, wet: damp}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  lamp-fuse: {rating: 2 A, form: blade regular, zone: cabin}
loads:
  lamp: {draw: 1 A, kind: lamp, zone: cabin}
runs:
  W1: {from: house.+, to: lamp-fuse.in, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: lamp-fuse.out, to: lamp.+, gauge: 14 AWG, insulation: 60 °C, colour: red, length: 6 ft, passes: engine}
  W3: {from: lamp.-, to: house.-, gauge: 14 AWG, insulation: 60 °C, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
  engine: {ambient: 50 °C, engine-space: true, wet: damp}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  lamp-fuse: {rating: 2 A, form: blade regular, zone: cabin}
loads:
  lamp: {draw: 1 A, kind: lamp, zone: cabin}
runs:
  W1: {from: house.+, to: lamp-fuse.in, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: lamp-fuse.out, to: lamp.+, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 6 ft, passes: engine}
  W3: {from: lamp.-, to: house.-, gauge: 14 AWG, insulation: 60 °C, colour: black, length: 6 ft}
",
    fix: "Use a conductor with a higher insulation rating, or lead it another way.",
    check,
};

/// What is wrong with an insulation in a zone.
struct Fault {
    least: Celsius,
    basis: Basis,
    severity: Severity,
    reason: &'static str,
}

/// Zone, insulation rating in millidegrees, whether it is assumed, and weight.
type Key = (ZoneId, i64, bool, Severity);

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    // One finding a zone and rating: a loom of one sort of wire is one mistake.
    let mut groups: BTreeMap<Key, (Fault, Vec<ConductorId>)> = BTreeMap::new();
    for (index, conductor) in system.conductors.iter().enumerate() {
        let worst = passed(system, conductor)
            .into_iter()
            .filter_map(|zone| Some((zone, fault(conductor, &system.zones[zone.index()])?)))
            .max_by(|(_, a), (_, b)| {
                a.severity
                    .cmp(&b.severity)
                    .then(a.least.total_cmp(&b.least))
            });
        let Some((zone, fault)) = worst else {
            continue;
        };
        let assumed = conductor.insulation.origin == Origin::Assumed;
        #[allow(clippy::cast_possible_truncation)]
        let rating = (conductor.insulation.value.0 * 1000.0) as i64;
        groups
            .entry((zone, rating, assumed, fault.severity))
            .or_insert_with(|| (fault, Vec::new()))
            .1
            .push(ConductorId::at(index));
    }
    for ((zone, _, assumed, _), (fault, ids)) in groups {
        let zone = &system.zones[zone.index()];
        // As many a finding as a message names.
        for ids in ids.chunks(NAMES_TOLD) {
            findings.push(told(rule, facts, zone, &fault, ids, assumed));
        }
    }
}

fn fault(conductor: &Conductor, zone: &Zone) -> Option<Fault> {
    let insulation = conductor.insulation.value;
    if let Some(ambient) = zone.ambient.filter(|ambient| insulation <= ambient.value) {
        return Some(Fault {
            least: ambient.value,
            basis: citations::AMBIENT_CORRECTION,
            severity: Severity::Error,
            reason: "the air there is as hot as it may ever get",
        });
    }
    let (least, basis) = constants::engine_space_insulation();
    (zone.engine_space && insulation < least).then_some(Fault {
        least,
        basis,
        severity: Severity::Warning,
        reason: "an engine space asks for at least 75 °C",
    })
}

fn told(
    rule: &Rule,
    facts: &Facts<'_>,
    zone: &Zone,
    fault: &Fault,
    ids: &[ConductorId],
    assumed: bool,
) -> Diagnostic {
    let system = facts.system;
    let conductor = &system.conductors[ids[0].index()];
    let insulation = conductor.insulation.value;
    let names = wires(system, ids);
    let mut finding = if assumed {
        rule.not_proved(
            &conductor.number,
            format!(
                "the insulation rating of {names} is not given, and {:.0} °C, which is assumed, does not do in {}: {}",
                insulation.0, zone.name, fault.reason
            ),
        )
    } else {
        let mut finding = rule.finding(
            &conductor.number,
            format!(
                "the insulation of {names} is rated {:.0} °C and passes {}: {}",
                insulation.0, zone.name, fault.reason
            ),
        );
        finding.severity = fault.severity;
        finding
    };
    finding = finding.and_also(numbers(system, ids));
    finding.basis.push(fault.basis);
    let place = zone
        .engine_space_span
        .filter(|_| fault.severity == Severity::Warning)
        .or(zone.ambient.and_then(|ambient| ambient.span))
        .unwrap_or(zone.span);
    let help = if assumed {
        format!("write the `insulation` rating printed on {names}")
    } else {
        format!(
            "use conductors rated at least {:.0} °C for {names}",
            fault.least.0.max(75.0)
        )
    };
    finding
        .label(
            conductor.insulation.span.unwrap_or(conductor.span),
            "rated too low",
        )
        .label(place, "passes here")
        .compared(
            Figure::new("insulation rating", insulation.0, "°C"),
            Figure::new("least rating", fault.least.0, "°C"),
        )
        .repair(help)
}
