//! A network of conductances reduced node by node, kept, and redone only where a conductance changed.
//!
//! A node is taken out by the star-mesh transformation: what it joined is then joined directly, by the product of two
//! conductances over the sum of all. Nothing is ever subtracted, so a conductance of zero stays exactly zero, and the
//! last node of an island shows by a sum of exactly zero: an opened switch changes values, never the pattern.
//! A node's new joins go to the next node that is taken out among them, its parent; a change therefore reaches the
//! parents of its nodes and no other (the elimination tree: Davis, "Direct Methods for Sparse Linear Systems", SIAM
//! 2006, chapter 4). A node that hangs on one other passes nothing on.
//! This file knows numbers only; it decides nothing about circuits.

use super::ldlt::{GROUND, TooMeshed};
use super::order;

/// Joins between later nodes that are kept in all; more are refused, for they would take too much memory.
const MAX_PAIRS: usize = 2_000_000;

/// A reduced network over numbered nodes, which stand in the order in which they are taken out: at their places.
#[derive(Clone, Debug)]
pub(super) struct Star {
    place: Vec<usize>,
    /// By place: where its later neighbours stand in `rows`; the first of them is its parent.
    start: Vec<usize>,
    rows: Vec<usize>,
    /// By entry of `rows`: where that neighbour stands among the parent's own; the parent itself has none.
    into: Vec<usize>,
    /// By entry of `rows`: share of what enters the node that goes on to that neighbour.
    share: Vec<f64>,
    /// By place: one over the sum of its conductances, zero for the last node of an island.
    inverse: Vec<f64>,
    /// By place: the edges that are counted there, with the entry of the far end.
    own_start: Vec<usize>,
    own: Vec<(usize, usize)>,
    /// By place: the nodes that pass joins on to it.
    givers_start: Vec<usize>,
    givers: Vec<usize>,
    /// By place: the joins between its later neighbours, first all with the first, second and so on.
    pair_start: Vec<usize>,
    pair: Vec<f64>,
    conductance: Vec<f64>,
    /// By edge: the place where it is counted; none for an edge from a node to itself.
    counted_at: Vec<usize>,
    changed: Vec<bool>,
    column: Vec<f64>,
}

/// What cannot be computed: a conductance that is no finite number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct NotFinite;

impl Star {
    /// Prepares a network in which every edge has no conductance yet.
    ///
    /// # Errors
    /// [`TooMeshed`] when the reduced network would not fit time or memory.
    pub(super) fn new(nodes: usize, edges: &[(usize, usize)]) -> Result<Self, TooMeshed> {
        let order = order::minimum_degree(nodes, edges, &[], MAX_PAIRS)?;
        let mut place = vec![0; nodes];
        for (at, &node) in order.iter().enumerate() {
            place[node] = at;
        }
        let mut counted_at = Vec::with_capacity(edges.len());
        let mut far = Vec::with_capacity(edges.len());
        let mut own_start = vec![0; nodes + 1];
        for &(a, b) in edges {
            let (near, other) = (place[a].min(place[b]), place[a].max(place[b]));
            counted_at.push(if near == other { GROUND } else { near });
            far.push(other);
            if near != other {
                own_start[near + 1] += 1;
            }
        }
        for at in 0..nodes {
            own_start[at + 1] += own_start[at];
        }
        let mut next = own_start.clone();
        let mut own = vec![(0, 0); own_start[nodes]];
        for (edge, &near) in counted_at.iter().enumerate() {
            if near != GROUND {
                own[next[near]] = (edge, far[edge]);
                next[near] += 1;
            }
        }
        let mut star = Self {
            place,
            start: Vec::with_capacity(nodes + 1),
            rows: Vec::with_capacity(edges.len()),
            into: Vec::new(),
            share: Vec::new(),
            inverse: vec![0.0; nodes],
            own_start,
            own,
            givers_start: vec![0; nodes + 1],
            givers: Vec::new(),
            pair_start: Vec::with_capacity(nodes + 1),
            pair: Vec::new(),
            conductance: vec![0.0; edges.len()],
            counted_at,
            changed: vec![true; nodes],
            column: Vec::new(),
        };
        star.find_rows(nodes)?;
        Ok(star)
    }

