//! Conductor sizes: American Wire Gauge numbers and metric nominal areas.

use super::CrossSection;
use std::cmp::Ordering;
use std::fmt;
use std::str::FromStr;
use std::sync::LazyLock;
use thiserror::Error;

/// The thinnest metric area read, in mm²; no boat has a thinner conductor.
const MIN_AREA: f64 = 0.05;

/// The thickest metric area read, in mm².
const MAX_AREA: f64 = 1000.0;

/// A conductor size as it is sold: a gauge number or a nominal metric area.
///
/// A gauge is a name, not a measure: resistance and ampacity come from tables in `standards`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Gauge {
    /// American Wire Gauge; 1/0 is 0, 2/0 is -1, 3/0 is -2, 4/0 is -3.
    Awg(i8),
    /// Nominal metric area in mm².
    Metric(f64),
}

/// Why a text is not a conductor size.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum ParseGaugeError {
    /// The text has neither `AWG` nor `mm²` behind a number.
    #[error("`{0}` is not a conductor size; write for example `14 AWG`, `2/0 AWG` or `2.5 mm²`")]
    NotASize(String),
    /// The gauge number is outside 24 to 4/0.
    #[error("`{0}` is outside the gauges 24 AWG to 4/0 AWG")]
    OutOfRange(String),
}

impl Gauge {
    /// The geometric cross-section: ASTM B258 for AWG, the nominal area for metric sizes.
    #[must_use]
    pub fn area(self) -> CrossSection {
        match self {
            Self::Awg(number) => usize::try_from(i16::from(number) - i16::from(THICKEST))
                .ok()
                .and_then(|index| AREAS.get(index).copied())
                .unwrap_or_else(|| awg_area(number)),
            Self::Metric(area) => CrossSection(area),
        }
    }

    /// Whether the size belongs to the AWG series.
    #[must_use]
    pub fn is_awg(self) -> bool {
        matches!(self, Self::Awg(_))
    }

    /// Order by cross-section, thinnest first.
    #[must_use]
    pub fn by_area(&self, other: &Self) -> Ordering {
        self.area().total_cmp(&other.area())
    }
}

/// 4/0 AWG.
const THICKEST: i8 = -3;

/// 24 AWG.
const THINNEST: i8 = 24;

/// Areas from 4/0 to 24 AWG: sizing asks for them many times a conductor.
static AREAS: LazyLock<Vec<CrossSection>> =
    LazyLock::new(|| (THICKEST..=THINNEST).map(awg_area).collect());

/// ASTM B258: d = 0.005 in × 92^((36 − n) / 39), with 25.4 mm to the inch.
fn awg_area(number: i8) -> CrossSection {
    let diameter_mm = 0.127 * 92f64.powf((36.0 - f64::from(number)) / 39.0);
    CrossSection(std::f64::consts::FRAC_PI_4 * diameter_mm * diameter_mm)
}

impl fmt::Display for Gauge {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::Awg(number) if number <= 0 => write!(out, "{}/0 AWG", 1 - i32::from(number)),
            Self::Awg(number) => write!(out, "{number} AWG"),
            Self::Metric(area) => write!(out, "{area} mm²"),
        }
    }
}

impl FromStr for Gauge {
    type Err = ParseGaugeError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let text = text.trim();
        let not_a_size = || ParseGaugeError::NotASize(text.to_owned());
        let lower = text.to_lowercase();
        if let Some(number) = lower.strip_suffix("awg") {
            let number = number.trim();
            let digits = |text: &str| text.trim().parse::<u8>().map_err(|_| not_a_size());
            let value = match number.strip_suffix("/0") {
                Some(zeros) => 1 - i16::from(digits(zeros)?),
                // `00` is the other way to write 2/0, also in the law.
                None if !number.is_empty() && number.bytes().all(|byte| byte == b'0') => {
                    1 - i16::try_from(number.len()).map_err(|_| not_a_size())?
                }
                None => i16::from(digits(number)?),
            };
            let aught = number.contains('/');
            return match i8::try_from(value) {
                Ok(number) if (THICKEST..=THINNEST).contains(&number) && !(aught && number > 0) => {
                    Ok(Self::Awg(number))
                }
                _ => Err(ParseGaugeError::OutOfRange(text.to_owned())),
            };
        }
        for unit in ["mm²", "mm2", "mm^2", "sqmm"] {
            if let Some(number) = lower.strip_suffix(unit) {
                let area: f64 = number.trim().parse().map_err(|_| not_a_size())?;
                if (MIN_AREA..=MAX_AREA).contains(&area) {
                    return Ok(Self::Metric(area));
                }
                return Err(not_a_size());
            }
        }
        Err(not_a_size())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_read_as_people_write_them() {
        for (text, gauge) in [
            ("14 AWG", Gauge::Awg(14)),
            ("14awg", Gauge::Awg(14)),
            ("2/0 AWG", Gauge::Awg(-1)),
            ("4/0 awg", Gauge::Awg(-3)),
            ("0 AWG", Gauge::Awg(0)),
            ("00 AWG", Gauge::Awg(-1)),
            ("2.5 mm²", Gauge::Metric(2.5)),
            ("2.5mm2", Gauge::Metric(2.5)),
        ] {
            assert_eq!(text.parse(), Ok(gauge), "{text}");
            assert_eq!(gauge.to_string().parse(), Ok(gauge), "{gauge}");
        }
    }

    #[test]
    fn areas_follow_the_formula_inside_and_outside_the_series() {
        for number in [-4, -3, 0, 14, 24, 30] {
            assert_eq!(Gauge::Awg(number).area(), awg_area(number), "{number}");
        }
        assert!((Gauge::Awg(-3).area().circular_mils() - 211_600.0).abs() < 1e-6);
    }

    #[test]
    fn nothing_else_passes_for_a_size() {
        for text in [
            "14",
            "AWG",
            "0/0 AWG",
            "5/0 AWG",
            "-3/0 AWG",
            "-2147483648/0 AWG",
            "25 AWG",
            "00000 AWG",
            "-1 AWG",
            "NaN mm²",
            "inf mm²",
            "1e-300 mm²",
            "2,5 mm²",
            "",
        ] {
            assert!(text.parse::<Gauge>().is_err(), "{text}");
        }
    }
}
