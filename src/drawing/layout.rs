//! Measures of one grid: how wide every column must be, and where each thing on a row then stands.
//!
//! Columns follow from the longest label in them; lettering has one size and is never scaled.

use super::circuit::{Cell, CellKind, Circuit, Hub, HubKind, Item};
use super::font;
use super::pages::Zoning;
use super::plan::{Cut, Cuts, End, Grid, Plan, Preference, Seg};
use super::scene::Pole;
use super::symbols::{self, MODULE, Symbol};
use super::words::{self, SMALL, TEXT};
use crate::system::{ComponentKind, GearId, LinkKind, System, TerminalId};
use std::collections::{BTreeMap, VecDeque};

/// Stands over what nothing feeds.
pub(super) const LOOSE: &str = "Not connected, or fed by nothing:";
/// Room on both sides of a wire label, in mm.
const LABEL_PAD: f64 = 0.7;
/// Room between a wire label and what stands at the end of its wire, where there is enough, in mm.
const LABEL_CLEAR: f64 = 2.0;
/// Shortest wire, in mm.
const SHORTEST_WIRE: f64 = 5.0;
/// Length of a joint between parts bolted together, in mm.
const JOINT: f64 = 2.5;
/// Room between a bar and what stands beside it, in mm.
const GAP: f64 = 5.0;
/// Width kept for the reference where a grid is cut, in mm.
const CUT_REFERENCE: f64 = 40.0;
/// Height of a line of text with its spacing, in mm.
pub(super) const LEADING: f64 = 1.2;
/// Half the height of a box beyond its first and last row, in mm.
pub(super) const BOX_RIM: f64 = 3.75;
/// Rows above which a grid may have to be cut.
pub(super) const MAY_BE_CUT: usize = 7;
/// How far a bar reaches beyond its first and last row, in mm.
pub(super) const BAR_RIM: f64 = 2.5;

/// How wire labels are set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Lettering {
    /// Number, size and colour in one line above the wire.
    OneLine,
    /// The number above the wire, size and colour below it.
    TwoLines,
    /// As in two lines, with the places where wires go on in more and shorter lines.
    Narrow,
}

impl Lettering {
    /// Letters in a line of a reference.
    fn reference(self) -> usize {
        match self {
            Self::OneLine | Self::TwoLines => 24,
            Self::Narrow => 14,
        }
    }
}

/// Something with a place from left to right.
#[derive(Clone, Copy, Debug)]
pub(super) struct Column {
    pub(super) x: f64,
    pub(super) width: f64,
}

/// A part in line on its row.
#[derive(Clone, Debug)]
pub(super) struct Face {
    pub(super) cell: Cell,
    pub(super) symbol: Symbol,
    /// Drawn mirrored, because the chain runs the other way.
    pub(super) mirror: bool,
    pub(super) above: Vec<String>,
    pub(super) below: Vec<String>,
    pub(super) column: usize,
    /// The text stands behind the symbol, over and under its lead.
    pub(super) tail: bool,
    /// Width of its text, once all of it is there.
    text: f64,
}

/// A conductor or joint between two things on a row.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lead {
    /// The conductor or joint; none where parts touch.
    pub(super) item: Option<Item>,
    /// The label stands at the left end, next to the load.
    pub(super) label_left: bool,
}

/// One segment with its parts: leads and faces in turn, a lead first and last.
#[derive(Clone, Debug)]
pub(super) struct Strip {
    pub(super) faces: Vec<Face>,
    pub(super) leads: Vec<Lead>,
    /// Columns of free ends.
    pub(super) ends: [usize; 2],
}

/// Text of a hub.
#[derive(Clone, Debug)]
pub(super) struct Plate {
    /// Lines above the bar.
    pub(super) title: Vec<String>,
    /// Lines inside a box.
    pub(super) table: Vec<String>,
    /// The switch that they tell of, and the line with which each of its positions begins.
    pub(super) dial: Option<(GearId, Vec<usize>)>,
    /// Width of the text left and right of the bar, or inside the box.
    pub(super) sides: [f64; 2],
    /// Width of the bar or box itself.
    pub(super) body: f64,
    /// A line above the bar is kept for the places where it goes on.
    pub(super) also: bool,
    /// The lines above it end at its right edge, because nothing stands right of it.
    pub(super) title_ends: bool,
    /// The bar is thinner than its column.
    thin: bool,
}

/// A grid with all its columns in place.
#[derive(Clone, Debug)]
pub(super) struct Measured {
    pub(super) columns: Vec<Column>,
    pub(super) strips: Vec<Strip>,
    pub(super) plates: Vec<Plate>,
    pub(super) lettering: Lettering,
    pub(super) width: f64,
    /// As far left as each column may stand.
    pushed: Vec<f64>,
    /// Column of the loads.
    load_column: usize,
    /// The loads stand in one column.
    pub(super) aligned: bool,
    /// Boxes that stand in the column of the loads.
    consumers: Vec<usize>,
    /// Least distances: left column, right column, gap.
    edges: Vec<(usize, usize, f64)>,
    /// Text of each reference, with room for the place.
    pub(super) refs: BTreeMap<usize, Vec<String>>,
}

/// A length in whole millimetres, or a count that was worked out as one; nothing below zero.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // no sheet has a thousandth of what overflows
pub(super) fn whole(length: f64) -> usize {
    length.max(0.0) as usize
}

/// Rounds a length up to the grid.
pub(super) fn on_grid(length: f64) -> f64 {
    (length / MODULE - 1e-6).ceil().max(0.0) * MODULE
}

/// Name of a terminal on its part.
pub(super) fn terminal_word(system: &System, terminal: TerminalId) -> &str {
    let name = system.terminals[terminal.index()].name.as_str();
    name.strip_prefix("negative.").unwrap_or(name)
}

/// Widest place a reference can name; it stands for the place until that is known.
pub(super) const WIDEST_PLACE: &str = "00/A0";

/// Last line of a reference to what these sheets do not show.
pub(super) const OUTSIDE: &str = "outside this view";

