//! Loads that come alive through another load once something is open.

use super::super::telling::{along, listed, with_positions};
use super::also_on;
use crate::analysis::Facts;
use crate::analysis::sneak::{Opening, Sneak};
use crate::analysis::states::set_to;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::source::Span;
use crate::standards::{citations, constants};
use crate::system::{LinkKind, System};
use crate::units::{Rounding, amps, decimal};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "DP813",
    name: "sneak-path",
    title: "Load comes alive through another load",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "With each device pulled, each conductor of the negative off, and with nothing wrong at all: no load that is switched off or has lost its feed carries a twentieth of its nominal current through another load. Every load counts as a resistance at its nominal current, battery switches stand as in use. A twentieth is enough to wake electronics and to light a diode; common practice, no source. Back-feed through a joint of conductors is a matter of its own.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  helm: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: helm}
switches:
  key: {kind: key, rating: 40 A, zone: helm}
  light-switch: {rating: 20 A, zone: helm}
fuses:
  key-fuse: {rating: 7.5 A, form: blade regular, zone: helm}
  light-fuse: {rating: 3 A, form: blade regular, zone: helm}
buses:
  negative: {polarity: negative, studs: 4, rating: 50 A, zone: helm}
  gauge-negative: {polarity: negative, studs: 4, rating: 50 A, zone: helm}
loads:
  gauge: {draw: 0.5 A, kind: electronics, zone: helm}
  gauge-lamp: {draw: 0.3 A, kind: lamp, drop: 10 %, zone: helm}
  fan: {draw: 3 A, kind: motor, drop: 10 %, zone: helm}
