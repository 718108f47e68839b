use super::sketch::Sketch;
use super::{Answer, Constraints, Reach, Reached, State, Widest, walk};
use crate::system::{GearId, LinkId, LinkKind, NodeId, System};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};

fn runner(cases: u32) -> TestRunner {
    TestRunner::new_with_rng(
        Config {
            failure_persistence: None,
            ..Config::with_cases(cases)
        },
        TestRng::deterministic_rng(RngAlgorithm::ChaCha),
    )
}

/// One element of a random circuit, by kind, ends, part and closed positions.
type Element = (u8, usize, usize, usize, u8);

const NODES: usize = 7;
const RATINGS: [f64; 3] = [5.0, 20.0, 100.0];

fn circuit(
    gears: &[(u16, u16)],
    elements: &[Element],
    interlocks: &[(usize, u16, usize, u16)],
) -> System {
    let mut sketch = Sketch::new(NODES);
    let ids: Vec<GearId> = gears
        .iter()
        .map(|&(positions, normal)| sketch.gear(positions, normal % positions))
        .collect();
    for &(kind, a, b, gear, closed) in elements {
        let (positions, _) = gears[gear % gears.len()];
        match kind {
            0 => sketch.joint(a, b),
            1 => sketch.diode(a, b),
            2 => sketch.fuse(RATINGS[gear % RATINGS.len()], a, b),
            _ => {
                let closed: Vec<u16> = (0..positions)
                    .filter(|position| closed & (1 << position) != 0)
                    .collect();
                sketch.contact(ids[gear % gears.len()], &closed, a, b)
            }
        };
    }
    for &(one, first, other, second) in interlocks {
        let (one, other) = (one % gears.len(), other % gears.len());
        sketch.interlock(vec![
            (ids[one], first % gears[one].0),
            (ids[other], second % gears[other].0),
        ]);
    }
    sketch.system()
}

fn rating(system: &System, link: LinkId) -> f64 {
    match system.links[link.index()].kind {
        LinkKind::Device(device) => system.devices[device.index()]
            .rating
            .map_or(f64::INFINITY, |rating| rating.value.0),
        _ => f64::INFINITY,
    }
}

/// Every state the interlocks permit, by counting through all positions.
fn states(system: &System) -> Vec<State> {
    let mut all = vec![State::normal(system)];
    for (index, gear) in system.gears.iter().enumerate() {
        let mut more = Vec::new();
        for state in &all {
            for position in 0..u16::try_from(gear.positions.len()).expect("few positions") {
                let mut state = state.clone();
                state.set(GearId::at(index), position);
                more.push(state);
            }
        }
        all = more;
    }
    all.retain(|state| {
        !system.interlocks.iter().any(|interlock| {
            interlock
                .never
                .iter()
                .all(|&(gear, position)| state.position(gear) == position)
        })
    });
    all
}

fn fewest<'a>(system: &System, states: impl Iterator<Item = &'a State>) -> Option<usize> {
    states.map(|state| state.off_normal(system).len()).min()
}

/// Every answer compared with counting through all states, by the search and by the solver alone.
#[test]
fn all_answers_agree_with_counting_through_all_states() {
    let gears = prop::collection::vec((1_u16..4, 0_u16..3), 1..5);
    let elements =
        prop::collection::vec((0_u8..8, 0..NODES, 0..NODES, 0_usize..12, 0_u8..8), 3..14);
    let interlocks = prop::collection::vec((0_usize..4, 0_u16..3, 0_usize..4, 0_u16..3), 0..3);
    runner(400)
        .run(
            &(gears, elements, interlocks),
            |(gears, elements, interlocks)| {
                let system = circuit(&gears, &elements, &interlocks);
                let states = states(&system);
                for labels in [usize::MAX, 1, 0] {
                    let reach = Reach::new(&system, &Constraints::none(&system), |link| {
                        Some(rating(&system, link))
                    })
                    .with_labels_per_cluster(labels);
                    compare(&system, &reach, &states)?;
                }
                Ok(())
            },
        )
        .expect("the search, the solver and the enumeration agree");
}

