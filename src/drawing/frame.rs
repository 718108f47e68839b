//! Frame, grid letters, title block and cautions of a sheet.
//!
//! Frame and margins after ISO 5457, fields of the title block after ISO 7200, both from memory.

use super::bench::{cut_to, wrapped};
use super::font;
use super::layout::whole;
use super::pages::Room;
use super::scene::{Anchor, Group, Role, Sheet};
use super::shapes::{heavy, line, rect, text};
use super::words::{self, HEADING, SMALL, TEXT};
use super::{Format, SheetOptions};
use crate::system::System;

/// Margin on the filing edge, in mm.
pub(super) const FILING_MARGIN: f64 = 20.0;
/// Margin on the other edges, in mm.
pub(super) const MARGIN: f64 = 10.0;
/// Width of the strip of grid letters between margin and frame, in mm.
const BORDER: f64 = 4.0;
/// Width of the title block on wide and on narrow sheets, in mm.
const TITLE_WIDTHS: [f64; 2] = [180.0, 150.0];
/// Height of the title block, in mm.
const TITLE_HEIGHT: f64 = 30.0;
/// Length of a field of the border, in mm.
const FIELD: f64 = 50.0;
/// Room between the frame and what stands in it, in mm.
const INSET: f64 = 4.0;
/// Room between two strips, in mm.
const STRIP_GAP: f64 = 7.5;
/// Size of captions and cautions, in mm.
const FINE: f64 = 1.8;
/// Language of the drawing, a code of ISO 639.
const LANGUAGE: &str = "en";
/// Row letters of the border: no I and no O.
const LETTERS: &[u8] = b"ABCDEFGHJKLMNPQRSTUVWXYZ";

/// Cautions of the drawing, in the order in which they matter.
const CAUTIONS: &[&str] = &[
    "Disconnect first: shore lead out, chargers off, battery switches off, battery negative, then positive.",
    "Never fit a larger overcurrent device to stop it opening: find the fault.",
    "Gasoline vapour: open up, run the blower, sniff; only ignition-protected parts in such spaces.",
    "Values marked * are assumed or chosen by the program; ? is not given: a blank is not a zero.",
    "AC is out of scope; AC and DC colours can be alike. Hull and bonding never carry a return.",
];

/// Sides of the frame: left, top, right, bottom.
fn frame(size: Format) -> (f64, f64, f64, f64) {
    let Format { width, height, .. } = size;
    (
        FILING_MARGIN + BORDER,
        MARGIN + BORDER,
        width - MARGIN - BORDER,
        height - MARGIN - BORDER,
    )
}

fn title_width(size: Format) -> f64 {
    TITLE_WIDTHS[usize::from(!size.wide)]
}

/// What rows may fill on a sheet, by its index.
pub(super) fn room(size: Format, sheet: usize) -> Room {
    let (left, top, right, bottom) = frame(size);
    let above = bottom - TITLE_HEIGHT - INSET / 2.0;
    // Cautions stand beside the title block of the first sheet; on later ones the room is free.
    let beside = if sheet == 0 {
        above
    } else {
        bottom - INSET / 2.0
    };
    Room {
        left: left + INSET,
        width: right - left - 2.0 * INSET,
        top: top + INSET,
        bottoms: [beside, above],
        title: right - title_width(size),
    }
}

/// Width of a strip: half of a wide sheet.
pub(super) fn strip_width(size: Format) -> f64 {
    let room = room(size, 0);
    if size.wide {
        (room.width - STRIP_GAP) / 2.0
    } else {
        room.width
    }
}

/// Name of the field of the border that a point lies in, such as `C4`.
pub(super) fn field(size: Format, (x, y): (f64, f64)) -> String {
    let (left, top, right, bottom) = frame(size);
    let column = index_in(x, left, right) + 1;
    let row = index_in(y, top, bottom).min(LETTERS.len() - 1);
    format!("{}{column}", char::from(LETTERS[row]))
}

fn index_in(at: f64, from: f64, to: f64) -> usize {
    inner_edges(from, to).filter(|&edge| at >= edge).count()
}

/// Edges of the fields along one side: of 50 mm from its middle outward.
fn fields(from: f64, to: f64) -> Vec<f64> {
    let mut edges = vec![from];
    edges.extend(inner_edges(from, to));
    edges.push(to);
    edges
}

/// The edges between two fields.
fn inner_edges(from: f64, to: f64) -> impl Iterator<Item = f64> {
    let middle = f64::midpoint(from, to);
    let half = ((middle - from) / FIELD).ceil().max(1.0);
    std::iter::successors(Some(1.0 - half), |step| Some(step + 1.0))
        .take_while(move |&step| step < half)
        .map(move |step| middle + step * FIELD)
}

