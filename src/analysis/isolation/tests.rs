use super::{Isolation, Nets};
use crate::analysis::live::{Live, Liveness};
use crate::analysis::states::{State, ends, walk};
use crate::analysis::testing::Build;
use crate::system::{
    Bank, BankId, GearId, GearKind, NodeId, Polarity, Purpose, SourceId, SourceKind, System,
};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use std::collections::BTreeMap;

const NODES: usize = 6;

/// Kind, two nodes, part, closed positions.
type Element = (u8, usize, usize, usize, u8);

/// Two or three banks on random posts; switch 0 is a battery switch, and the last position of each joins banks.
fn boat(parts: usize, posts: &[(usize, usize)], elements: &[Element]) -> System {
    let mut build = Build::new();
    for node in 0..NODES {
        build.bus(&format!("n{node}"), Polarity::Positive);
    }
    build.bus("negative", Polarity::Negative);
    let positions = ["off", "on", "both"];
    let kinds = [
        GearKind::BatterySwitch,
        GearKind::PanelSwitch,
        GearKind::Float,
    ];
    for part in 0..parts {
        let kind = kinds[part.min(2)];
        build.switch(&format!("switch{part}"), kind, &positions, &[]);
    }
    for (index, &(node, _)) in posts.iter().enumerate() {
        let name = format!("battery{index}");
        build.source(&name, SourceKind::Battery, None);
        build.wire(
            &format!("P{index}"),
            (&format!("{name}.+"), &format!("n{node}")),
            "8 AWG",
            1.0,
        );
        build.wire(
            &format!("N{index}"),
            (&format!("{name}.-"), "negative"),
            "8 AWG",
            1.0,
        );
    }
    for (index, &(kind, a, b, part, closed)) in elements.iter().enumerate() {
        let (a, b) = (format!("n{a}"), format!("n{b}"));
        match kind {
            0 => {
                let name = format!("diode{index}");
                build.diode(&name, 0.6, 1);
                build.wire(
                    &format!("D{index}"),
                    (&a, &format!("{name}.in")),
                    "8 AWG",
                    1.0,
                );
                build.wire(
                    &format!("E{index}"),
                    (&format!("{name}.1"), &b),
                    "8 AWG",
                    1.0,
                );
            }
            1 => {
                // A way to the negative that may short a bank.
                let closed: Vec<u16> = (0..3).filter(|bit| closed & (1 << bit) != 0).collect();
                build.contact(part % parts, &closed, &a, "negative");
            }
            _ => {
                let mut closed: Vec<u16> = (0..3).filter(|bit| closed & (1 << bit) != 0).collect();
                if part % parts == 0 {
                    // A battery switch that is off closes nothing.
                    closed.retain(|&position| position != 0);
                }
                build.contact(part % parts, &closed, &a, &b);
            }
        }
    }
    let mut system = build.finish();
    for index in 0..posts.len() {
        let span = system.sources[index].span;
        system.sources[index].bank = Some(BankId::at(index));
        system.banks.push(Bank {
            name: format!("bank{index}"),
            span,
            purpose: Purpose::Other("any".to_owned()),
            strings: vec![vec![SourceId::at(index)]],
            strings_given: false,
            isolated: None,
            mid_taps: Vec::new(),
        });
    }
    system
}

fn states(system: &System) -> Vec<State> {
    let mut all = vec![State::normal(system)];
    for gear in 0..system.gears.len() {
        all = all
            .into_iter()
            .flat_map(|state| {
                (0..3).map(move |position| {
                    let mut state = state.clone();
                    state.set(GearId::at(gear), position);
                    state
                })
            })
            .collect();
    }
    all
}

fn run((cases, parts): (u32, usize), test: impl Fn(&System, &Nets) -> Result<(), TestCaseError>) {
    let posts = prop::collection::vec((0..NODES, 0..NODES), 2..4);
    let element = (0_u8..6, 0..NODES, 0..NODES, 0..parts, 0_u8..8);
    let elements = prop::collection::vec(element, 1..3 * parts);
    let mut runner = TestRunner::new_with_rng(
        Config {
            failure_persistence: None,
            ..Config::with_cases(cases)
        },
        TestRng::deterministic_rng(RngAlgorithm::ChaCha),
    );
    runner
        .run(&(posts, elements), |(posts, elements)| {
            let system = boat(parts, &posts, &elements);
            let nets = Nets::new(&system);
            test(&system, &nets)
        })
        .expect("the proof and the trial agree");
}

/// Whether a state joins the posts of two sources off the negative.
fn joins(system: &System, nets: &Nets, state: &State, from: SourceId, to: SourceId) -> bool {
    let [(positive, _), (post, _)] =
        [from, to].map(|id| ends(system, system.sources[id.index()].link));
    if nets.is_negative(positive) || nets.is_negative(post) {
        return false;
    }
    let above = walk(system, state, &[positive], |link| {
        let (a, b) = ends(system, link);
        !nets.is_negative(a) && !nets.is_negative(b)
    });
    above.reaches(post)
}

fn shorts(system: &System, state: &State, source: SourceId) -> bool {
    let (positive, negative) = ends(system, system.sources[source.index()].link);
    walk(system, state, &[positive], |_| true).reaches(negative)
}

/// Whether some part stands in a position declared to join banks.
fn declared(system: &System, state: &State) -> bool {
    (0..system.gears.len()).any(|gear| state.position(GearId::at(gear)) == 2)
}

/// Sources in pairs, each in both directions.
fn pairs(system: &System) -> Vec<(SourceId, SourceId)> {
    let ids = || (0..system.sources.len()).map(SourceId::at);
    ids()
        .flat_map(|one| ids().map(move |other| (one, other)))
        .filter(|(one, other)| one != other)
        .collect()
}

