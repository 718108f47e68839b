//! The contracted circuit, and the search over sets of positions.
//!
//! A label says: this cluster of nodes is reached in every state that agrees with these sets of positions, along a
//! path at least this wide. Passing a contact narrows the set of its part; an empty set ends the path. A label is
//! dropped when another one at the same cluster is as wide and holds in all its states, so few remain. The order is
//! widest first, then fewest parts off normal, which makes the first label of a cluster the best one.

use super::{Constraints, State, bit, closed_set, conducts, ends, select, walk};
use crate::system::{GearId, LinkId, LinkKind, NodeId, System};
use petgraph::unionfind::UnionFind;
use std::cell::{Cell, OnceCell};
use std::cmp::Ordering;
use std::collections::{BinaryHeap, VecDeque};

/// Labels kept at one cluster; beyond it the solver answers what the search has left open.
const LABELS_PER_CLUSTER: usize = 16;

/// Steps to repair one combination that an interlock forbids, before the solver is asked.
const REPAIR_STEPS: usize = 128;

/// Steps of repair in all, before everything that an interlock touches is left to the solver.
const REPAIR_BUDGET: usize = 500_000;

/// A state that shows the answer, with its path.
#[derive(Clone, Debug, PartialEq)]
pub struct Witness {
    /// One position of every part.
    pub state: State,
    /// The parts off their normal position, fewest possible, in file order.
    pub off_normal: Vec<(GearId, u16)>,
    /// Links from the start to the node asked for, in order.
    pub path: Vec<LinkId>,
}

/// Answer to a question over all states.
#[derive(Clone, Debug, PartialEq)]
pub enum Answer {
    /// There is such a state; this one has the fewest parts off normal.
    Yes(Witness),
    /// No state shows it.
    No,
    /// The network is too knotted to decide within the effort allowed.
    Undecided,
}

impl Answer {
    /// The witness of a yes.
    #[must_use]
    pub fn witness(self) -> Option<Witness> {
        match self {
            Self::Yes(witness) => Some(witness),
            Self::No | Self::Undecided => None,
        }
    }
}

/// Whether a node is reached in some state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reached {
    /// In at least one state.
    Somewhen,
    /// In none.
    Never,
    /// Not decided within the effort allowed.
    Undecided,
}

/// The widest path to a node over all states.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Widest {
    /// No state has a path.
    Never,
    /// The narrowest gate on the widest path; infinite where a path has no gate.
    At(f64),
    /// Not decided within the effort allowed.
    Undecided,
}

/// A link between clusters that conducts in some positions, in one direction, or up to a width.
#[derive(Clone, Debug)]
pub(super) struct Edge {
    pub(super) a: u32,
    pub(super) b: u32,
    /// The part whose positions close it, with the positions that do.
    pub(super) contact: Option<(GearId, u64)>,
    pub(super) width: f64,
    pub(super) one_way: bool,
    pub(super) link: LinkId,
}

/// Where a node hangs in the tree of its cluster.
#[derive(Clone, Copy, Debug, Default)]
struct Branch {
    /// The link to the node above; none at the root.
    above: Option<(LinkId, NodeId)>,
    depth: u32,
}

/// The circuit prepared for questions under one set of constraints and one choice of links.
#[derive(Debug)]
pub struct Reach<'s> {
    pub(super) system: &'s System,
    pub(super) allowed: Vec<u64>,
    pub(super) never: Vec<Vec<(GearId, u16)>>,
    /// By part: the interlocks that name it.
    naming: Vec<Vec<u32>>,
    /// The preferred state of all parts breaks an interlock.
    base_broken: bool,
    repairs: Cell<usize>,
    pub(super) effort: select::Effort,
    tree: OnceCell<Vec<Branch>>,
    /// Width of each link; none where it is shut for this question.
    gates: Vec<Option<f64>>,
    cluster: Vec<u32>,
    pub(super) clusters: usize,
    pub(super) edges: Vec<Edge>,
    /// First entry of each cluster in `neighbours`.
    starts: Vec<u32>,
    /// Edge and whether it is taken from `a` to `b`.
    neighbours: Vec<(u32, bool)>,
    /// The state with the fewest parts off normal, none when the constraints contradict each other.
    base: Option<State>,
    labels_per_cluster: usize,
}

