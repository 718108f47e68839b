//! What the drawing of made boats costs, and how good it is.
//!
//! `cargo bench --bench drawing` prints the time of each boat. With `-- --write FOLDER` it also writes the sheets of
//! each boat and its graph, for the measures and the comparison that the README beside this file tells of.

// A measure reads a clock, and prints and writes what it finds; the library does none of it.
#![allow(clippy::disallowed_methods, clippy::print_stdout)]

mod boats;
mod graph;

use loomwright::drawing::{Sheet, SheetOptions, SheetSize, check, schematic};
use loomwright::export::svg;
use loomwright::system::System;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Loads of the made boats.
const LOADS: [usize; 6] = [10, 30, 100, 300, 1000, 3000];
/// Ties in per cent of the loads.
const TIES: [usize; 4] = [0, 5, 10, 20];
/// One number for all.
const SEED: u64 = 7;

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let folder = arguments
        .iter()
        .position(|word| word == "--write")
        .and_then(|at| arguments.get(at + 1))
        .map(PathBuf::from);
    let wanted = |flag: &str| {
        arguments
            .iter()
            .position(|word| word == flag)
            .and_then(|at| arguments.get(at + 1))
            .and_then(|word| word.parse::<usize>().ok())
    };
    let most = wanted("--most").unwrap_or(usize::MAX);
    let least = wanted("--least").unwrap_or(0);
    println!(
        "| loads | ties % | paper | sheet mm | conductors | sheets | crossings a wire | bends a wire | length ratio | overlaps | references | smallest mm | full % | least % | ms |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|");
    for loads in LOADS
        .into_iter()
        .filter(|&loads| (least..=most).contains(&loads))
    {
        for ties in TIES {
            let text = boats::boat(loads, ties, SEED);
            let draft = loomwright::draft(text.as_bytes());
            let boat = draft.boat.expect("a made boat is a boat");
            for size in [
                SheetSize::A3,
                SheetSize::A4,
                SheetSize::Tabloid,
                SheetSize::Letter,
            ] {
                // Every paper, but the large boats on one alone.
                if loads > 300 && size != SheetSize::A3 {
                    continue;
                }
                let name = format!("made-{loads}-{ties}-{size:?}");
                measure(&name, &boat, (loads, ties, size), folder.as_deref());
            }
            if let Some(folder) = &folder {
                let file = folder.join(format!("made-{loads}-{ties}.yaml"));
                std::fs::write(file, &text).expect("the folder can be written to");
                let file = folder.join(format!("made-{loads}-{ties}.json"));
                std::fs::write(file, graph::write(&boat)).expect("the folder can be written to");
            }
        }
    }
}

/// Draws a boat and prints one row.
fn measure(
    name: &str,
    boat: &System,
    (loads, ties, size): (usize, usize, SheetSize),
    folder: Option<&Path>,
) {
    let options = SheetOptions {
        size,
        fingerprint: "0123456789abcdef".to_owned(),
        standing: None,
        selection: None,
    };
    let mut best = Duration::MAX;
    let mut sheets: Vec<Sheet> = Vec::new();
    let mut texts: Vec<String> = Vec::new();
    // The fastest of a few, because the machine may have other work.
    for _ in 0..if loads > 300 { 3 } else { 7 } {
        let start = Instant::now();
        sheets = schematic(boat, &options);
        texts = sheets.iter().map(svg::write).collect();
        best = best.min(start.elapsed());
    }
    if let Some(folder) = folder {
        let folder = folder.join(name);
        std::fs::create_dir_all(&folder).expect("the folder can be written to");
        for (sheet, text) in sheets.iter().zip(&texts) {
            let file = folder.join(format!("schematic-{:03}.svg", sheet.number));
            std::fs::write(file, text).expect("the folder can be written to");
        }
    }
    let counts: Vec<check::Counts> = sheets.iter().map(check::check).collect();
    let sum = |of: fn(&check::Counts) -> usize| counts.iter().map(of).sum::<usize>();
    let wires = sum(|counts| counts.wires) as f64;
    let length: f64 = counts.iter().map(|counts| counts.wire_length).sum();
    let least: f64 = counts.iter().map(|counts| counts.least_length).sum();
    let smallest = counts
        .iter()
        .filter_map(|counts| counts.smallest_label)
        .fold(f64::MAX, f64::min);
    let full = &sheets[..sheets.len() - 1];
    let percent = |share: f64| match full {
        [] => "-".to_owned(),
        _ => format!("{:.0}", 100.0 * share),
    };
    let filled = percent(full.iter().map(|sheet| sheet.filled).sum::<f64>() / full.len() as f64);
    let emptiest = percent(full.iter().map(|sheet| sheet.filled).fold(1.0, f64::min));
    println!(
        "| {loads} | {ties} | {size:?} | {:.0} × {:.0} | {} | {} | {:.3} | {:.3} | {:.3} | {} | {} | {smallest:.1} | {filled} | {emptiest} | {:.1} |",
        sheets[0].width,
        sheets[0].height,
        boat.conductors.len(),
        sheets.len(),
        sum(|counts| counts.crossings) as f64 / wires,
        sum(|counts| counts.bends) as f64 / wires,
        length / least,
        sum(check::Counts::overlaps),
        sum(|counts| counts.references),
        best.as_secs_f64() * 1e3,
    );
}
