//! The largest current into a short anywhere, and through every device.
//!
//! The negative counts as one point, so a short costs no return. What hangs on the batteries by one way only adds its
//! resistance to that way. Where ways close into loops, over two batteries or over two switches, the loop is solved;
//! if batteries lie in it, in every combination of the positions of its contacts.

use super::batteries::{BatteryFault, Certainty};
use super::dense::Matrix;
use crate::analysis::poles::{Pole, Poles};
use crate::standards;
use crate::system::{DeviceId, GearId, LinkId, LinkKind, NodeId, SourceId, System};
use crate::units::{Amps, Celsius, Metres};
use petgraph::unionfind::UnionFind;
use std::collections::BTreeMap;

/// Resistance in ohms under which a part of a loop counts as having this much, so that two in parallel share.
///
/// Far below any lug; it lowers no current by a thousandth.
const LEAST_OHMS: f64 = 1e-6;
/// Points of a loop that are solved; a larger loop gives the sum of its batteries as a bound.
const MAX_POINTS: usize = 160;
/// Multiplications that one loop may cost in all its states.
const MAX_WORK: usize = 50_000_000;
/// Combinations of positions tried in one loop; beyond them all its contacts count as closed at once.
const MAX_STATES: usize = 64;
/// Share within which two currents through a device are one, so that the state nearer to normal is told.
const SAME_SHARE: f64 = 1e-3;
/// Temperature of copper that has not carried current yet.
const COOL: Celsius = Celsius(20.0);
/// The point that stands for the negative.
const GROUND: usize = 0;

/// The side of a device on which a short lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Behind its supply terminal.
    Supply,
    /// Behind its load terminal.
    Load,
}

/// A largest fault current with what it comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prospective<'f> {
    /// The current.
    pub current: Amps,
    /// The least sure of its batteries.
    pub certainty: Certainty,
    /// Batteries that feed it, in file order.
    pub sources: &'f [SourceId],
    /// The parts between batteries that stand off their normal position in the state that shows it, in file order.
    pub positions: &'f [(GearId, u16)],
}

/// Largest currents of the whole boat.
#[derive(Clone, Debug)]
pub(super) struct Largest {
    point_of_node: Vec<usize>,
    found: Vec<Option<Found>>,
    through: Vec<Option<(Found, Side)>>,
    origins: Vec<Origin>,
    /// A loop was too large to be solved exactly.
    pub(super) bounded: bool,
}

/// Voltage and resistance behind which a point is fed in its worst state.
#[derive(Clone, Copy, Debug)]
struct Found {
    volts: f64,
    ohms: f64,
    origin: usize,
}

impl Found {
    fn amps(self) -> f64 {
        self.volts / self.ohms.max(LEAST_OHMS)
    }
}

#[derive(Clone, Debug)]
struct Origin {
    certainty: Certainty,
    sources: Vec<SourceId>,
    positions: Vec<(GearId, u16)>,
}

/// Which positions may occur.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Occurring {
    /// All that interlocks permit.
    All,
    /// Those for emergencies left out.
    Lasting,
}

impl Largest {
    pub(super) fn new(
        system: &System,
        poles: &Poles,
        batteries: &[Option<BatteryFault>],
        occurring: Occurring,
    ) -> Self {
        let network = Network::new(system, poles, batteries, occurring);
        let mut largest = Self {
            found: vec![None; network.points],
            through: vec![None; system.devices.len()],
            origins: Vec::new(),
            bounded: false,
            point_of_node: Vec::new(),
        };
        // A part is reported after all that hangs on it, so the order is turned round.
        for part in network.parts().iter().rev() {
            match part.edges.as_slice() {
                [edge] => largest.extend(&network, part.root, *edge),
                _ => largest.solve(&network, part),
            }
        }
        largest.point_of_node = network.point_of_node;
        largest
    }

