//! The solved network against other programs: every example, every scenario, read back from the simulator netlist.
//!
//! Two opinions. A dense elimination written here, which shares nothing with the solver but the text of the netlist;
//! it always runs. And `ngspice`, a general circuit simulator, where it is installed: with `CI=true` in the
//! environment its absence is a failure, else it is told and left out.

#![allow(clippy::disallowed_methods)]

use loomwright::analysis::poles::Poles;
use loomwright::analysis::readings::{
    self, Feed, Feeds, Group, Plan, Probe, Step, StepId, Subject as Sheet, Verdict,
};
use loomwright::analysis::solve::{self, Options, Reading, SolveError, State, Trouble, Voltage};
use loomwright::diag::Tally;
use loomwright::export::simulator::{self, Named, Subject};
use loomwright::schedule::{Fingerprint, Head};
use loomwright::system::{GearKind, LinkId, LinkKind, LoadKind, NodeId, ScenarioId, System};
use loomwright::units::{Ohms, Volts};
use loomwright::{netlist, resolve, source};
use std::collections::{BTreeMap, HashMap};
use std::fmt::Write;
use std::process::Command;

mod programs;
mod random_boats;

use programs::is_installed;

/// Largest relative difference between two opinions.
const TOLERANCE: f64 = 1e-6;

/// Volts that both may differ by where hardly any voltage stands.
const NO_VOLTS: f64 = 1e-6;

/// Amperes that both may differ by: a rounding of volts over a joint of a tenth of a microohm.
const NO_AMPS: f64 = 2e-5;

struct Example {
    name: String,
    system: System,
}

/// What no example has: a diode isolator, runs without a length that close a ring, a load of constant power behind it.
const KNOTTED: &str = "
loomwright: 1
boat: {name: Knot, practice: us, system: 12 V}
batteries:
  one: {chemistry: agm, capacity: 70 Ah}
  two: {chemistry: flooded, capacity: 90 Ah, cranking: 600 A}
isolators:
  isolator: {outputs: 2, rating: 70 A}
alternators:
  alternator: {current: 55 A, voltage: 14.4 V, self-limiting: true}
buses:
  here: {polarity: positive}
  there: {polarity: positive}
  negative: {polarity: negative}
loads:
  radio: {draw: 60 W, kind: electronics}
  heater: {draw: 5 A, kind: heater}
runs:
  W1: {from: alternator.+, to: isolator.in, gauge: 6 AWG, length: 4 ft}
  W2: {from: isolator.1, to: one.+, gauge: 6 AWG, length: 4 ft}
  W3: {from: isolator.2, to: two.+, gauge: 6 AWG, length: 40 ft}
  W4: {from: one.+, to: here, gauge: 8 AWG, length: 3 ft}
  R1: {from: here, to: there, gauge: 10 AWG}
  R2: {from: there, to: here, gauge: 10 AWG}
  W5: {from: there, to: radio.+, gauge: 16 AWG, length: 20 ft}
  W6: {from: here, to: heater.+, gauge: 14 AWG, length: 20 ft}
  N1: {from: alternator.-, to: negative, gauge: 6 AWG, length: 4 ft}
  N2: {from: negative, to: one.-, gauge: 6 AWG, length: 4 ft}
  N3: {from: negative, to: two.-, gauge: 6 AWG, length: 4 ft}
  N4: {from: radio.-, to: negative, gauge: 16 AWG, length: 20 ft}
  N5: {from: heater.-, to: negative, gauge: 14 AWG, length: 20 ft}
";

fn example(name: &str, bytes: &[u8]) -> Example {
    let reading = source::read(bytes);
    let (netlist, _) = netlist::read(&reading);
    let document = reading.document.as_ref().expect("an example is YAML");
    let (system, _) = resolve::resolve(&netlist.expect("an example is a netlist"), document);
    Example {
        name: name.to_owned(),
        system,
    }
}

