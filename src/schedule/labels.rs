//! The label schedule: what stands on the sleeve at each end of each wire, and the sleeve it takes.
//!
//! Line 1 is the wire number, line 2 the function, line 3 where the other end goes: common practice, no source.
//! A line that is too long is shortened in a stated way, and the schedule shows it in full beside the label.

use super::cautions;
use super::ends::{End, bundle_names, terminal_at, zone_at};
use super::head::length_style;
use super::paper::{Block, Cell, Column, Field, Orientation, Sheet, Strip, Table};
use crate::standards::{LabelSleeve, constants, label_sleeve, outside_diameter};
use crate::system::{BundleId, Conductor, ConductorId, System};
use crate::units::{Metres, decimal, format_length, round_up_to};
use std::collections::BTreeMap;

/// Width of one character of a label: monospaced type of 9 pt, 0.6 of its size wide.
const CHARACTER_MM: f64 = 9.0 / 72.0 * 25.4 * 0.6;

/// Free length before and behind the text.
const MARGIN_MM: f64 = 2.0;

/// Labels are cut to whole steps of this.
const STEP_MM: f64 = 5.0;

/// Words that are shortened first, longest gain first; common practice, no source.
const SHORT_WORDS: &[(&str, &str)] = &[
    ("ELECTRONICS", "ELEX"),
    ("INSTRUMENTS", "INST"),
    ("NAVIGATION", "NAV"),
    ("INSTRUMENT", "INST"),
    ("COMBINER", "COMB"),
    ("POSITIVE", "POS"),
    ("NEGATIVE", "NEG"),
    ("IGNITION", "IGN"),
    ("SELECTOR", "SEL"),
    ("WASHDOWN", "WASHDN"),
    ("ALTERNATOR", "ALT"),
    ("STARBOARD", "STBD"),
    ("CONVERTER", "CONV"),
    ("CONNECTOR", "CONN"),
    ("BATTERY", "BAT"),
    ("BREAKER", "BKR"),
    ("CHARGER", "CHG"),
    ("FORWARD", "FWD"),
    ("STARTER", "STRT"),
    ("ANCHOR", "ANCH"),
    ("SWITCH", "SW"),
    ("ENGINE", "ENG"),
    ("SPLICE", "SPL"),
    ("LIGHTS", "LTS"),
    ("BLOWER", "BLWR"),
    ("GROUND", "GND"),
    ("SHUNT", "SHNT"),
    ("LIGHT", "LT"),
    ("BLOCK", "BLK"),
    ("MOTOR", "MTR"),
    ("PANEL", "PNL"),
    ("RELAY", "RLY"),
    ("FUSE", "FU"),
    ("PUMP", "PMP"),
    ("MAIN", "MN"),
];

/// A label at one end of a wire.
#[derive(Clone, Debug, PartialEq)]
pub struct Label {
    /// The wire.
    pub conductor: ConductorId,
    /// The end it sits at.
    pub end: End,
    /// Bundle nearest to that end.
    pub bundle: Option<BundleId>,
    /// What is printed: number, function, far end.
    pub lines: [String; 3],
    /// The lines in full, where they had to be shortened.
    pub in_full: Vec<String>,
    /// Outside diameter of the wire; none without a size.
    pub outside: Option<Metres>,
    /// Sleeve; none without a size, or above the table.
    pub sleeve: Option<LabelSleeve>,
    /// Length to print and cut.
    pub length: Metres,
    /// How many: none for a very short wire, one in the middle for a short one.
    pub quantity: usize,
    /// What else the bench should know.
    pub remark: &'static str,
}

impl Label {
    /// The lines that say something, in one: `P11-B / BILGE PUMP AFT / TO: FBT-2`.
    #[must_use]
    pub fn joined(&self) -> String {
        self.printed().join(" / ")
    }

    /// The lines that say something; a run without a function has no second line.
    fn printed(&self) -> Vec<&str> {
        self.lines
            .iter()
            .map(String::as_str)
            .filter(|line| !line.is_empty())
            .collect()
    }
}

