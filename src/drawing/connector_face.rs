//! Connector charts as pages: both faces of both halves with the view stated, and one row a cavity.

use super::bench_page::{Column, Ink, Pager, column, tick};
use super::font;
use super::frame::FILING_MARGIN;
use super::scene::{Anchor, At, Rgb, Sheet};
use super::words::TEXT;
use crate::schedule::{ConnectorChart, Face, Head};
use crate::system::{Contacts, FaceView, Keyway};

/// Side of a cavity where there is room, in mm.
const CAVITY: f64 = 9.0;
/// Least side of a cavity that still holds its number, in mm.
const LEAST_CAVITY: f64 = 5.5;
/// Filling of a cavity that carries a wire.
const WIRED: Rgb = Rgb(215, 215, 215);

const COLUMNS: &[Column] = &[
    column("cav.", 9.0),
    column("a: wire", 19.0),
    column("a: size, colour", 18.0),
    column("a: far end", 34.0),
    column("a: contact, seal", 18.0),
    column("b: wire", 19.0),
    column("b: size, colour", 18.0),
    column("b: far end", 34.0),
    column("b: contact, seal", 18.0),
    column("function", 27.0),
    column("overcurrent device", 25.0),
    column("expect, mated, minus to negative", 33.0),
    tick("a in"),
    tick("b in"),
];

/// The pages of one connector.
#[must_use]
pub fn connector_pages(head: &Head, chart: &ConnectorChart) -> Vec<Sheet> {
    let title = format!("Connector {}", chart.name);
    let mut pager = Pager::across(head, title.clone());
    let shape = if chart.shape.is_empty() {
        "shape not given".to_owned()
    } else {
        chart.shape.clone()
    };
    let half = |index: usize| {
        let contacts = contacts_words(chart.contacts[index]);
        let zone = if chart.zones[index].is_empty() {
            "zone not given"
        } else {
            &chart.zones[index]
        };
        format!("half {} ({zone}): {contacts}", ["a", "b"][index])
    };
    pager.paragraph(&format!(
        "{shape}; {} cavities; {}; {}. Cavity n of half a mates with cavity n of half b.",
        chart.cavities.len(),
        half(0),
        half(1)
    ));
    for index in [0, 1] {
        pager.paragraph(&chart.parted_words(index));
    }
    pager.paragraph(if chart.face_given {
        "Faces as the file lays them out. Grey: a wire; crossed: empty, to be plugged; double ring: can be live when parted."
    } else {
        "ASSUMED faces: the file does not lay the cavities out, so they are drawn in rows from the left, the upper row first. Go by the numbers on the shell. Grey: a wire; crossed: empty, to be plugged; double ring: can be live when parted."
    });
    for view in [FaceView::WireSide, FaceView::MatingFace] {
        faces(&mut pager, chart, view);
    }
    let rows: Vec<Vec<String>> = chart
        .cavities
        .iter()
        .map(|cavity| {
            let mut row = vec![cavity.number.to_string()];
            for contact in &cavity.halves {
                if contact.wires.is_empty() {
                    row.extend(["empty".to_owned(), String::new(), String::new()]);
                    row.push("plug".to_owned());
                } else {
                    row.push(contact.number.clone());
                    row.push(
                        format!("{} {}", contact.size, contact.colour)
                            .trim()
                            .to_owned(),
                    );
                    row.push(contact.far.clone());
                    row.push(
                        format!("{}, seal: {}", contact.kind, contact.seal)
                            .replace("seal: seal", "seal"),
                    );
                }
            }
            row.extend([
                cavity.function.clone(),
                cavity.fuse.clone(),
                cavity.expected.clone(),
            ]);
            row
        })
        .collect();
    pager.table(COLUMNS, &rows);
    pager.paragraph("Volts are nominal, against the negative of the same battery, mated and with the switches named; take what the meter shows at the battery as full. Never probe a live cavity with a tip that can touch two. Disconnect before a contact is fitted or drawn.");
    pager.finish(&title)
}

fn contacts_words(contacts: Option<Contacts>) -> &'static str {
    match contacts {
        Some(Contacts::Sockets) => "sockets",
        Some(Contacts::Pins) => "pins",
        None => "pins or sockets not given",
    }
}

