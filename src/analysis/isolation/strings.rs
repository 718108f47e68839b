//! Banks as they are declared against how they are wired: strings, parallel batteries, taps from the middle.

use super::{Isolation, Nets, post, same_nominal};
use crate::analysis::states::{Reach, Reached, ends};
use crate::system::{BankId, LoadId, LoadKind, NodeId, SourceId, System};
use crate::units::Volts;
use std::cell::Cell;

/// What is wrong with a string or a bank.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum StringFaultKind {
    /// The negative of the upper battery never reaches the positive of the lower one.
    LinkMissing,
    /// The positives of two batteries that follow each other are joined: one of them is reversed.
    Reversed,
    /// Two strings of one bank have unlike nominal voltages.
    UnlikeVoltages(Volts, Volts),
    /// The positives of two strings of one bank are never joined.
    NotInParallel,
    /// Two batteries of one bank are wired in series, and its strings are not listed.
    SeriesNotListed,
}

/// A bank whose wiring does not agree with its strings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StringFault {
    /// The bank.
    pub bank: BankId,
    /// The lower battery, or that of the first string.
    pub lower: SourceId,
    /// The upper battery, or that of the other string.
    pub upper: SourceId,
    /// What is wrong.
    pub kind: StringFaultKind,
}

/// Loads that some state lets draw from the middle of a string.
#[derive(Clone, Debug, PartialEq)]
pub struct Tap {
    /// The bank.
    pub bank: BankId,
    /// The battery whose upper post is tapped.
    pub battery: SourceId,
    /// The loads, in file order.
    pub loads: Vec<LoadId>,
    /// The upper post may be tapped on purpose.
    pub declared: bool,
}

impl Isolation {
    pub(super) fn look_at_strings(
        &mut self,
        system: &System,
        nets: &Nets,
        whole: &Reach<'_>,
        live: &Reach<'_>,
    ) {
        self.look_for_floating(system, whole);
        // Posts that an unswitched path joins need no search; of the others only so many are asked about.
        let left = Cell::new(self.effort);
        let unseen = Cell::new(0);
        let joined = |a: NodeId, b: NodeId| {
            if nets.net(a) == nets.net(b) {
                return true;
            }
            if left.get() == 0 {
                unseen.set(unseen.get() + 1);
                return true;
            }
            left.set(left.get() - 1);
            whole.spread(&[a]).reached(b) != Reached::Never
        };
        let batteries = system.sources.iter().filter(|it| it.bank.is_some()).count();
        let mut taps = self.afford(batteries);
        for (index, bank) in system.banks.iter().enumerate() {
            let id = BankId::at(index);
            for string in &bank.strings {
                for pair in string.windows(2) {
                    let [lower, upper] = [pair[0], pair[1]];
                    let top = post(system, lower, true);
                    let kind = if joined(top, post(system, upper, false)) {
                        continue;
                    } else if joined(top, post(system, upper, true)) {
                        StringFaultKind::Reversed
                    } else {
                        StringFaultKind::LinkMissing
                    };
                    self.strings.push(StringFault {
                        bank: id,
                        lower,
                        upper,
                        kind,
                    });
                }
                let asked = taps.min(string.len().saturating_sub(1));
                taps -= asked;
                self.look_for_taps(system, id, &string[..asked], live);
            }
            self.look_at_parallels(system, id, &joined);
        }
        self.unseen += unseen.get();
    }

    fn look_at_parallels(
        &mut self,
        system: &System,
        id: BankId,
        joined: &dyn Fn(NodeId, NodeId) -> bool,
    ) {
        let bank = &system.banks[id.index()];
        let Some((first, others)) = bank.strings.split_first() else {
            return;
        };
        let volts = |string: &[SourceId]| -> Volts {
            string
                .iter()
                .map(|source| system.sources[source.index()].nominal.value)
                .sum()
        };
        let Some(&lower) = first.last() else { return };
        let top = post(system, lower, true);
        for string in others {
            let Some(&upper) = string.last() else {
                continue;
            };
            let (one, other) = (volts(first), volts(string));
            let series = string.len() == 1
                && first.len() == 1
                && (joined(top, post(system, upper, false))
                    || joined(post(system, upper, true), post(system, lower, false)));
            let kind = if series && !joined(top, post(system, upper, true)) {
                StringFaultKind::SeriesNotListed
            } else if !same_nominal(one, other) {
                StringFaultKind::UnlikeVoltages(one, other)
            } else if !joined(top, post(system, upper, true)) {
                StringFaultKind::NotInParallel
            } else {
                continue;
            };
            self.strings.push(StringFault {
                bank: id,
                lower,
                upper,
                kind,
            });
        }
    }

    fn look_for_taps(
        &mut self,
        system: &System,
        bank: BankId,
        inner: &[SourceId],
        live: &Reach<'_>,
    ) {
        for &battery in inner {
            let spread = live.spread(&[post(system, battery, true)]);
            let loads: Vec<LoadId> = system
                .loads
                .iter()
                .enumerate()
                .filter(|(_, load)| {
                    let (positive, _) = ends(system, load.link);
                    load.kind != LoadKind::Coil && spread.reached(positive) != Reached::Never
                })
                .map(|(index, _)| LoadId::at(index))
                .collect();
            if !loads.is_empty() {
                let declared = system.banks[bank.index()].mid_taps.contains(&battery);
                self.taps.push(Tap {
                    bank,
                    battery,
                    loads,
                    declared,
                });
            }
        }
    }
}
