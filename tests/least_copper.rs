//! The least copper, looked for by trying everything: small random boats of every kind of wiring, and all sizes and
//! ratings on sale.
//!
//! What is chosen passes every rule wherever anything does; nothing that passes has less copper where the copper is
//! told to be exact, and less than the bound nowhere. Whatever passes is judged by the rules alone.

use loomwright::analysis::Facts;
use loomwright::diag::Severity;
use loomwright::standards::{FuseForm, fuse_ratings, sold_sizes};
use loomwright::system::{Given, Origin, Practice, System};
use loomwright::units::{Amps, Gauge};
use loomwright::{Want, compile, draft, rules};
use std::collections::BTreeSet;
use std::fmt::Write;

/// Boats that are tried.
const BOATS: u64 = 60;

#[test]
fn no_cheaper_sizes_and_ratings_pass_on_small_boats_of_every_kind() {
    let mut exact = 0;
    for seed in 1..=BOATS {
        let it = boat(&mut Numbers(seed * 7919));
        match judge(&it) {
            Outcome::Wrong(words) => panic!("boat {seed}: {words}\n{}", it.auto()),
            Outcome::Passes { exact: true, .. } => exact += 1,
            Outcome::Passes { .. } | Outcome::Large | Outcome::Nothing(_) => {}
        }
    }
    assert!(exact > 20, "{exact} of {BOATS} boats are told to be exact");
}

/// The same numbers in every run, after D. H. Lehmer's generator with the constants of Park and Miller (1988).
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, most: u64) -> u64 {
        self.0 = self.0 * 48_271 % 2_147_483_647;
        self.0 % most
    }

    fn one_in(&mut self, most: u64) -> bool {
        self.below(most) == 0
    }

    fn of<T: Copy>(&mut self, list: &[T]) -> T {
        let most = u64::try_from(list.len()).expect("a short list");
        list[usize::try_from(self.below(most)).expect("below its length")]
    }
}

/// A boat with places for sizes, `<s0>`, and ratings, `<r0>`.
#[derive(Clone, Default)]
struct Boat {
    text: String,
    /// Wire numbers of each place for a size.
    sizes: Vec<Vec<String>>,
    /// Device and form of each place for a rating.
    ratings: Vec<(String, FuseForm)>,
    metric: bool,
}

/// A length of some feet or so many more.
fn feet(numbers: &mut Numbers, least: u64, more: u64) -> String {
    format!(", length: {} ft", least + numbers.below(more))
}

/// Places for sizes and ratings that are still handed out.
struct Places {
    boat: Boat,
    most_sizes: usize,
    most_ratings: usize,
}

impl Places {
    /// `auto` while there are places, else a size that does not get in the way.
    fn size(&mut self, numbers: &mut Numbers, wires: &[&str]) -> String {
        if self.boat.sizes.len() < self.most_sizes && !numbers.one_in(4) {
            self.boat
                .sizes
                .push(wires.iter().map(|&wire| wire.to_owned()).collect());
            return format!("<s{}>", self.boat.sizes.len() - 1);
        }
        // Seldom one that stands against others.
        let odd: &[&str] = if self.boat.metric {
            &["1.5 mm²", "4 mm²", "16 mm²"]
        } else {
            &["16 AWG", "12 AWG", "6 AWG"]
        };
        let usual = if self.boat.metric { "10 mm²" } else { "8 AWG" };
        if numbers.one_in(12) {
            numbers.of(odd)
        } else {
            usual
        }
        .to_owned()
    }

    fn rating(
        &mut self,
        numbers: &mut Numbers,
        device: &str,
        form: FuseForm,
        usual: &str,
    ) -> String {
        if self.boat.ratings.len() < self.most_ratings && !numbers.one_in(3) {
            self.boat.ratings.push((device.to_owned(), form));
            return format!("<r{}>", self.boat.ratings.len() - 1);
        }
        usual.to_owned()
    }
}

