//! Voltage drop of every load, charging source and block feed, round trip.
//!
//! Two numbers are kept apart. The *rule drop* is the handbook's: K = 10.75 over the true area, all else ideal, every
//! load at its nominal current. The *solved drop* is what a meter would show between battery and load.
//! A load is judged in the declared scenarios in which it runs, at their worst; where none runs it, with everything
//! on in the worst combination of battery switches. Positions that are off, join banks or are for emergencies judge
//! a load only when nothing else feeds it.
//! Nothing here compares a drop with a limit, but the limit that belongs to a load is told here.

mod limits;
mod trace;

pub use limits::{DropLimit, load_limit, panel_limit};

use super::currents::{self, Case, CaseKind, Cases, Shown};
use super::loops;
use super::solve::{Reading, Running, Solution, SolveError, Solver, State, Voltage};
use crate::diag::SetTo;
use crate::system::{
    ComponentId, ConductorId, LinkId, LinkKind, LoadId, NodeId, ScenarioId, SourceId, System,
};
use crate::units::{Amps, Celsius, Volts};
use trace::Trace;

/// A value that a drop needs and the file does not give.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Missing {
    /// Length of a conductor on the way.
    Length(ConductorId),
    /// Size of a conductor on the way.
    Gauge(ConductorId),
    /// Current of the load itself.
    Draw(LoadId),
    /// Current of another load that shares the way.
    SharedDraw(LinkId),
}

/// A drop by where it is lost: in feeder or branch, on the way out or on the way back.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Split {
    /// In the positive that others share, or that lies before the last block or bus.
    pub feeder_positive: Volts,
    /// In the load's own positive.
    pub branch_positive: Volts,
    /// In the load's own negative.
    pub branch_negative: Volts,
    /// In the shared negative.
    pub feeder_negative: Volts,
}

impl Split {
    /// Everything but what is the load's own.
    #[must_use]
    pub fn feeder(&self) -> Volts {
        self.feeder_positive + self.feeder_negative
    }

    /// The load's own.
    #[must_use]
    pub fn branch(&self) -> Volts {
        self.branch_positive + self.branch_negative
    }

    /// All of the positive.
    #[must_use]
    pub fn positive(&self) -> Volts {
        self.feeder_positive + self.branch_positive
    }

    /// All of the negative.
    #[must_use]
    pub fn negative(&self) -> Volts {
        self.feeder_negative + self.branch_negative
    }
}

/// Rule drop of one load, in its worst case.
#[derive(Clone, Debug, PartialEq)]
pub struct LoadDrop {
    /// From the source to the load and back.
    pub total: Volts,
    /// Share of the load's nominal voltage in per cent, unrounded.
    pub percent: f64,
    /// Where on its way it is lost.
    pub split: Split,
    /// The case.
    pub case: Case,
    /// The source that feeds it.
    pub source: Option<SourceId>,
    /// The first block on its way from the load to the source.
    pub block: Option<ComponentId>,
    /// From the source to that block or the first bar, and back from the first bar of its return.
    pub before_bars: Volts,
    /// Between which nodes that is: source and bar of the positive, bar and source of the negative.
    pub(super) bars: [Option<(NodeId, NodeId)>; 2],
    /// Index among [`Drops::feeders`] of all that hangs on its feeder.
    pub feeder: Option<usize>,
    /// What is not given on its way; the drop is then at least what is told.
    pub missing: Vec<Missing>,
    /// Conductors on its way, from the source to the load and back.
    pub path: Vec<ConductorId>,
    /// Positive conductors that carry this load's current only, from the load on.
    pub own_positive: Vec<ConductorId>,
    /// Negative conductors that carry this load's current only, from the load on.
    pub own_negative: Vec<ConductorId>,
    /// Links on its way, from the source to the load and back.
    pub legs: Vec<Leg>,
}

/// A link on the way of a load, in the case that judges it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Leg {
    /// The link.
    pub link: LinkId,
    /// Its current.
    pub amps: Amps,
    /// On the way back from the load.
    pub is_return: bool,
    /// Between the source and the load's block or first bar, or between its return's first bar and the source.
    pub before_bars: bool,
    /// On a loop in this case, so that its current depends on how resistances share it.
    pub on_loop: bool,
}

