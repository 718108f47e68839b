//! What stands between every source and every ungrounded conductor, in every realisable combination of positions.
//!
//! For each pole of a source, a conductor's protection is the largest current that some combination of positions can
//! send into it without opening a device: over the paths it is the widest, along a path the smallest rating decides.
//! Where that exceeds what the conductor allows, its unprotected stretch is measured from the source or the tap that
//! feeds it, and the device that must stand at its end is looked for. Paths never run through loads or other sources.
//! What this room finds it tells as facts; weights and words belong to the rules.

mod limits;
mod own;
mod region;
#[cfg(test)]
mod tests;

pub use limits::{Allowed, Limit, allowed};
pub use own::device_in_reach;
pub use region::{By, Fault, Kind, Length};

use super::ampacity::{Ampacities, Ampacity};
use super::isolation::{Nets, Pole};
use super::states::{Constraints, Reach, Spread, Widest, affordable, conducts, ends};
use crate::standards::{self, PlacementCase, RuleSet};
use crate::system::{
    BankId, ComponentKind, Conductor, ConductorId, DeviceId, GearId, LinkId, LinkKind, LoadId,
    LoadKind, NodeId, SourceId, SourceKind, System, TerminalRole,
};
use crate::units::{Amps, Volts};
use region::{Found, Scratch};
use std::collections::{BTreeMap, BTreeSet};

/// States looked at one by one for each pole; further ones are joined where they agree.
///
/// Only a boat with this many unprotected circuits behind switches of their own has more.
const STATES_PER_POLE: usize = 48;

/// Why a conductor needs no device of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exemption {
    /// It needs one like any other.
    None,
    /// Power supply conductor of a cranking motor.
    Cranking,
    /// Pigtail under 7 in.
    Pigtail,
    /// Joins a self-limiting alternator to the stud of a cranking motor, and so counts as a cranking conductor.
    StarterStud,
}

/// What protects one conductor against the source that it is least protected from.
#[derive(Clone, Debug)]
pub struct Cover {
    /// On the negative, or out of reach of every source.
    pub grounded: bool,
    /// Whether the law excuses it.
    pub exemption: Exemption,
    /// Largest current that can flow in it without opening a device; none where a source meets no device at all,
    /// a device has no rating, or nothing can feed it.
    pub rating: Option<Amps>,
    /// The device with that rating; none where it is built into a charger.
    pub device: Option<DeviceId>,
    /// What it allows, by the policy of the boat and by the other one.
    pub allowed: Option<Allowed>,
}

/// The device that limits the widest path between two places.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limiting {
    /// Its rating.
    pub rating: Amps,
    /// The device; none where it is built into a charger.
    pub device: Option<DeviceId>,
}

/// Batteries of one bank whose strings are in parallel with no device between them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Parallel {
    /// The bank.
    pub bank: BankId,
    /// Top batteries of two of its strings.
    pub batteries: [SourceId; 2],
}

/// Protection of the whole boat.
#[derive(Clone, Debug)]
pub struct Protection {
    covers: Vec<Cover>,
    loads: Vec<Option<Limiting>>,
    outputs: Vec<Option<Limiting>>,
    parallels: Vec<Parallel>,
    faults: Vec<Fault>,
    undecided: Vec<ConductorId>,
    unseen: usize,
}

impl Protection {
    /// Measures the protection of every conductor against every source.
    #[must_use]
    pub fn new(system: &System, nets: &Nets, ampacities: &Ampacities) -> Self {
        let mut survey = Survey::new(system, nets, ampacities);
        let gates = survey.gates.clone();
        let reach = Reach::new(system, &Constraints::none(system), |link| {
            gates[link.index()]
        });
        let affordable = affordable(system);
        for pole in nets.ungrounded().iter().take(affordable) {
            survey.look_from(pole, &reach);
        }
        survey.unseen += nets.ungrounded().len().saturating_sub(affordable);
        survey.finish()
    }

    /// What protects a conductor.
    #[must_use]
    pub fn cover(&self, conductor: ConductorId) -> &Cover {
        &self.covers[conductor.index()]
    }

    /// The largest device that stands between a load and a source; none where a source meets none, or none feeds it.
    #[must_use]
    pub fn load(&self, load: LoadId) -> Option<Limiting> {
        self.loads[load.index()]
    }

