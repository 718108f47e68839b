//! Where the segments of a harness lie on the board: straight trunk, branches in lanes beside it, nothing crossing.
//!
//! A line of segments lies level. Whatever leaves it takes the lane above or below that clears all that starts further
//! right, and reaches it at 45°, or at 90° where other lanes are passed. What stands further left lies further out, and
//! its riser is left of everything inside, so no two segments can meet. A riser is part of its segment and counts to its
//! length; where the segment is too short for its lane it is drawn away from its node, on a leader that has no length.

use crate::analysis::harness::Tree;
use crate::drawing::scene::At;

/// Half of the room that a line takes with its lettering and its coils, in mm.
const LINE: f64 = 15.0;
/// Room between lanes, in mm.
const GAP: f64 = 3.0;
/// Room between the end of a segment and its block, in mm.
pub(super) const END_GAP: f64 = 6.0;
/// Length of a leader beside its riser, in mm.
const LEAD: f64 = 6.0;
/// What is left of a segment behind its riser, in mm.
const LEAST: f64 = 1.0;

/// A segment as it is drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    /// Branch of the tree.
    pub branch: usize,
    /// Its corners; their distance is its length, on a board without breaks.
    pub points: Vec<At>,
    /// What has no length: from the node to where it is drawn.
    pub leader: Vec<At>,
}

/// The words of a node.
#[derive(Clone, Debug, PartialEq)]
pub struct Block {
    /// Node of the tree.
    pub node: usize,
    /// Upper left corner.
    pub at: At,
    /// Width and height.
    pub size: (f64, f64),
    /// From the node to the block; empty where it stands at the end of its line.
    pub leader: Vec<At>,
}

/// A stretch that is left out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Break {
    /// Where it is on the shortened board.
    pub x: f64,
    /// What is left out, in mm.
    pub removed: f64,
}

