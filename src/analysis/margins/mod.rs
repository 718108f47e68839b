//! How much more load each feeder, device and bank bears before its first limit breaks, and which limit that is.
//!
//! The reading is that of the rules: handbook resistances, nominal currents, each limit with the case that judges it.
//! That network is linear, so one more ampere changes each current and each drop by a share that does not depend on
//! how much already flows; a limit breaks where value plus share times margin meets it. The shares are solved for
//! every case that judges anything, so they are exact in loops as in trees. Cases that judge nothing today are not
//! tried. More load means that what is counted as running already draws more; the share of a block that states a
//! design current stops at its feed.
//! What is drawn behind one point takes the same from all loads whose own wires join the shared ones at one place, so
//! of such loads only the two that are nearest to their limits are asked.
//! Beside it stand what one bad joint and hotter places make of it. Nothing here says that a margin may be used up.

mod banks;
mod shares;
#[cfg(test)]
mod tests;

pub use banks::{BankLimit, BankMargin};

use super::Facts;
use super::ampacity::Ampacities;
use super::currents::{
    Case, CaseKind, Cases, Flows, LinkCurrents, Part, Through, link_rating, part_rating,
};
use super::poles::Pole;
use super::solve::{Running, Solution};
use super::states::ends;
use super::voltage_drop::{self, load_limit, panel_limit};
use crate::standards::constants;
use crate::system::{
    ComponentId, ComponentKind, ConductorId, DeviceId, LinkId, LinkKind, LoadId, NodeId, System,
};
use crate::units::{Amps, Celsius, Ohms, Volts};
use shares::{Shares, Sight};
use std::collections::BTreeMap;

/// Resistance of the bad joint.
pub const BAD_JOINT: Ohms = super::readings::BAD_JOINT;
/// By how many degrees Celsius places are made hotter, step by step.
pub const HOTTER: [f64; 2] = [10.0, 20.0];
/// Ways followed over all cases before the rest of a huge boat is left out.
const MAX_STEPS: usize = 6_000_000;
/// Margins that differ by less are one, in amperes.
const SAME_AMPS: f64 = 1e-9;
/// A current that is only rounding, in amperes.
const NOTHING: f64 = 1e-9;

/// What a margin is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Subject {
    /// A block or a positive bus with all that hangs on it.
    Feeder(ComponentId),
    /// An overcurrent device with all that it feeds.
    Device(DeviceId),
}

/// A limit that more load would break.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Limit {
    /// What a conductor may carry where it lies.
    Ampacity(ConductorId),
    /// The rating of an overcurrent device.
    Device(DeviceId),
    /// The rating of a bus, a block or a switch.
    Part(Part),
    /// The rating of a connector contact, an isolator's output or a shunt.
    Link(LinkId),
    /// The drop that a load may have.
    Drop(LoadId),
    /// The drop that the main feed of a block may have.
    PanelFeed(ComponentId),
}

impl Limit {
    /// A few words for the kind: `ampacity`, `drop`.
    #[must_use]
    pub fn kind(self) -> &'static str {
        match self {
            Self::Ampacity(_) => "ampacity",
            Self::Device(_) => "device",
            Self::Part(Part::Terminal(_)) => "switch",
            Self::Part(Part::Bar(_)) => "bus",
            Self::Part(Part::Feed(_) | Part::BlockNegative(_)) => "block",
            Self::Link(_) => "contact",
            Self::Drop(_) => "drop",
            Self::PanelFeed(_) => "panel feed",
        }
    }
}

/// How far away a limit is.
#[derive(Clone, Debug, PartialEq)]
pub struct Bound {
    /// How much more load meets it; zero where it is broken already.
    pub more: Amps,
    /// The limit.
    pub limit: Limit,
    /// The case in which it breaks.
    pub case: Case,
}

/// What one bad joint makes of a subject.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BadJoint {
    /// The load that is nearest to its drop limit.
    pub load: LoadId,
    /// The conductor on its way that carries most.
    pub place: ConductorId,
    /// Rule drop of that load in per cent, as wired.
    pub percent: f64,
    /// The same with the joint; at most so much where the way has loops.
    pub with_joint: f64,
    /// How much more load then meets the first limit; at least so much where the way has loops.
    pub more: Amps,
}

