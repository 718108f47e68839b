//! The part of the boat that carries the current of one load, solved by itself, whole and with one link of it at fault.
//!
//! Loose ends carry nothing, so they are taken off; what is left is a chain of some twenty links, with loops where
//! batteries stand in parallel or a return has two ways. It is factorised once. A link of the chain that opens or
//! gains resistance shifts everything behind it; a link of a loop is a change of rank one of the matrix. So all
//! single faults of a load cost little more than its reading without fault.

use super::ldlt::{Factor, GROUND, Pattern};
use super::network::{self, Branch, DIODE_OHMS, Element, Fault};
use super::{
    FED_SHARE, Options, Reading, Running, SolveError, State, draw, ends, explain, passive,
};
use crate::system::{LinkId, LinkKind, LoadId, NodeId, SourceKind, System};
use crate::units::{Amps, Ohms, Volts};

/// What is wrong with one link.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Trouble {
    /// Nothing passes.
    Open,
    /// It has so much resistance more than it should.
    Worse(Ohms),
}

/// Room for the search, kept from one part to the next, and what never lies on a loop.
#[derive(Debug)]
pub(in crate::analysis) struct Room {
    /// By node: its number in the part that is being gathered.
    local: Vec<u32>,
    /// By node that hangs on the loops of the boat as on a tree: the link that leads towards them.
    up: Vec<Option<LinkId>>,
    /// By node: its links that are no such links, where the search goes on in every direction.
    looped: Vec<Vec<LinkId>>,
    /// Links looked at so far, over all parts.
    pub(in crate::analysis) looked_at: usize,
}

const NOT_HERE: u32 = u32::MAX;

impl Room {
    /// The link that leads from a node towards the loops of the boat; none on a loop, and at the root of a tree.
    pub(in crate::analysis) fn up(&self, node: NodeId) -> Option<LinkId> {
        self.up[node.index()]
    }

    /// Finds the loops of a boat: what is left with every contact closed and every device in when loose ends are
    /// taken off. In no state does current flow away from them but through a load.
    pub(in crate::analysis) fn new(system: &System) -> Self {
        let nodes = system.nodes.len();
        let passes = |link: LinkId| match system.links[link.index()].kind {
            LinkKind::Load(_) => false,
            LinkKind::Source(source) => system.sources[source.index()].kind == SourceKind::Battery,
            _ => true,
        };
        let mut degree = vec![0u32; nodes];
        let mut mixed = vec![0usize; nodes];
        let all = || {
            (0..system.links.len())
                .map(LinkId::at)
                .filter(|&link| passes(link))
        };
        for link in all() {
            let (a, b) = ends(system, link);
            for node in [a, b] {
                degree[node] += 1;
                mixed[node] ^= link.index();
            }
        }
        let mut up = vec![None; nodes];
        let mut hangs = vec![false; system.links.len()];
        for start in 0..nodes {
            let mut node = start;
            while degree[node] == 1 {
                let link = LinkId::at(mixed[node]);
                let (a, b) = ends(system, link);
                let other = if a == node { b } else { a };
                up[node] = Some(link);
                hangs[link.index()] = true;
                degree[node] = 0;
                degree[other] -= 1;
                mixed[other] ^= link.index();
                node = other;
            }
        }
        let mut looped = vec![Vec::new(); nodes];
        for link in all().filter(|link| !hangs[link.index()]) {
            let (a, b) = ends(system, link);
            looped[a].push(link);
            if a != b {
                looped[b].push(link);
            }
        }
        Self {
            local: vec![NOT_HERE; nodes],
            up,
            looped,
            looked_at: 0,
        }
    }
}

/// The links that carry the current of one load in one state, solved.
#[derive(Debug)]
pub(in crate::analysis) struct Part {
    /// Its links, in the order they were met from the load.
    pub(in crate::analysis) links: Vec<LinkId>,
    branches: Vec<Branch>,
    /// Nodes in ascending order, with their local numbers.
    nodes: Vec<(NodeId, usize)>,
    load: Law,
    /// Both ends of the load.
    at: (usize, usize),
    /// Unknown of each local node, and its potential above that unknown.
    unknown: Vec<usize>,
    pattern: Pattern,
    factor: Factor,
    /// Potentials without the load, and by how much one ampere of it changes them.
    open: Vec<f64>,
    unit: Vec<f64>,
    /// Current of the load.
    amps: f64,
    chain: Chain,
}

/// How the current of the load follows its voltage.
#[derive(Clone, Copy, Debug)]
enum Law {
    Current(f64),
    Power(f64),
    Resistance(f64),
}

