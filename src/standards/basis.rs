//! Where a figure comes from and how sure of it we are.

use serde::Serialize;

/// How a figure was obtained.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Confidence {
    /// Read in the text of the law or a government publication.
    Read,
    /// Read in a public secondary source.
    Secondary,
    /// Computed here from figures whose source is named.
    Computed,
    /// From memory, not confirmed in anything read.
    Memory,
    /// Common practice, no source.
    CommonPractice,
}

impl Confidence {
    /// The mark that the tables use.
    pub(super) fn from_table(mark: &str) -> Option<Self> {
        Some(match mark {
            "read" => Self::Read,
            "secondary" => Self::Secondary,
            "computed" => Self::Computed,
            "memory" => Self::Memory,
            "common practice, no source" => Self::CommonPractice,
            _ => return None,
        })
    }

    /// The words printed after a citation.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Read => "read in the text",
            Self::Secondary => "secondary source",
            Self::Computed => "computed from the named figures",
            Self::Memory => "from memory, not confirmed",
            Self::CommonPractice => "common practice, no source",
        }
    }
}

/// A citation: publication, edition, clause, and confidence.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Basis {
    /// `33 CFR`, or `project policy`.
    pub publication: &'static str,
    /// `2015 annual edition`; empty where none applies.
    pub edition: &'static str,
    /// `183.425(b), Table 5`.
    pub clause: &'static str,
    /// How the figure was obtained.
    pub confidence: Confidence,
}

impl Basis {
    /// A citation of one clause.
    #[must_use]
    pub const fn clause(
        publication: &'static str,
        edition: &'static str,
        clause: &'static str,
        confidence: Confidence,
    ) -> Self {
        Self {
            publication,
            edition,
            clause,
            confidence,
        }
    }
}

impl std::fmt::Display for Basis {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let words = self.confidence.words();
        // Practice without a source is not said twice.
        if self.clause.is_empty() && self.edition.is_empty() && words.starts_with(self.publication)
        {
            return out.write_str(words);
        }
        write!(out, "{}", self.publication)?;
        if !self.clause.is_empty() {
            write!(out, " {}", self.clause)?;
        }
        if !self.edition.is_empty() {
            write!(out, " ({})", self.edition)?;
        }
        write!(out, ", {words}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_citation_says_each_thing_once() {
        let law = Basis::clause(
            "33 CFR",
            "2015 annual edition",
            "183.425(b)",
            Confidence::Read,
        );
        assert_eq!(
            law.to_string(),
            "33 CFR 183.425(b) (2015 annual edition), read in the text"
        );
        let practice = Basis::clause("common practice", "", "", Confidence::CommonPractice);
        assert_eq!(practice.to_string(), "common practice, no source");
        let bench = Basis::clause("bench practice", "", "", Confidence::CommonPractice);
        assert_eq!(
            bench.to_string(),
            "bench practice, common practice, no source"
        );
    }
}
