//! The switch table: what each combination of the battery switches feeds, joins and charges, and what holds in all.
//!
//! For the hand on the switch, and for whoever takes the boat over. What should hold is told among the findings.

use super::cautions;
use super::paper::{Block, Cell, Column, Field, Orientation, Sheet, Table};
use crate::analysis::live::{Live, Liveness};
use crate::analysis::truth::{BankRow, Kept, Promise, Row, Subject, Truth};
use crate::system::{BankId, Gear, GearId, LoadId, SourceId, SourceKind, System};

const COLUMNS: &[&str] = &[
    "positions",
    "normal",
    "all_off",
    "bank",
    "loads_that_can_draw",
    "joined_to",
    "joined_by_combiner_to",
    "charged_by",
    "decided",
];

const PROMISE_COLUMNS: &[&str] = &["promise", "kept", "unless", "shown_by"];

/// Wires named one by one on the sheet before the rest is counted.
const WIRES_ON_SHEET: usize = 80;

/// Loads named one by one on the sheet before the rest is counted.
const NAMES_ON_SHEET: usize = 24;

/// One record a bank in each combination.
#[must_use]
pub fn truth_table(system: &System, truth: &Truth) -> Table {
    let rows = truth
        .rows
        .iter()
        .flat_map(|row| row.banks.iter().map(move |bank| (row, bank)))
        .map(|(row, bank)| {
            vec![
                Cell::text(positions(system, &row.positions, "; ")),
                Cell::text(yes_no(row.normal)),
                Cell::text(yes_no(row.off && !row.positions.is_empty())),
                Cell::text(bank_name(system, bank.bank)),
                Cell::text(loads(system, &bank.loads).join(", ")),
                Cell::text(banks(system, &bank.joined).join(", ")),
                Cell::text(banks(system, &bank.joined_by_itself).join(", ")),
                Cell::text(sources(system, &bank.charged_by).join(", ")),
                Cell::text(yes_no(!bank.undecided)),
            ]
        })
        .collect();
    Table {
        stem: "switch-table",
        columns: COLUMNS,
        rows,
    }
}

/// One record a promise.
#[must_use]
pub fn promise_table(system: &System, truth: &Truth) -> Table {
    let rows = truth
        .promises
        .iter()
        .map(|promise| {
            let shown = match &promise.kept {
                Kept::No(witness) => positions(system, &witness.off_normal, "; "),
                Kept::Yes | Kept::Undecided => String::new(),
            };
            vec![
                Cell::text(sentence(system, promise)),
                Cell::text(kept_word(&promise.kept)),
                Cell::text(positions(system, &promise.unless, "; ")),
                Cell::text(shown),
            ]
        })
        .collect();
    Table {
        stem: "switch-promises",
        columns: PROMISE_COLUMNS,
        rows,
    }
}

/// The sheet to hang beside the battery switches.
#[must_use]
pub fn truth_sheet(system: &System, truth: &Truth, live: &Live) -> Sheet {
    let mut remarks = vec![
        "For each combination of the battery switches: which loads some position of their own switches lets draw on each bank, \
         combiners open. A bank that combiners join by themselves, and what can charge it, stand beside. What is not named is dead."
            .to_owned(),
    ];
    if !truth.complete {
        remarks.push(
            "There are too many combinations to show: each switch is turned by itself, the others in their normal position."
                .to_owned(),
        );
    }
    Sheet {
        stem: "switch-table",
        title: "Switch table",
        orientation: Orientation::Across,
        remarks,
        columns: vec![
            Column::text("Battery switches", 50.0),
            Column::text("Bank", 24.0),
            Column::text("Loads that can draw on it", 110.0),
            Column::text("Joined to", 40.0),
            Column::text("Can be charged by", 52.0),
        ],
        blocks: vec![
            Block {
                title: "Combinations".to_owned(),
                rows: sheet_rows(system, truth),
                ..Block::default()
            },
            Block {
                title: "What holds in every combination of all positions".to_owned(),
                detail: "proved over all states, not read off the rows".to_owned(),
                totals: truth
                    .promises
                    .iter()
                    .map(|promise| told(system, promise))
                    .collect(),
                ..Block::default()
            },
            Block {
                title: "Wires that stay live with every battery switch off".to_owned(),
                detail: "from batteries, solar and what these wake; chargers and engine stopped"
                    .to_owned(),
                totals: live_wires(system, live),
                ..Block::default()
            },
        ],
        strips: Vec::new(),
        cautions: vec![cautions::RUNNING_ENGINE, cautions::ASSUMED],
    }
}

