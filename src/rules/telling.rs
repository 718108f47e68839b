//! Phrases that findings of several families share.

use crate::analysis::states::set_to;
use crate::diag::{Diagnostic, SetTo};
use crate::system::{ConductorId, GearId, LengthUnits, LinkId, System};
use crate::units::{Amps, LengthStyle, Metres, Rounding, amps, format_cut_length, format_length};

/// Names told one by one before the rest is counted.
pub(super) const NAMES_TOLD: usize = 6;

/// `W1`, `W1 and W2`, `W1, W2 and W3`, and `W1, W2 and 7 more` where there are many.
pub(crate) fn listed<S: AsRef<str>>(names: &[S]) -> String {
    joined(names, "and")
}

/// The same with `or`.
pub(super) fn either<S: AsRef<str>>(names: &[S]) -> String {
    joined(names, "or")
}

fn joined<S: AsRef<str>>(names: &[S], word: &str) -> String {
    let mut told: Vec<String> = names.iter().map(|name| name.as_ref().to_owned()).collect();
    if told.len() > NAMES_TOLD {
        let more = told.len() - (NAMES_TOLD - 1);
        told.truncate(NAMES_TOLD - 1);
        told.push(format!("{more} more"));
    }
    match told.split_last() {
        None => String::new(),
        Some((only, [])) => only.clone(),
        Some((last, rest)) => format!("{} {word} {last}", rest.join(", ")),
    }
}

/// The wire numbers of some conductors, in a phrase.
pub(crate) fn wires(system: &System, conductors: &[ConductorId]) -> String {
    let numbers: Vec<&str> = conductors
        .iter()
        .map(|id| system.conductors[id.index()].number.as_str())
        .collect();
    listed(&numbers)
}

/// The numbers of conductors, for a finding that is about all of them.
pub(super) fn numbers<'s>(
    system: &'s System,
    conductors: &'s [ConductorId],
) -> impl Iterator<Item = &'s str> {
    let number = |id: &ConductorId| system.conductors[id.index()].number.as_str();
    conductors.iter().map(number)
}

/// A length in the units of the boat.
pub(crate) fn length(system: &System, length: Metres) -> String {
    format_length(length, style(system))
}

/// A length in the units of the boat that is never shorter than the value.
pub(crate) fn length_up(system: &System, length: Metres) -> String {
    format_cut_length(length, style(system))
}

fn style(system: &System) -> LengthStyle {
    match system.boat.units {
        LengthUnits::Feet => LengthStyle::FeetInches,
        LengthUnits::Metres => LengthStyle::MetresMillimetres,
    }
}

/// A rating as it is marked on the part.
pub(crate) fn rating(current: Amps) -> String {
    if current.0.fract() == 0.0 {
        format!("{:.0} A", current.0)
    } else {
        format!("{} A", current.0)
    }
}

/// A limit, rounded down so that what is told is within it.
pub(crate) fn at_most(current: Amps) -> String {
    amps(current, Rounding::Down).to_string()
}

/// Nothing in normal positions; else ` with battery-switch at combine and pump-switch at manual`.
pub(super) fn with_positions(system: &System, positions: &[(GearId, u16)]) -> String {
    if positions.is_empty() {
        return String::new();
    }
    let told: Vec<String> = set_to(system, positions)
        .into_iter()
        .map(|set| format!("{} at `{}`", set.switch, set.position))
        .collect();
    format!(" with {}", listed(&told))
}

/// Nothing where no switch is set; else a comma and where each stands, to follow the words for a case.
pub(super) fn switches_at(set: &[SetTo]) -> String {
    let told: Vec<String> = set
        .iter()
        .map(|set| format!("{} at `{}`", set.switch, set.position))
        .collect();
    if told.is_empty() {
        String::new()
    } else {
        format!(", {}", listed(&told))
    }
}

/// The elements of a path, each once, from `start` on.
pub(super) fn along(system: &System, start: &str, links: &[LinkId]) -> Vec<String> {
    let mut names = vec![start.to_owned()];
    for &link in links {
        let name = system.link_name(link);
        if names.last() != Some(&name) {
            names.push(name);
        }
    }
    names
}

/// Adds the positions and the path that show a finding.
pub(super) fn shown(
    finding: Diagnostic,
    system: &System,
    positions: &[(GearId, u16)],
    start: &str,
    links: &[LinkId],
) -> Diagnostic {
    finding
        .in_positions(set_to(system, positions))
        .along(along(system, start, links))
}
