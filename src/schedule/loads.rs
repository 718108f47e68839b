//! The load list: what each load takes, how it is used, and which circuit feeds it.
//!
//! Sums hold only what the file gives; what is missing is counted beside them.

use super::cautions;
use super::paper::{Block, Cell, Column, Field, Orientation, Sheet, Table};
use crate::analysis::Facts;
use crate::analysis::voltage_drop::{self, SolvedDrop, load_limit};
use crate::system::{Circuit, Duty, Load, LoadId, LoadKind, Service, System};
use crate::units::{
    AmpHours, Amps, Rounding, Watts, amps, daily_amp_hours, decimal, percent, volts, watts,
};

const COLUMNS: &[&str] = &[
    "load",
    "name",
    "circuit",
    "function",
    "kind",
    "service",
    "duty",
    "nominal_v",
    "draw_a",
    "draw_w",
    "peak_a",
    "stall_a",
    "standby_a",
    "hours_per_day_h",
    "charge_per_day_ah",
    "vital",
    "always_on",
    "bank",
    "largest_fuse_a",
    "rule_drop_v",
    "rule_drop_percent",
    "rule_drop_complete",
    "rule_drop_state",
    "rule_drop_feeder_v",
    "rule_drop_branch_v",
    "rule_drop_positive_v",
    "rule_drop_negative_v",
    "solved_at_load_v",
    "solved_at_source_v",
    "solved_drop_v",
    "solved_drop_percent",
    "solved_drop_state",
    "solved_drop_feeder_v",
    "solved_drop_branch_v",
    "solved_drop_positive_v",
    "solved_drop_negative_v",
    "solved_drop_joints_v",
    "drop_limit_percent",
    "fails",
    "zone",
];

/// One record a load, or an input of a load.
#[must_use]
pub fn load_table(facts: &Facts<'_>) -> Table {
    let system = facts.system;
    let rows = rows(system)
        .map(|Row { id, load, circuit }| {
            let component = &system.components[load.component.index()];
            let current = |value: Option<Amps>| Cell::maybe(value.map(|value| value.0), 3);
            let drop = facts.drops.of(id);
            let solved = facts.drops.solved(id);
            vec![
                Cell::text(&load.name),
                Cell::text(&component.label),
                Cell::text(circuit.map_or("", |circuit| circuit.number.as_str())),
                Cell::text(circuit.map_or("", |circuit| circuit.function.as_str())),
                Cell::text(kind_words(load.kind)),
                Cell::text(service_words(load.service)),
                Cell::text(duty_words(load.duty)),
                Cell::number(load.nominal.value.0, 2),
                current(load.current()),
                Cell::maybe(power(load).map(|power| power.0), 1),
                current(load.peak.map(|peak| peak.value)),
                current(load.stall.map(|stall| stall.value)),
                current(standby(load)),
                Cell::maybe(load.hours.map(|hours| hours.value.0), 2),
                Cell::maybe(charge_per_day(facts, id).map(|charge| charge.0), 2),
                Cell::text(yes_no(Some(load.vital))),
                Cell::text(yes_no(load.always_on.map(|given| given.value))),
                Cell::text(bank(system, load)),
                current(load.largest_fuse.map(|fuse| fuse.value)),
                Cell::maybe(drop.map(|drop| drop.total.0), 3),
                Cell::maybe(drop.map(|drop| drop.percent), 2),
                Cell::text(drop.map_or("", |drop| yes_no(Some(drop.missing.is_empty())))),
                Cell::text(
                    drop.map_or_else(String::new, |drop| voltage_drop::words(system, &drop.case)),
                ),
                Cell::maybe(drop.map(|drop| drop.split.feeder().0), 3),
                Cell::maybe(drop.map(|drop| drop.split.branch().0), 3),
                Cell::maybe(drop.map(|drop| drop.split.positive().0), 3),
                Cell::maybe(drop.map(|drop| drop.split.negative().0), 3),
                Cell::maybe(solved.map(|solved| solved.at_load.0), 2),
                Cell::maybe(solved.map(|solved| solved.at_source.0), 2),
                Cell::maybe(solved.map(|solved| solved.lost().0), 3),
                Cell::maybe(solved.map(|solved| solved_percent(load, &solved)), 2),
                Cell::text(solved.map_or_else(String::new, |solved| solved.words(system))),
                Cell::maybe(solved.map(|solved| solved.split.feeder().0), 3),
                Cell::maybe(solved.map(|solved| solved.split.branch().0), 3),
                Cell::maybe(solved.map(|solved| solved.split.positive().0), 3),
                Cell::maybe(solved.map(|solved| solved.split.negative().0), 3),
                Cell::maybe(solved.map(|solved| solved.joints.0), 3),
                Cell::number(load_limit(system, load).percent, 1),
                Cell::text(fails(facts, id)),
                Cell::text(zone(system, load)),
            ]
        })
        .collect();
    Table {
        stem: "load-list",
        columns: COLUMNS,
        rows,
    }
}

