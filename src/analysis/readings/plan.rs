//! The steps before and at power-up: what is set, where the probes go, what the meter should show.
//!
//! Stages 0 to 2 need no current, 3 lets a lamp or a small fuse stand in for the main, 4 runs one circuit at a time,
//! 5 goes through the battery switches, 6 charges. Every expected figure is solved for the state that the step
//! describes; where a value that it needs is not given, the step says so and expects nothing.
//!
//! A step is asked for where a hand meter can tell its answer from nothing: no resistance under [`LEAST_OHMS`], no
//! current under [`STILL`]. One reading at a load proves both of its ways, so what each way loses is asked for only
//! where that reading is off.

use super::faults::{self, Suspects};
use super::feeds::{self, Feed, Feeds};
use super::ohms;
use crate::analysis::poles::{Pole, Poles};
use crate::analysis::solve::{
    self, Groups, Options, Part, PartError, Reading, Room, SolveError, State, resistance,
};
use crate::analysis::states::ends;
use crate::standards;
use crate::system::{
    BankId, Chemistry, ComponentId, ComponentKind, ConductorId, DeviceId, GearId, GearKind, LinkId,
    LinkKind, LoadId, LoadKind, NodeId, Source, SourceId, SourceKind, System, TerminalId,
};
use crate::units::{Amps, Ohms, Volts};
use std::collections::BTreeMap;
use std::fmt;

/// Least half width of an accept band, in volts: common practice, no source.
pub const LEAST_BAND: Volts = Volts(0.05);
/// Accept band as a share of the computed drop: common practice, no source.
pub const BAND_SHARE: f64 = 0.2;
/// A stud that should be dead may show this much and still count as dead, in volts: common practice, no source.
pub const DEAD: Volts = Volts(0.1);
/// A clamp on a cable that should carry nothing may show this much, in amperes: common practice, no source.
pub const STILL: Amps = Amps(0.1);
/// A meter tells nothing below this, so nothing below it is asked for: common practice, no source.
pub const LEAST_OHMS: Ohms = Ohms(0.1);
/// Most that a negative may show between a load and its bus, leads nulled: common practice, no source.
pub const NEGATIVE_OHMS: Ohms = Ohms(0.5);
/// State of charge in per cent below which a battery is not fit for the test.
const LEAST_CHARGE: f64 = 25.0;
/// Links looked at over all loads before the rest of a boat is left out of the sheet.
const MOST_WORK: usize = 20_000_000;
/// Combinations of battery switch positions in the table of what lives.
const MAX_COMBINATIONS: usize = 24;

/// The number of a step: its stage, and its place in it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct StepId {
    /// Stage, 0 to 6.
    pub stage: u8,
    /// Place in the stage, from 1 on.
    pub number: u16,
}

impl fmt::Display for StepId {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}-{:02}", self.stage, self.number)
    }
}

impl std::str::FromStr for StepId {
    type Err = ();

    fn from_str(text: &str) -> Result<Self, ()> {
        let (stage, number) = text.trim().split_once('-').ok_or(())?;
        let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
        if !digits(stage) || !digits(number) {
            return Err(());
        }
        Ok(Self {
            stage: stage.parse().map_err(|_| ())?,
            number: number.parse().map_err(|_| ())?,
        })
    }
}

/// Where a probe goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Probe {
    /// On a stud, post or terminal.
    At(TerminalId),
    /// On the loose lug of the cables that belong on this post.
    LooseLug(TerminalId),
    /// A clamp round this conductor.
    Clamp(ConductorId),
    /// A clamp round all cables on this post together.
    ClampPost(TerminalId),
    /// Nowhere: the step is looked at, not measured.
    None,
}

/// What the meter measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quantity {
    /// Voltage.
    Volts,
    /// Resistance.
    Ohms,
    /// Current, with a clamp.
    Amps,
    /// Nothing; a list is gone through.
    Look,
}

/// What the meter should show.
#[derive(Clone, Debug, PartialEq)]
pub enum Expected {
    /// Nothing between the probes.
    OpenLine,
    /// Any resistance from here up; a short would show less.
    AtLeast(Ohms),
    /// A resistance between these.
    Within(Ohms, Ohms),
    /// A winding at rest, between these: less than V / I, more than nothing.
    Winding(Ohms, Ohms),
    /// A resistance up to this.
    AtMost(Ohms),
    /// A resistance too small for a meter: not asked for.
    TooSmall,
    /// Written down as the battery reading of the steps behind it.
    BatteryReading,
    /// The battery reading of the step before, less this.
    BatteryMinus {
        /// Step that holds the battery reading.
        reading: StepId,
        /// What is lost.
        lost: Volts,
        /// By how much the meter may differ.
        band: Volts,
    },
    /// A voltage lost on the way.
    Lost {
        /// What is lost.
        lost: Volts,
        /// By how much the meter may differ.
        band: Volts,
    },
    /// A voltage between these.
    Between(Volts, Volts),
    /// The sum of the single batteries.
    SumOf {
        /// Steps that hold the single readings.
        readings: Vec<StepId>,
        /// By how much the meter may differ from their sum.
        band: Volts,
    },
    /// At most this voltage.
    Dead(Volts),
    /// The battery's voltage, because these loads hang on it without switch or device.
    LiveThrough(Vec<LoadId>),
    /// A current.
    Amps {
        /// The current.
        amps: Amps,
        /// By how much the meter may differ.
        band: Amps,
    },
    /// No current that the clamp can tell.
    Still,
    /// More than the battery showed before, up to this where it is known.
    Charging(Option<Volts>),
    /// These live, each from its bank, and those are dead.
    LiveAndDead {
        /// Live points with the banks that reach them.
        live: Vec<(TerminalId, Vec<BankId>)>,
        /// Dead points.
        dead: Vec<TerminalId>,
    },
    /// Nothing is expected, for this reason.
    NotComputed(Reason),
}

/// Why a step expects nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reason {
    /// The length of this conductor is not given.
    Length(ConductorId),
    /// The size of this conductor is not given.
    Gauge(ConductorId),
    /// The current of this load is not given.
    Draw(LoadId),
    /// The load is not fed in this state.
    Unfed,
    /// The network has no solution in this state.
    Unsolvable(SolveError),
    /// The probes are joined without a load between.
    Joined,
    /// The boat is so large that the sheet leaves this out.
    TooLarge,
}

/// Which overcurrent devices are fitted or closed in a state.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Fitted {
    /// None.
    None,
    /// These and no others.
    Only(Vec<DeviceId>),
    /// All single devices, and of the ways of blocks only these.
    Singles(Vec<DeviceId>),
    /// All but spare ways.
    All,
}

/// Whether batteries and main are in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Supply {
    /// All battery lugs off.
    LugsOff,
    /// All lugs on but the lowest negative of every string.
    LastLugOff,
    /// A lamp or a 3 A fuse in place of this main device; every other string is off.
    StandForMain(DeviceId),
    /// A lamp or a 3 A fuse between this negative post and its lug; every other string is off.
    StandAtPost(TerminalId),
    /// As built.
    On,
    /// As built, with this charging source working, and what else its part puts out.
    Charging(SourceId),
}

