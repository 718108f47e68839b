//! Walking the plain graph in one given state.

use super::{State, conducts, ends};
use crate::system::{LinkId, LinkKind, NodeId, System};
use std::collections::VecDeque;

/// What can be reached from some nodes in one state.
#[derive(Clone, Debug)]
pub struct Walk {
    /// The link each node was reached by, and the node before it.
    came: Vec<Option<(LinkId, NodeId)>>,
    reached: Vec<bool>,
}

impl Walk {
    /// Whether a node is reached.
    #[must_use]
    pub fn reaches(&self, node: NodeId) -> bool {
        self.reached[node.index()]
    }

    /// The links from a start to a node, in order; empty for a start itself and for nodes not reached.
    #[must_use]
    pub fn path(&self, node: NodeId) -> Vec<LinkId> {
        let mut path = Vec::new();
        let mut at = node;
        while let Some((link, before)) = self.came[at.index()] {
            path.push(link);
            at = before;
        }
        path.reverse();
        path
    }
}

/// Reaches out from some nodes through closed contacts and the links that `pass` lets through.
///
/// Nearest first by number of links, so that [`Walk::path`] is a shortest one. Never through sources, loads or
/// spare ways; diodes one way only.
pub fn walk(
    system: &System,
    state: &State,
    from: &[NodeId],
    pass: impl Fn(LinkId) -> bool,
) -> Walk {
    let count = system.nodes.len();
    let mut walk = Walk {
        came: vec![None; count],
        reached: vec![false; count],
    };
    let mut queue = VecDeque::new();
    for &node in from {
        if !walk.reached[node.index()] {
            walk.reached[node.index()] = true;
            queue.push_back(node);
        }
    }
    while let Some(node) = queue.pop_front() {
        for &link in &system.nodes[node.index()].links {
            let kind = &system.links[link.index()].kind;
            let (a, b) = ends(system, link);
            let next = if a == node { b } else { a };
            if walk.reached[next.index()]
                || (matches!(kind, LinkKind::Diode { .. }) && a != node)
                || !state.closes(kind)
                || !conducts(system, link)
                || !pass(link)
            {
                continue;
            }
            walk.reached[next.index()] = true;
            walk.came[next.index()] = Some((link, node));
            queue.push_back(next);
        }
    }
    walk
}
