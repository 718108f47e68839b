//! Sizing: what is chosen passes every rule, has the least copper, and stays where it was settled.
//!
//! The least copper is looked for once more by trying everything, through nothing but the compiler itself.

// A test reads files; the library does not.
#![allow(clippy::disallowed_methods)]

use loomwright::diag::{Diagnostic, Severity};
use loomwright::system::{Standing, System};
use loomwright::units::Gauge;
use loomwright::{Want, compile, draft, sizing};
use std::collections::BTreeSet;
use std::fmt::Write;

/// Rules whose findings depend on sizes and ratings.
const SIZED: &[&str] = &[
    "AM201", "AM202", "AM204", "AM206", "AM209", "OC103", "OC106", "OC107", "OC108", "VD301",
    "VD303", "VD304", "VD306", "VD307", "DP802", "DP803", "DP804", "DP805", "PL713", "SZ101",
    "SZ102",
];

fn findings(text: &str) -> Vec<Diagnostic> {
    compile(text.as_bytes(), Want::Findings).findings
}

/// Findings that count, or are advice on a rating that sizing follows, in words.
fn faults(text: &str) -> Vec<String> {
    findings(text)
        .into_iter()
        .filter(|finding| {
            SIZED.contains(&finding.rule)
                && (finding.severity.counts()
                    || finding.rule == "DP804" && finding.severity == Severity::Note)
        })
        .map(|finding| format!("{} {}: {}", finding.rule, finding.element, finding.message))
        .collect()
}

fn boat_of(text: &str) -> System {
    let read = draft(text.as_bytes());
    assert!(read.usable, "{text}\n{:?}", read.findings);
    read.boat.expect("a usable file has a boat")
}

/// Copper of all conductors in mm² times m.
fn copper(system: &System) -> f64 {
    system
        .conductors
        .iter()
        .filter_map(|it| Some(it.gauge?.value.area().0 * it.length?.value.0))
        .sum()
}

/// The same numbers in every run, after D. H. Lehmer's generator with the constants of Park and Miller (1988).
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, most: u64) -> u64 {
        self.0 = self.0 * 48_271 % 2_147_483_647;
        self.0 % most
    }

    fn of<'a, T: ?Sized>(&mut self, list: &[&'a T]) -> &'a T {
        let most = u64::try_from(list.len()).expect("a short list");
        list[usize::try_from(self.below(most)).expect("below its length")]
    }
}

/// A tree of a main feeder, a bar and one to three branches, with a place for the size of every run.
struct Tree {
    text: String,
    /// Copper of each place per mm².
    lengths: Vec<f64>,
}

/// Metres of a foot.
const FOOT: f64 = 0.3048;

fn tree(numbers: &mut Numbers) -> Tree {
    let branches = 1 + numbers.below(2);
    let mut lengths = Vec::new();
    let mut place = |feet: u64| {
        lengths.push(feet as f64 * FOOT);
        format!("gauge: <{}>", lengths.len() - 1)
    };
    let policy = numbers.of(&["lawful", "strict"]);
    let ambient = numbers.of(&["30 °C", "45 °C"]);
    let mut text = format!(
        "loomwright: 1\nboat: {{name: Example, practice: us, system: 12 V}}\n\
         policy: {{overcurrent: {policy}}}\n\
         zones:\n  cabin: {{ambient: {ambient}, wet: dry}}\n\
         batteries:\n  house: {{chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}}\n\
         buses:\n  bar: {{polarity: positive, studs: 6, rating: 100 A, zone: cabin}}\n  \
         back: {{polarity: negative, studs: 6, rating: 100 A, zone: cabin}}\n"
    );
    let mut fuses = String::from("fuses:\n");
    let mut loads = String::from("loads:\n");
    let mut runs = String::from("runs:\n");
    let mut circuits = String::new();
    let mut sum = 0;
    for branch in 0..branches {
        let draw = 2 + numbers.below(9);
        sum += draw;
        // What a trade fuse of the usual share carries: the next of the series above 5/4 of the current.
        let rating = [3, 5, 10, 15, 20]
            .into_iter()
            .find(|rating| rating * 4 >= draw * 5)
            .expect("at most 10 A");
        let drop = numbers.of(&["3 %", "5 %", "10 %"]);
        let _ = writeln!(
            fuses,
            "  f{branch}: {{rating: {rating} A, form: blade regular, zone: cabin}}"
        );
        let _ = writeln!(
            loads,
            "  load{branch}: {{draw: {draw} A, kind: heater, drop: {drop}, zone: cabin}}"
        );
        let feet = 4 + numbers.below(25);
        let home = feet + numbers.below(3);
        let _ = writeln!(
            runs,
            "  T{branch}: {{from: bar, to: f{branch}.in, gauge: 10 AWG, insulation: 105 °C, colour: red, length: 4 in}}"
        );
        // Of two branches each is a circuit with one size out and back, so that all combinations can be tried.
        if branches == 1 {
            let (out, back) = (place(feet), place(home));
            let _ = writeln!(
                runs,
                "  P{branch}: {{from: f{branch}.out, to: load{branch}.+, {out}, insulation: 105 °C, colour: red, length: {feet} ft}}\n  \
                 N{branch}: {{from: load{branch}.-, to: back, {back}, insulation: 105 °C, colour: black, length: {home} ft}}"
            );
        } else {
            let both = place(feet + home);
            let _ = writeln!(
                circuits,
                "  C{branch}: {{feed: f{branch}.out, load: load{branch}, return: back, {both}, insulation: 105 °C, \
                 colour: red, return-colour: black, length: {feet} ft, return-length: {home} ft}}"
            );
        }
    }
    let main = [5, 10, 15, 20, 25, 30]
        .into_iter()
        .find(|rating| rating * 4 >= sum * 5)
        .unwrap_or(30);
    let _ = writeln!(
        fuses,
        "  main: {{rating: {main} A, form: blade regular, zone: cabin}}"
    );
    let feet = 2 + numbers.below(12);
    let _ = writeln!(
        runs,
        "  B: {{from: house.+, to: main.in, gauge: 8 AWG, insulation: 105 °C, colour: red, length: 6 in}}\n  \
         F: {{from: main.out, to: bar, {}, insulation: 75 °C, colour: red, length: {feet} ft}}\n  \
         R: {{from: back, to: house.-, {}, insulation: 75 °C, colour: black, length: {feet} ft}}",
        place(feet),
        place(feet)
    );
    text.push_str(&fuses);
    text.push_str(&loads);
    text.push_str(&runs);
    if !circuits.is_empty() {
        text.push_str("circuits:\n");
        text.push_str(&circuits);
    }
    Tree { text, lengths }
}

