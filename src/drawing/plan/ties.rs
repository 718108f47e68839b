//! Parts that tie several sources together: the gap between two rows in which they see all they tie.

use super::{End, Grid, Piece, Planner, Seg};
use crate::system::ComponentKind;

impl Planner<'_> {
    /// Places a part that ties several sources together between the bars of those sources.
    pub(super) fn tie(&mut self, grid: &mut Grid, hub: usize) {
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
                    None => {
                        let outside = self.open_end(chain, 1 - end);
                        negative.push((chain, end, port, outside));
                    }
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
            let seg = if place.is_some()
                && (!on_right || order.len() > 1)
                && matches!(to, End::Hub(..))
            {
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
    pub(super) fn tie_place(
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
}
