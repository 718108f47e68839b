//! More terminals on one stud than it holds well.

use crate::analysis::Facts;
use crate::diag::Figure;
use crate::diag::{Diagnostic, Severity};
use crate::rules::Rule;
use crate::standards::{citations, constants};
use crate::system::{ComponentKind, TerminalId};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "PL710",
    name: "crowded-stud",
    title: "More than four terminals share a stud",
    severity: Severity::Warning,
    basis: &[citations::ABYC_STUDS],
    checks: "On one stud or screw sit at most four terminals, conductors and parts together. More do not clamp, and the fifth works loose. Splices and connector cavities are judged otherwise; a ground, which may have several bolts, is only noted. The studs of a bus are counted one by one: a bare name takes the next free one.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  f2: {rating: 5 A, form: blade regular, zone: cabin}
  f3: {rating: 5 A, form: blade regular, zone: cabin}
  f4: {rating: 5 A, form: blade regular, zone: cabin}
  f5: {rating: 5 A, form: blade regular, zone: cabin}
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
buses:
  negative: {polarity: negative, studs: 8, rating: 50 A, zone: cabin}
loads:
  l2: {draw: 1 A, kind: lamp, zone: cabin}
  l3: {draw: 1 A, kind: lamp, zone: cabin}
  l4: {draw: 1 A, kind: lamp, zone: cabin}
  l5: {draw: 1 A, kind: lamp, zone: cabin}
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: negative, gauge: 14 AWG, colour: black, length: 5 ft}
  W4: {from: negative, to: house.-, gauge: 8 AWG, colour: black, length: 1 ft}
  A2: {from: house.+, to: f2.in, gauge: 14 AWG, colour: red, length: 6 in}
  B2: {from: f2.out, to: l2.+, gauge: 14 AWG, colour: red, length: 6 ft}
  C2: {from: l2.-, to: negative, gauge: 14 AWG, colour: black, length: 5 ft}
  A3: {from: house.+, to: f3.in, gauge: 14 AWG, colour: red, length: 6 in}
  B3: {from: f3.out, to: l3.+, gauge: 14 AWG, colour: red, length: 6 ft}
  C3: {from: l3.-, to: negative, gauge: 14 AWG, colour: black, length: 5 ft}
  A4: {from: house.+, to: f4.in, gauge: 14 AWG, colour: red, length: 6 in}
  B4: {from: f4.out, to: l4.+, gauge: 14 AWG, colour: red, length: 6 ft}
  C4: {from: l4.-, to: negative, gauge: 14 AWG, colour: black, length: 5 ft}
  A5: {from: house.+, to: f5.in, gauge: 14 AWG, colour: red, length: 6 in}
  B5: {from: f5.out, to: l5.+, gauge: 14 AWG, colour: red, length: 6 ft}
  C5: {from: l5.-, to: negative, gauge: 14 AWG, colour: black, length: 5 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  f2: {rating: 5 A, form: blade regular, zone: cabin}
  f3: {rating: 5 A, form: blade regular, zone: cabin}
  f4: {rating: 5 A, form: blade regular, zone: cabin}
  f5: {rating: 5 A, form: blade regular, zone: cabin}
  fan-fuse: {rating: 5 A, form: blade regular, zone: cabin}
buses:
  negative: {polarity: negative, studs: 8, rating: 50 A, zone: cabin}
loads:
  l2: {draw: 1 A, kind: lamp, zone: cabin}
  l3: {draw: 1 A, kind: lamp, zone: cabin}
  l4: {draw: 1 A, kind: lamp, zone: cabin}
  l5: {draw: 1 A, kind: lamp, zone: cabin}
  fan: {draw: 2 A, kind: motor, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: fan-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W2: {from: fan-fuse.out, to: fan.+, gauge: 14 AWG, colour: red, length: 6 ft}
  W3: {from: fan.-, to: negative, gauge: 14 AWG, colour: black, length: 5 ft}
  W4: {from: negative, to: house.-, gauge: 8 AWG, colour: black, length: 1 ft}
  A2: {from: house.+, to: f2.in, gauge: 14 AWG, colour: red, length: 6 in}
  B2: {from: f2.out, to: l2.+, gauge: 14 AWG, colour: red, length: 6 ft}
  C2: {from: l2.-, to: negative, gauge: 14 AWG, colour: black, length: 5 ft}
  A3: {from: house.+, to: f3.in, gauge: 14 AWG, colour: red, length: 6 in}
  B3: {from: f3.out, to: l3.+, gauge: 14 AWG, colour: red, length: 6 ft}
  C3: {from: l3.-, to: negative, gauge: 14 AWG, colour: black, length: 5 ft}
  A4: {from: house.+, to: f4.in, gauge: 14 AWG, colour: red, length: 6 in}
  B4: {from: f4.out, to: l4.+, gauge: 14 AWG, colour: red, length: 6 ft}
  C4: {from: l4.-, to: negative, gauge: 14 AWG, colour: black, length: 5 ft}
  A5: {from: f4.in, to: f5.in, gauge: 14 AWG, colour: red, length: 6 in}
  B5: {from: f5.out, to: l5.+, gauge: 14 AWG, colour: red, length: 6 ft}
  C5: {from: l5.-, to: negative, gauge: 14 AWG, colour: black, length: 5 ft}
",
    fix: "Lead the conductors to a bus, or stack fewer on the stud.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let (most, basis) = constants::terminals_per_stud();
    for (index, terminal) in system.terminals.iter().enumerate() {
        let id = TerminalId::at(index);
        let component = &system.components[terminal.component.index()];
        let landed = facts.returns.landings.on(id);
        let judged = !matches!(
            component.kind,
            ComponentKind::Splice | ComponentKind::Connector
        );
        if !judged || landed.count() <= most {
            continue;
        }
        let name = system.terminal_name(id);
        let mut finding = rule.finding(
            &name,
            format!(
                "{} terminals sit on {name}; at most {most} are meant to",
                landed.count()
            ),
        );
        if component.kind == ComponentKind::Ground {
            finding.severity = Severity::Note;
        }
        finding.basis = vec![basis];
        finding = finding.label(component.span, format!("{} terminals", landed.count()));
        if let Some(last) = landed.conductors.last() {
            finding = finding.label(system.conductors[last.index()].span, "one of them");
        }
        findings.push(
            finding
                .compared(
                    Figure::new("terminals on the stud", landed.count() as f64, ""),
                    Figure::new("most terminals on a stud", most as f64, ""),
                )
                .repair(format!(
                    "lead {} of them to a bus of their own",
                    landed.count() - most + 1
                )),
        );
    }
}