/// What hotter places make of a subject.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hotter {
    /// By how much every place is hotter, in degrees Celsius.
    pub by: f64,
    /// How much more load then meets the first limit.
    pub more: Amps,
    /// Solved drop in per cent of the load that is told under [`Margin::solved`].
    pub solved: Option<f64>,
}

/// The margin of one feeder or device.
#[derive(Clone, Debug, PartialEq)]
pub struct Margin {
    /// What it is about.
    pub subject: Subject,
    /// Loads behind it, in file order.
    pub loads: Vec<LoadId>,
    /// Where its circuits part and where they come together again: more load is drawn and returned there.
    pub at: (NodeId, NodeId),
    /// The limit that breaks first; none where no limit is known or nothing behind it ever runs.
    pub first: Option<Bound>,
    /// The first limit of another kind.
    pub next: Option<Bound>,
    /// One bad joint in the load's own way; none where it shares all of it.
    pub joint: Option<BadJoint>,
    /// One bad joint where the way carries most, which is in the feeder where others share it.
    pub shared_joint: Option<BadJoint>,
    /// The load behind it with the largest solved drop against its limit, and that drop in per cent.
    pub solved: Option<(LoadId, f64)>,
    /// Hotter places, one entry for each of [`HOTTER`].
    pub hotter: Vec<Hotter>,
}

/// All margins.
#[derive(Clone, Debug, PartialEq)]
pub struct Margins {
    /// Feeders, then devices, each in file order; those that feed no load are left out.
    pub subjects: Vec<Margin>,
    /// Banks, in file order.
    pub banks: Vec<BankMargin>,
    /// The boat is so large that not everything was followed: some margins are too large.
    pub partial: bool,
}

impl Margins {
    /// Computes them.
    #[must_use]
    pub fn new(facts: &Facts<'_>) -> Self {
        let system = facts.system;
        let mut search = Search::new(facts);
        let cases = Cases::new(system);
        let list = search.cases.clone();
        // A boat that cannot be solved has no facts to begin with, and its findings say so.
        let solved = cases.again(&list, |number, again| {
            search.look(&cases, number, &Sight::new(again));
        });
        let partial = solved.is_err() || search.steps > MAX_STEPS;
        Self {
            subjects: search.finish(),
            banks: banks::banks(facts),
            partial,
        }
    }
}

/// One subject while it is searched.
struct Open {
    subject: Subject,
    loads: Vec<LoadId>,
    /// Where more load would be drawn from and returned to.
    at: (NodeId, NodeId),
    /// Links of further ways to its loads, which a case may show by a rise alone.
    ways: Vec<LinkId>,
    bounds: Vec<Bound>,
    /// Ampacity bounds with hotter places, least for each step.
    hotter: [f64; HOTTER.len()],
    /// Share of the drop limit of the worst load, for the bad joint.
    worst: Option<Worst>,
}

/// The load of a subject that is nearest to its drop limit.
struct Worst {
    load: LoadId,
    /// Drop over limit.
    share: f64,
    total: f64,
    allowed: f64,
    per_amp: f64,
    /// Where its own way carries most, and where its whole way does, each with the current there.
    own: Option<(ConductorId, f64)>,
    whole: Option<(ConductorId, f64)>,
}

struct Search<'f, 's> {
    facts: &'f Facts<'s>,
    cases: Vec<Case>,
    open: Vec<Open>,
    shares: Shares,
    through: Vec<Through>,
    /// By link: the parts that its current counts in, and with which sign.
    parts_of: Vec<Vec<(usize, f64)>>,
    /// Shares of what is drawn at a joint, for loads that a subject does not feed.
    common: Shares,
    /// By node that a load, a bar or a subject lies on: where its own wires join shared ones.
    joints: Vec<NodeId>,
    /// What the case that is looked at judges.
    judged: Judged,
    /// By conductor and step of heat, first the places as they are: what it may carry.
    allowed: Vec<[Option<f64>; HOTTER.len() + 1]>,
    steps: usize,
}

/// Two points of a boat.
type Pair = (NodeId, NodeId);
/// Two points, and those between which current is led past a feed.
type Drawn = (Pair, Option<Pair>);
/// The main feed of a block with the bars between which it is measured.
type Feed = (ComponentId, [Option<Pair>; 2]);
/// The loads of one pair of joints that are nearest to their limits, with what their drops leave.
type Nearest = Vec<(f64, LoadId)>;

