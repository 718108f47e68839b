//! Many states of one boat in the physical reading: what they have in common is worked out once.
//!
//! Resistances, the order of elimination and the pattern belong to the boat. A state only changes conductances: of
//! contacts, of loads that are resistances, of diodes that conduct; what they do not reach is not reduced again.
//! Loads of constant power are given currents that are set right until nothing changes, which needs no new reduction.
//! Whatever does not fit this (a charging source that meets one of its limits or holds a voltage, a load near the most
//! that its wiring can carry, a part without resistance) is left to [`solve`], which is slower and always right; a
//! state therefore has one answer whichever way it is asked for, and what has none is told by [`solve`] alone.

use super::ideal::Ideal;
use super::ldlt::GROUND;
use super::network::{self, Branch, Element};
use super::star::Star;
use super::{
    Energised, Options, Parts, Reading, Running, Setup, Solution, SolveError, State, Voltage,
    battery_negatives, closed, draw, ends, is_source, solve, source_voltage, wired_nodes,
};
use crate::system::{Behaviour, DeviceId, LinkId, LinkKind, SourceKind, System};

/// Rounds in which the currents of constant-power loads must settle; a boat takes under ten.
const MAX_ROUNDS: usize = 40;
/// Share of its voltage by which a load may still change in the last round.
const SETTLED: f64 = 1e-12;
/// Share of its voltage without load that a constant-power load must keep here; at half of it the wiring gives most.
const LEAST_SHARE: f64 = 0.6;
/// Rounds in which all diodes may change at once, before they are left to the full solution.
const MAX_DIODE_ROUNDS: usize = 8;
/// Reverse current of a conducting diode in amperes that is still rounding.
const DIODE_AMPS: f64 = 1e-6;

/// Solves states of one boat, in any number and order.
pub struct Solver<'s> {
    system: &'s System,
    reading: Reading,
    ends: Vec<(usize, usize)>,
    /// By link: what it is when it is closed, without electromotive force.
    closed: Vec<Element>,
    grounds: Vec<usize>,
    /// Whether the whole solution is asked for every time.
    always_whole: bool,
    prepared: Option<Prepared>,
    whole: usize,
}

/// What belongs to the pattern: links without resistance that a state closes, and devices that have opened.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
struct Key {
    ideal: Vec<LinkId>,
    opened: Vec<DeviceId>,
}

/// A branch with a conductance that may change.
#[derive(Clone, Copy, Debug)]
struct Edge {
    link: LinkId,
    a: usize,
    b: usize,
    /// By how much the groups of its ends stand apart besides: the offset of `a` less that of `b`.
    apart: f64,
    kind: EdgeKind,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum EdgeKind {
    /// Conducts in every state, this well.
    Fixed(f64),
    /// The same, with a battery in it.
    Battery(f64),
    /// Conducts this well where the state closes it.
    Contact(f64),
    /// Conducts while the load runs.
    Load,
    /// Conducts one way, less this voltage.
    Diode(f64),
}

struct Prepared {
    key: Key,
    parts: Parts,
    /// By node: its place among the reduced nodes, and its potential against them.
    place: Vec<usize>,
    offset: Vec<f64>,
    edges: Vec<Edge>,
    /// Edges whose conductance a state sets, and those that bring a voltage with them.
    set: Vec<usize>,
    biased: Vec<usize>,
    diodes: Vec<usize>,
    contacts: Vec<LinkId>,
    star: Star,
    ideal: Ideal,
    ideal_links: Vec<LinkId>,
}

/// A constant-power load: its link, its places, what lies between them besides, its power.
struct Power {
    link: LinkId,
    a: usize,
    b: usize,
    apart: f64,
    watts: f64,
}

impl Power {
    fn volts(&self, potentials: &[f64]) -> f64 {
        potentials[self.a] - potentials[self.b] + self.apart
    }
}

impl<'s> Solver<'s> {
    /// Prepares a boat for one reading.
    #[must_use]
    pub fn new(system: &'s System, reading: Reading) -> Self {
        let options = Options {
            reading,
            voltage: Voltage::Silent,
        };
        let closed: Vec<Element> = (0..system.links.len())
            .map(|index| closed(system, LinkId::at(index), options))
            .collect();
        let battery_without_resistance = system.sources.iter().any(|source| {
            source.kind == SourceKind::Battery
                && matches!(closed[source.link.index()], Element::Ideal { .. })
        });
        Self {
            system,
            reading,
            ends: (0..system.links.len())
                .map(|index| ends(system, LinkId::at(index)))
                .collect(),
            closed,
            grounds: battery_negatives(system),
            always_whole: reading == Reading::Rule || battery_without_resistance,
            prepared: None,
            whole: 0,
        }
    }

