//! Which chain stands on which row, and which hub on which side of which: the drawing before it has measures.
//!
//! Every hub is an upright bar, every chain a level row between two bars, so that no wire needs a bend.
//! A boat is taken apart into grids: the sources with the main buses, and the ladder of each fuse block.
//! What no row can join without crossing a bar is broken off, and both ends name each other.

mod grid;
mod negative;
mod positive;
mod rest;
mod roles;
mod tangles;
mod ties;

use super::circuit::{Chain, Circuit, HubKind, Item};
use crate::system::{ConductorId, System, TerminalId};
use std::collections::{BTreeMap, BTreeSet};
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
    /// What lies there, where the drawing does not show it; by index into the circuit's list.
    pub(super) outer: Option<usize>,
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

impl Reference {
    /// One of two that name each other.
    fn pair(wire: Option<ConductorId>, far: TerminalId) -> Self {
        Self {
            wire,
            far,
            outer: None,
        }
    }
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
    /// The negative root of each system.
    systems: Vec<usize>,
    /// Number of grids, those of the systems first.
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
        let through = planner.through_rows();
        if !through.rows.is_empty() {
            grids.push(through);
        }
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
                self.refs.push(Reference::pair(wire, far));
                self.refs.push(Reference::pair(wire, near));
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
                self.refs.push(Reference::pair(None, here(1 - end)));
                self.refs.push(Reference::pair(None, near));
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

    /// What a chain is fixed to at an end without a hub: a reference to what is not drawn, or nothing.
    fn open_end(&mut self, chain: usize, end: usize) -> End {
        let Some(index) = self.chain(chain).outer[end] else {
            return End::Open;
        };
        let outer = &self.circuit.outer[index];
        let reference = self.refs.len();
        // References count two by two; the other end of this one is on no sheet.
        for outer_index in [Some(index), None] {
            self.refs.push(Reference {
                wire: outer.wire,
                far: outer.far,
                outer: outer_index,
            });
        }
        End::Ref(reference)
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
}
