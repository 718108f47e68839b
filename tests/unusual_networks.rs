//! Networks that have no answer, more than one, or an answer that must not be read as a load's: what is said of them.
//!
//! Each boat is solved as the meter would find it. Where there is no answer the reason is told with the part that shows
//! it; where there is one, it is compared with a hand calculation beside the test. No number stands in for a reason.

// A test writes files and runs the program; the library does not.
#![allow(clippy::disallowed_methods)]

use loomwright::analysis::solve::{Options, Running, Short, Solution, SolveError, State, solve};
use loomwright::export::simulator::shorted_words;
use loomwright::system::{LinkId, NodeId, ScenarioId, SourceId, System};
use loomwright::units::Volts;
use loomwright::{Want, compile, draft};

const HEAD: &str = "loomwright: 1\nboat: {name: Odd, practice: us, system: 12 V}\n";

fn boat(text: &str) -> System {
    let draft = draft(format!("{HEAD}{text}").as_bytes());
    assert!(draft.usable, "{:?}", draft.findings);
    draft.boat.expect("a usable boat")
}

/// Everything on, switches as they normally stand.
fn on(system: &System) -> State {
    let mut state = State::normal(system);
    state.on.fill(true);
    state
}

fn meter(system: &System, state: &State) -> Result<Solution, SolveError> {
    solve(system, state, Options::PHYSICAL)
}

/// The findings of a rule, as they are told.
fn told(text: &str, rule: &str) -> Vec<String> {
    compile(format!("{HEAD}{text}").as_bytes(), Want::Findings)
        .findings
        .into_iter()
        .filter(|finding| finding.rule == rule)
        .map(|finding| finding.message)
        .collect()
}

fn source(system: &System, name: &str) -> SourceId {
    let at = system.sources.iter().position(|source| source.name == name);
    SourceId::at(at.expect("the source is there"))
}

fn load(system: &System, name: &str) -> usize {
    let at = system.loads.iter().position(|load| load.name == name);
    at.expect("the load is there")
}

fn node(system: &System, component: &str, terminal: usize) -> NodeId {
    let found = system.components.iter().find(|part| part.name == component);
    system.node_of(found.expect("the part is there").terminals[terminal])
}

fn across_load(system: &System, solution: &Solution, name: &str) -> Option<f64> {
    let link = system.loads[load(system, name)].link;
    solution.across(system, link).map(|volts| volts.0)
}

/// No number of a solution may be without meaning.
fn finite(system: &System, solution: &Solution) {
    for index in 0..system.links.len() {
        assert!(solution.current(LinkId::at(index)).0.is_finite());
    }
    for index in 0..system.nodes.len() {
        let volts = solution.potential(NodeId::at(index)).0;
        assert!(volts.is_finite() && volts.abs() < 100.0, "{volts}");
    }
}

const LONG_WAY: &str = "
batteries: {house: {chemistry: agm, capacity: 60 Ah, resistance: 10 mΩ}}
loads: {heater: {draw: 60 W, kind: heater, behaves: power}}
runs:
  W1: {from: house.+, to: heater.+, gauge: 16 AWG, length: 100 ft}
  W2: {from: heater.-, to: house.-, gauge: 16 AWG, length: 100 ft}
";

#[test]
fn a_load_beyond_what_the_wiring_can_carry_is_named() {
    let system = boat(LONG_WAY);
    let error = meter(&system, &on(&system)).expect_err("there is no voltage at which it runs");
    assert!(matches!(error, SolveError::Collapsed(load) if load.index() == 0));
    assert_eq!(
        error.to_string(),
        "the wiring cannot deliver what a load asks for"
    );
    let told = told(LONG_WAY, "VD307");
    assert_eq!(
        told,
        [
            "heater cannot run with everything on: its way has so much resistance that no voltage is left to run it"
        ]
    );
    // Half the way runs it: the most that a source behind a resistance gives is its voltage squared over four times
    // the resistance (Ohm's law), and half the way lies on this side of it.
    let shorter = boat(&LONG_WAY.replace("100 ft", "40 ft"));
    let solution = meter(&shorter, &on(&shorter)).expect("it runs");
    let volts = across_load(&shorter, &solution, "heater").expect("it is fed");
    let amps = solution.current(shorter.loads[0].link).0;
    assert!((volts * amps - 60.0).abs() < 1e-6);
    finite(&shorter, &solution);
}

