//! A source wired against its polarity, or to another voltage.

use super::super::telling::shown;
use super::{in_positions, place};
use crate::analysis::Facts;
use crate::analysis::isolation::Opposed;
use crate::analysis::states::ends;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::citations;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "BI406",
    name: "opposed-source",
    title: "Source is reversed, or of another voltage than what it is wired to",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "The positive of no battery, charger, alternator or converter lies on a negative that loads return to, in any combination of positions; and no source is wired straight across another voltage than its own. A reversed battery is the commonest cause of battery fires.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  charger-fuse: {rating: 15 A, form: blade regular, zone: cabin}
buses:
  negative: {polarity: negative, studs: 4, rating: 100 A, zone: cabin}
chargers:
  charger: {outputs: {1: {current: 10 A, voltage: 14.4 V}}, self-limiting: true, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: negative, gauge: 14 AWG, colour: black, length: 6 ft}
  W4: {from: negative, to: house.-, gauge: 8 AWG, colour: black, length: 1 ft}
  W5: {from: house.+, to: charger-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W6: {from: charger-fuse.out, to: charger.-, gauge: 12 AWG, colour: red, length: 3 ft}
  W7: {from: charger.1+, to: negative, gauge: 12 AWG, colour: black, length: 3 ft}
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
buses:
  negative: {polarity: negative, studs: 4, rating: 100 A, zone: cabin}
chargers:
  charger: {outputs: {1: {current: 10 A, voltage: 14.4 V}}, self-limiting: true, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: negative, gauge: 14 AWG, colour: black, length: 6 ft}
  W4: {from: negative, to: house.-, gauge: 8 AWG, colour: black, length: 1 ft}
  W5: {from: house.+, to: charger-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W6: {from: charger-fuse.out, to: charger.1+, gauge: 12 AWG, colour: red, length: 3 ft}
  W7: {from: charger.-, to: negative, gauge: 12 AWG, colour: black, length: 3 ft}
",
    fix: "Change over the two conductors of the source.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    for opposed in &facts.isolation.opposed {
        findings.push(told(rule, facts, opposed));
    }
}

fn told(rule: &Rule, facts: &Facts<'_>, opposed: &Opposed) -> Diagnostic {
    let system = facts.system;
    let source = &system.sources[opposed.source.index()];
    let (positive, _) = ends(system, source.link);
    let own = source.max_voltage.unwrap_or(source.nominal).value;
    if let Some(across) = opposed.across {
        let reversed = across.0 < 0.0;
        let how = if reversed {
            format!(
                "reversed: {} V stand across it the other way round",
                -across.0
            )
        } else {
            format!("wired straight across {} V", across.0)
        };
        return rule
            .finding(
                &source.name,
                format!("{} of {} V is {how}", source.name, own.0),
            )
            .label(source.span, "wired to another voltage than its own")
            .compared(
                Figure::new("voltage across it", across.0, "V"),
                Figure::new("its own voltage", own.0, "V"),
            )
            .repair(if reversed {
                format!("change over the conductors at {}", source.name)
            } else {
                format!("wire {} to a battery of its own voltage", source.name)
            });
    }
    let name = system.node_name(positive);
    let post = format!("{}.+", source.name);
    let mut message = format!("the positive of {} lies on the negative", source.name);
    let help = format!("change over the conductors of {}", source.name);
    let Some(witness) = &opposed.witness else {
        return rule
            .finding(&source.name, message)
            .label(source.span, format!("its positive is at {name}"))
            .repair(help);
    };
    message.push_str(&in_positions(system, witness));
    let finding = rule
        .finding(&source.name, message)
        .label(place(system, witness), "joins it to the negative")
        .label(source.span, "this source")
        .repair(help);
    shown(finding, system, &witness.off_normal, &post, &witness.path)
}
