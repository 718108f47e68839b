//! The boat's energy: what loads take in a day, how long banks last, what drains them in lay-up, what charges them.
//!
//! Sums hold only what the file gives; what they leave out is told beside them. Endurance takes the usable share of a
//! capacity by chemistry and the worst Peukert exponent of its kind, and never credits a slow discharge with more than
//! the rated capacity. A bank's own discharge, its age and the cold are not known to a netlist and are not counted.

use super::currents::most_closed;
use super::readings::{Feed, Feeds, reached, reached_by_banks};
use super::solve::{self, Options, Reading, Room, SolveError, Solver, State, Voltage};
use super::states::ends;
use crate::standards::{self, Basis, Chemistry, constants};
use crate::system::{
    Bank, BankId, GearKind, LinkId, LinkKind, Load, LoadId, LoadKind, NodeId, ScenarioId, Service,
    SourceId, SourceKind, System,
};
use crate::units::{AmpHours, Amps, Hours, Volts};

/// Hours of a day.
const DAY: f64 = 24.0;

/// Why a load is left out of a sum.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Missing {
    /// Its current is not given.
    Draw,
    /// Its hours a day are not given.
    Hours,
    /// No bank feeds it.
    Bank,
}

/// Loads with a current each.
pub type LoadCurrents = Vec<(LoadId, Amps)>;

/// What a load takes in lay-up: battery switches off, everything else as it hangs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Layup {
    /// Nothing: no bank reaches it.
    Dead,
    /// A current all day.
    Steady(Amps),
    /// Now and then, through a float or another contact that works by itself; the mean of a day.
    Cycling(Amps),
    /// It stays live, but what it takes is not given.
    Unknown,
}

/// Energy of one load.
#[derive(Clone, Debug, PartialEq)]
pub struct LoadEnergy {
    /// The bank that feeds it.
    pub bank: Option<BankId>,
    /// Charge of a day.
    pub charge: Result<AmpHours, Missing>,
    /// What it takes in lay-up.
    pub layup: Layup,
    /// The bank that reaches it in lay-up.
    pub layup_bank: Option<BankId>,
}

/// What a source puts back into a bank.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Recharge {
    /// The source.
    pub source: SourceId,
    /// Its rated current; none when not given.
    pub current: Option<Amps>,
    /// Hours to put back what a day takes, all of its current going there.
    pub day: Option<Hours>,
    /// Hours to put back the whole usable share.
    pub whole: Option<Hours>,
}

/// Energy of one bank.
#[derive(Clone, Debug, PartialEq)]
pub struct BankEnergy {
    /// Nominal voltage of its strings.
    pub nominal: Volts,
    /// Rated capacity of its strings together; none where one battery gives none.
    pub capacity: Option<AmpHours>,
    /// Share that is meant to be used.
    pub usable_share: f64,
    /// Hour rate of the capacity.
    pub hour_rate: Hours,
    /// Peukert exponent that is counted with.
    pub exponent: f64,
    /// Charge of a day, of the loads that give all it takes.
    pub day: AmpHours,
    /// Loads left out of it.
    pub left_out: Vec<(LoadId, Missing)>,
    /// Current in lay-up with pumps and alarms at rest.
    pub layup_dry: Amps,
    /// The same with what floats and the like switch, at its mean.
    pub layup_cycling: Amps,
    /// Loads that stay live and do not say what they take.
    pub layup_unknown: Vec<LoadId>,
    /// Charging sources that reach it in normal use.
    pub recharge: Vec<Recharge>,
}

impl BankEnergy {
    /// Charge that is meant to be used.
    #[must_use]
    pub fn usable(&self) -> Option<AmpHours> {
        self.capacity.map(|capacity| capacity * self.usable_share)
    }

    /// How long the usable share lasts at a steady current; none without a capacity or a current.
    #[must_use]
    pub fn endurance(&self, current: Amps) -> Option<Hours> {
        let capacity = self.capacity?;
        (current.0 > 0.0 && capacity.0 > 0.0).then(|| {
            let full = discharge_time(capacity, self.hour_rate, self.exponent, current);
            // A slow discharge gives no more than the rated capacity.
            let plain = Hours(capacity.0 / current.0);
            full.min(plain) * self.usable_share
        })
    }

    /// The steady current at which the usable share of a bank charged to `charge` per cent ends after just so long.
    ///
    /// None without a capacity, and zero where nothing is left to use.
    #[must_use]
    pub fn current_for(&self, hours: Hours, charge: f64) -> Option<Amps> {
        let capacity = self.capacity?;
        let left = self.left(charge);
        if hours.0 <= 0.0 {
            return None;
        }
        // Both bounds of `endurance`, each solved for its current.
        let by_law = capacity.0 / self.hour_rate.0
            * (self.hour_rate.0 * left / hours.0).powf(1.0 / self.exponent);
        let plain = capacity.0 * left / hours.0;
        Some(Amps(by_law.min(plain)))
    }

    /// Share of the capacity that may still be used from a state of charge in per cent on.
    fn left(&self, charge: f64) -> f64 {
        (self.usable_share - (1.0 - charge / 100.0)).max(0.0)
    }