/// What one case judges, gathered once for all subjects.
#[derive(Default)]
struct Judged {
    /// By load: what its drop leaves, where the case judges it.
    loads: Vec<Option<Slack>>,
    /// Loads by the joints of their two ways, of each the two that are nearest to their limits.
    drops: Vec<(Pair, Nearest)>,
    /// Main feeds of blocks with the bars between which they are measured, of each what it leaves at least.
    feeds: Vec<(Feed, f64)>,
    /// By part: what flows through it.
    parts: Vec<Flows>,
    /// What was found for two joints.
    known: BTreeMap<Drawn, Vec<(usize, f64, Limit)>>,
}

/// What the drop of a load leaves.
#[derive(Clone, Copy)]
struct Slack {
    total: f64,
    allowed: f64,
    /// The load states a draw, so that its limit can be met.
    draws: bool,
    /// The case is the one that judges it today.
    is_worst: bool,
}

impl<'f, 's> Search<'f, 's> {
    fn new(facts: &'f Facts<'s>) -> Self {
        let system = facts.system;
        let through = Through::all(system);
        let mut parts_of = vec![Vec::new(); system.links.len()];
        for (index, part) in through.iter().enumerate() {
            for &(link, sign) in &part.links {
                parts_of[link.index()].push((index, sign));
            }
        }
        let mut cases: Vec<Case> = Vec::new();
        let drops = (0..system.loads.len()).filter_map(|index| facts.drops.of(LoadId::at(index)));
        for case in facts
            .currents
            .cases
            .iter()
            .chain(drops.map(|drop| &drop.case))
        {
            let judges = matches!(case.kind, CaseKind::Scenario(_) | CaseKind::EverythingOn);
            if judges && !cases.contains(case) {
                cases.push(case.clone());
            }
        }
        let open = subjects(facts);
        let shares = Shares::new(system);
        let mut terminals: Vec<NodeId> = system
            .loads
            .iter()
            .flat_map(|load| <[NodeId; 2]>::from(ends(system, load.link)))
            .collect();
        let bars = (0..system.loads.len())
            .filter_map(|index| facts.drops.of(LoadId::at(index)))
            .flat_map(|drop| drop.bars.iter().flatten());
        // A bar is asked for by others than what lies on it, so it counts like another terminal there.
        terminals.extend(bars.flat_map(|&(from, to)| [from, to]));
        let points: Vec<NodeId> = open
            .iter()
            .flat_map(|open| [open.at.0, open.at.1])
            .collect();
        Self {
            facts,
            cases,
            open,
            joints: shares.joints(system, &terminals, &points),
            shares,
            common: Shares::new(system),
            judged: Judged::default(),
            through,
            parts_of,
            allowed: allowed(facts),
            steps: 0,
        }
    }

    /// Looks at all subjects in one solved case.
    fn look(&mut self, cases: &Cases<'_>, number: usize, sight: &Sight<'_>) {
        let system = self.facts.system;
        let case = self.cases[number].clone();
        self.shares.forget();
        self.common.forget();
        self.judge(&case, sight.solution);
        for index in 0..self.open.len() {
            if self.steps + self.shares.looked_at() + self.common.looked_at() > MAX_STEPS {
                self.steps = MAX_STEPS + 1;
                return;
            }
            let open = &self.open[index];
            let fed = |load: &&LoadId| sight.solution.loads[load.index()] == Running::Fed;
            let Some(&first) = open.loads.iter().find(fed) else {
                continue;
            };
            let relief = (case.kind == CaseKind::EverythingOn)
                .then(|| cases.relief(first))
                .flatten();
            let at = open.at;
            if !self.shares.take(system, sight, at, relief) {
                continue;
            }
            self.steps += self.shares.touched().len() * 4 + self.open[index].loads.len();
            self.currents(index, &case, sight.solution);
            self.own_drops(index, &case, sight.solution);
            self.other_drops(index, &case, sight, relief);
        }
    }

