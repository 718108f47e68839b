//! The network of one solution as plain elements, for a second opinion by another program.

use super::network::{Branch, DIODE_OHMS, Element as Inner, SAME_VOLTS};
use super::{Options, Solution, SolveError, State, solve_network};
use crate::system::{LinkId, NodeId, System};
use crate::units::{Amps, Ohms, Volts, Watts};

/// What a link is in a solution. Currents count from the first node to the second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ElementKind {
    /// A resistance, with a voltage that its first node stands above the second without current.
    Resistor {
        /// Resistance, more than none.
        ohms: Ohms,
        /// Voltage without current.
        emf: Volts,
    },
    /// A voltage whatever the current; none for a plain joint.
    Voltage(Volts),
    /// A current whatever the voltage.
    Current(Amps),
    /// A current that makes this power.
    Power(Watts),
    /// A diode that conducts: this voltage, and a resistance far below that of any lug.
    Diode(Volts, Ohms),
}

/// One link of a solution that is not open.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Element {
    /// The link.
    pub link: LinkId,
    /// First node.
    pub a: NodeId,
    /// Second node.
    pub b: NodeId,
    /// What it is.
    pub kind: ElementKind,
}

/// Solves a state and tells the elements that the solution is one of, in link order.
///
/// Open links, loads that do not run, sources that rest and diodes that block have no element.
///
/// # Errors
/// As [`super::solve`].
pub fn elements(
    system: &System,
    state: &State,
    options: Options,
) -> Result<(Solution, Vec<Element>), SolveError> {
    let (solution, branches) = solve_network(system, state, options)?;
    let elements = branches
        .iter()
        .enumerate()
        .filter_map(|(index, branch)| {
            Some(Element {
                link: LinkId::at(index),
                a: NodeId::at(branch.a),
                b: NodeId::at(branch.b),
                kind: kind(system, &solution, index, branch)?,
            })
        })
        .collect();
    Ok((solution, elements))
}

fn kind(
    system: &System,
    solution: &Solution,
    index: usize,
    branch: &Branch,
) -> Option<ElementKind> {
    let carries_nothing = match branch.element {
        Inner::Open => true,
        // A load or source between islands carries nothing whatever it asks for.
        Inner::Current(_) | Inner::Power(_) => {
            let link = &system.links[index];
            !solution.joined(system.node_of(link.a), system.node_of(link.b))
        }
        Inner::Diode { forward } => !conducts(system, solution, index, forward),
        Inner::Resistor { .. } | Inner::Ideal { .. } => false,
    };
    if carries_nothing {
        return None;
    }
    Some(match branch.element {
        Inner::Open => return None,
        Inner::Resistor { conductance, emf } => ElementKind::Resistor {
            ohms: Ohms(1.0 / conductance),
            emf: Volts(emf),
        },
        Inner::Ideal { emf } => ElementKind::Voltage(Volts(emf)),
        Inner::Current(amps) => ElementKind::Current(Amps(amps)),
        Inner::Power(watts) => ElementKind::Power(Watts(watts)),
        Inner::Diode { forward } => ElementKind::Diode(Volts(forward), Ohms(DIODE_OHMS)),
    })
}

/// Whether a diode stands on its conducting line.
fn conducts(system: &System, solution: &Solution, index: usize, forward: f64) -> bool {
    let link = LinkId::at(index);
    let line = forward + solution.current(link).0 * DIODE_OHMS;
    solution
        .across(system, link)
        .is_some_and(|volts| (volts.0 - line).abs() <= SAME_VOLTS)
}