/// What a meter would show at one load.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SolvedDrop {
    /// Voltage at its terminals.
    pub at_load: Volts,
    /// Voltage between the posts that its way starts from and returns to: of a battery where one stands on the way.
    pub at_source: Volts,
    /// That battery, or the charging source where there is none.
    pub source: Option<SourceId>,
    /// The scenario; none for everything on.
    pub scenario: Option<ScenarioId>,
    /// Where on its way it is lost.
    pub split: Split,
    /// The part of it that is lost in contacts, devices and joints.
    pub joints: Volts,
}

impl SolvedDrop {
    /// Lost between source and load.
    #[must_use]
    pub fn lost(&self) -> Volts {
        self.at_source - self.at_load
    }

    /// A few words for the state: `in scenario night`, `with everything on`.
    #[must_use]
    pub fn words(&self, system: &System) -> String {
        match self.scenario {
            Some(scenario) => format!("in scenario {}", system.scenarios[scenario.index()].name),
            None => "with everything on".to_owned(),
        }
    }
}

/// Rule drop between a charging source and what it charges.
#[derive(Clone, Debug, PartialEq)]
pub struct ChargeDrop {
    /// In conductors, out and back; diodes not counted.
    pub total: Volts,
    /// Share of the source's nominal voltage in per cent, unrounded.
    pub percent: f64,
    /// Its current.
    pub current: Amps,
    /// The case.
    pub case: Case,
    /// What is not given on its way.
    pub missing: Vec<Missing>,
    /// Conductors that carry its current.
    pub path: Vec<ConductorId>,
    /// What each of them carries, in the same order.
    pub amps: Vec<Amps>,
    /// Some of them lie on a loop, so that what they carry depends on how resistances share it.
    pub on_loop: bool,
}

/// Drop of a block's feed, out and back.
#[derive(Clone, Debug, PartialEq)]
pub struct BlockDrop {
    /// The block.
    pub block: ComponentId,
    /// From the source to the block, and from where its loads return to the source.
    pub total: Volts,
    /// Share of nominal voltage in per cent, unrounded.
    pub percent: f64,
    /// The load whose return shows it.
    pub load: LoadId,
}

/// All drops of the boat.
#[derive(Clone, Debug, Default)]
pub struct Drops {
    loads: Vec<Option<LoadDrop>>,
    solved: Vec<Option<SolvedDrop>>,
    lowest: Vec<Option<SolvedDrop>>,
    charging: Vec<Option<ChargeDrop>>,
    /// Worst drop of each block's feed, in component order.
    pub blocks: Vec<BlockDrop>,
    /// What hangs on a feeder, largest current first.
    pub feeders: Vec<Vec<(LoadId, Amps)>>,
    /// Scenarios, or everything on (none), that have no solution at the meter, with the reason.
    pub unsolved: Vec<(Option<ScenarioId>, SolveError)>,
    /// Loads that a scenario has on and nothing feeds in it.
    pub unfed: Vec<(ScenarioId, LoadId)>,
    /// States that the meter was asked in.
    metered: Vec<(Option<ScenarioId>, State)>,
    /// Why drops are missing, where the network could not be solved.
    pub failed: Option<SolveError>,
}

impl Drops {
    /// Rule drop of a load; none when nothing ever feeds it.
    #[must_use]
    pub fn of(&self, load: LoadId) -> Option<&LoadDrop> {
        self.loads[load.index()].as_ref()
    }

    /// Solved drop of a load; none when nothing feeds it or its state has no solution.
    #[must_use]
    pub fn solved(&self, load: LoadId) -> Option<SolvedDrop> {
        self.solved[load.index()]
    }

    /// Where a load gets the least voltage as solved; none when nothing feeds it or its state has no solution.
    #[must_use]
    pub fn lowest(&self, load: LoadId) -> Option<SolvedDrop> {
        self.lowest[load.index()]
    }

    /// Solved drops of all loads, by load id, with conductors at another temperature than the policy says.
    #[must_use]
    pub fn solved_at(&self, system: &System, conductors: Celsius) -> Vec<Option<SolvedDrop>> {
        let mut other = system.clone();
        other.boat.policy.conductor_temperature = conductors;
        let mut drops = Self {
            solved: vec![None; system.loads.len()],
            lowest: vec![None; system.loads.len()],
            ..Self::default()
        };
        drops.meter(&other, &self.metered);
        drops.solved
    }

    /// Rule drop of a charging source; none when its current is not given or nothing takes it.
    #[must_use]
    pub fn charging(&self, source: SourceId) -> Option<&ChargeDrop> {
        self.charging[source.index()].as_ref()
    }

