//! Sheets of one zone, one circuit or one part: every wire of it, no other, and the way out named at every end.
//!
//! `LOOMWRIGHT_DRAWINGS=folder cargo test --test drawing_selection` writes the sheets there, to be looked at.

// A test reads the examples and may keep what it drew.
#![allow(clippy::disallowed_methods)]

use loomwright::drawing::scene::{OFFSHEET, Role};
use loomwright::drawing::{Selection, Sheet, SheetKind, SheetOptions, SheetSize, document};
use loomwright::system::{
    CircuitId, ComponentId, ComponentKind, ConductorId, System, TerminalId, ZoneId,
};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::Command;

#[path = "../benches/drawing/boats.rs"]
mod boats;
mod sheets;

use sheets::{assert_clear, boat, keep, texts};

const EXAMPLES: &[&str] = &[
    "smallest",
    "rock-dunlin",
    "marsh-pipit-rev-0",
    "marsh-pipit-rev-a",
    "teal-skerry-rev-0",
    "teal-skerry-rev-a",
    "mud-plover-rev-0",
    "mud-plover-rev-a",
];

fn path(name: &str) -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("examples/{name}.yaml"))
}

fn example(name: &str) -> System {
    boat(&std::fs::read_to_string(path(name)).expect("the example is there"))
}

fn drawn(system: &System, selection: Selection, size: SheetSize) -> Vec<Sheet> {
    let options = SheetOptions {
        size,
        fingerprint: "0123456789abcdef".to_owned(),
        standing: None,
        selection: Some(selection),
    };
    document(system, &options).finish(system, &options, &[])
}

/// Every wanted wire is drawn once, with one label or, broken off within the sheets, two; no other is drawn.
///
/// An end that the sheets do not show is named by a reference: a wire has two ends drawn, or one and a reference.
fn assert_whole(name: &str, wanted: &BTreeSet<String>, sheets: &[Sheet], size: SheetSize) {
    let mut pieces: BTreeMap<&str, (usize, usize)> = BTreeMap::new();
    let mut references: BTreeMap<&str, usize> = BTreeMap::new();
    assert_clear(&format!("{name} {size:?}"), sheets);
    for sheet in sheets {
        for group in &sheet.groups {
            match &group.role {
                Role::Wire {
                    number, from, to, ..
                } => {
                    let count = pieces.entry(number).or_default();
                    count.0 += 1;
                    count.1 += usize::from(from.is_some()) + usize::from(to.is_some());
                }
                Role::Part {
                    name: part, kind, ..
                } if *kind == OFFSHEET => {
                    let wire = part
                        .strip_prefix("to-")
                        .and_then(|rest| rest.rsplit_once('-'))
                        .expect("a reference has a wire and a number")
                        .0;
                    *references.entry(wire).or_default() += 1;
                    assert!(
                        texts(group).iter().all(|text| !text.trim().is_empty())
                            && !texts(group).is_empty(),
                        "{name}: {part} says nothing"
                    );
                }
                _ => {}
            }
        }
    }
    let shown: BTreeSet<String> = pieces.keys().map(|&number| number.to_owned()).collect();
    assert_eq!(&shown, wanted, "{name} {size:?}");
    for (number, (count, ends)) in pieces {
        let references = references.get(number).copied().unwrap_or(0);
        let once = match (count, ends) {
            // Whole, or with its far end named.
            (1, 2) => references == 0,
            (1, 1) => references == 1,
            // In two, each half naming the other; the far end of one may lie outside.
            (2, 2) => references == 2,
            (2, 1) => references == 3,
            _ => false,
        };
        assert!(
            once,
            "{name} {size:?}: {number} has {count} pieces with {ends} ends and {references} references"
        );
    }
}

