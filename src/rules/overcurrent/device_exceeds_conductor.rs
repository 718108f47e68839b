//! A device rated above what a conductor behind it allows.

use super::super::telling::{at_most, numbers, rating, shown, wires, with_positions};
use crate::analysis::Facts;
use crate::analysis::protection::{Allowed, By, Exemption, Fault, Kind, Limit, device_in_reach};
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::{citations, constants};
use crate::system::{ConductorId, DeviceId, OvercurrentLimit, System};
use crate::units::{Amps, format_against};
use std::collections::BTreeMap;
use std::fmt::Write;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "OC103",
    name: "device-exceeds-conductor",
    title: "Overcurrent device is rated above what the conductor allows",
    severity: Severity::Error,
    basis: &[
        citations::LAW_RATING_BELOW_50_V,
        citations::LAW_RATING_FROM_50_V,
        citations::ABYC_RATING,
    ],
    checks: "The largest rating that stands between a conductor and any source, over all combinations of switch positions, against what the conductor allows: by law 150 % of the table below 50 V, and from 50 V on the table or the next standard rating up; by the strict policy 100 % of the ampacity derated for engine space and bundle. Under the lawful policy a rating above 150 % of the derated ampacity is a warning and one above 100 % of it a note. A thinner conductor needs a device of its own within 7 in of where it leaves a thicker one, 40 in sheathed. A conductor that is too small for its fuse becomes the fuse.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 60 A, form: blade maxi, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 8 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
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
  W1: {from: house.+, to: fan-fuse.in, gauge: 8 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Fit a smaller device, or a device of its own where the thinner conductor begins.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let mut told = vec![false; facts.system.conductors.len()];
    for fault in facts.protection.faults() {
        for id in std::iter::once(&fault.conductor).chain(&fault.also) {
            told[id.index()] = true;
        }
        match fault.kind {
            Kind::TooLarge { by, rating } => {
                findings.push(too_large(rule, facts, fault, by, rating));
            }
            Kind::SizeNotGiven { by } => findings.push(no_size(rule, facts, fault, by)),
            _ => {}
        }
    }
    if facts.system.boat.policy.overcurrent == OvercurrentLimit::Lawful {
        within_the_law(rule, facts, &told, findings);
    }
}

fn too_large(rule: &Rule, facts: &Facts<'_>, fault: &Fault, by: By, current: Amps) -> Diagnostic {
    let system = facts.system;
    let conductor = &system.conductors[fault.conductor.index()];
    let post = system.terminal_name(fault.pole.terminal);
    let (device, device_span) = named(system, by);
    let cover = facts.protection.cover(fault.conductor);
    let mut finding = rule.finding(&conductor.number, String::new());
    let mut message = format!("{device} is rated {}", rating(current));
    let mut most = String::new();
    if let Some(allowed) = &cover.allowed {
        let _ = write!(
            message,
            "; {} on {}",
            limit_words(allowed, current),
            conductor.number
        );
        most = format!(" of at most {}", at_most(allowed.judged.current));
        finding = finding.compared(
            Figure::new("device rating", current.0, "A"),
            Figure::new("largest rating allowed", allowed.judged.current.0, "A"),
        );
        finding.basis = vec![allowed.judged.basis, allowed.ampacity.basis];
    }
    message.push_str(&with_positions(system, &fault.positions));
    finding.message = message;
    finding = finding
        .and_also(numbers(system, &fault.also))
        .label(conductor.span, "too small for its device")
        .label(device_span, "rated here");
    let mut help = format!(
        "fit a device{most} in place of {device}, or one where {} leaves {}",
        conductor.number,
        system.terminal_name(fault.end)
    );
    if !fault.also.is_empty() {
        let _ = write!(help, "; it suits {} too", wires(system, &fault.also));
    }
    shown(finding, system, &fault.positions, &post, &fault.path).repair(help)
}

/// The limit that judges and the one of the other policy beside it.
fn limit_words(allowed: &Allowed, current: Amps) -> String {
    let (_, limit) = format_against(current.0, allowed.judged.current.0, "A");
    let share =
        |limit: &Limit, of: &str| format!("{:.0} % of the {:.1} A {of}", limit.percent, limit.of.0);
    let lawful = share(&allowed.lawful, "in the table");
    let strict = share(&allowed.strict, "that it may carry where it lies");
    if allowed.judged == allowed.strict {
        format!(
            "at most {limit} is allowed ({strict}; the law's limit is {}, {lawful})",
            at_most(allowed.lawful.current)
        )
    } else {
        format!(
            "at most {limit} is allowed ({lawful}; the strict limit is {}, {strict})",
            at_most(allowed.strict.current)
        )
    }
}

fn named(system: &System, by: By) -> (String, crate::source::Span) {
    match by {
        By::Device(device) => {
            let device = &system.devices[device.index()];
            let span = device.rating.and_then(|rating| rating.span);
            (device.name.clone(), span.unwrap_or(device.span))
        }
        By::BuiltIn(source) => {
            let source = &system.sources[source.index()];
            let span = source.built_in_fuse.and_then(|rating| rating.span);
            (
                format!("the device built into {}", source.name),
                span.unwrap_or(source.span),
            )
        }
    }
}

