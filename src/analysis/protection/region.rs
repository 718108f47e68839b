//! What one pole feeds in one state without a device opening, measured along the conductors.
//!
//! Nodes are settled outward from the pole, nearest first along the conductors. Each knows how far it lies from the
//! battery, and how far from the tap that feeds it: a bus, the stud of a switch, or the end of a conductor that is
//! protected or exempt. Each also knows which devices stand beyond it.

use super::{Limited, Survey};
use crate::analysis::isolation::Pole;
use crate::analysis::states::State;
use crate::standards::{self, PlacementCase, PlacementLimit, RuleSet};
use crate::system::{
    BankId, ComponentKind, ConductorId, DeviceId, GearId, LinkId, LinkKind, NodeId, SourceId,
    SourceKind, System, TerminalId,
};
use crate::units::{Amps, Metres};
use std::cmp::Ordering;
use std::collections::{BTreeMap, BinaryHeap};
use std::rc::Rc;

/// Not settled, in a table by node.
const NOWHERE: u32 = u32::MAX;

/// Lengths nearer than this are one: a thousandth of an inch.
pub(super) const SAME_LENGTH: f64 = 2.5e-5;

/// A length along conductors, some of which may give none.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Length {
    /// Sum of the lengths given.
    pub known: Metres,
    /// Some conductor on the way gives no length, so the sum is too short.
    pub incomplete: bool,
}

/// What limits the current that a source can send.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum By {
    /// A device in the boat.
    Device(DeviceId),
    /// The device built in at the output of a charger.
    BuiltIn(SourceId),
}

/// What is wrong, or what is missing to tell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Kind {
    /// No device of its own protects it; the next one beyond it, where there is one, protects branches only.
    Unprotected {
        /// The first device met beyond it.
        next: Option<DeviceId>,
    },
    /// Its device stands too far from the source or the tap.
    TooFar {
        /// That device.
        device: DeviceId,
    },
    /// The smallest device in its way is larger than it allows.
    TooLarge {
        /// The device.
        by: By,
        /// Its rating.
        rating: Amps,
    },
    /// Whether its device stands near enough depends on a length that is not given.
    LengthNotGiven,
    /// Whether it needs a device depends on the source, which does not say whether it limits its current, or to what.
    LimitingNotGiven,
    /// What it allows is not known, because its size is not given or no table lists it.
    SizeNotGiven {
        /// The device it would be compared with.
        by: Option<By>,
    },
}

/// A conductor that is not protected, or not proved to be.
#[derive(Clone, Debug, PartialEq)]
pub struct Fault {
    /// The conductor to change, or at which to put a device.
    pub conductor: ConductorId,
    /// What is wrong.
    pub kind: Kind,
    /// The end at which the source feeds it.
    pub end: TerminalId,
    /// The pole that can feed it.
    pub pole: Pole,
    /// All sources that can feed it at that end without a device between, that of the pole first.
    pub sources: Vec<SourceId>,
    /// A source that feeds it at its other end without a device between.
    pub other_end: Option<(TerminalId, SourceId)>,
    /// Positions off normal that show it, fewest possible.
    pub positions: Vec<(GearId, u16)>,
    /// Links from the pole to the far end of the conductor.
    pub path: Vec<LinkId>,
    /// From the source or the tap to the far end of the conductor, along conductors.
    pub length: Length,
    /// How far that may be.
    pub limit: PlacementLimit,
    /// Other conductors that the same change protects.
    pub also: Vec<ConductorId>,
}

/// The worst that was found at one end of a conductor.
#[derive(Clone, Debug)]
pub(super) struct Found {
    kind: Kind,
    end: TerminalId,
    pole: Pole,
    sources: Vec<SourceId>,
    /// Number of parts moved in the state.
    moves: usize,
    /// Parts off normal in the state, the same list for all that is found in it.
    off_normal: Rc<[(GearId, u16)]>,
    path: Vec<LinkId>,
    length: Length,
    limit: PlacementLimit,
    head: ConductorId,
}

