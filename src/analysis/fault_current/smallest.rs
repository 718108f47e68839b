//! The smallest current into a short at the far end of a conductor: one source alone, one path, one return.
//!
//! From each battery and each string the path of least resistance is followed to every point that its voltage reaches,
//! in any realisable positions but those for emergencies, and the return likewise. A short on the way to one load is
//! taken to return as that load does; a short before a further device or on the way to several loads, by the nearest
//! bar at which the return of one of them arrives.

use super::batteries::BatteryFault;
use crate::analysis::poles::Poles;
use crate::analysis::solve;
use crate::analysis::states::{conducts, ends};
use crate::standards;
use crate::system::{
    ComponentKind, ConductorId, DeviceId, GearId, GearKind, LinkId, LinkKind, NodeId, SourceId,
    System,
};
use crate::units::{Amps, Ohms, Volts};
use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// One battery, or the batteries of a string, as a single source.
#[derive(Clone, Debug, PartialEq)]
pub struct Feed {
    /// Its batteries, lowest first.
    pub batteries: Vec<SourceId>,
    /// Nominal voltage.
    pub voltage: Volts,
    /// Typical resistance.
    pub resistance: Ohms,
}

/// The smallest current into a short at the far end of a conductor behind one device.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FarEnd {
    /// The last device before the conductor; none where there is none.
    pub device: Option<DeviceId>,
    /// The single source, an index into the feeds.
    pub feed: usize,
    /// The current; where something on the way is not known, it may be less.
    pub current: Amps,
    /// Resistance of the whole loop as far as known, source included.
    pub loop_resistance: Ohms,
    /// The node where the path enters the conductor.
    pub near: NodeId,
    /// A conductor on the way whose size or length is not given.
    pub unknown: Option<ConductorId>,
    /// The path passes no combiner and no position that joins banks.
    pub apart: bool,
}

impl FarEnd {
    /// Whether it decides before another one behind the same device.
    ///
    /// Banks that are joined feed a short together, so what one of them sends through the joint alone is no smallest
    /// current: where a source feeds the conductor by itself that one counts, else the largest of those that are joined.
    fn is_worse_than(&self, other: &Self) -> bool {
        match (self.apart, other.apart) {
            (true, true) => self.current < other.current,
            (false, false) => self.current > other.current,
            (apart, _) => apart,
        }
    }
}

/// Smallest currents of the whole boat.
#[derive(Clone, Debug)]
pub(super) struct Smallest {
    pub(super) feeds: Vec<Feed>,
    /// Single sources left out, because the boat has more than the effort allows.
    pub(super) unseen: usize,
    trees: Vec<Tree>,
    device_of_link: Vec<Option<DeviceId>>,
    far_ends: Vec<Vec<FarEnd>>,
}

/// Voltages nearer than this are one.
const SAME_VOLTS: f64 = 0.05;
/// Nodes times single sources whose paths are kept.
const MAX_TREE_NODES: usize = 2_000_000;
/// Contacts looked back at on a path, to see that one part does not stand in two positions.
const CONTACTS_BACK: usize = 64;
const NONE: u32 = u32::MAX;

impl Smallest {
    pub(super) fn new(system: &System, poles: &Poles, batteries: &[Option<BatteryFault>]) -> Self {
        let ohms: Vec<Option<f64>> = (0..system.links.len())
            .map(|link| hot_ohms(system, LinkId::at(link)))
            .collect();
        let mut smallest = Self {
            feeds: Vec::new(),
            unseen: 0,
            trees: Vec::new(),
            device_of_link: system
                .links
                .iter()
                .map(|link| match link.kind {
                    LinkKind::Device(device) => Some(device),
                    _ => None,
                })
                .collect(),
            far_ends: vec![Vec::new(); system.conductors.len()],
        };
        let all = feeds(system, batteries);
        let count = all
            .len()
            .min((MAX_TREE_NODES / system.nodes.len().max(1)).max(1));
        smallest.unseen = all.len() - count;
        for feed in all.into_iter().take(count) {
            let (top, bottom) = posts(system, &feed);
            let out = Tree::grow(system, poles, &ohms, top, Way::Out);
            let back = Tree::grow(system, poles, &ohms, bottom, Way::Back);
            let returns = Returns::new(system, &feed, &out, &back);
            smallest.take(system, &ohms, feed, &out, &returns);
            smallest.trees.push(out);
        }
        smallest
    }

