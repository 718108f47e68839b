//! What stands before all papers of a boat: whose they are, the cautions, and where each is found.

use super::columns::pitch;
use super::lines::{shortened, wrapped};
use super::page::{BODY, Format, Hand, LEFT, text};
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
    let right = LEFT + format.room();
    let mut page = before;
    for entry in entries {
        hand.need(LINE);
        let number = format!("{}", page + 1);
        let title = shortened(&entry.title, ENTRY, format.room() - 30.0);
        let pages = match entry.pages {
            1 => "1 page".to_owned(),
            more => format!("{more} pages"),
        };
        let y = hand.y + 0.95 * ENTRY;
        hand.put(text((LEFT, y), &title, ENTRY, Anchor::Start, false));
        hand.put(text((right - 14.0, y), &pages, BODY, Anchor::End, false));
        hand.put(text((right, y), &number, ENTRY, Anchor::End, true));
        let from = LEFT + font::set_width(&title, ENTRY) + 2.0;
        let to = right - 14.0 - font::set_width(&pages, BODY) - 2.0;
        if to > from {
            hand.dots((from, y), to);
        }
        places.push(Place {
            page: hand.pages() - 1,
            area: Area {
                left: LEFT,
                top: hand.y,
                right,
                bottom: hand.y + LINE,
            },
            leads_to: page,
        });
        hand.y += LINE;
        page += entry.pages;
    }
    Front {
        sheets: hand.close(FRONT),
        places,
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

/// Writes the number of a page in the document below everything on it.
pub fn number(sheet: &mut Sheet, number: usize, count: usize) {
    let words = format!("{number} / {count}");
    let at = (sheet.width / 2.0, sheet.height - 4.5);
    if let Some(group) = sheet.groups.first_mut() {
        group
            .shapes
            .push(text(at, &words, 3.2, Anchor::Middle, false));
    }
}
