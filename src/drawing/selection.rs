//! Parts of a circuit as circuits of their own: what the overview, and the sheets of one zone or circuit, draw.
//!
//! Hubs and chains are chosen and trimmed here; nothing is measured and nothing new is said of the boat.

use super::circuit::{Chain, ChainEnd, Circuit, Hub, Item};

/// A chain of the new circuit: where it ends in the old one, and its items.
#[derive(Clone, Debug)]
pub(super) struct Kept {
    pub(super) ends: [ChainEnd; 2],
    pub(super) items: Vec<Item>,
}

impl Kept {
    /// A whole chain.
    pub(super) fn whole(chain: &Chain) -> Self {
        Self {
            ends: chain.ends,
            items: chain.items.clone(),
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
        if ports.iter().any(|chains| !chains.is_empty()) {
            let mut left = Hub {
                ports: Vec::new(),
                ..hub.clone()
            };
            for ((port, chains), place) in hub.ports.iter().zip(ports).zip(&mut place) {
                if !chains.is_empty() {
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
        })
        .collect();
    Circuit {
        hubs,
        chains,
        ..circuit.clone()
    }
}
