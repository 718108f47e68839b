//! A conductor that a source can feed without any device of its own.

use super::super::telling::{
    along, at_most, either, length, numbers, shown, wires, with_positions,
};
use crate::analysis::Facts;
use crate::analysis::protection::{Exemption, Fault, Kind};
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{ConductorId, SourceKind};
use std::fmt::Write;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "OC101",
    name: "unprotected-conductor",
    title: "Ungrounded conductor has no overcurrent device of its own",
    severity: Severity::Error,
    basis: &[citations::LAW_OVERCURRENT],
    checks: "From every battery, charger, alternator, converter and solar controller, and in every combination of switch positions: each ungrounded conductor that the source can feed has a fuse or breaker between it and that source, or at its far end within 7 in of the source, bus or switch stud that feeds it, 40 in where it is sheathed the whole way, 72 in from a battery. A conductor between two sources needs one at each end. Excused are the power supply conductors of cranking motors, and what joins a self-limiting alternator to the stud of one within 72 in (told as a note), pigtails under 7 in, links between the posts of one bank, by way of a bar as well, within the limit, and conductors that may carry all that a self-limiting source can deliver. A bare conductor that chafes through carries the full short-circuit current of the battery until it burns.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W2: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
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
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Fit a fuse or breaker that the conductor allows as near to the source as can be.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    for fault in facts.protection.faults() {
        match fault.kind {
            Kind::Unprotected { .. } => findings.push(unprotected(rule, facts, fault)),
            Kind::LimitingNotGiven => findings.push(not_given(rule, facts, fault)),
            _ => {}
        }
    }
    findings.extend(starter_studs(rule, facts));
    let unseen = facts.protection.unseen();
    if unseen > 0 {
        let last = facts.system.sources.last();
        findings.push(
            rule.not_proved(
                "",
                format!(
                    "the boat has too many sources and positions to look from all of them; {unseen} are left out"
                ),
            )
            .label(last.map(|source| source.span), "not all sources are looked from")
            .repair("describe parts of the boat that share no pole in files of their own"),
        );
    }
    for &conductor in facts.protection.undecided() {
        let conductor = &facts.system.conductors[conductor.index()];
        findings.push(
            rule.not_proved(
                &conductor.number,
                format!(
                    "the switches round {} make too many combinations to tell what protects it",
                    conductor.number
                ),
            )
            .label(conductor.span, "protection not decided")
            .repair("describe positions that cannot occur together under `interlocks`"),
        );
    }
}

/// Conductors from an alternator to the stud of a cranking motor, which count as cranking conductors.
fn starter_studs(rule: &Rule, facts: &Facts<'_>) -> Vec<Diagnostic> {
    let mut notes = Vec::new();
    for (index, conductor) in facts.system.conductors.iter().enumerate() {
        let cover = facts.protection.cover(ConductorId::at(index));
        if cover.exemption != Exemption::StarterStud || cover.grounded {
            continue;
        }
        let number = &conductor.number;
        let mut note = rule.finding(
            number,
            format!(
                "{number} joins a self-limiting alternator to the stud of the cranking motor and counts as a cranking conductor; the battery feeds it past no device"
            ),
        );
        note.severity = Severity::Note;
        notes.push(
            note.label(conductor.span, "no device at the stud")
                .repair(format!(
                    "keep {number} short and sheathed, or fit a fuse at the stud"
                )),
        );
    }
    notes
}

