//! What is written on the drawing: wire labels, ratings, names, and where their lines break.

use super::circuit::{Cell, CellKind};
use super::font;
use super::layout::Lettering;
use crate::analysis::fill::ways_of;
use crate::standards::InsulationColour;
use crate::system::{
    Chemistry, Colour, ComponentId, ComponentKind, Conductor, ConductorId, DeviceId, Draw, GearId,
    GearKind, LinkKind, LoadId, Origin, SourceId, System, ZoneId,
};
use crate::units::decimal;

/// Size of wire labels and names, in mm.
pub(super) const TEXT: f64 = 2.5;
/// Size of ratings, terminal names and other secondary text, in mm.
pub(super) const SMALL: f64 = 2.0;
/// Size of zone names and headings, in mm.
pub(super) const HEADING: f64 = 3.5;

/// Stands for a value that the file does not give.
pub(super) const NOT_GIVEN: &str = "?";
/// Stands behind a value that the program assumed or chose.
pub(super) const ASSUMED: &str = "*";

/// A number as short as it can be written, with at most two decimals.
pub(super) fn short(value: f64) -> String {
    let text = decimal(value, 2);
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// The measured ways that a conductor takes from its first end, as `trunk, fore`; none where it takes none.
pub(super) fn ways(system: &System, id: ConductorId) -> Option<String> {
    let names: Vec<&str> = ways_of(system, id)
        .into_iter()
        .map(|way| system.ways[way.index()].name.as_str())
        .collect();
    (!names.is_empty()).then(|| names.join(", "))
}

fn mark(origin: Origin) -> &'static str {
    match origin {
        Origin::Assumed | Origin::Chosen => ASSUMED,
        Origin::Written | Origin::Derived => "",
    }
}

/// Letters of a colour; its words where the colour table does not know them.
pub(super) fn colour_letters(colour: &Colour) -> String {
    parse_colour(colour).map_or_else(
        || match &colour.stripe {
            Some(stripe) => format!("{}/{stripe}", colour.base),
            None => colour.base.clone(),
        },
        InsulationColour::letters,
    )
}

/// The colour of the table that a conductor's words mean.
pub(super) fn parse_colour(colour: &Colour) -> Option<InsulationColour> {
    let text = match &colour.stripe {
        Some(stripe) => format!("{}/{stripe}", colour.base),
        None => colour.base.clone(),
    };
    text.parse().ok()
}

/// What is written on a conductor.
#[derive(Clone, Debug)]
pub(super) struct WireLabel {
    /// Wire number, then size and colour letters.
    pub(super) words: [String; 2],
    /// Both in one line.
    pub(super) line: String,
    /// Width of the line, and of the wider of both words.
    widths: [f64; 2],
}

impl WireLabel {
    pub(super) fn new(conductor: &Conductor) -> Self {
        let gauge = conductor.gauge.map_or_else(
            || NOT_GIVEN.to_owned(),
            |gauge| format!("{}{}", gauge.value, mark(gauge.origin)),
        );
        let colour = conductor.colour.as_ref().map_or_else(
            || NOT_GIVEN.to_owned(),
            |colour| format!("{}{}", colour_letters(&colour.value), mark(colour.origin)),
        );
        let words = [conductor.number.clone(), format!("{gauge} {colour}")];
        let line = words.join(" ");
        let widths = [font::width(&line, TEXT), widest(&words, TEXT)];
        Self {
            words,
            line,
            widths,
        }
    }

    /// Width in mm.
    pub(super) fn width(&self, lettering: Lettering) -> f64 {
        match lettering {
            Lettering::OneLine => self.widths[0],
            Lettering::TwoLines | Lettering::Narrow => self.widths[1],
        }
    }
}

/// A rated current.
pub(super) fn rating(system: &System, device: DeviceId) -> String {
    let device = &system.devices[device.index()];
    match device.rating {
        _ if device.spare => "spare".to_owned(),
        None => format!("{NOT_GIVEN} A"),
        Some(rating) => format!("{} A{}", short(rating.value.0), mark(rating.origin)),
    }
}

/// What a load takes.
pub(super) fn draw(system: &System, load: LoadId) -> String {
    match system.loads[load.index()].draw {
        None => NOT_GIVEN.to_owned(),
        Some(draw) => {
            let text = match draw.value {
                Draw::Current(current) => format!("{} A", short(current.0)),
                Draw::Power(power) => format!("{} W", short(power.0)),
            };
            format!("{text}{}", mark(draw.origin))
        }
    }
}