    /// Gathers what a case judges.
    fn judge(&mut self, case: &Case, solution: &Solution) {
        let system = self.facts.system;
        let panel = panel_limit(system).percent / 100.0;
        let mut drops: BTreeMap<Pair, Nearest> = BTreeMap::new();
        let mut feeds: BTreeMap<Feed, f64> = BTreeMap::new();
        let mut loads = vec![None; system.loads.len()];
        for (number, load) in system.loads.iter().enumerate() {
            let id = LoadId::at(number);
            let Some(drop) = self.facts.drops.of(id) else {
                continue;
            };
            let running = solution.loads[number] == Running::Fed;
            if !running || !voltage_drop::rivals(system, &drop.case, case, id) {
                continue;
            }
            let is_worst = drop.case == *case;
            // Where everything is on, only the case that judges today counts; of scenarios each may come to judge.
            if case.kind == CaseKind::EverythingOn && !is_worst {
                continue;
            }
            let Some(across) = solution.across(system, load.link) else {
                continue;
            };
            let slack = Slack {
                total: -across.0,
                allowed: load.nominal.value.0 * load_limit(system, load).percent / 100.0,
                draws: load.draw.is_some(),
                is_worst,
            };
            loads[number] = Some(slack);
            if slack.draws {
                let (plus, minus) = ends(system, load.link);
                let joints = (self.joints[plus.index()], self.joints[minus.index()]);
                let nearest = drops.entry(joints).or_default();
                let left = slack.allowed - slack.total;
                let place = nearest.partition_point(|&(known, _)| known <= left);
                nearest.insert(place, (left, id));
                nearest.truncate(2);
            }
            if let Some(block) = drop.block.filter(|_| drop.missing.is_empty() && is_worst) {
                let left = load.nominal.value.0 * panel - drop.before_bars.0;
                let least = feeds.entry((block, drop.bars)).or_insert(left);
                *least = least.min(left);
            }
        }
        self.judged = Judged {
            loads,
            drops: drops.into_iter().collect(),
            feeds: feeds.into_iter().collect(),
            parts: self
                .through
                .iter()
                .map(|through| through.flows(solution))
                .collect(),
            known: BTreeMap::new(),
        };
    }

    /// Conductors, devices, parts and contacts.
    fn currents(&mut self, index: usize, case: &Case, solution: &Solution) {
        let system = self.facts.system;
        let shares = &self.shares;
        let currents = &self.facts.currents;
        let open = &mut self.open[index];
        let in_scenario = matches!(case.kind, CaseKind::Scenario(_));
        // What judges a link: scenarios where they show any, else everything on.
        let judges = |peaks: &LinkCurrents| {
            let shown = peaks.scenario.case.is_some() || peaks.scenario.unknown;
            shown == in_scenario
        };
        // By how much other positions raise this very case.
        let raise = |peaks: &LinkCurrents, amps: f64| {
            let peak = peaks.load();
            let here = peak.case.is_some_and(|at| currents.cases[at] == *case);
            if here && !peak.raised_by.is_empty() {
                (peak.amps.0 - amps).max(0.0)
            } else {
                0.0
            }
        };
        let mut seen: Vec<(usize, LinkId, f64)> = Vec::new();
        for &link in shares.touched() {
            let parts = self.parts_of[link.index()].iter();
            seen.extend(parts.map(|&(part, sign)| (part, link, sign)));
            let peaks = currents.of(link);
            if !judges(peaks) {
                continue;
            }
            let now = solution.current(link).0;
            let share = shares.of(link);
            let raise = raise(peaks, now.abs());
            if share.abs() <= NOTHING {
                continue;
            }
            let room = |limit: f64| {
                if now.abs() + raise > limit {
                    0.0
                } else {
                    (limit - raise - now * share.signum()) / share.abs()
                }
            };
            let mut add = |limit: Limit, most: f64| {
                bound(&mut open.bounds, room(most), limit, case);
            };
            match system.links[link.index()].kind {
                LinkKind::Conductor(id) => {
                    let steps = &self.allowed[id.index()];
                    if let Some(most) = steps[0] {
                        add(Limit::Ampacity(id), most);
                    }
                    for (least, most) in open.hotter.iter_mut().zip(&steps[1..]) {
                        if let Some(most) = most {
                            *least = least.min(room(*most).max(0.0));
                        }
                    }
                }
                LinkKind::Device(id) => {
                    if let Some(rated) = system.devices[id.index()].rating {
                        add(Limit::Device(id), rated.value.0);
                    }
                }
                _ => {
                    if let Some(Some(rated)) = link_rating(system, link) {
                        add(Limit::Link(link), rated.value.0);
                    }
                }
            }
        }
        seen.sort_by_key(|&(part, link, _)| (part, link));
        for touched in seen.chunk_by(|a, b| a.0 == b.0) {
            let at = touched[0].0;
            let through = &self.through[at];
            let (_, peaks) = &currents.parts[at];
            let Some(rated) = part_rating(system, through.part).filter(|_| judges(peaks)) else {
                continue;
            };
            let flows = PartFlows {
                through,
                now: self.judged.parts[at],
                touched: touched
                    .iter()
                    .map(|&(_, link, sign)| {
                        (solution.current(link).0 * sign, shares.of(link) * sign)
                    })
                    .collect(),
            };
            let most = rated.value.0 - raise(peaks, flows.at(0.0));
            if let Some(room) = flows.room(most) {
                bound(&mut open.bounds, room, Limit::Part(through.part), case);
            }
        }
        // A second way to a load is shown by a rise over the case with everything on.
        if case.kind != CaseKind::EverythingOn {
            return;
        }
        for &link in &open.ways {
            let peaks = currents.of(link);
            let peak = peaks.load();
            if peak.raised_by.is_empty() || shares.of(link).abs() > NOTHING || !judges(peaks) {
                continue;
            }
            let (limit, most) = match system.links[link.index()].kind {
                LinkKind::Conductor(id) => (Limit::Ampacity(id), self.allowed[id.index()][0]),
                LinkKind::Device(id) => {
                    let rated = system.devices[id.index()].rating;
                    (Limit::Device(id), rated.map(|rated| rated.value.0))
                }
                _ => {
                    let rated = link_rating(system, link).flatten();
                    (Limit::Link(link), rated.map(|rated| rated.value.0))
                }
            };
            if let Some(most) = most {
                bound(&mut open.bounds, most - peak.amps.0, limit, case);
            }
        }
    }

