//! One state of the boat as a netlist for a general circuit simulator, in SPICE syntax, for a second opinion.
//!
//! Every element of the solution becomes one or two lines; names follow from the designations and are told beside
//! each line. Joints without resistance are sources of 0 V; where they form a loop each gets a tenth of a microohm, because a
//! simulator takes no loop of sources. What another program makes of it is compared with our own solution, never
//! taken for proof.

use crate::analysis::solve::{ElementKind, PlainElement, Running, Short, Solution};
use crate::schedule::{DEFERENCE, Head};
use crate::system::{LinkId, LinkKind, NodeId, SourceKind, System};
use crate::units::{Rounding, volts};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

/// Resistance of each joint of a loop of joints, in ohms: far below what any meter shows.
const LOOP_OHMS: f64 = 1e-7;
/// One state of a boat.
#[derive(Clone, Copy, Debug)]
pub struct Subject<'s> {
    /// The boat.
    pub system: &'s System,
    /// Head of its papers.
    pub head: &'s Head,
    /// What the state is: `scenario night`.
    pub title: &'s str,
    /// Its solution.
    pub solution: &'s Solution,
    /// The elements that it is the solution of.
    pub elements: &'s [PlainElement],
}

/// Names that the netlist gives to nodes, for comparing its results.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Named {
    /// The netlist.
    pub text: String,
    /// Name of every node that has an element, in node order.
    pub nodes: Vec<(NodeId, String)>,
    /// Name of the voltage source that carries the current of a link, for links that have one.
    pub sources: Vec<(LinkId, String)>,
}

/// Writes the netlist of one state.
#[must_use]
pub fn netlist(subject: &Subject<'_>) -> Named {
    let mut writer = Writer::new(subject);
    writer.open();
    writer.elements();
    writer.references();
    writer.close();
    Named {
        text: writer.text,
        nodes: writer
            .nodes
            .into_iter()
            .map(|(node, (name, _))| (node, name))
            .collect(),
        sources: writer.sources,
    }
}

struct Writer<'s> {
    subject: &'s Subject<'s>,
    text: String,
    used: BTreeSet<String>,
    /// Name and starting voltage of every node.
    nodes: BTreeMap<NodeId, (String, f64)>,
    /// Elements of 0 Ω that lie on a loop of such.
    looped: Vec<bool>,
    sources: Vec<(LinkId, String)>,
}

impl<'s> Writer<'s> {
    fn new(subject: &'s Subject<'s>) -> Self {
        let mut writer = Self {
            subject,
            text: String::with_capacity(8 * 1024),
            used: BTreeSet::new(),
            nodes: BTreeMap::new(),
            looped: loops(subject.elements),
            sources: Vec::new(),
        };
        let mut ends: Vec<NodeId> = subject
            .elements
            .iter()
            .flat_map(|element| [element.a, element.b])
            .collect();
        ends.sort_unstable();
        ends.dedup();
        for node in ends {
            let name = writer.fresh("n", &subject.system.node_name(node));
            let start = subject.solution.potential(node).0;
            writer.nodes.insert(node, (name, start));
        }
        writer
    }

    /// A name of plain letters that nothing else has: a prefix, and the designation as far as it can be written.
    fn fresh(&mut self, prefix: &str, designation: &str) -> String {
        let plain: String = designation
            .chars()
            .map(|letter| match letter {
                '+' => 'p',
                '-' if designation.ends_with('-') => 'm',
                letter if letter.is_ascii_alphanumeric() => letter.to_ascii_lowercase(),
                _ => '_',
            })
            .collect();
        let mut name = format!("{prefix}_{plain}");
        let mut count = 1;
        while !self.used.insert(name.clone()) {
            count += 1;
            name = format!("{prefix}_{plain}_{count}");
        }
        name
    }

    fn node(&self, node: NodeId) -> &str {
        self.nodes.get(&node).map_or("0", |(name, _)| name)
    }

    /// A line that a simulator skips; a name with a line break in it cannot end the line.
    fn remark(&mut self, text: &str) {
        let plain: String = text
            .chars()
            .map(|letter| if letter.is_control() { ' ' } else { letter })
            .collect();
        let _ = writeln!(self.text, "* {plain}");
    }

