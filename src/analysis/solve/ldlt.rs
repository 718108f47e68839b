//! Sparse `LDLᵀ` of a conductance matrix, in a fill-reducing order, wholly or down to some kept unknowns.
//!
//! The pattern is analysed once and factorised as often as values change.
//! The elimination tree and the up-looking factorisation are the textbook ones (Davis, "Direct Methods for
//! Sparse Linear Systems", SIAM 2006, chapter 4). There is no pivoting: a conductance matrix with a
//! grounded unknown in every island is positive definite, and where it is not, that is the answer.
//! This file knows numbers only; it decides nothing about circuits.

use super::order;

/// Stands for the grounded end of an edge, which is no unknown.
pub(super) const GROUND: usize = usize::MAX;

/// More entries than this in a factor are refused rather than computed.
///
/// A radial boat has about two entries an unknown; only a mesh of thousands of random ties comes near.
const MAX_ENTRIES: usize = 8_000_000;

/// The network is so meshed that its factor would not fit the time or the memory that a file may take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct TooMeshed;

/// The matrix is not positive definite; holds the unknown at which that showed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct NotDefinite(pub(super) usize);

/// Where the entries stand: the edges between unknowns, the order of elimination, the columns of L.
#[derive(Clone, Debug)]
pub(super) struct Pattern {
    unknowns: usize,
    eliminated: usize,
    /// Unknown to its place in the order; kept unknowns come last.
    place: Vec<usize>,
    /// Place to its unknown.
    unknown_at: Vec<usize>,
    /// Edge ends by place, and the slot of the edge's entry in the upper triangle.
    edges: Vec<Entry>,
    upper_start: Vec<usize>,
    upper_row: Vec<usize>,
    parent: Vec<usize>,
    column_start: Vec<usize>,
}

#[derive(Clone, Copy, Debug)]
enum Entry {
    /// Both ends grounded, or both the same unknown: adds nothing.
    Nothing,
    /// One end grounded: adds to one diagonal.
    Diagonal(usize),
    /// Two unknowns: adds to two diagonals and takes from a slot.
    Pair(usize, usize, usize),
}

/// The values of L and D for one set of conductances.
#[derive(Clone, Debug, Default)]
pub(super) struct Factor {
    row: Vec<usize>,
    value: Vec<f64>,
    diagonal: Vec<f64>,
    /// What is left between kept unknowns: pairs with their matrix entry, diagonals excluded.
    pub(super) left: Vec<(usize, usize, f64)>,
    work: Work,
}

/// Scratch space, kept to be used again.
#[derive(Clone, Debug, Default)]
struct Work {
    upper: Vec<f64>,
    sum: Vec<f64>,
    reach: Vec<usize>,
    mark: Vec<usize>,
    filled: Vec<usize>,
    touched: Vec<usize>,
}

impl Pattern {
    /// Analyses a matrix over some unknowns with an entry for every edge; `kept` unknowns are not eliminated.
    ///
    /// `kept` is empty or has one flag an unknown. Ends may be [`GROUND`]; edges may repeat.
    pub(super) fn new(
        unknowns: usize,
        edges: &[(usize, usize)],
        kept: &[bool],
    ) -> Result<Self, TooMeshed> {
        let unknown_at = order::minimum_degree(unknowns, edges, kept, MAX_ENTRIES)?;
        let eliminated = unknowns - kept.iter().filter(|&&keep| keep).count();
        let mut place = vec![0; unknowns];
        for (at, &unknown) in unknown_at.iter().enumerate() {
            place[unknown] = at;
        }
        let mut pattern = Self {
            unknowns,
            eliminated,
            place,
            unknown_at,
            edges: Vec::with_capacity(edges.len()),
            upper_start: vec![0; unknowns + 1],
            upper_row: Vec::with_capacity(edges.len()),
            parent: vec![GROUND; unknowns],
            column_start: vec![0; eliminated + 1],
        };
        pattern.place_edges(edges);
        pattern.count_columns()?;
        Ok(pattern)
    }