fn examples() -> Vec<Example> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let mut files: Vec<_> = std::fs::read_dir(folder)
        .expect("the examples are there")
        .map(|entry| entry.expect("an entry of the folder").path())
        .filter(|path| path.extension().is_some_and(|end| end == "yaml"))
        .collect();
    files.sort();
    let mut all: Vec<Example> = files
        .iter()
        .map(|path| {
            let name = path.file_stem().expect("a file").to_string_lossy();
            example(&name, &std::fs::read(path).expect("an example is readable"))
        })
        .collect();
    all.push(example("knotted", KNOTTED.as_bytes()));
    all.extend((1..=RANDOM_BOATS).map(|seed| {
        let text = random_boats::boat(seed);
        example(&format!("random boat {seed}"), text.as_bytes())
    }));
    all
}

/// Boats that are wired at random.
const RANDOM_BOATS: u64 = 24;

/// The declared scenarios, and ways to stand that every boat has.
fn states(system: &System) -> Vec<(String, State)> {
    let mut states: Vec<(String, State)> = (0..system.scenarios.len())
        .map(|index| {
            let title = format!("scenario {}", system.scenarios[index].name);
            (title, State::scenario(system, ScenarioId::at(index)))
        })
        .collect();
    let starter = |load: usize| system.loads[load].kind == LoadKind::Starter;
    let mut normal = State::normal(system);
    for load in 0..system.loads.len() {
        normal.on[load] = !starter(load);
    }
    let mut closed = normal.clone();
    for (gear, position) in closed.positions.iter_mut().enumerate() {
        *position = busiest(system, gear);
    }
    let mut cranking = State::normal(system);
    cranking.positions.clone_from(&closed.positions);
    for load in 0..system.loads.len() {
        cranking.on[load] = starter(load);
    }
    let mut charging = closed.clone();
    charging.charging.fill(true);
    let mut filling = State::normal(system);
    filling.charging.fill(true);
    states.extend([
        ("normal positions, all on".to_owned(), normal),
        ("everything closed, all on".to_owned(), closed),
        ("cranking".to_owned(), cranking),
        ("everything closed, all on, charging".to_owned(), charging),
        ("normal positions, charging".to_owned(), filling),
    ]);
    states
}

/// The position that closes most contacts and joins no banks.
fn busiest(system: &System, gear: usize) -> u16 {
    let gear_record = &system.gears[gear];
    if gear_record.kind == GearKind::Combiner {
        return gear_record.normal;
    }
    let count = u16::try_from(gear_record.positions.len()).expect("few positions");
    (0..count)
        .filter(|&position| !gear_record.positions[usize::from(position)].joins_banks)
        .max_by_key(|&position| {
            system
                .links
                .iter()
                .filter(|link| {
                    matches!(&link.kind, LinkKind::Contact { gear: of, closed_in }
                        if of.index() == gear && closed_in.contains(&position))
                })
                .count()
        })
        .unwrap_or(gear_record.normal)
}

/// Every state of every example that has a solution, with its netlist.
fn cases(mut each: impl FnMut(&str, &System, &solve::Solution, &Named)) -> usize {
    let mut count = 0;
    for example in examples() {
        let system = &example.system;
        let head = Head::new(system, &Tally::default(), Fingerprint::of(b""));
        for (title, state) in states(system) {
            let readings = [
                ("meter", Options::PHYSICAL),
                (
                    "half empty",
                    Options {
                        reading: Reading::Physical,
                        voltage: Voltage::AtRest(50.0),
                    },
                ),
                (
                    "handbook",
                    Options {
                        reading: Reading::Rule,
                        voltage: Voltage::Nominal,
                    },
                ),
            ];
            for (reading, options) in readings {
                let (solution, elements) = match solve::elements(system, &state, options) {
                    Ok(solved) => solved,
                    // Ideal sources of unlike voltage on one point have no answer in the handbook's reading.
                    Err(SolveError::Shorted(_)) if options.reading == Reading::Rule => continue,
                    Err(error) => panic!("{}, {title}, {reading}: {error}", example.name),
                };
                let named = simulator::netlist(&Subject {
                    system,
                    head: &head,
                    title: &title,
                    solution: &solution,
                    elements: &elements,
                });
                each(
                    &format!("{}, {title}, {reading}", example.name),
                    system,
                    &solution,
                    &named,
                );
                count += 1;
            }
        }
    }
    count
}

