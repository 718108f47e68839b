//! The lists of a harness: its wires with both ends, its segments, and what is bought for it.

use super::continuity::continuity_table;
use super::cut_list::{Cut, CutList, EndAllowance};
use super::ends::{End, Fitting, colour_letters, size_words, terminal_at};
use super::head::length_style;
use super::paper::{Cell, Table};
use crate::analysis::fill::{Fill, fill, outsides, supports};
use crate::analysis::harness::{Continuity, Harness, Harnesses, Reason, Shape};
use crate::standards::harness_tolerance;
use crate::system::{ConductorId, Origin, System};
use crate::units::{LengthStyle, Metres, format_length};
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// A wire of a harness in words.
#[derive(Clone, Debug, PartialEq)]
pub struct HarnessWire {
    /// The conductor.
    pub conductor: ConductorId,
    /// Wire number.
    pub number: String,
    /// What it is for.
    pub function: String,
    /// Size; empty when not given.
    pub size: String,
    /// Colour letters; empty when not given.
    pub colour: String,
    /// Terminals of end A and end B.
    pub ends: [String; 2],
    /// What is fitted to them.
    pub fittings: [String; 2],
    /// Length of its route.
    pub route: Metres,
    /// The length is assumed.
    pub assumed: bool,
    /// What is folded back, and at which end.
    pub fold: Option<(Metres, End)>,
    /// Length to cut; none where it is cut with its cable or has no size.
    pub cut: Option<Metres>,
    /// What the cut list adds at each end, beyond the end mark.
    pub allowances: [EndAllowance; 2],
    /// Cable it is a core of; empty for none.
    pub cable: String,
}

/// A segment of a harness.
#[derive(Clone, Debug, PartialEq)]
pub struct Segment {
    /// Number on the board, from 1.
    pub number: usize,
    /// Branch of the tree that is its last piece.
    pub branch: usize,
    /// Its length.
    pub length: Metres,
    /// What the finished segment may be longer.
    pub tolerance: Metres,
    /// What lies in it.
    pub fill: Fill,
    /// Covering that the file states, in words.
    pub covering: &'static str,
    /// Name of its way or its bundles; empty for none.
    pub name: String,
    /// Clamps along it; none where it has no conductor.
    pub clamps: Option<usize>,
    /// Slack that the file wants along it.
    pub slack: Option<Metres>,
}

/// All harnesses of a boat with their lists, worked out once.
#[derive(Clone, Debug)]
pub struct HarnessRows {
    harnesses: Harnesses,
    wires: Vec<Vec<HarnessWire>>,
    segments: Vec<Vec<Segment>>,
    continuities: Vec<Continuity>,
}

/// One harness with its lists.
#[derive(Clone, Copy, Debug)]
pub struct HarnessParts<'h> {
    /// The harness.
    pub harness: &'h Harness,
    /// Its wires.
    pub wires: &'h [HarnessWire],
    /// Its segments.
    pub segments: &'h [Segment],
    /// What joins what.
    pub continuity: &'h Continuity,
}

impl HarnessRows {
    /// Finds the harnesses and works out their lists.
    #[must_use]
    pub fn new(system: &System, cuts: &CutList, fittings: &[[Fitting; 2]]) -> Self {
        let harnesses = Harnesses::new(system);
        let outsides = outsides(system);
        let list = &harnesses.list;
        let cut_of = cuts_by_conductor(cuts);
        Self {
            wires: list
                .iter()
                .map(|harness| harness_wires(system, harness, &cut_of, fittings))
                .collect(),
            segments: list
                .iter()
                .map(|harness| harness_segments(system, harness, &outsides))
                .collect(),
            continuities: list
                .iter()
                .map(|harness| Continuity::new(system, harness))
                .collect(),
            harnesses,
        }
    }

    /// Nothing is to be built, and nothing is left out.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.harnesses.list.is_empty() && self.harnesses.left_out.is_empty()
    }

    /// The harnesses themselves.
    #[must_use]
    pub fn harnesses(&self) -> &Harnesses {
        &self.harnesses
    }

    /// One harness after the other.
    pub fn each(&self) -> impl Iterator<Item = HarnessParts<'_>> {
        self.harnesses
            .list
            .iter()
            .zip(&self.wires)
            .zip(&self.segments)
            .zip(&self.continuities)
            .map(|(((harness, wires), segments), continuity)| HarnessParts {
                harness,
                wires,
                segments,
                continuity,
            })
    }

    /// Wires of all harnesses for machines.
    #[must_use]
    pub fn table(&self, system: &System) -> Table {
        harness_table(system, &self.harnesses, &self.wires, length_style(system))
    }

    /// Ends of all harnesses for machines.
    #[must_use]
    pub fn continuity_table(&self, system: &System) -> Table {
        continuity_table(system, &self.harnesses, &self.continuities)
    }
}

