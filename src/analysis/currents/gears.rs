//! Which parts with positions must be tried in which positions, to find the largest currents.
//!
//! Battery switches and combiners decide which bank feeds what: all their combinations are tried.
//! A *gate* has contacts that nothing goes round, with loads only behind it: turning it switches those loads and
//! changes nothing else, so the wiring is solved with it closed and the loads behind it are switched.
//! All other parts lie on loops: two feeds of one pump, a reversing pair, relays between banks.

use crate::system::{GearId, GearKind, LinkId, LinkKind, NodeId, System};

/// How a part with positions is treated.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    /// It has no choice.
    Still,
    /// All combinations with the others of this role are tried.
    Bank,
    /// Its loads are switched; its contacts count as closed.
    Gate,
    /// Its other positions are tried one at a time.
    Loop,
}

/// Roles, positions to start from, and the gates that every node lies behind.
pub(super) struct Gears {
    pub(super) roles: Vec<Role>,
    /// Parts on loops, in file order.
    pub(super) loops: Vec<GearId>,
    /// Position of every gear with everything on: the one that closes most.
    pub(super) base: Vec<u16>,
    /// Positions to try besides the base, one at a time.
    pub(super) varied: Vec<(GearId, u16)>,
    /// By gear: its contacts that some position closes.
    contacts: Vec<Vec<LinkId>>,
    /// By node: the nearest gate towards the sources, a contact link.
    gate_of_node: Vec<Option<LinkId>>,
    /// By link, for gate contacts: the next gate towards the sources.
    next_gate: Vec<Option<LinkId>>,
}

impl Gears {
    pub(super) fn new(system: &System) -> Self {
        let contacts = contacts_by_gear(system);
        let tree = Tree::new(system);
        let roles: Vec<Role> = system
            .gears
            .iter()
            .zip(&contacts)
            .map(|(gear, contacts)| {
                if gear.positions.len() < 2 || contacts.is_empty() {
                    Role::Still
                } else if matches!(gear.kind, GearKind::BatterySwitch | GearKind::Combiner) {
                    Role::Bank
                } else if contacts.iter().all(|link| tree.is_bridge[link.index()]) {
                    Role::Gate
                } else {
                    Role::Loop
                }
            })
            .collect();
        let mut base: Vec<u16> = system.gears.iter().map(|gear| gear.normal).collect();
        for (index, contacts) in contacts.iter().enumerate() {
            if matches!(roles[index], Role::Gate | Role::Loop) {
                base[index] = by_contacts(system, index, contacts)[0];
            }
        }
        let loops = (0..roles.len())
            .filter(|&index| roles[index] == Role::Loop)
            .map(GearId::at)
            .collect();
        let mut gears = Self {
            loops,
            base,
            varied: Vec::new(),
            gate_of_node: vec![None; system.nodes.len()],
            next_gate: vec![None; system.links.len()],
            roles,
            contacts,
        };
        gears.find_gates(system, &tree);
        for (index, contacts) in gears.contacts.iter().enumerate() {
            let interlocked = system
                .interlocks
                .iter()
                .any(|lock| lock.never.iter().any(|(gear, _)| gear.index() == index));
            let needless = gears.roles[index] == Role::Gate
                && !interlocked
                && is_superset(system, gears.base[index], contacts);
            if needless || !matches!(gears.roles[index], Role::Gate | Role::Loop) {
                continue;
            }
            for position in 0..system.gears[index].positions.len() {
                let position = u16::try_from(position).unwrap_or(u16::MAX);
                if position != gears.base[index] {
                    gears.varied.push((GearId::at(index), position));
                }
            }
        }
        let mut base = gears.base.clone();
        gears.settle(system, &mut base, None);
        gears.base = base;
        gears
    }

    /// Moves parts so that no declared interlock is broken; tells whether that worked.
    ///
    /// Battery switches and the held part stay; each other part moves to its next best position.
    pub(super) fn settle(
        &self,
        system: &System,
        positions: &mut [u16],
        held: Option<GearId>,
    ) -> bool {
        for _ in 0..=system.interlocks.len() {
            let Some(broken) = system.interlocks.iter().find(|lock| {
                !lock.never.is_empty()
                    && lock
                        .never
                        .iter()
                        .all(|&(gear, position)| positions[gear.index()] == position)
            }) else {
                return true;
            };
            let movable = broken.never.iter().rev().find(|(gear, _)| {
                Some(*gear) != held && matches!(self.roles[gear.index()], Role::Gate | Role::Loop)
            });
            let Some(&(gear, position)) = movable else {
                return false;
            };
            let contacts = &self.contacts[gear.index()];
            let other = by_contacts(system, gear.index(), contacts)
                .into_iter()
                .find(|&candidate| candidate != position);
            match other {
                Some(other) => positions[gear.index()] = other,
                None => return false,
            }
        }
        false
    }

    /// Whether current can reach a node through every gate on its way, in these positions.
    pub(super) fn open_to(&self, system: &System, positions: &[u16], node: NodeId) -> bool {
        let mut gate = self.gate_of_node[node.index()];
        while let Some(link) = gate {
            if let LinkKind::Contact { gear, closed_in } = &system.links[link.index()].kind
                && !closed_in.contains(&positions[gear.index()])
            {
                return false;
            }
            gate = self.next_gate[link.index()];
        }
        true
    }

