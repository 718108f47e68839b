//! A bank whose wiring does not agree with its declared strings.

use crate::analysis::Facts;
use crate::analysis::isolation::{StringFault, StringFaultKind};
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "BI407",
    name: "string-wired-wrong",
    title: "Batteries of a bank are not wired as their strings say",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "In each series string the negative of every upper battery meets the positive of the one below it; strings of one bank have the same voltage and meet at their positives. A missing link, an extra one or a battery the wrong way round makes another voltage than the bank is taken to have.",
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
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, voltage: 24 V, zone: cabin}
runs:
  W2: {from: high.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W3: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W4: {from: fan.-, to: low.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
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
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, voltage: 24 V, zone: cabin}
runs:
  W1: {from: low.+, to: high.-, gauge: 8 AWG, colour: red, length: 6 in}
  W2: {from: high.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W3: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W4: {from: fan.-, to: low.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Wire the batteries as their strings say, or put the strings right.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    for fault in &facts.isolation.strings {
        findings.push(told(rule, facts, fault));
    }
}

fn told(rule: &Rule, facts: &Facts<'_>, fault: &StringFault) -> Diagnostic {
    let system = facts.system;
    let bank = &system.banks[fault.bank.index()];
    let [lower, upper] = [fault.lower, fault.upper].map(|id| &system.sources[id.index()]);
    let (message, help) = match fault.kind {
        StringFaultKind::LinkMissing => (
            format!(
                "{}.- does not reach {}.+, which a string of bank {} puts below it",
                upper.name, lower.name, bank.name
            ),
            format!("link {}.+ to {}.-", lower.name, upper.name),
        ),
        StringFaultKind::Reversed => (
            format!(
                "{}.+ is joined to {}.+, which a string of bank {} puts below it: one of them is reversed",
                upper.name, lower.name, bank.name
            ),
            format!("link {}.+ to {}.- instead", lower.name, upper.name),
        ),
        StringFaultKind::UnlikeVoltages(one, other) => (
            format!(
                "the strings of bank {} with {} and {} have {} V and {} V",
                bank.name, lower.name, upper.name, one.0, other.0
            ),
            "make all strings of the bank of the same voltage".to_owned(),
        ),
        StringFaultKind::NotInParallel => (
            format!(
                "{}.+ and {}.+ of bank {} are joined in no position",
                lower.name, upper.name, bank.name
            ),
            format!(
                "join {}.+ and {}.+, or make them separate banks",
                lower.name, upper.name
            ),
        ),
        StringFaultKind::SeriesNotListed => (
            format!(
                "{} and {} of bank {} are wired in series, and the bank does not list them as a string",
                lower.name, upper.name, bank.name
            ),
            format!(
                "write `strings` for bank {}, lowest battery first",
                bank.name
            ),
        ),
    };
    rule.finding(&bank.name, message)
        .label(upper.span, "not wired as its bank says")
        .label(lower.span, "the other battery")
        .label(bank.span, "the bank")
        .repair(help)
}
