//! The order of the bars from left to right: what would cross a bar is turned, put below or broken off.

use super::{End, Grid, Planner, Seg};
use std::collections::BTreeSet;

impl Planner<'_> {
    /// Turns or breaks segments that would want a bar both left and right of another.
    pub(super) fn untangle(&mut self, grid: &mut Grid) {
        if grid.is_ordered() {
            return;
        }
        let mut after: Vec<Vec<usize>> = vec![Vec::new(); grid.pieces.len()];
        let orders = std::mem::take(&mut grid.order);
        for (left, right) in orders {
            if left != right && !leads_to(&after, right, left) {
                after[left].push(right);
                grid.order.push((left, right));
            }
        }
        for seg in 0..grid.segs.len() {
            let (Some(left), Some(right)) = grid.bars_of(seg) else {
                continue;
            };
            if left != right && !leads_to(&after, right, left) {
                after[left].push(right);
            } else if left != right && !leads_to(&after, left, right) {
                let record = &mut grid.segs[seg];
                std::mem::swap(&mut record.left, &mut record.right);
                record.flipped = !record.flipped;
                after[right].push(left);
            } else {
                self.part(grid, seg);
            }
        }
    }

    /// Breaks a segment in two that stand on two rows.
    pub(super) fn part(&mut self, grid: &mut Grid, seg: usize) {
        let record = grid.segs[seg].clone();
        let (Some(chain), Some(row)) = (record.chain, grid.row_of(seg)) else {
            return;
        };
        if self.broken[chain].is_some() {
            return;
        }
        let kept = usize::from(record.flipped);
        grid.segs[seg] = self.near_part(chain, kept, record.left);
        let (items, reference) = self.far_part(chain, kept);
        grid.insert(
            row + 1,
            Seg {
                chain: Some(chain),
                items,
                flipped: record.flipped,
                left: End::Ref(reference),
                right: record.right,
            },
        );
        grid.fit_spans();
    }

    /// Orders the bars from left to right, and breaks off what would still cross a bar.
    pub(super) fn straighten(&mut self, grid: &mut Grid) {
        // Each pass adds orders or breaks segments; both run out.
        for _ in 0..=grid.segs.len() + grid.pieces.len() {
            grid.fit_spans();
            let crossings = grid.crossings(&grid.depths());
            if crossings.is_empty() {
                return;
            }
            let mut after = grid.followers();
            let mut broken = BTreeSet::new();
            for (seg, bar) in crossings {
                if broken.contains(&seg) {
                    continue;
                }
                let (Some(left), Some(right)) = grid.bars_of(seg) else {
                    continue;
                };
                if after[right].contains(&bar) || after[bar].contains(&left) {
                    continue;
                }
                if !leads_to(&after, bar, right) {
                    grid.order.push((right, bar));
                    after[right].push(bar);
                } else if !leads_to(&after, left, bar) {
                    grid.order.push((bar, left));
                    after[bar].push(left);
                } else {
                    // Both halves stay on their row, so the bars keep their order.
                    grid.order.push((left, right));
                    self.jump(grid, seg);
                    broken.insert(seg);
                }
            }
        }
    }

    /// Breaks a segment in the middle: each half keeps its bar, on the same row.
    pub(super) fn jump(&mut self, grid: &mut Grid, seg: usize) {
        let record = grid.segs[seg].clone();
        let Some(chain) = record.chain else { return };
        if self.broken[chain].is_some() {
            // Already broken: let the free end go.
            grid.segs[seg].right = End::Open;
            return;
        }
        let kept = usize::from(record.flipped);
        let near = self.near_part(chain, kept, record.left);
        let (items, reference) = self.far_part(chain, kept);
        grid.segs[seg] = near;
        let far = grid.segs.len();
        grid.segs.push(Seg {
            chain: Some(chain),
            items,
            flipped: record.flipped,
            left: End::Ref(reference),
            right: record.right,
        });
        if let Some(row) = grid.row_of(seg)
            && let Some(at) = grid.rows[row].iter().position(|&known| known == seg)
        {
            grid.rows[row].insert(at + 1, far);
        }
    }
}

/// Whether one bar must stand left of another.
pub(super) fn leads_to(after: &[Vec<usize>], from: usize, to: usize) -> bool {
    let mut seen = vec![false; after.len()];
    let mut stack = vec![from];
    while let Some(piece) = stack.pop() {
        if piece == to {
            return true;
        }
        if !std::mem::replace(&mut seen[piece], true) {
            stack.extend(&after[piece]);
        }
    }
    false
}
