//! Connector charts: one row a cavity, both mates side by side, and how the face looks from each side.
//!
//! Which contacts can be live when the connector is parted is told on the safe side: every switch may be closed.

use super::ends::{colour_letters, size_words};
use super::paper::{Cell, Table};
use crate::analysis::Facts;
use crate::analysis::readings::Feed;
use crate::analysis::states::{conducts, ends, set_to};
use crate::system::{
    Component, ComponentId, ConductorId, Connector, Contacts, FaceView, Keyway, LinkId, LinkKind,
    LoadId, NodeId, SourceKind, System, TerminalId, TerminalRole,
};
use crate::units::{Rounding, volts};

/// Links that are looked at to find what is live behind parted connectors; a boat that needs more is told so.
const MAX_STEPS: usize = 40_000_000;

/// Cavities in one row of a face that the file does not lay out.
const ASSUMED_ROW: u32 = 12;

/// One half of a cavity.
#[derive(Clone, Debug, PartialEq)]
pub struct Contact {
    /// Conductors that end in it, in file order.
    pub wires: Vec<ConductorId>,
    /// Their numbers.
    pub number: String,
    /// Their sizes.
    pub size: String,
    /// Their colours.
    pub colour: String,
    /// Terminals at their other ends.
    pub far: String,
    /// `pin`, `socket`, `not given`; empty where the cavity is empty.
    pub kind: &'static str,
    /// `seal`, `plug`, `none`, `not given`.
    pub seal: &'static str,
    /// It can be live with the connector parted; none where that was not worked out.
    pub live: Option<bool>,
}

/// One cavity.
#[derive(Clone, Debug, PartialEq)]
pub struct Cavity {
    /// Its number.
    pub number: u32,
    /// Half a and half b.
    pub halves: [Contact; 2],
    /// What its conductors are for.
    pub function: String,
    /// Overcurrent devices that it lies behind.
    pub fuse: String,
    /// What a meter shows against the negative, and with which switches.
    pub expected: String,
}

/// A face as it is looked at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Face {
    /// Rows from the top; none stands for a gap.
    pub rows: Vec<Vec<Option<u32>>>,
    /// Side that carries the key; none when not given.
    pub keyway: Option<Keyway>,
}

/// The chart of one connector.
#[derive(Clone, Debug, PartialEq)]
pub struct ConnectorChart {
    /// The connector.
    pub component: ComponentId,
    /// Its designation.
    pub name: String,
    /// Shape in words; empty when not given.
    pub shape: String,
    /// What the contacts of each half are.
    pub contacts: [Option<Contacts>; 2],
    /// Where each half lies; empty when not given.
    pub zones: [String; 2],
    /// Cavities by number.
    pub cavities: Vec<Cavity>,
    /// The layout of the face is written in the file.
    pub face_given: bool,
    wire_side_a: Face,
}

impl ConnectorChart {
    /// How a half looks from a side.
    ///
    /// The mating face of a half is the mirror image of its wire side. Mates face each other, so the wire side of
    /// half b is the mirror image of the wire side of half a.
    #[must_use]
    pub fn face(&self, half: usize, view: FaceView) -> Face {
        let mirrored = (half == 1) != (view == FaceView::MatingFace);
        if mirrored {
            self.wire_side_a.mirrored()
        } else {
            self.wire_side_a.clone()
        }
    }

    /// Cavities of a half that can be live when parted; none where that was not worked out.
    #[must_use]
    pub fn live(&self, half: usize) -> Option<Vec<u32>> {
        let mut live = Vec::new();
        for cavity in &self.cavities {
            if cavity.halves[half].live? {
                live.push(cavity.number);
            }
        }
        Some(live)
    }

    /// Whether the half has any conductor.
    #[must_use]
    pub fn is_used(&self, half: usize) -> bool {
        self.cavities
            .iter()
            .any(|cavity| !cavity.halves[half].wires.is_empty())
    }

