//! OC: overcurrent protection, from every source, in every realisable combination of positions.

use super::Rule;

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[];
