//! Laws that hold on every example and on boats wired at random, whatever their figures are.
//!
//! Kirchhoff: currents sum to zero at every node, and sources give what loads take and wiring loses.
//! Thomson's theorem: given currents spread so that they lose least, so a longer run never makes the losses smaller.

// A test reads files; the library does not.
#![allow(clippy::disallowed_methods)]

use loomwright::analysis::Facts;
use loomwright::analysis::solve::{Options, Solution, State, Voltage, solve};
use loomwright::system::{Duty, GearKind, LinkId, LinkKind, LoadId, LoadKind, ScenarioId, System};
use loomwright::units::Metres;
use loomwright::{netlist, resolve, source};
use std::fs;

mod random_boats;

/// Boats wired at random, with loops, up to three banks, diodes and converters.
const RANDOM_BOATS: u64 = 60;

/// Every example and some boats wired at random, with their names.
fn all_boats() -> Vec<(String, System)> {
    let mut boats = boats();
    boats.extend((1001..=1000 + RANDOM_BOATS).map(|seed| {
        let text = random_boats::boat(seed);
        (format!("random boat {seed}"), read(text.as_bytes()))
    }));
    boats
}

fn read(bytes: &[u8]) -> System {
    let reading = source::read(bytes);
    let (records, _) = netlist::read(&reading);
    let document = reading.document.as_ref().expect("a boat is YAML");
    resolve::resolve(&records.expect("a boat has records"), document).0
}

/// Every example with its name, in the order of their names.
fn boats() -> Vec<(String, System)> {
    let mut paths: Vec<_> = fs::read_dir("examples")
        .expect("the examples folder")
        .map(|entry| entry.expect("an example").path())
        .filter(|path| {
            path.extension()
                .is_some_and(|extension| extension == "yaml")
        })
        .collect();
    paths.sort();
    assert!(paths.len() > 5, "the examples are found");
    paths
        .into_iter()
        .map(|path| {
            let bytes = fs::read(&path).expect("an example can be read");
            (path.display().to_string(), read(&bytes))
        })
        .collect()
}

/// Everything on but what only cranks; battery switches and combiners as they normally stand.
fn everything_on(system: &System) -> State {
    let mut state = State::normal(system);
    for (index, gear) in system.gears.iter().enumerate() {
        if matches!(gear.kind, GearKind::BatterySwitch | GearKind::Combiner) {
            continue;
        }
        let closes = |position: u16| {
            let closed = system.links.iter().filter(|link| match &link.kind {
                LinkKind::Contact {
                    gear: of,
                    closed_in,
                } => of.index() == index && closed_in.contains(&position),
                _ => false,
            });
            closed.count()
        };
        let count = u16::try_from(gear.positions.len()).expect("few positions");
        state.positions[index] = (0..count)
            .rev()
            .max_by_key(|&position| closes(position))
            .unwrap_or(gear.normal);
    }
    for (on, load) in state.on.iter_mut().zip(&system.loads) {
        *on = load.duty != Duty::Surge && load.kind != LoadKind::Starter;
    }
    state
}

/// Everything on, everything on while charging, and every declared scenario.
fn states(system: &System) -> Vec<State> {
    let on = everything_on(system);
    let mut charging = on.clone();
    charging.charging.fill(true);
    let mut states = vec![on, charging];
    states.extend(
        (0..system.scenarios.len()).map(|index| State::scenario(system, ScenarioId::at(index))),
    );
    states
}

/// The handbook's reading with and without voltages, and the meter's with full and with half batteries.
fn options() -> [Options; 4] {
    let with = |options: Options, voltage| Options { voltage, ..options };
    [
        Options::RULE,
        with(Options::RULE, Voltage::Nominal),
        Options::PHYSICAL,
        with(Options::PHYSICAL, Voltage::AtRest(50.0)),
    ]
}

/// Solves; a boat as found may have a state without a solution.
fn solved(system: &System, state: &State, options: Options) -> Option<Solution> {
    solve(system, state, options).ok()
}

#[test]
fn currents_sum_to_zero_at_every_node() {
    let mut solutions = 0;
    for (name, system) in all_boats() {
        for state in states(&system) {
            for options in options() {
                let Some(solution) = solved(&system, &state, options) else {
                    continue;
                };
                solutions += 1;
                let mut sums = vec![0.0; system.nodes.len()];
                let mut largest = 1.0f64;
                for (index, link) in system.links.iter().enumerate() {
                    let amps = solution.current(LinkId::at(index)).0;
                    assert!(amps.is_finite(), "{name}");
                    largest = largest.max(amps.abs());
                    sums[system.node_of(link.a).index()] += amps;
                    sums[system.node_of(link.b).index()] -= amps;
                }
                for (node, sum) in sums.iter().enumerate() {
                    assert!(
                        sum.abs() < 1e-7 * largest,
                        "{name}: node {node} keeps {sum} A"
                    );
                }
            }
        }
    }
    assert!(solutions > 300, "only {solutions} states were solved");
}

