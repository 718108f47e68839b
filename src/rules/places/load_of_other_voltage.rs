//! A load for another voltage than it is fed with.

use super::common::told_volts;
use crate::analysis::Facts;
use crate::analysis::isolation::same_nominal;
use crate::analysis::states::{Reached, ends};
use crate::diag::Figure;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{ComponentKind, LoadId, Origin, SourceId, System};
use crate::units::Volts;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL707",
    name: "load-of-other-voltage",
    title: "A load is made for another voltage than it is fed with",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "The nominal voltage of a load is that of the batteries between its two terminals; 12 V and 12.8 V count as one. More voltage than it is made for is an error: it burns. Less is a warning. A load that states no voltage is made for that of the boat. A bank that the file declares as a string counts as declared, even where its links are wired wrongly.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, voltage: 6 V, kind: motor, drop: 10 %, zone: cabin}
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
    fix: "Feed the load from a bank of its voltage, or through a converter.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let mut last_told = None;
    for (index, load) in system.loads.iter().enumerate() {
        let component = &system.components[load.component.index()];
        let found = facts.returns.load(LoadId::at(index));
        let closed = !found.fed_by.is_empty() && found.back != Reached::Never;
        if !closed || component.kind == ComponentKind::Combiner || last_told == Some(load.component)
        {
            continue;
        }
        let (positive, negative) = ends(system, load.link);
        let (Some((_, high)), Some((low, _))) =
            (facts.poles.voltage(positive), facts.poles.voltage(negative))
        else {
            continue;
        };
        let fed = high - low;
        let nominal = load.nominal.value;
        let as_declared = || {
            found.fed_by.iter().any(|&source| {
                declared(system, source).is_some_and(|volts| same_nominal(volts, nominal))
            })
        };
        if fed.0 <= 0.0 || same_nominal(fed, nominal) || as_declared() {
            continue;
        }
        last_told = Some(load.component);
        let feeder = &system.sources[found.fed_by[0].index()];
        // The voltage that the battery itself states, never that of the boat, which stands far from the fault.
        let fed_from = match feeder.nominal.origin {
            Origin::Written => feeder.nominal.span.unwrap_or(feeder.span),
            _ => feeder.span,
        };
        let over = fed > nominal;
        let why = match load.nominal.origin {
            Origin::Written => "",
            _ => ", the voltage of the boat, as it states none",
        };
        let mut finding = rule.finding(
            &load.name,
            format!(
                "{} is made for {}{why} and is fed with {}",
                load.name,
                told_volts(nominal),
                told_volts(fed)
            ),
        );
        if !over {
            finding.severity = Severity::Warning;
        }
        findings.push(
            finding
                .label(
                    load.nominal
                        .span
                        .filter(|_| why.is_empty())
                        .unwrap_or(load.span),
                    "made for this voltage",
                )
                .label(fed_from, "fed from here")
                .compared(
                    Figure::new("voltage fed", fed.0, "V"),
                    Figure::new("nominal voltage of the load", nominal.0, "V"),
                )
                .repair(match load.nominal.origin {
                    Origin::Written => format!(
                        "feed {} from a bank of {}, or through a converter",
                        load.name,
                        told_volts(nominal)
                    ),
                    _ => format!(
                        "write the voltage of {}, or feed it from a bank of {}",
                        load.name,
                        told_volts(nominal)
                    ),
                }),
        );
    }
}

/// The voltage of the declared string that a battery is the top of.
fn declared(system: &System, source: SourceId) -> Option<Volts> {
    let bank = system.sources[source.index()].bank?;
    let bank = &system.banks[bank.index()];
    let string = bank
        .strings
        .iter()
        .find(|string| string.contains(&source))?;
    let below = string
        .iter()
        .take_while(|&&step| step != source)
        .chain([&source]);
    Some(
        below
            .map(|step| system.sources[step.index()].nominal.value)
            .sum(),
    )
}
