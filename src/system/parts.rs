//! Components, their terminals, and the links between nodes.

use super::{
    BankId, CableId, Chemistry, CircuitId, ComponentId, ConductorId, DeviceId, GearId, Given,
    Known, LinkId, LoadId, NodeId, PointId, SourceId, Stretch, TerminalId, ZoneId,
};
use crate::source::Span;
use crate::units::{AmpHours, Amps, Celsius, Gauge, Hours, Metres, Ohms, Volts, Watts};

/// What a component is, by the section of the file it stands in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum ComponentKind {
    /// Battery.
    Battery,
    /// Switch.
    Switch,
    /// Relay, solenoid, contactor.
    Relay,
    /// Voltage-sensitive combiner.
    Combiner,
    /// Diode isolator.
    Isolator,
    /// Single fuse.
    Fuse,
    /// Breaker.
    Breaker,
    /// Fuse block or breaker panel.
    FuseBlock,
    /// Bus bar.
    Bus,
    /// Load.
    Load,
    /// Shore charger.
    Charger,
    /// Alternator or generator.
    Alternator,
    /// DC-DC converter.
    Converter,
    /// Solar array with controller.
    Solar,
    /// Gauge, meter, sender.
    Instrument,
    /// Shunt.
    Shunt,
    /// Multi-way connector.
    Connector,
    /// Splice.
    Splice,
    /// Engine block, hull, bonding.
    Ground,
}

/// Which pole a bus or a ground is meant to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Polarity {
    /// Ungrounded.
    Positive,
    /// Returned to the negative.
    Negative,
    /// Bonding or grounding; carries no current normally.
    Bonding,
}

/// What a ground point is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GroundKind {
    /// Engine block.
    Engine,
    /// Hull.
    Hull,
    /// Bonding plate or strip.
    Bonding,
}

/// One component with the facts that hold for any kind.
#[derive(Clone, Debug)]
pub struct Component {
    /// Designation.
    pub name: String,
    /// Place of the designation.
    pub span: Span,
    /// What it is.
    pub kind: ComponentKind,
    /// Name for labels; the designation where none is given.
    pub label: String,
    /// Zone it sits in.
    pub zone: Option<ZoneId>,
    /// Point it sits at.
    pub point: Option<PointId>,
    /// Its terminals, in the order printed on the part.
    pub terminals: Vec<TerminalId>,
    /// Continuous rating of the part as a whole: bus, block feed, shunt, switch.
    pub rating: Known<Amps>,
    /// Short-time rating.
    pub intermittent_rating: Known<Amps>,
    /// Current its feed is designed for, where diversity is stated.
    pub design_current: Known<Amps>,
    /// Highest voltage it may see.
    pub voltage_rating: Known<Volts>,
    /// Stud or screw size; of the feed on a fuse block.
    pub stud: Known<String>,
    /// Screw size of the ways of a fuse block.
    pub way_stud: Known<String>,
    /// Width and height of the lid of a fuse block.
    pub size: Option<(Metres, Metres)>,
    /// Columns that the ways of a fuse block stand in.
    pub columns: Option<u32>,
    /// Number of studs of a bus or block negative.
    pub studs: Known<u32>,
    /// Continuous rating of the negative built into a block.
    pub negative_rating: Known<Amps>,
    /// Tested not to ignite gasoline vapour.
    pub ignition_protected: Known<bool>,
    /// Live metal is covered.
    pub covered: Known<bool>,
    /// Sealed against water, of a splice; connectors say it among their own facts.
    pub sealed: Known<bool>,
    /// The charging source senses behind it, of a diode isolator.
    pub compensated: Known<bool>,
    /// Pole of a bus.
    pub polarity: Option<Polarity>,
    /// Kind of a ground point.
    pub ground: Option<GroundKind>,
    /// Facts of a connector.
    pub connector: Option<Connector>,
    /// Word the file uses for the sub-kind, empty when none: `panel`, `voltmeter`, `butt`.
    pub subkind: String,
}

/// Facts of a multi-way connector.
#[derive(Clone, Debug)]
pub struct Connector {
    /// Number of cavities.
    pub cavities: u32,
    /// Highest current of one contact.
    pub contact_rating: Known<Amps>,
    /// Thinnest and thickest conductor a contact takes.
    pub accepts: Option<(Given<Gauge>, Given<Gauge>)>,
    /// Sealed against water.
    pub sealed: Known<bool>,
    /// Shape and keying; empty when not given.
    pub shape: Known<String>,
    /// Contacts of half a and of half b.
    pub contacts: [Known<Contacts>; 2],
    /// Zone of half a and of half b.
    pub half_zones: [Option<ZoneId>; 2],
    /// Point of half a and of half b.
    pub half_points: [Option<PointId>; 2],
    /// Rows of cavities as half a shows them, top row first; none stands for a gap. Empty when not given.
    pub face: Vec<Vec<Option<u32>>>,
    /// Side of half a that the face shows.
    pub face_view: Known<FaceView>,
    /// Side of the face that carries the key, as half a shows it in that view.
    pub keyway: Known<Keyway>,
}

