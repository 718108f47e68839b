//! What flows into a short: the largest current that any state can send, and the smallest that a far end still gets.
//!
//! The *largest* decides what a device must be able to interrupt. Batteries stand behind their least resistance,
//! copper is solid and cool, the return has no resistance, and every realisable combination of positions of the parts
//! between batteries is tried. Only batteries count: what a charger or an alternator adds is their rating and small
//! beside it. The *smallest* decides whether a device clears. One battery or string alone feeds it, behind its
//! typical resistance, over one path and one return of conforming cable at the temperature of its insulation.
//! Where a battery states neither its short-circuit current nor its resistance, it is estimated, and said to be.
//! Nothing here judges a device or a conductor.

mod batteries;
mod dense;
mod largest;
mod smallest;

pub use batteries::{BatteryFault, Certainty};
pub use largest::{Prospective, Side};
pub use smallest::{FarEnd, Feed};

use super::poles::Poles;
use crate::system::{ConductorId, DeviceId, LinkId, NodeId, SourceId, System};
use largest::{Largest, Occurring};
use smallest::Smallest;

/// Fault currents of the whole boat.
#[derive(Clone, Debug)]
pub struct FaultCurrents {
    batteries: Vec<Option<BatteryFault>>,
    largest: Largest,
    /// Without positions for emergencies, where the boat has any.
    lasting: Option<Largest>,
    smallest: Smallest,
}

impl FaultCurrents {
    /// Computes them for every node, device and conductor.
    #[must_use]
    pub fn new(system: &System, poles: &Poles) -> Self {
        let batteries = batteries::all(system);
        let largest = |occurring| Largest::new(system, poles, &batteries, occurring);
        let emergency = system
            .gears
            .iter()
            .flat_map(|gear| &gear.positions)
            .any(|position| position.emergency);
        let lasting = emergency.then(|| largest(Occurring::Lasting));
        let largest = largest(Occurring::All);
        let smallest = Smallest::new(system, poles, &batteries);
        Self {
            batteries,
            largest,
            lasting,
            smallest,
        }
    }

    /// What one battery sends into a short at its posts; none for other sources.
    #[must_use]
    pub fn battery(&self, source: SourceId) -> Option<&BatteryFault> {
        self.batteries[source.index()].as_ref()
    }

    /// The largest current into a short between a node and the negative of its batteries.
    ///
    /// None for nodes of the negative, and for those that no battery reaches.
    #[must_use]
    pub fn at(&self, node: NodeId) -> Option<Prospective<'_>> {
        self.largest.at(node)
    }

    /// The largest current that a device has to interrupt, and on which of its sides the short then lies.
    ///
    /// None where no battery can send current through it.
    #[must_use]
    pub fn through(&self, device: DeviceId) -> Option<(Prospective<'_>, Side)> {
        self.largest.through(device)
    }

    /// The same, in combinations without positions for emergencies.
    #[must_use]
    pub fn lasting_through(&self, device: DeviceId) -> Option<(Prospective<'_>, Side)> {
        self.lasting
            .as_ref()
            .unwrap_or(&self.largest)
            .through(device)
    }

    /// Whether the parts between batteries have so many positions, or stand in so large a mesh, that the largest
    /// currents are bounds above the true ones.
    #[must_use]
    pub fn is_bounded(&self) -> bool {
        self.largest.bounded
    }

    /// The smallest currents into a short at the far end of a conductor, one for each device that then protects it.
    #[must_use]
    pub fn far_ends(&self, conductor: ConductorId) -> &[FarEnd] {
        self.smallest.far_ends(conductor)
    }

    /// The single sources that the smallest currents are computed from.
    #[must_use]
    pub fn feeds(&self) -> &[Feed] {
        &self.smallest.feeds
    }

    /// Whether a single source reaches a node.
    #[must_use]
    pub fn reaches(&self, feed: usize, node: NodeId) -> bool {
        self.smallest.reaches(feed, node)
    }

    /// The links on the path from a single source to a node, from the source on.
    #[must_use]
    pub fn path(&self, feed: usize, node: NodeId) -> Vec<LinkId> {
        self.smallest.path(feed, node)
    }

    /// The same, from the node back to the source.
    pub fn path_back(&self, feed: usize, node: NodeId) -> impl Iterator<Item = LinkId> {
        self.smallest.path_back(feed, node)
    }

    /// Whether a single source reaches a node past no combiner and no position that joins banks.
    #[must_use]
    pub fn feeds_apart(&self, feed: usize, node: NodeId) -> bool {
        self.smallest.feeds_apart(feed, node)
    }

    /// The last device on the path from a single source to a node.
    #[must_use]
    pub fn last_device(&self, feed: usize, node: NodeId) -> Option<DeviceId> {
        self.smallest.last_device(feed, node)
    }

    /// How many single sources are left out, because the boat has more than the effort allows.
    #[must_use]
    pub fn unseen_feeds(&self) -> usize {
        self.smallest.unseen
    }

    /// The devices on the path from a single source to a node, nearest to the source first.
    #[must_use]
    pub fn devices_above(&self, feed: usize, node: NodeId) -> Vec<DeviceId> {
        self.smallest.devices_above(feed, node)
    }
}

#[cfg(test)]
mod tests;