    /// Drops of the loads that the subject feeds, each with its own wires.
    fn own_drops(&mut self, index: usize, case: &Case, solution: &Solution) {
        let system = self.facts.system;
        let open = &mut self.open[index];
        for &id in &open.loads {
            let Some(slack) = self.judged.loads[id.index()] else {
                continue;
            };
            let (plus, minus) = ends(system, system.loads[id.index()].link);
            let per_amp = self.shares.between(system, minus, plus);
            if slack.draws && per_amp > NOTHING {
                let room = (slack.allowed - slack.total) / per_amp;
                bound(&mut open.bounds, room, Limit::Drop(id), case);
            }
            let Some(drop) = self.facts.drops.of(id).filter(|_| slack.is_worst) else {
                continue;
            };
            let share = slack.total / slack.allowed;
            if open.worst.as_ref().is_none_or(|worst| share > worst.share) {
                let own = drop.own_positive.iter().chain(&drop.own_negative);
                open.worst = Some(Worst {
                    load: id,
                    share,
                    total: slack.total,
                    allowed: slack.allowed,
                    per_amp,
                    own: most_loaded(system, own, solution),
                    whole: most_loaded(system, drop.path.iter(), solution),
                });
            }
        }
    }

    /// Drops of all loads that share anything with the subject, and of the main feeds of blocks.
    ///
    /// Asked at the joints of the subject, so once for all subjects that join the shared wires there. A load of its own
    /// comes out no nearer than with its own wires, which [`Self::own_drops`] counts.
    fn other_drops(
        &mut self,
        index: usize,
        case: &Case,
        sight: &Sight<'_>,
        relief: Option<(NodeId, NodeId)>,
    ) {
        let system = self.facts.system;
        let (from, to) = self.open[index].at;
        let joints = (self.joints[from.index()], self.joints[to.index()]);
        let key = (joints, relief);
        if !self.judged.known.contains_key(&key) {
            let found = if self.common.take(system, sight, joints, relief) {
                self.nearest()
            } else {
                Vec::new()
            };
            self.judged.known.insert(key, found);
        }
        let open = &mut self.open[index];
        for &(_, room, limit) in &self.judged.known[&key] {
            bound(&mut open.bounds, room, limit, case);
        }
    }

