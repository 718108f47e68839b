//! The tree of a harness: segments from node to node, with the longest stretch through the datum as its trunk.

use super::Place;
use crate::analysis::fill::ways_of;
use crate::system::{ConductorId, PointId, System, WayId};
use crate::units::Metres;
use std::collections::{BTreeMap, BTreeSet};

/// How far apart break-outs of one point stand along the trunk where more than two leave it, in metres.
const SPACING: f64 = 0.010;
/// What is left of a segment at least when it is shortened for that, in metres.
const LEAST: f64 = 0.001;
/// From this share of the longest arm on, the second arm of the datum is the other half of the trunk.
const THROUGH: f64 = 0.3;

/// A straight piece of a harness between two nodes.
#[derive(Clone, Debug, PartialEq)]
pub struct Branch {
    /// Node nearer to the root.
    pub from: usize,
    /// The other node.
    pub to: usize,
    /// Its length.
    pub length: Metres,
    /// Length of the segment that it is the last piece of; none for an earlier piece.
    pub segment: Option<Metres>,
    /// Way of the file that it follows.
    pub way: Option<WayId>,
    /// Conductors that pass it, in file order.
    pub members: Vec<ConductorId>,
}

/// How a harness lies on the board.
#[derive(Clone, Debug, PartialEq)]
pub struct Tree {
    /// Node at the left end of the trunk.
    pub root: usize,
    /// Node that distances count from.
    pub datum: usize,
    /// By node: the branch towards the root.
    pub parent: Vec<Option<usize>>,
    /// By node: branches away from the root; the first one continues the line.
    pub children: Vec<Vec<usize>>,
    /// By node: distance from the datum along the harness.
    pub distance: Vec<Metres>,
    /// By node: it lies between the root and the datum, so its distance counts towards the root.
    pub before_datum: Vec<bool>,
    /// By node: point of the file.
    pub point: Vec<Option<PointId>>,
    /// By node: the node that it stands for, where break-outs of one point are spaced.
    pub spaced_from: Vec<Option<usize>>,
    /// All branches.
    pub branches: Vec<Branch>,
    depth: Vec<usize>,
}

impl Tree {
    /// The branches between two nodes, in order.
    #[must_use]
    pub fn path(&self, a: usize, b: usize) -> Vec<usize> {
        let (mut a, mut b) = (a, b);
        let (mut up, mut down) = (Vec::new(), Vec::new());
        while a != b {
            let (node, list) = if self.depth[a] >= self.depth[b] {
                (&mut a, &mut up)
            } else {
                (&mut b, &mut down)
            };
            let Some(branch) = self.parent[*node] else {
                break;
            };
            list.push(branch);
            *node = self.branches[branch].from;
        }
        up.extend(down.into_iter().rev());
        up
    }

    /// Number of nodes.
    #[must_use]
    pub fn nodes(&self) -> usize {
        self.parent.len()
    }
}

/// A tree before it has a root.
pub(super) struct Sketch {
    /// By node: point of the file.
    pub(super) points: Vec<Option<PointId>>,
    /// Its edges.
    pub(super) links: Vec<Link>,
    /// By place of the harness: its node.
    pub(super) at: Vec<usize>,
    /// Node that distances count from.
    pub(super) datum: usize,
}

/// An edge of a sketch.
pub(super) struct Link {
    pub(super) ends: [usize; 2],
    pub(super) length: Metres,
    pub(super) way: Option<WayId>,
}

/// The tree of the measured ways that conductors take.
pub(super) fn of_ways(
    system: &System,
    wires: &[ConductorId],
    places: &[Place],
    ends: &[[usize; 2]],
) -> Sketch {
    let mut known: BTreeMap<PointId, usize> = BTreeMap::new();
    let mut points = Vec::new();
    let mut node = |point: PointId| {
        *known.entry(point).or_insert_with(|| {
            points.push(Some(point));
            points.len() - 1
        })
    };
    let at: Vec<usize> = places
        .iter()
        .map(|place| {
            let point = place.point(system);
            node(point.expect("a conductor follows ways only between points"))
        })
        .collect();
    let mut links = Vec::new();
    let mut used: BTreeSet<WayId> = BTreeSet::new();
    for way in wires.iter().flat_map(|&wire| ways_of(system, wire)) {
        if used.insert(way) {
            let record = &system.ways[way.index()];
            links.push(Link {
                ends: [node(record.from), node(record.to)],
                length: record.length.map_or(Metres(0.0), |length| length.value),
                way: Some(way),
            });
        }
    }
    let datum = at[chief(places, ends)];
    Sketch {
        points,
        links,
        at,
        datum,
    }
}

/// The place that a harness hangs on: the half of a connector with most conductors, else the place with most.
pub(super) fn chief(places: &[Place], ends: &[[usize; 2]]) -> usize {
    let mut count = vec![0usize; places.len()];
    for &site in ends.iter().flatten() {
        count[site] += 1;
    }
    (0..places.len())
        .max_by_key(|&site| {
            (
                places[site].half.is_some(),
                count[site],
                std::cmp::Reverse(site),
            )
        })
        .unwrap_or(0)
}

