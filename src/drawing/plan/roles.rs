//! What every hub is to the others: its pole, what feeds it, where it returns to, and which grid it stands in.

use super::{Cuts, Roles};
use crate::drawing::circuit::{CellKind, Chain, Circuit, HubKind};
use crate::drawing::scene::Pole;
use crate::system::{ComponentKind, System};
use std::collections::{BTreeMap, VecDeque};

impl Roles {
    pub(super) fn new(system: &System, circuit: &Circuit, cuts: &Cuts) -> Self {
        let count = circuit.hubs.len();
        let mut roles = Self {
            idle: vec![false; count],
            negative: vec![false; count],
            root: vec![None; count],
            parent: vec![None; count],
            depth: vec![0; count],
            sources: Vec::new(),
            distance: vec![None; count],
            feed: vec![None; count],
            reach: vec![(usize::MAX, 0); count],
            grid: vec![0; count],
            systems: Vec::new(),
            grids: 0,
            starts: Vec::new(),
            kinds: circuit.hubs.iter().map(|hub| hub.kind).collect(),
        };
        for (index, hub) in circuit.hubs.iter().enumerate() {
            let plain = !matches!(hub.kind, HubKind::Box | HubKind::Tie);
            roles.idle[index] = hub.ports.iter().all(|port| port.chains.is_empty());
            let negative = plain && circuit.pole(system, index, 0) == Pole::Negative;
            roles.negative[index] = negative && !roles.idle[index];
        }
        let roots = roles.negative_trees(circuit);
        roles.positive_tree(system, circuit);
        roles.feed_first_inputs(system, circuit);
        roles.divide(circuit, cuts, &roots);
        roles.systems = roots;
        roles
    }

    /// Grows one tree of returns for each set of negative hubs that conductors join; gives their roots.
    pub(super) fn negative_trees(&mut self, circuit: &Circuit) -> Vec<usize> {
        let links = |hub: usize| circuit.hubs[hub].ports.iter().flat_map(|port| &port.chains);
        let count = circuit.hubs.len();
        let mut component = vec![usize::MAX; count];
        let mut members: Vec<Vec<usize>> = Vec::new();
        for start in 0..count {
            if !self.negative[start] || component[start] != usize::MAX {
                continue;
            }
            let mut found = vec![start];
            component[start] = members.len();
            let mut next = 0;
            while next < found.len() {
                for &(chain, end) in links(found[next]) {
                    if let Some(far) = self.return_link(circuit, chain, end)
                        && component[far] == usize::MAX
                    {
                        component[far] = members.len();
                        found.push(far);
                    }
                }
                next += 1;
            }
            members.push(found);
        }
        let mut roots = Vec::new();
        for found in members {
            let score = |hub: usize| {
                let batteries = links(hub)
                    .filter(|(chain, _)| {
                        circuit.chains[*chain]
                            .cells()
                            .any(|cell| matches!(cell.kind, CellKind::Battery(_)))
                    })
                    .count();
                let bus = circuit.hubs[hub].kind == HubKind::Bus;
                (bus, batteries, links(hub).count(), std::cmp::Reverse(hub))
            };
            let Some(root) = found.iter().copied().max_by_key(|&hub| score(hub)) else {
                continue;
            };
            roots.push(root);
            self.root[root] = Some(root);
            let mut queue = VecDeque::from([root]);
            while let Some(hub) = queue.pop_front() {
                for &(chain, end) in links(hub) {
                    if let Some(far) = self.return_link(circuit, chain, end)
                        && self.root[far].is_none()
                    {
                        self.root[far] = Some(root);
                        self.parent[far] = Some((chain, hub));
                        self.depth[far] = self.depth[hub] + 1;
                        queue.push_back(far);
                    }
                }
            }
        }
        roots.sort_unstable();
        roots
    }

    /// The other negative hub of a chain without loads and sources.
    pub(super) fn return_link(&self, circuit: &Circuit, chain: usize, end: usize) -> Option<usize> {
        let record = &circuit.chains[chain];
        let (far, _) = record.ends[1 - end]?;
        let plain = !record.has_load() && !record.has_source();
        (plain && self.negative[far]).then_some(far)
    }

