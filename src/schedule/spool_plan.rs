//! The cutting plan: which piece of wire is cut from which length at hand, what is left, and what is to be bought.
//!
//! Offcuts come first, then spools at hand, then lengths that the file says are sold. A wire is never spliced to save
//! wire: one that no length holds is told as such. Lengths are whole tenths of a millimetre, so that sums are exact.

use super::cautions;
use super::cut_list::{Cut, CutList, Spool, pieces, reserve_of, up_to_step};
use super::head::length_style;
use super::paper::{Block, Cell, Column, Field, Orientation, Sheet, Table};
use crate::system::{CableId, System};
use crate::units::{LengthStyle, Metres, format_cut_length, format_length};
use std::collections::{BTreeMap, BTreeSet};

/// Where a length of wire comes from, in the order it is used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum PieceKind {
    /// An offcut at hand.
    Offcut,
    /// A spool at hand.
    Spool,
    /// A length that is sold so.
    Bought,
    /// Wire to buy by the foot or metre, in lengths that hold its cuts whole.
    Loose,
    /// One unbroken length for a wire that is longer than any length that is sold.
    Unbroken,
}

impl PieceKind {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Offcut => "offcut at hand",
            Self::Spool => "spool at hand",
            Self::Bought => "to buy",
            Self::Loose => "to buy by length",
            Self::Unbroken => "to buy unbroken",
        }
    }

    /// Whether it is still to be bought.
    #[must_use]
    pub fn is_bought(self) -> bool {
        self >= Self::Bought
    }
}

/// A length of wire and what is cut from it.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Name, to be written on a tag: `red-14 offcut 2`.
    pub name: String,
    /// Where it comes from.
    pub kind: PieceKind,
    /// Its length.
    pub length: Metres,
    /// Its cuts, as places in the cuts of its spool, in the order they are cut: longest first.
    pub cuts: Vec<usize>,
    /// What is left of it.
    pub left: Metres,
}

/// The plan for wire of one size, colour and type, or for one sort of cable.
#[derive(Clone, Debug, PartialEq)]
pub struct SpoolPlan {
    /// Place in the spools of the cut list.
    pub spool: usize,
    /// What is cut into, and what is bought; offcuts first.
    pub pieces: Vec<Piece>,
    /// Lengths at hand that stay whole: how many, and their sum.
    pub whole: (usize, Metres),
    /// The file says what is at hand or sold of this wire.
    pub has_stock: bool,
    /// No plan cuts into fewer spools, at hand or bought, than this.
    pub bound: usize,
    /// Every way to place the cuts was tried.
    pub exact: bool,
    /// Reserve that the trade asks for.
    pub reserve: Metres,
}

impl SpoolPlan {
    /// Spools that are cut into, at hand or bought.
    #[must_use]
    pub fn opened(&self) -> usize {
        let spools = self.pieces.iter().filter(|piece| {
            matches!(piece.kind, PieceKind::Spool | PieceKind::Bought) && !piece.cuts.is_empty()
        });
        spools.count()
    }

    /// Length of what is to be bought.
    #[must_use]
    pub fn to_buy(&self) -> Metres {
        let bought = self.pieces.iter().filter(|piece| piece.kind.is_bought());
        bought.map(|piece| piece.length).sum()
    }

    /// Length of the cuts that come from what is at hand.
    #[must_use]
    pub fn from_stock(&self) -> Metres {
        let own = self.pieces.iter().filter(|piece| !piece.kind.is_bought());
        own.map(|piece| piece.length - piece.left).sum()
    }
}

/// Arrangements that the search for a better plan may look at, for the whole boat.
const MOST_TRIED: usize = 30_000;

/// Cuts of one wire for which every arrangement is tried.
const MOST_CUTS_TRIED: usize = 10;

/// Lengths at hand, or sold, for which every arrangement is tried.
const MOST_LENGTHS_TRIED: usize = 10;

/// Plans for all spools of a cut list, in its order.
#[must_use]
pub fn spool_plans(system: &System, cuts: &CutList) -> Vec<SpoolPlan> {
    let mut tries = MOST_TRIED;
    let spools = cuts.spools.iter().enumerate();
    spools
        .map(|(index, spool)| plan(system, index, spool, &mut tries))
        .collect()
}

/// A length at hand or sold, in tenths of a millimetre.
#[derive(Clone, Debug)]
struct Length {
    name: String,
    kind: PieceKind,
    tenths: u64,
}

