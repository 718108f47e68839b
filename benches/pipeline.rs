//! How long a netlist takes from bytes to all papers: `cargo bench --bench pipeline`.

use loomwright::{Want, compile};
use std::fmt::Write;

fn main() {
    divan::main();
}

/// Ways of one fuse block.
const WAYS: usize = 12;

/// Blocks on one pair of bus bars.
const BLOCKS: usize = 20;

/// A boat of so many loads, each with its circuit: blocks of twelve ways behind one battery and one switch.
///
/// Every circuit has a switch, a plug, two zones, a bundle and lengths of its own, as a real one does.
fn boat(loads: usize) -> String {
    let blocks = loads.div_ceil(WAYS);
    let mut text = String::from(
        "loomwright: 1\nboat: {name: Sanderling, practice: us, system: 12 V}\n\
         policy: {insulation: 105 °C}\n\
         zones:\n  bench: {ambient: 30 °C}\n  helm: {ambient: 30 °C}\n  bow: {ambient: 30 °C}\n\
         batteries:\n  house: {bank: house, chemistry: agm, capacity: 200 Ah, cranking: 800 A, zone: bench}\n\
         switches:\n  master: {kind: battery, rating: 300 A, zone: bench}\n",
    );
    for load in 0..loads {
        let _ = writeln!(
            text,
            "  switch-{load}: {{kind: panel, rating: 20 A, zone: helm}}"
        );
    }
    text.push_str("fuses:\n  main-fuse: {rating: 200 A, zone: bench}\n");
    for block in 0..blocks {
        let _ = writeln!(text, "  feed-{block}: {{rating: 60 A, zone: bench}}");
    }
    text.push_str("fuse-blocks:\n");
    for block in 0..blocks {
        let ways: Vec<String> = (1..=WAYS).map(|way| format!("{way}: 10 A")).collect();
        let _ = writeln!(
            text,
            "  block-{block}: {{feed-rating: 100 A, zone: helm, ways: {{{}}}}}",
            ways.join(", ")
        );
    }
    let bars = blocks.div_ceil(BLOCKS);
    text.push_str("buses:\n");
    for bar in 0..bars {
        let _ = writeln!(
            text,
            "  positive-bar-{bar}: {{polarity: positive, studs: {0}, rating: 300 A, zone: bench}}\n  \
             negative-bar-{bar}: {{polarity: negative, studs: {0}, rating: 300 A, zone: bench}}",
            BLOCKS + 1
        );
    }
    for block in 0..blocks {
        let _ = writeln!(
            text,
            "  negative-{block}: {{polarity: negative, studs: {}, rating: 100 A, zone: helm}}",
            WAYS + 1
        );
    }
    text.push_str("loads:\n");
    for load in 0..loads {
        let _ = writeln!(
            text,
            "  load-{load}: {{draw: {} A, kind: lamp, hours: 2 h, zone: bow}}",
            1 + load % 5
        );
    }
    text.push_str(
        "runs:\n  B1: {from: house.+, to: main-fuse.in, gauge: 2/0 AWG, colour: red, length: 6 in}\n  \
         B2: {from: main-fuse.out, to: master.in, gauge: 2/0 AWG, colour: red, length: 2 ft}\n",
    );
    for bar in 0..bars {
        let _ = writeln!(
            text,
            "  P{bar}: {{from: master.out, to: positive-bar-{bar}, gauge: 2/0 AWG, colour: red, length: 2 ft}}\n  \
             M{bar}: {{from: negative-bar-{bar}, to: house.-, gauge: 2/0 AWG, colour: black, length: 3 ft}}"
        );
    }
    for block in 0..blocks {
        let _ = writeln!(
            text,
            "  F{block}: {{from: positive-bar-{bar}, to: feed-{block}.in, gauge: 4 AWG, colour: red, length: 6 in}}\n  \
             G{block}: {{from: feed-{block}.out, to: block-{block}.feed, gauge: 4 AWG, colour: red, length: 8 ft}}\n  \
             N{block}: {{from: negative-{block}, to: negative-bar-{bar}, gauge: 4 AWG, colour: black, length: 8 ft}}",
            bar = block / BLOCKS
        );
    }
    text.push_str("circuits:\n");
    for load in 0..loads {
        let _ = writeln!(
            text,
            "  C{load}: {{name: lamp {load}, feed: block-{block}.{way}, switch: switch-{load}, load: load-{load}, \
             return: negative-{block}, length: [2 ft, {feet} ft], return-length: {feet} ft, gauge: 14 AWG, \
             colour: dark blue, return-colour: black, bundle: loom-{block}}}",
            block = load / WAYS,
            way = load % WAYS + 1,
            feet = 6 + load % 20
        );
    }
    text
}

/// A boat that has about so many runs: three to a circuit, and the feeders.
fn boat_of_runs(runs: usize) -> String {
    boat(runs * WAYS / (3 * WAYS + 3))
}

fn papers(text: &str) -> usize {
    let compiled = compile(text.as_bytes(), Want::Papers);
    assert!(compiled.usable, "{:?}", compiled.findings.first());
    compiled
        .papers
        .iter()
        .map(|paper| paper.content.len())
        .sum()
}

/// Text to all papers, by loads.
#[divan::bench(args = [10, 100, 1000])]
fn papers_by_loads(bencher: divan::Bencher<'_, '_>, loads: usize) {
    let text = boat(loads);
    bencher.bench(|| papers(&text));
}

/// Text to all papers, by runs.
#[divan::bench(args = [1000, 10_000], sample_count = 5)]
fn papers_by_runs(bencher: divan::Bencher<'_, '_>, runs: usize) {
    let text = boat_of_runs(runs);
    bencher.bench(|| papers(&text));
}

/// Text to findings only, by runs.
#[divan::bench(args = [1000, 10_000], sample_count = 5)]
fn findings_by_runs(bencher: divan::Bencher<'_, '_>, runs: usize) {
    let text = boat_of_runs(runs);
    bencher.bench(|| compile(text.as_bytes(), Want::Findings).findings.len());
}
