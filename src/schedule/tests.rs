//! Lists of small boats, worked out by hand, and of every example.

use super::*;
use crate::source;
use crate::system::{ConductorId, System};
use crate::units::Metres;
use std::collections::BTreeSet;

/// The boat of a netlist without faults.
fn boat(text: &str) -> System {
    let reading = source::read(text.as_bytes());
    let (netlist, faults) = crate::netlist::read(&reading);
    let (netlist, document) = netlist
        .zip(reading.document.as_ref())
        .expect("the netlist reads");
    let (system, more) = crate::resolve::resolve(&netlist, document);
    let errors: Vec<_> = faults
        .iter()
        .chain(&more)
        .filter(|finding| finding.severity == crate::diag::Severity::Error)
        .collect();
    assert!(errors.is_empty(), "{errors:?}");
    system
}

const PARTS: &str = "
zones:
  cabin: {wet: dry}
  deck: {wet: spray}
batteries:
  house: {chemistry: agm, stud: M8, zone: cabin}
fuses:
  main-fuse: {rating: 40 A, stud: M8, zone: cabin}
fuse-blocks:
  block: {ways: {1: 3 A, 2: 5 A}, stud: M6, way-stud: M4, zone: cabin}
connectors:
  plug: {cavities: 2, a: {contacts: sockets, zone: cabin}, b: {contacts: pins, zone: deck}}
buses:
  negative: {polarity: negative, studs: 8, stud: M5, zone: cabin}
loads:
  lamp: {draw: 1 A, stud: M4, zone: cabin}
  horn: {draw: 5 A, zone: deck}
";

/// A metric boat with these runs.
fn metric(runs: &str) -> System {
    boat(&format!(
        "boat: {{name: Dab, practice: metric}}\n{PARTS}\nruns:\n{runs}"
    ))
}

/// The same in feet.
fn feet(runs: &str) -> System {
    boat(&format!(
        "boat: {{name: Dab, practice: us}}\n{PARTS}\nruns:\n{runs}"
    ))
}

fn cut_of(system: &System, number: &str) -> Cut {
    cut_list(system)
        .spools
        .iter()
        .flat_map(|spool| &spool.cuts)
        .find(|cut| {
            cut.cores
                .iter()
                .any(|core| system.conductors[core.index()].number == number)
        })
        .expect("the wire is cut")
        .clone()
}

fn millimetres(length: Metres) -> String {
    crate::units::decimal(length.0 * 1000.0, 1)
}

#[test]
fn a_small_wire_gets_the_allowances_of_the_bench() {
    let system = metric("  W1: {from: block.1, to: lamp.+, gauge: 1.5 mm², length: 4 m}\n");
    let cut = cut_of(&system, "W1");
    // 4000 mm, 3 % lay-up, 10 % by string, twice 25 mm at each end: 4620 mm, up to the next 50 mm.
    assert_eq!(millimetres(cut.lay_up), "120.0");
    assert_eq!(millimetres(cut.measuring), "400.0");
    assert_eq!(millimetres(cut.ends[0].termination), "50.0");
    assert_eq!(millimetres(cut.ends[1].termination), "50.0");
    assert_eq!(millimetres(cut.length), "4650.0");
}

#[test]
fn battery_cable_gets_its_own() {
    let system = metric("  W1: {from: house.+, to: main-fuse.in, gauge: 35 mm², length: 1 m}\n");
    // 1000 mm, 2 %, 5 %, twice 40 mm at each end: 1230 mm, up to the next 25 mm.
    assert_eq!(millimetres(cut_of(&system, "W1").length), "1250.0");
    let system = metric("  W1: {from: house.+, to: main-fuse.in, gauge: 10 mm², length: 1 m}\n");
    // 10 mm² is still small wire: 1000 + 30 + 100 + 100 = 1230 mm.
    assert_eq!(millimetres(cut_of(&system, "W1").length), "1250.0");
    assert_eq!(
        millimetres(cut_of(&system, "W1").ends[0].termination),
        "50.0"
    );
}

