//! What every combination of the battery switches does, and what holds in all of them.
//!
//! For each combination all else is free: a load counts as fed by a bank where some position of the other parts lets it
//! draw. Combiners count as open where loads are told, because that is how a boat lies; what they join is told beside.
//! Promises are asked over all states at once and never read off the rows. Nothing here says what should hold.

use super::isolation::{Isolation, Nets, belongs_to, nominal, same_nominal, tops};
use super::states::{
    Answer, Constraints, MAX_POSITIONS, Reach, Reached, Witness, affordable, ends,
};
use crate::system::{
    BankId, GearId, GearKind, LinkId, LoadId, NodeId, Purpose, SourceId, SourceKind, System,
};

/// Combinations that are told one by one; a boat with more is told switch by switch.
pub const MAX_ROWS: usize = 64;

/// What one combination of the battery switches does.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// Position of each battery switch.
    pub positions: Vec<(GearId, u16)>,
    /// Every battery switch stands in its normal position.
    pub normal: bool,
    /// Every battery switch that has one stands in its off position.
    pub off: bool,
    /// What each bank does in it, in file order.
    pub banks: Vec<BankRow>,
    /// Loads that no bank can feed, in file order.
    pub dead: Vec<LoadId>,
}

/// What one bank does in one combination.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BankRow {
    /// The bank.
    pub bank: BankId,
    /// Loads that can draw on it, in file order.
    pub loads: Vec<LoadId>,
    /// Banks that the switches join to it.
    pub joined: Vec<BankId>,
    /// Further banks that combiners join to it when they close.
    pub joined_by_itself: Vec<BankId>,
    /// Charging sources that reach it, combiners closed where that helps.
    pub charged_by: Vec<SourceId>,
    /// Some of it is not decided within the effort allowed, and counts as so.
    pub undecided: bool,
}

/// Whether a promise holds.
#[derive(Clone, Debug, PartialEq)]
pub enum Kept {
    /// In every state but those named.
    Yes,
    /// Not in this state.
    No(Box<Witness>),
    /// Not decided within the effort allowed.
    Undecided,
}

/// What is said to hold over all states.
#[derive(Clone, Debug, PartialEq)]
pub enum Subject {
    /// Two banks are apart, but for the positions that are made to join them.
    Apart(BankId, BankId),
    /// No load of another bank draws on a start bank, but for positions that join banks or are for emergencies.
    StartBank(BankId, Vec<LoadId>),
    /// With every battery switch off only these loads can be live.
    OnlyLiveWhenOff(Vec<LoadId>),
    /// A load can be fed in every combination of the battery switches.
    AlwaysFed(Vec<LoadId>),
    /// The battery switches never leave an alternator without a battery.
    AlternatorHasBattery(SourceId),
    /// No combination shorts a source.
    NothingShorted,
}

/// One promise.
#[derive(Clone, Debug, PartialEq)]
pub struct Promise {
    /// What it is about.
    pub subject: Subject,
    /// Whether it holds.
    pub kept: Kept,
    /// Positions for which it is not given.
    pub unless: Vec<(GearId, u16)>,
}

/// The table and the promises.
#[derive(Clone, Debug)]
pub struct Truth {
    /// The battery switches, in file order.
    pub switches: Vec<GearId>,
    /// One row a combination, the first switch turning slowest.
    pub rows: Vec<Row>,
    /// Every combination that interlocks permit has its row.
    pub complete: bool,
    /// What holds over all states.
    pub promises: Vec<Promise>,
}

impl Truth {
    /// Asks everything.
    #[must_use]
    pub fn new(system: &System, nets: &Nets, isolation: &Isolation) -> Self {
        let switches: Vec<GearId> = (0..system.gears.len())
            .map(GearId::at)
            .filter(|gear| system.gears[gear.index()].kind == GearKind::BatterySwitch)
            .collect();
        let searches = 2 * system.banks.len() + system.sources.len() + 1;
        let rows = (affordable(system) / searches).clamp(1, MAX_ROWS);
        let (combinations, complete) = combinations(system, &switches, rows);
        let asking = Asking { system, nets };
        let mut truth = Self {
            rows: combinations
                .into_iter()
                .filter_map(|positions| asking.row(positions))
                .collect(),
            switches,
            complete,
            promises: Vec::new(),
        };
        truth.promises = asking.promises(isolation, &truth);
        truth
    }
}

