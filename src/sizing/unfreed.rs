//! Faults that sizes decide and that no choice of sizes frees: what holds the sizes, and the smallest change.
//!
//! Sums of drops and what a conductor asks by itself are told in `conflicts`; here is what only all rules together say,
//! such as a load under its least voltage, a short that is cleared too late or a hole that is too small.

use super::choose::Choosing;
use super::prove::{BRANCHED, counts, told};
use crate::analysis::Facts;
use crate::diag::Diagnostic;
use crate::rules;
use crate::rules::telling::{length_up, rating, wires};
use crate::source::Span;
use crate::system::{ConductorId, Conflict, ConflictKind, Limit, Origin, SizeChoice, Standing};
use crate::units::{Amps, Metres, Rounding, Volts, volts};
use std::collections::BTreeSet;

/// Faults for which shorter conductors are tried; each asks all rules some times.
const MAX_SHORTENED: usize = 4;

/// The number of conductors times the faults for which shorter ones are tried.
const MAX_SHORTENED_WORK: usize = 2_000;

/// Halvings in the search for the length that would do: to a thousandth of it.
const HALVINGS: usize = 10;

/// Share of a length below which nobody is told to shorten it so far.
const LEAST_SHARE: f64 = 0.05;

/// What holds the sizes that a fault is about.
struct Hold {
    rule: Option<&'static str>,
    words: String,
    span: Option<Span>,
}

impl Choosing {
    /// Notes the faults that no choice frees, with what stands against it.
    pub(super) fn note_unfreed(&mut self) {
        let asked = self.slots.sizes.iter();
        let is_asked = asked.into_iter().any(|it| it.standing == Standing::Chosen);
        if !is_asked || self.left.is_empty() && self.accepted.is_empty() {
            return;
        }
        let facts = Facts::new(&self.boat);
        let findings = rules::run(&facts);
        let sizes = self.told().sizes;
        let thick = self.with_thickest();
        // What not even the thickest of everything frees is told with the figures that it has then.
        let thick_findings = if self.accepted.is_empty() {
            Vec::new()
        } else {
            rules::run(&Facts::new(&thick.boat))
        };
        let conductors = self.boat.conductors.len().max(1);
        let to_shorten = MAX_SHORTENED.min(MAX_SHORTENED_WORK / conductors);
        let mut unfreed = Vec::new();
        for finding in &findings {
            if !counts(finding) || !BRANCHED.contains(&finding.rule) {
                continue;
            }
            let may_shorten = unfreed.len() < to_shorten;
            let with_thickest = thick_findings.iter().find(|it| told(it) == told(finding));
            let shown = with_thickest.unwrap_or(finding);
            let Some((up, down)) = self.reach(&facts, finding) else {
                continue;
            };
            let is_chosen = |slot: &usize| self.slots.sizes[*slot].standing == Standing::Chosen;
            let up: BTreeSet<usize> = up.into_iter().filter(is_chosen).collect();
            let down: BTreeSet<usize> = down.into_iter().filter(is_chosen).collect();
            let hold = if with_thickest.is_some() || down.is_empty() {
                self.held_from_above(&up)
            } else {
                self.held_from_below(&down, &sizes)
            };
            let Some(hold) = hold else { continue };
            let shorter = may_shorten
                .then(|| with_thickest.and_then(|_| thick.shorter_lengths(finding, &up)))
                .flatten();
            let mut ways: Vec<String> = shorter.into_iter().collect();
            ways.extend(self.other_way(&facts, shown, with_thickest.is_some()));
            let found = if with_thickest.is_some() || self.tried_all {
                "no choice of sizes frees it"
            } else {
                "no choice of sizes was found that frees it"
            };
            let (first, second) = (finding.labels.first(), hold.span);
            unfreed.push(Conflict {
                kind: ConflictKind::Size,
                element: finding.element.clone(),
                also: finding.also.clone(),
                span: first.map(|label| label.span),
                other: second,
                rules: std::iter::once(finding.rule).chain(hold.rule).collect(),
                message: format!("{}; {found}, since {}", shown.message, hold.words),
                help: ways.join(", or "),
            });
        }
        self.unfreed = unfreed;
    }

