//! The document round the schematic: overview, index, references, title block, ids.
//!
//! `LOOMWRIGHT_DRAWINGS=folder cargo test --test drawing_views` writes the sheets there, to be looked at.

// A test reads the examples and may keep what it drew.
#![allow(clippy::disallowed_methods)]

use loomwright::analysis::Facts;
use loomwright::analysis::solve::{Options, State, solve};
use loomwright::diag::{self, Diagnostic};
use loomwright::drawing::scene::{Area, Form, Group, OFFSHEET, Role};
use loomwright::drawing::standing::Standing;
use loomwright::drawing::{Sheet, SheetKind, SheetOptions, SheetSize, check, document};
use loomwright::export::svg;
use loomwright::rules;
use loomwright::system::{ConductorId, System};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

mod sheets;

use sheets::{assert_clear, boat, keep, texts};

const EXAMPLES: &[&str] = &[
    "smallest",
    "marsh-pipit-rev-0",
    "marsh-pipit-rev-a",
    "teal-skerry-rev-0",
    "teal-skerry-rev-a",
    "mud-plover-rev-0",
    "mud-plover-rev-a",
];

const SIZES: [SheetSize; 4] = [
    SheetSize::A4,
    SheetSize::A3,
    SheetSize::Letter,
    SheetSize::Tabloid,
];

fn example(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("examples/{name}.yaml"));
    std::fs::read_to_string(path).expect("the example is there")
}

fn options(size: SheetSize) -> SheetOptions {
    SheetOptions {
        size,
        fingerprint: "0123456789abcdef".to_owned(),
        standing: None,
        selection: None,
    }
}

fn findings(system: &System) -> Vec<Diagnostic> {
    let facts = Facts::new(system);
    let mut findings = rules::run(&facts);
    diag::sort(&mut findings);
    findings
}

fn drawn(system: &System, size: SheetSize) -> Vec<Sheet> {
    let options = options(size);
    document(system, &options).finish(system, &options, &findings(system))
}

/// Texts of the group that an id names, on any sheet.
fn texts_of<'s>(sheets: &'s [Sheet], id: &str) -> Vec<&'s str> {
    sheets
        .iter()
        .flat_map(|sheet| &sheet.groups)
        .find(|group| group.id == id)
        .map(texts)
        .unwrap_or_default()
}

/// Nothing overlaps on any sheet, and no text stands on another or leaves the frame.
fn assert_clear_and_framed(name: &str, sheets: &[Sheet]) {
    assert_clear(name, sheets);
    for sheet in sheets {
        let inside = |area: Area| {
            area.left >= 20.0
                && area.top >= 10.0
                && area.right <= sheet.width - 10.0
                && area.bottom <= sheet.height - 10.0
        };
        for group in &sheet.groups {
            for shape in &group.shapes {
                let Form::Text { text, .. } = &shape.form else {
                    continue;
                };
                let area = shape.form.area().expect("a text has an area");
                assert!(
                    inside(area),
                    "{name}, sheet {}: `{text}` leaves the frame",
                    sheet.number
                );
            }
        }
        // Lines of an index are texts of one block, so they are compared here.
        if sheet.kind == SheetKind::Index {
            let areas: Vec<Area> = sheet
                .groups
                .iter()
                .filter(|group| matches!(group.role, Role::Block { .. }))
                .flat_map(|group| &group.shapes)
                .filter(|shape| matches!(shape.form, Form::Text { .. }))
                .filter_map(|shape| shape.form.area())
                .collect();
            for (index, one) in areas.iter().enumerate() {
                for other in &areas[index + 1..] {
                    assert!(
                        !one.overlaps(*other, 0.1),
                        "{name}, sheet {}: index lines {one:?} and {other:?}",
                        sheet.number
                    );
                }
            }
        }
    }
}

#[test]
fn documents_of_the_examples_are_clear_on_every_paper() {
    for name in EXAMPLES {
        let system = boat(&example(name));
        for size in SIZES {
            let sheets = drawn(&system, size);
            keep(&format!("{name}-{size:?}"), &sheets);
            assert_clear_and_framed(&format!("{name} {size:?}"), &sheets);
            assert_eq!(sheets[0].kind, SheetKind::Overview);
            assert_eq!(
                sheets.last().expect("a boat has sheets").kind,
                SheetKind::Index
            );
        }
    }
}

