//! Which conductors make one harness.

use super::{Place, Reason, Shape};
use crate::analysis::fill::ways_of;
use crate::system::{
    BundleId, ComponentKind, Conductor, ConductorId, Origin, PointId, System, WayId, ZoneId,
};
use petgraph::unionfind::UnionFind;
use std::collections::{BTreeMap, BTreeSet};

/// How far a written length may be from that of the ways, in metres: less than any tape shows.
const SAME_LENGTH: f64 = 5e-4;

/// Boards that the rings of one boat may be cut into.
const MOST_ROUNDS: usize = 16;

/// Conductors that are built together.
pub(super) struct Group {
    pub(super) name: String,
    pub(super) shape: Shape,
    pub(super) wires: Vec<ConductorId>,
}

/// Where a conductor belongs.
enum Laid {
    /// It follows measured ways, some of them bundled.
    Along(Vec<WayId>),
    /// It lies in bundles and only its length is known.
    ByLength(Vec<BundleId>),
    /// It lies in no bundle.
    Loose,
    /// It cannot be laid out.
    Out(Reason),
}

/// All groups, in the order of their first conductors, and what is in none.
pub(super) fn groups(system: &System) -> (Vec<Group>, Vec<(ConductorId, Reason)>) {
    let mut along: Vec<(ConductorId, Vec<WayId>)> = Vec::new();
    let mut by_length: Vec<(ConductorId, Vec<BundleId>)> = Vec::new();
    let mut loose: Vec<ConductorId> = Vec::new();
    let mut out = Vec::new();
    for (index, conductor) in system.conductors.iter().enumerate() {
        let id = ConductorId::at(index);
        if conductor.pigtail {
            continue;
        }
        match laid(system, id, conductor) {
            Laid::Along(ways) => along.push((id, ways)),
            Laid::ByLength(bundles) => by_length.push((id, bundles)),
            Laid::Loose => loose.push(id),
            Laid::Out(reason) => out.push((id, reason)),
        }
    }
    let (mut groups, rings) = along_ways(system, along);
    out.extend(rings);
    groups.extend(in_bundles(system, &by_length));
    let (halves, without) = at_connectors(system, &loose);
    groups.extend(halves);
    out.extend(without);
    let (mut kept, single): (Vec<Group>, Vec<Group>) =
        groups.into_iter().partition(|group| group.wires.len() > 1);
    out.extend(
        single
            .iter()
            .flat_map(|group| &group.wires)
            .map(|&wire| (wire, Reason::Alone)),
    );
    kept.sort_by_key(|group| group.wires[0]);
    (kept, out)
}

fn laid(system: &System, id: ConductorId, conductor: &Conductor) -> Laid {
    let bundles: Vec<BundleId> = bundles_of(conductor);
    let ways = ways_of(system, id);
    let Some(length) = conductor.length else {
        return if bundles.is_empty() {
            Laid::Loose
        } else {
            Laid::Out(Reason::NoLength)
        };
    };
    if bundles.is_empty() {
        return Laid::Loose;
    }
    if ways.is_empty() {
        return Laid::ByLength(bundles);
    }
    let sum = crate::analysis::fill::length_of_ways(system, id);
    match sum {
        Some(sum) if (sum.0 - length.value.0).abs() <= SAME_LENGTH => {}
        Some(sum) => return Laid::Out(Reason::OffItsWays(sum)),
        None => return Laid::ByLength(bundles),
    }
    let ends = [conductor.from, conductor.to].map(|end| Place::of(system, end).point(system));
    let [Some(from), Some(to)] = ends else {
        return Laid::ByLength(bundles);
    };
    if simple(system, &ways, from, to) {
        Laid::Along(ways)
    } else {
        Laid::Out(Reason::Ring)
    }
}

/// Whether ways lead from one point to another and touch no point twice.
fn simple(system: &System, ways: &[WayId], from: PointId, to: PointId) -> bool {
    let mut here = from;
    let mut seen = BTreeSet::from([here]);
    for way in ways {
        let way = &system.ways[way.index()];
        here = if way.from == here { way.to } else { way.from };
        if !seen.insert(here) {
            return false;
        }
    }
    here == to
}

/// Bundles of a conductor, each once, from its first end on.
fn bundles_of(conductor: &Conductor) -> Vec<BundleId> {
    let mut bundles = Vec::new();
    for bundle in conductor.stretches.iter().filter_map(|part| part.bundle) {
        if !bundles.contains(&bundle) {
            bundles.push(bundle);
        }
    }
    bundles
}

