//! Margins worked out by hand.

use super::*;

fn boat(text: &str) -> System {
    crate::draft(text.as_bytes()).boat.expect("a netlist")
}

const HEATER: &str = "
loomwright: 1
boat: {name: Heater, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, zone: cabin}
fuses:
  fuse: {rating: 20 A, form: blade regular, zone: cabin}
switches:
  switch: {rating: 18 A, zone: cabin}
loads:
  heater: {draw: 10 A, kind: heater, drop: 10 %, zone: cabin}
  lamp: {draw: 2 A, kind: lamp, drop: 3 %, zone: cabin}
buses:
  far: {polarity: positive, studs: 4, rating: 60 A, zone: cabin}
  back: {polarity: negative, studs: 4, rating: 60 A, zone: cabin}
runs:
  W1: {from: house.+, to: fuse.in, gauge: 10 AWG, insulation: 105 °C, length: 1 ft}
  W2: {from: fuse.out, to: far, gauge: 10 AWG, insulation: 105 °C, length: 9 ft}
  W3: {from: far, to: switch.in, gauge: 10 AWG, insulation: 105 °C, length: 2 ft}
  W4: {from: switch.out, to: heater.+, gauge: 10 AWG, insulation: 105 °C, length: 3 ft}
  W5: {from: far, to: lamp.+, gauge: 16 AWG, insulation: 105 °C, length: 5 ft}
  N1: {from: heater.-, to: back, gauge: 10 AWG, insulation: 105 °C, length: 5 ft}
  N2: {from: lamp.-, to: back, gauge: 16 AWG, insulation: 105 °C, length: 5 ft}
  N3: {from: back, to: house.-, gauge: 10 AWG, insulation: 105 °C, length: 10 ft}
";

fn near(got: f64, wanted: f64) {
    assert!((got - wanted).abs() < 1e-9, "{got} against {wanted}");
}

#[test]
fn a_fuse_with_two_loads_behind_it() {
    let system = boat(HEATER);
    let facts = Facts::new(&system);
    let margins = Margins::new(&facts);
    assert!(!margins.partial);
    // The bus, then the fuse, with the same loads and the same point behind them.
    let [bus, fuse] = margins.subjects.as_slice() else {
        panic!("{:?}", margins.subjects)
    };
    assert!(matches!(bus.subject, Subject::Feeder(_)));
    assert_eq!(bus.loads.len(), 2);
    assert_eq!(bus.at, fuse.at);
    // Computed, tables of areas differ in the third digit: 10 AWG has 10380 cmil, so 10 ft out and 10 ft back at 10.75 Ω·cmil/ft have 20.713 mΩ. Through them the
    // lamp loses 12 A · 20.713 mΩ, and in its own 10 ft of 16 AWG (2583 cmil) 2 A · 41.62 mΩ: 0.3318 V of the 0.36 V
    // that 3 % of 12 V are. Left: 0.0282 V over 20.713 mΩ.
    let feeder = 10.75 * 20.0 / 10380.0;
    let lamp = 12.0 * feeder + 2.0 * 10.75 * 10.0 / 2583.0;
    let first = fuse.first.as_ref().expect("limits are known");
    let more = (0.36 - lamp) / feeder;
    assert!(
        (first.more.0 - more).abs() < 5e-3 * more,
        "{first:?} against {more}"
    );
    assert_eq!(first.limit.kind(), "drop");
    // Behind it the fuse: 20 A less the 12 A that flow.
    let next = fuse.next.as_ref().expect("there are more");
    near(next.more.0, 8.0);
    assert_eq!(next.limit.kind(), "device");
    // One bad joint in the feeder, which carries all of it: 12 A · 0.1 Ω more, and nothing left.
    let joint = fuse.shared_joint.expect("a load is judged");
    near(joint.with_joint - joint.percent, 12.0 * 0.1 / 12.0 * 100.0);
    near(joint.more.0, 0.0);
    // In the lamp's own wires it is 2 A · 0.1 Ω.
    let own = fuse.joint.expect("it has wires of its own");
    near(own.with_joint - own.percent, 2.0 * 0.1 / 12.0 * 100.0);
    assert_eq!(fuse.hotter.len(), HOTTER.len());
}

#[test]
fn shares_of_a_loop_are_solved_for() {
    // Two returns side by side, one four times as long: the short one takes four fifths of what is drawn more.
    let text = HEATER
        .replace(
            "  N3: {from: back, to: house.-, gauge: 10 AWG, insulation: 105 °C, length: 10 ft}\n",
            "  N3: {from: back, to: house.-, gauge: 16 AWG, insulation: 105 °C, length: 2 ft}\n  \
             N4: {from: back, to: house.-, gauge: 16 AWG, insulation: 105 °C, length: 8 ft}\n",
        )
        .replace("drop: 3 %", "drop: 90 %")
        .replace("drop: 10 %", "drop: 90 %")
        .replace("rating: 20 A", "rating: 200 A")
        .replace("rating: 60 A", "rating: 200 A");
    let system = boat(&text);
    let facts = Facts::new(&system);
    let margins = Margins::new(&facts);
    let bus = &margins.subjects[0];
    let first = bus.first.as_ref().expect("limits are known");
    let Limit::Ampacity(id) = first.limit else {
        panic!("{first:?}")
    };
    assert_eq!(system.conductors[id.index()].number, "N3");
    let allowed = facts
        .ampacities
        .allowed(&system, id)
        .expect("listed")
        .derated
        .0;
    near(first.more.0, (allowed - 12.0 * 0.8) / 0.8);
}
