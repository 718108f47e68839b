//! The papers of one boat agree: what is cut, what it is cut from, what is bought, what is labelled.
//!
//! Sums are taken from the tables as they are printed, not from what they were made of. Every example, and boats made up
//! at random with their stock.

// A test reads files; the library does not.
#![allow(clippy::disallowed_methods)]

use loomwright::analysis::Facts;
use loomwright::diag::{Severity, Tally};
use loomwright::drawing::{BenchDrawing, bench_drawings};
use loomwright::export::svg;
use loomwright::schedule::{Cell, Fingerprint, Head, Rows, Table, label_stocks};
use loomwright::source::LineIndex;
use loomwright::system::{LabelKind, SourceKind, System};
use loomwright::{netlist, resolve, source};
use proptest::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use std::fs;

/// The boat of a netlist without errors.
fn boat(text: &str) -> System {
    let reading = source::read(text.as_bytes());
    let (records, mut findings) = netlist::read(&reading);
    let document = reading.document.as_ref().expect("it is YAML");
    let (system, more) = resolve::resolve(&records.expect("it has records"), document);
    findings.extend(more);
    findings.retain(|finding| finding.severity == Severity::Error);
    assert_eq!(findings, [], "{text}");
    system
}

/// The tables and the bench drawings of a boat.
struct Papers {
    system: System,
    tables: BTreeMap<&'static str, Table>,
    drawings: Vec<BenchDrawing>,
}

fn papers(text: &str) -> Papers {
    let system = boat(text);
    let (tables, drawings) = {
        let facts = Facts::new(&system);
        let lines = LineIndex::new(text);
        let rows = Rows::new(&facts, &[], &lines);
        let head = Head::new(&system, &Tally::default(), Fingerprint::of(text.as_bytes()));
        (rows.tables(), bench_drawings(&rows, &head, |_| true))
    };
    Papers {
        system,
        tables: tables
            .into_iter()
            .map(|table| (table.stem, table))
            .collect(),
        drawings,
    }
}

/// A table's records by column name.
struct Records<'t>(&'t Table);

impl<'t> Records<'t> {
    fn column(&self, name: &str) -> usize {
        let columns = self.0.columns.iter();
        let found = columns.clone().position(|&column| column == name);
        found.unwrap_or_else(|| panic!("{} has no column {name}", self.0.stem))
    }

    fn texts(&self, name: &str) -> Vec<&'t str> {
        let at = self.column(name);
        let cell = |row: &'t Vec<Cell>| match &row[at] {
            Cell::Text(text) | Cell::Number(text) => text.as_str(),
            Cell::Empty => "",
        };
        self.0.rows.iter().map(cell).collect()
    }

    /// Numbers in tenths, so that sums of printed figures are exact.
    fn tenths(&self, name: &str) -> Vec<Option<i64>> {
        let number = |text: &str| {
            let value: f64 = text.parse().ok()?;
            #[allow(clippy::cast_possible_truncation)] // figures of a small table
            Some((value * 10.0).round() as i64)
        };
        self.texts(name).into_iter().map(number).collect()
    }
}

impl Papers {
    fn table(&self, stem: &str) -> Records<'_> {
        Records(&self.tables[stem])
    }

    fn sheets(&self, stem: &str) -> &[loomwright::drawing::Sheet] {
        let found = self.drawings.iter().find(|drawing| drawing.stem == stem);
        found.map_or(&[], |drawing| &drawing.sheets)
    }
}

fn sums<'k>(keys: &[&'k str], values: &[Option<i64>]) -> BTreeMap<&'k str, i64> {
    let mut sums = BTreeMap::new();
    for (key, value) in keys.iter().zip(values) {
        if let Some(value) = value {
            *sums.entry(*key).or_default() += value;
        }
    }
    sums
}

