//! WY: measured ways: what they carry against the holes they pass, and given lengths against them.
//!
//! Ids run from WY101 on.

mod hole_too_small;
mod length_twice_the_way;
mod no_slack_for_rework;
mod shorter_than_way;

use super::Rule;

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[
    &hole_too_small::RULE,
    &shorter_than_way::RULE,
    &length_twice_the_way::RULE,
    &no_slack_for_rework::RULE,
];
