//! The schematic: everything is drawn, nothing lies over anything else, and it is quick.

use loomwright::drawing::scene::{OFFSHEET, Role};
use loomwright::drawing::{Sheet, SheetOptions, SheetSize, check, schematic};
use loomwright::export::svg;
use loomwright::system::System;
use loomwright::{netlist, resolve, source};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

fn boat(text: &str) -> System {
    let reading = source::read(text.as_bytes());
    let (netlist, _) = netlist::read(&reading);
    let netlist = netlist.expect("the file is a netlist");
    let document = reading.document.as_ref().expect("the file is a document");
    resolve::resolve(&netlist, document).0
}

fn draw(system: &System, size: SheetSize) -> Vec<Sheet> {
    let options = SheetOptions {
        size,
        fingerprint: "0123456789abcdef".to_owned(),
    };
    schematic(system, &options)
}

/// Every component and both ends of every conductor are drawn, once, and every broken-off end names its place.
fn assert_complete(name: &str, system: &System, sheets: &[Sheet]) {
    let mut parts = BTreeSet::new();
    let mut ends: BTreeMap<&str, (usize, usize)> = BTreeMap::new();
    for group in sheets.iter().flat_map(|sheet| &sheet.groups) {
        match &group.role {
            Role::Part {
                name: part, kind, ..
            } => {
                parts.insert(part.as_str());
                if *kind == OFFSHEET {
                    assert!(
                        group.title.contains('/'),
                        "{name}: {} names no place",
                        group.title
                    );
                }
            }
            Role::Wire {
                number, from, to, ..
            } => {
                let count = ends.entry(number).or_default();
                count.0 += usize::from(from.is_some());
                count.1 += usize::from(to.is_some());
            }
            _ => {}
        }
    }
    for component in &system.components {
        assert!(
            parts.contains(component.name.as_str()),
            "{name}: {} is not drawn",
            component.name
        );
    }
    for conductor in &system.conductors {
        let found = ends.get(conductor.number.as_str()).copied();
        assert_eq!(
            found,
            Some((1, 1)),
            "{name}: ends of wire {}",
            conductor.number
        );
    }
}

/// Nothing overlaps on any sheet.
fn assert_clear(name: &str, sheets: &[Sheet]) {
    for sheet in sheets {
        let counts = check::check(sheet);
        assert_eq!(
            counts.overlaps(),
            0,
            "{name}, sheet {}: {:#?}",
            sheet.number,
            counts.faults
        );
        assert!(
            counts.smallest_label.is_none_or(|size| size >= 2.5),
            "{name}: small letters"
        );
    }
}

/// Writes sheets where a variable asks for it, to be looked at.
fn keep(name: &str, size: SheetSize, sheets: &[Sheet]) {
    if let Ok(to) = std::env::var("LOOMWRIGHT_DRAWINGS") {
        for sheet in sheets {
            let file = Path::new(&to).join(format!("{name}-{size:?}-{}.svg", sheet.number));
            std::fs::write(file, svg::write(sheet)).expect("the directory can be written to");
        }
    }
}

#[test]
fn examples_are_complete_and_clear() {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let mut files: Vec<_> = std::fs::read_dir(dir)
        .expect("the examples are there")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|kind| kind == "yaml"))
        .collect();
    files.sort();
    assert!(files.len() >= 5);
    for path in files {
        let name = path
            .file_stem()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        let system = boat(&std::fs::read_to_string(&path).expect("a text file"));
        for size in [
            SheetSize::A3,
            SheetSize::A4,
            SheetSize::Tabloid,
            SheetSize::Letter,
        ] {
            let sheets = draw(&system, size);
            keep(&name, size, &sheets);
            assert_complete(&name, &system, &sheets);
            assert_clear(&name, &sheets);
        }
    }
}

