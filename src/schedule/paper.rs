//! What a list is before it is bytes: a table for machines, and a sheet for the bench.
//!
//! A table has one plain value a cell and units in its column names. A sheet has what a hand and an eye need:
//! blocks, tick boxes, two lines in a cell, blanks to fill in. Both are made from the same typed rows.

use crate::units::decimal;

/// A value of a table.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Cell {
    /// Text as it stands in the netlist or in a fixed vocabulary.
    Text(String),
    /// A number with its decimals; the column's name says its unit.
    Number(String),
    /// Not given, or does not apply.
    Empty,
}

impl Cell {
    /// A text; an empty one is an empty cell.
    #[must_use]
    pub fn text(text: impl Into<String>) -> Self {
        let text = text.into();
        if text.is_empty() {
            Self::Empty
        } else {
            Self::Text(text)
        }
    }

    /// A number with a fixed count of decimals.
    #[must_use]
    pub fn number(value: f64, places: usize) -> Self {
        Self::Number(decimal(value, places))
    }

    /// A number, or an empty cell where it is not given.
    #[must_use]
    pub fn maybe(value: Option<f64>, places: usize) -> Self {
        value.map_or(Self::Empty, |value| Self::number(value, places))
    }

    /// A whole number.
    #[must_use]
    pub fn count(value: usize) -> Self {
        Self::Number(value.to_string())
    }
}

/// A schedule for machines: one record a row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Table {
    /// File name without its ending: `cut-list`.
    pub stem: &'static str,
    /// Column names with their unit: `cut_length_mm`.
    pub columns: &'static [&'static str],
    /// Rows, each as long as the columns.
    pub rows: Vec<Vec<Cell>>,
}

/// How a sheet lies on its paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Orientation {
    /// The long side upright.
    Upright,
    /// The long side across.
    Across,
}

/// What a column of a sheet holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ColumnKind {
    /// A box to tick.
    Tick,
    /// Text, set left.
    Text,
    /// Figures, set right.
    Figure,
}

/// A column of a sheet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Column {
    /// Heading.
    pub heading: &'static str,
    /// Width in mm, as a share of the width of all columns.
    pub width_mm: f64,
    /// What it holds.
    pub kind: ColumnKind,
}

impl Column {
    /// A column of boxes to tick.
    #[must_use]
    pub const fn tick(heading: &'static str) -> Self {
        Self {
            heading,
            width_mm: 12.0,
            kind: ColumnKind::Tick,
        }
    }

    /// A column of text.
    #[must_use]
    pub const fn text(heading: &'static str, width_mm: f64) -> Self {
        Self {
            heading,
            width_mm,
            kind: ColumnKind::Text,
        }
    }

    /// A column of figures.
    #[must_use]
    pub const fn figure(heading: &'static str, width_mm: f64) -> Self {
        Self {
            heading,
            width_mm,
            kind: ColumnKind::Figure,
        }
    }
}

/// A cell of a sheet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Field {
    /// A box to tick.
    Tick,
    /// One line.
    Text(String),
    /// One line in heavy type: the figure that the hand works to.
    Strong(String),
    /// Several lines, one for each end of a wire.
    Lines(Vec<String>),
    /// A blank to fill in by hand, with a word that says why it is blank.
    Blank(String),
}

impl Field {
    /// One line of text.
    #[must_use]
    pub fn text(text: impl Into<String>) -> Self {
        Self::Text(text.into())
    }
}

/// Rows that belong together, with their heading and their totals.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Block {
    /// Heading; empty for none.
    pub title: String,
    /// Words after the heading.
    pub detail: String,
    /// Rows, each as long as the columns.
    pub rows: Vec<Vec<Field>>,
    /// Lines under the rows.
    pub totals: Vec<String>,
}

/// A label drawn at its own size.
#[derive(Clone, Debug, PartialEq)]
pub struct Strip {
    /// What it is, beside the label and not on it.
    pub caption: String,
    /// Its lines.
    pub lines: Vec<String>,
    /// Length in mm.
    pub length_mm: f64,
}

/// A list for the bench.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// File name without its ending.
    pub stem: &'static str,
    /// Title.
    pub title: &'static str,
    /// How it lies on the paper.
    pub orientation: Orientation,
    /// How to read it, before the rows.
    pub remarks: Vec<String>,
    /// Columns.
    pub columns: Vec<Column>,
    /// Blocks of rows.
    pub blocks: Vec<Block>,
    /// Labels at their own size, after the rows.
    pub strips: Vec<Strip>,
    /// Cautions that concern the work of this sheet.
    pub cautions: Vec<&'static str>,
}
