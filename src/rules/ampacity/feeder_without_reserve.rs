//! A panel feed that the next load would overload.

use super::{case_words, size_span};
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::{citations, constants};
use crate::system::{ComponentKind, ConductorId, TerminalId, TerminalRole};
use crate::units::format_against;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "AM211",
    name: "feeder-without-reserve",
    title: "Feed of a block has little current to spare",
    severity: Severity::Note,
    basis: &[citations::BENCH_PRACTICE],
    checks: "The conductor on the feed of a block with four ways or more carries at most 80 % of its derated ampacity, so that the next load does not make a new feed of it. Where it carries more than the whole, another rule tells it. A small boat that is finished needs no reserve.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 100 Ah, cranking: 400 A, zone: cabin}
fuses:
  main-fuse: {rating: 40 A, form: blade maxi, zone: cabin}
fuse-blocks:
  block: {feed-rating: 100 A, form: blade regular, ways: {1: 20 A, 2: 20 A, 3: 20 A, 4: spare}, zone: cabin}
buses:
  negative: {polarity: negative, studs: 4, rating: 100 A, zone: cabin}
loads:
  heater: {draw: 12 A, kind: heater, drop: 10 %, duty: intermittent, zone: cabin}
  oven: {draw: 12 A, kind: heater, drop: 10 %, duty: intermittent, zone: cabin}
  boiler: {draw: 12 A, kind: heater, drop: 10 %, duty: intermittent, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 10 AWG, insulation: 75 °C, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: block.feed, gauge: 10 AWG, insulation: 75 °C, colour: red, length: 1 ft}
  H1: {from: block.1, to: heater.+, gauge: 12 AWG, colour: red, length: 3 ft}
  O1: {from: block.2, to: oven.+, gauge: 12 AWG, colour: red, length: 3 ft}
  B1: {from: block.3, to: boiler.+, gauge: 12 AWG, colour: red, length: 3 ft}
  H2: {from: heater.-, to: negative, gauge: 12 AWG, colour: black, length: 3 ft}
  O2: {from: oven.-, to: negative, gauge: 12 AWG, colour: black, length: 3 ft}
  B2: {from: boiler.-, to: negative, gauge: 12 AWG, colour: black, length: 3 ft}
  N1: {from: negative, to: house.-, gauge: 6 AWG, colour: black, length: 1 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 100 Ah, cranking: 400 A, zone: cabin}
fuses:
  main-fuse: {rating: 50 A, form: blade maxi, zone: cabin}
fuse-blocks:
  block: {feed-rating: 100 A, form: blade regular, ways: {1: 20 A, 2: 20 A, 3: 20 A, 4: spare}, zone: cabin}
buses:
  negative: {polarity: negative, studs: 4, rating: 100 A, zone: cabin}
loads:
  heater: {draw: 12 A, kind: heater, drop: 10 %, duty: intermittent, zone: cabin}
  oven: {draw: 12 A, kind: heater, drop: 10 %, duty: intermittent, zone: cabin}
  boiler: {draw: 12 A, kind: heater, drop: 10 %, duty: intermittent, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 6 AWG, insulation: 75 °C, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: block.feed, gauge: 6 AWG, insulation: 75 °C, colour: red, length: 1 ft}
  H1: {from: block.1, to: heater.+, gauge: 12 AWG, colour: red, length: 3 ft}
  O1: {from: block.2, to: oven.+, gauge: 12 AWG, colour: red, length: 3 ft}
  B1: {from: block.3, to: boiler.+, gauge: 12 AWG, colour: red, length: 3 ft}
  H2: {from: heater.-, to: negative, gauge: 12 AWG, colour: black, length: 3 ft}
  O2: {from: oven.-, to: negative, gauge: 12 AWG, colour: black, length: 3 ft}
  B2: {from: boiler.-, to: negative, gauge: 12 AWG, colour: black, length: 3 ft}
  N1: {from: negative, to: house.-, gauge: 6 AWG, colour: black, length: 1 ft}
",
    fix: "Use the next thicker size for the feed, or leave it as it is.",
    check,
};

/// Ways from which on a block is one that will be added to.
const LEAST_WAYS: usize = 4;

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let (share, basis) = constants::feeder_reserve_share();
    for (index, conductor) in system.conductors.iter().enumerate() {
        let id = ConductorId::at(index);
        let feeds = |terminal: TerminalId| {
            let record = &system.terminals[terminal.index()];
            let block = system.component_of(terminal);
            let ways = system.devices.iter();
            block.kind == ComponentKind::FuseBlock
                && record.role == TerminalRole::In
                && ways
                    .filter(|device| device.component == record.component)
                    .count()
                    >= LEAST_WAYS
        };
        if !feeds(conductor.from) && !feeds(conductor.to) {
            continue;
        }
        let Ok(allowed) = facts.ampacities.allowed(system, id) else {
            continue;
        };
        let peak = facts.currents.load(conductor.link);
        let limit = allowed.derated * share;
        if peak.amps <= limit || peak.amps > allowed.derated {
            continue;
        }
        let (carried, most) = format_against(peak.amps.0, allowed.derated.0, "A");
        let mut finding = rule.finding(
            &conductor.number,
            format!(
                "{} carries {carried} of the {most} that it may, {}; a feed with {:.0} % to spare takes the next load",
                conductor.number,
                case_words(facts, peak),
                (1.0 - share) * 100.0
            ),
        );
        finding.basis = vec![basis, allowed.basis];
        findings.push(
            finding
                .label(size_span(conductor), "little to spare")
                .compared(
                    Figure::new("load current", peak.amps.0, "A"),
                    Figure::new("current with a reserve", limit.0, "A"),
                )
                .repair(format!(
                    "use the next thicker size for {}, or leave it",
                    conductor.number
                )),
        );
    }
}
