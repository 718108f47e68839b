//! The energy budget: what a day takes from each bank, how long it lasts, what drains it in lay-up, what charges it.
//!
//! All figures come from `analysis::energy`; days are rounded down, charges up.

use super::cautions;
use super::paper::{Block, Cell, Column, Field, Orientation, Sheet, Table};
use crate::analysis::Facts;
use crate::analysis::energy::{
    BankEnergy, Cranking, Layup, LoadEnergy, Missing, Recharge, ScenarioBank, ScenarioEnergy,
    least_voltage,
};
use crate::system::{BankId, Load, LoadId, System};
use crate::units::{
    AmpHours, Amps, Hours, Rounding, amp_hours, amps, daily_amp_hours, decimal, round_down_to,
    round_up_to, volts,
};
use std::fmt::Write;

const COLUMNS: &[&str] = &[
    "bank",
    "load",
    "draw_a",
    "hours_per_day_h",
    "charge_per_day_ah",
    "energy_per_day_wh",
    "standby_a",
    "layup_a",
    "layup",
    "vital",
    "left_out",
];

const BANK_COLUMNS: &[&str] = &[
    "bank",
    "nominal_v",
    "capacity_ah",
    "hour_rate_h",
    "peukert_exponent",
    "usable_percent",
    "usable_ah",
    "charge_per_day_ah",
    "loads_left_out",
    "days",
    "layup_a",
    "layup_days",
    "layup_with_pumps_a",
    "layup_with_pumps_days",
    "layup_loads_unknown",
];

/// Days are told in halves, rounded down.
const HALF_DAY: f64 = 0.5;

/// One record a load.
#[must_use]
pub fn budget_table(facts: &Facts<'_>) -> Table {
    let system = facts.system;
    let rows = (0..system.loads.len())
        .map(|index| {
            let id = LoadId::at(index);
            let load = &system.loads[index];
            let energy = facts.energy.load(id);
            let charge = energy.charge.ok();
            vec![
                Cell::text(energy.bank.map_or("", |bank| bank_name(system, bank))),
                Cell::text(&load.name),
                Cell::maybe(load.current().map(|current| current.0), 3),
                Cell::maybe(load.hours.map(|hours| hours.value.0), 2),
                Cell::maybe(charge.map(|charge| charge.0), 2),
                Cell::maybe(charge.map(|charge| charge.0 * load.nominal.value.0), 1),
                Cell::maybe(standby(load).map(|current| current.0), 3),
                Cell::maybe(layup_current(energy).map(|current| current.0), 4),
                Cell::text(layup_words(energy)),
                Cell::text(if load.vital { "yes" } else { "no" }),
                Cell::text(energy.charge.err().map_or("", missing_words)),
            ]
        })
        .collect();
    Table {
        stem: "energy-budget",
        columns: COLUMNS,
        rows,
    }
}

/// One record a bank.
#[must_use]
pub fn bank_table(facts: &Facts<'_>) -> Table {
    let system = facts.system;
    let rows = (0..system.banks.len())
        .map(|index| {
            let bank = facts.energy.bank(BankId::at(index));
            let (dry, cycling) = bank.layup_days();
            vec![
                Cell::text(&system.banks[index].name),
                Cell::number(bank.nominal.0, 1),
                Cell::maybe(bank.capacity.map(|capacity| capacity.0), 1),
                Cell::number(bank.hour_rate.0, 1),
                Cell::number(bank.exponent, 2),
                Cell::number(bank.usable_share * 100.0, 0),
                Cell::maybe(bank.usable().map(|usable| usable.0), 1),
                Cell::number(bank.day.0, 2),
                Cell::count(bank.left_out.len()),
                Cell::maybe(bank.days(), 3),
                Cell::number(bank.layup_dry.0, 4),
                Cell::maybe(dry, 2),
                Cell::number(bank.layup_cycling.0, 4),
                Cell::maybe(cycling, 2),
                Cell::count(bank.layup_unknown.len()),
            ]
        })
        .collect();
    Table {
        stem: "energy-banks",
        columns: BANK_COLUMNS,
        rows,
    }
}

