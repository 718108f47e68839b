//! The circuit as the drawing sees it: hubs, where three or more conductors meet, and chains between them.
//!
//! A hub is a bus, a fuse block, a splice, a part with several terminals, or a terminal on which several
//! conductors land. A chain is a row of conductors and parts in line from one hub to another.
//! Nothing here has a place on paper yet.

use crate::system::{
    ComponentId, ComponentKind, ConductorId, DeviceId, GearId, LinkId, LinkKind, LoadId, LoadKind,
    Polarity, SourceId, System, TerminalId, ZoneId,
};
use std::collections::{BTreeMap, VecDeque};

use super::scene::Pole;
use super::words::WireLabel;

/// What a hub is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum HubKind {
    /// Bus bar, or the negative bus of a block.
    Bus,
    /// Fuse block or breaker panel.
    Block,
    /// One terminal on which several conductors land.
    Post,
    /// Splice of three or more conductors.
    Splice,
    /// Engine block, hull, bonding.
    Ground,
    /// Part with several terminals that power passes through: selector, changeover, load with two inputs.
    Box,
    /// Part that ties several sources together: charger, combiner, isolator.
    Tie,
}

impl HubKind {
    /// Whether it may be drawn in several pieces without losing its shape.
    pub(super) fn elastic(self) -> bool {
        matches!(self, Self::Bus | Self::Block | Self::Ground)
    }
}

/// A terminal of a hub with the chains that end there.
#[derive(Clone, Debug)]
pub(super) struct Port {
    pub(super) terminal: TerminalId,
    /// The overcurrent device of a block's way.
    pub(super) device: Option<DeviceId>,
    /// Chain and which end of it, in the order of the conductors.
    pub(super) chains: Vec<(usize, usize)>,
}

/// A point where chains meet.
#[derive(Clone, Debug)]
pub(super) struct Hub {
    pub(super) kind: HubKind,
    pub(super) component: ComponentId,
    pub(super) ports: Vec<Port>,
    /// Second bus of a fuse block.
    pub(super) block_negative: bool,
}

/// What a part in line is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum CellKind {
    Battery(SourceId),
    Source(SourceId),
    Load(LoadId, LoadKind),
    Device(DeviceId),
    Contact(GearId),
    Combiner(GearId),
    Mate(u32),
    Splice,
    Shunt,
    Diode,
    Instrument,
    /// Circuits told together on one line, by index into the circuit's bunches.
    Bunch(u32),
    /// A part whose inner links say nothing of its kind.
    Plain,
}

impl CellKind {
    /// A two-pole consumer that stands in the column of the loads.
    pub(super) fn is_load(self) -> bool {
        matches!(self, Self::Load(..) | Self::Instrument | Self::Bunch(_))
    }

    pub(super) fn is_source(self) -> bool {
        matches!(self, Self::Battery(_) | Self::Source(_))
    }
}

/// A part in line.
#[derive(Clone, Copy, Debug)]
pub(super) struct Cell {
    pub(super) component: ComponentId,
    pub(super) kind: CellKind,
    /// Terminals in the direction of the chain.
    pub(super) ends: [TerminalId; 2],
}

/// One element of a chain.
#[derive(Clone, Copy, Debug)]
pub(super) enum Item {
    Wire(ConductorId),
    /// A part bolted to another's stud, without a conductor.
    Joint(LinkId),
    Cell(Cell),
}

/// Hub and port that a chain ends at; none where it ends in the open.
pub(super) type ChainEnd = Option<(usize, usize)>;

/// Conductors and parts in line between two hubs.
#[derive(Clone, Debug)]
pub(super) struct Chain {
    pub(super) ends: [ChainEnd; 2],
    pub(super) items: Vec<Item>,
    /// What it goes on to beyond either end, where the drawing shows a part of the boat; by index into `outer`.
    pub(super) outer: [Option<usize>; 2],
}

/// What lies just outside the part of the boat that is drawn.
#[derive(Clone, Debug)]
pub(super) struct Outer {
    /// The conductor that is drawn and broken off; none where a part is the last thing drawn.
    pub(super) wire: Option<ConductorId>,
    /// Terminal that the drawing does not show.
    pub(super) far: TerminalId,
    /// What the reference says: whereto.
    pub(super) words: String,
    /// Zone of the terminal that is not drawn, where the words do not tell it and it may be another.
    pub(super) zone: Option<ZoneId>,
}

