//! Rows of the positive hubs: from the sources down the tree of feeders, each hub with what leaves it.

use super::{End, Grid, Piece, Planner, Seg};
use crate::drawing::circuit::{HubKind, Item};
use crate::drawing::scene::Pole;

/// What a hub puts on its left or its right, one row each.
#[derive(Clone, Copy, Debug)]
pub(super) enum Action {
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

pub(super) struct Frame {
    piece: usize,
    actions: Vec<Action>,
    next: usize,
}

impl Planner<'_> {
    pub(super) fn positive_rows(&mut self, index: usize) -> Grid {
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
    pub(super) fn ring_rows(&mut self, grid: &mut Grid, index: usize) {
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

    pub(super) fn system_index(&self, root: usize) -> usize {
        let roots = &self.roles.systems;
        roots.binary_search(&root).unwrap_or(0)
    }

    /// Makes the piece of a hub and lists what it puts on its rows.
    pub(super) fn frame(&mut self, grid: &mut Grid, index: usize, hub: usize) -> Frame {
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
                    let outside = self.open_end(chain, 1 - end);
                    // What comes from outside opens the ladder; into a box it comes from the left.
                    match (outside, self.comes_in(chain, end), kind) {
                        (End::Ref(_), true, HubKind::Box | HubKind::Splice | HubKind::Post) => {
                            lefts.push(Action::Left(chain, end, outside));
                        }
                        (End::Ref(_), true, _) => {
                            rights.push((0, Action::Right(chain, end, outside)));
                        }
                        _ => rights.push((1, Action::Right(chain, end, outside))),
                    }
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

    /// Whether a chain brings power to its hub, as its conductors say.
    fn comes_in(&self, chain: usize, end: usize) -> bool {
        let record = self.chain(chain);
        let wire = |item: &Item| match item {
            Item::Wire(id) => Some(*id),
            _ => None,
        };
        let (near, cell) = if end == 0 {
            (record.items.iter().find_map(wire), record.items.get(1))
        } else {
            let before = record.items.len().checked_sub(2);
            (
                record.items.iter().rev().find_map(wire),
                before.and_then(|at| record.items.get(at)),
            )
        };
        let Some(near) = near else { return false };
        let from = self.system.conductors[near.index()].from;
        let far = match cell {
            Some(Item::Cell(cell)) => cell.ends.contains(&from),
            _ => record.outer[1 - end].is_some_and(|outer| self.circuit.outer[outer].far == from),
        };
        far && !record.has_load()
    }

    /// Puts one row into the grid; gives the hub that follows on it.
    pub(super) fn act(&mut self, grid: &mut Grid, piece: usize, action: Action) -> Option<usize> {
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
}