/// Which length each cut comes from; the lengths that are bought come after those at hand.
#[derive(Clone, Debug, Default)]
struct Arrangement {
    /// Index of a length, by cut.
    place: Vec<Option<usize>>,
    /// What is left of each length.
    left: Vec<u64>,
    /// Sold length of every one that is bought.
    bought: Vec<u64>,
}

/// What one arrangement is worse by than another: length bought, spools cut into, length taken from spools.
type Cost = (u64, usize, u64);

fn plan(system: &System, index: usize, spool: &Spool, tries: &mut usize) -> SpoolPlan {
    let style = length_style(system);
    let mut own: Vec<Length> = Vec::new();
    let mut sold: Vec<u64> = Vec::new();
    let mut first_name = String::new();
    for (kind, word) in [(PieceKind::Offcut, "offcut"), (PieceKind::Spool, "spool")] {
        for &id in &spool.stock {
            let stock = &system.spools[id.index()];
            if first_name.is_empty() {
                first_name.clone_from(&stock.name);
            }
            let lengths = match kind {
                PieceKind::Offcut => &stock.offcuts,
                _ => &stock.lengths,
            };
            own.extend(lengths.iter().enumerate().map(|(number, &length)| Length {
                name: if lengths.len() == 1 {
                    format!("{} {word}", stock.name)
                } else {
                    format!("{} {word} {}", stock.name, number + 1)
                },
                kind,
                tenths: tenths_down(length),
            }));
        }
    }
    for &id in &spool.stock {
        let stock = &system.spools[id.index()];
        sold.extend(stock.sold.iter().map(|&length| tenths_down(length)));
    }
    sold.sort_unstable();
    sold.dedup();
    sold.retain(|&length| length > 0);
    let lengths: Vec<u64> = spool.cuts.iter().map(|cut| tenths_up(cut.length)).collect();

    let mut best = best_fit(&lengths, &own, &sold);
    let small = lengths.len() <= MOST_CUTS_TRIED && own.len() + sold.len() <= MOST_LENGTHS_TRIED;
    let mut exact = false;
    if small && !spool.stock.is_empty() {
        let search = Search::new(&lengths, &own, &sold, best);
        (best, exact) = search.run(tries);
    }

    let mut made = Draw {
        style,
        spool,
        lengths: &lengths,
        name: first_name,
        bought: 0,
        pieces: Vec::new(),
    };
    made.cut_into(&own, &best);
    let used: BTreeSet<usize> = best.place.iter().flatten().copied().collect();
    let whole = own.iter().enumerate().filter(|(at, _)| !used.contains(at));
    let whole = whole.fold((0, 0), |(count, sum), (_, length)| {
        (count + 1, sum + length.tenths)
    });
    let reserve = tenths_up(reserve_of(spool.net));
    made.add_bought(&best, &sold, reserve.saturating_sub(whole.1));
    let placed = best.place.iter().zip(&lengths);
    let placed: Vec<u64> = placed
        .filter(|(place, _)| place.is_some())
        .map(|(_, &length)| length)
        .collect();
    let bought = if best.bought.is_empty() {
        &[][..]
    } else {
        &sold
    };
    let least = bound(&placed, &own, bought);
    SpoolPlan {
        spool: index,
        pieces: made.pieces,
        whole: (whole.0, metres(whole.1)),
        has_stock: !spool.stock.is_empty(),
        bound: least,
        exact,
        reserve: metres(reserve),
    }
}