/// A whole board, in mm; the root is the origin, y downward.
#[derive(Clone, Debug, PartialEq)]
pub struct Layout {
    /// By node: its place.
    pub nodes: Vec<At>,
    /// All segments.
    pub runs: Vec<Run>,
    /// All blocks.
    pub blocks: Vec<Block>,
    /// Stretches left out, from the left.
    pub breaks: Vec<Break>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Way {
    Slanted,
    Upright,
    Leader,
}

#[derive(Clone, Copy, Debug)]
enum Thing {
    Line(usize),
    Block(usize),
}

/// Something that leaves a line.
struct Item {
    thing: Thing,
    x: f64,
    /// 1 above the line, -1 below.
    side: f64,
    height: f64,
    way: Way,
}

/// A level line of segments with what leaves it.
#[derive(Default)]
struct Line {
    branches: Vec<usize>,
    start: usize,
    /// Distance of the end of each branch from the start.
    ends: Vec<f64>,
    items: Vec<Item>,
    right: f64,
    /// How far it reaches above and below its level.
    reach: [f64; 2],
}

/// Lays a tree out; `blocks` has the size of the words at every node that has any.
#[must_use]
pub fn layout(tree: &Tree, blocks: &[Option<(f64, f64)>]) -> Layout {
    let (mut lines, children) = lines(tree);
    for index in (0..lines.len()).rev() {
        let line = std::mem::take(&mut lines[index]);
        lines[index] = arranged(tree, blocks, (&lines, &children), line, index == 0);
    }
    let mut layout = Layout {
        nodes: vec![(0.0, 0.0); tree.nodes()],
        runs: Vec::with_capacity(tree.branches.len()),
        blocks: Vec::new(),
        breaks: Vec::new(),
    };
    let mut origin = vec![(0.0, 0.0); lines.len()];
    let mut riser: Vec<Option<(At, &Item)>> = vec![None; lines.len()];
    if let Some((width, height)) = blocks[tree.root] {
        layout.blocks.push(Block {
            node: tree.root,
            at: (-END_GAP - width, -height / 2.0),
            size: (width, height),
            leader: Vec::new(),
        });
    }
    for (index, line) in lines.iter().enumerate() {
        let (left, level) = origin[index];
        let mut before = layout.nodes[line.start];
        for (place, (&branch, end)) in line.branches.iter().zip(&line.ends).enumerate() {
            let here = (left + end, level);
            layout.nodes[tree.branches[branch].to] = here;
            let (points, leader) = match riser[index].filter(|_| place == 0) {
                None => (vec![before, here], Vec::new()),
                Some((from, item)) => match item.way {
                    Way::Slanted => (vec![from, (from.0 + item.height, level), here], Vec::new()),
                    Way::Upright => (vec![from, (from.0, level), here], Vec::new()),
                    Way::Leader => (
                        vec![(left, level), here],
                        vec![from, (from.0, level), (left, level)],
                    ),
                },
            };
            layout.runs.push(Run {
                branch,
                points,
                leader,
            });
            before = here;
        }
        let tip = line.branches.last().map(|&branch| tree.branches[branch].to);
        if let Some((node, (width, height))) = tip.and_then(|node| Some((node, blocks[node]?))) {
            let (x, y) = layout.nodes[node];
            layout.blocks.push(Block {
                node,
                at: (x + END_GAP, y - height / 2.0),
                size: (width, height),
                leader: Vec::new(),
            });
        }
        for item in &line.items {
            let from = (left + item.x, level);
            let there = level - item.side * item.height;
            match item.thing {
                Thing::Line(child) => {
                    let x = match item.way {
                        Way::Slanted => from.0 + item.height * (1.0 - 2f64.sqrt()),
                        Way::Upright => from.0 - item.height,
                        Way::Leader => from.0 + LEAD,
                    };
                    origin[child] = (x, there);
                    riser[child] = Some((from, item));
                }
                Thing::Block(node) => {
                    let size = blocks[node].unwrap_or_default();
                    layout.blocks.push(Block {
                        node,
                        at: (from.0 + LEAD, there - size.1 / 2.0),
                        size,
                        leader: vec![from, (from.0, there), (from.0 + LEAD, there)],
                    });
                }
            }
        }
    }
    layout
}

/// The lines of a tree, parents before children, and by node the lines that leave it.
fn lines(tree: &Tree) -> (Vec<Line>, Vec<Vec<usize>>) {
    let mut lines: Vec<Line> = Vec::new();
    let mut children = vec![Vec::new(); tree.nodes()];
    let mut waiting: Vec<(usize, Option<usize>)> = vec![(tree.root, None)];
    let mut next = 0;
    while let Some(&(start, first)) = waiting.get(next) {
        next += 1;
        let mut line = Line {
            start,
            ..Line::default()
        };
        if first.is_some() {
            children[start].push(lines.len());
        }
        let mut x = 0.0;
        let mut branch = first.or_else(|| tree.children[start].first().copied());
        if first.is_none() {
            waiting.extend(
                tree.children[start]
                    .iter()
                    .skip(1)
                    .map(|&side| (start, Some(side))),
            );
        }
        while let Some(here) = branch {
            x += tree.branches[here].length.0 * 1000.0;
            line.branches.push(here);
            line.ends.push(x);
            let node = tree.branches[here].to;
            waiting.extend(
                tree.children[node]
                    .iter()
                    .skip(1)
                    .map(|&side| (node, Some(side))),
            );
            branch = tree.children[node].first().copied();
        }
        lines.push(line);
    }
    (lines, children)
}

/// Gives everything that leaves a line its lane, from the right end on.
fn arranged(
    tree: &Tree,
    blocks: &[Option<(f64, f64)>],
    (lines, children): (&[Line], &[Vec<usize>]),
    mut line: Line,
    is_trunk: bool,
) -> Line {
    let end = line.ends.last().copied().unwrap_or(0.0);
    let tip = line
        .branches
        .last()
        .map_or(line.start, |&branch| tree.branches[branch].to);
    let mut taken: [Vec<(f64, f64, f64)>; 2] = [Vec::new(), Vec::new()];
    line.right = end;
    line.reach = [LINE; 2];
    if let Some((width, height)) = blocks[tip].filter(|_| !line.branches.is_empty()) {
        line.right = end + END_GAP + width;
        for side in &mut taken {
            side.push((end, line.right, height / 2.0));
        }
        line.reach = [LINE.max(height / 2.0); 2];
    }
    // Nodes from the right; the start of a branch belongs to the line that it leaves.
    let mut nodes: Vec<(f64, usize)> = line
        .branches
        .iter()
        .zip(&line.ends)
        .map(|(&branch, &x)| (x, tree.branches[branch].to))
        .collect();
    if is_trunk {
        nodes.insert(0, (0.0, tree.root));
    }
    for &(x, node) in nodes.iter().rev() {
        let mut things: Vec<Thing> = Vec::new();
        if node != tip && node != tree.root && blocks[node].is_some() {
            things.push(Thing::Block(node));
        }
        things.extend(children[node].iter().copied().map(Thing::Line));
        let mut at_node = [0usize; 2];
        for thing in things {
            let (length, right, reach) = match thing {
                Thing::Block(node) => {
                    let (width, height) = blocks[node].unwrap_or_default();
                    (0.0, LEAD + width, [height / 2.0; 2])
                }
                Thing::Line(child) => {
                    let child = &lines[child];
                    let first = child.branches[0];
                    (
                        tree.branches[first].length.0 * 1000.0,
                        LEAD + child.right,
                        child.reach,
                    )
                }
            };
            let best = [0, 1]
                .map(|side| {
                    let inner = reach[1 - side];
                    let under = taken[side]
                        .iter()
                        .filter(|(from, to, _)| *from < x + right + GAP && *to > x - GAP)
                        .map(|&(_, _, top)| top)
                        .fold(0.0, f64::max);
                    let height = under.max(LINE) + GAP + inner;
                    let free = under <= 0.0 && at_node[side] == 0;
                    let is_line = matches!(thing, Thing::Line(_)) && at_node[side] == 0;
                    let way = if is_line && free && height * 2f64.sqrt() + LEAST <= length {
                        Way::Slanted
                    } else if is_line && height + LEAST <= length {
                        Way::Upright
                    } else {
                        Way::Leader
                    };
                    (side, height, way, at_node[side])
                })
                .into_iter()
                .min_by(|a, b| {
                    (a.3, matches!(a.2, Way::Leader))
                        .cmp(&(b.3, matches!(b.2, Way::Leader)))
                        .then(a.1.total_cmp(&b.1))
                        .then(taken[a.0].len().cmp(&taken[b.0].len()))
                });
            let Some((side, height, way, _)) = best else {
                continue;
            };
            at_node[side] += 1;
            let top = height + reach[side];
            taken[side].push((x - LEAST, x + right, top));
            line.reach[side] = line.reach[side].max(top);
            line.right = line.right.max(x + right);
            line.items.push(Item {
                thing,
                x,
                side: if side == 0 { 1.0 } else { -1.0 },
                height,
                way,
            });
        }
    }
    line
}

impl Layout {
    /// Left, top, right, bottom of everything.
    #[must_use]
    pub fn bounds(&self) -> (f64, f64, f64, f64) {
        let mut bounds = (0.0_f64, -LINE, 0.0_f64, LINE);
        let mut add = |(x, y): At| {
            bounds.0 = bounds.0.min(x);
            bounds.1 = bounds.1.min(y);
            bounds.2 = bounds.2.max(x);
            bounds.3 = bounds.3.max(y);
        };
        for run in &self.runs {
            run.points.iter().chain(&run.leader).for_each(|&at| add(at));
        }
        for block in &self.blocks {
            add(block.at);
            add((block.at.0 + block.size.0, block.at.1 + block.size.1));
        }
        bounds
    }