/// Lines of a reference, the last one with room for its place.
pub(super) fn reference_lines(
    system: &System,
    circuit: &Circuit,
    plan: &Plan,
    reference: usize,
    letters: usize,
) -> Vec<String> {
    if let Some(outer) = plan.refs[reference].outer {
        let outer = &circuit.outer[outer];
        let mut lines = words::wrap(&outer.words, 24);
        let zone = words::zone(system, outer.zone).map(|zone| format!("zone {zone}, "));
        match zone {
            Some(zone) if zone.chars().count() + OUTSIDE.len() <= 28 => {
                lines.push(format!("{zone}{OUTSIDE}"));
            }
            Some(zone) => {
                lines.extend(words::wrap(&zone, 28));
                lines.push(OUTSIDE.to_owned());
            }
            None => lines.push(OUTSIDE.to_owned()),
        }
        return lines;
    }
    let name = system.terminal_name(plan.refs[reference].far);
    words::wrap(&format!("{name} {WIDEST_PLACE}"), letters)
}

/// Width of the symbol of a reference.
pub(super) fn reference_width(lines: &[String]) -> f64 {
    on_grid(words::widest(lines, TEXT) + 4.0)
}

/// The symbol of a part in line.
fn face_symbol(system: &System, cell: &Cell) -> Symbol {
    if let Some(symbol) = symbols::of_simple(cell.kind) {
        return symbol;
    }
    let component = &system.components[cell.component.index()];
    match cell.kind {
        CellKind::Device(device) => symbols::of_device(system.devices[device.index()].kind),
        CellKind::Contact(gear) => symbols::of_gear(system.gears[gear.index()].kind),
        CellKind::Source(source) => symbols::of_source(system.sources[source.index()].kind),
        CellKind::Instrument => symbols::of_instrument(&component.subkind),
        CellKind::Mate(_) => {
            let contacts = component
                .connector
                .as_ref()
                .map_or([None, None], |connector| {
                    [
                        connector.contacts[0].map(|given| given.value),
                        connector.contacts[1].map(|given| given.value),
                    ]
                });
            let reversed = system.terminals[cell.ends[0].index()].name.ends_with('b');
            symbols::of_connector(if reversed {
                [contacts[1], contacts[0]]
            } else {
                contacts
            })
        }
        _ => Symbol::Plain,
    }
}

/// Order of columns: what stands nearer to the supply first.
fn class(kind: CellKind) -> u8 {
    match kind {
        CellKind::Battery(_) | CellKind::Source(_) => 0,
        CellKind::Device(_) => 1,
        CellKind::Shunt | CellKind::Diode | CellKind::Combiner(_) => 2,
        CellKind::Contact(_) => 3,
        CellKind::Mate(_) => 4,
        CellKind::Splice | CellKind::Plain => 5,
        CellKind::Load(..) | CellKind::Instrument | CellKind::Bunch(_) => 6,
    }
}

impl Face {
    fn new(system: &System, circuit: &Circuit, cell: Cell) -> Self {
        let symbol = face_symbol(system, &cell);
        let (above, below) = match cell.kind {
            CellKind::Bunch(index) => {
                let bunch = &circuit.bunches[index as usize];
                (bunch.above.clone(), bunch.below.clone())
            }
            _ => words::cell_lines(system, &cell),
        };
        let mirror = match cell.kind {
            CellKind::Battery(source) => {
                let link = &system.links[system.sources[source.index()].link.index()];
                link.a == cell.ends[0]
            }
            CellKind::Diode => system.terminals[cell.ends[0].index()].name != "in",
            _ => false,
        };
        Self {
            tail: cell.kind.is_load() && symbol != Symbol::Converter,
            cell,
            symbol,
            mirror,
            above,
            below,
            column: 0,
            text: 0.0,
        }
    }

    /// Measures its text.
    fn measure(&mut self) {
        self.text = words::widest(&self.above, TEXT).max(words::widest(&self.below, SMALL));
    }

    /// Width of its column.
    pub(super) fn width(&self) -> f64 {
        let (symbol, _, _) = self.symbol.size();
        if self.tail {
            on_grid(symbol + self.text + 2.0)
        } else {
            on_grid(symbol.max(self.text + 1.0))
        }
    }

    /// Height above and below the row, with its text.
    pub(super) fn heights(&self) -> (f64, f64) {
        let (_, up, down) = self.symbol.size();
        let below = self.below.iter().filter(|line| !line.is_empty()).count();
        // From the first baseline to the top of the last line, and so downward.
        let lines = |count: usize, size: f64| match count {
            0 => 0.0,
            _ => (count as f64 - 1.0) * size * LEADING + size,
        };
        let (over, under) = (lines(self.above.len(), TEXT), lines(below, SMALL));
        if self.tail {
            (up.max(over + 0.7), down.max(under + 0.8))
        } else {
            let gap = |height: f64, room: f64| if height > 0.0 { height + room } else { 0.0 };
            (up + gap(over, 0.4), down + gap(under, 0.5))
        }
    }
}

impl Strip {
    fn new(system: &System, circuit: &Circuit, seg: &Seg) -> Self {
        let mut faces = Vec::new();
        let mut leads = Vec::new();
        let mut pending = None;
        let mut loaded = false;
        let items: Vec<Item> = seg
            .chain
            .map(|chain| circuit.chains[chain].items[seg.items.clone()].to_vec())
            .unwrap_or_default();
        let ordered: Box<dyn Iterator<Item = Item>> = if seg.flipped {
            Box::new(items.into_iter().rev())
        } else {
            Box::new(items.into_iter())
        };
        for item in ordered {
            match item {
                Item::Cell(mut cell) => {
                    if seg.flipped {
                        cell.ends.reverse();
                    }
                    leads.push(Lead {
                        item: pending.take(),
                        label_left: loaded,
                    });
                    loaded |= cell.kind.is_load();
                    faces.push(Face::new(system, circuit, cell));
                }
                other => pending = Some(other),
            }
        }
        leads.push(Lead {
            item: pending,
            label_left: loaded,
        });
        Self {
            faces,
            leads,
            ends: [usize::MAX; 2],
        }
    }
}

/// Room between a wire label and the end of its wire, where the wire has room for the label on so much of it.
pub(super) fn label_pad((from, to): (f64, f64), width: f64) -> f64 {
    LABEL_CLEAR
        .min(to - from - width - LABEL_PAD)
        .max(LABEL_PAD)
}