/// How the boat stands during some steps.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Setting {
    /// Supply.
    pub supply: Supply,
    /// Devices.
    pub fitted: Fitted,
    /// Parts that have left their rest, with their positions, in file order.
    pub moved: Vec<(GearId, u16)>,
    /// Loads that run.
    pub running: Vec<LoadId>,
}

impl Setting {
    /// Puts a part into a position; one that is put back to its rest counts as not moved.
    fn put(&mut self, rest: &[u16], gear: GearId, position: u16) {
        self.moved.retain(|&(moved, _)| moved != gear);
        if rest[gear.index()] != position {
            self.moved.push((gear, position));
            self.moved.sort_unstable();
        }
    }
}

/// What a group of steps is about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Subject {
    /// A block or bus.
    Point(ComponentId),
    /// A load in one of its ways.
    Load(Feed),
    /// Every battery of a bank.
    Bank(BankId),
    /// A combination of battery switch positions.
    Combination {
        /// The switches with their positions.
        set: Vec<(GearId, u16)>,
        /// A position in it joins banks.
        joins: bool,
        /// A position in it is for emergencies.
        emergency: bool,
    },
    /// One bank at work while the others rest.
    Isolation(BankId),
    /// A charging source.
    Source(SourceId),
}

/// One step.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// Its number.
    pub id: StepId,
    /// Red probe.
    pub red: Probe,
    /// Black probe.
    pub black: Probe,
    /// What is measured.
    pub quantity: Quantity,
    /// What should show.
    pub expected: Expected,
    /// What to suspect if it does not.
    pub suspects: Suspects,
    /// The step that must be off before this one is worth reading.
    pub only_if_off: Option<StepId>,
}

/// Steps in one state.
#[derive(Clone, Debug, PartialEq)]
pub struct Group {
    /// Stage, 0 to 6.
    pub stage: u8,
    /// What they are about.
    pub subject: Subject,
    /// How the boat stands.
    pub setting: Setting,
    /// The steps.
    pub steps: Vec<Step>,
}

/// All steps of a boat.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// Groups, stage by stage.
    pub groups: Vec<Group>,
    /// Combinations of battery switches left out of the table because there are too many.
    pub combinations_left_out: usize,
}

impl Plan {
    /// Makes the steps of a boat.
    #[must_use]
    pub fn new(system: &System, poles: &Poles, feeds: &Feeds) -> Self {
        Planner::new(system, poles, feeds).plan()
    }

    /// The step of a number, with its group.
    #[must_use]
    pub fn step(&self, id: StepId) -> Option<(&Group, &Step)> {
        self.groups
            .iter()
            .filter(|group| group.stage == id.stage)
            .find_map(|group| {
                let step = group.steps.iter().find(|step| step.id == id)?;
                Some((group, step))
            })
    }
}

/// How many volts a reading may differ from a computed loss.
#[must_use]
pub fn band(lost: Volts) -> Volts {
    LEAST_BAND.max(lost.abs() * BAND_SHARE)
}

/// The state that a setting describes, for the solver.
#[must_use]
pub fn state(system: &System, setting: &Setting) -> State {
    let mut state = State::normal(system);
    state.positions = feeds::rest(system);
    for &(gear, position) in &setting.moved {
        state.positions[gear.index()] = position;
    }
    for (index, opened) in state.opened.iter_mut().enumerate() {
        *opened = !fitted(system, &setting.fitted, DeviceId::at(index));
    }
    for load in &setting.running {
        state.on[load.index()] = true;
    }
    if let Supply::Charging(source) = setting.supply {
        // A charger cannot be told to feed one of its outputs alone.
        let component = system.sources[source.index()].component;
        for (charging, other) in state.charging.iter_mut().zip(&system.sources) {
            *charging |= other.component == component && other.kind != SourceKind::Battery;
        }
    }
    state
}

pub(super) fn fitted(system: &System, fitted: &Fitted, device: DeviceId) -> bool {
    match fitted {
        Fitted::None => false,
        Fitted::Only(these) => these.contains(&device),
        Fitted::Singles(these) => !is_way(system, device) || these.contains(&device),
        Fitted::All => true,
    }
}

/// Whether a device is a way of a block.
fn is_way(system: &System, device: DeviceId) -> bool {
    let component = system.devices[device.index()].component;
    system.components[component.index()].kind == ComponentKind::FuseBlock
}

/// A negative bus that loads return over.
#[derive(Clone, Copy, Debug)]
struct Return {
    bus: TerminalId,
    /// Loads for which it is the first bus on their way back.
    first: usize,
    /// Loads that pass it at all.
    passed: usize,
}

impl Return {
    fn count(returns: &mut Vec<Self>, bus: TerminalId, is_first: bool) {
        let at = returns.iter().position(|known| known.bus == bus);
        let at = at.unwrap_or_else(|| {
            returns.push(Self {
                bus,
                first: 0,
                passed: 0,
            });
            returns.len() - 1
        });
        returns[at].first += usize::from(is_first);
        returns[at].passed += 1;
    }
}

struct Planner<'s> {
    system: &'s System,
    feeds: &'s Feeds,
    room: Room,
    /// By link: how many first ways of loads pass it.
    shared: Vec<u32>,
    /// Loads that must run whenever they are fed.
    always_on: Vec<LoadId>,
    /// Those of them that nothing but single devices stands before, and those behind a way, with the way.
    free_running: Vec<LoadId>,
    behind_ways: Vec<(DeviceId, LoadId)>,
    /// Every way of a block out, all else in.
    ways_out: Vec<bool>,
    ohms: ohms::Wired,
    /// Where voltage is distributed, in file order.
    points: Vec<(ComponentId, TerminalId)>,
    /// By node: number of its point plus one, zero for none.
    point_at: Vec<u32>,
    /// By point: the negative buses that the loads behind it return over.
    returns: Vec<Vec<Return>>,
    /// The negative buses that any load returns over, each with a node's island.
    all_returns: Vec<(Return, usize)>,
    /// By node: number of the island that any links join it to.
    island: Vec<usize>,
    /// Resistances asked for so far, with the state of each.
    asked: BTreeMap<(TerminalId, TerminalId), Vec<Setting>>,
    groups: Vec<Group>,
    numbers: [u16; 7],
    left_out: usize,
}

impl<'s> Planner<'s> {
    fn new(system: &'s System, poles: &'s Poles, feeds: &'s Feeds) -> Self {
        let shared = super::judge::shared(system, feeds);
        let always_on: Vec<LoadId> = (0..system.loads.len())
            .map(LoadId::at)
            .filter(|load| {
                system.loads[load.index()]
                    .always_on
                    .is_some_and(|given| given.value)
            })
            .collect();
        let mut free_running = Vec::new();
        let mut behind_ways = Vec::new();
        for &load in &always_on {
            // One that a part has to be moved for does not run by itself.
            let Some(feed) = feeds.of(load).first().filter(|feed| feed.moved.is_empty()) else {
                continue;
            };
            match ways_of(system, &feed.positive).first() {
                Some(&way) => behind_ways.push((way, load)),
                None => free_running.push(load),
            }
        }
        let mut planner = Self {
            system,
            feeds,
            room: Room::new(system),
            shared,
            always_on,
            free_running,
            behind_ways,
            ways_out: (0..system.devices.len())
                .map(|index| is_way(system, DeviceId::at(index)))
                .collect(),
            ohms: ohms::Wired::new(system),
            points: points(system, poles, feeds),
            point_at: vec![0; system.nodes.len()],
            returns: Vec::new(),
            all_returns: Vec::new(),
            island: islands(system),
            asked: BTreeMap::new(),
            groups: Vec::new(),
            numbers: [0; 7],
            left_out: 0,
        };
        planner.count_returns();
        planner
    }

