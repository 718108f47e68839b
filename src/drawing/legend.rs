//! The legend: every symbol, colour and mark that the sheets beside it use, and nothing else.
//!
//! Its room is kept before the findings are known. What no sheet shows in the end is left out of it.

use super::layout::whole;
use super::marks::{MANY, flag};
use super::render::{INLINE, ZONE_FILL, outline_of_zone};
use super::scene::{Anchor, Area, At, Form, Group, Mark, OFFSHEET, Rgb, Role, Shape};
use super::shapes::{heavy, line, rect, text};
use super::standing;
use super::symbols::{HALO, LINE, Pen, Symbol, WIRE, ring};
use super::words::{ASSUMED, NOT_GIVEN, SMALL, TEXT};
use crate::diag::Severity;
use crate::standards::PlainColour;
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

/// What the legend explains.
#[derive(Clone, Debug, Default)]
pub(super) struct Used {
    pub(super) symbols: BTreeSet<Symbol>,
    /// By letters: the plain colours, bases and stripes alike.
    pub(super) colours: BTreeMap<&'static str, PlainColour>,
    /// Letters of a colour with a stripe.
    pub(super) striped: Option<String>,
    /// Whether the drawing shows a state.
    pub(super) stated: bool,
    /// What is neither a symbol nor a colour.
    pub(super) keys: BTreeSet<Key>,
}

impl Used {
    /// Takes in a plain colour, or a base with its stripe.
    pub(super) fn colour(&mut self, colour: crate::standards::InsulationColour) {
        for plain in [Some(colour.base), colour.stripe].into_iter().flatten() {
            self.colours.insert(plain.code, plain);
        }
        if colour.stripe.is_some() && self.striped.is_none() {
            self.striped = Some(colour.letters());
        }
    }

    /// Makes room for a mark of every weight, as long as the findings are not known.
    pub(super) fn any_finding(&mut self) {
        for severity in [
            Severity::Error,
            Severity::Warning,
            Severity::NotProved,
            Severity::Note,
        ] {
            self.keys.insert(Key::Finding(Reverse(severity), 1));
        }
        self.keys.insert(Key::Many);
    }

    /// Looks through what is drawn for all that is neither a symbol nor a colour.
    pub(super) fn look_through<'g>(&mut self, groups: impl Iterator<Item = &'g Group>) {
        let mut marks: BTreeMap<&str, usize> = BTreeMap::new();
        let mut found = BTreeSet::new();
        for group in groups {
            match &group.role {
                Role::Frame | Role::Block { .. } => continue,
                Role::Finding {
                    number, severity, ..
                } => {
                    let many = |shape: &Shape| matches!(&shape.form, Form::Text { text, .. } if text.contains(MANY));
                    if group.shapes.iter().any(many) {
                        found.insert(Key::Many);
                    }
                    let least = marks.entry(severity).or_insert(*number);
                    *least = (*least).min(*number);
                    continue;
                }
                Role::Zone { .. } => {
                    found.insert(Key::Zone);
                    continue;
                }
                Role::Wire { .. } if self.stated => {
                    let dead = group.shapes.iter().any(|shape| {
                        shape.mark == Mark::Halo
                            && shape.stroke.is_some_and(|stroke| stroke.dash.is_some())
                    });
                    found.insert(if dead { Key::Dead } else { Key::Live });
                }
                Role::Note if group.id.starts_with("joint-") => {
                    found.insert(Key::Bolted);
                }
                Role::Note if group.id.starts_with("open-") => {
                    found.insert(Key::OpenEnd);
                }
                Role::Note if group.id.starts_with("volts-") => {
                    found.insert(Key::Volts);
                }
                _ => {}
            }
            for shape in &group.shapes {
                let Form::Text { text, .. } = &shape.form else {
                    continue;
                };
                let words = || text.split_whitespace();
                if matches!(group.role, Role::WireLabel { .. }) && text.ends_with(" A") {
                    found.insert(Key::Amps);
                }
                if words().any(|word| word.trim_end_matches(',') == NOT_GIVEN) {
                    found.insert(Key::NotGiven);
                }
                if words().any(|word| word.trim_end_matches(',').ends_with(ASSUMED)) {
                    found.insert(Key::Assumed);
                }
                let is_part = matches!(&group.role, Role::Part { kind, .. } if *kind == INLINE);
                if is_part && text.contains(" – ") {
                    found.insert(Key::Terminals);
                }
                let refers = matches!(&group.role, Role::Part { kind, .. } if *kind == OFFSHEET);
                if (refers || text.starts_with("also ")) && words().any(is_place) {
                    found.insert(Key::Place);
                }
            }
        }
        for severity in [
            Severity::Error,
            Severity::Warning,
            Severity::NotProved,
            Severity::Note,
        ] {
            if let Some(&number) = marks.get(severity.word()) {
                found.insert(Key::Finding(Reverse(severity), number));
            }
        }
        if self.striped.is_some() {
            found.insert(Key::Stripe);
        }
        if self.symbols.iter().any(|symbol| symbol.is_contact()) {
            found.insert(Key::Contacts);
        }
        self.keys = found;
    }
}