/// Compares every node's voltage against the zero of its island, and the current of every source.
fn compare(
    case: &str,
    system: &System,
    solution: &solve::Solution,
    named: &Named,
    opinion: &HashMap<String, f64>,
) {
    let value = |name: &str| {
        *opinion
            .get(name)
            .unwrap_or_else(|| panic!("{case}: no value for {name}"))
    };
    let mut zero: BTreeMap<usize, (NodeId, f64)> = BTreeMap::new();
    for (node, name) in &named.nodes {
        let other = value(name);
        let &mut (base, base_other) = zero.entry(solution.island(*node)).or_insert((*node, other));
        let ours = solution.between(*node, base).expect("one island").0;
        let other = other - base_other;
        assert!(
            (ours - other).abs() <= TOLERANCE * ours.abs() + NO_VOLTS,
            "{case}: {name} stands at {ours} V here, at {other} V there"
        );
    }
    for (link, name) in &named.sources {
        let ours = solution.current(*link).0;
        let other = value(&format!("{name}#branch"));
        assert!(
            (ours - other).abs() <= TOLERANCE * ours.abs() + NO_AMPS,
            "{case}: {name} carries {ours} A here, {other} A there"
        );
        // Whether a diode conducts is told to the other program; that it must is shown by the current it finds.
        if matches!(system.links[link.index()].kind, LinkKind::Diode { .. }) {
            assert!(
                other > -NO_AMPS,
                "{case}: {name} carries {other} A backwards"
            );
        }
    }
    let names: HashMap<NodeId, &str> = named
        .nodes
        .iter()
        .map(|(node, name)| (*node, name.as_str()))
        .collect();
    for link in &system.links {
        // A diode that is not to conduct must not stand above its forward voltage.
        let LinkKind::Diode { forward } = link.kind else {
            continue;
        };
        let (a, b) = (system.node_of(link.a), system.node_of(link.b));
        if let (Some(a_name), Some(b_name), true) =
            (names.get(&a), names.get(&b), solution.joined(a, b))
        {
            let across = value(a_name) - value(b_name);
            assert!(
                across < forward.0 + 1e-3,
                "{case}: {across} V across a diode"
            );
        }
    }
}

/// The states of a boat, and others with every gear, load, charging source and device set at random.
fn many_states(system: &System, seed: u64) -> Vec<State> {
    let mut at = seed;
    let mut next = |below: usize| {
        at = at
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(at >> 33).expect("31 bits") % below
    };
    let mut all: Vec<State> = states(system).into_iter().map(|(_, state)| state).collect();
    let declared = all.clone();
    for _ in 0..40 {
        let mut state = declared[next(declared.len())].clone();
        for (gear, position) in state.positions.iter_mut().enumerate() {
            if next(3) == 0 {
                let count = system.gears[gear].positions.len();
                *position = u16::try_from(next(count)).expect("few positions");
            }
        }
        for on in &mut state.on {
            *on ^= next(4) == 0;
        }
        if next(4) == 0 {
            for charging in &mut state.charging {
                *charging ^= next(2) == 0;
            }
        }
        if next(8) == 0 && !state.opened.is_empty() {
            let device = next(state.opened.len());
            state.opened[device] = true;
        }
        all.push(state);
    }
    all
}

