//! A bank that what stays on flattens while nobody is aboard.

use super::super::telling::listed;
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::{citations, constants};
use crate::system::{BankId, LoadId};
use crate::units::{Amps, Rounding, amp_hours, decimal};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "EN904",
    name: "flat-in-lay-up",
    title: "What stays on flattens the bank within weeks",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "With every battery switch off, what stays on leaves the usable share of each bank for at least three weeks; what floats and the like switch is added at its mean and is a note. Loads that give neither hours nor a standby current, and are not declared to stay on, are left out, and so is a bank that a solar controller charges. Three weeks are common practice. A flat bank pumps no bilge.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
switches:
  master: {kind: battery, rating: 100 A, zone: cabin}
fuses:
  memory-fuse: {rating: 1 A, form: blade regular, zone: cabin}
loads:
  starter: {draw: 100 A, kind: starter, duty: surge, zone: cabin}
  stereo-memory: {draw: 0.2 A, kind: electronics, drop: 10 %, always-on: true, hours: 24 h, zone: cabin}
runs:
  W1: {from: house.+, to: memory-fuse.in, gauge: 16 AWG, colour: red, length: 6 in}
  W2: {from: memory-fuse.out, to: stereo-memory.+, gauge: 16 AWG, colour: red, length: 3 ft}
  W3: {from: stereo-memory.-, to: house.-, gauge: 16 AWG, colour: black, length: 3 ft}
  W4: {from: house.+, to: master.in, gauge: 1/0 AWG, colour: red, length: 6 in, cranking: true}
  W5: {from: master.out, to: starter.+, gauge: 1/0 AWG, colour: red, length: 6 in, cranking: true}
  W6: {from: starter.-, to: house.-, gauge: 1/0 AWG, colour: black, length: 1 ft, cranking: true}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
switches:
  master: {kind: battery, rating: 100 A, zone: cabin}
fuses:
  memory-fuse: {rating: 1 A, form: blade regular, zone: cabin}
loads:
  starter: {draw: 100 A, kind: starter, duty: surge, zone: cabin}
  stereo-memory: {draw: 0.02 A, kind: electronics, drop: 10 %, always-on: true, hours: 24 h, zone: cabin}
runs:
  W1: {from: house.+, to: memory-fuse.in, gauge: 16 AWG, colour: red, length: 6 in}
  W2: {from: memory-fuse.out, to: stereo-memory.+, gauge: 16 AWG, colour: red, length: 3 ft}
  W3: {from: stereo-memory.-, to: house.-, gauge: 16 AWG, colour: black, length: 3 ft}
  W4: {from: house.+, to: master.in, gauge: 1/0 AWG, colour: red, length: 6 in, cranking: true}
  W5: {from: master.out, to: starter.+, gauge: 1/0 AWG, colour: red, length: 6 in, cranking: true}
  W6: {from: starter.-, to: house.-, gauge: 1/0 AWG, colour: black, length: 1 ft, cranking: true}
",
    fix: "Put what need not stay on behind the battery switch, or keep the bank charged by the sun.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    for index in 0..facts.system.banks.len() {
        findings.extend(judge(rule, facts, BankId::at(index)));
    }
}

fn judge(rule: &Rule, facts: &Facts<'_>, id: BankId) -> Option<Diagnostic> {
    let system = facts.system;
    let energy = facts.energy.bank(id);
    if facts.energy.sunny(system, id) {
        return None;
    }
    let (limit, basis) = constants::lay_up_days();
    let (mut steady, cycling) = facts.energy.laid_up(system, id);
    let sum = |loads: &[(LoadId, Amps)]| loads.iter().map(|&(_, current)| current).sum::<Amps>();
    let days = |current: Amps| energy.endurance(current).map(|hours| hours.0 / 24.0);
    let dry = sum(&steady);
    let all = dry + sum(&cycling);
    let (severity, days, current, mut loads, words) = match (days(dry), days(all)) {
        (Some(days), _) if days < limit => (
            Severity::Warning,
            days,
            dry,
            steady,
            "with every battery switch off",
        ),
        (_, Some(days)) if days < limit => {
            steady.extend(cycling);
            (
                Severity::Note,
                days,
                all,
                steady,
                "with every battery switch off, what cycles by itself at its mean",
            )
        }
        _ => return None,
    };
    loads.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
    let bank = &system.banks[id.index()];
    let names: Vec<&str> = loads
        .iter()
        .map(|(load, _)| system.loads[load.index()].name.as_str())
        .collect();
    let largest = loads.first().map(|(load, _)| &system.loads[load.index()]);
    let usable = energy.usable()?;
    let verb = if names.len() == 1 { "takes" } else { "take" };
    let mut finding = rule.finding(
        &bank.name,
        format!(
            "{words}, {} {verb} {} A from bank {}; its usable {} last {} days",
            listed(&names),
            decimal(current.0, 2),
            bank.name,
            amp_hours(usable, Rounding::Down),
            decimal((days - 0.05).max(0.0), 1)
        ),
    );
    finding.severity = severity;
    finding.basis.push(basis);
    Some(
        finding
            .label(
                largest.map_or(bank.span, |load| {
                    load.standby
                        .and_then(|given| given.span)
                        .or_else(|| load.draw.and_then(|given| given.span))
                        .unwrap_or(load.span)
                }),
                "takes most",
            )
            .label(bank.span, "drained by it")
            .compared(
                Figure::new("days to the end of the usable share", days, "d"),
                Figure::new("days in lay-up", limit, "d"),
            )
            .repair(format!(
                "put {} behind the battery switch where it need not stay on, or pull its fuse in lay-up",
                largest.map_or("the largest", |load| load.name.as_str())
            )),
    )
}
