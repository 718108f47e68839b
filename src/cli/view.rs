//! The command that draws the schematic in one state of the boat, or a part of it on sheets of its own.

use super::files::{self, Foreign, Others, Trouble};
use super::states::{chosen, set, words};
use super::{CLEAN, FINDINGS, PaperForm, Sheet, UNUSABLE, View, complain, report, shown_name};
use crate::analysis::Facts;
use crate::analysis::solve::{Options, Reading, Voltage, solve};
use crate::diag::{Diagnostic, Severity, Tally, nearest};
use crate::drawing::standing::Standing;
use crate::drawing::{BenchDrawing, Selection, SheetOptions, document};
use crate::export;
use crate::export::simulator::shorted_words;
use crate::schedule::Head;
use crate::system::{CircuitId, ComponentId, System, ZoneId};
use crate::{Draft, draft, rules};

/// Name of the files of the whole boat, and of the folder.
const STEM: &str = "view";

/// Forms that a drawing comes in.
const DRAWN: [export::Form; 3] = [export::Form::Svg, export::Form::Png, export::Form::Pdf];

/// Draws what is asked for; what stands in the way goes to the error stream.
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
    if let Some(form) = forms.iter().find(|form| !DRAWN.contains(form)) {
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
    let mut sheets = SheetOptions::for_boat(&system, fingerprint.to_string());
    sheets.size = arguments.written.sheet.map_or(sheets.size, Sheet::size);
    let mut status = CLEAN;
    let found = selection(&system, arguments).and_then(|part| {
        let stated = arguments.scenario.is_some() || !arguments.set.is_empty();
        let standing = match &part {
            Some(_) if !stated => None,
            _ => Some(standing(&system, arguments)?),
        };
        Ok((part, standing))
    });
    match found {
        Ok((part, stands)) => {
            sheets.selection = part;
            if let Some((standing, trouble)) = stands {
                if let Some(trouble) = trouble {
                    complain(&format!("{file}: {}\n", report::printable(&trouble)));
                    status = FINDINGS;
                }
                sheets.standing = Some(standing);
            }
        }
        Err(help) => {
            complain(&format!("loomwright: {}\n", report::printable(&help)));
            return Ok(UNUSABLE);
        }
    }
    let facts = Facts::new(&system);
    let mut judged = rules::run(&facts);
    let accepted = rules::accept(&system, &mut judged);
    let head = Head::new(&system, &Tally::of(&findings, accepted), fingerprint);
    if sheets.standing.is_some() {
        // A note is no reason to look at a place; beside the readings it would only hide them.
        judged.retain(|finding: &Diagnostic| finding.severity != Severity::Note);
    }
    let title = match sheets.standing {
        Some(_) => "Schematic in one state",
        None => "Part of the schematic",
    };
    let drawn = document(&system, &sheets).finish(&system, &sheets, &judged);
    let drawing = BenchDrawing::plain(STEM, title, drawn);
    let stem = sheets
        .selection
        .as_ref()
        .map_or_else(|| STEM.to_owned(), |part| file_stem(&part.title));
    let unmade = write(arguments, &forms, &head, &drawing, &stem)?;
    Ok(if unmade { UNUSABLE } else { status })
}

