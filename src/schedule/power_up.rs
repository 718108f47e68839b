//! The sheet before and at power-up: stage by stage, where the probes go, what should show, what to suspect if not.
//!
//! Figures and suspects come from `analysis::readings`; this file finds the words. What no netlist
//! can decide is on a sheet of its own.

use super::cautions;
use super::findings::accepted_by_owner;
use super::paper::{Block, Cell, Column, Field, Orientation, Sheet, Table};
use crate::analysis::readings::{
    BAD_JOINT, Expected, Fitted, Group, NEGATIVE_OHMS, Plan, Probe, Quantity, Reason, Setting,
    Step, Subject, Supply, Suspects, rest,
};
use crate::standards::constants;
use crate::system::{
    BankId, CircuitId, ComponentKind, DeviceId, GearId, GearKind, LinkId, LinkKind, LoadId,
    LoadKind, SourceId, SourceKind, System, TerminalId,
};
use crate::units::{Amps, Ohms, Rounding, Volts, amps, decimal, volts};

const COLUMNS: &[&str] = &[
    "step",
    "stage",
    "subject",
    "state",
    "red_probe",
    "black_probe",
    "quantity",
    "expected",
    "value",
    "low",
    "high",
    "unit",
    "reading_step",
    "only_if_off",
    "suspect_dead",
    "suspect_weak",
];

/// Title and method of every stage.
const STAGES: [(&str, &str); 7] = [
    (
        "Stage 0: batteries out, everything off",
        "All battery lugs off and boxed, chargers off, every switch at rest, every fuse out and every breaker open. \
         Resistance between + and − at each block; then each load that is always on, alone, with its own fuse in, and its negative.",
    ),
    (
        "Stage 1: no batteries, one fuse in at a time",
        "Resistance of each load through its own fuse and switch, then of its negative. Short the leads and null the meter first. \
         Turn the probes round where a reading climbs: electronics charge up under the meter.",
    ),
    (
        "Stage 2: polarity before the last lug",
        "Every fuse out, every switch off, the lowest negative lug of every string off its post. Each battery by itself, then each string, \
         then the loose lug against its post.",
    ),
    (
        "Stage 3: a lamp or a 3 A fuse in place of the main, or behind the last lug",
        "One string at a time, every other negative lug off and boxed. Single devices in, ways of blocks out, hand switches, chargers and converters off, \
         battery switch on. The lamp stays dark; a lamp that lights has found a load or a short: off at once.",
    ),
    (
        "Stage 4: one circuit at a time, load running",
        "All lugs on, mains in. Of the ways of blocks only the one named is in; pull it again behind the last reading. Read the battery with the load \
         running, then the rest against that reading, so that the sheet holds at any state of charge.",
    ),
    (
        "Stage 5: what lives, what is dead, what is isolated",
        "All fuses in, hand switches off. Turn the battery switches as listed and try every stud named: live to its negative, dead, and from which bank. \
         Then one bank at work and a clamp on the others.",
    ),
    (
        "Stage 6: charging",
        "One source at a time, battery switches in their normal positions. With the engine running do not turn a battery switch through off.",
    ),
];

/// One record a step.
#[must_use]
pub fn power_up_table(system: &System, plan: &Plan) -> Table {
    let words = Words::new(system);
    let rows = plan
        .groups
        .iter()
        .flat_map(|group| group.steps.iter().map(move |step| (group, step)))
        .map(|(group, step)| {
            let figures = Figures::of(&step.expected);
            let (expected, accept) = words.expected(&step.expected);
            let number = |value: Option<f64>| Cell::maybe(value, 3);
            // Where nothing is measured these cells hold what lives and what is dead.
            let (red, black) = match &step.expected {
                Expected::LiveAndDead { live, dead } => {
                    (listed(&words.live(live)), listed(&words.dead(dead)))
                }
                _ => (words.probe(step.red), words.probe(step.black)),
            };
            vec![
                Cell::text(step.id.to_string()),
                Cell::count(usize::from(group.stage)),
                Cell::text(words.subject(&group.subject)),
                Cell::text(words.setting(group)),
                Cell::text(red),
                Cell::text(black),
                Cell::text(match step.quantity {
                    Quantity::Volts => "voltage",
                    Quantity::Ohms => "resistance",
                    Quantity::Amps => "current",
                    Quantity::Look => "look",
                }),
                Cell::text([expected.as_str(), accept.as_str()].join("; ")),
                number(figures.value),
                number(figures.low),
                number(figures.high),
                Cell::text(figures.unit),
                Cell::text(figures.reading),
                Cell::text(
                    step.only_if_off
                        .map(|other| other.to_string())
                        .unwrap_or_default(),
                ),
                Cell::text(words.links(&step.suspects.dead)),
                Cell::text(words.links(&step.suspects.weak)),
            ]
        })
        .collect();
    Table {
        stem: "power-up",
        columns: COLUMNS,
        rows,
    }
}

