//! The command that writes the settled copy of a netlist.

use super::files::{self, Trouble};
use super::{CLEAN, FINDINGS, Settle, UNUSABLE, complain, report, say, shown_name};
use crate::sizing::settled;
use crate::{Draft, draft};

/// Writes or prints the copy; what stays open goes to the error stream.
pub(super) fn run(arguments: &Settle) -> Result<u8, Trouble> {
    let Draft {
        text, boat, usable, ..
    } = draft(&files::read(&arguments.file)?);
    let file = shown_name(&arguments.file);
    let Some(system) = boat.filter(|_| usable) else {
        complain(&format!(
            "{file}: the file has faults of its own; `loomwright check` tells them\n"
        ));
        return Ok(UNUSABLE);
    };
    let copy = settled(&text, &system);
    match &arguments.out {
        None => say(&copy.text)?,
        Some(out) => {
            files::create(out, &copy.text)?;
            let (word, verb) = if copy.values == 1 {
                ("value", "is")
            } else {
                ("values", "are")
            };
            complain(&format!(
                "{}: {} {word} behind `auto` {verb} settled\n",
                shown_name(out),
                copy.values
            ));
        }
    }
    for (element, reason) in &copy.open {
        complain(&format!(
            "{} stays open: {reason}\n",
            report::printable(element)
        ));
    }
    Ok(if copy.open.is_empty() {
        CLEAN
    } else {
        FINDINGS
    })
}