impl Chain {
    pub(super) fn cells(&self) -> impl Iterator<Item = &Cell> {
        self.items.iter().filter_map(|item| match item {
            Item::Cell(cell) => Some(cell),
            _ => None,
        })
    }

    pub(super) fn has_load(&self) -> bool {
        self.cells().any(|cell| cell.kind.is_load())
    }

    pub(super) fn has_source(&self) -> bool {
        self.cells().any(|cell| cell.kind.is_source())
    }
}

/// Circuits of one hub that are told together.
#[derive(Clone, Debug)]
pub(super) struct Bunch {
    /// Lines above the line that stands for them.
    pub(super) above: Vec<String>,
    /// Lines below it.
    pub(super) below: Vec<String>,
}

/// The whole circuit as hubs and chains.
#[derive(Clone, Debug)]
pub(super) struct Circuit {
    pub(super) hubs: Vec<Hub>,
    pub(super) chains: Vec<Chain>,
    /// Pole of each node.
    pub(super) poles: Vec<Pole>,
    /// What is written on each conductor.
    pub(super) labels: Vec<WireLabel>,
    /// Whether several conductors land on each terminal, so that it has a post of its own.
    pub(super) posts: Vec<bool>,
    /// Circuits told together; empty where every conductor is drawn.
    pub(super) bunches: Vec<Bunch>,
    /// What lies outside; empty where the whole boat is drawn.
    pub(super) outer: Vec<Outer>,
    /// A part of the boat is drawn.
    pub(super) partial: bool,
    /// Terminals whose hubs are not told by name, because one line stands for several.
    pub(super) single_line: bool,
}

/// Part of a component before it is known how many conductors land on it.
#[derive(Clone, Debug)]
struct Unit {
    component: ComponentId,
    shape: Shape,
}

#[derive(Clone, Debug)]
enum Shape {
    /// Two terminals in line.
    Two(CellKind, [TerminalId; 2]),
    /// Several terminals.
    Many(HubKind, Vec<TerminalId>, bool),
}

/// What lands on a terminal from outside its component.
#[derive(Clone, Copy, Debug)]
enum Landing {
    Wire(ConductorId),
    Joint(LinkId),
}

impl Circuit {
    /// Takes a resolved boat apart.
    pub(super) fn new(system: &System) -> Self {
        let poles = poles(system);
        let landings = landings(system);
        let mut units = Vec::new();
        for (index, component) in system.components.iter().enumerate() {
            let touched = component
                .terminals
                .iter()
                .any(|terminal| !landings[terminal.index()].is_empty());
            if touched {
                units_of(system, ComponentId::at(index), &landings, &mut units);
            } else {
                units.push(idle_unit(system, ComponentId::at(index)));
            }
        }
        let mut builder = Builder {
            system,
            landings,
            units,
            unit_of: vec![None; system.terminals.len()],
            port_of: vec![None; system.terminals.len()],
            walked_unit: Vec::new(),
            walked_wire: vec![false; system.conductors.len()],
            walked_joint: vec![false; system.links.len()],
            hubs: Vec::new(),
            chains: Vec::new(),
        };
        builder.build();
        let mut posts = vec![false; system.terminals.len()];
        for hub in builder.hubs.iter().filter(|hub| hub.kind == HubKind::Post) {
            for port in &hub.ports {
                posts[port.terminal.index()] = true;
            }
        }
        Self {
            labels: system.conductors.iter().map(WireLabel::new).collect(),
            posts,
            bunches: Vec::new(),
            outer: Vec::new(),
            partial: false,
            single_line: false,
            hubs: builder.hubs,
            chains: builder.chains,
            poles,
        }
    }

    /// The circuit with some chains in pieces: each breaks behind some of its conductors, at a post of its own.
    pub(super) fn divided(&self, breaks: &BTreeMap<usize, Vec<usize>>) -> Self {
        let mut divided = self.clone();
        for (&chain, wires) in breaks {
            for &wire in wires.iter().rev() {
                divided.divide(chain, wire);
            }
        }
        divided
    }