impl<'s> Reach<'s> {
    /// Prepares questions. `gate` gives the width of a link, infinite for one that limits nothing, none for one
    /// that the question must not pass; sources, loads and spare ways are never passed.
    #[must_use]
    pub fn new(
        system: &'s System,
        constraints: &Constraints,
        gate: impl Fn(LinkId) -> Option<f64>,
    ) -> Self {
        let gates: Vec<Option<f64>> = (0..system.links.len())
            .map(LinkId::at)
            .map(|link| conducts(system, link).then(|| gate(link)).flatten())
            .collect();
        let mut merged = UnionFind::<u32>::new(system.nodes.len());
        for (link, width) in system.links.iter().zip(&gates) {
            let always = match &link.kind {
                LinkKind::Contact { gear, closed_in } => {
                    constraints.allowed[gear.index()] & !closed_set(closed_in) == 0
                }
                LinkKind::Diode { .. } => false,
                _ => true,
            };
            if always && *width == Some(f64::INFINITY) {
                merged.union(system.node_of(link.a).0, system.node_of(link.b).0);
            }
        }
        let (cluster, clusters) = numbered(&merged, system.nodes.len());
        let mut reach = Self {
            system,
            allowed: constraints.allowed.clone(),
            never: constraints.never.clone(),
            naming: vec![Vec::new(); system.gears.len()],
            base_broken: false,
            repairs: Cell::new(REPAIR_BUDGET),
            effort: select::Effort::default(),
            tree: OnceCell::new(),
            gates,
            cluster,
            clusters,
            edges: Vec::new(),
            starts: Vec::new(),
            neighbours: Vec::new(),
            base: None,
            labels_per_cluster: LABELS_PER_CLUSTER,
        };
        reach.add_edges();
        reach.index_edges();
        reach.settle_base();
        reach
    }

