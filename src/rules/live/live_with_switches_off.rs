//! A load that no battery switch turns off.

use super::super::telling::{listed, shown, with_positions};
use crate::analysis::Facts;
use crate::analysis::live::{LiveLoad, Way};
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::System;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "LV501",
    name: "live-with-switches-off",
    title: "Load stays live with every battery switch off",
    severity: Severity::Warning,
    basis: &[
        citations::INSPECTED_EMERGENCY_SWITCH,
        citations::COMMON_PRACTICE,
    ],
    checks: "With every battery switch off, no combination of the other switches leaves a load live, unless the load declares `always-on: true`. Asked where the bank that feeds it has a battery switch at all. Bilge pumps, alarms, detectors and memories may bypass the switch, each with a device of its own; whoever works on anything else trusts that the switch has made it dead. The clause cited binds inspected vessels.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  main-fuse: {rating: 20 A, form: blade regular, zone: cabin}
  pump-fuse: {rating: 5 A, form: blade regular, zone: cabin}
switches:
  master: {kind: battery, rating: 100 A, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
  pump: {draw: 2 A, kind: motor, drop: 10 %, always-on: true, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: master.in, gauge: 12 AWG, colour: red, length: 1 ft}
  W3: {from: main-fuse.out, to: fan.+, gauge: 12 AWG, colour: red, length: 6 ft}
  W4: {from: fan.-, to: house.-, gauge: 12 AWG, colour: black, length: 6 ft}
  W5: {from: house.+, to: pump-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W6: {from: pump-fuse.out, to: pump.+, gauge: 14 AWG, colour: brown, length: 6 ft}
  W7: {from: pump.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  main-fuse: {rating: 20 A, form: blade regular, zone: cabin}
  pump-fuse: {rating: 5 A, form: blade regular, zone: cabin}
switches:
  master: {kind: battery, rating: 100 A, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
  pump: {draw: 2 A, kind: motor, drop: 10 %, always-on: true, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: master.in, gauge: 12 AWG, colour: red, length: 1 ft}
  W3: {from: master.out, to: fan.+, gauge: 12 AWG, colour: red, length: 6 ft}
  W4: {from: fan.-, to: house.-, gauge: 12 AWG, colour: black, length: 6 ft}
  W5: {from: house.+, to: pump-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W6: {from: pump-fuse.out, to: pump.+, gauge: 14 AWG, colour: brown, length: 6 ft}
  W7: {from: pump.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Feed the load from the far side of the battery switch, or declare it `always-on: true`.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let mut told: Vec<Way> = Vec::new();
    for live in facts.live.loads() {
        match live.way {
            Way::Direct => findings.push(finding(rule, facts.system, &[live], None)),
            Way::RoundSwitch(node) => {
                if told.contains(&live.way) {
                    continue;
                }
                told.push(live.way);
                let same: Vec<&LiveLoad> = facts
                    .live
                    .loads()
                    .iter()
                    .filter(|other| other.way == live.way)
                    .collect();
                let at = facts.system.node_name(node);
                findings.push(finding(rule, facts.system, &same, Some(&at)));
            }
            Way::BackFeed { .. } => {}
        }
    }
}

/// One finding for a load, or for all that one way round a battery switch keeps live.
fn finding(rule: &Rule, system: &System, live: &[&LiveLoad], round: Option<&str>) -> Diagnostic {
    let first = live[0];
    let load = &system.loads[first.load.index()];
    let source = &system.sources[first.source.index()];
    let names: Vec<&str> = live
        .iter()
        .map(|live| system.loads[live.load.index()].name.as_str())
        .collect();
    let verb = if names.len() == 1 { "stays" } else { "stay" };
    let others: Vec<_> = first
        .witness
        .off_normal
        .iter()
        .copied()
        .filter(|(gear, _)| {
            system.gears[gear.index()].kind != crate::system::GearKind::BatterySwitch
        })
        .collect();
    let mut message = format!(
        "{} {verb} live with every battery switch off{}",
        listed(&names),
        with_positions(system, &others).replacen(" with ", " and ", 1)
    );
    let help = if let Some(at) = round {
        message.push_str(&["; a way round the switch reaches ", at].concat());
        ["take out the way round the battery switch to ", at].concat()
    } else {
        format!(
            "feed {} from the far side of the battery switch, or write `always-on: true` if it must stay live",
            load.name
        )
    };
    let finding = rule
        .finding(&load.name, message)
        .and_also(&names)
        .label(load.span, "no battery switch turns it off")
        .label(source.span, "keeps it live")
        .repair(help);
    shown(
        finding,
        system,
        &first.witness.off_normal,
        &source.name,
        &first.witness.path,
    )
}
