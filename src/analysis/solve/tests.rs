//! Whole boats solved, against handbook figures and against Kirchhoff.

use super::*;
use crate::analysis::testing::Build;
use crate::system::{Draw, GearKind, Given, Polarity};
use crate::units::Watts;

fn near(got: f64, wanted: f64) {
    assert!(
        (got - wanted).abs() <= 1e-6 * wanted.abs().max(1e-3),
        "{got} against {wanted}"
    );
}

/// Battery, main switch, one wire each way, one load.
fn one_circuit(gauge: &str, out_m: f64, back_m: f64, amps: f64) -> System {
    let mut build = Build::new();
    build.source("house", SourceKind::Battery, None);
    build.switch(
        "master",
        GearKind::BatterySwitch,
        &["off", "on"],
        &[("in", "out", &[1])],
    );
    build.load("lamp", Some(amps));
    build.wire("A", ("house.+", "master.in"), gauge, out_m / 2.0);
    build.wire("B", ("master.out", "lamp.+"), gauge, out_m / 2.0);
    build.wire("N", ("lamp.-", "house.-"), gauge, back_m);
    build.finish()
}

fn all_on(system: &System) -> State {
    let mut state = State::normal(system);
    state.on.fill(true);
    state
}

/// Currents balance at every node, and what the sources give is what loads and links take.
fn kirchhoff(system: &System, solution: &Solution) {
    let mut sums = vec![0.0; system.nodes.len()];
    let (mut power, mut scale) = (0.0, 1.0f64);
    for (index, link) in system.links.iter().enumerate() {
        let amps = solution.current(LinkId::at(index)).0;
        let (a, b) = (system.node_of(link.a), system.node_of(link.b));
        sums[a.index()] += amps;
        sums[b.index()] -= amps;
        let watts = amps * (solution.potential(a) - solution.potential(b)).0;
        power += watts;
        scale = scale.max(watts.abs());
    }
    for (node, sum) in sums.iter().enumerate() {
        assert!(sum.abs() < 1e-6, "node {node} keeps {sum} A");
    }
    assert!(power.abs() < 1e-6 * scale, "{power} W left over");
}

#[test]
fn the_size_formula_comes_back() {
    // 46 CFR 183.340(p) and vendors' texts: 10 A, 11 ft out and 10 ft back, 12 V, 3 % asks for 6271 circular mils.
    // A wire of 12 AWG (6530 circular mils) then drops 0.36 V × 6271 / 6530.
    let system = one_circuit("12 AWG", 11.0 * 0.3048, 10.0 * 0.3048, 10.0);
    let solution = solve(&system, &all_on(&system), Options::RULE).expect("solvable");
    let drop = -solution
        .across(&system, system.loads[0].link)
        .expect("joined")
        .0;
    assert!((drop - 0.36 * 6270.83 / 6529.9).abs() < 1e-5, "{drop}");
    kirchhoff(&system, &solution);
    let nominal = Options {
        voltage: Voltage::Nominal,
        ..Options::RULE
    };
    let live = solve(&system, &all_on(&system), nominal).expect("solvable");
    near(
        live.across(&system, system.loads[0].link)
            .expect("joined")
            .0,
        12.0 - drop,
    );
    near(live.current(system.sources[0].link).0, -10.0);
    kirchhoff(&system, &live);
}

#[test]
fn an_open_switch_leaves_the_load_unfed() {
    let system = one_circuit("12 AWG", 2.0, 2.0, 10.0);
    let mut state = all_on(&system);
    state.positions[0] = 0;
    for options in [Options::RULE, Options::PHYSICAL] {
        let solution = solve(&system, &state, options).expect("solvable");
        assert_eq!(solution.loads, [Running::Unfed]);
        near(solution.current(system.loads[0].link).0, 0.0);
        kirchhoff(&system, &solution);
    }
}

