//! Made boats for the drawing: the same on every machine, as large and as tangled as wanted.
//!
//! They have the shape of real ones, not their sense: nothing here is sized, and no rule is meant to pass.

use std::collections::BTreeMap;
use std::fmt::Write;

/// Numbers that look random and are the same on every machine: Knuth's MMIX generator (from memory).
pub(crate) struct Dice(pub(crate) u64);

impl Dice {
    /// A number below a limit.
    pub(crate) fn below(&mut self, limit: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        usize::try_from((self.0 >> 33) % limit.max(1) as u64).expect("a small number")
    }

    /// True in so many of a hundred cases.
    pub(crate) fn often(&mut self, percent: usize) -> bool {
        self.below(100) < percent
    }
}

/// Loads of one zone.
const IN_ZONE: usize = 9;

/// Zones behind one bank.
const ON_BANK: usize = 12;

/// A netlist as it grows: the records of each section, and the runs.
#[derive(Default)]
struct Text {
    sections: BTreeMap<&'static str, String>,
    runs: String,
    count: usize,
}

impl Text {
    fn add(&mut self, section: &'static str, name: &str, record: &str) {
        let _ = writeln!(
            self.sections.entry(section).or_default(),
            "  {name}: {{{record}}}"
        );
    }

    fn run(&mut self, from: &str, to: &str, more: &str) {
        self.count += 1;
        let negative = from.contains("minus") || to.contains("minus") || from.ends_with(".-");
        let colour = if negative { "black" } else { "red" };
        let _ = writeln!(
            self.runs,
            "  W{}: {{from: {from}, to: {to}, gauge: 14 AWG, colour: {colour}{more}}}",
            self.count
        );
    }

    fn finish(self) -> String {
        let mut text =
            String::from("loomwright: 1\nboat: {name: Made, practice: us, system: 12 V}\n");
        for (section, records) in self.sections {
            let _ = write!(text, "{section}:\n{records}");
        }
        let _ = write!(text, "runs:\n{}", self.runs);
        text
    }
}

/// A boat of so many loads, and of the loads so many per cent with a tie that leaves the ladder.
///
/// Ties are second feeds, returns to another zone, links of negative buses, float switches beside manual ones,
/// sense leads, combiners between banks and chargers with several outputs.
pub(crate) fn boat(loads: usize, ties_percent: usize, seed: u64) -> String {
    let mut dice = Dice(seed);
    let mut text = Text::default();
    let zones = loads.div_ceil(IN_ZONE).max(1);
    let banks = zones.div_ceil(ON_BANK) + 1;
    for bank in 0..banks {
        supply(&mut text, bank, banks);
    }
    for zone in 0..zones {
        distribution(&mut text, zone, banks);
    }
    let mut combiners = 0;
    let mut chargers = 0;
    for load in 0..loads {
        // Spread evenly, and never none where some are wanted.
        let ties = |loads: usize| (loads * ties_percent).div_ceil(100);
        let tie = (ties(load + 1) > ties(load))
            .then(|| dice.below(7))
            .map(|kind| match kind {
                // Banks are few, and so is what ties them.
                4 if combiners + 1 >= banks => 0,
                5 if chargers + 1 >= banks => 1,
                other => other,
            });
        branch(&mut text, &mut dice, load, zones, tie);
        match tie {
            Some(4) => {
                combine(&mut text, combiners);
                combiners += 1;
            }
            Some(5) => {
                charge(&mut text, chargers, banks);
                chargers += 1;
            }
            Some(6) => sense(&mut text, load, banks),
            _ => {}
        }
    }
    text.finish()
}

