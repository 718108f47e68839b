//! Ladders onto sheets: which rows each sheet holds, where they stand on it, and how far apart.
//!
//! Ladders come in the order of their feeders. A sheet that this leaves with an empty corner is filled in other ways,
//! and at last the sheet before it too, until one is full; sheets that are full stay as they are.

use super::layout::{MAY_BE_CUT, whole};
use super::pages::{GRID_GAP, LEAST_PITCH, Ladder, Part, Room};
use super::plan::Grid;
use super::symbols::MODULE;
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

/// Share of its room that a sheet is to fill, unless it is the last one.
const LEAST_FULL: f64 = 0.85;
/// Share of its room that the last sheet is to fill where whole ladders can be had for it, and no block stands on it.
const LEAST_LAST: f64 = 0.4;
/// Fewest rows on either side of a cut, where there is a choice.
const LEAST_ROWS: usize = 4;
/// Fewest rows on either side of a cut, where a sheet stays empty otherwise.
const FEWEST_ROWS: usize = 2;
/// Width of the narrowest ladder worth the name, in mm.
const LEAST_LADDER: f64 = 130.0;
/// Ladders that are looked through for one that fits a hole; more would part what belongs together.
const LOOK_AHEAD: usize = 8;
/// How much further apart the rows of a sheet may stand than they must.
const MOST_SPREAD: f64 = 2.0;
/// How many times as wide as it must be a ladder may be drawn beside which no other can stand.
pub(super) const MOST_STRETCH: f64 = 1.5;
/// How many times as wide again, where the room beside it stays empty otherwise.
const MOST_WIDENED: f64 = 2.0;

/// All rows on sheets.
#[derive(Clone, Debug, Default)]
pub(super) struct Paged {
    pub(super) parts: Vec<Part>,
    /// What is taken of each sheet.
    pub(super) taken: Vec<Taken>,
}

/// How far down each sheet is taken, at every millimetre of its width.
#[derive(Clone, Debug)]
pub(super) struct Taken {
    room: Room,
    tops: Vec<f64>,
    /// Left edges at which something may begin, from the left edge of the room.
    starts: Vec<f64>,
}

impl Taken {
    pub(super) fn new(room: Room) -> Self {
        Self {
            room,
            tops: vec![room.top; whole(room.width.ceil()).max(1)],
            starts: vec![0.0],
        }
    }

    fn range(&self, x: f64, width: f64) -> Range<usize> {
        let from = whole(x).min(self.tops.len() - 1);
        let to = whole((x + width).ceil()).clamp(from + 1, self.tops.len());
        from..to
    }

    /// Places for something of a width: upper edge, left edge, lower limit; the highest first.
    fn places(&self, width: f64) -> Vec<(f64, f64, f64)> {
        let mut places: Vec<(f64, f64, f64)> = self
            .starts
            .iter()
            .filter(|&&x| x + width <= self.room.width + 1e-6 || x == 0.0)
            .map(|&x| {
                let top = self.tops[self.range(x, width + GRID_GAP)]
                    .iter()
                    .copied()
                    .fold(self.room.top, f64::max);
                (top, x, self.room.bottom(self.room.left + x + width))
            })
            .collect();
        places.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        places
    }

    /// Takes everything down to a height.
    pub(super) fn take(&mut self, x: f64, width: f64, to: f64) {
        let range = self.range(x, width + GRID_GAP);
        for top in &mut self.tops[range] {
            *top = top.max(to);
        }
        let next = (x + width + GRID_GAP).ceil();
        if !self.starts.contains(&next) {
            self.starts.push(next);
            self.starts.sort_by(f64::total_cmp);
        }
    }

    /// Takes a rectangle for a block that may have any of some sizes; gives its corner and width.
    ///
    /// An empty sheet takes it in any case; none where it has no room.
    pub(super) fn block(&mut self, sizes: &[(f64, f64)]) -> Option<(f64, f64, f64)> {
        let fresh = self.starts.len() == 1;
        for &(width, height) in sizes {
            for (top, x, bottom) in self.places(width) {
                if top + height <= bottom || fresh {
                    self.take(x, width, top + height + GRID_GAP);
                    return Some((self.room.left + x, top, width));
                }
            }
        }
        None
    }