/// Both ends of a broken-off wire name each other's sheet and field, and the index names both.
#[test]
fn references_agree_both_ways() {
    let mut pairs = 0;
    for name in EXAMPLES {
        let system = boat(&example(name));
        let sheets = drawn(&system, SheetSize::A4);
        let mut told: BTreeMap<usize, (String, String)> = BTreeMap::new();
        for group in sheets
            .iter()
            .filter(|sheet| sheet.kind == SheetKind::Wiring)
            .flat_map(|sheet| &sheet.groups)
        {
            let Role::Part {
                name: part, kind, ..
            } = &group.role
            else {
                continue;
            };
            if *kind != OFFSHEET {
                continue;
            }
            let (wire, number) = part
                .strip_prefix("to-")
                .and_then(|rest| rest.rsplit_once('-'))
                .expect("a reference has a wire and a number");
            let number: usize = number.parse().expect("references are numbered");
            let place = texts(group)
                .iter()
                .flat_map(|text| text.split_whitespace())
                .rfind(|word| word.contains('/'))
                .expect("a reference names a place")
                .to_owned();
            told.insert(number - 1, (wire.to_owned(), place));
        }
        let index: Vec<&str> = sheets
            .iter()
            .filter(|sheet| sheet.kind == SheetKind::Index)
            .flat_map(|sheet| &sheet.groups)
            .flat_map(texts)
            .collect();
        for (number, (wire, there)) in &told {
            let (partner, here) = told
                .get(&(number ^ 1))
                .unwrap_or_else(|| panic!("{name}: reference {number} has no partner"));
            assert_eq!(wire, partner, "{name}");
            assert!(
                index.contains(&format!("{here} – {there}").as_str())
                    || index.contains(&format!("{there} – {here}").as_str()),
                "{name}: the index lacks {here} – {there}"
            );
            pairs += 1;
        }
        // The place that a reference names is where its partner stands.
        for sheet in sheets
            .iter()
            .filter(|sheet| sheet.kind == SheetKind::Wiring)
        {
            for group in &sheet.groups {
                let Role::Part {
                    name: part, kind, ..
                } = &group.role
                else {
                    continue;
                };
                if *kind != OFFSHEET {
                    continue;
                }
                let number: usize = part
                    .rsplit_once('-')
                    .and_then(|(_, number)| number.parse().ok())
                    .expect("references are numbered");
                let (_, named) = &told[&((number - 1) ^ 1)];
                let (named_sheet, field) = named.split_once('/').expect("sheet and field");
                assert_eq!(named_sheet, sheet.number.to_string(), "{name}: {part}");
                assert!(
                    in_field(sheet, group, field),
                    "{name}: {part} does not stand in {field}"
                );
            }
        }
    }
    assert!(
        pairs > 20,
        "the examples break off too few wires to test this"
    );
}

/// Whether a group touches a field of the border, worked out anew from the letters and numbers drawn there.
fn in_field(sheet: &Sheet, group: &Group, field: &str) -> bool {
    let frame = sheet
        .groups
        .iter()
        .find(|group| matches!(group.role, Role::Frame))
        .expect("a sheet has a frame");
    let (letter, number) = field.split_at(1);
    let place = |wanted: &str| -> (f64, f64) {
        frame
            .shapes
            .iter()
            .find_map(|shape| match &shape.form {
                Form::Text { at, text, .. } if text == wanted => Some(*at),
                _ => None,
            })
            .unwrap_or_else(|| panic!("no {wanted} on the border"))
    };
    let area = group
        .shapes
        .iter()
        .filter_map(|shape| shape.form.area())
        .reduce(Area::union)
        .expect("a reference is drawn");
    // Fields are 50 mm wide but for the outer ones, which may be shorter.
    let (x, y) = (place(number).0, place(letter).1 - 0.9);
    let middle = f64::midpoint(area.top, area.bottom);
    (area.left - x).abs() <= 25.01 && (middle - y).abs() <= 25.01
}

