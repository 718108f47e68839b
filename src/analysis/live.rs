//! What stays live with every battery switch off, and by which way.
//!
//! Batteries, solar controllers and converters with a live input count as live; chargers and alternators do not, for
//! nobody works on a boat that is plugged in or running, and no more do converters with a charging profile, which work
//! while their input is charged. Relays whose coil cannot be live rest.

use super::isolation::{Nets, tops};
use super::states::{
    Answer, Constraints, Reach, Reached, State, Walk, Witness, affordable, ends, walk,
};
use crate::system::{
    BankId, ComponentKind, GearKind, LinkId, LinkKind, LoadId, LoadKind, NodeId, Source, SourceId,
    SourceKind, System,
};
use std::collections::VecDeque;

/// Converters that feed one another; a longer row is not followed.
const CONVERTERS_IN_LINE: usize = 16;

/// Bridged battery switches told apart.
const BRIDGES: usize = 64;

/// Whether a node is live with every battery switch off.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Liveness {
    /// In no position of the other switches.
    Dead,
    /// In some position of another switch, or not decided within the effort allowed.
    Somewhen,
    /// Whatever the positions.
    Always,
}

/// A load that some position leaves live with every battery switch off.
#[derive(Clone, Debug, PartialEq)]
pub struct LiveLoad {
    /// The load.
    pub load: LoadId,
    /// The source that keeps it live.
    pub source: SourceId,
    /// The state and the path from that source.
    pub witness: Witness,
    /// How the path comes by the switched side of the boat.
    pub way: Way,
}

/// How a load comes to be live with every battery switch off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// It is fed from the battery side of the switches, and from nowhere else on the path.
    Direct,
    /// The far side of a battery switch is live by a way round the switch that nothing opens; here it joins.
    RoundSwitch(NodeId),
    /// The path enters the switched side at one node and runs up it to another.
    BackFeed {
        /// Where it enters: the joint.
        joint: NodeId,
        /// The furthest up that it reaches: the bus that comes alive.
        up: NodeId,
    },
}

/// What is live with every battery switch off.
#[derive(Clone, Debug)]
pub struct Live {
    nodes: Vec<Liveness>,
    switched_banks: Vec<bool>,
    loads: Vec<LiveLoad>,
    dead: Vec<LoadId>,
}

impl Live {
    /// Turns every battery switch off and looks.
    #[must_use]
    pub fn new(system: &System, nets: &Nets) -> Self {
        let sides = Sides::new(system, nets);
        let gate = |link: LinkId| nets.is_off_negative(system, link).then_some(f64::INFINITY);
        let off = Constraints::none(system).battery_switches_off(system);
        let mut sources = batteries(system, nets);
        let mut rounds = 0;
        let (constraints, reach) = loop {
            let nodes: Vec<NodeId> = sources.iter().map(|&(_, node)| node).collect();
            let constraints = off.clone().relays_settled(system, &nodes);
            let reach = Reach::new(system, &constraints, gate);
            let woken = woken(system, nets, &reach, &sources);
            if woken.is_empty() || rounds == CONVERTERS_IN_LINE {
                break (constraints, reach);
            }
            sources.extend(woken);
            rounds += 1;
        };
        let nodes: Vec<NodeId> = sources.iter().map(|&(_, node)| node).collect();
        let spread = reach.spread(&nodes);
        let solid = always_live(system, nets, gate);
        let liveness: Vec<Liveness> = (0..system.nodes.len())
            .map(NodeId::at)
            .map(|node| {
                if solid.reaches(node) {
                    Liveness::Always
                } else if nets.is_negative(node) || spread.reached(node) == Reached::Never {
                    Liveness::Dead
                } else {
                    Liveness::Somewhen
                }
            })
            .collect();
        let mut live = Self {
            nodes: liveness,
            switched_banks: sides.switched.clone(),
            loads: Vec::new(),
            dead: Vec::new(),
        };
        live.look_at_loads(system, nets, &sides, &sources, &constraints);
        live
    }

    /// Whether a node is live with every battery switch off.
    #[must_use]
    pub fn node(&self, node: NodeId) -> Liveness {
        self.nodes[node.index()]
    }

    /// Whether a battery switch stands between a bank and anything.
    #[must_use]
    pub fn has_switch(&self, bank: BankId) -> bool {
        self.switched_banks[bank.index()]
    }

    /// Loads that stay live without being declared so, where their bank has a battery switch.
    #[must_use]
    pub fn loads(&self) -> &[LiveLoad] {
        &self.loads
    }

    /// Loads declared always on that no position keeps alive.
    #[must_use]
    pub fn dead(&self) -> &[LoadId] {
        &self.dead
    }

