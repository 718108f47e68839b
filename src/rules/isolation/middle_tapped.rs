//! A load that draws from the middle of a string.

use super::super::telling::listed;
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "BI408",
    name: "middle-tapped",
    title: "Load draws from the middle of a series string",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "No load draws from a post inside a series string in any combination of positions, unless `mid-taps` of the bank names the battery whose upper post it is. The lower batteries are drawn down further than the upper ones, which are then overcharged; and a case that is joined to its negative may not be where it seems.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 24 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
banks:
  house: {strings: [[low, high]]}
batteries:
  low: {bank: house, voltage: 12 V, chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  high: {bank: house, voltage: 12 V, chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  radio-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, voltage: 24 V, zone: cabin}
  radio: {draw: 1 A, kind: electronics, drop: 10 %, voltage: 12 V, zone: cabin}
runs:
  W1: {from: low.+, to: high.-, gauge: 8 AWG, colour: red, length: 6 in}
  W2: {from: high.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W3: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W4: {from: fan.-, to: low.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W5: {from: low.+, to: radio-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W6: {from: radio-fuse.out, to: radio.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W7: {from: radio.-, to: low.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 24 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
banks:
  house: {strings: [[low, high]], mid-taps: low}
batteries:
  low: {bank: house, voltage: 12 V, chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  high: {bank: house, voltage: 12 V, chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  radio-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, voltage: 24 V, zone: cabin}
  radio: {draw: 1 A, kind: electronics, drop: 10 %, voltage: 12 V, zone: cabin}
runs:
  W1: {from: low.+, to: high.-, gauge: 8 AWG, colour: red, length: 6 in}
  W2: {from: high.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W3: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W4: {from: fan.-, to: low.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W5: {from: low.+, to: radio-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W6: {from: radio-fuse.out, to: radio.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W7: {from: radio.-, to: low.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Feed the load through a converter, or declare the tap where an equaliser is fitted.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for (index, tap) in facts.isolation.taps.iter().enumerate() {
        // Posts that are joined by a fault of the string have the same loads.
        let again = facts.isolation.taps[..index]
            .iter()
            .any(|before| before.bank == tap.bank && before.loads == tap.loads);
        if tap.declared || again {
            continue;
        }
        let bank = &system.banks[tap.bank.index()];
        let battery = &system.sources[tap.battery.index()];
        let loads: Vec<_> = tap
            .loads
            .iter()
            .map(|id| &system.loads[id.index()])
            .collect();
        let names: Vec<&str> = loads.iter().map(|load| load.name.as_str()).collect();
        let verb = if names.len() == 1 { "draws" } else { "draw" };
        findings.push(
            rule.finding(
                &battery.name,
                format!(
                    "{} {verb} from {}.+, the middle of a string of bank {}",
                    listed(&names),
                    battery.name,
                    bank.name
                ),
            )
            .label(loads.first().map(|load| load.span), "draws from the middle")
            .label(battery.span, "the battery below the tap")
            .repair(format!(
                "feed it through a converter from the whole bank, or write `mid-taps: {}` in bank {} where an equaliser is fitted",
                battery.name, bank.name
            )),
        );
    }
}
