//! Harness boards: lengths, geometry, tiles, ends and continuity, on every example and on random harnesses.

// A test reads files; the library does not.
#![allow(clippy::disallowed_methods)]

use loomwright::analysis::Facts;
use loomwright::analysis::harness::{Bench, Continuity, Harness, Harnesses};
use loomwright::diag::Tally;
use loomwright::drawing::board::coils::{coils, laid};
use loomwright::drawing::board::place::{Layout, layout};
use loomwright::drawing::board::{
    BoardParts, LONGEST_STRAIGHT, Straights, board_pages, board_sheet, thickness,
};
use loomwright::drawing::connector_face::connector_pages;
use loomwright::drawing::scene::{At, Form, Sheet};
use loomwright::schedule::{Fingerprint, Head, Rows};
use loomwright::source::LineIndex;
use loomwright::system::{ComponentKind, FaceView, System};
use loomwright::{Draft, draft};
use std::fmt::Write;
#[cfg(feature = "pdf")]
use std::process::Command;

#[cfg(feature = "pdf")]
mod programs;

#[cfg(feature = "pdf")]
use programs::is_installed;

/// What a ruler shows: a tenth of a millimetre, in mm.
const RULER: f64 = 0.1;

/// The papers of a boat with its harness boards.
struct Papers<'p> {
    rows: &'p Rows<'p>,
    head: &'p Head,
    boards: Vec<BoardParts<'p>>,
}

fn on_papers(draft: &Draft, system: &System, look: impl FnOnce(&Papers<'_>)) {
    let facts = Facts::new(system);
    let index = LineIndex::new(&draft.text);
    let rows = Rows::new(&facts, &[], &index);
    let head = Head::new(
        system,
        &Tally::of(&[], 0),
        Fingerprint::of(draft.text.as_bytes()),
    );
    let boards = rows.harnesses().each().map(|each| BoardParts {
        system,
        head: &head,
        harness: each.harness,
        wires: each.wires,
        segments: each.segments,
        continuity: each.continuity,
        charts: rows.charts(),
    });
    look(&Papers {
        rows: &rows,
        head: &head,
        boards: boards.collect(),
    });
}

fn examples() -> Vec<(String, Draft)> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let mut paths: Vec<_> = std::fs::read_dir(folder)
        .expect("the folder can be listed")
        .map(|file| file.expect("the folder can be listed").path())
        .collect();
    paths.sort();
    paths
        .iter()
        .map(|path| {
            let bytes = std::fs::read(path).expect("an example can be read");
            (path.display().to_string(), draft(&bytes))
        })
        .collect()
}

/// A small source of numbers that look random; the same every time.
struct Dice(u64);

impl Dice {
    fn below(&mut self, limit: u64) -> u64 {
        // Linear congruential generator of Knuth's MMIX.
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % limit
    }
}

/// A boat whose one harness follows a random tree of ways.
fn random_ways(seed: u64) -> String {
    let mut dice = Dice(seed);
    let points = 3 + dice.below(22);
    let mut text = String::from("loomwright: 1\nboat: {system: 12 V}\npoints:\n");
    for point in 0..points {
        let _ = writeln!(text, "  p{point}: {{}}");
    }
    text.push_str("ways:\n");
    for point in 1..points {
        // Stars, combs and chains all come up.
        let from = match seed % 3 {
            0 => dice.below(point),
            1 => point - 1 - dice.below(point.min(3)),
            _ => dice.below(point.min(3)),
        };
        let length = [15, 40, 120, 400, 1500, 4000][usize::try_from(dice.below(6)).expect("small")]
            + dice.below(100);
        let _ = writeln!(
            text,
            "  w{point}: {{between: [p{from}, p{point}], length: {length} mm, bundle: loom}}"
        );
    }
    text.push_str("buses:\n");
    for point in 0..points {
        let _ = writeln!(text, "  b{point}: {{polarity: positive, at: p{point}}}");
    }
    text.push_str("runs:\n");
    for point in 1..points {
        let other = dice.below(point);
        let _ = writeln!(
            text,
            "  R{point}: {{from: b{point}, to: b{other}, gauge: 2.5 mm², colour: red}}"
        );
        let _ = writeln!(
            text,
            "  S{point}: {{from: b0, to: b{point}, gauge: 1.5 mm², colour: red}}"
        );
    }
    text
}