/// Groups of conductors that share a bundled way; a way that would close a ring starts a new one.
fn along_ways(
    system: &System,
    mut waiting: Vec<(ConductorId, Vec<WayId>)>,
) -> (Vec<Group>, Vec<(ConductorId, Reason)>) {
    let mut groups = Vec::new();
    let mut out = Vec::new();
    for _ in 0..MOST_ROUNDS {
        let mut next = Vec::new();
        let mut sets = UnionFind::<u32>::new(waiting.len());
        let mut first: BTreeMap<WayId, u32> = BTreeMap::new();
        for (index, (_, ways)) in waiting.iter().enumerate() {
            let index = u32::try_from(index).unwrap_or(u32::MAX);
            for &way in ways {
                if system.ways[way.index()].bundle.is_some() {
                    sets.union(*first.entry(way).or_insert(index), index);
                }
            }
        }
        let mut members: BTreeMap<u32, Vec<(ConductorId, Vec<WayId>)>> = BTreeMap::new();
        let mut order = Vec::new();
        for (index, entry) in waiting.drain(..).enumerate() {
            let root = sets.find(u32::try_from(index).unwrap_or(u32::MAX));
            if !members.contains_key(&root) {
                order.push(root);
            }
            members.entry(root).or_default().push(entry);
        }
        for root in order {
            let entries = members.remove(&root).unwrap_or_default();
            let mut points = UnionFind::<u32>::new(system.points.len());
            let mut used: BTreeSet<WayId> = BTreeSet::new();
            let mut wires = Vec::new();
            for (wire, ways) in entries {
                let new: Vec<WayId> = ways
                    .iter()
                    .copied()
                    .filter(|way| !used.contains(way))
                    .collect();
                // The ways of one conductor close no ring of their own; together with the others they may.
                let open = stays_open(system, &points, &new);
                let touches = wires.is_empty() || new.len() < ways.len();
                if open && touches {
                    for way in &new {
                        let way = &system.ways[way.index()];
                        points.union(way.from.0, way.to.0);
                    }
                    used.extend(new);
                    wires.push(wire);
                } else {
                    next.push((wire, ways));
                }
            }
            let bundles: BTreeSet<BundleId> = used
                .iter()
                .filter_map(|way| system.ways[way.index()].bundle)
                .collect();
            groups.push(Group {
                name: names(system, &bundles),
                shape: Shape::Ways,
                wires,
            });
        }
        waiting = next;
    }
    out.extend(waiting.into_iter().map(|(wire, _)| (wire, Reason::Ring)));
    (groups, out)
}

/// Whether ways join points that nothing joins yet.
fn stays_open(system: &System, points: &UnionFind<u32>, ways: &[WayId]) -> bool {
    let mut sets: BTreeMap<u32, u32> = BTreeMap::new();
    for way in ways {
        let way = &system.ways[way.index()];
        let mut ends = [way.from.0, way.to.0].map(|point| points.find(point));
        for end in &mut ends {
            while let Some(&next) = sets.get(end) {
                *end = next;
            }
        }
        if ends[0] == ends[1] {
            return false;
        }
        sets.insert(ends[0], ends[1]);
    }
    true
}

/// What has to be known of a set of conductors to join it with another.
#[derive(Default)]
struct Set {
    wires: Vec<ConductorId>,
    bundles: BTreeSet<BundleId>,
    halves: BTreeSet<Place>,
    zones: BTreeSet<ZoneId>,
}

impl Set {
    /// One holds a half of a connector, the other its mate: they are built apart.
    fn mates(&self, other: &Self) -> bool {
        self.halves.iter().any(|place| {
            let mate = Place {
                component: place.component,
                half: place.half.map(|half| 1 - half),
            };
            other.halves.contains(&mate)
        })
    }

    fn add(&mut self, other: Self) {
        self.wires.extend(other.wires);
        self.bundles.extend(other.bundles);
        self.halves.extend(other.halves);
        self.zones.extend(other.zones);
    }
}

/// Groups of conductors that lie in one bundle and meet; sets of one bundle that no connector parts are one.
fn in_bundles(system: &System, wires: &[(ConductorId, Vec<BundleId>)]) -> Vec<Group> {
    let mut sets = UnionFind::<u32>::new(wires.len());
    let mut first: BTreeMap<(BundleId, Place), u32> = BTreeMap::new();
    for (index, (wire, bundles)) in wires.iter().enumerate() {
        let index = u32::try_from(index).unwrap_or(u32::MAX);
        for place in places(system, *wire) {
            for &bundle in bundles {
                sets.union(*first.entry((bundle, place)).or_insert(index), index);
            }
        }
    }
    let mut order: Vec<u32> = Vec::new();
    let mut found: BTreeMap<u32, Set> = BTreeMap::new();
    for (index, (wire, bundles)) in wires.iter().enumerate() {
        let root = sets.find(u32::try_from(index).unwrap_or(u32::MAX));
        if !found.contains_key(&root) {
            order.push(root);
        }
        let set = found.entry(root).or_default();
        set.wires.push(*wire);
        set.bundles.extend(bundles);
        for place in places(system, *wire) {
            if place.half.is_some() {
                set.halves.insert(place);
            }
            set.zones.extend(place.zone(system));
        }
    }
    let mut joined: Vec<Set> = Vec::new();
    // Sets on a connector come first, so that the others find the side they belong to.
    order.sort_by_key(|root| found[root].halves.is_empty());
    for root in order {
        let set = found.remove(&root).unwrap_or_default();
        let best = joined
            .iter()
            .enumerate()
            .filter(|(_, other)| !other.bundles.is_disjoint(&set.bundles) && !other.mates(&set))
            .max_by_key(|(index, other)| {
                let shared = other.zones.intersection(&set.zones).count();
                (shared, std::cmp::Reverse(*index))
            })
            .map(|(index, _)| index);
        match best {
            Some(index) => joined[index].add(set),
            None => joined.push(set),
        }
    }
    joined
        .into_iter()
        .map(|mut set| {
            set.wires.sort_unstable();
            Group {
                name: names(system, &set.bundles),
                shape: Shape::Lengths,
                wires: set.wires,
            }
        })
        .collect()
}

