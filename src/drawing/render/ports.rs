//! Where wires meet what they land on: dots and ports.

use crate::drawing::scene::{Form, Mark, Rgb, Shape};

/// Radius of the dot where a wire meets a bar, in mm.
const DOT: f64 = 0.8;

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