    /// Walks the tree down from the sources and notes the gate that each node lies behind.
    fn find_gates(&mut self, system: &System, tree: &Tree) {
        for &(node, parent, link) in &tree.order {
            let above = parent.and_then(|parent| self.gate_of_node[parent]);
            let gate = link.filter(|link| {
                tree.is_bridge[link.index()]
                    && matches!(
                        &system.links[link.index()].kind,
                        LinkKind::Contact { gear, .. } if self.roles[gear.index()] == Role::Gate
                    )
            });
            match gate {
                Some(link) => {
                    self.next_gate[link.index()] = above;
                    self.gate_of_node[node] = Some(link);
                }
                None => self.gate_of_node[node] = above,
            }
        }
    }
}

fn contacts_by_gear(system: &System) -> Vec<Vec<LinkId>> {
    let mut contacts = vec![Vec::new(); system.gears.len()];
    for (index, link) in system.links.iter().enumerate() {
        if let LinkKind::Contact { gear, closed_in } = &link.kind
            && !closed_in.is_empty()
        {
            contacts[gear.index()].push(LinkId::at(index));
        }
    }
    contacts
}

fn closed_in(system: &System, link: LinkId) -> &[u16] {
    match &system.links[link.index()].kind {
        LinkKind::Contact { closed_in, .. } => closed_in,
        _ => &[],
    }
}

/// The position of every part that closes most of its contacts, by gear.
pub(in crate::analysis) fn most_closed(system: &System) -> Vec<u16> {
    contacts_by_gear(system)
        .iter()
        .enumerate()
        .map(|(gear, contacts)| {
            let normal = system.gears[gear].normal;
            by_contacts(system, gear, contacts)
                .first()
                .copied()
                .unwrap_or(normal)
        })
        .collect()
}

/// Positions of a part by how many contacts they close, most first, then in file order.
fn by_contacts(system: &System, gear: usize, contacts: &[LinkId]) -> Vec<u16> {
    let mut positions: Vec<(usize, u16)> = (0..system.gears[gear].positions.len())
        .map(|position| u16::try_from(position).unwrap_or(u16::MAX))
        .map(|position| {
            let closed = contacts
                .iter()
                .filter(|&&link| closed_in(system, link).contains(&position))
                .count();
            (closed, position)
        })
        .collect();
    positions.sort_by_key(|&(closed, position)| (std::cmp::Reverse(closed), position));
    positions
        .into_iter()
        .map(|(_, position)| position)
        .collect()
}

/// Whether a position closes every contact that any position closes.
fn is_superset(system: &System, position: u16, contacts: &[LinkId]) -> bool {
    contacts
        .iter()
        .all(|&link| closed_in(system, link).contains(&position))
}

/// A depth-first tree over everything that can conduct, from all source poles at once, with its bridges.
struct Tree {
    is_bridge: Vec<bool>,
    /// Nodes from the sources outwards: the node, the one before it, and the link between.
    order: Vec<(usize, Option<usize>, Option<LinkId>)>,
}

impl Tree {
    fn new(system: &System) -> Self {
        let nodes = system.nodes.len();
        let mut tree = Self {
            is_bridge: vec![false; system.links.len()],
            order: Vec::with_capacity(nodes),
        };
        // One root stands for all source poles: a link between two of them lies on a loop through it.
        let root = nodes;
        let mut is_pole = vec![false; nodes];
        for source in &system.sources {
            let link = &system.links[source.link.index()];
            for end in [link.a, link.b] {
                is_pole[system.node_of(end).index()] = true;
            }
        }
        let poles: Vec<usize> = (0..nodes).filter(|&node| is_pole[node]).collect();
        let mut entered = vec![0usize; nodes + 1];
        let mut lowest = vec![0usize; nodes + 1];
        let mut clock = 1;
        entered[root] = clock;
        lowest[root] = clock;
        // The node, the link it was entered by, and how many of its ways are done.
        let mut stack: Vec<(usize, Option<LinkId>, usize)> = vec![(root, None, 0)];
        while let Some(&(node, by, done)) = stack.last() {
            let way = if node == root {
                poles.get(done).map(|&pole| (pole, None))
            } else {
                way_out(system, &is_pole, node, done, root)
            };
            let Some((next, link)) = way else {
                stack.pop();
                if let Some(&(parent, _, _)) = stack.last() {
                    lowest[parent] = lowest[parent].min(lowest[node]);
                    if let Some(by) = by
                        && lowest[node] > entered[parent]
                    {
                        tree.is_bridge[by.index()] = true;
                    }
                }
                continue;
            };
            if let Some(top) = stack.last_mut() {
                top.2 += 1;
            }
            let same_way = link.is_some() && link == by;
            if next == usize::MAX || same_way {
                continue;
            }
            if entered[next] == 0 {
                clock += 1;
                entered[next] = clock;
                lowest[next] = clock;
                tree.order
                    .push((next, (node != root).then_some(node), link));
                stack.push((next, link, 0));
            } else {
                lowest[node] = lowest[node].min(entered[next]);
            }
        }
        tree
    }
}