/// Groups of conductors in no bundle that land on one half of a connector, with the panel legs behind them.
fn at_connectors(
    system: &System,
    loose: &[ConductorId],
) -> (Vec<Group>, Vec<(ConductorId, Reason)>) {
    let mut sets = UnionFind::<u32>::new(loose.len());
    let mut first: BTreeMap<Place, u32> = BTreeMap::new();
    let mut on_half = vec![false; loose.len()];
    let mut without = Vec::new();
    for (index, &wire) in loose.iter().enumerate() {
        let halves: Vec<Place> = places(system, wire)
            .into_iter()
            .filter(|place| place.half.is_some())
            .collect();
        if halves.is_empty() {
            continue;
        }
        if system.conductors[wire.index()].length.is_none() {
            without.push((wire, Reason::NoLength));
            continue;
        }
        on_half[index] = true;
        let index = u32::try_from(index).unwrap_or(u32::MAX);
        for place in halves {
            sets.union(*first.entry(place).or_insert(index), index);
        }
    }
    // Legs between parts of the panel that the connector's conductors start at are built with them.
    let mut behind: BTreeMap<Place, u32> = BTreeMap::new();
    for (index, &wire) in loose.iter().enumerate() {
        if !on_half[index] {
            continue;
        }
        for place in places(system, wire) {
            if place.half.is_none() && is_panel_part(system, place) {
                behind
                    .entry(place)
                    .or_insert(u32::try_from(index).unwrap_or(u32::MAX));
            }
        }
    }
    for (index, &wire) in loose.iter().enumerate() {
        let conductor = &system.conductors[wire.index()];
        let is_leg = conductor
            .length
            .is_some_and(|length| length.origin == Origin::Assumed);
        if on_half[index] || !is_leg {
            continue;
        }
        let near = places(system, wire)
            .into_iter()
            .find_map(|place| behind.get(&place).copied());
        if let Some(group) = near {
            on_half[index] = true;
            sets.union(group, u32::try_from(index).unwrap_or(u32::MAX));
        }
    }
    let mut order = Vec::new();
    let mut members: BTreeMap<u32, Vec<ConductorId>> = BTreeMap::new();
    for (index, &wire) in loose.iter().enumerate() {
        if on_half[index] {
            let root = sets.find(u32::try_from(index).unwrap_or(u32::MAX));
            if !members.contains_key(&root) {
                order.push(root);
            }
            members.entry(root).or_default().push(wire);
        }
    }
    let groups = order
        .into_iter()
        .filter_map(|root| {
            let wires = members.remove(&root)?;
            let halves: BTreeSet<Place> = wires
                .iter()
                .flat_map(|&wire| places(system, wire))
                .filter(|place| place.half.is_some())
                .collect();
            let names: Vec<String> = halves.iter().map(|place| place.name(system)).collect();
            Some(Group {
                name: few(&names),
                shape: Shape::Lengths,
                wires,
            })
        })
        .collect();
    (groups, without)
}

fn is_panel_part(system: &System, place: Place) -> bool {
    matches!(
        system.components[place.component.index()].kind,
        ComponentKind::Switch | ComponentKind::FuseBlock | ComponentKind::Breaker
    )
}

fn places(system: &System, wire: ConductorId) -> [Place; 2] {
    let conductor = &system.conductors[wire.index()];
    [conductor.from, conductor.to].map(|end| Place::of(system, end))
}

fn names(system: &System, bundles: &BTreeSet<BundleId>) -> String {
    let names: Vec<String> = bundles
        .iter()
        .map(|bundle| system.bundles[bundle.index()].name.clone())
        .collect();
    few(&names)
}

/// Names in one, the first three of many.
fn few(names: &[String]) -> String {
    const SHOWN: usize = 3;
    let mut text = names[..names.len().min(SHOWN)].join(" + ");
    if names.len() > SHOWN {
        text.push_str(" + more");
    }
    text
}