/// The budget for the desk, bank by bank, then scenario by scenario.
#[must_use]
pub fn budget_sheet(facts: &Facts<'_>) -> Sheet {
    let system = facts.system;
    let mut blocks: Vec<Block> = (0..system.banks.len())
        .map(|index| bank_block(facts, BankId::at(index)))
        .collect();
    let unfed: Vec<LoadId> = (0..system.loads.len())
        .map(LoadId::at)
        .filter(|&load| facts.energy.load(load).bank.is_none())
        .collect();
    if !unfed.is_empty() {
        blocks.push(Block {
            title: "Fed by no bank".to_owned(),
            rows: unfed.iter().map(|&load| row(facts, load)).collect(),
            ..Block::default()
        });
    }
    let scenarios = &facts.energy.scenarios;
    if !scenarios.is_empty() {
        let mut totals: Vec<String> = scenarios
            .iter()
            .flat_map(|scenario| scenario_lines(system, scenario))
            .collect();
        totals.extend(
            (0..system.banks.len()).filter_map(|bank| balance_line(facts, BankId::at(bank))),
        );
        blocks.push(Block {
            title: "Scenarios".to_owned(),
            detail: "Currents as solved, with contacts, cables and loads as they behave".to_owned(),
            totals,
            ..Block::default()
        });
    }
    if !facts.energy.cranking.is_empty() {
        blocks.push(Block {
            title: "Cranking".to_owned(),
            totals: facts
                .energy
                .cranking
                .iter()
                .flat_map(|cranking| cranking_lines(system, cranking))
                .collect(),
            ..Block::default()
        });
    }
    Sheet {
        stem: "energy-budget",
        title: "Energy budget",
        orientation: Orientation::Across,
        remarks: vec![
            "A day at the hours and draws that the netlist gives; what gives none is left out and counted under each bank: a blank is not a zero. \
             Days are rounded down to halves, charges up. Usable share by chemistry (common practice, no source); Peukert's law with the worst exponent of \
             the chemistry where none is given; age, cold and a battery's own discharge are not counted."
                .to_owned(),
            "Lay-up: every battery switch off, all else as it hangs. Pull the fuses of what may die, leave pumps and alarms in, and look at the boat \
             before the days run out."
                .to_owned(),
        ],
        columns: vec![
            Column::text("Load", 52.0),
            Column::figure("Draw", 22.0),
            Column::figure("h a day", 20.0),
            Column::figure("Ah a day", 22.0),
            Column::figure("Wh a day", 22.0),
            Column::figure("Standby", 22.0),
            Column::figure("Lay-up", 24.0),
            Column::text("In lay-up", 40.0),
            Column::text("Vital", 14.0),
            Column::text("Left out", 40.0),
        ],
        blocks,
        strips: Vec::new(),
        cautions: vec![BILGE, cautions::ASSUMED],
    }
}

/// Pumps of a moored boat.
const BILGE: &str = "Do not disable the automatic feed of a bilge pump on a boat that lies afloat, whatever it takes from the battery.";

fn bank_block(facts: &Facts<'_>, bank: BankId) -> Block {
    let system = facts.system;
    let energy = facts.energy.bank(bank);
    let mut loads: Vec<LoadId> = (0..system.loads.len())
        .map(LoadId::at)
        .filter(|&load| facts.energy.load(load).bank == Some(bank))
        .collect();
    // The largest consumers stand first; what gives no charge keeps its place in the file behind them.
    loads.sort_by(|&a, &b| {
        let charge = |load: LoadId| {
            facts
                .energy
                .load(load)
                .charge
                .map_or(-1.0, |charge| charge.0)
        };
        charge(b).total_cmp(&charge(a)).then(a.cmp(&b))
    });
    let mut totals = vec![use_line(energy)];
    totals.extend(left_out_line(system, energy));
    totals.push(layup_line(energy));
    totals.extend(unknown_line(system, energy));
    totals.extend(
        energy
            .recharge
            .iter()
            .map(|recharge| recharge_line(system, recharge)),
    );
    Block {
        title: format!("Bank {}", bank_name(system, bank)),
        detail: capacity_words(energy),
        rows: loads.into_iter().map(|load| row(facts, load)).collect(),
        totals,
    }
}

