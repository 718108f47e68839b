//! The board of a harness at 1:1, its test sheet, and its tiles for the paper of the lists.
//!
//! Segments are drawn as long as they are. On tiles, long straight stretches without a break-out are cut out, with a
//! mark and the length left out, unless they are asked for whole; the large sheet has every millimetre.

pub mod coils;
mod continuity;
pub mod place;
mod tiles;

pub use continuity::continuity_pages;

use super::bench_page::{Column, Grid, Ink, Pager, column, one_line, revision, tick};
use super::connector_face::{cavity_side, draw_face};
use super::scene::{Anchor, At, Rgb, Sheet, SheetKind, Stroke};
use super::words::{HEADING, TEXT};
use crate::analysis::harness::{Continuity, Harness, Shape};
use crate::font;
use crate::schedule::{
    ConnectorChart, DEFERENCE, HarnessWire, Head, Segment, harness_bill, length_style,
};
use crate::system::{FaceView, System};
use crate::units::{LengthStyle, Metres, format_length};
use coils::Coil;
use place::{Layout, layout};

/// File name of the tiles with nothing left out, without its ending.
pub const WHOLE_TILES: &str = "harnesses-whole";
/// A straight stretch longer than this is cut out of the tiles, in mm.
pub const LONGEST_STRAIGHT: f64 = 400.0;
/// What is kept of it at each side, in mm.
const KEPT: f64 = 60.0;
/// Height of a line of a block, in mm.
const ROW: f64 = 3.4;
/// Widest line that stands for a bundle, in mm.
const WIDEST: f64 = 12.0;
/// What a bundle is filled with.
const BUNDLE: Rgb = Rgb(214, 214, 214);
/// Cavity of a face beside a segment, in mm.
const SMALL_FACE: f64 = 60.0;
/// From a mark to the ties beside it, in mm: common practice, no source.
const TIE: f64 = 25.0;
/// Widest text of a wire's terminal in a block, in mm.
const TERMINAL: f64 = 40.0;

/// What tiles show of long straight stretches without a break-out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Straights {
    /// Cut out, with the length left out beside the mark.
    Short,
    /// Every millimetre, on as many tiles as that takes.
    Whole,
}

/// Everything that is known about a harness when it is drawn.
#[derive(Clone, Copy, Debug)]
pub struct BoardParts<'b> {
    /// The boat.
    pub system: &'b System,
    /// Head of every sheet.
    pub head: &'b Head,
    /// The harness.
    pub harness: &'b Harness,
    /// Its wires in words.
    pub wires: &'b [HarnessWire],
    /// Its segments.
    pub segments: &'b [Segment],
    /// Its continuity.
    pub continuity: &'b Continuity,
    /// Charts of the boat's connectors.
    pub charts: &'b [ConnectorChart],
}

/// The board with every millimetre, as one large sheet with its tables below.
#[must_use]
pub fn board_sheet(parts: &BoardParts<'_>) -> Sheet {
    let coils = coils::coils(parts);
    let blocks = blocks(parts, &coils);
    let layout = layout(&parts.harness.tree, &sizes(&blocks));
    let (left, top, right, bottom) = layout.bounds();
    let offset = (20.0 - left + 10.0, 34.0 - top);
    let mut board = Ink::default();
    draw(parts, &layout, (&blocks, &coils), &mut board);
    let mut ink = Ink::default();
    let head = parts.head;
    ink.bold((20.0, 12.0), &title(parts), HEADING, Anchor::Start);
    let boat = [head.boat.clone(), revision(head), head.date.clone()];
    let boat: Vec<&str> = boat
        .iter()
        .map(String::as_str)
        .filter(|part| !part.is_empty())
        .collect();
    let line = format!("{}. {}. {}", boat.join(", "), head.units, head.fingerprint);
    ink.text((20.0, 17.0), &line, TEXT, Anchor::Start);
    ink.text(
        (20.0, 21.5),
        "Scale 1:1. Measure the bars before you drive a nail.",
        TEXT,
        Anchor::Start,
    );
    tiles::scale_bars(&mut ink, (110.0, 25.0));
    let mut y = bottom + offset.1 + 12.0;
    let mut x = 20.0;
    let mut lowest = y;
    let start = y;
    for (heading, columns, rows, width) in tables(parts) {
        ink.bold((x, start + 4.0), heading, HEADING, Anchor::Start);
        y = Grid::new(columns, width).draw_all(&mut ink, (x, start + 6.0), &rows);
        lowest = lowest.max(y);
        x += width + 8.0;
    }
    let width = (right + offset.0 + 20.0).max(x + 12.0);
    for note in notes(parts) {
        for line in super::bench_page::wrapped(&note, width - 40.0, TEXT) {
            lowest += TEXT * 1.4;
            ink.text((20.0, lowest + 3.0), &line, TEXT, Anchor::Start);
        }
    }
    lowest += TEXT * 1.4;
    ink.text((20.0, lowest + 3.0), DEFERENCE, TEXT, Anchor::Start);
    let moved = tiles::moved(&board.shapes, offset);
    Sheet {
        kind: SheetKind::Roll,
        number: 1,
        count: 1,
        width,
        height: lowest + 16.0,
        title: title(parts),
        groups: vec![
            Ink { shapes: moved }.group("board", "board"),
            ink.group("words", "words"),
        ],
        filled: 1.0,
    }
}