    /// Why what should be thicker is not: the contacts, or the end of the list.
    fn held_from_above(&self, slots: &BTreeSet<usize>) -> Option<Hold> {
        let by_contacts = slots.iter().find(|&&slot| self.offers[slot].upto.is_some());
        let slot = *by_contacts.or(slots.first())?;
        let (rules, words, span) = self.ceiling(slot);
        Some(Hold {
            rule: rules.first().copied(),
            words,
            span,
        })
    }

    /// Why what should be thinner is not: what governs the thickest of them.
    fn held_from_below(&self, slots: &BTreeSet<usize>, sizes: &[SizeChoice]) -> Option<Hold> {
        let slot = slots.iter().copied().max_by(|&a, &b| {
            let thick = |slot: usize| self.size(slot).map_or(0.0, |size| size.area().0);
            thick(a).total_cmp(&thick(b)).then(b.cmp(&a))
        })?;
        let record = &self.slots.sizes[slot];
        let choice = sizes.iter().find(|it| it.conductors == record.conductors)?;
        let Limit { rule, words, .. } = &choice.governs;
        Some(Hold {
            rule: Some(*rule).filter(|rule| !rule.is_empty()),
            words: format!("{} is {} ({words})", self.wires(slot), choice.size),
            span: record.spans.first().copied(),
        })
    }

    /// By how much all of some conductors would have to be shorter, of a boat with the thickest of everything.
    fn shorter_lengths(&self, finding: &Diagnostic, slots: &BTreeSet<usize>) -> Option<String> {
        let ids: Vec<ConductorId> = slots
            .iter()
            .flat_map(|&slot| self.slots.sizes[slot].conductors.iter().copied())
            .filter(|id| self.boat.conductors[id.index()].length.is_some())
            .collect();
        let passes = |share: f64| {
            let mut boat = self.boat.clone();
            for id in &ids {
                if let Some(length) = &mut boat.conductors[id.index()].length {
                    length.value = Metres(length.value.0 * share);
                }
            }
            let findings = rules::run(&Facts::new(&boat));
            !findings
                .iter()
                .any(|it| counts(it) && told(it) == told(finding))
        };
        if ids.is_empty() || !passes(LEAST_SHARE) {
            return None;
        }
        let (mut short, mut long) = (LEAST_SHARE, 1.0);
        for _ in 0..HALVINGS {
            let middle = f64::midpoint(short, long);
            if passes(middle) {
                short = middle;
            } else {
                long = middle;
            }
        }
        let all: f64 = ids
            .iter()
            .filter_map(|id| self.boat.conductors[id.index()].length)
            .map(|length| length.value.0)
            .sum();
        Some(format!(
            "shorten {} by {} in all, each in proportion",
            wires(&self.boat, &ids),
            length_up(&self.boat, Metres(all * (1.0 - short)))
        ))
    }

    /// A change that needs no other length.
    fn other_way(
        &self,
        facts: &Facts<'_>,
        shown: &Diagnostic,
        with_thickest: bool,
    ) -> Option<String> {
        let (value, limit) = (shown.value.as_ref()?.value, shown.limit.as_ref()?.value);
        if !with_thickest {
            return Some(shown.help.clone());
        }
        match shown.rule {
            "VD306" => Some(format!(
                "fit in place of {} what works from {}",
                shown.element,
                volts(Volts(value), Rounding::Down)
            )),
            "DP802" => {
                let device = self
                    .boat
                    .devices
                    .iter()
                    .find(|it| it.name == shown.element)?;
                let given = device.rating?;
                let times = limit / given.value.0;
                let most = rating(Amps((value / times).floor().max(1.0)));
                Some(match given.origin {
                    Origin::Chosen => format!(
                        "bring what {} carries down so far that {most} serves",
                        shown.element
                    ),
                    _ => format!("fit at most {most} in {}", shown.element),
                })
            }
            "DP803" => {
                let id = self.numbered(&shown.element)?;
                let mut ends = facts.faults.far_ends(id).iter();
                let device = ends.find_map(|far| far.device)?;
                let name = &self.boat.devices[device.index()].name;
                Some(format!("fit a smaller or faster device in {name}"))
            }
            "VD310" => Some(format!("bring {} nearer to its battery", shown.element)),
            _ => Some(shown.help.clone()),
        }
    }
}
