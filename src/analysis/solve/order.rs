//! The order in which unknowns are eliminated: minimum degree, leaves first.
//!
//! Wiring is nearly a tree. Leaves are peeled off first in linear time, hubs with thousands of leaves included.
//! What remains is eliminated by smallest degree on the graph itself; edges that fill adds are remembered in a set,
//! so a hub's long list is never searched. The work is bounded by the fill, and fill is bounded by the caller.

use super::ldlt::{GROUND, TooMeshed};
use std::collections::HashSet;
use std::hash::{BuildHasherDefault, Hasher};

/// Pairs of neighbours that elimination may look at; each costs some tens of nanoseconds.
const MAX_PAIRS: usize = 4_000_000;

/// Orders the unknowns; `kept` ones (one flag an unknown, or none at all) come last, in their own order.
///
/// # Errors
/// `TooMeshed` when elimination would add more than `max_fill` edges, or look at more than [`MAX_PAIRS`] pairs.
pub(super) fn minimum_degree(
    unknowns: usize,
    edges: &[(usize, usize)],
    kept: &[bool],
    max_fill: usize,
) -> Result<Vec<usize>, TooMeshed> {
    let is_kept = |node: usize| kept.get(node).copied().unwrap_or(false);
    let kept_count = kept.iter().filter(|&&keep| keep).count();
    let mut graph = Graph::new(unknowns, edges);
    let mut order = Vec::with_capacity(unknowns);

    let mut leaves: Vec<usize> = (0..unknowns)
        .rev()
        .filter(|&node| !is_kept(node) && graph.degree[node] <= 1)
        .collect();
    while let Some(leaf) = leaves.pop() {
        if graph.gone[leaf] {
            continue;
        }
        order.push(leaf);
        graph.gone[leaf] = true;
        if graph.degree[leaf] == 1 {
            let next = graph.mixed[leaf];
            graph.degree[next] -= 1;
            graph.mixed[next] ^= leaf;
            if graph.degree[next] <= 1 && !is_kept(next) {
                leaves.push(next);
            }
        }
    }

    let mut alive: usize = (0..unknowns)
        .filter(|&node| !graph.gone[node] && !is_kept(node))
        .count();
    if alive > 0 {
        graph.remember_edges();
    }
    let mut buckets: Vec<Vec<usize>> = vec![Vec::new(); unknowns + 1];
    for node in (0..unknowns).rev() {
        if !graph.gone[node] && !is_kept(node) {
            buckets[graph.degree[node]].push(node);
        }
    }
    let mut lowest = 0;
    let mut fill = 0;
    let mut pairs = 0;
    let mut around = Vec::new();
    while alive > 0 {
        let Some(node) = buckets[lowest].pop() else {
            lowest += 1;
            continue;
        };
        if graph.gone[node] || graph.degree[node] != lowest {
            continue;
        }
        if lowest + 1 >= alive + kept_count {
            // Everything left is joined to everything left, so any order does.
            order.extend((0..unknowns).filter(|&rest| !graph.gone[rest] && !is_kept(rest)));
            break;
        }
        graph.neighbours(node, &mut around);
        order.push(node);
        graph.gone[node] = true;
        alive -= 1;
        for &neighbour in &around {
            graph.degree[neighbour] -= 1;
        }
        for (position, &a) in around.iter().enumerate() {
            for &b in &around[position + 1..] {
                if is_kept(a) && is_kept(b) {
                    continue;
                }
                if graph.join(a, b) {
                    fill += 1;
                }
            }
        }
        pairs += around.len() * around.len() / 2;
        if fill > max_fill || pairs > MAX_PAIRS {
            return Err(TooMeshed);
        }
        for &neighbour in &around {
            if !is_kept(neighbour) {
                let degree = graph.degree[neighbour];
                buckets[degree].push(neighbour);
                lowest = lowest.min(degree);
            }
        }
    }
    order.extend((0..unknowns).filter(|&node| is_kept(node)));
    Ok(order)
}

/// The graph that elimination works on.
struct Graph {
    /// Number of neighbours that are not eliminated.
    degree: Vec<usize>,
    /// Exclusive or of the neighbours that are not eliminated: with one left, it is that one.
    mixed: Vec<usize>,
    gone: Vec<bool>,
    /// First half edge of each node.
    first: Vec<usize>,
    /// Half edges: the neighbour, and the next half edge of the same node.
    halves: Vec<(usize, usize)>,
    joined: HashSet<u128, BuildHasherDefault<PairHasher>>,
}

