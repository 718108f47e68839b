//! Navigation lights that can show together and are not to.

use super::super::telling::{listed, with_positions};
use super::is_panel;
use crate::analysis::Facts;
use crate::analysis::states::{Constraints, State, ends, set_to, walk};
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{GearId, LinkKind, LoadId, NodeId, Service, SourceKind, System};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "EN903",
    name: "lights-together",
    title: "Anchor light can show with the lights of a vessel under way",
    severity: Severity::Note,
    basis: &[citations::COLLISION_LIGHTS],
    checks: "In no position of one switch does a navigation light whose name says `anchor` burn with one whose name says side, stern, steaming, masthead, tricolour, port or starboard. Lights on switches of their own are told once, because only the hand keeps them apart. A light that serves both, such as an all-round white one, is left out. Which lights are shown is for the rules of the road; names are all that a netlist knows of them.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  anchor-fuse: {rating: 1 A, form: blade regular, zone: cabin}
  side-fuse: {rating: 2 A, form: blade regular, zone: cabin}
switches:
  nav-switch:
    rating: 10 A
    terminals: [side-in, side-out, anchor-in, anchor-out]
    positions: {\"off\": [], run: [[side-in, side-out], [anchor-in, anchor-out]], anchor: [[anchor-in, anchor-out]]}
    zone: cabin
buses:
  negative: {polarity: negative, studs: 4, rating: 50 A, zone: cabin}
loads:
  anchor-light: {draw: 0.3 A, kind: lamp, service: navigation-light, zone: cabin}
  sidelights: {draw: 1 A, kind: lamp, service: navigation-light, zone: cabin}
runs:
  A1: {from: house.+, to: anchor-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  A2: {from: anchor-fuse.out, to: nav-switch.anchor-in, gauge: 14 AWG, colour: red, length: 1 ft}
  A3: {from: nav-switch.anchor-out, to: anchor-light.+, gauge: 14 AWG, colour: red, length: 2 ft}
  A4: {from: anchor-light.-, to: negative, gauge: 14 AWG, colour: black, length: 2 ft}
  S1: {from: house.+, to: side-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  S2: {from: side-fuse.out, to: nav-switch.side-in, gauge: 14 AWG, colour: red, length: 1 ft}
  S3: {from: nav-switch.side-out, to: sidelights.+, gauge: 14 AWG, colour: red, length: 2 ft}
  S4: {from: sidelights.-, to: negative, gauge: 14 AWG, colour: black, length: 2 ft}
  N1: {from: negative, to: house.-, gauge: 8 AWG, colour: black, length: 1 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  anchor-fuse: {rating: 1 A, form: blade regular, zone: cabin}
  side-fuse: {rating: 2 A, form: blade regular, zone: cabin}
switches:
  nav-switch:
    rating: 10 A
    terminals: [side-in, side-out, anchor-in, anchor-out]
    positions: {\"off\": [], run: [[side-in, side-out]], anchor: [[anchor-in, anchor-out]]}
    zone: cabin
buses:
  negative: {polarity: negative, studs: 4, rating: 50 A, zone: cabin}
loads:
  anchor-light: {draw: 0.3 A, kind: lamp, service: navigation-light, zone: cabin}
  sidelights: {draw: 1 A, kind: lamp, service: navigation-light, zone: cabin}
runs:
  A1: {from: house.+, to: anchor-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  A2: {from: anchor-fuse.out, to: nav-switch.anchor-in, gauge: 14 AWG, colour: red, length: 1 ft}
  A3: {from: nav-switch.anchor-out, to: anchor-light.+, gauge: 14 AWG, colour: red, length: 2 ft}
  A4: {from: anchor-light.-, to: negative, gauge: 14 AWG, colour: black, length: 2 ft}
  S1: {from: house.+, to: side-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  S2: {from: side-fuse.out, to: nav-switch.side-in, gauge: 14 AWG, colour: red, length: 1 ft}
  S3: {from: nav-switch.side-out, to: sidelights.+, gauge: 14 AWG, colour: red, length: 2 ft}
  S4: {from: sidelights.-, to: negative, gauge: 14 AWG, colour: black, length: 2 ft}
  N1: {from: negative, to: house.-, gauge: 8 AWG, colour: black, length: 1 ft}
",
    fix: "Use one switch whose positions show the lights of one kind of vessel each.",
    check,
};

/// Words in the names of lights that are shown under way only.
const UNDER_WAY: [&str; 9] = [
    "side",
    "stern",
    "steaming",
    "masthead",
    "tricolour",
    "tricolor",
    "bicolour",
    "port",
    "starboard",
];

/// Combinations of the switches of the lights that are looked at.
const MAX_COMBINATIONS: usize = 4096;

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let named = |words: &[&str]| -> Vec<LoadId> {
        system
            .loads
            .iter()
            .enumerate()
            .filter(|(_, load)| load.service == Service::NavigationLight)
            .filter(|(_, load)| {
                let name = load.name.to_lowercase();
                words.iter().any(|word| name.contains(word))
            })
            .map(|(index, _)| LoadId::at(index))
            .collect()
    };
    let (anchor, under_way) = (named(&["anchor"]), named(&UNDER_WAY));
    let under_way: Vec<LoadId> = under_way
        .into_iter()
        .filter(|light| !anchor.contains(light))
        .collect();
    if anchor.is_empty() || under_way.is_empty() {
        return;
    }
    let lights: Vec<LoadId> = anchor.iter().chain(&under_way).copied().collect();
    for state in states(system, facts, &lights) {
        let live = Live::new(system, &state);
        let shown = |lights: &[LoadId]| -> Vec<LoadId> {
            lights
                .iter()
                .copied()
                .filter(|&light| live.is(light))
                .collect()
        };
        let (anchor, under_way) = (shown(&anchor), shown(&under_way));
        let (Some(&first), false) = (anchor.first(), under_way.is_empty()) else {
            continue;
        };
        let names = |lights: &[LoadId]| {
            let names: Vec<&str> = lights
                .iter()
                .map(|light| system.loads[light.index()].name.as_str())
                .collect();
            listed(&names)
        };
        let off_normal: Vec<(GearId, u16)> = state
            .off_normal(system)
            .into_iter()
            .filter(|(gear, _)| is_panel(system.gears[gear.index()].kind))
            .collect();
        findings.push(
            rule.finding(
                &system.loads[first.index()].name,
                format!(
                    "{} can show together with {}{}",
                    names(&anchor),
                    names(&under_way),
                    with_positions(system, &off_normal)
                ),
            )
            .label(system.loads[first.index()].span, "shown at anchor")
            .label(
                under_way
                    .first()
                    .map(|light| system.loads[light.index()].span),
                "shown under way",
            )
            .in_positions(set_to(system, &off_normal))
            .repair("use one switch whose positions show the lights of one kind of vessel each"),
        );
        return;
    }
}

/// States of the switches that the lights hang on, the fewest off normal first; battery switches as in use.
fn states(system: &System, facts: &Facts<'_>, lights: &[LoadId]) -> Vec<State> {
    let mut gears: Vec<GearId> = Vec::new();
    for &light in lights {
        let (positive, _) = ends(system, system.loads[light.index()].link);
        for feed in 0..facts.faults.feeds().len() {
            for link in facts.faults.path(feed, positive) {
                if let LinkKind::Contact { gear, .. } = system.links[link.index()].kind
                    && is_panel(system.gears[gear.index()].kind)
                    && !gears.contains(&gear)
                {
                    gears.push(gear);
                }
            }
        }
    }
    let mut states = vec![State::in_use(system)];
    for gear in gears {
        let record = &system.gears[gear.index()];
        let count = record.positions.len();
        if states.len() * count > MAX_COMBINATIONS {
            break;
        }
        let mut more = Vec::new();
        for position in (0..count).filter_map(|position| u16::try_from(position).ok()) {
            if position != record.normal {
                more.extend(states.iter().map(|state| {
                    let mut state = state.clone();
                    state.set(gear, position);
                    state
                }));
            }
        }
        states.extend(more);
    }
    let constraints = Constraints::none(system);
    states.retain(|state| constraints.permits(state));
    states.sort_by_key(|state| state.off_normal(system).len());
    states
}

/// What the batteries reach in a state.
struct Live<'s> {
    system: &'s System,
    walk: crate::analysis::states::Walk,
}

impl<'s> Live<'s> {
    fn new(system: &'s System, state: &State) -> Self {
        let posts: Vec<NodeId> = system
            .sources
            .iter()
            .filter(|source| source.kind == SourceKind::Battery)
            .map(|source| ends(system, source.link).0)
            .collect();
        Self {
            system,
            walk: walk(system, state, &posts, |_| true),
        }
    }

    fn is(&self, light: LoadId) -> bool {
        let (positive, _) = ends(self.system, self.system.loads[light.index()].link);
        self.walk.reaches(positive)
    }
}
