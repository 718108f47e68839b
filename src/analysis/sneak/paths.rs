//! Loads that are fed through other loads once a return is off, a device is out, or a switch stands open.

use super::circuit::{Trial, lasting};
use crate::analysis::poles::{Pole, Poles};
use crate::analysis::solve::Solution;
use crate::analysis::states::{Constraints, Reach, State, Walk, Witness, conducts, ends, walk};
use crate::standards::constants;
use crate::system::{
    ConductorId, DeviceId, GearId, GearKind, LinkId, LinkKind, LoadId, LoadKind, NodeId,
    SourceKind, System,
};
use crate::units::Amps;
use petgraph::unionfind::UnionFind;

/// Links times states that are solved; a boat has few places where one is worth it.
const MAX_WORK: usize = 2_000_000;
/// Feeds tried for one opening.
const FEEDS_TRIED: usize = 8;
/// Relays that one another's contacts feed, at most.
const RELAYS_IN_LINE: usize = 8;
/// Nodes looked at to find out what hangs on the conductors of the negative.
const MAX_VISITS: usize = 2_000_000;

/// What is open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Opening {
    /// A device is out.
    Device(DeviceId),
    /// A conductor of the negative is off.
    Return(ConductorId),
    /// Nothing is wrong; a switch stands open.
    Switches,
}

/// Loads that are meant to be dead and carry current.
#[derive(Clone, Debug, PartialEq)]
pub struct Sneak {
    /// What is open.
    pub opening: Opening,
    /// The loads, each with the share of its nominal current that it carries, most first.
    pub victims: Vec<(LoadId, f64)>,
    /// The load that passes most of it on.
    pub through: LoadId,
    /// The current that it passes.
    pub current: Amps,
    /// Parts off their normal position, in file order.
    pub off_normal: Vec<(GearId, u16)>,
    /// Links from a battery to the load that passes it on.
    pub feed: Vec<LinkId>,
}

/// Finds them; tells also whether there was more to look at than the effort allows.
pub(super) fn find(system: &System, poles: &Poles) -> (Vec<Sneak>, bool) {
    let mut search = Search::new(system, poles);
    search.lost_returns();
    search.cross_loads();
    (search.found, search.incomplete)
}

struct Search<'s> {
    system: &'s System,
    poles: &'s Poles,
    /// Positive and negative posts of the batteries.
    posts: (Vec<NodeId>, Vec<NodeId>),
    is_post: Vec<bool>,
    /// Battery switches as in use, nothing joined.
    constraints: Constraints,
    /// Parts of the circuit that no panel switch divides.
    part: Vec<usize>,
    /// Ends of loads on each part.
    ends_on: Vec<Vec<LoadId>>,
    trial: Option<Trial>,
    /// Links times states solved so far.
    work: usize,
    found: Vec<Sneak>,
    incomplete: bool,
}

impl<'s> Search<'s> {
    fn new(system: &'s System, poles: &'s Poles) -> Self {
        let used = State::in_use(system);
        let mut constraints = lasting(system);
        let mut joined = UnionFind::<usize>::new(system.nodes.len());
        for (index, gear) in system.gears.iter().enumerate() {
            if gear.kind == GearKind::BatterySwitch {
                let id = GearId::at(index);
                constraints = constraints.fix(id, used.position(id));
            }
        }
        for (index, link) in system.links.iter().enumerate() {
            let id = LinkId::at(index);
            let closed = match &link.kind {
                LinkKind::Contact { gear, .. } => {
                    system.gears[gear.index()].kind == GearKind::BatterySwitch
                        && used.closes(&link.kind)
                }
                LinkKind::Diode { .. } => false,
                _ => conducts(system, id),
            };
            if closed {
                let (a, b) = ends(system, id);
                joined.union(a.index(), b.index());
            }
        }
        let part: Vec<usize> = (0..system.nodes.len())
            .map(|node| joined.find(node))
            .collect();
        let mut ends_on = vec![Vec::new(); system.nodes.len()];
        for (index, load) in system.loads.iter().enumerate() {
            let (a, b) = ends(system, load.link);
            for node in [a, b] {
                let list: &mut Vec<LoadId> = &mut ends_on[part[node.index()]];
                if list.last() != Some(&LoadId::at(index)) {
                    list.push(LoadId::at(index));
                }
            }
        }
        let posts: (Vec<NodeId>, Vec<NodeId>) = system
            .sources
            .iter()
            .filter(|source| source.kind == SourceKind::Battery)
            .map(|source| ends(system, source.link))
            .unzip();
        let mut is_post = vec![false; system.nodes.len()];
        for node in posts.0.iter().chain(&posts.1) {
            is_post[node.index()] = true;
        }
        Self {
            system,
            poles,
            posts,
            is_post,
            constraints,
            part,
            ends_on,
            trial: None,
            work: 0,
            found: Vec::new(),
            incomplete: false,
        }
    }

