//! Proofs over all positions against plain counting, on random boats written as files.
//!
//! The counting knows nothing of the library: each boat is drawn at random as a plain list of parts, written as a
//! netlist for the library, and walked here in every state by itself. Boats too large to count are tried in random states.

use loomwright::analysis::ampacity::Ampacities;
use loomwright::analysis::isolation::{Isolation, Nets};
use loomwright::analysis::poles::Poles;
use loomwright::analysis::protection::Protection;
use loomwright::system::{BankId, System};
use loomwright::{netlist, resolve, source};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

/// Numbers that look random and are the same on every machine.
struct Dice(u64);

impl Dice {
    fn throw(&mut self, sides: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap_or(0) % sides
    }
}

/// Name of a position, the points it joins, and whether it is declared to join banks.
type Position = (&'static str, Vec<(usize, usize)>, bool);

/// One part that has positions.
struct Gear {
    name: String,
    positions: Vec<Position>,
    /// Its positions are named in the file, so that an interlock can name them.
    named: bool,
}

/// A boat as a list; points are numbers, and so are wires.
#[derive(Default)]
struct Boat {
    points: usize,
    banks: Vec<usize>,
    gears: Vec<Gear>,
    wires: Vec<(usize, usize)>,
    fuses: Vec<(usize, usize)>,
    /// One way only.
    diodes: Vec<(usize, usize)>,
    never: Vec<[(usize, usize); 2]>,
    text: BTreeMap<&'static str, String>,
}

const POSTS: usize = 7;

impl Boat {
    fn write(&mut self, section: &'static str, line: &str) {
        let text = self.text.entry(section).or_default();
        let _ = writeln!(text, "  {line}");
    }

    fn point(&mut self) -> usize {
        self.points += 1;
        self.points - 1
    }

    /// A wire far longer than any placement rule allows, thick enough for every fuse here.
    fn wire(&mut self, from: (&str, usize), to: (&str, usize)) {
        let number = self.wires.len();
        self.write(
            "runs",
            &format!(
                "W{number:03}: {{from: {}, to: {}, gauge: 2 AWG, length: 99 ft}}",
                from.0, to.0
            ),
        );
        self.wires.push((from.1, to.1));
    }

    /// A new terminal of a part, wired to a post drawn at random.
    fn terminal(&mut self, dice: &mut Dice, name: &str) -> usize {
        let (post, end) = (dice.throw(POSTS), self.point());
        self.wire((&format!("p{post}"), post), (name, end));
        end
    }

    fn gear(&mut self, dice: &mut Dice, index: usize) {
        let name = format!("g{index}");
        let (positions, named) = match dice.throw(6) {
            0 | 1 => {
                self.write(
                    "switches",
                    &format!("{name}: {{kind: panel, terminals: [in, out], positions: {{\"off\": [], \"on\": [[in, out]]}}, normal: \"off\"}}"),
                );
                let a = self.terminal(dice, &format!("{name}.in"));
                let b = self.terminal(dice, &format!("{name}.out"));
                (
                    vec![("off", vec![], false), ("on", vec![(a, b)], false)],
                    true,
                )
            }
            2 | 3 => {
                self.write(
                    "switches",
                    &format!("{name}: {{kind: battery, terminals: [one, two, feed], positions: {{\"off\": [], one: [[one, feed]], two: [[two, feed]], both: {{closes: [[one, two, feed]], joins-banks: true}}}}, normal: \"off\"}}"),
                );
                let one = self.terminal(dice, &format!("{name}.one"));
                let two = self.terminal(dice, &format!("{name}.two"));
                let feed = self.terminal(dice, &format!("{name}.feed"));
                (
                    vec![
                        ("off", vec![], false),
                        ("one", vec![(one, feed)], false),
                        ("two", vec![(two, feed)], false),
                        ("both", vec![(one, two), (two, feed)], true),
                    ],
                    true,
                )
            }
            4 => {
                self.write(
                    "relays",
                    &format!("{name}: {{contacts: changeover, rating: 100 A}}"),
                );
                let com = self.terminal(dice, &format!("{name}.com"));
                let no = self.terminal(dice, &format!("{name}.no"));
                let nc = self.terminal(dice, &format!("{name}.nc"));
                (
                    vec![
                        ("rest", vec![(com, nc)], false),
                        ("pulled", vec![(com, no)], false),
                    ],
                    false,
                )
            }
            _ => {
                self.write(
                    "combiners",
                    &format!("{name}: {{rating: 100 A, self-referenced: true}}"),
                );
                let a = self.terminal(dice, &format!("{name}.a"));
                let b = self.terminal(dice, &format!("{name}.b"));
                (
                    vec![("open", vec![], false), ("closed", vec![(a, b)], true)],
                    false,
                )
            }
        };
        self.gears.push(Gear {
            name,
            positions,
            named,
        });
    }

    fn draw(dice: &mut Dice, gears: usize, converters: usize) -> Self {
        let mut boat = Self::default();
        for post in 0..POSTS {
            boat.point();
            boat.write("buses", &format!("p{post}: {{polarity: positive}}"));
        }
        let negative = boat.point();
        boat.write("buses", "negative: {polarity: negative}");
        for bank in 0..3 {
            boat.write(
                "batteries",
                &format!("b{bank}: {{chemistry: agm, capacity: 60 Ah}}"),
            );
            let post = boat.point();
            boat.banks.push(post);
            let at = dice.throw(POSTS);
            // Every other bank has its fuse a long way off or none.
            if dice.throw(2) == 0 {
                boat.write("fuses", &format!("main{bank}: {{rating: 60 A}}"));
                let (inside, outside) = (boat.point(), boat.point());
                boat.fuses.push((inside, outside));
                boat.wire(
                    (&format!("b{bank}.+"), post),
                    (&format!("main{bank}.in"), inside),
                );
                boat.wire(
                    (&format!("main{bank}.out"), outside),
                    (&format!("p{at}"), at),
                );
            } else {
                boat.wire((&format!("b{bank}.+"), post), (&format!("p{at}"), at));
            }
            let below = boat.point();
            boat.wire((&format!("b{bank}.-"), below), ("negative", negative));
        }
        for index in 0..gears {
            boat.gear(dice, index);
        }
        for index in 0..dice.throw(3) {
            boat.write("fuses", &format!("f{index}: {{rating: 60 A}}"));
            let inside = boat.terminal(dice, &format!("f{index}.in"));
            let outside = boat.terminal(dice, &format!("f{index}.out"));
            boat.fuses.push((inside, outside));
        }
        for index in 0..dice.throw(2) {
            boat.write("isolators", &format!("i{index}: {{outputs: 2}}"));
            let inside = boat.terminal(dice, &format!("i{index}.in"));
            for output in 1..=2 {
                let end = boat.terminal(dice, &format!("i{index}.{output}"));
                boat.diodes.push((inside, end));
            }
        }
        for index in 0..converters {
            boat.write(
                "converters",
                &format!("c{index}: {{input-voltage: 12 V, output-voltage: 14.4 V, output-current: 20 A, isolated: false}}"),
            );
            // What goes through a converter is no connection.
            boat.terminal(dice, &format!("c{index}.in+"));
            boat.terminal(dice, &format!("c{index}.out+"));
            let below = boat.point();
            boat.wire((&format!("c{index}.in-"), below), ("negative", negative));
        }
        boat.lock(dice);
        boat
    }

    /// An interlock between two positions off normal, where two parts have named ones.
    fn lock(&mut self, dice: &mut Dice) {
        let named: Vec<usize> = (0..self.gears.len())
            .filter(|&gear| self.gears[gear].named)
            .collect();
        if named.len() < 2 {
            return;
        }
        let (one, other) = (named[0], named[1 + dice.throw(named.len() - 1)]);
        let pick =
            [one, other].map(|gear| (gear, 1 + dice.throw(self.gears[gear].positions.len() - 1)));
        let words = pick.map(|(gear, at)| {
            let gear = &self.gears[gear];
            format!("{}: \"{}\"", gear.name, gear.positions[at].0)
        });
        self.write("interlocks", &format!("- never: {{{}}}", words.join(", ")));
        self.never.push(pick);
    }

    fn file(&self) -> String {
        let mut file =
            String::from("loomwright: 1\nboat: {name: Example, practice: us, system: 12 V}\n");
        for (section, lines) in &self.text {
            let _ = write!(file, "{section}:\n{lines}");
        }
        file
    }

    fn permits(&self, state: &[usize]) -> bool {
        !self
            .never
            .iter()
            .any(|pair| pair.iter().all(|&(gear, at)| state[gear] == at))
    }

    fn states(&self) -> Vec<Vec<usize>> {
        let mut all = vec![Vec::new()];
        for gear in &self.gears {
            all = all
                .iter()
                .flat_map(|state: &Vec<usize>| {
                    (0..gear.positions.len()).map(move |at| [&state[..], &[at]].concat())
                })
                .collect();
        }
        all.retain(|state| self.permits(state));
        all
    }

    /// Points that current from a point can come to in a state.
    fn reached(&self, state: &[usize], from: usize, through_fuses: Fuses) -> Vec<bool> {
        let closed = self
            .gears
            .iter()
            .zip(state)
            .flat_map(|(gear, &at)| &gear.positions[at].1);
        let fuses = self.fuses.iter().filter(|_| through_fuses == Fuses::Whole);
        let both: Vec<(usize, usize)> = self
            .wires
            .iter()
            .chain(closed)
            .chain(fuses)
            .copied()
            .collect();
        let mut reached = vec![false; self.points];
        reached[from] = true;
        loop {
            let mut grown = false;
            for &(a, b) in &both {
                if reached[a] != reached[b] {
                    (reached[a], reached[b]) = (true, true);
                    grown = true;
                }
            }
            for &(a, b) in &self.diodes {
                if reached[a] && !reached[b] {
                    reached[b] = true;
                    grown = true;
                }
            }
            if !grown {
                return reached;
            }
        }
    }
}

#[derive(Clone, Copy, PartialEq)]
enum Fuses {
    Whole,
    Out,
}

fn system(text: &str) -> System {
    let reading = source::read(text.as_bytes());
    let (netlist, _) = netlist::read(&reading);
    let document = reading.document.as_ref().expect("the text is sound");
    let netlist = netlist.unwrap_or_else(|| panic!("the text is a netlist:\n{text}"));
    resolve::resolve(&netlist, document).0
}

/// Whether a state needs a position declared to join banks, and how many parts stand off normal.
fn weigh(boat: &Boat, state: &[usize]) -> (bool, usize) {
    let declared = boat
        .gears
        .iter()
        .zip(state)
        .any(|(gear, &at)| gear.positions[at].2);
    (declared, state.iter().filter(|&&at| at != 0).count())
}

/// The pairs of banks that a state joins, by the wires, contacts and diodes that it closes.
fn joined(boat: &Boat, state: &[usize]) -> BTreeSet<(usize, usize)> {
    let mut pairs = BTreeSet::new();
    for (one, &post) in boat.banks.iter().enumerate() {
        let reached = boat.reached(state, post, Fuses::Whole);
        for (other, &end) in boat.banks.iter().enumerate() {
            if one != other && reached[end] {
                pairs.insert((one.min(other), one.max(other)));
            }
        }
    }
    pairs
}

/// Which banks are joined, without a declared position or with one, and by how few positions off normal.
#[test]
fn joined_banks_agree_with_counting_every_state() {
    let mut dice = Dice(11);
    let (mut apart_seen, mut declared_seen) = (0, 0);
    for round in 0..260 {
        let gears = 3 + dice.throw(4);
        let converters = dice.throw(2);
        let boat = Boat::draw(&mut dice, gears, converters);
        let text = boat.file();
        let system = system(&text);
        assert_eq!(system.gears.len(), gears, "{round}:\n{text}");
        let isolation = Isolation::new(&system, &Nets::new(&system));
        let mut fewest: BTreeMap<(usize, usize), [Option<usize>; 2]> = BTreeMap::new();
        for state in boat.states() {
            let (declared, moves) = weigh(&boat, &state);
            for pair in joined(&boat, &state) {
                let known = &mut fewest.entry(pair).or_default()[usize::from(declared)];
                *known = Some(known.map_or(moves, |known| known.min(moves)));
            }
        }
        let counted: Vec<_> = fewest
            .into_iter()
            .map(|(pair, [apart, any])| (pair, apart.is_some(), apart.or(any)))
            .collect();
        let found: Vec<_> = isolation
            .joins
            .iter()
            .map(|join| {
                let [one, other] = join.banks.map(BankId::index);
                let moves = join.witness.off_normal.len();
                ((one, other), join.undeclared, Some(moves))
            })
            .collect();
        apart_seen += counted.iter().filter(|pair| pair.1).count();
        declared_seen += counted.iter().filter(|pair| !pair.1).count();
        assert!(isolation.undecided.is_empty(), "{round}:\n{text}");
        assert_eq!(found, counted, "{round}:\n{text}");
    }
    assert!(
        apart_seen > 100 && declared_seen > 20,
        "{apart_seen} and {declared_seen} pairs put to the test"
    );
}

/// Which wires some battery feeds in some state without a device between.
#[test]
fn unprotected_wires_agree_with_counting_every_state() {
    let mut dice = Dice(23);
    for round in 0..260 {
        let gears = 2 + dice.throw(5);
        let boat = Boat::draw(&mut dice, gears, 0);
        let text = boat.file();
        let system = system(&text);
        let (nets, poles) = (Nets::new(&system), Poles::new(&system));
        let protection = Protection::new(&system, &nets, &Ampacities::new(&system, &poles));
        let mut found = BTreeSet::new();
        for fault in protection.faults() {
            for id in std::iter::once(&fault.conductor).chain(&fault.also) {
                found.insert(system.conductors[id.index()].number.clone());
            }
        }
        let mut counted = BTreeSet::new();
        for state in boat.states() {
            for &post in &boat.banks {
                let reached = boat.reached(&state, post, Fuses::Out);
                for (number, &(a, _)) in boat.wires.iter().enumerate() {
                    if reached[a] {
                        counted.insert(format!("W{number:03}"));
                    }
                }
            }
        }
        assert_eq!(found, counted, "{round}:\n{text}");
    }
}

/// Sixteen parts have more states than can be counted; what a random one shows must have been found.
#[test]
fn random_states_of_larger_boats_show_nothing_new() {
    let mut dice = Dice(37);
    for round in 0..30 {
        let boat = Boat::draw(&mut dice, 16, 1);
        let text = boat.file();
        let system = system(&text);
        let isolation = Isolation::new(&system, &Nets::new(&system));
        assert!(isolation.undecided.is_empty(), "{round}:\n{text}");
        for _ in 0..120 {
            // Few parts off normal, so that the fewest are put to the test.
            let state: Vec<usize> = boat
                .gears
                .iter()
                .map(|gear| {
                    if dice.throw(3) == 0 {
                        dice.throw(gear.positions.len())
                    } else {
                        0
                    }
                })
                .collect();
            if !boat.permits(&state) {
                continue;
            }
            let (declared, moves) = weigh(&boat, &state);
            for pair in joined(&boat, &state) {
                let join = isolation.joins.iter().find(|join| {
                    let [one, other] = join.banks.map(BankId::index);
                    (one, other) == pair
                });
                let join = join.unwrap_or_else(|| panic!("{round}: {pair:?}\n{text}"));
                let told = join.witness.off_normal.len();
                assert!(
                    (declared && join.undeclared) || (declared || join.undeclared) && told <= moves,
                    "{round}: {pair:?} by {moves}, told {told}\n{text}"
                );
            }
        }
        for join in &isolation.joins {
            let state: Vec<usize> = boat
                .gears
                .iter()
                .map(|gear| {
                    let set = join.witness.off_normal.iter().find(|(id, _)| {
                        let component = system.gears[id.index()].component;
                        system.components[component.index()].name == gear.name
                    });
                    set.map_or(0, |&(_, at)| usize::from(at))
                })
                .collect();
            let [one, other] = join.banks.map(BankId::index);
            assert!(boat.permits(&state), "{round}: a forbidden state\n{text}");
            assert!(
                joined(&boat, &state).contains(&(one, other)),
                "{round}: the state told joins nothing\n{text}"
            );
        }
    }
}
