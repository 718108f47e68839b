//! The sizing sheet: every size and rating that was chosen or is proposed, what governs it, and the next limit behind.
//!
//! Reasons come from `sizing`, which compared; nothing is chosen or judged here.

use super::cautions;
use super::paper::{Block, Cell, Column, Field, Orientation, Sheet, Table};
use crate::rules::telling::rating as rated;
use crate::system::{ConductorId, Copper, Known, Limit, SizeChoice, Standing, System};
use crate::units::{Metres, decimal};

const COLUMNS: &[&str] = &[
    "kind",
    "element",
    "standing",
    "value",
    "governing_rule",
    "governed_by",
    "next_rule",
    "next_limit",
    "next_value",
    "length_m",
    "copper_mm2_m",
];

/// How a choice was made and how good it is, for the head of the sheet.
const METHOD: &str = "Ratings are the smallest on sale that carry what flows and let loads start. Sizes are the least copper, over the whole \
    boat at once, that passes every rule: contacts and least sizes, ampacity where each conductor lies, protection at every end, drops \
    shared between feeders and branches.";

/// Whether the boat has anything for this sheet.
#[must_use]
pub fn has_choices(system: &System) -> bool {
    !system.chosen.sizes.is_empty() || !system.chosen.ratings.is_empty()
}

/// One record a choice, sizes first.
#[must_use]
pub fn size_table(system: &System) -> Table {
    let chosen = &system.chosen;
    let limit = |limit: &Limit| {
        (
            limit.rule.to_owned(),
            limit.words.clone(),
            limit.asks.clone(),
        )
    };
    let next = |next: &Option<Limit>| next.as_ref().map(limit).unwrap_or_default();
    let sizes = chosen.sizes.iter().map(|choice| {
        let (rule, words, asks) = next(&choice.next);
        vec![
            Cell::text("size"),
            Cell::text(numbers(system, &choice.conductors)),
            Cell::text(word(choice.standing)),
            Cell::text(choice.size.to_string()),
            Cell::text(choice.governs.rule),
            Cell::text(choice.governs.words.clone()),
            Cell::text(rule),
            Cell::text(words),
            Cell::text(asks),
            Cell::maybe(length(system, choice), 3),
            Cell::number(choice.copper, 2),
        ]
    });
    let ratings = chosen.ratings.iter().map(|choice| {
        let (rule, words, asks) = next(&choice.next);
        vec![
            Cell::text("rating"),
            Cell::text(system.devices[choice.device.index()].name.clone()),
            Cell::text(word(choice.standing)),
            Cell::text(rated(choice.rating)),
            Cell::text(choice.governs.rule),
            Cell::text(choice.governs.words.clone()),
            Cell::text(rule),
            Cell::text(words),
            Cell::text(asks),
            Cell::Empty,
            Cell::Empty,
        ]
    });
    Table {
        stem: "sizes",
        columns: COLUMNS,
        rows: sizes.chain(ratings).collect(),
    }
}

/// The sheet for whoever buys the wire, and for whoever asks why it is so thick.
#[must_use]
pub fn size_sheet(system: &System) -> Sheet {
    let chosen = &system.chosen;
    let sizes = |standing: Standing| -> Vec<Vec<Field>> {
        chosen
            .sizes
            .iter()
            .filter(|choice| choice.standing == standing)
            .map(|choice| {
                row(
                    numbers(system, &choice.conductors),
                    choice.size.to_string(),
                    &choice.governs,
                    choice.next.as_ref(),
                )
            })
            .collect()
    };
    let ratings = |standing: Standing| -> Vec<Vec<Field>> {
        chosen
            .ratings
            .iter()
            .filter(|choice| choice.standing == standing)
            .map(|choice| {
                row(
                    system.devices[choice.device.index()].name.clone(),
                    rated(choice.rating),
                    &choice.governs,
                    choice.next.as_ref(),
                )
            })
            .collect()
    };
    let block = |title: &str, detail: &str, rows: Vec<Vec<Field>>| Block {
        title: title.to_owned(),
        detail: detail.to_owned(),
        rows,
        totals: Vec::new(),
    };
    let proposal = "left out of the netlist; the boat as it is stays not proved until they are measured or written";
    let mut blocks = vec![
        block("Sizes", "asked for", sizes(Standing::Chosen)),
        block("Ratings", "asked for", ratings(Standing::Chosen)),
        block("Proposed sizes", proposal, sizes(Standing::Proposed)),
        block("Proposed ratings", proposal, ratings(Standing::Proposed)),
    ];
    blocks.retain(|block| !block.rows.is_empty());
    if let Some(last) = blocks.last_mut() {
        last.totals = totals(&chosen.copper);
    }
    Sheet {
        stem: "sizes",
        title: "Sizes and ratings",
        orientation: Orientation::Across,
        remarks: vec![METHOD.to_owned()],
        columns: vec![
            Column::text("Wire or device", 46.0),
            Column::text("Value", 22.0),
            Column::text("Governed by", 88.0),
            Column::text("Next limit", 88.0),
        ],
        blocks,
        strips: Vec::new(),
        cautions: vec![cautions::NEVER_LARGER],
    }
}

fn row(name: String, value: String, governs: &Limit, next: Option<&Limit>) -> Vec<Field> {
    let told = |limit: &Limit, with_value: bool| {
        let mut words = limit.words.clone();
        if with_value && !limit.asks.is_empty() {
            words = format!("{}: {words}", limit.asks);
        }
        if !limit.rule.is_empty() {
            words = format!("{words} ({})", limit.rule);
        }
        words
    };
    vec![
        Field::text(name),
        Field::Strong(value),
        Field::text(told(governs, false)),
        Field::text(next.map_or_else(String::new, |next| told(next, true))),
    ]
}

fn totals(copper: &Copper) -> Vec<String> {
    if copper.chosen <= 0.0 {
        return Vec::new();
    }
    let kept = copper.chosen - copper.for_spools;
    let quality = if copper.exact {
        "no choice that passes has less".to_owned()
    } else if copper.least <= 0.0 {
        "how little would do was not worked out".to_owned()
    } else {
        format!(
            "no choice that passes has less than {} mm² m, so this is at most {} % above the least",
            decimal(copper.least, 1),
            decimal((kept / copper.least - 1.0).max(0.0) * 100.0, 1)
        )
    };
    let mut lines = vec![format!(
        "Copper of these conductors: {} mm² m (cross-section times length); {quality}",
        decimal(kept, 1)
    )];
    if copper.for_spools > 0.0 {
        lines.push(format!(
            "Added so that fewer different wires are bought: {} mm² m, {} %",
            decimal(copper.for_spools, 1),
            decimal(copper.for_spools / kept * 100.0, 1)
        ));
    }
    lines
}

fn word(standing: Standing) -> &'static str {
    match standing {
        Standing::Chosen => "chosen",
        Standing::Proposed => "proposed",
    }
}

fn length(system: &System, choice: &SizeChoice) -> Option<f64> {
    let lengths: Vec<Known<Metres>> = choice
        .conductors
        .iter()
        .map(|id| system.conductors[id.index()].length)
        .collect();
    lengths
        .iter()
        .map(|length| length.map(|given| given.value.0))
        .sum()
}

fn numbers(system: &System, conductors: &[ConductorId]) -> String {
    conductors
        .iter()
        .map(|id| system.conductors[id.index()].number.as_str())
        .collect::<Vec<_>>()
        .join(", ")
}