    /// Counts, for every point, the buses that the loads behind it return over.
    fn count_returns(&mut self) {
        let system = self.system;
        self.returns = vec![Vec::new(); self.points.len()];
        for (index, (_, terminal)) in self.points.iter().enumerate() {
            let number = u32::try_from(index + 1).unwrap_or(0);
            self.point_at[system.node_of(*terminal).index()] = number;
        }
        let mut all: Vec<Return> = Vec::new();
        for index in 0..system.loads.len() {
            let Some(feed) = self.feeds.of(LoadId::at(index)).first() else {
                continue;
            };
            let buses = buses_of(system, feed);
            for (place, &bus) in buses.iter().enumerate() {
                Return::count(&mut all, bus, place == 0);
            }
            let mut seen = None;
            for at in nodes_along(system, feed.from, &feed.positive) {
                let number = self.point_at[at.index()];
                if number == 0 || seen == Some(number) {
                    continue;
                }
                seen = Some(number);
                for (place, &bus) in buses.iter().enumerate() {
                    Return::count(&mut self.returns[number as usize - 1], bus, place == 0);
                }
            }
        }
        self.all_returns = all
            .into_iter()
            .map(|one| (one, self.island[system.node_of(one.bus).index()]))
            .collect();
    }

    fn plan(mut self) -> Plan {
        self.batteries_out();
        self.one_fuse_at_a_time();
        self.before_the_last_lug();
        self.lamp_for_the_main();
        self.one_circuit_at_a_time();
        self.positions();
        self.charging();
        Plan {
            groups: self.groups,
            combinations_left_out: self.left_out,
        }
    }

    fn group(&mut self, stage: u8, subject: Subject, setting: Setting) -> Open<'_, 's> {
        Open {
            planner: self,
            group: Group {
                stage,
                subject,
                setting,
                steps: Vec::new(),
            },
        }
    }

    fn at_rest(supply: Supply, fitted: Fitted) -> Setting {
        Setting {
            supply,
            fitted,
            moved: Vec::new(),
            running: Vec::new(),
        }
    }

    /// Parts of a way as they stand for it; battery switches as at rest where the batteries are out.
    fn moved(&self, feed: &Feed, supply: Supply, fitted: Fitted) -> Setting {
        let mut setting = Self::at_rest(supply, fitted);
        for &(gear, position) in &feed.moved {
            let battery = self.system.gears[gear.index()].kind == GearKind::BatterySwitch;
            if !(battery && supply == Supply::LugsOff) {
                setting.put(self.feeds.rest(), gear, position);
            }
        }
        setting
    }

    // Stage 0.

    fn batteries_out(&mut self) {
        for (component, terminal) in self.points.clone() {
            if self.system.components[component.index()].kind == ComponentKind::Load {
                continue;
            }
            let node = self.system.node_of(terminal);
            let Some(negative) = self.negative_beside(terminal) else {
                continue;
            };
            let setting = Self::at_rest(Supply::LugsOff, Fitted::None);
            let nodes = (node, self.system.node_of(negative));
            let expected = self.ohms.between(self.system, &setting, nodes, None);
            if expected == Expected::TooSmall {
                continue;
            }
            self.group(0, Subject::Point(component), setting).step(
                Probe::At(terminal),
                Probe::At(negative),
                Quantity::Ohms,
                expected,
            );
        }
        for load in self.always_on.clone() {
            self.resistance_of(0, load);
        }
    }

    // Stage 1.

    fn one_fuse_at_a_time(&mut self) {
        for index in 0..self.system.loads.len() {
            let load = LoadId::at(index);
            if !self.always_on.contains(&load) {
                self.resistance_of(1, load);
            }
        }
    }

    /// Resistance of a load over its own device, then of its negative, batteries out.
    fn resistance_of(&mut self, stage: u8, load: LoadId) {
        let Some(feed) = self.feeds.of(load).first().cloned() else {
            return;
        };
        let system = self.system;
        let record = &system.links[system.loads[load.index()].link.index()];
        // A relay stays as it is without its coil's supply, so the load is measured at its own terminals.
        let by_relay = !feed.coils.is_empty();
        let relay_in = |links: &[LinkId]| {
            by_relay
                && links
                    .iter()
                    .any(|&link| gear_of(system, link).is_some_and(|gear| is_relay(system, gear)))
        };
        let start = if by_relay {
            None
        } else {
            last_gate(system, self.feeds.rest(), &feed)
        };
        let (red, fitted) = match start {
            None => (record.a, Fitted::Only(Vec::new())),
            Some(Gate::Device(device, near)) => (near, Fitted::Only(vec![device])),
            // With the lugs off the battery switches stay off, so the reading starts behind them.
            Some(Gate::Switch(far)) => (far, Fitted::Only(Vec::new())),
        };
        let returns_by_relay = relay_in(&feed.negative);
        let black = if returns_by_relay {
            record.b
        } else {
            self.bus_of(&feed)
        };
        let mut setting = self.moved(&feed, Supply::LugsOff, fitted);
        if by_relay {
            setting.moved.retain(|&(gear, _)| {
                !is_relay(system, gear)
                    && feed
                        .negative
                        .iter()
                        .any(|&link| gear_of(system, link) == Some(gear))
            });
        }
        let nodes = (system.node_of(red), system.node_of(black));
        let expected = self.ohms.between(system, &setting, nodes, Some(load));
        let opens = faults::opens(system, &self.shared, &self.reachable(&feed, red));
        let negative = if returns_by_relay {
            None
        } else {
            self.negative_of(&feed, black)
        };
        // A step that asks for nothing, or for what another has asked, proves nothing.
        let asks = match expected {
            Expected::TooSmall | Expected::NotComputed(Reason::Unfed) => false,
            _ => self.asks((red, black), &setting),
        };
        let bare = Self::at_rest(Supply::LugsOff, Fitted::None);
        let negative = negative.filter(|&(terminal, ..)| self.asks((terminal, black), &bare));
        let mut group = self.group(stage, Subject::Load(feed), setting);
        if asks {
            group.step(Probe::At(red), Probe::At(black), Quantity::Ohms, expected);
            group.suspect(Suspects {
                dead: opens,
                weak: Vec::new(),
            });
        }
        if let Some((terminal, expected, opens)) = negative {
            group.step(
                Probe::At(terminal),
                Probe::At(black),
                Quantity::Ohms,
                expected,
            );
            group.suspect(Suspects {
                dead: opens,
                weak: Vec::new(),
            });
        }
    }

