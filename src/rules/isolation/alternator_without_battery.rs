//! An alternator that a battery switch cuts off from every battery.

use super::super::telling::with_positions;
use crate::analysis::Facts;
use crate::analysis::states::set_to;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "BI412",
    name: "alternator-without-battery",
    title: "Battery switch can leave a running alternator without a battery",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "In no position of the battery switches is the output of an alternator cut off from every battery. Combiners are taken as open and all other switches as closed. A position is excused where the switch itself opens the field before it stands at off (`field-switches`), and a machine with a surge protector at its output (`surge-protected`). With nothing to take its current the voltage of a running alternator leaps up and can destroy its diodes and whatever is on.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  start: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  alternator-fuse: {rating: 60 A, form: blade maxi, zone: cabin}
switches:
  master: {kind: battery, rating: 300 A, zone: cabin}
alternators:
  alternator: {current: 50 A, voltage: 14.4 V, self-limiting: true, zone: cabin}
runs:
  W1: {from: start.+, to: alternator-fuse.in, gauge: 6 AWG, colour: red, length: 6 in}
  W2: {from: alternator-fuse.out, to: master.in, gauge: 6 AWG, colour: red, length: 1 ft}
  W3: {from: master.out, to: alternator.+, gauge: 6 AWG, colour: orange, length: 3 ft}
  W4: {from: alternator.-, to: start.-, gauge: 6 AWG, colour: black, length: 3 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  start: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  alternator-fuse: {rating: 60 A, form: blade maxi, zone: cabin}
alternators:
  alternator: {current: 50 A, voltage: 14.4 V, self-limiting: true, zone: cabin}
runs:
  W1: {from: start.+, to: alternator-fuse.in, gauge: 6 AWG, colour: red, length: 6 in}
  W2: {from: alternator-fuse.out, to: alternator.+, gauge: 6 AWG, colour: orange, length: 3 ft}
  W4: {from: alternator.-, to: start.-, gauge: 6 AWG, colour: black, length: 3 ft}
",
    fix: "Land the alternator at the battery, through a fuse of its own, on the battery side of the switch; or run its field through a contact of the switch that opens first and name the switch in `field-switches`.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let charging = &facts.isolation.charging;
    for &id in &charging.unconnected {
        let source = &system.sources[id.index()];
        findings.push(
            rule.finding(
                &source.name,
                format!(
                    "{} reaches a battery in no position of the switches",
                    source.name
                ),
            )
            .label(source.span, "joined to no battery")
            .repair(format!(
                "land {}.+ at a battery through a fuse of its own",
                source.name
            )),
        );
    }
    for (id, witness) in &charging.stranded {
        let source = &system.sources[id.index()];
        let how = if witness.off_normal.is_empty() {
            "with every battery switch in its normal position".to_owned()
        } else {
            with_positions(system, &witness.off_normal)
                .trim_start()
                .to_owned()
        };
        let switch = witness
            .off_normal
            .first()
            .map(|(gear, _)| system.components[system.gears[gear.index()].component.index()].span);
        findings.push(
            rule.finding(
                &source.name,
                format!(
                    "{how}, {} is left without a battery while the engine runs",
                    source.name
                ),
            )
            .label(source.span, "feeds nothing that can take its current")
            .label(switch, "cuts it off")
            .in_positions(set_to(system, &witness.off_normal))
            .repair(format!(
                "land {}.+ at the battery, on the battery side of the switch, through a fuse of its own",
                source.name
            )),
        );
    }
}