impl Sketch {
    /// Gives the sketch its root; also tells the node of every place.
    pub(super) fn into_tree(mut self) -> (Tree, Vec<usize>) {
        self.join_nodes_of_no_distance();
        let from_datum = Rooted::new(&self, self.datum);
        let root = from_datum.root_through_datum();
        let rooted = Rooted::new(&self, root);
        let count = self.points.len();
        let mut tree = Tree {
            root,
            datum: self.datum,
            parent: vec![None; count],
            children: vec![Vec::new(); count],
            distance: from_datum.distance.iter().map(|&d| Metres(d)).collect(),
            before_datum: vec![false; count],
            point: self.points.clone(),
            spaced_from: vec![None; count],
            branches: Vec::with_capacity(self.links.len()),
            depth: vec![0; count],
        };
        for &node in &rooted.order {
            let Some((link, parent)) = rooted.came[node] else {
                continue;
            };
            let length = self.links[link].length;
            tree.parent[node] = Some(tree.branches.len());
            tree.children[parent].push(tree.branches.len());
            tree.branches.push(Branch {
                from: parent,
                to: node,
                length,
                segment: Some(length),
                way: self.links[link].way,
                members: Vec::new(),
            });
        }
        let height = rooted.heights(&self);
        let size = rooted.sizes();
        for list in &mut tree.children {
            // The farthest goes on straight; of equally far ones that from which most leaves.
            list.sort_by_key(|&branch| {
                let piece = &tree.branches[branch];
                let reach = ((piece.length.0 + height[piece.to]) * 1000.0).round();
                #[allow(clippy::cast_possible_truncation)] // millimetres of a boat
                let reach = reach as i64;
                (std::cmp::Reverse((reach, size[piece.to])), branch)
            });
        }
        let mut occupied = vec![false; count];
        for &node in &self.at {
            occupied[node] = true;
        }
        tree.space_break_outs(&rooted.order, &occupied);
        tree.settle();
        (tree, self.at)
    }

    /// Makes nodes one that no length parts.
    fn join_nodes_of_no_distance(&mut self) {
        let mut name: Vec<usize> = (0..self.points.len()).collect();
        let find = |name: &[usize], mut node: usize| {
            while name[node] != node {
                node = name[node];
            }
            node
        };
        for link in &self.links {
            if link.length.0 <= 0.0 {
                let [a, b] = link.ends.map(|end| find(&name, end));
                name[a.max(b)] = a.min(b);
            }
        }
        let mut number = vec![None; name.len()];
        let mut points = Vec::new();
        for node in 0..name.len() {
            let chief = find(&name, node);
            if number[chief].is_none() {
                number[chief] = Some(points.len());
                points.push(self.points[chief]);
            }
            number[node] = number[chief];
        }
        let new = |node: usize| number[node].unwrap_or(0);
        self.points = points;
        self.links.retain(|link| link.length.0 > 0.0);
        for link in &mut self.links {
            link.ends = link.ends.map(new);
        }
        for node in &mut self.at {
            *node = new(*node);
        }
        self.datum = new(self.datum);
    }
}

/// A sketch seen from one node.
struct Rooted {
    order: Vec<usize>,
    came: Vec<Option<(usize, usize)>>,
    distance: Vec<f64>,
}

impl Rooted {
    fn new(sketch: &Sketch, root: usize) -> Self {
        let count = sketch.points.len();
        let mut at: Vec<Vec<usize>> = vec![Vec::new(); count];
        for (index, link) in sketch.links.iter().enumerate() {
            for end in link.ends {
                at[end].push(index);
            }
        }
        let mut rooted = Self {
            order: vec![root],
            came: vec![None; count],
            distance: vec![0.0; count],
        };
        let mut seen = vec![false; count];
        seen[root] = true;
        let mut next = 0;
        while let Some(&node) = rooted.order.get(next) {
            next += 1;
            for &link in &at[node] {
                let [a, b] = sketch.links[link].ends;
                let other = if a == node { b } else { a };
                if !std::mem::replace(&mut seen[other], true) {
                    rooted.came[other] = Some((link, node));
                    rooted.distance[other] = rooted.distance[node] + sketch.links[link].length.0;
                    rooted.order.push(other);
                }
            }
        }
        rooted
    }

    /// By node: the longest way from it away from the root.
    fn heights(&self, sketch: &Sketch) -> Vec<f64> {
        let mut height = vec![0.0_f64; self.came.len()];
        for &node in self.order.iter().rev() {
            if let Some((link, parent)) = self.came[node] {
                let reach = height[node] + sketch.links[link].length.0;
                height[parent] = height[parent].max(reach);
            }
        }
        height
    }