    pub(super) fn at(&self, node: NodeId) -> Option<Prospective<'_>> {
        self.found[self.point_of_node[node.index()]].map(|found| self.tell(found))
    }

    pub(super) fn through(&self, device: DeviceId) -> Option<(Prospective<'_>, Side)> {
        self.through[device.index()].map(|(found, side)| (self.tell(found), side))
    }

    fn tell(&self, found: Found) -> Prospective<'_> {
        let origin = &self.origins[found.origin];
        Prospective {
            current: Amps(found.amps()),
            certainty: origin.certainty,
            sources: &origin.sources,
            positions: &origin.positions,
        }
    }

    /// Goes one edge further where there is only one way.
    fn extend(&mut self, network: &Network<'_>, root: usize, edge: usize) {
        let edge = &network.edges[edge];
        let away = if edge.a == root { edge.b } else { edge.a };
        let before = self.found[root];
        let found = match edge.element {
            Element::Passive(ohms) => before.map(|found| Found {
                ohms: found.ohms + ohms,
                ..found
            }),
            Element::Battery { source, emf, ohms } => {
                let emf = if away == edge.a { emf } else { -emf };
                let (volts, behind) = before.map_or((0.0, 0.0), |found| (found.volts, found.ohms));
                let mut sources = before
                    .map_or_else(Vec::new, |found| self.origins[found.origin].sources.clone());
                sources.push(source);
                let positions = before.map_or_else(Vec::new, |found| {
                    self.origins[found.origin].positions.clone()
                });
                Some(Found {
                    volts: volts + emf,
                    ohms: behind + ohms,
                    origin: self.origin(network, sources, positions),
                })
            }
        }
        .filter(|found| found.volts > 0.0);
        if let (Some(device), Some(found)) = (edge.device, found) {
            let side = if away == edge.b {
                Side::Load
            } else {
                Side::Supply
            };
            self.offer_through(device, found, side);
        }
        if away != GROUND {
            self.offer(away, found);
        }
    }

    /// Solves a loop in each of its states.
    fn solve(&mut self, network: &Network<'_>, part: &Part) {
        let mut points: Vec<usize> = part
            .edges
            .iter()
            .flat_map(|&edge| [network.edges[edge].a, network.edges[edge].b])
            .filter(|&point| point != GROUND)
            .collect();
        points.sort_unstable();
        points.dedup();
        let feed = self.found[part.root].filter(|_| part.root != GROUND);
        if points.len() > MAX_POINTS {
            self.bounded = true;
            self.bound(network, part, &points, feed);
            return;
        }
        let mut states = network.states(part);
        if states.len() * points.len().pow(3) > MAX_WORK {
            states.clear();
        }
        self.bounded |= states.is_empty();
        let all_closed = Vec::new();
        let each: Vec<&Vec<(GearId, u16)>> = if states.is_empty() {
            vec![&all_closed]
        } else {
            states.iter().collect()
        };
        for positions in each {
            let closed: Vec<usize> = part
                .edges
                .iter()
                .copied()
                .filter(|&edge| network.edges[edge].closed(positions))
                .collect();
            let state = Shorted {
                network,
                points: &points,
                closed,
                positions,
                feed: feed.map(|found| (part.root, found)),
            };
            self.take(&state);
        }
    }

    /// Takes the worst of every point and device of a loop in one state.
    fn take(&mut self, state: &Shorted<'_>) {
        let network = state.network;
        let sides = state.sides(None);
        let Some(answer) = state.answer(&sides) else {
            return;
        };
        let mut known: BTreeMap<usize, usize> = BTreeMap::new();
        for (row, &point) in answer.rows.iter().enumerate() {
            let found = Found {
                volts: answer.open[row],
                ohms: answer.inverse.at(row, row),
                origin: usize::MAX,
            };
            if !self.beats(point, found) {
                continue;
            }
            let side = sides.of(point);
            let origin = *known
                .entry(side)
                .or_insert_with(|| self.origin_of(state, &sides, side));
            self.found[point] = Some(Found { origin, ..found });
        }
        for &index in &state.closed {
            let edge = &network.edges[index];
            let (Some(device), Element::Passive(ohms)) = (edge.device, edge.element) else {
                continue;
            };
            let parted = state.sides(Some(index));
            for (from, to, side) in [(edge.a, edge.b, Side::Load), (edge.b, edge.a, Side::Supply)] {
                let Some((volts, behind)) = answer.through(&parted, from, to, ohms) else {
                    continue;
                };
                let found = Found {
                    volts,
                    ohms: behind,
                    origin: usize::MAX,
                };
                let worse = self.through[device.index()]
                    .is_none_or(|(before, _)| found.amps() > before.amps());
                if volts > 0.0 && worse {
                    let origin = self.origin_of(state, &parted, parted.of(from));
                    self.through[device.index()] = Some((Found { origin, ..found }, side));
                }
            }
        }
    }

    /// The sum of everything that feeds a loop, for each of its points and devices.
    fn bound(&mut self, network: &Network<'_>, part: &Part, points: &[usize], feed: Option<Found>) {
        let mut amps = feed.map_or(0.0, Found::amps);
        let mut volts = feed.map_or(0.0, |found| found.volts);
        let mut sources =
            feed.map_or_else(Vec::new, |found| self.origins[found.origin].sources.clone());
        for &edge in &part.edges {
            if let Element::Battery { source, emf, ohms } = network.edges[edge].element {
                amps += emf / ohms.max(LEAST_OHMS);
                volts = volts.max(emf);
                sources.push(source);
            }
        }
        if amps <= 0.0 {
            return;
        }
        let found = Found {
            volts,
            ohms: volts / amps,
            origin: self.origin(network, sources, Vec::new()),
        };
        for &point in points {
            self.offer(point, Some(found));
        }
        for &edge in &part.edges {
            if let Some(device) = network.edges[edge].device {
                self.offer_through(device, found, Side::Load);
            }
        }
    }

    fn offer(&mut self, point: usize, found: Option<Found>) {
        if let Some(found) = found
            && self.beats(point, found)
        {
            self.found[point] = Some(found);
        }
    }

    fn offer_through(&mut self, device: DeviceId, found: Found, side: Side) {
        let better = match self.through[device.index()] {
            None => Some((found, side)),
            Some((before, before_side)) => {
                let (amps, moves) = (before.amps(), self.moves(before));
                let same = (found.amps() - amps).abs() <= amps * SAME_SHARE;
                match (same, self.moves(found) < moves, found.amps() > amps) {
                    // Of currents that differ by a hair the greater is told, in the state nearer to normal.
                    (true, true, false) => Some((
                        Found {
                            origin: found.origin,
                            ..before
                        },
                        side,
                    )),
                    (true, false, true) => Some((
                        Found {
                            origin: before.origin,
                            ..found
                        },
                        before_side,
                    )),
                    (_, _, true) => Some((found, side)),
                    (_, _, false) => None,
                }
            }
        };
        if better.is_some() {
            self.through[device.index()] = better;
        }
    }

    /// How many parts stand off normal for a current.
    fn moves(&self, found: Found) -> usize {
        self.origins[found.origin].positions.len()
    }

    fn beats(&self, point: usize, found: Found) -> bool {
        found.volts > 0.0 && self.found[point].is_none_or(|before| found.amps() > before.amps())
    }

    /// What feeds one side of a loop in a state.
    fn origin_of(&mut self, state: &Shorted<'_>, sides: &Sides, side: usize) -> usize {
        let network = state.network;
        let mut sources = Vec::new();
        if let Some((root, found)) = state.feed
            && sides.of(root) == side
        {
            sources.extend(&self.origins[found.origin].sources);
        }
        for &edge in &state.closed {
            let edge = &network.edges[edge];
            if let Element::Battery { source, .. } = edge.element {
                let end = if edge.a == GROUND { edge.b } else { edge.a };
                if sides.of(end) == side {
                    sources.push(source);
                }
            }
        }
        self.origin(network, sources, state.positions.clone())
    }

    fn origin(
        &mut self,
        network: &Network<'_>,
        mut sources: Vec<SourceId>,
        positions: Vec<(GearId, u16)>,
    ) -> usize {
        sources.sort_unstable();
        sources.dedup();
        let certainty = sources
            .iter()
            .filter_map(|source| network.batteries[source.index()])
            .fold(Certainty::Stated, |sum, battery| sum.and(battery.certainty));
        let off_normal = |&(gear, position): &(GearId, u16)| {
            network.system.gears[gear.index()].normal != position
        };
        self.origins.push(Origin {
            certainty,
            sources,
            positions: positions.into_iter().filter(off_normal).collect(),
        });
        self.origins.len() - 1
    }
}

