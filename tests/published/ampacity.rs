//! Allowable amperage: 33 CFR 183.425 and 183.435, and tables derived from them.

use crate::oracle::{Oracle, assert_near};
use loomwright::standards::{
    RatingCase, ambient_factor, ampacity, breaker_ratings, bundling_factor, engine_space_factor,
    least_resistance, rating_limit, rating_within,
};
use loomwright::units::{Amps, Celsius, Gauge};

fn table_5(gauge: Gauge, rating: f64) -> f64 {
    let (current, basis) = ampacity(gauge, Celsius(rating)).expect("the law tabulates it");
    assert_eq!(basis.publication, "33 CFR");
    current.0
}

fn gauge(text: &str) -> Gauge {
    format!("{text} AWG").parse().expect(text)
}

/// 33 CFR 183.425 Table 5, all 15 × 7 figures, against a second typing by column. Exact: whole amperes.
#[test]
fn table_5_of_the_law() {
    let law = Oracle::read(include_str!("data/law_table_5.csv"));
    let mut cells = 0;
    for row in 0..law.len() {
        let rating = law.value(row, "rating_c");
        for column in &law.columns()[1..] {
            let ours = table_5(gauge(column), rating);
            assert_near(ours, law.value(row, column), 0.0, (column, rating));
            cells += 1;
        }
    }
    assert_eq!(cells, 105);
}

/// 33 CFR 183.425 Table 5 notes 1 and 2, against a second typing. Exact: two decimals.
#[test]
fn correction_tables_of_the_law() {
    let note_1 = Oracle::read(include_str!("data/law_note_1.csv"));
    assert_eq!(note_1.len(), 7);
    for row in 0..note_1.len() {
        let rating = note_1.value(row, "rating_c");
        let (factor, basis) = engine_space_factor(Celsius(rating)).expect("tabulated");
        assert_near(factor, note_1.value(row, "factor"), 0.0, rating);
        assert!(basis.clause.contains("note 1"));
    }
    let note_2 = Oracle::read(include_str!("data/law_note_2.csv"));
    for row in 0..note_2.len() {
        let count: usize = note_2.text(row, "conductors").parse().expect("a count");
        let (factor, basis) = bundling_factor(count);
        assert_near(factor, note_2.value(row, "factor"), 0.0, count);
        assert!(basis.clause.contains("note 2"));
    }
}

/// Public derating tables at 105 °C: 15 sizes, free and in three bundle classes, outside and inside
/// engine spaces. The oracle holds exact products, so 1e-9 A only allows for binary rounding.
#[test]
fn derated_at_105_degrees() {
    let oracle = Oracle::read(include_str!("data/derated_105c.csv"));
    let bundles = [("free", 1), ("b3", 3), ("b4", 5), ("b7", 12)];
    let (engine, _) = engine_space_factor(Celsius(105.0)).expect("tabulated");
    assert_eq!(oracle.len(), 15);
    for row in 0..oracle.len() {
        let size = gauge(oracle.text(row, "awg"));
        let base = table_5(size, 105.0);
        for (name, count) in bundles {
            let outside = base * bundling_factor(count).0;
            assert_near(
                outside,
                oracle.value(row, &format!("{name}_out")),
                1e-9,
                (size, name),
            );
            let inside = outside * engine;
            assert_near(
                inside,
                oracle.value(row, &format!("{name}_engine")),
                1e-9,
                (size, name),
            );
        }
    }
}

/// The same tables as printed, to 0.1 A with halves rounded up; half of that step is the tolerance.
///
/// One figure is a misprint: 10 AWG, three bundled, engine space is printed `.5.7` for 35.7.
#[test]
fn derated_as_printed() {
    let sizes = [
        "18", "16", "14", "12", "10", "8", "6", "4", "2", "1", "1/0", "2/0", "3/0", "4/0",
    ];
    let printed = [
        17.0, 21.3, 29.8, 38.3, 51.0, 68.0, 102.0, 136.0, 178.5, 208.3, 242.3, 280.5, 327.3, 378.3,
    ];
    let (engine, _) = engine_space_factor(Celsius(105.0)).expect("tabulated");
    for (size, printed) in sizes.into_iter().zip(printed) {
        assert_near(table_5(gauge(size), 105.0) * engine, printed, 0.0501, size);
    }
    for (size, count, printed) in [
        ("16", 3, 14.9),
        ("2/0", 3, 196.4),
        ("4/0", 10, 189.1),
        ("10", 3, 35.7),
    ] {
        let ours = table_5(gauge(size), 105.0) * engine * bundling_factor(count).0;
        assert_near(ours, printed, 0.0501, size);
    }
}

