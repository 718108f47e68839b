//! Boats that are wired at random, for tests that must hold on boats nobody thought of.
//!
//! Up to three banks on buses with cross ties on both poles, loads of every behaviour between them; an alternator behind
//! a diode isolator, a converter from one bank to another, switches and fuses in some ways. The same seed makes the same boat.

use std::fmt::Write;

/// A linear congruential generator with a fixed start.
pub(crate) struct Dice(u64);

impl Dice {
    /// Starts from a seed.
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// A number below another.
    pub(crate) fn below(&mut self, most: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % most
    }

    /// One of some words.
    pub(crate) fn one_of<'w>(&mut self, words: &[&'w str]) -> &'w str {
        words[usize::try_from(self.below(words.len() as u64)).expect("small")]
    }
}

const GAUGES: [&str; 5] = ["2 AWG", "4 AWG", "6 AWG", "8 AWG", "10 AWG"];

/// The netlist of a boat.
pub(crate) fn boat(seed: u64) -> String {
    let mut dice = Dice::new(seed);
    let (batteries, buses, loads) = (1 + dice.below(3), 3 + dice.below(5), 4 + dice.below(9));
    let isolator = dice.below(2) == 0;
    let converter = batteries > 1 && dice.below(2) == 0;
    let mut text = format!(
        "loomwright: 1\nboat: {{name: Random {seed}, practice: us, system: 12 V}}\nbatteries:\n"
    );
    for battery in 0..batteries {
        let chemistry = dice.one_of(&["agm", "flooded", "gel"]);
        let _ = writeln!(
            text,
            "  b{battery}: {{bank: bank-{battery}, chemistry: {chemistry}, capacity: {} Ah, cranking: {} A}}",
            60 + 10 * dice.below(8),
            400 + 50 * dice.below(9)
        );
    }
    text.push_str("buses:\n");
    for bus in 0..buses {
        let _ = writeln!(
            text,
            "  p{bus}: {{polarity: positive}}\n  n{bus}: {{polarity: negative}}"
        );
    }
    if isolator {
        text.push_str(
            "isolators:\n  split: {outputs: 2, rating: 70 A}\n\
             alternators:\n  engine: {current: 55 A, voltage: 14.4 V, self-limiting: true}\n",
        );
    }
    if converter {
        text.push_str(
            "converters:\n  step: {input-current: 12 A, output-current: 10 A, input-voltage: 12 V, output-voltage: 14.2 V, \
             isolated: false, chemistry: agm}\n",
        );
    }
    let mut switches = String::from("switches:\n");
    let mut fuses = String::from("fuses:\n");
    let mut runs = String::from("runs:\n");
    text.push_str("loads:\n");
    for load in 0..loads {
        let kind = dice.one_of(&["lamp", "electronics", "motor", "heater"]);
        let behaviour = dice.one_of(&["current", "power", "resistance"]);
        let _ = writeln!(
            text,
            "  l{load}: {{draw: {}.{} A, kind: {kind}, behaves: {behaviour}}}",
            1 + dice.below(6),
            dice.below(10)
        );
    }
    let mut number = 0;
    let mut run = |dice: &mut Dice, from: &str, to: &str, thinnest: u64, feet: u64| {
        number += 1;
        let gauge = dice.one_of(&GAUGES[usize::try_from(thinnest).expect("small")..]);
        let _ = writeln!(
            runs,
            "  W{number}: {{from: {from}, to: {to}, gauge: {gauge}, length: {} ft}}",
            1 + dice.below(feet)
        );
    };
    for battery in 0..batteries {
        let bus = dice.below(buses);
        let (plus, minus) = (format!("b{battery}.+"), format!("b{battery}.-"));
        if dice.below(2) == 0 {
            let _ = writeln!(switches, "  s{battery}: {{kind: battery, rating: 300 A}}");
            run(&mut dice, &plus, &format!("s{battery}.in"), 0, 5);
            run(
                &mut dice,
                &format!("s{battery}.out"),
                &format!("p{bus}"),
                0,
                5,
            );
        } else {
            run(&mut dice, &plus, &format!("p{bus}"), 0, 5);
        }
        let bus = dice.below(buses);
        run(&mut dice, &minus, &format!("n{bus}"), 0, 5);
    }
    for pole in ["p", "n"] {
        for bus in 1..buses {
            let other = dice.below(bus);
            run(
                &mut dice,
                &format!("{pole}{other}"),
                &format!("{pole}{bus}"),
                0,
                12,
            );
        }
        for _ in 0..=dice.below(4) {
            let (one, other) = (dice.below(buses), dice.below(buses));
            if one != other {
                run(
                    &mut dice,
                    &format!("{pole}{one}"),
                    &format!("{pole}{other}"),
                    0,
                    12,
                );
            }
        }
    }
    for load in 0..loads {
        let (from, to) = (dice.below(buses), dice.below(buses));
        let plus = format!("l{load}.+");
        match dice.below(3) {
            0 => {
                let _ = writeln!(fuses, "  f{load}: {{rating: 15 A, form: blade regular}}");
                run(
                    &mut dice,
                    &format!("p{from}"),
                    &format!("f{load}.in"),
                    2,
                    15,
                );
                run(&mut dice, &format!("f{load}.out"), &plus, 2, 15);
            }
            1 => {
                let _ = writeln!(switches, "  t{load}: {{rating: 20 A}}");
                run(
                    &mut dice,
                    &format!("p{from}"),
                    &format!("t{load}.in"),
                    2,
                    15,
                );
                run(&mut dice, &format!("t{load}.out"), &plus, 2, 15);
            }
            _ => run(&mut dice, &format!("p{from}"), &plus, 2, 15),
        }
        run(&mut dice, &format!("l{load}.-"), &format!("n{to}"), 2, 15);
    }
    if isolator {
        let (one, other, back) = (dice.below(buses), dice.below(buses), dice.below(buses));
        run(&mut dice, "engine.+", "split.in", 1, 6);
        run(&mut dice, "split.1", &format!("p{one}"), 1, 6);
        run(&mut dice, "split.2", &format!("p{other}"), 1, 40);
        run(&mut dice, "engine.-", &format!("n{back}"), 1, 6);
    }
    if converter {
        let (into, out, back) = (dice.below(buses), dice.below(buses), dice.below(buses));
        run(&mut dice, &format!("p{into}"), "step.in+", 2, 6);
        run(&mut dice, "step.out+", &format!("p{out}"), 2, 6);
        run(&mut dice, "step.out-", &format!("n{back}"), 2, 6);
    }
    for section in [switches, fuses] {
        if section.lines().count() > 1 {
            text.push_str(&section);
        }
    }
    text.push_str(&runs);
    text
}
