//! How much more each bank bears: in every scenario that gives its hours, and in lay-up.

use crate::analysis::Facts;
use crate::standards::constants;
use crate::system::{BankId, ScenarioId};
use crate::units::{Amps, Hours};

/// What more load on a bank would break.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BankLimit {
    /// It would be flat before this scenario ends.
    Scenario(ScenarioId),
    /// It would be flat before somebody comes again.
    LayUp,
}

/// The margin of one bank.
#[derive(Clone, Debug, PartialEq)]
pub struct BankMargin {
    /// The bank.
    pub bank: BankId,
    /// How much more it bears at its posts, by limit, in the order of the scenarios, lay-up last; zero where the limit
    /// is broken already. Empty where its capacity is not given.
    pub more: Vec<(BankLimit, Amps)>,
}

impl BankMargin {
    /// The limit that breaks first while the boat is used; lay-up has a measure of its own.
    #[must_use]
    pub fn first(&self) -> Option<(BankLimit, Amps)> {
        self.more
            .iter()
            .copied()
            .filter(|(limit, _)| *limit != BankLimit::LayUp)
            .reduce(|known, next| if next.1 < known.1 { next } else { known })
    }

    /// How much more may stay on in lay-up.
    #[must_use]
    pub fn lay_up(&self) -> Option<Amps> {
        let found = self
            .more
            .iter()
            .find(|(limit, _)| *limit == BankLimit::LayUp);
        found.map(|&(_, more)| more)
    }
}

/// The margins of all banks.
pub(super) fn banks(facts: &Facts<'_>) -> Vec<BankMargin> {
    let system = facts.system;
    (0..system.banks.len())
        .map(|index| {
            let bank = BankId::at(index);
            let energy = facts.energy.bank(bank);
            let mut more = Vec::new();
            for scenario in &facts.energy.scenarios {
                let (Some(hours), Ok(banks)) = (scenario.hours, &scenario.banks) else {
                    continue;
                };
                let record = &system.scenarios[scenario.scenario.index()];
                let charge = record.state_of_charge.map_or(100.0, |given| given.value);
                let now = banks.iter().find(|entry| entry.bank == bank);
                if let Some((now, most)) = now.zip(energy.current_for(hours, charge)) {
                    let room = Amps((most.0 - now.current.0).max(0.0));
                    more.push((BankLimit::Scenario(scenario.scenario), room));
                }
            }
            let (days, _) = constants::lay_up_days();
            let most = energy.current_for(Hours(days * 24.0), 100.0);
            if let Some(most) = most.filter(|_| !facts.energy.sunny(system, bank)) {
                let (steady, _) = facts.energy.laid_up(system, bank);
                let now: Amps = steady.iter().map(|&(_, current)| current).sum();
                more.push((BankLimit::LayUp, Amps((most.0 - now.0).max(0.0))));
            }
            BankMargin { bank, more }
        })
        .collect()
}