    /// Breaks a chain behind one of its conductors, if a part follows there that has two ends.
    fn divide(&mut self, chain: usize, wire: usize) {
        let Some(&Item::Cell(cell)) = self.chains[chain].items.get(wire + 1) else {
            return;
        };
        let terminal = cell.ends[0];
        // A splice is the place itself; any other part keeps its place behind a post.
        let (kind, first) = if cell.ends[0] == cell.ends[1] {
            (HubKind::Splice, wire + 2)
        } else {
            if std::mem::replace(&mut self.posts[terminal.index()], true) {
                return;
            }
            (HubKind::Post, wire + 1)
        };
        let (hub, rest) = (self.hubs.len(), self.chains.len());
        let items = self.chains[chain].items.split_off(first);
        self.chains[chain].items.truncate(wire + 1);
        let far = self.chains[chain].ends[1].replace((hub, 0));
        if let Some((hub, port)) = far {
            for known in &mut self.hubs[hub].ports[port].chains {
                if *known == (chain, 1) {
                    *known = (rest, 1);
                }
            }
        }
        let outer = self.chains[chain].outer[1].take();
        self.chains.push(Chain {
            ends: [Some((hub, 0)), far],
            items,
            outer: [None, outer],
        });
        self.hubs.push(Hub {
            kind,
            component: cell.component,
            ports: vec![Port {
                terminal,
                device: None,
                chains: vec![(rest, 0), (chain, 1)],
            }],
            block_negative: false,
        });
    }

    /// Pole of a port.
    pub(super) fn pole(&self, system: &System, hub: usize, port: usize) -> Pole {
        match self.hubs[hub].ports.get(port) {
            Some(port) => self.poles[system.node_of(port.terminal).index()],
            None => Pole::Positive,
        }
    }
}

/// Pole of every node: whichever of positive and negative posts is nearer through anything but sources and loads.
fn poles(system: &System) -> Vec<Pole> {
    let mut poles: Vec<Option<Pole>> = vec![None; system.nodes.len()];
    let mut queue = VecDeque::new();
    let mut seed = |node: usize, pole: Pole, poles: &mut Vec<Option<Pole>>| {
        if poles[node].is_none() {
            poles[node] = Some(pole);
            queue.push_back(node);
        }
    };
    // The lower ends of the series strings are negative; everything else that a battery stands on is not.
    let mut lifted = vec![false; system.sources.len()];
    for bank in &system.banks {
        for string in &bank.strings {
            for &source in string.iter().skip(1) {
                if let Some(flag) = lifted.get_mut(source.index()) {
                    *flag = true;
                }
            }
        }
    }
    let end = |terminal: TerminalId| system.node_of(terminal).index();
    let batteries = || {
        system
            .sources
            .iter()
            .enumerate()
            .filter(|(_, source)| source.kind == crate::system::SourceKind::Battery)
    };
    for (index, source) in batteries() {
        if !lifted[index] {
            seed(
                end(system.links[source.link.index()].b),
                Pole::Negative,
                &mut poles,
            );
        }
    }
    for (_, source) in batteries() {
        seed(
            end(system.links[source.link.index()].a),
            Pole::Positive,
            &mut poles,
        );
    }
    for component in &system.components {
        let pole = match (component.polarity, component.ground) {
            (Some(Polarity::Positive), _) => Pole::Positive,
            (Some(_), _) | (None, Some(_)) => Pole::Negative,
            (None, None) => continue,
        };
        for &terminal in &component.terminals {
            seed(end(terminal), pole, &mut poles);
        }
    }
    let spread = |queue: &mut VecDeque<usize>, poles: &mut Vec<Option<Pole>>| {
        while let Some(node) = queue.pop_front() {
            for &id in &system.nodes[node].links {
                let link = &system.links[id.index()];
                if matches!(link.kind, LinkKind::Source(_) | LinkKind::Load(_)) {
                    continue;
                }
                let (a, b) = (end(link.a), end(link.b));
                let far = if a == node { b } else { a };
                if poles[far].is_none() {
                    poles[far] = poles[node];
                    queue.push_back(far);
                }
            }
        }
    };
    spread(&mut queue, &mut poles);
    // What no battery reaches takes the pole that its sources and loads say.
    for link in &system.links {
        if matches!(link.kind, LinkKind::Source(_) | LinkKind::Load(_)) {
            for (terminal, pole) in [(link.a, Pole::Positive), (link.b, Pole::Negative)] {
                let node = end(terminal);
                if poles[node].is_none() {
                    poles[node] = Some(pole);
                    queue.push_back(node);
                    spread(&mut queue, &mut poles);
                }
            }
        }
    }
    poles
        .into_iter()
        .map(|pole| pole.unwrap_or(Pole::Positive))
        .collect()
}