/// A boat whose one harness has lengths alone.
fn random_lengths(seed: u64) -> String {
    let mut dice = Dice(seed);
    let count = 2 + dice.below(18);
    let mut text = String::from("loomwright: 1\nboat: {system: 12 V}\nbuses:\n");
    for bus in 0..count {
        let _ = writeln!(text, "  b{bus}: {{polarity: positive}}");
    }
    text.push_str("runs:\n");
    for run in 0..2 * count {
        let (from, to) = (dice.below(count), dice.below(count));
        if from != to {
            let length = 10 + dice.below(6000);
            let _ = writeln!(
                text,
                "  R{run}: {{from: b{from}, to: b{to}, gauge: 2.5 mm², colour: red, length: {length} mm, bundle: loom}}"
            );
        }
    }
    text
}

fn boats() -> Vec<(String, System)> {
    let mut boats: Vec<(String, System)> = examples()
        .into_iter()
        .filter_map(|(name, draft)| Some((name, draft.boat?)))
        .collect();
    for seed in 0..60 {
        for text in [random_ways(seed), random_lengths(seed)] {
            let draft = draft(text.as_bytes());
            let boat = draft.boat.expect("a random boat is a boat");
            boats.push((format!("seed {seed}\n{text}"), boat));
        }
    }
    boats
}

/// Words of a plausible size at every node where something ends.
fn sizes(harness: &Harness) -> Vec<Option<(f64, f64)>> {
    let mut sizes = vec![None; harness.tree.nodes()];
    for site in &harness.sites {
        let (_, height) = sizes[site.node].unwrap_or((0.0, 4.0));
        sizes[site.node] = Some((45.0, height + 11.0));
    }
    sizes
}

fn length(points: &[At]) -> f64 {
    points
        .windows(2)
        .map(|pair| (pair[0].0 - pair[1].0).hypot(pair[0].1 - pair[1].1))
        .sum()
}

#[test]
fn every_wire_has_its_length() {
    let mut wires = 0;
    for (name, system) in boats() {
        for harness in &Harnesses::new(&system).list {
            let board = layout(&harness.tree, &sizes(harness));
            let mut drawn = vec![0.0; harness.tree.branches.len()];
            for run in &board.runs {
                drawn[run.branch] += length(&run.points);
            }
            for wire in &harness.wires {
                wires += 1;
                let given = system.conductors[wire.conductor.index()]
                    .length
                    .expect("only measured wires are laid out")
                    .value;
                let path: f64 = wire.path.iter().map(|&branch| drawn[branch]).sum();
                let laid = path + wire.fold.0 * 1000.0;
                assert!(wire.fold.0 >= 0.0, "{name}: {wire:?}");
                assert!((laid - given.0 * 1000.0).abs() < RULER, "{name}: {wire:?}");
            }
        }
    }
    assert!(wires > 300, "{wires}");
}

#[test]
fn a_route_of_the_board_is_the_route_of_the_cut_list() {
    let mut seen = 0;
    for (name, draft) in examples() {
        let Some(system) = draft.boat else { continue };
        let facts = Facts::new(&system);
        let lines = LineIndex::new(&draft.text);
        let rows = Rows::new(&facts, &[], &lines);
        for cut in rows.cuts().spools.iter().flat_map(|spool| &spool.cuts) {
            let [core] = cut.cores[..] else { continue };
            for each in rows.harnesses().each() {
                let wires = each.harness.wires.iter().zip(each.wires);
                for (wire, row) in wires.filter(|(wire, _)| wire.conductor == core) {
                    seen += 1;
                    assert!(
                        (wire.along.0 + wire.fold.0 - cut.route.0).abs() * 1000.0 < RULER,
                        "{name}"
                    );
                    assert_eq!(row.cut, Some(cut.length), "{name}");
                }
            }
        }
    }
    assert!(seen > 100, "{seen}");
}

