//! Published figures that the program has to reproduce: laws, standards, handbooks, textbooks.
//!
//! Each case names its source, its inputs, the figure expected, and why its tolerance is what it is.
//! Oracle tables lie under `data/` with heads like those of the shipped tables.

mod ampacity;
mod heating;
mod identities;
mod oracle;
mod resistance;
mod voltage_drop;