#[test]
fn islands_are_solved_apart_and_have_no_voltage_between_them() {
    let system = boat(
        "
batteries:
  one: {chemistry: agm, capacity: 60 Ah}
  two: {chemistry: agm, capacity: 60 Ah}
loads:
  lamp: {draw: 1 A, kind: lamp}
  radio: {draw: 2 A, kind: electronics, behaves: current}
  crossed: {draw: 3 A, kind: electronics, behaves: current}
runs:
  A1: {from: one.+, to: lamp.+, gauge: 14 AWG, length: 3 ft}
  A2: {from: lamp.-, to: one.-, gauge: 14 AWG, length: 3 ft}
  B1: {from: two.+, to: radio.+, gauge: 14 AWG, length: 3 ft}
  B2: {from: radio.-, to: two.-, gauge: 14 AWG, length: 3 ft}
  C1: {from: one.+, to: crossed.+, gauge: 14 AWG, length: 3 ft}
  C2: {from: crossed.-, to: two.-, gauge: 14 AWG, length: 3 ft}
",
    );
    let solution = meter(&system, &on(&system)).expect("each island has an answer");
    let (one, two) = (node(&system, "one", 0), node(&system, "two", 0));
    assert_ne!(solution.island(one), solution.island(two));
    assert_eq!(solution.between(one, two), None);
    // What lies between the islands is not fed and carries nothing.
    let crossed = load(&system, "crossed");
    assert_eq!(solution.loads[crossed], Running::Unfed);
    assert!(solution.current(system.loads[crossed].link).0.abs() < 1e-12);
    assert_eq!(across_load(&system, &solution, "crossed"), None);
    assert!(
        (solution
            .current(system.loads[load(&system, "radio")].link)
            .0
            - 2.0)
            .abs()
            < 1e-9
    );
    finite(&system, &solution);
}

#[test]
fn what_hangs_on_nothing_has_no_voltage() {
    let system = boat(
        "
batteries: {house: {chemistry: agm, capacity: 60 Ah}}
buses: {spare: {polarity: positive}, other: {polarity: positive}}
switches: {cut: {rating: 10 A}}
loads: {lamp: {draw: 1 A, kind: lamp}}
runs:
  A1: {from: house.+, to: cut.in, gauge: 14 AWG, length: 3 ft}
  A2: {from: cut.out, to: lamp.+, gauge: 14 AWG, length: 3 ft}
  A3: {from: lamp.-, to: house.-, gauge: 14 AWG, length: 3 ft}
  S1: {from: spare, to: other, gauge: 14 AWG, length: 3 ft}
",
    );
    let mut state = on(&system);
    state.positions.fill(0);
    let solution = meter(&system, &state).expect("an open switch is no fault");
    let (house, spare) = (node(&system, "house", 0), node(&system, "spare", 0));
    assert_eq!(solution.between(house, spare), None);
    let lamp = load(&system, "lamp");
    assert_eq!(solution.loads[lamp], Running::Unfed);
    assert!(solution.current(system.loads[lamp].link).0.abs() < 1e-12);
    finite(&system, &solution);
}

#[test]
fn a_shorted_source_is_named_whether_or_not_the_short_has_a_resistance() {
    // Without a length nothing limits the current but what the battery is said to have: none.
    let ideal = "
batteries: {house: {chemistry: agm, capacity: 60 Ah, resistance: 0 mΩ}}
runs:
  W9: {from: house.+, to: house.-, gauge: 14 AWG}
";
    let system = boat(ideal);
    let error = meter(&system, &on(&system)).expect_err("nothing limits the current");
    assert!(matches!(error, SolveError::Shorted(_)));
    assert_eq!(
        error.to_string(),
        "a source is shorted, or paralleled with one of another voltage, over links without resistance"
    );

    // Through cable the current is what Ohm's law makes of it, and it is said to be a short's.
    let cable = "
batteries: {house: {chemistry: agm, capacity: 60 Ah, resistance: 10 mΩ}}
loads: {lamp: {draw: 1 A, kind: lamp}}
runs:
  W1: {from: house.+, to: lamp.+, gauge: 14 AWG, length: 3 ft}
  W2: {from: lamp.-, to: house.-, gauge: 14 AWG, length: 3 ft}
  W9: {from: house.+, to: house.-, gauge: 14 AWG, length: 10 ft}
";
    let system = boat(cable);
    let solution = meter(&system, &on(&system)).expect("cable has resistance");
    let house = source(&system, "house");
    assert_eq!(
        solution.shorted,
        [Short {
            battery: house,
            held_at: Volts(0.0)
        }]
    );
    assert_eq!(
        shorted_words(&system, &solution.shorted),
        "house is shorted: its poles are joined through no load"
    );
    assert!(solution.current(system.sources[house.index()].link).0 < -100.0);
    assert!(
        told(cable, "BI405")
            .iter()
            .any(|told| told.starts_with("house is shorted"))
    );
}

