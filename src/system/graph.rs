//! The circuit as a petgraph: one vertex a node, one edge a link.

use super::{LinkId, NodeId};
use petgraph::graph::{EdgeIndex, NodeIndex, UnGraph};

/// An undirected multigraph over the nodes, whose edge weights are link ids.
///
/// Edge indices equal link ids and vertex indices equal node ids, because both are added in id order.
#[derive(Clone, Debug, Default)]
pub struct Graph {
    inner: UnGraph<NodeId, LinkId, u32>,
}

impl Graph {
    /// Builds the graph of `nodes` vertices from the ends of every link, in id order.
    #[must_use]
    pub fn new(nodes: usize, ends: &[(NodeId, NodeId)]) -> Self {
        let mut inner = UnGraph::with_capacity(nodes, ends.len());
        for index in 0..nodes {
            inner.add_node(NodeId::at(index));
        }
        for (index, &(a, b)) in ends.iter().enumerate() {
            inner.add_edge(
                NodeIndex::from(a.0),
                NodeIndex::from(b.0),
                LinkId::at(index),
            );
        }
        Self { inner }
    }

    /// Number of nodes.
    #[must_use]
    pub fn node_count(&self) -> usize {
        self.inner.node_count()
    }

    /// Number of links.
    #[must_use]
    pub fn link_count(&self) -> usize {
        self.inner.edge_count()
    }

    /// Both ends of a link, `a` first.
    #[must_use]
    pub fn ends(&self, link: LinkId) -> (NodeId, NodeId) {
        self.inner
            .edge_endpoints(EdgeIndex::from(link.0))
            .map_or((NodeId(0), NodeId(0)), |(a, b)| {
                (NodeId::at(a.index()), NodeId::at(b.index()))
            })
    }

    /// The petgraph itself, for its algorithms.
    #[must_use]
    pub fn inner(&self) -> &UnGraph<NodeId, LinkId, u32> {
        &self.inner
    }
}
