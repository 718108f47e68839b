//! Which chain stands on which row, and which hub on which side of which: the drawing before it has measures.
//!
//! Every hub is an upright bar, every chain a level row between two bars, so that no wire needs a bend.
//! A boat is taken apart into grids: the sources with the main buses, and the ladder of each fuse block.
//! What no row can join without crossing a bar is broken off, and both ends name each other.

use super::circuit::{Chain, Circuit, HubKind, Item};
use super::scene::Pole;
use crate::system::{ComponentKind, ConductorId, System, TerminalId};
use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::ops::Range;

/// Where the boat is taken apart.
#[derive(Clone, Debug, Default)]
pub(super) struct Cuts {
    /// Every fuse block behind another hub has a grid of its own.
    pub(super) blocks: bool,
    /// Further hubs with a grid of their own.
    pub(super) apart: BTreeSet<usize>,
    /// Rungs that go on in a row below, and the item of the chain at which they are broken.
    pub(super) folds: BTreeMap<usize, usize>,
    /// Negative hubs whose return is broken off.
    pub(super) returns: BTreeSet<usize>,
    /// No row has two references that face each other.
    pub(super) single_references: bool,
}

/// What is broken first where a grid is too wide, after everything that a bus or a block feeds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Preference {
    /// Rungs and returns.
    Rungs,
    /// The bars of single terminals.
    Terminals,
}

/// One place at which a grid is made narrower.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Cut {
    /// A hub gets a grid of its own.
    Hub(usize),
    /// A chain is broken at an item.
    Rung(usize, usize),
    /// The return of a negative hub is broken off.
    Return(usize),
}

/// What one end of a segment is fixed to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum End {
    /// A piece of a hub, at one of its ports.
    Piece(usize, usize),
    /// A negative hub whose piece is not chosen yet.
    Hub(usize, usize),
    /// A reference to the other end.
    Ref(usize),
    /// Nothing.
    Open,
}

/// A chain, or a part of one, on its row.
#[derive(Clone, Debug)]
pub(super) struct Seg {
    /// The chain; none for the stub of a port that nothing lands on.
    pub(super) chain: Option<usize>,
    /// The part of its items that is drawn here.
    pub(super) items: Range<usize>,
    /// The chain runs from right to left.
    pub(super) flipped: bool,
    pub(super) left: End,
    pub(super) right: End,
}

/// One bar.
#[derive(Clone, Copy, Debug)]
pub(super) struct Piece {
    pub(super) hub: usize,
    pub(super) first: usize,
    pub(super) last: usize,
}

/// One end of a broken-off conductor.
#[derive(Clone, Copy, Debug)]
pub(super) struct Reference {
    /// The conductor; none where parts are bolted together.
    pub(super) wire: Option<ConductorId>,
    /// Terminal at the far end of the conductor.
    pub(super) far: TerminalId,
}

/// A ladder, or the island of the sources.
#[derive(Clone, Debug, Default)]
pub(super) struct Grid {
    pub(super) pieces: Vec<Piece>,
    pub(super) segs: Vec<Seg>,
    /// Segments of each row, from left to right.
    pub(super) rows: Vec<Vec<usize>>,
    /// Pairs of bars, the first left of the second.
    pub(super) order: Vec<(usize, usize)>,
    /// Holds what nothing feeds.
    pub(super) loose: bool,
    /// The hub that gives the grid its name.
    pub(super) head: Option<usize>,
    /// Left and right bar of the system's main negative.
    pub(super) rails: [Option<usize>; 2],
    /// Rows to tell apart in the ladder: the grid that each feeder row leads to.
    feeders: BTreeMap<usize, usize>,
    /// Row of the supply of a ladder that is fed from another grid.
    supply: Option<usize>,
    /// Hubs fed from others in this grid.
    children: BTreeSet<usize>,
    /// First piece of each positive hub.
    piece_of: BTreeMap<usize, usize>,
}

/// The whole drawing in rows.
#[derive(Debug)]
pub(super) struct Plan {
    pub(super) grids: Vec<Grid>,
    /// References, two by two.
    pub(super) refs: Vec<Reference>,
}

/// What is known of the hubs before rows are made.
struct Roles {
    /// Hubs on which nothing lands.
    idle: Vec<bool>,
    negative: Vec<bool>,
    /// Root of the negative tree that each hub belongs to.
    root: Vec<Option<usize>>,
    /// Chain to the parent in the negative tree, and depth.
    parent: Vec<Option<(usize, usize)>>,
    depth: Vec<usize>,
    /// Positive hubs that batteries stand on.
    sources: Vec<usize>,
    distance: Vec<Option<usize>>,
    /// Chain by which each positive hub is fed.
    feed: Vec<Option<usize>>,
    /// First and last source whose current can come here, by index into `sources`.
    reach: Vec<(usize, usize)>,
    grid: Vec<usize>,
    /// Systems in order: the negative root of each.
    grids: usize,
    starts: Vec<Vec<usize>>,
    kinds: Vec<HubKind>,
}

impl Plan {
    pub(super) fn new(system: &System, circuit: &Circuit, cuts: &Cuts) -> Self {
        let roles = Roles::new(system, circuit, cuts);
        let mut planner = Planner {
            system,
            circuit,
            cuts,
            refs: Vec::new(),
            broken: vec![None; circuit.chains.len()],
            placed: vec![[false; 2]; circuit.chains.len()],
            roles,
        };
        let mut grids: Vec<Grid> = Vec::new();
        for index in 0..planner.roles.grids {
            let grid = planner.positive_rows(index);
            grids.push(grid);
        }
        for hub in 0..circuit.hubs.len() {
            if planner.roles.kinds[hub] == HubKind::Tie && !planner.roles.idle[hub] {
                let grid = planner.roles.grid[hub];
                planner.tie(&mut grids[grid], hub);
            }
        }
        let homes = planner.negative_homes(&grids);
        for (index, grid) in grids.iter_mut().enumerate() {
            planner.break_foreign(grid, index, &homes);
        }
        for (index, grid) in grids.iter_mut().enumerate() {
            planner.negative_rows(grid, index, &homes);
        }
        let mut loose = Grid {
            loose: true,
            ..Grid::default()
        };
        planner.leftovers(&mut grids, &homes);
        planner.loose_rows(&mut loose);
        if !loose.rows.is_empty() {
            grids.push(loose);
        }
        for (index, grid) in grids.iter_mut().enumerate() {
            planner.fold_rows(grid);
            planner.negative_pieces(grid, index, &homes);
            grid.fit_spans();
            planner.untangle(grid);
            planner.straighten(grid);
            let loaded: Vec<bool> = grid.segs.iter().map(|seg| seg.has_load(circuit)).collect();
            grid.merge_rows(&loaded, cuts.single_references);
            grid.fit_spans();
        }
        grids.retain(|grid| !grid.rows.is_empty());
        Self {
            grids,
            refs: planner.refs,
        }
    }
}

impl Roles {
    fn new(system: &System, circuit: &Circuit, cuts: &Cuts) -> Self {
        let count = circuit.hubs.len();
        let mut roles = Self {
            idle: vec![false; count],
            negative: vec![false; count],
            root: vec![None; count],
            parent: vec![None; count],
            depth: vec![0; count],
            sources: Vec::new(),
            distance: vec![None; count],
            feed: vec![None; count],
            reach: vec![(usize::MAX, 0); count],
            grid: vec![0; count],
            grids: 0,
            starts: Vec::new(),
            kinds: circuit.hubs.iter().map(|hub| hub.kind).collect(),
        };
        for (index, hub) in circuit.hubs.iter().enumerate() {
            let plain = !matches!(hub.kind, HubKind::Box | HubKind::Tie);
            roles.idle[index] = hub.ports.iter().all(|port| port.chains.is_empty());
            let negative = plain && circuit.pole(system, index, 0) == Pole::Negative;
            roles.negative[index] = negative && !roles.idle[index];
        }
        let roots = roles.negative_trees(circuit);
        roles.positive_tree(system, circuit);
        roles.feed_first_inputs(system, circuit);
        roles.divide(circuit, cuts, &roots);
        roles
    }

    /// Grows one tree of returns for each set of negative hubs that conductors join; gives their roots.
    fn negative_trees(&mut self, circuit: &Circuit) -> Vec<usize> {
        let links = |hub: usize| circuit.hubs[hub].ports.iter().flat_map(|port| &port.chains);
        let count = circuit.hubs.len();
        let mut component = vec![usize::MAX; count];
        let mut members: Vec<Vec<usize>> = Vec::new();
        for start in 0..count {
            if !self.negative[start] || component[start] != usize::MAX {
                continue;
            }
            let mut found = vec![start];
            component[start] = members.len();
            let mut next = 0;
            while next < found.len() {
                for &(chain, end) in links(found[next]) {
                    if let Some(far) = self.return_link(circuit, chain, end)
                        && component[far] == usize::MAX
                    {
                        component[far] = members.len();
                        found.push(far);
                    }
                }
                next += 1;
            }
            members.push(found);
        }
        let mut roots = Vec::new();
        for found in members {
            let score = |hub: usize| {
                let batteries = links(hub)
                    .filter(|(chain, _)| {
                        circuit.chains[*chain]
                            .cells()
                            .any(|cell| matches!(cell.kind, super::circuit::CellKind::Battery(_)))
                    })
                    .count();
                let bus = circuit.hubs[hub].kind == HubKind::Bus;
                (bus, batteries, links(hub).count(), std::cmp::Reverse(hub))
            };
            let Some(root) = found.iter().copied().max_by_key(|&hub| score(hub)) else {
                continue;
            };
            roots.push(root);
            self.root[root] = Some(root);
            let mut queue = VecDeque::from([root]);
            while let Some(hub) = queue.pop_front() {
                for &(chain, end) in links(hub) {
                    if let Some(far) = self.return_link(circuit, chain, end)
                        && self.root[far].is_none()
                    {
                        self.root[far] = Some(root);
                        self.parent[far] = Some((chain, hub));
                        self.depth[far] = self.depth[hub] + 1;
                        queue.push_back(far);
                    }
                }
            }
        }
        roots.sort_unstable();
        roots
    }