impl Tree {
    fn with(&self, sizes: &[&str]) -> String {
        let mut text = self.text.clone();
        for (at, size) in sizes.iter().enumerate() {
            text = text.replace(&format!("<{at}>"), size);
        }
        text
    }

    fn copper(&self, sizes: &[&str]) -> f64 {
        let area = |size: &str| size.parse::<Gauge>().expect("a size").area().0;
        self.lengths
            .iter()
            .zip(sizes)
            .map(|(length, size)| length * area(size))
            .sum()
    }
}

/// Sizes that the practice sells, up to more than these boats need; the test needs no table of the program.
const SIZES: &[&str] = &[
    "18 AWG", "16 AWG", "14 AWG", "12 AWG", "10 AWG", "8 AWG", "6 AWG", "4 AWG", "2 AWG",
];

/// The next combination, lowest place first; where this one is too dear, raising the places up to its lowest raised one
/// is dearer still and left out. False at the end.
fn next(at: &mut [usize], too_dear: bool) -> bool {
    let mut place = 0;
    if too_dear {
        let Some(raised) = at.iter().position(|&option| option > 0) else {
            return false;
        };
        at[..=raised].fill(0);
        place = raised + 1;
    }
    while place < at.len() {
        at[place] += 1;
        if at[place] < SIZES.len() {
            return true;
        }
        at[place] = 0;
        place += 1;
    }
    false
}

#[test]
fn no_cheaper_sizes_pass_when_everything_is_tried() {
    let mut numbers = Numbers(20_260_114);
    let mut tried = 0;
    let mut judged = 0;
    for number in 0..6 {
        let tree = tree(&mut numbers);
        let count = tree.lengths.len();
        let auto = tree.with(&vec!["auto"; count]);
        let system = boat_of(&auto);
        if !system.chosen.conflicts.is_empty() {
            continue;
        }
        assert_eq!(faults(&auto), Vec::<String>::new(), "boat {number}\n{auto}");
        assert!(
            system.chosen.copper.exact,
            "boat {number} is a tree\n{auto}"
        );
        let chosen = system.chosen.copper.chosen;
        judged += 1;
        // All combinations that have less copper, each compiled as if written by hand.
        let mut at = vec![0; count];
        loop {
            let sizes: Vec<&str> = at.iter().map(|&option| SIZES[option]).collect();
            let cost = tree.copper(&sizes);
            if cost < chosen * (1.0 - 1e-6) {
                tried += 1;
                let text = tree.with(&sizes);
                assert_ne!(
                    faults(&text),
                    Vec::<String>::new(),
                    "boat {number}: {sizes:?} pass with {cost} instead of {chosen}\n{auto}"
                );
            }
            if !next(&mut at, cost >= chosen) {
                break;
            }
        }
    }
    assert!(judged >= 4, "only {judged} boats have a solution");
    assert!(tried > 500, "only {tried} combinations were cheaper");
}