/// Wire by spool: the same in the cut list, the cutting plan, the bars and the bill.
fn wire_agrees(papers: &Papers) {
    let cuts = papers.table("cut-list");
    let plan = papers.table("spool-plan");
    let bill = papers.table("bill-of-materials");
    let mut cut = sums(&cuts.texts("spool"), &cuts.tenths("cut_length_mm"));
    cut.remove("");
    let planned = sums(&plan.texts("spool"), &plan.tenths("cut_length_mm"));
    assert_eq!(cut, planned, "cut list and cutting plan");

    // The bill is printed in whole millimetres.
    let groups = bill.texts("group");
    let is_wire = |group: &str| matches!(group, "wire" | "multi-core cable" | "battery cable");
    let mut billed = BTreeMap::new();
    let mut bought = BTreeMap::new();
    let mut own = BTreeMap::new();
    for (row, name) in bill.texts("description").into_iter().enumerate() {
        if is_wire(groups[row]) {
            *billed.entry(name).or_insert(0) += bill.tenths("net")[row].unwrap_or(0);
            *bought.entry(name).or_insert(0) += bill.tenths("buy")[row].unwrap_or(0);
            *own.entry(name).or_insert(0) += bill.tenths("at_hand")[row].unwrap_or(0);
        }
    }
    let near = |a: &BTreeMap<&str, i64>, b: &BTreeMap<&str, i64>, what: &str| {
        let names: BTreeSet<&str> = a.keys().chain(b.keys()).copied().collect();
        for name in names {
            let (a, b) = (
                a.get(name).copied().unwrap_or(0),
                b.get(name).copied().unwrap_or(0),
            );
            assert!((a - b).abs() <= 10, "{what}: {name}: {a} {b}");
        }
    };
    near(&cut, &billed, "cut list and bill");

    // Piece by piece: what is cut and what is left make the piece, and nothing is cut from what is not there.
    let kinds = plan.texts("kind");
    let (spools, names) = (plan.texts("spool"), plan.texts("piece"));
    let mut pieces: BTreeMap<(&str, &str), (i64, i64, i64)> = BTreeMap::new();
    for row in 0..spools.len() {
        let piece = pieces.entry((spools[row], names[row])).or_insert((
            plan.tenths("piece_length_mm")[row].unwrap_or(0),
            0,
            0,
        ));
        piece.1 += plan.tenths("cut_length_mm")[row].unwrap_or(0);
        piece.2 = plan.tenths("remaining_mm")[row].unwrap_or(-1);
        assert!(piece.2 >= 0, "{} {}", spools[row], names[row]);
    }
    for (name, (length, cut, left)) in &pieces {
        assert_eq!(*length, cut + left, "{name:?}");
    }
    let to_buy = |kind: &str| kind.starts_with("to buy");
    let mut new = BTreeMap::new();
    let mut from_own: BTreeMap<&str, i64> = BTreeMap::new();
    let mut seen = BTreeSet::new();
    for row in 0..spools.len() {
        if to_buy(kinds[row]) {
            if seen.insert((spools[row], names[row])) {
                *new.entry(spools[row]).or_insert(0) +=
                    plan.tenths("piece_length_mm")[row].unwrap_or(0);
            }
        } else {
            *from_own.entry(spools[row]).or_default() +=
                plan.tenths("cut_length_mm")[row].unwrap_or(0);
        }
    }
    near(&new, &bought, "cutting plan and bill, to buy");
    near(&from_own, &own, "cutting plan and bill, at hand");

    // One bar segment for each cut, and none twice.
    let seqs: Vec<&str> = plan
        .texts("seq")
        .into_iter()
        .filter(|seq| !seq.is_empty())
        .collect();
    let once: BTreeSet<&str> = seqs.iter().copied().collect();
    assert_eq!(seqs.len(), once.len(), "a cut stands in two pieces");
    let drawn: Vec<&str> = papers
        .sheets("spool-bars")
        .iter()
        .flat_map(|sheet| &sheet.groups)
        .filter_map(|group| group.id.strip_prefix("cut-"))
        .collect();
    let drawn_once: BTreeSet<&str> = drawn.iter().copied().collect();
    assert_eq!(drawn.len(), drawn_once.len(), "a cut is drawn twice");
    assert_eq!(once, drawn_once, "bars and cutting plan");
}

/// Every wire is cut, or told why not, and has two rows in the label schedule.
fn every_wire_is_there(papers: &Papers) {
    let all: BTreeSet<&str> = (papers.system.conductors.iter())
        .map(|conductor| conductor.number.as_str())
        .collect();
    let cuts = papers.table("cut-list");
    let listed = cuts.texts("wire");
    assert_eq!(listed.len(), all.len());
    assert_eq!(listed.iter().copied().collect::<BTreeSet<_>>(), all);
    let labels = papers.table("label-schedule");
    let mut ends: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for (wire, end) in labels.texts("wire").into_iter().zip(labels.texts("end")) {
        ends.entry(wire).or_default().push(end);
    }
    for wire in &all {
        let mut found = ends[wire].clone();
        found.sort_unstable();
        assert_eq!(found, ["A", "B"], "{wire}");
    }
    // No core of a cable is cut by itself, and the cable is cut once.
    let (cables, lengths) = (cuts.texts("cable"), cuts.tenths("cut_length_mm"));
    let mut cut: BTreeMap<&str, usize> = BTreeMap::new();
    for (cable, length) in cables.iter().zip(&lengths) {
        if !cable.is_empty() {
            *cut.entry(cable).or_default() += usize::from(length.is_some());
        }
    }
    assert!(cut.values().all(|count| *count <= 1), "{cut:?}");
}

/// AC 43.13-1B 11-208: none under 3 in, one from 3 to 7 in, else one at each end; and one on both sides of a bulkhead
/// (NEETS module 4).
fn labels_wanted(system: &System) -> usize {
    let inches = |length: f64| length / 0.0254;
    let count = |conductor: &loomwright::system::Conductor| {
        let holes = conductor.stretches.iter().filter(|part| {
            part.way
                .is_some_and(|way| system.ways[way.index()].hole.is_some())
        });
        match conductor.length.map(|length| inches(length.value.0)) {
            Some(short) if short < 3.0 => 0,
            Some(short) if short < 7.0 => 1,
            _ => 2 + 2 * holes.count(),
        }
    };
    system.conductors.iter().map(count).sum()
}

