//! Symbols on the drawing, on a grid of 2.5 mm, drawn with the supply on the left.
//!
//! Shapes follow IEC 60617 as it is universally published; from memory, not read in the standard.
//! Contacts are shown open, as they stand unoperated.

use super::circuit::{CellKind, HubKind};
use super::scene::{Anchor, At, Form, Mark, Rgb, Shape, Stroke};
use crate::system::{ComponentKind, Contacts, DeviceKind, GearKind, LoadKind, SourceKind};

/// Width of symbol lines, in mm.
pub(super) const LINE: f64 = 0.35;
/// Width of a wire's colour and of its outline, in mm.
pub(super) const WIRE: f64 = 0.5;
/// Width of the outline under a wire, in mm.
pub(super) const HALO: f64 = 0.85;
/// Dash and gap of what is only told of and not drawn, in mm.
pub(super) const DASHES: (f64, f64) = (1.2, 0.8);
/// Module of the grid, in mm.
pub(super) const MODULE: f64 = 2.5;

/// A symbol in line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Symbol {
    Battery,
    Fuse,
    Breaker,
    Switch,
    BatterySwitch,
    Push,
    Float,
    Key,
    Timer,
    Pressure,
    RelayContact,
    Coil,
    Combiner,
    Diode,
    Shunt,
    ConnectorSocketsFirst,
    ConnectorPinsFirst,
    Splice,
    Lamp,
    Motor,
    Starter,
    Horn,
    Outlet,
    Heater,
    Electronics,
    Consumer,
    Voltmeter,
    Ammeter,
    Instrument,
    Alternator,
    Solar,
    Charger,
    Converter,
    /// In the box of an isolator and of a combiner.
    Isolator,
    Sensing,
    Bunch,
    Plain,
    /// What is drawn as a bar or a box, for the legend.
    Bus,
    Block,
    Post,
    Ground,
    Selector,
    Reference,
    /// A reference to what the sheets do not show.
    Outside,
}

impl Symbol {
    /// Width between its ports, height above and below its axis, in mm.
    pub(super) fn size(self) -> (f64, f64, f64) {
        match self {
            Self::Battery => (10.0, 3.75, 3.75),
            Self::Fuse => (10.0, 1.25, 1.25),
            Self::Breaker | Self::Switch | Self::BatterySwitch | Self::RelayContact => {
                (10.0, 1.0, 2.75)
            }
            Self::Push | Self::Float | Self::Key | Self::Timer | Self::Pressure => {
                (10.0, 1.0, 4.75)
            }
            Self::Coil => (5.0, 2.5, 2.5),
            Self::Combiner => (12.5, 3.0, 3.0),
            Self::Diode => (7.5, 1.75, 1.75),
            Self::Shunt => (10.0, 2.5, 1.25),
            Self::ConnectorSocketsFirst | Self::ConnectorPinsFirst => (7.5, 1.25, 1.25),
            Self::Splice => (2.5, 0.8, 0.8),
            Self::Lamp | Self::Horn | Self::Outlet => (7.5, 2.5, 2.5),
            Self::Motor
            | Self::Starter
            | Self::Alternator
            | Self::Voltmeter
            | Self::Ammeter
            | Self::Instrument => (7.5, 3.0, 3.0),
            Self::Heater
            | Self::Consumer
            | Self::Electronics
            | Self::Plain
            | Self::Reference
            | Self::Outside => (10.0, 1.75, 1.75),
            Self::Solar | Self::Charger | Self::Converter => (7.5, 3.5, 3.5),
            Self::Sensing => (10.0, 2.5, 2.75),
            Self::Bunch => (7.5, 1.5, 1.5),
            Self::Bus
            | Self::Block
            | Self::Post
            | Self::Ground
            | Self::Selector
            | Self::Isolator => (10.0, 3.5, 3.5),
        }
    }

