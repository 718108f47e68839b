//! Fewer different fuses: a chosen rating becomes one that is in use in the same form, where every rule stands as before.
//!
//! Ratings only rise, by no more than a share, and no size grows for it.

use super::choose::Choosing;
use super::prove::told;
use super::ratings::Rated;
use crate::analysis::Facts;
use crate::diag::Severity;
use crate::rules;
use crate::rules::depth::form;
use crate::rules::telling::rating as marked;
use crate::standards::{FuseForm, constants};
use crate::system::{DeviceKind, Limit, Standing};
use crate::units::Amps;
use std::collections::BTreeSet;

/// What is bought as one: devices of a kind and form.
type Family = (DeviceKind, Option<FuseForm>);

/// What the rules say, by weight, rule and element.
type Told = BTreeSet<(Severity, (&'static str, String))>;

impl Choosing {
    /// Raises chosen ratings to such as are in use, where that saves one to buy.
    pub(super) fn fewer_ratings(&mut self) {
        if !self.left.is_empty() {
            return;
        }
        let mut known = self.all_told();
        let mut refused: BTreeSet<(usize, u64)> = BTreeSet::new();
        while let Some((slots, upto)) = self.next_raise(&refused) {
            if let Some(told) = self.raised(&slots, upto, &known) {
                known = told;
            } else {
                refused.insert((slots[0], upto.0.to_bits()));
            }
        }
    }

    /// The smallest raise that saves a rating and was not refused: the open devices of that rating, and the new one.
    fn next_raise(&self, refused: &BTreeSet<(usize, u64)>) -> Option<(Vec<usize>, Amps)> {
        let (share, _) = constants::rating_raise();
        let mut best: Option<(f64, Vec<usize>, Amps)> = None;
        for slot in 0..self.slots.ratings.len() {
            let Some((family, rating)) = self.bought(self.slots.ratings[slot].device.index())
            else {
                continue;
            };
            let alike: Vec<usize> = (0..self.boat.devices.len())
                .filter(|&device| self.bought(device) == Some((family, rating)))
                .collect();
            let of_slot = |device: &usize| {
                let mut slots = self.slots.ratings.iter();
                slots.position(|it| it.device.index() == *device)
            };
            let slots: Vec<usize> = alike.iter().filter_map(of_slot).collect();
            // A rating that the file gives to another stays to be bought.
            if slots.len() < alike.len() || slots[0] != slot {
                continue;
            }
            let in_use = (0..self.boat.devices.len())
                .filter_map(|device| self.bought(device))
                .filter(|&(other, upto)| other == family && upto > rating)
                .map(|(_, upto)| upto)
                .min_by(Amps::total_cmp);
            let Some(upto) = in_use else { continue };
            let is_near = |slot: &usize| {
                let smallest = self.needs[*slot].choose();
                smallest.is_ok_and(|smallest| upto.0 <= smallest.rating.0 * share)
            };
            if !slots.iter().all(is_near) {
                continue;
            }
            let raise = upto / rating;
            let smaller = best.as_ref().is_none_or(|(known, ..)| raise < *known);
            if smaller && !refused.contains(&(slot, upto.0.to_bits())) {
                best = Some((raise, slots, upto));
            }
        }
        best.map(|(_, slots, upto)| (slots, upto))
    }

    /// What a device is bought as; none where nothing is, or its form is not known.
    fn bought(&self, device: usize) -> Option<(Family, Amps)> {
        let mut slots = self.slots.ratings.iter();
        let slot = slots.find(|slot| slot.device.index() == device);
        if slot.is_some_and(|slot| slot.standing == Standing::Proposed) {
            return None;
        }
        let device = &self.boat.devices[device];
        let rating = device.rating.filter(|_| !device.spare)?.value;
        Some(((device.kind, form(device)), rating))
    }

    /// Raises some ratings, and gives what the rules say then; takes it back where any of them says something new.
    fn raised(&mut self, slots: &[usize], upto: Amps, known: &Told) -> Option<Told> {
        let before: Vec<Rated> = slots
            .iter()
            .map(|&slot| self.rated[slot].clone().ok())
            .collect::<Option<_>>()?;
        let mut most = slots.iter().flat_map(|&slot| &self.needs[slot].most);
        if most.any(|bar| bar.at < upto.0) {
            return None;
        }
        for (&slot, smaller) in slots.iter().zip(&before) {
            self.rated[slot] = Ok(Rated {
                rating: upto,
                governs: Limit {
                    rule: "",
                    words: format!("{} is in use, and one kind less is bought", marked(upto)),
                    asks: marked(upto),
                },
                next: Some(smaller.governs.clone()),
            });
        }
        self.apply();
        let told = self.all_told();
        if told.is_subset(known) {
            return Some(told);
        }
        for (&slot, smaller) in slots.iter().zip(before) {
            self.rated[slot] = Ok(smaller);
        }
        self.apply();
        None
    }

    /// Everything that the rules say, notes too, each with its weight.
    fn all_told(&self) -> Told {
        let findings = rules::run(&Facts::new(&self.boat));
        let told = findings.iter().map(|it| (it.severity, told(it)));
        told.collect()
    }
}