fn labels_agree(papers: &Papers) {
    let schedule = papers.table("label-schedule");
    let total: i64 = schedule
        .tenths("quantity")
        .into_iter()
        .flatten()
        .sum::<i64>()
        / 10;
    assert_eq!(usize::try_from(total), Ok(labels_wanted(&papers.system)));
    let stocks = label_stocks(&papers.system);
    let names: BTreeSet<&str> = stocks.iter().map(|stock| stock.name.as_str()).collect();
    let wanted = sums(&schedule.texts("printed_on"), &schedule.tenths("quantity"));
    let printer = papers.table("label-printer");
    let made = sums(&printer.texts("stock"), &printer.tenths("copies"));
    let printed: BTreeMap<&str, i64> = wanted
        .into_iter()
        .filter(|(name, count)| names.contains(name) && *count > 0)
        .collect();
    assert_eq!(printed, made, "label schedule and label printer");
    let bill = papers.table("bill-of-materials");
    let mut billed = 0;
    for (row, group) in bill.texts("group").into_iter().enumerate() {
        if group == "labels" {
            billed += bill.tenths("net")[row].unwrap_or(0);
        }
    }
    assert_eq!(billed, made.values().sum::<i64>(), "labels of the bill");
    let on_sheets: i64 = (stocks.iter())
        .filter(|stock| stock.page.is_some())
        .map(|stock| made.get(stock.name.as_str()).copied().unwrap_or(0))
        .sum();
    let drawn = papers
        .sheets("label-sheets")
        .iter()
        .flat_map(|sheet| &sheet.groups)
        .filter(|group| group.id.starts_with("label-"))
        .count();
    assert_eq!(i64::try_from(10 * drawn), Ok(on_sheets), "labels on sheets");
}

/// Text stays on its label, labels stay on their sheet and off one another, and every sheet has a rule of 100 mm.
fn labels_lie_where_they_should(papers: &Papers) {
    let stocks = label_stocks(&papers.system);
    for sheet in papers.sheets("label-sheets") {
        let stock = stocks
            .iter()
            .find(|stock| {
                sheet
                    .title
                    .starts_with(&format!("Labels on {}, ", stock.name))
                    || sheet.title == format!("Check sheet of {}", stock.name)
            })
            .expect("a sheet is of a stock");
        let page = stock.page.expect("it has sheets");
        assert!((sheet.width - page.width.0 * 1000.0).abs() < 1e-9);
        let mut place = 0;
        for group in &sheet.groups {
            let area = group
                .shapes
                .iter()
                .filter_map(|shape| shape.form.area())
                .reduce(loomwright::drawing::scene::Area::union)
                .expect("a group has shapes");
            if group.id == "rule-100mm" {
                let line = group.shapes[0].form.area().expect("a line has an area");
                let long = (line.right - line.left).max(line.bottom - line.top);
                assert!((long - 100.0).abs() < 1e-9, "{long}");
            }
            if !group.id.starts_with("label-") {
                continue;
            }
            let (row, column) = (place / page.columns, place % page.columns);
            let left = (page.left + page.across * f64::from(column)).0 * 1000.0;
            let top = (page.top + page.down * f64::from(row)).0 * 1000.0;
            let high = match stock.kind {
                LabelKind::Wrap => stock.printed,
                _ => stock.height,
            };
            let slack = 1e-6;
            assert!(
                area.left >= left - slack && area.right <= left + stock.width.0 * 1000.0 + slack,
                "{}",
                group.id
            );
            assert!(
                area.top >= top - slack && area.bottom <= top + high.0 * 1000.0 + slack,
                "{} {area:?} {top}",
                group.id
            );
            place += 1;
        }
        // A sheet that is one label all over has no room for a rule; its check sheet has it inside.
        assert!(
            page.columns * page.rows == 1
                || sheet.groups.iter().any(|group| group.id == "rule-100mm"),
            "{}",
            sheet.title
        );
    }
}

