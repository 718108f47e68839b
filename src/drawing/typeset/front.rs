//! What stands before all papers of a boat: whose they are, the cautions, and where each is found.

use super::columns::pitch;
use super::lines::{shortened, wrapped};
use super::page::{BODY, Format, Hand, LEFT, RIGHT, text};
use crate::drawing::scene::{Anchor, Area, Sheet};
use crate::font;
use crate::schedule::{FRONT_CAUTIONS, Head, Orientation};

/// Title of the first pages.
pub const FRONT: &str = "Front page and contents";

/// A paper in the contents.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// Its title.
    pub title: String,
    /// How many pages it has.
    pub pages: usize,
    /// Names of what its pages show, each with how many pages it has; may be empty.
    pub parts: Vec<(String, usize)>,
}

/// A place of the contents that leads to a page.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Page that carries it, from 0.
    pub page: usize,
    /// Where it is.
    pub area: Area,
    /// Page that it leads to, from 0.
    pub leads_to: usize,
}

/// The first pages of a document.
#[derive(Clone, Debug, PartialEq)]
pub struct Front {
    /// Pages.
    pub sheets: Vec<Sheet>,
    /// Places that lead to the papers.
    pub places: Vec<Place>,
}

/// Height of a line of the contents, in mm.
const LINE: f64 = 6.5;
/// Height of a line below it, for one of its parts, in mm.
const PART_LINE: f64 = 4.8;
/// Lettering of the contents, in mm.
const ENTRY: f64 = 4.0;

/// Sets the front page, the cautions and the contents.
#[must_use]
pub fn front(head: &Head, entries: &[Entry]) -> Front {
    // How many pages the contents take does not hang on the numbers in them.
    let pages = set(head, entries, 0).sheets.len();
    set(head, entries, pages)
}

fn set(head: &Head, entries: &[Entry], before: usize) -> Front {
    let format = Format::new(head.paper, Orientation::Upright);
    let mut hand = Hand::new(head, FRONT, format);
    hand.open();
    cautions(&mut hand);
    let mut places = Vec::new();
    hand.gap(4.0);
    hand.need(4.0 * LINE);
    hand.words("Contents", LEFT, 4.5, true);
    hand.gap(1.0);
    let mut page = before;
    for entry in entries {
        // An entry never stands without the first of its parts.
        hand.need(
            LINE + if entry.parts.is_empty() {
                0.0
            } else {
                PART_LINE
            },
        );
        let line = Line {
            title: &entry.title,
            pages: entry.pages,
            page,
            left: LEFT,
            height: LINE,
            size: ENTRY,
        };
        places.push(line.set(&mut hand));
        let mut first = page;
        for (name, pages) in &entry.parts {
            hand.need(PART_LINE);
            let line = Line {
                title: name,
                pages: *pages,
                page: first,
                left: LEFT + 6.0,
                height: PART_LINE,
                size: BODY,
            };
            places.push(line.set(&mut hand));
            first += pages;
        }
        page += entry.pages;
    }
    Front {
        sheets: hand.close(FRONT),
        places,
    }
}

/// A line of the contents.
struct Line<'t> {
    title: &'t str,
    pages: usize,
    /// Page that it leads to, from 0.
    page: usize,
    left: f64,
    height: f64,
    size: f64,
}

impl Line<'_> {
    fn set(&self, hand: &mut Hand<'_>) -> Place {
        let Self {
            left, size, page, ..
        } = *self;
        let right = LEFT + hand.format.room();
        let number = format!("{}", page + 1);
        let title = shortened(self.title, size, right - left - 30.0);
        let pages = match self.pages {
            1 => "1 page".to_owned(),
            more => format!("{more} pages"),
        };
        let y = hand.y + 0.95 * size;
        hand.put(text((left, y), &title, size, Anchor::Start, false));
        hand.put(text((right - 14.0, y), &pages, BODY, Anchor::End, false));
        let is_bold = self.height >= LINE;
        hand.put(text((right, y), &number, size, Anchor::End, is_bold));
        let from = left + font::set_width(&title, size) + 2.0;
        let to = right - 14.0 - font::set_width(&pages, BODY) - 2.0;
        if to > from {
            hand.dots((from, y), to);
        }
        let place = Place {
            page: hand.pages() - 1,
            area: Area {
                left,
                top: hand.y,
                right,
                bottom: hand.y + self.height,
            },
            leads_to: page,
        };
        hand.y += self.height;
        place
    }
}

fn cautions(hand: &mut Hand<'_>) {
    let room = hand.format.room() - 12.0;
    let top = hand.y;
    hand.y += 1.5;
    hand.words("Cautions: read them before any work", LEFT + 2.0, 4.5, true);
    for (number, caution) in (1..).zip(FRONT_CAUTIONS) {
        let at = (LEFT + 7.0, hand.y + 0.92 * BODY);
        hand.put(text(at, &format!("{number}."), BODY, Anchor::End, false));
        for line in wrapped(caution, BODY, room) {
            hand.words(&line, LEFT + 9.0, BODY, false);
        }
        hand.y += 0.25 * pitch(BODY);
    }
    hand.y += 1.0;
    hand.heavy_frame(top);
}

/// Writes the number of a page in the document below everything on it: at the right, where no bar to measure lies.
pub fn number(sheet: &mut Sheet, number: usize, count: usize) {
    let words = format!("{number} / {count}");
    let at = (sheet.width - RIGHT, sheet.height - 4.5);
    if let Some(group) = sheet.groups.first_mut() {
        group.shapes.push(text(at, &words, 3.2, Anchor::End, false));
    }
}
