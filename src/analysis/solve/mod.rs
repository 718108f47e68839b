//! Node potentials and link currents of the whole network, for one set of positions and loads.
//!
//! Two readings of resistance are kept apart. The *rule* reading is the handbook's: conductors by the size formula,
//! everything else ideal, every load at its nominal current. The *physical* reading is what a meter would show:
//! conforming cable at its temperature, contact and fuse resistance, sagging sources, loads as they behave.
//! An ideal part is contracted, never given a made-up small resistance. Where ideal parts form a loop the split is
//! open, and the least assumption is taken: all of them alike. What has no answer is an error, never a number.
//! In the physical reading a closed contact or device without a resistance of its own takes that of its kind from
//! the table; [`assumed_resistance`] tells which ones do.
//! Nothing here judges a current or a drop.

mod elements;
mod frame;
mod groups;
mod ideal;
mod ldlt;
mod limits;
mod network;
mod order;
mod part;
mod solver;
mod star;

pub use elements::{Element as PlainElement, ElementKind, elements};
pub use part::Trouble;
pub(super) use part::{Faulted, Part, PartError, Room};
pub use solver::Solver;

use crate::standards::{self, Basis, ClosedPart, FuseForm};
use crate::system::{
    Behaviour, Chemistry, ConductorId, DeviceId, Engine, GearId, GearKind, LinkId, LinkKind, Load,
    LoadId, NodeId, ScenarioId, Source, SourceId, SourceKind, System,
};
use crate::units::{Amps, Ohms, Volts};
use frame::Frame;
pub(super) use groups::Groups;
use limits::Limits;
use network::{Branch, Element, Fault};
use thiserror::Error;

/// How resistances, sources and loads are read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reading {
    /// The handbook: conductors by K = 10.75 over true area, all else ideal, loads at their nominal current.
    Rule,
    /// The meter: tinned stranded cable at the conductor temperature of the policy, contacts and fuses with their
    /// resistance where it is given or tabulated, batteries behind theirs, loads as they behave.
    Physical,
}

/// What the sources hold in a solution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Voltage {
    /// No voltage at all: what remains is the drop that the loads cause, as in a size formula.
    ///
    /// Banks of unlike voltage then drive no current into each other.
    Silent,
    /// Every source at its nominal voltage.
    Nominal,
    /// Batteries at their rest voltage for a state of charge in per cent; other sources at their highest voltage.
    AtRest(f64),
}

/// The choices of one solution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Options {
    /// How resistances, sources and loads are read.
    pub reading: Reading,
    /// What the sources hold.
    pub voltage: Voltage,
}

impl Options {
    /// The handbook's drop: what the nominal load currents lose.
    pub const RULE: Self = Self {
        reading: Reading::Rule,
        voltage: Voltage::Silent,
    };
    /// The meter's reading with full batteries.
    pub const PHYSICAL: Self = Self {
        reading: Reading::Physical,
        voltage: Voltage::AtRest(100.0),
    };
}

/// One way the boat can stand: positions, loads, charging sources, devices taken out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct State {
    /// Position of every gear, by gear id.
    pub positions: Vec<u16>,
    /// Whether every load runs, by load id.
    pub on: Vec<bool>,
    /// Whether every charging source works, by source id; batteries always do.
    pub charging: Vec<bool>,
    /// Whether every overcurrent device has opened, by device id.
    pub opened: Vec<bool>,
}

impl State {
    /// Every gear in its normal position, nothing on, nothing charging.
    #[must_use]
    pub fn normal(system: &System) -> Self {
        Self {
            positions: system.gears.iter().map(|gear| gear.normal).collect(),
            on: vec![false; system.loads.len()],
            charging: vec![false; system.sources.len()],
            opened: vec![false; system.devices.len()],
        }
    }

