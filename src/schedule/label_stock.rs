//! What each label is printed on, and how its text is fitted there: never over its edge, shortened as told, or refused.
//!
//! A wire takes the first stock of the file that fits it; without any, plain paper to be cut for clear sleeve.

use super::labels::{Shortener, TO};
use crate::font;
use crate::standards::{barrel_outside, constants};
use crate::system::{LabelKind, LabelPage, LabelStock, Paper, System};
use crate::units::{Gauge, Metres, decimal, round_down_to};
use datamatrix::{DataMatrix, SymbolList};
use std::f64::consts::PI;

/// Largest type of a label, in mm.
const LARGEST_MM: f64 = 3.5;

/// Smallest type of a label, in mm: what drawings never go below.
const SMALLEST_MM: f64 = 1.8;

/// How much larger than the other lines a wire number is, where the label is high enough.
const EMPHASIS: f64 = 1.4;

/// Height of a line over the size of its type.
pub const LINE: f64 = 1.2;

/// Free edge on every side of the text, in mm.
pub const EDGE_MM: f64 = 0.8;

/// Characters of lines 2 and 3, tried from the most down.
const SHORTER: [usize; 4] = [16, 14, 12, 10];

/// Characters of a wire number that is still given a code.
const MOST_CODED: usize = 60;

/// A label as it is printed.
#[derive(Clone, Debug, PartialEq)]
pub struct Printing {
    /// Place in the stock.
    pub stock: usize,
    /// Its lines, shortened, or empty where they are left out: number, function, far end.
    pub lines: [String; 3],
    /// Size of the wire number in mm.
    pub number_mm: f64,
    /// Size of the other lines in mm.
    pub size_mm: f64,
    /// Code of the wire number: its squares, row by row.
    pub code: Option<Code>,
    /// Printed height that one turn round the wire leaves in sight; that of the stock where nothing is wrapped.
    pub height_mm: f64,
    /// Printed width of one face.
    pub width_mm: f64,
}

impl Printing {
    /// The lines that are printed, with the size of each in mm.
    pub fn sized(&self) -> impl Iterator<Item = (&str, f64)> {
        let sizes = [self.number_mm, self.size_mm, self.size_mm];
        let lines = self.lines.iter().map(String::as_str).zip(sizes);
        lines.filter(|(line, _)| !line.is_empty())
    }
}

/// A Data Matrix symbol.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Code {
    /// Squares on one side.
    pub side: usize,
    /// Dark squares, row by row.
    pub dark: Vec<bool>,
}

/// The label stock of a boat: that of the file, else plain paper.
#[must_use]
pub fn label_stocks(system: &System) -> Vec<LabelStock> {
    if system.label_stock.is_empty() {
        vec![plain_paper(system.boat.paper)]
    } else {
        system.label_stock.clone()
    }
}

/// Designation of the stock that stands in where the file gives none.
const PLAIN: &str = "plain paper";

/// Plain paper to be cut: labels of 45 by 10 mm.
fn plain_paper(paper: Paper) -> LabelStock {
    let mm = |value: f64| Metres(value / 1000.0);
    let (width, height, rows) = match paper {
        Paper::A4 => (210.0, 297.0, 21),
        Paper::Letter => (215.9, 279.4, 19),
    };
    LabelStock {
        name: PLAIN.to_owned(),
        span: crate::source::Span::default(),
        kind: LabelKind::Strip,
        page: Some(LabelPage {
            width: mm(width),
            height: mm(height),
            left: mm(12.0),
            top: mm(24.0),
            across: mm(47.0),
            down: mm(12.0),
            columns: 4,
            rows,
        }),
        width: mm(45.0),
        height: mm(10.0),
        printed: mm(10.0),
        bores: None,
        module: None,
    }
}

/// Fits labels on the stock of a boat.
pub(super) struct Printer {
    stocks: Vec<LabelStock>,
    /// One for all labels, so that no two different texts read alike.
    short: Shortener,
}

