//! A splice or a connector that water gets into.

use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{ComponentKind, Wetness};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL704",
    name: "unsealed-joint",
    title: "A splice or connector in a wet place is not sealed",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Splices and connectors in a zone that is wet in use, or below the bilge-water level, are sealed; where nothing is said it is not proved. A joint that water gets into corrodes, and leaks current into the bilge, which eats metal in days. Zones that are damp or get spray are left alone.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
  well: {ambient: 30 °C, wet: wet}
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
  well: {ambient: 30 °C, wet: wet}
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
    fix: "Seal it with adhesive-lined sleeve, fit a sealed connector, or move it up.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    for component in &facts.system.components {
        let (sealed, zones) = match (component.kind, &component.connector) {
            (ComponentKind::Splice, _) => (component.sealed, [component.zone, None]),
            (ComponentKind::Connector, Some(connector)) => (connector.sealed, connector.half_zones),
            _ => continue,
        };
        let wettest = zones
            .into_iter()
            .flatten()
            .map(|zone| &facts.system.zones[zone.index()])
            .filter_map(|zone| Some((zone, zone.wet?)))
            .filter(|(_, wet)| wet.value >= Wetness::Wet)
            .max_by_key(|(_, wet)| wet.value);
        let Some((zone, wet)) = wettest else {
            continue;
        };
        let name = &component.name;
        let how = match wet.value {
            Wetness::Bilge => "below the bilge-water level",
            _ => "which is wet",
        };
        let finding = match sealed {
            Some(given) if given.value => continue,
            Some(given) => rule
                .finding(
                    name,
                    format!("{name} is not sealed and lies in {}, {how}", zone.name),
                )
                .label(given.span, "not sealed"),
            None => rule
                .not_proved(
                    name,
                    format!(
                        "{name} lies in {}, {how}, and does not say whether it is sealed",
                        zone.name
                    ),
                )
                .label(component.span, "sealed?"),
        };
        findings.push(
            finding
                .label(wet.span.unwrap_or(zone.span), "how wet it is there")
                .repair(format!(
                    "seal {name} and write `sealed: true`, or move it to a dry zone"
                )),
        );
    }
}
