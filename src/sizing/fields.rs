//! What the file leaves to be chosen: sizes and ratings that are `auto`, settled or left out, with what is on sale.

use crate::source::Span;
use crate::standards::{self, FuseForm, breaker_ratings, fuse_ratings, sold_sizes};
use crate::system::{
    Blanks, CableId, ConductorId, DeviceId, DeviceKind, Given, Known, Origin, SizeField, Standing,
    System,
};
use crate::units::{Amps, Gauge};
use std::collections::BTreeMap;

/// One size to choose, for all conductors that share a field or a cable.
#[derive(Clone, Debug)]
pub(super) struct SizeSlot {
    pub(super) conductors: Vec<ConductorId>,
    /// The fields that ask for it; none for sizes left out.
    pub(super) spans: Vec<Span>,
    pub(super) standing: Standing,
    /// What the file keeps from an earlier choice.
    pub(super) settled: Option<Gauge>,
}

/// One rating to choose.
#[derive(Clone, Debug)]
pub(super) struct RatingSlot {
    pub(super) device: DeviceId,
    pub(super) span: Option<Span>,
    pub(super) standing: Standing,
    pub(super) settled: Option<Amps>,
}

/// Everything to be chosen in a boat.
#[derive(Clone, Debug, Default)]
pub(super) struct Slots {
    pub(super) sizes: Vec<SizeSlot>,
    pub(super) ratings: Vec<RatingSlot>,
}

impl Slots {
    /// Looks for them in a boat.
    pub(super) fn of(system: &System) -> Self {
        Self {
            sizes: sizes(system),
            ratings: ratings(system),
        }
    }

    pub(super) fn is_empty(&self) -> bool {
        self.sizes.is_empty() && self.ratings.is_empty()
    }

    /// Some of them keep an earlier choice.
    pub(super) fn any_settled(&self) -> bool {
        self.sizes.iter().any(|slot| slot.settled.is_some())
            || self.ratings.iter().any(|slot| slot.settled.is_some())
    }
}

/// Whether a value is to be chosen, and whether it then holds.
fn standing<T>(system: &System, value: Option<&Given<T>>, asked: Option<Span>) -> Option<Standing> {
    let settled = value.is_some_and(|given| given.origin == Origin::Chosen);
    if settled || (asked.is_some() && value.is_none()) {
        return Some(Standing::Chosen);
    }
    if value.is_some() {
        return None;
    }
    Some(match system.boat.policy.blanks {
        Blanks::Choose => Standing::Chosen,
        Blanks::Unknown => Standing::Proposed,
    })
}

fn sizes(system: &System) -> Vec<SizeSlot> {
    // Conductors of one field stand together, and so do cores of one cable that are both to be chosen.
    let mut of_field: BTreeMap<(SizeField, Option<ConductorId>), usize> = BTreeMap::new();
    let mut of_cable: BTreeMap<CableId, usize> = BTreeMap::new();
    let mut slots: Vec<SizeSlot> = Vec::new();
    for (index, conductor) in system.conductors.iter().enumerate() {
        let id = ConductorId::at(index);
        let Some(standing) = standing(system, conductor.gauge.as_ref(), conductor.size_asked)
        else {
            continue;
        };
        // What carries nothing is asked for by no rule; it is chosen where the file says so.
        if standing == Standing::Proposed && (conductor.sense || conductor.spare) {
            continue;
        }
        let own = (conductor.size_field == SizeField::Own).then_some(id);
        let cable = conductor.cable;
        let known = of_field
            .get(&(conductor.size_field, own))
            .or_else(|| cable.and_then(|cable| of_cable.get(&cable)))
            .copied()
            .filter(|&slot: &usize| slots[slot].standing == standing);
        let slot = known.unwrap_or_else(|| {
            slots.push(SizeSlot {
                conductors: Vec::new(),
                spans: Vec::new(),
                standing,
                settled: None,
            });
            slots.len() - 1
        });
        of_field.insert((conductor.size_field, own), slot);
        if let Some(cable) = cable {
            of_cable.entry(cable).or_insert(slot);
        }
        let entry = &mut slots[slot];
        entry.conductors.push(id);
        if let Some(span) = conductor.size_asked
            && !entry.spans.contains(&span)
        {
            entry.spans.push(span);
        }
        if let Some(given) = conductor.gauge {
            entry.settled = Some(given.value);
        }
    }
    slots
}

fn ratings(system: &System) -> Vec<RatingSlot> {
    let devices = system.devices.iter().enumerate();
    devices
        .filter(|(_, device)| !device.spare)
        .filter_map(|(index, device)| {
            Some(RatingSlot {
                device: DeviceId::at(index),
                span: device.rating_asked,
                standing: standing(system, device.rating.as_ref(), device.rating_asked)?,
                settled: device.rating.map(|given| given.value),
            })
        })
        .collect()
}