/// The sheet to work through.
#[must_use]
pub fn power_up_sheet(system: &System, plan: &Plan) -> Sheet {
    let words = Words::new(system);
    let mut blocks = vec![Block {
        title: "Cautions: read before the first step".to_owned(),
        totals: head_cautions(system),
        ..Block::default()
    }];
    blocks.extend(accepted_by_owner(system));
    for stage in 0..=6u8 {
        let groups: Vec<&Group> = plan
            .groups
            .iter()
            .filter(|group| group.stage == stage)
            .collect();
        let (title, detail) = STAGES[usize::from(stage)];
        let all = words.in_all(&groups);
        blocks.push(Block {
            title: title.to_owned(),
            detail: if all.is_empty() {
                detail.to_owned()
            } else {
                format!("{detail} In every step: {}.", all.join("; "))
            },
            totals: if groups.is_empty() {
                vec!["No step: the netlist gives nothing to measure here".to_owned()]
            } else {
                Vec::new()
            },
            ..Block::default()
        });
        stage_blocks(&words, &groups, all.len(), &mut blocks);
        if stage == 5 && plan.combinations_left_out > 0 {
            blocks.push(Block {
                totals: vec![format!(
                    "{} combinations of battery switches are not listed: too many",
                    plan.combinations_left_out
                )],
                ..Block::default()
            });
        }
    }
    Sheet {
        stem: "power-up",
        title: "Pre-power-up sheet",
        orientation: Orientation::Across,
        remarks: vec![
            "Every step in its order; an open finding is repaired first. A step that is off stops the work until its cause is found; \
             the fault dictionary behind this sheet tells where to look. A load that gets its voltage has both of its ways proved, so what \
             each way loses is read only where that is off, and stands in the dictionary. \
             Expected figures are solved from the netlist with copper at the temperature in the head; contacts, devices and batteries without a \
             resistance in the netlist lose what their kind usually does (common practice, no source)."
                .to_owned(),
            "Band of a voltage: 0.05 V, or 20 % of the computed loss where that is more (common practice, no source). \
             Resistances under 0.1 Ω are not asked for. To have the readings compared, run `loomwright readings NETLIST READINGS`."
                .to_owned(),
        ],
        columns: vec![
            Column::text("Step", 13.0),
            Column::text("Red probe", 46.0),
            Column::text("Black probe", 46.0),
            Column::text("Range", 13.0),
            Column::text("Expected", 42.0),
            Column::text("Accept", 42.0),
            Column::text("Measured", 26.0),
            Column::tick("Pass"),
            Column::text("If not", 46.0),
        ],
        blocks,
        strips: Vec::new(),
        cautions: Vec::new(),
    }
}

/// Rows of one stage: a block for every way the boat stands, told once; what the whole stage has in common is left out.
fn stage_blocks(words: &Words<'_>, groups: &[&Group], in_all: usize, blocks: &mut Vec<Block>) {
    let mut block = Block::default();
    let mut before = None;
    for group in groups {
        let own = words.parts(group)[in_all..].join("; ");
        // Blocks and buses stand alike, and their probes name them.
        let subject = match group.subject {
            Subject::Point(_) => "Blocks, buses and feeds".to_owned(),
            _ => words.subject(&group.subject),
        };
        let about = (subject, own);
        if before.as_ref() != Some(&about) {
            if !block.rows.is_empty() {
                blocks.push(std::mem::take(&mut block));
            }
            // Where nothing is turned between two subjects the probes tell them apart.
            if !about.1.is_empty() {
                block.title.clone_from(&about.0);
                block.detail.clone_from(&about.1);
            }
        }
        before = Some(about);
        // What is read only where another step is off stands in the fault dictionary.
        let asked = group.steps.iter().filter(|step| step.only_if_off.is_none());
        for step in asked {
            block.rows.push(words.row(group, step));
        }
    }
    if !block.rows.is_empty() {
        blocks.push(block);
    }
}

