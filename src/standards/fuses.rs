//! Fuses and breakers as sold: forms, ratings, colours, opening times, resistance.
//!
//! Makers differ. A rating printed on the part comes first; these figures stand in for it or test it.

use super::Basis;
use super::citations::{BLADE_RATINGS, FUSE_FORMS, FUSE_RESISTANCE, FUSE_TIMES, TRADE_LISTS};
use super::table::{Row, Shipped, table};
use crate::units::{Amps, Ohms, Seconds, Volts};
use std::str::FromStr;
use std::sync::LazyLock;
use thiserror::Error;

table!(FORMS, "fuse_forms.csv", FUSE_FORMS);
table!(BLADES, "blade_ratings.csv", BLADE_RATINGS);
table!(SERIES, "rating_series.csv", TRADE_LISTS);
table!(TIMES, "fuse_time_current.csv", FUSE_TIMES);
table!(RESISTANCE, "fuse_resistance.csv", FUSE_RESISTANCE);

/// The form of a fuse.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum FuseForm {
    /// Small blade.
    BladeMini,
    /// Common blade.
    BladeRegular,
    /// Large blade.
    BladeMaxi,
    /// Glass cartridge, 6.3 × 32 mm.
    GlassCartridge,
    /// Bolt-down strip, ISO 8820-5 SF30.
    BoltDownSmall,
    /// Bolt-down strip, ISO 8820-5 SF51.
    BoltDownLarge,
    /// Bolted-tab current limiter.
    TabLimiter,
    /// Block fuse that sits on a battery terminal or stud.
    TerminalBlock,
    /// Class T of UL 248-15.
    ClassT,
}

/// A text that is not the form of a fuse.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("`{0}` is not a fuse form; write one of {list}", list = FuseForm::names())]
pub struct ParseFuseFormError(String);

impl FuseForm {
    /// Every form, weakest first.
    pub const ALL: [Self; 9] = [
        Self::BladeMini,
        Self::BladeRegular,
        Self::BladeMaxi,
        Self::GlassCartridge,
        Self::BoltDownSmall,
        Self::BoltDownLarge,
        Self::TabLimiter,
        Self::TerminalBlock,
        Self::ClassT,
    ];

    /// The name written in a file and on paper.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::BladeMini => "blade mini",
            Self::BladeRegular => "blade regular",
            Self::BladeMaxi => "blade maxi",
            Self::GlassCartridge => "glass cartridge",
            Self::BoltDownSmall => "bolt-down strip small",
            Self::BoltDownLarge => "bolt-down strip large",
            Self::TabLimiter => "bolted-tab limiter",
            Self::TerminalBlock => "terminal block fuse",
            Self::ClassT => "class T",
        }
    }

    /// All names, for messages.
    #[must_use]
    pub fn names() -> String {
        Self::ALL
            .map(|form| format!("`{}`", form.name()))
            .join(", ")
    }

    fn of(row: &Row) -> Option<Self> {
        let name = row.text("form");
        Self::ALL.into_iter().find(|form| form.name() == name)
    }
}

impl FromStr for FuseForm {
    type Err = ParseFuseFormError;

    /// Reads a name, whatever its case and whether words are joined by spaces or hyphens.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let plain = |name: &str| name.trim().to_lowercase().replace(['-', '_'], " ");
        Self::ALL
            .into_iter()
            .find(|form| plain(form.name()) == plain(text))
            .ok_or_else(|| ParseFuseFormError(text.to_owned()))
    }
}

/// Sanity limits of a fuse form.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FormLimits {
    /// Highest voltage that the form is rated for.
    pub max_voltage: Volts,
    /// Smallest rating made.
    pub min_rating: Amps,
    /// Largest rating made.
    pub max_rating: Amps,
    /// Where the limits come from.
    pub basis: Basis,
}

/// Voltage and range of ratings of a fuse form.
#[must_use]
pub fn form_limits(form: FuseForm) -> FormLimits {
    FORM_ROWS
        .iter()
        .filter(|row| row.form == form)
        .max_by(|a, b| a.limits.max_voltage.total_cmp(&b.limits.max_voltage))
        .map(|row| row.limits)
        .shipped()
}