/// All labels, by bundle and then in the order the ends are terminated in.
#[must_use]
pub fn labels(system: &System) -> Vec<Label> {
    let mut short = Shortener::new(constants::label_line_length().0);
    let mut labels = Vec::with_capacity(2 * system.conductors.len());
    for (index, conductor) in system.conductors.iter().enumerate() {
        for end in End::BOTH {
            labels.push(label(
                system,
                ConductorId::at(index),
                conductor,
                end,
                &mut short,
            ));
        }
    }
    // A wire in no bundle comes after the bundles; ends on one part stand together, terminal by terminal.
    labels.sort_by_key(|label| {
        let conductor = &system.conductors[label.conductor.index()];
        let terminal = terminal_at(conductor, label.end);
        (
            label.bundle.map_or(u32::MAX, |bundle| bundle.0),
            system.terminals[terminal.index()].component,
            terminal,
            label.conductor,
            label.end,
        )
    });
    labels
}

fn label(
    system: &System,
    id: ConductorId,
    conductor: &Conductor,
    end: End,
    short: &mut Shortener,
) -> Label {
    let far = terminal_at(conductor, end.other());
    let whole = [
        capitals(&conductor.number),
        capitals(&conductor.function),
        format!("TO: {}", capitals(&system.terminal_name(far))),
    ];
    // A wire number is never shortened: it is what every other paper finds the wire by.
    let lines = [
        whole[0].clone(),
        short.fit("", &whole[1]),
        short.fit("TO: ", &whole[2]),
    ];
    let in_full = whole
        .iter()
        .zip(&lines)
        .filter(|(whole, line)| whole != line)
        .map(|(whole, _)| whole.clone())
        .collect();
    let gauge = conductor.gauge.map(|gauge| gauge.value);
    let sleeve = gauge.and_then(label_sleeve).map(|(sleeve, _)| sleeve);
    let longest = lines
        .iter()
        .map(|line| line.chars().count())
        .max()
        .unwrap_or(0);
    let printed_mm = round_up_to(longest as f64 * CHARACTER_MM + 2.0 * MARGIN_MM, STEP_MM);
    let flag = sleeve.map_or(Metres(0.0), |sleeve| sleeve.flag);
    let (quantity, remark) = quantity(conductor, end);
    Label {
        conductor: id,
        end,
        bundle: nearest_bundle(conductor, end),
        lines,
        in_full,
        outside: gauge.and_then(outside_diameter).map(|(outside, _)| outside),
        sleeve,
        length: flag.max(Metres(printed_mm / 1000.0)),
        quantity,
        remark,
    }
}

/// AC 43.13-1B 11-208: under 3 in no label, from 3 to 7 in one in the middle.
fn quantity(conductor: &Conductor, end: End) -> (usize, &'static str) {
    let Some(length) = conductor.length else {
        return (1, "");
    };
    if length.value < constants::label_none_below().0 {
        (0, "wire under 3 in: needs none")
    } else if length.value < constants::label_single_below().0 {
        match end {
            End::A => (1, "wire under 7 in: one label, in the middle"),
            End::B => (0, "wire under 7 in: the label of end A serves"),
        }
    } else {
        (1, "")
    }
}

fn nearest_bundle(conductor: &Conductor, end: End) -> Option<BundleId> {
    let mut bundles = conductor.stretches.iter().filter_map(|part| part.bundle);
    match end {
        End::A => bundles.next(),
        End::B => bundles.next_back(),
    }
}

/// Capitals, without characters that a label printer has no use for.
fn capitals(text: &str) -> String {
    text.chars()
        .flat_map(char::to_uppercase)
        .map(|letter| match letter {
            '_' => '-',
            letter if letter.is_control() => ' ',
            letter => letter,
        })
        .collect()
}

/// Fits texts into a line, and never two different texts into the same one.
struct Shortener {
    most: usize,
    /// What each short text stands for.
    taken: BTreeMap<String, String>,
}

impl Shortener {
    fn new(most: usize) -> Self {
        Self {
            most,
            taken: BTreeMap::new(),
        }
    }

    /// The text itself where it fits; else shortened words, then words without vowels, then cut off.
    ///
    /// The start of the line stays. Different texts that would then read alike get a number at their end.
    fn fit(&mut self, start: &str, whole: &str) -> String {
        if whole.chars().count() <= self.most {
            return self.own(whole, whole);
        }
        let room = self.most - start.chars().count();
        let body = whole.strip_prefix(start).unwrap_or(whole);
        let mut words = parts(body);
        for &(long, abbreviation) in SHORT_WORDS {
            if width(&words) <= room {
                break;
            }
            for word in &mut words {
                if word == long {
                    abbreviation.clone_into(word);
                }
            }
        }
        while width(&words) > room {
            let Some(word) = longest_with_vowels(&mut words) else {
                break;
            };
            *word = without_vowels(word);
        }
        let text: String = words.concat();
        self.own(&format!("{start}{}", cut(&text, room)), whole)
    }

