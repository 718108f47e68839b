//! RP: returns, polarity of loads and bars, open ends, hull and bonding.
//!
//! Ids run from RP601 on. What the circuits carry is judged with the ampacities and drops.

mod bus_of_wrong_polarity;
mod coil_without_negative;
mod hull_as_return;
mod isolated_systems_bridged;
mod load_without_supply;
mod negative_bonded_twice;
mod no_return_path;
mod open_end;
mod reversed_load;
mod shared_negative;
mod shunt_bypassed;
mod source_without_return;
mod switch_in_negative;
mod unused_terminal;

use super::Rule;

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[
    &no_return_path::RULE,
    &source_without_return::RULE,
    &load_without_supply::RULE,
    &reversed_load::RULE,
    &bus_of_wrong_polarity::RULE,
    &open_end::RULE,
    &switch_in_negative::RULE,
    &hull_as_return::RULE,
    &negative_bonded_twice::RULE,
    &isolated_systems_bridged::RULE,
    &coil_without_negative::RULE,
    &shared_negative::RULE,
    &shunt_bypassed::RULE,
    &unused_terminal::RULE,
];
