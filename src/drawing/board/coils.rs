//! What is laid back at an end of the board: loops that the cut list adds, and folds of wires longer than their path.
//!
//! A coil lies below its segment, between the end mark and a nail. It is drawn at its length: turns, there and back,
//! make the loop. Where a segment is too short for it the words alone tell it.

use super::BoardParts;
use super::place::Layout;
use crate::drawing::bench_page::Ink;
use crate::drawing::scene::{Anchor, At};
use crate::drawing::words::TEXT;
use crate::schedule::{End, LoopKind, length_style};
use crate::units::{Metres, format_length};

/// Longest way from the end mark to the nail, in mm: what a cut tile keeps beside its marks.
const LONGEST: f64 = 55.0;
/// Shortest way that a wire can be laid round, in mm.
const SHORTEST: f64 = 8.0;
/// Most turns of a coil; more than these make a lump.
const MOST_TURNS: u32 = 6;
/// Most coils drawn at one end.
const MOST_DRAWN: usize = 3;
/// From one coil to the next below it, in mm.
const LEVEL: f64 = 2.6;
/// Room beside the next mark for what leaves the line there, in mm.
const CLEAR: f64 = 16.0;

/// What a coil is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum CoilKind {
    /// Lets a panel or connector be drawn out.
    ServiceLoop,
    /// Lets water drip off before the terminal.
    DripLoop,
    /// The rest of a wire that is longer than its path.
    Fold,
}

impl CoilKind {
    fn letter(self) -> char {
        match self {
            Self::ServiceLoop => 'S',
            Self::DripLoop => 'D',
            Self::Fold => 'F',
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::ServiceLoop => "service loop",
            Self::DripLoop => "drip loop",
            Self::Fold => "fold back",
        }
    }
}

/// Wires that are laid back alike at one node.
#[derive(Clone, Debug, PartialEq)]
pub struct Coil {
    /// Node of the tree.
    pub node: usize,
    /// What it is.
    pub kind: CoilKind,
    /// Length of wire in it.
    pub length: Metres,
    /// Wires, as indices into those of the harness.
    pub wires: Vec<usize>,
}

/// A coil as it is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Laid {
    /// Index of the coil.
    pub coil: usize,
    /// Where it begins, at the end mark.
    pub from: At,
    /// The nail that it goes round.
    pub nail: At,
    /// How often it goes there and back.
    pub turns: u32,
}

/// All coils of a harness, node by node, loops before folds and long before short.
#[must_use]
pub fn coils(parts: &BoardParts<'_>) -> Vec<Coil> {
    let mut coils: Vec<Coil> = Vec::new();
    let mut add = |wire: usize, node: usize, kind: CoilKind, length: Metres| {
        if length.0 <= 0.0 {
            return;
        }
        // Lengths that no tape tells apart are one coil.
        let same = |coil: &&mut Coil| {
            (coil.node, coil.kind) == (node, kind) && (coil.length.0 - length.0).abs() < 5e-5
        };
        match coils.iter_mut().find(same) {
            Some(coil) => coil.wires.push(wire),
            None => coils.push(Coil {
                node,
                kind,
                length,
                wires: vec![wire],
            }),
        }
    };
    for (index, (wire, row)) in parts.harness.wires.iter().zip(parts.wires).enumerate() {
        for end in End::BOTH {
            let node = parts.harness.sites[wire.sites[end as usize]].node;
            let allowance = row.allowances[end as usize];
            let kind = match allowance.loop_kind {
                Some(LoopKind::Service) => Some(CoilKind::ServiceLoop),
                Some(LoopKind::Drip) => Some(CoilKind::DripLoop),
                None => None,
            };
            if let Some(kind) = kind {
                add(index, node, kind, allowance.loop_length);
            }
            if let Some((fold, _)) = row.fold.filter(|(_, at)| *at == end) {
                add(index, node, CoilKind::Fold, fold);
            }
        }
    }
    coils.sort_by(|a, b| {
        (a.node, a.kind)
            .cmp(&(b.node, b.kind))
            .then(b.length.0.total_cmp(&a.length.0))
    });
    coils
}

