//! What the tests of drawings share: boats, sheets kept to be looked at, lettering, nothing over anything else.

// Each test takes of it what it needs.
#![allow(dead_code)]

use loomwright::drawing::scene::{Form, Group};
use loomwright::drawing::{Sheet, check};
use loomwright::export::svg;
use loomwright::system::System;
use loomwright::{netlist, resolve, source};
use std::path::Path;

/// The boat of a netlist.
pub(crate) fn boat(text: &str) -> System {
    let reading = source::read(text.as_bytes());
    let (netlist, _) = netlist::read(&reading);
    let netlist = netlist.expect("the file is a netlist");
    let document = reading.document.as_ref().expect("the file is a document");
    resolve::resolve(&netlist, document).0
}

/// Writes sheets where a variable asks for it, to be looked at.
pub(crate) fn keep(name: &str, sheets: &[Sheet]) {
    let Ok(to) = std::env::var("LOOMWRIGHT_DRAWINGS") else {
        return;
    };
    let plain = |letter: char| {
        if letter.is_alphanumeric() {
            letter
        } else {
            '-'
        }
    };
    let name: String = name.chars().map(plain).collect();
    for sheet in sheets {
        let file = Path::new(&to).join(format!("{name}-{:02}.svg", sheet.number));
        std::fs::write(file, svg::write(sheet)).expect("the directory can be written to");
    }
}

/// All texts of a group.
pub(crate) fn texts(group: &Group) -> Vec<&str> {
    let texts = group.shapes.iter().filter_map(|shape| match &shape.form {
        Form::Text { text, .. } => Some(text.as_str()),
        _ => None,
    });
    texts.collect()
}

/// Nothing overlaps on any sheet, and no wire has letters too small to read.
pub(crate) fn assert_clear(name: &str, sheets: &[Sheet]) {
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
            counts.smallest_label.is_none_or(|letters| letters >= 2.5),
            "{name}: small letters"
        );
    }
}