impl Found {
    fn rank(&self) -> u8 {
        match self.kind {
            Kind::Unprotected { .. } => 5,
            Kind::TooLarge { .. } => 4,
            Kind::TooFar { .. } => 3,
            Kind::LimitingNotGiven => 2,
            Kind::LengthNotGiven => 1,
            Kind::SizeNotGiven { .. } => 0,
        }
    }

    fn is_fault(&self) -> bool {
        self.rank() >= 3
    }

    /// Keeps the worse of two, the one with fewer moves of two alike, and the sources of both.
    pub(super) fn merge(&mut self, mut other: Self) {
        let worse =
            other.rank() > self.rank() || (other.rank() == self.rank() && other.moves < self.moves);
        if worse {
            std::mem::swap(self, &mut other);
        }
        if self.is_fault() == other.is_fault() {
            for source in other.sources {
                if !self.sources.contains(&source) {
                    self.sources.push(source);
                }
            }
        }
    }
}

/// Tables by node that every region uses anew.
pub(super) struct Scratch {
    at: Vec<u32>,
    beyond: Vec<u32>,
    done: Vec<bool>,
    posts: Vec<Option<BankId>>,
}

impl Scratch {
    pub(super) fn new(system: &System) -> Self {
        let mut posts = vec![None; system.nodes.len()];
        for source in &system.sources {
            if source.kind == SourceKind::Battery {
                let link = &system.links[source.link.index()];
                posts[system.node_of(link.a).index()] = source.bank;
                posts[system.node_of(link.b).index()] = source.bank;
            }
        }
        Self {
            at: vec![NOWHERE; system.nodes.len()],
            beyond: vec![NOWHERE; system.nodes.len()],
            done: vec![false; system.conductors.len()],
            posts,
        }
    }
}

/// A distance that grows; infinite where the measure does not apply.
#[derive(Clone, Copy, Debug)]
struct Gap {
    known: f64,
    incomplete: bool,
}

impl Gap {
    const ZERO: Self = Self {
        known: 0.0,
        incomplete: false,
    };
    const NONE: Self = Self {
        known: f64::INFINITY,
        incomplete: false,
    };

    fn plus(self, length: Option<Metres>) -> Self {
        Self {
            known: self.known + length.map_or(0.0, |length| length.0),
            incomplete: self.incomplete || length.is_none(),
        }
    }