/// Length that a lead needs.
fn lead_length(circuit: &Circuit, lead: &Lead, lettering: Lettering) -> f64 {
    match lead.item {
        None => 0.0,
        Some(Item::Wire(id)) => {
            let text = circuit.labels[id.index()].width(lettering);
            on_grid((text + 2.0 * LABEL_PAD).max(SHORTEST_WIRE))
        }
        Some(_) => JOINT,
    }
}

/// Width of the contacts beside the lines of a switch, in mm.
pub(super) const DIAL: f64 = 7.0;

/// The switch that a box stands for, and a line for each position that says what it closes.
pub(super) fn position_table(system: &System, hub: &Hub) -> Option<(GearId, Vec<String>)> {
    let node_of = |terminal: TerminalId| system.node_of(terminal);
    let gear = hub.ports.iter().find_map(|port| {
        let links = &system.nodes[node_of(port.terminal).index()].links;
        links
            .iter()
            .find_map(|link| match &system.links[link.index()].kind {
                LinkKind::Contact { gear, .. }
                    if system.links[link.index()].component == hub.component =>
                {
                    Some(*gear)
                }
                _ => None,
            })
    });
    let gear = gear?;
    let record = &system.gears[gear.index()];
    let count = hub.ports.len();
    let place = |terminal: TerminalId| hub.ports.iter().position(|port| port.terminal == terminal);
    let mut joined: Vec<Vec<(usize, usize)>> = vec![Vec::new(); record.positions.len()];
    let mut seen = std::collections::BTreeSet::new();
    for port in &hub.ports {
        for link in &system.nodes[node_of(port.terminal).index()].links {
            let id = *link;
            let link = &system.links[link.index()];
            if let LinkKind::Contact {
                gear: of,
                closed_in,
            } = &link.kind
                && *of == gear
                && seen.insert(id)
                && let Some(pair) = place(link.a).zip(place(link.b))
            {
                for &position in closed_in {
                    if let Some(list) = joined.get_mut(usize::from(position)) {
                        list.push(pair);
                    }
                }
            }
        }
    }
    let lines = record
        .positions
        .iter()
        .zip(joined)
        .map(|(position, pairs)| {
            let mut group: Vec<usize> = (0..count).collect();
            for (a, b) in pairs {
                let (low, high) = (group[a].min(group[b]), group[a].max(group[b]));
                for entry in &mut group {
                    if *entry == high {
                        *entry = low;
                    }
                }
            }
            let sets: Vec<String> = (0..count)
                .filter_map(|root| {
                    let members: Vec<&str> = (0..count)
                        .filter(|&port| group[port] == root)
                        .map(|port| terminal_word(system, hub.ports[port].terminal))
                        .collect();
                    (members.len() > 1).then(|| members.join("+"))
                })
                .collect();
            let all = count > 2 && sets.len() == 1 && group.iter().all(|&entry| entry == group[0]);
            let sets = match (sets.is_empty(), all) {
                (true, _) => "open".to_owned(),
                (_, true) => "all joined".to_owned(),
                _ => sets.join(", "),
            };
            format!("{}: {sets}", position.name)
        })
        .collect();
    Some((gear, lines))
}

/// Width of the way number, of the fuse and of the rating inside a block, in mm.
pub(super) struct BlockFace {
    pub(super) number: f64,
    pub(super) rating: f64,
}

/// Width of the device of a way in its block, in mm.
pub(super) const WAY_DEVICE: f64 = 10.0;
/// Thickness of the feed bar of a block.
pub(super) const BLOCK_BAR: f64 = 1.5;

impl BlockFace {
    pub(super) fn new(system: &System, hub: &Hub) -> Self {
        let mut face = Self {
            number: 0.0,
            rating: 0.0,
        };
        for port in &hub.ports {
            if let Some(device) = port.device {
                let number = font::width(terminal_word(system, port.terminal), SMALL);
                let rating = font::width(&words::rating(system, device), SMALL);
                face.number = face.number.max(number);
                face.rating = face.rating.max(rating);
            }
        }
        face
    }

    pub(super) fn width(&self) -> f64 {
        on_grid(BLOCK_BAR + 1.0 + self.number + 1.0 + WAY_DEVICE + 1.0 + self.rating + 1.0)
    }
}

/// Name of a hub for the drawing.
pub(super) fn hub_name(system: &System, hub: &Hub) -> String {
    let component = &system.components[hub.component.index()];
    match hub.kind {
        HubKind::Bus if hub.block_negative => format!("{} negative", component.name),
        HubKind::Post => hub
            .ports
            .first()
            .map_or_else(String::new, |port| system.terminal_name(port.terminal)),
        HubKind::Box if component.kind == ComponentKind::Load => component.label.clone(),
        _ => component.name.clone(),
    }
}

