//! Galvanic nets, their negatives, and the poles that can feed a fault.
//!
//! A net is what unswitched links join: conductors, joints, mates, devices, contacts that no position opens.
//! Sources tie nets together at their nominal voltage; what they tie is one galvanic system, with one negative.

use crate::analysis::states::{conducts, ends};
use crate::system::{
    ComponentKind, LinkId, LinkKind, LoadKind, NodeId, Polarity, SourceId, SourceKind, System,
    TerminalId,
};
use crate::units::Volts;
use petgraph::unionfind::UnionFind;
use std::collections::VecDeque;

/// Nominal voltages up to this ratio count as one: a 12.8 V and a 12 V battery, but not a 12 V and a 14.6 V one.
const SAME_NOMINAL: f64 = 1.2;

/// Whether two nominal voltages are of the same class.
#[must_use]
pub fn same_nominal(a: Volts, b: Volts) -> bool {
    let (low, high) = (a.min(b), a.max(b));
    high.0 <= low.0 * SAME_NOMINAL
}

/// A terminal of a source that is not on the negative of its system, so that a fault there is fed by the source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pole {
    /// The source.
    pub source: SourceId,
    /// Its post or stud.
    pub terminal: TerminalId,
    /// The electrical point of that post.
    pub node: NodeId,
    /// Nominal voltage against the negative of the system.
    pub volts: Volts,
}

/// The nominal voltage that the batteries put across a source, whatever the positions; its own where they put none.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Across {
    /// The source.
    pub source: SourceId,
    /// Voltage of its positive against its negative.
    pub volts: Volts,
    /// Batteries put it there, and not the source itself.
    pub imposed: bool,
}

/// The nets of the boat and their potentials, whatever the positions.
#[derive(Clone, Debug)]
pub struct Nets {
    /// Number of each node's net.
    of_node: Vec<u32>,
    facts: Vec<Net>,
    ungrounded: Vec<Pole>,
    across: Vec<Across>,
    reversed: Vec<SourceId>,
}

#[derive(Clone, Copy, Debug, Default)]
struct Net {
    /// Galvanic system, none when no source touches the net.
    system: Option<u32>,
    /// Batteries alone tie it to its system.
    battery: bool,
    /// Against the negative of its system; before that is known, against any net of it.
    potential: f64,
    /// Negatives of loads and sources that land here, less their positives.
    votes: i64,
    /// A bus declared negative, or an engine block, hull or bonding point, lies here.
    declared: bool,
    /// A positive bus or a block feed lies here.
    declared_positive: bool,
}

impl Nets {
    /// Finds nets, systems, potentials and poles.
    #[must_use]
    pub fn new(system: &System) -> Self {
        let (of_node, count) = numbered(system);
        let mut found = Self {
            of_node,
            facts: vec![Net::default(); count],
            ungrounded: Vec::new(),
            across: Vec::new(),
            reversed: Vec::new(),
        };
        found.vote(system);
        found.tie(system);
        found.list(system);
        found
    }

    /// Number of the net of a node.
    #[must_use]
    pub fn net(&self, node: NodeId) -> u32 {
        self.of_node[node.index()]
    }

    /// Whether a node is galvanically on the negative of its system.
    #[must_use]
    pub fn is_negative(&self, node: NodeId) -> bool {
        self.potential(node).is_some_and(|volts| volts.0 == 0.0)
    }

    /// Whether a link lies clear of the negative with both its ends.
    #[must_use]
    pub fn is_off_negative(&self, system: &System, link: LinkId) -> bool {
        let (a, b) = ends(system, link);
        !self.is_negative(a) && !self.is_negative(b)
    }

    /// Nominal potential against the negative of its system; none where no source is tied without a switch between.
    #[must_use]
    pub fn potential(&self, node: NodeId) -> Option<Volts> {
        let net = &self.facts[self.net(node) as usize];
        net.system.map(|_| Volts(net.potential))
    }

    /// Number of the galvanic system of a node; none where no source is tied without a switch between.
    #[must_use]
    pub fn system(&self, node: NodeId) -> Option<u32> {
        self.facts[self.net(node) as usize].system
    }