    fn within(self, limit: Metres) -> Verdict {
        if self.known > limit.0 + SAME_LENGTH {
            Verdict::No
        } else if self.incomplete {
            Verdict::NotKnown
        } else {
            Verdict::Yes
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Verdict {
    No,
    NotKnown,
    Yes,
}

/// The devices beyond a place, without passing one.
#[derive(Clone, Copy, Debug, Default)]
struct Meets {
    /// The smallest.
    least: Option<(f64, DeviceId)>,
    /// The nearest, by links, and whether it serves a branch: a bus or the stud of a switch lies before it.
    nearest: Option<(u32, DeviceId, bool)>,
    /// One without a rating.
    unrated: bool,
}

impl Meets {
    fn add(&mut self, other: Self, branches: bool, step: u32) {
        if let Some((rating, device)) = other.least
            && self.least.is_none_or(|(least, _)| rating < least)
        {
            self.least = Some((rating, device));
        }
        if let Some((links, device, branch)) = other.nearest {
            let links = links.saturating_add(step);
            if self.nearest.is_none_or(|(nearest, _, _)| links < nearest) {
                self.nearest = Some((links, device, branch || branches));
            }
        }
        self.unrated |= other.unrated;
    }
}

/// One settled node.
#[derive(Clone, Copy, Debug)]
struct Spot {
    node: NodeId,
    came: Option<(LinkId, u32)>,
    tap: Gap,
    sheathed: Gap,
    battery: Gap,
    meets: Meets,
    /// Topmost and nearest conductor on the way here that needs a device.
    top: Option<ConductorId>,
    last: Option<ConductorId>,
}

/// A node on its way to be settled, nearest first.
struct Coming {
    distance: f64,
    order: u32,
    node: NodeId,
    came: Option<(LinkId, u32)>,
}

impl PartialEq for Coming {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Coming {}

impl PartialOrd for Coming {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Coming {
    fn cmp(&self, other: &Self) -> Ordering {
        other
            .distance
            .total_cmp(&self.distance)
            .then_with(|| other.order.cmp(&self.order))
    }
}

/// One pole in one state, through links at least so wide.
struct Region<'r> {
    pole: &'r Pole,
    state: &'r State,
    width: f64,
    /// The width, or the device built in at the source where that is smaller.
    effective: f64,
    off_normal: Rc<[(GearId, u16)]>,
    spots: Vec<Spot>,
    /// The widest gate at its edge.
    next: Option<f64>,
}

impl Survey<'_> {
    /// Measures every conductor that a pole feeds in a state without a device that suits it.
    pub(super) fn measure(
        &mut self,
        pole: &Pole,
        state: &State,
        moves: &[(GearId, u16)],
        scratch: &mut Scratch,
    ) {
        let off_normal: Rc<[(GearId, u16)]> = state.off_normal(self.system).into();
        let source = &self.system.sources[pole.source.index()];
        let built_in = source
            .built_in_fuse
            .map_or(f64::INFINITY, |given| given.value.0);
        let mut width = f64::INFINITY;
        let mut done = Vec::new();
        while width.min(built_in) > self.floor || width == f64::INFINITY {
            let mut region = Region {
                pole,
                state,
                width,
                effective: width.min(built_in),
                off_normal: Rc::clone(&off_normal),
                spots: Vec::new(),
                next: None,
            };
            self.settle(&mut region, scratch);
            self.look_beyond(&mut region, scratch);
            self.judge(&mut region, moves, scratch, &mut done);
            for spot in &region.spots {
                scratch.at[spot.node.index()] = NOWHERE;
            }
            match region.next {
                Some(next) => width = next,
                None => break,
            }
        }
        for conductor in done {
            scratch.done[conductor] = false;
        }
    }

    fn is_bare(&self, region: &Region<'_>, conductor: ConductorId) -> bool {
        !self.is_exempt(conductor)
            && self
                .limit(conductor)
                .is_none_or(|limit| region.effective > limit)
            && self.self_limited(region.pole.source, conductor) != Limited::Yes
    }

    fn settle(&self, region: &mut Region<'_>, scratch: &mut Scratch) {
        let mut heap = BinaryHeap::new();
        heap.push(Coming {
            distance: 0.0,
            order: 0,
            node: region.pole.node,
            came: None,
        });
        let mut order = 1;
        while let Some(coming) = heap.pop() {
            let node = coming.node;
            if scratch.at[node.index()] != NOWHERE {
                continue;
            }
            // Nodes are numbered in u32, so spots are too.
            let at = u32::try_from(region.spots.len()).unwrap_or(NOWHERE - 1);
            scratch.at[node.index()] = at;
            let spot = self.spot(region, node, coming.came);
            region.spots.push(spot);
            for &link in &self.system.nodes[node.index()].links {
                let Some(gate) = self.gates[link.index()] else {
                    continue;
                };
                let record = &self.system.links[link.index()];
                let (a, b) = (self.system.node_of(record.a), self.system.node_of(record.b));
                let next = if a == node { b } else { a };
                let backwards = matches!(record.kind, LinkKind::Diode { .. }) && a != node;
                if scratch.at[next.index()] != NOWHERE
                    || backwards
                    || !region.state.closes(&record.kind)
                {
                    continue;
                }
                if gate < region.width {
                    if region.next.is_none_or(|next| gate > next) {
                        region.next = Some(gate);
                    }
                    continue;
                }
                let length = match record.kind {
                    LinkKind::Conductor(id) => self.length(id).map_or(0.0, |length| length.0),
                    _ => 0.0,
                };
                heap.push(Coming {
                    distance: coming.distance + length,
                    order,
                    node: next,
                    came: Some((link, at)),
                });
                order += 1;
            }
        }
    }

    fn length(&self, conductor: ConductorId) -> Option<Metres> {
        self.system.conductors[conductor.index()]
            .length
            .map(|given| given.value)
    }

    /// The measures at a node, from those of the node before it.
    fn spot(&self, region: &Region<'_>, node: NodeId, came: Option<(LinkId, u32)>) -> Spot {
        let mut spot = Spot {
            node,
            came,
            tap: Gap::ZERO,
            sheathed: Gap::ZERO,
            battery: Gap::ZERO,
            meets: Meets::default(),
            top: None,
            last: None,
        };
        let is_battery =
            self.system.sources[region.pole.source.index()].kind == SourceKind::Battery;
        if !is_battery {
            spot.battery = Gap::NONE;
        }
        let Some((link, before)) = came else {
            return spot;
        };
        let from = region.spots[before as usize];
        let past_bus = self.is_past_bus(region, before as usize);
        spot.battery = if past_bus { Gap::NONE } else { from.battery };
        match self.system.links[link.index()].kind {
            LinkKind::Conductor(id) => {
                let length = self.length(id);
                spot.battery = spot.battery.plus(length);
                if self.is_bare(region, id) {
                    spot.tap = from.tap.plus(length);
                    spot.sheathed = if self.is_sheathed(id) {
                        from.sheathed.plus(length)
                    } else {
                        Gap::NONE
                    };
                }
            }
            LinkKind::Device(_) => spot.battery = Gap::NONE,
            LinkKind::Contact { .. } => {}
            _ => {
                spot.tap = from.tap;
                spot.sheathed = from.sheathed;
            }
        }
        if self.taps[node.index()] {
            spot.tap = Gap::ZERO;
            spot.sheathed = Gap::ZERO;
        }
        // What leaves a battery post is an output conductor of that battery, whoever else can feed it.
        if self.posts[node.index()] {
            spot.battery = Gap::ZERO;
        }
        spot
    }

    /// Whether the way along a battery conductor ends here: at a bus that sits on no battery post.
    fn is_past_bus(&self, region: &Region<'_>, at: usize) -> bool {
        let node = region.spots[at].node.index();
        self.buses[node] && !self.posts[node] && at != 0
    }

    fn is_sheathed(&self, conductor: ConductorId) -> bool {
        is_sheathed(self.system, conductor)
    }

    /// Finds the devices beyond every node, the outermost nodes first.
    fn look_beyond(&self, region: &mut Region<'_>, scratch: &mut Scratch) {
        let mut outside: Vec<NodeId> = Vec::new();
        let mut parts: Vec<Meets> = Vec::new();
        for at in (0..region.spots.len()).rev() {
            let node = region.spots[at].node;
            let (at_bus, at_tap) = (self.buses[node.index()], self.taps[node.index()]);
            let mut meets = Meets::default();
            for &link in &self.system.nodes[node.index()].links {
                let Some(next) = self.onward(link, node) else {
                    continue;
                };
                let settled = scratch.at[next.index()];
                let is_outward = settled == NOWHERE || settled as usize > at;
                if !is_outward {
                    continue;
                }
                if let LinkKind::Device(device) = self.system.links[link.index()].kind {
                    meets.add(self.device(device), at_bus, 0);
                } else if settled == NOWHERE {
                    let part = self.part(next, scratch, &mut outside, &mut parts);
                    meets.add(parts[part as usize], at_tap, 1);
                } else {
                    meets.add(region.spots[settled as usize].meets, at_tap, 1);
                }
            }
            region.spots[at].meets = meets;
        }
        for node in outside {
            scratch.beyond[node.index()] = NOWHERE;
        }
    }

    /// The node that current can go on to through a link in some position, off the negative.
    fn onward(&self, link: LinkId, node: NodeId) -> Option<NodeId> {
        let record = &self.system.links[link.index()];
        let (a, b) = (self.system.node_of(record.a), self.system.node_of(record.b));
        let next = if a == node { b } else { a };
        let backwards = matches!(record.kind, LinkKind::Diode { .. }) && a != node;
        let shut = next == node
            || backwards
            || !crate::analysis::states::conducts(self.system, link)
            || self.nets.is_negative(next);
        (!shut).then_some(next)
    }

    fn device(&self, device: DeviceId) -> Meets {
        let rating = self.system.devices[device.index()].rating;
        let single = matches!(
            self.system.components[self.system.devices[device.index()].component.index()].kind,
            ComponentKind::Fuse | ComponentKind::Breaker
        );
        Meets {
            least: rating.map(|rating| (rating.value.0, device)),
            nearest: Some((0, device, !single)),
            unrated: rating.is_none(),
        }
    }

    /// What a part of the circuit that is not live in this state holds: devices behind an open switch.
    fn part(
        &self,
        start: NodeId,
        scratch: &mut Scratch,
        outside: &mut Vec<NodeId>,
        parts: &mut Vec<Meets>,
    ) -> u32 {
        if scratch.beyond[start.index()] != NOWHERE {
            return scratch.beyond[start.index()];
        }
        let number = u32::try_from(parts.len()).unwrap_or(NOWHERE - 1);
        let mut meets = Meets::default();
        let mut open = vec![start];
        scratch.beyond[start.index()] = number;
        outside.push(start);
        while let Some(node) = open.pop() {
            for &link in &self.system.nodes[node.index()].links {
                let Some(next) = self.onward(link, node) else {
                    continue;
                };
                if let LinkKind::Device(device) = self.system.links[link.index()].kind {
                    meets.add(self.device(device), true, 0);
                } else if scratch.at[next.index()] == NOWHERE
                    && scratch.beyond[next.index()] == NOWHERE
                {
                    scratch.beyond[next.index()] = number;
                    outside.push(next);
                    open.push(next);
                }
            }
        }
        parts.push(meets);
        number
    }

    /// Judges every conductor not judged at a greater width, nearest first.
    fn judge(
        &mut self,
        region: &mut Region<'_>,
        moves: &[(GearId, u16)],
        scratch: &mut Scratch,
        done: &mut Vec<usize>,
    ) {
        for at in 0..region.spots.len() {
            let spot = region.spots[at];
            if let Some((link, before)) = spot.came {
                let from = region.spots[before as usize];
                if !matches!(self.system.links[link.index()].kind, LinkKind::Device(_)) {
                    region.spots[at].top = from.top;
                    region.spots[at].last = from.last;
                }
            }
            for &link in &self.system.nodes[spot.node.index()].links {
                let LinkKind::Conductor(id) = self.system.links[link.index()].kind else {
                    continue;
                };
                let record = &self.system.links[link.index()];
                let (a, b) = (self.system.node_of(record.a), self.system.node_of(record.b));
                let near = scratch.at[if a == spot.node { b } else { a }.index()];
                // Judged once, from its far end: the end settled later, or its only one where it lies along a bus.
                if near == NOWHERE || near as usize > at || scratch.done[id.index()] {
                    continue;
                }
                scratch.done[id.index()] = true;
                done.push(id.index());
                let Some(mut found) = self.judge_one(region, id, near as usize, at, scratch) else {
                    continue;
                };
                let from = region.spots[near as usize];
                let allows = |other: ConductorId| match (self.limit(other), self.limit(id)) {
                    (Some(other), Some(own)) => other <= own,
                    _ => false,
                };
                found.head = [from.top, from.last]
                    .into_iter()
                    .flatten()
                    .find(|&other| allows(other))
                    .unwrap_or(id);
                if spot.came.is_some_and(|(came, _)| came == link) && found.is_fault() {
                    region.spots[at].top = from.top.or(Some(found.head));
                    region.spots[at].last = Some(found.head);
                }
                found.moves = moves.len();
                let conductor = &self.system.conductors[id.index()];
                let end = usize::from(found.end != conductor.from);
                self.note_fault(id, end, found);
            }
        }
    }

    fn judge_one(
        &mut self,
        region: &Region<'_>,
        id: ConductorId,
        near: usize,
        far: usize,
        scratch: &Scratch,
    ) -> Option<Found> {
        if self.is_exempt(id) {
            return None;
        }
        let limit = self.limit(id);
        match limit {
            Some(limit) if region.effective <= limit => return None,
            None if region.effective.is_finite() => return None,
            _ => {}
        }
        let limited = self.self_limited(region.pole.source, id);
        if limited == Limited::Yes {
            return None;
        }
        let placing = self.placing(region, id, near);
        let meets = region.spots[far].meets;
        let device_suits = match (meets.least, limit) {
            (Some(_), None) => Verdict::NotKnown,
            (Some((rating, _)), Some(limit)) if rating <= limit => Verdict::Yes,
            _ => Verdict::No,
        };
        let post = |at: usize| scratch.posts[region.spots[at].node.index()];
        let is_bank_link = post(near).is_some() && post(near) == post(far);
        // The same by way of a bar: what leads from it to a post of the bank that feeds the bar.
        let own_bank = self.system.sources[region.pole.source.index()].bank;
        let is_bar_link =
            own_bank.is_some() && post(far) == own_bank && self.buses[spot_node(region, near)];
        if is_bar_link && !is_bank_link {
            let law = standards::placement_limit(RuleSet::Law, PlacementCase::Battery);
            let own = Gap::ZERO.plus(self.length(id));
            // Its own post is a source too, and tells what is missing there.
            if law.is_some_and(|limit| own.within(limit.max) != Verdict::No) {
                return None;
            }
        }
        let kind = if is_bank_link && placing.verdict != Verdict::No {
            // Posts of one bank act as one source: a link between them is within the placement rule or not.
            (placing.verdict == Verdict::NotKnown).then_some(Kind::LengthNotGiven)
        } else {
            match (device_suits, placing.verdict) {
                (Verdict::Yes, Verdict::Yes) => {
                    if let Some((rating, device)) = meets.least {
                        self.note_rating(id, rating, Some(device));
                    }
                    None
                }
                (Verdict::Yes, Verdict::NotKnown) => Some(Kind::LengthNotGiven),
                (Verdict::NotKnown, Verdict::Yes | Verdict::NotKnown) => {
                    let by = meets.least.map(|(_, device)| By::Device(device));
                    Some(Kind::SizeNotGiven { by })
                }
                // Another finding asks for the rating of that device.
                (Verdict::No, Verdict::Yes | Verdict::NotKnown) if meets.unrated => None,
                _ => Some(self.fault(region, near, meets, device_suits, limit)),
            }
        }?;
        let kind = match kind {
            Kind::Unprotected { .. } | Kind::TooFar { .. } | Kind::LengthNotGiven
                if limited == Limited::NotKnown =>
            {
                Kind::LimitingNotGiven
            }
            kind => kind,
        };
        let mut path = Vec::new();
        let mut at = near;
        while let Some((link, before)) = region.spots[at].came {
            path.push(link);
            at = before as usize;
        }
        path.reverse();
        let conductor = &self.system.conductors[id.index()];
        path.push(conductor.link);
        let from_first = self.system.node_of(conductor.from) == region.spots[near].node;
        Some(Found {
            kind,
            end: if from_first {
                conductor.from
            } else {
                conductor.to
            },
            pole: *region.pole,
            sources: vec![region.pole.source],
            moves: 0,
            off_normal: Rc::clone(&region.off_normal),
            path,
            length: Length {
                known: Metres(placing.gap.known),
                incomplete: placing.gap.incomplete,
            },
            limit: placing.limit,
            head: id,
        })
    }

    fn fault(
        &self,
        region: &Region<'_>,
        near: usize,
        meets: Meets,
        device_suits: Verdict,
        limit: Option<f64>,
    ) -> Kind {
        if region.effective.is_finite() {
            return Kind::TooLarge {
                by: self.narrowest(region, near),
                rating: Amps(region.effective),
            };
        }
        match (meets.least, meets.nearest) {
            (Some((rating, device)), _) if device_suits == Verdict::No && limit.is_some() => {
                Kind::TooLarge {
                    by: By::Device(device),
                    rating: Amps(rating),
                }
            }
            (_, Some((_, device, false))) => Kind::TooFar { device },
            (_, nearest) => Kind::Unprotected {
                next: nearest.map(|(_, device, _)| device),
            },
        }
    }

    /// The device that limits what reaches a spot, the nearest of several alike.
    fn narrowest(&self, region: &Region<'_>, near: usize) -> By {
        let mut at = near;
        while let Some((link, before)) = region.spots[at].came {
            if let LinkKind::Device(device) = self.system.links[link.index()].kind
                && self.gates[link.index()] == Some(region.effective)
            {
                return By::Device(device);
            }
            at = before as usize;
        }
        By::BuiltIn(region.pole.source)
    }

    /// Whether the far end of a conductor is near enough to the source or the tap that feeds it.
    fn placing(&self, region: &Region<'_>, id: ConductorId, near: usize) -> Placing {
        let from = region.spots[near];
        let length = self.length(id);
        let law = |case| standards::placement_limit(RuleSet::Law, case);
        let past_bus = self.is_past_bus(region, near);
        let mut ways = Vec::new();
        if !past_bus {
            ways.extend(law(PlacementCase::Battery).map(|limit| (from.battery, limit)));
        }
        if self.is_sheathed(id) {
            ways.extend(law(PlacementCase::Sheathed).map(|limit| (from.sheathed, limit)));
        }
        ways.extend(law(PlacementCase::NearSource).map(|limit| (from.tap, limit)));
        let mut best: Option<Placing> = None;
        for (gap, limit) in ways {
            if gap.known.is_infinite() {
                continue;
            }
            let gap = gap.plus(length);
            let verdict = gap.within(limit.max);
            if best.as_ref().is_none_or(|best| verdict > best.verdict) {
                best = Some(Placing {
                    verdict,
                    gap,
                    limit,
                });
            }
        }
        best.unwrap_or(Placing {
            verdict: Verdict::No,
            gap: Gap::NONE,
            limit: PlacementLimit {
                max: Metres(0.0),
                sheath_required: false,
                basis: standards::citations::LAW_PLACEMENT,
            },
        })
    }
}

/// Sheathed or enclosed all along, by its own record or by every part of its way.
pub(super) fn is_sheathed(system: &System, conductor: ConductorId) -> bool {
    let conductor = &system.conductors[conductor.index()];
    if let Some(given) = conductor.sheathed {
        return given.value;
    }
    !conductor.stretches.is_empty()
        && conductor.stretches.iter().all(|stretch| {
            stretch
                .way
                .is_some_and(|way| system.ways[way.index()].sheathed)
                || stretch
                    .bundle
                    .is_some_and(|bundle| system.bundles[bundle.index()].sheathed)
        })
}

fn spot_node(region: &Region<'_>, at: usize) -> usize {
    region.spots[at].node.index()
}

struct Placing {
    verdict: Verdict,
    gap: Gap,
    limit: PlacementLimit,
}

/// One finding for each change to be made, in file order of the conductors.
pub(super) fn gather(
    survey: &Survey<'_>,
    found: &[[Option<Found>; 2]],
    right: &[bool],
) -> Vec<Fault> {
    let main: Vec<Option<&Found>> = found.iter().map(main_of).collect();
    let mut groups: BTreeMap<Key, Vec<ConductorId>> = BTreeMap::new();
    for (index, one) in main.iter().enumerate() {
        if let Some(one) = one {
            let id = ConductorId::at(index);
            groups
                .entry(key(id, one, &main, &found[index], right))
                .or_default()
                .push(id);
        }
    }
    for (index, cover) in survey.covers.iter().enumerate() {
        let id = ConductorId::at(index);
        let unknown = !cover.grounded && cover.allowed.is_none() && !survey.is_exempt(id);
        if unknown && main[index].is_none() && cover.rating.is_some() {
            groups
                .entry(Key::Size(cover.device.map(By::Device)))
                .or_default()
                .push(id);
        }
    }
    let mut faults: Vec<Fault> = groups
        .into_iter()
        .filter_map(|(key, members)| fault_of(survey, &main, found, key, members))
        .collect();
    faults.sort_by_key(|fault| fault.conductor);
    faults
}

/// What findings that one change repairs have in common.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Key {
    /// The conductor at whose head a device is missing, or that is too small for its device.
    Head(ConductorId),
    /// The device that is too large for all it protects.
    Device(By),
    /// The source that does not say whether it limits itself.
    Source(SourceId),
    /// The device whose conductors give no size.
    Size(Option<By>),
}

fn main_of(ends: &[Option<Found>; 2]) -> Option<&Found> {
    match (&ends[0], &ends[1]) {
        (Some(one), Some(other)) => {
            let worse = other.rank() > one.rank()
                || (other.rank() == one.rank() && other.moves < one.moves);
            Some(if worse { other } else { one })
        }
        (one, other) => one.as_ref().or(other.as_ref()),
    }
}

fn key(
    id: ConductorId,
    one: &Found,
    main: &[Option<&Found>],
    ends: &[Option<Found>; 2],
    right: &[bool],
) -> Key {
    let both_ends = ends.iter().flatten().filter(|end| end.is_fault()).count() > 1;
    match one.kind {
        Kind::SizeNotGiven { by } => Key::Size(by),
        Kind::LimitingNotGiven => Key::Source(one.pole.source),
        Kind::LengthNotGiven => Key::Head(id),
        Kind::TooLarge { by, .. } => match by {
            By::Device(device) if right[device.index()] => {
                let head = main[one.head.index()];
                let same = head.is_some_and(|head| head.kind == one.kind);
                Key::Head(if same { one.head } else { id })
            }
            by => Key::Device(by),
        },
        Kind::Unprotected { .. } | Kind::TooFar { .. } => {
            let same = main[one.head.index()].is_some_and(|head| {
                matches!(head.kind, Kind::Unprotected { .. } | Kind::TooFar { .. })
            });
            Key::Head(if same && !both_ends { one.head } else { id })
        }
    }
}

fn fault_of(
    survey: &Survey<'_>,
    main: &[Option<&Found>],
    found: &[[Option<Found>; 2]],
    key: Key,
    members: Vec<ConductorId>,
) -> Option<Fault> {
    let limit = |id: &ConductorId| {
        survey.covers[id.index()]
            .allowed
            .as_ref()
            .map_or(f64::INFINITY, |allowed| allowed.judged.current.0)
    };
    let head = match key {
        Key::Head(head) if members.contains(&head) => head,
        Key::Device(_) => members
            .iter()
            .copied()
            .min_by(|a, b| limit(a).total_cmp(&limit(b)).then_with(|| a.cmp(b)))?,
        _ => *members.first()?,
    };
    let also: Vec<ConductorId> = members.into_iter().filter(|&id| id != head).collect();
    let Some(one) = main[head.index()] else {
        return size_fault(survey, key, head, also);
    };
    let other_end = found[head.index()]
        .iter()
        .flatten()
        .find(|other| other.end != one.end && other.is_fault() && one.is_fault())
        .map(|other| (other.end, other.pole.source));
    Some(Fault {
        conductor: head,
        kind: one.kind,
        end: one.end,
        pole: one.pole,
        sources: one.sources.clone(),
        other_end,
        positions: positions(survey.system, one),
        path: one.path.clone(),
        length: one.length,
        limit: one.limit,
        also,
    })
}

/// The positions off normal that the path needs; all of them where interlocks may tie others to them.
fn positions(system: &System, found: &Found) -> Vec<(GearId, u16)> {
    let mut positions = found.off_normal.to_vec();
    if system.interlocks.is_empty() {
        positions.retain(|(gear, _)| {
            found.path.iter().any(|link| {
                matches!(&system.links[link.index()].kind,
                    LinkKind::Contact { gear: on_path, .. } if on_path == gear)
            })
        });
    }
    positions
}

/// A conductor that a device protects, as far as its unknown size lets tell.
fn size_fault(
    survey: &Survey<'_>,
    key: Key,
    head: ConductorId,
    also: Vec<ConductorId>,
) -> Option<Fault> {
    let Key::Size(by) = key else { return None };
    let conductor = &survey.system.conductors[head.index()];
    let pole = *survey.nets.ungrounded().first()?;
    Some(Fault {
        conductor: head,
        kind: Kind::SizeNotGiven { by },
        end: conductor.from,
        pole,
        sources: vec![pole.source],
        other_end: None,
        positions: Vec::new(),
        path: vec![conductor.link],
        length: Length {
            known: Metres(0.0),
            incomplete: true,
        },
        limit: PlacementLimit {
            max: Metres(0.0),
            sheath_required: false,
            basis: standards::citations::LAW_OVERCURRENT,
        },
        also,
    })
}
