//! What every conductor asks by itself: its least size, its current where it lies, and the devices before it.
//!
//! Nothing here weighs one conductor against another; that is done over the sums of `rows`.

use super::choose::{Beyond, Bound, Choosing, SAME_AMPS};
use super::ratings::Bar;
use crate::analysis::ampacity::Ampacities;
use crate::analysis::currents::Currents;
use crate::analysis::isolation::Nets;
use crate::analysis::protection::{By, Exemption, Kind, Protection, allowed};
use crate::rules::telling::rating as rated;
use crate::standards::constants;
use crate::system::{ConductorId, NodeId};
use crate::units::{Amps, Gauge, Rounding, Volts, amps};
use std::collections::BTreeMap;

impl Choosing {
    pub(super) fn minimum_sizes(&mut self, minimum: &[Option<crate::standards::MinimumSize>]) {
        for slot in 0..self.slots.sizes.len() {
            let asked = self.slot(slot).conductors.iter().filter_map(|id| {
                let least = minimum[id.index()].as_ref()?;
                Some((*id, least.size))
            });
            let Some((conductor, size)) = asked.max_by(|(_, a), (_, b)| a.by_area(b)) else {
                continue;
            };
            let found = self.offers[slot]
                .sizes
                .iter()
                .position(|option| option.by_area(&size).is_ge());
            let words = format!("the least size there is {size}");
            match found {
                Some(least) => self.bind(
                    slot,
                    Bound {
                        least,
                        rule: "AM204",
                        words,
                        certain: true,
                    },
                ),
                None => self.note_beyond(Beyond {
                    slot,
                    conductor,
                    rule: "AM204",
                    words,
                    size: Some(size),
                    allows: 0.0,
                    device: None,
                    certain: true,
                }),
            }
        }
    }

    /// Notes a limit that no option keeps; the first of each rule is kept, and what is certain before what is not.
    fn note_beyond(&mut self, beyond: Beyond) {
        let is_same = |known: &Beyond| known.slot == beyond.slot && known.rule == beyond.rule;
        match self.beyond.iter_mut().find(|known| is_same(known)) {
            Some(known) if beyond.certain && !known.certain => *known = beyond,
            Some(_) => {}
            None => self.beyond.push(beyond),
        }
    }

    /// Notes a limit that no option keeps, and takes the thickest.
    fn give_up(&mut self, beyond: Beyond) {
        let slot = beyond.slot;
        let bound = Bound {
            least: self.offers[slot].sizes.len().saturating_sub(1),
            rule: beyond.rule,
            words: "the thickest on offer, which is not enough".to_owned(),
            certain: beyond.certain,
        };
        self.note_beyond(beyond);
        self.bind(slot, bound);
    }

    /// The first option of a slot that passes for a conductor, by what it may carry there.
    pub(super) fn first_option(
        &self,
        slot: usize,
        conductor: ConductorId,
        ampacities: &Ampacities,
        passes: impl Fn(&crate::analysis::ampacity::Ampacity) -> bool,
    ) -> Option<usize> {
        self.offers[slot].sizes.iter().position(|&size| {
            ampacities
                .allowed_as(&self.boat, conductor, size)
                .is_ok_and(|ampacity| passes(&ampacity))
        })
    }

    pub(super) fn first_sold(
        &self,
        conductor: ConductorId,
        ampacities: &Ampacities,
        passes: impl Fn(&crate::analysis::ampacity::Ampacity) -> bool,
    ) -> Option<Gauge> {
        crate::standards::sold_sizes(self.boat.boat.practice)
            .iter()
            .copied()
            .find(|&size| {
                ampacities
                    .allowed_as(&self.boat, conductor, size)
                    .is_ok_and(|ampacity| passes(&ampacity))
            })
    }