    /// The positive hub that power can pass to along a chain.
    pub(super) fn feed_link(
        &self,
        system: &System,
        circuit: &Circuit,
        chain: usize,
        end: usize,
    ) -> Option<usize> {
        let record = &circuit.chains[chain];
        let (near, near_port) = record.ends[end]?;
        let (far, far_port) = record.ends[1 - end]?;
        let positive = |hub: usize, port: usize| {
            !self.negative[hub] && circuit.pole(system, hub, port) == Pole::Positive
        };
        (far != near
            && positive(near, near_port)
            && positive(far, far_port)
            && self.kinds[far] != HubKind::Tie)
            .then_some(far)
    }

    pub(super) fn positive_tree(&mut self, system: &System, circuit: &Circuit) {
        let mut starts: Vec<(usize, usize)> = Vec::new();
        for (index, chain) in circuit.chains.iter().enumerate() {
            let battery = chain.cells().find_map(|cell| match cell.kind {
                CellKind::Battery(source) => Some(source.index()),
                _ => None,
            });
            let Some(battery) = battery else { continue };
            for end in 0..2 {
                let Some((hub, port)) = chain.ends[end] else {
                    continue;
                };
                let far_negative = chain.ends[1 - end].is_none_or(|(far, far_port)| {
                    self.negative[far] || circuit.pole(system, far, far_port) == Pole::Negative
                });
                let here = !self.negative[hub]
                    && circuit.pole(system, hub, port) == Pole::Positive
                    && self.kinds[hub] != HubKind::Tie;
                if here && far_negative && index < usize::MAX {
                    starts.push((battery, hub));
                }
            }
        }
        starts.sort_unstable();
        for (_, hub) in starts {
            if !self.sources.contains(&hub) {
                self.sources.push(hub);
            }
        }
        let mut queue = VecDeque::new();
        for (index, &hub) in self.sources.iter().enumerate() {
            self.distance[hub] = Some(0);
            self.reach[hub] = (index, index);
            queue.push_back(hub);
        }
        self.spread(system, circuit, queue);
        // A converter that feeds what nothing else feeds is a step of the ladder, not a tie.
        for hub in 0..circuit.hubs.len() {
            if self.kinds[hub] != HubKind::Tie {
                continue;
            }
            let mut fed = None;
            let mut waits = false;
            for port in &circuit.hubs[hub].ports {
                for &(chain, end) in &port.chains {
                    let Some((far, far_port)) = circuit.chains[chain].ends[1 - end] else {
                        continue;
                    };
                    if self.negative[far]
                        || self.kinds[far] == HubKind::Tie
                        || circuit.pole(system, far, far_port) == Pole::Negative
                    {
                        continue;
                    }
                    match self.distance[far] {
                        Some(distance) if fed.is_none() => fed = Some((distance, chain, far)),
                        Some(_) => {}
                        None => waits = true,
                    }
                }
            }
            if let (Some((distance, chain, far)), true) = (fed, waits) {
                self.kinds[hub] = HubKind::Box;
                self.distance[hub] = Some(distance + 1);
                self.feed[hub] = Some(chain);
                self.reach[hub] = self.reach[far];
                self.spread(system, circuit, VecDeque::from([hub]));
            }
        }
        // What no battery reaches begins at a hub of its own: a block or a bus before anything else.
        for wanted in [
            HubKind::Block,
            HubKind::Bus,
            HubKind::Box,
            HubKind::Splice,
            HubKind::Post,
            HubKind::Ground,
        ] {
            for hub in 0..circuit.hubs.len() {
                let open = !self.negative[hub] && !self.idle[hub] && self.distance[hub].is_none();
                if open && self.kinds[hub] == wanted {
                    self.reach[hub] = (self.sources.len(), self.sources.len());
                    self.sources.push(hub);
                    self.distance[hub] = Some(0);
                    self.spread(system, circuit, VecDeque::from([hub]));
                }
            }
        }
    }

    pub(super) fn spread(
        &mut self,
        system: &System,
        circuit: &Circuit,
        mut queue: VecDeque<usize>,
    ) {
        while let Some(hub) = queue.pop_front() {
            // Power does not pass from one input of a load to another.
            if is_consumer(system, circuit, hub) {
                continue;
            }
            let here = self.distance[hub].unwrap_or(0);
            for port in &circuit.hubs[hub].ports {
                for &(chain, end) in &port.chains {
                    let Some(far) = self.feed_link(system, circuit, chain, end) else {
                        continue;
                    };
                    match self.distance[far] {
                        None => {
                            self.distance[far] = Some(here + 1);
                            self.feed[far] = Some(chain);
                            self.reach[far] = self.reach[hub];
                            queue.push_back(far);
                        }
                        Some(there) if there > here => {
                            let (first, last) = self.reach[hub];
                            let reach = &mut self.reach[far];
                            *reach = (reach.0.min(first), reach.1.max(last));
                        }
                        Some(_) => {}
                    }
                }
            }
        }
    }

