//! Reads a quantity from text: a number and a unit, or several parts as in `12 ft 6 in`.
//!
//! It converts to the unit of the wanted type and says what is wrong with a text it refuses.
//! It sets no range for a length or a current: what is sensible is known where the value is used.

use super::unit::{Quantity, Unit, nearest_spelling, unit_named};
use std::ops::Range;
use thiserror::Error;

/// The longest text read, in bytes; no real quantity needs more.
const MAX_BYTES: usize = 64;

/// The largest magnitude read, in any unit; it keeps sums of many values finite.
const MAX_MAGNITUDE: f64 = 1e9;

/// Why a text is not the quantity wanted.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{message}{}", .suggestion.as_ref().map(|text| format!("; {text}")).unwrap_or_default())]
pub struct QuantityError {
    /// The bytes at fault, inside the text that was given.
    pub range: Range<usize>,
    /// What is wrong, without a full stop.
    pub message: String,
    /// One thing to write instead: ``did you mean `m`?``
    pub suggestion: Option<String>,
}

impl QuantityError {
    fn new(range: Range<usize>, message: impl Into<String>) -> Self {
        Self {
            range,
            message: message.into(),
            suggestion: None,
        }
    }

    fn suggest(mut self, suggestion: impl Into<String>) -> Self {
        self.suggestion = Some(suggestion.into());
        self
    }
}

/// Reads a quantity; several parts such as `12 ft 6 in` or `2 h 30 min` go from large to small.
///
/// The decimal sign is the point. Fractions are read in the last part: `6 1/2 in`, `6½ in`.
///
/// # Errors
/// Says which bytes are at fault, why, and where possible what to write instead: no number, no
/// unit, an unknown unit, a unit of something else, parts in the wrong order, a value that is not
/// finite or beyond any use.
pub fn parse_quantity<Q: Quantity>(text: &str) -> Result<Q, QuantityError> {
    let whole = trimmed(text);
    if whole.is_empty() {
        return Err(QuantityError::new(
            0..text.len(),
            format!("empty, expected {}", Q::EXPECTED),
        ));
    }
    if whole.len() > MAX_BYTES {
        return Err(QuantityError::new(
            whole,
            format!("too long, expected {}", Q::EXPECTED),
        ));
    }
    let mut cursor = Cursor {
        text,
        at: whole.start,
        end: whole.end,
    };
    let mut parts: Vec<Part> = Vec::new();
    while cursor.at < cursor.end {
        let part = read_part::<Q>(&mut cursor, parts.is_empty())?;
        if let Some(last) = parts.last() {
            check_order(last, &part)?;
        }
        parts.push(part);
        cursor.skip_spaces();
    }
    let Some(last) = parts.last() else {
        return Err(QuantityError::new(
            whole,
            format!("empty, expected {}", Q::EXPECTED),
        ));
    };
    let (value, unit) = (sum(&parts), last.unit);
    if value.abs() > MAX_MAGNITUDE {
        return Err(QuantityError::new(
            whole,
            format!("too large, expected {}", Q::EXPECTED),
        ));
    }
    Q::from_unit(value, unit)
        .ok_or_else(|| QuantityError::new(whole, format!("expected {}", Q::EXPECTED)))
}

/// One number with its unit.
struct Part {
    value: f64,
    unit: Unit,
    whole_number: bool,
    signed: bool,
    range: Range<usize>,
}

/// The value of all parts, in the unit of the last; whole feet and inches stay exact this way.
fn sum(parts: &[Part]) -> f64 {
    let last_step = parts
        .last()
        .and_then(|part| part.unit.step())
        .map_or(1.0, |(_, step)| step);
    parts
        .iter()
        .map(|part| {
            let step = part.unit.step().map_or(last_step, |(_, step)| step);
            part.value * (step / last_step)
        })
        .sum()
}

