//! The sheet before and at power-up: stage by stage, where the probes go, what should show, what to suspect if not.
//!
//! Figures and suspects come from `analysis::readings`; this file finds the words. The sheet is closed by what no netlist
//! can decide and eyes and hands must.

use super::cautions;
use super::findings::accepted_by_owner;
use super::inspection::inspection;
use super::paper::{Block, Cell, Column, Field, Orientation, Sheet, Table};
use crate::analysis::readings::{
    BAD_JOINT, Expected, Fitted, Group, NEGATIVE_OHMS, Plan, Probe, Quantity, Reason, Setting,
    Step, Subject, Supply, Suspects, rest,
};
use crate::system::{
    CircuitId, DeviceId, GearId, GearKind, LinkId, LinkKind, LoadId, LoadKind, SourceKind, System,
    TerminalId,
};
use crate::units::{Amps, LengthStyle, Ohms, Rounding, Volts, amps, decimal, volts};

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
    "suspect_dead",
    "suspect_weak",
];

/// Title and method of every stage.
const STAGES: [(&str, &str); 7] = [
    (
        "Stage 0: batteries out, everything off",
        "All battery lugs off and boxed, chargers off, every switch at rest, every fuse out and every breaker open. \
         Resistance between + and − at each block; then each load that is always on, alone, with its own fuse in.",
    ),
    (
        "Stage 1: no batteries, one fuse in at a time",
        "Resistance of each load through its own fuse and switch, then of its negative. Short the leads and null the meter first. \
         Turn the probes round where a reading climbs: electronics charge up under the meter.",
    ),
    (
        "Stage 2: polarity before the last lug",
        "Every fuse out, every switch off. Each battery by itself, then each string, then the loose lug against its post.",
    ),
    (
        "Stage 3: a lamp or a 3 A fuse in place of the main, or behind the last lug",
        "Single devices in, ways of blocks out, hand switches, chargers and converters off, battery switch on. The lamp stays dark; a lamp that lights has found a load or \
         a short: off at once.",
    ),
    (
        "Stage 4: one circuit at a time, load running",
        "Main in. Of the ways of blocks only the one named is in; pull it again behind the last reading. Read the battery with the load \
         running, then the rest against that reading, so that the sheet holds at any state of charge.",
    ),
    (
        "Stage 5: what lives, what is dead, what is isolated",
        "All fuses in, hand switches off. Turn the battery switches as listed and try every stud named. Then one bank at work and a clamp on the others.",
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
pub fn power_up_sheet(system: &System, plan: &Plan, style: LengthStyle) -> Sheet {
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
        blocks.push(Block {
            title: title.to_owned(),
            detail: detail.to_owned(),
            totals: if groups.is_empty() {
                vec!["No step: the netlist gives nothing to measure here".to_owned()]
            } else {
                Vec::new()
            },
            ..Block::default()
        });
        stage_blocks(&words, &groups, &mut blocks);
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
    blocks.push(Block {
        title: "What no netlist can decide".to_owned(),
        detail: "Eyes and hands, before the first start".to_owned(),
        rows: inspection(style),
        totals: Vec::new(),
    });
    Sheet {
        stem: "power-up",
        title: "Pre-power-up sheet",
        orientation: Orientation::Across,
        remarks: vec![
            "Every step in its order; an open finding is repaired first. A step that is off stops the work until its cause is found. \
             Expected figures are solved from the netlist with copper at the temperature in the head; contacts, devices and batteries without a \
             resistance in the netlist lose what their kind usually does (common practice, no source)."
                .to_owned(),
            format!(
                "Band of a voltage: 0.05 V, or 20 % of the computed loss where that is more (common practice, no source). Suspects: each link open, and each with {} Ω more, \
                 was simulated; those told first fail first. Resistances under 0.1 Ω are not asked for. To have the readings compared, \
                 run `loomwright readings NETLIST READINGS`.",
                decimal(BAD_JOINT.0, 1)
            ),
        ],
        columns: vec![
            Column::text("Step", 13.0),
            Column::text("State", 46.0),
            Column::text("Red probe", 34.0),
            Column::text("Black probe", 34.0),
            Column::text("Range", 14.0),
            Column::text("Expected", 34.0),
            Column::text("Accept", 28.0),
            Column::text("Measured", 22.0),
            Column::tick("Pass"),
            Column::text("If not, suspect", 52.0),
        ],
        blocks,
        strips: Vec::new(),
        cautions: Vec::new(),
    }
}

/// Rows of one stage: a block for every circuit in stage 4, one block for the stage elsewhere.
fn stage_blocks(words: &Words<'_>, groups: &[&Group], blocks: &mut Vec<Block>) {
    let own = groups.first().is_some_and(|group| group.stage == 4);
    let mut block = Block::default();
    for group in groups {
        if own {
            block.title = words.subject(&group.subject);
        }
        for (index, step) in group.steps.iter().enumerate() {
            let state = if index == 0 {
                words.setting(group)
            } else {
                "as above".to_owned()
            };
            block.rows.push(words.row(step, state));
        }
        if own {
            blocks.push(std::mem::take(&mut block));
        }
    }
    if !block.rows.is_empty() {
        blocks.push(block);
    }
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
            Expected::Within(low, high) => between(Some(low.0), Some(high.0), Ohms::SYMBOL),
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
            battery_switches: (0..system.gears.len())
                .map(GearId::at)
                .filter(|gear| system.gears[gear.index()].kind == GearKind::BatterySwitch)
                .collect(),
            circuits,
        }
    }

    fn row(&self, step: &Step, state: String) -> Vec<Field> {
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
            Field::text(state),
            red,
            black,
            Field::text(range(step)),
            expected,
            Field::text(accept),
            if step.quantity == Quantity::Look {
                Field::text("")
            } else {
                Field::Blank(String::new())
            },
            Field::Tick,
            Field::Lines(self.suspects(step)),
        ]
    }

    /// What a group is about.
    pub(super) fn subject(&self, subject: &Subject) -> String {
        let system = self.system;
        match subject {
            Subject::Point(component) => system.components[component.index()].label.clone(),
            Subject::Load(feed) => {
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
            Subject::Combination { .. } => "Battery switch positions".to_owned(),
            Subject::Isolation(bank) => {
                format!("Bank {} at work", system.banks[bank.index()].name)
            }
            Subject::Source(source) => {
                format!("Charging by {}", system.sources[source.index()].name)
            }
        }
    }

    /// How the boat stands: supply, every battery switch, what else is moved, fuses, what runs.
    pub(super) fn setting(&self, group: &Group) -> String {
        let system = self.system;
        let setting = &group.setting;
        let mut parts = Vec::new();
        match setting.supply {
            Supply::LugsOff => parts.push("battery lugs off".to_owned()),
            Supply::LastLugOff => parts.push("last negative lug off".to_owned()),
            Supply::Stand(Some(main)) => parts.push(format!(
                "lamp or 3 A fuse in place of {}",
                system.devices[main.index()].name
            )),
            Supply::Stand(None) => {
                parts
                    .push("lamp or 3 A fuse between the last negative lug and its post".to_owned());
            }
            Supply::On => {}
            Supply::Charging(source) => {
                parts.push(format!("{} working", system.sources[source.index()].name));
            }
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
        parts.join("; ")
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
        if moved.is_empty() {
            parts.push("all else at rest".to_owned());
        } else {
            parts.push(moved.join(", "));
        }
        parts
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
            joined(
                of.iter()
                    .map(|load| system.loads[load.index()].name.clone())
            ),
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
                    joined(
                        loads
                            .iter()
                            .map(|load| self.system.loads[load.index()].name.clone())
                    )
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

    fn live(&self, live: &[(TerminalId, crate::system::BankId)]) -> Vec<String> {
        let mut lines = vec!["live:".to_owned()];
        lines.extend(live.iter().map(|&(terminal, bank)| {
            format!(
                "{} from {}",
                self.system.terminal_name(terminal),
                self.system.banks[bank.index()].name
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

    fn suspects(&self, step: &Step) -> Vec<String> {
        let Suspects { dead, weak } = &step.suspects;
        let nothing = match (&step.expected, step.quantity) {
            (_, Quantity::Ohms) => "open line",
            (Expected::Lost { .. }, _) => "battery voltage",
            _ => "0 V",
        };
        let little = match step.expected {
            Expected::Lost { .. } => "too much",
            _ => "too low",
        };
        let mut lines = Vec::new();
        if !dead.is_empty() {
            lines.push(format!("{nothing}: {}", self.links(dead)));
        }
        if !weak.is_empty() {
            lines.push(format!("{little}: {}", self.links(weak)));
        }
        if lines.is_empty() {
            lines.extend(plain_suspect(&step.expected).map(str::to_owned));
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
            _ => name,
        }
    }
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
        Expected::Amps { .. } => "the load itself, or its figure",
        _ => return None,
    })
}

/// Range of the meter.
fn range(step: &Step) -> &'static str {
    match (step.quantity, &step.expected) {
        (Quantity::Ohms, Expected::OpenLine) => "2 MΩ",
        (Quantity::Ohms, _) => "200 Ω",
        (Quantity::Volts, Expected::Lost { lost, .. }) if *lost < Volts(1.5) => "2 V",
        (Quantity::Volts, Expected::Between(low, high)) if low.0 == 0.0 && *high < Volts(1.5) => {
            "2 V"
        }
        (Quantity::Volts, Expected::Between(_, high)) if *high > Volts(19.0) => "200 V",
        (Quantity::Volts, Expected::SumOf { .. }) => "200 V",
        (Quantity::Volts, _) => "20 V",
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

fn joined(names: impl Iterator<Item = String>) -> String {
    names.collect::<Vec<_>>().join(", ")
}