    fn look_at_loads(
        &mut self,
        system: &System,
        nets: &Nets,
        sides: &Sides,
        sources: &[(SourceId, NodeId)],
        constraints: &Constraints,
    ) {
        let reach = Reach::new(system, constraints, |link| {
            nets.is_off_negative(system, link).then_some(f64::INFINITY)
        });
        let behind_switch: Vec<(SourceId, NodeId)> = sources
            .iter()
            .copied()
            .filter(|&(id, _)| {
                let source = &system.sources[id.index()];
                source.kind != SourceKind::Solar
                    && source
                        .bank
                        .is_none_or(|bank| self.switched_banks[bank.index()])
            })
            .collect();
        let nodes: Vec<NodeId> = behind_switch.iter().map(|&(_, node)| node).collect();
        let spread = reach.spread(&nodes);
        let up = Upstream::new(system, nets, &self.nodes, sides);
        for (index, load) in system.loads.iter().enumerate() {
            let (positive, _) = ends(system, load.link);
            let declared = load.always_on.is_some_and(|given| given.value);
            if declared {
                if self.nodes[positive.index()] == Liveness::Dead {
                    self.dead.push(LoadId::at(index));
                }
                continue;
            }
            let part = system.components[load.component.index()].kind;
            let excused = matches!(load.kind, LoadKind::Coil | LoadKind::ConverterInput)
                || part == ComponentKind::Combiner
                || nets.is_negative(positive);
            if excused {
                continue;
            }
            let Answer::Yes(witness) = spread.answer(positive) else {
                continue;
            };
            let path = nodes_of(system, &witness.path, positive);
            let Some(&(source, _)) = behind_switch.iter().find(|&&(_, node)| node == path[0])
            else {
                continue;
            };
            let way = up.way(system, &path);
            self.loads.push(LiveLoad {
                load: LoadId::at(index),
                source,
                witness,
                way,
            });
        }
    }
}

/// What no position can make dead: reached from a battery past no contact, by way of converters that are fed so too.
fn always_live(system: &System, nets: &Nets, gate: impl Fn(LinkId) -> Option<f64>) -> Walk {
    let mut from: Vec<NodeId> = batteries(system, nets)
        .into_iter()
        .map(|(_, node)| node)
        .collect();
    let reached = |from: &[NodeId]| {
        walk(system, &State::normal(system), from, |link| {
            let is_contact = matches!(system.links[link.index()].kind, LinkKind::Contact { .. });
            gate(link).is_some() && !is_contact
        })
    };
    let mut solid = reached(&from);
    for _ in 0..CONVERTERS_IN_LINE {
        let before = from.len();
        for pole in nets.ungrounded() {
            let source = &system.sources[pole.source.index()];
            let input = source
                .input
                .filter(|_| supplies(source) && !from.contains(&pole.node));
            let is_fed = input.is_some_and(|input| {
                solid.reaches(ends(system, system.loads[input.index()].link).0)
            });
            if is_fed {
                from.push(pole.node);
            }
        }
        if from.len() == before {
            break;
        }
        solid = reached(&from);
    }
    solid
}

/// Poles of the batteries.
fn batteries(system: &System, nets: &Nets) -> Vec<(SourceId, NodeId)> {
    nets.ungrounded()
        .iter()
        .filter(|pole| {
            matches!(
                system.sources[pole.source.index()].kind,
                SourceKind::Battery | SourceKind::Solar
            )
        })
        .map(|pole| (pole.source, pole.node))
        .collect()
}

/// Whether a source is a converter that supplies loads, and no charger between batteries.
fn supplies(source: &Source) -> bool {
    source.kind == SourceKind::Converter && source.chemistry.is_none()
}

/// Converters whose input has come alive and that were not live before.
fn woken(
    system: &System,
    nets: &Nets,
    reach: &Reach<'_>,
    sources: &[(SourceId, NodeId)],
) -> Vec<(SourceId, NodeId)> {
    let nodes: Vec<NodeId> = sources.iter().map(|&(_, node)| node).collect();
    let spread = reach.spread(&nodes);
    nets.ungrounded()
        .iter()
        .filter(|pole| {
            let source = &system.sources[pole.source.index()];
            let known = sources.iter().any(|&(id, _)| id == pole.source);
            let input = source.input.filter(|_| supplies(source));
            !known
                && input.is_some_and(|input| {
                    let (positive, _) = ends(system, system.loads[input.index()].link);
                    spread.reached(positive) != Reached::Never
                })
        })
        .map(|pole| (pole.source, pole.node))
        .collect()
}

/// The nodes along a path, the start first.
fn nodes_of(system: &System, path: &[LinkId], end: NodeId) -> Vec<NodeId> {
    let mut nodes = vec![end];
    let mut at = end;
    for &link in path.iter().rev() {
        let (a, b) = ends(system, link);
        at = if a == at { b } else { a };
        nodes.push(at);
    }
    nodes.reverse();
    nodes
}

/// The two sides of the battery switches.
struct Sides {
    /// Banks that a battery switch isolates from something.
    switched: Vec<bool>,
    /// Near and far ends of battery switch contacts, as seen from the batteries.
    contacts: Vec<(NodeId, NodeId)>,
}