#[derive(Clone, Copy, Debug)]
enum Element {
    Passive(f64),
    /// The edge's `a` is the positive post.
    Battery {
        source: SourceId,
        emf: f64,
        ohms: f64,
    },
}

#[derive(Clone, Debug)]
struct Edge<'s> {
    a: usize,
    b: usize,
    element: Element,
    /// The part whose positions close it.
    contact: Option<(GearId, &'s [u16])>,
    device: Option<DeviceId>,
}

impl Edge<'_> {
    /// Closed in some positions; a part that is not among them counts as closed.
    fn closed(&self, positions: &[(GearId, u16)]) -> bool {
        let Some((gear, closed_in)) = self.contact else {
            return true;
        };
        positions
            .iter()
            .find(|&&(moved, _)| moved == gear)
            .is_none_or(|(_, position)| closed_in.contains(position))
    }
}

/// Edges that lie on loops with each other, or one edge alone, and the point they hang on.
#[derive(Clone, Debug)]
struct Part {
    root: usize,
    edges: Vec<usize>,
}

/// The ungrounded side of the boat with its batteries.
struct Network<'s> {
    system: &'s System,
    batteries: &'s [Option<BatteryFault>],
    occurring: Occurring,
    point_of_node: Vec<usize>,
    points: usize,
    edges: Vec<Edge<'s>>,
}

