//! Ways, steps and faults on the demonstration boats.

use super::*;
use crate::analysis::poles::Poles;
use crate::analysis::solve::{self, Options, Reading, State, Trouble, resistance};
use crate::system::{Given, LinkId, LinkKind, LoadId, NodeId, SourceKind, System};
use crate::units::{Amps, Ohms, Volts};

const BOATS: [&str; 4] = [
    include_str!("../../../examples/smallest.yaml"),
    include_str!("../../../examples/marsh-pipit-rev-a.yaml"),
    include_str!("../../../examples/teal-skerry-rev-a.yaml"),
    include_str!("../../../examples/mud-plover-rev-a.yaml"),
];
const FOUND: [&str; 3] = [
    include_str!("../../../examples/marsh-pipit-rev-0.yaml"),
    include_str!("../../../examples/teal-skerry-rev-0.yaml"),
    include_str!("../../../examples/mud-plover-rev-0.yaml"),
];

fn boat(text: &str) -> System {
    let draft = crate::draft(text.as_bytes());
    draft.boat.expect("a netlist")
}

fn plan(system: &System) -> (Feeds, Plan) {
    let feeds = Feeds::new(system);
    let plan = Plan::new(system, &Poles::new(system), &feeds);
    (feeds, plan)
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

fn link(system: &System, name: &str) -> LinkId {
    (0..system.links.len())
        .map(LinkId::at)
        .find(|&link| system.link_name(link) == name)
        .expect("the boat has it")
}

fn names(system: &System, links: &[LinkId]) -> Vec<String> {
    links.iter().map(|&link| system.link_name(link)).collect()
}

fn moved(system: &System, feed: &Feed) -> Vec<String> {
    feed.moved
        .iter()
        .map(|&(gear, position)| {
            let gear = &system.gears[gear.index()];
            format!(
                "{} {}",
                gear.name,
                gear.positions[usize::from(position)].name
            )
        })
        .collect()
}

#[test]
fn every_way_to_a_pump_is_found() {
    let system = boat(BOATS[1]);
    let feeds = Feeds::new(&system);
    let pump = feeds.of(load(&system, "bilge-pump"));
    let ways: Vec<_> = pump.iter().map(|feed| moved(&system, feed)).collect();
    assert_eq!(
        ways,
        [
            vec!["bilge-switch manual".to_owned()],
            vec!["bilge-switch auto".to_owned(), "bilge-float on".to_owned()],
        ]
    );
    assert_eq!(system.banks[pump[0].bank.index()].name, "house");
    assert_eq!(
        names(&system, &pump[0].negative),
        ["S1-N1", "pump-plug", "S1-N2", "F5"]
    );
    let starter = &feeds.of(load(&system, "starter"))[0];
    assert_eq!(system.banks[starter.bank.index()].name, "start");
    assert_eq!(moved(&system, starter), ["battery-switch on"]);
}

#[test]
fn a_relay_brings_its_coil_and_the_way_to_it() {
    let system = boat(BOATS[3]);
    let feeds = Feeds::new(&system);
    let hoist = &feeds.of(load(&system, "hoist-winch"))[0];
    assert_eq!(
        moved(&system, hoist),
        [
            "battery-switch on",
            "hoist-button on",
            "hoist-contactor energised"
        ]
    );
    assert_eq!(hoist.coils, [load(&system, "hoist-contactor.coil")]);
    assert!(names(&system, &hoist.control).contains(&"W5".to_owned()));
    // Either float sounds the alarm.
    let alarm = feeds.of(load(&system, "high-water-alarm"));
    assert_eq!(alarm.len(), 2);
    // A bank in series is met at its highest post.
    let motor = &feeds.of(load(&system, "bow-motor"))[0];
    assert_eq!(system.node_name(motor.from), "bow-top.+");
    assert_eq!(system.node_name(motor.to), "bow-low.-");
}

#[test]
fn no_way_goes_through_a_position_that_joins_banks() {
    for text in BOATS.iter().chain(&FOUND) {
        let system = boat(text);
        let feeds = Feeds::new(&system);
        for index in 0..system.loads.len() {
            for feed in feeds.of(LoadId::at(index)) {
                for &(gear, position) in &feed.moved {
                    let position = &system.gears[gear.index()].positions[usize::from(position)];
                    assert!(!position.joins_banks && !position.emergency);
                }
            }
        }
    }
}

/// Groups of stage 4 with the feed that each is about.
fn circuits(plan: &Plan) -> impl Iterator<Item = (&Group, &Feed)> {
    plan.groups.iter().filter_map(|group| match &group.subject {
        Subject::Load(feed) if group.stage == 4 => Some((group, feed)),
        _ => None,
    })
}

fn probes(system: &System, step: &Step) -> Option<(NodeId, NodeId)> {
    let (Probe::At(red), Probe::At(black)) = (step.red, step.black) else {
        return None;
    };
    Some((system.node_of(red), system.node_of(black)))
}

/// What a meter shows in every step of stage 4 on a boat, rounded to its last digit.
fn readings_on(
    plan: &Plan,
    boat: &System,
    state_of: impl Fn(&Group) -> State,
) -> Vec<(StepId, Measured)> {
    let mut readings = Vec::new();
    for (group, feed) in circuits(plan) {
        let Ok(solution) = solve::solve(boat, &state_of(group), Options::PHYSICAL) else {
            continue;
        };
        for step in &group.steps {
            if let Probe::Clamp(conductor) = step.red {
                let link = boat.conductors[conductor.index()].link;
                let amps = (solution.current(link).0.abs() * 100.0).round() / 100.0;
                readings.push((step.id, Measured::Amps(Amps(amps))));
                continue;
            }
            let Some((red, black)) = probes(boat, step) else {
                continue;
            };
            // An open circuit leaves the load's terminals together.
            let volts = solution.between(red, black).unwrap_or_else(|| {
                let minus = boat.node_of(boat.links[boat.loads[feed.load.index()].link.index()].b);
                let plus = boat.node_of(boat.links[boat.loads[feed.load.index()].link.index()].a);
                let at = |node: NodeId| if node == plus { minus } else { node };
                let other = |node: NodeId| if node == minus { plus } else { node };
                solution
                    .between(at(red), at(black))
                    .or_else(|| solution.between(other(red), other(black)))
                    .unwrap_or_default()
            });
            readings.push((
                step.id,
                Measured::Volts(Volts((volts.0 * 100.0).round() / 100.0)),
            ));
        }
    }
    readings
}

#[test]
fn every_expected_voltage_is_that_of_the_whole_boat() {
    let mut compared = 0;
    for text in BOATS.iter().chain(&FOUND) {
        let system = boat(text);
        let (_, plan) = plan(&system);
        for (group, feed) in circuits(&plan) {
            let state = super::step::state(&system, &group.setting);
            let Ok(solution) = solve::solve(&system, &state, Options::PHYSICAL) else {
                continue;
            };
            for step in &group.steps {
                let Some((red, black)) = probes(&system, step) else {
                    continue;
                };
                let volts = || solution.between(red, black).expect("one island").0;
                let (got, wanted) = match &step.expected {
                    Expected::Lost { lost, .. } => (lost.0, volts()),
                    Expected::BatteryMinus { lost, .. } => {
                        let posts = solution.between(feed.from, feed.to).expect("a battery").0;
                        (lost.0, posts - volts())
                    }
                    _ => continue,
                };
                compared += 1;
                // Loads of constant power beside the one that is measured count at their nominal current.
                assert!(
                    (got - wanted).abs() < 1e-3,
                    "{} {}: {got} against {wanted}",
                    system.boat.name,
                    step.id
                );
            }
        }
    }
    assert!(compared > 200, "{compared}");
}

#[test]
fn a_boat_without_fault_reads_well() {
    for text in BOATS {
        let system = boat(text);
        let (feeds, plan) = plan(&system);
        let readings = readings_on(&plan, &system, |group| {
            super::step::state(&system, &group.setting)
        });
        let judgement = judge(&system, &feeds, &plan, &readings);
        assert!(judgement.explanations.is_empty());
        for reading in &judgement.readings {
            assert!(
                matches!(reading.verdict, Verdict::Good | Verdict::NothingExpected),
                "{reading:?}"
            );
        }
    }
}

/// The boat with a bad joint in one link.
fn with_bad_joint(system: &System, link: LinkId, ohms: f64) -> System {
    let mut system = system.clone();
    let now = resistance(&system, link, Reading::Physical)
        .expect("known")
        .0;
    match system.links[link.index()].kind {
        LinkKind::Conductor(id) => {
            let length = &mut system.conductors[id.index()].length;
            *length = length.map(|given| Given {
                value: given.value * ((now + ohms) / now),
                ..given
            });
        }
        LinkKind::Source(_) => unreachable!("batteries are left out"),
        _ => system.links[link.index()].resistance = Some(Given::assumed(Ohms(now + ohms))),
    }
    system
}

#[test]
fn a_bad_joint_is_found_from_its_readings() {
    let system = boat(BOATS[1]);
    let (feeds, plan) = plan(&system);
    let mut tried = 0;
    let mut first = 0;
    for (index, record) in system.links.iter().enumerate() {
        let link = LinkId::at(index);
        if !matches!(
            record.kind,
            LinkKind::Conductor(_) | LinkKind::Device(_) | LinkKind::Contact { .. }
        ) || resistance(&system, link, Reading::Physical).is_none()
        {
            continue;
        }
        let faulty = with_bad_joint(&system, link, 0.2);
        let readings = readings_on(&plan, &faulty, |group| {
            super::step::state(&faulty, &group.setting)
        });
        let judgement = judge(&system, &feeds, &plan, &readings);
        let off = judgement
            .readings
            .iter()
            .any(|reading| reading.verdict == Verdict::Off);
        if !off {
            continue;
        }
        tried += 1;
        let best = judgement
            .explanations
            .first()
            .expect("something explains it");
        // Whatever is told first explains all that is off and puts off nothing that is good.
        let all_off = judgement
            .readings
            .iter()
            .filter(|reading| reading.verdict == Verdict::Off)
            .count();
        assert_eq!(best.explained.len(), all_off, "{}", system.link_name(link));
        assert!(best.contradicted.is_empty(), "{}", system.link_name(link));
        assert_ne!(best.trouble, Trouble::Open);
        first += usize::from(best.links.contains(&link));
        // Links one behind the other in one leg read alike; the true one is among those told.
        let legs = judgement
            .explanations
            .iter()
            .any(|explanation| explanation.links.contains(&link));
        let same_leg = |feed: &Feed, other: LinkId| {
            let pole = |pole: &[LinkId]| pole.contains(&link) && pole.contains(&other);
            pole(&feed.positive) || pole(&feed.negative)
        };
        let read_alike = (0..system.loads.len())
            .flat_map(|load| feeds.of(LoadId::at(load)))
            .any(|feed| same_leg(feed, best.links[0]));
        assert!(legs || read_alike, "{}", system.link_name(link));
    }
    assert!(tried > 60, "{tried}");
    assert!(first > 20, "{first} of {tried}");
}

#[test]
fn amperes_alone_point_to_a_fault() {
    let system = boat(BOATS[1]);
    let (feeds, plan) = plan(&system);
    let pump = load(&system, "water-pump");
    let (group, feed) = circuits(&plan)
        .find(|(_, feed)| feed.load == pump)
        .expect("the pump is measured");
    let clamp = group
        .steps
        .iter()
        .find(|step| matches!(step.red, Probe::Clamp(_)))
        .expect("its current is measured");
    let judged = |amps: f64| {
        judge(
            &system,
            &feeds,
            &plan,
            &[(clamp.id, Measured::Amps(Amps(amps)))],
        )
    };
    // Nothing flows: something in its way is open.
    let dead = judged(0.0);
    let first = dead.explanations.first().expect("something explains it");
    assert_eq!(first.trouble, Trouble::Open);
    assert!(
        feed.positive
            .iter()
            .chain(&feed.negative)
            .chain(&feed.control)
            .any(|&link| link == first.links[0])
    );
    assert_eq!(first.explained, [clamp.id]);
    // As expected: nothing to explain. More than wiring can make it draw: nothing explains it.
    assert!(judged(4.0).explanations.is_empty());
    let more = judged(9.0);
    assert_eq!(more.readings[0].verdict, Verdict::Off);
    assert!(more.explanations.is_empty());
    // A good ampere reading speaks against an open circuit, whatever the voltmeter's probe met.
    let at_load = group
        .steps
        .iter()
        .find(|step| matches!(step.expected, Expected::BatteryMinus { .. }))
        .expect("it is measured at the load");
    let Expected::BatteryMinus { reading, .. } = at_load.expected else {
        unreachable!("it was just matched")
    };
    let readings = [
        (reading, Measured::Volts(Volts(12.60))),
        (at_load.id, Measured::Volts(Volts(0.0))),
        (clamp.id, Measured::Amps(Amps(4.0))),
    ];
    let mixed = judge(&system, &feeds, &plan, &readings);
    for explanation in &mixed.explanations {
        let open = explanation.trouble == Trouble::Open;
        assert_eq!(
            open,
            explanation.contradicted == [clamp.id],
            "{explanation:?}"
        );
    }
}

#[test]
fn a_bad_feeder_is_told_from_bad_branches() {
    let system = boat(BOATS[1]);
    let (feeds, plan) = plan(&system);
    // The negative feeder of the helm: all helm circuits lose in the negative, nothing else does.
    for (name, ohms) in [("F4", 0.1), ("F3", 0.1), ("B4", 0.003)] {
        let faulty = with_bad_joint(&system, link(&system, name), ohms);
        let readings = readings_on(&plan, &faulty, |group| {
            super::step::state(&faulty, &group.setting)
        });
        let judgement = judge(&system, &feeds, &plan, &readings);
        let told: Vec<String> = judgement
            .explanations
            .iter()
            .flat_map(|explanation| names(&system, &explanation.links))
            .collect();
        assert!(told.contains(&name.to_owned()), "{name}: {told:?}");
        for explanation in &judgement.explanations[..1] {
            assert!(explanation.contradicted.is_empty());
        }
    }
}

/// A boat read with one way of its block open, and what is made of that.
fn with_helm_block_5_open() -> (System, Judgement) {
    let system = boat(BOATS[1]);
    let (feeds, plan) = plan(&system);
    let device = system
        .devices
        .iter()
        .position(|device| device.name == "helm-block.5")
        .expect("the boat has it");
    let readings = readings_on(&plan, &system, |group| {
        let mut state = super::step::state(&system, &group.setting);
        state.opened[device] = true;
        state
    });
    let judgement = judge(&system, &feeds, &plan, &readings);
    (system, judgement)
}

#[test]
fn an_open_fuse_kills_its_circuit_and_is_told_so() {
    let (system, judgement) = with_helm_block_5_open();
    let best = &judgement.explanations[0];
    assert!(names(&system, &best.links).contains(&"helm-block.5".to_owned()));
    assert_eq!(best.trouble, Trouble::Open);
    assert!(best.contradicted.is_empty());
}

#[test]
fn suspects_are_links_of_the_circuit_that_would_put_the_reading_off() {
    let system = boat(BOATS[1]);
    let (_, plan) = plan(&system);
    let mut seen = 0;
    for (group, feed) in circuits(&plan) {
        for step in &group.steps {
            let Expected::Lost { lost, band } = &step.expected else {
                continue;
            };
            for &suspect in &step.suspects.weak {
                let own = feed.positive.contains(&suspect) || feed.negative.contains(&suspect);
                assert!(own, "{}", system.link_name(suspect));
                let faulty = with_bad_joint(&system, suspect, BAD_JOINT.0);
                let state = super::step::state(&faulty, &group.setting);
                // A starter asks for more than any bad joint lets through.
                let Ok(solution) = solve::solve(&faulty, &state, Options::PHYSICAL) else {
                    continue;
                };
                let (red, black) = probes(&system, step).expect("two probes");
                let volts = solution.between(red, black).expect("joined");
                assert!((volts - *lost).0 > band.0 - 1e-6);
                seen += 1;
            }
        }
    }
    assert!(seen > 30, "{seen}");
}

#[test]
fn what_is_not_given_is_not_expected() {
    let text = BOATS[0].replace(
        "gauge: 8 AWG, colour: red, length: 2 ft",
        "gauge: 8 AWG, colour: red",
    );
    let system = boat(&text);
    let (_, plan) = plan(&system);
    let blank = plan
        .groups
        .iter()
        .flat_map(|group| &group.steps)
        .filter(|step| matches!(step.expected, Expected::NotComputed(Reason::Length(_))))
        .count();
    // At the load and in its positive; the negative is known.
    assert_eq!(blank, 2);
    let text = BOATS[0].replace("draw: 10 W, ", "");
    let system = boat(&text);
    let (_, plan) = self::plan(&system);
    assert!(
        plan.groups
            .iter()
            .filter(|group| group.stage == 4)
            .flat_map(|group| &group.steps)
            .all(|step| matches!(
                step.expected,
                Expected::BatteryReading | Expected::NotComputed(Reason::Draw(_))
            ))
    );
}

#[test]
fn live_and_dead_follow_the_battery_switch() {
    let system = boat(BOATS[1]);
    let (_, plan) = plan(&system);
    let listed: Vec<(Vec<String>, Vec<String>)> = plan
        .groups
        .iter()
        .flat_map(|group| &group.steps)
        .filter_map(|step| match &step.expected {
            Expected::LiveAndDead { live, dead } => Some((
                live.iter()
                    .map(|(terminal, banks)| {
                        let banks: Vec<&str> = banks
                            .iter()
                            .map(|bank| system.banks[bank.index()].name.as_str())
                            .collect();
                        format!("{} {}", system.terminal_name(*terminal), banks.join(" "))
                    })
                    .collect(),
                dead.iter()
                    .map(|&terminal| system.terminal_name(terminal))
                    .collect(),
            )),
            _ => None,
        })
        .collect();
    let words = |words: &[&str]| {
        words
            .iter()
            .map(|&word| word.to_owned())
            .collect::<Vec<_>>()
    };
    assert_eq!(
        listed[0],
        (
            words(&["always-block.feed house"]),
            words(&["helm-block.feed", "starter.+"])
        )
    );
    assert_eq!(
        listed[1].0,
        words(&[
            "helm-block.feed house",
            "always-block.feed house",
            "starter.+ start"
        ])
    );
    assert_eq!(listed.len(), 3);
}

#[test]
fn small_resistances_are_never_asked_for() {
    for text in BOATS.iter().chain(&FOUND) {
        let system = boat(text);
        let (_, plan) = plan(&system);
        for step in plan.groups.iter().flat_map(|group| &group.steps) {
            match step.expected {
                Expected::AtLeast(ohms) => assert!(ohms >= LEAST_OHMS),
                Expected::Within(low, high) | Expected::Winding(low, high) => {
                    assert!(low >= LEAST_OHMS && low < high);
                }
                Expected::TooSmall => panic!("{} asks for nothing", step.id),
                Expected::AtMost(ohms) => assert!(ohms >= NEGATIVE_OHMS),
                _ => {}
            }
        }
    }
}

#[test]
fn steps_are_numbered_in_order_and_read_back() {
    let system = boat(BOATS[3]);
    let (_, plan) = plan(&system);
    let ids: Vec<StepId> = plan
        .groups
        .iter()
        .flat_map(|group| group.steps.iter().map(|step| step.id))
        .collect();
    assert!(ids.is_sorted_by(|a, b| a < b));
    for id in &ids {
        assert_eq!(id.to_string().parse(), Ok(*id));
        assert!(plan.step(*id).is_some());
    }
    for text in ["", "4", "4-", "-4", "4-+1", "a-1", "4-99999", "999-1"] {
        assert!(text.parse::<StepId>().is_err(), "{text}");
    }
    // Three batteries in a string are read singly, then together.
    let sum = plan
        .groups
        .iter()
        .flat_map(|group| &group.steps)
        .find_map(|step| match &step.expected {
            Expected::SumOf { readings, .. } => Some(readings.len()),
            _ => None,
        });
    assert_eq!(sum, Some(3));
}

#[test]
fn readings_are_typed_back() {
    let system = boat(BOATS[0]);
    let (feeds, plan) = plan(&system);
    let reading = plan
        .groups
        .iter()
        .flat_map(|group| &group.steps)
        .find(|step| step.id.stage == 4)
        .expect("the light is tried")
        .id;
    let next = StepId {
        number: reading.number + 1,
        ..reading
    };
    let text = format!(
        "loomwright-readings: 1\nnetlist: abc\nreadings:\n  {reading}: 12.61 V\n  {next}: 9.2\n  0-01: OL\n  2-01:\n"
    );
    let taken = taken(text.as_bytes(), &plan);
    assert!(taken.findings.is_empty(), "{:?}", taken.findings);
    assert_eq!(taken.netlist.as_deref(), Some("abc"));
    assert_eq!(taken.readings.len(), 3);
    let judgement = judge(&system, &feeds, &plan, &taken.readings);
    let verdict = |step: StepId| {
        judgement
            .readings
            .iter()
            .find(|reading| reading.step == step)
            .map(|reading| reading.verdict)
    };
    assert_eq!(verdict(next), Some(Verdict::Off));
    assert_eq!(verdict(reading), Some(Verdict::NothingExpected));
    assert_eq!(
        verdict("0-01".parse().expect("a step")),
        Some(Verdict::Good)
    );
    assert!(!judgement.explanations.is_empty());
    for wrong in [
        "readings: {}\n",
        "loomwright-readings: 2\nreadings: {}\n",
        "loomwright-readings: 1\nreadings: [1]\n",
        "loomwright-readings: 1\nreadings: {4-99: 1 V}\n",
        "loomwright-readings: 1\nreadings: {9: 1 V}\n",
        "loomwright-readings: 1\nreadings: {2-01: 3 A}\n",
        "loomwright-readings: 1\nreadings: {2-01: [1]}\n",
        "loomwright-readings: 1\nother: 1\n",
        "a: [",
        "",
    ] {
        assert!(
            !super::taken(wrong.as_bytes(), &plan).findings.is_empty(),
            "{wrong}"
        );
    }
}

#[test]
fn a_boat_without_batteries_or_loads_has_a_short_plan() {
    for text in [
        "loomwright: 1\nboat: {name: Bare, practice: us, system: 12 V}\n",
        "loomwright: 1\nboat: {name: Bare, practice: us, system: 12 V}\nbatteries: {one: {chemistry: agm}}\n",
    ] {
        let system = boat(text);
        let (_, plan) = plan(&system);
        assert!(
            plan.groups
                .iter()
                .all(|group| group.stage == 2 || group.stage == 5)
        );
    }
}

#[test]
fn charging_sources_are_measured_at_every_battery_they_reach() {
    let system = boat(BOATS[1]);
    let (_, plan) = plan(&system);
    let alternator = plan
        .groups
        .iter()
        .find(|group| match group.subject {
            Subject::Source(source) => {
                system.sources[source.index()].kind == SourceKind::Alternator
            }
            _ => false,
        })
        .expect("it charges");
    let charged = alternator
        .steps
        .iter()
        .filter(|step| matches!(step.expected, Expected::Charging(Some(_))))
        .count();
    assert_eq!(charged, 2);
}

#[test]
fn the_lamp_stands_in_for_everything_that_feeds_the_boat() {
    // Two house batteries side by side, each with a fuse of its own: a lamp for one fuse would be passed by the other.
    let system = boat(BOATS[3]);
    let (_, plan) = plan(&system);
    let stands: Vec<(String, Supply, Vec<String>)> = plan
        .groups
        .iter()
        .filter(|group| group.stage == 3)
        .map(|group| {
            let Subject::Bank(bank) = group.subject else {
                panic!("a bank at a time")
            };
            let at = |probe: Probe| match probe {
                Probe::At(terminal) => system.terminal_name(terminal),
                other => panic!("{other:?}"),
            };
            (
                system.banks[bank.index()].name.clone(),
                group.setting.supply,
                group.steps.iter().map(|step| at(step.red)).collect(),
            )
        })
        .collect();
    let posts: Vec<&str> = stands.iter().map(|(_, _, reds)| reds[0].as_str()).collect();
    assert_eq!(
        posts,
        ["start-battery.+", "house-1.+", "house-2.+", "bow-top.+"]
    );
    for (bank, supply, _) in &stands {
        let post = matches!(supply, Supply::StandAtPost(_));
        assert_eq!(post, bank != "bow", "{bank}: {supply:?}");
    }
    // The bow bank has neither block nor bus: its stud lies behind its switch.
    assert_eq!(stands[3].2, ["bow-top.+", "bow-switch.out"]);
}

#[test]
fn no_resistance_is_asked_for_through_what_stays_open() {
    for text in BOATS.iter().chain(&FOUND) {
        let system = boat(text);
        let (_, plan) = plan(&system);
        for group in plan.groups.iter().filter(|group| group.stage < 2) {
            for step in &group.steps {
                assert_ne!(step.expected, Expected::NotComputed(Reason::Unfed));
            }
            for &(gear, _) in &group.setting.moved {
                use crate::system::GearKind::{BatterySwitch, Relay};
                let kind = system.gears[gear.index()].kind;
                assert!(!matches!(kind, Relay | BatterySwitch), "{kind:?}");
            }
        }
    }
    // The bow motor is measured from behind its battery switch, which stays off.
    let system = boat(BOATS[3]);
    let (_, plan) = plan(&system);
    let motor = load(&system, "bow-motor");
    let red = plan
        .groups
        .iter()
        .find(|group| {
            group.stage == 1 && matches!(&group.subject, Subject::Load(feed) if feed.load == motor)
        })
        .map(|group| group.steps[0].red);
    let Some(Probe::At(red)) = red else {
        panic!("{red:?}")
    };
    assert_eq!(system.terminal_name(red), "bow-switch.out");
}

#[test]
fn a_bank_that_charges_another_is_not_put_to_work_for_the_isolation_test() {
    let system = boat(BOATS[2]);
    let (_, plan) = plan(&system);
    for group in &plan.groups {
        let Subject::Isolation(_) = group.subject else {
            continue;
        };
        for source in &system.sources {
            let input = source
                .input
                .filter(|input| group.setting.running.contains(input));
            assert_eq!(input, None, "{}", source.name);
        }
        // What the clamp shows is what the solution says flows there.
        let solution = solve::solve(
            &system,
            &super::step::state(&system, &group.setting),
            Options::PHYSICAL,
        )
        .expect("solvable");
        for step in &group.steps {
            let Probe::Clamp(conductor) = step.red else {
                panic!("{:?}", step.red)
            };
            let amps = solution
                .current(system.conductors[conductor.index()].link)
                .0
                .abs();
            assert_eq!(step.expected, Expected::Still);
            assert!(amps < STILL.0, "{amps}");
        }
    }
    // An alarm that is always on keeps drawing from its own bank while another bank works.
    let text = BOATS[3].replace(
        "high-water-alarm: {draw: 0.2 A,",
        "gas-alarm: {draw: 0.5 A, kind: electronics, always-on: true, zone: aft}\n  high-water-alarm: {draw: 0.2 A,",
    ).replace(
        "\nruns:\n",
        "\nruns:\n  X1: {from: always-on-fuse.out, to: gas-alarm.+, gauge: 16 AWG, length: 1 ft}\n  \
         X2: {from: gas-alarm.-, to: aft-negative, gauge: 16 AWG, length: 1 ft}\n",
    );
    let system = boat(&text);
    let (_, plan) = self::plan(&system);
    let bow = plan
        .groups
        .iter()
        .filter(|group| matches!(group.subject, Subject::Isolation(bank) if system.banks[bank.index()].name == "bow"))
        .flat_map(|group| &group.steps)
        .filter_map(|step| match step.expected {
            Expected::Amps { amps, .. } => Some(amps.0),
            _ => None,
        })
        .collect::<Vec<_>>();
    // Both house batteries give half of it.
    let [amps] = bow.as_slice() else {
        panic!("{bow:?}")
    };
    assert!((amps - 0.25).abs() < 0.02, "{amps}");
}

#[test]
fn links_that_read_alike_are_told_as_one() {
    let (system, judgement) = with_helm_block_5_open();
    let best = &judgement.explanations[0];
    // Whatever lies in one line between the posts and the horn reads alike: way, button, wires and contact.
    let told = names(&system, &best.links);
    for name in ["helm-block.5", "horn-button", "H5-A", "H5-B", "H5-C"] {
        assert!(told.contains(&name.to_owned()), "{name} in {told:?}");
    }
    assert!(
        !told.iter().any(|name| name.starts_with("H5-N")),
        "{told:?}"
    );
    assert_eq!(told[0], "helm-block.5", "likeliest first");
}