impl Law {
    /// Current behind a voltage and a resistance; none where the load cannot run.
    fn current(self, volts: f64, ohms: f64) -> Option<f64> {
        match self {
            Self::Current(amps) => (volts - ohms * amps > 0.0).then_some(amps),
            Self::Resistance(own) => Some(volts / (ohms + own)),
            Self::Power(watts) => {
                // The upper root of V² − E·V + R·P = 0.
                let inside = volts * volts / 4.0 - ohms * watts;
                (inside >= 0.0 && volts > 0.0).then(|| watts / (volts / 2.0 + inside.sqrt()))
            }
        }
    }
}

/// Which links all the current of the load must pass, and what lies behind each.
#[derive(Debug, Default)]
struct Chain {
    /// By link: the local node behind it, seen from the load's negative, where nothing goes round the link.
    behind: Vec<Option<usize>>,
    enter: Vec<u32>,
    leave: Vec<u32>,
}

impl Chain {
    /// Whether a node lies behind the link that ends at `child`.
    fn holds(&self, child: usize, node: usize) -> bool {
        (self.enter[child]..=self.leave[child]).contains(&self.enter[node])
    }
}

impl Part {
    /// Gathers and solves the part of one load, with those loads beside it that the state has running.
    ///
    /// Charging sources rest, whatever the state says of them.
    pub(in crate::analysis) fn new(
        system: &System,
        state: &State,
        load: LoadId,
        beside: &[LoadId],
        options: Options,
        room: &mut Room,
    ) -> Result<Self, PartError> {
        let gathered = Gathered::new(system, state, (load, beside), options, room);
        let numbers: Vec<(NodeId, usize)> = {
            let mut numbers: Vec<_> = gathered
                .nodes
                .iter()
                .enumerate()
                .map(|(local, &node)| (node, local))
                .collect();
            numbers.sort_unstable();
            numbers
        };
        for &node in &gathered.nodes {
            room.local[node.index()] = NOT_HERE;
        }
        let law = gathered.law.ok_or(PartError::NoDraw)?;
        let fault = |fault: Fault| {
            PartError::Unsolvable(match fault {
                // The numbers of the part's branches are not those of the boat.
                Fault::Shorted(at) => SolveError::Shorted(gathered.links[at]),
                other => explain(system, other),
            })
        };
        let count = gathered.nodes.len();
        let (group, offset, groups) =
            network::contract(count, &gathered.branches).map_err(fault)?;
        let at = gathered.at;
        let chain = chain(count, &gathered.branches, at.1);
        if chain.enter[at.0] == NOT_HERE {
            return Err(PartError::Unfed);
        }
        // The load's negative is the zero of the part; what is not joined to it is left out.
        let mut unknown_of_group = vec![usize::MAX - 1; groups];
        unknown_of_group[group[at.1]] = GROUND;
        let mut unknowns = 0;
        for local in 0..count {
            let slot = &mut unknown_of_group[group[local]];
            if *slot == usize::MAX - 1 && chain.enter[local] != NOT_HERE {
                *slot = unknowns;
                unknowns += 1;
            }
        }
        let unknown: Vec<usize> = group
            .iter()
            .map(|&group| match unknown_of_group[group] {
                number if number == usize::MAX - 1 => GROUND,
                number => number,
            })
            .collect();
        let mut edges = Vec::new();
        let mut conductances = Vec::new();
        let mut open_side = vec![0.0; unknowns];
        let mut add = |local: usize, amps: f64| {
            if unknown[local] != GROUND {
                open_side[unknown[local]] += amps;
            }
        };
        for branch in &gathered.branches {
            let (a, b) = (branch.a, branch.b);
            if chain.enter[a] == NOT_HERE || chain.enter[b] == NOT_HERE {
                continue;
            }
            if let Element::Current(amps) = branch.element {
                add(a, -amps);
                add(b, amps);
            } else if let Some((conductance, emf)) = network::linear(branch.element) {
                edges.push((unknown[a], unknown[b]));
                conductances.push(conductance);
                let constant = conductance * (offset[a] - offset[b] - emf);
                add(a, -constant);
                add(b, constant);
            }
        }
        let pattern = Pattern::new(unknowns, &edges, &[]).map_err(|error| fault(error.into()))?;
        let factor = pattern
            .factor(&conductances)
            .map_err(|_| fault(Fault::NotSettled))?;
        pattern.solve(&factor, &mut open_side);
        let mut unit_side = vec![0.0; unknowns];
        if unknown[at.0] != GROUND {
            unit_side[unknown[at.0]] -= 1.0;
        }
        if unknown[at.1] != GROUND {
            unit_side[unknown[at.1]] += 1.0;
        }
        pattern.solve(&factor, &mut unit_side);
        let spread = |side: &[f64], with_offset: f64| -> Vec<f64> {
            (0..count)
                .map(|local| {
                    let base = match unknown[local] {
                        GROUND => 0.0,
                        number => side[number],
                    };
                    base + with_offset * (offset[local] - offset[at.1])
                })
                .collect()
        };
        let (open, unit) = (spread(&open_side, 1.0), spread(&unit_side, 0.0));
        let mut part = Self {
            links: gathered.links,
            branches: gathered.branches,
            nodes: numbers,
            load: law,
            at,
            unknown,
            pattern,
            factor,
            open,
            unit,
            amps: 0.0,
            chain,
        };
        let (volts, ohms) = part.behind_load(&part.open, &part.unit);
        // As in the whole boat, a load at a fraction of its voltage does not count as fed.
        if volts < FED_SHARE * system.loads[load.index()].nominal.value.0 {
            return Err(PartError::Unfed);
        }
        part.amps = part
            .load
            .current(volts, ohms)
            .ok_or(PartError::Unsolvable(SolveError::Collapsed(load)))?;
        if part.diodes_block() {
            return Err(PartError::Unsolvable(SolveError::NotSettled));
        }
        Ok(part)
    }

