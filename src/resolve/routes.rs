//! The shortest way between two points.
//!
//! Of equally long ways the one through earlier ways of the file is taken, so the same file gives the same routes.
//! A way without a length can be taken, but only where no measured one leads to the goal.

use super::runs::{Via, Wanted};
use crate::system::{PointId, Way, WayId};
use crate::units::Metres;
use std::cmp::{Ordering, Reverse};
use std::collections::{BinaryHeap, HashMap};

/// Ways looked at that one file may cost; more than any boat needs, far less than a minute.
const MAX_STEPS: usize = 20_000_000;

/// Entries of route trees that are kept.
const MAX_KEPT: usize = 8_000_000;

/// What a way without a length counts as: longer than any measured route.
const UNMEASURED: f64 = 1.0e7;

/// Why there is no route.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum NoRoute {
    /// The ways do not join the points, or not as wanted.
    NotJoined,
    /// The file asks for more searching than any boat needs.
    TooMuch,
}

/// The ways as a network, with the routes found so far.
pub(super) struct Router {
    /// Ways that meet at each point, in file order: way, other end.
    at: Vec<Vec<(WayId, PointId)>>,
    length: Vec<f64>,
    ends: Vec<[PointId; 2]>,
    kept: HashMap<PointId, Vec<Option<(WayId, PointId)>>>,
    kept_entries: usize,
    steps: usize,
}

impl Router {
    /// The network of all ways.
    pub(super) fn new(points: usize, ways: &[Way]) -> Self {
        let mut at = vec![Vec::new(); points];
        for (index, way) in ways.iter().enumerate() {
            let id = WayId::at(index);
            at[way.from.index()].push((id, way.to));
            at[way.to.index()].push((id, way.from));
        }
        let length = ways
            .iter()
            .map(|way| way.length.map_or(UNMEASURED, |length| length.value.0))
            .collect();
        Self {
            at,
            ends: ways.iter().map(|way| [way.from, way.to]).collect(),
            length,
            kept: HashMap::new(),
            kept_entries: 0,
            steps: 0,
        }
    }

    /// Whether there are any ways.
    pub(super) fn is_empty(&self) -> bool {
        self.length.is_empty()
    }

    /// The ways from one point to another, in order, through the points and ways wanted.
    ///
    /// A way wanted is taken in the direction that makes the whole shortest, of two alike as it is written.
    pub(super) fn route(
        &mut self,
        from: PointId,
        to: PointId,
        wanted: &Wanted,
    ) -> Result<Vec<WayId>, NoRoute> {
        let mut open = vec![(from, Vec::new())];
        for via in wanted.via.iter().copied().chain([Via::Point(to)]) {
            let goals = match via {
                Via::Point(point) => vec![(point, None)],
                Via::Way(way) => {
                    let [a, b] = self.ends[way.index()];
                    vec![(a, Some((way, b))), (b, Some((way, a)))]
                }
            };
            let mut next: Vec<(PointId, Vec<WayId>)> = Vec::new();
            for (goal, onward) in goals {
                let mut best: Option<Vec<WayId>> = None;
                for (here, before) in &open {
                    let mut route = before.clone();
                    match self.leg(*here, goal, wanted, &mut route) {
                        Ok(()) => {}
                        Err(NoRoute::NotJoined) => continue,
                        Err(NoRoute::TooMuch) => return Err(NoRoute::TooMuch),
                    }
                    let shorter = best
                        .as_ref()
                        .is_none_or(|known| self.counted(&route) < self.counted(known));
                    if shorter {
                        best = Some(route);
                    }
                }
                let Some(mut route) = best else { continue };
                route.extend(onward.map(|(way, _)| way));
                next.push((onward.map_or(goal, |(_, end)| end), route));
            }
            open = next;
        }
        let found = open.into_iter().next();
        found.map(|(_, route)| route).ok_or(NoRoute::NotJoined)
    }

