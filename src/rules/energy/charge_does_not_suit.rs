//! A charging source whose voltage or profile is not that of the batteries it charges.

use super::{Across, Charge, charges, name, strings};
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::source::Span;
use crate::standards::{Basis, Chemistry, citations, max_charge_voltage};
use crate::system::{Known, Source, SourceId};
use crate::units::{Rounding, Volts, volts};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "EN901",
    name: "charge-does-not-suit",
    title: "Charging source does not suit its batteries",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "The highest voltage of each charging source is within the highest charging voltage of every string that it is put across in any state that nobody sets up to join banks; where a battery states none, the usual figure of its chemistry stands in for it and the finding is a note. A source with a charging profile charges its own chemistry: lead-acid and lithium are a warning, two kinds of lead-acid a note. Too high a voltage gasses lead-acid dry and trips a lithium management.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: gel, capacity: 60 Ah, cranking: 400 A, max-charge-voltage: 14.1 V, zone: cabin}
fuses:
  charger-fuse: {rating: 15 A, form: blade regular, zone: cabin}
chargers:
  charger: {outputs: {1: {current: 10 A, voltage: 14.6 V}}, self-limiting: true, zone: cabin}
runs:
  K1: {from: house.+, to: charger-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  K2: {from: charger.1+, to: charger-fuse.out, gauge: 14 AWG, colour: red, length: 3 ft}
  K3: {from: charger.-, to: house.-, gauge: 14 AWG, colour: black, length: 3 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: gel, capacity: 60 Ah, cranking: 400 A, max-charge-voltage: 14.1 V, zone: cabin}
fuses:
  charger-fuse: {rating: 15 A, form: blade regular, zone: cabin}
chargers:
  charger: {outputs: {1: {current: 10 A, voltage: 14.1 V, chemistry: gel}}, self-limiting: true, zone: cabin}
runs:
  K1: {from: house.+, to: charger-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  K2: {from: charger.1+, to: charger-fuse.out, gauge: 14 AWG, colour: red, length: 3 ft}
  K3: {from: charger.-, to: house.-, gauge: 14 AWG, colour: black, length: 3 ft}
",
    fix: "Set the source to the profile of its batteries.",
    check,
};

/// Voltages nearer than this are one: settings come in tenths.
const SAME_VOLTS: f64 = 0.05;

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let (charges, unseen) = charges(facts);
    if unseen > 0
        && let Some(source) = facts.system.sources.last()
    {
        findings.push(
            rule.not_proved(
                "",
                format!("{unseen} charging sources are left out, because the boat has more than the effort allowed can cover"),
            )
            .label(source.span, "one of the last")
            .repair("check a part of the boat by itself"),
        );
    }
    for charge in &charges {
        // A bank end to end and one battery of it are never charged by one output both.
        let whole = charges.iter().any(|other| {
            other.source == charge.source
                && matches!(other.across, Across::Bank(_))
                && strings(facts.system, &other.across)
                    .iter()
                    .flatten()
                    .any(|battery| charge.across == Across::Battery(*battery))
        });
        if whole {
            continue;
        }
        findings.extend(too_high(rule, facts, charge));
        if charge.direct {
            findings.extend(other_profile(rule, facts, charge));
        }
    }
}

/// What a string may be charged with.
struct Ceiling {
    volts: f64,
    /// All of it is written in the file.
    given: bool,
    span: Option<Span>,
    basis: Option<Basis>,
}

