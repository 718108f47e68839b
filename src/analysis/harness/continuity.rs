//! Which ends of a harness join on the bench, and which must not.
//!
//! Two benches are told apart. Loose: nothing is plugged in and no ring is on a stud; the splices are made and every
//! contact is in its cavity. Landed: the ends are on their parts, with every fuse out, every breaker open, every switch
//! as it lies at rest, every connector parted and nothing that takes or gives current joined through.

use super::Harness;
use crate::analysis::readings::rest;
use crate::system::{
    ComponentId, ComponentKind, ConductorId, GearId, LinkKind, NodeId, System, TerminalId,
};
use petgraph::unionfind::UnionFind;
use std::collections::BTreeMap;

/// What the ends of a harness are on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bench {
    /// Nothing is plugged in, no ring is on a stud.
    Loose,
    /// The ends are on their parts.
    Landed,
}

/// A point that a probe touches.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EndPoint {
    /// Where it belongs.
    pub terminal: TerminalId,
    /// Site of the harness.
    pub site: usize,
    /// Conductors that end in it: several in one contact, one in a ring.
    pub conductors: Vec<ConductorId>,
}

/// What joins what.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Continuity {
    /// Points to touch, site by site.
    pub ends: Vec<EndPoint>,
    /// By end: number of what it joins while the harness is loose.
    pub loose: Vec<usize>,
    /// By end: number of what it joins with the ends on their parts.
    pub landed: Vec<usize>,
    /// Switches that stand between ends, with the position they are to be in.
    pub switches: Vec<(GearId, u16)>,
}

impl Continuity {
    /// Works out the continuity of a harness.
    #[must_use]
    pub fn new(system: &System, harness: &Harness) -> Self {
        let mut ends: Vec<EndPoint> = Vec::new();
        let mut of_contact: BTreeMap<TerminalId, usize> = BTreeMap::new();
        // By wire and end: its end point; none for an end inside a splice.
        let mut of_wire: Vec<[Option<usize>; 2]> = Vec::with_capacity(harness.wires.len());
        for wire in &harness.wires {
            let conductor = &system.conductors[wire.conductor.index()];
            let mut pair = [None; 2];
            for (index, terminal) in [conductor.from, conductor.to].into_iter().enumerate() {
                let kind = system.component_of(terminal).kind;
                if kind == ComponentKind::Splice {
                    continue;
                }
                let shared = (kind == ComponentKind::Connector)
                    .then(|| of_contact.get(&terminal).copied())
                    .flatten();
                let end = shared.unwrap_or_else(|| {
                    ends.push(EndPoint {
                        terminal,
                        site: wire.sites[index],
                        conductors: Vec::new(),
                    });
                    ends.len() - 1
                });
                if kind == ComponentKind::Connector {
                    of_contact.insert(terminal, end);
                }
                ends[end].conductors.push(wire.conductor);
                pair[index] = Some(end);
            }
            of_wire.push(pair);
        }
        let order = by_site(system, &ends);
        let ends: Vec<EndPoint> = order.iter().map(|&index| ends[index].clone()).collect();
        let mut place = vec![0; order.len()];
        for (new, &old) in order.iter().enumerate() {
            place[old] = new;
        }
        for pair in &mut of_wire {
            *pair = pair.map(|end| end.map(|end| place[end]));
        }
        let loose = loose(system, harness, &of_wire, ends.len());
        let (landed, switches) = landed(system, harness, &ends, &loose);
        Self {
            ends,
            loose,
            landed,
            switches,
        }
    }

    /// Whether two ends must join.
    #[must_use]
    pub fn joins(&self, bench: Bench, a: usize, b: usize) -> bool {
        let of = match bench {
            Bench::Loose => &self.loose,
            Bench::Landed => &self.landed,
        };
        of[a] == of[b]
    }
}

/// Site by site, then in the order of the terminals on the part.
fn by_site(system: &System, ends: &[EndPoint]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..ends.len()).collect();
    order.sort_by_key(|&index| {
        let end = &ends[index];
        let is_connector = system.component_of(end.terminal).kind == ComponentKind::Connector;
        (!is_connector, end.site, end.terminal, index)
    });
    order
}

