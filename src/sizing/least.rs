//! The least copper over all rows that are known, and the lower bound where more than rows decides.

use super::choose::{Bound, Choosing, Growing};
use super::optimum::{Pair, Pick, Problem, Row};
use super::rows::{DropRow, ReturnRow};
use crate::analysis::ampacity::Ampacities;
use crate::analysis::currents::Currents;
use crate::analysis::flows;
use crate::analysis::voltage_drop::Drops;
use std::collections::{BTreeMap, BTreeSet};

/// Share by which a settled size weighs less than it has copper: less than any two sums of copper on sale differ by.
const SETTLED_LESS: f64 = 1e-7;

/// Rounds of rows before sizes may only grow.
const FREE_ROUNDS: usize = 40;

/// Rounds of rows in which sizes only grow.
const GROWING_ROUNDS: usize = 60;

impl Choosing {
    /// Adds rows until none is broken.
    pub(super) fn settle_drops(
        &mut self,
        ampacities: &Ampacities,
        currents: &Currents,
        drops: &Drops,
    ) {
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
            if !grew || round > GROWING_ROUNDS + FREE_ROUNDS {
                return;
            }
            if round > FREE_ROUNDS {
                self.growing = Growing::Everything;
                self.exact = false;
            }
        }
    }

    /// Takes the rows that the options break; tells whether there were any.
    pub(super) fn take_rows(
        &mut self,
        currents: &Currents,
        drops: &Drops,
        certain_only: bool,
    ) -> bool {
        let broken: Vec<DropRow> = self
            .drop_rows(drops)
            .into_iter()
            .filter(|row| row.certain || !certain_only)
            .filter(|row| !self.keeps(row, &self.at))
            .collect();
        let thin: Vec<ReturnRow> = self
            .return_rows(currents, drops)
            .into_iter()
            .filter(|row| row.certain || !certain_only)
            .filter(|row| self.area(row.pair.back, &self.at) < self.asked_back(row, &self.at))
            .collect();
        let thickest = self.thickest();
        let mut grew = false;
        for row in broken {
            if self
                .hopeless
                .iter()
                .any(|known| known.rule == row.rule && known.element == row.element)
            {
                continue;
            }
            if !self.keeps(&row, &thickest) {
                grew |= self.thicken_all(row);
            } else if !self.rows.contains(&row) {
                if !row.certain {
                    // The currents change with the sizes, so what is thick enough now must stay.
                    self.exact = false;
                    self.growing = self.growing.max(Growing::Loops);
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

    /// Takes a row that its thickest options do not keep; tells whether anything grew.
    ///
    /// Where its currents change with the sizes, the thickest of everything may keep it, and all that its currents flow
    /// through grows towards that.
    fn thicken_all(&mut self, row: DropRow) -> bool {
        if row.certain {
            self.hopeless.push(row);
            return false;
        }
        self.exact = false;
        self.growing = self.growing.max(Growing::Loops);
        if let Some(beyond) = self.lost_with_thickest(&row) {
            self.hopeless.push(beyond);
            return false;
        }
        let on_row: Vec<usize> = row.terms.iter().map(|&(slot, _)| slot).collect();
        let on_loops: Vec<usize> = self.open_on_loops().into_iter().collect();
        for slots in [on_row, on_loops] {
            let mut grew = false;
            for slot in slots {
                if self.at[slot] + 1 < self.offers[slot].sizes.len() {
                    let bound = Bound {
                        least: self.at[slot] + 1,
                        rule: row.rule,
                        words: self.drop_words(&row),
                        certain: false,
                    };
                    self.bind(slot, bound);
                    grew = true;
                }
            }
            if grew {
                return true;
            }
        }
        self.hopeless.push(row);
        false
    }

    /// The row of the same limit with the thickest of everything, where not even that keeps it.
    fn lost_with_thickest(&mut self, row: &DropRow) -> Option<DropRow> {
        if self.thickest_rows.is_none() {
            let thick = self.with_thickest();
            let (_, drops) = flows(&thick.boat);
            self.thickest_rows = Some(thick.drop_rows(&drops));
        }
        let thickest = self.thickest();
        let mut rows = self.thickest_rows.iter().flatten();
        rows.find(|it| it.rule == row.rule && it.element == row.element)
            .filter(|it| !self.keeps(it, &thickest))
            .cloned()
    }

    /// Copper of an option of a slot.
    pub(super) fn cost(&self, slot: usize, option: usize) -> f64 {
        let metres: f64 = self
            .slot(slot)
            .conductors
            .iter()
            .map(|id| {
                let length = self.boat.conductors[id.index()].length;
                length.map_or(0.0, |length| length.value.0) + super::choose::NO_LENGTH
            })
            .sum();
        self.offers[slot].sizes[option].area().0 * metres
    }

    /// Copper of an option; what is settled weighs a little less, so that nothing moves for an equal.
    fn weighed(&self, slot: usize, option: usize) -> f64 {
        let is_settled = self.slot(slot).settled == Some(self.offers[slot].sizes[option]);
        let share = if is_settled { 1.0 - SETTLED_LESS } else { 1.0 };
        self.cost(slot, option) * share
    }

    /// Copper of all slots.
    pub(super) fn copper(&self, options: &[usize]) -> f64 {
        (0..self.offers.len())
            .filter(|&slot| !self.offers[slot].sizes.is_empty())
            .map(|slot| self.cost(slot, options[slot]))
            .sum()
    }

    /// The least copper over some rows, from some least options on.
    fn optimum(
        &self,
        least: &[usize],
        most: Option<&[usize]>,
        only_certain: bool,
    ) -> Option<(Vec<usize>, bool)> {
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
        let returns: Vec<&ReturnRow> = self
            .returns
            .iter()
            .filter(|row| row.certain || !only_certain)
            .collect();
        for row in &returns {
            number.insert(row.pair.back, 0);
            for &feed in &row.pair.feeds {
                number.insert(feed, 0);
            }
        }
        let mut problem = Problem {
            rough: self.growing > Growing::Nothing && !only_certain,
            ..Problem::default()
        };
        let slots: Vec<usize> = number.keys().copied().collect();
        for (at, &slot) in slots.iter().enumerate() {
            number.insert(slot, at);
            let end = most.map_or(self.offers[slot].sizes.len(), |most| most[slot] + 1);
            let options = least[slot]..end;
            problem.picks.push(Pick {
                costs: options.clone().map(|it| self.weighed(slot, it)).collect(),
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
        for row in returns {
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

    /// The least copper over all rows within some options.
    pub(super) fn within(&self, least: &[usize], most: &[usize]) -> Option<(Vec<usize>, bool)> {
        if least.iter().zip(most).any(|(least, most)| least > most) {
            return None;
        }
        self.optimum(least, Some(most), false)
    }

    /// Chooses the least copper over all rows.
    pub(super) fn solve(&mut self) {
        let least: Vec<usize> = if self.growing > Growing::Nothing {
            let on_rows: BTreeSet<usize> = self
                .rows
                .iter()
                .filter(|row| !row.certain || self.growing == Growing::Everything)
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
        if let Some((options, exact)) = self.optimum(&least, None, false) {
            self.at = options;
            self.exact &= exact;
            return;
        }
        // Returns that their contacts keep thinner than their feeds are left as they are.
        self.exact = false;
        self.returns.clear();
        self.returns_given_up = true;
        if let Some((options, _)) = self.optimum(&least, None, false) {
            self.at = options;
        }
    }

    /// No choice has less copper than this.
    pub(super) fn least_copper(&self) -> f64 {
        if self.exact {
            return self.copper(&self.at);
        }
        let certain = self.certain_floors();
        match self.optimum(&certain, None, true) {
            Some((options, true)) => self.copper(&options).min(self.copper(&self.at)),
            _ => self.copper(&certain),
        }
    }
}