    /// Gives every edge its slot in the upper triangle; edges between the same unknowns share one.
    fn place_edges(&mut self, edges: &[(usize, usize)]) {
        let mut by_column = vec![0; self.unknowns + 1];
        for &(a, b) in edges {
            let entry = match (a == GROUND, b == GROUND) {
                (true, true) => Entry::Nothing,
                (false, true) => Entry::Diagonal(self.place[a]),
                (true, false) => Entry::Diagonal(self.place[b]),
                (false, false) if a == b => Entry::Nothing,
                (false, false) => {
                    let (a, b) = (self.place[a], self.place[b]);
                    by_column[a.max(b) + 1] += 1;
                    Entry::Pair(a.min(b), a.max(b), 0)
                }
            };
            self.edges.push(entry);
        }
        for column in 0..self.unknowns {
            by_column[column + 1] += by_column[column];
        }
        let mut next = by_column.clone();
        let mut sorted = vec![0; by_column[self.unknowns]];
        for (index, entry) in self.edges.iter().enumerate() {
            if let Entry::Pair(_, column, _) = *entry {
                sorted[next[column]] = index;
                next[column] += 1;
            }
        }
        let mut slot_of_row = vec![GROUND; self.unknowns];
        for column in 0..self.unknowns {
            let first = self.upper_row.len();
            for &index in &sorted[by_column[column]..by_column[column + 1]] {
                if let Entry::Pair(row, _, slot) = &mut self.edges[index] {
                    let known = slot_of_row[*row];
                    if known == GROUND || known < first {
                        slot_of_row[*row] = self.upper_row.len();
                        self.upper_row.push(*row);
                    }
                    *slot = slot_of_row[*row];
                }
            }
            self.upper_start[column + 1] = self.upper_row.len();
        }
    }

    /// Builds the elimination tree and counts the entries of each column of L.
    fn count_columns(&mut self) -> Result<(), TooMeshed> {
        let mut count = vec![0usize; self.eliminated];
        let mut mark = vec![GROUND; self.unknowns];
        let mut total = 0;
        for column in 0..self.unknowns {
            mark[column] = column;
            for &row in &self.upper_row[self.upper_start[column]..self.upper_start[column + 1]] {
                let mut at = row;
                while at < self.eliminated && mark[at] != column {
                    if self.parent[at] == GROUND {
                        self.parent[at] = column;
                    }
                    count[at] += 1;
                    total += 1;
                    mark[at] = column;
                    at = self.parent[at];
                }
            }
            if total > MAX_ENTRIES {
                return Err(TooMeshed);
            }
        }
        for (column, &entries) in count.iter().enumerate() {
            self.column_start[column + 1] = self.column_start[column] + entries;
        }
        Ok(())
    }

    /// Factorises for one conductance an edge, in the order of the edges given to [`Pattern::new`].
    pub(super) fn factor(&self, conductances: &[f64]) -> Result<Factor, NotDefinite> {
        let mut factor = Factor::default();
        self.factor_into(conductances, &mut factor)?;
        Ok(factor)
    }