    /// Whether the negative here is one that loads return to, not just the free end of a source.
    #[must_use]
    pub fn is_common(&self, node: NodeId) -> bool {
        let net = &self.facts[self.net(node) as usize];
        self.is_negative(node) && (net.declared || net.votes > 1)
    }

    /// All poles that can feed a fault, in file order of their sources, positive before negative.
    #[must_use]
    pub fn ungrounded(&self) -> &[Pole] {
        &self.ungrounded
    }

    /// Sources whose positive is on the negative net, in file order.
    #[must_use]
    pub fn reversed(&self) -> &[SourceId] {
        &self.reversed
    }

    /// What stands across each source, in file order; nothing for one that ties two systems or that is shorted.
    #[must_use]
    pub fn across(&self) -> &[Across] {
        &self.across
    }

    /// Counts what lands on each net, to tell the negative from the rest.
    fn vote(&mut self, system: &System) {
        for link in &system.links {
            // A relay coil may be switched in its negative, so it says nothing.
            let counts = match link.kind {
                LinkKind::Source(_) => true,
                LinkKind::Load(load) => system.loads[load.index()].kind != LoadKind::Coil,
                _ => false,
            };
            if counts {
                let (a, b) = (system.node_of(link.a), system.node_of(link.b));
                self.facts[self.of_node[a.index()] as usize].votes -= 1;
                self.facts[self.of_node[b.index()] as usize].votes += 1;
            }
        }
        for component in &system.components {
            let Some(&first) = component.terminals.first() else {
                continue;
            };
            let net = self.of_node[system.node_of(first).index()] as usize;
            match (component.kind, component.polarity) {
                (ComponentKind::Bus, Some(Polarity::Negative | Polarity::Bonding))
                | (ComponentKind::Ground, _) => self.facts[net].declared = true,
                (ComponentKind::Bus, Some(Polarity::Positive)) | (ComponentKind::FuseBlock, _) => {
                    self.facts[net].declared_positive = true;
                }
                _ => {}
            }
        }
    }

    /// Ties nets through their sources and finds the negative of each system.
    ///
    /// Batteries first: they say what voltage a system has. A charging source then extends a system to a net that has
    /// none yet; where both its nets have one, what stands across it is noted.
    fn tie(&mut self, system: &System) {
        let mut at: Vec<Vec<(u32, f64)>> = vec![Vec::new(); self.facts.len()];
        let mut batteries = Vec::new();
        let mut others = Vec::new();
        for (index, source) in system.sources.iter().enumerate() {
            let (a, b) = ends(system, source.link);
            let (a, b) = (self.net(a), self.net(b));
            if a == b {
                continue;
            }
            let tie = (a, b, source.nominal.value.0, SourceId::at(index));
            if source.kind == SourceKind::Battery {
                at[b as usize].push((a, tie.2));
                at[a as usize].push((b, -tie.2));
                batteries.push(tie);
            } else {
                others.push(tie);
            }
        }
        let mut systems: Vec<Vec<u32>> = Vec::new();
        for &(_, start, _, _) in &batteries {
            if self.facts[start as usize].system.is_none() {
                systems.push(self.tie_one(start, systems.len(), &at));
            }
        }
        self.extend(&others, &mut systems);
        for &(a, b, _, source) in batteries.iter().chain(&others) {
            let (high, low) = (self.facts[a as usize], self.facts[b as usize]);
            if high.system == low.system {
                self.across.push(Across {
                    source,
                    volts: Volts(high.potential - low.potential),
                    imposed: high.battery && low.battery,
                });
            }
        }
        for members in systems {
            let Some(reference) = self.reference(&members) else {
                continue;
            };
            let zero = self.facts[reference as usize].potential;
            for member in members {
                let net = &mut self.facts[member as usize];
                net.potential -= zero;
                // Paralleled batteries of 12 V and 12.8 V have one negative all the same.
                if net.potential.abs() < 1.0 {
                    net.potential = 0.0;
                }
            }
        }
    }