/// The harness on the paper of the lists: its lists, its page map and its tiles.
#[must_use]
pub fn board_pages(parts: &BoardParts<'_>, straights: Straights) -> Vec<Sheet> {
    let coils = coils::coils(parts);
    let blocks = blocks(parts, &coils);
    let whole = layout(&parts.harness.tree, &sizes(&blocks));
    let layout = match straights {
        Straights::Short => whole.broken(LONGEST_STRAIGHT, KEPT),
        Straights::Whole => whole,
    };
    let mut ink = Ink::default();
    draw(parts, &layout, (&blocks, &coils), &mut ink);
    let plan = tiles::Plan::new(parts.head.paper, &layout, &ink.shapes);
    let mut pager = Pager::across(parts.head, title(parts));
    for note in notes(parts) {
        pager.paragraph(&note);
    }
    pager.paragraph(&straights_note(parts, straights));
    pager.heading("Page map");
    plan.map(&mut pager, &layout);
    pager.heading("Order of building");
    for (index, step) in BUILD.iter().enumerate() {
        pager.paragraph(&format!("{}. {step}", index + 1));
    }
    let [wires, segments, bill] = tables(parts);
    pager.heading(wires.0);
    pager.table(wires.1, &wires.2);
    pager.beside([
        (segments.0, segments.1, &segments.2, 0.64),
        (bill.0, bill.1, &bill.2, 0.34),
    ]);
    let mut sheets = pager.finish(&title(parts));
    sheets.extend(plan.sheets(parts.head, &title(parts), &ink.shapes));
    let count = sheets.len();
    for (index, sheet) in sheets.iter_mut().enumerate() {
        sheet.number = index + 1;
        sheet.count = count;
    }
    sheets
}

fn title(parts: &BoardParts<'_>) -> String {
    format!("Harness board {}", parts.harness.name)
}

/// How the bench goes about it: common practice, no source.
const BUILD: &[&str] = &[
    "Print at 100 %. Measure the bars on every tile, lay the tiles so that the crosses meet, and fix them to the board.",
    "Drive nails at the crosses, two beside every break-out, bend and end mark, and one in every coil.",
    "Cut and label the wires by the cut list, the bundle's own order. Leave the tails for re-termination over beyond the end marks.",
    "Lay the wires from the datum on, those that go farthest first, each to the end mark that names it; lay loops and folds round the nails of their coils.",
    "Tie at the heavy bars on both sides of every mark, the trunk first, then the break-outs from the datum outward. Cover as listed. Mark the datum on the covering.",
    "Cut the tails, strip, crimp and fit the contacts by the connector charts; plug empty cavities.",
    "Test by the continuity sheet before the harness leaves the board.",
];