fn compare(system: &System, reach: &Reach<'_>, states: &[State]) -> Result<(), TestCaseError> {
    let from = [NodeId(0)];
    let spread = reach.spread(&from);
    for node in (1..NODES).map(NodeId::at) {
        let at_width = |state: &State, width: f64| {
            walk(system, state, &from, |link| rating(system, link) >= width).reaches(node)
        };
        let joined = states.iter().filter(|state| at_width(state, 0.0));
        match spread.answer(node) {
            Answer::Yes(witness) => {
                prop_assert_eq!(Some(witness.off_normal.len()), fewest(system, joined));
                prop_assert!(states.contains(&witness.state));
                prop_assert!(!witness.path.is_empty() || reach.always_joined(from[0], node));
            }
            Answer::No => prop_assert_eq!(joined.count(), 0),
            Answer::Undecided => prop_assert!(false, "small circuits are always decided"),
        }
        let wide = RATINGS
            .into_iter()
            .chain([f64::INFINITY])
            .filter(|&width| states.iter().any(|state| at_width(state, width)))
            .fold(None, |widest: Option<f64>, width| {
                Some(widest.map_or(width, |widest| widest.max(width)))
            });
        prop_assert_eq!(spread.widest(node), wide.map_or(Widest::Never, Widest::At));
        prop_assert_eq!(spread.reached(node) == Reached::Never, wide.is_none());
        let parted = states.iter().filter(|state| !at_width(state, 0.0));
        match reach.parted(&from, &[node]) {
            Answer::Yes(witness) => {
                prop_assert_eq!(Some(witness.off_normal.len()), fewest(system, parted));
                prop_assert!(states.contains(&witness.state));
            }
            Answer::No => prop_assert_eq!(parted.count(), 0),
            Answer::Undecided => prop_assert!(false, "small circuits are always decided"),
        }
    }
    Ok(())
}

/// What a random state joins, the search must know of; on circuits too large to enumerate.
#[test]
fn nothing_a_random_state_joins_is_missed() {
    let nodes = 60;
    let gears = prop::collection::vec((2_u16..5, 0_u16..4), 24);
    let elements = prop::collection::vec((0_u8..8, 0..nodes, 0..nodes, 0_usize..24, 0_u8..16), 110);
    let picks = prop::collection::vec(prop::collection::vec(0_u16..4, 24), 20);
    runner(16)
        .run(&(gears, elements, picks), |(gears, elements, picks)| {
            let mut sketch = Sketch::new(nodes);
            let ids: Vec<GearId> = gears
                .iter()
                .map(|&(positions, normal)| sketch.gear(positions, normal % positions))
                .collect();
            for &(kind, a, b, gear, closed) in &elements {
                if kind == 0 {
                    sketch.diode(a, b);
                } else {
                    let closed: Vec<u16> = (0..gears[gear].0)
                        .filter(|position| closed & (1 << position) != 0)
                        .collect();
                    sketch.contact(ids[gear], &closed, a, b);
                }
            }
            let system = sketch.system();
            let reach = Reach::new(&system, &Constraints::none(&system), |_| {
                Some(f64::INFINITY)
            });
            let from = [NodeId(0)];
            let spread = reach.spread(&from);
            let mut fewest = vec![None; nodes];
            for pick in &picks {
                let mut state = State::normal(&system);
                for (&gear, &position) in ids.iter().zip(pick) {
                    let count = u16::try_from(system.gears[gear.index()].positions.len())
                        .expect("few positions");
                    state.set(gear, position % count);
                }
                let off = state.off_normal(&system).len();
                let walk = walk(&system, &state, &from, |_| true);
                for (index, fewest) in fewest.iter_mut().enumerate() {
                    if walk.reaches(NodeId::at(index)) {
                        *fewest = Some(fewest.map_or(off, |before: usize| before.min(off)));
                    }
                }
            }
            for (index, fewest) in fewest.iter().enumerate() {
                let Some(fewest) = fewest else { continue };
                let node = NodeId::at(index);
                prop_assert_eq!(spread.reached(node), Reached::Somewhen);
                let Answer::Yes(witness) = spread.answer(node) else {
                    return Err(TestCaseError::fail("joined, so there is a witness"));
                };
                prop_assert!(witness.off_normal.len() <= *fewest);
            }
            Ok(())
        })
        .expect("no state joins what the search calls apart");
}