    /// Current of the load.
    pub(in crate::analysis) fn load_current(&self) -> Amps {
        Amps(self.amps)
    }

    /// Current through a link, by its place in [`Part::links`]; none where others share it in a loop.
    pub(in crate::analysis) fn current(&self, link: usize) -> Option<Amps> {
        self.through(link, self.amps)
    }

    /// Voltage of one node against another; none where one of them is no part of this.
    pub(in crate::analysis) fn between(&self, a: NodeId, b: NodeId) -> Option<Volts> {
        let (a, b) = (self.local(a)?, self.local(b)?);
        let at = |node: usize| self.open[node] + self.unit[node] * self.amps;
        Some(Volts(at(a) - at(b)))
    }

    /// The part with one of its links, by its place in [`Part::links`], at fault.
    ///
    /// None where the part has no one answer with it.
    pub(in crate::analysis) fn with(&self, link: usize, trouble: Trouble) -> Option<Faulted<'_>> {
        if let Some(child) = self.chain.behind[link] {
            return Some(self.chain_fault(child, trouble));
        }
        let branch = &self.branches[link];
        let Some((conductance, emf)) = network::linear(branch.element) else {
            return self.with_ideal(link, trouble);
        };
        let change = match trouble {
            Trouble::Open => -conductance,
            Trouble::Worse(more) => 1.0 / (1.0 / conductance + more.0) - conductance,
        };
        let mut answer = vec![0.0; self.pattern_size()];
        for (local, sign) in [(branch.a, 1.0), (branch.b, -1.0)] {
            if self.unknown[local] != GROUND {
                answer[self.unknown[local]] += sign;
            }
        }
        self.pattern.solve(&self.factor, &mut answer);
        let at = |local: usize| match self.unknown[local] {
            GROUND => 0.0,
            number => answer[number],
        };
        // A change of one conductance is a change of rank one (Sherman and Morrison).
        let bottom = 1.0 + change * (at(branch.a) - at(branch.b));
        if bottom.abs() < 1e-9 {
            return None;
        }
        let scale = change / bottom;
        let (a, b) = (branch.a, branch.b);
        let open_step = scale * (self.open[a] - self.open[b] - emf);
        let unit_step = scale * (self.unit[a] - self.unit[b]);
        let shifted = |base: &[f64], step: f64| -> Vec<f64> {
            (0..base.len())
                .map(|local| base[local] - step * at(local))
                .collect()
        };
        let (open, unit) = (
            shifted(&self.open, open_step),
            shifted(&self.unit, unit_step),
        );
        let (volts, ohms) = self.behind_load(&open, &unit);
        let amps = self.draws(volts, ohms);
        Some(Faulted {
            part: self,
            amps,
            how: How::Loop(
                open.iter()
                    .zip(&unit)
                    .map(|(open, unit)| open + unit * amps)
                    .collect(),
            ),
        })
    }

    /// The part with a link of a loop at fault that has no resistance of its own.
    ///
    /// Its nodes share an unknown, so no change of a matrix entry parts them: the part is solved anew.
    fn with_ideal(&self, link: usize, trouble: Trouble) -> Option<Faulted<'_>> {
        let Element::Ideal { emf } = self.branches[link].element else {
            return None;
        };
        let mut branches = self.branches.clone();
        branches[link].element = match trouble {
            Trouble::Open => Element::Open,
            Trouble::Worse(more) if more.0 > 0.0 => Element::Resistor {
                conductance: 1.0 / more.0,
                emf,
            },
            Trouble::Worse(_) => Element::Ideal { emf },
        };
        let nodes = self.unknown.len();
        let (a, b) = self.at;
        let potentials = |amps: f64| {
            let mut injection = vec![0.0; nodes];
            injection[a] -= amps;
            injection[b] += amps;
            let flow = network::solve(nodes, &branches, &injection, &[b]).ok()?;
            (flow.islands[a] == flow.islands[b]).then_some(flow.potentials)
        };
        let open = potentials(0.0)?;
        let unit: Vec<f64> = potentials(1.0)?
            .iter()
            .zip(&open)
            .map(|(loaded, open)| loaded - open)
            .collect();
        let (volts, ohms) = self.behind_load(&open, &unit);
        let amps = self.draws(volts, ohms);
        Some(Faulted {
            part: self,
            amps,
            how: How::Loop(
                open.iter()
                    .zip(&unit)
                    .map(|(open, unit)| open + unit * amps)
                    .collect(),
            ),
        })
    }

    /// Current through a link that nothing goes round, with the load at `amps`, without its direction.
    ///
    /// None where a link of a loop shares it with others.
    fn through(&self, link: usize, amps: f64) -> Option<Amps> {
        let child = self.chain.behind[link]?;
        let own = if self.chain.holds(child, self.at.0) {
            amps
        } else {
            0.0
        };
        Some(Amps((own + self.beside(child)).abs()))
    }

    /// Whether a link is one that all the current of the load passes.
    #[cfg(test)]
    fn carries_all(&self, link: usize) -> bool {
        self.chain.behind[link].is_some_and(|child| self.chain.holds(child, self.at.0))
    }

    fn chain_fault(&self, child: usize, trouble: Trouble) -> Faulted<'_> {
        let (volts, ohms) = self.behind_load(&self.open, &self.unit);
        if !self.chain.holds(child, self.at.0) {
            // Only another load hangs behind it.
            return Faulted {
                part: self,
                amps: self.amps,
                how: How::Chain { child, shift: 0.0 },
            };
        }
        let beside = self.beside(child);
        let (amps, shift) = match trouble {
            // The open side takes the potential of the load's other end, through the load.
            Trouble::Open => (0.0, volts),
            Trouble::Worse(Ohms(more)) => {
                let amps = self.draws(volts - beside * more, ohms + more);
                (amps, (amps + beside) * more)
            }
        };
        Faulted {
            part: self,
            amps,
            how: How::Chain { child, shift },
        }
    }

    /// Current of the load behind a voltage and a resistance, with something at fault.
    ///
    /// What asks for more than its way lets through, as a starter behind a bad joint, does not stop: it counts as the
    /// resistance that it has at work, which is common practice without a source.
    fn draws(&self, volts: f64, ohms: f64) -> f64 {
        self.load.current(volts, ohms).unwrap_or_else(|| {
            let (open, unit) = self.behind_load(&self.open, &self.unit);
            let own = (open - unit * self.amps) / self.amps;
            // No voltage to speak of, or a load that draws nothing: nothing flows.
            if own.is_finite() && ohms + own > 0.0 {
                (volts / (ohms + own)).max(0.0)
            } else {
                0.0
            }
        })
    }

    /// Current that other loads draw through the link before `child`.
    fn beside(&self, child: usize) -> f64 {
        let currents = self.branches.iter().map(|branch| {
            let Element::Current(amps) = branch.element else {
                return 0.0;
            };
            let behind = |node: usize| f64::from(u8::from(self.chain.holds(child, node)));
            amps * (behind(branch.a) - behind(branch.b))
        });
        currents.sum()
    }

    /// Voltage and resistance that the load sees.
    fn behind_load(&self, open: &[f64], unit: &[f64]) -> (f64, f64) {
        let (a, b) = self.at;
        (open[a] - open[b], unit[b] - unit[a])
    }

    fn local(&self, node: NodeId) -> Option<usize> {
        let at = self
            .nodes
            .binary_search_by_key(&node, |&(node, _)| node)
            .ok()?;
        let local = self.nodes[at].1;
        (self.chain.enter[local] != NOT_HERE).then_some(local)
    }

    fn pattern_size(&self) -> usize {
        self.unknown
            .iter()
            .filter(|&&unknown| unknown != GROUND)
            .max()
            .map_or(0, |&most| most + 1)
    }

    fn diodes_block(&self) -> bool {
        self.branches.iter().any(|branch| {
            let Element::Diode { forward } = branch.element else {
                return false;
            };
            let at = |node: usize| self.open[node] + self.unit[node] * self.amps;
            (at(branch.a) - at(branch.b) - forward) / DIODE_OHMS < -1e-3
        })
    }
}

