//! The language: one struct a section, one field a key.
//!
//! Every field may be left out; what a check then cannot judge it reports as not proved.
//! Doc comments here become the descriptions in `schemas/netlist.schema.json`.

use super::text::{
    ChargeText, CurrentText, DrawText, DurationText, Flag, GaugeText, LengthText, NumberText,
    OneOrMany, PercentText, RatingText, ResistanceText, SizeText, TemperatureText, Text,
    VoltageText,
};
use indexmap::IndexMap;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;
use serde::de::{self, Deserializer, MapAccess, SeqAccess, Visitor};
use std::borrow::Cow;
use std::fmt;

macro_rules! record {
    ($(#[$doc:meta])* $name:ident { $($(#[$field_doc:meta])* $field:ident: $kind:ty,)* }) => {
        $(#[$doc])*
        #[derive(Clone, Debug, Default, PartialEq, Deserialize, JsonSchema)]
        #[serde(rename_all = "kebab-case", deny_unknown_fields, default)]
        pub struct $name { $($(#[$field_doc])* pub $field: Option<$kind>,)* }
    };
}

record!(/// The boat and the head of every paper.
BoatRecord {
    /// Name of the boat.
    name: Text,
    /// Practice profile that judges: `us` or `metric`.
    practice: Text,
    /// Nominal voltage of everything that states none.
    system: VoltageText,
    /// Lengths on the papers: `feet` or `metres`; by default what the practice uses.
    units: Text,
    /// Paper of the lists: `A4` or `Letter`; by default what the practice uses.
    paper: Text,
    /// Revision letter of this netlist.
    revision: Text,
    /// Date of the revision, as it should be printed.
    date: Text,
    /// Legal owner of the drawing.
    owner: Text,
    /// Who drew it.
    creator: Text,
    /// Who approved it.
    approved_by: Text,
    /// Identification number of the drawing.
    number: Text,
    /// A line under the title.
    subtitle: Text,
});

record!(/// Choices where published rules disagree; each is printed on every report.
PolicyRecord {
    /// Limit for overcurrent devices: `lawful` (150 % of the table below 50 V) or `strict` (100 % of the derated ampacity).
    overcurrent: Text,
    /// Bundling factors below 50 V: `apply` or `law-only`.
    bundling: Text,
    /// Which conductors of a pair count in a bundle: `both` or `positive`.
    count_poles: Text,
    /// Insulation rating of conductors that state none.
    insulation: TemperatureText,
    /// Wire type of conductors that state none.
    wire_type: Text,
    /// Ambient of zones that state none.
    ambient: TemperatureText,
    /// Conductor temperature for the solved drop.
    conductor_temperature: TemperatureText,
    /// Limit of critical circuits.
    critical_drop: PercentText,
    /// Limit of all other circuits.
    ordinary_drop: PercentText,
    /// Length assumed for a leg between panel parts when a circuit gives one length for several legs.
    panel_leg: LengthText,
    /// Sizes and ratings left out: `unknown` (what is chosen for them stays not proved) or `choose` (as if `auto` stood there).
    blanks: Text,
    /// What sizing looks for: `least-copper`, or `few` sizes and ratings at a little more copper.
    spools: Text,
});

record!(/// A space of the boat.
ZoneRecord {
    /// Highest air temperature.
    ambient: TemperatureText,
    /// Engine space: the ampacity table's engine-space factor applies.
    engine_space: Flag,
    /// Gasoline vapour can gather: parts must be ignition protected.
    gasoline_vapour: Flag,
    /// `dry`, `damp`, `spray`, `wet` or `bilge`.
    wet: Text,
    /// How it is reached; `none` when nothing can be seen any more.
    access: Text,
});

record!(/// A named place where components sit and ways meet.
PointRecord {
    /// Zone it lies in.
    zone: Text,
});

record!(/// A measured segment between two points.
WayRecord {
    /// The two points joined.
    between: OneOrMany<Text>,
    /// Measured length.
    length: LengthText,
    /// Zone it runs through.
    zone: Text,
    /// Bundle of the conductors that take it.
    bundle: Text,
    /// Conductors are sheathed or enclosed all along it.
    sheathed: Flag,
    /// Smallest hole or conduit bore on the way.
    hole: LengthText,
    /// Drip or service loop to add.
    slack: LengthText,
});

record!(/// Conductors that travel together.
BundleRecord {
    /// Zone it runs through, where its conductors do not say.
    zone: Text,
    /// Sheathed or enclosed all along.
    sheathed: Flag,
    /// Groups of wire numbers or circuits that never carry current together.
    never_together: Vec<OneOrMany<Text>>,
    /// Further current-carrying conductors that the file does not list.
    others: NumberText,
    /// Smallest hole or conduit bore it passes.
    hole: LengthText,
});

record!(/// One battery. Terminals `+` and `-`.
BatteryRecord {
    /// Bank it belongs to; its own name when left out.
    bank: Text,
    /// `flooded`, `agm`, `gel` or `lithium-iron-phosphate`.
    chemistry: Text,
    /// Nominal voltage.
    voltage: VoltageText,
    /// Capacity at the hour rate.
    capacity: ChargeText,
    /// Hour rate of the capacity.
    hour_rate: DurationText,
    /// Peukert exponent.
    peukert: NumberText,
    /// Cold cranking current.
    cranking: CurrentText,
    /// Short-circuit current stated by the maker.
    short_circuit: CurrentText,
    /// Internal resistance stated by the maker or measured.
    resistance: ResistanceText,
    /// Highest charging voltage.
    max_charge_voltage: VoltageText,
    /// Highest continuous current its management allows.
    management_limit: CurrentText,
    /// Warns before the management cuts out.
    alarm_contact: Flag,
    /// Ungrounded post is covered.
    covered: Flag,
    /// Stud size of the posts.
    stud: Text,
    /// Point it sits at.
    at: Text,
    /// Zone it sits in.
    zone: Text,
});

record!(/// One battery or a set acting as one.
BankRecord {
    /// `start`, `house`, `bow` or another word.
    purpose: Text,
    /// Series strings, lowest battery first; several strings are in parallel.
    strings: Vec<OneOrMany<Text>>,
    /// Shares no pole with the other systems.
    isolated: Flag,
    /// Batteries of a string whose upper post may be tapped on purpose.
    mid_taps: OneOrMany<Text>,
});

/// What a switch position closes.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Closes(pub Vec<Vec<Text>>);

enum CloseItem {
    Group(Vec<Text>),
    Name(Text),
}

/// Written out, so that a fault inside a group is reported at its own place.
struct CloseItemVisitor;

impl<'de> Visitor<'de> for CloseItemVisitor {
    type Value = CloseItem;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("a terminal or a group of terminals")
    }
    fn visit_str<E: de::Error>(self, name: &str) -> Result<CloseItem, E> {
        Ok(CloseItem::Name(Text(name.to_owned())))
    }
    fn visit_bool<E: de::Error>(self, name: bool) -> Result<CloseItem, E> {
        self.visit_str(&name.to_string())
    }
    fn visit_i64<E: de::Error>(self, name: i64) -> Result<CloseItem, E> {
        self.visit_str(&name.to_string())
    }
    fn visit_u64<E: de::Error>(self, name: u64) -> Result<CloseItem, E> {
        self.visit_str(&name.to_string())
    }
    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<CloseItem, A::Error> {
        let mut group = Vec::new();
        while let Some(name) = list.next_element()? {
            group.push(name);
        }
        Ok(CloseItem::Group(group))
    }
}

impl<'de> Deserialize<'de> for CloseItem {
    fn deserialize<D: Deserializer<'de>>(reader: D) -> Result<Self, D::Error> {
        reader.deserialize_any(CloseItemVisitor)
    }
}

struct ClosesVisitor;

impl<'de> Visitor<'de> for ClosesVisitor {
    type Value = Closes;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("a list of groups of terminals, such as [[house, feed]]")
    }
    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Closes, A::Error> {
        let (mut groups, mut flat) = (Vec::new(), Vec::new());
        while let Some(item) = list.next_element::<CloseItem>()? {
            match item {
                CloseItem::Group(group) => groups.push(group),
                CloseItem::Name(name) => flat.push(name),
            }
        }
        if !flat.is_empty() {
            if !groups.is_empty() {
                return Err(de::Error::custom(
                    "names and groups are mixed; write every group in its own brackets",
                ));
            }
            groups.push(flat);
        }
        Ok(Closes(groups))
    }
}

impl<'de> Deserialize<'de> for Closes {
    fn deserialize<D: Deserializer<'de>>(reader: D) -> Result<Self, D::Error> {
        reader.deserialize_any(ClosesVisitor)
    }
}

impl JsonSchema for Closes {
    fn schema_name() -> Cow<'static, str> {
        "Closes".into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let name = generator.subschema_for::<Text>();
        json_schema!({
            "description": "Groups of terminals joined together; one flat list is one group.",
            "type": "array",
            "items": { "anyOf": [name, { "type": "array", "items": name }] },
            "examples": [[["house", "feed"]]]
        })
    }
}