    /// Whether it is drawn as it stands in a state, and open where none is shown.
    pub(super) fn is_contact(self) -> bool {
        matches!(
            self,
            Self::Breaker
                | Self::Switch
                | Self::BatterySwitch
                | Self::Push
                | Self::Float
                | Self::Key
                | Self::Timer
                | Self::Pressure
                | Self::RelayContact
                | Self::Combiner
                | Self::Sensing
        )
    }

    /// The words of the legend.
    pub(super) fn words(self) -> &'static str {
        match self {
            Self::Battery => "battery, long bar positive",
            Self::Fuse => "fuse",
            Self::Breaker => "circuit breaker",
            Self::Switch => "switch",
            Self::BatterySwitch => "battery switch",
            Self::Push => "push button",
            Self::Float => "float switch",
            Self::Key => "key switch",
            Self::Timer => "timer contact",
            Self::Pressure => "pressure switch or thermostat",
            Self::RelayContact => "relay contact",
            Self::Coil => "relay coil",
            Self::Combiner | Self::Sensing => "combiner, closes while charging",
            Self::Diode => "diode",
            Self::Shunt => "shunt",
            Self::ConnectorSocketsFirst => "connector, sockets to supply",
            Self::ConnectorPinsFirst => "connector, pins to supply",
            Self::Splice => "splice",
            Self::Lamp => "lamp",
            Self::Motor => "motor, pump, blower",
            Self::Starter => "cranking motor",
            Self::Horn => "horn, alarm",
            Self::Outlet => "power outlet",
            Self::Heater => "heater",
            Self::Electronics => "electronics",
            Self::Consumer => "other load",
            Self::Voltmeter => "voltmeter",
            Self::Ammeter => "ammeter",
            Self::Instrument => "instrument",
            Self::Alternator => "alternator, generator",
            Self::Solar => "solar array with controller",
            Self::Charger => "charger from AC",
            Self::Converter => "DC-DC converter",
            Self::Isolator => "isolator of two diodes or more",
            Self::Bunch => "several circuits on one line",
            Self::Plain => "part in line",
            Self::Bus => "bus, with its stud numbers",
            Self::Block => "fuse block or panel, with its ways",
            Self::Post => "terminal with several wires",
            Self::Ground => "ground",
            Self::Selector => "switch with several positions",
            Self::Reference => "goes on elsewhere on these sheets",
            Self::Outside => "goes on outside this view",
        }
    }
}

/// A fixed contact, a hinge, or an open end.
pub(super) fn ring(centre: (f64, f64)) -> Shape {
    Shape {
        form: Form::Circle {
            centre,
            radius: 0.6,
        },
        stroke: Some(Stroke::black(LINE)),
        fill: Some(Rgb::WHITE),
        mark: Mark::Plain,
    }
}

/// The symbol of a switch.
pub(super) fn of_gear(kind: GearKind) -> Symbol {
    match kind {
        GearKind::BatterySwitch => Symbol::BatterySwitch,
        GearKind::PanelSwitch => Symbol::Switch,
        GearKind::Key => Symbol::Key,
        GearKind::Float => Symbol::Float,
        GearKind::Push => Symbol::Push,
        GearKind::Timer => Symbol::Timer,
        GearKind::Pressure => Symbol::Pressure,
        GearKind::Relay => Symbol::RelayContact,
        GearKind::Combiner => Symbol::Combiner,
        GearKind::Breaker => Symbol::Breaker,
    }
}

/// The symbol of a load.
pub(super) fn of_load(kind: LoadKind) -> Symbol {
    match kind {
        LoadKind::Lamp => Symbol::Lamp,
        LoadKind::Motor => Symbol::Motor,
        LoadKind::Electronics => Symbol::Electronics,
        LoadKind::Heater => Symbol::Heater,
        LoadKind::Horn => Symbol::Horn,
        LoadKind::Outlet => Symbol::Outlet,
        LoadKind::Starter => Symbol::Starter,
        LoadKind::Coil => Symbol::Coil,
        LoadKind::ConverterInput => Symbol::Converter,
        LoadKind::Other => Symbol::Consumer,
    }
}