/// Best fit, longest cut first: the offcut that it leaves least of, else the spool that is cut into already and that it
/// leaves least of, else the shortest spool at hand that holds it, else the same among lengths that are bought.
fn best_fit(cuts: &[u64], own: &[Length], sold: &[u64]) -> Arrangement {
    let mut offcuts: BTreeSet<(u64, usize)> = BTreeSet::new();
    let mut fresh: BTreeSet<(u64, usize)> = BTreeSet::new();
    let mut begun: BTreeSet<(u64, usize)> = BTreeSet::new();
    let mut left: Vec<u64> = own.iter().map(|length| length.tenths).collect();
    for (at, length) in own.iter().enumerate() {
        if length.kind == PieceKind::Offcut {
            offcuts.insert((length.tenths, at));
        } else {
            fresh.insert((length.tenths, at));
        }
    }
    let mut bought = Vec::new();
    let mut place = vec![None; cuts.len()];
    let mut rest: u64 = cuts.iter().sum();
    for (cut, &length) in cuts.iter().enumerate() {
        let uncut = rest;
        rest -= length;
        let fits = |set: &BTreeSet<(u64, usize)>| set.range((length, 0)..).next().copied();
        if let Some(found) = fits(&offcuts) {
            offcuts.remove(&found);
            offcuts.insert((found.0 - length, found.1));
            left[found.1] -= length;
            place[cut] = Some(found.1);
            continue;
        }
        let found = fits(&begun).or_else(|| {
            let found = fits(&fresh)?;
            fresh.remove(&found);
            begun.insert(found);
            Some(found)
        });
        let found = found.or_else(|| {
            // One length that holds all that is still to be cut, else the longest.
            let enough = sold.iter().find(|&&sold| sold >= uncut);
            let chosen = enough.or(sold.last()).filter(|&&sold| sold >= length)?;
            bought.push(*chosen);
            left.push(*chosen);
            let found = (*chosen, left.len() - 1);
            begun.insert(found);
            Some(found)
        });
        if let Some(found) = found {
            begun.remove(&found);
            begun.insert((found.0 - length, found.1));
            left[found.1] -= length;
            place[cut] = Some(found.1);
        }
    }
    Arrangement {
        place,
        left,
        bought,
    }
}

fn cost(arrangement: &Arrangement, cuts: &[u64], own: &[Length]) -> Cost {
    let mut from_spools = 0;
    let mut opened = BTreeSet::new();
    let mut unplaced = 0;
    for (&place, &length) in arrangement.place.iter().zip(cuts) {
        match place {
            None => unplaced += length,
            Some(at) if own.get(at).is_some_and(|own| own.kind == PieceKind::Offcut) => {}
            Some(at) => {
                opened.insert(at);
                from_spools += length;
            }
        }
    }
    // A cut that no length holds is bought by itself.
    let bought = arrangement.bought.iter().sum::<u64>() + unplaced;
    (bought, opened.len(), from_spools)
}

/// Tries every arrangement of a few cuts, and keeps the cheapest.
struct Search<'a> {
    cuts: &'a [u64],
    own: &'a [Length],
    sold: &'a [u64],
    best: Arrangement,
    best_cost: Cost,
    now: Arrangement,
}

impl<'a> Search<'a> {
    fn new(cuts: &'a [u64], own: &'a [Length], sold: &'a [u64], best: Arrangement) -> Self {
        Self {
            best_cost: cost(&best, cuts, own),
            now: Arrangement {
                place: vec![None; cuts.len()],
                left: own.iter().map(|length| length.tenths).collect(),
                bought: Vec::new(),
            },
            cuts,
            own,
            sold,
            best,
        }
    }

    /// The best arrangement, and whether all were tried.
    fn run(mut self, tries: &mut usize) -> (Arrangement, bool) {
        // The cuts are few, so the depth is bounded by `MOST_CUTS_TRIED`.
        let all = self.place(0, (0, 0, 0), tries);
        (self.best, all)
    }

    fn place(&mut self, cut: usize, so_far: Cost, tries: &mut usize) -> bool {
        if so_far >= self.best_cost {
            return true;
        }
        let Some(&length) = self.cuts.get(cut) else {
            self.best = self.now.clone();
            self.best_cost = so_far;
            return true;
        };
        if *tries == 0 {
            return false;
        }
        *tries -= 1;
        let mut all = true;
        let mut alike: BTreeSet<(bool, bool, u64)> = BTreeSet::new();
        for at in 0..self.now.left.len() {
            let left = self.now.left[at];
            let offcut = self
                .own
                .get(at)
                .is_some_and(|own| own.kind == PieceKind::Offcut);
            let begun = self.now.place[..cut].contains(&Some(at));
            // Lengths that are alike need one trial.
            if left < length || !alike.insert((offcut, begun, left)) {
                continue;
            }
            let mut next = so_far;
            if !offcut {
                next.1 += usize::from(!begun);
                next.2 += length;
            }
            self.now.left[at] -= length;
            self.now.place[cut] = Some(at);
            all &= self.place(cut + 1, next, tries);
            self.now.place[cut] = None;
            self.now.left[at] += length;
        }
        let mut holds = self.now.left.iter().any(|&left| left >= length);
        for index in 0..self.sold.len() {
            let sold = self.sold[index];
            if sold < length {
                continue;
            }
            holds = true;
            self.now.left.push(sold - length);
            self.now.bought.push(sold);
            self.now.place[cut] = Some(self.now.left.len() - 1);
            let next = (so_far.0 + sold, so_far.1 + 1, so_far.2 + length);
            all &= self.place(cut + 1, next, tries);
            self.now.place[cut] = None;
            self.now.bought.pop();
            self.now.left.pop();
        }
        // Nothing that is sold holds it, or it is sold by length: it is bought by itself.
        if !holds || self.sold.is_empty() {
            all &= self.place(cut + 1, (so_far.0 + length, so_far.1, so_far.2), tries);
        }
        all
    }
}

