//! Units of quantities: their spellings, what they measure, and how each type is made from them.

use super::{AmpHours, Amps, Celsius, CrossSection, Hours, Metres, Ohms, Seconds, Volts, Watts};

/// A unit that a quantity may be written in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// `m`
    Metre,
    /// `cm`
    Centimetre,
    /// `mm`
    Millimetre,
    /// `ft`, exactly 0.3048 m
    Foot,
    /// `in`, exactly 25.4 mm
    Inch,
    /// `A`
    Ampere,
    /// `mA`
    Milliampere,
    /// `kA`
    Kiloampere,
    /// `W`
    Watt,
    /// `mW`
    Milliwatt,
    /// `kW`
    Kilowatt,
    /// `V`
    Volt,
    /// `mV`
    Millivolt,
    /// `kV`
    Kilovolt,
    /// `Ω`
    Ohm,
    /// `µΩ`
    Microohm,
    /// `mΩ`
    Milliohm,
    /// `kΩ`
    Kiloohm,
    /// `°C`
    DegreeCelsius,
    /// `°F`
    DegreeFahrenheit,
    /// `Ah`
    AmpereHour,
    /// `mAh`
    MilliampereHour,
    /// `d`
    Day,
    /// `h`
    Hour,
    /// `min`
    Minute,
    /// `s`
    Second,
    /// `ms`
    Millisecond,
    /// `mm²`
    SquareMillimetre,
}

/// Every spelling that is read, the usual one of each unit first.
const SPELLINGS: &[(&str, Unit)] = &[
    ("m", Unit::Metre),
    ("metre", Unit::Metre),
    ("metres", Unit::Metre),
    ("meter", Unit::Metre),
    ("meters", Unit::Metre),
    ("cm", Unit::Centimetre),
    ("mm", Unit::Millimetre),
    ("ft", Unit::Foot),
    ("foot", Unit::Foot),
    ("feet", Unit::Foot),
    ("'", Unit::Foot),
    ("′", Unit::Foot),
    ("in", Unit::Inch),
    ("inch", Unit::Inch),
    ("inches", Unit::Inch),
    ("\"", Unit::Inch),
    ("''", Unit::Inch),
    ("″", Unit::Inch),
    ("A", Unit::Ampere),
    ("amp", Unit::Ampere),
    ("amps", Unit::Ampere),
    ("mA", Unit::Milliampere),
    ("kA", Unit::Kiloampere),
    ("W", Unit::Watt),
    ("watt", Unit::Watt),
    ("watts", Unit::Watt),
    ("mW", Unit::Milliwatt),
    ("kW", Unit::Kilowatt),
    ("V", Unit::Volt),
    ("volt", Unit::Volt),
    ("volts", Unit::Volt),
    ("mV", Unit::Millivolt),
    ("kV", Unit::Kilovolt),
    ("Ω", Unit::Ohm),
    ("ohm", Unit::Ohm),
    ("ohms", Unit::Ohm),
    ("µΩ", Unit::Microohm),
    ("uohm", Unit::Microohm),
    ("µohm", Unit::Microohm),
    ("mΩ", Unit::Milliohm),
    ("mohm", Unit::Milliohm),
    ("kΩ", Unit::Kiloohm),
    ("kohm", Unit::Kiloohm),
    ("°C", Unit::DegreeCelsius),
    ("C", Unit::DegreeCelsius),
    ("degC", Unit::DegreeCelsius),
    ("°F", Unit::DegreeFahrenheit),
    ("F", Unit::DegreeFahrenheit),
    ("degF", Unit::DegreeFahrenheit),
    ("Ah", Unit::AmpereHour),
    ("mAh", Unit::MilliampereHour),
    ("d", Unit::Day),
    ("day", Unit::Day),
    ("days", Unit::Day),
    ("h", Unit::Hour),
    ("hour", Unit::Hour),
    ("hours", Unit::Hour),
    ("min", Unit::Minute),
    ("s", Unit::Second),
    ("ms", Unit::Millisecond),
    ("mm²", Unit::SquareMillimetre),
    ("mm2", Unit::SquareMillimetre),
    ("mm^2", Unit::SquareMillimetre),
    ("sqmm", Unit::SquareMillimetre),
];

impl Unit {
    /// What the unit measures: `voltage`.
    #[must_use]
    pub fn measures(self) -> &'static str {
        match self {
            Self::Metre | Self::Centimetre | Self::Millimetre | Self::Foot | Self::Inch => "length",
            Self::Ampere | Self::Milliampere | Self::Kiloampere => "current",
            Self::Watt | Self::Milliwatt | Self::Kilowatt => "power",
            Self::Volt | Self::Millivolt | Self::Kilovolt => "voltage",
            Self::Ohm | Self::Microohm | Self::Milliohm | Self::Kiloohm => "resistance",
            Self::DegreeCelsius | Self::DegreeFahrenheit => "temperature",
            Self::AmpereHour | Self::MilliampereHour => "charge",
            Self::Day | Self::Hour | Self::Minute | Self::Second | Self::Millisecond => "time",
            Self::SquareMillimetre => "cross-section",
        }
    }

    /// The series of units this one may stand in with others, and its size in the smallest of them.
    ///
    /// Feet and inches go together, metric lengths go together, and units of time go together.
    pub(super) fn step(self) -> Option<(Series, f64)> {
        Some(match self {
            Self::Foot => (Series::Imperial, 12.0),
            Self::Inch => (Series::Imperial, 1.0),
            Self::Metre => (Series::Metric, 1000.0),
            Self::Centimetre => (Series::Metric, 10.0),
            Self::Millimetre => (Series::Metric, 1.0),
            Self::Day => (Series::Time, 86_400.0),
            Self::Hour => (Series::Time, 3600.0),
            Self::Minute => (Series::Time, 60.0),
            Self::Second => (Series::Time, 1.0),
            _ => return None,
        })
    }
}