/// What leads outside says so, and names the terminal at its far end; what does not, names a sheet and a field.
fn assert_ways_out(name: &str, system: &System, sheets: &[Sheet]) -> usize {
    let known: BTreeSet<String> = (0..system.terminals.len())
        .map(|index| system.terminal_name(TerminalId::at(index)))
        .collect();
    let mut outside = 0;
    for group in sheets.iter().flat_map(|sheet| &sheet.groups) {
        if !matches!(&group.role, Role::Part { kind, .. } if *kind == OFFSHEET) {
            continue;
        }
        let words = texts(group);
        let leads_out = words
            .last()
            .is_some_and(|words| words.ends_with("outside this view"));
        let named = |text: &str| {
            known
                .iter()
                .any(|terminal| text.contains(terminal.as_str()))
        };
        assert!(
            named(&group.title) && group.title.contains("outside this view") == leads_out,
            "{name}: {}",
            group.title
        );
        if leads_out {
            // A name may be broken at a hyphen or a point.
            let told = words.concat();
            let bare = |text: &str| text.replace(' ', "");
            let is_told = |terminal: &&String| bare(&told).contains(&bare(terminal));
            let terminal = known.iter().filter(is_told).max_by_key(|name| name.len());
            assert!(terminal.is_some(), "{name}: {told}");
            assert!(told.contains("to "), "{name}: {told}");
            outside += 1;
        } else {
            let place = words.iter().flat_map(|text| text.split_whitespace());
            assert!(
                place.clone().any(|word| word.contains('/')),
                "{name}: {words:?}"
            );
        }
    }
    outside
}

/// The zone of a terminal, worked out anew: a connector's from its half, `a` towards the supply.
fn zone_of(system: &System, terminal: TerminalId) -> Option<ZoneId> {
    let record = &system.terminals[terminal.index()];
    let component = &system.components[record.component.index()];
    match &component.connector {
        Some(connector) => {
            connector.half_zones[usize::from(record.name.ends_with('b'))].or(component.zone)
        }
        None => component.zone,
    }
}

fn numbers(system: &System, wanted: impl Fn(ConductorId) -> bool) -> BTreeSet<String> {
    (0..system.conductors.len())
        .map(ConductorId::at)
        .filter(|&id| wanted(id))
        .map(|id| system.conductors[id.index()].number.clone())
        .collect()
}

fn zone_wires(system: &System, zone: ZoneId) -> BTreeSet<String> {
    numbers(system, |id| {
        let conductor = &system.conductors[id.index()];
        [conductor.from, conductor.to]
            .into_iter()
            .any(|end| zone_of(system, end) == Some(zone))
    })
}

fn part_wires(system: &System, part: ComponentId) -> BTreeSet<String> {
    numbers(system, |id| {
        let conductor = &system.conductors[id.index()];
        [conductor.from, conductor.to]
            .into_iter()
            .any(|end| system.terminals[end.index()].component == part)
    })
}

#[test]
fn a_zone_has_its_wires_and_no_others() {
    let (mut zones, mut outside) = (0, 0);
    for name in EXAMPLES {
        let system = example(name);
        for zone in (0..system.zones.len()).map(ZoneId::at) {
            let wanted = zone_wires(&system, zone);
            let title = format!("{name} zone {}", system.zones[zone.index()].name);
            for size in [SheetSize::A3, SheetSize::A4] {
                let sheets = drawn(&system, Selection::zone(&system, zone), size);
                keep(&format!("{title} {size:?}"), &sheets);
                assert_whole(&title, &wanted, &sheets, size);
                outside += assert_ways_out(&title, &system, &sheets);
            }
            zones += usize::from(!wanted.is_empty());
        }
    }
    assert!(zones > 20, "{zones} zones are too few to test this");
    assert!(outside > 50, "{outside} ways out are too few to test this");
}

