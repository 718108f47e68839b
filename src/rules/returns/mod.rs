//! RP: returns, polarity of loads and bars, open ends, bonding.
//!
//! Ids run from RP601 on.

use super::Rule;

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[];