    /// A declared scenario: its positions, its loads, its engine and charging sources.
    #[must_use]
    pub fn scenario(system: &System, scenario: ScenarioId) -> Self {
        let scenario = &system.scenarios[scenario.index()];
        let mut state = Self::normal(system);
        for &(gear, position) in &scenario.positions {
            state.positions[gear.index()] = position;
        }
        for load in &scenario.on {
            state.on[load.index()] = true;
        }
        for source in &scenario.charging {
            state.charging[source.index()] = true;
        }
        if scenario.engine == Engine::Running {
            for (source, works) in system.sources.iter().zip(&mut state.charging) {
                *works |= source.kind == SourceKind::Alternator;
            }
        }
        state
    }

    /// Whether a contact, device or other link can carry current in this state; loads and sources always can.
    #[must_use]
    pub fn closes(&self, system: &System, link: LinkId) -> bool {
        match &system.links[link.index()].kind {
            LinkKind::Contact { gear, closed_in } => {
                closed_in.contains(&self.positions[gear.index()])
            }
            LinkKind::Device(device) => {
                !system.devices[device.index()].spare && !self.opened[device.index()]
            }
            _ => true,
        }
    }
}

/// What a load does in a solution.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Running {
    /// Not switched on.
    Off,
    /// Switched on, but no voltage reaches it: one side is open, or both are on one pole.
    Unfed,
    /// Fed, but its draw is not given, so it counts as none.
    NoDraw,
    /// Fed with the poles exchanged; its current flows the other way.
    Reversed,
    /// Fed and drawing.
    Fed,
}

/// Potentials and currents of the whole boat in one state.
#[derive(Clone, Debug)]
pub struct Solution {
    potentials: Vec<f64>,
    currents: Vec<f64>,
    islands: Vec<usize>,
    /// What every load does, by load id.
    pub loads: Vec<Running>,
    /// Charging sources that work but deliver nothing: nothing takes their current, or it is not given.
    pub idle: Vec<SourceId>,
    /// Charging sources that hold their highest voltage and deliver less than their rating; physical reading only.
    pub limited: Vec<SourceId>,
    /// Charging sources that feed a boat without battery and are asked for more than their rating; physical reading
    /// only.
    pub overloaded: Vec<SourceId>,
    /// Batteries that the state shorts; what flows there is the current of a short, however well it is computed.
    pub shorted: Vec<Short>,
}

/// A battery whose poles are held at another voltage than its own, by links alone or by other batteries.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Short {
    /// The battery.
    pub battery: SourceId,
    /// What its poles are held at; none at all where they are joined through no load.
    pub held_at: Volts,
}

impl Solution {
    /// Potential of a node against the zero of its island: the negative of its first battery, else its first node.
    #[must_use]
    pub fn potential(&self, node: NodeId) -> Volts {
        Volts(self.potentials[node.index()])
    }

    /// Number of a node's island; voltages between islands mean nothing.
    #[must_use]
    pub fn island(&self, node: NodeId) -> usize {
        self.islands[node.index()]
    }

    /// Whether two nodes are joined, so that a voltage between them means something.
    #[must_use]
    pub fn joined(&self, a: NodeId, b: NodeId) -> bool {
        self.islands[a.index()] == self.islands[b.index()]
    }

    /// Voltage of one node against another; none between islands.
    #[must_use]
    pub fn between(&self, a: NodeId, b: NodeId) -> Option<Volts> {
        self.joined(a, b)
            .then(|| self.potential(a) - self.potential(b))
    }

    /// Current through a link from its `a` to its `b`; a source that delivers has it negative.
    #[must_use]
    pub fn current(&self, link: LinkId) -> Amps {
        Amps(self.currents[link.index()])
    }

    /// Voltage across a link, `a` against `b`; nothing when its ends lie on different islands.
    #[must_use]
    pub fn across(&self, system: &System, link: LinkId) -> Option<Volts> {
        let link = &system.links[link.index()];
        self.between(system.node_of(link.a), system.node_of(link.b))
    }
}

