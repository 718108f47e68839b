use super::*;
use crate::analysis::states::set_to;
use crate::analysis::testing::Build;
use crate::diag::SetTo;
use crate::system::{
    Bank, Chemistry, GearId, GearKind, Given, Interlock, Polarity, Purpose, SourceKind,
};
use crate::units::{AmpHours, Amps, Ohms, Volts};

fn near(got: f64, wanted: f64, share: f64) {
    assert!(
        (got - wanted).abs() <= share * wanted.abs(),
        "{got} against {wanted}"
    );
}

fn battery(build: &mut Build, name: &str, milliohms: f64) -> SourceId {
    let id = build.source(name, SourceKind::Battery, None);
    build.system.sources[id.index()].resistance = Some(Given::assumed(Ohms(milliohms / 1000.0)));
    id
}

fn currents(system: &System) -> FaultCurrents {
    FaultCurrents::new(system, &Poles::new(system))
}

/// The node at the end of a wire.
fn end(system: &System, number: &str) -> NodeId {
    let wire = system
        .conductors
        .iter()
        .find(|wire| wire.number == number)
        .expect("a wire of that number");
    system.node_of(wire.to)
}

fn wire(system: &System, number: &str) -> ConductorId {
    let index = system
        .conductors
        .iter()
        .position(|wire| wire.number == number)
        .expect("a wire of that number");
    ConductorId::at(index)
}

fn at(faults: &FaultCurrents, node: NodeId) -> f64 {
    faults.at(node).map_or(0.0, |found| found.current.0)
}

fn set(system: &System, found: &Prospective<'_>) -> Vec<String> {
    set_to(system, found.positions)
        .into_iter()
        .map(|SetTo { switch, position }| format!("{switch} {position}"))
        .collect()
}

#[test]
fn one_battery_and_its_cable() {
    // Computed: 12.6 V behind 5 mΩ gives 2520 A at the posts. At the far end of 10 ft of 2 AWG, solid copper at
    // 20 °C (0.1563 ohm per 1000 ft in public wire tables), 12.6 / (0.005 + 0.001563) = 1920 A; the stranded
    // cable of the worked example, 2 % longer, gives 1911 A.
    let mut build = Build::new();
    let house = battery(&mut build, "house", 5.0);
    build.load("lamp", Some(1.0));
    build.wire("P", ("house.+", "lamp.+"), "2 AWG", 3.048);
    build.wire("N", ("lamp.-", "house.-"), "2 AWG", 3.048);
    let system = build.finish();
    let faults = currents(&system);
    let posts = faults.battery(house).expect("a battery");
    near(posts.at_posts().0, 2520.0, 1e-9);
    near(at(&faults, end(&system, "P")), 1920.0, 1e-3);
    assert!(faults.at(end(&system, "N")).is_none());
    let found = faults.at(end(&system, "P")).expect("fed");
    assert_eq!(found.certainty, Certainty::Stated);
    assert_eq!(found.sources, [house]);
}

#[test]
fn strings_in_parallel_add_up_and_batteries_in_series_do_not() {
    // A fuse maker's note on six 6 V batteries of 2400 A each, series-parallel to 12 V: 7200 A.
    let mut build = Build::new();
    build.bus("positive", Polarity::Positive);
    build.bus("negative", Polarity::Negative);
    for string in 0..3 {
        for half in ["low", "high"] {
            let id = build.source(&format!("{half}-{string}"), SourceKind::Battery, None);
            let source = &mut build.system.sources[id.index()];
            source.nominal = Given::assumed(Volts(6.0));
            source.short_circuit = Some(Given::assumed(Amps(2400.0)));
        }
        for (number, from, to) in [
            ("N", "negative".to_owned(), format!("low-{string}.-")),
            ("M", format!("low-{string}.+"), format!("high-{string}.-")),
            ("P", format!("high-{string}.+"), "positive".to_owned()),
        ] {
            build.wire(&format!("{number}{string}"), (&from, &to), "4/0 AWG", 0.0);
        }
    }
    let system = build.finish();
    let faults = currents(&system);
    near(at(&faults, end(&system, "P0")), 7200.0, 1e-3);
    // Half way up a string: its lower battery, and the two other strings through its upper one, 6.3 V behind
    // 2.625 mΩ and half as much of two strings: 1200 A.
    near(at(&faults, end(&system, "M0")), 3600.0, 1e-3);
    assert_eq!(faults.at(end(&system, "P0")).expect("fed").sources.len(), 6);
}

