//! Which banks, poles and loads some combination of positions joins, and which it parts.
//!
//! Everything here is told over all realisable positions, with the fewest that show it and the path they close.
//! What may be joined, and how grave it is otherwise, is for the rules to say.

mod charging;
mod drains;
mod joins;
mod nets;
mod strings;
#[cfg(test)]
mod tests;

pub use charging::{Charging, Supply};
pub use drains::Drain;
pub(super) use drains::belongs_to;
pub use joins::{Contact, JOINS_TOLD, Join, Opposed, Short};
pub use nets::{Across, Nets, Pole, same_nominal};
pub use strings::{StringFault, StringFaultKind, Tap};

use super::states::{Constraints, Reach, Witness, affordable};
use crate::standards::Chemistry;
use crate::system::{Bank, BankId, LinkId, NodeId, SourceId, SourceKind, System};
use crate::units::Volts;
use std::collections::BTreeSet;

/// A question that the network is too knotted to decide, by the elements it is about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Undecided {
    /// Names of the elements.
    pub elements: Vec<String>,
}

/// What is joined and parted, over all positions.
#[derive(Clone, Debug)]
pub struct Isolation {
    /// Pairs of banks whose positives some state joins.
    pub joins: Vec<Join>,
    /// Banks joined to more others than are told one by one.
    pub crowded: BTreeSet<BankId>,
    /// Isolated banks that touch another system.
    pub contacts: Vec<Contact>,
    /// Sources whose poles some state joins.
    pub shorts: Vec<Short>,
    /// Sources wired against what they are wired to.
    pub opposed: Vec<Opposed>,
    /// Banks whose wiring does not agree with their strings.
    pub strings: Vec<StringFault>,
    /// Loads that draw from the middle of a string.
    pub taps: Vec<Tap>,
    /// Banks that feed loads and whose negative reaches none of them.
    pub floating: Vec<BankId>,
    /// Pairs of banks whose positives some state joins, and whose negatives none does.
    pub unreturned: Vec<[BankId; 2]>,
    /// Loads of other banks that some state lets draw on a start bank.
    pub drains: Vec<Drain>,
    /// Charging sources and the banks they reach.
    pub charging: Charging,
    /// What could not be decided.
    pub undecided: Vec<Undecided>,
    /// Searches that were left out, because the boat has more banks and sources than the effort allowed can cover.
    pub unseen: usize,
    /// Searches that each question may still make.
    effort: usize,
}

impl Isolation {
    /// Asks everything about banks and poles.
    #[must_use]
    pub fn new(system: &System, nets: &Nets) -> Self {
        let mut isolation = Self {
            joins: Vec::new(),
            crowded: BTreeSet::new(),
            contacts: Vec::new(),
            shorts: Vec::new(),
            opposed: Vec::new(),
            strings: Vec::new(),
            taps: Vec::new(),
            floating: Vec::new(),
            unreturned: Vec::new(),
            drains: Vec::new(),
            charging: Charging::default(),
            undecided: Vec::new(),
            unseen: 0,
            effort: affordable(system),
        };
        let all = Constraints::none(system);
        // Off the negative nets, so that a dead short is told as such and not as a joint of everything.
        let live = Reach::new(system, &all, |link| off_negative(system, nets, link));
        let undeclared = all
            .clone()
            .forbid(system, |_, position| position.joins_banks);
        let apart = Reach::new(system, &undeclared, |link| off_negative(system, nets, link));
        let whole = Reach::new(system, &all, |_| Some(f64::INFINITY));
        isolation.look_for_joins(system, &live, &apart);
        isolation.look_for_emergencies(system, nets);
        isolation.look_for_contacts(system, &whole);
        isolation.look_for_shorts(system, nets, &whole);
        isolation.look_at_strings(system, nets, &whole, &live);
        isolation.look_for_unreturned(system, &whole);
        isolation.look_for_drains(system, nets, &undeclared);
        isolation.look_at_charging(system, nets, &live);
        isolation
    }
}

impl Isolation {
    /// Whether a battery is wired the wrong way round in every position: then the poles of the rest say nothing.
    #[must_use]
    pub fn has_reversed_battery(&self, system: &System) -> bool {
        self.opposed.iter().any(|opposed| {
            let is_battery = system.sources[opposed.source.index()].kind == SourceKind::Battery;
            is_battery
                && opposed.witness.is_none()
                && opposed.across.is_none_or(|volts| volts.0 < 0.0)
        })
    }

    /// How many of so many searches, each of a few rounds, may be made; the rest is counted as unseen.
    fn afford(&mut self, wanted: usize) -> usize {
        let granted = wanted.min(self.effort);
        self.unseen += wanted - granted;
        granted
    }
}

/// The width of a link for questions that stay off the negative.
fn off_negative(system: &System, nets: &Nets, link: LinkId) -> Option<f64> {
    nets.is_off_negative(system, link).then_some(f64::INFINITY)
}

/// The positive posts of a bank: that of the uppermost battery of each string.
#[must_use]
pub fn tops(system: &System, bank: &Bank) -> Vec<NodeId> {
    bank.strings
        .iter()
        .filter_map(|string| string.last())
        .map(|&source| post(system, source, true))
        .collect()
}

/// The negative posts of a bank: that of the lowest battery of each string.
#[must_use]
pub fn bottoms(system: &System, bank: &Bank) -> Vec<NodeId> {
    bank.strings
        .iter()
        .filter_map(|string| string.first())
        .map(|&source| post(system, source, false))
        .collect()
}

/// Nominal voltage of a bank: the sum of its first string.
#[must_use]
pub fn nominal(system: &System, bank: &Bank) -> Option<Volts> {
    let string = bank.strings.first()?;
    Some(
        string
            .iter()
            .map(|source| system.sources[source.index()].nominal.value)
            .sum(),
    )
}

/// The chemistry of a bank's first battery; none where any of them gives none.
#[must_use]
pub fn chemistry(system: &System, bank: &Bank) -> Option<Chemistry> {
    let mut first = None;
    for source in bank.strings.iter().flatten() {
        let given = system.sources[source.index()].chemistry?.value;
        first = first.or(Some(given));
    }
    first
}

fn post(system: &System, source: SourceId, positive: bool) -> NodeId {
    let (a, b) = super::states::ends(system, system.sources[source.index()].link);
    if positive { a } else { b }
}

/// Whether a path is closed whatever the positions: it passes no contact.
#[must_use]
pub fn is_permanent(system: &System, witness: &Witness) -> bool {
    !witness.path.iter().any(|link| {
        matches!(
            system.links[link.index()].kind,
            crate::system::LinkKind::Contact { .. }
        )
    })
}
