//! Charging sources with their two limits: never more than the rated current, never more than the highest voltage.
//!
//! A source starts at its rated current where a battery takes it. Where its own terminals then stand above its highest
//! voltage it holds that voltage instead and delivers what it must; where it would have to take current it rests.

use super::network::{self, Branch, Element, Fault, Flow};
use crate::system::{LinkKind, SourceId, SourceKind, System};

/// Amperes by which a source may pass its rating and still count as within it.
const SAME_AMPS: f64 = 1e-9;
/// Volts by which a source may pass its highest voltage and still count as within it.
const SAME_VOLTS: f64 = 1e-9;

/// What the limits have come to.
#[derive(Debug, Default)]
pub(super) struct Limits {
    /// Sources that hold their highest voltage and deliver less than their rating.
    pub(super) limited: Vec<SourceId>,
    /// Sources that feed a boat without battery and are asked for more than their rating.
    pub(super) overloaded: Vec<SourceId>,
}

/// What is done with a source that began at its rated current.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Stands {
    Delivering,
    Holding,
    Resting,
}

/// Solves the network until every charging source keeps both limits; `branches` then stand as solved.
///
/// Each source changes its stand at most twice, so the rounds are bounded by their number.
pub(super) fn settle(
    system: &System,
    branches: &mut [Branch],
    ground: &[usize],
) -> Result<(Flow, Limits), Fault> {
    let nodes = system.nodes.len();
    let mut stands: Vec<(SourceId, Stands)> = system
        .sources
        .iter()
        .enumerate()
        .filter(|(_, source)| {
            source.kind != SourceKind::Battery
                && source.max_voltage.is_some()
                && matches!(branches[source.link.index()].element, Element::Current(_))
        })
        .map(|(index, _)| (SourceId::at(index), Stands::Delivering))
        .collect();
    let mut flow = network::solve(nodes, branches, &[], ground)?;
    for _ in 0..2 * stands.len() {
        let before = branches.to_vec();
        let mut changed = false;
        for (source, stand) in &mut stands {
            let record = &system.sources[source.index()];
            let link = record.link.index();
            let Some(most) = record.max_voltage.map(|given| given.value.0) else {
                continue;
            };
            let Branch { a, b, .. } = branches[link];
            let volts = flow.potentials[a] - flow.potentials[b];
            let next = match *stand {
                Stands::Delivering if volts > most + SAME_VOLTS => Stands::Holding,
                Stands::Holding if flow.currents[link] > SAME_AMPS => Stands::Resting,
                same => same,
            };
            if next != *stand {
                *stand = next;
                changed = true;
                branches[link].element = match next {
                    Stands::Holding => Element::Ideal { emf: most },
                    _ => Element::Open,
                };
            }
        }
        if !changed {
            break;
        }
        match network::solve(nodes, branches, &[], ground) {
            Ok(settled) => flow = settled,
            // Two sources on one point without resistance cannot both hold: the last round is taken back.
            Err(Fault::Shorted(_)) => {
                branches.copy_from_slice(&before);
                for (source, stand) in &mut stands {
                    let link = system.sources[source.index()].link.index();
                    *stand = match branches[link].element {
                        Element::Ideal { .. } => Stands::Holding,
                        Element::Open => Stands::Resting,
                        _ => Stands::Delivering,
                    };
                }
                break;
            }
            Err(fault) => return Err(fault),
        }
    }
    let limited = stands
        .iter()
        .filter(|&&(_, stand)| stand != Stands::Delivering)
        .map(|&(source, _)| source)
        .collect();
    let overloaded = overloaded(system, branches, &flow);
    Ok((
        flow,
        Limits {
            limited,
            overloaded,
        },
    ))
}

fn overloaded(system: &System, branches: &[Branch], flow: &Flow) -> Vec<SourceId> {
    let sources = system.sources.iter().enumerate();
    sources
        .filter(|(_, source)| {
            let link = source.link.index();
            let charging = matches!(system.links[link].kind, LinkKind::Source(_))
                && source.kind != SourceKind::Battery;
            charging
                && matches!(branches[link].element, Element::Ideal { .. })
                && source
                    .current
                    .is_some_and(|rated| -flow.currents[link] > rated.value.0 + SAME_AMPS)
        })
        .map(|(index, _)| SourceId::at(index))
        .collect()
}
