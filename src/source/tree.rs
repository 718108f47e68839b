//! The YAML tree: an arena of nodes, each with its span.
//!
//! An alias is the node it names, so a node can have several parents. The depth and the expanded size of the tree are
//! bounded when it is built, so walking it is safe.

use super::Span;
use super::scalar::{Meaning, Style};
use std::ops::Range;

/// A node of one [`Document`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NodeId(pub(super) u32);

impl NodeId {
    pub(super) fn index(self) -> usize {
        self.0 as usize
    }
}

/// What a node is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Node<'d> {
    /// A single value.
    Scalar {
        /// Its characters after quotes and escapes are resolved; `~` for an empty value.
        text: &'d str,
        /// How it is written.
        style: Style,
        /// What it stands for.
        meaning: Meaning,
    },
    /// Keys and values in file order, each key once and each key a scalar.
    Map(&'d [(NodeId, NodeId)]),
    /// Items in file order.
    List(&'d [NodeId]),
}

#[derive(Clone, Debug)]
pub(super) struct Scalar {
    /// Range in the document's texts.
    pub(super) text: Range<u32>,
    pub(super) style: Style,
    pub(super) meaning: Meaning,
    /// Bytes between the start of the span and the text, where the text stands in the file as it is.
    pub(super) lead: Option<u8>,
}

#[derive(Clone, Debug)]
pub(super) enum Kind {
    Scalar(Scalar),
    Map {
        entries: Vec<(NodeId, NodeId)>,
        /// Entries by key text, for maps too large to be searched one by one.
        by_key: Vec<u32>,
    },
    List(Vec<NodeId>),
}

#[derive(Clone, Debug)]
pub(super) struct Stored {
    pub(super) span: Span,
    pub(super) kind: Kind,
}

/// Maps up to this size are searched one by one.
pub(super) const SMALL_MAP: usize = 16;

/// The tree of one file.
#[derive(Clone, Debug)]
pub struct Document {
    pub(super) nodes: Vec<Stored>,
    /// The texts of all scalars, end to end: one allocation for all.
    pub(super) texts: String,
    pub(super) root: NodeId,
}

impl Document {
    /// The outermost node, always a map.
    #[must_use]
    pub fn root(&self) -> NodeId {
        self.root
    }

    /// What the node is.
    #[must_use]
    pub fn node(&self, node: NodeId) -> Node<'_> {
        match &self.nodes[node.index()].kind {
            Kind::Scalar(scalar) => Node::Scalar {
                text: self.text_of(scalar),
                style: scalar.style,
                meaning: scalar.meaning,
            },
            Kind::Map { entries, .. } => Node::Map(entries),
            Kind::List(items) => Node::List(items),
        }
    }

    /// The characters of the file that make the node; an aliased node stands at its anchor.
    ///
    /// A block scalar begins at its content, an empty value has an empty span.
    #[must_use]
    pub fn span(&self, node: NodeId) -> Span {
        self.nodes[node.index()].span
    }

    /// A scalar's text.
    #[must_use]
    pub fn text(&self, node: NodeId) -> Option<&str> {
        match &self.nodes[node.index()].kind {
            Kind::Scalar(scalar) => Some(self.text_of(scalar)),
            _ => None,
        }
    }

    /// Keys and values of a map in file order; empty for anything else.
    #[must_use]
    pub fn entries(&self, node: NodeId) -> &[(NodeId, NodeId)] {
        match &self.nodes[node.index()].kind {
            Kind::Map { entries, .. } => entries,
            _ => &[],
        }
    }

    /// Items of a list in file order; empty for anything else.
    #[must_use]
    pub fn items(&self, node: NodeId) -> &[NodeId] {
        match &self.nodes[node.index()].kind {
            Kind::List(items) => items,
            _ => &[],
        }
    }

    /// The value of a key.
    #[must_use]
    pub fn child(&self, node: NodeId, key: &str) -> Option<NodeId> {
        self.entry(node, key).map(|(_, value)| value)
    }

    /// The key itself.
    #[must_use]
    pub fn key_node(&self, node: NodeId, key: &str) -> Option<NodeId> {
        self.entry(node, key).map(|(key, _)| key)
    }

    /// The characters of the key.
    #[must_use]
    pub fn key_span(&self, node: NodeId, key: &str) -> Option<Span> {
        self.key_node(node, key).map(|key| self.span(key))
    }

    /// The characters of a key's value.
    #[must_use]
    pub fn value_span(&self, node: NodeId, key: &str) -> Option<Span> {
        self.child(node, key).map(|value| self.span(value))
    }

    /// The node at the end of a path of keys and item numbers; the last one met if the path leads nowhere.
    #[must_use]
    pub fn follow(&self, node: NodeId, path: &[&str]) -> NodeId {
        let mut node = node;
        for step in path {
            let next = match &self.nodes[node.index()].kind {
                Kind::List(items) => step
                    .parse::<usize>()
                    .ok()
                    .and_then(|index| items.get(index).copied()),
                _ => self.child(node, step),
            };
            match next {
                Some(next) => node = next,
                None => break,
            }
        }
        node
    }

    /// The characters of a part of a scalar's text, given in bytes of the text.
    ///
    /// The whole node where the text does not stand in the file as it is: with escapes, folded lines, or in a block.
    #[must_use]
    pub fn part(&self, node: NodeId, part: Range<usize>) -> Span {
        let whole = self.span(node);
        let Kind::Scalar(Scalar {
            lead: Some(lead),
            text,
            ..
        }) = &self.nodes[node.index()].kind
        else {
            return whole;
        };
        let length = (text.end - text.start) as usize;
        if part.start > part.end || part.end > length {
            return whole;
        }
        let start = whole.start + usize::from(*lead);
        Span::new(start + part.start, start + part.end)
    }

    /// Number of nodes stored.
    #[must_use]
    pub fn len(&self) -> usize {
        self.nodes.len()
    }

    /// Never: a document has a root.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.nodes.is_empty()
    }

    /// Every node in the order of storing.
    pub fn nodes(&self) -> impl Iterator<Item = NodeId> + '_ {
        (0..).map(NodeId).take(self.nodes.len())
    }

    fn entry(&self, node: NodeId, key: &str) -> Option<(NodeId, NodeId)> {
        let Kind::Map { entries, by_key } = &self.nodes[node.index()].kind else {
            return None;
        };
        if by_key.is_empty() {
            return entries
                .iter()
                .copied()
                .find(|&(name, _)| self.text(name) == Some(key));
        }
        let found = by_key
            .binary_search_by(|&entry| self.text(entries[entry as usize].0).cmp(&Some(key)))
            .ok()?;
        Some(entries[by_key[found] as usize])
    }

    fn text_of(&self, scalar: &Scalar) -> &str {
        &self.texts[scalar.text.start as usize..scalar.text.end as usize]
    }
}