/// The next way out of a node: its links in order, then the root where it is a pole.
///
/// A way that does not conduct leads to `usize::MAX`; after the last there is none.
fn way_out(
    system: &System,
    is_pole: &[bool],
    node: usize,
    done: usize,
    root: usize,
) -> Option<(usize, Option<LinkId>)> {
    let links = &system.nodes[node].links;
    match links.get(done) {
        Some(&link) => {
            let record = &system.links[link.index()];
            let (a, b) = (
                system.node_of(record.a).index(),
                system.node_of(record.b).index(),
            );
            let next = if a == node { b } else { a };
            let conducts = can_conduct(system, link) && next != node;
            Some((if conducts { next } else { usize::MAX }, Some(link)))
        }
        None if done == links.len() && is_pole[node] => Some((root, None)),
        None => None,
    }
}

/// Whether a link can carry current in some position; loads and sources do not count.
pub(super) fn can_conduct(system: &System, link: LinkId) -> bool {
    match &system.links[link.index()].kind {
        LinkKind::Load(_) | LinkKind::Source(_) => false,
        LinkKind::Contact { closed_in, .. } => !closed_in.is_empty(),
        LinkKind::Device(device) => !system.devices[device.index()].spare,
        _ => true,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::testing::Build;
    use crate::system::SourceKind;

    /// Battery switch, then a lamp behind a switch and a pump with a manual and an automatic feed.
    fn pump_boat() -> System {
        let mut build = Build::new();
        build.source("house", SourceKind::Battery, None);
        build.switch(
            "master",
            GearKind::BatterySwitch,
            &["off", "on"],
            &[("in", "out", &[1])],
        );
        build.switch(
            "lamp-switch",
            GearKind::PanelSwitch,
            &["off", "on"],
            &[("in", "out", &[1])],
        );
        build.switch(
            "dimmer",
            GearKind::PanelSwitch,
            &["low", "high"],
            &[("in", "low", &[0]), ("in", "high", &[1])],
        );
        build.switch(
            "manual",
            GearKind::PanelSwitch,
            &["off", "on"],
            &[("in", "out", &[1])],
        );
        build.switch(
            "float",
            GearKind::Float,
            &["down", "up"],
            &[("in", "out", &[1])],
        );
        for load in ["lamp", "dim", "bright", "pump"] {
            build.load(load, Some(1.0));
            build.wire(
                &format!("{load}N"),
                (&format!("{load}.-"), "house.-"),
                "14 AWG",
                1.0,
            );
        }
        for (number, from, to) in [
            ("A", "house.+", "master.in"),
            ("B", "master.out", "lamp-switch.in"),
            ("C", "lamp-switch.out", "lamp.+"),
            ("D", "lamp-switch.out", "dimmer.in"),
            ("E", "dimmer.low", "dim.+"),
            ("F", "dimmer.high", "bright.+"),
            ("G", "master.out", "manual.in"),
            ("H", "manual.out", "pump.+"),
            ("I", "house.+", "float.in"),
            ("J", "float.out", "pump.+"),
        ] {
            build.wire(number, (from, to), "14 AWG", 1.0);
        }
        build.finish()
    }

    #[test]
    fn gates_and_loops_are_told_apart() {
        let system = pump_boat();
        let gears = Gears::new(&system);
        assert_eq!(
            gears.roles,
            [Role::Bank, Role::Gate, Role::Gate, Role::Loop, Role::Loop]
        );
        assert_eq!(gears.base, [1, 1, 0, 1, 1]);
        let varied: Vec<(usize, u16)> = gears
            .varied
            .iter()
            .map(|&(gear, position)| (gear.index(), position))
            .collect();
        assert_eq!(varied, [(2, 1), (3, 0), (4, 0)]);
        let reaches = |positions: [u16; 5], load: usize| {
            let node = system.node_of(system.links[system.loads[load].link.index()].a);
            gears.open_to(&system, &positions, node)
        };
        assert!(reaches([1, 1, 0, 1, 1], 1));
        assert!(!reaches([1, 1, 0, 1, 1], 2));
        assert!(reaches([1, 1, 1, 1, 1], 2));
        assert!(!reaches([1, 0, 1, 1, 1], 2));
        assert!(reaches([1, 0, 0, 0, 0], 3));
    }

    #[test]
    fn interlocked_parts_step_aside() {
        let mut system = pump_boat();
        system.interlocks.push(crate::system::Interlock {
            never: vec![(GearId::at(3), 1), (GearId::at(4), 1)],
            span: crate::source::Span::default(),
        });
        let gears = Gears::new(&system);
        assert_eq!(gears.base, [1, 1, 0, 1, 0]);
        let mut positions = gears.base.clone();
        positions[4] = 1;
        assert!(gears.settle(&system, &mut positions, Some(GearId::at(4))));
        assert_eq!(positions, [1, 1, 0, 0, 1]);
    }
}
