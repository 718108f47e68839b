//! DP: what happens in a fault and at a failure: shorts, starting and held motors, one opening, a battery cut off.
//!
//! Ids run from DP801 on. Many limits here are estimates or common practice; the messages say which.

mod interrupting_rating;

use super::Rule;
use crate::analysis::fault_current::Certainty;
use crate::diag::Diagnostic;
use crate::standards::{Basis, FuseForm};
use crate::system::Device;
use crate::units::Amps;

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[&interrupting_rating::RULE];

/// The form of a device, where it is one that the tables know.
fn form(device: &Device) -> Option<FuseForm> {
    device.form.as_ref()?.value.parse().ok()
}

/// A largest fault current as it is told: three figures, rounded up.
fn about(current: Amps) -> String {
    let step = 10f64.powf(current.0.max(1.0).log10().floor() - 2.0);
    format!("{:.0} A", (current.0 / step).ceil() * step)
}

/// How sure a fault current is, in brackets behind it.
fn certainty_words(certainty: Certainty) -> &'static str {
    match certainty {
        Certainty::Stated => "",
        Certainty::Estimated(_) => " (estimated)",
        Certainty::Supposed(_) => " (supposed for a lead-acid battery, as nothing is given)",
    }
}

/// Adds authorities that a finding does not name yet.
fn also_on(finding: Diagnostic, basis: impl IntoIterator<Item = Basis>) -> Diagnostic {
    let mut finding = finding;
    for basis in basis {
        if !finding.basis.contains(&basis) {
            finding.basis.push(basis);
        }
    }
    finding
}