    /// Searches out from some nodes to all others.
    #[must_use]
    pub fn spread(&self, from: &[NodeId]) -> Spread<'_> {
        let mut starts: Vec<u32> = from.iter().map(|&node| self.cluster_of(node)).collect();
        starts.sort_unstable();
        starts.dedup();
        let mut spread = Spread {
            reach: self,
            from: from.to_vec(),
            starts,
            labels: Vec::new(),
            at: vec![Vec::new(); self.clusters],
            complete: true,
        };
        spread.run();
        spread
    }

    /// Whether some state joins any of `from` to `to`.
    #[must_use]
    pub fn joined(&self, from: &[NodeId], to: NodeId) -> Answer {
        self.spread(from).answer(to)
    }

    /// Whether some state leaves every one of `from` cut off from every one of `targets`.
    ///
    /// The witness has no path; its state is walked again before it is returned.
    #[must_use]
    pub fn parted(&self, from: &[NodeId], targets: &[NodeId]) -> Answer {
        let starts: Vec<u32> = from.iter().map(|&node| self.cluster_of(node)).collect();
        let ends: Vec<u32> = targets.iter().map(|&node| self.cluster_of(node)).collect();
        if self.base.is_none() || starts.iter().any(|start| ends.contains(start)) {
            return Answer::No;
        }
        match select::parting_state(self, &starts, &ends) {
            select::Decision::Yes(state) => {
                let walk = walk(self.system, &state, from, |link| self.passes(link, 0.0));
                if targets.iter().any(|&target| walk.reaches(target)) {
                    return Answer::Undecided;
                }
                Answer::Yes(self.witness_of(state, Vec::new()))
            }
            select::Decision::No => Answer::No,
            select::Decision::Undecided => Answer::Undecided,
        }
    }

    /// The state with the fewest parts off normal, with some parts moved from it.
    #[must_use]
    pub fn state_with(&self, moves: &[(GearId, u16)]) -> State {
        let mut state = self
            .base
            .clone()
            .unwrap_or_else(|| State::normal(self.system));
        for &(gear, position) in moves {
            state.set(gear, position);
        }
        state
    }

    /// Whether two nodes are joined whatever the positions, without passing a gate.
    #[must_use]
    pub fn always_joined(&self, a: NodeId, b: NodeId) -> bool {
        self.cluster_of(a) == self.cluster_of(b)
    }

    /// The same answers with fewer labels, so that tests reach the solver.
    #[cfg(test)]
    pub(super) fn with_labels_per_cluster(mut self, labels: usize) -> Self {
        self.labels_per_cluster = labels;
        self
    }

    pub(super) fn cluster_of(&self, node: NodeId) -> u32 {
        self.cluster[node.index()]
    }

    pub(super) fn neighbours(&self, cluster: u32) -> &[(u32, bool)] {
        let at = cluster as usize;
        &self.neighbours[self.starts[at] as usize..self.starts[at + 1] as usize]
    }

    /// The state that every part not asked about stands in.
    pub(super) fn base(&self) -> Option<&State> {
        self.base.as_ref()
    }

    fn passes(&self, link: LinkId, width: f64) -> bool {
        self.gates[link.index()].is_some_and(|gate| gate >= width)
    }

    fn witness_of(&self, state: State, path: Vec<LinkId>) -> Witness {
        Witness {
            off_normal: state.off_normal(self.system),
            state,
            path,
        }
    }

    /// A way from one of some nodes to another inside its cluster, by links that nothing opens.
    ///
    /// It runs along a tree of the cluster that is grown once, breadth first.
    fn inside(&self, starts: &[NodeId], node: NodeId) -> Option<Vec<LinkId>> {
        let cluster = self.cluster_of(node);
        let start = *starts
            .iter()
            .find(|&&start| self.cluster_of(start) == cluster)?;
        let tree = self.tree.get_or_init(|| self.grow());
        let (mut here, mut there) = (start, node);
        let (mut out, mut back) = (Vec::new(), Vec::new());
        while here != there {
            let (a, b) = (tree[here.index()], tree[there.index()]);
            if a.depth >= b.depth {
                let (link, above) = a.above?;
                out.push(link);
                here = above;
            } else {
                let (link, above) = b.above?;
                back.push(link);
                there = above;
            }
        }
        out.extend(back.into_iter().rev());
        Some(out)
    }

    /// A tree over the links that nothing opens, one for each cluster.
    fn grow(&self) -> Vec<Branch> {
        let mut tree: Vec<Option<Branch>> = vec![None; self.system.nodes.len()];
        let mut queue = VecDeque::new();
        for root in (0..self.system.nodes.len()).map(NodeId::at) {
            if tree[root.index()].is_some() {
                continue;
            }
            tree[root.index()] = Some(Branch::default());
            queue.push_back((root, 0));
            while let Some((at, depth)) = queue.pop_front() {
                for &link in &self.system.nodes[at.index()].links {
                    let (a, b) = ends(self.system, link);
                    let next = if a == at { b } else { a };
                    if tree[next.index()].is_none() && self.is_solid(link) {
                        tree[next.index()] = Some(Branch {
                            above: Some((link, at)),
                            depth: depth + 1,
                        });
                        queue.push_back((next, depth + 1));
                    }
                }
            }
        }
        tree.into_iter().map(Option::unwrap_or_default).collect()
    }

    /// Whether a link conducts whatever the positions and limits nothing.
    fn is_solid(&self, link: LinkId) -> bool {
        let always = match &self.system.links[link.index()].kind {
            LinkKind::Contact { gear, closed_in } => {
                self.allowed[gear.index()] & !closed_set(closed_in) == 0
            }
            LinkKind::Diode { .. } => false,
            _ => true,
        };
        always && self.gates[link.index()] == Some(f64::INFINITY)
    }

    /// Walks a path on the plain graph: whether it hangs together from a start to the node, every link of it closed.
    fn is_walked(
        &self,
        state: &State,
        from: &[NodeId],
        to: NodeId,
        width: f64,
        path: &[LinkId],
    ) -> bool {
        let mut at: Option<NodeId> = None;
        for &link in path {
            let kind = &self.system.links[link.index()].kind;
            let (a, b) = ends(self.system, link);
            let start = |node: NodeId| match at {
                None => from.contains(&node),
                Some(at) => at == node,
            };
            let one_way = matches!(kind, LinkKind::Diode { .. });
            let next = if start(a) {
                b
            } else if start(b) && !one_way {
                a
            } else {
                return false;
            };
            if !state.closes(kind) || !self.passes(link, width) {
                return false;
            }
            at = Some(next);
        }
        match at {
            None => from.contains(&to),
            Some(at) => at == to,
        }
    }

    /// Walks a state on the plain graph and gives the witness, or nothing if the walk does not arrive.
    fn checked(&self, state: State, from: &[NodeId], to: NodeId, width: f64) -> Option<Witness> {
        let walk = walk(self.system, &state, from, |link| self.passes(link, width));
        let path = walk.path(to);
        walk.reaches(to).then(|| self.witness_of(state, path))
    }

    fn add_edges(&mut self) {
        for (index, link) in self.system.links.iter().enumerate() {
            let Some(width) = self.gates[index] else {
                continue;
            };
            let a = self.cluster_of(self.system.node_of(link.a));
            let b = self.cluster_of(self.system.node_of(link.b));
            if a == b {
                continue;
            }
            let contact = match &link.kind {
                LinkKind::Contact { gear, closed_in } => {
                    let set = closed_set(closed_in) & self.allowed[gear.index()];
                    if set == 0 {
                        continue;
                    }
                    Some((*gear, set))
                }
                _ => None,
            };
            self.edges.push(Edge {
                a,
                b,
                contact,
                width,
                one_way: matches!(link.kind, LinkKind::Diode { .. }),
                link: LinkId::at(index),
            });
        }
    }

    fn index_edges(&mut self) {
        let mut starts = vec![0_u32; self.clusters + 1];
        for edge in &self.edges {
            starts[edge.a as usize + 1] += 1;
            if !edge.one_way {
                starts[edge.b as usize + 1] += 1;
            }
        }
        for index in 1..starts.len() {
            starts[index] += starts[index - 1];
        }
        let mut next = starts.clone();
        self.neighbours = vec![(0, true); starts[self.clusters] as usize];
        for (edge, index) in self.edges.iter().zip(0_u32..) {
            let mut put = |cluster: u32, forward: bool| {
                let slot = &mut next[cluster as usize];
                self.neighbours[*slot as usize] = (index, forward);
                *slot += 1;
            };
            put(edge.a, true);
            if !edge.one_way {
                put(edge.b, false);
            }
        }
        self.starts = starts;
    }

    fn settle_base(&mut self) {
        for (never, index) in self.never.iter().zip(0_u32..) {
            for &(gear, _) in never {
                self.naming[gear.index()].push(index);
            }
        }
        self.base_broken = self.never.iter().any(|never| self.is_broken(&[], never));
        if self.allowed.contains(&0) {
            return;
        }
        self.base = match self.settle(&[]) {
            Settled::State(state, _) => Some(state),
            Settled::Impossible => None,
            Settled::Open => match select::any_state(self) {
                select::Decision::Yes(state) => Some(state),
                select::Decision::No | select::Decision::Undecided => None,
            },
        };
    }

    /// The positions left to a part when a path has narrowed some.
    fn left(&self, narrowed: &[(GearId, u64)], gear: GearId) -> u64 {
        narrowed
            .binary_search_by_key(&gear, |&(gear, _)| gear)
            .map_or(self.allowed[gear.index()], |at| narrowed[at].1)
    }

    /// The best state within some sets of positions that breaks no interlock.
    fn settle(&self, narrowed: &[(GearId, u64)]) -> Settled {
        let mut open = vec![narrowed.to_vec()];
        let mut steps = 0;
        while let Some(at) = open
            .iter()
            .enumerate()
            .min_by_key(|(index, sets)| (self.cost(sets), *index))
            .map(|(index, _)| index)
        {
            let sets = open.swap_remove(at);
            let Some(broken) = self.broken(&sets) else {
                let cost = self.cost(&sets);
                return Settled::State(self.state(&sets), cost);
            };
            steps += broken.len();
            let left = self.repairs.get().saturating_sub(broken.len());
            self.repairs.set(left);
            if steps > REPAIR_STEPS || left == 0 {
                return Settled::Open;
            }
            for &(gear, position) in broken {
                let left = self.left(&sets, gear) & !bit(position);
                if left != 0 {
                    open.push(narrow(&sets, gear, left));
                }
            }
        }
        Settled::Impossible
    }

    /// The positions in which the best state within some sets differs from the base state.
    fn moves(&self, narrowed: &[(GearId, u64)]) -> Vec<(GearId, u16)> {
        if !self.never.is_empty()
            && let Settled::State(state, _) = self.settle(narrowed)
        {
            return self.difference(&state);
        }
        narrowed
            .iter()
            .map(|&(gear, set)| {
                let position = Constraints::preferred(self.system, gear.index(), set);
                (gear, position)
            })
            .filter(|&(gear, position)| {
                self.base
                    .as_ref()
                    .is_none_or(|base| base.position(gear) != position)
            })
            .collect()
    }

    fn difference(&self, state: &State) -> Vec<(GearId, u16)> {
        let base = self.state_with(&[]);
        (0..self.system.gears.len())
            .map(GearId::at)
            .filter(|&gear| state.position(gear) != base.position(gear))
            .map(|gear| (gear, state.position(gear)))
            .collect()
    }

    /// The first interlock broken by the preferred state of some sets.
    ///
    /// Where the preferred state of all parts breaks none, only those that name a narrowed part can be.
    fn broken(&self, narrowed: &[(GearId, u64)]) -> Option<&Vec<(GearId, u16)>> {
        if self.base_broken {
            return self
                .never
                .iter()
                .find(|never| self.is_broken(narrowed, never));
        }
        narrowed
            .iter()
            .flat_map(|(gear, _)| &self.naming[gear.index()])
            .map(|&index| &self.never[index as usize])
            .find(|never| self.is_broken(narrowed, never))
    }

    fn is_broken(&self, narrowed: &[(GearId, u64)], never: &[(GearId, u16)]) -> bool {
        never.iter().all(|&(gear, position)| {
            let set = self.left(narrowed, gear);
            Constraints::preferred(self.system, gear.index(), set) == position
        })
    }

    /// Parts that cannot stand in their normal position within some sets, but could without them.
    fn cost(&self, narrowed: &[(GearId, u64)]) -> u32 {
        let off = narrowed.iter().filter(|&&(gear, set)| {
            let normal = bit(self.system.gears[gear.index()].normal);
            set & normal == 0 && self.allowed[gear.index()] & normal != 0
        });
        u32::try_from(off.count()).unwrap_or(u32::MAX)
    }

    fn state(&self, narrowed: &[(GearId, u64)]) -> State {
        let mut state = State::normal(self.system);
        for (index, &allowed) in self.allowed.iter().enumerate() {
            state.set(
                GearId::at(index),
                Constraints::preferred(self.system, index, allowed),
            );
        }
        for &(gear, set) in narrowed {
            state.set(gear, Constraints::preferred(self.system, gear.index(), set));
        }
        state
    }
}

