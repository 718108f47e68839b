//! What netlists resolve to: links inside parts, studs, banks, circuits, ways, scenarios.

use super::resolve;
use crate::diag::{Diagnostic, Severity};
use crate::system::{
    Conductor, DropClass, GearKind, LinkKind, Origin, Practice, Purpose, System, TerminalId,
};
use crate::units::{Celsius, Metres};
use crate::{netlist, source};
use std::fmt::Write;

fn told(text: &str) -> (System, Vec<Diagnostic>) {
    let reading = source::read(text.as_bytes());
    assert_eq!(reading.diagnostics, [], "{text}");
    let (netlist, findings) = netlist::read(&reading);
    assert_eq!(findings, [], "{text}");
    let document = reading.document.as_ref().expect("a sound text");
    resolve(&netlist.expect("a sound text"), document)
}

/// The boat of a text without any fault.
fn boat(text: &str) -> System {
    let (system, findings) = told(text);
    let faults: Vec<&Diagnostic> = findings
        .iter()
        .filter(|finding| finding.severity != Severity::Note)
        .collect();
    assert!(faults.is_empty(), "{faults:#?}");
    system
}

fn conductor<'s>(system: &'s System, number: &str) -> &'s Conductor {
    let found = system.conductors.iter().find(|one| one.number == number);
    found.expect("the conductor is there")
}

/// `W1 house.+ > main-fuse.in`, one line a conductor.
fn ends(system: &System) -> Vec<String> {
    let line = |one: &Conductor| {
        let (from, to) = (system.terminal_name(one.from), system.terminal_name(one.to));
        format!("{} {from} > {to}", one.number)
    };
    system.conductors.iter().map(line).collect()
}

/// Every link that is no conductor, one line each.
fn inner_links(system: &System) -> Vec<String> {
    let name = |terminal: TerminalId| system.terminal_name(terminal);
    system
        .links
        .iter()
        .filter_map(|link| {
            let kind = match &link.kind {
                LinkKind::Conductor(_) => return None,
                LinkKind::Contact { closed_in, .. } => format!("contact {closed_in:?}"),
                LinkKind::Device(device) => {
                    format!("device {}", system.devices[device.index()].name)
                }
                LinkKind::Mate { cavity } => format!("mate {cavity}"),
                LinkKind::Diode { forward } => format!("diode {}", forward.0),
                LinkKind::Joint => "joint".to_owned(),
                LinkKind::Source(source) => {
                    format!("source {}", system.sources[source.index()].name)
                }
                LinkKind::Load(load) => format!("load {}", system.loads[load.index()].name),
            };
            Some(format!("{kind}: {} > {}", name(link.a), name(link.b)))
        })
        .collect()
}

fn metres(conductor: &Conductor) -> Option<f64> {
    let length = conductor.length?.value.0;
    Some((length * 1e6).round() / 1e6)
}