/// Why a state has no solution.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum SolveError {
    /// A source without resistance is shorted, or paralleled with one of another voltage, over links without resistance.
    #[error(
        "a source is shorted, or paralleled with one of another voltage, over links without resistance"
    )]
    Shorted(LinkId),
    /// This load asks for more than the wiring can deliver: there is no voltage at which it could run.
    #[error("the wiring cannot deliver what a load asks for")]
    Collapsed(LoadId),
    /// Diodes or loads did not settle to one answer.
    #[error("the network does not settle to one answer")]
    NotSettled,
    /// So many cross ties that solving it would take too long.
    #[error("the network has too many cross ties to be solved")]
    TooMeshed,
}

/// Share of its nominal voltage under which a load does not count as fed.
///
/// A load between two positives, or on one pole, sees next to nothing and must not be given its current.
const FED_SHARE: f64 = 0.5;

/// Solves one state of the boat.
///
/// A charging source that works delivers its rated current where a battery takes it. Where none does it holds its
/// voltage and feeds what is there, as does a converter's output whether or not it is listed as charging.
/// In the physical reading a source whose terminals would pass its highest voltage holds that and delivers less.
///
/// # Errors
/// See [`SolveError`].
pub fn solve(system: &System, state: &State, options: Options) -> Result<Solution, SolveError> {
    solve_network(system, state, options).map(|(solution, _)| solution)
}

/// Solves one state, with the branches that the solution is one of.
fn solve_network(
    system: &System,
    state: &State,
    options: Options,
) -> Result<(Solution, Vec<Branch>), SolveError> {
    let mut branches = Vec::with_capacity(system.links.len());
    for index in 0..system.links.len() {
        let link = LinkId::at(index);
        let (a, b) = ends(system, link);
        let element = passive(system, state, link, options);
        branches.push(Branch { a, b, element });
    }
    let conducts =
        |link: LinkId| branches[link.index()].element != Element::Open && !is_source(system, link);
    let parts = Parts::new(wired_nodes(system, conducts), system.nodes.len());
    let mut energised = Energised::new(&parts, std::iter::empty());
    let Setup {
        active,
        mut loads,
        idle,
    } = Setup::new(system, state, options, &mut energised);
    for (link, element) in active {
        branches[link.index()].element = element;
    }
    let grounds = battery_negatives(system);
    let meter = options.reading == Reading::Physical && options.voltage != Voltage::Silent;
    let settled = if meter {
        limits::settle(system, &mut branches, &grounds)
    } else {
        network::solve(system.nodes.len(), &branches, &[], &grounds)
            .map(|flow| (flow, Limits::default()))
    };
    let (flow, limits) = settled.map_err(|fault| explain(system, fault))?;
    for &index in &flow.cut {
        if let LinkKind::Load(load) = system.links[index].kind {
            loads[load.index()] = Running::Unfed;
        }
    }
    let solution = Solution {
        potentials: flow.potentials,
        currents: flow.currents,
        islands: flow.islands,
        loads,
        idle,
        limited: limits.limited,
        overloaded: limits.overloaded,
        shorted: shorted(system, state),
    };
    if meter {
        for (index, load) in system.loads.iter().enumerate() {
            let fed = solution.loads[index] == Running::Fed;
            if fed
                && solution
                    .across(system, load.link)
                    .is_some_and(|volts| volts.0 <= 0.0)
            {
                return Err(SolveError::Collapsed(LoadId::at(index)));
            }
        }
    }
    Ok((solution, branches))
}

/// Resistance of a link in a reading; none when a conductor's size or length is not given.
///
/// Loads and open links have none of interest and give zero.
#[must_use]
pub fn resistance(system: &System, link: LinkId, reading: Reading) -> Option<Ohms> {
    let record = &system.links[link.index()];
    match (&record.kind, reading) {
        (&LinkKind::Conductor(id), _) => conductor_resistance(system, id, reading),
        (LinkKind::Load(_) | LinkKind::Diode { .. }, _) | (_, Reading::Rule) => Some(Ohms(0.0)),
        (_, Reading::Physical) => Some(
            given_resistance(system, link)
                .or_else(|| assumed_resistance(system, link).map(|(ohms, _)| ohms))
                .unwrap_or_default(),
        ),
    }
}

