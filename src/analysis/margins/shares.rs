//! What one more ampere between two points changes in every link and node.
//!
//! From a point that hangs on a loop of the boat as on a tree there is one way to it, and the whole ampere takes it.
//! Between the loops' own points the ampere is solved for, once for each pair of them and each case: few pairs, for
//! everything behind a block meets the loops at one point.

use crate::analysis::currents::Again;
use crate::analysis::solve::{Reading, Room, Solution, resistance};
use crate::analysis::states::ends;
use crate::system::{LinkId, NodeId, System};
use std::cell::Cell;
use std::collections::BTreeMap;

/// A share that is only rounding.
const NOTHING: f64 = 1e-9;

/// A solved case as it is looked at.
pub(super) struct Sight<'a> {
    pub(super) solution: &'a Solution,
    unit: &'a dyn Fn(NodeId, NodeId) -> Option<Solution>,
}

impl<'a> Sight<'a> {
    pub(super) fn new(again: &'a Again<'a>) -> Self {
        Self {
            solution: again.solution,
            unit: again.unit,
        }
    }
}

/// One more ampere between two points, solved, with the links that carry any of it.
type Solved = (Solution, Vec<(LinkId, f64)>);

/// The shares of one subject in one case; room that is used again and again.
pub(super) struct Shares {
    room: Room,
    /// Handbook resistance by link.
    ohms: Vec<f64>,
    share: Vec<f64>,
    touched: Vec<LinkId>,
    /// The part of the share that follows a way from a point to the loops.
    hung: Vec<f64>,
    /// Solved pairs of the case, with their links that carry anything.
    pairs: BTreeMap<(NodeId, NodeId), Option<Solved>>,
    /// Pairs of the subject.
    used: Vec<(NodeId, NodeId)>,
    /// Links looked at so far.
    looked_at: Cell<usize>,
}

impl Shares {
    pub(super) fn new(system: &System) -> Self {
        let ohms = (0..system.links.len())
            .map(|index| {
                resistance(system, LinkId::at(index), Reading::Rule).map_or(0.0, |ohms| ohms.0)
            })
            .collect();
        Self {
            room: Room::new(system),
            ohms,
            share: vec![0.0; system.links.len()],
            touched: Vec::new(),
            hung: vec![0.0; system.links.len()],
            pairs: BTreeMap::new(),
            used: Vec::new(),
            looked_at: Cell::new(0),
        }
    }

    /// Links looked at so far, over all subjects.
    pub(super) fn looked_at(&self) -> usize {
        self.looked_at.get()
    }

    /// By node: where the way from it to the loops first meets the way from another terminal or point, or a loop.
    ///
    /// What is drawn at one of them changes nothing before that point for the others. Two terminals on one node meet
    /// there; a point on the node of a terminal is that terminal's own.
    pub(super) fn joints(
        &self,
        system: &System,
        terminals: &[NodeId],
        points: &[NodeId],
    ) -> Vec<NodeId> {
        let nodes = system.nodes.len();
        let next = |node: NodeId| {
            self.room.up(node).map(|link| {
                let (a, b) = ends(system, link);
                if a == node { b } else { a }
            })
        };
        let mut here = vec![0u32; nodes];
        for terminal in terminals {
            here[terminal.index()] += 1;
        }
        for point in points {
            here[point.index()] = here[point.index()].max(1);
        }
        let all = || terminals.iter().chain(points).copied();
        let mut branches = vec![0u32; nodes];
        let mut counted = vec![false; nodes];
        for mut node in all() {
            while !std::mem::replace(&mut counted[node.index()], true) {
                let Some(above) = next(node) else {
                    break;
                };
                branches[above.index()] += 1;
                node = above;
            }
        }
        let mut joints: Vec<NodeId> = (0..nodes).map(NodeId::at).collect();
        for terminal in all() {
            let mut node = terminal;
            while branches[node.index()] + here[node.index()] < 2 {
                let Some(above) = next(node) else {
                    break;
                };
                node = above;
            }
            joints[terminal.index()] = node;
        }
        joints
    }

    /// Forgets the pairs of the case before.
    pub(super) fn forget(&mut self) {
        self.pairs.clear();
    }

    /// Takes up one more ampere from `at.0` back to `at.1`, and one led past a feed; false where it has no answer.
    pub(super) fn take(
        &mut self,
        system: &System,
        sight: &Sight<'_>,
        at: (NodeId, NodeId),
        relief: Option<(NodeId, NodeId)>,
    ) -> bool {
        for link in self.touched.drain(..) {
            self.share[link.index()] = 0.0;
            self.hung[link.index()] = 0.0;
        }
        self.used.clear();
        let answered = [Some(at), relief]
            .into_iter()
            .flatten()
            .all(|(from, to)| self.add(system, sight, from, to));
        self.touched.sort_unstable();
        self.touched.dedup();
        answered
    }

    fn add(&mut self, system: &System, sight: &Sight<'_>, from: NodeId, to: NodeId) -> bool {
        let out = self.climb(system, from, 1.0);
        let back = self.climb(system, to, -1.0);
        if out == back {
            return true;
        }
        let pair = (out, back);
        let solved = self.pairs.entry(pair).or_insert_with(|| {
            let solution = (sight.unit)(out, back)?;
            let links = (0..system.links.len())
                .map(LinkId::at)
                .map(|link| (link, solution.current(link).0))
                .filter(|(_, amps)| amps.abs() > NOTHING)
                .collect();
            Some((solution, links))
        });
        let Some((_, links)) = solved else {
            return false;
        };
        for &(link, amps) in links.iter() {
            self.touched.push(link);
            self.share[link.index()] += amps;
        }
        self.used.push(pair);
        true
    }

    /// Follows the one way from a node to the loops; `amps` are drawn there, negative where they are returned.
    fn climb(&mut self, system: &System, from: NodeId, amps: f64) -> NodeId {
        let mut node = from;
        while let Some(link) = self.room.up(node) {
            let (a, b) = ends(system, link);
            let next = if a == node { b } else { a };
            let towards = if b == node { amps } else { -amps };
            self.looked_at.set(self.looked_at.get() + 1);
            self.touched.push(link);
            self.share[link.index()] += towards;
            self.hung[link.index()] += towards;
            node = next;
        }
        node
    }

    /// Links that carry any of it.
    pub(super) fn touched(&self) -> &[LinkId] {
        &self.touched
    }

    /// Share of a link, from its `a` to its `b`.
    pub(super) fn of(&self, link: LinkId) -> f64 {
        self.share[link.index()]
    }

    /// By how many volts the first node rises against the second.
    pub(super) fn between(&self, system: &System, first: NodeId, second: NodeId) -> f64 {
        self.potential(system, first) - self.potential(system, second)
    }

    fn potential(&self, system: &System, node: NodeId) -> f64 {
        let solved: f64 = self
            .used
            .iter()
            .filter_map(|pair| self.pairs.get(pair)?.as_ref())
            .map(|(solution, _)| solution.potential(node).0)
            .sum();
        let mut lower = 0.0;
        let mut at = node;
        while let Some(link) = self.room.up(at) {
            let (a, b) = ends(system, link);
            let towards = if b == at { 1.0 } else { -1.0 };
            lower += towards * self.hung[link.index()] * self.ohms[link.index()];
            at = if a == at { b } else { a };
            self.looked_at.set(self.looked_at.get() + 1);
        }
        solved - lower
    }
}