    fn open(&mut self) {
        let Subject { head, title, .. } = *self.subject;
        // The first line of a netlist is its title, whatever it holds.
        self.remark(&format!("{}, {title}", head.boat));
        self.remark(&format!(
            "Revision {}, netlist {}",
            if head.revision.is_empty() {
                "not given"
            } else {
                &head.revision
            },
            head.fingerprint
        ));
        self.remark(DEFERENCE);
        self.remark("A steady state only: no inrush, no charging behaviour, no fault. It proves nothing that the netlist does not say.");
        self.remark(
            "Never let a result of this file take the place of a measurement before power-up.",
        );
        if !self.subject.solution.shorted.is_empty() {
            let words = shorted_words(self.subject.system, &self.subject.solution.shorted);
            self.remark(&format!(
                "SHORT: {words}; the currents are those of a short"
            ));
        }
        if let Some(words) = unfed_words(self.subject.system, self.subject.solution) {
            self.remark(&format!("NOT FED: {words}"));
        }
        self.remark("Volts, amperes, ohms, watts. A current counts from the first node of its line to the second.");
    }

    fn elements(&mut self) {
        let subject = self.subject;
        for (index, element) in subject.elements.iter().enumerate() {
            let name = subject.system.link_name(element.link);
            let (a, b) = (
                self.node(element.a).to_owned(),
                self.node(element.b).to_owned(),
            );
            let what = what(subject.system, element);
            self.remark(&format!(
                "{what} {name}: {} to {}",
                subject.system.node_name(element.a),
                subject.system.node_name(element.b)
            ));
            match element.kind {
                ElementKind::Resistor { ohms, emf } if emf.0 == 0.0 => {
                    self.line("r", &name, &a, &b, &number(ohms.0));
                }
                ElementKind::Resistor { ohms, emf } => {
                    self.source(element.link, &name, (&a, &b), (emf.0, ohms.0));
                }
                ElementKind::Voltage(emf) => {
                    let ohms = if self.looped[index] { LOOP_OHMS } else { 0.0 };
                    self.source(element.link, &name, (&a, &b), (emf.0, ohms));
                }
                ElementKind::Current(amps) => {
                    self.line("i", &name, &a, &b, &number(amps.0));
                }
                ElementKind::Power(watts) => {
                    let law = format!("i={}/v({a},{b})", number(watts.0));
                    self.line("b", &name, &a, &b, &law);
                }
                ElementKind::Diode(forward, ohms) => {
                    self.remark(
                        "it conducts in this state; the current found must not be negative",
                    );
                    self.source(element.link, &name, (&a, &b), (forward.0, ohms.0));
                }
            }
        }
    }

    /// A voltage, with a resistance behind it where it has one.
    fn source(&mut self, link: LinkId, name: &str, (a, b): (&str, &str), (emf, ohms): (f64, f64)) {
        let own = if ohms > 0.0 {
            let inside = self.fresh("n", &format!("{name} inside"));
            let own = self.line("v", name, a, &inside, &number(emf));
            self.line("r", name, &inside, b, &number(ohms));
            own
        } else {
            self.line("v", name, a, b, &number(emf))
        };
        self.sources.push((link, own));
    }

    /// One line; returns the name of the element.
    fn line(&mut self, letter: &str, name: &str, a: &str, b: &str, value: &str) -> String {
        let name = self.fresh(letter, name);
        let _ = writeln!(self.text, "{name} {a} {b} {value}");
        name
    }

    /// Ties one node of every island to the zero of the simulator: the negative of a battery where there is one.
    fn references(&mut self) {
        let subject = self.subject;
        let system = subject.system;
        let negatives = system
            .sources
            .iter()
            .filter(|source| source.kind == SourceKind::Battery)
            .map(|source| system.node_of(system.links[source.link.index()].b));
        let candidates: Vec<NodeId> = negatives.chain(self.nodes.keys().copied()).collect();
        let mut tied: BTreeSet<usize> = BTreeSet::new();
        let sourced: BTreeSet<usize> = subject
            .elements
            .iter()
            .filter(|element| {
                matches!(system.links[element.link.index()].kind, LinkKind::Source(_))
            })
            .map(|element| subject.solution.island(element.a))
            .collect();
        self.remark("One node of every island at 0 V; nothing flows here");
        for node in candidates {
            if self.nodes.contains_key(&node) && tied.insert(subject.solution.island(node)) {
                let name = self.node(node).to_owned();
                if !sourced.contains(&subject.solution.island(node)) {
                    self.remark(&format!(
                        "FLOATING: what is joined to {} hangs on no source; its 0 V is a reference and no reading",
                        system.node_name(node)
                    ));
                }
                self.line("v", &format!("zero {name}"), &name, "0", "0");
            }
        }
    }

