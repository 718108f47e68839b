//! The index: what every sheet holds, where zones, parts and wires stand, which broken-off wires belong together.
//!
//! It is read off the finished sheets, so it cannot tell another place than the one a thing is drawn at.

use super::filling::{Filling, or_empty};
use super::frame;
use super::layout::LEADING;
use super::legend::Used;
use super::marks::Marked;
use super::packing::Taken;
use super::pages::Room;
use super::scene::{Anchor, Area, At, Form, Group, Mark, OFFSHEET, Role, Shape, Sheet, SheetKind};
use super::selection::Selection;
use super::shapes::{heavy, text};
use super::standing::Standing;
use super::words::{self, TEXT};
use super::{Rendered, SheetOptions, font};
use crate::analysis::fill::ways_of;
use crate::schedule::length_style;
use crate::system::{ConductorId, PointId, System, TerminalId, Way, WayId};
use crate::units::format_length;
use std::collections::{BTreeMap, BTreeSet};

/// Least width of a column, in mm.
const COLUMN: f64 = 85.0;
/// Room between columns, in mm.
const GAP: f64 = 6.0;
/// Room between entries that share a line, in mm.
const ENTRY_GAP: f64 = 4.0;
/// Height of a line, in mm.
const LINE: f64 = TEXT * LEADING + 0.6;
/// Heading of the list of sheets.
const SHEETS: &str = "Sheets";
/// Largest share of a column that keys take.
const MOST_KEY: f64 = 0.45;

/// The point by which a group's place is told; none for an empty group.
pub(super) fn spot(group: &Group) -> Option<At> {
    let area = area(group)?;
    let middle = f64::midpoint(area.top, area.bottom);
    Some(match &group.role {
        // As both ends of a broken-off wire name each other.
        Role::Part { kind, .. } if *kind == OFFSHEET => (area.left, middle),
        Role::Part { .. } => group
            .shapes
            .iter()
            .find_map(|shape| match (&shape.mark, &shape.form) {
                (Mark::Port(_), Form::Circle { centre, .. }) => Some(*centre),
                _ => None,
            })
            .unwrap_or((f64::midpoint(area.left, area.right), middle)),
        Role::Zone { .. } => (area.left + 1.0, area.top + 1.0),
        _ => (f64::midpoint(area.left, area.right), middle),
    })
}

/// The rectangle around a group, its decoration included.
pub(super) fn area(group: &Group) -> Option<Area> {
    group
        .shapes
        .iter()
        .filter_map(|shape| shape.form.area())
        .reduce(Area::union)
}

/// One entry: what is looked up, and what is told of it.
struct Entry {
    key: String,
    told: String,
}

/// A list under its heading.
struct Section {
    heading: &'static str,
    entries: Vec<Entry>,
    /// Several entries share a line.
    dense: bool,
}

/// A line of an index: texts with their distance from the left edge of the column.
struct Line {
    texts: Vec<(f64, String)>,
    heading: bool,
}

/// Draws the index of some drawings.
pub(super) fn sheets(
    system: &System,
    options: &SheetOptions,
    drawings: &[Rendered],
    marked: &[Marked],
) -> Rendered {
    let format = options.size.format();
    let before: usize = drawings.iter().map(|drawing| drawing.sheets.len()).sum();
    let room = frame::room(format, 1);
    let columns = super::layout::whole((room.width + GAP) / (COLUMN + GAP)).max(1);
    let width = (room.width + GAP) / columns as f64 - GAP;
    let mut count = 0;
    let mut sections = sections(system, options, drawings, marked);
    // The list of sheets names the index itself, which may need one sheet more for it.
    let mut needed = 1;
    let (pages, rest) = loop {
        for section in sections.iter_mut().filter(|list| list.heading == SHEETS) {
            section.entries.extend((count..needed).map(|index| Entry {
                key: (before + index + 1).to_string(),
                told: SheetKind::Index.document_type().to_owned(),
            }));
        }
        count = needed;
        let lines: Vec<Line> = sections
            .iter()
            .flat_map(|section| lines_of(section, width))
            .collect();
        let (pages, rest) = flow(&lines, room, columns, width);
        if pages.len() <= count {
            break (pages, rest);
        }
        needed = pages.len();
    };
    let sheets = pages
        .into_iter()
        .enumerate()
        .map(|(index, shapes)| Sheet {
            kind: SheetKind::Index,
            number: before + index + 1,
            count: 0,
            width: format.width,
            height: format.height,
            title: "sheets, zones, parts, wires".to_owned(),
            groups: vec![
                frame::border(format),
                Group {
                    id: "index".to_owned(),
                    role: Role::Block {
                        name: "index".to_owned(),
                    },
                    title: String::new(),
                    shapes,
                },
            ],
            filled: 1.0,
        })
        .collect::<Vec<_>>();
    Rendered {
        format,
        names: vec![vec!["sheets, zones, parts, wires".to_owned()]; sheets.len()],
        sheets,
        used: Used::default(),
        taken: vec![rest],
        pending: None,
        legend: None,
    }
}