/// Positive wires that are live whatever the other switches, and those that some position of them makes live.
fn live_wires(system: &System, live: &Live) -> Vec<String> {
    let numbers = |wanted: Liveness| -> Vec<&str> {
        system
            .conductors
            .iter()
            .filter(|wire| {
                let ends = [wire.from, wire.to].map(|end| live.node(system.node_of(end)));
                ends.into_iter().max() == Some(wanted)
            })
            .map(|wire| wire.number.as_str())
            .collect()
    };
    let line = |words: &str, numbers: &[&str]| {
        let more = numbers.len().saturating_sub(WIRES_ON_SHEET);
        let mut named = numbers[..numbers.len() - more].join(", ");
        if numbers.is_empty() {
            named.push_str("none");
        }
        if more > 0 {
            named = format!("{named} and {more} more");
        }
        format!("{words}: {named}")
    };
    vec![
        line("Always", &numbers(Liveness::Always)),
        line(
            "In some position of another switch",
            &numbers(Liveness::Somewhen),
        ),
    ]
}

fn sheet_rows(system: &System, truth: &Truth) -> Vec<Vec<Field>> {
    let mut rows = Vec::new();
    for (index, row) in truth.rows.iter().enumerate() {
        for (number, bank) in row.banks.iter().enumerate() {
            let first = if number == 0 {
                row_title(system, row)
            } else {
                Vec::new()
            };
            rows.push(vec![
                Field::Lines(first),
                Field::text(bank_name(system, bank.bank)),
                Field::Lines(load_lines(system, truth, (index, number), bank)),
                Field::Lines(joined_lines(system, bank)),
                Field::Lines(sources(system, &bank.charged_by)),
            ]);
        }
    }
    rows
}

pub(super) fn row_title(system: &System, row: &Row) -> Vec<String> {
    if row.positions.is_empty() {
        return vec!["no battery switch".to_owned()];
    }
    let mut lines: Vec<String> = row
        .positions
        .iter()
        .map(|&position| set_words(system, position))
        .collect();
    match (row.normal, row.off) {
        (true, true) => lines.push("(normal, all off)".to_owned()),
        (true, false) => lines.push("(normal)".to_owned()),
        (false, true) => lines.push("(all off)".to_owned()),
        (false, false) => {}
    }
    lines
}

/// The loads of a bank, by reference to one named before where they are the same.
fn load_lines(
    system: &System,
    truth: &Truth,
    (index, number): (usize, usize),
    bank: &BankRow,
) -> Vec<String> {
    let mut lines = Vec::new();
    let many = bank.loads.len() > 3;
    let earlier = truth.rows[..index].iter().find(|row| {
        row.banks
            .iter()
            .any(|other| other.bank == bank.bank && other.loads == bank.loads)
    });
    let beside = truth.rows[index].banks[..number]
        .iter()
        .find(|other| other.loads == bank.loads);
    match (beside, earlier) {
        _ if bank.loads.is_empty() => lines.push("none".to_owned()),
        (Some(other), _) if many => lines.push(format!(
            "the same {} as {}",
            bank.loads.len(),
            bank_name(system, other.bank)
        )),
        (_, Some(row)) if many => lines.push(format!(
            "the same {} as with {}",
            bank.loads.len(),
            positions(system, &row.positions, ", ")
        )),
        _ => {
            let names = loads(system, &bank.loads);
            let more = names.len().saturating_sub(NAMES_ON_SHEET);
            let mut text = names[..names.len() - more].join(", ");
            if more > 0 {
                text = format!("{text} and {more} more");
            }
            lines.push(text);
        }
    }
    if bank.undecided {
        lines.push("not decided: may be fewer".to_owned());
    }
    lines
}

fn joined_lines(system: &System, bank: &BankRow) -> Vec<String> {
    let mut lines = banks(system, &bank.joined);
    lines.extend(
        banks(system, &bank.joined_by_itself)
            .into_iter()
            .map(|name| format!("{name}, when the combiner closes")),
    );
    lines
}