fn cuts_by_conductor(cuts: &CutList) -> BTreeMap<ConductorId, &Cut> {
    let all = cuts.spools.iter().flat_map(|spool| &spool.cuts);
    all.flat_map(|cut| cut.cores.iter().map(move |&core| (core, cut)))
        .collect()
}

/// Wires of a harness, in its order.
fn harness_wires(
    system: &System,
    harness: &Harness,
    of: &BTreeMap<ConductorId, &Cut>,
    fittings: &[[Fitting; 2]],
) -> Vec<HarnessWire> {
    harness
        .wires
        .iter()
        .map(|wire| {
            let id = wire.conductor;
            let conductor = &system.conductors[id.index()];
            let cut = of.get(&id);
            let fold_end = if wire.fold_end == 0 { End::A } else { End::B };
            HarnessWire {
                conductor: id,
                number: conductor.number.clone(),
                function: conductor.function.clone(),
                size: size_words(conductor),
                colour: colour_letters(conductor),
                ends: End::BOTH.map(|end| system.terminal_name(terminal_at(conductor, end))),
                fittings: [0, 1].map(|end| fittings[id.index()][end].with_blank()),
                route: wire.length,
                assumed: conductor
                    .length
                    .is_some_and(|length| length.origin == Origin::Assumed),
                fold: (wire.fold.0 > 0.0).then_some((wire.fold, fold_end)),
                cut: cut.map(|cut| cut.length),
                allowances: cut.map_or_else(Default::default, |cut| cut.ends_of(system, id)),
                cable: conductor.cable.map_or_else(String::new, |cable| {
                    system.cables[cable.index()].name.clone()
                }),
            }
        })
        .collect()
}

/// Segments of a harness, from the left end of the trunk on; `outsides` are the diameters of all conductors.
fn harness_segments(
    system: &System,
    harness: &Harness,
    outsides: &[Option<Metres>],
) -> Vec<Segment> {
    let tree = &harness.tree;
    let mut segments = Vec::new();
    let mut waiting = vec![tree.root];
    while let Some(node) = waiting.pop() {
        for &branch in tree.children[node].iter().rev() {
            waiting.push(tree.branches[branch].to);
        }
        let Some(branch) = tree.parent[node] else {
            continue;
        };
        let piece = &tree.branches[branch];
        let Some(length) = piece.segment else {
            continue;
        };
        let way = piece.way.map(|way| &system.ways[way.index()]);
        let bundles: Vec<_> = match way {
            Some(way) => way.bundle.into_iter().collect(),
            None => common_bundles(system, &piece.members),
        };
        let unlisted = bundles
            .iter()
            .map(|bundle| system.bundles[bundle.index()].others)
            .max()
            .unwrap_or(0);
        let sheathed = way.is_some_and(|way| way.sheathed)
            || bundles
                .iter()
                .any(|bundle| system.bundles[bundle.index()].sheathed);
        let names: Vec<&str> = match way {
            Some(way) => vec![way.name.as_str()],
            None => bundles
                .iter()
                .map(|bundle| system.bundles[bundle.index()].name.as_str())
                .collect(),
        };
        segments.push(Segment {
            number: segments.len() + 1,
            branch,
            length,
            tolerance: harness_tolerance(length).0,
            fill: fill(system, outsides, &piece.members, unlisted),
            covering: if sheathed { "sheath" } else { "not stated" },
            name: names.join(", "),
            clamps: supports(system, &piece.members, length).map(|supports| supports.count),
            slack: way.and_then(|way| way.slack).map(|slack| slack.value),
        });
    }
    segments
}

/// Bundles that all of some conductors lie in.
fn common_bundles(system: &System, members: &[ConductorId]) -> Vec<crate::system::BundleId> {
    let Some((&first, rest)) = members.split_first() else {
        return Vec::new();
    };
    let of = |id: ConductorId| {
        system.conductors[id.index()]
            .stretches
            .iter()
            .filter_map(|part| part.bundle)
    };
    let mut common: Vec<_> = of(first).collect();
    common.sort_unstable();
    common.dedup();
    for &id in rest {
        common.retain(|bundle| of(id).any(|other| other == *bundle));
    }
    common
}

