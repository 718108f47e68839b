//! LV: what stays live, and what dies, with the battery switches off.

mod always_on_dead;
mod back_feed;
mod bank_without_switch;
mod gauge_live_with_key_off;
mod live_with_switches_off;

use super::Rule;

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[
    &live_with_switches_off::RULE,
    &bank_without_switch::RULE,
    &always_on_dead::RULE,
    &back_feed::RULE,
    &gauge_live_with_key_off::RULE,
];
