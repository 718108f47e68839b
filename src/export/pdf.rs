//! Sheets as one PDF: millimetre-exact pages, the shipped font embedded once, text that can be searched.
//!
//! Every glyph stands where layout counted it, by the advances of the shipped font and without kerning.
//! A character that the font lacks is drawn as an empty box; searching still finds it. No date is written and nothing
//! is random, so the same sheets give the same bytes.

use super::words::shown_text;
use crate::drawing::scene::{Anchor, Area, At, Form, Rgb, Shape, Sheet, Stroke};
use crate::font;
use krilla::annotation::{Annotation, LinkAnnotation, Target};
use krilla::color::rgb;
use krilla::destination::XyzDestination;
use krilla::geom::{Path, PathBuilder, Point, Rect, Transform};
use krilla::metadata::Metadata;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, LineCap, LineJoin, StrokeDash};
use krilla::surface::Surface;
use krilla::text::{Font, GlyphId, KrillaGlyph};
use skrifa::MetadataProvider;
use thiserror::Error;

/// Points of a millimetre: 72 to the inch of 25.4 mm.
const POINTS: f64 = 72.0 / 25.4;

/// Width of the line that makes a letter bold, in em.
const BOLD_EM: f64 = 0.035;

/// Reach of a cubic curve's handle for a quarter of a circle.
const QUARTER: f64 = 0.552_284_75;

/// Longest side of a page in mm that readers are bound to show: 14,400 points, ISO 32000-1, annex C.
pub const MAX_SIDE_MM: f64 = 5_080.0;

/// Why there is no PDF.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum Unmade {
    /// A page that no reader shows.
    #[error("page {page} is {width} by {height} mm; a PDF page is at most {MAX_SIDE_MM} mm long")]
    Page {
        /// Number from 1.
        page: usize,
        /// Width in mm, rounded up.
        width: String,
        /// Height in mm, rounded up.
        height: String,
    },
    /// A limit of the format is passed, or the font is damaged.
    #[error("the PDF cannot be written: {0}")]
    Format(String),
}

/// Pages that belong together, with one entry in the bookmarks.
#[derive(Clone, Debug, PartialEq)]
pub struct Chapter<'s> {
    /// Its title.
    pub title: String,
    /// Its pages.
    pub sheets: &'s [Sheet],
    /// Names of what its pages show, each with how many pages it has; empty where the sheets' own titles serve.
    pub parts: Vec<(String, usize)>,
}

/// A rectangle of a page that leads to another page.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Link {
    /// Page that carries it, from 0.
    pub page: usize,
    /// Where it is, in mm.
    pub area: Area,
    /// Page that it leads to, from 0.
    pub target: usize,
}

/// A whole document.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Document<'s> {
    /// Title for the reader's window and for archives.
    pub title: String,
    /// What it is about.
    pub subject: String,
    /// Who made it; empty where not given.
    pub author: String,
    /// Its chapters, in their order.
    pub chapters: Vec<Chapter<'s>>,
    /// Links between its pages.
    pub links: Vec<Link>,
}

/// Writes sheets as one PDF with a bookmark for each.
///
/// # Errors
/// A page longer than a PDF may be, or a document beyond the limits of the format.
pub fn write(title: &str, sheets: &[Sheet]) -> Result<Vec<u8>, Unmade> {
    write_document(&Document {
        title: title.to_owned(),
        chapters: sheets
            .iter()
            .map(|sheet| Chapter {
                title: sheet.title.clone(),
                sheets: std::slice::from_ref(sheet),
                parts: Vec::new(),
            })
            .collect(),
        ..Document::default()
    })
}