/// A switch position: what it closes and what it is allowed to do.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PositionRecord {
    /// Groups of terminals joined in this position.
    pub closes: Option<Closes>,
    /// The position joins banks on purpose.
    pub joins_banks: Option<Flag>,
    /// The position is for emergencies: house loads may then draw on the start bank.
    pub emergency: Option<Flag>,
}

#[derive(Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
struct PositionMap {
    /// Groups of terminals joined in this position.
    closes: Option<Closes>,
    /// The position joins banks on purpose.
    joins_banks: Option<Flag>,
    /// The position is for emergencies: house loads may then draw on the start bank.
    emergency: Option<Flag>,
}

struct PositionVisitor;

impl<'de> Visitor<'de> for PositionVisitor {
    type Value = PositionRecord;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("a list of groups of terminals, or a map with `closes`")
    }
    fn visit_seq<A: SeqAccess<'de>>(self, list: A) -> Result<PositionRecord, A::Error> {
        let closes = ClosesVisitor.visit_seq(list)?;
        Ok(PositionRecord {
            closes: Some(closes),
            ..PositionRecord::default()
        })
    }
    fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<PositionRecord, A::Error> {
        let PositionMap {
            closes,
            joins_banks,
            emergency,
        } = PositionMap::deserialize(de::value::MapAccessDeserializer::new(map))?;
        Ok(PositionRecord {
            closes,
            joins_banks,
            emergency,
        })
    }
    fn visit_unit<E: de::Error>(self) -> Result<PositionRecord, E> {
        Ok(PositionRecord::default())
    }
}