    /// A load with several inputs stands where its first one is fed.
    pub(super) fn feed_first_inputs(&mut self, system: &System, circuit: &Circuit) {
        for hub in 0..circuit.hubs.len() {
            let consumer = is_consumer(system, circuit, hub);
            if self.kinds[hub] != HubKind::Box || !consumer || self.feed[hub].is_none() {
                continue;
            }
            let first = circuit.hubs[hub]
                .ports
                .iter()
                .flat_map(|port| &port.chains)
                .find_map(|&(chain, end)| {
                    let far = self.feed_link(system, circuit, chain, end)?;
                    Some((chain, self.distance[far]?))
                });
            if let Some((chain, distance)) = first {
                self.feed[hub] = Some(chain);
                self.distance[hub] = Some(distance + 1);
            }
        }
    }

    /// Puts every positive hub into a grid.
    pub(super) fn divide(&mut self, circuit: &Circuit, cuts: &Cuts, roots: &[usize]) {
        let systems = roots.len().max(1);
        let system_of = |root: Option<usize>| {
            root.and_then(|root| roots.iter().position(|&known| known == root))
                .unwrap_or(0)
        };
        let mut starts: Vec<Vec<usize>> = vec![Vec::new(); systems];
        let mut order: Vec<usize> = (0..circuit.hubs.len())
            .filter(|&hub| self.distance[hub].is_some())
            .collect();
        order.sort_by_key(|&hub| (self.distance[hub], hub));
        for hub in order {
            let Some(chain) = self.feed[hub] else {
                let root = circuit.hubs[hub]
                    .ports
                    .iter()
                    .flat_map(|port| &port.chains)
                    .filter_map(|&(chain, end)| circuit.chains[chain].ends[1 - end])
                    .find_map(|(far, _)| self.root[far]);
                self.grid[hub] = if cuts.apart.contains(&hub) {
                    starts.push(Vec::new());
                    starts.len() - 1
                } else {
                    system_of(root)
                };
                continue;
            };
            let parent = other_hub(&circuit.chains[chain], hub);
            let apart =
                cuts.blocks && self.kinds[hub] == HubKind::Block || cuts.apart.contains(&hub);
            if apart {
                self.grid[hub] = starts.len();
                starts.push(vec![hub]);
            } else {
                self.grid[hub] = parent.map_or(0, |parent| self.grid[parent]);
            }
        }
        for &hub in &self.sources {
            starts[self.grid[hub]].push(hub);
        }
        for hub in 0..circuit.hubs.len() {
            if self.kinds[hub] == HubKind::Tie && cuts.apart.contains(&hub) {
                self.grid[hub] = starts.len();
                starts.push(Vec::new());
            } else if self.kinds[hub] == HubKind::Tie {
                let mut votes: BTreeMap<usize, usize> = BTreeMap::new();
                for &(chain, end) in circuit.hubs[hub].ports.iter().flat_map(|port| &port.chains) {
                    if let Some((far, _)) = circuit.chains[chain].ends[1 - end]
                        && self.distance[far].is_some()
                    {
                        *votes.entry(self.grid[far]).or_default() += 1;
                    }
                }
                let best = votes
                    .iter()
                    .max_by_key(|(grid, votes)| (**votes, std::cmp::Reverse(**grid)));
                self.grid[hub] = best.map_or(0, |(grid, _)| *grid);
            }
        }
        self.grids = starts.len();
        self.starts = starts;
    }
}

/// Whether a hub is a load or an instrument with several terminals.
pub(super) fn is_consumer(system: &System, circuit: &Circuit, hub: usize) -> bool {
    let record = &circuit.hubs[hub];
    let kind = system.components[record.component.index()].kind;
    record.kind == HubKind::Box && matches!(kind, ComponentKind::Load | ComponentKind::Instrument)
}

pub(super) fn other_hub(chain: &Chain, hub: usize) -> Option<usize> {
    chain
        .ends
        .iter()
        .flatten()
        .map(|&(known, _)| known)
        .find(|&known| known != hub)
}