impl Printer {
    pub(super) fn new(system: &System) -> Self {
        Self {
            stocks: label_stocks(system),
            short: Shortener::new(constants::label_line_length().0),
        }
    }

    /// The lines as they are where there is room: the number, and two lines of the bench's length.
    pub(super) fn usual(&mut self, whole: &[String; 3]) -> [String; 3] {
        [
            whole[0].clone(),
            self.short.fit("", &whole[1]),
            self.short.fit(TO, &whole[2]),
        ]
    }

    /// The first stock that fits the wire and holds the label.
    ///
    /// # Errors
    /// Why no stock will do, in words.
    pub(super) fn print(
        &mut self,
        lines: &[String; 3],
        whole: &[String; 3],
        outside: Option<Metres>,
    ) -> Result<Printing, String> {
        let mut why = String::new();
        for index in 0..self.stocks.len() {
            match self.on(index, lines, whole, outside) {
                Ok(printing) => return Ok(printing),
                // The first stock is the one that the user would rather have.
                Err(reason) if why.is_empty() => why = reason,
                Err(_) => {}
            }
        }
        Err(why)
    }

    fn on(
        &mut self,
        index: usize,
        lines: &[String; 3],
        whole: &[String; 3],
        outside: Option<Metres>,
    ) -> Result<Printing, String> {
        let stock = &self.stocks[index];
        let (width_mm, height_mm) = face(stock, outside)?;
        let code = stock
            .module
            .map(|module| (code(&lines[0]), module.0 * 1000.0));
        let (code, taken) = match code {
            Some((Some(code), module)) => {
                // A quiet zone of one square on every side: ISO/IEC 16022 (from memory).
                let edge = (code.side + 2) as f64 * module;
                if edge > height_mm || edge > width_mm / 2.0 {
                    (None, 0.0)
                } else {
                    (Some(code), edge)
                }
            }
            _ => (None, 0.0),
        };
        let name = stock.name.clone();
        let room = Room {
            width: width_mm - taken - 2.0 * EDGE_MM,
            height: height_mm - 2.0 * EDGE_MM,
        };
        let (lines, number_mm, size_mm) = self
            .lines(lines, whole, room)
            .ok_or_else(|| format!("{} does not fit on {name}", lines[0]))?;
        Ok(Printing {
            stock: index,
            lines,
            number_mm,
            size_mm,
            code,
            height_mm,
            width_mm,
        })
    }

    /// The lines that fit, and their sizes: all three, then shortened, then without the function, then the number alone.
    fn lines(
        &mut self,
        lines: &[String; 3],
        whole: &[String; 3],
        room: Room,
    ) -> Option<([String; 3], f64, f64)> {
        let sized = |lines: [String; 3]| {
            let (number, rest) = room.sizes(&lines)?;
            Some((lines, number, rest))
        };
        if let Some(found) = sized(lines.clone()) {
            return Some(found);
        }
        let mut shorter = Vec::with_capacity(SHORTER.len());
        for most in SHORTER {
            let lines = [
                whole[0].clone(),
                self.short.fit_within("", &whole[1], most),
                self.short.fit_within(TO, &whole[2], most),
            ];
            if let Some(found) = sized(lines.clone()) {
                return Some(found);
            }
            shorter.push(lines);
        }
        let no_function = |[number, _, to]: [String; 3]| sized([number, String::new(), to]);
        shorter
            .into_iter()
            .find_map(no_function)
            .or_else(|| sized([whole[0].clone(), String::new(), String::new()]))
    }
}