impl Plate {
    fn new(system: &System, grid: &Grid, circuit: &Circuit, piece: usize, zoning: &Zoning) -> Self {
        let hub = &circuit.hubs[grid.pieces[piece].hub];
        let component = &system.components[hub.component.index()];
        let mut title = match hub.kind {
            HubKind::Post => Vec::new(),
            _ => words::wrap(&hub_name(system, hub), 20),
        };
        let rating = match hub.kind {
            HubKind::Bus | HubKind::Block | HubKind::Box | HubKind::Tie if !hub.block_negative => {
                words::part_rating(system, hub.component)
            }
            _ => String::new(),
        };
        let zone = words::zone(system, component.zone)
            .filter(|_| {
                let bar = !matches!(hub.kind, HubKind::Post | HubKind::Splice);
                let box_of_load = hub.kind == HubKind::Box && component.kind == ComponentKind::Load;
                let negative = hub.kind.elastic()
                    && circuit.pole(system, grid.pieces[piece].hub, 0) == Pole::Negative;
                let told = zoning.side(negative) == component.zone && !box_of_load;
                bar && !told && !matches!(zoning, Zoning::Whole(_))
            })
            .unwrap_or_default();
        let facts: Vec<&str> = [rating.as_str(), zone]
            .into_iter()
            .filter(|word| !word.is_empty())
            .collect();
        title.push(facts.join(", "));
        title.retain(|line| !line.is_empty());
        let mut used = [Vec::new(), Vec::new()];
        for seg in &grid.segs {
            for (side, end) in [(1, seg.left), (0, seg.right)] {
                if let End::Piece(of, port) = end
                    && of == piece
                {
                    used[side].push(port);
                }
            }
        }
        let widest = |side: usize, size: f64| {
            used[side]
                .iter()
                .filter_map(|&port| hub.ports.get(port))
                .map(|port| font::width(terminal_word(system, port.terminal), size))
                .fold(0.0, f64::max)
        };
        let mut table = Vec::new();
        let mut dial = None;
        let (sides, body) = match hub.kind {
            HubKind::Bus | HubKind::Ground => {
                let margin = |side: usize| {
                    let width = widest(side, SMALL);
                    if width > 0.0 {
                        on_grid(width + 1.0)
                    } else {
                        0.0
                    }
                };
                ([margin(0), margin(1)], MODULE)
            }
            HubKind::Post | HubKind::Splice => ([0.0, 0.0], MODULE),
            HubKind::Block => {
                let feed = widest(0, SMALL);
                let feed = if feed > 0.0 { on_grid(feed + 1.0) } else { 0.0 };
                ([feed, 0.0], BlockFace::new(system, hub).width())
            }
            HubKind::Box | HubKind::Tie => {
                if matches!(component.kind, ComponentKind::Switch | ComponentKind::Relay)
                    && let Some((gear, lines)) = position_table(system, hub)
                {
                    let mut firsts = Vec::with_capacity(lines.len());
                    for line in &lines {
                        firsts.push(table.len());
                        table.extend(words::wrap(line, 24));
                    }
                    dial = Some((gear, firsts));
                }
                let inner = words::widest(&table, SMALL);
                let inner = if inner > 0.0 {
                    inner + 4.0 + DIAL
                } else {
                    13.0
                };
                let sides = [widest(0, SMALL), widest(1, SMALL)];
                ([0.0, 0.0], on_grid(sides[0] + inner + sides[1] + 2.0))
            }
        };
        let same = |other: &&super::plan::Piece| other.hub == grid.pieces[piece].hub;
        let in_pieces = grid.pieces.iter().filter(same).count() > 1 || grid.rows.len() > MAY_BE_CUT;
        Self {
            title,
            table,
            dial,
            sides,
            body,
            also: hub.kind != HubKind::Post && in_pieces,
            thin: hub.kind == HubKind::Splice,
            title_ends: used[1].is_empty() && matches!(hub.kind, HubKind::Bus | HubKind::Ground),
        }
    }

    /// Width with the text at its sides.
    fn width(&self) -> f64 {
        self.sides[0] + self.body + self.sides[1]
    }

    /// Width of the lines above it.
    pub(super) fn title_width(&self) -> f64 {
        let also = if self.also {
            font::width("also 00/A0 …", TEXT)
        } else {
            0.0
        };
        words::widest(&self.title, TEXT).max(also)
    }

    /// How far the lines above it reach beyond its column, left and right.
    fn overhang(&self) -> [f64; 2] {
        let start = self.title_start();
        [
            -start - self.sides[0],
            start + self.title_width() - self.body - self.sides[1],
        ]
    }

    /// Where the lines above it begin, from the left edge of the bar.
    pub(super) fn title_start(&self) -> f64 {
        if self.title_ends {
            self.body - self.title_width()
        } else if self.thin {
            // Clear of the label that ends at its left edge.
            self.body / 2.0
        } else {
            0.0
        }
    }

    /// Height of the lines above it.
    pub(super) fn title_height(&self) -> f64 {
        let lines = self.title.len() + usize::from(self.also);
        if lines == 0 {
            0.0
        } else {
            lines as f64 * TEXT * LEADING + 0.8
        }
    }
}

/// Builds columns and the least distances between them.
struct Solver {
    columns: Vec<Column>,
    edges: Vec<(usize, usize, f64)>,
}

impl Solver {
    fn column(&mut self, width: f64) -> usize {
        self.columns.push(Column { x: 0.0, width });
        self.columns.len() - 1
    }

    fn apart(&mut self, left: usize, right: usize, gap: f64) {
        if left != right {
            self.edges.push((left, right, gap));
        }
    }

    /// Puts every column as far left as it may stand; false when the distances contradict each other.
    fn solve(&mut self) -> bool {
        let count = self.columns.len();
        let mut starts = vec![0usize; count + 1];
        for &(left, _, _) in &self.edges {
            starts[left + 1] += 1;
        }
        for index in 0..count {
            starts[index + 1] += starts[index];
        }
        let mut fill = starts.clone();
        let mut after = vec![(0usize, 0.0f64); self.edges.len()];
        let mut waits = vec![0usize; count];
        for &(left, right, gap) in &self.edges {
            after[fill[left]] = (right, gap);
            fill[left] += 1;
            waits[right] += 1;
        }
        let mut ready: VecDeque<usize> = (0..count).filter(|&column| waits[column] == 0).collect();
        let mut done = 0;
        while let Some(column) = ready.pop_front() {
            done += 1;
            let edge = self.columns[column].x + self.columns[column].width;
            for &(right, gap) in &after[starts[column]..starts[column + 1]] {
                let place = on_grid(edge + gap);
                if place > self.columns[right].x {
                    self.columns[right].x = place;
                }
                waits[right] -= 1;
                if waits[right] == 0 {
                    ready.push_back(right);
                }
            }
        }
        // Where distances contradict each other, what is left stands behind everything else.
        let mut edge = self
            .columns
            .iter()
            .map(|column| column.x + column.width)
            .fold(0.0, f64::max);
        for column in (0..count).filter(|&column| waits[column] > 0) {
            self.columns[column].x = on_grid(edge + GAP);
            edge = self.columns[column].x + self.columns[column].width;
        }
        done == count
    }
}