/// The symbol of an overcurrent device.
pub(super) fn of_device(kind: DeviceKind) -> Symbol {
    match kind {
        DeviceKind::Fuse => Symbol::Fuse,
        DeviceKind::Breaker | DeviceKind::SelfResetting => Symbol::Breaker,
    }
}

/// The symbol of a source.
pub(super) fn of_source(kind: SourceKind) -> Symbol {
    match kind {
        SourceKind::Battery => Symbol::Battery,
        SourceKind::Alternator => Symbol::Alternator,
        SourceKind::Solar => Symbol::Solar,
        SourceKind::Charger => Symbol::Charger,
        SourceKind::Converter => Symbol::Converter,
    }
}

/// The symbol inside the box of a part with several terminals, where its kind alone says it.
pub(super) fn in_box(component: ComponentKind) -> Option<Symbol> {
    match component {
        ComponentKind::Charger => Some(Symbol::Charger),
        ComponentKind::Converter => Some(Symbol::Converter),
        ComponentKind::Isolator => Some(Symbol::Isolator),
        ComponentKind::Combiner => Some(Symbol::Sensing),
        ComponentKind::Shunt => Some(Symbol::Shunt),
        _ => None,
    }
}

/// What stands for a hub in the legend; none where its box has a symbol of its own.
pub(super) fn of_hub(kind: HubKind, component: ComponentKind) -> Option<Symbol> {
    match (kind, component) {
        (HubKind::Bus, _) => Some(Symbol::Bus),
        (HubKind::Block, _) => Some(Symbol::Block),
        (HubKind::Post, _) => Some(Symbol::Post),
        (HubKind::Splice, _) => Some(Symbol::Splice),
        (HubKind::Ground, _) => Some(Symbol::Ground),
        (HubKind::Box | HubKind::Tie, ComponentKind::Switch | ComponentKind::Relay) => {
            Some(Symbol::Selector)
        }
        (HubKind::Box | HubKind::Tie, component) => in_box(component),
    }
}

/// The symbol of an instrument by the word the file uses.
pub(super) fn of_instrument(word: &str) -> Symbol {
    match word {
        "voltmeter" => Symbol::Voltmeter,
        "ammeter" => Symbol::Ammeter,
        _ => Symbol::Instrument,
    }
}

/// The symbol of a connector, seen in the direction of a rung.
pub(super) fn of_connector(contacts: [Option<Contacts>; 2]) -> Symbol {
    match contacts {
        [Some(Contacts::Pins), _] | [None, Some(Contacts::Sockets)] => Symbol::ConnectorPinsFirst,
        _ => Symbol::ConnectorSocketsFirst,
    }
}

/// Whether the kind of a part in line needs the boat to find its symbol; these do not.
pub(super) fn of_simple(kind: CellKind) -> Option<Symbol> {
    Some(match kind {
        CellKind::Load(_, kind) => of_load(kind),
        CellKind::Battery(_) => Symbol::Battery,
        CellKind::Combiner(_) => Symbol::Combiner,
        CellKind::Splice => Symbol::Splice,
        CellKind::Shunt => Symbol::Shunt,
        CellKind::Diode => Symbol::Diode,
        CellKind::Plain => Symbol::Plain,
        CellKind::Bunch(_) => Symbol::Bunch,
        _ => return None,
    })
}

/// Collects the shapes of one symbol; points are given relative to its left port.
pub(super) struct Pen<'a> {
    /// Left port.
    pub(super) origin: At,
    /// Mirrored left to right about the middle of this width.
    pub(super) mirror: Option<f64>,
    pub(super) shapes: &'a mut Vec<Shape>,
}

