//! Two systems that share no pole, and meet on the hull all the same.

use crate::analysis::Facts;
use crate::analysis::returns::{Bond, Grounding};
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::source::Span;
use crate::standards::citations;
use crate::system::BankId;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "RP610",
    name: "isolated-systems-bridged",
    title: "Hull, engine or bonding joins two systems that share no pole",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "Systems that share no conductor, such as a bow bank of a higher voltage, are not joined through hull, engine or bonding: neither by conductors nor by loads whose case is joined to their negative and stands on it. It is an error where a bank is declared isolated or the voltages differ, else a warning. A first fault on such a pair is a short circuit through the hull.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
banks:
  bow: {purpose: bow, isolated: true}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  bow-battery: {bank: bow, chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  radio-fuse: {rating: 5 A, form: blade regular, zone: cabin}
grounds:
  hull: {kind: hull, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
  radio: {draw: 2 A, kind: electronics, drop: 10 %, case-grounded: true, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W4: {from: house.-, to: hull, gauge: 8 AWG, colour: green, length: 2 ft}
  W5: {from: bow-battery.+, to: radio-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W6: {from: radio-fuse.out, to: radio.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W7: {from: radio.-, to: bow-battery.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
banks:
  bow: {purpose: bow, isolated: true}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
  bow-battery: {bank: bow, chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  radio-fuse: {rating: 5 A, form: blade regular, zone: cabin}
grounds:
  hull: {kind: hull, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
  radio: {draw: 2 A, kind: electronics, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W4: {from: house.-, to: hull, gauge: 8 AWG, colour: green, length: 2 ft}
  W5: {from: bow-battery.+, to: radio-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W6: {from: radio-fuse.out, to: radio.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W7: {from: radio.-, to: bow-battery.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Stand the case on insulation, feed the load from the system that the hull belongs to, or take the bond off.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    for grounding in facts.returns.grounds.groundings() {
        let mut islands: Vec<u32> = grounding.bonds.iter().map(|&(_, island)| island).collect();
        islands.sort_unstable();
        islands.dedup();
        if islands.len() < 2 {
            continue;
        }
        let home = home(facts, grounding, &islands);
        for island in islands.into_iter().filter(|&island| island != home) {
            findings.push(told(rule, facts, grounding, home, island));
        }
    }
}

/// The island that the grounding belongs to: bonded by a conductor before by a case, not declared isolated before
/// declared, then the first in the file.
fn home(facts: &Facts<'_>, grounding: &Grounding, islands: &[u32]) -> u32 {
    let by_conductor = |island: u32| {
        grounding
            .bonds
            .iter()
            .any(|&(bond, of)| of == island && matches!(bond, Bond::Conductor(_)))
    };
    islands
        .iter()
        .copied()
        .min_by_key(|&island| (declared_isolated(facts, island), !by_conductor(island)))
        .unwrap_or(0)
}

fn told(
    rule: &Rule,
    facts: &Facts<'_>,
    grounding: &Grounding,
    home: u32,
    island: u32,
) -> Diagnostic {
    let system = facts.system;
    let bonds_of = |island: u32| {
        grounding
            .bonds
            .iter()
            .filter(move |&&(_, of)| of == island)
            .map(|&(bond, _)| bond)
    };
    // A case is the thing to change before a conductor that only makes sure of it.
    let bond = bonds_of(island)
        .find(|bond| matches!(bond, Bond::Case(_)))
        .or_else(|| bonds_of(island).next());
    let (element, span, what) = bond.map_or_else(
        || (String::new(), None, String::new()),
        |bond| described(facts, bond),
    );
    let other = bonds_of(home).next().map(|bond| described(facts, bond));
    let metal = grounding.parts.first().map_or("hull or engine", |part| {
        system.components[part.index()].name.as_str()
    });
    let (name, home_name) = (name_of(facts, island), name_of(facts, home));
    let mut finding = rule.finding(
        &element,
        format!("{what} joins the negative of {name} to {metal} and so to the negative of {home_name}, with which it shares no pole"),
    );
    let differ = nominal(facts, island) != nominal(facts, home);
    let declared = declared_isolated(facts, island) || declared_isolated(facts, home);
    if !declared && !differ {
        finding.severity = Severity::Warning;
    }
    finding = finding.label(span, "joined to the metal here");
    if let Some((_, span, _)) = other {
        finding = finding.label(span, "the other system is joined to it here");
    }
    finding.repair(match bond {
        Some(Bond::Case(_)) => {
            format!("stand the case of {element} on insulation, or feed it from {home_name}")
        }
        _ => format!("take {element} off {metal}"),
    })
}

/// Element, place and words of a bond.
fn described(facts: &Facts<'_>, bond: Bond) -> (String, Option<Span>, String) {
    let system = facts.system;
    match bond {
        Bond::Conductor(id) => {
            let wire = &system.conductors[id.index()];
            (wire.number.clone(), Some(wire.span), wire.number.clone())
        }
        Bond::Case(id) => {
            let load = &system.loads[id.index()];
            let name = &system.components[load.component.index()].name;
            (name.clone(), Some(load.span), format!("the case of {name}"))
        }
    }
}

fn banks<'f>(facts: &'f Facts<'_>, island: u32) -> impl Iterator<Item = BankId> + 'f {
    facts
        .returns
        .grounds
        .sources(island)
        .iter()
        .filter_map(|source| facts.system.sources[source.index()].bank)
}

fn declared_isolated(facts: &Facts<'_>, island: u32) -> bool {
    banks(facts, island).any(|bank| {
        let isolated = facts.system.banks[bank.index()].isolated;
        isolated.is_some_and(|given| given.value)
    })
}

/// The first bank of an island, else its first source.
fn name_of(facts: &Facts<'_>, island: u32) -> String {
    let system = facts.system;
    if let Some(bank) = banks(facts, island).next() {
        return system.banks[bank.index()].name.clone();
    }
    let source = facts.returns.grounds.sources(island).first();
    source.map_or_else(String::new, |source| {
        system.sources[source.index()].name.clone()
    })
}

/// Nominal voltage of an island in tenths of a volt.
fn nominal(facts: &Facts<'_>, island: u32) -> Option<i64> {
    let source = facts.returns.grounds.sources(island).first()?;
    let link = &facts.system.links[facts.system.sources[source.index()].link.index()];
    let volts = facts.poles.system_voltage(facts.system.node_of(link.b))?;
    // Voltages are read between 0 and 1000 V, so the number fits.
    #[allow(clippy::cast_possible_truncation)]
    let tenths = (volts.0 * 10.0).round() as i64;
    Some(tenths)
}