    /// The other negative hub of a chain without loads and sources.
    fn return_link(&self, circuit: &Circuit, chain: usize, end: usize) -> Option<usize> {
        let record = &circuit.chains[chain];
        let (far, _) = record.ends[1 - end]?;
        let plain = !record.has_load() && !record.has_source();
        (plain && self.negative[far]).then_some(far)
    }

    /// The positive hub that power can pass to along a chain.
    fn feed_link(
        &self,
        system: &System,
        circuit: &Circuit,
        chain: usize,
        end: usize,
    ) -> Option<usize> {
        let record = &circuit.chains[chain];
        let (near, near_port) = record.ends[end]?;
        let (far, far_port) = record.ends[1 - end]?;
        let positive = |hub: usize, port: usize| {
            !self.negative[hub] && circuit.pole(system, hub, port) == Pole::Positive
        };
        (far != near
            && positive(near, near_port)
            && positive(far, far_port)
            && self.kinds[far] != HubKind::Tie)
            .then_some(far)
    }

    fn positive_tree(&mut self, system: &System, circuit: &Circuit) {
        let mut starts: Vec<(usize, usize)> = Vec::new();
        for (index, chain) in circuit.chains.iter().enumerate() {
            let battery = chain.cells().find_map(|cell| match cell.kind {
                super::circuit::CellKind::Battery(source) => Some(source.index()),
                _ => None,
            });
            let Some(battery) = battery else { continue };
            for end in 0..2 {
                let Some((hub, port)) = chain.ends[end] else {
                    continue;
                };
                let far_negative = chain.ends[1 - end].is_none_or(|(far, far_port)| {
                    self.negative[far] || circuit.pole(system, far, far_port) == Pole::Negative
                });
                let here = !self.negative[hub]
                    && circuit.pole(system, hub, port) == Pole::Positive
                    && self.kinds[hub] != HubKind::Tie;
                if here && far_negative && index < usize::MAX {
                    starts.push((battery, hub));
                }
            }
        }
        starts.sort_unstable();
        for (_, hub) in starts {
            if !self.sources.contains(&hub) {
                self.sources.push(hub);
            }
        }
        let mut queue = VecDeque::new();
        for (index, &hub) in self.sources.iter().enumerate() {
            self.distance[hub] = Some(0);
            self.reach[hub] = (index, index);
            queue.push_back(hub);
        }
        self.spread(system, circuit, queue);
        // A converter that feeds what nothing else feeds is a step of the ladder, not a tie.
        for hub in 0..circuit.hubs.len() {
            if self.kinds[hub] != HubKind::Tie {
                continue;
            }
            let mut fed = None;
            let mut waits = false;
            for port in &circuit.hubs[hub].ports {
                for &(chain, end) in &port.chains {
                    let Some((far, far_port)) = circuit.chains[chain].ends[1 - end] else {
                        continue;
                    };
                    if self.negative[far]
                        || self.kinds[far] == HubKind::Tie
                        || circuit.pole(system, far, far_port) == Pole::Negative
                    {
                        continue;
                    }
                    match self.distance[far] {
                        Some(distance) if fed.is_none() => fed = Some((distance, chain, far)),
                        Some(_) => {}
                        None => waits = true,
                    }
                }
            }
            if let (Some((distance, chain, far)), true) = (fed, waits) {
                self.kinds[hub] = HubKind::Box;
                self.distance[hub] = Some(distance + 1);
                self.feed[hub] = Some(chain);
                self.reach[hub] = self.reach[far];
                self.spread(system, circuit, VecDeque::from([hub]));
            }
        }
        // What no battery reaches begins at a hub of its own: a block or a bus before anything else.
        for wanted in [
            HubKind::Block,
            HubKind::Bus,
            HubKind::Box,
            HubKind::Splice,
            HubKind::Post,
            HubKind::Ground,
        ] {
            for hub in 0..circuit.hubs.len() {
                let open = !self.negative[hub] && !self.idle[hub] && self.distance[hub].is_none();
                if open && self.kinds[hub] == wanted {
                    self.reach[hub] = (self.sources.len(), self.sources.len());
                    self.sources.push(hub);
                    self.distance[hub] = Some(0);
                    self.spread(system, circuit, VecDeque::from([hub]));
                }
            }
        }
    }

    fn spread(&mut self, system: &System, circuit: &Circuit, mut queue: VecDeque<usize>) {
        while let Some(hub) = queue.pop_front() {
            // Power does not pass from one input of a load to another.
            if is_consumer(system, circuit, hub) {
                continue;
            }
            let here = self.distance[hub].unwrap_or(0);
            for port in &circuit.hubs[hub].ports {
                for &(chain, end) in &port.chains {
                    let Some(far) = self.feed_link(system, circuit, chain, end) else {
                        continue;
                    };
                    match self.distance[far] {
                        None => {
                            self.distance[far] = Some(here + 1);
                            self.feed[far] = Some(chain);
                            self.reach[far] = self.reach[hub];
                            queue.push_back(far);
                        }
                        Some(there) if there > here => {
                            let (first, last) = self.reach[hub];
                            let reach = &mut self.reach[far];
                            *reach = (reach.0.min(first), reach.1.max(last));
                        }
                        Some(_) => {}
                    }
                }
            }
        }
    }

    /// A load with several inputs stands where its first one is fed.
    fn feed_first_inputs(&mut self, system: &System, circuit: &Circuit) {
        for hub in 0..circuit.hubs.len() {
            let consumer = is_consumer(system, circuit, hub);
            if self.kinds[hub] != HubKind::Box || !consumer || self.feed[hub].is_none() {
                continue;
            }
            let first = circuit.hubs[hub]
                .ports
                .iter()
                .flat_map(|port| &port.chains)
                .find_map(|&(chain, end)| {
                    let far = self.feed_link(system, circuit, chain, end)?;
                    Some((chain, self.distance[far]?))
                });
            if let Some((chain, distance)) = first {
                self.feed[hub] = Some(chain);
                self.distance[hub] = Some(distance + 1);
            }
        }
    }

    /// Puts every positive hub into a grid.
    fn divide(&mut self, circuit: &Circuit, cuts: &Cuts, roots: &[usize]) {
        let systems = roots.len().max(1);
        let system_of = |root: Option<usize>| {
            root.and_then(|root| roots.iter().position(|&known| known == root))
                .unwrap_or(0)
        };
        let mut starts: Vec<Vec<usize>> = vec![Vec::new(); systems];
        let mut order: Vec<usize> = (0..circuit.hubs.len())
            .filter(|&hub| self.distance[hub].is_some())
            .collect();
        order.sort_by_key(|&hub| (self.distance[hub], hub));
        for hub in order {
            let Some(chain) = self.feed[hub] else {
                let root = circuit.hubs[hub]
                    .ports
                    .iter()
                    .flat_map(|port| &port.chains)
                    .filter_map(|&(chain, end)| circuit.chains[chain].ends[1 - end])
                    .find_map(|(far, _)| self.root[far]);
                self.grid[hub] = if cuts.apart.contains(&hub) {
                    starts.push(Vec::new());
                    starts.len() - 1
                } else {
                    system_of(root)
                };
                continue;
            };
            let parent = other_hub(&circuit.chains[chain], hub);
            let apart =
                cuts.blocks && self.kinds[hub] == HubKind::Block || cuts.apart.contains(&hub);
            if apart {
                self.grid[hub] = starts.len();
                starts.push(vec![hub]);
            } else {
                self.grid[hub] = parent.map_or(0, |parent| self.grid[parent]);
            }
        }
        for &hub in &self.sources {
            starts[self.grid[hub]].push(hub);
        }
        for hub in 0..circuit.hubs.len() {
            if self.kinds[hub] == HubKind::Tie && cuts.apart.contains(&hub) {
                self.grid[hub] = starts.len();
                starts.push(Vec::new());
            } else if self.kinds[hub] == HubKind::Tie {
                let mut votes: BTreeMap<usize, usize> = BTreeMap::new();
                for &(chain, end) in circuit.hubs[hub].ports.iter().flat_map(|port| &port.chains) {
                    if let Some((far, _)) = circuit.chains[chain].ends[1 - end]
                        && self.distance[far].is_some()
                    {
                        *votes.entry(self.grid[far]).or_default() += 1;
                    }
                }
                let best = votes
                    .iter()
                    .max_by_key(|(grid, votes)| (**votes, std::cmp::Reverse(**grid)));
                self.grid[hub] = best.map_or(0, |(grid, _)| *grid);
            }
        }
        self.grids = starts.len();
        self.starts = starts;
    }
}

/// Whether a hub is a load or an instrument with several terminals.
fn is_consumer(system: &System, circuit: &Circuit, hub: usize) -> bool {
    let record = &circuit.hubs[hub];
    let kind = system.components[record.component.index()].kind;
    record.kind == HubKind::Box && matches!(kind, ComponentKind::Load | ComponentKind::Instrument)
}

fn other_hub(chain: &Chain, hub: usize) -> Option<usize> {
    chain
        .ends
        .iter()
        .flatten()
        .map(|&(known, _)| known)
        .find(|&known| known != hub)
}

