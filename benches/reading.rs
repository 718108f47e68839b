//! How long a file takes from bytes to records: `cargo bench --bench reading`.

use loomwright::{netlist, source};
use std::fmt::Write;

fn main() {
    divan::main();
}

/// A file of so many runs, with the loads that a boat of that size has.
fn file(runs: usize) -> String {
    let mut text = String::from(
        "loomwright: 1\nboat: {name: Sanderling, practice: us, system: 12 V}\nloads:\n",
    );
    for number in 0..runs / 3 {
        let _ = writeln!(
            text,
            "  load-{number}: {{draw: 60 W, kind: motor, zone: helm, largest-fuse: 10 A}}"
        );
    }
    text.push_str("runs:\n");
    for number in 0..runs {
        let _ = writeln!(
            text,
            "  W{number}: {{from: helm-block.{number}, to: load-{number}.+, gauge: 14 AWG, colour: red, \
             length: 12 ft 6 in, bundle: [bow-loom, trunk]}}"
        );
    }
    text
}

#[divan::bench(args = [100, 1000, 10_000])]
fn text_to_tree(bencher: divan::Bencher<'_, '_>, runs: usize) {
    let text = file(runs);
    bencher.bench(|| source::read(text.as_bytes()));
}

#[divan::bench(args = [100, 1000, 10_000])]
fn tree_to_records(bencher: divan::Bencher<'_, '_>, runs: usize) {
    let reading = source::read(file(runs).as_bytes());
    assert!(reading.diagnostics.is_empty());
    bencher.bench(|| netlist::read(&reading));
}