/// The solver keeps what states have in common; whichever came before, a state must have the answer it has alone.
#[test]
fn a_state_solved_after_others_reads_as_it_does_alone() {
    let (mut asked, mut whole) = (0, 0);
    for (seed, example) in (1..).zip(examples()) {
        let system = &example.system;
        let mut solver = solve::Solver::new(system, Reading::Physical);
        for (number, state) in many_states(system, seed).iter().enumerate() {
            let case = format!("{}, state {number}", example.name);
            let voltage = Voltage::AtRest([100.0, 50.0, 80.0][number % 3]);
            let options = Options {
                reading: Reading::Physical,
                voltage,
            };
            asked += 1;
            let got = solver.solve(state, voltage);
            let wanted = solve::solve(system, state, options);
            let (got, wanted) = match (got, wanted) {
                (Ok(got), Ok(wanted)) => (got, wanted),
                (got, wanted) => {
                    assert_eq!(got.err(), wanted.err(), "{case}");
                    continue;
                }
            };
            assert_eq!(got.loads, wanted.loads, "{case}");
            assert_eq!(got.idle, wanted.idle, "{case}");
            assert_eq!(got.limited, wanted.limited, "{case}");
            assert_eq!(got.overloaded, wanted.overloaded, "{case}");
            for node in (0..system.nodes.len()).map(NodeId::at) {
                assert_eq!(got.island(node), wanted.island(node), "{case}");
                let (ours, other) = (got.potential(node).0, wanted.potential(node).0);
                assert!(
                    (ours - other).abs() <= 1e-9 * (1.0 + other.abs()),
                    "{case}: node {} stands at {ours} V after others, at {other} V alone",
                    node.index()
                );
            }
            for link in (0..system.links.len()).map(LinkId::at) {
                let (ours, other) = (got.current(link).0, wanted.current(link).0);
                assert!(
                    (ours - other).abs() <= TOLERANCE * other.abs() + NO_AMPS,
                    "{case}: {} carries {ours} A after others, {other} A alone",
                    system.link_name(link)
                );
            }
        }
        whole += solver.solved_whole();
    }
    // Most states must have been answered from what was kept, else nothing was compared.
    assert!(asked > 800 && whole * 2 < asked, "{whole} of {asked}");
}

#[test]
fn a_dense_elimination_agrees() {
    let count = cases(|case, system, solution, named| {
        let opinion =
            dense(&named.text).unwrap_or_else(|fault| panic!("{case}: {fault}\n{}", named.text));
        compare(case, system, solution, named, &opinion);
    });
    // Seven examples, one knot and the random boats, five states each, at least two readings.
    assert!(count >= 190, "only {count} cases");
}

/// What the simulator makes of each netlist, by names; one run for all, since starting it takes longer than solving.
fn simulated(netlists: &[String]) -> Vec<Result<HashMap<String, f64>, String>> {
    let folder = tempfile::tempdir().expect("a folder for the netlists");
    let mut script = String::from("* all states\n.control\nset numdgt=14\nset width=400\n");
    for (number, text) in netlists.iter().enumerate() {
        let path = folder.path().join(format!("{number}.cir"));
        std::fs::write(&path, text).expect("a temporary file");
        let _ = writeln!(
            script,
            "source {}\nrun\necho begin {number}\nprint all\necho end {number}\ndestroy all\nremcirc",
            path.display()
        );
    }
    script.push_str("quit\n.endc\n.end\n");
    let path = folder.path().join("all.cir");
    std::fs::write(&path, script).expect("a temporary file");
    let output = Command::new("ngspice")
        .arg("-b")
        .arg(&path)
        .output()
        .expect("it is installed");
    let text = String::from_utf8_lossy(&output.stdout);
    let errors = String::from_utf8_lossy(&output.stderr);
    let mut rest: &str = &text;
    (0..netlists.len())
        .map(|number| {
            let begin = format!("begin {number}\n");
            let end = format!("end {number}\n");
            let (part, behind) = rest
                .split_once(&begin)
                .and_then(|(_, rest)| rest.split_once(&end))
                .ok_or_else(|| format!("the simulator printed nothing: {errors}"))?;
            rest = behind;
            Ok(part
                .lines()
                .filter_map(|line| {
                    let (name, value) = line.split_once(" = ")?;
                    Some((name.trim().to_owned(), value.trim().parse().ok()?))
                })
                .collect())
        })
        .collect()
}

#[test]
fn a_circuit_simulator_agrees() {
    if !is_installed("ngspice") {
        return;
    }
    let mut netlists = Vec::new();
    let mut waiting = Vec::new();
    cases(|case, system, solution, named| {
        netlists.push(named.text.clone());
        waiting.push((
            case.to_owned(),
            system.clone(),
            solution.clone(),
            named.clone(),
        ));
    });
    for ((case, system, solution, named), opinion) in waiting.iter().zip(simulated(&netlists)) {
        let opinion = opinion.unwrap_or_else(|fault| panic!("{case}: {fault}"));
        compare(case, system, solution, named, &opinion);
    }
}