/// The fault dictionary: whom to suspect behind each reading that is off, likeliest first.
#[must_use]
pub fn fault_sheet(system: &System, plan: &Plan) -> Sheet {
    let words = Words::new(system);
    Sheet {
        stem: "fault-dictionary",
        title: "Fault dictionary",
        orientation: Orientation::Across,
        remarks: vec![format!(
            "For the steps of the pre-power-up sheet. Where a load is short of voltage, read what each side of it loses, with the boat as it \
             stands in that step. Each link open, and each joint with {} Ω more, was simulated alone; at most three \
             are told, those that fail first come first. Dead: an open line on ohms, 0 V at a load, battery voltage across one side of it. \
             Weak: too little at a load, too much across one side. No entry is a proof, and two faults at once read otherwise.",
            decimal(BAD_JOINT.0, 1)
        )],
        columns: vec![
            Column::text("Steps", 26.0),
            Column::text("About, or what to read", 86.0),
            Column::text("Measured", 22.0),
            Column::text("Dead: suspect", 76.0),
            Column::text("Weak: suspect", 76.0),
        ],
        blocks: vec![Block {
            rows: fault_rows(&words, plan),
            ..Block::default()
        }],
        strips: Vec::new(),
        cautions: Vec::new(),
    }
}

/// Steps of one load that point at the same links, as one row.
fn fault_rows(words: &Words<'_>, plan: &Plan) -> Vec<Vec<Field>> {
    struct Entry<'p> {
        load: LoadId,
        steps: Vec<String>,
        about: Vec<String>,
        is_read: bool,
        dead: &'p [LinkId],
        weak: &'p [LinkId],
    }
    let mut entries: Vec<Entry<'_>> = Vec::new();
    // By load: its entries, so that a boat of many loads is not searched for each step.
    let mut of_load: std::collections::BTreeMap<LoadId, Vec<usize>> =
        std::collections::BTreeMap::new();
    for group in &plan.groups {
        let Subject::Load(feed) = &group.subject else {
            continue;
        };
        for step in &group.steps {
            let Suspects { dead, weak } = &step.suspects;
            if dead.is_empty() && weak.is_empty() {
                continue;
            }
            let known = of_load.entry(feed.load).or_default();
            let same = known.iter().copied().find(|&at| {
                let entry = &entries[at];
                entry.dead == dead.as_slice()
                    && (entry.weak.is_empty() || weak.is_empty() || entry.weak == weak.as_slice())
            });
            let at = same.unwrap_or_else(|| {
                known.push(entries.len());
                entries.push(Entry {
                    load: feed.load,
                    steps: Vec::new(),
                    about: Vec::new(),
                    is_read: false,
                    dead,
                    weak: &[],
                });
                entries.len() - 1
            });
            let entry = &mut entries[at];
            entry.steps.push(step.id.to_string());
            let about = if step.only_if_off.is_some() {
                entry.is_read = true;
                let (expected, accept) = words.expected(&step.expected);
                format!(
                    "{}: {} against {}: {expected} {accept}",
                    step.id,
                    words.probe(step.red),
                    words.probe(step.black)
                )
            } else {
                words.subject(&group.subject)
            };
            if !entry.about.contains(&about) {
                entry.about.push(about);
            }
            if entry.weak.is_empty() {
                entry.weak = weak;
            }
        }
    }
    entries.sort_by_key(|entry| entry.load);
    entries
        .iter()
        .map(|entry| {
            let weak = if entry.weak == entry.dead && !entry.weak.is_empty() {
                "the same".to_owned()
            } else {
                words.links(entry.weak)
            };
            vec![
                Field::text(entry.steps.join(", ")),
                Field::Lines(entry.about.clone()),
                if entry.is_read {
                    Field::Blank(String::new())
                } else {
                    Field::text("")
                },
                Field::text(words.links(entry.dead)),
                Field::text(weak),
            ]
        })
        .collect()
}

/// The cautions of this work.
fn head_cautions(system: &System) -> Vec<String> {
    let mut all = vec![cautions::DISCONNECT, POLARITY, cautions::HEAT, FIRST_POWER];
    all.extend(cautions::for_sources(system));
    if system
        .sources
        .iter()
        .any(|source| source.kind == SourceKind::Alternator)
    {
        all.push(ENGINE);
    }
    all.extend([
        BATTERIES,
        cautions::NEVER_LARGER,
        HOT,
        cautions::NO_AC,
        METER,
    ]);
    all.into_iter().map(str::to_owned).collect()
}

