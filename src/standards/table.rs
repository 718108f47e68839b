//! Reads the tables under `data/`: a head of `# key: value` lines, then comma-separated rows.
//!
//! The tables are part of the program, so a malformed one is a fault of the program: a test reads
//! every cell that a lookup reads. Nothing here knows what a figure means.

use super::{Basis, Confidence};
use crate::units::{Gauge, Quantity, parse_quantity};
use std::sync::Arc;

/// The part of a shipped table that a lookup cannot do without.
pub(super) trait Shipped<T> {
    /// The part; its absence is a fault of the program that the tests of the lookup show.
    fn shipped(self) -> T;
}

impl<T> Shipped<T> for Option<T> {
    fn shipped(self) -> T {
        self.expect("a test reads every shipped table with the lookups that use it")
    }
}

/// A shipped table with the citation of the table as a whole.
///
/// Rows that differ in origin carry a citation of their own; the table then states the weakest.
#[derive(Debug)]
pub struct Source {
    /// File name under `data/`.
    pub file: &'static str,
    /// Citation; a test compares it with the head of the file.
    pub basis: Basis,
    text: &'static str,
}

impl Source {
    pub(super) const fn new(file: &'static str, text: &'static str, basis: Basis) -> Self {
        Self { file, basis, text }
    }

    /// The first line of the head with this key: `title`, `publication`, `publisher`, `edition`,
    /// `clause`, `units`, `conditions`, `obtained`, `note`.
    #[must_use]
    pub fn head(&self, key: &str) -> Option<&'static str> {
        self.text
            .lines()
            .map_while(|line| line.strip_prefix("# "))
            .find_map(|line| line.strip_prefix(key)?.strip_prefix(':'))
            .map(str::trim)
    }

    /// The rows below the line of column names.
    pub(super) fn rows(&'static self) -> Vec<Row> {
        let mut lines = self.text.lines().filter(|line| !line.starts_with('#'));
        let columns: Arc<[&'static str]> = lines.next().map(cells).unwrap_or_default().into();
        lines
            .filter(|line| !line.is_empty())
            .map(|line| Row {
                columns: Arc::clone(&columns),
                cells: cells(line),
                table: self.basis,
            })
            .collect()
    }
}

/// Declares a table under `data/`.
macro_rules! table {
    ($name:ident, $file:literal, $basis:expr) => {
        pub(super) static $name: crate::standards::table::Source =
            crate::standards::table::Source::new(
                $file,
                include_str!(concat!("data/", $file)),
                $basis,
            );
    };
}
pub(super) use table;

/// One row of a table.
pub(super) struct Row {
    columns: Arc<[&'static str]>,
    cells: Vec<&'static str>,
    table: Basis,
}

impl Row {
    /// The cell of a column, empty where the row has none.
    pub(super) fn text(&self, column: &str) -> &'static str {
        self.find(column).unwrap_or_default()
    }

    /// A number; `None` for an empty cell.
    pub(super) fn number(&self, column: &str) -> Option<f64> {
        self.text(column).parse().ok()
    }

    /// A number that every row of the table has.
    pub(super) fn value(&self, column: &str) -> f64 {
        self.number(column).shipped()
    }

    /// A quantity written with its unit; `None` for an empty cell.
    pub(super) fn quantity<Q: Quantity>(&self, column: &str) -> Option<Q> {
        parse_quantity(self.text(column)).ok()
    }

    /// A conductor size written with its unit.
    pub(super) fn size(&self, column: &str) -> Gauge {
        self.text(column).parse().ok().shipped()
    }

    /// A gauge number without its unit.
    pub(super) fn awg(&self, column: &str) -> Gauge {
        format!("{} AWG", self.text(column)).parse().ok().shipped()
    }

    /// Whether the row has a cell for each column and no more.
    #[cfg(test)]
    pub(super) fn is_whole(&self) -> bool {
        self.columns.len() == self.cells.len()
    }

    /// The citation of this row: its own columns where it has them, else those of the table.
    pub(super) fn basis(&self) -> Basis {
        let own = |column, table| self.find(column).unwrap_or(table);
        Basis {
            publication: own("publication", self.table.publication),
            edition: own("edition", self.table.edition),
            clause: own("clause", self.table.clause),
            confidence: self
                .find("obtained")
                .and_then(Confidence::from_table)
                .unwrap_or(self.table.confidence),
        }
    }

    /// Names and cells of the columns whose name starts with `before` and ends with `after`; the
    /// middle of the name as a number beside each cell, as in `a_105c`.
    pub(super) fn numbered(&self, before: &str, after: &str) -> Vec<(f64, Option<f64>)> {
        self.columns
            .iter()
            .filter_map(|name| {
                let middle = name.strip_prefix(before)?.strip_suffix(after)?;
                Some((middle.parse().ok()?, self.number(name)))
            })
            .collect()
    }

    fn find(&self, column: &str) -> Option<&'static str> {
        let index = self.columns.iter().position(|name| *name == column)?;
        self.cells.get(index).copied()
    }
}

/// Splits a line at its commas; a cell in quotes may hold commas but no quotes.
fn cells(line: &'static str) -> Vec<&'static str> {
    let mut cells = Vec::new();
    let mut rest = line;
    loop {
        let (cell, after) = match rest
            .strip_prefix('"')
            .and_then(|quoted| quoted.split_once('"'))
        {
            Some((cell, after)) => (cell, after.strip_prefix(',')),
            None => match rest.split_once(',') {
                Some((cell, after)) => (cell, Some(after)),
                None => (rest, None),
            },
        };
        cells.push(cell);
        match after {
            Some(after) => rest = after,
            None => return cells,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quoted_cells_keep_their_commas() {
        assert_eq!(cells("a,\"b, c\",,d"), ["a", "b, c", "", "d"]);
        assert_eq!(cells("\"x, y\""), ["x, y"]);
        assert_eq!(cells("a,"), ["a", ""]);
    }
}
