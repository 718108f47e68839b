//! Current through parts that several conductors meet at: bars, feeds of blocks, terminals of switches.
//!
//! It cannot be had from the largest currents of the links, which need not flow at one time.

use crate::analysis::solve::Solution;
use crate::system::{ComponentId, ComponentKind, Known, LinkId, LinkKind, System, TerminalId};
use crate::units::Amps;

/// A part with a rating of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// A bus bar.
    Bar(ComponentId),
    /// The feed of a fuse block.
    Feed(ComponentId),
    /// The negative bar built into a fuse block.
    BlockNegative(ComponentId),
    /// A terminal of a switch, relay or combiner.
    Terminal(TerminalId),
}

/// The continuous rating of a part; none where none is given, and for the terminals of a breaker, which is a device.
#[must_use]
pub fn part_rating(system: &System, part: Part) -> Known<Amps> {
    match part {
        Part::Bar(id) | Part::Feed(id) => system.components[id.index()].rating,
        Part::BlockNegative(id) => system.components[id.index()].negative_rating,
        Part::Terminal(terminal) => {
            let component = system.component_of(terminal);
            component
                .rating
                .filter(|_| component.kind != ComponentKind::Breaker)
        }
    }
}

/// The continuous rating of a link that is judged by itself: a connector contact, an isolator's output, a shunt.
///
/// The outer none is for links that are judged otherwise, the inner one for a rating that is not given.
#[must_use]
pub fn link_rating(system: &System, link: LinkId) -> Option<Known<Amps>> {
    let record = &system.links[link.index()];
    let component = &system.components[record.component.index()];
    match (&record.kind, component.kind) {
        (LinkKind::Mate { .. }, _) => Some(
            component
                .connector
                .as_ref()
                .and_then(|connector| connector.contact_rating),
        ),
        (LinkKind::Diode { .. }, ComponentKind::Isolator)
        | (LinkKind::Joint, ComponentKind::Shunt) => Some(component.rating),
        _ => None,
    }
}

/// The links that a part's current is the sum of, each with its sign.
pub(in crate::analysis) struct Through {
    pub(in crate::analysis) part: Part,
    pub(in crate::analysis) links: Vec<(LinkId, f64)>,
}

/// What flows through a part, in amperes.
#[derive(Clone, Copy, Debug, Default)]
pub(in crate::analysis) struct Flows {
    /// Out of it.
    pub(in crate::analysis) out: f64,
    /// Into it, counted positive.
    pub(in crate::analysis) into: f64,
    /// With their signs.
    pub(in crate::analysis) sum: f64,
}

impl Flows {
    /// Adds up the flows of its links, outward positive.
    pub(in crate::analysis) fn of(links: impl Iterator<Item = f64>) -> Self {
        links.fold(Self::default(), |flows, flow| Self {
            out: flows.out + flow.max(0.0),
            into: flows.into - flow.min(0.0),
            sum: flows.sum + flow,
        })
    }
}

impl Through {
    /// All parts whose current is wanted, in component order.
    pub(in crate::analysis) fn all(system: &System) -> Vec<Self> {
        let mut parts = Vec::new();
        for (index, component) in system.components.iter().enumerate() {
            let id = ComponentId::at(index);
            match component.kind {
                ComponentKind::Bus => {
                    if let Some(&terminal) = component.terminals.first() {
                        parts.push(Self::at_node(system, Part::Bar(id), terminal));
                    }
                }
                ComponentKind::FuseBlock => {
                    let negative = component.terminals.iter().copied().find(|terminal| {
                        let name = &system.terminals[terminal.index()].name;
                        name == "negative" || name.starts_with("negative.")
                    });
                    if let Some(terminal) = negative {
                        parts.push(Self::at_node(system, Part::BlockNegative(id), terminal));
                    }
                }
                _ => {}
            }
        }
        parts.extend(feeds(system));
        parts.extend(gear_terminals(system));
        parts
    }

    fn at_node(system: &System, part: Part, terminal: TerminalId) -> Self {
        let node = system.node_of(terminal);
        let mut links = Vec::new();
        for &link in &system.nodes[node.index()].links {
            let record = &system.links[link.index()];
            let (a, b) = (system.node_of(record.a), system.node_of(record.b));
            if a != b {
                links.push((link, if a == node { 1.0 } else { -1.0 }));
            }
        }
        Self { part, links }
    }

    /// The part's current in a solution, without direction.
    pub(super) fn amps_in(&self, solution: &Solution) -> f64 {
        self.amps(self.flows(solution))
    }

    /// What flows through the part in a solution.
    pub(in crate::analysis) fn flows(&self, solution: &Solution) -> Flows {
        let links = self.links.iter();
        Flows::of(links.map(|&(link, sign)| solution.current(link).0 * sign))
    }

    /// The part's current, without direction, from what flows through it.
    pub(in crate::analysis) fn amps(&self, flows: Flows) -> f64 {
        if matches!(self.part, Part::Terminal(_)) {
            return flows.sum.abs();
        }
        // What leaves a bar has entered it; of a feed only the ways are added up, so both directions are.
        flows.out.max(flows.into)
    }
}

/// The ways of every block, together.
fn feeds(system: &System) -> Vec<Through> {
    let mut ways: Vec<Vec<(LinkId, f64)>> = vec![Vec::new(); system.components.len()];
    for device in &system.devices {
        if system.components[device.component.index()].kind == ComponentKind::FuseBlock {
            ways[device.component.index()].push((device.link, 1.0));
        }
    }
    ways.into_iter()
        .enumerate()
        .filter(|(_, links)| !links.is_empty())
        .map(|(index, links)| Through {
            part: Part::Feed(ComponentId::at(index)),
            links,
        })
        .collect()
}

/// The contacts at every terminal of a part with positions.
fn gear_terminals(system: &System) -> Vec<Through> {
    let mut contacts: Vec<Vec<(LinkId, f64)>> = vec![Vec::new(); system.terminals.len()];
    for (index, link) in system.links.iter().enumerate() {
        if let LinkKind::Contact { .. } = link.kind {
            contacts[link.a.index()].push((LinkId::at(index), 1.0));
            contacts[link.b.index()].push((LinkId::at(index), -1.0));
        }
    }
    contacts
        .into_iter()
        .enumerate()
        .filter(|(_, links)| !links.is_empty())
        .map(|(index, links)| Through {
            part: Part::Terminal(TerminalId::at(index)),
            links,
        })
        .collect()
}