/// Whether two straight lines meet anywhere but at one end that both have.
fn collide(a: (At, At), b: (At, At)) -> bool {
    let near = |p: At, q: At| (p.0 - q.0).abs() < 1e-6 && (p.1 - q.1).abs() < 1e-6;
    let cross = |o: At, p: At, q: At| (p.0 - o.0) * (q.1 - o.1) - (p.1 - o.1) * (q.0 - o.0);
    let on = |p: At, (from, to): (At, At)| {
        let long = (to.0 - from.0).hypot(to.1 - from.1);
        cross(from, to, p).abs() < 1e-6 * long.max(1.0)
            && p.0 > from.0.min(to.0) - 1e-6
            && p.0 < from.0.max(to.0) + 1e-6
            && p.1 > from.1.min(to.1) - 1e-6
            && p.1 < from.1.max(to.1) + 1e-6
    };
    for (p, other, line) in [(a.0, a.1, b), (a.1, a.0, b), (b.0, b.1, a), (b.1, b.0, a)] {
        let shared = near(p, line.0) || near(p, line.1);
        if !shared && on(p, line) {
            return true;
        }
        // From a shared end both may not run the same way.
        if shared && on(other, line) && !near(other, line.0) && !near(other, line.1) {
            return true;
        }
    }
    if near(a.0, b.0) && near(a.1, b.1) || near(a.0, b.1) && near(a.1, b.0) {
        return true;
    }
    let sides =
        |line: (At, At), p: At, q: At| cross(line.0, line.1, p) * cross(line.0, line.1, q) < -1e-9;
    sides(a, b.0, b.1) && sides(b, a.0, a.1)
}

fn lines(board: &Layout) -> Vec<(At, At)> {
    board
        .runs
        .iter()
        .flat_map(|run| run.points.windows(2))
        .map(|pair| (pair[0], pair[1]))
        .collect()
}

#[test]
fn no_two_segments_meet_and_no_words_lie_on_another() {
    let mut harnesses = 0;
    for (name, system) in boats() {
        for harness in &Harnesses::new(&system).list {
            harnesses += 1;
            let board = layout(&harness.tree, &sizes(harness));
            for board in [board.clone(), board.broken(LONGEST_STRAIGHT, 60.0)] {
                let lines = lines(&board);
                for (index, &a) in lines.iter().enumerate() {
                    for &b in &lines[index + 1..] {
                        assert!(!collide(a, b), "{} {a:?} {b:?}\n{name}", harness.name);
                    }
                }
                let corners = |at: At, size: (f64, f64)| (at.0, at.1, at.0 + size.0, at.1 + size.1);
                for (index, one) in board.blocks.iter().enumerate() {
                    let a = corners(one.at, one.size);
                    for other in &board.blocks[index + 1..] {
                        let b = corners(other.at, other.size);
                        let apart = a.2 <= b.0 || b.2 <= a.0 || a.3 <= b.1 || b.3 <= a.1;
                        assert!(apart, "{} {one:?} {other:?}\n{name}", harness.name);
                    }
                    for &(from, to) in &lines {
                        let apart = from.0.max(to.0) <= a.0
                            || from.0.min(to.0) >= a.2
                            || from.1.max(to.1) <= a.1
                            || from.1.min(to.1) >= a.3;
                        // A slanted line may pass a corner of its own box only.
                        let slanted = (from.1 - to.1).abs() > 1e-9 && (from.0 - to.0).abs() > 1e-9;
                        assert!(
                            apart || slanted,
                            "{} {one:?} {from:?} {to:?}\n{name}",
                            harness.name
                        );
                    }
                }
            }
        }
    }
    assert!(harnesses > 100, "{harnesses}");
}

