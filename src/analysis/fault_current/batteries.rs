//! One battery behind its resistance, once for the largest current and once for the smallest.

use crate::standards::{self, Basis, Chemistry};
use crate::system::{Source, SourceKind, System};
use crate::units::{Amps, Ohms, Volts};

/// How sure a fault current is, surest first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Certainty {
    /// The file states the short-circuit current or the resistance.
    Stated,
    /// Estimated from the cranking current or from the chemistry.
    Estimated(Basis),
    /// The file says nothing to estimate it from; a lead-acid block is supposed.
    Supposed(Basis),
}

impl Certainty {
    /// The less sure of two.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        if other.rank() > self.rank() {
            other
        } else {
            self
        }
    }

    fn rank(self) -> u8 {
        match self {
            Self::Stated => 0,
            Self::Estimated(_) => 1,
            Self::Supposed(_) => 2,
        }
    }
}

/// One battery as a source of fault current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BatteryFault {
    /// Voltage of the full battery at rest.
    pub full: Volts,
    /// Resistance that it has at least.
    pub least: Ohms,
    /// Resistance for the smallest current.
    pub typical: Ohms,
    /// How sure the least resistance is.
    pub certainty: Certainty,
}

impl BatteryFault {
    /// Current into a short at the posts.
    #[must_use]
    pub fn at_posts(&self) -> Amps {
        self.full / self.least
    }
}

/// Every battery by source id.
pub(super) fn all(system: &System) -> Vec<Option<BatteryFault>> {
    system
        .sources
        .iter()
        .map(|source| (source.kind == SourceKind::Battery).then(|| of(source)))
        .collect()
}

fn of(source: &Source) -> BatteryFault {
    let nominal = source.nominal.value;
    let chemistry = source.chemistry.map(|given| given.value);
    let lead = chemistry.unwrap_or(Chemistry::Flooded);
    let full = standards::rest_voltage(lead, nominal, 100.0).map_or(nominal, |(volts, _)| volts);
    let stated = |ohms: Ohms| BatteryFault {
        full,
        least: ohms,
        typical: ohms,
        certainty: Certainty::Stated,
    };
    // The maker's short-circuit current comes before a resistance that may be measured with a hand instrument.
    if let Some(current) = source.short_circuit.filter(|given| given.value.0 > 0.0) {
        return stated(full / current.value);
    }
    if let Some(resistance) = source.resistance.filter(|given| given.value.0 > 0.0) {
        return stated(resistance.value);
    }
    let capacity = source.capacity.map(|given| given.value);
    let cranking = source.cranking.map(|given| given.value);
    let known = chemistry.is_some() || cranking.is_some_and(|current| current.0 > 0.0);
    let estimate = standards::internal_resistance(lead, nominal, capacity, cranking);
    let mut least = estimate.least;
    if chemistry == Some(Chemistry::LithiumIronPhosphate) {
        // Its cranking current is a limit of the management, which is no limit of the fault current.
        let cells = standards::internal_resistance(lead, nominal, capacity, None);
        least = least.min(cells.least);
    }
    BatteryFault {
        full,
        least,
        typical: estimate.typical,
        certainty: if known {
            Certainty::Estimated(estimate.basis)
        } else {
            Certainty::Supposed(estimate.basis)
        },
    }
}