    pub(super) fn far_ends(&self, conductor: ConductorId) -> &[FarEnd] {
        &self.far_ends[conductor.index()]
    }

    pub(super) fn reaches(&self, feed: usize, node: NodeId) -> bool {
        self.trees[feed].ohms(node).is_some()
    }

    pub(super) fn path(&self, feed: usize, node: NodeId) -> Vec<LinkId> {
        let mut path: Vec<LinkId> = self.trees[feed].path(node).collect();
        path.reverse();
        path
    }

    pub(super) fn path_back(&self, feed: usize, node: NodeId) -> impl Iterator<Item = LinkId> {
        self.trees[feed].path(node)
    }

    pub(super) fn feeds_apart(&self, feed: usize, node: NodeId) -> bool {
        self.reaches(feed, node) && !self.trees[feed].joins[node.index()]
    }

    pub(super) fn last_device(&self, feed: usize, node: NodeId) -> Option<DeviceId> {
        self.trees[feed].device(node, &self.device_of_link)
    }

    pub(super) fn devices_above(&self, feed: usize, node: NodeId) -> Vec<DeviceId> {
        let tree = &self.trees[feed];
        let mut devices = Vec::new();
        let mut at = Some(node);
        while let Some(node) = at {
            let beyond = tree.device[node.index()];
            if beyond == NONE {
                break;
            }
            devices.extend(self.device_of_link[tree.link[beyond as usize] as usize]);
            at = tree.parent(NodeId(beyond));
        }
        devices.reverse();
        devices
    }

    fn take(
        &mut self,
        system: &System,
        ohms: &[Option<f64>],
        feed: Feed,
        out: &Tree,
        returns: &Returns,
    ) {
        let number = self.feeds.len();
        for (index, conductor) in system.conductors.iter().enumerate() {
            let (a, b) = ends(system, conductor.link);
            let (Some(at_a), Some(at_b)) = (out.ohms(a), out.ohms(b)) else {
                continue;
            };
            if a == b {
                continue;
            }
            let (near, far) = if out.parent_link(a) == Some(conductor.link) {
                (b, a)
            } else if out.parent_link(b) == Some(conductor.link) || at_a <= at_b {
                (a, b)
            } else {
                (b, a)
            };
            let Some(back) = returns.of(far) else {
                continue;
            };
            let own = ohms[conductor.link.index()];
            let near_ohms = if near == a { at_a } else { at_b };
            let resistance = feed.resistance.0 + near_ohms + own.unwrap_or(0.0) + back.ohms;
            let unknown = out
                .unknown(near)
                .or(own.is_none().then(|| ConductorId::at(index)))
                .or(back.unknown);
            let found = FarEnd {
                device: out.device(near, &self.device_of_link),
                feed: number,
                current: Amps(feed.voltage.0 / resistance.max(f64::MIN_POSITIVE)),
                loop_resistance: Ohms(resistance),
                near,
                unknown,
                apart: !out.joins[near.index()],
            };
            let list = &mut self.far_ends[index];
            match list.iter_mut().find(|other| other.device == found.device) {
                Some(other) if found.is_worse_than(other) => *other = found,
                Some(_) => {}
                None => list.push(found),
            }
        }
        self.feeds.push(feed);
    }
}