/// A bank with its fuse, its switch and its bus; the first one starts the engine.
fn supply(text: &mut Text, bank: usize, banks: usize) {
    if bank == 0 {
        text.add("zones", "aft", "ambient: 30 °C");
        text.add("buses", "minus", "polarity: negative, zone: aft");
        text.add(
            "loads",
            "engine-starter",
            "kind: starter, draw: 150 A, zone: aft",
        );
        text.add(
            "alternators",
            "engine-alternator",
            "current: 60 A, zone: aft",
        );
        text.run("start-switch.out", "engine-starter.+", "");
        text.run("engine-starter.-", "minus", "");
        text.run("engine-alternator.+", "start.+", "");
        text.run("engine-alternator.-", "minus", "");
    }
    let name = bank_name(bank);
    let bank_record = format!("bank: {name}, capacity: 100 Ah, zone: aft");
    text.add("batteries", &name, &bank_record);
    text.add("fuses", &format!("{name}-fuse"), "rating: 200 A, zone: aft");
    text.add(
        "switches",
        &format!("{name}-switch"),
        "kind: battery, zone: aft",
    );
    text.run(&format!("{name}.+"), &format!("{name}-fuse.in"), "");
    text.run(
        &format!("{name}-fuse.out"),
        &format!("{name}-switch.in"),
        "",
    );
    text.run(&format!("{name}.-"), "minus", "");
    if bank > 0 || banks == 1 {
        text.add(
            "buses",
            &format!("{name}-plus"),
            "polarity: positive, zone: aft",
        );
        text.run(&format!("{name}-switch.out"), &format!("{name}-plus"), "");
    }
}

fn bank_name(bank: usize) -> String {
    if bank == 0 {
        "start".to_owned()
    } else {
        format!("house-{bank}")
    }
}

/// The feeder, fuse block, negative bus and plug of a zone.
fn distribution(text: &mut Text, zone: usize, banks: usize) {
    let bank = bank_name((1 + zone / ON_BANK).min(banks - 1));
    text.add("zones", &format!("zone-{zone}"), "ambient: 30 °C");
    let ways: Vec<String> = (1..=12)
        .map(|way| format!("{way}: {}", if way < 12 { "5 A" } else { "spare" }))
        .collect();
    text.add(
        "fuse-blocks",
        &format!("block-{zone}"),
        &format!("zone: zone-{zone}, ways: {{{}}}", ways.join(", ")),
    );
    let feeder = ["fuses", "breakers"][zone % 2];
    text.add(feeder, &format!("feeder-{zone}"), "rating: 60 A, zone: aft");
    text.add(
        "buses",
        &format!("minus-{zone}"),
        &format!("polarity: negative, zone: zone-{zone}"),
    );
    text.add(
        "connectors",
        &format!("plug-{zone}"),
        &format!("cavities: 24, a: {{contacts: sockets, zone: zone-{zone}}}, b: {{contacts: pins, zone: zone-{zone}}}"),
    );
    text.run(&format!("{bank}-plus"), &format!("feeder-{zone}.in"), "");
    text.run(
        &format!("feeder-{zone}.out"),
        &format!("block-{zone}.feed"),
        "",
    );
    text.run(&format!("minus-{zone}"), "minus", "");
}

