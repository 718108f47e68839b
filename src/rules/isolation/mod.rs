//! BI: banks, polarity of sources, dead shorts, over every combination of positions.

use super::Rule;

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[];
