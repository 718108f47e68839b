//! How long the network takes to be solved: `cargo bench --bench solve`.
//!
//! Boats of so many elements: a battery, a switch, blocks of twelve circuits, each with fuse, switch, two wires out
//! and one back. Times include everything from the resolved boat to potentials and currents.

use loomwright::analysis::Facts;
use loomwright::analysis::energy::Energy;
use loomwright::analysis::margins::Margins;
use loomwright::analysis::poles::Poles;
use loomwright::analysis::readings::{Feeds, Plan};
use loomwright::analysis::solve::{self, Options, Reading, Solver, State, Voltage};
use loomwright::system::{ScenarioId, System};
use std::fmt::Write;

fn main() {
    divan::main();
}

/// A boat with about so many links, and ten scenarios that each run another tenth of its loads.
fn boat(elements: usize) -> System {
    // A circuit has seven links: way, three conductors out and back, switch, load, and its share of the feeders.
    let circuits = elements / 6;
    let blocks = circuits.div_ceil(12);
    let mut text = String::from(
        "loomwright: 1\nboat: {name: Bench, practice: us, system: 12 V}\n\
         batteries:\n  house: {chemistry: agm, capacity: 400 Ah, cranking: 900 A}\n\
         fuses:\n  main: {rating: 300 A}\n\
         buses:\n  positive: {polarity: positive}\n  negative: {polarity: negative}\n\
         switches:\n  master: {kind: battery, rating: 300 A}\n",
    );
    for circuit in 0..circuits {
        let _ = writeln!(text, "  s{circuit}: {{rating: 10 A}}");
    }
    text.push_str("fuse-blocks:\n");
    for block in 0..blocks {
        let ways: Vec<String> = (1..=12).map(|way| format!("{way}: 5 A")).collect();
        let _ = writeln!(text, "  block{block}: {{ways: {{{}}}}}", ways.join(", "));
    }
    text.push_str("loads:\n");
    for circuit in 0..circuits {
        let kind = if circuit % 3 == 0 {
            "electronics"
        } else {
            "lamp"
        };
        let _ = writeln!(text, "  load{circuit}: {{draw: 0.05 A, kind: {kind}}}");
    }
    text.push_str(
        "runs:\n  M1: {from: house.+, to: main.in, gauge: 2/0 AWG, length: 6 in}\n  \
         M2: {from: main.out, to: master.in, gauge: 2/0 AWG, length: 2 ft}\n  \
         M3: {from: master.out, to: positive, gauge: 2/0 AWG, length: 2 ft}\n  \
         M4: {from: negative, to: house.-, gauge: 2/0 AWG, length: 4 ft}\n",
    );
    for block in 0..blocks {
        let _ = writeln!(
            text,
            "  F{block}: {{from: positive, to: block{block}.feed, gauge: 8 AWG, length: 6 ft}}"
        );
    }
    for circuit in 0..circuits {
        let (block, way) = (circuit / 12, circuit % 12 + 1);
        let _ = writeln!(
            text,
            "  C{circuit}-A: {{from: block{block}.{way}, to: s{circuit}.in, gauge: 16 AWG, length: 1 ft}}\n  \
             C{circuit}-B: {{from: s{circuit}.out, to: load{circuit}.+, gauge: 16 AWG, length: 9 ft}}\n  \
             C{circuit}-N: {{from: load{circuit}.-, to: negative, gauge: 16 AWG, length: 10 ft}}"
        );
    }
    text.push_str("scenarios:\n");
    for scenario in 0..10 {
        let on: Vec<String> = (0..circuits)
            .filter(|circuit| circuit % 10 == scenario)
            .map(|circuit| format!("load{circuit}"))
            .collect();
        let positions: Vec<String> = (0..circuits)
            .filter(|circuit| circuit % 10 == scenario)
            .map(|circuit| format!("s{circuit}: \"on\""))
            .collect();
        let _ = writeln!(
            text,
            "  sc{scenario}: {{positions: {{master: \"on\", {}}}, on: [{}]}}",
            positions.join(", "),
            on.join(", ")
        );
    }
    let draft = loomwright::draft(text.as_bytes());
    let faults: Vec<&str> = draft
        .findings
        .iter()
        .map(|finding| finding.message.as_str())
        .collect();
    draft
        .boat
        .filter(|_| draft.usable)
        .unwrap_or_else(|| panic!("the boat has no faults: {faults:?}"))
}

