//! Chooses the sizes and ratings that the file leaves open, for the whole boat at once, and tells why each is so.
//!
//! The method and what it guarantees stand at the head of [`choose`]. Values that the file gives are never touched:
//! a value left out stays unknown, and what is chosen for it is a proposal on paper. A settled value holds; what
//! would be chosen in its place is told beside it. Every number comes from `analysis`, every limit from `rules`.

mod asked;
mod choose;
mod conflicts;
mod few_ratings;
mod fields;
mod least;
mod mend;
mod optimum;
mod own;
mod prove;
mod ratings;
mod reasons;
mod rows;
mod settled;
mod spools;
mod unfreed;

pub use settled::{Settled, settled};

use crate::system::{Chosen, Given, Moved, Origin, Spools, Standing, System};
use choose::Choosing;
use fields::Slots;

/// Chooses what is open in a boat, writes it in, and keeps how it was chosen.
pub fn size(system: &mut System) {
    let slots = Slots::of(system);
    if slots.is_empty() {
        return;
    }
    let choosing = choose(system, slots.clone());
    let moved = moved(system, &choosing);
    // What would move stays as it was settled, and the open values beside it are chosen to suit.
    let choosing = if moved.is_empty() {
        choosing
    } else {
        let mut open = slots;
        open.sizes.retain(|slot| slot.settled.is_none());
        open.ratings.retain(|slot| slot.settled.is_none());
        choose(system, open)
    };
    let mut chosen = choosing.told();
    chosen.moved = moved;
    write(system, &choosing);
    system.chosen = chosen;
}

fn choose(system: &System, slots: Slots) -> Choosing {
    let mut choosing = Choosing::run(system, slots);
    if system.boat.policy.spools == Spools::Few {
        choosing.fewer_spools();
        choosing.fewer_ratings();
    }
    choosing
}

/// Writes chosen values into the boat; proposals stay out of it.
fn write(system: &mut System, choosing: &Choosing) {
    for (index, slot) in choosing.slots.sizes.iter().enumerate() {
        let (Some(value), Standing::Chosen) = (choosing.size(index), slot.standing) else {
            continue;
        };
        for id in &slot.conductors {
            let conductor = &mut system.conductors[id.index()];
            conductor.gauge = Some(Given {
                value,
                span: conductor.size_asked,
                origin: Origin::Chosen,
            });
        }
    }
    for slot in &choosing.slots.ratings {
        if slot.standing == Standing::Chosen {
            let device = &mut system.devices[slot.device.index()];
            device.rating = choosing.boat.devices[slot.device.index()].rating;
        }
    }
}

/// Settled values that would be chosen otherwise.
fn moved(system: &System, choosing: &Choosing) -> Vec<Moved> {
    if !choosing.slots.any_settled() {
        return Vec::new();
    }
    let chosen: Chosen = choosing.told();
    let mut moved = Vec::new();
    for (index, slot) in choosing.slots.sizes.iter().enumerate() {
        let (Some(settled), Some(size)) = (slot.settled, choosing.size(index)) else {
            continue;
        };
        if settled.by_area(&size).is_eq() {
            continue;
        }
        let choice = chosen
            .sizes
            .iter()
            .find(|choice| choice.conductors == slot.conductors);
        let numbers: Vec<String> = slot
            .conductors
            .iter()
            .map(|id| system.conductors[id.index()].number.clone())
            .collect();
        let (first, also) = numbers
            .split_first()
            .map_or_else(Default::default, |it| (it.0.clone(), it.1.to_vec()));
        moved.push(Moved {
            element: first,
            also,
            span: slot.spans.first().copied(),
            settled: settled.to_string(),
            would_be: size.to_string(),
            why: choice.map_or_else(String::new, |choice| choice.governs.words.clone()),
            up: size.by_area(&settled).is_gt(),
        });
    }
    for slot in &choosing.slots.ratings {
        let would_be = choosing.boat.devices[slot.device.index()].rating;
        let (Some(settled), Some(would_be)) = (slot.settled, would_be) else {
            continue;
        };
        if settled.total_cmp(&would_be.value).is_eq() {
            continue;
        }
        let choice = chosen
            .ratings
            .iter()
            .find(|choice| choice.device == slot.device);
        moved.push(Moved {
            element: system.devices[slot.device.index()].name.clone(),
            also: Vec::new(),
            span: slot.span,
            settled: crate::rules::telling::rating(settled),
            would_be: crate::rules::telling::rating(would_be.value),
            why: choice.map_or_else(String::new, |choice| choice.governs.words.clone()),
            up: would_be.value > settled,
        });
    }
    moved
}