/// Ratings and sizes together: every rating of the series with every pair of sizes.
#[test]
fn no_smaller_rating_and_no_cheaper_sizes_pass_together() {
    let text = |rating: &str, out: &str, back: &str, draw: &str| {
        format!(
            "loomwright: 1\nboat: {{name: Example, practice: us, system: 12 V}}\n\
             zones:\n  cabin: {{ambient: 30 °C, wet: dry}}\n\
             batteries:\n  house: {{chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}}\n\
             fuses:\n  fuse: {{rating: {rating}, form: blade regular, zone: cabin}}\n\
             loads:\n  load: {{draw: {draw}, kind: heater, drop: 10 %, zone: cabin}}\n\
             runs:\n  B: {{from: house.+, to: fuse.in, gauge: 10 AWG, insulation: 105 °C, colour: red, length: 6 in}}\n  \
             P: {{from: fuse.out, to: load.+, gauge: {out}, insulation: 60 °C, colour: red, length: 4 ft}}\n  \
             N: {{from: load.-, to: house.-, gauge: {back}, insulation: 60 °C, colour: black, length: 5 ft}}\n"
        )
    };
    for draw in ["1 A", "6 A", "9 A", "14 A", "19 A", "23 A"] {
        let auto = text("auto", "auto", "auto", draw);
        let system = boat_of(&auto);
        assert_eq!(faults(&auto), Vec::<String>::new(), "{draw}");
        let chosen = system.chosen.copper.chosen;
        let rating = system.devices[0].rating.expect("it is chosen").value.0;
        for amps in ["1", "2", "3", "4", "5", "7.5", "10", "15", "20", "25", "30"] {
            for out in &SIZES[..7] {
                for back in &SIZES[..7] {
                    let area = |size: &str| size.parse::<Gauge>().expect("a size").area().0;
                    let cost = (4.0 * area(out) + 5.0 * area(back)) * FOOT;
                    let smaller = amps.parse::<f64>().expect("a number") < rating;
                    if cost < chosen * (1.0 - 1e-6) || smaller {
                        let tried = text(&format!("{amps} A"), out, back, draw);
                        assert_ne!(
                            faults(&tried),
                            Vec::<String>::new(),
                            "{draw}: {amps} A, {out}, {back} pass; chosen {rating} A, {chosen}"
                        );
                    }
                }
            }
        }
    }
}

/// 46 CFR 183.340(p): CM = K·I·L/E with K = 10.75, here worked out by hand for a run of 20 ft out and back, 12 V, 3 %.
#[test]
fn a_single_circuit_takes_the_size_of_the_handbook_formula() {
    // 10.75 × I × 40 ft / 0.36 V in circular mils; ASTM B258: 14 AWG has 4110, 12 AWG 6530, 10 AWG 10380, 8 AWG 16510.
    for (draw, size) in [
        (3, "14 AWG"), // 3583
        (5, "12 AWG"), // 5972
        (8, "10 AWG"), // 9556
        (9, "8 AWG"),  // 10750
    ] {
        let text = format!(
            "loomwright: 1\nboat: {{name: Example, practice: us, system: 12 V}}\n\
             zones:\n  cabin: {{ambient: 30 °C, wet: dry}}\n\
             batteries:\n  house: {{chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}}\n\
             fuses:\n  fuse: {{rating: 15 A, form: blade regular, on: house.+, zone: cabin}}\n\
             loads:\n  load: {{draw: {draw} A, kind: heater, drop: 3 %, zone: cabin}}\n\
             circuits:\n  C: {{feed: fuse.out, load: load, return: house.-, gauge: auto, insulation: 105 °C, \
             colour: red, return-colour: black, length: 20 ft}}\n"
        );
        let system = boat_of(&text);
        let choice = &system.chosen.sizes[0];
        assert_eq!(choice.size.to_string(), size, "{draw} A");
        assert_eq!(choice.governs.rule, "VD301");
        assert!(choice.next.is_some(), "the next limit behind it is named");
    }
}