fn landings(system: &System) -> Vec<Vec<Landing>> {
    let mut landings: Vec<Vec<Landing>> = vec![Vec::new(); system.terminals.len()];
    for (index, conductor) in system.conductors.iter().enumerate() {
        for terminal in [conductor.from, conductor.to] {
            landings[terminal.index()].push(Landing::Wire(ConductorId::at(index)));
        }
    }
    for (index, link) in system.links.iter().enumerate() {
        let (a, b) = (
            system.terminals[link.a.index()].component,
            system.terminals[link.b.index()].component,
        );
        if link.kind == LinkKind::Joint && a != b {
            for terminal in [link.a, link.b] {
                landings[terminal.index()].push(Landing::Joint(LinkId::at(index)));
            }
        }
    }
    landings
}

/// Takes a component apart into what is drawn in line and what is a hub.
fn units_of(system: &System, id: ComponentId, landings: &[Vec<Landing>], units: &mut Vec<Unit>) {
    let component = &system.components[id.index()];
    let terminals = &component.terminals;
    let mut push = |shape: Shape| {
        units.push(Unit {
            component: id,
            shape,
        });
    };
    let lands = |terminal: TerminalId| landings[terminal.index()].len();
    match component.kind {
        ComponentKind::Bus => push(Shape::Many(HubKind::Bus, terminals.clone(), false)),
        ComponentKind::Ground => push(Shape::Many(HubKind::Ground, terminals.clone(), false)),
        ComponentKind::FuseBlock => {
            let (negative, rest): (Vec<_>, Vec<_>) = terminals
                .iter()
                .copied()
                .partition(|t| system.terminals[t.index()].name.starts_with("negative"));
            if !rest.is_empty() {
                push(Shape::Many(HubKind::Block, rest, false));
            }
            if !negative.is_empty() {
                push(Shape::Many(HubKind::Bus, negative, true));
            }
        }
        ComponentKind::Splice => {
            let total: usize = terminals.iter().map(|&terminal| lands(terminal)).sum();
            match terminals.as_slice() {
                [only] if total == 2 => push(Shape::Two(CellKind::Splice, [*only, *only])),
                [one, two] if lands(*one) == 1 && lands(*two) == 1 => {
                    push(Shape::Two(CellKind::Splice, [*one, *two]));
                }
                _ => push(Shape::Many(HubKind::Splice, terminals.clone(), false)),
            }
        }
        _ => inner_units(system, id, landings, units),
    }
}

/// What a part in line is by a link inside it.
fn cell_kind(system: &System, component: ComponentKind, link: &LinkKind) -> CellKind {
    match *link {
        LinkKind::Source(source) if component == ComponentKind::Battery => {
            CellKind::Battery(source)
        }
        LinkKind::Source(source) => CellKind::Source(source),
        LinkKind::Load(_) if component == ComponentKind::Instrument => CellKind::Instrument,
        LinkKind::Load(load) => CellKind::Load(load, system.loads[load.index()].kind),
        LinkKind::Device(device) => CellKind::Device(device),
        LinkKind::Contact { gear, .. } if component == ComponentKind::Combiner => {
            CellKind::Combiner(gear)
        }
        LinkKind::Contact { gear, .. } => CellKind::Contact(gear),
        LinkKind::Mate { cavity } => CellKind::Mate(cavity),
        LinkKind::Diode { .. } => CellKind::Diode,
        LinkKind::Joint if component == ComponentKind::Shunt => CellKind::Shunt,
        LinkKind::Joint | LinkKind::Conductor(_) => CellKind::Plain,
    }
}

/// One drawing of a component on which nothing lands.
fn idle_unit(system: &System, id: ComponentId) -> Unit {
    let component = &system.components[id.index()];
    let Some((&first, rest)) = component.terminals.split_first() else {
        // A bus without a stud yet is drawn by its name alone.
        return Unit {
            component: id,
            shape: Shape::Many(HubKind::Bus, Vec::new(), false),
        };
    };
    let many = |kind: HubKind| {
        let ways = component.terminals.iter().copied();
        let positive = |terminal: &TerminalId| {
            !system.terminals[terminal.index()]
                .name
                .starts_with("negative")
        };
        Shape::Many(kind, ways.filter(positive).collect(), false)
    };
    let shape = match (component.kind, rest.first()) {
        (ComponentKind::Bus, _) => many(HubKind::Bus),
        (ComponentKind::Ground, _) => many(HubKind::Ground),
        (ComponentKind::FuseBlock, _) => many(HubKind::Block),
        (_, None) => many(HubKind::Splice),
        (kind, Some(&second)) => {
            let links = &system.nodes[system.node_of(first).index()].links;
            let inner = links
                .iter()
                .map(|link| &system.links[link.index()])
                .find(|link| link.component == id);
            let cell = match kind {
                ComponentKind::Instrument => CellKind::Instrument,
                _ => inner.map_or(CellKind::Plain, |link| cell_kind(system, kind, &link.kind)),
            };
            Shape::Two(cell, [first, second])
        }
    };
    Unit {
        component: id,
        shape,
    }
}

