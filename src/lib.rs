//! loomwright compiles a YAML netlist of a small craft's DC wiring into proofs, drawings and bench papers.

pub mod analysis;
pub mod diag;
pub mod export;
pub mod netlist;
pub mod resolve;
pub mod rules;
pub mod schedule;
pub mod source;
pub mod standards;
pub mod system;
pub mod units;
