//! Insulation colours: names, letters, screen colours, and what a colour means on a boat.
//!
//! Colour is never the only mark of anything on a paper; the letters stand beside it.

use super::Basis;
use super::citations::{ABYC_COLOURS, COLOUR_LETTERS};
use super::table::table;
use std::fmt;
use std::str::FromStr;
use std::sync::LazyLock;
use thiserror::Error;

table!(COLOURS, "colours.csv", COLOUR_LETTERS);
table!(FUNCTIONS, "colour_functions.csv", ABYC_COLOURS);

/// One plain colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PlainColour {
    /// Letter code: `RD`.
    pub code: &'static str,
    /// Name: `red`.
    pub name: &'static str,
    /// Screen colour of this project, `#D40000`; no standard gives one.
    pub srgb: &'static str,
    /// Where the letters come from.
    pub basis: Basis,
}

/// An insulation colour: a base, and a stripe where there is one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct InsulationColour {
    /// Base colour.
    pub base: PlainColour,
    /// Stripe.
    pub stripe: Option<PlainColour>,
}

/// A text that is not a colour.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub struct ParseColourError {
    /// The part that is not known.
    pub part: String,
    /// The nearest known name, where one is near.
    pub nearest: Option<&'static str>,
}

impl fmt::Display for ParseColourError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "`{}` is not a colour", self.part)?;
        match self.nearest {
            Some(name) => write!(out, "; did you mean `{name}`?"),
            None => write!(
                out,
                "; write for example `red`, `RD`, `yellow/red` or `YE/RD`"
            ),
        }
    }
}

impl InsulationColour {
    /// Letters, the base first: `RD`, `YERD`.
    #[must_use]
    pub fn letters(self) -> String {
        format!(
            "{}{}",
            self.base.code,
            self.stripe.map_or("", |stripe| stripe.code)
        )
    }
}

impl fmt::Display for InsulationColour {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.stripe {
            Some(stripe) => write!(out, "{}/{}", self.base.name, stripe.name),
            None => out.write_str(self.base.name),
        }
    }
}

impl FromStr for InsulationColour {
    type Err = ParseColourError;

    /// Reads `red`, `RD`, `dark blue`, `yellow/red`, `YE/RD`, `YERD`, `yellow with red stripe`.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let text = text.trim();
        let striped = text.strip_suffix("stripe").unwrap_or(text).trim();
        let halves = striped
            .split_once('/')
            .or_else(|| striped.split_once(" with "));
        if let Some((base, stripe)) = halves {
            let stripe = stripe.trim();
            let stripe = stripe.strip_prefix("a ").unwrap_or(stripe);
            return Ok(Self {
                base: plain_colour(base)?,
                stripe: Some(plain_colour(stripe)?),
            });
        }
        plain_colour(text)
            .map(|base| Self { base, stripe: None })
            .or_else(|error| joined_letters(text).ok_or(error))
    }
}

/// Every plain colour, in the order of the standard's list.
#[must_use]
pub fn plain_colours() -> &'static [PlainColour] {
    &PLAIN.0
}

/// What a conductor of some colour is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ColourRole {
    /// Positive main.
    Positive,
    /// Negative main.
    Negative,
    /// Bonding or grounding.
    Bonding,
    /// A named function of a branch circuit.
    Function,
}

/// A published use of a colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ColourFunction {
    /// Letters: `BN`, `YERD`.
    pub letters: &'static str,
    /// Kind of use.
    pub role: ColourRole,
    /// The use in words: `pumps: fuse or switch to pump`.
    pub words: &'static str,
    /// Where it comes from.
    pub basis: Basis,
}

/// Every published use of a colour, mains first.
#[must_use]
pub fn colour_functions() -> &'static [ColourFunction] {
    &FUNCTION_ROWS
}

/// The published uses of one colour.
pub fn functions_of(colour: InsulationColour) -> impl Iterator<Item = &'static ColourFunction> {
    let letters = colour.letters();
    FUNCTION_ROWS
        .iter()
        .filter(move |row| row.letters == letters)
}

fn plain_colour(text: &str) -> Result<PlainColour, ParseColourError> {
    let name = text.trim().to_lowercase().replace('-', " ");
    let known = || PLAIN.1.iter();
    if let Some(&(_, colour)) = known().find(|(spelling, _)| *spelling == name) {
        return Ok(colour);
    }
    let nearest = known()
        .map(|(spelling, colour)| (strsim::damerau_levenshtein(spelling, &name), colour.name))
        .filter(|&(distance, spelling)| distance <= 2 && distance < spelling.len().min(name.len()))
        .min_by_key(|&(distance, _)| distance)
        .map(|(_, name)| name);
    Err(ParseColourError {
        part: text.trim().to_owned(),
        nearest,
    })
}

