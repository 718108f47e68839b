//! The least copper that keeps every drop within its limit: exact, by eliminating one choice after the other.
//!
//! A choice is a size out of a few. A row says that the sum of weighted resistances on a way stays within a limit.
//! Choices are eliminated one by one: what is left of a choice is a table of (copper, room left on each row), of which
//! only entries that no other entry beats in every respect are kept. Rows of many loads that lie on the same feeders
//! with the same currents leave the same sum behind and become one, so on a tree of feeders the tables stay small
//! and the result is the optimum. This is dynamic programming over the tree, but it needs no tree to be right.
//!
//! Proof that nothing is lost. Copper adds up, and rows only ask for more room: of two entries with the same open rows,
//! one that costs no more and leaves no less room completes to a solution whenever the other does, at no higher cost.
//! Rounding the room down to a sum that the open choices can reach, and capping it at the largest they can ask for,
//! changes no comparison with them. An entry dearer than a known solution cannot be part of a cheaper one.
//! Only where a table outgrows its cap are entries thinned out, and then the result says that it is not exact.

mod elimination;
#[cfg(test)]
mod tests;

use elimination::Elimination;

/// Two sums that differ by this share are one.
const SAME: f64 = 1e-12;

/// The same where a whole solution is checked, after many such roundings.
const SAME_IN_ALL: f64 = 1e-10;

/// One size to choose: its options, thinnest first.
#[derive(Clone, Debug)]
pub(super) struct Pick {
    /// Copper of each option.
    pub(super) costs: Vec<f64>,
    /// Resistance per length of each option.
    pub(super) ohms: Vec<f64>,
    /// Cross-section of each option.
    pub(super) areas: Vec<f64>,
}

/// A sum that stays within a limit: weight times resistance of each choice on a way.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Row {
    /// Choice and weight, each choice once.
    pub(super) terms: Vec<(usize, f64)>,
    /// Largest sum.
    pub(super) limit: f64,
}

/// A return that is not thinner than the thinnest of its feeds.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Pair {
    /// The choice of the return.
    pub(super) back: usize,
    /// The choices of its feeds.
    pub(super) feeds: Vec<usize>,
    /// Cross-section of the thinnest feed that is no choice; infinite where all are.
    pub(super) fixed: f64,
}

/// Everything to be decided together.
#[derive(Clone, Debug, Default)]
pub(super) struct Problem {
    pub(super) picks: Vec<Pick>,
    pub(super) rows: Vec<Row>,
    pub(super) pairs: Vec<Pair>,
    /// Choices near the best are enough.
    pub(super) rough: bool,
}

/// What was decided.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Solved {
    /// Option of every choice.
    pub(super) options: Vec<usize>,
    /// Copper of all of them.
    pub(super) cost: f64,
    /// Nothing cheaper passes every row and pair.
    pub(super) exact: bool,
}

impl Problem {
    /// Rows that not even the thickest options keep; whoever makes rows leaves these out.
    #[cfg(test)]
    pub(super) fn hopeless(&self) -> Vec<usize> {
        (0..self.rows.len())
            .filter(|&row| {
                let least: f64 = self.rows[row]
                    .terms
                    .iter()
                    .map(|&(pick, weight)| weight * self.thickest(pick))
                    .sum();
                least > self.rows[row].limit * (1.0 + SAME)
            })
            .collect()
    }

    fn thickest(&self, pick: usize) -> f64 {
        self.picks[pick].ohms.last().copied().unwrap_or(0.0)
    }

    fn thinnest(&self, pick: usize) -> f64 {
        self.picks[pick].ohms.first().copied().unwrap_or(0.0)
    }

    /// Copper of some options.
    pub(super) fn cost(&self, options: &[usize]) -> f64 {
        options
            .iter()
            .zip(&self.picks)
            .map(|(&option, pick)| pick.costs[option])
            .sum()
    }

    /// Whether options keep every row and every pair.
    pub(super) fn keeps(&self, options: &[usize]) -> bool {
        self.rows.iter().all(|row| self.keeps_row(row, options))
            && self.pairs.iter().all(|pair| self.keeps_pair(pair, options))
    }

    fn sum(&self, row: &Row, options: &[usize]) -> f64 {
        row.terms
            .iter()
            .map(|&(pick, weight)| weight * self.picks[pick].ohms[options[pick]])
            .sum()
    }

