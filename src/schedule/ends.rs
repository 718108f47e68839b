//! What the end of a conductor looks like: where it lands, how it is stripped, what is crimped on it.
//!
//! Ring sizes and strip lengths come from the tables; a stud that the file does not give is told as not given.

use crate::standards::{InsulationColour, RingTerminal, StudSize, ring_terminal, strip_length};
use crate::system::{BundleId, Component, ComponentKind, Conductor, Contacts, System, TerminalId};
use crate::units::{Gauge, Metres};

/// An end of a conductor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum End {
    /// Towards the supply: the end that the file writes as `from`.
    A,
    /// The end that the file writes as `to`.
    B,
}

impl End {
    /// Both, in order.
    pub const BOTH: [Self; 2] = [Self::A, Self::B];

    /// The end at the far side.
    #[must_use]
    pub fn other(self) -> Self {
        match self {
            Self::A => Self::B,
            Self::B => Self::A,
        }
    }

    /// `A` or `B`.
    #[must_use]
    pub fn letter(self) -> &'static str {
        match self {
            Self::A => "A",
            Self::B => "B",
        }
    }
}

/// What is fitted to the end of a conductor.
#[derive(Clone, Debug, PartialEq)]
pub enum Fitting {
    /// A ring terminal or a lug on a stud or screw.
    Ring {
        /// Barrel colour, or `bare lug`; none where no ring is listed for the size.
        barrel: Option<&'static str>,
        /// Stud as the file gives it, in the table's spelling where the table has it; empty when not given.
        stud: String,
        /// Rings for this conductor are commonly sold for this stud.
        common: bool,
    },
    /// A contact of a multi-way connector.
    Contact(Option<Contacts>),
    /// The conductor runs into a splice of this sort; empty when not given.
    Splice(String),
}

impl Fitting {
    /// In words for a sheet, with a blank to fill in where the stud is not given.
    #[must_use]
    pub fn with_blank(&self) -> String {
        self.words_with("stud ____")
    }

    /// In words: `blue ring, No. 10`.
    #[must_use]
    pub fn words(&self) -> String {
        self.words_with("stud not given")
    }

    fn words_with(&self, no_stud: &str) -> String {
        match self {
            Self::Ring {
                barrel,
                stud,
                common,
            } => {
                let (ring, kind) = match *barrel {
                    Some("bare lug") => ("bare lug", ", "),
                    Some(colour) => (colour, " ring, "),
                    None => ("ring, size not in the table", ", "),
                };
                let (stud, remark) = match (stud.is_empty(), common) {
                    (true, _) => (no_stud, ""),
                    (false, true) => (stud.as_str(), ""),
                    (false, false) => (stud.as_str(), " (not commonly sold)"),
                };
                [ring, kind, stud, remark].concat()
            }
            Self::Contact(Some(Contacts::Sockets)) => "socket contact".to_owned(),
            Self::Contact(Some(Contacts::Pins)) => "pin contact".to_owned(),
            Self::Contact(None) => "contact, pin or socket not given".to_owned(),
            Self::Splice(kind) if kind.is_empty() => "splice".to_owned(),
            Self::Splice(kind) => format!("{kind} splice"),
        }
    }
}

/// What is fitted to both ends of every conductor, end A first, by conductor.
#[must_use]
pub fn fittings(system: &System) -> Vec<[Fitting; 2]> {
    system
        .conductors
        .iter()
        .map(|conductor| {
            End::BOTH.map(|end| fitting(system, conductor, terminal_at(conductor, end)))
        })
        .collect()
}

/// What is fitted to a conductor where it lands on a terminal.
pub(super) fn fitting(system: &System, conductor: &Conductor, terminal: TerminalId) -> Fitting {
    let component = system.component_of(terminal);
    match component.kind {
        ComponentKind::Connector => Fitting::Contact(contacts(system, component, terminal)),
        ComponentKind::Splice => Fitting::Splice(component.subkind.clone()),
        _ => {
            let ring = conductor
                .gauge
                .as_ref()
                .and_then(|gauge| ring_terminal(gauge.value));
            ring_on(ring, stud_at(system, component, terminal))
        }
    }
}

fn ring_on(ring: Option<&'static RingTerminal>, written: &str) -> Fitting {
    let listed = written.parse::<StudSize>().ok();
    Fitting::Ring {
        barrel: ring.map(|ring| ring.barrel),
        stud: listed.map_or_else(|| written.to_owned(), |stud| stud.name.to_owned()),
        common: match (ring, listed) {
            (Some(ring), Some(stud)) => ring.studs.iter().any(|sold| sold.name == stud.name),
            _ => written.is_empty(),
        },
    }
}

/// The stud or screw of a terminal, empty when not given; a fuse block has one size for its feed and one for its ways.
fn stud_at<'s>(system: &'s System, component: &'s Component, terminal: TerminalId) -> &'s str {
    let name = system.terminals[terminal.index()].name.as_str();
    let stud = if component.kind == ComponentKind::FuseBlock && name != "feed" {
        &component.way_stud
    } else {
        &component.stud
    };
    stud.as_ref().map_or("", |stud| stud.value.as_str())
}

/// Half `a` faces the supply, half `b` the loads; cavity 3 has the terminals `3a` and `3b`.
fn contacts(system: &System, component: &Component, terminal: TerminalId) -> Option<Contacts> {
    let connector = component.connector.as_ref()?;
    let contacts = connector.contacts[system.half_of(terminal)].as_ref()?;
    Some(contacts.value)
}

/// Insulation to take off for what is fitted there; none where its own sheet decides.
pub(super) fn strip_at(fitting: &Fitting, gauge: Gauge) -> Option<Metres> {
    match fitting {
        Fitting::Ring { .. } | Fitting::Splice(_) => strip_length(gauge).map(|strip| strip.length),
        Fitting::Contact(_) => None,
    }
}

/// The terminal at one end.
pub(super) fn terminal_at(conductor: &Conductor, end: End) -> TerminalId {
    match end {
        End::A => conductor.from,
        End::B => conductor.to,
    }
}

/// The bundles a conductor lies in, each once, from its first end on.
pub(super) fn bundles_of(conductor: &Conductor) -> Vec<BundleId> {
    let mut bundles = Vec::new();
    for bundle in conductor.stretches.iter().filter_map(|part| part.bundle) {
        if !bundles.contains(&bundle) {
            bundles.push(bundle);
        }
    }
    bundles
}

/// Names of bundles in words; `none` for a conductor that travels alone.
pub(super) fn bundle_names(system: &System, bundles: &[BundleId]) -> String {
    if bundles.is_empty() {
        return "none".to_owned();
    }
    bundles
        .iter()
        .map(|bundle| system.bundles[bundle.index()].name.as_str())
        .collect::<Vec<_>>()
        .join(", ")
}

/// Colour letters, base and stripe apart: `RD`, `YE/RD`; empty when the colour is not given.
pub(super) fn colour_letters(conductor: &Conductor) -> String {
    let letters = |name: &str| {
        name.parse::<InsulationColour>()
            .map_or_else(|_| name.to_owned(), InsulationColour::letters)
    };
    match &conductor.colour {
        None => String::new(),
        Some(colour) => match &colour.value.stripe {
            None => letters(&colour.value.base),
            Some(stripe) => format!("{}/{}", letters(&colour.value.base), letters(stripe)),
        },
    }
}

/// Size in words; empty when not given.
pub(super) fn size_words(conductor: &Conductor) -> String {
    conductor
        .gauge
        .map_or_else(String::new, |gauge| gauge.value.to_string())
}