/// Everything that is looked up; the sheets of the index itself are still to be named under its sheets.
fn sections(
    system: &System,
    options: &SheetOptions,
    drawings: &[Rendered],
    marked: &[Marked],
) -> Vec<Section> {
    let mut zones: BTreeMap<usize, Vec<String>> = BTreeMap::new();
    let mut parts: BTreeMap<String, Vec<String>> = BTreeMap::new();
    let mut wires: Vec<(String, String)> = Vec::new();
    let mut refs: Vec<(String, String)> = Vec::new();
    let mut sheets: Vec<Entry> = Vec::new();
    let place_zone: BTreeMap<&str, usize> = system
        .zones
        .iter()
        .enumerate()
        .map(|(index, zone)| (zone.name.as_str(), index))
        .collect();
    let component_zone: BTreeMap<&str, usize> = system
        .components
        .iter()
        .filter_map(|component| Some((component.name.as_str(), component.zone?.index())))
        .collect();
    for drawing in drawings {
        for sheet in &drawing.sheets {
            sheets.push(Entry {
                key: sheet.number.to_string(),
                told: format!(
                    "{}: {}",
                    sheet.kind.document_type(),
                    drawing
                        .names
                        .get(sheets_before(&drawing.sheets, sheet.number))
                        .map_or_else(String::new, |names| names.join(", "))
                ),
            });
            // The overview shows things again that have their place on the other sheets.
            if sheet.kind != SheetKind::Wiring {
                continue;
            }
            for group in &sheet.groups {
                let Some(at) = spot(group) else { continue };
                let place = format!("{}/{}", sheet.number, frame::field(drawing.format, at));
                match &group.role {
                    Role::Part { name, kind, .. } if *kind == OFFSHEET => {
                        refs.push((name.clone(), place));
                    }
                    Role::Part { name, .. } => {
                        if let Some(&zone) = component_zone.get(name.as_str()) {
                            push_new(zones.entry(zone).or_default(), sheet.number.to_string());
                        }
                        push_new(parts.entry(name.clone()).or_default(), place);
                    }
                    Role::Zone { name } => {
                        let name = name.split_once('#').map_or(name.as_str(), |(name, _)| name);
                        if let Some(&zone) = place_zone.get(name) {
                            push_new(zones.entry(zone).or_default(), sheet.number.to_string());
                        }
                    }
                    Role::Wire { number, .. } => {
                        wires.push((number.clone(), place));
                    }
                    _ => {}
                }
            }
        }
    }
    let zones = zones
        .into_iter()
        .map(|(zone, sheets)| Entry {
            key: system.zones[zone].name.clone(),
            told: format!(
                "{} {}",
                if sheets.len() == 1 { "sheet" } else { "sheets" },
                sheets.join(", ")
            ),
        })
        .collect();
    wires.sort_by_cached_key(|(number, _)| natural(number));
    wires.dedup_by(|later, first| later.0 == first.0);
    let mut sections = options.standing.as_ref().map_or_else(Vec::new, |standing| {
        state_of(system, standing, options.selection.as_ref())
    });
    sections.extend([
        Section {
            heading: SHEETS,
            entries: sheets,
            dense: false,
        },
        Section {
            heading: "Findings, by the numbers marked on the drawing",
            entries: marked
                .iter()
                .map(|mark| Entry {
                    key: mark.number.to_string(),
                    told: mark.told(),
                })
                .collect(),
            dense: false,
        },
        Section {
            heading: "Zones",
            entries: zones,
            dense: false,
        },
        Section {
            heading: "Broken-off wires: both ends",
            entries: pairs(&refs),
            dense: true,
        },
        Section {
            heading: "Parts",
            entries: parts
                .into_iter()
                .map(|(key, places)| Entry {
                    key,
                    told: places.join(", "),
                })
                .collect(),
            dense: true,
        },
        Section {
            heading: "Wires",
            entries: wires
                .into_iter()
                .map(|(key, told)| Entry { key, told })
                .collect(),
            dense: true,
        },
        Section {
            heading: "Measured ways",
            entries: ways(system, options.selection.as_ref()),
            dense: true,
        },
        Section {
            heading: "Ways of the wires, from their first end",
            entries: ways_of_wires(system, options.selection.as_ref()),
            dense: true,
        },
    ]);
    sections
}

