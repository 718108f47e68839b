//! A harness of which only lengths are known: its ends laid along one straight trunk.
//!
//! Every place gets a position on a line so that no two places are farther apart than the shortest way over conductors
//! between them. Such positions always exist: a line can take one place after the other, because the bounds that the
//! places before it set overlap in pairs. Of the positions that are left the one is taken that is near places of the same
//! zone, then the one that keeps the board short. What a conductor is longer than its path is folded back.

use super::Place;
use super::tree::{Link, Sketch, chief};
use crate::system::System;
use crate::units::Metres;

/// How far before its end a branch leaves the trunk, in metres: assumed, and said so on the board.
const BREAK_OUT: f64 = 0.150;
/// How much earlier the next branch leaves that ends at the same position, in metres.
const STAGGER: f64 = 0.060;
/// Places of which every distance is looked at; a larger harness is laid out from its datum on.
const MOST_COMPARED: usize = 100;
/// Places that are tried as the left end of the trunk.
const MOST_TRIED: usize = 12;
/// Positions nearer than this are one, in metres.
const SAME: f64 = 0.001;

/// What rounding may leave between equal positions, in metres.
const ROUNDING: f64 = 1e-9;

/// The tree of a harness from the lengths of its conductors.
pub(super) fn of_lengths(
    system: &System,
    places: &[Place],
    ends: &[[usize; 2]],
    lengths: &[Metres],
) -> Sketch {
    let net = Net::new(system, places, ends, lengths);
    let datum = chief(places, ends);
    let positions = net.best(datum);
    net.sketch(&positions, datum)
}

struct Net<'n> {
    /// By place: conductors that end there, as other place and length.
    at: Vec<Vec<(usize, f64)>>,
    /// By place: number of its zone.
    zone: Vec<Option<u32>>,
    ends: &'n [[usize; 2]],
    lengths: Vec<f64>,
}

impl<'n> Net<'n> {
    fn new(system: &System, places: &[Place], ends: &'n [[usize; 2]], lengths: &[Metres]) -> Self {
        let mut at = vec![Vec::new(); places.len()];
        for (&[a, b], length) in ends.iter().zip(lengths) {
            if a != b {
                at[a].push((b, length.0));
                at[b].push((a, length.0));
            }
        }
        Self {
            at,
            zone: places
                .iter()
                .map(|place| place.zone(system).map(|zone| zone.0))
                .collect(),
            ends,
            lengths: lengths.iter().map(|length| length.0).collect(),
        }
    }

    fn len(&self) -> usize {
        self.at.len()
    }

    /// Shortest way over conductors from one place to all others, after E. W. Dijkstra.
    fn distances(&self, from: usize) -> Vec<f64> {
        let mut distance = vec![f64::INFINITY; self.len()];
        let mut done = vec![false; self.len()];
        distance[from] = 0.0;
        loop {
            let next = (0..self.len())
                .filter(|&place| !done[place] && distance[place].is_finite())
                .min_by(|&a, &b| distance[a].total_cmp(&distance[b]).then(a.cmp(&b)));
            let Some(here) = next else {
                return distance;
            };
            done[here] = true;
            for &(other, length) in &self.at[here] {
                distance[other] = distance[other].min(distance[here] + length);
            }
        }
    }

    /// The positions with the shortest board and the least folds; left end at zero.
    fn best(&self, datum: usize) -> Vec<f64> {
        if self.len() > MOST_COMPARED {
            return self.distances_through(datum);
        }
        let all: Vec<Vec<f64>> = (0..self.len()).map(|place| self.distances(place)).collect();
        let mut tried: Vec<usize> = (0..self.len()).filter(|&place| place != datum).collect();
        tried.sort_by_key(|&place| std::cmp::Reverse(self.at[place].len()));
        tried.truncate(MOST_TRIED - 1);
        tried.insert(0, datum);
        let mut best: Option<(f64, Vec<f64>)> = None;
        for root in tried {
            let positions = self.along_line(root, &all);
            let cost = self.cost(&positions);
            // An earlier root stays unless a later one saves more than a hundredth.
            if best.as_ref().is_none_or(|(least, _)| cost < least * 0.99) {
                best = Some((cost, positions));
            }
        }
        best.map_or_else(Vec::new, |(_, positions)| positions)
    }

    /// Length of the board and of all folds.
    fn cost(&self, positions: &[f64]) -> f64 {
        let least = positions.iter().copied().fold(f64::INFINITY, f64::min);
        let most = positions.iter().copied().fold(0.0, f64::max);
        let folds: f64 = self
            .ends
            .iter()
            .zip(&self.lengths)
            .map(|(&[a, b], length)| length - (positions[a] - positions[b]).abs())
            .sum();
        (most - least) + folds
    }

    /// Places one after the other, nearest to the root first.
    fn along_line(&self, root: usize, all: &[Vec<f64>]) -> Vec<f64> {
        let mut position: Vec<Option<f64>> = vec![None; self.len()];
        position[root] = Some(0.0);
        let mut placed = vec![root];
        // By place: the shortest way from any that is placed.
        let mut reach = all[root].clone();
        while placed.len() < self.len() {
            let next = (0..self.len())
                .filter(|&place| position[place].is_none())
                .min_by(|&a, &b| reach[a].total_cmp(&reach[b]).then(a.cmp(&b)));
            let Some(place) = next else { break };
            let mut low = f64::NEG_INFINITY;
            let mut high = f64::INFINITY;
            for &other in &placed {
                let there = position[other].unwrap_or(0.0);
                low = low.max(there - all[other][place]);
                high = high.min(there + all[other][place]);
            }
            position[place] = Some(self.choose(place, (low, high), &placed, &position));
            placed.push(place);
            for (nearest, &from_here) in reach.iter_mut().zip(&all[place]) {
                *nearest = nearest.min(from_here);
            }
        }
        let least = position
            .iter()
            .flatten()
            .copied()
            .fold(f64::INFINITY, f64::min);
        position
            .into_iter()
            .map(|at| at.unwrap_or(least) - least)
            .collect()
    }