/// Fields of the title block after ISO 7200:2004 (public help page quoting EN ISO 7200): legal owner, identification
/// number, revision index, date of issue, sheet number, number of sheets, language code, title, supplementary title,
/// approval person, creator, document type.
#[test]
fn the_title_block_has_the_fields_of_iso_7200() {
    let text = "loomwright: 1
boat:
  name: Sandlark
  practice: us
  system: 12 V
  owner: A. Fisher
  creator: B. Wright
  approved-by: C. Reeve
  number: SL-7
  revision: C
  date: 2026-03-04
  subtitle: Spring refit
";
    let system = boat(text);
    assert_eq!(
        system.boat.owner, "A. Fisher",
        "the head of the file is read"
    );
    for size in SIZES {
        let sheets = drawn(&system, size);
        for sheet in &sheets {
            let title = texts_of(
                std::slice::from_ref(sheet),
                &format!("title-{}", sheet.number),
            );
            let number = format!("{} / {}", sheet.number, sheets.len());
            for wanted in [
                "legal owner",
                "A. Fisher",
                "identification number",
                "SL-7",
                "rev.",
                "C",
                "date of issue",
                "2026-03-04",
                "sheet",
                number.as_str(),
                "language",
                "en",
                "title",
                "Sandlark – DC wiring",
                "supplementary title",
                "Spring refit",
                "approval person",
                "C. Reeve",
                "creator",
                "B. Wright",
                "document type",
                sheet.kind.document_type(),
                "netlist fingerprint",
                "0123456789abcdef",
            ] {
                assert!(
                    title.contains(&wanted),
                    "{size:?}: no `{wanted}` in {title:?}"
                );
            }
        }
    }
}

fn ids(sheets: &[Sheet]) -> Vec<&str> {
    sheets
        .iter()
        .flat_map(|sheet| &sheet.groups)
        .map(|group| group.id.as_str())
        .collect()
}

#[test]
fn no_id_stands_twice_in_a_drawing() {
    for name in EXAMPLES {
        let system = boat(&example(name));
        let sheets = drawn(&system, SheetSize::A4);
        let mut known = BTreeSet::new();
        for id in ids(&sheets) {
            assert!(known.insert(id), "{name}: {id} stands twice");
        }
    }
}

#[test]
fn same_boat_same_bytes() {
    let system = boat(&example("teal-skerry-rev-a"));
    let bytes = |sheets: Vec<Sheet>| -> Vec<String> { sheets.iter().map(svg::write).collect() };
    assert_eq!(
        bytes(drawn(&system, SheetSize::A4)),
        bytes(drawn(&system, SheetSize::A4))
    );
}

/// The overview shows every battery, battery switch, fuse block and positive bus, and tells the circuits of blocks.
#[test]
fn the_overview_shows_what_feeds_the_boat() {
    use loomwright::system::{ComponentKind, Polarity};
    for name in EXAMPLES {
        let system = boat(&example(name));
        let sheets = drawn(&system, SheetSize::A3);
        let parts: BTreeSet<&str> = sheets
            .iter()
            .filter(|sheet| sheet.kind == SheetKind::Overview)
            .flat_map(|sheet| &sheet.groups)
            .filter_map(|group| match &group.role {
                Role::Part { name, .. } => Some(name.as_str()),
                _ => None,
            })
            .collect();
        for component in &system.components {
            let wired = component
                .terminals
                .iter()
                .any(|terminal| !system.terminals[terminal.index()].conductors.is_empty());
            let wanted = match component.kind {
                ComponentKind::Battery | ComponentKind::FuseBlock => true,
                ComponentKind::Bus => component.polarity == Some(Polarity::Positive),
                _ => false,
            };
            assert!(
                !wanted || !wired || parts.contains(component.name.as_str()),
                "{name}: {} is not on the overview",
                component.name
            );
        }
    }
}

/// Every finding about an element has its mark, or at least its place, and the index tells rule and weight.
#[test]
fn findings_are_marked_and_listed() {
    let (mut wanted, mut marked, mut bare) = (0, 0, Vec::new());
    for name in EXAMPLES {
        let system = boat(&example(name));
        let findings = findings(&system);
        let sheets = drawn(&system, SheetSize::A3);
        let index: String = sheets
            .iter()
            .filter(|sheet| sheet.kind == SheetKind::Index)
            .flat_map(|sheet| &sheet.groups)
            .flat_map(texts)
            .collect::<Vec<_>>()
            .join(" ");
        for (number, finding) in findings.iter().enumerate() {
            let told = format!("{} {},", finding.rule, finding.severity.word());
            assert!(index.contains(&told), "{name}: the index lacks {told}");
            let has_mark = sheets.iter().flat_map(|sheet| &sheet.groups).any(|group| {
                matches!(&group.role, Role::Finding { number: of, rule, .. }
                    if *of == number + 1 && *rule == finding.rule)
            });
            if !finding.element.is_empty() {
                wanted += 1;
                marked += usize::from(has_mark);
                if !has_mark {
                    bare.push(format!("{name}: {} {}", finding.rule, finding.element));
                }
            }
        }
    }
    // A finding about a bundle or a cable has no one place on the drawing.
    assert!(
        marked * 100 >= wanted * 97,
        "{marked} of {wanted} findings are marked; not these: {bare:?}"
    );
}

