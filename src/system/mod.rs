//! The resolved circuit: components, terminals, nodes and links, with the place in the file each came from.
//!
//! Everything below this room reads the boat from here; nothing here knows YAML or judges anything.
//! Ids are indices into the vectors of [`System`], given in file order, so that all output is in file order.

mod chosen;
mod graph;
mod parts;
mod place;
mod stock;

pub use chosen::{
    Chosen, Conflict, ConflictKind, Copper, Limit, Moved, RatingChoice, SizeChoice, Standing,
};
pub use graph::Graph;
pub use parts::*;
pub use place::*;
pub use stock::*;

pub use crate::standards::{Chemistry, Practice};

use crate::source::Span;
use crate::units::{Celsius, Metres, Volts};

macro_rules! id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub u32);

        impl $name {
            /// The index into the vector of its kind.
            #[must_use]
            pub fn index(self) -> usize {
                self.0 as usize
            }

            /// The id of the element at an index.
            ///
            /// # Panics
            /// Never in practice: the size limit of a file allows far fewer elements than 2³².
            #[must_use]
            pub fn at(index: usize) -> Self {
                Self(u32::try_from(index).expect("a file within the size limit has fewer than 2^32 elements"))
            }
        }
    };
}

id!(/// A component.
    ComponentId);
id!(/// A terminal of a component: a point where a conductor can land.
    TerminalId);
id!(/// A node: terminals that are one electrical point.
    NodeId);
id!(/// A link: a two-terminal element between nodes.
    LinkId);
id!(/// A conductor.
    ConductorId);
id!(/// An overcurrent device.
    DeviceId);
id!(/// A part with positions: switch, relay, combiner.
    GearId);
id!(/// A source.
    SourceId);
id!(/// A load, or one input of a load.
    LoadId);
id!(/// A bank.
    BankId);
id!(/// A circuit.
    CircuitId);
id!(/// A zone.
    ZoneId);
id!(/// A bundle.
    BundleId);
id!(/// A named point.
    PointId);
id!(/// A measured way between points.
    WayId);
id!(/// A scenario.
    ScenarioId);
id!(/// A spool of the stock.
    SpoolId);
id!(/// A cable.
    CableId);

/// How a value came into the netlist.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Origin {
    /// Written in the file.
    Written,
    /// Assumed by the program on the safe side; told as a note and marked on the papers.
    Assumed,
    /// Derived from other written values, such as a length from ways.
    Derived,
    /// Chosen by sizing.
    Chosen,
}

/// A value with the place it is written at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Given<T> {
    /// The value.
    pub value: T,
    /// Where it stands; none for assumed values.
    pub span: Option<Span>,
    /// How it came here.
    pub origin: Origin,
}

impl<T> Given<T> {
    /// A value written at a place.
    pub fn written(value: T, span: Span) -> Self {
        Self {
            value,
            span: Some(span),
            origin: Origin::Written,
        }
    }

    /// A value the program assumed.
    pub fn assumed(value: T) -> Self {
        Self {
            value,
            span: None,
            origin: Origin::Assumed,
        }
    }
}

/// A value that may be missing; missing is never passed.
pub type Known<T> = Option<Given<T>>;

/// Which limit judges the rating of an overcurrent device.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OvercurrentLimit {
    /// The law: 150 % of the table below 50 V, 100 % from 50 V on.
    Lawful,
    /// 100 % of the derated ampacity.
    Strict,
}

/// Whether bundling factors apply below 50 V.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BundlingPolicy {
    /// They apply at every voltage: project policy.
    Apply,
    /// They apply from 50 V on, as in the law.
    LawOnly,
}

/// Which conductors of a pair count in a bundle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CountPoles {
    /// Positive and negative.
    Both,
    /// Ungrounded conductors only.
    Positive,
}

/// What becomes of sizes and ratings that the file leaves out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Blanks {
    /// They are unknown: what is chosen for them is a proposal, and nothing about the boat as it is is proved by it.
    Unknown,
    /// They are to be chosen, as if `auto` stood there.
    Choose,
}

/// What sizing looks for besides the least copper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spools {
    /// Nothing else.
    LeastCopper,
    /// Few sizes of wire and few ratings, at a little more copper.
    Few,
}

/// Lengths on paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LengthUnits {
    /// Feet and inches.
    Feet,
    /// Metres and millimetres.
    Metres,
}

/// Paper of the lists.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    /// 210 × 297 mm.
    A4,
    /// 215.9 × 279.4 mm.
    Letter,
}

/// Head of every paper, and the choices that hold for the whole boat.
#[derive(Clone, Debug)]
pub struct Boat {
    /// Name of the boat; `unnamed boat` when none is given.
    pub name: String,
    /// Practice profile.
    pub practice: Practice,
    /// Nominal voltage of everything that states none.
    pub nominal: Volts,
    /// Lengths on paper.
    pub units: LengthUnits,
    /// Paper of the lists.
    pub paper: Paper,
    /// Revision, date, owner, creator, approval, number, subtitle: printed as given, empty when not.
    pub revision: String,
    /// Date of the revision as written.
    pub date: String,
    /// Legal owner.
    pub owner: String,
    /// Creator.
    pub creator: String,
    /// Approval person.
    pub approved_by: String,
    /// Identification number.
    pub number: String,
    /// Supplementary title.
    pub subtitle: String,
    /// Policies.
    pub policy: Policy,
}

