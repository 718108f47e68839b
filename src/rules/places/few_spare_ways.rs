//! A block with hardly a way left.

use crate::analysis::Facts;
use crate::diag::Figure;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations::BENCH_PRACTICE;
use crate::standards::constants;
use crate::system::{ComponentId, ComponentKind};
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL723",
    name: "few-spare-ways",
    title: "A fuse block or panel has few ways to spare",
    severity: Severity::Note,
    basis: &[BENCH_PRACTICE],
    checks: "A fifth of the ways of a block or panel is declared spare, so that the next load finds a fused way and is not tapped from another. On a small boat that is finished there is nothing to do.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  main-fuse: {rating: 10 A, form: blade regular, zone: cabin}
fuse-blocks:
  block: {feed-rating: 30 A, form: blade regular, ways: {1: 5 A}, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: block.feed, gauge: 12 AWG, colour: red, length: 1 ft}
  W3: {from: block.1, to: fan.+, gauge: 14 AWG, colour: red, length: 5 ft}
  W4: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  main-fuse: {rating: 10 A, form: blade regular, zone: cabin}
fuse-blocks:
  block: {feed-rating: 30 A, form: blade regular, ways: {1: 5 A, 2: spare}, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 12 AWG, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: block.feed, gauge: 12 AWG, colour: red, length: 1 ft}
  W3: {from: block.1, to: fan.+, gauge: 14 AWG, colour: red, length: 5 ft}
  W4: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Fit a block with more ways, or leave it as it is.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let (share, basis) = constants::spare_ways_share();
    let mut ways: BTreeMap<ComponentId, (usize, usize)> = BTreeMap::new();
    for device in &system.devices {
        if system.components[device.component.index()].kind == ComponentKind::FuseBlock {
            let count = ways.entry(device.component).or_default();
            count.0 += 1;
            count.1 += usize::from(device.spare);
        }
    }
    for (component, (all, spare)) in ways {
        let wanted = (all as f64 * share).floor().max(1.0);
        if spare as f64 >= wanted {
            continue;
        }
        let block = &system.components[component.index()];
        let mut finding = rule.finding(
            &block.name,
            format!(
                "{} has {all} ways and {spare} to spare; {wanted:.0} are advised",
                block.name
            ),
        );
        finding.basis = vec![basis];
        findings.push(
            finding
                .label(block.span, "few ways to spare")
                .compared(
                    Figure::new("spare ways", spare as f64, ""),
                    Figure::new("advised", wanted, ""),
                )
                .repair(format!("fit {} with more ways, or leave it", block.name)),
        );
    }
}