/// One end of a segment at a second piece of a hub that has but one.
#[derive(Clone, Copy, Debug)]
struct Stray {
    seg: usize,
    /// Its left end.
    left: bool,
    /// A segment of the main piece.
    beside: usize,
    /// The rest goes before that segment, not after it.
    before: bool,
    /// The main piece stands left of what it joins.
    main_is_left: bool,
}

/// Most turns in which second pieces of single terminals are sent home.
const MOST_TURNS: usize = 8;

/// Where the negative hubs are drawn, and their parents.
struct Homes {
    grid: Vec<usize>,
    /// Grids, other than its home, in which rungs end at a hub, so that it has a bar there.
    joined: std::collections::BTreeSet<(usize, usize)>,
}

struct Planner<'a> {
    system: &'a System,
    circuit: &'a Circuit,
    cuts: &'a Cuts,
    refs: Vec<Reference>,
    /// Chains that are broken off.
    broken: Vec<Option<Broken>>,
    /// Whether each end of a chain stands on a row.
    placed: Vec<[bool; 2]>,
    roles: Roles,
}

/// A chain in two parts, each with its reference, by the end that keeps it.
#[derive(Clone, Debug)]
struct Broken {
    parts: [Range<usize>; 2],
    refs: [usize; 2],
}

/// What a hub puts on its left or its right, one row each.
#[derive(Clone, Copy, Debug)]
enum Action {
    /// A whole chain to a hub on the right: its near end.
    Right(usize, usize, End),
    /// A whole chain from a hub on the left: the end here.
    Left(usize, usize, End),
    /// A chain to a hub that is made on the way: its near end.
    Child(usize, usize, usize),
    /// The near part of a broken-off chain, on the right.
    Broken(usize, usize),
    /// The far part of a broken-off chain, on the right.
    Supply(usize, usize),
    /// The far part of a broken-off chain, on the left.
    BrokenLeft(usize, usize),
    /// A port that nothing lands on.
    Stub(usize),
}

struct Frame {
    piece: usize,
    actions: Vec<Action>,
    next: usize,
}