    /// Days that the usable share lasts at the use of a day, unrounded.
    #[must_use]
    pub fn days(&self) -> Option<f64> {
        let mean = Amps(self.day.0 / DAY);
        self.endurance(mean).map(|hours| hours.0 / DAY)
    }

    /// Days to the end of the usable share in lay-up, unrounded: at rest, and with what cycles.
    #[must_use]
    pub fn layup_days(&self) -> (Option<f64>, Option<f64>) {
        let days = |current| self.endurance(current).map(|hours| hours.0 / DAY);
        (days(self.layup_dry), days(self.layup_cycling))
    }
}

/// Energy of one bank in a scenario.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScenarioBank {
    /// The bank.
    pub bank: BankId,
    /// Current out of it; negative while it is charged.
    pub current: Amps,
    /// Charge out of it over the scenario, negative while it is charged and no more than it lacks; none where the
    /// scenario gives no hours.
    pub charge: Option<AmpHours>,
    /// How long it takes until it is full at this current; none unless it is charged and gives its capacity.
    pub full_after: Option<Hours>,
    /// How long what is usable lasts from the scenario's state of charge on.
    pub endurance: Option<Hours>,
}

/// Energy of one scenario.
#[derive(Clone, Debug, PartialEq)]
pub struct ScenarioEnergy {
    /// The scenario.
    pub scenario: ScenarioId,
    /// Its hours.
    pub hours: Option<Hours>,
    /// Its banks, or why there is no answer.
    pub banks: Result<Vec<ScenarioBank>, SolveError>,
}

/// What cranking leaves of a battery's voltage.
#[derive(Clone, Debug, PartialEq)]
pub struct Cranking {
    /// The starter.
    pub load: LoadId,
    /// Its bank.
    pub bank: BankId,
    /// Voltage at the posts of the full battery: as cold as its cranking current is stated for, else warm.
    pub at_battery: Volts,
    /// Voltage at the starter.
    pub at_starter: Volts,
    /// What electronic loads get meanwhile, each in the state in which it gets least, in the order of the file.
    pub dips: Vec<Dip>,
}

/// What an electronic load gets while a starter cranks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dip {
    /// The load.
    pub load: LoadId,
    /// The scenario; none for all electronics on, switches as they normally stand, full batteries.
    pub scenario: Option<ScenarioId>,
    /// Voltage at it with the starter at rest.
    pub before: Volts,
    /// Voltage at it while the starter cranks.
    pub cranking: Volts,
}

impl Dip {
    /// A few words for the state: `in scenario starting`.
    #[must_use]
    pub fn words(&self, system: &System) -> String {
        match self.scenario {
            Some(scenario) => format!("in scenario {}", system.scenarios[scenario.index()].name),
            None => "with all electronics on and full batteries".to_owned(),
        }
    }
}

/// The least voltage that a load works at: its maker's figure, else the general range, with its authority.
#[must_use]
pub fn least_voltage(load: &Load) -> (Volts, Option<Basis>) {
    if let Some(given) = load.min_voltage {
        return (given.value, None);
    }
    let (share, basis) = constants::electronics_least_share();
    (load.nominal.value * share, Some(basis))
}

/// The energy of the whole boat.
#[derive(Clone, Debug, PartialEq)]
pub struct Energy {
    loads: Vec<LoadEnergy>,
    banks: Vec<BankEnergy>,
    /// Every starter that a bank feeds and whose current and cables are given.
    pub cranking: Vec<Cranking>,
    /// Every declared scenario, in the order of the file.
    pub scenarios: Vec<ScenarioEnergy>,
}

impl Energy {
    /// Computes it.
    #[must_use]
    pub fn new(system: &System, feeds: &Feeds) -> Self {
        let loads = loads(system, feeds);
        let mut banks: Vec<BankEnergy> = system
            .banks
            .iter()
            .map(|bank| empty_bank(system, bank))
            .collect();
        for (index, load) in loads.iter().enumerate() {
            let id = LoadId::at(index);
            if let Some(bank) = load.bank {
                let bank = &mut banks[bank.index()];
                match load.charge {
                    Ok(charge) => bank.day = bank.day + charge,
                    Err(missing) => bank.left_out.push((id, missing)),
                }
            }
            if let Some(bank) = load.layup_bank {
                let bank = &mut banks[bank.index()];
                match load.layup {
                    Layup::Dead => {}
                    Layup::Steady(amps) => {
                        bank.layup_dry = bank.layup_dry + amps;
                        bank.layup_cycling = bank.layup_cycling + amps;
                    }
                    Layup::Cycling(amps) => bank.layup_cycling = bank.layup_cycling + amps,
                    Layup::Unknown => bank.layup_unknown.push(id),
                }
            }
        }
        recharge(system, &mut banks);
        let mut solver = Solver::new(system, Reading::Physical);
        Self {
            cranking: cranking(system, feeds, &mut solver),
            scenarios: (0..system.scenarios.len())
                .map(|index| scenario(system, &mut solver, &banks, ScenarioId::at(index)))
                .collect(),
            loads,
            banks,
        }
    }