    /// Factorises into space that is already there.
    pub(super) fn factor_into(
        &self,
        conductances: &[f64],
        factor: &mut Factor,
    ) -> Result<(), NotDefinite> {
        let entries = self.column_start[self.eliminated];
        let Factor {
            row,
            value,
            diagonal,
            left,
            work,
        } = factor;
        reset(row, entries, 0);
        reset(value, entries, 0.0);
        reset(diagonal, self.unknowns, 0.0);
        reset(&mut work.upper, self.upper_row.len(), 0.0);
        reset(&mut work.sum, self.unknowns, 0.0);
        reset(&mut work.reach, self.unknowns, 0);
        reset(&mut work.mark, self.unknowns, GROUND);
        reset(&mut work.filled, self.eliminated, 0);
        left.clear();
        for (entry, &conductance) in self.edges.iter().zip(conductances) {
            match *entry {
                Entry::Nothing => {}
                Entry::Diagonal(at) => diagonal[at] += conductance,
                Entry::Pair(a, b, slot) => {
                    diagonal[a] += conductance;
                    diagonal[b] += conductance;
                    work.upper[slot] -= conductance;
                }
            }
        }
        for column in 0..self.unknowns {
            work.mark[column] = column;
            work.touched.clear();
            let mut top = self.unknowns;
            for slot in self.upper_start[column]..self.upper_start[column + 1] {
                let first = self.upper_row[slot];
                work.sum[first] += work.upper[slot];
                if first >= self.eliminated && work.mark[first] != column {
                    work.mark[first] = column;
                    work.touched.push(first);
                }
                let mut at = first;
                let mut length = 0;
                while at < self.eliminated && work.mark[at] != column {
                    work.reach[length] = at;
                    length += 1;
                    work.mark[at] = column;
                    at = self.parent[at];
                }
                while length > 0 {
                    length -= 1;
                    top -= 1;
                    work.reach[top] = work.reach[length];
                }
            }
            for &at in &work.reach[top..] {
                let sum = std::mem::take(&mut work.sum[at]);
                let start = self.column_start[at];
                let end = start + work.filled[at];
                for entry in start..end {
                    let target = row[entry];
                    work.sum[target] -= value[entry] * sum;
                    if target >= self.eliminated && work.mark[target] != column {
                        work.mark[target] = column;
                        work.touched.push(target);
                    }
                }
                let scaled = sum / diagonal[at];
                diagonal[column] -= scaled * sum;
                row[end] = column;
                value[end] = scaled;
                work.filled[at] += 1;
            }
            if column < self.eliminated {
                // A NaN must fail here too, so the test asks for what is wanted.
                if !(diagonal[column] > 0.0 && diagonal[column].is_finite()) {
                    return Err(NotDefinite(self.unknown_at[column]));
                }
            } else {
                for &target in &work.touched {
                    let entry = std::mem::take(&mut work.sum[target]);
                    left.push((self.unknown_at[target], self.unknown_at[column], entry));
                }
            }
        }
        Ok(())
    }

    /// Solves for the right side in place; nothing may have been kept.
    pub(super) fn solve(&self, factor: &Factor, side: &mut [f64]) {
        let mut placed = vec![0.0; self.unknowns];
        self.forward(factor, side, &mut placed);
        self.backward(factor, &mut placed, side);
    }

    /// Eliminates the right side: `placed` then holds, by place, what [`Pattern::backward`] needs,
    /// and for kept unknowns the injection that is left for them.
    pub(super) fn forward(&self, factor: &Factor, side: &[f64], placed: &mut [f64]) {
        for (at, &unknown) in self.unknown_at.iter().enumerate() {
            placed[at] = side[unknown];
        }
        for column in 0..self.eliminated {
            let value = placed[column];
            if value != 0.0 {
                for entry in self.column_start[column]..self.column_start[column + 1] {
                    placed[factor.row[entry]] -= factor.value[entry] * value;
                }
            }
        }
    }

    /// Finishes what [`Pattern::forward`] began; the places of kept unknowns hold their solution by now.
    pub(super) fn backward(&self, factor: &Factor, placed: &mut [f64], solution: &mut [f64]) {
        for column in (0..self.eliminated).rev() {
            let mut value = placed[column] / factor.diagonal[column];
            for entry in self.column_start[column]..self.column_start[column + 1] {
                value -= factor.value[entry] * placed[factor.row[entry]];
            }
            placed[column] = value;
        }
        for (at, &unknown) in self.unknown_at.iter().enumerate() {
            solution[unknown] = placed[at];
        }
    }

    /// Number of entries of L.
    pub(super) fn entries(&self) -> usize {
        self.column_start[self.eliminated]
    }

    /// The place of an unknown in the order, for the arrays of [`Pattern::forward`].
    pub(super) fn place(&self, unknown: usize) -> usize {
        self.place[unknown]
    }
}

