//! Rows and bars of one grid: what stands where, and what can share a row.

use super::{End, Grid, Seg};
use crate::drawing::circuit::{Circuit, Item};
use std::collections::VecDeque;

impl Seg {
    pub(super) fn has_load(&self, circuit: &Circuit) -> bool {
        self.chain.is_some_and(|chain| {
            circuit.chains[chain].items[self.items.clone()]
                .iter()
                .any(|item| matches!(item, Item::Cell(cell) if cell.kind.is_load()))
        })
    }
}

impl Grid {
    /// Adds a row at the end.
    pub(super) fn push(&mut self, seg: Seg) {
        let row = self.rows.len();
        self.insert(row, seg);
    }

    /// Adds a row before another.
    pub(super) fn insert(&mut self, row: usize, seg: Seg) {
        let index = self.segs.len();
        self.segs.push(seg);
        self.rows.insert(row.min(self.rows.len()), vec![index]);
        for piece in &mut self.pieces {
            if piece.first != usize::MAX && piece.first >= row {
                piece.first += 1;
            }
            if piece.first != usize::MAX && piece.last >= row {
                piece.last += 1;
            }
        }
    }

    pub(super) fn row_of(&self, seg: usize) -> Option<usize> {
        self.rows.iter().position(|row| row.contains(&seg))
    }

    /// The last row that ends at a negative hub, from the right or the left.
    pub(super) fn last_row_of(&self, hub: usize) -> Option<usize> {
        self.rows.iter().rposition(|row| {
            row.iter().any(|&seg| {
                let seg = &self.segs[seg];
                matches!(seg.right, End::Hub(known, _) if known == hub)
            })
        })
    }

    /// Whether a bar is that of a positive hub which another hub of the grid feeds.
    pub(in crate::drawing) fn fed_here(&self, piece: usize) -> bool {
        let hub = self.pieces[piece].hub;
        self.children.contains(&hub)
    }

    /// Sets each bar's first and last row.
    pub(in crate::drawing) fn fit_spans(&mut self) {
        for piece in &mut self.pieces {
            (piece.first, piece.last) = (usize::MAX, 0);
        }
        for (row, segs) in self.rows.iter().enumerate() {
            for &seg in segs {
                for end in [self.segs[seg].left, self.segs[seg].right] {
                    if let End::Piece(piece, _) = end {
                        let piece = &mut self.pieces[piece];
                        piece.first = piece.first.min(row);
                        piece.last = piece.last.max(row);
                    }
                }
            }
        }
    }

    pub(super) fn bars_of(&self, seg: usize) -> (Option<usize>, Option<usize>) {
        let bar = |end: End| match end {
            End::Piece(piece, _) => Some(piece),
            _ => None,
        };
        (bar(self.segs[seg].left), bar(self.segs[seg].right))
    }

    /// Steps from the left that each bar stands at: more than that of every bar that must be left of it.
    pub(in crate::drawing) fn depths(&self) -> Vec<usize> {
        let count = self.pieces.len();
        let mut after: Vec<Vec<(usize, usize)>> = vec![Vec::new(); count];
        let mut waits = vec![0usize; count];
        let edges = self
            .segs
            .iter()
            .enumerate()
            .filter_map(|(index, seg)| {
                let (left, right) = self.bars_of(index);
                Some((left?, right?, 1 + seg.items.len()))
            })
            .chain(self.order.iter().map(|&(left, right)| (left, right, 1)));
        for (left, right, step) in edges {
            if left != right {
                after[left].push((right, step));
                waits[right] += 1;
            }
        }
        let mut depth = vec![0; count];
        let mut ready: VecDeque<usize> = (0..count).filter(|&piece| waits[piece] == 0).collect();
        while let Some(piece) = ready.pop_front() {
            for &(right, step) in &after[piece] {
                depth[right] = depth[right].max(depth[piece] + step);
                waits[right] -= 1;
                if waits[right] == 0 {
                    ready.push_back(right);
                }
            }
        }
        depth
    }

    /// Whether no bar would have to stand both left and right of another.
    pub(super) fn is_ordered(&self) -> bool {
        let after = self.followers();
        let mut waits = vec![0usize; self.pieces.len()];
        for &right in after.iter().flatten() {
            waits[right] += 1;
        }
        let mut ready: Vec<usize> = (0..waits.len())
            .filter(|&piece| waits[piece] == 0)
            .collect();
        let mut done = 0;
        while let Some(piece) = ready.pop() {
            done += 1;
            for &right in &after[piece] {
                waits[right] -= 1;
                if waits[right] == 0 {
                    ready.push(right);
                }
            }
        }
        done == self.pieces.len()
    }

