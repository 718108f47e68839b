//! Harnesses: what is built on the bench, as trees of segments with break-outs, and which of its ends join.
//!
//! A harness is made of the conductors that lie in bundles together, and of those that land on one half of a connector.
//! Where the file measures ways, the tree is that of the ways. Where it gives lengths alone, the ends are laid along one
//! straight trunk so that no conductor is too short; that is an assumption, and the papers say so.
//! A conductor that is longer than its path has the rest folded back at one end: path and fold are its length, always.
//! Nothing here draws, and no cut allowance is counted: lengths are those of the routes.

mod comb;
mod continuity;
mod group;
mod tree;

pub use continuity::{Bench, Continuity, EndPoint};
pub use tree::{Branch, Tree};

use crate::system::{
    ComponentId, ComponentKind, ConductorId, PointId, System, TerminalId, TerminalRole, ZoneId,
};
use crate::units::Metres;
use std::collections::BTreeMap;

/// Conductors of one harness that are still laid out; beyond it no bench is long enough and no sheet is readable.
pub const MAX_WIRES: usize = 400;

/// Where the shape of a harness comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// From the measured ways of the file.
    Ways,
    /// From the lengths of its conductors alone: the places of the break-outs are assumed.
    Lengths,
}

/// A component, or one half of a connector, that conductors of a harness end at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// The component.
    pub component: ComponentId,
    /// Half of a connector: 0 towards the supply, 1 towards the loads; none for anything else.
    pub half: Option<u8>,
}

impl Place {
    /// The place of a terminal.
    #[must_use]
    pub fn of(system: &System, terminal: TerminalId) -> Self {
        let terminal = &system.terminals[terminal.index()];
        let is_connector =
            system.components[terminal.component.index()].kind == ComponentKind::Connector;
        Self {
            component: terminal.component,
            half: is_connector.then_some(u8::from(terminal.role == TerminalRole::Out)),
        }
    }

    /// `helm-plug.a`, or the component's name.
    #[must_use]
    pub fn name(self, system: &System) -> String {
        let name = &system.components[self.component.index()].name;
        match self.half {
            Some(0) => format!("{name}.a"),
            Some(_) => format!("{name}.b"),
            None => name.clone(),
        }
    }

    /// The point it sits at.
    #[must_use]
    pub fn point(self, system: &System) -> Option<PointId> {
        let component = &system.components[self.component.index()];
        match (&component.connector, self.half) {
            (Some(connector), Some(half)) => connector.half_points[usize::from(half)],
            _ => component.point,
        }
    }

    /// The zone it lies in.
    #[must_use]
    pub fn zone(self, system: &System) -> Option<ZoneId> {
        let component = &system.components[self.component.index()];
        match (&component.connector, self.half) {
            (Some(connector), Some(half)) => connector.half_zones[usize::from(half)],
            _ => component.zone,
        }
    }
}

/// A conductor of a harness.
#[derive(Clone, Debug, PartialEq)]
pub struct Wire {
    /// The conductor.
    pub conductor: ConductorId,
    /// Length of its route, without cut allowances.
    pub length: Metres,
    /// Where its two ends stand: indices into the sites of the harness, end A first.
    pub sites: [usize; 2],
    /// The branches it passes, from end A to end B.
    pub path: Vec<usize>,
    /// Length of those branches.
    pub along: Metres,
    /// What it is longer than its path: folded back at one end.
    pub fold: Metres,
    /// Which end the fold is at: 0 for A, 1 for B; the one farther from the datum.
    pub fold_end: usize,
}

/// A place of a harness, with the node of the tree that it stands at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Site {
    /// Component or half.
    pub place: Place,
    /// Node of the tree.
    pub node: usize,
}

/// Something that is built on the bench in one piece.
#[derive(Clone, Debug, PartialEq)]
pub struct Harness {
    /// Its name, unique among the harnesses of a boat.
    pub name: String,
    /// Where its shape comes from.
    pub shape: Shape,
    /// Its conductors, in file order.
    pub wires: Vec<Wire>,
    /// Where they end, in the order of the conductors.
    pub sites: Vec<Site>,
    /// How it lies on the board.
    pub tree: Tree,
}

