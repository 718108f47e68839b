//! The way from every point to the nearest bar, post or ground, and all such stops that a point can reach without
//! passing another.
//!
//! On this stretch a negative serves its own load and whatever is joined to it before the bar. Contacts count as
//! closed: a switch in a negative is part of the way.

use crate::analysis::states::{conducts, ends};
use crate::system::{ComponentKind, LinkId, NodeId, System, TerminalRole};
use petgraph::unionfind::UnionFind;
use std::collections::{BTreeMap, VecDeque};

/// Ways to the nearest stops.
#[derive(Clone, Debug)]
pub struct Ways {
    /// By node: the next link towards the nearest stop and the node behind it; none at a stop or where none is reached.
    next: Vec<Option<(LinkId, NodeId)>>,
    /// By node: the number of its region; none for a stop.
    region: Vec<Option<u32>>,
    /// By region: the stops at its edge with the link that leads there, in link order.
    exits: Vec<Vec<(NodeId, LinkId)>>,
}

impl Ways {
    pub(super) fn new(system: &System) -> Self {
        let stops: Vec<bool> = (0..system.nodes.len())
            .map(|node| is_stop(system, NodeId::at(node)))
            .collect();
        let (region, regions) = regions(system, &stops);
        let mut exits = vec![Vec::new(); regions];
        for index in 0..system.links.len() {
            let link = LinkId::at(index);
            let (a, b) = ends(system, link);
            if !conducts(system, link) {
                continue;
            }
            for (inside, outside) in [(a, b), (b, a)] {
                if let (Some(region), true) = (region[inside.index()], stops[outside.index()]) {
                    exits[region as usize].push((outside, link));
                }
            }
        }
        Self {
            next: nearest(system, &stops),
            region,
            exits,
        }
    }

    /// The links from a point to the nearest bar, post or ground, in order.
    #[must_use]
    pub fn way(&self, from: NodeId) -> Vec<LinkId> {
        let mut links = Vec::new();
        let mut at = from;
        while let Some((link, behind)) = self.next[at.index()] {
            links.push(link);
            at = behind;
        }
        links
    }

    /// The next link towards the nearest bar, post or ground, and the point behind it.
    #[must_use]
    pub fn next(&self, from: NodeId) -> Option<(LinkId, NodeId)> {
        self.next[from.index()]
    }

    /// The bars, posts and grounds that a point reaches without passing another one, each with the last link.
    #[must_use]
    pub fn exits(&self, from: NodeId) -> &[(NodeId, LinkId)] {
        self.region[from.index()].map_or(&[], |region| &self.exits[region as usize])
    }
}

/// Bars, posts, the studs of a block but for its ways, shunts, engine, hull and bonding.
fn is_stop(system: &System, node: NodeId) -> bool {
    system.nodes[node.index()]
        .terminals
        .iter()
        .any(|&terminal| {
            let role = system.terminals[terminal.index()].role;
            match system.component_of(terminal).kind {
                ComponentKind::Bus
                | ComponentKind::Ground
                | ComponentKind::Battery
                | ComponentKind::Shunt => true,
                ComponentKind::FuseBlock => role != TerminalRole::Out,
                _ => false,
            }
        })
}

/// Number of the region of every node that is no stop, and how many there are.
fn regions(system: &System, stops: &[bool]) -> (Vec<Option<u32>>, usize) {
    let mut merged = UnionFind::<u32>::new(stops.len());
    for index in 0..system.links.len() {
        let link = LinkId::at(index);
        let (a, b) = ends(system, link);
        if conducts(system, link) && !stops[a.index()] && !stops[b.index()] {
            merged.union(a.0, b.0);
        }
    }
    let mut number = BTreeMap::new();
    let mut region = Vec::with_capacity(stops.len());
    for (&stop, node) in stops.iter().zip(0_u32..) {
        let count = u32::try_from(number.len()).unwrap_or(u32::MAX);
        region.push((!stop).then(|| *number.entry(merged.find(node)).or_insert(count)));
    }
    (region, number.len())
}

/// Breadth first from all stops at once, so that every way is a shortest one by links.
fn nearest(system: &System, stops: &[bool]) -> Vec<Option<(LinkId, NodeId)>> {
    let mut next = vec![None; stops.len()];
    let mut reached = stops.to_vec();
    let mut queue: VecDeque<NodeId> = (0..stops.len())
        .filter(|&node| stops[node])
        .map(NodeId::at)
        .collect();
    while let Some(node) = queue.pop_front() {
        for &link in &system.nodes[node.index()].links {
            let (a, b) = ends(system, link);
            let other = if a == node { b } else { a };
            if !conducts(system, link) || reached[other.index()] {
                continue;
            }
            reached[other.index()] = true;
            next[other.index()] = Some((link, node));
            queue.push_back(other);
        }
    }
    next
}