impl<'de> Deserialize<'de> for PositionRecord {
    fn deserialize<D: Deserializer<'de>>(reader: D) -> Result<Self, D::Error> {
        reader.deserialize_any(PositionVisitor)
    }
}

impl JsonSchema for PositionRecord {
    fn schema_name() -> Cow<'static, str> {
        "Position".into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let closes = generator.subschema_for::<Closes>();
        let map = generator.subschema_for::<PositionMap>();
        json_schema!({ "anyOf": [closes, map, { "type": "null" }] })
    }
}

record!(/// A switch of any kind. Without `terminals` it has `in` and `out` and the positions `off` and `on`.
SwitchRecord {
    /// `battery`, `panel`, `key`, `float`, `push`, `timer` or `pressure`.
    kind: Text,
    /// Continuous rating.
    rating: CurrentText,
    /// Short-time rating, for cranking.
    intermittent_rating: CurrentText,
    /// Highest voltage it may switch.
    voltage: VoltageText,
    /// Its terminals, as marked on the part.
    terminals: OneOrMany<Text>,
    /// Position name to what it closes.
    positions: IndexMap<String, PositionRecord>,
    /// The position it normally stands in. Left out: a battery switch in its first position that is not off and neither
    /// joins banks nor is for emergencies; any other switch at `off` where there is one, else in its first.
    normal: Text,
    /// Works by itself: nobody's hand is needed (floats, timers, thermostats).
    automatic: Flag,
    /// Contact resistance.
    resistance: ResistanceText,
    /// Tested not to ignite gasoline vapour.
    ignition_protected: Flag,
    /// Stud or screw size.
    stud: Text,
    /// Point it sits at.
    at: Text,
    /// Zone it sits in.
    zone: Text,
});

record!(/// A relay, solenoid or contactor. Terminals `coil+`, `coil-`, `com`, `no` and, where it has one, `nc`.
RelayRecord {
    /// `make`, `break` or `changeover`.
    contacts: Text,
    /// Continuous rating of the contacts.
    rating: CurrentText,
    /// Short-time rating of the contacts.
    intermittent_rating: CurrentText,
    /// Coil current.
    coil_draw: DrawText,
    /// Nominal voltage of the coil.
    coil_voltage: VoltageText,
    /// Coil has a diode or resistor across it.
    suppressed: Flag,
    /// Contact resistance.
    resistance: ResistanceText,
    /// Tested not to ignite gasoline vapour.
    ignition_protected: Flag,
    /// Stud size of the contacts.
    stud: Text,
    /// Point it sits at.
    at: Text,
    /// Zone it sits in.
    zone: Text,
});

record!(/// A relay that joins two banks by itself while one of them is charging. Terminals `a`, `b` and `-`.
CombinerRecord {
    /// Continuous rating.
    rating: CurrentText,
    /// Standby current through `-`.
    draw: DrawText,
    /// Needs no negative lead.
    self_referenced: Flag,
    /// Contact resistance.
    resistance: ResistanceText,
    /// Tested not to ignite gasoline vapour.
    ignition_protected: Flag,
    /// Stud size.
    stud: Text,
    /// Point it sits at.
    at: Text,
    /// Zone it sits in.
    zone: Text,
});

record!(/// A diode isolator: current flows from `in` to each output only. Terminals `in`, `1`, `2`, ...
IsolatorRecord {
    /// Number of outputs.
    outputs: NumberText,
    /// Rating of each output.
    rating: CurrentText,
    /// Forward voltage.
    forward_voltage: VoltageText,
    /// The charging source senses behind it.
    compensated: Flag,
    /// Point it sits at.
    at: Text,
    /// Zone it sits in.
    zone: Text,
});

record!(/// A single fuse in its holder. Terminals `in` and `out`.
FuseRecord {
    /// Rated current; `auto` to have it chosen, `auto 10 A` for a choice that is kept.
    rating: RatingText,
    /// Form, such as `blade regular`, `bolt-down strip large` or `class T`.
    form: Text,
    /// Rated voltage.
    voltage: VoltageText,
    /// Interrupting rating.
    interrupting: CurrentText,
    /// Sits directly on a stud of this terminal: no conductor between.
    on: Text,
    /// Largest rating the holder takes.
    holder_rating: CurrentText,
    /// Tested not to ignite gasoline vapour.
    ignition_protected: Flag,
    /// Stud size.
    stud: Text,
    /// Point it sits at.
    at: Text,
    /// Zone it sits in.
    zone: Text,
});