/// Every battery, and every string of several.
fn feeds(system: &System, batteries: &[Option<BatteryFault>]) -> Vec<Feed> {
    let single = (0..system.sources.len()).map(|index| vec![SourceId::at(index)]);
    let strings = system
        .banks
        .iter()
        .flat_map(|bank| &bank.strings)
        .filter(|string| string.len() > 1)
        .cloned();
    single
        .chain(strings)
        .filter_map(|members| {
            let mut feed = Feed {
                batteries: members,
                voltage: Volts(0.0),
                resistance: Ohms(0.0),
            };
            for battery in &feed.batteries {
                let fault = batteries[battery.index()]?;
                feed.voltage = feed.voltage + system.sources[battery.index()].nominal.value;
                feed.resistance = feed.resistance + fault.typical;
            }
            Some(feed)
        })
        .collect()
}

/// Upper post of the highest battery and lower post of the lowest.
fn posts(system: &System, feed: &Feed) -> (NodeId, NodeId) {
    let link = |battery: Option<&SourceId>| {
        battery.map_or((NodeId(0), NodeId(0)), |battery| {
            ends(system, system.sources[battery.index()].link)
        })
    };
    (
        link(feed.batteries.last()).0,
        link(feed.batteries.first()).1,
    )
}

/// Whether a tree follows the current away from a post or against it.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Way {
    Out,
    Back,
}

/// Paths of least resistance from one post.
#[derive(Clone, Debug)]
struct Tree {
    ohms: Vec<f64>,
    /// The link by which a node is reached, and the node before it.
    link: Vec<u32>,
    before: Vec<u32>,
    /// Nodes in the order in which they are reached.
    order: Vec<NodeId>,
    /// The last node on the path that was reached through a device.
    device: Vec<u32>,
    /// Whether the path passes a combiner, or a contact that closes only where banks are joined.
    joins: Vec<bool>,
    /// The first conductor on the path whose resistance is not known.
    unknown: Vec<u32>,
    /// The last node on the path that was reached through a contact.
    contact: Vec<u32>,
}

impl Tree {
    fn grow(system: &System, poles: &Poles, ohms: &[Option<f64>], post: NodeId, way: Way) -> Self {
        let count = system.nodes.len();
        let mut tree = Self {
            ohms: vec![f64::INFINITY; count],
            link: vec![NONE; count],
            before: vec![NONE; count],
            order: Vec::new(),
            device: vec![NONE; count],
            joins: vec![false; count],
            unknown: vec![NONE; count],
            contact: vec![NONE; count],
        };
        let Some((level, _)) = poles.voltage(post) else {
            return tree;
        };
        let holds = |node: NodeId| {
            poles.voltage(node).is_some_and(|(low, high)| {
                low.0 - SAME_VOLTS <= level.0 && level.0 <= high.0 + SAME_VOLTS
            })
        };
        let mut done = vec![false; count];
        let mut heap = BinaryHeap::new();
        tree.ohms[post.index()] = 0.0;
        heap.push(Next {
            ohms: 0.0,
            node: post,
        });
        while let Some(Next { node, .. }) = heap.pop() {
            if std::mem::replace(&mut done[node.index()], true) {
                continue;
            }
            tree.order.push(node);
            for &link in &system.nodes[node.index()].links {
                let (a, b) = ends(system, link);
                let next = if a == node { b } else { a };
                if done[next.index()] || !conducts(system, link) || !holds(next) {
                    continue;
                }
                let forward = (a == node) == (way == Way::Out);
                let contact = match &system.links[link.index()].kind {
                    LinkKind::Diode { .. } if !forward => continue,
                    LinkKind::Contact { gear, closed_in } => {
                        if !tree.agrees(system, node, *gear, closed_in) {
                            continue;
                        }
                        true
                    }
                    _ => false,
                };
                let sum = tree.ohms[node.index()] + ohms[link.index()].unwrap_or(0.0);
                if sum >= tree.ohms[next.index()] {
                    continue;
                }
                tree.reach(system, node, next, link, sum, contact);
                if ohms[link.index()].is_none()
                    && tree.unknown[next.index()] == NONE
                    && let LinkKind::Conductor(conductor) = system.links[link.index()].kind
                {
                    tree.unknown[next.index()] = conductor.0;
                }
                heap.push(Next {
                    ohms: sum,
                    node: next,
                });
            }
        }
        tree
    }

