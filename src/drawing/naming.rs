//! Ids of groups: the same thing has the same id whatever else is drawn, and no id stands twice in a drawing.
//!
//! An id is made of what the group stands for. Only further drawings of one thing are counted.

use super::scene::{Group, OFFSHEET, Role, Sheet};
use std::collections::{BTreeMap, BTreeSet};

/// Gives every group of some sheets its id.
pub(super) fn unique(sheets: &mut [Sheet]) {
    let mut taken: BTreeSet<String> = BTreeSet::new();
    let mut counts: BTreeMap<String, usize> = BTreeMap::new();
    for sheet in sheets {
        let number = sheet.number;
        for group in &mut sheet.groups {
            let wanted = wanted(group, number);
            let count = counts.entry(wanted.clone()).or_insert(0);
            let id = loop {
                *count += 1;
                let id = if *count == 1 {
                    wanted.clone()
                } else {
                    format!("{wanted}-{count}")
                };
                if taken.insert(id.clone()) {
                    break id;
                }
            };
            group.id = id;
        }
    }
}

/// The id of the first group of its meaning; without characters that would end a name.
fn wanted(group: &Group, sheet: usize) -> String {
    let id = match &group.role {
        Role::Part { name, kind, .. } if *kind == OFFSHEET => {
            // `to-W12-3`: the last number counts the references of the whole drawing.
            let wire = name
                .rsplit_once('-')
                .map_or(name.as_str(), |(wire, _)| wire);
            format!("ref-{wire}")
        }
        Role::Part { name, .. } => format!("part-{name}"),
        Role::Wire { number, .. } => format!("wire-{number}"),
        Role::WireLabel { number } => format!("label-{number}"),
        Role::Zone { name } => {
            let zone = name.split_once('#').map_or(name.as_str(), |(zone, _)| zone);
            format!("zone-{zone}")
        }
        Role::Frame => format!("frame-{sheet}"),
        Role::Block { name } if name == "title" => format!("title-{sheet}"),
        Role::Block { name } => format!("block-{name}"),
        // A finding is named for its rule and element, a joint or an open end for the place it is at.
        Role::Note | Role::Finding { .. } => group.id.clone(),
    };
    id.chars()
        .map(|letter| if letter.is_whitespace() { '_' } else { letter })
        .collect()
}