/// Reversed batteries.
const POLARITY: &str = "Reversed or mis-linked batteries are a leading cause of battery fires: photograph them, mark the positives, \
    measure polarity and string total before the last lug.";

/// The first minutes.
const FIRST_POWER: &str = "First power with a lamp or a small fuse, somebody at the battery switch, an extinguisher in reach, hatches open.";

/// Alternators.
const ENGINE: &str = "Do not run the engine with its battery disconnected, and do not turn a battery switch through off while it runs.";

/// Hydrogen and weight.
const BATTERIES: &str =
    "Batteries give off hydrogen while they charge: ventilate, no sparks, eye protection.";

/// Hot parts.
const HOT: &str =
    "Cables, motors and heaters can be hot, and so is a fuse that carries its full rating.";

/// The meter itself.
const METER: &str = "Resistance only on dead wires; current only with a clamp; a meter left on amperes is a short between its probes.";

/// What the figures of an expectation are, for the table.
#[derive(Default)]
struct Figures {
    value: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
    unit: &'static str,
    reading: String,
}

impl Figures {
    fn of(expected: &Expected) -> Self {
        let around = |value: f64, band: f64, unit: &'static str| Self {
            value: Some(value),
            low: Some(value - band),
            high: Some(value + band),
            unit,
            reading: String::new(),
        };
        let between = |low: Option<f64>, high: Option<f64>, unit: &'static str| Self {
            value: None,
            low,
            high,
            unit,
            reading: String::new(),
        };
        match expected {
            Expected::AtLeast(low) => between(Some(low.0), None, Ohms::SYMBOL),
            Expected::Within(low, high) | Expected::Winding(low, high) => {
                between(Some(low.0), Some(high.0), Ohms::SYMBOL)
            }
            Expected::AtMost(high) => between(None, Some(high.0), Ohms::SYMBOL),
            Expected::BatteryMinus {
                reading,
                lost,
                band,
            } => Self {
                reading: reading.to_string(),
                ..around(lost.0, band.0, Volts::SYMBOL)
            },
            Expected::Lost { lost, band } => around(lost.0, band.0, Volts::SYMBOL),
            Expected::Between(low, high) => between(Some(low.0), Some(high.0), Volts::SYMBOL),
            Expected::Dead(high) => between(None, Some(high.0), Volts::SYMBOL),
            Expected::Charging(high) => between(None, high.map(|high| high.0), Volts::SYMBOL),
            Expected::Amps { amps, band } => around(amps.0, band.0, Amps::SYMBOL),
            Expected::Still => {
                between(None, Some(crate::analysis::readings::STILL.0), Amps::SYMBOL)
            }
            Expected::SumOf { readings, .. } => Self {
                reading: joined(readings.iter().map(ToString::to_string)),
                unit: Volts::SYMBOL,
                ..Self::default()
            },
            Expected::OpenLine
            | Expected::TooSmall
            | Expected::BatteryReading
            | Expected::LiveThrough(_)
            | Expected::LiveAndDead { .. }
            | Expected::NotComputed(_) => Self::default(),
        }
    }
}

/// Names and phrases of one boat.
pub(super) struct Words<'s> {
    system: &'s System,
    rest: Vec<u16>,
    battery_switches: Vec<GearId>,
    /// Strings of all banks.
    strings: usize,
    /// By load: its circuit.
    circuits: Vec<Option<CircuitId>>,
}

impl<'s> Words<'s> {
    pub(super) fn new(system: &'s System) -> Self {
        let mut circuits = vec![None; system.loads.len()];
        for (index, circuit) in system.circuits.iter().enumerate() {
            if let Some(load) = circuit.load {
                circuits[load.index()].get_or_insert(CircuitId::at(index));
            }
        }
        Self {
            system,
            rest: rest(system),
            strings: system.banks.iter().map(|bank| bank.strings.len()).sum(),
            battery_switches: (0..system.gears.len())
                .map(GearId::at)
                .filter(|gear| system.gears[gear.index()].kind == GearKind::BatterySwitch)
                .collect(),
            circuits,
        }
    }