/// Resistance of a contact that is open: far above any meter's.
const OPEN_OHMS: f64 = 1e9;

/// Faults tried on each pole of the boat, of each kind.
const FAULTS: usize = 14;

/// One circuit of the sheet as another program is asked for it, whole and with faults.
struct Asked<'p> {
    group: &'p Group,
    feed: &'p Feed,
    solution: solve::Solution,
    elements: Vec<solve::PlainElement>,
}

impl Asked<'_> {
    /// Its netlist with one link at fault.
    ///
    /// What draws a fixed current or power cannot do so behind an open link, or behind a joint that leaves it no
    /// voltage: it counts as the resistance that it has at work.
    fn netlist(
        &self,
        system: &System,
        head: &Head,
        fault: Option<(LinkId, Trouble)>,
    ) -> (Named, Vec<solve::PlainElement>) {
        let mut elements = self.elements.clone();
        for element in &mut elements {
            let Some((link, trouble)) = fault else {
                break;
            };
            let at_work = || {
                let volts = self
                    .solution
                    .between(element.a, element.b)
                    .map_or(0.0, |volts| volts.0);
                volts / self.solution.current(element.link).0
            };
            let resistor = |ohms: f64| solve::ElementKind::Resistor {
                ohms: Ohms(ohms),
                emf: Volts(0.0),
            };
            if element.link == link {
                let more = match trouble {
                    Trouble::Open => OPEN_OHMS,
                    Trouble::Worse(ohms) => ohms.0,
                };
                element.kind = match element.kind {
                    solve::ElementKind::Resistor { ohms, emf } => solve::ElementKind::Resistor {
                        ohms: Ohms(ohms.0 + more),
                        emf,
                    },
                    solve::ElementKind::Voltage(volts) if volts.0 == 0.0 => resistor(more),
                    other => panic!("no fault of {other:?}"),
                };
                continue;
            }
            let too_much = |amps: f64| match trouble {
                Trouble::Open => true,
                Trouble::Worse(ohms) => amps * ohms.0 > 4.0,
            };
            let amps = self.solution.current(element.link).0.abs();
            if let solve::ElementKind::Current(_) | solve::ElementKind::Power(_) = element.kind
                && too_much(amps)
                && amps > 1e-9
            {
                element.kind = resistor(at_work());
            }
        }
        let named = simulator::netlist(&Subject {
            system,
            head,
            title: "one circuit",
            solution: &self.solution,
            elements: &elements,
        });
        (named, elements)
    }
}

/// What a hand meter shows of a step in another program's answer: two decimals.
fn shown(
    system: &System,
    step: &Step,
    (named, elements): &(Named, Vec<solve::PlainElement>),
    opinion: &HashMap<String, f64>,
) -> Option<String> {
    let at = |node: NodeId| {
        let (_, name) = named.nodes.iter().find(|(known, _)| *known == node)?;
        opinion.get(name).copied()
    };
    match (step.red, step.black) {
        (Probe::At(red), Probe::At(black)) => {
            let volts = at(system.node_of(red))? - at(system.node_of(black))?;
            Some(format!("{volts:.2} V"))
        }
        (Probe::Clamp(conductor), _) => {
            let link = system.conductors[conductor.index()].link;
            let element = elements.iter().find(|element| element.link == link)?;
            let amps = if let solve::ElementKind::Resistor { ohms, .. } = element.kind {
                (at(element.a)? - at(element.b)?) / ohms.0
            } else {
                let (_, name) = named.sources.iter().find(|(known, _)| *known == link)?;
                *opinion.get(&format!("{name}#branch"))?
            };
            Some(format!("{:.2} A", amps.abs()))
        }
        _ => None,
    }
}

