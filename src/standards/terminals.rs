//! Ends of conductors: studs, rings, crimps, strip lengths.

use super::citations::{
    self, ABYC_CRIMP_PULL, MILITARY_PULL, RING_TERMINALS, STRIP_LENGTHS, STUDS, UL_PULL,
};
use super::table::table;
use super::{Basis, Confidence};
use crate::units::{Gauge, Metres, Newtons};
use std::fmt;
use std::str::FromStr;
use std::sync::LazyLock;
use thiserror::Error;

table!(STUD_SIZES, "studs.csv", STUDS);
table!(RINGS, "ring_terminals.csv", RING_TERMINALS);
table!(BARRELS, "barrel_diameters.csv", citations::BARRELS);
table!(STRIP, "strip_lengths.csv", STRIP_LENGTHS);
table!(PULL, "crimp_pull.csv", ABYC_CRIMP_PULL);

/// A stud or screw size; a ring is named after the stud it is made for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StudSize {
    /// `No. 10`, `5/16 in` or `M8`.
    pub name: &'static str,
    /// Major diameter.
    pub diameter: Metres,
    /// The size of the other series that is sold in its place.
    pub sold_as_pair_of: &'static str,
    /// Where the diameter comes from.
    pub basis: Basis,
}

/// A text that is not a stud size.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("`{0}` is not a stud size; write for example `No. 10`, `5/16 in` or `M8`")]
pub struct ParseStudError(String);

impl FromStr for StudSize {
    type Err = ParseStudError;

    /// Reads `No. 10`, `#10`, `10-32`, `5/16 in`, `5/16"`, `5/16-18`, `M8`, `8 mm`.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let wanted = plain_stud(text);
        STUD_NAMES
            .iter()
            .position(|name| *name == wanted)
            .map(|index| STUD_ROWS[index])
            .ok_or_else(|| ParseStudError(text.to_owned()))
    }
}

impl fmt::Display for StudSize {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(self.name)
    }
}

/// Every stud size that is listed.
#[must_use]
pub fn stud_sizes() -> &'static [StudSize] {
    &STUD_ROWS
}

/// How a ring fits a stud.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RingFit {
    /// Made for this size.
    Matches,
    /// Passes, but its hole is larger than this stud asks for.
    Loose,
    /// Does not pass.
    TooSmall,
}

/// How a ring made for one size fits a stud of another.
///
/// M5, M8 and M10 studs are thicker than the inch sizes sold as their pair.
#[must_use]
pub fn ring_fit(ring: StudSize, stud: StudSize) -> RingFit {
    if ring.name == stud.name {
        RingFit::Matches
    } else if ring.diameter < stud.diameter {
        RingFit::TooSmall
    } else {
        RingFit::Loose
    }
}

/// The ring terminal for a conductor.
#[derive(Clone, Debug, PartialEq)]
pub struct RingTerminal {
    /// Insulation colour of the barrel, or `bare lug`.
    pub barrel: &'static str,
    /// Stud sizes it is commonly sold for, inch sizes first.
    pub studs: Vec<StudSize>,
    /// Where it comes from.
    pub basis: Basis,
}

/// The ring terminal for a conductor; a size that is not listed takes that of the next thicker.
#[must_use]
pub fn ring_terminal(gauge: Gauge) -> Option<&'static RingTerminal> {
    same_or_thicker(&RING_ROWS, gauge)
}

/// Outside diameter of the barrel that a conductor is crimped into; none where no ring or lug is listed.
#[must_use]
pub fn barrel_outside(gauge: Gauge) -> Option<(Metres, Basis)> {
    let barrel = ring_terminal(gauge)?.barrel;
    let area = gauge.area().0;
    BARREL_ROWS
        .iter()
        .find(|row| row.barrel == barrel && row.area.is_none_or(|holds| holds >= area - 1e-9))
        .map(|row| (row.outside, BARRELS.basis))
}