    /// Takes each conductor of the negative off in turn.
    fn lost_returns(&mut self) {
        let system = self.system;
        let mut sides = SmallSide::new(system);
        for index in 0..system.conductors.len() {
            let conductor = ConductorId::at(index);
            let (a, b) = ends(system, system.conductors[index].link);
            if self.poles.of(a) != Pole::Negative || a == b {
                continue;
            }
            if sides.visits > MAX_VISITS {
                self.incomplete = true;
                return;
            }
            let Some(floating) = sides.of(conductor) else {
                continue;
            };
            if floating.iter().any(|node| self.is_post[node.index()]) {
                // What hangs on the other side would have to be listed instead; that is the whole boat, and the
                // current of its largest load in a small wire is looked for by itself.
                continue;
            }
            self.lost_return(conductor, &floating);
        }
    }

    fn lost_return(&mut self, conductor: ConductorId, floating: &[NodeId]) {
        let system = self.system;
        let mut hanging: Vec<(LoadId, NodeId)> = Vec::new();
        for node in floating {
            for &link in &system.nodes[node.index()].links {
                if let LinkKind::Load(load) = system.links[link.index()].kind {
                    let (a, b) = ends(system, link);
                    hanging.push((load, if a == *node { b } else { a }));
                }
            }
        }
        // Two feeds at least, one of which goes on to another load: else nothing can flow.
        let mut parts: Vec<usize> = hanging
            .iter()
            .map(|(_, node)| self.part[node.index()])
            .collect();
        parts.sort_unstable();
        parts.dedup();
        if parts.len() < 2 {
            return;
        }
        let mut hangs: Vec<LoadId> = hanging.iter().map(|&(load, _)| load).collect();
        hangs.sort_unstable();
        let goes_on = |&part: &usize| {
            self.ends_on[part]
                .iter()
                .any(|load| hangs.binary_search(load).is_err())
        };
        if !parts.iter().any(goes_on) {
            return;
        }
        let mut tried: Vec<usize> = Vec::new();
        for &(_, node) in &hanging {
            let part = self.part[node.index()];
            if tried.contains(&part) || tried.len() >= FEEDS_TRIED {
                continue;
            }
            tried.push(part);
            let Some(state) = self.state_that_feeds(node) else {
                continue;
            };
            if self.try_out(Opening::Return(conductor), &state) {
                return;
            }
        }
    }

    /// Looks at loads between two ungrounded parts: each end dead while the other is live.
    fn cross_loads(&mut self) {
        let system = self.system;
        for load in &system.loads {
            let (a, b) = ends(system, load.link);
            let crosses = |node| self.poles.of(node) == Pole::Positive;
            if !crosses(a) || !crosses(b) || self.part[a.index()] == self.part[b.index()] {
                continue;
            }
            for (live, dead) in [(a, b), (b, a)] {
                let Some(state) = self.state_that_feeds(live) else {
                    continue;
                };
                let reached = self.live(&state, Opening::Switches);
                if !reached.reaches(dead) {
                    self.try_out(Opening::Switches, &state);
                    continue;
                }
                let mut devices: Vec<DeviceId> = reached
                    .path(dead)
                    .iter()
                    .filter_map(|link| match system.links[link.index()].kind {
                        LinkKind::Device(device) => Some(device),
                        _ => None,
                    })
                    .collect();
                devices.reverse();
                for device in devices {
                    let opening = Opening::Device(device);
                    let left = self.live(&state, opening);
                    if left.reaches(live) && !left.reaches(dead) && self.try_out(opening, &state) {
                        break;
                    }
                }
            }
        }
    }

    /// A state with few parts off normal in which a node is live, and the coil of every relay that is pulled for it.
    fn state_that_feeds(&self, node: NodeId) -> Option<State> {
        let mut constraints = self.constraints.clone();
        for _ in 0..RELAYS_IN_LINE {
            let witness = self.feeding(&constraints, node)?;
            let reached = self.live(&witness.state, Opening::Switches);
            let idle = self
                .system
                .gears
                .iter()
                .enumerate()
                .find_map(|(index, gear)| {
                    let pulled = gear.kind == GearKind::Relay
                        && witness.state.position(GearId::at(index)) != gear.normal;
                    let coil = self.system.loads[gear.coil.filter(|_| pulled)?.index()].link;
                    let (positive, _) = ends(self.system, coil);
                    (!reached.reaches(positive)).then_some(positive)
                });
            let Some(coil) = idle else {
                return Some(witness.state);
            };
            constraints = constraints.fix_along(self.system, &witness);
            let feeds_coil = self.feeding(&constraints, coil)?;
            constraints = constraints.fix_along(self.system, &feeds_coil);
        }
        None
    }

    /// The state with the fewest parts off normal in which a node is live.
    fn feeding(&self, constraints: &Constraints, node: NodeId) -> Option<Witness> {
        let reach = Reach::new(self.system, constraints, |link| {
            let (a, b) = ends(self.system, link);
            let negative = [a, b].map(|node| self.poles.of(node) == Pole::Negative);
            (!negative[0] && !negative[1]).then_some(f64::INFINITY)
        });
        reach.joined(&self.posts.0, node).witness()
    }

