//! Prints quantities: one function a kind, so a number looks the same on every paper.
//!
//! Rounding goes one way where it matters, and which way is always said by the caller.
//! Nothing here depends on a locale: the decimal sign is the point.

use super::{AmpHours, Amps, Metres, Ohms, Volts, Watts};
use std::fmt;

/// Slack taken off before rounding up or down, relative to the step.
///
/// `3.81 m` is `150.00000000000003 in` in binary; without slack it would be cut a quarter inch long.
const SLACK: f64 = 1e-6;

/// More places than any quantity here carries.
const MAX_PLACES: usize = 9;

/// How lengths are printed; one way a boat, never mixed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LengthStyle {
    /// `12 ft 6 1/4 in`, to a quarter inch.
    FeetInches,
    /// `3.80 m` from one metre on, `180 mm` below.
    MetresMillimetres,
}

/// Which way a printed figure may differ from the computed one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rounding {
    /// Lengths to cut, voltage drop, load current.
    Up,
    /// Ampacity, endurance.
    Down,
    /// Measured values and everything else.
    Nearest,
}

/// A figure as it is printed: the number for a table column, with its unit through `Display`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Printed {
    /// The rounded number.
    pub number: String,
    /// The unit symbol.
    pub unit: &'static str,
}

impl fmt::Display for Printed {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{} {}", self.number, self.unit)
    }
}

/// A number with a fixed count of decimals, never `-0`.
#[must_use]
pub fn decimal(value: f64, places: usize) -> String {
    let places = places.min(MAX_PLACES);
    if let Some(text) = plain_decimal(value, places) {
        return text;
    }
    let text = format!("{value:.places$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|byte| matches!(byte, b'0' | b'.')) => rest.to_owned(),
        _ => text,
    }
}

/// Digits of a value that lies clear of half its last decimal, as most do; the general way takes ten times as long.
///
/// Below 2⁴⁰ the product is off by less than 10⁻⁴, so which whole number is next to it is beyond doubt.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // from 0 to 2⁴⁰
fn plain_decimal(value: f64, places: usize) -> Option<String> {
    const MOST: f64 = (1i64 << 40) as f64;
    let scaled = value.abs() * POWERS_OF_TEN[places];
    // No comparison holds for what is no number.
    let is_clear = scaled < MOST && (scaled.fract() - 0.5).abs() > 1e-3;
    if !is_clear {
        return None;
    }
    let whole = scaled.round() as u64;
    let mut text = String::with_capacity(16);
    if value < 0.0 && whole > 0 {
        text.push('-');
    }
    let mut digits = [0u8; 24];
    let mut count = 0;
    let mut rest = whole;
    while rest > 0 || count <= places {
        digits[count] = b'0' + (rest % 10) as u8;
        rest /= 10;
        count += 1;
    }
    for at in (0..count).rev() {
        text.push(char::from(digits[at]));
        if at == places && places > 0 {
            text.push('.');
        }
    }
    Some(text)
}

/// By the count of decimals.
const POWERS_OF_TEN: [f64; MAX_PLACES + 1] = [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9];

/// The next multiple of `step` that is not below the value; both in the same unit.
#[must_use]
pub fn round_up_to(value: f64, step: f64) -> f64 {
    (value / step - SLACK).ceil() * step
}

/// The next multiple of `step` that is not above the value; both in the same unit.
#[must_use]
pub fn round_down_to(value: f64, step: f64) -> f64 {
    (value / step + SLACK).floor() * step
}

/// A length for reading, rounded to the nearest quarter inch, centimetre or millimetre.
#[must_use]
pub fn format_length(length: Metres, style: LengthStyle) -> String {
    length_text(length, style, Rounding::Nearest)
}

/// A length to cut to: as `format_length`, but never shorter than the value.
#[must_use]
pub fn format_cut_length(length: Metres, style: LengthStyle) -> String {
    length_text(length, style, Rounding::Up)
}