    /// Energy of a load.
    #[must_use]
    pub fn load(&self, load: LoadId) -> &LoadEnergy {
        &self.loads[load.index()]
    }

    /// What all scenarios together, each once, take out of a bank and put into it; none where one gives no hours.
    ///
    /// Scenarios that only crank, and those in which the bank rests, need no hours.
    #[must_use]
    pub fn balance(&self, bank: BankId) -> Option<(AmpHours, AmpHours)> {
        let (mut out, mut into) = (AmpHours(0.0), AmpHours(0.0));
        let mut timed = 0;
        for scenario in &self.scenarios {
            let (Some(_), Ok(banks)) = (scenario.hours, &scenario.banks) else {
                continue;
            };
            for entry in banks.iter().filter(|entry| entry.bank == bank) {
                let charge = entry.charge?;
                timed += 1;
                if charge.0 >= 0.0 {
                    out = out + charge;
                } else {
                    into = into + charge.abs();
                }
            }
        }
        (timed > 0).then_some((out, into))
    }

    /// Loads that drain a bank in lay-up and say so: what they take steadily, and what they take now and then at its mean.
    #[must_use]
    pub fn laid_up(&self, system: &System, bank: BankId) -> (LoadCurrents, LoadCurrents) {
        let (mut steady, mut cycling) = (Vec::new(), Vec::new());
        for (index, load) in system.loads.iter().enumerate() {
            let id = LoadId::at(index);
            let energy = self.load(id);
            // A load that says neither how long it runs nor what it takes while idle, nor that it is to stay on, may
            // well be unplugged; and a pump that is to stay live does not run all day.
            let stays =
                load.always_on.is_some_and(|given| given.value) && load.kind != LoadKind::Motor;
            let says = load.standby.is_some() || load.hours.is_some() || stays;
            if energy.layup_bank != Some(bank) || !says {
                continue;
            }
            match energy.layup {
                Layup::Steady(current) => steady.push((id, current)),
                Layup::Cycling(current) => cycling.push((id, current)),
                Layup::Dead | Layup::Unknown => {}
            }
        }
        (steady, cycling)
    }

    /// Whether a solar controller charges a bank, so that nothing flattens it in lay-up.
    #[must_use]
    pub fn sunny(&self, system: &System, bank: BankId) -> bool {
        self.bank(bank)
            .recharge
            .iter()
            .any(|recharge| system.sources[recharge.source.index()].kind == SourceKind::Solar)
    }

    /// Charge that has to be put back into a bank for each that was taken out.
    #[must_use]
    pub fn charge_return(&self, system: &System, bank: BankId) -> f64 {
        charge_return(system, &system.banks[bank.index()])
    }

    /// Energy of a bank.
    #[must_use]
    pub fn bank(&self, bank: BankId) -> &BankEnergy {
        &self.banks[bank.index()]
    }
}

/// Time in which a current takes the whole capacity: t = H·(C / (I·H))ⁿ.
///
/// In this normalised form of Peukert's law the rated current takes exactly the rated time, whatever the exponent.
#[must_use]
pub fn discharge_time(capacity: AmpHours, hour_rate: Hours, exponent: f64, current: Amps) -> Hours {
    hour_rate * (capacity.0 / (current.0 * hour_rate.0)).powf(exponent)
}

/// Peukert's exponent from two discharges of one battery: n = ln(t₁ / t₂) / ln(I₂ / I₁).
#[must_use]
pub fn exponent_from(first: (Amps, Hours), second: (Amps, Hours)) -> f64 {
    (first.1 / second.1).ln() / (second.0 / first.0).ln()
}

fn loads(system: &System, feeds: &Feeds) -> Vec<LoadEnergy> {
    let off: Vec<u16> = system
        .gears
        .iter()
        .map(|gear| match gear.kind {
            GearKind::BatterySwitch => gear.off.unwrap_or(gear.normal),
            _ => gear.normal,
        })
        .collect();
    let closed = |link: LinkId| match &system.links[link.index()].kind {
        LinkKind::Contact { gear, closed_in } => closed_in.contains(&off[gear.index()]),
        _ => true,
    };
    let by_itself = |link: LinkId| match &system.links[link.index()].kind {
        LinkKind::Contact { gear, closed_in } => {
            let works = &system.gears[gear.index()];
            let cycles = works.automatic && works.kind != GearKind::Combiner;
            cycles && !closed_in.is_empty()
        }
        _ => false,
    };
    let steady = reached_by_banks(system, closed);
    let cycling = reached_by_banks(system, |link| closed(link) || by_itself(link));
    system
        .loads
        .iter()
        .enumerate()
        .map(|(index, load)| {
            let id = LoadId::at(index);
            let feed = feeds.of(id).first();
            let (plus, _) = ends(system, load.link);
            let (layup, layup_bank) = match (feed, steady[plus.index()], cycling[plus.index()]) {
                (None, _, _) | (_, None, None) => (Layup::Dead, None),
                (Some(_), Some(bank), _) => (steady_draw(load), Some(bank)),
                (Some(_), None, Some(bank)) => (cycling_draw(load), Some(bank)),
            };
            LoadEnergy {
                bank: feed.map(|feed| feed.bank),
                charge: charge(system, load, feed),
                layup,
                layup_bank,
            }
        })
        .collect()
}