/// How to strip a conductor for a crimp.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strip {
    /// Insulation to take off; the sheet of the terminal comes first.
    pub length: Metres,
    /// Least gap between insulation and barrel, read in NASA-STD-8739.4.
    pub gap_min: Metres,
    /// Greatest gap between insulation and barrel.
    pub gap_max: Metres,
    /// Where the strip length comes from.
    pub basis: Basis,
}

/// Strip length of a conductor; a size that is not listed takes that of the next thicker.
#[must_use]
pub fn strip_length(gauge: Gauge) -> Option<Strip> {
    same_or_thicker(&STRIP_ROWS, gauge).copied()
}

/// Least axial pull on a crimp, held one minute, by three yardsticks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CrimpPull {
    /// ABYC E-11.
    pub practice: Option<(Newtons, Basis)>,
    /// UL 486A, commercial.
    pub commercial: Option<(Newtons, Basis)>,
    /// MIL-T-7928, military.
    pub military: Option<(Newtons, Basis)>,
}

/// Pull that the crimp of a conductor withstands.
///
/// The table is by AWG. A size that is not listed, and every metric size, takes the nearest AWG
/// size whose area is not larger; `None` below 24 AWG.
#[must_use]
pub fn crimp_pull(gauge: Gauge) -> Option<CrimpPull> {
    PULL_ROWS
        .iter()
        .rfind(|(size, _)| size.by_area(&gauge).is_le())
        .map(|&(_, pull)| pull)
}

/// The row of a size, or of the next thicker size of the same series.
fn same_or_thicker<T>(rows: &[(Gauge, T)], gauge: Gauge) -> Option<&T> {
    rows.iter()
        .filter(|(size, _)| size.is_awg() == gauge.is_awg())
        .find(|(size, _)| size.by_area(&gauge).is_ge())
        .map(|(_, row)| row)
}

/// A stud name without case, spaces, inch marks and thread pitch.
fn plain_stud(text: &str) -> String {
    let mut name: String = text
        .to_lowercase()
        .chars()
        .filter(|character| !character.is_whitespace() && !matches!(character, '.' | '"' | '″'))
        .collect();
    if let Some(number) = name.strip_prefix('#') {
        name = format!("no{number}");
    }
    for unit in ["inch", "in"] {
        if let Some(number) = name.strip_suffix(unit) {
            name = number.to_owned();
        }
    }
    if let Some(number) = name.strip_suffix("mm").filter(|_| !name.starts_with('m')) {
        return format!("m{number}");
    }
    let pitch = if name.starts_with('m') { 'x' } else { '-' };
    if let Some((size, threads)) = name.split_once(pitch) {
        let is_pitch = !threads.is_empty() && threads.bytes().all(|byte| byte.is_ascii_digit());
        if is_pitch || pitch == 'x' {
            let number_size = !size.contains('/') && size.bytes().all(|byte| byte.is_ascii_digit());
            name = if number_size {
                format!("no{size}")
            } else {
                size.to_owned()
            };
        }
    }
    name
}

static STUD_ROWS: LazyLock<Vec<StudSize>> = LazyLock::new(|| {
    STUD_SIZES
        .rows()
        .iter()
        .filter_map(|row| {
            Some(StudSize {
                name: row.text("stud"),
                diameter: row.quantity("diameter")?,
                sold_as_pair_of: row.text("sold_as_pair_of"),
                basis: row.basis(),
            })
        })
        .collect()
});
/// Plain names of the studs, in their order.
static STUD_NAMES: LazyLock<Vec<String>> =
    LazyLock::new(|| STUD_ROWS.iter().map(|stud| plain_stud(stud.name)).collect());
