//! One page after another: paper, margins, the head that stands on all of them, whole on the first and short on the
//! others, and a pen at a height.

use super::columns::pitch;
use super::lines::{shortened, wrapped};
use crate::drawing::scene::{
    Anchor, At, Form, Group, Mark, Rgb, Role, Shape, Sheet, SheetKind, Stroke,
};
use crate::schedule::{DEFERENCE, Head, Orientation};
use crate::system::Paper;

/// Left margin in mm, for holes.
pub const LEFT: f64 = 14.0;
/// Right margin in mm.
pub const RIGHT: f64 = 10.0;
/// Upper margin in mm.
pub const TOP: f64 = 9.0;
/// Lower margin in mm.
const BOTTOM: f64 = 13.0;

/// Lettering of plain text in mm: capitals are 2.5 mm high.
pub(super) const BODY: f64 = 3.5;
/// Lettering of the small print, in mm: 9 pt.
pub(super) const SMALL: f64 = 3.2;
/// Lettering of the title, in mm.
const TITLE: f64 = 5.0;

/// Grey of every third row.
pub(super) const SHADE: Rgb = Rgb(0xe4, 0xe4, 0xe4);

/// Size of a page in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Format {
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
}

impl Format {
    /// The paper of the lists, upright or across.
    #[must_use]
    pub fn new(paper: Paper, orientation: Orientation) -> Self {
        let (short, long) = match paper {
            Paper::A4 => (210.0, 297.0),
            Paper::Letter => (215.9, 279.4),
        };
        let (width, height) = match orientation {
            Orientation::Upright => (short, long),
            Orientation::Across => (long, short),
        };
        Self { width, height }
    }

    /// Width between the margins.
    #[must_use]
    pub fn room(self) -> f64 {
        self.width - LEFT - RIGHT
    }

    /// Height between the margins.
    #[must_use]
    pub fn body(self) -> f64 {
        self.height - TOP - BOTTOM
    }

    /// Where the lower margin begins.
    #[must_use]
    pub fn bottom(self) -> f64 {
        self.height - BOTTOM
    }
}

/// A line of text.
#[must_use]
pub fn text(at: At, words: &str, size: f64, anchor: Anchor, bold: bool) -> Shape {
    shape(
        Form::Text {
            at,
            text: words.to_owned(),
            size,
            anchor,
            bold,
        },
        None,
        Some(Rgb::BLACK),
    )
}

/// A shape without any meaning of its own.
#[must_use]
pub fn shape(form: Form, stroke: Option<Stroke>, fill: Option<Rgb>) -> Shape {
    Shape {
        form,
        stroke,
        fill,
        mark: Mark::Plain,
    }
}

/// What writes a list, page after page.
#[derive(Debug)]
pub struct Hand<'h> {
    /// Paper.
    pub format: Format,
    /// Height on the page, in mm from its upper edge.
    pub y: f64,
    head: &'h Head,
    title: &'h str,
    pages: Vec<Vec<Shape>>,
}

impl<'h> Hand<'h> {
    /// A hand without a page yet.
    #[must_use]
    pub fn new(head: &'h Head, title: &'h str, format: Format) -> Self {
        Self {
            format,
            y: 0.0,
            head,
            title,
            pages: Vec::new(),
        }
    }

    /// Begins a page with its head, which is short from the second page on.
    pub fn open(&mut self) {
        self.pages.push(Vec::new());
        self.y = TOP;
        if self.pages.len() == 1 {
            self.headline();
        } else {
            self.short_headline();
        }
        self.foot();
    }

    /// Adds a shape to the page.
    pub fn put(&mut self, shape: Shape) {
        if let Some(page) = self.pages.last_mut() {
            page.push(shape);
        }
    }

    /// Whether so much height is left on the page.
    #[must_use]
    pub fn fits(&self, height: f64) -> bool {
        self.y + height <= self.format.bottom() + 1e-9
    }

    /// Goes to the next page where so much height is not left.
    pub fn need(&mut self, height: f64) {
        if !self.fits(height) {
            self.open();
        }
    }

