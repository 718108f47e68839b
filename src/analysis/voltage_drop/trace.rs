//! Follows the current of a load back to its source, and on to the source's negative.
//!
//! At every node the largest current is followed. That is the whole way where the wiring is a tree, and the main way
//! where it has loops; the drop itself does not depend on the way, only its split does.

use super::{Leg, Missing, Split, source_behind};
use crate::analysis::solve::Solution;
use crate::system::{
    ComponentId, ComponentKind, ConductorId, LinkId, LinkKind, LoadId, NodeId, SourceId, System,
};
use crate::units::{Amps, Volts};
use std::collections::BTreeMap;

/// A current that is only rounding, in amperes.
pub(super) const NOTHING: f64 = 1e-6;

/// The way of one load.
pub(super) struct Way {
    pub(super) total: Volts,
    pub(super) split: Split,
    pub(super) source: Option<SourceId>,
    pub(super) block: Option<ComponentId>,
    pub(super) feeder: Option<usize>,
    /// From the source to the first block or bar of the positive, and from the first bar of the negative back.
    pub(super) before_bars: Volts,
    /// Between which nodes that is: source and bar of the positive, bar and source of the negative.
    pub(super) bars: [Option<(NodeId, NodeId)>; 2],
    pub(super) missing: Vec<Missing>,
    pub(super) path: Vec<ConductorId>,
    pub(super) own_positive: Vec<ConductorId>,
    pub(super) own_negative: Vec<ConductorId>,
    pub(super) legs: Vec<Leg>,
}

/// A solution with its ways already followed.
pub(super) struct Trace<'a> {
    system: &'a System,
    solution: &'a Solution,
    unknown: Option<&'a Solution>,
    /// Feeder number by the node it ends at, for this solution.
    feeders: BTreeMap<NodeId, usize>,
    /// Where the largest current comes from, and where it goes to, by node; filled when asked.
    onward: [Vec<Onward>; 2],
    /// Batteries with the node of their positive and the lowest negative of their string, by node.
    posts: Vec<(NodeId, LinkId, NodeId)>,
}

/// What a meter would find along the way of one load.
pub(super) struct Metered {
    /// Voltage between the posts that the way starts from and returns to.
    pub(super) at_source: Volts,
    pub(super) source: Option<SourceId>,
    pub(super) split: Split,
    /// The part of it that is lost in contacts, devices and joints.
    pub(super) joints: Volts,
}

/// What is known of a node's largest current.
#[derive(Clone, Copy)]
enum Onward {
    /// Not looked at yet.
    Unasked,
    /// None flows.
    Nowhere,
    /// It flows here.
    To(Step),
}

/// One step along a current.
#[derive(Clone, Copy)]
struct Step {
    link: LinkId,
    node: NodeId,
    amps: f64,
}

/// Which way a current is followed.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Direction {
    /// Against the current, towards the source's positive.
    Up,
    /// With the current, towards the source's negative.
    Down,
}

/// One half of a load's way: its own part, then what it shares.
struct Half {
    /// Where its own part ends.
    joint: NodeId,
    /// Where the source begins.
    end: NodeId,
    source: Option<LinkId>,
    /// The first block feed or bar on the way, and the block where it is one.
    bar: Option<NodeId>,
    block: Option<ComponentId>,
    links: Vec<LinkId>,
    /// How many of the links, from the load on, are its own.
    own: usize,
    /// How many of them, from the load on, lead to the bar; none where there is none.
    to_bar: Option<usize>,
    /// The node behind each link.
    nodes: Vec<NodeId>,
}

impl Half {
    /// Ends the way behind its first links, at a node.
    fn cut(&mut self, links: usize, end: NodeId) {
        if self.own > links {
            self.own = links;
            self.joint = end;
        }
        self.links.truncate(links);
        self.end = end;
    }
}

impl<'a> Trace<'a> {
    pub(super) fn new(
        system: &'a System,
        solution: &'a Solution,
        unknown: Option<&'a Solution>,
    ) -> Self {
        let blank = || vec![Onward::Unasked; system.nodes.len()];
        Self {
            system,
            solution,
            unknown,
            feeders: BTreeMap::new(),
            onward: [blank(), blank()],
            posts: posts(system),
        }
    }

