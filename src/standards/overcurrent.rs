//! Where an overcurrent device stands and how large it may be.

use super::citations::BY_ROW_MEMORY;
use super::table::{Shipped, table};
use super::{Basis, RuleSet};
use crate::units::Metres;
use std::sync::LazyLock;

table!(PLACEMENT, "overcurrent_placement.csv", BY_ROW_MEMORY);
table!(RATING, "overcurrent_rating.csv", BY_ROW_MEMORY);

/// Cases of the placement rules.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PlacementCase {
    /// Any conductor near its source of power.
    NearSource,
    /// Sheathed or enclosed from its source of power on.
    Sheathed,
    /// Output conductor of a storage battery, not the cranking feed.
    Battery,
    /// Output conductor of a charger, alternator or solar controller.
    ChargingSource,
}

/// How far along the conductor a device may stand from the source of power.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlacementLimit {
    /// Greatest length.
    pub max: Metres,
    /// The conductor must be sheathed or enclosed the whole way.
    pub sheath_required: bool,
    /// Where the limit comes from.
    pub basis: Basis,
}

/// The placement limit of a rule set; `None` where it has no rule for the case.
#[must_use]
pub fn placement_limit(rule_set: RuleSet, case: PlacementCase) -> Option<PlacementLimit> {
    PLACEMENTS
        .iter()
        .find(|(set, key, _)| *set == rule_set && *key == case.key())
        .map(|(_, _, limit)| *limit)
}

impl PlacementCase {
    fn key(self) -> &'static str {
        match self {
            Self::NearSource => "near-source",
            Self::Sheathed => "sheathed",
            Self::Battery => "battery",
            Self::ChargingSource => "charging-source",
        }
    }
}

/// Cases of the rating rules.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RatingCase {
    /// Law, nominal voltage below 50 V: percent of the Table 5 value, without corrections.
    LawBelow50V,
    /// Law, nominal voltage of 50 V and more: percent of the Table 5 value.
    LawFrom50V,
    /// Law, alternator or generator output: percent of the machine's rated current at 60 °C.
    LawGenerator,
    /// ABYC E-11: percent of the corrected conductor ampacity.
    AbycConductor,
    /// ISO 13297: percent of the conductor capacity.
    IsoConductor,
    /// 46 CFR, inspected vessels: percent of the conductor capacity.
    Inspected,
    /// ISO 13590, personal watercraft: percent of the value with the engine correction.
    PersonalWatercraft,
}

/// How large a device may be, in percent of what its case names.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RatingLimit {
    /// Greatest rating.
    pub max_percent: f64,
    /// Where no standard rating matches, the next one up is allowed if not above this.
    pub next_size_percent: Option<f64>,
    /// What the percentage is taken of, in words.
    pub percent_of: &'static str,
    /// Where the limit comes from.
    pub basis: Basis,
}

/// The rating limit of a case.
#[must_use]
pub fn rating_limit(case: RatingCase) -> RatingLimit {
    let (set, key) = match case {
        RatingCase::LawBelow50V => (RuleSet::Law, "below-50-v"),
        RatingCase::LawFrom50V => (RuleSet::Law, "from-50-v"),
        RatingCase::LawGenerator => (RuleSet::Law, "generator"),
        RatingCase::AbycConductor => (RuleSet::Abyc, "conductor"),
        RatingCase::IsoConductor => (RuleSet::Iso, "conductor"),
        RatingCase::Inspected => (RuleSet::Inspected, "inspected"),
        RatingCase::PersonalWatercraft => (RuleSet::PersonalWatercraft, "conductor"),
    };
    RATINGS
        .iter()
        .find(|(rule_set, case, _)| *rule_set == set && *case == key)
        .map(|(_, _, limit)| *limit)
        .shipped()
}

