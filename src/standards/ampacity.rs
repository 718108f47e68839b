//! Allowable amperage of a conductor and the factors that reduce it.
//!
//! Which current is compared, and which factors apply to a run, is decided in `analysis`.

use super::citations::{
    AMBIENT_CORRECTION, LAW_AMPACITY, LAW_BUNDLING, LAW_ENGINE_SPACE, METRIC_AMPACITY,
};
use super::table::{Row, table};
use super::{Basis, constants};
use crate::units::{Amps, Celsius, Gauge};
use std::sync::LazyLock;

table!(AMPACITY_US, "ampacity_us.csv", LAW_AMPACITY);
table!(AMPACITY_METRIC, "ampacity_metric.csv", METRIC_AMPACITY);
table!(ENGINE_SPACE, "engine_space_factors.csv", LAW_ENGINE_SPACE);
table!(BUNDLING, "bundling_factors.csv", LAW_BUNDLING);

/// Table ampacity of one conductor outside engine spaces, 30 °C ambient.
///
/// AWG sizes come from the law, metric sizes from the law stepped down. A size between two rows
/// takes the thinner, a rating between two columns the cooler, and a size above the last row that
/// row. `None` for sizes thinner than the first row and ratings below 60 °C: the tables give nothing.
#[must_use]
pub fn ampacity(gauge: Gauge, insulation: Celsius) -> Option<(Amps, Basis)> {
    let (table, basis) = match gauge {
        Gauge::Awg(_) => (&*US, AMPACITY_US.basis),
        Gauge::Metric(_) => (&*METRIC, AMPACITY_METRIC.basis),
    };
    table.at(gauge, insulation).map(|current| (current, basis))
}

/// Factor for a conductor with any part in an engine space.
///
/// A rating between two rows takes the cooler; `None` below 60 °C.
#[must_use]
pub fn engine_space_factor(insulation: Celsius) -> Option<(f64, Basis)> {
    ENGINE_FACTORS
        .iter()
        .rev()
        .find(|&&(rating, _)| rating <= insulation)
        .map(|&(_, factor)| (factor, ENGINE_SPACE.basis))
}

/// Factor for a conductor among `count` current-carrying conductors that lie together, itself counted.
///
/// The law binds it from 50 V on; below, the caller adds `citations::BUNDLING_POLICY`.
#[must_use]
pub fn bundling_factor(count: usize) -> (f64, Basis) {
    let factor = BUNDLING_FACTORS
        .iter()
        .rev()
        .find(|&&(least, _)| least <= count)
        .map_or(1.0, |&(_, factor)| factor);
    (factor, BUNDLING.basis)
}

/// Factor for an ambient above the 30 °C of the table: √((Ti − Ta) / (Ti − 30)).
///
/// Ti is the insulation rating and Ta the ambient. It is 0 where the ambient reaches the rating,
/// and 1 in cooler air: the table is not raised. `None` for ratings that are not above 30 °C.
#[must_use]
pub fn ambient_factor(insulation: Celsius, ambient: Celsius) -> Option<(f64, Basis)> {
    let (reference, _) = constants::table_ambient();
    if insulation <= reference {
        return None;
    }
    let share = (insulation - ambient) / (insulation - reference);
    Some((share.clamp(0.0, 1.0).sqrt(), AMBIENT_CORRECTION))
}

static US: LazyLock<Ampacities> =
    LazyLock::new(|| Ampacities::read(&AMPACITY_US.rows(), |row| row.awg("awg")));
static METRIC: LazyLock<Ampacities> = LazyLock::new(|| {
    Ampacities::read(&AMPACITY_METRIC.rows(), |row| {
        Gauge::Metric(row.value("area_mm2"))
    })
});
static ENGINE_FACTORS: LazyLock<Vec<(Celsius, f64)>> = LazyLock::new(|| {
    let factor = |row: &Row| (Celsius(row.value("insulation_c")), row.value("factor"));
    ENGINE_SPACE.rows().iter().map(factor).collect()
});
static BUNDLING_FACTORS: LazyLock<Vec<(usize, f64)>> = LazyLock::new(|| {
    BUNDLING
        .rows()
        .iter()
        .filter_map(|row| {
            Some((
                row.text("min_conductors").parse().ok()?,
                row.value("factor"),
            ))
        })
        .collect()
});

/// An ampacity table: sizes down, thinnest first, insulation ratings across, coolest first.
struct Ampacities {
    ratings: Vec<Celsius>,
    rows: Vec<(Gauge, Vec<Amps>)>,
}