/// Writes a document.
///
/// # Errors
/// A page longer than a PDF may be, or a document beyond the limits of the format.
pub fn write_document(document: &Document<'_>) -> Result<Vec<u8>, Unmade> {
    let damaged = || Unmade::Format("the font is damaged".to_owned());
    let map = skrifa::FontRef::new(font::FILE).map_err(|_| damaged())?;
    let pen = Pen {
        font: Font::new(font::FILE.into(), 0).ok_or_else(damaged)?,
        glyphs: map.charmap(),
    };
    let mut pdf = krilla::Document::new();
    let pages: Vec<&Sheet> = document
        .chapters
        .iter()
        .flat_map(|chapter| chapter.sheets)
        .collect();
    for (index, sheet) in pages.iter().enumerate() {
        let mut page = pdf.start_page_with(settings(index, sheet)?);
        let mut surface = page.surface();
        surface.push_transform(&Transform::from_scale(points(1.0), points(1.0)));
        for shape in sheet.groups.iter().flat_map(|group| &group.shapes) {
            pen.shape(&mut surface, shape);
        }
        surface.pop();
        surface.finish();
        for link in document.links.iter().filter(|link| link.page == index) {
            if let Some(link) = annotation(link, pages.len()) {
                page.add_annotation(link);
            }
        }
        page.finish();
    }
    pdf.set_outline(outline(document));
    pdf.set_metadata(metadata(document));
    pdf.finish()
        .map_err(|error| Unmade::Format(error.to_string()))
}

fn settings(index: usize, sheet: &Sheet) -> Result<PageSettings, Unmade> {
    let fits = |side: f64| side.is_finite() && side > 0.0 && side <= MAX_SIDE_MM;
    Some(sheet)
        .filter(|sheet| fits(sheet.width) && fits(sheet.height))
        .and_then(|sheet| PageSettings::from_wh(points(sheet.width), points(sheet.height)))
        .ok_or_else(|| Unmade::Page {
            page: index + 1,
            width: format!("{:.0}", sheet.width.ceil()),
            height: format!("{:.0}", sheet.height.ceil()),
        })
}

fn outline(document: &Document<'_>) -> Outline {
    let mut outline = Outline::new();
    let mut page = 0;
    for chapter in &document.chapters {
        if chapter.sheets.is_empty() {
            continue;
        }
        let at = |page| XyzDestination::new(page, Point::from_xy(0.0, 0.0));
        let mut node = OutlineNode::new(shown_text(&chapter.title).into_owned(), at(page));
        // A list over several pages has one entry; sheets with titles of their own have one each, and so has each
        // thing that several sheets are about.
        let own = chapter
            .sheets
            .iter()
            .any(|sheet| sheet.title != chapter.title);
        if !chapter.parts.is_empty() {
            let mut first = page;
            for (name, pages) in &chapter.parts {
                let title = shown_text(name).into_owned();
                node.push_child(OutlineNode::new(title, at(first)));
                first += pages;
            }
        } else if own {
            for (index, sheet) in chapter.sheets.iter().enumerate() {
                let title = format!("{}: {}", sheet.number, shown_text(&sheet.title));
                node.push_child(OutlineNode::new(title, at(page + index)));
            }
        }
        outline.push_child(node);
        page += chapter.sheets.len();
    }
    outline
}

fn metadata(document: &Document<'_>) -> Metadata {
    let made_by = format!("loomwright {}", env!("CARGO_PKG_VERSION"));
    let mut metadata = Metadata::new()
        .title(shown_text(&document.title).into_owned())
        .creator(made_by)
        .language("en".to_owned());
    if !document.subject.is_empty() {
        metadata = metadata.description(shown_text(&document.subject).into_owned());
    }
    if !document.author.is_empty() {
        metadata = metadata.authors(vec![shown_text(&document.author).into_owned()]);
    }
    metadata
}

fn annotation(link: &Link, pages: usize) -> Option<Annotation> {
    let Area {
        left,
        top,
        right,
        bottom,
    } = link.area;
    let area = Rect::from_ltrb(points(left), points(top), points(right), points(bottom))?;
    let target = XyzDestination::new(link.target, Point::from_xy(0.0, 0.0));
    (link.target < pages).then(|| {
        let link = LinkAnnotation::new(area, Target::Destination(target.into()));
        Annotation::new_link(link, None)
    })
}

/// What a page is drawn with.
struct Pen<'f> {
    font: Font,
    glyphs: skrifa::charmap::Charmap<'f>,
}

