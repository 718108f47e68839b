//! Chooses sizes and ratings for the whole boat at once.
//!
//! Ratings come first: the smallest that serves, because it asks least of the copper. Then every conductor takes the
//! thinnest size on sale that its ends take, that carries its current where it lies and that its devices protect.
//! Then drops: each load that loses too much adds the row of its worst case, all rows are solved together for the
//! least copper, and the currents and drops are looked at again, until no row is broken. Without loops no current
//! depends on a size, so every row is true of every choice: what is found keeps them all, and nothing cheaper does.
//! On loops currents are shared by resistance, so rows there hold for the sizes they were read with; sizes on them
//! only grow from then on, which ends. Last, all rules are asked, and what they still find thickens what helps most.

use super::fields::{Offer, SizeSlot, Slots, cores, offer};
use super::ratings::{Need, Rated, needs};
use super::rows::{DropRow, ReturnRow};
use crate::analysis::currents::Currents;
use crate::analysis::protection::Protection;
use crate::analysis::voltage_drop::Drops;
use crate::analysis::{Facts, loops};
use crate::rules;
use crate::rules::telling::wires;
use crate::system::{ConductorId, Conflict, DeviceId, Given, Origin, System};
use crate::units::Gauge;
use std::collections::BTreeSet;

/// Currents nearer than this are one; in amperes.
pub(super) const SAME_AMPS: f64 = 1e-6;

/// Length that stands for an end alone, so that of two sizes of no length the thinner costs less; in metres.
pub(super) const NO_LENGTH: f64 = 1e-6;

/// A size that a rule asks of a slot by itself.
#[derive(Clone, Debug)]
pub(super) struct Bound {
    pub(super) least: usize,
    pub(super) rule: &'static str,
    pub(super) words: String,
    /// True of every choice, and not only of the sizes that it was read with.
    pub(super) certain: bool,
}

/// A limit that no option of a slot keeps.
#[derive(Clone, Debug)]
pub(super) struct Beyond {
    pub(super) slot: usize,
    pub(super) conductor: ConductorId,
    pub(super) rule: &'static str,
    pub(super) words: String,
    /// The size that would keep it, where one is sold at all.
    pub(super) size: Option<Gauge>,
    /// What the thickest option allows instead, in amperes.
    pub(super) allows: f64,
    pub(super) device: Option<DeviceId>,
    /// True of every choice, and not only of the sizes that it was read with.
    pub(super) certain: bool,
}

/// Which sizes may only grow from here on, so that the choosing ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Growing {
    Nothing,
    Loops,
    Everything,
}