impl Planner<'_> {
    fn chain(&self, chain: usize) -> &Chain {
        &self.circuit.chains[chain]
    }

    /// Index of the conductor to break a chain at, seen from one end: the last one; none where parts only touch.
    fn cut(&self, chain: usize, end: usize) -> Option<usize> {
        if let Some(&item) = self.cuts.folds.get(&chain) {
            return Some(item);
        }
        let items = &self.chain(chain).items;
        let wire = |item: &Item| matches!(item, Item::Wire(_));
        let joint = |item: &Item| matches!(item, Item::Joint(_));
        if end == 0 {
            items
                .iter()
                .rposition(wire)
                .or_else(|| items.iter().rposition(joint))
        } else {
            items
                .iter()
                .position(wire)
                .or_else(|| items.iter().position(joint))
        }
    }

    /// Breaks a chain near the far side of `end`, unless it is broken already; gives the part that `end` keeps.
    fn break_from(&mut self, chain: usize, end: usize) -> (Range<usize>, usize) {
        if self.broken[chain].is_none() {
            let record = &self.circuit.chains[chain];
            let count = record.items.len();
            let first = self.refs.len();
            let parts = if let Some(at) = self.cut(chain, end) {
                let (wire, ends) = match record.items.get(at) {
                    Some(Item::Wire(id)) => {
                        let conductor = &self.system.conductors[id.index()];
                        (Some(*id), [conductor.from, conductor.to])
                    }
                    Some(Item::Joint(id)) => {
                        let link = &self.system.links[id.index()];
                        (None, [link.a, link.b])
                    }
                    Some(Item::Cell(cell)) => (None, cell.ends),
                    None => (None, [TerminalId(0), TerminalId(0)]),
                };
                // The terminal on the side of `end` is the one that the item before it, or the hub, has.
                let near = self.side_terminal(chain, at, end);
                let far = if ends[0] == near { ends[1] } else { ends[0] };
                self.refs.push(Reference { wire, far });
                self.refs.push(Reference { wire, far: near });
                [0..(at + 1).min(count), at..count]
            } else {
                // Parts that touch stay whole on one side; the other side keeps the bare terminal.
                let here = |end: usize| {
                    record.ends[end].map_or(TerminalId(0), |(hub, port)| {
                        self.circuit.hubs[hub].ports[port].terminal
                    })
                };
                let last = if end == 0 {
                    record.items.last()
                } else {
                    record.items.first()
                };
                let near = match last {
                    Some(Item::Cell(cell)) => cell.ends[end],
                    _ => here(end),
                };
                self.refs.push(Reference {
                    wire: None,
                    far: here(1 - end),
                });
                self.refs.push(Reference {
                    wire: None,
                    far: near,
                });
                if end == 0 {
                    [0..count, count..count]
                } else {
                    [0..0, 0..count]
                }
            };
            // The first reference belongs to the side that the chain was broken from.
            let refs = if end == 0 {
                [first, first + 1]
            } else {
                [first + 1, first]
            };
            self.broken[chain] = Some(Broken { parts, refs });
        }
        self.kept(chain, end)
    }

    /// The part of a broken chain at one of its ends, and the reference that stands for the other.
    fn kept(&self, chain: usize, end: usize) -> (Range<usize>, usize) {
        match &self.broken[chain] {
            Some(broken) => (broken.parts[end].clone(), broken.refs[end]),
            None => (0..self.chain(chain).items.len(), 0),
        }
    }

    /// Terminal of an item on the side of one end of its chain.
    fn side_terminal(&self, chain: usize, at: usize, end: usize) -> TerminalId {
        let record = self.chain(chain);
        let neighbour = if end == 0 {
            at.checked_sub(1)
        } else {
            Some(at + 1).filter(|&next| next < record.items.len())
        };
        match neighbour.map(|index| record.items[index]) {
            Some(Item::Cell(cell)) => cell.ends[1 - end],
            Some(Item::Wire(id)) => self.system.conductors[id.index()].to,
            Some(Item::Joint(id)) => self.system.links[id.index()].b,
            None => record.ends[end].map_or(TerminalId(0), |(hub, port)| {
                self.circuit.hubs[hub].ports[port].terminal
            }),
        }
    }

    /// A whole chain, whose `end` is on the left.
    fn whole(&self, chain: usize, end: usize, left: End, right: End) -> Seg {
        Seg {
            chain: Some(chain),
            items: 0..self.chain(chain).items.len(),
            flipped: end == 1,
            left,
            right,
        }
    }

    /// The part of a broken-off chain from `end` to the reference on its right.
    fn near_part(&mut self, chain: usize, end: usize, left: End) -> Seg {
        let (items, reference) = self.break_from(chain, end);
        Seg {
            chain: Some(chain),
            items,
            flipped: end == 1,
            left,
            right: End::Ref(reference),
        }
    }

    /// The part of a broken-off chain, broken as seen from `end`, between the reference and the far end.
    fn far_part(&mut self, chain: usize, end: usize) -> (Range<usize>, usize) {
        self.break_from(chain, end);
        self.kept(chain, 1 - end)
    }

    /// The end from which a chain between two positive hubs is broken: the one nearer to a source.
    fn supply_end(&self, chain: usize) -> usize {
        let distance = |end: usize| {
            self.chain(chain).ends[end].map_or(usize::MAX, |(hub, _)| {
                self.roles.distance[hub].unwrap_or(usize::MAX - 1)
            })
        };
        usize::from(distance(1) < distance(0))
    }

    fn positive_rows(&mut self, index: usize) -> Grid {
        let mut grid = Grid::default();
        let starts = self.roles.starts[index].clone();
        grid.head = starts.first().copied();
        self.ring_rows(&mut grid, index);
        for start in starts {
            if grid.piece_of.contains_key(&start) {
                continue;
            }
            let mut stack = vec![self.frame(&mut grid, index, start)];
            while let Some(frame) = stack.last_mut() {
                let Some(&action) = frame.actions.get(frame.next) else {
                    stack.pop();
                    continue;
                };
                frame.next += 1;
                let piece = frame.piece;
                if let Some(child) = self.act(&mut grid, piece, action) {
                    let next = self.frame(&mut grid, index, child);
                    stack.push(next);
                }
            }
        }
        grid
    }

    /// Chains from a negative hub through a battery and loads straight back to a negative hub.
    fn ring_rows(&mut self, grid: &mut Grid, index: usize) {
        if index > 0
            && self.roles.starts[index]
                .first()
                .is_some_and(|&hub| self.roles.feed[hub].is_some())
        {
            return;
        }
        for chain in 0..self.circuit.chains.len() {
            let record = self.chain(chain);
            let [Some((a, a_port)), Some((b, b_port))] = record.ends else {
                continue;
            };
            let both = self.roles.negative[a] && self.roles.negative[b];
            if !both || !record.has_source() || self.placed[chain] != [false; 2] {
                continue;
            }
            let home = self.roles.root[a].map_or(0, |root| self.system_index(root));
            if home != index {
                continue;
            }
            // The negative of the battery stands on the left.
            let battery_end = record
                .cells()
                .find(|cell| cell.kind.is_source())
                .map_or(0, |cell| {
                    let first = self.circuit.poles[self.system.node_of(cell.ends[0]).index()];
                    usize::from(first == Pole::Positive)
                });
            let ends = [End::Hub(a, a_port), End::Hub(b, b_port)];
            let seg = self.whole(chain, battery_end, ends[battery_end], ends[1 - battery_end]);
            self.placed[chain] = [true; 2];
            grid.push(seg);
        }
    }

    fn system_index(&self, root: usize) -> usize {
        let mut roots: Vec<usize> = self.roles.root.iter().flatten().copied().collect();
        roots.sort_unstable();
        roots.dedup();
        roots.iter().position(|&known| known == root).unwrap_or(0)
    }

    /// Makes the piece of a hub and lists what it puts on its rows.
    fn frame(&mut self, grid: &mut Grid, index: usize, hub: usize) -> Frame {
        let piece = grid.pieces.len();
        grid.pieces.push(Piece {
            hub,
            first: usize::MAX,
            last: 0,
        });
        grid.piece_of.insert(hub, piece);
        let (mut lefts, mut rights) = (Vec::new(), Vec::new());
        let kind = self.roles.kinds[hub];
        let source = self.roles.sources.iter().position(|&known| known == hub);
        for port in 0..self.circuit.hubs[hub].ports.len() {
            let chains = self.circuit.hubs[hub].ports[port].chains.clone();
            if chains.is_empty() && matches!(kind, HubKind::Block | HubKind::Box) {
                rights.push((1, Action::Stub(port)));
            }
            for (chain, end) in chains {
                if self.placed[chain][end] {
                    continue;
                }
                let Some((far, far_port)) = self.chain(chain).ends[1 - end] else {
                    rights.push((1, Action::Right(chain, end, End::Open)));
                    continue;
                };
                if self.roles.negative[far] {
                    let battery = self.chain(chain).has_source() && !self.chain(chain).has_load();
                    if battery && source.is_some() {
                        lefts.push(Action::Left(chain, end, End::Hub(far, far_port)));
                    } else {
                        rights.push((1, Action::Right(chain, end, End::Hub(far, far_port))));
                    }
                    continue;
                }
                if self.roles.kinds[far] == HubKind::Tie {
                    if self.roles.grid[far] != index {
                        rights.push((1, Action::Broken(chain, end)));
                    }
                    continue;
                }
                if far == hub {
                    // Both ends land on one hub: broken off, each end naming the other.
                    rights.push((1, Action::Broken(chain, 0)));
                    rights.push((1, Action::Supply(chain, 0)));
                    self.placed[chain] = [true; 2];
                    continue;
                }
                let first = source.unwrap_or(self.roles.reach[hub].0);
                let (low, high) = self.roles.reach[far];
                // What earlier sources reach too stands first, what later ones reach last.
                let later = high > first && high != usize::MAX;
                let key = match (later, low < first) {
                    (true, _) => 2,
                    (false, false) => 1,
                    (false, true) => 0,
                };
                if self.roles.feed[hub] == Some(chain) {
                    if self.roles.grid[far] != index
                        && matches!(kind, HubKind::Box | HubKind::Splice)
                    {
                        lefts.push(Action::BrokenLeft(chain, 1 - end));
                    } else if self.roles.grid[far] != index {
                        rights.push((0, Action::Supply(chain, 1 - end)));
                    }
                } else if self.roles.feed[far] == Some(chain) {
                    if self.roles.grid[far] == index {
                        rights.push((key, Action::Child(chain, end, far)));
                    } else {
                        rights.push((key, Action::Broken(chain, end)));
                    }
                } else if self.roles.grid[far] == index {
                    // The hub that comes second makes the row.
                    if let Some(&other) = grid.piece_of.get(&far) {
                        // Power comes from the left: a source stands left of the switch that it feeds.
                        let rank = |hub: usize| {
                            let kind = self.roles.kinds[hub];
                            (
                                self.roles.distance[hub],
                                matches!(kind, HubKind::Box | HubKind::Block),
                            )
                        };
                        if rank(far) > rank(hub) {
                            rights.push((
                                key,
                                Action::Right(chain, end, End::Piece(other, far_port)),
                            ));
                        } else {
                            lefts.push(Action::Left(chain, end, End::Piece(other, far_port)));
                        }
                    }
                } else {
                    let supply = self.supply_end(chain);
                    if supply == end {
                        rights.push((key, Action::Broken(chain, end)));
                    } else if kind == HubKind::Block {
                        rights.push((key, Action::Supply(chain, supply)));
                    } else {
                        lefts.push(Action::BrokenLeft(chain, supply));
                    }
                }
            }
        }
        if kind != HubKind::Block {
            rights.sort_by_key(|&(key, _)| key);
        }
        // A supply from another grid opens the ladder.
        rights.sort_by_key(|(_, action)| !matches!(action, Action::Supply(..)));
        let mut actions = Vec::with_capacity(lefts.len() + rights.len());
        let mut right = rights.into_iter();
        for left in lefts {
            actions.push(left);
            actions.extend(right.next().map(|(_, action)| action));
        }
        actions.extend(right.map(|(_, action)| action));
        Frame {
            piece,
            actions,
            next: 0,
        }
    }

    /// Puts one row into the grid; gives the hub that follows on it.
    fn act(&mut self, grid: &mut Grid, piece: usize, action: Action) -> Option<usize> {
        let port_at = |planner: &Self, chain: usize, end: usize| {
            planner.chain(chain).ends[end].map_or(0, |(_, port)| port)
        };
        match action {
            Action::Stub(port) => grid.push(Seg {
                chain: None,
                items: 0..0,
                flipped: false,
                left: End::Piece(piece, port),
                right: End::Open,
            }),
            Action::Right(chain, end, to) => {
                self.placed[chain] = [true; 2];
                let left = End::Piece(piece, port_at(self, chain, end));
                let seg = self.whole(chain, end, left, to);
                grid.push(seg);
            }
            Action::Left(chain, end, from) => {
                self.placed[chain] = [true; 2];
                let right = End::Piece(piece, port_at(self, chain, end));
                let seg = self.whole(chain, 1 - end, from, right);
                grid.push(seg);
            }
            Action::Child(chain, end, hub) => {
                self.placed[chain] = [true; 2];
                let left = End::Piece(piece, port_at(self, chain, end));
                let far_port = port_at(self, chain, 1 - end);
                // The child's piece is the next one made.
                let seg = self.whole(chain, end, left, End::Piece(grid.pieces.len(), far_port));
                grid.push(seg);
                grid.children.insert(hub);
                return Some(hub);
            }
            Action::Broken(chain, end) => {
                self.placed[chain][end] = true;
                let left = End::Piece(piece, port_at(self, chain, end));
                let seg = self.near_part(chain, end, left);
                if let Some((far, _)) = self.chain(chain).ends[1 - end]
                    && self.roles.feed[far] == Some(chain)
                {
                    grid.feeders.insert(self.roles.grid[far], grid.segs.len());
                }
                grid.push(seg);
            }
            Action::Supply(chain, supply) => {
                self.placed[chain][1 - supply] = true;
                let (items, reference) = self.far_part(chain, supply);
                let left = End::Piece(piece, port_at(self, chain, 1 - supply));
                if grid.supply.is_none() {
                    grid.supply = Some(grid.segs.len());
                }
                grid.push(Seg {
                    chain: Some(chain),
                    items,
                    flipped: supply == 0,
                    left,
                    right: End::Ref(reference),
                });
            }
            Action::BrokenLeft(chain, supply) => {
                self.placed[chain][1 - supply] = true;
                let (items, reference) = self.far_part(chain, supply);
                let right = End::Piece(piece, port_at(self, chain, 1 - supply));
                grid.push(Seg {
                    chain: Some(chain),
                    items,
                    flipped: supply == 1,
                    left: End::Ref(reference),
                    right,
                });
            }
        }
        None
    }

    /// Places a part that ties several sources together between the bars of those sources.
    fn tie(&mut self, grid: &mut Grid, hub: usize) {
        let mut positive = Vec::new();
        let mut negative = Vec::new();
        let mut away = Vec::new();
        let mut stubs = Vec::new();
        let index = self.roles.grid[hub];
        for (port, record) in self.circuit.hubs[hub].ports.iter().enumerate() {
            if record.chains.is_empty() {
                stubs.push(port);
            }
            for &(chain, end) in &record.chains {
                if self.placed[chain][end] {
                    continue;
                }
                match self.chain(chain).ends[1 - end] {
                    Some((far, far_port)) if far != hub && self.roles.negative[far] => {
                        negative.push((chain, end, port, End::Hub(far, far_port)));
                    }
                    Some((far, far_port))
                        if far != hub
                            && self.broken[chain].is_none()
                            && grid.piece_of.contains_key(&far)
                            && self.roles.grid[far] == index =>
                    {
                        positive.push((chain, end, port, (grid.piece_of[&far], far_port)));
                    }
                    Some(_) => away.push((chain, end, port)),
                    None => negative.push((chain, end, port, End::Open)),
                }
            }
        }
        grid.fit_spans();
        let depth = grid.depths();
        let place = self.tie_place(grid, hub, &positive, &depth);
        let piece = grid.pieces.len();
        grid.pieces.push(Piece {
            hub,
            first: usize::MAX,
            last: 0,
        });
        grid.piece_of.insert(hub, piece);
        grid.head.get_or_insert(hub);
        let (mut at, on_right) = place.unwrap_or((grid.rows.len(), true));
        let mut order: Vec<usize> = (0..positive.len()).collect();
        if place.is_some() {
            // Bars above the gap reach down into it, the nearest first; bars below reach up, the nearest last.
            order.sort_by_key(|&entry| {
                let (_, _, port, (bar, _)) = positive[entry];
                let near = if on_right {
                    i64::MAX - i64::try_from(depth[bar]).unwrap_or(0)
                } else {
                    i64::try_from(depth[bar]).unwrap_or(0)
                };
                if grid.pieces[bar].last < at {
                    (0, near, port)
                } else {
                    (1, -near, port)
                }
            });
        }
        let top = at;
        for &entry in &order {
            let (chain, end, port, (bar, bar_port)) = positive[entry];
            self.placed[chain] = [true; 2];
            let here = End::Piece(piece, port);
            let there = End::Piece(bar, bar_port);
            let seg = match (place.is_some(), on_right) {
                (true, true) => self.whole(chain, 1 - end, there, here),
                (true, false) => self.whole(chain, end, here, there),
                (false, _) => {
                    let seg = self.near_part(chain, end, here);
                    let (items, reference) = self.far_part(chain, end);
                    let row = grid.pieces[bar].last + 1;
                    grid.insert(
                        row,
                        Seg {
                            chain: Some(chain),
                            items,
                            flipped: end == 0,
                            left: there,
                            right: End::Ref(reference),
                        },
                    );
                    at += usize::from(row <= at);
                    seg
                }
            };
            grid.insert(at, seg);
            at += 1;
        }
        let middle = if place.is_some() && order.len() > 1 && on_right {
            top + 1
        } else {
            at
        };
        for (step, (chain, end, port, to)) in negative.into_iter().enumerate() {
            self.placed[chain] = [true; 2];
            let here = End::Piece(piece, port);
            let seg = if place.is_some() && (!on_right || order.len() > 1) && to != End::Open {
                self.whole(chain, 1 - end, to, here)
            } else {
                self.whole(chain, end, here, to)
            };
            grid.insert(middle + step, seg);
            at += 1;
        }
        for (chain, end, port) in away {
            let far_ready = self.broken[chain].is_some();
            self.placed[chain][end] = true;
            let here = End::Piece(piece, port);
            let seg = if far_ready {
                // The other end was broken off when its own grid was made.
                let (items, reference) = self.far_part(chain, 1 - end);
                Seg {
                    chain: Some(chain),
                    items,
                    flipped: end == 1,
                    left: here,
                    right: End::Ref(reference),
                }
            } else {
                self.near_part(chain, end, here)
            };
            grid.insert(at, seg);
            at += 1;
        }
        for port in stubs {
            grid.insert(
                at,
                Seg {
                    chain: None,
                    items: 0..0,
                    flipped: false,
                    left: End::Piece(piece, port),
                    right: End::Open,
                },
            );
            at += 1;
        }
    }

    /// The gap between two rows in which a part sees all the bars it ties, and whether it stands right of them.
    fn tie_place(
        &self,
        grid: &Grid,
        hub: usize,
        bars: &[(usize, usize, usize, (usize, usize))],
        depth: &[usize],
    ) -> Option<(usize, bool)> {
        if bars.is_empty() || grid.rows.len() > 400 {
            return None;
        }
        let kind = self.system.components[self.circuit.hubs[hub].component.index()].kind;
        let right_first = matches!(kind, ComponentKind::Combiner | ComponentKind::Converter);
        let mut best: Option<(usize, usize, bool)> = None;
        for on_right in [right_first, !right_first] {
            for gap in 0..=grid.rows.len() {
                let mut cost = 0;
                let mut free = true;
                for &(_, _, _, (bar, _)) in bars {
                    let piece = grid.pieces[bar];
                    // Rows that the bar must pass to reach the gap.
                    let rows = if piece.first == usize::MAX {
                        // A bar without rows yet goes wherever its first one is.
                        0..0
                    } else if gap > piece.last {
                        piece.last + 1..gap
                    } else if gap <= piece.first {
                        gap..piece.first
                    } else {
                        0..0
                    };
                    cost += rows.len();
                    free &= rows
                        .into_iter()
                        .all(|row| grid.clear_at(row, depth[bar], depth));
                    // Bars that stand in the gap between this one and the part.
                    free &= grid.pieces.iter().enumerate().all(|(other, piece)| {
                        let stands = piece.first < gap && piece.last >= gap;
                        let between = if on_right {
                            depth[other] > depth[bar]
                                && bars.iter().any(|&(_, _, _, (known, _))| known == other)
                        } else {
                            depth[other] < depth[bar]
                        };
                        other == bar || !stands || !between
                    });
                }
                if free && best.is_none_or(|(least, _, _)| cost < least) {
                    best = Some((cost, gap, on_right));
                }
            }
            if best.is_some() {
                break;
            }
        }
        best.map(|(_, gap, on_right)| (gap, on_right))
    }

    /// The grid that each negative hub is drawn in: where most of its rows are; its system's first for a root.
    fn negative_homes(&self, grids: &[Grid]) -> Homes {
        let count = self.circuit.hubs.len();
        let mut home = vec![0; count];
        let mut order: Vec<usize> = (0..count).filter(|&hub| self.roles.negative[hub]).collect();
        order.sort_by_key(|&hub| (self.roles.depth[hub], hub));
        for hub in order {
            let Some((_, parent)) = self.roles.parent[hub] else {
                home[hub] = self.roles.root[hub].map_or(0, |root| self.system_index(root));
                continue;
            };
            // A battery that returns to where it came from is drawn with its system.
            let mut chains = self.circuit.hubs[hub]
                .ports
                .iter()
                .flat_map(|port| &port.chains);
            let in_ring = chains.any(|&(chain, end)| {
                let far = self.chain(chain).ends[1 - end];
                self.chain(chain).has_source()
                    && far.is_some_and(|(far, _)| self.roles.negative[far])
            });
            if in_ring {
                home[hub] = self.roles.root[hub].map_or(0, |root| self.system_index(root));
                continue;
            }
            let mut votes: BTreeMap<usize, usize> = BTreeMap::new();
            for &(chain, end) in self.circuit.hubs[hub]
                .ports
                .iter()
                .flat_map(|port| &port.chains)
            {
                if let Some((far, _)) = self.chain(chain).ends[1 - end]
                    && !self.roles.negative[far]
                {
                    *votes.entry(self.roles.grid[far]).or_default() += 1;
                }
            }
            let best = votes
                .iter()
                .max_by_key(|(grid, votes)| (**votes, std::cmp::Reverse(**grid)));
            home[hub] = best.map_or(home[parent], |(grid, _)| *grid);
        }
        let mut joined = std::collections::BTreeSet::new();
        for (index, grid) in grids.iter().enumerate() {
            for seg in &grid.segs {
                if let End::Hub(hub, _) = seg.right
                    && self.roles.kinds[hub].elastic()
                {
                    joined.insert((index, hub));
                }
            }
        }
        Homes { grid: home, joined }
    }

    /// Breaks off rungs to a hub that is one point and drawn in another grid.
    fn break_foreign(&mut self, grid: &mut Grid, index: usize, homes: &Homes) {
        for seg in 0..grid.segs.len() {
            for left in [true, false] {
                let record = &grid.segs[seg];
                let end = if left { record.left } else { record.right };
                if let (End::Hub(hub, _), Some(chain)) = (end, record.chain)
                    && !self.roles.kinds[hub].elastic()
                    && homes.grid[hub] != index
                    && self.broken[chain].is_none()
                {
                    self.break_off(grid, seg, left, chain);
                }
            }
        }
    }

    /// Adds the rows that negative hubs have of their own: returns, and what comes from other grids.
    fn negative_rows(&mut self, grid: &mut Grid, index: usize, homes: &Homes) {
        let mut hubs: Vec<usize> = (0..self.circuit.hubs.len())
            .filter(|&hub| self.roles.negative[hub] && homes.grid[hub] == index)
            .collect();
        hubs.sort_by_key(|&hub| (std::cmp::Reverse(self.roles.depth[hub]), hub));
        for hub in hubs {
            let mut last = grid.last_row_of(hub);
            for port in 0..self.circuit.hubs[hub].ports.len() {
                for (chain, end) in self.circuit.hubs[hub].ports[port].chains.clone() {
                    let here = End::Hub(hub, port);
                    let far = self.chain(chain).ends[1 - end];
                    let row = match far {
                        None if !self.placed[chain][end] => {
                            Some(self.whole(chain, 1 - end, End::Open, here))
                        }
                        Some((far, _)) if self.roles.negative[far] && far != hub => {
                            self.return_row(grid, index, homes, (hub, chain, end, far), here)
                        }
                        Some((far, far_port)) if far == hub && !self.placed[chain][end] => {
                            Some(self.whole(chain, 1 - end, End::Hub(hub, far_port), here))
                        }
                        Some(_) if self.broken[chain].is_some() && !self.placed[chain][end] => {
                            let (items, reference) = self.far_part(chain, 1 - end);
                            Some(Seg {
                                chain: Some(chain),
                                items,
                                flipped: end == 0,
                                left: End::Ref(reference),
                                right: here,
                            })
                        }
                        _ => None,
                    };
                    let Some(seg) = row else { continue };
                    self.placed[chain][end] = true;
                    if !matches!(seg.left, End::Ref(_)) && !matches!(seg.right, End::Ref(_)) {
                        self.placed[chain] = [true; 2];
                    }
                    // A single terminal keeps its rows together.
                    let from_elsewhere = matches!(seg.left, End::Ref(_)) && seg.right == here;
                    let beside = self
                        .feeder_beside(grid, homes, far)
                        .or(grid.supply.filter(|_| from_elsewhere))
                        .filter(|_| self.roles.kinds[hub].elastic())
                        .and_then(|feeder| grid.row_of(feeder));
                    let at = match (beside, last) {
                        (Some(row), _) | (None, Some(row)) => row + 1,
                        (None, None) => grid.rows.len(),
                    };
                    grid.insert(at, seg);
                    last = grid.last_row_of(hub);
                }
            }
        }
    }

    /// The feeder row to the grid that a return comes from.
    fn feeder_beside(
        &self,
        grid: &Grid,
        homes: &Homes,
        far: super::circuit::ChainEnd,
    ) -> Option<usize> {
        let (far, _) = far?;
        self.roles.negative[far]
            .then(|| grid.feeders.get(&homes.grid[far]).copied())
            .flatten()
    }

    /// The row of a chain between two negative hubs, as it is drawn at one of them.
    fn return_row(
        &mut self,
        grid: &Grid,
        index: usize,
        homes: &Homes,
        (hub, chain, end, far): (usize, usize, usize, usize),
        here: End,
    ) -> Option<Seg> {
        if self.placed[chain][end] {
            return None;
        }
        let upward = self.roles.parent[hub] == Some((chain, far));
        let downward = self.roles.parent[far] == Some((chain, hub));
        let far_port = self.chain(chain).ends[1 - end].map_or(0, |(_, port)| port);
        let broken = |child: usize| self.cuts.returns.contains(&child);
        let together = homes.grid[far] == index;
        let has_bar = self.roles.kinds[far].elastic() && grid.last_row_of(far).is_some();
        if upward && (together || has_bar) && !broken(hub) {
            return Some(self.whole(chain, end, here, End::Hub(far, far_port)));
        }
        let joined = homes.joined.contains(&(homes.grid[far], hub));
        if downward && (together || joined) && !broken(far) {
            // The child draws the whole chain, here or to a bar of this hub in its own grid.
            return None;
        }
        // Leads left out of the bar, into the row in which a ladder's supply comes in.
        let seg = if upward || self.broken[chain].is_none() && !downward {
            let seg = self.near_part(chain, end, here);
            Seg {
                left: seg.right,
                right: here,
                flipped: !seg.flipped,
                ..seg
            }
        } else {
            let (items, reference) = self.far_part(chain, 1 - end);
            Seg {
                chain: Some(chain),
                items,
                flipped: end == 0,
                left: End::Ref(reference),
                right: here,
            }
        };
        Some(seg)
    }

    /// Breaks a segment off before its end on one side, where a hub stands that it cannot reach.
    fn break_off(&mut self, grid: &mut Grid, seg: usize, left: bool, chain: usize) {
        let record = &grid.segs[seg];
        // The end of the chain that stays fixed.
        let kept = match (left, record.flipped) {
            (false, false) | (true, true) => 0,
            (false, true) | (true, false) => 1,
        };
        let (items, reference) = self.break_from(chain, kept);
        self.placed[chain][1 - kept] = false;
        let record = &mut grid.segs[seg];
        record.items = items;
        if left {
            record.left = End::Ref(reference);
        } else {
            record.right = End::Ref(reference);
        }
    }

    /// Chains that no grid holds: open on both ends, or between parts that nothing feeds.
    fn loose_rows(&mut self, grid: &mut Grid) {
        for hub in (0..self.circuit.hubs.len()).filter(|&hub| self.roles.idle[hub]) {
            let piece = grid.pieces.len();
            grid.pieces.push(Piece {
                hub,
                first: usize::MAX,
                last: 0,
            });
            let ports = match self.roles.kinds[hub] {
                HubKind::Block | HubKind::Box | HubKind::Tie => self.circuit.hubs[hub].ports.len(),
                _ => 1,
            };
            for port in 0..ports {
                grid.push(Seg {
                    chain: None,
                    items: 0..0,
                    flipped: false,
                    left: End::Piece(piece, port),
                    right: End::Open,
                });
            }
        }
        for chain in 0..self.circuit.chains.len() {
            if self.placed[chain] == [false; 2] && self.chain(chain).ends == [None, None] {
                let seg = self.whole(chain, 0, End::Open, End::Open);
                self.placed[chain] = [true; 2];
                grid.push(seg);
            }
        }
    }

    /// Draws what no ladder has drawn: each end of a chain at its own hub, broken off in between.
    fn leftovers(&mut self, grids: &mut [Grid], homes: &Homes) {
        for chain in 0..self.circuit.chains.len() {
            for end in 0..2 {
                let Some((hub, port)) = self.chain(chain).ends[end] else {
                    continue;
                };
                if std::mem::replace(&mut self.placed[chain][end], true) {
                    continue;
                }
                let open = self.chain(chain).ends[1 - end].is_none();
                let (items, far) = if open {
                    (0..self.chain(chain).items.len(), End::Open)
                } else {
                    let (items, reference) = self.break_from(chain, end);
                    (items, End::Ref(reference))
                };
                let negative = self.roles.negative[hub];
                let index = if negative {
                    homes.grid[hub]
                } else {
                    self.roles.grid[hub]
                };
                let grid = &mut grids[index];
                let here = if negative {
                    End::Hub(hub, port)
                } else {
                    let next = grid.pieces.len();
                    let piece = *grid.piece_of.entry(hub).or_insert(next);
                    if piece == next {
                        grid.pieces.push(Piece {
                            hub,
                            first: usize::MAX,
                            last: 0,
                        });
                    }
                    End::Piece(piece, port)
                };
                let beside = grid.rows.iter().rposition(|row| {
                    row.iter().any(|&seg| {
                        let seg = &grid.segs[seg];
                        [seg.left, seg.right]
                            .into_iter()
                            .any(|end| match (end, here) {
                                (End::Piece(a, _), End::Piece(b, _))
                                | (End::Hub(a, _), End::Hub(b, _)) => a == b,
                                _ => false,
                            })
                    })
                });
                let row = beside.map_or(grid.rows.len(), |row| row + 1);
                grid.insert(
                    row,
                    Seg {
                        chain: Some(chain),
                        items,
                        flipped: (end == 1) != negative,
                        left: if negative { far } else { here },
                        right: if negative { here } else { far },
                    },
                );
            }
        }
    }

    /// Breaks long segments in two that stand on two rows, so that the grid gets narrower.
    fn fold_rows(&mut self, grid: &mut Grid) {
        let folded: Vec<usize> = (0..grid.segs.len())
            .filter(|&seg| {
                let record = &grid.segs[seg];
                let fixed = |end: End| matches!(end, End::Piece(..) | End::Hub(..));
                record.chain.is_some_and(|chain| {
                    self.cuts.folds.contains_key(&chain) && self.broken[chain].is_none()
                }) && fixed(record.left)
                    && fixed(record.right)
            })
            .collect();
        for seg in folded {
            let record = grid.segs[seg].clone();
            let (Some(chain), Some(row)) = (record.chain, grid.row_of(seg)) else {
                continue;
            };
            let kept = usize::from(record.flipped);
            let near = self.near_part(chain, kept, record.left);
            let (items, reference) = self.far_part(chain, kept);
            grid.segs[seg] = near;
            grid.fit_spans();
            // What returns to the negative goes on below everything else of its bar.
            let below = match (record.left, record.right) {
                (End::Piece(piece, _), End::Hub(..)) => grid.pieces[piece].last,
                _ => row,
            };
            grid.insert(
                below.max(row) + 1,
                Seg {
                    chain: Some(chain),
                    items,
                    flipped: record.flipped,
                    left: End::Ref(reference),
                    right: record.right,
                },
            );
        }
    }

    /// Chooses the pieces of the negative hubs, nested so that no row crosses a bar.
    ///
    /// A hub that is one terminal or one splice is drawn once: what does not reach it there is broken off.
    fn negative_pieces(&mut self, grid: &mut Grid, index: usize, homes: &Homes) {
        for turn in 0..=MOST_TURNS {
            let mut trial = grid.clone();
            self.assign_pieces(&mut trial, index, homes);
            let strays = self.stray_ends(&trial);
            if strays.is_empty() || turn == MOST_TURNS {
                *grid = trial;
                return;
            }
            for stray in strays {
                self.send_home(grid, stray);
            }
        }
    }

    /// Ends of segments at second pieces of hubs that have but one.
    fn stray_ends(&self, trial: &Grid) -> Vec<Stray> {
        let mut uses: BTreeMap<usize, BTreeMap<usize, Vec<(usize, bool)>>> = BTreeMap::new();
        for (index, seg) in trial.segs.iter().enumerate() {
            for (left, end) in [(true, seg.left), (false, seg.right)] {
                if let End::Piece(piece, _) = end {
                    let hub = trial.pieces[piece].hub;
                    if self.roles.negative[hub] && !self.roles.kinds[hub].elastic() {
                        uses.entry(hub)
                            .or_default()
                            .entry(piece)
                            .or_default()
                            .push((index, left));
                    }
                }
            }
        }
        let mut strays = Vec::new();
        for pieces in uses.into_values().filter(|pieces| pieces.len() > 1) {
            let main = pieces
                .iter()
                .max_by_key(|(piece, ends)| (ends.len(), std::cmp::Reverse(**piece)))
                .map(|(piece, _)| *piece);
            let Some(main) = main else { continue };
            // By a return a bar is left on its right, so all else comes from the left.
            let returns = |seg: usize| {
                let negative = |end: End| match end {
                    End::Piece(piece, _) => self.roles.negative[trial.pieces[piece].hub],
                    _ => false,
                };
                let seg_ends = [trial.segs[seg].left, trial.segs[seg].right];
                seg_ends.into_iter().all(negative) && !self.is_ring(trial, seg)
            };
            let main_is_left = pieces[&main]
                .iter()
                .all(|&(seg, left)| left && !returns(seg));
            // A bar ends with the row by which it returns, so what is added stands before that.
            let ends = &pieces[&main];
            let kept = ends.iter().rfind(|&&(_, left)| left == main_is_left);
            let Some(&(beside, at_left)) = kept.or(ends.first()) else {
                continue;
            };
            let before = at_left != main_is_left;
            for (_, ends) in pieces.into_iter().filter(|(piece, _)| *piece != main) {
                strays.extend(ends.into_iter().map(|(seg, left)| Stray {
                    seg,
                    left,
                    beside,
                    before,
                    main_is_left,
                }));
            }
        }
        strays
    }

    /// Breaks a segment off at one end and puts the rest of it beside its hub's other rows.
    fn send_home(&mut self, grid: &mut Grid, stray: Stray) {
        let Stray {
            seg,
            left,
            beside,
            before,
            main_is_left,
        } = stray;
        let record = grid.segs[seg].clone();
        let end = if left { record.left } else { record.right };
        let (Some(chain), End::Hub(hub, port)) = (record.chain, end) else {
            return;
        };
        let row = grid.row_of(seg);
        let rest = if self.broken[chain].is_some() {
            // The other end is broken off already: the whole row moves.
            let (Some(row), End::Ref(_)) = (row, if left { record.right } else { record.left })
            else {
                return;
            };
            if grid.rows[row].len() > 1 {
                return;
            }
            grid.rows.remove(row);
            if left == main_is_left {
                record
            } else {
                Seg {
                    left: record.right,
                    right: record.left,
                    flipped: !record.flipped,
                    ..record
                }
            }
        } else {
            self.break_off(grid, seg, left, chain);
            // The end of the chain that stays where it was.
            let kept = usize::from(record.flipped != left);
            let (items, reference) = self.far_part(chain, kept);
            let here = End::Hub(hub, port);
            let reference = End::Ref(reference);
            Seg {
                chain: Some(chain),
                items,
                flipped: (kept == 1) != main_is_left,
                left: if main_is_left { here } else { reference },
                right: if main_is_left { reference } else { here },
            }
        };
        let row = grid
            .row_of(beside)
            .map_or(grid.rows.len(), |row| row + usize::from(!before));
        grid.insert(row, rest);
    }

    fn assign_pieces(&self, grid: &mut Grid, index: usize, homes: &Homes) {
        for left_side in [false, true] {
            // Open pieces, outermost first.
            let mut stack: Vec<usize> = Vec::new();
            let mut largest: BTreeMap<usize, (usize, usize)> = BTreeMap::new();
            for row in 0..grid.rows.len() {
                for at in 0..grid.rows[row].len() {
                    let seg = grid.rows[row][at];
                    let ends = [grid.segs[seg].left, grid.segs[seg].right];
                    // On the right: the bar a return leaves by, then the bar it goes to.
                    let wanted: [Option<(usize, usize, bool)>; 2] = if left_side {
                        match ends {
                            [End::Hub(hub, port), _] => [None, Some((hub, port, true))],
                            _ => [None, None],
                        }
                    } else {
                        match ends {
                            [End::Hub(a, a_port), End::Hub(b, b_port)]
                                if !self.is_ring(grid, seg) =>
                            {
                                [Some((a, a_port, true)), Some((b, b_port, false))]
                            }
                            [_, End::Hub(hub, port)] => [None, Some((hub, port, false))],
                            _ => [None, None],
                        }
                    };
                    for (hub, port, is_left) in wanted.into_iter().flatten() {
                        let known = stack
                            .iter()
                            .rposition(|&piece| grid.pieces[piece].hub == hub);
                        let piece = if let Some(depth) = known {
                            stack.truncate(depth + 1);
                            stack[depth]
                        } else {
                            let piece = grid.pieces.len();
                            grid.pieces.push(Piece {
                                hub,
                                first: row,
                                last: row,
                            });
                            for &outer in &stack {
                                grid.order.push(if left_side {
                                    (outer, piece)
                                } else {
                                    (piece, outer)
                                });
                            }
                            stack.push(piece);
                            piece
                        };
                        grid.pieces[piece].last = row;
                        let end = End::Piece(piece, port);
                        if is_left {
                            grid.segs[seg].left = end;
                        } else {
                            grid.segs[seg].right = end;
                        }
                        // A return leaves its bar to the right: that bar is done before the next one is reached.
                        if !left_side && is_left {
                            stack.pop();
                        }
                        let size = largest.entry(hub).or_insert((0, piece));
                        let rows = grid.pieces[piece].last + 1 - grid.pieces[piece].first;
                        if rows > size.0 {
                            *size = (rows, piece);
                        }
                    }
                }
            }
            // The main negative of the system gives the rails.
            if let Some(head) = (0..self.circuit.hubs.len()).find(|&hub| {
                self.roles.root[hub] == Some(hub)
                    && homes.grid[hub] == index
                    && largest.contains_key(&hub)
            }) {
                grid.rails[usize::from(!left_side)] = largest.get(&head).map(|&(_, piece)| piece);
            }
        }
        // Bars that share no row need no order.
        let pieces = &grid.pieces;
        let meet = |a: usize, b: usize| {
            pieces[a].first <= pieces[b].last && pieces[b].first <= pieces[a].last
        };
        grid.order.retain(|&(left, right)| meet(left, right));
        for (side, rail) in grid.rails.into_iter().enumerate() {
            let Some(rail) = rail else { continue };
            let outer = |&(left, right): &(usize, usize)| {
                if side == 0 {
                    right == rail
                } else {
                    left == rail
                }
            };
            let passed = (0..grid.segs.len()).any(|seg| {
                let (left, right) = grid.bars_of(seg);
                let beyond = if side == 0 {
                    right == Some(rail)
                } else {
                    left == Some(rail)
                };
                beyond && left.is_some() && right.is_some()
            });
            if passed || grid.order.iter().any(outer) {
                grid.rails[side] = None;
                continue;
            }
            for piece in (0..grid.pieces.len()).filter(|&piece| piece != rail) {
                grid.order.push(if side == 0 {
                    (rail, piece)
                } else {
                    (piece, rail)
                });
            }
        }
    }

    /// A chain from the left bar of a negative hub through everything to its right bar.
    fn is_ring(&self, grid: &Grid, seg: usize) -> bool {
        grid.segs[seg]
            .chain
            .is_some_and(|chain| self.chain(chain).has_source() || self.chain(chain).has_load())
    }

    /// Turns or breaks segments that would want a bar both left and right of another.
    fn untangle(&mut self, grid: &mut Grid) {
        if grid.is_ordered() {
            return;
        }
        let mut after: Vec<Vec<usize>> = vec![Vec::new(); grid.pieces.len()];
        let orders = std::mem::take(&mut grid.order);
        for (left, right) in orders {
            if left != right && !leads_to(&after, right, left) {
                after[left].push(right);
                grid.order.push((left, right));
            }
        }
        for seg in 0..grid.segs.len() {
            let (Some(left), Some(right)) = grid.bars_of(seg) else {
                continue;
            };
            if left != right && !leads_to(&after, right, left) {
                after[left].push(right);
            } else if left != right && !leads_to(&after, left, right) {
                let record = &mut grid.segs[seg];
                std::mem::swap(&mut record.left, &mut record.right);
                record.flipped = !record.flipped;
                after[right].push(left);
            } else {
                self.part(grid, seg);
            }
        }
    }

    /// Breaks a segment in two that stand on two rows.
    fn part(&mut self, grid: &mut Grid, seg: usize) {
        let record = grid.segs[seg].clone();
        let (Some(chain), Some(row)) = (record.chain, grid.row_of(seg)) else {
            return;
        };
        if self.broken[chain].is_some() {
            return;
        }
        let kept = usize::from(record.flipped);
        grid.segs[seg] = self.near_part(chain, kept, record.left);
        let (items, reference) = self.far_part(chain, kept);
        grid.insert(
            row + 1,
            Seg {
                chain: Some(chain),
                items,
                flipped: record.flipped,
                left: End::Ref(reference),
                right: record.right,
            },
        );
        grid.fit_spans();
    }

    /// Orders the bars from left to right, and breaks off what would still cross a bar.
    fn straighten(&mut self, grid: &mut Grid) {
        // Each pass adds orders or breaks segments; both run out.
        for _ in 0..=grid.segs.len() + grid.pieces.len() {
            grid.fit_spans();
            let crossings = grid.crossings(&grid.depths());
            if crossings.is_empty() {
                return;
            }
            let mut after = grid.followers();
            let mut broken = BTreeSet::new();
            for (seg, bar) in crossings {
                if broken.contains(&seg) {
                    continue;
                }
                let (Some(left), Some(right)) = grid.bars_of(seg) else {
                    continue;
                };
                if after[right].contains(&bar) || after[bar].contains(&left) {
                    continue;
                }
                if !leads_to(&after, bar, right) {
                    grid.order.push((right, bar));
                    after[right].push(bar);
                } else if !leads_to(&after, left, bar) {
                    grid.order.push((bar, left));
                    after[bar].push(left);
                } else {
                    // Both halves stay on their row, so the bars keep their order.
                    grid.order.push((left, right));
                    self.jump(grid, seg);
                    broken.insert(seg);
                }
            }
        }
    }

    /// Breaks a segment in the middle: each half keeps its bar, on the same row.
    fn jump(&mut self, grid: &mut Grid, seg: usize) {
        let record = grid.segs[seg].clone();
        let Some(chain) = record.chain else { return };
        if self.broken[chain].is_some() {
            // Already broken: let the free end go.
            grid.segs[seg].right = End::Open;
            return;
        }
        let kept = usize::from(record.flipped);
        let near = self.near_part(chain, kept, record.left);
        let (items, reference) = self.far_part(chain, kept);
        grid.segs[seg] = near;
        let far = grid.segs.len();
        grid.segs.push(Seg {
            chain: Some(chain),
            items,
            flipped: record.flipped,
            left: End::Ref(reference),
            right: record.right,
        });
        if let Some(row) = grid.row_of(seg)
            && let Some(at) = grid.rows[row].iter().position(|&known| known == seg)
        {
            grid.rows[row].insert(at + 1, far);
        }
    }
}