impl Ampacities {
    fn read(rows: &[Row], gauge: fn(&Row) -> Gauge) -> Self {
        let columns = |row: &Row| row.numbered("a_", "c");
        Self {
            ratings: rows
                .first()
                .map(|row| {
                    columns(row)
                        .iter()
                        .map(|&(rating, _)| Celsius(rating))
                        .collect()
                })
                .unwrap_or_default(),
            rows: rows
                .iter()
                .map(|row| {
                    let currents = columns(row)
                        .iter()
                        .filter_map(|&(_, a)| a.map(Amps))
                        .collect();
                    (gauge(row), currents)
                })
                .collect(),
        }
    }

    fn at(&self, gauge: Gauge, insulation: Celsius) -> Option<Amps> {
        let column = self
            .ratings
            .iter()
            .rposition(|&rating| rating <= insulation)?;
        let row = self
            .rows
            .iter()
            .rposition(|(size, _)| size.by_area(&gauge).is_le())?;
        self.rows[row].1.get(column).copied()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::{Practice, sold_sizes};

    fn amps(gauge: Gauge, insulation: f64) -> Option<f64> {
        ampacity(gauge, Celsius(insulation)).map(|(current, _)| current.0)
    }

    #[test]
    fn between_rows_and_columns_the_lower_holds() {
        assert_eq!(amps(Gauge::Awg(14), 105.0), Some(35.0));
        assert_eq!(amps(Gauge::Awg(14), 124.9), Some(35.0));
        assert_eq!(amps(Gauge::Awg(14), 250.0), Some(45.0));
        assert_eq!(amps(Gauge::Awg(14), 59.9), None);
        // 5 AWG is not in the table and takes the row of 6 AWG.
        assert_eq!(amps(Gauge::Awg(5), 105.0), Some(120.0));
        assert_eq!(amps(Gauge::Awg(20), 105.0), None);
        assert_eq!(amps(Gauge::Metric(0.75), 105.0), None);
        assert_eq!(amps(Gauge::Metric(2.5), 105.0), Some(35.0));
        assert_eq!(amps(Gauge::Metric(3.0), 105.0), Some(35.0));
        assert_eq!(amps(Gauge::Metric(240.0), 105.0), Some(445.0));
    }

    #[test]
    fn ampacity_rises_with_area_and_with_the_rating() {
        for practice in [Practice::Us, Practice::Metric] {
            for rating in [60.0, 75.0, 80.0, 90.0, 105.0, 125.0, 200.0] {
                let currents: Vec<f64> = sold_sizes(practice)
                    .iter()
                    .filter_map(|&size| amps(size, rating))
                    .collect();
                assert!(currents.len() > 10);
                assert!(currents.is_sorted(), "{practice:?} {rating}: {currents:?}");
            }
        }
        for table in [&US, &METRIC] {
            for (gauge, currents) in &table.rows {
                assert_eq!(currents.len(), 7, "{gauge}");
                assert!(currents.is_sorted(), "{gauge}");
            }
        }
    }

    #[test]
    fn factors_are_at_most_one_and_fall_the_right_way() {
        let factors: Vec<f64> = (0..40).map(|count| bundling_factor(count).0).collect();
        assert!(factors.iter().all(|factor| (0.0..=1.0).contains(factor)));
        assert!(factors.is_sorted_by(|a, b| a >= b));
        assert_eq!(factors[2..8], [1.0, 0.7, 0.6, 0.6, 0.6, 0.5]);
        assert_eq!((factors[24], factors[25]), (0.5, 0.4));
        assert!(ENGINE_FACTORS.iter().all(|&(_, factor)| factor <= 1.0));
        assert!(ENGINE_FACTORS.is_sorted_by(|a, b| a.0 < b.0 && a.1 <= b.1));
        assert_eq!(engine_space_factor(Celsius(105.0)).map(|f| f.0), Some(0.85));
        assert_eq!(engine_space_factor(Celsius(110.0)).map(|f| f.0), Some(0.85));
        assert_eq!(engine_space_factor(Celsius(50.0)), None);
    }

    #[test]
    fn ambient_factor_stays_in_its_range() {
        let factor = |rating, ambient| {
            ambient_factor(Celsius(rating), Celsius(ambient)).map(|(factor, _)| factor)
        };
        assert_eq!(factor(105.0, 30.0), Some(1.0));
        assert_eq!(factor(105.0, 10.0), Some(1.0));
        assert_eq!(factor(60.0, 60.0), Some(0.0));
        assert_eq!(factor(60.0, 90.0), Some(0.0));
        assert_eq!(factor(30.0, 20.0), None);
    }
}
