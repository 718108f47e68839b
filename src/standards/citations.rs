//! The authorities that rules and tables cite, each written once.
//!
//! A citation that belongs to a table or to a row of one is compared with it by a test.

use super::{Basis, Confidence};

use Confidence::{CommonPractice, Computed, Memory, Read, Secondary};

/// Edition of the Code of Federal Regulations that was read.
const READ_2015: &str = "2015 annual edition";

/// 33 CFR Part 183 Subpart I, law for boats with gasoline engines other than outboards.
const fn law(clause: &'static str) -> Basis {
    Basis::clause("33 CFR", READ_2015, clause, Read)
}

/// 46 CFR, law for inspected vessels; a neighbour that does not bind pleasure craft.
const fn inspected(clause: &'static str) -> Basis {
    Basis::clause("46 CFR", READ_2015, clause, Read)
}

/// ABYC E-11 as reproduced in public text.
const fn abyc(edition: &'static str, clause: &'static str) -> Basis {
    Basis::clause("ABYC E-11", edition, clause, Secondary)
}

/// ISO 10133:2012, withdrawn, as excerpted in public text.
const fn iso(clause: &'static str) -> Basis {
    Basis::clause("ISO 10133", "2012", clause, Secondary)
}

/// FAA AC 43.13-1B, good practice for aircraft wiring.
const fn aircraft(clause: &'static str) -> Basis {
    Basis::clause("FAA AC 43.13-1B", "change 1", clause, Read)
}

// 33 CFR, scope, ignition, batteries.

/// Which boats the law binds.
pub const LAW_SCOPE: Basis = law("183.401");
/// Parts near gasoline must not ignite its vapour.
pub const LAW_IGNITION_PROTECTION: Basis = law("183.410(a)");
/// What isolates a part from gasoline.
pub const LAW_ISOLATION: Basis = law("183.410(b)");
/// A common conductor joins grounded cranking circuits of several engines.
pub const LAW_COMMON_CONDUCTOR: Basis = law("183.415");
/// Metal cannot touch the ungrounded battery terminals.
pub const LAW_BATTERY_TERMINALS: Basis = law("183.420(b)");
/// Metal fuel parts near a battery are shielded.
pub const LAW_BATTERY_FUEL_PARTS: Basis = law("183.420(c)");
/// No battery directly above or below a fuel tank, filter or fitting.
pub const LAW_BATTERY_PLACE: Basis = law("183.420(d)");
/// No battery connector that relies on spring tension.
pub const LAW_BATTERY_CONNECTORS: Basis = law("183.420(g)");

// 33 CFR, conductors.

/// Conductors are insulated, stranded copper.
pub const LAW_CONDUCTOR: Basis = law("183.425(a)");
/// Allowable amperage.
pub const LAW_AMPACITY: Basis = law("183.425(b), Table 5");
/// Correction inside engine spaces.
pub const LAW_ENGINE_SPACE: Basis = law("183.425(c), Table 5 note 1");
/// Least size in a sheath.
pub const LAW_SHEATHED_SIZE: Basis = law("183.425(d)(f)");
/// Least size of a conductor by itself.
pub const LAW_SEPARATE_SIZE: Basis = law("183.425(e)");
/// Conductors that the size and amperage rules leave out.
pub const LAW_CONDUCTOR_EXEMPTIONS: Basis = law("183.425(g)");
/// Conductors of circuits below 50 V.
pub const LAW_CONDUCTOR_BELOW_50_V: Basis = law("183.430(a)");
/// Conductors of circuits of 50 V and more.
pub const LAW_CONDUCTOR_FROM_50_V: Basis = law("183.435(a)");
/// Reduction for bundles, binding from 50 V on.
pub const LAW_BUNDLING: Basis = law("183.435(b), Table 5 note 2");
/// Protection from chafe.
pub const LAW_CHAFE: Basis = law("183.445(a)");
/// Continuously energised terminals are protected or covered.
pub const LAW_LIVE_TERMINALS: Basis = law("183.445(b)");

// 33 CFR, overcurrent protection.

/// Every ungrounded conductor has a breaker reset by hand, trip-free, or a fuse.
pub const LAW_OVERCURRENT: Basis = law("183.455(a)");
/// The device stands at the source of power.
pub const LAW_PLACEMENT: Basis = law("183.455(b)");
/// Within 7 in where the source is impractical.
pub const LAW_PLACEMENT_NEAR: Basis = law("183.455(b)(1)");
/// Within 40 in where 7 in are impractical and the conductor is sheathed.
pub const LAW_PLACEMENT_SHEATHED: Basis = law("183.455(b)(2)");
/// Rating below 50 V.
pub const LAW_RATING_BELOW_50_V: Basis = law("183.455(c)(1)");
/// Rating from 50 V on.
pub const LAW_RATING_FROM_50_V: Basis = law("183.455(c)(2)");
/// Voltage rating of the device.
pub const LAW_DEVICE_VOLTAGE: Basis = law("183.455(d)");
/// Conductors that need no device.
pub const LAW_OVERCURRENT_EXEMPTIONS: Basis = law("183.455(e)");
/// Output conductor of a storage battery.
pub const LAW_BATTERY_OUTPUT: Basis = law("183.460(a)");
/// Output of an alternator or generator.
pub const LAW_GENERATOR_OUTPUT: Basis = law("183.460(b)");

