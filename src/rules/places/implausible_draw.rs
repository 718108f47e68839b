//! A draw that is more often a slip than a fact.

use crate::analysis::Facts;
use crate::diag::Figure;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::source::Span;
use crate::standards::{DrawKind, citations, plausible_draw};
use crate::system::{Component, ComponentKind, Given, Load, LoadKind};
use crate::units::{Rounding, amps};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL720",
    name: "implausible-draw",
    title: "A draw is unlikely for its kind of load",
    severity: Severity::Note,
    basis: &[citations::BENCH_PRACTICE],
    checks: "The draw of a load is within what its kind commonly takes, such as 25 A for a lamp, and agrees with the other figures of the record: a peak and a stalled current are at least the draw, a standby current is at most that. Watts written as amperes are the usual slip. Some loads are unusual; then the note is all there is to it.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, peak: 1 A, kind: motor, drop: 10 %, zone: cabin}
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
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Correct the figure, or leave it if it is so.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for load in &system.loads {
        let (Some(draw), Some(current)) = (load.draw, load.current()) else {
            continue;
        };
        let nominal = load.nominal.value;
        let told = |message: String, place: Option<Span>| {
            rule.finding(&load.name, message)
                .label(draw.span.unwrap_or(load.span), "its draw")
                .label(place, "the other figure")
                .repair(format!(
                    "correct the figures of {}, or leave them if they are so",
                    load.name
                ))
        };
        let component = &system.components[load.component.index()];
        if let Some(kind) = kind_of(load, component) {
            let (most, basis) = plausible_draw(kind);
            if current > most {
                let mut finding = told(
                    format!(
                        "{} draws {}, and few of its kind draw more than {}; are they watts?",
                        load.name,
                        amps(current, Rounding::Nearest),
                        amps(most, Rounding::Nearest)
                    ),
                    None,
                );
                finding.basis = vec![basis];
                findings.push(finding.compared(
                    Figure::new("draw", current.0, "A"),
                    Figure::new("common for its kind", most.0, "A"),
                ));
            }
        }
        let standby = load.standby.map(|standby| Given {
            value: standby.value.at(nominal),
            span: standby.span,
            origin: standby.origin,
        });
        for (word, given, at_least) in [
            ("peak", load.peak, true),
            ("stalled current", load.stall, true),
            ("standby current", standby, false),
        ] {
            let Some(given) = given else { continue };
            let odd = if at_least {
                given.value < current
            } else {
                given.value > current
            };
            if odd {
                let than = if at_least { "less" } else { "more" };
                findings.push(
                    told(
                        format!(
                            "the {word} of {} is {}, {than} than its draw of {}",
                            load.name,
                            amps(given.value, Rounding::Nearest),
                            amps(current, Rounding::Nearest)
                        ),
                        given.span,
                    )
                    .compared(
                        Figure::new(word, given.value.0, "A"),
                        Figure::new("draw", current.0, "A"),
                    ),
                );
            }
        }
    }
}

fn kind_of(load: &Load, component: &Component) -> Option<DrawKind> {
    if component.kind == ComponentKind::Instrument {
        return Some(DrawKind::Instrument);
    }
    Some(match load.kind {
        LoadKind::Lamp => DrawKind::Lamp,
        LoadKind::Motor => DrawKind::Motor,
        LoadKind::Electronics => DrawKind::Electronics,
        LoadKind::Heater => DrawKind::Heater,
        LoadKind::Horn => DrawKind::Horn,
        LoadKind::Outlet => DrawKind::Outlet,
        LoadKind::Starter => DrawKind::Starter,
        LoadKind::Coil => DrawKind::Coil,
        LoadKind::ConverterInput | LoadKind::Other => return None,
    })
}
