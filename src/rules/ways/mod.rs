//! WY: measured ways: what they carry against the holes they pass, and given lengths against them.
//!
//! Ids run from WY101 on.

mod hole_too_small;
mod shorter_than_way;

use super::Rule;

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[&hole_too_small::RULE, &shorter_than_way::RULE];