// 46 CFR, inspected vessels.

/// Supports at most 24 in apart.
pub const INSPECTED_SUPPORT: Basis = inspected("183.340(b)(4)");
/// Least conductor sizes.
pub const INSPECTED_SIZE: Basis = inspected("183.340(c)");
/// Voltage drop and its formula with K = 10.75.
pub const INSPECTED_DROP: Basis = inspected("183.340(p)");
/// Connections of batteries; no spring clips.
pub const INSPECTED_BATTERY: Basis = inspected("183.350");
/// The grounded conductor is not switched or broken by itself.
pub const INSPECTED_GROUNDED_CONDUCTOR: Basis = inspected("183.380(b)");
/// Device rating to the conductor capacity.
pub const INSPECTED_RATING: Basis = inspected("183.380(d)");
/// Emergency switch in the main supply from a battery.
pub const INSPECTED_EMERGENCY_SWITCH: Basis = inspected("183.380(i)");

// ABYC E-11, secondary throughout.

/// Any ungrounded conductor protected within 7 in of its source.
pub const ABYC_PLACEMENT_NEAR: Basis = abyc("", "11.10.1.1");
/// Within 72 in from a battery terminal, sheathed.
pub const ABYC_PLACEMENT_BATTERY: Basis = abyc("2004", "11.12.1.1.1 exc. 1");
/// Within 40 in from another source, sheathed.
pub const ABYC_PLACEMENT_SHEATHED: Basis = abyc("2004", "11.12.1.1.1 exc. 2");
/// Each conductor of a charging source protected where it joins the system.
pub const ABYC_CHARGING_SOURCES: Basis = abyc("2004", "11.12.1.1.1");
/// Device rating at most the conductor ampacity.
pub const ABYC_RATING: Basis = abyc("", "11.10.1.5");
/// Voltage drop classes.
pub const ABYC_DROP: Basis = abyc("", "11.14.2.6");
/// At most four terminals on a stud; ring matches stud.
pub const ABYC_STUDS: Basis = abyc("", "");
/// Interrupting capacity by cranking amperes.
pub const ABYC_INTERRUPTING: Basis =
    Basis::clause("ABYC E-11", "older edition", "table V.A", Memory);
/// Interrupting rating for large banks.
pub const ABYC_INTERRUPTING_BANKS: Basis = abyc("2018 and later", "11.10.1.2.3");
/// Crimp pull.
pub const ABYC_CRIMP_PULL: Basis = Basis::clause("ABYC E-11", "", "Table XVI", Memory);
/// Crimp pull, commercial.
pub const UL_PULL: Basis = Basis::clause("UL 486A", "", "", Secondary);
/// Crimp pull, military.
pub const MILITARY_PULL: Basis = Basis::clause("MIL-T-7928", "", "", Secondary);
/// Conductor colours.
pub const ABYC_COLOURS: Basis = abyc("", "colour tables");

// ISO 10133 and 13297.

/// Circuits with a drop limit of 3 %.
pub const ISO_DROP: Basis = iso("4.7-4.8");
/// Least conductor areas.
pub const ISO_SIZE: Basis = iso("7.7");
/// Device of a charging source.
pub const ISO_CHARGING_SOURCE: Basis = Basis::clause("ISO 13297", "2020", "12.3", Secondary);

// FAA AC 43.13-1B.

/// Switch derating by kind of load.
pub const AIRCRAFT_SWITCHES: Basis =
    Basis::clause("FAA AC 43.13-1B", "change 1", "Table 11-4", Memory);
/// Resistance of tinned wire.
pub const AIRCRAFT_RESISTANCE: Basis = aircraft("Table 11-9");
/// Resistance by temperature.
pub const AIRCRAFT_TEMPERATURE: Basis = aircraft("11-66");
/// Slack for re-termination.
pub const AIRCRAFT_SLACK: Basis =
    Basis::clause("FAA AC 43.13-1B", "change 1", "11-118", CommonPractice);
/// Where and how wires are marked.
pub const AIRCRAFT_MARKING: Basis = aircraft("11-208");

// Other publications.

/// Metric ampacity, stepped down from the law.
pub const METRIC_AMPACITY: Basis = Basis::clause(
    "33 CFR",
    READ_2015,
    "183.425(b), Table 5, stepped down to metric sizes",
    Computed,
);
/// Ambient correction by square-root heating.
pub const AMBIENT_CORRECTION: Basis =
    Basis::clause("NFPA 70", "", "310.15, ambient correction equation", Memory);