    /// Gives a short text to the whole it stands for, with a number where another has it already.
    fn own(&mut self, short: &str, whole: &str) -> String {
        let mut candidate = short.to_owned();
        let mut number = 1;
        loop {
            match self.taken.get(&candidate) {
                None => {
                    self.taken.insert(candidate.clone(), whole.to_owned());
                    return candidate;
                }
                Some(owner) if owner == whole => return candidate,
                Some(_) => {
                    number += 1;
                    let mark = format!("~{number}");
                    let room = self.most.saturating_sub(mark.chars().count());
                    candidate = format!("{}{mark}", cut_end(short, room));
                }
            }
        }
    }
}

/// Words and what stands between them, in order.
fn parts(text: &str) -> Vec<String> {
    let mut parts: Vec<String> = Vec::new();
    let mut in_word = false;
    for letter in text.chars() {
        let is_word = letter.is_alphanumeric();
        match parts.last_mut() {
            Some(last) if is_word && in_word => last.push(letter),
            _ => parts.push(letter.to_string()),
        }
        in_word = is_word;
    }
    parts
}

fn width(words: &[String]) -> usize {
    words.iter().map(|word| word.chars().count()).sum()
}

fn longest_with_vowels(words: &mut [String]) -> Option<&mut String> {
    words
        .iter_mut()
        .rev()
        .filter(|word| SHORT_WORDS.iter().all(|(_, short)| short != word))
        .filter(|word| without_vowels(word) != **word)
        .max_by_key(|word| word.chars().count())
}

/// The word without vowels behind its first letter.
fn without_vowels(word: &str) -> String {
    word.chars()
        .enumerate()
        .filter(|&(index, letter)| index == 0 || !matches!(letter, 'A' | 'E' | 'I' | 'O' | 'U'))
        .map(|(_, letter)| letter)
        .collect()
}

/// The text cut to a number of characters; the terminal behind the last dot is kept where it leaves room.
fn cut(text: &str, room: usize) -> String {
    let long = text.chars().count();
    if long <= room {
        return text.to_owned();
    }
    match text.rsplit_once('.') {
        Some((part, terminal)) if terminal.chars().count() + 2 <= room => {
            let kept = room - terminal.chars().count() - 1;
            format!("{}.{terminal}", cut_end(part, kept))
        }
        _ => cut_end(text, room),
    }
}

fn cut_end(text: &str, room: usize) -> String {
    text.chars().take(room).collect()
}

const COLUMNS: &[&str] = &[
    "seq",
    "wire",
    "end",
    "at",
    "zone",
    "bundle",
    "line_1",
    "line_2",
    "line_3",
    "in_full",
    "outside_diameter_mm",
    "sleeve_supplied",
    "sleeve_supplied_mm",
    "sleeve_recovered_mm",
    "label_length_mm",
    "background",
    "quantity",
    "remark",
];

/// What labels are printed on: black on this.
const BACKGROUND: &str = "white";

/// The schedule for a label printer: one record a label.
#[must_use]
pub fn label_table(system: &System, labels: &[Label]) -> Table {
    let rows = labels
        .iter()
        .enumerate()
        .map(|(index, label)| {
            let place = Place::of(system, label);
            let millimetres = |length: Metres| length.0 * 1000.0;
            vec![
                Cell::count(index + 1),
                Cell::text(place.number),
                Cell::text(label.end.letter()),
                Cell::text(place.terminal),
                Cell::text(place.zone),
                Cell::text(place.bundle),
                Cell::text(&label.lines[0]),
                Cell::text(&label.lines[1]),
                Cell::text(&label.lines[2]),
                Cell::text(label.in_full.join("; ")),
                Cell::maybe(label.outside.map(millimetres), 1),
                Cell::text(label.sleeve.map_or("", |sleeve| sleeve.supplied_name)),
                Cell::maybe(label.sleeve.map(|sleeve| millimetres(sleeve.supplied)), 2),
                Cell::maybe(label.sleeve.map(|sleeve| millimetres(recovered(sleeve))), 2),
                Cell::number(millimetres(label.length), 0),
                Cell::text(BACKGROUND),
                Cell::count(label.quantity),
                Cell::text(label.remark),
            ]
        })
        .collect();
    Table {
        stem: "label-schedule",
        columns: COLUMNS,
        rows,
    }
}