/// The least charging voltage that one of some strings allows; none where nothing is known of a battery.
fn ceiling(facts: &Facts<'_>, across: &Across) -> Option<Ceiling> {
    let mut least: Option<Ceiling> = None;
    for string in strings(facts.system, across) {
        let mut sum = Ceiling {
            volts: 0.0,
            given: true,
            span: None,
            basis: None,
        };
        for battery in string {
            let battery = &facts.system.sources[battery.index()];
            let (volts, given) = match (battery.max_voltage, battery.chemistry) {
                (Some(given), _) => {
                    sum.span = sum.span.or(given.span);
                    (given.value.0, true)
                }
                (None, Some(chemistry)) => {
                    let (usual, basis) = max_charge_voltage(chemistry.value, battery.nominal.value);
                    sum.span = sum.span.or(chemistry.span);
                    sum.basis = Some(basis);
                    (usual.0, false)
                }
                (None, None) => return None,
            };
            sum.volts += volts;
            sum.given &= given;
            sum.span = sum.span.or(Some(battery.span));
        }
        if least.as_ref().is_none_or(|least| sum.volts < least.volts) {
            least = Some(sum);
        }
    }
    least
}

fn too_high(rule: &Rule, facts: &Facts<'_>, charge: &Charge) -> Option<Diagnostic> {
    let system = facts.system;
    let source = &system.sources[charge.source.index()];
    let charging = source.max_voltage?;
    let ceiling = ceiling(facts, &charge.across)?;
    if charging.value.0 <= ceiling.volts + SAME_VOLTS {
        return None;
    }
    let name = name(system, &charge.across);
    let whose = if ceiling.given {
        "its batteries allow"
    } else {
        "the usual limit of their chemistry is"
    };
    let limit = volts(Volts(ceiling.volts), Rounding::Down);
    let mut finding = rule.finding(
        &source.name,
        format!(
            "{} charges {name} with up to {}; {whose} {limit}",
            source.name,
            volts(charging.value, Rounding::Nearest)
        ),
    );
    if !ceiling.given {
        finding.severity = Severity::Note;
    }
    finding.basis.extend(ceiling.basis);
    Some(
        finding
            .label(charging.span.or(Some(source.span)), "charges with this")
            .label(ceiling.span, "allows less")
            .compared(
                Figure::new("charging voltage", charging.value.0, "V"),
                Figure::new("highest charging voltage", ceiling.volts, "V"),
            )
            .repair(format!(
                "set {} to at most {limit}, or give `max-charge-voltage` of the batteries from their data sheet",
                source.name
            )),
    )
}

fn other_profile(rule: &Rule, facts: &Facts<'_>, charge: &Charge) -> Option<Diagnostic> {
    let system = facts.system;
    let source = &system.sources[charge.source.index()];
    let profile: Known<Chemistry> = source.chemistry;
    let profile = profile?;
    let batteries: Vec<SourceId> = strings(system, &charge.across)
        .into_iter()
        .flatten()
        .collect();
    let other: &Source = batteries
        .iter()
        .map(|battery| &system.sources[battery.index()])
        .find(|battery| {
            battery
                .chemistry
                .is_some_and(|given| given.value != profile.value)
        })?;
    let chemistry = other.chemistry?;
    let lithium = |chemistry| chemistry == Chemistry::LithiumIronPhosphate;
    let mut finding = rule.finding(
        &source.name,
        format!(
            "{} charges by the profile for {}; {} is {}",
            source.name,
            words(profile.value),
            other.name,
            words(chemistry.value)
        ),
    );
    if !lithium(profile.value) && !lithium(chemistry.value) {
        finding.severity = Severity::Note;
    }
    Some(
        finding
            .label(
                profile.span.or(Some(source.span)),
                "made for another chemistry",
            )
            .label(chemistry.span.or(Some(other.span)), "charged by it")
            .repair(format!(
                "set {} to the profile for {}",
                source.name,
                words(chemistry.value)
            )),
    )
}

fn words(chemistry: Chemistry) -> &'static str {
    match chemistry {
        Chemistry::Flooded => "flooded lead-acid",
        Chemistry::Agm => "absorbed-glass-mat lead-acid",
        Chemistry::Gel => "gel lead-acid",
        Chemistry::LithiumIronPhosphate => "lithium iron phosphate",
    }
}