    /// The largest device that stands between a charging source and the batteries it charges.
    #[must_use]
    pub fn output(&self, source: SourceId) -> Option<Limiting> {
        self.outputs[source.index()]
    }

    /// Banks with strings in parallel and no device between two of them, each bank once.
    #[must_use]
    pub fn parallels(&self) -> &[Parallel] {
        &self.parallels
    }

    /// Conductors that are not protected, or not proved to be, in file order; each stands in one fault only.
    #[must_use]
    pub fn faults(&self) -> &[Fault] {
        &self.faults
    }

    /// Poles that were not looked from, because the boat has more than the effort allowed can cover.
    #[must_use]
    pub fn unseen(&self) -> usize {
        self.unseen
    }

    /// Conductors for which the network is too knotted to decide within the effort allowed.
    #[must_use]
    pub fn undecided(&self) -> &[ConductorId] {
        &self.undecided
    }
}

/// Whether current can pass from one device's side to the other and how much: none for links that are shut for this
/// question, infinite for those that limit nothing. A device without a rating is shut: another finding asks for it.
fn gate(system: &System, nets: &Nets, link: LinkId) -> Option<f64> {
    let (a, b) = ends(system, link);
    if !conducts(system, link) || nets.is_negative(a) || nets.is_negative(b) {
        return None;
    }
    match system.links[link.index()].kind {
        LinkKind::Device(device) => system.devices[device.index()]
            .rating
            .map(|rating| rating.value.0),
        _ => Some(f64::INFINITY),
    }
}

/// Whether a conductor joins a self-limiting alternator to the stud of a cranking motor, no longer than a battery
/// conductor may run before its device.
fn joins_starter_stud(system: &System, conductor: &Conductor) -> bool {
    let ends_at = [conductor.from, conductor.to].map(|end| system.node_of(end));
    let is_alternator = |node: NodeId| {
        system.sources.iter().any(|source| {
            source.kind == SourceKind::Alternator
                && source.self_limiting.is_some_and(|given| given.value)
                && ends(system, source.link).0 == node
        })
    };
    let is_starter = |node: NodeId| {
        let mut loads = system.loads.iter();
        loads.any(|load| load.kind == LoadKind::Starter && ends(system, load.link).0 == node)
    };
    let [one, other] = ends_at;
    let between =
        (is_alternator(one) && is_starter(other)) || (is_alternator(other) && is_starter(one));
    between
        && conductor.length.is_some_and(|length| {
            standards::placement_limit(RuleSet::Law, PlacementCase::Battery)
                .is_some_and(|limit| length.value.0 <= limit.max.0 + region::SAME_LENGTH)
        })
}

/// Everything that holds for the whole boat while its poles are looked from one after the other.
struct Survey<'s> {
    system: &'s System,
    nets: &'s Nets,
    gates: Vec<Option<f64>>,
    /// Nodes from which a tap is measured afresh: buses, block feeds, studs of switches.
    taps: Vec<bool>,
    /// Nodes that the way along a battery conductor may not pass.
    buses: Vec<bool>,
    /// Nodes with the post of a battery.
    posts: Vec<bool>,
    exemptions: Vec<Exemption>,
    ampacities: Vec<Option<Ampacity>>,
    /// What each conductor allows at the voltage of the pole that is looked from.
    allowed: Vec<Option<Allowed>>,
    /// The least of them: no device up to it is too large for any conductor.
    floor: f64,
    covers: Vec<Cover>,
    /// Widths from every pole to every load: none where nothing feeds it, infinite where no device stands between.
    loads: Vec<Option<(f64, Option<DeviceId>)>>,
    outputs: Vec<Option<Limiting>>,
    parallels: Vec<Parallel>,
    /// Batteries that are the top of their string.
    tops: Vec<bool>,
    /// Worst finding at each end of each conductor, `from` first.
    found: Vec<[Option<Found>; 2]>,
    /// Devices that are right for some conductor that they protect.
    right: Vec<bool>,
    undecided: Vec<bool>,
    unseen: usize,
    /// States that may still be measured.
    measures: usize,
}