/// Width and height that text may take on one face of a label, in mm.
///
/// # Errors
/// Why the stock does not fit the wire, in words.
fn face(stock: &LabelStock, outside: Option<Metres>) -> Result<(f64, f64), String> {
    let mm = |length: Metres| length.0 * 1000.0;
    let (width, height) = (mm(stock.width), mm(stock.height));
    if stock.kind == LabelKind::Strip {
        return Ok((width, height));
    }
    let Some(outside) = outside.map(mm) else {
        return Err("wire size not given".to_owned());
    };
    let wire = format!("a wire of {} mm", decimal(outside, 1));
    let turn = PI * outside;
    match (stock.kind, stock.bores) {
        (LabelKind::Wrap, _) => {
            // The tail goes once round: it ends the turn that the printed part begins, and then covers the print.
            let tail = mm(stock.tail());
            if tail < turn {
                return Err(format!(
                    "the tail of {}, {} mm, does not go round {wire}",
                    stock.name,
                    decimal(tail, 1)
                ));
            }
            Ok((width, mm(stock.printed).min(turn)))
        }
        (LabelKind::Flag, _) => {
            let half = (width - turn) / 2.0;
            if half <= 0.0 {
                return Err(format!("{} does not go round {wire}", stock.name));
            }
            Ok((half, height))
        }
        (_, Some((supplied, recovered))) => {
            let (passes, grips) = (
                constants::sleeve_bore_margin().0,
                constants::sleeve_grip_margin().0,
            );
            if mm(supplied) < outside * passes {
                return Err(format!("{} does not pass {wire}", stock.name));
            }
            if mm(recovered) > outside * grips {
                return Err(format!("{} does not grip {wire}", stock.name));
            }
            // A flat sleeve shows half of its circumference.
            Ok((width, height.min(PI * mm(supplied) / 2.0)))
        }
        _ => Ok((width, height)),
    }
}

/// Room for text, in mm.
#[derive(Clone, Copy)]
struct Room {
    width: f64,
    height: f64,
}

impl Room {
    /// The largest type of the wire number and of the other lines that all fit in; none below the smallest.
    ///
    /// The number is what the eye looks for, so it takes what height the other lines leave.
    fn sizes(self, lines: &[String; 3]) -> Option<(f64, f64)> {
        let by_width = |line: &String| self.width / font::width(line, 1.0).max(1e-9);
        let rest: Vec<&String> = lines[1..].iter().filter(|line| !line.is_empty()).collect();
        let count = rest.len() as f64;
        let by_height = self.height / LINE;
        let by_widest = rest
            .iter()
            .map(|line| by_width(line))
            .fold(LARGEST_MM, f64::min);
        let emphatic = by_widest.min(by_height / (count + EMPHASIS));
        let small = if emphatic >= SMALLEST_MM {
            emphatic
        } else {
            by_widest.min(by_height / (count + 1.0))
        };
        // Rounded down to hundredths, as it is drawn.
        let small = round_down_to(small, 0.01);
        let number = by_width(&lines[0])
            .min(LARGEST_MM)
            .min(by_height - count * small);
        let number = round_down_to(number, 0.01);
        let small = if rest.is_empty() { number } else { small };
        (small.min(number) >= SMALLEST_MM - 1e-9).then_some((number, small))
    }
}

/// The code of a wire number; none for a number that a code cannot hold in plain ASCII.
fn code(number: &str) -> Option<Code> {
    let plain = number
        .bytes()
        .all(|byte| byte.is_ascii_graphic() || byte == b' ');
    if number.is_empty() || !plain || number.len() > MOST_CODED {
        return None;
    }
    let squares = SymbolList::default().enforce_square();
    let symbol = DataMatrix::encode(number.as_bytes(), squares).ok()?;
    let bitmap = symbol.bitmap();
    Some(Code {
        side: bitmap.width(),
        dark: bitmap.bits().to_vec(),
    })
}