/// A boat whose open values are being chosen.
#[derive(Clone)]
pub(super) struct Choosing {
    pub(super) boat: System,
    pub(super) slots: Slots,
    pub(super) offers: Vec<Offer>,
    pub(super) slot_of: Vec<Option<usize>>,
    /// Option of every slot; slots without an option have none.
    pub(super) at: Vec<usize>,
    /// Least option of every slot by what it asks for itself.
    pub(super) floors: Vec<usize>,
    pub(super) bounds: Vec<Vec<Bound>>,
    pub(super) rows: Vec<DropRow>,
    pub(super) returns: Vec<ReturnRow>,
    /// Rows that nothing keeps.
    pub(super) hopeless: Vec<DropRow>,
    /// All rows with the currents that flow where everything is as thick as can be, once they are asked for.
    pub(super) thickest_rows: Option<Vec<DropRow>>,
    pub(super) beyond: Vec<Beyond>,
    pub(super) needs: Vec<Need>,
    pub(super) rated: Vec<Result<Rated, Box<super::ratings::Clash>>>,
    pub(super) exact: bool,
    pub(super) on_loop: Vec<bool>,
    pub(super) growing: Growing,
    /// Least copper, where it was worked out before more was added.
    pub(super) least: Option<f64>,
    /// Copper added so that fewer spools do.
    pub(super) for_spools: f64,
    /// Findings that not even the thickest of everything helps.
    pub(super) accepted: BTreeSet<(&'static str, String)>,
    /// Findings that depend on sizes and are left.
    pub(super) left: Vec<(&'static str, String)>,
    /// Every choice was looked at, and none is free of what is left.
    pub(super) tried_all: bool,
    /// What no choice frees, but for sums and for what a conductor asks by itself.
    pub(super) unfreed: Vec<Conflict>,
    /// Some returns stay thinner than their feeds, because nothing else fits.
    pub(super) returns_given_up: bool,
    /// Currents, drops and protection with what was chosen.
    pub(super) end: Option<(Currents, Drops, Protection)>,
}

impl Choosing {
    /// Chooses everything that is open in a boat; settled values are opened again where asked.
    pub(super) fn run(system: &System, slots: Slots) -> Self {
        let mut choosing = Self::new(system, slots);
        choosing.apply();
        let facts = Facts::new(&choosing.boat);
        let devices: Vec<DeviceId> = choosing.slots.ratings.iter().map(|it| it.device).collect();
        let found = needs(&facts, &devices);
        let minimum = rules::ampacity::least_sizes(&facts);
        let Facts {
            ampacities,
            nets,
            currents,
            drops,
            ..
        } = facts;
        choosing.needs = found;
        choosing.rate();
        choosing.minimum_sizes(&minimum);
        choosing.carry(&ampacities, &currents);
        choosing.apply();
        choosing.protect(&nets, &ampacities);
        choosing.settle_drops(&ampacities, &currents, &drops);
        choosing.ask_all_rules();
        choosing.prove();
        choosing.recall_kept();
        choosing.note_unfreed();
        choosing
    }

    pub(super) fn new(system: &System, slots: Slots) -> Self {
        let mut boat = system.clone();
        for slot in &slots.sizes {
            for id in &slot.conductors {
                boat.conductors[id.index()].gauge = None;
            }
        }
        for slot in &slots.ratings {
            boat.devices[slot.device.index()].rating = None;
        }
        let known = cores(&boat);
        let offers: Vec<Offer> = slots
            .sizes
            .iter()
            .map(|slot| offer(&boat, slot, &known))
            .collect();
        let mut slot_of = vec![None; boat.conductors.len()];
        for (index, slot) in slots.sizes.iter().enumerate() {
            for id in &slot.conductors {
                slot_of[id.index()] = (!offers[index].sizes.is_empty()).then_some(index);
            }
        }
        let count = slots.sizes.len();
        let on_loop = loops::in_any_state(&boat);
        Self {
            at: vec![0; count],
            floors: vec![0; count],
            least: None,
            for_spools: 0.0,
            bounds: vec![Vec::new(); count],
            rows: Vec::new(),
            returns: Vec::new(),
            hopeless: Vec::new(),
            thickest_rows: None,
            beyond: Vec::new(),
            needs: Vec::new(),
            rated: Vec::new(),
            exact: true,
            growing: Growing::Nothing,
            accepted: BTreeSet::new(),
            left: Vec::new(),
            tried_all: false,
            unfreed: Vec::new(),
            returns_given_up: false,
            end: None,
            boat,
            slots,
            offers,
            slot_of,
            on_loop,
        }
    }

    /// Size of a slot; none where nothing is on offer.
    pub(super) fn size(&self, slot: usize) -> Option<Gauge> {
        self.offers[slot].sizes.get(self.at[slot]).copied()
    }

    pub(super) fn slot(&self, slot: usize) -> &SizeSlot {
        &self.slots.sizes[slot]
    }

    /// The thickest option of every slot.
    pub(super) fn thickest(&self) -> Vec<usize> {
        let thickest = |offer: &Offer| offer.sizes.len().saturating_sub(1);
        self.offers.iter().map(thickest).collect()
    }

    /// The boat with the thickest of everything.
    pub(super) fn with_thickest(&self) -> Self {
        let mut thick = self.clone();
        thick.at = self.thickest();
        thick.apply();
        thick
    }

    /// Writes what is chosen so far into the boat.
    pub(super) fn apply(&mut self) {
        for index in 0..self.slots.sizes.len() {
            let size = self.size(index);
            for id in &self.slots.sizes[index].conductors {
                let conductor = &mut self.boat.conductors[id.index()];
                conductor.gauge = size.map(|value| Given {
                    value,
                    span: conductor.size_asked,
                    origin: Origin::Chosen,
                });
            }
        }
        for (slot, rated) in self.slots.ratings.iter().zip(&self.rated) {
            let value = match rated {
                Ok(rated) => Some(rated.rating),
                Err(clash) => clash.fallback,
            };
            let device = &mut self.boat.devices[slot.device.index()];
            device.rating = value.map(|value| Given {
                value,
                span: device.rating_asked,
                origin: Origin::Chosen,
            });
        }
    }

    pub(super) fn rate(&mut self) {
        self.rated = self.needs.iter().map(Need::choose).collect();
    }

    /// Raises ratings that carry too little with the sizes chosen, as can be on loops; tells whether any rose.
    pub(super) fn rate_again(&mut self, found: Vec<Need>) -> bool {
        let mut rose = false;
        for (at, found) in found.into_iter().enumerate() {
            let before = self.rated[at].as_ref().ok().map(|rated| rated.rating);
            let known = &mut self.needs[at];
            for bar in found.least {
                let higher = known
                    .least
                    .iter()
                    .all(|other| other.advice != bar.advice || other.at < bar.at);
                if higher {
                    known.least.push(bar);
                }
            }
            let again = known.choose();
            let after = again.as_ref().ok().map(|rated| rated.rating);
            if after != before {
                rose = true;
                self.rated[at] = again;
            }
        }
        rose
    }

    /// Notes what a rule asks of a slot; the highest of each rule is kept.
    pub(super) fn bind(&mut self, slot: usize, bound: Bound) {
        self.floors[slot] = self.floors[slot].max(bound.least);
        self.at[slot] = self.at[slot].max(bound.least);
        match self.bounds[slot]
            .iter_mut()
            .find(|known| known.rule == bound.rule)
        {
            Some(known) if known.least >= bound.least => {}
            Some(known) => *known = bound,
            None => self.bounds[slot].push(bound),
        }
    }

    /// The wire numbers of a slot, in a phrase.
    pub(super) fn wires(&self, slot: usize) -> String {
        wires(&self.boat, &self.slot(slot).conductors)
    }
}