fn straights_note(parts: &BoardParts<'_>, straights: Straights) -> String {
    match straights {
        Straights::Short => format!(
            "Straight stretches of more than {} without a break-out are cut out of the tiles, with the length left out beside the mark: lay that much more there. The large sheet and `--only {WHOLE_TILES}` have every millimetre.",
            format_length(
                Metres(LONGEST_STRAIGHT / 1000.0),
                length_style(parts.system)
            )
        ),
        Straights::Whole => "Nothing is left out: the tiles have every millimetre.".to_owned(),
    }
}

fn notes(parts: &BoardParts<'_>) -> Vec<String> {
    let harness = parts.harness;
    let datum = site_names(parts, harness.tree.datum);
    let shape = match harness.shape {
        Shape::Ways => "Segments are the measured ways of the file.".to_owned(),
        Shape::Lengths => "ASSUMED SHAPE: the file gives lengths and no ways, so the ends are laid along one trunk by their lengths; break-outs leave it about 150 mm before their ends. Try the break-outs on the boat before you tie.".to_owned(),
    };
    let folds = parts
        .wires
        .iter()
        .filter(|wire| wire.fold.is_some())
        .count();
    let mut notes = vec![
        format!(
            "Datum: {datum}. Distances at the break-outs count from it along the harness. {shape}"
        ),
        format!(
            "Lengths are those of the routes; the cut list adds tails for re-termination, which lie beyond the end marks, and loops. A finished segment may be longer than drawn by its tolerance, never shorter. {folds} of {} wires are longer than their path and are folded back.",
            parts.wires.len()
        ),
        "Coils are drawn below the ends at their length: S service loop, D drip loop, F fold. ×3 is three turns from the end mark round the nail and back. What has no room is in the words of its end alone: coil and tie it there.".to_owned(),
        "Dashed leaders have no length.".to_owned(),
    ];
    if parts.wires.iter().any(|wire| wire.assumed) {
        notes.push(
            "Lengths marked * are assumed by the program: measure them on the boat.".to_owned(),
        );
    }
    notes
}

/// The words at one node.
struct Words {
    lines: Vec<(String, bool)>,
    faces: Vec<SmallFace>,
    size: (f64, f64),
}

/// A connector's face below the line that names its half.
struct SmallFace {
    line: usize,
    chart: usize,
    half: usize,
    /// Side of a cavity, in mm.
    side: f64,
}

fn sizes(blocks: &[Option<Words>]) -> Vec<Option<(f64, f64)>> {
    blocks
        .iter()
        .map(|words| words.as_ref().map(|words| words.size))
        .collect()
}

fn site_names(parts: &BoardParts<'_>, node: usize) -> String {
    let names: Vec<String> = parts
        .harness
        .sites
        .iter()
        .filter(|site| site.node == node)
        .map(|site| site.place.name(parts.system))
        .collect();
    match names.len() {
        0 => "the break-out".to_owned(),
        1..=3 => names.join(", "),
        count => format!("{} and {} more", names[..2].join(", "), count - 2),
    }
}