/// Whether one bar must stand left of another.
fn leads_to(after: &[Vec<usize>], from: usize, to: usize) -> bool {
    let mut seen = vec![false; after.len()];
    let mut stack = vec![from];
    while let Some(piece) = stack.pop() {
        if piece == to {
            return true;
        }
        if !std::mem::replace(&mut seen[piece], true) {
            stack.extend(&after[piece]);
        }
    }
    false
}

impl Seg {
    fn has_load(&self, circuit: &Circuit) -> bool {
        self.chain.is_some_and(|chain| {
            circuit.chains[chain].items[self.items.clone()]
                .iter()
                .any(|item| matches!(item, Item::Cell(cell) if cell.kind.is_load()))
        })
    }
}

impl Grid {
    /// Adds a row at the end.
    fn push(&mut self, seg: Seg) {
        let row = self.rows.len();
        self.insert(row, seg);
    }

    /// Adds a row before another.
    fn insert(&mut self, row: usize, seg: Seg) {
        let index = self.segs.len();
        self.segs.push(seg);
        self.rows.insert(row.min(self.rows.len()), vec![index]);
        for piece in &mut self.pieces {
            if piece.first != usize::MAX && piece.first >= row {
                piece.first += 1;
            }
            if piece.first != usize::MAX && piece.last >= row {
                piece.last += 1;
            }
        }
    }

