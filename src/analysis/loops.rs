//! Which links lie on a loop: only there does a current depend on how resistances share it.
//!
//! Elsewhere what flows follows from the loads alone, whatever the conductors' sizes.

use super::solve::State;
use crate::system::{LinkId, LinkKind, SourceKind, System};

/// By link: whether it lies on a loop of links that conduct in a state, batteries counted as links.
///
/// A source that delivers its rated current, and one that holds a voltage where no battery does, closes no loop.
#[must_use]
pub fn in_state(system: &System, state: &State) -> Vec<bool> {
    of_links(system, |link| state.closes(system, link))
}

/// By link: whether it lies on a loop of links that conduct in any position.
///
/// A link on none carries the same current in every state, whatever the sizes.
#[must_use]
pub fn in_any_state(system: &System) -> Vec<bool> {
    of_links(system, |link| match &system.links[link.index()].kind {
        LinkKind::Contact { closed_in, .. } => !closed_in.is_empty(),
        LinkKind::Device(device) => !system.devices[device.index()].spare,
        _ => true,
    })
}

fn of_links(system: &System, conducts: impl Fn(LinkId) -> bool) -> Vec<bool> {
    let edges: Vec<Option<(usize, usize)>> = system
        .links
        .iter()
        .enumerate()
        .map(|(index, link)| {
            let counts = match link.kind {
                LinkKind::Load(_) => false,
                LinkKind::Source(source) => {
                    system.sources[source.index()].kind == SourceKind::Battery
                }
                _ => conducts(LinkId::at(index)),
            };
            let ends = (
                system.node_of(link.a).index(),
                system.node_of(link.b).index(),
            );
            counts.then_some(ends)
        })
        .collect();
    on_loops(system.nodes.len(), &edges)
}

/// Edges of a multigraph that are no bridges, after R. E. Tarjan, Information Processing Letters 2 (1974); an edge of
/// no ends is left out.
fn on_loops(nodes: usize, edges: &[Option<(usize, usize)>]) -> Vec<bool> {
    let mut first = vec![0usize; nodes + 1];
    for &(a, b) in edges.iter().flatten() {
        first[a + 1] += 1;
        first[b + 1] += 1;
    }
    for node in 0..nodes {
        first[node + 1] += first[node];
    }
    let mut fill = first.clone();
    let mut at = vec![(0usize, 0usize); first[nodes]];
    for (index, ends) in edges.iter().enumerate() {
        if let Some((a, b)) = *ends {
            at[fill[a]] = (index, b);
            fill[a] += 1;
            at[fill[b]] = (index, a);
            fill[b] += 1;
        }
    }
    let mut on_loop: Vec<bool> = edges.iter().map(Option::is_some).collect();
    let mut entered = vec![0usize; nodes];
    let mut lowest = vec![0usize; nodes];
    let mut clock = 0;
    // The node, the edge it was entered by, and the next of its edges to look at.
    let mut stack: Vec<(usize, usize, usize)> = Vec::new();
    for root in 0..nodes {
        if entered[root] != 0 {
            continue;
        }
        clock += 1;
        (entered[root], lowest[root]) = (clock, clock);
        stack.push((root, usize::MAX, first[root]));
        while let Some(top) = stack.last_mut() {
            let (node, by, next) = *top;
            if next < first[node + 1] {
                top.2 += 1;
                let (edge, other) = at[next];
                if edge == by {
                    continue;
                }
                if entered[other] == 0 {
                    clock += 1;
                    (entered[other], lowest[other]) = (clock, clock);
                    stack.push((other, edge, first[other]));
                } else {
                    lowest[node] = lowest[node].min(entered[other]);
                }
                continue;
            }
            stack.pop();
            if let Some(&(parent, _, _)) = stack.last() {
                lowest[parent] = lowest[parent].min(lowest[node]);
                if lowest[node] > entered[parent] {
                    on_loop[by] = false;
                }
            }
        }
    }
    on_loop
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::testing::Build;

    #[test]
    fn bridges_are_on_no_loop() {
        let edges = [
            Some((0, 1)),
            Some((1, 2)),
            Some((2, 0)),
            Some((2, 3)),
            Some((3, 4)),
            Some((3, 4)),
            None,
            Some((5, 5)),
        ];
        let found = on_loops(6, &edges);
        assert_eq!(
            found,
            [true, true, true, false, true, true, false, true],
            "a pair of edges is a loop, and so is an edge from a node to itself"
        );
    }

    #[test]
    fn one_battery_and_its_loads_make_no_loop_and_two_in_parallel_do() {
        let boat = |second: bool| {
            let mut build = Build::new();
            build.source("one", SourceKind::Battery, None);
            build.load("lamp", Some(1.0));
            build.wire("1", ("one.+", "lamp.+"), "14 AWG", 1.0);
            build.wire("2", ("lamp.-", "one.-"), "14 AWG", 1.0);
            build.source("two", SourceKind::Battery, None);
            build.wire("3", ("one.-", "two.-"), "14 AWG", 1.0);
            if second {
                build.wire("4", ("one.+", "two.+"), "14 AWG", 1.0);
            }
            build.finish()
        };
        let count = |system: &System| {
            in_any_state(system)
                .iter()
                .filter(|&&on_loop| on_loop)
                .count()
        };
        assert_eq!(count(&boat(false)), 0, "banks may share a negative");
        assert_eq!(count(&boat(true)), 4, "both batteries and their two links");
    }
}
