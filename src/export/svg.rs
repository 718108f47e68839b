//! Sheets of a drawing as SVG, one file a sheet, measured in millimetres.
//!
//! Elements carry what a reader, a test and the web page need: `data-wire`, `data-from`, `data-to`, `data-role`,
//! `data-part`, `data-piece`, `data-zone`, `data-port`, `data-wire-label`, `data-zone-box`, `data-block`.

use crate::drawing::font;
use crate::drawing::scene::{Anchor, Form, Group, Mark, OFFSHEET, Pole, Rgb, Role, Shape, Sheet};
use std::fmt::Write;
use svg::node::element::{self, Element};
use svg::node::{Node, Text};

/// Whether the font travels inside the file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lettering {
    /// The font is embedded: the text looks alike everywhere.
    Embedded,
    /// The file only names the font: smaller, for pages that carry the font once.
    Named,
}

/// Writes a sheet with its font embedded.
#[must_use]
pub fn write(sheet: &Sheet) -> String {
    write_with(sheet, Lettering::Embedded)
}

/// Writes a sheet.
#[must_use]
pub fn write_with(sheet: &Sheet, lettering: Lettering) -> String {
    let (width, height) = (number(sheet.width), number(sheet.height));
    let mut document = svg::Document::new()
        .set("width", format!("{width}mm"))
        .set("height", format!("{height}mm"))
        .set("viewBox", format!("0 0 {width} {height}"))
        .set("font-family", format!("'{}', sans-serif", font::FAMILY))
        .set("role", "img");
    document.append(element::Title::new(format!(
        "Sheet {} of {}: {}",
        sheet.number, sheet.count, sheet.title
    )));
    if lettering == Lettering::Embedded {
        document.append(element::Style::new(font_face()));
    }
    let mut paper = Element::new("rect");
    paper.assign("width", width);
    paper.assign("height", height);
    paper.assign("fill", "#ffffff");
    document.append(paper);
    for group in &sheet.groups {
        document.append(group_element(group));
    }
    let mut text = document.to_string();
    text.push('\n');
    text
}

/// The rule that makes the shipped font known to a page.
#[must_use]
pub fn font_face() -> String {
    format!(
        "@font-face{{font-family:'{}';src:url(data:font/ttf;base64,{}) format('truetype')}}",
        font::FAMILY,
        base64(font::FILE)
    )
}

fn group_element(group: &Group) -> Element {
    let mut node = Element::new("g");
    node.assign("id", group.id.as_str());
    match &group.role {
        Role::Part {
            name,
            piece,
            zone,
            kind,
        } => {
            node.assign("data-part", name.as_str());
            if let Some(piece) = piece {
                node.assign("data-piece", *piece);
            }
            if let Some(zone) = zone {
                node.assign("data-zone", zone.as_str());
            }
            node.assign("data-kind", *kind);
            node.assign(
                "class",
                if *kind == OFFSHEET {
                    "reference"
                } else {
                    "part"
                },
            );
        }
        Role::Block { name } => node.assign("data-block", name.as_str()),
        Role::Wire { .. } => node.assign("class", "wire"),
        Role::Zone { .. } => node.assign("class", "zone"),
        Role::WireLabel { .. } => node.assign("class", "label"),
        Role::Frame | Role::Note => {}
    }
    if !group.title.is_empty() {
        node.append(element::Title::new(group.title.as_str()));
    }
    for shape in &group.shapes {
        node.append(shape_element(shape, &group.role));
    }
    node
}

