//! What a sheet consists of: shapes in millimetres, grouped by what they stand for.
//!
//! Exporters turn these into bytes and need to know nothing of wiring. The origin is the upper left
//! corner of the paper; x grows to the right, y downward. Groups do not nest.

/// A point on the sheet, in mm.
pub type At = (f64, f64);

/// A colour of the screen and of a colour printer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rgb(pub u8, pub u8, pub u8);

impl Rgb {
    /// Black.
    pub const BLACK: Self = Self(0, 0, 0);
    /// White.
    pub const WHITE: Self = Self(255, 255, 255);
}

/// How a line is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stroke {
    /// Width in mm.
    pub width: f64,
    /// Colour.
    pub colour: Rgb,
    /// Lengths of dash and gap in mm; none for an unbroken line.
    pub dash: Option<(f64, f64)>,
}

impl Stroke {
    /// An unbroken black line of a width in mm.
    #[must_use]
    pub const fn black(width: f64) -> Self {
        Self {
            width,
            colour: Rgb::BLACK,
            dash: None,
        }
    }
}

/// Where a text stands against its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// It begins at the point.
    Start,
    /// It is centred on the point.
    Middle,
    /// It ends at the point.
    End,
}

/// A shape.
#[derive(Clone, Debug, PartialEq)]
pub enum Form {
    /// Joined straight lines.
    Polyline(Vec<At>),
    /// A closed outline.
    Polygon(Vec<At>),
    /// A rectangle: upper left corner, width, height, radius of its corners.
    Rect {
        /// Upper left corner.
        at: At,
        /// Width.
        width: f64,
        /// Height.
        height: f64,
        /// Radius of the corners.
        radius: f64,
    },
    /// A circle.
    Circle {
        /// Centre.
        centre: At,
        /// Radius.
        radius: f64,
    },
    /// Part of a circle, clockwise on the sheet from one angle to another, in degrees from the x axis.
    Arc {
        /// Centre.
        centre: At,
        /// Radius.
        radius: f64,
        /// First angle.
        from: f64,
        /// Last angle, larger than the first.
        to: f64,
    },
    /// A line of text; the point lies on its baseline.
    Text {
        /// Point on the baseline.
        at: At,
        /// The text, not escaped.
        text: String,
        /// Font size.
        size: f64,
        /// Where it stands against the point.
        anchor: Anchor,
        /// Drawn heavier.
        bold: bool,
    },
}

/// What a shape is, beside how it looks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Mark {
    /// Part of its group's outline.
    Plain,
    /// The place where a conductor lands, with the terminal's name.
    Port(String),
    /// Black outline under a wire.
    Halo,
    /// The conductor itself.
    Wire,
    /// Decoration that does not count to the group's box.
    Outside,
}

/// One shape with its style.
#[derive(Clone, Debug, PartialEq)]
pub struct Shape {
    /// Geometry.
    pub form: Form,
    /// Line; none for no line.
    pub stroke: Option<Stroke>,
    /// Filling; none for no filling.
    pub fill: Option<Rgb>,
    /// What it is.
    pub mark: Mark,
}

/// Pole of a wire.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Pole {
    /// Ungrounded.
    Positive,
    /// Returned to the negative.
    Negative,
}

/// What a group stands for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Role {
    /// Frame, grid letters and other furniture of the sheet.
    Frame,
    /// The space of a zone, with its name and the number of this rectangle among those of the zone on the sheet.
    Zone {
        /// Name of the rectangle: the zone's, with a number from the second one on.
        name: String,
    },
    /// One piece of a conductor.
    Wire {
        /// Wire number.
        number: String,
        /// Terminal at its first end, where this piece has it.
        from: Option<String>,
        /// Terminal at its last end, where this piece has it.
        to: Option<String>,
        /// Pole.
        pole: Pole,
    },
    /// Label of a wire.
    WireLabel {
        /// Wire number.
        number: String,
    },
    /// A component, or one piece of it.
    Part {
        /// Designation.
        name: String,
        /// Number of the piece, where the component is drawn in several places.
        piece: Option<u32>,
        /// Rectangle of the zone it stands in.
        zone: Option<String>,
        /// Kind of symbol.
        kind: &'static str,
    },
    /// Title block, legend, table, cautions.
    Block {
        /// Name of the block.
        name: String,
    },
    /// Mark of a finding beside the element it is about.
    Finding {
        /// Number of the finding in the index.
        number: usize,
        /// Rule.
        rule: &'static str,
        /// Word for its weight.
        severity: &'static str,
    },
    /// Text that belongs to no part.
    Note,
}