/// What is crimped on: end by end in the cut list, piece by piece in the bill.
fn terminals_agree(papers: &Papers) {
    let cuts = papers.table("cut-list");
    let bill = papers.table("bill-of-materials");
    let mut ends: BTreeMap<String, i64> = BTreeMap::new();
    let mut contacts = 0;
    let sizes = cuts.texts("size");
    for column in ["fitting_a", "fitting_b"] {
        for (fitting, size) in cuts.texts(column).into_iter().zip(&sizes) {
            if fitting.contains("contact") {
                contacts += 1;
            } else if !fitting.is_empty() && !fitting.contains("splice") {
                // A lug is bought by the size of its wire, a ring by its colour.
                let name = if fitting.starts_with("bare lug") {
                    format!("{size} {fitting}")
                } else {
                    fitting.to_owned()
                };
                *ends.entry(name).or_default() += 1;
            }
        }
    }
    let mut billed: BTreeMap<String, i64> = BTreeMap::new();
    let mut billed_contacts = 0;
    let (groups, net) = (bill.texts("group"), bill.tenths("net"));
    for (row, name) in bill.texts("description").into_iter().enumerate() {
        let pieces = net[row].unwrap_or(0) / 10;
        match groups[row] {
            "terminals" => *billed.entry(name.to_owned()).or_default() += pieces,
            "contacts" => billed_contacts += pieces,
            _ => {}
        }
    }
    assert_eq!(ends, billed, "terminals of cut list and bill");
    assert_eq!(contacts, billed_contacts, "contacts of cut list and bill");
    // Every end that is labelled is an end that something is fitted to, and the other way round.
    let fitted = ["fitting_a", "fitting_b"].map(|column| {
        let all = cuts.texts(column).into_iter();
        all.filter(|fitting| !fitting.is_empty()).count()
    });
    let labelled = papers.table("label-schedule").texts("wire").len();
    assert_eq!(fitted[0] + fitted[1], labelled, "ends fitted and labelled");
}

/// Every wire of a harness is on its board, its tiles and its test, with the figures of the cut list, and on no other's.
fn harnesses_agree(papers: &Papers) -> usize {
    let Some(table) = papers.tables.get("harnesses") else {
        return 0;
    };
    let table = Records(table);
    let cuts = papers.table("cut-list");
    let row_of: BTreeMap<&str, usize> = (cuts.texts("wire").into_iter().enumerate())
        .map(|(row, wire)| (wire, row))
        .collect();
    let (names, wires) = (table.texts("harness"), table.texts("wire"));
    let mut of_harness: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    let mut seen = BTreeSet::new();
    for row in 0..wires.len() {
        assert!(seen.insert(wires[row]), "{} is built twice", wires[row]);
        if names[row].is_empty() {
            let why = table.texts("remark")[row];
            assert!(
                !why.is_empty(),
                "{} is on no board for no reason",
                wires[row]
            );
            continue;
        }
        of_harness.entry(names[row]).or_default().insert(wires[row]);
        let cut = row_of[wires[row]];
        for column in ["size", "colour", "from", "to"] {
            let (board, list) = (table.texts(column)[row], cuts.texts(column)[cut]);
            assert_eq!(board, list, "{}: {column}", wires[row]);
        }
        let figure = |column: &str| table.tenths(column)[row].unwrap_or(0);
        let route = cuts.tenths("route_length_mm")[cut].unwrap_or(0);
        assert_eq!(figure("route_length_mm"), route, "{}", wires[row]);
        // Two figures printed in tenths may lose half of one each.
        let laid = figure("board_length_mm") + figure("fold_mm");
        assert!((laid - route).abs() <= 1, "{}: {laid} {route}", wires[row]);
        if let Some(length) = table.tenths("cut_length_mm")[row] {
            // The first core of a cable stands for the whole.
            if let Some(listed) = cuts.tenths("cut_length_mm")[cut] {
                assert!((length - listed).abs() <= 5, "{}", wires[row]);
            }
        }
    }
    // Whatever lies in a bundle or lands on a connector is there, or is told why not.
    for conductor in &papers.system.conductors {
        let bundled = conductor.stretches.iter().any(|part| part.bundle.is_some());
        if bundled && !conductor.pigtail {
            assert!(
                seen.contains(conductor.number.as_str()),
                "{}",
                conductor.number
            );
        }
    }
    // Both ends of each of its wires are tested.
    let test = papers.table("continuity");
    let mut ends: BTreeMap<(&str, &str), usize> = BTreeMap::new();
    for (harness, wires) in test.texts("harness").into_iter().zip(test.texts("wires")) {
        for wire in wires.split([' ', ',', ';']).filter(|word| !word.is_empty()) {
            *ends.entry((harness, wire)).or_default() += 1;
        }
    }
    let wanted: BTreeMap<(&str, &str), usize> = of_harness
        .iter()
        .flat_map(|(harness, wires)| wires.iter().map(|wire| ((*harness, *wire), 2)))
        .collect();
    if papers.has_plain_numbers() {
        assert_eq!(ends, wanted, "ends of the harnesses");
    }
    // The sheets of a harness name its wires: in its lists, at the ends on its board.
    for stem in ["harness-boards", "harnesses", "continuity"] {
        let drawing = papers.drawings.iter().find(|drawing| drawing.stem == stem);
        let parts = drawing.map_or(&[][..], |drawing| &drawing.parts[..]);
        let told: Vec<&str> = parts.iter().map(|part| part.name.as_str()).collect();
        assert_eq!(told.len(), of_harness.len(), "{stem}");
        let mut first = 0;
        for part in parts {
            let sheets = &papers.sheets(stem)[first..first + part.sheets];
            first += part.sheets;
            let words: BTreeSet<&str> = sheets
                .iter()
                .flat_map(|sheet| &sheet.groups)
                .flat_map(|group| &group.shapes)
                .filter_map(|shape| match &shape.form {
                    loomwright::drawing::scene::Form::Text { text, .. } => Some(text.as_str()),
                    _ => None,
                })
                .flat_map(|text| text.split([' ', ',', ';']))
                .collect();
            if papers.has_plain_numbers() {
                for conductor in &papers.system.conductors {
                    let number = conductor.number.as_str();
                    let belongs = of_harness[part.name.as_str()].contains(number);
                    assert_eq!(
                        words.contains(number),
                        belongs,
                        "{stem} {}: {number}",
                        part.name
                    );
                }
            }
        }
    }
    of_harness.len()
}

