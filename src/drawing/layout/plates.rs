//! What several wires meet at: the title, the table of positions and the sides of a bar or a box.

use super::cuts::MAY_BE_CUT;
use super::references::terminal_word;
use super::{LEADING, on_grid};
use crate::drawing::circuit::{Circuit, Hub, HubKind};
use crate::drawing::font;
use crate::drawing::pages::Zoning;
use crate::drawing::plan::{End, Grid, Piece};
use crate::drawing::scene::Pole;
use crate::drawing::symbols::MODULE;
use crate::drawing::words::{self, SMALL, TEXT};
use crate::system::{ComponentKind, GearId, LinkKind, System, TerminalId};

/// Half the height of a box beyond its first and last row, in mm.
pub(in crate::drawing) const BOX_RIM: f64 = 3.75;

/// Text of a hub.
#[derive(Clone, Debug)]
pub(in crate::drawing) struct Plate {
    /// Lines above the bar.
    pub(in crate::drawing) title: Vec<String>,
    /// Lines inside a box.
    pub(in crate::drawing) table: Vec<String>,
    /// The switch that they tell of, and the line with which each of its positions begins.
    pub(in crate::drawing) dial: Option<(GearId, Vec<usize>)>,
    /// Width of the text left and right of the bar, or inside the box.
    pub(in crate::drawing) sides: [f64; 2],
    /// Width of the bar or box itself.
    pub(in crate::drawing) body: f64,
    /// A line above the bar is kept for the places where it goes on.
    pub(in crate::drawing) also: bool,
    /// The lines above it end at its right edge, because nothing stands right of it.
    pub(in crate::drawing) title_ends: bool,
    /// The bar is thinner than its column.
    thin: bool,
}

/// Width of the contacts beside the lines of a switch, in mm.
pub(in crate::drawing) const DIAL: f64 = 7.0;

/// The switch that a box stands for, and a line for each position that says what it closes.
pub(in crate::drawing) fn position_table(
    system: &System,
    hub: &Hub,
) -> Option<(GearId, Vec<String>)> {
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
pub(in crate::drawing) struct BlockFace {
    pub(in crate::drawing) number: f64,
    pub(in crate::drawing) rating: f64,
}

/// Width of the device of a way in its block, in mm.
pub(in crate::drawing) const WAY_DEVICE: f64 = 10.0;

/// Thickness of the feed bar of a block.
pub(in crate::drawing) const BLOCK_BAR: f64 = 1.5;

impl BlockFace {
    pub(in crate::drawing) fn new(system: &System, hub: &Hub) -> Self {
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

    pub(in crate::drawing) fn width(&self) -> f64 {
        on_grid(BLOCK_BAR + 1.0 + self.number + 1.0 + WAY_DEVICE + 1.0 + self.rating + 1.0)
    }
}

/// Name of a hub for the drawing.
pub(in crate::drawing) fn hub_name(system: &System, hub: &Hub) -> String {
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
    pub(super) fn new(
        system: &System,
        grid: &Grid,
        circuit: &Circuit,
        piece: usize,
        zoning: &Zoning,
    ) -> Self {
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
        let same = |other: &&Piece| other.hub == grid.pieces[piece].hub;
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
    pub(super) fn width(&self) -> f64 {
        self.sides[0] + self.body + self.sides[1]
    }

    /// Width of the lines above it.
    pub(in crate::drawing) fn title_width(&self) -> f64 {
        let also = if self.also {
            font::width("also 00/A0 +9", TEXT)
        } else {
            0.0
        };
        words::widest(&self.title, TEXT).max(also)
    }

    /// How far the lines above it reach beyond its column, left and right.
    pub(super) fn overhang(&self) -> [f64; 2] {
        let start = self.title_start();
        [
            -start - self.sides[0],
            start + self.title_width() - self.body - self.sides[1],
        ]
    }

    /// Where the lines above it begin, from the left edge of the bar.
    pub(in crate::drawing) fn title_start(&self) -> f64 {
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
    pub(in crate::drawing) fn title_height(&self) -> f64 {
        let lines = self.title.len() + usize::from(self.also);
        if lines == 0 {
            0.0
        } else {
            lines as f64 * TEXT * LEADING + 0.8
        }
    }
}