    /// Whether a resistance was not asked for in this state so far; it counts as asked from now on.
    fn asks(&mut self, probes: (TerminalId, TerminalId), setting: &Setting) -> bool {
        let asked = self.asked.entry(probes).or_default();
        if asked.contains(setting) {
            return false;
        }
        asked.push(setting.clone());
        true
    }

    /// Links of a way from a terminal on, and back.
    fn reachable(&self, feed: &Feed, red: TerminalId) -> Vec<LinkId> {
        let start = self.system.node_of(red);
        let from = feed
            .positive
            .iter()
            .position(|&link| {
                let (a, b) = ends(self.system, link);
                a == start || b == start
            })
            .unwrap_or(feed.positive.len());
        let own = feed.positive[from..].iter();
        own.chain(&feed.negative).copied().collect()
    }

    /// The negative of a load, from its terminal to its bus: the terminal, what shows, who is suspected.
    ///
    /// The load's own fuse may stay in: with the lugs off nothing leads round the negative.
    fn negative_of(
        &self,
        feed: &Feed,
        black: TerminalId,
    ) -> Option<(TerminalId, Expected, Vec<LinkId>)> {
        let system = self.system;
        let terminal = system.links[system.loads[feed.load.index()].link.index()].b;
        let bus = system.node_of(black);
        if system.node_of(terminal) == bus {
            return None;
        }
        let last = feed.negative.iter().position(|&link| {
            let (a, b) = ends(system, link);
            a == bus || b == bus
        });
        let to_bus = &feed.negative[..last.map_or(feed.negative.len(), |last| last + 1)];
        let expected = match self.sum(to_bus) {
            Ok(own) => Expected::AtMost(NEGATIVE_OHMS.max(own * (1.0 + BAND_SHARE))),
            // Without a length the usual limit still tells a broken wire.
            Err(_) => Expected::AtMost(NEGATIVE_OHMS),
        };
        Some((
            terminal,
            expected,
            faults::opens(system, &self.shared, to_bus),
        ))
    }

    // Stage 2.

    fn before_the_last_lug(&mut self) {
        let system = self.system;
        for (index, bank) in system.banks.iter().enumerate() {
            let setting = Self::at_rest(Supply::LastLugOff, Fitted::None);
            let alive = {
                let state = state(system, &setting);
                feeds::alive(system, &state.positions, &state.opened)
            };
            let mut group = self.group(2, Subject::Bank(BankId::at(index)), setting);
            for string in &bank.strings {
                let mut readings = Vec::new();
                for source in string {
                    let record = &system.sources[source.index()];
                    let link = &system.links[record.link.index()];
                    let chemistry = record
                        .chemistry
                        .map_or(Chemistry::Flooded, |given| given.value);
                    let nominal = record.nominal.value;
                    let low = standards::rest_voltage(chemistry, nominal, LEAST_CHARGE);
                    let (high, _) = standards::max_charge_voltage(chemistry, nominal);
                    let expected = match low {
                        Some((low, _)) => Expected::Between(low, high),
                        None => Expected::Between(nominal, high),
                    };
                    let id = group.step(
                        Probe::At(link.a),
                        Probe::At(link.b),
                        Quantity::Volts,
                        expected,
                    );
                    readings.push(id);
                }
                if let (Some(first), Some(last), true) =
                    (string.first(), string.last(), string.len() > 1)
                {
                    let post = |source: &SourceId| {
                        &system.links[system.sources[source.index()].link.index()]
                    };
                    let band = LEAST_BAND * string.len() as f64;
                    group.step(
                        Probe::At(post(last).a),
                        Probe::At(post(first).b),
                        Quantity::Volts,
                        Expected::SumOf { readings, band },
                    );
                }
            }
            let live: Vec<LoadId> = system
                .loads
                .iter()
                .enumerate()
                .filter(|(_, load)| {
                    let (plus, _) = ends(system, load.link);
                    alive[plus.index()] == Some(BankId::at(index))
                })
                .map(|(load, _)| LoadId::at(load))
                .collect();
            for lowest in bank.strings.iter().filter_map(|string| string.first()) {
                let post = system.links[system.sources[lowest.index()].link.index()].b;
                let expected = if live.is_empty() {
                    Expected::Dead(DEAD)
                } else {
                    Expected::LiveThrough(live.clone())
                };
                group.step(
                    Probe::LooseLug(post),
                    Probe::At(post),
                    Quantity::Volts,
                    expected,
                );
            }
        }
    }

    // Stage 3.

    fn lamp_for_the_main(&mut self) {
        let system = self.system;
        for (index, record) in system.banks.iter().enumerate() {
            let bank = BankId::at(index);
            let ways: Vec<Feed> = (0..system.loads.len())
                .filter_map(|load| self.feeds.of(LoadId::at(load)).first())
                .filter(|feed| feed.bank == bank)
                .cloned()
                .collect();
            if ways.is_empty() {
                continue;
            }
            // A string beside this one would feed round a lamp that stands for the main of one of them.
            let main = if record.strings.len() == 1 {
                main_device(system, &ways)
            } else {
                None
            };
            let mut setting = Self::at_rest(Supply::On, Fitted::Singles(Vec::new()));
            for feed in &ways {
                for &(gear, position) in &feed.moved {
                    if system.gears[gear.index()].kind == GearKind::BatterySwitch {
                        setting.put(self.feeds.rest(), gear, position);
                    }
                }
            }
            let state = state(system, &setting);
            for (place, string) in record.strings.iter().enumerate() {
                let (Some(lowest), Some(highest)) = (string.first(), string.last()) else {
                    continue;
                };
                let post =
                    |source: &SourceId| &system.links[system.sources[source.index()].link.index()];
                let (from, to) = (post(highest).a, post(lowest).b);
                let reached = feeds::reached(system, system.node_of(from), |link| {
                    state.closes(system, link)
                });
                let mut points: Vec<TerminalId> = self
                    .points
                    .iter()
                    .map(|&(_, terminal)| terminal)
                    .filter(|&terminal| reached[system.node_of(terminal).index()])
                    .collect();
                if place > 0 {
                    // The first string has shown the rest of the boat; this one has to show that it gets there.
                    points.truncate(1);
                }
                if points.is_empty() {
                    continue;
                }
                let negatives: Vec<TerminalId> = points
                    .iter()
                    .map(|&terminal| self.negative_beside(terminal).unwrap_or(to))
                    .collect();
                let mut setting = setting.clone();
                setting.supply = main.map_or(Supply::StandAtPost(to), Supply::StandForMain);
                setting.running = self.glows(&reached);
                let mut group = self.group(3, Subject::Bank(bank), setting);
                let reading = group.step(
                    Probe::At(from),
                    Probe::At(to),
                    Quantity::Volts,
                    Expected::BatteryReading,
                );
                for (terminal, negative) in points.into_iter().zip(negatives) {
                    group.step(
                        Probe::At(terminal),
                        Probe::At(negative),
                        Quantity::Volts,
                        Expected::BatteryMinus {
                            reading,
                            lost: Volts(0.0),
                            band: LEAST_BAND,
                        },
                    );
                }
            }
        }
    }

