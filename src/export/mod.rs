//! Rows and findings as bytes: CSV, HTML, JSON. This room knows file formats and no electricity.

pub mod csv;
pub mod html;
