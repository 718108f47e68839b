//! The command that draws the schematic in one state of the boat.

use super::files::{self, Foreign, Others, Trouble};
use super::states::{chosen, set, words};
use super::{CLEAN, FINDINGS, PaperForm, Sheet, UNUSABLE, View, complain, report, shown_name};
use crate::analysis::Facts;
use crate::analysis::solve::{Options, Reading, Voltage, solve};
use crate::diag::Tally;
use crate::drawing::standing::Standing;
use crate::drawing::{BenchDrawing, SheetOptions, document};
use crate::export;
use crate::export::simulator::shorted_words;
use crate::schedule::Head;
use crate::{Draft, draft, rules};

/// Name of the files.
const STEM: &str = "view";

/// Draws the state that is asked for; what stands in the way goes to the error stream.
pub(super) fn run(arguments: &View) -> Result<u8, Trouble> {
    let asked = if arguments.forms.is_empty() {
        &[PaperForm::Svg][..]
    } else {
        &arguments.forms[..]
    };
    let forms: Vec<export::Form> = asked.iter().map(|form| form.form()).collect();
    if let Some(form) = forms.iter().find(|form| !form.is_built_in()) {
        return Err(Trouble::NotBuiltIn(form.name()));
    }
    let drawn = [export::Form::Svg, export::Form::Png, export::Form::Pdf];
    if let Some(form) = forms.iter().find(|form| !drawn.contains(form)) {
        complain(&format!(
            "loomwright: a view is a drawing and does not come as {}; ask for svg, png or pdf\n",
            form.name()
        ));
        return Ok(UNUSABLE);
    }
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
    let state = chosen(&system, arguments.scenario.as_deref())
        .and_then(|mut state| set(&system, &mut state, &arguments.set).map(|()| state));
    let state = match state {
        Ok(state) => state,
        Err(help) => {
            complain(&format!("loomwright: {}\n", report::printable(&help)));
            return Ok(UNUSABLE);
        }
    };
    let options = Options {
        reading: Reading::Physical,
        voltage: Voltage::AtRest(state.charge.unwrap_or(100.0)),
    };
    let solved = solve(&system, &state.state, options);
    let mut title = state.title;
    let mut status = CLEAN;
    // The current of a short is no reading that anybody should take, so such a state has no numbers either.
    let trouble = match &solved {
        Err(error) => Some(format!("no steady state: {}", words(&system, *error))),
        Ok(solution) if !solution.shorted.is_empty() => {
            Some(shorted_words(&system, &solution.shorted))
        }
        Ok(_) => None,
    };
    if let Some(trouble) = &trouble {
        complain(&format!(
            "{file}: {}: {}; the view has no numbers\n",
            report::printable(&title),
            report::printable(trouble)
        ));
        title = format!("{trouble}; {title}");
        status = FINDINGS;
    }
    let mut sheets = SheetOptions::for_boat(&system, fingerprint.to_string());
    sheets.size = arguments.sheet.map_or(sheets.size, Sheet::size);
    let standing = Standing::new(
        &system,
        title,
        &state.state,
        solved.as_ref().ok().filter(|_| trouble.is_none()),
    );
    sheets.standing = Some(standing);
    let facts = Facts::new(&system);
    let mut judged = rules::run(&facts);
    let accepted = rules::accept(&system, &mut judged);
    let head = Head::new(&system, &Tally::of(&findings, accepted), fingerprint);
    let drawing = BenchDrawing {
        stem: STEM,
        title: "Schematic in one state",
        sheets: document(&system, &sheets).finish(&system, &sheets, &judged),
    };
    let (mut made, mut unmade) = (Vec::new(), Vec::new());
    for form in forms {
        match form {
            export::Form::Svg => made.extend(export::drawings(&drawing)),
            export::Form::Png => {
                let (pictures, missing) = export::pictures(&drawing, arguments.dpi);
                made.extend(pictures);
                unmade.extend(missing);
            }
            _ => match export::document(&head, std::slice::from_ref(&drawing), &[]) {
                Ok(Some(mut paper)) => {
                    paper.name = format!("{STEM}.pdf");
                    made.push(paper);
                }
                Ok(None) => {}
                Err(why) => unmade.push(why),
            },
        }
    }
    let folder = arguments
        .out
        .clone()
        .unwrap_or_else(|| super::folder_for(&arguments.file, STEM));
    let foreign = if arguments.force {
        Foreign::Replace
    } else {
        Foreign::Keep
    };
    files::write_papers(&folder, &made, (foreign, Others::Keep))?;
    let shown = folder.display().to_string();
    complain(&format!(
        "{} written to {}\n",
        match made.len() {
            1 => "1 file".to_owned(),
            more => format!("{more} files"),
        },
        report::printable(&shown)
    ));
    for missing in &unmade {
        complain(&format!("loomwright: {missing}\n"));
    }
    Ok(if unmade.is_empty() { status } else { UNUSABLE })
}