/// A coil in words, for the block at its node.
pub(super) fn words(parts: &BoardParts<'_>, coil: &Coil) -> String {
    let length = format_length(coil.length, length_style(parts.system));
    let wires = match coil.wires.as_slice() {
        [wire] => parts.wires[*wire].number.clone(),
        several => format!("{} wires", several.len()),
    };
    format!(
        "{} {} {length}: {wires}",
        coil.kind.letter(),
        coil.kind.words()
    )
}

/// Where the coils lie on a board; those without room are not among them. `thickness` is that of each branch, in mm.
#[must_use]
pub fn laid(layout: &Layout, coils: &[Coil], thickness: impl Fn(usize) -> f64) -> Vec<Laid> {
    let mut out = Vec::new();
    let mut level = (usize::MAX, 0);
    for (index, coil) in coils.iter().enumerate() {
        if level.0 != coil.node {
            level = (coil.node, 0);
        }
        let here = layout.nodes[coil.node];
        let Some((room, towards, branch)) = room(layout, here) else {
            continue;
        };
        let long = coil.length.0 * 1000.0;
        let Some(turns) = (1..=MOST_TURNS)
            .find(|turns| long / f64::from(2 * turns) <= room.min(LONGEST))
            .filter(|turns| long / f64::from(2 * turns) >= SHORTEST)
            .filter(|_| level.1 < MOST_DRAWN)
        else {
            continue;
        };
        let y = here.1 + thickness(branch) / 2.0 + 2.0 + LEVEL * level.1 as f64;
        level.1 += 1;
        out.push(Laid {
            coil: index,
            from: (here.0, y),
            nail: (here.0 + towards * long / f64::from(2 * turns), y),
            turns,
        });
    }
    out
}

/// How far a coil may reach from a node, in which direction, and along which branch.
fn room(layout: &Layout, here: At) -> Option<(f64, f64, usize)> {
    let level = |a: At, b: At| (a.1 - b.1).abs() < 1e-9 && (a.1 - here.1).abs() < 1e-9;
    // Back along the segment that ends here; at the start of the trunk, forth along the one that begins here.
    let back = layout.runs.iter().find_map(|run| {
        let pair = run.points.windows(2).last()?;
        let ends = (pair[1].0 - here.0).abs() < 1e-9;
        (ends && level(pair[0], pair[1])).then_some((pair[0].0, -1.0, run.branch))
    });
    let forth = || {
        layout.runs.iter().find_map(|run| {
            let pair = run.points.windows(2).next()?;
            let begins = (pair[0].0 - here.0).abs() < 1e-9;
            (begins && level(pair[0], pair[1])).then_some((pair[1].0, 1.0, run.branch))
        })
    };
    let (far, towards, branch) = back.or_else(forth)?;
    let mut room = (far - here.0) * towards - CLEAR;
    for cut in &layout.breaks {
        let away = (cut.x - here.0) * towards;
        if away > 0.0 {
            room = room.min(away - 5.0);
        }
    }
    Some((room, towards, branch))
}

/// Draws the coils: two lines closed round the nail, with the letter and the turns beyond it.
pub(super) fn draw(ink: &mut Ink, coils: &[Coil], laid: &[Laid]) {
    for one in laid {
        let letter = coils[one.coil].kind.letter();
        let (from, nail) = (one.from, one.nail);
        let (towards, half) = ((nail.0 - from.0).signum(), 0.5);
        // The bight is drawn square, so that its end is where a rule is held.
        ink.line(
            vec![
                (from.0, from.1 - half),
                (nail.0, nail.1 - half),
                (nail.0, nail.1 + half),
                (from.0, from.1 + half),
            ],
            0.25,
        );
        ink.cross(nail, 1.2, 0.25);
        let anchor = if towards < 0.0 {
            Anchor::End
        } else {
            Anchor::Start
        };
        let at = (nail.0 + towards * 2.0, nail.1 + 0.9);
        ink.text(at, &format!("{letter} ×{}", one.turns), TEXT, anchor);
    }
}
