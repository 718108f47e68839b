//! A conductor that passes below the bilge-water level.

use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::{Basis, Confidence};
use crate::system::{Wetness, ZoneId};

/// Main circuits lie above bilge water.
const BOAT_SAFETY: Basis = Basis::clause("Boat Safety Scheme", "", "3.3", Confidence::Secondary);

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL726",
    name: "below-bilge-water",
    title: "A conductor passes below the bilge-water level",
    severity: Severity::Warning,
    basis: &[BOAT_SAFETY],
    checks: "A conductor passes no zone that lies below the bilge-water level, unless one of its ends is there: leads of pumps, floats and alarms have to be. What lies in water for days leaks current where its insulation is worn.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
  bilge: {ambient: 30 °C, wet: bilge}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft, passes: bilge}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
  bilge: {ambient: 30 °C, wet: bilge}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Take it round, above the bilge.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for conductor in &system.conductors {
        let ends: Vec<ZoneId> = [conductor.from, conductor.to]
            .into_iter()
            .filter_map(|end| {
                let component = system.component_of(end);
                match &component.connector {
                    Some(connector) => connector.half_zones[facts.system.half_of(end)],
                    None => component.zone,
                }
            })
            .collect();
        let low = conductor.zones.iter().find_map(|zone| {
            let found = &system.zones[zone.index()];
            let wet = found.wet.filter(|wet| wet.value == Wetness::Bilge)?;
            (!ends.contains(zone)).then_some((found, wet))
        });
        let Some((zone, wet)) = low else {
            continue;
        };
        findings.push(
            rule.finding(
                &conductor.number,
                format!(
                    "{} passes {}, below the bilge-water level, and ends elsewhere",
                    conductor.number, zone.name
                ),
            )
            .label(conductor.span, "passes there")
            .label(wet.span.unwrap_or(zone.span), "below the bilge-water level")
            .repair(format!("take {} round, above the bilge", conductor.number)),
        );
    }
}