    /// Solves one state, with what its sources hold.
    ///
    /// # Errors
    /// See [`SolveError`].
    pub fn solve(&mut self, state: &State, voltage: Voltage) -> Result<Solution, SolveError> {
        if !self.always_whole
            && voltage != Voltage::Silent
            && let Some(solution) = self.again(state, voltage)
        {
            return Ok(solution);
        }
        self.whole += 1;
        let options = Options {
            reading: self.reading,
            voltage,
        };
        solve(self.system, state, options)
    }

    /// How many states so far did not fit what is prepared and were solved whole.
    #[must_use]
    pub fn solved_whole(&self) -> usize {
        self.whole
    }

    /// Solves a state from what is prepared; none where the whole solution must be asked.
    fn again(&mut self, state: &State, voltage: Voltage) -> Option<Solution> {
        let key = self.key(state);
        if self
            .prepared
            .as_ref()
            .is_none_or(|prepared| prepared.key != key)
        {
            self.prepared = self.prepare(key);
        }
        let prepared = self.prepared.as_mut()?;
        prepared.solve(self.system, &self.ends, &self.grounds, state, voltage)
    }

    fn key(&self, state: &State) -> Key {
        let links = self.system.links.iter().zip(&self.closed).enumerate();
        let ideal = links
            .filter(|(_, (link, element))| {
                matches!(link.kind, LinkKind::Contact { .. })
                    && matches!(element, Element::Ideal { .. })
            })
            .map(|(index, _)| LinkId::at(index))
            .filter(|&link| state.closes(self.system, link))
            .collect();
        let opened = (0..state.opened.len())
            .filter(|&index| state.opened[index])
            .map(DeviceId::at)
            .collect();
        Key { ideal, opened }
    }

