//! AM: conductors and current-carrying parts against the current they carry where they lie.
//!
//! Ids run from AM201 on.

mod combinations_not_all_tried;
mod conductor_below_minimum_size;
mod conductor_overloaded;
mod draw_not_given;
mod feeder_without_reserve;
mod insulation_too_cool;
mod parallel_conductors_too_small;
mod part_overloaded;
mod return_thinner_than_feed;
mod size_not_given;
mod unsuitable_wire_type;

pub(crate) use conductor_below_minimum_size::least_sizes;

use super::Rule;
use super::telling::switches_at;
use crate::analysis::Facts;
use crate::analysis::currents::Peak;
use crate::diag::Diagnostic;
use crate::source::Span;
use crate::standards::{Basis, constants};
use crate::system::{Conductor, ConductorId, LoadId, LoadKind, Service};
use crate::units::Amps;

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[
    &conductor_overloaded::RULE,
    &size_not_given::RULE,
    &draw_not_given::RULE,
    &conductor_below_minimum_size::RULE,
    &insulation_too_cool::RULE,
    &return_thinner_than_feed::RULE,
    &part_overloaded::RULE,
    &unsuitable_wire_type::RULE,
    &parallel_conductors_too_small::RULE,
    &combinations_not_all_tried::RULE,
    &feeder_without_reserve::RULE,
];

/// The case of a peak in a few words, with the switches that are off their normal position.
fn case_words(facts: &Facts<'_>, peak: &Peak) -> String {
    let words = facts.currents.words(facts.system, peak);
    let design = if peak.by_design {
        " at the design current of its block"
    } else {
        ""
    };
    let set = switches_at(&facts.currents.positions(facts.system, peak));
    format!("{words}{design}{set}")
}

/// Place of a conductor's size; the conductor itself where the size is not written with it.
fn size_span(conductor: &Conductor) -> Span {
    conductor
        .gauge
        .and_then(|gauge| gauge.span)
        .unwrap_or(conductor.span)
}

/// Adds authorities that a finding does not name yet.
fn also_on(finding: Diagnostic, basis: impl IntoIterator<Item = Basis>) -> Diagnostic {
    let mut finding = finding;
    for basis in basis {
        if !finding.basis.contains(&basis) {
            finding.basis.push(basis);
        }
    }
    finding
}

/// Loads that each conductor lies on the way of.
fn served(facts: &Facts<'_>) -> Vec<Vec<LoadId>> {
    let mut served = vec![Vec::new(); facts.system.conductors.len()];
    for index in 0..facts.system.loads.len() {
        let load = LoadId::at(index);
        for conductor in facts.drops.of(load).into_iter().flat_map(|drop| &drop.path) {
            served[conductor.index()].push(load);
        }
    }
    served
}

/// Share by which two currents may differ and still be one.
const ROUNDING: f64 = 1e-9;

/// Whether the law leaves the size of a conductor free: leads of components, cranking, sensing, and electronics
/// of less than an ampere.
fn size_is_free(facts: &Facts<'_>, conductor: ConductorId, serves: &[LoadId]) -> bool {
    let record = &facts.system.conductors[conductor.index()];
    let cranking = record.cranking.is_some_and(|given| given.value);
    if record.pigtail || record.sense || record.spare || cranking {
        return true;
    }
    let (most, _) = constants::electronics_current();
    let peak = facts.currents.load(record.link);
    // A current that differs from the limit by rounding is at the limit.
    let is_below = |current: Amps| current.0 < most.0 * (1.0 - ROUNDING);
    // The law speaks of circuits: a conductor beside another carries a share of its circuit only, and all of it once
    // the other is loose.
    let electronic = |load: &LoadId| {
        let load = &facts.system.loads[load.index()];
        let is_electronic = load.kind == LoadKind::Electronics
            || matches!(load.service, Service::Electronics | Service::Alarm);
        is_electronic && load.current().is_some_and(is_below)
    };
    !peak.unknown && is_below(peak.amps) && !serves.is_empty() && serves.iter().all(electronic)
}