#[test]
fn what_is_cut_out_of_a_board_is_told() {
    for (name, system) in boats() {
        for harness in &Harnesses::new(&system).list {
            let whole = layout(&harness.tree, &sizes(harness));
            let broken = whole.broken(LONGEST_STRAIGHT, 60.0);
            for (a, b) in whole.runs.iter().zip(&broken.runs) {
                let removed: f64 = broken
                    .breaks
                    .iter()
                    .filter(|cut| {
                        b.points
                            .windows(2)
                            .any(|pair| pair[0].0 < cut.x && pair[1].0 >= cut.x)
                    })
                    .map(|cut| cut.removed)
                    .sum();
                let (full, short) = (length(&a.points), length(&b.points));
                assert!(
                    (full - short - removed).abs() < RULER,
                    "{} {full} {short} {removed}\n{name}",
                    harness.name
                );
            }
        }
    }
}

#[test]
fn continuity_is_what_the_copper_says() {
    let mut joined = 0;
    for (name, system) in boats() {
        for harness in &Harnesses::new(&system).list {
            let found = Continuity::new(&system, harness);
            // Colours spread over wires, splices and shared contacts until nothing changes.
            let kind = |terminal| system.component_of(terminal).kind;
            let mut colour: Vec<usize> = (0..harness.wires.len()).collect();
            loop {
                let mut changed = false;
                for (i, a) in harness.wires.iter().enumerate() {
                    for (j, b) in harness.wires.iter().enumerate() {
                        let ends = |id: loomwright::system::ConductorId| {
                            let conductor = &system.conductors[id.index()];
                            [conductor.from, conductor.to]
                        };
                        let touch = ends(a.conductor).iter().any(|&p| {
                            ends(b.conductor).iter().any(|&q| match kind(p) {
                                ComponentKind::Splice => {
                                    system.node_of(p) == system.node_of(q)
                                        && kind(q) == ComponentKind::Splice
                                }
                                ComponentKind::Connector => p == q,
                                _ => false,
                            })
                        });
                        if touch && colour[i] != colour[j] {
                            let least = colour[i].min(colour[j]);
                            colour[i] = least;
                            colour[j] = least;
                            changed = true;
                        }
                    }
                }
                if !changed {
                    break;
                }
            }
            let of = |end: usize| {
                let wire = found.ends[end].conductors[0];
                let place = harness.wires.iter().position(|it| it.conductor == wire);
                colour[place.expect("a wire of the harness")]
            };
            for a in 0..found.ends.len() {
                for b in 0..found.ends.len() {
                    assert_eq!(found.joins(Bench::Loose, a, b), of(a) == of(b), "{name}");
                    joined += usize::from(a != b && of(a) == of(b));
                    if found.joins(Bench::Loose, a, b) {
                        assert!(found.joins(Bench::Landed, a, b), "{name}");
                    }
                    let nodes = [a, b].map(|end| system.node_of(found.ends[end].terminal));
                    if nodes[0] == nodes[1] {
                        assert!(found.joins(Bench::Landed, a, b), "{name}");
                    }
                }
            }
        }
    }
    assert!(joined > 200, "{joined}");
}

fn is_tile(sheet: &Sheet) -> bool {
    sheet.groups.iter().any(|group| group.id == "marks")
}

fn texts(sheet: &Sheet, group: &str) -> Vec<String> {
    sheet
        .groups
        .iter()
        .filter(|it| it.id == group)
        .flat_map(|it| &it.shapes)
        .filter_map(|shape| match &shape.form {
            Form::Text { text, .. } => Some(text.clone()),
            _ => None,
        })
        .collect()
}