    /// Share of the room for rows that is taken, 0 to 1.
    ///
    /// A margin too narrow for a ladder is no room for rows.
    pub(super) fn filled(&self) -> f64 {
        let (mut taken, mut all) = (0.0, 0.0);
        let used = self
            .tops
            .iter()
            .rposition(|&top| top > self.room.top)
            .map_or(0, |last| last + 1);
        let spare = self.tops.len() - used;
        let counted = if (spare as f64) < LEAST_LADDER {
            used
        } else {
            self.tops.len()
        };
        for (x, top) in self.tops[..counted].iter().enumerate() {
            let bottom = self.room.bottom(self.room.left + x as f64);
            taken += (top.min(bottom) - self.room.top).max(0.0);
            all += bottom - self.room.top;
        }
        if all > 0.0 { taken / all } else { 0.0 }
    }
}

/// Where the drawing goes on behind some sheets.
#[derive(Clone, Debug, Default)]
struct Front {
    grid: usize,
    row: usize,
    /// Grids behind this one that stand on a sheet already.
    ahead: BTreeSet<usize>,
}

/// How a sheet is filled.
#[derive(Clone, Copy, Debug)]
struct Manner {
    /// Narrow ladders go on beside themselves, in strips of one height.
    strips: bool,
    /// Fewest rows on either side of a cut.
    rows: usize,
    /// Holes take ladders that come later.
    ahead: bool,
    /// Most runs of rows, and the share of the last one that stays.
    most: Option<(usize, f64)>,
}

impl Manner {
    const fn new(strips: bool, rows: usize) -> Self {
        Self {
            strips,
            rows,
            ahead: true,
            most: None,
        }
    }
}

/// The ways to fill a sheet, the plainest first.
const MANNERS: [Manner; 4] = [
    Manner::new(false, LEAST_ROWS),
    Manner::new(true, LEAST_ROWS),
    Manner::new(false, FEWEST_ROWS),
    Manner::new(true, FEWEST_ROWS),
];

/// Shares of its last run of rows that a sheet keeps where the next one has too little.
const SHARES: [f64; 3] = [0.0, 0.7, 0.5];

/// One sheet with its rows.
#[derive(Clone, Debug)]
struct Leaf {
    sheet: usize,
    /// Rows as near to each other as they may stand.
    dense: (Vec<Part>, Taken),
    /// Rows over the whole height.
    parts: Vec<Part>,
    taken: Taken,
    begin: Front,
    end: Front,
    /// Nothing comes behind it.
    last: bool,
}

impl Leaf {
    fn full(&self) -> f64 {
        self.taken.filled()
    }

    fn good(&self) -> bool {
        self.last || self.full() >= LEAST_FULL
    }
}

/// A place on a sheet for rows of a grid.
struct Spot {
    /// The row after the last one that stands here.
    end: usize,
    ys: Vec<f64>,
    /// Lower edge after each row.
    bottoms: Vec<f64>,
    /// Distances of names above their first rows and below their last ones.
    names: [BTreeMap<usize, f64>; 2],
    x: f64,
    top: f64,
}

/// What rows may begin a place.
#[derive(Clone, Copy)]
struct Wanted {
    grid: usize,
    start: usize,
    /// Most rows.
    most: usize,
    /// Fewest rows on either side of a cut.
    least: usize,
    /// Something must begin here, or nothing ever would.
    fresh: bool,
}

/// Puts ladders on as many sheets as they need.
pub(super) struct Packing<'a> {
    pub(super) ladders: Vec<Ladder<'a>>,
    pub(super) rooms: &'a dyn Fn(usize) -> Room,
}