/// By node: what ends there, with its wires and coils.
fn blocks(parts: &BoardParts<'_>, coils: &[Coil]) -> Vec<Option<Words>> {
    let style = length_style(parts.system);
    let harness = parts.harness;
    let mut by_site: Vec<Vec<String>> = vec![Vec::new(); harness.sites.len()];
    for (wire, row) in harness.wires.iter().zip(parts.wires) {
        for end in [0, 1] {
            let site = wire.sites[end];
            let name = harness.sites[site].place.name(parts.system);
            let terminal = &row.ends[end];
            let short = terminal
                .strip_prefix(name.as_str())
                .map_or(terminal.as_str(), |rest| rest.trim_start_matches('.'));
            let short = match harness.sites[site].place.half {
                Some(_) => terminal.rsplit('.').next().unwrap_or(terminal),
                None => short,
            };
            // Long names give way, so that size, colour and fold are never cut off.
            let mut line = one_line(&row.number, TERMINAL, TEXT);
            if !short.is_empty() {
                line = format!("{line} > {}", one_line(short, TERMINAL, TEXT));
            }
            for extra in [&row.size, &row.colour] {
                if !extra.is_empty() {
                    line = format!("{line}  {extra}");
                }
            }
            if let Some((fold, _)) = row.fold.filter(|_| wire.fold_end == end) {
                line = format!("{line}  FOLD {}", format_length(fold, style));
            }
            by_site[site].push(line);
        }
    }
    let mut blocks: Vec<Option<Words>> = Vec::new();
    blocks.resize_with(harness.tree.nodes(), || None);
    for (index, site) in harness.sites.iter().enumerate() {
        let words = blocks[site.node].get_or_insert_with(|| Words {
            lines: Vec::new(),
            faces: Vec::new(),
            size: (0.0, 2.0),
        });
        let mut name = site.place.name(parts.system);
        let component = &parts.system.components[site.place.component.index()];
        if component.label != component.name && !component.label.is_empty() {
            name = format!("{name} ({})", component.label);
        }
        if let Some(half) = site.place.half {
            // The view is told whatever the length of the name.
            name = format!("{}, wire side", one_line(&name, 70.0, TEXT));
            let chart = parts
                .charts
                .iter()
                .position(|chart| chart.component == site.place.component);
            if let Some(chart) = chart {
                let half = usize::from(half);
                let face = parts.charts[chart].face(half, FaceView::WireSide);
                if let Some(side) = cavity_side(&face, SMALL_FACE, SMALL_FACE) {
                    words.faces.push(SmallFace {
                        line: words.lines.len(),
                        chart,
                        half,
                        side,
                    });
                }
            }
        }
        words.lines.push((one_line(&name, 90.0, TEXT), true));
        for line in &by_site[index] {
            words.lines.push((one_line(line, 130.0, TEXT), false));
        }
    }
    for coil in coils {
        if let Some(words) = &mut blocks[coil.node] {
            let line = coils::words(parts, coil);
            words.lines.push((one_line(&line, 90.0, TEXT), false));
        }
    }
    for words in blocks.iter_mut().flatten() {
        let widest = words
            .lines
            .iter()
            .map(|(line, _)| font::width(line, TEXT))
            .fold(20.0, f64::max);
        let mut size = (widest + 3.0, 2.0 + words.lines.len() as f64 * ROW);
        for small in &words.faces {
            let face = parts.charts[small.chart].face(small.half, FaceView::WireSide);
            let columns = face.rows.iter().map(Vec::len).max().unwrap_or(0) as f64;
            size.0 = size.0.max(columns * small.side + 12.0);
            size.1 += face.rows.len() as f64 * small.side + 10.0;
        }
        words.size = size;
    }
    blocks
}

/// How thick the bundle of a branch is drawn, in mm.
#[must_use]
pub fn thickness(parts: &BoardParts<'_>, branch: usize) -> f64 {
    let tree = &parts.harness.tree;
    // A piece before its segment's last one is as thick as that.
    let part = parts
        .segments
        .iter()
        .find(|part| tree.branches[part.branch].members == tree.branches[branch].members);
    part.and_then(|part| part.fill.diameter)
        .map_or(2.0, |diameter| diameter.0 * 1000.0)
        .clamp(1.0, WIDEST)
}

