use super::{Kind, Protection};
use crate::analysis::ampacity::Ampacities;
use crate::analysis::isolation::Nets;
use crate::analysis::poles::Poles;
use crate::analysis::states::{State, ends, walk};
use crate::analysis::testing::Build;
use crate::system::{
    ConductorId, GearId, GearKind, LinkId, LinkKind, NodeId, Polarity, SourceKind, System,
};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use std::collections::BTreeSet;

const NODES: usize = 6;
const RATINGS: [f64; 4] = [20.0, 60.0, 150.0, 300.0];
/// Sizes with the 105 °C values of 33 CFR 183.425 Table 5, times 1.5 (33 CFR 183.455(c)(1)).
const GAUGES: [(&str, f64); 3] = [("14 AWG", 52.5), ("8 AWG", 120.0), ("4 AWG", 240.0)];

/// Kind, two nodes, a choice of size, rating or part, and a choice of closed positions.
type Element = (u8, usize, usize, usize, u8);

fn boat(batteries: &[usize], elements: &[Element]) -> System {
    let mut build = Build::new();
    for node in 0..NODES {
        build.bus(&format!("n{node}"), Polarity::Positive);
    }
    build.bus("negative", Polarity::Negative);
    let mut wires = 0;
    let mut wire = |build: &mut Build, from: &str, to: &str, size: usize| {
        wires += 1;
        // Far longer than any placement rule allows, so that only devices protect.
        build.wire(&format!("W{wires}"), (from, to), GAUGES[size % 3].0, 100.0);
    };
    for (index, node) in batteries.iter().enumerate() {
        let name = format!("battery{index}");
        build.source(&name, SourceKind::Battery, None);
        wire(&mut build, &format!("{name}.+"), &format!("n{node}"), index);
        wire(&mut build, &format!("{name}.-"), "negative", index);
    }
    for part in 0..3 {
        build.switch(
            &format!("switch{part}"),
            GearKind::PanelSwitch,
            &["0", "1", "2"],
            &[],
        );
    }
    for (index, &(kind, a, b, choice, closed)) in elements.iter().enumerate() {
        let (a, b) = (format!("n{a}"), format!("n{b}"));
        match kind {
            0 => wire(&mut build, &a, &b, choice),
            1 => {
                let name = format!("fuse{index}");
                build.fuse(&name, RATINGS[choice % RATINGS.len()]);
                wire(&mut build, &a, &format!("{name}.in"), choice);
                wire(&mut build, &format!("{name}.out"), &b, choice + 1);
            }
            2 => {
                let name = format!("diode{index}");
                build.diode(&name, 0.6, 1);
                wire(&mut build, &a, &format!("{name}.in"), choice);
                wire(&mut build, &format!("{name}.1"), &b, choice);
            }
            _ => {
                let positions: Vec<u16> = (0..3).filter(|bit| closed & (1 << bit) != 0).collect();
                build.contact(choice % 3, &positions, &a, &b);
            }
        }
    }
    build.finish()
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

fn rating(system: &System, link: LinkId) -> f64 {
    match system.links[link.index()].kind {
        LinkKind::Device(device) => system.devices[device.index()]
            .rating
            .map_or(f64::INFINITY, |rating| rating.value.0),
        _ => f64::INFINITY,
    }
}

/// Conductors that some battery can feed in some state through devices that are all too large, or through none.
fn expected(system: &System, negative: NodeId) -> BTreeSet<usize> {
    let mut found = BTreeSet::new();
    for state in states(system) {
        for source in &system.sources {
            let (post, _) = ends(system, source.link);
            for (index, conductor) in system.conductors.iter().enumerate() {
                let gauge = conductor.gauge.expect("every wire has a size").value;
                let limit = GAUGES
                    .iter()
                    .find(|(name, _)| name.parse() == Ok(gauge))
                    .map_or(0.0, |(_, limit)| *limit);
                let walk = walk(system, &state, &[post], |link| {
                    let (a, b) = ends(system, link);
                    rating(system, link) > limit && a != negative && b != negative
                });
                if walk.reaches(system.node_of(conductor.from)) {
                    found.insert(index);
                }
            }
        }
    }
    found
}

/// Which conductors are not protected, compared with trying every state, every source and every conductor.
#[test]
fn faults_agree_with_trying_every_state() {
    let batteries = prop::collection::vec(0..NODES, 1..4);
    let elements = prop::collection::vec((0_u8..6, 0..NODES, 0..NODES, 0_usize..12, 0_u8..8), 2..9);
    let mut runner = TestRunner::new_with_rng(
        Config {
            failure_persistence: None,
            ..Config::with_cases(250)
        },
        TestRng::deterministic_rng(RngAlgorithm::ChaCha),
    );
    runner
        .run(&(batteries, elements), |(batteries, elements)| {
            let system = boat(&batteries, &elements);
            let nets = Nets::new(&system);
            let ampacities = Ampacities::new(&system, &Poles::new(&system));
            let protection = Protection::new(&system, &nets, &ampacities);
            let mut found = BTreeSet::new();
            for fault in protection.faults() {
                let is_unknown = matches!(
                    fault.kind,
                    Kind::LengthNotGiven | Kind::LimitingNotGiven | Kind::SizeNotGiven { .. }
                );
                prop_assert!(!is_unknown, "every length, source and size is given");
                for id in std::iter::once(&fault.conductor).chain(&fault.also) {
                    prop_assert!(found.insert(id.index()), "each conductor is told once");
                }
                check_path(&system, fault.pole.node, &fault.path, &fault.positions)?;
            }
            let negative = system.node_of(system.links[system.sources[0].link.index()].b);
            let negative = ends_of_negative(&system, negative);
            prop_assert_eq!(found, expected(&system, negative));
            Ok(())
        })
        .expect("the search and the trial agree");
}

/// The node of the negative bus, to which every battery negative is wired.
fn ends_of_negative(system: &System, post: NodeId) -> NodeId {
    system
        .conductors
        .iter()
        .find(|conductor| system.node_of(conductor.from) == post)
        .map_or(post, |conductor| system.node_of(conductor.to))
}

/// The path told is closed in the positions told, all else being normal, and hangs together from the pole on.
fn check_path(
    system: &System,
    pole: NodeId,
    path: &[LinkId],
    positions: &[(GearId, u16)],
) -> Result<(), TestCaseError> {
    let mut state = State::normal(system);
    for &(gear, position) in positions {
        state.set(gear, position);
    }
    let mut at = pole;
    for &link in path {
        let (a, b) = ends(system, link);
        prop_assert!(state.closes(&system.links[link.index()].kind));
        prop_assert!(a == at || b == at, "the path hangs together");
        at = if a == at { b } else { a };
    }
    Ok(())
}

/// Many unprotected circuits, each behind a switch of its own: all are told, and it does not take long.
#[test]
fn a_boat_without_any_device() {
    let mut build = Build::new();
    build.source("battery", SourceKind::Battery, None);
    build.bus("negative", Polarity::Negative);
    build.wire("N", ("battery.-", "negative"), "14 AWG", 1.0);
    let circuits = 300;
    for index in 0..circuits {
        build.switch(
            &format!("s{index}"),
            GearKind::PanelSwitch,
            &["on", "off"],
            &[("in", "out", &[0])],
        );
        build.load(&format!("l{index}"), Some(1.0));
        build.wire(
            &format!("A{index}"),
            ("battery.+", &format!("s{index}.in")),
            "14 AWG",
            3.0,
        );
        build.wire(
            &format!("B{index}"),
            (&format!("s{index}.out"), &format!("l{index}.+")),
            "14 AWG",
            3.0,
        );
        build.wire(
            &format!("N{index}"),
            (&format!("l{index}.-"), "negative"),
            "14 AWG",
            3.0,
        );
    }
    let system = build.finish();
    let nets = Nets::new(&system);
    let ampacities = Ampacities::new(&system, &Poles::new(&system));
    let protection = Protection::new(&system, &nets, &ampacities);
    let told: BTreeSet<ConductorId> = protection
        .faults()
        .iter()
        .flat_map(|fault| std::iter::once(fault.conductor).chain(fault.also.iter().copied()))
        .collect();
    assert_eq!(told.len(), 2 * circuits);
    assert_eq!(protection.faults().len(), circuits);
    // The switch in its path is all that a finding about the far side of it needs.
    assert!(
        protection
            .faults()
            .iter()
            .all(|fault| fault.positions.len() <= 1)
    );
}
