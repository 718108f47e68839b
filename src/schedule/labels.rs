//! The label schedule: what stands on the sleeve at each end of each wire, and the sleeve it takes.
//!
//! Line 1 is the wire number, line 2 the function, line 3 where the other end goes: common practice, no source.
//! A line that is too long is shortened in a stated way, and the schedule shows it in full beside the label.

use super::cautions;
use super::ends::{End, Fitting, bundle_names, terminal_at};
use super::head::length_style;
use super::label_stock::{Printer, Printing, label_stocks, passes_barrel};
use super::paper::{Block, Cell, Column, Field, Orientation, Sheet, Strip, Table};
use crate::analysis::fill::outsides;
use crate::standards::{LabelSleeve, constants, label_sleeve};
use crate::system::{
    BundleId, ComponentKind, Conductor, ConductorId, LabelKind, LabelStock, System, TerminalId,
};
use crate::units::{Metres, decimal, format_length, round_up_to};
use std::collections::BTreeMap;

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
    /// How many: none for a very short wire, one in the middle for a short one, and one more for each hole that the wire
    /// passes, to go on this side of it.
    pub quantity: usize,
    /// What else the bench should know.
    pub remark: String,
    /// How it is printed, or why none of the stock will do.
    pub printing: Result<Printing, String>,
    /// When a sleeve goes on; empty where there is none, or no terminal.
    pub threading: &'static str,
}

