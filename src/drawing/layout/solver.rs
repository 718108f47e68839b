//! Columns from left to right, each so far from those before it as what stands between them needs.

use super::{Column, GAP, on_grid};
use crate::drawing::symbols::MODULE;
use std::collections::VecDeque;

/// Builds columns and the least distances between them.
pub(super) struct Solver {
    pub(super) columns: Vec<Column>,
    pub(super) edges: Vec<(usize, usize, f64)>,
}

impl Solver {
    pub(super) fn column(&mut self, width: f64) -> usize {
        self.columns.push(Column { x: 0.0, width });
        self.columns.len() - 1
    }

    pub(super) fn apart(&mut self, left: usize, right: usize, gap: f64) {
        if left != right {
            self.edges.push((left, right, gap));
        }
    }

    /// Puts every column as far left as it may stand; false when the distances contradict each other.
    pub(super) fn solve(&mut self) -> bool {
        let count = self.columns.len();
        let mut starts = vec![0usize; count + 1];
        for &(left, _, _) in &self.edges {
            starts[left + 1] += 1;
        }
        for index in 0..count {
            starts[index + 1] += starts[index];
        }
        let mut fill = starts.clone();
        let mut after = vec![(0usize, 0.0f64); self.edges.len()];
        let mut waits = vec![0usize; count];
        for &(left, right, gap) in &self.edges {
            after[fill[left]] = (right, gap);
            fill[left] += 1;
            waits[right] += 1;
        }
        let mut ready: VecDeque<usize> = (0..count).filter(|&column| waits[column] == 0).collect();
        let mut done = 0;
        while let Some(column) = ready.pop_front() {
            done += 1;
            let edge = self.columns[column].x + self.columns[column].width;
            for &(right, gap) in &after[starts[column]..starts[column + 1]] {
                let place = on_grid(edge + gap);
                if place > self.columns[right].x {
                    self.columns[right].x = place;
                }
                waits[right] -= 1;
                if waits[right] == 0 {
                    ready.push_back(right);
                }
            }
        }
        // Where distances contradict each other, what is left stands behind everything else.
        let mut edge = self
            .columns
            .iter()
            .map(|column| column.x + column.width)
            .fold(0.0, f64::max);
        for column in (0..count).filter(|&column| waits[column] > 0) {
            self.columns[column].x = on_grid(edge + GAP);
            edge = self.columns[column].x + self.columns[column].width;
        }
        done == count
    }
}

impl Solver {
    /// Draws columns that hang on something to their right as near to it as they may stand.
    pub(super) fn draw_right(&mut self, columns: &[usize]) {
        let mut wanted = vec![f64::INFINITY; self.columns.len()];
        let mut hangs = vec![false; self.columns.len()];
        for &column in columns {
            hangs[column] = true;
        }
        // A strip's columns are listed from left to right, so the last is settled first.
        let mut after: Vec<Vec<(usize, f64)>> = vec![Vec::new(); self.columns.len()];
        for &(left, right, gap) in self.edges.iter().filter(|edge| hangs[edge.0]) {
            after[left].push((right, gap));
        }
        let mut order: Vec<usize> = columns.to_vec();
        order.sort_by(|&a, &b| {
            self.columns[b]
                .x
                .total_cmp(&self.columns[a].x)
                .then(b.cmp(&a))
        });
        for column in order {
            let width = self.columns[column].width;
            for &(right, gap) in &after[column] {
                wanted[column] = wanted[column].min(self.columns[right].x - gap - width);
            }
            let place = (wanted[column] / MODULE + 1e-6).floor() * MODULE;
            if place.is_finite() && place > self.columns[column].x {
                self.columns[column].x = place;
            }
        }
    }
}
