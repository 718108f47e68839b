//! Automotive cable under an AWG number holds less copper.

use super::common::size_span;
use crate::analysis::Facts;
use crate::diag::Figure;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::{automotive_area, citations};
use crate::system::ConductorId;
use crate::units::decimal;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL716",
    name: "automotive-size",
    title: "Automotive cable holds less copper than its AWG number says",
    severity: Severity::Note,
    basis: &[citations::SAE_AREAS],
    checks: "A conductor whose type is one of SAE J1127 or J1128 is not counted as if it held the full area of its AWG number: cable sold so holds about a tenth less copper. Ampacity and drop are computed from the number, so allow for it, or use boat cable.",
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
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, wire-type: SAE J1128 GPT, insulation: 80 °C, colour: black, length: 6 ft}
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
    fix: "Use boat cable of the AWG size, or the next thicker size.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    for (index, conductor) in facts.system.conductors.iter().enumerate() {
        let (Some(kind), Some(gauge)) = (&conductor.wire_type, conductor.gauge) else {
            continue;
        };
        let Some((area, basis)) =
            automotive_area(gauge.value).filter(|_| is_automotive(&kind.value))
        else {
            continue;
        };
        let full = gauge.value.area();
        let mut finding = rule.finding(
            &conductor.number,
            format!(
                "{} is {}, sold under {} with as little as {} mm² where the number says {} mm²",
                conductor.number,
                kind.value,
                gauge.value,
                decimal(area.0, 2),
                decimal(full.0, 2)
            ),
        );
        finding.basis = vec![basis];
        findings.push(
            finding
                .label(kind.span.unwrap_or(conductor.span), "an automotive type")
                .label(size_span(facts, ConductorId::at(index)), "its number")
                .compared(
                    Figure::new("least area of its type", area.0, "mm²"),
                    Figure::new("area of its number", full.0, "mm²"),
                )
                .repair(format!(
                    "use boat cable for {}, or the next thicker size",
                    conductor.number
                )),
        );
    }
}

/// Whether a type is one of the two SAE standards, by their numbers or by the letters of their types.
fn is_automotive(kind: &str) -> bool {
    const WORDS: [&str; 9] = [
        "j1127", "j1128", "gpt", "hdt", "sgt", "sgx", "sxl", "gxl", "txl",
    ];
    kind.to_lowercase()
        .split(|letter: char| !letter.is_ascii_alphanumeric())
        .any(|word| WORDS.contains(&word))
}