/// Whether a sleeve passes over the terminal of a wire, and so may be fitted after it; none where a size is not known.
pub(super) fn passes_barrel(bore: Option<Metres>, gauge: Option<Gauge>) -> Option<bool> {
    Some(bore? > barrel_outside(gauge?)?.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::Span;

    fn stock(kind: LabelKind, size: (f64, f64), printed: f64) -> LabelStock {
        LabelStock {
            name: "labels".to_owned(),
            span: Span::default(),
            kind,
            page: None,
            width: Metres(size.0 / 1000.0),
            height: Metres(size.1 / 1000.0),
            printed: Metres(printed / 1000.0),
            bores: None,
            module: None,
        }
    }

    #[allow(clippy::unnecessary_wraps)] // the diameter of a wire may be unknown
    fn on(mm: f64) -> Option<Metres> {
        Some(Metres(mm / 1000.0))
    }

    /// Worked by hand: a tail of 19 mm goes round 19/π = 6.05 mm, and of a printed part of 12 mm one turn round a wire of
    /// 3 mm leaves 9.42 mm in sight.
    #[test]
    fn a_tail_goes_once_round_the_wire() {
        let wrap = stock(LabelKind::Wrap, (25.0, 31.0), 12.0);
        let (width, height) = face(&wrap, on(3.0)).expect("it goes round");
        assert!((width - 25.0).abs() < 1e-9 && (height - 9.4248).abs() < 1e-3);
        assert!((face(&wrap, on(5.0)).expect("it goes round").1 - 12.0).abs() < 1e-9);
        assert!(face(&wrap, on(6.04)).is_ok());
        assert!(face(&wrap, on(6.06)).is_err());
        assert!(face(&wrap, None).is_err());
    }

    /// Bench practice: bore as supplied 1.2 times the wire, as recovered below it by a tenth.
    #[test]
    fn a_sleeve_passes_and_grips() {
        let mut sleeve = stock(LabelKind::Sleeve, (38.0, 9.0), 9.0);
        sleeve.bores = Some((Metres(0.0064), Metres(0.0021)));
        assert!(face(&sleeve, on(5.3)).is_ok());
        assert!(face(&sleeve, on(5.4)).is_err());
        assert!(face(&sleeve, on(2.4)).is_ok());
        assert!(face(&sleeve, on(2.3)).is_err());
        assert_eq!(passes_barrel(on(6.4), Some(Gauge::Awg(14))), Some(true));
        assert_eq!(passes_barrel(on(6.4), Some(Gauge::Awg(12))), Some(false));
    }

    #[test]
    fn a_flag_leaves_half_of_what_the_wire_does_not_take() {
        let flag = stock(LabelKind::Flag, (60.0, 12.0), 12.0);
        let (width, _) = face(&flag, on(5.0)).expect("it goes round");
        assert!((width - (60.0 - PI * 5.0) / 2.0).abs() < 1e-9);
        assert!(face(&flag, on(20.0)).is_err());
    }

    #[test]
    fn text_is_shortened_and_then_refused() {
        let mut printer = Printer {
            stocks: vec![stock(LabelKind::Strip, (25.0, 8.0), 8.0)],
            short: Shortener::new(18),
        };
        let lines = |lines: [&str; 3]| lines.map(str::to_owned);
        let long = lines(["P11-B", "WINDLASS CONTACTOR", "TO: WINDLASS.COIL"]);
        let printing = printer.print(&long, &long, None).expect("it is shortened");
        assert_eq!(printing.lines[0], "P11-B");
        let mut tall = 0.0;
        for (line, size) in printing.sized() {
            assert!(font::width(line, size) <= 25.0 - 2.0 * EDGE_MM + 1e-9);
            assert!(size >= SMALLEST_MM);
            tall += LINE * size;
        }
        assert!(tall <= 8.0 - 2.0 * EDGE_MM + 1e-9);
        let number = "A-WIRE-NUMBER-OF-MANY-LETTERS";
        let refused = printer.print(&lines([number, "", ""]), &lines([number, "", ""]), None);
        assert!(refused.is_err());
    }

    /// ISO/IEC 16022 (from memory): a square of 10 by 10 holds 6 digits or 3 letters, one of 12 by 12 holds 5 code words.
    #[test]
    fn codes_say_the_wire_number() {
        for (number, side) in [("123456", 10), ("P1A", 10), ("P11-B", 12)] {
            let code = code(number).expect("it is plain");
            assert_eq!(code.side, side, "{number}");
            let read = DataMatrix::decode(&code.dark, code.side).expect("it is a code");
            assert_eq!(read, number.as_bytes());
        }
        assert!(code("Größe").is_none());
        assert!(code("").is_none());
    }
}