    /// What a route counts as where routes are compared.
    fn counted(&self, route: &[WayId]) -> f64 {
        route.iter().map(|way| self.length[way.index()]).sum()
    }

    /// Adds the ways between two points; both directions take the same ones.
    fn leg(
        &mut self,
        from: PointId,
        to: PointId,
        wanted: &Wanted,
        route: &mut Vec<WayId>,
    ) -> Result<(), NoRoute> {
        let (root, goal) = (from.min(to), from.max(to));
        let free = wanted.avoid.is_empty();
        let made;
        let tree = if let Some(tree) = self.kept.get(&root).filter(|_| free) {
            tree
        } else {
            let tree = self.tree(root, wanted)?;
            if free && self.kept_entries + tree.len() <= MAX_KEPT {
                self.kept_entries += tree.len();
                self.kept.entry(root).or_insert(tree)
            } else {
                made = tree;
                &made
            }
        };
        let start = route.len();
        let mut here = goal;
        while here != root {
            let (way, before) = tree[here.index()].ok_or(NoRoute::NotJoined)?;
            route.push(way);
            here = before;
        }
        if from == root {
            route[start..].reverse();
        }
        Ok(())
    }

    /// The last way to every point that can be reached, after E. W. Dijkstra, Numerische Mathematik 1 (1959).
    fn tree(
        &mut self,
        root: PointId,
        wanted: &Wanted,
    ) -> Result<Vec<Option<(WayId, PointId)>>, NoRoute> {
        let mut last: Vec<Option<(WayId, PointId)>> = vec![None; self.at.len()];
        let mut distance = vec![f64::INFINITY; self.at.len()];
        let mut done = vec![false; self.at.len()];
        let mut queue = BinaryHeap::new();
        distance[root.index()] = 0.0;
        queue.push(Reverse(Reached(0.0, root)));
        while let Some(Reverse(Reached(so_far, here))) = queue.pop() {
            if std::mem::replace(&mut done[here.index()], true) {
                continue;
            }
            self.steps += self.at[here.index()].len() + 1;
            if self.steps > MAX_STEPS {
                return Err(NoRoute::TooMuch);
            }
            for &(way, next) in &self.at[here.index()] {
                if done[next.index()] || wanted.avoid.way(way) || wanted.avoid.point(next) {
                    continue;
                }
                let total = so_far + self.length[way.index()];
                let known = distance[next.index()];
                let earlier = last[next.index()].is_none_or(|(other, _)| way < other);
                if total < known || (total <= known && earlier) {
                    distance[next.index()] = total;
                    last[next.index()] = Some((way, here));
                    queue.push(Reverse(Reached(total, next)));
                }
            }
        }
        Ok(last)
    }

    /// The length of a route; none where one of its ways has none.
    pub(super) fn length(route: &[WayId], ways: &[Way]) -> Option<Metres> {
        let mut sum = Metres(0.0);
        for way in route {
            sum = sum + ways[way.index()].length?.value;
        }
        Some(sum)
    }
}

/// A point reached at a distance; the nearest comes first, then the first of the file.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Reached(f64, PointId);

impl Eq for Reached {}

