//! Branches: what conductors, contacts and connectors make one stretch of circuit between overcurrent devices.
//!
//! Everything on one branch goes dead with the devices that feed it, whatever the switches stand at.

use super::states::{conducts, ends};
use crate::system::{DeviceId, LinkId, LinkKind, NodeId, System};
use petgraph::unionfind::UnionFind;
use std::collections::BTreeMap;

/// The branches of the boat.
#[derive(Clone, Debug)]
pub struct Branches {
    branch: Vec<u32>,
    /// By branch: devices whose load side lies on it, in file order.
    fed: Vec<Vec<DeviceId>>,
    /// By branch: devices whose supply side lies on it, in file order.
    feeding: Vec<Vec<DeviceId>>,
}

impl Branches {
    /// Finds all branches.
    #[must_use]
    pub fn new(system: &System) -> Self {
        let mut merged = UnionFind::<u32>::new(system.nodes.len());
        for (index, link) in system.links.iter().enumerate() {
            let id = LinkId::at(index);
            if conducts(system, id) && !matches!(link.kind, LinkKind::Device(_)) {
                let (a, b) = ends(system, id);
                merged.union(a.0, b.0);
            }
        }
        let mut numbers: BTreeMap<u32, u32> = BTreeMap::new();
        let mut branch = Vec::with_capacity(system.nodes.len());
        for node in 0..system.nodes.len() {
            let count = u32::try_from(numbers.len()).unwrap_or(u32::MAX);
            let root = merged.find(NodeId::at(node).0);
            branch.push(*numbers.entry(root).or_insert(count));
        }
        let mut found = Self {
            fed: vec![Vec::new(); numbers.len()],
            feeding: vec![Vec::new(); numbers.len()],
            branch,
        };
        for (index, device) in system.devices.iter().enumerate() {
            let (a, b) = ends(system, device.link);
            let (a, b) = (found.of(a), found.of(b));
            if !device.spare && a != b {
                found.feeding[a as usize].push(DeviceId::at(index));
                found.fed[b as usize].push(DeviceId::at(index));
            }
        }
        found
    }

    /// The number of the branch of a point.
    #[must_use]
    pub fn of(&self, node: NodeId) -> u32 {
        self.branch[node.index()]
    }

    /// The devices that a branch lies behind, in file order; those at its far side where it lies behind none.
    #[must_use]
    pub fn devices(&self, branch: u32) -> &[DeviceId] {
        let fed = &self.fed[branch as usize];
        if fed.is_empty() {
            &self.feeding[branch as usize]
        } else {
            fed
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::testing::Build;
    use crate::system::{GearKind, SourceKind};

    #[test]
    fn a_branch_ends_at_a_device_and_passes_a_switch() {
        let mut build = Build::new();
        build.source("house", SourceKind::Battery, None);
        build.fuse("fuse", 10.0);
        build.switch(
            "float",
            GearKind::Float,
            &["off", "on"],
            &[("in", "out", &[1])],
        );
        build.load("pump", Some(3.0));
        build.load("alarm", Some(0.1));
        build.load("lamp", Some(1.0));
        build.wire("A", ("house.+", "fuse.in"), "14 AWG", 1.0);
        build.wire("B", ("fuse.out", "float.in"), "14 AWG", 1.0);
        build.wire("C", ("float.out", "pump.+"), "14 AWG", 1.0);
        build.wire("D", ("fuse.out", "alarm.+"), "14 AWG", 1.0);
        build.wire("E", ("house.+", "lamp.+"), "14 AWG", 1.0);
        let system = build.finish();
        let branches = Branches::new(&system);
        let of = |load: usize| branches.of(ends(&system, system.loads[load].link).0);
        assert_eq!(of(0), of(1));
        assert_ne!(of(0), of(2));
        assert_eq!(branches.devices(of(0)), [DeviceId(0)]);
        // The lamp lies before the fuse; what stands at its far side is the only device there.
        assert_eq!(branches.devices(of(2)), [DeviceId(0)]);
    }
}
