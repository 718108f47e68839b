//! Currents in links without resistance, from what the nodes at their ends must pass on.
//!
//! A tree of ideal links leaves no choice: each carries what lies beyond it. A loop of ideal links leaves the
//! split open, and the least assumption is taken: every ideal link of the loop has the same small resistance.

use super::ldlt::{Factor, GROUND, Pattern, TooMeshed};

/// How the currents of a set of ideal links follow from the injections at their nodes.
#[derive(Clone, Debug)]
pub(super) struct Ideal {
    links: Vec<(usize, usize)>,
    /// Links to peel, in order, each with the node that hangs on it and the node it hangs from.
    peel: Vec<(usize, usize, usize)>,
    core: Option<Core>,
}

/// Links that lie on loops, and the network of unit resistances that stands for them.
#[derive(Clone, Debug)]
struct Core {
    links: Vec<usize>,
    /// Node to its unknown, for nodes of the core.
    unknown: Vec<(usize, usize)>,
    edges: Vec<(usize, usize)>,
    pattern: Pattern,
    factor: Factor,
}

impl Ideal {
    /// Prepares the links, given as pairs of nodes below `nodes`; a link from a node to itself carries nothing.
    pub(super) fn new(nodes: usize, links: Vec<(usize, usize)>) -> Result<Self, TooMeshed> {
        let mut degree = vec![0usize; nodes];
        // The exclusive or of the links at a node: with one left, it is that one.
        let mut mixed = vec![0usize; nodes];
        let mut done = vec![false; links.len()];
        for (index, &(a, b)) in links.iter().enumerate() {
            if a == b {
                done[index] = true;
                continue;
            }
            for node in [a, b] {
                degree[node] += 1;
                mixed[node] ^= index;
            }
        }
        let mut peel = Vec::with_capacity(links.len());
        let mut leaves: Vec<usize> = Vec::new();
        for start in 0..nodes {
            if degree[start] == 1 {
                leaves.push(start);
            }
            while let Some(leaf) = leaves.pop() {
                if degree[leaf] != 1 {
                    continue;
                }
                let index = mixed[leaf];
                let (a, b) = links[index];
                let rest = if a == leaf { b } else { a };
                done[index] = true;
                peel.push((index, leaf, rest));
                degree[leaf] = 0;
                degree[rest] -= 1;
                mixed[rest] ^= index;
                if degree[rest] == 1 {
                    leaves.push(rest);
                }
            }
        }
        let left: Vec<usize> = (0..links.len()).filter(|&index| !done[index]).collect();
        let core = if left.is_empty() {
            None
        } else {
            Some(Core::new(nodes, &links, left)?)
        };
        Ok(Self { links, peel, core })
    }

    /// Currents from the first node of each link to its second, for the injection into every node.
    ///
    /// The injections are used up. They must sum to zero over each group of joined nodes.
    pub(super) fn currents(&self, injection: &mut [f64]) -> Vec<f64> {
        let mut currents = vec![0.0; self.links.len()];
        for &(index, leaf, rest) in &self.peel {
            let passed = std::mem::take(&mut injection[leaf]);
            injection[rest] += passed;
            currents[index] = if self.links[index].0 == leaf {
                passed
            } else {
                -passed
            };
        }
        if let Some(core) = &self.core {
            core.currents(injection, &mut currents);
        }
        currents
    }
}

impl Core {
    fn new(nodes: usize, links: &[(usize, usize)], left: Vec<usize>) -> Result<Self, TooMeshed> {
        let mut groups = super::groups::Groups::new(nodes);
        for &index in &left {
            let (a, b) = links[index];
            groups.join(a, b, 0.0);
        }
        let mut unknown_of = vec![GROUND; nodes];
        let mut seen = vec![false; nodes];
        let mut unknown = Vec::new();
        for &index in &left {
            for node in [links[index].0, links[index].1] {
                if seen[node] {
                    continue;
                }
                seen[node] = true;
                // The representative of each group is the one that is grounded.
                if groups.find(node).0 != node {
                    unknown_of[node] = unknown.len();
                    unknown.push((node, unknown.len()));
                }
            }
        }
        let edges: Vec<_> = left
            .iter()
            .map(|&index| (unknown_of[links[index].0], unknown_of[links[index].1]))
            .collect();
        let pattern = Pattern::new(unknown.len(), &edges, &[])?;
        let factor = pattern
            .factor(&vec![1.0; edges.len()])
            .expect("unit resistances with one grounded node an island are positive definite");
        Ok(Self {
            links: left,
            unknown,
            edges,
            pattern,
            factor,
        })
    }

    fn currents(&self, injection: &[f64], currents: &mut [f64]) {
        let mut potential = vec![0.0; self.unknown.len()];
        for &(node, unknown) in &self.unknown {
            potential[unknown] = injection[node];
        }
        self.pattern.solve(&self.factor, &mut potential);
        let at = |unknown: usize| {
            if unknown == GROUND {
                0.0
            } else {
                potential[unknown]
            }
        };
        for (&index, &(a, b)) in self.links.iter().zip(&self.edges) {
            currents[index] = at(a) - at(b);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn currents(nodes: usize, links: &[(usize, usize)], injection: &[f64]) -> Vec<f64> {
        let ideal = Ideal::new(nodes, links.to_vec()).expect("small");
        ideal.currents(&mut injection.to_vec())
    }

    #[test]
    fn a_tree_carries_what_lies_beyond() {
        let got = currents(4, &[(0, 1), (2, 1), (1, 3)], &[3.0, 0.0, 2.0, -5.0]);
        assert_eq!(got, [3.0, 2.0, 5.0]);
    }

    #[test]
    fn parallel_links_share_alike() {
        let got = currents(2, &[(0, 1), (1, 0), (1, 1)], &[4.0, -4.0]);
        for (got, wanted) in got.iter().zip([2.0, -2.0, 0.0]) {
            assert!((got - wanted).abs() < 1e-12);
        }
    }

    #[test]
    fn a_ring_splits_by_the_number_of_links() {
        // Six links in a ring with a tail: 10 A in at 0, out at 6 behind node 2.
        let ring = [(0, 1), (1, 2), (2, 3), (3, 4), (4, 5), (5, 0), (2, 6)];
        let got = currents(7, &ring, &[10.0, 0.0, 0.0, 0.0, 0.0, 0.0, -10.0]);
        let share = 10.0 * 4.0 / 6.0;
        for (got, wanted) in got.iter().zip([
            share,
            share,
            share - 10.0,
            share - 10.0,
            share - 10.0,
            share - 10.0,
            10.0,
        ]) {
            assert!((got - wanted).abs() < 1e-9, "{got} against {wanted}");
        }
    }
}