/// Why a load has no part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::analysis) enum PartError {
    /// Its current is not given.
    NoDraw,
    /// No battery feeds it in this state.
    Unfed,
    /// The part has no solution.
    Unsolvable(SolveError),
}

/// A part with one link at fault.
#[derive(Debug)]
pub(in crate::analysis) struct Faulted<'p> {
    part: &'p Part,
    amps: f64,
    how: How,
}

#[derive(Debug)]
enum How {
    /// Everything behind `child` stands lower by `shift`.
    Chain { child: usize, shift: f64 },
    /// Potentials of all nodes.
    Loop(Vec<f64>),
}

impl Faulted<'_> {
    /// Current through a link, by its place in [`Part::links`]; none where others share it in a loop.
    pub(in crate::analysis) fn through(&self, link: usize) -> Option<Amps> {
        self.part.through(link, self.amps)
    }

    /// Voltage of one node against another.
    pub(in crate::analysis) fn between(&self, a: NodeId, b: NodeId) -> Option<Volts> {
        let part = self.part;
        let (a, b) = (part.local(a)?, part.local(b)?);
        let at = |node: usize| match &self.how {
            How::Loop(volts) => volts[node],
            How::Chain { child, shift } => {
                let lower = if part.chain.holds(*child, node) {
                    *shift
                } else {
                    0.0
                };
                part.open[node] + part.unit[node] * self.amps - lower
            }
        };
        Some(Volts(at(a) - at(b)))
    }
}

