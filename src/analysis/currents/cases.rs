//! Every case in which currents and drops are looked for, solved one after the other.
//!
//! Declared scenarios come first, as they are declared. Then, for what no scenario shows: everything on that does not
//! merely crank, in all combinations of battery switches, with the other parts varied one at a time; each charging
//! source alone and all together, with the loads off; and each cranking load alone.

use super::design::Designs;
use super::gears::{Gears, Role};
use crate::analysis::solve::{self, Options, Running, Solution, SolveError, State, Sweep};
use crate::system::{
    Duty, GearId, LoadId, LoadKind, NodeId, ScenarioId, SourceId, SourceKind, System,
};
use crate::units::Amps;

/// More combinations of battery switches than this are not all tried.
pub const MAX_COMBINATIONS: usize = 4096;

/// Most work that states may cause, in links and factor entries; bounds the time on a huge or meshed boat.
const MAX_WORK: usize = 12_000_000;

/// Loop parts that one sweep may change; more go into further sweeps, so that each stays small.
const LOOPS_A_SWEEP: usize = 16;

/// What a case is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CaseKind {
    /// A declared scenario, without its cranking loads.
    Scenario(ScenarioId),
    /// The cranking loads of a declared scenario, with all that it has on.
    ScenarioCranking(ScenarioId),
    /// Everything on that does not merely crank.
    EverythingOn,
    /// This charging source, or all of them, with the loads off.
    Charging(Option<SourceId>),
    /// This cranking load alone.
    Cranking(LoadId),
}

/// One solved case.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Case {
    /// What it is about.
    pub kind: CaseKind,
    /// Battery switches and combiners off their normal position.
    pub banks: Vec<(GearId, u16)>,
    /// The other part that is varied, and its position.
    pub varied: Option<(GearId, u16)>,
    /// Some position in it joins banks on purpose, or is for emergencies.
    pub exceptional: bool,
    /// A battery switch or combiner is turned off that is normally not.
    pub turned_off: bool,
}

/// How completely the cases were tried.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Coverage {
    /// All combinations of battery switches, each with every variation.
    Complete,
    /// All combinations of battery switches; variations with the battery switches in their normal positions only.
    VariedFromNormal,
    /// Battery switches one at a time from their normal positions, and variations from normal only; on a boat of
    /// thousands of parts with several positions not all of those.
    OneAtATime,
}

/// A case with its solution, as shown to whoever looks at it.
pub(in crate::analysis) struct Shown<'a> {
    pub(in crate::analysis) case: &'a Case,
    pub(in crate::analysis) solution: &'a Solution,
    /// The same without regard to design currents, where some block states one.
    pub(in crate::analysis) undesigned: Option<&'a Solution>,
    /// Currents of one ampere or so from whatever runs with an unknown current; none where all are known.
    pub(in crate::analysis) unknown: Option<&'a Solution>,
}

/// A case solved again, with the state it was solved in.
pub(in crate::analysis) struct Again<'a> {
    pub(in crate::analysis) state: &'a State,
    pub(in crate::analysis) solution: &'a Solution,
    /// As in [`Shown`].
    pub(in crate::analysis) unknown: Option<&'a Solution>,
    /// What one more ampere that is drawn from the first node and returned to the second changes, by itself.
    pub(in crate::analysis) unit: &'a dyn Fn(NodeId, NodeId) -> Option<Solution>,
}

/// The cases of one boat.
pub(in crate::analysis) struct Cases<'s> {
    system: &'s System,
    gears: Gears,
    designs: Designs,
    banks: Vec<GearId>,
    pub(in crate::analysis) coverage: Coverage,
    combinations: Vec<Vec<u16>>,
    /// Most variations that are tried in one combination.
    variations: usize,
}

