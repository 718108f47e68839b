//! From the file as written to the resolved boat: names, defaults, quantities, expansion of circuits.
//!
//! A fault never stops it: a record with a fault is resolved as far as it can be, and all faults are told.
//! It judges no wiring; whether a fuse is too large is a matter for the rules.

mod circuits;
mod exclusive;
mod fault_table;
mod fields;
mod gears;
mod head;
mod names;
mod parts;
mod places;
mod quantities;
mod routes;
mod runs;
mod scenarios;
mod stock;
#[cfg(test)]
mod tests;

pub use fault_table::FAULTS;

use crate::diag::{self, Diagnostic, Severity};
use crate::netlist::Netlist;
use crate::source::{Document, Fault, Findings, MAX_FINDINGS};
use crate::standards::constants;
use crate::system::{Given, Graph, Known, NodeId, System};
use crate::units::{Celsius, Volts};
use fault_table as faults;
use fields::Field;
use names::{Names, Pool, Sitting, Spelling};
use parts::BatteryNote;

/// Resolves a netlist into the boat it describes, together with every fault of names and quantities.
///
/// Findings stand in the order of the file.
#[must_use]
pub fn resolve(netlist: &Netlist, document: &Document) -> (System, Vec<Diagnostic>) {
    let mut resolver = Resolver::new(netlist, document);
    resolver.head();
    resolver.places();
    resolver.parts();
    resolver.banks();
    resolver.load_banks();
    resolver.stock();
    let mut drafts = resolver.circuits();
    resolver.runs(&mut drafts);
    resolver.sit_on_studs();
    resolver.build_conductors(drafts);
    resolver.cable_cores();
    resolver.exclusive_groups();
    resolver.gears();
    let coils = exclusive::coils(&resolver.system);
    resolver.scenarios(&coils);
    resolver.exclusive_coils(&coils);
    resolver.look_alikes();
    resolver.finish()
}

/// What resolving one file has gathered so far.
struct Resolver<'n> {
    net: &'n Netlist,
    document: &'n Document,
    findings: Findings,
    notes: Vec<Diagnostic>,
    /// Comparisons of names left for "did you mean"; bounds the work on a file full of unknown names.
    guesses: usize,
    system: System,
    /// Nominal voltage of everything that states none.
    nominal: Given<Volts>,
    /// Insulation rating of conductors that state none.
    insulation: Given<Celsius>,
    /// Ambient of zones that state none.
    default_ambient: Known<Celsius>,
    /// Wire type of conductors that state none.
    default_wire_type: Known<String>,
    names: Names<'n>,
    /// Studs that a bare name may land on.
    pools: Vec<Pool>,
    /// How each terminal was first written, by terminal.
    spellings: Vec<Option<Spelling<'n>>>,
    /// Parts that sit on a stud of another.
    sitting: Vec<Sitting<'n>>,
    /// What the banks need to know about each battery.
    batteries: Vec<BatteryNote<'n>>,
    /// Parts with positions passed by each circuit.
    passed: Vec<circuits::Passed>,
}

impl<'n> Resolver<'n> {
    fn new(net: &'n Netlist, document: &'n Document) -> Self {
        Self {
            net,
            document,
            findings: Findings::default(),
            notes: Vec::new(),
            guesses: names::MAX_GUESSES,
            system: head::empty_system(),
            nominal: Given::assumed(head::ASSUMED_NOMINAL),
            insulation: Given::assumed(constants::boat_cable_rating().0),
            default_ambient: None,
            default_wire_type: None,
            names: Names::default(),
            pools: Vec::new(),
            spellings: Vec::new(),
            sitting: Vec::new(),
            batteries: Vec::new(),
            passed: Vec::new(),
        }
    }

    /// Adds a finding.
    ///
    /// Notes have a limit of their own: many assumed values make no file faulty.
    fn tell(&mut self, finding: Diagnostic) {
        if finding.severity == Severity::Note {
            if self.notes.len() < MAX_FINDINGS {
                self.notes.push(finding);
            }
        } else {
            self.findings.add(|| finding);
        }
    }

    /// An error about the element of a field.
    fn error(fault: Fault, field: Field<'n>, message: impl Into<String>) -> Diagnostic {
        finding(fault, Severity::Error, field.element(), message)
    }

    /// Puts the graph together and the findings in order.
    fn finish(mut self) -> (System, Vec<Diagnostic>) {
        let system = &mut self.system;
        let mut ends = Vec::with_capacity(system.links.len());
        for (index, link) in system.links.iter().enumerate() {
            let (a, b): (NodeId, NodeId) = (
                system.terminals[link.a.index()].node,
                system.terminals[link.b.index()].node,
            );
            ends.push((a, b));
            let id = crate::system::LinkId::at(index);
            system.nodes[a.index()].links.push(id);
            if a != b {
                system.nodes[b.index()].links.push(id);
            }
        }
        system.graph = Graph::new(system.nodes.len(), &ends);
        let mut findings = self.findings.finish();
        findings.append(&mut self.notes);
        diag::sort(&mut findings);
        (self.system, findings)
    }
}

/// A finding of a fault.
fn finding(
    fault: Fault,
    severity: Severity,
    element: &str,
    message: impl Into<String>,
) -> Diagnostic {
    Diagnostic::new(fault.id, fault.name, severity, element, message)
}
