//! Reads a field into a quantity, a word, a number or a size, with the range that can be meant.
//!
//! A value that cannot be read or meant is told and then counts as not given.

use super::Resolver;
use super::faults::{OUT_OF_RANGE, UNKNOWN_STUD, UNKNOWN_WORD, WRONG_GAUGE, WRONG_QUANTITY};
use super::fields::{Field, listed, quoted};
use crate::diag::{Severity, nearest};
use crate::netlist::text::Flag;
use crate::source::{Fault, Span};
use crate::standards::{FuseForm, StudSize, stud_sizes};
use crate::system::{Draw, DropClass, Given, Known, Origin};
use crate::units::{
    AmpHours, Amps, Celsius, Gauge, Hours, Metres, Ohms, Quantity, QuantityError, Unit, Volts,
    Watts, parse_quantity,
};

/// What a value may be, in the unit of its type.
#[derive(Clone, Copy, Debug)]
pub(super) struct Limits {
    min: f64,
    /// The least value itself is allowed.
    min_allowed: bool,
    max: f64,
}

impl Limits {
    /// Above zero and at most a value.
    pub(super) const fn above_zero(max: f64) -> Self {
        Self {
            min: 0.0,
            min_allowed: false,
            max,
        }
    }

    /// From one value to another, both allowed.
    pub(super) const fn between(min: f64, max: f64) -> Self {
        Self {
            min,
            min_allowed: true,
            max,
        }
    }

    fn hold(self, value: f64) -> bool {
        value <= self.max && (value > self.min || (self.min_allowed && value >= self.min))
    }

    fn words(self, unit: &str) -> String {
        let space = if unit.is_empty() { "" } else { " " };
        let from = if self.min_allowed { "from" } else { "above" };
        let to = if self.min_allowed {
            "to"
        } else {
            "and at most"
        };
        format!(
            "{from} {}{space}{unit} {to} {}{space}{unit}",
            self.min, self.max
        )
    }
}

/// A quantity with the range that can be meant on a boat.
pub(super) trait Measured: Quantity + Copy {
    /// The range where the field sets none of its own.
    const LIMITS: Limits;
    /// Its unit symbol.
    const SYMBOL: &'static str;
    /// The number in its own unit.
    fn number(self) -> f64;
}

macro_rules! measured {
    ($($name:ident $limits:expr;)*) => { $(impl Measured for $name {
        const LIMITS: Limits = $limits;
        const SYMBOL: &'static str = $name::SYMBOL;
        fn number(self) -> f64 { self.0 }
    })* };
}

measured! {
    Amps Limits::above_zero(100_000.0);
    Volts Limits::above_zero(1000.0);
    Ohms Limits::between(0.0, 1_000_000.0);
    Metres Limits::above_zero(1000.0);
    Celsius Limits::between(-60.0, 200.0);
    AmpHours Limits::above_zero(1_000_000.0);
    Hours Limits::above_zero(8784.0);
}

/// Range of a current that may be zero, such as a standby draw, in A.
pub(super) const FROM_ZERO_AMPS: Limits = Limits::between(0.0, 100_000.0);
/// Range of a length that may be zero, such as a slack or an allowance, in m.
pub(super) const FROM_ZERO_METRES: Limits = Limits::between(0.0, 1000.0);
/// Range of a diode's forward voltage, in V.
pub(super) const FORWARD_VOLTS: Limits = Limits::between(0.0, 10.0);
/// Range of insulation ratings, in °C.
pub(super) const INSULATION: Limits = Limits::between(40.0, 300.0);
/// Range of a share in per cent.
pub(super) const SHARE: Limits = Limits::between(0.0, 100.0);
/// Range of the Peukert exponent: 1 is a battery that loses nothing.
pub(super) const PEUKERT: Limits = Limits::between(1.0, 2.0);

impl Quantity for Draw {
    const EXPECTED: &'static str = "a current in A or mA, or a power in W";
    const EXAMPLE_UNIT: &'static str = "A";

    fn from_unit(value: f64, unit: Unit) -> Option<Self> {
        Amps::from_unit(value, unit)
            .map(Self::Current)
            .or_else(|| Watts::from_unit(value, unit).map(Self::Power))
    }
}

