//! What no ladder has drawn, what nothing feeds, and rungs that go on in a row below.

use super::{End, Grid, Homes, Piece, Planner, Seg};
use crate::drawing::circuit::{HubKind, Item};
use crate::drawing::scene::Pole;

impl Planner<'_> {
    /// Chains between two places that the drawing does not show, the positive one on the left.
    pub(super) fn through_rows(&mut self) -> Grid {
        let mut grid = Grid::default();
        for chain in 0..self.circuit.chains.len() {
            let record = self.chain(chain);
            let passes = record.outer.iter().any(Option::is_some) && record.ends == [None; 2];
            if !passes || self.placed[chain] != [false; 2] {
                continue;
            }
            let pole = |end: usize| {
                record.outer[end].map(|outer| {
                    let far = self.circuit.outer[outer].far;
                    self.circuit.poles[self.system.node_of(far).index()]
                })
            };
            // Between places of one pole the conductor tells which of them is nearer to the supply.
            let backwards = match (pole(0), pole(1)) {
                (Some(one), Some(other)) if one != other => one == Pole::Negative,
                (Some(only), None) | (None, Some(only)) if record.has_load() => {
                    (only == Pole::Negative) == record.outer[0].is_some()
                }
                (one, _) => {
                    let supply = record.items.iter().find_map(|item| match item {
                        Item::Wire(id) => Some(self.system.conductors[id.index()].from),
                        _ => None,
                    });
                    let first = record.cells().next().map(|cell| cell.ends[0]);
                    let wire_first = matches!(record.items.first(), Some(Item::Wire(_)));
                    let leaves = match (supply, first) {
                        (Some(from), Some(first)) if wire_first => from == first,
                        _ => false,
                    };
                    leaves != (one == Some(Pole::Negative))
                }
            };
            let left = usize::from(backwards);
            let ends = [self.open_end(chain, left), self.open_end(chain, 1 - left)];
            let seg = self.whole(chain, left, ends[0], ends[1]);
            self.placed[chain] = [true; 2];
            grid.push(seg);
        }
        grid
    }

    /// Chains that no grid holds: open on both ends, or between parts that nothing feeds.
    pub(super) fn loose_rows(&mut self, grid: &mut Grid) {
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
    pub(super) fn leftovers(&mut self, grids: &mut [Grid], homes: &Homes) {
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
                    let items = 0..self.chain(chain).items.len();
                    (items, self.open_end(chain, 1 - end))
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
    pub(super) fn fold_rows(&mut self, grid: &mut Grid) {
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
}