/// A wire that lands on a connector stands in the chart at its cavity and half, and nothing else does.
fn connectors_agree(papers: &Papers) -> usize {
    let mut listed: BTreeSet<(String, &str)> = BTreeSet::new();
    let mut names = BTreeSet::new();
    if let Some(table) = papers.tables.get("connectors") {
        let table = Records(table);
        let (plugs, cavities) = (table.texts("connector"), table.texts("cavity"));
        let (halves, wires) = (table.texts("half"), table.texts("wire"));
        for row in 0..plugs.len() {
            names.insert(plugs[row]);
            for wire in wires[row].split("; ").filter(|wire| !wire.is_empty()) {
                let at = format!("{}.{}{}", plugs[row], cavities[row], halves[row]);
                listed.insert((at, wire));
            }
        }
    }
    let cuts = papers.table("cut-list");
    let mut wanted = BTreeSet::new();
    for column in ["from", "to"] {
        for (terminal, wire) in cuts.texts(column).into_iter().zip(cuts.texts("wire")) {
            let plug = terminal.rsplit_once('.').map_or("", |(plug, _)| plug);
            if names.contains(plug) {
                wanted.insert((terminal.to_owned(), wire));
            }
        }
    }
    assert_eq!(listed, wanted, "connector charts and cut list");
    names.len()
}

impl Papers {
    /// Whether wire numbers are words of their own, as in every file but those written to be hostile.
    fn has_plain_numbers(&self) -> bool {
        let numbers = self.system.conductors.iter().map(|it| it.number.as_str());
        let mut plain =
            numbers.map(|number| !number.contains([' ', ',', ';']) && number.len() < 20);
        plain.all(|plain| plain)
    }
}

/// The card has every device with its rating and every load that stays live; the record a line for what it documents.
#[test]
fn wallet_card_and_record_have_what_the_boat_has() {
    for name in ["marsh-pipit-rev-a", "teal-skerry-rev-a", "mud-plover-rev-a"] {
        let text = fs::read_to_string(format!("examples/{name}.yaml")).expect("an example");
        let papers = papers(&text);
        let system = &papers.system;
        let card: Vec<&str> = papers
            .sheets("wallet-card")
            .iter()
            .flat_map(|sheet| &sheet.groups)
            .filter(|group| group.id == "card")
            .flat_map(|group| &group.shapes)
            .filter_map(|shape| match &shape.form {
                loomwright::drawing::scene::Form::Text { text, .. } => Some(text.as_str()),
                _ => None,
            })
            .collect();
        let record = papers.table("as-built");
        let (sorts, objects) = (record.texts("part_of_record"), record.texts("object"));
        let of = |sort: &str| -> Vec<&str> {
            let rows = sorts.iter().zip(&objects);
            rows.filter(|(known, _)| **known == sort)
                .map(|(_, object)| *object)
                .collect()
        };
        for device in system.devices.iter().filter(|device| !device.spare) {
            let words = device.name.as_str();
            let line = card
                .iter()
                .position(|line| *line == words || line.starts_with(&format!("{words} ")));
            let line =
                line.unwrap_or_else(|| panic!("{name}: {words} is not on the card: {card:?}"));
            let rating = device.rating.map_or_else(
                || "__ A".to_owned(),
                |rating| format!("{} A", rating.value.0),
            );
            assert_eq!(card[line + 1], rating, "{name}: {words}");
            assert!(
                of("device").contains(&words),
                "{name}: {words} is not in the record"
            );
        }
        let batteries = system.sources.iter();
        let batteries = batteries.filter(|source| source.kind == SourceKind::Battery);
        let names: Vec<&str> = batteries.map(|battery| battery.name.as_str()).collect();
        assert_eq!(of("battery"), names, "{name}");
        // What is live with every switch off is what the circuits declare; the card names it.
        let told = card.join(" ");
        assert!(
            told.contains("Live with every battery switch off"),
            "{name}"
        );
        assert!(told.contains(&system.boat.name), "{name}");
    }
}