    /// Leaves some height free.
    pub fn gap(&mut self, height: f64) {
        self.y += height;
    }

    /// Words over the width of the page, in as many lines as they need.
    pub fn paragraph(&mut self, words: &str, size: f64, bold: bool) {
        for line in wrapped(words, size, self.format.room()) {
            self.need(pitch(size));
            self.words(&line, LEFT, size, bold);
        }
        self.y += 0.5;
    }

    /// One line of words from a place on, and the height behind it.
    pub fn words(&mut self, words: &str, left: f64, size: f64, bold: bool) {
        let at = (left, self.y + 0.92 * size);
        self.put(text(at, words, size, Anchor::Start, bold));
        self.y += pitch(size);
    }

    /// A black line.
    pub fn line(&mut self, points: &[At], width: f64) {
        let stroke = Some(Stroke::black(width));
        self.put(shape(Form::Polyline(points.to_vec()), stroke, None));
    }

    /// A line over the width of the page.
    pub fn across(&mut self, y: f64, width: f64) {
        self.line(&[(LEFT, y), (LEFT + self.format.room(), y)], width);
    }

    /// How many pages were begun.
    #[must_use]
    pub fn pages(&self) -> usize {
        self.pages.len()
    }

    /// A line of dots that leads the eye along a line of text.
    pub fn dots(&mut self, from: At, to: f64) {
        let stroke = Stroke {
            dash: Some((0.35, 1.4)),
            ..Stroke::black(0.35)
        };
        let form = Form::Polyline(vec![from, (to, from.1)]);
        self.put(shape(form, Some(stroke), None));
    }

    /// A filled rectangle.
    pub fn area(&mut self, at: At, (width, height): (f64, f64), fill: Rgb) {
        let form = Form::Rect {
            at,
            width,
            height,
            radius: 0.0,
        };
        self.put(shape(form, None, Some(fill)));
    }

    /// A box to tick.
    pub fn tick(&mut self, at: At, side: f64) {
        let form = Form::Rect {
            at,
            width: side,
            height: side,
            radius: 0.0,
        };
        self.put(shape(form, Some(Stroke::black(0.3)), Some(Rgb::WHITE)));
    }

    /// A dashed frame to cut along.
    pub fn frame(&mut self, at: At, (width, height): (f64, f64)) {
        let form = Form::Rect {
            at,
            width,
            height,
            radius: 0.0,
        };
        let stroke = Stroke {
            dash: Some((1.0, 1.0)),
            ..Stroke::black(0.2)
        };
        self.put(shape(form, Some(stroke), None));
    }

    /// A heavy frame over the width of the page, from a height to where the hand stands.
    pub fn heavy_frame(&mut self, top: f64) {
        let form = Form::Rect {
            at: (LEFT, top),
            width: self.format.room(),
            height: self.y - top,
            radius: 0.0,
        };
        self.put(shape(form, Some(Stroke::black(0.5)), None));
    }

    /// The finished pages under a title, each with its number.
    #[must_use]
    pub fn close(mut self, title: &str) -> Vec<Sheet> {
        if self.pages.is_empty() {
            self.open();
        }
        let count = self.pages.len();
        let Format { width, height } = self.format;
        let right = width - RIGHT;
        self.pages
            .into_iter()
            .enumerate()
            .map(|(index, mut shapes)| {
                let number = format!("page {} of {count}", index + 1);
                shapes.push(text(
                    (right, TOP + 0.92 * BODY),
                    &number,
                    BODY,
                    Anchor::End,
                    false,
                ));
                Sheet {
                    kind: SheetKind::List,
                    number: index + 1,
                    count,
                    width,
                    height,
                    title: title.to_owned(),
                    groups: vec![Group {
                        id: format!("page-{}", index + 1),
                        role: Role::Note,
                        title: String::new(),
                        shapes,
                    }],
                    filled: 1.0,
                }
            })
            .collect()
    }