#[test]
fn every_kind_of_part_has_its_links() {
    let system = boat(
        "boat: {system: 12 V}\n\
         batteries: {house: {}}\n\
         switches:\n  \
           plain: {kind: panel}\n  \
           selector: {terminals: [a, b, c], positions: {\"off\": [], one: [[a, c]], all: [[c, b, a]], two: [[b, c]]}}\n\
         relays:\n  \
           make: {contacts: make}\n  \
           swap: {contacts: changeover}\n  \
           break: {contacts: break}\n\
         combiners: {joiner: {draw: 10 mA}, quiet: {self-referenced: true}}\n\
         isolators: {split: {outputs: 2}}\n\
         fuses: {main: {rating: 40 A, on: house.+}}\n\
         breakers: {trip: {rating: 20 A}, both: {rating: 20 A, as-switch: true}}\n\
         fuse-blocks: {block: {ways: {1: 5 A, 2: spare}, negative: {studs: 2}}}\n\
         buses: {bar: {studs: 2, on: main.out}}\n\
         loads: {lamp: {draw: 1 A}, stereo: {inputs: {main: {draw: 4 A}, memory: {draw: 1 mA}}}}\n\
         chargers: {shore: {outputs: {1: {}, 2: {}}}, apart: {isolated-outputs: true, outputs: {1: {}}}}\n\
         alternators: {engine: {}}\n\
         converters: {booster: {isolated: false}, island: {isolated: true}}\n\
         solar: {panel: {}}\n\
         instruments: {meter: {draw: 5 mA, senses: [sense]}, dial: {}}\n\
         shunts: {shunt: {rating: 300 A, voltage: 50 mV}}\n\
         connectors: {plug: {cavities: 2}}\n\
         splices: {joint: {}}\n\
         grounds: {engine-block: {kind: engine}}\n",
    );
    let expected = [
        "source house: house.+ > house.-",
        "contact [1]: plain.in > plain.out",
        "contact [1]: selector.a > selector.c",
        "contact [2]: selector.a > selector.b",
        "contact [2, 3]: selector.b > selector.c",
        "load make.coil: make.coil+ > make.coil-",
        "contact [1]: make.com > make.no",
        "load swap.coil: swap.coil+ > swap.coil-",
        "contact [1]: swap.com > swap.no",
        "contact [0]: swap.com > swap.nc",
        "load break.coil: break.coil+ > break.coil-",
        "contact [0]: break.com > break.nc",
        "contact [1]: joiner.a > joiner.b",
        "load joiner.standby: joiner.a > joiner.-",
        "contact [1]: quiet.a > quiet.b",
        "diode 0.6: split.in > split.1",
        "diode 0.6: split.in > split.2",
        "device main: main.in > main.out",
        "device trip: trip.in > trip.out",
        "device both: both.in > both.inside",
        "contact [1]: both.inside > both.out",
        "device block.1: block.feed > block.1",
        "device block.2: block.feed > block.2",
        "load lamp: lamp.+ > lamp.-",
        "load stereo.main: stereo.main > stereo.-",
        "load stereo.memory: stereo.memory > stereo.-",
        "source shore.1: shore.1+ > shore.-",
        "source shore.2: shore.2+ > shore.-",
        "source apart.1: apart.1+ > apart.1-",
        "source engine: engine.+ > engine.-",
        "load booster.in: booster.in+ > booster.in-",
        "source booster: booster.out+ > booster.out-",
        "joint: booster.in- > booster.out-",
        "load island.in: island.in+ > island.in-",
        "source island: island.out+ > island.out-",
        "source panel: panel.+ > panel.-",
        "load meter: meter.+ > meter.-",
        "joint: shunt.battery > shunt.system",
        "mate 1: plug.1a > plug.1b",
        "mate 2: plug.2a > plug.2b",
        "joint: house.+ > main.in",
        "joint: main.out > bar.1",
    ];
    assert_eq!(inner_links(&system), expected);

    let node = |name: &str| {
        let (component, terminal) = name.split_once('.').expect("component.terminal");
        let part = system.components.iter().find(|part| part.name == component);
        let terminals = &part.expect("the component is there").terminals;
        let found = terminals
            .iter()
            .find(|one| system.terminals[one.index()].name == terminal);
        system.node_of(*found.expect("the terminal is there"))
    };
    assert_eq!(node("bar.1"), node("bar.2"));
    assert_eq!(node("block.negative.1"), node("block.negative.2"));
    assert_eq!(node("shunt.battery"), node("shunt.battery-sense"));
    assert_eq!(node("shunt.system"), node("shunt.system-sense"));
    assert_ne!(node("shunt.battery"), node("shunt.system"));
    // No conductor can land on the point inside the breaker.
    let both = system.components.iter().find(|part| part.name == "both");
    assert_eq!(both.map(|part| part.terminals.len()), Some(2));
    // 50 mV at 300 A.
    let shunt = system.links.iter().find_map(|link| link.resistance);
    assert!(shunt.is_some_and(|ohms| (ohms.value.0 - 0.05 / 300.0).abs() < 1e-12));
    assert!(system.devices.iter().any(|device| device.spare));
    // Graph and nodes agree.
    assert_eq!(system.graph.link_count(), system.links.len());
    for (index, link) in system.links.iter().enumerate() {
        let ends = (system.node_of(link.a), system.node_of(link.b));
        let id = crate::system::LinkId::at(index);
        assert_eq!(system.graph.ends(id), ends);
        assert!(system.nodes[ends.0.index()].links.contains(&id));
        assert!(system.nodes[ends.1.index()].links.contains(&id));
    }
}

