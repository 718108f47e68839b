//! The largest current of every link, with the case that shows it.
//!
//! Declared scenarios decide for what they show. What carries nothing in any of them, and everything where none is
//! declared, is judged with everything on. A part with several positions is varied one at a time, and the increases
//! that its other positions bring are added up, of positions that never stand together the largest: exact where each part
//! has its own circuits, on the safe side elsewhere. Cranking is kept apart, because ampacity and continuous ratings do not bind seconds.
//! Nothing here compares a current with anything.

mod cases;
mod design;
mod gears;
mod parts;

pub(super) use cases::{Again, Cases, Shown, is_cranking};
pub use cases::{Case, CaseKind, Coverage, MAX_COMBINATIONS};
pub(super) use gears::most_closed;
pub(super) use parts::{Flows, Through};
pub use parts::{Part, link_rating, part_rating};

use super::solve::{Solution, SolveError};
use crate::diag::SetTo;
use crate::system::{GearId, LinkId, System};
use crate::units::Amps;
use std::collections::BTreeSet;

/// The largest current of a link in one group of cases.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Peak {
    /// The current, without its direction; zero when nothing flows.
    pub amps: Amps,
    /// Index of the case among [`Currents::cases`]; none when nothing flows.
    pub case: Option<usize>,
    /// Parts whose other positions add to the case, each with the position that adds most.
    pub raised_by: Vec<(GearId, u16)>,
    /// Some part of it comes from a load or source whose current is not given: it is more than this.
    pub unknown: bool,
    /// A block's design current takes the place of the sum.
    pub by_design: bool,
}

/// The largest currents of one link.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LinkCurrents {
    /// In the declared scenarios, cranking left out.
    pub scenario: Peak,
    /// With everything on, and while charging.
    pub everything: Peak,
    /// While cranking.
    pub cranking: Peak,
}

impl LinkCurrents {
    /// The load current that judges: of the scenarios where they show any, else with everything on.
    #[must_use]
    pub fn load(&self) -> &Peak {
        if self.scenario.case.is_some() || self.scenario.unknown {
            &self.scenario
        } else {
            &self.everything
        }
    }
}

/// The largest currents of every link.
#[derive(Clone, Debug)]
pub struct Currents {
    links: Vec<LinkCurrents>,
    /// Currents through bars, block feeds and terminals of switches.
    pub parts: Vec<(Part, LinkCurrents)>,
    /// The cases that a peak refers to, and only those.
    pub cases: Vec<Case>,
    /// How completely the cases were tried.
    pub coverage: Coverage,
    /// Why currents are missing, where the network could not be solved.
    pub failed: Option<SolveError>,
}

/// A current that is only rounding, in amperes.
const NOTHING: f64 = 1e-6;

impl Currents {
    /// The peaks of a link.
    #[must_use]
    pub fn of(&self, link: LinkId) -> &LinkCurrents {
        &self.links[link.index()]
    }

    /// The load current that judges a link: of the scenarios where they show any, else with everything on.
    #[must_use]
    pub fn load(&self, link: LinkId) -> &Peak {
        self.of(link).load()
    }

    /// A few words for the case of a peak: `in scenario night`, `with everything on`.
    #[must_use]
    pub fn words(&self, system: &System, peak: &Peak) -> String {
        peak.case
            .and_then(|index| self.cases.get(index))
            .map_or_else(|| "in no case".to_owned(), |case| words(system, case))
    }

    /// Switches off their normal position in the case of a peak, for a finding.
    #[must_use]
    pub fn positions(&self, system: &System, peak: &Peak) -> Vec<SetTo> {
        let Some(case) = peak.case.and_then(|index| self.cases.get(index)) else {
            return Vec::new();
        };
        let mut set = positions(system, case);
        for &(gear, position) in &peak.raised_by {
            set.push(set_to(system, gear, position));
        }
        set
    }