#[test]
fn feet_round_up_to_one_inch_and_three() {
    let inches = |length: Metres| crate::units::decimal(length.0 / 0.0254, 1);
    let system = feet(
        "  W1: {from: block.1, to: lamp.+, gauge: 14 AWG, length: 6 ft}\n  \
           W2: {from: lamp.-, to: negative, gauge: 14 AWG, length: 14 ft}\n",
    );
    // 72 in × 1.13 + 100 mm = 85.297 in; below 10 ft to the next inch.
    assert_eq!(inches(cut_of(&system, "W1").length), "86.0");
    // 168 in × 1.13 + 100 mm = 193.777 in; above 10 ft to the next 3 in.
    assert_eq!(inches(cut_of(&system, "W2").length), "195.0");
}

#[test]
fn loops_are_left_at_plugs_and_wet_ends() {
    let system = metric(
        "  W1: {from: block.1, to: plug.1a, gauge: 1 mm², length: 1 m}\n  \
           W2: {from: plug.1b, to: horn.+, gauge: 1 mm², length: 1 m}\n",
    );
    let inner = cut_of(&system, "W1");
    assert_eq!(inner.ends[0].loop_kind, None);
    assert_eq!(inner.ends[1].loop_kind, Some(LoopKind::Service));
    assert_eq!(millimetres(inner.ends[1].loop_length), "300.0");
    let outer = cut_of(&system, "W2");
    assert_eq!(outer.ends[0].loop_kind, Some(LoopKind::Service));
    assert_eq!(outer.ends[1].loop_kind, Some(LoopKind::Drip));
    assert_eq!(millimetres(outer.ends[1].loop_length), "75.0");
    // 1000 + 130 + 100 + 300 + 75 = 1605 mm, up to the next 25 mm.
    assert_eq!(millimetres(outer.length), "1625.0");
}

#[test]
fn the_file_may_set_its_own_allowances() {
    let system = boat(&format!(
        "boat: {{name: Dab, practice: metric}}\n\
         allowances: {{termination: 30 mm, cable-termination: 100 mm, bundle: 5 %, measured: 0 %, \
         drip-loop: 200 mm, service-loop: 0 mm}}\n{PARTS}\nruns:\n  \
         W1: {{from: plug.1b, to: horn.+, gauge: 1 mm², length: 2 m}}\n  \
         W2: {{from: house.+, to: main-fuse.in, gauge: 35 mm², length: 1 m}}\n"
    ));
    let small = cut_of(&system, "W1");
    assert_eq!(millimetres(small.lay_up), "100.0");
    assert_eq!(millimetres(small.measuring), "0.0");
    assert_eq!(small.ends[0].loop_kind, None);
    // 2000 + 100 + 30 + 30 + 200 = 2360 mm, up to the next 25 mm.
    assert_eq!(millimetres(small.length), "2375.0");
    // 1000 + 50 + 100 + 100 = 1250 mm stays: it is a step already.
    assert_eq!(millimetres(cut_of(&system, "W2").length), "1250.0");
}

#[test]
fn a_way_adds_its_slack() {
    let system = boat(
        "boat: {name: Dab, practice: metric}\n\
         points: {helm: {}, mast: {}}\n\
         ways: {trunk: {between: [helm, mast], length: 2 m, slack: 150 mm}}\n\
         fuse-blocks: {block: {ways: {1: 3 A}, at: helm}}\n\
         loads: {lamp: {draw: 1 A, at: mast}}\n\
         runs: {W1: {from: block.1, to: lamp.+, gauge: 1 mm²}}\n",
    );
    let cut = cut_of(&system, "W1");
    assert_eq!(millimetres(cut.route), "2000.0");
    assert_eq!(millimetres(cut.slack), "150.0");
    // 2000 + 260 + 150 + 100 = 2510 mm, up to the next 25 mm.
    assert_eq!(millimetres(cut.length), "2525.0");
}

#[test]
fn what_is_not_given_is_listed_and_not_guessed() {
    let system = metric(
        "  W1: {from: block.1, to: lamp.+, gauge: 1.5 mm²}\n  \
           W2: {from: lamp.-, to: negative, length: 2 m}\n  \
           W3: {from: block.2, to: horn.+}\n  \
           W4: {from: horn.-, to: negative, gauge: 1 mm², length: 1 m}\n",
    );
    let list = cut_list(&system);
    let open: Vec<_> = list
        .unmeasured
        .iter()
        .map(|open| {
            (
                system.conductors[open.conductor.index()].number.as_str(),
                open.length_missing,
                open.gauge_missing,
            )
        })
        .collect();
    assert_eq!(
        open,
        [("W1", true, false), ("W2", false, true), ("W3", true, true)]
    );
    let labels = labels(&system, &fittings(&system));
    let sheet = CutPapers::new(&system, &list, &[], &labels, &fittings(&system)).sheet();
    let block = sheet
        .blocks
        .iter()
        .find(|block| block.title == "Not given, measure on the boat")
        .expect("there is a block for them");
    assert_eq!(block.rows.len(), 3);
}