impl<'n> Resolver<'n> {
    /// A quantity within the usual range of its kind.
    pub(super) fn read<Q: Measured>(&mut self, field: Option<Field<'n>>) -> Known<Q> {
        self.read_within(field, Q::LIMITS)
    }

    /// A quantity within a range of its own.
    pub(super) fn read_within<Q: Measured>(
        &mut self,
        field: Option<Field<'n>>,
        limits: Limits,
    ) -> Known<Q> {
        let field = field?;
        let value = self.parsed::<Q>(field)?;
        if !limits.hold(value.number()) {
            self.out_of_range(field, &limits.words(Q::SYMBOL));
            return None;
        }
        Some(Given::written(value, field.span()))
    }

    /// A current or a power; zero where something takes nothing is allowed.
    pub(super) fn draw(&mut self, field: Option<Field<'n>>) -> Known<Draw> {
        const MAX_WATTS: f64 = 1_000_000.0;
        let field = field?;
        let value = self.parsed::<Draw>(field)?;
        let (number, limits, unit) = match value {
            Draw::Current(amps) => (amps.0, FROM_ZERO_AMPS, Amps::SYMBOL),
            Draw::Power(watts) => (watts.0, Limits::between(0.0, MAX_WATTS), Watts::SYMBOL),
        };
        if !limits.hold(number) {
            self.out_of_range(field, &limits.words(unit));
            return None;
        }
        Some(Given::written(value, field.span()))
    }

    /// A power.
    pub(super) fn watts(&mut self, field: Option<Field<'n>>) -> Known<Watts> {
        let field = field?;
        let draw = self.draw(Some(field))?;
        match draw.value {
            Draw::Power(watts) => Some(Given::written(watts, field.span())),
            Draw::Current(_) => {
                let finding = Self::error(
                    WRONG_QUANTITY,
                    field,
                    format!("{} is a current, expected a power in W", field.title()),
                )
                .label(field.span(), "expected a power in W")
                .repair("write for example `100 W`");
                self.tell(finding);
                None
            }
        }
    }

    /// The rating of a device: none where it is left out or `auto`, marked as chosen behind `auto`.
    pub(super) fn rating(&mut self, field: Option<Field<'n>>) -> Known<Amps> {
        match wish(field?) {
            Wish::Written(field) => self.read(Some(field)),
            Wish::Settled(field) => self.read(Some(field)).map(chosen),
            Wish::Open => None,
        }
    }

    /// The size of a conductor: none where it is left out or `auto`, marked as chosen behind `auto`.
    pub(super) fn size(&mut self, field: Option<Field<'n>>) -> Known<Gauge> {
        let repair = "write a size with its unit, such as `14 AWG` or `2.5 mm²`, or `auto`";
        match wish(field?) {
            Wish::Written(field) => self.gauge_or(field, repair),
            Wish::Settled(field) => self.gauge_or(field, repair).map(chosen),
            Wish::Open => None,
        }
    }

    /// A conductor size as it stands, where none can be chosen.
    pub(super) fn gauge(&mut self, field: Option<Field<'n>>) -> Known<Gauge> {
        self.gauge_or(
            field?,
            "write a size with its unit, such as `14 AWG` or `2.5 mm²`",
        )
    }

    fn gauge_or(&mut self, field: Field<'n>, repair: &'static str) -> Known<Gauge> {
        match field.text.parse::<Gauge>() {
            Ok(gauge) => Some(Given::written(gauge, field.span())),
            Err(error) => {
                let finding = Self::error(
                    WRONG_GAUGE,
                    field,
                    format!("{}: {}", field.title(), shortened(&error.to_string())),
                )
                .label(field.span(), "no conductor size")
                .repair(repair);
                self.tell(finding);
                None
            }
        }
    }

    /// A share in per cent.
    pub(super) fn percent(&mut self, field: Option<Field<'n>>) -> Known<f64> {
        let field = field?;
        let number = ["%", "per cent", "percent"]
            .iter()
            .find_map(|unit| field.text.trim().strip_suffix(unit))
            .and_then(|number| number.trim().parse::<f64>().ok());
        let Some(value) = number.filter(|value| value.is_finite()) else {
            let finding = Self::error(
                WRONG_QUANTITY,
                field,
                format!(
                    "{}: {} is no share in per cent",
                    field.title(),
                    quoted(field.text)
                ),
            )
            .label(field.span(), "expected a share in %")
            .repair("write for example `3 %`");
            self.tell(finding);
            return None;
        };
        if !SHARE.hold(value) {
            self.out_of_range(field, &SHARE.words("%"));
            return None;
        }
        Some(Given::written(value, field.span()))
    }