#[test]
fn every_wire_stands_at_two_ends_and_every_tile_has_its_bars() {
    let mut cut_boards = 0;
    for (name, draft) in examples() {
        let Some(system) = &draft.boat else { continue };
        on_papers(&draft, system, |papers| {
            for parts in &papers.boards {
                let sheet = board_sheet(parts);
                let words = texts(&sheet, "board");
                for row in parts.wires {
                    let count = words
                        .iter()
                        .filter(|text| {
                            text.split("  ").next().is_some_and(|first| {
                                first == row.number
                                    || first.starts_with(&format!("{} > ", row.number))
                            })
                        })
                        .count();
                    assert_eq!(count, 2, "{name} {} {}", parts.harness.name, row.number);
                }
                // Tiles with nothing left out have no mark of a cut, say so, and are no fewer.
                let pages = board_pages(parts, Straights::Short);
                let whole = board_pages(parts, Straights::Whole);
                let tiles_of = |pages: &[Sheet]| pages.iter().filter(|page| is_tile(page)).count();
                let (few, many) = (tiles_of(&pages), tiles_of(&whole));
                assert!(many >= few, "{name} {}: {many}, {few}", parts.harness.name);
                for (pages, said) in [(&pages, "are cut out"), (&whole, "Nothing is left out")] {
                    let words: Vec<String> =
                        pages.iter().flat_map(|page| texts(page, "page")).collect();
                    assert!(words.join(" ").contains(said), "{name} {said}: {words:?}");
                }
                let cuts = |pages: &[Sheet]| {
                    let words = pages.iter().flat_map(|page| texts(page, "board"));
                    words.filter(|text| text.starts_with("+ ")).count()
                };
                assert_eq!(cuts(&whole), 0, "{name} {}", parts.harness.name);
                assert!(many == few || cuts(&pages) > 0, "{name}");
                cut_boards += usize::from(cuts(&pages) > 0);
                let tiles: Vec<&Sheet> = pages.iter().filter(|sheet| is_tile(sheet)).collect();
                assert!(!tiles.is_empty(), "{name} {}", parts.harness.name);
                for tile in tiles {
                    for (words, millimetres) in [("100 mm", 100.0), ("4 in", 101.6)] {
                        let bars =
                            tile.groups
                                .iter()
                                .flat_map(|group| &group.shapes)
                                .filter(|shape| {
                                    matches!(&shape.form, Form::Polyline(points)
                                if (points[0].1 - points[1].1).abs() < 1e-9
                                    && (length(points) - millimetres).abs() < 1e-9)
                                });
                        assert!(bars.count() >= 1, "{words}");
                        assert!(texts(tile, "marks").iter().any(|text| text == words));
                    }
                }
            }
            for chart in papers.rows.charts() {
                // What a person sees who turns a half over, and what comes face to face.
                let wire_a = chart.face(0, FaceView::WireSide);
                assert_eq!(chart.face(0, FaceView::MatingFace), wire_a.mirrored());
                assert_eq!(chart.face(1, FaceView::MatingFace), wire_a);
                assert_eq!(chart.face(1, FaceView::WireSide), wire_a.mirrored());
                let words: Vec<String> = connector_pages(papers.head, chart)
                    .iter()
                    .flat_map(|page| texts(page, "page"))
                    .collect();
                for contact in chart.cavities.iter().flat_map(|cavity| &cavity.halves) {
                    for &wire in &contact.wires {
                        let number = &system.conductors[wire.index()].number;
                        assert!(
                            words.iter().any(|text| text.contains(number.as_str())),
                            "{number}"
                        );
                    }
                }
            }
        });
    }
    assert!(cut_boards > 0, "no example has a long straight");
}

/// A straight line on a printed page, in mm from its upper left corner, with its width.
#[cfg(feature = "pdf")]
#[derive(Clone, Copy, Debug)]
struct Inked {
    from: At,
    to: At,
    width: f64,
}

