//! VD: voltage drop of loads, charging sources and panel feeds, and what a meter would show.
//!
//! Ids run from VD301 on. The handbook's drop is compared with limits; the solved one stands beside it.

mod charging_drop_exceeded;
mod cranking_dip;
mod cranking_drop_exceeded;
mod drop_exceeded;
mod length_not_given;
mod load_cannot_run;
mod load_under_voltage;
mod panel_feed_drop_exceeded;
mod scenario_load_dead;
mod sense_lead_carries_drop;
mod solved_drop_exceeded;

use super::Rule;
use super::telling::switches_at;
use crate::analysis::currents::Case;
use crate::analysis::voltage_drop;
use crate::system::{ConductorId, System};

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[
    &drop_exceeded::RULE,
    &length_not_given::RULE,
    &charging_drop_exceeded::RULE,
    &panel_feed_drop_exceeded::RULE,
    &solved_drop_exceeded::RULE,
    &load_under_voltage::RULE,
    &load_cannot_run::RULE,
    &scenario_load_dead::RULE,
    &cranking_dip::RULE,
    &cranking_drop_exceeded::RULE,
    &sense_lead_carries_drop::RULE,
];

/// A share above its limit by less than this is rounding, in per cent.
const SAME_PERCENT: f64 = 1e-9;

/// The case in a few words, with the battery switches that are off their normal position.
fn case_words(system: &System, case: &Case) -> String {
    format!(
        "{}{}",
        voltage_drop::words(system, case),
        switches_at(&voltage_drop::positions(system, case))
    )
}

/// The conductor of a way with the most rule resistance; the one that is best replaced.
fn most_resistance(system: &System, ids: &[ConductorId]) -> Option<ConductorId> {
    use crate::analysis::solve::{Reading, conductor_resistance};
    ids.iter()
        .copied()
        .filter_map(|id| Some((id, conductor_resistance(system, id, Reading::Rule)?)))
        .max_by(|(a, ohms_a), (b, ohms_b)| ohms_a.total_cmp(ohms_b).then(b.cmp(a)))
        .map(|(id, _)| id)
}
