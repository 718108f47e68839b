//! A bank that no battery switch isolates.

use crate::analysis::Facts;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::{Basis, Confidence, constants};
use crate::system::{Bank, BankId, System};
use crate::units::{AmpHours, Amps, Rounding, amp_hours};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "LV502",
    name: "bank-without-switch",
    title: "Bank has no battery switch",
    severity: Severity::Warning,
    basis: &[Basis::clause("ABYC E-11", "", "", Confidence::Secondary)],
    checks: "A battery switch stands between every bank above 100 Ah or 800 A cranking current and what it feeds. For a smaller bank its absence is a note. With no switch there is no one place that makes the boat dead.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 200 Ah, cranking: 900 A, zone: cabin}
fuses:
  main-fuse: {rating: 20 A, form: class T, voltage: 125 V, interrupting: 20000 A, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: fan.+, gauge: 12 AWG, colour: red, length: 6 ft}
  W4: {from: fan.-, to: house.-, gauge: 12 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 200 Ah, cranking: 900 A, zone: cabin}
fuses:
  main-fuse: {rating: 20 A, form: class T, voltage: 125 V, interrupting: 20000 A, zone: cabin}
switches:
  master: {kind: battery, rating: 100 A, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: master.in, gauge: 12 AWG, colour: red, length: 1 ft}
  W3: {from: master.out, to: fan.+, gauge: 12 AWG, colour: red, length: 6 ft}
  W4: {from: fan.-, to: house.-, gauge: 12 AWG, colour: black, length: 6 ft}
",
    fix: "Fit a battery switch in the positive of the bank, close to it.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let (most_capacity, _) = constants::battery_switch_capacity();
    let (most_cranking, _) = constants::battery_switch_cranking();
    for (index, bank) in system.banks.iter().enumerate() {
        if facts.live.has_switch(BankId::at(index)) || bank.strings.is_empty() {
            continue;
        }
        let (capacity, cranking) = totals(system, bank);
        let help = format!("fit a battery switch in the positive of bank {}", bank.name);
        let large = |message: String, value: (&str, f64), limit: f64, unit: &str| {
            rule.finding(&bank.name, message)
                .label(bank.span, "no battery switch")
                .compared(
                    Figure::new(value.0, value.1, unit),
                    Figure::new("largest without a battery switch", limit, unit),
                )
                .repair(help.clone())
        };
        let finding = if let Some(capacity) = capacity.filter(|it| *it > most_capacity) {
            large(
                format!(
                    "bank {} of {} has no battery switch; above {} it needs one",
                    bank.name,
                    amp_hours(capacity, Rounding::Nearest),
                    amp_hours(most_capacity, Rounding::Nearest)
                ),
                ("capacity", capacity.0),
                most_capacity.0,
                "Ah",
            )
        } else if let Some(cranking) = cranking.filter(|it| *it > most_cranking) {
            large(
                format!(
                    "bank {} of {:.0} A cranking current has no battery switch; above {:.0} A it needs one",
                    bank.name, cranking.0, most_cranking.0
                ),
                ("cranking current", cranking.0),
                most_cranking.0,
                "A",
            )
        } else {
            let mut finding = rule
                .finding(
                    &bank.name,
                    format!("bank {} has no battery switch", bank.name),
                )
                .label(bank.span, "no battery switch")
                .repair(help);
            finding.severity = Severity::Note;
            if capacity.is_none() {
                finding.severity = Severity::NotProved;
                finding.message = format!(
                    "bank {} has no battery switch; whether it needs one is not known, because its capacity is not given",
                    bank.name
                );
                finding = finding.repair("write the `capacity` of each battery");
            }
            finding
        };
        findings.push(finding);
    }
}

/// Capacity and cranking current of the strings together, each taken as its weakest battery.
fn totals(system: &System, bank: &Bank) -> (Option<AmpHours>, Option<Amps>) {
    let mut capacity = Some(AmpHours(0.0));
    let mut cranking = Some(Amps(0.0));
    for string in &bank.strings {
        let batteries = || string.iter().map(|id| &system.sources[id.index()]);
        let least = |one: Option<f64>, other: Option<f64>| Some(one?.min(other?));
        let first = Some(f64::INFINITY);
        let own = batteries().fold(first, |sum, battery| {
            least(sum, battery.capacity.map(|given| given.value.0))
        });
        capacity = capacity.zip(own).map(|(sum, own)| sum + AmpHours(own));
        let own = batteries().fold(first, |sum, battery| {
            least(sum, battery.cranking.map(|given| given.value.0))
        });
        cranking = cranking.zip(own).map(|(sum, own)| sum + Amps(own));
    }
    (capacity, cranking)
}
