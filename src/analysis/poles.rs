//! The pole and the nominal voltage of every node: what it is wired to be, whatever the switches stand at.
//!
//! Wires, devices and joints carry the voltage of the batteries as far as they reach; contacts carry it on, but never
//! through two contacts of one part that no position closes together, so a changeover relay does not mix its poles.
//! A node that contacts can put on more than one voltage has a lowest and a highest.

use super::solve::Groups;
use crate::system::{LinkId, LinkKind, NodeId, SourceKind, System};
use crate::units::Volts;
use std::collections::VecDeque;

/// What a node is wired to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pole {
    /// On the negative of its batteries.
    Negative,
    /// Above the negative.
    Positive,
    /// Contacts can put it on the negative or above, as with a motor that is reversed.
    Either,
    /// No source is wired to it.
    Unknown,
}

/// Pole and nominal voltage of every node.
#[derive(Clone, Debug)]
pub struct Poles {
    labels: Vec<Option<Label>>,
}

/// Lowest and highest voltage of a node against its negative, and the most that its system holds.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Label {
    low: f64,
    high: f64,
    top: f64,
}

/// Voltages nearer than this are one.
const SAME_VOLTS: f64 = 0.05;

impl Poles {
    /// Finds the pole of every node.
    #[must_use]
    pub fn new(system: &System) -> Self {
        let mut wired = Groups::new(system.nodes.len());
        for (index, link) in system.links.iter().enumerate() {
            if is_fixed(system, &link.kind) {
                let (a, b) = ends(system, LinkId::at(index));
                wired.join(a, b, 0.0);
            }
        }
        let (net, nets) = wired.number();
        let contacts = Contacts::new(system, &net, nets);
        let mut labels = battery_labels(system, &net, nets);
        contacts.carry(&mut labels);
        if charging_labels(system, &net, &mut labels) {
            contacts.carry(&mut labels);
        }
        Self {
            labels: net.iter().map(|&net| labels[net]).collect(),
        }
    }

    /// What a node is wired to be.
    #[must_use]
    pub fn of(&self, node: NodeId) -> Pole {
        match self.labels[node.index()] {
            None => Pole::Unknown,
            Some(label) if label.high < SAME_VOLTS => Pole::Negative,
            Some(label) if label.low < SAME_VOLTS => Pole::Either,
            Some(_) => Pole::Positive,
        }
    }

    /// Lowest and highest nominal voltage of a node against the negative of its batteries.
    #[must_use]
    pub fn voltage(&self, node: NodeId) -> Option<(Volts, Volts)> {
        self.labels[node.index()].map(|label| (Volts(label.low), Volts(label.high)))
    }

    /// Nominal voltage of the system that a node belongs to, from its negative to its highest pole.
    #[must_use]
    pub fn system_voltage(&self, node: NodeId) -> Option<Volts> {
        self.labels[node.index()].map(|label| Volts(label.top))
    }
}

fn is_fixed(system: &System, kind: &LinkKind) -> bool {
    match kind {
        LinkKind::Conductor(_) | LinkKind::Mate { .. } | LinkKind::Joint => true,
        LinkKind::Device(device) => !system.devices[device.index()].spare,
        _ => false,
    }
}

fn ends(system: &System, link: LinkId) -> (usize, usize) {
    let link = &system.links[link.index()];
    (
        system.node_of(link.a).index(),
        system.node_of(link.b).index(),
    )
}

/// Labels of the nets that batteries stand on: the lowest battery negative of each system is its zero.
fn battery_labels(system: &System, net: &[usize], nets: usize) -> Vec<Option<Label>> {
    let mut stacked = Groups::new(nets);
    let mut posts = Vec::new();
    for source in &system.sources {
        if source.kind == SourceKind::Battery {
            let (a, b) = ends(system, source.link);
            stacked.join(net[a], net[b], source.nominal.value.0);
            posts.push((net[a], net[b]));
        }
    }
    let mut range = vec![(f64::INFINITY, f64::NEG_INFINITY); nets];
    for &(a, b) in &posts {
        for (post, negative) in [(a, false), (b, true)] {
            let (root, above) = stacked.find(post);
            if negative {
                range[root].0 = range[root].0.min(above);
            }
            range[root].1 = range[root].1.max(above);
        }
    }
    let mut labels = vec![None; nets];
    for &(a, b) in &posts {
        for post in [a, b] {
            let (root, above) = stacked.find(post);
            let level = above - range[root].0;
            labels[post] = Some(Label {
                low: level,
                high: level,
                top: range[root].1 - range[root].0,
            });
        }
    }
    labels
}

