//! One stretch of circuit fed through two devices at once.

use super::super::telling::{listed, rating, shown, with_positions};
use crate::analysis::Facts;
use crate::analysis::states::{
    Answer, Constraints, Reach, Walk, Witness, affordable, conducts, ends, walk,
};
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{DeviceId, GearKind, LinkId, LinkKind, NodeId, SourceKind, System};
use crate::units::Amps;
use petgraph::unionfind::UnionFind;
use std::collections::{BTreeMap, BTreeSet};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "OC111",
    name: "devices-side-by-side",
    title: "Two devices feed one stretch of circuit side by side",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "In no combination of positions do two overcurrent devices that are fed from one point also meet on their load side: their ratings then add up, and pulling one of them leaves the stretch live. The same is asked of two devices at different points, such as two fuse blocks, where one battery feeds a load through both at once; positions that join banks are left out there. A pump that is fed by hand and by its float, or a load that must stay live, has two feeds on purpose; whether its joint feeds the panel back is asked by another rule. Devices at the head of twin cables that each have one at their far end too are not meant.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  main-fuse: {rating: 20 A, form: blade regular, zone: cabin}
fuse-blocks:
  block: {feed-rating: 30 A, form: blade regular, ways: {1: 5 A, 2: 5 A, 3: spare}, zone: cabin}
splices:
  joint: {kind: butt, sealed: true, zone: cabin}
loads:
  fan: {draw: 2 A, kind: heater, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 10 AWG, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: block.feed, gauge: 10 AWG, colour: red, length: 1 ft}
  W3: {from: block.1, to: joint, gauge: 14 AWG, colour: red, length: 1 ft}
  W4: {from: block.2, to: joint, gauge: 14 AWG, colour: red, length: 1 ft}
  W5: {from: joint, to: fan.+, gauge: 14 AWG, colour: red, length: 2 ft}
  W6: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 3 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  main-fuse: {rating: 20 A, form: blade regular, zone: cabin}
fuse-blocks:
  block: {feed-rating: 30 A, form: blade regular, ways: {1: 5 A, 2: 5 A, 3: spare}, zone: cabin}
splices:
  joint: {kind: butt, sealed: true, zone: cabin}
loads:
  fan: {draw: 2 A, kind: heater, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 10 AWG, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: block.feed, gauge: 10 AWG, colour: red, length: 1 ft}
  W3: {from: block.1, to: joint, gauge: 14 AWG, colour: red, length: 1 ft}
  W5: {from: joint, to: fan.+, gauge: 14 AWG, colour: red, length: 2 ft}
  W6: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 3 ft}
",
    fix: "Feed the stretch through one device.",
    check,
};

/// Pairs of devices of different feeding points looked at; a boat with more has one fault and not many.
const MAX_PAIRS: usize = 256;

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let gate = |link: LinkId| {
        let is_device = matches!(system.links[link.index()].kind, LinkKind::Device(_));
        (!is_device && facts.nets.is_off_negative(system, link)).then_some(f64::INFINITY)
    };
    // With every contact closed: only devices that then lie between the same two stretches are looked at further.
    let mut merged = UnionFind::<u32>::new(system.nodes.len());
    for index in 0..system.links.len() {
        let link = LinkId::at(index);
        if conducts(system, link) && gate(link).is_some() {
            let (a, b) = ends(system, link);
            merged.union(a.0, b.0);
        }
    }
    let mut groups: BTreeMap<(u32, u32), Vec<DeviceId>> = BTreeMap::new();
    for (index, device) in system.devices.iter().enumerate() {
        let (a, b) = ends(system, device.link);
        let key = (merged.find(a.0), merged.find(b.0));
        if conducts(system, device.link) && key.0 != key.1 && !facts.nets.is_negative(a) {
            groups.entry(key).or_default().push(DeviceId::at(index));
        }
    }
    groups.retain(|_, devices| devices.len() > 1);
    if !groups.is_empty() {
        let reach = Reach::new(system, &Constraints::none(system), gate);
        for devices in groups.values().take(affordable(system)) {
            findings.extend(judge(rule, facts, &reach, devices, gate));
        }
    }
    two_feeds(rule, facts, findings);
}

/// Loads that two devices of different feeding points reach at once, both from one battery.
///
/// Positions that join banks or are for emergencies are left out: a stretch between two banks has a device at each of
/// its ends.
fn two_feeds(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let pairs = Pairs::new(facts);
    if pairs.0.is_empty() {
        return;
    }
    let apart = Constraints::none(system).forbid(system, |_, position| {
        position.joins_banks || position.emergency
    });
    let mut told: Vec<Vec<DeviceId>> = Vec::new();
    for pair in pairs.0.iter().take(affordable(system)) {
        let already = |known: &Vec<DeviceId>| pair.devices.iter().all(|it| known.contains(it));
        if told.iter().any(already) {
            continue;
        }
        if let Some(witness) = pair.fed_twice(facts, &apart) {
            told.push(pair.devices.to_vec());
            findings.push(pair.told(rule, system, &witness));
        }
    }
}