fn everything_on(system: &System) -> State {
    let mut state = State::normal(system);
    state.on.fill(true);
    state.positions.fill(1);
    state
}

/// One state: rows, order of elimination, factors, potentials, currents.
#[divan::bench(args = [100, 1000, 10_000])]
fn one_state(bencher: divan::Bencher<'_, '_>, elements: usize) {
    let system = boat(elements);
    let state = everything_on(&system);
    let solution = solve::solve(&system, &state, Options::PHYSICAL).expect("it has a solution");
    assert!(solution.current(system.sources[0].link).0 < -0.04 * (elements / 6) as f64);
    bencher.bench(|| solve::solve(&system, &state, Options::PHYSICAL));
}

/// The same by the handbook: no constant power, everything but the conductors ideal.
#[divan::bench(args = [100, 1000, 10_000])]
fn one_state_by_the_handbook(bencher: divan::Bencher<'_, '_>, elements: usize) {
    let system = boat(elements);
    let state = everything_on(&system);
    bencher.bench(|| solve::solve(&system, &state, Options::RULE));
}

/// One scenario with all that is prepared for further ones.
#[divan::bench(args = [100, 1000, 10_000])]
fn first_scenario(bencher: divan::Bencher<'_, '_>, elements: usize) {
    let system = boat(elements);
    bencher.bench(|| {
        let mut solver = Solver::new(&system, Reading::Physical);
        let state = State::scenario(&system, ScenarioId::at(0));
        let solution = solver.solve(&state, Voltage::AtRest(100.0));
        divan::black_box(solution).expect("it has a solution")
    });
}

/// Ten scenarios one after the other, with all that is prepared for them.
#[divan::bench(args = [100, 1000, 10_000])]
fn ten_scenarios(bencher: divan::Bencher<'_, '_>, elements: usize) {
    let system = boat(elements);
    assert_eq!(system.scenarios.len(), 10);
    bencher.bench(|| {
        let mut solver = Solver::new(&system, Reading::Physical);
        for scenario in 0..10 {
            let state = State::scenario(&system, ScenarioId::at(scenario));
            let solution = solver.solve(&state, Voltage::AtRest(100.0));
            divan::black_box(solution).expect("it has a solution");
        }
        assert_eq!(solver.solved_whole(), 0);
    });
}

/// Ten scenarios, each solved from the start.
#[divan::bench(args = [100, 1000, 10_000])]
fn ten_scenarios_from_the_start(bencher: divan::Bencher<'_, '_>, elements: usize) {
    let system = boat(elements);
    bencher.bench(|| {
        for scenario in 0..10 {
            let state = State::scenario(&system, ScenarioId::at(scenario));
            divan::black_box(solve::solve(&system, &state, Options::PHYSICAL))
                .expect("it has a solution");
        }
    });
}

/// The ways from the banks to every load.
#[divan::bench(args = [100, 1000])]
fn ways(bencher: divan::Bencher<'_, '_>, loads: usize) {
    let system = boat(loads * 6);
    assert_eq!(system.loads.len(), loads);
    bencher.bench(|| Feeds::new(&system));
}

/// What every bank gives, and how long.
#[divan::bench(args = [100, 1000])]
fn energy(bencher: divan::Bencher<'_, '_>, loads: usize) {
    let system = boat(loads * 6);
    let feeds = Feeds::new(&system);
    bencher.bench(|| Energy::new(&system, &feeds));
}

/// All steps before and at power-up, with every single fault of every circuit simulated.
#[divan::bench(args = [100, 1000])]
fn power_up(bencher: divan::Bencher<'_, '_>, loads: usize) {
    let system = boat(loads * 6);
    let feeds = Feeds::new(&system);
    let poles = Poles::new(&system);
    bencher.bench(|| Plan::new(&system, &poles, &feeds));
}

/// How much more load everything bears, in ten scenarios and with everything on.
#[divan::bench(args = [100, 1000], sample_count = 5)]
fn margins(bencher: divan::Bencher<'_, '_>, loads: usize) {
    let system = boat(loads * 6);
    let facts = Facts::new(&system);
    assert!(!Margins::new(&facts).partial, "all of it was followed");
    bencher.bench(|| Margins::new(&facts));
}