impl Pen<'_> {
    fn shape(&self, surface: &mut Surface<'_>, shape: &Shape) {
        if let Form::Text {
            at,
            text,
            size,
            anchor,
            bold,
        } = &shape.form
        {
            let colour = shape.fill.unwrap_or(Rgb::BLACK);
            surface.set_fill(Some(fill(colour)));
            surface.set_stroke(bold.then(|| {
                line(&Stroke {
                    width: BOLD_EM * size,
                    colour,
                    dash: None,
                })
            }));
            self.text(surface, *at, &shown_text(text), *size, *anchor);
            return;
        }
        if shape.fill.is_none() && shape.stroke.is_none() {
            return;
        }
        if let Some(path) = path(&shape.form) {
            surface.set_fill(shape.fill.map(fill));
            surface.set_stroke(shape.stroke.as_ref().map(line));
            surface.draw_path(&path);
        }
    }

    fn text(&self, surface: &mut Surface<'_>, at: At, text: &str, size: f64, anchor: Anchor) {
        let mut glyphs = Vec::with_capacity(text.len());
        let mut width = 0.0;
        for (start, character) in text.char_indices() {
            let advance = font::advance_em(character);
            width += advance;
            let glyph = self
                .glyphs
                .map(character)
                .map_or(0, skrifa::GlyphId::to_u32);
            glyphs.push(KrillaGlyph {
                glyph_id: GlyphId::new(glyph),
                text_range: start..start + character.len_utf8(),
                x_advance: single(advance),
                x_offset: 0.0,
                y_offset: 0.0,
                y_advance: 0.0,
                location: None,
            });
        }
        let left = match anchor {
            Anchor::Start => at.0,
            Anchor::Middle => at.0 - width * size / 2.0,
            Anchor::End => at.0 - width * size,
        };
        if glyphs.is_empty() || !(left.is_finite() && at.1.is_finite() && size > 0.0) {
            return;
        }
        let start = Point::from_xy(single(left), single(at.1));
        surface.draw_glyphs(start, &glyphs, self.font.clone(), text, single(size), false);
    }
}

/// The outline of a shape; none where it has no extent.
fn path(form: &Form) -> Option<Path> {
    let mut path = PathBuilder::new();
    match form {
        Form::Polyline(points) => lines(&mut path, points),
        Form::Polygon(points) => {
            lines(&mut path, points);
            path.close();
        }
        Form::Rect {
            at: (x, y),
            width,
            height,
            radius,
        } => {
            let r = radius.min(width / 2.0).min(height / 2.0).max(0.0);
            let (right, bottom) = (x + width, y + height);
            if r > 0.0 {
                // From the upper edge's left end clockwise, a quarter of a circle at each corner.
                let corners = [
                    ((right - r, y + r), -90.0),
                    ((right - r, bottom - r), 0.0),
                    ((x + r, bottom - r), 90.0),
                    ((x + r, y + r), 180.0),
                ];
                path.move_to(single(x + r), single(*y));
                for (centre, from) in corners {
                    let (start, _) = around(centre, r, from);
                    path.line_to(single(start.0), single(start.1));
                    bend(&mut path, centre, r, (from, from + 90.0));
                }
            } else {
                lines(
                    &mut path,
                    &[(*x, *y), (right, *y), (right, bottom), (*x, bottom)],
                );
            }
            path.close();
        }
        Form::Circle { centre, radius } => {
            arc(&mut path, *centre, *radius, (0.0, 360.0));
            path.close();
        }
        Form::Arc {
            centre,
            radius,
            from,
            to,
        } => arc(&mut path, *centre, *radius, (*from, *to)),
        Form::Text { .. } => return None,
    }
    path.finish()
}

fn lines(path: &mut PathBuilder, points: &[At]) {
    for (index, &(x, y)) in points.iter().enumerate() {
        if index == 0 {
            path.move_to(single(x), single(y));
        } else {
            path.line_to(single(x), single(y));
        }
    }
}

/// A part of a circle in pieces of at most a quarter.
fn arc(path: &mut PathBuilder, centre: At, radius: f64, (from, to): (f64, f64)) {
    // More than a full turn draws the same circle again.
    let turn = (to - from).clamp(0.0, 360.0);
    let (start, _) = around(centre, radius, from);
    path.move_to(single(start.0), single(start.1));
    let mut begin = 0.0;
    while begin < turn {
        let end = (begin + 90.0_f64).min(turn);
        bend(path, centre, radius, (from + begin, from + end));
        begin = end;
    }
}

