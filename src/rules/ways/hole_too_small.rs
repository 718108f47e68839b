//! Conductors that together do not pass the hole or conduit that they lead through.

use super::super::telling::wires;
use crate::analysis::Facts;
use crate::analysis::fill::Fill;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::source::Span;
use crate::standards::citations;
use crate::system::{BundleId, Given, WayId};
use crate::units::{Metres, decimal, format_against};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "WY101",
    name: "hole-too-small",
    title: "Conductors do not pass the hole on their way",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Where a way or a bundle states its smallest hole or conduit bore: the diameter of all conductors in it, estimated as 1.2 times the root of the sum of their squared outside diameters and never less than two side by side, is not above it. A bundle is judged where it is thickest. Outside diameters are an upper estimate by size; sheaths, connectors and chafing gear are not counted. What is forced through a hole is skinned by its edge.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
points:
  bench: {zone: cabin}
  bow: {zone: cabin}
ways:
  trunk: {between: [bench, bow], length: 6 ft, hole: 6 mm}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, at: bench}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, at: bench}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, at: bow}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
points:
  bench: {zone: cabin}
  bow: {zone: cabin}
ways:
  trunk: {between: [bench, bow], length: 6 ft, hole: 10 mm}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, at: bench}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, at: bench}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, at: bow}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black}
",
    fix: "Bore a larger hole where the structure allows it, or lead some conductors another way.",
    check,
};

/// A way or a bundle with a hole.
struct Passage<'f> {
    what: &'static str,
    name: &'f str,
    /// Where the bundle is so thick, as a phrase; empty for a way.
    place: String,
    span: Span,
    hole: Given<Metres>,
    fill: &'f Fill,
}

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for (index, way) in system.ways.iter().enumerate() {
        if let Some(hole) = way.hole {
            let passage = Passage {
                what: "way",
                name: &way.name,
                place: String::new(),
                span: way.span,
                hole,
                fill: facts.fills.way(WayId::at(index)),
            };
            findings.extend(judge(rule, facts, &passage));
        }
    }
    for (index, bundle) in system.bundles.iter().enumerate() {
        if let Some(hole) = bundle.hole {
            let thickest = facts.fills.bundle(BundleId::at(index));
            let place = thickest.way.map_or_else(String::new, |way| {
                format!(" on way {}", system.ways[way.index()].name)
            });
            let passage = Passage {
                what: "bundle",
                name: &bundle.name,
                place,
                span: bundle.span,
                hole,
                fill: &thickest.fill,
            };
            findings.extend(judge(rule, facts, &passage));
        }
    }
}

fn judge(rule: &Rule, facts: &Facts<'_>, passage: &Passage<'_>) -> Option<Diagnostic> {
    let fill = passage.fill;
    let mm = |length: Metres| length.0 * 1000.0;
    let hole = mm(passage.hole.value);
    let thick = fill.diameter.map_or(0.0, mm);
    let span = passage.hole.span.unwrap_or(passage.span);
    let Passage {
        what, name, place, ..
    } = passage;
    if thick > hole {
        let (shown, limit) = format_against(thick, hole, "mm");
        let least = if fill.is_partial() { "at least " } else { "" };
        let known = fill.members.len() - fill.unknown.len();
        let (conductors, are) = match known {
            1 => ("conductor".to_owned(), "is"),
            _ => (format!("{known} conductors"), "are"),
        };
        return Some(
            rule.finding(
                *name,
                format!(
                    "the {conductors} of {what} {name}{place} {are} about {least}{shown} thick; the hole is {limit}"
                ),
            )
            .label(span, "the smallest hole")
            .compared(
                Figure::new("diameter", thick, "mm"),
                Figure::new("hole", hole, "mm"),
            )
            .repair(format!(
                "bore at least {} mm where the structure allows it, or lead some of them another way",
                decimal(thick.ceil(), 0)
            )),
        );
    }
    if !fill.is_partial() {
        return None;
    }
    let mut missing = Vec::new();
    if !fill.unknown.is_empty() {
        missing.push(format!(
            "the thickness of {} is not known",
            wires(facts.system, &fill.unknown)
        ));
    }
    if fill.unlisted > 0 {
        missing.push(format!("{} conductors are not listed", fill.unlisted));
    }
    Some(
        rule.not_proved(
            *name,
            format!(
                "whether {what} {name} passes its hole is not proved: {}",
                missing.join(", and ")
            ),
        )
        .label(span, "the smallest hole")
        .repair("write the `gauge` of each conductor, and list those that the bundle only counts"),
    )
}