impl Solver {
    /// Draws columns that hang on something to their right as near to it as they may stand.
    fn draw_right(&mut self, columns: &[usize]) {
        let mut wanted = vec![f64::INFINITY; self.columns.len()];
        let mut hangs = vec![false; self.columns.len()];
        for &column in columns {
            hangs[column] = true;
        }
        // A strip's columns are listed from left to right, so the last is settled first.
        let mut after: Vec<Vec<(usize, f64)>> = vec![Vec::new(); self.columns.len()];
        for &(left, right, gap) in self.edges.iter().filter(|edge| hangs[edge.0]) {
            after[left].push((right, gap));
        }
        let mut order: Vec<usize> = columns.to_vec();
        order.sort_by(|&a, &b| {
            self.columns[b]
                .x
                .total_cmp(&self.columns[a].x)
                .then(b.cmp(&a))
        });
        for column in order {
            let width = self.columns[column].width;
            for &(right, gap) in &after[column] {
                wanted[column] = wanted[column].min(self.columns[right].x - gap - width);
            }
            let place = (wanted[column] / MODULE + 1e-6).floor() * MODULE;
            if place.is_finite() && place > self.columns[column].x {
                self.columns[column].x = place;
            }
        }
    }
}

/// What is broken at a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum PlaceKind {
    Hub,
    Rung,
    /// The bar of a single terminal.
    Terminal,
    /// A bank among others, or a part that ties them.
    Source,
}

/// A place at which a grid can be made narrower.
#[derive(Clone, Debug)]
struct Place {
    x: f64,
    kind: PlaceKind,
    cuts: Vec<Cut>,
}

/// What a grid is measured from.
pub(super) struct Source<'a> {
    pub(super) system: &'a System,
    pub(super) circuit: &'a Circuit,
    pub(super) plan: &'a Plan,
    pub(super) grid: &'a Grid,
    pub(super) zoning: &'a Zoning,
}

impl Source<'_> {
    /// Names the zones of parts that stand in no rectangle of their zone and not in that of the ladder's head.
    fn name_zones(&self, strips: &mut [Strip]) {
        if let Zoning::Whole(_) = self.zoning {
            return;
        }
        // A post has no title that could name its zone.
        let head = self
            .grid
            .head
            .map(|hub| &self.circuit.hubs[hub])
            .filter(|hub| !matches!(hub.kind, HubKind::Post | HubKind::Splice))
            .and_then(|hub| self.system.components[hub.component.index()].zone);
        for (row, segs) in self.grid.rows.iter().enumerate() {
            for &seg in segs {
                let mut behind = false;
                for face in &mut strips[seg].faces {
                    let load = face.cell.kind.is_load();
                    behind |= load;
                    let zone = words::cell_zone(self.system, &face.cell);
                    let told = if load {
                        self.zoning.boxes(row)
                    } else {
                        zone == head || zone == self.zoning.side(behind)
                    };
                    let Some(name) = words::zone(self.system, zone).filter(|_| !told) else {
                        continue;
                    };
                    match face.below.first_mut() {
                        Some(line) if !line.is_empty() => {
                            line.push_str(", ");
                            line.push_str(name);
                        }
                        Some(line) => line.push_str(name),
                        None => face.below.push(name.to_owned()),
                    }
                }
            }
        }
    }
}

impl Measured {
    /// Measures a grid.
    pub(super) fn new(source: &Source<'_>, lettering: Lettering) -> Self {
        // Without a common column for the loads, and then without regard to bars in passing, there is always a way.
        for (aligned, separate) in [(true, true), (false, true)] {
            let (measured, sound) = Self::attempt(source, lettering, (aligned, separate));
            if sound {
                return measured;
            }
        }
        Self::attempt(source, lettering, (false, false)).0
    }