/// The straight black lines of each page, as another program reads them out of the PDF.
#[cfg(feature = "pdf")]
fn measured(sheets: &[Sheet]) -> Vec<Vec<Inked>> {
    let bytes = loomwright::export::pdf::write("board", sheets).expect("the sheets are sound");
    let folder = tempfile::tempdir().expect("a folder can be made");
    let file = folder.path().join("board.pdf");
    std::fs::write(&file, bytes).expect("a file can be written");
    let mut pages = Vec::new();
    for page in 1..=sheets.len() {
        let number = page.to_string();
        let done = Command::new("pdftocairo")
            // Without these two it fits the page to a paper of whole points.
            .args([
                "-svg",
                "-noshrink",
                "-nocenter",
                "-f",
                &number,
                "-l",
                &number,
            ])
            .arg(&file)
            .arg("-")
            .output()
            .expect("the program runs");
        assert!(done.status.success(), "{done:?}");
        let text = String::from_utf8(done.stdout).expect("SVG is text");
        let svg = roxmltree::Document::parse(&text).expect("it is XML");
        let mut lines = Vec::new();
        for path in svg.descendants().filter(|node| node.has_tag_name("path")) {
            let style = path.attribute("style").unwrap_or_default();
            let width = style
                .split(';')
                .find_map(|part| part.strip_prefix("stroke-width:")?.parse::<f64>().ok());
            let Some(width) = width.filter(|_| style.contains("stroke:rgb(0%,0%,0%)")) else {
                continue;
            };
            let numbers = |text: &str| -> Vec<f64> {
                text.split([' ', ',', '(', ')'])
                    .filter_map(|word| word.parse().ok())
                    .collect()
            };
            // Points of 1/72 in, back to millimetres of the paper.
            let turn = numbers(path.attribute("transform").unwrap_or("1,0,0,1,0,0"));
            let [a, 0.0, 0.0, d, e, f] = turn[..] else {
                panic!("a page is neither turned nor skewed: {turn:?}");
            };
            let mm = 25.4 / 72.0;
            // Frames and circles close; what is measured is open.
            if path.attribute("d").is_some_and(|d| d.contains(['C', 'Z'])) {
                continue;
            }
            let mut here: Option<At> = None;
            for step in path.attribute("d").unwrap_or_default().split(['M', 'L']) {
                let pair = numbers(step);
                if pair.len() < 2 {
                    continue;
                }
                let next = ((a * pair[0] + e) * mm, (d * pair[1] + f) * mm);
                if let Some(from) = here {
                    lines.push(Inked {
                        from,
                        to: next,
                        width: width * a * mm,
                    });
                }
                here = Some(next);
            }
        }
        pages.push(lines);
    }
    pages
}

/// A straight line: a point of it, its direction, and the stretches along it.
#[cfg(feature = "pdf")]
type Straight = (At, At, Vec<(f64, f64)>);

/// Length of lines laid over one another, each stretch once.
#[cfg(feature = "pdf")]
fn joined_length(lines: &[(At, At)]) -> f64 {
    let mut along: Vec<Straight> = Vec::new();
    for &(from, to) in lines {
        let long = (to.0 - from.0).hypot(to.1 - from.1);
        if long < 1e-3 {
            continue;
        }
        let way = ((to.0 - from.0) / long, (to.1 - from.1) / long);
        let place = |p: At, zero: At, way: At| {
            let (x, y) = (p.0 - zero.0, p.1 - zero.1);
            (x * way.0 + y * way.1, (x * way.1 - y * way.0).abs())
        };
        let same = |line: &Straight| {
            [from, to]
                .iter()
                .all(|&end| place(end, line.0, line.1).1 < RULER)
        };
        let found = along.iter().position(same).unwrap_or(along.len());
        if found == along.len() {
            along.push((from, way, Vec::new()));
        }
        let line = &mut along[found];
        let (a, b) = (place(from, line.0, line.1).0, place(to, line.0, line.1).0);
        line.2.push((a.min(b), a.max(b)));
    }
    let mut sum = 0.0;
    for (_, _, stretches) in &mut along {
        stretches.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut reached = f64::NEG_INFINITY;
        for &(from, to) in stretches.iter() {
            if to > reached {
                sum += to - from.max(reached);
                reached = to;
            }
        }
    }
    sum
}