/// What each way joins, and how long it is; of a part of the boat, those that its wires take.
fn ways(system: &System, selection: Option<&Selection>) -> Vec<Entry> {
    let style = length_style(system);
    let point = |id: PointId| &system.points[id.index()].name;
    let entry = |way: &Way| {
        let (from, to) = (point(way.from), point(way.to));
        let length = way.length.map_or_else(
            || words::NOT_GIVEN.to_owned(),
            |given| format_length(given.value, style),
        );
        Entry {
            key: way.name.clone(),
            told: format!("{from} – {to}, {length}"),
        }
    };
    let taken: BTreeSet<WayId> = (0..system.conductors.len())
        .map(ConductorId::at)
        .filter(|&id| selection.is_some_and(|selection| selection.has(id)))
        .flat_map(|id| ways_of(system, id))
        .collect();
    let shown = |index: usize| selection.is_none() || taken.contains(&WayId::at(index));
    let ways = system.ways.iter().enumerate();
    ways.filter(|&(index, _)| shown(index))
        .map(|(_, way)| entry(way))
        .collect()
}

/// The ways that each wire takes.
fn ways_of_wires(system: &System, selection: Option<&Selection>) -> Vec<Entry> {
    let mut entries: Vec<Entry> = (0..system.conductors.len())
        .map(ConductorId::at)
        .filter(|&id| selection.is_none_or(|selection| selection.has(id)))
        .filter_map(|id| {
            Some(Entry {
                key: system.conductors[id.index()].number.clone(),
                told: words::ways(system, id)?,
            })
        })
        .collect();
    entries.sort_by_cached_key(|entry| natural(&entry.key));
    entries
}

/// What a drawing in one state shows, and every reading of it.
fn state_of(system: &System, standing: &Standing, selection: Option<&Selection>) -> Vec<Section> {
    let entry = |key: &str, told: String| Entry {
        key: key.to_owned(),
        told,
    };
    let currents = (0..system.conductors.len())
        .map(ConductorId::at)
        .filter(|&id| selection.is_none_or(|selection| selection.has(id)))
        .map(|id| {
            let words = standing.wire_words(id);
            let told = if words.is_empty() {
                "–".to_owned()
            } else {
                words
            };
            entry(&system.conductors[id.index()].number, told)
        })
        .collect();
    let drawn: Option<BTreeSet<String>> = selection.map(|selection| {
        (0..system.terminals.len())
            .map(TerminalId::at)
            .filter(|&terminal| selection.has_terminal(terminal))
            .map(|terminal| system.terminal_name(terminal))
            .collect()
    });
    let voltages = standing
        .voltages(system)
        .into_iter()
        .filter(|(terminal, _)| drawn.as_ref().is_none_or(|drawn| drawn.contains(terminal)))
        .map(|(key, told)| Entry { key, told })
        .collect();
    vec![
        Section {
            heading: "State shown",
            entries: vec![
                entry("state", standing.title.clone()),
                entry(
                    "strong",
                    "a bank reaches it, or current passes it; in place of its size, its current".to_owned(),
                ),
                entry("pale, broken", "dead in this state".to_owned()),
                entry(
                    "voltages",
                    "as solved, against the negative of the first battery that is joined; a meter decides".to_owned(),
                ),
            ],
            dense: false,
        },
        Section {
            heading: "Currents in this state",
            entries: currents,
            dense: true,
        },
        Section {
            heading: "Voltages in this state",
            entries: voltages,
            dense: true,
        },
    ]
}

fn sheets_before(sheets: &[Sheet], number: usize) -> usize {
    sheets
        .iter()
        .take_while(|sheet| sheet.number != number)
        .count()
}

fn push_new(list: &mut Vec<String>, item: String) {
    if !list.contains(&item) {
        list.push(item);
    }
}

/// Letters and numbers of a designation in turn, so that `H2` stands before `H10`.
fn natural(name: &str) -> Vec<(u64, String)> {
    let mut key: Vec<(u64, String)> = Vec::new();
    let mut digits = String::new();
    let mut letters = String::new();
    for character in name.chars().chain(std::iter::once('\0')) {
        if character.is_ascii_digit() && digits.len() < 18 {
            if !letters.is_empty() {
                key.push((0, std::mem::take(&mut letters)));
            }
            digits.push(character);
            continue;
        }
        if !digits.is_empty() {
            key.push((digits.parse().unwrap_or(0), String::new()));
            digits.clear();
        }
        letters.push(character);
    }
    key.push((0, letters));
    key
}