/// Texts of the legend.
fn legend(sheets: &[Sheet]) -> Vec<&str> {
    sheets
        .iter()
        .flat_map(|sheet| &sheet.groups)
        .find(|group| matches!(&group.role, Role::Block { name } if name == "legend"))
        .map(texts)
        .unwrap_or_default()
}

/// The legend explains every weight of mark that is drawn with a number that is drawn, and no other.
#[test]
fn the_legend_explains_the_marks_that_are_drawn() {
    let mut explained = BTreeSet::new();
    for name in EXAMPLES {
        let system = boat(&example(name));
        for size in [SheetSize::A4, SheetSize::A3] {
            let sheets = drawn(&system, size);
            let legend = legend(&sheets);
            for severity in ["error", "warning", "not proved", "note"] {
                let numbers: BTreeSet<String> = sheets
                    .iter()
                    .flat_map(|sheet| &sheet.groups)
                    .filter_map(|group| match &group.role {
                        Role::Finding {
                            number,
                            severity: weight,
                            ..
                        } if *weight == severity => Some(number.to_string()),
                        _ => None,
                    })
                    .collect();
                let words = format!("{severity}, its number in the index");
                let told = legend.iter().position(|text| *text == words);
                assert_eq!(told.is_some(), !numbers.is_empty(), "{name}: {words}");
                if let Some(told) = told {
                    // The sample stands before its words.
                    assert!(numbers.contains(legend[told - 1]), "{name}: {legend:?}");
                    explained.insert(severity);
                }
            }
            assert!(!legend.iter().any(|text| text.starts_with("live:")));
        }
    }
    assert_eq!(explained.len(), 4, "{explained:?}");
}

/// What the legend of a state says of lines and values, where there are such.
#[test]
fn the_legend_explains_a_state() {
    let lines = |sheets: &[Sheet], wanted: bool| {
        by_id(sheets)
            .values()
            .any(|group| matches!(group.role, Role::Wire { .. }) && is_broken(group) == wanted)
    };
    for light in ["on", "off"] {
        let (sheets, _) = smallest(light);
        let legend = legend(&sheets);
        let tells = |words: &str| legend.iter().any(|text| text.starts_with(words));
        assert_eq!(tells("live:"), lines(&sheets, false), "{light}");
        assert_eq!(tells("dead"), lines(&sheets, true), "{light}");
        assert!(tells("voltage there") && tells("contacts as they stand"));
        assert!(!tells("contacts open"));
    }
    let off = smallest("off").0;
    assert!(legend(&off).contains(&"dead in this state"));
}

/// A note about many is marked once on a sheet, with how many; all of them are named in the index.
#[test]
fn a_note_about_many_is_marked_once_on_a_sheet() {
    let mut collected = 0;
    for name in EXAMPLES {
        let system = boat(&example(name));
        let sheets = drawn(&system, SheetSize::A3);
        for (number, finding) in findings(&system).iter().enumerate() {
            for sheet in &sheets {
                let marks: Vec<Vec<&str>> = sheet
                    .groups
                    .iter()
                    .filter(|group| {
                        matches!(&group.role, Role::Finding { number: of, .. } if *of == number + 1)
                    })
                    .map(texts)
                    .collect();
                if finding.severity != diag::Severity::Note {
                    assert!(marks.iter().all(|words| !words[0].contains('×')));
                    continue;
                }
                assert!(marks.len() <= 3, "{name}: {} {marks:?}", finding.rule);
                let Some((_, count)) = marks.first().and_then(|words| words[0].split_once(" ×"))
                else {
                    continue;
                };
                let count: usize = count.parse().expect("how many");
                assert!(marks.len() == 1 && count > 3, "{name}: {marks:?}");
                assert!(count <= 1 + finding.also.len());
                collected += 1;
            }
        }
    }
    assert!(collected > 2, "{collected}");
}