/// Whether a load of constant power has been given the lower of its two voltages, at which nothing runs.
fn starves(
    named: &Named,
    elements: &[solve::PlainElement],
    opinion: &HashMap<String, f64>,
) -> bool {
    let at = |node: NodeId| {
        let found = named.nodes.iter().find(|(known, _)| *known == node);
        found
            .and_then(|(_, name)| opinion.get(name))
            .copied()
            .unwrap_or(0.0)
    };
    elements.iter().any(|element| {
        matches!(element.kind, solve::ElementKind::Power(_)) && at(element.a) - at(element.b) < 5.0
    })
}

/// Readings of another program typed into a file: the fault that it was given must be named among the first three.
///
/// Where the simulator is not installed the dense elimination takes its place.
#[test]
fn a_single_fault_is_found_from_what_another_program_reads() {
    let installed = is_installed("ngspice");
    let (mut tried, mut unseen, mut first) = (0, 0, 0);
    let mut missed = Vec::new();
    for example in examples() {
        let system = &example.system;
        let head = Head::new(system, &Tally::default(), Fingerprint::of(b""));
        let feeds = Feeds::new(system);
        let plan = Plan::new(system, &Poles::new(system), &feeds);
        let asked: Vec<Asked<'_>> = plan
            .groups
            .iter()
            .filter_map(|group| {
                let Sheet::Load(feed) = &group.subject else {
                    return None;
                };
                let state = readings::state(system, &group.setting);
                let solved = solve::elements(system, &state, Options::PHYSICAL);
                let (solution, elements) = solved.ok().filter(|_| group.stage == 4)?;
                Some(Asked {
                    group,
                    feed,
                    solution,
                    elements,
                })
            })
            .collect();
        // Links of the ways, spread over the boat.
        let mut links: Vec<LinkId> = asked
            .iter()
            .flat_map(|asked| asked.feed.positive.iter().chain(&asked.feed.negative))
            .copied()
            .collect();
        links.sort_unstable();
        links.dedup();
        let every = links.len().div_ceil(FAULTS).max(1);
        let faults: Vec<(LinkId, Trouble)> = links
            .iter()
            .step_by(every)
            .flat_map(|&link| [(link, Trouble::Open), (link, Trouble::Worse(Ohms(0.1)))])
            .collect();
        // Every circuit whole, then those that a fault touches.
        let mut netlists = Vec::new();
        let mut index = BTreeMap::new();
        for (number, circuit) in asked.iter().enumerate() {
            for (fault, case) in std::iter::once(None)
                .chain(faults.iter().copied().map(Some))
                .enumerate()
            {
                let touched = case.is_none_or(|(link, _)| {
                    circuit.elements.iter().any(|element| element.link == link)
                });
                if touched {
                    index.insert((number, fault), netlists.len());
                    netlists.push(circuit.netlist(system, &head, case));
                }
            }
        }
        let texts: Vec<String> = netlists
            .iter()
            .map(|(named, _)| named.text.clone())
            .collect();
        let mut opinions: Vec<Result<HashMap<String, f64>, String>> = if installed {
            simulated(&texts)
        } else {
            texts.iter().map(|text| dense(text)).collect()
        };
        for ((named, elements), opinion) in netlists.iter().zip(&mut opinions) {
            if opinion
                .as_ref()
                .is_ok_and(|opinion| starves(named, elements, opinion))
            {
                *opinion = dense(&named.text);
            }
        }
        for (number, &(link, trouble)) in faults.iter().enumerate() {
            let case = format!("{}, {} {trouble:?}", example.name, system.link_name(link));
            let typed = |only: &dyn Fn(&Step) -> bool| {
                let mut text = String::from("loomwright-readings: 1\nreadings:\n");
                for (at, circuit) in asked.iter().enumerate() {
                    let netlist = index.get(&(at, number + 1)).unwrap_or(&index[&(at, 0)]);
                    let opinion = opinions[*netlist]
                        .as_ref()
                        .unwrap_or_else(|fault| panic!("{case}: {fault}"));
                    for step in circuit.group.steps.iter().filter(|step| only(step)) {
                        if let Some(value) = shown(system, step, &netlists[*netlist], opinion) {
                            let _ = writeln!(text, "  {}: {value}", step.id);
                        }
                    }
                }
                let taken = readings::taken(text.as_bytes(), &plan);
                assert!(
                    taken.findings.is_empty(),
                    "{case}: {:?}\n{text}",
                    taken.findings
                );
                readings::judge(system, &feeds, &plan, &taken.readings)
            };
            let off = |judgement: &readings::Judgement| -> Vec<StepId> {
                let off = |judged: &&readings::Judged| judged.verdict == Verdict::Off;
                judgement
                    .readings
                    .iter()
                    .filter(off)
                    .map(|judged| judged.step)
                    .collect()
            };
            // What each way loses is read only where the load is short of voltage.
            let short = off(&typed(&|step| step.only_if_off.is_none()));
            let judgement =
                typed(&|step| step.only_if_off.is_none_or(|other| short.contains(&other)));
            tried += 1;
            if off(&judgement).is_empty() {
                unseen += 1;
                continue;
            }
            let place = judgement.explanations.iter().position(|told| {
                let alike = told.or_joint.is_some()
                    || (told.trouble == Trouble::Open) == (trouble == Trouble::Open);
                told.links.contains(&link) && alike
            });
            match place {
                Some(0) => first += 1,
                Some(1 | 2) => {}
                _ => {
                    let told: Vec<_> = judgement
                        .explanations
                        .iter()
                        .map(|told| {
                            let links = told.links.iter().map(|&link| system.link_name(link));
                            format!(
                                "{} {:?} -{}",
                                links.collect::<Vec<_>>().join("|"),
                                told.trouble,
                                told.contradicted.len()
                            )
                        })
                        .collect();
                    let off: Vec<_> = judgement
                        .readings
                        .iter()
                        .filter(|judged| judged.verdict == Verdict::Off)
                        .map(|judged| {
                            let (_, step) = plan.step(judged.step).expect("it was read");
                            format!("{} {:?} {:?}", judged.step, judged.measured, step.expected)
                        })
                        .collect();
                    missed.push(format!("{case}: place {place:?} of {told:?}; off: {off:?}"));
                }
            }
        }
    }
    assert!(
        missed.is_empty(),
        "{} missed:\n{}",
        missed.len(),
        missed.join("\n")
    );
    assert!(
        tried > 150 && unseen * 3 < tried,
        "{unseen} of {tried} not seen"
    );
    assert!(
        first * 10 > (tried - unseen) * 9,
        "{first} of {tried} told first"
    );
}