/// Resistance that the physical reading assumes for a link, and on what ground; none where the file gives one,
/// where the part counts as ideal, and for conductors, whose resistance follows from size and length.
#[must_use]
pub fn assumed_resistance(system: &System, link: LinkId) -> Option<(Ohms, Basis)> {
    if given_resistance(system, link).is_some() {
        return None;
    }
    let record = &system.links[link.index()];
    let component = &system.components[record.component.index()];
    match record.kind {
        LinkKind::Source(source) => battery_resistance(&system.sources[source.index()]),
        LinkKind::Device(device) => Some(device_resistance(system, device)),
        LinkKind::Contact { gear, .. } => {
            let part = match system.gears[gear.index()].kind {
                GearKind::BatterySwitch => ClosedPart::BatterySwitch,
                GearKind::Relay => ClosedPart::Relay,
                GearKind::Combiner => ClosedPart::Combiner,
                // A breaker's contact is part of the breaker, whose loss is counted once.
                GearKind::Breaker => return None,
                _ => ClosedPart::Switch,
            };
            let rating = component.rating.map(|given| given.value);
            Some(standards::closed_resistance(part, rating))
        }
        LinkKind::Mate { .. } => {
            let connector = component.connector.as_ref();
            let rating = connector.and_then(|connector| connector.contact_rating);
            Some(standards::closed_resistance(
                ClosedPart::ConnectorContact,
                rating.map(|given| given.value),
            ))
        }
        LinkKind::Conductor(_) | LinkKind::Joint | LinkKind::Diode { .. } | LinkKind::Load(_) => {
            None
        }
    }
}

/// Resistance that the file gives for a part.
fn given_resistance(system: &System, link: LinkId) -> Option<Ohms> {
    let record = &system.links[link.index()];
    let given = match record.kind {
        LinkKind::Source(source) => system.sources[source.index()].resistance,
        _ => record.resistance,
    };
    given.map(|given| given.value)
}

/// Resistance of one conductor along its length; none when its size or length is not given.
#[must_use]
pub fn conductor_resistance(
    system: &System,
    conductor: ConductorId,
    reading: Reading,
) -> Option<Ohms> {
    let conductor = &system.conductors[conductor.index()];
    let gauge = conductor.gauge?.value;
    let length = conductor.length?.value;
    let per_metre = match reading {
        Reading::Rule => standards::rule_drop_resistance(gauge).0,
        Reading::Physical => {
            standards::physical_resistance(gauge, system.boat.policy.conductor_temperature).0
        }
    };
    Some(Ohms(per_metre.0 * length.0))
}

/// Internal resistance of a battery by its chemistry; none for other sources.
///
/// A battery of unknown chemistry counts as flooded, which has the most.
fn battery_resistance(source: &Source) -> Option<(Ohms, Basis)> {
    (source.kind == SourceKind::Battery).then(|| {
        let estimate = standards::internal_resistance(
            chemistry(source),
            source.nominal.value,
            source.capacity.map(|given| given.value),
            source.cranking.map(|given| given.value),
        );
        (estimate.typical, estimate.basis)
    })
}

/// Resistance of a device: that of a warm blade fuse of its rating, else that of any device of its rating.
fn device_resistance(system: &System, device: DeviceId) -> (Ohms, Basis) {
    let device = &system.devices[device.index()];
    let form = device
        .form
        .as_ref()
        .and_then(|form| form.value.parse::<FuseForm>().ok());
    let rating = device.rating.map(|given| given.value);
    let figures = form
        .zip(rating)
        .and_then(|(form, rating)| standards::fuse_figures(form, rating));
    match figures {
        Some(figures) => {
            let (hot, _) = standards::constants::fuse_hot_resistance();
            (figures.cold * hot, figures.basis)
        }
        None => standards::closed_resistance(ClosedPart::OvercurrentDevice, rating),
    }
}