    /// Loads besides one that hang on its feeder, largest current first.
    #[must_use]
    pub fn sharing(&self, load: LoadId) -> Vec<(LoadId, Amps)> {
        let feeder = self.of(load).and_then(|drop| drop.feeder);
        feeder.map_or_else(Vec::new, |feeder| {
            let all = self.feeders[feeder].iter().copied();
            all.filter(|&(other, _)| other != load).collect()
        })
    }
}

/// A few words for a case: `in scenario night`, `with everything on`.
#[must_use]
pub fn words(system: &System, case: &Case) -> String {
    currents::words(system, case)
}

/// The battery switches off their normal position in a case.
#[must_use]
pub fn positions(system: &System, case: &Case) -> Vec<SetTo> {
    currents::positions(system, case)
}

/// Whether a case could judge a load in place of the one that does: as good a case, with the load running.
pub(super) fn rivals(system: &System, judging: &Case, case: &Case, load: LoadId) -> bool {
    judges(system, case.kind, load) && Rank::of(case) == Rank::of(judging)
}

/// How well a case suits to judge a load; the better one is taken whatever its drop.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Rank {
    /// Positions that join banks or are for emergencies.
    Exceptional,
    /// A battery switch is off: what is fed all the same is always on, or fed back by a fault.
    TurnedOff,
    EverythingOn,
    Declared,
}

impl Rank {
    fn of(case: &Case) -> Self {
        match case.kind {
            CaseKind::Scenario(_) | CaseKind::ScenarioCranking(_) => Self::Declared,
            _ if case.exceptional => Self::Exceptional,
            _ if case.turned_off => Self::TurnedOff,
            _ => Self::EverythingOn,
        }
    }
}

/// The worst case of each load and charging source, gathered while the cases are solved.
pub(super) struct Gather<'s> {
    system: &'s System,
    loads: Vec<Option<(Rank, f64, usize)>>,
    charging: Vec<Option<(Rank, f64, usize)>>,
    cases: Vec<Case>,
}

impl<'s> Gather<'s> {
    pub(super) fn new(system: &'s System) -> Self {
        Self {
            system,
            loads: vec![None; system.loads.len()],
            charging: vec![None; system.sources.len()],
            cases: Vec::new(),
        }
    }

    /// Looks at a case that was just solved.
    pub(super) fn take(&mut self, shown: &Shown<'_>) {
        let rank = Rank::of(shown.case);
        let mut used = None;
        let number = self.cases.len();
        for index in 0..self.loads.len() {
            let load = LoadId::at(index);
            if !judges(self.system, shown.case.kind, load)
                || !matches!(
                    shown.solution.loads[index],
                    Running::Fed | Running::NoDraw | Running::Reversed
                )
            {
                continue;
            }
            let link = self.system.loads[index].link;
            let Some(across) = shown.solution.across(self.system, link) else {
                continue;
            };
            let lost = match shown.solution.loads[index] {
                Running::Reversed => across.0,
                _ => -across.0,
            };
            if is_worse(self.loads[index], rank, lost) {
                self.loads[index] = Some((rank, lost, number));
                used = Some(number);
            }
        }
        if let CaseKind::Charging(Some(source)) = shown.case.kind {
            let delivered = shown
                .solution
                .current(self.system.sources[source.index()].link);
            let across = shown
                .solution
                .across(self.system, self.system.sources[source.index()].link);
            if let (true, Some(across)) = (delivered.0 < 0.0, across)
                && is_worse(self.charging[source.index()], rank, across.0)
            {
                self.charging[source.index()] = Some((rank, across.0, number));
                used = Some(number);
            }
        }
        if used.is_some() {
            self.cases.push(shown.case.clone());
        }
    }

