//! Hull or bonding joined to one negative at more than one place.

use crate::analysis::Facts;
use crate::analysis::returns::Bond;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::rules::telling::listed;
use crate::standards::{Basis, Confidence};
use crate::system::ConductorId;
use std::collections::BTreeMap;

/// One point joins the negative to the bonding.
const ABYC_ONE_POINT: Basis = Basis::clause(
    "ABYC E-11",
    "",
    "grounding at one point",
    Confidence::Memory,
);

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "RP609",
    name: "negative-bonded-twice",
    title: "Hull or bonding is joined to one negative at several places",
    severity: Severity::Warning,
    basis: &[ABYC_ONE_POINT],
    checks: "Hull and bonding parts that conductors make one are joined to the negative of a system by one conductor. With two, part of the load current of everything between them runs in hull and bonding. The engine block counts as part of the negative. Sense and spare conductors, returns that are told as such, and the cases of loads do not count.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
buses:
  negative: {polarity: negative, studs: 4, rating: 50 A, zone: cabin}
grounds:
  plate: {kind: bonding, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: negative, gauge: 14 AWG, colour: black, length: 1 ft}
  W4: {from: negative, to: house.-, gauge: 14 AWG, colour: black, length: 5 ft}
  W5: {from: house.-, to: plate, gauge: 8 AWG, colour: green, length: 2 ft}
  W6: {from: negative, to: plate, gauge: 8 AWG, colour: green, length: 4 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
buses:
  negative: {polarity: negative, studs: 4, rating: 50 A, zone: cabin}
grounds:
  plate: {kind: bonding, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: negative, gauge: 14 AWG, colour: black, length: 1 ft}
  W4: {from: negative, to: house.-, gauge: 14 AWG, colour: black, length: 5 ft}
  W5: {from: house.-, to: plate, gauge: 8 AWG, colour: green, length: 2 ft}
",
    fix: "Leave one bond and take the others off.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for grounding in facts.returns.grounds.groundings() {
        let mut by_island: BTreeMap<u32, Vec<ConductorId>> = BTreeMap::new();
        for &(bond, island) in &grounding.bonds {
            if let Bond::Conductor(conductor) = bond {
                by_island.entry(island).or_default().push(conductor);
            }
        }
        let name = grounding.parts.first().map_or("the hull", |part| {
            system.components[part.index()].name.as_str()
        });
        for bonds in by_island.values().filter(|bonds| bonds.len() > 1) {
            let wire = |id: &ConductorId| &system.conductors[id.index()];
            let numbers: Vec<&str> = bonds.iter().map(|id| wire(id).number.as_str()).collect();
            let last = wire(&bonds[bonds.len() - 1]);
            findings.push(
                rule.finding(
                    &last.number,
                    format!(
                        "{} join {name} to the negative at {} places; one is meant",
                        listed(&numbers),
                        bonds.len()
                    ),
                )
                .label(last.span, "a further bond")
                .label(wire(&bonds[0]).span, "the first bond")
                .compared(
                    Figure::new("bonds", bonds.len() as f64, ""),
                    Figure::new("most bonds", 1.0, ""),
                )
                .repair(format!(
                    "take off all of them but one; {} can stay",
                    wire(&bonds[0]).number
                )),
            );
        }
    }
}