/// Draws a board at its own origin.
fn draw(
    parts: &BoardParts<'_>,
    layout: &Layout,
    (blocks, coils): (&[Option<Words>], &[Coil]),
    ink: &mut Ink,
) {
    let style = length_style(parts.system);
    let tree = &parts.harness.tree;
    let mut segment = vec![None; tree.branches.len()];
    for part in parts.segments {
        segment[part.branch] = Some(part);
    }
    let thickness = |branch: usize| thickness(parts, branch);
    for run in &layout.runs {
        let stroke = Stroke {
            width: thickness(run.branch),
            colour: BUNDLE,
            dash: None,
        };
        ink.stroke(run.points.clone(), stroke);
    }
    for run in &layout.runs {
        ink.line(run.points.clone(), 0.35);
        if !run.leader.is_empty() {
            ink.dashed(run.leader.clone(), 0.25);
        }
        let beside = thickness(run.branch) / 2.0 + 3.0;
        for &(x, y) in &run.points {
            ink.cross((x, y - beside), 1.5, 0.25);
            ink.cross((x, y + beside), 1.5, 0.25);
        }
        if let Some(part) = segment[run.branch] {
            label(
                ink,
                (run, &layout.breaks),
                part,
                style,
                thickness(run.branch),
            );
        }
    }
    for run in &layout.runs {
        ties(ink, run, thickness(run.branch));
    }
    let laid = coils::laid(layout, coils, thickness);
    coils::draw(ink, coils, &laid);
    distances(parts, layout, ink, style);
    for &cut in &layout.breaks {
        for run in &layout.runs {
            for pair in run.points.windows(2) {
                let level = (pair[0].1 - pair[1].1).abs() < 1e-9;
                if level && pair[0].0 < cut.x && pair[1].0 >= cut.x {
                    break_mark(ink, (cut.x, pair[0].1), cut.removed, style);
                }
            }
        }
    }
    for block in &layout.blocks {
        if let Some(words) = &blocks[block.node] {
            draw_block(parts, ink, block, words);
        }
    }
    for node in tips(parts, layout) {
        ink.line(vec![(node.0, node.1 - 7.0), (node.0, node.1 + 7.0)], 0.5);
    }
}

/// Bars over the bundle where it is tied, on both sides of its marks; a short segment has one in its middle.
fn ties(ink: &mut Ink, run: &place::Run, thickness: f64) {
    let whole: f64 = run.points.windows(2).map(length).sum();
    let places = if whole >= 3.0 * TIE {
        vec![TIE, whole - TIE]
    } else {
        vec![whole / 2.0]
    };
    let half = thickness / 2.0 + 0.8;
    for place in places {
        let mut left = place;
        for pair in run.points.windows(2) {
            let long = length(pair);
            if left > long {
                left -= long;
                continue;
            }
            let share = if long > 0.0 { left / long } else { 0.0 };
            let (dx, dy) = (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1);
            let at = (pair[0].0 + share * dx, pair[0].1 + share * dy);
            let across = (-dy / long * half, dx / long * half);
            if long > 0.0 {
                ink.line(
                    vec![
                        (at.0 - across.0, at.1 - across.1),
                        (at.0 + across.0, at.1 + across.1),
                    ],
                    0.9,
                );
            }
            break;
        }
    }
}

fn length(pair: &[At]) -> f64 {
    (pair[1].0 - pair[0].0).hypot(pair[1].1 - pair[0].1)
}

/// Places of nodes at which wires end.
fn tips(parts: &BoardParts<'_>, layout: &Layout) -> Vec<At> {
    let mut nodes: Vec<usize> = parts.harness.sites.iter().map(|site| site.node).collect();
    nodes.sort_unstable();
    nodes.dedup();
    nodes.into_iter().map(|node| layout.nodes[node]).collect()
}

/// Number, length, wires and diameter of a segment, as much as its line has room for.
fn label(
    ink: &mut Ink,
    (run, breaks): (&place::Run, &[place::Break]),
    part: &Segment,
    style: LengthStyle,
    thickness: f64,
) {
    let Some(pair) = run.points.windows(2).last() else {
        return;
    };
    // The longest piece between the marks of what is cut out.
    let (mut from, mut to) = (pair[0].0, pair[0].0);
    let mut start = pair[0].0;
    let marks = breaks.iter().map(|cut| cut.x);
    for end in marks
        .filter(|x| pair[0].0 < *x && *x <= pair[1].0)
        .chain([pair[1].0])
    {
        if end - start > to - from {
            (from, to) = (start, end);
        }
        start = end;
    }
    let room = to - from - 8.0;
    let length = format_length(part.length, style);
    let diameter = part.fill.diameter.map_or_else(String::new, |diameter| {
        format!(", Ø {:.0} mm", (diameter.0 * 1000.0).ceil())
    });
    let long = format!(
        "{}: {length}, {} wires{diameter}",
        part.number,
        part.fill.members.len()
    );
    let middle = f64::midpoint(from, to);
    let y = pair[0].1 - thickness / 2.0 - 1.2;
    for text in [
        long,
        format!("{}: {length}", part.number),
        part.number.to_string(),
    ] {
        if font::width(&text, TEXT) <= room {
            ink.bold((middle, y), &text, TEXT, Anchor::Middle);
            return;
        }
    }
}