#[test]
fn sources_give_what_loads_take_and_wiring_loses() {
    for (name, system) in all_boats() {
        for state in states(&system) {
            for options in options() {
                let Some(solution) = solved(&system, &state, options) else {
                    continue;
                };
                let (mut given, mut taken, mut lost) = (0.0, 0.0, 0.0);
                for (index, link) in system.links.iter().enumerate() {
                    let id = LinkId::at(index);
                    let Some(volts) = solution.across(&system, id) else {
                        assert!(solution.current(id).0.abs() < 1e-9, "{name}");
                        continue;
                    };
                    let watts = solution.current(id).0 * volts.0;
                    match link.kind {
                        LinkKind::Source(_) => given -= watts,
                        LinkKind::Load(_) => taken += watts,
                        _ => {
                            assert!(
                                watts > -1e-6,
                                "{name}: {} gives {watts} W",
                                system.link_name(id)
                            );
                            lost += watts;
                        }
                    }
                }
                let scale = 1.0 + given.abs() + taken.abs() + lost;
                assert!(
                    (given - taken - lost).abs() < 1e-7 * scale,
                    "{name}: {given} W given, {taken} W taken, {lost} W lost"
                );
            }
        }
    }
}

/// What the wiring loses in the handbook's reading.
fn losses(system: &System, state: &State) -> Option<f64> {
    let solution = solve(system, state, Options::RULE).ok()?;
    let watts = |index: usize| {
        let id = LinkId::at(index);
        solution.across(system, id).map_or(0.0, |volts| volts.0) * solution.current(id).0
    };
    let lost = (0..system.links.len())
        .filter(|&index| {
            !matches!(
                system.links[index].kind,
                LinkKind::Source(_) | LinkKind::Load(_)
            )
        })
        .map(watts)
        .sum();
    Some(lost)
}

#[test]
fn a_longer_run_never_loses_less() {
    let mut tried = 0;
    for (name, mut system) in all_boats() {
        let state = everything_on(&system);
        let Some(before) = losses(&system, &state) else {
            assert!(name.starts_with("random"), "{name} has a solution");
            continue;
        };
        for index in 0..system.conductors.len() {
            let Some(length) = system.conductors[index].length else {
                continue;
            };
            let set = |system: &mut System, metres: Metres| {
                if let Some(length) = &mut system.conductors[index].length {
                    length.value = metres;
                }
            };
            set(&mut system, length.value * 3.0);
            let after =
                losses(&system, &state).expect("a longer run does not take the answer away");
            tried += 1;
            assert!(
                after >= before * (1.0 - 1e-9),
                "{name}: {} three times as long loses {after} W in place of {before} W",
                system.conductors[index].number
            );
            set(&mut system, length.value);
        }
    }
    assert!(tried > 1_500, "only {tried} runs were tried");
}

#[test]
fn every_drop_grows_with_the_boat() {
    for (name, system) in boats() {
        let mut longer = system.clone();
        for conductor in &mut longer.conductors {
            if let Some(length) = &mut conductor.length {
                length.value = length.value * 2.0;
            }
        }
        let (facts, doubled) = (Facts::new(&system), Facts::new(&longer));
        let mut compared = 0;
        for index in 0..system.loads.len() {
            let load = LoadId::at(index);
            let (Some(short), Some(long)) = (facts.drops.of(load), doubled.drops.of(load)) else {
                continue;
            };
            assert!(
                (long.total.0 - 2.0 * short.total.0).abs() < 1e-9 * (1.0 + long.total.0),
                "{name}: {} drops {} V, twice as long {} V",
                system.loads[index].name,
                short.total.0,
                long.total.0
            );
            compared += 1;
        }
        assert!(compared > 0, "{name} has loads that run");
    }
}

#[test]
fn a_drop_is_the_sum_of_its_parts_and_no_conductor_carries_more_than_its_sources() {
    for (name, system) in boats() {
        let facts = Facts::new(&system);
        for (index, load) in system.loads.iter().enumerate() {
            let Some(drop) = facts.drops.of(LoadId::at(index)) else {
                continue;
            };
            let sum = drop.split.feeder() + drop.split.branch();
            assert!((sum.0 - drop.total.0).abs() < 1e-9, "{name}: {}", load.name);
            let sum = drop.split.positive() + drop.split.negative();
            assert!((sum.0 - drop.total.0).abs() < 1e-9, "{name}: {}", load.name);
            for part in [
                drop.split.feeder_positive,
                drop.split.branch_positive,
                drop.split.branch_negative,
            ] {
                assert!(part.0 > -1e-9, "{name}: {} {drop:?}", load.name);
            }
        }
        let all: f64 = system
            .loads
            .iter()
            .filter_map(|load| Some(load.current()?.0))
            .sum::<f64>()
            + system
                .sources
                .iter()
                .filter_map(|source| Some(source.current?.value.0))
                .sum::<f64>();
        for (index, _) in system.links.iter().enumerate() {
            let peak = facts.currents.load(LinkId::at(index));
            assert!(peak.amps.0 <= all + 1e-6, "{name}: {peak:?}");
        }
    }
}