/// A chain of rungs in which every step sets a switch one way and the last step needs them the other way.
fn trap(width: usize) -> (System, NodeId, NodeId) {
    let rungs = 8;
    let mut sketch = Sketch::new(rungs + 2);
    let gears: Vec<GearId> = (0..rungs * width).map(|_| sketch.gear(4, 0)).collect();
    for rung in 0..rungs {
        for &gear in &gears[rung * width..(rung + 1) * width] {
            sketch.contact(gear, &[1], rung, rung + 1);
        }
    }
    // Each way over the last gap needs all switches of one rung off the positions that the rungs need.
    let last = sketch.gear(2, 0);
    sketch.contact(last, &[1], rungs, rungs + 1);
    let mut system = sketch;
    for rung in 0..rungs {
        for &gear in &gears[rung * width..(rung + 1) * width] {
            system.interlock(vec![(last, 1), (gear, 1)]);
        }
    }
    (system.system(), NodeId(0), NodeId::at(rungs + 1))
}

/// Twenty-four switches of four positions whose way through is barred only by the last of them.
#[test]
fn a_trap_is_decided() {
    let (system, from, to) = trap(3);
    for labels in [usize::MAX, 16, 0] {
        let reach = Reach::new(&system, &Constraints::none(&system), |_| {
            Some(f64::INFINITY)
        })
        .with_labels_per_cluster(labels.min(4096));
        assert_eq!(reach.joined(&[from], to), Answer::No);
    }
}

/// A position forbidden is never used; a position fixed always is.
#[test]
fn constraints_bind() {
    let mut sketch = Sketch::new(3);
    let one = sketch.gear(3, 0);
    let two = sketch.gear(2, 0);
    sketch.contact(one, &[1, 2], 0, 1);
    sketch.contact(two, &[1], 1, 2);
    let system = sketch.system();
    let free = Constraints::none(&system);
    let question = |constraints: &Constraints| {
        Reach::new(&system, constraints, |_| Some(f64::INFINITY)).joined(&[NodeId(0)], NodeId(2))
    };
    let witness = question(&free).witness().expect("joined");
    assert_eq!(witness.off_normal, vec![(one, 1), (two, 1)]);
    assert_eq!(witness.path, vec![LinkId(0), LinkId(1)]);
    let without = free.clone().forbid(&system, |gear, position| {
        gear.name == "switch-0" && position.name == "1"
    });
    let witness = question(&without).witness().expect("joined");
    assert_eq!(witness.off_normal, vec![(one, 2), (two, 1)]);
    assert_eq!(question(&free.clone().fix(two, 0)), Answer::No);
    let mut never = free;
    never.never_together(vec![(one, 1), (two, 1)]);
    never.never_together(vec![(one, 2), (two, 1)]);
    assert_eq!(question(&never), Answer::No);
}

/// More positions than a set tells apart: nothing panics and no joint is missed.
#[test]
fn a_part_with_very_many_positions_does_no_harm() {
    let mut sketch = Sketch::new(3);
    let many = sketch.gear(200, 0);
    sketch.contact(many, &[150], 0, 1);
    sketch.contact(many, &[3], 1, 2);
    let system = sketch.system();
    let reach = Reach::new(&system, &Constraints::none(&system), |_| {
        Some(f64::INFINITY)
    });
    assert_ne!(reach.joined(&[NodeId(0)], NodeId(1)), Answer::No);
    assert_eq!(reach.joined(&[NodeId(0)], NodeId(2)), Answer::No);
}
