//! The rooms of the house: a room may use rooms above it, never below.

// A test reads and writes files; the library does not.
#![allow(clippy::disallowed_methods)]

use std::path::{Path, PathBuf};

/// From the top of the house down; `diag`, `source` and `standards` share a floor.
const FLOORS: &[&[&str]] = &[
    &["units", "font"],
    &["source", "standards", "diag"],
    &["netlist"],
    &["system"],
    &["resolve"],
    &["analysis"],
    &["rules"],
    &["sizing"],
    &["schedule"],
    &["drawing"],
    &["export"],
    &["cli"],
];

fn floor_of(room: &str) -> Option<usize> {
    FLOORS.iter().position(|floor| floor.contains(&room))
}

fn rust_files(folder: &Path) -> Vec<PathBuf> {
    let mut waiting = vec![folder.to_path_buf()];
    let mut files = Vec::new();
    while let Some(next) = waiting.pop() {
        for entry in std::fs::read_dir(&next).expect("the source folder is readable") {
            let path = entry.expect("an entry of the source folder").path();
            if path.is_dir() {
                waiting.push(path);
            } else if path.extension().is_some_and(|end| end == "rs") {
                files.push(path);
            }
        }
    }
    files.sort();
    files
}

/// Rooms named behind `crate::` on one line of code.
fn rooms_used(line: &str) -> Vec<&str> {
    let code = line.split("//").next().unwrap_or_default();
    code.split("crate::")
        .skip(1)
        .filter_map(|rest| {
            rest.split(|c: char| !(c.is_alphanumeric() || c == '_'))
                .next()
        })
        .filter(|name| floor_of(name).is_some())
        .collect()
}

#[test]
fn no_room_uses_a_room_below_it() {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut faults = Vec::new();
    for file in rust_files(&source) {
        let inside = file.strip_prefix(&source).expect("the file lies under src");
        let first = inside.components().next().expect("a path has a first part");
        let room = first.as_os_str().to_string_lossy();
        let Some(floor) = floor_of(&room) else {
            continue;
        };
        let text = std::fs::read_to_string(&file).expect("a source file is text");
        // Tests inside a room may drive the whole pipeline.
        let body = text.split("#[cfg(test)]").next().unwrap_or_default();
        for (number, line) in body.lines().enumerate() {
            for used in rooms_used(line) {
                if floor_of(used).is_some_and(|other| other > floor) {
                    faults.push(format!(
                        "{}:{}: `{room}` uses `{used}`, a room below it",
                        inside.display(),
                        number + 1
                    ));
                }
            }
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn every_folder_is_a_known_room() {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    for entry in std::fs::read_dir(source).expect("the source folder is readable") {
        let entry = entry.expect("an entry of the source folder");
        if entry.path().is_dir() {
            let name = entry.file_name().to_string_lossy().into_owned();
            assert!(
                floor_of(&name).is_some(),
                "src/{name} is not a room of the house"
            );
        }
    }
}

#[test]
fn the_reader_of_uses_sees_them() {
    assert_eq!(
        rooms_used("use crate::system::System; // crate::cli"),
        ["system"]
    );
    assert_eq!(rooms_used("let x = crate::units::Amps(1.0);"), ["units"]);
}