/// A number of spools that no plan with the same wire to buy can do with fewer of: by length, and by the cuts that
/// cannot share a spool. Offcuts are taken to be used up to the last bit.
///
/// `cuts` are those that come from lengths at hand or sold; `sold` is empty where nothing of that sort is bought.
fn bound(cuts: &[u64], own: &[Length], sold: &[u64]) -> usize {
    let of = |kind: PieceKind| {
        let lengths = own.iter().filter(move |length| length.kind == kind);
        lengths.map(|length| length.tenths)
    };
    let offcut = of(PieceKind::Offcut).max().unwrap_or(0);
    let longest_sold = sold.last().copied().unwrap_or(0);
    let mut spools: Vec<u64> = of(PieceKind::Spool).collect();
    spools.sort_unstable_by(|a, b| b.cmp(a));
    let spool = spools.first().copied().unwrap_or(0).max(longest_sold);
    if spool == 0 {
        return 0;
    }
    let room: u64 = of(PieceKind::Offcut).sum();
    let mut rest = cuts.iter().sum::<u64>().saturating_sub(room);
    let mut by_length = 0u64;
    for &own in spools.iter().filter(|&&own| own >= longest_sold) {
        if rest == 0 {
            break;
        }
        rest = rest.saturating_sub(own);
        by_length += 1;
    }
    if longest_sold > 0 {
        by_length += rest.div_ceil(longest_sold);
    }
    let placed: Vec<u64> = cuts.to_vec();
    // Martello and Toth's second bound, for the cuts that fit no offcut, at the thresholds that such cuts make.
    let forced: Vec<u64> = placed.into_iter().filter(|&cut| cut > offcut).collect();
    let mut thresholds: Vec<u64> = forced
        .iter()
        .copied()
        .filter(|&cut| 2 * cut <= spool)
        .collect();
    thresholds.push(0);
    thresholds.sort_unstable();
    thresholds.dedup();
    // A long list of thresholds would cost the square of it, and the first few tell most.
    thresholds.truncate(MOST_THRESHOLDS);
    let by_size = thresholds.into_iter().map(|threshold| {
        let (mut alone, mut rest, mut room) = (0u64, 0u64, 0u64);
        for &cut in &forced {
            if cut > spool - threshold {
                alone += 1;
            } else if 2 * cut > spool {
                alone += 1;
                room += spool - cut;
            } else if cut >= threshold {
                rest += cut;
            }
        }
        alone + rest.saturating_sub(room).div_ceil(spool)
    });
    let most = by_size.max().unwrap_or(0).max(by_length);
    usize::try_from(most).unwrap_or(usize::MAX)
}

const MOST_THRESHOLDS: usize = 50;

/// Lengths that are bought as reserve at most.
const MOST_FOR_RESERVE: usize = 100;

/// Makes the pieces of an arrangement.
struct Draw<'a> {
    style: LengthStyle,
    spool: &'a Spool,
    lengths: &'a [u64],
    /// First of the stock's names; empty for none.
    name: String,
    /// Pieces to buy so far.
    bought: usize,
    pieces: Vec<Piece>,
}

