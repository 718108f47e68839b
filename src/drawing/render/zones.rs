//! Rectangles around what lies in one zone, and their borders, which open at lettering.

use super::{Layers, Stage};
use crate::drawing::font;
use crate::drawing::pages::{self, Part, ZONE_NAME, ZONE_PAD, Zoning};
use crate::drawing::scene::{Anchor, Area, At, Form, Group, Mark, Rgb, Role, Shape, Stroke};
use crate::drawing::shapes::text;
use crate::drawing::words::TEXT;
use crate::system::ZoneId;
use std::collections::BTreeMap;

/// Filling of a zone: light enough to print as white.
pub(in crate::drawing) const ZONE_FILL: Rgb = Rgb(0xF1, 0xF5, 0xF9);

/// How far the border of a zone stands from the loads, between them and the labels beside them, in mm.
const BORDER: f64 = 0.35;

/// Room between the border of a zone and lettering on it, in mm.
const OPENING: f64 = 0.4;

/// Colour of the border of a zone.
const ZONE_LINE: Rgb = Rgb(0x60, 0x70, 0x80);

/// The border of a zone.
pub(in crate::drawing) fn outline_of_zone() -> Stroke {
    Stroke {
        width: 0.25,
        colour: ZONE_LINE,
        dash: Some((2.0, 1.0)),
    }
}

/// Opens the borders of zones where lettering stands on them.
pub(in crate::drawing) fn open_borders(groups: &mut [Group]) {
    let texts: Vec<Area> = groups
        .iter()
        .filter(|group| !matches!(group.role, Role::Zone { .. } | Role::Frame))
        .flat_map(|group| &group.shapes)
        .filter(|shape| matches!(shape.form, Form::Text { .. }))
        .filter_map(|shape| shape.form.area())
        .collect();
    for group in groups {
        if !matches!(group.role, Role::Zone { .. }) {
            continue;
        }
        let mut shapes = Vec::with_capacity(group.shapes.len());
        for mut shape in group.shapes.drain(..) {
            let points = match &shape.form {
                Form::Rect {
                    at: (left, top),
                    width,
                    height,
                    ..
                } => {
                    let (right, bottom) = (left + width, top + height);
                    let corners = [(*left, *top), (right, *top), (right, bottom)];
                    [&corners[..], &[(*left, bottom), (*left, *top)]].concat()
                }
                Form::Polyline(points) => points.clone(),
                _ => Vec::new(),
            };
            let opened: Vec<Vec<At>> = points
                .windows(2)
                .map(|side| opened((side[0], side[1]), &texts))
                .collect();
            let Some(stroke) = shape
                .stroke
                .filter(|_| opened.iter().any(|side| side.len() != 2))
            else {
                shapes.push(shape);
                continue;
            };
            let pieces = opened.iter().flat_map(|side| side.chunks_exact(2));
            let pieces: Vec<Shape> = pieces
                .map(|piece| Shape {
                    form: Form::Polyline(piece.to_vec()),
                    stroke: Some(stroke),
                    fill: None,
                    mark: Mark::Outside,
                })
                .collect();
            if matches!(shape.form, Form::Rect { .. }) {
                shape.stroke = None;
                shapes.push(shape);
            }
            shapes.extend(pieces);
        }
        group.shapes = shapes;
    }
}

