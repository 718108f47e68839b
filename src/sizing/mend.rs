//! Steps from one choice to a better one, each looked at by all rules: where the search did not end, what was chosen is
//! freed of faults and then thinned as far as its rules go.
//!
//! It claims no optimum; how far it may be from the least is told by the bound of the search.

use super::choose::{Bound, Choosing};
use super::prove::{counts, told};
use crate::analysis::{Facts, flows};
use crate::diag::{Diagnostic, Severity};
use crate::rules;
use std::collections::BTreeSet;

/// How much worse than its limit a figure counts at most.
const MAX_EXCESS: f64 = 20.0;

/// What all rules say of a choice.
struct Verdict {
    findings: BTreeSet<(&'static str, String)>,
    /// Number of findings that copper could free, and by how much they exceed their limits.
    excess: f64,
}

impl Choosing {
    /// Looks for options without fault, by the steps that help most.
    pub(super) fn mend(&mut self) {
        if self.left.is_empty() {
            return;
        }
        let mut questions = self.questions();
        let floors = self.certain_floors();
        let before = self.at.clone();
        let (mut now, mut slots) = self.judged(true);
        while !slots.is_empty() && questions > 0 {
            let mut best: Option<(f64, f64, usize, usize)> = None;
            for &slot in &slots {
                let at = self.at[slot];
                for option in steps(floors[slot], at, self.offers[slot].sizes.len()) {
                    if questions == 0 {
                        break;
                    }
                    questions -= 1;
                    self.at[slot] = option;
                    let excess = self.judged(false).0.excess;
                    let copper = self.copper(&self.at);
                    let better = best.is_none_or(|(known, cost, ..)| {
                        excess < known || excess <= known && copper < cost
                    });
                    if excess < now.excess && better {
                        best = Some((excess, copper, slot, option));
                    }
                }
                self.at[slot] = at;
            }
            let Some((_, _, slot, option)) = best else {
                break;
            };
            self.at[slot] = option;
            (now, slots) = self.judged(true);
        }
        if slots.is_empty() {
            self.accept();
        } else {
            self.at = before;
            self.apply();
        }
    }

    /// Takes every size as thin as its rules allow, all else as chosen; the one that saves most first.
    pub(super) fn thin(&mut self) {
        if !self.left.is_empty() {
            return;
        }
        let mut questions = self.questions();
        let floors = self.certain_floors();
        let before = self.at.clone();
        // What failed once is not tried again beside other sizes that grew thinner.
        let mut failed: BTreeSet<(usize, usize)> = BTreeSet::new();
        let known = self.judged(false).0.findings;
        loop {
            // What breaks a sum with the currents that flow now is not asked about.
            let (currents, drops) = flows(&self.boat);
            let rows = self.drop_rows(&drops);
            let returns = self.return_rows(&currents, &drops);
            let mut steps: Vec<(f64, usize, usize)> = Vec::new();
            for (slot, &floor) in floors.iter().enumerate() {
                let at = self.at[slot];
                for option in floor..at {
                    self.at[slot] = option;
                    let keeps_rows = rows.iter().all(|row| {
                        self.keeps(row, &self.at) || row.terms.iter().all(|&(it, _)| it != slot)
                    });
                    let keeps_returns = returns.iter().all(|row| {
                        row.pair.back != slot
                            || self.area(slot, &self.at) >= self.asked_back(row, &self.at)
                    });
                    if keeps_rows && keeps_returns {
                        let saved = self.cost(slot, at) - self.cost(slot, option);
                        steps.push((saved, slot, option));
                    }
                }
                self.at[slot] = at;
            }
            steps.sort_by(|a, b| b.0.total_cmp(&a.0).then((a.1, a.2).cmp(&(b.1, b.2))));
            let found = steps.into_iter().find(|&(_, slot, option)| {
                if questions == 0 || failed.contains(&(slot, option)) {
                    return false;
                }
                questions -= 1;
                let at = std::mem::replace(&mut self.at[slot], option);
                let passes = self.judged(false).0.findings.is_subset(&known);
                self.at[slot] = at;
                if !passes {
                    failed.insert((slot, option));
                }
                passes
            });
            self.apply();
            let Some((_, slot, option)) = found else {
                break;
            };
            self.at[slot] = option;
        }
        if self.at != before {
            self.accept();
        }
        self.apply();
    }

    /// What all rules say of the options, and the slots that could free the choice of a fault, if asked for.
    fn judged(&mut self, with_slots: bool) -> (Verdict, BTreeSet<usize>) {
        self.apply();
        let facts = Facts::new(&self.boat);
        let findings = rules::run(&facts);
        let mut verdict = Verdict {
            findings: BTreeSet::new(),
            excess: 0.0,
        };
        for finding in &findings {
            let advice = finding.severity == Severity::Note && finding.rule == "DP804";
            if (counts(finding) || advice) && !self.accepted.contains(&told(finding)) {
                verdict.excess += if advice { 0.0 } else { 1.0 + excess(finding) };
                verdict.findings.insert(told(finding));
            }
        }
        let slots = if with_slots {
            let trouble = self.worst_trouble(&facts, &findings, &BTreeSet::new());
            trouble.map_or_else(BTreeSet::new, |trouble| &trouble.up | &trouble.down)
        } else {
            BTreeSet::new()
        };
        (verdict, slots)
    }

    /// Keeps the options that are reached, with what was asked on the way and still holds.
    fn accept(&mut self) {
        let options = self.at.clone();
        let mut raised: Vec<(usize, Bound)> = Vec::new();
        for (slot, bounds) in self.bounds.iter().enumerate() {
            let holds = |bound: &&Bound| !bound.certain && bound.least <= options[slot];
            raised.extend(
                bounds
                    .iter()
                    .filter(holds)
                    .map(|bound| (slot, bound.clone())),
            );
        }
        self.take(options, raised);
    }
}

/// Options to try in place of one: near ones and the ends.
fn steps(floor: usize, at: usize, count: usize) -> BTreeSet<usize> {
    let near = [at + 1, at + 2, at + 4]
        .into_iter()
        .chain(at.checked_sub(1))
        .chain(at.checked_sub(3));
    let all = near.chain([floor, count.saturating_sub(1)]);
    all.filter(|&option| option >= floor && option < count && option != at)
        .collect()
}

/// By how much a finding exceeds its limit, below one.
fn excess(finding: &Diagnostic) -> f64 {
    let (Some(value), Some(limit)) = (&finding.value, &finding.limit) else {
        return 0.5;
    };
    if value.value <= 0.0 || limit.value <= 0.0 {
        return 0.5;
    }
    let apart = (value.value / limit.value).ln().abs();
    apart.min(MAX_EXCESS) / (MAX_EXCESS + 1.0)
}