/// Bore of a sleeve when it is shrunk all the way.
fn recovered(sleeve: LabelSleeve) -> Metres {
    sleeve.supplied / constants::sleeve_ratio().0
}

/// The schedule for the bench, with the labels at their own size behind it.
#[must_use]
pub fn label_sheet(system: &System, labels: &[Label]) -> Sheet {
    let mut blocks: Vec<(Option<BundleId>, Block)> = Vec::new();
    for (index, label) in labels.iter().enumerate() {
        let row = sheet_row(system, index + 1, label);
        match blocks.last_mut() {
            Some((bundle, block)) if *bundle == label.bundle => block.rows.push(row),
            _ => blocks.push((
                label.bundle,
                Block {
                    title: label.bundle.map_or_else(
                        || "In no bundle".to_owned(),
                        |bundle| format!("Bundle {}", system.bundles[bundle.index()].name),
                    ),
                    rows: vec![row],
                    ..Block::default()
                },
            )),
        }
    }
    let mut blocks: Vec<Block> = blocks.into_iter().map(|(_, block)| block).collect();
    let pieces: usize = labels.iter().map(|label| label.quantity).sum();
    let total = format!("Total: {pieces} labels; {}", sleeves_needed(labels));
    if let Some(last) = blocks.last_mut() {
        last.totals.push(total);
    }
    Sheet {
        stem: "label-schedule",
        title: "Label schedule",
        orientation: Orientation::Across,
        remarks: remarks(system),
        columns: vec![
            Column::figure("#", 9.0),
            Column::text("Wire, end", 24.0),
            Column::text("At, zone", 44.0),
            Column::text("Label", 48.0),
            Column::text("In full", 46.0),
            Column::figure("Wire mm", 14.0),
            Column::text("Sleeve", 20.0),
            Column::figure("Long mm", 15.0),
            Column::figure("Pcs", 9.0),
            Column::tick("Made"),
            Column::tick("On"),
            Column::text("Remark", 28.0),
        ],
        blocks,
        strips: labels
            .iter()
            .filter(|label| label.quantity > 0)
            .map(|label| Strip {
                caption: format!(
                    "{} {}",
                    system.conductors[label.conductor.index()].number,
                    label.end.letter()
                ),
                lines: label.printed().into_iter().map(str::to_owned).collect(),
                length_mm: label.length.0 * 1000.0,
            })
            .collect(),
        cautions: vec![cautions::DISCONNECT, cautions::HEAT, cautions::ASSUMED],
    }
}

fn remarks(system: &System) -> Vec<String> {
    let most = constants::label_line_length().0;
    let distance = constants::label_distance().0;
    vec![
        format!(
            "Line 1 wire number, line 2 function, line 3 where the other end goes; capitals, {most} characters a line. \
             A longer line is shortened: known words first, then vowels, then cut off before the terminal; \
             ~2 marks a second text that would read alike. The text in full stands beside it."
        ),
        format!(
            "Fit each label about {} from the end, clear of the terminal, so that a new terminal does not take it away \
             (common practice, no source). Readable left to right or top to bottom. Thread sleeves before you crimp.",
            format_length(distance, length_style(system))
        ),
        format!(
            "Sleeves are heat-shrink {}:1, bore as supplied and as recovered; wire diameters are estimates from a table, \
             measured ones come first. Repeat a label where the wire passes a bulkhead or enters a junction.",
            decimal(constants::sleeve_ratio().0, 0)
        ),
    ]
}

