//! Everything that safety depends on, behind one battery management that gives no warning.

use super::super::telling::listed;
use super::{is_managed, own_feeds};
use crate::analysis::Facts;
use crate::analysis::states::ends;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::BankId;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "DP811",
    name: "vital-loads-on-one-management",
    title: "Vital loads all vanish when one management cuts out",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Where all vital loads draw on one bank that its management can cut off, that management warns before it does so. Lithium batteries have a management, and so has any battery that states its limit. What a position that joins banks could feed does not count, because nobody may be aboard.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: lithium-iron-phosphate, capacity: 60 Ah, short-circuit: 5000 A, alarm-contact: false, zone: cabin}
fuses:
  pump-fuse: {rating: 7.5 A, form: class T, voltage: 125 V, interrupting: 20000 A, zone: cabin}
loads:
  pump: {draw: 4 A, kind: motor, service: bilge-pump, vital: true, always-on: true, zone: cabin}
runs:
  W1: {from: house.+, to: pump-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W2: {from: pump-fuse.out, to: pump.+, gauge: 12 AWG, colour: red, length: 6 ft}
  W3: {from: pump.-, to: house.-, gauge: 12 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: lithium-iron-phosphate, capacity: 60 Ah, short-circuit: 5000 A, alarm-contact: true, zone: cabin}
fuses:
  pump-fuse: {rating: 7.5 A, form: class T, voltage: 125 V, interrupting: 20000 A, zone: cabin}
loads:
  pump: {draw: 4 A, kind: motor, service: bilge-pump, vital: true, always-on: true, zone: cabin}
runs:
  W1: {from: house.+, to: pump-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W2: {from: pump-fuse.out, to: pump.+, gauge: 12 AWG, colour: red, length: 6 ft}
  W3: {from: pump.-, to: house.-, gauge: 12 AWG, colour: black, length: 6 ft}
",
    fix: "Fit a battery with an alarm contact, or feed one vital load from another bank.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let mut vital: Vec<&str> = Vec::new();
    let mut banks: Vec<BankId> = Vec::new();
    for load in system.loads.iter().filter(|load| load.vital) {
        let (positive, _) = ends(system, load.link);
        let feeds: Vec<usize> = own_feeds(facts, positive).collect();
        if feeds.is_empty() {
            // It is dead anyway, which other rules tell.
            continue;
        }
        vital.push(&load.name);
        for feed in feeds {
            for battery in &facts.faults.feeds()[feed].batteries {
                banks.extend(system.sources[battery.index()].bank);
            }
        }
    }
    banks.sort_unstable();
    banks.dedup();
    let [bank] = banks.as_slice() else { return };
    let bank = &system.banks[bank.index()];
    let batteries: Vec<_> = bank
        .strings
        .iter()
        .flatten()
        .map(|battery| &system.sources[battery.index()])
        .collect();
    if batteries.is_empty() || !batteries.iter().all(|battery| is_managed(battery)) {
        return;
    }
    let warns =
        |battery: &&&crate::system::Source| battery.alarm_contact.is_some_and(|given| given.value);
    let Some(silent) = batteries.iter().find(|battery| !warns(battery)) else {
        return;
    };
    let loads = listed(&vital);
    let finding = if silent.alarm_contact.is_some() {
        rule.finding(
            &bank.name,
            format!(
                "all vital loads ({loads}) draw on bank {} alone, and {} cuts out without a warning",
                bank.name, silent.name
            ),
        )
    } else {
        rule.not_proved(
            &bank.name,
            format!(
                "all vital loads ({loads}) draw on bank {} alone; whether {} warns before its management cuts out is not given",
                bank.name, silent.name
            ),
        )
    };
    findings.push(
        finding
            .label(
                silent
                    .alarm_contact
                    .and_then(|given| given.span)
                    .or(Some(silent.span)),
                "no warning before it cuts out",
            )
            .repair(format!(
                "fit a battery with an alarm contact as {}, or feed one vital load from another bank",
                silent.name
            )),
    );
}