impl<'s> Survey<'s> {
    fn new(system: &'s System, nets: &'s Nets, ampacities: &'s Ampacities) -> Self {
        let gates = (0..system.links.len())
            .map(|index| gate(system, nets, LinkId::at(index)))
            .collect();
        let mut taps = vec![false; system.nodes.len()];
        let mut buses = vec![false; system.nodes.len()];
        for terminal in &system.terminals {
            let kind = system.components[terminal.component.index()].kind;
            let feed = kind == ComponentKind::FuseBlock && terminal.role == TerminalRole::In;
            if feed || kind == ComponentKind::Bus {
                taps[terminal.node.index()] = true;
                buses[terminal.node.index()] = true;
            }
        }
        for link in &system.links {
            if matches!(link.kind, LinkKind::Contact { .. }) {
                taps[system.node_of(link.a).index()] = true;
                taps[system.node_of(link.b).index()] = true;
            }
        }
        let mut posts = vec![false; system.nodes.len()];
        for source in &system.sources {
            if source.kind == SourceKind::Battery {
                let (a, b) = ends(system, source.link);
                posts[a.index()] = true;
                posts[b.index()] = true;
            }
        }
        let exemptions: Vec<Exemption> = system
            .conductors
            .iter()
            .map(|conductor| {
                if conductor.cranking.is_some_and(|given| given.value) {
                    Exemption::Cranking
                } else if conductor.pigtail {
                    Exemption::Pigtail
                } else if joins_starter_stud(system, conductor) {
                    Exemption::StarterStud
                } else {
                    Exemption::None
                }
            })
            .collect();
        let covers = exemptions
            .iter()
            .map(|&exemption| Cover {
                grounded: true,
                exemption,
                rating: None,
                device: None,
                allowed: None,
            })
            .collect();
        let mut tops = vec![false; system.sources.len()];
        for string in system.banks.iter().flat_map(|bank| &bank.strings) {
            if let Some(top) = string.last() {
                tops[top.index()] = true;
            }
        }
        let ampacities = (0..system.conductors.len())
            .map(|index| ampacities.allowed(system, ConductorId::at(index)).ok())
            .collect();
        Self {
            system,
            nets,
            gates,
            taps,
            buses,
            posts,
            exemptions,
            ampacities,
            allowed: Vec::new(),
            floor: 0.0,
            covers,
            loads: vec![None; system.loads.len()],
            outputs: vec![None; system.sources.len()],
            parallels: Vec::new(),
            tops,
            found: vec![[None, None]; system.conductors.len()],
            right: vec![false; system.devices.len()],
            undecided: vec![false; system.conductors.len()],
            unseen: 0,
            measures: affordable(system).saturating_mul(STATES_PER_POLE),
        }
    }

    fn is_exempt(&self, conductor: ConductorId) -> bool {
        self.exemptions[conductor.index()] != Exemption::None
    }

    /// The limit of a conductor at the pole that is looked from; none where its size or its table value is not known.
    fn limit(&self, conductor: ConductorId) -> Option<f64> {
        let allowed = self.allowed[conductor.index()].as_ref()?;
        Some(allowed.judged.current.0)
    }

    /// Sets what each conductor allows at a voltage.
    fn at_voltage(&mut self, volts: Volts) {
        let known = |allowed: &Option<Allowed>| allowed.as_ref().map(|allowed| allowed.volts);
        if self.allowed.iter().find_map(known) == Some(volts) {
            return;
        }
        let policy = self.system.boat.policy.overcurrent;
        self.allowed = self
            .ampacities
            .iter()
            .map(|ampacity| {
                ampacity
                    .as_ref()
                    .map(|it| limits::allowed(it, policy, volts))
            })
            .collect();
        self.floor = self
            .allowed
            .iter()
            .flatten()
            .map(|allowed| allowed.judged.current.0)
            .fold(f64::INFINITY, f64::min);
    }

    /// Looks at every conductor from one pole.
    fn look_from(&mut self, pole: &Pole, reach: &Reach<'_>) {
        self.at_voltage(pole.volts);
        let spread = reach.spread(&[pole.node]);
        let states = self.survey_widths(pole, &spread);
        self.survey_ends(pole, &spread);
        let mut scratch = Scratch::new(self.system);
        for moves in joined(states) {
            if self.measures == 0 {
                self.unseen += 1;
                break;
            }
            self.measures -= 1;
            let state = reach.state_with(&moves);
            self.measure(pole, &state, &moves, &mut scratch);
        }
    }