/// Whether a word tells sheet and field, as `2/C4`.
fn is_place(word: &str) -> bool {
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    word.split_once('/').is_some_and(|(sheet, field)| {
        let number = field.strip_prefix(|letter: char| letter.is_ascii_uppercase());
        digits(sheet) && number.is_some_and(digits)
    })
}

/// Something that is neither a symbol nor a colour, in the order of the legend.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Key {
    Live,
    Dead,
    Amps,
    Volts,
    Contacts,
    Terminals,
    Zone,
    Bolted,
    OpenEnd,
    Place,
    Stripe,
    NotGiven,
    Assumed,
    /// The mark of a finding of a weight, the heaviest first, and the least number that has it.
    Finding(Reverse<Severity>, usize),
    /// One mark for many.
    Many,
}

impl Key {
    fn words(self, stated: bool) -> String {
        let words = match self {
            Self::Live => "live: from a bank, or current in it",
            Self::Dead => "dead in this state",
            Self::Amps => "current in the wire",
            Self::Volts => "voltage there, to bank negative",
            Self::Contacts if stated => "contacts as they stand here",
            Self::Contacts => "contacts open, unoperated",
            Self::Terminals => "terminals, left and right",
            Self::Zone => "zone",
            Self::Bolted => "bolted together, no wire between",
            Self::OpenEnd => "open end",
            Self::Place => "sheet and field where it goes on",
            Self::Stripe => "insulation colour, then its stripe",
            Self::NotGiven => "not given in the file",
            Self::Assumed => "assumed or chosen by the program",
            Self::Many => "so many here, named in the index",
            Self::Finding(Reverse(severity), _) => {
                return format!("{}, its number in the index", severity.word());
            }
        };
        words.to_owned()
    }
}

/// Width of a column of the legend, in mm.
const COLUMN: f64 = 56.0;
/// Room for a symbol at the left of a column, in mm.
const SAMPLE: f64 = 10.0;
/// Least height of a line of symbols, in mm.
const LINE_OF_SYMBOLS: f64 = 5.0;
/// Height of a line of colours, and of one of keys, in mm.
const LINES: [f64; 2] = [4.0, 4.5];
/// Room between symbols below each other, in mm.
const GAP: f64 = 1.0;
/// Room above the symbols, between them and the colours, and below the keys, in mm.
const HEAD: f64 = 7.0;
const BETWEEN: f64 = 2.0;
const FOOT: f64 = 1.0;

