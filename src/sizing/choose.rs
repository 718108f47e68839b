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
use super::optimum::{Pair, Pick, Problem, Row};
use super::ratings::{Need, Rated, needs};
use crate::analysis::ampacity::Ampacities;
use crate::analysis::currents::Currents;
use crate::analysis::fault_current::FarEnd;
use crate::analysis::isolation::Nets;
use crate::analysis::protection::{By, Exemption, Kind, Protection, allowed};
use crate::analysis::solve::{Reading, conductor_resistance};
use crate::analysis::voltage_drop::{Drops, load_limit, panel_limit};
use crate::analysis::{Facts, flows, loops};
use crate::diag::{Diagnostic, Severity};
use crate::rules;
use crate::rules::telling::{rating as rated, wires};
use crate::standards::{constants, rule_drop_resistance};
use crate::system::{
    ConductorId, DeviceId, Given, LinkKind, LoadId, NodeId, Origin, SourceId, System,
};
use crate::units::{Amps, Gauge, Rounding, Volts, amps, decimal};
use std::collections::{BTreeMap, BTreeSet};

/// Currents nearer than this are one; in amperes.
const SAME_AMPS: f64 = 1e-6;

/// A share above its limit by less than this is rounding, in per cent; as in the rules on drop.
const SAME_PERCENT: f64 = 1e-9;

/// Length that stands for an end alone, so that of two sizes of no length the thinner costs less; in metres.
const NO_LENGTH: f64 = 1e-6;

/// Rounds of rows before sizes may only grow.
const FREE_ROUNDS: usize = 40;

/// Rounds in which all rules are asked.
const MAX_ROUNDS: usize = 60;

/// A size that a rule asks of a slot by itself.
#[derive(Clone, Debug)]
pub(super) struct Bound {
    pub(super) least: usize,
    pub(super) rule: &'static str,
    pub(super) words: String,
    /// True of every choice, and not only of the sizes that it was read with.
    pub(super) certain: bool,
}

/// What a way loses against its limit, as a sum over slots.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct DropRow {
    pub(super) rule: &'static str,
    /// What loses it.
    pub(super) element: String,
    /// Slots with their weight in ampere-metres.
    pub(super) terms: Vec<(usize, f64)>,
    /// Volts lost in conductors whose size is given.
    pub(super) fixed: f64,
    /// Volts that may be lost.
    pub(super) limit: f64,
    pub(super) nominal: Volts,
    pub(super) percent: f64,
    /// The load that it is about.
    pub(super) load: Option<LoadId>,
    pub(super) certain: bool,
}