fn chemistry(source: &Source) -> Chemistry {
    source
        .chemistry
        .as_ref()
        .map_or(Chemistry::Flooded, |given| given.value)
}

/// Nodes that are the zero of their island, in order of preference.
fn battery_negatives(system: &System) -> Vec<usize> {
    system
        .sources
        .iter()
        .filter(|source| source.kind == SourceKind::Battery)
        .map(|source| {
            let link = &system.links[source.link.index()];
            system.node_of(link.b).index()
        })
        .collect()
}

fn is_source(system: &System, link: LinkId) -> bool {
    matches!(system.links[link.index()].kind, LinkKind::Source(_))
}

fn explain(system: &System, fault: Fault) -> SolveError {
    match fault {
        Fault::Shorted(index) => SolveError::Shorted(LinkId::at(index)),
        Fault::Collapsed(index) => match system.links[index].kind {
            LinkKind::Load(load) => SolveError::Collapsed(load),
            _ => SolveError::NotSettled,
        },
        Fault::NotSettled => SolveError::NotSettled,
        Fault::TooMeshed => SolveError::TooMeshed,
    }
}

/// What the sources and loads of one state put into the network.
struct Setup {
    /// Branches of sources and loads that are not open, with their links.
    active: Vec<(LinkId, Element)>,
    loads: Vec<Running>,
    idle: Vec<SourceId>,
}

impl Setup {
    fn new(
        system: &System,
        state: &State,
        options: Options,
        energised: &mut Energised<'_>,
    ) -> Self {
        let mut active = Vec::new();
        let mut idle = Vec::new();
        for (index, source) in system.sources.iter().enumerate() {
            if source.kind == SourceKind::Battery {
                continue;
            }
            match energised.role(system, state, SourceId::at(index)) {
                Role::Holds => {
                    let emf = source_voltage(source, options.voltage).0;
                    active.push((source.link, Element::Ideal { emf }));
                }
                Role::Delivers(amps) => active.push((source.link, Element::Current(-amps.0))),
                Role::Idle => idle.push(SourceId::at(index)),
                Role::Off => {}
            }
        }
        let mut loads = vec![Running::Off; system.loads.len()];
        for (index, load) in system.loads.iter().enumerate() {
            if !state.on[index] {
                continue;
            }
            loads[index] = energised.running(system, LoadId::at(index));
            let element = draw(load, loads[index], options.reading);
            if element != Element::Open {
                active.push((load.link, element));
            }
        }
        Self {
            active,
            loads,
            idle,
        }
    }
}

/// What a charging source does in a state.
enum Role {
    /// Holds its voltage because no battery does.
    Holds,
    /// Delivers its rated current into a battery.
    Delivers(Amps),
    /// Works, but nothing comes of it.
    Idle,
    /// Does not work.
    Off,
}

/// Which nodes are joined, and at which voltage before any current flows.
struct Energised<'p> {
    parts: &'p Parts,
    /// Parts joined by links and batteries only.
    wired: Groups,
    /// The same with the sources that hold a voltage because no battery does.
    held: Groups,
    /// Whether a link joins nodes at unlike voltages.
    contradicts: bool,
}

/// Nodes that fixed links and batteries join, with the voltage of each before any current flows.
struct Parts {
    of_node: Vec<usize>,
    above: Vec<f64>,
    count: usize,
}

impl Parts {
    fn new(mut joined: Groups, nodes: usize) -> Self {
        let (of_node, count) = joined.number();
        let above = (0..nodes).map(|node| joined.find(node).1).collect();
        Self {
            of_node,
            above,
            count,
        }
    }
}