/// A current: one decimal under 10 A, none from there on.
#[must_use]
pub fn amps(current: Amps, rounding: Rounding) -> Printed {
    let fine = rounded(current.0, 1, rounding);
    let number = if fine.abs() < 10.0 {
        decimal(fine, 1)
    } else {
        places(current.0, 0, rounding)
    };
    Printed {
        number,
        unit: Amps::SYMBOL,
    }
}

/// A voltage with two decimals.
#[must_use]
pub fn volts(voltage: Volts, rounding: Rounding) -> Printed {
    Printed {
        number: places(voltage.0, 2, rounding),
        unit: Volts::SYMBOL,
    }
}

/// A power in whole watts, with one decimal under 10 W.
#[must_use]
pub fn watts(power: Watts, rounding: Rounding) -> Printed {
    let fine = rounded(power.0, 1, rounding);
    let number = if fine.abs() < 10.0 {
        decimal(fine, 1)
    } else {
        places(power.0, 0, rounding)
    };
    Printed {
        number,
        unit: Watts::SYMBOL,
    }
}

/// A share in percent (3.0 means 3 %), with one decimal.
#[must_use]
pub fn percent(share_percent: f64, rounding: Rounding) -> Printed {
    Printed {
        number: places(share_percent, 1, rounding),
        unit: "%",
    }
}

/// A battery's charge in whole ampere hours.
#[must_use]
pub fn amp_hours(charge: AmpHours, rounding: Rounding) -> Printed {
    Printed {
        number: places(charge.0, 0, rounding),
        unit: AmpHours::SYMBOL,
    }
}

/// The charge that a load takes in a day, with one decimal.
#[must_use]
pub fn daily_amp_hours(charge: AmpHours, rounding: Rounding) -> Printed {
    Printed {
        number: places(charge.0, 1, rounding),
        unit: AmpHours::SYMBOL,
    }
}

/// A resistance that a hand meter can show: `None` under 0.1 Ω, where leads weigh more than the wire.
#[must_use]
pub fn ohms(resistance: Ohms) -> Option<Printed> {
    (resistance.0 >= 0.1).then(|| {
        let decimals = u8::from(resistance.0 < 10.0);
        let number = places(resistance.0, decimals, Rounding::Nearest);
        Printed {
            number,
            unit: Ohms::SYMBOL,
        }
    })
}

/// A value and its limit, with as many decimals as it takes for the two to read differently.
///
/// Values that differ never print alike, so a rounded number cannot hide a failure.
/// Both are in `unit`; an empty unit prints the bare numbers.
#[must_use]
pub fn format_against(value: f64, limit: f64, unit: &str) -> (String, String) {
    let least = match unit {
        "" => 0,
        "V" | "m" | "mm²" | "Ω" => 2,
        _ => 1,
    };
    // Adding zero turns a negative zero into zero, so that the two compare and print alike.
    let (value, limit) = (value + 0.0, limit + 0.0);
    let with_unit = |number: String| {
        if unit.is_empty() {
            number
        } else {
            format!("{number} {unit}")
        }
    };
    for decimals in least..=MAX_PLACES {
        let (shown, shown_limit) = (decimal(value, decimals), decimal(limit, decimals));
        if shown != shown_limit || value.total_cmp(&limit).is_eq() {
            return (with_unit(shown), with_unit(shown_limit));
        }
    }
    // The shortest decimal that reads back as the same binary number tells any two apart.
    (with_unit(value.to_string()), with_unit(limit.to_string()))
}

/// The value rounded to some decimals, as a number.
fn rounded(value: f64, decimals: i32, rounding: Rounding) -> f64 {
    let scale = 10f64.powi(decimals);
    match rounding {
        Rounding::Up => (value * scale - SLACK).ceil() / scale,
        Rounding::Down => (value * scale + SLACK).floor() / scale,
        Rounding::Nearest => (value * scale).round() / scale,
    }
}