    /// A drop limit: a word or a share.
    pub(super) fn drop_class(&mut self, field: Option<Field<'n>>) -> Known<DropClass> {
        let field = field?;
        match field.text.trim() {
            "critical" => Some(Given::written(DropClass::Critical, field.span())),
            "ordinary" => Some(Given::written(DropClass::Ordinary, field.span())),
            word if word.ends_with(|last: char| last.is_alphabetic())
                && !word.ends_with("cent") =>
            {
                self.unknown_word(field, &["critical", "ordinary"]);
                None
            }
            _ => self.percent(Some(field)).map(|share| Given {
                value: DropClass::Percent(share.value),
                span: share.span,
                origin: share.origin,
            }),
        }
    }

    /// A whole number within a range.
    pub(super) fn count(&mut self, field: Option<Field<'n>>, min: u32, max: u32) -> Known<u32> {
        let field = field?;
        let text = field.text.trim();
        let Ok(value) = text.parse::<u64>() else {
            let (fault, what) = match text.parse::<f64>() {
                Ok(number) if number.is_finite() => (OUT_OF_RANGE, "no whole number from zero up"),
                _ => (WRONG_QUANTITY, "no whole number"),
            };
            let finding = Self::error(
                fault,
                field,
                format!("{}: {} is {what}", field.title(), quoted(text)),
            )
            .label(field.span(), "expected a whole number")
            .repair(format!("write a whole number from {min} to {max}"));
            self.tell(finding);
            return None;
        };
        match u32::try_from(value) {
            Ok(value) if (min..=max).contains(&value) => Some(Given::written(value, field.span())),
            _ => {
                self.out_of_range(field, &format!("from {min} to {max}"));
                None
            }
        }
    }

    /// A plain number without a unit.
    pub(super) fn number(&mut self, field: Option<Field<'n>>, limits: Limits) -> Known<f64> {
        let field = field?;
        let Some(value) = field
            .text
            .trim()
            .parse::<f64>()
            .ok()
            .filter(|value| value.is_finite())
        else {
            let finding = Self::error(
                WRONG_QUANTITY,
                field,
                format!("{}: {} is no number", field.title(), quoted(field.text)),
            )
            .label(field.span(), "expected a number without a unit")
            .repair(format!("write a number {}", limits.words("")));
            self.tell(finding);
            return None;
        };
        if !limits.hold(value) {
            self.out_of_range(field, &limits.words(""));
            return None;
        }
        Some(Given::written(value, field.span()))
    }

    /// One of the words the language has at this place.
    pub(super) fn word<T: Copy>(
        &mut self,
        field: Option<Field<'n>>,
        words: &[(&str, T)],
    ) -> Known<T> {
        let field = field?;
        let written = field.text.trim();
        if let Some(&(_, value)) = words.iter().find(|(word, _)| *word == written) {
            return Some(Given::written(value, field.span()));
        }
        let known: Vec<&str> = words.iter().map(|&(word, _)| word).collect();
        self.unknown_word(field, &known);
        None
    }

    /// A truth value with its place.
    pub(super) fn flag(field: super::fields::At<'n>, key: &str, flag: Option<Flag>) -> Known<bool> {
        flag.map(|flag| Given::written(flag.0, field.key(key).span()))
    }

    /// A free text with its place; an empty one counts as not given.
    pub(super) fn free_text(field: Option<Field<'n>>) -> Known<String> {
        let field = field.filter(|field| !field.text.trim().is_empty())?;
        Some(Given::written(field.text.to_owned(), field.span()))
    }

