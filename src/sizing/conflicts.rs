//! Where no value on sale serves: which rules collide, and the smallest change that frees them.

use super::choose::{Beyond, Choosing};
use super::ratings::Clash;
use super::rows::DropRow;
use crate::rules::telling::{length_up, rating as rated};
use crate::source::Span;
use crate::standards::rating_within;
use crate::system::{ConductorId, Conflict, ConflictKind, Standing};
use crate::units::{Amps, Gauge, Metres, Rounding, amps, decimal, round_up_to};

/// Steps of a drop limit that is asked for, in per cent.
const STEP_PERCENT: f64 = 0.1;

impl Choosing {
    /// All of them, sizes first, for values that the file asks for.
    pub(super) fn conflicts(&self) -> Vec<Conflict> {
        let mut conflicts = Vec::new();
        for slot in 0..self.slots.sizes.len() {
            if self.offers[slot].sizes.is_empty() {
                conflicts.extend(self.nothing_offered(slot));
            }
        }
        for beyond in &self.beyond {
            if self.slots.sizes[beyond.slot].standing == Standing::Chosen {
                conflicts.push(self.beyond_told(beyond));
            }
        }
        for row in &self.hopeless {
            conflicts.extend(self.hopeless_told(row));
        }
        conflicts.extend(self.unfreed.iter().cloned());
        let ratings = self.slots.ratings.iter().zip(&self.rated);
        for (slot, rating) in ratings {
            if let (Err(clash), Standing::Chosen) = (rating, slot.standing) {
                conflicts.push(self.clash_told(slot.device.index(), slot.span, clash));
            }
        }
        conflicts
    }

    fn numbers(&self, slot: usize) -> (String, Vec<String>) {
        let mut numbers = self.slots.sizes[slot]
            .conductors
            .iter()
            .map(|id| self.boat.conductors[id.index()].number.clone());
        let first = numbers.next().unwrap_or_default();
        (first, numbers.collect())
    }

    fn place(&self, slot: usize) -> Option<Span> {
        let record = &self.slots.sizes[slot];
        let first = record.conductors.first();
        record
            .spans
            .first()
            .copied()
            .or_else(|| first.map(|id| self.boat.conductors[id.index()].span))
    }

    fn nothing_offered(&self, slot: usize) -> Option<Conflict> {
        if self.slots.sizes[slot].standing != Standing::Chosen {
            return None;
        }
        let (element, also) = self.numbers(slot);
        let offer = &self.offers[slot];
        let names = self.wires(slot);
        let (message, help, rules, other) = match (&offer.from, &offer.upto) {
            (Some(from), upto) => {
                let most = upto.as_ref().map_or_else(String::new, |upto| {
                    format!(", {} at most {}", upto.terminal, upto.size)
                });
                (
                    format!(
                        "no size on sale fits {names}: {} takes at least {}{most}",
                        from.terminal, from.size
                    ),
                    format!("use contacts that take the same size at both ends of {names}"),
                    vec!["PL713"],
                    from.span,
                )
            }
            (None, Some(upto)) => (
                format!(
                    "no size on sale fits {names}: {} takes at most {}",
                    upto.terminal, upto.size
                ),
                format!("use contacts that take a size on sale for {names}"),
                vec!["PL713", "AM202"],
                upto.span,
            ),
            (None, None) => {
                let first = self.slots.sizes[slot].conductors.first()?;
                let insulation = self.boat.conductors[first.index()].insulation;
                (
                    format!(
                        "no size can be chosen for {names}: no table lists an ampacity at {} °C",
                        decimal(insulation.value.0, 0)
                    ),
                    "use insulation rated at least 60 °C".to_owned(),
                    vec!["AM202"],
                    insulation.span,
                )
            }
        };
        Some(Conflict {
            kind: ConflictKind::Size,
            element,
            also,
            span: self.place(slot),
            other,
            rules,
            message,
            help,
        })
    }

    /// What ends the sizes on offer above, as a rule and in words.
    pub(super) fn ceiling(&self, slot: usize) -> (Vec<&'static str>, String, Option<Span>) {
        let offer = &self.offers[slot];
        match &offer.upto {
            Some(upto) => (
                vec!["PL713"],
                format!("{} takes at most {}", upto.terminal, upto.size),
                upto.span,
            ),
            None => (
                Vec::new(),
                format!(
                    "the thickest on offer is {}",
                    offer
                        .sizes
                        .last()
                        .map_or_else(String::new, Gauge::to_string)
                ),
                None,
            ),
        }
    }

    fn beyond_told(&self, beyond: &Beyond) -> Conflict {
        let slot = beyond.slot;
        let (element, also) = self.numbers(slot);
        let (mut rules, ceiling, other) = self.ceiling(slot);
        rules.insert(0, beyond.rule);
        let number = &self.boat.conductors[beyond.conductor.index()].number;
        let asks = beyond.size.map_or_else(
            || ", more than any size on sale serves".to_owned(),
            |size| format!(", which asks for {size}"),
        );
        let message = format!("{}{asks}; {ceiling}", beyond.words);
        let mut ways: Vec<String> = Vec::new();
        if let Some(device) = beyond.device {
            let record = &self.boat.devices[device.index()];
            let series = super::fields::series(&self.boat, device);
            match rating_within(&series, Amps(beyond.allows)) {
                Some(most) => ways.push(format!("fit {} in {}", rated(most), record.name)),
                None => ways.push(format!(
                    "fit at most {} in {}",
                    amps(Amps(beyond.allows), Rounding::Down),
                    record.name
                )),
            }
        } else if beyond.allows > 0.0 {
            ways.push(format!(
                "let {number} carry at most {} there",
                amps(Amps(beyond.allows), Rounding::Down)
            ));
        }
        if let (Some(size), Some(upto)) = (beyond.size, &self.offers[slot].upto) {
            ways.push(format!(
                "use contacts that take {size} at {}",
                upto.terminal
            ));
        }
        if ways.is_empty() {
            ways.push(format!("lead {number} another way"));
        }
        Conflict {
            kind: ConflictKind::Size,
            element,
            also,
            span: self.place(slot),
            other,
            rules,
            message,
            help: ways.join(", or "),
        }
    }

