//! The settled copy: the file's own text with what was chosen written behind each `auto`, all else byte for byte.
//!
//! A settled value is kept by later runs, so a bench plan made from the copy does not move.

use crate::rules::telling::rating as rated;
use crate::source::Span;
use crate::system::{Standing, System};
use std::collections::{BTreeMap, BTreeSet};

/// The word that asks for a choice.
const AUTO: &str = "auto";

/// Why a text stays as it is.
const SHARED: &str = "one text stands for several values";

/// A settled copy.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Settled {
    /// The text with the values written in.
    pub text: String,
    /// How many values were written in or stood there already.
    pub values: usize,
    /// Elements whose value could not be written in, each with the reason.
    pub open: Vec<(String, &'static str)>,
}

/// Writes what was chosen for a boat into the text that it was read from.
#[must_use]
pub fn settled(text: &str, system: &System) -> Settled {
    let mut values: BTreeMap<Span, (String, String)> = BTreeMap::new();
    let mut open: Vec<(String, &'static str)> = Vec::new();
    let chosen = &system.chosen;
    let sizes = chosen.sizes.iter().flat_map(|choice| {
        let first = choice.conductors.first();
        let element = first.map_or_else(String::new, |id| {
            system.conductors[id.index()].number.clone()
        });
        let value = choice.size.to_string();
        let spans = choice.spans.iter();
        spans.map(move |&span| (choice.standing, Some(span), element.clone(), value.clone()))
    });
    let ratings = chosen.ratings.iter().map(|choice| {
        let element = system.devices[choice.device.index()].name.clone();
        (choice.standing, choice.span, element, rated(choice.rating))
    });
    // A text that stands for several values is left open for all of them.
    let mut shared: BTreeSet<Span> = BTreeSet::new();
    for (standing, span, element, value) in sizes.chain(ratings) {
        let (Standing::Chosen, Some(span)) = (standing, span) else {
            continue;
        };
        match values.get(&span) {
            Some((_, known)) if *known != value => {
                shared.insert(span);
                open.push((element, SHARED));
            }
            Some(_) => {}
            None => {
                values.insert(span, (element, value));
            }
        }
    }
    let mut out = String::with_capacity(text.len() + 8 * values.len());
    let mut done = 0;
    let mut written = 0;
    for (span, (element, value)) in values {
        if shared.contains(&span) {
            open.push((element, SHARED));
            continue;
        }
        let inside = text
            .get(span.start..span.end)
            .filter(|_| span.start >= done);
        let Some((from, upto)) = inside.and_then(word) else {
            open.push((element, "its `auto` is not written in its own place"));
            continue;
        };
        out.push_str(&text[done..span.start + from]);
        out.push_str(AUTO);
        out.push(' ');
        out.push_str(&value);
        done = span.start + upto;
        written += 1;
    }
    out.push_str(&text[done..]);
    for conflict in &chosen.conflicts {
        open.push((conflict.element.clone(), "no value on sale serves"));
    }
    Settled {
        text: out,
        values: written,
        open,
    }
}

/// Where `auto` and what is settled behind it stand in the text of a field, quotes left out.
fn word(field: &str) -> Option<(usize, usize)> {
    let trimmed = field.trim();
    let before = field.len() - field.trim_start().len();
    let quote = trimmed.chars().next().filter(|it| matches!(it, '"' | '\''));
    let inner = match quote {
        Some(quote) => trimmed.strip_prefix(quote)?.strip_suffix(quote)?,
        None => trimmed,
    };
    let from = before + usize::from(quote.is_some());
    let rest = inner.trim_start().strip_prefix(AUTO)?;
    let is_word = rest.is_empty() || rest.starts_with(char::is_whitespace);
    // A text over several lines is not rewritten.
    (is_word && !field.contains(['\n', '\r', '\\'])).then_some((from, from + inner.len()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_word_is_found_inside_its_quotes() {
        assert_eq!(word("auto"), Some((0, 4)));
        assert_eq!(word("auto 14 AWG"), Some((0, 11)));
        assert_eq!(word("\"auto\""), Some((1, 5)));
        assert_eq!(word("'auto 10 A'"), Some((1, 10)));
        assert_eq!(word("automatic"), None);
        assert_eq!(word("*size"), None);
    }
}
