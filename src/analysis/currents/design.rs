//! Design currents of fuse blocks: what the feed is meant to carry when not everything runs together.
//!
//! The difference between the sum of the ways and the design current is led past the feed: from where the returns of
//! the block's loads come together, straight to the block. Each way and each return up to there keeps its full
//! current; the feed, and all that lies before it on both sides, carries the design current.

use super::cases::CaseKind;
use super::gears::can_conduct;
use crate::analysis::solve::{Running, Solution, SolveError, Sweep};
use crate::system::{ComponentKind, LinkId, LinkKind, LoadId, NodeId, System};
use crate::units::Amps;

/// Blocks with a design current, those with the fewest loads first.
pub(super) struct Designs {
    blocks: Vec<Block>,
    /// By load: the blocks it hangs on, inner ones first, and where its return joins others.
    of_load: Vec<Vec<usize>>,
    joint: Vec<Option<NodeId>>,
}

struct Block {
    feed: NodeId,
    ways: Vec<LinkId>,
    loads: Vec<LoadId>,
    current: Amps,
}

impl Designs {
    pub(super) fn new(system: &System) -> Self {
        let mut designs = Self {
            blocks: Vec::new(),
            of_load: vec![Vec::new(); system.loads.len()],
            joint: vec![None; system.loads.len()],
        };
        for (index, component) in system.components.iter().enumerate() {
            let Some(current) = component.design_current else {
                continue;
            };
            if component.kind != ComponentKind::FuseBlock {
                continue;
            }
            let ways: Vec<LinkId> = system
                .devices
                .iter()
                .filter(|device| device.component.index() == index && !device.spare)
                .map(|device| device.link)
                .collect();
            let Some(&first) = ways.first() else {
                continue;
            };
            let feed = system.node_of(system.links[first.index()].a);
            let loads = loads_behind(system, &ways, feed);
            designs.blocks.push(Block {
                feed,
                ways,
                loads,
                current: current.value,
            });
        }
        designs.blocks.sort_by_key(|block| block.loads.len());
        for (number, block) in designs.blocks.iter().enumerate() {
            for load in &block.loads {
                designs.of_load[load.index()].push(number);
                designs.joint[load.index()] = Some(return_joint(system, *load));
            }
        }
        designs
    }

    /// Solves a sweep's state, with design currents where everything is on; then also as it is without them.
    pub(super) fn solve(
        &self,
        system: &System,
        sweep: &Sweep<'_>,
        kind: CaseKind,
    ) -> Result<(Solution, Option<Solution>), SolveError> {
        let plain = sweep.solve(&[])?;
        if kind != CaseKind::EverythingOn || self.blocks.is_empty() {
            return Ok((plain, None));
        }
        let mut past: Vec<(NodeId, NodeId, Amps)> = Vec::new();
        let mut solution = plain.clone();
        for block in &self.blocks {
            let fed = |load: &&LoadId| solution.loads[load.index()] == Running::Fed;
            let drawn = |load: &LoadId| solution.current(system.loads[load.index()].link).0;
            let total: f64 = block.loads.iter().filter(fed).map(drawn).sum();
            let sum: f64 = block.ways.iter().map(|&way| solution.current(way).0).sum();
            if total <= 0.0 || sum <= 0.0 {
                continue;
            }
            let excess = sum - block.current.0;
            let shares: Vec<(NodeId, NodeId, Amps)> = block
                .loads
                .iter()
                .filter(fed)
                .filter_map(|load| {
                    let joint = self.joint[load.index()]?;
                    Some((joint, block.feed, Amps(excess * drawn(load) / total)))
                })
                .collect();
            past.extend(shares);
            solution = sweep.solve(&past)?;
        }
        Ok((solution, Some(plain)))
    }

    /// Leads a load's current past the feed of the innermost block with a design current that it hangs on.
    ///
    /// A feed with a design current is known, whatever its loads draw.
    pub(super) fn relief(&self, load: LoadId, amps: Amps) -> Option<(NodeId, NodeId, Amps)> {
        let &block = self.of_load[load.index()].first()?;
        Some((self.joint[load.index()]?, self.blocks[block].feed, amps))
    }
}

/// Loads that the ways of a block lead to without passing its feed or a source.
fn loads_behind(system: &System, ways: &[LinkId], feed: NodeId) -> Vec<LoadId> {
    let mut seen = vec![false; system.nodes.len()];
    seen[feed.index()] = true;
    for source in &system.sources {
        let link = &system.links[source.link.index()];
        seen[system.node_of(link.a).index()] = true;
        seen[system.node_of(link.b).index()] = true;
    }
    let mut stack: Vec<NodeId> = Vec::new();
    let mut enter = |node: NodeId, stack: &mut Vec<NodeId>| {
        if !std::mem::replace(&mut seen[node.index()], true) {
            stack.push(node);
        }
    };
    for way in ways {
        enter(system.node_of(system.links[way.index()].b), &mut stack);
    }
    let mut loads = Vec::new();
    while let Some(node) = stack.pop() {
        for &link in &system.nodes[node.index()].links {
            let record = &system.links[link.index()];
            let (a, b) = (system.node_of(record.a), system.node_of(record.b));
            if let LinkKind::Load(load) = record.kind {
                if a == node {
                    loads.push(load);
                }
            } else if can_conduct(system, link) {
                enter(if a == node { b } else { a }, &mut stack);
            }
        }
    }
    loads.sort_unstable();
    loads.dedup();
    loads
}

/// Where a load's return first meets others: a bus, a block, a ground, or a joint of three.
pub(in crate::analysis) fn return_joint(system: &System, load: LoadId) -> NodeId {
    let link = system.loads[load.index()].link;
    let mut came = link;
    let mut node = system.node_of(system.links[link.index()].b);
    for _ in 0..system.nodes.len() {
        let record = &system.nodes[node.index()];
        let is_joint = record.terminals.iter().any(|&terminal| {
            matches!(
                system.component_of(terminal).kind,
                ComponentKind::Bus
                    | ComponentKind::FuseBlock
                    | ComponentKind::Ground
                    | ComponentKind::Battery
            )
        });
        let mut onward = record
            .links
            .iter()
            .copied()
            .filter(|&other| other != came)
            .filter(|&other| {
                can_conduct(system, other)
                    || matches!(system.links[other.index()].kind, LinkKind::Load(_))
            });
        let (next, further) = (onward.next(), onward.next());
        let Some(next) =
            next.filter(|&next| !is_joint && further.is_none() && can_conduct(system, next))
        else {
            return node;
        };
        let record = &system.links[next.index()];
        let (a, b) = (system.node_of(record.a), system.node_of(record.b));
        came = next;
        node = if a == node { b } else { a };
    }
    node
}
