//! What several wires meet at: bars with their studs, rails, boxes with their rows, dials of selector switches.

use super::ports::{dot, port};
use super::zones::{Place, ZoneNames};
use super::{Layers, Stage};
use crate::drawing::circuit::{Hub, HubKind};
use crate::drawing::font;
use crate::drawing::layout::{
    BLOCK_BAR, BlockFace, DIAL, LEADING, WAY_DEVICE, hub_name, terminal_word,
};
use crate::drawing::pages::{self, Part};
use crate::drawing::plan::{End, Grid};
use crate::drawing::scene::{Anchor, Group, Mark, Role, Shape};
use crate::drawing::shapes::{filled, line, outline, text};
use crate::drawing::standing;
use crate::drawing::symbols::{self, LINE, Pen, ring};
use crate::drawing::words::{self, SMALL, TEXT, signed};
use crate::system::{ComponentKind, GearId, System};

impl Stage<'_> {
    pub(super) fn bars(&mut self, part: &Part, layers: &mut Layers, zones: &ZoneNames) {
        let grid = &self.plan.grids[part.grid];
        let measured = part.measured(self.measured);
        for (piece, record) in grid.pieces.iter().enumerate() {
            if record.first == usize::MAX
                || record.last < part.rows.start
                || record.first >= part.rows.end
            {
                continue;
            }
            let from = record.first.max(part.rows.start);
            let to = record.last.min(part.rows.end - 1);
            let lands = (from..=to).any(|row| {
                grid.rows[row].iter().any(|&seg| {
                    let seg = &grid.segs[seg];
                    [seg.left, seg.right]
                        .iter()
                        .any(|end| matches!(end, End::Piece(of, _) if *of == piece))
                })
            });
            if !lands {
                continue;
            }
            let (y0, y1) = (
                part.ys[from - part.rows.start],
                part.ys[to - part.rows.start],
            );
            let hub = &self.circuit.hubs[record.hub];
            let mut shapes = Vec::new();
            let (left, right) = (
                part.x + measured.bar_left(piece),
                part.x + measured.bar_right(piece),
            );
            let rim = pages::rim(hub.kind);
            // A bar that goes on elsewhere ends just below its last row here.
            let goes_on = record.last >= part.rows.end;
            let foot = if goes_on {
                pages::cut_rim(hub.kind)
            } else {
                rim
            };
            let mut bottom = y1 + foot;
            if record.last < part.rows.end {
                bottom = bottom.max(y0 - rim + pages::table_height(measured, piece));
            }
            match hub.kind {
                HubKind::Bus | HubKind::Ground => {
                    let middle = f64::midpoint(left, right);
                    shapes.push(filled(
                        (middle - 1.0, y0 - rim),
                        (2.0, y1 - y0 + rim + foot),
                    ));
                    if hub.kind == HubKind::Ground && !goes_on {
                        shapes.push(line(
                            vec![(middle, y1 + rim), (middle, y1 + rim + 1.0)],
                            LINE,
                        ));
                        for (index, half) in [2.4, 1.5, 0.6].into_iter().enumerate() {
                            let y = y1 + rim + 1.0 + 0.9 * index as f64;
                            shapes.push(line(vec![(middle - half, y), (middle + half, y)], LINE));
                        }
                    }
                }
                HubKind::Post | HubKind::Splice => {
                    let middle = f64::midpoint(left, right);
                    shapes.push(filled((middle - 0.5, y0 - 0.8), (1.0, y1 - y0 + 1.6)));
                    if hub.kind == HubKind::Splice {
                        shapes.push(dot((middle, f64::midpoint(y0, y1))));
                    }
                }
                HubKind::Block => {
                    shapes.push(outline(
                        (left, y0 - rim),
                        (right - left, y1 - y0 + rim + foot),
                    ));
                    shapes.push(filled(
                        (left + 0.4, y0 - rim + 0.6),
                        (BLOCK_BAR - 0.4, y1 - y0 + rim + foot - 1.2),
                    ));
                }
                HubKind::Box | HubKind::Tie => {
                    shapes.push(outline((left, y0 - rim), (right - left, bottom - y0 + rim)));
                    let lines = measured.plates[piece].table.clone();
                    let sides = box_sides(self.system, grid, hub, piece);
                    let (mut x, first) = (left + sides + 3.0, y0 - rim + 2.4);
                    if let Some((gear, firsts)) = &measured.plates[piece].dial {
                        self.dial((x, first), *gear, firsts, &mut shapes);
                        x += DIAL;
                    }
                    for (line, words) in lines.iter().enumerate() {
                        let y = first + line as f64 * SMALL * LEADING;
                        shapes.push(text((x, y), words, SMALL, Anchor::Start));
                    }
                    if lines.is_empty() {
                        self.box_mark(
                            hub,
                            (left + sides + 7.5, f64::midpoint(y0 - rim, bottom)),
                            &mut shapes,
                        );
                    }
                }
            }
            let mut lines = measured.plates[piece].title.clone();
            if let Some(places) = self.hub_places.get(&record.hub)
                && measured.plates[piece].also
            {
                let here = self.place(part.sheet, (left, y0));
                let others: Vec<&str> = places
                    .iter()
                    .filter(|place| **place != here)
                    .map(String::as_str)
                    .collect();
                match others.as_slice() {
                    [] => {}
                    [other] => lines.push(format!("also {other}")),
                    [other, more @ ..] => lines.push(format!("also {other} +{}", more.len())),
                }
            }
            let lift = part.lifts.get(&piece).copied().unwrap_or(rim);
            let mut y = y0 - lift - 0.8 - (lines.len().saturating_sub(1)) as f64 * TEXT * LEADING;
            for words in &lines {
                let (at, anchor) = if measured.plates[piece].title_ends {
                    (right, Anchor::End)
                } else {
                    (left + measured.plates[piece].title_start(), Anchor::Start)
                };
                shapes.push(text((at, y), words, TEXT, anchor));
                y += TEXT * LEADING;
            }
            if let (HubKind::Post, Some(port)) = (hub.kind, hub.ports.first()) {
                let word = signed(terminal_word(self.system, port.terminal));
                let x = f64::midpoint(left, right);
                if let Some(drop) = part.drops.get(&piece) {
                    let at = (x, y1 + drop + 0.4 + 0.8 * SMALL);
                    shapes.push(text(at, &word, SMALL, Anchor::Middle));
                }
                // A terminal whose rows were cut tells where the others are.
                if record.first < part.rows.start {
                    let here = self.place(part.sheet, (left, y0));
                    let places = self
                        .hub_places
                        .get(&record.hub)
                        .map_or(&[][..], Vec::as_slice);
                    let other = places
                        .iter()
                        .find(|place| **place != here)
                        .or(places.first());
                    let other = other.map_or("", String::as_str);
                    let at = (x, y0 - lift - 0.4 - 0.2 * SMALL);
                    shapes.push(text(at, format!("{word} {other}"), SMALL, Anchor::Middle));
                }
            }
            let name = hub_name(self.system, hub);
            let component = self.system.components[hub.component.index()].kind;
            self.used
                .symbols
                .extend(symbols::of_hub(hub.kind, component));
            let title = self.part_title(hub.component, &name);
            // The ports follow with the wires that land on them.
            self.bar_ports(part, piece, (from, to), layers, &mut shapes);
            let (mut name, piece_number, mut id) = self.next_piece(hub.component);
            if hub.block_negative {
                // Its terminals are named behind this one.
                name.push_str(".negative");
                id.push_str("-negative");
            }
            if self.is_dead(hub) {
                standing::fade(&mut shapes);
            }
            layers.parts.push(Group {
                id,
                role: Role::Part {
                    name,
                    piece: piece_number,
                    zone: zones.holding(
                        self.system.components[hub.component.index()].zone,
                        Place::Span(left, right),
                    ),
                    kind: hub_word(hub.kind),
                },
                title,
                shapes,
            });
        }
        self.rails(part, layers);
    }

    /// One moving contact and a fixed one beside each position of a switch.
    fn dial(&self, (x, y): (f64, f64), gear: GearId, firsts: &[usize], shapes: &mut Vec<Shape>) {
        // Half the height of capital letters above their baseline.
        let at = |line: usize| y + line as f64 * SMALL * LEADING - 0.7;
        let (Some(&first), Some(&last)) = (firsts.first(), firsts.last()) else {
            return;
        };
        let hinge = (x + 0.6, f64::midpoint(at(first), at(last)));
        let fixed = x + DIAL - 1.6;
        let stands = self
            .standing
            .and_then(|standing| standing.position(gear))
            .unwrap_or(self.system.gears[gear.index()].normal);
        if let Some(&line_of) = firsts.get(usize::from(stands)) {
            shapes.push(line(vec![hinge, (fixed, at(line_of))], LINE));
        }
        for centre in firsts
            .iter()
            .map(|&line_of| (fixed, at(line_of)))
            .chain([hinge])
        {
            shapes.push(ring(centre));
        }
    }

    /// Whether a state is shown in which nothing reaches a hub.
    fn is_dead(&self, hub: &Hub) -> bool {
        self.standing.is_some_and(|standing| {
            let strong = |terminal| standing.is_strong(self.system, terminal);
            !hub.ports.iter().any(|port| strong(port.terminal))
        })
    }

    /// Both bars of the main negative, where they are joined below the rows of a part.
    pub(super) fn joined_rails(&self, part: &Part) -> Option<[usize; 2]> {
        let grid = &self.plan.grids[part.grid];
        let [Some(left), Some(right)] = grid.rails else {
            return None;
        };
        let within = |piece: usize| {
            let piece = grid.pieces[piece];
            piece.first < part.rows.end
                && piece.last >= part.rows.start
                && piece.last < part.rows.end
        };
        let right_piece = grid.pieces[right];
        let beside = right_piece.first < part.rows.end && right_piece.last >= part.rows.start;
        (left != right && within(left) && beside).then_some([left, right])
    }

    /// Left and right bar of the main negative, joined below everything.
    fn rails(&mut self, part: &Part, layers: &mut Layers) {
        let grid = &self.plan.grids[part.grid];
        let measured = part.measured(self.measured);
        let Some([left, right]) = self.joined_rails(part) else {
            return;
        };
        let hub = &self.circuit.hubs[grid.pieces[left].hub];
        let middle = |piece: usize| {
            part.x + f64::midpoint(measured.bar_left(piece), measured.bar_right(piece))
        };
        let (x0, x1) = (middle(left), middle(right));
        let y = part.bottom + pages::RAIL_DROP / 2.0;
        let below = |piece: usize| {
            let last = grid.pieces[piece].last.min(part.rows.end - 1);
            part.ys[last - part.rows.start] + pages::rim(hub.kind)
        };
        let thick = if hub.kind == HubKind::Post { 1.0 } else { 2.0 };
        let mut shapes = vec![Shape {
            mark: Mark::Outside,
            ..line(
                vec![(x0, below(left)), (x0, y), (x1, y), (x1, below(right))],
                thick,
            )
        }];
        if self.is_dead(hub) {
            standing::fade(&mut shapes);
        }
        layers.wires.push(Group {
            id: format!("rail-{}", hub_name(self.system, hub)),
            role: Role::Note,
            title: format!("{}, drawn on both sides", hub_name(self.system, hub)),
            shapes,
        });
    }

    fn box_mark(&self, hub: &Hub, (x, y): (f64, f64), shapes: &mut Vec<Shape>) {
        let component = &self.system.components[hub.component.index()];
        let symbol = match component.kind {
            ComponentKind::Instrument => Some(symbols::of_instrument(&component.subkind)),
            ComponentKind::Load => {
                let kind = self
                    .system
                    .loads
                    .iter()
                    .find(|load| load.component == hub.component);
                kind.map(|load| symbols::of_load(load.kind))
            }
            kind => symbols::in_box(kind),
        };
        let Some(symbol) = symbol else { return };
        let (width, _, _) = symbol.size();
        Pen {
            origin: (x - width / 2.0, y),
            mirror: None,
            shapes,
        }
        .symbol(symbol);
    }

    /// Terminals of a bar where segments land on it in these rows.
    fn bar_ports(
        &mut self,
        part: &Part,
        piece: usize,
        (from, to): (usize, usize),
        layers: &mut Layers,
        shapes: &mut Vec<Shape>,
    ) {
        let grid = &self.plan.grids[part.grid];
        let measured = part.measured(self.measured);
        let record = grid.pieces[piece];
        let hub = &self.circuit.hubs[record.hub];
        let (left, right) = (
            part.x + measured.bar_left(piece),
            part.x + measured.bar_right(piece),
        );
        // The way of a block on the row above, and its height.
        let mut above = None;
        for row in from..=to {
            let y = part.ys[row - part.rows.start];
            for &seg in &grid.rows[row] {
                for (on_right, end) in [(true, grid.segs[seg].left), (false, grid.segs[seg].right)]
                {
                    let End::Piece(of, port_index) = end else {
                        continue;
                    };
                    if of != piece {
                        continue;
                    }
                    let Some(port_record) = hub.ports.get(port_index) else {
                        continue;
                    };
                    let x = if on_right { right } else { left };
                    let word = if self.circuit.single_line {
                        String::new()
                    } else {
                        signed(terminal_word(self.system, port_record.terminal))
                    };
                    let word = word.as_str();
                    match hub.kind {
                        HubKind::Bus | HubKind::Ground | HubKind::Post | HubKind::Splice => {
                            let middle = f64::midpoint(left, right);
                            shapes.push(line(vec![(middle, y), (x, y)], LINE));
                            shapes.push(dot((middle, y)));
                            if hub.kind == HubKind::Bus && !word.is_empty() {
                                let (at, anchor) = if on_right {
                                    ((right + 0.5, y - 1.0), Anchor::Start)
                                } else {
                                    ((left - 0.5, y - 1.0), Anchor::End)
                                };
                                shapes.push(text(at, word, SMALL, anchor));
                            }
                        }
                        HubKind::Block => {
                            let face = BlockFace::new(self.system, hub);
                            let fuse = left + BLOCK_BAR + 2.0 + face.number;
                            let way = port_record.device.filter(|_| on_right);
                            let same = above.filter(|&(device, _)| Some(device) == way);
                            above = way.map(|device| (device, y));
                            if let Some((_, height)) = same {
                                // Several wires of one way part behind its device, which is there once.
                                let fork = fuse + WAY_DEVICE;
                                let path = vec![(fork, height), (fork, y), (right, y)];
                                shapes.push(line(path, LINE));
                                shapes.push(dot((fork, height)));
                            } else if let Some(device) = way {
                                shapes.push(line(vec![(left + BLOCK_BAR, y), (fuse, y)], LINE));
                                let record = &self.system.devices[device.index()];
                                if record.spare {
                                    shapes.push(dot((fuse, y)));
                                } else {
                                    let symbol = symbols::of_device(record.kind);
                                    self.used.symbols.insert(symbol);
                                    let mut drawn = Vec::new();
                                    Pen {
                                        origin: (fuse, y),
                                        mirror: None,
                                        shapes: &mut drawn,
                                    }
                                    .symbol(symbol);
                                    if self.standing.is_some() {
                                        standing::close_blades(&mut drawn);
                                    }
                                    shapes.append(&mut drawn);
                                    shapes
                                        .push(line(vec![(fuse + WAY_DEVICE, y), (right, y)], LINE));
                                }
                                shapes.push(text(
                                    (left + BLOCK_BAR + 1.0, y - 1.0),
                                    word,
                                    SMALL,
                                    Anchor::Start,
                                ));
                                let rating = words::rating(self.system, device);
                                shapes.push(text(
                                    (right - 1.0, y - 1.0),
                                    &rating,
                                    SMALL,
                                    Anchor::End,
                                ));
                            } else if !on_right {
                                shapes.push(text((left - 0.5, y - 1.0), word, SMALL, Anchor::End));
                            } else {
                                shapes.push(line(vec![(left + BLOCK_BAR, y), (right, y)], LINE));
                                shapes.push(text((right - 1.0, y - 1.0), word, SMALL, Anchor::End));
                            }
                        }
                        HubKind::Box | HubKind::Tie => {
                            let (at, anchor) = if on_right {
                                ((right - 1.0, y + 0.7), Anchor::End)
                            } else {
                                ((left + 1.0, y + 0.7), Anchor::Start)
                            };
                            shapes.push(text(at, word, SMALL, anchor));
                        }
                    }
                    let name = self.port_name(layers, port_record.terminal);
                    let lead = if on_right {
                        0
                    } else {
                        measured.strips[seg].leads.len() - 1
                    };
                    let key = (part.grid, seg, lead, usize::from(!on_right));
                    layers.ports.insert(key, name.clone());
                    shapes.push(port((x, y), name));
                }
            }
        }
    }
}

/// Width of the names on the left inside a box.
fn box_sides(system: &System, grid: &Grid, hub: &Hub, piece: usize) -> f64 {
    grid.segs
        .iter()
        .filter_map(|seg| match seg.right {
            End::Piece(of, port) if of == piece => Some(port),
            _ => None,
        })
        .filter_map(|port| hub.ports.get(port))
        .map(|port| font::width(&signed(terminal_word(system, port.terminal)), SMALL))
        .fold(0.0, f64::max)
}

fn hub_word(kind: HubKind) -> &'static str {
    match kind {
        HubKind::Bus => "bus",
        HubKind::Block => "block",
        HubKind::Post => "post",
        HubKind::Splice => "splice",
        HubKind::Ground => "ground",
        HubKind::Box | HubKind::Tie => "box",
    }
}