/// Ends of the pieces, two by two, that lettering leaves of an upright or level line.
fn opened((from, to): (At, At), texts: &[Area]) -> Vec<At> {
    let upright = (from.0 - to.0).abs() < 1e-9;
    let (start, end) = if upright {
        (from.1.min(to.1), from.1.max(to.1))
    } else {
        (from.0.min(to.0), from.0.max(to.0))
    };
    let mut gaps: Vec<(f64, f64)> = texts
        .iter()
        .filter_map(|area| {
            let (aside, along) = if upright {
                ((area.left, area.right), (area.top, area.bottom))
            } else {
                ((area.top, area.bottom), (area.left, area.right))
            };
            let line = if upright { from.0 } else { from.1 };
            let lies = aside.0 < line && line < aside.1;
            let gap = (along.0 - OPENING, along.1 + OPENING);
            (lies && gap.0 < end && gap.1 > start).then_some(gap)
        })
        .collect();
    gaps.sort_by(|one, other| one.0.total_cmp(&other.0));
    let point = |at: f64| if upright { (from.0, at) } else { (at, from.1) };
    let mut pieces = Vec::new();
    let mut at = start;
    for gap in gaps {
        if gap.0 > at {
            pieces.extend([point(at), point(gap.0)]);
        }
        at = at.max(gap.1);
    }
    if at < end {
        pieces.extend([point(at), point(end)]);
    }
    pieces
}

/// Where something stands against the loads.
#[derive(Clone, Copy)]
pub(super) enum Place {
    /// In the column of the loads, on a row.
    Load(usize),
    /// Between two places from left to right.
    Span(f64, f64),
}

/// Names of the zones' rectangles in one part of the drawing.
#[derive(Default)]
pub(super) struct ZoneNames {
    whole: Option<(ZoneId, String)>,
    /// Rectangles left and right of the loads.
    sides: [Option<(ZoneId, String)>; 2],
    /// Left and right edge of the column of the loads.
    edges: [f64; 2],
    rows: BTreeMap<usize, (ZoneId, String)>,
}

impl ZoneNames {
    /// The rectangle that holds something of a zone.
    pub(super) fn holding(&self, zone: Option<ZoneId>, place: Place) -> Option<String> {
        let found = match (&self.whole, place) {
            (Some(whole), _) => Some(whole),
            (None, Place::Load(row)) => self.rows.get(&row),
            (None, Place::Span(_, right)) if right < self.edges[0] - 1.0 => self.sides[0].as_ref(),
            (None, Place::Span(left, _)) if left > self.edges[1] + 0.5 => self.sides[1].as_ref(),
            (None, Place::Span(..)) => None,
        };
        found
            .filter(|(held, _)| Some(*held) == zone)
            .map(|(_, name)| name.clone())
    }
}