#[test]
fn reversed_and_blank_loads_are_told() {
    let mut build = Build::new();
    build.source("house", SourceKind::Battery, None);
    build.load("reversed", Some(2.0));
    build.load("blank", None);
    build.load("stray", Some(3.0));
    build.wire("A", ("house.+", "reversed.-"), "14 AWG", 1.0);
    build.wire("B", ("house.-", "reversed.+"), "14 AWG", 1.0);
    build.wire("C", ("house.+", "blank.+"), "14 AWG", 1.0);
    build.wire("D", ("house.-", "blank.-"), "14 AWG", 1.0);
    build.wire("E", ("house.-", "stray.+"), "14 AWG", 1.0);
    build.wire("F", ("house.-", "stray.-"), "14 AWG", 1.0);
    let system = build.finish();
    let solution = solve(&system, &all_on(&system), Options::RULE).expect("solvable");
    assert_eq!(
        solution.loads,
        [Running::Reversed, Running::NoDraw, Running::Unfed]
    );
    near(solution.current(system.loads[0].link).0, -2.0);
    near(solution.current(system.links_of("A")).0, 2.0);
    near(solution.current(system.links_of("E")).0, 0.0);
    kirchhoff(&system, &solution);
}

impl System {
    /// The link of a wire, by its number.
    fn links_of(&self, number: &str) -> LinkId {
        self.conductors
            .iter()
            .find(|conductor| conductor.number == number)
            .expect("a wire of that number")
            .link
    }
}

#[test]
fn a_dead_short_is_an_error_and_a_resisting_one_a_current() {
    let short = |length: f64| {
        let mut build = Build::new();
        build.source("house", SourceKind::Battery, None);
        build.wire("A", ("house.+", "house.-"), "2 AWG", length);
        build.finish()
    };
    let nominal = Options {
        voltage: Voltage::Nominal,
        ..Options::RULE
    };
    let ideal = short(0.0);
    let state = State::normal(&ideal);
    assert!(matches!(
        solve(&ideal, &state, nominal),
        Err(SolveError::Shorted(_))
    ));
    assert!(solve(&ideal, &state, Options::RULE).is_ok());
    let wired = short(2.0);
    let solution = solve(&wired, &state, nominal).expect("a current, if a large one");
    assert!(solution.current(wired.links_of("A")).0 > 1000.0);
}

#[test]
fn a_charger_fills_a_battery_and_feeds_where_there_is_none() {
    let mut build = Build::new();
    build.source("house", SourceKind::Battery, None);
    build.source("charger", SourceKind::Charger, Some(20.0));
    build.switch(
        "master",
        GearKind::BatterySwitch,
        &["off", "on"],
        &[("in", "out", &[1])],
    );
    build.load("lamp", Some(5.0));
    build.wire("A", ("house.+", "master.in"), "6 AWG", 1.0);
    build.wire("B", ("master.out", "lamp.+"), "6 AWG", 1.0);
    build.wire("C", ("charger.+", "master.out"), "6 AWG", 1.0);
    build.wire("N", ("lamp.-", "house.-"), "6 AWG", 1.0);
    build.wire("M", ("charger.-", "house.-"), "6 AWG", 1.0);
    let system = build.finish();
    let mut state = all_on(&system);
    state.charging.fill(true);
    let solution = solve(&system, &state, Options::RULE).expect("solvable");
    near(solution.current(system.links_of("C")).0, 20.0);
    near(solution.current(system.links_of("A")).0, -15.0);
    kirchhoff(&system, &solution);
    state.positions[0] = 0;
    for options in [Options::RULE, Options::PHYSICAL] {
        let solution = solve(&system, &state, options).expect("solvable");
        near(solution.current(system.links_of("C")).0, 5.0);
        near(solution.current(system.links_of("A")).0, 0.0);
        kirchhoff(&system, &solution);
    }
    state.charging.fill(false);
    let solution = solve(&system, &state, Options::RULE).expect("solvable");
    assert_eq!(solution.loads, [Running::Unfed]);
}