/// Units that may stand beside one another in one text.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Series {
    Imperial,
    Metric,
    Time,
}

/// A type that text can be read into.
pub trait Quantity: Sized {
    /// What a reader is told was expected: `a current in A or mA`.
    const EXPECTED: &'static str;
    /// The unit shown in an example: `A`.
    const EXAMPLE_UNIT: &'static str;

    /// The value in this type's own unit; `None` where the unit measures something else.
    #[must_use]
    fn from_unit(value: f64, unit: Unit) -> Option<Self>;
}

/// Writes the two Unicode forms of micro and of omega as one.
fn normalised(name: &str) -> String {
    name.chars()
        .map(|character| match character {
            '\u{2126}' => 'Ω',
            '\u{03BC}' => '\u{00B5}',
            other => other,
        })
        .collect()
}

/// The unit of a spelling.
pub(super) fn unit_named(name: &str) -> Option<Unit> {
    let name = normalised(name);
    SPELLINGS
        .iter()
        .find(|(spelling, _)| *spelling == name)
        .map(|&(_, unit)| unit)
}

/// The spelling nearest to a name that is not known, among units that fit.
pub(super) fn nearest_spelling<Q: Quantity>(name: &str) -> Option<&'static str> {
    let lower = normalised(name).to_lowercase();
    let first = lower.chars().next();
    SPELLINGS
        .iter()
        .filter(|&&(_, unit)| Q::from_unit(1.0, unit).is_some())
        .map(|&(spelling, _)| {
            let candidate = spelling.to_lowercase();
            let distance = strsim::damerau_levenshtein(&lower, &candidate);
            let other_start = candidate.chars().next() != first;
            (distance, other_start, spelling)
        })
        .filter(|&(distance, other_start, _)| distance == 0 || (distance == 1 && !other_start))
        .min_by_key(|&(distance, other_start, _)| (distance, other_start))
        .map(|(_, _, spelling)| spelling)
}

macro_rules! quantity {
    ($name:ident, $expected:literal, $example:literal, $value:ident, {$($unit:ident => $converted:expr),+ $(,)?}) => {
        impl Quantity for $name {
            const EXPECTED: &'static str = $expected;
            const EXAMPLE_UNIT: &'static str = $example;

            fn from_unit($value: f64, unit: Unit) -> Option<Self> {
                // Dividing by a power of ten keeps `380 cm` exactly 3.8 m.
                match unit {
                    $(Unit::$unit => Some(Self($converted)),)+
                    _ => None,
                }
            }
        }
    };
}

quantity!(Metres, "a length in ft and in, m, cm or mm", "m", value, {
    Metre => value,
    Centimetre => value / 100.0,
    Millimetre => value / 1000.0,
    // International foot and inch of 1959: 0.3048 m and 0.0254 m exactly.
    Foot => value * 3048.0 / 10_000.0,
    Inch => value * 254.0 / 10_000.0,
});
quantity!(Amps, "a current in A, mA or kA", "A", value, {
    Ampere => value,
    Milliampere => value / 1000.0,
    Kiloampere => value * 1000.0,
});
quantity!(Watts, "a power in W, mW or kW", "W", value, {
    Watt => value,
    Milliwatt => value / 1000.0,
    Kilowatt => value * 1000.0,
});
quantity!(Volts, "a voltage in V, mV or kV", "V", value, {
    Volt => value,
    Millivolt => value / 1000.0,
    Kilovolt => value * 1000.0,
});
quantity!(Ohms, "a resistance in Ω (or ohm), mΩ or kΩ", "ohm", value, {
    Ohm => value,
    Microohm => value / 1_000_000.0,
    Milliohm => value / 1000.0,
    Kiloohm => value * 1000.0,
});
quantity!(Celsius, "a temperature in °C or °F", "°C", value, {
    DegreeCelsius => value,
    DegreeFahrenheit => (value - 32.0) * 5.0 / 9.0,
});
quantity!(AmpHours, "a charge in Ah or mAh", "Ah", value, {
    AmpereHour => value,
    MilliampereHour => value / 1000.0,
});
quantity!(Hours, "a time in h, min, s or d", "h", value, {
    Day => value * 24.0,
    Hour => value,
    Minute => value / 60.0,
    Second => value / 3600.0,
    Millisecond => value / 3_600_000.0,
});
quantity!(Seconds, "a time in s, ms, min or h", "s", value, {
    Day => value * 86_400.0,
    Hour => value * 3600.0,
    Minute => value * 60.0,
    Second => value,
    Millisecond => value / 1000.0,
});
quantity!(CrossSection, "a cross-section in mm²", "mm²", value, {
    SquareMillimetre => value,
});