impl Draw<'_> {
    /// The pieces that something is cut from, in the order they are used.
    fn cut_into(&mut self, own: &[Length], best: &Arrangement) {
        let mut cuts: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (cut, place) in best.place.iter().enumerate() {
            if let Some(at) = *place {
                cuts.entry(at).or_default().push(cut);
            }
        }
        for (at, cuts) in cuts {
            if let Some(own) = own.get(at) {
                self.add(own.name.clone(), own.kind, own.tenths, cuts);
            } else {
                let name = self.new_name();
                let length = best.bought[at - own.len()];
                self.add(name, PieceKind::Bought, length, cuts);
            }
        }
    }

    /// `red-14 new 2`.
    fn new_name(&mut self) -> String {
        self.bought += 1;
        if self.name.is_empty() {
            format!("new {}", self.bought)
        } else {
            format!("{} new {}", self.name, self.bought)
        }
    }

    /// What no length at hand holds, and the reserve.
    fn add_bought(&mut self, best: &Arrangement, sold: &[u64], reserve: u64) {
        let unplaced = best.place.iter().enumerate();
        let unplaced: Vec<usize> = unplaced
            .filter(|(_, place)| place.is_none())
            .map(|(cut, _)| cut)
            .collect();
        let left = |pieces: &[Piece]| -> u64 {
            let left = pieces.iter().map(|piece| tenths_down(piece.left));
            left.sum()
        };
        if sold.is_empty() {
            let cut: u64 = unplaced.iter().map(|&cut| self.lengths[cut]).sum();
            // What is left of the spools at hand is a reserve as good as any.
            let short = reserve.saturating_sub(left(&self.pieces));
            if cut + short > 0 && (cut > 0 || self.spool.stock.is_empty()) {
                let length = tenths_up(up_to_step(metres(cut + short), self.style));
                let name = self.new_name();
                self.add(name, PieceKind::Loose, length, unplaced);
            }
            return;
        }
        for cut in unplaced {
            let length = self.lengths[cut];
            let name = self.new_name();
            self.add(name, PieceKind::Unbroken, length, vec![cut]);
        }
        // Where wire is bought anyway, the reserve is bought with it, in the shortest length that covers it.
        let mut short = reserve.saturating_sub(left(&self.pieces));
        let buys = self
            .pieces
            .iter()
            .any(|piece| piece.kind == PieceKind::Bought);
        let longest = sold.last().copied().unwrap_or(0);
        for _ in 0..MOST_FOR_RESERVE {
            if !buys || short == 0 {
                break;
            }
            let enough = sold.iter().find(|&&sold| sold >= short).copied();
            let length = enough.unwrap_or(longest);
            let name = self.new_name();
            self.add(name, PieceKind::Bought, length, Vec::new());
            short = short.saturating_sub(length);
        }
    }

    fn add(&mut self, name: String, kind: PieceKind, length: u64, cuts: Vec<usize>) {
        let cut: u64 = cuts.iter().map(|&cut| self.lengths[cut]).sum();
        self.pieces.push(Piece {
            name,
            kind,
            length: metres(length),
            cuts,
            left: metres(length.saturating_sub(cut)),
        });
    }
}

/// Tenths of a millimetre.
const TENTHS: f64 = 10_000.0;

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a file's lengths are at most 1 km each
fn tenths_up(length: Metres) -> u64 {
    (length.0 * TENTHS - 1e-4).ceil().max(0.0) as u64
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a file's lengths are at most 1 km each
fn tenths_down(length: Metres) -> u64 {
    (length.0 * TENTHS + 1e-4).floor().max(0.0) as u64
}

fn metres(tenths: u64) -> Metres {
    Metres(tenths as f64 / TENTHS)
}

/// What a cut is called on the plan: the wire number, or the cable's designation.
#[must_use]
pub fn cut_name<'s>(system: &'s System, cut: &Cut) -> &'s str {
    match cut.cable {
        Some(cable) => cable_name(system, cable),
        None => &system.conductors[cut.cores[0].index()].number,
    }
}

fn cable_name(system: &System, cable: CableId) -> &str {
    &system.cables[cable.index()].name
}

const COLUMNS: &[&str] = &[
    "spool",
    "piece",
    "kind",
    "piece_length_mm",
    "cut",
    "seq",
    "wire",
    "cut_length_mm",
    "remaining_mm",
];

/// One record a cut, in the order they are cut; one for a piece that is bought as reserve only.
#[must_use]
pub fn plan_table(system: &System, list: &CutList, plans: &[SpoolPlan]) -> Table {
    let mm = |length: Metres| Cell::number(length.0 * 1000.0, 1);
    let mut rows = Vec::new();
    for plan in plans {
        let spool = &list.spools[plan.spool];
        for piece in &plan.pieces {
            let head = || {
                vec![
                    Cell::text(&spool.name),
                    Cell::text(&piece.name),
                    Cell::text(piece.kind.words()),
                    mm(piece.length),
                ]
            };
            if piece.cuts.is_empty() {
                let mut row = head();
                row.resize(COLUMNS.len() - 1, Cell::Empty);
                row.push(mm(piece.left));
                rows.push(row);
            }
            let mut remaining = tenths_up(piece.length);
            for (order, &at) in piece.cuts.iter().enumerate() {
                let cut = &spool.cuts[at];
                remaining = remaining.saturating_sub(tenths_up(cut.length));
                let mut row = head();
                row.extend([
                    Cell::count(order + 1),
                    Cell::count(cut.seq),
                    Cell::text(cut_name(system, cut)),
                    mm(cut.length),
                    mm(metres(remaining)),
                ]);
                rows.push(row);
            }
        }
    }
    Table {
        stem: "spool-plan",
        columns: COLUMNS,
        rows,
    }
}