/// All combinations of the battery switches, or each switch by itself where they are more than fit.
fn combinations(
    system: &System,
    switches: &[GearId],
    most: usize,
) -> (Vec<Vec<(GearId, u16)>>, bool) {
    let positions = |gear: GearId| {
        let count = system.gears[gear.index()].positions.len();
        (0..MAX_POSITIONS).take(count.max(1))
    };
    let count = switches
        .iter()
        .map(|&gear| positions(gear).count())
        .try_fold(1usize, usize::checked_mul)
        .unwrap_or(usize::MAX);
    if count <= most {
        let mut all: Vec<Vec<(GearId, u16)>> = vec![Vec::new()];
        for &gear in switches {
            all = all
                .iter()
                .flat_map(|row| {
                    positions(gear).map(|position| {
                        let mut row = row.clone();
                        row.push((gear, position));
                        row
                    })
                })
                .collect();
        }
        return (all, true);
    }
    let normal: Vec<(GearId, u16)> = switches
        .iter()
        .map(|&gear| (gear, system.gears[gear.index()].normal))
        .collect();
    let off: Vec<(GearId, u16)> = switches
        .iter()
        .map(|&gear| {
            let record = &system.gears[gear.index()];
            (gear, record.off.unwrap_or(record.normal))
        })
        .collect();
    let mut rows = vec![normal.clone()];
    if off != normal {
        rows.push(off);
    }
    'switches: for (index, &(gear, at)) in normal.iter().enumerate() {
        for position in positions(gear).filter(|&position| position != at) {
            if rows.len() >= most {
                break 'switches;
            }
            let mut row = normal.clone();
            row[index] = (gear, position);
            if !rows.contains(&row) {
                rows.push(row);
            }
        }
    }
    rows.truncate(most);
    (rows, false)
}

struct Asking<'s> {
    system: &'s System,
    nets: &'s Nets,
}