/// One load with its way, its switch at the panel, its plug and its return.
fn branch(text: &mut Text, dice: &mut Dice, load: usize, zones: usize, tie: Option<usize>) {
    const KINDS: [&str; 7] = [
        "lamp",
        "motor",
        "electronics",
        "horn",
        "outlet",
        "heater",
        "other",
    ];
    let (zone, way) = (load / IN_ZONE, load % IN_ZONE + 1);
    // A tie never ends in its own zone, unless there is but one.
    let elsewhere = (zone + 1 + dice.below(zones.max(2) - 1)) % zones;
    let kind = KINDS[dice.below(KINDS.len())];
    let draw = 1 + dice.below(5);
    let two_feeds = tie == Some(0);
    let inputs = if two_feeds {
        ", inputs: {main: {}, memory: {}}"
    } else {
        ""
    };
    let name = format!("load-{load}");
    text.add(
        "loads",
        &name,
        &format!("kind: {kind}, draw: {draw} A, zone: zone-{zone}{inputs}"),
    );
    let plus = format!("{name}.{}", if two_feeds { "main" } else { "+" });
    let mut at = format!("block-{zone}.{way}");
    let plug = dice.often(30);
    if tie == Some(3) {
        // A pump that a switch or a float runs.
        let switch = format!("pump-switch-{load}");
        text.add("switches", &switch, "terminals: [feed, manual, auto], positions: {manual: [[feed, manual]], 'off': [], auto: [[feed, auto]]}, zone: aft");
        text.add(
            "switches",
            &format!("float-{load}"),
            &format!("kind: float, zone: zone-{zone}"),
        );
        text.run(&at, &format!("{switch}.feed"), "");
        text.run(&format!("{switch}.auto"), &format!("float-{load}.in"), "");
        text.run(&format!("float-{load}.out"), &plus, "");
        at = format!("{switch}.manual");
    } else if dice.often(50) {
        let switch = format!("switch-{load}");
        text.add("switches", &switch, "kind: panel, rating: 10 A, zone: aft");
        text.run(&at, &format!("{switch}.in"), "");
        at = format!("{switch}.out");
    }
    if plug {
        text.run(&at, &format!("plug-{zone}.{}a", 2 * way - 1), "");
        at = format!("plug-{zone}.{}b", 2 * way - 1);
    }
    text.run(&at, &plus, "");
    let mut back = format!("{name}.-");
    if plug {
        text.run(&back, &format!("plug-{zone}.{}b", 2 * way), "");
        back = format!("plug-{zone}.{}a", 2 * way);
    }
    let home = if tie == Some(1) { elsewhere } else { zone };
    text.run(&back, &format!("minus-{home}"), "");
    match tie {
        Some(0) => text.run(
            &format!("block-{elsewhere}.{}", 10 + way % 2),
            &format!("{name}.memory"),
            "",
        ),
        Some(2) if zones > 1 => {
            text.run(&format!("minus-{zone}"), &format!("minus-{elsewhere}"), "");
        }
        _ => {}
    }
}

/// A combiner between a bank and the next.
fn combine(text: &mut Text, index: usize) {
    let name = format!("combiner-{index}");
    text.add("combiners", &name, "rating: 100 A, zone: aft");
    text.run(&format!("{}.+", bank_name(index)), &format!("{name}.a"), "");
    text.run(
        &format!("{name}.b"),
        &format!("{}.+", bank_name(index + 1)),
        "",
    );
}

/// A charger for a bank and the one or two after it, each output with its fuse.
fn charge(text: &mut Text, index: usize, banks: usize) {
    let name = format!("charger-{index}");
    let outputs = 2 + index % 2;
    let list: Vec<String> = (1..=outputs)
        .map(|output| format!("{output}: {{}}"))
        .collect();
    text.add(
        "chargers",
        &name,
        &format!("outputs: {{{}}}, zone: aft", list.join(", ")),
    );
    for output in 1..=outputs {
        let fuse = format!("{name}-fuse-{output}");
        let bank = bank_name((index + output - 1) % banks);
        text.add("fuses", &fuse, "rating: 30 A, zone: aft");
        text.run(&format!("{name}.{output}+"), &format!("{fuse}.out"), "");
        text.run(&format!("{fuse}.in"), &format!("{bank}.+"), "");
    }
    text.run(&format!("{name}.-"), "minus", "");
}

/// A meter of a zone that senses a bank.
fn sense(text: &mut Text, load: usize, banks: usize) {
    let zone = load / IN_ZONE;
    let name = format!("meter-{load}");
    text.add(
        "instruments",
        &name,
        &format!("kind: monitor, draw: 10 mA, senses: [volts], zone: zone-{zone}"),
    );
    text.run(
        &format!("block-{zone}.{}", 10 + load % 2),
        &format!("{name}.+"),
        "",
    );
    text.run(&format!("{name}.-"), &format!("minus-{zone}"), "");
    let bank = bank_name(1 + load % (banks - 1).max(1));
    let bank = if banks == 1 { bank_name(0) } else { bank };
    text.run(
        &format!("{bank}.+"),
        &format!("{name}.volts"),
        ", sense: true",
    );
}
