//! Electronics that cranking pulls below the voltage they work at.

use crate::analysis::Facts;
use crate::analysis::energy::{Dip, least_voltage};
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::standards::citations;
use crate::units::{Rounding, format_against, volts};

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "VD309",
    name: "cranking-dip",
    title: "Cranking pulls electronics below the voltage they work at",
    severity: Severity::Warning,
    basis: &[citations::COMMON_PRACTICE],
    checks: "The solved voltage at every electronic load while a starter cranks, against the least voltage its maker states; where none is stated, against the general range for 12 V and 24 V equipment (10.5 V and 21 V), as a note. In the declared scenarios that crank, as they are declared; for a starter that none has on, with all electronics on, switches as they normally stand, and full batteries. Instruments restart and forget when they are starved.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  only: {chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}
fuses:
  plotter-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  starter: {draw: 180 A, kind: starter, duty: surge, zone: cabin}
  plotter: {draw: 2 A, kind: electronics, service: electronics, min-voltage: 10.8 V, zone: cabin}
runs:
  W1: {from: only.+, to: starter.+, gauge: 2/0 AWG, colour: red, length: 3 ft, cranking: true}
  W2: {from: starter.-, to: only.-, gauge: 2/0 AWG, colour: black, length: 3 ft, cranking: true}
  W3: {from: only.+, to: plotter-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W4: {from: plotter-fuse.out, to: plotter.+, gauge: 14 AWG, colour: red, length: 4 ft}
  W5: {from: plotter.-, to: only.-, gauge: 14 AWG, colour: black, length: 4 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  only: {chemistry: agm, capacity: 60 Ah, cranking: 800 A, zone: cabin}
fuses:
  plotter-fuse: {rating: 5 A, form: blade regular, zone: cabin}
loads:
  starter: {draw: 180 A, kind: starter, duty: surge, zone: cabin}
  plotter: {draw: 2 A, kind: electronics, service: electronics, min-voltage: 10.8 V, zone: cabin}
runs:
  W1: {from: only.+, to: starter.+, gauge: 2/0 AWG, colour: red, length: 3 ft, cranking: true}
  W2: {from: starter.-, to: only.-, gauge: 2/0 AWG, colour: black, length: 3 ft, cranking: true}
  W3: {from: only.+, to: plotter-fuse.in, gauge: 14 AWG, colour: red, length: 6 in}
  W4: {from: plotter-fuse.out, to: plotter.+, gauge: 14 AWG, colour: red, length: 4 ft}
  W5: {from: plotter.-, to: only.-, gauge: 14 AWG, colour: black, length: 4 ft}
",
    fix: "Feed the electronics from a bank of their own, or through a converter that holds their voltage.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    for cranking in &facts.energy.cranking {
        let starved = cranking.dips.iter().filter_map(|dip| {
            let load = &facts.system.loads[dip.load.index()];
            let (least, _) = least_voltage(load);
            (dip.cranking < least).then_some((dip, least - dip.cranking))
        });
        // One finding a starter, of the load that lacks most.
        let worst = starved.max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.load.cmp(&a.0.load)));
        if let Some((dip, _)) = worst {
            findings.push(told(rule, facts, cranking.load, dip));
        }
    }
}

fn told(rule: &Rule, facts: &Facts<'_>, starter: crate::system::LoadId, dip: &Dip) -> Diagnostic {
    let system = facts.system;
    let load = &system.loads[dip.load.index()];
    let starter = &system.loads[starter.index()];
    let (least, basis) = least_voltage(load);
    let (gets, needs) = format_against(dip.cranking.0, least.0, "V");
    let stated = load.min_voltage.is_some();
    let origin = if stated {
        "as its maker states"
    } else {
        "the general range of such equipment"
    };
    let mut finding = rule.finding(
        &load.name,
        format!(
            "{} gets {gets} while {} cranks {}, after {}; it works from {needs} ({origin})",
            load.name,
            starter.name,
            dip.words(system),
            volts(dip.before, Rounding::Nearest),
        ),
    );
    if !stated {
        finding.severity = Severity::Note;
    }
    finding.basis.extend(basis);
    finding
        .label(
            load.min_voltage
                .and_then(|given| given.span)
                .unwrap_or(load.span),
            "starved while it cranks",
        )
        .label(starter.span, "this starter")
        .compared(
            Figure::new("voltage at the load", dip.cranking.0, "V"),
            Figure::new("least voltage", least.0, "V"),
        )
        .repair(format!(
            "feed {} from another bank than {}, or through a converter that holds its voltage",
            load.name, starter.name
        ))
}
