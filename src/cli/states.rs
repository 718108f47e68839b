//! States of the boat as the command line names them: a scenario, and switches set by hand.

use crate::analysis::readings::energised;
use crate::analysis::solve::{SolveError, State};
use crate::diag::nearest;
use crate::system::{ENERGISED, GearId, LoadId, LoadKind, ScenarioId, System};

/// The state asked for.
pub(super) struct Chosen {
    pub(super) title: String,
    pub(super) state: State,
    pub(super) charge: Option<f64>,
}

/// The state of a scenario, or the normal one where none is named.
pub(super) fn chosen(system: &System, name: Option<&str>) -> Result<Chosen, String> {
    let Some(name) = name else {
        let mut state = State::normal(system);
        // Nothing charges in this state, so a converter that only charges a bank takes nothing either.
        let idle: Vec<LoadId> = system
            .sources
            .iter()
            .filter(|source| source.chemistry.is_some())
            .filter_map(|source| source.input)
            .collect();
        for (index, (on, load)) in state.on.iter_mut().zip(&system.loads).enumerate() {
            *on = load.kind != LoadKind::Starter && !idle.contains(&LoadId::at(index));
        }
        return Ok(Chosen {
            title: "normal positions, all loads on but starters".to_owned(),
            state,
            charge: None,
        });
    };
    let found = system
        .scenarios
        .iter()
        .position(|scenario| scenario.name == name);
    match found {
        Some(index) => {
            let scenario = &system.scenarios[index];
            Ok(Chosen {
                title: format!("scenario {}", scenario.name),
                state: State::scenario(system, ScenarioId::at(index)),
                charge: scenario.state_of_charge.map(|given| given.value),
            })
        }
        None if system.scenarios.is_empty() => Err(format!(
            "the netlist has no scenario `{name}`: it declares none; leave out --scenario"
        )),
        None => {
            let names: Vec<&str> = system
                .scenarios
                .iter()
                .map(|scenario| scenario.name.as_str())
                .collect();
            Err(match nearest(name, names.iter().copied()) {
                Some(near) => {
                    format!("the netlist has no scenario `{name}`; did you mean `{near}`?")
                }
                None => format!(
                    "the netlist has no scenario `{name}`; it has {}",
                    names.join(", ")
                ),
            })
        }
    }
}

/// What is wrong with a state, with the part that shows it.
pub(super) fn words(system: &System, error: SolveError) -> String {
    match error {
        SolveError::Shorted(link) => format!("{error} ({})", system.link_name(link)),
        SolveError::Collapsed(load) => {
            format!("{error} ({})", system.loads[load.index()].name)
        }
        _ => error.to_string(),
    }
}

/// Sets switches as `name=position`, and tells the state in words.
///
/// # Errors
/// What is wrong with a name, a position or their combination, and what there is.
pub(super) fn set(system: &System, chosen: &mut Chosen, wishes: &[String]) -> Result<(), String> {
    let mut told = Vec::new();
    let mut named = vec![false; system.gears.len()];
    let before = energised(system, &chosen.state.positions, &chosen.state.opened);
    for wish in wishes {
        let Some((name, position)) = wish.split_once('=') else {
            return Err(format!(
                "`{wish}` sets nothing; write --set switch=position"
            ));
        };
        let (name, position) = (name.trim(), position.trim());
        let Some(index) = system.gears.iter().position(|gear| gear.name == name) else {
            let names: Vec<&str> = system.gears.iter().map(|gear| gear.name.as_str()).collect();
            return Err(match nearest(name, names.iter().copied()) {
                Some(near) => format!("there is no switch `{name}`; did you mean `{near}`?"),
                None if names.is_empty() => format!("there is no switch `{name}`, nor any other"),
                None => format!(
                    "there is no switch `{name}`; there are {}",
                    names.join(", ")
                ),
            });
        };
        let gear = &system.gears[index];
        let Some(at) = gear
            .positions
            .iter()
            .position(|known| known.name == position)
        else {
            let names: Vec<&str> = gear
                .positions
                .iter()
                .map(|known| known.name.as_str())
                .collect();
            return Err(format!(
                "`{name}` has no position `{position}`; it has {}",
                names.join(", ")
            ));
        };
        chosen.state.positions[index] = u16::try_from(at).unwrap_or(gear.normal);
        told.push(format!("{name} {position}"));
        named[index] = true;
    }
    pull(system, &mut chosen.state, &before, &named);
    for interlock in &system.interlocks {
        let stands =
            |&(gear, position): &(GearId, u16)| chosen.state.positions[gear.index()] == position;
        if !interlock.never.is_empty() && interlock.never.iter().all(stands) {
            let names: Vec<String> = interlock
                .never
                .iter()
                .map(|&(gear, position)| {
                    let gear = &system.gears[gear.index()];
                    format!(
                        "{} {}",
                        gear.name,
                        gear.positions[usize::from(position)].name
                    )
                })
                .collect();
            return Err(format!(
                "the netlist says that these never stand together: {}",
                names.join(", ")
            ));
        }
    }
    if !told.is_empty() {
        chosen.title = format!("{}; {}", told.join(", "), chosen.title);
    }
    Ok(())
}

/// Most rounds in which relays feed the coils of others; one that opens its own coil never comes to rest.
const ROUNDS: usize = 16;

/// Pulls the relays whose coils are fed, and drops those whose coils were fed and are no more; those named stay.
fn pull(system: &System, state: &mut State, before: &[bool], named: &[bool]) {
    for _ in 0..ROUNDS {
        let fed = energised(system, &state.positions, &state.opened);
        let mut moved = false;
        for (index, gear) in system.gears.iter().enumerate() {
            if named[index] || !(fed[index] || before[index]) {
                continue;
            }
            let wanted = if fed[index] { ENERGISED } else { gear.normal };
            moved |= state.positions[index] != wanted;
            state.positions[index] = wanted;
            if let Some(coil) = gear.coil {
                state.on[coil.index()] = fed[index];
            }
        }
        if !moved {
            return;
        }
    }
}
