//! The words of references to where a wire goes on.

use super::on_grid;
use crate::drawing::circuit::Circuit;
use crate::drawing::plan::Plan;
use crate::drawing::words::{self, TEXT};
use crate::system::{System, TerminalId};

/// Name of a terminal on its part.
pub(in crate::drawing) fn terminal_word(system: &System, terminal: TerminalId) -> &str {
    let name = system.terminals[terminal.index()].name.as_str();
    name.strip_prefix("negative.").unwrap_or(name)
}

/// Widest place a reference can name; it stands for the place until that is known.
pub(in crate::drawing) const WIDEST_PLACE: &str = "00/A0";

/// Last line of a reference to what these sheets do not show.
pub(in crate::drawing) const OUTSIDE: &str = "outside this view";

/// Lines of a reference, the last one with room for its place.
pub(in crate::drawing) fn reference_lines(
    system: &System,
    circuit: &Circuit,
    plan: &Plan,
    reference: usize,
    letters: usize,
) -> Vec<String> {
    if let Some(outer) = plan.refs[reference].outer {
        let outer = &circuit.outer[outer];
        let mut lines = words::wrap(&outer.words, 24);
        let zone = words::zone(system, outer.zone).map(|zone| format!("zone {zone}, "));
        match zone {
            Some(zone) if zone.chars().count() + OUTSIDE.len() <= 28 => {
                lines.push(format!("{zone}{OUTSIDE}"));
            }
            Some(zone) => {
                lines.extend(words::wrap(&zone, 28));
                lines.push(OUTSIDE.to_owned());
            }
            None => lines.push(OUTSIDE.to_owned()),
        }
        return lines;
    }
    let name = system.terminal_name(plan.refs[reference].far);
    words::wrap(&format!("{name} {WIDEST_PLACE}"), letters)
}

/// Width of the symbol of a reference.
pub(in crate::drawing) fn reference_width(lines: &[String]) -> f64 {
    on_grid(words::widest(lines, TEXT) + 4.0)
}