/// Two devices that face one stretch with a load in it from different feeding points.
struct Pair {
    devices: [DeviceId; 2],
    /// By device: the node on the side of the stretch.
    near: [NodeId; 2],
    /// By device: the node on the other side.
    far: [NodeId; 2],
}

/// All pairs that could feed a load together, with every contact closed that joins no banks.
struct Pairs(Vec<Pair>);

impl Pairs {
    fn new(facts: &Facts<'_>) -> Self {
        let system = facts.system;
        let mut stretches = UnionFind::<u32>::new(system.nodes.len());
        for index in 0..system.links.len() {
            let link = LinkId::at(index);
            let off_negative = facts.nets.is_off_negative(system, link);
            if off_negative && conducts(system, link) && is_stretch(system, link) {
                let (a, b) = ends(system, link);
                stretches.union(a.0, b.0);
            }
        }
        let of = |node: NodeId| stretches.find(node.0);
        let mut batteries: Vec<u32> = system
            .sources
            .iter()
            .filter(|source| source.kind == SourceKind::Battery)
            .map(|source| of(ends(system, source.link).0))
            .collect();
        batteries.sort_unstable();
        let mut loads: BTreeSet<u32> = BTreeSet::new();
        for load in &system.loads {
            let (positive, _) = ends(system, load.link);
            if !facts.nets.is_negative(positive) {
                loads.insert(of(positive));
            }
        }
        // The devices at each stretch, with the node on their side of it and the one beyond them.
        let mut facing: BTreeMap<u32, Vec<(DeviceId, NodeId, NodeId)>> = BTreeMap::new();
        for (index, device) in system.devices.iter().enumerate() {
            let (a, b) = ends(system, device.link);
            if !conducts(system, device.link) || facts.nets.is_negative(a) || of(a) == of(b) {
                continue;
            }
            for (near, far) in [(b, a), (a, b)] {
                let known = facing.entry(of(near)).or_default();
                known.push((DeviceId::at(index), near, far));
            }
        }
        // A plain cable with a device at each end: where it comes from.
        let cable = |stretch: u32, device: DeviceId| match facing.get(&stretch).map(Vec::as_slice) {
            Some(&[one, other]) if !loads.contains(&stretch) => {
                let beyond = if one.0 == device { other } else { one };
                Some(of(beyond.2))
            }
            _ => None,
        };
        let mut pairs = Vec::new();
        for (stretch, devices) in &facing {
            if !loads.contains(stretch) || batteries.binary_search(stretch).is_ok() {
                continue;
            }
            for (index, &one) in devices.iter().enumerate() {
                for &other in &devices[index + 1..] {
                    let (far, beside) = (of(one.2), of(other.2));
                    let twins =
                        cable(far, one.0).is_some_and(|from| cable(beside, other.0) == Some(from));
                    if far != beside && !twins && pairs.len() < MAX_PAIRS {
                        pairs.push(Pair {
                            devices: [one.0, other.0],
                            near: [one.1, other.1],
                            far: [one.2, other.2],
                        });
                    }
                }
            }
        }
        Self(pairs)
    }
}

/// Whether a link belongs to a stretch: anything but a device, and no contact that only joins banks.
fn is_stretch(system: &System, link: LinkId) -> bool {
    match &system.links[link.index()].kind {
        LinkKind::Device(_) => false,
        LinkKind::Contact { gear, closed_in } => closed_in.iter().any(|&position| {
            let positions = &system.gears[gear.index()].positions;
            positions
                .get(usize::from(position))
                .is_some_and(|position| !position.joins_banks && !position.emergency)
        }),
        _ => true,
    }
}