    /// The two loads and the main feed that what is drawn at two joints brings to their limits first, in file order.
    fn nearest(&mut self) -> Vec<(usize, f64, Limit)> {
        let system = self.facts.system;
        let mut drops: Vec<(f64, LoadId)> = Vec::new();
        self.steps += self.judged.drops.len() + self.judged.feeds.len();
        for ((plus, minus), nearest) in &self.judged.drops {
            let per_amp = self.common.between(system, *minus, *plus);
            if per_amp > NOTHING {
                drops.extend(nearest.iter().map(|&(left, load)| (left / per_amp, load)));
            }
        }
        drops.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let mut found: Vec<(usize, f64, Limit)> = drops
            .into_iter()
            .take(2)
            .map(|(room, load)| (load.index(), room, Limit::Drop(load)))
            .collect();
        let feeds = self
            .judged
            .feeds
            .iter()
            .filter_map(|((block, bars), left)| {
                let per_amp: f64 = bars
                    .iter()
                    .flatten()
                    .map(|&(from, to)| self.common.between(system, from, to))
                    .sum();
                (per_amp > NOTHING).then(|| (left / per_amp, *block))
            });
        if let Some((room, block)) = feeds.min_by(|a, b| a.0.total_cmp(&b.0)) {
            found.push((usize::MAX, room, Limit::PanelFeed(block)));
        }
        found.sort_by_key(|&(place, ..)| place);
        found
    }

    fn finish(self) -> Vec<Margin> {
        let system = self.facts.system;
        let temperature = system.boat.policy.conductor_temperature;
        let percent = |solved: &voltage_drop::SolvedDrop, load: LoadId| {
            solved.lost() / system.loads[load.index()].nominal.value * 100.0
        };
        let hotter: Vec<Vec<Option<voltage_drop::SolvedDrop>>> = HOTTER
            .iter()
            .map(|by| {
                let hot = Celsius(temperature.0 + by);
                self.facts.drops.solved_at(system, hot)
            })
            .collect();
        self.open
            .into_iter()
            .map(|open| {
                let first = least(&open.bounds, |_| true);
                let next = first.as_ref().and_then(|first| {
                    least(&open.bounds, |bound| {
                        bound.limit.kind() != first.limit.kind()
                    })
                });
                // Neither a bad joint nor heat moves the limits that they have nothing to do with.
                let without = |left_out: &dyn Fn(Limit) -> bool| {
                    least(&open.bounds, |bound| !left_out(bound.limit))
                        .map_or(f64::INFINITY, |bound| bound.more.0)
                };
                let cold = without(&|limit| matches!(limit, Limit::Ampacity(_)));
                let solved = open
                    .loads
                    .iter()
                    .filter_map(|&load| {
                        let solved = self.facts.drops.solved(load)?;
                        let limit = load_limit(system, &system.loads[load.index()]).percent;
                        let percent = percent(&solved, load);
                        Some((load, percent, percent / limit))
                    })
                    .max_by(|a, b| a.2.total_cmp(&b.2).then(b.0.cmp(&a.0)))
                    .map(|(load, percent, _)| (load, percent));
                let joint_at = |worst: &Worst, (place, amps): (ConductorId, f64)| {
                    let lost = worst.total + BAD_JOINT.0 * amps;
                    let own = (worst.allowed - lost) / (worst.per_amp + BAD_JOINT.0);
                    let nominal = system.loads[worst.load.index()].nominal.value;
                    let others = without(&|limit| limit == Limit::Drop(worst.load));
                    BadJoint {
                        load: worst.load,
                        place,
                        percent: Volts(worst.total) / nominal * 100.0,
                        with_joint: Volts(lost) / nominal * 100.0,
                        more: Amps(own.min(others).max(0.0)),
                    }
                };
                let worst = open.worst.as_ref();
                let joint = worst.and_then(|worst| Some(joint_at(worst, worst.own?)));
                let shared_joint = worst.and_then(|worst| Some(joint_at(worst, worst.whole?)));
                let steps = HOTTER.iter().enumerate().map(|(step, &by)| Hotter {
                    by,
                    more: Amps(cold.min(open.hotter[step])),
                    solved: solved.and_then(|(load, _)| {
                        Some(percent(hotter[step][load.index()].as_ref()?, load))
                    }),
                });
                Margin {
                    subject: open.subject,
                    at: open.at,
                    hotter: if first.is_some() {
                        steps.collect()
                    } else {
                        Vec::new()
                    },
                    loads: open.loads,
                    first,
                    next,
                    joint,
                    shared_joint,
                    solved,
                }
            })
            .collect()
    }
}

/// Adds a bound; of one limit only the nearest is kept when it is asked for.
fn bound(bounds: &mut Vec<Bound>, room: f64, limit: Limit, case: &Case) {
    if room.is_finite() {
        bounds.push(Bound {
            more: Amps(room.max(0.0)),
            limit,
            case: case.clone(),
        });
    }
}