/// A random boat of two to six sizes and up to three ratings that are open.
fn boat(numbers: &mut Numbers) -> Boat {
    let metric = numbers.one_in(4);
    let mut places = Places {
        boat: Boat {
            metric,
            ..Boat::default()
        },
        most_sizes: 2 + usize::try_from(numbers.below(5)).expect("small"),
        most_ratings: usize::try_from(numbers.below(4)).expect("small"),
    };
    let volts = numbers.of(&[12, 12, 24]);
    let loads = 1 + numbers.below(3);
    let has_ways = numbers.one_in(3);
    let has_bundle = numbers.one_in(3);
    let hole = if numbers.one_in(2) {
        format!(", hole: {} mm", 12 + numbers.below(9))
    } else {
        String::new()
    };
    let kind = numbers.below(8);
    let ambient = numbers.of(&[30, 30, 45, 55]);
    let mut text = format!(
        "loomwright: 1\nboat: {{name: Example, practice: {}, system: {volts} V}}\n\
         policy: {{insulation: {} °C, overcurrent: {}, bundling: {}}}\n\
         zones:\n  cabin: {{ambient: 30 °C, wet: dry}}\n  engine: {{ambient: {ambient} °C, engine-space: {}, wet: dry}}\n",
        if metric { "metric" } else { "us" },
        numbers.of(&[75, 105, 105]),
        numbers.of(&["lawful", "strict"]),
        numbers.of(&["apply", "law-only"]),
        numbers.one_in(2),
    );
    if has_ways {
        let _ = writeln!(
            text,
            "points:\n  stern: {{zone: cabin}}\n  middle: {{zone: engine}}\n  bow: {{zone: cabin}}\n\
             ways:\n  trunk: {{between: [stern, middle], length: {} ft, zone: engine{hole}{}}}\n  \
             fore: {{between: [middle, bow], length: {} ft{}}}\n  \
             side: {{between: [stern, bow], length: {} ft}}",
            2 + numbers.below(8),
            if has_bundle { ", bundle: loom" } else { "" },
            2 + numbers.below(12),
            if numbers.one_in(3) {
                format!(", hole: {} mm", 12 + numbers.below(9))
            } else {
                String::new()
            },
            12 + numbers.below(12),
        );
    }
    if has_bundle {
        let _ = writeln!(
            text,
            "bundles:\n  loom: {{others: {}{}}}",
            numbers.below(7),
            if has_ways {
                String::new()
            } else {
                hole.clone()
            }
        );
    }
    let at = |place: &str| -> String {
        if has_ways {
            format!("at: {place}")
        } else {
            format!(
                "zone: {}",
                if place == "middle" { "engine" } else { "cabin" }
            )
        }
    };
    let in_bundle = if has_bundle && !has_ways {
        ", bundle: loom"
    } else {
        ""
    };
    // A length, or none where the way gives it.
    let length = |numbers: &mut Numbers, least: u64, most: u64| -> String {
        if has_ways && !numbers.one_in(40) {
            String::new()
        } else {
            format!(", length: {} ft", least + numbers.below(most - least + 1))
        }
    };
    // Some batteries give little in a short, so that what clears it and what it heats counts.
    let cranking = numbers.of(&["400 A", "400 A", "150 A", "90 A"]);
    let post = if metric { "100 mm" } else { "4 in" };
    let red = |number: &str, from: &str, to: &str, gauge: &str, more: &str| {
        format!("  {number}: {{from: {from}, to: {to}, gauge: {gauge}, colour: red{more}}}\n")
    };
    let black = |number: &str, from: &str, to: &str, gauge: &str, more: &str| {
        format!("  {number}: {{from: {from}, to: {to}, gauge: {gauge}, colour: black{more}}}\n")
    };
    let mut batteries = format!(
        "batteries:\n  house: {{bank: house, chemistry: agm, capacity: 60 Ah, voltage: {volts} V, cranking: {cranking}, {}}}\n",
        at("stern")
    );
    let mut fuses = String::from("fuses:\n");
    let mut switches = String::new();
    let mut chargers = String::new();
    let mut buses = format!(
        "buses:\n  bar: {{polarity: positive, studs: 8, rating: 150 A, {}}}\n  \
         back: {{polarity: negative, studs: 8, rating: 150 A, {}}}\n",
        at("stern"),
        at("stern")
    );
    let mut runs = String::from("runs:\n");
    let mut circuits = String::new();
    let mut loads_text = String::from("loads:\n");
    let draws: Vec<u64> = (0..loads).map(|_| 1 + numbers.below(9)).collect();
    let sum: u64 = draws.iter().sum();
    let usual = |amps: u64| -> String {
        let found = [3, 5, 10, 15, 20, 25, 30]
            .into_iter()
            .find(|rating| rating * 4 >= amps * 5);
        format!("{} A", found.unwrap_or(30))
    };
    // The way from the bank to the bar, and back.
    let main = places.rating(numbers, "main", FuseForm::BladeMaxi, "30 A");
    let main = if main.starts_with('<') {
        main
    } else {
        format!(
            "{} A",
            [20, 30, 40]
                .into_iter()
                .find(|it| it * 4 >= sum * 5)
                .unwrap_or(40)
        )
    };
    let _ = writeln!(
        fuses,
        "  main: {{rating: {main}, form: blade maxi, {}}}",
        at("stern")
    );
    let short = format!(", length: {post}");
    runs += &red("B1", "house.+", "main.in", "6 AWG", &short);
    match kind {
        // Two feeds side by side: currents depend on sizes.
        0 => {
            let one = places.size(numbers, &["F1"]);
            let other = places.size(numbers, &["F2"]);
            let back = places.size(numbers, &["R1"]);
            runs += &red("F1", "main.out", "bar", &one, &feet(numbers, 2, 10));
            runs += &red("F2", "main.out", "bar", &other, &feet(numbers, 2, 10));
            runs += &black("R1", "back", "house.-", &back, &feet(numbers, 2, 8));
        }
        // Two returns side by side.
        1 => {
            let one = places.size(numbers, &["F1"]);
            let back = places.size(numbers, &["R1"]);
            let other = places.size(numbers, &["R2"]);
            runs += &red("F1", "main.out", "bar", &one, &feet(numbers, 2, 10));
            runs += &black("R1", "back", "house.-", &back, &feet(numbers, 2, 8));
            runs += &black("R2", "back", "house.-", &other, &feet(numbers, 2, 8));
        }
        // Two banks and a switch between them.
        2 => {
            let _ = writeln!(
                batteries,
                "  spare: {{bank: spare, chemistry: agm, capacity: 60 Ah, voltage: {volts} V, cranking: 300 A, {}}}",
                at("middle")
            );
            let _ = writeln!(
                switches,
                "switches:\n  selector: {{rating: 150 A, terminals: [a, b, out], positions: {{\"off\": [], \
                 one: [[a, out]], two: [[b, out]]}}, {}}}",
                at("stern")
            );
            let second = places.rating(numbers, "second", FuseForm::BladeMaxi, "40 A");
            let _ = writeln!(
                fuses,
                "  second: {{rating: {second}, form: blade maxi, {}}}",
                at("middle")
            );
            let one = places.size(numbers, &["F1"]);
            let other = places.size(numbers, &["F2"]);
            let last = places.size(numbers, &["F3"]);
            let back = places.size(numbers, &["R1"]);
            let far = places.size(numbers, &["R2"]);
            runs += &red("B2", "spare.+", "second.in", "6 AWG", &short);
            runs += &red("F1", "main.out", "selector.a", &one, &length(numbers, 1, 4));
            runs += &red(
                "F2",
                "second.out",
                "selector.b",
                &other,
                &length(numbers, 2, 9),
            );
            runs += &red("F3", "selector.out", "bar", &last, &length(numbers, 1, 6));
            runs += &black("R1", "back", "house.-", &back, &length(numbers, 1, 6));
            runs += &black("R2", "spare.-", "house.-", &far, &length(numbers, 2, 9));
        }
        // A charger of its own at the bar.
        3 => {
            let one = places.size(numbers, &["F1"]);
            let back = places.size(numbers, &["R1"]);
            let _ = writeln!(
                chargers,
                "chargers:\n  charger: {{outputs: {{1: {{current: {} A}}}}, self-limiting: true, built-in-fuse: 20 A, {}}}",
                4 + numbers.below(12),
                at("middle")
            );
            let charge = places.rating(numbers, "charge", FuseForm::BladeRegular, "20 A");
            let _ = writeln!(
                fuses,
                "  charge: {{rating: {charge}, form: blade regular, {}}}",
                at("stern")
            );
            let (out, home) = (places.size(numbers, &["K1"]), places.size(numbers, &["K2"]));
            runs += &red("F1", "main.out", "bar", &one, &length(numbers, 1, 8));
            runs += &black("R1", "back", "house.-", &back, &length(numbers, 1, 8));
            runs += &red("K0", "bar", "charge.in", "6 AWG", &short);
            runs += &red(
                "K1",
                "charge.out",
                "charger.1+",
                &out,
                &length(numbers, 2, 9),
            );
            runs += &black("K2", "charger.-", "back", &home, &length(numbers, 2, 9));
        }
        _ => {
            let one = places.size(numbers, &["F1"]);
            let back = places.size(numbers, &["R1"]);
            runs += &red(
                "F1",
                "main.out",
                "bar",
                &one,
                &format!("{}{in_bundle}", length(numbers, 1, 12)),
            );
            runs += &black(
                "R1",
                "back",
                "house.-",
                &back,
                &format!("{}{in_bundle}", length(numbers, 1, 12)),
            );
        }
    }
    // Some loads share a return from a bar of their own near them.
    let shared_return = loads > 1 && numbers.one_in(2);
    let mut connectors = String::new();
    if shared_return {
        let _ = writeln!(
            buses,
            "  far: {{polarity: negative, studs: 6, rating: 100 A, {}}}",
            at("bow")
        );
        let size = places.size(numbers, &["S"]);
        runs += &black(
            "S",
            "far",
            "back",
            &size,
            &format!("{}{in_bundle}", length(numbers, 2, 12)),
        );
    }
    // And some share a feed too: one fuse before all of them.
    let shared_feed = shared_return && numbers.one_in(2);
    if shared_feed {
        let usual = usual(sum);
        let rating = places.rating(numbers, "fore", FuseForm::BladeRegular, &usual);
        let _ = writeln!(
            fuses,
            "  fore: {{rating: {rating}, form: blade regular, {}}}",
            at("stern")
        );
        let _ = writeln!(
            buses,
            "  tip: {{polarity: positive, studs: 6, rating: 100 A, {}}}",
            at("bow")
        );
        let size = places.size(numbers, &["Q"]);
        runs += &red("T", "bar", "fore.in", "6 AWG", &short);
        runs += &red(
            "Q",
            "fore.out",
            "tip",
            &size,
            &format!("{}{in_bundle}", length(numbers, 2, 12)),
        );
    }
    for (load, &draw) in draws.iter().enumerate() {
        let (out, home) = (format!("P{load}"), format!("N{load}"));
        let feed = if shared_feed {
            "tip".to_owned()
        } else {
            let usual = usual(draw);
            let fuse = format!("f{load}");
            let rating = places.rating(numbers, &fuse, FuseForm::BladeRegular, &usual);
            let _ = writeln!(
                fuses,
                "  {fuse}: {{rating: {rating}, form: blade regular, {}}}",
                at("stern")
            );
            runs += &red(
                &format!("T{load}"),
                "bar",
                &format!("{fuse}.in"),
                "6 AWG",
                &short,
            );
            format!("{fuse}.out")
        };
        // What a given rating might stand against is asked of chosen ones.
        let is_open = !shared_feed
            && places
                .boat
                .ratings
                .last()
                .is_some_and(|(device, _)| *device == format!("f{load}"))
            || numbers.one_in(20);
        let what = numbers.of(&["heater", "motor", "lamp", "electronics"]);
        let class = numbers.of(&["3 %", "5 %", "10 %", "10 %", "20 %"]);
        let mut more = String::new();
        if is_open && what == "motor" && numbers.one_in(3) {
            let _ = write!(more, ", peak: {} A", draw * (2 + numbers.below(3)));
        }
        if is_open && what == "motor" && numbers.one_in(3) {
            let _ = write!(more, ", stall: {} A", draw * (3 + numbers.below(3)));
        }
        if is_open && numbers.one_in(6) {
            let _ = write!(more, ", largest-fuse: {} A", numbers.of(&[10, 15, 20]));
        }
        if numbers.one_in(5) {
            let tenths = 95 + numbers.below(15);
            let least = tenths * volts / 12;
            let _ = write!(more, ", min-voltage: {}.{} V", least / 10, least % 10);
        }
        if numbers.one_in(6) {
            more += ", behaves: power";
        }
        if numbers.one_in(6) {
            more += ", duty: intermittent";
        }
        let _ = writeln!(
            loads_text,
            "  load{load}: {{draw: {draw} A, kind: {what}, drop: {class}{more}, {}}}",
            at("bow")
        );
        let back = if shared_return { "far" } else { "back" };
        if numbers.one_in(4) {
            let gauge = places.size(numbers, &[&format!("C{load}-A"), &format!("C{load}-N")]);
            let _ = writeln!(
                circuits,
                "  c{load}: {{feed: {feed}, load: load{load}, return: {back}, gauge: {gauge}, colour: red, \
                 return-colour: black{}{in_bundle}}}",
                length(numbers, 2, 20)
            );
        } else if numbers.one_in(5) {
            let accepts = if metric {
                "[0.75 mm², 4 mm²]"
            } else {
                numbers.of(&["[18 AWG, 12 AWG]", "[16 AWG, 10 AWG]"])
            };
            let _ = writeln!(
                connectors,
                "  plug{load}: {{cavities: 2, contact-rating: 20 A, accepts: {accepts}, a: {{contacts: sockets, {0}}}, b: {{contacts: pins, {0}}}}}",
                at("bow")
            );
            let small = if metric { "4 mm²" } else { "12 AWG" };
            let fit = |size: String| {
                if size.starts_with('<') {
                    size
                } else {
                    small.to_owned()
                }
            };
            let (a, b) = (
                fit(places.size(numbers, &[&out])),
                fit(places.size(numbers, &[&home])),
            );
            runs += &red(
                &out,
                &feed,
                &format!("plug{load}.1a"),
                &a,
                &length(numbers, 2, 15),
            );
            runs += &red(
                &format!("U{load}"),
                &format!("plug{load}.1b"),
                &format!("load{load}.+"),
                small,
                &short,
            );
            runs += &black(
                &home,
                &format!("load{load}.-"),
                back,
                &b,
                &length(numbers, 2, 15),
            );
        } else {
            let (a, b) = (
                places.size(numbers, &[&out]),
                places.size(numbers, &[&home]),
            );
            runs += &red(
                &out,
                &feed,
                &format!("load{load}.+"),
                &a,
                &format!("{}{in_bundle}", length(numbers, 2, 20)),
            );
            runs += &black(
                &home,
                &format!("load{load}.-"),
                back,
                &b,
                &format!("{}{in_bundle}", length(numbers, 2, 20)),
            );
        }
    }
    let section = |name: &str, text: &str| {
        if text.is_empty() {
            String::new()
        } else {
            format!("{name}{text}")
        }
    };
    text += &batteries;
    text += &switches;
    text += &fuses;
    text += &chargers;
    text += &buses;
    text += &section("connectors:\n", &connectors);
    text += &loads_text;
    text += &runs;
    text += &section("circuits:\n", &circuits);
    places.boat.text = text;
    places.boat
}

