//! Sheets of a drawing as SVG, one file a sheet, measured in millimetres.
//!
//! Elements carry what a reader, a test and the web page need: `data-wire`, `data-from`, `data-to`, `data-role`,
//! `data-part`, `data-piece`, `data-zone`, `data-port`, `data-wire-label`, `data-zone-box`, `data-block`.

use super::words::push_marked_up;
use crate::drawing::font;
use crate::drawing::scene::{Anchor, Form, Group, Mark, OFFSHEET, Pole, Rgb, Role, Shape, Sheet};
use std::fmt::Write;
use std::sync::LazyLock;
use svg::node::element;
use svg::node::{Blob, Node};

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
    let (mut width, mut height) = (String::new(), String::new());
    number(&mut width, sheet.width);
    number(&mut height, sheet.height);
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
    let paper = element::Rectangle::new()
        .set("width", width)
        .set("height", height)
        .set("fill", "#ffffff");
    document.append(paper);
    // Groups are many and plain, so they are written straight into one text.
    let mut drawing = String::with_capacity(room_for(sheet));
    for group in &sheet.groups {
        Tag { out: &mut drawing }.group(group);
    }
    document.append(
        element::Group::new()
            .set("id", "drawing")
            .add(Blob::new(drawing)),
    );
    let mut text = document.to_string();
    text.push('\n');
    text
}

/// Bytes that the groups of a sheet take, about: most shapes are short.
fn room_for(sheet: &Sheet) -> usize {
    const GROUP: usize = 160;
    const SHAPE: usize = 112;
    let shapes: usize = sheet.groups.iter().map(|group| group.shapes.len()).sum();
    GROUP * sheet.groups.len() + SHAPE * shapes
}

/// The rule that makes the shipped font known to a page.
#[must_use]
pub fn font_face() -> &'static str {
    // Every sheet of every paper carries it, and it is always the same.
    static RULE: LazyLock<String> = LazyLock::new(|| {
        format!(
            "@font-face{{font-family:'{}';src:url(data:font/ttf;base64,{}) format('truetype')}}",
            font::FAMILY,
            base64(font::FILE)
        )
    });
    &RULE
}

/// Writes one element after the other.
struct Tag<'a> {
    out: &'a mut String,
}

