//! Batteries of a large bank in parallel without a device for each.

use crate::analysis::Facts;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::{Basis, Confidence, constants};
use crate::system::{Bank, System};
use crate::units::{AmpHours, Rounding, amp_hours};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "OC110",
    name: "batteries-without-device",
    title: "Batteries of a large parallel bank have no device each",
    severity: Severity::Warning,
    basis: &[Basis::clause(
        "ABYC E-11",
        "July 2025",
        "11.10.1.4.1",
        Confidence::Secondary,
    )],
    checks: "In a bank of several batteries or strings in parallel whose capacity is above 500 Ah, each has an overcurrent device of its own besides the main device: a battery that fails inside is otherwise fed by all the others.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  one: {bank: house, chemistry: agm, capacity: 300 Ah, cranking: 400 A, zone: cabin}
  two: {bank: house, chemistry: agm, capacity: 300 Ah, cranking: 400 A, zone: cabin}
switches:
  master: {kind: battery, rating: 100 A, zone: cabin}
fuses:
  main-fuse: {rating: 30 A, form: class T, voltage: 125 V, interrupting: 20000 A, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: one.+, to: two.+, gauge: 8 AWG, colour: red, length: 6 in}
  W2: {from: one.+, to: main-fuse.in, gauge: 8 AWG, colour: red, length: 6 in}
  W3: {from: main-fuse.out, to: master.in, gauge: 10 AWG, colour: red, length: 1 ft}
  W4: {from: master.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W5: {from: fan.-, to: one.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W6: {from: one.-, to: two.-, gauge: 8 AWG, colour: black, length: 6 in}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  one: {bank: house, chemistry: agm, capacity: 300 Ah, cranking: 400 A, zone: cabin}
  two: {bank: house, chemistry: agm, capacity: 300 Ah, cranking: 400 A, zone: cabin}
switches:
  master: {kind: battery, rating: 100 A, zone: cabin}
fuses:
  fuse-one: {rating: 30 A, form: class T, voltage: 125 V, interrupting: 20000 A, zone: cabin}
  fuse-two: {rating: 30 A, form: class T, voltage: 125 V, interrupting: 20000 A, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: one.+, to: fuse-one.in, gauge: 8 AWG, colour: red, length: 6 in}
  W2: {from: two.+, to: fuse-two.in, gauge: 8 AWG, colour: red, length: 6 in}
  W3: {from: fuse-one.out, to: master.in, gauge: 8 AWG, colour: red, length: 1 ft}
  W4: {from: fuse-two.out, to: master.in, gauge: 8 AWG, colour: red, length: 1 ft}
  W5: {from: master.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W6: {from: fan.-, to: one.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W7: {from: one.-, to: two.-, gauge: 8 AWG, colour: black, length: 6 in}
",
    fix: "Fit a device at the positive post of each battery.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let (limit, _) = constants::device_per_battery_capacity();
    for parallel in facts.protection.parallels() {
        let bank = &system.banks[parallel.bank.index()];
        let Some(capacity) = capacity(system, bank).filter(|&capacity| capacity > limit) else {
            continue;
        };
        let [one, other] = parallel.batteries.map(|id| &system.sources[id.index()]);
        findings.push(
            rule.finding(
                &bank.name,
                format!(
                    "bank {} has {}, and no device stands between {} and {}; above {} each battery needs one",
                    bank.name,
                    amp_hours(capacity, Rounding::Nearest),
                    one.name,
                    other.name,
                    amp_hours(limit, Rounding::Nearest)
                ),
            )
            .label(one.span, "no device of its own")
            .label(other.span, "in parallel with it")
            .compared(
                Figure::new("capacity of the bank", capacity.0, "Ah"),
                Figure::new("largest capacity without a device for each", limit.0, "Ah"),
            )
            .repair(format!("fit a device at the positive post of each battery of {}", bank.name)),
        );
    }
}

/// Capacity of the strings together, each taken as its smallest battery; none where one is not given.
fn capacity(system: &System, bank: &Bank) -> Option<AmpHours> {
    let mut sum = AmpHours(0.0);
    for string in &bank.strings {
        let mut least: Option<AmpHours> = None;
        for source in string {
            let capacity = system.sources[source.index()].capacity?.value;
            least = Some(least.map_or(capacity, |before| before.min(capacity)));
        }
        sum = sum + least?;
    }
    Some(sum)
}