    /// Gathers the peaks from all cases; `watch` sees every case as well.
    pub(super) fn new(
        system: &System,
        cases: &Cases<'_>,
        mut watch: impl FnMut(&Shown<'_>),
    ) -> Self {
        let mut gather = Gather::new(system);
        let failed = cases
            .each(|shown| {
                gather.take(shown);
                watch(shown);
            })
            .err();
        let (links, parts, list) = gather.finish();
        Self {
            links,
            parts,
            cases: list,
            coverage: cases.coverage,
            failed,
        }
    }
}

/// A few words for a case.
pub(super) fn words(system: &System, case: &Case) -> String {
    match case.kind {
        CaseKind::Scenario(scenario) | CaseKind::ScenarioCranking(scenario) => {
            format!("in scenario {}", system.scenarios[scenario.index()].name)
        }
        CaseKind::EverythingOn => "with everything on".to_owned(),
        CaseKind::Charging(Some(source)) => {
            format!("with {} charging", system.sources[source.index()].name)
        }
        CaseKind::Charging(None) => "with everything charging".to_owned(),
        CaseKind::Cranking(load) => format!("while {} runs", system.loads[load.index()].name),
    }
}

/// The battery switches off their normal position in a case, and the part that is varied.
pub(super) fn positions(system: &System, case: &Case) -> Vec<SetTo> {
    case.banks
        .iter()
        .chain(&case.varied)
        .map(|&(gear, position)| set_to(system, gear, position))
        .collect()
}

fn set_to(system: &System, gear: GearId, position: u16) -> SetTo {
    let gear = &system.gears[gear.index()];
    SetTo {
        switch: gear.name.clone(),
        position: gear
            .positions
            .get(usize::from(position))
            .map_or_else(String::new, |position| position.name.clone()),
    }
}

/// Pairs of positions that the interlocks never let stand together.
fn exclusive(system: &System) -> BTreeSet<[(GearId, u16); 2]> {
    system
        .interlocks
        .iter()
        .filter_map(|interlock| {
            let mut pair: [(GearId, u16); 2] = interlock.never.as_slice().try_into().ok()?;
            pair.sort_unstable();
            Some(pair)
        })
        .collect()
}

/// What has been seen so far.
struct Gather {
    through: Vec<Through>,
    /// Number of links; further entries are the parts of `through`.
    link_count: usize,
    peaks: Vec<LinkCurrents>,
    cases: Vec<Case>,
    /// Everything on in the combination that is being looked at.
    base: Option<Base>,
    /// Pairs of positions that never stand together.
    exclusive: BTreeSet<[(GearId, u16); 2]>,
}

/// One combination of battery switches with everything on, and what its variations add.
struct Base {
    case: usize,
    banks: Vec<(GearId, u16)>,
    amps: Vec<f64>,
    /// By entry: what the part being varied adds so far.
    now: Vec<Option<Raise>>,
    raised: Vec<Vec<Raise>>,
}

/// What the other positions of one part add to a current.
#[derive(Clone, Copy)]
struct Raise {
    gear: GearId,
    /// The position that adds most.
    position: u16,
    most: f64,
    /// Several of its positions add something.
    several: bool,
}

/// The most that some increases add up to, and those that do: of positions that exclude each other only one counts.
fn together(
    raises: &[Raise],
    exclusive: &BTreeSet<[(GearId, u16); 2]>,
) -> (f64, Vec<(GearId, u16)>) {
    let excludes = |one: &Raise, other: &Raise| {
        let mut pair = [(one.gear, one.position), (other.gear, other.position)];
        pair.sort_unstable();
        !one.several && !other.several && exclusive.contains(&pair)
    };
    // Groups in which each excludes every other; one of each group at most.
    let mut groups: Vec<Vec<Raise>> = Vec::new();
    for raise in raises {
        let group = groups
            .iter_mut()
            .find(|group| group.iter().all(|member| excludes(member, raise)));
        match group {
            Some(group) => group.push(*raise),
            None => groups.push(vec![*raise]),
        }
    }
    let mut total = 0.0;
    let mut counted = Vec::new();
    for group in groups {
        if let Some(most) = group.iter().max_by(|a, b| a.most.total_cmp(&b.most)) {
            total += most.most;
            counted.push((most.gear, most.position));
        }
    }
    (total, counted)
}

impl Gather {
    fn new(system: &System) -> Self {
        let through = Through::all(system);
        let link_count = system.links.len();
        Self {
            peaks: vec![LinkCurrents::default(); link_count + through.len()],
            through,
            link_count,
            cases: Vec::new(),
            base: None,
            exclusive: exclusive(system),
        }
    }

    /// Currents of all links and parts in a solution, without direction.
    fn amps(&self, solution: &Solution) -> Vec<f64> {
        (0..self.link_count)
            .map(|index| solution.current(LinkId::at(index)).0.abs())
            .chain(self.through.iter().map(|part| part.amps_in(solution)))
            .collect()
    }

    fn take(&mut self, shown: &Shown<'_>) {
        self.note_unknown(shown);
        let everything = shown.case.kind == CaseKind::EverythingOn;
        let same_banks = self
            .base
            .as_ref()
            .is_some_and(|base| base.banks == shown.case.banks);
        if !(everything && shown.case.varied.is_some() && same_banks) {
            self.close_base();
        }
        match (everything, shown.case.varied) {
            (true, Some((gear, position))) if same_banks => self.raise(shown, gear, position),
            (true, None) => self.open_base(shown),
            _ => {
                self.compare(shown);
            }
        }
    }