fn row(facts: &Facts<'_>, id: LoadId) -> Vec<Field> {
    let load = &facts.system.loads[id.index()];
    let energy = facts.energy.load(id);
    let given = |text: Option<String>| match text {
        Some(text) => Field::text(text),
        None => Field::Blank("not given".to_owned()),
    };
    let current = |current: Amps| small_amps(current);
    let charge = energy.charge.ok();
    vec![
        Field::text(&load.name),
        given(load.current().map(current)),
        given(load.hours.map(|hours| hours_words(hours.value))),
        match charge {
            Some(charge) => Field::text(daily_amp_hours(charge, Rounding::Up).to_string()),
            None => Field::Blank(String::new()),
        },
        match charge {
            Some(charge) => Field::text(format!(
                "{} Wh",
                decimal(round_up_to(charge.0 * load.nominal.value.0, 1.0), 0)
            )),
            None => Field::Blank(String::new()),
        },
        Field::text(standby(load).map_or_else(String::new, current)),
        Field::text(layup_current(energy).map_or_else(String::new, current)),
        Field::text(layup_words(energy)),
        Field::text(if load.vital { "yes" } else { "" }),
        Field::text(energy.charge.err().map_or("", missing_words)),
    ]
}

fn capacity_words(energy: &BankEnergy) -> String {
    match (energy.capacity, energy.usable()) {
        (Some(capacity), Some(usable)) => format!(
            "{}, {} at the {} h rate, {} % usable: {}; Peukert exponent {}",
            volts(energy.nominal, Rounding::Nearest),
            amp_hours(capacity, Rounding::Down),
            decimal(energy.hour_rate.0, 0),
            decimal(energy.usable_share * 100.0, 0),
            amp_hours(usable, Rounding::Down),
            decimal(energy.exponent, 2),
        ),
        _ => format!(
            "{}, capacity not given: no endurance can be told",
            volts(energy.nominal, Rounding::Nearest)
        ),
    }
}

fn use_line(energy: &BankEnergy) -> String {
    let day = daily_amp_hours(energy.day, Rounding::Up);
    match energy.days() {
        Some(days) => format!("A day takes {day}: lasts {}", days_words(days)),
        None => format!("A day takes {day}"),
    }
}

fn left_out_line(system: &System, energy: &BankEnergy) -> Option<String> {
    (!energy.left_out.is_empty()).then(|| {
        let names: Vec<String> = energy
            .left_out
            .iter()
            .map(|&(load, missing)| {
                format!(
                    "{} ({})",
                    system.loads[load.index()].name,
                    missing_words(missing)
                )
            })
            .collect();
        format!(
            "Left out of the day, so it takes more than this: {}",
            names.join(", ")
        )
    })
}

fn layup_line(energy: &BankEnergy) -> String {
    let (dry, cycling) = energy.layup_days();
    let words = |current: Amps, days: Option<f64>| match days {
        Some(days) => format!(
            "{}, {} days to the end of the usable share",
            small_amps(current),
            decimal(round_down_to(days, 1.0), 0)
        ),
        None => small_amps(current),
    };
    let mut line = format!(
        "Lay-up, pumps and alarms at rest: {}",
        words(energy.layup_dry, dry)
    );
    if energy.layup_cycling > energy.layup_dry {
        let _ = write!(
            line,
            "; with what floats switch for its hours a day: {}",
            words(energy.layup_cycling, cycling)
        );
    }
    line
}

