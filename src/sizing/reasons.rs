//! Why each choice is what it is: the limit that governs it, and the next one behind.

use super::choose::Choosing;
use super::rows::{DropRow, ReturnRow};
use crate::rules::telling::rating as rated;
use crate::system::{Chosen, ConductorId, Copper, Limit, RatingChoice, SizeChoice};
use crate::units::{Amps, Rounding, amps};

/// A limit of a slot with the first option that keeps it.
struct Asks {
    least: usize,
    rule: &'static str,
    words: String,
}

impl Choosing {
    /// Everything that was chosen, with reasons and conflicts.
    pub(super) fn told(&self) -> Chosen {
        let (rows, returns) = match &self.end {
            Some((currents, drops, _)) => {
                (self.drop_rows(drops), self.return_rows(currents, drops))
            }
            None => Default::default(),
        };
        let count = self.slots.sizes.len();
        let mut rows_of: Vec<Vec<&DropRow>> = vec![Vec::new(); count];
        for row in &rows {
            for &(slot, _) in &row.terms {
                rows_of[slot].push(row);
            }
        }
        let mut returns_of: Vec<Vec<&ReturnRow>> = vec![Vec::new(); count];
        for row in &returns {
            returns_of[row.pair.back].push(row);
        }
        let sizes = (0..count)
            .filter_map(|slot| self.size_told(slot, &rows_of[slot], &returns_of[slot]))
            .collect();
        let chosen = self.copper(&self.at);
        Chosen {
            sizes,
            ratings: self.ratings_told(),
            conflicts: self.conflicts(),
            moved: Vec::new(),
            copper: Copper {
                chosen,
                least: self.least.unwrap_or_else(|| self.least_copper()),
                exact: self.exact,
                for_spools: self.for_spools,
            },
        }
    }

    fn size_told(
        &self,
        slot: usize,
        rows: &[&DropRow],
        returns: &[&ReturnRow],
    ) -> Option<SizeChoice> {
        let size = self.size(slot)?;
        let mut asks: Vec<Asks> = Vec::new();
        for bound in &self.bounds[slot] {
            asks.push(Asks {
                least: bound.least,
                rule: bound.rule,
                words: bound.words.clone(),
            });
        }
        // Of the rows only the one that asks for most, and of those the one that is fullest.
        let row = rows
            .iter()
            .map(|row| (self.least_option(slot, row), *row))
            .max_by(|(a, row_a), (b, row_b)| {
                let full = |row: &DropRow| self.lost(row, &self.at) / row.limit;
                a.cmp(b).then(full(row_a).total_cmp(&full(row_b)))
            });
        if let Some((least, row)) = row {
            asks.push(Asks {
                least,
                rule: row.rule,
                words: self.drop_words(row),
            });
        }
        let back = returns
            .iter()
            .filter_map(|row| Some((self.least_return(slot, row)?, row.load)))
            .max_by(|(a, load_a), (b, load_b)| a.cmp(b).then(load_b.cmp(load_a)));
        if let Some((least, load)) = back {
            let load = &self.boat.loads[load.index()].name;
            asks.push(Asks {
                least,
                rule: "AM206",
                words: format!("no thinner than the positive of {load}"),
            });
        }
        // Stable: of limits that ask for the same the one that was looked at first governs.
        asks.sort_by_key(|asks| std::cmp::Reverse(asks.least));
        let limit = |asks: &Asks| Limit {
            rule: asks.rule,
            words: asks.words.clone(),
            asks: self.offers[slot].sizes[asks.least.min(self.at[slot])].to_string(),
        };
        // The end of the list comes before what would be content with it.
        let floor = self.floor(slot);
        let mut told: Vec<Limit> = asks
            .iter()
            .filter(|asks| asks.least > 0)
            .map(limit)
            .collect();
        let floor_rule = floor.rule;
        told.push(floor);
        let content = asks.iter().filter(|asks| asks.least == 0);
        told.extend(content.filter(|asks| asks.rule != floor_rule).map(limit));
        let mut told = told.into_iter();
        let governs = told.next()?;
        let next = told.next();
        let record = &self.slots.sizes[slot];
        Some(SizeChoice {
            conductors: record.conductors.clone(),
            size,
            standing: record.standing,
            spans: record.spans.clone(),
            governs,
            next,
            copper: self.cost(slot, self.at[slot]),
        })
    }