fn all_agrees(text: &str) {
    let papers = papers(text);
    terminals_agree(&papers);
    harnesses_agree(&papers);
    connectors_agree(&papers);
    every_wire_is_there(&papers);
    wire_agrees(&papers);
    labels_agree(&papers);
    labels_lie_where_they_should(&papers);
}

/// The designed boats have harnesses and connectors, or the comparison above would compare nothing.
#[test]
fn the_examples_have_harnesses_and_connectors() {
    let text = fs::read_to_string("examples/teal-skerry-rev-a.yaml").expect("an example");
    let papers = papers(&text);
    assert!(harnesses_agree(&papers) > 5);
    assert!(connectors_agree(&papers) > 3);
}

#[test]
fn the_papers_of_every_example_agree() {
    let mut seen = 0;
    let mut paths: Vec<_> = fs::read_dir("examples")
        .expect("the examples folder")
        .map(|entry| entry.expect("an example").path())
        .filter(|path| path.extension().is_some_and(|end| end == "yaml"))
        .collect();
    paths.sort();
    for path in paths {
        all_agrees(&fs::read_to_string(&path).expect("an example can be read"));
        seen += 1;
    }
    assert!(seen > 5, "the examples are found");
}

/// The designed boats say what is at hand, so that their papers show it: offcuts, spools, lengths to buy, a cable.
#[test]
fn the_examples_show_every_sort_of_piece() {
    let mut kinds = BTreeSet::new();
    let mut stocks = BTreeSet::new();
    for name in ["marsh-pipit-rev-a", "teal-skerry-rev-a"] {
        let text = fs::read_to_string(format!("examples/{name}.yaml")).expect("an example");
        let papers = papers(&text);
        let texts = papers.table("spool-plan").texts("kind");
        kinds.extend(texts.into_iter().map(str::to_owned));
        let texts = papers.table("label-printer").texts("stock");
        stocks.extend(texts.into_iter().map(str::to_owned));
    }
    for kind in [
        "offcut at hand",
        "spool at hand",
        "to buy",
        "to buy by length",
        "to buy unbroken",
    ] {
        assert!(kinds.contains(kind), "{kind} is not shown: {kinds:?}");
    }
    assert!(stocks.len() >= 3, "{stocks:?}");
}

/// A bar of the picture is as long as its scale says: measured in the SVG, within a tenth of a millimetre.
#[test]
fn bars_are_to_scale_in_the_picture() {
    let text = fs::read_to_string("examples/teal-skerry-rev-a.yaml").expect("an example");
    let papers = papers(&text);
    let plan = papers.table("spool-plan");
    let lengths: BTreeMap<&str, i64> = plan
        .texts("seq")
        .into_iter()
        .zip(plan.tenths("cut_length_mm"))
        .filter_map(|(seq, length)| Some((seq, length?)))
        .collect();
    let mut measured = 0;
    for sheet in papers.sheets("spool-bars") {
        let picture = svg::write(sheet);
        let document = roxmltree::Document::parse(&picture).expect("it is XML");
        let mut scale = 0.0;
        for node in document.descendants().filter(|node| node.has_tag_name("g")) {
            let id = node.attribute("id").unwrap_or_default();
            if id.starts_with("spool-") {
                let words: String = node.descendants().filter_map(|node| node.text()).collect();
                let (_, rest) = words
                    .rsplit_once("1 mm is ")
                    .expect("the heading tells the scale");
                let (number, _) = rest.split_once(' ').expect("a number and words");
                scale = number.parse().expect("a number");
            }
            if let Some(seq) = id.strip_prefix("cut-") {
                let bar = node
                    .children()
                    .find(|node| node.has_tag_name("rect"))
                    .expect("a bar");
                let width: f64 = bar
                    .attribute("width")
                    .expect("a width")
                    .parse()
                    .expect("a number");
                let length = lengths[seq] as f64 / 10.0;
                assert!(
                    (width * scale - length).abs() <= 0.1 * scale,
                    "{seq}: {width} {scale} {length}"
                );
                measured += 1;
            }
        }
    }
    assert!(measured > 50, "{measured}");
}

/// Square of the code of that example's label stock, in mm.
const MODULE: f64 = 0.4;

