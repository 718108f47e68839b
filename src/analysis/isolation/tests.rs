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

/// Two or three banks on random posts; switch 0 is a battery switch, whose last position joins banks on purpose.
fn boat(posts: &[(usize, usize)], elements: &[Element]) -> System {
    let mut build = Build::new();
    for node in 0..NODES {
        build.bus(&format!("n{node}"), Polarity::Positive);
    }
    build.bus("negative", Polarity::Negative);
    let positions = ["off", "on", "both"];
    for (part, kind) in [
        GearKind::BatterySwitch,
        GearKind::PanelSwitch,
        GearKind::Float,
    ]
    .into_iter()
    .enumerate()
    {
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
                build.contact(part % 3, &closed, &a, "negative");
            }
            _ => {
                let mut closed: Vec<u16> = (0..3).filter(|bit| closed & (1 << bit) != 0).collect();
                if part % 3 == 0 {
                    // A battery switch that is off closes nothing.
                    closed.retain(|&position| position != 0);
                }
                build.contact(part % 3, &closed, &a, &b);
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

fn run(cases: u32, test: impl Fn(&System, &Nets) -> Result<(), TestCaseError>) {
    let posts = prop::collection::vec((0..NODES, 0..NODES), 2..4);
    let elements = prop::collection::vec((0_u8..6, 0..NODES, 0..NODES, 0_usize..3, 0_u8..8), 1..9);
    let mut runner = TestRunner::new_with_rng(
        Config {
            failure_persistence: None,
            ..Config::with_cases(cases)
        },
        TestRng::deterministic_rng(RngAlgorithm::ChaCha),
    );
    runner
        .run(&(posts, elements), |(posts, elements)| {
            let system = boat(&posts, &elements);
            let nets = Nets::new(&system);
            test(&system, &nets)
        })
        .expect("the proof and the trial agree");
}

/// Which banks are joined and which sources shorted, compared with trying every state.
#[test]
fn joins_and_shorts_agree_with_trying_every_state() {
    run(300, |system, nets| {
        let isolation = Isolation::new(system, nets);
        let mut joined: BTreeMap<[BankId; 2], bool> = BTreeMap::new();
        let mut shorted = vec![false; system.sources.len()];
        for state in states(system) {
            let declared = state.position(GearId(0)) == 2
                || state.position(GearId(1)) == 2
                || state.position(GearId(2)) == 2;
            for (index, source) in system.sources.iter().enumerate() {
                let (positive, negative) = ends(system, source.link);
                let everywhere = walk(system, &state, &[positive], |_| true);
                shorted[index] |= everywhere.reaches(negative);
                let above = walk(system, &state, &[positive], |link| {
                    let (a, b) = ends(system, link);
                    !nets.is_negative(a) && !nets.is_negative(b)
                });
                for (other, battery) in system.sources.iter().enumerate() {
                    let (post, _) = ends(system, battery.link);
                    if other == index || nets.is_negative(positive) || nets.is_negative(post) {
                        continue;
                    }
                    if above.reaches(post) {
                        let pair = [BankId::at(index.min(other)), BankId::at(index.max(other))];
                        *joined.entry(pair).or_default() |= !declared;
                    }
                }
            }
        }
        let found: BTreeMap<[BankId; 2], bool> = isolation
            .joins
            .iter()
            .map(|join| (join.banks, join.undeclared))
            .collect();
        prop_assert_eq!(found, joined);
        let mut found = vec![false; system.sources.len()];
        for short in &isolation.shorts {
            for source in &short.sources {
                found[source.index()] = true;
            }
        }
        prop_assert_eq!(found, shorted);
        Ok(())
    });
}

/// What is live with the battery switch off, compared with trying every position of the others.
#[test]
fn liveness_agrees_with_trying_every_state() {
    run(300, |system, nets| {
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