/// Interrupting rating of a fuse form at a voltage; `None` above its rated voltage.
#[must_use]
pub fn form_interrupting(form: FuseForm, voltage: Volts) -> Option<(Amps, Basis)> {
    FORM_ROWS
        .iter()
        .filter(|row| row.form == form && row.limits.max_voltage >= voltage)
        .min_by(|a, b| a.limits.max_voltage.total_cmp(&b.limits.max_voltage))
        .map(|row| (row.interrupting, row.limits.basis))
}

/// Rated currents of a fuse form as sold, smallest first.
#[must_use]
pub fn fuse_ratings(form: FuseForm) -> (&'static [Amps], Basis) {
    RATINGS
        .iter()
        .find(|(of, _, _)| *of == Some(form))
        .map(|(_, ratings, basis)| (ratings.as_slice(), *basis))
        .shipped()
}

/// Rated currents of breakers as sold, smallest first.
#[must_use]
pub fn breaker_ratings() -> (&'static [Amps], Basis) {
    RATINGS
        .iter()
        .find(|(of, _, _)| of.is_none())
        .map(|(_, ratings, basis)| (ratings.as_slice(), *basis))
        .shipped()
}

/// The smallest of ascending ratings that is not below a current.
#[must_use]
pub fn rating_from(ratings: &[Amps], least: Amps) -> Option<Amps> {
    ratings.iter().copied().find(|&rating| rating >= least)
}

/// The largest of ascending ratings that is not above a current.
#[must_use]
pub fn rating_within(ratings: &[Amps], most: Amps) -> Option<Amps> {
    ratings.iter().rev().copied().find(|&rating| rating <= most)
}

/// Housing colour of a blade fuse; the same colour means other amperes in another body.
#[must_use]
pub fn blade_colour(form: FuseForm, rating: Amps) -> Option<(&'static str, Basis)> {
    COLOURS
        .iter()
        .find(|(of, amps, _, _)| *of == form && *amps == rating)
        .map(|&(_, _, colour, basis)| (colour, basis))
}

/// One acceptance point of opening time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OpeningPoint {
    /// Current in percent of the rating.
    pub percent: f64,
    /// It does not open sooner.
    pub min: Option<Seconds>,
    /// It has opened by then; `None` where it may carry on.
    pub max: Option<Seconds>,
    /// Where the point comes from.
    pub basis: Basis,
}

/// The acceptance points of a form, smallest current first; empty where none was found.
#[must_use]
pub fn opening_points(form: FuseForm) -> &'static [OpeningPoint] {
    POINTS
        .iter()
        .find(|(of, _)| *of == form)
        .map_or(&[], |(_, points)| points)
}

/// Time within which a fuse has opened at a current in percent of its rating.
///
/// From the nearest point at or below that current, as a larger current opens sooner; never interpolated.
#[must_use]
pub fn opened_within(form: FuseForm, percent: f64) -> Option<(Seconds, Basis)> {
    opening_points(form)
        .iter()
        .rev()
        .filter(|point| point.percent <= percent)
        .find_map(|point| Some((point.max?, point.basis)))
}

/// Time before which a fuse does not open at a current in percent of its rating.
///
/// From the nearest point at or above that current; `None` beyond the last point.
#[must_use]
pub fn holds_for(form: FuseForm, percent: f64) -> Option<(Seconds, Basis)> {
    opening_points(form)
        .iter()
        .filter(|point| point.percent >= percent)
        .find_map(|point| Some((point.min?, point.basis)))
}

/// Typical electrical figures of a blade fuse.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FuseFigures {
    /// Resistance cold; at rated current 1.3 to 1.4 times as much.
    pub cold: Ohms,
    /// Voltage lost at rated current.
    pub drop_at_rated: Option<Volts>,
    /// Melting energy in A²s.
    pub melting_a2s: Option<f64>,
    /// Where the figures come from.
    pub basis: Basis,
}