/// The plan for the bench, piece by piece.
#[must_use]
pub fn plan_sheet(system: &System, list: &CutList, plans: &[SpoolPlan]) -> Sheet {
    let style = length_style(system);
    let words = |length| format_cut_length(length, style);
    let mut blocks = Vec::new();
    let (mut cut_pieces, mut sum) = (0, Metres(0.0));
    for plan in plans {
        let spool = &list.spools[plan.spool];
        cut_pieces += spool.cuts.len();
        sum = sum + spool.net;
        let rows = plan.pieces.iter().map(|piece| {
            let cuts = piece.cuts.iter().map(|&at| {
                let cut = &spool.cuts[at];
                format!("{} {}", cut_name(system, cut), words(cut.length))
            });
            let cuts: Vec<String> = cuts.collect();
            vec![
                Field::Tick,
                Field::Strong(piece.name.clone()),
                Field::text(piece.kind.words()),
                Field::text(words(piece.length)),
                Field::text(if cuts.is_empty() {
                    "reserve".to_owned()
                } else {
                    cuts.join(" | ")
                }),
                // A leftover is told no longer than it is.
                Field::text(left_words(piece.left, style)),
                Field::Blank(String::new()),
            ]
        });
        blocks.push(Block {
            title: format!("Spool {}: {}", plan.spool + 1, spool.name),
            detail: format!("{}, {} to cut", pieces(spool.cuts.len()), words(spool.net)),
            rows: rows.collect(),
            totals: totals(system, plan, spool, style),
        });
    }
    if let Some(last) = blocks.last_mut() {
        last.totals.push(format!(
            "All spools: {} to cut, {} of wire; compare with the totals of the cut list",
            pieces(cut_pieces),
            words(sum)
        ));
    }
    Sheet {
        stem: "spool-plan",
        title: "Cutting plan",
        orientation: Orientation::Across,
        remarks: remarks(plans),
        columns: vec![
            Column::tick("Done"),
            Column::text("Piece", 44.0),
            Column::text("What", 28.0),
            Column::figure("Length", 24.0),
            Column::text("Cut in this order", 110.0),
            Column::figure("Left", 22.0),
            Column::figure("Left, measured", 24.0),
        ],
        blocks,
        strips: Vec::new(),
        cautions: vec![cautions::ONE_PIECE, cautions::ASSUMED],
    }
}

/// A leftover, rounded down.
pub(super) fn left_words(left: Metres, style: LengthStyle) -> String {
    let step = match style {
        LengthStyle::FeetInches => 0.0254,
        LengthStyle::MetresMillimetres => 0.001,
    };
    format_length(Metres(crate::units::round_down_to(left.0, step)), style)
}

fn remarks(plans: &[SpoolPlan]) -> Vec<String> {
    let mut remarks = vec![
        "Cut each piece in the order given, longest first: what a wrong cut leaves still serves a shorter wire. \
         Offcuts come first, then spools that are begun, then the shortest spool that holds the cut. \
         No splice is proposed to save wire. Measure each piece before its first cut: one that is used to its end and short by an inch \
         spoils the last cut."
            .to_owned(),
    ];
    if plans.iter().any(|plan| plan.has_stock) {
        remarks.push(format!(
            "Method: best fit, longest cut first; for at most {MOST_CUTS_TRIED} cuts and {MOST_LENGTHS_TRIED} lengths of one wire every \
             arrangement is tried, for the least wire to buy, then the fewest spools cut into, then the least taken from spools. \
             The least number of spools is counted by length, and by the cuts that cannot share a spool (Martello and Toth)."
        ));
    }
    remarks
}