impl<'s> Asking<'s> {
    /// Questions that stay off the negative.
    fn reach(&self, constraints: &Constraints) -> Reach<'s> {
        let (system, nets) = (self.system, self.nets);
        Reach::new(system, constraints, |link: LinkId| {
            nets.is_off_negative(system, link).then_some(f64::INFINITY)
        })
    }

    /// What one combination does; none where interlocks forbid it.
    fn row(&self, positions: Vec<(GearId, u16)>) -> Option<Row> {
        let system = self.system;
        let mut fixed = Constraints::none(system);
        for &(gear, position) in &positions {
            fixed = fixed.fix(gear, position);
        }
        let posts: Vec<Vec<NodeId>> = system.banks.iter().map(|bank| tops(system, bank)).collect();
        let all: Vec<NodeId> = posts.iter().flatten().copied().collect();
        let fixed = fixed.relays_settled(system, &all);
        let open = fixed.clone().forbid(system, |gear, position| {
            gear.kind == GearKind::Combiner && position.joins_banks
        });
        let (free, open) = (self.reach(&fixed), self.reach(&open));
        if let Some(&node) = all.first()
            && open.joined(&[node], node) == Answer::No
        {
            return None;
        }
        let stands = |wanted: &dyn Fn(GearId) -> Option<u16>| {
            positions
                .iter()
                .all(|&(gear, position)| wanted(gear).is_none_or(|wanted| wanted == position))
        };
        let mut row = Row {
            normal: stands(&|gear| Some(system.gears[gear.index()].normal)),
            off: stands(&|gear| system.gears[gear.index()].off),
            positions,
            banks: Vec::new(),
            dead: Vec::new(),
        };
        let mut fed = vec![false; system.loads.len()];
        for (index, tops) in posts.iter().enumerate() {
            let bank = self.bank_row(BankId::at(index), tops, &posts, &open, &free);
            for load in &bank.loads {
                fed[load.index()] = true;
            }
            row.banks.push(bank);
        }
        self.add_chargers(&free, &mut row);
        row.dead = (0..system.loads.len())
            .filter(|&load| !fed[load])
            .map(LoadId::at)
            .collect();
        Some(row)
    }

    fn bank_row(
        &self,
        bank: BankId,
        tops: &[NodeId],
        posts: &[Vec<NodeId>],
        open: &Reach<'_>,
        free: &Reach<'_>,
    ) -> BankRow {
        let system = self.system;
        let mut row = BankRow {
            bank,
            loads: Vec::new(),
            joined: Vec::new(),
            joined_by_itself: Vec::new(),
            charged_by: Vec::new(),
            undecided: false,
        };
        let mut from = tops.to_vec();
        from.extend(self.converters(open, tops, posts));
        let (spread, apart, closed) = (open.spread(&from), open.spread(tops), free.spread(tops));
        let mut meets = |reached: Reached| {
            row.undecided |= reached == Reached::Undecided;
            reached != Reached::Never
        };
        for (index, load) in system.loads.iter().enumerate() {
            let (positive, _) = ends(system, load.link);
            if !self.nets.is_negative(positive) && meets(spread.reached(positive)) {
                row.loads.push(LoadId::at(index));
            }
        }
        for (index, others) in posts.iter().enumerate() {
            if index == bank.index() {
                continue;
            }
            if others.iter().any(|&post| meets(apart.reached(post))) {
                row.joined.push(BankId::at(index));
            } else if others.iter().any(|&post| meets(closed.reached(post))) {
                row.joined_by_itself.push(BankId::at(index));
            }
        }
        row
    }

    /// Outputs of converters that a bank can feed and that no bank holds itself.
    fn converters(&self, open: &Reach<'_>, tops: &[NodeId], posts: &[Vec<NodeId>]) -> Vec<NodeId> {
        let system = self.system;
        let mut outputs = Vec::new();
        for source in &system.sources {
            let Some(input) = source.input else { continue };
            let (output, _) = ends(system, source.link);
            let (positive, _) = ends(system, system.loads[input.index()].link);
            let held = open.spread(&[output]);
            let is_held = posts
                .iter()
                .flatten()
                .any(|&post| held.reached(post) != Reached::Never);
            if !is_held && open.spread(tops).reached(positive) != Reached::Never {
                outputs.push(output);
            }
        }
        outputs
    }

    /// What charges any battery of a bank; outputs of a charger may each have their own.
    fn add_chargers(&self, free: &Reach<'_>, row: &mut Row) {
        let system = self.system;
        let posts: Vec<Vec<NodeId>> = system
            .banks
            .iter()
            .map(|bank| {
                let batteries = bank.strings.iter().flatten();
                batteries
                    .map(|battery| ends(system, system.sources[battery.index()].link).0)
                    .collect()
            })
            .collect();
        for (index, source) in system.sources.iter().enumerate() {
            if source.kind == SourceKind::Battery {
                continue;
            }
            let (positive, _) = ends(system, source.link);
            let spread = free.spread(&[positive]);
            for (bank, posts) in row.banks.iter_mut().zip(&posts) {
                if posts
                    .iter()
                    .any(|&post| spread.reached(post) == Reached::Somewhen)
                {
                    bank.charged_by.push(SourceId::at(index));
                }
            }
        }
    }

    fn promises(&self, isolation: &Isolation, truth: &Truth) -> Vec<Promise> {
        let mut promises = self.banks_apart();
        promises.extend(self.start_banks());
        promises.extend(self.only_live_when_off(truth));
        promises.extend(always_fed(self.system, truth));
        promises.extend(alternators(self.system, isolation, truth));
        if isolation.unseen == 0 {
            promises.push(Promise {
                subject: Subject::NothingShorted,
                kept: match isolation.shorts.first() {
                    Some(short) => Kept::No(Box::new(short.witness.clone())),
                    None if isolation.undecided.is_empty() => Kept::Yes,
                    None => Kept::Undecided,
                },
                unless: Vec::new(),
            });
        }
        promises
    }

    /// Positions made to join banks, combiners among them.
    fn joining(&self) -> Vec<(GearId, u16)> {
        self.positions(|position| position.joins_banks)
    }

    fn positions(&self, test: impl Fn(&crate::system::Position) -> bool) -> Vec<(GearId, u16)> {
        let mut found = Vec::new();
        for (index, gear) in self.system.gears.iter().enumerate() {
            for (position, at) in gear.positions.iter().zip(0..MAX_POSITIONS) {
                if test(position) {
                    found.push((GearId::at(index), at));
                }
            }
        }
        found
    }

    /// Every pair of banks.
    fn banks_apart(&self) -> Vec<Promise> {
        let system = self.system;
        let mut effort = affordable(system);
        let everything = Constraints::none(system);
        let apart = everything
            .clone()
            .forbid(system, |_, position| position.joins_banks);
        let (any, apart) = (self.reach(&everything), self.reach(&apart));
        let joining = self.joining();
        let mut promises = Vec::new();
        for (index, bank) in system.banks.iter().enumerate() {
            let needed = 2 + joining.len();
            if effort < needed {
                break;
            }
            effort -= needed;
            let from = tops(system, bank);
            let (any, apart) = (any.spread(&from), apart.spread(&from));
            let mut one_by_one: Option<Vec<Reach<'_>>> = None;
            for (other, to) in system.banks.iter().enumerate().skip(index + 1) {
                let posts = tops(system, to);
                let never = posts
                    .iter()
                    .all(|&post| any.reached(post) == Reached::Never);
                if never {
                    promises.push(Promise {
                        subject: Subject::Apart(BankId::at(index), BankId::at(other)),
                        kept: Kept::Yes,
                        unless: Vec::new(),
                    });
                    continue;
                }
                let answers: Vec<Answer> = posts.iter().map(|&post| apart.answer(post)).collect();
                let kept = kept(answers);
                let reaches = one_by_one.get_or_insert_with(|| {
                    joining
                        .iter()
                        .map(|&one| self.only(&joining, one))
                        .collect()
                });
                let unless = joining
                    .iter()
                    .zip(reaches.iter())
                    .filter(|(_, reach)| {
                        let spread = reach.spread(&from);
                        kept == Kept::Yes
                            && posts
                                .iter()
                                .any(|&post| spread.reached(post) != Reached::Never)
                    })
                    .map(|(&position, _)| position)
                    .collect();
                promises.push(Promise {
                    subject: Subject::Apart(BankId::at(index), BankId::at(other)),
                    kept,
                    unless,
                });
            }
        }
        promises
    }

    /// Questions in which one of the joining positions is taken and the others are not.
    fn only(&self, joining: &[(GearId, u16)], one: (GearId, u16)) -> Reach<'s> {
        let system = self.system;
        let mut constraints = Constraints::none(system);
        for &(gear, _) in joining {
            if gear == one.0 {
                continue;
            }
            let name = &system.gears[gear.index()].name;
            constraints = constraints.forbid(system, |other, position| {
                other.name == *name && position.joins_banks
            });
        }
        self.reach(&constraints.fix(one.0, one.1))
    }

    fn start_banks(&self) -> Vec<Promise> {
        let system = self.system;
        let shares_voltage = |bank: &crate::system::Bank| {
            nominal(system, bank).is_some_and(|volts| {
                system.banks.iter().any(|other| {
                    other.purpose != Purpose::Start
                        && !other.isolated.is_some_and(|given| given.value)
                        && nominal(system, other).is_some_and(|other| same_nominal(volts, other))
                })
            })
        };
        let constraints = Constraints::none(system).forbid(system, |_, position| {
            position.joins_banks || position.emergency
        });
        let reach = self.reach(&constraints);
        let unless = self.positions(|position| position.joins_banks || position.emergency);
        system
            .banks
            .iter()
            .enumerate()
            .filter(|(_, bank)| bank.purpose == Purpose::Start && shares_voltage(bank))
            .map(|(index, bank)| {
                let id = BankId::at(index);
                let spread = reach.spread(&tops(system, bank));
                let mut drains = Vec::new();
                let mut answers = Vec::new();
                for (number, load) in system.loads.iter().enumerate() {
                    let (positive, _) = ends(system, load.link);
                    if belongs_to(system, load, id) || self.nets.is_negative(positive) {
                        continue;
                    }
                    if spread.reached(positive) == Reached::Never {
                        continue;
                    }
                    drains.push(LoadId::at(number));
                    answers.push(spread.answer(positive));
                }
                let joins = |&(gear, position): &(GearId, u16)| {
                    let posts = tops(system, bank);
                    self.meets_another(id, &posts, gear, position)
                };
                Promise {
                    subject: Subject::StartBank(id, drains),
                    kept: kept(answers),
                    unless: unless.iter().copied().filter(joins).collect(),
                }
            })
            .collect()
    }

    /// Whether a position joins a bank to another one, all other joining positions left out.
    fn meets_another(&self, bank: BankId, tops_of: &[NodeId], gear: GearId, position: u16) -> bool {
        let system = self.system;
        let reach = self.only(&self.joining(), (gear, position));
        let spread = reach.spread(tops_of);
        system.banks.iter().enumerate().any(|(index, other)| {
            index != bank.index()
                && tops(system, other)
                    .iter()
                    .any(|&post| spread.reached(post) != Reached::Never)
        })
    }

    fn only_live_when_off(&self, truth: &Truth) -> Option<Promise> {
        let system = self.system;
        let has_off = truth
            .switches
            .iter()
            .any(|gear| system.gears[gear.index()].off.is_some());
        if !has_off {
            return None;
        }
        let posts: Vec<NodeId> = system
            .banks
            .iter()
            .flat_map(|bank| tops(system, bank))
            .collect();
        let constraints = Constraints::none(system)
            .battery_switches_off(system)
            .relays_settled(system, &posts);
        let reach = self.reach(&constraints);
        let spread = reach.spread(&posts);
        let mut undecided = false;
        let live = system
            .loads
            .iter()
            .enumerate()
            .filter(|(_, load)| {
                let (positive, _) = ends(system, load.link);
                let reached = spread.reached(positive);
                undecided |= reached == Reached::Undecided;
                !self.nets.is_negative(positive) && reached != Reached::Never
            })
            .map(|(index, _)| LoadId::at(index))
            .collect();
        Some(Promise {
            subject: Subject::OnlyLiveWhenOff(live),
            kept: if undecided {
                Kept::Undecided
            } else {
                Kept::Yes
            },
            unless: Vec::new(),
        })
    }
}