    /// Measures a grid, and tells whether its distances agree with each other.
    fn attempt(
        source: &Source<'_>,
        lettering: Lettering,
        (aligned, separate): (bool, bool),
    ) -> (Self, bool) {
        let &Source {
            system,
            circuit,
            plan,
            grid,
            ..
        } = source;
        let mut solver = Solver {
            columns: Vec::new(),
            edges: Vec::new(),
        };
        let plates: Vec<Plate> = (0..grid.pieces.len())
            .map(|piece| Plate::new(system, grid, circuit, piece, source.zoning))
            .collect();
        let mut ready: Vec<Strip> = grid
            .segs
            .iter()
            .map(|seg| Strip::new(system, circuit, seg))
            .collect();
        source.name_zones(&mut ready);
        for face in ready.iter_mut().flat_map(|strip| &mut strip.faces) {
            face.measure();
        }
        let mut ready = ready.into_iter();
        for plate in &plates {
            solver.column(plate.width());
        }
        let load_column = solver.column(0.0);
        let mut refs = BTreeMap::new();
        let mut strips = Vec::with_capacity(grid.segs.len());
        // Columns that grow from each bar, and those behind the loads.
        let mut from_bar: Vec<Vec<(u8, usize)>> = vec![Vec::new(); grid.pieces.len()];
        let mut behind_loads: Vec<(u8, usize)> = Vec::new();
        // Columns of strips that hang on a bar on their right only.
        let mut free_starts: Vec<usize> = Vec::new();
        for seg in &grid.segs {
            let Some(mut strip) = ready.next() else { break };
            let mut at_end = |end: End, solver: &mut Solver| match end {
                End::Piece(piece, _) => piece,
                End::Ref(reference) => {
                    let letters = lettering.reference();
                    let lines = reference_lines(system, circuit, plan, reference, letters);
                    let width = reference_width(&lines);
                    refs.insert(reference, lines);
                    solver.column(width)
                }
                End::Hub(..) | End::Open => solver.column(MODULE),
            };
            strip.ends = [
                at_end(seg.left, &mut solver),
                at_end(seg.right, &mut solver),
            ];
            let load_face = strip
                .faces
                .iter()
                .rposition(|face| face.cell.kind.is_load());
            // A part that touches a bar stands next to it, whatever the other rows do.
            let touches = |lead: Option<&Lead>, end: End| {
                lead.is_some_and(|lead| lead.item.is_none())
                    && piece_of(end).is_some()
                    && !strip.faces.is_empty()
            };
            let hangs = touches(strip.leads.last(), seg.right) && load_face.is_none();
            let leans = touches(strip.leads.first(), seg.left) && load_face != Some(0);
            let mut list = match seg.left {
                End::Piece(piece, _) if !hangs && !leans => {
                    Some(std::mem::take(&mut from_bar[piece]))
                }
                _ => None,
            };
            let mut after = std::mem::take(&mut behind_loads);
            let mut own: Vec<(u8, usize)> = Vec::new();
            let mut next = 0;
            for index in 0..strip.faces.len() {
                let face = &strip.faces[index];
                let width = face.width();
                let class = class(face.cell.kind);
                let behind = aligned && load_face.is_some_and(|load| index > load);
                let column = if aligned && load_face == Some(index) {
                    next = 0;
                    load_column
                } else {
                    let list = if behind {
                        &mut after
                    } else {
                        list.as_mut().unwrap_or(&mut own)
                    };
                    let found = list[next.min(list.len())..]
                        .iter()
                        .position(|&(known, _)| known == class)
                        .map(|offset| next + offset);
                    let at = found.unwrap_or_else(|| {
                        // A new column stands before the first of a later class.
                        let at = list[next.min(list.len())..]
                            .iter()
                            .position(|&(known, _)| known > class)
                            .map_or(list.len(), |offset| next + offset);
                        list.insert(at, (class, solver.column(0.0)));
                        at
                    });
                    next = at + 1;
                    list[at].1
                };
                let slot = &mut solver.columns[column].width;
                *slot = slot.max(width);
                strip.faces[index].column = column;
            }
            if hangs {
                free_starts.extend(own.iter().map(|&(_, column)| column));
            } else if piece_of(seg.left).is_none() && piece_of(seg.right).is_some() {
                free_starts.push(strip.ends[0]);
                free_starts.extend(own.iter().map(|&(_, column)| column));
            }
            if let (Some(list), End::Piece(piece, _)) = (list, seg.left) {
                from_bar[piece] = list;
            }
            behind_loads = after;
            let mut previous = strip.ends[0];
            for (index, lead) in strip.leads.iter().enumerate() {
                let following = strip
                    .faces
                    .get(index)
                    .map_or(strip.ends[1], |face| face.column);
                let stub = seg.chain.is_none();
                let length = match (lead.item, seg.left, seg.right) {
                    (None, End::Ref(_), _) | (None, _, End::Ref(_)) => SHORTEST_WIRE,
                    _ if stub => JOINT,
                    _ => lead_length(circuit, lead, lettering),
                };
                solver.apart(previous, following, length);
                previous = following;
            }
            strips.push(strip);
        }
        for &(left, right) in &grid.order {
            solver.apart(left, right, GAP);
        }
        // Boxes of loads with several inputs begin where the other loads begin.
        let consumers: Vec<usize> = (0..grid.pieces.len())
            .filter(|&piece| {
                let hub = &circuit.hubs[grid.pieces[piece].hub];
                let kind = system.components[hub.component.index()].kind;
                hub.kind == HubKind::Box && kind == ComponentKind::Load
            })
            .collect();
        if aligned {
            for &piece in &consumers {
                let width = solver.columns[load_column].width;
                solver.apart(load_column, piece, -width);
            }
        }
        if separate {
            rows_apart(grid, &strips, &plates, &mut solver);
        }
        for (side, rail) in grid.rails.iter().enumerate() {
            let Some(rail) = *rail else { continue };
            let other = grid.rails[1 - side];
            for column in 0..solver.columns.len() {
                let idle = column == load_column && solver.columns[column].width == 0.0;
                if column == rail || Some(column) == other || idle {
                    continue;
                }
                if side == 0 {
                    solver.apart(rail, column, GAP);
                } else {
                    solver.apart(column, rail, GAP);
                }
            }
        }
        // Titles keep to the right of the left edge.
        let edge = solver.column(0.0);
        for (piece, plate) in plates.iter().enumerate() {
            solver.apart(edge, piece, plate.overhang()[0].max(0.0));
        }
        // The names of zones keep to their rectangles.
        let [within, before, behind] = source.zoning.name_widths(system);
        if aligned {
            let slot = &mut solver.columns[load_column].width;
            *slot = slot.max(on_grid(within));
            if before > 0.0 {
                solver.apart(edge, load_column, before);
            }
        }
        let sound = solver.solve();
        let pushed: Vec<f64> = solver.columns.iter().map(|column| column.x).collect();
        solver.draw_right(&free_starts);
        let width = solver
            .columns
            .iter()
            .map(|column| column.x + column.width)
            .chain(plates.iter().enumerate().map(|(piece, plate)| {
                solver.columns[piece].x + plate.sides[0] + plate.title_start() + plate.title_width()
            }))
            .fold(
                if grid.loose {
                    font::width(LOOSE, TEXT)
                } else {
                    0.0
                },
                f64::max,
            );
        let mut measured = Self {
            edges: solver.edges,
            pushed,
            load_column,
            aligned,
            consumers,
            columns: solver.columns,
            strips,
            plates,
            lettering,
            width,
            refs,
        };
        let from = match source.zoning {
            Zoning::Whole(_) => 0.0,
            Zoning::Runs(..) if aligned => measured.load_edges()[1],
            Zoning::Runs(..) => return (measured, sound),
        };
        if behind > 0.0 {
            measured.width = measured.width.max(from + behind);
        }
        (measured, sound)
    }

    /// Draws the columns apart until the grid has a width, and no further than to so many times its own.
    ///
    /// Every distance grows, so nothing comes nearer to anything.
    pub(super) fn stretch(&mut self, width: f64, most: f64) {
        let ends = self.columns.iter().map(|column| (column.x, column.width));
        let titles = self.plates.iter().enumerate().map(|(piece, plate)| {
            let title = plate.sides[0] + plate.title_start() + plate.title_width();
            (self.columns[piece].x, title)
        });
        let factor = ends
            .chain(titles)
            .filter(|&(x, _)| x > 0.0)
            .map(|(x, right)| (width - right) / x)
            .fold(most, f64::min);
        if factor <= 1.0 {
            return;
        }
        for column in &mut self.columns {
            column.x = (column.x * factor / MODULE + 1e-6).floor() * MODULE;
        }
        self.width = self
            .columns
            .iter()
            .map(|column| column.x + column.width)
            .chain(self.plates.iter().enumerate().map(|(piece, plate)| {
                self.columns[piece].x + plate.sides[0] + plate.title_start() + plate.title_width()
            }))
            .fold(self.width, f64::max);
    }