    /// Loads that a lamp would glow for: no switch stands before them, so they run as soon as they are fed.
    fn glows(&self, reached: &[bool]) -> Vec<LoadId> {
        let system = self.system;
        self.free_running
            .iter()
            .copied()
            .filter(|load| {
                let (plus, _) = ends(system, system.loads[load.index()].link);
                reached[plus.index()]
            })
            .collect()
    }

    // Stage 4.

    fn one_circuit_at_a_time(&mut self) {
        let system = self.system;
        let mut state = State::normal(system);
        state.positions = self.feeds.rest().to_vec();
        state.opened.clone_from(&self.ways_out);
        let driven = self.driven();
        for (index, driven) in driven.into_iter().enumerate() {
            let load = LoadId::at(index);
            // A coil is measured with the load that its relay switches.
            if driven {
                continue;
            }
            for feed in self.feeds.of(load).to_vec() {
                self.circuit(feed, &mut state);
            }
        }
    }

    /// By load: whether it is a coil whose relay stands on the way of some load.
    fn driven(&self) -> Vec<bool> {
        let mut driven = vec![false; self.system.loads.len()];
        for index in 0..self.system.loads.len() {
            for feed in self.feeds.of(LoadId::at(index)) {
                for coil in &feed.coils {
                    driven[coil.index()] = true;
                }
            }
        }
        driven
    }

    fn circuit(&mut self, feed: Feed, state: &mut State) {
        let system = self.system;
        let load = feed.load;
        let setting = self.running(&feed);
        self.put(state, &setting, Put::In);
        let part = self.part(&feed, state, &setting.running);
        self.put(state, &setting, Put::Back);
        let record = &system.links[system.loads[load.index()].link.index()];
        let (from, to) = (post_of(system, feed.from), post_of(system, feed.to));
        let volts = |a: TerminalId, b: TerminalId, links: &[&[LinkId]]| match &part {
            Err(reason) => Err(*reason),
            Ok(part) => {
                self.missing(links)?;
                let (a, b) = (system.node_of(a), system.node_of(b));
                part.between(a, b).ok_or(Reason::Unfed)
            }
        };
        let (out, back) = (feed.positive.as_slice(), feed.negative.as_slice());
        let positive = volts(from, record.a, &[out]);
        let negative = volts(record.b, to, &[back]);
        // What the load is short of, against the posts: nothing but the two losses together.
        let both = positive.and_then(|positive| negative.map(|negative| positive + negative));
        let amps = part.as_ref().map_or_else(
            |reason| match reason {
                Reason::Unfed | Reason::Unsolvable(_) | Reason::Joined => Err(*reason),
                _ => system.loads[load.index()].current().ok_or(*reason),
            },
            |part| Ok(part.load_current()),
        );
        let coils: Vec<(LoadId, Result<Volts, Reason>)> = feed
            .coils
            .iter()
            .map(|&coil| {
                let link = &system.links[system.loads[coil.index()].link.index()];
                let posts = volts(from, to, &[]);
                let at_coil = volts(link.a, link.b, &[&feed.control, out, back]);
                (coil, posts.and_then(|posts| at_coil.map(|at| posts - at)))
            })
            .collect();
        let clamp = clamp_of(system, &feed);
        let suspects = match &part {
            Ok(part) => faults::suspects(
                system,
                &self.shared,
                &feed,
                part,
                &[(record.a, record.b), (from, record.a), (record.b, to)],
            ),
            Err(_) => vec![Suspects::default(); 3],
        };
        let control = faults::opens(system, &self.shared, &feed.control);
        let mut group = self.group(4, Subject::Load(feed), setting);
        let reading = group.step(
            Probe::At(from),
            Probe::At(to),
            Quantity::Volts,
            Expected::BatteryReading,
        );
        let minus = |lost: Result<Volts, Reason>| {
            lost.map_or_else(Expected::NotComputed, |lost| Expected::BatteryMinus {
                reading,
                lost,
                band: band(lost),
            })
        };
        let lost = |lost: Result<Volts, Reason>| {
            lost.map_or_else(Expected::NotComputed, |lost| Expected::Lost {
                lost,
                band: band(lost),
            })
        };
        for (coil, short) in coils {
            let link = &system.links[system.loads[coil.index()].link.index()];
            group.step(
                Probe::At(link.a),
                Probe::At(link.b),
                Quantity::Volts,
                minus(short),
            );
            group.suspect(Suspects {
                dead: control.clone(),
                weak: Vec::new(),
            });
        }
        let mut suspects = suspects.into_iter();
        let mut next = || suspects.next().unwrap_or_default();
        let at_load = group.step(
            Probe::At(record.a),
            Probe::At(record.b),
            Quantity::Volts,
            minus(both),
        );
        group.suspect(next());
        // A clamp that must tell less than it can tell from nothing proves nothing.
        let shows = amps.is_err() || amps.is_ok_and(|amps| amps.abs() > STILL);
        if let Some(clamp) = clamp.filter(|_| shows) {
            let expected = amps.map_or_else(Expected::NotComputed, |amps| Expected::Amps {
                amps,
                band: STILL.max(amps.abs() * BAND_SHARE),
            });
            group.step(Probe::Clamp(clamp), Probe::None, Quantity::Amps, expected);
        }
        // A load that gets its voltage has both ways proved; what each loses tells where it is lost.
        group.step(
            Probe::At(from),
            Probe::At(record.a),
            Quantity::Volts,
            lost(positive),
        );
        group.suspect(next());
        group.only_if_off(at_load);
        group.step(
            Probe::At(record.b),
            Probe::At(to),
            Quantity::Volts,
            lost(negative),
        );
        group.suspect(next());
        group.only_if_off(at_load);
    }

    /// How the boat stands while one load runs in one of its ways.
    fn running(&self, feed: &Feed) -> Setting {
        let system = self.system;
        let mut ways = ways_of(system, &feed.positive);
        ways.extend(ways_of(system, &feed.negative));
        ways.extend(ways_of(system, &feed.control));
        let mut setting = self.moved(feed, Supply::On, Fitted::Singles(ways.clone()));
        setting.running.push(feed.load);
        setting.running.extend(&feed.coils);
        setting.running.extend(&self.free_running);
        let behind = self.behind_ways.iter();
        setting.running.extend(
            behind
                .filter(|(way, _)| ways.contains(way))
                .map(|&(_, load)| load),
        );
        setting.running.sort_unstable();
        setting.running.dedup();
        setting
    }

    /// Puts a state of stage 4 as a setting says, or back to all ways out and everything at rest.
    fn put(&self, state: &mut State, setting: &Setting, put: Put) {
        for &(gear, position) in &setting.moved {
            let rest = self.feeds.rest()[gear.index()];
            state.positions[gear.index()] = if put == Put::In { position } else { rest };
        }
        for load in &setting.running {
            state.on[load.index()] = put == Put::In;
        }
        if let Fitted::Singles(ways) = &setting.fitted {
            for way in ways {
                state.opened[way.index()] = put == Put::Back;
            }
        }
    }

