//! A load connected the wrong way round.

use crate::analysis::Facts;
use crate::analysis::states::ends;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::Load;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "RP604",
    name: "reversed-load",
    title: "A load is connected the wrong way round",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "The positive of a load never lies below its negative, whatever the switches stand at. Electronics are destroyed by it, pumps and blowers run backwards and move almost nothing. A motor that is reversed by contacts lies on both poles and passes.",
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
  W2: {from: fan-fuse.out, to: fan.-, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.+, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
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
    fix: "Change over the two conductors at the load.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let mut last_told = None;
    for load in &system.loads {
        if last_told == Some(load.component) || !is_reversed(facts, load) {
            continue;
        }
        last_told = Some(load.component);
        let link = &system.links[load.link.index()];
        let on = |terminal| {
            let landed = facts.returns.landings.on(terminal);
            let conductor = landed.conductors.first()?;
            Some(&system.conductors[conductor.index()])
        };
        let (plus, minus) = (system.terminal_name(link.a), system.terminal_name(link.b));
        let mut finding = rule
            .finding(
                &load.name,
                format!("{plus} is wired to the negative and {minus} to the positive"),
            )
            .label(
                on(link.a).map_or(load.span, |wire| wire.span),
                "comes from the negative",
            );
        if let Some(wire) = on(link.b) {
            finding = finding.label(wire.span, "comes from the positive");
        }
        findings.push(finding.repair(match (on(link.a), on(link.b)) {
            (Some(a), Some(b)) => {
                format!("change over {} and {} at {}", a.number, b.number, load.name)
            }
            _ => format!("change over the conductors at {}", load.name),
        }));
    }
}

/// Whether a load's positive lies below its negative in every combination of positions that puts voltage across it.
pub(super) fn is_reversed(facts: &Facts<'_>, load: &Load) -> bool {
    let (positive, negative) = ends(facts.system, load.link);
    let grounds = &facts.returns.grounds;
    let (Some((_, high)), Some((low, _))) =
        (facts.poles.voltage(positive), facts.poles.voltage(negative))
    else {
        return false;
    };
    // A tenth of a volt is far below any battery and far above rounding.
    grounds.island(positive) == grounds.island(negative) && low.0 > high.0 + 0.1
}
