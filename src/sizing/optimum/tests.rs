//! The elimination against trying every combination.

use super::*;

/// The same numbers in every run, after D. H. Lehmer's generator with the constants of Park and Miller (1988).
struct Numbers(u64);

impl Numbers {
    fn next(&mut self) -> f64 {
        self.0 = self.0 * 48_271 % 2_147_483_647;
        self.0 as f64 / 2_147_483_647.0
    }

    fn below(&mut self, most: usize) -> usize {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // small and positive
        let number = (self.next() * most as f64) as usize;
        number.min(most - 1)
    }
}

/// A choice of some sizes for a conductor of a length: copper by area, resistance by its inverse.
fn pick(first: usize, count: usize, length: f64) -> Pick {
    const AREAS: [f64; 8] = [0.8, 1.3, 2.1, 3.3, 5.3, 8.4, 13.3, 21.1];
    let areas = AREAS[first..(first + count).min(AREAS.len())].to_vec();
    Pick {
        costs: areas.iter().map(|area| area * length).collect(),
        ohms: areas.iter().map(|area| 1.0 / area).collect(),
        areas,
    }
}

fn brute_force(problem: &Problem) -> Option<f64> {
    let sizes: Vec<usize> = problem.picks.iter().map(|it| it.costs.len()).collect();
    let mut options = vec![0; sizes.len()];
    let mut best: Option<f64> = None;
    loop {
        if problem.keeps(&options) {
            let cost = problem.cost(&options);
            best = Some(best.map_or(cost, |best| best.min(cost)));
        }
        let Some(at) = (0..sizes.len()).find(|&at| options[at] + 1 < sizes[at]) else {
            return best;
        };
        options[at] += 1;
        options[..at].fill(0);
    }
}

fn check(problem: &Problem, label: &str) {
    if !problem.hopeless().is_empty() {
        return;
    }
    let wanted = brute_force(problem);
    let found = problem.solve();
    match (wanted, found) {
        (None, None) => {}
        (Some(wanted), Some(found)) => {
            assert!(found.exact, "{label}: few choices are decided exactly");
            assert!(
                (found.cost - wanted).abs() <= 1e-9 * wanted,
                "{label}: {} instead of {wanted}",
                found.cost
            );
        }
        (wanted, found) => panic!("{label}: {wanted:?} {found:?}"),
    }
}

/// Feeders below feeders, loads below them, in two cases with other currents.
fn tree(numbers: &mut Numbers) -> Problem {
    let feeders = 1 + numbers.below(3);
    let loads = 1 + numbers.below(4);
    let mut problem = Problem::default();
    for _ in 0..feeders + loads {
        let first = numbers.below(3);
        let length = 0.2 + 5.0 * numbers.next();
        problem.picks.push(pick(first, 5, length));
    }
    let parents: Vec<Option<usize>> = (0..feeders)
        .map(|at| (at > 0).then(|| numbers.below(at)))
        .collect();
    let homes: Vec<usize> = (0..loads).map(|_| numbers.below(feeders)).collect();
    for _case in 0..=numbers.below(2) {
        let amps: Vec<f64> = (0..loads).map(|_| 0.5 + 9.0 * numbers.next()).collect();
        let mut carried = vec![0.0; feeders];
        for (load, &home) in homes.iter().enumerate() {
            let mut at = Some(home);
            while let Some(feeder) = at {
                carried[feeder] += amps[load];
                at = parents[feeder];
            }
        }
        for (load, &home) in homes.iter().enumerate() {
            let mut terms = vec![(feeders + load, amps[load] * (0.5 + numbers.next()))];
            let mut at = Some(home);
            while let Some(feeder) = at {
                terms.push((feeder, carried[feeder] * 0.7));
                at = parents[feeder];
            }
            let limit = 1.0 + 14.0 * numbers.next();
            problem.rows.push(Row { terms, limit });
        }
    }
    problem
}

#[test]
fn trees_are_decided_as_by_trying_everything() {
    let mut numbers = Numbers(20_250_301);
    for number in 0..300 {
        let problem = tree(&mut numbers);
        check(&problem, &format!("tree {number}"));
    }
}

#[test]
fn returns_and_knots_are_decided_as_by_trying_everything() {
    let mut numbers = Numbers(7_654_321);
    for number in 0..300 {
        let mut problem = tree(&mut numbers);
        let count = problem.picks.len();
        // Rows across the tree, as where a return is shared by loads of several feeders.
        for _ in 0..numbers.below(3) {
            let terms = (0..count)
                .filter(|_| numbers.below(2) == 0)
                .collect::<Vec<_>>()
                .into_iter()
                .map(|at| (at, 1.0 + numbers.next()))
                .collect();
            let limit = 2.0 + 6.0 * numbers.next();
            problem.rows.push(Row { terms, limit });
        }
        if count > 2 {
            let back = numbers.below(count);
            let feeds: Vec<usize> = (0..count).filter(|&at| at != back).take(2).collect();
            let fixed = if numbers.below(2) == 0 {
                f64::INFINITY
            } else {
                2.0
            };
            problem.pairs.push(Pair { back, feeds, fixed });
        }
        check(&problem, &format!("knot {number}"));
    }
}

#[test]
fn hundreds_of_loads_on_a_feeder_stay_exact() {
    let mut numbers = Numbers(99);
    let mut problem = Problem::default();
    for _ in 0..4 {
        problem.picks.push(pick(3, 5, 3.0));
    }
    for load in 0..400 {
        let length = 1.0 + 6.0 * numbers.next();
        problem.picks.push(pick(0, 6, length));
        let block = 2 + load % 2;
        let rows: [f64; 2] = [1.0, 0.6];
        for share in rows {
            problem.rows.push(Row {
                terms: vec![
                    (4 + load, 3.0 * length),
                    (0, 90.0 * share),
                    (1, 90.0 * share),
                    (block, 60.0),
                ],
                limit: 60.0 + 20.0 * numbers.next(),
            });
        }
    }
    assert_eq!(problem.hopeless(), Vec::<usize>::new());
    let found = problem.solve().expect("it has a solution");
    assert!(found.exact);
    assert!(problem.keeps(&found.options));
    // One step thinner anywhere breaks a row: nothing is wasted.
    for at in 0..problem.picks.len() {
        let mut options = found.options.clone();
        if options[at] > 0 {
            options[at] -= 1;
            assert!(!problem.keeps(&options), "choice {at} is needlessly thick");
        }
    }
}

#[test]
fn what_no_size_keeps_is_named() {
    let mut problem = Problem {
        picks: vec![pick(0, 3, 1.0)],
        rows: vec![
            Row {
                terms: vec![(0, 1.0)],
                limit: 0.1,
            },
            Row {
                terms: vec![(0, 1.0)],
                limit: 2.0,
            },
        ],
        pairs: Vec::new(),
        rough: false,
    };
    assert_eq!(problem.hopeless(), [0]);
    problem.rows.remove(0);
    assert_eq!(problem.solve().map(|found| found.options), Some(vec![0]));
}
