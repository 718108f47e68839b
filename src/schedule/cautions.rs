//! Cautions printed on the papers, each where its work is done.

use crate::system::{Chemistry, System};
use crate::units::Volts;

/// Nominal voltage from which a bank passes 50 V on charge.
const HIGH_BANK: Volts = Volts(48.0);

/// Cautions that the sources of this boat call for.
pub(super) fn for_sources(system: &System) -> Vec<&'static str> {
    let lithium = system.sources.iter().any(|source| {
        source
            .chemistry
            .is_some_and(|given| given.value == Chemistry::LithiumIronPhosphate)
    });
    let high = system
        .sources
        .iter()
        .any(|source| source.nominal.value >= HIGH_BANK);
    [(lithium, LITHIUM), (high, FROM_48_V)]
        .into_iter()
        .filter(|&(present, _)| present)
        .map(|(_, caution)| caution)
        .collect()
}

/// Before anything on the boat is touched.
pub(super) const DISCONNECT: &str = "Disconnect first: shore lead out, chargers off, every battery switch off, then battery negative, \
    then positive. Reconnect positive first, negative last. Tape or box every loose live lug; no rings, no watches.";

/// Hot work.
pub(super) const HEAT: &str = "Gasoline or gas vapour: open up, run the blower, sniff; no heat gun, no soldering iron and no sparks in the space.";

/// Assumed values and blanks.
pub(super) const ASSUMED: &str =
    "Assumed values are marked *; a blank is not a zero. Measure on the boat before you cut.";

/// Never splice for thrift.
pub(super) const ONE_PIECE: &str = "Cut each wire in one piece; a splice to save wire is a fault in waiting. Try the first wire of a route on the boat \
    before you cut the rest.";

/// Overcurrent devices.
pub(super) const NEVER_LARGER: &str = "Never fit a larger overcurrent device than printed, and never raise one to stop it opening: find the fault.";

/// Lithium.
const LITHIUM: &str = "Lithium: very high fault current; only devices whose interrupting rating is above it; charging sources must suit; \
    the management may disconnect without warning; never in parallel with lead-acid.";

/// High voltage banks.
const FROM_48_V: &str = "A bank of 48 V passes 50 V on charge: treat it as hazardous; stricter wire and device rules apply.";

/// Battery switches under a running engine.
pub(super) const RUNNING_ENGINE: &str = "Never turn a battery switch through off with the engine running, and never run the engine with its battery disconnected.";

/// Alternating current.
pub(super) const NO_AC: &str =
    "Shore power and all AC are out of scope. Keep AC apart; AC and DC colours can be the same.";
