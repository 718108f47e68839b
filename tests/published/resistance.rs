//! Resistance of conductors against handbook tables.

use crate::oracle::{Oracle, assert_near};
use loomwright::standards::{at_temperature, least_resistance, physical_resistance};
use loomwright::units::{Celsius, CrossSection, Gauge, OhmsPerMetre};

const COOL: Celsius = Celsius(20.0);
/// 1000 ft in metres.
const KILOFOOT: f64 = 304.8;

/// Public AWG table: 10, 1/0 and 4/0 AWG. Four printed digits, so 0.0005 of the figure or less.
#[test]
fn solid_copper_by_gauge() {
    let oracle = Oracle::read(include_str!("data/awg_public.csv"));
    for row in 0..oracle.len() {
        let gauge: Gauge = format!("{} AWG", oracle.text(row, "awg"))
            .parse()
            .expect("a gauge");
        let ours = least_resistance(gauge, COOL).0.0;
        let (feet, metres) = (
            oracle.value(row, "ohm_per_kft"),
            oracle.value(row, "mohm_per_m"),
        );
        assert_near(ours * KILOFOOT, feet, feet * 0.000_2, gauge);
        assert_near(ours * 1000.0, metres, metres * 0.000_2, gauge);
        let area = oracle.value(row, "area_mm2");
        assert_near(gauge.area().0, area, area * 0.000_5, gauge);
        let diameter = gauge.area().circular_mils().sqrt() / 1000.0;
        assert_near(diameter, oracle.value(row, "diameter_in"), 0.000_051, gauge);
    }
}

/// A US Army engineer course gives 0.12617 ohm per 1000 ft for stranded 1 AWG at 20 °C: 1.8 % above
/// solid copper, the lay of the strands. Half a tenth of a percent covers its five digits.
#[test]
fn stranded_one_gauge() {
    let solid = least_resistance(Gauge::Awg(1), COOL).0.0 * KILOFOOT;
    assert_near(0.126_17 / solid, 1.018, 0.000_5, "lay of 1 AWG");
}

/// US Navy training series, module 4, from memory: 1000 ft of 10 400 cmil copper are 0.997 ohm.
/// Three digits.
#[test]
fn one_thousand_feet_of_10_400_circular_mils() {
    let gauge = Gauge::Metric(CrossSection::from_circular_mils(10_400.0).0);
    assert_near(
        least_resistance(gauge, COOL).0.0 * KILOFOOT,
        0.997,
        0.000_5,
        "10 400 cmil",
    );
}

/// NFPA 70 chapter 9 table 8, stranded uncoated copper at 75 °C, 15 sizes: within 0.5 % of solid
/// copper at that temperature with strands 2.1 % longer, the lay that fits the table best.
#[test]
fn stranded_copper_at_75_degrees() {
    let oracle = Oracle::read(include_str!("data/stranded_75c.csv"));
    assert_eq!(oracle.len(), 15);
    for row in 0..oracle.len() {
        let gauge: Gauge = format!("{} AWG", oracle.text(row, "awg"))
            .parse()
            .expect("a gauge");
        let ours = least_resistance(gauge, Celsius(75.0)).0.0 * KILOFOOT * 1.021;
        let published = oracle.value(row, "ohm_per_kft");
        assert_near(ours, published, published * 0.005, gauge);
    }
}

/// FAA AC 43.13-1B 11-66: L2 = 254.5·L1/(234.5 + T2), at 75 °C 0.8223·L1. Four digits.
#[test]
fn length_that_keeps_the_resistance_at_75_degrees() {
    let hot = at_temperature(OhmsPerMetre(1.0), Celsius(75.0)).0;
    assert_near(1.0 / hot, 0.8223, 0.000_05, "75 °C");
}

/// IEC 60228 class 5, tinned: all 16 sizes against a second typing. Exact but for binary rounding.
#[test]
fn class_5_conductors() {
    let oracle = Oracle::read(include_str!("data/iec_60228.csv"));
    assert_eq!(oracle.len(), 16);
    for row in 0..oracle.len() {
        let gauge = Gauge::Metric(oracle.value(row, "area_mm2"));
        let ours = physical_resistance(gauge, COOL).0.0 * 1000.0;
        assert_near(ours, oracle.value(row, "tinned"), 1e-9, gauge);
    }
}

/// The class 5 limits imply 0.0180 to 0.0205 ohm·mm²/m on the nominal area, always above ideal copper;
/// tinned cable may be 12 to 19 % above it. Computed from the table, the last digit of the bounds rounded.
#[test]
fn the_limits_leave_room_above_ideal_copper() {
    let oracle = Oracle::read(include_str!("data/iec_60228.csv"));
    for row in 0..oracle.len() {
        let gauge = Gauge::Metric(oracle.value(row, "area_mm2"));
        let plain = oracle.value(row, "plain") * gauge.area().0 / 1000.0;
        assert!((0.0180..0.0205).contains(&plain), "{gauge}: {plain}");
        let ratio = physical_resistance(gauge, COOL).0 / least_resistance(gauge, COOL).0;
        assert!((1.115..1.195).contains(&ratio), "{gauge}: {ratio}");
    }
}