/// What is bought for a harness, each line with its count or length.
#[must_use]
pub fn harness_bill(
    wires: &[HarnessWire],
    segments: &[Segment],
    style: LengthStyle,
) -> Vec<(String, String)> {
    let mut wire: BTreeMap<(String, String), (f64, usize)> = BTreeMap::new();
    let mut fitted: BTreeMap<String, usize> = BTreeMap::new();
    for row in wires {
        let known = |text: &str, missing: &str| {
            if text.is_empty() {
                missing.to_owned()
            } else {
                text.to_owned()
            }
        };
        let entry = wire
            .entry((
                known(&row.size, "size not given"),
                known(&row.colour, "colour not given"),
            ))
            .or_default();
        match row.cut {
            Some(cut) => entry.0 += cut.0,
            None => entry.1 += 1,
        }
        for fitting in &row.fittings {
            *fitted
                .entry(format!("{fitting}, {}", row.size))
                .or_default() += 1;
        }
    }
    let mut bill: Vec<(String, String)> = wire
        .into_iter()
        .map(|((size, colour), (metres, open))| {
            let mut amount = format_length(Metres(metres), style);
            if open > 0 {
                let _ = write!(amount, " and {open} not measured");
            }
            (format!("wire {size} {colour}, cut lengths"), amount)
        })
        .collect();
    bill.extend(
        fitted
            .into_iter()
            .map(|(fitting, count)| (fitting, count.to_string())),
    );
    bill.push(("wire labels".to_owned(), (2 * wires.len()).to_string()));
    let covered: Metres = segments
        .iter()
        .filter(|segment| segment.covering == "sheath")
        .map(|segment| segment.length)
        .sum();
    if covered.0 > 0.0 {
        bill.push(("sheath".to_owned(), format_length(covered, style)));
    }
    let clamps: usize = segments.iter().filter_map(|segment| segment.clamps).sum();
    bill.push(("clamps along the segments".to_owned(), clamps.to_string()));
    bill
}

/// Why a conductor is on no board, in words.
#[must_use]
pub fn left_out_words(reason: Reason, style: LengthStyle) -> String {
    match reason {
        Reason::NoLength => "its length is not given".to_owned(),
        Reason::OffItsWays(ways) => format!(
            "its written length is not that of its ways, {}",
            format_length(ways, style)
        ),
        Reason::Ring => "its ways close a ring with those of the others".to_owned(),
        Reason::Alone => "it is the only wire of its harness".to_owned(),
        Reason::TooMany => "its bundle has more wires than a board can show".to_owned(),
    }
}

const COLUMNS: &[&str] = &[
    "harness",
    "shape",
    "wire",
    "cable",
    "size",
    "colour",
    "function",
    "from",
    "to",
    "route_length_mm",
    "board_length_mm",
    "fold_mm",
    "fold_end",
    "cut_length_mm",
    "fitting_a",
    "fitting_b",
    "remark",
];

/// One record a wire of a harness, then those that are on no board.
fn harness_table(
    system: &System,
    harnesses: &Harnesses,
    wires: &[Vec<HarnessWire>],
    style: LengthStyle,
) -> Table {
    let mm = |length: Metres| Cell::number(length.0 * 1000.0, 1);
    let mut rows = Vec::new();
    for (harness, list) in harnesses.list.iter().zip(wires) {
        for (wire, row) in harness.wires.iter().zip(list) {
            rows.push(vec![
                Cell::text(&harness.name),
                Cell::text(match harness.shape {
                    Shape::Ways => "measured ways",
                    Shape::Lengths => "lengths alone",
                }),
                Cell::text(&row.number),
                Cell::text(&row.cable),
                Cell::text(&row.size),
                Cell::text(&row.colour),
                Cell::text(&row.function),
                Cell::text(&row.ends[0]),
                Cell::text(&row.ends[1]),
                mm(row.route),
                mm(wire.along),
                mm(wire.fold),
                row.fold
                    .map_or(Cell::Empty, |(_, end)| Cell::text(end.letter())),
                row.cut
                    .map_or(Cell::Empty, |cut| Cell::number(cut.0 * 1000.0, 0)),
                Cell::text(&row.fittings[0]),
                Cell::text(&row.fittings[1]),
                Cell::text(if row.assumed { "length assumed" } else { "" }),
            ]);
        }
    }
    for &(id, reason) in &harnesses.left_out {
        let conductor = &system.conductors[id.index()];
        let mut row = vec![Cell::Empty; COLUMNS.len()];
        row[2] = Cell::text(&conductor.number);
        row[4] = Cell::text(size_words(conductor));
        row[5] = Cell::text(colour_letters(conductor));
        row[6] = Cell::text(&conductor.function);
        row[7] = Cell::text(system.terminal_name(conductor.from));
        row[8] = Cell::text(system.terminal_name(conductor.to));
        row[9] = conductor
            .length
            .map_or(Cell::Empty, |length| mm(length.value));
        row[16] = Cell::text(format!("on no board: {}", left_out_words(reason, style)));
        rows.push(row);
    }
    Table {
        stem: "harnesses",
        columns: COLUMNS,
        rows,
    }
}