    /// Follows a load's current both ways and splits what a meter would show; none where it comes from no source.
    ///
    /// Where a battery's post stands on the way, the way counts from that battery, whether it delivers or is charged:
    /// what a charger loses before it is not the load's.
    pub(super) fn metered(&mut self, load: LinkId) -> Option<Metered> {
        let (positive, negative) = self.poles(load);
        let mut up = self.half(load, positive, Direction::Up);
        let mut down = self.half(load, negative, Direction::Down);
        let mut source = up.source?;
        let passed = std::iter::once(positive).chain(up.nodes.iter().copied());
        let post = passed
            .enumerate()
            .find_map(|(place, node)| Some((place, node, self.post(node)?)));
        if let Some((place, node, (battery, bottom))) = post {
            source = battery;
            up.cut(place, node);
            let own_way = std::iter::once(negative).chain(down.nodes.iter().copied());
            match own_way.enumerate().find(|&(_, node)| node == bottom) {
                Some((place, _)) => down.cut(place, bottom),
                // A charging battery's negative stands beside the way: the way is followed to the first bar.
                None => down.cut(down.to_bar.unwrap_or(usize::MAX), bottom),
            }
        } else {
            down.source?;
        }
        let volts = |node: NodeId| self.solution.potential(node);
        let joints = up
            .links
            .iter()
            .chain(&down.links)
            .filter(|link| !matches!(self.system.links[link.index()].kind, LinkKind::Conductor(_)))
            .filter_map(|&link| self.solution.across(self.system, link))
            .map(Volts::abs)
            .sum();
        Some(Metered {
            at_source: self.solution.between(up.end, down.end)?,
            source: source_behind(self.system, source),
            split: Split {
                feeder_positive: volts(up.end) - volts(up.joint),
                branch_positive: volts(up.joint) - volts(positive),
                branch_negative: volts(negative) - volts(down.joint),
                feeder_negative: volts(down.joint) - volts(down.end),
            },
            joints,
        })
    }

    /// The battery whose positive stands on a node, and the lowest negative of its string.
    fn post(&self, node: NodeId) -> Option<(LinkId, NodeId)> {
        let at = self
            .posts
            .binary_search_by_key(&node, |&(node, _, _)| node)
            .ok()?;
        let (_, battery, bottom) = self.posts[at];
        Some((battery, bottom))
    }

    /// Follows a load's current both ways and splits its drop.
    pub(super) fn load(&mut self, load: LoadId, feeders: &mut Vec<Vec<(LoadId, Amps)>>) -> Way {
        let link = self.system.loads[load.index()].link;
        let (positive, negative) = self.poles(link);
        let volts = |node: NodeId| self.solution.potential(node);
        let total = volts(negative) - volts(positive);
        let up = self.half(link, positive, Direction::Up);
        let down = self.half(link, negative, Direction::Down);
        let volts = |node: NodeId| self.solution.potential(node);
        let (feeder_positive, branch_positive) = (
            volts(up.end) - volts(up.joint),
            volts(up.joint) - volts(positive),
        );
        let branch_negative = volts(negative) - volts(down.joint);
        let before = |half: &Half| {
            half.bar
                .map_or(Volts(0.0), |bar| volts(bar) - volts(half.end))
        };
        let before_bars = before(&down) - before(&up);
        let mut missing = Vec::new();
        let mut path: Vec<ConductorId> = Vec::new();
        let mut shared_unknown = None;
        for &link in up.links.iter().rev().chain(&down.links) {
            if let LinkKind::Conductor(id) = self.system.links[link.index()].kind {
                path.push(id);
                missing.extend(missing_in(self.system, id));
            }
            let unknown = self
                .unknown
                .is_some_and(|unknown| unknown.current(link).0.abs() > NOTHING);
            if unknown && shared_unknown.is_none() {
                shared_unknown = Some(link);
            }
        }
        let own_draw_given = self.system.loads[load.index()].draw.is_some();
        if let Some(link) = shared_unknown.filter(|_| own_draw_given) {
            missing.push(Missing::SharedDraw(link));
        }
        Way {
            total,
            split: Split {
                feeder_positive,
                branch_positive,
                branch_negative,
                feeder_negative: total - feeder_positive - branch_positive - branch_negative,
            },
            source: up.source.and_then(|link| source_behind(self.system, link)),
            block: up.block,
            before_bars,
            bars: [
                up.bar.map(|bar| (up.end, bar)),
                down.bar.map(|bar| (bar, down.end)),
            ],
            feeder: (up.joint != up.end).then(|| self.feeder(up.joint, feeders)),
            missing,
            path,
            own_positive: self.conductors(&up.links[..up.own]),
            own_negative: self.conductors(&down.links[..down.own]),
            legs: self.legs(&up, &down),
        }
    }