/// Start of the line that names the far end.
pub(super) const TO: &str = "TO: ";

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
pub fn labels(system: &System, fitted: &[[Fitting; 2]]) -> Vec<Label> {
    let mut maker = Maker {
        system,
        printer: Printer::new(system),
        stocks: label_stocks(system),
        outsides: outsides(system),
    };
    let mut labels = Vec::with_capacity(2 * system.conductors.len());
    for (index, fitted) in fitted.iter().enumerate() {
        for (end, fitted) in End::BOTH.into_iter().zip(fitted) {
            labels.push(maker.label(ConductorId::at(index), end, fitted));
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

/// Makes one label after the other.
struct Maker<'s> {
    system: &'s System,
    printer: Printer,
    stocks: Vec<LabelStock>,
    outsides: Vec<Option<Metres>>,
}

impl Maker<'_> {
    fn label(&mut self, id: ConductorId, end: End, fitted: &Fitting) -> Label {
        let system = self.system;
        let conductor = &system.conductors[id.index()];
        let far = terminal_at(conductor, end.other());
        let whole = [
            capitals(&conductor.number),
            capitals(&function(system, conductor)),
            format!("{TO}{}", capitals(&system.terminal_name(far))),
        ];
        // A wire number is never shortened: it is what every other paper finds the wire by.
        let outside = self.outsides[id.index()];
        let usual = self.printer.usual(&whole);
        let printing = self.printer.print(&usual, &whole, outside);
        let lines = printing
            .as_ref()
            .map_or(usual, |printing| printing.lines.clone());
        let in_full = whole
            .iter()
            .zip(&lines)
            .filter(|(whole, line)| whole != line)
            .map(|(whole, _)| whole.clone())
            .collect();
        let gauge = conductor.gauge.map(|gauge| gauge.value);
        let sleeve = gauge.and_then(label_sleeve).map(|(sleeve, _)| sleeve);
        let flag = sleeve.map_or(Metres(0.0), |sleeve| sleeve.flag);
        let (quantity, remark) = quantity(system, conductor, end);
        let stock = (printing.as_ref().ok()).map(|printing| &self.stocks[printing.stock]);
        let length = match stock {
            // Paper is covered whole by its sleeve.
            Some(stock) if stock.kind == LabelKind::Strip => flag.max(stock.width),
            Some(stock) => stock.width,
            None => flag,
        };
        let bore = match &printing {
            Ok(printing) => match self.stocks[printing.stock].kind {
                LabelKind::Sleeve => self.stocks[printing.stock].bores.map(|bores| bores.0),
                LabelKind::Strip => sleeve.map(|sleeve| sleeve.supplied),
                LabelKind::Wrap | LabelKind::Flag => None,
            },
            Err(_) => None,
        };
        let threading = match (fitted, passes_barrel(bore, gauge)) {
            (Fitting::Ring { .. }, Some(true)) => "passes the terminal",
            (Fitting::Ring { .. }, Some(false)) => "thread before you crimp",
            _ => "",
        };
        Label {
            conductor: id,
            end,
            bundle: nearest_bundle(conductor, end),
            lines,
            in_full,
            outside,
            sleeve,
            length,
            quantity,
            remark,
            printing,
            threading,
        }
    }
}

/// What a wire is for: as the file says, else the part that it serves, with the pole it lands on.
fn function(system: &System, conductor: &Conductor) -> String {
    if !conductor.function.is_empty() {
        return conductor.function.clone();
    }
    // The part that says most about the wire: a source or a load before a device, a device before a bar or a joint.
    let rank = |terminal: TerminalId| match system.component_of(terminal).kind {
        ComponentKind::Load
        | ComponentKind::Battery
        | ComponentKind::Charger
        | ComponentKind::Alternator
        | ComponentKind::Converter
        | ComponentKind::Solar
        | ComponentKind::Instrument => 0,
        ComponentKind::Relay
        | ComponentKind::Combiner
        | ComponentKind::Isolator
        | ComponentKind::Switch
        | ComponentKind::FuseBlock
        | ComponentKind::Shunt => 1,
        ComponentKind::Fuse | ComponentKind::Breaker => 2,
        ComponentKind::Bus
        | ComponentKind::Connector
        | ComponentKind::Splice
        | ComponentKind::Ground => 3,
    };
    let chosen = if rank(conductor.to) <= rank(conductor.from) {
        conductor.to
    } else {
        conductor.from
    };
    let pole = match system.terminals[chosen.index()].name.bytes().last() {
        Some(b'+') => " POS",
        Some(b'-') => " NEG",
        _ => "",
    };
    format!("{}{pole}", system.component_of(chosen).label)
}

/// AC 43.13-1B 11-208: under 3 in no label, from 3 to 7 in one in the middle.
///
/// A label stands on both sides of a bulkhead too (NEETS module 4): each end has one for its side of every hole.
fn quantity(system: &System, conductor: &Conductor, end: End) -> (usize, String) {
    let short = conductor.length.map(|length| length.value);
    if short.is_some_and(|length| length < constants::label_none_below().0) {
        return (0, "wire under 3 in: needs none".to_owned());
    }
    if short.is_some_and(|length| length < constants::label_single_below().0) {
        return match end {
            End::A => (1, "wire under 7 in: one label, in the middle".to_owned()),
            End::B => (0, "wire under 7 in: the label of end A serves".to_owned()),
        };
    }
    let holes: Vec<&str> = conductor
        .stretches
        .iter()
        .filter_map(|part| Some(&system.ways[part.way?.index()]))
        .filter(|way| way.hole.is_some())
        .map(|way| way.name.as_str())
        .collect();
    if holes.is_empty() {
        return (1, String::new());
    }
    let remark = format!(
        "one at the end, one on this side of the hole in {}",
        holes.join(", ")
    );
    (1 + holes.len(), remark)
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
#[derive(Debug)]
pub struct Shortener {
    most: usize,
    /// What each short text stands for.
    taken: BTreeMap<String, String>,
}

impl Shortener {
    /// For lines of so many characters at most.
    #[must_use]
    pub fn new(most: usize) -> Self {
        Self {
            most,
            taken: BTreeMap::new(),
        }
    }

    /// The text itself where it fits; else shortened words, then words without vowels, then cut off.
    ///
    /// The start of the line stays. Different texts that would then read alike get a number at their end.
    pub fn fit(&mut self, start: &str, whole: &str) -> String {
        self.fit_within(start, whole, self.most)
    }

    /// The same for a shorter line; never alike with any other text, however long its line is.
    pub fn fit_within(&mut self, start: &str, whole: &str, most: usize) -> String {
        if whole.chars().count() <= most {
            return self.own(whole, whole, most);
        }
        let room = most.saturating_sub(start.chars().count());
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
        self.own(&format!("{start}{}", cut(&text, room)), whole, most)
    }

    /// Gives a short text to the whole it stands for, with a number where another has it already.
    fn own(&mut self, short: &str, whole: &str, most: usize) -> String {
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
                    let room = most.saturating_sub(mark.chars().count());
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
    "printed_on",
    "threading",
    "look_alikes",
];

/// What labels are printed on: black on this.
const BACKGROUND: &str = "white";

/// The schedule for a label printer: one record a label.
#[must_use]
pub fn label_table(system: &System, labels: &[Label]) -> Table {
    let stocks = label_stocks(system);
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
                Cell::text(sleeve_name(label, &stocks)),
                Cell::maybe(
                    sleeve_bores(label, &stocks).map(|bores| millimetres(bores.0)),
                    2,
                ),
                Cell::maybe(
                    sleeve_bores(label, &stocks).map(|bores| millimetres(bores.1)),
                    2,
                ),
                Cell::number(millimetres(label.length), 0),
                Cell::text(BACKGROUND),
                Cell::count(label.quantity),
                Cell::text(&label.remark),
                Cell::text(match &label.printing {
                    Ok(printing) => &stocks[printing.stock].name,
                    Err(why) => why,
                }),
                Cell::text(label.threading),
                Cell::text(look_alikes(&label.lines[0])),
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

/// The sleeve of a label in words: of the file's stock, else as the table has it; empty for a label that takes none.
pub(super) fn sleeve_name(label: &Label, stocks: &[LabelStock]) -> String {
    match &label.printing {
        Ok(printing) => match stocks[printing.stock].kind {
            LabelKind::Sleeve => stocks[printing.stock].name.clone(),
            LabelKind::Strip => label
                .sleeve
                .map_or_else(String::new, |sleeve| sleeve.supplied_name.to_owned()),
            LabelKind::Wrap | LabelKind::Flag => String::new(),
        },
        Err(_) => String::new(),
    }
}

/// Bore of that sleeve as supplied and as recovered.
fn sleeve_bores(label: &Label, stocks: &[LabelStock]) -> Option<(Metres, Metres)> {
    let stock = &stocks[label.printing.as_ref().ok()?.stock];
    match stock.kind {
        LabelKind::Sleeve => stock.bores,
        LabelKind::Strip => label
            .sleeve
            .map(|sleeve| (sleeve.supplied, recovered(sleeve))),
        LabelKind::Wrap | LabelKind::Flag => None,
    }
}

/// Letters of a wire number that read as figures: I, O and Q are left out of wire numbers (common practice, no source).
fn look_alikes(number: &str) -> String {
    let mut letters: Vec<char> = number
        .chars()
        .filter(|letter| matches!(letter, 'I' | 'O' | 'Q'))
        .collect();
    letters.sort_unstable();
    letters.dedup();
    letters.into_iter().collect()
}

const PRINTER_COLUMNS: &[&str] = &[
    "order",
    "line_1",
    "line_2",
    "line_3",
    "code",
    "copies",
    "number_size_mm",
    "type_size_mm",
    "stock",
    "wire",
    "end",
];

/// What a label printer reads: one record a label that is made, in the order the ends are terminated in.
#[must_use]
pub fn printer_table(system: &System, labels: &[Label]) -> Table {
    let stocks = label_stocks(system);
    let made = labels.iter().enumerate();
    let rows = made
        .filter(|(_, label)| label.quantity > 0)
        .filter_map(|(index, label)| {
            let printing = label.printing.as_ref().ok()?;
            let line = |at: usize| Cell::text(&printing.lines[at]);
            let conductor = &system.conductors[label.conductor.index()];
            Some(vec![
                Cell::count(index + 1),
                line(0),
                line(1),
                line(2),
                Cell::text(if printing.code.is_some() {
                    &label.lines[0]
                } else {
                    ""
                }),
                Cell::count(label.quantity),
                Cell::number(printing.number_mm, 2),
                Cell::number(printing.size_mm, 2),
                Cell::text(&stocks[printing.stock].name),
                Cell::text(&conductor.number),
                Cell::text(label.end.letter()),
            ])
        });
    Table {
        stem: "label-printer",
        columns: PRINTER_COLUMNS,
        rows: rows.collect(),
    }
}

/// The schedule for the bench, with the labels at their own size behind it.
#[must_use]
pub fn label_sheet(system: &System, labels: &[Label]) -> Sheet {
    let stocks = label_stocks(system);
    let mut blocks: Vec<(Option<BundleId>, Block)> = Vec::new();
    for (index, label) in labels.iter().enumerate() {
        let row = sheet_row(system, &stocks, index + 1, label);
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
    let total = format!(
        "Total: {pieces} labels; {}",
        stock_needed(labels, &stocks).join(", ")
    );
    if let Some(last) = blocks.last_mut() {
        last.totals.push(total);
    }
    Sheet {
        stem: "label-schedule",
        title: "Label schedule",
        orientation: Orientation::Across,
        remarks: remarks(system, labels),
        columns: vec![
            Column::figure("#", 9.0),
            Column::text("Wire, end", 24.0),
            Column::text("At, zone", 44.0),
            Column::text("Label, | ends a line", 94.0),
            Column::figure("Wire mm", 14.0),
            Column::text("Stock, sleeve", 24.0),
            Column::figure("Long mm", 15.0),
            Column::figure("Pcs", 9.0),
            Column::tick("Made"),
            Column::tick("On"),
            Column::text("Remark", 28.0),
        ],
        blocks,
        strips: labels
            .iter()
            .filter(|label| label.quantity > 0 && is_on_paper(label, &stocks))
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

fn remarks(system: &System, labels: &[Label]) -> Vec<String> {
    let most = constants::label_line_length().0;
    let distance = constants::label_distance().0;
    let mut remarks = vec![
        format!(
            "Line 1 wire number, line 2 function, line 3 where the other end goes; capitals, {most} characters a line. \
             A longer line is shortened: known words first, then vowels, then cut off before the terminal; \
             ~2 marks a second text that would read alike. The text in full stands below it."
        ),
        format!(
            "Fit each label about {} from the end, clear of the terminal, so that a new terminal does not take it away \
             (common practice, no source). Readable left to right or top to bottom. Thread sleeves before you crimp.",
            format_length(distance, length_style(system))
        ),
        format!(
            "A wire takes the first label stock of the file that fits it: the tail of a wrap label goes once round the wire, the bore of a \
             sleeve is {} times the wire as supplied and at most {} of it as recovered; without stock, paper under clear sleeve, 3:1. \
             A label too small for its lines shortens lines 2 and 3, then leaves out line 2, then line 3; a wire number that does not fit \
             is refused. Wire diameters are estimates from a table where none is measured.",
            decimal(constants::sleeve_bore_margin().0, 1),
            decimal(constants::sleeve_grip_margin().0, 1),
        ),
    ];
    let mut alike: Vec<&str> = labels
        .iter()
        .filter(|label| !look_alikes(&label.lines[0]).is_empty())
        .map(|label| label.lines[0].as_str())
        .collect();
    alike.sort_unstable();
    alike.dedup();
    if !alike.is_empty() {
        let shown = alike
            .iter()
            .take(MOST_SHOWN)
            .copied()
            .collect::<Vec<_>>()
            .join(", ");
        let more = match alike.len().saturating_sub(MOST_SHOWN) {
            0 => String::new(),
            more => format!(" and {more} more"),
        };
        remarks.push(format!(
            "Look twice: I, O and Q in these wire numbers read as 1 and 0: {shown}{more}. Wire numbers do better without these letters \
             (common practice, no source)."
        ));
    }
    remarks
}

/// Words that are there, with something between them.
fn joined(words: &[impl AsRef<str>], between: &str) -> String {
    let words = words.iter().map(AsRef::as_ref);
    let words: Vec<&str> = words.filter(|words| !words.is_empty()).collect();
    words.join(between)
}

/// Wire numbers that a remark names at most.
const MOST_SHOWN: usize = 20;

fn sheet_row(system: &System, stocks: &[LabelStock], seq: usize, label: &Label) -> Vec<Field> {
    let place = Place::of(system, label);
    let millimetres = |length: Metres, places| decimal(length.0 * 1000.0, places);
    vec![
        Field::text(seq.to_string()),
        Field::text(format!("{} {}", place.number, label.end.letter())),
        Field::text(joined(&[&place.terminal, &place.zone], ", ")),
        Field::Lines(
            [
                joined(&label.printed(), " | "),
                joined(&label.in_full, " | "),
            ]
            .into_iter()
            .enumerate()
            .filter(|(_, words)| !words.is_empty())
            .map(|(line, words)| match line {
                0 => words,
                _ => format!("in full: {words}"),
            })
            .collect(),
        ),
        match label.outside {
            Some(outside) => Field::text(millimetres(outside, 1)),
            None => Field::Blank("measure".to_owned()),
        },
        match &label.printing {
            Err(why) => Field::Blank(why.clone()),
            Ok(printing) => {
                let stock = &stocks[printing.stock];
                let mut lines = Vec::new();
                if stock.kind != LabelKind::Strip {
                    lines.push(stock.name.clone());
                }
                match sleeve_bores(label, stocks) {
                    Some((supplied, recovered)) => {
                        if stock.kind == LabelKind::Strip {
                            lines.push(sleeve_name(label, stocks));
                        }
                        lines.push(format!(
                            "{} to {} mm",
                            millimetres(supplied, 1),
                            millimetres(recovered, 1)
                        ));
                    }
                    None if stock.kind == LabelKind::Strip => lines.push("measure".to_owned()),
                    None => {}
                }
                Field::Lines(lines)
            }
        },
        Field::text(millimetres(label.length, 0)),
        Field::text(label.quantity.to_string()),
        Field::Tick,
        Field::Tick,
        Field::Lines(
            [label.threading, &label.remark]
                .into_iter()
                .filter(|words| !words.is_empty())
                .map(str::to_owned)
                .collect(),
        ),
    ]
}

/// What the labels take, without waste: pieces of each stock, and clear sleeve for paper by bore.
pub(super) fn stock_needed(labels: &[Label], stocks: &[LabelStock]) -> Vec<String> {
    let mut pieces = vec![0; stocks.len()];
    let mut refused = 0;
    for label in labels.iter().filter(|label| label.quantity > 0) {
        match &label.printing {
            Ok(printing) => pieces[printing.stock] += label.quantity,
            Err(_) => refused += label.quantity,
        }
    }
    let mut words: Vec<String> = stocks
        .iter()
        .zip(&pieces)
        .filter(|(_, count)| **count > 0)
        .map(|(stock, count)| format!("{count} on {}", stock.name))
        .collect();
    for (sleeve, length) in clear_sleeve(labels, stocks) {
        words.push(format!(
            "{} clear sleeve {} mm",
            sleeve.supplied_name,
            decimal(round_up_to(length.0 * 1000.0, 1.0), 0)
        ));
    }
    if refused > 0 {
        words.push(format!("{refused} that no stock holds: see their rows"));
    }
    words
}

/// Whether a label is printed on plain paper.
fn is_on_paper(label: &Label, stocks: &[LabelStock]) -> bool {
    (label.printing.as_ref()).is_ok_and(|printing| stocks[printing.stock].kind == LabelKind::Strip)
}

/// Clear sleeve over labels of paper, by bore: thin before thick, without shrinkage.
pub(super) fn clear_sleeve(labels: &[Label], stocks: &[LabelStock]) -> Vec<(LabelSleeve, Metres)> {
    let mut lengths: Vec<(LabelSleeve, Metres)> = Vec::new();
    for label in labels.iter().filter(|label| label.quantity > 0) {
        let Some(sleeve) = label.sleeve.filter(|_| is_on_paper(label, stocks)) else {
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
    lengths
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
            zone: system
                .zone_of(terminal)
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