impl Boat {
    fn with(&self, sizes: &[String], ratings: &[String]) -> String {
        let mut text = self.text.clone();
        for (at, size) in sizes.iter().enumerate() {
            text = text.replace(&format!("<s{at}>"), size);
        }
        for (at, rating) in ratings.iter().enumerate() {
            text = text.replace(&format!("<r{at}>"), rating);
        }
        text
    }

    fn auto(&self) -> String {
        let auto = "auto".to_owned();
        self.with(
            &vec![auto.clone(); self.sizes.len()],
            &vec![auto; self.ratings.len()],
        )
    }
}

/// What the rules say of a boat: findings that count, and advice on ratings that is followed.
type Faults = BTreeSet<(String, String)>;

fn faults_of(findings: &[loomwright::diag::Diagnostic]) -> Faults {
    findings
        .iter()
        .filter(|finding| {
            finding.severity.counts()
                || finding.severity == Severity::Note && matches!(finding.rule, "DP804" | "DP805")
        })
        .map(|finding| (finding.rule.to_owned(), finding.element.clone()))
        .collect()
}

/// The boat with sizes and ratings of its places as if they stood in the file.
struct Trial {
    system: System,
    conductors: Vec<Vec<usize>>,
    devices: Vec<usize>,
}

impl Trial {
    fn new(boat: &Boat) -> Self {
        let size = if boat.metric { "10 mm²" } else { "10 AWG" };
        let text = boat.with(
            &vec![size.to_owned(); boat.sizes.len()],
            &vec!["20 A".to_owned(); boat.ratings.len()],
        );
        let read = draft(text.as_bytes());
        let system = read.boat.expect("a usable file has a boat");
        let conductor = |number: &String| {
            system
                .conductors
                .iter()
                .position(|it| it.number == *number)
                .unwrap_or_else(|| panic!("{number} in {text}"))
        };
        let conductors = boat
            .sizes
            .iter()
            .map(|wires| wires.iter().map(conductor).collect())
            .collect();
        let devices = boat
            .ratings
            .iter()
            .map(|(name, _)| {
                system
                    .devices
                    .iter()
                    .position(|it| it.name == *name)
                    .expect("its name")
            })
            .collect();
        Self {
            system,
            conductors,
            devices,
        }
    }