#[test]
fn every_part_of_a_zone_is_drawn() {
    for name in EXAMPLES {
        let system = example(name);
        for zone in (0..system.zones.len()).map(ZoneId::at) {
            let sheets = drawn(&system, Selection::zone(&system, zone), SheetSize::A3);
            let parts: BTreeSet<&str> = sheets
                .iter()
                .flat_map(|sheet| &sheet.groups)
                .filter_map(|group| match &group.role {
                    Role::Part { name, kind, .. } if *kind != OFFSHEET => Some(name.as_str()),
                    _ => None,
                })
                .collect();
            for component in &system.components {
                let wired = component
                    .terminals
                    .iter()
                    .any(|terminal| !system.terminals[terminal.index()].conductors.is_empty());
                let inside = component.connector.is_none() && component.zone == Some(zone);
                assert!(
                    !inside || !wired || parts.contains(component.name.as_str()),
                    "{name}: {} is missing in its zone",
                    component.name
                );
            }
        }
    }
}

#[test]
fn a_circuit_has_its_wires_and_no_others() {
    let mut circuits = 0;
    for name in EXAMPLES {
        let system = example(name);
        for (index, circuit) in system.circuits.iter().enumerate() {
            let wanted = numbers(&system, |id| circuit.conductors.contains(&id));
            let title = format!("{name} circuit {}", circuit.name);
            let selection = Selection::circuit(&system, CircuitId::at(index));
            let sheets = drawn(&system, selection, SheetSize::A4);
            keep(&title, &sheets);
            assert_whole(&title, &wanted, &sheets, SheetSize::A4);
            assert_ways_out(&title, &system, &sheets);
            circuits += 1;
        }
    }
    assert!(
        circuits > 50,
        "{circuits} circuits are too few to test this"
    );
}

#[test]
fn a_part_has_what_it_touches() {
    let mut parts = 0;
    for name in EXAMPLES {
        let system = example(name);
        for part in (0..system.components.len()).map(ComponentId::at) {
            let component = &system.components[part.index()];
            let wanted = part_wires(&system, part);
            let title = format!("{name} part {}", component.name);
            let sheets = drawn(&system, Selection::part(&system, part), SheetSize::A4);
            assert_whole(&title, &wanted, &sheets, SheetSize::A4);
            assert_ways_out(&title, &system, &sheets);
            // The part itself, and every part at the other end of its wires.
            let shown: BTreeSet<&str> = sheets
                .iter()
                .flat_map(|sheet| &sheet.groups)
                .filter_map(|group| match &group.role {
                    Role::Part { name, .. } => Some(name.strip_suffix(".negative").unwrap_or(name)),
                    _ => None,
                })
                .collect();
            for conductor in system
                .conductors
                .iter()
                .filter(|conductor| wanted.contains(&conductor.number))
            {
                for end in [conductor.from, conductor.to] {
                    let other = system.component_of(end);
                    assert!(
                        shown.contains(other.name.as_str()),
                        "{title}: {} is not drawn",
                        other.name
                    );
                }
            }
            parts += 1;
        }
    }
    assert!(parts > 200, "{parts} parts are too few to test this");
}

/// Boats of another structure than the examples have.
#[test]
fn made_boats_are_cut_cleanly() {
    for (loads, seed) in [(12, 3), (40, 4), (120, 5)] {
        let system = boat(&boats::boat(loads, 20, seed));
        for zone in (0..system.zones.len()).map(ZoneId::at) {
            let wanted = zone_wires(&system, zone);
            let title = format!("made {loads} zone {}", system.zones[zone.index()].name);
            let sheets = drawn(&system, Selection::zone(&system, zone), SheetSize::A4);
            keep(&title, &sheets);
            assert_whole(&title, &wanted, &sheets, SheetSize::A4);
        }
        for part in (0..system.components.len()).map(ComponentId::at) {
            let wanted = part_wires(&system, part);
            let title = format!("made {loads} part {}", system.components[part.index()].name);
            let sheets = drawn(&system, Selection::part(&system, part), SheetSize::A4);
            assert_whole(&title, &wanted, &sheets, SheetSize::A4);
            if system.components[part.index()].kind == ComponentKind::Load {
                let circuit = Selection::circuit_of_load(&system, part)
                    .expect("every load of a made boat is wired");
                let wanted = numbers(&system, |id| circuit.has(id));
                let sheets = drawn(&system, circuit, SheetSize::A4);
                assert_whole(&title, &wanted, &sheets, SheetSize::A4);
            }
        }
    }
}

