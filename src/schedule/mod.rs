//! The lists of the bench: typed rows made from facts and tables, and the sheets they are printed on.
//!
//! Numbers come from `analysis` and `standards`. Nothing here judges the boat, and nothing here knows a file format.

mod cautions;
mod cut_list;
mod ends;
mod head;
mod labels;
mod paper;

pub use cut_list::{Cut, CutList, CutPapers, EndAllowance, Spool, Unmeasured, cut_list};
pub use ends::{End, Fitting};
pub use head::{DEFERENCE, Fingerprint, Head, length_style};
pub use labels::{Label, label_sheet, label_table, labels};
pub use paper::{Block, Cell, Column, ColumnKind, Field, Orientation, Sheet, Strip, Table};

use crate::analysis::Facts;

/// Every list of a boat: tables for machines, sheets for the bench.
#[derive(Clone, Debug)]
pub struct Lists {
    /// Tables, in the order of their sheets.
    pub tables: Vec<Table>,
    /// Sheets, in the order they are used in.
    pub sheets: Vec<Sheet>,
}

/// Makes every list of a boat.
#[must_use]
pub fn lists(facts: &Facts<'_>) -> Lists {
    let system = facts.system;
    let labels = labels(system);
    let cuts = cut_list(system);
    let cutting = CutPapers::new(system, &cuts, &labels);
    Lists {
        tables: vec![cutting.table(), label_table(system, &labels)],
        sheets: vec![
            cutting.sheet(),
            cutting.sheet_by_bundle(),
            label_sheet(system, &labels),
        ],
    }
}