/// Side of a connector half that is looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FaceView {
    /// From behind, where the conductors enter.
    WireSide,
    /// From the front, where the other half comes on.
    MatingFace,
}

/// Side of a face that carries the key.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Keyway {
    /// Above the first row.
    Top,
    /// Below the last row.
    Bottom,
    /// Left of the rows.
    Left,
    /// Right of the rows.
    Right,
}

/// What the contacts of a connector half are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Contacts {
    /// Recessed; may be live when parted.
    Sockets,
    /// Exposed; must be dead when parted.
    Pins,
}

/// What a terminal is for, seen from its component.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TerminalRole {
    /// Positive pole of a source or load.
    Positive,
    /// Negative pole of a source or load.
    Negative,
    /// Supply side of an in-line part.
    In,
    /// Load side of an in-line part.
    Out,
    /// Stud of a bus, splice or ground.
    Stud,
    /// Only senses.
    Sense,
}

/// A point where a conductor can land.
#[derive(Clone, Debug)]
pub struct Terminal {
    /// Component it belongs to.
    pub component: ComponentId,
    /// Name on the part; empty for one-point components.
    pub name: String,
    /// What it is for.
    pub role: TerminalRole,
    /// Electrical point it belongs to.
    pub node: NodeId,
    /// Conductors that land here, in file order.
    pub conductors: Vec<ConductorId>,
}

/// Terminals that are one electrical point.
#[derive(Clone, Debug, Default)]
pub struct Node {
    /// Its terminals in file order.
    pub terminals: Vec<TerminalId>,
    /// Links that end here, in id order.
    pub links: Vec<LinkId>,
}

/// What a link is.
#[derive(Clone, Debug, PartialEq)]
pub enum LinkKind {
    /// A conductor.
    Conductor(ConductorId),
    /// A contact, closed in the listed positions of its gear (indices into its positions, ascending).
    Contact {
        /// The switch, relay or combiner.
        gear: GearId,
        /// Positions in which it is closed.
        closed_in: Vec<u16>,
    },
    /// An overcurrent device, closed unless it has opened.
    Device(DeviceId),
    /// A mated pair of connector contacts.
    Mate {
        /// Cavity number.
        cavity: u32,
    },
    /// A diode: conducts from `a` to `b` only.
    Diode {
        /// Forward voltage; about 0.6 V when not given.
        forward: Volts,
    },
    /// A solid joint inside a component (shunt, isolating link); also a device that sits on a stud.
    Joint,
    /// A source; `a` is its positive.
    Source(SourceId),
    /// A load; `a` is its positive.
    Load(LoadId),
}

/// A two-terminal element between nodes.
#[derive(Clone, Debug)]
pub struct Link {
    /// What it is.
    pub kind: LinkKind,
    /// First terminal: supply side, positive pole.
    pub a: TerminalId,
    /// Second terminal: load side, negative pole.
    pub b: TerminalId,
    /// Component it is inside of; for a conductor, the component of its first end.
    pub component: ComponentId,
    /// Place in the file.
    pub span: Span,
    /// Resistance of contacts, devices, shunts as given; conductors compute theirs from size and length.
    pub resistance: Known<Ohms>,
}

/// An insulation colour with an optional stripe.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Colour {
    /// Base colour, as named in the colour table: `red`, `dark blue`.
    pub base: String,
    /// Stripe colour.
    pub stripe: Option<String>,
}

/// Which field of the file holds the size of a conductor.
///
/// Conductors that share a field have one size, whoever chooses it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum SizeField {
    /// `gauge` of its own record.
    Own,
    /// `gauge` of the circuit that implies it.
    Circuit(CircuitId),
    /// `return-gauge` of the circuit that implies it.
    CircuitReturn(CircuitId),
}