/// Two banks of 5 mΩ and 10 mΩ, each behind a fuse, that a switch puts on one feed, one at a time or together.
fn two_banks(both: bool) -> Build {
    let mut build = Build::new();
    battery(&mut build, "start", 5.0);
    battery(&mut build, "house", 10.0);
    build.bus("negative", Polarity::Negative);
    build.bus("feed", Polarity::Positive);
    for name in ["start", "house"] {
        build.fuse(&format!("{name}-fuse"), 200.0);
        let (post, into) = (format!("{name}.+"), format!("{name}-fuse.in"));
        build.wire(&format!("{name}-p"), (&post, &into), "4/0 AWG", 0.0);
        build.wire(
            &format!("{name}-n"),
            ("negative", &format!("{name}.-")),
            "4/0 AWG",
            0.0,
        );
    }
    let positions: &[&str] = if both {
        &["off", "1", "2", "both"]
    } else {
        &["off", "1", "2"]
    };
    build.switch(
        "selector",
        GearKind::BatterySwitch,
        positions,
        &[
            ("1", "feed", if both { &[1, 3] } else { &[1] }),
            ("2", "feed", if both { &[2, 3] } else { &[2] }),
        ],
    );
    for (number, name) in [("1", "start"), ("2", "house")] {
        build.wire(
            &format!("{name}-s"),
            (&format!("{name}-fuse.out"), &format!("selector.{number}")),
            "4/0 AWG",
            0.0,
        );
    }
    build.wire("F", ("selector.feed", "feed"), "4/0 AWG", 0.0);
    build
}

fn device(system: &System, name: &str) -> DeviceId {
    let index = system
        .devices
        .iter()
        .position(|device| device.name == name)
        .expect("a device of that name");
    DeviceId::at(index)
}

#[test]
fn the_worst_combination_of_positions_decides() {
    let system = two_banks(true).finish();
    let faults = currents(&system);
    let feed = end(&system, "F");
    near(at(&faults, feed), 2520.0 + 1260.0, 1e-3);
    // The last position of a switch built here is its normal one, which is not told.
    assert!(set(&system, &faults.at(feed).expect("fed")).is_empty());
    // The start fuse interrupts its own battery in a short beyond it, and the house battery in one at its own post.
    let (found, side) = faults.through(device(&system, "start-fuse")).expect("fed");
    near(found.current.0, 2520.0, 1e-3);
    assert_eq!(side, Side::Load);
    assert_eq!(found.sources.len(), 1);
    let (found, side) = faults.through(device(&system, "house-fuse")).expect("fed");
    near(found.current.0, 2520.0, 1e-3);
    assert_eq!(side, Side::Supply);
    assert!(set(&system, &found).is_empty());
}

#[test]
fn banks_that_no_position_joins_do_not_add_up() {
    let system = two_banks(false).finish();
    let faults = currents(&system);
    let feed = end(&system, "F");
    near(at(&faults, feed), 2520.0, 1e-3);
    assert_eq!(set(&system, &faults.at(feed).expect("fed")), ["selector 1"]);
}

#[test]
fn an_interlock_takes_the_worst_combination_away() {
    let mut build = two_banks(true);
    let selector = GearId::at(0);
    build.system.interlocks.push(Interlock {
        never: vec![(selector, 3)],
        span: crate::source::Span::default(),
    });
    let system = build.finish();
    near(at(&currents(&system), end(&system, "F")), 2520.0, 1e-3);
}

#[test]
fn a_device_in_a_ring_is_solved_with_the_short_in_place() {
    // Battery 12.6 V behind 10 mΩ to a; the device and, beside it, 10 mΩ from a to b. With b shorted nothing is left
    // of b's voltage, and the device carries all but what the ring passes: everything, as it has no resistance.
    // With a resistance of 10 mΩ it carries half of 12.6 / (10 + 5) mΩ: 420 A.
    let mut build = Build::new();
    battery(&mut build, "house", 10.0);
    build.bus("a", Polarity::Positive);
    build.bus("b", Polarity::Positive);
    build.fuse("fuse", 100.0);
    build.wire("P", ("house.+", "a"), "4/0 AWG", 0.0);
    build.wire("I", ("a", "fuse.in"), "4/0 AWG", 0.0);
    build.wire("O", ("fuse.out", "b"), "4/0 AWG", 0.0);
    build.wire("R", ("a", "b"), "4/0 AWG", 0.0);
    let ring = build.system.conductors[3].link;
    build.system.links[ring.index()].kind = crate::system::LinkKind::Mate { cavity: 1 };
    build.system.links[ring.index()].resistance = Some(Given::assumed(Ohms(0.010)));
    let with = |ohms: Option<f64>| {
        let mut build = Build {
            system: build.system.clone(),
        };
        let link = build.system.devices[0].link;
        build.system.links[link.index()].resistance = ohms.map(Ohms).map(Given::assumed);
        let system = build.finish();
        let faults = currents(&system);
        faults.through(DeviceId::at(0)).expect("fed").0.current.0
    };
    near(with(Some(0.010)), 420.0, 1e-3);
    near(with(None), 1260.0, 1e-3);
}

