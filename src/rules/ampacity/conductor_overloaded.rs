//! A conductor that carries more than it may where it lies.

use super::super::telling::{at_most, numbers, wires};
use super::{also_on, case_words, size_span};
use crate::analysis::Facts;
use crate::analysis::ampacity::{Ampacity, Governing};
use crate::analysis::currents::Peak;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::source::Span;
use crate::standards::{citations, sold_sizes};
use crate::system::{CircuitId, ConductorId, System};
use crate::units::{Amps, format_against};
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "AM201",
    name: "conductor-overloaded",
    title: "Conductor carries more than its ampacity where it lies",
    severity: Severity::Error,
    basis: &[citations::LAW_AMPACITY],
    checks: "The largest load current of every conductor, in the declared scenarios or, where none shows any, with everything on in the worst positions and while charging, against the table value for its size and insulation times the factors for engine space, ambient and bundle, unrounded. Cranking is an intermittent surge and not counted, and supplied leads under 7 in are exempt. What the law allows and only the bundle below 50 V or an ambient outside engine spaces reduces is a warning. What no scenario shows, but everything on together would, is a note. A conductor that is too small melts its insulation.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  heater-fuse: {rating: 30 A, form: blade regular, zone: cabin}
loads:
  heater: {draw: 28 A, kind: heater, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: heater-fuse.in, gauge: 10 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: heater-fuse.out, to: heater.+, gauge: 10 AWG, insulation: 105 °C, colour: red, length: 6 ft}
  W3: {from: heater.-, to: house.-, gauge: 10 AWG, insulation: 60 °C, colour: black, length: 6 ft, bundle: loom}
bundles:
  loom: {others: 3}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  heater-fuse: {rating: 30 A, form: blade regular, zone: cabin}
loads:
  heater: {draw: 28 A, kind: heater, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: heater-fuse.in, gauge: 10 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: heater-fuse.out, to: heater.+, gauge: 10 AWG, insulation: 105 °C, colour: red, length: 6 ft}
  W3: {from: heater.-, to: house.-, gauge: 10 AWG, insulation: 105 °C, colour: black, length: 6 ft, bundle: loom}
bundles:
  loom: {others: 3}
",
    fix: "Use a thicker conductor, or take it out of the bundle or the hot place.",
    check,
};

/// A current above a limit by less than this is rounding, in amperes.
const SAME_AMPS: f64 = 1e-6;

struct Fault<'f> {
    conductor: ConductorId,
    ampacity: Ampacity,
    peak: &'f Peak,
    severity: Severity,
}

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let mut groups: BTreeMap<(Option<CircuitId>, Option<u32>, Severity), Vec<Fault<'_>>> =
        BTreeMap::new();
    for (index, conductor) in system.conductors.iter().enumerate() {
        let id = ConductorId::at(index);
        let currents = facts.currents.of(conductor.link);
        let Ok(ampacity) = facts.ampacities.allowed(system, id) else {
            continue;
        };
        let above = |peak: &Peak, limit: Amps| peak.amps.0 > limit.0 + SAME_AMPS;
        let (peak, severity) = if above(currents.load(), ampacity.derated) {
            let unlawful = above(currents.load(), lawful(&ampacity));
            let severity = if unlawful {
                Severity::Error
            } else {
                Severity::Warning
            };
            (currents.load(), severity)
        } else if above(&currents.everything, ampacity.derated) {
            (&currents.everything, Severity::Note)
        } else {
            continue;
        };
        if conductor.pigtail {
            continue;
        }
        // Conductors of one circuit are told together; each other one by itself.
        let alone = conductor.circuit.is_none().then_some(id.0);
        groups
            .entry((conductor.circuit, alone, severity))
            .or_default()
            .push(Fault {
                conductor: id,
                ampacity,
                peak,
                severity,
            });
    }
    for faults in groups.into_values() {
        let over = |fault: &Fault<'_>| fault.peak.amps.0 - fault.ampacity.derated.0;
        let Some(worst) = faults.iter().max_by(|a, b| {
            over(a)
                .total_cmp(&over(b))
                .then(b.conductor.cmp(&a.conductor))
        }) else {
            continue;
        };
        let also: Vec<ConductorId> = faults
            .iter()
            .map(|fault| fault.conductor)
            .filter(|&id| id != worst.conductor)
            .collect();
        findings.push(overloaded(rule, facts, worst, &also));
    }
}

/// What the law itself allows: the table, its engine-space factor, and its bundling factor from 50 V on.
fn lawful(ampacity: &Ampacity) -> Amps {
    let derating = &ampacity.derating;
    let heat = derating
        .heat
        .filter(|_| derating.heat_is_engine_space)
        .map_or(1.0, |term| term.factor);
    let bundle = derating
        .bundle
        .filter(|term| !term.from.policy)
        .map_or(1.0, |term| term.factor);
    ampacity.table * (heat * bundle)
}

