//! The fuse and panel chart: what stands behind each overcurrent device, in the order of the ways.
//!
//! It prints what the netlist says is fitted; whether that is right is told by the findings.

use super::cautions;
use super::ends::size_words;
use super::paper::{Block, Cell, Column, Field, Orientation, Sheet, Table};
use crate::analysis::Facts;
use crate::analysis::currents::Peak;
use crate::analysis::protection::{Allowed, allowed};
use crate::system::{
    Component, ComponentKind, Conductor, ConductorId, Device, DeviceId, DeviceKind, Load, Origin,
    System,
};
use crate::units::{Amps, Rounding, amps, decimal};

const COLUMNS: &[&str] = &[
    "device",
    "block",
    "way",
    "name",
    "kind",
    "form",
    "rating_a",
    "rating_origin",
    "spare",
    "wire",
    "wire_size",
    "derated_ampacity_a",
    "lawful_limit_a",
    "strict_limit_a",
    "circuit",
    "function",
    "load",
    "current_a",
    "current_complete",
    "load_largest_fuse_a",
    "goes_dead",
    "goes_dead_count",
    "switch",
    "zone",
];

/// Most loads named in one cell of the sheet.
const MOST_NAMES: usize = 8;

/// Most loads named in one cell of the table, whose rows may not grow with the square of the boat.
const MOST_IN_TABLE: usize = 100;

/// One way or single device, with what hangs on it.
struct Row<'s> {
    id: DeviceId,
    device: &'s Device,
    component: &'s Component,
    /// Way of a block; empty for a single device.
    way: &'s str,
    /// Conductors on its load side.
    wires: Vec<&'s Conductor>,
    /// The smallest derated ampacity of them; none while one of them is not rated.
    ampacity: Option<Amps>,
    /// The smallest device limit of the law among them; none while one of them is not rated.
    lawful: Option<Amps>,
    /// Its largest load current.
    peak: &'s Peak,
    /// Loads of the circuits that it feeds, each once.
    loads: Vec<&'s Load>,
    /// Switches of those circuits.
    switches: Vec<&'s str>,
    /// Names for the panel.
    functions: Vec<&'s str>,
    circuits: Vec<&'s str>,
}

/// One record a device.
#[must_use]
pub fn fuse_table(facts: &Facts<'_>) -> Table {
    let system = facts.system;
    let table_rows = rows(facts)
        .iter()
        .map(|row| {
            let device = row.device;
            let block = if row.way.is_empty() {
                ""
            } else {
                row.component.name.as_str()
            };
            let numbers: Vec<&str> = row.wires.iter().map(|wire| wire.number.as_str()).collect();
            let sizes: Vec<String> = row.wires.iter().map(|wire| size_words(wire)).collect();
            let loads: Vec<&str> = row.loads.iter().map(|load| load.name.as_str()).collect();
            vec![
                Cell::text(&device.name),
                Cell::text(block),
                Cell::text(row.way),
                Cell::text(&device.label),
                Cell::text(kind_words(device.kind)),
                Cell::text(form(device)),
                Cell::maybe(device.rating.map(|rating| rating.value.0), 1),
                Cell::text(
                    device
                        .rating
                        .map_or("not given", |rating| origin_words(rating.origin)),
                ),
                Cell::text(if device.spare { "yes" } else { "no" }),
                Cell::text(numbers.join(", ")),
                Cell::text(sizes.join(", ")),
                Cell::maybe(row.ampacity.map(|ampacity| ampacity.0), 2),
                Cell::maybe(row.lawful.map(|limit| limit.0), 2),
                Cell::maybe(row.ampacity.map(|limit| limit.0), 2),
                Cell::text(row.circuits.join(", ")),
                Cell::text(row.functions.join(", ")),
                Cell::text(loads.join(", ")),
                Cell::number(row.peak.amps.0, 2),
                Cell::text(if row.peak.unknown { "no" } else { "yes" }),
                Cell::maybe(row.largest_fuse().map(|fuse| fuse.0), 1),
                Cell::text(row.dead_words(facts, MOST_IN_TABLE)),
                Cell::count(facts.outages.loads(row.id).len()),
                Cell::text(row.switches.join(", ")),
                Cell::text(zone(system, row.component)),
            ]
        })
        .collect();
    Table {
        stem: "fuse-chart",
        columns: COLUMNS,
        rows: table_rows,
    }
}

