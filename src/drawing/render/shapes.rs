//! The plain shapes that all others are made of.

use crate::drawing::scene::{Anchor, Form, Mark, Rgb, Shape, Stroke};
use crate::drawing::symbols::LINE;

/// Radius of the dot where a wire meets a bar, in mm.
const DOT: f64 = 0.8;

pub(super) fn text(at: (f64, f64), content: &str, size: f64, anchor: Anchor) -> Shape {
    Shape {
        form: Form::Text {
            at,
            text: content.to_owned(),
            size,
            anchor,
            bold: false,
        },
        stroke: None,
        fill: Some(Rgb::BLACK),
        mark: Mark::Plain,
    }
}

pub(super) fn filled(at: (f64, f64), width: f64, height: f64) -> Shape {
    Shape {
        form: Form::Rect {
            at,
            width,
            height,
            radius: 0.0,
        },
        stroke: None,
        fill: Some(Rgb::BLACK),
        mark: Mark::Plain,
    }
}

pub(super) fn outline(at: (f64, f64), width: f64, height: f64) -> Shape {
    Shape {
        form: Form::Rect {
            at,
            width,
            height,
            radius: 0.0,
        },
        stroke: Some(Stroke::black(LINE)),
        fill: Some(Rgb::WHITE),
        mark: Mark::Plain,
    }
}

pub(super) fn line(points: Vec<(f64, f64)>, width: f64) -> Shape {
    Shape {
        form: Form::Polyline(points),
        stroke: Some(Stroke::black(width)),
        fill: None,
        mark: Mark::Plain,
    }
}

pub(super) fn dot(centre: (f64, f64)) -> Shape {
    Shape {
        form: Form::Circle {
            centre,
            radius: DOT,
        },
        stroke: None,
        fill: Some(Rgb::BLACK),
        mark: Mark::Outside,
    }
}

pub(super) fn port(centre: (f64, f64), name: String) -> Shape {
    Shape {
        form: Form::Circle {
            centre,
            radius: 0.3,
        },
        stroke: None,
        fill: Some(Rgb::BLACK),
        mark: Mark::Port(name),
    }
}