    fn prepare(&self, key: Key) -> Option<Prepared> {
        let system = self.system;
        let nodes = system.nodes.len();
        let out = |link: LinkId| match &system.links[link.index()].kind {
            LinkKind::Contact { closed_in, .. } => {
                closed_in.is_empty()
                    || (matches!(self.closed[link.index()], Element::Ideal { .. })
                        && key.ideal.binary_search(&link).is_err())
            }
            LinkKind::Device(device) => {
                system.devices[device.index()].spare || key.opened.contains(device)
            }
            LinkKind::Load(_) => true,
            LinkKind::Source(source) => system.sources[source.index()].kind != SourceKind::Battery,
            _ => false,
        };
        let mut branches = Vec::with_capacity(system.links.len());
        let mut ideal_links = Vec::new();
        let mut contacts = Vec::new();
        for (index, &(a, b)) in self.ends.iter().enumerate() {
            let link = LinkId::at(index);
            let mut element = self.closed[index];
            if out(link) {
                element = Element::Open;
            } else if matches!(element, Element::Ideal { .. }) {
                ideal_links.push(link);
            } else if matches!(system.links[index].kind, LinkKind::Contact { .. }) {
                contacts.push(link);
            }
            branches.push(Branch { a, b, element });
        }
        let (group, offset, groups) = network::contract(nodes, &branches).ok()?;
        let mut edges = Vec::with_capacity(branches.len());
        for (index, branch) in branches.iter().enumerate() {
            let kind = match (&system.links[index].kind, branch.element) {
                (LinkKind::Load(load), _) => {
                    let record = &system.loads[load.index()];
                    if record.behaviour != Behaviour::Resistance {
                        continue;
                    }
                    EdgeKind::Load
                }
                (LinkKind::Contact { .. }, Element::Resistor { conductance, .. }) => {
                    EdgeKind::Contact(conductance)
                }
                (LinkKind::Source(_), Element::Resistor { conductance, .. }) => {
                    EdgeKind::Battery(conductance)
                }
                (_, Element::Resistor { conductance, .. }) => EdgeKind::Fixed(conductance),
                (_, Element::Diode { forward }) => EdgeKind::Diode(forward),
                _ => continue,
            };
            edges.push(Edge {
                link: LinkId::at(index),
                a: branch.a,
                b: branch.b,
                apart: offset[branch.a] - offset[branch.b],
                kind,
            });
        }
        let joins: Vec<(usize, usize)> = edges
            .iter()
            .map(|edge| (group[edge.a], group[edge.b]))
            .collect();
        let mut star = Star::new(groups, &joins).ok()?;
        for (index, edge) in edges.iter().enumerate() {
            if let EdgeKind::Fixed(siemens) | EdgeKind::Battery(siemens) = edge.kind {
                star.set(index, siemens);
            }
        }
        let moves = |link: LinkId| {
            matches!(system.links[link.index()].kind, LinkKind::Contact { .. })
                && matches!(self.closed[link.index()], Element::Resistor { .. })
        };
        let conducts = |link: LinkId| {
            branches[link.index()].element != Element::Open
                && !is_source(system, link)
                && !moves(link)
        };
        let chosen = |wanted: &dyn Fn(&Edge) -> bool| -> Vec<usize> {
            (0..edges.len())
                .filter(|&index| wanted(&edges[index]))
                .collect()
        };
        // What is shorted in every state has no states to be fast in.
        let parts = Parts::new(wired_nodes(system, conducts), nodes);
        let contradicts = self.ends.iter().enumerate().any(|(index, &(a, b))| {
            let link = LinkId::at(index);
            let volts = match system.links[index].kind {
                LinkKind::Source(source) => {
                    let source = &system.sources[source.index()];
                    if source.kind != SourceKind::Battery {
                        return false;
                    }
                    source.nominal.value.0
                }
                _ if conducts(link) => 0.0,
                _ => return false,
            };
            let apart = parts.above[a] - parts.above[b] - volts;
            parts.of_node[a] != parts.of_node[b] || apart.abs() > network::SAME_VOLTS
        });
        if contradicts {
            return None;
        }
        let ideal_ends = ideal_links
            .iter()
            .map(|link| self.ends[link.index()])
            .collect();
        Some(Prepared {
            parts,
            place: group.iter().map(|&group| star.place(group)).collect(),
            set: chosen(&|edge| matches!(edge.kind, EdgeKind::Contact(_) | EdgeKind::Load)),
            biased: chosen(&|edge| {
                edge.apart != 0.0 || matches!(edge.kind, EdgeKind::Battery(_) | EdgeKind::Diode(_))
            }),
            diodes: chosen(&|edge| matches!(edge.kind, EdgeKind::Diode(_))),
            contacts,
            offset,
            edges,
            star,
            ideal: Ideal::new(nodes, ideal_ends).ok()?,
            ideal_links,
            key,
        })
    }
}

impl Prepared {
    fn solve(
        &mut self,
        system: &System,
        ends: &[(usize, usize)],
        grounds: &[usize],
        state: &State,
        voltage: Voltage,
    ) -> Option<Solution> {
        let closed = self
            .contacts
            .iter()
            .filter(|&&link| state.closes(system, link))
            .map(|link| ends[link.index()]);
        let mut energised = Energised::new(&self.parts, closed);
        if energised.contradicts {
            return None;
        }
        let options = Options {
            reading: Reading::Physical,
            voltage,
        };
        let setup = Setup::new(system, state, options, &mut energised);
        let mut given = Vec::new();
        let mut powers = Vec::new();
        for &index in &self.set {
            let Edge { link, kind, .. } = self.edges[index];
            let siemens = match kind {
                EdgeKind::Contact(siemens) if state.closes(system, link) => siemens,
                EdgeKind::Load => {
                    let LinkKind::Load(load) = system.links[link.index()].kind else {
                        continue;
                    };
                    let record = &system.loads[load.index()];
                    match draw(record, setup.loads[load.index()], Reading::Physical) {
                        Element::Resistor { conductance, .. } if state.on[load.index()] => {
                            conductance
                        }
                        _ => 0.0,
                    }
                }
                _ => 0.0,
            };
            self.star.set(index, siemens);
        }
        for (link, element) in setup.active {
            let (a, b) = ends[link.index()];
            match element {
                Element::Current(amps) => given.push((link, amps)),
                Element::Power(watts) => powers.push(Power {
                    link,
                    a: self.place[a],
                    b: self.place[b],
                    apart: self.offset[a] - self.offset[b],
                    watts,
                }),
                Element::Resistor { .. } => {}
                _ => return None,
            }
        }
        for &index in &self.diodes {
            self.star.set(index, 1.0 / network::DIODE_OHMS);
        }
        let mut solution = Solution {
            potentials: Vec::new(),
            currents: Vec::new(),
            islands: Vec::new(),
            loads: setup.loads,
            idle: setup.idle,
            limited: Vec::new(),
            overloaded: Vec::new(),
            shorted: Vec::new(),
        };
        for _ in 0..MAX_DIODE_ROUNDS {
            self.settle(
                system,
                ends,
                grounds,
                voltage,
                (&given, &powers),
                &mut solution,
            )?;
            if !self.turn_diodes(&solution) {
                return Self::keeps_limits(system, &given, solution);
            }
        }
        None
    }