    /// Title, boat, revision and date, what is open, units and policies.
    fn headline(&mut self) {
        let (head, room) = (self.head, self.format.room());
        let right = LEFT + room;
        let given = |what: &str, word: &str| {
            let word = if word.is_empty() { "not given" } else { word };
            format!("{what} {word}")
        };
        // The page number stands at the right of the title.
        let title = shortened(self.title, TITLE, room - 35.0);
        self.words(&title, LEFT, TITLE, true);
        let revision = shortened(
            &format!(
                "{}, {}",
                given("Revision", &head.revision),
                given("date", &head.date)
            ),
            BODY,
            0.5 * room,
        );
        let taken = crate::font::set_width(&revision, BODY);
        let at = (right, self.y + 0.92 * BODY);
        self.put(text(at, &revision, BODY, Anchor::End, false));
        let boat = match head.subtitle.as_str() {
            "" => head.boat.clone(),
            subtitle => format!("{}, {subtitle}", head.boat),
        };
        let boat = shortened(&boat, BODY, room - taken - 4.0);
        self.words(&boat, LEFT, BODY, true);
        let people: Vec<String> = [
            ("No.", &head.number),
            ("Owner", &head.owner),
            ("Drawn by", &head.creator),
            ("Approved by", &head.approved_by),
        ]
        .into_iter()
        .filter(|(_, word)| !word.is_empty())
        .map(|(what, word)| format!("{what} {word}"))
        .chain([format!("Netlist {}", head.fingerprint)])
        .collect();
        let people = shortened(&people.join("; "), SMALL, room);
        self.words(&people, LEFT, SMALL, false);
        self.y += 0.6;
        self.across(self.y, 0.5);
        self.y += 0.6;
        self.lines(&head.open, true);
        self.lines(
            &format!("{}. {}.", head.units, sentence(&head.policy)),
            false,
        );
        self.y += 1.2;
    }

    /// Title, whose boat, which revision, what is open, and units: what a page needs that lies alone.
    fn short_headline(&mut self) {
        let (head, room) = (self.head, self.format.room());
        let title = shortened(self.title, BODY, 0.5 * room);
        let mut about = vec![head.boat.clone()];
        about.extend((!head.revision.is_empty()).then(|| format!("revision {}", head.revision)));
        about.extend((!head.date.is_empty()).then(|| head.date.clone()));
        about.push(format!("netlist {}", head.fingerprint));
        let left = LEFT + crate::font::set_width(&title, BODY) + 4.0;
        let about = shortened(&about.join(", "), SMALL, LEFT + room - 32.0 - left);
        let at = (left, self.y + 0.92 * BODY);
        self.put(text(at, &about, SMALL, Anchor::Start, false));
        self.words(&title, LEFT, BODY, true);
        self.y += 0.4;
        self.across(self.y, 0.5);
        self.y += 0.4;
        let taken = crate::font::set_width(&head.open, SMALL);
        let units = format!("{}.", head.units);
        if taken + 4.0 + crate::font::set_width(&units, SMALL) <= room {
            let at = (LEFT + taken + 4.0, self.y + 0.92 * SMALL);
            self.put(text(at, &units, SMALL, Anchor::Start, false));
            self.words(&head.open, LEFT, SMALL, true);
        } else {
            self.lines(&head.open, true);
            self.lines(&units, false);
        }
        self.y += 0.8;
    }

    /// Who comes first, beside the page's number in the document.
    fn foot(&mut self) {
        let wide = crate::font::set_width(DEFERENCE, 1.0);
        let size = crate::units::round_down_to((self.format.room() / wide).min(SMALL), 0.01);
        let at = (LEFT, self.format.height - 10.0);
        self.put(text(at, DEFERENCE, size, Anchor::Start, false));
    }

    fn lines(&mut self, words: &str, bold: bool) {
        for line in wrapped(words, SMALL, self.format.room()) {
            self.words(&line, LEFT, SMALL, bold);
        }
    }
}

/// The text with its first letter in capitals.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map(|first| first.to_uppercase().chain(letters).collect())
        .unwrap_or_default()
}