static RING_ROWS: LazyLock<Vec<(Gauge, RingTerminal)>> = LazyLock::new(|| {
    RINGS
        .rows()
        .iter()
        .map(|row| {
            let listed = [row.text("studs_inch"), row.text("studs_metric")];
            let studs = listed
                .iter()
                .flat_map(|list| list.split(';'))
                .filter_map(|name| name.parse().ok())
                .collect();
            (
                row.size("size"),
                RingTerminal {
                    barrel: row.text("barrel"),
                    studs,
                    basis: row.basis(),
                },
            )
        })
        .collect()
});
struct BarrelRow {
    barrel: &'static str,
    area: Option<f64>,
    outside: Metres,
}

static BARREL_ROWS: LazyLock<Vec<BarrelRow>> = LazyLock::new(|| {
    BARRELS
        .rows()
        .iter()
        .map(|row| BarrelRow {
            barrel: row.text("barrel"),
            area: row.number("area_mm2"),
            outside: Metres(row.value("outside_mm") / 1000.0),
        })
        .collect()
});
static STRIP_ROWS: LazyLock<Vec<(Gauge, Strip)>> = LazyLock::new(|| {
    STRIP
        .rows()
        .iter()
        .map(|row| {
            let millimetres = |column| Metres(row.value(column) / 1000.0);
            let strip = Strip {
                length: millimetres("strip_mm"),
                gap_min: millimetres("gap_min_mm"),
                gap_max: millimetres("gap_max_mm"),
                basis: row.basis(),
            };
            (row.size("size"), strip)
        })
        .collect()
});
static PULL_ROWS: LazyLock<Vec<(Gauge, CrimpPull)>> = LazyLock::new(|| {
    PULL.rows()
        .iter()
        .map(|row| {
            let pull = |column| row.number(column).map(Newtons::from_pounds_force);
            let obtained = Confidence::from_table(row.text("practice_obtained"));
            let basis = Basis {
                confidence: obtained.unwrap_or(PULL.basis.confidence),
                ..PULL.basis
            };
            let pulls = CrimpPull {
                practice: pull("practice_lbf").map(|force| (force, basis)),
                commercial: pull("commercial_lbf").map(|force| (force, UL_PULL)),
                military: pull("military_lbf").map(|force| (force, MILITARY_PULL)),
            };
            (row.awg("awg"), pulls)
        })
        .collect()
});

#[cfg(test)]
mod tests {
    use super::*;

    fn stud(text: &str) -> StudSize {
        text.parse().expect(text)
    }

    /// A barrel is thicker than the copper it takes, and a thicker wire never has a thinner lug.
    #[test]
    fn barrels_hold_their_copper() {
        let mm = |gauge| barrel_outside(gauge).map(|(outside, _)| outside.0 * 1000.0);
        assert_eq!(mm(Gauge::Awg(14)), Some(5.0));
        assert_eq!(mm(Gauge::Metric(35.0)), Some(12.5));
        // 2 AWG holds 33.6 mm².
        assert_eq!(mm(Gauge::Awg(2)), Some(12.5));
        let mut last = 0.0;
        for size in [16, 14, 12, 10, 8, 6, 4, 2, 1, 0, -1, -2, -3] {
            let outside = mm(Gauge::Awg(size)).expect("listed");
            let copper = (4.0 * Gauge::Awg(size).area().0 / std::f64::consts::PI).sqrt();
            assert!(outside > copper && outside >= last, "{size}");
            // A coloured barrel has its insulation on, a bare lug has not.
            last = if size > 8 { 0.0 } else { outside };
        }
    }

    #[test]
    fn studs_are_read_as_people_write_them() {
        for (text, name) in [
            ("No. 10", "No. 10"),
            ("#10", "No. 10"),
            ("no10", "No. 10"),
            ("10-32", "No. 10"),
            ("5/16", "5/16 in"),
            ("5/16\"", "5/16 in"),
            ("5/16 inch", "5/16 in"),
            ("5/16-18", "5/16 in"),
            ("M8", "M8"),
            ("m8x1.25", "M8"),
            ("8 mm", "M8"),
            ("M3.5", "M3.5"),
        ] {
            assert_eq!(stud(text).name, name, "{text}");
        }
        for text in ["10", "", "M7", "7/16", "-", "#", "mm", "in"] {
            assert!(text.parse::<StudSize>().is_err(), "{text}");
        }
        assert_eq!(stud_sizes().len(), STUD_SIZES.rows().len());
    }

