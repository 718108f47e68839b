//! The command that prints a state as a netlist for a circuit simulator.

use super::files::{self, Trouble};
use super::states::{chosen, words};
use super::{CLEAN, FINDINGS, Simulator, UNUSABLE, complain, report, say, shown_name};
use crate::analysis::solve::{self, Options, Reading, Voltage};
use crate::diag::Tally;
use crate::export::simulator::{Subject, netlist, shorted_words, unfed_words};
use crate::schedule::Head;
use crate::{Draft, draft};

/// Prints the netlist; what stands in the way goes to the error stream.
pub(super) fn run(arguments: &Simulator) -> Result<u8, Trouble> {
    let Draft {
        fingerprint,
        findings,
        boat,
        usable,
        ..
    } = draft(&files::read(&arguments.file)?);
    let file = shown_name(&arguments.file);
    let Some(system) = boat.filter(|_| usable) else {
        complain(&format!(
            "{file}: the file has faults of its own; `loomwright check` tells them\n"
        ));
        return Ok(UNUSABLE);
    };
    let state = match chosen(&system, arguments.scenario.as_deref()) {
        Ok(state) => state,
        Err(help) => {
            complain(&format!("loomwright: {}\n", report::printable(&help)));
            return Ok(UNUSABLE);
        }
    };
    let charge = arguments
        .charge
        .map(f64::from)
        .or(state.charge)
        .unwrap_or(100.0);
    let options = Options {
        reading: Reading::Physical,
        voltage: Voltage::AtRest(charge),
    };
    let (solution, elements) = match solve::elements(&system, &state.state, options) {
        Ok(solved) => solved,
        Err(error) => {
            complain(&format!(
                "{file}: {} has no steady state: {}\n",
                report::printable(&state.title),
                report::printable(&words(&system, error))
            ));
            return Ok(FINDINGS);
        }
    };
    // The findings of the wiring are not looked for here, so the head counts those of the file alone.
    let head = Head::new(&system, &Tally::of(&findings, 0), fingerprint);
    let title = format!("{}, batteries at {charge} %", state.title);
    let named = netlist(&Subject {
        system: &system,
        head: &head,
        title: &title,
        solution: &solution,
        elements: &elements,
    });
    say(&named.text)?;
    if let Some(words) = unfed_words(&system, &solution) {
        complain(&format!(
            "{file}: {}: {}\n",
            report::printable(&state.title),
            report::printable(&words)
        ));
    }
    if solution.shorted.is_empty() {
        return Ok(CLEAN);
    }
    complain(&format!(
        "{file}: {}: {}; the currents printed are those of a short\n",
        report::printable(&state.title),
        report::printable(&shorted_words(&system, &solution.shorted)),
    ));
    Ok(FINDINGS)
}