/// The chart, block by block, to stand beside the devices.
#[must_use]
pub fn fuse_sheet(facts: &Facts<'_>) -> Sheet {
    let system = facts.system;
    let mut blocks: Vec<Block> = Vec::new();
    let mut single = Block {
        title: "Single devices".to_owned(),
        ..Block::default()
    };
    let mut current = None;
    for row in rows(facts) {
        let fields = sheet_row(facts, &row);
        if row.way.is_empty() {
            single.rows.push(fields);
            continue;
        }
        if current != Some(row.device.component) {
            current = Some(row.device.component);
            blocks.push(Block {
                title: format!("Block {}", row.component.name),
                detail: zone(system, row.component).to_owned(),
                ..Block::default()
            });
        }
        if let Some(block) = blocks.last_mut() {
            block.rows.push(fields);
        }
    }
    if !single.rows.is_empty() {
        blocks.insert(0, single);
    }
    Sheet {
        stem: "fuse-chart",
        title: "Fuse and panel chart",
        orientation: Orientation::Across,
        remarks: vec![
            "One copy at the block, one at the helm. Never fit a larger device than printed. A spare way has no device fitted; \
             before it is used, its wire and its device go into the netlist and are checked."
                .to_owned(),
            "Largest device: what the weakest wire behind it allows, rounded down: by the strict limit, its ampacity after \
             derating, and by the law (33 CFR 183.455(c)). The head says which of them judges. \
             Load: the largest current in any declared scenario, else with everything on, rounded up; + where a draw is not given. \
             Goes dead: with the device out, in every position and whatever is charging. Treat a load that is not named as live."
                .to_owned(),
        ],
        columns: vec![
            Column::text("Way", 34.0),
            Column::text("Name", 46.0),
            Column::figure("Rating", 22.0),
            Column::text("Device", 42.0),
            Column::text("Wire", 36.0),
            Column::text("Largest device", 26.0),
            Column::text("Goes dead", 52.0),
            Column::figure("Load", 20.0),
            Column::text("Switch", 36.0),
            Column::tick("Spare"),
        ],
        blocks,
        strips: Vec::new(),
        cautions: [cautions::NEVER_LARGER, cautions::DISCONNECT]
            .into_iter()
            .chain(cautions::for_sources(system))
            .collect(),
    }
}

/// A fuse block with its ways where they are.
#[derive(Clone, Debug, PartialEq)]
pub struct Lid {
    /// Designation of the block.
    pub block: String,
    /// Width and height of its lid in mm; none where the file gives none.
    pub size_mm: Option<(f64, f64)>,
    /// Columns of its ways, filled from the top down.
    pub columns: usize,
    /// Its ways in physical order, spare ones too.
    pub ways: Vec<LidWay>,
}

/// One way of a block.
#[derive(Clone, Debug, PartialEq)]
pub struct LidWay {
    /// Its name on the block.
    pub way: String,
    /// What it serves; `spare` or empty where nothing is on it.
    pub name: String,
    /// Rating: `7.5 A`, `-` for a spare way, `__ A` where it is not given.
    pub rating: String,
    /// Wires on its load side, with their sizes.
    pub wire: String,
}

/// Every fuse block, in file order.
#[must_use]
pub fn lids(facts: &Facts<'_>) -> Vec<Lid> {
    let mut lids: Vec<Lid> = Vec::new();
    let mut current = None;
    for row in rows(facts).iter().filter(|row| !row.way.is_empty()) {
        if current != Some(row.device.component) {
            current = Some(row.device.component);
            let mm = |length: crate::units::Metres| length.0 * 1000.0;
            lids.push(Lid {
                block: row.component.name.clone(),
                size_mm: row
                    .component
                    .size
                    .map(|(width, height)| (mm(width), mm(height))),
                columns: row.component.columns.map_or(1, |columns| columns as usize),
                ways: Vec::new(),
            });
        }
        let name = match (row.device.spare, row.device.label.is_empty()) {
            (true, _) => "spare".to_owned(),
            (false, false) => row.device.label.clone(),
            (false, true) => row.functions.join(", "),
        };
        let rating = match (row.device.spare, row.device.rating) {
            (true, _) => "-".to_owned(),
            (false, Some(rating)) => format!("{} A", plain(rating.value)),
            (false, None) => "__ A".to_owned(),
        };
        let wires = row.wires.iter().map(|wire| {
            let size = size_words(wire);
            format!("{} {size}", wire.number).trim_end().to_owned()
        });
        if let Some(lid) = lids.last_mut() {
            lid.ways.push(LidWay {
                way: row.way.to_owned(),
                name,
                rating,
                wire: wires.collect::<Vec<_>>().join(", "),
            });
        }
    }
    lids
}