/// Kind of a part that stands for the other end of a broken-off wire.
pub const OFFSHEET: &str = "offsheet";

/// Shapes that belong together.
#[derive(Clone, Debug, PartialEq)]
pub struct Group {
    /// Id, unique on its sheet.
    pub id: String,
    /// What it stands for.
    pub role: Role,
    /// Text shown on pointing at it; empty for none.
    pub title: String,
    /// Its shapes, lowest first.
    pub shapes: Vec<Shape>,
}

/// What a sheet is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum SheetKind {
    /// The whole boat with one line for both poles.
    Overview,
    /// Every conductor.
    Wiring,
    /// Where everything stands.
    Index,
    /// Something to work by at the bench, at exact size.
    Bench,
    /// Something at exact size that is longer than the paper of the lists.
    Roll,
    /// A page of a list.
    List,
}

impl SheetKind {
    /// Document type in the title block.
    #[must_use]
    pub fn document_type(self) -> &'static str {
        match self {
            Self::Overview => "Overview diagram",
            Self::Wiring => "Circuit diagram",
            Self::Index => "Index of sheets",
            Self::Bench | Self::Roll => "Bench sheet",
            Self::List => "List",
        }
    }
}

/// One sheet of the drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// What it is for.
    pub kind: SheetKind,
    /// Number from 1.
    pub number: usize,
    /// Number of sheets of this drawing.
    pub count: usize,
    /// Width of the paper in mm.
    pub width: f64,
    /// Height of the paper in mm.
    pub height: f64,
    /// What is drawn on it, for the table of contents.
    pub title: String,
    /// Groups, lowest first.
    pub groups: Vec<Group>,
    /// Share of the room for rows that is taken, 0 to 1.
    pub filled: f64,
}

/// A rectangle: left, top, right, bottom.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Area {
    /// Left edge.
    pub left: f64,
    /// Upper edge.
    pub top: f64,
    /// Right edge.
    pub right: f64,
    /// Lower edge.
    pub bottom: f64,
}

impl Area {
    /// The smallest rectangle that holds both.
    #[must_use]
    pub fn union(self, other: Self) -> Self {
        Self {
            left: self.left.min(other.left),
            top: self.top.min(other.top),
            right: self.right.max(other.right),
            bottom: self.bottom.max(other.bottom),
        }
    }

    /// Whether two rectangles share more than a margin in both directions.
    #[must_use]
    pub fn overlaps(self, other: Self, margin: f64) -> bool {
        self.right.min(other.right) - self.left.max(other.left) > margin
            && self.bottom.min(other.bottom) - self.top.max(other.top) > margin
    }
}

/// Height of letters above the baseline, in em.
const ASCENT_EM: f64 = 0.8;
/// Depth of letters below the baseline, in em.
const DESCENT_EM: f64 = 0.2;

impl Form {
    /// The rectangle around the shape, without the width of its line; none for an empty shape.
    #[must_use]
    pub fn area(&self) -> Option<Area> {
        match self {
            Self::Polyline(points) | Self::Polygon(points) => points
                .iter()
                .map(|&(x, y)| Area {
                    left: x,
                    top: y,
                    right: x,
                    bottom: y,
                })
                .reduce(Area::union),
            Self::Rect {
                at: (x, y),
                width,
                height,
                ..
            } => Some(Area {
                left: *x,
                top: *y,
                right: x + width,
                bottom: y + height,
            }),
            // A part of a circle is given the room of the whole one: a little too much does no harm.
            Self::Circle { centre, radius } | Self::Arc { centre, radius, .. } => Some(Area {
                left: centre.0 - radius,
                top: centre.1 - radius,
                right: centre.0 + radius,
                bottom: centre.1 + radius,
            }),
            Self::Text {
                at: (x, y),
                text,
                size,
                anchor,
                ..
            } => {
                let width = super::font::width(text, *size);
                let left = match anchor {
                    Anchor::Start => *x,
                    Anchor::Middle => x - width / 2.0,
                    Anchor::End => x - width,
                };
                Some(Area {
                    left,
                    top: y - ASCENT_EM * size,
                    right: left + width,
                    bottom: y + DESCENT_EM * size,
                })
            }
        }
    }
}
