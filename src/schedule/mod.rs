//! The lists of the bench: typed rows made from facts and tables, and the sheets they are printed on.
//!
//! Numbers come from `analysis` and `standards`. Nothing here judges the boat, and nothing here knows a file format.

mod as_built;
mod budget;
mod cautions;
mod connector_chart;
mod continuity;
mod cut_list;
mod ends;
mod findings;
mod fuse_chart;
mod harness;
mod head;
mod inspection;
mod label_stock;
mod labels;
mod loads;
mod margins;
mod materials;
mod paper;
mod power_up;
mod readings;
mod sizes;
mod spool_plan;
#[cfg(test)]
mod tests;
mod truth_table;
mod wallet_card;
mod ways;

pub use as_built::{as_built_sheet, as_built_table};
pub use budget::{bank_table, budget_sheet, budget_table, cranking_table, scenario_table};
pub use cautions::FRONT_CAUTIONS;
pub use connector_chart::{
    Cavity, ConnectorChart, Contact, Face, connector_charts, connector_table,
};
pub use continuity::{MATRIX_ENDS, end_words, nets, switches_words};
pub use cut_list::{Cut, CutList, CutPapers, EndAllowance, LoopKind, Spool, Unmeasured, cut_list};
pub use ends::{End, Fitting, fittings};
pub use findings::{findings_sheet, findings_table};
pub use fuse_chart::{Lid, LidWay, fuse_sheet, fuse_table, lids};
pub use harness::{HarnessParts, HarnessRows, HarnessWire, Segment, harness_bill, left_out_words};
pub use head::{DEFERENCE, Fingerprint, Head, length_style};
pub use inspection::{inspection_sheet, inspection_titles};
pub use label_stock::{Code, EDGE_MM, LINE, Printing, label_stocks};
pub use labels::{Label, Shortener, label_sheet, label_table, labels, printer_table};
pub use loads::{load_sheet, load_table};
pub use margins::{current_table, margin_sheet, margin_table};
pub use materials::{Material, Quantity, material_sheet, material_table, materials};
pub use paper::{Block, Cell, Column, ColumnKind, Field, Orientation, Sheet, Strip, Table};
pub use power_up::{fault_sheet, power_up_sheet, power_up_table};
pub use readings::{judgement_words, readings_form};
pub use sizes::{has_choices, size_sheet, size_table};
pub use spool_plan::{
    Piece, PieceKind, SpoolPlan, cut_name, piece_words, plan_sheet, plan_table, spool_plans,
};
pub use truth_table::{promise_table, truth_sheet, truth_table};
pub use wallet_card::{WalletCard, wallet_card};
pub use ways::{has_ways, way_sheet, way_table};

use crate::analysis::Facts;
use crate::analysis::margins::Margins;
use crate::analysis::readings::Plan;
use crate::analysis::truth::Truth;
use crate::diag::Diagnostic;
use crate::source::LineIndex;
use crate::system::System;

/// What all lists of a boat are made from, worked out once.
///
/// Tables and sheets are made from it apart, so that they can be made side by side.
#[derive(Debug)]
pub struct Rows<'f> {
    facts: &'f Facts<'f>,
    findings: &'f [Diagnostic],
    lines: &'f LineIndex<'f>,
    labels: Vec<Label>,
    cuts: CutList,
    plans: Vec<SpoolPlan>,
    fittings: Vec<[Fitting; 2]>,
    bill: Vec<Material>,
    plan: Plan,
    truth: Truth,
    charts: Vec<ConnectorChart>,
    harnesses: HarnessRows,
    margins: Margins,
}

impl<'f> Rows<'f> {
    /// Works out the rows of a boat, with the findings that its netlist has.
    #[must_use]
    pub fn new(facts: &'f Facts<'f>, findings: &'f [Diagnostic], lines: &'f LineIndex<'f>) -> Self {
        let system = facts.system;
        let fittings = fittings(system);
        let labels = labels(system, &fittings);
        let cuts = cut_list(system);
        let plans = spool_plans(system, &cuts);
        let harnesses = HarnessRows::new(system, &cuts, &fittings);
        let bill = materials(facts, &cuts, &plans, &labels, &fittings);
        Self {
            facts,
            findings,
            lines,
            bill,
            labels,
            plans,
            cuts,
            fittings,
            plan: Plan::new(system, &facts.poles, &facts.feeds),
            truth: Truth::new(system, &facts.nets, &facts.isolation),
            charts: connector_charts(facts),
            harnesses,
            margins: Margins::new(facts),
        }
    }