impl Sides {
    fn new(system: &System, nets: &Nets) -> Self {
        let contacts: Vec<LinkId> = (0..system.links.len())
            .map(LinkId::at)
            .filter(|&link| is_battery_switch(system, link))
            .collect();
        // Banks beyond the effort allowed are told by another question; here they count as switched.
        let mut switched = vec![true; system.banks.len()];
        let all: Vec<NodeId> = system
            .banks
            .iter()
            .flat_map(|bank| tops(system, bank))
            .collect();
        let distance = hops(system, nets, &all, |_| true);
        for (index, bank) in system.banks.iter().enumerate().take(affordable(system)) {
            let reached = hops(system, nets, &tops(system, bank), |_| true);
            switched[index] = contacts.iter().any(|&link| {
                let (a, b) = ends(system, link);
                reached[a.index()] != u32::MAX || reached[b.index()] != u32::MAX
            });
        }
        let mut isolating: Vec<(NodeId, NodeId)> = contacts
            .iter()
            .filter(|&&link| isolates(system, link))
            .filter_map(|&link| {
                let (a, b) = ends(system, link);
                match distance[a.index()].cmp(&distance[b.index()]) {
                    std::cmp::Ordering::Less => Some((a, b)),
                    std::cmp::Ordering::Greater => Some((b, a)),
                    std::cmp::Ordering::Equal => None,
                }
            })
            .collect();
        isolating.sort_unstable();
        isolating.dedup();
        Self {
            switched,
            contacts: isolating,
        }
    }
}

fn is_battery_switch(system: &System, link: LinkId) -> bool {
    matches!(system.links[link.index()].kind, LinkKind::Contact { gear, .. }
        if system.gears[gear.index()].kind == GearKind::BatterySwitch)
}

/// Whether a contact feeds something, rather than only joining banks.
fn isolates(system: &System, link: LinkId) -> bool {
    let LinkKind::Contact { gear, closed_in } = &system.links[link.index()].kind else {
        return false;
    };
    let positions = &system.gears[gear.index()].positions;
    closed_in.iter().any(|&position| {
        positions
            .get(usize::from(position))
            .is_some_and(|position| !position.joins_banks)
    })
}

/// Links from some nodes to every other, all contacts closed but those of battery switches.
fn hops(
    system: &System,
    nets: &Nets,
    from: &[NodeId],
    enters: impl Fn(NodeId) -> bool,
) -> Vec<u32> {
    let mut hops = vec![u32::MAX; system.nodes.len()];
    let mut queue = VecDeque::new();
    for &node in from {
        if enters(node) && hops[node.index()] == u32::MAX {
            hops[node.index()] = 0;
            queue.push_back(node);
        }
    }
    while let Some(node) = queue.pop_front() {
        for &link in &system.nodes[node.index()].links {
            let (a, b) = ends(system, link);
            let next = if a == node { b } else { a };
            let diode = matches!(system.links[link.index()].kind, LinkKind::Diode { .. });
            let shut = !super::states::conducts(system, link)
                || is_battery_switch(system, link)
                || nets.is_negative(next)
                || (diode && a != node)
                || !enters(next);
            if shut || hops[next.index()] != u32::MAX {
                continue;
            }
            hops[next.index()] = hops[node.index()] + 1;
            queue.push_back(next);
        }
    }
    hops
}

/// How far down the switched side each node lies; nodes that are always live do not belong to it.
struct Upstream {
    down: Vec<u32>,
    /// Battery switch contacts whose two ends a wire joins: the far end, and the nodes nearer to it than to the other.
    bridged: Vec<(NodeId, Vec<bool>)>,
}

impl Upstream {
    fn new(system: &System, nets: &Nets, nodes: &[Liveness], sides: &Sides) -> Self {
        let outputs: Vec<NodeId> = sides.contacts.iter().map(|&(_, far)| far).collect();
        let down = hops(system, nets, &outputs, |node| {
            nodes[node.index()] != Liveness::Always
        });
        let bridged = sides
            .contacts
            .iter()
            .filter(|(near, far)| nets.net(*near) == nets.net(*far))
            .take(BRIDGES)
            .map(|&(near, far)| {
                let (from_near, from_far) = (
                    hops(system, nets, &[near], |_| true),
                    hops(system, nets, &[far], |_| true),
                );
                let nearer = from_far
                    .iter()
                    .zip(&from_near)
                    .map(|(far, near)| far < near);
                (far, nearer.collect())
            })
            .collect();
        Self { down, bridged }
    }

    fn way(&self, system: &System, path: &[NodeId]) -> Way {
        let end = path[path.len() - 1];
        if let Some((far, _)) = self.bridged.iter().find(|(_, nearer)| nearer[end.index()]) {
            return Way::RoundSwitch(*far);
        }
        let is_down = |node: &NodeId| self.down[node.index()] != u32::MAX;
        let Some(enters) = path.iter().position(is_down) else {
            return Way::Direct;
        };
        // Two feeds and what they feed meet where three links do.
        let joint = path[enters..]
            .iter()
            .copied()
            .find(|node| system.nodes[node.index()].links.len() > 2)
            .unwrap_or(path[enters]);
        let up = path[enters..]
            .iter()
            .copied()
            .min_by_key(|node| self.down[node.index()])
            .unwrap_or(joint);
        if self.down[up.index()] < self.down[joint.index()] {
            Way::BackFeed { joint, up }
        } else {
            Way::Direct
        }
    }
}
