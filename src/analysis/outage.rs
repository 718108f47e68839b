//! What goes dead with each overcurrent device, whatever the positions and whatever is charging.
//!
//! A device takes down a load when no way from any source to the load's positive goes round it, every contact taken as
//! closed and every diode as a wire. So a load that is told dead is dead in every position. One that is not told may be
//! live by some other way, and is to be treated as live.

use super::isolation::Nets;
use crate::system::{DeviceId, LinkKind, LoadId, NodeId, System};
use std::ops::Range;

/// The loads behind each device.
#[derive(Clone, Debug)]
pub struct Outages {
    /// Loads in the order the search comes to them, so that those behind one device stand together.
    loads: Vec<LoadId>,
    /// Where the loads of each device stand.
    behind: Vec<Range<usize>>,
}

/// An edge of the search: the link, converter or root that joins two vertices, and the device on it.
#[derive(Clone, Copy)]
struct Edge {
    id: usize,
    to: usize,
    device: Option<DeviceId>,
}

/// A vertex on the way down the search.
struct Step {
    vertex: usize,
    /// Edge it was reached by.
    by: Option<Edge>,
    next: usize,
}

impl Outages {
    /// Looks for the devices whose opening parts the boat.
    ///
    /// These are the bridges of the graph of all ungrounded nodes with the sources joined in one: Tarjan, "A note on
    /// finding the bridges of a graph", Information Processing Letters 2 (1974). Linear in the size of the boat.
    #[must_use]
    pub fn new(system: &System, nets: &Nets) -> Self {
        let edges = edges(system, nets);
        let root = edges.len() - 1;
        let unseen = usize::MAX;
        // When each vertex was come to, and the earliest vertex that it and those below it reach without the way back.
        let mut order = vec![unseen; edges.len()];
        let mut low = vec![unseen; edges.len()];
        let mut seen = 1;
        order[root] = 0;
        low[root] = 0;
        let mut steps = vec![Step {
            vertex: root,
            by: None,
            next: 0,
        }];
        // The stretch of the search behind each device that parts the boat.
        let mut parted: Vec<Range<usize>> = vec![0..0; system.devices.len()];
        while let Some(step) = steps.last_mut() {
            let vertex = step.vertex;
            if let Some(&edge) = edges[vertex].get(step.next) {
                step.next += 1;
                if step.by.is_some_and(|by| by.id == edge.id) {
                    continue;
                }
                if order[edge.to] == unseen {
                    order[edge.to] = seen;
                    low[edge.to] = seen;
                    seen += 1;
                    steps.push(Step {
                        vertex: edge.to,
                        by: Some(edge),
                        next: 0,
                    });
                } else {
                    low[vertex] = low[vertex].min(order[edge.to]);
                }
                continue;
            }
            let by = step.by;
            steps.pop();
            if let Some(above) = steps.last() {
                low[above.vertex] = low[above.vertex].min(low[vertex]);
                if low[vertex] > order[above.vertex]
                    && let Some(device) = by.and_then(|edge| edge.device)
                {
                    parted[device.index()] = order[vertex]..seen;
                }
            }
        }
        let mut loads: Vec<(usize, LoadId)> = system
            .loads
            .iter()
            .enumerate()
            .map(|(index, load)| {
                let positive = system.node_of(system.links[load.link.index()].a);
                (order[positive.index()], LoadId::at(index))
            })
            .collect();
        loads.sort_unstable();
        let behind = parted
            .into_iter()
            .map(|part| {
                let at = |order| loads.partition_point(|&(place, _)| place < order);
                at(part.start)..at(part.end)
            })
            .collect();
        Self {
            loads: loads.into_iter().map(|(_, load)| load).collect(),
            behind,
        }
    }

    /// Loads that go dead with a device.
    #[must_use]
    pub fn loads(&self, device: DeviceId) -> &[LoadId] {
        &self.loads[self.behind[device.index()].clone()]
    }
}

