//! Loads of other banks that can draw on a start bank.

use super::{Isolation, Nets, nominal, off_negative, same_nominal, tops};
use crate::analysis::states::{Answer, Constraints, Reach, ends};
use crate::system::{
    BankId, ComponentKind, GearId, LinkKind, LoadId, LoadKind, Purpose, Service, System,
};
use crate::units::Volts;

/// States in which the banks are joined are left out one by one; more than this many ways to join them are not.
const WAYS_TO_JOIN: usize = 24;

/// Loads that one set of positions lets draw on a start bank.
#[derive(Clone, Debug, PartialEq)]
pub struct Drain {
    /// The start bank.
    pub bank: BankId,
    /// The loads, in file order.
    pub loads: Vec<LoadId>,
    /// The positions, and the path to the first load.
    pub witness: crate::analysis::states::Witness,
}

impl Isolation {
    /// Looks for loads that a start bank feeds without a position that joins banks or is for emergencies.
    ///
    /// States in which two banks are joined are left out: another finding tells those.
    pub(super) fn look_for_drains(
        &mut self,
        system: &System,
        nets: &Nets,
        undeclared: &Constraints,
    ) {
        let others = house_voltages(system);
        let starts: Vec<usize> = (0..system.banks.len())
            .filter(|&index| {
                let bank = &system.banks[index];
                bank.purpose == Purpose::Start
                    && nominal(system, bank)
                        .is_some_and(|volts| others.iter().any(|&other| same_nominal(volts, other)))
            })
            .collect();
        // Each asks for the ways to join it first.
        let count = self.afford(starts.len() * WAYS_TO_JOIN) / WAYS_TO_JOIN;
        for &index in starts.iter().take(count.max(1)) {
            let bank = &system.banks[index];
            let constraints = undeclared
                .clone()
                .forbid(system, |_, position| position.emergency);
            let Some(constraints) = apart(system, nets, index, constraints) else {
                continue;
            };
            let reach = Reach::new(system, &constraints, |link| {
                off_negative(system, nets, link)
            });
            let spread = reach.spread(&tops(system, bank));
            for (number, load) in system.loads.iter().enumerate() {
                if belongs_to(system, load, BankId::at(index)) {
                    continue;
                }
                let (positive, _) = ends(system, load.link);
                if nets.is_negative(positive) {
                    continue;
                }
                if let Answer::Yes(witness) = spread.answer(positive) {
                    self.note_drain(system, BankId::at(index), LoadId::at(number), witness);
                }
            }
        }
    }

    /// Loads that the same positions of battery switches let drain a bank are told together.
    fn note_drain(
        &mut self,
        system: &System,
        bank: BankId,
        load: LoadId,
        witness: crate::analysis::states::Witness,
    ) {
        let key = |witness: &crate::analysis::states::Witness| -> Vec<(GearId, u16)> {
            witness
                .path
                .iter()
                .filter_map(|link| match &system.links[link.index()].kind {
                    LinkKind::Contact { gear, .. } => Some(*gear),
                    _ => None,
                })
                .filter(|gear| {
                    system.gears[gear.index()].kind == crate::system::GearKind::BatterySwitch
                })
                .map(|gear| (gear, witness.state.position(gear)))
                .collect()
        };
        let own = key(&witness);
        let same = self
            .drains
            .iter_mut()
            .find(|drain| drain.bank == bank && !own.is_empty() && key(&drain.witness) == own);
        match same {
            Some(drain) => drain.loads.push(load),
            None => self.drains.push(Drain {
                bank,
                loads: vec![load],
                witness,
            }),
        }
    }
}

/// Voltages of the banks that could feed the house, each class once.
fn house_voltages(system: &System) -> Vec<Volts> {
    let mut voltages: Vec<Volts> = Vec::new();
    for bank in &system.banks {
        let isolated = bank.isolated.is_some_and(|given| given.value);
        if bank.purpose == Purpose::Start || isolated {
            continue;
        }
        if let Some(volts) = nominal(system, bank)
            && !voltages.contains(&volts)
        {
            voltages.push(volts);
        }
    }
    voltages
}

/// Loads that belong to a start bank: cranking motors, coils, the engine's own, converters that charge from it, the
/// standby of combiners, instruments, and whatever names the bank.
pub(in crate::analysis) fn belongs_to(
    system: &System,
    load: &crate::system::Load,
    bank: BankId,
) -> bool {
    let part = system.components[load.component.index()].kind;
    load.bank.is_some_and(|given| given.value == bank)
        || matches!(
            load.kind,
            LoadKind::Starter | LoadKind::Coil | LoadKind::ConverterInput
        )
        || load.service == Service::Engine
        || matches!(part, ComponentKind::Combiner | ComponentKind::Instrument)
}

/// The constraints with every way to join the bank to another one left out.
fn apart(
    system: &System,
    nets: &Nets,
    start: usize,
    mut constraints: Constraints,
) -> Option<Constraints> {
    let from = tops(system, &system.banks[start]);
    for _ in 0..WAYS_TO_JOIN {
        let reach = Reach::new(system, &constraints, |link| {
            off_negative(system, nets, link)
        });
        let spread = reach.spread(&from);
        let joined = system
            .banks
            .iter()
            .enumerate()
            .filter(|&(index, _)| index != start)
            .flat_map(|(_, bank)| tops(system, bank))
            .find_map(|top| spread.answer(top).witness());
        let Some(witness) = joined else {
            return Some(constraints);
        };
        let mut used: Vec<(GearId, u16)> = witness
            .path
            .iter()
            .filter_map(|link| match &system.links[link.index()].kind {
                LinkKind::Contact { gear, .. } => Some((*gear, witness.state.position(*gear))),
                _ => None,
            })
            .collect();
        used.sort_unstable();
        used.dedup();
        if used.is_empty() {
            // Joined in every position: nothing can be said of the start bank by itself.
            return None;
        }
        constraints.never_together(used);
    }
    Some(constraints)
}
