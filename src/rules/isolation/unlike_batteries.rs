//! Batteries of one bank that are not alike.

use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::{Chemistry, citations};
use crate::system::Source;
use crate::units::{Rounding, amp_hours};

/// Capacities that differ by more than this share are unlike. Common practice, no source.
const SAME_CAPACITY: f64 = 0.1;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "BI414",
    name: "unlike-batteries",
    title: "Batteries of one bank are not alike",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "The batteries of one bank have the same chemistry and, within a tenth, the same capacity. Lead-acid and lithium in one bank are an error. The weaker battery is charged and drawn down beyond what suits it, and drags the others with it.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  one: {bank: house, chemistry: agm, capacity: 30 Ah, cranking: 200 A, zone: cabin}
  two: {bank: house, chemistry: agm, capacity: 60 Ah, cranking: 200 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: one.+, to: two.+, gauge: 8 AWG, colour: red, length: 6 in}
  W2: {from: one.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W3: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W4: {from: fan.-, to: two.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W5: {from: one.-, to: two.-, gauge: 8 AWG, colour: black, length: 6 in}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  one: {bank: house, chemistry: agm, capacity: 30 Ah, cranking: 200 A, zone: cabin}
  two: {bank: house, chemistry: agm, capacity: 30 Ah, cranking: 200 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: one.+, to: two.+, gauge: 8 AWG, colour: red, length: 6 in}
  W2: {from: one.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W3: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W4: {from: fan.-, to: two.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W5: {from: one.-, to: two.-, gauge: 8 AWG, colour: black, length: 6 in}
",
    fix: "Make up the bank of batteries of one kind, size and age.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for bank in &system.banks {
        let mut batteries = bank
            .strings
            .iter()
            .flatten()
            .map(|id| &system.sources[id.index()]);
        let Some(first) = batteries.next() else {
            continue;
        };
        let Some((other, what, severity)) =
            batteries.find_map(|other| difference(first, other).map(|(a, b)| (other, a, b)))
        else {
            continue;
        };
        let mut finding = rule
            .finding(
                &bank.name,
                format!("batteries of bank {} are not alike: {what}", bank.name),
            )
            .label(other.span, "unlike the first")
            .label(first.span, "the first battery of the bank")
            .repair(format!(
                "replace {} or {} by one like the other, or make them separate banks",
                first.name, other.name
            ));
        finding.severity = severity;
        findings.push(finding);
    }
}

fn difference(one: &Source, other: &Source) -> Option<(String, Severity)> {
    if let (Some(a), Some(b)) = (one.chemistry, other.chemistry)
        && a.value != b.value
    {
        let lithium = |chemistry| chemistry == Chemistry::LithiumIronPhosphate;
        let severity = if lithium(a.value) == lithium(b.value) {
            Severity::Warning
        } else {
            Severity::Error
        };
        return Some((
            format!("{} and {} differ in chemistry", one.name, other.name),
            severity,
        ));
    }
    let (a, b) = (one.capacity?.value, other.capacity?.value);
    let (low, high) = (a.min(b), a.max(b));
    (low < high * (1.0 - SAME_CAPACITY)).then(|| {
        (
            format!(
                "{} has {} and {} has {}",
                one.name,
                amp_hours(a, Rounding::Nearest),
                other.name,
                amp_hours(b, Rounding::Nearest)
            ),
            Severity::Warning,
        )
    })
}