/// Charge of a day: at its draw for its hours, and at its standby current for the rest if it stays live then.
fn charge(system: &System, load: &Load, feed: Option<&Feed>) -> Result<AmpHours, Missing> {
    let feed = feed.ok_or(Missing::Bank)?;
    let current = load.current().ok_or(Missing::Draw)?;
    let hours = load.hours.ok_or(Missing::Hours)?.value.0.clamp(0.0, DAY);
    // What a hand switches off takes nothing while it is off.
    let by_hand = feed.moved.iter().any(|&(gear, _)| {
        let gear = &system.gears[gear.index()];
        !gear.automatic && !matches!(gear.kind, GearKind::BatterySwitch)
    });
    let idle = match load.standby {
        Some(standby) if !by_hand => standby.value.at(load.nominal.value).0 * (DAY - hours),
        _ => 0.0,
    };
    Ok(AmpHours(current.0 * hours + idle))
}

/// What a load takes that stays live all the time.
fn steady_draw(load: &Load) -> Layup {
    if let Some(standby) = load.standby {
        return Layup::Steady(standby.value.at(load.nominal.value));
    }
    let always = load.always_on.is_some_and(|given| given.value);
    // The standby current of a combiner or an instrument is its only one.
    let own = load.kind == LoadKind::Electronics && load.hours.is_none();
    match load.current() {
        Some(current) if always || own => {
            let share = load
                .hours
                .map_or(1.0, |hours| hours.value.0.clamp(0.0, DAY) / DAY);
            Layup::Steady(current * share)
        }
        // A socket with nothing in it takes nothing.
        _ if load.kind == LoadKind::Outlet => Layup::Steady(Amps(0.0)),
        _ => Layup::Unknown,
    }
}

/// Mean of what a load takes that a float or the like switches.
fn cycling_draw(load: &Load) -> Layup {
    match (load.current(), load.hours) {
        (Some(current), Some(hours)) => {
            Layup::Cycling(current * (hours.value.0.clamp(0.0, DAY) / DAY))
        }
        _ => Layup::Unknown,
    }
}

fn empty_bank(system: &System, bank: &Bank) -> BankEnergy {
    let batteries = || {
        bank.strings
            .iter()
            .flatten()
            .map(|source| &system.sources[source.index()])
    };
    let chemistry = |source: &crate::system::Source| {
        source
            .chemistry
            .map_or(Chemistry::Flooded, |given| given.value)
    };
    // A string gives what its smallest battery gives; strings add up.
    let capacity = bank
        .strings
        .iter()
        .map(|string| {
            string
                .iter()
                .map(|source| system.sources[source.index()].capacity)
                .try_fold(AmpHours(f64::INFINITY), |least, capacity| {
                    Some(least.min(capacity?.value))
                })
        })
        .try_fold(AmpHours(0.0), |sum, string| Some(sum + string?))
        .filter(|capacity| capacity.0.is_finite() && capacity.0 > 0.0);
    let (rated, _) = constants::peukert_hours();
    let nominal = bank.strings.first().map_or(Volts(0.0), |string| {
        string
            .iter()
            .map(|source| system.sources[source.index()].nominal.value)
            .sum()
    });
    let least = |values: &mut dyn Iterator<Item = f64>| values.fold(f64::INFINITY, f64::min);
    let share = least(&mut batteries().map(|source| standards::usable_share(chemistry(source)).0));
    let exponent = batteries()
        .map(|source| {
            source.peukert.map_or_else(
                || standards::peukert_range(chemistry(source)).0.1,
                |given| given.value,
            )
        })
        .fold(1.0, f64::max);
    let hour_rate = least(
        &mut batteries().map(|source| source.hour_rate.map_or(rated.0, |given| given.value.0)),
    );
    BankEnergy {
        nominal,
        capacity,
        usable_share: if share.is_finite() { share } else { 0.0 },
        hour_rate: if hour_rate.is_finite() && hour_rate > 0.0 {
            Hours(hour_rate)
        } else {
            rated
        },
        exponent,
        day: AmpHours(0.0),
        left_out: Vec::new(),
        layup_dry: Amps(0.0),
        layup_cycling: Amps(0.0),
        layup_unknown: Vec::new(),
        recharge: Vec::new(),
    }
}