    fn row(&self, group: &Group, step: &Step) -> Vec<Field> {
        let (expected, accept) = self.expected(&step.expected);
        let (red, black, expected) = match &step.expected {
            Expected::LiveAndDead { live, dead } => (
                Field::Lines(self.live(live)),
                Field::Lines(self.dead(dead)),
                Field::text(expected),
            ),
            Expected::NotComputed(_) => (
                Field::text(self.probe(step.red)),
                Field::text(self.probe(step.black)),
                Field::Blank(expected),
            ),
            _ => (
                Field::text(self.probe(step.red)),
                Field::text(self.probe(step.black)),
                Field::Strong(expected),
            ),
        };
        vec![
            Field::text(step.id.to_string()),
            red,
            black,
            Field::text(range(step, self.highest(&group.subject))),
            expected,
            Field::text(accept),
            if step.quantity == Quantity::Look {
                Field::text("")
            } else {
                Field::Blank(String::new())
            },
            Field::Tick,
            Field::text(if_not(group, step)),
        ]
    }

    /// The highest voltage that a meter meets on the battery side of a group, charging included.
    fn highest(&self, subject: &Subject) -> Volts {
        let system = self.system;
        let (charging, _) = constants::meter_charging_share();
        let bank = match *subject {
            Subject::Load(ref feed) => feed.bank,
            Subject::Bank(bank) | Subject::Isolation(bank) => bank,
            Subject::Point(_) | Subject::Combination { .. } => return Volts(0.0),
            Subject::Source(source) => {
                let source = &system.sources[source.index()];
                let stated = source.max_voltage.map(|given| given.value);
                return stated.unwrap_or(source.nominal.value * charging);
            }
        };
        let string = |string: &Vec<SourceId>| {
            string
                .iter()
                .map(|source| system.sources[source.index()].nominal.value)
                .sum::<Volts>()
        };
        let strings = system.banks[bank.index()].strings.iter();
        strings.map(string).fold(Volts(0.0), Volts::max) * charging
    }

    /// What a group is about.
    pub(super) fn subject(&self, subject: &Subject) -> String {
        let system = self.system;
        match *subject {
            Subject::Point(component) => system.components[component.index()].label.clone(),
            Subject::Load(ref feed) => {
                let load = &system.loads[feed.load.index()];
                match self.circuits[feed.load.index()] {
                    Some(circuit) => {
                        let circuit = &system.circuits[circuit.index()];
                        format!(
                            "{} {}, load {}",
                            circuit.number, circuit.function, load.name
                        )
                    }
                    None => format!("Load {}", load.name),
                }
            }
            Subject::Bank(bank) => format!("Bank {}", system.banks[bank.index()].name),
            Subject::Combination { ref set, .. } if set.is_empty() => {
                "No battery switch".to_owned()
            }
            Subject::Combination { .. } => "Battery switch positions".to_owned(),
            Subject::Isolation(bank) => {
                format!("Bank {} at work", system.banks[bank.index()].name)
            }
            Subject::Source(source) => format!("Charging by {}", self.charger(source)),
        }
    }

    /// How the boat stands: supply, every battery switch, what else is moved, fuses, what runs.
    pub(super) fn setting(&self, group: &Group) -> String {
        self.parts(group).join("; ")
    }

    /// What all of some groups begin with.
    fn in_all(&self, groups: &[&Group]) -> Vec<String> {
        let [first, rest @ ..] = groups else {
            return Vec::new();
        };
        let mut common = self.parts(first);
        for group in rest {
            let parts = self.parts(group);
            let same = common.iter().zip(&parts).take_while(|(a, b)| a == b);
            common.truncate(same.count());
        }
        common
    }

    fn parts(&self, group: &Group) -> Vec<String> {
        let system = self.system;
        let setting = &group.setting;
        let mut parts = Vec::new();
        match setting.supply {
            Supply::LugsOff => parts.push("battery lugs off".to_owned()),
            Supply::LastLugOff if self.strings > 1 => {
                parts.push("lowest negative lug of every string off".to_owned());
            }
            Supply::LastLugOff => parts.push("last negative lug off".to_owned()),
            Supply::StandForMain(_) | Supply::StandAtPost(_) => {
                let glows = names_of_loads(system, &setting.running);
                // A lamp cannot tell a load that may run from a short.
                let what = if glows.is_empty() {
                    "lamp or 3 A fuse".to_owned()
                } else {
                    format!("3 A fuse and no lamp (without a switch run: {glows})")
                };
                parts.push(match setting.supply {
                    Supply::StandForMain(main) => {
                        format!("{what} in place of {}", system.devices[main.index()].name)
                    }
                    Supply::StandAtPost(post) => {
                        format!("{what} between {} and its lug", system.terminal_name(post))
                    }
                    _ => what,
                });
                if self.strings > 1 {
                    parts.push("negative lugs of all other strings off".to_owned());
                }
            }
            Supply::On => {}
            Supply::Charging(source) => parts.push(format!("{} working", self.charger(source))),
        }
        parts.extend(self.positions(setting));
        parts.push(self.fuses(&setting.fitted));
        let runs = self.running(group);
        if !runs.is_empty() {
            parts.push(runs);
        }
        if let Subject::Combination {
            joins, emergency, ..
        } = group.subject
        {
            if emergency {
                parts.push("for emergencies only: a moment, then back".to_owned());
            } else if joins {
                parts.push("banks are joined here on purpose".to_owned());
            }
        }
        parts
    }