    /// Turns each diode as its voltage or current asks; tells whether any was turned.
    fn turn_diodes(&mut self, solution: &Solution) -> bool {
        let mut turned = false;
        for &index in &self.diodes {
            let Edge {
                link, a, b, kind, ..
            } = self.edges[index];
            let EdgeKind::Diode(forward) = kind else {
                continue;
            };
            let on = self.star.conductance(index) > 0.0;
            let should = if on {
                solution.currents[link.index()] >= -DIODE_AMPS
            } else {
                solution.islands[a] == solution.islands[b]
                    && solution.potentials[a] - solution.potentials[b]
                        > forward + network::SAME_VOLTS
            };
            if should != on {
                let siemens = if should {
                    1.0 / network::DIODE_OHMS
                } else {
                    0.0
                };
                self.star.set(index, siemens);
                turned = true;
            }
        }
        turned
    }

    /// The solution where every charging source is within its highest voltage and every running load is fed.
    fn keeps_limits(
        system: &System,
        given: &[(LinkId, f64)],
        solution: Solution,
    ) -> Option<Solution> {
        for &(link, _) in given {
            if let LinkKind::Source(source) = system.links[link.index()].kind {
                let most = system.sources[source.index()].max_voltage;
                let volts = solution.across(system, link);
                if most
                    .zip(volts)
                    .is_some_and(|(most, volts)| volts.0 > most.value.0)
                {
                    return None;
                }
            }
        }
        let starved = system
            .loads
            .iter()
            .zip(&solution.loads)
            .any(|(load, runs)| {
                *runs == Running::Fed
                    && solution
                        .across(system, load.link)
                        .is_some_and(|volts| volts.0 <= 0.0)
            });
        (!starved).then_some(solution)
    }

    /// Potentials and currents with the diodes as they stand.
    fn settle(
        &mut self,
        system: &System,
        ends: &[(usize, usize)],
        grounds: &[usize],
        voltage: Voltage,
        (given, powers): (&[(LinkId, f64)], &[Power]),
        solution: &mut Solution,
    ) -> Option<()> {
        self.star.reduce().ok()?;
        let mut last = Vec::new();
        self.star.islands(&mut last);
        let mut side = vec![0.0; last.len()];
        let mut currents = vec![0.0; ends.len()];
        for &index in &self.biased {
            let edge = &self.edges[index];
            let siemens = self.star.conductance(index);
            let amps = siemens * (edge.apart - emf(system, edge, voltage));
            side[self.place[edge.a]] -= amps;
            side[self.place[edge.b]] += amps;
        }
        let mut cut = |link: LinkId| {
            if let LinkKind::Load(load) = system.links[link.index()].kind {
                solution.loads[load.index()] = Running::Unfed;
            }
        };
        for &(link, amps) in given {
            let (a, b) = ends[link.index()];
            let (a, b) = (self.place[a], self.place[b]);
            if last[a] == last[b] {
                side[a] -= amps;
                side[b] += amps;
                currents[link.index()] = amps;
            } else {
                cut(link);
            }
        }
        let mut running = Vec::with_capacity(powers.len());
        for power in powers {
            if last[power.a] == last[power.b] {
                running.push(power);
            } else {
                cut(power.link);
            }
        }
        self.star.forward(&mut side);
        let mut volts = vec![0.0; side.len()];
        if !running.is_empty() {
            self.settle_powers(&running, &mut side, &mut volts)?;
        }
        self.star.backward(&side, &mut volts);
        for power in running {
            currents[power.link.index()] = power.watts / power.volts(&volts);
        }

        self.number_islands(grounds, &last, &mut volts, solution);
        solution.potentials = self
            .place
            .iter()
            .zip(&self.offset)
            .map(|(&place, offset)| volts[place] + offset)
            .collect();
        for (index, edge) in self.edges.iter().enumerate() {
            let siemens = self.star.conductance(index);
            if siemens != 0.0 {
                let across = solution.potentials[edge.a] - solution.potentials[edge.b];
                currents[edge.link.index()] = siemens * across;
            }
        }
        for &index in &self.biased {
            let edge = &self.edges[index];
            currents[edge.link.index()] -=
                self.star.conductance(index) * emf(system, edge, voltage);
        }
        if !self.ideal_links.is_empty() {
            let mut balance = vec![0.0; self.place.len()];
            for (&(a, b), &amps) in ends.iter().zip(&currents) {
                balance[a] -= amps;
                balance[b] += amps;
            }
            let ideal = self.ideal.currents(&mut balance);
            for (link, amps) in self.ideal_links.iter().zip(ideal) {
                currents[link.index()] = amps;
            }
        }
        solution.currents = currents;
        Some(())
    }