    /// The links from the source to the load and back, each with its current.
    fn legs(&self, up: &Half, down: &Half) -> Vec<Leg> {
        let leg = |half: &Half, at: usize, is_return: bool| {
            let link = half.links[at];
            Leg {
                link,
                amps: Amps(self.solution.current(link).0.abs()),
                is_return,
                before_bars: half.to_bar.is_some_and(|to_bar| at >= to_bar),
                on_loop: false,
            }
        };
        (0..up.links.len())
            .rev()
            .map(|at| leg(up, at, false))
            .chain((0..down.links.len()).map(|at| leg(down, at, true)))
            .collect()
    }

    fn conductors(&self, links: &[LinkId]) -> Vec<ConductorId> {
        links
            .iter()
            .filter_map(|link| match self.system.links[link.index()].kind {
                LinkKind::Conductor(id) => Some(id),
                _ => None,
            })
            .collect()
    }

    /// Positive and negative node of a load as its current flows.
    fn poles(&self, load: LinkId) -> (NodeId, NodeId) {
        let record = &self.system.links[load.index()];
        let (a, b) = (self.system.node_of(record.a), self.system.node_of(record.b));
        if self.solution.current(load).0 < 0.0 {
            (b, a)
        } else {
            (a, b)
        }
    }

    fn half(&mut self, load: LinkId, start: NodeId, direction: Direction) -> Half {
        let own = self.solution.current(load).0.abs();
        let mut half = Half {
            joint: start,
            end: start,
            source: None,
            bar: None,
            block: None,
            links: Vec::new(),
            nodes: Vec::new(),
            own: 0,
            to_bar: None,
        };
        let mut is_own = true;
        for _ in 0..self.system.nodes.len() {
            let Some(step) = self.step(half.end, direction) else {
                break;
            };
            if source_behind(self.system, step.link).is_some() {
                half.source = Some(step.link);
                break;
            }
            if is_own && (step.amps - own).abs() > NOTHING.max(1e-9 * own) {
                is_own = false;
            }
            half.links.push(step.link);
            half.nodes.push(step.node);
            half.end = step.node;
            if is_own {
                half.joint = step.node;
                half.own = half.links.len();
            }
            if half.bar.is_none() {
                let block = self.block_of(step.link);
                if block.is_some() || self.is_bar(step.node) {
                    half.bar = Some(step.node);
                    half.to_bar = Some(half.links.len());
                    half.block = block;
                    is_own = false;
                }
            }
        }
        if is_own && half.source.is_some() {
            // Nothing is shared: all of it is the load's own.
            half.joint = half.end;
        }
        half
    }

    /// The fuse block that a link is a way of.
    fn block_of(&self, link: LinkId) -> Option<ComponentId> {
        let LinkKind::Device(device) = self.system.links[link.index()].kind else {
            return None;
        };
        let component = self.system.devices[device.index()].component;
        (self.system.components[component.index()].kind == ComponentKind::FuseBlock)
            .then_some(component)
    }

    /// Whether a node is a bar that several circuits share.
    fn is_bar(&self, node: NodeId) -> bool {
        self.system.nodes[node.index()]
            .terminals
            .iter()
            .any(|&terminal| {
                let component = self.system.component_of(terminal);
                let own_negative = component.kind == ComponentKind::FuseBlock
                    && self.system.terminals[terminal.index()].name == "negative";
                own_negative || matches!(component.kind, ComponentKind::Bus | ComponentKind::Ground)
            })
    }