    fn metres(&self, slot: usize) -> f64 {
        self.conductors[slot]
            .iter()
            .map(|&index| {
                self.system.conductors[index]
                    .length
                    .expect("a length")
                    .value
                    .0
            })
            .sum()
    }

    fn faults(&mut self, sizes: &[Gauge], ratings: &[Amps]) -> Faults {
        for (ids, &value) in self.conductors.iter().zip(sizes) {
            for &id in ids {
                self.system.conductors[id].gauge = Some(Given {
                    value,
                    span: None,
                    origin: Origin::Written,
                });
            }
        }
        for (&id, &value) in self.devices.iter().zip(ratings) {
            self.system.devices[id].rating = Some(Given {
                value,
                span: None,
                origin: Origin::Written,
            });
        }
        faults_of(&rules::run(&Facts::new(&self.system)))
    }
}

/// A boat with a limit that no sum of drops says, and the words that take the limit away.
struct Limited {
    rule: &'static str,
    body: &'static str,
    sizes: &'static [&'static str],
    away: (&'static str, &'static str),
}

const LIMITED: &[Limited] = &[
    Limited {
        rule: "DP802",
        body: "batteries:\n  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}\n\
            fuses:\n  fuse: {rating: 20 A, form: blade regular, zone: cabin}\n\
            loads:\n  light: {draw: 0.2 A, kind: lamp, drop: 10 %, zone: cabin}\n\
            runs:\n  B: {from: house.+, to: fuse.in, gauge: 16 AWG, colour: red, length: 6 in}\n  \
            F: {from: fuse.out, to: light.+, gauge: <s0>, colour: red, length: 60 ft}\n  \
            N: {from: light.-, to: house.-, gauge: <s1>, colour: black, length: 50 ft}\n",
        sizes: &["F", "N"],
        away: ("rating: 20 A", "rating: 1 A"),
    },
    Limited {
        rule: "DP803",
        body: "batteries:\n  house: {chemistry: agm, capacity: 7 Ah, resistance: 60 mΩ, zone: cabin}\n\
            fuses:\n  fuse: {rating: 30 A, form: bolt-down strip small, voltage: 32 V, interrupting: 2000 A, zone: cabin}\n\
            loads:\n  pump: {draw: 8 A, kind: motor, drop: 10 %, zone: cabin}\n\
            runs:\n  B: {from: house.+, to: fuse.in, gauge: 8 AWG, colour: red, length: 6 in}\n  \
            F: {from: fuse.out, to: pump.+, gauge: <s0>, colour: red, length: 2 ft}\n  \
            N: {from: pump.-, to: house.-, gauge: <s1>, colour: black, length: 2 ft}\n",
        sizes: &["F", "N"],
        away: (
            "rating: 30 A, form: bolt-down strip small",
            "rating: 10 A, form: blade regular",
        ),
    },
    Limited {
        rule: "VD306",
        body: "batteries:\n  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}\n\
            fuses:\n  fuse: {rating: 20 A, form: blade regular, zone: cabin}\n\
            loads:\n  plotter: {draw: 8 A, kind: electronics, min-voltage: 11.9 V, drop: 10 %, zone: cabin}\n\
            runs:\n  B: {from: house.+, to: fuse.in, gauge: <s0>, colour: red, length: 4 ft}\n  \
            F: {from: fuse.out, to: plotter.+, gauge: <s1>, colour: red, length: 17 ft}\n  \
            N: {from: plotter.-, to: house.-, gauge: <s2>, colour: black, length: 20 ft}\n",
        sizes: &["B", "F", "N"],
        away: (", min-voltage: 11.9 V", ""),
    },
    Limited {
        rule: "VD310",
        body: "batteries:\n  start: {bank: start, chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}\n\
            banks:\n  start: {purpose: start}\n\
            switches:\n  master: {kind: battery, rating: 200 A, intermittent-rating: 500 A, zone: cabin}\n\
            loads:\n  starter: {draw: 200 A, kind: starter, bank: start, drop: ordinary, zone: cabin}\n\
            runs:\n  A: {from: start.+, to: master.in, gauge: <s0>, colour: red, length: 4 ft 6 in, cranking: true}\n  \
            F: {from: master.out, to: starter.+, gauge: <s1>, colour: red, length: 6 ft 6 in, cranking: true}\n  \
            N: {from: starter.-, to: start.-, gauge: <s2>, colour: black, length: 8 ft 6 in, cranking: true}\n",
        sizes: &["A", "F", "N"],
        away: ("draw: 200 A", "draw: 60 A"),
    },
    Limited {
        rule: "AM206",
        body: "batteries:\n  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}\n\
            fuses:\n  one: {rating: 15 A, form: blade regular, zone: cabin}\n  two: {rating: 15 A, form: blade regular, zone: cabin}\n\
            buses:\n  far: {polarity: negative, studs: 6, rating: 100 A, zone: cabin}\n\
            loads:\n  fan: {draw: 7 A, kind: heater, drop: 10 %, zone: cabin}\n  lamp: {draw: 7 A, kind: heater, drop: 10 %, zone: cabin}\n\
            runs:\n  A: {from: house.+, to: one.in, gauge: 8 AWG, colour: red, length: 6 in}\n  \
            B: {from: house.+, to: two.in, gauge: 8 AWG, colour: red, length: 6 in}\n  \
            F: {from: one.out, to: fan.+, gauge: <s0>, colour: red, length: 30 ft}\n  \
            G: {from: two.out, to: lamp.+, gauge: <s1>, colour: red, length: 30 ft}\n  \
            H: {from: fan.-, to: far, gauge: 8 AWG, colour: black, length: 6 in}\n  \
            I: {from: lamp.-, to: far, gauge: 8 AWG, colour: black, length: 6 in}\n  \
            N: {from: far, to: house.-, gauge: <s2>, colour: black, length: 2 ft}\n",
        sizes: &["F", "G", "N"],
        away: ("length: 30 ft", "length: 6 ft"),
    },
    Limited {
        rule: "WY101",
        body: "points:\n  stern: {zone: cabin}\n  middle: {zone: cabin}\n  bow: {zone: cabin}\n\
            ways:\n  trunk: {between: [stern, middle], length: 10 ft}\n  \
            fore: {between: [middle, bow], length: 10 ft, hole: 9 mm}\n\
            batteries:\n  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, at: stern}\n\
            fuses:\n  fuse: {rating: 15 A, form: blade regular, at: stern}\n\
            buses:\n  plus: {polarity: positive, studs: 6, rating: 100 A, at: middle}\n  \
            minus: {polarity: negative, studs: 6, rating: 100 A, at: middle}\n\
            loads:\n  fan: {draw: 10 A, kind: heater, drop: 3 %, at: bow}\n\
            runs:\n  B: {from: house.+, to: fuse.in, gauge: 8 AWG, colour: red, length: 4 in}\n  \
            F: {from: fuse.out, to: plus, gauge: <s0>, colour: red}\n  \
            P: {from: plus, to: fan.+, gauge: <s1>, colour: red}\n  \
            N: {from: fan.-, to: minus, gauge: <s2>, colour: black}\n  \
            R: {from: minus, to: house.-, gauge: <s3>, colour: black}\n",
        sizes: &["F", "P", "N", "R"],
        away: ("hole: 9 mm", "hole: 40 mm"),
    },
];