/// A boat with feeders, blocks, plugs, an engine space, looms, motors and a charger, all of it open.
fn random_boat(numbers: &mut Numbers) -> String {
    let metric = numbers.below(3) == 0;
    let length = |numbers: &mut Numbers, least: u64, most: u64| {
        let feet = least + numbers.below(most - least + 1);
        if metric {
            format!("{:.1} m", feet as f64 * FOOT)
        } else {
            format!("{feet} ft")
        }
    };
    let practice = if metric { "metric" } else { "us" };
    let system = numbers.of(&["12 V", "24 V"]);
    let accepts = if metric {
        "[0.75 mm², 6 mm²]"
    } else {
        "[18 AWG, 10 AWG]"
    };
    let mut text = format!(
        "loomwright: 1\nboat: {{name: Example, practice: {practice}, system: {system}}}\n\
         policy: {{insulation: 105 °C, overcurrent: {}, bundling: {}}}\n\
         zones:\n  cabin: {{ambient: 30 °C, wet: dry}}\n  engine: {{ambient: {} °C, engine-space: true, wet: dry}}\n\
         batteries:\n  house: {{chemistry: agm, capacity: 200 Ah, cranking: 800 A, zone: engine}}\n\
         buses:\n  back: {{polarity: negative, studs: 12, rating: 300 A, zone: cabin}}\n\
         bundles:\n  loom: {{others: {}}}\n",
        numbers.of(&["lawful", "strict"]),
        numbers.of(&["apply", "law-only"]),
        50 + numbers.below(11),
        numbers.below(8)
    );
    let blocks = 1 + numbers.below(2);
    let mut fuses =
        String::from("fuses:\n  main: {rating: auto, form: bolt-down strip large, zone: engine}\n");
    let mut block_text = String::from("fuse-blocks:\n");
    let mut loads = String::from("loads:\n");
    let mut plugs = String::from("connectors:\n");
    let mut runs = format!(
        "runs:\n  B: {{from: house.+, to: main.in, gauge: auto, colour: red, length: {}}}\n  \
         R: {{from: back, to: house.-, gauge: auto, colour: black, length: {}}}\n",
        if metric { "150 mm" } else { "6 in" },
        length(numbers, 2, 8)
    );
    let mut circuits = String::from("circuits:\n");
    text.push_str("switches:\n  master: {kind: battery, rating: 300 A, zone: engine}\n");
    let mut master = format!(
        "  M: {{from: main.out, to: master.in, gauge: auto, colour: red, length: {}}}\n",
        length(numbers, 1, 3)
    );
    for block in 0..blocks {
        let ways = 1 + numbers.below(5);
        let list: Vec<String> = (1..=ways).map(|way| format!("{way}: auto")).collect();
        let _ = writeln!(
            block_text,
            "  block{block}: {{form: blade regular, feed-rating: 100 A, zone: cabin, ways: {{{}}}}}",
            list.join(", ")
        );
        let _ = writeln!(
            fuses,
            "  feed{block}: {{rating: auto, form: blade maxi, zone: engine}}"
        );
        let _ = writeln!(
            master,
            "  E{block}: {{from: master.out, to: feed{block}.in, gauge: auto, colour: red, length: {}}}\n  \
             F{block}: {{from: feed{block}.out, to: block{block}.feed, gauge: auto, colour: red, length: {}, bundle: loom}}",
            if metric { "100 mm" } else { "4 in" },
            length(numbers, 3, 14)
        );
        for way in 1..=ways {
            let name = format!("load{block}x{way}");
            let draw = 1 + numbers.below(11);
            let kind = numbers.of(&["heater", "motor", "lamp", "electronics"]);
            let class = numbers.of(&["3 %", "5 %", "10 %", "10 %"]);
            let more = match (kind, numbers.below(3)) {
                ("motor", 0) => format!(", peak: {} A", draw * 3),
                ("motor", 1) => ", largest-fuse: 20 A".to_owned(),
                ("electronics", 0) => format!(
                    ", min-voltage: {} V",
                    if system == "12 V" { "11.5" } else { "23" }
                ),
                _ => String::new(),
            };
            let _ = writeln!(
                loads,
                "  {name}: {{draw: {draw} A, kind: {kind}, drop: {class}, zone: cabin{more}}}"
            );
            if numbers.below(4) == 0 {
                let _ = writeln!(
                    plugs,
                    "  plug{block}x{way}: {{cavities: 2, contact-rating: 20 A, accepts: {accepts}, \
                     a: {{contacts: sockets}}, b: {{contacts: pins}}, zone: cabin}}"
                );
                let feet = length(numbers, 2, 12);
                let _ = writeln!(
                    runs,
                    "  P{block}x{way}: {{from: block{block}.{way}, to: plug{block}x{way}.1a, gauge: auto, colour: red, length: {feet}}}\n  \
                     Q{block}x{way}: {{from: plug{block}x{way}.1b, to: {name}.+, gauge: auto, colour: red, length: {feet}}}\n  \
                     S{block}x{way}: {{from: {name}.-, to: back, gauge: auto, colour: black, length: {feet}}}"
                );
            } else {
                let bundle = if numbers.below(2) == 0 {
                    ", bundle: loom"
                } else {
                    ""
                };
                let _ = writeln!(
                    circuits,
                    "  C{block}x{way}: {{feed: block{block}.{way}, load: {name}, return: back, gauge: auto, \
                     colour: red, return-colour: black, length: {}{bundle}}}",
                    length(numbers, 2, 22)
                );
            }
        }
    }
    runs.push_str(&master);
    for (section, empty) in [
        (fuses, false),
        (block_text, false),
        (loads, false),
        (plugs.clone(), plugs.lines().count() == 1),
        (runs, false),
        (circuits.clone(), circuits.lines().count() == 1),
    ] {
        if !empty {
            text.push_str(&section);
        }
    }
    text
}

#[test]
fn what_is_chosen_for_random_boats_passes_every_check() {
    let mut numbers = Numbers(4_711);
    let mut clean = 0;
    for number in 0..120 {
        let text = random_boat(&mut numbers);
        let system = boat_of(&text);
        if system.chosen.conflicts.is_empty() {
            clean += 1;
            assert_eq!(faults(&text), Vec::<String>::new(), "boat {number}\n{text}");
        } else {
            for conflict in &system.chosen.conflicts {
                assert!(!conflict.help.is_empty() && !conflict.rules.is_empty());
            }
        }
        let copper = system.chosen.copper;
        assert!(
            copper.least <= copper.chosen * (1.0 + 1e-9) && copper.least > 0.0,
            "boat {number}: {copper:?}"
        );
        for choice in &system.chosen.sizes {
            assert!(
                !choice.governs.words.is_empty() && choice.next.is_some(),
                "boat {number}: {choice:?}\n{text}"
            );
        }
    }
    assert!(clean >= 80, "only {clean} boats have a solution");
}

