//! Where the negatives of loads and sources go: which source feeds a load, whether its current finds the way back,
//! which negative conductors it has to itself, and what joins the negatives to hull and bonding.
//!
//! Nothing here says what is allowed; a hull may well be bonded, and a relay may hang on its engine.

mod grounding;
mod landings;
mod ways;

#[cfg(test)]
mod tests;

pub use grounding::{Bond, Grounding, Grounds};
pub use landings::{Landed, Landings};
pub use ways::Ways;

use super::isolation::Nets;
use super::states::{Constraints, Reach, Reached, Spread, affordable, ends};
use crate::system::{BankId, LoadId, SourceId, System};
use std::cell::Cell;
use std::collections::BTreeMap;

/// How a load hangs between its sources.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LoadReturn {
    /// Sources that reach its positive in some combination of positions, in file order.
    pub fed_by: Vec<SourceId>,
    /// Whether in some combination its negative reaches a negative of those sources' system, or of their bank.
    pub back: Reached,
}

/// Whether anything closes the circuit of a source.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SourceReturn {
    /// It feeds nothing, so nothing has to return.
    Idle,
    /// Something that it feeds, or another source, shares its negative.
    Closed,
    /// In no combination does anything return to its negative.
    Open,
}

/// Facts about everything that returns.
#[derive(Debug)]
pub struct Returns {
    loads: Vec<LoadReturn>,
    sources: Vec<SourceReturn>,
    /// Sources that were not looked from, because the boat has more than the effort allowed can cover; with any,
    /// a load that seems to be fed by nothing or to return nowhere may not be.
    pub unseen: usize,
    /// What lands on every terminal.
    pub landings: Landings,
    /// The way from every point to the nearest bar, post or ground.
    pub ways: Ways,
    /// Hull, bonding, and what joins them to the negatives.
    pub grounds: Grounds,
}

impl Returns {
    /// Finds all returns.
    #[must_use]
    pub fn new(system: &System, nets: &Nets) -> Self {
        let ways = Ways::new(system);
        let grounds = Grounds::new(system, &ways);
        let landings = Landings::new(system);
        let constraints = Constraints::none(system);
        let reach = Reach::new(system, &constraints, |_| Some(f64::INFINITY));
        let spreads = Spreads::new(system, nets, &reach);
        let loads: Vec<LoadReturn> = (0..system.loads.len())
            .map(|index| spreads.load(LoadId::at(index), &grounds))
            .collect();
        let sources = (0..system.sources.len())
            .map(|index| spreads.source(SourceId::at(index), &loads))
            .collect();
        Self {
            loads,
            sources,
            unseen: spreads.unseen,
            landings,
            ways,
            grounds,
        }
    }

    /// How a load hangs between its sources.
    #[must_use]
    pub fn load(&self, load: LoadId) -> &LoadReturn {
        &self.loads[load.index()]
    }

    /// Whether anything closes the circuit of a source.
    #[must_use]
    pub fn source(&self, source: SourceId) -> SourceReturn {
        self.sources[source.index()]
    }
}

/// What the posts of every source reach over all combinations; posts on one net share a search.
struct Spreads<'r> {
    system: &'r System,
    reach: &'r Reach<'r>,
    searches: Vec<Spread<'r>>,
    /// By source: the searches from its positive and from its negative; only for those looked from.
    of: Vec<(usize, usize)>,
    unseen: usize,
    /// Further searches that may be made.
    left: Cell<usize>,
}

impl<'r> Spreads<'r> {
    fn new(system: &'r System, nets: &Nets, reach: &'r Reach<'r>) -> Self {
        let mut by_net: BTreeMap<u32, usize> = BTreeMap::new();
        let mut searches = Vec::new();
        let mut of = Vec::with_capacity(system.sources.len());
        let most = affordable(system);
        for source in &system.sources {
            if searches.len() + 2 > most {
                break;
            }
            let (a, b) = ends(system, source.link);
            let mut search = |node| {
                *by_net.entry(nets.net(node)).or_insert_with(|| {
                    searches.push(reach.spread(&[node]));
                    searches.len() - 1
                })
            };
            of.push((search(a), search(b)));
        }
        Self {
            system,
            reach,
            unseen: system.sources.len() - of.len(),
            left: Cell::new(most.saturating_sub(searches.len())),
            searches,
            of,
        }
    }

