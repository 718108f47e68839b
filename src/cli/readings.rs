//! The command that prints the form for readings, or compares readings with what was expected.

use super::files::{self, Trouble};
use super::{CLEAN, FINDINGS, Readings, UNUSABLE, colour, complain, report, say, shown_name};
use crate::analysis::poles::Poles;
use crate::analysis::readings::{Feeds, Plan, Taken, Verdict, judge, taken};
use crate::schedule::{judgement_words, readings_form};
use crate::{Draft, draft};

/// Runs the command.
pub(super) fn run(arguments: &Readings) -> Result<u8, Trouble> {
    let Draft {
        fingerprint,
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
    let feeds = Feeds::new(&system);
    let plan = Plan::new(&system, &Poles::new(&system), &feeds);
    let Some(measured) = &arguments.measured else {
        say(&readings_form(&system, &plan, fingerprint))?;
        return Ok(CLEAN);
    };
    let shown = shown_name(measured);
    let Taken {
        text,
        netlist,
        readings,
        findings,
    } = taken(&files::read(measured)?, &plan);
    if !findings.is_empty() {
        say(&report::findings(&shown, &text, &findings, colour()))?;
        return Ok(UNUSABLE);
    }
    if let Some(netlist) = netlist.filter(|netlist| *netlist != fingerprint.to_string()) {
        complain(&format!(
            "{shown}: the readings belong to netlist {}, but {file} is {fingerprint}; its steps may be others. \
             Print its form with `loomwright readings {file}`\n",
            report::printable(&netlist)
        ));
        return Ok(UNUSABLE);
    }
    let judgement = judge(&system, &feeds, &plan, &readings);
    // Line by line: a line break is one of the marks that no name may bring along.
    let words: String = judgement_words(&system, &plan, &judgement)
        .lines()
        .flat_map(|line| [report::printable(line).into_owned(), "\n".to_owned()])
        .collect();
    say(&words)?;
    let count = |wanted: fn(&Verdict) -> bool| {
        judgement
            .readings
            .iter()
            .filter(|reading| wanted(&reading.verdict))
            .count()
    };
    let off = count(|verdict| *verdict == Verdict::Off);
    let open = count(|verdict| {
        matches!(
            verdict,
            Verdict::NoReference(_) | Verdict::WrongQuantity | Verdict::NoSuchStep
        )
    });
    complain(&format!(
        "{shown}: {} readings, {off} off, {open} not compared; {} steps of the sheet are not taken\n",
        judgement.readings.len(),
        plan.groups
            .iter()
            .map(|group| group.steps.len())
            .sum::<usize>()
            .saturating_sub(judgement.readings.len())
    ));
    Ok(if off + open > 0 { FINDINGS } else { CLEAN })
}
