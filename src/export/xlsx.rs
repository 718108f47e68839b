//! All tables in one workbook: a page each, its heading fixed above the rows, numbers as numbers.
//!
//! No cell is a formula: texts are written as texts, and one that begins as a formula does is marked so that it stays
//! a text when somebody edits it. The date of the file is fixed, so the same tables give the same bytes.

use super::words::shown_text;
use crate::schedule::{Cell, DEFERENCE, Head, Table};
use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, Workbook, Worksheet, XlsxError,
};
use std::borrow::Cow;

/// Most characters of a cell (ECMA-376 leaves it open; spreadsheets stop at 32,767: common practice, no source).
const LONGEST_TEXT: usize = 32_767;

/// Most rows under the heading that a page of a workbook holds.
const MOST_ROWS: usize = 1_048_575;

/// Most decimals of our numbers.
const MOST_DECIMALS: usize = 6;

/// Writes the workbook.
///
/// # Errors
/// A limit of the format, in words.
pub fn workbook(head: &Head, tables: &[&Table]) -> Result<Vec<u8>, String> {
    write(head, tables).map_err(|error| error.to_string())
}

fn write(head: &Head, tables: &[&Table]) -> Result<Vec<u8>, XlsxError> {
    let mut workbook = Workbook::new();
    let made = ExcelDateTime::from_ymd(2000, 1, 1)?;
    workbook.set_properties(
        &DocProperties::new()
            .set_title(shown_text(&head.boat))
            .set_author(format!("loomwright {}", env!("CARGO_PKG_VERSION")))
            .set_creation_datetime(&made),
    );
    let styles = Styles::new();
    about(workbook.add_worksheet(), head, &styles)?;
    for table in tables {
        page(workbook.add_worksheet(), table, &styles)?;
    }
    workbook.save_to_buffer()
}

struct Styles {
    heading: Format,
    text: Format,
    /// For texts that begin as a formula does.
    kept: Format,
    /// By count of decimals.
    numbers: Vec<Format>,
}

impl Styles {
    fn new() -> Self {
        let plain = || Format::new().set_align(FormatAlign::Top);
        Self {
            heading: plain().set_bold().set_border_bottom(FormatBorder::Medium),
            text: plain().set_text_wrap(),
            kept: plain().set_text_wrap().set_quote_prefix(),
            numbers: (0..=MOST_DECIMALS)
                .map(|places| match places {
                    0 => plain().set_num_format("0"),
                    places => plain().set_num_format(format!("0.{}", "0".repeat(places))),
                })
                .collect(),
        }
    }
}

/// The head of the papers as the first page.
fn about(page: &mut Worksheet, head: &Head, styles: &Styles) -> Result<(), XlsxError> {
    page.set_name("about")?;
    page.set_column_width(0, 18)?;
    page.set_column_width(1, 90)?;
    let fingerprint = head.fingerprint.to_string();
    let rows = [
        ("boat", head.boat.as_str()),
        ("subtitle", &head.subtitle),
        ("revision", &head.revision),
        ("date", &head.date),
        ("number", &head.number),
        ("owner", &head.owner),
        ("drawn by", &head.creator),
        ("approved by", &head.approved_by),
        ("netlist", &fingerprint),
        ("open findings", &head.open),
        ("units", &head.units),
        ("policies", &head.policy),
        ("read this", DEFERENCE),
    ];
    for (row, (what, words)) in (0..).zip(rows) {
        page.write_string_with_format(row, 0, what, &styles.heading)?;
        let words = if words.is_empty() { "not given" } else { words };
        text(page, (row, 1), words, styles)?;
    }
    Ok(())
}

fn page(page: &mut Worksheet, table: &Table, styles: &Styles) -> Result<(), XlsxError> {
    page.set_name(table.stem)?;
    page.set_freeze_panes(1, 0)?;
    page.set_repeat_rows(0, 0)?;
    page.set_landscape();
    let mut widths: Vec<usize> = Vec::with_capacity(table.columns.len());
    for (column, name) in (0..).zip(table.columns) {
        page.write_string_with_format(0, column, *name, &styles.heading)?;
        widths.push(name.chars().count() + 2);
    }
    for (row, cells) in (1..).zip(table.rows.iter().take(MOST_ROWS)) {
        for ((column, cell), width) in (0..).zip(cells).zip(&mut widths) {
            match cell {
                Cell::Empty => continue,
                Cell::Text(words) => text(page, (row, column), words, styles)?,
                Cell::Number(number) => figure(page, (row, column), number, styles)?,
            }
            let (Cell::Text(words) | Cell::Number(words)) = cell else {
                continue;
            };
            *width = (*width).max(words.chars().count() + 1);
        }
    }
    for (column, width) in (0..).zip(widths) {
        page.set_column_width(column, width.clamp(6, 50) as f64)?;
    }
    let last_row = u32::try_from(table.rows.len().min(MOST_ROWS)).unwrap_or(0);
    let last_column = u16::try_from(table.columns.len().saturating_sub(1)).unwrap_or(0);
    if last_row > 0 {
        page.autofilter(0, 0, last_row, last_column)?;
    }
    Ok(())
}

/// A number with its decimals; what is no number after all is written as a text.
fn figure(
    page: &mut Worksheet,
    (row, column): (u32, u16),
    number: &str,
    styles: &Styles,
) -> Result<(), XlsxError> {
    let places = number
        .split_once('.')
        .map_or(0, |(_, decimals)| decimals.len());
    match (number.parse::<f64>(), styles.numbers.get(places)) {
        (Ok(value), Some(style)) if value.is_finite() => {
            page.write_number_with_format(row, column, value, style)?;
        }
        _ => text(page, (row, column), number, styles)?,
    }
    Ok(())
}

fn text(
    page: &mut Worksheet,
    (row, column): (u32, u16),
    words: &str,
    styles: &Styles,
) -> Result<(), XlsxError> {
    let words = fitting(words);
    let style = if super::csv::begins_a_formula(&words) {
        &styles.kept
    } else {
        &styles.text
    };
    page.write_string_with_format(row, column, words, style)?;
    Ok(())
}

/// A text that a cell holds: what is too long ends with `…`.
fn fitting(words: &str) -> Cow<'_, str> {
    let shown = shown_text(words);
    // The limit counts UTF-16 units.
    if shown.encode_utf16().count() <= LONGEST_TEXT {
        return shown;
    }
    let mut units = 0;
    let kept: String = shown
        .chars()
        .take_while(|letter| {
            units += letter.len_utf16();
            units < LONGEST_TEXT
        })
        .collect();
    Cow::Owned(kept + "…")
}