/// Frame and grid letters.
pub(super) fn border(size: Format) -> Group {
    let (left, top, right, bottom) = frame(size);
    let outer = (left - BORDER, top - BORDER);
    let mut shapes = vec![
        rect(
            outer,
            (right - left + 2.0 * BORDER, bottom - top + 2.0 * BORDER),
            Some(0.25),
            None,
        ),
        rect((left, top), (right - left, bottom - top), Some(0.7), None),
    ];
    let columns = fields(left, right);
    for (index, pair) in columns.windows(2).enumerate() {
        let middle = f64::midpoint(pair[0], pair[1]);
        let name = (index + 1).to_string();
        for y in [top - 1.1, bottom + 2.9] {
            shapes.push(text((middle, y), name.clone(), TEXT, Anchor::Middle));
        }
        if index > 0 {
            shapes.push(line(vec![(pair[0], top - BORDER), (pair[0], top)], 0.35));
            shapes.push(line(
                vec![(pair[0], bottom), (pair[0], bottom + BORDER)],
                0.35,
            ));
        }
    }
    let rows = fields(top, bottom);
    for (index, pair) in rows.windows(2).enumerate() {
        let middle = f64::midpoint(pair[0], pair[1]) + 0.9;
        let name = char::from(LETTERS[index.min(LETTERS.len() - 1)]).to_string();
        for x in [left - 2.0, right + 2.0] {
            shapes.push(text((x, middle), name.clone(), TEXT, Anchor::Middle));
        }
        if index > 0 {
            shapes.push(line(vec![(left - BORDER, pair[0]), (left, pair[0])], 0.35));
            shapes.push(line(
                vec![(right, pair[0]), (right + BORDER, pair[0])],
                0.35,
            ));
        }
    }
    Group {
        id: "frame".to_owned(),
        role: Role::Frame,
        title: String::new(),
        shapes,
    }
}