    /// Carries potentials over the batteries from one net.
    fn tie_one(&mut self, start: u32, number: usize, at: &[Vec<(u32, f64)>]) -> Vec<u32> {
        // There are fewer systems than nets, and nets are numbered in u32.
        let number = u32::try_from(number).unwrap_or(u32::MAX);
        let mut members = vec![start];
        let mut queue = VecDeque::from([start]);
        self.facts[start as usize].system = Some(number);
        self.facts[start as usize].battery = true;
        while let Some(net) = queue.pop_front() {
            for &(other, volts) in &at[net as usize] {
                if self.facts[other as usize].system.is_none() {
                    self.facts[other as usize].system = Some(number);
                    self.facts[other as usize].battery = true;
                    self.facts[other as usize].potential =
                        self.facts[net as usize].potential + volts;
                    members.push(other);
                    queue.push_back(other);
                }
            }
        }
        members
    }

    /// Carries potentials on over charging sources until none reaches a new net.
    fn extend(&mut self, others: &[(u32, u32, f64, SourceId)], systems: &mut Vec<Vec<u32>>) {
        let mut changed = true;
        while changed {
            changed = false;
            for &(a, b, volts, _) in others {
                let (high, low) = (self.facts[a as usize], self.facts[b as usize]);
                let (from, to, potential) = match (high.system, low.system) {
                    (Some(system), None) => (system, b, high.potential - volts),
                    (None, Some(system)) => (system, a, low.potential + volts),
                    _ => continue,
                };
                self.facts[to as usize].system = Some(from);
                self.facts[to as usize].potential = potential;
                systems[from as usize].push(to);
                changed = true;
            }
            if changed {
                continue;
            }
            let alone = others
                .iter()
                .find(|(a, b, _, _)| {
                    self.facts[*a as usize].system.is_none()
                        && self.facts[*b as usize].system.is_none()
                })
                .copied();
            if let Some((_, b, _, _)) = alone {
                let number = u32::try_from(systems.len()).unwrap_or(u32::MAX);
                self.facts[b as usize].system = Some(number);
                systems.push(vec![b]);
                changed = true;
            }
        }
    }

    /// The negative of a system: where it is declared, else where most negatives land, else the lowest.
    fn reference(&self, members: &[u32]) -> Option<u32> {
        members.iter().copied().max_by(|&a, &b| {
            let (one, other) = (&self.facts[a as usize], &self.facts[b as usize]);
            let declared = |net: &Net| i8::from(net.declared) - i8::from(net.declared_positive);
            declared(one)
                .cmp(&declared(other))
                .then_with(|| one.votes.cmp(&other.votes))
                .then_with(|| other.potential.total_cmp(&one.potential))
                .then_with(|| b.cmp(&a))
        })
    }

    fn list(&mut self, system: &System) {
        self.across.sort_by_key(|across| across.source);
        for (index, source) in system.sources.iter().enumerate() {
            let link = &system.links[source.link.index()];
            let id = SourceId::at(index);
            for terminal in [link.a, link.b] {
                let node = system.node_of(terminal);
                let Some(volts) = self.potential(node) else {
                    continue;
                };
                if volts.0 == 0.0 {
                    if terminal == link.a && self.net(node) != self.net(system.node_of(link.b)) {
                        self.reversed.push(id);
                    }
                    continue;
                }
                self.ungrounded.push(Pole {
                    source: id,
                    terminal,
                    node,
                    volts: volts.abs(),
                });
            }
        }
    }
}

/// Numbers the nets in the order of their first node.
fn numbered(system: &System) -> (Vec<u32>, usize) {
    let mut merged = UnionFind::<u32>::new(system.nodes.len());
    for (index, link) in system.links.iter().enumerate() {
        let joins = match &link.kind {
            LinkKind::Diode { .. } => false,
            LinkKind::Contact { gear, closed_in } => {
                let positions = system.gears[gear.index()].positions.len();
                (0..positions).all(|position| {
                    u16::try_from(position).is_ok_and(|position| closed_in.contains(&position))
                })
            }
            _ => conducts(system, crate::system::LinkId::at(index)),
        };
        if joins {
            merged.union(system.node_of(link.a).0, system.node_of(link.b).0);
        }
    }
    let mut number = vec![u32::MAX; system.nodes.len()];
    let mut net = Vec::with_capacity(system.nodes.len());
    let mut count = 0;
    for node in 0..system.nodes.len() {
        let root = merged.find(NodeId::at(node).0) as usize;
        if number[root] == u32::MAX {
            number[root] = count;
            count += 1;
        }
        net.push(number[root]);
    }
    (net, count as usize)
}
