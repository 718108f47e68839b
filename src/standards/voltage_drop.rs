//! Greatest voltage drop by kind of circuit.

use super::citations::BY_ROW_MEMORY;
use super::table::{Shipped, table};
use super::{Basis, Practice, RuleSet};
use std::sync::LazyLock;

table!(DROP_LIMITS, "drop_limits.csv", BY_ROW_MEMORY);

/// Kinds of circuits that published drop limits tell apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DropCircuit {
    /// Main feeder of a panel.
    PanelFeeder,
    /// Bilge blower.
    BilgeBlower,
    /// Bilge pump.
    BilgePump,
    /// Electronic equipment.
    Electronics,
    /// Navigation lights.
    NavigationLights,
    /// Anything else that safety depends on.
    Vital,
    /// All other circuits.
    Other,
}

impl DropCircuit {
    fn key(self) -> &'static str {
        match self {
            Self::PanelFeeder => "panel-feeder",
            Self::BilgeBlower => "bilge-blower",
            Self::BilgePump => "bilge-pump",
            Self::Electronics => "electronics",
            Self::NavigationLights => "navigation-lights",
            Self::Vital => "vital",
            Self::Other => "other",
        }
    }
}

/// The strictest drop limit published for a kind of circuit on pleasure craft, in percent.
///
/// ABYC E-11 and ISO 10133 differ on bilge pumps and each names circuits that the other does not,
/// so the stricter of the two holds in both profiles. Where they agree the profile's own is cited.
#[must_use]
pub fn drop_limit(practice: Practice, circuit: DropCircuit) -> (f64, Basis) {
    let own = RuleSet::beside(practice);
    LIMITS
        .iter()
        .filter(|limit| limit.circuit == circuit.key())
        .filter(|limit| matches!(limit.rule_set, RuleSet::Abyc | RuleSet::Iso))
        .min_by(|a, b| {
            a.percent
                .total_cmp(&b.percent)
                .then((a.rule_set != own).cmp(&(b.rule_set != own)))
        })
        .map(|limit| (limit.percent, limit.basis))
        .shipped()
}

struct Limit {
    rule_set: RuleSet,
    circuit: &'static str,
    percent: f64,
    basis: Basis,
}

static LIMITS: LazyLock<Vec<Limit>> = LazyLock::new(|| {
    DROP_LIMITS
        .rows()
        .iter()
        .filter_map(|row| {
            Some(Limit {
                rule_set: RuleSet::of_publication(row.text("publication"))?,
                circuit: row.text("circuit"),
                percent: row.value("max_percent"),
                basis: row.basis(),
            })
        })
        .collect()
});

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "figures of tables are compared exactly")]
mod tests {
    use super::*;
    use crate::standards::Confidence;

    #[test]
    fn every_kind_of_circuit_has_a_limit() {
        use DropCircuit as Circuit;
        for practice in [Practice::Us, Practice::Metric] {
            for circuit in [
                Circuit::PanelFeeder,
                Circuit::BilgeBlower,
                Circuit::BilgePump,
                Circuit::Electronics,
                Circuit::NavigationLights,
                Circuit::Vital,
            ] {
                assert_eq!(drop_limit(practice, circuit).0, 3.0, "{circuit:?}");
            }
            assert_eq!(drop_limit(practice, Circuit::Other).0, 10.0);
        }
        assert_eq!(
            drop_limit(Practice::Us, Circuit::BilgePump).1.publication,
            "ISO 10133"
        );
        assert_eq!(
            drop_limit(Practice::Us, Circuit::BilgeBlower).1.publication,
            "ABYC E-11"
        );
        let (_, other) = drop_limit(Practice::Metric, Circuit::Other);
        assert_eq!(
            (other.publication, other.confidence),
            ("ISO 10133", Confidence::Memory)
        );
    }
}