/// Units of a component whose inner links say what belongs together.
fn inner_units(system: &System, id: ComponentId, landings: &[Vec<Landing>], units: &mut Vec<Unit>) {
    let component = &system.components[id.index()];
    let count = component.terminals.len();
    let place = |terminal: TerminalId| {
        component
            .terminals
            .iter()
            .position(|&known| known == terminal)
    };
    // Union of the terminals that inner links join, smallest index as the representative.
    let mut group: Vec<usize> = (0..count).collect();
    let mut kinds: Vec<Option<CellKind>> = vec![None; count];
    let whole = matches!(
        component.kind,
        ComponentKind::Charger
            | ComponentKind::Converter
            | ComponentKind::Combiner
            | ComponentKind::Isolator
            | ComponentKind::Instrument
            | ComponentKind::Load
            | ComponentKind::Shunt
            | ComponentKind::Breaker
            | ComponentKind::Fuse
            | ComponentKind::Battery
            | ComponentKind::Alternator
            | ComponentKind::Solar
    );
    let join = |group: &mut Vec<usize>, a: usize, b: usize| {
        let (low, high) = (group[a].min(group[b]), group[a].max(group[b]));
        for entry in group.iter_mut() {
            if *entry == high {
                *entry = low;
            }
        }
    };
    if whole {
        group.fill(0);
    }
    let mut seen = std::collections::BTreeSet::new();
    for &terminal in &component.terminals {
        let node = system.node_of(terminal);
        for &link_id in &system.nodes[node.index()].links {
            let link = &system.links[link_id.index()];
            if link.component != id || !seen.insert(link_id) {
                continue;
            }
            let kind = cell_kind(system, component.kind, &link.kind);
            let slot = match place(link.a).zip(place(link.b)) {
                // A breaker that is a switch too has a point between its trip and its contact.
                _ if whole => 0,
                Some((a, b)) => {
                    join(&mut group, a, b);
                    group[a]
                }
                None => continue,
            };
            if kinds[slot].is_none() || matches!(kind, CellKind::Device(_)) {
                kinds[slot] = Some(kind);
            }
        }
    }
    if component.kind == ComponentKind::Instrument {
        kinds[0] = Some(CellKind::Instrument);
    }
    for (root, kind) in kinds.into_iter().enumerate() {
        let members: Vec<TerminalId> = (0..count)
            .filter(|&index| group[index] == root)
            .map(|index| component.terminals[index])
            .collect();
        let used = |terminal: &&TerminalId| !landings[terminal.index()].is_empty();
        let wired: Vec<TerminalId> = members.iter().filter(used).copied().collect();
        if members.is_empty() || wired.is_empty() {
            continue;
        }
        let kind = kind.unwrap_or(CellKind::Plain);
        // A terminal of an in-line part that nothing lands on is not drawn, unless only two are left.
        let two: Option<[TerminalId; 2]> = match (members.as_slice(), component.kind) {
            ([a, b], _) | ([a, b, ..], ComponentKind::Breaker | ComponentKind::Fuse) => {
                Some([*a, *b])
            }
            ([a, b, ..], ComponentKind::Combiner | ComponentKind::Shunt)
                if wired.iter().all(|terminal| terminal == a || terminal == b) =>
            {
                Some([*a, *b])
            }
            _ => None,
        };
        let shape = match (two, component.kind) {
            (Some(ends), _) => Shape::Two(kind, ends),
            (
                None,
                ComponentKind::Charger
                | ComponentKind::Combiner
                | ComponentKind::Isolator
                | ComponentKind::Converter,
            ) => Shape::Many(HubKind::Tie, members, false),
            (None, ComponentKind::Shunt) => Shape::Many(HubKind::Box, wired, false),
            (None, _) => Shape::Many(HubKind::Box, members, false),
        };
        units.push(Unit {
            component: id,
            shape,
        });
    }
}

