//! The bench test of a finished harness: which ends must join, which must not.

use super::paper::{Cell, Table};
use crate::analysis::harness::{Continuity, EndPoint, Harness, Harnesses};
use crate::analysis::states::set_to;
use crate::system::System;

/// Most ends that a matrix shows on one page; more are listed.
pub const MATRIX_ENDS: usize = 24;

/// An end in words: `helm-plug.3b`, with the wires that end there.
#[must_use]
pub fn end_words(system: &System, end: &EndPoint) -> (String, String) {
    let wires: Vec<&str> = end
        .conductors
        .iter()
        .map(|wire| system.conductors[wire.index()].number.as_str())
        .collect();
    (system.terminal_name(end.terminal), wires.join(", "))
}

/// Switches of the harness and how they are to stand for the landed test.
#[must_use]
pub fn switches_words(system: &System, continuity: &Continuity) -> String {
    let settings: Vec<String> = set_to(system, &continuity.switches)
        .iter()
        .map(|set| format!("{} {}", set.switch, set.position))
        .collect();
    settings.join(", ")
}

/// Ends that join, set by set, in order; a set of one joins nothing.
#[must_use]
pub fn nets(of: &[usize]) -> Vec<Vec<usize>> {
    let count = of.iter().map(|net| net + 1).max().unwrap_or(0);
    let mut nets = vec![Vec::new(); count];
    for (end, &net) in of.iter().enumerate() {
        nets[net].push(end);
    }
    nets
}

const COLUMNS: &[&str] = &[
    "harness",
    "end",
    "terminal",
    "wires",
    "net_loose",
    "net_landed",
    "must_join_loose",
    "must_join_landed",
];

/// One record an end: ends of one net must join, ends of two must not.
pub(super) fn continuity_table(
    system: &System,
    harnesses: &Harnesses,
    continuities: &[Continuity],
) -> Table {
    let mut rows = Vec::new();
    for (harness, continuity) in harnesses.list.iter().zip(continuities) {
        rows.extend(records(system, harness, continuity));
    }
    Table {
        stem: "continuity",
        columns: COLUMNS,
        rows,
    }
}

fn records(system: &System, harness: &Harness, continuity: &Continuity) -> Vec<Vec<Cell>> {
    let sets = [nets(&continuity.loose), nets(&continuity.landed)];
    let others = |end: usize, which: usize, net: usize| {
        let others: Vec<String> = sets[which][net]
            .iter()
            .filter(|&&other| other != end)
            .map(|other| (other + 1).to_string())
            .collect();
        Cell::text(others.join(" "))
    };
    continuity
        .ends
        .iter()
        .enumerate()
        .map(|(index, end)| {
            let (terminal, wires) = end_words(system, end);
            let (loose, landed) = (continuity.loose[index], continuity.landed[index]);
            vec![
                Cell::text(&harness.name),
                Cell::count(index + 1),
                Cell::text(terminal),
                Cell::text(wires),
                Cell::count(loose + 1),
                Cell::count(landed + 1),
                others(index, 0, loose),
                others(index, 1, landed),
            ]
        })
        .collect()
}
