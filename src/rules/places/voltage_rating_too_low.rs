//! A device or a switch for less voltage than it sees on charge.

use super::super::telling::listed;
use super::common::told_volts;
use crate::analysis::Facts;
use crate::analysis::charge_voltage::Highest;
use crate::analysis::states::ends;
use crate::diag::Figure;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::source::Span;
use crate::standards::{FuseForm, citations, form_limits};
use crate::system::{ComponentId, ComponentKind, LinkId, LinkKind};
use crate::units::Volts;
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL706",
    name: "voltage-rating-too-low",
    title: "A device or switch is rated for less than the highest voltage it sees",
    severity: Severity::Error,
    basis: &[citations::LAW_DEVICE_VOLTAGE],
    checks: "The voltage rating of every fuse, breaker and switch is at least the highest voltage of its circuit on charge, not just the nominal one that the law names: an arc in a device of too low a rating does not go out. A fuse that states no voltage has that of its form. Where neither is known it is not proved from the rating of common blade fuses on, and noted below it; a switch of which none is given is asked for it above that rating. Devices in the negative are judged as such.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {voltage: 36 V, chemistry: agm, capacity: 60 Ah, cranking: 400 A, max-charge-voltage: 43.8 V, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, voltage: 40 V, interrupting: 2000 A, zone: cabin}
loads:
  fan: {draw: 2 A, voltage: 36 V, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {voltage: 36 V, chemistry: agm, capacity: 60 Ah, cranking: 400 A, max-charge-voltage: 43.8 V, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, voltage: 58 V, interrupting: 2000 A, zone: cabin}
loads:
  fan: {draw: 2 A, voltage: 36 V, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Fit a device rated for the highest charging voltage.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let common = form_limits(FuseForm::BladeRegular).max_voltage;
    let mut silent: Vec<&str> = Vec::new();
    let mut first_silent = None;
    for device in system.devices.iter().filter(|device| !device.spare) {
        let Some(highest) = highest(facts, [device.link]) else {
            continue;
        };
        let form = device
            .form
            .as_ref()
            .and_then(|form| Some((form, form.value.parse::<FuseForm>().ok()?)));
        let rated = device
            .voltage
            .map(|given| (given.value, given.span))
            .or(form.map(|(form, parsed)| (form_limits(parsed).max_voltage, form.span)));
        match rated {
            Some((rated, span)) => {
                let rated = Rated {
                    name: &device.name,
                    volts: rated,
                    span: span.unwrap_or(device.span),
                    how: if device.voltage.is_none() {
                        " by its form"
                    } else {
                        ""
                    },
                };
                findings.extend(judged(rule, facts, &rated, highest));
            }
            None if highest.volts > common => {
                findings.push(not_given(
                    rule,
                    facts,
                    (device.name.as_str(), device.span),
                    highest,
                ));
            }
            None => {
                first_silent.get_or_insert(device.span);
                silent.push(&device.name);
            }
        }
    }
    let mut contacts: BTreeMap<ComponentId, Vec<LinkId>> = BTreeMap::new();
    for (index, link) in system.links.iter().enumerate() {
        if matches!(link.kind, LinkKind::Contact { .. }) {
            contacts
                .entry(link.component)
                .or_default()
                .push(LinkId::at(index));
        }
    }
    for (component, links) in contacts {
        let component = &system.components[component.index()];
        let Some(highest) = highest(facts, links) else {
            continue;
        };
        match component.voltage_rating {
            Some(given) => {
                let rated = Rated {
                    name: &component.name,
                    volts: given.value,
                    span: given.span.unwrap_or(component.span),
                    how: "",
                };
                findings.extend(judged(rule, facts, &rated, highest));
            }
            // Relays and combiners have no such key.
            None if component.kind == ComponentKind::Switch && highest.volts > common => {
                let part = (component.name.as_str(), component.span);
                findings.push(not_given(rule, facts, part, highest));
            }
            None => {}
        }
    }
    if let Some(span) = first_silent {
        let mut note = rule.finding(
            silent[0],
            format!(
                "{} no voltage rating; none sees more than {}",
                match silent.len() {
                    1 => format!("{} gives", silent[0]),
                    _ => format!("{} give", listed(&silent)),
                },
                told_volts(common)
            ),
        );
        note.severity = Severity::Note;
        findings.push(
            note.and_also(&silent)
                .label(span, "rated for how many volts?")
                .repair("write the `voltage` or the `form` of each"),
        );
    }
}

/// A part without a rating on a voltage above the common ones.
fn not_given(
    rule: &Rule,
    facts: &Facts<'_>,
    (name, span): (&str, Span),
    highest: Highest,
) -> Diagnostic {
    rule.not_proved(
        name,
        format!(
            "{name} gives no voltage rating; {} puts up to {} on it",
            facts.system.sources[highest.from.index()].name,
            told_volts(highest.volts)
        ),
    )
    .label(span, "rated for how many volts?")
    .label(origin(facts, highest), "charged with this")
    .repair(format!("write the `voltage` that is marked on {name}"))
}

/// The highest voltage at the ends of some links, but for ends on the negative.
fn highest(facts: &Facts<'_>, links: impl IntoIterator<Item = LinkId>) -> Option<Highest> {
    links
        .into_iter()
        .flat_map(|link| {
            let (a, b) = ends(facts.system, link);
            [a, b]
        })
        .filter_map(|node| facts.charge_voltages.at(node))
        .filter(|highest| highest.volts.0 > 0.0)
        .max_by(|a, b| a.volts.total_cmp(&b.volts))
}

fn origin(facts: &Facts<'_>, highest: Highest) -> Span {
    let source = &facts.system.sources[highest.from.index()];
    source
        .max_voltage
        .and_then(|given| given.span)
        .unwrap_or(source.span)
}

/// The voltage rating of a part.
struct Rated<'s> {
    name: &'s str,
    volts: Volts,
    span: Span,
    how: &'static str,
}

fn judged(
    rule: &Rule,
    facts: &Facts<'_>,
    rated: &Rated<'_>,
    highest: Highest,
) -> Option<Diagnostic> {
    // A rating printed as 14.6 V bears 14.6 V, whatever the last bit of a sum.
    if rated.volts.0 + 1e-9 >= highest.volts.0 {
        return None;
    }
    let source = &facts.system.sources[highest.from.index()];
    let on_charge = if highest.stated {
        ""
    } else {
        ", by the chemistry that is known of it"
    };
    Some(
        rule.finding(
            rated.name,
            format!(
                "{} is rated for {}{}; with {} on charge it sees {}{on_charge}",
                rated.name,
                told_volts(rated.volts),
                rated.how,
                source.name,
                told_volts(highest.volts)
            ),
        )
        .label(rated.span, "its voltage rating")
        .label(origin(facts, highest), "charged with this")
        .compared(
            Figure::new("voltage rating", rated.volts.0, "V"),
            Figure::new("highest voltage on charge", highest.volts.0, "V"),
        )
        .repair(format!(
            "fit a part rated for {} or more",
            told_volts(highest.volts)
        )),
    )
}