/// Each device that is not spare: its name, what it serves, its rating.
pub(super) fn device_lines(facts: &Facts<'_>) -> Vec<[String; 3]> {
    rows(facts)
        .iter()
        .filter(|row| !row.device.spare)
        .map(|row| {
            let name = if row.device.label.is_empty() {
                row.functions.join(", ")
            } else {
                row.device.label.clone()
            };
            let rating = row.device.rating.map_or_else(
                || "__ A".to_owned(),
                |rating| format!("{} A", plain(rating.value)),
            );
            [row.device.name.clone(), name, rating]
        })
        .collect()
}

fn sheet_row(facts: &Facts<'_>, row: &Row<'_>) -> Vec<Field> {
    let system = facts.system;
    let device = row.device;
    let name = if device.label.is_empty() {
        row.functions.join(", ")
    } else {
        device.label.clone()
    };
    let rating = match (device.spare, device.rating) {
        (true, _) => Field::text("spare"),
        (false, Some(rating)) => Field::Strong(format!("{} A", plain(rating.value))),
        (false, None) => Field::Blank("not given".to_owned()),
    };
    let wires = row.wires.iter().map(|wire| {
        let size = size_words(wire);
        format!(
            "{} {}",
            wire.number,
            if size.is_empty() {
                "size not given"
            } else {
                &size
            }
        )
    });
    vec![
        Field::text(if row.way.is_empty() {
            device.name.clone()
        } else {
            format!("way {}", row.way)
        }),
        Field::text(name),
        rating,
        Field::text(
            [
                kind_words(device.kind),
                form(device),
                if row.way.is_empty() {
                    zone(system, row.component)
                } else {
                    ""
                },
            ]
            .into_iter()
            .filter(|words| !words.is_empty())
            .collect::<Vec<_>>()
            .join(", "),
        ),
        Field::Lines(wires.collect()),
        limits(row),
        Field::text(row.dead_words(facts, MOST_NAMES)),
        current(row),
        Field::Lines(row.switches.iter().map(|&name| name.to_owned()).collect()),
        Field::Tick,
    ]
}

/// The strict and the lawful limit, rounded down.
fn limits(row: &Row<'_>) -> Field {
    let (Some(strict), Some(lawful)) = (row.ampacity, row.lawful) else {
        return Field::text("");
    };
    Field::Lines(vec![
        format!("strict {}", amps(strict, Rounding::Down)),
        format!("law {}", amps(lawful, Rounding::Down)),
    ])
}

/// The load current, rounded up; where a draw is not given, the part that is known and a blank for the rest.
fn current(row: &Row<'_>) -> Field {
    let known = amps(row.peak.amps, Rounding::Up);
    match (row.device.spare, row.peak.unknown) {
        (true, _) => Field::text(""),
        (false, true) => Field::Blank(format!("{known} +")),
        (false, false) => Field::text(known.to_string()),
    }
}

fn rows<'f>(facts: &'f Facts<'_>) -> Vec<Row<'f>> {
    facts
        .system
        .devices
        .iter()
        .enumerate()
        .map(|(index, device)| Row::of(facts, DeviceId::at(index), device))
        .collect()
}