/// A code is read back from the squares as they are drawn, module by module.
#[test]
fn codes_are_read_back_from_the_sheet() {
    let text = fs::read_to_string("examples/teal-skerry-rev-a.yaml").expect("an example");
    let papers = papers(&text);
    let mut read = 0;
    for group in papers
        .sheets("label-sheets")
        .iter()
        .flat_map(|sheet| &sheet.groups)
    {
        if !group.id.starts_with("label-") {
            continue;
        }
        let squares: Vec<_> = group
            .shapes
            .iter()
            .filter(|shape| {
                shape.stroke.is_none()
                    && !matches!(shape.form, loomwright::drawing::scene::Form::Text { .. })
            })
            .filter_map(|shape| shape.form.area())
            .collect();
        let Some(whole) = squares
            .iter()
            .copied()
            .reduce(loomwright::drawing::scene::Area::union)
        else {
            continue;
        };
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a few squares
        let count = |length: f64| (length / MODULE).round() as usize;
        let side = count(whole.right - whole.left);
        assert_eq!(side, count(whole.bottom - whole.top), "a code is square");
        let mut dark = vec![false; side * side];
        for square in &squares {
            let row = count(square.top - whole.top);
            for column in count(square.left - whole.left)..count(square.right - whole.left) {
                dark[row * side + column] = true;
            }
        }
        let said = datamatrix::DataMatrix::decode(&dark, side).expect("it is a code");
        let number = String::from_utf8(said).expect("it is text");
        let loomwright::drawing::scene::Role::Block { name } = &group.role else {
            panic!("a label has a name");
        };
        assert!(
            name.starts_with(&format!("label {number} ")),
            "{name} {number}"
        );
        read += 1;
    }
    assert!(read > 50, "{read}");
}

const GAUGES: [&str; 4] = ["1 mm²", "1.5 mm²", "4 mm²", "35 mm²"];
const COLOURS: [&str; 3] = ["red", "black", "grey"];

/// A run of a made-up boat: size, colour, length in cm, whether it goes by the way, cable.
type Run = (usize, usize, u32, bool, Option<u32>);

/// Stock of a made-up boat: size, colour, lengths at hand, offcuts, lengths sold, in cm.
type Stock = (usize, usize, Vec<u32>, Vec<u32>, Vec<u32>);

fn made_up(runs: &[Run], spools: &[Stock], labels: usize) -> String {
    let mut text = String::from(
        "loomwright: 1\nboat: {name: Made Up, practice: metric, system: 12 V}\npolicy: {insulation: 105 °C}\n\
         points: {fore: {}, aft: {}}\nways: {trunk: {between: [fore, aft], length: 3 m, hole: 30 mm}}\n\
         batteries: {house: {chemistry: agm, at: fore}}\n\
         buses: {positive: {polarity: positive, studs: 60, at: fore}, negative: {polarity: negative, studs: 60, at: aft}}\nruns:\n",
    );
    for (index, (gauge, colour, length, by_way, cable)) in runs.iter().enumerate() {
        let gauge = GAUGES[*gauge];
        let colour = COLOURS[*colour];
        let ends = if *by_way {
            ("positive", "negative")
        } else {
            ("positive", "house.+")
        };
        let length = if *by_way {
            String::new()
        } else {
            format!(", length: {length} cm")
        };
        let cable = cable.map_or(String::new(), |cable| format!(", cable: K{cable}"));
        let _ = writeln!(
            text,
            "  W{}: {{from: {}, to: {}, gauge: {gauge}, colour: {colour}{length}{cable}}}",
            index + 1,
            ends.0,
            ends.1
        );
    }
    text.push_str("spools:\n  none: {gauge: 95 mm²}\n");
    for (index, (gauge, colour, lengths, offcuts, sold)) in spools.iter().enumerate() {
        let list = |cm: &[u32]| {
            cm.iter()
                .map(|cm| format!("{cm} cm"))
                .collect::<Vec<_>>()
                .join(", ")
        };
        let _ = writeln!(
            text,
            "  S{index}: {{gauge: {}, colour: {}, lengths: [{}], offcuts: [{}], sold: [{}]}}",
            GAUGES[*gauge],
            COLOURS[*colour],
            list(lengths),
            list(offcuts),
            list(sold)
        );
    }
    let stocks = [
        "",
        "  wraps: {kind: wrap, page: [210 mm, 297 mm], margins: [12 mm, 20 mm], size: [30 mm, 32 mm], columns: 5, rows: 6, printed: 12 mm, code: data-matrix}\n",
        "  sleeves: {kind: sleeve, page: [120 mm, 60 mm], margins: [0 mm, 0 mm], size: [40 mm, 10 mm], columns: 3, rows: 6, supplied: 6.4 mm, recovered: 2.1 mm}\n",
        "  flags: {kind: flag, size: [70 mm, 12 mm]}\n  strips: {kind: strip, page: [100 mm, 150 mm], margins: [8 mm, 2 mm], size: [30 mm, 8 mm], columns: 3, rows: 18}\n",
    ];
    if !stocks[labels].is_empty() {
        let _ = write!(text, "label-stock:\n{}", stocks[labels]);
    }
    text
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    /// The same on boats that nobody drew: short wires, wires longer than any spool, cables, holes, every sort of stock.
    #[test]
    fn the_papers_of_made_up_boats_agree(
        runs in proptest::collection::vec((0usize..4, 0usize..3, 3u32..1500, any::<bool>(), proptest::option::weighted(0.2, 0u32..3)), 1..24),
        spools in proptest::collection::vec((
            0usize..4, 0usize..3,
            proptest::collection::vec(100u32..3000, 0..3),
            proptest::collection::vec(20u32..400, 0..4),
            proptest::collection::vec(500u32..2500, 0..3),
        ), 0..6),
        labels in 0usize..4,
    ) {
        all_agrees(&made_up(&runs, &spools, labels));
    }
}