    /// Finds the later neighbours of every node, and which nodes pass joins on to which.
    fn find_rows(&mut self, nodes: usize) -> Result<(), TooMeshed> {
        let mut givers: Vec<Vec<usize>> = vec![Vec::new(); nodes];
        let mut seen = vec![GROUND; nodes];
        let mut pairs = 0;
        let mut widest = 0;
        self.start.push(0);
        self.pair_start.push(0);
        for at in 0..nodes {
            let first = self.rows.len();
            seen[at] = at;
            for entry in self.own_start[at]..self.own_start[at + 1] {
                let row = self.own[entry].1;
                if seen[row] != at {
                    seen[row] = at;
                    self.rows.push(row);
                }
            }
            for &giver in &givers[at] {
                for entry in self.start[giver]..self.start[giver + 1] {
                    let row = self.rows[entry];
                    if seen[row] != at {
                        seen[row] = at;
                        self.rows.push(row);
                    }
                }
            }
            self.rows[first..].sort_unstable();
            let width = self.rows.len() - first;
            widest = widest.max(width);
            pairs += width * width.saturating_sub(1) / 2;
            if pairs > MAX_PAIRS {
                return Err(TooMeshed);
            }
            if width > 1 {
                givers[self.rows[first]].push(at);
            }
            self.start.push(self.rows.len());
            self.pair_start.push(pairs);
        }
        for (at, givers) in givers.iter().enumerate() {
            let rows = &self.rows[self.start[at]..self.start[at + 1]];
            for (_, far) in &mut self.own[self.own_start[at]..self.own_start[at + 1]] {
                *far = rows.partition_point(|row| row < far);
            }
            let parents = match rows.first() {
                Some(&parent) => &self.rows[self.start[parent]..self.start[parent + 1]],
                None => &[],
            };
            // Both lists ascend, and the parent's holds all of the node's but the parent itself.
            let mut after = 0;
            for (position, &row) in rows.iter().enumerate() {
                if position == 0 {
                    self.into.push(GROUND);
                    continue;
                }
                while parents[after] != row {
                    after += 1;
                }
                self.into.push(after);
            }
            self.givers.extend(givers);
            self.givers_start[at + 1] = self.givers.len();
        }
        self.share = vec![0.0; self.rows.len()];
        self.pair = vec![0.0; pairs];
        self.column = vec![0.0; widest];
        Ok(())
    }

    /// Place of a node, by which the arrays of the other methods are ordered.
    pub(super) fn place(&self, node: usize) -> usize {
        self.place[node]
    }

    /// Conductance of an edge, in siemens.
    pub(super) fn conductance(&self, edge: usize) -> f64 {
        self.conductance[edge]
    }

    /// Sets the conductance of an edge; [`Star::reduce`] then takes it into account.
    pub(super) fn set(&mut self, edge: usize, siemens: f64) {
        if self.conductance[edge].to_bits() == siemens.to_bits() {
            return;
        }
        self.conductance[edge] = siemens;
        if self.counted_at[edge] != GROUND {
            self.changed[self.counted_at[edge]] = true;
        }
    }

    /// Takes out anew every node that a change has reached; gives how many.
    pub(super) fn reduce(&mut self) -> Result<usize, NotFinite> {
        let mut redone = 0;
        for at in 0..self.changed.len() {
            if self.changed[at] {
                self.changed[at] = false;
                redone += 1;
                self.take_out(at)?;
            }
        }
        Ok(redone)
    }

