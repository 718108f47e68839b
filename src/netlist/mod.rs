//! The file as written: every record with the place it stands at.
//!
//! Nothing is judged here but the shape of the file; names and quantities are resolved below.

mod page;
mod read;
pub mod records;
mod schema;
#[cfg(test)]
mod tests;
pub mod text;

pub use page::page;
pub use schema::schema;

use crate::diag::{self, Diagnostic};
use crate::source::{NodeId, Reading, Span, UNKNOWN_LANGUAGE, UNKNOWN_SECTION, shortened};
use read::RecordReader;
use records::{
    AcceptanceRecord, AllowanceRecord, AlternatorRecord, BankRecord, BatteryRecord, BoatRecord,
    BreakerRecord, BundleRecord, BusRecord, CableRecord, ChargerRecord, CircuitRecord,
    CombinerRecord, ConnectorRecord, ConverterRecord, FuseBlockRecord, FuseRecord, GroundRecord,
    InstrumentRecord, InterlockRecord, IsolatorRecord, LabelStockRecord, LoadRecord, PointRecord,
    PolicyRecord, RelayRecord, RunRecord, ScenarioRecord, ShuntRecord, SolarRecord, SpliceRecord,
    SpoolRecord, SwitchRecord, WayRecord, ZoneRecord,
};
use schemars::{Schema, SchemaGenerator};

/// One record with its designation and its place.
#[derive(Clone, Debug)]
pub struct Entry<T> {
    /// Designation, the key of the record.
    pub name: String,
    /// Place of the designation.
    pub name_span: Span,
    /// Place of the whole record, without its key.
    pub span: Span,
    /// Node of the record in the document, for the places of its fields.
    pub node: NodeId,
    /// The record.
    pub value: T,
}

/// Reads the records of a file and reports every key and every shape that the language does not know.
///
/// A file without a sure meaning gives no netlist, but its records are read all the same for their faults.
#[must_use]
pub fn read(reading: &Reading) -> (Option<Netlist>, Vec<Diagnostic>) {
    let Some(document) = reading.document.as_ref().or(reading.salvage.as_ref()) else {
        return (None, Vec::new());
    };
    let mut netlist = Netlist::default();
    let mut reader = RecordReader::new(document);
    for &(key, value) in document.entries(document.root()) {
        let name = document.text(key).unwrap_or_default();
        match name {
            LANGUAGE_KEY => {
                if document.text(value) != Some(LANGUAGE) {
                    let written = document
                        .text(value)
                        .map_or(String::new(), |text| format!(" `{}`", shortened(text)));
                    reader.findings.add(|| {
                        UNKNOWN_LANGUAGE
                            .says(format!("this file is written in language{written}; language `{LANGUAGE}` is read here"))
                            .label(document.span(value), "here")
                            .repair(format!("write `{LANGUAGE_KEY}: {LANGUAGE}` and put right what is then reported"))
                    });
                }
            }
            "boat" => netlist.boat = Some(reader.record(key, value)),
            "policy" => netlist.policy = Some(reader.record(key, value)),
            "allowances" => netlist.allowances = Some(reader.record(key, value)),
            "interlocks" => netlist.interlocks = reader.list(key, value),
            "accept" => netlist.accept = reader.list(key, value),
            _ if netlist.read_section(&mut reader, name, key, value) => {}
            _ => {
                reader.findings.add(|| {
                    UNKNOWN_SECTION
                        .says(format!(
                            "`{}` is not a section of a netlist",
                            shortened(name)
                        ))
                        .label(document.span(key), "this key")
                        .repair(
                            match diag::nearest(
                                name,
                                SECTIONS.iter().chain(SINGLE_SECTIONS).copied(),
                            ) {
                                Some(near) => format!("did you mean `{near}`?"),
                                None => format!("the sections are {}", SECTIONS.join(", ")),
                            },
                        )
                });
            }
        }
    }
    let mut findings: Vec<_> = reader
        .findings
        .finish()
        .into_iter()
        .map(|finding| reading.with_doubt(finding))
        .collect();
    diag::sort(&mut findings);
    (reading.document.as_ref().map(|_| netlist), findings)
}

/// Version of the language that this program reads.
pub const LANGUAGE: &str = "1";

