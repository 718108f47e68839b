//! How long the proofs over all switch positions take: `cargo bench --bench proofs`.

use loomwright::analysis::Facts;
use loomwright::analysis::isolation::{Isolation, Nets};
use loomwright::analysis::live::Live;
use loomwright::analysis::protection::Protection;
use loomwright::analysis::states::{Answer, Constraints, Reach};
use loomwright::system::{NodeId, System};
use loomwright::{netlist, resolve, rules, source};
use std::fmt::Write;

fn main() {
    divan::main();
}

fn system(text: &str) -> System {
    let reading = source::read(text.as_bytes());
    let (netlist, _) = netlist::read(&reading);
    let document = reading.document.as_ref().expect("the text is sound");
    resolve::resolve(&netlist.expect("the text is a netlist"), document).0
}

/// A boat of two banks with a selector, a combiner, a charger and an alternator, and so many switched loads.
fn boat(loads: usize) -> String {
    let blocks = loads.div_ceil(12);
    let mut text = String::from(
        "loomwright: 1\nboat: {name: Sanderling, practice: us, system: 12 V}\n\
         policy: {insulation: 105 °C}\n\
         banks: {start: {purpose: start}, house: {purpose: house}}\n\
         batteries:\n  one: {bank: start, chemistry: agm, capacity: 80 Ah, cranking: 700 A}\n  \
         two: {bank: house, chemistry: agm, capacity: 200 Ah, cranking: 800 A}\n\
         combiners: {combiner: {self-referenced: true, rating: 140 A}}\n\
         alternators: {alternator: {current: 55 A, self-limiting: true}}\n\
         chargers: {charger: {outputs: {1: {current: 10 A}, 2: {current: 10 A}}, self-limiting: true}}\n\
         switches:\n  selector:\n    kind: battery\n    terminals: [start, start-out, house, house-out]\n    \
         positions: {\"off\": [], \"on\": [[start, start-out], [house, house-out]], \
         combine: {closes: [[start, start-out, house, house-out]], joins-banks: true}}\n",
    );
    for load in 0..loads {
        let _ = writeln!(text, "  switch-{load}: {{kind: panel, rating: 20 A}}");
    }
    text.push_str(
        "fuses:\n  house-fuse: {rating: 200 A}\n  start-fuse: {rating: 100 A}\n  combiner-fuse: {rating: 100 A}\n  \
         charger-one: {rating: 15 A}\n  charger-two: {rating: 15 A}\n  alternator-fuse: {rating: 60 A}\n",
    );
    for block in 0..blocks {
        let _ = writeln!(text, "  feed-{block}: {{rating: 60 A, on: positive}}");
    }
    text.push_str("fuse-blocks:\n");
    for block in 0..blocks {
        let ways: Vec<String> = (1..=12).map(|way| format!("{way}: 10 A")).collect();
        let _ = writeln!(text, "  block-{block}: {{ways: {{{}}}}}", ways.join(", "));
    }
    text.push_str(
        "buses:\n  positive: {polarity: positive, on: selector.house-out}\n  negative: {polarity: negative}\n\
         loads:\n  starter: {draw: 200 A, kind: starter, duty: surge, bank: start}\n",
    );
    for load in 0..loads {
        let _ = writeln!(text, "  load-{load}: {{draw: 2 A, kind: lamp}}");
    }
    text.push_str(
        "runs:\n  B1: {from: one.+, to: selector.start, gauge: 1/0 AWG, length: 3 ft, cranking: true}\n  \
         B2: {from: selector.start-out, to: starter.+, gauge: 1/0 AWG, length: 3 ft, cranking: true}\n  \
         B3: {from: two.+, to: house-fuse.in, gauge: 2/0 AWG, length: 6 in}\n  \
         B4: {from: house-fuse.out, to: selector.house, gauge: 2/0 AWG, length: 30 in, sheathed: true}\n  \
         B5: {from: one.+, to: start-fuse.in, gauge: 2 AWG, length: 6 in}\n  \
         B6: {from: start-fuse.out, to: combiner.a, gauge: 2 AWG, length: 2 ft}\n  \
         B7: {from: combiner.b, to: combiner-fuse.out, gauge: 2 AWG, length: 2 ft}\n  \
         B8: {from: combiner-fuse.in, to: two.+, gauge: 2 AWG, length: 6 in}\n  \
         K1: {from: charger.1+, to: charger-one.out, gauge: 12 AWG, length: 4 ft}\n  \
         K2: {from: charger-one.in, to: one.+, gauge: 12 AWG, length: 6 in}\n  \
         K3: {from: charger.2+, to: charger-two.out, gauge: 12 AWG, length: 4 ft}\n  \
         K4: {from: charger-two.in, to: two.+, gauge: 12 AWG, length: 6 in}\n  \
         K5: {from: charger.-, to: negative, gauge: 12 AWG, length: 4 ft}\n  \
         K6: {from: alternator.+, to: alternator-fuse.out, gauge: 6 AWG, length: 4 ft}\n  \
         K7: {from: alternator-fuse.in, to: one.+, gauge: 6 AWG, length: 6 in}\n  \
         K8: {from: alternator.-, to: negative, gauge: 6 AWG, length: 4 ft}\n  \
         N1: {from: one.-, to: negative, gauge: 1/0 AWG, length: 3 ft}\n  \
         N2: {from: two.-, to: negative, gauge: 1/0 AWG, length: 3 ft}\n  \
         N3: {from: starter.-, to: negative, gauge: 1/0 AWG, length: 3 ft, cranking: true}\n",
    );
    for block in 0..blocks {
        let _ = writeln!(
            text,
            "  F{block}: {{from: feed-{block}.out, to: block-{block}.feed, gauge: 6 AWG, length: 6 ft}}"
        );
    }
    text.push_str("circuits:\n");
    for load in 0..loads {
        let _ = writeln!(
            text,
            "  C{load}: {{feed: block-{}.{}, switch: switch-{load}, load: load-{load}, return: negative, \
             length: [1 ft, 9 ft], gauge: 14 AWG}}",
            load / 12,
            load % 12 + 1
        );
    }
    text
}