impl Packing<'_> {
    /// All ladders on sheets, with room for a block of one of some sizes on one of them; gives that sheet.
    ///
    /// The last sheet comes first, then one that is full with the block and less than full without it.
    pub(super) fn paged(&self, block: &[(f64, f64)]) -> (Paged, Option<usize>) {
        let mut leaves = self.leaves();
        if block.is_empty() {
            let filled = |leaf: &Leaf| leaf.dense.1.filled();
            for least in [LEAST_LAST, LEAST_LAST / 2.0] {
                let enough = |leaf: &Leaf| leaf.last && filled(leaf) >= least;
                if !leaves.last().is_some_and(enough) {
                    self.share(&mut leaves, &SHARES[..1], &enough);
                }
            }
        }
        let last = leaves.len() - 1;
        let kept = if block.is_empty() {
            None
        } else if leaves[last].dense.1.clone().block(block).is_some() {
            Some(last)
        } else {
            (0..last).rev().find(|&sheet| {
                let mut taken = leaves[sheet].dense.1.clone();
                taken.block(block).is_some() && taken.filled() >= LEAST_FULL
            })
        };
        let alone = kept.is_none() && !block.is_empty();
        if alone && leaves[last].full() < LEAST_FULL {
            self.widen(&mut leaves[last]);
        }
        if alone && leaves[last].full() < LEAST_FULL {
            let full = |leaf: &Leaf| leaf.last && leaf.full() >= LEAST_FULL;
            self.share(&mut leaves, &SHARES, &full);
        }
        // The last sheet stays as it is, but with a block on a sheet of its own it is not the last.
        let paged = Self::gathered(leaves, |sheet| {
            Some(sheet) == kept || sheet == last && !alone
        });
        (paged, kept)
    }

    /// As [`Self::paged`], but with the last rows and the block on one more sheet; none where no row can come there.
    pub(super) fn paged_with_rows(&self, block: &[(f64, f64)]) -> Option<(Paged, usize)> {
        let holds = |leaf: &Leaf| {
            let (parts, taken) = &leaf.dense;
            leaf.last && !parts.is_empty() && taken.clone().block(block).is_some()
        };
        let mut leaves = self.leaves();
        let full = leaves.last()?.clone();
        leaves.push(self.best(leaves.len(), &full.end));
        self.share(&mut leaves, &SHARES, &holds);
        if !leaves.last().is_some_and(holds) {
            // The last sheet has no row to spare: the one before it gives some too.
            leaves.truncate(full.sheet);
            let before = leaves.pop()?;
            let parts = before.parts.len();
            let found = (1..=parts).rev().find_map(|keep| {
                SHARES.into_iter().find_map(|share| {
                    let most = Some((keep, share)).filter(|_| keep > 1 || share > 0.0)?;
                    let manner = Manner {
                        most: Some(most),
                        ..MANNERS[0]
                    };
                    let first = self.leaf(before.sheet, &before.begin, manner);
                    let second = self.best(full.sheet, &first.end);
                    let mut two = [second.clone(), self.best(full.sheet + 1, &second.end)];
                    self.share(&mut two, &SHARES, &holds);
                    let [second, third] = two;
                    (first.good() && holds(&third)).then_some([first, second, third])
                })
            });
            leaves.extend(found?);
        }
        let last = leaves.len() - 1;
        Some((Self::gathered(leaves, |sheet| sheet == last), last))
    }

    /// All sheets, some of them with their rows as near to each other as they may stand.
    fn gathered(leaves: Vec<Leaf>, dense: impl Fn(usize) -> bool) -> Paged {
        let mut paged = Paged::default();
        for (sheet, leaf) in leaves.into_iter().enumerate() {
            let (parts, taken) = if dense(sheet) {
                leaf.dense
            } else {
                (leaf.parts, leaf.taken)
            };
            paged.parts.extend(parts);
            paged.taken.push(taken);
        }
        paged
    }

    fn leaves(&self) -> Vec<Leaf> {
        let mut leaves: Vec<Leaf> = Vec::new();
        loop {
            let begin = leaves
                .last()
                .map_or_else(Front::default, |leaf| leaf.end.clone());
            leaves.push(self.best(leaves.len(), &begin));
            if leaves.last().is_some_and(|leaf| !leaf.good()) {
                self.share(&mut leaves, &SHARES, &Leaf::good);
            }
            if leaves.last().is_some_and(|leaf| leaf.last) {
                return leaves;
            }
        }
    }

    /// Has the sheet before the last one give some of its last rows, so that it stays full and the last is as wanted.
    fn share(&self, leaves: &mut [Leaf], shares: &[f64], wanted: &dyn Fn(&Leaf) -> bool) {
        let [.., before, last] = leaves else { return };
        let (sheet, begin) = (last.sheet, before.begin.clone());
        for manner in MANNERS {
            let parts = self.leaf(sheet - 1, &begin, manner).parts.len();
            for keep in (1..=parts).rev() {
                for &share in shares {
                    if keep == 1 && share == 0.0 {
                        continue;
                    }
                    let manner = Manner {
                        most: Some((keep, share)),
                        ..manner
                    };
                    let mut first = self.leaf(sheet - 1, &begin, manner);
                    if !first.good() {
                        self.widen(&mut first);
                    }
                    if !first.good() {
                        continue;
                    }
                    let second = self.best(sheet, &first.end);
                    if wanted(&second) {
                        (*before, *last) = (first, second);
                        return;
                    }
                }
            }
        }
    }

    /// The sheet filled in the plainest way that makes it full, or else in the one that fills it best.
    ///
    /// Another ladder in a corner is better than a ladder drawn wider.
    fn best(&self, sheet: usize, begin: &Front) -> Leaf {
        let mut leaves: Vec<Leaf> = Vec::with_capacity(MANNERS.len());
        for manner in MANNERS {
            let leaf = self.leaf(sheet, begin, manner);
            if leaf.good() {
                return leaf;
            }
            leaves.push(leaf);
        }
        for leaf in &mut leaves {
            self.widen(leaf);
            if leaf.good() {
                return leaf.clone();
            }
        }
        // A hole that a ladder may take which is drawn wider is no place for another.
        for manner in MANNERS {
            let manner = Manner {
                ahead: false,
                ..manner
            };
            let mut leaf = self.leaf(sheet, begin, manner);
            self.widen(&mut leaf);
            if leaf.good() {
                return leaf;
            }
            leaves.push(leaf);
        }
        // Of equal ones the plainest.
        let fullest = leaves.into_iter().rev();
        fullest
            .max_by(|a, b| a.full().total_cmp(&b.full()))
            .unwrap_or_else(|| self.leaf(sheet, begin, MANNERS[0]))
    }

    /// Fills a sheet in one manner.
    fn leaf(&self, sheet: usize, begin: &Front, manner: Manner) -> Leaf {
        let mut taken = Taken::new((self.rooms)(sheet));
        let mut parts: Vec<Part> = Vec::new();
        let mut front = begin.clone();
        // Rows of a strip of the grid at hand.
        let mut strip = None;
        let count = self.ladders.len();
        self.skip(&mut front);
        while front.grid < count {
            let rows = self.ladders[front.grid].grid.rows.len();
            let left = rows - front.row;
            let mut most = left;
            if manner.strips {
                most =
                    *strip.get_or_insert_with(|| self.strip(&taken, front.grid, left, manner.rows));
            }
            if let Some((keep, share)) = manner.most {
                if parts.len() >= keep {
                    break;
                }
                if parts.len() + 1 == keep {
                    most = most.min(whole((left as f64 * share).ceil()));
                    if most == 0 {
                        break;
                    }
                }
            }
            let wanted = Wanted {
                grid: front.grid,
                start: front.row,
                most,
                least: manner.rows,
                fresh: parts.is_empty(),
            };
            let Some(spot) = self.spot(&taken, wanted) else {
                break;
            };
            front.row = spot.end;
            parts.push(self.part(sheet, &mut taken, wanted, spot));
            if front.row == rows {
                front.row = 0;
                front.grid += 1;
                strip = None;
                self.skip(&mut front);
            }
        }
        // Holes take whole ladders that come next.
        let next = front.grid + 1;
        for grid in
            (next..count.min(next + LOOK_AHEAD)).filter(|_| manner.ahead && manner.most.is_none())
        {
            // What is not connected stands near the end.
            let early = self.ladders[grid].grid.loose && grid > next;
            if early || front.ahead.contains(&grid) {
                continue;
            }
            let rows = self.ladders[grid].grid.rows.len();
            let wanted = Wanted {
                grid,
                start: 0,
                most: rows,
                least: rows,
                fresh: false,
            };
            if let Some(spot) = self.spot(&taken, wanted) {
                parts.push(self.part(sheet, &mut taken, wanted, spot));
                front.ahead.insert(grid);
            }
        }
        let last = front.grid >= count;
        let (spread, over) = self.spread(parts.clone(), taken.room);
        Leaf {
            sheet,
            dense: (parts, taken),
            parts: spread,
            taken: over,
            begin: begin.clone(),
            end: front,
            last,
        }
    }

    /// Steps over grids that stand on a sheet already.
    fn skip(&self, front: &mut Front) {
        while front.grid < self.ladders.len()
            && (front.ahead.remove(&front.grid) || self.ladders[front.grid].grid.rows.is_empty())
        {
            front.grid += 1;
        }
    }

    /// Rows of each of the strips of one height that a narrow ladder makes side by side.
    fn strip(&self, taken: &Taken, grid: usize, left: usize, least: usize) -> usize {
        let width = self.ladders[grid].measured.width + GRID_GAP;
        let beside = whole((taken.room.width + GRID_GAP) / width);
        left.div_ceil(beside.min(left / least).max(1))
    }

    /// The highest place for as many rows of a grid as are worth it.
    fn spot(&self, taken: &Taken, wanted: Wanted) -> Option<Spot> {
        let Wanted {
            grid,
            start,
            most,
            least,
            fresh,
        } = wanted;
        let ladder = self.ladders[grid];
        let rows = ladder.grid.rows.len();
        let below = ladder.below();
        for (top, x, bottom) in taken.places(ladder.measured.width) {
            // A row is at least so high.
            let needed = (rows - start).min(least) as f64 * LEAST_PITCH;
            if bottom - below - top < needed && !fresh {
                continue;
            }
            let stacked = ladder.stack(start, top, bottom - below);
            let fitting = stacked.ys.len();
            let fits = stacked.bottoms[fitting - 1] <= bottom - below + 1e-6;
            let all = start + fitting == rows && fits && most >= rows - start;
            let end = if all {
                Some(rows)
            } else if rows <= MAY_BE_CUT {
                // Its bars have no room for the place where they go on.
                None
            } else {
                // Neither side of a cut is left with a row or two.
                let limit = (start + fitting.min(most)).min(rows.saturating_sub(least));
                ladder.cut(&(start + least.max(2)..=limit))
            };
            // A new place is better than a row or two, or than a box cut in half.
            if end.is_some() || fresh {
                return Some(Spot {
                    end: end.unwrap_or(start + fitting),
                    ys: stacked.ys,
                    bottoms: stacked.bottoms,
                    names: stacked.names,
                    x,
                    top,
                });
            }
        }
        None
    }

    /// Takes a place.
    fn part(&self, sheet: usize, taken: &mut Taken, wanted: Wanted, spot: Spot) -> Part {
        let ladder = self.ladders[wanted.grid];
        let Spot {
            end,
            ys,
            bottoms,
            names,
            x,
            top,
        } = spot;
        let [lifts, drops] = names_before(ladder.grid, names, end);
        let rows = end - wanted.start;
        let bottom = bottoms[rows - 1];
        taken.take(x, ladder.measured.width, bottom + ladder.below() + GRID_GAP);
        Part {
            grid: wanted.grid,
            sheet,
            rows: wanted.start..end,
            ys: ys[..rows].to_vec(),
            x: taken.room.left + x,
            width: ladder.measured.width,
            bottom,
            top,
            lifts,
            drops,
            wider: None,
        }
    }

    /// Draws the ladders of a sheet as wide as they may be, one after the other, until it is full.
    fn widen(&self, leaf: &mut Leaf) {
        let room = leaf.taken.room;
        let (mut dense, _) = leaf.dense.clone();
        for index in 0..dense.len() {
            let Some(part) = self.widened(&dense, index, room) else {
                continue;
            };
            let mut trial = dense.clone();
            trial[index] = part;
            let (parts, taken) = self.spread(trial.clone(), room);
            if taken.filled() > leaf.full() + 1e-6 {
                (dense, leaf.parts, leaf.taken) = (trial, parts, taken);
            }
            if leaf.full() >= LEAST_FULL {
                break;
            }
        }
    }

    /// A ladder drawn as wide as the room beside it lets it.
    fn widened(&self, parts: &[Part], index: usize, room: Room) -> Option<Part> {
        let part = &parts[index];
        let ladder = self.ladders[part.grid];
        if ladder.grid.loose {
            return None;
        }
        let below = ladder.below();
        let foot = part.bottom + below;
        let side = if foot > room.bottoms[1] + 1e-6 {
            room.title - GRID_GAP
        } else {
            room.left + room.width
        };
        let limit = parts
            .iter()
            .filter(|other| other.x >= part.x + part.width - 1e-6)
            .filter(|other| other.top < foot + GRID_GAP && other.bottom + GRID_GAP > part.top)
            .map(|other| other.x - GRID_GAP)
            .fold(side, f64::min);
        let mut measured = ladder.measured.clone();
        measured.stretch(limit - part.x, MOST_WIDENED);
        if measured.width <= part.width + MODULE || part.x + measured.width > limit + 1e-6 {
            return None;
        }
        let wide = Ladder {
            measured: &measured,
            ..ladder
        };
        let stacked = wide.stack(part.rows.start, part.top, part.bottom);
        let rows = part.rows.len();
        if stacked.ys.len() < rows || stacked.bottoms[rows - 1] > part.bottom + 1e-6 {
            return None;
        }
        let [lifts, drops] = names_before(ladder.grid, stacked.names, part.rows.end);
        Some(Part {
            ys: stacked.ys[..rows].to_vec(),
            width: measured.width,
            bottom: stacked.bottoms[rows - 1],
            lifts,
            drops,
            wider: Some(Box::new(measured)),
            ..part.clone()
        })
    }

    /// Sets the rows of a sheet further apart, down to its lower edge.
    ///
    /// Ladders side by side are spread apart from each other. What belongs to a row keeps its distance from it,
    /// so nothing comes nearer to anything.
    fn spread(&self, mut parts: Vec<Part>, room: Room) -> (Vec<Part>, Taken) {
        let mut taken = Taken::new(room);
        let mut order: Vec<usize> = (0..parts.len()).collect();
        order.sort_by(|&a, &b| parts[a].x.total_cmp(&parts[b].x));
        // Runs of ladders with something above or below each other.
        let mut runs: Vec<(f64, Vec<usize>)> = Vec::new();
        for index in order {
            let part = &parts[index];
            let right = part.x + part.width + GRID_GAP;
            match runs.last_mut() {
                Some((edge, run)) if part.x < *edge => {
                    *edge = edge.max(right);
                    run.push(index);
                }
                _ => runs.push((right, vec![index])),
            }
        }
        for (_, run) in runs {
            self.spread_run(&mut parts, &run, room);
        }
        for part in &parts {
            let to = part.bottom + self.ladders[part.grid].below() + GRID_GAP;
            taken.take(part.x - room.left, part.width, to);
        }
        (parts, taken)
    }

    fn spread_run(&self, parts: &mut [Part], run: &[usize], room: Room) {
        let below = |part: &Part| self.ladders[part.grid].below();
        let mut factor = MOST_SPREAD;
        for &part in run {
            let part = &parts[part];
            let (Some(first), Some(last)) = (part.ys.first(), part.ys.last()) else {
                continue;
            };
            let limit = room.bottom(part.x + part.width);
            let fixed = first - part.top + part.bottom - last + below(part);
            let moving = part.top - room.top + last - first;
            if moving > 0.0 {
                factor = factor.min((limit - room.top - fixed) / moving);
            }
        }
        if factor <= 1.0 {
            return;
        }
        for &index in run {
            let part = &mut parts[index];
            let (Some(&first), Some(&last)) = (part.ys.first(), part.ys.last()) else {
                continue;
            };
            let down = |length: f64| (length * factor / MODULE + 1e-6).floor() * MODULE;
            let moved = (part.top - room.top) * (factor - 1.0);
            for y in &mut part.ys {
                *y = first + moved + down(*y - first);
            }
            part.top += moved;
            part.bottom += moved + down(last - first) - (last - first);
        }
    }
}

/// Distances of names above and below their bars, of those before a row; the others are set where their rows go.
fn names_before(
    grid: &Grid,
    [mut lifts, mut drops]: [BTreeMap<usize, f64>; 2],
    end: usize,
) -> [BTreeMap<usize, f64>; 2] {
    lifts.retain(|&piece, _| grid.pieces[piece].first < end);
    drops.retain(|&piece, _| grid.pieces[piece].last < end);
    [lifts, drops]
}
