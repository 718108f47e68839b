//! Margins against the rules: what is drawn more than the margin breaks a limit, what is drawn less breaks none.
//!
//! Each boat is compiled again with one load raised in its netlist, by a hair less and by a hair more than its margin.

// A test reads files; the library does not.
#![allow(clippy::disallowed_methods)]

use loomwright::analysis::Facts;
use loomwright::analysis::margins::{BankLimit, Limit, Margin, Margins, Subject};
use loomwright::diag::Severity;
use loomwright::system::{ComponentKind, Draw, LoadId, System};
use loomwright::{Want, compile, draft};
use std::collections::BTreeSet;
use std::fs;

/// A hair, in amperes and as a share.
const HAIR: f64 = 1e-4;

fn netlist(name: &str) -> String {
    fs::read_to_string(format!("examples/{name}.yaml")).expect("an example")
}

fn boat(text: &str) -> System {
    draft(text.as_bytes()).boat.expect("a netlist")
}

/// The limits that a netlist breaks: rule and element.
fn broken(text: &str) -> BTreeSet<(String, String)> {
    let compiled = compile(text.as_bytes(), Want::Findings);
    assert!(compiled.usable, "the edit keeps the file readable");
    compiled
        .findings
        .iter()
        .filter(|finding| match finding.rule {
            // What no scenario shows is a note, and no limit of the margins.
            "AM201" | "AM207" => finding.severity != Severity::Note,
            // Above the rating itself, not above what is advised for long.
            "DP804" => !finding.message.contains(", above "),
            "VD301" | "VD304" => true,
            _ => false,
        })
        .map(|finding| (finding.rule.to_owned(), finding.element.clone()))
        .collect()
}

/// The netlist with one load drawing more; none where its draw is not written as one current.
fn raised(text: &str, system: &System, load: LoadId, more: f64) -> Option<String> {
    let record = &system.loads[load.index()];
    let given = record.draw?;
    let Draw::Current(now) = given.value else {
        return None;
    };
    let span = given.span?;
    let raised = format!("{} A", now.0 + more);
    let (start, end) = (span.start, span.end);
    Some(format!("{}{raised}{}", &text[..start], &text[end..]))
}

fn rule_of(limit: Limit) -> &'static str {
    match limit {
        Limit::Ampacity(_) => "AM201",
        Limit::Device(_) => "DP804",
        Limit::Part(_) | Limit::Link(_) => "AM207",
        Limit::Drop(_) => "VD301",
        Limit::PanelFeed(_) => "VD304",
    }
}

/// Raises every load that is alone behind a device by its margin; tells how many were tried and of which kinds.
fn try_all(name: &str) -> (usize, BTreeSet<&'static str>) {
    let text = netlist(name);
    let system = boat(&text);
    let facts = Facts::new(&system);
    let margins = Margins::new(&facts);
    assert!(!margins.partial);
    let before = broken(&text);
    let mut tried = 0;
    let mut kinds = BTreeSet::new();
    let mut done = BTreeSet::new();
    for margin in &margins.subjects {
        // At a feeder more load is drawn at its bar, beside what hangs on it.
        let ([load], Subject::Device(_), Some(first)) =
            (&margin.loads[..], margin.subject, &margin.first)
        else {
            continue;
        };
        let load = *load;
        if first.more.0 <= HAIR || !done.insert(load) {
            continue;
        }
        let name_of = &system.loads[load.index()].name;
        let hair = HAIR * first.more.0.max(1.0);
        let (Some(less), Some(more)) = (
            raised(&text, &system, load, first.more.0 - hair),
            raised(&text, &system, load, first.more.0 + hair),
        ) else {
            continue;
        };
        let new: Vec<_> = broken(&less).difference(&before).cloned().collect();
        assert!(
            new.is_empty(),
            "{name}: {name_of} within {first:?}: {new:?}"
        );
        let new: Vec<_> = broken(&more).difference(&before).cloned().collect();
        assert!(
            new.iter().any(|(rule, _)| rule == rule_of(first.limit)),
            "{name}: {name_of} beyond {first:?}: {new:?}"
        );
        tried += 1;
        kinds.insert(first.limit.kind());
    }
    (tried, kinds)
}

#[test]
fn marsh_pipit_bears_its_margins() {
    let (tried, kinds) = try_all("marsh-pipit-rev-a");
    assert!(tried >= 10 && kinds.len() >= 2, "{tried} {kinds:?}");
}

#[test]
fn teal_skerry_bears_its_margins() {
    let (tried, kinds) = try_all("teal-skerry-rev-a");
    assert!(tried >= 10 && kinds.len() >= 2, "{tried} {kinds:?}");
}

#[test]
fn mud_plover_bears_its_margins() {
    let (tried, _) = try_all("mud-plover-rev-a");
    assert!(tried >= 10, "{tried}");
}

#[test]
fn the_other_boats_bear_their_margins() {
    for name in [
        "smallest",
        "marsh-pipit-rev-0",
        "teal-skerry-rev-0",
        "mud-plover-rev-0",
    ] {
        try_all(name);
    }
}