/// Which sources reach which bank in normal use, combiners joined, and how long they need.
fn recharge(system: &System, banks: &mut [BankEnergy]) {
    let joins = |link: LinkId| match &system.links[link.index()].kind {
        LinkKind::Contact { gear, closed_in } => {
            let works = &system.gears[gear.index()];
            works.kind == GearKind::Combiner || closed_in.contains(&works.normal)
        }
        _ => true,
    };
    for (index, source) in system.sources.iter().enumerate() {
        if source.kind == SourceKind::Battery {
            continue;
        }
        let (plus, _) = ends(system, source.link);
        let reached = reached(system, plus, joins);
        for (bank, energy) in system.banks.iter().zip(banks.iter_mut()) {
            if !top_posts(system, bank).any(|post| reached[post.index()])
                && !charges_one(system, bank, &reached)
            {
                continue;
            }
            let factor = charge_return(system, bank);
            let current = source.current.map(|given| given.value);
            let hours = |charge: AmpHours| {
                let current = current.filter(|current| current.0 > 0.0)?;
                Some(Hours(charge.0 * factor / current.0))
            };
            energy.recharge.push(Recharge {
                source: SourceId::at(index),
                current,
                day: hours(energy.day),
                whole: energy.usable().and_then(hours),
            });
        }
    }
}

/// Charge put back into a bank over charge taken out.
fn charge_return(system: &System, bank: &Bank) -> f64 {
    let lithium = bank.strings.iter().flatten().any(|battery| {
        system.sources[battery.index()]
            .chemistry
            .is_some_and(|given| given.value == Chemistry::LithiumIronPhosphate)
    });
    let (factor, _) = if lithium {
        constants::charge_return_lithium()
    } else {
        constants::charge_return_lead()
    };
    factor
}

/// Highest posts of the strings of a bank.
fn top_posts<'s>(system: &'s System, bank: &'s Bank) -> impl Iterator<Item = NodeId> + 's {
    bank.strings
        .iter()
        .filter_map(|string| string.last())
        .map(|source| ends(system, system.sources[source.index()].link).0)
}

/// Whether a source reaches a battery inside a string, as chargers with one output a battery do.
fn charges_one(system: &System, bank: &Bank, reached: &[bool]) -> bool {
    bank.strings
        .iter()
        .flatten()
        .any(|source| reached[ends(system, system.sources[source.index()].link).0.index()])
}

fn scenario(
    system: &System,
    solver: &mut Solver<'_>,
    banks: &[BankEnergy],
    id: ScenarioId,
) -> ScenarioEnergy {
    let record = &system.scenarios[id.index()];
    let state = State::scenario(system, id);
    let charge = record
        .state_of_charge
        .map_or(100.0, |given| given.value.clamp(0.0, 100.0));
    let hours = record.hours.map(|given| given.value);
    let banks = solver
        .solve(&state, Voltage::AtRest(charge))
        .map(|solution| {
            system
                .banks
                .iter()
                .enumerate()
                .map(|(index, bank)| {
                    // Every battery of a string carries the string's current.
                    let current: Amps = bank
                        .strings
                        .iter()
                        .filter_map(|string| string.first())
                        .map(|source| -solution.current(system.sources[source.index()].link))
                        .sum();
                    let energy = &banks[index];
                    let left = energy.left(charge);
                    let endurance = (energy.usable_share > 0.0)
                        .then(|| energy.endurance(current))
                        .flatten()
                        .map(|hours| hours * (left / energy.usable_share));
                    let lacks = energy.capacity.map(|capacity| {
                        capacity * ((1.0 - charge / 100.0) * charge_return(system, bank))
                    });
                    let full_after = lacks
                        .filter(|_| current.0 < 0.0)
                        .map(|lacks| Hours(lacks.0 / -current.0));
                    ScenarioBank {
                        bank: BankId::at(index),
                        current,
                        charge: hours.map(|hours| {
                            current * full_after.map_or(hours, |full_after| full_after.min(hours))
                        }),
                        full_after,
                        endurance,
                    }
                })
                .collect()
        });
    ScenarioEnergy {
        scenario: id,
        hours,
        banks,
    }
}

fn cranking(system: &System, feeds: &Feeds, solver: &mut Solver<'_>) -> Vec<Cranking> {
    let mut room = Room::new(system);
    let mut all: Vec<Cranking> = Vec::new();
    for (index, load) in system.loads.iter().enumerate() {
        if load.kind != LoadKind::Starter {
            continue;
        }
        let Some(feed) = feeds.of(LoadId::at(index)).first() else {
            continue;
        };
        let known = feed
            .positive
            .iter()
            .chain(&feed.negative)
            .all(|&link| solve::resistance(system, link, Reading::Physical).is_some());
        if !known {
            continue;
        }
        let mut state = State::normal(system);
        state.positions = feeds.rest().to_vec();
        for &(gear, position) in &feed.moved {
            state.positions[gear.index()] = position;
        }
        state.on[index] = true;
        let part = solve::Part::new(system, &state, feed.load, &[], Options::PHYSICAL, &mut room);
        let Ok(part) = part else {
            continue;
        };
        let (plus, minus) = ends(system, load.link);
        if let (Some(at_battery), Some(at_starter)) =
            (part.between(feed.from, feed.to), part.between(plus, minus))
        {
            all.push(Cranking {
                load: feed.load,
                bank: feed.bank,
                at_battery,
                at_starter,
                dips: if all.len() < MAX_STARTERS {
                    dips(system, feed, &state, solver)
                } else {
                    Vec::new()
                },
            });
        }
    }
    all
}

