//! Which banks, poles and loads some combination of positions joins, and which it parts.

mod nets;

pub use nets::{Conflict, Nets, Pole, same_nominal};