/// The list for the desk and the bench.
#[must_use]
pub fn load_sheet(facts: &Facts<'_>) -> Sheet {
    let system = facts.system;
    let rows: Vec<Vec<Field>> = rows(system).map(|row| sheet_row(facts, &row)).collect();
    Sheet {
        stem: "load-list",
        title: "Load list",
        orientation: Orientation::Across,
        remarks: vec![
            "Currents at nominal voltage, as the netlist gives them. Charge per day: hours a day at the draw; the rest at standby where no hand switches it off. \
             Drop: round trip in the worst case, by the size formula and as solved, rounded up; the table has its parts. A blank is not a zero."
                .to_owned(),
        ],
        columns: vec![
            Column::text("Load", 36.0),
            Column::text("Circuit", 40.0),
            Column::text("Kind, duty", 28.0),
            Column::figure("Nominal", 18.0),
            Column::figure("Draw", 20.0),
            Column::figure("Power", 18.0),
            Column::figure("Peak, stall", 22.0),
            Column::figure("Standby", 18.0),
            Column::figure("h a day", 16.0),
            Column::figure("Ah a day", 18.0),
            Column::figure("Drop", 24.0),
            Column::text("Vital, always on", 24.0),
            Column::text("Zone", 26.0),
        ],
        blocks: vec![Block {
            rows,
            totals: totals(facts),
            ..Block::default()
        }],
        strips: Vec::new(),
        cautions: vec![cautions::ASSUMED],
    }
}

struct Row<'s> {
    id: LoadId,
    load: &'s Load,
    /// The first circuit that serves it.
    circuit: Option<&'s Circuit>,
}

/// Loads in file order; coils of relays and inputs of converters are loads too.
fn rows(system: &System) -> impl Iterator<Item = Row<'_>> {
    let mut circuits: Vec<Option<&Circuit>> = vec![None; system.loads.len()];
    for circuit in &system.circuits {
        if let Some(load) = circuit.load {
            circuits[load.index()].get_or_insert(circuit);
        }
    }
    system
        .loads
        .iter()
        .enumerate()
        .map(move |(index, load)| Row {
            id: LoadId::at(index),
            load,
            circuit: circuits[LoadId::at(index).index()],
        })
}

fn sheet_row(facts: &Facts<'_>, row: &Row<'_>) -> Vec<Field> {
    let system = facts.system;
    let Row { id, load, circuit } = *row;
    let current = |value: Option<Amps>| {
        value.map_or_else(String::new, |value| amps(value, Rounding::Up).to_string())
    };
    let given = |text: String| {
        if text.is_empty() {
            Field::Blank("not given".to_owned())
        } else {
            Field::Text(text)
        }
    };
    vec![
        Field::text(&load.name),
        Field::Lines(circuit.map_or_else(Vec::new, |circuit| {
            vec![circuit.number.clone(), circuit.function.clone()]
        })),
        Field::Lines(vec![
            kind_words(load.kind).to_owned(),
            duty_words(load.duty).to_owned(),
        ]),
        Field::text(volts(load.nominal.value, Rounding::Nearest).to_string()),
        given(current(load.current())),
        given(power(load).map_or_else(String::new, |power| watts(power, Rounding::Up).to_string())),
        Field::Lines(vec![
            current(load.peak.map(|peak| peak.value)),
            current(load.stall.map(|stall| stall.value)),
        ]),
        Field::text(current(standby(load))),
        given(
            load.hours
                .map_or_else(String::new, |hours| decimal(hours.value.0, 1)),
        ),
        given(
            charge_per_day(facts, id).map_or_else(String::new, |charge| {
                daily_amp_hours(charge, Rounding::Up).to_string()
            }),
        ),
        Field::Lines(drop_lines(facts, id)),
        Field::Lines(vec![
            yes_no(Some(load.vital)).to_owned(),
            yes_no(load.always_on.map(|given| given.value)).to_owned(),
        ]),
        Field::text(zone(system, load)),
    ]
}

