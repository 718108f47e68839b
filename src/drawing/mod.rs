//! The schematic as sheets of primitives in millimetres.
pub(crate) mod circuit;
pub mod font;
mod plan;
pub mod scene;
mod symbols;
mod words;
