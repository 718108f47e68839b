//! Navigation lights that go out with other gear.

use crate::analysis::Facts;
use crate::analysis::states::ends;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{Load, Service};
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL719",
    name: "navigation-lights-share",
    title: "Navigation lights share their device with other gear",
    severity: Severity::Note,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Nothing but navigation lights lies behind the last fuse or breaker of navigation lights. Inspected craft must have it so; on a small open boat it is a matter of care: a fault in a radio then puts the lights out.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  nav-fuse: {rating: 3 A, form: blade regular, zone: cabin}
loads:
  sidelights: {draw: 1 A, kind: lamp, service: navigation-light, zone: cabin}
  radio: {draw: 1 A, kind: electronics, zone: cabin}
runs:
  W1: {from: house.+, to: nav-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: nav-fuse.out, to: sidelights.+, gauge: 14 AWG, colour: red, length: 5 ft}
  W3: {from: sidelights.-, to: house.-, gauge: 14 AWG, colour: black, length: 5 ft}
  W5: {from: nav-fuse.out, to: radio.+, gauge: 14 AWG, colour: red, length: 5 ft}
  W6: {from: radio.-, to: house.-, gauge: 14 AWG, colour: black, length: 5 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  nav-fuse: {rating: 3 A, form: blade regular, zone: cabin}
  radio-fuse: {rating: 3 A, form: blade regular, zone: cabin}
loads:
  sidelights: {draw: 1 A, kind: lamp, service: navigation-light, zone: cabin}
  radio: {draw: 1 A, kind: electronics, zone: cabin}
runs:
  W1: {from: house.+, to: nav-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: nav-fuse.out, to: sidelights.+, gauge: 14 AWG, colour: red, length: 5 ft}
  W3: {from: sidelights.-, to: house.-, gauge: 14 AWG, colour: black, length: 5 ft}
  W4: {from: house.+, to: radio-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W5: {from: radio-fuse.out, to: radio.+, gauge: 14 AWG, colour: red, length: 5 ft}
  W6: {from: radio.-, to: house.-, gauge: 14 AWG, colour: black, length: 5 ft}
",
    fix: "Give the lights a way of their own.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    // By branch: the first navigation light and the first other load.
    let mut on: BTreeMap<u32, [Option<&Load>; 2]> = BTreeMap::new();
    for load in &system.loads {
        let (positive, _) = ends(system, load.link);
        let other = usize::from(load.service != Service::NavigationLight);
        let branch = facts.branches.of(positive);
        on.entry(branch).or_default()[other].get_or_insert(load);
    }
    for (branch, pair) in on {
        let ([Some(light), Some(other)], Some(device)) =
            (pair, facts.branches.devices(branch).first())
        else {
            continue;
        };
        let device = &system.devices[device.index()];
        findings.push(
            rule.finding(
                &light.name,
                format!(
                    "{} goes out with {}, which {} shares",
                    light.name, device.name, other.name
                ),
            )
            .label(light.span, "a navigation light")
            .label(other.span, "other gear behind the same device")
            .repair(format!("give {} a fused way of its own", other.name)),
        );
    }
}