impl<'s> Network<'s> {
    fn new(
        system: &'s System,
        poles: &Poles,
        batteries: &'s [Option<BatteryFault>],
        occurring: Occurring,
    ) -> Self {
        let nodes = system.nodes.len();
        // The last member stands for the negative.
        let mut joined = UnionFind::<usize>::new(nodes + 1);
        for node in 0..nodes {
            if poles.of(NodeId::at(node)) == Pole::Negative {
                joined.union(node, nodes);
            }
        }
        let ohms: Vec<f64> = (0..system.links.len())
            .map(|link| least_ohms(system, LinkId::at(link)))
            .collect();
        for (link, &ohms) in system.links.iter().zip(&ohms) {
            let solid = matches!(
                link.kind,
                LinkKind::Conductor(_) | LinkKind::Mate { .. } | LinkKind::Joint
            );
            if solid && ohms == 0.0 {
                joined.union(
                    system.node_of(link.a).index(),
                    system.node_of(link.b).index(),
                );
            }
        }
        let mut number = vec![usize::MAX; nodes + 1];
        number[joined.find(nodes)] = GROUND;
        let mut points = 1;
        let point_of_node: Vec<usize> = (0..nodes)
            .map(|node| {
                let root = joined.find(node);
                if number[root] == usize::MAX {
                    number[root] = points;
                    points += 1;
                }
                number[root]
            })
            .collect();
        let mut network = Self {
            system,
            batteries,
            occurring,
            point_of_node,
            points,
            edges: Vec::new(),
        };
        network.add_edges(&ohms);
        network.add_diodes();
        network
    }

    fn ends(&self, link: LinkId) -> (usize, usize) {
        let link = &self.system.links[link.index()];
        (
            self.point_of_node[self.system.node_of(link.a).index()],
            self.point_of_node[self.system.node_of(link.b).index()],
        )
    }

    fn occurs(&self, gear: GearId, position: u16) -> bool {
        let positions = &self.system.gears[gear.index()].positions;
        let emergency = positions
            .get(usize::from(position))
            .is_some_and(|position| position.emergency);
        self.occurring == Occurring::All || !emergency
    }

    fn add_edges(&mut self, ohms: &[f64]) {
        let system = self.system;
        for (index, link) in system.links.iter().enumerate() {
            let (a, b) = self.ends(LinkId::at(index));
            if a == b {
                continue;
            }
            let mut edge = Edge {
                a,
                b,
                element: Element::Passive(ohms[index]),
                contact: None,
                device: None,
            };
            let to_ground = a == GROUND || b == GROUND;
            match &link.kind {
                LinkKind::Source(source) => {
                    let Some(battery) = self.batteries[source.index()] else {
                        continue;
                    };
                    edge.element = Element::Battery {
                        source: *source,
                        emf: battery.full.0,
                        ohms: battery.least.0,
                    };
                }
                LinkKind::Load(_) | LinkKind::Diode { .. } => continue,
                // A contact towards the negative would be the short itself.
                LinkKind::Contact { gear, closed_in }
                    if to_ground || !closed_in.iter().any(|&at| self.occurs(*gear, at)) =>
                {
                    continue;
                }
                LinkKind::Contact { gear, closed_in } => edge.contact = Some((*gear, closed_in)),
                LinkKind::Device(device) if system.devices[device.index()].spare => continue,
                LinkKind::Device(device) => edge.device = Some(*device),
                LinkKind::Conductor(_) | LinkKind::Mate { .. } | LinkKind::Joint => {}
            }
            self.edges.push(edge);
        }
    }

