//! Loads and charging sources whose current is not given.

use super::super::telling::wires;
use crate::analysis::Facts;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{ConductorId, LinkId, LoadId, LoadKind, SourceKind};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "AM203",
    name: "draw-not-given",
    title: "Current of a load or a charging source is not given",
    severity: Severity::NotProved,
    basis: &[citations::LAW_AMPACITY],
    checks: "Every load has a draw and every charging source a rated current. Without it neither the load of the conductors on its way nor its voltage drop is proved.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  fan: {kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, insulation: 105 °C, colour: black, length: 6 ft}
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
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, insulation: 105 °C, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, insulation: 105 °C, colour: black, length: 6 ft}
",
    fix: "Give the current or the power as it stands on the nameplate, or as measured.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for (index, load) in system.loads.iter().enumerate() {
        if load.draw.is_some() {
            continue;
        }
        let (key, name) = match load.kind {
            LoadKind::Coil => ("coil-draw", format!("the coil of {}", load.name)),
            LoadKind::ConverterInput => ("input-current", format!("the input of {}", load.name)),
            _ => ("draw", load.name.clone()),
        };
        let drop = facts.drops.of(LoadId::at(index));
        let path: Vec<ConductorId> = drop.map_or_else(Vec::new, |drop| drop.path.clone());
        let message = if path.is_empty() {
            format!("the draw of {name} is not given, so its drop is not proved")
        } else {
            format!(
                "the draw of {name} is not given, so neither its drop nor the load of {} is proved, nor the drop of what shares them",
                wires(system, &path)
            )
        };
        findings.push(
            rule.not_proved(&load.name, message)
                .label(load.span, "no draw given")
                .repair(format!(
                    "write the `{key}` of {name}, from its nameplate or measured"
                )),
        );
    }
    for source in &system.sources {
        if source.kind == SourceKind::Battery || source.current.is_some() {
            continue;
        }
        findings.push(
            rule.not_proved(
                &source.name,
                format!(
                    "the current of {} is not given, so the load of {} is not proved",
                    source.name,
                    leads(facts, source.link)
                ),
            )
            .label(source.span, "no current given")
            .repair(format!(
                "write the rated current of {}, from its nameplate",
                source.name
            )),
        );
    }
}

/// The conductors on both poles of a source.
fn leads(facts: &Facts<'_>, link: LinkId) -> String {
    let system = facts.system;
    let record = &system.links[link.index()];
    let mut ids: Vec<ConductorId> = [record.a, record.b]
        .iter()
        .flat_map(|terminal| &system.terminals[terminal.index()].conductors)
        .copied()
        .collect();
    ids.sort_unstable();
    ids.dedup();
    if ids.is_empty() {
        "its leads".to_owned()
    } else {
        wires(system, &ids)
    }
}