/// Labels the poles of other sources where nothing is known yet; tells whether it labelled any.
fn charging_labels(system: &System, net: &[usize], labels: &mut [Option<Label>]) -> bool {
    let mut any = false;
    for source in &system.sources {
        if source.kind == SourceKind::Battery {
            continue;
        }
        let (a, b) = ends(system, source.link);
        let (a, b) = (net[a], net[b]);
        if a == b || labels[a].is_some() {
            continue;
        }
        let base = labels[b].map_or(0.0, |label| label.low);
        let level = base + source.nominal.value.0;
        let label = |level: f64, top: f64| Label {
            low: level,
            high: level,
            top,
        };
        labels[a] = Some(label(level, level));
        if labels[b].is_none() {
            labels[b] = Some(label(base, level));
        }
        any = true;
    }
    any
}

/// Contacts and diodes between nets.
struct Contacts<'s> {
    /// By net: the contacts that end on it.
    at: Vec<Vec<usize>>,
    list: Vec<Contact<'s>>,
}

struct Contact<'s> {
    nets: (usize, usize),
    /// The part and the positions that close it; none for a diode.
    closed: Option<(usize, &'s [u16])>,
}

/// How a net was entered in one pass.
#[derive(Clone, Copy, PartialEq)]
enum Entered {
    No,
    By(usize),
    Freely,
}

impl<'s> Contacts<'s> {
    fn new(system: &'s System, net: &[usize], nets: usize) -> Self {
        let mut contacts = Self {
            at: vec![Vec::new(); nets],
            list: Vec::new(),
        };
        for (index, link) in system.links.iter().enumerate() {
            let closed = match &link.kind {
                LinkKind::Contact { gear, closed_in } if !closed_in.is_empty() => {
                    Some((gear.index(), closed_in.as_slice()))
                }
                LinkKind::Diode { .. } => None,
                _ => continue,
            };
            let (a, b) = ends(system, LinkId::at(index));
            let nets = (net[a], net[b]);
            if nets.0 == nets.1 {
                continue;
            }
            for end in [nets.0, nets.1] {
                contacts.at[end].push(contacts.list.len());
            }
            contacts.list.push(Contact { nets, closed });
        }
        contacts
    }

    /// Carries the labels that are known over contacts to nets that have none.
    fn carry(&self, labels: &mut [Option<Label>]) {
        let mut levels: Vec<f64> = labels.iter().flatten().map(|label| label.low).collect();
        levels.sort_by(f64::total_cmp);
        levels.dedup_by(|a, b| (*a - *b).abs() < SAME_VOLTS);
        let known = labels.to_vec();
        for level in levels {
            self.carry_level(level, &known, labels);
        }
    }

    fn carry_level(&self, level: f64, known: &[Option<Label>], labels: &mut [Option<Label>]) {
        let mut entered = vec![Entered::No; known.len()];
        let mut tops = vec![0.0f64; known.len()];
        let mut queue = VecDeque::new();
        for (net, label) in known.iter().enumerate() {
            if let Some(label) = label
                && (label.low - level).abs() < SAME_VOLTS
            {
                entered[net] = Entered::Freely;
                tops[net] = label.top;
                queue.push_back(net);
            }
        }
        while let Some(net) = queue.pop_front() {
            for &index in &self.at[net] {
                let contact = &self.list[index];
                if let Entered::By(before) = entered[net]
                    && (before == index || self.exclusive(before, index))
                {
                    continue;
                }
                let next = if contact.nets.0 == net {
                    contact.nets.1
                } else {
                    contact.nets.0
                };
                if known[next].is_some() {
                    continue;
                }
                tops[next] = tops[next].max(tops[net]);
                let now = match entered[next] {
                    Entered::No => Entered::By(index),
                    Entered::By(before) if self.same_part(before, index) => continue,
                    Entered::By(_) => Entered::Freely,
                    Entered::Freely => continue,
                };
                entered[next] = now;
                queue.push_back(next);
            }
        }
        for (net, label) in labels.iter_mut().enumerate() {
            if entered[net] == Entered::No || known[net].is_some() {
                continue;
            }
            *label = Some(match *label {
                None => Label {
                    low: level,
                    high: level,
                    top: tops[net],
                },
                Some(before) => Label {
                    low: before.low.min(level),
                    high: before.high.max(level),
                    top: before.top.max(tops[net]),
                },
            });
        }
    }

