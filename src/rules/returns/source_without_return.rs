//! A charging source whose negative nothing returns to.

use crate::analysis::Facts;
use crate::analysis::returns::SourceReturn;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::rules::telling::listed;
use crate::standards::citations;
use crate::system::{LoadId, SourceId, SourceKind};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "RP602",
    name: "source-without-return",
    title: "Nothing returns to the negative of a charging source",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "For every charging source that is joined to a battery or feeds a load, something that it feeds, or a pole of another source, shares its negative in some combination of positions. Banks are judged among themselves. A charger whose negative is left off charges through whatever cable it finds, or not at all.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
chargers:
  charger: {outputs: {1: {current: 10 A, voltage: 14.4 V, chemistry: agm}}, self-limiting: true, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  charger-fuse: {rating: 15 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W4: {from: house.+, to: charger-fuse.in, gauge: 10 AWG, colour: red, length: 6 in}
  W5: {from: charger-fuse.out, to: charger.1+, gauge: 10 AWG, colour: red, length: 3 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
chargers:
  charger: {outputs: {1: {current: 10 A, voltage: 14.4 V, chemistry: agm}}, self-limiting: true, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
  charger-fuse: {rating: 15 A, form: blade regular, zone: cabin}
loads:
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W4: {from: house.+, to: charger-fuse.in, gauge: 10 AWG, colour: red, length: 6 in}
  W5: {from: charger-fuse.out, to: charger.1+, gauge: 10 AWG, colour: red, length: 3 ft}
  W6: {from: charger.-, to: house.-, gauge: 10 AWG, colour: black, length: 3 ft}
",
    fix: "Join the negative of the source to the negative of the battery that it charges.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for (index, source) in system.sources.iter().enumerate() {
        let id = SourceId::at(index);
        let is_battery = source.kind == SourceKind::Battery;
        if is_battery || facts.returns.source(id) != SourceReturn::Open {
            continue;
        }
        let negative = system.links[source.link.index()].b;
        let name = system.terminal_name(negative);
        let landed = facts.returns.landings.on(negative).conductors.first();
        let fed: Vec<LoadId> = (0..system.loads.len())
            .map(LoadId::at)
            .filter(|&load| facts.returns.load(load).fed_by.contains(&id))
            .collect();
        // Where the source has a negative and its loads have none, the loads are at fault.
        let has_negative = |load: &LoadId| {
            let terminal = system.links[system.loads[load.index()].link.index()].b;
            facts.returns.landings.on(terminal).count() > 0
        };
        if landed.is_some() && !fed.is_empty() && !fed.iter().any(has_negative) {
            continue;
        }
        let names: Vec<&str> = fed
            .iter()
            .map(|load| system.loads[load.index()].name.as_str())
            .collect();
        let feeds = match &names[..] {
            [] => "and it is joined to others by its positive alone".to_owned(),
            names => format!("but it feeds {}", listed(names)),
        };
        let (span, place, how) = match landed {
            None => (
                source.span,
                "no negative",
                format!("nothing is wired to {name}"),
            ),
            Some(conductor) => (
                system.conductors[conductor.index()].span,
                "this negative meets no load and no other source",
                format!("nothing returns to {name}"),
            ),
        };
        findings.push(
            rule.finding(&source.name, format!("{how}, {feeds}"))
                .label(span, place)
                .label(
                    fed.first().map(|load| system.loads[load.index()].span),
                    "fed by it",
                )
                .repair(format!(
                    "run a conductor from {name} to the negative of the battery that it charges"
                )),
        );
    }
}