#[test]
fn a_diode_passes_no_battery_current_backwards() {
    let mut build = Build::new();
    battery(&mut build, "house", 5.0);
    build.diode("isolator", 0.7, 1);
    build.fuse("fuse", 100.0);
    build.source("alternator", SourceKind::Alternator, Some(50.0));
    build.bus("negative", Polarity::Negative);
    build.wire("H", ("house.+", "isolator.1"), "2 AWG", 1.0);
    build.wire("A", ("alternator.+", "fuse.in"), "6 AWG", 1.0);
    build.wire("B", ("fuse.out", "isolator.in"), "6 AWG", 1.0);
    build.wire("N", ("house.-", "negative"), "2 AWG", 1.0);
    build.wire("M", ("alternator.-", "negative"), "2 AWG", 1.0);
    let system = build.finish();
    let faults = currents(&system);
    assert!(faults.through(device(&system, "fuse")).is_none());
    assert!(at(&faults, end(&system, "H")) > 2000.0);
}

#[test]
fn what_a_battery_does_not_state_is_estimated_high() {
    let mut build = Build::new();
    let estimate = |build: &mut Build, name: &str, chemistry, cranking: Option<f64>| {
        let id = build.source(name, SourceKind::Battery, None);
        let source = &mut build.system.sources[id.index()];
        source.chemistry = Option::map(chemistry, Given::assumed);
        source.capacity = Some(Given::assumed(AmpHours(280.0)));
        source.cranking = cranking.map(Amps).map(Given::assumed);
        id
    };
    let cranked = estimate(&mut build, "a", Some(Chemistry::Agm), Some(700.0));
    let plain = estimate(&mut build, "b", Some(Chemistry::Agm), None);
    let lithium = estimate(
        &mut build,
        "c",
        Some(Chemistry::LithiumIronPhosphate),
        Some(700.0),
    );
    let unknown = estimate(&mut build, "d", None, None);
    let system = build.finish();
    let faults = currents(&system);
    let posts = |id| faults.battery(id).expect("a battery").at_posts().0;
    // Half of 5.4 V / 700 A; 3 mΩ; 0.4 mΩ whatever the management lets through when cranking.
    near(posts(cranked), 12.6 / (2.7 / 700.0), 1e-9);
    near(posts(plain), 4200.0, 1e-9);
    near(posts(lithium), 13.6 / 0.0004, 1e-9);
    near(posts(unknown), 4200.0, 1e-9);
    let certainty = |id| faults.battery(id).expect("a battery").certainty;
    assert!(matches!(certainty(cranked), Certainty::Estimated(_)));
    assert!(matches!(certainty(unknown), Certainty::Supposed(_)));
}

#[test]
fn the_far_end_sees_one_source_and_its_own_return() {
    // 12 V nominal behind 10 mΩ; 10 m of 2.5 mm² each way. IEC 60228 class 5, tinned: 8.21 ohm/km at 20 °C; at 105 °C
    // 8.21 · 339.5 / 254.5 = 10.952 ohm/km, so 219.0 mΩ for the loop, and 2.6 mΩ in the 15 A fuse (not given here: a
    // resistance of 1 mΩ is written). 12 / 0.2300 = 52.2 A.
    let mut build = Build::new();
    battery(&mut build, "house", 10.0);
    build.fuse("fuse", 15.0);
    build.load("lamp", Some(1.0));
    build.wire("P1", ("house.+", "fuse.in"), "2.5 mm²", 0.0);
    build.wire("P2", ("fuse.out", "lamp.+"), "2.5 mm²", 10.0);
    build.wire("N", ("lamp.-", "house.-"), "2.5 mm²", 10.0);
    let link = build.system.devices[0].link;
    build.system.links[link.index()].resistance = Some(Given::assumed(Ohms(0.001)));
    let system = build.finish();
    let faults = currents(&system);
    let [far] = faults.far_ends(wire(&system, "P2")) else {
        panic!("one device protects it")
    };
    near(far.current.0, 52.2, 2e-3);
    assert_eq!(far.device, Some(DeviceId::at(0)));
    assert_eq!(far.unknown, Some(wire(&system, "P1")));
    let [near_end] = faults.far_ends(wire(&system, "P1")) else {
        panic!("one way leads there")
    };
    assert_eq!(near_end.device, None);
    assert!(faults.far_ends(wire(&system, "N")).is_empty());
    assert_eq!(
        faults.devices_above(far.feed, end(&system, "P2")),
        [DeviceId::at(0)]
    );
}

