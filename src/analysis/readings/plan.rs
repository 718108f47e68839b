//! The steps before and at power-up: what is set, where the probes go, what the meter should show.
//!
//! Stages 0 to 2 need no current, 3 lets a lamp or a small fuse stand in for the main, 4 runs one circuit at a time,
//! 5 goes through the battery switches, 6 charges. Every expected figure is solved for the state that the step
//! describes; where a value that it needs is not given, the step says so and expects nothing.
//!
//! A step is asked for where a hand meter can tell its answer from nothing: no resistance under [`LEAST_OHMS`](super::LEAST_OHMS), no
//! current under [`STILL`]. One reading at a load proves both of its ways, so what each way loses is asked for only
//! where that reading is off.

use super::faults::{self, Suspects};
use super::feeds::{self, Feed, Feeds};
use super::ohms;
use super::places::{
    Gate, buses_of, clamp_of, clamp_on, combinations, gear_of, is_relay, islands, last_gate,
    main_device, nodes_along, points, post_of, ways_of,
};
use super::step::{
    BAND_SHARE, DEAD, Expected, Fitted, Group, LEAST_BAND, NEGATIVE_OHMS, Probe, Quantity, Reason,
    STILL, Setting, Step, StepId, Subject, Supply, band, is_way, state,
};
use crate::analysis::poles::Poles;
use crate::analysis::solve::{self, Options, Part, PartError, Reading, Room, State, resistance};
use crate::analysis::states::ends;
use crate::standards;
use crate::system::{
    BankId, Chemistry, ComponentId, ComponentKind, DeviceId, GearId, GearKind, LinkId, LinkKind,
    LoadId, LoadKind, Source, SourceId, SourceKind, System, TerminalId,
};
use crate::units::{Amps, Ohms, Volts};
use std::collections::BTreeMap;

/// State of charge in per cent below which a battery is not fit for the test.
const LEAST_CHARGE: f64 = 25.0;
/// Links looked at over all loads before the rest of a boat is left out of the sheet.
const MOST_WORK: usize = 20_000_000;

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

/// Whether a setting is put in or taken back.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Put {
    In,
    Back,
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