impl<'p> Energised<'p> {
    /// Joins parts by further links, each between two nodes at one voltage.
    fn new(parts: &'p Parts, links: impl Iterator<Item = (usize, usize)>) -> Self {
        let mut wired = Groups::new(parts.count);
        let mut contradicts = false;
        for (a, b) in links {
            let difference = parts.above[b] - parts.above[a];
            let apart = wired.join(parts.of_node[a], parts.of_node[b], difference);
            contradicts |= apart.abs() > network::SAME_VOLTS;
        }
        Self {
            parts,
            held: wired.clone(),
            wired,
            contradicts,
        }
    }

    /// Voltage of the first node against the second, where `groups` join them.
    fn between(parts: &Parts, groups: &mut Groups, a: usize, b: usize) -> Option<f64> {
        let (root_a, above_a) = groups.find(parts.of_node[a]);
        let (root_b, above_b) = groups.find(parts.of_node[b]);
        (root_a == root_b).then(|| above_a + parts.above[a] - above_b - parts.above[b])
    }

    fn role(&mut self, system: &System, state: &State, source: SourceId) -> Role {
        let record = &system.sources[source.index()];
        let works = state.charging[source.index()];
        if !works && record.kind != SourceKind::Converter {
            return Role::Off;
        }
        let silent = if works { Role::Idle } else { Role::Off };
        if let Some(input) = record.input
            && self.running(system, input) == Running::Unfed
        {
            return silent;
        }
        let (a, b) = ends(system, record.link);
        if let Some(volts) = Self::between(self.parts, &mut self.wired, a, b) {
            return match record.current {
                Some(current) if works && volts > 0.0 => Role::Delivers(current.value),
                _ => silent,
            };
        }
        if Self::between(self.parts, &mut self.held, a, b).is_some() {
            // Another source holds the voltage here; how two of them share is not known.
            return silent;
        }
        let difference = record.nominal.value.0 - self.parts.above[a] + self.parts.above[b];
        self.held
            .join(self.parts.of_node[a], self.parts.of_node[b], difference);
        Role::Holds
    }

    fn running(&mut self, system: &System, load: LoadId) -> Running {
        let load = &system.loads[load.index()];
        let (a, b) = ends(system, load.link);
        let least = FED_SHARE * load.nominal.value.0;
        match Self::between(self.parts, &mut self.held, a, b) {
            Some(volts) if volts.abs() >= least => match (load.draw, volts > 0.0) {
                (None, _) => Running::NoDraw,
                (_, true) => Running::Fed,
                (_, false) => Running::Reversed,
            },
            _ => Running::Unfed,
        }
    }

    /// The island of every node.
    fn islands(&mut self) -> Vec<usize> {
        let (island, _) = self.held.number();
        self.parts
            .of_node
            .iter()
            .map(|&part| island[part])
            .collect()
    }
}

/// Joins the nodes of some links, and those of every battery a nominal voltage apart.
///
/// Unlike batteries in parallel contradict each other; the first one decides what counts as fed.
fn wired_nodes(system: &System, conducts: impl Fn(LinkId) -> bool) -> Groups {
    let mut joined = Groups::new(system.nodes.len());
    for index in 0..system.links.len() {
        let link = LinkId::at(index);
        if conducts(link) {
            let (a, b) = ends(system, link);
            joined.join(a, b, 0.0);
        }
    }
    for source in &system.sources {
        if source.kind == SourceKind::Battery {
            let (a, b) = ends(system, source.link);
            joined.join(a, b, source.nominal.value.0);
        }
    }
    joined
}

/// Batteries whose poles are joined through no load and no diode, or stand against a battery of another voltage.
///
/// Batteries in a row are taken in file order; of two that contradict each other the later one is told.
#[must_use]
pub fn shorted(system: &System, state: &State) -> Vec<Short> {
    let mut joined = Groups::new(system.nodes.len());
    for (index, link) in system.links.iter().enumerate() {
        let passes = match link.kind {
            LinkKind::Load(_) | LinkKind::Source(_) | LinkKind::Diode { .. } => false,
            _ => state.closes(system, LinkId::at(index)),
        };
        if passes {
            let (a, b) = ends(system, LinkId::at(index));
            joined.join(a, b, 0.0);
        }
    }
    let mut shorted = Vec::new();
    for (index, source) in system.sources.iter().enumerate() {
        if source.kind == SourceKind::Battery {
            let (a, b) = ends(system, source.link);
            let nominal = source.nominal.value;
            let apart = joined.join(a, b, nominal.0);
            if apart.abs() > network::SAME_VOLTS {
                shorted.push(Short {
                    battery: SourceId::at(index),
                    held_at: nominal + Volts(apart),
                });
            }
        }
    }
    shorted
}