/// Relays and shunts are wired by the names on their terminals: all are on the drawing.
#[test]
fn terminals_that_are_not_alike_are_named() {
    let (mut wanted, mut bare) = (0, Vec::new());
    for name in EXAMPLES {
        let system = boat(&example(name));
        for size in [SheetSize::A4, SheetSize::A3] {
            let sheets = drawn(&system, size);
            let wiring = || {
                let wiring = sheets
                    .iter()
                    .filter(|sheet| sheet.kind == SheetKind::Wiring);
                wiring.flat_map(|sheet| &sheet.groups)
            };
            let names: Vec<&str> = wiring()
                .filter(
                    |group| !matches!(&group.role, Role::Part { kind, .. } if *kind == OFFSHEET),
                )
                .flat_map(texts)
                .collect();
            for component in &system.components {
                use loomwright::system::ComponentKind::{Relay, Shunt};
                if !matches!(component.kind, Relay | Shunt) {
                    continue;
                }
                for &terminal in &component.terminals {
                    let record = &system.terminals[terminal.index()];
                    if record.conductors.is_empty() {
                        continue;
                    }
                    let word = record.name.replace('-', "\u{2212}");
                    wanted += 1;
                    if !names
                        .iter()
                        .any(|text| text.split([' ', ',']).any(|part| part == word))
                    {
                        bare.push(format!(
                            "{name} {size:?}: {}",
                            system.terminal_name(terminal)
                        ));
                    }
                }
            }
        }
    }
    assert!(wanted > 20, "{wanted}");
    assert!(bare.is_empty(), "{bare:?}");
}

/// With one line for both poles no line stands alone: each joins two things at least.
#[test]
fn the_overview_has_no_stray_lines() {
    for name in EXAMPLES {
        let system = boat(&example(name));
        for sheet in drawn(&system, SheetSize::A3) {
            if sheet.kind != SheetKind::Overview {
                continue;
            }
            for group in &sheet.groups {
                if group.id.starts_with("joint-") {
                    assert!(!group.id["joint-".len()..].is_empty(), "{name}");
                    let Form::Polyline(points) = &group.shapes[0].form else {
                        panic!("a joint is a line");
                    };
                    for &end in points {
                        let meets = |other: &&Group| {
                            other.id != group.id
                                && matches!(other.role, Role::Part { .. })
                                && other
                                    .shapes
                                    .iter()
                                    .filter_map(|shape| shape.form.area())
                                    .any(|area| {
                                        (area.left - 0.1..=area.right + 0.1).contains(&end.0)
                                            && (area.top - 0.1..=area.bottom + 0.1).contains(&end.1)
                                    })
                        };
                        assert!(
                            sheet.groups.iter().any(|other| meets(&other)),
                            "{name}: {} ends at {end:?} in the open",
                            group.id
                        );
                    }
                }
            }
        }
    }
}

/// The smallest boat with its lamp on, or with its switch off; and the current of the lamp as solved.
fn smallest(light: &str) -> (Vec<Sheet>, f64) {
    let system = boat(&example("smallest"));
    let mut state = State::normal(&system);
    state.on.fill(true);
    for (index, gear) in system.gears.iter().enumerate() {
        let wanted = if gear.name == "light-switch" {
            light
        } else {
            "on"
        };
        let at = gear.positions.iter().position(|known| known.name == wanted);
        let at = at.expect("both switches are off or on");
        state.positions[index] = u16::try_from(at).expect("there are two positions");
    }
    let solution = solve(&system, &state, Options::PHYSICAL).expect("one lamp has one answer");
    let amps = solution.current(system.loads[0].link).0;
    let mut options = options(SheetSize::A3);
    let title = format!("light {light}");
    options.standing = Some(Standing::new(&system, title, &state, Some(&solution)));
    let sheets = document(&system, &options).finish(&system, &options, &[]);
    keep(&format!("state-{light}"), &sheets);
    (sheets, amps)
}

/// Groups of a circuit diagram, by id.
fn by_id(sheets: &[Sheet]) -> BTreeMap<&str, &Group> {
    sheets
        .iter()
        .filter(|sheet| sheet.kind == SheetKind::Wiring)
        .flat_map(|sheet| &sheet.groups)
        .map(|group| (group.id.as_str(), group))
        .collect()
}

/// The first piece of a wire.
fn wire<'g>(groups: &BTreeMap<&str, &'g Group>, wanted: &str) -> &'g Group {
    let is_it =
        |group: &&Group| matches!(&group.role, Role::Wire { number, .. } if number == wanted);
    groups
        .values()
        .copied()
        .find(is_it)
        .expect("the wire is drawn")
}

fn is_broken(group: &Group) -> bool {
    let strokes = group.shapes.iter().filter_map(|shape| shape.stroke);
    strokes.clone().count() > 0 && strokes.clone().all(|stroke| stroke.dash.is_some())
}

