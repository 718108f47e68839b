//! Sums that stay within a limit: what the way of a load, a charging source or a block feed loses, and returns beside
//! their feeds.
//!
//! A row is made from the currents of one case; it says nothing of how the sizes on it are chosen.

use super::choose::{Choosing, SAME_AMPS};
use super::optimum::Pair;
use crate::analysis::currents::Currents;
use crate::analysis::solve::{Reading, conductor_resistance};
use crate::analysis::voltage_drop::{Drops, load_limit, panel_limit};
use crate::standards::rule_drop_resistance;
use crate::system::{ConductorId, LinkKind, LoadId, SourceId};
use crate::units::{Volts, decimal};
use std::collections::BTreeMap;

/// A share above its limit by less than this is rounding, in per cent; as in the rules on drop.
const SAME_PERCENT: f64 = 1e-9;

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
    /// True of every choice, because no current beside it depends on a size.
    pub(super) certain: bool,
}

impl Choosing {
    /// Volts that a row loses with the options chosen.
    pub(super) fn lost(&self, row: &DropRow, options: &[usize]) -> f64 {
        row.fixed
            + row
                .terms
                .iter()
                .map(|&(slot, weight)| weight * self.per_metre(slot, options[slot]))
                .sum::<f64>()
    }

    pub(super) fn per_metre(&self, slot: usize, option: usize) -> f64 {
        rule_drop_resistance(self.offers[slot].sizes[option]).0.0
    }

    /// Whether a row keeps its limit, as the rules on drop compare it.
    pub(super) fn keeps(&self, row: &DropRow, options: &[usize]) -> bool {
        self.lost(row, options) / row.nominal.0 * 100.0 <= row.percent + SAME_PERCENT
    }

    /// Splits conductors with their currents into slots and what is given.
    pub(super) fn sum(
        &self,
        ways: impl Iterator<Item = (ConductorId, f64)>,
    ) -> (Vec<(usize, f64)>, f64) {
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
            let mut beside = drop.own_positive.iter().chain(&drop.own_negative);
            let certain = !beside.any(|id| {
                let link = system.conductors[id.index()].link;
                self.on_loop[link.index()]
            });
            rows.extend(backs.into_iter().map(|back| ReturnRow {
                certain,
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