    /// Adds the diodes whose supply side a battery reaches; the others block its current.
    fn add_diodes(&mut self) {
        let mut left: Vec<(usize, usize)> = self
            .system
            .links
            .iter()
            .enumerate()
            .filter(|(_, link)| matches!(link.kind, LinkKind::Diode { .. }))
            .map(|(index, _)| self.ends(LinkId::at(index)))
            .filter(|(a, b)| a != b)
            .collect();
        while !left.is_empty() {
            let mut reached = UnionFind::<usize>::new(self.points);
            for edge in &self.edges {
                reached.union(edge.a, edge.b);
            }
            let (passing, blocked): (Vec<_>, Vec<_>) = left
                .into_iter()
                .partition(|&(a, _)| reached.equiv(a, GROUND));
            left = blocked;
            if passing.is_empty() {
                return;
            }
            self.edges.extend(passing.into_iter().map(|(a, b)| Edge {
                a,
                b,
                element: Element::Passive(0.0),
                contact: None,
                device: None,
            }));
        }
    }

    /// The parts that loops make, each after all parts that hang on it.
    fn parts(&self) -> Vec<Part> {
        let mut starts = vec![0usize; self.points + 1];
        for edge in &self.edges {
            starts[edge.a + 1] += 1;
            starts[edge.b + 1] += 1;
        }
        for point in 0..self.points {
            starts[point + 1] += starts[point];
        }
        let mut next = starts.clone();
        let mut at = vec![0usize; 2 * self.edges.len()];
        for (index, edge) in self.edges.iter().enumerate() {
            for end in [edge.a, edge.b] {
                at[next[end]] = index;
                next[end] += 1;
            }
        }
        let mut next = starts.clone();
        let mut depth = vec![0usize; self.points];
        let mut low = vec![0usize; self.points];
        let mut taken = vec![false; self.edges.len()];
        let mut waiting: Vec<usize> = Vec::new();
        let mut parts = Vec::new();
        // A point, and where the edges beyond it begin among those waiting.
        let mut open = vec![(GROUND, 0)];
        let mut count = 1;
        depth[GROUND] = 1;
        low[GROUND] = 1;
        while let Some(&(point, begin)) = open.last() {
            if next[point] == starts[point + 1] {
                open.pop();
                if let Some(&(parent, _)) = open.last() {
                    low[parent] = low[parent].min(low[point]);
                    if low[point] >= depth[parent] {
                        parts.push(Part {
                            root: parent,
                            edges: waiting.split_off(begin),
                        });
                    }
                }
                continue;
            }
            let index = at[next[point]];
            next[point] += 1;
            if std::mem::replace(&mut taken[index], true) {
                continue;
            }
            let edge = &self.edges[index];
            let other = if edge.a == point { edge.b } else { edge.a };
            let begins = waiting.len();
            waiting.push(index);
            if depth[other] == 0 {
                count += 1;
                depth[other] = count;
                low[other] = count;
                open.push((other, begins));
            } else {
                low[point] = low[point].min(depth[other]);
            }
        }
        parts
    }

