//! Cautions printed on the papers, each where its work is done.

use crate::system::{Chemistry, System};
use crate::units::Volts;

/// Cautions of the first page, for every boat: common practice, with 33 CFR 183 where it says so.
pub const FRONT_CAUTIONS: &[&str] = &[
    "These papers are the output of a calculation. They do not replace local law, the standard in force, the instructions of \
     the makers or a licensed marine electrician. Where they differ, follow those. Rules for inspected, hired and passenger \
     craft are stricter.",
    "Disconnect first: shore lead out, chargers off, every battery switch off, then battery negative first, positive last; \
     reconnect positive first, negative last. Tape or box every loose live lug. Take off rings and watches; insulate the \
     shafts of spanners.",
    "Reversed or wrongly linked batteries are a leading cause of battery fires. Photograph, mark the positives, measure \
     polarity and the total of a string before the last lug.",
    "Gasoline vapour: open up, run the blower, sniff; no sparks and no crimping heat. In spaces with gasoline engines, tanks \
     or fittings only ignition-protected parts, unless isolated (33 CFR 183.410). Heat guns and soldering irons stay out. \
     Liquefied gas likewise.",
    "Batteries give off hydrogen while charging: ventilate. None above or below a fuel tank or fitting; held so that it moves \
     less than 1 in (33 CFR 183.420). Wear eye protection.",
    "Lithium: very high fault current, so use a fuse class that can break it. Charging sources and alternator must suit. The \
     management may disconnect without warning. Never in parallel with lead-acid. A fire needs cooling and a way out. Follow \
     the instructions of the pack and your insurer.",
    "48 V and above passes 50 V on charge: treat it as hazardous; stricter wire and fuse rules apply.",
    "Shore power and all AC are out of scope. Do not use these papers for them. Keep AC apart; AC and DC colours can be the \
     same (black).",
    "Hull, galvanic currents and bonding: only returns are checked here; bonding, lightning and corrosion protection are not \
     designed. Never use a hull or a bonding conductor as a return. Positive leakage in bilge water destroys metal in days.",
    "Never raise a fuse to stop it blowing: find the fault. Do not disable the automatic feed of a bilge pump on a moored boat.",
    "Do not run the engine with its battery disconnected, and do not turn a battery switch through off while it runs.",
    "First power-up: a lamp or a small fuse in place of the main one, somebody at the master switch, an extinguisher in \
     reach, hatches open.",
    "Cables, motors and heaters can be hot, and so can a fuse that carries its full rating.",
    "Assumed values are marked *; a blank is not a zero.",
];

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
