//! The words of the sheet: what a step asks, how the boat stands for it, and what the meter is to show.
//!
//! Nothing is chosen or computed for a boat here.

use super::faults::Suspects;
use super::feeds::{self, Feed};
use crate::analysis::solve::{SolveError, State};
use crate::system::{
    BankId, ComponentId, ComponentKind, ConductorId, DeviceId, GearId, LoadId, SourceId,
    SourceKind, System, TerminalId,
};
use crate::units::{Amps, Ohms, Volts};
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
    pub(super) fn put(&mut self, rest: &[u16], gear: GearId, position: u16) {
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
pub(super) fn is_way(system: &System, device: DeviceId) -> bool {
    let component = system.devices[device.index()].component;
    system.components[component.index()].kind == ComponentKind::FuseBlock
}
