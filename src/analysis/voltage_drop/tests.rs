//! Drops that can be reckoned by hand, and the split of shared wiring.

use super::*;
use crate::analysis::Facts;
use crate::analysis::testing::Build;
use crate::system::{ComponentKind, DropClass, GearKind, Given, Polarity, SourceKind};
use crate::units::Gauge;

fn near(got: f64, wanted: f64) {
    assert!(
        (got - wanted).abs() < 1e-9 * wanted.abs().max(1.0),
        "{got} against {wanted}"
    );
}

/// Rule resistance of a wire: K = 10.75 ohm circular mils a foot.
fn ohms(gauge: &str, metres: f64) -> f64 {
    let gauge: Gauge = gauge.parse().expect("a size");
    let cmil = gauge.area().0 / 5.067_074_790_974_977e-4;
    10.75 / cmil / 0.3048 * metres
}

/// Battery, master switch, block of two ways, negative bus; a lamp of 5 A and a pump of 10 A.
fn boat() -> Build {
    let mut build = Build::new();
    build.source("house", SourceKind::Battery, None);
    build.switch(
        "master",
        GearKind::BatterySwitch,
        &["off", "on"],
        &[("in", "out", &[1])],
    );
    build.bus("negative", Polarity::Negative);
    let block = build.component("block", ComponentKind::FuseBlock);
    build.device(block, "block.1", "block.feed", "block.1", 10.0);
    build.device(block, "block.2", "block.feed", "block.2", 15.0);
    build.load("lamp", Some(5.0));
    build.load("pump", Some(10.0));
    for (number, from, to, gauge, metres) in [
        ("B1", "house.+", "master.in", "6 AWG", 1.0),
        ("B2", "master.out", "block.feed", "6 AWG", 2.0),
        ("B3", "negative", "house.-", "6 AWG", 2.5),
        ("L1", "block.1", "lamp.+", "14 AWG", 4.0),
        ("L2", "lamp.-", "negative", "14 AWG", 5.0),
        ("P1", "block.2", "pump.+", "12 AWG", 6.0),
        ("P2", "pump.-", "negative", "12 AWG", 7.0),
    ] {
        build.wire(number, (from, to), gauge, metres);
    }
    build
}

#[test]
fn a_drop_is_split_where_circuits_part() {
    let system = boat().finish();
    let facts = Facts::new(&system);
    let lamp = facts.drops.of(LoadId::at(0)).expect("fed");
    near(lamp.split.feeder_positive.0, 15.0 * ohms("6 AWG", 3.0));
    near(lamp.split.branch_positive.0, 5.0 * ohms("14 AWG", 4.0));
    near(lamp.split.branch_negative.0, 5.0 * ohms("14 AWG", 5.0));
    near(lamp.split.feeder_negative.0, 15.0 * ohms("6 AWG", 2.5));
    near(lamp.total.0, lamp.split.feeder().0 + lamp.split.branch().0);
    near(lamp.percent, lamp.total.0 / 12.0 * 100.0);
    assert!(lamp.missing.is_empty());
    assert_eq!(
        facts.drops.sharing(LoadId::at(0)),
        [(LoadId::at(1), Amps(10.0))]
    );
    let names: Vec<&str> = lamp
        .path
        .iter()
        .map(|id| system.conductors[id.index()].number.as_str())
        .collect();
    assert_eq!(names, ["B1", "B2", "L1", "L2", "B3"]);
    assert_eq!(facts.drops.blocks.len(), 1);
    near(facts.drops.blocks[0].total.0, 15.0 * ohms("6 AWG", 5.5));
    let solved = facts.drops.solved(LoadId::at(0)).expect("solvable");
    assert!(solved.lost() > lamp.total, "{solved:?}");
}

#[test]
fn a_lone_load_owns_all_its_way() {
    let mut build = Build::new();
    build.source("house", SourceKind::Battery, None);
    build.load("lamp", Some(2.0));
    build.wire("A", ("house.+", "lamp.+"), "16 AWG", 3.0);
    build.wire("B", ("lamp.-", "house.-"), "16 AWG", 4.0);
    let system = build.finish();
    let facts = Facts::new(&system);
    let drop = facts.drops.of(LoadId::at(0)).expect("fed");
    near(drop.split.branch_positive.0, 2.0 * ohms("16 AWG", 3.0));
    near(drop.split.branch_negative.0, 2.0 * ohms("16 AWG", 4.0));
    near(drop.split.feeder().0, 0.0);
    assert!(facts.drops.sharing(LoadId::at(0)).is_empty());
}

