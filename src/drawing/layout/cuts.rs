//! Where a grid that is too wide for its paper is cut, so that a reference leads on.

use super::faces::{Face, lead_length};
use super::{Lettering, Measured, Source, on_grid, piece_of};
use crate::drawing::circuit::{Circuit, HubKind, Item};
use crate::drawing::plan::{Cut, Cuts, End, Grid, Preference};
use crate::drawing::scene::Pole;
use crate::drawing::symbols::MODULE;
use std::collections::BTreeMap;

/// Width kept for the reference where a grid is cut, in mm.
const CUT_REFERENCE: f64 = 40.0;

/// Rows above which a grid may have to be cut.
pub(in crate::drawing) const MAY_BE_CUT: usize = 7;

/// What is broken at a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum PlaceKind {
    Hub,
    Rung,
    /// The bar of a single terminal.
    Terminal,
    /// A bank among others, or a part that ties them.
    Source,
}

/// A place at which a grid can be made narrower.
#[derive(Clone, Debug)]
struct Place {
    x: f64,
    kind: PlaceKind,
    cuts: Vec<Cut>,
}

impl Measured {
    /// Where to take the grid apart so that every part of it fits a width: each time at the last place that still does.
    pub(in crate::drawing) fn shorten(
        &self,
        source: &Source<'_>,
        cuts: &Cuts,
        preference: Preference,
        most: f64,
    ) -> Vec<Cut> {
        let right = |column: usize| self.pushed[column] + self.columns[column].width;
        let Some(last) =
            (0..self.columns.len()).max_by(|&a, &b| right(a).total_cmp(&right(b)).then(b.cmp(&a)))
        else {
            return Vec::new();
        };
        let mut places = self.places_to_cut(source, cuts, &self.widest_path(last));
        let rank = |cut: &Place| match (cut.kind, preference) {
            (PlaceKind::Hub, _) | (PlaceKind::Terminal, Preference::Terminals) => 0,
            (PlaceKind::Rung, _) => 1,
            (PlaceKind::Terminal, Preference::Rungs) => 2,
            (PlaceKind::Source, _) => 3,
        };
        let room = most - CUT_REFERENCE;
        let mut found = Vec::new();
        // What is cut off begins anew at the left edge.
        let mut from = 0.0;
        while right(last) - from > most {
            places.retain(|place| place.x > from + CUT_REFERENCE);
            let fits = |place: &&Place| place.x - from <= room;
            let best = places
                .iter()
                .filter(fits)
                .min_by(|a, b| rank(a).cmp(&rank(b)).then(b.x.total_cmp(&a.x)))
                // Where no place does, the first.
                .or_else(|| places.iter().min_by(|a, b| a.x.total_cmp(&b.x)));
            let Some(best) = best else { break };
            from = best.x;
            found.extend(&best.cuts);
        }
        found
    }

    /// Chains whose row is longer than a limit, and the conductors behind which to break them.
    pub(in crate::drawing) fn long_chains(
        &self,
        circuit: &Circuit,
        grid: &Grid,
        limit: f64,
    ) -> BTreeMap<usize, Vec<usize>> {
        let mut found: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (seg, strip) in grid.segs.iter().zip(&self.strips) {
            let Some(chain) = seg.chain else { continue };
            let mut breaks = Vec::new();
            let mut length = 0.0;
            for (index, lead) in strip.leads.iter().enumerate() {
                length += lead_length(circuit, lead, Lettering::TwoLines);
                let face = strip.faces.get(index).map_or(0.0, Face::width);
                if length + face > limit
                    && index > 0
                    && let Some(Item::Wire(wire)) = lead.item
                {
                    let at = circuit.chains[chain]
                        .items
                        .iter()
                        .position(|item| matches!(item, Item::Wire(id) if *id == wire));
                    breaks.extend(at);
                    length = 0.0;
                }
                length += face;
            }
            if !breaks.is_empty() {
                breaks.sort_unstable();
                found.insert(chain, breaks);
            }
        }
        found
    }

    /// The chain of columns that makes the grid as wide as it is, from its last one.
    fn widest_path(&self, last: usize) -> Vec<bool> {
        let right = |column: usize| self.pushed[column] + self.columns[column].width;
        let mut before: Vec<Vec<(usize, f64)>> = vec![Vec::new(); self.columns.len()];
        for &(left, to, gap) in &self.edges {
            before[to].push((left, gap));
        }
        let mut path = vec![false; self.columns.len()];
        path[last] = true;
        let mut at = last;
        while let Some(&(left, _)) = before[at]
            .iter()
            .find(|&&(left, gap)| (on_grid(right(left) + gap) - self.pushed[at]).abs() < 1e-6)
        {
            if std::mem::replace(&mut path[left], true) {
                break;
            }
            at = left;
        }
        path
    }

