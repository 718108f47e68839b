//! Two bilge pumps that one fault stops.

use super::common::loads_of;
use crate::analysis::Facts;
use crate::analysis::states::ends;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{BankId, GearId, LinkKind, Load, LoadId, Service};
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL718",
    name: "bilge-pumps-share",
    title: "Two bilge pumps hang on one device or one float",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Each bilge pump has a last fuse or breaker of its own, and a float or switch of its own. Two pumps on one branch stop together when one of them stalls. Where a boat with several banks feeds all its pumps from one of them it is noted. Devices further up may be shared.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  pump-fuse: {rating: 7.5 A, form: blade regular, zone: cabin}
loads:
  pump: {draw: 3 A, kind: motor, service: bilge-pump, always-on: true, zone: cabin}
  second-pump: {draw: 3 A, kind: motor, service: bilge-pump, always-on: true, zone: cabin}
runs:
  W1: {from: house.+, to: pump-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: pump-fuse.out, to: pump.+, gauge: 14 AWG, colour: brown, length: 5 ft}
  W3: {from: pump.-, to: house.-, gauge: 14 AWG, colour: black, length: 5 ft}
  W5: {from: pump-fuse.out, to: second-pump.+, gauge: 14 AWG, colour: brown, length: 5 ft}
  W6: {from: second-pump.-, to: house.-, gauge: 14 AWG, colour: black, length: 5 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  pump-fuse: {rating: 7.5 A, form: blade regular, zone: cabin}
  second-fuse: {rating: 7.5 A, form: blade regular, zone: cabin}
loads:
  pump: {draw: 3 A, kind: motor, service: bilge-pump, always-on: true, zone: cabin}
  second-pump: {draw: 3 A, kind: motor, service: bilge-pump, always-on: true, zone: cabin}
runs:
  W1: {from: house.+, to: pump-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: pump-fuse.out, to: pump.+, gauge: 14 AWG, colour: brown, length: 5 ft}
  W3: {from: pump.-, to: house.-, gauge: 14 AWG, colour: black, length: 5 ft}
  W4: {from: house.+, to: second-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W5: {from: second-fuse.out, to: second-pump.+, gauge: 14 AWG, colour: brown, length: 5 ft}
  W6: {from: second-pump.-, to: house.-, gauge: 14 AWG, colour: black, length: 5 ft}
",
    fix: "Give each pump a fused way and a float of its own.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let pumps = loads_of(facts, Service::BilgePump);
    let mut first_on: BTreeMap<u32, LoadId> = BTreeMap::new();
    for &id in &pumps {
        let pump = &system.loads[id.index()];
        let (positive, _) = ends(system, pump.link);
        let branch = facts.branches.of(positive);
        let Some(&first) = first_on.get(&branch) else {
            first_on.insert(branch, id);
            continue;
        };
        let Some(device) = facts.branches.devices(branch).first() else {
            continue;
        };
        let first = &system.loads[first.index()];
        let device = &system.devices[device.index()];
        let float = shared_gear(facts, first, pump).map_or_else(String::new, |gear| {
            format!(", and both work by {}", system.gears[gear.index()].name)
        });
        findings.push(
            rule.finding(
                &pump.name,
                format!(
                    "the bilge pumps {} and {} share {}{float}",
                    first.name, pump.name, device.name
                ),
            )
            .label(pump.span, "the second pump")
            .label(device.span, "one device for both")
            .repair(format!(
                "give {} a fused way and a float of its own",
                pump.name
            )),
        );
    }
    one_bank(rule, facts, &pumps, findings);
}

/// The switch whose contact both pumps hang on directly.
fn shared_gear(facts: &Facts<'_>, first: &Load, second: &Load) -> Option<GearId> {
    let system = facts.system;
    let at = |load: &Load| {
        let net = facts.nets.net(ends(system, load.link).0);
        system.links.iter().filter_map(move |link| match link.kind {
            LinkKind::Contact { gear, .. }
                if [link.a, link.b]
                    .into_iter()
                    .any(|end| facts.nets.net(system.node_of(end)) == net) =>
            {
                Some(gear)
            }
            _ => None,
        })
    };
    let gears: Vec<GearId> = at(first).collect();
    at(second).find(|gear| gears.contains(gear))
}

/// Notes that all pumps of a boat with several banks are fed by one of them only.
fn one_bank(rule: &Rule, facts: &Facts<'_>, pumps: &[LoadId], findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let always = |bank: BankId| {
        pumps.iter().all(|&pump| {
            let fed_by = &facts.returns.load(pump).fed_by;
            let mut banks = fed_by
                .iter()
                .filter_map(|source| system.sources[source.index()].bank);
            banks.all(|of| of == bank) && !fed_by.is_empty()
        })
    };
    let (Some(&first), [_, _, ..], [_, _, ..]) = (pumps.first(), pumps, &system.banks[..]) else {
        return;
    };
    let Some(bank) = (0..system.banks.len())
        .map(BankId::at)
        .find(|&bank| always(bank))
    else {
        return;
    };
    let bank = &system.banks[bank.index()];
    let pump = &system.loads[first.index()];
    let mut note = rule.finding(
        &pump.name,
        format!("all bilge pumps hang on the bank {} alone", bank.name),
    );
    note.severity = Severity::Note;
    findings.push(
        note.label(pump.span, "the first of them")
            .label(bank.span, "one bank for all")
            .repair("feed one of the pumps from another bank"),
    );
}