    /// Combinations of positions to try in a loop; none at all where there are too many.
    ///
    /// A loop without batteries is fed from one point, so it carries most with everything closed.
    fn states(&self, part: &Part) -> Vec<Vec<(GearId, u16)>> {
        let has_battery = part
            .edges
            .iter()
            .any(|&edge| matches!(self.edges[edge].element, Element::Battery { .. }));
        if !has_battery {
            return vec![Vec::new()];
        }
        let mut contacts: BTreeMap<GearId, Vec<&[u16]>> = BTreeMap::new();
        for &edge in &part.edges {
            if let Some((gear, closed_in)) = self.edges[edge].contact {
                contacts.entry(gear).or_default().push(closed_in);
            }
        }
        let mut states: Vec<Vec<(GearId, u16)>> = vec![Vec::new()];
        for (gear, contacts) in contacts {
            let positions = self.distinct_positions(gear, &contacts);
            if states.len() * positions.len() > MAX_STATES {
                return Vec::new();
            }
            states = states
                .iter()
                .flat_map(|state| {
                    positions.iter().map(|&position| {
                        let mut state = state.clone();
                        state.push((gear, position));
                        state
                    })
                })
                .collect();
        }
        let occurs = |state: &Vec<(GearId, u16)>| {
            !self.system.interlocks.iter().any(|interlock| {
                !interlock.never.is_empty()
                    && interlock.never.iter().all(|pair| state.contains(pair))
            })
        };
        states.into_iter().filter(occurs).collect()
    }

    /// Positions that close different contacts of a loop, normal first.
    fn distinct_positions(&self, gear: GearId, contacts: &[&[u16]]) -> Vec<u16> {
        let record = &self.system.gears[gear.index()];
        let interlocked = self
            .system
            .interlocks
            .iter()
            .any(|interlock| interlock.never.iter().any(|&(of, _)| of == gear));
        let count = u16::try_from(record.positions.len()).unwrap_or(u16::MAX);
        let mut seen: Vec<Vec<bool>> = Vec::new();
        let mut kept = Vec::new();
        let occurring = std::iter::once(record.normal)
            .chain(0..count)
            .filter(|&position| self.occurs(gear, position));
        for position in occurring {
            let closes: Vec<bool> = contacts
                .iter()
                .map(|closed_in| closed_in.contains(&position))
                .collect();
            let new = if interlocked {
                !kept.contains(&position)
            } else {
                !seen.contains(&closes)
            };
            if new {
                seen.push(closes);
                kept.push(position);
            }
        }
        kept
    }
}

/// Which side of a parted loop a point is on, the negative left out.
struct Sides {
    side: BTreeMap<usize, usize>,
    fed: Vec<bool>,
}

impl Sides {
    fn of(&self, point: usize) -> usize {
        self.side.get(&point).copied().unwrap_or(usize::MAX)
    }

    /// Whether a battery or the root feeds the side of a point.
    fn is_fed(&self, point: usize) -> bool {
        self.fed.get(self.of(point)).copied().unwrap_or(false)
    }
}

/// A loop in one state.
struct Shorted<'n> {
    network: &'n Network<'n>,
    points: &'n [usize],
    closed: Vec<usize>,
    positions: &'n Vec<(GearId, u16)>,
    /// The point it hangs on, where that is not the negative, with what feeds it there.
    feed: Option<(usize, Found)>,
}

