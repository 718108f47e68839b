//! Physical quantities with their unit in the type, and the text forms people write them in.
//!
//! One newtype a quantity, always in the unit its name says (SI base or the trade's ampere hour);
//! conversions happen where text is read and where text is printed, never in between.
//! This room knows no electricity beyond dimension: Ohm's law yes, ampacity no.

mod format;
mod gauge;
mod parse;
mod unit;

pub use format::{
    LengthStyle, Printed, Rounding, amp_hours, amps, daily_amp_hours, decimal, format_against,
    format_cut_length, format_length, ohms, percent, round_down_to, round_up_to, volts, watts,
};
pub use gauge::{Gauge, ParseGaugeError};
pub use parse::{QuantityError, parse_quantity};
pub use unit::{Quantity, Unit};

use std::iter::Sum;
use std::ops::{Add, Div, Mul, Neg, Sub};

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $symbol:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(pub f64);

        impl $name {
            /// The unit symbol printed after a value of this quantity.
            pub const SYMBOL: &'static str = $symbol;

            /// The magnitude without its sign.
            #[must_use]
            pub fn abs(self) -> Self {
                Self(self.0.abs())
            }

            /// The larger of two values.
            #[must_use]
            pub fn max(self, other: Self) -> Self {
                Self(self.0.max(other.0))
            }

            /// The smaller of two values.
            #[must_use]
            pub fn min(self, other: Self) -> Self {
                Self(self.0.min(other.0))
            }

            /// Total order, for sorting; inputs are always finite.
            #[must_use]
            pub fn total_cmp(&self, other: &Self) -> std::cmp::Ordering {
                self.0.total_cmp(&other.0)
            }
        }

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }
        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }
        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }
        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }
        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }
        impl Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }
        impl Sum for $name {
            fn sum<I: Iterator<Item = Self>>(values: I) -> Self {
                Self(values.map(|value| value.0).sum())
            }
        }
    };
}

quantity!(/// Electric current in amperes.
    Amps, "A");
quantity!(/// Electric potential in volts.
    Volts, "V");
quantity!(/// Resistance in ohms.
    Ohms, "Ω");
quantity!(/// Resistance of a conductor in ohms per metre of its length.
    OhmsPerMetre, "Ω/m");
quantity!(/// Force in newtons.
    Newtons, "N");
quantity!(/// Power in watts.
    Watts, "W");
quantity!(/// Length in metres.
    Metres, "m");
quantity!(/// Temperature in degrees Celsius.
    Celsius, "°C");
quantity!(/// Conductor cross-section in square millimetres.
    CrossSection, "mm²");
quantity!(/// Charge in ampere hours.
    AmpHours, "Ah");
quantity!(/// Duration in hours.
    Hours, "h");
quantity!(/// Duration in seconds.
    Seconds, "s");

impl CrossSection {
    /// The area of a circle of one thousandth of an inch, in mm².
    const CIRCULAR_MIL: f64 = std::f64::consts::FRAC_PI_4 * 0.0254 * 0.0254;

    /// The area in circular mils, the unit of the American size formulas.
    #[must_use]
    pub fn circular_mils(self) -> f64 {
        self.0 / Self::CIRCULAR_MIL
    }

    /// An area given in circular mils.
    #[must_use]
    pub fn from_circular_mils(area: f64) -> Self {
        Self(area * Self::CIRCULAR_MIL)
    }
}

impl Newtons {
    /// The standard pound-force in newtons: 0.453 592 37 kg × 9.806 65 m/s².
    const POUND_FORCE: f64 = 0.453_592_37 * 9.806_65;

    /// The force in pounds-force.
    #[must_use]
    pub fn pounds_force(self) -> f64 {
        self.0 / Self::POUND_FORCE
    }

    /// A force given in pounds-force.
    #[must_use]
    pub fn from_pounds_force(force: f64) -> Self {
        Self(force * Self::POUND_FORCE)
    }
}

impl Mul<Metres> for OhmsPerMetre {
    type Output = Ohms;
    fn mul(self, length: Metres) -> Ohms {
        Ohms(self.0 * length.0)
    }
}
impl Mul<Ohms> for Amps {
    type Output = Volts;
    fn mul(self, other: Ohms) -> Volts {
        Volts(self.0 * other.0)
    }
}
impl Div<Ohms> for Volts {
    type Output = Amps;
    fn div(self, other: Ohms) -> Amps {
        Amps(self.0 / other.0)
    }
}
impl Div<Amps> for Volts {
    type Output = Ohms;
    fn div(self, other: Amps) -> Ohms {
        Ohms(self.0 / other.0)
    }
}
impl Mul<Amps> for Volts {
    type Output = Watts;
    fn mul(self, other: Amps) -> Watts {
        Watts(self.0 * other.0)
    }
}
impl Div<Volts> for Watts {
    type Output = Amps;
    fn div(self, other: Volts) -> Amps {
        Amps(self.0 / other.0)
    }
}
impl Mul<Hours> for Amps {
    type Output = AmpHours;
    fn mul(self, other: Hours) -> AmpHours {
        AmpHours(self.0 * other.0)
    }
}