record!(/// A circuit breaker. Terminals `in` and `out`.
BreakerRecord {
    /// Rated current; `auto` to have it chosen, `auto 10 A` for a choice that is kept.
    rating: RatingText,
    /// Rated voltage.
    voltage: VoltageText,
    /// Interrupting rating.
    interrupting: CurrentText,
    /// `manual` or `automatic`.
    reset: Text,
    /// Cannot be held closed on a fault.
    trip_free: Flag,
    /// Used as a switch too: its off position is a switch position.
    as_switch: Flag,
    /// Sits directly on a stud of this terminal: no conductor between.
    on: Text,
    /// Tested not to ignite gasoline vapour.
    ignition_protected: Flag,
    /// Stud size.
    stud: Text,
    /// Point it sits at.
    at: Text,
    /// Zone it sits in.
    zone: Text,
});

/// One way of a fuse block: a rating, or a map with more.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct FuseWayRecord {
    /// Rated current, `auto`, `auto 10 A` for a choice that is kept, or `spare`.
    pub rating: Option<RatingText>,
    /// Name as on the panel.
    pub name: Option<Text>,
}

#[derive(Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
struct FuseWayMap {
    /// Rated current, `auto`, `auto 10 A` for a choice that is kept, or `spare`.
    rating: Option<RatingText>,
    /// Name as on the panel.
    name: Option<Text>,
}

struct FuseWayVisitor;

impl<'de> Visitor<'de> for FuseWayVisitor {
    type Value = FuseWayRecord;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("a rating such as 10 A, or a map with `rating`")
    }
    fn visit_str<E: de::Error>(self, value: &str) -> Result<FuseWayRecord, E> {
        Ok(FuseWayRecord {
            rating: Some(RatingText(value.to_owned())),
            name: None,
        })
    }
    fn visit_u64<E: de::Error>(self, value: u64) -> Result<FuseWayRecord, E> {
        self.visit_str(&value.to_string())
    }
    fn visit_i64<E: de::Error>(self, value: i64) -> Result<FuseWayRecord, E> {
        self.visit_str(&value.to_string())
    }
    fn visit_f64<E: de::Error>(self, value: f64) -> Result<FuseWayRecord, E> {
        self.visit_str(&value.to_string())
    }
    fn visit_unit<E: de::Error>(self) -> Result<FuseWayRecord, E> {
        Ok(FuseWayRecord::default())
    }
    fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<FuseWayRecord, A::Error> {
        let FuseWayMap { rating, name } =
            FuseWayMap::deserialize(de::value::MapAccessDeserializer::new(map))?;
        Ok(FuseWayRecord { rating, name })
    }
}

impl<'de> Deserialize<'de> for FuseWayRecord {
    fn deserialize<D: Deserializer<'de>>(reader: D) -> Result<Self, D::Error> {
        reader.deserialize_any(FuseWayVisitor)
    }
}

impl JsonSchema for FuseWayRecord {
    fn schema_name() -> Cow<'static, str> {
        "FuseWay".into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let rating = generator.subschema_for::<RatingText>();
        let map = generator.subschema_for::<FuseWayMap>();
        json_schema!({ "anyOf": [rating, map, { "type": "null" }] })
    }
}

record!(/// The negative bus built into a fuse block: terminal `negative`.
BlockNegativeRecord {
    /// Number of screws.
    studs: NumberText,
    /// Continuous rating.
    rating: CurrentText,
});

record!(/// A block of fuses or breakers with one feed. Terminals `feed`, each way by its number, and `negative`.
FuseBlockRecord {
    /// Highest current of the feed stud.
    feed_rating: CurrentText,
    /// Way number to its device.
    ways: IndexMap<String, FuseWayRecord>,
    /// `fuse` or `breaker`.
    device: Text,
    /// Form of its fuses.
    form: Text,
    /// Rated voltage of its devices.
    voltage: VoltageText,
    /// Interrupting rating of its devices.
    interrupting: CurrentText,
    /// Highest rating a way takes.
    way_rating: CurrentText,
    /// Current the feed is designed for, where not all loads run together.
    design_current: CurrentText,
    /// Built-in negative bus.
    negative: BlockNegativeRecord,
    /// Tested not to ignite gasoline vapour.
    ignition_protected: Flag,
    /// Stud size of the feed.
    stud: Text,
    /// Screw size of the ways.
    way_stud: Text,
    /// Width and height of its lid: its chart is drawn at this size.
    size: OneOrMany<LengthText>,
    /// Columns that its ways stand in, filled from the top down, the first column first; one when left out.
    columns: NumberText,
    /// Point it sits at.
    at: Text,
    /// Zone it sits in.
    zone: Text,
});