impl Shorted<'_> {
    /// The sides that remain when an edge is taken out.
    fn sides(&self, without: Option<usize>) -> Sides {
        let row: BTreeMap<usize, usize> = self
            .points
            .iter()
            .enumerate()
            .map(|(row, &point)| (point, row))
            .collect();
        let mut joined = UnionFind::<usize>::new(self.points.len());
        let edges = || {
            self.closed
                .iter()
                .filter(|&&edge| Some(edge) != without)
                .map(|&edge| &self.network.edges[edge])
        };
        for edge in edges() {
            if let (Some(&a), Some(&b)) = (row.get(&edge.a), row.get(&edge.b)) {
                joined.union(a, b);
            }
        }
        let mut fed = vec![false; self.points.len()];
        for edge in edges() {
            if matches!(edge.element, Element::Battery { .. })
                && (edge.a == GROUND || edge.b == GROUND)
            {
                let end = if edge.a == GROUND { edge.b } else { edge.a };
                if let Some(&end) = row.get(&end) {
                    fed[joined.find(end)] = true;
                }
            }
        }
        if let Some((root, _)) = self.feed
            && let Some(&root) = row.get(&root)
        {
            fed[joined.find(root)] = true;
        }
        Sides {
            side: row
                .iter()
                .map(|(&point, &row)| (point, joined.find(row)))
                .collect(),
            fed,
        }
    }

    /// The inverse of the conductances of everything that is fed, and the voltages before any short.
    fn answer(&self, sides: &Sides) -> Option<Answer> {
        let rows: Vec<usize> = self
            .points
            .iter()
            .copied()
            .filter(|&point| sides.is_fed(point))
            .collect();
        let row = |point: usize| rows.binary_search(&point).ok();
        let mut matrix = Matrix::new(rows.len());
        let mut driven = vec![0.0; rows.len()];
        let mut branch = |a: Option<usize>, b: Option<usize>, ohms: f64, emf: f64| {
            let siemens = 1.0 / ohms.max(LEAST_OHMS);
            for (end, other, amps) in [(a, b, siemens * emf), (b, a, -siemens * emf)] {
                let Some(end) = end else { continue };
                matrix.add(end, end, siemens);
                driven[end] += amps;
                if let Some(other) = other {
                    matrix.add(end, other, -siemens);
                }
            }
        };
        for &edge in &self.closed {
            let edge = &self.network.edges[edge];
            let (ohms, emf) = match edge.element {
                Element::Passive(ohms) => (ohms, 0.0),
                Element::Battery { emf, ohms, .. } => (ohms, emf),
            };
            let fed = [edge.a, edge.b]
                .into_iter()
                .all(|end| end == GROUND || sides.is_fed(end));
            if fed {
                branch(row(edge.a), row(edge.b), ohms, emf);
            }
        }
        if let Some((root, found)) = self.feed {
            branch(row(root), None, found.ohms, found.volts);
        }
        let inverse = matrix.inverse()?;
        let open = inverse.times(&driven);
        Some(Answer {
            rows,
            inverse,
            open,
        })
    }
}

/// A loop in one state, solved.
struct Answer {
    /// The points, ascending.
    rows: Vec<usize>,
    inverse: Matrix,
    /// Voltages before any short.
    open: Vec<f64>,
}

impl Answer {
    /// Voltage and resistance behind which a device is fed from `from` when `to` is shorted to the negative.
    ///
    /// The device is taken out by a change of rank one, and the short put in; `parted` are the sides without it.
    fn through(&self, parted: &Sides, from: usize, to: usize, ohms: f64) -> Option<(f64, f64)> {
        let row = |point: usize| self.rows.binary_search(&point).ok();
        let (i, j) = (row(from)?, row(to)?);
        if !parted.is_fed(from) {
            return None;
        }
        let z = &self.inverse;
        if !parted.is_fed(to) {
            // Nothing but the device holds the far side, so it changes nothing on the near one.
            return Some((self.open[i], z.at(i, i) + ohms));
        }
        let siemens = 1.0 / ohms.max(LEAST_OHMS);
        let across = |row: usize| z.at(row, i) - z.at(row, j);
        let (at_i, at_j) = (across(i), across(j));
        let left = 1.0 - siemens * (at_i - at_j);
        if left <= 0.0 {
            return None;
        }
        let share = siemens / left;
        let difference = self.open[i] - self.open[j];
        let (open_i, open_j) = (
            self.open[i] + share * at_i * difference,
            self.open[j] + share * at_j * difference,
        );
        let (zii, zjj, zij) = (
            z.at(i, i) + share * at_i * at_i,
            z.at(j, j) + share * at_j * at_j,
            z.at(i, j) + share * at_i * at_j,
        );
        Some((open_i - zij / zjj * open_j, zii - zij / zjj * zij + ohms))
    }
}

/// The least resistance that a link can have: solid cool copper; what is not known has none.
fn least_ohms(system: &System, link: LinkId) -> f64 {
    match system.links[link.index()].kind {
        LinkKind::Conductor(conductor) => {
            let conductor = &system.conductors[conductor.index()];
            let length = conductor.length.map_or(Metres(0.0), |given| given.value);
            conductor.gauge.map_or(0.0, |gauge| {
                (standards::least_resistance(gauge.value, COOL).0 * length).0
            })
        }
        LinkKind::Source(_) | LinkKind::Load(_) => 0.0,
        // What contacts and devices usually lose is typical, and this is to be the least.
        _ => system.links[link.index()]
            .resistance
            .map_or(0.0, |given| given.value.0),
    }
}