    /// The bars that must stand right of each bar.
    pub(super) fn followers(&self) -> Vec<Vec<usize>> {
        let mut after: Vec<Vec<usize>> = vec![Vec::new(); self.pieces.len()];
        for seg in 0..self.segs.len() {
            if let (Some(left), Some(right)) = self.bars_of(seg) {
                after[left].push(right);
            }
        }
        for &(left, right) in &self.order {
            after[left].push(right);
        }
        after
    }

    /// Left and right limits of a segment in steps; free ends reach as far as their parts.
    pub(super) fn reach(&self, seg: usize, depth: &[usize]) -> (usize, usize) {
        let length = 1 + self.segs[seg].items.len();
        match self.bars_of(seg) {
            (Some(left), Some(right)) => (depth[left], depth[right]),
            (Some(left), None) => (depth[left], depth[left] + length),
            (None, Some(right)) => (depth[right].saturating_sub(length), depth[right]),
            (None, None) => (0, length),
        }
    }

    /// Whether no segment of a row passes a place.
    pub(super) fn clear_at(&self, row: usize, place: usize, depth: &[usize]) -> bool {
        self.rows[row].iter().all(|&seg| {
            let (left, right) = self.reach(seg, depth);
            !(left < place && place < right)
        })
    }

    /// Segments between two bars that cross a third, and that bar.
    pub(super) fn crossings(&self, depth: &[usize]) -> Vec<(usize, usize)> {
        let mut found = Vec::new();
        let mut open: Vec<usize> = Vec::new();
        let mut starts: Vec<Vec<usize>> = vec![Vec::new(); self.rows.len()];
        for (piece, record) in self.pieces.iter().enumerate() {
            if record.first != usize::MAX {
                starts[record.first].push(piece);
            }
        }
        for (row, segs) in self.rows.iter().enumerate() {
            open.retain(|&piece| self.pieces[piece].last >= row);
            open.extend(&starts[row]);
            for &seg in segs {
                let (Some(left), Some(right)) = self.bars_of(seg) else {
                    continue;
                };
                found.extend(
                    open.iter()
                        .copied()
                        .filter(|&bar| {
                            bar != left
                                && bar != right
                                && (depth[left], left) < (depth[bar], bar)
                                && (depth[bar], bar) < (depth[right], right)
                        })
                        .map(|bar| (seg, bar)),
                );
            }
        }
        found
    }

    /// Puts neighbouring rows together where nothing on one is in the way of the other.
    pub(super) fn merge_rows(&mut self, loaded: &[bool], single_references: bool) {
        self.fit_spans();
        let depth = self.depths();
        let mut merged: Vec<Vec<usize>> = Vec::with_capacity(self.rows.len());
        for row in std::mem::take(&mut self.rows) {
            let fits = merged.last().is_some_and(|above| {
                above.iter().all(|&a| {
                    row.iter()
                        // Loads stand in one column, so no row has two of them.
                        .all(|&b| {
                            !(loaded[a] && loaded[b])
                                && self.side_by_side(a, b, &depth, single_references)
                        })
                })
            });
            if let (true, Some(above)) = (fits, merged.last_mut()) {
                above.extend(row);
                above.sort_by_key(|&seg| self.reach(seg, &depth));
            } else {
                merged.push(row);
            }
        }
        self.rows = merged;
    }

    /// Whether two segments can share a row: one ends where the other begins, or before.
    pub(super) fn side_by_side(
        &self,
        a: usize,
        b: usize,
        depth: &[usize],
        single_references: bool,
    ) -> bool {
        // The halves of a folded rung would be as wide as before.
        if self.segs[a].chain.is_some() && self.segs[a].chain == self.segs[b].chain {
            return false;
        }
        let hangs = |left: usize, right: usize| match (self.bars_of(left), self.bars_of(right)) {
            ((Some(one), None), (None, Some(two))) => (depth[one], one) < (depth[two], two),
            _ => false,
        };
        let (left, right) = if self.reach(a, depth) <= self.reach(b, depth) {
            (a, b)
        } else {
            (b, a)
        };
        let (_, left_bar) = self.bars_of(left);
        let (right_bar, _) = self.bars_of(right);
        match (left_bar, right_bar) {
            (Some(one), Some(two)) if one == two => true,
            (Some(one), Some(two)) => (depth[one], one) < (depth[two], two),
            (None, None) if single_references => false,
            // Two references face each other: their bars can stand as far apart as they need.
            (None, None) if hangs(left, right) => true,
            // A free end needs a little room before what follows.
            _ => self.reach(left, depth).1 < self.reach(right, depth).0,
        }
    }
}
