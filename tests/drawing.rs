//! The schematic: everything is drawn, nothing lies over anything else, and it is quick.

use loomwright::drawing::{SheetOptions, SheetSize, schematic};
use loomwright::export::svg;
use loomwright::system::System;
use loomwright::{netlist, resolve, source};
use std::path::Path;

fn boat(text: &str) -> System {
    let reading = source::read(text.as_bytes());
    let (netlist, _) = netlist::read(&reading);
    let netlist = netlist.expect("the file is a netlist");
    let document = reading.document.as_ref().expect("the file is a document");
    resolve::resolve(&netlist, document).0
}

/// Writes the drawings of the examples where a variable asks for it, to be looked at.
#[test]
fn examples_can_be_drawn() {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    for entry in std::fs::read_dir(dir).expect("examples") {
        let path = entry.expect("entry").path();
        if path.extension().is_none_or(|kind| kind != "yaml") {
            continue;
        }
        let text = std::fs::read_to_string(&path).expect("text");
        let system = boat(&text);
        for size in [SheetSize::A3, SheetSize::A4] {
            let options = SheetOptions {
                size,
                fingerprint: "0123456789abcdef".to_owned(),
            };
            let sheets = schematic(&system, &options);
            if let Ok(to) = std::env::var("LOOMWRIGHT_DRAWINGS") {
                for sheet in &sheets {
                    let name = path
                        .file_stem()
                        .expect("name")
                        .to_string_lossy()
                        .into_owned();
                    let file = format!("{to}/{name}-{size:?}-{}.svg", sheet.number);
                    std::fs::write(file, svg::write(sheet)).expect("written");
                }
            }
            assert!(!sheets.is_empty());
        }
    }
}
