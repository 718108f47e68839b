//! Hull, bonding bars and plates, and what joins them to the negatives.
//!
//! An engine block counts as part of the negative it belongs to, not as grounding: its starter and alternator return
//! through it. Islands are what conductors, contacts and sources tie together without passing hull or bonding, so two
//! banks that meet nowhere but on the hull are two islands.

use super::ways::Ways;
use crate::analysis::states::{conducts, ends};
use crate::system::{
    ComponentId, ComponentKind, ConductorId, GroundKind, LinkId, LinkKind, LoadId, NodeId,
    Polarity, SourceId, System,
};
use petgraph::unionfind::UnionFind;
use std::collections::BTreeMap;

/// What joins grounding to an island.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bond {
    /// A conductor.
    Conductor(ConductorId),
    /// A load whose case is joined to its negative and stands on hull or engine.
    Case(LoadId),
}

/// Grounding parts that conductors make one, and what joins them to the negatives.
#[derive(Clone, Debug)]
pub struct Grounding {
    /// Its parts, in file order; none where the hull is nowhere in the file and only cases stand on it.
    pub parts: Vec<ComponentId>,
    /// What joins it to islands, in file order, each with the island's number.
    pub bonds: Vec<(Bond, u32)>,
}

/// Hull and bonding.
#[derive(Clone, Debug)]
pub struct Grounds {
    island: Vec<u32>,
    /// By island: its batteries and other sources, in file order.
    sources: Vec<Vec<SourceId>>,
    groundings: Vec<Grounding>,
}

impl Grounds {
    pub(super) fn new(system: &System, ways: &Ways) -> Self {
        let grounding = grounding_nodes(system);
        let (island, islands) = numbered(system.nodes.len(), |merged| {
            for (index, link) in system.links.iter().enumerate() {
                let (a, b) = ends(system, LinkId::at(index));
                let ties =
                    matches!(link.kind, LinkKind::Source(_)) || conducts(system, LinkId::at(index));
                if ties && !grounding[a.index()] && !grounding[b.index()] {
                    merged.union(a.0, b.0);
                }
            }
        });
        let mut sources = vec![Vec::new(); islands];
        for (index, source) in system.sources.iter().enumerate() {
            let (a, _) = ends(system, source.link);
            sources[island[a.index()] as usize].push(SourceId::at(index));
        }
        let mut found = Self {
            island,
            sources,
            groundings: Vec::new(),
        };
        found.groundings = found.gather(system, &grounding, ways);
        found
    }

    /// The number of the island of a point.
    #[must_use]
    pub fn island(&self, node: NodeId) -> u32 {
        self.island[node.index()]
    }

    /// The sources of an island, in file order.
    #[must_use]
    pub fn sources(&self, island: u32) -> &[SourceId] {
        &self.sources[island as usize]
    }

    /// Everything that is hull or bonding, each with its bonds.
    #[must_use]
    pub fn groundings(&self) -> &[Grounding] {
        &self.groundings
    }

    fn gather(&self, system: &System, grounding: &[bool], ways: &Ways) -> Vec<Grounding> {
        let (group, _) = numbered(system.nodes.len(), |merged| {
            for (index, link) in system.links.iter().enumerate() {
                let (a, b) = ends(system, LinkId::at(index));
                let inside = grounding[a.index()] && grounding[b.index()];
                if inside && !matches!(link.kind, LinkKind::Source(_) | LinkKind::Load(_)) {
                    merged.union(a.0, b.0);
                }
            }
        });
        let mut groups: BTreeMap<u32, Grounding> = BTreeMap::new();
        let empty = || Grounding {
            parts: Vec::new(),
            bonds: Vec::new(),
        };
        for (index, component) in system.components.iter().enumerate() {
            if let Some(&first) = component.terminals.first() {
                let node = system.node_of(first);
                if grounding[node.index()] {
                    let group = groups.entry(group[node.index()]).or_insert_with(empty);
                    group.parts.push(ComponentId::at(index));
                }
            }
        }
        for (index, conductor) in system.conductors.iter().enumerate() {
            let (a, b) = ends(system, conductor.link);
            if conductor.sense || conductor.spare {
                continue;
            }
            for (ground, other) in [(a, b), (b, a)] {
                if !grounding[ground.index()] || grounding[other.index()] {
                    continue;
                }
                if is_return(ways, grounding, other) {
                    continue;
                }
                let island = self.island(other);
                if self.sources(island).is_empty() {
                    continue;
                }
                if let Some(group) = groups.get_mut(&group[ground.index()]) {
                    group
                        .bonds
                        .push((Bond::Conductor(ConductorId::at(index)), island));
                }
            }
        }
        self.add_cases(system, &group, &mut groups);
        groups.into_values().collect()
    }

