//! How large a device a conductor allows.

use crate::analysis::ampacity::Ampacity;
use crate::standards::{self, Basis, FuseForm, RatingCase, citations, constants};
use crate::system::OvercurrentLimit;
use crate::units::{Amps, Volts};

/// A limit with its authority.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// Largest rating.
    pub current: Amps,
    /// Per cent of the value it is taken from.
    pub percent: f64,
    /// What it is taken from.
    pub of: Amps,
    /// Authority.
    pub basis: Basis,
}

/// What a conductor allows, by both policies.
#[derive(Clone, Debug, PartialEq)]
pub struct Allowed {
    /// By the policy of the boat.
    pub judged: Limit,
    /// The law's limit: 150 % of the table below 50 V, 100 % from there on.
    pub lawful: Limit,
    /// 100 % of the derated ampacity.
    pub strict: Limit,
    /// The ampacity both are taken from.
    pub ampacity: Ampacity,
    /// The nominal voltage it was judged at.
    pub volts: Volts,
}

impl Allowed {
    /// 150 % of the derated ampacity, the law's limit with the corrections that the law leaves out.
    #[must_use]
    pub fn lawful_derated(&self) -> Amps {
        self.ampacity.derated * (self.lawful.percent / 100.0)
    }
}

/// What a conductor of some ampacity allows at a nominal voltage.
#[must_use]
pub fn allowed(ampacity: &Ampacity, policy: OvercurrentLimit, volts: Volts) -> Allowed {
    let lawful = lawful(ampacity, volts);
    let strict = Limit {
        current: ampacity.derated,
        percent: 100.0,
        of: ampacity.derated,
        basis: citations::ABYC_RATING,
    };
    Allowed {
        judged: match policy {
            OvercurrentLimit::Lawful => lawful,
            OvercurrentLimit::Strict => strict,
        },
        lawful,
        strict,
        ampacity: ampacity.clone(),
        volts,
    }
}

/// 33 CFR 183.455(c): below 50 V a share of the table; from 50 V on the table, or the next standard rating up.
fn lawful(ampacity: &Ampacity, volts: Volts) -> Limit {
    let (threshold, _) = constants::low_voltage_limit();
    let case = if volts < threshold {
        RatingCase::LawBelow50V
    } else {
        RatingCase::LawFrom50V
    };
    let rule = standards::rating_limit(case);
    let share = |percent: f64| ampacity.table * (percent / 100.0);
    let plain = share(rule.max_percent);
    let next = rule.next_size_percent.and_then(|percent| {
        // Class T follows the standard ampere ratings that the law means.
        let (standard, _) = standards::fuse_ratings(FuseForm::ClassT);
        standards::rating_from(standard, plain).filter(|&next| next <= share(percent))
    });
    let current = next.unwrap_or(plain);
    Limit {
        current,
        percent: current / ampacity.table * 100.0,
        of: ampacity.table,
        basis: rule.basis,
    }
}