impl Pair {
    /// The state in which both devices feed one stretch from one battery, the positions found one after the other.
    fn fed_twice(&self, facts: &Facts<'_>, apart: &Constraints) -> Option<Witness> {
        let system = facts.system;
        let off_negative = |link: LinkId| facts.nets.is_off_negative(system, link);
        let within = |link: LinkId| {
            (off_negative(link) && is_stretch(system, link)).then_some(f64::INFINITY)
        };
        let [one, other] = self.near;
        let meet = Reach::new(system, apart, within)
            .joined(&[one], other)
            .witness()?;
        let stretch = walk(system, &meet.state, &[one], |link| within(link).is_some());
        if is_meant(system, |node| stretch.reaches(node)) || !holds_load(system, &stretch) {
            return None;
        }
        let mut fixed = apart.clone().fix_along(system, &meet);
        // The ways up to the battery do not come back through the stretch.
        let outside = |link: LinkId| {
            let (a, b) = ends(system, link);
            let enters = stretch.reaches(a) || stretch.reaches(b);
            (off_negative(link) && !enters).then_some(f64::INFINITY)
        };
        for source in &system.sources {
            let (post, _) = ends(system, source.link);
            if source.kind != SourceKind::Battery || stretch.reaches(post) {
                continue;
            }
            let up = |fixed: &Constraints, far: NodeId| {
                Reach::new(system, fixed, outside)
                    .joined(&[post], far)
                    .witness()
            };
            let Some(first) = up(&fixed, self.far[0]) else {
                continue;
            };
            let both = fixed.clone().fix_along(system, &first);
            if let Some(second) = up(&both, self.far[1]) {
                fixed = both.fix_along(system, &second);
                return Reach::new(system, &fixed, within)
                    .joined(&[one], other)
                    .witness();
            }
        }
        None
    }

    fn told(&self, rule: &Rule, system: &System, witness: &Witness) -> Diagnostic {
        let names = self
            .devices
            .map(|id| system.devices[id.index()].name.as_str());
        let [first, other] = self.devices.map(|id| &system.devices[id.index()]);
        let finding = rule
            .finding(
                names[1],
                format!(
                    "{} feed one stretch of circuit by two ways{}; pulling one of them leaves it live",
                    listed(&names),
                    with_positions(system, &witness.off_normal)
                ),
            )
            .and_also(names)
            .label(other.span, "this one")
            .label(first.span, "and this one")
            .repair(format!(
                "take what {} feed off one of the two",
                listed(&names)
            ));
        shown(
            finding,
            system,
            &witness.off_normal,
            names[0],
            &witness.path,
        )
    }
}

/// Whether a load lies in the stretch that is closed.
fn holds_load(system: &System, stretch: &Walk) -> bool {
    let mut loads = system.loads.iter();
    loads.any(|load| stretch.reaches(ends(system, load.link).0))
}

fn judge(
    rule: &Rule,
    facts: &Facts<'_>,
    reach: &Reach<'_>,
    devices: &[DeviceId],
    gate: impl Fn(LinkId) -> Option<f64>,
) -> Option<Diagnostic> {
    let system = facts.system;
    let nodes = |id: DeviceId| ends(system, system.devices[id.index()].link);
    let first = devices[0];
    let (inside, outside) = nodes(first);
    let spread = reach.spread(&[outside]);
    for &other in &devices[1..] {
        let (other_inside, other_outside) = nodes(other);
        let Answer::Yes(witness) = spread.answer(other_outside) else {
            continue;
        };
        let pass = |link: LinkId| gate(link).is_some();
        let fed = walk(system, &witness.state, &[inside], pass);
        let stretch = walk(system, &witness.state, &[outside], pass);
        if !fed.reaches(other_inside) || is_meant(system, |node| stretch.reaches(node)) {
            continue;
        }
        let names = [first, other].map(|id| system.devices[id.index()].name.as_str());
        let together: Option<Amps> = [first, other]
            .iter()
            .map(|id| system.devices[id.index()].rating.map(|given| given.value))
            .sum();
        let sum = together.map_or_else(String::new, |sum| {
            format!("; together they let {} pass", rating(sum))
        });
        let finding = rule
            .finding(
                names[1],
                format!(
                    "{} feed one stretch of circuit side by side{}{sum}",
                    listed(&names),
                    with_positions(system, &witness.off_normal)
                ),
            )
            .and_also(names)
            .label(system.devices[other.index()].span, "this one")
            .label(system.devices[first.index()].span, "and this one")
            .repair(format!(
                "take what {} feeds off one of the two",
                listed(&names)
            ));
        return Some(shown(
            finding,
            system,
            &witness.off_normal,
            names[0],
            &witness.path,
        ));
    }
    None
}

/// Whether a stretch holds a load with two feeds on purpose: one that must stay live, or one with a float.
fn is_meant(system: &System, holds: impl Fn(NodeId) -> bool) -> bool {
    let stays = system.loads.iter().any(|load| {
        load.always_on.is_some_and(|given| given.value) && holds(ends(system, load.link).0)
    });
    stays
        || system.links.iter().enumerate().any(|(index, link)| {
            let LinkKind::Contact { gear, .. } = link.kind else {
                return false;
            };
            let (a, b) = ends(system, LinkId::at(index));
            system.gears[gear.index()].kind == GearKind::Float && (holds(a) || holds(b))
        })
}
