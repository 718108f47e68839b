//! The schematic: everything is drawn, nothing lies over anything else, and it is quick.

use loomwright::drawing::scene::{OFFSHEET, Role};
use loomwright::drawing::{Sheet, SheetOptions, SheetSize, check, schematic};
use loomwright::export::svg;
use loomwright::system::System;
use loomwright::{netlist, resolve, source};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

fn boat(text: &str) -> System {
    let reading = source::read(text.as_bytes());
    let (netlist, _) = netlist::read(&reading);
    let netlist = netlist.expect("the file is a netlist");
    let document = reading.document.as_ref().expect("the file is a document");
    resolve::resolve(&netlist, document).0
}

fn draw(system: &System, size: SheetSize) -> Vec<Sheet> {
    let options = SheetOptions {
        size,
        fingerprint: "0123456789abcdef".to_owned(),
    };
    schematic(system, &options)
}

/// Every component and both ends of every conductor are drawn, once, and every broken-off end names its place.
fn assert_complete(name: &str, system: &System, sheets: &[Sheet]) {
    let mut parts = BTreeSet::new();
    let mut ends: BTreeMap<&str, (usize, usize)> = BTreeMap::new();
    for group in sheets.iter().flat_map(|sheet| &sheet.groups) {
        match &group.role {
            Role::Part {
                name: part, kind, ..
            } => {
                parts.insert(part.as_str());
                if *kind == OFFSHEET {
                    assert!(
                        group.title.contains('/'),
                        "{name}: {} names no place",
                        group.title
                    );
                }
            }
            Role::Wire {
                number, from, to, ..
            } => {
                let count = ends.entry(number).or_default();
                count.0 += usize::from(from.is_some());
                count.1 += usize::from(to.is_some());
            }
            _ => {}
        }
    }
    for component in &system.components {
        assert!(
            parts.contains(component.name.as_str()),
            "{name}: {} is not drawn",
            component.name
        );
    }
    for conductor in &system.conductors {
        let found = ends.get(conductor.number.as_str()).copied();
        assert_eq!(
            found,
            Some((1, 1)),
            "{name}: ends of wire {}",
            conductor.number
        );
    }
}

/// Nothing overlaps on any sheet.
fn assert_clear(name: &str, sheets: &[Sheet]) {
    for sheet in sheets {
        let counts = check::check(sheet);
        assert_eq!(
            counts.overlaps(),
            0,
            "{name}, sheet {}: {:#?}",
            sheet.number,
            counts.faults
        );
        assert!(
            counts.smallest_label.is_none_or(|size| size >= 2.5),
            "{name}: small letters"
        );
    }
}

/// Writes sheets where a variable asks for it, to be looked at.
fn keep(name: &str, size: SheetSize, sheets: &[Sheet]) {
    if let Ok(to) = std::env::var("LOOMWRIGHT_DRAWINGS") {
        for sheet in sheets {
            let file = Path::new(&to).join(format!("{name}-{size:?}-{}.svg", sheet.number));
            std::fs::write(file, svg::write(sheet)).expect("the directory can be written to");
        }
    }
}

#[test]
fn examples_are_complete_and_clear() {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let mut files: Vec<_> = std::fs::read_dir(dir)
        .expect("the examples are there")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|kind| kind == "yaml"))
        .collect();
    files.sort();
    assert!(files.len() >= 5);
    for path in files {
        let name = path
            .file_stem()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        let system = boat(&std::fs::read_to_string(&path).expect("a text file"));
        for size in [
            SheetSize::A3,
            SheetSize::A4,
            SheetSize::Tabloid,
            SheetSize::Letter,
        ] {
            let sheets = draw(&system, size);
            keep(&name, size, &sheets);
            assert_complete(&name, &system, &sheets);
            assert_clear(&name, &sheets);
        }
    }
}
