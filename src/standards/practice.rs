//! The two practice profiles and the bodies of rules that they are compared with.

/// Which practice profile judges.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Practice {
    /// 33 CFR 183 Subpart I, with common US practice beside it; sizes sold by AWG.
    Us,
    /// Derived from the law's figures; sizes sold by mm².
    Metric,
}

/// A body of rules that a figure comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RuleSet {
    /// 33 CFR 183 Subpart I: United States law.
    Law,
    /// ABYC E-11: common United States practice, secondary throughout.
    Abyc,
    /// ISO 10133 and its successor ISO 13297, secondary or from memory.
    Iso,
    /// 46 CFR: inspected small passenger vessels.
    Inspected,
    /// ISO 13590: personal watercraft.
    PersonalWatercraft,
}

impl RuleSet {
    /// The stricter set that stands beside the law in a profile.
    #[must_use]
    pub fn beside(practice: Practice) -> Self {
        match practice {
            Practice::Us => Self::Abyc,
            Practice::Metric => Self::Iso,
        }
    }

    /// The set that a publication named in a table belongs to.
    pub(super) fn of_publication(publication: &str) -> Option<Self> {
        Some(match publication {
            "33 CFR" => Self::Law,
            "ABYC E-11" => Self::Abyc,
            "ISO 10133" | "ISO 13297" => Self::Iso,
            "46 CFR" => Self::Inspected,
            "ISO 13590" => Self::PersonalWatercraft,
            _ => return None,
        })
    }
}
