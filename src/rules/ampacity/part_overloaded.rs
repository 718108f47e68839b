//! Buses, blocks, switches, connectors and shunts against the current through them.

use super::super::telling::rating;
use super::case_words;
use crate::analysis::Facts;
use crate::analysis::currents::{LinkCurrents, Part, Peak, link_rating, part_rating};
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{Component, ComponentId, ComponentKind, Given, Known, LinkId, LinkKind};
use crate::units::{Amps, Rounding, amps, format_against};
use std::collections::BTreeSet;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "AM207",
    name: "part-overloaded",
    title: "Bus, block, switch, connector or shunt carries more than its rating",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "The largest current through every bus, block feed, built-in negative, switch, relay, combiner, isolator output, shunt and connector contact, at one time, against its continuous rating; and what a switch carries while cranking against its short-time rating. What no scenario shows, but everything on together would, is a note. A part that carries current and states no rating is not proved.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  heater-fuse: {rating: 20 A, form: blade regular, zone: cabin}
switches:
  heater-switch: {rating: 10 A, zone: cabin}
loads:
  heater: {draw: 15 A, kind: heater, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: heater-fuse.in, gauge: 12 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: heater-fuse.out, to: heater-switch.in, gauge: 12 AWG, insulation: 105 °C, colour: red, length: 3 ft}
  W3: {from: heater-switch.out, to: heater.+, gauge: 12 AWG, insulation: 105 °C, colour: red, length: 3 ft}
  W4: {from: heater.-, to: house.-, gauge: 12 AWG, insulation: 105 °C, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  heater-fuse: {rating: 20 A, form: blade regular, zone: cabin}
switches:
  heater-switch: {rating: 20 A, zone: cabin}
loads:
  heater: {draw: 15 A, kind: heater, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: heater-fuse.in, gauge: 12 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: heater-fuse.out, to: heater-switch.in, gauge: 12 AWG, insulation: 105 °C, colour: red, length: 3 ft}
  W3: {from: heater-switch.out, to: heater.+, gauge: 12 AWG, insulation: 105 °C, colour: red, length: 3 ft}
  W4: {from: heater.-, to: house.-, gauge: 12 AWG, insulation: 105 °C, colour: black, length: 6 ft}
",
    fix: "Fit a part with a higher rating, or give it less to carry.",
    check,
};

/// One thing with a rating, and the largest current through it so far.
struct Rated<'a> {
    component: ComponentId,
    /// It is the negative bar of a block, which is judged apart from the feed.
    is_negative: bool,
    /// Its name with what of it is meant: `helm-plug cavity 3`.
    name: String,
    rating: Known<Amps>,
    short_time: Known<Amps>,
    /// It has a short-time rating to compare cranking with.
    cranks: bool,
    currents: &'a LinkCurrents,
}

/// Currents at most this large are rounding, in amperes.
const NOTHING: f64 = 1e-6;

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let mut rated: Vec<Rated<'_>> = parts(facts);
    rated.extend(links(facts));
    // Of a part with several terminals or contacts only the one that carries most is told.
    rated.sort_by(|a, b| {
        let most = |rated: &Rated<'_>| rated.currents.load().amps.max(rated.currents.cranking.amps);
        a.component
            .cmp(&b.component)
            .then(b.rating.is_some().cmp(&a.rating.is_some()))
            .then(most(b).total_cmp(&most(a)))
    });
    let mut told = BTreeSet::new();
    for part in &rated {
        let load = part.currents.load();
        let cranking = &part.currents.cranking;
        let component = &facts.system.components[part.component.index()];
        let key = (part.component, part.is_negative);
        match part.rating {
            None => {
                let carries = load.amps.0 > NOTHING || load.unknown || cranking.amps.0 > NOTHING;
                if carries && told.insert(key) {
                    findings.push(no_rating(rule, component, part, load));
                }
            }
            Some(given) => {
                let everything = &part.currents.everything;
                let above = |peak: &Peak| peak.amps.0 > given.value.0 + NOTHING;
                if above(load) {
                    if told.insert(key) {
                        let severity = rule.severity;
                        findings.push(overloaded(
                            rule,
                            facts,
                            component,
                            part,
                            (load, severity),
                            given,
                        ));
                    }
                } else if above(everything) && told.insert(key) {
                    let severity = Severity::Note;
                    findings.push(overloaded(
                        rule,
                        facts,
                        component,
                        part,
                        (everything, severity),
                        given,
                    ));
                }
            }
        }
        if part.cranks && cranking.amps.0 > NOTHING {
            findings.extend(cranked(rule, facts, component, part));
        }
    }
}

/// Bars, feeds and terminals, whose currents are sums.
fn parts<'a>(facts: &'a Facts<'_>) -> Vec<Rated<'a>> {
    let system = facts.system;
    let mut rated: Vec<Rated<'a>> = Vec::new();
    for (part, currents) in &facts.currents.parts {
        let (id, name, is_negative) = match *part {
            Part::Bar(id) => (id, system.components[id.index()].name.clone(), false),
            Part::Feed(id) => (
                id,
                format!("the feed of {}", system.components[id.index()].name),
                false,
            ),
            Part::BlockNegative(id) => (
                id,
                format!("the negative bar of {}", system.components[id.index()].name),
                true,
            ),
            Part::Terminal(terminal) => {
                let id = system.terminals[terminal.index()].component;
                // A breaker that switches is judged as a device.
                if system.components[id.index()].kind == ComponentKind::Breaker {
                    continue;
                }
                (id, system.components[id.index()].name.clone(), false)
            }
        };
        let component = &system.components[id.index()];
        let terminal = matches!(part, Part::Terminal(_));
        let new = Rated {
            component: id,
            is_negative,
            name,
            rating: part_rating(system, *part),
            short_time: component.intermittent_rating,
            cranks: terminal,
            currents,
        };
        // Both ends of a switch carry the same: the one with the larger current stands for the part.
        match rated.last_mut() {
            Some(last) if terminal && last.component == id && last.cranks => {
                let most = |rated: &Rated<'_>| {
                    rated.currents.load().amps.max(rated.currents.cranking.amps)
                };
                if most(&new) > most(last) {
                    *last = new;
                }
            }
            _ => rated.push(new),
        }
    }
    rated
}

