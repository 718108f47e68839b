//! A load that no source can feed.

use crate::analysis::Facts;
use crate::analysis::states::ends;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{ComponentKind, Load, LoadId, LoadKind, NodeId, System};

use super::reversed_load::is_reversed;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "RP603",
    name: "load-without-supply",
    title: "No source reaches a load's positive",
    severity: Severity::Error,
    basis: &[citations::COMMON_PRACTICE],
    checks: "For every load with something wired to it, the positive of some source reaches its positive in at least one combination of positions. A load that nothing at all is wired to is a warning. Of a load with several inputs those that nothing is wired to are only noted, and coils are judged with their relays.",
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
  lamp: {draw: 10 W, kind: lamp, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W4: {from: lamp.-, to: fan.-, gauge: 14 AWG, colour: black, length: 1 ft}
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
  lamp: {draw: 10 W, kind: lamp, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
  W4: {from: lamp.-, to: fan.-, gauge: 14 AWG, colour: black, length: 1 ft}
  W5: {from: fan.+, to: lamp.+, gauge: 14 AWG, colour: red, length: 1 ft}
",
    fix: "Feed the load from a fused way, or take it out of the file.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    if facts.returns.unseen > 0 {
        // Told with the returns: what was not looked from may feed it.
        return;
    }
    for (index, load) in system.loads.iter().enumerate() {
        let component = &system.components[load.component.index()];
        let found = facts.returns.load(LoadId::at(index));
        let judged_elsewhere =
            load.kind == LoadKind::Coil || component.kind == ComponentKind::Combiner;
        if judged_elsewhere || !found.fed_by.is_empty() || is_reversed(facts, load) {
            continue;
        }
        let link = &system.links[load.link.index()];
        let wired = |terminal| facts.returns.landings.on(terminal).count() > 0;
        let others = component
            .terminals
            .iter()
            .any(|&terminal| terminal != link.a && terminal != link.b && wired(terminal));
        let positive = system.terminal_name(link.a);
        let finding = match (wired(link.a), wired(link.b)) {
            (false, _) if others => continue,
            (false, false) => {
                if first_of_component(system, index) {
                    let mut finding = rule.finding(
                        &component.name,
                        format!("nothing is wired to {}", component.name),
                    );
                    finding.severity = Severity::Warning;
                    finding.label(load.span, "not wired")
                } else {
                    continue;
                }
            }
            (false, true) => rule
                .finding(
                    &load.name,
                    format!(
                        "nothing is wired to {positive}, so nothing feeds {}",
                        load.name
                    ),
                )
                .label(load.span, "no positive"),
            (true, _) => {
                let on = facts.returns.landings.on(link.a).conductors.first();
                let span = on.map_or(load.span, |id| system.conductors[id.index()].span);
                rule.finding(
                    &load.name,
                    format!(
                        "no source reaches {positive} in any combination of positions{}",
                        also(facts, load, system.node_of(link.a))
                    ),
                )
                .label(span, "nothing feeds this conductor")
                .label(load.span, "the load")
            }
        };
        findings.push(finding.repair(format!(
            "feed {positive} from a fused way, or take {} out of the file",
            component.name
        )));
    }
}

/// What is known of the place the positive is wired to.
fn also(facts: &Facts<'_>, load: &Load, positive: NodeId) -> &'static str {
    let on_negative = facts.nets.is_negative(positive);
    let (_, negative) = ends(facts.system, load.link);
    if on_negative && facts.nets.is_negative(negative) {
        "; both its terminals are on the negative"
    } else {
        ""
    }
}

/// Whether no earlier load belongs to the same component.
fn first_of_component(system: &System, index: usize) -> bool {
    index == 0 || system.loads[index - 1].component != system.loads[index].component
}