#[test]
fn the_title_block_says_what_the_sheet_is_of() {
    let system = example("teal-skerry-rev-a");
    for (index, zone) in system.zones.iter().enumerate() {
        let selection = Selection::zone(&system, ZoneId::at(index));
        let wanted = format!("zone {}", zone.name);
        assert_eq!(selection.title, wanted);
        let sheets = drawn(&system, selection, SheetSize::A3);
        for sheet in &sheets {
            let block = sheet
                .groups
                .iter()
                .find(|group| group.id == format!("title-{}", sheet.number))
                .expect("every sheet has a title block");
            assert!(
                texts(block).contains(&wanted.as_str()),
                "{:?}",
                texts(block)
            );
            assert_ne!(sheet.kind, SheetKind::Overview, "a part has no overview");
        }
    }
}

/// Runs the program, and gives its status, its words and the names of the files it wrote.
fn view(name: &str, more: &[&str], to: &Path) -> (Option<i32>, String, Vec<String>) {
    let output = Command::new(env!("CARGO_BIN_EXE_loomwright"))
        .arg("view")
        .arg(path(name))
        .args(more)
        .arg("--out")
        .arg(to)
        .output()
        .expect("the program runs");
    let mut files: Vec<String> = std::fs::read_dir(to).map_or_else(
        |_| Vec::new(),
        |entries| {
            entries
                .map(|entry| entry.expect("an entry").file_name())
                .map(|name| name.to_string_lossy().into_owned())
                .collect()
        },
    );
    files.sort();
    let words = String::from_utf8_lossy(&output.stderr).into_owned();
    (output.status.code(), words, files)
}

#[test]
fn the_program_writes_parts_in_every_form() {
    let base = Path::new(env!("CARGO_TARGET_TMPDIR")).join("selection");
    let _ = std::fs::remove_dir_all(&base);
    let to = base.join("zone");
    let (status, words, files) = view(
        "marsh-pipit-rev-a",
        &["--zone", "helm", "--as", "svg,pdf,png", "--dpi", "30"],
        &to,
    );
    assert_eq!(status, Some(0), "{words}");
    for wanted in ["zone-helm-01.svg", "zone-helm-01.png", "zone-helm.pdf"] {
        assert!(files.iter().any(|file| file == wanted), "{files:?}");
    }
    let again = base.join("again");
    view("marsh-pipit-rev-a", &["--zone", "helm"], &again);
    let read = |folder: &Path| std::fs::read(folder.join("zone-helm-01.svg")).expect("it is there");
    assert_eq!(read(&to), read(&again), "same boat, same bytes");
    // A part with a state shows currents in place of sizes.
    let stated = base.join("stated");
    let (status, words, files) = view(
        "marsh-pipit-rev-a",
        &["--circuit", "sidelights", "--set", "nav-switch=run"],
        &stated,
    );
    assert_eq!(status, Some(0), "{words}");
    let first = files.iter().find(|file| file.ends_with("01.svg"));
    let first = std::fs::read_to_string(stated.join(first.expect("a sheet"))).expect("a text");
    assert!(first.contains("part and state shown"));
}

