//! Parts of a circuit as circuits of their own: what the overview, and the sheets of one zone, circuit or part, draw.
//!
//! Hubs and chains are chosen and trimmed here; nothing is measured and nothing new is said of the boat.

use super::circuit::{Chain, ChainEnd, Circuit, Hub, HubKind, Item, Outer};
use crate::system::{
    CircuitId, ComponentId, ComponentKind, ConductorId, LinkKind, System, TerminalId, ZoneId,
};

/// The part of a boat that sheets of their own show.
///
/// A conductor is on them when it belongs to the part or has an end in it, and then whole; what it goes on to is named
/// where it is not drawn.
#[derive(Clone, Debug)]
pub struct Selection {
    /// What it is, in words: `zone cabin`.
    pub title: String,
    /// By conductor: it is drawn.
    wires: Vec<bool>,
    /// By terminal: it is drawn as itself, and not as a reference.
    terminals: Vec<bool>,
    /// By terminal: parts bolted to it belong to the selection too.
    centre: Vec<bool>,
    /// By component: drawn with the terminals on which nothing lands.
    whole: Vec<bool>,
}

impl Selection {
    /// Everything in a zone, and every conductor that begins or ends there.
    #[must_use]
    pub fn zone(system: &System, zone: ZoneId) -> Self {
        let terminals: Vec<bool> = (0..system.terminals.len())
            .map(|index| system.zone_of(TerminalId::at(index)) == Some(zone))
            .collect();
        Self {
            title: format!("zone {}", system.zones[zone.index()].name),
            wires: touching(system, &terminals),
            whole: system
                .components
                .iter()
                .map(|component| component.zone == Some(zone))
                .collect(),
            centre: terminals.clone(),
            terminals,
        }
    }

    /// The conductors of a circuit, and the parts that they join.
    #[must_use]
    pub fn circuit(system: &System, circuit: CircuitId) -> Self {
        let record = &system.circuits[circuit.index()];
        let title = if record.function.is_empty() || record.function == record.name {
            format!("circuit {}", record.name)
        } else {
            format!("circuit {}, {}", record.name, record.function)
        };
        Self::of_wires(system, title, &record.conductors)
    }

    /// The conductors in line with a load, up to where others join; none of a part that is no load or has no wire.
    #[must_use]
    pub fn circuit_of_load(system: &System, component: ComponentId) -> Option<Self> {
        let record = &system.components[component.index()];
        if record.kind != ComponentKind::Load {
            return None;
        }
        let circuit = Circuit::new(system);
        let at_hub = |place: &(usize, usize)| circuit.hubs[place.0].component == component;
        let conductors: Vec<ConductorId> = circuit
            .chains
            .iter()
            .filter(|chain| {
                chain.cells().any(|cell| cell.component == component)
                    || chain.ends.iter().flatten().any(at_hub)
            })
            .flat_map(|chain| &chain.items)
            .filter_map(|item| match item {
                Item::Wire(id) => Some(*id),
                _ => None,
            })
            .collect();
        (!conductors.is_empty())
            .then(|| Self::of_wires(system, format!("circuit of {}", record.name), &conductors))
    }

    /// One part, all that is wired to it, and the conductors between.
    #[must_use]
    pub fn part(system: &System, component: ComponentId) -> Self {
        let own: Vec<bool> = system
            .terminals
            .iter()
            .map(|terminal| terminal.component == component)
            .collect();
        let wires = touching(system, &own);
        let mut terminals = own.clone();
        for link in &system.links {
            let ends = [link.a.index(), link.b.index()];
            let lands = match link.kind {
                LinkKind::Conductor(_) | LinkKind::Joint => ends.iter().any(|&end| own[end]),
                _ => false,
            };
            if lands {
                for end in ends {
                    terminals[end] = true;
                }
            }
        }
        let mut whole = vec![false; system.components.len()];
        whole[component.index()] = true;
        Self {
            title: format!("part {}", system.components[component.index()].name),
            wires,
            terminals,
            centre: own,
            whole,
        }
    }

    fn of_wires(system: &System, title: String, conductors: &[ConductorId]) -> Self {
        let mut wires = vec![false; system.conductors.len()];
        let mut terminals = vec![false; system.terminals.len()];
        for id in conductors {
            let conductor = &system.conductors[id.index()];
            wires[id.index()] = true;
            terminals[conductor.from.index()] = true;
            terminals[conductor.to.index()] = true;
        }
        Self {
            title,
            wires,
            terminals,
            centre: vec![false; system.terminals.len()],
            whole: vec![false; system.components.len()],
        }
    }

    /// Whether a conductor is drawn.
    #[must_use]
    pub fn has(&self, conductor: ConductorId) -> bool {
        self.wires[conductor.index()]
    }

    /// Whether a terminal is drawn as itself.
    pub(super) fn has_terminal(&self, terminal: TerminalId) -> bool {
        self.terminals[terminal.index()]
    }
}