/// A return that is not thinner than its feeds.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct ReturnRow {
    pub(super) pair: Pair,
    pub(super) load: LoadId,
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
    floors: Vec<usize>,
    pub(super) bounds: Vec<Vec<Bound>>,
    rows: Vec<DropRow>,
    returns: Vec<ReturnRow>,
    pub(super) hopeless: Vec<DropRow>,
    pub(super) beyond: Vec<Beyond>,
    pub(super) needs: Vec<Need>,
    pub(super) rated: Vec<Result<Rated, Box<super::ratings::Clash>>>,
    pub(super) exact: bool,
    on_loop: Vec<bool>,
    /// Sizes on loops may only grow from here on.
    growing: bool,
    /// All sizes may only grow from here on.
    growing_all: bool,
    /// Least copper, where it was worked out before more was added.
    pub(super) least: Option<f64>,
    /// Copper added so that fewer spools do.
    pub(super) for_spools: f64,
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
        choosing
    }

    fn new(system: &System, slots: Slots) -> Self {
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
            beyond: Vec::new(),
            needs: Vec::new(),
            rated: Vec::new(),
            exact: true,
            growing: false,
            growing_all: false,
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

    fn slot(&self, slot: usize) -> &SizeSlot {
        &self.slots.sizes[slot]
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

    fn rate(&mut self) {
        self.rated = self.needs.iter().map(Need::choose).collect();
    }

    /// Raises ratings that carry too little with the sizes chosen, as can be on loops; tells whether any rose.
    fn rate_again(&mut self, found: Vec<Need>) -> bool {
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

    fn minimum_sizes(&mut self, minimum: &[Option<crate::standards::MinimumSize>]) {
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
                None => self.note_beyond(slot, conductor, "AM204", words, Some(size), 0.0, None),
            }
        }
    }

    #[allow(clippy::too_many_arguments)] // one record, written where it is found
    fn note_beyond(
        &mut self,
        slot: usize,
        conductor: ConductorId,
        rule: &'static str,
        words: String,
        size: Option<Gauge>,
        allows: f64,
        device: Option<DeviceId>,
    ) {
        let known = |beyond: &Beyond| beyond.slot == slot && beyond.rule == rule;
        if self.beyond.iter().any(known) {
            return;
        }
        self.beyond.push(Beyond {
            slot,
            conductor,
            rule,
            words,
            size,
            allows,
            device,
        });
    }

    /// The first option of a slot that passes for a conductor, by what it may carry there.
    fn first_option(
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

    fn first_sold(
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
    fn carry(&mut self, ampacities: &Ampacities, currents: &Currents) -> bool {
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
            if let Some(least) = self.first_option(slot, id, ampacities, carries) {
                grew |= least > self.at[slot];
                let certain = !self.on_loop[self.boat.conductors[id.index()].link.index()];
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
                self.note_beyond(slot, id, rule, words, size, allows, None);
                self.thickest(slot, rule);
            }
        }
        grew
    }

    /// What the thickest option of a slot may carry.
    fn most_carried(&self, slot: usize, id: ConductorId, ampacities: &Ampacities) -> f64 {
        self.offers[slot]
            .sizes
            .last()
            .and_then(|&size| ampacities.allowed_as(&self.boat, id, size).ok())
            .map_or(0.0, |ampacity| ampacity.derated.0)
    }

    /// Takes the thickest option where none is enough.
    fn thickest(&mut self, slot: usize, rule: &'static str) {
        let least = self.offers[slot].sizes.len().saturating_sub(1);
        self.bind(
            slot,
            Bound {
                least,
                rule,
                words: "the thickest on offer, which is not enough".to_owned(),
                certain: true,
            },
        );
    }

    /// Raises sizes until the devices protect them, nearest to the source first, and lowers ratings where the size is given.
    fn protect(&mut self, nets: &Nets, ampacities: &Ampacities) {
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
    fn protect_by(&mut self, protection: &Protection, ampacities: &Ampacities) -> bool {
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
    fn protect_one(
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
                self.note_beyond(slot, id, rule, words, size, allows, Some(device));
                self.thickest(slot, rule);
            }
            return false;
        };
        let Some(allows) = allows else { return false };
        if self.needs[at].most.iter().any(|bar| bar.at <= allows) {
            return false;
        }
        let size = self.boat.conductors[id.index()].gauge;
        self.needs[at].most.push(super::ratings::Bar {
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

    /// Volts that a row loses with the options chosen.
    pub(super) fn lost(&self, row: &DropRow, options: &[usize]) -> f64 {
        row.fixed
            + row
                .terms
                .iter()
                .map(|&(slot, weight)| weight * self.per_metre(slot, options[slot]))
                .sum::<f64>()
    }

    fn per_metre(&self, slot: usize, option: usize) -> f64 {
        rule_drop_resistance(self.offers[slot].sizes[option]).0.0
    }

    /// Whether a row keeps its limit, as the rules on drop compare it.
    pub(super) fn keeps(&self, row: &DropRow, options: &[usize]) -> bool {
        self.lost(row, options) / row.nominal.0 * 100.0 <= row.percent + SAME_PERCENT
    }

    /// Splits conductors with their currents into slots and what is given.
    fn sum(&self, ways: impl Iterator<Item = (ConductorId, f64)>) -> (Vec<(usize, f64)>, f64) {
        let mut terms: BTreeMap<usize, f64> = BTreeMap::new();
        let mut fixed = 0.0;
        for (id, amps) in ways {
            let conductor = &self.boat.conductors[id.index()];
            match (self.slot_of[id.index()], conductor.length) {
                (Some(slot), Some(length)) => {
                    *terms.entry(slot).or_insert(0.0) += amps * length.value.0;
                }
                (None, Some(_)) => {
                    let ohms = conductor_resistance(&self.boat, id, Reading::Rule);
                    fixed += ohms.map_or(0.0, |ohms| amps * ohms.0);
                }
                (_, None) => {}
            }
        }
        (terms.into_iter().collect(), fixed)
    }

    /// The rows of every load, charging source and block in their worst cases.
    pub(super) fn drop_rows(&self, drops: &Drops) -> Vec<DropRow> {
        let system = &self.boat;
        let conductor = |link: crate::system::LinkId| match system.links[link.index()].kind {
            LinkKind::Conductor(id) => Some(id),
            _ => None,
        };
        let mut rows = Vec::new();
        for (index, load) in system.loads.iter().enumerate() {
            let id = LoadId::at(index);
            let Some(drop) = drops.of(id).filter(|_| load.draw.is_some()) else {
                continue;
            };
            let (terms, fixed) = self.sum(
                drop.legs
                    .iter()
                    .filter_map(|leg| Some((conductor(leg.link)?, leg.amps.0))),
            );
            let percent = load_limit(system, load).percent;
            rows.push(DropRow {
                rule: "VD301",
                element: load.name.clone(),
                terms,
                fixed,
                limit: load.nominal.value.0 * percent / 100.0,
                nominal: load.nominal.value,
                percent,
                load: Some(id),
                certain: !drop.legs.iter().any(|leg| leg.on_loop),
            });
        }
        for block in &drops.blocks {
            let Some(drop) = drops.of(block.load) else {
                continue;
            };
            let before = || drop.legs.iter().filter(|leg| leg.before_bars);
            let (terms, fixed) =
                self.sum(before().filter_map(|leg| Some((conductor(leg.link)?, leg.amps.0))));
            let nominal = system.loads[block.load.index()].nominal.value;
            let percent = panel_limit(system).percent;
            rows.push(DropRow {
                rule: "VD304",
                element: format!(
                    "the feed of {}",
                    system.components[block.block.index()].name
                ),
                terms,
                fixed,
                limit: nominal.0 * percent / 100.0,
                nominal,
                percent,
                load: None,
                certain: !before().any(|leg| leg.on_loop),
            });
        }
        for (index, source) in system.sources.iter().enumerate() {
            let Some(drop) = drops.charging(SourceId::at(index)) else {
                continue;
            };
            // The drop is what all conductors lose together over the current of the source.
            let share = |amps: f64| amps * amps / drop.current.0;
            let (terms, fixed) = self.sum(
                drop.path
                    .iter()
                    .zip(&drop.amps)
                    .map(|(&id, amps)| (id, share(amps.0))),
            );
            let percent = system.boat.policy.critical_drop_percent;
            rows.push(DropRow {
                rule: "VD303",
                element: format!("{} to what it charges", source.name),
                terms,
                fixed,
                limit: source.nominal.value.0 * percent / 100.0,
                nominal: source.nominal.value,
                percent,
                load: None,
                certain: !drop.on_loop,
            });
        }
        rows
    }

    /// Returns beside the feeds that they may not be thinner than.
    pub(super) fn return_rows(&self, currents: &Currents, drops: &Drops) -> Vec<ReturnRow> {
        let system = &self.boat;
        let mut rows = Vec::new();
        for (index, load) in system.loads.iter().enumerate() {
            let id = LoadId::at(index);
            let (Some(drop), Some(current)) = (drops.of(id), load.current()) else {
                continue;
            };
            // As the rule on thin returns has it: a conductor that ever carries more is chosen for that.
            let is_own = |id: &&ConductorId| {
                let peak = currents.load(system.conductors[id.index()].link);
                peak.amps.0 <= current.0 * (1.0 + SAME_AMPS) + SAME_AMPS
            };
            let mut feeds = Vec::new();
            let mut fixed = f64::INFINITY;
            for id in drop.own_positive.iter().filter(is_own) {
                match (
                    self.slot_of[id.index()],
                    system.conductors[id.index()].gauge,
                ) {
                    (Some(slot), _) => feeds.push(slot),
                    (None, Some(given)) => fixed = fixed.min(given.value.area().0),
                    (None, None) => {}
                }
            }
            feeds.sort_unstable();
            feeds.dedup();
            if feeds.is_empty() && fixed.is_infinite() {
                continue;
            }
            let mut backs: Vec<usize> = drop
                .own_negative
                .iter()
                .filter(is_own)
                .filter_map(|id| self.slot_of[id.index()])
                .filter(|slot| !feeds.contains(slot))
                .collect();
            backs.sort_unstable();
            backs.dedup();
            rows.extend(backs.into_iter().map(|back| ReturnRow {
                pair: Pair {
                    back,
                    feeds: feeds.clone(),
                    fixed,
                },
                load: id,
            }));
        }
        rows
    }

    pub(super) fn area(&self, slot: usize, options: &[usize]) -> f64 {
        self.offers[slot].sizes[options[slot]].area().0
    }

    /// The area that a return has to have.
    pub(super) fn asked_back(&self, row: &ReturnRow, options: &[usize]) -> f64 {
        let feeds = row.pair.feeds.iter();
        feeds
            .map(|&feed| self.area(feed, options))
            .fold(row.pair.fixed, f64::min)
    }

    /// Adds rows until none is broken.
    fn settle_drops(&mut self, ampacities: &Ampacities, currents: &Currents, drops: &Drops) {
        // What was read with the thinnest sizes is true of all, except on loops.
        let mut grew = self.take_rows(currents, drops, true);
        let mut round = 0;
        loop {
            if grew {
                self.solve();
            }
            self.apply();
            let (currents, drops) = flows(&self.boat);
            grew = self.carry(ampacities, &currents);
            grew |= self.take_rows(&currents, &drops, false);
            round += 1;
            if !grew || round > MAX_ROUNDS + FREE_ROUNDS {
                return;
            }
            if round > FREE_ROUNDS {
                self.growing_all = true;
                self.exact = false;
            }
        }
    }

    /// Takes the rows that the options break; tells whether there were any.
    fn take_rows(&mut self, currents: &Currents, drops: &Drops, certain_only: bool) -> bool {
        let broken: Vec<DropRow> = self
            .drop_rows(drops)
            .into_iter()
            .filter(|row| row.certain || !certain_only)
            .filter(|row| !self.keeps(row, &self.at))
            .collect();
        let thin: Vec<ReturnRow> = self
            .return_rows(currents, drops)
            .into_iter()
            .filter(|row| self.area(row.pair.back, &self.at) < self.asked_back(row, &self.at))
            .collect();
        let mut grew = false;
        for row in broken {
            if self
                .hopeless
                .iter()
                .any(|known| known.rule == row.rule && known.element == row.element)
            {
                continue;
            }
            let thickest: Vec<usize> = self
                .offers
                .iter()
                .map(|offer| offer.sizes.len().saturating_sub(1))
                .collect();
            if !self.keeps(&row, &thickest) {
                self.hopeless.push(row);
            } else if !self.rows.contains(&row) {
                if !row.certain {
                    // The currents change with the sizes, so what is thick enough now must stay.
                    self.exact = false;
                    self.growing = true;
                }
                self.rows.push(row);
                grew = true;
            }
        }
        for row in thin {
            if !self.returns.contains(&row) {
                self.returns.push(row);
                grew = true;
            }
        }
        grew
    }

    /// Copper of an option of a slot.
    pub(super) fn cost(&self, slot: usize, option: usize) -> f64 {
        let metres: f64 = self
            .slot(slot)
            .conductors
            .iter()
            .map(|id| {
                let length = self.boat.conductors[id.index()].length;
                length.map_or(0.0, |length| length.value.0) + NO_LENGTH
            })
            .sum();
        self.offers[slot].sizes[option].area().0 * metres
    }

    /// Copper of all slots.
    pub(super) fn copper(&self, options: &[usize]) -> f64 {
        (0..self.offers.len())
            .filter(|&slot| !self.offers[slot].sizes.is_empty())
            .map(|slot| self.cost(slot, options[slot]))
            .sum()
    }

    /// The least copper over some rows, from some least options on.
    fn optimum(&self, least: &[usize], only_certain: bool) -> Option<(Vec<usize>, bool)> {
        let rows: Vec<&DropRow> = self
            .rows
            .iter()
            .filter(|row| row.certain || !only_certain)
            .collect();
        let mut number: BTreeMap<usize, usize> = BTreeMap::new();
        for row in &rows {
            for &(slot, _) in &row.terms {
                number.insert(slot, 0);
            }
        }
        for row in &self.returns {
            number.insert(row.pair.back, 0);
            for &feed in &row.pair.feeds {
                number.insert(feed, 0);
            }
        }
        let mut problem = Problem::default();
        let slots: Vec<usize> = number.keys().copied().collect();
        for (at, &slot) in slots.iter().enumerate() {
            number.insert(slot, at);
            let options = least[slot]..self.offers[slot].sizes.len();
            problem.picks.push(Pick {
                costs: options.clone().map(|it| self.cost(slot, it)).collect(),
                ohms: options.clone().map(|it| self.per_metre(slot, it)).collect(),
                areas: options
                    .map(|it| self.offers[slot].sizes[it].area().0)
                    .collect(),
            });
        }
        for row in rows {
            problem.rows.push(Row {
                terms: row
                    .terms
                    .iter()
                    .map(|&(slot, weight)| (number[&slot], weight))
                    .collect(),
                limit: row.limit - row.fixed,
            });
        }
        for row in &self.returns {
            problem.pairs.push(Pair {
                back: number[&row.pair.back],
                feeds: row.pair.feeds.iter().map(|feed| number[feed]).collect(),
                fixed: row.pair.fixed,
            });
        }
        let solved = problem.solve()?;
        let mut options = least.to_vec();
        for (&slot, option) in slots.iter().zip(solved.options) {
            options[slot] = least[slot] + option;
        }
        Some((options, solved.exact))
    }

    fn solve(&mut self) {
        let least: Vec<usize> = if self.growing || self.growing_all {
            let on_rows: BTreeSet<usize> = self
                .rows
                .iter()
                .filter(|row| !row.certain || self.growing_all)
                .flat_map(|row| row.terms.iter().map(|&(slot, _)| slot))
                .collect();
            (0..self.at.len())
                .map(|slot| {
                    if on_rows.contains(&slot) {
                        self.at[slot].max(self.floors[slot])
                    } else {
                        self.floors[slot]
                    }
                })
                .collect()
        } else {
            self.floors.clone()
        };
        if let Some((options, exact)) = self.optimum(&least, false) {
            self.at = options;
            self.exact &= exact;
            return;
        }
        // Returns that their contacts keep thinner than their feeds are left as they are.
        self.exact = false;
        self.returns.clear();
        if let Some((options, _)) = self.optimum(&least, false) {
            self.at = options;
        }
    }

    /// No choice has less copper than this.
    pub(super) fn least_copper(&self) -> f64 {
        if self.exact {
            return self.copper(&self.at);
        }
        let certain: Vec<usize> = self
            .bounds
            .iter()
            .map(|bounds| {
                let sure = bounds.iter().filter(|bound| bound.certain);
                sure.map(|bound| bound.least).max().unwrap_or(0)
            })
            .collect();
        match self.optimum(&certain, true) {
            Some((options, true)) => self.copper(&options).min(self.copper(&self.at)),
            _ => self.copper(&certain),
        }
    }

    /// Asks every rule and thickens what helps where one still finds fault.
    pub(super) fn ask_all_rules(&mut self) {
        let devices: Vec<DeviceId> = self.slots.ratings.iter().map(|it| it.device).collect();
        for round in 0..MAX_ROUNDS {
            let facts = Facts::new(&self.boat);
            let findings = rules::run(&facts);
            let raise = self.raises(&facts, &findings);
            let found = needs(&facts, &devices);
            let Facts {
                ampacities,
                nets,
                currents,
                drops,
                protection,
                ..
            } = facts;
            let rerated = self.rate_again(found);
            if raise.is_empty() && !rerated || round + 1 == MAX_ROUNDS {
                self.end = Some((currents, drops, protection));
                return;
            }
            self.exact = false;
            for (slot, bound) in raise {
                self.bind(slot, bound);
            }
            self.solve();
            self.apply();
            self.protect(&nets, &ampacities);
            self.settle_drops(&ampacities, &currents, &drops);
        }
    }

    /// What to thicken for findings that depend on sizes.
    fn raises(&self, facts: &Facts<'_>, findings: &[Diagnostic]) -> Vec<(usize, Bound)> {
        let mut raises: BTreeMap<usize, Bound> = BTreeMap::new();
        for finding in findings {
            if finding.severity < Severity::Warning {
                continue;
            }
            if finding.rule == "AM206" {
                self.shared_returns(finding, &mut raises);
                continue;
            }
            let helps: Vec<(ConductorId, f64)> = match finding.rule {
                "VD306" | "VD307" | "VD310" => self.on_the_way(facts, &finding.element),
                "DP802" => self.to_the_far_end(facts, &finding.element),
                "DP803" => self
                    .boat
                    .conductors
                    .iter()
                    .position(|conductor| conductor.number == finding.element)
                    .map(|index| vec![(ConductorId::at(index), 1.0)])
                    .unwrap_or_default(),
                _ => continue,
            };
            let mut weights: BTreeMap<usize, f64> = BTreeMap::new();
            for (id, current) in helps {
                if let Some(slot) = self.slot_of[id.index()] {
                    let length = self.boat.conductors[id.index()].length;
                    let metres = length.map_or(0.0, |length| length.value.0) + NO_LENGTH;
                    *weights.entry(slot).or_insert(0.0) += current * metres;
                }
            }
            let best = weights
                .into_iter()
                .filter(|&(slot, _)| self.at[slot] + 1 < self.offers[slot].sizes.len())
                .map(|(slot, weight)| {
                    let at = self.at[slot];
                    let less = self.per_metre(slot, at) - self.per_metre(slot, at + 1);
                    let more = self.cost(slot, at + 1) - self.cost(slot, at);
                    (slot, weight * less / more)
                })
                .max_by(|(a, gain_a), (b, gain_b)| gain_a.total_cmp(gain_b).then(b.cmp(a)));
            if let Some((slot, _)) = best {
                raises.entry(slot).or_insert(Bound {
                    least: self.at[slot] + 1,
                    rule: finding.rule,
                    words: finding.message.clone(),
                    certain: false,
                });
            }
        }
        raises.into_iter().collect()
    }

    /// Returns that several loads share, and that are thinner than what feeds them.
    fn shared_returns(&self, finding: &Diagnostic, raises: &mut BTreeMap<usize, Bound>) {
        let Some(asked) = finding.limit.as_ref().map(|figure| figure.value) else {
            return;
        };
        for (index, conductor) in self.boat.conductors.iter().enumerate() {
            let named =
                finding.element == conductor.number || finding.also.contains(&conductor.number);
            let Some(slot) = self.slot_of[index].filter(|_| named) else {
                continue;
            };
            let sizes = &self.offers[slot].sizes;
            let least = sizes.iter().position(|size| size.area().0 >= asked);
            if let Some(least) = least.filter(|&least| least > self.at[slot]) {
                raises.entry(slot).or_insert(Bound {
                    least,
                    rule: "AM206",
                    words: "no thinner than the feed of the same loads".to_owned(),
                    certain: false,
                });
            }
        }
    }

    /// Conductors on the way of a load with their currents.
    fn on_the_way(&self, facts: &Facts<'_>, name: &str) -> Vec<(ConductorId, f64)> {
        let loads = self.boat.loads.iter().enumerate();
        loads
            .filter(|(_, load)| load.name == name)
            .filter_map(|(index, _)| facts.drops.of(LoadId::at(index)))
            .flat_map(|drop| &drop.legs)
            .filter_map(|leg| match self.boat.links[leg.link.index()].kind {
                LinkKind::Conductor(id) => Some((id, leg.amps.0)),
                _ => None,
            })
            .collect()
    }

    /// Conductors on the way to the far end that fares worst behind a device.
    fn to_the_far_end(&self, facts: &Facts<'_>, name: &str) -> Vec<(ConductorId, f64)> {
        let mut worst: Option<(ConductorId, FarEnd)> = None;
        for index in 0..self.boat.conductors.len() {
            let id = ConductorId::at(index);
            if !rules::depth::is_judged(facts, id) {
                continue;
            }
            for far in facts.faults.far_ends(id) {
                let behind = far
                    .device
                    .is_some_and(|device| self.boat.devices[device.index()].name == name);
                let worse = worst
                    .as_ref()
                    .is_none_or(|(_, known)| far.current < known.current);
                if behind && worse {
                    worst = Some((id, *far));
                }
            }
        }
        let Some((id, far)) = worst else {
            return Vec::new();
        };
        let path = facts.faults.path(far.feed, far.near);
        path.into_iter()
            .filter_map(|link| match self.boat.links[link.index()].kind {
                LinkKind::Conductor(id) => Some(id),
                _ => None,
            })
            .chain([id])
            .map(|id| (id, 1.0))
            .collect()
    }

    /// The wire numbers of a slot, in a phrase.
    pub(super) fn wires(&self, slot: usize) -> String {
        wires(&self.boat, &self.slot(slot).conductors)
    }

    /// A share of the nominal voltage as printed: `2.91 % of 3 %`.
    pub(super) fn drop_words(&self, row: &DropRow) -> String {
        let percent = self.lost(row, &self.at) / row.nominal.0 * 100.0;
        let lost = if row.rule == "VD301" {
            format!("drop to {}", row.element)
        } else {
            format!("drop in {}", row.element)
        };
        format!(
            "{lost}: {} % of {} %",
            decimal(percent, 2),
            decimal(row.percent, if row.percent.fract() == 0.0 { 0 } else { 2 })
        )
    }
}