/// The symbols with their column and the height of their axis below the first, and the height of all.
fn rows(used: &Used, columns: usize) -> (Vec<(Symbol, usize, f64)>, f64) {
    let lines = used.symbols.len().div_ceil(columns).max(1);
    let mut rows = Vec::with_capacity(used.symbols.len());
    let (mut y, mut below, mut height) = (0.0, 0.0, 0.0f64);
    for (index, &symbol) in used.symbols.iter().enumerate() {
        let (_, up, down) = symbol.size();
        y = if index % lines == 0 {
            up
        } else {
            (y + below + GAP + up).max(y + LINE_OF_SYMBOLS)
        };
        below = down;
        height = height.max(y + down);
        rows.push((symbol, index / lines, y));
    }
    (rows, height)
}

/// Columns, and size of the legend.
fn size(used: &Used, width: f64) -> (usize, f64, f64) {
    let columns = whole(width / COLUMN).max(1);
    let colours = used.colours.len().div_ceil(columns * 2) as f64 * LINES[0];
    let keys = used.keys.len().div_ceil(columns) as f64 * LINES[1];
    let (_, rows) = rows(used, columns);
    let height = HEAD + rows + BETWEEN + colours + keys + FOOT;
    (columns, columns as f64 * COLUMN, height)
}

/// Sizes that the legend may have in a room of a width, the broadest first.
pub(super) fn sizes(used: &Used, width: f64) -> Vec<(f64, f64)> {
    let most = whole(width / COLUMN).max(1);
    // A block of about its own height first, then flatter and narrower ones.
    let mut columns: Vec<usize> = (1..=most).collect();
    columns.sort_by_key(|&columns| columns.abs_diff(3));
    columns
        .into_iter()
        .map(|columns| {
            let (_, width, height) = size(used, columns as f64 * COLUMN);
            (width, height)
        })
        .collect()
}

/// A piece of wire from a point to the right.
fn wire((x, y): At, length: f64, colour: Rgb) -> [Shape; 2] {
    [(HALO, Rgb::BLACK), (WIRE, colour)].map(|(width, colour)| {
        let mut drawn = line(vec![(x, y), (x + length, y)], width);
        if let Some(stroke) = &mut drawn.stroke {
            stroke.colour = colour;
        }
        drawn
    })
}

/// What a key looks like on the drawing, from the left end of its axis.
fn sample(used: &Used, key: Key, (x, y): At, shapes: &mut Vec<Shape>) {
    let word = |words: &str| text((x, y + 0.7), words, SMALL, Anchor::Start);
    match key {
        Key::Live => shapes.extend(wire((x, y), SAMPLE, Rgb::WHITE)),
        Key::Dead => {
            let mut drawn = wire((x, y), SAMPLE, Rgb::WHITE);
            for shape in &mut drawn {
                shape.mark = Mark::Halo;
            }
            standing::fade(&mut drawn);
            for shape in &mut drawn {
                shape.mark = Mark::Plain;
            }
            shapes.extend(drawn);
        }
        Key::Amps => shapes.push(text((x, y + 0.9), "4.2 A", TEXT, Anchor::Start)),
        Key::Volts => shapes.push(word("12.4 V")),
        Key::Contacts => Pen {
            origin: (x, y - 0.8),
            mirror: None,
            shapes,
        }
        .symbol(Symbol::Switch),
        Key::Terminals => shapes.push(word("a – b")),
        Key::Zone => shapes.push(Shape {
            stroke: Some(outline_of_zone()),
            fill: Some(ZONE_FILL),
            ..rect((x, y - 1.5), (SAMPLE, 3.0), Some(LINE), None)
        }),
        Key::Bolted => shapes.push(line(vec![(x, y), (x + SAMPLE, y)], LINE)),
        Key::OpenEnd => {
            shapes.extend(wire((x, y), SAMPLE - 1.2, Rgb::WHITE));
            shapes.push(ring((x + SAMPLE - 0.6, y)));
        }
        Key::Place => shapes.push(word("2/C4")),
        Key::Stripe => shapes.push(word(used.striped.as_deref().unwrap_or_default())),
        Key::NotGiven => shapes.push(word(NOT_GIVEN)),
        Key::Assumed => shapes.push(word(ASSUMED)),
        Key::Many => shapes.push(word(&format!("{MANY}9"))),
        Key::Finding(Reverse(severity), number) => {
            let words = number.to_string();
            let width = super::marks::flag_width(&words);
            let area = Area {
                left: x,
                top: y - super::marks::HEIGHT / 2.0,
                right: x + width,
                bottom: y + super::marks::HEIGHT / 2.0,
            };
            shapes.extend(flag(severity, area, &words));
        }
    }
}