    /// The board with its empty straight stretches cut short.
    ///
    /// A stretch is empty where nothing but level segments crosses it; what is longer than `longest` keeps `kept` at
    /// each side. All in mm.
    #[must_use]
    pub fn broken(&self, longest: f64, kept: f64) -> Self {
        let mut features: Vec<(f64, f64)> = Vec::new();
        let mut add =
            |from: f64, to: f64| features.push((from.min(to) - kept, from.max(to) + kept));
        for run in &self.runs {
            for &(x, _) in run.points.iter().chain(&run.leader) {
                add(x, x);
            }
            for pair in run.points.windows(2).chain(run.leader.windows(2)) {
                if (pair[0].1 - pair[1].1).abs() > 1e-9 {
                    add(pair[0].0, pair[1].0);
                }
            }
        }
        for block in &self.blocks {
            add(block.at.0, block.at.0 + block.size.0);
            for pair in block.leader.windows(2) {
                add(pair[0].0, pair[1].0);
            }
        }
        features.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut cuts: Vec<(f64, f64)> = Vec::new();
        let mut reached = f64::NEG_INFINITY;
        for (from, to) in features {
            if reached.is_finite() && from - reached > longest - 2.0 * kept && from > reached {
                cuts.push((reached, from));
            }
            reached = reached.max(to);
        }
        let moved = |x: f64| {
            let before: f64 = cuts
                .iter()
                .filter(|(from, _)| *from < x)
                .map(|(from, to)| to.min(x) - from)
                .sum();
            x - before
        };
        let shift =
            |points: &[At]| -> Vec<At> { points.iter().map(|&(x, y)| (moved(x), y)).collect() };
        Self {
            nodes: shift(&self.nodes),
            runs: self
                .runs
                .iter()
                .map(|run| Run {
                    branch: run.branch,
                    points: shift(&run.points),
                    leader: shift(&run.leader),
                })
                .collect(),
            blocks: self
                .blocks
                .iter()
                .map(|block| Block {
                    node: block.node,
                    at: (moved(block.at.0), block.at.1),
                    size: block.size,
                    leader: shift(&block.leader),
                })
                .collect(),
            breaks: cuts
                .iter()
                .map(|&(from, to)| Break {
                    x: moved(from),
                    removed: to - from,
                })
                .collect(),
        }
    }
}
