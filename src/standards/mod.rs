//! Published tables and typed lookups; every figure returns with its `Basis`.
//!
//! Tables lie under `data/`, one publication each, with a head that says where they come from and
//! how sure of it we are. A lookup says in its first lines what it does between two rows.
//! Nothing here knows a boat: which figure applies to which conductor is decided in `analysis`.

mod ampacity;
mod basis;
pub mod citations;
mod conductors;
pub mod constants;
mod overcurrent;
mod practice;
mod resistance;
mod table;
mod voltage_drop;

pub use ampacity::{ambient_factor, ampacity, bundling_factor, engine_space_factor};
pub use basis::{Basis, Confidence};
pub use conductors::{
    Installation, InsulationType, MinimumSize, automotive_area, insulation_types, minimum_size,
    outside_diameter, sold_sizes,
};
pub use overcurrent::{
    PlacementCase, PlacementLimit, RatingCase, RatingLimit, placement_limit, rating_limit,
};
pub use practice::{Practice, RuleSet};
pub use resistance::{
    at_temperature, least_resistance, physical_resistance, rule_drop_resistance,
    rule_drop_resistance_iso,
};
pub use table::Source;
pub use voltage_drop::{DropCircuit, drop_limit};