/// A load that is wired straight to the points where more load is drawn and returned, by nothing that could limit it.
fn with_load_at(text: &str, system: &System, margin: &Margin, more: f64) -> String {
    let name = |node: loomwright::system::NodeId| {
        let terminal = system.nodes[node.index()].terminals[0];
        let component = system.component_of(terminal);
        if component.kind == ComponentKind::Bus {
            component.name.clone()
        } else {
            system.terminal_name(terminal)
        }
    };
    let (from, to) = (name(margin.at.0), name(margin.at.1));
    text.replacen(
        "\nloads:\n",
        &format!("\nloads:\n  one-more: {{draw: {more} A, kind: heater, drop: 99 %}}\n"),
        1,
    )
    .replacen(
        "\nruns:\n",
        &format!(
            "\nruns:\n  X1: {{from: {from}, to: one-more.+, gauge: 4/0 AWG, colour: red, length: 1 in}}\n  \
             X2: {{from: one-more.-, to: {to}, gauge: 4/0 AWG, colour: black, length: 1 in}}\n"
        ),
        1,
    )
}

#[test]
fn feeders_bear_their_margins() {
    // A boat without scenarios: a load that is added runs with everything else.
    let text = netlist("marsh-pipit-rev-a");
    let system = boat(&text);
    let facts = Facts::new(&system);
    let margins = Margins::new(&facts);
    let before = broken(&text);
    let mut tried = 0;
    for margin in &margins.subjects {
        let (Subject::Feeder(_), Some(first)) = (margin.subject, &margin.first) else {
            continue;
        };
        let hair = HAIR * first.more.0.max(1.0);
        let less = with_load_at(&text, &system, margin, first.more.0 - hair);
        let new: Vec<_> = broken(&less).difference(&before).cloned().collect();
        assert!(new.is_empty(), "{margin:?}: {new:?}");
        let more = with_load_at(&text, &system, margin, first.more.0 + hair);
        let new: Vec<_> = broken(&more).difference(&before).cloned().collect();
        assert!(
            new.iter().any(|(rule, _)| rule == rule_of(first.limit)),
            "{margin:?}: {new:?}"
        );
        tried += 1;
    }
    assert_eq!(tried, 2, "both blocks");
}

#[test]
fn banks_last_their_scenarios_up_to_the_margin() {
    let text = netlist("teal-skerry-rev-a");
    let system = boat(&text);
    let facts = Facts::new(&system);
    let margins = Margins::new(&facts);
    let house = margins
        .banks
        .iter()
        .find(|bank| system.banks[bank.bank.index()].name == "house")
        .expect("it has one");
    let (limit, more) = house.first().expect("scenarios with hours");
    let BankLimit::Scenario(scenario) = limit else {
        panic!("lay-up is apart")
    };
    // A heater more at the posts; the sag that it causes moves loads of constant power by a little.
    let name = &system.scenarios[scenario.index()].name;
    let with = |amps: f64| {
        let text = text
            .replacen(
                "\nloads:\n",
                &format!("\nloads:\n  one-more: {{draw: {amps} A, kind: motor, drop: 99 %, zone: cabin}}\n"),
                1,
            )
            .replacen(
                "\nruns:\n",
                "\nruns:\n  X1: {from: house-battery.+, to: one-more.+, gauge: 95 mm², colour: red, length: 10 mm}\n  \
                 X2: {from: one-more.-, to: house-battery.-, gauge: 95 mm², colour: black, length: 10 mm}\n",
                1,
            );
        let at = text.find(&format!("\n  {name}: {{")).expect("the scenario");
        let on = at + text[at..].find("on: [").expect("loads are on") + "on: [".len();
        let text = format!("{}one-more, {}", &text[..on], &text[on..]);
        let compiled = compile(text.as_bytes(), Want::Findings);
        assert!(compiled.usable);
        compiled
            .findings
            .iter()
            .any(|finding| finding.rule == "EN905" && finding.element == "house")
    };
    assert!(!with(more.0 * 0.99));
    assert!(with(more.0 * 1.01));
}

#[test]
fn what_makes_things_worse_never_gives_more_room() {
    for name in ["marsh-pipit-rev-a", "teal-skerry-rev-a", "mud-plover-rev-a"] {
        let system = boat(&netlist(name));
        let facts = Facts::new(&system);
        for margin in Margins::new(&facts).subjects {
            let Some(first) = &margin.first else {
                continue;
            };
            let what = format!("{name}: {:?}", margin.subject);
            let mut before = first.more;
            for hotter in &margin.hotter {
                assert!(hotter.more <= before, "{what}");
                before = hotter.more;
                if let (Some((_, cold)), Some(hot)) = (margin.solved, hotter.solved) {
                    assert!(hot >= cold - 1e-9, "{what}: {hot} {cold}");
                }
            }
            if let Some(next) = &margin.next {
                assert!(next.more >= first.more, "{what}");
            }
            for joint in [margin.joint, margin.shared_joint].into_iter().flatten() {
                assert!(joint.more <= first.more, "{what}");
                assert!(joint.with_joint >= joint.percent, "{what}");
            }
        }
    }
}