/// What the search from a load has found, loose ends taken off.
struct Gathered {
    links: Vec<LinkId>,
    branches: Vec<Branch>,
    nodes: Vec<NodeId>,
    at: (usize, usize),
    law: Option<Law>,
}

impl Gathered {
    fn new(
        system: &System,
        state: &State,
        (load, beside): (LoadId, &[LoadId]),
        options: Options,
        room: &mut Room,
    ) -> Self {
        let record = &system.loads[load.index()];
        let (a, b) = ends(system, record.link);
        let mut nodes: Vec<NodeId> = Vec::new();
        let number = |node: usize, room: &mut Room, nodes: &mut Vec<NodeId>| {
            let slot = &mut room.local[node];
            if *slot == NOT_HERE {
                *slot = u32::try_from(nodes.len()).unwrap_or(NOT_HERE - 1);
                nodes.push(NodeId::at(node));
            }
            *slot as usize
        };
        let at = (number(a, room, &mut nodes), number(b, room, &mut nodes));
        let mut links = Vec::new();
        let mut branches = Vec::new();
        // Small loads beside the one that is measured are met only where the state has them running.
        let others: Vec<LoadId> = beside
            .iter()
            .copied()
            .filter(|&other| other != load && state.on[other.index()])
            .collect();
        for other in &others {
            let (a, b) = ends(system, system.loads[other.index()].link);
            number(a, room, &mut nodes);
            number(b, room, &mut nodes);
        }
        let mut next = 0;
        while next < nodes.len() {
            let node = nodes[next];
            next += 1;
            let looped = room.looped[node.index()].len();
            for place in 0..=looped {
                let link = if place < looped {
                    room.looped[node.index()][place]
                } else if let Some(up) = room.up[node.index()] {
                    up
                } else {
                    continue;
                };
                room.looked_at += 1;
                let element = passive(system, state, link, options);
                if element == Element::Open {
                    continue;
                }
                let (a, b) = ends(system, link);
                let hangs = place == looped;
                // A link of a loop is met from both ends and taken from its first; a hanging one from its loose end.
                if hangs || a == node.index() {
                    let a = number(a, room, &mut nodes);
                    let b = number(b, room, &mut nodes);
                    if a != b {
                        links.push(link);
                        branches.push(Branch { a, b, element });
                    }
                } else {
                    number(a, room, &mut nodes);
                }
            }
        }
        let mut held = vec![false; nodes.len()];
        (held[at.0], held[at.1]) = (true, true);
        for other in others {
            let record = &system.loads[other.index()];
            let (a, b) = ends(system, record.link);
            let (a, b) = (room.local[a], room.local[b]);
            // They run at their nominal current.
            let element = match draw(record, Running::Fed, options.reading) {
                Element::Power(watts) => Element::Current(watts / record.nominal.value.0),
                element => element,
            };
            if element != Element::Open {
                let (a, b) = (a as usize, b as usize);
                (held[a], held[b]) = (true, true);
                links.push(record.link);
                branches.push(Branch { a, b, element });
            }
        }
        let kept = trim(&branches, &held);
        let mut flags = kept.iter();
        links.retain(|_| flags.next().copied().unwrap_or(false));
        let mut flags = kept.iter();
        branches.retain(|_| flags.next().copied().unwrap_or(false));
        let law = match draw(record, Running::Fed, Reading::Physical) {
            Element::Current(amps) => Some(Law::Current(amps)),
            Element::Power(watts) => Some(Law::Power(watts)),
            Element::Resistor { conductance, .. } => Some(Law::Resistance(1.0 / conductance)),
            _ => None,
        };
        Self {
            links,
            branches,
            nodes,
            at,
            law,
        }
    }
}

