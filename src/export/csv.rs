//! Tables as comma-separated text after RFC 4180: UTF-8 without a mark, CRLF, one heading line.
//!
//! A spreadsheet takes a cell that begins with `=`, `+`, `-`, `@`, a tab or a line end for a formula. The netlist
//! may come from anybody, so such a text gets an apostrophe in front. Numbers of our own making stay bare.
//! Characters that a viewer would obey are replaced as everywhere.

use super::words::shown_text;
use crate::schedule::{Cell, Table};
use std::borrow::Cow;

/// Writes a table.
///
/// # Panics
/// Never: nothing is written but memory, and every row is as long as the heading.
#[must_use]
pub fn table(table: &Table) -> String {
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::with_capacity(64 * (table.rows.len() + 1)));
    let records = std::iter::once(
        table
            .columns
            .iter()
            .map(|&name| Cow::Borrowed(name))
            .collect::<Vec<_>>(),
    )
    .chain(table.rows.iter().map(|row| row.iter().map(cell).collect()));
    for record in records {
        writer
            .write_record(record.iter().map(|text| text.as_bytes()))
            .expect("writing to memory never fails and every row has as many cells as there are columns");
    }
    let bytes = writer.into_inner().expect("writing to memory never fails");
    String::from_utf8(bytes).expect("every cell is UTF-8")
}

/// A cell's text, with formulas disarmed.
fn cell(cell: &Cell) -> Cow<'_, str> {
    match cell {
        Cell::Text(text) => match shown_text(text) {
            Cow::Borrowed(text) => disarmed(text),
            Cow::Owned(text) => Cow::Owned(disarmed(&text).into_owned()),
        },
        Cell::Number(number) => Cow::Borrowed(number),
        Cell::Empty => Cow::Borrowed(""),
    }
}

/// Puts an apostrophe before what a spreadsheet would compute.
///
/// The wide forms of the four signs are formulas in some East Asian settings. A spreadsheet set to the semicolon
/// begins a cell behind one within the text, so there it is looked for too.
fn disarmed(text: &str) -> Cow<'_, str> {
    let begins =
        |at: usize| (at == 0 || text[..at].ends_with(';')) && begins_a_formula(&text[at..]);
    if !text.char_indices().any(|(at, _)| begins(at)) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 2);
    for (at, letter) in text.char_indices() {
        if begins(at) {
            out.push('\'');
        }
        out.push(letter);
    }
    Cow::Owned(out)
}

/// Whether a spreadsheet would take a text for a formula.
pub(super) fn begins_a_formula(text: &str) -> bool {
    text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠'])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_are_quoted_and_formulas_disarmed() {
        let sample = Table {
            stem: "sample",
            columns: &["wire", "note", "length_mm"],
            rows: vec![
                vec![
                    Cell::text("W1"),
                    Cell::text("red, \"thick\"\nsecond line"),
                    Cell::number(-1.25, 2),
                ],
                vec![
                    Cell::text("=HYPERLINK(\"x\")"),
                    Cell::text("-5"),
                    Cell::Empty,
                ],
                vec![Cell::text("@a"), Cell::text("+b"), Cell::text("\tc")],
                vec![Cell::text("a=b"), Cell::text("a-b"), Cell::text(" =c")],
                vec![
                    Cell::text("a;=b;c"),
                    Cell::text("a\u{202E}b"),
                    Cell::text("\r=x"),
                ],
            ],
        };
        assert_eq!(
            table(&sample),
            "wire,note,length_mm\r\n\
             W1,\"red, \"\"thick\"\" second line\",-1.25\r\n\
             \"'=HYPERLINK(\"\"x\"\")\",'-5,\r\n\
             '@a,'+b, c\r\n\
             a=b,a-b, =c\r\n\
             a;'=b;c,a\u{FFFD}b, =x\r\n"
        );
    }

    #[test]
    fn a_table_without_rows_keeps_its_heading() {
        let empty = Table {
            stem: "empty",
            columns: &["wire"],
            rows: Vec::new(),
        };
        assert_eq!(table(&empty), "wire\r\n");
    }
}
