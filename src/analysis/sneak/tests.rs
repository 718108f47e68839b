use super::*;
use crate::analysis::testing::Build;
use crate::system::{
    ConductorId, GearKind, Given, LoadId, LoadKind, Polarity, SourceId, SourceKind,
};
use crate::units::Ohms;

fn battery(build: &mut Build, name: &str) -> SourceId {
    let id = build.source(name, SourceKind::Battery, None);
    build.system.sources[id.index()].resistance = Some(Given::assumed(Ohms(0.001)));
    id
}

fn sneaks(system: &System) -> Sneaks {
    let poles = Poles::new(system);
    let ampacities = Ampacities::new(system, &poles);
    Sneaks::new(system, &poles, &ampacities)
}

fn wire(system: &System, number: &str) -> ConductorId {
    let index = system
        .conductors
        .iter()
        .position(|wire| wire.number == number)
        .expect("a wire of that number");
    ConductorId::at(index)
}

fn load(system: &System, name: &str) -> LoadId {
    let index = system
        .loads
        .iter()
        .position(|load| load.name == name)
        .expect("a load of that name");
    LoadId::at(index)
}

/// A gauge and its lamp on one return, the gauge fed with the ignition, the lamp with the lights; the ignition feeds
/// a fan as well, which returns to a bar of its own choice.
fn gauge(fan_returns_to: &str) -> Build {
    let mut build = Build::new();
    battery(&mut build, "house");
    build.bus("positive", Polarity::Positive);
    build.bus("negative", Polarity::Negative);
    build.bus("helm", Polarity::Negative);
    for (switch, kind) in [("key", GearKind::Key), ("lights", GearKind::PanelSwitch)] {
        build.switch(switch, kind, &["on", "off"], &[("in", "out", &[0])]);
        build.wire(
            &format!("{switch}-in"),
            ("positive", &format!("{switch}.in")),
            "4/0 AWG",
            0.0,
        );
    }
    for (name, amps, switch, back) in [
        ("gauge", 1.0, "key", "helm"),
        ("fan", 2.0, "key", fan_returns_to),
        ("lamp", 0.5, "lights", "helm"),
    ] {
        build.load(name, Some(amps));
        let (feed, plus, minus) = (
            format!("{switch}.out"),
            format!("{name}.+"),
            format!("{name}.-"),
        );
        build.wire(&format!("{name}-p"), (&feed, &plus), "4/0 AWG", 0.0);
        build.wire(&format!("{name}-n"), (&minus, back), "4/0 AWG", 0.0);
    }
    build.wire("P", ("house.+", "positive"), "4/0 AWG", 0.0);
    build.wire("G", ("helm", "negative"), "4/0 AWG", 0.0);
    build.wire("N", ("negative", "house.-"), "4/0 AWG", 0.0);
    build
}

#[test]
fn a_lamp_feeds_the_fan_once_the_helm_has_lost_its_return() {
    let system = gauge("negative").finish();
    let found = sneaks(&system);
    let [sneak] = found.sneaks.as_slice() else {
        panic!("one opening does it: {:?}", found.sneaks)
    };
    assert_eq!(sneak.opening, Opening::Return(wire(&system, "G")));
    assert_eq!(sneak.through, load(&system, "lamp"));
    // Resistances at 12 V: lamp 24, gauge 12, fan 6 ohm in series: 12 / 42 = 0.2857 A.
    assert!((sneak.current.0 - 12.0 / 42.0).abs() < 1e-3, "{sneak:?}");
    let [(first, most), (second, less)] = sneak.victims.as_slice() else {
        panic!("two loads come alive: {:?}", sneak.victims)
    };
    assert_eq!(
        (*first, *second),
        (load(&system, "gauge"), load(&system, "fan"))
    );
    assert!((most - 0.2857).abs() < 1e-3 && (less - 0.1429).abs() < 1e-3);
    let names: Vec<&str> = sneak
        .off_normal
        .iter()
        .map(|&(gear, _)| system.gears[gear.index()].name.as_str())
        .collect();
    assert_eq!(names, ["lights"]);
}