fn ends(system: &System, link: LinkId) -> (usize, usize) {
    let link = &system.links[link.index()];
    (
        system.node_of(link.a).index(),
        system.node_of(link.b).index(),
    )
}

/// The branch of a link that is neither a load nor a charging source.
fn passive(system: &System, state: &State, link: LinkId, options: Options) -> Element {
    if state.closes(system, link) {
        closed(system, link, options)
    } else {
        Element::Open
    }
}

/// The same for a link that can carry current.
fn closed(system: &System, link: LinkId, options: Options) -> Element {
    let emf = match system.links[link.index()].kind {
        LinkKind::Load(_) => return Element::Open,
        LinkKind::Diode { forward } => return Element::Diode { forward: forward.0 },
        LinkKind::Source(source) => {
            let source = &system.sources[source.index()];
            if source.kind != SourceKind::Battery {
                return Element::Open;
            }
            source_voltage(source, options.voltage).0
        }
        _ => 0.0,
    };
    match resistance(system, link, options.reading) {
        Some(Ohms(ohms)) if ohms > 0.0 => Element::Resistor {
            conductance: 1.0 / ohms,
            emf,
        },
        _ => Element::Ideal { emf },
    }
}

/// What a source holds without current.
fn source_voltage(source: &Source, voltage: Voltage) -> Volts {
    let nominal = source.nominal.value;
    match voltage {
        Voltage::Silent => Volts(0.0),
        Voltage::Nominal => nominal,
        Voltage::AtRest(charge) if source.kind == SourceKind::Battery => {
            standards::rest_voltage(chemistry(source), nominal, charge.clamp(0.0, 100.0))
                .map_or(nominal, |(volts, _)| volts)
        }
        Voltage::AtRest(_) => source.max_voltage.map_or(nominal, |given| given.value),
    }
}

/// The branch of a load that is switched on.
fn draw(load: &Load, running: Running, reading: Reading) -> Element {
    let Some(current) = load.current().filter(|current| current.0 > 0.0) else {
        return Element::Open;
    };
    let nominal = load.nominal.value.0;
    let runs = matches!(running, Running::Fed | Running::Reversed);
    match (reading, load.behaviour) {
        // A resistance carries what its voltage drives, so it needs no leave to run.
        (Reading::Physical, Behaviour::Resistance) => Element::Resistor {
            conductance: current.0 / nominal,
            emf: 0.0,
        },
        _ if !runs => Element::Open,
        (Reading::Physical, Behaviour::Power) => Element::Power(current.0 * nominal),
        _ if running == Running::Reversed => Element::Current(-current.0),
        _ => Element::Current(current.0),
    }
}

/// Many states of one boat in the rule reading: what does not change between them is eliminated once.
///
/// Only the gears named as changing may move; all other contacts stay as in the first state.
pub(super) struct Sweep<'s> {
    system: &'s System,
    state: State,
    frame: Frame,
    parts: Parts,
    /// Diodes, and contacts of the gears that change.
    changing: Vec<LinkId>,
}