/// One conductor with two ends.
#[derive(Clone, Debug)]
pub struct Conductor {
    /// Wire number.
    pub number: String,
    /// Place that stands for it in messages: its record, or the circuit that implies it.
    pub span: Span,
    /// Its link.
    pub link: LinkId,
    /// End towards the supply.
    pub from: TerminalId,
    /// Other end.
    pub to: TerminalId,
    /// Circuit it belongs to.
    pub circuit: Option<CircuitId>,
    /// Function for labels.
    pub function: String,
    /// Size; none when not given, to be chosen by sizing.
    pub gauge: Known<Gauge>,
    /// Which field of the file says its size.
    pub size_field: SizeField,
    /// Where that field asks for a size to be chosen: `auto`.
    pub size_asked: Option<Span>,
    /// Insulation colour.
    pub colour: Known<Colour>,
    /// Insulation temperature rating.
    pub insulation: Given<Celsius>,
    /// Wire type; empty when not given.
    pub wire_type: Known<String>,
    /// Length along the conductor, without cut allowances.
    pub length: Known<Metres>,
    /// Where it lies, part by part; at least one.
    pub stretches: Vec<Stretch>,
    /// Zones of its ends and its ways, each once, in order.
    pub zones: Vec<ZoneId>,
    /// Sheathed or enclosed all along.
    pub sheathed: Known<bool>,
    /// Supplies a cranking motor only.
    pub cranking: Known<bool>,
    /// A supplied lead under 7 in exposed.
    pub pigtail: bool,
    /// Only senses or signals.
    pub sense: bool,
    /// One end is capped on purpose.
    pub spare: bool,
    /// Multi-core cable it is a core of.
    pub cable: Option<CableId>,
}

/// How a device is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DeviceKind {
    /// Fuse.
    Fuse,
    /// Breaker reset by hand.
    Breaker,
    /// Breaker that closes again by itself.
    SelfResetting,
}

/// An overcurrent device: a fuse, a breaker, or one way of a block.
#[derive(Clone, Debug)]
pub struct Device {
    /// `main-fuse` or `helm-block.3`.
    pub name: String,
    /// Name as on the panel; empty when not given.
    pub label: String,
    /// Place of its record.
    pub span: Span,
    /// Its link.
    pub link: LinkId,
    /// Component it is or sits in.
    pub component: ComponentId,
    /// How it is made.
    pub kind: DeviceKind,
    /// Rated current; none when not given, to be chosen by sizing.
    pub rating: Known<Amps>,
    /// Where the file asks for a rating to be chosen: `auto`.
    pub rating_asked: Option<Span>,
    /// The way is declared spare: no device fitted, circuit open.
    pub spare: bool,
    /// Form of the fuse; empty when not given.
    pub form: Known<String>,
    /// Rated voltage.
    pub voltage: Known<Volts>,
    /// Interrupting rating.
    pub interrupting: Known<Amps>,
    /// Largest rating its holder takes.
    pub holder_rating: Known<Amps>,
    /// Cannot be held closed on a fault.
    pub trip_free: Known<bool>,
}

/// What kind of part has the positions.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GearKind {
    /// Isolates or combines banks.
    BatterySwitch,
    /// On the panel, by hand.
    PanelSwitch,
    /// Ignition key.
    Key,
    /// Float switch.
    Float,
    /// Spring-return push button.
    Push,
    /// Timer.
    Timer,
    /// Pressure switch or thermostat.
    Pressure,
    /// Relay or solenoid contacts: positions `rest`, `energised`.
    Relay,
    /// Automatic combiner: positions `open`, `joined`.
    Combiner,
    /// Breaker used as a switch: positions `off`, `on`.
    Breaker,
}

/// One position.
#[derive(Clone, Debug)]
pub struct Position {
    /// Name.
    pub name: String,
    /// Place.
    pub span: Option<Span>,
    /// Joins banks on purpose.
    pub joins_banks: bool,
    /// For emergencies; house loads may then draw on the start bank.
    pub emergency: bool,
}

/// A part with positions.
#[derive(Clone, Debug)]
pub struct Gear {
    /// Designation.
    pub name: String,
    /// Component.
    pub component: ComponentId,
    /// What kind of part.
    pub kind: GearKind,
    /// The file says the kind; false when it was inferred from the circuit.
    pub kind_given: bool,
    /// Positions in file order; at least one.
    pub positions: Vec<Position>,
    /// Index of the normal position.
    pub normal: u16,
    /// Index of the position that opens every contact, where there is one.
    pub off: Option<u16>,
    /// Works by itself.
    pub automatic: bool,
    /// Coil load of a relay.
    pub coil: Option<LoadId>,
    /// The coil has a diode or a resistor across it.
    pub suppressed: Known<bool>,
}

/// Index of a relay's position with current in its coil.
pub const ENERGISED: u16 = 1;