    #[test]
    fn a_ring_for_the_inch_stud_may_not_pass_its_metric_pair() {
        // Unified number sizes: 0.060 in + 0.013 in × number.
        for (name, number) in [("No. 6", 6.0), ("No. 8", 8.0), ("No. 10", 10.0)] {
            let inches = stud(name).diameter.0 / 0.0254;
            assert!((inches - (0.060 + 0.013 * number)).abs() < 1e-9, "{name}");
        }
        assert_eq!(ring_fit(stud("5/16"), stud("M8")), RingFit::TooSmall);
        assert_eq!(ring_fit(stud("No. 10"), stud("M5")), RingFit::TooSmall);
        assert_eq!(ring_fit(stud("3/8"), stud("M10")), RingFit::TooSmall);
        assert_eq!(ring_fit(stud("1/4"), stud("M6")), RingFit::Loose);
        assert_eq!(ring_fit(stud("M8"), stud("5/16")), RingFit::Loose);
        assert_eq!(ring_fit(stud("M8"), stud("M8")), RingFit::Matches);
    }

    #[test]
    fn rings_and_strip_lengths_by_conductor() {
        assert_eq!(
            ring_terminal(Gauge::Awg(14)).map(|ring| ring.barrel),
            Some("blue")
        );
        assert_eq!(
            ring_terminal(Gauge::Metric(6.0)).map(|ring| ring.barrel),
            Some("yellow")
        );
        assert_eq!(
            ring_terminal(Gauge::Awg(5)).map(|ring| ring.barrel),
            Some("bare lug")
        );
        assert_eq!(ring_terminal(Gauge::Metric(300.0)), None);
        let rows = RINGS.rows();
        for (row, (_, ring)) in rows.iter().zip(RING_ROWS.iter()) {
            let names = [row.text("studs_inch"), row.text("studs_metric")].join(";");
            assert_eq!(ring.studs.len(), names.split(';').count(), "{names}");
        }
        let strip = strip_length(Gauge::Awg(16)).expect("listed");
        assert_eq!(strip.length, Metres(0.0065));
        assert!(strip.gap_min < strip.gap_max);
        for rows in [true, false] {
            let lengths: Vec<Metres> = STRIP_ROWS
                .iter()
                .filter(|(gauge, _)| gauge.is_awg() == rows)
                .map(|(_, strip)| strip.length)
                .collect();
            assert!(lengths.is_sorted(), "{lengths:?}");
        }
    }

    #[test]
    fn crimp_pull_rises_with_size() {
        let pull = crimp_pull(Gauge::Awg(16)).expect("listed");
        let pounds =
            |force: Option<(Newtons, Basis)>| force.map(|(force, _)| force.pounds_force().round());
        assert_eq!(pounds(pull.practice), Some(15.0));
        assert_eq!(pounds(pull.commercial), Some(30.0));
        assert_eq!(pounds(pull.military), Some(50.0));
        // 2.5 mm² is thicker than 14 AWG and thinner than 12 AWG.
        assert_eq!(crimp_pull(Gauge::Metric(2.5)), crimp_pull(Gauge::Awg(14)));
        let read: Vec<Gauge> = PULL_ROWS.iter().map(|(gauge, _)| *gauge).collect();
        assert!(read.is_sorted_by(|a, b| a.by_area(b).is_lt()), "{read:?}");
        let forces: Vec<Newtons> = PULL_ROWS
            .iter()
            .filter_map(|(_, pull)| Some(pull.practice?.0))
            .collect();
        assert!(forces.is_sorted());
        let conditions = PULL.head("conditions").unwrap_or_default();
        assert!(conditions.contains(UL_PULL.publication));
        assert!(conditions.contains(MILITARY_PULL.publication));
    }
}