/// A promise that no answer is a yes.
fn kept(answers: impl IntoIterator<Item = Answer>) -> Kept {
    let mut kept = Kept::Yes;
    for answer in answers {
        match answer {
            Answer::Yes(witness) => return Kept::No(Box::new(witness)),
            Answer::Undecided => kept = Kept::Undecided,
            Answer::No => {}
        }
    }
    kept
}

/// Loads that must stay live, or that safety depends on, where every combination has its row.
fn always_fed(system: &System, truth: &Truth) -> Option<Promise> {
    if !truth.complete || truth.switches.is_empty() {
        return None;
    }
    let wanted =
        |load: &crate::system::Load| load.vital || load.always_on.is_some_and(|given| given.value);
    let loads: Vec<LoadId> = system
        .loads
        .iter()
        .enumerate()
        .filter(|(_, load)| wanted(load))
        .map(|(index, _)| LoadId::at(index))
        .filter(|load| truth.rows.iter().all(|row| !row.dead.contains(load)))
        .collect();
    let undecided = truth
        .rows
        .iter()
        .flat_map(|row| &row.banks)
        .any(|bank| bank.undecided);
    (!loads.is_empty()).then_some(Promise {
        subject: Subject::AlwaysFed(loads),
        kept: if undecided {
            Kept::Undecided
        } else {
            Kept::Yes
        },
        unless: Vec::new(),
    })
}

