//! The boat's energy: what loads take in a day, how long banks last, what drains them in lay-up, what charges them.
//!
//! Sums hold only what the file gives; what they leave out is told beside them. Endurance takes the usable share of a
//! capacity by chemistry and the worst Peukert exponent of its kind, and never credits a slow discharge with more than
//! the rated capacity. A bank's own discharge, its age and the cold are not known to a netlist and are not counted.

use super::readings::{Feed, Feeds, reached, reached_by_banks};
use super::solve::{self, Options, Reading, Room, SolveError, State, Voltage};
use super::states::ends;
use crate::standards::{self, Chemistry, constants};
use crate::system::{
    Bank, BankId, GearKind, LinkId, LinkKind, Load, LoadId, LoadKind, NodeId, ScenarioId, SourceId,
    SourceKind, System,
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
    /// Charge out of it over the scenario; none where the scenario gives no hours.
    pub charge: Option<AmpHours>,
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
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cranking {
    /// The starter.
    pub load: LoadId,
    /// Its bank.
    pub bank: BankId,
    /// Voltage at the posts of the full battery, warm enough to start.
    pub at_battery: Volts,
    /// Voltage at the starter.
    pub at_starter: Volts,
}

/// The energy of the whole boat.
#[derive(Clone, Debug, PartialEq)]
pub struct Energy {
    loads: Vec<LoadEnergy>,
    banks: Vec<BankEnergy>,
    /// Every starter that a bank feeds and whose current and cables are given.
    pub cranking: Vec<Cranking>,
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
        Self {
            cranking: cranking(system, feeds),
            loads,
            banks,
        }
    }

    /// Energy of a load.
    #[must_use]
    pub fn load(&self, load: LoadId) -> &LoadEnergy {
        &self.loads[load.index()]
    }

    /// Solves every scenario for what it takes from the banks.
    #[must_use]
    pub fn scenarios(&self, system: &System) -> Vec<ScenarioEnergy> {
        (0..system.scenarios.len())
            .map(|index| scenario(system, &self.banks, ScenarioId::at(index)))
            .collect()
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

fn scenario(system: &System, banks: &[BankEnergy], id: ScenarioId) -> ScenarioEnergy {
    let record = &system.scenarios[id.index()];
    let state = State::scenario(system, id);
    let charge = record
        .state_of_charge
        .map_or(100.0, |given| given.value.clamp(0.0, 100.0));
    let options = Options {
        reading: Reading::Physical,
        voltage: Voltage::AtRest(charge),
    };
    let hours = record.hours.map(|given| given.value);
    let banks = solve::solve(system, &state, options).map(|solution| {
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
                let left = (energy.usable_share - (1.0 - charge / 100.0)).max(0.0);
                let endurance = (energy.usable_share > 0.0)
                    .then(|| energy.endurance(current))
                    .flatten()
                    .map(|hours| hours * (left / energy.usable_share));
                ScenarioBank {
                    bank: BankId::at(index),
                    current,
                    charge: hours.map(|hours| current * hours),
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

fn cranking(system: &System, feeds: &Feeds) -> Vec<Cranking> {
    let mut room = Room::new(system);
    let mut all = Vec::new();
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
            });
        }
    }
    all
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
    }

    #[test]
    fn scenarios_are_solved_for_their_banks() {
        let text = format!(
            "{MARSH}\nscenarios:\n  evening: {{on: [canopy-lights, stereo.main], hours: 4 h, state-of-charge: 80 %}}\n  \
             charging: {{charging: [shore-charger.2], hours: 5 h}}\n"
        );
        let system = boat(&text);
        let energy = energy(&system);
        let scenarios = energy.scenarios(&system);
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
