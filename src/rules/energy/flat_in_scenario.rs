//! A bank that does not last a scenario.

use crate::analysis::Facts;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::units::{Rounding, amp_hours, amps, decimal, round_down_to};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "EN905",
    name: "flat-in-scenario",
    title: "Bank is flat before the scenario ends",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "The solved current out of every bank in every declared scenario that gives its hours, against the time that what is usable lasts at that current, from the state of charge of the scenario on (full where none is given): usable share by chemistry, Peukert's law, never more than the rated capacity. A bank without a capacity is left out.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  heater-fuse: {rating: 20 A, form: blade regular, zone: cabin}
loads:
  heater: {draw: 10 A, kind: heater, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: heater-fuse.in, gauge: 12 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: heater-fuse.out, to: heater.+, gauge: 12 AWG, insulation: 105 °C, colour: red, length: 6 ft}
  W3: {from: heater.-, to: house.-, gauge: 12 AWG, insulation: 105 °C, colour: black, length: 6 ft}
scenarios:
  evening: {on: [heater], hours: 4 h}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  heater-fuse: {rating: 20 A, form: blade regular, zone: cabin}
loads:
  heater: {draw: 10 A, kind: heater, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: heater-fuse.in, gauge: 12 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: heater-fuse.out, to: heater.+, gauge: 12 AWG, insulation: 105 °C, colour: red, length: 6 ft}
  W3: {from: heater.-, to: house.-, gauge: 12 AWG, insulation: 105 °C, colour: black, length: 6 ft}
scenarios:
  evening: {on: [heater], hours: 2 h}
",
    fix: "Take less, charge meanwhile, or fit a larger bank.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for energy in &facts.energy.scenarios {
        let (Some(hours), Ok(banks)) = (energy.hours, &energy.banks) else {
            continue;
        };
        let scenario = &system.scenarios[energy.scenario.index()];
        for entry in banks {
            let Some(lasts) = entry.endurance.filter(|lasts| *lasts < hours) else {
                continue;
            };
            let bank = &system.banks[entry.bank.index()];
            let charge = scenario.state_of_charge.map_or(100.0, |given| given.value);
            let figures = facts.energy.bank(entry.bank);
            let usable = figures.usable().unwrap_or_default();
            let most = figures.current_for(hours, charge).unwrap_or_default();
            findings.push(
                rule.finding(
                    &bank.name,
                    format!(
                        "scenario {} takes {} from bank {} for {} h; what is usable of it, {} of a full one, lasts {} h from {} % of charge on",
                        scenario.name,
                        amps(entry.current, Rounding::Up),
                        bank.name,
                        decimal(hours.0, 1),
                        amp_hours(usable, Rounding::Down),
                        decimal(round_down_to(lasts.0, 0.1), 1),
                        decimal(charge, 0),
                    ),
                )
                .label(scenario.span, "does not last so long")
                .label(bank.span, "flat before its end")
                .compared(
                    Figure::new("time to the end of the usable share", lasts.0, "h"),
                    Figure::new("hours of the scenario", hours.0, "h"),
                )
                .repair(format!(
                    "take at most {} from bank {} in it, charge meanwhile, or fit a larger bank",
                    amps(most, Rounding::Down),
                    bank.name
                )),
            );
        }
    }
}