    fn same_part(&self, a: usize, b: usize) -> bool {
        match (self.list[a].closed, self.list[b].closed) {
            (Some((first, _)), Some((second, _))) => first == second,
            _ => false,
        }
    }

    /// Whether two contacts belong to one part and no position closes both.
    fn exclusive(&self, a: usize, b: usize) -> bool {
        match (self.list[a].closed, self.list[b].closed) {
            (Some((first, closed)), Some((second, others))) => {
                first == second && !closed.iter().any(|position| others.contains(position))
            }
            _ => false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::testing::Build;
    use crate::system::{GearKind, Polarity};

    #[test]
    fn poles_reach_through_switches() {
        let mut build = Build::new();
        build.source("house", SourceKind::Battery, None);
        build.switch(
            "master",
            GearKind::BatterySwitch,
            &["off", "on"],
            &[("in", "out", &[1])],
        );
        build.load("lamp", Some(1.0));
        let negative = build.bus("negative", Polarity::Negative);
        let stray = build.bus("stray", Polarity::Positive);
        build.wire("A", ("house.+", "master.in"), "14 AWG", 1.0);
        build.wire("B", ("master.out", "lamp.+"), "14 AWG", 1.0);
        build.wire("N", ("lamp.-", "negative"), "14 AWG", 1.0);
        build.wire("M", ("negative", "house.-"), "14 AWG", 1.0);
        let system = build.finish();
        let poles = Poles::new(&system);
        let lamp = &system.links[system.loads[0].link.index()];
        assert_eq!(poles.of(system.node_of(lamp.a)), Pole::Positive);
        assert_eq!(poles.of(system.node_of(lamp.b)), Pole::Negative);
        assert_eq!(poles.of(negative), Pole::Negative);
        assert_eq!(poles.of(stray), Pole::Unknown);
        assert_eq!(
            poles.voltage(system.node_of(lamp.a)),
            Some((Volts(12.0), Volts(12.0)))
        );
        assert_eq!(poles.system_voltage(negative), Some(Volts(12.0)));
    }

    #[test]
    fn a_string_has_levels_and_a_reversing_pair_has_both_poles() {
        let mut build = Build::new();
        for name in ["low", "high"] {
            build.source(name, SourceKind::Battery, None);
        }
        build.wire("L", ("low.+", "high.-"), "2 AWG", 0.3);
        build.load("motor", Some(20.0));
        // Two changeover relays: each motor terminal rests on the negative and can be lifted to the positive.
        for side in ["up", "down"] {
            build.switch(
                side,
                GearKind::Relay,
                &["energised", "rest"],
                &[("com", "no", &[0]), ("com", "nc", &[1])],
            );
            build.wire(
                &format!("{side}+"),
                (&format!("{side}.no"), "high.+"),
                "6 AWG",
                1.0,
            );
            build.wire(
                &format!("{side}-"),
                (&format!("{side}.nc"), "low.-"),
                "6 AWG",
                1.0,
            );
        }
        build.wire("M1", ("up.com", "motor.+"), "6 AWG", 1.0);
        build.wire("M2", ("down.com", "motor.-"), "6 AWG", 1.0);
        let system = build.finish();
        let poles = Poles::new(&system);
        let node = |number: &str| {
            let wire = system
                .conductors
                .iter()
                .find(|wire| wire.number == number)
                .expect("a wire of that number");
            system.node_of(wire.from)
        };
        assert_eq!(poles.voltage(node("L")), Some((Volts(12.0), Volts(12.0))));
        assert_eq!(poles.voltage(node("up+")), Some((Volts(24.0), Volts(24.0))));
        assert_eq!(poles.of(node("up-")), Pole::Negative);
        assert_eq!(poles.of(node("M1")), Pole::Either);
        assert_eq!(poles.of(node("M2")), Pole::Either);
        assert_eq!(poles.system_voltage(node("up-")), Some(Volts(24.0)));
    }

    #[test]
    fn a_source_that_is_no_battery_has_poles_of_its_own() {
        let mut build = Build::new();
        build.source("converter", SourceKind::Converter, Some(10.0));
        build.load("lamp", Some(1.0));
        build.wire("A", ("converter.+", "lamp.+"), "14 AWG", 1.0);
        build.wire("N", ("lamp.-", "converter.-"), "14 AWG", 1.0);
        let system = build.finish();
        let poles = Poles::new(&system);
        assert_eq!(
            poles.of(system.node_of(system.conductors[0].from)),
            Pole::Positive
        );
        assert_eq!(
            poles.of(system.node_of(system.conductors[1].from)),
            Pole::Negative
        );
    }
}