#[test]
fn cores_of_a_cable_are_cut_once() {
    let system = metric(
        "  W1: {from: block.1, to: lamp.+, gauge: 1.5 mm², colour: brown, length: 4 m, cable: K1}\n  \
           W2: {from: lamp.-, to: negative, gauge: 1.5 mm², colour: black, length: 5 m, cable: K1}\n",
    );
    let list = cut_list(&system);
    assert_eq!(list.spools.len(), 1);
    assert_eq!(list.spools[0].cuts.len(), 1);
    let cut = &list.spools[0].cuts[0];
    assert_eq!(cut.cores.len(), 2);
    // The longer core decides: 5000 + 650 + 100 = 5750 mm.
    assert_eq!(millimetres(cut.length), "5750.0");
    assert_eq!(millimetres(list.spools[0].net), "5750.0");
    let labels = labels(&system, &fittings(&system));
    let table = CutPapers::new(&system, &list, &[], &labels, &fittings(&system)).table();
    assert_eq!(table.rows.len(), 2);
    let column = table
        .columns
        .iter()
        .position(|&name| name == "cut_length_mm")
        .expect("it is a column");
    assert_eq!(table.rows[0][column], Cell::number(5750.0, 1));
    assert_eq!(table.rows[1][column], Cell::Empty);
}

/// One core runs out and the other back: each end of the cable has the loop of the part that is there, once.
#[test]
fn cores_that_run_back_share_the_ends_of_their_cable() {
    let system = metric(
        "  W1: {from: plug.1b, to: horn.+, gauge: 1.5 mm², length: 4 m, cable: K1}\n  \
           W2: {from: horn.-, to: plug.2b, gauge: 1.5 mm², length: 4 m, cable: K1}\n",
    );
    let cut = cut_of(&system, "W1");
    assert_eq!(cut.cores.len(), 2);
    assert_eq!(
        cut.ends.map(|end| end.loop_kind),
        [Some(LoopKind::Service), Some(LoopKind::Drip)]
    );
    // The second core begins at the horn.
    assert_eq!(
        cut.ends_of(&system, cut.cores[1]).map(|end| end.loop_kind),
        [Some(LoopKind::Drip), Some(LoopKind::Service)]
    );
    // 4000 + 3 % + 10 % + twice 50 mm + 300 mm at the plug + 75 mm at the horn = 4995 mm.
    assert_eq!(millimetres(cut.length), "5000.0");
}

#[test]
fn a_cable_with_a_core_that_is_not_given_waits_whole() {
    let system = metric(
        "  W1: {from: block.1, to: lamp.+, gauge: 1.5 mm², length: 4 m, cable: K1}\n  \
           W2: {from: lamp.-, to: negative, gauge: 1.5 mm², cable: K1}\n",
    );
    let list = cut_list(&system);
    assert!(list.spools.is_empty());
    assert_eq!(list.unmeasured.len(), 2);
}

#[test]
fn supplied_leads_are_not_cut() {
    let system =
        metric("  W1: {from: block.1, to: lamp.+, gauge: 1.5 mm², length: 15 cm, pigtail: true}\n");
    let list = cut_list(&system);
    assert!(list.spools.is_empty());
    assert_eq!(list.supplied, [ConductorId(0)]);
}

