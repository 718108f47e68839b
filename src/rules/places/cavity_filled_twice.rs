//! Several conductors in one contact.

use super::super::telling::wires;
use crate::analysis::Facts;
use crate::diag::Figure;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::system::{ComponentKind, TerminalId};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL714",
    name: "cavity-filled-twice",
    title: "Several conductors land in one contact of a connector",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "One conductor is crimped in each contact of a connector. Two of them are loose when the crimp is made for one, and the seal behind it does not close. Where a contact is made for two, accept the finding and say so.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
connectors:
  plug: {cavities: 3, contact-rating: 20 A, a: {contacts: sockets}, b: {contacts: pins}, zone: cabin}
loads:
  lamp: {draw: 1 A, kind: lamp, zone: cabin}
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: plug.1a, gauge: 14 AWG, colour: red, length: 5 ft}
  W4: {from: plug.1b, to: fan.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W5: {from: plug.1b, to: lamp.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W6: {from: lamp.-, to: fan.-, gauge: 14 AWG, colour: black, length: 1 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
connectors:
  plug: {cavities: 3, contact-rating: 20 A, a: {contacts: sockets}, b: {contacts: pins}, zone: cabin}
splices:
  joint: {kind: butt, sealed: true, zone: cabin}
loads:
  lamp: {draw: 1 A, kind: lamp, zone: cabin}
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: plug.1a, gauge: 14 AWG, colour: red, length: 5 ft}
  W4: {from: plug.1b, to: joint, gauge: 14 AWG, colour: red, length: 1 ft}
  W5: {from: joint, to: lamp.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W6: {from: lamp.-, to: fan.-, gauge: 14 AWG, colour: black, length: 1 ft}
  W7: {from: joint, to: fan.+, gauge: 14 AWG, colour: red, length: 1 ft}
  W3: {from: fan.-, to: house.-, gauge: 14 AWG, colour: black, length: 6 ft}
",
    fix: "Join the conductors in a splice beside the connector, or use another cavity.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    for (index, terminal) in system.terminals.iter().enumerate() {
        let id = TerminalId::at(index);
        let component = &system.components[terminal.component.index()];
        let landed = &facts.returns.landings.on(id).conductors;
        if component.kind != ComponentKind::Connector || landed.len() < 2 {
            continue;
        }
        let contact = system.terminal_name(id);
        let last = &system.conductors[landed[landed.len() - 1].index()];
        findings.push(
            rule.finding(
                &contact,
                format!(
                    "{} land in the one contact {contact}",
                    wires(system, landed)
                ),
            )
            .label(last.span, "a further conductor")
            .label(component.span, "one contact a cavity")
            .compared(
                Figure::new("conductors", landed.len() as f64, ""),
                Figure::new("conductors a contact takes", 1.0, ""),
            )
            .repair(format!(
                "join {} in a splice beside {}, and run one conductor into {contact}",
                wires(system, landed),
                component.name
            )),
        );
    }
}