impl PartialOrd for Reached {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Reached {
    fn cmp(&self, other: &Self) -> Ordering {
        self.0.total_cmp(&other.0).then(self.1.cmp(&other.1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::resolve::runs::Avoid;
    use crate::source::Span;
    use crate::system::Given;

    fn way(from: usize, to: usize, length: Option<f64>) -> Way {
        let nowhere = Span::new(0, 0);
        Way {
            name: String::new(),
            span: nowhere,
            from: PointId::at(from),
            to: PointId::at(to),
            length: length.map(|length| Given::written(Metres(length), nowhere)),
            zone: None,
            bundle: None,
            sheathed: false,
            hole: None,
            slack: None,
        }
    }

    fn route(ways: &[Way], from: usize, to: usize, wanted: &Wanted) -> Option<Vec<usize>> {
        let mut router = Router::new(6, ways);
        let found = router
            .route(PointId::at(from), PointId::at(to), wanted)
            .ok()?;
        Some(found.iter().map(|way| way.index()).collect())
    }

    #[test]
    fn the_shortest_way_is_taken_in_both_directions() {
        let ways = [
            way(0, 1, Some(1.0)),
            way(1, 2, Some(1.0)),
            way(0, 2, Some(3.0)),
        ];
        let free = Wanted::default();
        assert_eq!(route(&ways, 0, 2, &free), Some(vec![0, 1]));
        assert_eq!(route(&ways, 2, 0, &free), Some(vec![1, 0]));
        assert_eq!(route(&ways, 0, 0, &free), Some(vec![]));
        assert_eq!(route(&ways, 0, 5, &free), None);
    }

    #[test]
    fn equal_ways_go_by_file_order() {
        let ways = [
            way(0, 2, Some(1.0)),
            way(2, 3, Some(1.0)),
            way(0, 1, Some(1.0)),
            way(1, 3, Some(1.0)),
            way(0, 3, Some(2.0)),
        ];
        let free = Wanted::default();
        assert_eq!(route(&ways, 0, 3, &free), Some(vec![0, 1]));
        assert_eq!(route(&ways, 3, 0, &free), Some(vec![1, 0]));
    }

    #[test]
    fn a_measured_way_comes_before_one_without_a_length() {
        let ways = [
            way(0, 1, None),
            way(0, 2, Some(90.0)),
            way(2, 1, Some(90.0)),
        ];
        assert_eq!(route(&ways, 0, 1, &Wanted::default()), Some(vec![1, 2]));
        assert_eq!(Router::length(&[WayId(0)], &ways), None);
    }

    #[test]
    fn points_wanted_and_unwanted_are_heeded() {
        let ways = [
            way(0, 1, Some(1.0)),
            way(1, 3, Some(1.0)),
            way(0, 2, Some(5.0)),
            way(2, 3, Some(5.0)),
        ];
        let via = Wanted {
            via: vec![Via::Point(PointId(2))],
            ..Wanted::default()
        };
        assert_eq!(route(&ways, 0, 3, &via), Some(vec![2, 3]));
        let around = Wanted {
            avoid: Avoid {
                points: vec![PointId(1)],
                ways: Vec::new(),
            },
            ..Wanted::default()
        };
        assert_eq!(route(&ways, 0, 3, &around), Some(vec![2, 3]));
        let nothing = Wanted {
            avoid: Avoid {
                points: vec![PointId(1)],
                ways: vec![WayId(3)],
            },
            ..Wanted::default()
        };
        assert_eq!(route(&ways, 0, 3, &nothing), None);
    }

    #[test]
    fn a_way_wanted_is_taken_in_the_shorter_direction() {
        let ways = [
            way(0, 3, Some(1.0)),
            way(2, 1, Some(1.0)),
            way(0, 1, Some(1.0)),
            way(2, 3, Some(1.0)),
            way(0, 3, Some(9.0)),
        ];
        let through = |id: u32| Wanted {
            via: vec![Via::Way(WayId(id))],
            ..Wanted::default()
        };
        assert_eq!(route(&ways, 0, 3, &through(1)), Some(vec![2, 1, 3]));
        assert_eq!(route(&ways, 3, 0, &through(1)), Some(vec![3, 1, 2]));
        assert_eq!(
            route(&ways, 0, 3, &through(4)),
            Some(vec![4]),
            "of two ways between the same points the one asked for"
        );
        let joined = Wanted {
            via: vec![Via::Way(WayId(1))],
            avoid: Avoid {
                points: Vec::new(),
                ways: vec![WayId(2), WayId(3)],
            },
            ..Wanted::default()
        };
        assert_eq!(route(&ways, 0, 3, &joined), None);
    }
}
