//! A load for which there is no voltage at which it could run.

use crate::analysis::Facts;
use crate::analysis::solve::SolveError;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::{Basis, Confidence};

/// Where the limit comes from.
const OHM: Basis = Basis::clause(
    "Ohm's law",
    "",
    "a source behind a resistance delivers at most its voltage squared over four times the resistance",
    Confidence::Computed,
);

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "VD307",
    name: "load-cannot-run",
    title: "The wiring cannot deliver what a load asks for",
    severity: Severity::Error,
    basis: &[OHM],
    checks: "Whether every declared scenario, and everything on, has a solution at all: a load that takes a constant power draws more current as its voltage falls, and beyond a limit there is no voltage at which it runs.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  heater-fuse: {rating: 10 A, form: blade regular, zone: cabin}
loads:
  heater: {draw: 60 W, kind: heater, behaves: power, drop: 40 %, zone: cabin}
runs:
  W1: {from: house.+, to: heater-fuse.in, gauge: 16 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: heater-fuse.out, to: heater.+, gauge: 16 AWG, insulation: 105 °C, colour: red, length: 100 ft}
  W3: {from: heater.-, to: house.-, gauge: 16 AWG, insulation: 105 °C, colour: black, length: 100 ft}
accept:
  - {rule: DP802, element: heater-fuse, reason: a load that cannot run for its wires has wires that no short opens the fuse through}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  heater-fuse: {rating: 10 A, form: blade regular, zone: cabin}
loads:
  heater: {draw: 60 W, kind: heater, behaves: power, drop: 40 %, zone: cabin}
runs:
  W1: {from: house.+, to: heater-fuse.in, gauge: 16 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: heater-fuse.out, to: heater.+, gauge: 16 AWG, insulation: 105 °C, colour: red, length: 40 ft}
  W3: {from: heater.-, to: house.-, gauge: 16 AWG, insulation: 105 °C, colour: black, length: 40 ft}
",
    fix: "Use much thicker conductors, or a shorter way.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for &(scenario, error) in &facts.drops.unsolved {
        let (when, place) = match scenario {
            Some(scenario) => {
                let scenario = &system.scenarios[scenario.index()];
                (
                    format!("in scenario {}", scenario.name),
                    Some(scenario.span),
                )
            }
            None => ("with everything on".to_owned(), None),
        };
        findings.push(match error {
            SolveError::Collapsed(load) => {
                let load = &system.loads[load.index()];
                rule.finding(
                    &load.name,
                    format!(
                        "{} cannot run {when}: its way has so much resistance that no voltage is left to run it",
                        load.name
                    ),
                )
                .label(load.span, "asks for more than its wiring can deliver")
                .label(place, "in this scenario")
                .repair(format!(
                    "use much thicker conductors on the way to {}",
                    load.name
                ))
            }
            SolveError::Shorted(link) => {
                let name = system.link_name(link);
                rule.not_proved(
                    &name,
                    format!("no voltage is proved {when}: {error}, at {name}"),
                )
                .label(system.links[link.index()].span, "closes the short")
                .label(place, "in this scenario")
                .repair("open the short, or give the lengths of the conductors in it")
            }
            SolveError::NotSettled | SolveError::TooMeshed => rule
                .not_proved("", format!("no voltage is proved {when}: {error}"))
                .label(place, "in this scenario")
                .repair("declare simpler scenarios"),
        });
    }
}