/// A promise with its outcome in front, for the sheet.
fn told(system: &System, promise: &Promise) -> String {
    let sentence = sentence(system, promise);
    match &promise.kept {
        Kept::Yes => sentence,
        Kept::Undecided => format!("Not decided: {sentence}"),
        Kept::No(witness) if witness.off_normal.is_empty() => {
            format!("NOT KEPT, as the switches normally stand: {sentence}")
        }
        Kept::No(witness) => format!(
            "NOT KEPT, as {} shows: {sentence}",
            positions(system, &witness.off_normal, ", ")
        ),
    }
}

/// A promise in plain words.
fn sentence(system: &System, promise: &Promise) -> String {
    let unless = if promise.unless.is_empty() {
        String::new()
    } else {
        let words: Vec<String> = promise
            .unless
            .iter()
            .map(|&position| stands_words(system, position))
            .collect();
        format!(", unless {}", words.join(" or "))
    };
    match &promise.subject {
        Subject::Apart(one, other) => format!(
            "In no position are banks {} and {} joined{unless}.",
            bank_name(system, *one),
            bank_name(system, *other)
        ),
        Subject::StartBank(bank, drains) => {
            let culprits = if drains.is_empty() {
                String::new()
            } else {
                format!(" ({})", loads(system, drains).join(", "))
            };
            format!(
                "In no position does a house load draw on bank {}{unless}{culprits}.",
                bank_name(system, *bank)
            )
        }
        Subject::OnlyLiveWhenOff(live) if live.is_empty() => {
            "With every battery switch off no load is live.".to_owned()
        }
        Subject::OnlyLiveWhenOff(live) => format!(
            "With every battery switch off only {} can be live.",
            loads(system, live).join(", ")
        ),
        Subject::AlwaysFed(loads_fed) => format!(
            "Wherever the battery switches stand, a bank can feed {}.",
            loads(system, loads_fed).join(", ")
        ),
        Subject::AlternatorHasBattery(source) => format!(
            "In no position of the battery switches is {} without a battery.",
            system.sources[source.index()].name
        ),
        Subject::NothingShorted => {
            "In no position of any switch or relay is a source shorted.".to_owned()
        }
    }
}

fn kept_word(kept: &Kept) -> &'static str {
    match kept {
        Kept::Yes => "yes",
        Kept::No(_) => "no",
        Kept::Undecided => "not decided",
    }
}

/// `battery-switch at combine`, several with a mark between.
fn positions(system: &System, set: &[(GearId, u16)], between: &str) -> String {
    let words: Vec<String> = set
        .iter()
        .map(|&position| set_words(system, position))
        .collect();
    words.join(between)
}

fn set_words(system: &System, (gear, position): (GearId, u16)) -> String {
    let gear = &system.gears[gear.index()];
    format!("{} at {}", gear.name, position_name(gear, position))
}

fn stands_words(system: &System, (gear, position): (GearId, u16)) -> String {
    let gear = &system.gears[gear.index()];
    if gear.automatic {
        format!("{} is {}", gear.name, position_name(gear, position))
    } else {
        format!("{} stands at {}", gear.name, position_name(gear, position))
    }
}

fn position_name(gear: &Gear, position: u16) -> &str {
    gear.positions
        .get(usize::from(position))
        .map_or("", |position| position.name.as_str())
}

pub(super) fn bank_name(system: &System, bank: BankId) -> &str {
    &system.banks[bank.index()].name
}

fn banks(system: &System, banks: &[BankId]) -> Vec<String> {
    banks
        .iter()
        .map(|&bank| bank_name(system, bank).to_owned())
        .collect()
}

fn loads(system: &System, loads: &[LoadId]) -> Vec<String> {
    loads
        .iter()
        .map(|load| system.loads[load.index()].name.clone())
        .collect()
}

fn sources(system: &System, sources: &[SourceId]) -> Vec<String> {
    sources
        .iter()
        .map(|source| {
            let source = &system.sources[source.index()];
            match source.kind {
                SourceKind::Converter => format!("{} (converter)", source.name),
                _ => source.name.clone(),
            }
        })
        .collect()
}

fn yes_no(value: bool) -> &'static str {
    if value { "yes" } else { "no" }
}