/// Resistance of flexible copper conductors.
pub const IEC_RESISTANCE: Basis = Basis::clause("IEC 60228", "", "class 5", Secondary);
/// Areas of automotive cable.
pub const SAE_AREAS: Basis = Basis::clause("SAE cable sizes", "", "", Secondary);
/// Fuse forms.
pub const FUSE_FORMS: Basis = Basis::clause("ISO 8820, SAE J1284, UL 248-15", "", "", Memory);
/// Blade fuse ratings and colours.
pub const BLADE_RATINGS: Basis = Basis::clause("SAE J1284, ISO 8820-3", "", "", Memory);
/// Opening times of fuses.
pub const FUSE_TIMES: Basis = Basis::clause("ISO 8820, SAE J1284", "", "", Memory);
/// Resistance of blade fuses.
pub const FUSE_RESISTANCE: Basis = Basis::clause("data sheets of blade fuses", "", "", Memory);
/// Adiabatic heating of conductors in a fault.
pub const ADIABATIC: Basis = Basis::clause("IEC 60364-4-43", "", "", Computed);
/// Outside diameters of conductors.
pub const OUTSIDE_DIAMETERS: Basis =
    Basis::clause("NFPA 70", "2008", "chapter 9 table 5, type THW", Computed);
/// Colour letters.
pub const COLOUR_LETTERS: Basis = Basis::clause("IEC 60757", "2021", "", CommonPractice);
/// Types of conductors that the law accepts.
pub const INSULATION_TYPES: Basis = Basis::clause("33 CFR", READ_2015, "183.430, 183.435", Memory);
/// Insulation gap at a crimp.
pub const STRIP_LENGTHS: Basis = Basis::clause("NASA-STD-8739.4", "", "", CommonPractice);
/// Thread series of studs.
pub const STUDS: Basis = Basis::clause("unified and metric thread series", "", "", Memory);
/// Ring terminals by conductor.
pub const RING_TERMINALS: Basis = Basis::clause("public terminal charts", "", "", CommonPractice);
/// Barrels of terminals.
pub const BARRELS: Basis = Basis::clause(
    "DIN 46235 (bare lugs); common insulated terminals (coloured barrels)",
    "",
    "",
    Memory,
);
/// Rest voltages.
pub const REST_VOLTAGE: Basis = Basis::clause("public charts", "", "", Secondary);
/// Battery estimates.
pub const BATTERIES: Basis = Basis::clause("public battery pages", "", "", Memory);
/// Length tolerance of a harness.
pub const HARNESS_TOLERANCE: Basis =
    Basis::clause("IPC/WHMA-A-620", "2012 draft", "Table 11-1", Secondary);
/// What is commonly sold.
pub const TRADE_LISTS: Basis = Basis::clause("trade lists", "", "", CommonPractice);
/// Habits of the bench without a source.
pub const BENCH_PRACTICE: Basis = Basis::clause("bench practice", "", "", CommonPractice);
/// Tables whose rows each name their own source.
pub(super) const BY_ROW: Basis = Basis::clause("several, by row", "", "", CommonPractice);
/// As `BY_ROW`, the weakest row being from memory.
pub(super) const BY_ROW_MEMORY: Basis = Basis::clause("several, by row", "", "", Memory);
/// As `BY_ROW`, the weakest row being secondary.
pub(super) const BY_ROW_SECONDARY: Basis = Basis::clause("several, by row", "", "", Secondary);

/// Which lights a vessel shows under way and at anchor.
pub const COLLISION_LIGHTS: Basis =
    Basis::clause("COLREGs", "1972", "rules 20, 23, 25 and 30", Memory);

// Policies of this project.

/// Bundling factors applied below 50 V, where the law asks for none.
pub const BUNDLING_POLICY: Basis = Basis::clause(
    "project policy",
    "",
    "bundling factors below 50 V",
    CommonPractice,
);
/// A limit that the netlist states in place of the published one.
pub const OWN_LIMIT: Basis = Basis::clause("this netlist", "", "its own limit", CommonPractice);
/// Sound practice that no text was found for.
pub const COMMON_PRACTICE: Basis = Basis::clause("common practice", "", "", CommonPractice);

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::{DropCircuit, Practice, constants, drop_limit};

    #[test]
    fn citations_of_rows_agree_with_their_rows() {
        let drop = |practice| drop_limit(practice, DropCircuit::NavigationLights).1;
        for (citation, row) in [
            (ABYC_DROP, drop(Practice::Us)),
            (ISO_DROP, drop(Practice::Metric)),
            (INSPECTED_DROP, constants::rule_drop_k().1),
            (AIRCRAFT_TEMPERATURE, constants::copper_zero_resistance().1),
            (AIRCRAFT_MARKING, constants::label_none_below().1),
            (AIRCRAFT_MARKING, constants::label_single_below().1),
            (ABYC_STUDS, constants::terminals_per_stud().1),
            (LAW_CONDUCTOR_EXEMPTIONS, constants::electronics_current().1),
            (LAW_ISOLATION, constants::vapour_isolation().1),
            (LAW_BATTERY_FUEL_PARTS, constants::battery_fuel_shield().1),
        ] {
            assert_eq!(citation, row);
        }
    }
}
