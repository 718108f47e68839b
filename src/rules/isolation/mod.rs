//! BI: banks, polarity of sources, dead shorts, over every combination of positions.

mod alternator_without_battery;
mod bank_not_charged;
mod banks_joined;
mod charger_behind_switch;
mod dead_short;
mod isolated_bank_touched;
mod middle_tapped;
mod negative_not_common;
mod opposed_source;
mod start_bank_drained;
mod string_wired_wrong;
mod unlike_batteries;
mod unlike_chemistry_joined;
mod unlike_voltage_joined;

use super::Rule;
use super::telling::listed;
use crate::analysis::isolation::{Join, chemistry, nominal, same_nominal};
use crate::analysis::states::{Witness, set_to};
use crate::source::Span;
use crate::standards::Chemistry;
use crate::system::{GearId, LinkKind, System};

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[
    &banks_joined::RULE,
    &unlike_voltage_joined::RULE,
    &unlike_chemistry_joined::RULE,
    &isolated_bank_touched::RULE,
    &dead_short::RULE,
    &opposed_source::RULE,
    &string_wired_wrong::RULE,
    &middle_tapped::RULE,
    &negative_not_common::RULE,
    &start_bank_drained::RULE,
    &bank_not_charged::RULE,
    &alternator_without_battery::RULE,
    &charger_behind_switch::RULE,
    &unlike_batteries::RULE,
];

/// How two joined banks differ; the gravest that holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Unlike {
    /// In nominal voltage.
    Voltage,
    /// One is lead-acid, the other lithium.
    Chemistry,
    /// Both are lead-acid, of different kinds.
    LeadKind,
    /// A chemistry is not given.
    NotGiven,
    /// In nothing that matters.
    Nothing,
}

fn unlike(system: &System, join: &Join) -> Unlike {
    let [one, other] = join.banks.map(|id| &system.banks[id.index()]);
    let volts = nominal(system, one).zip(nominal(system, other));
    if volts.is_some_and(|(a, b)| !same_nominal(a, b)) {
        return Unlike::Voltage;
    }
    let (Some(a), Some(b)) = (chemistry(system, one), chemistry(system, other)) else {
        return Unlike::NotGiven;
    };
    let lithium = |chemistry| chemistry == Chemistry::LithiumIronPhosphate;
    if lithium(a) != lithium(b) {
        Unlike::Chemistry
    } else if a == b {
        Unlike::Nothing
    } else {
        Unlike::LeadKind
    }
}

/// The place of the switch position that closes a path, or of its last conductor where no switch is in it.
fn place(system: &System, witness: &Witness) -> Option<Span> {
    let contact = witness.path.iter().rev().find_map(|link| {
        let LinkKind::Contact { gear, .. } = system.links[link.index()].kind else {
            return None;
        };
        let record = &system.gears[gear.index()];
        let position = record
            .positions
            .get(usize::from(witness.state.position(gear)))
            .and_then(|position| position.span);
        position.or(Some(system.components[record.component.index()].span))
    });
    contact.or_else(|| {
        witness.path.iter().rev().find_map(|link| {
            let LinkKind::Conductor(id) = system.links[link.index()].kind else {
                return None;
            };
            Some(system.conductors[id.index()].span)
        })
    })
}

/// Where the parts on the path stand, as the reader may hold another position for the normal one.
fn standing(system: &System, witness: &Witness) -> String {
    let mut gears: Vec<GearId> = witness
        .path
        .iter()
        .filter_map(|link| match system.links[link.index()].kind {
            LinkKind::Contact { gear, .. } => Some(gear),
            _ => None,
        })
        .collect();
    gears.sort_unstable();
    gears.dedup();
    let at: Vec<(GearId, u16)> = gears
        .into_iter()
        .map(|gear| (gear, witness.state.position(gear)))
        .collect();
    let told: Vec<String> = set_to(system, &at)
        .into_iter()
        .map(|set| format!("{} at `{}`", set.switch, set.position))
        .collect();
    listed(&told)
}

/// ` in every position`, ` in the normal positions`, or the positions off normal.
fn in_positions(system: &System, witness: &Witness) -> String {
    if crate::analysis::isolation::is_permanent(system, witness) {
        " whatever the positions of the switches".to_owned()
    } else if witness.off_normal.is_empty() {
        format!(
            " with every switch in its normal position ({})",
            standing(system, witness)
        )
    } else {
        super::telling::with_positions(system, &witness.off_normal)
    }
}