    fn close(&mut self) {
        self.text
            .push_str(".options reltol=1e-9 abstol=1e-12 vntol=1e-9 itl1=500\n");
        // Where a simulator starts to look for loads of constant power; a start for more nodes than these
        // can spoil the order in which some programs eliminate.
        let curved: BTreeSet<NodeId> = self
            .subject
            .elements
            .iter()
            .filter(|element| matches!(element.kind, ElementKind::Power(_)))
            .flat_map(|element| [element.a, element.b])
            .collect();
        for node in curved {
            if let Some((name, start)) = self.nodes.get(&node) {
                let _ = writeln!(self.text, ".nodeset v({name})={}", number(*start));
            }
        }
        self.text.push_str(".op\n.end\n");
    }
}

/// A few words for loads that are on and get no voltage: `lamp and radio: no source reaches them in this state`.
#[must_use]
pub fn unfed_words(system: &System, solution: &Solution) -> Option<String> {
    let unfed: Vec<&str> = system
        .loads
        .iter()
        .zip(&solution.loads)
        .filter(|(_, running)| **running == Running::Unfed)
        .map(|(load, _)| load.name.as_str())
        .collect();
    match unfed.as_slice() {
        [] => None,
        [one] => Some(format!(
            "{one}: no source reaches both of its poles in this state, so it has no line"
        )),
        several => Some(format!(
            "{}: no source reaches both of their poles in this state, so they have no lines",
            several.join(", ")
        )),
    }
}

/// What is wrong where a state shorts batteries.
#[must_use]
pub fn shorted_words(system: &System, shorted: &[Short]) -> String {
    let words: Vec<String> = shorted
        .iter()
        .map(|short| {
            let battery = &system.sources[short.battery.index()];
            if short.held_at.0.abs() < 1e-6 {
                format!(
                    "{} is shorted: its poles are joined through no load",
                    battery.name
                )
            } else {
                format!(
                    "{} of {} stands against {} of other batteries",
                    battery.name,
                    volts(battery.nominal.value, Rounding::Nearest),
                    volts(short.held_at, Rounding::Nearest)
                )
            }
        })
        .collect();
    words.join("; ")
}

/// What an element is, for its remark.
fn what(system: &System, element: &PlainElement) -> &'static str {
    match system.links[element.link.index()].kind {
        LinkKind::Conductor(_) => "conductor",
        LinkKind::Contact { .. } => "contact of",
        LinkKind::Device(_) => "device",
        LinkKind::Mate { .. } => "contact pair of",
        LinkKind::Diode { .. } => "diode of",
        LinkKind::Joint => "joint in",
        LinkKind::Source(_) => "source",
        LinkKind::Load(_) => "load",
    }
}

/// A number as every simulator reads it, with all its digits.
fn number(value: f64) -> String {
    format!("{value:e}")
}

/// Which elements without resistance lie on a loop of such: what is left when loose ends are taken off.
fn loops(elements: &[PlainElement]) -> Vec<bool> {
    let ideal: Vec<usize> = (0..elements.len())
        .filter(|&index| matches!(elements[index].kind, ElementKind::Voltage(_)))
        .collect();
    let mut at: BTreeMap<NodeId, Vec<usize>> = BTreeMap::new();
    for &index in &ideal {
        for node in [elements[index].a, elements[index].b] {
            at.entry(node).or_default().push(index);
        }
    }
    let mut looped = vec![false; elements.len()];
    for &index in &ideal {
        looped[index] = true;
    }
    let mut degree: BTreeMap<NodeId, usize> = at
        .iter()
        .map(|(&node, links)| (node, links.len()))
        .collect();
    let mut loose: Vec<NodeId> = at.keys().copied().collect();
    while let Some(node) = loose.pop() {
        if degree.get(&node) != Some(&1) {
            continue;
        }
        let Some(&index) = at[&node].iter().find(|&&index| looped[index]) else {
            continue;
        };
        looped[index] = false;
        for end in [elements[index].a, elements[index].b] {
            if let Some(count) = degree.get_mut(&end) {
                *count -= 1;
            }
            loose.push(end);
        }
    }
    looped
}