    /// What to know about a half that is parted, in words.
    #[must_use]
    pub fn parted_words(&self, half: usize) -> String {
        let letter = ["a", "b"][half];
        let Some(live) = self.live(half) else {
            return format!(
                "Half {letter}: not worked out whether it is live when parted: take it as live."
            );
        };
        if live.is_empty() {
            return format!("Half {letter} is dead when parted: no battery reaches it.");
        }
        let cavities = numbers(&live);
        match self.contacts[half] {
            Some(Contacts::Sockets) => format!(
                "Half {letter} can be LIVE when parted (cavities {cavities}); its contacts are sockets, as they must be."
            ),
            Some(Contacts::Pins) => format!(
                "WARNING: half {letter} can be LIVE when parted (cavities {cavities}) and carries PINS: turn the connector round."
            ),
            None => format!(
                "Half {letter} can be LIVE when parted (cavities {cavities}): it must carry sockets; the file does not say what it has."
            ),
        }
    }
}

impl Face {
    /// Seen from the other side.
    #[must_use]
    pub fn mirrored(&self) -> Self {
        let width = self.rows.iter().map(Vec::len).max().unwrap_or(0);
        Self {
            rows: self
                .rows
                .iter()
                .map(|row| {
                    let mut row = row.clone();
                    row.resize(width, None);
                    row.reverse();
                    row
                })
                .collect(),
            keyway: self.keyway.map(|side| match side {
                Keyway::Left => Keyway::Right,
                Keyway::Right => Keyway::Left,
                Keyway::Top | Keyway::Bottom => side,
            }),
        }
    }
}

/// Charts of all connectors, in file order.
#[must_use]
pub fn connector_charts(facts: &Facts<'_>) -> Vec<ConnectorChart> {
    let system = facts.system;
    let fed = Fed::new(facts);
    let posts: Vec<NodeId> = facts
        .nets
        .ungrounded()
        .iter()
        .filter(|pole| system.sources[pole.source.index()].kind == SourceKind::Battery)
        .map(|pole| pole.node)
        .collect();
    let mut steps = MAX_STEPS;
    let mut charts = Vec::new();
    for (index, component) in system.components.iter().enumerate() {
        let Some(connector) = &component.connector else {
            continue;
        };
        let id = ComponentId::at(index);
        let live = steps.checked_sub(2 * system.links.len()).map(|rest| {
            steps = rest;
            live_when_parted(system, id, &posts)
        });
        charts.push(chart(
            facts,
            &fed,
            (id, component, connector),
            live.as_deref(),
        ));
    }
    charts
}

/// By node, whether a battery can reach it while a connector is parted.
fn live_when_parted(system: &System, parted: ComponentId, posts: &[NodeId]) -> Vec<bool> {
    let mut reached = vec![false; system.nodes.len()];
    let mut waiting = Vec::new();
    for &post in posts {
        if !std::mem::replace(&mut reached[post.index()], true) {
            waiting.push(post);
        }
    }
    while let Some(node) = waiting.pop() {
        for &id in &system.nodes[node.index()].links {
            let link = &system.links[id.index()];
            let open = matches!(link.kind, LinkKind::Mate { .. }) && link.component == parted;
            let (a, b) = ends(system, id);
            let backwards = matches!(link.kind, LinkKind::Diode { .. }) && a != node;
            let next = if a == node { b } else { a };
            if open || backwards || !conducts(system, id) {
                continue;
            }
            if !std::mem::replace(&mut reached[next.index()], true) {
                waiting.push(next);
            }
        }
    }
    reached
}

/// Which load's way passes every link.
struct Fed<'f> {
    of: Vec<Option<(&'f Feed, bool)>>,
}

impl<'f> Fed<'f> {
    fn new(facts: &'f Facts<'f>) -> Self {
        let mut of: Vec<Option<(&Feed, bool)>> = vec![None; facts.system.links.len()];
        for index in 0..facts.system.loads.len() {
            for feed in facts.feeds.of(LoadId::at(index)) {
                for (links, positive) in [(&feed.positive, true), (&feed.negative, false)] {
                    for link in links {
                        of[link.index()].get_or_insert((feed, positive));
                    }
                }
            }
        }
        Self { of }
    }

    fn link(&self, link: LinkId) -> Option<(&'f Feed, bool)> {
        self.of[link.index()]
    }
}