    /// All places at which the widest path can be cut.
    fn places_to_cut(&self, source: &Source<'_>, cuts: &Cuts, path: &[bool]) -> Vec<Place> {
        let (circuit, grid) = (source.circuit, source.grid);
        let mut fed = vec![false; grid.pieces.len()];
        for seg in &grid.segs {
            let whole = seg
                .chain
                .is_some_and(|chain| seg.items.len() == circuit.chains[chain].items.len());
            if let (true, End::Piece(..), End::Piece(of, _)) = (whole, seg.left, seg.right) {
                fed[of] = true;
            }
        }
        let can_go = |piece: usize| grid.fed_here(piece) && fed[piece];
        let mut places: Vec<Place> = Vec::new();
        for piece in (0..grid.pieces.len()).filter(|&piece| path[piece] && can_go(piece)) {
            let hub = grid.pieces[piece].hub;
            let kind = if circuit.hubs[hub].kind == HubKind::Post {
                PlaceKind::Terminal
            } else {
                PlaceKind::Hub
            };
            places.push(Place {
                x: self.pushed[piece],
                kind,
                cuts: vec![Cut::Hub(hub)],
            });
        }
        for piece in (0..grid.pieces.len()).filter(|&piece| path[piece] && !grid.fed_here(piece)) {
            let hub = grid.pieces[piece].hub;
            let negative = circuit.hubs[hub].kind != HubKind::Tie
                && circuit.pole(source.system, hub, 0) == Pole::Negative;
            if grid.head != Some(hub) && !negative && !grid.loose {
                // The first of all takes its place with it.
                places.push(Place {
                    x: self.pushed[piece].max(CUT_REFERENCE + MODULE),
                    kind: PlaceKind::Source,
                    cuts: vec![Cut::Hub(hub)],
                });
            }
        }
        let bar = |end: End| match end {
            End::Piece(piece, port) => {
                let hub = grid.pieces[piece].hub;
                let bar = !matches!(circuit.hubs[hub].kind, HubKind::Box | HubKind::Tie);
                let negative = circuit.pole(source.system, hub, port) == Pole::Negative;
                (bar && negative).then_some(hub)
            }
            _ => None,
        };
        for (index, seg) in grid.segs.iter().enumerate() {
            let strip = &self.strips[index];
            let Some(chain) = seg.chain else { continue };
            let whole = seg.items.len() == circuit.chains[chain].items.len();
            if whole
                && let Some(from) = bar(seg.left)
                && bar(seg.right).is_some()
                && strip
                    .faces
                    .iter()
                    .all(|face| !face.cell.kind.is_load() && !face.cell.kind.is_source())
            {
                // The way of a negative back to its parent.
                let mut ends = [seg.left, seg.right].into_iter().filter_map(piece_of);
                if ends.all(|piece| path[piece]) {
                    places.push(Place {
                        x: piece_of(seg.left).map_or(0.0, |piece| self.pushed[piece]),
                        kind: PlaceKind::Rung,
                        cuts: vec![Cut::Return(from)],
                    });
                }
                continue;
            }
            let open = !matches!(seg.right, End::Piece(..) | End::Ref(_))
                || !matches!(seg.left, End::Piece(..));
            let known = cuts.folds.contains_key(&chain);
            let on_it = strip.faces.iter().any(|face| path[face.column])
                || strip.faces.is_empty() && strip.ends.into_iter().all(|end| path[end]);
            if open || known || !on_it {
                continue;
            }
            // What the rung feeds begins a ladder of its own, not a row below.
            let feeds = piece_of(seg.right)
                .filter(|&piece| {
                    let hub = &circuit.hubs[grid.pieces[piece].hub];
                    can_go(piece) && hub.kind != HubKind::Post
                })
                .map(|piece| Cut::Hub(grid.pieces[piece].hub));
            for (index, lead) in strip.leads.iter().enumerate() {
                let column = strip
                    .faces
                    .get(index)
                    .map_or(strip.ends[1], |face| face.column);
                let Some(Item::Wire(wire)) = lead.item else {
                    continue;
                };
                let last = index + 1 == strip.leads.len();
                if last && matches!(seg.right, End::Ref(_)) {
                    continue;
                }
                let item = circuit.chains[chain]
                    .items
                    .iter()
                    .position(|item| matches!(item, Item::Wire(id) if *id == wire));
                if let Some(item) = item {
                    places.push(Place {
                        x: self.pushed[column],
                        kind: PlaceKind::Rung,
                        cuts: [Cut::Rung(chain, item)].into_iter().chain(feeds).collect(),
                    });
                }
            }
        }
        places
    }
}