/// Refuses parts that do not follow one another from large to small.
fn check_order(before: &Part, after: &Part) -> Result<(), QuantityError> {
    let range = before.range.start..after.range.end;
    if before.signed || after.signed {
        return Err(QuantityError::new(
            range,
            "a value of several parts takes no sign",
        ));
    }
    let (Some((series, large)), Some((other, small))) = (before.unit.step(), after.unit.step())
    else {
        return Err(QuantityError::new(
            range,
            "two values where one was expected",
        ));
    };
    if series != other {
        return Err(
            QuantityError::new(range, "parts of one value must be of one system")
                .suggest("use feet and inches or metric units, not both"),
        );
    }
    if small >= large {
        return Err(QuantityError::new(
            range,
            "parts must go from large to small",
        ));
    }
    if !before.whole_number {
        return Err(QuantityError::new(
            before.range.clone(),
            "only the last part may have a fraction",
        ));
    }
    if after.value * small >= large {
        return Err(QuantityError::new(
            after.range.clone(),
            "this part is as large as one unit of the part before it",
        ));
    }
    Ok(())
}

/// Where reading stands in the text.
struct Cursor<'a> {
    text: &'a str,
    at: usize,
    end: usize,
}

impl<'a> Cursor<'a> {
    fn rest(&self) -> &'a str {
        self.text.get(self.at..self.end).unwrap_or_default()
    }

    fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    fn bump(&mut self, character: char) {
        self.at += character.len_utf8();
    }

    fn skip_spaces(&mut self) {
        self.take_while(char::is_whitespace);
    }

    fn take_while(&mut self, wanted: impl Fn(char) -> bool) -> &'a str {
        let start = self.at;
        while let Some(character) = self.peek().filter(|&character| wanted(character)) {
            self.bump(character);
        }
        self.text.get(start..self.at).unwrap_or_default()
    }
}

/// Reads one number and its unit.
fn read_part<Q: Quantity>(cursor: &mut Cursor, first: bool) -> Result<Part, QuantityError> {
    let start = cursor.at;
    let (value, whole_number, signed) = read_number::<Q>(cursor, first)?;
    let number_end = cursor.at;
    cursor.skip_spaces();
    let unit_start = cursor.at;
    let name = read_unit_name(cursor);
    if name.is_empty() {
        let number = &cursor.text[start..number_end];
        return Err(match cursor.peek() {
            Some(',') => QuantityError::new(start..cursor.end, "a comma is not read in numbers")
                .suggest("use a point for decimals and no mark for thousands"),
            Some('-') => QuantityError::new(unit_start..cursor.end, "unexpected `-`")
                .suggest("put a space before a fraction or a second part, as in `6 1/2 in`"),
            Some(other) if !other.is_ascii_digit() => {
                QuantityError::new(unit_start..cursor.end, format!("unexpected `{other}`"))
                    .suggest(format!("write for example `{number} {}`", Q::EXAMPLE_UNIT))
            }
            _ => QuantityError::new(start..number_end, format!("`{number}` has no unit"))
                .suggest(format!("write for example `{number} {}`", Q::EXAMPLE_UNIT)),
        });
    }
    let range = start..cursor.at;
    let unit_range = unit_start..cursor.at;
    let Some(unit) = unit_named(name) else {
        let error = QuantityError::new(unit_range, format!("unknown unit `{name}`"));
        return Err(match nearest_spelling::<Q>(name) {
            Some(spelling) => error.suggest(format!("did you mean `{spelling}`?")),
            None => error.suggest(format!("expected {}", Q::EXPECTED)),
        });
    };
    if Q::from_unit(value, unit).is_none() {
        return Err(QuantityError::new(
            unit_range,
            format!(
                "`{name}` is a unit of {}, expected {}",
                unit.measures(),
                Q::EXPECTED
            ),
        ));
    }
    Ok(Part {
        value,
        unit,
        whole_number,
        signed,
        range,
    })
}