    fn finish(mut self) -> (Vec<LinkCurrents>, Vec<(Part, LinkCurrents)>, Vec<Case>) {
        self.close_base();
        self.keep_used_cases();
        let parts = self.peaks.split_off(self.link_count);
        let parts = self.through.iter().map(|through| through.part).zip(parts);
        (self.peaks, parts.collect(), self.cases)
    }

    fn peak(peaks: &mut [LinkCurrents], index: usize, kind: CaseKind) -> &mut Peak {
        let entry = &mut peaks[index];
        match kind {
            CaseKind::Scenario(_) => &mut entry.scenario,
            CaseKind::EverythingOn | CaseKind::Charging(_) => &mut entry.everything,
            CaseKind::ScenarioCranking(_) | CaseKind::Cranking(_) => &mut entry.cranking,
        }
    }

    fn note_unknown(&mut self, shown: &Shown<'_>) {
        let Some(unknown) = shown.unknown else {
            return;
        };
        for (index, amps) in self.amps(unknown).into_iter().enumerate() {
            if amps > NOTHING {
                Self::peak(&mut self.peaks, index, shown.case.kind).unknown = true;
            }
        }
    }

    /// Takes the currents of a case as they are, and gives them back.
    fn compare(&mut self, shown: &Shown<'_>) -> Vec<f64> {
        let case = self.cases.len();
        self.cases.push(shown.case.clone());
        let now = self.amps(shown.solution);
        let plain = shown.undesigned.map(|plain| self.amps(plain));
        for (index, &amps) in now.iter().enumerate() {
            let peak = Self::peak(&mut self.peaks, index, shown.case.kind);
            if amps > peak.amps.0 + NOTHING {
                peak.amps = Amps(amps);
                peak.case = Some(case);
                peak.raised_by.clear();
                peak.by_design = plain
                    .as_ref()
                    .is_some_and(|plain| (plain[index] - amps).abs() > NOTHING);
            }
        }
        now
    }

    fn open_base(&mut self, shown: &Shown<'_>) {
        let amps = self.compare(shown);
        let entries = amps.len();
        self.base = Some(Base {
            case: self.cases.len() - 1,
            banks: shown.case.banks.clone(),
            amps,
            now: vec![None; entries],
            raised: vec![Vec::new(); entries],
        });
    }

    /// Notes by how much a part's other position raises each current above the base.
    fn raise(&mut self, shown: &Shown<'_>, gear: GearId, position: u16) {
        let now = self.amps(shown.solution);
        let Some(base) = &mut self.base else {
            return;
        };
        for (index, amps) in now.into_iter().enumerate() {
            let increase = amps - base.amps[index];
            if increase <= NOTHING {
                continue;
            }
            let entry = &mut base.now[index];
            match entry {
                Some(raise) if raise.gear == gear => {
                    raise.several = true;
                    if increase > raise.most {
                        (raise.most, raise.position) = (increase, position);
                    }
                }
                _ => {
                    base.raised[index].extend(entry.take());
                    *entry = Some(Raise {
                        gear,
                        position,
                        most: increase,
                        several: false,
                    });
                }
            }
        }
    }

    /// Adds up the increases of a combination and compares the sums.
    fn close_base(&mut self) {
        let Some(mut base) = self.base.take() else {
            return;
        };
        for index in 0..base.amps.len() {
            base.raised[index].extend(base.now[index].take());
            if base.raised[index].is_empty() {
                continue;
            }
            let (more, raised_by) = together(&base.raised[index], &self.exclusive);
            let total = base.amps[index] + more;
            let peak = &mut self.peaks[index].everything;
            if total > peak.amps.0 + NOTHING {
                peak.amps = Amps(total);
                peak.case = Some(base.case);
                peak.raised_by = raised_by;
            }
        }
    }

    /// Drops the cases that no peak refers to.
    fn keep_used_cases(&mut self) {
        let mut used = vec![false; self.cases.len()];
        for entry in &self.peaks {
            for peak in [&entry.scenario, &entry.everything, &entry.cranking] {
                if let Some(case) = peak.case {
                    used[case] = true;
                }
            }
        }
        let mut number = vec![0; self.cases.len()];
        let mut kept = Vec::new();
        for (index, case) in std::mem::take(&mut self.cases).into_iter().enumerate() {
            number[index] = kept.len();
            if used[index] {
                kept.push(case);
            }
        }
        for entry in &mut self.peaks {
            for peak in [
                &mut entry.scenario,
                &mut entry.everything,
                &mut entry.cranking,
            ] {
                peak.case = peak.case.map(|case| number[case]);
            }
        }
        self.cases = kept;
    }
}

#[cfg(test)]
mod tests;
