//! A load that a scenario has on and nothing feeds in it.

use super::super::telling::listed;
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{LinkKind, LoadId, LoadKind, ScenarioId, System};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "VD308",
    name: "scenario-load-dead",
    title: "Load is on in a scenario in which nothing feeds it",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Every load that a declared scenario has on, against the solved network in the positions of that scenario. Switches of circuits close by themselves for loads that are on; those that single runs pass stand as they normally do unless the scenario names them. A load without supply adds nothing to currents, drops and charge, so the scenario would look lighter than it is.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  heater-fuse: {rating: 20 A, form: blade regular, zone: cabin}
switches:
  heater-switch: {rating: 20 A, zone: cabin}
loads:
  heater: {draw: 10 A, kind: heater, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: heater-fuse.in, gauge: 12 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: heater-fuse.out, to: heater-switch.in, gauge: 12 AWG, insulation: 105 °C, colour: red, length: 3 ft}
  W3: {from: heater-switch.out, to: heater.+, gauge: 12 AWG, insulation: 105 °C, colour: red, length: 3 ft}
  W4: {from: heater.-, to: house.-, gauge: 12 AWG, insulation: 105 °C, colour: black, length: 6 ft}
scenarios:
  evening: {on: [heater]}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  heater-fuse: {rating: 20 A, form: blade regular, zone: cabin}
switches:
  heater-switch: {rating: 20 A, zone: cabin}
loads:
  heater: {draw: 10 A, kind: heater, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: heater-fuse.in, gauge: 12 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: heater-fuse.out, to: heater-switch.in, gauge: 12 AWG, insulation: 105 °C, colour: red, length: 3 ft}
  W3: {from: heater-switch.out, to: heater.+, gauge: 12 AWG, insulation: 105 °C, colour: red, length: 3 ft}
  W4: {from: heater.-, to: house.-, gauge: 12 AWG, insulation: 105 °C, colour: black, length: 6 ft}
scenarios:
  evening: {on: [heater], positions: {heater-switch: \"on\"}}
",
    fix: "Name the switches that the load needs under the positions of the scenario, or leave the load out of it.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for index in 0..system.scenarios.len() {
        let id = ScenarioId::at(index);
        let dead: Vec<LoadId> = facts
            .drops
            .unfed
            .iter()
            .filter(|&&(scenario, load)| {
                // A converter's input is on because its output is asked for; the output tells it.
                scenario == id && system.loads[load.index()].kind != LoadKind::ConverterInput
            })
            .map(|&(_, load)| load)
            .collect();
        if !dead.is_empty() {
            findings.push(told(rule, facts, id, &dead));
        }
    }
}

fn told(rule: &Rule, facts: &Facts<'_>, id: ScenarioId, dead: &[LoadId]) -> Diagnostic {
    let system = facts.system;
    let scenario = &system.scenarios[id.index()];
    let names: Vec<&str> = dead
        .iter()
        .map(|load| system.loads[load.index()].name.as_str())
        .collect();
    let first = &system.loads[dead[0].index()];
    let open = open_switches(facts, id, dead);
    let help = if open.is_empty() {
        format!(
            "wire {} so that a source feeds it, or leave it out of the scenario",
            first.name
        )
    } else {
        format!(
            "name {} under `positions` of {}",
            listed(&open),
            scenario.name
        )
    };
    rule.finding(
        &scenario.name,
        format!(
            "scenario {} has {} on, but nothing feeds {} there: what {} would draw is not counted",
            scenario.name,
            listed(&names),
            if dead.len() == 1 { "it" } else { "them" },
            if dead.len() == 1 { "it" } else { "they" },
        ),
    )
    .label(scenario.span, "in this scenario")
    .label(first.span, "dead in it")
    .repair(help)
}

/// Switches on the usual ways of some loads that stand open in a scenario, in file order, each once.
fn open_switches(facts: &Facts<'_>, id: ScenarioId, dead: &[LoadId]) -> Vec<String> {
    let system = facts.system;
    let scenario = &system.scenarios[id.index()];
    let stands = |gear: crate::system::GearId| {
        scenario
            .positions
            .iter()
            .find(|(of, _)| *of == gear)
            .map_or(system.gears[gear.index()].normal, |&(_, position)| position)
    };
    let mut gears: Vec<crate::system::GearId> = dead
        .iter()
        .filter_map(|&load| facts.feeds.of(load).first())
        .flat_map(|feed| {
            feed.positive
                .iter()
                .chain(&feed.negative)
                .chain(&feed.control)
        })
        .filter_map(|link| match &system.links[link.index()].kind {
            LinkKind::Contact { gear, closed_in } if !closed_in.contains(&stands(*gear)) => {
                Some(*gear)
            }
            _ => None,
        })
        .collect();
    gears.sort_unstable();
    gears.dedup();
    names(system, &gears)
}

fn names(system: &System, gears: &[crate::system::GearId]) -> Vec<String> {
    gears
        .iter()
        .map(|gear| format!("`{}`", system.gears[gear.index()].name))
        .collect()
}
