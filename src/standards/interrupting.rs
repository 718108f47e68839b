//! Interrupting capacity asked of battery devices by the size of the bank.
//!
//! These are the rules of a published table; the prospective current at a device is computed in
//! `analysis` and compared as well.

use super::Basis;
use super::citations::{ABYC_INTERRUPTING, ABYC_INTERRUPTING_BANKS};
use super::table::{Shipped, table};
use crate::units::{AmpHours, Amps, Volts};
use std::sync::LazyLock;

table!(BY_CRANKING, "interrupting_cca.csv", ABYC_INTERRUPTING);
table!(BANKS, "interrupting_banks.csv", ABYC_INTERRUPTING_BANKS);

/// Where a breaker stands in the series from the battery.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BreakerPosition {
    /// The first one in series with the battery.
    Main,
    /// Any later one.
    Branch,
}

/// Least interrupting capacity of a breaker by the cranking current of all batteries joined.
///
/// `None` for nominal voltages that the table does not list; it lists 12 to 24 V and 32 V.
#[must_use]
pub fn breaker_interrupting(
    nominal: Volts,
    cranking: Amps,
    position: BreakerPosition,
) -> Option<(Amps, Basis)> {
    CRANKING
        .iter()
        .find(|row| {
            (row.least..=row.most).contains(&nominal)
                && row.max_cranking.is_none_or(|most| cranking <= most)
        })
        .map(|row| match position {
            BreakerPosition::Main => (row.main, row.basis),
            BreakerPosition::Branch => (row.branch, row.basis),
        })
}

/// What later editions ask of the main device of a bank.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum BankInterrupting {
    /// The bank is small enough for the table by cranking current.
    ByTable,
    /// At least this interrupting rating, at this voltage where one is named.
    AtLeast(Amps, Option<Volts>),
    /// The bank is larger, or not known to be smaller, and its short-circuit current is not given.
    NotGiven,
}

/// What later editions ask of the main device, by the size of the bank.
///
/// Strings in parallel add up, batteries in series do not; the caller adds.
#[must_use]
pub fn bank_interrupting(
    cranking: Option<Amps>,
    capacity: Option<AmpHours>,
    short_circuit: Option<Amps>,
) -> (BankInterrupting, Basis) {
    let limits = &*BANK_LIMITS;
    let large = cranking.is_some_and(|current| current > limits.max_cranking)
        || capacity.is_some_and(|charge| charge > limits.max_capacity);
    let rule = match (large, cranking, short_circuit) {
        (false, Some(_), _) => BankInterrupting::ByTable,
        (_, _, None) => BankInterrupting::NotGiven,
        (_, _, Some(current)) if current > limits.threshold => {
            BankInterrupting::AtLeast(limits.high_class, Some(limits.high_class_voltage))
        }
        (_, _, Some(current)) => BankInterrupting::AtLeast(current, None),
    };
    (rule, BANKS.basis)
}

struct ByCranking {
    least: Volts,
    most: Volts,
    max_cranking: Option<Amps>,
    main: Amps,
    branch: Amps,
    basis: Basis,
}

static CRANKING: LazyLock<Vec<ByCranking>> = LazyLock::new(|| {
    BY_CRANKING
        .rows()
        .iter()
        .map(|row| ByCranking {
            least: Volts(row.value("min_v")),
            most: Volts(row.value("max_v")),
            max_cranking: row.number("max_cca").map(Amps),
            main: Amps(row.value("main_a")),
            branch: Amps(row.value("branch_a")),
            basis: row.basis(),
        })
        .collect()
});

struct BankLimits {
    max_cranking: Amps,
    max_capacity: AmpHours,
    threshold: Amps,
    high_class: Amps,
    high_class_voltage: Volts,
}

static BANK_LIMITS: LazyLock<BankLimits> = LazyLock::new(|| {
    let rows = BANKS.rows();
    let row = rows.first().shipped();
    BankLimits {
        max_cranking: Amps(row.value("max_cca")),
        max_capacity: AmpHours(row.value("max_ah")),
        threshold: Amps(row.value("short_circuit_threshold_a")),
        high_class: Amps(row.value("high_class_a")),
        high_class_voltage: Volts(row.value("high_class_v")),
    }
});

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::Confidence;

    #[test]
    fn by_cranking_current() {
        let main = |volts, cranking| {
            breaker_interrupting(Volts(volts), Amps(cranking), BreakerPosition::Main)
                .map(|(rating, _)| rating.0)
        };
        assert_eq!(main(12.0, 650.0), Some(1500.0));
        assert_eq!(main(12.0, 650.5), Some(3000.0));
        assert_eq!(main(24.0, 1100.0), Some(3000.0));
        assert_eq!(main(12.0, 1400.0), Some(5000.0));
        assert_eq!(main(32.0, 1400.0), Some(5000.0));
        assert_eq!(main(36.0, 500.0), None);
        let branch = breaker_interrupting(Volts(12.0), Amps(700.0), BreakerPosition::Branch);
        assert_eq!(branch.map(|(rating, _)| rating.0), Some(1500.0));
        assert_eq!(
            branch.map(|(_, basis)| basis.confidence),
            Some(Confidence::Secondary)
        );
    }

    #[test]
    fn by_size_of_the_bank() {
        let rule = |cranking: Option<f64>, capacity: Option<f64>, short: Option<f64>| {
            bank_interrupting(cranking.map(Amps), capacity.map(AmpHours), short.map(Amps)).0
        };
        assert_eq!(
            rule(Some(700.0), Some(75.0), None),
            BankInterrupting::ByTable
        );
        assert_eq!(
            rule(Some(700.0), Some(600.0), None),
            BankInterrupting::NotGiven
        );
        assert_eq!(rule(None, Some(280.0), None), BankInterrupting::NotGiven);
        assert_eq!(
            rule(None, Some(600.0), Some(8000.0)),
            BankInterrupting::AtLeast(Amps(8000.0), None)
        );
        assert_eq!(
            rule(Some(2500.0), None, Some(12_000.0)),
            BankInterrupting::AtLeast(Amps(20_000.0), Some(Volts(125.0)))
        );
    }
}