#[test]
fn a_dead_short_through_a_switch_shows_in_the_position_that_closes_it() {
    let text = "
batteries: {house: {chemistry: agm, capacity: 60 Ah}}
switches:
  fan-switch:
    rating: 10 A
    terminals: [in, out, other]
    positions: {\"off\": [], low: [[in, other]], high: [[in, out]]}
loads: {fan: {draw: 2 A, kind: motor}}
runs:
  W2: {from: house.+, to: fan-switch.in, gauge: 14 AWG, length: 1 ft}
  W3: {from: fan-switch.out, to: fan.+, gauge: 14 AWG, length: 6 ft}
  W4: {from: fan.-, to: house.-, gauge: 14 AWG, length: 6 ft}
  W5: {from: fan-switch.other, to: house.-, gauge: 14 AWG, length: 6 ft}
scenarios:
  slow: {positions: {fan-switch: low}, on: [fan]}
  fast: {positions: {fan-switch: high}, on: [fan]}
";
    let system = boat(text);
    let of = |scenario: usize| {
        let state = State::scenario(&system, ScenarioId::at(scenario));
        meter(&system, &state).expect("cable has resistance")
    };
    assert_eq!(
        shorted_words(&system, &of(0).shorted),
        "house is shorted: its poles are joined through no load"
    );
    assert_eq!(of(1).shorted, []);
    assert_eq!(
        told(text, "BI405"),
        ["house is shorted with fan-switch at `low`"]
    );
}

#[test]
fn a_loop_shares_by_its_resistances() {
    // Two ways of 1 and 3 times the length: 3/4 and 1/4 of the current (Ohm's law).
    let system = boat(
        "
batteries: {house: {chemistry: agm, capacity: 60 Ah}}
loads: {radio: {draw: 4 A, kind: electronics, behaves: current}}
runs:
  W1: {from: house.+, to: radio.+, gauge: 14 AWG, length: 3 ft}
  W2: {from: house.+, to: radio.+, gauge: 14 AWG, length: 9 ft}
  W3: {from: radio.-, to: house.-, gauge: 14 AWG, length: 3 ft}
",
    );
    let solution = meter(&system, &on(&system)).expect("a loop is ordinary");
    let amps = |at: usize| solution.current(system.conductors[at].link).0;
    assert!((amps(0) - 3.0).abs() < 1e-9 && (amps(1) - 1.0).abs() < 1e-9);
    assert_eq!(solution.shorted, []);
}

const TWO_SOURCES: &str = "
batteries:
  one: {chemistry: agm, capacity: 60 Ah, resistance: 10 mΩ}
  two: {chemistry: agm, capacity: 60 Ah, resistance: 30 mΩ}
loads: {radio: {draw: 8 A, kind: electronics, behaves: current}}
runs:
  P1: {from: one.+, to: radio.+, gauge: 2 AWG}
  P2: {from: two.+, to: radio.+, gauge: 2 AWG}
  N1: {from: one.-, to: radio.-, gauge: 2 AWG}
  N2: {from: two.-, to: radio.-, gauge: 2 AWG}
";

#[test]
fn two_sources_share_by_their_resistances_and_unlike_ones_are_told() {
    let system = boat(TWO_SOURCES);
    let solution = meter(&system, &on(&system)).expect("two sources are ordinary");
    let amps = |name: &str| {
        solution
            .current(system.sources[source(&system, name).index()].link)
            .0
    };
    // Equal voltages: the inverse of the resistances, 3 to 1.
    assert!((amps("one") + 6.0).abs() < 1e-9 && (amps("two") + 2.0).abs() < 1e-9);
    assert_eq!(solution.shorted, []);

    let unlike = boat(&TWO_SOURCES.replace(
        "two: {chemistry: agm,",
        "two: {voltage: 24 V, chemistry: agm,",
    ));
    let solution = meter(&unlike, &on(&unlike)).expect("batteries have resistance");
    assert_eq!(
        shorted_words(&unlike, &solution.shorted),
        "two of 24.00 V stands against 12.00 V of other batteries"
    );
}

#[test]
fn a_diode_isolator_feeds_both_and_joins_none() {
    let system = boat(
        "
batteries:
  one: {chemistry: agm, capacity: 60 Ah}
  two: {chemistry: agm, capacity: 60 Ah}
isolators: {isolator: {outputs: 2, rating: 70 A}}
alternators: {alternator: {current: 40 A, voltage: 14.4 V}}
loads: {radio: {draw: 5 A, kind: electronics, behaves: current}}
runs:
  W1: {from: alternator.+, to: isolator.in, gauge: 6 AWG, length: 4 ft}
  W2: {from: isolator.1, to: one.+, gauge: 6 AWG, length: 4 ft}
  W3: {from: isolator.2, to: two.+, gauge: 6 AWG, length: 4 ft}
  N1: {from: alternator.-, to: one.-, gauge: 6 AWG, length: 4 ft}
  N2: {from: one.-, to: two.-, gauge: 6 AWG, length: 4 ft}
  R1: {from: one.+, to: radio.+, gauge: 14 AWG, length: 4 ft}
  R2: {from: radio.-, to: one.-, gauge: 14 AWG, length: 4 ft}
",
    );
    let mut state = on(&system);
    state.charging.fill(false);
    let resting = meter(&system, &state).expect("diodes settle");
    let of = |solution: &Solution, name: &str| {
        solution
            .current(system.sources[source(&system, name).index()].link)
            .0
    };
    // The radio hangs on one battery; through the isolator the other must not help.
    assert!((of(&resting, "one") + 5.0).abs() < 1e-6);
    assert!(of(&resting, "two").abs() < 1e-6);
    state.charging.fill(true);
    let charging = meter(&system, &state).expect("diodes settle");
    assert!(of(&charging, "alternator") < 0.0);
    assert!(of(&charging, "two") > 0.0, "the second is charged too");
    assert_eq!(charging.shorted, []);
    finite(&system, &charging);
}

/// What the program says of a netlist on its streams, with its exit status.
fn said(command: &[&str], text: &str) -> (i32, String, String) {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("odd.yaml"), format!("{HEAD}{text}")).expect("a file");
    let done = std::process::Command::new(env!("CARGO_BIN_EXE_loomwright"))
        .args(command)
        .current_dir(folder.path())
        .env("NO_COLOR", "1")
        .output()
        .expect("the program runs");
    let words = |bytes: Vec<u8>| String::from_utf8(bytes).expect("text");
    (
        done.status.code().expect("it ends by itself"),
        words(done.stdout),
        words(done.stderr),
    )
}