impl Pen<'_> {
    fn at(&self, (x, y): At) -> At {
        let x = self.mirror.map_or(x, |width| width - x);
        (self.origin.0 + x, self.origin.1 + y)
    }

    fn push(&mut self, form: Form, stroke: Option<Stroke>, fill: Option<Rgb>) {
        self.shapes.push(Shape {
            form,
            stroke,
            fill,
            mark: Mark::Plain,
        });
    }

    pub(super) fn line(&mut self, points: &[At]) {
        let points = points.iter().map(|&point| self.at(point)).collect();
        self.push(Form::Polyline(points), Some(Stroke::black(LINE)), None);
    }

    fn dashed(&mut self, points: &[At]) {
        let points = points.iter().map(|&point| self.at(point)).collect();
        let stroke = Stroke {
            dash: Some((0.6, 0.5)),
            ..Stroke::black(0.25)
        };
        self.push(Form::Polyline(points), Some(stroke), None);
    }

    pub(super) fn rect(&mut self, (x, y): At, width: f64, height: f64, fill: Option<Rgb>) {
        let corner = self.at((x, y));
        let left = if self.mirror.is_some() {
            corner.0 - width
        } else {
            corner.0
        };
        let form = Form::Rect {
            at: (left, corner.1),
            width,
            height,
            radius: 0.0,
        };
        self.push(form, Some(Stroke::black(LINE)), fill);
    }

    pub(super) fn circle(&mut self, centre: At, radius: f64, fill: Option<Rgb>) {
        let centre = self.at(centre);
        self.push(
            Form::Circle { centre, radius },
            Some(Stroke::black(LINE)),
            fill,
        );
    }

    fn arc(&mut self, centre: At, radius: f64, from: f64, to: f64) {
        let centre = self.at(centre);
        let (from, to) = match self.mirror {
            Some(_) => (180.0 - to, 180.0 - from),
            None => (from, to),
        };
        let form = Form::Arc {
            centre,
            radius,
            from,
            to,
        };
        self.push(form, Some(Stroke::black(LINE)), None);
    }

    fn polygon(&mut self, points: &[At], fill: Option<Rgb>) {
        let points = points.iter().map(|&point| self.at(point)).collect();
        self.push(Form::Polygon(points), Some(Stroke::black(LINE)), fill);
    }

    pub(super) fn letter(&mut self, at: At, text: &str, size: f64) {
        let at = self.at(at);
        let form = Form::Text {
            at,
            text: text.to_owned(),
            size,
            anchor: Anchor::Middle,
            bold: false,
        };
        self.push(form, None, Some(Rgb::BLACK));
    }

    /// Draws a symbol from its left port at the origin.
    pub(super) fn symbol(&mut self, symbol: Symbol) {
        match symbol {
            Symbol::Battery => {
                self.line(&[(0.0, 0.0), (2.5, 0.0)]);
                self.line(&[(7.5, 0.0), (10.0, 0.0)]);
                self.dashed(&[(4.1, 0.0), (5.9, 0.0)]);
                for (short, long) in [(2.5, 4.1), (5.9, 7.5)] {
                    let thick = Stroke::black(1.0);
                    let ends = vec![self.at((short, -1.9)), self.at((short, 1.9))];
                    self.push(Form::Polyline(ends), Some(thick), None);
                    self.line(&[(long, -3.75), (long, 3.75)]);
                }
                self.letter((8.9, -1.0), "+", 2.5);
                self.letter((1.1, -1.0), "−", 2.5);
            }
            Symbol::Fuse => {
                self.line(&[(0.0, 0.0), (10.0, 0.0)]);
                self.rect((1.25, -1.25), 7.5, 2.5, None);
            }
            Symbol::Breaker => {
                self.contact();
                self.line(&[(1.9, -0.6), (3.1, 0.6)]);
                self.line(&[(1.9, 0.6), (3.1, -0.6)]);
            }
            Symbol::Switch | Symbol::RelayContact => self.contact(),
            Symbol::BatterySwitch => {
                self.contact();
                self.circle((2.5, 0.0), 0.6, Some(Rgb::WHITE));
                self.circle((7.5, 0.0), 0.6, Some(Rgb::WHITE));
            }
            Symbol::Push => {
                self.contact();
                self.dashed(&[(5.0, 1.3), (5.0, 4.0)]);
                self.line(&[(3.75, 4.75), (3.75, 4.0), (6.25, 4.0), (6.25, 4.75)]);
            }
            Symbol::Float => {
                self.contact();
                self.dashed(&[(5.0, 1.3), (5.0, 3.2)]);
                self.circle((5.0, 3.95), 0.8, None);
            }
            Symbol::Key => {
                self.contact();
                self.dashed(&[(5.0, 1.3), (5.0, 3.2)]);
                self.circle((5.0, 3.95), 0.8, None);
                self.line(&[(5.0, 3.95), (5.0, 4.75)]);
            }
            Symbol::Timer => {
                self.contact();
                self.dashed(&[(5.0, 1.3), (5.0, 3.0)]);
                self.circle((5.0, 3.85), 0.9, None);
                self.line(&[(5.0, 3.2), (5.0, 3.85), (5.6, 3.85)]);
            }
            Symbol::Pressure => {
                self.contact();
                self.dashed(&[(5.0, 1.3), (5.0, 3.4)]);
                self.rect((3.75, 3.4), 2.5, 1.35, None);
            }
            Symbol::Coil => {
                self.line(&[(0.0, 0.0), (1.25, 0.0)]);
                self.line(&[(3.75, 0.0), (5.0, 0.0)]);
                self.rect((1.25, -2.5), 2.5, 5.0, None);
            }
            Symbol::Combiner => {
                self.rect((1.25, -3.0), 10.0, 6.0, None);
                self.line(&[(0.0, 0.0), (3.5, 0.0)]);
                self.line(&[(9.0, 0.0), (12.5, 0.0)]);
                self.line(&[(9.0, 0.0), (4.4, 1.8)]);
                self.letter((6.25, -0.7), "U>", 2.0);
            }
            Symbol::Diode => {
                self.line(&[(0.0, 0.0), (7.5, 0.0)]);
                self.polygon(&[(2.3, -1.6), (2.3, 1.6), (5.2, 0.0)], None);
                self.line(&[(5.2, -1.75), (5.2, 1.75)]);
            }
            Symbol::Shunt => {
                self.line(&[(0.0, 0.0), (1.25, 0.0)]);
                self.line(&[(8.75, 0.0), (10.0, 0.0)]);
                self.rect((1.25, -1.25), 7.5, 2.5, None);
                self.line(&[(2.5, -1.25), (2.5, -2.5)]);
                self.line(&[(7.5, -1.25), (7.5, -2.5)]);
            }
            Symbol::ConnectorSocketsFirst => {
                self.line(&[(0.0, 0.0), (2.0, 0.0)]);
                self.arc((3.25, 0.0), 1.25, 90.0, 270.0);
                self.rect((3.25, -0.5), 2.25, 1.0, Some(Rgb::BLACK));
                self.line(&[(5.5, 0.0), (7.5, 0.0)]);
            }
            Symbol::ConnectorPinsFirst => {
                self.line(&[(0.0, 0.0), (2.0, 0.0)]);
                self.rect((2.0, -0.5), 2.25, 1.0, Some(Rgb::BLACK));
                self.arc((4.25, 0.0), 1.25, -90.0, 90.0);
                self.line(&[(5.5, 0.0), (7.5, 0.0)]);
            }
            Symbol::Splice => {
                self.line(&[(0.0, 0.0), (2.5, 0.0)]);
                self.circle((1.25, 0.0), 0.8, Some(Rgb::BLACK));
            }
            Symbol::Lamp => {
                self.leads(2.5);
                self.circle((3.75, 0.0), 2.5, None);
                let arm = 2.5 * std::f64::consts::FRAC_1_SQRT_2;
                self.line(&[(3.75 - arm, -arm), (3.75 + arm, arm)]);
                self.line(&[(3.75 - arm, arm), (3.75 + arm, -arm)]);
            }
            Symbol::Motor | Symbol::Starter => {
                self.leads(3.0);
                self.circle((3.75, 0.0), 3.0, None);
                self.letter((3.75, 0.7), "M", 2.5);
                self.line(&[(2.5, 1.4), (5.0, 1.4)]);
                self.dashed(&[(2.5, 1.9), (5.0, 1.9)]);
                if symbol == Symbol::Starter {
                    self.circle((3.75, 0.0), 2.6, None);
                }
            }
            Symbol::Alternator => {
                self.leads(3.0);
                self.circle((3.75, 0.0), 3.0, None);
                self.letter((3.75, 0.7), "G", 2.5);
                self.line(&[(2.6, 1.5), (4.9, 1.5)]);
                self.dashed(&[(2.6, 2.0), (4.9, 2.0)]);
            }
            Symbol::Voltmeter | Symbol::Ammeter | Symbol::Instrument => {
                self.leads(3.0);
                self.circle((3.75, 0.0), 3.0, None);
                let letter = match symbol {
                    Symbol::Voltmeter => "V",
                    Symbol::Ammeter => "A",
                    _ => "P",
                };
                self.letter((3.75, 0.9), letter, 2.5);
            }
            Symbol::Horn => {
                self.line(&[(0.0, 0.0), (2.5, 0.0)]);
                self.line(&[(5.0, 0.0), (7.5, 0.0)]);
                self.rect((2.5, -1.0), 1.25, 2.0, None);
                self.polygon(&[(3.75, -1.0), (5.0, -2.5), (5.0, 2.5), (3.75, 1.0)], None);
            }
            Symbol::Outlet => {
                self.line(&[(0.0, 0.0), (2.5, 0.0)]);
                self.line(&[(5.0, 0.0), (7.5, 0.0)]);
                self.line(&[(5.0, -2.5), (5.0, 2.5)]);
                self.arc((5.0, 0.0), 2.5, 90.0, 270.0);
            }
            Symbol::Heater => {
                self.boxed();
                for x in [3.25, 5.0, 6.75] {
                    self.line(&[(x, -1.75), (x, 1.75)]);
                }
            }
            Symbol::Electronics => {
                self.boxed();
                self.line(&[
                    (2.6, 0.6),
                    (3.4, 0.6),
                    (3.4, -0.6),
                    (4.2, -0.6),
                    (4.2, 0.6),
                    (5.0, 0.6),
                    (5.0, -0.6),
                    (5.8, -0.6),
                    (5.8, 0.6),
                    (6.6, 0.6),
                    (6.6, -0.6),
                    (7.4, -0.6),
                ]);
            }
            Symbol::Bunch => {
                self.line(&[(0.0, 0.0), (7.5, 0.0)]);
                for x in [1.5, 2.75, 4.0] {
                    self.line(&[(x - 0.75, 1.5), (x + 0.75, -1.5)]);
                }
                self.polygon(&[(5.75, -0.9), (7.5, 0.0), (5.75, 0.9)], Some(Rgb::BLACK));
            }
            Symbol::Consumer | Symbol::Plain => self.boxed(),
            Symbol::Solar => {
                self.line(&[(0.0, 0.0), (0.5, 0.0)]);
                self.line(&[(7.0, 0.0), (7.5, 0.0)]);
                self.rect((0.5, -3.25), 6.5, 6.5, None);
                self.line(&[(1.5, 1.2), (3.2, 1.2)]);
                self.line(&[(3.2, 0.3), (3.2, 2.1)]);
                self.line(&[(4.0, -0.4), (4.0, 2.8)]);
                self.line(&[(4.0, 1.2), (6.0, 1.2)]);
                for x in [1.2, 3.0] {
                    self.line(&[(x, -2.8), (x + 1.2, -1.3)]);
                    self.line(&[(x + 0.4, -1.5), (x + 1.2, -1.3), (x + 1.1, -2.1)]);
                }
            }
            Symbol::Bus => {
                self.rect((4.0, -3.5), 2.0, 7.0, Some(Rgb::BLACK));
                for y in [-2.0, 2.0] {
                    self.line(&[(5.0, y), (10.0, y)]);
                    self.circle((5.0, y), 0.8, Some(Rgb::BLACK));
                }
            }
            Symbol::Block => {
                self.rect((0.0, -3.5), 10.0, 7.0, None);
                self.rect((0.4, -3.0), 0.8, 6.0, Some(Rgb::BLACK));
                for y in [-1.6, 1.6] {
                    self.line(&[(1.2, y), (10.0, y)]);
                    self.rect((3.0, y - 0.8), 4.8, 1.6, None);
                }
            }
            Symbol::Post => {
                self.rect((4.5, -2.8), 1.0, 5.6, Some(Rgb::BLACK));
                for y in [-2.0, 2.0] {
                    self.line(&[(5.0, y), (10.0, y)]);
                    self.circle((5.0, y), 0.8, Some(Rgb::BLACK));
                }
            }
            Symbol::Ground => {
                self.line(&[(5.0, -3.5), (5.0, 0.0)]);
                for (y, half) in [(0.0, 2.4), (0.9, 1.5), (1.8, 0.6)] {
                    self.line(&[(5.0 - half, y), (5.0 + half, y)]);
                }
            }
            Symbol::Selector => {
                self.rect((0.0, -3.5), 10.0, 7.0, None);
                self.line(&[(2.2, 0.0), (7.0, -2.2)]);
                for y in [-2.2, 0.0, 2.2] {
                    self.circle((7.0, y), 0.6, Some(Rgb::WHITE));
                }
                self.circle((2.2, 0.0), 0.6, Some(Rgb::WHITE));
            }
            Symbol::Reference | Symbol::Outside => {
                self.polygon(
                    &[
                        (0.0, -1.75),
                        (8.0, -1.75),
                        (10.0, 0.0),
                        (8.0, 1.75),
                        (0.0, 1.75),
                    ],
                    None,
                );
                if symbol == Symbol::Outside
                    && let Some(Shape {
                        stroke: Some(stroke),
                        ..
                    }) = self.shapes.last_mut()
                {
                    stroke.dash = Some(DASHES);
                }
            }
            Symbol::Charger | Symbol::Converter => {
                self.line(&[(0.0, 0.0), (0.5, 0.0)]);
                self.line(&[(7.0, 0.0), (7.5, 0.0)]);
                self.rect((0.5, -3.25), 6.5, 6.5, None);
                self.line(&[(0.5, 3.25), (7.0, -3.25)]);
                if symbol == Symbol::Charger {
                    self.letter((2.2, -0.9), "~", 2.5);
                } else {
                    self.line(&[(1.3, -2.0), (3.1, -2.0)]);
                    self.dashed(&[(1.3, -1.3), (3.1, -1.3)]);
                }
                self.line(&[(4.4, 1.2), (6.2, 1.2)]);
                self.dashed(&[(4.4, 1.9), (6.2, 1.9)]);
            }
            Symbol::Isolator => {
                self.line(&[(0.0, 0.0), (2.0, 0.0)]);
                self.line(&[(2.0, -2.0), (2.0, 2.0)]);
                for y in [-2.0, 2.0] {
                    self.line(&[(2.0, y), (10.0, y)]);
                    self.polygon(&[(4.0, y - 1.3), (4.0, y + 1.3), (6.4, y)], None);
                    self.line(&[(6.4, y - 1.4), (6.4, y + 1.4)]);
                }
            }
            Symbol::Sensing => {
                self.contact();
                self.letter((5.0, -0.7), "U>", 2.0);
            }
        }
    }

    fn leads(&mut self, radius: f64) {
        if radius < 3.75 {
            self.line(&[(0.0, 0.0), (3.75 - radius, 0.0)]);
            self.line(&[(3.75 + radius, 0.0), (7.5, 0.0)]);
        }
    }

    fn boxed(&mut self) {
        self.line(&[(0.0, 0.0), (1.25, 0.0)]);
        self.line(&[(8.75, 0.0), (10.0, 0.0)]);
        self.rect((1.25, -1.75), 7.5, 3.5, None);
    }

    /// A make contact, its blade hinged on the load side.
    fn contact(&mut self) {
        self.line(&[(0.0, 0.0), (2.5, 0.0)]);
        self.line(&[(10.0, 0.0), (7.5, 0.0), (2.9, 2.6)]);
    }
}
