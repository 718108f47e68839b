//! Reads the oracle tables and compares figures.

use std::fmt::Debug;

/// An oracle table: column names and rows of text.
pub(crate) struct Oracle {
    columns: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Oracle {
    /// Reads a table.
    pub(crate) fn read(text: &str) -> Self {
        let mut reader = csv::ReaderBuilder::new()
            .comment(Some(b'#'))
            .from_reader(text.as_bytes());
        let columns = reader
            .headers()
            .expect("a line of names")
            .iter()
            .map(str::to_owned)
            .collect();
        let rows = reader
            .records()
            .map(|record| {
                record
                    .expect("a whole row")
                    .iter()
                    .map(str::to_owned)
                    .collect()
            })
            .collect();
        Self { columns, rows }
    }

    /// Names of the columns.
    pub(crate) fn columns(&self) -> &[String] {
        &self.columns
    }

    /// Number of rows.
    pub(crate) fn len(&self) -> usize {
        self.rows.len()
    }

    /// A cell.
    pub(crate) fn text(&self, row: usize, column: &str) -> &str {
        let index = self
            .columns
            .iter()
            .position(|name| name == column)
            .expect(column);
        &self.rows[row][index]
    }

    /// A number; `None` for an empty cell.
    pub(crate) fn number(&self, row: usize, column: &str) -> Option<f64> {
        let text = self.text(row, column);
        (!text.is_empty()).then(|| text.parse().expect(text))
    }

    /// A number that is there.
    pub(crate) fn value(&self, row: usize, column: &str) -> f64 {
        self.number(row, column).expect(column)
    }
}

/// Fails unless a figure lies within a tolerance of the published one.
#[track_caller]
pub(crate) fn assert_near(figure: f64, published: f64, tolerance: f64, what: impl Debug) {
    assert!(
        (figure - published).abs() <= tolerance,
        "{what:?}: {figure} computed, {published} published, tolerance {tolerance}"
    );
}

/// Every oracle table, for the test of their heads.
const TABLES: &[(&str, &str)] = &[
    ("aircraft_drops", include_str!("data/aircraft_drops.csv")),
    ("ambient_factors", include_str!("data/ambient_factors.csv")),
    ("awg_public", include_str!("data/awg_public.csv")),
    ("derated_105c", include_str!("data/derated_105c.csv")),
    (
        "drop_table_46cfr",
        include_str!("data/drop_table_46cfr.csv"),
    ),
    ("iec_60228", include_str!("data/iec_60228.csv")),
    ("law_note_1", include_str!("data/law_note_1.csv")),
    ("law_note_2", include_str!("data/law_note_2.csv")),
    ("law_table_5", include_str!("data/law_table_5.csv")),
    ("stranded_75c", include_str!("data/stranded_75c.csv")),
];

#[test]
fn every_oracle_names_its_source() {
    for (file, text) in TABLES {
        for key in [
            "title",
            "publication",
            "publisher",
            "units",
            "conditions",
            "obtained",
        ] {
            let named = text
                .lines()
                .filter_map(|line| line.strip_prefix("# "))
                .filter_map(|line| line.strip_prefix(key)?.strip_prefix(": "))
                .any(|value| !value.trim().is_empty());
            assert!(named, "{file}: {key}");
        }
    }
}
