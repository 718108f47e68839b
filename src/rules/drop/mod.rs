//! VD: voltage drop, round trip, from the source to each load.

use super::Rule;

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[];