/// What the repair of a combination came to.
enum Settled {
    State(State, u32),
    Impossible,
    Open,
}

/// The sets with one of them replaced or added, kept in order of parts.
fn narrow(sets: &[(GearId, u64)], gear: GearId, set: u64) -> Vec<(GearId, u64)> {
    let mut sets = sets.to_vec();
    match sets.binary_search_by_key(&gear, |&(gear, _)| gear) {
        Ok(at) => sets[at].1 = set,
        Err(at) => sets.insert(at, (gear, set)),
    }
    sets
}

/// Numbers the merged sets in the order of their first node.
fn numbered(merged: &UnionFind<u32>, count: usize) -> (Vec<u32>, usize) {
    let mut number = vec![u32::MAX; count];
    let mut cluster = Vec::with_capacity(count);
    let mut clusters = 0;
    for node in 0..count {
        // Node ids are u32 by construction.
        let root = merged.find(NodeId::at(node).0) as usize;
        if number[root] == u32::MAX {
            number[root] = clusters;
            clusters += 1;
        }
        cluster.push(number[root]);
    }
    (cluster, clusters as usize)
}

/// A cluster reached under some sets of positions.
#[derive(Clone, Debug)]
struct Label {
    cluster: u32,
    width: f64,
    cost: u32,
    hops: u32,
    /// The last gate of this width on the path.
    gate: Option<LinkId>,
    /// The label before it, and the edge between.
    came: Option<(u32, u32)>,
    narrowed: Vec<(GearId, u64)>,
}