    fn take_out(&mut self, at: usize) -> Result<(), NotFinite> {
        let (first, last) = (self.start[at], self.start[at + 1]);
        let width = last - first;
        let column = &mut self.column[..width];
        column.fill(0.0);
        for &(edge, row) in &self.own[self.own_start[at]..self.own_start[at + 1]] {
            column[row] += self.conductance[edge];
        }
        let (before, pair) = self.pair.split_at_mut(self.pair_start[at]);
        let pair = &mut pair[..self.pair_start[at + 1] - self.pair_start[at]];
        pair.fill(0.0);
        for &giver in &self.givers[self.givers_start[at]..self.givers_start[at + 1]] {
            let into = &self.into[self.start[giver]..self.start[giver + 1]];
            let mut given = before[self.pair_start[giver]..self.pair_start[giver + 1]].iter();
            for (b, &to_b) in into.iter().enumerate().skip(1) {
                for &to_a in &into[..b] {
                    let siemens = given.next().copied().unwrap_or_default();
                    if to_a == GROUND {
                        column[to_b] += siemens;
                    } else {
                        pair[packed(to_a, to_b)] += siemens;
                    }
                }
            }
        }
        let sum: f64 = column.iter().sum();
        let inverse = if sum > 0.0 { 1.0 / sum } else { 0.0 };
        if !(sum.is_finite() && inverse.is_finite()) {
            self.changed[at] = true;
            return Err(NotFinite);
        }
        self.inverse[at] = inverse;
        let share = &mut self.share[first..last];
        for (share, &siemens) in share.iter_mut().zip(column.iter()) {
            *share = siemens * inverse;
        }
        if width > 1 {
            let mut joins = pair.iter_mut();
            for b in 1..width {
                for (&siemens, join) in column[..b].iter().zip(joins.by_ref()) {
                    *join += siemens * share[b];
                }
            }
            self.changed[self.rows[first]] = true;
        }
        Ok(())
    }

    /// The last node of each node's island, by place.
    pub(super) fn islands(&self, last: &mut Vec<usize>) {
        let nodes = self.inverse.len();
        last.clear();
        last.resize(nodes, 0);
        for at in (0..nodes).rev() {
            let entries = self.start[at]..self.start[at + 1];
            let next = entries
                .clone()
                .zip(&self.share[entries])
                .find(|&(_, &share)| share > 0.0);
            last[at] = match next {
                Some((entry, _)) => last[self.rows[entry]],
                None => at,
            };
        }
    }

    /// The places on the ways from some places to the last nodes, in order.
    pub(super) fn above(&self, places: impl Iterator<Item = usize>) -> Vec<usize> {
        let mut seen = vec![false; self.inverse.len()];
        let mut above = Vec::new();
        for place in places {
            let mut at = place;
            while !seen[at] {
                seen[at] = true;
                above.push(at);
                match self.rows[self.start[at]..self.start[at + 1]].first() {
                    Some(&parent) => at = parent,
                    None => break,
                }
            }
        }
        above.sort_unstable();
        above
    }

    /// Passes what enters each node, in amperes by place, on to the later ones.
    pub(super) fn forward(&self, side: &mut [f64]) {
        for at in 0..side.len() {
            self.pass(at, side);
        }
    }

    /// The same for some places that hold all later ones of their own.
    pub(super) fn forward_over(&self, places: &[usize], side: &mut [f64]) {
        for &at in places {
            self.pass(at, side);
        }
    }

    fn pass(&self, at: usize, side: &mut [f64]) {
        let amps = side[at];
        if amps != 0.0 {
            for entry in self.start[at]..self.start[at + 1] {
                side[self.rows[entry]] += self.share[entry] * amps;
            }
        }
    }

    /// Potential of each node against the last one of its island, in volts by place, from what was passed on.
    pub(super) fn backward(&self, side: &[f64], volts: &mut [f64]) {
        for at in (0..side.len()).rev() {
            volts[at] = self.potential(at, side[at], volts);
        }
    }

    /// The same for some places that hold all later ones of their own; `more` is passed on besides.
    pub(super) fn backward_over(
        &self,
        places: &[usize],
        side: &[f64],
        more: &[f64],
        volts: &mut [f64],
    ) {
        for &at in places.iter().rev() {
            volts[at] = self.potential(at, side[at] + more[at], volts);
        }
    }

    fn potential(&self, at: usize, amps: f64, volts: &[f64]) -> f64 {
        let mut value = amps * self.inverse[at];
        for entry in self.start[at]..self.start[at + 1] {
            value += self.share[entry] * volts[self.rows[entry]];
        }
        value
    }
}

/// Where the join of two entries stands, the first below the second.
fn packed(a: usize, b: usize) -> usize {
    b * (b - 1) / 2 + a
}
