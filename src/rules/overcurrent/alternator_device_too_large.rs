//! The device in the output of an alternator that does not limit itself.

use super::super::telling::rating;
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::{RatingCase, citations, rating_limit};
use crate::system::SourceKind;
use crate::units::format_against;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "OC106",
    name: "alternator-device-too-large",
    title: "Device in an alternator's output is above 120 % of its rating",
    severity: Severity::Error,
    basis: &[citations::LAW_GENERATOR_OUTPUT],
    checks: "The largest device between an alternator or generator and the batteries that it charges is rated at most 120 % of its maximum rated current, unless the machine is self-limiting. What protects the conductor is another question, asked for each conductor.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  alternator-fuse: {rating: 60 A, form: blade maxi, zone: cabin}
  house-fuse: {rating: 60 A, form: blade maxi, zone: cabin}
alternators:
  alternator: {current: 35 A, voltage: 14.4 V, self-limiting: false, zone: cabin}
runs:
  W1: {from: alternator.+, to: alternator-fuse.in, gauge: 8 AWG, colour: orange, length: 6 in}
  W2: {from: alternator-fuse.out, to: house-fuse.out, gauge: 8 AWG, colour: orange, length: 3 ft}
  W3: {from: house-fuse.in, to: house.+, gauge: 8 AWG, colour: red, length: 6 in}
  W4: {from: alternator.-, to: house.-, gauge: 8 AWG, colour: black, length: 3 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  alternator-fuse: {rating: 40 A, form: blade maxi, zone: cabin}
  house-fuse: {rating: 60 A, form: blade maxi, zone: cabin}
alternators:
  alternator: {current: 35 A, voltage: 14.4 V, self-limiting: false, zone: cabin}
runs:
  W1: {from: alternator.+, to: alternator-fuse.in, gauge: 8 AWG, colour: orange, length: 6 in}
  W2: {from: alternator-fuse.out, to: house-fuse.out, gauge: 8 AWG, colour: orange, length: 3 ft}
  W3: {from: house-fuse.in, to: house.+, gauge: 8 AWG, colour: red, length: 6 in}
  W4: {from: alternator.-, to: house.-, gauge: 8 AWG, colour: black, length: 3 ft}
",
    fix: "Fit a device of at most 120 % of the alternator's maximum rated current.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let limit = rating_limit(RatingCase::LawGenerator);
    for (index, source) in system.sources.iter().enumerate() {
        let limits_itself = source.self_limiting.map(|given| given.value);
        if source.kind != SourceKind::Alternator || limits_itself == Some(true) {
            continue;
        }
        let Some(output) = facts.protection.output(crate::system::SourceId::at(index)) else {
            continue;
        };
        let device = output.device.map(|id| &system.devices[id.index()]);
        let name = device.map_or("its device", |device| device.name.as_str());
        let Some(current) = source.current else {
            findings.push(
                rule.not_proved(
                    &source.name,
                    format!(
                        "{name} is not compared with {}, whose maximum rated current is not given",
                        source.name
                    ),
                )
                .label(source.span, "`current` is not given")
                .repair(format!(
                    "write the maximum rated current of {}",
                    source.name
                )),
            );
            continue;
        };
        let most = current.value * (limit.max_percent / 100.0);
        if output.rating <= most {
            continue;
        }
        let (_, shown) = format_against(output.rating.0, most.0, "A");
        let message = format!(
            "{name} is rated {}; at most {shown} is allowed in the output of {}, {:.0} % of its {}",
            rating(output.rating),
            source.name,
            limit.max_percent,
            rating(current.value)
        );
        let mut finding = if limits_itself.is_none() {
            rule.not_proved(
                &source.name,
                format!("{message}, unless it is self-limiting, which is not given"),
            )
        } else {
            rule.finding(&source.name, message)
        };
        finding = finding
            .label(
                device.map_or(source.span, |device| {
                    device
                        .rating
                        .and_then(|rating| rating.span)
                        .unwrap_or(device.span)
                }),
                "rated here",
            )
            .label(current.span, "maximum rated current")
            .compared(
                Figure::new("device rating", output.rating.0, "A"),
                Figure::new("largest rating allowed", most.0, "A"),
            );
        let help = if limits_itself.is_none() {
            format!(
                "write `self-limiting: true` if the maker of {} says so, else fit at most {shown}",
                source.name
            )
        } else {
            format!("fit a device of at most {shown}")
        };
        findings.push(finding.repair(help));
    }
}
