//! Lead-acid and lithium joined in some state.

use super::super::telling::shown;
use super::{Unlike, in_positions, place, unlike};
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "BI403",
    name: "unlike-chemistry-joined",
    title: "Banks of unlike chemistry can be joined",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "No combination of positions joins a lead-acid bank to a lithium bank. Joined only in positions declared `joins-banks` it is a warning, and a note where every position that joins them is declared `emergency` as well, to be used for a moment by hand; in any other position an error. Different kinds of lead-acid joined in declared positions are a note. The lithium bank holds its voltage and pours its current into the lead-acid one; neither is charged as it should be.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  port: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  starboard: {chemistry: lithium-iron-phosphate, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  port-fuse: {rating: 60 A, form: blade maxi, zone: cabin}
  starboard-fuse: {rating: 60 A, form: class T, interrupting: 20000 A, zone: cabin}
switches:
  parallel:
    kind: battery
    rating: 100 A
    zone: cabin
    positions:
      \"off\": []
      joined: {closes: [[in, out]], joins-banks: true}
    normal: \"off\"
runs:
  W1: {from: port.+, to: port-fuse.in, gauge: 8 AWG, colour: red, length: 6 in}
  W2: {from: port-fuse.out, to: parallel.in, gauge: 8 AWG, colour: red, length: 1 ft}
  W3: {from: parallel.out, to: starboard-fuse.out, gauge: 8 AWG, colour: red, length: 1 ft}
  W4: {from: starboard-fuse.in, to: starboard.+, gauge: 8 AWG, colour: red, length: 6 in}
  W5: {from: port.-, to: starboard.-, gauge: 8 AWG, colour: black, length: 2 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  port: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  starboard: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  port-fuse: {rating: 60 A, form: blade maxi, zone: cabin}
  starboard-fuse: {rating: 60 A, form: blade maxi, zone: cabin}
switches:
  parallel:
    kind: battery
    rating: 100 A
    zone: cabin
    positions:
      \"off\": []
      joined: {closes: [[in, out]], joins-banks: true}
    normal: \"off\"
runs:
  W1: {from: port.+, to: port-fuse.in, gauge: 8 AWG, colour: red, length: 6 in}
  W2: {from: port-fuse.out, to: parallel.in, gauge: 8 AWG, colour: red, length: 1 ft}
  W3: {from: parallel.out, to: starboard-fuse.out, gauge: 8 AWG, colour: red, length: 1 ft}
  W4: {from: starboard-fuse.in, to: starboard.+, gauge: 8 AWG, colour: red, length: 6 in}
  W5: {from: port.-, to: starboard.-, gauge: 8 AWG, colour: black, length: 2 ft}
",
    fix: "Charge one bank from the other through a converter instead of joining them.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for join in &facts.isolation.joins {
        let [one, other] = join.banks.map(|id| &system.banks[id.index()]);
        let positions = in_positions(system, &join.witness);
        let (severity, message, help) = match unlike(system, join) {
            Unlike::Chemistry => (
                if join.undeclared {
                    Severity::Error
                } else if join.emergency_only {
                    Severity::Note
                } else {
                    Severity::Warning
                },
                format!(
                    "lead-acid and lithium are joined, banks {} and {}{positions}",
                    one.name, other.name
                ),
                format!(
                    "charge one of {} and {} from the other through a converter",
                    one.name, other.name
                ),
            ),
            Unlike::LeadKind if !join.undeclared => (
                Severity::Note,
                format!(
                    "banks {} and {} are of different kinds of lead-acid and are joined{positions}",
                    one.name, other.name
                ),
                "charge both at a voltage that suits both".to_owned(),
            ),
            Unlike::NotGiven if !join.undeclared => (
                Severity::NotProved,
                format!(
                    "banks {} and {} are joined{positions}, and the chemistry of both is not given",
                    one.name, other.name
                ),
                "write the `chemistry` of each battery".to_owned(),
            ),
            _ => continue,
        };
        let mut finding = rule
            .finding(&one.name, message)
            .label(place(system, &join.witness), "joins them")
            .label(one.span, "this bank")
            .label(other.span, "and this one")
            .repair(help);
        finding.severity = severity;
        findings.push(shown(
            finding,
            system,
            &join.witness.off_normal,
            &one.name,
            &join.witness.path,
        ));
    }
}
