//! A bank that no charging source reaches.

use crate::analysis::Facts;
use crate::analysis::isolation::Supply;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "BI411",
    name: "bank-not-charged",
    title: "No charging source reaches a bank",
    severity: Severity::Note,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Over all combinations of positions: some alternator, charger, converter or solar controller reaches each bank, and does so without a position set by hand to join banks. A bank that is taken ashore to be charged is none the worse for this note.",
    fails: "loomwright: 1
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
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  charger-fuse: {rating: 15 A, form: blade regular, zone: cabin}
chargers:
  charger: {outputs: {1: {current: 10 A, voltage: 14.4 V}}, self-limiting: true, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W4: {from: house.+, to: charger-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W5: {from: charger-fuse.out, to: charger.1+, gauge: 12 AWG, colour: red, length: 3 ft}
  W6: {from: charger.-, to: house.-, gauge: 12 AWG, colour: black, length: 3 ft}
",
    fix: "Fit a charging source for the bank, or a combiner.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for &(id, supply) in &facts.isolation.charging.banks {
        let bank = &system.banks[id.index()];
        let (message, help) = match supply {
            Supply::Charged => continue,
            Supply::Never => (
                format!("no charging source reaches bank {}", bank.name),
                format!("fit a charger, or charge {} ashore", bank.name),
            ),
            Supply::OnlyByHand => (
                format!(
                    "bank {} is charged only where a switch is set by hand to join banks",
                    bank.name
                ),
                "fit a combiner, or a charger output for the bank".to_owned(),
            ),
        };
        findings.push(
            rule.finding(&bank.name, message)
                .label(bank.span, "not charged by itself")
                .repair(help),
        );
    }
}
