//! The lists of the bench: typed rows made from facts and tables, and the sheets they are printed on.
//!
//! Numbers come from `analysis` and `standards`. Nothing here judges the boat, and nothing here knows a file format.

mod head;
mod paper;

pub use head::{DEFERENCE, Fingerprint, Head, length_style};
pub use paper::{Block, Cell, Column, ColumnKind, Field, Orientation, Sheet, Strip, Table};
