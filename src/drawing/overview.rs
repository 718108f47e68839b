//! The overview: the whole boat with one line for both poles, and the circuits of every hub told together.
//!
//! It holds sources, battery switches, buses, blocks and feeders, and names the place of each hub on the other sheets.

use super::circuit::{Bunch, Cell, CellKind, Circuit, HubKind, Item, Port};
use super::layout::WIDEST_PLACE;
use super::scene::{Form, Pole, Role};
use super::selection::{Kept, circuit_of, turned};
use super::words::short;
use super::{Rendered, frame};
use crate::system::{ComponentKind, LoadId, System};
use std::collections::BTreeMap;

/// Most circuits of a bus or a terminal that are drawn one by one.
const MOST_SINGLE: usize = 2;

/// The boat with one line for both poles.
pub(super) fn single_line(system: &System, circuit: &Circuit) -> Circuit {
    let mut base = circuit.clone();
    base.single_line = true;
    let mut kept: Vec<Kept> = Vec::new();
    // Circuits by the hub that feeds them: the chain, and its end there.
    let mut fed: BTreeMap<usize, Vec<(usize, usize)>> = BTreeMap::new();
    for (index, chain) in circuit.chains.iter().enumerate() {
        let positive = |end: usize| {
            chain.ends[end].filter(|&(hub, port)| {
                circuit.pole(system, hub, port) == Pole::Positive
                    && !is_consumer(system, circuit, hub)
                    && circuit.hubs[hub].kind != HubKind::Ground
            })
        };
        let to_consumer = chain
            .ends
            .iter()
            .flatten()
            .any(|&(hub, _)| is_consumer(system, circuit, hub));
        let near = (0..2).find(|&end| positive(end).is_some());
        let loaded = chain.has_load() || to_consumer;
        match (near, loaded) {
            (Some(end), true) => {
                if let Some((hub, _)) = chain.ends[end] {
                    fed.entry(hub).or_default().push((index, end));
                }
            }
            (Some(end), false) if positive(1 - end).is_some() => {
                let wires = || {
                    chain.items.iter().filter_map(|item| match item {
                        Item::Wire(id) => Some(&system.conductors[id.index()]),
                        _ => None,
                    })
                };
                let sense = wires().next().is_some() && wires().all(|wire| wire.sense);
                if !sense {
                    kept.push(Kept::whole(chain));
                }
            }
            (Some(end), false) if chain.has_source() => {
                // From the hub to the source that lies farthest along.
                let is_source =
                    |item: &Item| matches!(item, Item::Cell(cell) if cell.kind.is_source());
                let last = if end == 0 {
                    chain.items.iter().rposition(is_source)
                } else {
                    chain.items.iter().position(is_source)
                };
                if let Some(last) = last {
                    kept.push(Kept::beginning(chain, end, last));
                }
            }
            (None, true) if chain.has_source() => {
                // A boat of one ring: from its source to its load.
                if let Some(items) = ring(&chain.items) {
                    kept.push(Kept {
                        ends: [None, None],
                        items,
                        outer: [None; 2],
                    });
                }
            }
            _ => {}
        }
    }
    for (hub, chains) in fed {
        let single = base.hubs[hub].kind != HubKind::Block && chains.len() <= MOST_SINGLE;
        let mut bunched = Vec::new();
        for &(index, end) in &chains {
            let chain = &circuit.chains[index];
            let is_load = |item: &Item| matches!(item, Item::Cell(cell) if cell.kind.is_load());
            let load = if end == 0 {
                chain.items.iter().position(is_load)
            } else {
                chain.items.iter().rposition(is_load)
            };
            match load {
                Some(load) if single => kept.push(Kept::beginning(chain, end, load)),
                _ => bunched.push((index, end)),
            }
        }
        if !bunched.is_empty() {
            kept.push(bunch(system, &mut base, hub, &bunched));
        }
    }
    circuit_of(&base, kept)
}

/// A load or an instrument with several terminals.
fn is_consumer(system: &System, circuit: &Circuit, hub: usize) -> bool {
    let record = &circuit.hubs[hub];
    let kind = system.components[record.component.index()].kind;
    record.kind == HubKind::Box && matches!(kind, ComponentKind::Load | ComponentKind::Instrument)
}

