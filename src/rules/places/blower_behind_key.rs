//! A blower or an alarm that is dead until the key is turned.

use super::common::loads_of;
use crate::analysis::Facts;
use crate::analysis::states::{Constraints, Reach, Reached, ends, set_to};
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{GearId, GearKind, NodeId, Service};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL724",
    name: "blower-behind-key",
    title: "A blower or an alarm works with the key only",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "On a boat with a zone where gasoline vapour can gather, the bilge blower works with every key switch off: it is run before the engine is started. An alarm works with the key off on any boat. A blower on a boat without gasoline passes.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
  tank: {ambient: 30 °C, wet: dry, gasoline-vapour: true}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
switches:
  fan-switch: {kind: key, rating: 10 A, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, service: bilge-blower, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan-switch.in, gauge: 14 AWG, colour: red, length: 1 ft}
  W4: {from: fan-switch.out, to: fan.+, gauge: 14 AWG, colour: BN/YE, length: 5 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
  tank: {ambient: 30 °C, wet: dry, gasoline-vapour: true}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
switches:
  fan-switch: {rating: 10 A, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, service: bilge-blower, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan-switch.in, gauge: 14 AWG, colour: red, length: 1 ft}
  W4: {from: fan-switch.out, to: fan.+, gauge: 14 AWG, colour: BN/YE, length: 5 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Feed it from ahead of the key switch.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let gasoline = system.zones.iter().find(|zone| zone.gasoline_vapour);
    let keys: Vec<(GearId, u16)> = system
        .gears
        .iter()
        .enumerate()
        .filter(|(_, gear)| gear.kind == GearKind::Key)
        .filter_map(|(index, gear)| Some((GearId::at(index), gear.off?)))
        .collect();
    let mut judged = loads_of(facts, Service::Alarm);
    if gasoline.is_some() {
        judged.extend(loads_of(facts, Service::BilgeBlower));
    }
    judged.retain(|&load| !facts.returns.load(load).fed_by.is_empty());
    if keys.is_empty() || judged.is_empty() {
        return;
    }
    let constraints = keys
        .iter()
        .fold(Constraints::none(system), |constraints, &(key, off)| {
            constraints.fix(key, off)
        });
    let posts: Vec<NodeId> = system
        .sources
        .iter()
        .map(|source| ends(system, source.link).0)
        .collect();
    let reach = Reach::new(system, &constraints, |_| Some(f64::INFINITY));
    let spread = reach.spread(&posts);
    for id in judged {
        let load = &system.loads[id.index()];
        let (positive, _) = ends(system, load.link);
        if spread.reached(positive) != Reached::Never {
            continue;
        }
        let key = &system.gears[keys[0].0.index()];
        let span = system.components[key.component.index()].span;
        let why = match load.service {
            Service::Alarm => "so it keeps silent while nobody is aboard",
            _ => "so the space is not aired before the engine is started",
        };
        findings.push(
            rule.finding(
                &load.name,
                format!("{} is dead with {} off, {why}", load.name, key.name),
            )
            .label(load.span, "dead with the key off")
            .label(span, "a key switch")
            .in_positions(set_to(system, &keys))
            .repair(format!("feed {} from ahead of {}", load.name, key.name)),
        );
    }
}