#[test]
fn limits_that_no_sum_says_are_kept_with_the_least_copper() {
    for it in LIMITED {
        let boat = Boat {
            text: format!(
                "loomwright: 1\nboat: {{name: Example, practice: us, system: 12 V}}\n\
                 policy: {{insulation: 105 °C}}\n\
                 zones:\n  cabin: {{ambient: 30 °C, wet: dry}}\n{}",
                it.body
            ),
            sizes: it.sizes.iter().map(|&wire| vec![wire.to_owned()]).collect(),
            ..Boat::default()
        };
        let found = judge(&boat);
        let Outcome::Passes { chosen, exact, .. } = found else {
            panic!("{}: {found:?}\n{}", it.rule, boat.auto());
        };
        assert!(exact, "{} is not told to be exact", it.rule);
        // The limit is what decides: without it less copper does.
        let free = Boat {
            text: boat.text.replace(it.away.0, it.away.1),
            ..boat.clone()
        };
        let free = judge(&free);
        let Outcome::Passes { chosen: less, .. } = free else {
            panic!("{}: {free:?}", it.rule);
        };
        assert!(less < chosen, "{}: {less} and {chosen}", it.rule);
    }
}

/// What came of one boat.
#[derive(Clone, Debug, PartialEq)]
enum Outcome {
    /// Too many combinations.
    Large,
    /// Nothing passes, as far as was tried, whatever is chosen.
    Nothing(String),
    /// It passes: chosen, least told, least found, exact told.
    Passes {
        chosen: f64,
        least: f64,
        found: f64,
        exact: bool,
    },
    /// Something is wrong.
    Wrong(String),
}

