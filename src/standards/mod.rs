//! Published tables and typed lookups; every figure returns with its `Basis`.
//!
//! Tables lie under `data/`, one publication each, with a head that says where they come from and
//! how sure of it we are. A lookup says in its first lines what it does between two rows.
//! Nothing here knows a boat: which figure applies to which conductor is decided in `analysis`.

mod ampacity;
mod basis;
mod batteries;
mod bench;
pub mod citations;
mod colours;
mod conductors;
pub mod constants;
mod fuses;
mod heating;
mod interrupting;
mod overcurrent;
mod part_resistance;
mod plausible;
mod practice;
mod resistance;
mod sources;
mod switches;
mod table;
mod terminals;
mod voltage_drop;

pub use ampacity::{ambient_factor, ampacity, bundling_factor, engine_space_factor};
pub use basis::{Basis, Confidence};
pub use batteries::{
    Chemistry, InternalResistance, internal_resistance, max_charge_voltage, peukert_range,
    rest_voltage, usable_share,
};
pub use bench::{
    CutAllowances, LabelSleeve, Spare, SpareItem, cut_allowances, cut_step, harness_tolerance,
    is_battery_cable, label_sleeve, spare,
};
pub use colours::{
    ColourFunction, ColourRole, InsulationColour, ParseColourError, PlainColour, colour_functions,
    functions_of, plain_colours,
};
pub use conductors::{
    Installation, InsulationType, MinimumSize, automotive_area, insulation_types, minimum_size,
    outside_diameter, sold_sizes,
};
pub use fuses::{
    FormLimits, FuseFigures, FuseForm, OpeningPoint, ParseFuseFormError, blade_colour,
    breaker_ratings, form_interrupting, form_limits, fuse_figures, fuse_ratings, holds_for,
    opened_within, opening_points, rating_from, rating_within,
};
pub use heating::{InsulationFamily, adiabatic_k, withstand_time};
pub use interrupting::{
    BankInterrupting, BreakerPosition, bank_interrupting, breaker_interrupting,
};
pub use overcurrent::{
    PlacementCase, PlacementLimit, RatingCase, RatingLimit, placement_limit, rating_limit,
};
pub use part_resistance::{ClosedPart, closed_resistance};
pub use plausible::{DrawKind, plausible_draw};
pub use practice::{Practice, RuleSet};
pub use resistance::{
    at_temperature, least_resistance, physical_resistance, rule_drop_resistance,
    rule_drop_resistance_iso,
};
pub use sources::sources;
pub use switches::{SwitchedLoad, switch_factor};
pub use table::Source;
pub use terminals::{
    CrimpPull, ParseStudError, RingFit, RingTerminal, Strip, StudSize, barrel_outside, crimp_pull,
    ring_fit, ring_terminal, strip_length, stud_sizes,
};
pub use voltage_drop::{DropCircuit, drop_limit};