    /// Each conductor carries what flows where it lies, and each of several in parallel carries all of it.
    ///
    /// Tells whether anything grew.
    pub(super) fn carry(&mut self, ampacities: &Ampacities, currents: &Currents) -> bool {
        let mut asked: Vec<(ConductorId, f64, &'static str)> = Vec::new();
        let mut parallel: BTreeMap<(NodeId, NodeId), Vec<ConductorId>> = BTreeMap::new();
        for (index, conductor) in self.boat.conductors.iter().enumerate() {
            let id = ConductorId::at(index);
            if !conductor.pigtail {
                asked.push((id, currents.load(conductor.link).amps.0, "AM201"));
            }
            let ends = (
                self.boat.node_of(conductor.from),
                self.boat.node_of(conductor.to),
            );
            if ends.0 != ends.1 && !conductor.sense && !conductor.spare {
                let key = (ends.0.min(ends.1), ends.0.max(ends.1));
                parallel.entry(key).or_default().push(id);
            }
        }
        for ids in parallel.into_values().filter(|ids| ids.len() > 1) {
            let total = ids
                .iter()
                .map(|id| currents.load(self.boat.conductors[id.index()].link).amps.0)
                .sum();
            asked.extend(ids.into_iter().map(|id| (id, total, "AM209")));
        }
        let mut grew = false;
        for (id, current, rule) in asked {
            let Some(slot) = self.slot_of[id.index()] else {
                continue;
            };
            if current <= SAME_AMPS {
                continue;
            }
            // The rule on parallel conductors compares without room for rounding.
            let room = if rule == "AM201" { SAME_AMPS } else { 0.0 };
            let carries = |ampacity: &crate::analysis::ampacity::Ampacity| {
                current <= ampacity.derated.0 + room
            };
            let words = format!(
                "{} carries {}{}",
                self.boat.conductors[id.index()].number,
                amps(Amps(current), Rounding::Up),
                if rule == "AM209" {
                    " alone, once a parallel one is loose"
                } else {
                    ""
                }
            );
            let certain = !self.on_loop[self.boat.conductors[id.index()].link.index()];
            if let Some(least) = self.first_option(slot, id, ampacities, carries) {
                grew |= least > self.at[slot];
                // With other sizes beside it, it might carry less.
                self.exact &= certain || least <= self.floors[slot];
                self.bind(
                    slot,
                    Bound {
                        least,
                        rule,
                        words,
                        certain,
                    },
                );
            } else {
                let size = self.first_sold(id, ampacities, carries);
                let allows = self.most_carried(slot, id, ampacities);
                // With other sizes beside it, it might carry less.
                self.exact &= certain;
                self.give_up(Beyond {
                    slot,
                    conductor: id,
                    rule,
                    words,
                    size,
                    allows,
                    device: None,
                    certain,
                });
            }
        }
        grew
    }

    /// What the thickest option of a slot may carry.
    pub(super) fn most_carried(
        &self,
        slot: usize,
        id: ConductorId,
        ampacities: &Ampacities,
    ) -> f64 {
        self.offers[slot]
            .sizes
            .last()
            .and_then(|&size| ampacities.allowed_as(&self.boat, id, size).ok())
            .map_or(0.0, |ampacity| ampacity.derated.0)
    }

    /// Raises sizes until the devices protect them, nearest to the source first, and lowers ratings where the size is given.
    pub(super) fn protect(&mut self, nets: &Nets, ampacities: &Ampacities) {
        // Every round raises a size or lowers a rating, of which there are finitely many.
        let rounds = 2 + self.offers.iter().map(|it| it.sizes.len()).sum::<usize>();
        for _ in 0..rounds {
            let protection = Protection::new(&self.boat, nets, ampacities);
            if !self.protect_by(&protection, ampacities) {
                return;
            }
            self.apply();
        }
    }

    /// One round of it; tells whether anything changed.
    pub(super) fn protect_by(&mut self, protection: &Protection, ampacities: &Ampacities) -> bool {
        let mut told = vec![false; self.boat.conductors.len()];
        let mut changed = false;
        for fault in protection.faults() {
            for id in std::iter::once(&fault.conductor).chain(&fault.also) {
                told[id.index()] = true;
            }
            let Kind::TooLarge { by, rating } = fault.kind else {
                continue;
            };
            for &id in std::iter::once(&fault.conductor).chain(&fault.also) {
                changed |= self.protect_one(
                    id,
                    (by, rating),
                    false,
                    fault.pole.volts,
                    ampacities,
                    "OC103",
                );
            }
        }
        if changed {
            return true;
        }
        let (short, _) = constants::pigtail_exposed();
        for (index, told) in told.into_iter().enumerate() {
            let id = ConductorId::at(index);
            let cover = protection.cover(id);
            let (Some(limits), Some(rating)) = (&cover.allowed, cover.rating) else {
                continue;
            };
            let length = self.boat.conductors[index].length;
            let is_short = length.is_some_and(|length| length.value <= short);
            let within = rating <= limits.lawful_derated()
                || rating <= limits.judged.current
                    && self.boat.boat.policy.overcurrent == crate::system::OvercurrentLimit::Strict;
            if told || cover.exemption != Exemption::None || is_short || within {
                continue;
            }
            if let Some(device) = cover.device {
                let by = (By::Device(device), rating);
                changed |= self.protect_one(id, by, true, limits.volts, ampacities, "OC103");
            }
        }
        changed
    }

    /// Makes one conductor thick enough for a device, or the device small enough for it.
    pub(super) fn protect_one(
        &mut self,
        id: ConductorId,
        (by, rating): (By, Amps),
        derated: bool,
        volts: Volts,
        ampacities: &Ampacities,
        rule: &'static str,
    ) -> bool {
        let policy = self.boat.boat.policy.overcurrent;
        let most = |ampacity: &crate::analysis::ampacity::Ampacity| {
            let allowed = allowed(ampacity, policy, volts);
            if derated {
                allowed.lawful_derated()
            } else {
                allowed.judged.current
            }
        };
        let name = match by {
            By::Device(device) => self.boat.devices[device.index()].name.clone(),
            By::BuiltIn(source) => {
                format!("the device in {}", self.boat.sources[source.index()].name)
            }
        };
        let number = self.boat.conductors[id.index()].number.clone();
        let words = format!("{name}, {}, protects {number}", rated(rating));
        let mut allows = self.boat.conductors[id.index()]
            .gauge
            .and_then(|given| ampacities.allowed_as(&self.boat, id, given.value).ok())
            .map(|ampacity| most(&ampacity).0);
        if let Some(slot) = self.slot_of[id.index()] {
            let passes = |ampacity: &crate::analysis::ampacity::Ampacity| rating <= most(ampacity);
            if let Some(least) = self.first_option(slot, id, ampacities, passes) {
                if least <= self.at[slot] {
                    return false;
                }
                // Which device protects a conductor can depend on another conductor's size only beside a bare tap.
                self.bind(
                    slot,
                    Bound {
                        least,
                        rule,
                        words,
                        certain: true,
                    },
                );
                return true;
            }
            allows = self.offers[slot]
                .sizes
                .last()
                .and_then(|&size| ampacities.allowed_as(&self.boat, id, size).ok())
                .map(|ampacity| most(&ampacity).0);
        }
        // No size is thick enough, so the rating has to give way.
        let By::Device(device) = by else { return false };
        let Some(at) = self.slots.ratings.iter().position(|it| it.device == device) else {
            if let (Some(slot), Some(allows)) = (self.slot_of[id.index()], allows) {
                let passes =
                    |ampacity: &crate::analysis::ampacity::Ampacity| rating <= most(ampacity);
                let size = self.first_sold(id, ampacities, passes);
                self.give_up(Beyond {
                    slot,
                    conductor: id,
                    rule,
                    words,
                    size,
                    allows,
                    device: Some(device),
                    certain: true,
                });
            }
            return false;
        };
        let Some(allows) = allows else { return false };
        if self.needs[at].most.iter().any(|bar| bar.at <= allows) {
            return false;
        }
        let size = self.boat.conductors[id.index()].gauge;
        self.needs[at].most.push(Bar {
            at: allows,
            rule,
            words: format!(
                "{number}{} allows {}",
                size.map_or(String::new(), |given| format!(", {},", given.value)),
                amps(Amps(allows), Rounding::Down)
            ),
            span: size.and_then(|given| given.span),
            advice: false,
        });
        let before = self.rated[at].as_ref().ok().map(|rated| rated.rating);
        self.rated[at] = self.needs[at].choose();
        self.rated[at].as_ref().ok().map(|rated| rated.rating) != before
    }
}