impl Tag<'_> {
    fn group(&mut self, group: &Group) {
        self.open("g");
        self.text("id", &group.id);
        match &group.role {
            Role::Part {
                name,
                piece,
                zone,
                kind,
            } => {
                self.text("data-part", name);
                if let Some(piece) = piece {
                    let _ = write!(self.out, " data-piece=\"{piece}\"");
                }
                if let Some(zone) = zone {
                    self.text("data-zone", zone);
                }
                self.text("data-kind", kind);
                self.text(
                    "class",
                    if *kind == OFFSHEET {
                        "reference"
                    } else {
                        "part"
                    },
                );
            }
            Role::Block { name } => self.text("data-block", name),
            Role::Wire { .. } => self.text("class", "wire"),
            Role::Zone { .. } => self.text("class", "zone"),
            Role::WireLabel { .. } => self.text("class", "label"),
            Role::Finding {
                number,
                rule,
                severity,
            } => {
                let _ = write!(self.out, " data-finding=\"{number}\"");
                self.text("data-rule", rule);
                self.text("data-severity", severity);
                self.text("class", "finding");
            }
            Role::Frame | Role::Note => {}
        }
        self.out.push('>');
        if !group.title.is_empty() {
            self.out.push_str("<title>");
            escape(self.out, &group.title);
            self.out.push_str("</title>");
        }
        for shape in &group.shapes {
            self.shape(shape, &group.role);
        }
        self.out.push_str("</g>\n");
    }

    fn open(&mut self, name: &str) {
        self.out.push('<');
        self.out.push_str(name);
    }

    fn text(&mut self, name: &str, value: &str) {
        self.out.push(' ');
        self.out.push_str(name);
        self.out.push_str("=\"");
        escape(self.out, value);
        self.out.push('"');
    }

    fn length(&mut self, name: &str, value: f64) {
        self.out.push(' ');
        self.out.push_str(name);
        self.out.push_str("=\"");
        number(self.out, value);
        self.out.push('"');
    }

    fn colour(&mut self, name: &str, colour: Option<Rgb>) {
        const DIGITS: &[u8; 16] = b"0123456789abcdef";
        self.out.push(' ');
        self.out.push_str(name);
        let Some(Rgb(red, green, blue)) = colour else {
            self.out.push_str("=\"none\"");
            return;
        };
        self.out.push_str("=\"#");
        for byte in [red, green, blue] {
            self.out.push(char::from(DIGITS[usize::from(byte >> 4)]));
            self.out.push(char::from(DIGITS[usize::from(byte & 15)]));
        }
        self.out.push('"');
    }

    fn path(&mut self, points: &[(f64, f64)], closed: bool) {
        self.open("path");
        self.out.push_str(" d=\"");
        for (index, point) in points.iter().enumerate() {
            self.out.push(if index == 0 { 'M' } else { 'L' });
            self.point(*point);
        }
        self.out.push_str(if closed { "Z\"" } else { "\"" });
    }

    fn point(&mut self, (x, y): (f64, f64)) {
        number(self.out, x);
        self.out.push(' ');
        number(self.out, y);
    }

    fn shape(&mut self, shape: &Shape, role: &Role) {
        match &shape.form {
            Form::Polyline(points) => self.path(points, false),
            Form::Polygon(points) => self.path(points, true),
            Form::Rect {
                at,
                width,
                height,
                radius,
            } => {
                self.open("rect");
                self.length("x", at.0);
                self.length("y", at.1);
                self.length("width", *width);
                self.length("height", *height);
                if *radius > 0.0 {
                    self.length("rx", *radius);
                }
            }
            Form::Circle { centre, radius } => {
                self.open("circle");
                self.length("cx", centre.0);
                self.length("cy", centre.1);
                self.length("r", *radius);
            }
            Form::Arc {
                centre,
                radius,
                from,
                to,
            } => {
                let point = |degrees: f64| {
                    let (sin, cos) = degrees.to_radians().sin_cos();
                    (centre.0 + radius * cos, centre.1 + radius * sin)
                };
                self.open("path");
                self.out.push_str(" d=\"M");
                self.point(point(*from));
                self.out.push('A');
                self.point((*radius, *radius));
                self.out.push_str(if to - from > 180.0 {
                    " 0 1 1 "
                } else {
                    " 0 0 1 "
                });
                self.point(point(*to));
                self.out.push('"');
            }
            Form::Text {
                at,
                text,
                size,
                anchor,
                bold,
            } => {
                self.open("text");
                self.length("x", at.0);
                self.length("y", at.1);
                self.length("font-size", *size);
                match anchor {
                    Anchor::Start => {}
                    Anchor::Middle => self.text("text-anchor", "middle"),
                    Anchor::End => self.text("text-anchor", "end"),
                }
                if *bold {
                    self.text("font-weight", "bold");
                }
                if let Some(colour) = shape.fill.filter(|colour| *colour != Rgb::BLACK) {
                    self.colour("fill", Some(colour));
                }
                if let Role::WireLabel { number } = role {
                    self.text("data-wire-label", number);
                }
                self.out.push('>');
                escape(self.out, text);
                self.out.push_str("</text>");
                return;
            }
        }
        self.colour("fill", shape.fill);
        if let Some(stroke) = shape.stroke {
            self.colour("stroke", Some(stroke.colour));
            self.length("stroke-width", stroke.width);
            if let Some(dash) = stroke.dash {
                self.out.push_str(" stroke-dasharray=\"");
                self.point(dash);
                self.out.push('"');
            }
        }
        self.mark(&shape.mark, role);
        self.out.push_str("/>");
    }

    /// The attributes that say what a shape stands for.
    fn mark(&mut self, mark: &Mark, role: &Role) {
        match (mark, role) {
            (Mark::Port(name), _) => self.text("data-port", name),
            (Mark::Halo, Role::Wire { number, .. }) => self.text("data-halo", number),
            (
                Mark::Wire,
                Role::Wire {
                    number,
                    from,
                    to,
                    pole,
                },
            ) => {
                self.text("data-wire", number);
                if let Some(from) = from {
                    self.text("data-from", from);
                }
                if let Some(to) = to {
                    self.text("data-to", to);
                }
                let role = match pole {
                    Pole::Positive => "pos",
                    Pole::Negative => "neg",
                };
                self.text("data-role", role);
            }
            (Mark::Outside, _) => self.text("data-bbox", "no"),
            (Mark::Plain, Role::Zone { name }) => self.text("data-zone-box", name),
            _ => {}
        }
    }
}

/// Adds a length with at most two decimals: a hundredth of a millimetre is finer than any printer.
fn number(out: &mut String, value: f64) {
    let hundredths = (value * 100.0).round();
    // No sheet is a kilometre wide; anything else is written as it is.
    if hundredths.abs() >= 1e8 {
        let _ = write!(out, "{value}");
        return;
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // below 1e8
    let rest = hundredths.abs() as u32;
    let (mut whole, part) = (rest / 100, rest % 100);
    let digit = |number: u32| b'0' + u8::try_from(number % 10).unwrap_or(0);
    // Filled from its end.
    let mut text = [0u8; 12];
    let mut start = text.len();
    let mut add = |byte: u8| {
        start -= 1;
        text[start] = byte;
    };
    if !part.is_multiple_of(10) {
        add(digit(part));
    }
    if part > 0 {
        add(digit(part / 10));
        add(b'.');
    }
    loop {
        add(digit(whole));
        whole /= 10;
        if whole == 0 {
            break;
        }
    }
    if hundredths < 0.0 {
        add(b'-');
    }
    out.push_str(std::str::from_utf8(&text[start..]).unwrap_or_default());
}

/// Adds a text with the characters replaced that XML keeps for itself, and without what a viewer would obey.
fn escape(out: &mut String, text: &str) {
    push_marked_up(out, text, |character| {
        Some(match character {
            '&' => "&amp;",
            '<' => "&lt;",
            '>' => "&gt;",
            '"' => "&quot;",
            _ => return None,
        })
    });
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
        let printed = |value: f64| {
            let mut text = String::new();
            number(&mut text, value);
            text
        };
        assert_eq!(printed(12.3456), "12.35");
        assert_eq!(printed(-0.001), "0");
        assert_eq!(printed(7.5), "7.5");
        assert_eq!(printed(-3.05), "-3.05");
        assert_eq!(printed(420.0), "420");
    }

    #[test]
    fn texts_are_safe_in_xml() {
        let mut text = String::new();
        escape(&mut text, "<a & \"b\">\u{7}");
        assert_eq!(text, "&lt;a &amp; &quot;b&quot;&gt; ");
    }
}