fn unknown_line(system: &System, energy: &BankEnergy) -> Option<String> {
    (!energy.layup_unknown.is_empty()).then(|| {
        let names: Vec<&str> = energy
            .layup_unknown
            .iter()
            .map(|load| system.loads[load.index()].name.as_str())
            .collect();
        format!(
            "Live in lay-up without a standby current given, so it takes more than this: {}",
            names.join(", ")
        )
    })
}

fn recharge_line(system: &System, recharge: &Recharge) -> String {
    let name = &system.sources[recharge.source.index()].name;
    let Some(current) = recharge.current else {
        return format!("Charged by {name}, whose current is not given");
    };
    let hours = |hours: Option<Hours>| {
        hours.map(|hours| format!("{} h", decimal(round_up_to(hours.0, 0.1), 1)))
    };
    let mut line = format!(
        "Charged by {name} with at most {}",
        amps(current, Rounding::Down)
    );
    if let Some(day) = hours(recharge.day) {
        let _ = write!(line, ": at least {day} for a day's use");
    }
    if let Some(whole) = hours(recharge.whole) {
        let _ = write!(line, ", {whole} for all that is usable");
    }
    line
}

fn scenario_lines(system: &System, energy: &ScenarioEnergy) -> Vec<String> {
    let record = &system.scenarios[energy.scenario.index()];
    let head = match energy.hours {
        Some(hours) => format!("{}, {}", record.title, hours_words(hours)),
        None => format!("{}, hours not given", record.title),
    };
    match &energy.banks {
        Err(error) => vec![format!("{head}: no answer, {error}")],
        Ok(banks) => banks
            .iter()
            .filter(|bank| bank.current.abs() >= Amps(0.005))
            .map(|bank| format!("{head}: {}", scenario_bank(system, bank)))
            .collect(),
    }
}

fn scenario_bank(system: &System, bank: &ScenarioBank) -> String {
    let name = bank_name(system, bank.bank);
    let charge = |charge: AmpHours| daily_amp_hours(charge.abs(), Rounding::Up).to_string();
    if bank.current < Amps(0.0) {
        let mut line = format!("bank {name} takes in {}", small_amps(bank.current.abs()));
        if let Some(taken) = bank.charge {
            let _ = write!(line, ", {}", charge(taken));
        }
        if let Some(full) = bank.full_after {
            let _ = write!(
                line,
                "; at this current full after {} at the least",
                time_words(full)
            );
        }
        return line;
    }
    let mut line = format!("bank {name} gives {}", small_amps(bank.current));
    if let Some(given) = bank.charge {
        let _ = write!(line, ", {}", charge(given));
    }
    if let Some(endurance) = bank.endurance {
        let _ = write!(
            line,
            "; its usable share ends after {} of this",
            time_words(endurance)
        );
    }
    line
}

/// A time, rounded down: in minutes under an hour, in seconds under two minutes.
fn time_words(time: Hours) -> String {
    let (value, step, places, unit) = if time.0 >= 1.0 {
        (time.0, 0.1, 1, "h")
    } else if time.0 * 60.0 >= 2.0 {
        (time.0 * 60.0, 1.0, 0, "min")
    } else {
        (time.0 * 3600.0, 1.0, 0, "s")
    };
    format!("{} {unit}", decimal(round_down_to(value, step), places))
}

/// What all scenarios together, each once, leave of a bank.
fn balance_line(facts: &Facts<'_>, bank: BankId) -> Option<String> {
    let (out, into) = facts.energy.balance(bank)?;
    let name = bank_name(facts.system, bank);
    let words = |charge: AmpHours, rounding| daily_amp_hours(charge, rounding).to_string();
    // What is charged counts no more than the battery gives back of it.
    let back = into * (1.0 / facts.energy.charge_return(facts.system, bank));
    let rest = if back >= out {
        "made good".to_owned()
    } else {
        format!("short of {}", words(out - back, Rounding::Up))
    };
    Some(format!(
        "All scenarios with hours, each once: bank {name} gives {}, takes in {} of which it gives back {}: {rest}",
        words(out, Rounding::Up),
        words(into, Rounding::Down),
        words(back, Rounding::Down),
    ))
}

