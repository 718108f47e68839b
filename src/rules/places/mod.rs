//! PL: zones, vapour, colours, terminals, studs, connectors, fitness of parts for their voltage and place.
//!
//! Ids run from PL701 on. Minimum conductor sizes are judged with the ampacities.

use super::Rule;

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[];