fn no_size(rule: &Rule, facts: &Facts<'_>, fault: &Fault, by: Option<By>) -> Diagnostic {
    let system = facts.system;
    let conductor = &system.conductors[fault.conductor.index()];
    let mut all = vec![fault.conductor];
    all.extend(&fault.also);
    let by = by.map(|by| named(system, by));
    let device = by
        .as_ref()
        .map_or_else(|| "their device".to_owned(), |(name, _)| name.clone());
    let listed = conductor.gauge.is_some();
    let reason = if listed {
        "no table lists the ampacity of their size and insulation"
    } else {
        "their size is not given"
    };
    let message = format!(
        "{device} is not compared with what {} may carry, because {reason}",
        wires(system, &all)
    );
    let finding = rule.not_proved(&conductor.number, message);
    let mut finding = finding.and_also(numbers(system, &all)).label(
        conductor.span,
        if listed {
            "not in any table"
        } else {
            "no size given"
        },
    );
    if let Some((_, span)) = by {
        finding = finding.label(span, "protects it");
    }
    finding.repair(
        "write the `gauge` of each, as printed on its insulation, or `auto` to have it chosen",
    )
}

/// Under the lawful policy: ratings that the law allows and the surroundings of the conductor do not.
fn within_the_law(rule: &Rule, facts: &Facts<'_>, told: &[bool], findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let mut groups: BTreeMap<(DeviceId, Severity), Vec<ConductorId>> = BTreeMap::new();
    for (index, told) in told.iter().enumerate() {
        let id = ConductorId::at(index);
        let cover = facts.protection.cover(id);
        let (Some(allowed), Some(mut current), Some(mut device)) =
            (&cover.allowed, cover.rating, cover.device)
        else {
            continue;
        };
        if *told
            || cover.exemption != Exemption::None
            || is_short(facts, id)
            || current <= allowed.strict.current
        {
            continue;
        }
        // A tap that is short enough for the law is protected by the device at its end.
        if let Some(own) = device_in_reach(system, id)
            && let Some(at_end) = own.device
            && own.rating < current
        {
            (current, device) = (own.rating, at_end);
        }
        let severity = if current > allowed.lawful_derated() {
            Severity::Warning
        } else if current > allowed.strict.current {
            Severity::Note
        } else {
            continue;
        };
        groups.entry((device, severity)).or_default().push(id);
    }
    for ((device, severity), members) in groups {
        let device = &system.devices[device.index()];
        let strict = |id: &ConductorId| {
            facts
                .protection
                .cover(*id)
                .allowed
                .as_ref()
                .map_or(f64::INFINITY, |allowed| allowed.strict.current.0)
        };
        let Some(&least) = members
            .iter()
            .min_by(|a, b| strict(a).total_cmp(&strict(b)).then_with(|| a.cmp(b)))
        else {
            continue;
        };
        let cover = facts.protection.cover(least);
        let (Some(allowed), Some(current)) = (&cover.allowed, device.rating) else {
            continue;
        };
        let current = current.value;
        let conductor = &system.conductors[least.index()];
        let limit = if severity == Severity::Warning {
            allowed.lawful_derated()
        } else {
            allowed.strict.current
        };
        let percent = limit / allowed.strict.current * 100.0;
        let (shown_rating, shown_limit) = format_against(current.0, limit.0, "A");
        let also: Vec<ConductorId> = members.into_iter().filter(|&id| id != least).collect();
        let mut finding = rule.finding(
            &conductor.number,
            format!(
                "{} is rated {shown_rating}, within the law's {}, {:.0} % of the {:.1} A in the table, but above {shown_limit}, {percent:.0} % of the {:.1} A that {} may carry where it lies",
                device.name,
                at_most(allowed.lawful.current),
                allowed.lawful.percent,
                allowed.lawful.of.0,
                allowed.strict.of.0,
                conductor.number
            ),
        );
        finding.severity = severity;
        let mut help = format!(
            "fit a device of at most {} in place of {}, or a thicker conductor",
            at_most(limit),
            device.name
        );
        if !also.is_empty() {
            let _ = write!(help, "; the same goes for {}", wires(system, &also));
        }
        finding.basis = vec![
            allowed.lawful.basis,
            citations::ABYC_RATING,
            allowed.ampacity.basis,
        ];
        findings.push(
            finding
                .and_also(numbers(system, &also))
                .label(conductor.span, "what it may carry is reduced where it lies")
                .label(device.rating.and_then(|rating| rating.span), "rated here")
                .compared(
                    Figure::new("device rating", current.0, "A"),
                    Figure::new("largest rating", limit.0, "A"),
                )
                .repair(help),
        );
    }
}

/// A conductor no longer than a pigtail may be is left to the law's own limit.
fn is_short(facts: &Facts<'_>, id: ConductorId) -> bool {
    let (short, _) = constants::pigtail_exposed();
    facts.system.conductors[id.index()]
        .length
        .is_some_and(|length| length.value <= short)
}
