//! The wallet card: panels of the size of a bank card, to be cut out in one piece and folded.

use super::bench::{Canvas, EDGE, RULE_HEIGHT, rule, upright};
use super::scene::{Anchor, Form, Shape, Sheet, Stroke};
use super::shapes::{line, rect, text};
use super::typeset::wrapped;
use crate::font;
use crate::schedule::{Head, Rows, wallet_card};

/// Width of a panel in mm: the card ID-1 of ISO/IEC 7810 is 85.60 by 53.98 mm.
const WIDTH: f64 = 85.6;
/// Height of a panel in mm.
const HEIGHT: f64 = 54.0;
/// Panels beside each other on a sheet.
const COLUMNS: usize = 2;
/// Panels under each other on a sheet of either paper.
const ROWS: usize = 4;
/// Free edge of a panel, in mm.
const PAD: f64 = 3.0;
/// Lettering in mm.
const SIZE: f64 = 2.6;
/// From line to line, in mm.
const PITCH: f64 = 3.25;
/// Devices on a card; a card for more would be a book.
const MOST_DEVICES: usize = 100;
/// Room for the rating at the right of a line, in mm.
const RATING: f64 = 14.0;

/// A line of the card.
struct Line {
    words: String,
    /// Set at the right.
    right: String,
    bold: bool,
}

/// The sheets with the card.
pub(super) fn sheets(rows: &Rows<'_>, head: &Head) -> Vec<Sheet> {
    let lines = lines(rows, head);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a panel has a few lines
    let to_panel = ((HEIGHT - 2.0 * PAD) / PITCH) as usize;
    let mut panels: Vec<Vec<&Line>> = Vec::new();
    let mut panel: Vec<&Line> = Vec::new();
    for (index, line) in lines.iter().enumerate() {
        // A heading never stands at the foot of a panel.
        let last = line.bold && panel.len() + 1 == to_panel && index + 1 < lines.len();
        if panel.len() == to_panel || last {
            panels.push(std::mem::take(&mut panel));
        }
        panel.push(line);
    }
    panels.push(panel);
    panels
        .chunks(COLUMNS * ROWS)
        .enumerate()
        .map(|(index, panels)| sheet(panels, head, index + 1))
        .collect()
}

fn lines(rows: &Rows<'_>, head: &Head) -> Vec<Line> {
    let card = wallet_card(rows);
    let mut out = Vec::new();
    let mut put = |words: &str, right: &str, bold: bool| {
        let room = WIDTH - 2.0 * PAD - if right.is_empty() { 0.0 } else { RATING };
        let words = wrapped(words, SIZE, room);
        for (index, words) in words.into_iter().take(6).enumerate() {
            let right = if index == 0 {
                super::typeset::shortened(right, SIZE, RATING - 1.0)
            } else {
                String::new()
            };
            out.push(Line { words, right, bold });
        }
    };
    put(&head.boat, "", true);
    let given = |word: &str| if word.is_empty() { "not given" } else { word }.to_owned();
    put(
        &format!(
            "Revision {}, date {}",
            given(&head.revision),
            given(&head.date)
        ),
        "",
        false,
    );
    put(&format!("Netlist {}", head.fingerprint), "", false);
    put(
        "Never fit a larger fuse than printed. Disconnect before work: chargers off, switches off, negative first. \
         Local rules and a licensed marine electrician come first.",
        "",
        false,
    );
    put("Battery switches", "", true);
    if card.switches.is_empty() {
        put("none", "", false);
    }
    for (positions, does) in &card.switches {
        put(&format!("{positions} – {does}"), "", false);
    }
    if card.more > 0 {
        put(
            &format!("and {} more combinations: see the switch table", card.more),
            "",
            false,
        );
    }
    put("Live with every battery switch off", "", true);
    if card.live_when_off.is_empty() {
        put("nothing that the netlist tells of", "", false);
    }
    for loads in &card.live_when_off {
        put(loads, "", false);
    }
    put("Fuses and breakers", "", true);
    for [device, name, rating] in card.devices.iter().take(MOST_DEVICES) {
        let words = if name.is_empty() {
            device.clone()
        } else {
            format!("{device}  {name}")
        };
        put(&words, rating, false);
    }
    if card.devices.len() > MOST_DEVICES {
        let more = card.devices.len() - MOST_DEVICES;
        put(
            &format!("and {more} more: see the fuse and panel chart"),
            "",
            false,
        );
    }
    out
}

fn sheet(panels: &[Vec<&Line>], head: &Head, number: usize) -> Sheet {
    let mut canvas = Canvas::new(upright(head.paper), "Wallet card");
    canvas.head(head, "Wallet card", number);
    canvas.block(
        "rule-100mm",
        "rule-100mm".to_owned(),
        rule(
            (EDGE, 21.0),
            "100 mm. Cut along the outline, fold along the dashes: upright first, then across, as a fan.",
        ),
    );
    let rows = panels.len().min(ROWS);
    let columns = panels.len().div_ceil(ROWS);
    let left = (canvas.width - WIDTH * columns as f64) / 2.0;
    let top = 21.0 + RULE_HEIGHT + 3.0;
    let mut shapes = vec![rect(
        (left, top),
        (WIDTH * columns as f64, HEIGHT * rows as f64),
        Some(0.25),
        None,
    )];
    for row in 1..rows {
        let y = top + HEIGHT * row as f64;
        shapes.push(fold(&[(left, y), (left + WIDTH * columns as f64, y)]));
    }
    if columns > 1 {
        let x = left + WIDTH;
        shapes.push(fold(&[(x, top), (x, top + HEIGHT * rows as f64)]));
    }
    for (index, panel) in panels.iter().enumerate() {
        let x = left + WIDTH * (index / ROWS) as f64 + PAD;
        let y = top + HEIGHT * (index % ROWS) as f64 + PAD;
        for (step, words) in panel.iter().enumerate() {
            let at = (x, y + 0.95 * SIZE + PITCH * step as f64);
            let mut shape = text(at, words.words.as_str(), SIZE, Anchor::Start);
            if let Form::Text { bold, .. } = &mut shape.form {
                *bold = words.bold;
            }
            shapes.push(shape);
            if !words.right.is_empty() {
                let end = (x + WIDTH - 2.0 * PAD, at.1);
                shapes.push(text(end, words.right.as_str(), SIZE, Anchor::End));
                // A thin line leads the eye from the name to its rating.
                let from = at.0 + font::set_width(&words.words, SIZE) + 1.0;
                let to = end.0 - font::set_width(&words.right, SIZE) - 1.0;
                if to > from {
                    shapes.push(line([(from, at.1), (to, at.1)], 0.08));
                }
            }
        }
    }
    canvas.block("card", "card".to_owned(), shapes);
    canvas.finish()
}

fn fold(points: &[(f64, f64)]) -> Shape {
    let mut shape = line(points, 0.2);
    shape.stroke = Some(Stroke {
        dash: Some((2.0, 1.5)),
        ..Stroke::black(0.2)
    });
    shape
}