record!(/// A bus bar: one electrical point with several studs. Terminals by stud number, or the bare name for any free stud.
BusRecord {
    /// `positive`, `negative` or `bonding`.
    polarity: Text,
    /// Number of studs.
    studs: NumberText,
    /// Continuous rating.
    rating: CurrentText,
    /// Sits directly on a stud of this terminal: no conductor between.
    on: Text,
    /// Covered or booted.
    covered: Flag,
    /// Stud size.
    stud: Text,
    /// Point it sits at.
    at: Text,
    /// Zone it sits in.
    zone: Text,
});

record!(/// One of several positive inputs of a load.
InputRecord {
    /// Current or power it takes.
    draw: DrawText,
    /// Stays live with every battery switch off.
    always_on: Flag,
    /// Current while idle.
    standby: DrawText,
    /// Hours a day; those of the load when left out.
    hours: DurationText,
});

record!(/// Something that takes current. Terminals `+` and `-`, or one for each input and `-`.
LoadRecord {
    /// Name for labels, where the designation says too little.
    name: Text,
    /// Current or power while running.
    draw: DrawText,
    /// Several positive inputs by name, each with its draw.
    inputs: IndexMap<String, InputRecord>,
    /// `lamp`, `motor`, `electronics`, `heater`, `horn`, `outlet`, `starter`, `coil` or `other`.
    kind: Text,
    /// What it serves, for the drop class and the safety rules: `navigation-light`, `bilge-pump`, `bilge-blower`,
    /// `electronics`, `alarm`, `panel`, `engine` or `other`.
    service: Text,
    /// `continuous`, `intermittent` or `surge`.
    duty: Text,
    /// How the current follows the voltage: `current`, `power` or `resistance`.
    behaves: Text,
    /// Highest current for a short time.
    peak: CurrentText,
    /// Current with the rotor locked.
    stall: CurrentText,
    /// Drop limit: `critical`, `ordinary` or a share in per cent.
    drop: PercentText,
    /// Safety depends on it.
    vital: Flag,
    /// Must stay live with every battery switch off.
    always_on: Flag,
    /// Belongs to this bank and may drain it.
    bank: Text,
    /// Largest fuse its maker allows.
    largest_fuse: CurrentText,
    /// Nominal voltage.
    voltage: VoltageText,
    /// Lowest voltage it works at.
    min_voltage: VoltageText,
    /// Current while idle.
    standby: DrawText,
    /// Hours a day.
    hours: DurationText,
    /// Its case is joined to its negative and stands on the hull or engine.
    case_grounded: Flag,
    /// Protected inside against a locked rotor.
    thermally_protected: Flag,
    /// Tested not to ignite gasoline vapour.
    ignition_protected: Flag,
    /// Stud or screw size.
    stud: Text,
    /// Point it sits at.
    at: Text,
    /// Zone it sits in.
    zone: Text,
});

record!(/// One output of a charger.
OutputRecord {
    /// Highest current.
    current: CurrentText,
    /// Highest charging voltage.
    voltage: VoltageText,
    /// Charging profile, by chemistry.
    chemistry: Text,
});

record!(/// A shore charger. Terminals `1+`, `2+`, ... and `-`, or `1-`, `2-`, ... when its outputs are isolated.
ChargerRecord {
    /// Output number to its ratings.
    outputs: IndexMap<String, OutputRecord>,
    /// Each output has a negative of its own.
    isolated_outputs: Flag,
    /// Cannot deliver more than its rating, whatever happens.
    self_limiting: Flag,
    /// A device is built in at each output.
    built_in_fuse: CurrentText,
    /// Tested not to ignite gasoline vapour.
    ignition_protected: Flag,
    /// Point it sits at.
    at: Text,
    /// Zone it sits in.
    zone: Text,
});

record!(/// An alternator or a generator. Terminals `+` and `-`.
AlternatorRecord {
    /// Highest rated current.
    current: CurrentText,
    /// Regulated voltage.
    voltage: VoltageText,
    /// Cannot deliver more than its rating, whatever happens.
    self_limiting: Flag,
    /// Battery switches that open its field by a contact of their own before they stand at off.
    field_switches: OneOrMany<Text>,
    /// A surge protector at its output takes the load dump when it loses its battery.
    surge_protected: Flag,
    /// Tested not to ignite gasoline vapour.
    ignition_protected: Flag,
    /// Stud size.
    stud: Text,
    /// Point it sits at.
    at: Text,
    /// Zone it sits in.
    zone: Text,
});

record!(/// A DC-DC converter or a battery-to-battery charger. Terminals `in+`, `in-`, `out+`, `out-`.
ConverterRecord {
    /// Highest input current.
    input_current: CurrentText,
    /// Highest output current.
    output_current: CurrentText,
    /// Input voltage.
    input_voltage: VoltageText,
    /// Output voltage.
    output_voltage: VoltageText,
    /// Charging profile, by chemistry.
    chemistry: Text,
    /// Input and output share no pole.
    isolated: Flag,
    /// Tested not to ignite gasoline vapour.
    ignition_protected: Flag,
    /// Point it sits at.
    at: Text,
    /// Zone it sits in.
    zone: Text,
});