/// Both halves side by side in one view.
fn faces(pager: &mut Pager<'_>, chart: &ConnectorChart, view: FaceView) {
    let width = pager.room() / 2.0 - 4.0;
    let drawn = [0, 1].map(|half| chart.face(half, view));
    let Some(size) = drawn
        .iter()
        .map(|face| cavity_side(face, width - 10.0, pager.depth() - 30.0))
        .reduce(|a, b| Some(a?.min(b?)))
        .flatten()
    else {
        if view == FaceView::WireSide {
            pager.paragraph(
                "The face has too many cavities to be drawn on this paper: go by the numbers on the shell.",
            );
        }
        return;
    };
    let rows = drawn.iter().map(|face| face.rows.len()).max().unwrap_or(0);
    let left = FILING_MARGIN;
    let (y, ink) = pager.take(rows as f64 * size + 14.0);
    for (half, face) in drawn.iter().enumerate() {
        let x = left + half as f64 * (width + 8.0);
        let side = match view {
            FaceView::WireSide => "WIRE SIDE (from behind)",
            FaceView::MatingFace => "MATING FACE (from the front)",
        };
        let key = if face.keyway.is_some() {
            ""
        } else {
            "; key not given"
        };
        let caption = format!(
            "half {}, {}, seen from the {side}{key}",
            ["a", "b"][half],
            contacts_words(chart.contacts[half])
        );
        ink.bold((x, y + 4.0), &caption, TEXT, Anchor::Start);
        draw_face(ink, (x + 4.0, y + 9.0), face, size, &|number| {
            chart
                .cavities
                .iter()
                .find(|cavity| cavity.number == number)
                .map_or((false, false), |cavity| {
                    let contact = &cavity.halves[half];
                    (!contact.wires.is_empty(), contact.live == Some(true))
                })
        });
    }
}

/// Side of a cavity that lets a face fit; none where its numbers would not be readable.
pub(super) fn cavity_side(face: &Face, width: f64, height: f64) -> Option<f64> {
    let columns = face.rows.iter().map(Vec::len).max().unwrap_or(0).max(1) as f64;
    let rows = face.rows.len().max(1) as f64;
    let side = CAVITY.min(width / columns).min(height / rows);
    (side >= LEAST_CAVITY).then_some(side)
}

/// Draws a face; `state` tells of a cavity whether it carries a wire and whether it can be live.
pub(super) fn draw_face(
    ink: &mut Ink,
    (x, y): At,
    face: &Face,
    size: f64,
    state: &dyn Fn(u32) -> (bool, bool),
) {
    let columns = face.rows.iter().map(Vec::len).max().unwrap_or(0).max(1) as f64;
    let (width, height) = (columns * size, face.rows.len().max(1) as f64 * size);
    ink.rect((x - 1.5, y - 1.5), width + 3.0, height + 3.0, None);
    if let Some(side) = face.keyway {
        let (middle_x, middle_y) = (x + width / 2.0, y + height / 2.0);
        let (cx, cy, across, along) = match side {
            Keyway::Top => (middle_x, y - 2.5, 6.0, 2.0),
            Keyway::Bottom => (middle_x, y + height + 2.5, 6.0, 2.0),
            Keyway::Left => (x - 2.5, middle_y, 2.0, 6.0),
            Keyway::Right => (x + width + 2.5, middle_y, 2.0, 6.0),
        };
        ink.rect(
            (cx - across / 2.0, cy - along / 2.0),
            across,
            along,
            Some(Rgb::BLACK),
        );
    }
    for (row, cavities) in face.rows.iter().enumerate() {
        for (place, cavity) in cavities.iter().enumerate() {
            let Some(number) = *cavity else { continue };
            let centre = (
                x + (place as f64 + 0.5) * size,
                y + (row as f64 + 0.5) * size,
            );
            let radius = size * 0.42;
            let (wired, live) = state(number);
            let fill = if wired { WIRED } else { Rgb::WHITE };
            ink.circle(centre, radius, Some(fill), 0.25);
            if live {
                ink.circle(centre, radius - 0.6, None, 0.25);
            }
            let words = number.to_string();
            if !wired {
                crossed(ink, centre, radius, font::width(&words, TEXT));
            }
            ink.text(
                (centre.0, centre.1 + TEXT * 0.35),
                &words,
                TEXT,
                Anchor::Middle,
            );
        }
    }
}

/// A diagonal from edge to edge of a cavity, open where its number stands.
fn crossed(ink: &mut Ink, (x, y): At, radius: f64, number: f64) {
    let edge = radius * std::f64::consts::FRAC_1_SQRT_2;
    // The number is lower than wide or wider than low: the nearer of its sides ends the line.
    let gap = (number / 2.0).min(TEXT * 0.37) + 0.3;
    for side in [-1.0, 1.0] {
        let points = [edge, gap.min(edge)].map(|far| (x + side * far, y + side * far));
        ink.line(points.to_vec(), 0.25);
    }
}