/// Reads digits with an optional sign, decimals, exponent and fraction.
///
/// Returns the value, whether it is a whole number, and whether a sign stood before it.
fn read_number<Q: Quantity>(
    cursor: &mut Cursor,
    first: bool,
) -> Result<(f64, bool, bool), QuantityError> {
    let start = cursor.at;
    let sign = cursor
        .peek()
        .filter(|&character| matches!(character, '+' | '-' | '−'));
    if let Some(character) = sign {
        cursor.bump(character);
    }
    let digits_start = cursor.at;
    cursor.take_while(|character| character.is_ascii_digit());
    if cursor.peek() == Some('.') {
        cursor.bump('.');
        cursor.take_while(|character| character.is_ascii_digit());
    }
    skip_exponent(cursor);
    let digits = &cursor.text[digits_start..cursor.at];
    let fraction_alone = digits.is_empty() && cursor.peek().is_some_and(|c| vulgar(c).is_some());
    let mut value = if fraction_alone {
        0.0
    } else if let Ok(value) = digits.parse::<f64>() {
        value
    } else {
        let word = cursor.text[start..cursor.end]
            .split_whitespace()
            .next()
            .unwrap_or_default();
        let range = start..start + word.len();
        return Err(if first {
            QuantityError::new(range, format!("`{word}` is not a number"))
                .suggest(format!("expected {}", Q::EXPECTED))
        } else {
            QuantityError::new(range, format!("unexpected `{word}`"))
        });
    };
    if value == 0.0
        && digits
            .split(['e', 'E'])
            .next()
            .is_some_and(has_nonzero_digit)
    {
        return Err(QuantityError::new(
            start..cursor.at,
            "too small to be told from zero",
        ));
    }
    let whole_number = value.fract() == 0.0 && !fraction_alone;
    let fraction = read_fraction(cursor, digits, value)?;
    match fraction {
        Some(Fraction::Added(part)) => value += part,
        Some(Fraction::Alone(part)) => value = part,
        None => {}
    }
    if !value.is_finite() || value > MAX_MAGNITUDE {
        return Err(QuantityError::new(
            start..cursor.at,
            format!("too large, expected {}", Q::EXPECTED),
        ));
    }
    let negative = matches!(sign, Some('-' | '−'));
    Ok((
        if negative { -value } else { value },
        whole_number && fraction.is_none(),
        sign.is_some(),
    ))
}

fn has_nonzero_digit(text: &str) -> bool {
    text.bytes().any(|byte| (b'1'..=b'9').contains(&byte))
}

/// Moves past `e3` or `E-3`, but not past a unit that begins with that letter.
fn skip_exponent(cursor: &mut Cursor) {
    let rest = cursor.rest();
    let Some(after) = rest.strip_prefix(['e', 'E']) else {
        return;
    };
    let unsigned = after.strip_prefix(['+', '-']).unwrap_or(after);
    let digits = unsigned.len()
        - unsigned
            .trim_start_matches(|c: char| c.is_ascii_digit())
            .len();
    if digits > 0 {
        cursor.at += rest.len() - unsigned.len() + digits;
    }
}

/// A fraction behind a number, or in place of it.
#[derive(Clone, Copy)]
enum Fraction {
    /// `6 1/2`: added to the number before it.
    Added(f64),
    /// `1/2`: the number read so far was its upper half.
    Alone(f64),
}

/// Reads ` 1/2`, `/2` or `½` where one follows; the number before must be whole.
fn read_fraction(
    cursor: &mut Cursor,
    digits: &str,
    value: f64,
) -> Result<Option<Fraction>, QuantityError> {
    let start = cursor.at;
    let all_digits = digits.bytes().all(|byte| byte.is_ascii_digit());
    if let Some('/') = cursor.peek() {
        cursor.bump('/');
        let lower = cursor.take_while(|character| character.is_ascii_digit());
        return match divided(value, lower) {
            Some(fraction) if all_digits => Ok(Some(Fraction::Alone(fraction))),
            _ => Err(bad_fraction(start..cursor.at)),
        };
    }
    cursor.skip_spaces();
    if let Some(fraction) = cursor.peek().and_then(vulgar) {
        if !all_digits {
            return Err(bad_fraction(start..cursor.at));
        }
        if let Some(character) = cursor.peek() {
            cursor.bump(character);
        }
        return Ok(Some(Fraction::Added(fraction)));
    }
    let upper_start = cursor.at;
    let upper = cursor.take_while(|character| character.is_ascii_digit());
    if upper.is_empty() || cursor.peek() != Some('/') {
        cursor.at = start;
        return Ok(None);
    }
    cursor.bump('/');
    let lower = cursor.take_while(|character| character.is_ascii_digit());
    let fraction = upper
        .parse::<f64>()
        .ok()
        .and_then(|upper| divided(upper, lower));
    match fraction {
        Some(fraction) if all_digits && fraction < 1.0 => Ok(Some(Fraction::Added(fraction))),
        _ => Err(bad_fraction(upper_start..cursor.at)),
    }
}

fn bad_fraction(range: Range<usize>) -> QuantityError {
    QuantityError::new(range, "not a fraction").suggest("write for example `6 1/2 in`")
}