fn places(value: f64, decimals: u8, rounding: Rounding) -> String {
    decimal(
        rounded(value, i32::from(decimals), rounding),
        usize::from(decimals),
    )
}

fn length_text(length: Metres, style: LengthStyle, rounding: Rounding) -> String {
    let whole = |value: f64| match rounding {
        Rounding::Up => (value - SLACK).ceil(),
        Rounding::Down => (value + SLACK).floor(),
        Rounding::Nearest => value.round(),
    };
    match style {
        LengthStyle::FeetInches => feet_inches(whole(length.0 / 0.0254 * 4.0)),
        LengthStyle::MetresMillimetres => {
            let millimetres = whole(length.0 * 1000.0);
            let (mut text, unit) = if millimetres.abs() < 1000.0 {
                (decimal(millimetres, 0), " mm")
            } else {
                (decimal(whole(length.0 * 100.0) / 100.0, 2), " m")
            };
            text.push_str(unit);
            text
        }
    }
}

/// Prints a whole count of quarter inches.
fn feet_inches(quarters: f64) -> String {
    let mut text = String::with_capacity(16);
    if quarters < 0.0 {
        text.push('-');
    }
    let quarters = quarters.abs();
    let feet = (quarters / 48.0).floor();
    let rest = quarters - feet * 48.0;
    let inches = (rest / 4.0).floor();
    let fraction = match (rest - inches * 4.0).to_bits() {
        bits if bits == 1f64.to_bits() => "1/4",
        bits if bits == 2f64.to_bits() => "1/2",
        bits if bits == 3f64.to_bits() => "3/4",
        _ => "",
    };
    if feet > 0.0 {
        text.push_str(&decimal(feet, 0));
        text.push_str(" ft");
    }
    let has_inches = inches > 0.0 || !fraction.is_empty();
    if !has_inches {
        return if feet > 0.0 { text } else { "0 in".to_owned() };
    }
    if feet > 0.0 {
        text.push(' ');
    }
    if inches > 0.0 {
        text.push_str(&decimal(inches, 0));
        text.push_str(if fraction.is_empty() { "" } else { " " });
    }
    text.push_str(fraction);
    text.push_str(" in");
    text
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "conversions are exact by construction")]
mod tests {
    use super::*;

    const FEET: LengthStyle = LengthStyle::FeetInches;
    const METRIC: LengthStyle = LengthStyle::MetresMillimetres;

    #[test]
    fn lengths_in_feet() {
        assert_eq!(format_length(Metres(3.81), FEET), "12 ft 6 in");
        assert_eq!(format_cut_length(Metres(3.81), FEET), "12 ft 6 in");
        assert_eq!(format_length(Metres(3.812), FEET), "12 ft 6 in");
        assert_eq!(format_cut_length(Metres(3.812), FEET), "12 ft 6 1/4 in");
        assert_eq!(format_length(Metres(0.1524), FEET), "6 in");
        assert_eq!(format_length(Metres(0.0127), FEET), "1/2 in");
        assert_eq!(format_length(Metres(3.6576), FEET), "12 ft");
        assert_eq!(format_length(Metres(3.657), FEET), "12 ft");
        assert_eq!(format_length(Metres(0.0), FEET), "0 in");
    }

    #[test]
    fn lengths_in_metres() {
        assert_eq!(format_length(Metres(3.8), METRIC), "3.80 m");
        assert_eq!(format_length(Metres(0.18), METRIC), "180 mm");
        assert_eq!(format_length(Metres(0.9996), METRIC), "1.00 m");
        assert_eq!(format_length(Metres(3.804), METRIC), "3.80 m");
        assert_eq!(format_cut_length(Metres(3.804), METRIC), "3.81 m");
        assert_eq!(format_cut_length(Metres(0.1801), METRIC), "181 mm");
        assert_eq!(format_cut_length(Metres(3.81), METRIC), "3.81 m");
    }