/// With no source of charge at work a charger between batteries takes nothing from the one it charges from.
#[test]
fn a_charger_between_batteries_rests_while_nothing_charges() {
    let to = Path::new(env!("CARGO_TARGET_TMPDIR")).join("selection-rest");
    let _ = std::fs::remove_dir_all(&to);
    let (status, words, files) = view("teal-skerry-rev-a", &[], &to);
    assert_eq!(status, Some(0), "{words}");
    let drawn: String = files
        .iter()
        .filter(|name| name.starts_with("view-"))
        .map(|name| std::fs::read_to_string(to.join(name)).expect("it is there"))
        .collect();
    assert!(drawn.contains("bank-charger"), "the charger is drawn");
    // Input and output of the charger.
    for wire in ["K7", "K8"] {
        assert!(
            drawn.contains(&format!("{wire} 0.0 A")),
            "{wire} carries a current"
        );
    }
}

#[test]
fn an_unknown_name_is_told_with_the_nearest() {
    let to = Path::new(env!("CARGO_TARGET_TMPDIR")).join("selection-none");
    for (arguments, wanted) in [
        (["--zone", "helmm"], "did you mean `helm`?"),
        (["--zone", "belfry"], "there is no zone `belfry`; there are"),
        (["--part", "helm-blok"], "did you mean `helm-block`?"),
        (["--circuit", "sidelight"], "did you mean `sidelights`?"),
    ] {
        let (status, words, files) = view("marsh-pipit-rev-a", &arguments, &to);
        assert_eq!(status, Some(2), "{words}");
        assert!(words.contains(wanted), "{words}");
        assert!(files.is_empty(), "{files:?}");
    }
    let both = ["--zone", "helm", "--part", "helm-block"];
    let (status, words, _) = view("marsh-pipit-rev-a", &both, &to);
    assert_eq!(status, Some(2), "{words}");
}

/// The picture of the README; `LOOMWRIGHT_BLESS=1` writes it anew.
#[test]
fn the_picture_of_a_state_is_as_kept() {
    let to = Path::new(env!("CARGO_TARGET_TMPDIR")).join("selection-picture");
    let _ = std::fs::remove_dir_all(&to);
    let (status, words, _) = view(
        "smallest",
        &["--set", "light-switch=off", "--sheet", "a4"],
        &to,
    );
    assert_eq!(status, Some(0), "{words}");
    let made = std::fs::read_to_string(to.join("view-02.svg")).expect("the second sheet");
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden/smallest-view.svg");
    if std::env::var_os("LOOMWRIGHT_BLESS").is_some() {
        std::fs::write(&kept, &made).expect("a file can be written");
    }
    assert!(
        std::fs::read_to_string(&kept).is_ok_and(|kept| kept == made),
        "tests/golden/smallest-view.svg is out of date: LOOMWRIGHT_BLESS=1 cargo test --test drawing_selection"
    );
}

/// A switch that is set pulls the relay whose coil it feeds: the pump behind its contact runs, and not the coil alone.
#[test]
fn a_switch_that_is_set_pulls_its_relay() {
    let to = Path::new(env!("CARGO_TARGET_TMPDIR")).join("selection-pull");
    let _ = std::fs::remove_dir_all(&to);
    let drawn = |arguments: &[&str], to: &Path| {
        let (status, words, files) = view("mud-plover-rev-a", arguments, to);
        assert_eq!(status, Some(0), "{words}");
        let texts = files.iter().filter(|name| name.starts_with("view-"));
        texts
            .map(|name| std::fs::read_to_string(to.join(name)).expect("it is there"))
            .collect::<String>()
    };
    let on = drawn(&["--set", "washdown-switch=on"], &to.join("on"));
    let off = drawn(&["--set", "washdown-switch=off"], &to.join("off"));
    // The coil draws 0.2 A as the file states, the pump about 10 A.
    assert!(on.contains("A5-B 0.2 A"), "the coil draws");
    let pump = |text: &str, amps: &str| text.contains(&format!("A1-B {amps}"));
    assert!(pump(&on, "10 A") || pump(&on, "9.") || pump(&on, "11 A"));
    assert!(!pump(&off, "10 A") && !pump(&off, "9.") && !pump(&off, "11 A"));
}
