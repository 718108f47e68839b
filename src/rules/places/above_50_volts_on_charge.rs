//! A bank below 50 V that passes 50 V on charge.

use super::common::told_volts;
use crate::analysis::Facts;
use crate::analysis::states::ends;
use crate::diag::Figure;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::{citations, constants};
use crate::units::Volts;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL728",
    name: "above-50-volts-on-charge",
    title: "A bank of less than 50 V passes 50 V on charge",
    severity: Severity::Note,
    basis: &[
        citations::LAW_CONDUCTOR_FROM_50_V,
        citations::LAW_RATING_FROM_50_V,
    ],
    checks: "The law asks for other conductors, for bundling factors and for tighter devices from a nominal 50 V on. A 48 V bank is below that line by its name and above it whenever it is charged. Treat it as hazardous to touch, and choose conductors and devices of the stricter side.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {voltage: 48 V, chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, voltage: 80 V, interrupting: 5000 A, zone: cabin}
loads:
  fan: {draw: 2 A, voltage: 48 V, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
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
    fix: "Choose conductors and devices for 50 V and more.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let (limit, _) = constants::low_voltage_limit();
    for bank in &system.banks {
        let Some((string, &top)) = bank
            .strings
            .iter()
            .find_map(|string| Some((string, string.last()?)))
        else {
            continue;
        };
        let nominal: Volts = string
            .iter()
            .map(|source| system.sources[source.index()].nominal.value)
            .sum();
        let (post, _) = ends(system, system.sources[top.index()].link);
        let Some(highest) = facts.charge_voltages.at(post) else {
            continue;
        };
        if nominal >= limit || highest.volts < limit {
            continue;
        }
        let source = &system.sources[highest.from.index()];
        findings.push(
            rule.finding(
                &bank.name,
                format!(
                    "{} is of {} and passes {} on charge: up to {}",
                    bank.name,
                    told_volts(nominal),
                    told_volts(limit),
                    told_volts(highest.volts)
                ),
            )
            .label(bank.span, "the bank")
            .label(
                source
                    .max_voltage
                    .and_then(|given| given.span)
                    .unwrap_or(source.span),
                "charged with this",
            )
            .compared(
                Figure::new("highest voltage on charge", highest.volts.0, "V"),
                Figure::new("line of the law", limit.0, "V"),
            )
            .repair(format!(
                "choose conductors and devices of {} for 50 V and more",
                bank.name
            )),
        );
    }
}