/// A label that waits, in the order of the search.
struct Waiting {
    label: Label,
    order: u32,
}

impl PartialEq for Waiting {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Waiting {}

impl PartialOrd for Waiting {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Waiting {
    /// The greatest is taken first: widest, then fewest parts off normal, then fewest links, then oldest.
    fn cmp(&self, other: &Self) -> Ordering {
        self.label
            .width
            .total_cmp(&other.label.width)
            .then_with(|| other.label.cost.cmp(&self.label.cost))
            .then_with(|| other.label.hops.cmp(&self.label.hops))
            .then_with(|| other.order.cmp(&self.order))
    }
}

/// What can be reached from some nodes, in which states, how wide.
#[derive(Debug)]
pub struct Spread<'r> {
    reach: &'r Reach<'r>,
    from: Vec<NodeId>,
    starts: Vec<u32>,
    labels: Vec<Label>,
    /// Labels of each cluster, best first.
    at: Vec<Vec<u32>>,
    /// Whether no label had to be dropped for want of room.
    complete: bool,
}

impl Spread<'_> {
    /// Whether a node is reached in some state.
    #[must_use]
    pub fn reached(&self, node: NodeId) -> Reached {
        match self.widest(node) {
            Widest::Never => Reached::Never,
            Widest::At(_) => Reached::Somewhen,
            Widest::Undecided => Reached::Undecided,
        }
    }

