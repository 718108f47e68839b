//! The head of every paper: whose boat, which revision, in which units, under which policies, with what still open.

use crate::diag::Tally;
use crate::system::{
    BundlingPolicy, CountPoles, LengthUnits, OvercurrentLimit, Paper, Practice, System,
};
use crate::units::{Celsius, LengthStyle, decimal};

/// The line that no paper goes without.
pub const DEFERENCE: &str = "Output of a calculation, compared with published rules. \
    Local rules, the instructions of the makers and a licensed marine electrician come first.";

/// The head of every paper.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Head {
    /// Name of the boat.
    pub boat: String,
    /// Revision, date, number, subtitle, owner, creator and approval as written; empty when not given.
    pub revision: String,
    /// Date of the revision as written.
    pub date: String,
    /// Identification number.
    pub number: String,
    /// Supplementary title.
    pub subtitle: String,
    /// Legal owner.
    pub owner: String,
    /// Creator.
    pub creator: String,
    /// Approval person.
    pub approved_by: String,
    /// Fingerprint of the netlist, which ties all papers of one run together.
    pub fingerprint: Fingerprint,
    /// Units of lengths and conductor sizes.
    pub units: String,
    /// Policies where published rules disagree.
    pub policy: String,
    /// How many findings are open.
    pub open: String,
    /// Paper of the lists.
    pub paper: Paper,
}

impl Head {
    /// The head for a boat and the count of its findings.
    #[must_use]
    pub fn new(system: &System, tally: &Tally, fingerprint: Fingerprint) -> Self {
        let boat = &system.boat;
        Self {
            boat: boat.name.clone(),
            revision: boat.revision.clone(),
            date: boat.date.clone(),
            number: boat.number.clone(),
            subtitle: boat.subtitle.clone(),
            owner: boat.owner.clone(),
            creator: boat.creator.clone(),
            approved_by: boat.approved_by.clone(),
            fingerprint,
            units: units_line(system),
            policy: policy_line(system),
            open: open_line(tally),
            paper: boat.paper,
        }
    }
}

/// How lengths of this boat are printed.
#[must_use]
pub fn length_style(system: &System) -> LengthStyle {
    match system.boat.units {
        LengthUnits::Feet => LengthStyle::FeetInches,
        LengthUnits::Metres => LengthStyle::MetresMillimetres,
    }
}

/// A short name for the exact bytes of a netlist: FNV-1a with 64 bits, printed as 16 hexadecimal digits.
///
/// It tells two revisions apart; it is no protection against somebody who wants them to look alike.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fingerprint(u64);

impl Fingerprint {
    /// The fingerprint of some bytes.
    #[must_use]
    pub fn of(bytes: &[u8]) -> Self {
        // Offset basis and prime of FNV-1a, 64 bits: RFC 9923.
        Self(bytes.iter().fold(0xcbf2_9ce4_8422_2325, |hash, &byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
        }))
    }
}

impl std::fmt::Display for Fingerprint {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(out, "{:016x}", self.0)
    }
}

fn units_line(system: &System) -> String {
    let lengths = match system.boat.units {
        LengthUnits::Feet => "Lengths in feet and inches",
        LengthUnits::Metres => "Lengths in metres and millimetres",
    };
    let sizes = match system.boat.practice {
        Practice::Us => "conductor sizes in AWG unless marked mm²",
        Practice::Metric => "conductor sizes in mm² unless marked AWG",
    };
    format!("{lengths}; {sizes}")
}

fn policy_line(system: &System) -> String {
    let policy = &system.boat.policy;
    let overcurrent = match policy.overcurrent {
        OvercurrentLimit::Lawful => {
            "overcurrent devices at most 150 % of the ampacity table below 50 V, 100 % from there on (lawful)"
        }
        OvercurrentLimit::Strict => {
            "overcurrent devices at most 100 % of the derated ampacity (strict)"
        }
    };
    let bundling = match policy.bundling {
        BundlingPolicy::Apply => {
            "bundling factors apply at every voltage (below 50 V: project policy)"
        }
        BundlingPolicy::LawOnly => "bundling factors apply from 50 V on",
    };
    let poles = match policy.count_poles {
        CountPoles::Both => "both poles count in a bundle",
        CountPoles::Positive => "only ungrounded conductors count in a bundle",
    };
    let Celsius(warm) = policy.conductor_temperature;
    format!(
        "{overcurrent}; {bundling}; {poles}; drop limits {} % critical, {} % other; solved drop at {} °C conductor temperature",
        shortest(policy.critical_drop_percent),
        shortest(policy.ordinary_drop_percent),
        shortest(warm),
    )
}

/// A number without needless decimals.
fn shortest(value: f64) -> String {
    decimal(value, usize::from(value.fract() != 0.0))
}

fn open_line(tally: &Tally) -> String {
    let open = if tally.is_clean() {
        "No finding is open in this revision".to_owned()
    } else {
        format!(
            "OPEN FINDINGS in this revision: {}; read them before you build",
            tally.words()
        )
    };
    match tally.accepted {
        0 => open,
        accepted => format!("{open}; {accepted} accepted by the owner"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Test vectors of the FNV-1a 64 reference (RFC 9923, appendix of test values; from memory).
    #[test]
    fn fingerprint_is_fnv_1a() {
        assert_eq!(Fingerprint::of(b"").to_string(), "cbf29ce484222325");
        assert_eq!(Fingerprint::of(b"a").to_string(), "af63dc4c8601ec8c");
        assert_eq!(Fingerprint::of(b"foobar").to_string(), "85944171f73967e8");
    }
}