fn divided(upper: f64, lower: &str) -> Option<f64> {
    let lower = lower.parse::<f64>().ok().filter(|&lower| lower > 0.0)?;
    Some(upper / lower)
}

fn vulgar(character: char) -> Option<f64> {
    Some(match character {
        '¼' => 0.25,
        '½' => 0.5,
        '¾' => 0.75,
        '⅛' => 0.125,
        '⅜' => 0.375,
        '⅝' => 0.625,
        '⅞' => 0.875,
        _ => return None,
    })
}

/// Takes the letters and signs that can make up a unit.
fn read_unit_name<'a>(cursor: &mut Cursor<'a>) -> &'a str {
    let start = cursor.at;
    if let Some(mark) = cursor
        .peek()
        .filter(|&mark| matches!(mark, '\'' | '"' | '′' | '″'))
    {
        cursor.bump(mark);
        if mark == '\'' && cursor.peek() == Some('\'') {
            cursor.bump('\'');
        }
        return &cursor.text[start..cursor.at];
    }
    let name = cursor.take_while(|c| c.is_alphabetic() || matches!(c, '°' | '²' | '%'));
    if name == "mm" {
        for square in ["2", "^2"] {
            let rest = cursor.rest();
            let ends = |rest: &str| !rest.starts_with(|c: char| c.is_ascii_digit());
            if rest.strip_prefix(square).is_some_and(ends) {
                cursor.at += square.len();
                break;
            }
        }
    }
    &cursor.text[start..cursor.at]
}

/// The bytes of a text without the spaces around it.
fn trimmed(text: &str) -> Range<usize> {
    let start = text.len() - text.trim_start().len();
    start..start + text.trim().len()
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "conversions are exact by construction")]
mod tests {
    use super::*;
    use crate::units::{
        AmpHours, Amps, Celsius, CrossSection, Hours, LengthStyle, Metres, Ohms, Seconds, Volts,
        Watts, format_cut_length,
    };

    fn metres(text: &str) -> f64 {
        parse_quantity::<Metres>(text).expect(text).0
    }

    fn refused<Q: Quantity + std::fmt::Debug>(text: &str) -> String {
        parse_quantity::<Q>(text).expect_err(text).to_string()
    }

    #[test]
    fn lengths_are_exact() {
        for text in [
            "12 ft 6 in",
            "12ft 6in",
            "12ft6in",
            "12' 6\"",
            "12'6''",
            "150 in",
            "12.5 ft",
        ] {
            assert_eq!(metres(text), 3.81, "{text}");
        }
        for text in [
            "3.8 m",
            "380 cm",
            "3800 mm",
            "  3.8m ",
            "3 m 800 mm",
            "38e-1 m",
        ] {
            assert_eq!(metres(text), 3.8, "{text}");
        }
        for text in ["6 1/2 in", "6½ in", "6.5 in", "13/2 in", "6 1/2\""] {
            assert_eq!(metres(text), 0.1651, "{text}");
        }
        assert_eq!(metres("1 ft 6 1/2 in"), 0.4699);
        assert_eq!(metres("½ in"), 0.0127);
    }

    #[test]
    fn other_quantities() {
        assert_eq!(parse_quantity("7 A"), Ok(Amps(7.0)));
        assert_eq!(parse_quantity("30 mA"), Ok(Amps(0.03)));
        assert_eq!(parse_quantity("2.5 kA"), Ok(Amps(2500.0)));
        assert_eq!(parse_quantity("60 W"), Ok(Watts(60.0)));
        assert_eq!(parse_quantity("1.2 kW"), Ok(Watts(1200.0)));
        assert_eq!(parse_quantity("12 V"), Ok(Volts(12.0)));
        assert_eq!(parse_quantity("50 mV"), Ok(Volts(0.05)));
        for text in [
            "5 mΩ",
            "5 m\u{2126}",
            "5 mohm",
            "0.005 ohm",
            "5000 µΩ",
            "5000 \u{03BC}Ω",
        ] {
            assert_eq!(parse_quantity(text), Ok(Ohms(0.005)), "{text}");
        }
        for text in ["40 °C", "40 C", "104 °F", "40°C"] {
            assert_eq!(parse_quantity(text), Ok(Celsius(40.0)), "{text}");
        }
        assert_eq!(parse_quantity("-5 °C"), Ok(Celsius(-5.0)));
        assert_eq!(parse_quantity("−5 °C"), Ok(Celsius(-5.0)));
        assert_eq!(parse_quantity("75 Ah"), Ok(AmpHours(75.0)));
        assert_eq!(parse_quantity("2 h"), Ok(Hours(2.0)));
        assert_eq!(parse_quantity("2 h 30 min"), Ok(Hours(2.5)));
        assert_eq!(parse_quantity("5 min"), Ok(Seconds(300.0)));
        assert_eq!(parse_quantity("10 s"), Ok(Seconds(10.0)));
        for text in ["2.5 mm²", "2.5 mm2", "2.5mm^2"] {
            assert_eq!(parse_quantity(text), Ok(CrossSection(2.5)), "{text}");
        }
    }