fn chemistry(chemistry: Chemistry) -> &'static str {
    match chemistry {
        Chemistry::Flooded => "flooded",
        Chemistry::Agm => "AGM",
        Chemistry::Gel => "gel",
        Chemistry::LithiumIronPhosphate => "LiFePO4",
    }
}

/// Voltage, capacity or current of a source.
pub(super) fn source(system: &System, source: SourceId) -> String {
    let source = &system.sources[source.index()];
    let mut words = vec![format!("{} V", short(source.nominal.value.0))];
    if let Some(capacity) = source.capacity {
        words.push(format!("{} Ah", short(capacity.value.0)));
    } else if let Some(current) = source.current {
        words.push(format!("{} A", short(current.value.0)));
    }
    if let Some(kind) = source.chemistry {
        words.push(chemistry(kind.value).to_owned());
    }
    words.join(" ")
}

/// Positions that close one contact.
fn closing_positions(system: &System, gear: GearId, cell: &Cell) -> String {
    let node = system.node_of(cell.ends[0]);
    let far = system.node_of(cell.ends[1]);
    let gear_record = &system.gears[gear.index()];
    let mut closed: Vec<u16> = Vec::new();
    for link in &system.nodes[node.index()].links {
        let link = &system.links[link.index()];
        let joins = [link.a, link.b]
            .iter()
            .any(|&end| system.node_of(end) == far);
        if let LinkKind::Contact {
            gear: of,
            closed_in,
        } = &link.kind
            && *of == gear
            && joins
        {
            closed.extend(closed_in);
        }
    }
    closed.sort_unstable();
    closed.dedup();
    let names: Vec<&str> = closed
        .iter()
        .filter_map(|&index| gear_record.positions.get(usize::from(index)))
        .map(|position| position.name.as_str())
        .collect();
    names.join(", ")
}

/// Name of a zone.
pub(super) fn zone(system: &System, zone: Option<ZoneId>) -> Option<&str> {
    zone.map(|zone| system.zones[zone.index()].name.as_str())
}

/// The zone that a part in line is drawn in: for a connector, that of the half towards the supply.
pub(super) fn cell_zone(system: &System, cell: &Cell) -> Option<ZoneId> {
    let component = &system.components[cell.component.index()];
    match &component.connector {
        Some(connector) => connector.half_zones[0].or(component.zone),
        None => component.zone,
    }
}

/// The name of a terminal with a minus sign in place of a hyphen at its end, which is hard to see.
pub(super) fn signed(word: &str) -> String {
    match word.strip_suffix('-') {
        Some(name) => format!("{name}\u{2212}"),
        None => word.to_owned(),
    }
}

/// Whether the name of a terminal is only a pole, as `+` or `1-`.
pub(super) fn is_pole(name: &str) -> bool {
    name.len() <= 2 && name.ends_with(['+', '-'])
}

/// Names of both terminals, as they stand left and right of a part that is wired by them; none of one that may be
/// turned round, or whose poles its symbol or its place tells.
fn terminals(system: &System, cell: &Cell) -> Option<String> {
    let component = &system.components[cell.component.index()];
    if component.kind == ComponentKind::Connector || cell.kind == CellKind::Splice {
        return None;
    }
    let names = cell
        .ends
        .map(|end| system.terminals[end.index()].name.as_str());
    let plain = |name: &str| matches!(name, "" | "in" | "out") || is_pole(name);
    if names.into_iter().all(plain) {
        return None;
    }
    Some(names.map(signed).join(" – "))
}

/// Lines above a part in line, and lines below it.
pub(super) fn cell_lines(system: &System, cell: &Cell) -> (Vec<String>, Vec<String>) {
    let (above, mut below) = told_lines(system, cell);
    if let Some(terminals) = terminals(system, cell) {
        let empty = |line: &String| line.is_empty() || line == CONTACT;
        below.retain(|line| !empty(line));
        below.push(terminals);
    }
    (above, below)
}

/// What stands below the contact of a relay that has no other words.
const CONTACT: &str = "contact";

