//! Rows of the negative hubs: where each is drawn, by which row it returns, and its bars.

use super::{End, Grid, Homes, Piece, Planner, Seg};
use crate::drawing::circuit::{ChainEnd, Item};
use std::collections::{BTreeMap, BTreeSet};

/// One end of a segment at a second piece of a hub that has but one.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stray {
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

impl Planner<'_> {
    /// The grid that each negative hub is drawn in: where most of its rows are; its system's first for a root.
    pub(super) fn negative_homes(&self, grids: &[Grid]) -> Homes {
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
        let mut joined = BTreeSet::new();
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
    pub(super) fn break_foreign(&mut self, grid: &mut Grid, index: usize, homes: &Homes) {
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
    pub(super) fn negative_rows(&mut self, grid: &mut Grid, index: usize, homes: &Homes) {
        let mut hubs: Vec<usize> = (0..self.circuit.hubs.len())
            .filter(|&hub| self.roles.negative[hub] && homes.grid[hub] == index)
            .collect();
        hubs.sort_by_key(|&hub| (std::cmp::Reverse(self.roles.depth[hub]), hub));
        let mut faced = BTreeSet::new();
        for hub in hubs {
            let mut last = grid.last_row_of(hub);
            for port in 0..self.circuit.hubs[hub].ports.len() {
                for (chain, end) in self.circuit.hubs[hub].ports[port].chains.clone() {
                    let here = End::Hub(hub, port);
                    let far = self.chain(chain).ends[1 - end];
                    let row = match far {
                        None if !self.placed[chain][end] => {
                            let outside = self.open_end(chain, 1 - end);
                            Some(self.whole(chain, 1 - end, outside, here))
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
                        .or_else(|| self.facing(grid, seg.left, &mut faced))
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

    /// The row that goes out to the part from which a return comes in; each such row once.
    fn facing(&self, grid: &Grid, left: End, faced: &mut BTreeSet<usize>) -> Option<usize> {
        let component = |end: End| match end {
            End::Ref(reference) => self.refs[reference].outer.map(|outer| {
                let far = self.circuit.outer[outer].far;
                self.system.terminals[far.index()].component
            }),
            _ => None,
        };
        let wanted = component(left)?;
        let found = (0..grid.segs.len()).find(|&seg| {
            component(grid.segs[seg].right) == Some(wanted) && !faced.contains(&seg)
        })?;
        faced.insert(found);
        Some(found)
    }

    /// The feeder row to the grid that a return comes from.
    pub(super) fn feeder_beside(&self, grid: &Grid, homes: &Homes, far: ChainEnd) -> Option<usize> {
        let (far, _) = far?;
        self.roles.negative[far]
            .then(|| grid.feeders.get(&homes.grid[far]).copied())
            .flatten()
    }

    /// The row of a chain between two negative hubs, as it is drawn at one of them.
    pub(super) fn return_row(
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
    pub(super) fn break_off(&mut self, grid: &mut Grid, seg: usize, left: bool, chain: usize) {
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

    /// Chooses the pieces of the negative hubs, nested so that no row crosses a bar.
    ///
    /// A hub that is one terminal or one splice is drawn once: what does not reach it there is broken off.
    pub(super) fn negative_pieces(&mut self, grid: &mut Grid, index: usize, homes: &Homes) {
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
    pub(super) fn stray_ends(&self, trial: &Grid) -> Vec<Stray> {
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
            // What touches a terminal stays with it before any wire does.
            let main = pieces
                .iter()
                .max_by_key(|(piece, ends)| {
                    let touching = ends.iter().filter(|end| self.touches(trial, **end));
                    (touching.count(), ends.len(), std::cmp::Reverse(**piece))
                })
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

    /// Whether a part on a segment touches the hub at its left or right end, with no conductor between.
    fn touches(&self, grid: &Grid, (seg, left): (usize, bool)) -> bool {
        let seg = &grid.segs[seg];
        let Some(chain) = seg.chain else {
            return false;
        };
        let items = &self.chain(chain).items[seg.items.clone()];
        let end = if left == seg.flipped {
            items.last()
        } else {
            items.first()
        };
        end.is_some_and(|item| !matches!(item, Item::Wire(_)))
    }

    /// Breaks a segment off at one end and puts the rest of it beside its hub's other rows.
    pub(super) fn send_home(&mut self, grid: &mut Grid, stray: Stray) {
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

    pub(super) fn assign_pieces(&self, grid: &mut Grid, index: usize, homes: &Homes) {
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
    pub(super) fn is_ring(&self, grid: &Grid, seg: usize) -> bool {
        grid.segs[seg]
            .chain
            .is_some_and(|chain| self.chain(chain).has_source() || self.chain(chain).has_load())
    }
}
