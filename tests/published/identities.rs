//! Identities that follow from definitions, worked out by hand.

use crate::oracle::assert_near;
use loomwright::standards::{
    PlacementCase, RuleSet, ambient_factor, engine_space_factor, least_resistance, placement_limit,
};
use loomwright::units::{Celsius, CrossSection, Gauge, Metres, parse_quantity};

/// ASTM B258: 39 steps from 0.005 in to 0.46 in. Three steps are 92^(6/39) = 2.0050 in area, six steps
/// the same in diameter. Four decimals.
#[test]
fn gauge_steps() {
    let area = |number| Gauge::Awg(number).area().0;
    assert_near(area(11) / area(14), 2.0050, 0.000_05, "three sizes");
    assert_near((area(8) / area(14)).sqrt(), 2.0050, 0.000_05, "six sizes");
    let largest = Gauge::Awg(-3).area().circular_mils();
    assert_near(largest, 211_600.0, 0.5, "4/0 AWG is 0.46 in");
}

/// 10.371 ohm·cmil/ft is 0.017241 ohm·mm²/m: 5.0671e-4 mm² to the circular mil, 0.3048 m to the foot.
/// Five digits.
#[test]
fn resistivity_of_copper_in_two_units() {
    assert_near(
        CrossSection::from_circular_mils(1.0).0,
        5.0671e-4,
        5e-9,
        "circular mil",
    );
    let one = Gauge::Metric(CrossSection::from_circular_mils(1000.0).0);
    let per_foot = least_resistance(one, Celsius(20.0)).0.0 * 1000.0 * 0.3048;
    assert_near(per_foot, 10.371, 0.000_5, "ohm·cmil/ft");
}

/// Note 1 of the law against heating theory, √((Ti − 50)/(Ti − 30)): the law's two decimals follow it
/// but for 0.85 at 105 °C (0.856, on the safe side) and 1.00 at 200 °C (0.939, on the other).
#[test]
fn engine_space_factors_against_theory() {
    let theory = [0.577, 0.745, 0.775, 0.816, 0.856, 0.889, 0.939];
    let ratings = [60.0, 75.0, 80.0, 90.0, 105.0, 125.0, 200.0];
    for (rating, expected) in ratings.into_iter().zip(theory) {
        let rating = Celsius(rating);
        let (root, _) = ambient_factor(rating, Celsius(50.0)).expect("above 30 °C");
        assert_near(root, expected, 0.000_51, rating);
        let (law, _) = engine_space_factor(rating).expect("tabulated");
        let exception = rating == Celsius(105.0) || rating == Celsius(200.0);
        assert_eq!(
            (law - root).abs() > 0.0055,
            exception,
            "{rating:?}: {law} {root}"
        );
    }
}

/// 7, 40 and 72 in are 177.8, 1016 and 1828.8 mm. Exact by the definition of the inch.
#[test]
fn inches_of_the_placement_rules() {
    for (case, inches, millimetres) in [
        (PlacementCase::NearSource, "7 in", 177.8),
        (PlacementCase::Sheathed, "40 in", 1016.0),
        (PlacementCase::Battery, "72 in", 1828.8),
    ] {
        let limit = placement_limit(RuleSet::Law, case).expect("the law has the case");
        assert_near(limit.max.0 * 1000.0, millimetres, 1e-9, case);
        assert_eq!(parse_quantity::<Metres>(inches), Ok(limit.max));
    }
}
