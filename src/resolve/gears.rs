//! What kind of switch a switch is, where the file does not say, and where each one normally stands.

use super::Resolver;
use crate::system::{
    ComponentKind, Gear, GearKind, LinkId, LinkKind, LoadKind, NodeId, Polarity, SourceKind, System,
};

/// Nodes that conductors, single devices and joints make one place, with what lies there.
struct Places {
    parent: Vec<u32>,
    /// A battery positive lies there.
    battery: Vec<bool>,
    /// A block feed, a positive bus or a cranking motor lies there.
    supplied: Vec<bool>,
}

impl Places {
    fn of(system: &System) -> Self {
        let count = u32::try_from(system.nodes.len()).unwrap_or(u32::MAX);
        let mut places = Self {
            parent: (0..count).collect(),
            battery: vec![false; system.nodes.len()],
            supplied: vec![false; system.nodes.len()],
        };
        for link in &system.links {
            let joins = match link.kind {
                LinkKind::Conductor(_) | LinkKind::Joint => true,
                LinkKind::Device(device) => {
                    let component = system.devices[device.index()].component;
                    let kind = system.components[component.index()].kind;
                    matches!(kind, ComponentKind::Fuse | ComponentKind::Breaker)
                }
                _ => false,
            };
            if joins {
                places.join(system.node_of(link.a), system.node_of(link.b));
            }
        }
        for source in &system.sources {
            if source.kind == SourceKind::Battery {
                let positive = system.links[source.link.index()].a;
                let place = places.find(system.node_of(positive));
                places.battery[place] = true;
            }
        }
        for component in &system.components {
            let supplied = match component.kind {
                ComponentKind::FuseBlock => true,
                ComponentKind::Bus => component.polarity == Some(Polarity::Positive),
                _ => false,
            };
            if let Some(&first) = component.terminals.first().filter(|_| supplied) {
                let place = places.find(system.node_of(first));
                places.supplied[place] = true;
            }
        }
        for load in &system.loads {
            if load.kind == LoadKind::Starter {
                let positive = system.links[load.link.index()].a;
                let place = places.find(system.node_of(positive));
                places.supplied[place] = true;
            }
        }
        places
    }

    fn find(&mut self, node: NodeId) -> usize {
        let mut at = node.index();
        while self.parent[at] as usize != at {
            let above = self.parent[at] as usize;
            self.parent[at] = self.parent[above];
            at = above;
        }
        at
    }

    fn join(&mut self, a: NodeId, b: NodeId) {
        let (a, b) = (self.find(a), self.find(b));
        let (low, high) = (a.min(b), a.max(b));
        self.parent[high] = NodeId::at(low).0;
    }
}

impl Resolver<'_> {
    /// Finds battery switches that are not called so, and sets the normal positions.
    pub(super) fn gears(&mut self) {
        if self.system.gears.iter().any(|gear| !gear.kind_given) {
            let isolating = self.isolating();
            for (gear, isolating) in self.system.gears.iter_mut().zip(isolating) {
                if isolating && !gear.kind_given {
                    gear.kind = GearKind::BatterySwitch;
                }
            }
        }
        self.names.contacts = vec![Vec::new(); self.system.gears.len()];
        for (index, link) in self.system.links.iter().enumerate() {
            if let LinkKind::Contact { gear, .. } = link.kind {
                self.names.contacts[gear.index()].push(LinkId::at(index));
            }
        }
        for (gear, given) in self.system.gears.iter_mut().zip(&self.names.normal_given) {
            if !given {
                gear.normal = normal(gear);
            }
        }
    }

    /// Whether each gear has a contact between a battery and what the battery supplies.
    fn isolating(&self) -> Vec<bool> {
        let system = &self.system;
        let mut places = Places::of(system);
        let mut isolating = vec![false; system.gears.len()];
        for link in &system.links {
            let LinkKind::Contact { gear, .. } = link.kind else {
                continue;
            };
            let a = places.find(system.node_of(link.a));
            let b = places.find(system.node_of(link.b));
            let across = |from: usize, to: usize| {
                places.battery[from] && (places.supplied[to] || places.battery[to])
            };
            isolating[gear.index()] |= a != b && (across(a, b) || across(b, a));
        }
        isolating
    }
}

/// The position a gear stands in when nothing is said of it.
///
/// A boat is used with its battery switches on, and with everything else off until somebody wants it.
fn normal(gear: &Gear) -> u16 {
    let positions = || (0u16..).zip(&gear.positions);
    if gear.kind == GearKind::BatterySwitch {
        let in_use = positions().find(|(index, position)| {
            Some(*index) != gear.off && !position.joins_banks && !position.emergency
        });
        let any = positions().find(|(index, _)| Some(*index) != gear.off);
        return in_use.or(any).map_or(0, |(index, _)| index);
    }
    let called_off = positions().find(|(_, position)| position.name.eq_ignore_ascii_case("off"));
    called_off.map_or(0, |(index, _)| index)
}
