//! Yellow as a negative and as a blower feed in one bundle.

use crate::analysis::Facts;
use crate::analysis::poles::Pole;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{BundleId, ConductorId};
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL703",
    name: "yellow-twice",
    title: "Yellow means negative and blower feed in one bundle",
    severity: Severity::Note,
    basis: &[citations::ABYC_COLOURS],
    checks: "In one bundle no plain yellow conductor lies on the negative while another one lies above it. Yellow is the negative where alternating current is aboard, and in older practice the feed of the bilge blower: whoever works on the bundle takes one for the other.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, service: bilge-blower, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: yellow, length: 6 ft, bundle: loom}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: yellow, length: 6 ft, bundle: loom}
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
  fan: {draw: 2 A, kind: motor, service: bilge-blower, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: BN/YE, length: 6 ft, bundle: loom}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: yellow, length: 6 ft, bundle: loom}
",
    fix: "Use brown with a yellow stripe for the blower.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    // By bundle: the first yellow negative and the first yellow positive.
    let mut seen: BTreeMap<BundleId, [Option<ConductorId>; 2]> = BTreeMap::new();
    for (index, conductor) in system.conductors.iter().enumerate() {
        let yellow = conductor
            .colour
            .as_ref()
            .is_some_and(|colour| colour.value.base == "yellow" && colour.value.stripe.is_none());
        if !yellow {
            continue;
        }
        let side = match facts.poles.of(system.node_of(conductor.from)) {
            Pole::Negative => 0,
            Pole::Positive => 1,
            Pole::Either | Pole::Unknown => continue,
        };
        for bundle in conductor.stretches.iter().filter_map(|part| part.bundle) {
            seen.entry(bundle).or_default()[side].get_or_insert(ConductorId::at(index));
        }
    }
    for (bundle, pair) in seen {
        let [Some(negative), Some(positive)] = pair else {
            continue;
        };
        let wire = |id: ConductorId| &system.conductors[id.index()];
        let name = &system.bundles[bundle.index()].name;
        let (negative, positive) = (wire(negative), wire(positive));
        findings.push(
            rule.finding(
                &positive.number,
                format!(
                    "in {name} yellow is the negative {} and the feed {}",
                    negative.number, positive.number
                ),
            )
            .label(positive.span, "a yellow feed")
            .label(negative.span, "a yellow negative")
            .repair(format!(
                "make {} brown with a yellow stripe",
                positive.number
            )),
        );
    }
}
