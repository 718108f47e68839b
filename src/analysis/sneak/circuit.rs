//! The boat as it is tried out: in use, with a conductor that can be taken off and loads that are resistances.

use crate::analysis::solve::{self, Options, Reading, Solution, Voltage};
use crate::analysis::states::{Constraints, State};
use crate::system::{
    Behaviour, ConductorId, DeviceId, Gear, GearId, GearKind, LinkKind, Position, System,
};

/// All states but those that join banks or are for emergencies.
pub(super) fn lasting(system: &System) -> Constraints {
    Constraints::none(system).forbid(system, |_, position| {
        position.joins_banks || position.emergency
    })
}

/// A copy of the boat in which one conductor can be taken off and every load is a resistance.
pub(super) struct Trial {
    system: System,
    /// The part that no position closes, and the conductor that stands for it now.
    off: Option<(ConductorId, LinkKind)>,
}

impl Trial {
    pub(super) fn new(system: &System) -> Self {
        let mut system = system.clone();
        for load in &mut system.loads {
            load.behaviour = Behaviour::Resistance;
        }
        let component = system
            .gears
            .first()
            .map(|gear| gear.component)
            .or_else(|| system.links.first().map(|link| link.component));
        if let Some(component) = component {
            system.gears.push(Gear {
                name: String::new(),
                component,
                kind: GearKind::PanelSwitch,
                kind_given: true,
                positions: vec![Position {
                    name: String::new(),
                    span: None,
                    joins_banks: false,
                    emergency: false,
                }],
                normal: 0,
                off: Some(0),
                automatic: false,
                coil: None,
                suppressed: None,
            });
        }
        Self { system, off: None }
    }

    /// Takes a conductor off and puts the one before it back.
    pub(super) fn take_off(&mut self, conductor: Option<ConductorId>) {
        if let Some((before, kind)) = self.off.take() {
            let link = self.system.conductors[before.index()].link;
            self.system.links[link.index()].kind = kind;
        }
        let Some(conductor) = conductor else { return };
        let gear = GearId::at(self.system.gears.len().saturating_sub(1));
        let link = self.system.conductors[conductor.index()].link;
        let kind = &mut self.system.links[link.index()].kind;
        let before = std::mem::replace(
            kind,
            LinkKind::Contact {
                gear,
                closed_in: Vec::new(),
            },
        );
        self.off = Some((conductor, before));
    }

    /// Solves a state of the boat with some loads on and perhaps a device opened; none where it has no answer.
    pub(super) fn solve(
        &self,
        state: &State,
        on: &[bool],
        opened: Option<DeviceId>,
    ) -> Option<Solution> {
        let mut trial = solve::State::normal(&self.system);
        // The part added last stands where it is.
        let known = trial.positions.len().saturating_sub(1);
        for (index, position) in trial.positions.iter_mut().take(known).enumerate() {
            *position = state.position(GearId::at(index));
        }
        trial.on.copy_from_slice(on);
        if let Some(device) = opened {
            trial.opened[device.index()] = true;
        }
        let options = Options {
            reading: Reading::Physical,
            voltage: Voltage::Nominal,
        };
        solve::solve(&self.system, &trial, options).ok()
    }
}