/// What a source is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SourceKind {
    /// Battery.
    Battery,
    /// One output of a shore charger.
    Charger,
    /// Alternator or generator.
    Alternator,
    /// Output of a DC-DC converter.
    Converter,
    /// Solar controller.
    Solar,
}

/// A source between two nodes; the link's `a` is positive.
#[derive(Clone, Debug)]
pub struct Source {
    /// `start` or `charger.1`.
    pub name: String,
    /// Place of its record.
    pub span: Span,
    /// Its link.
    pub link: LinkId,
    /// Component.
    pub component: ComponentId,
    /// What it is.
    pub kind: SourceKind,
    /// Nominal voltage.
    pub nominal: Given<Volts>,
    /// Highest voltage on charge, or regulated voltage.
    pub max_voltage: Known<Volts>,
    /// Bank of a battery.
    pub bank: Option<BankId>,
    /// Chemistry of a battery, or the profile of a charging source.
    pub chemistry: Known<Chemistry>,
    /// Capacity.
    pub capacity: Known<AmpHours>,
    /// Hour rate of the capacity.
    pub hour_rate: Known<Hours>,
    /// Peukert exponent.
    pub peukert: Known<f64>,
    /// Cold cranking current.
    pub cranking: Known<Amps>,
    /// Short-circuit current stated by the maker.
    pub short_circuit: Known<Amps>,
    /// Internal resistance.
    pub resistance: Known<Ohms>,
    /// Rated current of a charging source; continuous management limit of a battery.
    pub current: Known<Amps>,
    /// Cannot deliver more than its rating.
    pub self_limiting: Known<bool>,
    /// Overcurrent device built in at its output.
    pub built_in_fuse: Known<Amps>,
    /// Warns before its management cuts out.
    pub alarm_contact: Known<bool>,
    /// Battery switches that open the field of an alternator before they stand at off, in file order.
    pub field_switches: Vec<GearId>,
    /// A surge protector takes the load dump of an alternator.
    pub surge_protected: Known<bool>,
    /// Load link that draws the input of a converter.
    pub input: Option<LoadId>,
}

/// What kind of load it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LoadKind {
    /// Lamp.
    Lamp,
    /// Motor, pump, blower, winch.
    Motor,
    /// Electronics, instruments.
    Electronics,
    /// Heater.
    Heater,
    /// Horn or buzzer.
    Horn,
    /// Power outlet.
    Outlet,
    /// Cranking motor.
    Starter,
    /// Coil of a relay.
    Coil,
    /// Input of a DC-DC converter.
    ConverterInput,
    /// Anything else, or not given.
    Other,
}

/// What a load serves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Service {
    /// Navigation light.
    NavigationLight,
    /// Bilge pump.
    BilgePump,
    /// Bilge blower.
    BilgeBlower,
    /// Electronic equipment.
    Electronics,
    /// Alarm or detector.
    Alarm,
    /// Panel or switchboard feeder.
    Panel,
    /// Engine and its instruments.
    Engine,
    /// Anything else, or not given.
    Other,
}

/// How long a load runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Duty {
    /// Continuously.
    Continuous,
    /// Now and then.
    Intermittent,
    /// Seconds, as a cranking motor.
    Surge,
}

/// How a load's current follows its voltage.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Behaviour {
    /// Constant current.
    Current,
    /// Constant power.
    Power,
    /// Constant resistance.
    Resistance,
}

/// What a load takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Draw {
    /// Given as a current.
    Current(Amps),
    /// Given as a power at nominal voltage.
    Power(Watts),
}

/// Drop limit class of a load.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum DropClass {
    /// Critical: 3 % unless the policy says otherwise.
    Critical,
    /// Ordinary: 10 % unless the policy says otherwise.
    Ordinary,
    /// A limit of its own, in per cent.
    Percent(f64),
}