/// Key that carries the version of the language.
const LANGUAGE_KEY: &str = "loomwright";

/// Keys of the sections that are one record or a list of records.
const SINGLE_SECTIONS: &[&str] = &[
    LANGUAGE_KEY,
    "boat",
    "policy",
    "allowances",
    "interlocks",
    "accept",
];

macro_rules! sections {
    ($($(#[doc = $doc:literal])* $field:ident ($key:literal): $record:ty,)*) => {
        /// The whole file, section by section, in file order.
        #[derive(Clone, Debug, Default)]
        pub struct Netlist {
            /// The boat and the head of every paper.
            pub boat: Option<Entry<BoatRecord>>,
            /// Choices where published rules disagree.
            pub policy: Option<Entry<PolicyRecord>>,
            /// Allowances of the cut list.
            pub allowances: Option<Entry<AllowanceRecord>>,
            /// Positions that cannot occur together.
            pub interlocks: Vec<Entry<InterlockRecord>>,
            /// Accepted findings.
            pub accept: Vec<Entry<AcceptanceRecord>>,
            $($(#[doc = $doc])* pub $field: Vec<Entry<$record>>,)*
        }

        /// Keys of the sections that map designations to records, in the order they are read.
        pub const SECTIONS: &[&str] = &[$($key),*];

        impl Netlist {
            /// Reads one section that maps designations to records. False if there is no such section.
            fn read_section(&mut self, reader: &mut RecordReader<'_>, name: &str, key: NodeId, section: NodeId) -> bool {
                match name {
                    $($key => self.$field = reader.records(key, section),)*
                    _ => return false,
                }
                true
            }
        }

        /// Key, description and record schema of every section that maps designations to records.
        fn section_schemas(generator: &mut SchemaGenerator) -> Vec<(&'static str, String, Schema)> {
            vec![$(($key, concat!($($doc),*).trim().to_owned(), generator.subschema_for::<$record>()),)*]
        }
    };
}

sections! {
    /// Spaces of the boat.
    zones("zones"): ZoneRecord,
    /// Named places.
    points("points"): PointRecord,
    /// Measured segments between points.
    ways("ways"): WayRecord,
    /// Conductors that travel together.
    bundles("bundles"): BundleRecord,
    /// Batteries.
    batteries("batteries"): BatteryRecord,
    /// Banks.
    banks("banks"): BankRecord,
    /// Switches.
    switches("switches"): SwitchRecord,
    /// Relays, solenoids, contactors.
    relays("relays"): RelayRecord,
    /// Voltage-sensitive combiners.
    combiners("combiners"): CombinerRecord,
    /// Diode isolators.
    isolators("isolators"): IsolatorRecord,
    /// Single fuses.
    fuses("fuses"): FuseRecord,
    /// Breakers.
    breakers("breakers"): BreakerRecord,
    /// Fuse blocks and breaker panels.
    fuse_blocks("fuse-blocks"): FuseBlockRecord,
    /// Bus bars.
    buses("buses"): BusRecord,
    /// Loads.
    loads("loads"): LoadRecord,
    /// Shore chargers.
    chargers("chargers"): ChargerRecord,
    /// Alternators and generators.
    alternators("alternators"): AlternatorRecord,
    /// DC-DC converters.
    converters("converters"): ConverterRecord,
    /// Solar arrays.
    solar("solar"): SolarRecord,
    /// Gauges, meters, senders.
    instruments("instruments"): InstrumentRecord,
    /// Shunts.
    shunts("shunts"): ShuntRecord,
    /// Multi-way connectors.
    connectors("connectors"): ConnectorRecord,
    /// Splices.
    splices("splices"): SpliceRecord,
    /// Engine block, hull, bonding.
    grounds("grounds"): GroundRecord,
    /// Circuits in the short form.
    circuits("circuits"): CircuitRecord,
    /// Runs.
    runs("runs"): RunRecord,
    /// Sheathed cables of several cores.
    cables("cables"): CableRecord,
    /// Scenarios.
    scenarios("scenarios"): ScenarioRecord,
    /// Wire and cable at hand, and the lengths that more can be bought in.
    spools("spools"): SpoolRecord,
    /// What labels are printed on.
    label_stock("label-stock"): LabelStockRecord,
}
