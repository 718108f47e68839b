//! What stands in line between two bars: parts with their names, joints, open ends, ways out of a view.

use super::ports::port;
use super::zones::{Place, ZoneNames};
use super::{INLINE, Layers, Stage};
use crate::drawing::circuit::Item;
use crate::drawing::layout::{Face, LEADING, OUTSIDE};
use crate::drawing::pages::{self, Part};
use crate::drawing::plan::End;
use crate::drawing::scene::{Anchor, Group, Role};
use crate::drawing::shapes::{line, text};
use crate::drawing::standing;
use crate::drawing::symbols::{LINE, Pen, ring};
use crate::drawing::words::{self, SMALL, TEXT};
use crate::system::TerminalId;

impl Stage<'_> {
    pub(super) fn strip(
        &mut self,
        part: &Part,
        seg: usize,
        y: f64,
        row: usize,
        zones: &ZoneNames,
        layers: &mut Layers,
    ) {
        let plan = self.plan;
        let grid = &plan.grids[part.grid];
        let measured = part.measured(self.measured);
        let strip = &measured.strips[seg];
        let record = &grid.segs[seg];
        let mut ends: Vec<(Option<TerminalId>, Option<TerminalId>)> = Vec::new();
        let hub_terminal = |end: End| match end {
            End::Piece(piece, port) => {
                let hub = &self.circuit.hubs[grid.pieces[piece].hub];
                hub.ports.get(port).map(|port| port.terminal)
            }
            _ => None,
        };
        for index in 0..strip.leads.len() {
            let before = match index.checked_sub(1) {
                Some(before) => Some(strip.faces[before].cell.ends[1]),
                None => hub_terminal(record.left),
            };
            let after = match strip.faces.get(index) {
                Some(face) => Some(face.cell.ends[0]),
                None => hub_terminal(record.right),
            };
            ends.push((before, after));
        }
        for (index, face) in strip.faces.iter().enumerate() {
            let (left, right) = pages::face_ports(measured, face);
            let place = if face.cell.kind.is_load() {
                Place::Load(row)
            } else {
                Place::Span(part.x + left, part.x + right)
            };
            let zone = zones.holding(words::cell_zone(self.system, &face.cell), place);
            self.face(part, face, y, zone, (seg, index), layers);
        }
        for (index, lead) in strip.leads.iter().enumerate() {
            let (from, to) = pages::lead_span(grid, measured, seg, index);
            let (from, to) = (part.x + from, part.x + to);
            let at_ref = |end: End| matches!(end, End::Ref(_));
            match lead.item {
                Some(Item::Wire(id)) => {
                    let conductor = &self.system.conductors[id.index()];
                    let (before, after) = ends[index];
                    // A piece runs as its conductor does, so that the first piece has the first end.
                    let forward = before == Some(conductor.from)
                        || after == Some(conductor.to)
                        || before.is_none() && after.is_none();
                    let mut names = [0, 1].map(|side| {
                        let terminal = if side == 0 { before } else { after };
                        layers
                            .ports
                            .get(&(part.grid, seg, index, side))
                            .cloned()
                            .or_else(|| {
                                terminal.map(|terminal| self.system.terminal_name(terminal))
                            })
                    });
                    let (from, to) = if forward {
                        (from, to)
                    } else {
                        names.reverse();
                        (to, from)
                    };
                    self.wire(id, (from, to, y), names, layers);
                    let (from, to) = pages::label_span(grid, measured, seg, index);
                    let span = (part.x + from, part.x + to, y);
                    self.label(id, span, lead.label_left, measured.lettering, layers);
                }
                Some(_) => self.joint((from, to, y), ends[index], layers),
                None if index == 0 && at_ref(record.left)
                    || index + 1 == strip.leads.len() && at_ref(record.right) =>
                {
                    let end = if index == 0 {
                        record.left
                    } else {
                        record.right
                    };
                    let outer = match end {
                        End::Ref(reference) => plan.refs[reference].outer,
                        _ => None,
                    };
                    match outer {
                        Some(outer) => self.way_out((from, to, y), outer, ends[index], layers),
                        None => self.joint((from, to, y), ends[index], layers),
                    }
                }
                // With one line for both poles nothing leads on from a part to the negative.
                None if self.circuit.single_line && ends[index].1.is_none() => {}
                None if to - from > 1e-6 && record.chain.is_some() => {
                    self.joint((from, to, y), ends[index], layers);
                }
                None => {}
            }
        }
        for (side, end) in [record.left, record.right].into_iter().enumerate() {
            let column = measured.columns[strip.ends[side]];
            match end {
                End::Ref(reference) => {
                    let spot = (part.x + column.x, y, column.width);
                    self.reference(reference, side == 1, spot, measured, layers);
                }
                End::Open if record.chain.is_some() => {
                    let lead = if side == 0 {
                        strip.leads.first()
                    } else {
                        strip.leads.last()
                    };
                    let wired = lead.is_some_and(|lead| lead.item.is_some());
                    let x = part.x
                        + if side == 0 {
                            column.x + column.width
                        } else {
                            column.x
                        };
                    if wired {
                        let wire = match lead.and_then(|lead| lead.item) {
                            Some(Item::Wire(id)) => {
                                self.system.conductors[id.index()].number.as_str()
                            }
                            _ => "joint",
                        };
                        self.open_end((x, y), side == 1, wire, layers);
                    }
                }
                _ => {}
            }
        }
    }

    /// The line from a part to the reference that names what lands there and is not drawn.
    fn way_out(
        &self,
        (from, to, y): (f64, f64, f64),
        outer: usize,
        ends: (Option<TerminalId>, Option<TerminalId>),
        layers: &mut Layers,
    ) {
        let here = ends.0.or(ends.1);
        let here = here.map_or_else(String::new, |here| self.system.terminal_name(here));
        layers.wires.push(Group {
            id: format!("out-{here}"),
            role: Role::Note,
            title: format!(
                "{here} goes on, {OUTSIDE}: {}",
                self.circuit.outer[outer].words
            ),
            shapes: vec![line(vec![(from, y), (to, y)], LINE)],
        });
    }

    fn joint(
        &self,
        (from, to, y): (f64, f64, f64),
        (before, after): (Option<TerminalId>, Option<TerminalId>),
        layers: &mut Layers,
    ) {
        let mut shapes = vec![line(vec![(from, y), (to, y)], LINE)];
        let dead = self.standing.is_some_and(|standing| {
            let strong = |end: TerminalId| standing.is_strong(self.system, end);
            ![before, after].into_iter().flatten().any(strong)
        });
        if dead {
            standing::fade(&mut shapes);
        }
        let ends: Vec<String> = [before, after]
            .into_iter()
            .flatten()
            .map(|terminal| self.system.terminal_name(terminal))
            .collect();
        layers.wires.push(Group {
            id: format!("joint-{}", ends.join("-")),
            role: Role::Note,
            title: "bolted together, no conductor".to_owned(),
            shapes,
        });
    }

    fn open_end(&self, (x, y): (f64, f64), right: bool, wire: &str, layers: &mut Layers) {
        let _ = self;
        let centre = if right { (x + 0.6, y) } else { (x - 0.6, y) };
        layers.wires.push(Group {
            id: format!("open-{wire}"),
            role: Role::Note,
            title: "open end".to_owned(),
            shapes: vec![ring(centre)],
        });
    }

    pub(super) fn face(
        &mut self,
        part: &Part,
        face: &Face,
        y: f64,
        zone: Option<String>,
        (seg, index): (usize, usize),
        layers: &mut Layers,
    ) {
        let measured = part.measured(self.measured);
        let (left, right) = pages::face_ports(measured, face);
        let (left, right) = (part.x + left, part.x + right);
        let (width, up, down) = face.symbol.size();
        let mut shapes = Vec::new();
        self.used.symbols.insert(face.symbol);
        Pen {
            origin: (left, y),
            mirror: face.mirror.then_some(width),
            shapes: &mut shapes,
        }
        .symbol(face.symbol);
        if self
            .standing
            .is_some_and(|standing| standing.closes(face.cell.ends[0], face.cell.ends[1]))
        {
            standing::close_blades(&mut shapes);
        }
        let leading = |size: f64| size * LEADING;
        if face.tail {
            if !self.circuit.single_line {
                shapes.push(line(vec![(left + width, y), (right, y)], LINE));
            }
            let x = left + width + 0.5;
            let count = face.above.len() as f64;
            for (index, words) in face.above.iter().enumerate() {
                let base = y - 1.1 - (count - 1.0 - index as f64) * leading(TEXT);
                shapes.push(text((x, base), words, TEXT, Anchor::Start));
            }
            for (index, words) in face.below.iter().enumerate() {
                let base = y + 0.7 + 0.8 * SMALL + index as f64 * leading(SMALL);
                shapes.push(text((x, base), words, SMALL, Anchor::Start));
            }
        } else {
            let x = f64::midpoint(left, right);
            let count = face.above.len() as f64;
            for (index, words) in face.above.iter().enumerate() {
                let base = y - up - 0.8 - (count - 1.0 - index as f64) * leading(TEXT);
                shapes.push(text((x, base), words, TEXT, Anchor::Middle));
            }
            let shown = face.below.iter().filter(|line| !line.is_empty());
            for (index, words) in shown.enumerate() {
                let base = y + down + 0.5 + 0.8 * SMALL + index as f64 * leading(SMALL);
                shapes.push(text((x, base), words, SMALL, Anchor::Middle));
            }
        }
        let sides = if face.tail && self.circuit.single_line {
            1
        } else {
            2
        };
        for (side, x) in [left, right].into_iter().take(sides).enumerate() {
            let terminal = face.cell.ends[side];
            // The post beside the part carries the terminal where several conductors land.
            if !self.has_post(terminal) {
                let name = self.port_name(layers, terminal);
                layers
                    .ports
                    .insert((part.grid, seg, index + side, 1 - side), name.clone());
                shapes.push(port((x, y), name));
            }
        }
        if let Some(standing) = self.standing
            && !standing.is_live(self.system, face.cell.ends)
        {
            standing::fade(&mut shapes);
        }
        let component = face.cell.component;
        let mut title = self.part_title(component, &self.system.components[component.index()].name);
        for terminal in face.cell.ends {
            title.push_str(", ");
            title.push_str(&self.system.terminal_name(terminal));
        }
        let (name, piece, id) = self.next_piece(component);
        layers.parts.push(Group {
            id,
            role: Role::Part {
                name,
                piece,
                zone,
                kind: INLINE,
            },
            title,
            shapes,
        });
    }

    fn has_post(&self, terminal: TerminalId) -> bool {
        self.circuit
            .posts
            .get(terminal.index())
            .copied()
            .unwrap_or(false)
    }
}
