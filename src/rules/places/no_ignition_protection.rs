//! A part that can ignite gasoline vapour where vapour can gather.

use super::common::zone_of;
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{Component, ComponentKind, Zone, ZoneId};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL701",
    name: "no-ignition-protection",
    title: "A part without ignition protection lies where gasoline vapour can gather",
    severity: Severity::Error,
    basis: &[citations::LAW_IGNITION_PROTECTION, citations::LAW_ISOLATION],
    checks: "In a zone with gasoline vapour every switch, relay, combiner, fuse, breaker, block, machine, charger, controller, load and instrument is ignition protected. One that is declared not to be is an error; where nothing is said, or no zone is given on a boat that has such a zone, it is not proved. A connector there is sealed, so that it does not spark in use; a battery is noted. The law lets an isolated part pass: behind a tight bulkhead, or 2 ft away in the open. Then give the part a zone of its own. Outboards are outside the law, their leads in a locker are not.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
  locker: {ambient: 30 °C, wet: dry, gasoline-vapour: true}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, ignition-protected: false, zone: locker}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
  locker: {ambient: 30 °C, wet: dry, gasoline-vapour: true}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, ignition-protected: true, zone: locker}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Fit a part that is tested not to ignite vapour, or move it out of the zone.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    if !system.zones.iter().any(|zone| zone.gasoline_vapour) {
        return;
    }
    for component in &system.components {
        match component.kind {
            ComponentKind::Connector => connector(rule, facts, component, findings),
            ComponentKind::Battery => battery(rule, facts, component, findings),
            kind if can_ignite(kind) => part(rule, facts, component, findings),
            _ => {}
        }
    }
}

/// Whether a part makes or breaks current, or is made of parts that may.
fn can_ignite(kind: ComponentKind) -> bool {
    use ComponentKind as K;
    !matches!(
        kind,
        K::Battery | K::Connector | K::Bus | K::Splice | K::Ground | K::Shunt | K::Isolator
    )
}

/// The zone, where vapour can gather in it.
fn vapour<'s>(facts: &Facts<'s>, zone: Option<ZoneId>) -> Option<&'s Zone> {
    let zone = &facts.system.zones[zone?.index()];
    zone.gasoline_vapour.then_some(zone)
}

fn part(rule: &Rule, facts: &Facts<'_>, component: &Component, findings: &mut Vec<Diagnostic>) {
    let name = &component.name;
    let zone = zone_of(facts, component);
    if zone.is_none() && component.ignition_protected.is_none() {
        findings.push(
            rule.not_proved(
                name,
                format!("{name} has no zone, so it is not shown to lie away from gasoline vapour"),
            )
            .label(component.span, "where does it sit?")
            .repair(format!("give {name} its `zone`")),
        );
        return;
    }
    let Some(zone) = vapour(facts, zone) else {
        return;
    };
    let finding = match component.ignition_protected {
        Some(given) if given.value => return,
        Some(given) => rule
            .finding(
                name,
                format!("{name} is not ignition protected and lies in {}, where gasoline vapour can gather", zone.name),
            )
            .label(given.span, "not ignition protected"),
        None => rule
            .not_proved(
                name,
                format!("{name} lies in {}, where gasoline vapour can gather, and does not say whether it is ignition protected", zone.name),
            )
            .label(component.span, "ignition protected?"),
    };
    findings.push(
        finding
            .label(
                zone.gasoline_vapour_span.unwrap_or(zone.span),
                "vapour can gather here",
            )
            .repair(format!(
                "fit a part marked as ignition protected and write `ignition-protected: true`, or move {name} out of {}",
                zone.name
            )),
    );
}

fn connector(
    rule: &Rule,
    facts: &Facts<'_>,
    component: &Component,
    findings: &mut Vec<Diagnostic>,
) {
    let Some(connector) = &component.connector else {
        return;
    };
    let zones = connector.half_zones.iter().map(|&zone| vapour(facts, zone));
    let Some(zone) = zones.flatten().next() else {
        return;
    };
    let name = &component.name;
    let finding = match connector.sealed {
        Some(given) if given.value => return,
        Some(given) => {
            let mut finding = rule.finding(
                name,
                format!("{name} is not sealed and lies in {}, where gasoline vapour can gather", zone.name),
            );
            finding.severity = Severity::Warning;
            finding.label(given.span, "not sealed")
        }
        None => rule
            .not_proved(
                name,
                format!("{name} lies in {}, where gasoline vapour can gather, and does not say whether it is sealed", zone.name),
            )
            .label(component.span, "sealed?"),
    };
    findings.push(
        finding
            .label(
                zone.gasoline_vapour_span.unwrap_or(zone.span),
                "vapour can gather here",
            )
            .repair(format!(
                "fit a sealed connector and write `sealed: true`, or move {name} out of {}",
                zone.name
            )),
    );
}

fn battery(rule: &Rule, facts: &Facts<'_>, component: &Component, findings: &mut Vec<Diagnostic>) {
    let Some(zone) = vapour(facts, component.zone) else {
        return;
    };
    let name = &component.name;
    let mut finding = rule.finding(
        name,
        format!("{name} lies in {}, where gasoline vapour can gather: its posts spark when a lug is taken off, and it must not lie above or below a tank, a filter or a fitting", zone.name),
    );
    finding.severity = Severity::Note;
    finding.basis.push(citations::LAW_BATTERY_PLACE);
    findings.push(
        finding
            .label(component.span, "a battery")
            .label(
                zone.gasoline_vapour_span.unwrap_or(zone.span),
                "vapour can gather here",
            )
            .repair("air the space before any lug is taken off, or move the battery"),
    );
}