impl Graph {
    fn new(unknowns: usize, edges: &[(usize, usize)]) -> Self {
        let mut graph = Self {
            degree: vec![0; unknowns],
            mixed: vec![0; unknowns],
            gone: vec![false; unknowns],
            first: vec![GROUND; unknowns],
            halves: Vec::with_capacity(2 * edges.len()),
            joined: HashSet::default(),
        };
        // Edges are sorted into rows by their smaller end, so that repeated ones are seen.
        let real = |&(a, b): &(usize, usize)| a != GROUND && b != GROUND && a != b;
        let mut start = vec![0usize; unknowns + 1];
        for &(a, b) in edges.iter().filter(|edge| real(edge)) {
            start[a.min(b) + 1] += 1;
        }
        for node in 0..unknowns {
            start[node + 1] += start[node];
        }
        let mut next = start.clone();
        let mut far = vec![0; start[unknowns]];
        for &(a, b) in edges.iter().filter(|edge| real(edge)) {
            let near = a.min(b);
            far[next[near]] = a.max(b);
            next[near] += 1;
        }
        let mut seen_from = vec![GROUND; unknowns];
        for near in 0..unknowns {
            for &other in &far[start[near]..start[near + 1]] {
                if seen_from[other] != near {
                    seen_from[other] = near;
                    graph.link(near, other);
                }
            }
        }
        graph
    }

    fn link(&mut self, a: usize, b: usize) {
        for (from, to) in [(a, b), (b, a)] {
            self.halves.push((to, self.first[from]));
            self.first[from] = self.halves.len() - 1;
            self.degree[from] += 1;
            self.mixed[from] ^= to;
        }
    }

    /// Puts every edge between nodes that are not eliminated into the set.
    fn remember_edges(&mut self) {
        for node in 0..self.first.len() {
            if self.gone[node] {
                continue;
            }
            let mut half = self.first[node];
            while half != GROUND {
                let (other, next) = self.halves[half];
                if !self.gone[other] && node < other {
                    self.joined.insert(pair(node, other));
                }
                half = next;
            }
        }
    }

    /// Joins two nodes unless they are joined; tells whether it did.
    fn join(&mut self, a: usize, b: usize) -> bool {
        let new = self.joined.insert(pair(a.min(b), a.max(b)));
        if new {
            self.link(a, b);
        }
        new
    }

    fn neighbours(&self, node: usize, into: &mut Vec<usize>) {
        into.clear();
        let mut half = self.first[node];
        while half != GROUND {
            let (other, next) = self.halves[half];
            if !self.gone[other] {
                into.push(other);
            }
            half = next;
        }
    }
}

fn pair(a: usize, b: usize) -> u128 {
    (a as u128) << 64 | b as u128
}

/// Mixes a pair of indices; the set is asked for membership only, never walked, so its order shows nowhere.
#[derive(Default)]
struct PairHasher(u64);

impl Hasher for PairHasher {
    fn finish(&self) -> u64 {
        self.0
    }
    fn write(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            self.0 = (self.0 ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
        }
    }
    fn write_u128(&mut self, value: u128) {
        let low = u64::try_from(value & u128::from(u64::MAX)).unwrap_or(0);
        let high = u64::try_from(value >> 64).unwrap_or(0);
        let mixed = low
            .wrapping_add(high.wrapping_mul(0x9e37_79b9_7f4a_7c15))
            .wrapping_mul(0xd6e8_feb8_6659_fd93);
        self.0 = mixed ^ (mixed >> 32);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_unknown_comes_once_and_kept_ones_last() {
        let edges = [(0, 1), (1, 2), (2, 3), (3, 0), (1, 3), (4, 1), (5, GROUND)];
        let kept = [false, true, false, false, false, true];
        let order = minimum_degree(6, &edges, &kept, 100).expect("small");
        let mut sorted = order.clone();
        sorted.sort_unstable();
        assert_eq!(sorted, [0, 1, 2, 3, 4, 5]);
        assert_eq!(order[4..], [1, 5]);
    }

    #[test]
    fn a_complete_graph_is_refused_when_fill_is_bounded() {
        // A grid has no order without fill.
        let side = 12;
        let at = |row: usize, column: usize| row * side + column;
        let mut edges = Vec::new();
        for row in 0..side {
            for column in 0..side {
                if row + 1 < side {
                    edges.push((at(row, column), at(row + 1, column)));
                }
                if column + 1 < side {
                    edges.push((at(row, column), at(row, column + 1)));
                }
            }
        }
        assert!(minimum_degree(side * side, &edges, &[], 10).is_err());
        assert!(minimum_degree(side * side, &edges, &[], 10_000).is_ok());
    }
}
