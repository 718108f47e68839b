//! The cutting plan as bars: each length of wire to scale, with its cuts from the left in the order they are made.

use super::bench::{BODY, Canvas, EDGE, FINE, RULE_HEIGHT, SHADE, cut_to, rule, tick, upright};
use super::scene::{Anchor, Rgb, Sheet};
use super::shapes::{line, rect, text};
use crate::font;
use crate::schedule::{Head, Piece, Rows, Spool, SpoolPlan, cut_name, length_style, piece_words};
use crate::units::{LengthStyle, decimal, format_cut_length};

/// Height of a bar, in mm.
const BAR: f64 = 6.0;
/// From one line of words to the next, in mm.
const LINE: f64 = 3.4;
/// Room for a tick box and its gap, in mm.
const TICK: f64 = 6.0;

/// Sheets with the bars of all spools.
pub(super) fn sheets(rows: &Rows<'_>, head: &Head) -> Vec<Sheet> {
    if rows.plans().is_empty() {
        return Vec::new();
    }
    let (width, height) = upright(head.paper);
    let mut bars = Bars {
        rows,
        head,
        style: length_style(rows.system()),
        size: (height, width),
        done: Vec::new(),
        canvas: Canvas::new((height, width), ""),
        y: 0.0,
        pieces: 0,
        spool: None,
    };
    bars.open();
    for plan in rows.plans() {
        bars.spool(plan);
    }
    bars.close();
    bars.done
}

struct Bars<'r, 'f> {
    rows: &'r Rows<'f>,
    head: &'r Head,
    style: LengthStyle,
    /// Paper across.
    size: (f64, f64),
    done: Vec<Sheet>,
    canvas: Canvas,
    /// Upper edge of what comes next.
    y: f64,
    /// Pieces drawn so far, for their ids.
    pieces: usize,
    /// Number and heading of the spool that is being drawn; it stands again on a sheet that goes on with it.
    spool: Option<(usize, String)>,
}

impl Bars<'_, '_> {
    fn open(&mut self) {
        self.canvas = Canvas::new(self.size, "Cutting bars");
        let number = self.done.len() + 1;
        self.canvas.head(self.head, "Cutting bars", number);
        let words = "100 mm. Bars are to the scale of their heading; cut from the left, longest first; grey is left over.";
        let at = (EDGE, 21.0);
        let room = self.size.0 - 2.0 * EDGE - 1.0;
        self.canvas.block(
            "rule-100mm",
            "rule-100mm".to_owned(),
            rule(at, &cut_to(words, FINE, room)),
        );
        self.y = 21.0 + RULE_HEIGHT + 3.0;
    }

    fn close(&mut self) {
        let canvas = std::mem::replace(&mut self.canvas, Canvas::new(self.size, ""));
        self.done.push(canvas.finish());
    }

    fn bottom(&self) -> f64 {
        self.size.1 - 14.0
    }

    /// Begins a sheet where so much does not fit on this one.
    fn want(&mut self, height: f64) {
        if self.y + height > self.bottom() {
            self.close();
            self.open();
            if let Some((number, heading)) = self.spool.clone() {
                self.heading(number, &format!("{heading} (goes on)"));
            }
        }
    }

    fn heading(&mut self, number: usize, words: &str) {
        let words = cut_to(words, BODY + 0.5, self.room());
        let (y, right) = (self.y + LINE, self.size.0 - EDGE);
        self.canvas.group(
            format!("spool-{number}"),
            "",
            vec![
                text((EDGE, y), words, BODY + 0.5, Anchor::Start),
                line([(EDGE, y + 1.2), (right, y + 1.2)], 0.18),
            ],
        );
        self.y += 2.0 * LINE;
    }

    fn room(&self) -> f64 {
        self.size.0 - 2.0 * EDGE
    }

    fn spool(&mut self, plan: &SpoolPlan) {
        let spool = &self.rows.cuts().spools[plan.spool];
        let longest = plan
            .pieces
            .iter()
            .map(|piece| piece.length.0 * 1000.0)
            .fold(0.0, f64::max);
        let bar_room = self.room() - TICK;
        let scale = round_scale(longest / bar_room);
        self.want(2.0 * LINE + BAR + 3.0 * LINE);
        let number = plan.spool + 1;
        let scale_words = decimal(scale, usize::from(scale.fract() != 0.0));
        // The scale stands first: a long name of a cable may be cut.
        let heading = format!(
            "Spool {number}, 1 mm is {scale_words} mm of wire: {}",
            spool.name
        );
        self.heading(number, &heading);
        self.spool = Some((number, heading));
        for piece in &plan.pieces {
            self.piece(spool, piece, scale);
        }
        self.spool = None;
        self.y += LINE / 2.0;
    }