    fn reach(
        &mut self,
        system: &System,
        node: NodeId,
        next: NodeId,
        link: LinkId,
        ohms: f64,
        contact: bool,
    ) {
        let (from, to) = (node.index(), next.index());
        self.ohms[to] = ohms;
        self.link[to] = link.0;
        self.before[to] = node.0;
        self.unknown[to] = self.unknown[from];
        self.contact[to] = if contact { next.0 } else { self.contact[from] };
        self.device[to] = if matches!(system.links[link.index()].kind, LinkKind::Device(_)) {
            next.0
        } else {
            self.device[from]
        };
        self.joins[to] = self.joins[from] || (contact && joins_banks(system, link));
    }

    /// Whether some position of a part closes one more of its contacts with those already on the path.
    fn agrees(&self, system: &System, node: NodeId, gear: GearId, closed_in: &[u16]) -> bool {
        let positions = &system.gears[gear.index()].positions;
        let lasts = |&position: &u16| {
            positions
                .get(usize::from(position))
                .is_none_or(|position| !position.emergency)
        };
        let mut left: Vec<u16> = closed_in.iter().copied().filter(lasts).collect();
        let mut at = self.contact[node.index()];
        let mut back = 0;
        while at != NONE && !left.is_empty() && back < CONTACTS_BACK {
            back += 1;
            let link = self.link[at as usize];
            if let LinkKind::Contact {
                gear: other,
                closed_in,
            } = &system.links[link as usize].kind
                && *other == gear
            {
                left.retain(|position| closed_in.contains(position));
            }
            at = self.contact[self.before[at as usize] as usize];
        }
        !left.is_empty()
    }

    fn ohms(&self, node: NodeId) -> Option<f64> {
        let ohms = self.ohms[node.index()];
        ohms.is_finite().then_some(ohms)
    }

    fn parent_link(&self, node: NodeId) -> Option<LinkId> {
        let link = self.link[node.index()];
        (link != NONE).then_some(LinkId(link))
    }

    fn parent(&self, node: NodeId) -> Option<NodeId> {
        let before = self.before[node.index()];
        (before != NONE).then_some(NodeId(before))
    }

    fn unknown(&self, node: NodeId) -> Option<ConductorId> {
        let conductor = self.unknown[node.index()];
        (conductor != NONE).then_some(ConductorId(conductor))
    }

    fn device(&self, node: NodeId, of_link: &[Option<DeviceId>]) -> Option<DeviceId> {
        let beyond = self.device[node.index()];
        if beyond == NONE {
            return None;
        }
        of_link[self.link[beyond as usize] as usize]
    }

    /// The links from a node back to the post.
    fn path(&self, node: NodeId) -> impl Iterator<Item = LinkId> {
        let mut at = Some(node);
        std::iter::from_fn(move || {
            let link = self.parent_link(at?)?;
            at = at.and_then(|node| self.parent(node));
            Some(link)
        })
    }
}

/// The nearest node is taken first, then the one that stands first in the file.
struct Next {
    ohms: f64,
    node: NodeId,
}

impl Ord for Next {
    fn cmp(&self, other: &Self) -> Ordering {
        other
            .ohms
            .total_cmp(&self.ohms)
            .then_with(|| other.node.cmp(&self.node))
    }
}