impl<'s> Sweep<'s> {
    /// Prepares a sweep round a state in which some gears may move and others count as closed in every position.
    pub(super) fn new(
        system: &'s System,
        state: State,
        moving: &[GearId],
        closed: &[GearId],
    ) -> Result<Self, SolveError> {
        let flags = |gears: &[GearId]| {
            let mut flags = vec![false; system.gears.len()];
            for gear in gears {
                flags[gear.index()] = true;
            }
            flags
        };
        let (changes, closed) = (flags(moving), flags(closed));
        let mut changing = Vec::new();
        let mut touched = Vec::new();
        let mut fixed = Vec::with_capacity(system.links.len());
        for (index, link) in system.links.iter().enumerate() {
            let id = LinkId::at(index);
            let (a, b) = ends(system, id);
            let moves = match link.kind {
                LinkKind::Diode { .. } => true,
                LinkKind::Contact { gear, .. } => changes[gear.index()],
                // What holds a voltage in one state only is added to that state.
                LinkKind::Source(source) => {
                    system.sources[source.index()].kind != SourceKind::Battery
                }
                _ => false,
            };
            let stays_closed = matches!(&link.kind, LinkKind::Contact { gear, closed_in }
                if closed[gear.index()] && !closed_in.is_empty());
            let element = if moves {
                touched.extend([a, b]);
                Element::Open
            } else if stays_closed {
                Element::Ideal { emf: 0.0 }
            } else {
                passive(system, &state, id, Options::RULE)
            };
            if moves && !is_source(system, id) {
                changing.push(id);
            }
            fixed.push(Branch { a, b, element });
        }
        let conducts =
            |link: LinkId| fixed[link.index()].element != Element::Open && !is_source(system, link);
        let parts = Parts::new(wired_nodes(system, conducts), system.nodes.len());
        let grounds = battery_negatives(system);
        let frame = Frame::new(system.nodes.len(), fixed, &touched, &grounds)
            .map_err(|fault| explain(system, fault))?;
        Ok(Self {
            system,
            state,
            frame,
            parts,
            changing,
        })
    }

    /// About how much one state costs, in links and matrix entries.
    pub(super) fn weight(&self) -> usize {
        self.system.links.len() + self.frame.entries()
    }

    /// The state that the next [`Sweep::solve`] is about; only changing gears, loads and charging may be set.
    pub(super) fn state(&mut self) -> &mut State {
        &mut self.state
    }

    /// Solves the state as it is set, with further given currents from the first node to the second.
    pub(super) fn solve(&self, further: &[(NodeId, NodeId, Amps)]) -> Result<Solution, SolveError> {
        let system = self.system;
        let mut branches = Vec::new();
        let mut links = Vec::new();
        for &link in &self.changing {
            let (a, b) = ends(system, link);
            let element = passive(system, &self.state, link, Options::RULE);
            if element != Element::Open {
                branches.push(Branch { a, b, element });
                links.push(link);
            }
        }
        let joining = branches.iter().map(|branch| (branch.a, branch.b));
        let mut energised = Energised::new(&self.parts, joining);
        let setup = Setup::new(system, &self.state, Options::RULE, &mut energised);
        let mut given: Vec<(usize, usize, f64)> = further
            .iter()
            .map(|&(a, b, amps)| (a.index(), b.index(), amps.0))
            .collect();
        let mut currents = vec![0.0; system.links.len()];
        for (link, element) in setup.active {
            let (a, b) = ends(system, link);
            if let Element::Current(amps) = element {
                given.push((a, b, amps));
                currents[link.index()] = amps;
            } else {
                branches.push(Branch { a, b, element });
                links.push(link);
            }
        }
        let setting = self
            .frame
            .solve(&branches, &given)
            .map_err(|fault| explain(system, fault))?;
        for (current, fixed) in currents.iter_mut().zip(&setting.fixed) {
            *current += fixed;
        }
        for (link, amps) in links.iter().zip(&setting.changing) {
            currents[link.index()] = *amps;
        }
        Ok(Solution {
            potentials: setting.potentials,
            currents,
            islands: energised.islands(),
            loads: setup.loads,
            idle: setup.idle,
            limited: Vec::new(),
            overloaded: Vec::new(),
            shorted: Vec::new(),
        })
    }
}

#[cfg(test)]
mod tests;