/// What cranking leaves: at the posts, at the starter, and at the electronics that it pulls down furthest.
fn cranking_lines(system: &System, cranking: &Cranking) -> Vec<String> {
    let starter = &system.loads[cranking.load.index()].name;
    let mut lines = vec![
        format!(
            "{starter}: {} at the posts of bank {}, {} at the starter, battery full; a tired one gives less, a stiff engine asks for more",
            volts(cranking.at_battery, Rounding::Down),
            bank_name(system, cranking.bank),
            volts(cranking.at_starter, Rounding::Down)
        ),
        cold_words(system, cranking),
    ];
    let mut dips: Vec<_> = cranking
        .dips
        .iter()
        .map(|dip| {
            let least = least_voltage(&system.loads[dip.load.index()]);
            (dip, dip.cranking - least.0, least)
        })
        .collect();
    dips.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.load.cmp(&b.0.load)));
    if dips.is_empty() {
        lines.push(format!(
            "{starter}: no electronic load is fed while it cranks"
        ));
    }
    for (dip, spare, (least, basis)) in dips.iter().take(MOST_DIPS) {
        let load = &system.loads[dip.load.index()].name;
        let origin = match basis {
            Some(basis) => format!("general range, {basis}"),
            None => "as its maker states".to_owned(),
        };
        let verdict = if spare.0 < 0.0 { "TOO LOW" } else { "enough" };
        lines.push(format!(
            "{starter} {}: {load} falls from {} to {}; it works from {} ({origin}): {verdict}",
            dip.words(system),
            volts(dip.before, Rounding::Nearest),
            volts(dip.cranking, Rounding::Down),
            volts(*least, Rounding::Up),
        ));
    }
    if dips.len() > MOST_DIPS {
        lines.push(format!(
            "{starter}: {} more electronic loads have more to spare",
            dips.len() - MOST_DIPS
        ));
    }
    lines
}

/// How cold the battery is that the figures of a starter count with.
fn cold_words(system: &System, cranking: &Cranking) -> String {
    let starter = &system.loads[cranking.load.index()].name;
    let batteries: Vec<_> = system.banks[cranking.bank.index()]
        .strings
        .iter()
        .flatten()
        .map(|source| &system.sources[source.index()])
        .collect();
    let stated = |battery: &&&crate::system::Source| battery.resistance.is_some();
    let tested = |battery: &&&crate::system::Source| {
        battery.resistance.is_none() && battery.cranking.is_some()
    };
    let warm = batteries.len()
        - batteries.iter().filter(stated).count()
        - batteries.iter().filter(tested).count();
    let mut said = Vec::new();
    if batteries.iter().any(|battery| stated(&battery)) {
        said.push(
            "resistance of the battery as the netlist gives it, whatever temperature that is for",
        );
    }
    if batteries.iter().any(|battery| tested(&battery)) {
        said.push("resistance of the battery as its cranking current shows it in the cold test, at −18 °C");
    }
    if warm > 0 {
        said.push(
            "no cranking current given: resistance of a warm battery of its kind; there is no sourced figure for a cold one, \
             so a cold start dips further than this",
        );
    }
    format!("{starter}: {}", said.join("; "))
}

/// Electronic loads told for one starter on the sheet; the table has them all.
const MOST_DIPS: usize = 5;