    /// Sets the currents of constant-power loads right and adds them to what was passed on.
    ///
    /// Each round gives the loads the currents that their last voltages ask for. From the voltages without load these
    /// come down to the upper answer, and the less fast the nearer the wiring is to its most; what has not come down
    /// soon is left to the whole solution.
    fn settle_powers(&self, powers: &[&Power], side: &mut [f64], volts: &mut [f64]) -> Option<()> {
        let above = self
            .star
            .above(powers.iter().flat_map(|power| [power.a, power.b]));
        let mut drawn = vec![0.0; side.len()];
        self.star.backward_over(&above, side, &drawn, volts);
        let unloaded: Vec<f64> = powers.iter().map(|power| power.volts(volts)).collect();
        let mut before = unloaded.clone();
        for _ in 0..MAX_ROUNDS {
            for &at in &above {
                drawn[at] = 0.0;
            }
            for (power, volts) in powers.iter().zip(&before) {
                let amps = power.watts / volts;
                drawn[power.a] -= amps;
                drawn[power.b] += amps;
            }
            self.star.forward_over(&above, &mut drawn);
            self.star.backward_over(&above, side, &drawn, volts);
            let mut settled = true;
            for ((power, before), unloaded) in powers.iter().zip(&mut before).zip(&unloaded) {
                let now = power.volts(volts);
                let share = now / unloaded;
                if share.is_nan() || share < LEAST_SHARE {
                    return None;
                }
                settled &= (now - *before).abs() <= SETTLED * now.abs();
                *before = now;
            }
            if settled {
                for &at in &above {
                    side[at] += drawn[at];
                }
                return Some(());
            }
        }
        None
    }

    /// Numbers the islands in the order of the nodes and puts the zero of each where it belongs.
    fn number_islands(
        &self,
        grounds: &[usize],
        last: &[usize],
        volts: &mut [f64],
        solution: &mut Solution,
    ) {
        let mut number = vec![GROUND; last.len()];
        let mut zero = Vec::new();
        solution.islands = self
            .place
            .iter()
            .map(|&place| {
                let island = &mut number[last[place]];
                if *island == GROUND {
                    *island = zero.len();
                    zero.push(volts[place]);
                }
                *island
            })
            .collect();
        for &node in grounds.iter().rev() {
            zero[solution.islands[node]] = volts[self.place[node]];
        }
        for (volts, &last) in volts.iter_mut().zip(last) {
            *volts -= zero[number[last]];
        }
    }
}

/// What an edge holds against the current, in volts.
fn emf(system: &System, edge: &Edge, voltage: Voltage) -> f64 {
    match edge.kind {
        EdgeKind::Diode(forward) => forward,
        EdgeKind::Battery(_) => match system.links[edge.link.index()].kind {
            LinkKind::Source(source) => source_voltage(&system.sources[source.index()], voltage).0,
            _ => 0.0,
        },
        _ => 0.0,
    }
}