/// A text with every size and rating replaced by `auto`.
fn opened(text: &str) -> String {
    let system = boat_of(text);
    let sizes = system
        .conductors
        .iter()
        .filter_map(|it| it.gauge.and_then(|given| given.span));
    let ratings = system
        .devices
        .iter()
        .filter_map(|it| it.rating.and_then(|given| given.span));
    let spans: BTreeSet<_> = sizes.chain(ratings).collect();
    let mut out = String::new();
    let mut done = 0;
    for span in spans {
        out.push_str(&text[done..span.start]);
        out.push_str("auto");
        done = span.end;
    }
    out.push_str(&text[done..]);
    out
}

#[test]
fn examples_with_everything_open_pass_with_no_more_copper() {
    let mut seen = 0;
    for entry in std::fs::read_dir("examples").expect("the examples") {
        let path = entry.expect("an entry").path();
        let name = path.display().to_string();
        let text = std::fs::read_to_string(&path).expect("an example is text");
        if name.contains("rev-0") {
            continue;
        }
        seen += 1;
        let auto = opened(&text);
        let counted = |text: &str| -> BTreeSet<String> {
            let all = findings(text).into_iter();
            all.filter(|finding| finding.severity.counts())
                .map(|finding| format!("{} {}", finding.rule, finding.element))
                .collect()
        };
        let before = counted(&text);
        let more: Vec<String> = counted(&auto).difference(&before).cloned().collect();
        assert_eq!(more, Vec::<String>::new(), "{name}");
        let (by_hand, chosen) = (copper(&boat_of(&text)), copper(&boat_of(&auto)));
        assert!(
            chosen <= by_hand * (1.0 + 1e-9),
            "{name}: {chosen} mm² m chosen, {by_hand} by hand"
        );
    }
    assert!(seen >= 4, "only {seen} examples");
}

#[test]
fn a_settled_copy_makes_the_same_papers_and_tells_what_would_move() {
    let text = std::fs::read_to_string("examples/mud-plover-rev-a.yaml").expect("an example");
    let auto = opened(&text);
    let copy = sizing::settled(&auto, &boat_of(&auto));
    assert_eq!(copy.open, Vec::new());
    // Without what was written behind `auto` the copy is the file.
    let system = boat_of(&auto);
    assert!(copy.values > 20 && copy.text.len() > auto.len());
    let papers = |text: &str| {
        let compiled = compile(text.as_bytes(), Want::Papers);
        let print = compiled.fingerprint.to_string();
        let all = compiled.papers.into_iter();
        // The findings tell columns of the file, which move with what is written into it.
        all.filter(|paper| !paper.name.starts_with("findings"))
            .map(|paper| {
                let mut text = paper.text().unwrap_or_default().replace(&print, "");
                if paper.name == "schedules.json" {
                    let mut all: serde_json::Value = serde_json::from_str(&text).expect("JSON");
                    let told = all.as_object_mut().and_then(|all| all.remove("findings"));
                    assert!(told.is_some(), "the findings are among the schedules");
                    text = all.to_string();
                }
                (paper.name, text)
            })
            .collect::<Vec<_>>()
    };
    for ((name, before), (other, after)) in papers(&auto).into_iter().zip(papers(&copy.text)) {
        assert_eq!(name, other);
        assert!(before == after, "{name} differs");
    }
    assert_eq!(
        sizing::settled(&copy.text, &boat_of(&copy.text)).text,
        copy.text,
        "settling twice changes nothing"
    );
    // A load that grows moves nothing that is settled, and says what would.
    let first = system
        .loads
        .iter()
        .find(|load| load.draw.is_some_and(|draw| draw.span.is_some()))
        .expect("a load with a draw");
    let settled = boat_of(&copy.text);
    let draw = settled
        .loads
        .iter()
        .find(|load| load.name == first.name)
        .and_then(|load| load.draw?.span)
        .expect("the same load");
    let mut changed = copy.text.clone();
    changed.replace_range(draw.start..draw.end, "29 A");
    let after = boat_of(&changed);
    for (before, after) in settled.conductors.iter().zip(&after.conductors) {
        assert_eq!(
            before.gauge.map(|it| it.value),
            after.gauge.map(|it| it.value),
            "{} moved",
            before.number
        );
    }
    let told = findings(&changed);
    assert!(
        told.iter()
            .any(|finding| finding.rule == "SZ103" && finding.severity == Severity::Note),
        "nothing is said to move"
    );
}

/// A lamp far away, whose plug takes thin wire only.
fn tight(percent: &str, feet: f64) -> String {
    let inches = (feet * 12.0).floor();
    format!(
        "loomwright: 1\nboat: {{name: Example, practice: us, system: 12 V}}\n\
         zones:\n  cabin: {{ambient: 30 °C, wet: dry}}\n\
         batteries:\n  house: {{chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}}\n\
         fuses:\n  fuse: {{rating: 5 A, form: blade regular, zone: cabin}}\n\
         connectors:\n  plug: {{cavities: 2, contact-rating: 20 A, accepts: [18 AWG, 14 AWG], \
         a: {{contacts: sockets}}, b: {{contacts: pins}}, zone: cabin}}\n\
         loads:\n  lamp: {{draw: 3 A, kind: heater, drop: {percent}, zone: cabin}}\n\
         runs:\n  B: {{from: house.+, to: fuse.in, gauge: 8 AWG, insulation: 105 °C, colour: red, length: 6 in}}\n  \
         P: {{from: fuse.out, to: plug.1a, gauge: auto, insulation: 105 °C, colour: red, length: {inches} in}}\n  \
         Q: {{from: plug.1b, to: lamp.+, gauge: auto, insulation: 105 °C, colour: red, length: 1 ft}}\n  \
         N: {{from: lamp.-, to: plug.2b, gauge: auto, insulation: 105 °C, colour: black, length: 1 ft}}\n  \
         O: {{from: plug.2a, to: house.-, gauge: auto, insulation: 105 °C, colour: black, length: {inches} in}}\n"
    )
}

