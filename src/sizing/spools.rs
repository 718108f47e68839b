//! Fewer different wires for a little more copper.
//!
//! A wire is a size in a colour. Sizes only grow, within a share of the least copper, so nothing that passed fails.

use super::choose::{Bound, Choosing};
use crate::standards::constants;
use crate::units::Gauge;
use std::collections::{BTreeMap, BTreeSet};

/// Slots with the option that each is brought to.
type Moves = Vec<(usize, usize)>;

impl Choosing {
    /// Brings slots to a thicker size that is in use, where that saves wires to buy and the copper allows it.
    pub(super) fn fewer_spools(&mut self) {
        let least = self.least.unwrap_or_else(|| self.least_copper());
        self.least = Some(least);
        let kept = self.clone();
        let before = self.copper(&self.at);
        let (share, _) = constants::spool_extra_copper();
        let mut budget = before * share;
        while let Some((options, more)) = self.best_move(budget) {
            budget -= more;
            for (slot, option) in options {
                let size = self.offers[slot].sizes[option];
                self.bind(
                    slot,
                    Bound {
                        least: option,
                        rule: "",
                        words: format!("{size} is in use, and one spool less is bought"),
                        certain: false,
                    },
                );
            }
        }
        self.apply();
        self.for_spools = self.copper(&self.at) - before;
        if self.for_spools <= 0.0 {
            return;
        }
        let exact = self.exact;
        self.ask_all_rules();
        self.exact = exact;
        self.for_spools = self.copper(&self.at) - before;
        // Where rules ask for still more in turn, it is not a little more; and what is thicker must fit.
        if self.for_spools > before * share || self.left.len() > kept.left.len() {
            *self = kept;
        }
    }

    /// The move that saves most wires, and of those the one with least copper.
    fn best_move(&self, budget: f64) -> Option<(Moves, f64)> {
        let mut used: Vec<Gauge> = Vec::new();
        for conductor in &self.boat.conductors {
            if let Some(given) = conductor.gauge
                && !used.iter().any(|size| size.by_area(&given.value).is_eq())
            {
                used.push(given.value);
            }
        }
        for slot in 0..self.offers.len() {
            if let Some(size) = self.size(slot)
                && !used.iter().any(|known| known.by_area(&size).is_eq())
            {
                used.push(size);
            }
        }
        used.sort_by(Gauge::by_area);
        let now = self.wires_used(&self.at);
        let mut best: Option<(usize, f64, Moves)> = None;
        for (place, thin) in used.iter().enumerate() {
            let Some(thick) = used.get(place + 1) else {
                break;
            };
            let moves: Moves = (0..self.offers.len())
                .filter(|&slot| {
                    self.size(slot)
                        .is_some_and(|size| size.by_area(thin).is_eq())
                })
                .filter_map(|slot| {
                    let option = self.offers[slot]
                        .sizes
                        .iter()
                        .position(|size| size.by_area(thick).is_eq())?;
                    Some((slot, option))
                })
                .collect();
            for moves in self.by_colour(moves) {
                let mut options = self.at.clone();
                for &(slot, option) in &moves {
                    options[slot] = option;
                }
                let more = self.copper(&options) - self.copper(&self.at);
                let saved = now.saturating_sub(self.wires_used(&options));
                let better = best.as_ref().is_none_or(|(known, cost, _)| {
                    saved > *known || (saved == *known && more < *cost)
                });
                if saved > 0 && more <= budget && better && self.returns_hold(&options) {
                    best = Some((saved, more, moves));
                }
            }
        }
        best.map(|(_, more, moves)| (moves, more))
    }

    /// All slots of a size together, and those of each colour by themselves.
    fn by_colour(&self, moves: Moves) -> Vec<Moves> {
        let mut by_colour: BTreeMap<String, Moves> = BTreeMap::new();
        for &(slot, option) in &moves {
            for colour in self.colours(slot) {
                by_colour.entry(colour).or_default().push((slot, option));
            }
        }
        let mut all: Vec<Moves> = by_colour.into_values().collect();
        all.push(moves);
        all
    }

    fn colours(&self, slot: usize) -> BTreeSet<String> {
        let conductors = self.slots.sizes[slot].conductors.iter();
        conductors
            .map(|id| colour(&self.boat, id.index()))
            .collect()
    }

    /// Number of different wires in the boat.
    fn wires_used(&self, options: &[usize]) -> usize {
        let mut wires: BTreeSet<(u64, String)> = BTreeSet::new();
        for index in 0..self.boat.conductors.len() {
            let size = match self.slot_of[index] {
                Some(slot) => self.offers[slot].sizes.get(options[slot]).copied(),
                None => self.boat.conductors[index].gauge.map(|given| given.value),
            };
            if let Some(size) = size {
                wires.insert((size.area().0.to_bits(), colour(&self.boat, index)));
            }
        }
        wires.len()
    }

    fn returns_hold(&self, options: &[usize]) -> bool {
        let Some((currents, drops, _)) = &self.end else {
            return true;
        };
        self.return_rows(currents, drops)
            .iter()
            .all(|row| self.area(row.pair.back, options) >= self.asked_back(row, options))
    }
}

fn colour(boat: &crate::system::System, conductor: usize) -> String {
    let colour = boat.conductors[conductor].colour.as_ref();
    colour.map_or_else(String::new, |given| {
        format!(
            "{}/{}",
            given.value.base,
            given.value.stripe.as_deref().unwrap_or_default()
        )
    })
}