record!(/// A solar array with its controller. Terminals `+` and `-` on the battery side.
SolarRecord {
    /// Highest current of the controller.
    current: CurrentText,
    /// Highest charging voltage.
    voltage: VoltageText,
    /// Power of the array.
    power: DrawText,
    /// Charging profile, by chemistry.
    chemistry: Text,
    /// Tested not to ignite gasoline vapour.
    ignition_protected: Flag,
    /// Point it sits at.
    at: Text,
    /// Zone it sits in.
    zone: Text,
});

record!(/// A gauge, meter, sender or monitor. Terminals `+`, `-` and whatever `senses` names.
InstrumentRecord {
    /// `voltmeter`, `ammeter`, `gauge`, `sender`, `monitor` or another word.
    kind: Text,
    /// Current it takes.
    draw: DrawText,
    /// Nominal voltage.
    voltage: VoltageText,
    /// Terminals that only sense and carry no load current.
    senses: OneOrMany<Text>,
    /// Drop limit: `critical`, `ordinary` or a share in per cent.
    drop: PercentText,
    /// Must stay live with every battery switch off.
    always_on: Flag,
    /// Belongs to this bank and may drain it.
    bank: Text,
    /// Tested not to ignite gasoline vapour.
    ignition_protected: Flag,
    /// Point it sits at.
    at: Text,
    /// Zone it sits in.
    zone: Text,
});

record!(/// A shunt. Terminals `battery` and `system`, with sense taps `battery-sense` and `system-sense`.
ShuntRecord {
    /// Rated current.
    rating: CurrentText,
    /// Voltage at the rated current.
    voltage: VoltageText,
    /// Stud size.
    stud: Text,
    /// Point it sits at.
    at: Text,
    /// Zone it sits in.
    zone: Text,
});

record!(/// One half of a connector.
HalfRecord {
    /// `sockets` or `pins`.
    contacts: Text,
    /// Point it sits at.
    at: Text,
    /// Zone it sits in.
    zone: Text,
});

record!(/// A multi-way connector. Cavity 3 has the terminals `3a` and `3b`, one on each half; half `a` faces the supply.
ConnectorRecord {
    /// Number of cavities.
    cavities: NumberText,
    /// Highest current of one contact.
    contact_rating: CurrentText,
    /// Thinnest and thickest conductor a contact takes.
    accepts: OneOrMany<SizeText>,
    /// Contact resistance of one mated pair.
    resistance: ResistanceText,
    /// Sealed against water.
    sealed: Flag,
    /// Shape and keying; two connectors of one shape can be mated by mistake.
    shape: Text,
    /// Rows of cavity numbers as half a shows them, top row first: `1 2 3`, with a point for a gap.
    face: OneOrMany<Text>,
    /// Side of half a that the face shows: `wire-side` or `mating-face`; the wire side when left out.
    face_view: Text,
    /// Side of the face that carries the key: `top`, `bottom`, `left` or `right`.
    keyway: Text,
    /// Half towards the supply.
    a: HalfRecord,
    /// Half towards the loads.
    b: HalfRecord,
    /// Point it sits at.
    at: Text,
    /// Zone it sits in.
    zone: Text,
});

record!(/// A permanent joint of conductors: one electrical point.
SpliceRecord {
    /// `butt`, `closed-end`, `terminal-block` or another word.
    kind: Text,
    /// Sealed against water.
    sealed: Flag,
    /// Point it sits at.
    at: Text,
    /// Zone it sits in.
    zone: Text,
});

record!(/// Engine block, hull, bonding plate: one electrical point.
GroundRecord {
    /// `engine`, `hull` or `bonding`.
    kind: Text,
    /// Stud size.
    stud: Text,
    /// Point it sits at.
    at: Text,
    /// Zone it sits in.
    zone: Text,
});

/// A part that a circuit passes through: its name, or its name with the terminals to enter and to leave by.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ThroughItem {
    /// `washdown-switch`, or `plug.3` for a cavity.
    pub part: Text,
    /// Terminal to enter by and terminal to leave by.
    pub terminals: Option<Vec<Text>>,
}

struct ThroughVisitor;

impl<'de> Visitor<'de> for ThroughVisitor {
    type Value = ThroughItem;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("a part's name, or one part with the terminals to enter and to leave by")
    }
    fn visit_str<E: de::Error>(self, value: &str) -> Result<ThroughItem, E> {
        Ok(ThroughItem {
            part: Text(value.to_owned()),
            terminals: None,
        })
    }
    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<ThroughItem, A::Error> {
        let Some((part, terminals)) = map.next_entry::<Text, Vec<Text>>()? else {
            return Err(de::Error::custom("the part's name is missing"));
        };
        if map.next_entry::<Text, Vec<Text>>()?.is_some() {
            return Err(de::Error::custom("write each part as an item of its own"));
        }
        Ok(ThroughItem {
            part,
            terminals: Some(terminals),
        })
    }
}