/// Which branches are left when loose ends are taken off; nodes that are held are no loose ends.
fn trim(branches: &[Branch], held: &[bool]) -> Vec<bool> {
    let nodes = held.len();
    let mut degree = vec![0u32; nodes];
    // The exclusive or of the branches at a node: with one left, it is that one.
    let mut mixed = vec![0usize; nodes];
    for (index, branch) in branches.iter().enumerate() {
        for node in [branch.a, branch.b] {
            degree[node] += 1;
            mixed[node] ^= index;
        }
    }
    let mut kept = vec![true; branches.len()];
    for start in 0..nodes {
        let mut node = start;
        while degree[node] == 1 && !held[node] {
            let index = mixed[node];
            kept[index] = false;
            let branch = &branches[index];
            let other = if branch.a == node { branch.b } else { branch.a };
            degree[node] = 0;
            degree[other] -= 1;
            mixed[other] ^= index;
            node = other;
        }
    }
    kept
}

/// Walks the part from its zero: order of the nodes, and the links that nothing goes round.
///
/// A link is such a one where no other link leads from behind it to before it (Tarjan, "A note on finding the bridges
/// of a graph", 1974). Loads are no way round.
fn chain(nodes: usize, branches: &[Branch], zero: usize) -> Chain {
    let passes = |branch: &Branch| !matches!(branch.element, Element::Current(_));
    let mut start = vec![0usize; nodes + 1];
    for branch in branches.iter().filter(|branch| passes(branch)) {
        start[branch.a + 1] += 1;
        start[branch.b + 1] += 1;
    }
    for node in 0..nodes {
        start[node + 1] += start[node];
    }
    let mut fill = start.clone();
    let mut at = vec![0usize; start[nodes]];
    for (index, branch) in branches.iter().enumerate() {
        if passes(branch) {
            for node in [branch.a, branch.b] {
                at[fill[node]] = index;
                fill[node] += 1;
            }
        }
    }
    let mut chain = Chain {
        behind: vec![None; branches.len()],
        enter: vec![NOT_HERE; nodes],
        leave: vec![0; nodes],
    };
    let mut low = vec![NOT_HERE; nodes];
    let mut clock = 0;
    // Node, link it was reached by, next place in its list.
    let mut stack = vec![(zero, usize::MAX, start[zero])];
    chain.enter[zero] = clock;
    low[zero] = clock;
    while let Some(top) = stack.last_mut() {
        let (node, by) = (top.0, top.1);
        if top.2 == start[node + 1] {
            chain.leave[node] = clock;
            stack.pop();
            if let Some(&(before, _, _)) = stack.last() {
                low[before] = low[before].min(low[node]);
                if low[node] > chain.enter[before] {
                    chain.behind[by] = Some(node);
                }
            }
            continue;
        }
        let index = at[top.2];
        top.2 += 1;
        if index == by {
            continue;
        }
        let branch = &branches[index];
        let other = if branch.a == node { branch.b } else { branch.a };
        if chain.enter[other] == NOT_HERE {
            clock += 1;
            chain.enter[other] = clock;
            low[other] = clock;
            stack.push((other, index, start[other]));
        } else {
            low[node] = low[node].min(chain.enter[other]);
        }
    }
    chain
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::solve::{Voltage, solve};
    use crate::analysis::testing::Build;
    use crate::system::{Behaviour, Draw, GearId, GearKind, Given, Polarity, SourceKind, System};
    use crate::units::{Metres, Watts};

    /// Two batteries in parallel behind a fuse each, a switch, a block, two returns of one load, a lamp beside it.
    fn boat(behaviour: Behaviour) -> System {
        let mut build = Build::new();
        build.source("one", SourceKind::Battery, None);
        build.source("two", SourceKind::Battery, None);
        build.fuse("fuse-one", 100.0);
        build.fuse("fuse-two", 100.0);
        build.bus("house", Polarity::Positive);
        build.bus("negative", Polarity::Negative);
        build.switch(
            "master",
            GearKind::BatterySwitch,
            &["off", "on"],
            &[("in", "out", &[1])],
        );
        build.fuse("way", 10.0);
        build.load("radio", Some(6.0));
        build.load("lamp", Some(2.0));
        build.load("idle", Some(3.0));
        for (number, from, to, gauge, metres) in [
            ("A", "one.+", "fuse-one.in", "2 AWG", 0.3),
            ("B", "fuse-one.out", "house", "2 AWG", 0.5),
            ("C", "two.+", "fuse-two.in", "2 AWG", 0.3),
            ("D", "fuse-two.out", "house", "2 AWG", 2.5),
            ("E", "house", "master.in", "2 AWG", 0.5),
            ("F", "master.out", "way.in", "6 AWG", 4.0),
            ("G", "way.out", "radio.+", "14 AWG", 6.0),
            ("H", "radio.-", "negative", "14 AWG", 5.0),
            ("I", "radio.-", "negative", "16 AWG", 9.0),
            ("J", "negative", "one.-", "2 AWG", 0.5),
            ("K", "negative", "two.-", "2 AWG", 1.5),
            ("L", "way.out", "lamp.+", "16 AWG", 3.0),
            ("M", "lamp.-", "negative", "16 AWG", 3.0),
            ("N", "way.out", "idle.+", "16 AWG", 3.0),
            ("O", "idle.-", "negative", "16 AWG", 3.0),
        ] {
            build.wire(number, (from, to), gauge, metres);
        }
        let mut system = build.finish();
        system.loads[0].behaviour = behaviour;
        system.loads[0].draw = Some(Given::assumed(Draw::Power(Watts(72.0))));
        system
    }

    fn state(system: &System) -> State {
        let mut state = State::normal(system);
        state.positions.fill(1);
        state.on[0] = true;
        state.on[1] = true;
        state
    }

    const BESIDE: [LoadId; 3] = [LoadId(0), LoadId(1), LoadId(2)];
    const EMPTYING: Options = Options {
        reading: Reading::Physical,
        voltage: Voltage::AtRest(60.0),
    };

    fn nodes(system: &System) -> Vec<NodeId> {
        ["one", "house", "way", "radio", "negative"]
            .iter()
            .flat_map(|name| {
                let part = system
                    .components
                    .iter()
                    .find(|component| component.name == *name)
                    .expect("it is built");
                part.terminals.iter().map(|&at| system.node_of(at))
            })
            .collect()
    }

    #[test]
    fn a_part_reads_as_the_whole_boat_does() {
        for behaviour in [Behaviour::Current, Behaviour::Power, Behaviour::Resistance] {
            let system = boat(behaviour);
            let state = state(&system);
            let whole = solve(&system, &state, EMPTYING).expect("solvable");
            let mut room = Room::new(&system);
            let part = Part::new(&system, &state, LoadId::at(0), &BESIDE, EMPTYING, &mut room)
                .expect("solvable");
            // The idle load's wires are loose ends.
            assert_eq!(part.links.len(), 20);
            let amps = whole.current(system.loads[0].link).0;
            assert!((part.load_current().0 - amps).abs() < 1e-9);
            let nodes = nodes(&system);
            for pair in nodes.windows(2) {
                let got = part.between(pair[0], pair[1]).expect("in the part").0;
                let wanted = whole.between(pair[0], pair[1]).expect("joined").0;
                assert!((got - wanted).abs() < 1e-9, "{got} against {wanted}");
            }
            assert!(room.local.iter().all(|&slot| slot == NOT_HERE));
        }
    }

    #[test]
    fn every_worse_joint_reads_as_the_whole_boat_with_it() {
        for behaviour in [Behaviour::Current, Behaviour::Power, Behaviour::Resistance] {
            let system = boat(behaviour);
            let state = state(&system);
            let mut room = Room::new(&system);
            let part = Part::new(&system, &state, LoadId::at(0), &BESIDE, EMPTYING, &mut room)
                .expect("solvable");
            let nodes = nodes(&system);
            let mut in_loops = 0;
            for (index, &link) in part.links.iter().enumerate() {
                if matches!(system.links[link.index()].kind, LinkKind::Load(_)) {
                    continue;
                }
                in_loops += usize::from(!part.carries_all(index));
                let faulted = part.with(index, Trouble::Worse(Ohms(0.1))).expect("told");
                // The same resistance more on the link of the whole boat.
                let more = resistance_more(&system, link, 0.1);
                let whole = solve(&more, &state, EMPTYING).expect("solvable");
                for pair in nodes.windows(2) {
                    let got = faulted.between(pair[0], pair[1]).expect("in the part").0;
                    let wanted = whole.between(pair[0], pair[1]).expect("joined").0;
                    assert!(
                        (got - wanted).abs() < 1e-7,
                        "{}: {got} against {wanted}",
                        system.link_name(link)
                    );
                }
            }
            // Both batteries with fuse and wires, and both returns.
            assert!(in_loops >= 10, "{in_loops}");
        }
    }

    /// The boat with more resistance in one link: a conductor grows longer by what that takes.
    fn resistance_more(system: &System, link: LinkId, ohms: f64) -> System {
        let mut system = system.clone();
        let now = crate::analysis::solve::resistance(&system, link, Reading::Physical)
            .expect("sizes and lengths are given")
            .0;
        match system.links[link.index()].kind {
            LinkKind::Conductor(id) => {
                let length = &mut system.conductors[id.index()].length;
                *length = length.map(|given| Given {
                    value: given.value * ((now + ohms) / now),
                    ..given
                });
            }
            LinkKind::Source(id) => {
                system.sources[id.index()].resistance = Some(Given::assumed(Ohms(now + ohms)));
            }
            _ => {
                system.links[link.index()].resistance = Some(Given::assumed(Ohms(now + ohms)));
            }
        }
        system
    }

    #[test]
    fn every_open_link_reads_as_the_whole_boat_without_it() {
        let system = boat(Behaviour::Resistance);
        let mut state = state(&system);
        state.on[1] = false;
        let mut room = Room::new(&system);
        let part = Part::new(&system, &state, LoadId::at(0), &BESIDE, EMPTYING, &mut room)
            .expect("solvable");
        let nodes = nodes(&system);
        for (index, &link) in part.links.iter().enumerate() {
            let faulted = part.with(index, Trouble::Open).expect("told");
            // A hundred megohms are as good as open, and keep the boat one island.
            let whole =
                solve(&resistance_more(&system, link, 1e8), &state, EMPTYING).expect("solvable");
            for pair in nodes.windows(2) {
                let got = faulted.between(pair[0], pair[1]).expect("in the part").0;
                let wanted = whole.between(pair[0], pair[1]).expect("joined").0;
                assert!(
                    (got - wanted).abs() < 1e-4,
                    "{}: {got} against {wanted}",
                    system.link_name(link)
                );
            }
        }
    }

    #[test]
    fn links_without_resistance_inside_a_loop_can_be_at_fault() {
        // Both returns of the radio and the cable to the second battery's fuse have no length: ideal, and in loops.
        let mut system = boat(Behaviour::Power);
        let named = |system: &System, number: &str| {
            let found = system
                .conductors
                .iter()
                .position(|wire| wire.number == number);
            found.expect("it is built")
        };
        for number in ["H", "I", "C"] {
            let at = named(&system, number);
            system.conductors[at].length = None;
        }
        let state = state(&system);
        let mut room = Room::new(&system);
        let part = Part::new(&system, &state, LoadId::at(0), &BESIDE, EMPTYING, &mut room)
            .expect("solvable");
        let nodes = nodes(&system);
        for number in ["H", "I", "C"] {
            let id = named(&system, number);
            let link = system.conductors[id].link;
            let at = part
                .links
                .iter()
                .position(|&own| own == link)
                .expect("it carries");
            for (trouble, ohms) in [(Trouble::Worse(Ohms(0.1)), 0.1), (Trouble::Open, 1e8)] {
                let faulted = part.with(at, trouble).expect("told");
                let mut more = system.clone();
                let per_metre = {
                    more.conductors[id].length = Some(Given::assumed(Metres(1.0)));
                    crate::analysis::solve::resistance(&more, link, Reading::Physical)
                        .expect("size and length are given")
                        .0
                };
                more.conductors[id].length = Some(Given::assumed(Metres(ohms / per_metre)));
                let whole = solve(&more, &state, EMPTYING).expect("solvable");
                for pair in nodes.windows(2) {
                    let got = faulted.between(pair[0], pair[1]).expect("in the part").0;
                    let wanted = whole.between(pair[0], pair[1]).expect("joined").0;
                    assert!(
                        (got - wanted).abs() < 1e-4,
                        "{number}: {got} against {wanted}"
                    );
                }
            }
        }
        // One return open changes nothing but the split; a bad joint in the battery cable shifts current.
        let joint = system.conductors[named(&system, "C")].link;
        let at = part
            .links
            .iter()
            .position(|&own| own == joint)
            .expect("it carries");
        let faulted = part.with(at, Trouble::Worse(Ohms(0.1))).expect("told");
        let (a, b) = (nodes[0], nodes[1]);
        let (before, after) = (part.between(a, b), faulted.between(a, b));
        assert!(before.expect("told").0 - after.expect("told").0 > 1e-4);
    }

    #[test]
    fn what_cannot_be_solved_is_told() {
        let mut system = boat(Behaviour::Power);
        let mut state = state(&system);
        let mut room = Room::new(&system);
        let mut part = |system: &System, state: &State| {
            Part::new(system, state, LoadId::at(0), &BESIDE, EMPTYING, &mut room).err()
        };
        assert_eq!(part(&system, &state), None);
        state.positions[GearId::at(0).index()] = 0;
        assert_eq!(part(&system, &state), Some(PartError::Unfed));
        state.positions[0] = 1;
        system.loads[0].draw = Some(Given::assumed(Draw::Power(Watts(1e5))));
        assert_eq!(
            part(&system, &state),
            Some(PartError::Unsolvable(SolveError::Collapsed(LoadId::at(0))))
        );
        system.loads[0].draw = None;
        assert_eq!(part(&system, &state), Some(PartError::NoDraw));
    }
}