/// The items of a ring from its first source to its last load, the source's positive side first.
fn ring(items: &[Item]) -> Option<Vec<Item>> {
    let is_source = |item: &Item| matches!(item, Item::Cell(cell) if cell.kind.is_source());
    let is_load = |item: &Item| matches!(item, Item::Cell(cell) if cell.kind.is_load());
    let source = items.iter().position(is_source)?;
    let load = items.iter().rposition(is_load)?;
    Some(if source <= load {
        items[source..=load].to_vec()
    } else {
        items[load..=source].iter().rev().map(turned).collect()
    })
}

/// One line for several circuits of a hub.
fn bunch(system: &System, base: &mut Circuit, hub: usize, chains: &[(usize, usize)]) -> Kept {
    let (mut current, mut unknown) = (0.0, 0);
    for load in chains
        .iter()
        .flat_map(|&(chain, end)| loads_of(system, base, chain, end))
    {
        match system.loads[load.index()].current() {
            Some(amps) => current += amps.0,
            None => unknown += 1,
        }
    }
    let count = match chains.len() {
        1 => "1 circuit".to_owned(),
        more => format!("{more} circuits"),
    };
    let mut told = format!("{} A in all", short((current * 10.0).round() / 10.0));
    if unknown > 0 {
        told = format!("{told}, {unknown} not given");
    }
    let index = u32::try_from(base.bunches.len()).unwrap_or(u32::MAX);
    base.bunches.push(Bunch {
        above: vec![count],
        below: vec![told, format!("see {WIDEST_PLACE}")],
    });
    let record = &mut base.hubs[hub];
    let terminal = chains
        .first()
        .and_then(|&(chain, end)| base.chains[chain].ends[end])
        .map_or(record.ports[0].terminal, |(_, port)| {
            record.ports[port].terminal
        });
    record.ports.push(Port {
        terminal,
        device: None,
        chains: Vec::new(),
    });
    Kept {
        ends: [Some((hub, record.ports.len() - 1)), None],
        items: vec![Item::Cell(Cell {
            component: record.component,
            kind: CellKind::Bunch(index),
            ends: [terminal; 2],
        })],
        outer: [None; 2],
    }
}

/// Loads that a chain feeds: those in line, and the input of a load with several that it ends at.
fn loads_of(system: &System, circuit: &Circuit, chain: usize, end: usize) -> Vec<LoadId> {
    let record = &circuit.chains[chain];
    let mut loads: Vec<LoadId> = record
        .cells()
        .filter_map(|cell| match cell.kind {
            CellKind::Load(load, _) => Some(load),
            _ => None,
        })
        .collect();
    if let Some((hub, port)) = record.ends[1 - end]
        && is_consumer(system, circuit, hub)
    {
        let node = system.node_of(circuit.hubs[hub].ports[port].terminal);
        let own = |load: &&crate::system::Load| {
            load.component == circuit.hubs[hub].component
                && system.node_of(system.links[load.link.index()].a) == node
        };
        loads.extend(
            system
                .loads
                .iter()
                .enumerate()
                .filter(|(_, load)| own(load))
                .map(|(index, _)| LoadId::at(index)),
        );
    }
    loads
}

/// Writes into the overview where each hub stands on the other sheets.
pub(super) fn name_places(overview: &mut Rendered, wiring: &Rendered) {
    let mut places: BTreeMap<&str, String> = BTreeMap::new();
    for sheet in &wiring.sheets {
        for group in &sheet.groups {
            if let Role::Part { name, .. } = &group.role
                && let Some(at) = super::index::spot(group)
            {
                places.entry(name).or_insert_with(|| {
                    format!("{}/{}", sheet.number, frame::field(wiring.format, at))
                });
            }
        }
    }
    for group in overview
        .sheets
        .iter_mut()
        .flat_map(|sheet| &mut sheet.groups)
    {
        let Role::Part { name, .. } = &group.role else {
            continue;
        };
        let place = places.get(name.as_str()).map_or("", String::as_str);
        for shape in &mut group.shapes {
            if let Form::Text { text, .. } = &mut shape.form
                && text.contains(WIDEST_PLACE)
            {
                *text = text.replace(WIDEST_PLACE, place);
            }
        }
    }
}