/// Combinations of one boat that are tried.
const MAX_TRIED: usize = 4_000;

/// Sizes a boat and looks for what is better by trying everything.
fn judge(boat: &Boat) -> Outcome {
    let text = boat.auto();
    let read = draft(text.as_bytes());
    if !read.usable {
        return Outcome::Wrong(format!("unusable: {:?}", read.findings));
    }
    let chosen = read.boat.expect("a usable file has a boat");
    let left = faults_of(&compile(text.as_bytes(), Want::Findings).findings);
    let mut trial = Trial::new(boat);
    let practice = if boat.metric {
        Practice::Metric
    } else {
        Practice::Us
    };
    let sold = sold_sizes(practice);
    let metres: Vec<f64> = (0..boat.sizes.len())
        .map(|slot| trial.metres(slot))
        .collect();
    let sizes_chosen: Vec<Gauge> = trial
        .conductors
        .iter()
        .map(|ids| {
            chosen.conductors[ids[0]]
                .gauge
                .map_or(sold[0], |it| it.value)
        })
        .collect();
    let ratings_chosen: Vec<Amps> = trial
        .devices
        .iter()
        .map(|&id| chosen.devices[id].rating.map_or(Amps(0.0), |it| it.value))
        .collect();
    let cost = |sizes: &[Gauge]| -> f64 {
        sizes
            .iter()
            .zip(&metres)
            .map(|(size, metres)| size.area().0 * metres)
            .sum()
    };
    let most = cost(&sizes_chosen);
    // A few ratings below the one chosen, and where nothing passes also above it: a larger device would lose less, which
    // is no reason to fit one.
    let more = if left.is_empty() { 1 } else { 3 };
    let series: Vec<Vec<Amps>> = boat
        .ratings
        .iter()
        .zip(&ratings_chosen)
        .map(|((_, form), at)| {
            let (all, _) = fuse_ratings(*form);
            let here = all
                .iter()
                .position(|it| it.0 >= at.0)
                .unwrap_or(all.len() - 1);
            all[here.saturating_sub(2)..(here + more).min(all.len())].to_vec()
        })
        .collect();
    let clean = left.is_empty() && chosen.chosen.conflicts.is_empty();
    if clean {
        let found = trial.faults(&sizes_chosen, &ratings_chosen);
        if !found.is_empty() {
            return Outcome::Wrong(format!("passes as chosen but not as written: {found:?}"));
        }
    }
    // Cheapest first, by tries of every rating with every combination of sizes that is cheaper.
    let limit = if clean {
        most * (1.0 - 1e-6)
    } else {
        f64::INFINITY
    };
    let mut combinations: Vec<Vec<usize>> = vec![Vec::new()];
    for slot in 0..boat.sizes.len() {
        let rest: f64 = metres[slot + 1..]
            .iter()
            .map(|it| it * sold[0].area().0)
            .sum();
        let mut more = Vec::new();
        for before in &combinations {
            for option in 0..sold.len() {
                let mut options = before.clone();
                options.push(option);
                let sum: f64 = options
                    .iter()
                    .zip(&metres)
                    .map(|(&it, metres)| sold[it].area().0 * metres)
                    .sum();
                if sum + rest < limit {
                    more.push(options);
                }
                if more.len() > 400_000 {
                    return Outcome::Large;
                }
            }
        }
        combinations = more;
    }
    if boat.sizes.is_empty() && clean {
        combinations.clear();
    }
    let of_ratings: usize = series.iter().map(Vec::len).product();
    if combinations.len() * of_ratings > MAX_TRIED {
        if clean {
            return Outcome::Large;
        }
        // Of what is left a sample, evenly.
        let step = combinations.len() * of_ratings / MAX_TRIED + 1;
        combinations = combinations.into_iter().step_by(step).collect();
    }
    let sum = |options: &Vec<usize>| -> f64 {
        options
            .iter()
            .zip(&metres)
            .map(|(&it, metres)| sold[it].area().0 * metres)
            .sum()
    };
    combinations.sort_by(|a, b| sum(a).total_cmp(&sum(b)));
    let mut best: Option<(f64, Vec<Gauge>, Vec<Amps>)> = None;
    'all: for options in &combinations {
        let sizes: Vec<Gauge> = options.iter().map(|&it| sold[it]).collect();
        let mut at = vec![0; series.len()];
        loop {
            let ratings: Vec<Amps> = at
                .iter()
                .zip(&series)
                .map(|(&at, series)| series[at])
                .collect();
            if trial.faults(&sizes, &ratings).is_empty() {
                best = Some((sum(options), sizes.clone(), ratings));
                break 'all;
            }
            let Some(place) = (0..at.len()).find(|&place| at[place] + 1 < series[place].len())
            else {
                break;
            };
            at[place] += 1;
            at[..place].fill(0);
        }
    }
    let words = |best: &Option<(f64, Vec<Gauge>, Vec<Amps>)>| {
        best.as_ref()
            .map_or_else(String::new, |(cost, sizes, ratings)| {
                format!(
                    "{cost:.4}: {} {}",
                    sizes
                        .iter()
                        .map(ToString::to_string)
                        .collect::<Vec<_>>()
                        .join(", "),
                    ratings
                        .iter()
                        .map(|it| format!("{} A", it.0))
                        .collect::<Vec<_>>()
                        .join(", ")
                )
            })
    };
    let told = chosen.chosen.copper;
    let mine = words(&Some((most, sizes_chosen.clone(), ratings_chosen.clone())));
    if !clean {
        return match best {
            None => Outcome::Nothing(format!(
                "{left:?} {:?}",
                chosen
                    .chosen
                    .conflicts
                    .iter()
                    .map(|it| format!("{:?}", it.rules))
                    .collect::<Vec<_>>()
            )),
            Some(_) => Outcome::Wrong(format!(
                "left {left:?}, conflicts {:?}; chosen {mine}; passes {}",
                chosen
                    .chosen
                    .conflicts
                    .iter()
                    .map(|it| &it.message)
                    .collect::<Vec<_>>(),
                words(&best)
            )),
        };
    }
    let found = best.as_ref().map_or(most, |it| it.0);
    if (told.chosen - most).abs() > 1e-3 {
        return Outcome::Wrong(format!("copper told {} and counted {most}", told.chosen));
    }
    if told.exact && best.is_some() {
        return Outcome::Wrong(format!("exact {mine}; cheaper {}", words(&best)));
    }
    if told.least > found * (1.0 + 1e-5) {
        return Outcome::Wrong(format!(
            "bound {} of {mine}; cheaper {}",
            told.least,
            words(&best)
        ));
    }
    Outcome::Passes {
        chosen: most,
        least: told.least,
        found,
        exact: told.exact,
    }
}