    fn keeps_row(&self, row: &Row, options: &[usize]) -> bool {
        self.sum(row, options) <= row.limit * (1.0 + SAME_IN_ALL)
    }

    fn keeps_pair(&self, pair: &Pair, options: &[usize]) -> bool {
        let area = |pick: usize| self.picks[pick].areas[options[pick]];
        let thinnest = pair
            .feeds
            .iter()
            .map(|&feed| area(feed))
            .fold(pair.fixed, f64::min);
        area(pair.back) >= thinnest
    }

    /// The cheapest options that keep every row and pair; none where nothing does.
    ///
    /// Every row must be one that the thickest options keep.
    pub(super) fn solve(&self) -> Option<Solved> {
        if self.picks.iter().any(|pick| pick.costs.is_empty()) {
            return None;
        }
        let known = self.greedy();
        let mut elimination = Elimination::new(self, known.as_deref());
        elimination.run();
        let found = elimination.result();
        let best = match (found, known) {
            (Some(found), Some(known)) if self.cost(&known) < self.cost(&found) => known,
            (Some(found), _) => found,
            (None, known) => known?,
        };
        // Equal copper is decided by the elimination; what is told is checked here once more.
        self.keeps(&best).then(|| Solved {
            cost: self.cost(&best),
            options: best,
            exact: elimination.exact,
        })
    }

    /// A good solution: thickens what helps most for its copper until every row is kept, then thins what it can.
    fn greedy(&self) -> Option<Vec<usize>> {
        let mut options = vec![0usize; self.picks.len()];
        let mut rows_of: Vec<Vec<(usize, f64)>> = vec![Vec::new(); self.picks.len()];
        for (index, row) in self.rows.iter().enumerate() {
            for &(pick, weight) in &row.terms {
                rows_of[pick].push((index, weight));
            }
        }
        let mut over: Vec<f64> = self
            .rows
            .iter()
            .map(|row| self.sum(row, &options) - row.limit)
            .collect();
        let mut open: Vec<usize> = (0..self.rows.len()).rev().collect();
        while let Some(&row) = open.last() {
            if over[row] <= self.rows[row].limit * SAME {
                open.pop();
                continue;
            }
            let best = self.rows[row]
                .terms
                .iter()
                .filter(|&&(pick, _)| options[pick] + 1 < self.picks[pick].costs.len())
                .map(|&(pick, _)| {
                    let here = &self.picks[pick];
                    let at = options[pick];
                    let less = here.ohms[at] - here.ohms[at + 1];
                    let helps: f64 = rows_of[pick]
                        .iter()
                        .map(|&(row, weight)| (less * weight).min(over[row].max(0.0)))
                        .sum();
                    let costs = (here.costs[at + 1] - here.costs[at]).max(f64::MIN_POSITIVE);
                    (pick, helps / costs)
                })
                .max_by(|(a, gain_a), (b, gain_b)| gain_a.total_cmp(gain_b).then(b.cmp(a)));
            let (pick, _) = best?;
            let here = &self.picks[pick];
            let less = here.ohms[options[pick]] - here.ohms[options[pick] + 1];
            options[pick] += 1;
            for &(row, weight) in &rows_of[pick] {
                over[row] -= less * weight;
            }
        }
        for pair in &self.pairs {
            while !self.keeps_pair(pair, &options) {
                if options[pair.back] + 1 >= self.picks[pair.back].costs.len() {
                    return None;
                }
                options[pair.back] += 1;
            }
        }
        let mut order: Vec<usize> = (0..self.picks.len()).collect();
        order.sort_by(|&a, &b| {
            let step = |pick: usize| self.picks[pick].costs[options[pick]];
            step(b).total_cmp(&step(a)).then(a.cmp(&b))
        });
        let pairs_of = |pick: usize| {
            self.pairs
                .iter()
                .filter(move |pair| pair.back == pick || pair.feeds.contains(&pick))
        };
        for pick in order {
            while options[pick] > 0 {
                options[pick] -= 1;
                let kept = rows_of[pick]
                    .iter()
                    .all(|&(row, _)| self.keeps_row(&self.rows[row], &options))
                    && pairs_of(pick).all(|pair| self.keeps_pair(pair, &options));
                if !kept {
                    options[pick] += 1;
                    break;
                }
            }
        }
        self.keeps(&options).then_some(options)
    }
}