impl<'de> Deserialize<'de> for ThroughItem {
    fn deserialize<D: Deserializer<'de>>(reader: D) -> Result<Self, D::Error> {
        reader.deserialize_any(ThroughVisitor)
    }
}

impl JsonSchema for ThroughItem {
    fn schema_name() -> Cow<'static, str> {
        "Through".into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let name = generator.subschema_for::<Text>();
        json_schema!({
            "description": "A part's name, or {part: [enter, leave]}.",
            "anyOf": [
                name,
                { "type": "object", "minProperties": 1, "maxProperties": 1,
                  "additionalProperties": { "type": "array", "items": name, "minItems": 2, "maxItems": 2 } }
            ]
        })
    }
}

/// What a circuit asks of its way: a point or way for all its legs, or those of one leg.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ViaItem {
    /// Points or ways to pass, in order.
    pub names: Vec<Text>,
    /// A list of its own, so it is about one leg.
    pub is_leg: bool,
}

struct ViaVisitor;

impl<'de> Visitor<'de> for ViaVisitor {
    type Value = ViaItem;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("a point or way to pass, or a list of them for one leg")
    }
    fn visit_str<E: de::Error>(self, value: &str) -> Result<ViaItem, E> {
        Ok(ViaItem {
            names: vec![Text(value.to_owned())],
            is_leg: false,
        })
    }
    fn visit_seq<A: de::SeqAccess<'de>>(self, mut list: A) -> Result<ViaItem, A::Error> {
        let mut names = Vec::new();
        while let Some(name) = list.next_element()? {
            names.push(name);
        }
        Ok(ViaItem {
            names,
            is_leg: true,
        })
    }
}

impl<'de> Deserialize<'de> for ViaItem {
    fn deserialize<D: Deserializer<'de>>(reader: D) -> Result<Self, D::Error> {
        reader.deserialize_any(ViaVisitor)
    }
}

impl JsonSchema for ViaItem {
    fn schema_name() -> Cow<'static, str> {
        "Via".into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let name = generator.subschema_for::<Text>();
        json_schema!({
            "description": "A point or way to pass, or a list of them for one leg.",
            "anyOf": [name, { "type": "array", "items": name }]
        })
    }
}

record!(/// The short form: one entry stands for the runs from a feed through its switches to a load and back.
CircuitRecord {
    /// Circuit number, the stem of its wire numbers; the circuit's key in capitals when left out.
    number: Text,
    /// Function for labels and charts.
    name: Text,
    /// Terminal it is fed from.
    feed: Text,
    /// The one switch it passes, where there is one.
    switch: ThroughItem,
    /// All parts the positive passes, in order, where there are several.
    through: OneOrMany<ThroughItem>,
    /// Load, or one input of it.
    load: Text,
    /// Where the negative goes.
    r#return: Text,
    /// Parts the negative passes, from the load back.
    return_through: OneOrMany<ThroughItem>,
    /// One-way length, or one length for each leg of the positive.
    length: OneOrMany<LengthText>,
    /// Length of the negative, or one for each leg; as the positive when left out.
    return_length: OneOrMany<LengthText>,
    /// Size of its conductors; `auto` to have it chosen, `auto 14 AWG` for a choice that is kept.
    gauge: GaugeText,
    /// Size of the negative where it differs.
    return_gauge: GaugeText,
    /// Insulation colour of the positive.
    colour: Text,
    /// Insulation colour of the negative.
    return_colour: Text,
    /// Insulation temperature rating.
    insulation: TemperatureText,
    /// Wire type.
    wire_type: Text,
    /// Bundles its conductors lie in; its legs follow one another, so each pole counts once in a bundle.
    bundle: OneOrMany<Text>,
    /// Zones its conductors pass, besides those of their ends.
    passes: OneOrMany<Text>,
    /// Sheathed or enclosed all along.
    sheathed: Flag,
    /// Points or ways to pass, in order, or a list of them for each leg of the positive.
    via: OneOrMany<ViaItem>,
    /// The same for the negative, from the load back; the way of the positive the other way round when left out.
    return_via: OneOrMany<ViaItem>,
    /// Points or ways not to take.
    avoid: OneOrMany<Text>,
});