    /// A stud or screw size; one that the table does not list is kept, but told.
    pub(super) fn stud(&mut self, field: Option<Field<'n>>) -> Known<String> {
        let given = Self::free_text(field)?;
        if let (Some(field), Err(_)) = (field, given.value.parse::<StudSize>()) {
            let names: Vec<&str> = stud_sizes().iter().map(|stud| stud.name).collect();
            let mut told = Self::error(
                UNKNOWN_STUD,
                field,
                format!(
                    "{}: {} is no listed stud size, so no ring can be chosen for it",
                    field.title(),
                    quoted(field.text)
                ),
            )
            .label(field.span(), "not in the table of studs");
            told.severity = Severity::Warning;
            told.help = match nearest(field.text, names.iter().copied()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => "write for example `No. 10`, `5/16 in` or `M8`".to_owned(),
            };
            self.tell(told);
        }
        Some(given)
    }

    /// The form of a fuse.
    pub(super) fn fuse_form(&mut self, field: Option<Field<'n>>) -> Known<String> {
        let given = Self::free_text(field)?;
        if given.value.parse::<FuseForm>().is_ok() {
            return Some(given);
        }
        let names = FuseForm::ALL.map(FuseForm::name);
        self.unknown_word(field?, &names);
        None
    }

    pub(super) fn unknown_word(&mut self, field: Field<'n>, words: &[&str]) {
        let mut finding = Self::error(
            UNKNOWN_WORD,
            field,
            format!(
                "{} is {}, which is not one of its words",
                field.title(),
                quoted(field.text)
            ),
        )
        .label(field.span(), format!("expected {}", one_of(words)));
        finding.help = match nearest(field.text, words.iter().copied()) {
            Some(word) => format!("did you mean `{word}`?"),
            None => format!("write {}", one_of(words)),
        };
        self.tell(finding);
    }

    fn parsed<Q: Quantity>(&mut self, field: Field<'n>) -> Option<Q> {
        match parse_quantity::<Q>(field.text) {
            Ok(value) => Some(value),
            Err(QuantityError {
                range,
                message,
                suggestion,
            }) => {
                let finding = Self::error(
                    WRONG_QUANTITY,
                    field,
                    format!("{}: {}", field.title(), shortened(&message)),
                )
                .label(field.part(range), format!("expected {}", Q::EXPECTED))
                .repair(suggestion.unwrap_or_else(|| format!("write {}", Q::EXPECTED)));
                self.tell(finding);
                None
            }
        }
    }

    fn out_of_range(&mut self, field: Field<'n>, allowed: &str) {
        let fault: Fault = OUT_OF_RANGE;
        let finding = Self::error(
            fault,
            field,
            format!(
                "{} is {}; it can be {allowed}",
                field.title(),
                quoted(field.text)
            ),
        )
        .label(field.span(), "out of range")
        .repair(format!("write a value {allowed}, or leave the field out"));
        self.tell(finding);
    }
}

/// What a field that sizing may fill holds.
enum Wish<'n> {
    /// A value of its own.
    Written(Field<'n>),
    /// `auto` with a value behind it, which an earlier sizing chose and the file keeps.
    Settled(Field<'n>),
    /// `auto` alone.
    Open,
}

fn wish(field: Field<'_>) -> Wish<'_> {
    match after_auto(field.text) {
        None => Wish::Written(field),
        Some("") => Wish::Open,
        Some(text) => Wish::Settled(Field { text, ..field }),
    }
}

/// What stands behind the word `auto`; none where the text does not begin with it.
fn after_auto(text: &str) -> Option<&str> {
    let rest = text.trim().strip_prefix("auto")?;
    (rest.is_empty() || rest.starts_with(char::is_whitespace)).then(|| rest.trim())
}

/// Where a field asks for its value to be chosen.
pub(super) fn asked(field: Option<Field<'_>>) -> Option<Span> {
    let field = field?;
    after_auto(field.text).map(|_| field.span())
}

fn chosen<T>(given: Given<T>) -> Given<T> {
    Given {
        origin: Origin::Chosen,
        ..given
    }
}

fn one_of(words: &[&str]) -> String {
    listed(words.iter().copied()).replace(" and ", " or ")
}

/// A message that repeats the text of the file, cut where that is too long.
fn shortened(message: &str) -> String {
    const MAX_MESSAGE: usize = 200;
    match message.char_indices().nth(MAX_MESSAGE) {
        Some((end, _)) => format!("{}…", &message[..end]),
        None => message.to_owned(),
    }
}