/// One curve of at most a quarter of a circle, from where the path stands.
fn bend(path: &mut PathBuilder, centre: At, radius: f64, (from, to): (f64, f64)) {
    let reach = if (to - from - 90.0).abs() < 1e-9 {
        QUARTER
    } else {
        4.0 / 3.0 * ((to - from) / 4.0).to_radians().tan()
    } * radius;
    let (start, leave) = around(centre, radius, from);
    let (end, arrive) = around(centre, radius, to);
    path.cubic_to(
        single(start.0 + leave.0 * reach),
        single(start.1 + leave.1 * reach),
        single(end.0 - arrive.0 * reach),
        single(end.1 - arrive.1 * reach),
        single(end.0),
        single(end.1),
    );
}

/// The point of a circle at an angle, and the direction of its line there.
fn around(centre: At, radius: f64, degrees: f64) -> (At, At) {
    let (sin, cos) = degrees.to_radians().sin_cos();
    (
        (centre.0 + radius * cos, centre.1 + radius * sin),
        (-sin, cos),
    )
}

fn fill(colour: Rgb) -> Fill {
    Fill {
        paint: paint(colour).into(),
        ..Fill::default()
    }
}

fn line(stroke: &Stroke) -> krilla::paint::Stroke {
    krilla::paint::Stroke {
        paint: paint(stroke.colour).into(),
        width: single(stroke.width),
        // As SVG has it, so that both pictures are alike.
        miter_limit: 4.0,
        line_cap: LineCap::Butt,
        line_join: LineJoin::Miter,
        dash: stroke.dash.map(|(dash, gap)| StrokeDash {
            array: vec![single(dash), single(gap)],
            offset: 0.0,
        }),
        ..krilla::paint::Stroke::default()
    }
}

fn paint(Rgb(red, green, blue): Rgb) -> rgb::Color {
    rgb::Color::new(red, green, blue)
}

fn points(millimetres: f64) -> f32 {
    single(millimetres * POINTS)
}

