//! A main device that a short on one branch may open, taking all others with it.

use super::super::telling::rating;
use super::{also_on, own_feeds};
use crate::analysis::Facts;
use crate::analysis::states::ends;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::{citations, constants};
use crate::system::{DeviceId, LoadId};
use crate::units::decimal;
use std::collections::{BTreeMap, BTreeSet};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "DP807",
    name: "branch-opens-main",
    title: "Short on one branch may open the device of all",
    severity: Severity::Note,
    basis: &[citations::COMMON_PRACTICE],
    checks: "A device with several loads behind it is rated at least twice the largest device that follows it on the way to some of them, so that a short on that branch opens the branch alone. Twice is common practice, and only the curves of both devices prove it. A main that opens puts the whole helm out for one chafed wire.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  main-fuse: {rating: 20 A, form: blade regular, zone: cabin}
  fan-fuse: {rating: 15 A, form: blade regular, zone: cabin}
  lamp-fuse: {rating: 2 A, form: blade regular, zone: cabin}
buses:
  positive: {polarity: positive, studs: 4, rating: 100 A, zone: cabin}
  negative: {polarity: negative, studs: 4, rating: 100 A, zone: cabin}
loads:
  fan: {draw: 10 A, kind: motor, drop: 10 %, zone: cabin}
  lamp: {draw: 1 A, kind: lamp, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: positive, gauge: 12 AWG, colour: red, length: 1 ft}
  W3: {from: positive, to: fan-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W4: {from: positive, to: lamp-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W5: {from: fan-fuse.out, to: fan.+, gauge: 12 AWG, colour: red, length: 6 ft}
  W6: {from: lamp-fuse.out, to: lamp.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W7: {from: fan.-, to: negative, gauge: 12 AWG, colour: black, length: 6 ft}
  W8: {from: lamp.-, to: negative, gauge: 14 AWG, colour: black, length: 6 ft}
  W9: {from: negative, to: house.-, gauge: 12 AWG, colour: black, length: 1 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  main-fuse: {rating: 30 A, form: blade regular, zone: cabin}
  fan-fuse: {rating: 15 A, form: blade regular, zone: cabin}
  lamp-fuse: {rating: 2 A, form: blade regular, zone: cabin}
buses:
  positive: {polarity: positive, studs: 4, rating: 100 A, zone: cabin}
  negative: {polarity: negative, studs: 4, rating: 100 A, zone: cabin}
loads:
  fan: {draw: 10 A, kind: motor, drop: 10 %, zone: cabin}
  lamp: {draw: 1 A, kind: lamp, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: positive, gauge: 12 AWG, colour: red, length: 1 ft}
  W3: {from: positive, to: fan-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W4: {from: positive, to: lamp-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W5: {from: fan-fuse.out, to: fan.+, gauge: 12 AWG, colour: red, length: 6 ft}
  W6: {from: lamp-fuse.out, to: lamp.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W7: {from: fan.-, to: negative, gauge: 12 AWG, colour: black, length: 6 ft}
  W8: {from: lamp.-, to: negative, gauge: 14 AWG, colour: black, length: 6 ft}
  W9: {from: negative, to: house.-, gauge: 12 AWG, colour: black, length: 1 ft}
",
    fix: "Fit a larger main where its conductor allows it, or a smaller branch device.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let mut behind: BTreeMap<DeviceId, BTreeSet<LoadId>> = BTreeMap::new();
    let mut follows: BTreeMap<DeviceId, BTreeSet<DeviceId>> = BTreeMap::new();
    for (index, load) in system.loads.iter().enumerate() {
        let (positive, _) = ends(system, load.link);
        for feed in own_feeds(facts, positive) {
            let devices = facts.faults.devices_above(feed, positive);
            for &device in &devices {
                behind.entry(device).or_default().insert(LoadId::at(index));
            }
            for pair in devices.windows(2) {
                follows.entry(pair[0]).or_default().insert(pair[1]);
            }
        }
    }
    for (main, branches) in follows {
        // Where the same loads hang on both, it does not matter which opens.
        let rated = |device: DeviceId| system.devices[device.index()].rating;
        let branch = branches
            .into_iter()
            .filter(|branch| behind.get(branch) != behind.get(&main))
            .filter_map(|branch| Some((branch, rated(branch)?)))
            .max_by(|a, b| a.1.value.total_cmp(&b.1.value).then_with(|| b.0.cmp(&a.0)));
        let (Some((branch, small)), Some(large)) = (branch, rated(main)) else {
            continue;
        };
        let (ratio, basis) = constants::selectivity_ratio();
        if large.value.0 >= ratio * small.value.0 {
            continue;
        }
        let (main, branch) = (
            &system.devices[main.index()],
            &system.devices[branch.index()],
        );
        let finding = rule
            .finding(
                &main.name,
                format!(
                    "{} ({}) is less than {} times {} ({}) behind it; a short there may open both",
                    main.name,
                    rating(large.value),
                    decimal(ratio, 0),
                    branch.name,
                    rating(small.value),
                ),
            )
            .label(large.span.or(Some(main.span)), "may open with its branch")
            .label(small.span.or(Some(branch.span)), "the largest branch")
            .compared(
                Figure::new("main over branch", large.value / small.value, ""),
                Figure::new("usual ratio", ratio, ""),
            )
            .repair(format!(
                "fit a larger {} where its conductor allows it, or compare the curves of both",
                main.name
            ));
        findings.push(also_on(finding, [basis]));
    }
}