/// One record a starter and an electronic load that is fed while it cranks.
#[must_use]
pub fn cranking_table(facts: &Facts<'_>) -> Table {
    let system = facts.system;
    let rows = facts
        .energy
        .cranking
        .iter()
        .flat_map(|cranking| cranking.dips.iter().map(move |dip| (cranking, dip)))
        .map(|(cranking, dip)| {
            let load = &system.loads[dip.load.index()];
            let (least, basis) = least_voltage(load);
            vec![
                Cell::text(&system.loads[cranking.load.index()].name),
                Cell::text(bank_name(system, cranking.bank)),
                Cell::number(cranking.at_battery.0, 2),
                Cell::number(cranking.at_starter.0, 2),
                Cell::text(&load.name),
                Cell::text(dip.scenario.map_or("", |scenario| {
                    system.scenarios[scenario.index()].name.as_str()
                })),
                Cell::number(dip.before.0, 3),
                Cell::number(dip.cranking.0, 3),
                Cell::number(least.0, 2),
                Cell::text(basis.map_or_else(
                    || "maker's statement in the netlist".to_owned(),
                    |basis| basis.to_string(),
                )),
                Cell::text(if dip.cranking < least { "no" } else { "yes" }),
            ]
        })
        .collect();
    Table {
        stem: "cranking-dips",
        columns: CRANKING_COLUMNS,
        rows,
    }
}

const CRANKING_COLUMNS: &[&str] = &[
    "starter",
    "bank",
    "full_at_battery_v",
    "full_at_starter_v",
    "load",
    "scenario",
    "before_v",
    "cranking_v",
    "least_v",
    "least_basis",
    "enough",
];

/// One record a scenario and bank.
#[must_use]
pub fn scenario_table(facts: &Facts<'_>) -> Table {
    let system = facts.system;
    let mut rows = Vec::new();
    for energy in &facts.energy.scenarios {
        let scenario = &system.scenarios[energy.scenario.index()];
        let head = || {
            vec![
                Cell::text(&scenario.name),
                Cell::maybe(energy.hours.map(|hours| hours.0), 2),
                Cell::maybe(scenario.state_of_charge.map(|given| given.value), 0),
            ]
        };
        match &energy.banks {
            Err(error) => {
                let mut row = head();
                row.extend(std::iter::repeat_n(Cell::Empty, 5));
                row.push(Cell::text(error.to_string()));
                rows.push(row);
            }
            Ok(banks) => rows.extend(banks.iter().map(|bank| {
                let mut row = head();
                row.extend([
                    Cell::text(bank_name(system, bank.bank)),
                    Cell::number(bank.current.0, 3),
                    Cell::maybe(bank.charge.map(|charge| charge.0), 2),
                    Cell::maybe(bank.endurance.map(|hours| hours.0), 2),
                    Cell::maybe(bank.full_after.map(|hours| hours.0), 2),
                    Cell::Empty,
                ]);
                row
            })),
        }
    }
    Table {
        stem: "energy-scenarios",
        columns: SCENARIO_COLUMNS,
        rows,
    }
}

const SCENARIO_COLUMNS: &[&str] = &[
    "scenario",
    "hours_h",
    "state_of_charge_percent",
    "bank",
    "current_out_a",
    "charge_out_ah",
    "endurance_h",
    "full_after_h",
    "unsolved",
];

fn bank_name(system: &System, bank: BankId) -> &str {
    &system.banks[bank.index()].name
}

fn standby(load: &Load) -> Option<Amps> {
    load.standby
        .map(|standby| standby.value.at(load.nominal.value))
}

fn layup_current(energy: &LoadEnergy) -> Option<Amps> {
    match energy.layup {
        Layup::Steady(current) | Layup::Cycling(current) => Some(current),
        Layup::Dead | Layup::Unknown => None,
    }
}

fn layup_words(energy: &LoadEnergy) -> &'static str {
    match energy.layup {
        Layup::Dead => "dead",
        Layup::Steady(_) => "live",
        Layup::Cycling(_) => "now and then",
        Layup::Unknown => "live, current not given",
    }
}

fn missing_words(missing: Missing) -> &'static str {
    match missing {
        Missing::Draw => "draw not given",
        Missing::Hours => "hours not given",
        Missing::Bank => "fed by no bank",
    }
}

