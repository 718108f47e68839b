//! Findings: what is wrong, where in the file, by how much, on whose authority, and one repair.
//!
//! Every room above speaks of faults in this one type; nothing here prints or decides exit codes.

mod nearest;

pub use nearest::nearest;

use crate::source::Span;
use crate::standards::Basis;
use serde::Serialize;

/// How much a finding weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// Worth knowing; never changes the exit status. Assumed values are told this way.
    Note,
    /// Could not be judged because a value is not given. Never counts as passed.
    NotProved,
    /// Outside good practice, or a lawful value outside the stricter one.
    Warning,
    /// Can start a fire, flood the boat, or makes the file wrong.
    Error,
}

impl Severity {
    /// Whether a finding of this weight keeps a file from being clean.
    #[must_use]
    pub fn counts(self) -> bool {
        self != Self::Note
    }

    /// The word printed for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::NotProved => "not proved",
            Self::Warning => "warning",
            Self::Error => "error",
        }
    }
}

/// A place in the file and what stands there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Label {
    /// The characters meant.
    pub span: Span,
    /// A few words: `fuse rated here`.
    pub text: String,
}

/// A measured or computed figure: `38.0 A`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Figure {
    /// What is measured: `load current`.
    pub quantity: String,
    /// The number, unrounded.
    pub value: f64,
    /// The unit symbol, empty for counts.
    pub unit: String,
}

impl Figure {
    /// A figure with its name and unit.
    #[must_use]
    pub fn new(quantity: &str, value: f64, unit: &str) -> Self {
        Self {
            quantity: quantity.to_owned(),
            value,
            unit: unit.to_owned(),
        }
    }
}

/// The position of one switch, relay or combiner in the state that shows a finding.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SetTo {
    /// Designation of the switch.
    pub switch: String,
    /// Name of its position.
    pub position: String,
}

/// One finding.
#[derive(Clone, Debug, PartialEq)]
pub struct Diagnostic {
    /// Permanent rule id, `OC101`.
    pub rule: &'static str,
    /// The defect's name, `unprotected-conductor`.
    pub name: &'static str,
    /// How much it weighs.
    pub severity: Severity,
    /// One sentence with the measured value and the limit, no trailing period.
    pub message: String,
    /// Designation of the element meant (`W12`, `helm-block.4`), empty for the whole file.
    pub element: String,
    /// Designations of the others that the same finding is about, in file order; the message may name only some.
    pub also: Vec<String>,
    /// First the thing to change, then where the other number comes from.
    pub labels: Vec<Label>,
    /// What was measured.
    pub value: Option<Figure>,
    /// What it was compared with.
    pub limit: Option<Figure>,
    /// Only the switches off their normal position, in file order.
    pub positions: Vec<SetTo>,
    /// The elements along the path meant, from the source on.
    pub path: Vec<String>,
    /// Law, table or practice the limit comes from.
    pub basis: Vec<Basis>,
    /// One change that repairs it.
    pub help: String,
}

impl Diagnostic {
    /// A finding with its message; the rest is filled in by the methods below.
    #[must_use]
    pub fn new(
        rule: &'static str,
        name: &'static str,
        severity: Severity,
        element: impl Into<String>,
        message: impl Into<String>,
    ) -> Self {
        Self {
            rule,
            name,
            severity,
            message: message.into(),
            element: element.into(),
            also: Vec::new(),
            labels: Vec::new(),
            value: None,
            limit: None,
            positions: Vec::new(),
            path: Vec::new(),
            basis: Vec::new(),
            help: String::new(),
        }
    }

    /// Adds a place in the file; a value the program assumed has none and adds nothing.
    #[must_use]
    pub fn label(mut self, span: impl Into<Option<Span>>, text: impl Into<String>) -> Self {
        if let Some(span) = span.into() {
            self.labels.push(Label {
                span,
                text: text.into(),
            });
        }
        self
    }

    /// Sets the others that it is about; the element itself is left out of them.
    #[must_use]
    pub fn and_also<S: AsRef<str>>(mut self, names: impl IntoIterator<Item = S>) -> Self {
        let others = names.into_iter().map(|name| name.as_ref().to_owned());
        self.also = others.filter(|name| *name != self.element).collect();
        self
    }

    /// Sets the measured value and its limit.
    #[must_use]
    pub fn compared(mut self, value: Figure, limit: Figure) -> Self {
        self.value = Some(value);
        self.limit = Some(limit);
        self
    }

    /// Sets the switch positions that show it.
    #[must_use]
    pub fn in_positions(mut self, positions: Vec<SetTo>) -> Self {
        self.positions = positions;
        self
    }

    /// Sets the path that shows it.
    #[must_use]
    pub fn along(mut self, path: Vec<String>) -> Self {
        self.path = path;
        self
    }

    /// Adds an authority.
    #[must_use]
    pub fn on_basis(mut self, basis: impl IntoIterator<Item = Basis>) -> Self {
        self.basis.extend(basis);
        self
    }

    /// Sets the one repair.
    #[must_use]
    pub fn repair(mut self, help: impl Into<String>) -> Self {
        self.help = help.into();
        self
    }
}

/// How many findings there are of each weight.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Tally {
    /// Errors.
    pub errors: usize,
    /// Warnings.
    pub warnings: usize,
    /// Not proved.
    pub not_proved: usize,
    /// Notes, the accepted findings among them.
    pub notes: usize,
    /// Findings the owner accepted.
    pub accepted: usize,
}

impl Tally {
    /// Counts findings, of which some were accepted.
    #[must_use]
    pub fn of(findings: &[Diagnostic], accepted: usize) -> Self {
        let mut tally = Self {
            accepted,
            ..Self::default()
        };
        for finding in findings {
            *match finding.severity {
                Severity::Error => &mut tally.errors,
                Severity::Warning => &mut tally.warnings,
                Severity::NotProved => &mut tally.not_proved,
                Severity::Note => &mut tally.notes,
            } += 1;
        }
        tally
    }

    /// Whether nothing is left that counts.
    #[must_use]
    pub fn is_clean(&self) -> bool {
        self.errors + self.warnings + self.not_proved == 0
    }

    /// `2 errors, 1 warning, 3 not proved`: what counts, heaviest first; empty when clean.
    #[must_use]
    pub fn words(&self) -> String {
        let plural = |count, word: &str| match count {
            0 => None,
            1 => Some(format!("1 {word}")),
            _ => Some(format!("{count} {word}s")),
        };
        [
            plural(self.errors, "error"),
            plural(self.warnings, "warning"),
            (self.not_proved > 0).then(|| format!("{} not proved", self.not_proved)),
        ]
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(", ")
    }
}

/// A message as it stands on a drawing or a sheet: names in quotation marks, as some fonts set the backticks of a
/// terminal as accents.
#[must_use]
pub fn on_paper(message: &str) -> String {
    message.replace('`', "\"")
}

/// Puts findings in their one order: by place in the file, then rule, then element.
pub fn sort(diagnostics: &mut [Diagnostic]) {
    diagnostics.sort_by(|a, b| {
        let place = |d: &Diagnostic| {
            d.labels
                .first()
                .map_or((usize::MAX, 0), |l| (l.span.start, l.span.end))
        };
        place(a)
            .cmp(&place(b))
            .then_with(|| a.rule.cmp(b.rule))
            .then_with(|| a.element.cmp(&b.element))
            .then_with(|| a.message.cmp(&b.message))
    });
}