    /// Solves the worst cases again and splits their drops.
    pub(super) fn finish(self, cases: &Cases<'_>) -> Drops {
        let system = self.system;
        let mut drops = Drops {
            loads: vec![None; system.loads.len()],
            solved: vec![None; system.loads.len()],
            lowest: vec![None; system.loads.len()],
            charging: vec![None; system.sources.len()],
            ..Drops::default()
        };
        let mut by_case: Vec<(Vec<LoadId>, Vec<SourceId>)> =
            vec![(Vec::new(), Vec::new()); self.cases.len()];
        for (index, worst) in self.loads.iter().enumerate() {
            if let Some((_, _, case)) = worst {
                by_case[*case].0.push(LoadId::at(index));
            }
        }
        for (index, worst) in self.charging.iter().enumerate() {
            if let Some((_, _, case)) = worst {
                by_case[*case].1.push(SourceId::at(index));
            }
        }
        let mut wanted = Vec::new();
        let mut about = Vec::new();
        for (case, (loads, sources)) in self.cases.iter().zip(by_case) {
            if !loads.is_empty() || !sources.is_empty() {
                wanted.push(case.clone());
                about.push((loads, sources));
            }
        }
        // Where a block states a design current, not everything runs together: a meter would never see it.
        let designed = system
            .components
            .iter()
            .any(|component| component.design_current.is_some());
        let everything = everything_on(&wanted, &about).filter(|_| !designed);
        let mut metered: Vec<(Option<ScenarioId>, State)> = Vec::new();
        drops.failed = cases
            .again(&wanted, |number, solved| {
                let (loads, sources) = &about[number];
                let on_loop = loops::in_state(system, solved.state);
                let mut trace = Trace::new(system, solved.solution, solved.unknown);
                // A load without a draw has no current to follow; its test current takes the same way.
                let mut tested = solved
                    .unknown
                    .map(|unknown| Trace::new(system, unknown, None));
                for &load in loads {
                    let mut drop = split(
                        system,
                        &mut trace,
                        &wanted[number],
                        load,
                        &mut drops.feeders,
                    );
                    if let (None, Some(tested)) = (&system.loads[load.index()].draw, &mut tested) {
                        let way = tested.load(load, &mut Vec::new());
                        drop.source = way.source;
                        drop.path = way.path;
                        drop.legs = way.legs;
                    }
                    for leg in &mut drop.legs {
                        leg.on_loop = on_loop[leg.link.index()];
                    }
                    drops.loads[load.index()] = Some(drop);
                }
                for &source in sources {
                    drops.charging[source.index()] =
                        charge(system, solved.solution, &wanted[number], source, &on_loop);
                }
                if everything == Some(number) {
                    metered.push((None, solved.state.clone()));
                }
            })
            .err();
        drops.blocks = blocks(system, &drops.loads);
        for index in 0..system.scenarios.len() {
            let scenario = ScenarioId::at(index);
            metered.push((Some(scenario), State::scenario(system, scenario)));
        }
        drops.meter(system, &metered);
        drops.metered = metered;
        drops
    }
}

impl Drops {
    /// Solves states as a meter would find them and keeps the lowest voltage of each load.
    fn meter(&mut self, system: &System, states: &[(Option<ScenarioId>, State)]) {
        let mut solver = Solver::new(system, Reading::Physical);
        for (scenario, state) in states {
            let charge = scenario
                .and_then(|scenario| system.scenarios[scenario.index()].state_of_charge)
                .map_or(100.0, |given| given.value);
            let solution = match solver.solve(state, Voltage::AtRest(charge)) {
                Ok(solution) => solution,
                Err(error) => {
                    self.unsolved.push((*scenario, error));
                    continue;
                }
            };
            let mut trace = Trace::new(system, &solution, None);
            for (index, load) in system.loads.iter().enumerate() {
                if let (Some(scenario), Running::Unfed) = (scenario, solution.loads[index]) {
                    self.unfed.push((*scenario, LoadId::at(index)));
                }
                if solution.loads[index] != Running::Fed {
                    continue;
                }
                let Some((at_load, way)) = solution
                    .across(system, load.link)
                    .zip(trace.metered(load.link))
                else {
                    continue;
                };
                let found = SolvedDrop {
                    at_load,
                    at_source: way.at_source,
                    source: way.source,
                    scenario: *scenario,
                    split: way.split,
                    joints: way.joints,
                };
                keep(&mut self.solved[index], found, |found, before| {
                    found.lost() > before.lost()
                });
                keep(&mut self.lowest[index], found, |found, before| {
                    found.at_load < before.at_load
                });
            }
        }
    }
}

/// Keeps the worse of two, a declared scenario before everything on.
fn keep(
    kept: &mut Option<SolvedDrop>,
    found: SolvedDrop,
    is_worse: impl Fn(&SolvedDrop, &SolvedDrop) -> bool,
) {
    let better =
        kept.is_none_or(
            |before| match (found.scenario.is_some(), before.scenario.is_some()) {
                (true, false) => true,
                (false, true) => false,
                _ => is_worse(&found, &before),
            },
        );
    if better {
        *kept = Some(found);
    }
}

