//! Cranking current that returns by a small conductor once a large one has come off.

use super::circuit::{Trial, lasting};
use crate::analysis::ampacity::Ampacities;
use crate::analysis::poles::{Pole, Poles};
use crate::analysis::states::{Reach, State, ends, walk};
use crate::system::{ConductorId, GearId, LinkKind, LoadId, LoadKind, NodeId, SourceKind, System};
use crate::units::Amps;

/// Share of the cranking current from which a conductor of its return is taken off in turn.
const LARGE_SHARE: f64 = 0.5;
/// Conductors taken off for one starter.
const MAX_TAKEN_OFF: usize = 32;

/// A cranking current in a conductor that is too small for it.
#[derive(Clone, Debug, PartialEq)]
pub struct SmallReturn {
    /// The starter.
    pub starter: LoadId,
    /// The conductor that is off.
    pub off: ConductorId,
    /// The conductor that carries it instead.
    pub wire: ConductorId,
    /// What it then carries.
    pub current: Amps,
    /// What it may carry.
    pub ampacity: Amps,
    /// Parts off their normal position, in file order.
    pub off_normal: Vec<(GearId, u16)>,
}

/// Takes each large conductor of the return of each starter off in turn.
pub(super) fn find(system: &System, poles: &Poles, ampacities: &Ampacities) -> Vec<SmallReturn> {
    let starters: Vec<LoadId> = system
        .loads
        .iter()
        .enumerate()
        .filter(|(_, load)| load.kind == LoadKind::Starter && load.current().is_some())
        .map(|(index, _)| LoadId::at(index))
        .collect();
    let mut found = Vec::new();
    if starters.is_empty() {
        return found;
    }
    let mut trial = Trial::new(system);
    for starter in starters {
        look(system, poles, ampacities, &mut trial, starter, &mut found);
    }
    found
}

fn look(
    system: &System,
    poles: &Poles,
    ampacities: &Ampacities,
    trial: &mut Trial,
    starter: LoadId,
    found: &mut Vec<SmallReturn>,
) {
    let load = &system.loads[starter.index()];
    let (positive, negative) = ends(system, load.link);
    let Some(state) = cranking_state(system, poles, positive) else {
        return;
    };
    let mut on = vec![false; system.loads.len()];
    on[starter.index()] = true;
    trial.take_off(None);
    let Some(whole) = trial.solve(&state, &on, None) else {
        return;
    };
    let cranking = whole.current(load.link).abs();
    let is_return = |conductor: &usize| {
        let (a, _) = ends(system, system.conductors[*conductor].link);
        poles.of(a) == Pole::Negative
    };
    let returns: Vec<usize> = (0..system.conductors.len()).filter(is_return).collect();
    let large = returns
        .iter()
        .copied()
        .filter(|&index| {
            whole.current(system.conductors[index].link).abs() >= cranking * LARGE_SHARE
        })
        .map(ConductorId::at)
        .take(MAX_TAKEN_OFF);
    let posts: Vec<NodeId> = system
        .sources
        .iter()
        .filter(|source| source.kind == SourceKind::Battery)
        .map(|source| ends(system, source.link).1)
        .collect();
    for off in large {
        let left = walk(
            system,
            &state,
            &posts,
            |link| !matches!(system.links[link.index()].kind, LinkKind::Conductor(id) if id == off),
        );
        if !left.reaches(negative) {
            continue;
        }
        trial.take_off(Some(off));
        let Some(rest) = trial.solve(&state, &on, None) else {
            continue;
        };
        let mut worst: Option<SmallReturn> = None;
        for &index in &returns {
            let id = ConductorId::at(index);
            let conductor = &system.conductors[index];
            let cranks = conductor.cranking.is_some_and(|given| given.value);
            let current = rest.current(conductor.link).abs();
            let Ok(ampacity) = ampacities.allowed(system, id) else {
                continue;
            };
            let excess = |small: &SmallReturn| small.current / small.ampacity;
            let small = SmallReturn {
                starter,
                off,
                wire: id,
                current,
                ampacity: ampacity.derated,
                off_normal: state.off_normal(system),
            };
            if id != off
                && !cranks
                && current > ampacity.derated
                && worst
                    .as_ref()
                    .is_none_or(|worst| excess(&small) > excess(worst))
            {
                worst = Some(small);
            }
        }
        found.extend(worst);
    }
}

/// The state with the fewest parts off normal in which the starter is fed.
fn cranking_state(system: &System, poles: &Poles, positive: NodeId) -> Option<State> {
    let used = State::in_use(system);
    let posts: Vec<NodeId> = system
        .sources
        .iter()
        .filter(|source| source.kind == SourceKind::Battery)
        .map(|source| ends(system, source.link).0)
        .collect();
    if walk(system, &used, &posts, |_| true).reaches(positive) {
        return Some(used);
    }
    let reach = Reach::new(system, &lasting(system), |link| {
        let (a, b) = ends(system, link);
        let negative = [a, b].map(|node| poles.of(node) == Pole::Negative);
        (!negative[0] && !negative[1]).then_some(f64::INFINITY)
    });
    reach
        .joined(&posts, positive)
        .witness()
        .map(|witness| witness.state)
}