    fn row_of(&self, seg: usize) -> Option<usize> {
        self.rows.iter().position(|row| row.contains(&seg))
    }

    /// The last row that ends at a negative hub, from the right or the left.
    fn last_row_of(&self, hub: usize) -> Option<usize> {
        self.rows.iter().rposition(|row| {
            row.iter().any(|&seg| {
                let seg = &self.segs[seg];
                matches!(seg.right, End::Hub(known, _) if known == hub)
            })
        })
    }

    /// Whether a bar is that of a positive hub which another hub of the grid feeds.
    pub(super) fn fed_here(&self, piece: usize) -> bool {
        let hub = self.pieces[piece].hub;
        self.children.contains(&hub)
    }

    /// Sets each bar's first and last row.
    pub(super) fn fit_spans(&mut self) {
        for piece in &mut self.pieces {
            (piece.first, piece.last) = (usize::MAX, 0);
        }
        for (row, segs) in self.rows.iter().enumerate() {
            for &seg in segs {
                for end in [self.segs[seg].left, self.segs[seg].right] {
                    if let End::Piece(piece, _) = end {
                        let piece = &mut self.pieces[piece];
                        piece.first = piece.first.min(row);
                        piece.last = piece.last.max(row);
                    }
                }
            }
        }
    }

    fn bars_of(&self, seg: usize) -> (Option<usize>, Option<usize>) {
        let bar = |end: End| match end {
            End::Piece(piece, _) => Some(piece),
            _ => None,
        };
        (bar(self.segs[seg].left), bar(self.segs[seg].right))
    }