    fn piece(&mut self, spool: &Spool, piece: &Piece, scale: f64) {
        let system = self.rows.system();
        let cuts: Vec<(usize, &str, String, f64)> = piece
            .cuts
            .iter()
            .map(|&at| {
                let cut = &spool.cuts[at];
                (
                    cut.seq,
                    cut_name(system, cut),
                    format_cut_length(cut.length, self.style),
                    cut.length.0 * 1000.0 / scale,
                )
            })
            .collect();
        self.want(LINE + BAR + 2.0 * LINE);
        self.pieces += 1;
        let x = EDGE + TICK;
        let words = format!("{}: {}", piece.name, piece_words(piece, self.style));
        let words = cut_to(&words, BODY, self.room() - TICK);
        let top = self.y + LINE;
        let (id, whole) = (
            format!("piece-{}", self.pieces),
            piece.length.0 * 1000.0 / scale,
        );
        self.canvas.block(
            id,
            format!("piece {}", piece.name),
            vec![
                text((x, self.y + LINE - 1.0), words, BODY, Anchor::Start),
                tick((EDGE, top + 1.0)),
                rect((x, top), (whole, BAR), Some(0.25), Some(SHADE)),
            ],
        );
        let mut from = x;
        for (seq, name, length, width) in &cuts {
            let mut shapes = vec![rect(
                (from, top),
                (*width, BAR),
                Some(0.25),
                Some(Rgb::WHITE),
            )];
            let middle = from + width / 2.0;
            if font::width(name, BODY) <= width - 1.0 {
                shapes.push(text((middle, top + 2.8), *name, BODY, Anchor::Middle));
                if font::width(length, FINE) <= width - 1.0 {
                    shapes.push(text((middle, top + 5.2), length, FINE, Anchor::Middle));
                }
            }
            let title = format!("{name}, {length}");
            self.canvas.group(format!("cut-{seq}"), &title, shapes);
            from += width;
        }
        self.y = top + BAR + 0.6;
        // The bar shows the shape, the line below it the figures: a short cut has no room for its number.
        let mut row = String::new();
        let mut rows = Vec::new();
        for (_, name, length, _) in &cuts {
            let item = cut_to(&format!("{name} {length}"), BODY, self.room() - TICK);
            let longer = if row.is_empty() {
                item.clone()
            } else {
                format!("{row}  |  {item}")
            };
            if font::width(&longer, BODY) <= self.room() - TICK {
                row = longer;
            } else {
                rows.push(std::mem::replace(&mut row, item));
            }
        }
        if !row.is_empty() {
            rows.push(row);
        }
        for (index, row) in rows.into_iter().enumerate() {
            self.want(LINE);
            let at = (x, self.y + LINE - 0.8);
            let id = format!("cuts-{}-{}", self.pieces, index + 1);
            self.canvas
                .group(id, "", vec![text(at, row, BODY, Anchor::Start)]);
            self.y += LINE;
        }
        self.y += 1.2;
    }
}

/// The next scale that a person can multiply by: 1, 2, 2.5 or 5 with its tens.
fn round_scale(least: f64) -> f64 {
    let least = least.clamp(1.0, 1e9);
    let mut tens = 1.0;
    loop {
        for step in [1.0, 2.0, 2.5, 5.0] {
            if step * tens >= least - 1e-9 {
                return step * tens;
            }
        }
        tens *= 10.0;
    }
}

#[cfg(test)]
mod tests {
    use super::round_scale;

    #[test]
    fn scales_are_round_and_large_enough() {
        for (least, scale) in [
            (0.2, 1.0),
            (1.0, 1.0),
            (1.1, 2.0),
            (2.1, 2.5),
            (26.0, 50.0),
            (120.0, 200.0),
        ] {
            assert!((round_scale(least) - scale).abs() < 1e-9, "{least}");
        }
    }
}
