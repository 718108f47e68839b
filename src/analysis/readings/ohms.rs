//! What an ohmmeter shows between two points of a boat without batteries.
//!
//! A meter puts a small voltage on a load, and few loads answer with V / I: a motor that stands still shows its
//! winding, a cold filament a tenth of its hot resistance, electronics anything. So most steps ask only that there is
//! no short. These shares are common practice, no source.

use super::feeds;
use super::step::{BAND_SHARE, Expected, LEAST_OHMS, Reason, Setting, fitted};
use crate::analysis::solve::Groups;
use crate::analysis::states::ends;
use crate::system::{Behaviour, LinkId, LinkKind, Load, LoadId, LoadKind, NodeId, System};
use crate::units::Ohms;
use std::collections::BTreeSet;

/// Share of V / I that a cold filament or a winding at rest still has.
const COLD_SHARE: f64 = 0.1;
/// Most that a load without a figure of its own is asked for.
const ANY: Ohms = Ohms(1.0);

/// Nodes that are joined whatever the positions, and what can join them further.
pub(super) struct Wired {
    /// Number of each node's part.
    part: Vec<usize>,
    rest: Vec<u16>,
    /// By part: contacts and devices that end on it.
    gates: Vec<Vec<LinkId>>,
    /// By part: loads that end on it.
    loads: Vec<Vec<LoadId>>,
}

impl Wired {
    pub(super) fn new(system: &System) -> Self {
        let mut joined = Groups::new(system.nodes.len());
        for (index, link) in system.links.iter().enumerate() {
            if let LinkKind::Conductor(_) | LinkKind::Mate { .. } | LinkKind::Joint = link.kind {
                let (a, b) = ends(system, LinkId::at(index));
                joined.join(a.index(), b.index(), 0.0);
            }
        }
        let (part, parts) = joined.number();
        let mut gates = vec![Vec::new(); parts];
        for (index, link) in system.links.iter().enumerate() {
            if let LinkKind::Contact { .. } | LinkKind::Device(_) = link.kind {
                let (a, b) = ends(system, LinkId::at(index));
                for node in [a, b] {
                    gates[part[node.index()]].push(LinkId::at(index));
                }
            }
        }
        let mut loads = vec![Vec::new(); parts];
        for (index, load) in system.loads.iter().enumerate() {
            let (a, b) = ends(system, load.link);
            for node in [a, b] {
                loads[part[node.index()]].push(LoadId::at(index));
            }
        }
        Self {
            part,
            rest: feeds::rest(system),
            gates,
            loads,
        }
    }

    /// What shows between two nodes; `load` is the one that the step is about, where it is about one.
    pub(super) fn between(
        &self,
        system: &System,
        setting: &Setting,
        (red, black): (NodeId, NodeId),
        load: Option<LoadId>,
    ) -> Expected {
        let from_red = self.joined(system, setting, red);
        if from_red.contains(&self.part[black.index()]) {
            return Expected::NotComputed(Reason::Joined);
        }
        let from_black = self.joined(system, setting, black);
        let mut across: Vec<LoadId> = from_red
            .iter()
            .flat_map(|&part| &self.loads[part])
            .copied()
            .filter(|load| {
                let (a, b) = ends(system, system.loads[load.index()].link);
                [a, b]
                    .iter()
                    .any(|node| from_black.contains(&self.part[node.index()]))
            })
            .collect();
        across.sort_unstable();
        across.dedup();
        match across.as_slice() {
            [] if load.is_some() => Expected::NotComputed(Reason::Unfed),
            [] => Expected::OpenLine,
            [only] => alone(*only, &system.loads[only.index()]),
            several => {
                // In parallel at their least.
                let mut conductance = 0.0;
                for &load in several {
                    match least(&system.loads[load.index()]) {
                        Some(ohms) => conductance += 1.0 / ohms.0,
                        None => return Expected::NotComputed(Reason::Draw(load)),
                    }
                }
                at_least(Ohms(1.0 / conductance))
            }
        }
    }

    /// Parts that closed contacts and fitted devices join to a node.
    ///
    /// A diode shows its knee one way and nothing the other: it is not asked to be a path.
    fn joined(&self, system: &System, setting: &Setting, from: NodeId) -> BTreeSet<usize> {
        let start = self.part[from.index()];
        let mut joined = BTreeSet::from([start]);
        let mut waiting = vec![start];
        while let Some(part) = waiting.pop() {
            for &link in &self.gates[part] {
                let open = match &system.links[link.index()].kind {
                    LinkKind::Contact { gear, closed_in } => {
                        let moved = setting.moved.iter().find(|(moved, _)| moved == gear);
                        let position =
                            moved.map_or(self.rest[gear.index()], |&(_, position)| position);
                        !closed_in.contains(&position)
                    }
                    LinkKind::Device(device) => {
                        system.devices[device.index()].spare
                            || !fitted(system, &setting.fitted, *device)
                    }
                    _ => true,
                };
                if open {
                    continue;
                }
                let (a, b) = ends(system, link);
                for node in [a, b] {
                    let next = self.part[node.index()];
                    if joined.insert(next) {
                        waiting.push(next);
                    }
                }
            }
        }
        joined
    }
}

/// What one load shows.
fn alone(id: LoadId, load: &Load) -> Expected {
    let Some(least) = least(load) else {
        return Expected::NotComputed(Reason::Draw(id));
    };
    let Some(running) = running(load) else {
        return Expected::NotComputed(Reason::Draw(id));
    };
    if load.behaviour == Behaviour::Resistance {
        let (low, high) = (running * (1.0 - BAND_SHARE), running * (1.0 + BAND_SHARE));
        return if low < LEAST_OHMS {
            Expected::TooSmall
        } else {
            Expected::Within(low, high)
        };
    }
    match load.kind {
        LoadKind::Motor if least >= LEAST_OHMS => Expected::Winding(least, running),
        LoadKind::Motor | LoadKind::Starter if running < LEAST_OHMS * 5.0 => Expected::TooSmall,
        LoadKind::Motor | LoadKind::Starter => Expected::AtMost(running),
        _ => at_least(least),
    }
}

fn at_least(ohms: Ohms) -> Expected {
    if ohms < LEAST_OHMS {
        Expected::TooSmall
    } else {
        Expected::AtLeast(ohms)
    }
}

/// V / I at nominal voltage.
fn running(load: &Load) -> Option<Ohms> {
    let current = load.current().filter(|current| current.0 > 0.0)?;
    Some(load.nominal.value / current)
}

/// The least that a sound load may show.
fn least(load: &Load) -> Option<Ohms> {
    if let LoadKind::Electronics | LoadKind::Outlet | LoadKind::ConverterInput = load.kind {
        return Some(ANY);
    }
    let running = running(load)?;
    Some(match load.kind {
        LoadKind::Motor | LoadKind::Starter => match load.stall {
            // A locked rotor draws V over its winding.
            Some(stall) if stall.value.0 > 0.0 => {
                load.nominal.value / stall.value * (1.0 - BAND_SHARE)
            }
            _ => running * COLD_SHARE,
        },
        _ if load.behaviour == Behaviour::Resistance => running * (1.0 - BAND_SHARE),
        _ => (running * COLD_SHARE).min(ANY),
    })
}
