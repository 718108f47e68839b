//! Which papers are wanted, in which forms.

use thiserror::Error;

/// A form that papers come in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Form {
    /// All papers in one PDF.
    Pdf,
    /// Drawings as SVG, a file a sheet.
    Svg,
    /// Drawings as PNG, a file a sheet.
    Png,
    /// Lists as HTML pages to print.
    Html,
    /// Tables as CSV.
    Csv,
    /// Findings and all tables as JSON.
    Json,
    /// All lists in one Markdown text.
    Markdown,
    /// All tables in one workbook.
    Xlsx,
}

impl Form {
    /// All forms, with the name of each.
    pub const ALL: [(Self, &'static str); 8] = [
        (Self::Pdf, "pdf"),
        (Self::Svg, "svg"),
        (Self::Png, "png"),
        (Self::Html, "html"),
        (Self::Csv, "csv"),
        (Self::Json, "json"),
        (Self::Markdown, "markdown"),
        (Self::Xlsx, "xlsx"),
    ];

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        Self::ALL
            .iter()
            .find(|(form, _)| *form == self)
            .map_or("", |(_, name)| name)
    }

    /// Whether this program was built with its writer.
    #[must_use]
    pub const fn is_built_in(self) -> bool {
        match self {
            Self::Pdf => cfg!(feature = "pdf"),
            Self::Png => cfg!(feature = "png"),
            Self::Xlsx => cfg!(feature = "xlsx"),
            Self::Svg | Self::Html | Self::Csv | Self::Json | Self::Markdown => true,
        }
    }
}

/// What papers are wanted for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// Cutting, labelling and building harnesses.
    Bench,
    /// Work and trouble aboard.
    Aboard,
    /// Keeping with the boat's documents.
    Archive,
}

impl Purpose {
    /// Its word in file names.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Bench => "bench",
            Self::Aboard => "aboard",
            Self::Archive => "archive",
        }
    }

    /// Whether a paper serves it, by the paper's file name without ending.
    #[must_use]
    pub fn takes(self, stem: &str) -> bool {
        match self {
            Self::Bench => BENCH.contains(&stem),
            Self::Aboard => ABOARD.contains(&stem),
            // What is used up while building documents nothing.
            Self::Archive => !USED_UP.contains(&stem),
        }
    }
}

const BENCH: &[&str] = &[
    "spool-bars",
    "label-sheets",
    "block-lids",
    "connectors",
    "harnesses",
    "harness-boards",
    "continuity",
    "cut-list",
    "spool-plan",
    "label-schedule",
    "label-printer",
    "bill-of-materials",
];

const ABOARD: &[&str] = &[
    "schematic",
    "wallet-card",
    "connectors",
    "fuse-chart",
    "load-list",
    "power-up",
    "fault-dictionary",
    "inspection",
    "switch-table",
    "switch-promises",
    "ways",
    "as-built",
];

const USED_UP: &[&str] = &[
    "spool-bars",
    "label-sheets",
    "label-printer",
    "block-lids",
    "wallet-card",
    "harnesses",
    "cut-list-by-bundle",
    "spool-plan",
];

/// What is to be made of a boat.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Order {
    /// Forms.
    pub forms: Vec<Form>,
    /// Papers by their file name without ending; all when empty.
    pub only: Vec<String>,
    /// What the papers are wanted for; everything when not said.
    pub purpose: Option<Purpose>,
    /// Pixels to the inch of PNG pictures.
    pub dpi: u16,
    /// Most rows of lists that a PDF is made of.
    pub most_rows: usize,
}

/// Rows of lists up to which a PDF is made without being asked for: some six hundred pages.
pub const ROWS_UNASKED: usize = 6_000;

/// Pixels to the inch of PNG pictures unless asked otherwise.
pub const DEFAULT_DPI: u16 = 150;

impl Default for Order {
    /// Every paper, as files that need no heavy writer.
    fn default() -> Self {
        Self {
            forms: vec![Form::Svg, Form::Html, Form::Csv, Form::Json],
            only: Vec::new(),
            purpose: None,
            dpi: DEFAULT_DPI,
            most_rows: usize::MAX,
        }
    }
}

impl Order {
    /// Whether papers of a form are wanted.
    #[must_use]
    pub fn has(&self, form: Form) -> bool {
        self.forms.contains(&form)
    }

    /// Whether a form is wanted that drawings go into.
    #[must_use]
    pub fn is_drawn(&self) -> bool {
        [Form::Svg, Form::Png, Form::Pdf]
            .iter()
            .any(|form| self.has(*form))
    }

    /// Whether a paper is wanted, by its file name without ending.
    #[must_use]
    pub fn wants(&self, stem: &str) -> bool {
        let serves = self.purpose.is_none_or(|purpose| purpose.takes(stem));
        serves && (self.only.is_empty() || self.only.iter().any(|name| name == stem))
    }

    /// File name of the document of all papers: one for each purpose, so that none replaces another.
    #[must_use]
    pub fn document(&self) -> String {
        self.purpose.map_or_else(
            || super::DOCUMENT.to_owned(),
            |purpose| format!("papers-{}.pdf", purpose.name()),
        )
    }

    /// Whether a paper is asked for by its name.
    #[must_use]
    pub fn names(&self, stem: &str) -> bool {
        self.only.iter().any(|name| name == stem)
    }

    /// Whether something is left out that is made by default.
    #[must_use]
    pub fn is_part(&self) -> bool {
        !self.only.is_empty()
            || self.purpose.is_some()
            || Self::default().forms.iter().any(|form| !self.has(*form))
    }
}

/// A paper that was wanted and could not be made.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
#[error("{paper} was not made: {why}")]
pub struct Unmade {
    /// File name.
    pub paper: String,
    /// Why, and what helps.
    pub why: String,
}