/// Six banks behind twenty-four switches of four positions on sixty posts, tied at random but always alike.
fn knot() -> String {
    let mut text =
        String::from("loomwright: 1\nboat: {name: Knot, practice: us, system: 12 V}\nbatteries:\n");
    for bank in 0..6 {
        let _ = writeln!(text, "  b{bank}: {{chemistry: agm, capacity: 80 Ah}}");
    }
    text.push_str("switches:\n");
    for switch in 0..24 {
        let _ = writeln!(
            text,
            "  s{switch}: {{kind: battery, terminals: [a, b, c, d], positions: {{\"off\": [], one: [[a, b]], \
             two: [[b, c], [a, d]], three: [[c, d]]}}, normal: \"off\"}}"
        );
    }
    text.push_str("buses:\n");
    for post in 0..60 {
        let _ = writeln!(text, "  p{post}: {{polarity: positive}}");
    }
    text.push_str("  negative: {polarity: negative}\nruns:\n");
    let mut seed: u64 = 7;
    let mut pick = |of: u64| {
        seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (seed >> 33) % of
    };
    for bank in 0..6 {
        let _ = writeln!(
            text,
            "  B{bank}: {{from: b{bank}.+, to: p{}, gauge: 2 AWG, length: 1 ft}}\n  \
             N{bank}: {{from: b{bank}.-, to: negative, gauge: 2 AWG, length: 1 ft}}",
            bank * 10
        );
    }
    for switch in 0..24 {
        for terminal in ["a", "b", "c", "d"] {
            let _ = writeln!(
                text,
                "  S{switch}{terminal}: {{from: s{switch}.{terminal}, to: p{}, gauge: 2 AWG, length: 1 ft}}",
                pick(60)
            );
        }
    }
    text
}

/// Every pair of six banks over 4²⁴ states, with the fewest positions off normal.
#[divan::bench]
fn pairs_of_banks_in_a_knot(bencher: divan::Bencher<'_, '_>) {
    let system = system(&knot());
    let posts: Vec<NodeId> = system
        .sources
        .iter()
        .map(|source| system.node_of(system.links[source.link.index()].a))
        .collect();
    bencher.bench(|| {
        let reach = Reach::new(&system, &Constraints::none(&system), |_| {
            Some(f64::INFINITY)
        });
        let mut joined = 0;
        for (index, &post) in posts.iter().enumerate() {
            let spread = reach.spread(&[post]);
            for &other in &posts[index + 1..] {
                joined += usize::from(matches!(spread.answer(other), Answer::Yes(_)));
            }
        }
        joined
    });
}

/// Joins, shorts, strings, drains and charging of the same boat: all that is asked about its banks.
#[divan::bench]
fn isolation_of_a_knot(bencher: divan::Bencher<'_, '_>) {
    let system = system(&knot());
    let nets = Nets::new(&system);
    bencher.bench(|| Isolation::new(&system, &nets));
}

const LOADS: [usize; 3] = [100, 1000, 3300];

#[divan::bench(args = LOADS)]
fn protection(bencher: divan::Bencher<'_, '_>, loads: usize) {
    let system = system(&boat(loads));
    let facts = Facts::new(&system);
    bencher.bench(|| Protection::new(&system, &facts.nets, &facts.ampacities));
}

#[divan::bench(args = LOADS)]
fn isolation(bencher: divan::Bencher<'_, '_>, loads: usize) {
    let system = system(&boat(loads));
    let nets = Nets::new(&system);
    bencher.bench(|| Isolation::new(&system, &nets));
}

#[divan::bench(args = LOADS)]
fn live(bencher: divan::Bencher<'_, '_>, loads: usize) {
    let system = system(&boat(loads));
    let nets = Nets::new(&system);
    bencher.bench(|| Live::new(&system, &nets));
}

#[divan::bench(args = LOADS)]
fn rules_alone(bencher: divan::Bencher<'_, '_>, loads: usize) {
    let system = system(&boat(loads));
    let facts = Facts::new(&system);
    bencher.bench(|| rules::run(&facts));
}