#[test]
fn the_smallest_change_frees_a_conflict_and_less_does_not() {
    let told = |text: &str| {
        let all = findings(text).into_iter();
        all.filter(|it| it.rule == "SZ101").collect::<Vec<_>>()
    };
    let conflict = told(&tight("3 %", 30.0));
    assert_eq!(conflict.len(), 1);
    let help = &conflict[0].help;
    assert!(
        conflict[0].message.contains("VD301 and PL713 collide"),
        "{}",
        conflict[0].message
    );
    let percent = help
        .split("let lamp lose ")
        .nth(1)
        .and_then(|rest| rest.split(' ').next())
        .expect("a drop that would do");
    assert_eq!(
        faults(&tight(&format!("{percent} %"), 30.0)),
        Vec::<String>::new()
    );
    let less: f64 = percent.parse::<f64>().expect("a number") - 0.1;
    assert_ne!(
        faults(&tight(&format!("{less:.1} %"), 30.0)),
        Vec::<String>::new()
    );
    assert!(help.contains("shorten the conductors of lamp by"), "{help}");
}

#[test]
fn what_is_left_out_is_proposed_and_stays_not_proved() {
    let text = tight("10 %", 6.0).replace("gauge: auto, ", "");
    let system = boat_of(&text);
    assert!(system.conductors[1].gauge.is_none());
    assert!(!system.chosen.sizes.is_empty());
    assert!(
        system
            .chosen
            .sizes
            .iter()
            .all(|it| it.standing == Standing::Proposed)
    );
    assert!(findings(&text).iter().any(|it| it.rule == "AM202"));
    let compiled = compile(text.as_bytes(), Want::Papers);
    let sheet = compiled.papers.iter().find(|it| it.name == "sizes.csv");
    assert!(sheet.is_some_and(|sheet| sheet.text().is_some_and(|text| text.contains("proposed"))));
    let choose = text.replace("zones:", "policy: {blanks: choose}\nzones:");
    assert_eq!(faults(&choose), Vec::<String>::new());
    assert!(boat_of(&choose).conductors[1].gauge.is_some());
}

#[test]
fn few_spools_cost_little_copper_and_pass() {
    let mut numbers = Numbers(815);
    let mut fewer = 0;
    for number in 0..40 {
        let text = random_boat(&mut numbers);
        let few = text.replace("policy: {", "policy: {spools: few, ");
        let (least, some) = (boat_of(&text), boat_of(&few));
        if !least.chosen.conflicts.is_empty() {
            continue;
        }
        let wires = |system: &System| -> usize {
            let all: BTreeSet<String> = system
                .conductors
                .iter()
                .filter_map(|it| {
                    let colour = it.colour.as_ref().map(|given| given.value.base.clone());
                    Some(format!("{} {colour:?}", it.gauge?.value))
                })
                .collect();
            all.len()
        };
        assert_eq!(faults(&few), Vec::<String>::new(), "boat {number}\n{few}");
        assert!(wires(&some) <= wires(&least), "boat {number}");
        // Project policy: at most 5 % more copper.
        assert!(
            copper(&some) <= copper(&least) * 1.05 + 1e-9,
            "boat {number}: {} instead of {}",
            copper(&some),
            copper(&least)
        );
        fewer += usize::from(wires(&some) < wires(&least));
    }
    assert!(fewer >= 5, "only {fewer} boats need fewer wires");
}

