//! Marks of findings: a number beside the element that a finding is about, its weight told by the shape around it.
//!
//! A mark takes free room near its element and lies on nothing; the index tells what each number means.
//! An error stands white in a black field with round ends, a warning in a white one with a heavy line, what is not
//! proved in one with a broken line, a note in a small square.

mod free_room;
mod targets;

use super::index::area;
use super::render::INLINE;
use super::scene::{Anchor, Area, At, Form, Group, Mark, Rgb, Role, Shape, SheetKind, Stroke};
use super::standing::{Standing, fade};
use super::words::{SMALL, is_pole, signed};
use super::{Format, Rendered, font, frame};
use crate::diag::{Diagnostic, Severity, on_paper};
use crate::system::{ComponentKind, System, TerminalId};
use free_room::Board;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use targets::{Target, Targets, ports, terminal_of};

/// Height of a mark, in mm.
pub(super) const HEIGHT: f64 = 2.8;

/// Distance within which an equal voltage is not written again, in mm.
const APART: f64 = 30.0;

/// Stands before the number of elements that one mark is for.
pub(super) const MANY: char = '×';

/// Most elements of one note that are marked each on a sheet; of more, the first is marked for all.
const MOST_ALIKE: usize = 3;

/// A finding with its number on the drawing.
#[derive(Clone, Debug)]
pub(super) struct Marked {
    /// Number from 1, in the order of the findings.
    pub(super) number: usize,
    severity: Severity,
    rule: &'static str,
    message: String,
    /// Sheets and fields of what it is about.
    places: Vec<String>,
    /// What it is about, where one mark stands for many.
    about: Vec<String>,
}

impl Marked {
    /// Whether one of its elements is drawn.
    pub(super) fn is_drawn(&self) -> bool {
        !self.places.is_empty()
    }

    /// What the index says of it.
    pub(super) fn told(&self) -> String {
        let places = if self.places.is_empty() {
            String::new()
        } else {
            format!("{}: ", self.places.join(", "))
        };
        let told = |name: &String| {
            let mut words = self.message.split([' ', ',', ';']);
            words.any(|word| word == name)
        };
        let about = if self.about.iter().all(told) {
            String::new()
        } else {
            format!("; about {}", self.about.join(", "))
        };
        format!(
            "{places}{} {}, {}{about}",
            self.rule,
            self.severity.word(),
            self.message
        )
    }
}

/// Marks every finding on the sheets that show its elements.
pub(super) fn place(
    system: &System,
    drawings: &mut [Rendered],
    boards: &mut Boards,
    findings: &[Diagnostic],
) -> Vec<Marked> {
    if findings.is_empty() {
        return Vec::new();
    }
    let targets = Targets::new(system, drawings);
    let mut marked = Vec::with_capacity(findings.len());
    for (index, finding) in findings.iter().enumerate() {
        let mut mark = Marked {
            number: index + 1,
            severity: finding.severity,
            rule: finding.rule,
            message: on_paper(&finding.message),
            places: Vec::new(),
            about: Vec::new(),
        };
        // By sheet, in the order of the elements.
        let mut drawn: Vec<Vec<(&str, Target)>> = Vec::new();
        for element in std::iter::once(&finding.element).chain(&finding.also) {
            let Some(target) = targets.find(element) else {
                continue;
            };
            let here = |of: &&mut Vec<(&str, Target)>| {
                let first = of[0].1;
                (first.drawing, first.sheet) == (target.drawing, target.sheet)
            };
            match drawn.iter_mut().find(here) {
                Some(of) => of.push((element, target)),
                None => drawn.push(vec![(element, target)]),
            }
        }
        for found in &drawn {
            let first = found[0].1;
            let drawing = &mut drawings[first.drawing];
            let sheet = &mut drawing.sheets[first.sheet];
            let board = boards.of((first.drawing, first.sheet), drawing.format, &sheet.groups);
            // A note about many is told once on a sheet, with how many it is about.
            let once = mark.severity == Severity::Note && found.len() > MOST_ALIKE;
            let shown = if once { &found[..1] } else { &found[..] };
            for &(_, target) in shown {
                let field = frame::field(drawing.format, target.at);
                let place = format!("{}/{field}", sheet.number);
                if !mark.places.contains(&place) {
                    mark.places.push(place);
                }
            }
            let (mut words, mut about) = (mark.number.to_string(), String::new());
            if once {
                let names: Vec<&str> = found.iter().map(|&(element, _)| element).collect();
                let _ = write!(words, " {MANY}{}", found.len());
                about = format!(", about {}", names.join(", "));
                mark.about.extend(names.into_iter().map(str::to_owned));
            }
            for &(element, target) in shown {
                let near = &targets.areas[target.areas.0..target.areas.1];
                if let Some(mut group) = board.mark(&mark, &words, (target, near)) {
                    group.id = format!("finding-{}-{element}", finding.rule);
                    group.title.push_str(&about);
                    sheet.groups.push(group);
                }
            }
        }
        marked.push(mark);
    }
    marked
}

