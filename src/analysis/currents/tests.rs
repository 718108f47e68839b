//! Largest currents on small boats whose answers can be reckoned by hand.

use super::*;
use crate::analysis::testing::Build;
use crate::system::{
    ComponentKind, Duty, Engine, GearKind, Given, LoadId, LoadKind, Polarity, Scenario, SourceKind,
};

fn currents(system: &System) -> Currents {
    let got = Currents::new(system, &Cases::new(system), |_| {});
    assert_eq!(got.failed, None);
    got
}

/// Load current of a wire, by number.
fn amps(system: &System, currents: &Currents, number: &str) -> f64 {
    peak(system, currents, number).amps.0
}

fn peak<'c>(system: &System, currents: &'c Currents, number: &str) -> &'c Peak {
    currents.load(link(system, number))
}

fn link(system: &System, number: &str) -> LinkId {
    system
        .conductors
        .iter()
        .find(|wire| wire.number == number)
        .expect("a wire of that number")
        .link
}

fn near(got: f64, wanted: f64) {
    assert!((got - wanted).abs() < 1e-6, "{got} against {wanted}");
}

fn on_off(build: &mut Build, name: &str, kind: GearKind) {
    build.switch(name, kind, &["off", "on"], &[("in", "out", &[1])]);
}

/// House battery, master switch, a block with a lamp, a fan, and a pump that is switched by hand.
fn boat() -> Build {
    let mut build = Build::new();
    build.source("house", SourceKind::Battery, None);
    on_off(&mut build, "master", GearKind::BatterySwitch);
    build.bus("negative", Polarity::Negative);
    let block = build.component("block", ComponentKind::FuseBlock);
    build.device(block, "block.1", "block.feed", "block.1", 10.0);
    build.device(block, "block.2", "block.feed", "block.2", 10.0);
    build.device(block, "block.3", "block.feed", "block.3", 10.0);
    on_off(&mut build, "lamp-switch", GearKind::PanelSwitch);
    on_off(&mut build, "manual", GearKind::PanelSwitch);
    build.load("lamp", Some(4.0));
    build.load("fan", Some(6.0));
    build.load("pump", Some(5.0));
    for (number, from, to) in [
        ("B1", "house.+", "master.in"),
        ("B2", "master.out", "block.feed"),
        ("B3", "negative", "house.-"),
        ("L1", "block.1", "lamp-switch.in"),
        ("L2", "lamp-switch.out", "lamp.+"),
        ("L3", "lamp.-", "negative"),
        ("F1", "block.2", "fan.+"),
        ("F2", "fan.-", "negative"),
        ("M1", "block.3", "manual.in"),
        ("M2", "manual.out", "pump.+"),
        ("P", "pump.-", "negative"),
    ] {
        build.wire(number, (from, to), "12 AWG", 1.0);
    }
    build
}

/// Gives the pump a second feed: always on, through a float.
fn add_float(build: &mut Build) {
    build.fuse("pump-fuse", 10.0);
    on_off(build, "float", GearKind::Float);
    for (number, from, to) in [
        ("A1", "house.+", "pump-fuse.in"),
        ("A2", "pump-fuse.out", "float.in"),
        ("A3", "float.out", "pump.+"),
    ] {
        build.wire(number, (from, to), "12 AWG", 1.0);
    }
}

#[test]
fn everything_on_without_scenarios() {
    let system = boat().finish();
    let got = currents(&system);
    for (number, wanted) in [
        ("L1", 4.0),
        ("L2", 4.0),
        ("L3", 4.0),
        ("F1", 6.0),
        ("M1", 5.0),
        ("P", 5.0),
        ("B1", 15.0),
        ("B3", 15.0),
    ] {
        near(amps(&system, &got, number), wanted);
    }
    let feeder = peak(&system, &got, "B1");
    assert_eq!(got.words(&system, feeder), "with everything on");
    assert_eq!(got.coverage, Coverage::Complete);
}

#[test]
fn two_feeds_of_one_pump_carry_it_alone_and_feed_back() {
    let mut build = boat();
    add_float(&mut build);
    let system = build.finish();
    let got = currents(&system);
    near(amps(&system, &got, "P"), 5.0);
    near(amps(&system, &got, "B3"), 15.0);
    // With both feeds closed the feeder carries 65/7 A by its lengths; 15 A with the float down, 10 A with the hand
    // switch open. Both increases are added, though only one of them can be: that is the safe side.
    near(amps(&system, &got, "B1"), 15.0 + 10.0 - 65.0 / 7.0);
    assert_eq!(
        peak(&system, &got, "B1").raised_by,
        [(GearId::at(2), 0), (GearId::at(3), 0)]
    );
    // With the master off, the float lead feeds lamp and fan back through the closed hand switch.
    near(amps(&system, &got, "A2"), 15.0);
    near(amps(&system, &got, "M1"), 10.0);
    let positions = got.positions(&system, peak(&system, &got, "M1"));
    assert_eq!(positions.len(), 1);
    assert_eq!(positions[0].switch, "master");
}

#[test]
fn a_declared_scenario_decides_for_what_it_shows() {
    let mut system = boat().finish();
    system.scenarios.push(Scenario {
        name: "night".to_owned(),
        span: crate::source::Span::default(),
        title: "night".to_owned(),
        positions: vec![(GearId::at(1), 1)],
        on: vec![LoadId::at(0)],
        engine: Engine::Stopped,
        charging: Vec::new(),
        hours: None,
        state_of_charge: None,
    });
    system.gears[0].normal = 1;
    let got = currents(&system);
    near(amps(&system, &got, "B1"), 4.0);
    near(amps(&system, &got, "L1"), 4.0);
    assert_eq!(
        got.words(&system, peak(&system, &got, "B1")),
        "in scenario night"
    );
    // No scenario runs the fan: its branch is judged with everything on.
    near(amps(&system, &got, "F1"), 6.0);
}