fn sheet_row(system: &System, seq: usize, label: &Label) -> Vec<Field> {
    let place = Place::of(system, label);
    let millimetres = |length: Metres, places| decimal(length.0 * 1000.0, places);
    vec![
        Field::text(seq.to_string()),
        Field::Lines(vec![
            place.number.clone(),
            format!("end {}", label.end.letter()),
        ]),
        Field::Lines(vec![place.terminal, place.zone]),
        Field::Lines(label.printed().into_iter().map(str::to_owned).collect()),
        Field::Lines(label.in_full.clone()),
        match label.outside {
            Some(outside) => Field::text(millimetres(outside, 1)),
            None => Field::Blank("measure".to_owned()),
        },
        match label.sleeve {
            Some(sleeve) => Field::Lines(vec![
                sleeve.supplied_name.to_owned(),
                format!("to {} mm", millimetres(recovered(sleeve), 1)),
            ]),
            None => Field::Blank("measure".to_owned()),
        },
        Field::text(millimetres(label.length, 0)),
        Field::text(label.quantity.to_string()),
        Field::Tick,
        Field::Tick,
        Field::text(label.remark),
    ]
}

/// `1/4 in sleeve 1.23 m, 3/8 in sleeve 0.40 m`: sleeve to buy by bore, without shrinkage.
fn sleeves_needed(labels: &[Label]) -> String {
    let mut lengths: Vec<(LabelSleeve, Metres)> = Vec::new();
    let mut unknown = 0;
    for label in labels.iter().filter(|label| label.quantity > 0) {
        let Some(sleeve) = label.sleeve else {
            unknown += 1;
            continue;
        };
        let length = label.length * label.quantity as f64;
        match lengths
            .iter_mut()
            .find(|(known, _)| known.supplied_name == sleeve.supplied_name)
        {
            Some((_, sum)) => *sum = *sum + length,
            None => lengths.push((sleeve, length)),
        }
    }
    lengths.sort_by(|(a, _), (b, _)| a.supplied.total_cmp(&b.supplied));
    let mut words: Vec<String> = lengths
        .iter()
        .map(|(sleeve, length)| {
            format!(
                "{} sleeve {} mm",
                sleeve.supplied_name,
                decimal(round_up_to(length.0 * 1000.0, 1.0), 0)
            )
        })
        .collect();
    if unknown > 0 {
        words.push(format!(
            "{unknown} labels without a sleeve: wire size not given"
        ));
    }
    words.join(", ")
}

/// Where a label is, in words.
struct Place {
    number: String,
    terminal: String,
    zone: String,
    bundle: String,
}

impl Place {
    fn of(system: &System, label: &Label) -> Self {
        let conductor = &system.conductors[label.conductor.index()];
        let terminal = terminal_at(conductor, label.end);
        Self {
            number: conductor.number.clone(),
            terminal: system.terminal_name(terminal),
            zone: zone_at(system, terminal)
                .map_or_else(String::new, |zone| system.zones[zone.index()].name.clone()),
            bundle: label
                .bundle
                .map_or_else(String::new, |bundle| bundle_names(system, &[bundle])),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fit(text: &str) -> String {
        Shortener::new(18).fit("TO: ", text)
    }

    #[test]
    fn what_fits_stays_as_it_is() {
        assert_eq!(fit("TO: M3.POS"), "TO: M3.POS");
        assert_eq!(fit("TO: BLOCK.3"), "TO: BLOCK.3");
    }

    #[test]
    fn long_lines_are_shortened_in_steps() {
        assert_eq!(fit("TO: HELM-NEGATIVE.12"), "TO: HELM-NEG.12");
        assert_eq!(fit("TO: WASHDOWN-PUMP.-"), "TO: WASHDN-PUMP.-");
        assert_eq!(fit("TO: FORWARD-LOCKER-LAMP.+"), "TO: FWD-LCKR-LMP.+");
        let cut = fit("TO: XBCDFGHJKLMNPQRSTVWXYZ.NEGATIVE-STUD");
        assert!(cut.chars().count() <= 18, "{cut}");
        assert!(cut.ends_with(".NEG-STD"), "{cut}");
    }

    #[test]
    fn different_texts_never_read_alike() {
        let mut short = Shortener::new(18);
        let first = short.fit("", "BCDFGHJKLMNPQRSTVWXYZ ONE");
        let second = short.fit("", "BCDFGHJKLMNPQRSTVWXYZ TWO");
        let again = short.fit("", "BCDFGHJKLMNPQRSTVWXYZ TWO");
        assert_ne!(first, second);
        assert_eq!(second, again);
        assert!(second.ends_with("~2"), "{second}");
        assert!(second.chars().count() <= 18);
    }

    #[test]
    fn labels_are_capitals() {
        assert_eq!(capitals("bilge_pump Aft"), "BILGE-PUMP AFT");
    }
}
