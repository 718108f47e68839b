//! What an ohmmeter shows between two points of a boat without batteries.
//!
//! A meter puts a small voltage on a load, and few loads answer with V / I: a motor that stands still shows its
//! winding, a cold filament a tenth of its hot resistance, electronics anything. So most steps ask only that there is
//! no short. These shares are common practice, no source.

use super::plan::{BAND_SHARE, Expected, LEAST_OHMS, Reason};
use crate::analysis::solve::State;
use crate::analysis::states::ends;
use crate::system::{Behaviour, LinkKind, Load, LoadId, LoadKind, NodeId, System};
use crate::units::Ohms;

/// Share of V / I that a cold filament or a winding at rest still has.
const COLD_SHARE: f64 = 0.1;
/// Most that a load without a figure of its own is asked for.
const ANY: Ohms = Ohms(1.0);

/// What shows between two nodes; `load` is the one that the step is about, where it is about one.
pub(super) fn between(
    system: &System,
    state: &State,
    (red, black): (NodeId, NodeId),
    load: Option<LoadId>,
) -> Expected {
    if red == black {
        return Expected::NotComputed(Reason::Joined);
    }
    let from_red = joined(system, state, red);
    if from_red[black.index()] {
        return Expected::NotComputed(Reason::Joined);
    }
    let from_black = joined(system, state, black);
    let mut across: Vec<LoadId> = Vec::new();
    for (index, record) in system.loads.iter().enumerate() {
        let (a, b) = ends(system, record.link);
        let spans = |a: NodeId, b: NodeId| from_red[a.index()] && from_black[b.index()];
        if spans(a, b) || spans(b, a) {
            across.push(LoadId::at(index));
        }
    }
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
        LoadKind::Motor if least >= LEAST_OHMS => Expected::Within(least, running),
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

/// Nodes that links other than loads and sources join to a node.
fn joined(system: &System, state: &State, from: NodeId) -> Vec<bool> {
    let mut joined = vec![false; system.nodes.len()];
    joined[from.index()] = true;
    let mut waiting = vec![from];
    while let Some(node) = waiting.pop() {
        for &link in &system.nodes[node.index()].links {
            let open = match system.links[link.index()].kind {
                // A diode shows its knee one way and nothing the other: it is not asked to be a path.
                LinkKind::Load(_) | LinkKind::Source(_) | LinkKind::Diode { .. } => true,
                _ => !state.closes(system, link),
            };
            let (a, b) = ends(system, link);
            let next = if a == node { b } else { a };
            if !open && !joined[next.index()] {
                joined[next.index()] = true;
                waiting.push(next);
            }
        }
    }
    joined
}
