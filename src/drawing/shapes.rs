//! The plain shapes that drawings and papers are made of: letters, lines, rectangles.

use super::scene::{Anchor, At, Form, Mark, Rgb, Shape, Stroke};
use super::symbols::LINE;

/// Black letters.
pub(super) fn text(at: At, words: impl Into<String>, size: f64, anchor: Anchor) -> Shape {
    Shape {
        form: Form::Text {
            at,
            text: words.into(),
            size,
            anchor,
            bold: false,
        },
        stroke: None,
        fill: Some(Rgb::BLACK),
        mark: Mark::Plain,
    }
}

/// Black heavy letters.
pub(super) fn heavy(at: At, words: impl Into<String>, size: f64, anchor: Anchor) -> Shape {
    let mut shape = text(at, words, size, anchor);
    if let Form::Text { bold, .. } = &mut shape.form {
        *bold = true;
    }
    shape
}

/// A black line from point to point.
pub(super) fn line(points: impl Into<Vec<At>>, width: f64) -> Shape {
    Shape {
        form: Form::Polyline(points.into()),
        stroke: Some(Stroke::black(width)),
        fill: None,
        mark: Mark::Plain,
    }
}

/// A rectangle with or without a black border, of so much width, and a filling.
pub(super) fn rect(
    at: At,
    (width, height): (f64, f64),
    stroke: Option<f64>,
    fill: Option<Rgb>,
) -> Shape {
    Shape {
        form: Form::Rect {
            at,
            width,
            height,
            radius: 0.0,
        },
        stroke: stroke.map(Stroke::black),
        fill,
        mark: Mark::Plain,
    }
}

/// A black rectangle, such as a bar.
pub(super) fn filled(at: At, size: (f64, f64)) -> Shape {
    rect(at, size, None, Some(Rgb::BLACK))
}

/// A white rectangle with a line around it, such as a box.
pub(super) fn outline(at: At, size: (f64, f64)) -> Shape {
    rect(at, size, Some(LINE), Some(Rgb::WHITE))
}
