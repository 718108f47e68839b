//! PL: zones, vapour, colours, minimum sizes, studs.

use super::Rule;

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[];
