//! The test sheet of a finished harness: a matrix where it fits one page, and the list of what joins.

use super::BoardParts;
use crate::analysis::harness::Bench;
use crate::drawing::bench_page::{Column, HALF, Pager, column, tick};
use crate::drawing::frame::FILING_MARGIN;
use crate::drawing::scene::{Anchor, Rgb, Sheet};
use crate::drawing::words::TEXT;
use crate::schedule::{MATRIX_ENDS, end_words, nets, switches_words};

/// Side of a field of the matrix, in mm.
const FIELD: f64 = 6.2;

const ENDS: &[Column] = &[
    column("end", 10.0),
    column("terminal", 60.0),
    column("wires", 40.0),
];

const NETS: &[Column] = &[
    tick("joins"),
    tick("apart"),
    column("ends that must join each other and nothing else", 70.0),
];

/// The pages of the test.
#[must_use]
pub fn continuity_pages(parts: &BoardParts<'_>) -> Vec<Sheet> {
    let (system, continuity) = (parts.system, parts.continuity);
    let title = format!("Continuity of harness {}", parts.harness.name);
    let mut pager = Pager::upright(parts.head, title.clone());
    pager.paragraph("LOOSE: nothing is plugged in and no ring is on a stud; splices are made, contacts are in their cavities. LANDED: the ends are on their parts, every fuse is out, every breaker open, every connector parted, every battery and load lead off.");
    let switches = switches_words(system, continuity);
    if !switches.is_empty() {
        pager.paragraph(&format!("For the landed test set: {switches}."));
    }
    pager.paragraph("Touch two ends with the tester and move the harness while you do. Never test with a battery joined.");
    let words: Vec<(String, String)> = continuity
        .ends
        .iter()
        .map(|end| end_words(system, end))
        .collect();
    let count = words.len();
    if count <= MATRIX_ENDS {
        pager.heading("Matrix");
        pager.paragraph("Above the diagonal: full circle, must join loose and landed; open circle, must join landed only; empty, must not join. Tick each pair below the diagonal.");
        matrix(&mut pager, parts, count);
    } else {
        pager.paragraph(&format!(
            "The harness has {count} ends, more than a matrix of one page holds: go by the lists."
        ));
    }
    let rows: Vec<Vec<String>> = words
        .iter()
        .enumerate()
        .map(|(index, (terminal, wires))| {
            vec![(index + 1).to_string(), terminal.clone(), wires.clone()]
        })
        .collect();
    pager.halves("Ends", ENDS, &rows);
    let joins = |of| -> Vec<Vec<String>> {
        nets(of)
            .iter()
            .map(|net| {
                let names: Vec<String> = net
                    .iter()
                    .map(|&end| format!("{} {}", end + 1, words[end].0))
                    .collect();
                let alone = if net.len() == 1 {
                    " (joins nothing)"
                } else {
                    ""
                };
                vec![
                    String::new(),
                    String::new(),
                    format!("{}{alone}", names.join(" – ")),
                ]
            })
            .collect()
    };
    let loose = joins(&continuity.loose);
    if continuity.landed == continuity.loose {
        pager.heading("Loose and landed: what joins");
        pager.table(NETS, &loose);
    } else {
        let landed = joins(&continuity.landed);
        pager.beside([
            ("Loose: what joins", NETS, &loose, HALF),
            ("Landed: what joins", NETS, &landed, HALF),
        ]);
    }
    pager.finish(&title)
}

fn matrix(pager: &mut Pager<'_>, parts: &BoardParts<'_>, count: usize) {
    let side = FIELD * (count + 1) as f64;
    let left = FILING_MARGIN;
    let (top, ink) = pager.take(side + 4.0);
    for index in 0..count {
        let along = (index + 1) as f64 * FIELD + FIELD / 2.0;
        let number = (index + 1).to_string();
        let base = TEXT * 0.35;
        ink.text(
            (left + along, top + FIELD / 2.0 + base),
            &number,
            TEXT,
            Anchor::Middle,
        );
        ink.text(
            (left + FIELD / 2.0, top + along + base),
            &number,
            TEXT,
            Anchor::Middle,
        );
        ink.rect(
            (
                left + (index + 1) as f64 * FIELD,
                top + (index + 1) as f64 * FIELD,
            ),
            FIELD,
            FIELD,
            Some(Rgb(170, 170, 170)),
        );
    }
    for line in 1..=count + 1 {
        let at = line as f64 * FIELD;
        ink.line(
            vec![(left + FIELD, top + at), (left + side, top + at)],
            0.18,
        );
        ink.line(
            vec![(left + at, top + FIELD), (left + at, top + side)],
            0.18,
        );
    }
    for row in 0..count {
        for across in row + 1..count {
            let centre = (
                left + (across as f64 + 1.5) * FIELD,
                top + (row as f64 + 1.5) * FIELD,
            );
            if parts.continuity.joins(Bench::Loose, row, across) {
                ink.circle(centre, 1.6, Some(Rgb::BLACK), 0.25);
            } else if parts.continuity.joins(Bench::Landed, row, across) {
                ink.circle(centre, 1.6, None, 0.35);
            }
        }
    }
}