    #[test]
    fn figures() {
        let current = |value, rounding| amps(Amps(value), rounding).to_string();
        assert_eq!(current(9.94, Rounding::Nearest), "9.9 A");
        assert_eq!(current(9.96, Rounding::Nearest), "10 A");
        assert_eq!(current(29.75, Rounding::Down), "29 A");
        assert_eq!(current(38.0, Rounding::Up), "38 A");
        assert_eq!(current(0.03, Rounding::Up), "0.1 A");
        assert_eq!(volts(Volts(0.361), Rounding::Up).to_string(), "0.37 V");
        assert_eq!(percent(3.003, Rounding::Up).to_string(), "3.1 %");
        assert_eq!(ohms(Ohms(0.05)), None);
        assert_eq!(decimal(-0.001, 2), "0.00");
        assert_eq!(decimal(-1.5, 1), "-1.5");
    }

    #[test]
    fn decimals_are_those_of_the_general_way() {
        for step in [0.01, 0.125, 0.3, 0.5, 1.0, 25.4, 1e-7, 1e11] {
            for number in -3000..3000 {
                let value = f64::from(number) * step;
                for places in 0..5 {
                    let general = format!("{value:.places$}");
                    let zero = general
                        .bytes()
                        .all(|byte| matches!(byte, b'0' | b'.' | b'-'));
                    let general = if zero {
                        general.trim_start_matches('-').to_owned()
                    } else {
                        general
                    };
                    assert_eq!(decimal(value, places), general, "{value} to {places}");
                }
            }
        }
        assert_eq!(decimal(f64::INFINITY, 1), "inf");
        assert_eq!(decimal(f64::NAN, 1), "NaN");
    }

    #[test]
    fn rounding_to_a_step_keeps_exact_values() {
        assert_eq!(round_up_to(0.3 + 0.3 + 0.3, 0.3), 0.3 * 3.0);
        assert_eq!(round_up_to(101.0, 25.0), 125.0);
        assert_eq!(round_down_to(1.49, 0.5), 1.0);
        assert_eq!(round_down_to(1.5, 0.5), 1.5);
    }

    #[test]
    fn a_value_never_reads_like_the_limit_it_misses() {
        let pair = |value, limit, unit| format_against(value, limit, unit);
        assert_eq!(pair(38.0, 25.0, "A"), ("38.0 A".into(), "25.0 A".into()));
        assert_eq!(pair(3.003, 3.0, "%"), ("3.003 %".into(), "3.000 %".into()));
        assert_eq!(pair(3.0, 3.0, "%"), ("3.0 %".into(), "3.0 %".into()));
        assert_eq!(pair(5.0, 4.0, ""), ("5".into(), "4".into()));
        assert_eq!(pair(-0.0, 0.0, "V"), ("0.00 V".into(), "0.00 V".into()));
        let next = f64::from_bits(3f64.to_bits() + 1);
        let (value, limit) = pair(next, 3.0, "V");
        assert_ne!(value, limit);
    }

    proptest::proptest! {
        #[test]
        fn a_cut_length_is_never_shorter_than_asked(length in 0.0_f64..1000.0) {
            for style in [FEET, METRIC] {
                let text = format_cut_length(Metres(length), style);
                let read: Metres = crate::units::parse_quantity(&text).expect("it is read back");
                proptest::prop_assert!(read.0 >= length - 1e-6, "{length}: {text}");
                proptest::prop_assert!(read.0 < length + 0.0101, "{length}: {text}");
            }
        }

        #[test]
        fn unlike_figures_print_unlike(value in -1e6_f64..1e6, limit in -1e6_f64..1e6) {
            for (a, b) in [(value, limit), (value, value * (1.0 + 1e-13))] {
                let (shown, shown_limit) = format_against(a, b, "A");
                proptest::prop_assert_eq!(shown == shown_limit, a == b, "{}", shown);
            }
        }
    }
}