impl<'s> Cases<'s> {
    pub(in crate::analysis) fn new(system: &'s System) -> Self {
        let gears = Gears::new(system);
        let banks: Vec<GearId> = (0..system.gears.len())
            .map(GearId::at)
            .filter(|gear| gears.roles[gear.index()] == Role::Bank)
            .collect();
        let counts: Vec<usize> = banks
            .iter()
            .map(|gear| system.gears[gear.index()].positions.len())
            .collect();
        let count = counts
            .iter()
            .copied()
            .try_fold(1usize, usize::checked_mul)
            .unwrap_or(usize::MAX);
        let mut cases = Self {
            designs: Designs::new(system),
            system,
            gears,
            banks,
            coverage: Coverage::Complete,
            combinations: Vec::new(),
            variations: usize::MAX,
        };
        cases.coverage = cases.affordable(count);
        let coverage = cases.coverage;
        let mut combinations = match coverage {
            Coverage::OneAtATime => one_at_a_time(system, &cases.banks),
            _ => all_combinations(&counts),
        };
        // Of equal cases the first is told, so those nearest to normal come first.
        combinations.sort_by_cached_key(|combination| {
            let off_normal = cases
                .banks
                .iter()
                .zip(combination)
                .filter(|&(gear, &position)| position != system.gears[gear.index()].normal);
            off_normal.count()
        });
        cases.combinations = combinations;
        cases
    }

    /// How completely so many combinations can be tried within the work that a file may cause.
    fn affordable(&mut self, combinations: usize) -> Coverage {
        let system = self.system;
        let alone = 2 + charging(system).len() + cranking(system).len();
        let varied = self.gears.varied.len();
        let fits = |weight: usize, states: usize| weight.saturating_mul(states) <= MAX_WORK;
        let mut weight = system.links.len().max(1);
        // A mesh costs more than its links tell; what it costs is found by eliminating it once.
        if !fits(
            weight,
            combinations
                .saturating_mul(alone + varied)
                .saturating_mul(16),
        ) {
            weight = self
                .sweep(self.groups()[0])
                .map_or(usize::MAX, |sweep| sweep.weight());
        }
        self.variations = (MAX_WORK / weight.max(1)).max(1);
        let all = combinations.saturating_mul(alone + varied);
        if combinations <= MAX_COMBINATIONS && fits(weight, all) {
            Coverage::Complete
        } else if combinations <= MAX_COMBINATIONS && fits(weight, combinations.saturating_mul(2)) {
            Coverage::VariedFromNormal
        } else {
            Coverage::OneAtATime
        }
    }

    /// Parts on loops, as many together as one sweep may change; at least one group, which may be empty.
    fn groups(&self) -> Vec<&[GearId]> {
        let mut groups: Vec<&[GearId]> = self.gears.loops.chunks(LOOPS_A_SWEEP).collect();
        if groups.is_empty() {
            groups.push(&[]);
        }
        groups
    }