/// Half the width of the widest bundle that leaves a point of the trunk downward; none where none does.
fn branch_below(parts: &BoardParts<'_>, layout: &Layout, at: At) -> Option<f64> {
    let down = layout.runs.iter().filter(|run| {
        let ends = [run.points.first(), run.points.get(1)];
        matches!(ends, [Some(&first), Some(second)] if first == at && second.1 > at.1 + 0.5)
    });
    down.map(|run| thickness(parts, run.branch) / 2.0)
        .reduce(f64::max)
}

/// Distances from the datum along the trunk.
fn distances(parts: &BoardParts<'_>, layout: &Layout, ink: &mut Ink, style: LengthStyle) {
    let tree = &parts.harness.tree;
    let mut at = tree.root;
    let mut free = f64::NEG_INFINITY;
    loop {
        if tree.spaced_from[at].is_none() {
            let (x, y) = layout.nodes[at];
            let text = if at == tree.datum {
                "DATUM".to_owned()
            } else {
                format!("at {}", format_length(tree.distance[at], style))
            };
            let width = font::width(&text, TEXT);
            // At the end of the trunk the words of what ends there begin, so its distance stands before it.
            let is_tip = tree.children[at].is_empty();
            // Beside a branch that leaves downward it stands clear of its bundle.
            let beside = branch_below(parts, layout, (x, y));
            let start = match beside {
                Some(half) => x - half - 1.0 - width,
                None if is_tip => x - 1.0 - width,
                None => x + 1.0,
            };
            if start >= free {
                ink.text((start, y + 14.4), &text, TEXT, Anchor::Start);
                free = start + width + 2.0;
            }
        }
        let Some(&next) = tree.children[at].first() else {
            return;
        };
        at = tree.branches[next].to;
    }
}

fn break_mark(ink: &mut Ink, (x, y): At, removed: f64, style: LengthStyle) {
    ink.polygon(
        vec![
            (x - 3.0, y + 7.0),
            (x - 1.0, y - 7.0),
            (x + 3.0, y - 7.0),
            (x + 1.0, y + 7.0),
        ],
        Rgb::WHITE,
    );
    ink.line(vec![(x - 3.0, y + 7.0), (x - 1.0, y - 7.0)], 0.35);
    ink.line(vec![(x + 1.0, y + 7.0), (x + 3.0, y - 7.0)], 0.35);
    let text = format!("+ {}", format_length(Metres(removed / 1000.0), style));
    ink.bold((x, y - 10.2), &text, TEXT, Anchor::Middle);
}

fn draw_block(parts: &BoardParts<'_>, ink: &mut Ink, block: &place::Block, words: &Words) {
    if !block.leader.is_empty() {
        ink.dashed(block.leader.clone(), 0.25);
    }
    let (x, y) = block.at;
    ink.framed(block.at, block.size.0, block.size.1);
    let mut base = y + 3.2;
    for (index, (line, heading)) in words.lines.iter().enumerate() {
        if *heading {
            ink.bold((x + 1.5, base), line, TEXT, Anchor::Start);
        } else {
            ink.text((x + 1.5, base), line, TEXT, Anchor::Start);
        }
        base += ROW;
        for small in words.faces.iter().filter(|small| small.line == index) {
            let (half, side) = (small.half, small.side);
            let chart = &parts.charts[small.chart];
            let face = chart.face(half, FaceView::WireSide);
            draw_face(ink, (x + 5.0, base + 2.0), &face, side, &|number| {
                chart
                    .cavities
                    .iter()
                    .find(|cavity| cavity.number == number)
                    .map_or((false, false), |cavity| {
                        let contact = &cavity.halves[half];
                        (!contact.wires.is_empty(), contact.live == Some(true))
                    })
            });
            base += face.rows.len() as f64 * side + 10.0;
        }
    }
}