    /// Steps from the left that each bar stands at: more than that of every bar that must be left of it.
    pub(super) fn depths(&self) -> Vec<usize> {
        let count = self.pieces.len();
        let mut after: Vec<Vec<(usize, usize)>> = vec![Vec::new(); count];
        let mut waits = vec![0usize; count];
        let edges = self
            .segs
            .iter()
            .enumerate()
            .filter_map(|(index, seg)| {
                let (left, right) = self.bars_of(index);
                Some((left?, right?, 1 + seg.items.len()))
            })
            .chain(self.order.iter().map(|&(left, right)| (left, right, 1)));
        for (left, right, step) in edges {
            if left != right {
                after[left].push((right, step));
                waits[right] += 1;
            }
        }
        let mut depth = vec![0; count];
        let mut ready: VecDeque<usize> = (0..count).filter(|&piece| waits[piece] == 0).collect();
        while let Some(piece) = ready.pop_front() {
            for &(right, step) in &after[piece] {
                depth[right] = depth[right].max(depth[piece] + step);
                waits[right] -= 1;
                if waits[right] == 0 {
                    ready.push_back(right);
                }
            }
        }
        depth
    }

    /// Whether no bar would have to stand both left and right of another.
    fn is_ordered(&self) -> bool {
        let after = self.followers();
        let mut waits = vec![0usize; self.pieces.len()];
        for &right in after.iter().flatten() {
            waits[right] += 1;
        }
        let mut ready: Vec<usize> = (0..waits.len())
            .filter(|&piece| waits[piece] == 0)
            .collect();
        let mut done = 0;
        while let Some(piece) = ready.pop() {
            done += 1;
            for &right in &after[piece] {
                waits[right] -= 1;
                if waits[right] == 0 {
                    ready.push(right);
                }
            }
        }
        done == self.pieces.len()
    }