/// Splits `YERD` into two codes.
fn joined_letters(text: &str) -> Option<InsulationColour> {
    (1..text.len()).find_map(|split| {
        let code = |letters: Option<&str>| {
            PLAIN
                .0
                .iter()
                .find(|colour| Some(colour.code) == letters)
                .copied()
        };
        Some(InsulationColour {
            base: code(text.get(..split))?,
            stripe: Some(code(text.get(split..))?),
        })
    })
}

type Spellings = Vec<(String, PlainColour)>;

/// The colours in order, and every spelling of each.
static PLAIN: LazyLock<(Vec<PlainColour>, Spellings)> = LazyLock::new(|| {
    let mut colours = Vec::new();
    let mut spellings = Vec::new();
    for row in &COLOURS.rows() {
        let colour = PlainColour {
            code: row.text("code"),
            name: row.text("name"),
            srgb: row.text("srgb"),
            basis: row.basis(),
        };
        colours.push(colour);
        spellings.push((colour.name.to_owned(), colour));
        spellings.push((colour.code.to_lowercase(), colour));
        let others = row
            .text("also")
            .split(';')
            .filter(|other| !other.is_empty());
        spellings.extend(others.map(|other| (other.to_owned(), colour)));
    }
    (colours, spellings)
});

static FUNCTION_ROWS: LazyLock<Vec<ColourFunction>> = LazyLock::new(|| {
    FUNCTIONS
        .rows()
        .iter()
        .map(|row| ColourFunction {
            letters: row.text("code"),
            role: match row.text("role") {
                "positive" => ColourRole::Positive,
                "negative" => ColourRole::Negative,
                "bonding" => ColourRole::Bonding,
                _ => ColourRole::Function,
            },
            words: row.text("function"),
            basis: row.basis(),
        })
        .collect()
});

#[cfg(test)]
mod tests {
    use super::*;

    fn letters(text: &str) -> String {
        text.parse::<InsulationColour>().expect(text).letters()
    }

    #[test]
    fn colours_are_read_by_name_and_letters() {
        for (text, code) in [
            ("red", "RD"),
            ("RD", "RD"),
            ("Dark Blue", "BU"),
            ("light-blue", "LBU"),
            ("gray", "GY"),
            ("purple", "VT"),
            ("tan", "TN"),
            ("yellow/red", "YERD"),
            ("YE/RD", "YERD"),
            ("YERD", "YERD"),
            ("yellow with red stripe", "YERD"),
            ("brown with a yellow stripe", "BNYE"),
            ("LBURD", "LBURD"),
        ] {
            assert_eq!(letters(text), code, "{text}");
        }
        let striped: InsulationColour = "YERD".parse().expect("two codes");
        assert_eq!(striped.to_string(), "yellow/red");
        let error = "yelow".parse::<InsulationColour>().expect_err("misspelt");
        assert_eq!(
            error.to_string(),
            "`yelow` is not a colour; did you mean `yellow`?"
        );
        for text in ["", "/", "plaid", "red/", "RDX", "é", "stripe"] {
            assert!(text.parse::<InsulationColour>().is_err(), "{text}");
        }
    }

    #[test]
    fn every_function_has_a_known_colour_and_every_colour_a_screen_value() {
        for row in colour_functions() {
            let colour: InsulationColour = row.letters.parse().expect(row.letters);
            assert_eq!(colour.letters(), row.letters);
        }
        assert_eq!(FUNCTION_ROWS.len(), FUNCTIONS.rows().len());
        for colour in plain_colours() {
            let digits = colour.srgb.strip_prefix('#').expect("starts with #");
            assert!(digits.len() == 6 && u32::from_str_radix(digits, 16).is_ok());
        }
    }

    #[test]
    fn mains_and_bonding() {
        let roles = |text: &str| -> Vec<ColourRole> {
            functions_of(text.parse().expect(text))
                .map(|row| row.role)
                .collect()
        };
        assert_eq!(roles("red"), [ColourRole::Positive]);
        assert_eq!(roles("black"), [ColourRole::Negative]);
        assert_eq!(roles("yellow"), [ColourRole::Negative]);
        assert_eq!(roles("green/yellow"), [ColourRole::Bonding]);
        assert_eq!(roles("brown/yellow"), [ColourRole::Function]);
    }
}