fn bank_pair(one: SourceId, other: SourceId) -> [BankId; 2] {
    [
        BankId::at(one.index().min(other.index())),
        BankId::at(one.index().max(other.index())),
    ]
}

/// Joins and shorts with the fewest positions off normal that show them, counted through all states.
fn compare(system: &System, nets: &Nets) -> Result<(), TestCaseError> {
    let isolation = Isolation::new(system, nets);
    // Fewest positions without a declared one, and with any.
    let mut joined: BTreeMap<[BankId; 2], [Option<usize>; 2]> = BTreeMap::new();
    let mut shorted: Vec<Option<usize>> = vec![None; system.sources.len()];
    let fewer = |known: &mut Option<usize>, moves: usize| {
        *known = Some(known.map_or(moves, |known| known.min(moves)));
    };
    for state in states(system) {
        let moves = state.off_normal(system).len();
        for (one, other) in pairs(system) {
            if joins(system, nets, &state, one, other) {
                let fewest = joined.entry(bank_pair(one, other)).or_default();
                fewer(&mut fewest[1], moves);
                if !declared(system, &state) {
                    fewer(&mut fewest[0], moves);
                }
            }
        }
        for (index, known) in shorted.iter_mut().enumerate() {
            if shorts(system, &state, SourceId::at(index)) {
                fewer(known, moves);
            }
        }
    }
    prop_assert!(isolation.undecided.is_empty());
    prop_assert_eq!(isolation.joins.len(), joined.len());
    for join in &isolation.joins {
        let [undeclared, any] = joined.get(&join.banks).copied().unwrap_or_default();
        prop_assert_eq!(join.undeclared, undeclared.is_some());
        prop_assert_eq!(Some(join.witness.off_normal.len()), undeclared.or(any));
        let [one, other] = join.banks.map(|bank| SourceId(bank.0));
        prop_assert!(
            joins(system, nets, &join.witness.state, one, other)
                || joins(system, nets, &join.witness.state, other, one)
        );
    }
    let mut found = vec![None; system.sources.len()];
    for short in &isolation.shorts {
        for source in &short.sources {
            found[source.index()] = Some(short.witness.off_normal.len());
            prop_assert!(shorts(system, &short.witness.state, *source));
        }
    }
    prop_assert_eq!(found, shorted);
    Ok(())
}

/// Which banks are joined and which sources shorted, compared with trying every state.
#[test]
fn joins_and_shorts_agree_with_trying_every_state() {
    run((300, 3), compare);
}

/// The same with six switches, 729 states.
#[test]
fn six_switches_agree_with_trying_every_state() {
    run((80, 6), compare);
}

/// Fourteen switches have more states than can be tried; what a random one shows must have been found.
#[test]
fn nothing_that_random_states_of_larger_boats_show_is_missed() {
    run((40, 14), |system, nets| {
        let isolation = Isolation::new(system, nets);
        prop_assert!(isolation.undecided.is_empty());
        let mut random = TestRng::deterministic_rng(RngAlgorithm::ChaCha);
        for _ in 0..60 {
            let mut state = State::normal(system);
            for gear in 0..system.gears.len() {
                let position = u16::try_from(random.next_u32() % 3).unwrap_or(0);
                state.set(GearId::at(gear), position);
            }
            for (one, other) in pairs(system) {
                if !joins(system, nets, &state, one, other) {
                    continue;
                }
                let banks = bank_pair(one, other);
                let found = isolation.joins.iter().find(|join| join.banks == banks);
                prop_assert!(found.is_some(), "{:?}", banks);
                let found = found.map(|join| (join.undeclared, join.witness.off_normal.len()));
                let moves = state.off_normal(system).len();
                let enough = declared(system, &state)
                    || found.is_some_and(|(undeclared, fewest)| undeclared && fewest <= moves);
                prop_assert!(enough, "{:?} by {} positions", banks, moves);
            }
            for index in 0..system.sources.len() {
                let id = SourceId::at(index);
                if shorts(system, &state, id) {
                    let told = isolation
                        .shorts
                        .iter()
                        .any(|short| short.sources.contains(&id));
                    prop_assert!(told, "{:?} is shorted", id);
                }
            }
        }
        for join in &isolation.joins {
            let [one, other] = join.banks.map(|bank| SourceId(bank.0));
            prop_assert!(
                joins(system, nets, &join.witness.state, one, other)
                    || joins(system, nets, &join.witness.state, other, one)
            );
        }
        Ok(())
    });
}

/// What is live with the battery switch off, compared with trying every position of the others.
#[test]
fn liveness_agrees_with_trying_every_state() {
    run((300, 3), |system, nets| {
        let live = Live::new(system, nets);
        let posts: Vec<NodeId> = system
            .sources
            .iter()
            .map(|source| ends(system, source.link).0)
            .filter(|&node| !nets.is_negative(node))
            .collect();
        for node in (0..system.nodes.len()).map(NodeId::at) {
            if nets.is_negative(node) {
                continue;
            }
            let mut count = (0, 0);
            for state in states(system) {
                if state.position(GearId(0)) != 0 {
                    continue;
                }
                let walk = walk(system, &state, &posts, |link| {
                    let (a, b) = ends(system, link);
                    !nets.is_negative(a) && !nets.is_negative(b)
                });
                count.0 += usize::from(walk.reaches(node));
                count.1 += 1;
            }
            let told = live.node(node);
            prop_assert_eq!(told == Liveness::Dead, count.0 == 0, "{:?}", node);
            if told == Liveness::Always {
                prop_assert_eq!(count.0, count.1, "{:?}", node);
            }
        }
        Ok(())
    });
}