/// Tiles as printed, joined cross on cross: every segment has its length, every end mark its place, every coil its wire.
#[cfg(feature = "pdf")]
#[test]
fn a_ruler_on_the_joined_tiles_finds_every_length() {
    if !is_installed("pdftocairo") {
        return;
    }
    let mut boards = 0;
    for (name, draft) in examples() {
        if !name.contains("rev-a") {
            continue;
        }
        let Some(system) = &draft.boat else { continue };
        on_papers(&draft, system, |papers| {
            for parts in &papers.boards {
                let tiles: Vec<Sheet> = board_pages(parts, Straights::Whole)
                    .into_iter()
                    .filter(is_tile)
                    .collect();
                let pages = measured(&tiles);
                let place = |sheet: &Sheet| -> (usize, usize) {
                    let (_, tile) = sheet.title.rsplit_once("tile ").expect("a tile is named");
                    let (row, column) = tile.split_once('/').expect("row and column");
                    let number = |text: &str| text.parse::<usize>().expect("a number") - 1;
                    (number(row), number(column))
                };
                // Crosses: two arms of 8 mm with one middle, in the overlap of two tiles.
                let crosses: Vec<Vec<At>> = pages
                    .iter()
                    .map(|lines| {
                        let arms = lines.iter().filter(|line| {
                            let (x, y) = (line.to.0 - line.from.0, line.to.1 - line.from.1);
                            (line.width - 0.18).abs() < 0.01 && (x.hypot(y) - 8.0).abs() < 0.02
                        });
                        let arms: Vec<(At, bool)> = arms
                            .map(|line| {
                                let middle = (
                                    f64::midpoint(line.from.0, line.to.0),
                                    f64::midpoint(line.from.1, line.to.1),
                                );
                                (middle, (line.from.1 - line.to.1).abs() < 0.01)
                            })
                            .collect();
                        let has_upright = |at: At| {
                            arms.iter().any(|&(other, level)| {
                                !level && (other.0 - at.0).hypot(other.1 - at.1) < 0.01
                            })
                        };
                        arms.iter()
                            .filter(|&&(at, level)| level && has_upright(at))
                            .map(|&(at, _)| at)
                            .collect()
                    })
                    .collect();
                let corner = |page: usize, right: bool, low: bool| -> At {
                    let (width, height) = (tiles[page].width, tiles[page].height);
                    *crosses[page]
                        .iter()
                        .find(|at| (at.0 > width / 2.0) == right && (at.1 > height / 2.0) == low)
                        .unwrap_or_else(|| {
                            panic!("{name}: a cross is missing: {:?}", crosses[page])
                        })
                };
                // All tiles are of one size, so one is measured and the others must agree.
                let (across, down) = {
                    let (a, b, c) = (
                        corner(0, false, false),
                        corner(0, true, false),
                        corner(0, false, true),
                    );
                    (b.0 - a.0, c.1 - a.1)
                };
                let mut inked: Vec<(At, At)> = Vec::new();
                let mut ticks: Vec<At> = Vec::new();
                for (page, lines) in pages.iter().enumerate() {
                    let (row, column) = place(&tiles[page]);
                    let first = corner(page, false, false);
                    let last = corner(page, true, true);
                    assert!((last.0 - first.0 - across).abs() < RULER, "{name}");
                    assert!((last.1 - first.1 - down).abs() < RULER, "{name}");
                    let joined = |at: At| {
                        (
                            at.0 - first.0 + across * column as f64,
                            at.1 - first.1 + down * row as f64,
                        )
                    };
                    for line in lines {
                        // The bars to measure stand below the window.
                        if line.from.1 > tiles[page].height - 12.0 + 1e-6 {
                            continue;
                        }
                        let (from, to) = (joined(line.from), joined(line.to));
                        if (line.width - 0.35).abs() < 0.01 {
                            inked.push((from, to));
                        }
                        let tall = (from.1 - to.1).abs();
                        if (line.width - 0.5).abs() < 0.01
                            && (from.0 - to.0).abs() < 0.01
                            && tall > 13.9
                        {
                            ticks.push((from.0, f64::midpoint(from.1, to.1)));
                        }
                    }
                }
                boards += 1;
                let tree = &parts.harness.tree;
                let wanted: f64 = tree.branches.iter().map(|it| it.length.0 * 1000.0).sum();
                let found = joined_length(&inked);
                let slack = RULER * tree.branches.len() as f64;
                assert!(
                    (found - wanted).abs() < slack,
                    "{name} {}: {found} mm of line, {wanted} mm of segments",
                    parts.harness.name
                );
                // End marks along the trunk are as far from the first as the tree says.
                let mut at = tree.root;
                let mut trunk = vec![(at, 0.0)];
                while let Some(&next) = tree.children[at].first() {
                    let (_, sum) = trunk[trunk.len() - 1];
                    at = tree.branches[next].to;
                    trunk.push((at, sum + tree.branches[next].length.0 * 1000.0));
                }
                let sites: Vec<f64> = trunk
                    .iter()
                    .filter(|(node, _)| parts.harness.sites.iter().any(|site| site.node == *node))
                    .map(|(_, along)| *along)
                    .collect();
                let matches = ticks.iter().any(|zero| {
                    sites.iter().all(|along| {
                        ticks.iter().any(|tick| {
                            (tick.1 - zero.1).abs() < RULER
                                && (tick.0 - zero.0 - (along - sites[0])).abs() < RULER
                        })
                    })
                });
                assert!(
                    matches,
                    "{name} {}: {sites:?} {ticks:?}",
                    parts.harness.name
                );
            }
        });
    }
    assert!(boards > 10, "{boards} boards");
}