fn chart(
    facts: &Facts<'_>,
    fed: &Fed<'_>,
    (id, component, connector): (ComponentId, &Component, &Connector),
    live: Option<&[bool]>,
) -> ConnectorChart {
    let system = facts.system;
    let mut cavities: Vec<(u32, LinkId)> = Vec::new();
    for &terminal in &component.terminals {
        for &link in &system.nodes[system.node_of(terminal).index()].links {
            let record = &system.links[link.index()];
            if let LinkKind::Mate { cavity } = record.kind
                && record.component == id
                && record.a == terminal
            {
                cavities.push((cavity, link));
            }
        }
    }
    cavities.sort_unstable();
    let contacts = [0, 1].map(|half| connector.contacts[half].map(|given| given.value));
    let sealed = connector.sealed.map(|given| given.value);
    let rows = cavities
        .iter()
        .map(|&(number, link)| {
            let record = &system.links[link.index()];
            let halves = [record.a, record.b].map(|terminal| {
                let half =
                    usize::from(system.terminals[terminal.index()].role == TerminalRole::Out);
                contact(system, terminal, contacts[half], sealed, live, facts)
            });
            Cavity {
                number,
                function: function(system, &halves),
                fuse: fuse(facts, record.a, &halves),
                expected: expected(facts, fed, link, record.a),
                halves,
            }
        })
        .collect();
    let (wire_side_a, face_given) = face(connector);
    let zones = connector
        .half_zones
        .map(|zone| zone.map_or_else(String::new, |zone| system.zones[zone.index()].name.clone()));
    ConnectorChart {
        component: id,
        name: component.name.clone(),
        shape: connector
            .shape
            .as_ref()
            .map_or_else(String::new, |shape| shape.value.clone()),
        contacts,
        zones,
        cavities: rows,
        face_given,
        wire_side_a,
    }
}

fn contact(
    system: &System,
    terminal: TerminalId,
    contacts: Option<Contacts>,
    sealed: Option<bool>,
    live: Option<&[bool]>,
    facts: &Facts<'_>,
) -> Contact {
    let wires = system.terminals[terminal.index()].conductors.clone();
    let joined = |words: &dyn Fn(ConductorId) -> String| {
        wires
            .iter()
            .map(|&wire| words(wire))
            .filter(|words| !words.is_empty())
            .collect::<Vec<_>>()
            .join("; ")
    };
    let conductor = |wire: ConductorId| &system.conductors[wire.index()];
    let node = system.node_of(terminal);
    Contact {
        number: joined(&|wire| conductor(wire).number.clone()),
        size: joined(&|wire| size_words(conductor(wire))),
        colour: joined(&|wire| colour_letters(conductor(wire))),
        far: joined(&|wire| system.terminal_name(conductor(wire).across(terminal))),
        kind: match (wires.is_empty(), contacts) {
            (true, _) => "",
            (false, Some(Contacts::Pins)) => "pin",
            (false, Some(Contacts::Sockets)) => "socket",
            (false, None) => "not given",
        },
        seal: match (wires.is_empty(), sealed) {
            (true, _) => "plug",
            (false, Some(true)) => "seal",
            (false, Some(false)) => "none",
            (false, None) => "not given",
        },
        live: live.map(|live| live[node.index()] && !facts.nets.is_negative(node)),
        wires,
    }
}

/// The functions of both halves, each once.
fn function(system: &System, halves: &[Contact; 2]) -> String {
    let mut words: Vec<&str> = Vec::new();
    for &wire in halves.iter().flat_map(|half| &half.wires) {
        let function = system.conductors[wire.index()].function.as_str();
        if !function.is_empty() && !words.contains(&function) {
            words.push(function);
        }
    }
    words.join("; ")
}

/// The devices of a positive cavity; a negative has none to be fed by.
fn fuse(facts: &Facts<'_>, terminal: TerminalId, halves: &[Contact; 2]) -> String {
    let system = facts.system;
    let node = system.node_of(terminal);
    if facts.nets.is_negative(node) || halves.iter().all(|half| half.wires.is_empty()) {
        return String::new();
    }
    let devices: Vec<String> = facts
        .branches
        .devices(facts.branches.of(node))
        .iter()
        .map(|device| {
            let device = &system.devices[device.index()];
            match device.rating {
                Some(rating) => format!("{} {}", device.name, amps_words(rating.value.0)),
                None => format!("{} (rating not given)", device.name),
            }
        })
        .collect();
    if devices.is_empty() {
        "none found".to_owned()
    } else {
        devices.join(", ")
    }
}

fn amps_words(value: f64) -> String {
    let text = crate::units::decimal(value, 1);
    format!("{} A", text.trim_end_matches(".0"))
}