    /// One of the ends of what is allowed.
    fn choose(
        &self,
        place: usize,
        (low, high): (f64, f64),
        placed: &[usize],
        position: &[Option<f64>],
    ) -> f64 {
        let neighbours: Vec<f64> = placed
            .iter()
            .filter(|&&other| self.zone[other].is_some() && self.zone[other] == self.zone[place])
            .filter_map(|&other| position[other])
            .collect();
        let (mut first, mut last) = (f64::INFINITY, f64::NEG_INFINITY);
        for &other in placed {
            let there = position[other].unwrap_or(0.0);
            first = first.min(there);
            last = last.max(there);
        }
        if !low.is_finite() || !high.is_finite() {
            // Nothing joins it with what is placed: it starts where its zone is, or at the datum.
            return neighbours.first().copied().unwrap_or(0.0);
        }
        let near = |at: f64| {
            neighbours
                .iter()
                .map(|there| (there - at).abs())
                .fold(f64::INFINITY, f64::min)
        };
        let growth = |at: f64| (first - at).max(0.0) + (at - last).max(0.0);
        let by_zone = near(high) - near(low);
        if !neighbours.is_empty() && by_zone.abs() > SAME {
            return if by_zone < 0.0 { high } else { low };
        }
        if growth(low) + SAME < growth(high) {
            low
        } else {
            high
        }
    }

    /// Every place at its distance from the datum; what is not joined with it stands at zero.
    fn distances_through(&self, datum: usize) -> Vec<f64> {
        let mut positions = self.distances(datum);
        for place in 0..self.len() {
            if positions[place].is_finite() {
                continue;
            }
            // The first place of each further piece stands beside the datum.
            for (other, &distance) in self.distances(place).iter().enumerate() {
                if distance.is_finite() {
                    positions[other] = distance;
                }
            }
        }
        positions
    }

    /// The trunk with its break-outs.
    fn sketch(&self, positions: &[f64], datum: usize) -> Sketch {
        let branch = self.branches(positions);
        let leaves: Vec<f64> = positions
            .iter()
            .zip(&branch)
            .map(|(at, branch)| at - branch)
            .collect();
        let mut order: Vec<usize> = (0..self.len()).collect();
        order.sort_by(|&a, &b| leaves[a].total_cmp(&leaves[b]).then(a.cmp(&b)));
        let mut points = Vec::new();
        let mut links: Vec<Link> = Vec::new();
        let mut at = vec![0; self.len()];
        let mut last: Option<(usize, f64)> = None;
        for place in order {
            let here = leaves[place];
            let node = match last {
                // What rounding parts is one position; anything more would change lengths.
                Some((node, before)) if here <= before + ROUNDING => node,
                _ => {
                    points.push(None);
                    let node = points.len() - 1;
                    if let Some((before, from)) = last {
                        links.push(Link {
                            ends: [before, node],
                            length: Metres(here - from),
                            way: None,
                        });
                    }
                    last = Some((node, here));
                    node
                }
            };
            at[place] = node;
            if branch[place] > 0.0 {
                points.push(None);
                let tip = points.len() - 1;
                links.push(Link {
                    ends: [node, tip],
                    length: Metres(branch[place]),
                    way: None,
                });
                at[place] = tip;
            }
        }
        let datum = at[datum];
        Sketch {
            points,
            links,
            at,
            datum,
        }
    }

    /// How long the branch of every place is: as assumed, but never so long that a conductor would be too short.
    fn branches(&self, positions: &[f64]) -> Vec<f64> {
        let mut order: Vec<usize> = (0..self.len()).collect();
        // From the far end on; of places at one position the one with most conductors ends the trunk.
        order.sort_by(|&a, &b| {
            positions[b]
                .total_cmp(&positions[a])
                .then(self.at[b].len().cmp(&self.at[a].len()))
                .then(a.cmp(&b))
        });
        let mut branch = vec![0.0_f64; self.len()];
        let mut before: Option<f64> = None;
        let mut same = 0;
        for (rank, &place) in order.iter().enumerate() {
            let here = positions[place];
            same = match before {
                Some(at) if (at - here).abs() < SAME => same + 1,
                _ => 0,
            };
            before = Some(here);
            if rank == 0 || here <= SAME {
                continue;
            }
            let mut wanted = BREAK_OUT + STAGGER * f64::from(same);
            for _ in 0..4 {
                if wanted < here && self.allows(place, wanted, positions, &branch) {
                    branch[place] = wanted;
                    break;
                }
                wanted /= 2.0;
            }
        }
        branch
    }

    /// Whether no conductor of a place gets too short by a branch of that length.
    fn allows(&self, place: usize, wanted: f64, positions: &[f64], branch: &[f64]) -> bool {
        let leaves = positions[place] - wanted;
        self.at[place].iter().all(|&(other, length)| {
            let there = positions[other] - branch[other];
            wanted + branch[other] + (leaves - there).abs() <= length + 1e-9
        })
    }
}