    /// What the batteries reach in a state with something open.
    fn live(&self, state: &State, opening: Opening) -> Walk {
        let system = self.system;
        walk(system, state, &self.posts.0, |link| {
            passes(system, link, opening)
        })
    }

    /// Solves a state with something open, and keeps what it shows; tells whether it shows anything.
    fn try_out(&mut self, opening: Opening, state: &State) -> bool {
        if self.work >= MAX_WORK {
            self.incomplete = true;
            return false;
        }
        self.work += self.system.links.len();
        let system = self.system;
        let trial = self.trial.get_or_insert_with(|| Trial::new(system));
        trial.take_off(match opening {
            Opening::Return(conductor) => Some(conductor),
            _ => None,
        });
        let opened = match opening {
            Opening::Device(device) => Some(device),
            _ => None,
        };
        let on: Vec<bool> = system
            .loads
            .iter()
            .map(|load| {
                // The contact inside a cranking motor is open unless it cranks.
                let takes = load.current().is_some_and(|current| current.0 > 0.0);
                takes && load.kind != LoadKind::Starter
            })
            .collect();
        let Some(solution) = trial.solve(state, &on, opened) else {
            return false;
        };
        let reached = self.live(state, opening);
        let back = walk(system, state, &self.posts.1, |link| {
            passes(system, link, opening)
        });
        let (least, _) = constants::sneak_share();
        let mut victims: Vec<(LoadId, f64)> = Vec::new();
        let mut through: Option<(LoadId, f64)> = None;
        for (index, load) in system.loads.iter().enumerate() {
            let Some((share, amps)) = carried(system, &solution, LoadId::at(index)) else {
                continue;
            };
            let (a, b) = ends(system, load.link);
            match (reached.reaches(a), reached.reaches(b)) {
                (false, false) if share >= least => victims.push((LoadId::at(index), share)),
                (true, false) | (false, true) => {
                    let far = if reached.reaches(a) { b } else { a };
                    let more = through.is_none_or(|(_, most)| amps > most);
                    if !back.reaches(far) && more {
                        through = Some((LoadId::at(index), amps));
                    }
                }
                _ => {}
            }
        }
        let (Some((through, amps)), false) = (through, victims.is_empty()) else {
            return false;
        };
        victims.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
        let (a, b) = ends(system, system.loads[through.index()].link);
        let feed = reached.path(if reached.reaches(a) { a } else { b });
        self.found.push(Sneak {
            opening,
            victims,
            through,
            current: Amps(amps),
            off_normal: state.off_normal(system),
            feed,
        });
        true
    }
}

/// Share of its nominal current and amperes that a load carries; none where its draw is not given.
fn carried(system: &System, solution: &Solution, load: LoadId) -> Option<(f64, f64)> {
    let record = &system.loads[load.index()];
    let nominal = record.current().filter(|current| current.0 > 0.0)?;
    let amps = solution.current(record.link).abs();
    Some((amps / nominal, amps.0))
}

/// Whether a link is still there with something open.
fn passes(system: &System, link: LinkId, opening: Opening) -> bool {
    match (&system.links[link.index()].kind, opening) {
        (LinkKind::Device(device), Opening::Device(opened)) => *device != opened,
        (LinkKind::Conductor(conductor), Opening::Return(off)) => *conductor != off,
        _ => true,
    }
}

/// Finds the smaller side that a conductor of a tree cuts off.
struct SmallSide<'s> {
    system: &'s System,
    mark: Vec<u32>,
    round: u32,
    visits: usize,
}

impl<'s> SmallSide<'s> {
    fn new(system: &'s System) -> Self {
        Self {
            system,
            mark: vec![0; system.nodes.len()],
            round: 0,
            visits: 0,
        }
    }

    /// The nodes of the smaller side once a conductor is off; none where another way joins both sides.
    ///
    /// Both sides are walked in turn, so that the effort is that of the smaller one. Contacts count as closed.
    fn of(&mut self, conductor: ConductorId) -> Option<Vec<NodeId>> {
        let link = self.system.conductors[conductor.index()].link;
        let (a, b) = ends(self.system, link);
        let marks = [self.round + 1, self.round + 2];
        self.round += 2;
        let mut sides = [vec![a], vec![b]];
        let mut next = [0, 0];
        self.mark[a.index()] = marks[0];
        self.mark[b.index()] = marks[1];
        loop {
            for side in 0..2 {
                let Some(&node) = sides[side].get(next[side]) else {
                    return Some(std::mem::take(&mut sides[side]));
                };
                next[side] += 1;
                for &other in &self.system.nodes[node.index()].links {
                    self.visits += 1;
                    if other == link || !conducts(self.system, other) {
                        continue;
                    }
                    let (a, b) = ends(self.system, other);
                    let beyond = if a == node { b } else { a };
                    let mark = &mut self.mark[beyond.index()];
                    if *mark == marks[1 - side] {
                        return None;
                    }
                    if *mark != marks[side] {
                        *mark = marks[side];
                        sides[side].push(beyond);
                    }
                }
            }
        }
    }
}
