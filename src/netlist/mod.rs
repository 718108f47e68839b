//! The file as written: every record with the place it stands at.
//!
//! Nothing is judged here but the shape of the file; names and quantities are resolved below.

pub mod records;
pub mod text;

use crate::source::Span;
use records::{
    AcceptanceRecord, AllowanceRecord, AlternatorRecord, BankRecord, BatteryRecord, BoatRecord,
    BreakerRecord, BundleRecord, BusRecord, ChargerRecord, CircuitRecord, CombinerRecord,
    ConnectorRecord, ConverterRecord, FuseBlockRecord, FuseRecord, GroundRecord, InstrumentRecord,
    InterlockRecord, IsolatorRecord, LoadRecord, PointRecord, PolicyRecord, RelayRecord, RunRecord,
    ScenarioRecord, ShuntRecord, SolarRecord, SpliceRecord, SwitchRecord, WayRecord, ZoneRecord,
};

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
    pub node: crate::source::NodeId,
    /// The record.
    pub value: T,
}

macro_rules! sections {
    ($($(#[$doc:meta])* $field:ident ($key:literal): $record:ty,)*) => {
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
            $($(#[$doc])* pub $field: Vec<Entry<$record>>,)*
        }

        /// Keys of the sections that map designations to records, in the order they are read.
        pub const SECTIONS: &[&str] = &[$($key),*];
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
    /// Scenarios.
    scenarios("scenarios"): ScenarioRecord,
}