static PLACEMENTS: LazyLock<Vec<(RuleSet, &'static str, PlacementLimit)>> = LazyLock::new(|| {
    PLACEMENT
        .rows()
        .iter()
        .filter_map(|row| {
            let limit = PlacementLimit {
                max: row.quantity("max_length")?,
                sheath_required: row.text("sheath") == "yes",
                basis: row.basis(),
            };
            Some((
                RuleSet::of_publication(row.text("publication"))?,
                row.text("case"),
                limit,
            ))
        })
        .collect()
});
static RATINGS: LazyLock<Vec<(RuleSet, &'static str, RatingLimit)>> = LazyLock::new(|| {
    RATING
        .rows()
        .iter()
        .filter_map(|row| {
            let limit = RatingLimit {
                max_percent: row.value("max_percent"),
                next_size_percent: row.number("next_size_percent"),
                percent_of: row.text("words"),
                basis: row.basis(),
            };
            Some((
                RuleSet::of_publication(row.text("publication"))?,
                row.text("case"),
                limit,
            ))
        })
        .collect()
});

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::{Confidence, citations};

    #[test]
    fn the_law_places_devices_within_7_40_and_72_inches() {
        let limit = |set, case| placement_limit(set, case).expect("the rule set has the case");
        let law = |case| limit(RuleSet::Law, case);
        let inches = |limit: PlacementLimit| limit.max / Metres(0.0254);
        let near = |value: f64, whole: f64| (value - whole).abs() < 1e-9;
        assert!(near(inches(law(PlacementCase::NearSource)), 7.0));
        assert!(near(inches(law(PlacementCase::Sheathed)), 40.0));
        assert!(near(inches(law(PlacementCase::Battery)), 72.0));
        assert!(law(PlacementCase::Sheathed).sheath_required);
        assert!(!law(PlacementCase::Battery).sheath_required);
        assert!(limit(RuleSet::Abyc, PlacementCase::Battery).sheath_required);
        assert_eq!(
            placement_limit(RuleSet::Law, PlacementCase::ChargingSource),
            None
        );
        assert_eq!(
            law(PlacementCase::NearSource).basis,
            citations::LAW_PLACEMENT_NEAR
        );
        assert_eq!(
            law(PlacementCase::Sheathed).basis,
            citations::LAW_PLACEMENT_SHEATHED
        );
        assert_eq!(
            law(PlacementCase::Battery).basis,
            citations::LAW_BATTERY_OUTPUT
        );
        let abyc = |case| limit(RuleSet::Abyc, case).basis;
        assert_eq!(
            abyc(PlacementCase::NearSource),
            citations::ABYC_PLACEMENT_NEAR
        );
        assert_eq!(
            abyc(PlacementCase::Sheathed),
            citations::ABYC_PLACEMENT_SHEATHED
        );
        assert_eq!(
            abyc(PlacementCase::Battery),
            citations::ABYC_PLACEMENT_BATTERY
        );
        let iso = limit(RuleSet::Iso, PlacementCase::NearSource);
        assert_eq!(
            (iso.max, iso.basis.confidence),
            (Metres(0.2), Confidence::Memory)
        );
        let charging = limit(RuleSet::Iso, PlacementCase::ChargingSource);
        assert_eq!(charging.basis, citations::ISO_CHARGING_SOURCE);
    }

    #[test]
    fn rating_limits() {
        let shares = |case| {
            let limit = rating_limit(case);
            (limit.max_percent, limit.next_size_percent)
        };
        assert_eq!(shares(RatingCase::LawBelow50V), (150.0, None));
        assert_eq!(shares(RatingCase::LawFrom50V), (100.0, Some(150.0)));
        assert_eq!(shares(RatingCase::LawGenerator), (120.0, None));
        assert_eq!(shares(RatingCase::AbycConductor), (100.0, Some(150.0)));
        assert_eq!(shares(RatingCase::IsoConductor), (100.0, None));
        assert_eq!(shares(RatingCase::Inspected), (100.0, Some(150.0)));
        assert_eq!(shares(RatingCase::PersonalWatercraft), (150.0, None));
        assert_eq!(
            rating_limit(RatingCase::LawBelow50V).basis,
            citations::LAW_RATING_BELOW_50_V
        );
        assert_eq!(
            rating_limit(RatingCase::LawFrom50V).basis,
            citations::LAW_RATING_FROM_50_V
        );
        assert_eq!(
            rating_limit(RatingCase::LawGenerator).basis,
            citations::LAW_GENERATOR_OUTPUT
        );
        assert_eq!(
            rating_limit(RatingCase::AbycConductor).basis,
            citations::ABYC_RATING
        );
        assert_eq!(
            rating_limit(RatingCase::Inspected).basis,
            citations::INSPECTED_RATING
        );
    }
}