    fn part(&mut self, feed: &Feed, state: &State, running: &[LoadId]) -> Result<Part, Reason> {
        if self.room.looked_at > MOST_WORK {
            return Err(Reason::TooLarge);
        }
        part_of(self.system, feed, (state, running), &mut self.room)
    }

    /// What the given ways need and the file does not give.
    fn missing(&self, ways: &[&[LinkId]]) -> Result<(), Reason> {
        for &link in ways.iter().copied().flatten() {
            let LinkKind::Conductor(id) = self.system.links[link.index()].kind else {
                continue;
            };
            let conductor = &self.system.conductors[id.index()];
            if conductor.length.is_none() {
                return Err(Reason::Length(id));
            }
            if conductor.gauge.is_none() {
                return Err(Reason::Gauge(id));
            }
        }
        Ok(())
    }

    /// Resistance of links one behind the other.
    fn sum(&self, links: &[LinkId]) -> Result<Ohms, Reason> {
        self.missing(&[links])?;
        Ok(links
            .iter()
            .filter_map(|&link| resistance(self.system, link, Reading::Physical))
            .sum())
    }

    // Stage 5.

    fn positions(&mut self) {
        let system = self.system;
        let switches: Vec<GearId> = (0..system.gears.len())
            .map(GearId::at)
            .filter(|gear| system.gears[gear.index()].kind == GearKind::BatterySwitch)
            .collect();
        let points: Vec<TerminalId> = self.points.iter().map(|&(_, terminal)| terminal).collect();
        let (sets, left_out) = combinations(system, &switches);
        self.left_out = left_out;
        for set in sets {
            let mut setting = Self::at_rest(Supply::On, Fitted::All);
            let (mut joins, mut emergency) = (false, false);
            for &(gear, position) in &set {
                setting.put(self.feeds.rest(), gear, position);
                let position = &system.gears[gear.index()].positions[usize::from(position)];
                joins |= position.joins_banks;
                emergency |= position.emergency;
            }
            let state = state(system, &setting);
            let reached: Vec<Vec<bool>> = (0..system.banks.len())
                .map(|bank| {
                    feeds::reached_by_bank(system, BankId::at(bank), |link| {
                        state.closes(system, link)
                    })
                })
                .collect();
            let mut live = Vec::new();
            let mut dead = Vec::new();
            for &terminal in &points {
                let node = system.node_of(terminal).index();
                let banks: Vec<BankId> = (0..system.banks.len())
                    .filter(|&bank| reached[bank][node])
                    .map(BankId::at)
                    .collect();
                if banks.is_empty() {
                    dead.push(terminal);
                } else {
                    live.push((terminal, banks));
                }
            }
            let subject = Subject::Combination {
                set,
                joins,
                emergency,
            };
            self.group(5, subject, setting).step(
                Probe::None,
                Probe::None,
                Quantity::Look,
                Expected::LiveAndDead { live, dead },
            );
        }
        self.isolation();
    }

    /// The largest load of each bank on, a clamp on every other bank.
    fn isolation(&mut self) {
        let system = self.system;
        if system.banks.len() < 2 {
            return;
        }
        for index in 0..system.banks.len() {
            let bank = BankId::at(index);
            let largest = (0..system.loads.len())
                .map(LoadId::at)
                .filter(|&load| {
                    // What charges another bank puts current on its clamp.
                    let charges = system
                        .sources
                        .iter()
                        .any(|source| source.input == Some(load));
                    system.loads[load.index()].kind != LoadKind::Starter && !charges
                })
                .filter_map(|load| {
                    let feed = self.feeds.of(load).first()?;
                    let amps = system.loads[load.index()].current()?;
                    // What is smaller could not be told on another bank's clamp.
                    (feed.bank == bank && amps >= STILL * 10.0).then_some((amps, feed))
                })
                .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.load.cmp(&a.1.load)));
            let Some((_, feed)) = largest else {
                continue;
            };
            let feed = feed.clone();
            let mut setting = self.running(&feed);
            setting.fitted = Fitted::All;
            let by_themselves = self.behind_ways.iter().map(|&(_, load)| load);
            setting.running.extend(by_themselves);
            setting.running.sort_unstable();
            setting.running.dedup();
            for (index, gear) in system.gears.iter().enumerate() {
                let normal = &gear.positions[usize::from(gear.normal)];
                let moved = feed.moved.iter().any(|(moved, _)| moved.index() == index);
                if gear.kind == GearKind::BatterySwitch && !moved && !normal.joins_banks {
                    setting.put(self.feeds.rest(), GearId::at(index), gear.normal);
                }
            }
            let solution = solve::solve(system, &state(system, &setting), Options::PHYSICAL).ok();
            let clamps: Vec<(Probe, Expected)> = system
                .banks
                .iter()
                .enumerate()
                .filter(|&(other, _)| other != index)
                .filter_map(|(_, other)| clamp_on(system, other))
                .map(|(clamp, battery)| {
                    let link = system.sources[battery.index()].link;
                    let amps = solution
                        .as_ref()
                        .map_or(Amps(0.0), |solution| solution.current(link).abs());
                    // What is always on keeps drawing from its own bank.
                    let expected = if amps <= STILL * 0.5 {
                        Expected::Still
                    } else {
                        let band = STILL.max(amps * BAND_SHARE);
                        Expected::Amps { amps, band }
                    };
                    (clamp, expected)
                })
                .collect();
            let mut group = self.group(5, Subject::Isolation(bank), setting);
            for (clamp, expected) in clamps {
                group.step(clamp, Probe::None, Quantity::Amps, expected);
            }
        }
    }

    // Stage 6.

    fn charging(&mut self) {
        let system = self.system;
        for (index, source) in system.sources.iter().enumerate() {
            if source.kind == SourceKind::Battery {
                continue;
            }
            // All outputs of one part work together, so they are told together.
            let is_output = |other: &Source| {
                other.component == source.component && other.kind != SourceKind::Battery
            };
            if system.sources[..index].iter().any(is_output) {
                continue;
            }
            let outputs: Vec<&Source> = system.sources.iter().filter(|o| is_output(o)).collect();
            let id = SourceId::at(index);
            let mut setting = Self::at_rest(Supply::Charging(id), Fitted::All);
            for (index, record) in system.gears.iter().enumerate() {
                let position = match record.kind {
                    GearKind::BatterySwitch => record.normal,
                    // The second position of a combiner is joined.
                    GearKind::Combiner if source.kind == SourceKind::Alternator => {
                        u16::from(record.positions.len() > 1)
                    }
                    _ => continue,
                };
                setting.put(self.feeds.rest(), GearId::at(index), position);
            }
            setting
                .running
                .extend(outputs.iter().filter_map(|output| output.input));
            setting.running.sort_unstable();
            setting.running.dedup();
            let state = state(system, &setting);
            let solution = solve::solve(system, &state, Options::PHYSICAL).ok();
            let mut group = self.group(6, Subject::Source(id), setting);
            for output in outputs {
                let link = &system.links[output.link.index()];
                let reached = feeds::reached(system, system.node_of(link.a), |link| {
                    state.closes(system, link)
                });
                let most = output.max_voltage.map(|given| given.value);
                for bank in &system.banks {
                    // A charger may be meant for one battery of a string alone.
                    let charged = bank.strings.iter().flatten().find(|battery| {
                        let link = system.sources[battery.index()].link;
                        reached[ends(system, link).0.index()]
                    });
                    let Some(charged) = charged else {
                        continue;
                    };
                    let battery = &system.links[system.sources[charged.index()].link.index()];
                    let (plus, minus) = (battery.a, battery.b);
                    group.step(
                        Probe::At(plus),
                        Probe::At(minus),
                        Quantity::Volts,
                        Expected::Charging(most),
                    );
                    let lost = solution.as_ref().and_then(|solution| {
                        solution.between(system.node_of(link.a), system.node_of(plus))
                    });
                    if let (Some(lost), Some(_)) = (lost, output.current) {
                        group.step(
                            Probe::At(link.a),
                            Probe::At(plus),
                            Quantity::Volts,
                            Expected::Between(Volts(0.0), lost.max(Volts(0.0)) + band(lost)),
                        );
                    }
                }
            }
        }
    }

    // Places.

    /// The negative bus to put the other probe on: near the point, and such that the loads behind it return over it.
    fn negative_beside(&self, point: TerminalId) -> Option<TerminalId> {
        let system = self.system;
        let node = system.node_of(point);
        let zone = faults::zone_of(system, point);
        let near = |one: &Return| zone.is_some() && faults::zone_of(system, one.bus) == zone;
        let best = |one: &Return| (near(one), one.first, one.passed);
        let own = self.point_at[node.index()]
            .checked_sub(1)
            .and_then(|number| {
                let returns = &self.returns[number as usize];
                returns.iter().rev().max_by_key(|&one| best(one))
            });
        // A bus that only charging sources land on has no loads behind it.
        let island = self.island[node.index()];
        let any = || {
            self.all_returns
                .iter()
                .rev()
                .filter(|(_, of)| *of == island)
                .map(|(one, _)| one)
                .max_by_key(|&one| best(one))
        };
        own.or_else(any).map(|one| one.bus)
    }

    /// The first negative bus on the way back; the post where there is none.
    fn bus_of(&self, feed: &Feed) -> TerminalId {
        buses_of(self.system, feed)
            .first()
            .copied()
            .unwrap_or_else(|| post_of(self.system, feed.to))
    }
}