fn totals(system: &System, plan: &SpoolPlan, spool: &Spool, style: LengthStyle) -> Vec<String> {
    let words = |length| format_cut_length(length, style);
    let mut totals = Vec::new();
    if !plan.has_stock {
        totals.push(format!(
            "Nothing of it is said to be at hand: buy {} with the reserve, in unbroken lengths of at least {}",
            words(plan.to_buy()),
            words(longest(spool)),
        ));
        return totals;
    }
    let method = if plan.exact {
        "every arrangement tried"
    } else {
        "best fit"
    };
    let mut line = match plan.opened() {
        0 => format!("No spool is cut into; {method}"),
        opened => format!(
            "{} cut into, at least {} needed; {method}",
            spools(opened),
            plan.bound
        ),
    };
    if plan.whole.0 > 0 {
        line = format!(
            "{line}; {} at hand stay whole, {}",
            lengths(plan.whole.0),
            left_words(plan.whole.1, style)
        );
    }
    totals.push(line);
    let buy = plan.to_buy();
    if buy.0 > 0.0 {
        totals.push(format!("To buy: {}", buy_words(plan, style)));
    } else {
        let left: Metres = plan.pieces.iter().map(|piece| piece.left).sum();
        let rest = left + plan.whole.1;
        totals.push(if rest >= plan.reserve {
            format!(
                "Nothing to buy; what is left covers the reserve of {}",
                words(plan.reserve)
            )
        } else {
            format!(
                "Nothing to buy for the cuts; of the reserve of {} only {} is left",
                words(plan.reserve),
                left_words(rest, style)
            )
        });
    }
    for piece in &plan.pieces {
        let names: Vec<&str> = piece
            .cuts
            .iter()
            .map(|&at| cut_name(system, &spool.cuts[at]))
            .collect();
        match piece.kind {
            PieceKind::Unbroken => totals.push(format!(
                "{} is longer than any length that is sold or at hand: order {} in one piece; never splice it",
                names.join(", "),
                words(piece.length)
            )),
            PieceKind::Loose if !names.is_empty() => totals.push(format!(
                "{}: no length at hand holds it; buy unbroken lengths of at least {}",
                names.join(", "),
                words(piece.cuts.iter().map(|&at| spool.cuts[at].length).fold(Metres(0.0), Metres::max))
            )),
            _ => {}
        }
    }
    totals
}

/// What is to be bought of one wire: `2 × 100 ft`, `12 ft by length`.
pub(super) fn buy_words(plan: &SpoolPlan, style: LengthStyle) -> String {
    let words = |length| format_cut_length(length, style);
    let mut counts: BTreeMap<u64, usize> = BTreeMap::new();
    let mut parts = Vec::new();
    for piece in plan.pieces.iter().filter(|piece| piece.kind.is_bought()) {
        match piece.kind {
            PieceKind::Bought => *counts.entry(tenths_up(piece.length)).or_default() += 1,
            PieceKind::Unbroken => parts.push(format!("{} unbroken", words(piece.length))),
            _ => parts.push(format!("{} by length", words(piece.length))),
        }
    }
    let sold = counts
        .into_iter()
        .map(|(length, count)| format!("{count} × {}", words(metres(length))));
    sold.chain(parts).collect::<Vec<_>>().join(", ")
}

fn longest(spool: &Spool) -> Metres {
    let lengths = spool.cuts.iter().map(|cut| cut.length);
    lengths.fold(Metres(0.0), Metres::max)
}

fn spools(count: usize) -> String {
    if count == 1 {
        "1 spool".to_owned()
    } else {
        format!("{count} spools")
    }
}

fn lengths(count: usize) -> String {
    if count == 1 {
        "1 length".to_owned()
    } else {
        format!("{count} lengths")
    }
}

