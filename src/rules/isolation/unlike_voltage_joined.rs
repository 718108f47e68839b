//! Two banks of unlike nominal voltage joined in some state.

use super::super::telling::shown;
use super::{Unlike, in_positions, place, unlike};
use crate::analysis::Facts;
use crate::analysis::isolation::nominal;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::citations;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "BI402",
    name: "unlike-voltage-joined",
    title: "Banks of unlike nominal voltage can be joined",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "No combination of positions joins the positives of two banks of unlike nominal voltage, declared or not. The higher bank drives a current into the lower one that only the wire limits.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  port: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  starboard: {chemistry: agm, voltage: 24 V, capacity: 60 Ah, cranking: 400 A, zone: cabin}
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
    fix: "Take the path between the two banks out, or charge one from the other through a converter.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for join in &facts.isolation.joins {
        if unlike(system, join) != Unlike::Voltage {
            continue;
        }
        let [one, other] = join.banks.map(|id| &system.banks[id.index()]);
        let volts = |bank| nominal(system, bank).unwrap_or_default();
        let (a, b) = (volts(one), volts(other));
        let finding = rule
            .finding(
                &one.name,
                format!(
                    "bank {} of {} V and bank {} of {} V are joined{}",
                    one.name,
                    a.0,
                    other.name,
                    b.0,
                    in_positions(system, &join.witness)
                ),
            )
            .label(place(system, &join.witness), "joins them")
            .label(one.span, format!("{} V", a.0))
            .label(other.span, format!("{} V", b.0))
            .compared(
                Figure::new("nominal voltage", a.0, "V"),
                Figure::new("nominal voltage of the other bank", b.0, "V"),
            )
            .repair(format!(
                "open the path between {} and {} for good",
                one.name, other.name
            ));
        findings.push(shown(
            finding,
            system,
            &join.witness.off_normal,
            &one.name,
            &join.witness.path,
        ));
    }
}