/// Boats that are odd in one way each; every one of them must be drawn whole.
const ODD: &[(&str, &str)] = &[
    (
        "no-bus",
        "
batteries: {b: {voltage: 12 V}}
fuses: {f: {rating: 10 A}}
switches: {s: {}}
loads: {lamp: {draw: 1 A, kind: lamp}}
runs:
  W1: {from: b.+, to: f.in}
  W2: {from: f.out, to: s.in}
  W3: {from: s.out, to: lamp.+}
  W4: {from: lamp.-, to: b.-}
",
    ),
    ("nothing-at-all", "boat: {name: Hull}"),
    (
        "unconnected",
        "
batteries: {b: {}}
buses: {plus: {polarity: positive}, minus: {polarity: negative, studs: 4}}
fuse-blocks: {block: {ways: {1: 5 A, 2: spare}, negative: {studs: 4}}}
switches: {selector: {kind: battery, terminals: [one, two, feed], positions: {one: [[one, feed]], two: [[two, feed]]}}}
relays: {r: {contacts: changeover}}
combiners: {c: {}}
isolators: {i: {outputs: 2}}
chargers: {ch: {outputs: {1: {}, 2: {}}}}
converters: {cv: {}}
solar: {sun: {}}
alternators: {a: {}}
instruments: {v: {kind: voltmeter, senses: [s1, s2]}}
shunts: {sh: {}}
connectors: {plug: {cavities: 12}}
splices: {joint: {}}
grounds: {hull: {kind: hull}}
fuses: {f: {}}
breakers: {br: {as-switch: true}}
loads: {lamp: {kind: lamp}, radio: {inputs: {main: {}, memory: {}}}}
",
    ),
    (
        "half-connected",
        "
batteries: {b: {}}
loads: {lamp: {kind: lamp}, horn: {kind: horn}, heater: {kind: heater}}
splices: {joint: {}}
connectors: {plug: {cavities: 2}}
runs:
  W1: {from: b.+, to: lamp.+}
  W2: {from: horn.-, to: b.-}
  W3: {from: heater.+, to: joint}
  W4: {from: plug.1a, to: joint}
  W5: {from: plug.2b, to: joint}
  W6: {from: b.+, to: b.+}
  W7: {from: lamp.+, to: lamp.+}
",
    ),
    (
        "parallel-wires",
        "
batteries: {b1: {bank: house}, b2: {bank: house}}
buses: {plus: {polarity: positive, studs: 8}, minus: {polarity: negative, studs: 8}}
loads: {winch: {draw: 80 A, kind: motor}}
runs:
  A1: {from: b1.+, to: b2.+}
  A2: {from: b1.-, to: b2.-}
  A3: {from: b1.+, to: plus}
  A4: {from: b1.+, to: plus}
  A5: {from: minus, to: b2.-}
  A6: {from: minus, to: b2.-}
  L1: {from: plus, to: winch.+}
  L2: {from: plus, to: winch.+}
  L3: {from: winch.-, to: minus}
  L4: {from: winch.-, to: minus}
",
    ),
    (
        "two-output-selector",
        "
batteries: {one: {bank: start}, two: {bank: house}, three: {bank: bow}}
switches:
  selector:
    kind: battery
    terminals: [a, b, c, engine, house]
    positions: {'off': [], normal: [[a, engine], [b, house]], all: [[a, b, c, engine, house]]}
buses: {minus: {polarity: negative, studs: 12}}
fuse-blocks: {block: {ways: {1: 5 A, 2: 5 A}}}
chargers: {shore: {outputs: {1: {}, 2: {}, 3: {}}}}
isolators: {split: {outputs: 3}}
alternators: {alt: {}}
loads: {starter: {kind: starter}, lamp: {kind: lamp}, radio: {kind: electronics}}
runs:
  R1: {from: one.+, to: selector.a}
  R2: {from: two.+, to: selector.b}
  R3: {from: three.+, to: selector.c}
  R4: {from: selector.engine, to: starter.+}
  R5: {from: selector.house, to: block.feed}
  R6: {from: block.1, to: lamp.+}
  R7: {from: block.2, to: radio.+}
  N1: {from: one.-, to: minus}
  N2: {from: two.-, to: minus}
  N3: {from: three.-, to: minus}
  N4: {from: starter.-, to: minus}
  N5: {from: lamp.-, to: minus}
  N6: {from: radio.-, to: minus}
  C1: {from: shore.1+, to: one.+}
  C2: {from: shore.2+, to: two.+}
  C3: {from: shore.3+, to: three.+}
  C4: {from: shore.-, to: minus}
  I1: {from: alt.+, to: split.in}
  I2: {from: split.1, to: one.+}
  I3: {from: split.2, to: two.+}
  I4: {from: split.3, to: three.+}
  I5: {from: alt.-, to: minus}
",
    ),
    (
        "long-names",
        "
batteries: {the-battery-under-the-port-quarter-berth: {}}
fuses: {the-fuse-beside-the-battery-under-the-port-quarter-berth: {rating: 100 A}}
switches: {averyveryverylongswitchnamewithoutanybreak: {}}
loads: {the-second-reading-lamp-over-the-chart-table: {name: 'Reading lamp over the chart table <left> & \"right\"', kind: lamp, draw: 1 A}}
runs:
  THE-FIRST-CONDUCTOR-OF-THE-READING-LAMP: {from: the-battery-under-the-port-quarter-berth.+, to: the-fuse-beside-the-battery-under-the-port-quarter-berth.in, gauge: 1/0 AWG, colour: YE/RD}
  W2: {from: the-fuse-beside-the-battery-under-the-port-quarter-berth.out, to: averyveryverylongswitchnamewithoutanybreak.in}
  W3: {from: averyveryverylongswitchnamewithoutanybreak.out, to: the-second-reading-lamp-over-the-chart-table.+}
  W4: {from: the-second-reading-lamp-over-the-chart-table.-, to: the-battery-under-the-port-quarter-berth.-, colour: chartreuse}
",
    ),
    (
        "senses",
        "
batteries: {b: {bank: house}}
shunts: {sh: {rating: 300 A, voltage: 50 mV}}
buses: {plus: {polarity: positive, studs: 8}, minus: {polarity: negative, studs: 8}}
instruments: {monitor: {kind: monitor, draw: 10 mA, senses: [shunt-battery, shunt-system, volts]}, v: {kind: voltmeter, draw: 1 mA}}
fuse-blocks: {block: {ways: {1: 5 A, 2: 5 A}, negative: {studs: 6}}}
loads: {lamp: {kind: lamp}}
runs:
  P1: {from: b.+, to: plus}
  P2: {from: plus, to: block.feed}
  P3: {from: block.1, to: monitor.+}
  P4: {from: block.2, to: lamp.+}
  P5: {from: plus, to: v.+}
  N1: {from: b.-, to: sh.battery}
  N2: {from: sh.system, to: minus}
  N3: {from: monitor.-, to: block.negative}
  N4: {from: lamp.-, to: block.negative}
  N5: {from: block.negative, to: minus}
  N6: {from: v.-, to: minus}
  S1: {from: sh.battery-sense, to: monitor.shunt-battery, sense: true}
  S2: {from: sh.system-sense, to: monitor.shunt-system, sense: true}
  S3: {from: b.+, to: monitor.volts, sense: true}
",
    ),
    (
        "rings-and-chains",
        "
batteries: {b: {}}
splices: {s1: {}, s2: {}, s3: {}}
buses: {minus: {polarity: negative, studs: 20}, bond: {polarity: bonding, studs: 4}}
grounds: {engine: {kind: engine}, hull: {kind: hull}}
loads: {l1: {kind: lamp}, l2: {kind: lamp}, l3: {kind: lamp}}
runs:
  W1: {from: b.+, to: s1}
  W2: {from: s1, to: s2}
  W3: {from: s2, to: s3}
  W4: {from: s3, to: s1}
  W5: {from: s1, to: l1.+}
  W6: {from: s2, to: l2.+}
  W7: {from: s3, to: l3.+}
  N1: {from: l1.-, to: l2.-}
  N2: {from: l2.-, to: l3.-}
  N3: {from: l3.-, to: l1.-}
  N4: {from: l1.-, to: minus}
  N5: {from: minus, to: engine}
  N6: {from: engine, to: hull}
  N7: {from: hull, to: minus}
  N8: {from: bond, to: hull}
  N9: {from: minus, to: b.-}
",
    ),
];

#[test]
fn odd_boats_are_complete_and_clear() {
    for (name, text) in ODD {
        let system = boat(&format!("loomwright: 1\n{text}\n"));
        for size in [SheetSize::A3, SheetSize::A4] {
            let sheets = draw(&system, size);
            keep(name, size, &sheets);
            assert_complete(name, &system, &sheets);
            assert_clear(name, &sheets);
        }
    }
}