fn reset<T: Clone>(values: &mut Vec<T>, length: usize, to: T) {
    values.clear();
    values.resize(length, to);
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    /// A repeatable stream of numbers from 0 to 1 (Knuth's 64-bit congruential generator).
    struct Stream(u64);

    impl Stream {
        fn next(&mut self) -> f64 {
            self.0 = self
                .0
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (self.0 >> 11) as f64 / (1u64 << 53) as f64
        }
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        fn below(&mut self, limit: usize) -> usize {
            (self.next() * limit as f64) as usize
        }
    }

    /// A connected network of resistors with one grounded edge: a random tree and some ties.
    fn network(
        stream: &mut Stream,
        unknowns: usize,
        ties: usize,
    ) -> (Vec<(usize, usize)>, Vec<f64>) {
        let mut edges = vec![(0, GROUND)];
        for node in 1..unknowns {
            edges.push((stream.below(node), node));
        }
        for _ in 0..ties {
            edges.push((stream.below(unknowns), stream.below(unknowns)));
        }
        let conductances = edges
            .iter()
            .map(|_| 10f64.powf(6.0 * stream.next() - 2.0))
            .collect();
        (edges, conductances)
    }

    /// Injection that the potentials cause, edge by edge.
    fn injection(edges: &[(usize, usize)], conductances: &[f64], potentials: &[f64]) -> Vec<f64> {
        let mut sums = vec![0.0; potentials.len()];
        let at = |node: usize| {
            if node == GROUND {
                0.0
            } else {
                potentials[node]
            }
        };
        for (&(a, b), &conductance) in edges.iter().zip(conductances) {
            let current = conductance * (at(a) - at(b));
            if a != GROUND {
                sums[a] += current;
            }
            if b != GROUND {
                sums[b] -= current;
            }
        }
        sums
    }

    #[test]
    fn agrees_with_an_independent_sparse_solver() {
        let mut stream = Stream(7);
        for (unknowns, ties) in [(1, 0), (2, 3), (40, 0), (60, 12), (200, 40), (80, 400)] {
            let (edges, conductances) = network(&mut stream, unknowns, ties);
            let side: Vec<f64> = (0..unknowns).map(|_| stream.next() - 0.5).collect();
            let pattern = Pattern::new(unknowns, &edges, &[]).expect("small");
            let factor = pattern.factor(&conductances).expect("grounded");
            let mut ours = side.clone();
            pattern.solve(&factor, &mut ours);

            let mut entries = BTreeMap::new();
            let mut add = |row: usize, column: usize, value: f64| {
                *entries.entry((column, row)).or_insert(0.0) += value;
            };
            for (&(a, b), &conductance) in edges.iter().zip(&conductances) {
                if b == GROUND {
                    add(a, a, conductance);
                } else if a != b {
                    add(a, a, conductance);
                    add(b, b, conductance);
                    add(a, b, -conductance);
                    add(b, a, -conductance);
                }
            }
            let mut triplets = rsparse::data::Trpl::new();
            for (&(column, row), &value) in &entries {
                triplets.append(row, column, value);
            }
            let mut matrix = rsparse::data::Sprs::new();
            matrix.from_trpl(&triplets);
            let mut theirs = side.clone();
            rsparse::cholsol(&matrix, &mut theirs, -1).expect("the oracle solves it");
            for (node, (ours, theirs)) in ours.iter().zip(&theirs).enumerate() {
                assert!(
                    (ours - theirs).abs() <= 1e-7 * theirs.abs().max(1e-6),
                    "{unknowns} unknowns, {ties} ties, node {node}: {ours} against {theirs}"
                );
            }
            let back = injection(&edges, &conductances, &ours);
            for (got, wanted) in back.iter().zip(&side) {
                assert!((got - wanted).abs() < 1e-7, "{got} against {wanted}");
            }
        }
    }

    #[test]
    fn elimination_down_to_kept_unknowns_gives_the_same_answer() {
        let mut stream = Stream(11);
        for (unknowns, ties) in [(30, 0), (30, 10), (120, 40)] {
            let (edges, conductances) = network(&mut stream, unknowns, ties);
            let side: Vec<f64> = (0..unknowns).map(|_| stream.next() - 0.5).collect();
            let kept: Vec<bool> = (0..unknowns).map(|node| node % 7 == 3).collect();
            let pattern = Pattern::new(unknowns, &edges, &kept).expect("small");
            let factor = pattern.factor(&conductances).expect("grounded");
            let mut placed = vec![0.0; unknowns];
            pattern.forward(&factor, &side, &mut placed);

            let members: Vec<usize> = (0..unknowns).filter(|&node| kept[node]).collect();
            let index = |node: usize| members.iter().position(|&m| m == node).expect("kept");
            let mut rest_edges = Vec::new();
            let mut rest_values = Vec::new();
            let mut row_sums: Vec<f64> = members
                .iter()
                .map(|&node| factor.diagonal[pattern.place(node)])
                .collect();
            for &(a, b, entry) in &factor.left {
                rest_edges.push((index(a), index(b)));
                rest_values.push(-entry);
                row_sums[index(a)] += entry;
                row_sums[index(b)] += entry;
            }
            for (node, &sum) in row_sums.iter().enumerate() {
                rest_edges.push((node, GROUND));
                rest_values.push(sum);
            }
            let rest = Pattern::new(members.len(), &rest_edges, &[]).expect("small");
            let rest_factor = rest.factor(&rest_values).expect("definite");
            let mut rest_side: Vec<f64> = members
                .iter()
                .map(|&node| placed[pattern.place(node)])
                .collect();
            rest.solve(&rest_factor, &mut rest_side);
            for (&node, &potential) in members.iter().zip(&rest_side) {
                placed[pattern.place(node)] = potential;
            }
            let mut ours = vec![0.0; unknowns];
            pattern.backward(&factor, &mut placed, &mut ours);

            let whole = Pattern::new(unknowns, &edges, &[]).expect("small");
            let whole_factor = whole.factor(&conductances).expect("grounded");
            let mut wanted = side.clone();
            whole.solve(&whole_factor, &mut wanted);
            for (got, wanted) in ours.iter().zip(&wanted) {
                assert!((got - wanted).abs() <= 1e-7 * wanted.abs().max(1e-3));
            }
        }
    }

    #[test]
    fn a_tree_fills_nothing() {
        let mut stream = Stream(3);
        let (edges, _) = network(&mut stream, 500, 0);
        let pattern = Pattern::new(500, &edges, &[]).expect("small");
        assert_eq!(pattern.column_start[500], 499);
    }

    #[test]
    fn a_star_and_its_hub_stay_linear() {
        let edges: Vec<_> = std::iter::once((0, GROUND))
            .chain((1..20_000).map(|leaf| (0, leaf)))
            .collect();
        let pattern = Pattern::new(20_000, &edges, &[]).expect("a star is no mesh");
        assert_eq!(pattern.column_start[20_000], 19_999);
    }

    #[test]
    fn loads_between_two_buses_fill_little() {
        // Each circuit: feed bus, three nodes out, one node back, negative bus; its load joins the two sides.
        let circuits = 5_000;
        let mut edges = vec![(0, GROUND), (0, 1)];
        for circuit in 0..circuits {
            let first = 2 + 4 * circuit;
            edges.extend([(0, first), (first, first + 1), (first + 1, first + 2)]);
            edges.extend([(first + 2, first + 3), (first + 3, 1)]);
        }
        let unknowns = 2 + 4 * circuits;
        let pattern = Pattern::new(unknowns, &edges, &[]).expect("two buses are no mesh");
        assert!(pattern.column_start[unknowns] <= 2 * unknowns);
    }

    #[test]
    fn an_ungrounded_island_is_not_definite() {
        let pattern = Pattern::new(2, &[(0, 1)], &[]).expect("small");
        assert!(pattern.factor(&[1.0]).is_err());
    }
}