/// Two batteries side by side, each through a fuse of its own: their currents depend on the sizes.
#[test]
fn a_boat_with_loops_passes_and_says_how_far_from_the_least_it_may_be() {
    let text = "loomwright: 1\nboat: {name: Example, practice: us, system: 12 V}\n\
        zones:\n  cabin: {ambient: 30 °C, wet: dry}\n\
        batteries:\n  one: {bank: house, chemistry: agm, capacity: 100 Ah, cranking: 400 A, zone: cabin}\n  \
        two: {bank: house, chemistry: agm, capacity: 100 Ah, cranking: 400 A, zone: cabin}\n\
        fuses:\n  f1: {rating: auto, form: class T, zone: cabin}\n  f2: {rating: auto, form: class T, zone: cabin}\n  \
        fan-fuse: {rating: auto, form: blade maxi, zone: cabin}\n\
        buses:\n  bar: {polarity: positive, studs: 4, rating: 200 A, zone: cabin}\n\
        loads:\n  fan: {draw: 50 A, kind: heater, drop: 3 %, zone: cabin}\n\
        runs:\n  A: {from: one.+, to: f1.in, gauge: auto, insulation: 105 °C, colour: red, length: 6 in}\n  \
        B: {from: two.+, to: f2.in, gauge: auto, insulation: 105 °C, colour: red, length: 6 in}\n  \
        C: {from: f1.out, to: bar, gauge: auto, insulation: 105 °C, colour: red, length: 2 ft}\n  \
        D: {from: f2.out, to: bar, gauge: auto, insulation: 105 °C, colour: red, length: 6 ft}\n  \
        E: {from: bar, to: fan-fuse.in, gauge: auto, insulation: 105 °C, colour: red, length: 4 in}\n  \
        F: {from: fan-fuse.out, to: fan.+, gauge: auto, insulation: 105 °C, colour: red, length: 12 ft}\n  \
        G: {from: fan.-, to: one.-, gauge: auto, insulation: 105 °C, colour: black, length: 12 ft}\n  \
        H: {from: one.-, to: two.-, gauge: auto, insulation: 105 °C, colour: black, length: 1 ft}\n";
    assert_eq!(faults(text), Vec::<String>::new());
    let found = boat_of(text).chosen.copper;
    assert!(
        found.least > 0.0 && found.least <= found.chosen * (1.0 + 1e-9),
        "{found:?}"
    );
}

/// A return beside a given thin one: what flows in the given one depends on the size chosen beside it, so that the
/// limit which no size keeps with the thinnest beside it is kept with a thicker one.
#[test]
fn a_thicker_return_beside_a_given_one_is_found() {
    let text = "loomwright: 1\nboat: {name: Example, practice: us, system: 12 V}\n\
        zones:\n  cabin: {ambient: 30 °C, wet: dry}\n\
        batteries:\n  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}\n\
        fuses:\n  fuse: {rating: 20 A, form: blade regular, zone: cabin}\n\
        buses:\n  back: {polarity: negative, studs: 8, rating: 150 A, zone: cabin}\n\
        loads:\n  fan: {draw: 14 A, kind: heater, drop: 3 %, zone: cabin}\n\
        runs:\n  B: {from: house.+, to: fuse.in, gauge: 6 AWG, colour: red, length: 4 in}\n  \
        F: {from: fuse.out, to: fan.+, gauge: auto, colour: red, length: 10 ft}\n  \
        N: {from: fan.-, to: back, gauge: 6 AWG, colour: black, length: 1 ft}\n  \
        G: {from: back, to: house.-, gauge: 16 AWG, colour: black, length: 12 ft}\n  \
        R: {from: back, to: house.-, gauge: auto, colour: black, length: 14 ft}\n";
    assert_eq!(faults(text), Vec::<String>::new());
    let system = boat_of(text);
    assert!(
        system.chosen.conflicts.is_empty(),
        "{:?}",
        system.chosen.conflicts
    );
    assert!(system.chosen.copper.exact);
    // Farther away nothing on sale helps, because the given one must not carry more than it may.
    let far = text
        .replace("length: 10 ft", "length: 400 ft")
        .replace("length: 14 ft", "length: 400 ft");
    let told = boat_of(&far).chosen.conflicts;
    assert!(
        told.iter().any(|it| it.rules.contains(&"VD301")),
        "{told:?}"
    );
}

/// The two leads of a charger share one limit, and either may be the thicker: what is settled stays as it is.
#[test]
fn what_is_settled_does_not_move_for_an_equal() {
    let boat = |out: &str, home: &str| {
        format!(
            "loomwright: 1\nboat: {{name: Example, practice: us, system: 12 V}}\n\
             zones:\n  cabin: {{ambient: 30 °C, wet: dry}}\n\
             batteries:\n  house: {{chemistry: agm, capacity: 100 Ah, cranking: 400 A, zone: cabin}}\n\
             fuses:\n  fuse: {{rating: 15 A, form: blade regular, zone: cabin}}\n\
             chargers:\n  charger: {{outputs: {{1: {{current: 10 A}}}}, self-limiting: true, built-in-fuse: 15 A, zone: cabin}}\n\
             runs:\n  B: {{from: house.+, to: fuse.in, gauge: 8 AWG, insulation: 105 °C, colour: red, length: 4 in}}\n  \
             K: {{from: fuse.out, to: charger.1+, gauge: {out}, insulation: 105 °C, colour: red, length: 5 ft}}\n  \
             L: {{from: charger.-, to: house.-, gauge: {home}, insulation: 105 °C, colour: black, length: 5 ft}}\n"
        )
    };
    let sizes = |text: &str| -> Vec<String> {
        let system = boat_of(text);
        let all = system.conductors.iter().filter(|it| it.number != "B");
        all.map(|it| it.gauge.expect("chosen").value.to_string())
            .collect()
    };
    let fresh = sizes(&boat("auto", "auto"));
    assert_ne!(fresh[0], fresh[1], "the limit asks for one thicker");
    for (out, home) in [(0, 1), (1, 0)] {
        let text = boat(
            &format!("auto {}", fresh[out]),
            &format!("auto {}", fresh[home]),
        );
        assert_eq!(faults(&text), Vec::<String>::new());
        assert!(findings(&text).iter().all(|it| it.rule != "SZ103"));
    }
}