/// Most conductors that a reference names one by one; the others stand in the index of the whole boat.
const MOST_LANDING: usize = 4;

/// By conductor: it lands on one of these terminals.
fn touching(system: &System, terminals: &[bool]) -> Vec<bool> {
    system
        .conductors
        .iter()
        .map(|conductor| terminals[conductor.from.index()] || terminals[conductor.to.index()])
        .collect()
}

/// A part of a boat cut out of its circuit.
struct Cutter<'a> {
    system: &'a System,
    circuit: &'a Circuit,
    selection: &'a Selection,
    /// By terminal: it is drawn, because a part that is drawn has it.
    drawn: Vec<bool>,
    outer: Vec<Outer>,
}

/// The part of a circuit that a selection shows; what its conductors go on to beyond it is named at their ends.
pub(super) fn selected(system: &System, circuit: &Circuit, selection: &Selection) -> Circuit {
    let mut cutter = Cutter {
        system,
        circuit,
        selection,
        drawn: selection.terminals.clone(),
        outer: Vec::new(),
    };
    for cell in circuit.chains.iter().flat_map(Chain::cells) {
        if cutter.has_cell(cell.ends) {
            for end in cell.ends {
                cutter.drawn[end.index()] = true;
            }
        }
    }
    let mut kept = Vec::new();
    for chain in &circuit.chains {
        cutter.cut(chain, &mut kept);
    }
    let whole = |hub: &Hub| selection.whole[hub.component.index()];
    let mut part = chosen(circuit, kept, &whole);
    part.outer = cutter.outer;
    part.partial = true;
    part
}

impl Cutter<'_> {
    fn has_cell(&self, ends: [TerminalId; 2]) -> bool {
        ends.iter().any(|end| self.selection.terminals[end.index()])
    }

    fn has(&self, item: &Item) -> bool {
        match *item {
            Item::Wire(id) => self.selection.has(id),
            Item::Cell(cell) => self.has_cell(cell.ends),
            Item::Joint(id) => {
                let link = &self.system.links[id.index()];
                let ends = [link.a.index(), link.b.index()];
                ends.iter().any(|&end| self.selection.centre[end])
                    || ends.iter().all(|&end| self.drawn[end])
            }
        }
    }

    /// Adds every run of a chain that is drawn.
    fn cut(&mut self, chain: &Chain, kept: &mut Vec<Kept>) {
        let count = chain.items.len();
        let mut at = 0;
        while at < count {
            if !self.has(&chain.items[at]) {
                at += 1;
                continue;
            }
            let first = at;
            while at < count && self.has(&chain.items[at]) {
                at += 1;
            }
            let mut part = Kept {
                ends: [None; 2],
                items: chain.items[first..at].to_vec(),
                outer: [None; 2],
            };
            let neighbours = [
                first.checked_sub(1).map(|before| chain.items[before]),
                chain.items.get(at).copied(),
            ];
            for (end, neighbour) in neighbours.into_iter().enumerate() {
                let hub = match neighbour {
                    Some(_) => None,
                    None => chain.ends[end],
                };
                let last = if end == 0 { first } else { at - 1 };
                part.ends[end] = hub.filter(|&place| self.has_port(place));
                if part.ends[end].is_none() {
                    part.outer[end] = self.beyond(chain.items[last], end, neighbour, hub);
                }
            }
            kept.push(part);
        }
    }

    fn has_port(&self, (hub, port): (usize, usize)) -> bool {
        let hub = &self.circuit.hubs[hub];
        self.selection.whole[hub.component.index()]
            || self.selection.terminals[hub.ports[port].terminal.index()]
    }

    /// What a run goes on to behind its last item at one end; none where the boat ends there too.
    fn beyond(
        &mut self,
        last: Item,
        end: usize,
        neighbour: Option<Item>,
        hub: ChainEnd,
    ) -> Option<usize> {
        let port = hub.map(|(hub, port)| self.circuit.hubs[hub].ports[port].terminal);
        // The terminal at which a part behind the run begins, or the bar does.
        let next = match neighbour {
            Some(Item::Cell(cell)) => Some(cell.ends[1 - end]),
            _ => port,
        };
        let (wire, far, words) = match last {
            // A conductor whose other end is not drawn.
            Item::Wire(id) => (Some(id), next?, self.towards(next?)),
            Item::Joint(_) => (None, next?, format!("bolted {}", self.towards(next?))),
            // A part behind which nothing is drawn: what lands on its far terminal.
            Item::Cell(cell) => {
                let terminal = cell.ends[end];
                let far = match neighbour {
                    Some(Item::Wire(id)) => self.system.conductors[id.index()].across(terminal),
                    Some(Item::Joint(id)) => self.system.links[id.index()].across(terminal),
                    Some(Item::Cell(_)) | None => port?,
                };
                (None, far, self.landing(terminal, far))
            }
        };
        // Of what lands on a part, each terminal is named with its zone.
        let zone = match last {
            Item::Cell(_) => None,
            _ => self.system.zone_of(far),
        };
        self.outer.push(Outer {
            wire,
            far,
            words,
            zone,
        });
        Some(self.outer.len() - 1)
    }

    fn towards(&self, far: TerminalId) -> String {
        format!("to {}", self.system.terminal_name(far))
    }

    /// Where something goes on from a terminal, with the zone where it is another.
    fn away(&self, here: TerminalId, far: TerminalId) -> String {
        let words = self.towards(far);
        let there = self.system.zone_of(far);
        match there.filter(|_| there != self.system.zone_of(here)) {
            Some(zone) => format!("{words} in zone {}", self.system.zones[zone.index()].name),
            None => words,
        }
    }

    /// Every conductor that lands on a terminal and where it leads; what is bolted there where none does.
    fn landing(&self, terminal: TerminalId, far: TerminalId) -> String {
        let landing: Vec<String> = self
            .system
            .conductors
            .iter()
            .filter(|conductor| conductor.from == terminal || conductor.to == terminal)
            .map(|conductor| {
                let words = self.away(terminal, conductor.across(terminal));
                format!("{} {words}", conductor.number)
            })
            .collect();
        if landing.is_empty() {
            return format!("bolted {}", self.away(terminal, far));
        }
        let shown = landing.len().min(MOST_LANDING);
        let words = landing[..shown].join("; ");
        match landing.len() - shown {
            0 => words,
            more => format!("{words}; and {more} more"),
        }
    }
}