#[test]
fn coils_hold_the_wire_that_is_laid_back() {
    let mut seen = 0;
    for (_, draft) in examples() {
        let Some(system) = &draft.boat else { continue };
        on_papers(&draft, system, |papers| {
            seen += coils_hold_their_wire(&papers.boards);
        });
    }
    assert!(seen > 20, "{seen} coils");
}

/// A coil is turns of the way from the end mark to the nail and back, in sum the loop or fold of each of its wires.
fn coils_hold_their_wire(boards: &[BoardParts<'_>]) -> usize {
    let mut seen = 0;
    for parts in boards {
        let coils = coils(parts);
        // Every loop and fold of the lists is in one coil at its end.
        let mut wanted: Vec<(usize, usize, i64)> = Vec::new();
        #[allow(clippy::cast_possible_truncation)]
        let tenths = |length: f64| (length * 10_000.0).round() as i64;
        for (index, (wire, row)) in parts.harness.wires.iter().zip(parts.wires).enumerate() {
            for end in [0, 1] {
                let node = parts.harness.sites[wire.sites[end]].node;
                let looped = row.allowances[end].loop_length.0;
                if looped > 0.0 {
                    wanted.push((index, node, tenths(looped)));
                }
                if wire.fold.0 > 0.0 && wire.fold_end == end {
                    wanted.push((index, node, tenths(wire.fold.0)));
                }
            }
        }
        let mut told: Vec<(usize, usize, i64)> = coils
            .iter()
            .flat_map(|coil| {
                let of = |&wire: &usize| (wire, coil.node, tenths(coil.length.0));
                coil.wires.iter().map(of).collect::<Vec<_>>()
            })
            .collect();
        wanted.sort_unstable();
        told.sort_unstable();
        assert_eq!(told, wanted, "{}", parts.harness.name);
        let board = layout(&parts.harness.tree, &sizes(parts.harness));
        for board in [board.clone(), board.broken(LONGEST_STRAIGHT, 60.0)] {
            for one in laid(&board, &coils, |branch| thickness(parts, branch)) {
                let way = (one.nail.0 - one.from.0).hypot(one.nail.1 - one.from.1);
                let wire = 2.0 * way * f64::from(one.turns);
                let length = coils[one.coil].length.0 * 1000.0;
                assert!((wire - length).abs() < RULER, "{one:?} {length}");
                assert!((one.from.0 - board.nodes[coils[one.coil].node].0).abs() < 1e-9);
                seen += 1;
            }
        }
    }
    seen
}
