//! Which edges can lie on a simple path between two places at all.
//!
//! Those are the edges of the biconnected parts that a path between the two must cross; everything that hangs off
//! them is a dead end. A question then speaks only of the switches that can matter to it.

use super::reach::Reach;

/// Marks the edges that can lie on a path from a start to a target through edges at least so wide.
///
/// Directions are not looked at, so that an edge too many may be marked, never one too few.
pub(super) fn between(reach: &Reach<'_>, starts: &[u32], targets: &[u32], width: f64) -> Vec<bool> {
    Search::new(reach, starts, targets, width).run()
}

/// Depth-first search from an imagined root that is tied to every start and to every target.
struct Search {
    /// Ends of every edge: those of the circuit, then the ties to the root.
    ends: Vec<(u32, u32)>,
    real: usize,
    /// Edges at each vertex.
    at: Vec<Vec<u32>>,
    root: u32,
    /// Ties from here on lead to targets.
    target_ties: usize,
}

impl Search {
    fn new(reach: &Reach<'_>, starts: &[u32], targets: &[u32], width: f64) -> Self {
        let real = reach.edges.len();
        // Clusters are numbered in u32.
        let root = u32::try_from(reach.clusters).unwrap_or(u32::MAX);
        let mut ends: Vec<(u32, u32)> = reach.edges.iter().map(|edge| (edge.a, edge.b)).collect();
        ends.extend(starts.iter().map(|&start| (root, start)));
        let target_ties = ends.len();
        ends.extend(targets.iter().map(|&target| (root, target)));
        let mut at = vec![Vec::new(); reach.clusters + 1];
        for (&(a, b), index) in ends.iter().zip(0_u32..) {
            let wide = reach
                .edges
                .get(index as usize)
                .is_none_or(|edge| edge.width >= width);
            if wide {
                at[a as usize].push(index);
                at[b as usize].push(index);
            }
        }
        Self {
            ends,
            real,
            at,
            root,
            target_ties,
        }
    }

    fn run(&self) -> Vec<bool> {
        let mut marked = vec![false; self.real];
        let mut depth = vec![0_u32; self.at.len()];
        let mut low = vec![0_u32; self.at.len()];
        let mut taken = vec![false; self.ends.len()];
        let mut edges: Vec<u32> = Vec::new();
        // Vertex, its next edge to look at, and where its own edges begin on the stack of edges.
        let mut open: Vec<(u32, usize, usize)> = vec![(self.root, 0, 0)];
        let mut count = 1;
        depth[self.root as usize] = 1;
        low[self.root as usize] = 1;
        while let Some(&mut (vertex, ref mut next, begin)) = open.last_mut() {
            let Some(&edge) = self.at[vertex as usize].get(*next) else {
                open.pop();
                if let Some(&(parent, _, _)) = open.last() {
                    let reached = low[vertex as usize];
                    low[parent as usize] = low[parent as usize].min(reached);
                    if reached >= depth[parent as usize] {
                        self.mark(&edges[begin..], &mut marked);
                        edges.truncate(begin);
                    }
                }
                continue;
            };
            *next += 1;
            if taken[edge as usize] {
                continue;
            }
            taken[edge as usize] = true;
            let (a, b) = self.ends[edge as usize];
            let other = if a == vertex { b } else { a };
            let begins = edges.len();
            edges.push(edge);
            if depth[other as usize] == 0 {
                count += 1;
                depth[other as usize] = count;
                low[other as usize] = count;
                open.push((other, 0, begins));
            } else {
                low[vertex as usize] = low[vertex as usize].min(depth[other as usize]);
            }
        }
        marked
    }

    /// Marks the real edges of a part that holds a tie to a target.
    fn mark(&self, part: &[u32], marked: &mut [bool]) {
        if part.iter().all(|&edge| (edge as usize) < self.target_ties) {
            return;
        }
        for &edge in part {
            if let Some(mark) = marked.get_mut(edge as usize) {
                *mark = true;
            }
        }
    }
}
