//! Wires in the colours of their insulation, their labels, and references to where they go on.

use super::{Layers, Stage};
use crate::drawing::font;
use crate::drawing::layout::{LEADING, Lettering, Measured, OUTSIDE, WIDEST_PLACE, label_pad};
use crate::drawing::pages;
use crate::drawing::scene::{Anchor, Form, Group, Mark, OFFSHEET, Rgb, Role, Shape, Stroke};
use crate::drawing::shapes::text;
use crate::drawing::standing;
use crate::drawing::symbols::{self, HALO, LINE, Symbol, WIRE};
use crate::drawing::words::{self, TEXT};
use crate::system::ConductorId;

/// A colour of the screen from its six hexadecimal digits.
pub(in crate::drawing) fn hex(text: &str) -> Rgb {
    let value = u32::from_str_radix(text.trim_start_matches('#'), 16).unwrap_or(0xFF_FF_FF);
    let byte = |shift: u32| u8::try_from(value >> shift & 0xFF).unwrap_or(0xFF);
    Rgb(byte(16), byte(8), byte(0))
}

impl Stage<'_> {
    /// Screen colours of a conductor; white under the outline where none is given.
    pub(super) fn colour(&mut self, id: ConductorId) -> (Rgb, Option<Rgb>) {
        let conductor = &self.system.conductors[id.index()];
        let Some(colour) = &conductor.colour else {
            return (Rgb(0xFF, 0xFF, 0xFF), None);
        };
        let key = (colour.value.base.clone(), colour.value.stripe.clone());
        if let Some(&known) = self.colours.get(&key) {
            return known;
        }
        let parsed = words::parse_colour(&colour.value);
        let screen = |plain: crate::standards::PlainColour| hex(plain.srgb);
        let found = parsed.map_or((Rgb(0xFF, 0xFF, 0xFF), None), |colour| {
            (screen(colour.base), colour.stripe.map(screen))
        });
        if let Some(parsed) = parsed {
            self.used.colour(parsed);
        }
        self.colours.insert(key, found);
        found
    }

    pub(super) fn wire(
        &mut self,
        id: ConductorId,
        (from, to, y): (f64, f64, f64),
        [before, after]: [Option<String>; 2],
        layers: &mut Layers,
    ) {
        let (base, stripe) = self.colour(id);
        let conductor = &self.system.conductors[id.index()];
        let node = self.system.node_of(conductor.from);
        let pole = self.circuit.poles[node.index()];
        let count = layers.wire_count.entry(id).or_default();
        *count += 1;
        let id_text = if *count == 1 {
            format!("wire-{}", conductor.number)
        } else {
            format!("wire-{}-{count}", conductor.number)
        };
        let points = vec![(from, y), (to, y)];
        let shape = |width: f64, colour: Rgb, mark: Mark| Shape {
            form: Form::Polyline(points.clone()),
            stroke: Some(Stroke {
                width,
                colour,
                dash: None,
            }),
            fill: None,
            mark,
        };
        let mut shapes = vec![
            shape(HALO, Rgb::BLACK, Mark::Halo),
            shape(WIRE, base, Mark::Wire),
        ];
        if let Some(stripe) = stripe {
            let mut dashed = shape(WIRE, stripe, Mark::Outside);
            if let Some(stroke) = &mut dashed.stroke {
                stroke.dash = Some((1.5, 2.0));
            }
            shapes.push(dashed);
        }
        let reading = self.standing.map(|standing| {
            if !standing.is_live_wire(id) {
                standing::fade(&mut shapes);
                return ", dead".to_owned();
            }
            format!(", {}", standing.wire_words(id))
        });
        let label = &self.circuit.labels[id.index()];
        let function = if conductor.function.is_empty() {
            String::new()
        } else {
            format!(": {}", conductor.function)
        };
        let group = Group {
            id: id_text,
            role: Role::Wire {
                number: conductor.number.clone(),
                from: before,
                to: after,
                pole,
            },
            title: format!(
                "{}{function}, {} to {}{}{}",
                label.line,
                self.system.terminal_name(conductor.from),
                self.system.terminal_name(conductor.to),
                words::ways(self.system, id)
                    .map_or_else(String::new, |ways| format!(", by way of {ways}")),
                reading.unwrap_or_default()
            ),
            shapes,
        };
        // The piece with the first end of a broken-off conductor comes first.
        let has_start = matches!(&group.role, Role::Wire { from: Some(_), .. });
        let known = layers.first_piece.get(&id).copied();
        match known {
            Some(at) if has_start => {
                let later = std::mem::replace(&mut layers.wires[at], group);
                layers.wires.push(later);
            }
            _ => {
                layers.first_piece.entry(id).or_insert(layers.wires.len());
                layers.wires.push(group);
            }
        }
    }

    pub(super) fn label(
        &self,
        id: ConductorId,
        (from, to, y): (f64, f64, f64),
        left: bool,
        lettering: Lettering,
        layers: &mut Layers,
    ) {
        let conductor = &self.system.conductors[id.index()];
        let label = &self.circuit.labels[id.index()];
        let pad = label_pad((from, to), label.width(lettering));
        let (x, anchor) = if left {
            (from + pad, Anchor::Start)
        } else {
            (to - pad, Anchor::End)
        };
        let [mut line, mut first, mut second] =
            [&label.line, &label.words[0], &label.words[1]].map(Clone::clone);
        if let Some(standing) = self.standing {
            let words = standing.wire_words(id);
            let whole = format!("{} {words}", conductor.number);
            // Never wider than what it takes the place of.
            let fits = font::width(&whole, TEXT) <= font::width(&line, TEXT);
            line = if fits {
                whole.trim_end().to_owned()
            } else {
                conductor.number.clone()
            };
            first.clone_from(&conductor.number);
            let fits = font::width(&words, TEXT) <= font::width(&second, TEXT);
            second = if fits { words } else { String::new() };
        }
        let mut shapes = match lettering {
            Lettering::OneLine => vec![text((x, y - 1.0), &line, TEXT, anchor)],
            Lettering::TwoLines | Lettering::Narrow => vec![
                text((x, y - 1.0), &first, TEXT, anchor),
                text((x, y + 2.6), &second, TEXT, anchor),
            ],
        };
        shapes.retain(|shape| !matches!(&shape.form, Form::Text { text, .. } if text.is_empty()));
        if let Some(standing) = self.standing
            && !standing.is_live_wire(id)
        {
            standing::fade(&mut shapes);
        }
        layers.labels.push(Group {
            id: format!("label-{}-{}", conductor.number, layers.labels.len()),
            role: Role::WireLabel {
                number: conductor.number.clone(),
            },
            title: String::new(),
            shapes,
        });
    }

    pub(super) fn reference(
        &mut self,
        reference: usize,
        on_right: bool,
        (x, y, width): (f64, f64, f64),
        measured: &Measured,
        layers: &mut Layers,
    ) {
        let height = pages::reference_height(measured, reference);
        let (top, bottom) = (y - height / 2.0, y + height / 2.0);
        let tip = 2.0;
        let points = if on_right {
            vec![
                (x, top),
                (x + width - tip, top),
                (x + width, y),
                (x + width - tip, bottom),
                (x, bottom),
            ]
        } else {
            vec![
                (x + tip, top),
                (x + width, top),
                (x + width, bottom),
                (x + tip, bottom),
                (x, y),
            ]
        };
        let record = self.plan.refs[reference];
        let (symbol, dash) = match record.outer {
            Some(_) => (Symbol::Outside, Some(symbols::DASHES)),
            None => (Symbol::Reference, None),
        };
        self.used.symbols.insert(symbol);
        let mut shapes = vec![Shape {
            form: Form::Polygon(points),
            stroke: Some(Stroke {
                dash,
                ..Stroke::black(LINE)
            }),
            fill: Some(Rgb::WHITE),
            mark: Mark::Plain,
        }];
        let place = self
            .ref_places
            .get(&(reference ^ 1))
            .cloned()
            .unwrap_or_default();
        let mut lines = measured.refs.get(&reference).cloned().unwrap_or_default();
        if let Some(last) = lines.last_mut() {
            *last = last.replace(WIDEST_PLACE, &place);
        }
        let middle = x + width / 2.0 + if on_right { -tip / 2.0 } else { tip / 2.0 };
        let mut base = top + 0.5 + 0.8 * TEXT + 0.2;
        for words in &lines {
            shapes.push(text((middle, base), words, TEXT, Anchor::Middle));
            base += TEXT * LEADING;
        }
        self.references += 1;
        let wire = record.wire.map_or_else(
            || match record.outer {
                Some(_) => "part".to_owned(),
                None => "bolted".to_owned(),
            },
            |id| self.system.conductors[id.index()].number.clone(),
        );
        if let (Some(standing), Some(id)) = (self.standing, record.wire)
            && !standing.is_live_wire(id)
        {
            standing::fade(&mut shapes);
        }
        let name = format!("to-{}-{}", wire, reference + 1);
        layers.parts.push(Group {
            id: format!("ref-{}", reference + 1),
            role: Role::Part {
                name,
                piece: None,
                zone: None,
                kind: OFFSHEET,
            },
            title: match record.outer {
                Some(outer) => {
                    let words = &self.circuit.outer[outer].words;
                    match record.wire {
                        Some(_) => format!("{wire} goes on {words}, {OUTSIDE}"),
                        None => format!("{words}, {OUTSIDE}"),
                    }
                }
                None => format!(
                    "{wire} goes on to {} at {place}",
                    self.system.terminal_name(record.far)
                ),
            },
            shapes,
        });
    }
}