/// One line of a netlist.
enum Law {
    Resistor(f64),
    Voltage(f64),
    Current(f64),
    Power(f64),
}

/// Number of the node at 0 V.
const ZERO: usize = usize::MAX;

/// Solves a netlist of the forms that are written here by elimination of the whole matrix with pivots.
fn dense(text: &str) -> Result<HashMap<String, f64>, String> {
    let mut numbers: HashMap<String, usize> = HashMap::new();
    let mut start: Vec<f64> = Vec::new();
    let mut lines: Vec<(usize, usize, Law)> = Vec::new();
    let mut branches: Vec<String> = Vec::new();
    let mut first = true;
    for line in text.lines() {
        // The first line is the title, whatever it looks like.
        if std::mem::take(&mut first) || line.starts_with('*') {
            continue;
        }
        if let Some(rest) = line.strip_prefix(".nodeset v(") {
            let (name, value) = rest.split_once(")=").ok_or("no value")?;
            let number = *numbers.get(name).ok_or("a start for an unknown node")?;
            start[number] = value.parse().map_err(|_| "not a number")?;
            continue;
        }
        if line.starts_with('.') {
            continue;
        }
        let mut words = line.splitn(4, ' ');
        let mut word = || words.next().ok_or_else(|| format!("too short: {line}"));
        let name = word()?;
        let mut node = |word: &str| {
            if word == "0" {
                return ZERO;
            }
            let next = numbers.len();
            let number = *numbers.entry(word.to_owned()).or_insert(next);
            if number == start.len() {
                start.push(0.0);
            }
            number
        };
        let (a, b) = (word()?, word()?);
        let value = word()?;
        let read = |text: &str| {
            text.parse::<f64>()
                .map_err(|_| format!("not a number: {line}"))
        };
        let across = format!("v({a},{b})");
        let law = match &name[..1] {
            "r" => Law::Resistor(read(value)?),
            "v" => {
                branches.push(format!("{name}#branch"));
                Law::Voltage(read(value)?)
            }
            "i" => Law::Current(read(value)?),
            "b" => match value
                .strip_prefix("i=")
                .and_then(|law| law.split_once(&across))
            {
                Some((watts, "")) => Law::Power(read(watts.trim_end_matches('/'))?),
                _ => return Err(format!("unknown law: {line}")),
            },
            _ => return Err(format!("unknown element: {line}")),
        };
        lines.push((node(a), node(b), law));
    }
    let nodes = numbers.len();
    let sources = lines
        .iter()
        .filter(|(_, _, law)| matches!(law, Law::Voltage(_)))
        .count();
    let size = nodes + sources;
    let mut volts = start;
    volts.resize(size, 0.0);
    for _ in 0..100 {
        let mut matrix = vec![vec![0.0; size + 1]; size];
        let mut source = nodes;
        for (a, b, law) in &lines {
            let (a, b) = (*a, *b);
            let at = |node: usize| if node == ZERO { 0.0 } else { volts[node] };
            let across = at(a) - at(b);
            let mut conduct = |conductance: f64, constant: f64| {
                // I = conductance·(Va − Vb) + constant, from a to b.
                for (row, sign) in [(a, 1.0), (b, -1.0)] {
                    if row == ZERO {
                        continue;
                    }
                    for (column, other) in [(a, 1.0), (b, -1.0)] {
                        if column != ZERO {
                            matrix[row][column] += sign * other * conductance;
                        }
                    }
                    matrix[row][size] -= sign * constant;
                }
            };
            match *law {
                Law::Resistor(ohms) => conduct(1.0 / ohms, 0.0),
                Law::Current(amps) => conduct(0.0, amps),
                Law::Power(watts) => {
                    let slope = -watts / (across * across);
                    conduct(slope, watts / across - slope * across);
                }
                Law::Voltage(emf) => {
                    for (node, sign) in [(a, 1.0), (b, -1.0)] {
                        if node != ZERO {
                            matrix[node][source] += sign;
                            matrix[source][node] += sign;
                        }
                    }
                    matrix[source][size] += emf;
                    source += 1;
                }
            }
        }
        let next = eliminate(matrix)?;
        let change = (0..nodes)
            .map(|node| (next[node] - volts[node]).abs())
            .fold(0.0, f64::max);
        volts = next;
        if change < 1e-9 {
            let currents = branches.into_iter().zip(volts[nodes..].iter().copied());
            return Ok(numbers
                .into_iter()
                .map(|(name, number)| (name, volts[number]))
                .chain(currents)
                .collect());
        }
    }
    Err("the elimination does not settle".to_owned())
}

/// Gaussian elimination with partial pivots; each row ends with its right-hand side.
fn eliminate(mut matrix: Vec<Vec<f64>>) -> Result<Vec<f64>, String> {
    let size = matrix.len();
    for column in 0..size {
        let pivot = (column..size)
            .max_by(|&a, &b| matrix[a][column].abs().total_cmp(&matrix[b][column].abs()))
            .ok_or("an empty matrix")?;
        matrix.swap(column, pivot);
        if matrix[column][column].abs() < 1e-13 {
            return Err(format!("no pivot in column {column}"));
        }
        let (above, below) = matrix.split_at_mut(column + 1);
        let row = &above[column];
        for other in below {
            let factor = other[column] / row[column];
            if factor != 0.0 {
                for at in column..=size {
                    other[at] -= factor * row[at];
                }
            }
        }
    }
    let mut solution = vec![0.0; size];
    for row in (0..size).rev() {
        let known: f64 = (row + 1..size)
            .map(|column| matrix[row][column] * solution[column])
            .sum();
        solution[row] = (matrix[row][size] - known) / matrix[row][row];
    }
    Ok(solution)
}