    fn hopeless_told(&self, row: &DropRow) -> Option<Conflict> {
        let slot = row
            .terms
            .iter()
            .map(|&(slot, _)| slot)
            .find(|&slot| self.slots.sizes[slot].standing == Standing::Chosen)?;
        let least = self.lost(row, &self.thickest());
        let percent = least / row.nominal.0 * 100.0;
        let mut ways = Vec::new();
        if let Some(shorter) = self.shorter(row, least - row.limit) {
            ways.push(shorter);
        }
        let step = round_up_to(percent, STEP_PERCENT);
        ways.push(match row.load {
            Some(_) => format!("let {} lose {} %", row.element, decimal(step, 1)),
            None => format!("allow {} % there", decimal(step, 1)),
        });
        let (mut rules, ceiling, other) = self.ceiling(slot);
        rules.insert(0, row.rule);
        let what = match row.load {
            Some(_) => format!("the drop to {}", row.element),
            None => format!("the drop in {}", row.element),
        };
        let load = row.load.map(|load| &self.boat.loads[load.index()]);
        Some(Conflict {
            kind: ConflictKind::Size,
            element: load.map_or_else(|| self.numbers(slot).0, |load| load.name.clone()),
            also: Vec::new(),
            span: load
                .map(|load| load.drop.span.unwrap_or(load.span))
                .or_else(|| self.place(slot)),
            other: other.or_else(|| self.place(slot)),
            rules,
            message: format!(
                "{what} is {} % with the thickest sizes on offer; at most {} % is allowed, and {ceiling}",
                decimal(percent, 2),
                decimal(row.percent, if row.percent.fract() == 0.0 { 0 } else { 2 })
            ),
            help: ways.join(", or "),
        })
    }

    /// How much less of which way would do, where it is less than the way.
    fn shorter(&self, row: &DropRow, excess: f64) -> Option<String> {
        let drops = &self.end.as_ref()?.1;
        let drop = drops.of(row.load?)?;
        // Along the load's own conductors both poles grow shorter together.
        let own: Vec<ConductorId> = drop
            .own_positive
            .iter()
            .chain(&drop.own_negative)
            .copied()
            .collect();
        let mut metres = 0.0;
        let mut volts = 0.0;
        for id in &own {
            let conductor = &self.boat.conductors[id.index()];
            let (Some(given), Some(slot)) = (conductor.length, self.slot_of[id.index()]) else {
                continue;
            };
            let amps = drop
                .legs
                .iter()
                .find(|leg| leg.link == conductor.link)
                .map_or(0.0, |leg| leg.amps.0);
            let thickest = self.offers[slot].sizes.last()?;
            let ohms = crate::standards::rule_drop_resistance(*thickest).0.0;
            metres += given.value.0;
            volts += amps * given.value.0 * ohms;
        }
        if volts <= excess || metres <= 0.0 {
            return None;
        }
        let less = Metres(metres * excess / volts);
        Some(format!(
            "shorten the conductors of {} by {} in all",
            row.element,
            length_up(&self.boat, less)
        ))
    }

    fn clash_told(&self, device: usize, span: Option<Span>, clash: &Clash) -> Conflict {
        let record = &self.boat.devices[device];
        let name = &record.name;
        let low = &clash.low;
        let asked = Amps(low.at);
        let (message, help, rules, other) = match &clash.high {
            Some(high) => {
                let most = Amps(high.at);
                let raise = match high.rule {
                    "OC103" => format!("use a conductor that allows {}", amps(asked, Rounding::Up)),
                    "DP806" => "fit a motor that is protected inside".to_owned(),
                    "OC106" => "fit an alternator that limits itself".to_owned(),
                    _ => format!(
                        "fit a load whose maker allows {}",
                        amps(asked, Rounding::Up)
                    ),
                };
                (
                    format!(
                        "{name} needs at least {}: it {}; but {}",
                        amps(asked, Rounding::Up),
                        low.words,
                        high.words
                    ),
                    format!(
                        "bring what it carries down to {}, or {raise}",
                        amps(most, Rounding::Down)
                    ),
                    vec![low.rule, high.rule],
                    high.span,
                )
            }
            None => (
                format!(
                    "{name} needs at least {}: it {}; none so large is sold in its form or fits its holder",
                    amps(asked, Rounding::Up),
                    low.words
                ),
                "use a device of another form, or share its loads out".to_owned(),
                vec![low.rule],
                low.span,
            ),
        };
        Conflict {
            kind: ConflictKind::Rating,
            element: name.clone(),
            also: Vec::new(),
            span: span.or(Some(record.span)),
            other,
            rules,
            message,
            help,
        }
    }
}