struct Builder<'s> {
    system: &'s System,
    landings: Vec<Vec<Landing>>,
    units: Vec<Unit>,
    /// In-line part at a terminal, and which end of it.
    unit_of: Vec<Option<(usize, usize)>>,
    /// Hub and port at a terminal.
    port_of: Vec<Option<(usize, usize)>>,
    walked_unit: Vec<bool>,
    walked_wire: Vec<bool>,
    walked_joint: Vec<bool>,
    hubs: Vec<Hub>,
    chains: Vec<Chain>,
}

impl Builder<'_> {
    fn build(&mut self) {
        self.walked_unit = vec![false; self.units.len()];
        for index in 0..self.units.len() {
            let unit = self.units[index].clone();
            match unit.shape {
                Shape::Two(_, ends) => {
                    for (side, terminal) in ends.into_iter().enumerate() {
                        // A splice has one terminal for both sides; the first side stands for it.
                        if self.unit_of[terminal.index()].is_none() {
                            self.unit_of[terminal.index()] = Some((index, side));
                        }
                        if self.landings[terminal.index()].len() > 1 && ends[0] != ends[1] {
                            self.add_hub(HubKind::Post, unit.component, &[terminal], false);
                        }
                    }
                }
                Shape::Many(kind, terminals, block_negative) => {
                    self.walked_unit[index] = true;
                    self.add_hub(kind, unit.component, &terminals, block_negative);
                }
            }
        }
        self.walk_from_hubs(0);
        // A chain that ends in the open on both sides begins at a part with a free end.
        for unit in 0..self.units.len() {
            let Shape::Two(_, ends) = self.units[unit].shape else {
                continue;
            };
            for (side, terminal) in ends.into_iter().enumerate() {
                if !self.walked_unit[unit] && self.landings[terminal.index()].is_empty() {
                    let mut items = Vec::new();
                    let end = self.walk_cell(unit, side, &mut items);
                    self.chains.push(Chain {
                        ends: [None, end],
                        items,
                        outer: [None; 2],
                    });
                    self.note_end(self.chains.len() - 1, 1);
                }
            }
        }
        // What is left runs in a ring without any hub: the negative post of a battery becomes one.
        for battery_first in [true, false] {
            for unit in 0..self.units.len() {
                let Shape::Two(kind, ends) = self.units[unit].shape else {
                    continue;
                };
                let wanted = matches!(kind, CellKind::Battery(_)) || !battery_first;
                if wanted && !self.walked_unit[unit] && ends[0] != ends[1] {
                    let first = self.hubs.len();
                    let component = self.units[unit].component;
                    self.add_hub(HubKind::Post, component, &[ends[1]], false);
                    self.walk_from_hubs(first);
                }
            }
        }
        // Two splices joined by two conductors are a ring without a part of two terminals.
        for unit in 0..self.units.len() {
            if let (false, Shape::Two(_, ends)) = (self.walked_unit[unit], &self.units[unit].shape)
            {
                let (component, terminal) = (self.units[unit].component, ends[0]);
                self.walked_unit[unit] = true;
                let first = self.hubs.len();
                self.add_hub(HubKind::Splice, component, &[terminal], false);
                self.walk_from_hubs(first);
            }
        }
    }

    fn add_hub(
        &mut self,
        kind: HubKind,
        component: ComponentId,
        terminals: &[TerminalId],
        block_negative: bool,
    ) {
        let hub = self.hubs.len();
        let ports = terminals
            .iter()
            .enumerate()
            .map(|(port, &terminal)| {
                self.port_of[terminal.index()] = Some((hub, port));
                let links = &self.system.nodes[self.system.node_of(terminal).index()].links;
                let device = links.iter().find_map(|link| {
                    let link = &self.system.links[link.index()];
                    match link.kind {
                        LinkKind::Device(device)
                            if link.b == terminal && kind == HubKind::Block =>
                        {
                            Some(device)
                        }
                        _ => None,
                    }
                });
                Port {
                    terminal,
                    device,
                    chains: Vec::new(),
                }
            })
            .collect();
        self.hubs.push(Hub {
            kind,
            component,
            ports,
            block_negative,
        });
    }

    fn walk_from_hubs(&mut self, first: usize) {
        let mut hub = first;
        while hub < self.hubs.len() {
            for port in 0..self.hubs[hub].ports.len() {
                let terminal = self.hubs[hub].ports[port].terminal;
                if self.hubs[hub].kind == HubKind::Post
                    && let Some((unit, side)) = self.unit_of[terminal.index()]
                    && !self.walked_unit[unit]
                {
                    let mut items = Vec::new();
                    let end = self.walk_cell(unit, side, &mut items);
                    self.add_chain((hub, port), end, items);
                }
                for index in 0..self.landings[terminal.index()].len() {
                    let landing = self.landings[terminal.index()][index];
                    let mut items = Vec::new();
                    if let Some(end) = self.walk_landing(landing, terminal, &mut items) {
                        self.add_chain((hub, port), end, items);
                    }
                }
            }
            hub += 1;
        }
    }

    fn add_chain(&mut self, start: (usize, usize), end: ChainEnd, items: Vec<Item>) {
        let chain = self.chains.len();
        self.chains.push(Chain {
            ends: [Some(start), end],
            items,
            outer: [None; 2],
        });
        self.note_end(chain, 0);
        self.note_end(chain, 1);
    }

    fn note_end(&mut self, chain: usize, end: usize) {
        if let Some((hub, port)) = self.chains[chain].ends[end] {
            self.hubs[hub].ports[port].chains.push((chain, end));
        }
    }

    /// Walks along what lands on a terminal; none when it has been walked before.
    fn walk_landing(
        &mut self,
        landing: Landing,
        from: TerminalId,
        items: &mut Vec<Item>,
    ) -> Option<ChainEnd> {
        let (item, ends, walked) = match landing {
            Landing::Wire(id) => {
                let conductor = &self.system.conductors[id.index()];
                (
                    Item::Wire(id),
                    [conductor.from, conductor.to],
                    &mut self.walked_wire[id.index()],
                )
            }
            Landing::Joint(id) => {
                let link = &self.system.links[id.index()];
                (
                    Item::Joint(id),
                    [link.a, link.b],
                    &mut self.walked_joint[id.index()],
                )
            }
        };
        if std::mem::replace(walked, true) {
            return None;
        }
        items.push(item);
        let far = if ends[0] == from { ends[1] } else { ends[0] };
        Some(self.arrive(far, items))
    }

    /// Goes on from a terminal at which a chain arrives.
    fn arrive(&mut self, terminal: TerminalId, items: &mut Vec<Item>) -> ChainEnd {
        if self.port_of[terminal.index()].is_some() {
            return self.port_of[terminal.index()];
        }
        match self.unit_of[terminal.index()] {
            Some((unit, side)) if !self.walked_unit[unit] => self.walk_cell(unit, side, items),
            _ => None,
        }
    }

    /// Passes through parts in line, beginning at one side of one, until a hub or an open end.
    fn walk_cell(&mut self, unit: usize, side: usize, items: &mut Vec<Item>) -> ChainEnd {
        let (mut unit, mut side) = (unit, side);
        loop {
            self.walked_unit[unit] = true;
            let Shape::Two(kind, ends) = self.units[unit].shape else {
                return None;
            };
            let directed = if side == 0 { ends } else { [ends[1], ends[0]] };
            items.push(Item::Cell(Cell {
                component: self.units[unit].component,
                kind,
                ends: directed,
            }));
            let exit = directed[1];
            if self.port_of[exit.index()].is_some() {
                return self.port_of[exit.index()];
            }
            let mut next = None;
            for index in 0..self.landings[exit.index()].len() {
                let (item, far, walked) = match self.landings[exit.index()][index] {
                    Landing::Wire(id) => {
                        let far = self.system.conductors[id.index()].across(exit);
                        (Item::Wire(id), far, &mut self.walked_wire[id.index()])
                    }
                    Landing::Joint(id) => {
                        let far = self.system.links[id.index()].across(exit);
                        (Item::Joint(id), far, &mut self.walked_joint[id.index()])
                    }
                };
                if !std::mem::replace(walked, true) {
                    next = Some((item, far));
                    break;
                }
            }
            let (item, far) = next?;
            items.push(item);
            if self.port_of[far.index()].is_some() {
                return self.port_of[far.index()];
            }
            match self.unit_of[far.index()] {
                Some((following, entered)) if !self.walked_unit[following] => {
                    (unit, side) = (following, entered);
                }
                _ => return None,
            }
        }
    }
}