/// A current that may be far below an ampere.
fn small_amps(current: Amps) -> String {
    if current < Amps(1.0) {
        format!("{} mA", decimal(round_up_to(current.0 * 1000.0, 1.0), 0))
    } else {
        amps(current, Rounding::Up).to_string()
    }
}

fn hours_words(hours: Hours) -> String {
    let places = if hours.0 < 1.0 { 2 } else { 1 };
    format!("{} h", decimal(hours.0, places))
}

/// Days in halves, rounded down; under half a day in hours.
fn days_words(days: f64) -> String {
    if days < HALF_DAY {
        format!("{} h", decimal(round_down_to(days * 24.0, 1.0), 0))
    } else {
        format!("{} days", decimal(round_down_to(days, HALF_DAY), 1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sheet(text: &str) -> Sheet {
        let draft = crate::draft(text.as_bytes());
        let system = draft.boat.expect("a netlist");
        budget_sheet(&Facts::new(&system))
    }

    fn totals(sheet: &Sheet, title: &str) -> Vec<String> {
        sheet
            .blocks
            .iter()
            .find(|block| block.title == title)
            .expect("the block is there")
            .totals
            .clone()
    }

    const MARSH: &str = include_str!("../../examples/marsh-pipit-rev-a.yaml");

    #[test]
    fn days_are_rounded_down_and_charges_up() {
        // 58.91 Ah a day with a radio that transmits for all its three hours; 52.5 Ah usable are 0.89 days.
        let sheet = sheet(MARSH);
        let house = totals(&sheet, "Bank house");
        assert_eq!(house[0], "A day takes 59.0 Ah: lasts 0.5 days");
        // 52.5 Ah over 30 mA are 72.9 days.
        assert_eq!(
            house[1],
            "Lay-up, pumps and alarms at rest: 30 mA, 72 days to the end of the usable share; \
             with what floats switch for its hours a day: 49 mA, 45 days to the end of the usable share"
        );
        // 58.91 Ah and 52.5 Ah, each by 1.15 over 10 A.
        assert!(
            house.contains(
                &"Charged by shore-charger.2 with at most 10 A: at least 6.8 h for a day's use, 6.1 h for all that is usable"
                    .to_owned()
            ),
            "{house:?}"
        );
        // Both outputs of the charger and the alternator, those on the other bank through the combiner.
        assert_eq!(house.len(), 5);
        // The starter itself, then the electronics that are left with least.
        let cranking = totals(&sheet, "Cranking");
        assert_eq!(cranking.len(), 7);
        assert!(
            cranking[1].contains("in the cold test, at −18 °C"),
            "{cranking:?}"
        );
        assert!(
            cranking[2].contains("bank-combiner.standby falls from 12.60 V to 10.8"),
            "{cranking:?}"
        );
    }

    #[test]
    fn the_largest_consumer_stands_first() {
        let sheet = sheet(MARSH);
        let house = sheet
            .blocks
            .iter()
            .find(|block| block.title == "Bank house")
            .expect("the bank is there");
        assert_eq!(house.rows[0][0], Field::text("stereo.main"));
        assert_eq!(house.rows[1][0], Field::text("radio"));
        assert_eq!(house.rows[2][0], Field::text("power-outlets"));
    }

    #[test]
    fn what_is_left_out_is_told() {
        let text = MARSH
            .replace("sidelights: {draw: 1 A, ", "sidelights: {")
            .replace("capacity: 105 Ah, ", "")
            + "\nscenarios:\n  evening: {name: Evening aboard, on: [canopy-lights], hours: 4 h}\n";
        let sheet = sheet(&text);
        let house = totals(&sheet, "Bank house");
        assert!(
            house[1].contains("sidelights (draw not given)"),
            "{house:?}"
        );
        assert!(!house[0].contains("lasts"), "{house:?}");
        let scenarios = totals(&sheet, "Scenarios");
        assert!(
            scenarios[0].starts_with("Evening aboard, 4.0 h: bank house gives 1."),
            "{scenarios:?}"
        );
    }
}