impl PartialOrd for Next {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Next {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Next {}

/// Resistance from the place of a short back to the lower post.
#[derive(Clone, Copy)]
struct Back {
    ohms: f64,
    unknown: Option<ConductorId>,
}

/// The return of a short at every node.
struct Returns {
    /// Of a node with one end of a load or source beyond it, and of a node with several.
    single: Vec<Option<Back>>,
    joint: Vec<Option<Back>>,
    beyond: Vec<u32>,
}

impl Returns {
    fn new(system: &System, feed: &Feed, out: &Tree, back: &Tree) -> Self {
        let count = system.nodes.len();
        // A node of the return where several returns meet, or may: branches of the tree, ends that stand on it, bars.
        let mut meets: Vec<u32> = system
            .nodes
            .iter()
            .map(|node| {
                let bar = node.terminals.iter().any(|&terminal| {
                    matches!(
                        system.component_of(terminal).kind,
                        ComponentKind::Bus | ComponentKind::FuseBlock | ComponentKind::Ground
                    )
                });
                if bar { 2 } else { 0 }
            })
            .collect();
        for node in 0..count {
            if let Some(before) = back.parent(NodeId::at(node)) {
                meets[before.index()] += 1;
            }
        }
        let pairs: Vec<(NodeId, NodeId)> = system
            .links
            .iter()
            .enumerate()
            .filter(|(_, link)| match link.kind {
                LinkKind::Load(_) => true,
                LinkKind::Source(source) => !feed.batteries.contains(&source),
                _ => false,
            })
            .map(|(index, _)| ends(system, LinkId::at(index)))
            .filter(|&(a, b)| out.ohms(a).is_some() && back.ohms(b).is_some())
            .collect();
        for &(_, b) in &pairs {
            meets[b.index()] += 1;
        }
        let mut junction: Vec<NodeId> = (0..count).map(NodeId::at).collect();
        for &node in &back.order {
            if meets[node.index()] < 2
                && let Some(before) = back.parent(node)
            {
                junction[node.index()] = junction[before.index()];
            }
        }
        let mut returns = Self {
            single: vec![None; count],
            joint: vec![None; count],
            beyond: vec![0; count],
        };
        let at = |node: NodeId| {
            back.ohms(node).map(|ohms| Back {
                ohms,
                unknown: back.unknown(node),
            })
        };
        for &(a, b) in &pairs {
            returns.merge(a, 1, at(b), at(junction[b.index()]));
        }
        for &node in out.order.iter().rev() {
            let index = node.index();
            if let (Some(before), Some(link)) = (out.parent(node), out.parent_link(node)) {
                let joint = returns.joint[index];
                let single = if matches!(system.links[link.index()].kind, LinkKind::Device(_)) {
                    joint
                } else {
                    returns.single[index]
                };
                returns.merge(before, returns.beyond[index], single, joint);
            }
        }
        returns
    }

    fn merge(&mut self, node: NodeId, count: u32, single: Option<Back>, joint: Option<Back>) {
        let index = node.index();
        self.beyond[index] = self.beyond[index].saturating_add(count);
        let less = |a: Option<Back>, b: Option<Back>| match (a, b) {
            (Some(a), Some(b)) => Some(if b.ohms < a.ohms { b } else { a }),
            (a, b) => a.or(b),
        };
        self.single[index] = less(self.single[index], single);
        self.joint[index] = less(self.joint[index], joint);
    }

    fn of(&self, node: NodeId) -> Option<Back> {
        let index = node.index();
        if self.beyond[index] == 1 {
            self.single[index]
        } else {
            self.joint[index]
        }
    }
}

/// Whether a contact is a combiner's, or closes only in positions that join banks or are for emergencies.
fn joins_banks(system: &System, link: LinkId) -> bool {
    let LinkKind::Contact { gear, closed_in } = &system.links[link.index()].kind else {
        return false;
    };
    let gear = &system.gears[gear.index()];
    let apart = |&position: &u16| {
        gear.positions
            .get(usize::from(position))
            .is_none_or(|position| !position.joins_banks && !position.emergency)
    };
    gear.kind == GearKind::Combiner || !closed_in.iter().any(apart)
}

/// Resistance of a link when warm: conforming cable at the temperature of its insulation; none when not known.
fn hot_ohms(system: &System, link: LinkId) -> Option<f64> {
    if let LinkKind::Conductor(conductor) = system.links[link.index()].kind {
        let conductor = &system.conductors[conductor.index()];
        let (per_metre, _) =
            standards::physical_resistance(conductor.gauge?.value, conductor.insulation.value);
        return Some((per_metre * conductor.length?.value).0);
    }
    solve::resistance(system, link, solve::Reading::Physical).map(|ohms| ohms.0)
}