    /// Where to take the grid apart so that every part of it fits a width: each time at the last place that still does.
    pub(super) fn shorten(
        &self,
        source: &Source<'_>,
        cuts: &Cuts,
        preference: Preference,
        most: f64,
    ) -> Vec<Cut> {
        let right = |column: usize| self.pushed[column] + self.columns[column].width;
        let Some(last) =
            (0..self.columns.len()).max_by(|&a, &b| right(a).total_cmp(&right(b)).then(b.cmp(&a)))
        else {
            return Vec::new();
        };
        let mut places = self.places_to_cut(source, cuts, &self.widest_path(last));
        let rank = |cut: &Place| match (cut.kind, preference) {
            (PlaceKind::Hub, _) | (PlaceKind::Terminal, Preference::Terminals) => 0,
            (PlaceKind::Rung, _) => 1,
            (PlaceKind::Terminal, Preference::Rungs) => 2,
            (PlaceKind::Source, _) => 3,
        };
        let room = most - CUT_REFERENCE;
        let mut found = Vec::new();
        // What is cut off begins anew at the left edge.
        let mut from = 0.0;
        while right(last) - from > most {
            places.retain(|place| place.x > from + CUT_REFERENCE);
            let fits = |place: &&Place| place.x - from <= room;
            let best = places
                .iter()
                .filter(fits)
                .min_by(|a, b| rank(a).cmp(&rank(b)).then(b.x.total_cmp(&a.x)))
                // Where no place does, the first.
                .or_else(|| places.iter().min_by(|a, b| a.x.total_cmp(&b.x)));
            let Some(best) = best else { break };
            from = best.x;
            found.extend(&best.cuts);
        }
        found
    }

    /// Chains whose row is longer than a limit, and the conductors behind which to break them.
    pub(super) fn long_chains(
        &self,
        circuit: &Circuit,
        grid: &Grid,
        limit: f64,
    ) -> BTreeMap<usize, Vec<usize>> {
        let mut found: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (seg, strip) in grid.segs.iter().zip(&self.strips) {
            let Some(chain) = seg.chain else { continue };
            let mut breaks = Vec::new();
            let mut length = 0.0;
            for (index, lead) in strip.leads.iter().enumerate() {
                length += lead_length(circuit, lead, Lettering::TwoLines);
                let face = strip.faces.get(index).map_or(0.0, Face::width);
                if length + face > limit
                    && index > 0
                    && let Some(Item::Wire(wire)) = lead.item
                {
                    let at = circuit.chains[chain]
                        .items
                        .iter()
                        .position(|item| matches!(item, Item::Wire(id) if *id == wire));
                    breaks.extend(at);
                    length = 0.0;
                }
                length += face;
            }
            if !breaks.is_empty() {
                breaks.sort_unstable();
                found.insert(chain, breaks);
            }
        }
        found
    }

    /// The chain of columns that makes the grid as wide as it is, from its last one.
    fn widest_path(&self, last: usize) -> Vec<bool> {
        let right = |column: usize| self.pushed[column] + self.columns[column].width;
        let mut before: Vec<Vec<(usize, f64)>> = vec![Vec::new(); self.columns.len()];
        for &(left, to, gap) in &self.edges {
            before[to].push((left, gap));
        }
        let mut path = vec![false; self.columns.len()];
        path[last] = true;
        let mut at = last;
        while let Some(&(left, _)) = before[at]
            .iter()
            .find(|&&(left, gap)| (on_grid(right(left) + gap) - self.pushed[at]).abs() < 1e-6)
        {
            if std::mem::replace(&mut path[left], true) {
                break;
            }
            at = left;
        }
        path
    }

    /// All places at which the widest path can be cut.
    fn places_to_cut(&self, source: &Source<'_>, cuts: &Cuts, path: &[bool]) -> Vec<Place> {
        let (circuit, grid) = (source.circuit, source.grid);
        let mut fed = vec![false; grid.pieces.len()];
        for seg in &grid.segs {
            let whole = seg
                .chain
                .is_some_and(|chain| seg.items.len() == circuit.chains[chain].items.len());
            if let (true, End::Piece(..), End::Piece(of, _)) = (whole, seg.left, seg.right) {
                fed[of] = true;
            }
        }
        let can_go = |piece: usize| grid.fed_here(piece) && fed[piece];
        let mut places: Vec<Place> = Vec::new();
        for piece in (0..grid.pieces.len()).filter(|&piece| path[piece] && can_go(piece)) {
            let hub = grid.pieces[piece].hub;
            let kind = if circuit.hubs[hub].kind == HubKind::Post {
                PlaceKind::Terminal
            } else {
                PlaceKind::Hub
            };
            places.push(Place {
                x: self.pushed[piece],
                kind,
                cuts: vec![Cut::Hub(hub)],
            });
        }
        for piece in (0..grid.pieces.len()).filter(|&piece| path[piece] && !grid.fed_here(piece)) {
            let hub = grid.pieces[piece].hub;
            let negative = circuit.hubs[hub].kind != HubKind::Tie
                && circuit.pole(source.system, hub, 0) == Pole::Negative;
            if grid.head != Some(hub) && !negative && !grid.loose {
                // The first of all takes its place with it.
                places.push(Place {
                    x: self.pushed[piece].max(CUT_REFERENCE + MODULE),
                    kind: PlaceKind::Source,
                    cuts: vec![Cut::Hub(hub)],
                });
            }
        }
        let bar = |end: End| match end {
            End::Piece(piece, port) => {
                let hub = grid.pieces[piece].hub;
                let bar = !matches!(circuit.hubs[hub].kind, HubKind::Box | HubKind::Tie);
                let negative = circuit.pole(source.system, hub, port) == Pole::Negative;
                (bar && negative).then_some(hub)
            }
            _ => None,
        };
        for (index, seg) in grid.segs.iter().enumerate() {
            let strip = &self.strips[index];
            let Some(chain) = seg.chain else { continue };
            let whole = seg.items.len() == circuit.chains[chain].items.len();
            if whole
                && let Some(from) = bar(seg.left)
                && bar(seg.right).is_some()
                && strip
                    .faces
                    .iter()
                    .all(|face| !face.cell.kind.is_load() && !face.cell.kind.is_source())
            {
                // The way of a negative back to its parent.
                let mut ends = [seg.left, seg.right].into_iter().filter_map(piece_of);
                if ends.all(|piece| path[piece]) {
                    places.push(Place {
                        x: piece_of(seg.left).map_or(0.0, |piece| self.pushed[piece]),
                        kind: PlaceKind::Rung,
                        cuts: vec![Cut::Return(from)],
                    });
                }
                continue;
            }
            let open = !matches!(seg.right, End::Piece(..) | End::Ref(_))
                || !matches!(seg.left, End::Piece(..));
            let known = cuts.folds.contains_key(&chain);
            let on_it = strip.faces.iter().any(|face| path[face.column])
                || strip.faces.is_empty() && strip.ends.into_iter().all(|end| path[end]);
            if open || known || !on_it {
                continue;
            }
            // What the rung feeds begins a ladder of its own, not a row below.
            let feeds = piece_of(seg.right)
                .filter(|&piece| {
                    let hub = &circuit.hubs[grid.pieces[piece].hub];
                    can_go(piece) && hub.kind != HubKind::Post
                })
                .map(|piece| Cut::Hub(grid.pieces[piece].hub));
            for (index, lead) in strip.leads.iter().enumerate() {
                let column = strip
                    .faces
                    .get(index)
                    .map_or(strip.ends[1], |face| face.column);
                let Some(Item::Wire(wire)) = lead.item else {
                    continue;
                };
                let last = index + 1 == strip.leads.len();
                if last && matches!(seg.right, End::Ref(_)) {
                    continue;
                }
                let item = circuit.chains[chain]
                    .items
                    .iter()
                    .position(|item| matches!(item, Item::Wire(id) if *id == wire));
                if let Some(item) = item {
                    places.push(Place {
                        x: self.pushed[column],
                        kind: PlaceKind::Rung,
                        cuts: [Cut::Rung(chain, item)].into_iter().chain(feeds).collect(),
                    });
                }
            }
        }
        places
    }