    /// The boat.
    #[must_use]
    pub fn system(&self) -> &'f System {
        self.facts.system
    }

    /// The facts that the lists are made from.
    #[must_use]
    pub fn facts(&self) -> &'f Facts<'f> {
        self.facts
    }

    /// What is cut, spool by spool.
    #[must_use]
    pub fn cuts(&self) -> &CutList {
        &self.cuts
    }

    /// What it is cut from.
    #[must_use]
    pub fn plans(&self) -> &[SpoolPlan] {
        &self.plans
    }

    /// The labels, in the order the ends are terminated in.
    #[must_use]
    pub fn labels(&self) -> &[Label] {
        &self.labels
    }

    /// What is fitted to both ends of each conductor.
    #[must_use]
    pub fn fittings(&self) -> &[[Fitting; 2]] {
        &self.fittings
    }

    /// The bill of materials.
    #[must_use]
    pub fn bill(&self) -> &[Material] {
        &self.bill
    }

    fn cutting(&self) -> CutPapers<'_> {
        CutPapers::new(
            self.facts.system,
            &self.cuts,
            &self.plans,
            &self.labels,
            &self.fittings,
        )
    }

    /// Tables for machines, in the order of their sheets.
    #[must_use]
    pub fn tables(&self) -> Vec<Table> {
        let facts = self.facts;
        let mut tables = vec![
            findings_table(self.findings, self.lines),
            self.cutting().table(),
            plan_table(facts.system, &self.cuts, &self.plans),
            label_table(facts.system, &self.labels),
            printer_table(facts.system, &self.labels),
            fuse_table(facts),
            load_table(facts),
            budget_table(facts),
            bank_table(facts),
            material_table(&self.bill),
            power_up_table(facts.system, &self.plan),
            truth_table(facts.system, &self.truth),
            promise_table(facts.system, &self.truth),
            margin_table(facts, &self.margins),
            current_table(facts),
        ];
        if !facts.system.scenarios.is_empty() {
            tables.push(scenario_table(facts));
        }
        if facts
            .energy
            .cranking
            .iter()
            .any(|cranking| !cranking.dips.is_empty())
        {
            tables.push(cranking_table(facts));
        }
        if has_ways(facts.system) {
            tables.push(way_table(facts));
        }
        tables.push(as_built_table(self));
        if has_choices(facts.system) {
            tables.push(size_table(facts.system));
        }
        if !self.charts.is_empty() {
            tables.push(connector_table(&self.charts));
        }
        if !self.harnesses.is_empty() {
            tables.push(self.harnesses.table(facts.system));
            tables.push(self.harnesses.continuity_table(facts.system));
        }
        tables
    }

    /// Charts of the connectors.
    #[must_use]
    pub fn charts(&self) -> &[ConnectorChart] {
        &self.charts
    }

    /// Harnesses with their lists.
    #[must_use]
    pub fn harnesses(&self) -> &HarnessRows {
        &self.harnesses
    }

    /// Sheets for the bench, in the order they are used in.
    #[must_use]
    pub fn sheets(&self) -> Vec<Sheet> {
        let facts = self.facts;
        let system = facts.system;
        let cutting = self.cutting();
        let mut sheets = vec![
            findings_sheet(self.facts.system, self.findings, self.lines),
            cutting.sheet(),
            cutting.sheet_by_bundle(),
            plan_sheet(system, &self.cuts, &self.plans),
            label_sheet(system, &self.labels),
            fuse_sheet(facts),
            load_sheet(facts),
            budget_sheet(facts),
            material_sheet(system, &self.cuts, &self.bill),
            power_up_sheet(system, &self.plan),
            fault_sheet(system, &self.plan),
            inspection_sheet(length_style(system)),
            truth_sheet(system, &self.truth, &facts.live),
            margin_sheet(facts, &self.margins),
        ];
        if has_ways(system) {
            sheets.push(way_sheet(facts));
        }
        if has_choices(system) {
            sheets.push(size_sheet(system));
        }
        sheets.push(as_built_sheet(self));
        sheets
    }
}