#[test]
fn a_state_shows_what_is_live_and_what_flows() {
    let (on, amps) = smallest("on");
    // Joule's law: a draw stated as 10 W takes 10 W / V; a full battery rests at 12.0 to 13.0 V, and the wiring loses
    // less than 3 %.
    assert!(
        (10.0 / 13.0..=10.0 / (12.0 * 0.97)).contains(&amps),
        "{amps} A"
    );
    let (on, told) = (by_id(&on), format!("{amps:.1} A"));
    let (off, none) = smallest("off");
    let off = by_id(&off);
    assert!(none.abs() < 1e-9);
    for id in ["C1-A", "C1-B", "C1-N", "B2"] {
        assert!(!is_broken(wire(&on, id)), "{id} is live with the lamp on");
        assert!(
            wire(&on, id).title.ends_with(&told),
            "{}",
            wire(&on, id).title
        );
    }
    for (id, dead) in [
        ("C1-A", false),
        ("C1-B", true),
        ("C1-N", true),
        ("B2", false),
    ] {
        assert_eq!(is_broken(wire(&off, id)), dead, "{id} with the lamp off");
    }
    assert!(wire(&off, "C1-B").title.ends_with("dead"));
    assert!(on.values().any(|group| group.id.starts_with("volts-")));
}

#[test]
fn a_state_moves_nothing_on_the_drawing() {
    for name in ["marsh-pipit-rev-a", "teal-skerry-rev-a"] {
        let system = boat(&example(name));
        let state = State::normal(&system);
        let solution = solve(&system, &state, Options::PHYSICAL).expect("the boat has one answer");
        let mut standing = options(SheetSize::A3);
        let shown = Standing::new(&system, "at rest".to_owned(), &state, Some(&solution));
        assert!(shown.wire_words(ConductorId::at(0)).len() < 12);
        standing.standing = Some(shown);
        let sheets = document(&system, &standing).finish(&system, &standing, &[]);
        for sheet in sheets
            .iter()
            .filter(|sheet| sheet.kind == SheetKind::Wiring)
        {
            let counts = check::check(sheet);
            assert_eq!(
                counts.faults,
                Vec::<String>::new(),
                "{name} sheet {}",
                sheet.number
            );
        }
        let plain = options(SheetSize::A3);
        let plain = document(&system, &plain).finish(&system, &plain, &[]);
        let (plain, sheets) = (by_id(&plain), by_id(&sheets));
        for (id, group) in plain {
            if let Role::Part { .. } | Role::Wire { .. } = group.role {
                let area = |group: &Group| group.shapes[0].form.area();
                assert_eq!(area(group), area(sheets[id]), "{name}: {id}");
            }
        }
    }
}

/// A boat of one battery, with so many more parts, runs and scenarios.
fn small(parts: &str, runs: &str) -> System {
    boat(&format!(
        "loomwright: 1
boat: {{name: Knot, practice: us, system: 12 V}}
batteries:
  house: {{bank: house, chemistry: agm, capacity: 60 Ah, cranking: 400 A}}
fuses:
  main: {{rating: 20 A}}
{parts}
runs:
  P1: {{from: house.+, to: main.in, gauge: 10 AWG, colour: red, length: 1 ft}}
{runs}
"
    ))
}

/// A boat with switches in positions and every load on; its sheets, and the solution if there is one.
fn stood(name: &str, system: &System, positions: &[(&str, &str)]) -> (Vec<Sheet>, bool) {
    let mut state = State::normal(system);
    state.on.fill(true);
    for (gear, position) in positions {
        let at = system
            .gears
            .iter()
            .position(|known| known.name == *gear)
            .unwrap_or_else(|| panic!("no {gear}"));
        let known = &system.gears[at].positions;
        let wanted = known.iter().position(|known| known.name == *position);
        let wanted = wanted.unwrap_or_else(|| panic!("{gear} has no {position}: {known:?}"));
        state.positions[at] = u16::try_from(wanted).expect("few positions");
    }
    let solved = solve(system, &state, Options::PHYSICAL).ok();
    let solved = solved.filter(|solution| solution.shorted.is_empty());
    let mut options = options(SheetSize::A4);
    options.standing = Some(Standing::new(
        system,
        name.to_owned(),
        &state,
        solved.as_ref(),
    ));
    let sheets = document(system, &options).finish(system, &options, &[]);
    keep(&format!("stood-{name}"), &sheets);
    assert_clear_and_framed(name, &sheets);
    (sheets, solved.is_some())
}

fn assert_live(name: &str, sheets: &[Sheet], live: &[&str], dead: &[&str]) {
    let groups = by_id(sheets);
    for (wires, wanted) in [(live, false), (dead, true)] {
        for number in wires {
            let is_dead = is_broken(wire(&groups, number));
            assert_eq!(is_dead, wanted, "{name}: {number}");
        }
    }
}

