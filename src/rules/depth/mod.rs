//! DP: what happens in a fault and at a failure: shorts, starting and held motors, one opening, a battery cut off.
//!
//! Ids run from DP801 on. Many limits here are estimates or common practice; the messages say which.

mod conductor_overheats_in_short;
mod interrupting_rating;
mod short_not_cleared;

use super::Rule;
use crate::analysis::Facts;
use crate::analysis::fault_current::Certainty;
use crate::diag::Diagnostic;
use crate::standards::{Basis, FuseForm};
use crate::system::{ConductorId, Device};
use crate::units::Amps;

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[
    &interrupting_rating::RULE,
    &short_not_cleared::RULE,
    &conductor_overheats_in_short::RULE,
];

/// The form of a device, where it is one that the tables know.
fn form(device: &Device) -> Option<FuseForm> {
    device.form.as_ref()?.value.parse().ok()
}

/// A largest fault current as it is told: three figures, rounded up.
fn about(current: Amps) -> String {
    let step = 10f64.powf(current.0.max(1.0).log10().floor() - 2.0);
    format!("{:.0} A", (current.0 / step).ceil() * step)
}

/// How sure a fault current is, in brackets behind it.
fn certainty_words(certainty: Certainty) -> &'static str {
    match certainty {
        Certainty::Stated => "",
        Certainty::Estimated(_) => " (estimated)",
        Certainty::Supposed(_) => " (supposed for a lead-acid battery, as nothing is given)",
    }
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

/// Whether a conductor is to be protected at all, and no source feeds it past no device.
///
/// Cranking conductors, pigtails, sense leads and capped ends are excused; a lead from a battery to its device, one
/// that lacks a device, and one whose device is larger than it allows are the matter of the rules on overcurrent.
fn is_judged(facts: &Facts<'_>, conductor: ConductorId) -> bool {
    let record = &facts.system.conductors[conductor.index()];
    let cranking = record.cranking.is_some_and(|given| given.value);
    let excused = cranking || record.pigtail || record.sense || record.spare;
    let mut ends = facts.faults.far_ends(conductor).iter();
    let cover = facts.protection.cover(conductor);
    let too_large = cover
        .rating
        .zip(cover.allowed.as_ref())
        .is_some_and(|(rating, allowed)| rating > allowed.judged.current);
    !excused && !too_large && ends.all(|far| far.device.is_some())
}

/// The battery or the string that a smallest current comes from.
fn feed_words(facts: &Facts<'_>, feed: usize) -> String {
    let names: Vec<&str> = facts.faults.feeds()[feed]
        .batteries
        .iter()
        .map(|battery| facts.system.sources[battery.index()].name.as_str())
        .collect();
    super::telling::listed(&names)
}