#[test]
fn spools_are_by_size_colour_and_type_longest_first() {
    let system = metric(
        "  W1: {from: house.+, to: main-fuse.in, gauge: 35 mm², colour: red, length: 1 m}\n  \
           W2: {from: block.1, to: lamp.+, gauge: 1.5 mm², colour: red, length: 1 m}\n  \
           W3: {from: block.2, to: horn.+, gauge: 1.5 mm², colour: red, length: 3 m}\n  \
           W4: {from: lamp.-, to: negative, gauge: 1.5 mm², colour: black, length: 1 m}\n  \
           W5: {from: horn.-, to: negative, gauge: 1.5 mm², length: 1 m}\n",
    );
    let list = cut_list(&system);
    let order: Vec<Vec<&str>> = list
        .spools
        .iter()
        .map(|spool| {
            spool
                .cuts
                .iter()
                .map(|cut| system.conductors[cut.cores[0].index()].number.as_str())
                .collect()
        })
        .collect();
    assert_eq!(
        order,
        [vec!["W4"], vec!["W3", "W2"], vec!["W5"], vec!["W1"]]
    );
    let reds = &list.spools[1];
    let sum: Metres = reds.cuts.iter().map(|cut| cut.length).sum();
    assert_eq!(reds.net, sum);
    // 3600 (with a drip loop) + 1250 = 4850 mm and a reserve of 10 %: 5335 mm, up to the next 100 mm.
    assert_eq!(millimetres(reds.net), "4850.0");
    assert_eq!(millimetres(reds.buy), "5400.0");
}

#[test]
fn fittings_follow_the_part_and_its_stud() {
    let system = metric(
        "  W1: {from: block.1, to: plug.1a, gauge: 1.5 mm², length: 1 m}\n  \
           W2: {from: main-fuse.out, to: block.feed, gauge: 10 mm², length: 1 m}\n  \
           W3: {from: plug.1b, to: horn.+, gauge: 2.5 mm², length: 1 m}\n",
    );
    let fit = |number: &str, end: End| {
        let conductor = system
            .conductors
            .iter()
            .find(|conductor| conductor.number == number)
            .expect("it is there");
        ends::fitting(&system, conductor, ends::terminal_at(conductor, end)).words()
    };
    assert_eq!(fit("W1", End::A), "red ring, M4");
    assert_eq!(fit("W1", End::B), "socket contact");
    assert_eq!(fit("W2", End::A), "bare lug, M8");
    assert_eq!(fit("W2", End::B), "bare lug, M6");
    assert_eq!(fit("W3", End::A), "pin contact");
    assert_eq!(fit("W3", End::B), "blue ring, stud not given");
}

#[test]
fn both_ends_say_where_the_other_goes() {
    let system = metric(
        "  W1: {from: block.1, to: lamp.+, name: Cabin light, gauge: 1.5 mm², length: 1 m}\n",
    );
    let made = labels(&system, &fittings(&system));
    let lines: Vec<_> = made
        .iter()
        .map(|label| (label.end, label.joined()))
        .collect();
    assert!(lines.contains(&(End::A, "W1 / CABIN LIGHT / TO: LAMP.+".to_owned())));
    assert!(lines.contains(&(End::B, "W1 / CABIN LIGHT / TO: BLOCK.1".to_owned())));
}

/// AC 43.13-1B 11-208: under 3 in none, from 3 to 7 in one in the middle.
#[test]
fn short_wires_take_fewer_labels() {
    for (length, quantity) in [("7 cm", 0), ("10 cm", 1), ("20 cm", 2)] {
        let system = metric(&format!(
            "  W1: {{from: block.1, to: lamp.+, gauge: 1.5 mm², length: {length}}}\n"
        ));
        let count: usize = labels(&system, &fittings(&system))
            .iter()
            .map(|label| label.quantity)
            .sum();
        assert_eq!(count, quantity, "{length}");
    }
}

#[test]
fn labels_stand_by_bundle_and_then_by_part() {
    let system = metric(
        "  W1: {from: block.2, to: lamp.+, gauge: 1 mm², length: 1 m, bundle: aft}\n  \
           W2: {from: block.1, to: horn.+, gauge: 1 mm², length: 1 m, bundle: fore}\n  \
           W3: {from: block.1, to: horn.+, gauge: 1 mm², length: 1 m}\n  \
           W4: {from: block.1, to: lamp.+, gauge: 1 mm², length: 1 m, bundle: aft}\n",
    );
    let order: Vec<(&str, &str)> = labels(&system, &fittings(&system))
        .iter()
        .map(|label| {
            let conductor = &system.conductors[label.conductor.index()];
            (conductor.number.as_str(), label.end.letter())
        })
        .collect();
    assert_eq!(
        order,
        [
            ("W4", "A"),
            ("W1", "A"),
            ("W1", "B"),
            ("W4", "B"),
            ("W2", "A"),
            ("W2", "B"),
            ("W3", "A"),
            ("W3", "B"),
        ]
    );
}