const STATE: &str = "odd.yaml: normal positions, all loads on but starters";
const AS_NETLIST: [&str; 2] = ["simulator", "odd.yaml"];
const AS_DRAWING: [&str; 4] = ["view", "odd.yaml", "--out", "view"];

#[test]
fn a_voltage_collapse_is_told_in_words_and_has_no_netlist() {
    let (status, netlist, told) = said(&AS_NETLIST, LONG_WAY);
    assert_eq!((status, netlist.as_str()), (1, ""));
    assert_eq!(
        told,
        format!(
            "{STATE} has no steady state: the wiring cannot deliver what a load asks for (heater)\n"
        )
    );
    let (status, _, told) = said(&AS_DRAWING, LONG_WAY);
    assert_eq!(status, 1);
    assert!(
        told.starts_with(&format!(
            "{STATE}: no steady state: the wiring cannot deliver what a load asks for (heater); the view has no numbers\n"
        )),
        "{told}"
    );
}

#[test]
fn a_shorted_source_is_told_in_words() {
    let ideal = "
batteries: {house: {chemistry: agm, capacity: 60 Ah, resistance: 0 mΩ}}
runs:
  W9: {from: house.+, to: house.-, gauge: 14 AWG}
";
    let (status, netlist, told) = said(&AS_NETLIST, ideal);
    assert_eq!((status, netlist.as_str()), (1, ""));
    assert_eq!(
        told,
        format!(
            "{STATE} has no steady state: a source is shorted, or paralleled with one of another voltage, \
             over links without resistance (W9)\n"
        )
    );
    // Through cable there are currents, and they are said to be those of a short.
    let cable = ideal
        .replace("resistance: 0", "resistance: 10")
        .replace("gauge: 14 AWG}", "gauge: 14 AWG, length: 10 ft}");
    let (status, netlist, told) = said(&AS_NETLIST, &cable);
    assert_eq!(status, 1);
    let short = "house is shorted: its poles are joined through no load";
    assert!(netlist.contains(&format!(
        "* SHORT: {short}; the currents are those of a short\n"
    )));
    assert_eq!(
        told,
        format!("{STATE}: {short}; the currents printed are those of a short\n")
    );
    let (status, _, told) = said(&AS_DRAWING, &cable);
    assert_eq!(status, 1);
    assert!(
        told.starts_with(&format!("{STATE}: {short}; the view has no numbers\n")),
        "{told}"
    );
}