/// A cell of the title block: left, top, width, height, caption, value, size of the value, drawn heavier.
type TitleCell = (f64, f64, f64, f64, &'static str, String, f64, bool);

/// What stands under the title: caption and words. A part of the boat and a state name themselves there.
fn subject(system: &System, options: &SheetOptions) -> (&'static str, String) {
    match (&options.selection, &options.standing) {
        (Some(part), Some(standing)) => (
            "part and state shown",
            format!("{}; {}", part.title, standing.title),
        ),
        (Some(part), None) => ("part of the boat shown", part.title.clone()),
        (None, Some(standing)) => ("state shown", standing.title.clone()),
        (None, None) => ("supplementary title", system.boat.subtitle.clone()),
    }
}

/// Words in one line of a width, or in two; what is too long for two ends in an ellipsis and stands in the index.
fn in_two_lines(words: &str, width: f64) -> Vec<String> {
    let lines = wrapped(words, TEXT, width);
    match lines
        .first()
        .map(|first| (first, words.strip_prefix(first.as_str())))
    {
        Some((first, Some(rest))) if lines.len() > 1 => {
            vec![first.clone(), cut_to(rest.trim_start(), TEXT, width)]
        }
        _ => vec![cut_to(words, TEXT, width)],
    }
}

/// The title block.
pub(super) fn title(
    system: &System,
    options: &SheetOptions,
    size: Format,
    sheet: &Sheet,
    names: &[String],
) -> Group {
    let boat = &system.boat;
    let (_, _, right, bottom) = frame(size);
    let block = title_width(size);
    let (x, y) = (right - block, bottom - TITLE_HEIGHT);
    let wide = block - 45.0;
    let given = |text: &str| {
        if text.trim().is_empty() {
            "–".to_owned()
        } else {
            text.to_owned()
        }
    };
    let mut shapes = vec![rect((x, y), (block, TITLE_HEIGHT), Some(0.7), None)];
    let (caption, words) = subject(system, options);
    let subject = in_two_lines(&given(&words), wide - 47.0);
    // Two lines take their room from the row below.
    let low = if subject.len() > 1 { 21.3 } else { 19.0 };
    let last_row = TITLE_HEIGHT - low;
    let number = format!("{} / {}", sheet.number, sheet.count);
    let document_type = sheet.kind.document_type();
    let cells: &[TitleCell] = &[
        (
            0.0,
            0.0,
            45.0,
            7.5,
            "legal owner",
            given(&boat.owner),
            TEXT,
            false,
        ),
        (
            0.0,
            7.5,
            45.0,
            7.5,
            "creator",
            given(&boat.creator),
            TEXT,
            false,
        ),
        (
            0.0,
            15.0,
            45.0,
            7.5,
            "approval person",
            given(&boat.approved_by),
            TEXT,
            false,
        ),
        (
            0.0,
            22.5,
            45.0,
            7.5,
            "netlist fingerprint",
            given(&options.fingerprint),
            TEXT,
            false,
        ),
        (
            45.0,
            0.0,
            wide - 15.0,
            12.0,
            "title",
            format!("{} – DC wiring", boat.name),
            HEADING + 1.5,
            true,
        ),
        (
            45.0,
            12.0,
            wide - 45.0,
            low - 12.0,
            caption,
            String::new(),
            TEXT,
            false,
        ),
        (
            block - 45.0,
            12.0,
            45.0,
            low - 12.0,
            "identification number",
            given(&boat.number),
            TEXT,
            false,
        ),
        (
            45.0,
            low,
            wide - 65.0,
            last_row,
            "document type",
            String::new(),
            TEXT,
            false,
        ),
        (
            block - 65.0,
            low,
            14.0,
            last_row,
            "rev.",
            given(&boat.revision),
            HEADING,
            true,
        ),
        (
            block - 51.0,
            low,
            27.0,
            last_row,
            "date of issue",
            given(&boat.date),
            TEXT,
            false,
        ),
        (
            block - 24.0,
            low,
            24.0,
            last_row,
            "sheet",
            number,
            HEADING,
            true,
        ),
        (
            block - 15.0,
            0.0,
            15.0,
            6.0,
            "language",
            LANGUAGE.to_owned(),
            TEXT,
            false,
        ),
        (
            block - 15.0,
            6.0,
            15.0,
            6.0,
            "paper",
            size.paper.to_owned(),
            TEXT,
            false,
        ),
    ];
    for (left, top, width, height, caption, value, letters, bold) in cells {
        shapes.push(rect(
            (x + left, y + top),
            (*width, *height),
            Some(0.25),
            None,
        ));
        shapes.push(text(
            (x + left + 1.0, y + top + 2.2),
            *caption,
            FINE,
            Anchor::Start,
        ));
        // A heavy face is wider than the measured one.
        let room = (width - 2.0) / if *bold { 1.1 } else { 1.0 };
        let value = cut_to(value, *letters, room);
        let base = y + top + height - if *height > 9.0 { 3.0 } else { 1.5 };
        let write = if *bold { heavy } else { text };
        shapes.push(write(
            (x + left + 1.0, base),
            value,
            *letters,
            Anchor::Start,
        ));
    }
    // The document type takes two lines.
    let last = subject.len() - 1;
    let room = wide - 67.0;
    // As many names as there is room for, and how many more there are.
    let named = |size: f64| {
        let most = (1..=names.len()).rev();
        most.map(|most| words::few(names, most))
            .find(|words| font::width(words, size) <= room)
            .map(|words| (words, size))
    };
    let (named, size_of_names) = named(TEXT)
        .or_else(|| named(SMALL))
        .unwrap_or_else(|| (cut_to(&sheet.title, SMALL, room), SMALL));
    let (foot, leading) = if last == 0 { (1.8, 3.6) } else { (1.3, 2.7) };
    let two_lines = [(document_type, TEXT), (named.as_str(), size_of_names)];
    for (index, (words, size)) in two_lines.into_iter().enumerate() {
        let at = (
            x + 46.0,
            y + TITLE_HEIGHT - foot - leading * (1 - index) as f64,
        );
        shapes.push(text(at, words, size, Anchor::Start));
    }
    for (index, words) in subject.into_iter().enumerate() {
        let at = (x + 46.0, y + low - 1.5 + 2.9 * (index as f64 - last as f64));
        shapes.push(text(at, words, TEXT, Anchor::Start));
    }
    Group {
        id: "title-block".to_owned(),
        role: Role::Block {
            name: "title".to_owned(),
        },
        title: String::new(),
        shapes,
    }
}

/// Printed cautions, beside the title block of the first sheet.
pub(super) fn cautions(size: Format) -> Group {
    let (left, _, right, bottom) = frame(size);
    let width = right - left - title_width(size);
    let (x, y) = (left, bottom - TITLE_HEIGHT);
    let mut shapes = vec![rect((x, y), (width, TITLE_HEIGHT), Some(0.35), None)];
    let mut lines = Vec::new();
    let most = whole((width - 4.0) / (0.6 * FINE));
    for (index, caution) in CAUTIONS.iter().enumerate() {
        for (part, words) in words::wrap(caution, most.saturating_sub(2))
            .into_iter()
            .enumerate()
        {
            lines.push(if part == 0 {
                format!("{} {words}", index + 1)
            } else {
                format!("  {words}")
            });
        }
    }
    let deference = crate::schedule::DEFERENCE;
    let mut at = y + 3.6;
    shapes.push(heavy((x + 2.0, at), "CAUTION", TEXT, Anchor::Start));
    let left_over = whole((TITLE_HEIGHT - 5.0) / 2.3);
    let closing = words::wrap(deference, most);
    let kept = lines.len().min(left_over.saturating_sub(closing.len()));
    for line in lines.into_iter().take(kept).chain(closing) {
        at += 2.3;
        shapes.push(text((x + 2.0, at), line, FINE, Anchor::Start));
    }
    Group {
        id: "cautions".to_owned(),
        role: Role::Block {
            name: "cautions".to_owned(),
        },
        title: String::new(),
        shapes,
    }
}
