//! SZ: what the file leaves to be chosen and has no choice that passes, and settled values that would move.
//!
//! Ids run from SZ101 on. What was chosen, and why, stands in the boat; nothing is chosen here.

mod no_rating_serves;
mod no_size_serves;
mod settled_value_moves;

use super::Rule;
use crate::diag::Diagnostic;
use crate::system::Conflict;

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[
    &no_size_serves::RULE,
    &no_rating_serves::RULE,
    &settled_value_moves::RULE,
];

/// A conflict as a finding, with the authorities of the rules that collide.
fn told(rule: &Rule, conflict: &Conflict) -> Diagnostic {
    let collide = match conflict.rules.as_slice() {
        [] | [_] => String::new(),
        rules => format!(" ({} collide)", super::telling::listed(rules)),
    };
    let mut finding = rule
        .finding(&conflict.element, format!("{}{collide}", conflict.message))
        .and_also(conflict.also.iter().map(String::as_str))
        .label(conflict.span, "no value on sale serves here")
        .label(conflict.other, "the other limit")
        .repair(conflict.help.clone());
    for id in &conflict.rules {
        let of_rule = super::all().into_iter().find(|rule| rule.id == *id);
        for basis in of_rule.into_iter().flat_map(|rule| rule.basis) {
            if !finding.basis.contains(basis) {
                finding.basis.push(*basis);
            }
        }
    }
    finding
}
