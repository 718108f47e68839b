//! One state of the boat on the same drawing: what is live, what is dead, how contacts stand, what a meter would read.
//!
//! Nothing is laid out anew. A live conductor keeps its look and carries its current in place of its size; a dead one
//! is thin, pale and broken. Every number comes from the solution that is handed in; without one there are none.

use super::scene::{Form, Mark, Rgb, Shape};
use super::words::NOT_GIVEN;
use crate::analysis::readings::{alive, raised, returned};
use crate::analysis::solve::{Running, Solution, State};
use crate::analysis::states::{across, conducts};
use crate::system::{
    ConductorId, GearId, LinkId, LinkKind, NodeId, SourceKind, System, TerminalId,
};
use crate::units::{Amps, Rounding, amps as told_amps, volts as told_volts};
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// Currents from here on count as flowing, in A; less is what rounding leaves.
const FLOWS: f64 = 1e-3;
/// Lines of what is dead.
const PALE: Rgb = Rgb(0xA6, 0xA6, 0xA6);
/// Lettering of what is dead: still read in print.
const PALE_TEXT: Rgb = Rgb(0x6E, 0x6E, 0x6E);
/// Share of their width that lines of what is dead keep.
const THIN: f64 = 0.5;
/// Dash and gap of dead conductors, in mm.
const BROKEN: (f64, f64) = (1.6, 1.2);

/// How the boat stands, and what flows.
#[derive(Clone, Debug, Default)]
pub struct Standing {
    /// The state in words, for the title block and the index.
    pub title: String,
    /// By node: whether a bank reaches it or current passes it.
    strong: Vec<bool>,
    /// By conductor: whether a bank reaches it or current passes it, whichever way round it is written.
    live: Vec<bool>,
    /// By conductor: its current; none without a solution.
    amps: Vec<Option<Amps>>,
    /// By conductor: whether a load whose draw is not given takes its current through it.
    unknown: Vec<bool>,
    /// By load: whether it draws current.
    draws: Vec<bool>,
    /// By gear: its position.
    positions: Vec<u16>,
    /// By node: its voltage against the negative of its bank, in words; none where a meter would read nothing.
    volts: Vec<Option<String>>,
    /// Contacts and devices that let current through, by their terminals, the lower first.
    closed: BTreeSet<(TerminalId, TerminalId)>,
}

impl Standing {
    /// How the boat stands in a state, with its solution where it has one.
    ///
    /// Without one nothing tells where current flows, so all that is joined to either post of a battery counts as live.
    #[must_use]
    pub fn new(system: &System, title: String, state: &State, solution: Option<&Solution>) -> Self {
        let (positions, opened) = (&state.positions, &state.opened);
        let banks = alive(system, positions, opened);
        let returned = returned(system, positions, opened);
        let raised = raised(system, (positions, opened), &state.on, &banks, &returned);
        let mut reached: Vec<bool> = banks.iter().map(Option::is_some).collect();
        for (reached, raised) in reached.iter_mut().zip(&raised) {
            *reached |= raised;
        }
        if solution.is_none() {
            for (reached, returned) in reached.iter_mut().zip(returned) {
                *reached |= returned;
            }
        }
        let mut strong = reached.clone();
        let mut live = vec![false; system.conductors.len()];
        let mut amps = vec![None; system.conductors.len()];
        let mut draws = vec![false; system.loads.len()];
        let mut closed = BTreeSet::new();
        // By node: current passes it, or it is a post of a battery.
        let mut passed = vec![false; system.nodes.len()];
        for (index, link) in system.links.iter().enumerate() {
            let id = LinkId::at(index);
            let current = solution.map(|solution| solution.current(id));
            let flows = current.is_some_and(|amps| amps.0.abs() > FLOWS);
            let is_battery = matches!(link.kind, LinkKind::Source(source)
                if system.sources[source.index()].kind == SourceKind::Battery);
            for end in [link.a, link.b].map(|end| system.node_of(end).index()) {
                strong[end] |= flows;
                passed[end] |= flows || is_battery;
            }
            match link.kind {
                LinkKind::Conductor(conductor) => {
                    let reached = |end: TerminalId| reached[system.node_of(end).index()];
                    live[conductor.index()] = flows || reached(link.a) || reached(link.b);
                    amps[conductor.index()] = current.map(|amps| Amps(amps.0.abs()));
                }
                LinkKind::Load(load) => {
                    let fed = [link.a, link.b].map(|end| reached[system.node_of(end).index()]);
                    let unknown = solution.is_none() && state.on[load.index()];
                    draws[load.index()] = flows || unknown && fed == [true; 2];
                }
                LinkKind::Contact { .. } | LinkKind::Device(_) if state.closes(system, id) => {
                    closed.insert((link.a.min(link.b), link.a.max(link.b)));
                }
                _ => {}
            }
        }
        let mut unknown = vec![false; system.conductors.len()];
        for (index, load) in system.loads.iter().enumerate() {
            // A load whose draw is not given may draw anything: it and its own ways are not dead.
            if solution.is_none_or(|solution| solution.loads[index] != Running::NoDraw) {
                continue;
            }
            draws[index] = true;
            let link = &system.links[load.link.index()];
            for end in [link.a, link.b] {
                let end = system.node_of(end);
                strong[end.index()] = true;
                for link in way(system, state, end, &passed) {
                    let record = &system.links[link.index()];
                    for end in [record.a, record.b] {
                        strong[system.node_of(end).index()] = true;
                    }
                    if let LinkKind::Conductor(conductor) = record.kind {
                        live[conductor.index()] = true;
                        unknown[conductor.index()] = true;
                    }
                }
            }
        }
        let volts = strong
            .iter()
            .enumerate()
            .map(|(node, strong)| {
                // What is raised through a load hangs on no battery in the solution: a meter reads nearly the bank there.
                let solution = solution.filter(|_| *strong && !raised[node])?;
                let volts = solution.potential(NodeId::at(node));
                Some(told_volts(volts, Rounding::Nearest).to_string())
            })
            .collect();
        Self {
            title,
            strong,
            live,
            amps,
            unknown,
            draws,
            positions: state.positions.clone(),
            volts,
            closed,
        }
    }

