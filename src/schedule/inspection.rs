//! What no netlist can decide: a sheet for eyes and hands, worked through before the first start.
//!
//! The lines lie in `inspection.txt`, one a line, title and text apart by a bar; figures come from `standards`.

use super::paper::{Block, Column, Field, Orientation, Sheet};
use crate::standards::constants;
use crate::units::{LengthStyle, decimal, format_length};

const LINES: &str = include_str!("inspection.txt");

/// Titles of all lines, in their order.
pub fn inspection_titles() -> impl Iterator<Item = &'static str> {
    lines().map(|(title, _)| title)
}

fn lines() -> impl Iterator<Item = (&'static str, &'static str)> {
    LINES
        .lines()
        .filter_map(|line| line.split_once('|'))
        .map(|(title, text)| (title.trim(), text.trim()))
}

/// The sheet, lengths in the units of the boat.
#[must_use]
pub fn inspection_sheet(style: LengthStyle) -> Sheet {
    Sheet {
        stem: "inspection",
        title: "What no netlist can decide",
        orientation: Orientation::Across,
        remarks: vec![
            "Eyes and hands, before the first start. A line that does not hold stops the work as a step of the pre-power-up sheet does."
                .to_owned(),
        ],
        columns: vec![
            Column::text("Line", 14.0),
            Column::text("About", 44.0),
            Column::text("What must be so", 160.0),
            Column::tick("Pass"),
            Column::text("Remark", 56.0),
        ],
        blocks: vec![Block {
            rows: rows(style),
            ..Block::default()
        }],
        strips: Vec::new(),
        cautions: Vec::new(),
    }
}

fn rows(style: LengthStyle) -> Vec<Vec<Field>> {
    let figures = [
        (
            "{support}",
            format_length(constants::support_spacing().0, style),
        ),
        (
            "{shield}",
            format_length(constants::battery_fuel_shield().0, style),
        ),
        ("{bend}", decimal(constants::bend_radius().0, 0)),
        ("{studs}", constants::terminals_per_stud().0.to_string()),
    ];
    lines()
        .enumerate()
        .map(|(index, (title, text))| {
            let told = figures
                .iter()
                .fold(text.to_owned(), |told, (mark, figure)| {
                    told.replace(mark, figure)
                });
            vec![
                Field::text(format!("I-{:02}", index + 1)),
                Field::text(title),
                Field::text(told),
                Field::Tick,
                Field::Blank(String::new()),
            ]
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_line_has_a_title_and_no_mark_is_left() {
        assert_eq!(lines().count(), LINES.lines().count());
        let sheet = inspection_sheet(LengthStyle::FeetInches);
        for row in &sheet.blocks[0].rows {
            assert_eq!(row.len(), sheet.columns.len());
            for field in &row[1..=2] {
                let Field::Text(told) = field else {
                    panic!("a title and a text");
                };
                assert!(!told.is_empty() && !told.contains('{'));
            }
        }
    }
}