    /// What ends the sizes on offer below.
    fn floor(&self, slot: usize) -> Limit {
        let offer = &self.offers[slot];
        let asks = offer
            .sizes
            .first()
            .map_or_else(String::new, ToString::to_string);
        // A least size that the thinnest on offer already has is named before the end of the list.
        let minimum = self.bounds[slot]
            .iter()
            .find(|bound| bound.rule == "AM204" && bound.least == 0);
        match (&offer.from, minimum) {
            (Some(take), _) => Limit {
                rule: "PL713",
                words: format!("{} takes no thinner than {}", take.terminal, take.size),
                asks,
            },
            (None, Some(bound)) => Limit {
                rule: bound.rule,
                words: bound.words.clone(),
                asks,
            },
            (None, None) => Limit {
                rule: "",
                words: "the thinnest on sale".to_owned(),
                asks,
            },
        }
    }

    /// The thinnest option with which a row holds, all else as chosen.
    fn least_option(&self, slot: usize, row: &DropRow) -> usize {
        let mut options = self.at.clone();
        let first = (0..=self.at[slot]).find(|&option| {
            options[slot] = option;
            self.keeps(row, &options)
        });
        first.unwrap_or(self.at[slot])
    }

    fn least_return(&self, slot: usize, row: &ReturnRow) -> Option<usize> {
        let asked = self.asked_back(row, &self.at);
        let sizes = &self.offers[slot].sizes;
        sizes
            .iter()
            .position(|size| size.area().0 >= asked)
            .filter(|&least| least > 0)
    }

    fn ratings_told(&self) -> Vec<RatingChoice> {
        // The conductor behind each device that allows least.
        let mut least: Vec<Option<(f64, ConductorId)>> = vec![None; self.boat.devices.len()];
        if let Some((_, _, protection)) = &self.end {
            for index in 0..self.boat.conductors.len() {
                let id = ConductorId::at(index);
                let cover = protection.cover(id);
                let (Some(device), Some(allowed)) = (cover.device, &cover.allowed) else {
                    continue;
                };
                let most = allowed.judged.current.0;
                let entry = &mut least[device.index()];
                if entry.is_none_or(|(before, _)| most < before) {
                    *entry = Some((most, id));
                }
            }
        }
        self.slots
            .ratings
            .iter()
            .zip(&self.rated)
            .filter_map(|(slot, found)| {
                let rating = self.boat.devices[slot.device.index()].rating?.value;
                let (governs, maker) = match found {
                    Ok(found) => (found.governs.clone(), found.next.clone()),
                    Err(clash) => (
                        Limit {
                            rule: clash.low.rule,
                            words: "no rating serves; the largest that is allowed".to_owned(),
                            asks: rated(rating),
                        },
                        None,
                    ),
                };
                let need = self.needs.iter().zip(&self.slots.ratings);
                let most = need
                    .filter(|(_, other)| other.device == slot.device)
                    .flat_map(|(need, _)| &need.most)
                    .map(|bar| bar.at)
                    .fold(f64::INFINITY, f64::min);
                let wire = least[slot.device.index()]
                    .filter(|&(allows, _)| allows < most)
                    .map(|(allows, id)| {
                        let conductor = &self.boat.conductors[id.index()];
                        let size = conductor.gauge.map(|given| given.value.to_string());
                        let most = amps(Amps(allows), Rounding::Down);
                        Limit {
                            rule: "OC103",
                            words: format!(
                                "{}, {}, allows {most}",
                                conductor.number,
                                size.unwrap_or_default()
                            ),
                            asks: format!("at most {most}"),
                        }
                    });
                Some(RatingChoice {
                    device: slot.device,
                    rating,
                    standing: slot.standing,
                    span: slot.span,
                    governs,
                    next: wire.or(maker),
                })
            })
            .collect()
    }
}