/// A chain of the new circuit: where it ends in the old one, and its items.
#[derive(Clone, Debug)]
pub(super) struct Kept {
    pub(super) ends: [ChainEnd; 2],
    pub(super) items: Vec<Item>,
    /// What it goes on to beyond each end.
    pub(super) outer: [Option<usize>; 2],
}

impl Kept {
    /// A whole chain.
    pub(super) fn whole(chain: &Chain) -> Self {
        Self {
            ends: chain.ends,
            items: chain.items.clone(),
            outer: [None; 2],
        }
    }

    /// The beginning of a chain as seen from one end, up to an item; it ends in the open.
    pub(super) fn beginning(chain: &Chain, end: usize, last: usize) -> Self {
        let items = if end == 0 {
            chain.items[..=last].to_vec()
        } else {
            chain.items[last..].iter().rev().map(turned).collect()
        };
        Self {
            ends: [chain.ends[end], None],
            items,
            outer: [None; 2],
        }
    }
}

/// An item passed through from its other side.
pub(super) fn turned(item: &Item) -> Item {
    match *item {
        Item::Cell(mut cell) => {
            cell.ends.reverse();
            Item::Cell(cell)
        }
        other => other,
    }
}

/// The circuit of some chains, with the hubs and ports that they end at.
pub(super) fn circuit_of(circuit: &Circuit, kept: Vec<Kept>) -> Circuit {
    chosen(circuit, kept, &|_| false)
}

/// The circuit of some chains; hubs that are wanted whole keep the ports at which no chain ends.
fn chosen(circuit: &Circuit, kept: Vec<Kept>, whole: &dyn Fn(&Hub) -> bool) -> Circuit {
    let mut used: Vec<Vec<Vec<(usize, usize)>>> = circuit
        .hubs
        .iter()
        .map(|hub| vec![Vec::new(); hub.ports.len()])
        .collect();
    for (index, chain) in kept.iter().enumerate() {
        for (end, place) in chain.ends.into_iter().enumerate() {
            if let Some((hub, port)) = place {
                used[hub][port].push((index, end));
            }
        }
    }
    // Where every hub and port goes.
    let mut places: Vec<Vec<ChainEnd>> = Vec::with_capacity(used.len());
    let mut hubs: Vec<Hub> = Vec::new();
    for (hub, ports) in circuit.hubs.iter().zip(used) {
        let mut place = vec![None; ports.len()];
        let all = whole(hub) && !matches!(hub.kind, HubKind::Post | HubKind::Splice);
        if all || ports.iter().any(|chains| !chains.is_empty()) {
            let mut left = Hub {
                ports: Vec::new(),
                ..hub.clone()
            };
            for ((port, chains), place) in hub.ports.iter().zip(ports).zip(&mut place) {
                if all || !chains.is_empty() {
                    *place = Some((hubs.len(), left.ports.len()));
                    let mut port = port.clone();
                    port.chains = chains;
                    left.ports.push(port);
                }
            }
            hubs.push(left);
        }
        places.push(place);
    }
    let chains = kept
        .into_iter()
        .map(|chain| Chain {
            ends: chain
                .ends
                .map(|end| end.and_then(|(hub, port)| places[hub][port])),
            items: chain.items,
            outer: chain.outer,
        })
        .collect();
    Circuit {
        hubs,
        chains,
        ..circuit.clone()
    }
}