fn told_lines(system: &System, cell: &Cell) -> (Vec<String>, Vec<String>) {
    let component = &system.components[cell.component.index()];
    let wrapped = |text: &str| wrap(text, 15);
    match cell.kind {
        CellKind::Battery(id) | CellKind::Source(id) => {
            (wrap(&component.label, 20), vec![source(system, id)])
        }
        CellKind::Load(id, _) => {
            let mut below = draw(system, id);
            if component.kind == ComponentKind::Relay {
                below = format!("coil {below}");
            }
            (wrap(&component.label, 20), vec![below])
        }
        CellKind::Instrument => (wrap(&component.label, 20), vec![component.subkind.clone()]),
        CellKind::Device(id) => (wrapped(&component.name), vec![rating(system, id)]),
        CellKind::Contact(gear) => {
            let record = &system.gears[gear.index()];
            let below = if record.kind == GearKind::Relay {
                CONTACT.to_owned()
            } else if record.positions.len() == 2 {
                String::new()
            } else {
                closing_positions(system, gear, cell)
            };
            (wrapped(&component.name), wrap(&below, 18))
        }
        CellKind::Combiner(_) => {
            let rated = component
                .rating
                .map_or_else(String::new, |rating| format!("{} A", short(rating.value.0)));
            (wrapped(&component.name), vec![rated])
        }
        CellKind::Mate(cavity) => (wrapped(&component.name), vec![cavity.to_string()]),
        CellKind::Splice | CellKind::Diode | CellKind::Plain | CellKind::Bunch(_) => {
            (wrapped(&component.name), Vec::new())
        }
        CellKind::Shunt => {
            let rated = component
                .rating
                .map_or_else(String::new, |rating| format!("{} A", short(rating.value.0)));
            (wrapped(&component.name), vec![rated])
        }
    }
}

/// Rated current of a part as a whole, empty when not given.
pub(super) fn part_rating(system: &System, component: ComponentId) -> String {
    system.components[component.index()]
        .rating
        .map_or_else(String::new, |rating| {
            format!("{} A{}", short(rating.value.0), mark(rating.origin))
        })
}

/// Characters after which a word is broken where nothing in it asks for it.
const LONGEST_WORD: usize = 22;

/// Breaks a text at spaces, hyphens and points into lines of about so many characters.
///
/// A word longer than a line keeps its length, and a very long one goes on in the next line: nothing is lost.
pub(super) fn wrap(text: &str, most: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    let mut word = String::new();
    let flush = |line: &mut String, word: &mut String, lines: &mut Vec<String>| {
        let longer = line.chars().count() + word.trim_end().chars().count() > most;
        if longer && !line.trim().is_empty() {
            lines.push(line.trim().to_owned());
            line.clear();
        }
        line.push_str(word);
        word.clear();
    };
    for character in text.chars() {
        word.push(if character.is_control() {
            ' '
        } else {
            character
        });
        let full = word.chars().count() >= LONGEST_WORD;
        if full || matches!(character, ' ' | '-' | '.' | ',' | '+') {
            flush(&mut line, &mut word, &mut lines);
        }
    }
    flush(&mut line, &mut word, &mut lines);
    if !line.trim().is_empty() {
        lines.push(line.trim().to_owned());
    }
    lines
}

/// Width of the widest line, in mm.
pub(super) fn widest(lines: &[String], size: f64) -> f64 {
    lines
        .iter()
        .map(|line| font::width(line, size))
        .fold(0.0, f64::max)
}

/// A few names, and how many more there are.
pub(super) fn few(names: &[String], most: usize) -> String {
    let shown = if names.len() > most {
        most.saturating_sub(1).max(1)
    } else {
        names.len()
    };
    let words = names[..shown].join(", ");
    match names.len() - shown {
        0 => words,
        more => format!("{words} and {more} more"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_break_where_words_do_and_lose_nothing() {
        assert_eq!(wrap("combiner-house-fuse", 15), ["combiner-house-", "fuse"]);
        assert_eq!(wrap("horn", 15), ["horn"]);
        assert_eq!(wrap("", 15), Vec::<String>::new());
        assert_eq!(
            wrap("averyveryverylongword short", 10),
            ["averyveryverylongword", "short"]
        );
        assert_eq!(
            wrap("averyveryverylongwordwithoutend", 10),
            ["averyveryverylongwordw", "ithoutend"]
        );
    }

    #[test]
    fn numbers_carry_no_idle_zeros() {
        assert_eq!(short(7.5), "7.5");
        assert_eq!(short(10.0), "10");
        assert_eq!(short(100.0), "100");
        assert_eq!(short(0.03), "0.03");
    }
}
