//! RP: returns, polarity of loads, open ends, terminals.

use super::Rule;

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[];
