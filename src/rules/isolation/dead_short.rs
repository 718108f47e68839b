//! A source whose poles some state joins through no load.

use super::super::telling::{listed, shown};
use super::{in_positions, place};
use crate::analysis::Facts;
use crate::analysis::states::ends;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "BI405",
    name: "dead-short",
    title: "A combination of positions shorts a source",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "No combination of positions joins the positive of a source to its own negative, or to a negative below it in its string, through conductors, contacts and devices alone. A device on the way opens at best; without one the wire burns.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
switches:
  fan-switch:
    rating: 10 A
    zone: cabin
    terminals: [in, out, other]
    positions:
      \"off\": []
      low: [[in, other]]
      high: [[in, out]]
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan-switch.in, gauge: 14 AWG, colour: red, length: 1 ft}
  W3: {from: fan-switch.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W4: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W5: {from: fan-switch.other, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
switches:
  fan-switch:
    rating: 10 A
    zone: cabin
    terminals: [in, out, other]
    positions:
      \"off\": []
      low: [[out, other]]
      high: [[in, out]]
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan-switch.in, gauge: 14 AWG, colour: red, length: 1 ft}
  W3: {from: fan-switch.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W4: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W5: {from: fan-switch.other, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Take out the path that passes no load.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for short in &facts.isolation.shorts {
        let names: Vec<&str> = short
            .sources
            .iter()
            .map(|id| system.sources[id.index()].name.as_str())
            .collect();
        let source = &system.sources[short.sources[0].index()];
        let verb = if names.len() == 1 { "is" } else { "are" };
        let (positive, _) = ends(system, source.link);
        let finding = rule
            .finding(
                &source.name,
                format!(
                    "{} {verb} shorted{}",
                    listed(&names),
                    in_positions(system, &short.witness)
                ),
            )
            .label(place(system, &short.witness), "closes the short")
            .label(source.span, "this source")
            .repair(format!(
                "open the path from {} that passes no load",
                system.node_name(positive)
            ));
        findings.push(shown(
            finding,
            system,
            &short.witness.off_normal,
            &source.name,
            &short.witness.path,
        ));
    }
}