/// Typical figures of a fuse; `None` where this form and rating is not listed.
#[must_use]
pub fn fuse_figures(form: FuseForm, rating: Amps) -> Option<FuseFigures> {
    FIGURES
        .iter()
        .find(|(of, amps, _)| *of == form && *amps == rating)
        .map(|(_, _, figures)| *figures)
}

struct FormRow {
    form: FuseForm,
    limits: FormLimits,
    interrupting: Amps,
}

static FORM_ROWS: LazyLock<Vec<FormRow>> = LazyLock::new(|| {
    FORMS
        .rows()
        .iter()
        .filter_map(|row| {
            Some(FormRow {
                form: FuseForm::of(row)?,
                limits: FormLimits {
                    max_voltage: Volts(row.value("rated_v")),
                    min_rating: Amps(row.value("min_a")),
                    max_rating: Amps(row.value("max_a")),
                    basis: row.basis(),
                },
                interrupting: Amps(row.value("interrupting_a")),
            })
        })
        .collect()
});

type Ratings = (Option<FuseForm>, Vec<Amps>, Basis);

/// Ratings by form, breakers under `None`.
static RATINGS: LazyLock<Vec<Ratings>> = LazyLock::new(|| {
    let mut all: Vec<Ratings> = Vec::new();
    for (rows, basis) in [(BLADES.rows(), BLADES.basis), (SERIES.rows(), SERIES.basis)] {
        for row in &rows {
            let (form, amps) = (FuseForm::of(row), Amps(row.value("amps")));
            match all.iter_mut().find(|(of, _, _)| *of == form) {
                Some((_, ratings, _)) => ratings.push(amps),
                None => all.push((form, vec![amps], basis)),
            }
        }
    }
    all
});

static COLOURS: LazyLock<Vec<(FuseForm, Amps, &'static str, Basis)>> = LazyLock::new(|| {
    BLADES
        .rows()
        .iter()
        .filter_map(|row| {
            let amps = Amps(row.value("amps"));
            Some((FuseForm::of(row)?, amps, row.text("colour"), row.basis()))
        })
        .collect()
});

static POINTS: LazyLock<Vec<(FuseForm, Vec<OpeningPoint>)>> = LazyLock::new(|| {
    let rows = TIMES.rows();
    FuseForm::ALL
        .into_iter()
        .map(|form| {
            let points = rows
                .iter()
                .filter(|row| FuseForm::of(row) == Some(form))
                .map(|row| OpeningPoint {
                    percent: row.value("percent"),
                    min: row.number("min_s").map(Seconds),
                    max: row.number("max_s").map(Seconds),
                    basis: Basis {
                        publication: row.text("standard"),
                        ..row.basis()
                    },
                })
                .collect();
            (form, points)
        })
        .collect()
});

