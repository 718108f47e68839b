//! The drop limit that belongs to a load, and where it comes from.

use crate::standards::{self, Basis, DropCircuit, citations};
use crate::system::{DropClass, Load, Service, System};

/// A drop limit with its class and its authority.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DropLimit {
    /// Greatest share of nominal voltage in per cent.
    pub percent: f64,
    /// A few words for the class: `critical`, `ordinary`, `set for this load`.
    pub class: &'static str,
    /// Where the limit comes from.
    pub basis: Basis,
}

/// The drop limit of a load.
///
/// The published limit is cited where the limit in force is the published one; else the file's own policy.
#[must_use]
pub fn load_limit(system: &System, load: &Load) -> DropLimit {
    let policy = &system.boat.policy;
    let (percent, class) = match load.drop.value {
        DropClass::Critical => (policy.critical_drop_percent, "critical"),
        DropClass::Ordinary => (policy.ordinary_drop_percent, "ordinary"),
        DropClass::Percent(percent) => (percent, "set for this load"),
    };
    let published = standards::drop_limit(system.boat.practice, circuit(load));
    DropLimit {
        percent,
        class,
        basis: cited(percent, published),
    }
}

/// The drop limit of a panel's main feed.
#[must_use]
pub fn panel_limit(system: &System) -> DropLimit {
    let percent = system.boat.policy.critical_drop_percent;
    let published = standards::drop_limit(system.boat.practice, DropCircuit::PanelFeeder);
    DropLimit {
        percent,
        class: "panel feed",
        basis: cited(percent, published),
    }
}

fn cited(percent: f64, (published, basis): (f64, Basis)) -> Basis {
    if percent.total_cmp(&published).is_eq() {
        basis
    } else {
        citations::OWN_LIMIT
    }
}

fn circuit(load: &Load) -> DropCircuit {
    match load.service {
        Service::NavigationLight => DropCircuit::NavigationLights,
        Service::BilgePump => DropCircuit::BilgePump,
        Service::BilgeBlower => DropCircuit::BilgeBlower,
        Service::Electronics => DropCircuit::Electronics,
        Service::Panel => DropCircuit::PanelFeeder,
        Service::Alarm => DropCircuit::Vital,
        Service::Engine | Service::Other if load.vital => DropCircuit::Vital,
        Service::Engine | Service::Other => match load.drop.value {
            DropClass::Critical => DropCircuit::Vital,
            _ => DropCircuit::Other,
        },
    }
}
