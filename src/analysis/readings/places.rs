//! Where to put probes and clamps: points of distribution, buses, posts, cables, and what parts a load from its bank.

use super::feeds::{self, Feed, Feeds};
use super::step::{Probe, is_way};
use crate::analysis::poles::{Pole, Poles};
use crate::analysis::solve::Groups;
use crate::analysis::states::ends;
use crate::system::{
    Bank, ComponentId, ComponentKind, ConductorId, DeviceId, GearId, GearKind, LinkId, LinkKind,
    LoadId, LoadKind, NodeId, SourceId, System, TerminalId,
};

/// Combinations of battery switch positions in the table of what lives.
const MAX_COMBINATIONS: usize = 24;

/// Where voltage is distributed: feeds of blocks, positive buses, starters, in file order; and for a way that passes
/// none of them, what lies behind its last battery switch or device.
pub(super) fn points(
    system: &System,
    poles: &Poles,
    feeds: &Feeds,
) -> Vec<(ComponentId, TerminalId)> {
    let mut points = Vec::new();
    for (index, component) in system.components.iter().enumerate() {
        let terminal = match component.kind {
            ComponentKind::FuseBlock => component.terminals.first(),
            ComponentKind::Bus => component
                .terminals
                .first()
                .filter(|&&terminal| poles.of(system.node_of(terminal)) == Pole::Positive),
            _ => None,
        };
        if let Some(&terminal) = terminal {
            points.push((ComponentId::at(index), terminal));
        }
    }
    for load in &system.loads {
        if load.kind == LoadKind::Starter {
            let terminal = system.links[load.link.index()].a;
            points.push((load.component, terminal));
        }
    }
    let mut is_point = vec![false; system.nodes.len()];
    for (_, terminal) in &points {
        is_point[system.node_of(*terminal).index()] = true;
    }
    for (index, load) in system.loads.iter().enumerate() {
        // The coil of a relay or the electronics of a combiner are no load that somebody turns on.
        let is_load = system.components[load.component.index()].kind == ComponentKind::Load;
        let Some(feed) = feeds.of(LoadId::at(index)).first().filter(|_| is_load) else {
            continue;
        };
        let nodes = nodes_along(system, feed.from, &feed.positive);
        if nodes.iter().any(|node| is_point[node.index()]) {
            continue;
        }
        let last = feed.positive.iter().rposition(|&link| {
            let device = matches!(system.links[link.index()].kind, LinkKind::Device(_));
            device || gear_of(system, link).is_some_and(|gear| is_battery_switch(system, gear))
        });
        let Some(last) = last else {
            continue;
        };
        let far = nodes[last + 1];
        let terminal = end_at(system, feed.positive[last], far);
        is_point[far.index()] = true;
        points.push((system.terminals[terminal.index()].component, terminal));
    }
    points
}

/// By node: number of the island that links of any kind join it to.
pub(super) fn islands(system: &System) -> Vec<usize> {
    let mut joined = Groups::new(system.nodes.len());
    for index in 0..system.links.len() {
        let (a, b) = ends(system, LinkId::at(index));
        joined.join(a.index(), b.index(), 0.0);
    }
    joined.number().0
}

/// Nodes of a way, its start first.
pub(super) fn nodes_along(system: &System, from: NodeId, links: &[LinkId]) -> Vec<NodeId> {
    let mut at = from;
    let mut nodes = vec![at];
    for &link in links {
        let (a, b) = ends(system, link);
        at = if a == at { b } else { a };
        nodes.push(at);
    }
    nodes
}

/// The end of a link that lies on a node.
pub(super) fn end_at(system: &System, link: LinkId, node: NodeId) -> TerminalId {
    let link = &system.links[link.index()];
    if system.node_of(link.a) == node {
        link.a
    } else {
        link.b
    }
}

/// Buses on the way back of a load, the first one first.
pub(super) fn buses_of(system: &System, feed: &Feed) -> Vec<TerminalId> {
    let minus = ends(system, system.loads[feed.load.index()].link).1;
    nodes_along(system, minus, &feed.negative)
        .iter()
        .filter_map(|node| {
            system.nodes[node.index()]
                .terminals
                .iter()
                .copied()
                .find(|&terminal| {
                    matches!(
                        system.component_of(terminal).kind,
                        ComponentKind::Bus | ComponentKind::FuseBlock
                    )
                })
        })
        .collect()
}

pub(super) fn gear_of(system: &System, link: LinkId) -> Option<GearId> {
    match system.links[link.index()].kind {
        LinkKind::Contact { gear, .. } => Some(gear),
        _ => None,
    }
}

pub(super) fn is_relay(system: &System, gear: GearId) -> bool {
    system.gears[gear.index()].kind == GearKind::Relay
}

pub(super) fn is_battery_switch(system: &System, gear: GearId) -> bool {
    system.gears[gear.index()].kind == GearKind::BatterySwitch
}

/// What parts a load from its bank last of all.
pub(super) enum Gate {
    /// A device, with its terminal towards the bank.
    Device(DeviceId, TerminalId),
    /// A battery switch that is off at rest, with its terminal towards the load.
    Switch(TerminalId),
}

