//! What each rule checks, for the command line.

use super::report::wrapped;
use crate::diag::nearest;
use crate::rules::{self, Rule};
use crate::source::Fault;
use std::fmt::Write;

/// All rules, one a line, then the faults that a file itself can have.
pub(super) fn list() -> String {
    let mut out = String::from("Rules\n");
    for rule in rules::all() {
        let _ = writeln!(
            out,
            "{}  {:<11} {}: {}",
            rule.id,
            rule.severity.word(),
            rule.name,
            rule.title
        );
    }
    out.push_str("\nFaults of a file\n");
    for fault in faults() {
        let _ = writeln!(out, "{}  {}: {}", fault.id, fault.name, fault.title);
    }
    out
}

/// The whole of one rule, or what the name may have meant.
pub(super) fn explain(wanted: &str) -> Result<String, String> {
    let is_meant =
        |id: &str, name: &str| id.eq_ignore_ascii_case(wanted) || name.eq_ignore_ascii_case(wanted);
    if let Some(rule) = rules::all()
        .into_iter()
        .find(|rule| is_meant(rule.id, rule.name))
    {
        return Ok(whole(rule));
    }
    if let Some(fault) = faults().find(|fault| is_meant(fault.id, fault.name)) {
        return Ok(format!(
            "{} {}\n\n{}\n\nThis is a fault of the file and not of the wiring: what the file means is not sure until it is repaired.\n",
            fault.id, fault.name, fault.title
        ));
    }
    let known = rules::all();
    let names = known.iter().flat_map(|rule| [rule.id, rule.name]);
    let near = nearest(
        wanted,
        names.chain(faults().flat_map(|fault| [fault.id, fault.name])),
    );
    Err(match near {
        Some(near) => format!("there is no rule `{wanted}`; did you mean `{near}`?"),
        None => format!("there is no rule `{wanted}`; `loomwright explain list` shows them all"),
    })
}

fn whole(rule: &Rule) -> String {
    let mut out = format!("{} {} ({})\n\n", rule.id, rule.name, rule.severity.word());
    out.push_str(&wrapped("", rule.title, 0));
    out.push('\n');
    out.push_str(&wrapped("", rule.checks, 0));
    out.push_str("\nCompared with\n");
    for basis in rule.basis {
        out.push_str(&wrapped("  ", &basis.to_string(), 4));
    }
    out.push('\n');
    out.push_str(&wrapped("Usual repair: ", rule.fix, 0));
    for (heading, netlist) in [("Fails", rule.fails), ("Passes", rule.passes)] {
        let _ = write!(out, "\n{heading}\n\n");
        for line in netlist.trim_matches('\n').lines() {
            let _ = writeln!(out, "    {line}");
        }
    }
    out
}

/// Every fault that a file can have before its wiring is judged.
fn faults() -> impl Iterator<Item = &'static Fault> {
    crate::source::FAULTS
        .iter()
        .chain(crate::resolve::FAULTS)
        .chain(std::iter::once(&rules::ACCEPTS_NOTHING))
}
