//! The shortest way between two points.
//!
//! Of equally long ways the one through earlier ways of the file is taken, so the same file gives the same routes.
//! A way without a length can be taken, but only where no measured one leads to the goal.

use super::runs::Wanted;
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

    /// The ways from one point to another, in order, through the points wanted.
    pub(super) fn route(
        &mut self,
        from: PointId,
        to: PointId,
        wanted: &Wanted,
    ) -> Result<Vec<WayId>, NoRoute> {
        let mut route = Vec::new();
        let mut here = from;
        for &next in wanted.via.iter().chain([&to]) {
            self.leg(here, next, wanted, &mut route)?;
            here = next;
        }
        Ok(route)
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
            via: vec![PointId(2)],
            avoid: Avoid::default(),
        };
        assert_eq!(route(&ways, 0, 3, &via), Some(vec![2, 3]));
        let around = Wanted {
            via: Vec::new(),
            avoid: Avoid {
                points: vec![PointId(1)],
                ways: Vec::new(),
            },
        };
        assert_eq!(route(&ways, 0, 3, &around), Some(vec![2, 3]));
        let nothing = Wanted {
            via: Vec::new(),
            avoid: Avoid {
                points: vec![PointId(1)],
                ways: vec![WayId(3)],
            },
        };
        assert_eq!(route(&ways, 0, 3, &nothing), None);
    }
}