fn least(bounds: &[Bound], which: impl Fn(&Bound) -> bool) -> Option<Bound> {
    let mut nearest: Option<&Bound> = None;
    for bound in bounds.iter().filter(|bound| which(bound)) {
        // Of limits that are equally near, the one with the fewest switches off their normal position is told.
        let nearer = nearest.is_none_or(|known| {
            let closer = known.more.0 - bound.more.0;
            let plainer = bound.case.banks.len() < known.case.banks.len();
            closer > SAME_AMPS || (closer > -SAME_AMPS && plainer)
        });
        if nearer {
            nearest = Some(bound);
        }
    }
    nearest.cloned()
}

/// What flows through a part, and which of it what is drawn more changes.
struct PartFlows<'p> {
    through: &'p Through,
    now: Flows,
    /// Links that change: what flows now, and by how much one more ampere changes it.
    touched: Vec<(f64, f64)>,
}

impl PartFlows<'_> {
    /// The part's current with so much more drawn.
    fn at(&self, more: f64) -> f64 {
        let mut flows = self.now;
        for &(now, share) in &self.touched {
            let then = now + more * share;
            flows.out += then.max(0.0) - now.max(0.0);
            flows.into += now.min(0.0) - then.min(0.0);
            flows.sum += more * share;
        }
        self.through.amps(flows)
    }

    /// How much more it bears: its current is a convex function of what is drawn more, met from below.
    fn room(&self, most: f64) -> Option<f64> {
        let shares = || self.touched.iter().map(|&(_, share)| share);
        let steepest: f64 = shares().map(f64::abs).sum();
        let slope = self.through.amps(Flows::of(shares()));
        if steepest <= NOTHING || slope <= NOTHING {
            return None;
        }
        let mut more = 0.0;
        for _ in 0..64 {
            let left = most - self.at(more);
            if left <= NOTHING {
                break;
            }
            // No part of the function is steeper than it is at last.
            more += left / slope;
        }
        Some(if self.at(0.0) > most + NOTHING {
            0.0
        } else {
            more
        })
    }
}

/// The conductor on some way that carries most in the solved case.
fn most_loaded<'c>(
    system: &System,
    way: impl Iterator<Item = &'c ConductorId>,
    solution: &Solution,
) -> Option<(ConductorId, f64)> {
    let mut most: Option<(ConductorId, f64)> = None;
    for &id in way {
        let amps = solution.current(system.conductors[id.index()].link).0.abs();
        if most.is_none_or(|(_, known)| amps > known + NOTHING) {
            most = Some((id, amps));
        }
    }
    most
}

/// What every conductor may carry where it lies, and in places hotter by each step; none where it is exempt or unknown.
fn allowed(facts: &Facts<'_>) -> Vec<[Option<f64>; HOTTER.len() + 1]> {
    let system = facts.system;
    let (table, _) = constants::table_ambient();
    let (engine, _) = constants::engine_space_ambient();
    let hotter = HOTTER.map(|by| {
        let mut hot = system.clone();
        for zone in &mut hot.zones {
            let usual = if zone.engine_space { engine } else { table };
            let given = zone.ambient.unwrap_or(crate::system::Given::assumed(usual));
            zone.ambient = Some(crate::system::Given {
                value: Celsius(given.value.0 + by),
                ..given
            });
        }
        Ampacities::new(&hot, &facts.poles)
    });
    (0..system.conductors.len())
        .map(|index| {
            let id = ConductorId::at(index);
            let of = |ampacities: &Ampacities| {
                let allowed = ampacities.allowed(system, id).ok()?;
                (!system.conductors[index].pigtail).then_some(allowed.derated.0)
            };
            let mut steps = [None; HOTTER.len() + 1];
            steps[0] = of(&facts.ampacities);
            for (step, ampacities) in hotter.iter().enumerate() {
                steps[step + 1] = of(ampacities);
            }
            steps
        })
        .collect()
}

