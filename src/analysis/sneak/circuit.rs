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

/// Positions of the boat in use: battery switches closed as far as they join no banks, all else normal.
pub(super) fn in_use(system: &System) -> State {
    let mut state = State::normal(system);
    for (index, gear) in system.gears.iter().enumerate() {
        if gear.kind == GearKind::BatterySwitch {
            state.set(GearId::at(index), most_closed(system, GearId::at(index)));
        }
    }
    state
}

/// The position of a part that closes most contacts without joining banks; the normal one where none does.
fn most_closed(system: &System, gear: GearId) -> u16 {
    let record = &system.gears[gear.index()];
    let closes = |position: u16| {
        system
            .links
            .iter()
            .filter(|link| match &link.kind {
                LinkKind::Contact {
                    gear: of,
                    closed_in,
                } => *of == gear && closed_in.contains(&position),
                _ => false,
            })
            .count()
    };
    let mut best = (record.normal, closes(record.normal));
    for (index, position) in record.positions.iter().enumerate() {
        let Ok(at) = u16::try_from(index) else { break };
        let count = closes(at);
        if !position.joins_banks && !position.emergency && count > best.1 {
            best = (at, count);
        }
    }
    best.0
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