    /// The position of a switch.
    pub(super) fn position(&self, gear: GearId) -> Option<u16> {
        self.positions.get(gear.index()).copied()
    }

    /// Whether a contact or device between two terminals lets current through.
    pub(super) fn closes(&self, one: TerminalId, other: TerminalId) -> bool {
        self.closed.contains(&(one.min(other), one.max(other)))
    }

    /// Whether a bank reaches a terminal, or current passes it.
    pub(super) fn is_strong(&self, system: &System, terminal: TerminalId) -> bool {
        self.strong[system.node_of(terminal).index()]
    }

    /// Whether a part between two terminals is live: a load when it draws, all else when a terminal is.
    pub(super) fn is_live(&self, system: &System, ends: [TerminalId; 2]) -> bool {
        let node = &system.nodes[system.node_of(ends[0]).index()];
        let load = node.links.iter().find_map(|link| {
            let link = &system.links[link.index()];
            match link.kind {
                LinkKind::Load(load) if ends.contains(&link.a) && ends.contains(&link.b) => {
                    Some(load)
                }
                _ => None,
            }
        });
        match load {
            Some(load) => self.draws[load.index()],
            None => ends.iter().any(|&end| self.is_strong(system, end)),
        }
    }

    /// Whether a conductor is live.
    pub(super) fn is_live_wire(&self, id: ConductorId) -> bool {
        self.live[id.index()]
    }

    /// What stands at a conductor in place of its size: its current.
    #[must_use]
    pub fn wire_words(&self, id: ConductorId) -> String {
        match self.amps[id.index()] {
            Some(_) if self.unknown[id.index()] => format!("{NOT_GIVEN} A"),
            Some(amps) if self.is_live_wire(id) => told_amps(amps, Rounding::Nearest).to_string(),
            _ => String::new(),
        }
    }

    /// Voltage of every terminal against the negative of its bank, by its name; those that a meter reads nothing at
    /// are missing.
    #[must_use]
    pub fn voltages(&self, system: &System) -> BTreeMap<String, String> {
        (0..system.terminals.len())
            .filter_map(|index| {
                let terminal = TerminalId::at(index);
                let volts = self.volts[system.node_of(terminal).index()].clone()?;
                Some((system.terminal_name(terminal), volts))
            })
            .collect()
    }
}

/// Links from a node to the nearest that is passed, over those that let current through; none where there is no way.
fn way(system: &System, state: &State, from: NodeId, passed: &[bool]) -> Vec<LinkId> {
    let mut came: BTreeMap<NodeId, (NodeId, LinkId)> = BTreeMap::new();
    let mut waiting = VecDeque::from([from]);
    while let Some(node) = waiting.pop_front() {
        if passed[node.index()] {
            let mut links = Vec::new();
            let mut at = node;
            while at != from
                && let Some(&(before, link)) = came.get(&at)
            {
                links.push(link);
                at = before;
            }
            return links;
        }
        for &link in &system.nodes[node.index()].links {
            if !conducts(system, link) || !state.closes(system, link) {
                continue;
            }
            let next = across(system, link, node);
            if next != from && !came.contains_key(&next) {
                came.insert(next, (node, link));
                waiting.push_back(next);
            }
        }
    }
    Vec::new()
}

/// Makes shapes thin and pale; lettering stays readable.
pub(super) fn fade(shapes: &mut [Shape]) {
    for shape in shapes {
        if let Some(stroke) = &mut shape.stroke {
            stroke.colour = PALE;
            stroke.width *= THIN;
            if matches!(shape.mark, Mark::Halo | Mark::Wire) {
                stroke.dash = Some(BROKEN);
            }
        }
        match (&shape.form, &mut shape.fill) {
            (Form::Text { .. }, Some(fill)) => *fill = PALE_TEXT,
            (_, Some(fill)) if *fill != Rgb::WHITE => *fill = PALE,
            _ => {}
        }
    }
}

/// Lays the blades of contacts flat: drawn open they rise from the line to one side.
pub(super) fn close_blades(shapes: &mut [Shape]) {
    for shape in shapes {
        if let Form::Polyline(points) = &mut shape.form
            && let [end, hinge, tip] = points.as_mut_slice()
            && (end.1 - hinge.1).abs() < 1e-9
            && (tip.1 - hinge.1).abs() > 1.0
            && (tip.0 - hinge.0).abs() > 1.0
        {
            // To the fixed contact, which lies a little behind the raised tip.
            tip.0 += if tip.0 < hinge.0 { -0.4 } else { 0.4 };
            tip.1 = hinge.1;
        }
    }
}