#[test]
fn floating_nodes_and_loads_without_supply_are_told_in_words() {
    let floating = "
batteries: {house: {chemistry: agm, capacity: 60 Ah}}
buses: {spare: {polarity: positive}, other: {polarity: positive}}
loads: {lamp: {draw: 1 A, kind: lamp}, stray: {draw: 2 A, kind: lamp}}
runs:
  A1: {from: house.+, to: lamp.+, gauge: 14 AWG, length: 3 ft}
  A2: {from: lamp.-, to: house.-, gauge: 14 AWG, length: 3 ft}
  S1: {from: spare, to: other, gauge: 14 AWG, length: 3 ft}
  S2: {from: spare, to: stray.+, gauge: 14 AWG, length: 3 ft}
";
    let (status, netlist, told) = said(&AS_NETLIST, floating);
    assert_eq!(status, 0);
    let unfed = "stray: no source reaches both of its poles in this state, so it has no line";
    assert_eq!(told, format!("{STATE}: {unfed}\n"));
    assert!(
        netlist.contains(&format!("* NOT FED: {unfed}\n")),
        "{netlist}"
    );
    assert!(
        netlist.contains(
            "* FLOATING: what is joined to spare.1 hangs on no source; its 0 V is a reference and no reading\n\
             v_zero_n_spare_1 n_spare_1 0 0\n"
        ),
        "{netlist}"
    );
    assert!(!netlist.contains("stray_p n_stray_m"));
    // The findings name it as a fault of the wiring.
    assert_eq!(
        self::told(floating, "RP603"),
        ["no source reaches stray.+ in any combination of positions"]
    );
}

#[test]
fn readings_typed_back_are_told_line_by_line() {
    // The smallest boat with its lamp dark: battery voltage across the positive way, none across the negative.
    let boat = std::fs::read_to_string("examples/smallest.yaml").expect("an example");
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("odd.yaml"), boat).expect("a file");
    let run = |arguments: &[&str]| {
        std::process::Command::new(env!("CARGO_BIN_EXE_loomwright"))
            .args(arguments)
            .current_dir(folder.path())
            .env("NO_COLOR", "1")
            .output()
            .expect("the program runs")
    };
    let form = String::from_utf8(run(&["readings", "odd.yaml"]).stdout).expect("text");
    let step = |words: &str| {
        let line = form.lines().find(|line| line.contains(words));
        let Some((step, _)) = line.and_then(|line| line.split_once(':')) else {
            panic!("{words} in {form}")
        };
        step.trim().to_owned()
    };
    let battery = form
        .lines()
        .rfind(|line| line.contains("write it down"))
        .and_then(|line| line.split_once(':'))
        .map(|(step, _)| step.trim().to_owned())
        .expect("the light is tried");
    let (light, out, back) = (
        step("cabin-light.+ against cabin-light.-"),
        step("house.+ against cabin-light.+"),
        step("cabin-light.- against house.-"),
    );
    std::fs::write(
        folder.path().join("typed.yaml"),
        format!(
            "loomwright-readings: 1\nreadings:\n  {battery}: 12.60 V\n  {light}: 0.00 V\n  {out}: 12.60 V\n  {back}: 0.00 V\n"
        ),
    )
    .expect("a file");
    let done = run(&["readings", "odd.yaml", "typed.yaml"]);
    let told = String::from_utf8(done.stdout).expect("text");
    let lines: Vec<&str> = told.lines().collect();
    assert_eq!(done.status.code(), Some(1), "{told}");
    assert!(
        lines[0].starts_with(&format!("{battery} noted: ")),
        "{told}"
    );
    assert!(lines[1].starts_with(&format!("{light} OFF: ")), "{told}");
    let first = lines
        .iter()
        .position(|line| {
            *line == "Look here first; a fault is told by what it would explain, not proved:"
        })
        .expect("something explains it");
    // Everything in the one line from the post to the light reads alike, fuses before switches before wires.
    assert!(
        lines[first + 1].starts_with("1. main-fuse and its holder, or block.1 and its holder, or contacts of light-switch, or "),
        "{told}"
    );
    assert!(
        lines[first + 1].contains(&format!(": one of them open; explains {light}, {out}")),
        "{told}"
    );
}
