//! The checks: each reads facts and tells findings; one file a rule, one folder a family.
//!
//! A rule computes nothing that another reader may need; that belongs in `analysis`.

mod acceptance;
pub mod ampacity;
pub mod depth;
pub mod drop;
pub mod energy;
pub mod isolation;
pub mod live;
pub mod overcurrent;
pub mod places;
pub mod returns;
mod sizing;
pub(crate) mod telling;
pub mod ways;

pub use acceptance::{ACCEPTS_NOTHING, accept};

use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::standards::Basis;

/// One check.
pub struct Rule {
    /// Permanent id: two letters for the family and a number.
    pub id: &'static str,
    /// The defect's name in kebab case, never the fix.
    pub name: &'static str,
    /// One line for lists.
    pub title: &'static str,
    /// Severity of its findings, where the finding itself does not say otherwise.
    pub severity: Severity,
    /// Authorities.
    pub basis: &'static [Basis],
    /// What is checked, with the limit and its exceptions, and why it matters.
    pub checks: &'static str,
    /// Smallest netlist that breaks it.
    pub fails: &'static str,
    /// The same netlist, put right.
    pub passes: &'static str,
    /// The usual repair.
    pub fix: &'static str,
    /// Adds its findings.
    pub check: fn(&Rule, &Facts<'_>, &mut Vec<Diagnostic>),
}

impl Rule {
    /// A finding of this rule at its usual severity, with the rule's authorities.
    #[must_use]
    pub fn finding(&self, element: impl Into<String>, message: impl Into<String>) -> Diagnostic {
        Diagnostic::new(self.id, self.name, self.severity, element, message)
            .on_basis(self.basis.iter().copied())
    }

    /// The same, told as not proved because a value is missing.
    #[must_use]
    pub fn not_proved(&self, element: impl Into<String>, message: impl Into<String>) -> Diagnostic {
        let mut finding = self.finding(element, message);
        finding.severity = Severity::NotProved;
        finding
    }
}

/// All rules, family by family, in id order within each.
#[must_use]
pub fn all() -> Vec<&'static Rule> {
    [
        overcurrent::RULES,
        ampacity::RULES,
        drop::RULES,
        isolation::RULES,
        live::RULES,
        returns::RULES,
        places::RULES,
        ways::RULES,
        depth::RULES,
        energy::RULES,
        sizing::RULES,
    ]
    .concat()
}

/// Runs every rule and puts the findings in order.
#[must_use]
pub fn run(facts: &Facts<'_>) -> Vec<Diagnostic> {
    let mut findings = Vec::new();
    for rule in all() {
        (rule.check)(rule, facts, &mut findings);
    }
    crate::diag::sort(&mut findings);
    findings
}