#[test]
fn exclusive_positions_do_not_add_up() {
    let mut build = Build::new();
    build.source("house", SourceKind::Battery, None);
    build.switch(
        "speed",
        GearKind::PanelSwitch,
        &["off", "slow", "fast"],
        &[("in", "slow", &[1]), ("in", "fast", &[2])],
    );
    build.load("slow", Some(3.0));
    build.load("fast", Some(5.0));
    build.load("lamp", Some(1.0));
    for (number, from, to) in [
        ("A", "house.+", "speed.in"),
        ("S", "speed.slow", "slow.+"),
        ("F", "speed.fast", "fast.+"),
        ("L", "speed.in", "lamp.+"),
        ("SN", "slow.-", "house.-"),
        ("FN", "fast.-", "house.-"),
        ("LN", "lamp.-", "house.-"),
    ] {
        build.wire(number, (from, to), "12 AWG", 1.0);
    }
    let system = build.finish();
    let got = currents(&system);
    near(amps(&system, &got, "A"), 6.0);
    near(amps(&system, &got, "S"), 3.0);
    near(amps(&system, &got, "F"), 5.0);
    assert_eq!(peak(&system, &got, "A").raised_by, [(GearId::at(0), 2)]);
}

#[test]
fn cranking_and_charging_are_kept_apart() {
    let mut build = boat();
    build.source("alternator", SourceKind::Alternator, Some(60.0));
    build.source("solar", SourceKind::Solar, Some(8.0));
    let starter = build.load("starter", Some(220.0));
    build.system.loads[starter.index()].duty = Duty::Surge;
    build.system.loads[starter.index()].kind = LoadKind::Starter;
    for (number, from, to) in [
        ("C1", "master.out", "starter.+"),
        ("C2", "starter.-", "negative"),
        ("K1", "alternator.+", "master.out"),
        ("K2", "alternator.-", "negative"),
        ("S1", "solar.+", "house.+"),
        ("S2", "solar.-", "negative"),
    ] {
        build.wire(number, (from, to), "2 AWG", 1.0);
    }
    let system = build.finish();
    let got = currents(&system);
    near(amps(&system, &got, "C1"), 0.0);
    near(got.of(link(&system, "C1")).cranking.amps.0, 220.0);
    near(got.of(link(&system, "B1")).cranking.amps.0, 220.0);
    near(amps(&system, &got, "K1"), 60.0);
    near(amps(&system, &got, "S1"), 8.0);
    // The battery's lead takes the alternator's current; its negative both sources at once.
    near(amps(&system, &got, "B1"), 60.0);
    near(amps(&system, &got, "B3"), 68.0);
    assert_eq!(
        got.words(&system, peak(&system, &got, "B3")),
        "with everything charging"
    );
}

#[test]
fn a_design_current_replaces_the_sum_on_both_sides() {
    let mut build = boat();
    let block = build
        .system
        .components
        .iter()
        .position(|component| component.name == "block")
        .expect("built");
    build.system.components[block].design_current = Some(Given::assumed(Amps(7.0)));
    let system = build.finish();
    let got = currents(&system);
    near(amps(&system, &got, "L1"), 4.0);
    near(amps(&system, &got, "L3"), 4.0);
    near(amps(&system, &got, "F1"), 6.0);
    near(amps(&system, &got, "B2"), 7.0);
    assert!(peak(&system, &got, "B2").by_design);
    assert!(!peak(&system, &got, "F1").by_design);
    near(amps(&system, &got, "B3"), 7.0);
}

#[test]
fn what_has_no_draw_marks_its_way() {
    let mut build = boat();
    build.system.loads[1].draw = None;
    let system = build.finish();
    let got = currents(&system);
    for (number, unknown) in [
        ("F1", true),
        ("F2", true),
        ("B1", true),
        ("B3", true),
        ("L1", false),
        ("M1", false),
    ] {
        assert_eq!(peak(&system, &got, number).unknown, unknown, "{number}");
    }
    let mut designed = boat();
    designed.system.loads[1].draw = None;
    for component in &mut designed.system.components {
        if component.name == "block" {
            component.design_current = Some(Given::assumed(Amps(7.0)));
        }
    }
    let system = designed.finish();
    let got = currents(&system);
    assert!(peak(&system, &got, "F1").unknown);
    assert!(!peak(&system, &got, "B2").unknown);
    near(amps(&system, &got, "B2"), 7.0);
}

#[test]
fn banks_in_every_combination() {
    let mut build = Build::new();
    for name in ["start", "house"] {
        build.source(name, SourceKind::Battery, None);
    }
    build.switch(
        "selector",
        GearKind::BatterySwitch,
        &["off", "one", "two", "both"],
        &[("one", "common", &[1, 3]), ("two", "common", &[2, 3])],
    );
    build.load("lamp", Some(20.0));
    for (number, from, to) in [
        ("S", "start.+", "selector.one"),
        ("H", "house.+", "selector.two"),
        ("F", "selector.common", "lamp.+"),
        ("SN", "start.-", "lamp.-"),
        ("HN", "house.-", "lamp.-"),
    ] {
        build.wire(number, (from, to), "6 AWG", 2.0);
    }
    let system = build.finish();
    let got = currents(&system);
    for number in ["S", "H", "F", "SN", "HN"] {
        near(amps(&system, &got, number), 20.0);
    }
    let positions = got.positions(&system, peak(&system, &got, "S"));
    assert_eq!(positions.len(), 1);
    assert_eq!(positions[0].position, "one");
}