#[test]
fn the_bill_counts_every_end_and_every_part() {
    for text in EXAMPLES {
        let system = boat(text);
        let cuts = cut_list(&system);
        let labels = labels(&system, &fittings(&system));
        let fittings = fittings(&system);
        let facts = Facts::new(&system);
        let plans = spool_plans(&system, &cuts);
        let bill = materials(&facts, &cuts, &plans, &labels, &fittings);
        let pieces = |group: &str| -> usize {
            bill.iter()
                .filter(|line| line.group == group)
                .map(|line| match line.net {
                    Quantity::Pieces(count) => count,
                    Quantity::Length(_) => 0,
                })
                .sum()
        };
        let spliced = fittings
            .iter()
            .flatten()
            .filter(|fitting| matches!(fitting, Fitting::Splice(_)))
            .count();
        assert_eq!(
            pieces("terminals") + pieces("contacts") + spliced,
            2 * system.conductors.len()
        );
        let fitted = system.devices.iter().filter(|device| !device.spare).count();
        assert_eq!(pieces("overcurrent devices"), fitted);
        for line in &bill {
            let (net, buy) = match (line.net, line.buy) {
                (Quantity::Length(net), Quantity::Length(buy)) => (net.0, buy.0),
                (Quantity::Pieces(net), Quantity::Pieces(buy)) => (net as f64, buy as f64),
                _ => panic!("{} counts in two ways", line.description),
            };
            let own = match line.at_hand {
                Some(Quantity::Length(own)) => own.0,
                Some(Quantity::Pieces(own)) => own as f64,
                None => 0.0,
            };
            assert!(buy + own >= net - 1e-9, "{}", line.description);
        }
    }
}

/// Every conductor of every example stands in the cut list exactly once, and has both its labels.
#[test]
fn no_conductor_of_an_example_is_left_out() {
    let mut seen = 0;
    for text in EXAMPLES {
        let system = boat(text);
        let list = cut_list(&system);
        let labels = labels(&system, &fittings(&system));
        let mut listed: Vec<ConductorId> = list
            .spools
            .iter()
            .flat_map(|spool| &spool.cuts)
            .flat_map(|cut| cut.cores.iter().copied())
            .chain(list.unmeasured.iter().map(|open| open.conductor))
            .chain(list.supplied.iter().copied())
            .collect();
        listed.sort_unstable();
        let all: Vec<ConductorId> = (0..system.conductors.len()).map(ConductorId::at).collect();
        assert_eq!(listed, all);
        assert_eq!(labels.len(), 2 * all.len());
        let fittings = fittings(&system);
        let papers = CutPapers::new(&system, &list, &[], &labels, &fittings);
        let rows = papers.table().rows;
        let numbers: BTreeSet<&Cell> = rows.iter().map(|row| &row[2]).collect();
        assert_eq!((rows.len(), numbers.len()), (all.len(), all.len()));
        seen += all.len();
    }
    assert!(seen > 300, "{seen}");
}

/// Rows are as long as their columns in every table and sheet of every example.
#[test]
fn rows_fit_their_columns() {
    for text in EXAMPLES {
        let system = boat(text);
        let facts = Facts::new(&system);
        let lines = LineIndex::new(text);
        let rows = Rows::new(&facts, &[], &lines);
        for table in &rows.tables() {
            assert!(
                table
                    .rows
                    .iter()
                    .all(|row| row.len() == table.columns.len()),
                "{}",
                table.stem
            );
        }
        for sheet in &rows.sheets() {
            for row in sheet.blocks.iter().flat_map(|block| &block.rows) {
                assert_eq!(row.len(), sheet.columns.len(), "{}", sheet.stem);
            }
        }
    }
}

/// A label line is at most as long as the bench's rule, but for a wire number, which is never shortened.
#[test]
fn label_lines_fit() {
    for text in EXAMPLES {
        let system = boat(text);
        for label in labels(&system, &fittings(&system)) {
            for line in &label.lines[1..] {
                assert!(line.chars().count() <= 18, "{line}");
            }
        }
    }
}