    /// The largest current into a node, or out of it, loads not counted.
    fn step(&mut self, node: NodeId, direction: Direction) -> Option<Step> {
        let cache = direction as usize;
        match self.onward[cache][node.index()] {
            Onward::Unasked => {}
            Onward::Nowhere => return None,
            Onward::To(step) => return Some(step),
        }
        let mut best: Option<Step> = None;
        for &link in &self.system.nodes[node.index()].links {
            let record = &self.system.links[link.index()];
            if matches!(record.kind, LinkKind::Load(_)) {
                continue;
            }
            let (a, b) = (self.system.node_of(record.a), self.system.node_of(record.b));
            if a == b {
                continue;
            }
            let from_a = self.solution.current(link).0;
            let into = if a == node { -from_a } else { from_a };
            let amps = match direction {
                Direction::Up => into,
                Direction::Down => -into,
            };
            if amps > NOTHING && best.is_none_or(|best| amps > best.amps) {
                best = Some(Step {
                    link,
                    node: if a == node { b } else { a },
                    amps,
                });
            }
        }
        self.onward[cache][node.index()] = best.map_or(Onward::Nowhere, Onward::To);
        best
    }

    /// Number of the feeder that ends at a node: everything that its current goes on to.
    fn feeder(&mut self, node: NodeId, feeders: &mut Vec<Vec<(LoadId, Amps)>>) -> usize {
        if let Some(&known) = self.feeders.get(&node) {
            return known;
        }
        let mut seen = vec![false; self.system.nodes.len()];
        seen[node.index()] = true;
        let mut stack = vec![node];
        let mut loads = Vec::new();
        while let Some(at) = stack.pop() {
            for &link in &self.system.nodes[at.index()].links {
                let record = &self.system.links[link.index()];
                let (a, b) = (self.system.node_of(record.a), self.system.node_of(record.b));
                let from_a = self.solution.current(link).0;
                let out = if a == at { from_a } else { -from_a };
                if out <= NOTHING {
                    continue;
                }
                match record.kind {
                    LinkKind::Load(load) => loads.push((load, Amps(out))),
                    LinkKind::Source(_) => {}
                    _ => {
                        let next = if a == at { b } else { a };
                        if !std::mem::replace(&mut seen[next.index()], true) {
                            stack.push(next);
                        }
                    }
                }
            }
        }
        loads.sort_by(|(a, amps_a), (b, amps_b)| amps_b.total_cmp(amps_a).then(a.cmp(b)));
        let number = feeders.len();
        feeders.push(loads);
        self.feeders.insert(node, number);
        number
    }
}

/// Batteries by the nodes of their positives, one for each node, with the lowest negative of their string.
fn posts(system: &System) -> Vec<(NodeId, LinkId, NodeId)> {
    let ends = |source: SourceId| {
        let id = system.sources[source.index()].link;
        let link = &system.links[id.index()];
        (system.node_of(link.a), id, system.node_of(link.b))
    };
    let strings = system.banks.iter().flat_map(|bank| &bank.strings);
    let mut posts: Vec<(NodeId, LinkId, NodeId)> = strings
        .filter_map(|string| Some((string, ends(*string.first()?).2)))
        .flat_map(|(string, bottom)| {
            string.iter().map(move |&source| {
                let (post, link, _) = ends(source);
                (post, link, bottom)
            })
        })
        .collect();
    posts.sort_unstable();
    posts.dedup_by_key(|(node, _, _)| *node);
    posts
}

/// What a conductor lacks for its resistance.
pub(super) fn missing_in(system: &System, conductor: ConductorId) -> Vec<Missing> {
    let record = &system.conductors[conductor.index()];
    let mut missing = Vec::new();
    if record.length.is_none() {
        missing.push(Missing::Length(conductor));
    }
    if record.gauge.is_none() {
        missing.push(Missing::Gauge(conductor));
    }
    missing
}