/// The device nearest to a load, or the battery switch behind it.
pub(super) fn last_gate(system: &System, rest: &[u16], feed: &Feed) -> Option<Gate> {
    let nodes = nodes_along(system, feed.from, &feed.positive);
    feed.positive
        .iter()
        .enumerate()
        .rev()
        .find_map(|(at, &link)| match &system.links[link.index()].kind {
            LinkKind::Device(device) => {
                Some(Gate::Device(*device, end_at(system, link, nodes[at])))
            }
            LinkKind::Contact { gear, closed_in }
                if is_battery_switch(system, *gear) && !closed_in.contains(&rest[gear.index()]) =>
            {
                Some(Gate::Switch(end_at(system, link, nodes[at + 1])))
            }
            _ => None,
        })
}

/// Ways of blocks among some links.
pub(super) fn ways_of(system: &System, links: &[LinkId]) -> Vec<DeviceId> {
    links
        .iter()
        .filter_map(|link| match system.links[link.index()].kind {
            LinkKind::Device(device) if is_way(system, device) => Some(device),
            _ => None,
        })
        .collect()
}

/// The first device of all these ways, where they share it; else nothing stands for all of them.
pub(super) fn main_device(system: &System, ways: &[Feed]) -> Option<DeviceId> {
    let mut firsts = ways.iter().map(|feed| {
        feed.positive
            .iter()
            .find_map(|link| match system.links[link.index()].kind {
                LinkKind::Device(device) => Some(device),
                _ => None,
            })
    });
    let first = firsts.next()??;
    firsts.all(|other| other == Some(first)).then_some(first)
}

/// The battery terminal on a node.
pub(super) fn post_of(system: &System, node: NodeId) -> TerminalId {
    let terminals = &system.nodes[node.index()].terminals;
    let battery = terminals
        .iter()
        .copied()
        .find(|&terminal| system.component_of(terminal).kind == ComponentKind::Battery);
    battery
        .or_else(|| terminals.first().copied())
        .unwrap_or(TerminalId(0))
}

/// The conductor next to the load on its positive side, for a clamp; its negative where there is none.
pub(super) fn clamp_of(system: &System, feed: &Feed) -> Option<ConductorId> {
    let conductor = |link: &LinkId| match system.links[link.index()].kind {
        LinkKind::Conductor(id) => Some(id),
        _ => None,
    };
    feed.positive
        .iter()
        .rev()
        .find_map(conductor)
        .or_else(|| feed.negative.iter().find_map(conductor))
}

/// Where a clamp goes to see all that a bank gives, and the battery whose current that is.
///
/// The one cable of a post; where both posts carry several, all of them together.
pub(super) fn clamp_on(system: &System, bank: &Bank) -> Option<(Probe, SourceId)> {
    let string = bank.strings.first()?;
    let (lowest, highest) = (*string.first()?, *string.last()?);
    let plus = system.links[system.sources[highest.index()].link.index()].a;
    let minus = system.links[system.sources[lowest.index()].link.index()].b;
    let only = |post: TerminalId| {
        // Whatever is no conductor leads current past a clamp as well.
        let node = system.node_of(post);
        let mut others = system.nodes[node.index()]
            .links
            .iter()
            .filter(|link| !matches!(system.links[link.index()].kind, LinkKind::Source(_)));
        match (others.next(), others.next()) {
            (Some(link), None) => match system.links[link.index()].kind {
                LinkKind::Conductor(id) => Some(Probe::Clamp(id)),
                _ => None,
            },
            _ => None,
        }
    };
    let clamp = only(plus)
        .or_else(|| only(minus))
        .unwrap_or(Probe::ClampPost(plus));
    Some((clamp, highest))
}

/// Combinations of battery switch positions that interlocks permit, and how many are left out.
///
/// All of them where they are few, else each switch through its positions with the others off.
pub(super) fn combinations(
    system: &System,
    switches: &[GearId],
) -> (Vec<Vec<(GearId, u16)>>, usize) {
    let count =
        |gear: GearId| u16::try_from(system.gears[gear.index()].positions.len()).unwrap_or(0);
    let rest = feeds::rest(system);
    let all = switches.iter().try_fold(1usize, |all, &gear| {
        all.checked_mul(usize::from(count(gear)))
    });
    let mut sets: Vec<Vec<(GearId, u16)>> = Vec::new();
    if all.is_some_and(|all| all <= MAX_COMBINATIONS) {
        sets.push(Vec::new());
        for &gear in switches {
            sets = sets
                .iter()
                .flat_map(|set| {
                    (0..count(gear)).map(move |position| {
                        let mut set = set.clone();
                        set.push((gear, position));
                        set
                    })
                })
                .collect();
        }
    } else {
        for &gear in switches {
            for position in 0..count(gear) {
                let set = switches
                    .iter()
                    .map(|&other| {
                        let at = if other == gear {
                            position
                        } else {
                            rest[other.index()]
                        };
                        (other, at)
                    })
                    .collect();
                if !sets.contains(&set) {
                    sets.push(set);
                }
            }
        }
    }
    sets.retain(|set| {
        !system.interlocks.iter().any(|interlock| {
            !interlock.never.is_empty()
                && interlock.never.iter().all(|&(gear, position)| {
                    let now = set
                        .iter()
                        .find(|(of, _)| *of == gear)
                        .map_or(rest[gear.index()], |&(_, at)| at);
                    now == position
                })
        })
    });
    let most = MAX_COMBINATIONS * 4;
    let left_out = sets.len().saturating_sub(most)
        + all.map_or(1, |all| {
            all.saturating_sub(sets.len())
                .min(usize::from(all > MAX_COMBINATIONS) * all)
        });
    sets.truncate(most);
    (sets, left_out)
}
