//! AM: conductors against the current they carry where they lie.

use super::Rule;

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[];