    /// The widest path to a node over all states.
    #[must_use]
    pub fn widest(&self, node: NodeId) -> Widest {
        let cluster = self.reach.cluster_of(node);
        let found = self.best(cluster).map(|label| label.width);
        if self.complete || found == Some(f64::INFINITY) {
            return found.map_or(Widest::Never, Widest::At);
        }
        let mut widths: Vec<f64> = self
            .reach
            .edges
            .iter()
            .map(|edge| edge.width)
            .chain([f64::INFINITY])
            .filter(|&width| found.is_none_or(|found| width > found))
            .collect();
        widths.sort_by(|a, b| b.total_cmp(a));
        widths.dedup();
        for width in widths {
            match select::joining_state(self.reach, &self.starts, cluster, width) {
                select::Decision::Yes(_) => return Widest::At(width),
                select::Decision::No => {}
                select::Decision::Undecided => return Widest::Undecided,
            }
        }
        found.map_or(Widest::Never, Widest::At)
    }

    /// The gate that limits the widest path to a node, the nearest of several alike.
    #[must_use]
    pub fn narrowest(&self, node: NodeId) -> Option<LinkId> {
        self.best(self.reach.cluster_of(node))?.gate
    }

    /// The state with the fewest parts off normal in which a node is reached.
    #[must_use]
    pub fn answer(&self, node: NodeId) -> Answer {
        self.answer_at_width(node, 0.0)
    }

    /// The same, along a path at least so wide.
    #[must_use]
    pub fn answer_at_width(&self, node: NodeId, width: f64) -> Answer {
        let cluster = self.reach.cluster_of(node);
        if self.complete {
            let best = self.at[cluster as usize]
                .iter()
                .copied()
                .filter(|&label| self.labels[label as usize].width >= width)
                .min_by_key(|&label| {
                    let label = &self.labels[label as usize];
                    (label.cost, label.hops)
                });
            let Some(best) = best else {
                return Answer::No;
            };
            let narrowed = &self.labels[best as usize].narrowed;
            if let Settled::State(state, _) = self.reach.settle(narrowed) {
                return self
                    .path(best, node)
                    .filter(|path| self.reach.is_walked(&state, &self.from, node, width, path))
                    .map_or(Answer::Undecided, |path| {
                        Answer::Yes(self.reach.witness_of(state, path))
                    });
            }
        }
        match select::joining_state(self.reach, &self.starts, cluster, width) {
            select::Decision::Yes(state) => self
                .reach
                .checked(state, &self.from, node, width)
                .map_or(Answer::Undecided, Answer::Yes),
            select::Decision::No => Answer::No,
            select::Decision::Undecided => Answer::Undecided,
        }
    }

    /// One state for each way found to reach a node along a path wider than this, best first, each told by the
    /// positions in which it differs from [`Reach::state_with`] of nothing.
    ///
    /// Between them they cover every state in which the node is so reached, as far as the search was complete.
    #[must_use]
    pub fn moves_above(&self, node: NodeId, width: f64) -> Vec<Vec<(GearId, u16)>> {
        let cluster = self.reach.cluster_of(node);
        let mut all: Vec<Vec<(GearId, u16)>> = Vec::new();
        for &label in &self.at[cluster as usize] {
            let label = &self.labels[label as usize];
            if label.width <= width {
                break;
            }
            let moves = self.reach.moves(&label.narrowed);
            if !all.contains(&moves) {
                all.push(moves);
            }
        }
        if all.is_empty()
            && !self.complete
            && let Answer::Yes(witness) = self.answer_at_width(node, width.next_up())
        {
            all.push(self.reach.difference(&witness.state));
        }
        all
    }

