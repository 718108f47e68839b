//! No ring is commonly sold for this conductor and this stud.

use super::common::size_span;
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::{StudSize, citations, ring_terminal};
use crate::system::{ComponentKind, ConductorId, Given, System, TerminalId, TerminalRole};
use crate::units::Gauge;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL715",
    name: "no-ring-for-stud",
    title: "No ring terminal is commonly sold for a conductor on its stud",
    severity: Severity::Note,
    basis: &[citations::RING_TERMINALS],
    checks: "Where the file gives the size of a conductor and of the stud it lands on, a ring terminal for both is commonly sold. Where none is, look for one before the harness is made, or bring the conductor to a larger stud. A ring that is drilled up has lost the metal it needs.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, stud: M6, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 1/0 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, stud: M8, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 1/0 AWG, colour: black, length: 6 ft}
",
    fix: "Find the terminal first, or use a larger stud.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for (index, conductor) in system.conductors.iter().enumerate() {
        let Some(gauge) = conductor.gauge else {
            continue;
        };
        let Some(ring) = ring_terminal(gauge.value) else {
            continue;
        };
        for end in [conductor.from, conductor.to] {
            let component = system.component_of(end);
            let Some((given, stud)) = stud_at(system, end) else {
                continue;
            };
            if ring.studs.iter().any(|listed| listed.name == stud.name) {
                continue;
            }
            let landing = system.terminal_name(end);
            let mut finding = rule.finding(
                &conductor.number,
                format!(
                    "no ring for {} on {stud} is commonly sold; {} lands on {landing}",
                    gauge.value, conductor.number
                ),
            );
            finding.basis = vec![ring.basis];
            findings.push(
                finding
                    .label(size_span(facts, ConductorId::at(index)), "this size")
                    .label(given.span.unwrap_or(component.span), "this stud")
                    .repair(format!(
                        "find the terminal before {} is made, or land it on a larger stud",
                        conductor.number
                    )),
            );
        }
    }
}

/// The stud that a terminal is, where the file gives its size.
fn stud_at(system: &System, end: TerminalId) -> Option<(&Given<String>, StudSize)> {
    let component = system.component_of(end);
    let role = system.terminals[end.index()].role;
    let is_block = component.kind == ComponentKind::FuseBlock;
    let given = match role {
        TerminalRole::Out if is_block => component.way_stud.as_ref(),
        // The stud of a block is that of its feed; its negative bar has screws of its own.
        TerminalRole::Stud if is_block => None,
        _ => component.stud.as_ref(),
    }?;
    Some((given, given.value.parse().ok()?))
}

/// Whether rings are commonly sold for a conductor of a size on both its studs, as far as their sizes are given.
pub(crate) fn has_rings(system: &System, conductor: ConductorId, size: Gauge) -> bool {
    let conductor = &system.conductors[conductor.index()];
    let Some(ring) = ring_terminal(size) else {
        return true;
    };
    [conductor.from, conductor.to]
        .into_iter()
        .filter_map(|end| stud_at(system, end))
        .all(|(_, stud)| ring.studs.iter().any(|listed| listed.name == stud.name))
}
