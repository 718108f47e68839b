//! Exact questions over all combinations of switch, relay and combiner positions.
//!
//! A question is put to a [`Reach`]: the circuit with its unswitched parts merged, under [`Constraints`]
//! that fix or forbid positions. It is answered by a search over sets of positions that a path can share,
//! and by a Boolean solver where that search would grow too large; states are never sampled.
//! Every state given back is walked again on the plain graph before it is returned.
//! Nothing here judges: whether two banks may be joined is for the rules to say.

mod blocks;
mod reach;
mod select;
mod walk;

#[cfg(test)]
pub(crate) mod sketch;
#[cfg(test)]
mod tests;

pub use reach::{Answer, Reach, Reached, Spread, Widest, Witness};
pub use walk::{Walk, walk};

use crate::diag::SetTo;
use crate::system::{Gear, GearId, GearKind, LinkId, LinkKind, NodeId, Position, System};

/// Positions that one part may have; further ones are treated as one with the last.
///
/// Reading refuses a part with more; should one come through all the same, its contacts are taken as closed
/// together, so that a fault can be reported that is none, but none is missed.
pub const MAX_POSITIONS: u16 = 64;

/// Link visits that one proof may cost; a boat of ten thousand runs and twenty sources takes a twentieth of it.
const EFFORT: usize = 20_000_000;

/// Rounds in which relays are found to rest; further ones would only let fewer states count.
const RELAY_ROUNDS: usize = 32;

/// How many searches over the whole boat one proof may make before it says that it could not look further.
#[must_use]
pub fn affordable(system: &System) -> usize {
    (EFFORT / (system.nodes.len() + system.links.len() + 1)).max(1)
}

/// The bit that stands for a position in a set of positions.
fn bit(position: u16) -> u64 {
    1 << position.min(MAX_POSITIONS - 1)
}

/// All positions of a part, as a set.
fn every(gear: &Gear) -> u64 {
    let count = gear.positions.len().max(1);
    if count >= usize::from(MAX_POSITIONS) {
        u64::MAX
    } else {
        (1 << count) - 1
    }
}

/// A contact's closed positions, as a set.
fn closed_set(closed_in: &[u16]) -> u64 {
    closed_in
        .iter()
        .fold(0, |set, &position| set | bit(position))
}

/// Whether current can pass a link at all without going through a source or a load.
///
/// A way declared spare has no device in it and conducts nothing.
#[must_use]
pub fn conducts(system: &System, link: LinkId) -> bool {
    match &system.links[link.index()].kind {
        LinkKind::Source(_) | LinkKind::Load(_) => false,
        LinkKind::Device(device) => !system.devices[device.index()].spare,
        LinkKind::Conductor(_)
        | LinkKind::Contact { .. }
        | LinkKind::Mate { .. }
        | LinkKind::Diode { .. }
        | LinkKind::Joint => true,
    }
}

/// Both nodes of a link, `a` first.
#[must_use]
pub fn ends(system: &System, link: LinkId) -> (NodeId, NodeId) {
    let link = &system.links[link.index()];
    (system.node_of(link.a), system.node_of(link.b))
}

/// The node across a link from one of its two.
#[must_use]
pub fn across(system: &System, link: LinkId, node: NodeId) -> NodeId {
    let (a, b) = ends(system, link);
    if a == node { b } else { a }
}

/// One position of every part that has positions.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct State(Vec<u16>);

impl State {
    /// Every part in its normal position.
    #[must_use]
    pub fn normal(system: &System) -> Self {
        Self(system.gears.iter().map(|gear| gear.normal).collect())
    }

    /// The boat in use: battery switches closed as far as they join no banks, all else normal.
    #[must_use]
    pub fn in_use(system: &System) -> Self {
        let mut closes: Vec<Vec<usize>> = system
            .gears
            .iter()
            .map(|gear| vec![0; gear.positions.len()])
            .collect();
        for link in &system.links {
            if let LinkKind::Contact { gear, closed_in } = &link.kind {
                for &position in closed_in {
                    if let Some(count) = closes[gear.index()].get_mut(usize::from(position)) {
                        *count += 1;
                    }
                }
            }
        }
        let mut state = Self::normal(system);
        for (index, gear) in system.gears.iter().enumerate() {
            if gear.kind != GearKind::BatterySwitch {
                continue;
            }
            let count = |position: u16| closes[index].get(usize::from(position)).copied();
            let apart = |at: u16| {
                gear.positions
                    .get(usize::from(at))
                    .is_some_and(|position| !position.joins_banks && !position.emergency)
            };
            let positions = (0..MAX_POSITIONS).filter(|&at| apart(at));
            // Of equal ones the normal position is taken, else the first.
            let best =
                positions.max_by_key(|&at| (count(at), at == gear.normal, std::cmp::Reverse(at)));
            state.set(GearId::at(index), best.unwrap_or(gear.normal));
        }
        state
    }

    /// The position a part stands in.
    #[must_use]
    pub fn position(&self, gear: GearId) -> u16 {
        self.0[gear.index()]
    }

    /// Puts a part into a position.
    pub fn set(&mut self, gear: GearId, position: u16) {
        self.0[gear.index()] = position;
    }