/// Writes the voltage beside every terminal that has one and room for it; all of them are in the index.
pub(super) fn place_voltages(
    system: &System,
    drawings: &mut [Rendered],
    boards: &mut Boards,
    standing: &Standing,
) {
    let voltages = standing.voltages(system);
    for (drawing, rendered) in drawings.iter_mut().enumerate() {
        for (index, sheet) in rendered.sheets.iter_mut().enumerate() {
            if sheet.kind != SheetKind::Wiring {
                continue;
            }
            let board = boards.of((drawing, index), rendered.format, &sheet.groups);
            let mut told: Vec<(At, &str)> = Vec::new();
            let mut notes = Vec::new();
            for (port, centre) in sheet.groups.iter().flat_map(ports) {
                let terminal = terminal_of(port);
                let Some(words) = voltages.get(terminal) else {
                    continue;
                };
                let near = |&(at, other): &(At, &str)| {
                    other == words && (at.0 - centre.0).hypot(at.1 - centre.1) < APART
                };
                if told.iter().any(near) {
                    continue;
                }
                if let Some(shape) = board.note(words, centre) {
                    told.push((centre, words));
                    notes.push(Group {
                        id: format!("volts-{port}"),
                        role: Role::Note,
                        title: format!("{terminal}: {words}"),
                        shapes: vec![shape],
                    });
                }
            }
            sheet.groups.extend(notes);
        }
    }
}

/// Writes the poles beside the terminals of sources whose symbol does not tell them, and of reversed loads.
pub(super) fn place_poles(
    system: &System,
    drawings: &mut [Rendered],
    boards: &mut Boards,
    standing: Option<&Standing>,
) {
    let by_name: BTreeMap<&str, ComponentKind> = system
        .components
        .iter()
        .map(|component| (component.name.as_str(), component.kind))
        .collect();
    let dead: BTreeSet<String> = standing.map_or_else(BTreeSet::new, |standing| {
        (0..system.terminals.len())
            .map(TerminalId::at)
            .filter(|&terminal| !standing.is_strong(system, terminal))
            .map(|terminal| system.terminal_name(terminal))
            .collect()
    });
    for (drawing, rendered) in drawings.iter_mut().enumerate() {
        for (index, sheet) in rendered.sheets.iter_mut().enumerate() {
            if sheet.kind != SheetKind::Wiring {
                continue;
            }
            let mut notes = Vec::new();
            for group in &sheet.groups {
                let Role::Part { name, kind, .. } = &group.role else {
                    continue;
                };
                let Some(&component) = by_name.get(name.as_str()) else {
                    continue;
                };
                if *kind != INLINE || component == ComponentKind::Connector {
                    continue;
                }
                let middle = area(group).map_or(0.0, |area| f64::midpoint(area.left, area.right));
                for (port, centre) in ports(group) {
                    let terminal = terminal_of(port);
                    let word = terminal.strip_prefix(name.as_str());
                    let Some(word) = word.and_then(|word| word.strip_prefix('.')) else {
                        continue;
                    };
                    let told = match (component, word) {
                        (ComponentKind::Battery, _) => true,
                        // Supply comes from the left.
                        (ComponentKind::Load | ComponentKind::Instrument, "+") => {
                            centre.0 <= middle
                        }
                        (ComponentKind::Load | ComponentKind::Instrument, "-") => {
                            centre.0 >= middle
                        }
                        _ => !is_pole(word),
                    };
                    if told {
                        continue;
                    }
                    let board = boards.of((drawing, index), rendered.format, &sheet.groups);
                    let Some(mut shape) = board.note(&signed(word), centre) else {
                        continue;
                    };
                    if dead.contains(terminal) {
                        fade(std::slice::from_mut(&mut shape));
                    }
                    notes.push(Group {
                        id: format!("terminal-{port}"),
                        role: Role::Note,
                        title: terminal.to_owned(),
                        shapes: vec![shape],
                    });
                }
            }
            sheet.groups.extend(notes);
        }
    }
}

/// What is drawn on each sheet, looked through once.
#[derive(Default)]
pub(super) struct Boards {
    /// By drawing and sheet.
    known: BTreeMap<(usize, usize), Board>,
}

impl Boards {
    fn of(&mut self, sheet: (usize, usize), format: Format, groups: &[Group]) -> &mut Board {
        let new = || Board::new(format, sheet.1, groups);
        self.known.entry(sheet).or_insert_with(new)
    }
}

/// Width of a mark with its number, in mm.
pub(super) fn flag_width(words: &str) -> f64 {
    font::width(words, SMALL) + 2.0
}

/// The shape around a number.
pub(super) fn flag(severity: Severity, area: Area, words: &str) -> [Shape; 2] {
    let (round, stroke, fill, ink) = match severity {
        Severity::Error => (true, Stroke::black(0.35), Rgb::BLACK, Rgb::WHITE),
        Severity::Warning => (true, Stroke::black(0.5), Rgb::WHITE, Rgb::BLACK),
        Severity::NotProved => (
            true,
            Stroke {
                dash: Some((0.8, 0.5)),
                ..Stroke::black(0.35)
            },
            Rgb::WHITE,
            Rgb::BLACK,
        ),
        Severity::Note => (false, Stroke::black(0.18), Rgb::WHITE, Rgb::BLACK),
    };
    let (width, height) = (area.right - area.left, area.bottom - area.top);
    [
        Shape {
            form: Form::Rect {
                at: (area.left, area.top),
                width,
                height,
                radius: if round { height / 2.0 } else { 0.0 },
            },
            stroke: Some(stroke),
            fill: Some(fill),
            mark: Mark::Plain,
        },
        Shape {
            form: Form::Text {
                at: (
                    f64::midpoint(area.left, area.right),
                    f64::midpoint(area.top, area.bottom) + 0.72,
                ),
                text: words.to_owned(),
                size: SMALL,
                anchor: Anchor::Middle,
                bold: false,
            },
            stroke: None,
            fill: Some(ink),
            mark: Mark::Plain,
        },
    ]
}