fn shape_element(shape: &Shape, role: &Role) -> Element {
    let mut node = match &shape.form {
        Form::Polyline(points) => {
            let mut node = Element::new("path");
            node.assign("d", path(points, false));
            node
        }
        Form::Polygon(points) => {
            let mut node = Element::new("path");
            node.assign("d", path(points, true));
            node
        }
        Form::Rect {
            at,
            width,
            height,
            radius,
        } => {
            let mut node = Element::new("rect");
            node.assign("x", number(at.0));
            node.assign("y", number(at.1));
            node.assign("width", number(*width));
            node.assign("height", number(*height));
            if *radius > 0.0 {
                node.assign("rx", number(*radius));
            }
            node
        }
        Form::Circle { centre, radius } => {
            let mut node = Element::new("circle");
            node.assign("cx", number(centre.0));
            node.assign("cy", number(centre.1));
            node.assign("r", number(*radius));
            node
        }
        Form::Arc {
            centre,
            radius,
            from,
            to,
        } => {
            let point = |degrees: f64| {
                let (sin, cos) = degrees.to_radians().sin_cos();
                format!(
                    "{} {}",
                    number(centre.0 + radius * cos),
                    number(centre.1 + radius * sin)
                )
            };
            let mut node = Element::new("path");
            let large = u8::from(to - from > 180.0);
            let radius = number(*radius);
            node.assign(
                "d",
                format!(
                    "M{}A{radius} {radius} 0 {large} 1 {}",
                    point(*from),
                    point(*to)
                ),
            );
            node
        }
        Form::Text {
            at,
            text,
            size,
            anchor,
            bold,
        } => {
            let mut node = Element::new("text");
            node.assign("x", number(at.0));
            node.assign("y", number(at.1));
            node.assign("font-size", number(*size));
            match anchor {
                Anchor::Start => {}
                Anchor::Middle => node.assign("text-anchor", "middle"),
                Anchor::End => node.assign("text-anchor", "end"),
            }
            if *bold {
                node.assign("font-weight", "bold");
            }
            if let Role::WireLabel { number } = role {
                node.assign("data-wire-label", number.as_str());
            }
            node.append(Text::new(text.as_str()));
            return node;
        }
    };
    node.assign("fill", shape.fill.map_or_else(|| "none".to_owned(), colour));
    if let Some(stroke) = shape.stroke {
        node.assign("stroke", colour(stroke.colour));
        node.assign("stroke-width", number(stroke.width));
        if let Some((dash, gap)) = stroke.dash {
            node.assign(
                "stroke-dasharray",
                format!("{} {}", number(dash), number(gap)),
            );
        }
    }
    match (&shape.mark, role) {
        (Mark::Port(name), _) => node.assign("data-port", name.as_str()),
        (Mark::Halo, Role::Wire { number, .. }) => node.assign("data-halo", number.as_str()),
        (
            Mark::Wire,
            Role::Wire {
                number,
                from,
                to,
                pole,
            },
        ) => {
            node.assign("data-wire", number.as_str());
            if let Some(from) = from {
                node.assign("data-from", from.as_str());
            }
            if let Some(to) = to {
                node.assign("data-to", to.as_str());
            }
            node.assign(
                "data-role",
                match pole {
                    Pole::Positive => "pos",
                    Pole::Negative => "neg",
                },
            );
        }
        (Mark::Outside, _) => node.assign("data-bbox", "no"),
        (Mark::Plain, Role::Zone { name }) => node.assign("data-zone-box", name.as_str()),
        _ => {}
    }
    node
}

fn path(points: &[(f64, f64)], closed: bool) -> String {
    let mut text = String::new();
    for (index, point) in points.iter().enumerate() {
        let command = if index == 0 { 'M' } else { 'L' };
        let _ = write!(text, "{command}{} {}", number(point.0), number(point.1));
    }
    if closed {
        text.push('Z');
    }
    text
}

/// A length with at most two decimals: a hundredth of a millimetre is finer than any printer.
fn number(value: f64) -> String {
    let hundredths = (value * 100.0).round();
    let text = format!("{}", hundredths / 100.0);
    if text == "-0" { "0".to_owned() } else { text }
}

fn colour(Rgb(red, green, blue): Rgb) -> String {
    format!("#{red:02x}{green:02x}{blue:02x}")
}

/// Base64 with padding: RFC 4648, section 4.
fn base64(bytes: &[u8]) -> String {
    const ALPHABET: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for chunk in bytes.chunks(3) {
        let word = chunk
            .iter()
            .chain([0, 0].iter())
            .take(3)
            .fold(0u32, |word, &byte| word << 8 | u32::from(byte));
        for index in 0..4 {
            if index <= chunk.len() {
                let six = (word >> (18 - 6 * index)) as usize & 63;
                text.push(char::from(ALPHABET[six]));
            } else {
                text.push('=');
            }
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Test vectors of RFC 4648, section 10.
    #[test]
    fn base64_matches_its_test_vectors() {
        let vectors = [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ];
        for (plain, coded) in vectors {
            assert_eq!(base64(plain.as_bytes()), coded);
        }
    }

    #[test]
    fn lengths_are_short_and_never_minus_zero() {
        assert_eq!(number(12.3456), "12.35");
        assert_eq!(number(-0.001), "0");
        assert_eq!(number(7.5), "7.5");
    }
}