    fn positions(&self, setting: &Setting) -> Vec<String> {
        let system = self.system;
        let words = |gear: GearId, position: u16| {
            let gear = &system.gears[gear.index()];
            let name = gear
                .positions
                .get(usize::from(position))
                .map_or("", |position| position.name.as_str());
            match gear.kind {
                GearKind::Float => format!("{} lifted", gear.name),
                _ => format!("{} {}", gear.name, name.to_uppercase()),
            }
        };
        let battery = self.battery_switches.iter().map(|&gear| {
            let moved = setting.moved.iter().find(|(moved, _)| *moved == gear);
            words(
                gear,
                moved.map_or(self.rest[gear.index()], |&(_, position)| position),
            )
        });
        let moved: Vec<String> = setting
            .moved
            .iter()
            .filter(|(gear, _)| system.gears[gear.index()].kind != GearKind::BatterySwitch)
            .map(|&(gear, position)| words(gear, position))
            .collect();
        let battery: Vec<String> = battery.collect();
        let mut parts = Vec::new();
        if !battery.is_empty() {
            parts.push(battery.join(", "));
        }
        if moved.is_empty() && parts.is_empty() {
            parts.push("every switch at rest".to_owned());
        } else if moved.is_empty() {
            parts.push("all else at rest".to_owned());
        } else {
            parts.push(moved.join(", "));
        }
        parts
    }

    /// A charging source by the name of its part where that has several outputs.
    fn charger(&self, source: SourceId) -> &str {
        let system = self.system;
        let source = &system.sources[source.index()];
        let outputs = system
            .sources
            .iter()
            .filter(|other| other.component == source.component);
        if outputs.count() > 1 {
            &system.components[source.component.index()].name
        } else {
            &source.name
        }
    }

    fn fuses(&self, fitted: &Fitted) -> String {
        let names = |devices: &[DeviceId]| {
            joined(
                devices
                    .iter()
                    .map(|device| self.system.devices[device.index()].name.clone()),
            )
        };
        match fitted {
            Fitted::None => "all fuses out".to_owned(),
            Fitted::Only(these) if these.is_empty() => "all fuses out".to_owned(),
            Fitted::Only(these) => format!("only {} in", names(these)),
            Fitted::Singles(ways) if ways.is_empty() => {
                "single devices in, ways of blocks out".to_owned()
            }
            Fitted::Singles(ways) => {
                format!("single devices in, of the ways only {}", names(ways))
            }
            Fitted::All => "all fuses in".to_owned(),
        }
    }

    /// What runs, leaving out what is always on.
    fn running(&self, group: &Group) -> String {
        let system = self.system;
        let of: Vec<LoadId> = match &group.subject {
            Subject::Load(feed) if group.stage == 4 => vec![feed.load],
            Subject::Isolation(_) => group
                .setting
                .running
                .iter()
                .copied()
                .filter(|load| {
                    let load = &system.loads[load.index()];
                    !load.always_on.is_some_and(|given| given.value)
                })
                .collect(),
            _ => Vec::new(),
        };
        if of.is_empty() {
            return String::new();
        }
        let cranks = of
            .iter()
            .any(|load| system.loads[load.index()].kind == LoadKind::Starter);
        format!(
            "running: {}{}",
            names_of_loads(system, &of),
            if cranks {
                ", for three seconds, the engine kept from starting"
            } else {
                ""
            }
        )
    }