fn volts_at(sheets: &[Sheet], terminal: &str) -> bool {
    by_id(sheets).contains_key(format!("volts-{terminal}").as_str())
}

const LAMP: &str = "loads:
  lamp: {draw: 10 W, kind: lamp}";

/// Behind an open switch nothing is live; between two of them a conductor floats, and no voltage is told of it.
#[test]
fn what_floats_between_two_open_switches_is_dead_and_has_no_voltage() {
    let parts = format!("switches:\n  one: {{rating: 15 A}}\n  two: {{rating: 15 A}}\n{LAMP}");
    let runs = "  P2: {from: main.out, to: one.in, gauge: 10 AWG, colour: red, length: 1 ft}
  P3: {from: one.out, to: two.in, gauge: 10 AWG, colour: red, length: 1 ft}
  P4: {from: two.out, to: lamp.+, gauge: 10 AWG, colour: red, length: 1 ft}
  P5: {from: lamp.-, to: house.-, gauge: 10 AWG, colour: black, length: 1 ft}";
    let system = small(&parts, runs);
    let (sheets, solved) = stood("floating", &system, &[("one", "off"), ("two", "off")]);
    assert!(solved);
    assert_live("floating", &sheets, &["P1", "P2"], &["P3", "P4", "P5"]);
    assert!(volts_at(&sheets, "house.+") && !volts_at(&sheets, "two.in"));
    let (sheets, _) = stood("closed", &system, &[("one", "on"), ("two", "on")]);
    assert_live("closed", &sheets, &["P1", "P2", "P3", "P4", "P5"], &[]);
    let (sheets, _) = stood("half", &system, &[("one", "on"), ("two", "off")]);
    assert_live("half", &sheets, &["P1", "P2", "P3"], &["P4", "P5"]);
}

/// With its negative open a lamp lifts the stud behind it to the voltage of the bank: a meter reads 12 V there.
///
/// Ohm's law: no current flows, so nothing is lost in the lamp. What the solution says of that stud is not told.
#[test]
fn what_a_load_lifts_is_live() {
    let parts = format!("switches:\n  back: {{rating: 15 A}}\n{LAMP}");
    let runs = "  P2: {from: main.out, to: lamp.+, gauge: 10 AWG, colour: red, length: 1 ft}
  P3: {from: lamp.-, to: back.in, gauge: 10 AWG, colour: black, length: 1 ft}
  P4: {from: back.out, to: house.-, gauge: 10 AWG, colour: black, length: 1 ft}";
    let system = small(&parts, runs);
    let (sheets, _) = stood("lifted", &system, &[("back", "off")]);
    assert_live("lifted", &sheets, &["P1", "P2", "P3"], &["P4"]);
    assert!(!volts_at(&sheets, "back.in"));
    let (sheets, _) = stood("lit", &system, &[("back", "on")]);
    assert_live("lit", &sheets, &["P1", "P2", "P3", "P4"], &[]);
}

/// In a state without an answer no value is told, and what is joined to a battery is not called dead.
#[test]
fn a_short_has_no_values_and_nothing_joined_is_dead() {
    let parts = format!("switches:\n  bridge: {{rating: 15 A}}\n  light: {{rating: 15 A}}\n{LAMP}");
    let runs = "  P2: {from: main.out, to: bridge.in, gauge: 10 AWG, colour: red, length: 1 ft}
  P3: {from: bridge.out, to: house.-, gauge: 10 AWG, colour: black, length: 1 ft}
  P4: {from: main.out, to: light.in, gauge: 10 AWG, colour: red, length: 1 ft}
  P5: {from: light.out, to: lamp.+, gauge: 10 AWG, colour: red, length: 1 ft}
  P6: {from: lamp.-, to: house.-, gauge: 10 AWG, colour: black, length: 1 ft}";
    let system = small(&parts, runs);
    let (sheets, solved) = stood("short", &system, &[("bridge", "on"), ("light", "off")]);
    assert!(!solved, "a bolted short is no state to read meters in");
    assert_live("short", &sheets, &["P1", "P2", "P3", "P4", "P6"], &["P5"]);
    let told = by_id(&sheets);
    assert!(!told.keys().any(|id| id.starts_with("volts-")));
    let legend = legend(&sheets);
    assert!(!legend.contains(&"current in the wire"));
    assert!(!legend.iter().any(|text| text.starts_with("voltage")));
}

