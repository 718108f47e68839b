//! The form that readings are typed into, and what is said of them.

use super::head::Fingerprint;
use super::power_up::Words;
use crate::analysis::readings::{
    Explanation, FORM_KEY, FORM_VERSION, Judgement, Measured, Plan, Verdict,
};
use crate::analysis::solve::Trouble;
use crate::system::System;
use crate::units::{Ohms, Rounding, amps, decimal, volts};
use std::fmt::Write;

/// An empty form for the readings of a boat, as YAML with a remark for every step.
#[must_use]
pub fn readings_form(system: &System, plan: &Plan, netlist: Fingerprint) -> String {
    let words = Words::new(system);
    let mut form = format!(
        "# Readings of the pre-power-up sheet of {}. Fill in what was measured; leave the rest blank.\n\
         # `OL` is an open line; `pass` and `fail` do where there is no figure.\n\
         {FORM_KEY}: {FORM_VERSION}\nnetlist: \"{netlist}\"\nreadings:\n",
        one_line(&system.boat.name)
    );
    for group in &plan.groups {
        let _ = writeln!(
            form,
            "  # {}: {}",
            one_line(&words.subject(&group.subject)),
            one_line(&words.setting(group))
        );
        for step in &group.steps {
            let (expected, accept) = words.expected(&step.expected);
            let probes = [words.probe(step.red), words.probe(step.black)];
            let probes: Vec<&str> = probes
                .iter()
                .map(String::as_str)
                .filter(|probe| !probe.is_empty())
                .collect();
            let when = step
                .only_if_off
                .map(|other| format!("; only if {other} is off"))
                .unwrap_or_default();
            let _ = writeln!(
                form,
                "  {}:      # {}: {}{when}",
                step.id,
                one_line(&probes.join(" against ")),
                one_line(&[expected.as_str(), accept.as_str()].join(", "))
            );
        }
    }
    form
}

/// What is said of the readings, line by line, and where to look first.
#[must_use]
pub fn judgement_words(system: &System, plan: &Plan, judgement: &Judgement) -> String {
    let words = Words::new(system);
    let mut out = String::new();
    for reading in &judgement.readings {
        let said = match reading.verdict {
            Verdict::Good => "good",
            Verdict::Off => "OFF",
            Verdict::NothingExpected => "noted",
            Verdict::NoReference(_) => "not compared",
            Verdict::WrongQuantity => "wrong quantity",
            Verdict::NoSuchStep => "no such step",
        };
        let Some((group, step)) = plan.step(reading.step) else {
            continue;
        };
        let (expected, accept) = words.expected(&step.expected);
        let _ = write!(
            out,
            "{} {said}: {}, measured {}, expected {}",
            reading.step,
            words.subject(&group.subject),
            measured_words(reading.measured),
            expected
        );
        if !accept.is_empty() {
            let _ = write!(out, " ({accept})");
        }
        if let Verdict::NoReference(missing) = reading.verdict {
            let _ = write!(out, "; the reading of {missing} is missing");
        }
        out.push('\n');
    }
    if judgement.explanations.is_empty() {
        let off = |reading: &crate::analysis::readings::Judged| reading.verdict == Verdict::Off;
        if judgement.readings.iter().any(off) {
            out.push_str(
                "\nNo single open link and no single bad joint explains what is off: look at the load itself and its figure, \
                 at the positions of the switches, or for more than one fault\n",
            );
        }
        return out;
    }
    out.push_str("\nLook here first; a fault is told by what it would explain, not proved:\n");
    for (place, explanation) in judgement.explanations.iter().enumerate() {
        let _ = writeln!(
            out,
            "{}. {}",
            place + 1,
            explanation_words(&words, explanation)
        );
    }
    out
}

fn explanation_words(words: &Words<'_>, explanation: &Explanation) -> String {
    let too_much = |ohms: Ohms| {
        let places = if ohms.0 < 0.1 { 3 } else { 2 };
        format!("about {} Ω too much", decimal(ohms.0, places))
    };
    let what = match (explanation.trouble, explanation.or_joint) {
        (Trouble::Open, None) => "open".to_owned(),
        (Trouble::Open, Some(ohms)) => {
            format!(
                "open, or {} or more, which reads alike here",
                too_much(ohms)
            )
        }
        (Trouble::Worse(ohms), _) => too_much(ohms),
    };
    let steps = |steps: &[crate::analysis::readings::StepId]| {
        steps
            .iter()
            .map(ToString::to_string)
            .collect::<Vec<_>>()
            .join(", ")
    };
    let links: Vec<String> = explanation
        .links
        .iter()
        .map(|&link| words.link(link))
        .collect();
    let mut text = match links.as_slice() {
        [one] => format!("{one}: {what}"),
        several => format!("{}: one of them {what}", several.join(", or ")),
    };
    if !explanation.explained.is_empty() {
        let _ = write!(text, "; explains {}", steps(&explanation.explained));
    }
    if !explanation.contradicted.is_empty() {
        let _ = write!(
            text,
            "; against it speaks {}, which was good",
            steps(&explanation.contradicted)
        );
    }
    if links.len() > 1 {
        text.push_str(
            "; no reading taken tells them apart: with the load switched on put the probes across each in turn, \
             the one at fault shows the voltage that is missing",
        );
    }
    text
}

fn measured_words(measured: Measured) -> String {
    match measured {
        Measured::Volts(value) => volts(value, Rounding::Nearest).to_string(),
        Measured::Ohms(value) => format!("{} Ω", decimal(value.0, 1)),
        Measured::Amps(value) => amps(value, Rounding::Nearest).to_string(),
        Measured::OpenLine => "OL".to_owned(),
        Measured::Pass => "pass".to_owned(),
        Measured::Fail => "fail".to_owned(),
    }
}

/// A remark ends with its line, so nothing from the netlist may end it early.
fn one_line(text: &str) -> String {
    text.chars()
        .map(|letter| if letter.is_control() { ' ' } else { letter })
        .collect()
}