/// By end: what its conductors and the splices join it with.
fn loose(
    system: &System,
    harness: &Harness,
    of_wire: &[[Option<usize>; 2]],
    count: usize,
) -> Vec<usize> {
    let mut splices: BTreeMap<ComponentId, usize> = BTreeMap::new();
    let mut pairs = Vec::new();
    for (wire, pair) in harness.wires.iter().zip(of_wire) {
        let conductor = &system.conductors[wire.conductor.index()];
        let ends = [conductor.from, conductor.to];
        let [a, b] = [0, 1].map(|index| {
            pair[index].unwrap_or_else(|| {
                let splice = system.terminals[ends[index].index()].component;
                let next = count + splices.len();
                *splices.entry(splice).or_insert(next)
            })
        });
        pairs.push((a, b));
    }
    let mut sets = UnionFind::<usize>::new(count + splices.len());
    for (a, b) in pairs {
        sets.union(a, b);
    }
    numbered((0..count).map(|end| sets.find(end)))
}

/// By end: what it joins once the ends are on their parts.
fn landed(
    system: &System,
    harness: &Harness,
    ends: &[EndPoint],
    loose: &[usize],
) -> (Vec<usize>, Vec<(GearId, u16)>) {
    let positions = rest(system);
    let mut nodes: BTreeMap<NodeId, usize> = BTreeMap::new();
    let count = ends.len();
    let mut number = |node: NodeId| {
        let next = count + nodes.len();
        *nodes.entry(node).or_insert(next)
    };
    let mut pairs: Vec<(usize, usize)> = ends
        .iter()
        .enumerate()
        .map(|(index, end)| (index, number(system.node_of(end.terminal))))
        .collect();
    let mut switches: Vec<(GearId, u16)> = Vec::new();
    let mut parts: Vec<ComponentId> = harness
        .sites
        .iter()
        .map(|site| site.place.component)
        .collect();
    parts.sort_unstable();
    parts.dedup();
    for part in parts {
        let component = &system.components[part.index()];
        let mut links: Vec<_> = component
            .terminals
            .iter()
            .flat_map(|&terminal| &system.nodes[system.node_of(terminal).index()].links)
            .copied()
            .filter(|link| system.links[link.index()].component == part)
            .collect();
        links.sort_unstable();
        links.dedup();
        for link in links {
            let link = &system.links[link.index()];
            let closed = match &link.kind {
                LinkKind::Joint => true,
                LinkKind::Contact { gear, closed_in } => {
                    let position = positions[gear.index()];
                    if !switches.contains(&(*gear, position)) {
                        switches.push((*gear, position));
                    }
                    closed_in.contains(&position)
                }
                // A conductor is counted where it lies; all else is open or no piece of copper.
                LinkKind::Conductor(_)
                | LinkKind::Device(_)
                | LinkKind::Mate { .. }
                | LinkKind::Diode { .. }
                | LinkKind::Source(_)
                | LinkKind::Load(_) => false,
            };
            if closed {
                let [a, b] = [link.a, link.b].map(|end| number(system.node_of(end)));
                pairs.push((a, b));
            }
        }
    }
    let mut sets = UnionFind::<usize>::new(count + nodes.len());
    for (a, b) in pairs {
        sets.union(a, b);
    }
    // What joins loose, joins landed.
    let mut first: BTreeMap<usize, usize> = BTreeMap::new();
    for (end, &net) in loose.iter().enumerate() {
        let other = *first.entry(net).or_insert(end);
        sets.union(other, end);
    }
    switches.sort_unstable();
    (numbered((0..count).map(|end| sets.find(end))), switches)
}

/// Numbers from 0 in the order in which they are met.
fn numbered(roots: impl Iterator<Item = usize>) -> Vec<usize> {
    let mut known: BTreeMap<usize, usize> = BTreeMap::new();
    roots
        .map(|root| {
            let next = known.len();
            *known.entry(root).or_insert(next)
        })
        .collect()
}