#[test]
fn a_charger_keeps_both_its_limits() {
    // 20 A through 100 m of 16 AWG would need more than 14.4 V at the charger; so it holds 14.4 V and delivers less.
    let charger = |metres: f64| {
        let mut build = Build::new();
        build.source("house", SourceKind::Battery, None);
        let charger = build.source("charger", SourceKind::Charger, Some(20.0));
        build.system.sources[charger.index()].max_voltage = Some(Given::assumed(Volts(14.4)));
        build.wire("C", ("charger.+", "house.+"), "16 AWG", metres);
        build.wire("M", ("charger.-", "house.-"), "16 AWG", metres);
        build.finish()
    };
    let near_by = charger(1.0);
    let mut state = State::normal(&near_by);
    state.charging.fill(true);
    let solution = solve(&near_by, &state, Options::PHYSICAL).expect("solvable");
    near(solution.current(near_by.links_of("C")).0, 20.0);
    assert!(solution.limited.is_empty());
    let far = charger(100.0);
    let solution = solve(&far, &state, Options::PHYSICAL).expect("solvable");
    let volts = solution.across(&far, far.sources[1].link).expect("joined");
    near(volts.0, 14.4);
    let amps = solution.current(far.links_of("C")).0;
    assert!(amps > 0.1 && amps < 2.0, "{amps}");
    assert_eq!(solution.limited, [SourceId::at(1)]);
    kirchhoff(&far, &solution);
}

#[test]
fn a_charger_without_battery_is_told_to_be_overloaded() {
    let mut build = Build::new();
    build.source("charger", SourceKind::Charger, Some(4.0));
    build.load("heater", Some(5.0));
    build.wire("C", ("charger.+", "heater.+"), "12 AWG", 1.0);
    build.wire("M", ("charger.-", "heater.-"), "12 AWG", 1.0);
    let system = build.finish();
    let mut state = all_on(&system);
    state.charging.fill(true);
    let solution = solve(&system, &state, Options::PHYSICAL).expect("solvable");
    assert_eq!(solution.overloaded, [SourceId::at(0)]);
    near(solution.current(system.links_of("C")).0, 5.0);
}

#[test]
fn what_is_assumed_is_told() {
    let mut build = Build::new();
    build.source("house", SourceKind::Battery, None);
    let fuse = build.fuse("main", 100.0);
    build.load("lamp", Some(5.0));
    build.wire("A", ("house.+", "main.in"), "6 AWG", 1.0);
    build.wire("B", ("main.out", "lamp.+"), "6 AWG", 1.0);
    build.wire("N", ("lamp.-", "house.-"), "6 AWG", 1.0);
    let mut system = build.finish();
    let link = system.devices[fuse.index()].link;
    // 100 mV at 100 A.
    let (ohms, _) = assumed_resistance(&system, link).expect("no resistance is given");
    near(ohms.0, 0.001);
    near(
        resistance(&system, link, Reading::Physical)
            .expect("known")
            .0,
        0.001,
    );
    near(
        resistance(&system, link, Reading::Rule).expect("known").0,
        0.0,
    );
    system.links[link.index()].resistance = Some(Given::assumed(Ohms(0.002)));
    assert!(assumed_resistance(&system, link).is_none());
    near(
        resistance(&system, link, Reading::Physical)
            .expect("known")
            .0,
        0.002,
    );
    assert!(assumed_resistance(&system, system.links_of("A")).is_none());
    assert!(assumed_resistance(&system, system.sources[0].link).is_some());
}

#[test]
fn physical_reading_sags_and_collapses() {
    let mut system = one_circuit("16 AWG", 10.0, 10.0, 5.0);
    let state = all_on(&system);
    let rule = solve(&system, &state, Options::RULE).expect("solvable");
    let rule_drop = -rule
        .across(&system, system.loads[0].link)
        .expect("joined")
        .0;
    let physical = solve(&system, &state, Options::PHYSICAL).expect("solvable");
    let at_load = physical
        .across(&system, system.loads[0].link)
        .expect("joined")
        .0;
    let at_battery = physical
        .across(&system, system.sources[0].link)
        .expect("joined")
        .0;
    // standards: conforming tinned cable at 50 °C loses more than the rule says.
    assert!(at_battery - at_load > 1.05 * rule_drop);
    assert!(at_battery < 12.7 && at_battery > 12.4, "{at_battery}");
    system.loads[0].behaviour = Behaviour::Power;
    system.loads[0].draw = Some(Given::assumed(Draw::Power(Watts(60.0))));
    let power = solve(&system, &state, Options::PHYSICAL).expect("solvable");
    near(
        power.current(system.loads[0].link).0
            * power
                .across(&system, system.loads[0].link)
                .expect("joined")
                .0,
        60.0,
    );
    kirchhoff(&system, &power);
    system.loads[0].draw = Some(Given::assumed(Draw::Power(Watts(600.0))));
    assert_eq!(
        solve(&system, &state, Options::PHYSICAL).err(),
        Some(SolveError::Collapsed(LoadId::at(0)))
    );
    system.loads[0].behaviour = Behaviour::Current;
    assert_eq!(
        solve(&system, &state, Options::PHYSICAL).err(),
        Some(SolveError::Collapsed(LoadId::at(0)))
    );
}