/// The contact of a relay stands as its position says, and its load is live with it.
#[test]
fn a_relay_that_is_pulled_feeds_its_load() {
    let parts = format!(
        "switches:\n  button: {{rating: 15 A}}\nrelays:\n  helper: {{contacts: make, rating: 30 A, coil-draw: 0.2 A}}\n{LAMP}"
    );
    let runs = "  P2: {from: main.out, to: helper.com, gauge: 10 AWG, colour: red, length: 1 ft}
  P3: {from: helper.no, to: lamp.+, gauge: 10 AWG, colour: red, length: 1 ft}
  P4: {from: lamp.-, to: house.-, gauge: 10 AWG, colour: black, length: 1 ft}
  P5: {from: main.out, to: button.in, gauge: 16 AWG, colour: red, length: 1 ft}
  P6: {from: button.out, to: helper.coil+, gauge: 16 AWG, colour: red, length: 1 ft}
  P7: {from: helper.coil-, to: house.-, gauge: 16 AWG, colour: black, length: 1 ft}";
    let system = small(&parts, runs);
    let relay = system.gears.iter().find(|gear| gear.name == "helper");
    let names: Vec<&str> = relay
        .expect("the relay has positions")
        .positions
        .iter()
        .map(|position| position.name.as_str())
        .collect();
    let (rest, pulled) = (names[0], names[1]);
    let (sheets, _) = stood("rest", &system, &[("button", "off"), ("helper", rest)]);
    assert_live(
        "rest",
        &sheets,
        &["P1", "P2", "P5"],
        &["P3", "P4", "P6", "P7"],
    );
    let (sheets, _) = stood("pulled", &system, &[("button", "on"), ("helper", pulled)]);
    let all = ["P1", "P2", "P3", "P4", "P5", "P6", "P7"];
    assert_live("pulled", &sheets, &all, &[]);
}

/// A bank whose cable is off feeds nothing, and the other bank does not reach what only it fed.
#[test]
fn a_bank_behind_an_open_device_feeds_nothing() {
    let parts = format!(
        "buses:\n  other: {{polarity: positive, studs: 2, rating: 100 A}}\nswitches:\n  choose: {{rating: 100 A, terminals: [one, two, out], positions: {{\"off\": [], first: [[one, out]], second: [[two, out]]}}}}\n{LAMP}"
    );
    let runs = "  P2: {from: main.out, to: choose.one, gauge: 10 AWG, colour: red, length: 1 ft}
  P3: {from: choose.out, to: lamp.+, gauge: 10 AWG, colour: red, length: 1 ft}
  P4: {from: lamp.-, to: house.-, gauge: 10 AWG, colour: black, length: 1 ft}
  P5: {from: choose.two, to: other.1, gauge: 10 AWG, colour: red, length: 1 ft}";
    let system = small(&parts, runs);
    let (sheets, _) = stood("first", &system, &[("choose", "first")]);
    assert_live("first", &sheets, &["P1", "P2", "P3", "P4"], &["P5"]);
    let (sheets, _) = stood("second", &system, &[("choose", "second")]);
    assert_live("second", &sheets, &["P1", "P2"], &["P3", "P4", "P5"]);
}

/// A load whose draw is not given is not dead while it is fed, nor is its way back; its current is told as not given.
#[test]
fn a_load_of_unknown_draw_is_not_dead() {
    let parts = "switches:\n  light: {rating: 15 A}\nloads:\n  socket: {kind: outlet}";
    let runs = "  P2: {from: main.out, to: light.in, gauge: 10 AWG, colour: red, length: 1 ft}
  P3: {from: light.out, to: socket.+, gauge: 10 AWG, colour: red, length: 1 ft}
  P4: {from: socket.-, to: house.-, gauge: 10 AWG, colour: black, length: 1 ft}";
    let system = small(parts, runs);
    let (sheets, solved) = stood("unknown", &system, &[("light", "on")]);
    assert!(solved);
    assert_live("unknown", &sheets, &["P1", "P2", "P3", "P4"], &[]);
    let groups = by_id(&sheets);
    for number in ["P1", "P2", "P3", "P4"] {
        assert!(wire(&groups, number).title.ends_with("? A"), "{number}");
    }
    assert!(legend(&sheets).contains(&"not given in the file"));
    let (sheets, _) = stood("known", &system, &[("light", "off")]);
    assert_live("known", &sheets, &["P1", "P2"], &["P3", "P4"]);
    assert!(wire(&by_id(&sheets), "P1").title.ends_with("0.0 A"));
}
