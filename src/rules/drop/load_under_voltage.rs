//! A load that does not get the least voltage its maker states.

use crate::analysis::Facts;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::{Basis, Confidence};
use crate::system::LoadId;
use crate::units::format_against;

/// Where the figure comes from.
const MAKER: Basis = Basis::clause(
    "maker's statement in this netlist",
    "",
    "",
    Confidence::CommonPractice,
);

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "VD306",
    name: "load-under-voltage",
    title: "Load gets less than the least voltage it works at",
    severity: Severity::Warning,
    basis: &[MAKER],
    checks: "The solved voltage at the terminals of every load that states a `min-voltage`, in every declared scenario at its state of charge, or with everything on and full batteries where none runs it. The battery's rest voltage is an estimate by its chemistry.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  radio-fuse: {rating: 7.5 A, form: blade regular, zone: cabin}
loads:
  radio: {draw: 5 A, kind: electronics, service: electronics, min-voltage: 12.3 V, zone: cabin}
runs:
  W1: {from: house.+, to: radio-fuse.in, gauge: 10 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: radio-fuse.out, to: radio.+, gauge: 10 AWG, insulation: 105 °C, colour: red, length: 20 ft}
  W3: {from: radio.-, to: house.-, gauge: 10 AWG, insulation: 105 °C, colour: black, length: 20 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  radio-fuse: {rating: 7.5 A, form: blade regular, zone: cabin}
loads:
  radio: {draw: 5 A, kind: electronics, service: electronics, min-voltage: 11 V, zone: cabin}
runs:
  W1: {from: house.+, to: radio-fuse.in, gauge: 10 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: radio-fuse.out, to: radio.+, gauge: 10 AWG, insulation: 105 °C, colour: red, length: 20 ft}
  W3: {from: radio.-, to: house.-, gauge: 10 AWG, insulation: 105 °C, colour: black, length: 20 ft}
",
    fix: "Use thicker conductors, or run it from a fuller battery.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for (index, load) in system.loads.iter().enumerate() {
        let Some((least, solved)) = load.min_voltage.zip(facts.drops.lowest(LoadId::at(index)))
        else {
            continue;
        };
        if solved.at_load >= least.value {
            continue;
        }
        let (gets, needs) = format_against(solved.at_load.0, least.value.0, "V");
        let (when, charge) = match solved.scenario {
            Some(scenario) => {
                let scenario = &system.scenarios[scenario.index()];
                let charge = scenario.state_of_charge;
                (format!("in scenario {}", scenario.name), charge)
            }
            None => ("with everything on and full batteries".to_owned(), None),
        };
        findings.push(
            rule.finding(
                &load.name,
                format!(
                    "{} gets {gets} as solved {when}; it works from {needs}",
                    load.name
                ),
            )
            .label(least.span.unwrap_or(load.span), "works from here")
            .label(
                charge.and_then(|given| given.span),
                "at this state of charge",
            )
            .compared(
                Figure::new("voltage at the load", solved.at_load.0, "V"),
                Figure::new("least voltage", least.value.0, "V"),
            )
            .repair(format!(
                "use thicker conductors on the way to {}",
                load.name
            )),
        );
    }
}