/// The number as PDF writers take it: six digits and more, a thousandth of a millimetre on the longest page.
#[allow(clippy::cast_possible_truncation)]
fn single(value: f64) -> f32 {
    value as f32
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::scene::{Group, Mark, Role};

    fn sheet(width: f64, height: f64, forms: Vec<Form>) -> Sheet {
        let shapes = forms
            .into_iter()
            .map(|form| Shape {
                form,
                stroke: Some(Stroke::black(0.25)),
                fill: None,
                mark: Mark::Plain,
            })
            .collect();
        Sheet {
            kind: crate::drawing::SheetKind::Wiring,
            number: 1,
            count: 1,
            width,
            height,
            title: "sample".to_owned(),
            groups: vec![Group {
                id: "g".to_owned(),
                role: Role::Note,
                title: String::new(),
                shapes,
            }],
            filled: 1.0,
        }
    }

    fn text(words: &str) -> Form {
        Form::Text {
            at: (20.0, 30.0),
            text: words.to_owned(),
            size: 3.5,
            anchor: Anchor::Middle,
            bold: true,
        }
    }

    fn count(bytes: &[u8], word: &str) -> usize {
        bytes
            .windows(word.len())
            .filter(|window| *window == word.as_bytes())
            .count()
    }

    /// A4 is 210 by 297 mm (ISO 216), so 595.28 by 841.89 points of 1/72 inch.
    #[test]
    fn each_sheet_is_a_page_of_its_own_size() {
        let sheets = [
            sheet(210.0, 297.0, vec![text("W1")]),
            sheet(420.0, 297.0, Vec::new()),
        ];
        let bytes = write("boat", &sheets).expect("the sheets are sound");
        assert_eq!(
            count(&bytes, "/Type /Page\n") + count(&bytes, "/Type/Page/"),
            2
        );
        let spaced = String::from_utf8_lossy(&bytes).replace("/MediaBox[", "/MediaBox [");
        let boxes: Vec<Vec<f64>> = spaced
            .split("/MediaBox [")
            .skip(1)
            .filter_map(|rest| rest.split(']').next())
            .map(|sides| {
                sides
                    .split_whitespace()
                    .filter_map(|side| side.parse().ok())
                    .collect()
            })
            .collect();
        assert_eq!(boxes.len(), 2);
        for (found, wanted) in boxes.iter().zip([(210.0, 297.0), (420.0, 297.0)]) {
            assert_eq!(&found[..2], &[0.0, 0.0]);
            assert!(
                (found[2] * 25.4 / 72.0 - wanted.0).abs() < 0.001,
                "{found:?}"
            );
            assert!(
                (found[3] * 25.4 / 72.0 - wanted.1).abs() < 0.001,
                "{found:?}"
            );
        }
    }

    #[test]
    fn the_font_is_there_once_and_the_bytes_are_the_same_again() {
        let sheets: Vec<Sheet> = (0..4)
            .map(|_| sheet(210.0, 297.0, vec![text("BILGE PUMP ΩΩ 漢 \u{7} \u{202E}")]))
            .collect();
        let one = write("boat", &sheets).expect("the sheets are sound");
        let two = write("boat", &sheets).expect("the sheets are sound");
        assert_eq!(one, two);
        assert_eq!(count(&one, "/FontFile2"), 1);
        assert_eq!(count(&one, "/CreationDate"), 0);
        assert_eq!(count(&one, "CreateDate"), 0);
    }

    #[test]
    fn any_shape_can_be_written() {
        let odd = vec![
            Form::Polyline(Vec::new()),
            Form::Polyline(vec![(1.0, 1.0)]),
            Form::Polygon(vec![(f64::NAN, 1.0), (2.0, 2.0)]),
            Form::Rect {
                at: (1.0, 1.0),
                width: 10.0,
                height: 4.0,
                radius: 9.0,
            },
            Form::Circle {
                centre: (5.0, 5.0),
                radius: 0.0,
            },
            Form::Arc {
                centre: (5.0, 5.0),
                radius: 2.0,
                from: 30.0,
                to: 1e9,
            },
            text(""),
            text("\u{10FFFF}"),
        ];
        assert!(write("", &[sheet(100.0, 100.0, odd)]).is_ok());
        assert!(write("", &[]).is_ok());
    }

    #[test]
    fn a_page_too_long_for_a_pdf_is_refused_by_name() {
        for side in [0.0, -1.0, f64::NAN, 6000.0] {
            let sheets = [
                sheet(100.0, 100.0, Vec::new()),
                sheet(side, 100.0, Vec::new()),
            ];
            let refused = write("boat", &sheets).expect_err("the second page is impossible");
            assert!(matches!(refused, Unmade::Page { page: 2, .. }), "{refused}");
        }
        let refused = write("boat", &[sheet(6000.0, 100.0, Vec::new())]);
        assert_eq!(
            refused.expect_err("too long").to_string(),
            "page 1 is 6000 by 100 mm; a PDF page is at most 5080 mm long"
        );
    }

    /// The ends of the curves lie on the circle, and so does their middle within a thousandth of its radius.
    #[test]
    fn arcs_are_round() {
        for (from, to) in [(0.0, 90.0), (-30.0, 20.0), (10.0, 80.0)] {
            let reach: f64 = if (to - from - 90.0_f64).abs() < 1e-9 {
                QUARTER
            } else {
                4.0 / 3.0 * ((to - from) / 4.0_f64).to_radians().tan()
            };
            let (start, leave) = around((0.0, 0.0), 1.0, from);
            let (end, arrive) = around((0.0, 0.0), 1.0, to);
            let middle = |s: f64, l: f64, e: f64, a: f64| {
                (s + 3.0 * (s + l * reach) + 3.0 * (e - a * reach) + e) / 8.0
            };
            let x = middle(start.0, leave.0, end.0, arrive.0);
            let y = middle(start.1, leave.1, end.1, arrive.1);
            assert!((x.hypot(y) - 1.0).abs() < 1e-3);
        }
    }
}