record!(/// One conductor, keyed by its wire number. A run whose number a circuit implies adds to or overrides it.
RunRecord {
    /// Terminal it starts at, towards the supply.
    from: Text,
    /// Terminal it ends at.
    to: Text,
    /// Function for labels.
    name: Text,
    /// Size; `auto` to have it chosen, `auto 14 AWG` for a choice that is kept.
    gauge: GaugeText,
    /// Insulation colour; a stripe after a slash: `YE/RD` or `yellow/red`.
    colour: Text,
    /// Insulation temperature rating.
    insulation: TemperatureText,
    /// Wire type.
    wire_type: Text,
    /// Length along the conductor.
    length: LengthText,
    /// Bundles it lies in.
    bundle: OneOrMany<Text>,
    /// Zones it passes, besides those of its ends.
    passes: OneOrMany<Text>,
    /// Sheathed or enclosed all along.
    sheathed: Flag,
    /// Supplies a cranking motor and nothing else: exempt from overcurrent protection.
    cranking: Flag,
    /// A supplied lead of a component, under 7 in exposed.
    pigtail: Flag,
    /// Only senses or signals; carries no load current.
    sense: Flag,
    /// One end is capped on purpose.
    spare: Flag,
    /// Multi-core cable it is a core of.
    cable: Text,
    /// Points or ways to pass, in order.
    via: OneOrMany<Text>,
    /// Points or ways not to take.
    avoid: OneOrMany<Text>,
});

record!(/// A sheathed cable of several cores: cut once, bought once, one thing in a bundle. A run may also name its cable itself.
CableRecord {
    /// Wire numbers of its cores.
    cores: OneOrMany<Text>,
    /// Diameter over the sheath, measured.
    outside_diameter: LengthText,
    /// Spool that it is cut from.
    spool: Text,
});

record!(/// Wire or cable that is at hand. It serves the runs of the same size, colour and type; a spool of cable serves the cables that name it.
SpoolRecord {
    /// Size of the wire, or of the thickest core.
    gauge: SizeText,
    /// Insulation colour, as of a run; of a cable, that of its sheath.
    colour: Text,
    /// Wire type; that of the policy when left out.
    wire_type: Text,
    /// Number of cores, of sheathed cable only.
    cores: NumberText,
    /// Diameter over the insulation or the sheath, measured.
    outside_diameter: LengthText,
    /// What is on each spool at hand.
    lengths: OneOrMany<LengthText>,
    /// Offcuts at hand, which are used before any spool.
    offcuts: OneOrMany<LengthText>,
    /// Lengths that more of it can be bought in; any length when left out.
    sold: OneOrMany<LengthText>,
});

record!(/// What labels are printed on, measured. A wire takes the first stock of the file that fits it.
LabelStockRecord {
    /// `wrap` (printed part and clear tail), `sleeve` (heat-shrink), `flag` (folded over the wire) or `strip` (plain paper to cut, under clear sleeve).
    kind: Text,
    /// Width and height of one sheet; without it only the list for a label printer is made.
    page: OneOrMany<LengthText>,
    /// From the left and the upper edge of the sheet to the first label.
    margins: OneOrMany<LengthText>,
    /// Width and height of one label; its lines run along the width.
    size: OneOrMany<LengthText>,
    /// From one label to the next, across and down; its size when left out.
    pitch: OneOrMany<LengthText>,
    /// Labels side by side.
    columns: NumberText,
    /// Labels one below the other.
    rows: NumberText,
    /// Height of the printed part of a wrap label; the rest is its clear tail.
    printed: LengthText,
    /// Bore of a sleeve as supplied.
    supplied: LengthText,
    /// Bore of a sleeve as recovered.
    recovered: LengthText,
    /// `data-matrix` prints the wire number as a code too.
    code: Text,
    /// Edge of one square of the code; 0.5 mm when left out.
    module: LengthText,
});

record!(/// One way of using the boat: positions, loads, engine, hours.
ScenarioRecord {
    /// Name for the papers.
    name: Text,
    /// Switch to position; others stand in their normal position.
    positions: IndexMap<String, Text>,
    /// Loads that run, or `all`.
    on: OneOrMany<Text>,
    /// `running` or `stopped`.
    engine: Text,
    /// Shore chargers, converters and solar arrays that work.
    charging: OneOrMany<Text>,
    /// How long it lasts.
    hours: DurationText,
    /// State of charge of the banks.
    state_of_charge: PercentText,
});

record!(/// Positions that cannot occur together.
InterlockRecord {
    /// Switch to position; never all of them at once.
    never: IndexMap<String, Text>,
    /// Why.
    reason: Text,
});

record!(/// A finding that the owner accepts, with the reason.
AcceptanceRecord {
    /// Rule id or name.
    rule: Text,
    /// Element it is about.
    element: Text,
    /// Why it is accepted.
    reason: Text,
});

record!(/// Allowances of the cut list, where the defaults do not fit.
AllowanceRecord {
    /// Two re-terminations per end, small wire.
    termination: LengthText,
    /// Two re-terminations per end, battery cable.
    cable_termination: LengthText,
    /// Share for lay-up and wander in the bundle.
    bundle: PercentText,
    /// Share for a route measured on the boat by string; 0 % when the lengths come from a model.
    measured: PercentText,
    /// Drip loop at an end in a wet zone.
    drip_loop: LengthText,
    /// Service loop at an end on a panel or a connector.
    service_loop: LengthText,
});