    /// The links by which a label reaches a node: the edges of its labels, and the links inside each cluster between.
    fn path(&self, label: u32, node: NodeId) -> Option<Vec<LinkId>> {
        let mut steps = Vec::new();
        let mut at = label;
        while let Some((before, edge)) = self.labels[at as usize].came {
            let link = self.reach.edges[edge as usize].link;
            let (a, b) = ends(self.reach.system, link);
            let leaves_by_a = self.reach.cluster_of(a) == self.labels[before as usize].cluster;
            steps.push((link, if leaves_by_a { (a, b) } else { (b, a) }));
            at = before;
        }
        let mut starts = self.from.clone();
        let mut path = Vec::new();
        for (link, (near, far)) in steps.into_iter().rev() {
            path.extend(self.reach.inside(&starts, near)?);
            path.push(link);
            starts = vec![far];
        }
        path.extend(self.reach.inside(&starts, node)?);
        Some(path)
    }

    fn best(&self, cluster: u32) -> Option<&Label> {
        self.at[cluster as usize]
            .first()
            .map(|&label| &self.labels[label as usize])
    }

    fn run(&mut self) {
        let reach = self.reach;
        if reach.base.is_none() {
            return;
        }
        let mut order = 0;
        let mut heap = BinaryHeap::new();
        for &cluster in &self.starts {
            heap.push(Waiting {
                label: Label {
                    cluster,
                    width: f64::INFINITY,
                    cost: 0,
                    hops: 0,
                    gate: None,
                    came: None,
                    narrowed: Vec::new(),
                },
                order,
            });
            order += 1;
        }
        while let Some(Waiting { label, .. }) = heap.pop() {
            if self.dominated(&label) {
                continue;
            }
            if self.at[label.cluster as usize].len() >= reach.labels_per_cluster {
                self.complete = false;
                continue;
            }
            // The number of labels is bounded by clusters times labels a cluster, well below 2^32.
            let id = u32::try_from(self.labels.len()).unwrap_or(u32::MAX);
            for &(index, forward) in reach.neighbours(label.cluster) {
                let edge = &reach.edges[index as usize];
                let Some(mut next) = self.step(&label, edge, if forward { edge.b } else { edge.a })
                else {
                    continue;
                };
                next.came = Some((id, index));
                if !self.dominated(&next) {
                    heap.push(Waiting { label: next, order });
                    order += 1;
                }
            }
            self.at[label.cluster as usize].push(id);
            self.labels.push(label);
        }
    }

    /// The label one edge further, unless no state takes it.
    fn step(&mut self, label: &Label, edge: &Edge, cluster: u32) -> Option<Label> {
        let mut next = Label {
            cluster,
            width: label.width.min(edge.width),
            cost: label.cost,
            hops: label.hops + 1,
            gate: if edge.width <= label.width && edge.width.is_finite() {
                Some(edge.link)
            } else {
                label.gate
            },
            came: None,
            narrowed: Vec::new(),
        };
        let Some((gear, set)) = edge.contact else {
            next.narrowed.clone_from(&label.narrowed);
            return Some(next);
        };
        let before = self.reach.left(&label.narrowed, gear);
        let left = before & set;
        if left == 0 {
            return None;
        }
        if left == before {
            next.narrowed.clone_from(&label.narrowed);
            return Some(next);
        }
        next.narrowed = narrow(&label.narrowed, gear, left);
        next.cost = self.reach.cost(&next.narrowed);
        if !self.reach.never.is_empty() {
            match self.reach.settle(&next.narrowed) {
                Settled::State(_, cost) => next.cost = cost,
                Settled::Impossible => return None,
                Settled::Open => {
                    self.complete = false;
                    return None;
                }
            }
        }
        Some(next)
    }

    /// Whether a label of its cluster is as wide and holds in all its states.
    fn dominated(&self, label: &Label) -> bool {
        self.at[label.cluster as usize].iter().any(|&settled| {
            let settled = &self.labels[settled as usize];
            settled.width >= label.width
                && settled
                    .narrowed
                    .iter()
                    .all(|&(gear, set)| self.reach.left(&label.narrowed, gear) & !set == 0)
        })
    }
}