const EXAMPLES: [&str; 7] = [
    include_str!("../../examples/smallest.yaml"),
    include_str!("../../examples/marsh-pipit-rev-0.yaml"),
    include_str!("../../examples/marsh-pipit-rev-a.yaml"),
    include_str!("../../examples/teal-skerry-rev-0.yaml"),
    include_str!("../../examples/teal-skerry-rev-a.yaml"),
    include_str!("../../examples/mud-plover-rev-0.yaml"),
    include_str!("../../examples/mud-plover-rev-a.yaml"),
];

mod properties {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// A wire is never cut shorter than its route and allowances, nor longer by a whole step.
        #[test]
        fn cut_lengths_round_up_by_less_than_a_step(tenths in 1u32..300_000) {
            let length = f64::from(tenths) / 10_000.0;
            for (system, step) in [
                (metric(&format!("  W1: {{from: block.1, to: lamp.+, gauge: 1 mm², length: {length} m}}\n")), 0.05),
                (feet(&format!("  W1: {{from: block.1, to: lamp.+, gauge: 1 mm², length: {length} m}}\n")), 0.0762),
            ] {
                let cut = cut_of(&system, "W1");
                let exact = length * 1.13 + 0.1;
                prop_assert!(cut.length.0 >= exact - 1e-6);
                prop_assert!(cut.length.0 < exact + step);
            }
        }
    }
}

/// Whoever reads a list of findings, or stands before the first step of the power-up sheet, sees what was accepted.
#[test]
fn papers_with_findings_list_every_acceptance() {
    let text = format!(
        "boat: {{name: Dab, practice: metric}}\n{PARTS}\nruns:\n  W1: {{from: house.+, to: lamp.+, gauge: 1.5 mm²}}\n\
         accept:\n  - {{rule: OC101, element: W1, reason: sealed lead of 5 cm}}\n  \
         - {{rule: unprotected-conductor, element: W99, reason: gone}}\n"
    );
    let system = boat(&text);
    let facts = crate::analysis::Facts::new(&system);
    let lines = crate::source::LineIndex::new(&text);
    let rows = Rows::new(&facts, &[], &lines);
    for stem in ["findings", "power-up"] {
        let sheets = rows.sheets();
        let sheet = sheets.iter().find(|sheet| sheet.stem == stem);
        let told: Vec<&String> = sheet
            .expect("the sheet is made")
            .blocks
            .iter()
            .flat_map(|block| &block.totals)
            .collect();
        for words in [
            "OC101 for W1: sealed lead of 5 cm",
            "unprotected-conductor for W99: gone",
        ] {
            assert!(told.iter().any(|line| *line == words), "{stem}: {words}");
        }
    }
}

#[test]
fn the_range_of_a_meter_follows_the_bank() {
    use crate::analysis::poles::Poles;
    use crate::analysis::readings::{Feeds, Plan};
    let system = boat(include_str!("../../examples/mud-plover-rev-a.yaml"));
    let plan = Plan::new(&system, &Poles::new(&system), &Feeds::new(&system));
    let sheet = power_up_sheet(&system, &plan);
    let range = |red: &str, black: &str| -> BTreeSet<String> {
        let text = |field: &Field| match field {
            Field::Text(text) | Field::Strong(text) => text.clone(),
            _ => String::new(),
        };
        sheet
            .blocks
            .iter()
            .flat_map(|block| &block.rows)
            .filter(|row| text(&row[1]) == red && text(&row[2]) == black)
            .map(|row| text(&row[3]))
            .collect()
    };
    let only = |wanted: &str| BTreeSet::from([wanted.to_owned()]);
    // Three batteries in a string stand above what 20 V can show; each of them does not.
    assert_eq!(range("bow-top.+", "bow-low.-"), only("200 V"));
    assert_eq!(range("bow-motor.+", "bow-motor.-"), only("200 V"));
    assert_eq!(range("bow-top.+", "bow-top.-"), only("20 V"));
    assert_eq!(range("house-1.+", "house-1.-"), only("20 V"));
    // A short in the string would put all of it on the lug.
    assert_eq!(range("loose lug of bow-low.-", "bow-low.-"), only("200 V"));
    assert_eq!(
        range("always-block.feed", "aft-negative.1").len(),
        3,
        "open line, winding, battery"
    );
}