/// A share of a piece in words, for a reader of the bars.
#[must_use]
pub fn piece_words(piece: &Piece, style: LengthStyle) -> String {
    format!(
        "{}, {}, {} left",
        piece.kind.words(),
        format_cut_length(piece.length, style),
        left_words(piece.left, style)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn own(offcuts: &[u64], spools: &[u64]) -> Vec<Length> {
        let make = |kind: PieceKind| {
            move |&tenths: &u64| Length {
                name: tenths.to_string(),
                kind,
                tenths,
            }
        };
        let offcuts = offcuts.iter().map(make(PieceKind::Offcut));
        offcuts
            .chain(spools.iter().map(make(PieceKind::Spool)))
            .collect()
    }

    fn searched(cuts: &[u64], own: &[Length], sold: &[u64]) -> (Cost, bool) {
        let first = best_fit(cuts, own, sold);
        let mut tries = MOST_TRIED;
        let (best, all) = Search::new(cuts, own, sold, first).run(&mut tries);
        (cost(&best, cuts, own), all)
    }

    #[test]
    fn offcuts_come_before_spools_and_spools_before_buying() {
        let own = own(&[50, 20], &[100]);
        let plan = best_fit(&[60, 45, 20, 10], &own, &[500]);
        assert_eq!(plan.place, [Some(2), Some(0), Some(1), Some(2)]);
        assert!(plan.bought.is_empty());
    }

    /// Worked by hand: best fit puts 44 and 24 on the first spool and 40 and 20 on the second, and has to begin a third
    /// for what is then too long; 44 + 20 + 36 and 40 + 36 + 24 fill two spools of 100 to the last bit.
    #[test]
    fn a_few_cuts_are_placed_as_well_as_can_be() {
        let own = own(&[], &[100, 100, 100]);
        let cuts = [44, 40, 36, 36, 24, 20];
        assert_eq!(cost(&best_fit(&cuts, &own, &[]), &cuts, &own).1, 3);
        let ((bought, opened, _), all) = searched(&cuts, &own, &[]);
        assert_eq!((bought, opened, all), (0, 2, true));
    }

    #[test]
    fn a_cut_longer_than_any_length_is_bought_by_itself() {
        let own = own(&[30], &[100]);
        let plan = best_fit(&[120, 90], &own, &[110]);
        assert_eq!(plan.place, [None, Some(1)]);
        assert_eq!(searched(&[120, 90], &own, &[110]).0, (120, 1, 90));
    }

    #[test]
    fn the_bound_counts_cuts_that_cannot_share() {
        // Three cuts of 60 on spools of 100: 180 would fill two, but no two share one.
        assert_eq!(bound(&[60, 60, 60], &own(&[], &[100]), &[100]), 3);
        assert_eq!(bound(&[50, 50, 50, 50], &own(&[], &[100]), &[100]), 2);
        // One of them fits the offcut, which may then be full.
        assert_eq!(bound(&[60, 60, 60], &own(&[80], &[100]), &[100]), 1);
        // With nothing bought the spools at hand count with their own lengths.
        assert_eq!(bound(&[20, 20, 10, 2], &own(&[], &[30, 25]), &[]), 2);
    }

    proptest! {
        /// Every cut is placed where it fits, nothing is cut twice, and no plan is better than the bound or the search.
        #[test]
        fn plans_hold_together(
            mut cuts in proptest::collection::vec(1u64..120, 1..8),
            offcuts in proptest::collection::vec(1u64..60, 0..4),
            spools in proptest::collection::vec(60u64..120, 0..3),
            sold in proptest::collection::vec(80u64..130, 0..2),
        ) {
            cuts.sort_unstable_by(|a, b| b.cmp(a));
            let mut sold = sold;
            sold.sort_unstable();
            sold.dedup();
            let own = own(&offcuts, &spools);
            let first = best_fit(&cuts, &own, &sold);
            let mut tries = MOST_TRIED;
            let (best, _) = Search::new(&cuts, &own, &sold, first.clone()).run(&mut tries);
            for plan in [&first, &best] {
                let all: Vec<u64> = own.iter().map(|own| own.tenths).chain(plan.bought.iter().copied()).collect();
                prop_assert_eq!(all.len(), plan.left.len());
                for (at, &length) in all.iter().enumerate() {
                    let cut: u64 = plan.place.iter().zip(&cuts)
                        .filter(|(place, _)| **place == Some(at)).map(|(_, cut)| cut).sum();
                    prop_assert_eq!(cut + plan.left[at], length);
                }
                for (place, &cut) in plan.place.iter().zip(&cuts) {
                    // A cut is left over only where nothing that is sold could hold it.
                    if place.is_none() {
                        prop_assert!(sold.last().is_none_or(|&sold| sold < cut));
                    }
                }
                let (_, opened, _) = cost(plan, &cuts, &own);
                let placed: Vec<u64> = plan.place.iter().zip(&cuts)
                    .filter(|(place, _)| place.is_some()).map(|(_, &cut)| cut).collect();
                let least = bound(&placed, &own, if plan.bought.is_empty() { &[] } else { &sold });
                prop_assert!(opened >= least, "{} {}", opened, least);
            }
            prop_assert!(cost(&best, &cuts, &own) <= cost(&first, &cuts, &own));
        }
    }
}