    fn load(&self, load: LoadId, grounds: &Grounds) -> LoadReturn {
        let (positive, negative) = ends(self.system, self.system.loads[load.index()].link);
        let fed_by: Vec<SourceId> = (0..self.of.len())
            .filter(|&index| {
                let search = &self.searches[self.of[index].0];
                search.reached(positive) != Reached::Never
            })
            .map(SourceId::at)
            .collect();
        let island = |source: SourceId| {
            let (_, post) = ends(self.system, self.system.sources[source.index()].link);
            grounds.island(post)
        };
        // Where a link of a string is missing its batteries are two islands, and the load is not at fault.
        let mut banks: Vec<BankId> = fed_by
            .iter()
            .filter_map(|source| self.system.sources[source.index()].bank)
            .collect();
        banks.dedup();
        let mates = banks
            .iter()
            .flat_map(|bank| self.system.banks[bank.index()].strings.iter().flatten());
        let mut islands: Vec<u32> = fed_by
            .iter()
            .chain(mates)
            .map(|&source| island(source))
            .collect();
        islands.sort_unstable();
        islands.dedup();
        let mut back = Reached::Never;
        for index in 0..self.of.len() {
            if islands.binary_search(&island(SourceId::at(index))).is_err() {
                continue;
            }
            match self.searches[self.of[index].1].reached(negative) {
                Reached::Somewhen => {
                    back = Reached::Somewhen;
                    break;
                }
                Reached::Undecided => back = Reached::Undecided,
                Reached::Never => {}
            }
        }
        if back == Reached::Never && !fed_by.is_empty() {
            // A diode in the negative conducts towards the source only, so the search is put the other way round.
            let Some(left) = self.left.get().checked_sub(1) else {
                return LoadReturn {
                    fed_by,
                    back: Reached::Undecided,
                };
            };
            self.left.set(left);
            let search = self.reach.spread(&[negative]);
            let towards = (0..self.of.len())
                .map(SourceId::at)
                .filter(|&source| islands.binary_search(&island(source)).is_ok());
            for source in towards {
                let (_, post) = ends(self.system, self.system.sources[source.index()].link);
                if search.reached(post) != Reached::Never {
                    back = search.reached(post);
                    break;
                }
            }
        }
        LoadReturn { fed_by, back }
    }

    fn source(&self, source: SourceId, loads: &[LoadReturn]) -> SourceReturn {
        let Some(&(feeding, search)) = self.of.get(source.index()) else {
            return SourceReturn::Closed;
        };
        let (feeding, search) = (&self.searches[feeding], &self.searches[search]);
        let mut idle = true;
        for (load, found) in self.system.loads.iter().zip(loads) {
            if found.fed_by.binary_search(&source).is_err() {
                continue;
            }
            idle = false;
            let (_, negative) = ends(self.system, load.link);
            if search.reached(negative) != Reached::Never {
                return SourceReturn::Closed;
            }
        }
        for (index, other) in self.system.sources.iter().enumerate() {
            if index == source.index() {
                continue;
            }
            let (positive, negative) = ends(self.system, other.link);
            let met = |search: &Spread<'_>, node| search.reached(node) != Reached::Never;
            if met(search, negative) || met(search, positive) {
                return SourceReturn::Closed;
            }
            // Batteries in series without a load are no circuit yet; batteries in parallel are one.
            idle &= !met(feeding, positive);
        }
        if idle {
            SourceReturn::Idle
        } else {
            SourceReturn::Open
        }
    }
}