#[test]
fn a_short_on_a_feeder_returns_by_the_bar_of_its_loads() {
    let mut build = Build::new();
    battery(&mut build, "house", 10.0);
    build.bus("feed", Polarity::Positive);
    build.bus("negative", Polarity::Negative);
    build.wire("P", ("house.+", "feed"), "2.5 mm²", 10.0);
    build.wire("N", ("negative", "house.-"), "2.5 mm²", 10.0);
    for name in ["one", "two"] {
        build.load(name, Some(1.0));
        build.wire(
            &format!("{name}-p"),
            ("feed", &format!("{name}.+")),
            "2.5 mm²",
            5.0,
        );
        build.wire(
            &format!("{name}-n"),
            (&format!("{name}.-"), "negative"),
            "2.5 mm²",
            5.0,
        );
    }
    let system = build.finish();
    let faults = currents(&system);
    let ohms = |number: &str| faults.far_ends(wire(&system, number))[0].loop_resistance.0;
    let each = 10.952e-3;
    near(ohms("P"), 0.010 + 20.0 * each, 1e-3);
    near(ohms("one-p"), 0.010 + 30.0 * each, 1e-3);
}

#[test]
fn the_weaker_of_two_banks_decides_the_far_end() {
    let mut build = two_banks(true);
    build.load("lamp", Some(1.0));
    build.wire("L", ("feed", "lamp.+"), "2.5 mm²", 1.0);
    build.wire("LN", ("lamp.-", "negative"), "2.5 mm²", 1.0);
    let system = build.finish();
    let faults = currents(&system);
    let far = faults.far_ends(wire(&system, "L"));
    assert_eq!(far.len(), 2, "one for the fuse of each bank");
    let house = far
        .iter()
        .find(|far| far.device == Some(device(&system, "house-fuse")))
        .expect("behind the fuse of the weaker bank");
    let start = far
        .iter()
        .find(|far| far.device == Some(device(&system, "start-fuse")))
        .expect("behind the fuse of the stronger bank");
    assert!(house.current < start.current);
    assert_eq!(faults.feeds()[house.feed].batteries.len(), 1);
}

#[test]
fn a_string_is_one_source() {
    let mut build = Build::new();
    let low = battery(&mut build, "low", 5.0);
    let high = battery(&mut build, "high", 5.0);
    build.load("motor", Some(10.0));
    build.wire("M", ("low.+", "high.-"), "2 AWG", 0.1);
    build.wire("P", ("high.+", "motor.+"), "2 AWG", 1.0);
    build.wire("N", ("motor.-", "low.-"), "2 AWG", 1.0);
    build.system.banks.push(Bank {
        name: "bow".to_owned(),
        span: crate::source::Span::default(),
        purpose: Purpose::Other("bow".to_owned()),
        strings: vec![vec![low, high]],
        strings_given: true,
        isolated: None,
        mid_taps: Vec::new(),
    });
    let system = build.finish();
    let faults = currents(&system);
    let [far] = faults.far_ends(wire(&system, "P")) else {
        panic!("the string alone drives a current through the whole loop")
    };
    let feed = &faults.feeds()[far.feed];
    assert_eq!(feed.batteries, [low, high]);
    near(feed.voltage.0, 24.0, 1e-9);
    near(feed.resistance.0, 0.010, 1e-9);
    assert!(far.current.0 > 1000.0 && far.current.0 < 2400.0);
    near(at(&faults, end(&system, "P")), 25.2 / 0.010_56, 1e-2);
}

#[test]
fn a_boat_without_batteries_has_no_fault_current() {
    let mut build = Build::new();
    build.source("converter", SourceKind::Converter, Some(10.0));
    build.load("lamp", Some(1.0));
    build.wire("A", ("converter.+", "lamp.+"), "14 AWG", 1.0);
    build.wire("N", ("lamp.-", "converter.-"), "14 AWG", 1.0);
    let system = build.finish();
    let faults = currents(&system);
    assert!(faults.at(end(&system, "A")).is_none());
    assert!(faults.far_ends(wire(&system, "A")).is_empty());
    assert!(faults.feeds().is_empty());
    assert!(!faults.is_bounded());
}