    /// Left and right edge of what stands in the column of the loads.
    pub(super) fn load_edges(&self) -> [f64; 2] {
        let column = self.columns[self.load_column];
        let mut right = column.x + column.width;
        for &piece in &self.consumers {
            right = right.max(self.columns[piece].x + self.columns[piece].width);
        }
        [column.x, right]
    }

    /// Left edge of the bar or box of a piece.
    pub(super) fn bar_left(&self, piece: usize) -> f64 {
        self.columns[piece].x + self.plates[piece].sides[0]
    }

    /// Right edge of the bar or box of a piece.
    pub(super) fn bar_right(&self, piece: usize) -> f64 {
        self.bar_left(piece) + self.plates[piece].body
    }
}

/// Keeps the bars that a row meets, and the free ends on it, one beside the other.
fn rows_apart(grid: &Grid, strips: &[Strip], plates: &[Plate], solver: &mut Solver) {
    let depth = grid.depths();
    let mut starts: Vec<Vec<usize>> = vec![Vec::new(); grid.rows.len()];
    for (piece, record) in grid.pieces.iter().enumerate() {
        if record.first != usize::MAX {
            starts[record.first].push(piece);
        }
    }
    let mut open: Vec<usize> = Vec::new();
    let mut known = std::collections::BTreeSet::new();
    for (row, segs) in grid.rows.iter().enumerate() {
        open.retain(|&piece| grid.pieces[piece].last >= row);
        open.extend(&starts[row]);
        open.sort_by_key(|&piece| (depth[piece], piece));
        // Titles stand over a bar's first row; where rows are cut, one is set above the other.
        let heads = |piece: usize| {
            let first = grid.pieces[piece].first;
            first == row || first == row + 1
        };
        for pair in open.windows(2) {
            let (left, right) = (pair[0], pair[1]);
            if known.insert((left, right, heads(left), heads(right))) {
                let one = if heads(left) {
                    plates[left].overhang()[1]
                } else {
                    0.0
                };
                let two = if heads(right) {
                    plates[right].overhang()[0]
                } else {
                    0.0
                };
                solver.apart(left, right, GAP.max(one + two + 2.0));
            }
        }
        // Bars that begin one row below have their title beside this row's bars.
        // Over a bar that ends here there is room for it, once the rows stand further apart.
        let passing = |bar: &usize| grid.pieces[*bar].last > row;
        for &piece in starts.get(row + 1).into_iter().flatten() {
            let next = open
                .iter()
                .copied()
                .filter(passing)
                .find(|&bar| (depth[bar], bar) > (depth[piece], piece));
            let last = open
                .iter()
                .copied()
                .filter(passing)
                .rfind(|&bar| (depth[bar], bar) < (depth[piece], piece));
            if let Some(right) = next {
                solver.apart(piece, right, GAP.max(plates[piece].overhang()[1] + 2.0));
            }
            if let Some(left) = last {
                solver.apart(left, piece, GAP.max(plates[piece].overhang()[0] + 2.0));
            }
        }
        let mut previous_free: Option<usize> = None;
        for &seg in segs {
            let record = &grid.segs[seg];
            let ends = strips[seg].ends;
            if let (None, End::Piece(bar, _)) = (piece_of(record.left), record.right) {
                let before = open
                    .iter()
                    .copied()
                    .rfind(|&other| (depth[other], other) < (depth[bar], bar));
                if let Some(before) = before {
                    solver.apart(before, ends[0], GAP);
                }
            }
            if let Some(free) = previous_free.take() {
                solver.apart(free, ends[0], GAP);
            }
            let bar = || open.iter().find(|&&bar| grid.rails[0] != Some(bar));
            if let (None, None, Some(&first)) =
                (piece_of(record.left), piece_of(record.right), bar())
            {
                // A strip without a bar stands left of the bars in passing.
                solver.apart(ends[1], first, GAP);
            }
            if piece_of(record.right).is_none() {
                previous_free = Some(ends[1]);
                if let End::Piece(bar, _) = record.left {
                    let next = open
                        .iter()
                        .copied()
                        .find(|&other| (depth[other], other) > (depth[bar], bar));
                    if let Some(next) = next {
                        solver.apart(ends[1], next, GAP);
                    }
                }
            }
        }
    }
}

fn piece_of(end: End) -> Option<usize> {
    match end {
        End::Piece(piece, _) => Some(piece),
        _ => None,
    }
}