/// Where voltage is distributed: feeds of blocks, positive buses, starters, in file order; and for a way that passes
/// none of them, what lies behind its last battery switch or device.
fn points(system: &System, poles: &Poles, feeds: &Feeds) -> Vec<(ComponentId, TerminalId)> {
    let mut points = Vec::new();
    for (index, component) in system.components.iter().enumerate() {
        let terminal = match component.kind {
            ComponentKind::FuseBlock => component.terminals.first(),
            ComponentKind::Bus => component
                .terminals
                .first()
                .filter(|&&terminal| poles.of(system.node_of(terminal)) == Pole::Positive),
            _ => None,
        };
        if let Some(&terminal) = terminal {
            points.push((ComponentId::at(index), terminal));
        }
    }
    for load in &system.loads {
        if load.kind == LoadKind::Starter {
            let terminal = system.links[load.link.index()].a;
            points.push((load.component, terminal));
        }
    }
    let mut is_point = vec![false; system.nodes.len()];
    for (_, terminal) in &points {
        is_point[system.node_of(*terminal).index()] = true;
    }
    for (index, load) in system.loads.iter().enumerate() {
        // The coil of a relay or the electronics of a combiner are no load that somebody turns on.
        let is_load = system.components[load.component.index()].kind == ComponentKind::Load;
        let Some(feed) = feeds.of(LoadId::at(index)).first().filter(|_| is_load) else {
            continue;
        };
        let nodes = nodes_along(system, feed.from, &feed.positive);
        if nodes.iter().any(|node| is_point[node.index()]) {
            continue;
        }
        let last = feed.positive.iter().rposition(|&link| {
            let device = matches!(system.links[link.index()].kind, LinkKind::Device(_));
            device || gear_of(system, link).is_some_and(|gear| is_battery_switch(system, gear))
        });
        let Some(last) = last else {
            continue;
        };
        let far = nodes[last + 1];
        let terminal = end_at(system, feed.positive[last], far);
        is_point[far.index()] = true;
        points.push((system.terminals[terminal.index()].component, terminal));
    }
    points
}

/// By node: number of the island that links of any kind join it to.
fn islands(system: &System) -> Vec<usize> {
    let mut joined = Groups::new(system.nodes.len());
    for index in 0..system.links.len() {
        let (a, b) = ends(system, LinkId::at(index));
        joined.join(a.index(), b.index(), 0.0);
    }
    joined.number().0
}

/// Nodes of a way, its start first.
fn nodes_along(system: &System, from: NodeId, links: &[LinkId]) -> Vec<NodeId> {
    let mut at = from;
    let mut nodes = vec![at];
    for &link in links {
        let (a, b) = ends(system, link);
        at = if a == at { b } else { a };
        nodes.push(at);
    }
    nodes
}

/// The end of a link that lies on a node.
fn end_at(system: &System, link: LinkId, node: NodeId) -> TerminalId {
    let link = &system.links[link.index()];
    if system.node_of(link.a) == node {
        link.a
    } else {
        link.b
    }
}

/// Buses on the way back of a load, the first one first.
fn buses_of(system: &System, feed: &Feed) -> Vec<TerminalId> {
    let minus = ends(system, system.loads[feed.load.index()].link).1;
    nodes_along(system, minus, &feed.negative)
        .iter()
        .filter_map(|node| {
            system.nodes[node.index()]
                .terminals
                .iter()
                .copied()
                .find(|&terminal| {
                    matches!(
                        system.component_of(terminal).kind,
                        ComponentKind::Bus | ComponentKind::FuseBlock
                    )
                })
        })
        .collect()
}

fn gear_of(system: &System, link: LinkId) -> Option<GearId> {
    match system.links[link.index()].kind {
        LinkKind::Contact { gear, .. } => Some(gear),
        _ => None,
    }
}

fn is_relay(system: &System, gear: GearId) -> bool {
    system.gears[gear.index()].kind == GearKind::Relay
}

fn is_battery_switch(system: &System, gear: GearId) -> bool {
    system.gears[gear.index()].kind == GearKind::BatterySwitch
}

/// What parts a load from its bank last of all.
enum Gate {
    /// A device, with its terminal towards the bank.
    Device(DeviceId, TerminalId),
    /// A battery switch that is off at rest, with its terminal towards the load.
    Switch(TerminalId),
}

/// The device nearest to a load, or the battery switch behind it.
fn last_gate(system: &System, rest: &[u16], feed: &Feed) -> Option<Gate> {
    let nodes = nodes_along(system, feed.from, &feed.positive);
    feed.positive
        .iter()
        .enumerate()
        .rev()
        .find_map(|(at, &link)| match &system.links[link.index()].kind {
            LinkKind::Device(device) => {
                Some(Gate::Device(*device, end_at(system, link, nodes[at])))
            }
            LinkKind::Contact { gear, closed_in }
                if is_battery_switch(system, *gear) && !closed_in.contains(&rest[gear.index()]) =>
            {
                Some(Gate::Switch(end_at(system, link, nodes[at + 1])))
            }
            _ => None,
        })
}