const WIRES: &[Column] = &[
    tick("laid"),
    column("wire", 15.0),
    column("function", 26.0),
    column("size", 14.0),
    column("colour", 11.0),
    column("end A, fitted with", 53.0),
    column("end B, fitted with", 53.0),
    column("route", 16.0),
    column("fold back", 16.0),
    column("cut", 15.0),
    column("segments", 20.0),
];

const SEGMENTS: &[Column] = &[
    column("no.", 8.0),
    column("along", 24.0),
    column("from datum", 30.0),
    column("length", 18.0),
    column("longer by at most", 18.0),
    column("wires", 12.0),
    column("Ø mm", 14.0),
    column("covering", 16.0),
    column("clamps", 12.0),
];

const BILL: &[Column] = &[
    tick("got"),
    column("for this harness", 70.0),
    column("amount", 28.0),
];

type Listed = (&'static str, &'static [Column], Vec<Vec<String>>, f64);

fn tables(parts: &BoardParts<'_>) -> [Listed; 3] {
    let style = length_style(parts.system);
    let tree = &parts.harness.tree;
    let mut number = vec![None; tree.branches.len()];
    for part in parts.segments {
        number[part.branch] = Some(part.number);
    }
    let wires = parts
        .harness
        .wires
        .iter()
        .zip(parts.wires)
        .map(|(wire, row)| {
            let path: Vec<String> = wire
                .path
                .iter()
                .filter_map(|&branch| number[branch])
                .map(|number| number.to_string())
                .collect();
            let star = if row.assumed { "*" } else { "" };
            let end = |index: usize| format!("{}: {}", row.ends[index], row.fittings[index]);
            let given = |text: &str| {
                if text.is_empty() {
                    "not given".to_owned()
                } else {
                    text.to_owned()
                }
            };
            vec![
                String::new(),
                if row.cable.is_empty() {
                    row.number.clone()
                } else {
                    format!("{} (cable {})", row.number, row.cable)
                },
                row.function.clone(),
                given(&row.size),
                given(&row.colour),
                end(0),
                end(1),
                format!("{}{star}", format_length(row.route, style)),
                row.fold.map_or_else(String::new, |(fold, end)| {
                    format!("{} at {}", format_length(fold, style), end.letter())
                }),
                row.cut.map_or_else(
                    || "to be measured".to_owned(),
                    |cut| format_length(cut, style),
                ),
                path.join(", "),
            ]
        })
        .collect();
    let segments = parts
        .segments
        .iter()
        .map(|part| {
            let branch = &tree.branches[part.branch];
            let from = {
                let mut at = branch.from;
                while let Some(stands_for) = tree.spaced_from[at] {
                    at = stands_for;
                }
                at
            };
            let [a, b] = [from, branch.to].map(|node| format_length(tree.distance[node], style));
            let slack = part.slack.map_or_else(String::new, |slack| {
                format!(", leave a loop of {}", format_length(slack, style))
            });
            vec![
                part.number.to_string(),
                format!("{}{slack}", part.name),
                format!("{a} to {b}"),
                format_length(part.length, style),
                format_length(part.tolerance, style),
                if part.fill.unlisted > 0 {
                    format!("{} + {}", part.fill.members.len(), part.fill.unlisted)
                } else {
                    part.fill.members.len().to_string()
                },
                part.fill.diameter.map_or_else(
                    || "not known".to_owned(),
                    |diameter| {
                        let more = if part.fill.is_partial() {
                            " or more"
                        } else {
                            ""
                        };
                        format!("{:.1}{more}", diameter.0 * 1000.0)
                    },
                ),
                part.covering.to_owned(),
                part.clamps
                    .map_or_else(String::new, |clamps| clamps.to_string()),
            ]
        })
        .collect();
    let bill = harness_bill(parts.wires, parts.segments, style)
        .into_iter()
        .map(|(item, amount)| vec![String::new(), item, amount])
        .collect();
    [
        ("Wires", WIRES, wires, 260.0),
        ("Segments", SEGMENTS, segments, 170.0),
        ("Material", BILL, bill, 110.0),
    ]
}