    pub(super) fn probe(&self, probe: Probe) -> String {
        let name = |terminal: TerminalId| self.system.terminal_name(terminal);
        match probe {
            Probe::At(terminal) => name(terminal),
            Probe::LooseLug(terminal) => format!("loose lug of {}", name(terminal)),
            Probe::Clamp(conductor) => format!(
                "clamp on {}",
                self.system.conductors[conductor.index()].number
            ),
            Probe::ClampPost(terminal) => {
                format!("clamp round all cables on {} together", name(terminal))
            }
            Probe::None => String::new(),
        }
    }

    /// Expected figure and what is accepted.
    pub(super) fn expected(&self, expected: &Expected) -> (String, String) {
        let v = |value: Volts| volts(value, Rounding::Nearest).to_string();
        let r = |value: Ohms| format!("{} Ω", plain_ohms(value));
        let within = |band: Volts| format!("± {}", v(band));
        let text = |expected: &str, accept: String| (expected.to_owned(), accept);
        match expected {
            Expected::OpenLine => text("OL", "open line".to_owned()),
            Expected::AtLeast(least) => text("any", format!("not under {}", r(*least))),
            Expected::Within(low, high) => (
                format!("{} to {}", plain_ohms(*low), r(*high)),
                String::new(),
            ),
            Expected::Winding(low, high) => (
                format!("{} to {}", plain_ohms(*low), r(*high)),
                "a motor shows its winding".to_owned(),
            ),
            Expected::AtMost(high) if *high == NEGATIVE_OHMS => {
                (format!("under {}", r(*high)), "leads nulled".to_owned())
            }
            Expected::AtMost(high) => (format!("under {}", r(*high)), String::new()),
            Expected::TooSmall => text("not asked", "under 0.1 Ω a meter tells nothing".to_owned()),
            Expected::BatteryReading => text("write it down", "battery reading".to_owned()),
            Expected::BatteryMinus {
                reading,
                lost,
                band,
            } => (format!("{reading} minus {}", v(*lost)), within(*band)),
            Expected::Lost { lost, band } => (v(*lost), within(*band)),
            Expected::Between(low, high) if low.0 == 0.0 => {
                (format!("up to {}", v(*high)), String::new())
            }
            Expected::Between(low, high) => (
                format!("{} to {}", v(*low), v(*high)),
                "+ on red".to_owned(),
            ),
            Expected::SumOf { readings, band } => (
                format!(
                    "sum of {}",
                    joined(readings.iter().map(ToString::to_string))
                ),
                within(*band),
            ),
            Expected::Dead(most) => text("dead", format!("under {}", v(*most))),
            Expected::LiveThrough(loads) => text(
                "battery voltage",
                format!(
                    "through {}, which no switch and no device parts",
                    names_of_loads(self.system, loads)
                ),
            ),
            Expected::Amps { amps: value, band } => {
                let shown = |value: Amps| {
                    if value < Amps(1.0) {
                        format!("{} A", decimal(value.0, 2))
                    } else {
                        amps(value, Rounding::Nearest).to_string()
                    }
                };
                (shown(*value), format!("± {}", shown(*band)))
            }
            Expected::Still => text("no current", "under 0.1 A".to_owned()),
            Expected::Charging(most) => (
                "above rest".to_owned(),
                match most {
                    Some(most) => format!("at most {}", v(*most)),
                    None => "highest voltage not given".to_owned(),
                },
            ),
            Expected::LiveAndDead { .. } => text("as listed", "live and dead".to_owned()),
            Expected::NotComputed(reason) => (self.reason(*reason), String::new()),
        }
    }

    pub(super) fn reason(&self, reason: Reason) -> String {
        let system = self.system;
        let wire = |id: crate::system::ConductorId| &system.conductors[id.index()].number;
        match reason {
            Reason::Length(id) => format!("length of {} not given", wire(id)),
            Reason::Gauge(id) => format!("size of {} not given", wire(id)),
            Reason::Draw(load) => {
                format!("draw of {} not given", system.loads[load.index()].name)
            }
            Reason::Unfed => "not fed in this state".to_owned(),
            Reason::Unsolvable(error) => format!("not computed: {error}"),
            Reason::Joined => "the probes are joined: see the findings".to_owned(),
            Reason::TooLarge => "not computed: the boat is too large for this sheet".to_owned(),
        }
    }

    fn live(&self, live: &[(TerminalId, Vec<BankId>)]) -> Vec<String> {
        let mut lines = vec!["live:".to_owned()];
        lines.extend(live.iter().map(|(terminal, banks)| {
            let banks: Vec<&str> = banks
                .iter()
                .map(|bank| self.system.banks[bank.index()].name.as_str())
                .collect();
            format!(
                "{} from {}",
                self.system.terminal_name(*terminal),
                banks.join(" and ")
            )
        }));
        if live.is_empty() {
            lines.push("nothing".to_owned());
        }
        lines
    }