static FIGURES: LazyLock<Vec<(FuseForm, Amps, FuseFigures)>> = LazyLock::new(|| {
    RESISTANCE
        .rows()
        .iter()
        .filter_map(|row| {
            let figures = FuseFigures {
                cold: Ohms(row.value("cold_mohm") / 1000.0),
                drop_at_rated: row
                    .number("drop_at_rated_mv")
                    .map(|drop| Volts(drop / 1000.0)),
                melting_a2s: row.number("melting_a2s"),
                basis: row.basis(),
            };
            Some((FuseForm::of(row)?, Amps(row.value("amps")), figures))
        })
        .collect()
});

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::Confidence;

    #[test]
    fn every_form_has_limits_and_ascending_ratings_within_them() {
        for form in FuseForm::ALL {
            let limits = form_limits(form);
            let (ratings, _) = fuse_ratings(form);
            assert!(ratings.is_sorted_by(|a, b| a < b), "{form:?}");
            assert!(
                ratings.iter().all(|&amps| amps >= limits.min_rating),
                "{form:?}"
            );
            assert!(
                ratings.iter().all(|&amps| amps <= limits.max_rating),
                "{form:?}"
            );
            assert!(form_interrupting(form, limits.max_voltage).is_some());
            assert_eq!(
                form_interrupting(form, limits.max_voltage + Volts(0.1)),
                None
            );
            assert_eq!(form.name().parse(), Ok(form));
        }
        assert!(breaker_ratings().0.is_sorted_by(|a, b| a < b));
        let rows = FORMS.rows().len() + BLADES.rows().len() + RESISTANCE.rows().len();
        assert_eq!(
            rows,
            FORM_ROWS.len() + COLOURS.len() + FIGURES.len(),
            "a form is unknown"
        );
        let points: usize = POINTS.iter().map(|(_, points)| points.len()).sum();
        assert_eq!(points, TIMES.rows().len(), "a form is unknown");
    }

    #[test]
    fn forms_are_read_with_spaces_or_hyphens() {
        assert_eq!("Bolt-Down-Strip-Large".parse(), Ok(FuseForm::BoltDownLarge));
        assert_eq!("class t".parse(), Ok(FuseForm::ClassT));
        let error = "blade".parse::<FuseForm>().expect_err("too short");
        assert!(error.to_string().contains("`blade regular`"));
    }

    #[test]
    fn a_block_fuse_interrupts_less_at_a_higher_voltage() {
        let at = |volts| {
            form_interrupting(FuseForm::TerminalBlock, Volts(volts)).map(|(rating, _)| rating.0)
        };
        assert_eq!(at(12.0), Some(10_000.0));
        assert_eq!(at(14.6), Some(5000.0));
        assert_eq!(at(43.8), Some(2000.0));
        assert_eq!(at(58.4), None);
    }

    #[test]
    fn choosing_a_rating() {
        let (ratings, _) = fuse_ratings(FuseForm::BladeRegular);
        assert_eq!(rating_from(ratings, Amps(8.75)), Some(Amps(10.0)));
        assert_eq!(rating_from(ratings, Amps(40.1)), None);
        assert_eq!(rating_within(ratings, Amps(14.9)), Some(Amps(10.0)));
        assert_eq!(rating_within(ratings, Amps(0.5)), None);
    }

    #[test]
    fn opening_times_come_from_the_cautious_side() {
        let form = FuseForm::BladeRegular;
        assert_eq!(opened_within(form, 110.0), None);
        assert_eq!(
            opened_within(form, 250.0).map(|(time, _)| time),
            Some(Seconds(5.0))
        );
        assert_eq!(
            opened_within(form, 900.0).map(|(time, _)| time),
            Some(Seconds(0.5))
        );
        assert_eq!(
            holds_for(form, 250.0).map(|(time, _)| time),
            Some(Seconds(0.04))
        );
        assert_eq!(holds_for(form, 400.0), None);
        assert_eq!(opened_within(FuseForm::ClassT, 900.0), None);
        for form in FuseForm::ALL {
            let points = opening_points(form);
            assert!(points.is_sorted_by(|a, b| a.percent < b.percent));
            let worst: Vec<Seconds> = points.iter().filter_map(|point| point.max).collect();
            assert!(worst.is_sorted_by(|a, b| a >= b), "{form:?}");
            let soonest: Vec<Seconds> = points.iter().filter_map(|point| point.min).collect();
            assert!(soonest.is_sorted_by(|a, b| a >= b), "{form:?}");
        }
    }

    #[test]
    fn colours_and_resistance() {
        assert_eq!(
            blade_colour(FuseForm::BladeRegular, Amps(10.0)).map(|c| c.0),
            Some("red")
        );
        assert_eq!(
            blade_colour(FuseForm::BladeMaxi, Amps(50.0)).map(|c| c.0),
            Some("red")
        );
        assert_eq!(blade_colour(FuseForm::ClassT, Amps(50.0)), None);
        let figures = fuse_figures(FuseForm::BladeRegular, Amps(10.0)).expect("listed");
        assert_eq!(figures.cold, Ohms(0.0077));
        assert_eq!(figures.basis.confidence, Confidence::Memory);
        // Voltage drop at rated current is 1.3 to 1.4 times the cold one, for every row that has both.
        for (_, amps, figures) in FIGURES.iter() {
            if let Some(drop) = figures.drop_at_rated {
                let ratio = drop / (*amps * figures.cold);
                assert!((1.3..1.5).contains(&ratio), "{amps:?}: {ratio}");
            }
        }
    }
}