/// The sizes that conductors could have by what is sold, what their ends take and what the tables list.
#[derive(Clone, Debug)]
pub(super) struct Offer {
    /// Thinnest first; may be empty.
    pub(super) sizes: Vec<Gauge>,
    /// The thinnest that their contacts take, where that is what ends the list below.
    pub(super) from: Option<Take>,
    /// The thickest that their contacts take, where that is what ends the list above.
    pub(super) upto: Option<Take>,
}

/// What a contact takes.
#[derive(Clone, Debug)]
pub(super) struct Take {
    pub(super) size: Gauge,
    pub(super) terminal: String,
    pub(super) span: Option<Span>,
}

/// What is on offer for the conductors of a slot.
pub(super) fn offer(system: &System, slot: &SizeSlot, cores: &BTreeMap<CableId, Gauge>) -> Offer {
    let mut from: Option<Take> = None;
    let mut upto: Option<Take> = None;
    for &id in &slot.conductors {
        let conductor = &system.conductors[id.index()];
        for end in [conductor.from, conductor.to] {
            let connector = system.component_of(end).connector.as_ref();
            let Some((least, most)) = connector.and_then(|it| it.accepts) else {
                continue;
            };
            let take = |given: Given<Gauge>| Take {
                size: given.value,
                terminal: system.terminal_name(end),
                span: given.span,
            };
            if from
                .as_ref()
                .is_none_or(|before| least.value.by_area(&before.size).is_gt())
            {
                from = Some(take(least));
            }
            if upto
                .as_ref()
                .is_none_or(|before| most.value.by_area(&before.size).is_lt())
            {
                upto = Some(take(most));
            }
        }
    }
    let listed: Vec<Gauge> = sold_sizes(system.boat.practice)
        .iter()
        .copied()
        .filter(|&size| {
            slot.conductors.iter().all(|id| {
                let insulation = system.conductors[id.index()].insulation.value;
                standards::ampacity(size, insulation).is_some()
            })
        })
        .collect();
    let fits: Vec<Gauge> = listed
        .iter()
        .copied()
        .filter(|size| {
            let thick = from
                .as_ref()
                .is_none_or(|take| size.by_area(&take.size).is_ge());
            let thin = upto
                .as_ref()
                .is_none_or(|take| size.by_area(&take.size).is_le());
            thick && thin
        })
        .collect();
    // A thin size without a ring for its studs is passed over; a thick one whose ring is hard to find is taken where a
    // rule asks for it, and told as a note.
    let has_rings = |&id: &ConductorId, size| crate::rules::places::has_rings(system, id, size);
    let thinnest = fits.iter().position(|&size| {
        let mut conductors = slot.conductors.iter();
        conductors.all(|id| has_rings(id, size))
    });
    let sizes = fits[thinnest.unwrap_or(0)..].to_vec();
    // Cores of a cable of which one is given are as thick as that one.
    let core = slot.conductors.iter().find_map(|id| {
        let cable = system.conductors[id.index()].cable?;
        cores.get(&cable).copied()
    });
    Offer {
        from: from.filter(|take| {
            listed
                .first()
                .is_some_and(|thinnest| take.size.by_area(thinnest).is_gt())
        }),
        upto: upto.filter(|take| {
            listed
                .last()
                .is_some_and(|thickest| take.size.by_area(thickest).is_lt())
        }),
        sizes: match core {
            Some(core) if sizes.contains(&core) => vec![core],
            _ => sizes,
        },
    }
}

/// The given size of a core of each multi-core cable.
pub(super) fn cores(system: &System) -> BTreeMap<CableId, Gauge> {
    let mut cores = BTreeMap::new();
    for conductor in &system.conductors {
        let written = conductor
            .gauge
            .filter(|given| given.origin == Origin::Written);
        if let (Some(cable), Some(given)) = (conductor.cable, written) {
            cores.entry(cable).or_insert(given.value);
        }
    }
    cores
}

/// The ratings that a device is sold with, smallest first, up to what its holder takes.
pub(super) fn series(system: &System, device: DeviceId) -> Vec<Amps> {
    let device = &system.devices[device.index()];
    let form = crate::rules::depth::form(device);
    let (all, _) = match (form, device.kind) {
        (Some(form), _) => fuse_ratings(form),
        (None, DeviceKind::Breaker | DeviceKind::SelfResetting) => breaker_ratings(),
        // Of no given form: blades where they reach, strips above them.
        (None, DeviceKind::Fuse) => {
            let (blades, _) = fuse_ratings(FuseForm::BladeRegular);
            let (strips, _) = fuse_ratings(FuseForm::BoltDownLarge);
            let end = blades.last().copied().unwrap_or_default();
            let mut all = blades.to_vec();
            all.extend(strips.iter().filter(|&&rating| rating > end));
            return within_holder(&all, device.holder_rating);
        }
    };
    within_holder(all, device.holder_rating)
}

fn within_holder(all: &[Amps], holder: Known<Amps>) -> Vec<Amps> {
    all.iter()
        .copied()
        .filter(|&rating| holder.is_none_or(|holder| rating <= holder.value))
        .collect()
}
