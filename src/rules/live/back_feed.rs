//! A bus that comes alive through a joint of two feeds.

use super::super::telling::{listed, shown, with_positions};
use crate::analysis::Facts;
use crate::analysis::live::{LiveLoad, Way};
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{GearKind, NodeId};
use indexmap::IndexMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "LV504",
    name: "back-feed",
    title: "Switched side comes alive backwards through a joint of two feeds",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "With every battery switch off, no combination of the other switches lets current run from an always-on feed through a joint and back up a switched feed. The usual case is a pump with a manual feed from the panel and a float feed from the battery that meet at the pump: with the float up and the manual switch on, the whole panel is live, through the wire of the pump, with the battery switch off.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  main-fuse: {rating: 20 A, form: blade regular, zone: cabin}
  pump-fuse: {rating: 10 A, form: blade regular, zone: cabin}
fuse-blocks:
  helm: {feed-rating: 100 A, form: blade regular, ways: {1: 10 A, 2: 10 A}, zone: cabin}
switches:
  master: {kind: battery, rating: 100 A, zone: cabin}
  float: {kind: float, rating: 15 A, zone: cabin}
  manual: {rating: 15 A, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
  pump: {draw: 2 A, kind: motor, drop: 10 %, always-on: true, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: master.in, gauge: 12 AWG, colour: red, length: 1 ft}
  W3: {from: master.out, to: helm.feed, gauge: 12 AWG, colour: red, length: 3 ft}
  W4: {from: helm.1, to: fan.+, gauge: 12 AWG, colour: red, length: 6 ft}
  W5: {from: fan.-, to: house.-, gauge: 12 AWG, colour: black, length: 6 ft}
  W6: {from: helm.2, to: manual.in, gauge: 14 AWG, colour: brown, length: 1 ft}
  W7: {from: manual.out, to: pump.+, gauge: 14 AWG, colour: brown, length: 6 ft}
  W9: {from: pump-fuse.out, to: float.in, gauge: 14 AWG, colour: brown, length: 6 ft}
  W10: {from: float.out, to: pump.+, gauge: 14 AWG, colour: brown, length: 1 ft}
  W8: {from: house.+, to: pump-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W11: {from: pump.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  main-fuse: {rating: 20 A, form: blade regular, zone: cabin}
  pump-fuse: {rating: 10 A, form: blade regular, zone: cabin}
fuse-blocks:
  helm: {feed-rating: 100 A, form: blade regular, ways: {1: 10 A, 2: 10 A}, zone: cabin}
switches:
  master: {kind: battery, rating: 100 A, zone: cabin}
  float: {kind: float, rating: 15 A, zone: cabin}
  pump-switch:
    rating: 15 A
    zone: cabin
    terminals: [feed, manual, auto]
    positions: {manual: [[feed, manual]], \"off\": [], auto: [[feed, auto]]}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
  pump: {draw: 2 A, kind: motor, drop: 10 %, always-on: true, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: master.in, gauge: 12 AWG, colour: red, length: 1 ft}
  W3: {from: master.out, to: helm.feed, gauge: 12 AWG, colour: red, length: 3 ft}
  W4: {from: helm.1, to: fan.+, gauge: 12 AWG, colour: red, length: 6 ft}
  W5: {from: fan.-, to: house.-, gauge: 12 AWG, colour: black, length: 6 ft}
  W6: {from: pump-fuse.out, to: pump-switch.feed, gauge: 14 AWG, colour: brown, length: 1 ft}
  W7: {from: pump-switch.manual, to: pump.+, gauge: 14 AWG, colour: brown, length: 6 ft}
  W9: {from: pump-switch.auto, to: float.in, gauge: 14 AWG, colour: brown, length: 6 ft}
  W10: {from: float.out, to: pump.+, gauge: 14 AWG, colour: brown, length: 1 ft}
  W8: {from: house.+, to: pump-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W11: {from: pump.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Feed both legs from one device through a three-position switch, or block one of them with a diode.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let mut joints: IndexMap<NodeId, Vec<(&LiveLoad, NodeId)>> = IndexMap::new();
    for live in facts.live.loads() {
        if let Way::BackFeed { joint, up } = live.way {
            joints.entry(joint).or_default().push((live, up));
        }
    }
    for (joint, same) in joints {
        // Of all that comes alive, the way that reaches furthest tells most, and the shortest tells it best.
        let (shortest, up) = same
            .iter()
            .min_by_key(|(other, _)| {
                (
                    other.witness.off_normal.len(),
                    other.witness.path.len(),
                    other.load,
                )
            })
            .copied()
            .unwrap_or(same[0]);
        let source = &system.sources[shortest.source.index()];
        let names: Vec<&str> = same
            .iter()
            .map(|(other, _)| system.loads[other.load.index()].name.as_str())
            .collect();
        let others: Vec<_> = shortest
            .witness
            .off_normal
            .iter()
            .copied()
            .filter(|(gear, _)| system.gears[gear.index()].kind != GearKind::BatterySwitch)
            .collect();
        let at = system.node_name(joint);
        let part = system.nodes[joint.index()]
            .terminals
            .first()
            .map(|&terminal| system.component_of(terminal).span);
        let load = &system.loads[shortest.load.index()];
        let finding = rule
            .finding(
                &at,
                format!(
                    "with every battery switch off{}, {} comes alive backwards through {at} and feeds {}",
                    with_positions(system, &others).replacen(" with ", " and ", 1),
                    system.node_name(up),
                    listed(&names)
                ),
            )
            .label(part, "two feeds meet here")
            .label(load.span, "live with the battery switches off")
            .label(source.span, "feeds it")
            .repair(format!(
                "feed both legs to {at} from one device through a three-position switch, or block one leg with a diode"
            ));
        findings.push(shown(
            finding,
            system,
            &shortest.witness.off_normal,
            &source.name,
            &shortest.witness.path,
        ));
    }
}
