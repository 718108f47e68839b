//! OC: overcurrent protection, from every source, in every realisable combination of positions.

mod alternator_device_too_large;
mod batteries_without_device;
mod device_above_load_limit;
mod device_exceeds_conductor;
mod device_in_negative;
mod device_rating_not_given;
mod device_too_far;
mod devices_side_by_side;
mod not_reset_by_hand;
mod string_link_unprotected;
mod unprotected_conductor;

use super::Rule;

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[
    &unprotected_conductor::RULE,
    &device_too_far::RULE,
    &device_exceeds_conductor::RULE,
    &device_in_negative::RULE,
    &not_reset_by_hand::RULE,
    &alternator_device_too_large::RULE,
    &device_above_load_limit::RULE,
    &device_rating_not_given::RULE,
    &string_link_unprotected::RULE,
    &batteries_without_device::RULE,
    &devices_side_by_side::RULE,
];