#[test]
fn what_is_missing_is_named() {
    let mut build = boat();
    let mut strip = |number: &str, field: fn(&mut crate::system::Conductor)| {
        let found = build
            .system
            .conductors
            .iter_mut()
            .find(|wire| wire.number == number)
            .expect("a wire of that number");
        field(found);
    };
    strip("B3", |wire| wire.length = None);
    strip("L1", |wire| wire.gauge = None);
    build.system.loads[1].draw = None;
    let system = build.finish();
    let facts = Facts::new(&system);
    let lamp = &facts.drops.of(LoadId::at(0)).expect("fed").missing;
    let wire = |number: &str| {
        ConductorId::at(
            system
                .conductors
                .iter()
                .position(|wire| wire.number == number)
                .expect("a wire of that number"),
        )
    };
    assert!(lamp.contains(&Missing::Gauge(wire("L1"))));
    assert!(lamp.contains(&Missing::Length(wire("B3"))));
    assert!(
        lamp.iter()
            .any(|missing| matches!(missing, Missing::SharedDraw(_)))
    );
    let pump = &facts.drops.of(LoadId::at(1)).expect("fed").missing;
    assert_eq!(pump[0], Missing::Draw(LoadId::at(1)));
    // Its way is known all the same.
    let way = &facts.drops.of(LoadId::at(1)).expect("fed").path;
    assert_eq!(way.as_slice(), ["B1", "B2", "P1", "P2", "B3"].map(wire));
}

#[test]
fn joined_banks_do_not_excuse_a_drop() {
    let mut build = Build::new();
    for name in ["start", "house"] {
        build.source(name, SourceKind::Battery, None);
    }
    build.switch(
        "selector",
        GearKind::BatterySwitch,
        &["off", "one", "both", "two"],
        &[("one", "common", &[1, 2]), ("two", "common", &[2, 3])],
    );
    build.load("lamp", Some(10.0));
    for (number, from, to, metres) in [
        ("S", "start.+", "selector.one", 1.0),
        ("H", "house.+", "selector.two", 6.0),
        ("F", "selector.common", "lamp.+", 2.0),
        ("N", "lamp.-", "house.-", 2.0),
        ("M", "start.-", "house.-", 1.0),
    ] {
        build.wire(number, (from, to), "10 AWG", metres);
    }
    let system = build.finish();
    let facts = Facts::new(&system);
    let drop = facts.drops.of(LoadId::at(0)).expect("fed");
    // Worst of the two single banks: the house bank with its long lead.
    near(drop.total.0, 10.0 * ohms("10 AWG", 10.0));
    assert!(drop.case.banks.is_empty(), "{:?}", drop.case.banks);
    assert_eq!(drop.source, Some(SourceId::at(1)));
}

#[test]
fn a_charging_source_has_a_drop_of_its_own() {
    let mut build = boat();
    build.source("charger", SourceKind::Charger, Some(20.0));
    build.wire("K1", ("charger.+", "house.+"), "10 AWG", 2.0);
    build.wire("K2", ("charger.-", "negative"), "10 AWG", 2.0);
    let system = build.finish();
    let facts = Facts::new(&system);
    let drop = facts.drops.charging(SourceId::at(1)).expect("charges");
    near(
        drop.total.0,
        20.0 * (ohms("10 AWG", 4.0) + ohms("6 AWG", 2.5)),
    );
    near(drop.current.0, 20.0);
    assert_eq!(drop.path.len(), 3);
    assert!(facts.drops.charging(SourceId::at(0)).is_none());
}

#[test]
fn limits_follow_class_and_policy() {
    let mut build = boat();
    build.system.loads[0].drop = Given::assumed(DropClass::Critical);
    build.system.loads[1].drop = Given::assumed(DropClass::Percent(4.5));
    let mut system = build.finish();
    let limit = load_limit(&system, &system.loads[0]);
    near(limit.percent, 3.0);
    // ABYC E-11 11.14.2.6, as quoted in public text.
    assert_eq!(limit.basis.publication, "ABYC E-11");
    let own = load_limit(&system, &system.loads[1]);
    near(own.percent, 4.5);
    assert_eq!(own.basis.publication, "this netlist");
    system.boat.policy.critical_drop_percent = 2.0;
    let strict = load_limit(&system, &system.loads[0]);
    near(strict.percent, 2.0);
    assert_eq!(strict.basis.publication, "this netlist");
    near(panel_limit(&system).percent, 2.0);
}
