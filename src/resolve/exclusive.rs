//! What the coils of relays need of other parts, and the relays that cannot be pulled together for it: one switch feeds
//! their coils in different positions.
//!
//! Only what the wiring says at once is followed: from each end of a coil along the one way that leads on. Where it
//! branches nothing more is said, so no combination is left out that could occur.

use super::Resolver;
use crate::system::{ENERGISED, GearId, GearKind, Interlock, LinkId, LinkKind, System};
use std::collections::BTreeMap;

/// Pairs of relays told apart; a boat with more has the further ones pulled in all combinations.
const MAX_PAIRS: usize = 256;

/// By part: the positions that it must stand in for the coil to be live.
pub(super) type Needs = BTreeMap<GearId, Vec<u16>>;

/// The relays whose coils need other parts to stand in some positions, with those positions.
pub(super) fn coils(system: &System) -> Vec<(GearId, Needs)> {
    let relays = || {
        let gears = system.gears.iter().enumerate();
        gears.filter(|(_, gear)| gear.kind == GearKind::Relay && gear.coil.is_some())
    };
    if relays().next().is_none() {
        return Vec::new();
    }
    let ways = Ways::new(system);
    relays()
        .map(|(index, _)| GearId::at(index))
        .map(|relay| (relay, ways.needs(system, relay)))
        .filter(|(_, needs)| !needs.is_empty())
        .collect()
}

impl Resolver<'_> {
    /// Adds an interlock for each pair of relays whose coils need one switch in different positions.
    pub(super) fn exclusive_coils(&mut self, coils: &[(GearId, Needs)]) {
        let mut pairs = Vec::new();
        for (index, (one, needs)) in coils.iter().enumerate() {
            for (other, others) in &coils[index + 1..] {
                if pairs.len() < MAX_PAIRS && are_exclusive(needs, others) {
                    pairs.push((*one, *other));
                }
            }
        }
        for (one, other) in pairs {
            let component = self.system.gears[one.index()].component;
            self.system.interlocks.push(Interlock {
                never: vec![(one, ENERGISED), (other, ENERGISED)],
                span: self.system.components[component.index()].span,
            });
        }
    }
}

/// Whether some part would have to stand in two positions at once.
fn are_exclusive(one: &Needs, other: &Needs) -> bool {
    one.iter().any(|(gear, positions)| {
        other
            .get(gear)
            .is_some_and(|others| !positions.iter().any(|position| others.contains(position)))
    })
}

/// The links that can conduct, by node, and the nodes with a pole of a source.
struct Ways {
    links: Vec<Vec<LinkId>>,
    is_pole: Vec<bool>,
}

impl Ways {
    fn new(system: &System) -> Self {
        let mut ways = Self {
            links: vec![Vec::new(); system.nodes.len()],
            is_pole: vec![false; system.nodes.len()],
        };
        for (index, link) in system.links.iter().enumerate() {
            let ends = [link.a, link.b].map(|end| system.node_of(end).index());
            let conducts = match &link.kind {
                LinkKind::Source(_) => {
                    for end in ends {
                        ways.is_pole[end] = true;
                    }
                    false
                }
                LinkKind::Load(_) => false,
                LinkKind::Device(device) => !system.devices[device.index()].spare,
                LinkKind::Contact { closed_in, .. } => !closed_in.is_empty(),
                _ => true,
            };
            if conducts && ends[0] != ends[1] {
                for end in ends {
                    ways.links[end].push(LinkId::at(index));
                }
            }
        }
        ways
    }

    /// The positions of other parts without which no current comes to one end of a relay's coil.
    fn needs(&self, system: &System, relay: GearId) -> Needs {
        let mut needs = Needs::new();
        let Some(coil) = system.gears[relay.index()].coil else {
            return needs;
        };
        let link = &system.links[system.loads[coil.index()].link.index()];
        for end in [link.a, link.b] {
            let mut node = system.node_of(end).index();
            let mut came: Option<LinkId> = None;
            // A ring without a branch would never end.
            for _ in 0..system.links.len() {
                let mut onward = self.links[node].iter().filter(|&&it| Some(it) != came);
                let (Some(&next), None, false) = (onward.next(), onward.next(), self.is_pole[node])
                else {
                    break;
                };
                let link = &system.links[next.index()];
                if let LinkKind::Contact { gear, closed_in } = &link.kind {
                    needs
                        .entry(*gear)
                        .and_modify(|known| known.retain(|it| closed_in.contains(it)))
                        .or_insert_with(|| closed_in.clone());
                }
                let (a, b) = (
                    system.node_of(link.a).index(),
                    system.node_of(link.b).index(),
                );
                node = if a == node { b } else { a };
                came = Some(next);
            }
        }
        needs.remove(&relay);
        needs
    }
}
