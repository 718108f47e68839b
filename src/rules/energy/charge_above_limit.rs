//! Charging sources that send more than a battery's management takes.

use super::super::telling::{listed, rating};
use super::{Across, charges};
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{BankId, SourceId};
use crate::units::Amps;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "EN902",
    name: "charge-above-limit",
    title: "Charging sources send more than the batteries take",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Each charging source that reaches a bank in any state that nobody sets up to join banks is within the continuous limit that the management of its batteries states, strings in parallel added up. Sources that only together exceed it are a note, because they may never run together. A management that cuts out under charge leaves the source without a battery.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: lithium-iron-phosphate, capacity: 60 Ah, short-circuit: 5000 A, max-charge-voltage: 14.4 V, management-limit: 30 A, zone: cabin}
fuses:
  charger-fuse: {rating: 60 A, form: class T, interrupting: 20000 A, zone: cabin}
chargers:
  charger: {outputs: {1: {current: 40 A, voltage: 14.4 V}}, self-limiting: true, zone: cabin}
runs:
  K1: {from: house.+, to: charger-fuse.in, gauge: 6 AWG, colour: red, length: 6 in}
  K2: {from: charger.1+, to: charger-fuse.out, gauge: 6 AWG, colour: red, length: 3 ft}
  K3: {from: charger.-, to: house.-, gauge: 6 AWG, colour: black, length: 3 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: lithium-iron-phosphate, capacity: 60 Ah, short-circuit: 5000 A, max-charge-voltage: 14.4 V, management-limit: 60 A, zone: cabin}
fuses:
  charger-fuse: {rating: 60 A, form: class T, interrupting: 20000 A, zone: cabin}
chargers:
  charger: {outputs: {1: {current: 40 A, voltage: 14.4 V}}, self-limiting: true, zone: cabin}
runs:
  K1: {from: house.+, to: charger-fuse.in, gauge: 6 AWG, colour: red, length: 6 in}
  K2: {from: charger.1+, to: charger-fuse.out, gauge: 6 AWG, colour: red, length: 3 ft}
  K3: {from: charger.-, to: house.-, gauge: 6 AWG, colour: black, length: 3 ft}
",
    fix: "Set the source to less, or fit batteries that take more.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let limited: Vec<(BankId, Amps)> = (0..system.banks.len())
        .map(BankId::at)
        .filter_map(|bank| Some((bank, limit(facts, bank)?)))
        .collect();
    if limited.is_empty() {
        return;
    }
    // What is left out is told with the rule on voltages.
    let (charges, _) = charges(facts);
    for (bank, limit) in limited {
        let sources: Vec<SourceId> = charges
            .iter()
            .filter(|charge| charge.across == Across::Bank(bank))
            .map(|charge| charge.source)
            .collect();
        let current = |id: &SourceId| {
            system.sources[id.index()]
                .current
                .map_or(Amps(0.0), |given| given.value)
        };
        let together: Amps = sources.iter().map(current).sum();
        let alone: Vec<SourceId> = sources
            .iter()
            .copied()
            .filter(|source| current(source) > limit)
            .collect();
        for &source in &alone {
            findings.push(told(rule, facts, bank, limit, &[source], current(&source)));
        }
        if alone.is_empty() && together > limit {
            let mut finding = told(rule, facts, bank, limit, &sources, together);
            finding.severity = Severity::Note;
            findings.push(finding);
        }
    }
}

/// What the managements of a bank let through together; none where one battery states nothing.
fn limit(facts: &Facts<'_>, bank: BankId) -> Option<Amps> {
    let system = facts.system;
    let mut sum = Amps(0.0);
    let strings = &system.banks[bank.index()].strings;
    for string in strings {
        let mut least: Option<Amps> = None;
        for battery in string {
            let limit = system.sources[battery.index()].current?.value;
            least = Some(least.map_or(limit, |least| least.min(limit)));
        }
        sum = sum + least?;
    }
    (!strings.is_empty()).then_some(sum)
}

fn told(
    rule: &Rule,
    facts: &Facts<'_>,
    bank: BankId,
    limit: Amps,
    sources: &[SourceId],
    current: Amps,
) -> Diagnostic {
    let system = facts.system;
    let bank = &system.banks[bank.index()];
    let names: Vec<&str> = sources
        .iter()
        .map(|source| system.sources[source.index()].name.as_str())
        .collect();
    let battery = bank
        .strings
        .iter()
        .flatten()
        .next()
        .map(|battery| &system.sources[battery.index()]);
    let (verb, together) = if names.len() == 1 {
        ("sends", "")
    } else {
        ("send", " together")
    };
    let source = sources
        .first()
        .map(|source| &system.sources[source.index()]);
    let span = |source: &crate::system::Source| {
        source
            .current
            .and_then(|given| given.span)
            .unwrap_or(source.span)
    };
    rule.finding(
        &bank.name,
        format!(
            "{} {verb} up to {}{together} into {}, whose management takes {}",
            listed(&names),
            rating(current),
            bank.name,
            rating(limit)
        ),
    )
    .label(source.map(span), "sends this much")
    .label(battery.map(span), "takes this much")
    .compared(
        Figure::new("charging current", current.0, "A"),
        Figure::new("management limit", limit.0, "A"),
    )
    .repair(format!(
        "set {} to less, or fit batteries that take more",
        listed(&names)
    ))
}