    #[test]
    fn refusals_name_the_fault_and_a_repair() {
        assert_eq!(
            refused::<Metres>("3 mt"),
            "unknown unit `mt`; did you mean `m`?"
        );
        assert_eq!(
            refused::<Volts>("12 v"),
            "unknown unit `v`; did you mean `V`?"
        );
        assert_eq!(
            refused::<Amps>("12 V"),
            "`V` is a unit of voltage, expected a current in A, mA or kA"
        );
        assert_eq!(
            refused::<Metres>("3.2"),
            "`3.2` has no unit; write for example `3.2 m`"
        );
        assert_eq!(
            refused::<Metres>("6 in 12 ft"),
            "parts must go from large to small"
        );
        assert_eq!(
            refused::<Metres>("12 ft 6"),
            "`6` has no unit; write for example `6 m`"
        );
        assert_eq!(
            refused::<Metres>("3,8 m"),
            "a comma is not read in numbers; use a point for decimals and no mark for thousands"
        );
        assert_eq!(
            refused::<Metres>("12.5 ft 6 in"),
            "only the last part may have a fraction"
        );
        assert_eq!(
            refused::<Metres>("12 ft 14 in"),
            "this part is as large as one unit of the part before it"
        );
        assert!(refused::<Metres>("1 ft 2 cm").starts_with("parts of one value"));
        assert_eq!(
            refused::<Amps>("1 A 200 mA"),
            "two values where one was expected"
        );
        assert_eq!(
            refused::<Metres>("1 ft -2 in"),
            "a value of several parts takes no sign"
        );
        assert!(refused::<Metres>("6-1/2 in").contains("put a space before a fraction"));
        assert_eq!(
            refused::<Metres>("6 1/0 in"),
            "not a fraction; write for example `6 1/2 in`"
        );
        assert!(refused::<Volts>("12 V DC").contains("unexpected `DC`"));
    }

    #[test]
    fn nothing_that_is_not_finite_passes() {
        for text in [
            "NaN A", "inf A", "-inf A", "1e400 A", "1e10 A", "1e-400 A", "", " ", "A", ".",
        ] {
            assert!(parse_quantity::<Amps>(text).is_err(), "{text}");
        }
        assert!(refused::<Amps>(&"9".repeat(500)).starts_with("too long"));
    }

    #[test]
    fn the_range_points_into_the_text_given() {
        let error = parse_quantity::<Metres>("  3 mt ").expect_err("unknown unit");
        assert_eq!(error.range, 4..6);
        let error = parse_quantity::<Metres>("12 ft 6").expect_err("no unit");
        assert_eq!(error.range, 6..7);
    }

    proptest::proptest! {
        #[test]
        fn no_text_panics_and_every_fault_lies_inside_it(
            text in "[0-9 .,/eE+'\"mftinAVWhΩµμ°²½−-]{0,20}|\\PC{0,20}"
        ) {
            match parse_quantity::<Metres>(&text) {
                Ok(length) => proptest::prop_assert!(length.0.is_finite()),
                Err(error) => proptest::prop_assert!(text.get(error.range).is_some()),
            }
            if let Err(error) = parse_quantity::<Amps>(&text) {
                proptest::prop_assert!(text.get(error.range).is_some());
            }
        }

        #[test]
        fn printed_lengths_are_read_back(quarters in 1_u32..100_000) {
            let length = Metres(f64::from(quarters) * 0.0254 / 4.0);
            let text = format_cut_length(length, LengthStyle::FeetInches);
            let read = parse_quantity::<Metres>(&text).expect("a printed length is read");
            proptest::prop_assert!((read - length).abs() < Metres(1e-6), "{text}");
        }
    }
}