/// Contacts of connectors, outputs of isolators, shunts.
fn links<'a>(facts: &'a Facts<'_>) -> Vec<Rated<'a>> {
    let system = facts.system;
    let mut rated = Vec::new();
    for (index, link) in system.links.iter().enumerate() {
        let component = &system.components[link.component.index()];
        let Some(rating) = link_rating(system, LinkId::at(index)) else {
            continue;
        };
        let name = match &link.kind {
            LinkKind::Mate { cavity } => format!("cavity {cavity} of {}", component.name),
            LinkKind::Diode { .. } => {
                format!("{} at {}", component.name, system.terminal_name(link.b))
            }
            _ => component.name.clone(),
        };
        rated.push(Rated {
            component: link.component,
            is_negative: false,
            name,
            rating,
            short_time: None,
            cranks: false,
            currents: facts.currents.of(LinkId::at(index)),
        });
    }
    rated
}

fn overloaded(
    rule: &Rule,
    facts: &Facts<'_>,
    component: &Component,
    part: &Rated<'_>,
    (peak, severity): (&Peak, Severity),
    given: Given<Amps>,
) -> Diagnostic {
    let (verb, unseen) = if severity == Severity::Note {
        ("would carry", ", which no declared scenario shows")
    } else {
        ("carries", "")
    };
    let (carries, limit) = format_against(peak.amps.0, given.value.0, "A");
    let at_least = if peak.unknown { "at least " } else { "" };
    let mut finding = rule.finding(
        &component.name,
        format!(
            "{} {verb} {at_least}{carries} {}{unseen}; it is rated {limit}",
            part.name,
            case_words(facts, peak)
        ),
    );
    finding.severity = severity;
    finding
        .label(
            given.span.unwrap_or(component.span),
            "rated less than it carries",
        )
        .compared(
            Figure::new("load current", peak.amps.0, "A"),
            Figure::new("rating", given.value.0, "A"),
        )
        .in_positions(facts.currents.positions(facts.system, peak))
        .repair(format!(
            "fit a {} rated at least {}",
            word(component.kind),
            rating(Amps(peak.amps.0.ceil()))
        ))
}

fn no_rating(rule: &Rule, component: &Component, part: &Rated<'_>, peak: &Peak) -> Diagnostic {
    let at_least = if peak.unknown { "at least " } else { "" };
    let most = peak.amps.max(part.currents.cranking.amps);
    let carries = amps(most, Rounding::Up);
    rule.not_proved(
        &component.name,
        format!(
            "{} carries {at_least}{carries}, and its rating is not given",
            part.name
        ),
    )
    .label(component.span, "no rating given")
    .repair(format!(
        "write the rating of {}, as marked on it",
        component.name
    ))
}

/// What a switch carries while cranking, against its short-time rating or a continuous rating that suffices.
fn cranked(
    rule: &Rule,
    facts: &Facts<'_>,
    component: &Component,
    part: &Rated<'_>,
) -> Option<Diagnostic> {
    let peak = &part.currents.cranking;
    let continuous = part.rating?;
    if peak.amps.0 <= continuous.value.0 + NOTHING {
        return None;
    }
    let words = case_words(facts, peak);
    let Some(short) = part.short_time else {
        let carries = amps(peak.amps, Rounding::Up);
        return Some(
            rule.not_proved(
                &component.name,
                format!(
                    "{} carries {carries} {words}, and its short-time rating is not given",
                    part.name
                ),
            )
            .label(
                continuous.span.unwrap_or(component.span),
                "continuous rating only",
            )
            .repair(format!(
                "write the `intermittent-rating` of {}, as marked on it",
                component.name
            )),
        );
    };
    if peak.amps.0 <= short.value.0 + NOTHING {
        return None;
    }
    let (carries, limit) = format_against(peak.amps.0, short.value.0, "A");
    Some(
        rule.finding(
            &component.name,
            format!(
                "{} carries {carries} {words}; its short-time rating is {limit}",
                part.name
            ),
        )
        .label(
            short.span.unwrap_or(component.span),
            "rated less than it carries",
        )
        .compared(
            Figure::new("cranking current", peak.amps.0, "A"),
            Figure::new("short-time rating", short.value.0, "A"),
        )
        .in_positions(facts.currents.positions(facts.system, peak))
        .repair(format!(
            "fit a {} with a short-time rating of at least {}",
            word(component.kind),
            rating(Amps(peak.amps.0.ceil()))
        )),
    )
}

fn word(kind: ComponentKind) -> &'static str {
    match kind {
        ComponentKind::Switch => "switch",
        ComponentKind::Relay => "relay",
        ComponentKind::Combiner => "combiner",
        ComponentKind::Isolator => "diode isolator",
        ComponentKind::FuseBlock => "block",
        ComponentKind::Bus => "bus",
        ComponentKind::Shunt => "shunt",
        ComponentKind::Connector => "connector with contacts",
        _ => "part",
    }
}