fn unprotected(rule: &Rule, facts: &Facts<'_>, fault: &Fault) -> Diagnostic {
    let system = facts.system;
    let conductor = &system.conductors[fault.conductor.index()];
    let source = &system.sources[fault.pole.source.index()];
    let post = system.terminal_name(fault.pole.terminal);
    let others: Vec<&str> = fault.sources[1..]
        .iter()
        .map(|id| system.sources[id.index()].name.as_str())
        .collect();
    let mut message = format!(
        "{} has no overcurrent device between it and {post}",
        conductor.number
    );
    if !others.is_empty() {
        let _ = write!(message, ", nor between it and {}", either(&others));
    }
    message.push_str(&with_positions(system, &fault.positions));
    if let Kind::Unprotected { next: Some(next) } = fault.kind
        && fault.length.known.0.is_finite()
    {
        let device = &system.devices[next.index()];
        let _ = write!(
            message,
            "; it runs {}{} before {}, the limit is {}",
            if fault.length.incomplete {
                "more than "
            } else {
                ""
            },
            length(system, fault.length.known),
            device.name,
            length(system, fault.limit.max)
        );
    }
    let mut finding = rule
        .finding(&conductor.number, message)
        .label(
            conductor.span,
            format!("no device at {}", system.terminal_name(fault.end)),
        )
        .label(source.span, "can feed it");
    if fault.length.known.0.is_finite() {
        finding = finding.compared(
            Figure::new("unprotected length", fault.length.known.0, "m"),
            Figure::new("greatest unprotected length", fault.limit.max.0, "m"),
        );
    }
    if let Some((_, other)) = fault.other_end {
        let other = &system.sources[other.index()];
        finding = finding.label(other.span, "can feed its other end");
    }
    shown(finding, system, &fault.positions, &post, &fault.path)
        .and_also(numbers(system, &fault.also))
        .on_basis([fault.limit.basis])
        .repair(repair(facts, fault))
}

/// Where to put which device, and what else that protects.
pub(super) fn repair(facts: &Facts<'_>, fault: &Fault) -> String {
    let system = facts.system;
    let conductor = &system.conductors[fault.conductor.index()];
    let rating = facts
        .protection
        .cover(fault.conductor)
        .allowed
        .as_ref()
        .map_or_else(String::new, |allowed| {
            format!(" of at most {}", at_most(allowed.judged.current))
        });
    let is_battery = system.sources[fault.pole.source.index()].kind == SourceKind::Battery;
    let fed_direct = system.node_of(fault.end) == fault.pole.node;
    let place = if is_battery && fed_direct {
        format!(
            "in {} within {} of {}",
            conductor.number,
            length(system, fault.limit.max),
            system.terminal_name(fault.pole.terminal)
        )
    } else {
        format!(
            "where {} leaves {}",
            conductor.number,
            system.terminal_name(fault.end)
        )
    };
    let mut text = format!("fit a fuse or breaker{rating} {place}");
    if let Some((end, _)) = fault.other_end {
        let _ = write!(
            text,
            ", and one at its other end, {}",
            system.terminal_name(end)
        );
    }
    if !fault.also.is_empty() {
        let _ = write!(text, "; it protects {} too", wires(system, &fault.also));
    }
    text
}

fn not_given(rule: &Rule, facts: &Facts<'_>, fault: &Fault) -> Diagnostic {
    let system = facts.system;
    let conductor = &system.conductors[fault.conductor.index()];
    let source = &system.sources[fault.pole.source.index()];
    let post = system.terminal_name(fault.pole.terminal);
    let mut all = vec![fault.conductor];
    all.extend(&fault.also);
    let mut finding = rule
        .not_proved(
            &conductor.number,
            format!(
                "{} has no device near {post}; whether it needs one depends on {}, which does not say whether it limits its own current",
                wires(system, &all),
                source.name
            ),
        )
        .label(conductor.span, "no device at the charging source")
        .label(source.span, "`self-limiting` or its current is not given")
        .on_basis([citations::LAW_GENERATOR_OUTPUT]);
    finding =
        finding
            .and_also(numbers(system, &fault.also))
            .along(along(system, &post, &fault.path));
    finding.repair(format!(
        "write `self-limiting: true` and the current of {} if its maker says so, else fit a device within {} of {post}",
        source.name,
        length(system, fault.limit.max)
    ))
}