/// Both places of every broken-off wire: references are numbered two by two.
fn pairs(refs: &[(String, String)]) -> Vec<Entry> {
    let mut ends: BTreeMap<usize, [Option<(&str, &str)>; 2]> = BTreeMap::new();
    for (name, place) in refs {
        // `to-W12-3` is the third reference.
        let Some((wire, number)) = name.strip_prefix("to-").and_then(|n| n.rsplit_once('-')) else {
            continue;
        };
        let Some(index) = number.parse::<usize>().ok().and_then(|n| n.checked_sub(1)) else {
            continue;
        };
        ends.entry(index / 2).or_default()[index % 2] = Some((wire, place));
    }
    ends.into_values()
        .filter_map(|[one, other]| {
            let ((wire, from), (_, to)) = (one?, other?);
            Some(Entry {
                key: wire.to_owned(),
                told: format!("{from} – {to}"),
            })
        })
        .collect()
}

/// Sets a list into a column.
fn lines_of(section: &Section, width: f64) -> Vec<Line> {
    if section.entries.is_empty() {
        return Vec::new();
    }
    let mut lines = vec![Line {
        texts: vec![(0.0, section.heading.to_owned())],
        heading: true,
    }];
    let key_width = section
        .entries
        .iter()
        .map(|entry| font::width(&entry.key, TEXT))
        .fold(0.0, f64::max)
        .min(width * MOST_KEY)
        + 2.0;
    let told_width = section
        .entries
        .iter()
        .map(|entry| font::width(&entry.told, TEXT))
        .fold(0.0, f64::max);
    let across = if section.dense {
        super::layout::whole((width + ENTRY_GAP) / (key_width + told_width + ENTRY_GAP)).max(1)
    } else {
        1
    };
    let long = |entry: &&Entry| font::width(&entry.key, TEXT) > key_width - 2.0 + 1e-6;
    if across > 1 && !section.entries.iter().any(|entry| long(&entry)) {
        let step = (width + ENTRY_GAP) / across as f64;
        let rows = section.entries.len().div_ceil(across);
        for row in 0..rows {
            let mut texts = Vec::new();
            for column in 0..across {
                // Read downward, as in the back of a book.
                if let Some(entry) = section.entries.get(column * rows + row) {
                    let x = column as f64 * step;
                    texts.push((x, entry.key.clone()));
                    texts.push((x + key_width, entry.told.clone()));
                }
            }
            lines.push(Line {
                texts,
                heading: false,
            });
        }
        return lines;
    }
    for entry in &section.entries {
        let mut first = Vec::new();
        if long(&entry) {
            for words in broken(&entry.key, width) {
                lines.push(Line {
                    texts: vec![(0.0, words)],
                    heading: false,
                });
            }
        } else {
            first.push((0.0, entry.key.clone()));
        }
        for words in broken(&entry.told, width - key_width) {
            let mut texts = std::mem::take(&mut first);
            texts.push((key_width, words));
            lines.push(Line {
                texts,
                heading: false,
            });
        }
    }
    lines
}

/// Breaks a text into lines no wider than a width: at spaces, and within a word only where it is wider than a line.
fn broken(text: &str, width: f64) -> Vec<String> {
    let mut filling = Filling::new(width, |extent| extent.width(TEXT));
    for word in text.split_whitespace() {
        if filling.takes(word) {
            continue;
        }
        for letter in word.chars() {
            let before = filling.line().len();
            let fits = filling.push(letter.encode_utf8(&mut [0; 4]));
            if !fits && before > 0 {
                filling.break_at(before);
            }
        }
    }
    or_empty(filling.finish())
}

/// Sets lines into columns and columns onto sheets; gives what is taken of the last one.
fn flow(lines: &[Line], room: Room, columns: usize, width: f64) -> (Vec<Vec<Shape>>, Taken) {
    let mut pages: Vec<Vec<Shape>> = vec![Vec::new()];
    let mut column = 0;
    let mut y = room.top;
    for (index, line) in lines.iter().enumerate() {
        let first = y <= room.top;
        let above = if line.heading && !first { LINE } else { 0.0 };
        // A heading is never the last line of its column.
        let needed = if line.heading { 2.0 * LINE } else { LINE };
        let right = room.left + column as f64 * (width + GAP) + width;
        if y + above + needed > room.bottom(right) && index > 0 {
            column += 1;
            y = room.top;
            if column == columns {
                column = 0;
                pages.push(Vec::new());
            }
        } else {
            y += above;
        }
        let x = room.left + column as f64 * (width + GAP);
        y += LINE;
        if let Some(page) = pages.last_mut() {
            let write = if line.heading { heavy } else { text };
            page.extend(
                line.texts.iter().map(|(offset, words)| {
                    write((x + offset, y - 0.9), words, TEXT, Anchor::Start)
                }),
            );
        }
    }
    let mut taken = Taken::new(room);
    for index in 0..=column {
        let to = if index < column { room.bottoms[0] } else { y };
        taken.take(index as f64 * (width + GAP), width, to + GAP);
    }
    (pages, taken)
}