/// Whether a setting is put in or taken back.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Put {
    In,
    Back,
}

/// Ways of blocks among some links.
fn ways_of(system: &System, links: &[LinkId]) -> Vec<DeviceId> {
    links
        .iter()
        .filter_map(|link| match system.links[link.index()].kind {
            LinkKind::Device(device) if is_way(system, device) => Some(device),
            _ => None,
        })
        .collect()
}

/// A group that is being filled; it joins the plan when it goes out of scope, unless it is empty.
struct Open<'p, 's> {
    planner: &'p mut Planner<'s>,
    group: Group,
}

impl Open<'_, '_> {
    fn step(&mut self, red: Probe, black: Probe, quantity: Quantity, expected: Expected) -> StepId {
        let stage = self.group.stage;
        let number = &mut self.planner.numbers[usize::from(stage)];
        *number = number.saturating_add(1);
        let id = StepId {
            stage,
            number: *number,
        };
        self.group.steps.push(Step {
            id,
            red,
            black,
            quantity,
            expected,
            suspects: Suspects::default(),
            only_if_off: None,
        });
        id
    }

    /// The step that was added last is read only where another one is off.
    fn only_if_off(&mut self, other: StepId) {
        if let Some(step) = self.group.steps.last_mut() {
            step.only_if_off = Some(other);
        }
    }

    /// What to suspect in the step that was added last.
    fn suspect(&mut self, suspects: Suspects) {
        if let Some(step) = self.group.steps.last_mut() {
            step.suspects = suspects;
        }
    }
}

impl Drop for Open<'_, '_> {
    fn drop(&mut self) {
        if self.group.steps.is_empty() {
            return;
        }
        let group = Group {
            stage: self.group.stage,
            subject: self.group.subject.clone(),
            setting: self.group.setting.clone(),
            steps: std::mem::take(&mut self.group.steps),
        };
        self.planner.groups.push(group);
    }
}

/// The part that carries the current of a load in one of its ways.
pub(super) fn part_of(
    system: &System,
    feed: &Feed,
    (state, running): (&State, &[LoadId]),
    room: &mut Room,
) -> Result<Part, Reason> {
    let part = Part::new(system, state, feed.load, running, Options::PHYSICAL, room);
    part.map_err(|error| match error {
        PartError::NoDraw => Reason::Draw(feed.load),
        PartError::Unfed => Reason::Unfed,
        PartError::Unsolvable(error) => Reason::Unsolvable(error),
    })
}

/// The first device of all these ways, where they share it; else nothing stands for all of them.
fn main_device(system: &System, ways: &[Feed]) -> Option<DeviceId> {
    let mut firsts = ways.iter().map(|feed| {
        feed.positive
            .iter()
            .find_map(|link| match system.links[link.index()].kind {
                LinkKind::Device(device) => Some(device),
                _ => None,
            })
    });
    let first = firsts.next()??;
    firsts.all(|other| other == Some(first)).then_some(first)
}

/// The battery terminal on a node.
fn post_of(system: &System, node: NodeId) -> TerminalId {
    let terminals = &system.nodes[node.index()].terminals;
    let battery = terminals
        .iter()
        .copied()
        .find(|&terminal| system.component_of(terminal).kind == ComponentKind::Battery);
    battery
        .or_else(|| terminals.first().copied())
        .unwrap_or(TerminalId(0))
}

/// The conductor next to the load on its positive side, for a clamp; its negative where there is none.
fn clamp_of(system: &System, feed: &Feed) -> Option<ConductorId> {
    let conductor = |link: &LinkId| match system.links[link.index()].kind {
        LinkKind::Conductor(id) => Some(id),
        _ => None,
    };
    feed.positive
        .iter()
        .rev()
        .find_map(conductor)
        .or_else(|| feed.negative.iter().find_map(conductor))
}

/// Where a clamp goes to see all that a bank gives, and the battery whose current that is.
///
/// The one cable of a post; where both posts carry several, all of them together.
fn clamp_on(system: &System, bank: &crate::system::Bank) -> Option<(Probe, SourceId)> {
    let string = bank.strings.first()?;
    let (lowest, highest) = (*string.first()?, *string.last()?);
    let plus = system.links[system.sources[highest.index()].link.index()].a;
    let minus = system.links[system.sources[lowest.index()].link.index()].b;
    let only = |post: TerminalId| {
        // Whatever is no conductor leads current past a clamp as well.
        let node = system.node_of(post);
        let mut others = system.nodes[node.index()]
            .links
            .iter()
            .filter(|link| !matches!(system.links[link.index()].kind, LinkKind::Source(_)));
        match (others.next(), others.next()) {
            (Some(link), None) => match system.links[link.index()].kind {
                LinkKind::Conductor(id) => Some(Probe::Clamp(id)),
                _ => None,
            },
            _ => None,
        }
    };
    let clamp = only(plus)
        .or_else(|| only(minus))
        .unwrap_or(Probe::ClampPost(plus));
    Some((clamp, highest))
}

/// Combinations of battery switch positions that interlocks permit, and how many are left out.
///
/// All of them where they are few, else each switch through its positions with the others off.
fn combinations(system: &System, switches: &[GearId]) -> (Vec<Vec<(GearId, u16)>>, usize) {
    let count =
        |gear: GearId| u16::try_from(system.gears[gear.index()].positions.len()).unwrap_or(0);
    let rest = feeds::rest(system);
    let all = switches.iter().try_fold(1usize, |all, &gear| {
        all.checked_mul(usize::from(count(gear)))
    });
    let mut sets: Vec<Vec<(GearId, u16)>> = Vec::new();
    if all.is_some_and(|all| all <= MAX_COMBINATIONS) {
        sets.push(Vec::new());
        for &gear in switches {
            sets = sets
                .iter()
                .flat_map(|set| {
                    (0..count(gear)).map(move |position| {
                        let mut set = set.clone();
                        set.push((gear, position));
                        set
                    })
                })
                .collect();
        }
    } else {
        for &gear in switches {
            for position in 0..count(gear) {
                let set = switches
                    .iter()
                    .map(|&other| {
                        let at = if other == gear {
                            position
                        } else {
                            rest[other.index()]
                        };
                        (other, at)
                    })
                    .collect();
                if !sets.contains(&set) {
                    sets.push(set);
                }
            }
        }
    }
    sets.retain(|set| {
        !system.interlocks.iter().any(|interlock| {
            !interlock.never.is_empty()
                && interlock.never.iter().all(|&(gear, position)| {
                    let now = set
                        .iter()
                        .find(|(of, _)| *of == gear)
                        .map_or(rest[gear.index()], |&(_, at)| at);
                    now == position
                })
        })
    });
    let most = MAX_COMBINATIONS * 4;
    let left_out = sets.len().saturating_sub(most)
        + all.map_or(1, |all| {
            all.saturating_sub(sets.len())
                .min(usize::from(all > MAX_COMBINATIONS) * all)
        });
    sets.truncate(most);
    (sets, left_out)
}
