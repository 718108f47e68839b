//! A joint that nobody can get at.

use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{Component, ComponentKind};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL705",
    name: "hidden-joint",
    title: "A splice or connector lies where nobody can get at it",
    severity: Severity::Note,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Splices and connectors lie where they can be looked at: not in a zone with `access: none`. A crimped splice that is declared sealed may be built in. A hidden joint is the last place where anybody looks for a fault.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
  well: {ambient: 30 °C, wet: dry, access: none}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
splices:
  joint: {kind: butt, sealed: false, zone: well}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: joint, gauge: 14 AWG, colour: red, length: 5 ft}
  W4: {from: joint, to: fan.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
  well: {ambient: 30 °C, wet: dry, access: hatch}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
splices:
  joint: {kind: butt, sealed: true, zone: well}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: joint, gauge: 14 AWG, colour: red, length: 5 ft}
  W4: {from: joint, to: fan.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Move the joint to where it can be reached, or run the conductor through whole.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    for component in &facts.system.components {
        let zones = match (component.kind, &component.connector) {
            // What is crimped and sealed is meant to be built in.
            (ComponentKind::Splice, _) if is_built_in(component) => continue,
            (ComponentKind::Splice, _) => [component.zone, None],
            (ComponentKind::Connector, Some(connector)) => connector.half_zones,
            _ => continue,
        };
        let hidden = zones
            .into_iter()
            .flatten()
            .map(|zone| &facts.system.zones[zone.index()])
            .find(|zone| zone.access.trim().eq_ignore_ascii_case("none"));
        let Some(zone) = hidden else {
            continue;
        };
        findings.push(
            rule.finding(
                &component.name,
                format!(
                    "{} lies in {}, which nobody can get at",
                    component.name, zone.name
                ),
            )
            .label(component.span, "a joint")
            .label(zone.span, "no access")
            .repair(format!(
                "move {} to where it can be reached, or run the conductor through whole",
                component.name
            )),
        );
    }
}

/// Whether a splice is crimped and declared sealed.
fn is_built_in(splice: &Component) -> bool {
    let crimped = ["butt", "crimp"]
        .iter()
        .any(|kind| splice.subkind.to_lowercase().contains(kind));
    crimped && splice.sealed.is_some_and(|given| given.value)
}