    /// Whether a link is closed as far as positions decide it; links without contacts always are.
    #[must_use]
    pub fn closes(&self, kind: &LinkKind) -> bool {
        match kind {
            LinkKind::Contact { gear, closed_in } => closed_in.contains(&self.position(*gear)),
            _ => true,
        }
    }

    /// The parts off their normal position, in file order.
    #[must_use]
    pub fn off_normal(&self, system: &System) -> Vec<(GearId, u16)> {
        system
            .gears
            .iter()
            .enumerate()
            .filter(|&(index, gear)| self.0[index] != gear.normal)
            .map(|(index, _)| (GearId::at(index), self.0[index]))
            .collect()
    }
}

/// Positions by name, as findings show them.
#[must_use]
pub fn set_to(system: &System, positions: &[(GearId, u16)]) -> Vec<SetTo> {
    positions
        .iter()
        .map(|&(gear, position)| {
            let gear = &system.gears[gear.index()];
            SetTo {
                switch: gear.name.clone(),
                position: gear
                    .positions
                    .get(usize::from(position))
                    .map_or_else(String::new, |position| position.name.clone()),
            }
        })
        .collect()
}

/// Which states a question covers: the positions each part may stand in, and combinations that cannot occur.
#[derive(Clone, Debug)]
pub struct Constraints {
    allowed: Vec<u64>,
    never: Vec<Vec<(GearId, u16)>>,
}

impl Constraints {
    /// All states that the interlocks of the file permit.
    #[must_use]
    pub fn none(system: &System) -> Self {
        Self {
            allowed: system.gears.iter().map(every).collect(),
            never: system
                .interlocks
                .iter()
                .map(|interlock| interlock.never.clone())
                .filter(|never| !never.is_empty())
                .collect(),
        }
    }

    /// Leaves out every position that the test picks.
    #[must_use]
    pub fn forbid(mut self, system: &System, test: impl Fn(&Gear, &Position) -> bool) -> Self {
        for (allowed, gear) in self.allowed.iter_mut().zip(&system.gears) {
            for (position, index) in gear.positions.iter().zip(0..MAX_POSITIONS) {
                if test(gear, position) {
                    *allowed &= !bit(index);
                }
            }
        }
        self
    }

    /// Fixes one part in one position.
    #[must_use]
    pub fn fix(mut self, gear: GearId, position: u16) -> Self {
        self.allowed[gear.index()] &= bit(position);
        self
    }

    /// Fixes every part that a path passes where its state has it.
    #[must_use]
    pub fn fix_along(mut self, system: &System, witness: &Witness) -> Self {
        for link in &witness.path {
            if let LinkKind::Contact { gear, .. } = system.links[link.index()].kind {
                self = self.fix(gear, witness.state.position(gear));
            }
        }
        self
    }

    /// Leaves out the off positions of some parts.
    #[must_use]
    pub fn forbid_off(mut self, system: &System, gears: &[GearId]) -> Self {
        for &gear in gears {
            if let Some(off) = system.gears[gear.index()].off {
                self.allowed[gear.index()] &= !bit(off);
            }
        }
        self
    }

    /// Fixes every battery switch in its off position; one that has none stays free.
    #[must_use]
    pub fn battery_switches_off(mut self, system: &System) -> Self {
        for (index, gear) in system.gears.iter().enumerate() {
            if let (GearKind::BatterySwitch, Some(off)) = (gear.kind, gear.off) {
                self = self.fix(GearId::at(index), off);
            }
        }
        self
    }

    /// Whether a state is among those covered.
    #[must_use]
    pub fn permits(&self, state: &State) -> bool {
        let allowed = self
            .allowed
            .iter()
            .zip(&state.0)
            .all(|(&allowed, &position)| allowed & bit(position) != 0);
        let broken = self.never.iter().any(|never| {
            never
                .iter()
                .all(|&(gear, position)| state.position(gear) == position)
        });
        allowed && !broken
    }

    /// Excludes states in which all of these positions occur together.
    pub fn never_together(&mut self, positions: Vec<(GearId, u16)>) {
        self.never.push(positions);
    }

    /// Keeps at rest every relay whose coil cannot be live in any of the states, whatever else is closed.
    ///
    /// `from` are the nodes that are live. A relay that could hold itself in counts as possible.
    #[must_use]
    pub fn relays_settled(mut self, system: &System, from: &[NodeId]) -> Self {
        for _ in 0..RELAY_ROUNDS {
            let reach = Reach::new(system, &self, |_| Some(f64::INFINITY));
            let spread = reach.spread(from);
            let mut changed = false;
            for (index, gear) in system.gears.iter().enumerate() {
                let Some(coil) = gear.coil else { continue };
                let (positive, _) = ends(system, system.loads[coil.index()].link);
                let rest = bit(gear.normal);
                if gear.kind == GearKind::Relay
                    && self.allowed[index] & !rest != 0
                    && spread.reached(positive) == Reached::Never
                {
                    self.allowed[index] &= rest;
                    changed = true;
                }
            }
            if !changed {
                break;
            }
        }
        self
    }

    /// The position a part takes where nothing else is asked of it: normal where that is in the set.
    fn preferred(system: &System, gear: usize, set: u64) -> u16 {
        let normal = system.gears[gear].normal;
        if set & bit(normal) != 0 || set == 0 {
            return normal;
        }
        // At most 64 bits, so the count fits.
        u16::try_from(set.trailing_zeros()).unwrap_or(normal)
    }
}