    /// Notes what protects each conductor, and gives the states in which one is not protected.
    fn survey_widths(&mut self, pole: &Pole, spread: &Spread<'_>) -> Vec<Vec<(GearId, u16)>> {
        let mut states: BTreeSet<(usize, Vec<(GearId, u16)>)> = BTreeSet::new();
        let source = &self.system.sources[pole.source.index()];
        let built_in = source.built_in_fuse.map(|given| given.value.0);
        for index in 0..self.system.conductors.len() {
            let id = ConductorId::at(index);
            let node = self.system.node_of(self.system.conductors[index].from);
            if self.nets.is_negative(node) {
                continue;
            }
            let width = match spread.widest(node) {
                Widest::Never => continue,
                Widest::At(width) => width,
                Widest::Undecided => {
                    self.undecided[index] = true;
                    continue;
                }
            };
            let limit = self.limit(id);
            let (width, device) = self.limiting(spread, node, width, built_in);
            let within = limit.is_some_and(|limit| width <= limit);
            if let (true, Some(device)) = (within, device) {
                self.right[device.index()] = true;
            }
            self.note(id, width, device);
            if within || self.is_exempt(id) || (limit.is_none() && width.is_finite()) {
                continue;
            }
            for moves in spread.moves_above(node, limit.unwrap_or(0.0)) {
                states.insert((moves.len(), moves));
            }
        }
        states.into_iter().map(|(_, moves)| moves).collect()
    }

    /// The width that counts at a node, and the device that sets it.
    fn limiting(
        &self,
        spread: &Spread<'_>,
        node: NodeId,
        width: f64,
        built_in: Option<f64>,
    ) -> (f64, Option<DeviceId>) {
        if let Some(built_in) = built_in
            && built_in < width
        {
            return (built_in, None);
        }
        let device =
            spread
                .narrowest(node)
                .and_then(|link| match self.system.links[link.index()].kind {
                    LinkKind::Device(device) => Some(device),
                    _ => None,
                });
        (width, device.filter(|_| width.is_finite()))
    }

    /// Notes what stands between a pole and loads, batteries, and the other strings of its bank.
    fn survey_ends(&mut self, pole: &Pole, spread: &Spread<'_>) {
        let system = self.system;
        let source = &system.sources[pole.source.index()];
        let built_in = source.built_in_fuse.map(|given| given.value.0);
        for (index, load) in system.loads.iter().enumerate() {
            let (node, _) = ends(system, load.link);
            let Widest::At(width) = spread.widest(node) else {
                continue;
            };
            let found = self.limiting(spread, node, width, built_in);
            if self.loads[index].is_none_or(|(before, _)| found.0 > before) {
                self.loads[index] = Some(found);
            }
        }
        if pole.terminal != system.links[source.link.index()].a {
            return;
        }
        for (index, battery) in system.sources.iter().enumerate() {
            let (node, _) = ends(system, battery.link);
            if battery.kind != SourceKind::Battery || index == pole.source.index() {
                continue;
            }
            let Widest::At(width) = spread.widest(node) else {
                continue;
            };
            let (width, device) = self.limiting(spread, node, width, built_in);
            if source.kind == SourceKind::Battery {
                self.note_parallel(pole.source, SourceId::at(index), width);
                continue;
            }
            let slot = &mut self.outputs[pole.source.index()];
            if slot.is_none_or(|before| width > before.rating.0) && width.is_finite() {
                let rating = Amps(width);
                *slot = Some(Limiting { rating, device });
            }
        }
    }

    fn note_parallel(&mut self, one: SourceId, other: SourceId, width: f64) {
        let bank_of = |source: SourceId| self.system.sources[source.index()].bank;
        let (Some(bank), true) = (bank_of(one), width.is_infinite()) else {
            return;
        };
        let is_top = self.tops[one.index()] && self.tops[other.index()];
        if bank_of(other) != Some(bank) || !is_top {
            return;
        }
        if !self.parallels.iter().any(|known| known.bank == bank) {
            self.parallels.push(Parallel {
                bank,
                batteries: [one, other],
            });
        }
    }

