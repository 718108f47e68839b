//! The lists of the bench: typed rows made from facts and tables, and the sheets they are printed on.
//!
//! Numbers come from `analysis` and `standards`. Nothing here judges the boat, and nothing here knows a file format.

mod budget;
mod cautions;
mod cut_list;
mod ends;
mod findings;
mod fuse_chart;
mod head;
mod labels;
mod loads;
mod materials;
mod paper;
mod power_up;
mod readings;
#[cfg(test)]
mod tests;
mod ways;

pub use budget::{bank_table, budget_sheet, budget_table};
pub use cut_list::{Cut, CutList, CutPapers, EndAllowance, Spool, Unmeasured, cut_list};
pub use ends::{End, Fitting, fittings};
pub use findings::{findings_sheet, findings_table};
pub use fuse_chart::{fuse_sheet, fuse_table};
pub use head::{DEFERENCE, Fingerprint, Head, length_style};
pub use labels::{Label, label_sheet, label_table, labels};
pub use loads::{load_sheet, load_table};
pub use materials::{Material, Quantity, material_sheet, material_table, materials};
pub use paper::{Block, Cell, Column, ColumnKind, Field, Orientation, Sheet, Strip, Table};
pub use power_up::{power_up_sheet, power_up_table};
pub use readings::{judgement_words, readings_form};
pub use ways::{has_ways, way_sheet, way_table};

use crate::analysis::Facts;
use crate::analysis::readings::Plan;
use crate::diag::Diagnostic;
use crate::source::LineIndex;

/// Every list of a boat: tables for machines, sheets for the bench.
#[derive(Clone, Debug)]
pub struct Lists {
    /// Tables, in the order of their sheets.
    pub tables: Vec<Table>,
    /// Sheets, in the order they are used in.
    pub sheets: Vec<Sheet>,
}

/// Makes every list of a boat, with the findings that its netlist has.
#[must_use]
pub fn lists(facts: &Facts<'_>, findings: &[Diagnostic], lines: &LineIndex<'_>) -> Lists {
    let system = facts.system;
    let labels = labels(system);
    let cuts = cut_list(system);
    let fittings = fittings(system);
    let cutting = CutPapers::new(system, &cuts, &labels, &fittings);
    let bill = materials(system, &cuts, &labels, &fittings);
    let plan = Plan::new(system, &facts.poles, &facts.feeds);
    let mut lists = Lists {
        tables: vec![
            findings_table(findings, lines),
            cutting.table(),
            label_table(system, &labels),
            fuse_table(facts),
            load_table(facts),
            budget_table(facts),
            bank_table(facts),
            material_table(&bill),
            power_up_table(system, &plan),
        ],
        sheets: vec![
            findings_sheet(findings, lines),
            cutting.sheet(),
            cutting.sheet_by_bundle(),
            label_sheet(system, &labels),
            fuse_sheet(facts),
            load_sheet(facts),
            budget_sheet(facts),
            material_sheet(system, &cuts, &bill),
            power_up_sheet(system, &plan, length_style(system)),
        ],
    };
    if has_ways(system) {
        lists.tables.push(way_table(facts));
        lists.sheets.push(way_sheet(facts));
    }
    lists
}
