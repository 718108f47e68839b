//! What a scalar means: nothing, a truth value, a number or a text.
//!
//! These are the rules of the second reader, written again from YAML 1.2.2, section 10.3.2 (core schema), with its two
//! differences: `0b` numbers are numbers, and digits behind a leading zero are a text. Both trees are compared after this,
//! so a slip in either set of rules is found in the file and not in the boat.

/// How a scalar is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Style {
    /// Bare.
    Plain,
    /// Between `'`.
    SingleQuoted,
    /// Between `"`.
    DoubleQuoted,
    /// A block after `|` or `>`.
    Block,
}

/// What a scalar stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Meaning {
    /// Nothing: an empty value, `~` or `null`.
    Nothing,
    /// `true` or `false`.
    Truth(bool),
    /// A number.
    Number,
    /// A text.
    Text,
}

/// A number as the readers compare it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Number {
    /// A whole number from zero up.
    Natural(u128),
    /// A whole number below zero.
    Negative(i128),
    /// Any other number.
    Real(f64),
}

/// What a scalar of this style and text means.
pub(super) fn meaning(style: Style, text: &str) -> Meaning {
    if style != Style::Plain {
        return Meaning::Text;
    }
    match text {
        "" | "~" | "null" | "Null" | "NULL" => Meaning::Nothing,
        "true" | "True" | "TRUE" => Meaning::Truth(true),
        "false" | "False" | "FALSE" => Meaning::Truth(false),
        _ if number(text).is_some() => Meaning::Number,
        _ => Meaning::Text,
    }
}

/// The number a plain text stands for.
pub(super) fn number(text: &str) -> Option<Number> {
    // Most texts begin with a letter; this spares them the rest.
    if !text.starts_with([
        '+', '-', '.', '0', '1', '2', '3', '4', '5', '6', '7', '8', '9',
    ]) {
        return None;
    }
    let (sign, size) = match text.as_bytes() {
        [b'+', ..] => (1, &text[1..]),
        [b'-', ..] => (-1, &text[1..]),
        _ => (1, text),
    };
    if size.starts_with(['+', '-']) {
        return None;
    }
    let (radix, digits) = match size.as_bytes() {
        [b'0', b'x', ..] => (16, &size[2..]),
        [b'0', b'o', ..] => (8, &size[2..]),
        [b'0', b'b', ..] => (2, &size[2..]),
        _ => (10, size),
    };
    if digits.starts_with(['+', '-']) {
        return None;
    }
    let all_digits = !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit());
    if radix == 10 && all_digits && digits.len() > 1 && digits.starts_with('0') {
        return None;
    }
    if radix != 10 || all_digits {
        let whole = if sign > 0 {
            u128::from_str_radix(digits, radix)
                .ok()
                .map(Number::Natural)
        } else {
            i128::from_str_radix(&format!("-{digits}"), radix)
                .ok()
                .map(Number::Negative)
        };
        if whole.is_some() {
            return whole;
        }
    }
    real(text, size).map(Number::Real)
}

fn real(text: &str, size: &str) -> Option<f64> {
    match size {
        ".inf" | ".Inf" | ".INF" => {
            return Some(if text.starts_with('-') {
                f64::NEG_INFINITY
            } else {
                f64::INFINITY
            });
        }
        _ => {}
    }
    if matches!(text, ".nan" | ".NaN" | ".NAN") {
        return Some(f64::NAN);
    }
    let unsigned = text.strip_prefix('+').unwrap_or(text);
    unsigned
        .parse::<f64>()
        .ok()
        .filter(|value| value.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plain_scalars_mean_what_the_core_schema_says() {
        for text in ["", "~", "null"] {
            assert_eq!(meaning(Style::Plain, text), Meaning::Nothing, "{text}");
        }
        for text in [
            "0",
            "-7",
            "+7",
            "0o14",
            "0x1F",
            ".5",
            "1e3",
            "12.",
            "-.inf",
            "340282366920938463463374607431768211456",
        ] {
            assert_eq!(meaning(Style::Plain, text), Meaning::Number, "{text}");
        }
        for text in [
            "14 AWG", "4/0 AWG", "1/2 in", "12:30", "yes", "off", "012", "1_000", "+-1", "0x",
            "1 ft", "-", ".", "inf", "NaN",
        ] {
            assert_eq!(meaning(Style::Plain, text), Meaning::Text, "{text}");
        }
        assert_eq!(meaning(Style::Plain, "True"), Meaning::Truth(true));
        assert_eq!(meaning(Style::DoubleQuoted, "12"), Meaning::Text);
        assert_eq!(meaning(Style::Block, ""), Meaning::Text);
    }

    #[test]
    fn numbers_have_their_value() {
        assert_eq!(number("0o14"), Some(Number::Natural(12)));
        assert_eq!(number("-0x10"), Some(Number::Negative(-16)));
        assert_eq!(number(".5"), Some(Number::Real(0.5)));
    }
}
