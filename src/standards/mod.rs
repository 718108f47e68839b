//! Published tables and typed lookups; every figure returns with its `Basis`.

mod basis;

pub use basis::{Basis, Confidence};