/// Why a conductor of a bundle is on no board.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reason {
    /// Its length is not given.
    NoLength,
    /// Its written length is not that of the ways it takes.
    OffItsWays(Metres),
    /// Its ways close a ring or run twice over one stretch.
    Ring,
    /// It is the only conductor of its harness.
    Alone,
    /// The harness has more conductors than a board can show.
    TooMany,
}

/// All harnesses of a boat.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Harnesses {
    /// They, in the order of their first conductors.
    pub list: Vec<Harness>,
    /// Conductors that lie in a bundle or land on a connector, but are on no board, in file order.
    pub left_out: Vec<(ConductorId, Reason)>,
}

impl Harnesses {
    /// Finds all harnesses and lays each out as a tree.
    #[must_use]
    pub fn new(system: &System) -> Self {
        let (groups, mut left_out) = group::groups(system);
        let mut list = Vec::with_capacity(groups.len());
        for group in groups {
            if group.wires.len() > MAX_WIRES {
                left_out.extend(group.wires.iter().map(|&wire| (wire, Reason::TooMany)));
                continue;
            }
            list.push(lay(system, group));
        }
        left_out.sort_unstable_by_key(|&(conductor, _)| conductor);
        name_apart(system, &mut list);
        Self { list, left_out }
    }
}

/// Lays a group out.
fn lay(system: &System, group: group::Group) -> Harness {
    let mut places: Vec<Place> = Vec::new();
    let mut known: BTreeMap<Place, usize> = BTreeMap::new();
    let ends: Vec<[usize; 2]> = group
        .wires
        .iter()
        .map(|wire| {
            let conductor = &system.conductors[wire.index()];
            [conductor.from, conductor.to].map(|terminal| {
                let place = Place::of(system, terminal);
                *known.entry(place).or_insert_with(|| {
                    places.push(place);
                    places.len() - 1
                })
            })
        })
        .collect();
    let lengths: Vec<Metres> = group
        .wires
        .iter()
        .map(|&wire| length(system, wire))
        .collect();
    let sketch = match group.shape {
        Shape::Ways => tree::of_ways(system, &group.wires, &places, &ends),
        Shape::Lengths => comb::of_lengths(system, &places, &ends, &lengths),
    };
    let (tree, nodes) = sketch.into_tree();
    let sites: Vec<Site> = places
        .iter()
        .zip(nodes)
        .map(|(&place, node)| Site { place, node })
        .collect();
    let mut harness = Harness {
        name: group.name,
        shape: group.shape,
        wires: Vec::with_capacity(group.wires.len()),
        sites,
        tree,
    };
    for ((&conductor, &length), &sites) in group.wires.iter().zip(&lengths).zip(&ends) {
        let [a, b] = sites.map(|site| harness.sites[site].node);
        let path = harness.tree.path(a, b);
        let along: Metres = path
            .iter()
            .map(|&branch| harness.tree.branches[branch].length)
            .sum();
        for &branch in &path {
            harness.tree.branches[branch].members.push(conductor);
        }
        let far = |node: usize| harness.tree.distance[node].0;
        harness.wires.push(Wire {
            conductor,
            length,
            sites,
            path,
            along,
            // What is left of rounding is no fold.
            fold: Metres(clean(length.0 - along.0)),
            fold_end: usize::from(far(b) >= far(a)),
        });
    }
    harness
}

fn clean(metres: f64) -> f64 {
    if metres.abs() < 1e-6 { 0.0 } else { metres }
}

fn length(system: &System, conductor: ConductorId) -> Metres {
    system.conductors[conductor.index()]
        .length
        .map_or(Metres(0.0), |length| length.value)
}

/// Tells harnesses of one name apart: by the half of a connector they hang on, then by a number.
fn name_apart(system: &System, list: &mut [Harness]) {
    let mut count: BTreeMap<String, usize> = BTreeMap::new();
    for harness in list.iter() {
        *count.entry(harness.name.clone()).or_default() += 1;
    }
    for harness in list.iter_mut() {
        if count[&harness.name] < 2 {
            continue;
        }
        let half = harness.sites.iter().find(|site| site.place.half.is_some());
        if let Some(site) = half {
            harness.name = format!("{} at {}", harness.name, site.place.name(system));
        }
    }
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    for harness in list.iter_mut() {
        let number = seen.entry(harness.name.clone()).or_default();
        *number += 1;
        if *number > 1 {
            harness.name = format!("{} part {number}", harness.name);
        }
    }
}
