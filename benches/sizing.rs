//! How long it takes to choose every size and rating of a boat at once: `cargo bench --bench sizing`.

use loomwright::system::System;
use loomwright::{netlist, resolve, sizing, source};
use std::fmt::Write;

fn main() {
    divan::main();
}

/// Ways of one fuse block.
const WAYS: usize = 12;

/// A boat of so many loads with every size and rating open: blocks of twelve ways behind one battery and one switch.
///
/// Feeders and branches share drops of three, five and ten per cent, so that most sizes follow from the whole boat.
fn boat(loads: usize) -> System {
    let blocks = loads.div_ceil(WAYS);
    let mut text = String::from(
        "loomwright: 1\nboat: {name: Sanderling, practice: us, system: 12 V}\n\
         policy: {insulation: 105 °C}\n\
         zones:\n  bench: {ambient: 30 °C}\n  helm: {ambient: 30 °C}\n  bow: {ambient: 40 °C}\n\
         batteries:\n  house: {bank: house, chemistry: agm, capacity: 200 Ah, cranking: 800 A, zone: bench}\n\
         switches:\n  master: {kind: battery, rating: 2000 A, zone: bench}\n\
         fuses:\n  main-fuse: {rating: 500 A, zone: bench}\n",
    );
    for block in 0..blocks {
        let _ = writeln!(text, "  feed-{block}: {{rating: auto, zone: bench}}");
    }
    text.push_str("fuse-blocks:\n");
    for block in 0..blocks {
        let ways: Vec<String> = (1..=WAYS).map(|way| format!("{way}: auto")).collect();
        let _ = writeln!(
            text,
            "  block-{block}: {{form: blade regular, feed-rating: 100 A, zone: helm, ways: {{{}}}}}",
            ways.join(", ")
        );
    }
    let _ = writeln!(
        text,
        "buses:\n  positive-bar: {{polarity: positive, studs: {0}, rating: 2000 A, zone: bench}}\n  \
         negative-bar: {{polarity: negative, studs: {0}, rating: 2000 A, zone: bench}}",
        blocks + 1
    );
    for block in 0..blocks {
        let _ = writeln!(
            text,
            "  negative-{block}: {{polarity: negative, studs: {}, rating: 100 A, zone: helm}}",
            WAYS + 1
        );
    }
    text.push_str("loads:\n");
    for load in 0..loads {
        let drop = [10, 3, 5, 10][load % 4];
        let _ = writeln!(
            text,
            "  load-{load}: {{draw: {} A, kind: lamp, drop: {drop} %, zone: bow}}",
            1 + load % 5
        );
    }
    text.push_str(
        "runs:\n  B1: {from: house.+, to: main-fuse.in, gauge: 4/0 AWG, colour: red, length: 6 in}\n  \
         B2: {from: main-fuse.out, to: master.in, gauge: 4/0 AWG, colour: red, length: 1 ft}\n  \
         P: {from: master.out, to: positive-bar, gauge: 4/0 AWG, colour: red, length: 6 in}\n  \
         M: {from: negative-bar, to: house.-, gauge: 4/0 AWG, colour: black, length: 6 in}\n",
    );
    for block in 0..blocks {
        let feet = 4 + block % 5;
        let _ = writeln!(
            text,
            "  F{block}: {{from: positive-bar, to: feed-{block}.in, gauge: auto, colour: red, length: 6 in}}\n  \
             G{block}: {{from: feed-{block}.out, to: block-{block}.feed, gauge: auto, colour: red, length: {feet} ft}}\n  \
             N{block}: {{from: negative-{block}, to: negative-bar, gauge: auto, colour: black, length: {feet} ft}}"
        );
    }
    text.push_str("circuits:\n");
    for load in 0..loads {
        let _ = writeln!(
            text,
            "  C{load}: {{feed: block-{}.{}, load: load-{load}, return: negative-{}, length: {} ft, gauge: auto, \
             colour: dark blue, return-colour: black}}",
            load / WAYS,
            load % WAYS + 1,
            load / WAYS,
            3 + load % 14
        );
    }
    let reading = source::read(text.as_bytes());
    let document = reading.document.as_ref().expect("it is YAML");
    let (netlist, _) = netlist::read(&reading);
    let (system, _) = resolve::resolve(&netlist.expect("it is a netlist"), document);
    system
}

fn sized(mut system: System) -> f64 {
    sizing::size(&mut system);
    system.chosen.copper.chosen
}

/// All sizes and ratings, by loads.
#[divan::bench(args = [30, 100, 300])]
fn sizes_by_loads(bencher: divan::Bencher<'_, '_>, loads: usize) {
    let system = boat(loads);
    bencher.with_inputs(|| system.clone()).bench_values(sized);
}
