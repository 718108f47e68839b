//! A colour that says another pole than the conductor has.

use crate::analysis::Facts;
use crate::analysis::poles::Pole;
use crate::analysis::states::ends;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::{ColourRole, InsulationColour, citations, functions_of};
use crate::system::{BankId, Colour, ComponentKind, Conductor, NodeId, Polarity, Service, System};
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL702",
    name: "misleading-colour",
    title: "A conductor has the colour of another pole or of bonding",
    severity: Severity::Warning,
    basis: &[citations::ABYC_COLOURS],
    checks: "Asked once no battery is reversed. A conductor on the negative is not red; one above the negative is neither black nor yellow, nor green or green with yellow, which mean bonding; and a return that lands on no hull, engine or bonding part is not green. Yellow on the feed of a bilge blower is older practice and passes. The colour of a function, such as brown for pumps, on a negative is only noted. Links between the posts of one bank, sense leads, striped colours and conductors that contacts reverse are left alone.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: red, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Use the colour of its pole, or mark both ends with sleeves of that colour.",
    check,
};

/// What a colour says about a conductor.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Says {
    Positive,
    Negative,
    /// Negative, or in older practice the feed of a bilge blower.
    Yellow,
    Bonding,
    Function,
}

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    if facts.isolation.has_reversed_battery(system) {
        return;
    }
    let posts = posts(system);
    for conductor in system.conductors.iter().filter(|wire| !wire.sense) {
        let Some((colour, says)) = conductor
            .colour
            .as_ref()
            .and_then(|colour| Some((colour, meaning(&colour.value)?)))
        else {
            continue;
        };
        let (a, b) = (system.node_of(conductor.from), system.node_of(conductor.to));
        let post = posts.get(&a);
        let links_bank = post.is_some() && post == posts.get(&b);
        let pole = facts.poles.of(a);
        if links_bank || pole != facts.poles.of(b) {
            continue;
        }
        let wrong = match (pole, says) {
            (Pole::Negative, Says::Positive) => "which says positive, and lies on the negative",
            (Pole::Negative, Says::Bonding) if !is_bond(facts, conductor) => {
                "which says bonding, and carries a return"
            }
            (Pole::Negative, Says::Function) => "which says a feed, and lies on the negative",
            (Pole::Positive, Says::Negative) => "which says negative, and lies above it",
            (Pole::Positive, Says::Yellow) if !feeds_blower(facts, conductor) => {
                "which says negative, and lies above it"
            }
            (Pole::Positive, Says::Bonding) => "which says bonding, and lies above the negative",
            _ => continue,
        };
        let mut finding = rule.finding(
            &conductor.number,
            format!("{} is {}, {wrong}", conductor.number, words(&colour.value)),
        );
        if says == Says::Function {
            finding.severity = Severity::Note;
        }
        let right = match pole {
            Pole::Negative => "black or yellow",
            _ => "red, or the colour of its function",
        };
        findings.push(
            finding
                .label(colour.span.unwrap_or(conductor.span), "its colour")
                .label(conductor.span, "the conductor")
                .repair(format!(
                    "make {} {right}, or mark both its ends so",
                    conductor.number
                )),
        );
    }
}

fn words(colour: &Colour) -> String {
    match &colour.stripe {
        None => colour.base.clone(),
        Some(stripe) => format!("{}/{stripe}", colour.base),
    }
}

/// What the published tables say of a colour; stripes mean functions of their own.
fn meaning(colour: &Colour) -> Option<Says> {
    let colour: InsulationColour = words(colour).parse().ok()?;
    let mut roles = functions_of(colour).map(|function| function.role);
    let first = roles.next()?;
    Some(match first {
        ColourRole::Positive => Says::Positive,
        ColourRole::Negative if colour.base.code == "YE" => Says::Yellow,
        ColourRole::Negative => Says::Negative,
        ColourRole::Bonding => Says::Bonding,
        ColourRole::Function if colour.stripe.is_none() => Says::Function,
        ColourRole::Function => return None,
    })
}

/// Whether a conductor ends on hull, engine or bonding.
fn is_bond(facts: &Facts<'_>, conductor: &Conductor) -> bool {
    [conductor.from, conductor.to].into_iter().any(|end| {
        let part = facts.system.component_of(end);
        part.kind == ComponentKind::Ground || part.polarity == Some(Polarity::Bonding)
    })
}

fn feeds_blower(facts: &Facts<'_>, conductor: &Conductor) -> bool {
    let system = facts.system;
    let branch = facts.branches.of(system.node_of(conductor.to));
    system
        .loads
        .iter()
        .filter(|load| load.service == Service::BilgeBlower)
        .any(|load| facts.branches.of(ends(system, load.link).0) == branch)
}

/// The bank whose battery has a post at each node.
fn posts(system: &System) -> BTreeMap<NodeId, BankId> {
    let mut posts = BTreeMap::new();
    for source in &system.sources {
        if let Some(bank) = source.bank {
            let (a, b) = ends(system, source.link);
            posts.insert(a, bank);
            posts.insert(b, bank);
        }
    }
    posts
}
