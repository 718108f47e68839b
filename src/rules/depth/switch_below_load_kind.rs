//! A switch that is rated for the current of its load, but not for what that kind of load does to contacts.

use super::super::telling::{listed, rating};
use super::{also_on, device_of, own_feeds};
use crate::analysis::Facts;
use crate::analysis::states::ends;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::{self, Basis, SwitchedLoad, citations};
use crate::system::{Duty, GearId, GearKind, LinkId, LinkKind, LoadId, LoadKind, NodeId};
use crate::units::{Amps, Rounding, amps, decimal};
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "DP808",
    name: "switch-below-load-kind",
    title: "Switch is small for the kind of load that it switches",
    severity: Severity::Note,
    basis: &[citations::AIRCRAFT_SWITCHES],
    checks: "The rating of a switch covers the currents of its loads times the factor of their kind at 12 V: five for filament lamps, two for motors and coils, one for heaters; more at 24 V. It holds where the switch is rated for resistive loads; one that is rated for lamps or motors, and light-emitting diodes in place of filaments, need no factor. Inrush welds contacts.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  flood-fuse: {rating: 10 A, form: blade regular, zone: cabin}
switches:
  flood-switch: {rating: 15 A, zone: cabin}
loads:
  floodlight: {draw: 7 A, kind: lamp, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: flood-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: flood-fuse.out, to: flood-switch.in, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: flood-switch.out, to: floodlight.+, gauge: 14 AWG, colour: red, length: 2 ft}
  W4: {from: floodlight.-, to: house.-, gauge: 14 AWG, colour: black, length: 8 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  flood-fuse: {rating: 10 A, form: blade regular, zone: cabin}
switches:
  flood-switch: {rating: 40 A, zone: cabin}
loads:
  floodlight: {draw: 7 A, kind: lamp, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: flood-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: flood-fuse.out, to: flood-switch.in, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: flood-switch.out, to: floodlight.+, gauge: 14 AWG, colour: red, length: 2 ft}
  W4: {from: floodlight.-, to: house.-, gauge: 14 AWG, colour: black, length: 8 ft}
",
    fix: "Fit a switch rated for that kind of load, or let it work a relay.",
    check,
};

/// What a switch makes and breaks.
#[derive(Default)]
struct Switched {
    needed: f64,
    /// Some load needs more than its own current.
    factored: bool,
    words: Vec<String>,
    first: Option<LoadId>,
    basis: Option<Basis>,
}

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let mut switched: BTreeMap<(GearId, LinkId), Switched> = BTreeMap::new();
    for index in 0..system.loads.len() {
        let id = LoadId::at(index);
        let Some((contact, amps_of, factor, basis)) = controlled(facts, id) else {
            continue;
        };
        let load = &system.loads[index];
        let sum = switched.entry(contact).or_default();
        sum.needed += amps_of.0 * factor;
        if factor > 1.0 {
            sum.factored = true;
            sum.basis = Some(basis);
            sum.first.get_or_insert(id);
        }
        sum.words.push(format!(
            "{} for {} times the {} of {}",
            amps(amps_of * factor, Rounding::Nearest),
            decimal(factor, 0),
            amps(amps_of, Rounding::Nearest),
            load.name
        ));
    }
    // Each contact of a switch is rated by itself; the hardest worked one is told.
    let mut hardest: BTreeMap<GearId, Switched> = BTreeMap::new();
    for ((gear, _), sum) in switched {
        let worse = hardest
            .get(&gear)
            .is_none_or(|other| sum.needed > other.needed);
        if sum.factored && worse {
            hardest.insert(gear, sum);
        }
    }
    for (gear, sum) in hardest {
        findings.extend(judge(rule, facts, gear, &sum));
    }
}

fn judge(rule: &Rule, facts: &Facts<'_>, gear: GearId, sum: &Switched) -> Option<Diagnostic> {
    let system = facts.system;
    let gear = &system.gears[gear.index()];
    let component = &system.components[gear.component.index()];
    let rated = component.rating?;
    if sum.needed <= rated.value.0 {
        return None;
    }
    let load = &system.loads[sum.first?.index()];
    let finding = rule
        .finding(
            &gear.name,
            format!(
                "{} is rated {}; if that is for resistive loads it needs {}",
                gear.name,
                rating(rated.value),
                listed(&sum.words)
            ),
        )
        .label(rated.span.or(Some(component.span)), "rated here")
        .label(Some(load.span), "harder on contacts than its current says")
        .compared(
            Figure::new("rating needed", sum.needed, "A"),
            Figure::new("rating", rated.value.0, "A"),
        )
        .repair(format!(
            "make sure that {} is rated for its kind of load, or let it work a relay",
            gear.name
        ));
    Some(also_on(finding, sum.basis))
}

/// The contact of the last switch before a load, with its current and the factor of its kind.
fn controlled(facts: &Facts<'_>, load: LoadId) -> Option<((GearId, LinkId), Amps, f64, Basis)> {
    let system = facts.system;
    let record = &system.loads[load.index()];
    if record.duty == Duty::Surge {
        return None;
    }
    let kind = match record.kind {
        LoadKind::Lamp => SwitchedLoad::Lamp,
        LoadKind::Motor => SwitchedLoad::Motor,
        LoadKind::Coil | LoadKind::Horn => SwitchedLoad::Inductive,
        _ => SwitchedLoad::Resistive,
    };
    let (factor, basis) = standards::switch_factor(kind, record.nominal.value)?;
    let (positive, _) = ends(system, record.link);
    let contact = own_feeds(facts, positive).find_map(|feed| last_switch(facts, feed, positive))?;
    Some((contact, record.current()?, factor, basis))
}

/// The switch nearest to a node on the way from a single source, up to the last device on it.
fn last_switch(facts: &Facts<'_>, feed: usize, node: NodeId) -> Option<(GearId, LinkId)> {
    let system = facts.system;
    facts
        .faults
        .path_back(feed, node)
        .take_while(|&link| device_of(system, link).is_none())
        .find_map(|link| match system.links[link.index()].kind {
            LinkKind::Contact { gear, .. } => Some((gear, link)),
            _ => None,
        })
        .filter(|(gear, _)| {
            !matches!(
                system.gears[gear.index()].kind,
                GearKind::BatterySwitch | GearKind::Combiner | GearKind::Relay | GearKind::Breaker
            )
        })
}