/// Edges of every node, and of one more vertex that stands for all sources together.
fn edges(system: &System, nets: &Nets) -> Vec<Vec<Edge>> {
    let root = system.nodes.len();
    let mut edges: Vec<Vec<Edge>> = vec![Vec::new(); root + 1];
    let mut next = 0;
    let mut join = |a: usize, b: usize, device: Option<DeviceId>| {
        let id = next;
        next += 1;
        edges[a].push(Edge { id, to: b, device });
        edges[b].push(Edge { id, to: a, device });
    };
    for pole in nets.ungrounded() {
        match system.sources[pole.source.index()].input {
            // A converter gives nothing without its input.
            Some(input) => {
                let input = &system.loads[input.index()];
                let fed = system.node_of(system.links[input.link.index()].a);
                join(fed.index(), pole.node.index(), None);
            }
            None => join(root, pole.node.index(), None),
        }
    }
    for link in &system.links {
        let (a, b) = (system.node_of(link.a), system.node_of(link.b));
        let grounded = |node: NodeId| nets.is_negative(node);
        if a == b || grounded(a) || grounded(b) {
            continue;
        }
        match link.kind {
            LinkKind::Conductor(_)
            | LinkKind::Contact { .. }
            | LinkKind::Mate { .. }
            | LinkKind::Diode { .. }
            | LinkKind::Joint => join(a.index(), b.index(), None),
            LinkKind::Device(device) if !system.devices[device.index()].spare => {
                join(a.index(), b.index(), Some(device));
            }
            LinkKind::Device(_) | LinkKind::Source(_) | LinkKind::Load(_) => {}
        }
    }
    edges
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source;

    fn boat(text: &str) -> System {
        let reading = source::read(text.as_bytes());
        let (netlist, _) = crate::netlist::read(&reading);
        let (netlist, document) = netlist
            .zip(reading.document.as_ref())
            .expect("the netlist reads");
        crate::resolve::resolve(&netlist, document).0
    }

    fn dead_with(system: &System, device: &str) -> Vec<String> {
        let outages = Outages::new(system, &Nets::new(system));
        let index = system
            .devices
            .iter()
            .position(|known| known.name == device)
            .expect("the device is there");
        let device = DeviceId::at(index);
        let mut names: Vec<String> = outages
            .loads(device)
            .iter()
            .map(|load| system.loads[load.index()].name.clone())
            .collect();
        names.sort();
        names
    }

    const BOAT: &str = "
loomwright: 1
boat: {name: Dab, practice: us, system: 12 V}
batteries: {house: {chemistry: agm}, start: {chemistry: agm}}
fuses: {main: {rating: 60 A}, second: {rating: 60 A}, lone: {rating: 5 A}}
switches: {master: {kind: battery}}
fuse-blocks: {block: {ways: {1: 5 A, 2: 5 A, 3: spare}}}
buses: {negative: {polarity: negative, studs: 12}}
loads: {lamp: {draw: 1 A}, pump: {draw: 3 A}, alarm: {draw: 0.1 A}}
runs:
  A1: {from: house.+, to: main.in}
  A2: {from: main.out, to: master.in}
  A3: {from: master.out, to: block.feed}
  A4: {from: house.+, to: lone.in}
  A5: {from: lone.out, to: alarm.+}
  N1: {from: house.-, to: negative}
  N2: {from: start.-, to: negative}
  N3: {from: alarm.-, to: negative}
circuits:
  C1: {feed: block.1, load: lamp, return: negative}
  C2: {feed: block.2, load: pump, return: negative}
";

    #[test]
    fn a_main_takes_down_all_behind_it_and_a_branch_its_own() {
        let system = boat(BOAT);
        assert_eq!(dead_with(&system, "main"), ["lamp", "pump"]);
        assert_eq!(dead_with(&system, "block.1"), ["lamp"]);
        assert_eq!(dead_with(&system, "lone"), ["alarm"]);
        assert_eq!(dead_with(&system, "block.3"), [""; 0]);
    }

    #[test]
    fn a_second_way_in_keeps_a_load_from_being_told_dead() {
        let system = boat(&BOAT.replace(
            "runs:",
            "runs:\n  S1: {from: start.+, to: second.in}\n  S2: {from: second.out, to: master.in}",
        ));
        assert_eq!(dead_with(&system, "main"), [""; 0]);
        assert_eq!(dead_with(&system, "second"), [""; 0]);
        assert_eq!(dead_with(&system, "block.2"), ["pump"]);
    }

    /// Taking each device out of each example and walking from all sources finds the same loads.
    #[test]
    fn a_walk_without_the_device_agrees() {
        for text in [
            include_str!("../../examples/marsh-pipit-rev-0.yaml"),
            include_str!("../../examples/marsh-pipit-rev-a.yaml"),
            include_str!("../../examples/teal-skerry-rev-a.yaml"),
            include_str!("../../examples/mud-plover-rev-a.yaml"),
        ] {
            let system = boat(text);
            let nets = Nets::new(&system);
            let edges = edges(&system, &nets);
            let reached = |without: Option<DeviceId>| {
                let mut seen = vec![false; edges.len()];
                let mut waiting = vec![edges.len() - 1];
                while let Some(vertex) = waiting.pop() {
                    if std::mem::replace(&mut seen[vertex], true) {
                        continue;
                    }
                    waiting.extend(
                        edges[vertex]
                            .iter()
                            .filter(|edge| edge.device.is_none() || edge.device != without)
                            .map(|edge| edge.to),
                    );
                }
                seen
            };
            let all = reached(None);
            for device in &system.devices {
                let index = system
                    .devices
                    .iter()
                    .position(|known| known.name == device.name)
                    .expect("it is there");
                let left = reached(Some(DeviceId::at(index)));
                let mut dead: Vec<String> = system
                    .loads
                    .iter()
                    .filter(|load| {
                        let node = system.node_of(system.links[load.link.index()].a).index();
                        all[node] && !left[node]
                    })
                    .map(|load| load.name.clone())
                    .collect();
                dead.sort();
                assert_eq!(dead_with(&system, &device.name), dead, "{}", device.name);
            }
        }
    }
}
