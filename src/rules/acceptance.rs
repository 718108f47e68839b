//! Findings that the owner accepts: they stay in the list as notes, with the reason.
//!
//! A note may be accepted too: it weighs nothing, but whoever reads the list learns why it stands there.
//! Faults of the file itself cannot be accepted, because a file that says something else proves nothing.

use crate::diag::{Diagnostic, Severity};
use crate::source::Fault;
use crate::system::{Acceptance, System};
use std::collections::BTreeMap;

/// An acceptance that meets no finding: the boat has changed, or a name is wrong.
pub const ACCEPTS_NOTHING: Fault = Fault {
    id: "NF100",
    name: "accepts-nothing",
    title: "An acceptance meets no finding",
};

/// Turns the accepted findings into notes and returns how many there are.
///
/// An acceptance names a rule by id or name, and the element. One that meets no finding is told as a warning,
/// so that a list of acceptances cannot outlive what it was written for.
pub fn accept(system: &System, findings: &mut Vec<Diagnostic>) -> usize {
    if system.acceptances.is_empty() {
        return 0;
    }
    let mut by_element: BTreeMap<&str, Vec<(usize, &Acceptance)>> = BTreeMap::new();
    for (index, acceptance) in system.acceptances.iter().enumerate() {
        by_element
            .entry(&acceptance.element)
            .or_default()
            .push((index, acceptance));
    }
    let mut used = vec![false; system.acceptances.len()];
    let mut accepted = 0;
    for finding in findings.iter_mut() {
        let met = by_element
            .get(finding.element.as_str())
            .into_iter()
            .flatten()
            .filter(|(_, acceptance)| names_rule(&acceptance.rule, finding));
        let mut reason = None;
        for &(index, acceptance) in met {
            used[index] = true;
            reason.get_or_insert(&acceptance.reason);
        }
        if let Some(reason) = reason {
            finding.message = format!(
                "accepted: {reason} ({}: {})",
                finding.severity.word(),
                finding.message
            );
            finding.severity = Severity::Note;
            accepted += 1;
        }
    }
    for (acceptance, used) in system.acceptances.iter().zip(used) {
        if !used {
            findings.push(left_over(acceptance));
        }
    }
    accepted
}

fn names_rule(rule: &str, finding: &Diagnostic) -> bool {
    rule.eq_ignore_ascii_case(finding.rule) || rule.eq_ignore_ascii_case(finding.name)
}

fn left_over(acceptance: &Acceptance) -> Diagnostic {
    let Acceptance {
        rule,
        element,
        span,
        ..
    } = acceptance;
    Diagnostic::new(
        ACCEPTS_NOTHING.id,
        ACCEPTS_NOTHING.name,
        Severity::Warning,
        element.clone(),
        format!("the acceptance of {rule} for {element} meets no finding"),
    )
    .label(*span, "meets no finding")
    .repair("take the acceptance out, or correct the rule or the element it names")
}