runs:
  W1: {from: house.+, to: key-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: key-fuse.out, to: key.in, gauge: 14 AWG, colour: red, length: 1 ft}
  W3: {from: key.out, to: gauge.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W4: {from: key.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W5: {from: house.+, to: light-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W6: {from: light-fuse.out, to: light-switch.in, gauge: 14 AWG, colour: red, length: 1 ft}
  W7: {from: light-switch.out, to: gauge-lamp.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W8: {from: gauge.-, to: gauge-negative, gauge: 14 AWG, colour: black, length: 1 ft}
  W9: {from: gauge-lamp.-, to: gauge-negative, gauge: 14 AWG, colour: black, length: 1 ft}
  W10: {from: gauge-negative, to: negative, gauge: 14 AWG, colour: black, length: 2 ft}
  W11: {from: fan.-, to: negative, gauge: 14 AWG, colour: black, length: 6 ft}
  W12: {from: negative, to: house.-, gauge: 8 AWG, colour: black, length: 2 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  helm: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: helm}
switches:
  key: {kind: key, rating: 40 A, zone: helm}
  light-switch: {rating: 20 A, zone: helm}
fuses:
  key-fuse: {rating: 7.5 A, form: blade regular, zone: helm}
  light-fuse: {rating: 3 A, form: blade regular, zone: helm}
buses:
  negative: {polarity: negative, studs: 4, rating: 50 A, zone: helm}
loads:
  gauge: {draw: 0.5 A, kind: electronics, zone: helm}
  gauge-lamp: {draw: 0.3 A, kind: lamp, drop: 10 %, zone: helm}
  fan: {draw: 3 A, kind: motor, drop: 10 %, zone: helm}
runs:
  W1: {from: house.+, to: key-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: key-fuse.out, to: key.in, gauge: 14 AWG, colour: red, length: 1 ft}
  W3: {from: key.out, to: gauge.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W4: {from: key.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W5: {from: house.+, to: light-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W6: {from: light-fuse.out, to: light-switch.in, gauge: 14 AWG, colour: red, length: 1 ft}
  W7: {from: light-switch.out, to: gauge-lamp.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W8: {from: gauge.-, to: negative, gauge: 14 AWG, colour: black, length: 3 ft}
  W9: {from: gauge-lamp.-, to: negative, gauge: 14 AWG, colour: black, length: 3 ft}
  W11: {from: fan.-, to: negative, gauge: 14 AWG, colour: black, length: 6 ft}
  W12: {from: negative, to: house.-, gauge: 8 AWG, colour: black, length: 2 ft}
",
    fix: "Give the loads returns of their own to one bar, or feed them from one switch.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    findings.extend(
        facts
            .sneaks
            .sneaks
            .iter()
            .filter_map(|sneak| told(rule, system, sneak)),
    );
    if facts.sneaks.incomplete {
        let mut finding = rule.not_proved(
            "",
            "sneak paths are not looked for in the whole boat: there are too many places where one may be",
        );
        finding = finding
            .label(
                system.components.first().map(|part| part.span),
                "in a boat of this size",
            )
            .repair("check a part of the boat by itself");
        findings.push(finding);
    }
}

fn told(rule: &Rule, system: &System, sneak: &Sneak) -> Option<Diagnostic> {
    let (worst, share) = *sneak.victims.first()?;
    let name = |load: crate::system::LoadId| system.loads[load.index()].name.as_str();
    let names: Vec<&str> = sneak.victims.iter().map(|&(load, _)| name(load)).collect();
    let through = name(sneak.through);
    let (element, opened, span): (&str, String, Span) = match sneak.opening {
        Opening::Device(device) => {
            let device = &system.devices[device.index()];
            (
                &device.name,
                format!("once {} is out", device.name),
                device.span,
            )
        }
        Opening::Return(conductor) => {
            let conductor = &system.conductors[conductor.index()];
            (
                &conductor.number,
                format!("once the return {} is off", conductor.number),
                conductor.span,
            )
        }
        Opening::Switches => (
            through,
            "with nothing wrong".to_owned(),
            system.loads[sneak.through.index()].span,
        ),
    };
    let verb = if names.len() == 1 { "comes" } else { "come" };
    let (limit, basis) = constants::sneak_share();
    let mut path = start_of(system, sneak);
    path.extend(names.iter().map(|&name| name.to_owned()));
    let finding = rule
        .finding(
            element,
            format!(
                "{opened}{}, {} {verb} alive through {through}: {} flow there, {} % of the nominal current of {}",
                with_positions(system, &sneak.off_normal),
                listed(&names),
                amps(sneak.current, Rounding::Nearest),
                decimal(share * 100.0, 0),
                name(worst)
            ),
        )
        .label(span, "opens the way")
        .label(system.loads[worst.index()].span, "comes alive")
        .compared(
            Figure::new("share of its nominal current", share * 100.0, "%"),
            Figure::new("share that counts as dead", limit * 100.0, "%"),
        )
        .in_positions(set_to(system, &sneak.off_normal))
        .along(path)
        .repair(match sneak.opening {
            Opening::Return(_) => format!(
                "return {through} by a conductor of its own to where the others return, so that one opening cannot float them together"
            ),
            Opening::Device(_) | Opening::Switches => format!(
                "put a diode or a relay in the way of {through}, or feed both of its ends from one switch"
            ),
        });
    Some(also_on(finding, [basis]))
}

/// From the battery to the load that passes the current on.
fn start_of(system: &System, sneak: &Sneak) -> Vec<String> {
    let battery = sneak.feed.first().and_then(|&link| {
        let link = &system.links[link.index()];
        [link.a, link.b]
            .into_iter()
            .flat_map(|terminal| &system.nodes[system.node_of(terminal).index()].links)
            .find_map(|&other| match system.links[other.index()].kind {
                LinkKind::Source(source) => Some(system.sources[source.index()].name.clone()),
                _ => None,
            })
    });
    let mut path = along(system, &battery.unwrap_or_default(), &sneak.feed);
    path.push(system.loads[sneak.through.index()].name.clone());
    path.retain(|name| !name.is_empty());
    path
}
