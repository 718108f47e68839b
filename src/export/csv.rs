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
    let whole =
        "writing to memory never fails and every row has as many cells as there are columns";
    writer.write_record(table.columns).expect(whole);
    for row in &table.rows {
        for one in row {
            writer.write_field(cell(one).as_bytes()).expect(whole);
        }
        // Ends the row.
        writer.write_record(None::<&[u8]>).expect(whole);
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
    let mut out = String::new();
    let mut copied = 0;
    let behind = text.match_indices(';').map(|(at, _)| at + 1);
    for at in std::iter::once(0).chain(behind) {
        if begins_a_formula(&text[at..]) {
            out.push_str(&text[copied..at]);
            out.push('\'');
            copied = at;
        }
    }
    if out.is_empty() {
        return Cow::Borrowed(text);
    }
    out.push_str(&text[copied..]);
    Cow::Owned(out)
}

/// Whether a spreadsheet would take a text for a formula.
pub(super) fn begins_a_formula(text: &str) -> bool {
    matches!(
        text.chars().next(),
        Some('=' | '+' | '-' | '@' | '\t' | '\r' | '\n' | '＝' | '＋' | '－' | '＠')
    )
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