/// A fan and a lamp on fuses of their own, and a pump whose fuse the file gives.
fn three_fuses(policy: &str, fan: &str) -> String {
    format!(
        "loomwright: 1\nboat: {{name: Example, practice: us, system: 12 V}}\npolicy: {{insulation: 105 °C{policy}}}\n\
         zones:\n  cabin: {{ambient: 30 °C, wet: dry}}\n\
         batteries:\n  house: {{chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}}\n\
         fuses:\n  fan-fuse: {{rating: auto, form: blade regular, zone: cabin}}\n  \
         lamp-fuse: {{rating: auto, form: blade regular, zone: cabin}}\n  \
         pump-fuse: {{rating: 10 A, form: blade regular, zone: cabin}}\n\
         loads:\n  fan: {{draw: 5 A, kind: heater, drop: 10 %{fan}, zone: cabin}}\n  \
         lamp: {{draw: 1 A, kind: heater, drop: 10 %, zone: cabin}}\n  \
         pump: {{draw: 6 A, kind: heater, drop: 10 %, zone: cabin}}\n\
         runs:\n  A: {{from: house.+, to: fan-fuse.in, gauge: 10 AWG, colour: red, length: 6 in}}\n  \
         B: {{from: house.+, to: lamp-fuse.in, gauge: 10 AWG, colour: red, length: 6 in}}\n  \
         C: {{from: house.+, to: pump-fuse.in, gauge: 10 AWG, colour: red, length: 6 in}}\n  \
         F: {{from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}}\n  \
         G: {{from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}}\n  \
         L: {{from: lamp-fuse.out, to: lamp.+, gauge: 14 AWG, colour: red, length: 6 ft}}\n  \
         M: {{from: lamp.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}}\n  \
         P: {{from: pump-fuse.out, to: pump.+, gauge: 14 AWG, colour: red, length: 6 ft}}\n  \
         Q: {{from: pump.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}}\n"
    )
}

#[test]
fn few_ratings_take_one_that_is_in_use_where_every_rule_allows_it() {
    let ratings = |policy: &str, fan: &str| -> Vec<f64> {
        let text = three_fuses(policy, fan);
        assert_eq!(faults(&text), Vec::<String>::new());
        let system = boat_of(&text);
        let all = system.devices.iter().filter_map(|it| it.rating);
        all.map(|it| it.value.0).collect()
    };
    assert_eq!(ratings("", ""), [7.5, 2.0, 10.0]);
    // The lamp's is not raised to more than twice what serves it.
    assert_eq!(ratings(", spools: few", ""), [10.0, 2.0, 10.0]);
    assert_eq!(
        ratings(", spools: few", ", largest-fuse: 7.5 A"),
        [7.5, 2.0, 10.0]
    );
}

#[test]
fn few_spools_do_not_fill_a_hole_that_is_too_small_for_them() {
    let boat = |policy: &str, hole: u32| {
        format!(
            "loomwright: 1\nboat: {{name: Example, practice: us, system: 12 V}}\npolicy: {{insulation: 105 °C{policy}}}\n\
             zones:\n  cabin: {{ambient: 30 °C, wet: dry}}\n\
             points:\n  stern: {{zone: cabin}}\n  middle: {{zone: cabin}}\n  bow: {{zone: cabin}}\n\
             ways:\n  trunk: {{between: [stern, middle], length: 30 ft}}\n  \
             fore: {{between: [middle, bow], length: 1 ft, hole: {hole} mm}}\n\
             batteries:\n  house: {{chemistry: agm, capacity: 60 Ah, cranking: 400 A, at: middle}}\n\
             fuses:\n  near: {{rating: 20 A, form: blade regular, at: middle}}\n  far: {{rating: 3 A, form: blade regular, at: middle}}\n\
             loads:\n  heater: {{draw: 12 A, kind: heater, drop: 10 %, at: stern}}\n  \
             lamp: {{draw: 2 A, kind: heater, drop: 10 %, at: bow}}\n\
             runs:\n  A: {{from: house.+, to: near.in, gauge: 10 AWG, colour: red, length: 6 in}}\n  \
             B: {{from: house.+, to: far.in, gauge: 10 AWG, colour: red, length: 6 in}}\n  \
             F: {{from: near.out, to: heater.+, gauge: auto, colour: red}}\n  \
             G: {{from: heater.-, to: house.-, gauge: auto, colour: black}}\n  \
             L: {{from: far.out, to: lamp.+, gauge: auto, colour: red}}\n  \
             M: {{from: lamp.-, to: house.-, gauge: auto, colour: black}}\n"
        )
    };
    let copper_of = |text: &str| {
        assert_eq!(faults(text), Vec::<String>::new());
        copper(&boat_of(text))
    };
    let wide = copper_of(&boat(", spools: few", 40));
    assert!(wide > copper_of(&boat("", 40)), "thicker ones are taken");
    let narrow = copper_of(&boat(", spools: few", 7));
    assert!(narrow < wide, "{narrow} and {wide}");
}