/// Names are data: no name breaks a picture, runs over the edge of a label, or takes a wire off its papers.
#[test]
fn hostile_names_stay_names() {
    let long = "W".repeat(300);
    let names = ["=1+1", "<b>&'x'</b>", "Größe 電線", "-", "W 1", &long];
    let mut text = String::from(
        "loomwright: 1\nboat: {name: \"</svg><script>\", practice: metric, system: 12 V}\npolicy: {insulation: 105 °C}\n\
         batteries: {house: {chemistry: agm}}\nbuses: {negative: {polarity: negative, studs: 60}}\n\
         fuse-blocks: {\"b&<lock\": {size: [60 mm, 40 mm], ways: {1: {rating: 3 A, name: \"<i>=HYPERLINK()\"}, 2: spare}}}\n\
         spools:\n  \"=cmd|' /C x'!A0\": {gauge: 1.5 mm², colour: red, offcuts: [3 m, 2 m]}\n\
         label-stock:\n  \"<wraps>\": {kind: wrap, page: [210 mm, 297 mm], margins: [12 mm, 20 mm], size: [30 mm, 32 mm], columns: 5, rows: 6, printed: 12 mm, code: data-matrix}\n\
         cables:\n  \"=K\": {cores: [\"W 1\", \"-\"]}\nruns:\n",
    );
    for name in names {
        let _ = writeln!(
            text,
            "  \"{name}\": {{from: house.+, to: negative, gauge: 1.5 mm², colour: red, length: 1 m, name: \"{}<x>&\"}}",
            "Ω=;".repeat(40)
        );
    }
    all_agrees(&text);
    let papers = papers(&text);
    let mut seen = 0;
    for sheet in papers.drawings.iter().flat_map(|drawing| &drawing.sheets) {
        let picture = svg::write(sheet);
        let document = roxmltree::Document::parse(&picture).expect("it is XML");
        assert!(
            !document
                .descendants()
                .any(|node| node.has_tag_name("script"))
        );
        seen += 1;
    }
    assert!(seen >= 4, "bars, check sheet, labels and a lid: {seen}");
    // The number that no label holds is refused, and told.
    let schedule = papers.table("label-schedule");
    let refused = schedule.texts("printed_on").into_iter();
    let refused = refused.filter(|on| on.contains("does not fit on")).count();
    assert_eq!(refused, 2);
}

/// A cable is one thing in a bundle, as thick as it is measured; a wire is as thick as its spool says.
#[test]
fn cables_and_measured_wires_fill_a_bundle_as_they_are() {
    let fill = |stock: &str| {
        let text = format!(
            "loomwright: 1\nboat: {{name: Dab, practice: metric, system: 12 V}}\npolicy: {{insulation: 105 °C}}\n\
             batteries: {{house: {{chemistry: agm}}}}\nbuses: {{negative: {{polarity: negative, studs: 9}}}}\nruns:\n\
             \x20 W1: {{from: house.+, to: negative, gauge: 1.5 mm², colour: red, length: 1 m, bundle: loom}}\n\
             \x20 W2: {{from: house.+, to: negative, gauge: 1.5 mm², colour: black, length: 1 m, bundle: loom}}\n{stock}"
        );
        let system = boat(&text);
        let facts = Facts::new(&system);
        let diameter = facts
            .fills
            .bundle(loomwright::system::BundleId::at(0))
            .fill
            .diameter;
        diameter.expect("its sizes are given").0 * 1000.0
    };
    // Two of 14 AWG, 0.133 in each, side by side (outside diameters of the 2008 NEC, chapter 9 table 5).
    let plain = 2.0 * 0.133 * 25.4;
    assert!((fill("") - plain).abs() < 1e-9, "{}", fill(""));
    let measured = fill("spools: {red: {gauge: 1.5 mm², colour: red, outside-diameter: 3 mm}}\n");
    assert!((measured - (3.0 + plain / 2.0)).abs() < 1e-9, "{measured}");
    let cable = fill("cables: {K1: {cores: [W1, W2], outside-diameter: 8 mm}}\n");
    assert!((cable - 8.0).abs() < 1e-9, "{cable}");
    let of_spool = fill(
        "cables: {K1: {cores: [W1, W2], spool: duplex}}\n\
         spools: {duplex: {gauge: 1.5 mm², cores: 2, outside-diameter: 7.5 mm}}\n",
    );
    assert!((of_spool - 7.5).abs() < 1e-9, "{of_spool}");
    let unmeasured = fill("cables: {K1: {cores: [W1, W2]}}\n");
    assert!((unmeasured - plain).abs() < 1e-9, "{unmeasured}");
}