/// Rule drop and solved drop one under the other, and which of them is above its limit.
fn drop_lines(facts: &Facts<'_>, id: LoadId) -> Vec<String> {
    let load = &facts.system.loads[id.index()];
    let mut lines = Vec::new();
    if let Some(drop) = facts.drops.of(id) {
        let least = if drop.missing.is_empty() {
            ""
        } else {
            "at least "
        };
        lines.push(format!(
            "{least}{} rule",
            percent(drop.percent, Rounding::Up)
        ));
    }
    if let Some(solved) = facts.drops.solved(id) {
        let share = percent(solved_percent(load, &solved).max(0.0), Rounding::Up);
        lines.push(format!("{share} solved"));
    }
    let fails = fails(facts, id);
    if !fails.is_empty() {
        lines.push(format!(
            "above {}",
            percent(load_limit(facts.system, load).percent, Rounding::Nearest)
        ));
    }
    lines
}

fn solved_percent(load: &Load, solved: &SolvedDrop) -> f64 {
    solved.lost() / load.nominal.value * 100.0
}

/// Which of the two drops is above the limit of a load.
fn fails(facts: &Facts<'_>, id: LoadId) -> &'static str {
    let load = &facts.system.loads[id.index()];
    let limit = load_limit(facts.system, load).percent + 1e-9;
    let rule = facts.drops.of(id).is_some_and(|drop| drop.percent > limit);
    let solved = facts
        .drops
        .solved(id)
        .is_some_and(|solved| solved_percent(load, &solved) > limit);
    match (rule, solved) {
        (true, true) => "rule and solved",
        (true, false) => "rule",
        (false, true) => "solved",
        (false, false) => "",
    }
}

fn totals(facts: &Facts<'_>) -> Vec<String> {
    let system = facts.system;
    let drawn: Amps = system.loads.iter().filter_map(Load::current).sum();
    let silent = system
        .loads
        .iter()
        .filter(|load| load.draw.is_none())
        .count();
    let ids = || (0..system.loads.len()).map(LoadId::at);
    let daily: AmpHours = ids().filter_map(|id| charge_per_day(facts, id)).sum();
    let timeless = ids()
        .filter(|&id| charge_per_day(facts, id).is_none())
        .count();
    vec![
        format!(
            "All {} loads together: {} with everything on, {} loads without a draw left out",
            system.loads.len(),
            amps(drawn, Rounding::Up),
            silent
        ),
        format!(
            "Charge a day: {}, {} loads without hours, draw or bank left out",
            daily_amp_hours(daily, Rounding::Up),
            timeless
        ),
    ]
}

fn charge_per_day(facts: &Facts<'_>, load: LoadId) -> Option<AmpHours> {
    facts.energy.load(load).charge.ok()
}

fn power(load: &Load) -> Option<Watts> {
    load.current().map(|current| load.nominal.value * current)
}

fn standby(load: &Load) -> Option<Amps> {
    load.standby
        .map(|standby| standby.value.at(load.nominal.value))
}

fn bank<'s>(system: &'s System, load: &Load) -> &'s str {
    load.bank
        .map_or("", |bank| system.banks[bank.value.index()].name.as_str())
}

fn zone<'s>(system: &'s System, load: &Load) -> &'s str {
    system.components[load.component.index()]
        .zone
        .map_or("", |zone| system.zones[zone.index()].name.as_str())
}

fn yes_no(value: Option<bool>) -> &'static str {
    match value {
        Some(true) => "yes",
        Some(false) => "no",
        None => "",
    }
}

fn kind_words(kind: LoadKind) -> &'static str {
    match kind {
        LoadKind::Lamp => "lamp",
        LoadKind::Motor => "motor",
        LoadKind::Electronics => "electronics",
        LoadKind::Heater => "heater",
        LoadKind::Horn => "horn",
        LoadKind::Outlet => "outlet",
        LoadKind::Starter => "starter",
        LoadKind::Coil => "coil",
        LoadKind::ConverterInput => "converter input",
        LoadKind::Other => "other",
    }
}

fn service_words(service: Service) -> &'static str {
    match service {
        Service::NavigationLight => "navigation light",
        Service::BilgePump => "bilge pump",
        Service::BilgeBlower => "bilge blower",
        Service::Electronics => "electronics",
        Service::Alarm => "alarm",
        Service::Panel => "panel",
        Service::Engine => "engine",
        Service::Other => "other",
    }
}

fn duty_words(duty: Duty) -> &'static str {
    match duty {
        Duty::Continuous => "continuous",
        Duty::Intermittent => "intermittent",
        Duty::Surge => "surge",
    }
}