const SMALL: &str = "\
boat: {system: 12 V}
policy: {insulation: 105 °C}
batteries: {house: {}}
switches:
  lamp-switch: {rating: 5 A}
  nav-switch: {terminals: [side-in, side-out, stern-in, stern-out],
               positions: {\"off\": [], run: [[side-in, side-out], [stern-in, stern-out]]}}
fuse-blocks: {block: {ways: {1: 5 A, 2: 5 A}, negative: {}}}
buses: {negative: {polarity: negative, studs: 3}}
loads: {lamp: {draw: 1 A, name: cabin lamp}, stereo: {inputs: {main: {draw: 4 A}, memory: {draw: 1 mA}}}}
connectors: {plug: {cavities: 4}}
";

#[test]
fn a_circuit_is_spelled_out() {
    let system = boat(&format!(
        "{SMALL}circuits:\n  h3: {{feed: block.1, through: [nav-switch: [side-in, side-out], lamp-switch, plug.1], load: lamp,\n    \
         return-through: plug.2, return: negative, length: [1 ft, 2 ft, 3 ft, 10 ft], gauge: 14 AWG, return-gauge: 12 AWG,\n    \
         colour: RD, return-colour: yellow, bundle: loom}}\n"
    ));
    let expected = [
        "H3-A block.1 > nav-switch.side-in",
        "H3-B nav-switch.side-out > lamp-switch.in",
        "H3-C lamp-switch.out > plug.1a",
        "H3-D plug.1b > lamp.+",
        "H3-N1 lamp.- > plug.2b",
        "H3-N2 plug.2a > negative.1",
    ];
    assert_eq!(ends(&system), expected);
    let lengths: Vec<Option<f64>> = system.conductors.iter().map(metres).collect();
    // The way back mirrors the way out: 10 ft at the load, the other 6 ft behind the plug.
    assert_eq!(
        lengths,
        [0.3048, 0.6096, 0.9144, 3.048, 3.048, 1.8288].map(Some)
    );
    let last = conductor(&system, "H3-N2");
    assert_eq!(
        last.length.map(|length| length.origin),
        Some(Origin::Derived)
    );
    assert_eq!(
        last.gauge.map(|gauge| gauge.value.to_string()),
        Some("12 AWG".to_owned())
    );
    assert_eq!(
        last.colour
            .as_ref()
            .map(|colour| colour.value.base.as_str()),
        Some("yellow")
    );
    assert_eq!(
        conductor(&system, "H3-A")
            .colour
            .as_ref()
            .map(|colour| colour.value.base.as_str()),
        Some("red")
    );
    assert!(
        system
            .conductors
            .iter()
            .all(|one| one.function == "cabin lamp")
    );
    let circuit = &system.circuits[0];
    assert_eq!(
        (circuit.name.as_str(), circuit.number.as_str()),
        ("h3", "H3")
    );
    assert_eq!(circuit.conductors.len(), 6);
    assert_eq!(
        circuit
            .load
            .map(|load| system.loads[load.index()].name.as_str()),
        Some("lamp")
    );
    assert_eq!(system.bundles.len(), 1);
}

#[test]
fn one_length_goes_to_the_leg_at_the_load() {
    let (system, findings) = told(&format!(
        "{SMALL}circuits:\n  C1: {{feed: block.1, through: [lamp-switch, plug.1], load: stereo.main, \
         return-through: plug.2, return: block, length: 14 ft}}\n"
    ));
    let lengths: Vec<(Option<f64>, Option<Origin>)> = system
        .conductors
        .iter()
        .map(|one| (metres(one), one.length.map(|length| length.origin)))
        .collect();
    assert_eq!(
        lengths,
        [
            (Some(0.3048), Some(Origin::Assumed)),
            (Some(0.3048), Some(Origin::Assumed)),
            (Some(4.2672), Some(Origin::Written)),
            (Some(4.2672), Some(Origin::Derived)),
            (Some(0.3048), Some(Origin::Assumed)),
        ]
    );
    let [note] = &findings[..] else {
        panic!("one note: {findings:#?}");
    };
    assert_eq!((note.rule, note.severity), ("NF082", Severity::Note));
    assert_eq!(
        note.message,
        "legs `C1-A`, `C1-B` and `C1-N2` have no length of their own; 1 ft is assumed"
    );
    assert_eq!(ends(&system)[4], "C1-N2 plug.2a > block.negative.1");
}

#[test]
fn a_run_adds_to_or_overrides_what_a_circuit_implies() {
    let system = boat(&format!(
        "{SMALL}circuits:\n  C1: {{feed: block.1, load: lamp, return: negative, length: 14 ft, gauge: 16 AWG, colour: red}}\n\
         runs:\n  C1-N: {{to: house.-, length: 9 ft, cable: duplex}}\n  W1: {{from: house.-, to: negative}}\n"
    ));
    assert_eq!(
        ends(&system),
        [
            "C1-A block.1 > lamp.+",
            "C1-N lamp.- > house.-",
            "W1 house.- > negative.1"
        ]
    );
    let back = conductor(&system, "C1-N");
    assert_eq!(metres(back), Some(2.7432));
    assert_eq!(
        back.gauge.map(|gauge| gauge.value.to_string()),
        Some("16 AWG".to_owned())
    );
    assert_eq!(
        back.cable
            .map(|cable| system.cables[cable.index()].name.as_str()),
        Some("duplex")
    );
    assert_eq!(back.circuit, Some(crate::system::CircuitId(0)));
    assert_eq!(metres(conductor(&system, "W1")), None);
}

#[test]
fn bare_names_take_the_studs_that_nobody_names() {
    let system = boat(&format!(
        "{SMALL}runs:\n  W1: {{from: lamp.-, to: negative}}\n  W2: {{from: house.-, to: negative.1}}\n  \
         W3: {{from: stereo.-, to: negative}}\n  W4: {{from: block.negative, to: negative}}\n  W5: {{from: plug.1a, to: negative}}\n"
    ));
    assert_eq!(
        ends(&system),
        [
            "W1 lamp.- > negative.2",
            "W2 house.- > negative.1",
            "W3 stereo.- > negative.3",
            "W4 block.negative.1 > negative.1",
            "W5 plug.1a > negative.2",
        ]
    );
    let landed: Vec<usize> = system
        .components
        .iter()
        .find(|part| part.name == "negative")
        .map(|part| {
            let terminals = part.terminals.iter();
            terminals
                .map(|one| system.terminals[one.index()].conductors.len())
                .collect()
        })
        .unwrap_or_default();
    assert_eq!(landed, [2, 2, 1]);
}

#[test]
fn parts_of_unknown_size_grow_as_they_are_named() {
    let system = boat(
        "boat: {system: 12 V}\npolicy: {insulation: 105 °C}\n\
         buses: {bar: {}}\nisolators: {split: {}}\nconnectors: {plug: {}}\n\
         chargers: {shore: {}, apart: {isolated-outputs: true}}\n\
         runs:\n  W1: {from: bar.3, to: split.in}\n  W2: {from: bar, to: split.2}\n  W3: {from: plug.4a, to: bar}\n  \
         W4: {from: shore.1+, to: plug.4b}\n  W5: {from: apart.2-, to: shore.-}\n  W6: {from: apart.2+, to: bar}\n",
    );
    assert_eq!(
        ends(&system),
        [
            "W1 bar.3 > split.in",
            "W2 bar.1 > split.2",
            "W3 plug.4a > bar.2",
            "W4 shore.1+ > plug.4b",
            "W5 apart.2- > shore.-",
            "W6 apart.2+ > bar.4",
        ]
    );
    assert_eq!(
        inner_links(&system),
        [
            "diode 0.6: split.in > split.2",
            "mate 4: plug.4a > plug.4b",
            "source shore.1: shore.1+ > shore.-",
            "source apart.2: apart.2+ > apart.2-",
        ]
    );
}

#[test]
fn banks_come_from_records_and_from_batteries() {
    let system = boat(
        "boat: {system: 36 V}\n\
         banks: {bow: {strings: [[low, middle, top]], isolated: true, mid-taps: low}, house: {}, tender: {purpose: start}}\n\
         batteries: {low: {}, middle: {voltage: 13 V}, top: {bank: bow}, one: {bank: house}, two: {bank: house},\n  \
           engine-start: {}, t: {bank: tender}}\n",
    );
    let banks: Vec<(String, Purpose, Vec<Vec<&str>>, bool)> = system
        .banks
        .iter()
        .map(|bank| {
            let strings = bank.strings.iter().map(|string| {
                let sources = string.iter();
                sources
                    .map(|id| system.sources[id.index()].name.as_str())
                    .collect()
            });
            (
                bank.name.clone(),
                bank.purpose.clone(),
                strings.collect(),
                bank.strings_given,
            )
        })
        .collect();
    assert_eq!(
        banks,
        [
            (
                "bow".to_owned(),
                Purpose::Other("bow".to_owned()),
                vec![vec!["low", "middle", "top"]],
                true
            ),
            (
                "house".to_owned(),
                Purpose::House,
                vec![vec!["one"], vec!["two"]],
                false
            ),
            ("tender".to_owned(), Purpose::Start, vec![vec!["t"]], false),
            (
                "engine-start".to_owned(),
                Purpose::Start,
                vec![vec!["engine-start"]],
                false
            ),
        ]
    );
    let volts: Vec<f64> = system
        .sources
        .iter()
        .map(|source| source.nominal.value.0)
        .collect();
    assert_eq!(volts, [12.0, 13.0, 12.0, 36.0, 36.0, 36.0, 36.0]);
    assert!(system.sources.iter().all(|source| source.bank.is_some()));
    assert_eq!(system.banks[0].mid_taps.len(), 1);
}

#[test]
fn the_nominal_voltage_is_written_stated_or_assumed() {
    let nominal = |text: &str| {
        let (system, findings) = told(text);
        let noted = findings.iter().any(|finding| finding.rule == "NF080");
        (system.boat.nominal.0, noted)
    };
    assert_eq!(
        nominal("boat: {system: 24 V}\nbatteries: {a: {voltage: 12 V}}\n"),
        (24.0, false)
    );
    assert_eq!(nominal("batteries: {a: {voltage: 24 V}}\n"), (24.0, false));
    assert_eq!(
        nominal(
            "banks: {s: {strings: [[a, b]]}}\nbatteries: {a: {voltage: 12 V}, b: {voltage: 12 V}}\n"
        ),
        (24.0, false)
    );
    assert_eq!(
        nominal("batteries: {a: {voltage: 12 V}, b: {voltage: 36 V}}\n"),
        (12.0, true)
    );
    assert_eq!(
        nominal("batteries: {a: {}}\nloads: {l: {voltage: 24 V}}\n"),
        (24.0, false)
    );
    assert_eq!(nominal("batteries: {a: {}}\n"), (12.0, true));
}

#[test]
fn practice_decides_the_defaults() {
    let us = boat("boat: {system: 12 V}\n").boat;
    let metric = boat("boat: {system: 12 V, practice: metric}\n").boat;
    assert_eq!(
        (us.practice, metric.practice),
        (Practice::Us, Practice::Metric)
    );
    assert_eq!(
        (us.policy.panel_leg, metric.policy.panel_leg),
        (Metres(0.3048), Metres(0.3))
    );
    assert_eq!(
        format!("{:?} {:?} {:?}", us.units, us.paper, us.policy.overcurrent),
        "Feet Letter Lawful"
    );
    assert_eq!(
        format!(
            "{:?} {:?} {:?}",
            metric.units, metric.paper, metric.policy.overcurrent
        ),
        "Metres A4 Strict"
    );
    // ABYC E-11 11.14.2.6 and ISO 10133 4.7: 3 % and 10 %.
    for policy in [&us.policy, &metric.policy] {
        assert_eq!(
            (
                policy.critical_drop_percent.to_bits(),
                policy.ordinary_drop_percent.to_bits()
            ),
            (3f64.to_bits(), 10f64.to_bits())
        );
    }
}

const ROUTED: &str = "\
boat: {system: 12 V}
policy: {insulation: 105 °C}
zones: {cabin: {}, bilge: {wet: bilge}, bow: {}}
points: {panel: {zone: cabin}, step: {zone: cabin}, peak: {zone: bow}}
ways:
  down: {between: [panel, step], length: 4 ft, zone: bilge, bundle: trunk, sheathed: true}
  along: {between: [step, peak], length: 10 ft, bundle: bow-loom, slack: 6 in}
bundles: {trunk: {}, bow-loom: {zone: bow, sheathed: true}}
batteries: {house: {at: panel}}
fuses: {main: {rating: 10 A, at: panel}}
loads: {lamp: {draw: 1 A, at: peak}}
";

#[test]
fn a_run_without_a_length_takes_the_shortest_way() {
    let system = boat(&format!(
        "{ROUTED}runs:\n  W1: {{from: main.out, to: lamp.+}}\n  W2: {{from: lamp.-, to: house.-, length: 20 ft}}\n  \
         W3: {{from: house.+, to: main.in}}\n"
    ));
    let w1 = conductor(&system, "W1");
    assert_eq!(metres(w1), Some(4.2672));
    assert_eq!(w1.length.map(|length| length.origin), Some(Origin::Derived));
    let stretches: Vec<(Option<f64>, Option<&str>, Option<&str>)> = w1
        .stretches
        .iter()
        .map(|one| {
            (
                one.length.map(|length| length.0),
                one.zone
                    .map(|zone| system.zones[zone.index()].name.as_str()),
                one.bundle
                    .map(|bundle| system.bundles[bundle.index()].name.as_str()),
            )
        })
        .collect();
    assert_eq!(
        stretches,
        [
            (Some(1.2192), Some("bilge"), Some("trunk")),
            (Some(3.048), Some("bow"), Some("bow-loom")),
            (None, Some("cabin"), None),
        ]
    );
    let zones: Vec<&str> = w1
        .zones
        .iter()
        .map(|zone| system.zones[zone.index()].name.as_str())
        .collect();
    assert_eq!(zones, ["cabin", "bilge", "bow"]);
    assert_eq!(
        w1.sheathed.map(|sheath| (sheath.value, sheath.origin)),
        Some((true, Origin::Derived))
    );
    // A length that is written wins; the places still follow the way, and come in the order of travel.
    let w2 = conductor(&system, "W2");
    assert_eq!(metres(w2), Some(6.096));
    let ways: Vec<Option<&str>> = w2
        .stretches
        .iter()
        .map(|one| one.way.map(|way| system.ways[way.index()].name.as_str()))
        .collect();
    assert_eq!(ways, [Some("along"), Some("down"), None]);
    assert!(w2.stretches.iter().all(|one| one.length.is_none()));
    // Both ends at one point: a panel leg, told in a note.
    let w3 = conductor(&system, "W3");
    assert_eq!(
        (metres(w3), w3.length.map(|length| length.origin)),
        (Some(0.3048), Some(Origin::Assumed))
    );
}

/// Two ways lead from the panel to the helm and two on to the bow.
const RING: &str = "\
boat: {system: 12 V}
policy: {insulation: 105 °C}
points: {panel: {}, helm: {}, peak: {}}
ways:
  port: {between: [panel, helm], length: 4 ft}
  starboard: {between: [panel, helm], length: 5 ft}
  low: {between: [helm, peak], length: 6 ft}
  high: {between: [helm, peak], length: 8 ft}
batteries: {house: {at: panel}}
fuses: {main: {rating: 10 A, at: panel}}
switches: {rocker: {rating: 10 A, at: helm}}
loads: {lamp: {draw: 1 A, at: peak}}
";

#[test]
fn each_leg_of_a_circuit_may_pass_ways_of_its_own() {
    let ways = |circuit: &str| -> Vec<(String, Vec<String>)> {
        let system = boat(&format!(
            "{RING}circuits:\n  C1: {{feed: main.out, switch: rocker, load: lamp, return: house.-, {circuit}}}\n"
        ));
        system
            .conductors
            .iter()
            .map(|it| {
                let names = it.stretches.iter().filter_map(|one| one.way);
                let names = names.map(|way| system.ways[way.index()].name.clone());
                (it.number.clone(), names.collect())
            })
            .collect()
    };
    let told = |circuit: &str, expected: [(&str, &[&str]); 3]| {
        let expected: Vec<(String, Vec<String>)> = expected
            .iter()
            .map(|(number, ways)| {
                let ways = ways.iter().map(|&way| way.to_owned()).collect();
                ((*number).to_owned(), ways)
            })
            .collect();
        assert_eq!(ways(circuit), expected, "{circuit}");
    };
    told(
        "gauge: 14 AWG",
        [
            ("C1-A", &["port"]),
            ("C1-B", &["low"]),
            ("C1-N", &["low", "port"]),
        ],
    );
    // The return goes the same way the other way round, unless it is told otherwise.
    told(
        "via: [[starboard], [high]]",
        [
            ("C1-A", &["starboard"]),
            ("C1-B", &["high"]),
            ("C1-N", &["high", "starboard"]),
        ],
    );
    told(
        "via: [[], high], return-via: [low, starboard]",
        [
            ("C1-A", &["port"]),
            ("C1-B", &["high"]),
            ("C1-N", &["low", "starboard"]),
        ],
    );
}

#[test]
fn without_ways_what_is_not_known_is_taken_at_its_worst() {
    let system = boat(
        "boat: {system: 12 V}\npolicy: {insulation: 105 °C}\nzones: {cabin: {}, engine-box: {}, bow: {}}\n\
         bundles: {fixed: {zone: bow, sheathed: true}}\n\
         fuses: {main: {zone: cabin}, second: {zone: cabin}}\nloads: {lamp: {zone: engine-box}}\n\
         runs:\n  W1: {from: main.out, to: lamp.+, bundle: [fixed, loose], length: 2 m}\n  \
         W2: {from: main.in, to: second.in, length: 2 m}\n  W3: {from: second.out, to: lamp.-, passes: bow}\n",
    );
    let places = |number: &str| -> Vec<String> {
        let name = |zone: Option<crate::system::ZoneId>| {
            zone.map_or("-", |zone| system.zones[zone.index()].name.as_str())
        };
        conductor(&system, number)
            .stretches
            .iter()
            .map(|one| {
                let bundle = one
                    .bundle
                    .map_or("-", |bundle| system.bundles[bundle.index()].name.as_str());
                format!("{bundle} in {}", name(one.zone))
            })
            .collect()
    };
    assert_eq!(
        places("W1"),
        [
            "fixed in bow",
            "loose in cabin",
            "loose in bow",
            "loose in engine-box"
        ]
    );
    assert_eq!(conductor(&system, "W1").sheathed, None);
    assert_eq!(places("W2"), ["- in cabin"]);
    assert_eq!(
        conductor(&system, "W2").stretches[0].length,
        Some(Metres(2.0))
    );
    assert_eq!(places("W3"), ["- in cabin", "- in bow", "- in engine-box"]);
}

#[test]
fn halves_of_a_connector_have_places_of_their_own() {
    let system = boat(
        "boat: {system: 12 V}\npolicy: {insulation: 105 °C}\nzones: {cabin: {}, mast: {}}\n\
         connectors: {plug: {cavities: 1, zone: cabin, b: {zone: mast}}}\nfuses: {main: {zone: cabin}}\nloads: {lamp: {zone: mast}}\n\
         runs: {W1: {from: main.out, to: plug.1a}, W2: {from: plug.1b, to: lamp.+}}\n",
    );
    assert_eq!(conductor(&system, "W1").zones.len(), 1);
    assert_eq!(conductor(&system, "W2").zones.len(), 1);
    assert_ne!(
        conductor(&system, "W1").zones,
        conductor(&system, "W2").zones
    );
}

#[test]
fn insulation_is_written_of_the_type_of_the_policy_or_assumed() {
    let text = |policy: &str| {
        format!(
            "boat: {{system: 12 V}}\n{policy}batteries: {{house: {{}}}}\nloads: {{lamp: {{}}}}\n\
             runs:\n  W1: {{from: house.+, to: lamp.+, insulation: 75 °C}}\n  W2: {{from: house.-, to: lamp.-, wire-type: GPT}}\n  \
             W3: {{from: house.-, to: lamp.-}}\n"
        )
    };
    let ratings = |policy: &str| -> Vec<(Celsius, Origin)> {
        let system = boat(&text(policy));
        let conductors = system.conductors.iter();
        conductors
            .map(|one| (one.insulation.value, one.insulation.origin))
            .collect()
    };
    assert_eq!(
        ratings(""),
        [
            (Celsius(75.0), Origin::Written),
            (Celsius(80.0), Origin::Derived),
            (Celsius(105.0), Origin::Assumed),
        ]
    );
    assert_eq!(
        ratings("policy: {insulation: 90 °C}\n")[2],
        (Celsius(90.0), Origin::Written)
    );
}

#[test]
fn battery_switches_are_recognised_by_what_they_join() {
    let system = boat(
        "boat: {system: 12 V}\npolicy: {insulation: 105 °C}\nbatteries: {start: {}, house: {}}\n\
         switches:\n  \
           selector: {terminals: [start, house, feed], positions: {\"off\": [], both: {closes: [[start, house, feed]], joins-banks: true}, house: [[house, feed]]}}\n  \
           lamp-switch: {}\n  float: {kind: float}\n  parallel: {}\n  masthead: {kind: panel, positions: {\"on\": [[in, out]], \"Off\": []}}\n\
         fuses: {main: {}}\nfuse-blocks: {block: {ways: {1: 5 A}}}\nloads: {lamp: {}, pump: {}}\n\
         runs:\n  W1: {from: start.+, to: selector.start}\n  W2: {from: house.+, to: main.in}\n  W3: {from: main.out, to: selector.house}\n  \
         W4: {from: selector.feed, to: block.feed}\n  W5: {from: block.1, to: lamp-switch.in}\n  W6: {from: lamp-switch.out, to: lamp.+}\n  \
         W7: {from: house.+, to: float.in}\n  W8: {from: float.out, to: pump.+}\n  W9: {from: start.+, to: parallel.in}\n  W10: {from: parallel.out, to: house.+}\n",
    );
    let gears: Vec<(&str, GearKind, bool, &str)> = system
        .gears
        .iter()
        .map(|gear| {
            let normal = &gear.positions[usize::from(gear.normal)].name;
            (
                gear.name.as_str(),
                gear.kind,
                gear.kind_given,
                normal.as_str(),
            )
        })
        .collect();
    assert_eq!(
        gears,
        [
            ("selector", GearKind::BatterySwitch, false, "house"),
            ("lamp-switch", GearKind::PanelSwitch, false, "off"),
            ("float", GearKind::Float, true, "off"),
            ("parallel", GearKind::BatterySwitch, false, "on"),
            ("masthead", GearKind::PanelSwitch, true, "Off"),
        ]
    );
    assert_eq!(system.gears[0].off, Some(0));
    assert_eq!(system.gears[4].off, Some(1));
    assert!(system.gears[2].automatic);
}

#[test]
fn a_scenario_closes_what_its_loads_need() {
    let system = boat(
        "boat: {system: 12 V}\npolicy: {insulation: 105 °C}\nbatteries: {house: {}}\n\
         switches: {pump-switch: {kind: panel}, coil-button: {kind: push}, lamp-switch: {kind: panel}}\n\
         relays: {pump-relay: {contacts: make, coil-draw: 0.2 A}}\n\
         fuse-blocks: {block: {ways: {1: 15 A, 2: 1 A, 3: 5 A}}}\nbuses: {negative: {}}\n\
         loads: {pump: {draw: 10 A}, lamp: {draw: 1 A}, starter: {draw: 150 A, kind: starter}}\n\
         alternators: {engine: {}}\nconverters: {booster: {isolated: true, input-current: 20 A}}\nchargers: {shore: {outputs: {1: {}, 2: {}}}}\n\
         circuits:\n  C1: {feed: block.1, through: [pump-switch, pump-relay], load: pump, return: negative}\n  \
         C2: {feed: block.2, switch: coil-button, load: pump-relay, return: negative}\n  \
         C3: {feed: block.3, switch: lamp-switch, load: lamp, return: negative}\n\
         scenarios:\n  pumping: {on: pump}\n  dark: {on: all, positions: {lamp-switch: \"off\"}, engine: running}\n  \
         shore: {on: lamp, charging: [shore.2, booster]}\n",
    );
    let of = |index: usize| {
        let scenario = &system.scenarios[index];
        let positions: Vec<String> = scenario
            .positions
            .iter()
            .map(|&(gear, position)| {
                let gear = &system.gears[gear.index()];
                format!(
                    "{} {}",
                    gear.name,
                    gear.positions[usize::from(position)].name
                )
            })
            .collect();
        let on: Vec<&str> = scenario
            .on
            .iter()
            .map(|load| system.loads[load.index()].name.as_str())
            .collect();
        let charging: Vec<&str> = scenario
            .charging
            .iter()
            .map(|id| system.sources[id.index()].name.as_str())
            .collect();
        (positions.join(", "), on.join(", "), charging.join(", "))
    };
    let texts = |a: &str, b: &str, c: &str| (a.to_owned(), b.to_owned(), c.to_owned());
    assert_eq!(
        of(0),
        texts(
            "pump-switch on, coil-button on, pump-relay energised",
            "pump-relay.coil, pump",
            ""
        )
    );
    assert_eq!(
        of(1),
        texts(
            "pump-switch on, coil-button on, lamp-switch off, pump-relay energised",
            "pump-relay.coil, pump, lamp, booster.in",
            "engine"
        )
    );
    assert_eq!(
        of(2),
        texts("lamp-switch on", "lamp, booster.in", "shore.2, booster")
    );
}

#[test]
fn loads_know_their_drop_class() {
    let system = boat(
        "boat: {system: 12 V}\nbatteries: {house: {}}\n\
         loads: {nav: {service: navigation-light}, pump: {vital: true}, fan: {}, radio: {kind: electronics}, fridge: {drop: 5 %}, horn: {drop: critical}}\n",
    );
    let classes: Vec<(DropClass, Origin)> = system
        .loads
        .iter()
        .map(|load| (load.drop.value, load.drop.origin))
        .collect();
    assert_eq!(
        classes,
        [
            (DropClass::Critical, Origin::Derived),
            (DropClass::Critical, Origin::Derived),
            (DropClass::Ordinary, Origin::Derived),
            (DropClass::Critical, Origin::Derived),
            (DropClass::Percent(5.0), Origin::Written),
            (DropClass::Critical, Origin::Written),
        ]
    );
}

#[test]
fn groups_that_never_run_together_name_circuits_and_wires() {
    let text = |groups: &str| {
        format!(
            "{SMALL}bundles: {{loom: {{never-together: {groups}}}}}\n\
             circuits:\n  C1: {{feed: block.1, load: lamp, return: negative}}\n  C2: {{number: K7, feed: block.2, load: stereo.main, return: negative}}\n\
             runs:\n  W1: {{from: house.+, to: block.feed}}\n"
        )
    };
    let groups = |groups: &str| -> Vec<Vec<u32>> {
        let system = boat(&text(groups));
        let never = system.bundles[0].never_together.iter();
        never
            .map(|group| group.iter().map(|id| id.0).collect())
            .collect()
    };
    assert_eq!(groups("[C1, K7]"), [vec![0, 1, 2, 3]]);
    assert_eq!(
        groups("[[C1, C2], [C1-A, W1]]"),
        [vec![0, 1, 2, 3], vec![0, 4]]
    );
}

#[test]
fn a_spare_core_needs_one_end_only() {
    let system = boat(&format!(
        "{SMALL}runs:\n  W1: {{from: plug.4a, spare: true}}\n"
    ));
    let spare = conductor(&system, "W1");
    assert!(spare.spare);
    assert_eq!(
        system.node_of(spare.to),
        system.terminals[spare.to.index()].node
    );
    assert_eq!(
        system.nodes[system.node_of(spare.to).index()].links.len(),
        1
    );
}

#[test]
fn parts_larger_than_real_ones_are_cut() {
    let mut text = String::from("switches:\n  big:\n    terminals: [");
    for index in 0..500 {
        let _ = write!(text, "t{index}, ");
    }
    text.push_str("]\n    positions: {");
    for index in 0..100 {
        let _ = write!(text, "p{index}: [[t0, t1]], ");
    }
    text.push_str("}\nfuse-blocks:\n  block: {ways: {");
    for index in 0..300 {
        let _ = write!(text, "{index}: 1 A, ");
    }
    text.push_str("}}\n");
    let (system, findings) = told(&text);
    let cut = findings
        .iter()
        .filter(|finding| finding.rule == "NF067")
        .count();
    assert_eq!(cut, 3);
    assert_eq!(system.components[0].terminals.len(), 400);
    assert_eq!(system.gears[0].positions.len(), 64);
    assert_eq!(system.devices.len(), 200);
}

#[test]
fn endless_routes_are_refused() {
    let points = 1500;
    let mut text = String::from("boat: {system: 12 V}\npoints: {");
    for index in 0..points {
        let _ = write!(text, "p{index}: {{}}, ");
    }
    text.push_str("}\nways: {");
    for index in 1..points {
        let _ = write!(
            text,
            "w{index}: {{between: [p{}, p{index}], length: 1 m}}, ",
            index - 1
        );
    }
    let _ = write!(
        text,
        "}}\nsplices: {{a: {{at: p0}}, b: {{at: p{}}}}}\nruns:\n",
        points - 1
    );
    for index in 0..1000 {
        let _ = writeln!(text, "  W{index}: {{from: a, to: b}}");
    }
    let (system, findings) = told(&text);
    assert!(findings.iter().any(|finding| finding.rule == "NF072"));
    assert_eq!(system.conductors.len(), 1000);
    assert!(
        system
            .conductors
            .iter()
            .all(|one| metres(one) == Some(1499.0))
    );
}

#[test]
fn a_thousand_unknown_names_cost_little_and_are_told_once_each() {
    let mut text = String::from("boat: {system: 12 V}\nsplices: {");
    for index in 0..2000 {
        let _ = write!(text, "splice{index}: {{}}, ");
    }
    text.push_str("}\nruns:\n");
    for index in 0..700 {
        let _ = writeln!(
            text,
            "  W{index}: {{from: splise{index}, to: splice{index}}}"
        );
    }
    let (_, findings) = told(&text);
    let unknown: Vec<&Diagnostic> = findings
        .iter()
        .filter(|finding| finding.rule == "NF030")
        .collect();
    assert_eq!(unknown.len(), 700);
    assert_eq!(unknown[0].help, "did you mean `splice0`?");
}

#[test]
fn many_notes_make_no_fault() {
    let mut text = format!("{SMALL}circuits:\n");
    for index in 0..1200 {
        let _ = writeln!(
            text,
            "  C{index}: {{feed: block.1, switch: lamp-switch, load: lamp, return: block, length: 2 m}}"
        );
    }
    let (_, findings) = told(&text);
    assert!(
        findings
            .iter()
            .all(|finding| finding.severity == Severity::Note)
    );
    assert_eq!(findings.len(), source::MAX_FINDINGS);
}

#[test]
fn the_same_file_gives_the_same_boat() {
    let text = format!(
        "{ROUTED}runs:\n  W1: {{from: main.out, to: lamp.+}}\n  W2: {{from: lamp.-, to: hous.-, length: 20}}\n"
    );
    assert_eq!(format!("{:?}", told(&text)), format!("{:?}", told(&text)));
}

#[test]
fn a_string_of_batteries_without_voltages_is_told() {
    let volts = |batteries: &str| {
        let (system, findings) = told(&format!(
            "boat: {{system: 12 V}}\nbanks: {{bow: {{strings: [[a, b]]}}}}\nbatteries: {{{batteries}}}\n"
        ));
        let noted = findings.iter().any(|finding| finding.rule == "NF080");
        let all: Vec<f64> = system
            .sources
            .iter()
            .map(|source| source.nominal.value.0)
            .collect();
        (all, noted)
    };
    assert_eq!(volts("a: {}, b: {}"), (vec![6.0, 6.0], true));
    assert_eq!(
        volts("a: {voltage: 12 V}, b: {voltage: 12 V}"),
        (vec![12.0, 12.0], false)
    );
    // 14.7 V would burn a battery of 6 V: these are two of 12 V.
    assert_eq!(
        volts("a: {max-charge-voltage: 14.7 V}, b: {max-charge-voltage: 14.7 V}"),
        (vec![12.0, 12.0], true)
    );
    assert_eq!(
        volts("a: {max-charge-voltage: 7.4 V}, b: {max-charge-voltage: 7.4 V}"),
        (vec![6.0, 6.0], true)
    );
}