/// The legend at a place of a sheet.
pub(super) fn legend(used: &Used, (x, y): At, width: f64) -> Group {
    let (columns, width, height) = size(used, width);
    let mut shapes = vec![
        rect((x, y), (width, height), Some(LINE), None),
        heavy((x + 2.0, y + 4.5), "Legend", TEXT, Anchor::Start),
    ];
    let left = |column: usize| x + 2.0 + column as f64 * COLUMN;
    let (rows, rows_height) = rows(used, columns);
    for (symbol, column, below) in rows {
        let at = (left(column), y + HEAD + below);
        Pen {
            origin: at,
            mirror: None,
            shapes: &mut shapes,
        }
        .symbol(symbol);
        let (symbol_width, _, _) = symbol.size();
        let words_at = (at.0 + symbol_width.max(SAMPLE) + 2.0, at.1 + 0.8);
        shapes.push(text(words_at, symbol.words(), SMALL, Anchor::Start));
    }
    let mut below = y + HEAD + rows_height + BETWEEN;
    for (index, colour) in used.colours.values().enumerate() {
        let (row, column) = (index / (columns * 2), index % (columns * 2));
        let at = (
            x + 2.0 + column as f64 * COLUMN / 2.0,
            below + (row as f64 + 0.5) * LINES[0],
        );
        shapes.extend(wire(at, 5.0, super::render::hex(colour.srgb)));
        let words = format!("{} {}", colour.code, colour.name);
        shapes.push(text((at.0 + 6.5, at.1 + 0.7), words, SMALL, Anchor::Start));
    }
    below += used.colours.len().div_ceil(columns * 2) as f64 * LINES[0];
    for (index, &key) in used.keys.iter().enumerate() {
        let at = (
            left(index % columns),
            below + ((index / columns) as f64 + 0.5) * LINES[1],
        );
        sample(used, key, at, &mut shapes);
        let words_at = (at.0 + SAMPLE + 2.0, at.1 + 0.7);
        shapes.push(text(words_at, key.words(used.stated), SMALL, Anchor::Start));
    }
    Group {
        id: "legend".to_owned(),
        role: Role::Block {
            name: "legend".to_owned(),
        },
        title: String::new(),
        shapes,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::font;

    #[test]
    fn what_a_key_says_fits_its_column() {
        let mut used = Used::default();
        used.any_finding();
        used.keys.extend([
            Key::Live,
            Key::Dead,
            Key::Amps,
            Key::Volts,
            Key::Contacts,
            Key::Terminals,
            Key::Zone,
            Key::Bolted,
            Key::OpenEnd,
            Key::Place,
            Key::Stripe,
            Key::NotGiven,
            Key::Assumed,
        ]);
        for key in used.keys {
            for stated in [false, true] {
                let words = key.words(stated);
                let room = COLUMN - SAMPLE - 3.0;
                assert!(font::width(&words, SMALL) <= room, "{words} is too long");
            }
        }
    }

    #[test]
    fn a_place_is_a_sheet_and_a_field() {
        assert!(is_place("2/C4") && is_place("12/F10"));
        assert!(!is_place("1/0") && !is_place("start/C4") && !is_place("2/C") && !is_place("C4"));
    }
}
