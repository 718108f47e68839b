//! Boats with more combinations of positions than are tried one by one.

use crate::analysis::Facts;
use crate::analysis::currents::{Coverage, MAX_COMBINATIONS};
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::{Basis, Confidence};
use crate::system::GearKind;

/// Why the limit stands.
const OWN: Basis = Basis::clause(
    "project policy",
    "",
    "bounded work",
    Confidence::CommonPractice,
);

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "AM210",
    name: "combinations-not-all-tried",
    title: "Not all combinations of positions are tried for currents and drops",
    severity: Severity::NotProved,
    basis: &[OWN],
    checks: "Currents and drops are looked for in all combinations of battery switches and combiners, up to 4096, with every other part in each of its positions. On a boat with more, or on a very large one, positions are tried one at a time from the normal ones, and this is told. Protection and isolation are proved over all combinations whatever their number.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fuse: {rating: 5 A, form: blade regular, on: house.+, zone: cabin}
switches:
  s1: {kind: battery, rating: 100 A, zone: cabin}
  s2: {kind: battery, rating: 100 A, zone: cabin}
  s3: {kind: battery, rating: 100 A, zone: cabin}
  s4: {kind: battery, rating: 100 A, zone: cabin}
  s5: {kind: battery, rating: 100 A, zone: cabin}
  s6: {kind: battery, rating: 100 A, zone: cabin}
  s7: {kind: battery, rating: 100 A, zone: cabin}
  s8: {kind: battery, rating: 100 A, zone: cabin}
  s9: {kind: battery, rating: 100 A, zone: cabin}
  s10: {kind: battery, rating: 100 A, zone: cabin}
  s11: {kind: battery, rating: 100 A, zone: cabin}
  s12: {kind: battery, rating: 100 A, zone: cabin}
  s13: {kind: battery, rating: 100 A, zone: cabin}
loads:
  lamp: {draw: 2 A, kind: lamp, drop: 10 %, zone: cabin}
runs:
  W0: {from: fuse.out, to: s1.in, gauge: 14 AWG, insulation: 105 °C, length: 2 in}
  W1: {from: s1.out, to: s2.in, gauge: 14 AWG, insulation: 105 °C, length: 2 in}
  W2: {from: s2.out, to: s3.in, gauge: 14 AWG, insulation: 105 °C, length: 2 in}
  W3: {from: s3.out, to: s4.in, gauge: 14 AWG, insulation: 105 °C, length: 2 in}
  W4: {from: s4.out, to: s5.in, gauge: 14 AWG, insulation: 105 °C, length: 2 in}
  W5: {from: s5.out, to: s6.in, gauge: 14 AWG, insulation: 105 °C, length: 2 in}
  W6: {from: s6.out, to: s7.in, gauge: 14 AWG, insulation: 105 °C, length: 2 in}
  W7: {from: s7.out, to: s8.in, gauge: 14 AWG, insulation: 105 °C, length: 2 in}
  W8: {from: s8.out, to: s9.in, gauge: 14 AWG, insulation: 105 °C, length: 2 in}
  W9: {from: s9.out, to: s10.in, gauge: 14 AWG, insulation: 105 °C, length: 2 in}
  W10: {from: s10.out, to: s11.in, gauge: 14 AWG, insulation: 105 °C, length: 2 in}
  W11: {from: s11.out, to: s12.in, gauge: 14 AWG, insulation: 105 °C, length: 2 in}
  W12: {from: s12.out, to: s13.in, gauge: 14 AWG, insulation: 105 °C, length: 2 in}
  W13: {from: s13.out, to: lamp.+, gauge: 14 AWG, insulation: 105 °C, length: 2 in}
  N: {from: lamp.-, to: house.-, gauge: 14 AWG, insulation: 105 °C, length: 2 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fuse: {rating: 5 A, form: blade regular, on: house.+, zone: cabin}
switches:
  s1: {kind: battery, rating: 100 A, zone: cabin}
  s2: {kind: battery, rating: 100 A, zone: cabin}
loads:
  lamp: {draw: 2 A, kind: lamp, drop: 10 %, zone: cabin}
runs:
  W0: {from: fuse.out, to: s1.in, gauge: 14 AWG, insulation: 105 °C, length: 2 in}
  W1: {from: s1.out, to: s2.in, gauge: 14 AWG, insulation: 105 °C, length: 2 in}
  W2: {from: s2.out, to: lamp.+, gauge: 14 AWG, insulation: 105 °C, length: 2 in}
  N: {from: lamp.-, to: house.-, gauge: 14 AWG, insulation: 105 °C, length: 2 ft}
",
    fix: "Declare scenarios, or mark as `panel` those switches that are no battery switches.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let how = match facts.currents.coverage {
        Coverage::Complete => return,
        Coverage::VariedFromNormal => {
            "all combinations of battery switches, with other parts varied from their normal positions only"
        }
        Coverage::OneAtATime => "positions one at a time from the normal ones",
    };
    let mut switches = facts
        .system
        .gears
        .iter()
        .filter(|gear| matches!(gear.kind, GearKind::BatterySwitch | GearKind::Combiner));
    let first = switches.next().or(facts.system.gears.first());
    let place = first.map(|gear| facts.system.components[gear.component.index()].span);
    findings.push(
        rule.not_proved(
            "",
            format!(
                "currents and drops are found by {how}, because there are more than {MAX_COMBINATIONS} combinations or the boat is too large to try them all"
            ),
        )
        .label(place, "one of them")
        .repair("declare scenarios, or mark as `panel` those switches that are no battery switches"),
    );
}