/// Every feeder and device that some load hangs on, with where its circuits part.
fn subjects(facts: &Facts<'_>) -> Vec<Open> {
    let system = facts.system;
    let mut by_device: Vec<Vec<(LoadId, usize, usize)>> = vec![Vec::new(); system.devices.len()];
    let mut by_bus: Vec<Vec<(LoadId, usize, usize)>> = vec![Vec::new(); system.components.len()];
    let bus_at = buses(facts);
    for index in 0..system.loads.len() {
        let load = LoadId::at(index);
        for (way, feed) in facts.feeds.of(load).iter().enumerate() {
            let mut node = feed.from;
            for (place, &link) in feed.positive.iter().enumerate() {
                let (a, b) = ends(system, link);
                node = if a == node { b } else { a };
                if let LinkKind::Device(device) = system.links[link.index()].kind {
                    enter(&mut by_device[device.index()], (load, way, place + 1));
                }
                if let Some(bus) = bus_at[node.index()] {
                    enter(&mut by_bus[bus.index()], (load, way, place + 1));
                }
            }
        }
    }
    let feeders = by_bus.iter().enumerate().map(|(index, loads)| {
        let id = ComponentId::at(index);
        (Subject::Feeder(id), loads, true)
    });
    let devices = by_device.iter().enumerate().map(|(index, loads)| {
        let id = DeviceId::at(index);
        (Subject::Device(id), loads, false)
    });
    feeders
        .chain(devices)
        .filter(|(_, loads, _)| !loads.is_empty())
        .map(|(subject, loads, ends_here)| opened(facts, subject, loads, ends_here))
        .collect()
}

fn enter(list: &mut Vec<(LoadId, usize, usize)>, entry: (LoadId, usize, usize)) {
    if list.last().is_none_or(|&(load, _, _)| load != entry.0) {
        list.push(entry);
    }
}

/// By node: the block that it feeds, or the positive bus that it is.
fn buses(facts: &Facts<'_>) -> Vec<Option<ComponentId>> {
    let system = facts.system;
    let mut at = vec![None; system.nodes.len()];
    for (index, component) in system.components.iter().enumerate() {
        let Some(&terminal) = component.terminals.first() else {
            continue;
        };
        let node = system.node_of(terminal);
        let distributes = match component.kind {
            ComponentKind::FuseBlock => true,
            ComponentKind::Bus => facts.poles.of(node) == Pole::Positive,
            _ => false,
        };
        if distributes {
            at[node.index()] = Some(ComponentId::at(index));
        }
    }
    at
}

/// A subject with the points where its circuits part and come together again.
fn opened(
    facts: &Facts<'_>,
    subject: Subject,
    entries: &[(LoadId, usize, usize)],
    ends_here: bool,
) -> Open {
    let system = facts.system;
    let feed = |&(load, way, _): &(LoadId, usize, usize)| &facts.feeds.of(load)[way];
    let first = feed(&entries[0]);
    let place = entries[0].2;
    // How far all ways go on together behind the device; a feeder is where they part.
    let together = if ends_here {
        0
    } else {
        common(
            entries
                .iter()
                .map(|entry| feed(entry).positive[entry.2..].iter()),
        )
    };
    let back = common(
        entries
            .iter()
            .map(|entry| feed(entry).negative.iter().rev()),
    );
    let walk = |start: NodeId, links: &mut dyn Iterator<Item = &LinkId>| {
        let mut node = start;
        for &link in links {
            let (a, b) = ends(system, link);
            node = if a == node { b } else { a };
        }
        node
    };
    let from = walk(first.from, &mut first.positive[..place + together].iter());
    let to = walk(first.to, &mut first.negative.iter().rev().take(back));
    let loads: Vec<LoadId> = entries.iter().map(|&(load, _, _)| load).collect();
    let mut ways: Vec<LinkId> = loads
        .iter()
        .flat_map(|&load| facts.feeds.of(load).iter().skip(1))
        .flat_map(|feed| feed.positive.iter().chain(&feed.negative))
        .copied()
        .collect();
    ways.sort_unstable();
    ways.dedup();
    Open {
        subject,
        loads,
        at: (from, to),
        ways,
        bounds: Vec::new(),
        hotter: [f64::INFINITY; HOTTER.len()],
        worst: None,
    }
}

/// How many links some ways have in common from their start on.
fn common<'l>(ways: impl Iterator<Item = impl Iterator<Item = &'l LinkId>>) -> usize {
    let mut known: Option<Vec<LinkId>> = None;
    for way in ways {
        match &mut known {
            None => known = Some(way.copied().collect()),
            Some(known) => {
                let same = known.iter().zip(way).take_while(|(a, b)| a == b).count();
                known.truncate(same);
            }
        }
    }
    known.map_or(0, |known| known.len())
}