impl Stage<'_> {
    /// Rectangles of the zones, lowest of all.
    pub(super) fn zones(&self, part: &Part, layers: &mut Layers) -> ZoneNames {
        let grid = &self.plan.grids[part.grid];
        let measured = part.measured(self.measured);
        let mut names = ZoneNames::default();
        match &self.zonings[part.grid] {
            Zoning::Whole(zone) => {
                let at = (part.x - ZONE_PAD, part.top - ZONE_PAD);
                let below = match self.joined_rails(part) {
                    Some(_) => pages::RAIL_DROP - 0.5,
                    None => ZONE_PAD,
                };
                let size = (
                    measured.width + 2.0 * ZONE_PAD,
                    part.bottom - part.top + ZONE_PAD + below,
                );
                names.whole = Some((*zone, self.zone_box(layers, *zone, at, size, [false; 2])));
            }
            Zoning::Runs(runs, sides) => {
                let [left_edge, right_edge] = measured.load_edges();
                let (top, height) = (part.top - ZONE_PAD, part.bottom - part.top + 2.0 * ZONE_PAD);
                names.edges = [part.x + left_edge, part.x + right_edge];
                let held = pages::sides_held(grid, measured, &part.rows);
                let side = |side: usize| sides[side].filter(|_| measured.aligned && held[side]);
                if let Some(zone) = side(0) {
                    let at = (part.x - ZONE_PAD, top);
                    let size = (left_edge - BORDER + ZONE_PAD, height);
                    names.sides[0] =
                        Some((zone, self.zone_box(layers, zone, at, size, [false; 2])));
                }
                if let Some(zone) = side(1) {
                    let at = (part.x + right_edge + BORDER, top);
                    let size = (measured.width - right_edge - BORDER + ZONE_PAD, height);
                    names.sides[1] =
                        Some((zone, self.zone_box(layers, zone, at, size, [false; 2])));
                }
                for &(zone, first, last) in runs {
                    let from = first.max(part.rows.start);
                    let to = (last + 1).min(part.rows.end);
                    if from >= to {
                        continue;
                    }
                    let (mut left, mut right) = (f64::MAX, f64::MIN);
                    let (mut top, mut bottom) = (f64::MAX, f64::MIN);
                    for row in from..to {
                        let y = part.ys[row - part.rows.start];
                        for &seg in &grid.rows[row] {
                            let load = measured.strips[seg]
                                .faces
                                .iter()
                                .rfind(|face| face.cell.kind.is_load());
                            let Some(face) = load else { continue };
                            let column = measured.columns[face.column];
                            let (up, down) = face.heights();
                            let name = if row == from { ZONE_NAME } else { 0.0 };
                            left = left.min(part.x + column.x);
                            right = right.max(part.x + column.x + column.width);
                            top = top.min(y - up - name);
                            bottom = bottom.max(y + down);
                        }
                    }
                    if left > right {
                        continue;
                    }
                    let room = font::width(&self.system.zones[zone.index()].name, TEXT) + 1.0;
                    let width = (right - left).max(room);
                    // Next to another rectangle the line of that one is enough.
                    let beside = [
                        names.sides[0].is_some() && (left - names.edges[0]).abs() < 1.0,
                        names.sides[1].is_some() && (left + width - names.edges[1]).abs() < 1.0,
                    ];
                    let name = self.zone_box(
                        layers,
                        zone,
                        (left - BORDER + 0.05, top),
                        (width + 2.0 * BORDER - 0.1, bottom - top + 0.5 * ZONE_PAD),
                        beside,
                    );
                    for row in from..to {
                        names.rows.insert(row, (zone, name.clone()));
                    }
                }
            }
        }
        names
    }

    fn zone_box(
        &self,
        layers: &mut Layers,
        zone: ZoneId,
        at: (f64, f64),
        (width, height): (f64, f64),
        beside: [bool; 2],
    ) -> String {
        let record = &self.system.zones[zone.index()];
        let count = layers.zone_count.entry(zone).or_default();
        *count += 1;
        let name = if *count == 1 {
            record.name.clone()
        } else {
            format!("{}#{count}", record.name)
        };
        let mut title = vec![format!("zone {}", record.name)];
        if record.engine_space {
            title.push("engine space".to_owned());
        }
        if record.gasoline_vapour {
            title.push("gasoline vapour".to_owned());
        }
        let line = outline_of_zone();
        let plain = |form: Form, stroke: Option<Stroke>, fill: Option<Rgb>| Shape {
            form,
            stroke,
            fill,
            mark: Mark::Plain,
        };
        let area = Form::Rect {
            at,
            width,
            height,
            radius: 0.0,
        };
        let (left, top, right, bottom) = (at.0, at.1, at.0 + width, at.1 + height);
        let corners = [(left, top), (right, top), (right, bottom), (left, bottom)];
        let sides: Vec<Vec<(f64, f64)>> = match beside {
            [false, false] => Vec::new(),
            [true, false] => vec![corners.to_vec()],
            [false, true] => vec![vec![corners[1], corners[0], corners[3], corners[2]]],
            [true, true] => vec![corners[..2].to_vec(), corners[2..].to_vec()],
        };
        let mut shapes = vec![plain(
            area,
            Some(line).filter(|_| sides.is_empty()),
            Some(ZONE_FILL),
        )];
        for side in sides {
            shapes.push(Shape {
                mark: Mark::Outside,
                ..plain(Form::Polyline(side), Some(line), None)
            });
        }
        shapes.push(text(
            (at.0 + 1.0, at.1 + 3.2),
            &record.name,
            TEXT,
            Anchor::Start,
        ));
        layers.zones.push(Group {
            id: format!("zone-{name}"),
            role: Role::Zone { name: name.clone() },
            title: title.join(", "),
            shapes,
        });
        name
    }
}