    fn dead(&self, dead: &[TerminalId]) -> Vec<String> {
        let mut lines = vec!["dead:".to_owned()];
        lines.extend(
            dead.iter()
                .map(|&terminal| self.system.terminal_name(terminal)),
        );
        if dead.is_empty() {
            lines.push("nothing".to_owned());
        }
        lines
    }

    fn links(&self, links: &[LinkId]) -> String {
        joined(links.iter().map(|&link| self.link(link)))
    }

    /// A link as a person looks for it.
    pub(super) fn link(&self, link: LinkId) -> String {
        let system = self.system;
        let name = system.link_name(link);
        match system.links[link.index()].kind {
            LinkKind::Conductor(_) => format!("{name} and its ends"),
            LinkKind::Mate { cavity } => format!("{name} contact {cavity}"),
            LinkKind::Contact { .. } => format!("contacts of {name}"),
            LinkKind::Device(_) => format!("{name} and its holder"),
            LinkKind::Joint
                if matches!(
                    system.components[system.links[link.index()].component.index()].kind,
                    ComponentKind::Fuse | ComponentKind::Breaker
                ) =>
            {
                format!("stud under {name}")
            }
            _ => name,
        }
    }
}

/// Where to go on when a step is off.
fn if_not(group: &Group, step: &Step) -> String {
    let further: Vec<String> = group
        .steps
        .iter()
        .filter(|other| other.only_if_off == Some(step.id))
        .map(|other| other.id.to_string())
        .collect();
    if !further.is_empty() {
        return format!("dictionary: {}", further.join(", "));
    }
    let Suspects { dead, weak } = &step.suspects;
    if dead.is_empty() && weak.is_empty() {
        return plain_suspect(&step.expected).unwrap_or_default().to_owned();
    }
    "fault dictionary".to_owned()
}

/// What to suspect where no link is simulated.
fn plain_suspect(expected: &Expected) -> Option<&'static str> {
    Some(match expected {
        Expected::OpenLine => "a short, a crossed wire, a load without fuse",
        Expected::Between(low, _) if low.0 > 0.0 => "reversed, flat or wrong battery",
        Expected::SumOf { .. } => "a link missing, a battery reversed",
        Expected::Dead(_) => "a load or a short behind this lug",
        Expected::BatteryMinus { .. } => "switch, feeder, its lugs",
        Expected::LiveAndDead { .. } => "a crossed wire, a back feed",
        Expected::Still => "banks joined; combiner stuck",
        Expected::Charging(_) => "source, its fuse, its lugs",
        Expected::Between(..) => "a bad joint on the way",
        Expected::Amps { .. } => "the load, or its figure",
        _ => return None,
    })
}

/// Range of the meter, from what is expected and from the highest voltage of the battery that is met.
fn range(step: &Step, highest: Volts) -> &'static str {
    let of = |volts: Volts| {
        if volts < Volts(1.5) {
            "2 V"
        } else if volts < Volts(19.0) {
            "20 V"
        } else {
            "200 V"
        }
    };
    match (step.quantity, &step.expected) {
        (Quantity::Ohms, Expected::OpenLine) => "2 MΩ",
        (Quantity::Ohms, _) => "200 Ω",
        (Quantity::Volts, Expected::Lost { lost, .. }) => of(*lost),
        (Quantity::Volts, Expected::Between(_, high)) => of(*high),
        (Quantity::Volts, _) => of(highest.max(Volts(1.5))),
        (Quantity::Amps, _) => "clamp",
        (Quantity::Look, _) => "V",
    }
}

fn plain_ohms(value: Ohms) -> String {
    decimal(value.0, usize::from(value < Ohms(10.0)))
}

/// A heading and what stands under it, in one line.
fn listed(lines: &[String]) -> String {
    match lines {
        [] => String::new(),
        [heading, rest @ ..] => format!("{heading} {}", rest.join(", ")),
    }
}

fn names_of_loads(system: &System, loads: &[LoadId]) -> String {
    joined(
        loads
            .iter()
            .map(|load| system.loads[load.index()].name.clone()),
    )
}

fn joined(names: impl Iterator<Item = String>) -> String {
    names.collect::<Vec<_>>().join(", ")
}