    /// Solves every case and shows it.
    pub(in crate::analysis) fn each(
        &self,
        mut look: impl FnMut(&Shown<'_>),
    ) -> Result<(), SolveError> {
        for index in 0..self.system.scenarios.len() {
            self.scenario(ScenarioId::at(index), &mut look)?;
        }
        let groups = self.groups();
        let mut first = self.sweep(groups[0])?;
        for combination in &self.combinations {
            self.combination(&mut first, true, groups[0], combination, &mut look)?;
            if self.coverage != Coverage::Complete && !self.is_normal(combination) {
                continue;
            }
            // Further sweeps are large and serve few states each, so they are not kept.
            for group in &groups[1..] {
                let mut sweep = self.sweep(group)?;
                self.combination(&mut sweep, false, group, combination, &mut look)?;
            }
        }
        Ok(())
    }

    fn is_normal(&self, combination: &[u16]) -> bool {
        self.banks
            .iter()
            .zip(combination)
            .all(|(gear, &position)| position == self.system.gears[gear.index()].normal)
    }

    /// Solves some cases again, in their order.
    pub(in crate::analysis) fn again(
        &self,
        cases: &[Case],
        mut look: impl FnMut(usize, &Again<'_>),
    ) -> Result<(), SolveError> {
        let system = self.system;
        let mut plain: Option<Sweep<'s>> = None;
        for (number, case) in cases.iter().enumerate() {
            if let CaseKind::Scenario(scenario) | CaseKind::ScenarioCranking(scenario) = case.kind {
                let mut state = State::scenario(system, scenario);
                if matches!(case.kind, CaseKind::Scenario(_)) {
                    without_cranking(system, &mut state);
                }
                let (solution, unknown) = self.declared(&state)?;
                let bare = std::cell::OnceCell::new();
                let unit = |a: NodeId, b: NodeId| {
                    let sweep = bare.get_or_init(|| {
                        let mut state = state.clone();
                        state.on.fill(false);
                        state.charging.fill(false);
                        Sweep::new(system, state, &[], &[]).ok()
                    });
                    sweep.as_ref()?.solve(&[(a, b, Amps(1.0))]).ok()
                };
                look(
                    number,
                    &Again {
                        state: &state,
                        solution: &solution,
                        unknown: unknown.as_ref(),
                        unit: &unit,
                    },
                );
                continue;
            }
            let mut positions = self.gears.base.clone();
            for &gear in &self.banks {
                positions[gear.index()] = system.gears[gear.index()].normal;
            }
            for &(gear, position) in case.banks.iter().chain(&case.varied) {
                positions[gear.index()] = position;
            }
            let held = case.varied.map(|(gear, _)| gear);
            self.gears.settle(system, &mut positions, held);
            let loops: Vec<GearId> = (0..system.gears.len())
                .map(GearId::at)
                .filter(|gear| {
                    self.gears.roles[gear.index()] == Role::Loop
                        && positions[gear.index()] != self.gears.base[gear.index()]
                })
                .collect();
            let mut own;
            let sweep = if loops.is_empty() {
                match &mut plain {
                    Some(sweep) => sweep,
                    None => plain.insert(self.sweep(&[])?),
                }
            } else {
                own = self.sweep(&loops)?;
                &mut own
            };
            self.set(sweep, &positions, case.kind);
            let (solution, _) = self.designs.solve(system, sweep, case.kind)?;
            let unknown = self.unknown(sweep, &solution)?;
            let state = sweep.state().clone();
            sweep.state().on.fill(false);
            sweep.state().charging.fill(false);
            let bare = &*sweep;
            let unit = |a: NodeId, b: NodeId| bare.solve(&[(a, b, Amps(1.0))]).ok();
            look(
                number,
                &Again {
                    state: &state,
                    solution: &solution,
                    unknown: unknown.as_ref(),
                    unit: &unit,
                },
            );
        }
        Ok(())
    }

    /// Where a load's current is led past the feed of a block with a design current, while everything is on.
    pub(in crate::analysis) fn relief(&self, load: LoadId) -> Option<(NodeId, NodeId)> {
        let (joint, feed, _) = self.designs.relief(load, Amps(1.0))?;
        Some((joint, feed))
    }

    fn scenario(
        &self,
        scenario: ScenarioId,
        look: &mut impl FnMut(&Shown<'_>),
    ) -> Result<(), SolveError> {
        let system = self.system;
        let full = State::scenario(system, scenario);
        let mut state = full.clone();
        let cranks = without_cranking(system, &mut state);
        for (kind, state) in [
            (CaseKind::Scenario(scenario), &state),
            (CaseKind::ScenarioCranking(scenario), &full),
        ] {
            if !cranks && matches!(kind, CaseKind::ScenarioCranking(_)) {
                continue;
            }
            let (solution, unknown) = self.declared(state)?;
            let positions = &system.scenarios[scenario.index()].positions;
            look(&Shown {
                case: &Case {
                    kind,
                    banks: Vec::new(),
                    varied: None,
                    exceptional: is_exceptional(system, positions),
                    turned_off: false,
                },
                solution: &solution,
                undesigned: None,
                unknown: unknown.as_ref(),
            });
        }
        Ok(())
    }

    /// Solves a declared state, and the test currents of what runs in it with an unknown current.
    fn declared(&self, state: &State) -> Result<(Solution, Option<Solution>), SolveError> {
        let solution = solve::solve(self.system, state, Options::RULE)?;
        let unknown = if has_unknown(self.system, &solution) {
            let mut sweep = Sweep::new(self.system, state.clone(), &[], &[])?;
            self.unknown(&mut sweep, &solution)?
        } else {
            None
        };
        Ok((solution, unknown))
    }

    /// A sweep in which the battery switches and some parts on loops may move, and gates count as closed.
    fn sweep(&self, loops: &[GearId]) -> Result<Sweep<'s>, SolveError> {
        let mut state = State::normal(self.system);
        state.positions.clone_from(&self.gears.base);
        let moving: Vec<GearId> = self.banks.iter().chain(loops).copied().collect();
        let gates: Vec<GearId> = (0..self.system.gears.len())
            .map(GearId::at)
            .filter(|gear| self.gears.roles[gear.index()] == Role::Gate)
            .collect();
        Sweep::new(self.system, state, &moving, &gates)
    }

    /// One combination of battery switches: everything on and its variations, charging, cranking.
    fn combination(
        &self,
        sweep: &mut Sweep<'s>,
        first: bool,
        group: &[GearId],
        combination: &[u16],
        look: &mut impl FnMut(&Shown<'_>),
    ) -> Result<(), SolveError> {
        let system = self.system;
        let mut base = self.gears.base.clone();
        let mut banks = Vec::new();
        for (&gear, &position) in self.banks.iter().zip(combination) {
            base[gear.index()] = position;
            if position != system.gears[gear.index()].normal {
                banks.push((gear, position));
            }
        }
        if !self.gears.settle(system, &mut base, None) {
            return Ok(());
        }
        let set: Vec<(GearId, u16)> = self
            .banks
            .iter()
            .copied()
            .zip(combination.iter().copied())
            .collect();
        let turned_off = banks
            .iter()
            .any(|&(gear, position)| system.gears[gear.index()].off == Some(position));
        let case = |kind, varied: Option<(GearId, u16)>| {
            let exceptional = is_exceptional(system, &set)
                || varied.is_some_and(|varied| is_exceptional(system, &[varied]));
            Case {
                kind,
                banks: banks.clone(),
                varied,
                exceptional,
                turned_off,
            }
        };
        if first {
            self.show(sweep, &base, &case(CaseKind::EverythingOn, None), look)?;
        }
        let with_others = self.coverage == Coverage::Complete || banks.is_empty();
        if !with_others {
            return Ok(());
        }
        for &(gear, position) in self.gears.varied.iter().take(self.variations) {
            let here = match self.gears.roles[gear.index()] {
                Role::Gate => first,
                _ => group.contains(&gear),
            };
            if !here || base[gear.index()] == position {
                continue;
            }
            let mut positions = base.clone();
            positions[gear.index()] = position;
            let lawful = self.gears.settle(system, &mut positions, Some(gear));
            let movable = (0..positions.len()).all(|index| {
                positions[index] == base[index]
                    || self.gears.roles[index] == Role::Gate
                    || group.contains(&GearId::at(index))
            });
            if lawful && movable {
                let case = case(CaseKind::EverythingOn, Some((gear, position)));
                self.show(sweep, &positions, &case, look)?;
            }
        }
        if !first {
            return Ok(());
        }
        let chargers = charging(system);
        let together = (chargers.len() > 1).then_some(None);
        for charger in chargers.into_iter().map(Some).chain(together) {
            self.show(sweep, &base, &case(CaseKind::Charging(charger), None), look)?;
        }
        for load in cranking(system) {
            self.show(sweep, &base, &case(CaseKind::Cranking(load), None), look)?;
        }
        Ok(())
    }

    fn show(
        &self,
        sweep: &mut Sweep<'s>,
        positions: &[u16],
        case: &Case,
        look: &mut impl FnMut(&Shown<'_>),
    ) -> Result<(), SolveError> {
        self.set(sweep, positions, case.kind);
        let (solution, undesigned) = self.designs.solve(self.system, sweep, case.kind)?;
        // With its batteries off a converter cannot carry the boat: its voltage falls and the loads go out.
        if case.turned_off && overloads_converter(self.system, &solution) {
            return Ok(());
        }
        let unknown = self.unknown(sweep, &solution)?;
        look(&Shown {
            case,
            solution: &solution,
            undesigned: undesigned.as_ref(),
            unknown: unknown.as_ref(),
        });
        Ok(())
    }

    /// Sets positions, loads and charging sources for a case.
    fn set(&self, sweep: &mut Sweep<'s>, positions: &[u16], kind: CaseKind) {
        let system = self.system;
        let state = sweep.state();
        state.positions.copy_from_slice(positions);
        state.charging.fill(false);
        for (index, load) in system.loads.iter().enumerate() {
            let wanted = match kind {
                CaseKind::EverythingOn => !is_cranking(system, LoadId::at(index)),
                CaseKind::Cranking(cranking) => cranking.index() == index,
                _ => false,
            };
            let link = &system.links[load.link.index()];
            state.on[index] = wanted
                && self
                    .gears
                    .open_to(system, positions, system.node_of(link.a))
                && self
                    .gears
                    .open_to(system, positions, system.node_of(link.b));
        }
        if let CaseKind::Charging(charger) = kind {
            for (index, source) in system.sources.iter().enumerate() {
                let asked = charger.is_none_or(|charger| charger.index() == index);
                state.charging[index] = asked && source.kind != SourceKind::Battery;
            }
        }
    }

    /// Test currents of everything that runs with a current that is not given.
    ///
    /// Each gets its own size, so that two of them cannot cancel on a link by chance.
    fn unknown(
        &self,
        sweep: &mut Sweep<'s>,
        solution: &Solution,
    ) -> Result<Option<Solution>, SolveError> {
        let system = self.system;
        if !has_unknown(system, solution) {
            return Ok(None);
        }
        let ends = |link: crate::system::LinkId| {
            let link = &system.links[link.index()];
            (system.node_of(link.a), system.node_of(link.b))
        };
        let mut tests: Vec<(NodeId, NodeId, Amps)> = Vec::new();
        let size = |number: usize| Amps(1.0 + (number as f64 * 0.618_034).fract() / 8.0);
        for (index, load) in system.loads.iter().enumerate() {
            if solution.loads[index] == Running::NoDraw {
                let (a, b) = ends(load.link);
                let amps = size(tests.len());
                tests.push((a, b, amps));
                tests.extend(self.designs.relief(LoadId::at(index), amps));
            }
        }
        for &source in &solution.idle {
            let record = &system.sources[source.index()];
            let (a, b) = ends(record.link);
            if record.current.is_none() && solution.joined(a, b) {
                tests.push((b, a, size(tests.len())));
            }
        }
        if tests.is_empty() {
            return Ok(None);
        }
        let state = sweep.state();
        let before = state.clone();
        state.on.fill(false);
        state.charging.fill(false);
        let tested = sweep.solve(&tests);
        *sweep.state() = before;
        tested.map(Some)
    }
}

/// Whether a converter delivers more than it can.
fn overloads_converter(system: &System, solution: &Solution) -> bool {
    system.sources.iter().any(|source| {
        source.kind == SourceKind::Converter
            && source
                .current
                .is_some_and(|most| solution.current(source.link).0.abs() > most.value.0)
    })
}

/// Whether something runs with a current that is not given.
fn has_unknown(system: &System, solution: &Solution) -> bool {
    solution.loads.contains(&Running::NoDraw)
        || solution
            .idle
            .iter()
            .any(|source| system.sources[source.index()].current.is_none())
}

/// Switches cranking loads off; tells whether there were any.
fn without_cranking(system: &System, state: &mut State) -> bool {
    let mut any = false;
    for (index, on) in state.on.iter_mut().enumerate() {
        if *on && is_cranking(system, LoadId::at(index)) {
            *on = false;
            any = true;
        }
    }
    any
}

/// Whether a load only cranks: seconds at a time, judged apart.
pub(in crate::analysis) fn is_cranking(system: &System, load: LoadId) -> bool {
    let load = &system.loads[load.index()];
    load.duty == Duty::Surge || load.kind == LoadKind::Starter
}

fn cranking(system: &System) -> Vec<LoadId> {
    (0..system.loads.len())
        .map(LoadId::at)
        .filter(|&load| is_cranking(system, load))
        .collect()
}

fn charging(system: &System) -> Vec<SourceId> {
    (0..system.sources.len())
        .map(SourceId::at)
        .filter(|source| system.sources[source.index()].kind != SourceKind::Battery)
        .collect()
}

/// Whether a position joins banks on purpose or is for emergencies.
fn is_exceptional(system: &System, positions: &[(GearId, u16)]) -> bool {
    positions.iter().any(|&(gear, position)| {
        system.gears[gear.index()]
            .positions
            .get(usize::from(position))
            .is_some_and(|position| position.joins_banks || position.emergency)
    })
}

fn all_combinations(counts: &[usize]) -> Vec<Vec<u16>> {
    let mut combinations = vec![Vec::new()];
    for &count in counts {
        combinations = combinations
            .into_iter()
            .flat_map(|start: Vec<u16>| {
                (0..count).map(move |position| {
                    let mut next = start.clone();
                    next.push(u16::try_from(position).unwrap_or(u16::MAX));
                    next
                })
            })
            .collect();
    }
    combinations
}

fn one_at_a_time(system: &System, banks: &[GearId]) -> Vec<Vec<u16>> {
    let normal: Vec<u16> = banks
        .iter()
        .map(|gear| system.gears[gear.index()].normal)
        .collect();
    let mut combinations = vec![normal.clone()];
    for (index, gear) in banks.iter().enumerate() {
        for position in 0..system.gears[gear.index()].positions.len() {
            let position = u16::try_from(position).unwrap_or(u16::MAX);
            if position != normal[index] {
                let mut next = normal.clone();
                next[index] = position;
                combinations.push(next);
            }
        }
    }
    combinations
}
