//! LV: what stays live, and what dies, with the battery switches off.

use super::Rule;

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[];
