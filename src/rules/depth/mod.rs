//! DP: what happens in a fault and at a failure: shorts, starting and held motors, one opening, a battery cut off.
//!
//! Ids run from DP801 on. Many limits here are estimates or common practice; the messages say which.

mod branch_opens_main;
mod coil_not_suppressed;
mod conductor_overheats_in_short;
mod cranking_by_small_return;
mod cut_out_strands_alternator;
mod device_below_load;
mod device_opens_on_start;
mod held_motor_not_cleared;
mod interrupting_rating;
mod management_limit_exceeded;
mod short_not_cleared;
mod sneak_path;
mod switch_below_load_kind;
mod vital_loads_on_one_management;

use super::Rule;
use crate::analysis::Facts;
use crate::analysis::fault_current::Certainty;
use crate::analysis::states::ends;
use crate::diag::Diagnostic;
use crate::standards::{Basis, Chemistry, FuseForm};
use crate::system::{
    ConductorId, Device, DeviceId, LinkId, LinkKind, LoadId, NodeId, Source, System,
};
use crate::units::Amps;

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[
    &interrupting_rating::RULE,
    &short_not_cleared::RULE,
    &conductor_overheats_in_short::RULE,
    &device_below_load::RULE,
    &device_opens_on_start::RULE,
    &held_motor_not_cleared::RULE,
    &branch_opens_main::RULE,
    &switch_below_load_kind::RULE,
    &coil_not_suppressed::RULE,
    &management_limit_exceeded::RULE,
    &vital_loads_on_one_management::RULE,
    &cut_out_strands_alternator::RULE,
    &sneak_path::RULE,
    &cranking_by_small_return::RULE,
];

/// The form of a device, where it is one that the tables know.
pub(crate) fn form(device: &Device) -> Option<FuseForm> {
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
pub(crate) fn is_judged(facts: &Facts<'_>, conductor: ConductorId) -> bool {
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

/// The single sources that feed a node past no position that joins banks.
fn own_feeds(facts: &Facts<'_>, node: NodeId) -> impl Iterator<Item = usize> {
    (0..facts.faults.feeds().len()).filter(move |&feed| facts.faults.feeds_apart(feed, node))
}

/// The device of a link.
fn device_of(system: &System, link: LinkId) -> Option<DeviceId> {
    match system.links[link.index()].kind {
        LinkKind::Device(device) => Some(device),
        _ => None,
    }
}

/// The devices that stand last before a load, each once, in file order.
pub(crate) fn nearest_devices(facts: &Facts<'_>, load: LoadId) -> Vec<DeviceId> {
    let (positive, _) = ends(facts.system, facts.system.loads[load.index()].link);
    let mut devices: Vec<DeviceId> = own_feeds(facts, positive)
        .filter_map(|feed| facts.faults.last_device(feed, positive))
        .collect();
    devices.sort_unstable();
    devices.dedup();
    devices
}

/// Whether a battery has a management that can cut it off: lithium, or one that states its limit.
fn is_managed(source: &Source) -> bool {
    let lithium = source
        .chemistry
        .is_some_and(|given| given.value == Chemistry::LithiumIronPhosphate);
    lithium || source.current.is_some()
}