/// Whether a case of this kind judges a load: cranking loads while they crank, all others while they do not.
fn judges(system: &System, kind: CaseKind, load: LoadId) -> bool {
    let cranks = currents::is_cranking(system, load);
    match kind {
        CaseKind::Scenario(_) | CaseKind::EverythingOn => !cranks,
        CaseKind::ScenarioCranking(_) => cranks,
        CaseKind::Cranking(cranking) => cranking == load,
        CaseKind::Charging(_) => false,
    }
}

/// A drop that differs by less is rounding, in volts.
const SAME_VOLTS: f64 = 1e-9;

fn is_worse(before: Option<(Rank, f64, usize)>, rank: Rank, lost: f64) -> bool {
    before
        .is_none_or(|(known, most, _)| rank > known || (rank == known && lost > most + SAME_VOLTS))
}

/// The case with everything on that judges the most loads; it stands for all where the meter is asked.
fn everything_on(cases: &[Case], about: &[(Vec<LoadId>, Vec<SourceId>)]) -> Option<usize> {
    (0..cases.len())
        .filter(|&number| {
            let case = &cases[number];
            case.kind == CaseKind::EverythingOn
                && case.varied.is_none()
                && !case.exceptional
                && !case.turned_off
        })
        .max_by_key(|&number| (about[number].0.len(), std::cmp::Reverse(number)))
}

/// Splits the drop of one load in a solution.
fn split(
    system: &System,
    trace: &mut Trace<'_>,
    case: &Case,
    load: LoadId,
    feeders: &mut Vec<Vec<(LoadId, Amps)>>,
) -> LoadDrop {
    let record = &system.loads[load.index()];
    let way = trace.load(load, feeders);
    let nominal = record.nominal.value;
    let mut missing = way.missing;
    if record.draw.is_none() {
        missing.insert(0, Missing::Draw(load));
    }
    LoadDrop {
        total: way.total,
        percent: way.total / nominal * 100.0,
        split: way.split,
        case: case.clone(),
        source: way.source,
        block: way.block,
        before_bars: way.before_bars,
        bars: way.bars,
        feeder: way.feeder,
        missing,
        path: way.path,
        own_positive: way.own_positive,
        own_negative: way.own_negative,
        legs: way.legs,
    }
}

/// The drop of a charging source: what its current loses in conductors.
fn charge(
    system: &System,
    solution: &Solution,
    case: &Case,
    source: SourceId,
    on_loop: &[bool],
) -> Option<ChargeDrop> {
    let record = &system.sources[source.index()];
    let current = -solution.current(record.link);
    let mut lost = 0.0;
    let mut missing = Vec::new();
    let mut path = Vec::new();
    let mut carried = Vec::new();
    let mut loops = false;
    for (index, conductor) in system.conductors.iter().enumerate() {
        let amps = solution.current(conductor.link);
        if amps.0.abs() <= trace::NOTHING {
            continue;
        }
        let id = ConductorId::at(index);
        path.push(id);
        carried.push(Amps(amps.0.abs()));
        loops |= on_loop[conductor.link.index()];
        missing.extend(trace::missing_in(system, id));
        if let Some(across) = solution.across(system, conductor.link) {
            lost += amps.0 * across.0;
        }
    }
    // All losses are this source's, for nothing else runs: their power over its current is its drop.
    let total = Volts(lost / current.0);
    (current.0 > 0.0).then(|| ChargeDrop {
        total,
        percent: total / record.nominal.value * 100.0,
        current,
        case: case.clone(),
        missing,
        path,
        amps: carried,
        on_loop: loops,
    })
}

/// The worst feed of each block, by the loads that hang on it.
fn blocks(system: &System, loads: &[Option<LoadDrop>]) -> Vec<BlockDrop> {
    let mut worst: Vec<Option<BlockDrop>> = vec![None; system.components.len()];
    for (index, drop) in loads.iter().enumerate() {
        let Some(drop) = drop else {
            continue;
        };
        let Some(block) = drop.block.filter(|_| drop.missing.is_empty()) else {
            continue;
        };
        let total = drop.before_bars;
        let nominal = system.loads[index].nominal.value;
        let entry = &mut worst[block.index()];
        if entry.as_ref().is_none_or(|before| total > before.total) {
            *entry = Some(BlockDrop {
                block,
                total,
                percent: total / nominal * 100.0,
                load: LoadId::at(index),
            });
        }
    }
    worst.into_iter().flatten().collect()
}

/// Whether a link is the source of a trace.
fn source_behind(system: &System, link: LinkId) -> Option<SourceId> {
    match system.links[link.index()].kind {
        LinkKind::Source(source) => Some(source),
        _ => None,
    }
}

#[cfg(test)]
mod tests;
