//! EN: charging against what batteries take, lay-up against what they hold, lights against what they are to show.
//!
//! Ids run from EN901 on. That a charging source reaches each bank is proved under BI.

mod charge_above_limit;
mod charge_does_not_suit;
mod flat_in_lay_up;
mod flat_in_scenario;
mod lights_together;

use super::Rule;
use crate::analysis::Facts;
use crate::analysis::isolation::{bottoms, tops};
use crate::analysis::states::{Constraints, Reach, Reached, affordable, ends};
use crate::system::{BankId, GearKind, NodeId, SourceId, SourceKind, System};

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[
    &charge_does_not_suit::RULE,
    &charge_above_limit::RULE,
    &lights_together::RULE,
    &flat_in_lay_up::RULE,
    &flat_in_scenario::RULE,
];

/// Searches over the whole boat for each charging source.
const SEARCHES: usize = 4;

/// Batteries that a charging source is put across: one, or the strings of a bank from end to end.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Across {
    /// One battery of a string of several.
    Battery(SourceId),
    /// All strings of a bank.
    Bank(BankId),
}

/// A charging source and what it is put across in some state that nobody sets up to join banks.
struct Charge {
    source: SourceId,
    across: Across,
    /// It is so with every combiner open as well.
    direct: bool,
}

/// Which charging source is put across which batteries, and how many sources the effort allowed leaves out.
fn charges(facts: &Facts<'_>) -> (Vec<Charge>, usize) {
    let system = facts.system;
    let by_itself = Constraints::none(system).forbid(system, |gear, position| {
        position.emergency || (position.joins_banks && !gear.automatic)
    });
    let apart = Constraints::none(system).forbid(system, |_, position| {
        position.emergency || position.joins_banks
    });
    let open = |_| Some(f64::INFINITY);
    let (by_itself, apart) = (
        Reach::new(system, &by_itself, open),
        Reach::new(system, &apart, open),
    );
    let targets = targets(system);
    let mut charges = Vec::new();
    let (mut left, mut unseen) = (affordable(system) / SEARCHES, 0);
    for (index, source) in system.sources.iter().enumerate() {
        if source.kind == SourceKind::Battery {
            continue;
        }
        if left == 0 {
            unseen += 1;
            continue;
        }
        left -= 1;
        let (plus, minus) = ends(system, source.link);
        let sides = |reach: &Reach<'_>| {
            let (up, down) = (reach.spread(&[plus]), reach.spread(&[minus]));
            targets
                .iter()
                .map(|(_, tops, bottoms)| {
                    let meets = |spread: &crate::analysis::states::Spread<'_>, nodes: &[NodeId]| {
                        nodes
                            .iter()
                            .any(|&node| spread.reached(node) == Reached::Somewhen)
                    };
                    meets(&up, tops) && meets(&down, bottoms)
                })
                .collect::<Vec<bool>>()
        };
        let (some, direct) = (sides(&by_itself), sides(&apart));
        for ((across, _, _), (some, direct)) in targets.iter().zip(some.into_iter().zip(direct)) {
            if some {
                charges.push(Charge {
                    source: SourceId::at(index),
                    across: across.clone(),
                    direct,
                });
            }
        }
    }
    (charges, unseen)
}

/// What a charging source may be put across, with its upper and its lower posts.
fn targets(system: &System) -> Vec<(Across, Vec<NodeId>, Vec<NodeId>)> {
    let mut targets = Vec::new();
    for (index, bank) in system.banks.iter().enumerate() {
        let id = BankId::at(index);
        targets.push((Across::Bank(id), tops(system, bank), bottoms(system, bank)));
        for &battery in bank
            .strings
            .iter()
            .filter(|string| string.len() > 1)
            .flatten()
        {
            let (top, bottom) = ends(system, system.sources[battery.index()].link);
            targets.push((Across::Battery(battery), vec![top], vec![bottom]));
        }
    }
    targets
}

/// The batteries of what a source is put across, string by string.
fn strings(system: &System, across: &Across) -> Vec<Vec<SourceId>> {
    match across {
        Across::Battery(battery) => vec![vec![*battery]],
        Across::Bank(bank) => system.banks[bank.index()].strings.clone(),
    }
}

fn name<'s>(system: &'s System, across: &Across) -> &'s str {
    match across {
        Across::Battery(battery) => &system.sources[battery.index()].name,
        Across::Bank(bank) => &system.banks[bank.index()].name,
    }
}

/// Whether a gear is a switch that lights may hang on: anything by hand or by itself that is no battery switch.
fn is_panel(kind: GearKind) -> bool {
    !matches!(kind, GearKind::BatterySwitch | GearKind::Combiner)
}