/// Worked from the law: 12 AWG at 90 °C in an engine space, 40 A × 0.82 = 32.8 A. Exact.
#[test]
fn twelve_gauge_in_an_engine_space() {
    let (factor, _) = engine_space_factor(Celsius(90.0)).expect("tabulated");
    assert_near(
        table_5(Gauge::Awg(12), 90.0) * factor,
        32.8,
        1e-9,
        "12 AWG, 90 °C",
    );
}

/// Worked from 33 CFR 183.455(c)(1) and 183.460(b): 150 % of 35 A is 52.5 A, so a 50 A device; an
/// alternator of 100 A takes at most 120 A. Exact.
#[test]
fn largest_devices_of_the_law() {
    let limit = rating_limit(RatingCase::LawBelow50V);
    let most = Amps(table_5(Gauge::Awg(14), 105.0)) * (limit.max_percent / 100.0);
    assert_near(most.0, 52.5, 1e-9, "14 AWG, 105 °C");
    assert_eq!(rating_within(breaker_ratings().0, most), Some(Amps(50.0)));
    let generator = rating_limit(RatingCase::LawGenerator);
    assert_near(
        100.0 * generator.max_percent / 100.0,
        120.0,
        1e-9,
        "alternator",
    );
}

/// NFPA 70 310.15 ambient equation as remembered: 45 cells printed to three decimals, so half of the
/// last place is the tolerance.
#[test]
fn ambient_factors() {
    let oracle = Oracle::read(include_str!("data/ambient_factors.csv"));
    assert_eq!(oracle.len(), 9);
    for row in 0..oracle.len() {
        let rating = oracle.value(row, "rating_c");
        for column in &oracle.columns()[1..] {
            let ambient: f64 = column.parse().expect("an ambient");
            let (factor, _) =
                ambient_factor(Celsius(rating), Celsius(ambient)).expect("above 30 °C");
            assert_near(
                factor,
                oracle.value(row, column),
                0.000_51,
                (rating, ambient),
            );
        }
    }
}

/// NFPA 70 prints 0.58, 0.75, 0.82 for 46 to 50 °C at 60, 75, 90 °C (public reproduction); two decimals.
#[test]
fn ambient_factors_as_printed() {
    for (rating, printed) in [(60.0, 0.58), (75.0, 0.75), (90.0, 0.82)] {
        let (factor, _) = ambient_factor(Celsius(rating), Celsius(50.0)).expect("above 30 °C");
        assert_near(factor, printed, 0.0051, rating);
    }
}

/// The metric table gives each size the row of the largest AWG size whose stranded resistance is not
/// below the IEC 60228 class 5 plain maximum, worked again here from those two figures.
///
/// Strands lie 2 % longer than the conductor (NFPA 70 chapter 9 table 8 implies 1.8 to 2.5 %).
#[test]
fn metric_sizes_are_stepped_down_by_resistance() {
    let iec = Oracle::read(include_str!("data/iec_60228.csv"));
    let law = [18, 16, 14, 12, 10, 8, 6, 4, 3, 2, 1, 0, -1, -2, -3].map(Gauge::Awg);
    for row in 0..iec.len() {
        let area = iec.value(row, "area_mm2");
        let most = iec.value(row, "plain");
        let credited = law
            .iter()
            .rev()
            .find(|&&size| least_resistance(size, Celsius(20.0)).0.0 * 1000.0 * 1.02 >= most);
        for rating in [60.0, 75.0, 80.0, 90.0, 105.0, 125.0, 200.0] {
            let ours = ampacity(Gauge::Metric(area), Celsius(rating)).map(|(current, _)| current);
            let expected = credited.map(|&size| Amps(table_5(size, rating)));
            assert_eq!(ours, expected, "{area} mm², {rating} °C");
        }
    }
}