#[test]
fn nothing_sneaks_where_all_returns_are_lost_together() {
    assert!(sneaks(&gauge("helm").finish()).sneaks.is_empty());
}

#[test]
fn nothing_sneaks_into_a_line_that_ends_at_its_switch() {
    // Without the fan the ignition line behind the key ends at the gauge.
    let mut build = gauge("negative");
    build.system.loads[1].draw = None;
    assert!(sneaks(&build.finish()).sneaks.is_empty());
}

#[test]
fn a_lamp_between_two_feeds_wakes_what_hangs_on_the_dead_one() {
    // A charge lamp between the ignition and the field of an alternator: with the key off and the field live
    // by its own switch, the lamp feeds the fan behind the key.
    let mut build = gauge("negative");
    build.switch(
        "field",
        GearKind::PanelSwitch,
        &["on", "off"],
        &[("in", "out", &[0])],
    );
    build.load("coil", Some(3.0));
    build.load("charge-lamp", Some(0.5));
    build.wire("F", ("positive", "field.in"), "4/0 AWG", 0.0);
    build.wire("C", ("field.out", "coil.+"), "4/0 AWG", 0.0);
    build.wire("CN", ("coil.-", "negative"), "4/0 AWG", 0.0);
    build.wire("L1", ("key.out", "charge-lamp.+"), "4/0 AWG", 0.0);
    build.wire("L2", ("charge-lamp.-", "coil.+"), "4/0 AWG", 0.0);
    let system = build.finish();
    let found = sneaks(&system);
    let open: Vec<&Sneak> = found
        .sneaks
        .iter()
        .filter(|sneak| sneak.opening == Opening::Switches)
        .collect();
    assert_eq!(open.len(), 2, "either way: {open:?}");
    for sneak in &open {
        assert_eq!(sneak.through, load(&system, "charge-lamp"));
    }
    // 24 ohm of lamp and the coil of 4 ohm: 12 V / 28 = 0.43 A, 14 % of the 3 A of the coil.
    let coil = open
        .iter()
        .find_map(|sneak| {
            sneak
                .victims
                .iter()
                .find(|(victim, _)| *victim == load(&system, "coil"))
        })
        .expect("the coil is woken with the key");
    assert!((coil.1 - 12.0 / 28.0 / 3.0).abs() < 1e-3);
}

#[test]
fn cranking_current_takes_the_alternators_small_return() {
    let mut build = Build::new();
    battery(&mut build, "start");
    build.bus("negative", Polarity::Negative);
    build.bus("engine", Polarity::Negative);
    build.bus("other", Polarity::Negative);
    let starter = build.load("starter", Some(200.0));
    build.system.loads[starter.index()].kind = LoadKind::Starter;
    build.wire("P", ("start.+", "starter.+"), "1/0 AWG", 1.0);
    build.wire("S", ("starter.-", "engine"), "1/0 AWG", 0.3);
    build.wire("E", ("engine", "negative"), "1/0 AWG", 1.5);
    build.wire("N", ("negative", "start.-"), "1/0 AWG", 0.3);
    build.wire("T1", ("engine", "other"), "14 AWG", 1.0);
    build.wire("T2", ("other", "negative"), "10 AWG", 1.0);
    let system = build.finish();
    let found = sneaks(&system);
    let [small] = found.small_returns.as_slice() else {
        panic!(
            "only the cable from the engine has another way beside it: {:?}",
            found.small_returns
        )
    };
    assert_eq!(small.off, wire(&system, "E"));
    assert_eq!(
        small.wire,
        wire(&system, "T1"),
        "the thinner one fares worse"
    );
    assert!(small.current.0 > 100.0 && small.ampacity.0 < 40.0);
    assert!(found.sneaks.is_empty());
}

#[test]
fn a_boat_without_loads_has_no_sneaks() {
    let mut build = Build::new();
    battery(&mut build, "start");
    let found = sneaks(&build.finish());
    assert!(found.sneaks.is_empty() && found.small_returns.is_empty() && !found.incomplete);
}