fn alternators(system: &System, isolation: &Isolation, truth: &Truth) -> Vec<Promise> {
    if isolation.unseen > 0 {
        return Vec::new();
    }
    system
        .sources
        .iter()
        .enumerate()
        .filter(|(_, source)| source.kind == SourceKind::Alternator)
        .map(|(index, _)| SourceId::at(index))
        .filter(|source| !isolation.charging.unconnected.contains(source))
        .map(|source| {
            let stranded = isolation
                .charging
                .stranded
                .iter()
                .find(|(stranded, _)| *stranded == source);
            Promise {
                subject: Subject::AlternatorHasBattery(source),
                kept: match stranded {
                    Some((_, witness)) => Kept::No(Box::new(witness.clone())),
                    None if in_every_row(truth, source) => Kept::Yes,
                    None => Kept::Undecided,
                },
                unless: Vec::new(),
            }
        })
        .collect()
}

/// Whether a charging source reaches some bank in every combination.
fn in_every_row(truth: &Truth, source: SourceId) -> bool {
    truth.complete
        && truth.rows.iter().all(|row| {
            row.banks
                .iter()
                .any(|bank| bank.charged_by.contains(&source))
        })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::testing::Build;
    use crate::system::{Bank, Polarity};

    /// Two banks on a selector, a lamp on its feed, a pump straight on the second bank, an alternator on the feed.
    fn boat() -> System {
        let mut build = Build::new();
        build.bus("negative", Polarity::Negative);
        for name in ["start", "house"] {
            let id = build.source(name, SourceKind::Battery, None);
            let bank = BankId::at(build.system.banks.len());
            build.system.sources[id.index()].bank = Some(bank);
            build.system.banks.push(Bank {
                name: name.to_owned(),
                span: crate::source::Span::default(),
                purpose: if name == "start" {
                    Purpose::Start
                } else {
                    Purpose::House
                },
                strings: vec![vec![id]],
                strings_given: false,
                isolated: None,
                mid_taps: Vec::new(),
            });
            build.wire(
                &format!("{name}-n"),
                (&format!("{name}.-"), "negative"),
                "2 AWG",
                1.0,
            );
        }
        build.switch(
            "selector",
            GearKind::BatterySwitch,
            &["off", "one", "two", "both"],
            &[("one", "feed", &[1, 3]), ("two", "feed", &[2, 3])],
        );
        build.system.gears[0].normal = 2;
        build.source("alternator", SourceKind::Alternator, Some(50.0));
        for name in ["lamp", "pump"] {
            build.load(name, Some(1.0));
            build.wire(
                &format!("{name}-n"),
                (&format!("{name}.-"), "negative"),
                "14 AWG",
                1.0,
            );
        }
        for (number, from, to) in [
            ("S", "start.+", "selector.one"),
            ("H", "house.+", "selector.two"),
            ("L", "selector.feed", "lamp.+"),
            ("P", "house.+", "pump.+"),
            ("A", "alternator.+", "selector.feed"),
            ("AN", "alternator.-", "negative"),
        ] {
            build.wire(number, (from, to), "2 AWG", 1.0);
        }
        build.finish()
    }

    fn truth(system: &System) -> Truth {
        let nets = Nets::new(system);
        let isolation = Isolation::new(system, &nets);
        Truth::new(system, &nets, &isolation)
    }

    fn names(system: &System, loads: &[LoadId]) -> Vec<String> {
        loads
            .iter()
            .map(|load| system.loads[load.index()].name.clone())
            .collect()
    }

    #[test]
    fn each_combination_tells_what_each_bank_feeds() {
        let system = boat();
        let truth = truth(&system);
        assert!(truth.complete);
        let told: Vec<Vec<Vec<String>>> = truth
            .rows
            .iter()
            .map(|row| {
                row.banks
                    .iter()
                    .map(|bank| names(&system, &bank.loads))
                    .collect()
            })
            .collect();
        let none = Vec::<String>::new;
        let some = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect();
        assert_eq!(
            told,
            [
                [none(), some(&["pump"])],
                [some(&["lamp"]), some(&["pump"])],
                [none(), some(&["lamp", "pump"])],
                [some(&["lamp", "pump"]), some(&["lamp", "pump"])],
            ]
        );
        let off = &truth.rows[0];
        assert!(off.off && !off.normal);
        assert_eq!(names(&system, &off.dead), ["lamp"]);
        assert!(off.banks.iter().all(|bank| bank.charged_by.is_empty()));
        assert!(truth.rows[2].normal);
        assert_eq!(truth.rows[3].banks[0].joined, [BankId(1)]);
        assert_eq!(truth.rows[1].banks[0].charged_by.len(), 1);
    }

    #[test]
    fn promises_hold_but_for_what_is_named() {
        let system = boat();
        let truth = truth(&system);
        let find = |wanted: fn(&Subject) -> bool| {
            truth
                .promises
                .iter()
                .find(|promise| wanted(&promise.subject))
                .expect("the promise is told")
        };
        let apart = find(|subject| matches!(subject, Subject::Apart(..)));
        assert_eq!(apart.kept, Kept::Yes);
        assert_eq!(apart.unless, [(GearId(0), 3)]);
        // The lamp can be put on the start bank by hand.
        let start = find(|subject| matches!(subject, Subject::StartBank(..)));
        let Kept::No(witness) = &start.kept else {
            panic!("{start:?}")
        };
        assert_eq!(witness.off_normal, [(GearId(0), 1)]);
        let Subject::StartBank(_, drains) = &start.subject else {
            panic!("{start:?}")
        };
        assert_eq!(names(&system, drains), ["lamp"]);
        let off = find(|subject| matches!(subject, Subject::OnlyLiveWhenOff(_)));
        assert_eq!(off.subject, Subject::OnlyLiveWhenOff(vec![LoadId(1)]));
        let alternator = find(|subject| matches!(subject, Subject::AlternatorHasBattery(_)));
        assert!(
            matches!(alternator.kept, Kept::No(_)),
            "off leaves it alone"
        );
        assert_eq!(
            find(|subject| *subject == Subject::NothingShorted).kept,
            Kept::Yes
        );
    }

    #[test]
    fn switches_are_turned_one_by_one_where_there_are_too_many() {
        let mut build = Build { system: boat() };
        for index in 0..8 {
            build.switch(
                &format!("more-{index}"),
                GearKind::BatterySwitch,
                &["off", "on"],
                &[("a", "b", &[1])],
            );
        }
        let truth = truth(&build.finish());
        assert!(!truth.complete);
        // All normal, all off, three others of the selector, eight of the rest; all off may be one of them.
        assert_eq!(truth.rows.len(), 1 + 1 + 3 + 8);
        assert!(
            !truth
                .promises
                .iter()
                .any(|promise| matches!(promise.subject, Subject::AlwaysFed(_)))
        );
    }

    #[test]
    fn interlocked_combinations_have_no_row() {
        let mut build = Build { system: boat() };
        build.system.interlocks.push(crate::system::Interlock {
            never: vec![(GearId(0), 3)],
            span: crate::source::Span::default(),
        });
        let truth = truth(&build.finish());
        assert_eq!(truth.rows.len(), 3);
        let apart = truth.promises.first().expect("told");
        assert!(matches!(apart.subject, Subject::Apart(..)));
        assert_eq!(
            (&apart.kept, apart.unless.as_slice()),
            (&Kept::Yes, &[][..])
        );
    }

    #[test]
    fn a_boat_without_battery_switches_has_one_row() {
        let mut build = Build::new();
        build.source("house", SourceKind::Battery, None);
        let truth = truth(&build.finish());
        assert_eq!(truth.rows.len(), 1);
        assert!(truth.switches.is_empty());
    }
}