    /// Keeps the largest finite protection; an infinite one is left to the measuring of distances.
    fn note(&mut self, conductor: ConductorId, width: f64, device: Option<DeviceId>) {
        let cover = &mut self.covers[conductor.index()];
        cover.grounded = false;
        if let Some(allowed) = &self.allowed[conductor.index()] {
            let lower = cover
                .allowed
                .as_ref()
                .is_none_or(|before| allowed.judged.current < before.judged.current);
            if lower {
                cover.allowed = Some(allowed.clone());
            }
        }
        if width.is_finite() {
            self.note_rating(conductor, width, device);
        }
    }

    /// Keeps the largest rating of a device that a conductor relies on.
    fn note_rating(&mut self, conductor: ConductorId, rating: f64, device: Option<DeviceId>) {
        let cover = &mut self.covers[conductor.index()];
        if cover.rating.is_none_or(|before| rating > before.0) {
            cover.rating = Some(Amps(rating));
            cover.device = device;
        }
    }

    /// Keeps the worst finding at one end of a conductor, and every source that lacks a device there.
    fn note_fault(&mut self, conductor: ConductorId, end: usize, found: Found) {
        let slot = &mut self.found[conductor.index()][end];
        match slot {
            None => *slot = Some(found),
            Some(before) => before.merge(found),
        }
    }

    /// Whether a source can deliver no more than the conductor may carry.
    fn self_limited(&self, source: SourceId, conductor: ConductorId) -> Limited {
        let source = &self.system.sources[source.index()];
        let limiting = match source.kind {
            SourceKind::Battery => return Limited::No,
            // What feeds a controller or converter limits it; no field of the file says otherwise.
            SourceKind::Solar | SourceKind::Converter => Some(true),
            SourceKind::Charger | SourceKind::Alternator => {
                source.self_limiting.map(|given| given.value)
            }
        };
        if limiting == Some(false) {
            return Limited::No;
        }
        let Some(ampacity) = &self.ampacities[conductor.index()] else {
            return Limited::NotKnown;
        };
        match source.current {
            Some(current) if current.value > ampacity.derated => Limited::No,
            Some(_) if limiting == Some(true) => Limited::Yes,
            _ => Limited::NotKnown,
        }
    }

    fn finish(self) -> Protection {
        let faults = region::gather(&self, &self.found, &self.right);
        let undecided = (0..self.system.conductors.len())
            .filter(|&index| self.undecided[index] && !self.is_exempt(ConductorId::at(index)))
            .map(ConductorId::at)
            .collect();
        let loads = self
            .loads
            .iter()
            .map(|load| {
                let (width, device) = (*load)?;
                let rating = Amps(width);
                width.is_finite().then_some(Limiting { rating, device })
            })
            .collect();
        Protection {
            covers: self.covers,
            loads,
            outputs: self.outputs,
            parallels: self.parallels,
            faults,
            undecided,
            unseen: self.unseen,
        }
    }
}

/// Whether a source limits its own current to what a conductor may carry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Limited {
    Yes,
    No,
    /// The file does not say whether it limits itself, or to what.
    NotKnown,
}

/// The states as they are, fewest moves first; beyond the number looked at one by one, those that agree are joined.
///
/// A joined state closes the contacts of all its parts, so that every conductor it stands for is as bare as alone.
fn joined(states: Vec<Vec<(GearId, u16)>>) -> Vec<Vec<(GearId, u16)>> {
    let mut kept = states;
    if kept.len() <= STATES_PER_POLE {
        return kept;
    }
    let rest = kept.split_off(STATES_PER_POLE);
    let mut together: Vec<BTreeMap<GearId, u16>> = Vec::new();
    for moves in rest {
        let agrees = |state: &BTreeMap<GearId, u16>| {
            moves
                .iter()
                .all(|(gear, position)| state.get(gear).is_none_or(|other| other == position))
        };
        match together.iter_mut().find(|state| agrees(state)) {
            Some(state) => state.extend(moves),
            None => together.push(moves.into_iter().collect()),
        }
    }
    kept.extend(
        together
            .into_iter()
            .map(|state| state.into_iter().collect()),
    );
    kept
}