/// A load, or one input of a load; the link's `a` is its positive.
#[derive(Clone, Debug)]
pub struct Load {
    /// `washdown-pump` or `stereo.memory`.
    pub name: String,
    /// Place of its record.
    pub span: Span,
    /// Its link.
    pub link: LinkId,
    /// Component.
    pub component: ComponentId,
    /// What kind.
    pub kind: LoadKind,
    /// What it serves.
    pub service: Service,
    /// How long it runs.
    pub duty: Duty,
    /// How its current follows its voltage.
    pub behaviour: Behaviour,
    /// What it takes; none when not given.
    pub draw: Known<Draw>,
    /// Highest current for a short time.
    pub peak: Known<Amps>,
    /// Current with the rotor locked.
    pub stall: Known<Amps>,
    /// Drop class; the origin tells whether it was written or follows from the service.
    pub drop: Given<DropClass>,
    /// Safety depends on it.
    pub vital: bool,
    /// Must stay live with every battery switch off.
    pub always_on: Known<bool>,
    /// May drain this bank.
    pub bank: Option<Given<BankId>>,
    /// Largest fuse its maker allows.
    pub largest_fuse: Known<Amps>,
    /// Nominal voltage.
    pub nominal: Given<Volts>,
    /// Lowest voltage it works at.
    pub min_voltage: Known<Volts>,
    /// Current while idle.
    pub standby: Known<Draw>,
    /// Hours a day.
    pub hours: Known<Hours>,
    /// Its case is joined to its negative and stands on hull or engine.
    pub case_grounded: bool,
    /// Protected inside against a locked rotor.
    pub thermally_protected: Known<bool>,
}

impl Link {
    /// The terminal across from one of its two.
    #[must_use]
    pub fn across(&self, terminal: TerminalId) -> TerminalId {
        if self.a == terminal { self.b } else { self.a }
    }
}

impl Conductor {
    /// The terminal across from one of its two.
    #[must_use]
    pub fn across(&self, terminal: TerminalId) -> TerminalId {
        if self.from == terminal {
            self.to
        } else {
            self.from
        }
    }
}

impl Load {
    /// Current at nominal voltage; none when the draw is not given.
    #[must_use]
    pub fn current(&self) -> Option<Amps> {
        self.draw.map(|draw| draw.value.at(self.nominal.value))
    }
}

impl Draw {
    /// The current at a voltage.
    #[must_use]
    pub fn at(self, voltage: Volts) -> Amps {
        match self {
            Self::Current(current) => current,
            Self::Power(power) => power / voltage,
        }
    }
}

/// What a bank is for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// Cranks the engine.
    Start,
    /// Feeds the house.
    House,
    /// Anything else, in the file's word.
    Other(String),
}

/// One battery or a set acting as one.
#[derive(Clone, Debug)]
pub struct Bank {
    /// Designation.
    pub name: String,
    /// Place of its record, or of its first battery.
    pub span: Span,
    /// What it is for.
    pub purpose: Purpose,
    /// Series strings of battery sources, lowest first; strings are in parallel.
    pub strings: Vec<Vec<SourceId>>,
    /// The strings are written in the file; else every battery is a string of one.
    pub strings_given: bool,
    /// Declared to share no pole with other systems.
    pub isolated: Known<bool>,
    /// Batteries whose upper post may be tapped on purpose.
    pub mid_taps: Vec<SourceId>,
}

/// A circuit as the file states it.
#[derive(Clone, Debug)]
pub struct Circuit {
    /// Key in the file.
    pub name: String,
    /// Place of the key.
    pub span: Span,
    /// Circuit number, stem of its wire numbers.
    pub number: String,
    /// Function for labels and charts.
    pub function: String,
    /// Load it serves.
    pub load: Option<LoadId>,
    /// Its conductors, positive from the feed on, then negative from the load back.
    pub conductors: Vec<ConductorId>,
}

/// Whether the engine runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Engine {
    /// Alternators charge.
    Running,
    /// Alternators are dead.
    Stopped,
}

/// One way of using the boat.
#[derive(Clone, Debug)]
pub struct Scenario {
    /// Key in the file.
    pub name: String,
    /// Place of the key.
    pub span: Span,
    /// Name for the papers.
    pub title: String,
    /// Gears that stand elsewhere than normal.
    pub positions: Vec<(GearId, u16)>,
    /// Loads that run.
    pub on: Vec<LoadId>,
    /// Engine.
    pub engine: Engine,
    /// Charging sources that work, alternators of a running engine included.
    pub charging: Vec<SourceId>,
    /// How long it lasts.
    pub hours: Known<Hours>,
    /// State of charge of the banks, in per cent.
    pub state_of_charge: Known<f64>,
}

/// Positions that cannot occur all at once: declared, or two relays whose coils one switch feeds in turn.
#[derive(Clone, Debug)]
pub struct Interlock {
    /// The positions.
    pub never: Vec<(GearId, u16)>,
    /// Place.
    pub span: Span,
}

/// A finding that the owner accepts.
#[derive(Clone, Debug)]
pub struct Acceptance {
    /// Rule id or name.
    pub rule: String,
    /// Element.
    pub element: String,
    /// Reason.
    pub reason: String,
    /// Place.
    pub span: Span,
}
