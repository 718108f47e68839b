//! A gauge that goes on drawing when the key is off.

use super::super::telling::listed;
use crate::analysis::Facts;
use crate::analysis::states::{State, ends, walk};
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{ComponentKind, GearId, GearKind, Load, LoadKind, NodeId, SourceKind, System};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "LV505",
    name: "gauge-live-with-key-off",
    title: "A gauge or an engine load stays live with the key off",
    severity: Severity::Note,
    basis: &[citations::COMMON_PRACTICE],
    checks: "On a boat with a key: with the battery switches in use, the key off and every panel switch off, no gauge, sender or load of the engine is live. Such a drain is small and nobody looks for it. A memory feed that is meant declares `always-on: true`.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  main-fuse: {rating: 10 A, form: blade regular, zone: cabin}
switches:
  master: {kind: battery, rating: 100 A, zone: cabin}
  key: {kind: key, rating: 10 A, zone: cabin}
instruments:
  tachometer: {kind: gauge, draw: 0.2 A, zone: cabin}
loads:
  ignition: {draw: 3 A, service: engine, drop: 10 %, zone: cabin}
buses:
  negative: {polarity: negative, studs: 4, rating: 50 A, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: master.in, gauge: 14 AWG, colour: red, length: 1 ft}
  W3: {from: master.out, to: key.in, gauge: 14 AWG, colour: red, length: 3 ft}
  W4: {from: key.out, to: ignition.+, gauge: 14 AWG, colour: red, length: 3 ft}
  W5: {from: key.in, to: tachometer.+, gauge: 14 AWG, colour: red, length: 1 ft}
  N1: {from: ignition.-, to: negative, gauge: 14 AWG, colour: black, length: 1 ft}
  N2: {from: tachometer.-, to: negative, gauge: 14 AWG, colour: black, length: 1 ft}
  N3: {from: negative, to: house.-, gauge: 14 AWG, colour: black, length: 3 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  main-fuse: {rating: 10 A, form: blade regular, zone: cabin}
switches:
  master: {kind: battery, rating: 100 A, zone: cabin}
  key: {kind: key, rating: 10 A, zone: cabin}
instruments:
  tachometer: {kind: gauge, draw: 0.2 A, zone: cabin}
loads:
  ignition: {draw: 3 A, service: engine, drop: 10 %, zone: cabin}
buses:
  negative: {polarity: negative, studs: 4, rating: 50 A, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: master.in, gauge: 14 AWG, colour: red, length: 1 ft}
  W3: {from: master.out, to: key.in, gauge: 14 AWG, colour: red, length: 3 ft}
  W4: {from: key.out, to: ignition.+, gauge: 14 AWG, colour: red, length: 3 ft}
  W5: {from: key.out, to: tachometer.+, gauge: 14 AWG, colour: red, length: 1 ft}
  N1: {from: ignition.-, to: negative, gauge: 14 AWG, colour: black, length: 1 ft}
  N2: {from: tachometer.-, to: negative, gauge: 14 AWG, colour: black, length: 1 ft}
  N3: {from: negative, to: house.-, gauge: 14 AWG, colour: black, length: 3 ft}
",
    fix: "Feed it from the far side of the key, or declare it `always-on: true`.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    if !system.gears.iter().any(|gear| gear.kind == GearKind::Key) {
        return;
    }
    let mut state = State::in_use(system);
    for (index, gear) in system.gears.iter().enumerate() {
        let by_hand = matches!(
            gear.kind,
            GearKind::Key | GearKind::PanelSwitch | GearKind::Push | GearKind::Breaker
        );
        let off = gear.off.filter(|_| gear.kind != GearKind::Breaker);
        if by_hand {
            state.set(GearId::at(index), off.unwrap_or(gear.normal));
        }
    }
    let posts: Vec<NodeId> = system
        .sources
        .iter()
        .filter(|source| source.kind == SourceKind::Battery)
        .map(|source| ends(system, source.link).0)
        .collect();
    let live = walk(system, &state, &posts, |link| {
        facts.nets.is_off_negative(system, link)
    });
    let lit: Vec<&Load> = system
        .loads
        .iter()
        .filter(|load| belongs_to_key(system, load) && live.reaches(ends(system, load.link).0))
        .collect();
    let Some(first) = lit.first() else {
        return;
    };
    let names: Vec<&str> = lit.iter().map(|load| load.name.as_str()).collect();
    let verb = if names.len() == 1 { "stays" } else { "stay" };
    findings.push(
        rule.finding(
            &first.name,
            format!("{} {verb} live with the key off", listed(&names)),
        )
        .and_also(&names)
        .label(first.span, "live with the key off")
        .repair(format!(
            "feed {} from the far side of the key, or write `always-on: true` if it must stay live",
            listed(&names)
        )),
    );
}

/// A gauge, a sender or a load of the engine that is not meant to stay live.
fn belongs_to_key(system: &System, load: &Load) -> bool {
    let part = &system.components[load.component.index()];
    let gauge = part.kind == ComponentKind::Instrument
        && matches!(part.subkind.as_str(), "gauge" | "sender");
    let engine = load.service == crate::system::Service::Engine
        && !matches!(load.kind, LoadKind::Starter | LoadKind::Coil);
    (gauge || engine) && !load.always_on.is_some_and(|given| given.value)
}