    /// The bars that must stand right of each bar.
    fn followers(&self) -> Vec<Vec<usize>> {
        let mut after: Vec<Vec<usize>> = vec![Vec::new(); self.pieces.len()];
        for seg in 0..self.segs.len() {
            if let (Some(left), Some(right)) = self.bars_of(seg) {
                after[left].push(right);
            }
        }
        for &(left, right) in &self.order {
            after[left].push(right);
        }
        after
    }

    /// Left and right limits of a segment in steps; free ends reach as far as their parts.
    fn reach(&self, seg: usize, depth: &[usize]) -> (usize, usize) {
        let length = 1 + self.segs[seg].items.len();
        match self.bars_of(seg) {
            (Some(left), Some(right)) => (depth[left], depth[right]),
            (Some(left), None) => (depth[left], depth[left] + length),
            (None, Some(right)) => (depth[right].saturating_sub(length), depth[right]),
            (None, None) => (0, length),
        }
    }

    /// Whether no segment of a row passes a place.
    fn clear_at(&self, row: usize, place: usize, depth: &[usize]) -> bool {
        self.rows[row].iter().all(|&seg| {
            let (left, right) = self.reach(seg, depth);
            !(left < place && place < right)
        })
    }

    /// Segments between two bars that cross a third, and that bar.
    fn crossings(&self, depth: &[usize]) -> Vec<(usize, usize)> {
        let mut found = Vec::new();
        let mut open: Vec<usize> = Vec::new();
        let mut starts: Vec<Vec<usize>> = vec![Vec::new(); self.rows.len()];
        for (piece, record) in self.pieces.iter().enumerate() {
            if record.first != usize::MAX {
                starts[record.first].push(piece);
            }
        }
        for (row, segs) in self.rows.iter().enumerate() {
            open.retain(|&piece| self.pieces[piece].last >= row);
            open.extend(&starts[row]);
            for &seg in segs {
                let (Some(left), Some(right)) = self.bars_of(seg) else {
                    continue;
                };
                found.extend(
                    open.iter()
                        .copied()
                        .filter(|&bar| {
                            bar != left
                                && bar != right
                                && (depth[left], left) < (depth[bar], bar)
                                && (depth[bar], bar) < (depth[right], right)
                        })
                        .map(|bar| (seg, bar)),
                );
            }
        }
        found
    }

    /// Puts neighbouring rows together where nothing on one is in the way of the other.
    fn merge_rows(&mut self, loaded: &[bool], single_references: bool) {
        self.fit_spans();
        let depth = self.depths();
        let mut merged: Vec<Vec<usize>> = Vec::with_capacity(self.rows.len());
        for row in std::mem::take(&mut self.rows) {
            let fits = merged.last().is_some_and(|above| {
                above.iter().all(|&a| {
                    row.iter()
                        // Loads stand in one column, so no row has two of them.
                        .all(|&b| {
                            !(loaded[a] && loaded[b])
                                && self.side_by_side(a, b, &depth, single_references)
                        })
                })
            });
            if let (true, Some(above)) = (fits, merged.last_mut()) {
                above.extend(row);
                above.sort_by_key(|&seg| self.reach(seg, &depth));
            } else {
                merged.push(row);
            }
        }
        self.rows = merged;
    }

    /// Whether two segments can share a row: one ends where the other begins, or before.
    fn side_by_side(&self, a: usize, b: usize, depth: &[usize], single_references: bool) -> bool {
        // The halves of a folded rung would be as wide as before.
        if self.segs[a].chain.is_some() && self.segs[a].chain == self.segs[b].chain {
            return false;
        }
        let hangs = |left: usize, right: usize| match (self.bars_of(left), self.bars_of(right)) {
            ((Some(one), None), (None, Some(two))) => (depth[one], one) < (depth[two], two),
            _ => false,
        };
        let (left, right) = if self.reach(a, depth) <= self.reach(b, depth) {
            (a, b)
        } else {
            (b, a)
        };
        let (_, left_bar) = self.bars_of(left);
        let (right_bar, _) = self.bars_of(right);
        match (left_bar, right_bar) {
            (Some(one), Some(two)) if one == two => true,
            (Some(one), Some(two)) => (depth[one], one) < (depth[two], two),
            (None, None) if single_references => false,
            // Two references face each other: their bars can stand as far apart as they need.
            (None, None) if hangs(left, right) => true,
            // A free end needs a little room before what follows.
            _ => self.reach(left, depth).1 < self.reach(right, depth).0,
        }
    }
}
