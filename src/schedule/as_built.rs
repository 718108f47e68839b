//! The as-built record: what was built otherwise than drawn, and what was looked at and measured before it was closed up.
//!
//! Objects and what was designed are printed; the rest is filled in by hand on the boat.

use super::Rows;
use super::cautions;
use super::fuse_chart::device_lines;
use super::paper::{Block, Cell, Column, Field, Orientation, Sheet, Table};
use crate::diag::{Severity, on_paper};
use crate::system::{ComponentKind, GearKind, SourceKind, System};
use crate::units::{Rounding, amp_hours, volts};
use std::collections::BTreeSet;

const COLUMNS: &[&str] = &[
    "part_of_record",
    "object",
    "designed",
    "as_fitted",
    "measured",
    "date",
    "initials",
    "photo_number",
    "accepted_because",
];

/// Empty rows for deviations: a page of them.
const DEVIATIONS: usize = 14;

/// Empty rows under open items.
const OPEN: usize = 5;

/// A part of the record.
struct Section {
    /// Name for machines.
    stem: &'static str,
    title: &'static str,
    /// What is done.
    detail: &'static str,
    /// Object and what was designed.
    rows: Vec<(String, String)>,
}

/// One record an object, to be filled in.
#[must_use]
pub fn as_built_table(rows: &Rows<'_>) -> Table {
    let rows = sections(rows)
        .into_iter()
        .flat_map(|section| {
            section.rows.into_iter().map(move |(object, designed)| {
                let mut cells = vec![
                    Cell::text(section.stem),
                    Cell::text(object),
                    Cell::text(designed),
                ];
                cells.resize(COLUMNS.len(), Cell::Empty);
                cells
            })
        })
        .collect();
    Table {
        stem: "as-built",
        columns: COLUMNS,
        rows,
    }
}

/// The record to fill in, for the surveyor and for whoever opens the boat next.
#[must_use]
pub fn as_built_sheet(rows: &Rows<'_>) -> Sheet {
    let empty = || (String::new(), String::new());
    let blocks = sections(rows)
        .into_iter()
        .map(|mut section| {
            match section.stem {
                "deviation" => section.rows.resize_with(DEVIATIONS, empty),
                "open item" => section.rows.extend((0..OPEN).map(|_| empty())),
                _ => {}
            }
            Block {
                title: section.title.to_owned(),
                detail: section.detail.to_owned(),
                rows: section
                    .rows
                    .into_iter()
                    .map(|(object, designed)| {
                        let mut row = vec![Field::Text(object), Field::Text(designed)];
                        row.resize(8, Field::Blank(String::new()));
                        row
                    })
                    .collect(),
                totals: Vec::new(),
            }
        })
        .collect();
    Sheet {
        stem: "as-built",
        title: "As-built record",
        orientation: Orientation::Across,
        remarks: vec![
            "The netlist is what was designed. Write down here whatever was built otherwise, then change the netlist and print again. \
             Keep it with the boat."
                .to_owned(),
        ],
        columns: vec![
            Column::text("Object", 36.0),
            Column::text("Designed", 50.0),
            Column::text("As fitted", 40.0),
            Column::text("Measured", 26.0),
            Column::text("Date", 20.0),
            Column::text("Initials", 16.0),
            Column::text("Photo", 16.0),
            Column::text("Accepted because", 50.0),
        ],
        blocks,
        strips: Vec::new(),
        cautions: vec![cautions::DISCONNECT, cautions::NEVER_LARGER, cautions::ASSUMED],
    }
}

fn sections(rows: &Rows<'_>) -> Vec<Section> {
    let system = rows.facts.system;
    vec![
        Section {
            stem: "deviation",
            title: "Deviations",
            detail: "measured: length, current or volts lost",
            rows: Vec::new(),
        },
        Section {
            stem: "battery",
            title: "Batteries",
            detail: "as fitted: serial number and date of make; measured: volts at rest",
            rows: batteries(system),
        },
        Section {
            stem: "device",
            title: "Overcurrent devices",
            detail: "as fitted: the rating printed on the device",
            rows: device_lines(rows.facts)
                .into_iter()
                .map(|[device, name, rating]| (device, join(&rating, &name)))
                .collect(),
        },
        Section {
            stem: "torque",
            title: "Torque marks",
            detail: "measured: torque as the maker of the part states it; every nut marked with paint after tightening",
            rows: studs(system),
        },
        Section {
            stem: "insulation and continuity",
            title: "Insulation and continuity",
            detail: "batteries out, all devices out, everything off, before the first power-up; measured: ohms",
            rows: tests(system),
        },
        Section {
            stem: "open item",
            title: "Open items",
            detail: "findings of this revision, and what the eye found",
            rows: open(rows),
        },
    ]
}

fn join(one: &str, other: &str) -> String {
    if other.is_empty() {
        one.to_owned()
    } else {
        format!("{one}, {other}")
    }
}

fn batteries(system: &System) -> Vec<(String, String)> {
    system
        .sources
        .iter()
        .filter(|source| source.kind == SourceKind::Battery)
        .map(|source| {
            let mut designed = volts(source.nominal.value, Rounding::Nearest).to_string();
            if let Some(capacity) = source.capacity {
                designed = join(
                    &designed,
                    &amp_hours(capacity.value, Rounding::Nearest).to_string(),
                );
            }
            (source.name.clone(), designed)
        })
        .collect()
}

/// Parts whose joints carry the currents of a whole bank.
fn studs(system: &System) -> Vec<(String, String)> {
    let switches: BTreeSet<usize> = system
        .gears
        .iter()
        .filter(|gear| gear.kind == GearKind::BatterySwitch)
        .map(|gear| gear.component.index())
        .collect();
    system
        .components
        .iter()
        .enumerate()
        .filter(|(index, part)| match part.kind {
            ComponentKind::Battery | ComponentKind::Bus | ComponentKind::FuseBlock => true,
            ComponentKind::Switch => switches.contains(index),
            _ => false,
        })
        .map(|(_, part)| {
            let stud = part.stud.as_ref().map_or_else(
                || "stud not given".to_owned(),
                |stud| format!("stud {}", stud.value),
            );
            (part.name.clone(), stud)
        })
        .collect()
}

fn tests(system: &System) -> Vec<(String, String)> {
    let mut rows: Vec<(String, String)> = system
        .components
        .iter()
        .filter(|part| matches!(part.kind, ComponentKind::Bus | ComponentKind::FuseBlock))
        .map(|part| {
            (
                part.name.clone(),
                "positive to negative: open line".to_owned(),
            )
        })
        .collect();
    rows.push((
        "every load".to_owned(),
        "its negative to the negative bus: under 0.5 Ω with the leads".to_owned(),
    ));
    rows
}

fn open(rows: &Rows<'_>) -> Vec<(String, String)> {
    rows.findings
        .iter()
        .filter(|finding| finding.severity > Severity::Note)
        .map(|finding| {
            (
                finding.element.clone(),
                format!("{}: {}", finding.rule, on_paper(&finding.message)),
            )
        })
        .collect()
}