    /// Cases stand on the hull where there is one, else on the engine, else on something that the file does not name.
    fn add_cases(&self, system: &System, group: &[u32], groups: &mut BTreeMap<u32, Grounding>) {
        let cased: Vec<(LoadId, u32)> = system
            .loads
            .iter()
            .enumerate()
            .filter(|(_, load)| load.case_grounded)
            .map(|(index, load)| {
                let (_, negative) = ends(system, load.link);
                (LoadId::at(index), self.island(negative))
            })
            .filter(|&(_, island)| !self.sources(island).is_empty())
            .collect();
        if cased.is_empty() {
            return;
        }
        let ground_of = |kind: GroundKind| {
            system
                .components
                .iter()
                .find(|component| component.ground == Some(kind))
                .and_then(|component| component.terminals.first())
                .map(|&terminal| system.node_of(terminal))
        };
        let metal = match ground_of(GroundKind::Hull) {
            Some(hull) => groups.get_mut(&group[hull.index()]),
            None => None,
        };
        let mut bonds: Vec<(Bond, u32)> = cased
            .into_iter()
            .map(|(load, island)| (Bond::Case(load), island))
            .collect();
        if let Some(metal) = metal {
            metal.bonds.append(&mut bonds);
            return;
        }
        let mut parts = Vec::new();
        if let Some(engine) = ground_of(GroundKind::Engine) {
            let terminal = system.nodes[engine.index()].terminals[0];
            parts.push(system.terminals[terminal.index()].component);
            // The engine's own conductors join it to the negative it belongs to.
            let joining = system.terminals[terminal.index()].conductors.first();
            if let Some(&conductor) = joining
                && !self.sources(self.island(engine)).is_empty()
            {
                bonds.insert(0, (Bond::Conductor(conductor), self.island(engine)));
            }
        }
        groups.insert(u32::MAX, Grounding { parts, bonds });
    }
}

/// Whether a point has no way to a bar or post but through hull or bonding: then its current returns there.
fn is_return(ways: &Ways, grounding: &[bool], point: NodeId) -> bool {
    let exits = ways.exits(point);
    !exits.is_empty() && exits.iter().all(|(stop, _)| grounding[stop.index()])
}

/// Whether each node is hull, bonding plate or bonding bar.
fn grounding_nodes(system: &System) -> Vec<bool> {
    let mut grounding = vec![false; system.nodes.len()];
    for component in &system.components {
        let is_grounding = match component.kind {
            ComponentKind::Ground => component.ground != Some(GroundKind::Engine),
            ComponentKind::Bus => component.polarity == Some(Polarity::Bonding),
            _ => false,
        };
        if is_grounding {
            for &terminal in &component.terminals {
                grounding[system.node_of(terminal).index()] = true;
            }
        }
    }
    grounding
}

/// Numbers what a closure joins, in the order of the first node, and tells how many there are.
fn numbered(nodes: usize, join: impl Fn(&mut UnionFind<u32>)) -> (Vec<u32>, usize) {
    let mut merged = UnionFind::<u32>::new(nodes);
    join(&mut merged);
    let mut numbers: BTreeMap<u32, u32> = BTreeMap::new();
    let mut of = Vec::with_capacity(nodes);
    for node in 0..nodes {
        let count = u32::try_from(numbers.len()).unwrap_or(u32::MAX);
        let root = merged.find(NodeId::at(node).0);
        of.push(*numbers.entry(root).or_insert(count));
    }
    (of, numbers.len())
}
