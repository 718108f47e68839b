//! What no netlist can decide: lines for eyes and hands, on the pre-power-up sheet.
//!
//! The lines lie in `inspection.txt`, one a line, title and text apart by a bar; figures come from `standards`.

use super::paper::Field;
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

/// Rows of the sheet, lengths in the units of the boat.
pub(super) fn inspection(style: LengthStyle) -> Vec<Vec<Field>> {
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
                Field::Lines(vec![title.to_owned(), told]),
                Field::text(""),
                Field::text(""),
                Field::text("look"),
                Field::text(""),
                Field::text(""),
                Field::text(""),
                Field::Tick,
                Field::text(""),
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
        for row in inspection(LengthStyle::FeetInches) {
            let Field::Lines(told) = &row[1] else {
                panic!("a title and a text");
            };
            assert!(
                told.iter()
                    .all(|line| !line.is_empty() && !line.contains('{'))
            );
        }
    }
}
