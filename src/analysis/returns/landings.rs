//! What lands on every terminal: conductors, and parts that sit on it.

use crate::system::{ConductorId, Link, LinkKind, System, TerminalId};

/// What lands on one terminal.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Landed {
    /// Conductors, in file order; one whose both ends land here stands twice.
    pub conductors: Vec<ConductorId>,
    /// Terminals of the parts that sit on it.
    pub parts: Vec<TerminalId>,
}

impl Landed {
    /// Lugs and tabs on the terminal.
    #[must_use]
    pub fn count(&self) -> usize {
        self.conductors.len() + self.parts.len()
    }
}

/// What lands on every terminal.
#[derive(Clone, Debug)]
pub struct Landings {
    landed: Vec<Landed>,
}

impl Landings {
    pub(super) fn new(system: &System) -> Self {
        let mut landed: Vec<Landed> = system
            .terminals
            .iter()
            .map(|terminal| Landed {
                conductors: terminal.conductors.clone(),
                parts: Vec::new(),
            })
            .collect();
        for link in &system.links {
            if sits(system, link) {
                landed[link.a.index()].parts.push(link.b);
                landed[link.b.index()].parts.push(link.a);
            }
        }
        Self { landed }
    }

    /// What lands on a terminal.
    #[must_use]
    pub fn on(&self, terminal: TerminalId) -> &Landed {
        &self.landed[terminal.index()]
    }
}

/// Whether a link is a part that sits on a stud of another: a joint between two components.
fn sits(system: &System, link: &Link) -> bool {
    let of = |terminal: TerminalId| system.terminals[terminal.index()].component;
    link.kind == LinkKind::Joint && of(link.a) != of(link.b)
}