/// Two banks, a selector, an isolator from the alternator, a block with many loads: what a sweep meets.
fn two_banks(circuits: usize) -> System {
    let mut build = Build::new();
    build.source("start", SourceKind::Battery, None);
    build.source("house", SourceKind::Battery, None);
    build.source("alternator", SourceKind::Alternator, Some(60.0));
    build.diode("isolator", 0.7, 2);
    build.switch(
        "selector",
        GearKind::BatterySwitch,
        &["off", "one", "two", "both"],
        &[("one", "common", &[1, 3]), ("two", "common", &[2, 3])],
    );
    build.bus("feed", Polarity::Positive);
    build.bus("negative", Polarity::Negative);
    build.wire("S", ("start.+", "selector.one"), "1/0 AWG", 1.0);
    build.wire("H", ("house.+", "selector.two"), "1/0 AWG", 2.0);
    build.wire("F", ("selector.common", "feed"), "4 AWG", 3.0);
    build.wire("SN", ("start.-", "negative"), "1/0 AWG", 1.0);
    build.wire("HN", ("house.-", "negative"), "1/0 AWG", 1.5);
    build.wire("AI", ("alternator.+", "isolator.in"), "6 AWG", 1.0);
    build.wire("I1", ("isolator.1", "start.+"), "6 AWG", 1.0);
    build.wire("I2", ("isolator.2", "house.+"), "6 AWG", 1.0);
    build.wire("AN", ("alternator.-", "negative"), "6 AWG", 1.0);
    for index in 0..circuits {
        let (lamp, fuse, switch) = (
            format!("lamp{index}"),
            format!("fuse{index}"),
            format!("switch{index}"),
        );
        build.load(&lamp, Some(1.0 + (index % 7) as f64));
        build.fuse(&fuse, 10.0);
        build.switch(
            &switch,
            GearKind::PanelSwitch,
            &["off", "on"],
            &[("in", "out", &[1])],
        );
        let wires: [(&str, String, String); 4] = [
            ("a", "feed".to_owned(), format!("{fuse}.in")),
            ("b", format!("{fuse}.out"), format!("{switch}.in")),
            ("c", format!("{switch}.out"), format!("{lamp}.+")),
            ("n", format!("{lamp}.-"), "negative".to_owned()),
        ];
        for (suffix, from, to) in wires {
            build.wire(&format!("{index}{suffix}"), (&from, &to), "14 AWG", 2.0);
        }
    }
    build.finish()
}

#[test]
fn a_sweep_agrees_with_single_solutions() {
    let system = two_banks(5);
    let selector = GearId::at(0);
    let mut sweep = Sweep::new(&system, all_on(&system), &[selector], &[]).expect("solvable");
    for position in 0..4 {
        for charging in [false, true] {
            for on in [false, true] {
                let state = sweep.state();
                state.positions[0] = position;
                state.charging[2] = charging;
                state.on.fill(on);
                let single = solve(&system, &state.clone(), Options::RULE).expect("solvable");
                let swept = sweep.solve(&[]).expect("solvable");
                assert_eq!(single.loads, swept.loads);
                for (index, link) in system.links.iter().enumerate() {
                    let id = LinkId::at(index);
                    let (got, wanted) = (swept.current(id).0, single.current(id).0);
                    assert!(
                        (got - wanted).abs() < 1e-6,
                        "position {position}, link {}: {got} against {wanted}",
                        system.link_name(id)
                    );
                    let _ = link;
                }
                kirchhoff(&system, &single);
                kirchhoff(&system, &swept);
            }
        }
    }
}