    /// By node: how many nodes lie behind it.
    fn sizes(&self) -> Vec<usize> {
        let mut size = vec![1; self.came.len()];
        for &node in self.order.iter().rev() {
            if let Some((_, parent)) = self.came[node] {
                size[parent] += size[node];
            }
        }
        size
    }

    /// The end of the trunk: the datum, or the tip of its second arm where that is long.
    fn root_through_datum(&self) -> usize {
        let root = self.order[0];
        // By node: the branch of the datum that it lies on, named by the branch's first node.
        let mut arm: Vec<usize> = vec![root; self.came.len()];
        let mut tips: BTreeMap<usize, (f64, usize)> = BTreeMap::new();
        for &node in &self.order[1..] {
            let parent = self.came[node].map_or(root, |(_, parent)| parent);
            arm[node] = if parent == root { node } else { arm[parent] };
            let tip = tips.entry(arm[node]).or_insert((0.0, node));
            if self.distance[node] > tip.0 {
                *tip = (self.distance[node], node);
            }
        }
        let mut arms: Vec<(f64, usize)> = tips.into_values().collect();
        arms.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        match arms[..] {
            [(longest, _), (second, tip), ..] if second >= THROUGH * longest => tip,
            _ => root,
        }
    }
}

impl Tree {
    /// Puts the break-outs of a node that more than two leave a little further along the line, two by two.
    ///
    /// A branch that starts later is as much shorter, so every way from the root on keeps its length.
    fn space_break_outs(&mut self, order: &[usize], occupied: &[bool]) {
        for &node in order {
            // What stands at the node itself takes the room of one branch; at the root it stands on the line.
            let room = if occupied[node] && node != self.root {
                1
            } else {
                2
            };
            let Some((&line, sides)) = self.children[node].split_first() else {
                continue;
            };
            if sides.len() <= room {
                continue;
            }
            let mut sides = sides.to_vec();
            sides.sort_by(|&a, &b| {
                let length = |branch: usize| self.branches[branch].length;
                length(a).total_cmp(&length(b)).then(a.cmp(&b))
            });
            let mut kept = vec![line];
            kept.extend(&sides[..room]);
            let mut line = line;
            let mut here = node;
            for (step, pair) in sides[room..].chunks(2).enumerate() {
                let offset = SPACING * (step + 1) as f64;
                let fits = |length: f64| length > offset + LEAST;
                let (go, stay): (Vec<usize>, Vec<usize>) = pair
                    .iter()
                    .partition(|&&branch| fits(self.branches[branch].length.0));
                kept.extend(stay);
                if go.is_empty() || self.branches[line].length.0 <= SPACING + LEAST {
                    kept.extend(go);
                    continue;
                }
                let new = self.split(line, here, node);
                if here == node {
                    // The first piece takes the place of the line at the node.
                    kept[0] = self.branches.len() - 1;
                }
                let shorter = self.passed(node, new);
                for &branch in &go {
                    self.branches[branch].from = new;
                    self.branches[branch].length = Metres(self.branches[branch].length.0 - shorter);
                    self.children[new].push(branch);
                }
                here = new;
                line = self.children[new][0];
            }
            self.children[node] = kept;
        }
    }

    /// Cuts a piece off the beginning of a branch; the new node is where it ends.
    fn split(&mut self, line: usize, here: usize, stands_for: usize) -> usize {
        let new = self.parent.len();
        let piece = self.branches.len();
        self.branches.push(Branch {
            from: here,
            to: new,
            length: Metres(SPACING),
            segment: None,
            way: self.branches[line].way,
            members: Vec::new(),
        });
        let length = self.branches[line].length.0 - SPACING;
        self.branches[line].length = Metres(length);
        self.branches[line].from = new;
        if here != stands_for {
            self.children[here][0] = piece;
        }
        self.parent.push(Some(piece));
        self.children.push(vec![line]);
        self.distance.push(self.distance[stands_for]);
        self.before_datum.push(false);
        self.point.push(None);
        self.spaced_from.push(Some(stands_for));
        self.depth.push(0);
        new
    }

    /// How far a spaced node is from the one that it stands for.
    fn passed(&self, node: usize, here: usize) -> f64 {
        let mut sum = 0.0;
        let mut at = here;
        while at != node {
            let Some(branch) = self.parent[at] else {
                break;
            };
            sum += self.branches[branch].length.0;
            at = self.branches[branch].from;
        }
        sum
    }

    /// Brings parents and depths in line with the branches.
    fn settle(&mut self) {
        let mut waiting = vec![self.root];
        while let Some(node) = waiting.pop() {
            for index in 0..self.children[node].len() {
                let branch = self.children[node][index];
                let to = self.branches[branch].to;
                self.branches[branch].from = node;
                self.parent[to] = Some(branch);
                self.depth[to] = self.depth[node] + 1;
                waiting.push(to);
            }
        }
        // Between the root and the datum distances count backwards.
        let mut at = self.datum;
        while let Some(branch) = self.parent[at] {
            at = self.branches[branch].from;
            self.before_datum[at] = true;
        }
    }
}