/// What a meter shows at a cavity, and in which positions.
fn expected(facts: &Facts<'_>, fed: &Fed<'_>, mate: LinkId, terminal: TerminalId) -> String {
    let system = facts.system;
    let node = system.node_of(terminal);
    // A sensing lead and a contact that no load hangs on are found through the conductors beside the cavity.
    let found = fed.link(mate).or_else(|| {
        let beside = &system.nodes[node.index()].links;
        beside.iter().find_map(|&link| fed.link(link))
    });
    let Some((feed, positive)) = found else {
        return String::new();
    };
    if !positive {
        return "0 V".to_owned();
    }
    let reading = match facts.poles.voltage(node) {
        Some((_, high)) => volts(high, Rounding::Nearest).to_string(),
        None => "battery".to_owned(),
    };
    if feed.moved.is_empty() {
        return format!("{reading}, always");
    }
    let settings: Vec<String> = set_to(system, &feed.moved)
        .iter()
        .map(|set| format!("{} {}", set.switch, set.position))
        .collect();
    format!("{reading} with {}", settings.join(", "))
}

/// The face of half a from its wire side, and whether the file lays it out.
fn face(connector: &Connector) -> (Face, bool) {
    let keyway = connector.keyway.map(|given| given.value);
    if connector.face.is_empty() {
        let count = connector.cavities;
        // Up to three in a row, else two rows, as most shells have; a large one in rows of twelve.
        let length = match count {
            0..=3 => count.max(1),
            _ => count.div_ceil(2).min(ASSUMED_ROW),
        };
        let numbers: Vec<Option<u32>> = (1..=count).map(Some).collect();
        let rows = numbers
            .chunks(length as usize)
            .map(<[Option<u32>]>::to_vec)
            .collect();
        return (Face { rows, keyway }, false);
    }
    let mut rows = connector.face.clone();
    // Cavities that came to light in the runs and are in no row stand in one of their own.
    let rest: Vec<Option<u32>> = (1..=connector.cavities)
        .filter(|number| !rows.iter().flatten().any(|shown| *shown == Some(*number)))
        .map(Some)
        .collect();
    if !rest.is_empty() {
        rows.push(rest);
    }
    let face = Face { rows, keyway };
    match connector.face_view.map(|given| given.value) {
        Some(FaceView::MatingFace) => (face.mirrored(), true),
        Some(FaceView::WireSide) | None => (face, true),
    }
}

/// Numbers in a row: `1 to 4, 7`.
pub(super) fn numbers(list: &[u32]) -> String {
    let mut parts: Vec<(u32, u32)> = Vec::new();
    for &number in list {
        match parts.last_mut() {
            Some(last) if last.1 + 1 == number => last.1 = number,
            _ => parts.push((number, number)),
        }
    }
    parts
        .iter()
        .map(|&(from, to)| match to - from {
            0 => from.to_string(),
            1 => format!("{from}, {to}"),
            _ => format!("{from} to {to}"),
        })
        .collect::<Vec<_>>()
        .join(", ")
}

const COLUMNS: &[&str] = &[
    "connector",
    "cavity",
    "half",
    "wire",
    "size",
    "colour",
    "function",
    "far_end",
    "contact",
    "seal_or_plug",
    "overcurrent_device",
    "expected",
    "live_when_parted",
    "mates_with",
    "zone",
];

/// One record a contact, for machines.
#[must_use]
pub fn connector_table(charts: &[ConnectorChart]) -> Table {
    let mut rows = Vec::new();
    for chart in charts {
        for cavity in &chart.cavities {
            for (half, contact) in cavity.halves.iter().enumerate() {
                let letter = ["a", "b"][half];
                let mate = ["b", "a"][half];
                rows.push(vec![
                    Cell::text(&chart.name),
                    Cell::count(cavity.number as usize),
                    Cell::text(letter),
                    Cell::text(&contact.number),
                    Cell::text(&contact.size),
                    Cell::text(&contact.colour),
                    Cell::text(&cavity.function),
                    Cell::text(&contact.far),
                    Cell::text(contact.kind),
                    Cell::text(contact.seal),
                    Cell::text(&cavity.fuse),
                    Cell::text(&cavity.expected),
                    Cell::text(match contact.live {
                        Some(true) => "can be live",
                        Some(false) => "no",
                        None => "not worked out",
                    }),
                    Cell::text(format!("{}{mate}", cavity.number)),
                    Cell::text(&chart.zones[half]),
                ]);
            }
        }
    }
    Table {
        stem: "connectors",
        columns: COLUMNS,
        rows,
    }
}