/// Starters whose dips are looked for; each costs some solutions of the whole boat.
const MAX_STARTERS: usize = 8;
/// Scenarios of one starter in which its dips are looked for.
const MAX_STARTS: usize = 16;

/// What electronic loads get while one starter cranks.
fn dips(system: &System, feed: &Feed, alone: &State, solver: &mut Solver<'_>) -> Vec<Dip> {
    let starter = feed.load;
    let electronic =
        |load: &Load| load.kind == LoadKind::Electronics || load.service == Service::Electronics;
    let mut states: Vec<(Option<ScenarioId>, State)> = (0..system.scenarios.len())
        .map(ScenarioId::at)
        .filter(|id| system.scenarios[id.index()].on.contains(&starter))
        .take(MAX_STARTS)
        .map(|id| (Some(id), State::scenario(system, id)))
        .collect();
    if states.is_empty() {
        let mut state = State::normal(system);
        let closed = most_closed(system);
        for (index, gear) in system.gears.iter().enumerate() {
            if !matches!(gear.kind, GearKind::BatterySwitch | GearKind::Combiner) {
                state.positions[index] = closed[index];
            }
        }
        for &(gear, _) in &feed.moved {
            state.positions[gear.index()] = alone.positions[gear.index()];
        }
        for (on, load) in state.on.iter_mut().zip(&system.loads) {
            *on = electronic(load);
        }
        state.on[starter.index()] = true;
        states.push((None, state));
    }
    let mut worst: Vec<Option<Dip>> = vec![None; system.loads.len()];
    for (scenario, mut state) in states {
        let charge = scenario
            .and_then(|id| system.scenarios[id.index()].state_of_charge)
            .map_or(100.0, |given| given.value);
        let voltage = Voltage::AtRest(charge);
        let Ok(cranking) = solver.solve(&state, voltage) else {
            continue;
        };
        state.on[starter.index()] = false;
        let Ok(before) = solver.solve(&state, voltage) else {
            continue;
        };
        for (index, load) in system.loads.iter().enumerate() {
            let fed = |solution: &solve::Solution| solution.loads[index] == solve::Running::Fed;
            if !electronic(load) || !fed(&cranking) || !fed(&before) {
                continue;
            }
            let at = |solution: &solve::Solution| solution.across(system, load.link);
            let Some((before, cranking)) = at(&before).zip(at(&cranking)) else {
                continue;
            };
            if worst[index].is_none_or(|known| cranking < known.cranking) {
                worst[index] = Some(Dip {
                    load: LoadId::at(index),
                    scenario,
                    before,
                    cranking,
                });
            }
        }
    }
    worst.into_iter().flatten().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const MARSH: &str = include_str!("../../examples/marsh-pipit-rev-a.yaml");
    const TEAL: &str = include_str!("../../examples/teal-skerry-rev-a.yaml");
    const PLOVER: &str = include_str!("../../examples/mud-plover-rev-a.yaml");

    fn boat(text: &str) -> System {
        crate::draft(text.as_bytes()).boat.expect("a netlist")
    }

    fn energy(system: &System) -> Energy {
        Energy::new(system, &Feeds::new(system))
    }

    fn bank(system: &System, name: &str) -> BankId {
        BankId::at(
            system
                .banks
                .iter()
                .position(|bank| bank.name == name)
                .expect("the boat has it"),
        )
    }

    fn near(got: f64, wanted: f64, tolerance: f64) {
        assert!((got - wanted).abs() <= tolerance, "{got} against {wanted}");
    }

    /// The file has the radio transmit all the hours it is on. This is the radio that transmits a twentieth of them.
    fn listening(text: &str, hours: f64) -> String {
        let mean = 0.05 * 5.5 + 0.95 * 0.4;
        let wanted = format!(
            "draw: 5.5 A, kind: electronics, service: electronics, standby: 0.4 A, hours: {hours} h"
        );
        let with =
            format!("draw: {mean} A, kind: electronics, service: electronics, hours: {hours} h");
        assert!(text.contains(&wanted), "{wanted}");
        text.replace(&wanted, &with)
    }

    #[test]
    fn the_rated_current_takes_the_rated_time() {
        // By definition: 100 Ah at the 20 h rate, 5 A, whatever the exponent.
        for exponent in [1.0, 1.05, 1.2, 1.4] {
            let time = discharge_time(AmpHours(100.0), Hours(20.0), exponent, Amps(5.0));
            near(time.0, 20.0, 1e-9);
        }
        // Computed: 100 Ah, 20 h, n = 1.2, 10 A. C/Iⁿ without the hour rate would give 14.5 h for 5 A: a form often
        // printed, and wrong.
        let time = discharge_time(AmpHours(100.0), Hours(20.0), 1.2, Amps(10.0));
        near(time.0, 8.7055, 5e-5);
    }

    #[test]
    fn an_exponent_from_two_discharges() {
        // A public battery page: 20 h at 5 A and 7.5 h at 10 A. n = ln(20/7.5)/ln 2 = 1.4150.
        let exponent = exponent_from((Amps(5.0), Hours(20.0)), (Amps(10.0), Hours(7.5)));
        near(exponent, 1.4150, 5e-5);
        let time = discharge_time(AmpHours(100.0), Hours(20.0), exponent, Amps(10.0));
        near(time.0, 7.5, 1e-9);
    }

    #[test]
    fn a_slow_discharge_gives_no_more_than_the_rated_capacity() {
        let system = boat(MARSH);
        let energy = energy(&system);
        let house = energy.bank(bank(&system, "house"));
        let slow = house.endurance(Amps(0.5)).expect("a capacity is given");
        near(slow.0, 52.5 / 0.5, 1e-9);
        let fast = house.endurance(Amps(20.0)).expect("a capacity is given");
        assert!(fast.0 < 52.5 / 20.0);
        assert_eq!(house.endurance(Amps(0.0)), None);
    }

    #[test]
    fn the_launch_lasts_a_day() {
        // Worked by hand from the load table: 1.5 + 0.5 + 2 + 3.6 + 0.1 + 3 + 10 + 18 + 0.72 + 1.75 + 0.8 + 0.42 +
        // 0.02 Ah, and 3 h of a radio that transmits a twentieth of the time, 1.965 Ah: 44.375 Ah.
        let system = boat(&listening(MARSH, 3.0));
        let energy = energy(&system);
        let house = energy.bank(bank(&system, "house"));
        near(house.day.0, 44.375, 1e-9);
        assert!(house.left_out.is_empty(), "{:?}", house.left_out);
        near(house.usable().expect("given").0, 52.5, 1e-9);
        near(house.days().expect("given"), 52.5 / 44.375, 1e-9);
        // A radio that transmits all the time takes 16.5 Ah alone.
        let system = boat(MARSH);
        let whole = self::energy(&system);
        near(whole.bank(bank(&system, "house")).day.0, 58.91, 1e-9);
    }

    #[test]
    fn the_launch_in_lay_up() {
        let system = boat(MARSH);
        let energy = energy(&system);
        let house = energy.bank(bank(&system, "house"));
        near(house.layup_dry.0, 0.03, 1e-9);
        // 52.5 Ah / 30 mA = 1750 h: 72.9 days, so 72 whole ones.
        near(house.layup_days().0.expect("given"), 72.917, 5e-4);
        // Pump 0.1 h and alarm 0.1 h a day.
        near(house.layup_cycling.0, 0.03 + (4.2 + 0.2) * 0.1 / 24.0, 1e-9);
        // The combiner's 20 mA come from the start battery: 37.5 Ah in 78 days.
        let start = energy.bank(bank(&system, "start"));
        near(start.layup_days().0.expect("given"), 78.125, 1e-9);
        assert!(house.layup_unknown.is_empty());
    }

    #[test]
    fn the_cruiser_lasts_a_day() {
        // Worked by hand from its load table: 163.37 Ah with a radio that transmits a twentieth of six hours;
        // 80 % of 280 Ah are 224 Ah, 1.371 days. Standby 0.32 A: 29.2 days.
        let system = boat(&listening(TEAL, 6.0));
        let energy = energy(&system);
        let house = energy.bank(bank(&system, "house"));
        near(house.day.0, 163.37, 1e-9);
        near(house.usable().expect("given").0, 224.0, 1e-9);
        near(house.days().expect("given"), 1.371, 5e-4);
        near(house.layup_dry.0, 0.32, 1e-9);
        near(house.layup_days().0.expect("given"), 29.17, 5e-3);
    }

    #[test]
    fn the_skiff_lasts_half_a_day_and_needs_its_engine() {
        // Worked by hand from its load table: 128.655 Ah on 12 V; half of 200 Ah is 0.777 days.
        let system = boat(&listening(PLOVER, 5.0));
        let energy = energy(&system);
        let house = energy.bank(bank(&system, "house"));
        near(house.day.0, 128.655, 1e-9);
        near(house.days().expect("given"), 0.7773, 5e-5);
        let outboard = house
            .recharge
            .iter()
            .find(|recharge| system.sources[recharge.source.index()].kind == SourceKind::Alternator)
            .expect("the combiner lets it through");
        assert_eq!(outboard.current, Some(Amps(35.0)));
        // 128.655 Ah × 1.15 / 35 A.
        near(outboard.day.expect("given").0, 4.2272, 5e-5);
        // The 36 V string has the capacity of one battery and is charged battery by battery.
        let bow = energy.bank(bank(&system, "bow"));
        near(bow.nominal.0, 36.0, 1e-9);
        near(bow.capacity.expect("given").0, 100.0, 1e-9);
        assert_eq!(bow.recharge.len(), 3);
        assert_eq!(bow.left_out, [(load(&system, "bow-motor"), Missing::Hours)]);
    }

    fn load(system: &System, name: &str) -> LoadId {
        LoadId::at(
            system
                .loads
                .iter()
                .position(|load| load.name == name)
                .expect("the boat has it"),
        )
    }

    #[test]
    fn cranking_pulls_the_battery_down() {
        let system = boat(MARSH);
        let energy = energy(&system);
        let [cranking] = energy.cranking.as_slice() else {
            panic!("one starter")
        };
        // 220 A from 12.6 V behind 5.4 V / 700 A.
        near(cranking.at_battery.0, 12.6 - 220.0 * 5.4 / 700.0, 1e-3);
        assert!(cranking.at_starter < cranking.at_battery);
        // The house side has a battery of its own: it feels the starter in the cable that both negatives share.
        assert!(!cranking.dips.is_empty());
        for dip in &cranking.dips {
            let fall = dip.before.0 - dip.cranking.0;
            // The combiner's own electronics hang on the start battery.
            let on_start = dip.load == load(&system, "bank-combiner.standby");
            assert_eq!(fall > 1.0, on_start, "{dip:?}");
            assert!(on_start || (0.0..0.05).contains(&fall), "{dip:?}");
        }
        // On combine both batteries crank, and the instruments with them.
        let text = MARSH.to_owned()
            + "\nscenarios:\n  start: {on: [starter, engine-gauges], positions: {battery-switch: combine}}\n";
        let system = boat(&text);
        let energy = self::energy(&system);
        let [dip] = energy.cranking[0].dips.as_slice() else {
            panic!("one instrument is on")
        };
        assert!(dip.before.0 - dip.cranking.0 > 0.5, "{dip:?}");
        let gauges = &system.loads[dip.load.index()];
        near(least_voltage(gauges).0.0, 10.5, 1e-9);
    }

    #[test]
    fn the_current_that_empties_a_bank_in_a_given_time() {
        let system = boat(MARSH);
        let energy = energy(&system);
        let house = energy.bank(bank(&system, "house"));
        for (hours, charge) in [(2.0, 100.0), (5.0, 80.0), (60.0, 100.0), (300.0, 90.0)] {
            let current = house.current_for(Hours(hours), charge).expect("given");
            let left = (house.usable_share - (1.0 - charge / 100.0)) / house.usable_share;
            let lasts = house.endurance(current).expect("given") * left;
            near(lasts.0, hours, 1e-9 * hours);
        }
        near(
            house.current_for(Hours(5.0), 40.0).expect("given").0,
            0.0,
            1e-12,
        );
    }

    #[test]
    fn scenarios_are_solved_for_their_banks() {
        let text = format!(
            "{MARSH}\nscenarios:\n  evening: {{on: [canopy-lights, stereo.main], hours: 4 h, state-of-charge: 80 %}}\n  \
             charging: {{charging: [shore-charger.2], hours: 5 h}}\n"
        );
        let system = boat(&text);
        let energy = energy(&system);
        let scenarios = &energy.scenarios;
        let evening = scenarios[0].banks.as_ref().expect("solvable");
        let house = &evening[bank(&system, "house").index()];
        // The lights take 1.5 A, the stereo 72 W at what reaches it.
        assert!((7.4..7.6).contains(&house.current.0), "{house:?}");
        near(
            house.charge.expect("hours are given").0,
            house.current.0 * 4.0,
            1e-9,
        );
        // From 80 % down to 50 % are three fifths of what is usable of a full battery.
        let full = energy
            .bank(bank(&system, "house"))
            .endurance(house.current)
            .expect("given");
        near(house.endurance.expect("given").0, full.0 * 0.6, 1e-9);
        let charging = scenarios[1].banks.as_ref().expect("solvable");
        let house = &charging[bank(&system, "house").index()];
        near(house.current.0, -10.0, 1e-6);
        assert_eq!(house.endurance, None);
        // A full battery takes in nothing that counts.
        near(house.charge.expect("hours are given").0, 0.0, 1e-9);
        // From 80 %: 21 Ah are lacking, 24.15 Ah have to go in, 2.415 h at 10 A.
        let text = format!(
            "{MARSH}\nscenarios:\n  charging: {{charging: [shore-charger.2], hours: 5 h, state-of-charge: 80 %}}\n"
        );
        let system = boat(&text);
        let energy = self::energy(&system);
        let banks = energy.scenarios[0].banks.as_ref().expect("solvable");
        let house = &banks[bank(&system, "house").index()];
        near(house.full_after.expect("given").0, 2.415, 1e-6);
        near(house.charge.expect("hours are given").0, -24.15, 1e-5);
    }

    #[test]
    fn what_is_not_given_is_left_out_and_told() {
        let text = MARSH
            .replace("sidelights: {draw: 1 A, ", "sidelights: {")
            .replace("capacity: 105 Ah, ", "");
        let system = boat(&text);
        let energy = energy(&system);
        let house = energy.bank(bank(&system, "house"));
        assert_eq!(
            house.left_out,
            [(load(&system, "sidelights"), Missing::Draw)]
        );
        assert_eq!(house.capacity, None);
        assert_eq!(house.days(), None);
        assert_eq!(house.layup_days(), (None, None));
    }
}