/// Writes a drawing in every form asked for; true when one could not be made.
fn write(
    arguments: &View,
    forms: &[export::Form],
    head: &Head,
    drawing: &BenchDrawing,
    stem: &str,
) -> Result<bool, Trouble> {
    let (mut made, mut unmade) = (Vec::new(), Vec::new());
    for form in forms {
        match form {
            export::Form::Svg => made.extend(export::drawings(drawing)),
            export::Form::Png => {
                let (pictures, missing) = export::pictures(drawing, arguments.written.dpi);
                made.extend(pictures);
                unmade.extend(missing);
            }
            _ => match export::document(head, std::slice::from_ref(drawing), &[]) {
                Ok(Some(mut paper)) => {
                    paper.name = format!("{STEM}.pdf");
                    made.push(paper);
                }
                Ok(None) => {}
                Err(why) => unmade.push(why),
            },
        }
    }
    for paper in &mut made {
        if let Some(ending) = paper.name.strip_prefix(STEM) {
            paper.name = format!("{stem}{ending}");
        }
    }
    let folder = arguments
        .out
        .clone()
        .unwrap_or_else(|| super::folder_for(&arguments.file, STEM));
    let foreign = if arguments.written.force {
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
    Ok(!unmade.is_empty())
}

/// The state asked for, and what is wrong with it; such a state has no numbers.
///
/// # Errors
/// What is wrong with the arguments.
fn standing(system: &System, arguments: &View) -> Result<(Standing, Option<String>), String> {
    let mut state = chosen(system, arguments.scenario.as_deref())?;
    set(system, &mut state, &arguments.set)?;
    let options = Options {
        reading: Reading::Physical,
        voltage: Voltage::AtRest(state.charge.unwrap_or(100.0)),
    };
    let solved = solve(system, &state.state, options);
    // The current of a short is no reading that anybody should take.
    let trouble = match &solved {
        Err(error) => Some(format!("no steady state: {}", words(system, *error))),
        Ok(solution) if !solution.shorted.is_empty() => {
            Some(shorted_words(system, &solution.shorted))
        }
        Ok(_) => None,
    };
    let title = match &trouble {
        Some(trouble) => format!("{trouble}; {}", state.title),
        None => state.title.clone(),
    };
    let numbers = solved.as_ref().ok().filter(|_| trouble.is_none());
    let standing = Standing::new(system, title, &state.state, numbers);
    let trouble =
        trouble.map(|trouble| format!("{}: {trouble}; the view has no numbers", state.title));
    Ok((standing, trouble))
}

/// The part of the boat asked for; none for all of it.
///
/// # Errors
/// There is nothing of the name asked for; what there is.
fn selection(system: &System, arguments: &View) -> Result<Option<Selection>, String> {
    if let Some(name) = &arguments.zone {
        let names: Vec<&str> = system.zones.iter().map(|zone| zone.name.as_str()).collect();
        let at = find(name, "zone", &names)?;
        return Ok(Some(Selection::zone(system, ZoneId::at(at))));
    }
    if let Some(name) = &arguments.part {
        let names: Vec<&str> = system
            .components
            .iter()
            .map(|component| component.name.as_str())
            .collect();
        let at = find(name, "part", &names)?;
        return Ok(Some(Selection::part(system, ComponentId::at(at))));
    }
    let Some(name) = &arguments.circuit else {
        return Ok(None);
    };
    // A circuit goes by its name, by its number, or by the load that it serves.
    let served = |circuit: &crate::system::Circuit| {
        circuit.load.map_or("", |load| {
            let component = system.loads[load.index()].component;
            system.components[component.index()].name.as_str()
        })
    };
    let by_number = system
        .circuits
        .iter()
        .position(|circuit| circuit.number.eq_ignore_ascii_case(name));
    let named = system
        .circuits
        .iter()
        .position(|circuit| circuit.name == *name);
    let by_load = system
        .circuits
        .iter()
        .position(|circuit| served(circuit) == name);
    if let Some(at) = named.or(by_number).or(by_load) {
        return Ok(Some(Selection::circuit(system, CircuitId::at(at))));
    }
    // What single runs wire is a circuit too.
    let load = system
        .components
        .iter()
        .position(|component| component.name == *name)
        .map(ComponentId::at);
    if let Some(part) = load.and_then(|load| Selection::circuit_of_load(system, load)) {
        return Ok(Some(part));
    }
    let names: Vec<&str> = system
        .circuits
        .iter()
        .map(|circuit| circuit.name.as_str())
        .chain(system.loads.iter().map(|load| {
            let component = &system.components[load.component.index()];
            component.name.as_str()
        }))
        .collect();
    find(name, "circuit", &names).map(|_| None)
}

/// Most names told where there is none like the one asked for.
const MOST_TOLD: usize = 20;

/// The index of a name.
///
/// # Errors
/// There is none such; the nearest, or those there are.
fn find(name: &str, kind: &str, names: &[&str]) -> Result<usize, String> {
    if let Some(at) = names.iter().position(|known| *known == name) {
        return Ok(at);
    }
    Err(match nearest(name, names.iter().copied()) {
        Some(near) => format!("there is no {kind} `{name}`; did you mean `{near}`?"),
        None if names.is_empty() => format!("there is no {kind} `{name}`, nor any other"),
        None => {
            let mut told: Vec<&str> = Vec::new();
            for known in names {
                if !told.contains(known) && told.len() <= MOST_TOLD {
                    told.push(known);
                }
            }
            let more = if told.len() > MOST_TOLD {
                told.pop();
                ", …"
            } else {
                ""
            };
            format!(
                "there is no {kind} `{name}`; there are {}{more}",
                told.join(", ")
            )
        }
    })
}

/// A file name made of a title: letters, digits and hyphens.
fn file_stem(title: &str) -> String {
    let mut stem = String::new();
    for letter in title.chars() {
        if letter.is_alphanumeric() {
            stem.extend(letter.to_lowercase());
        } else if !stem.ends_with('-') {
            stem.push('-');
        }
    }
    let stem: String = stem.trim_matches('-').chars().take(60).collect();
    stem
}
