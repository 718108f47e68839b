//! A battery management that can cut the only battery off a running alternator.

use super::super::telling::{listed, with_positions};
use super::is_managed;
use crate::analysis::Facts;
use crate::analysis::states::{Constraints, State, affordable, ends, set_to, walk};
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{GearId, GearKind, Source, SourceKind, System};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "DP812",
    name: "cut-out-strands-alternator",
    title: "Management can cut the only battery off a running alternator",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "In each combination of the battery switches, all else in its normal position, an alternator that is joined to a battery with a management is joined to one without as well. When a management opens under a charging current, the voltage of the alternator leaps up. Owners disagree on the harm; a lead-acid battery that stays connected, or a surge protector (`surge-protected`), prevents it.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: lithium-iron-phosphate, capacity: 60 Ah, short-circuit: 5000 A, zone: cabin}
fuses:
  alternator-fuse: {rating: 60 A, form: class T, voltage: 125 V, interrupting: 20000 A, zone: cabin}
alternators:
  alternator: {current: 50 A, voltage: 14.2 V, self-limiting: true, zone: cabin}
runs:
  W1: {from: house.+, to: alternator-fuse.in, gauge: 6 AWG, colour: red, length: 6 in}
  W2: {from: alternator.+, to: alternator-fuse.out, gauge: 6 AWG, colour: orange, length: 3 ft}
  W3: {from: alternator.-, to: house.-, gauge: 6 AWG, colour: black, length: 3 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  alternator-fuse: {rating: 60 A, form: class T, voltage: 125 V, interrupting: 20000 A, zone: cabin}
alternators:
  alternator: {current: 50 A, voltage: 14.2 V, self-limiting: true, zone: cabin}
runs:
  W1: {from: house.+, to: alternator-fuse.in, gauge: 6 AWG, colour: red, length: 6 in}
  W2: {from: alternator.+, to: alternator-fuse.out, gauge: 6 AWG, colour: orange, length: 3 ft}
  W3: {from: alternator.-, to: house.-, gauge: 6 AWG, colour: black, length: 3 ft}
",
    fix: "Charge a lead-acid battery with the alternator and the lithium bank through a converter, or fit a surge protector at the output of the alternator and write `surge-protected: true`.",
    check,
};

/// Combinations of battery switches looked at; those nearest to normal come first.
const MAX_COMBINATIONS: usize = 256;

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let alternators = || {
        system
            .sources
            .iter()
            .filter(|source| source.kind == SourceKind::Alternator)
    };
    if alternators().next().is_none() || !system.sources.iter().any(is_managed_battery) {
        return;
    }
    let (mut states, mut complete) = combinations(system);
    let most = (affordable(system) / alternators().count()).max(1);
    complete &= states.len() <= most;
    states.truncate(most);
    for alternator in alternators() {
        if alternator.surge_protected.is_some_and(|given| given.value) {
            continue;
        }
        let (positive, _) = ends(system, alternator.link);
        let is_idle = |state: &&State| {
            alternator
                .field_switches
                .iter()
                .any(|&gear| Some(state.position(gear)) == system.gears[gear.index()].off)
        };
        let stranded = states
            .iter()
            .filter(|state| !is_idle(state))
            .find_map(|state| {
                let reached = walk(system, state, &[positive], |_| true);
                let batteries: Vec<&Source> = system
                    .sources
                    .iter()
                    .filter(|source| source.kind == SourceKind::Battery)
                    .filter(|source| reached.reaches(ends(system, source.link).0))
                    .collect();
                let managed =
                    !batteries.is_empty() && batteries.iter().all(|battery| is_managed(battery));
                managed.then_some((state, batteries))
            });
        let Some((state, batteries)) = stranded else {
            if !complete {
                findings.push(
                    rule.not_proved(
                        &alternator.name,
                        format!(
                            "whether a management can strand {} is not looked at in every combination of the battery switches: there are too many",
                            alternator.name
                        ),
                    )
                    .label(alternator.span, "not looked at in all")
                    .repair("declare combinations that cannot occur as interlocks"),
                );
            }
            continue;
        };
        let names: Vec<&str> = batteries
            .iter()
            .map(|battery| battery.name.as_str())
            .collect();
        let off_normal = state.off_normal(system);
        findings.push(
            rule.finding(
                &alternator.name,
                format!(
                    "{} charges nothing but {}{}, whose management can cut out",
                    alternator.name,
                    listed(&names),
                    with_positions(system, &off_normal)
                ),
            )
            .label(Some(alternator.span), "left without a battery")
            .label(
                batteries.first().map(|battery| battery.span),
                "can cut itself off",
            )
            .in_positions(set_to(system, &off_normal))
            .repair(format!(
                "let {} charge a lead-acid battery, and that one charge {} through a converter",
                alternator.name,
                listed(&names)
            )),
        );
    }
}

fn is_managed_battery(source: &Source) -> bool {
    source.kind == SourceKind::Battery && is_managed(source)
}

/// The combinations of the battery switches that interlocks permit, all else normal, those nearest to normal first;
/// and whether these are all.
fn combinations(system: &System) -> (Vec<State>, bool) {
    let mut complete = true;
    let mut states = vec![State::normal(system)];
    for (index, gear) in system.gears.iter().enumerate() {
        if gear.kind != GearKind::BatterySwitch {
            continue;
        }
        let others = (0..gear.positions.len())
            .filter_map(|position| u16::try_from(position).ok())
            .filter(|&position| {
                position != gear.normal && !gear.positions[usize::from(position)].emergency
            });
        let mut more = Vec::new();
        for position in others {
            for state in &states {
                let mut state = state.clone();
                state.set(GearId::at(index), position);
                more.push(state);
            }
        }
        states.extend(more);
        complete &= states.len() <= MAX_COMBINATIONS;
        states.truncate(MAX_COMBINATIONS);
    }
    let constraints = Constraints::none(system);
    states.retain(|state| constraints.permits(state));
    (states, complete)
}