impl<'s> Row<'s> {
    fn of(facts: &'s Facts<'_>, id: DeviceId, device: &'s Device) -> Self {
        let system = facts.system;
        let component = &system.components[device.component.index()];
        let out = &system.terminals[system.links[device.link.index()].b.index()];
        let way = if component.kind == ComponentKind::FuseBlock {
            out.name.as_str()
        } else {
            ""
        };
        let mut row = Self {
            id,
            device,
            component,
            way,
            wires: out
                .conductors
                .iter()
                .map(|wire| &system.conductors[wire.index()])
                .collect(),
            ampacity: smallest(facts, &out.conductors, |allowed| allowed.strict.current),
            lawful: smallest(facts, &out.conductors, |allowed| allowed.lawful.current),
            peak: facts.currents.load(device.link),
            loads: Vec::new(),
            switches: Vec::new(),
            functions: Vec::new(),
            circuits: Vec::new(),
        };
        let mut served = Vec::new();
        for wire in row.wires.clone() {
            let Some(circuit) = wire.circuit else {
                push_once(&mut row.functions, &wire.function);
                continue;
            };
            let circuit = &system.circuits[circuit.index()];
            push_once(&mut row.functions, &circuit.function);
            push_once(&mut row.circuits, &circuit.number);
            if let Some(load) = circuit.load
                && !served.contains(&load)
            {
                served.push(load);
                row.loads.push(&system.loads[load.index()]);
            }
            for switch in switches_of(system, circuit) {
                push_once(&mut row.switches, switch);
            }
        }
        row
    }

    /// Loads that go dead with the device, so many at most by name.
    fn dead_words(&self, facts: &Facts<'_>, most: usize) -> String {
        let dead = facts.outages.loads(self.id);
        let named: Vec<&str> = dead
            .iter()
            .take(most)
            .map(|load| facts.system.loads[load.index()].name.as_str())
            .collect();
        let words = named.join(", ");
        match dead.len() - named.len() {
            0 => words,
            more => format!("{words} and {more} more"),
        }
    }

    /// The smallest of the largest fuses that the makers of its loads allow.
    fn largest_fuse(&self) -> Option<Amps> {
        self.loads
            .iter()
            .filter_map(|load| load.largest_fuse)
            .map(|fuse| fuse.value)
            .min_by(Amps::total_cmp)
    }
}

/// The smallest limit among some conductors; none while one of them is not rated.
fn smallest(
    facts: &Facts<'_>,
    wires: &[ConductorId],
    limit: impl Fn(&Allowed) -> Amps,
) -> Option<Amps> {
    let system = facts.system;
    wires
        .iter()
        .map(|&wire| {
            if let Some(allowed) = &facts.protection.cover(wire).allowed {
                return Some(limit(allowed));
            }
            // Nothing feeds it, so no source has a voltage to judge it at.
            let ampacity = facts.ampacities.allowed(system, wire).ok()?;
            let node = system.node_of(system.conductors[wire.index()].from);
            let volts = facts.poles.system_voltage(node);
            let volts = volts.unwrap_or(system.boat.nominal);
            let policy = system.boat.policy.overcurrent;
            Some(limit(&allowed(&ampacity, policy, volts)))
        })
        .collect::<Option<Vec<_>>>()?
        .into_iter()
        .min_by(Amps::total_cmp)
}

/// Parts with positions that a circuit's conductors land on.
fn switches_of<'s>(
    system: &'s System,
    circuit: &'s crate::system::Circuit,
) -> impl Iterator<Item = &'s str> {
    circuit
        .conductors
        .iter()
        .map(|wire| &system.conductors[wire.index()])
        .flat_map(|wire| [wire.from, wire.to])
        .map(|terminal| system.component_of(terminal))
        .filter(|component| {
            matches!(
                component.kind,
                ComponentKind::Switch | ComponentKind::Relay | ComponentKind::Combiner
            )
        })
        .map(|component| component.name.as_str())
}

fn push_once<'s>(names: &mut Vec<&'s str>, name: &'s str) {
    if !name.is_empty() && !names.contains(&name) {
        names.push(name);
    }
}

fn form(device: &Device) -> &str {
    device.form.as_ref().map_or("", |form| form.value.as_str())
}

fn zone<'s>(system: &'s System, component: &Component) -> &'s str {
    component
        .zone
        .map_or("", |zone| system.zones[zone.index()].name.as_str())
}

fn kind_words(kind: DeviceKind) -> &'static str {
    match kind {
        DeviceKind::Fuse => "fuse",
        DeviceKind::Breaker => "breaker",
        DeviceKind::SelfResetting => "self-resetting breaker",
    }
}

fn origin_words(origin: Origin) -> &'static str {
    match origin {
        Origin::Written => "written",
        Origin::Assumed => "assumed",
        Origin::Derived => "derived",
        Origin::Chosen => "chosen",
    }
}

/// A rating without needless decimals: `7.5`, `10`.
fn plain(current: Amps) -> String {
    decimal(current.0, usize::from(current.0.fract() != 0.0))
}