fn overloaded(
    rule: &Rule,
    facts: &Facts<'_>,
    fault: &Fault<'_>,
    also: &[ConductorId],
) -> Diagnostic {
    let system = facts.system;
    let conductor = &system.conductors[fault.conductor.index()];
    let peak = fault.peak;
    let ampacity = &fault.ampacity;
    let (carries, limit) = format_against(peak.amps.0, ampacity.derated.0, "A");
    let at_least = if peak.unknown { "at least " } else { "" };
    let (verb, unseen) = if fault.severity == Severity::Note {
        ("would carry", ", which no declared scenario shows")
    } else {
        ("carries", "")
    };
    let mut finding = rule.finding(
        &conductor.number,
        format!(
            "{} {verb} {at_least}{carries} {}{unseen}; it may carry {limit} where it lies ({})",
            conductor.number,
            case_words(facts, peak),
            terms(system, ampacity)
        ),
    );
    finding.severity = fault.severity;
    let derating = &ampacity.derating;
    let mut basis = vec![ampacity.basis];
    basis.extend(derating.heat.map(|term| term.basis));
    basis.extend(derating.bundle.map(|term| term.basis));
    let (other, text) = origin(system, ampacity);
    let mut help = thicker(facts, fault.conductor, peak);
    if !also.is_empty() {
        help = format!("{help}; {} likewise", wires(system, also));
    }
    also_on(finding, basis)
        .and_also(numbers(system, also))
        .label(size_span(conductor), "too thin for what it carries")
        .label(other, text)
        .compared(
            Figure::new("load current", peak.amps.0, "A"),
            Figure::new("derated ampacity", ampacity.derated.0, "A"),
        )
        .in_positions(facts.currents.positions(system, peak))
        .repair(help)
}

/// The table value and every factor, with the one that governs.
pub(super) fn terms(system: &System, ampacity: &Ampacity) -> String {
    let derating = &ampacity.derating;
    let governing = derating.governing();
    let mut text = format!("the table gives {}", at_most(ampacity.table));
    let mut add = |factor: f64, of: String, governs: bool| {
        let mark = if governs { ", which governs" } else { "" };
        text = format!("{text}, times {factor:.2} for {of}{mark}");
    };
    if let Some(term) = derating.heat {
        let zone = &system.zones[term.from.index()];
        let of = if derating.heat_is_engine_space {
            format!("engine space {}", zone.name)
        } else {
            let ambient = zone.ambient.map_or(0.0, |given| given.value.0);
            format!("{ambient:.0} °C in {}", zone.name)
        };
        let governs = matches!(governing, Governing::EngineSpace | Governing::Ambient);
        add(term.factor, of, governs);
    }
    if let Some(term) = derating.bundle {
        let bundle = &system.bundles[term.from.bundle.index()];
        let policy = if term.from.policy {
            ", by our policy below 50 V"
        } else {
            ""
        };
        add(
            term.factor,
            format!("{} conductors in {}{policy}", term.from.count, bundle.name),
            governing == Governing::Bundle,
        );
    }
    text
}

/// Where the factor that governs comes from.
fn origin(system: &System, ampacity: &Ampacity) -> (Option<Span>, &'static str) {
    let derating = &ampacity.derating;
    match derating.governing() {
        Governing::Table => (None, ""),
        Governing::EngineSpace => (
            derating.heat.map(|term| {
                let zone = &system.zones[term.from.index()];
                zone.engine_space_span.unwrap_or(zone.span)
            }),
            "this engine space reduces it",
        ),
        Governing::Ambient => (
            derating.heat.map(|term| {
                let zone = &system.zones[term.from.index()];
                zone.ambient
                    .and_then(|given| given.span)
                    .unwrap_or(zone.span)
            }),
            "this ambient reduces it",
        ),
        Governing::Bundle => (
            derating
                .bundle
                .map(|term| system.bundles[term.from.bundle.index()].span),
            "this bundle reduces it",
        ),
    }
}

/// The thinnest size sold that carries the current in the same place.
fn thicker(facts: &Facts<'_>, conductor: ConductorId, peak: &Peak) -> String {
    let number = &facts.system.conductors[conductor.index()].number;
    let enough = sold_sizes(facts.system.boat.practice)
        .iter()
        .find(|&&size| {
            facts
                .ampacities
                .allowed_as(facts.system, conductor, size)
                .is_ok_and(|ampacity| ampacity.derated >= peak.amps)
        });
    match enough {
        Some(size) => format!("use at least {size} for {number}"),
        None => {
            format!("no size sold carries it there: lead {number} another way, or split its load")
        }
    }
}