/// Choices where published rules disagree.
#[derive(Clone, Debug)]
pub struct Policy {
    /// Limit for overcurrent devices.
    pub overcurrent: OvercurrentLimit,
    /// Bundling below 50 V.
    pub bundling: BundlingPolicy,
    /// Which poles count in a bundle.
    pub count_poles: CountPoles,
    /// Conductor temperature for the solved drop.
    pub conductor_temperature: Celsius,
    /// Limit of critical circuits in per cent.
    pub critical_drop_percent: f64,
    /// Limit of other circuits in per cent.
    pub ordinary_drop_percent: f64,
    /// Length assumed for a leg between panel parts.
    pub panel_leg: Metres,
    /// What becomes of sizes and ratings left out.
    pub blanks: Blanks,
    /// What sizing looks for besides the least copper.
    pub spools: Spools,
    /// Cut-list allowances that replace the defaults.
    pub allowances: Allowances,
}

/// Cut-list allowances that the file gives in place of the defaults.
#[derive(Clone, Debug, Default)]
pub struct Allowances {
    /// Two re-terminations per end, small wire.
    pub termination: Known<Metres>,
    /// Two re-terminations per end, battery cable.
    pub cable_termination: Known<Metres>,
    /// Share for lay-up, in per cent.
    pub bundle_percent: Known<f64>,
    /// Share for a route measured by string, in per cent.
    pub measured_percent: Known<f64>,
    /// Drip loop at an end in a wet zone.
    pub drip_loop: Known<Metres>,
    /// Service loop at an end on a panel or a connector.
    pub service_loop: Known<Metres>,
}

/// The whole resolved boat.
#[derive(Clone, Debug)]
pub struct System {
    /// Head and policies.
    pub boat: Boat,
    /// Zones in file order.
    pub zones: Vec<Zone>,
    /// Named points.
    pub points: Vec<Point>,
    /// Measured ways.
    pub ways: Vec<Way>,
    /// Bundles.
    pub bundles: Vec<Bundle>,
    /// Components in file order, section by section.
    pub components: Vec<Component>,
    /// Terminals.
    pub terminals: Vec<Terminal>,
    /// Nodes.
    pub nodes: Vec<Node>,
    /// Links.
    pub links: Vec<Link>,
    /// Conductors.
    pub conductors: Vec<Conductor>,
    /// Overcurrent devices.
    pub devices: Vec<Device>,
    /// Parts with positions.
    pub gears: Vec<Gear>,
    /// Sources.
    pub sources: Vec<Source>,
    /// Loads.
    pub loads: Vec<Load>,
    /// Banks.
    pub banks: Vec<Bank>,
    /// Circuits.
    pub circuits: Vec<Circuit>,
    /// Scenarios.
    pub scenarios: Vec<Scenario>,
    /// Combinations of positions that cannot occur.
    pub interlocks: Vec<Interlock>,
    /// Accepted findings.
    pub acceptances: Vec<Acceptance>,
    /// Cables, those without a record last.
    pub cables: Vec<Cable>,
    /// Wire and cable at hand.
    pub spools: Vec<StockSpool>,
    /// What labels are printed on, in the order it is tried.
    pub label_stock: Vec<LabelStock>,
    /// What was chosen for it, and why.
    pub chosen: Chosen,
    /// The graph over nodes and links.
    pub graph: Graph,
}

impl System {
    /// Which half of a connector a terminal belongs to: 0 for `a`, 1 for `b`.
    #[must_use]
    pub fn half_of(&self, terminal: TerminalId) -> usize {
        usize::from(self.terminals[terminal.index()].role == TerminalRole::Out)
    }

    /// The zone a terminal lies in; the halves of a connector may lie in different ones.
    #[must_use]
    pub fn zone_of(&self, terminal: TerminalId) -> Option<ZoneId> {
        let component = self.component_of(terminal);
        match &component.connector {
            Some(connector) => connector.half_zones[self.half_of(terminal)],
            None => component.zone,
        }
    }

    /// `component.terminal`, or the bare name of a one-point component.
    #[must_use]
    pub fn terminal_name(&self, terminal: TerminalId) -> String {
        let terminal = &self.terminals[terminal.index()];
        let component = &self.components[terminal.component.index()].name;
        if terminal.name.is_empty() {
            component.clone()
        } else {
            [component.as_str(), terminal.name.as_str()].join(".")
        }
    }

    /// The node a terminal belongs to.
    #[must_use]
    pub fn node_of(&self, terminal: TerminalId) -> NodeId {
        self.terminals[terminal.index()].node
    }

    /// The component of a terminal.
    #[must_use]
    pub fn component_of(&self, terminal: TerminalId) -> &Component {
        &self.components[self.terminals[terminal.index()].component.index()]
    }

    /// A node's readable name: its first terminal in file order.
    #[must_use]
    pub fn node_name(&self, node: NodeId) -> String {
        self.nodes[node.index()]
            .terminals
            .first()
            .map_or_else(String::new, |&first| self.terminal_name(first))
    }

    /// What a link is called in a message: wire number, device, switch, load or terminal pair.
    #[must_use]
    pub fn link_name(&self, link: LinkId) -> String {
        let link = &self.links[link.index()];
        match link.kind {
            LinkKind::Conductor(id) => self.conductors[id.index()].number.clone(),
            LinkKind::Device(id) => self.devices[id.index()].name.clone(),
            LinkKind::Load(id) => self.loads[id.index()].name.clone(),
            LinkKind::Source(id) => self.sources[id.index()].name.clone(),
            LinkKind::Contact { gear, .. } => self.gears[gear.index()].name.clone(),
            LinkKind::Mate { .. } | LinkKind::Diode { .. } | LinkKind::Joint => {
                self.components[link.component.index()].name.clone()
            }
        }
    }
}
