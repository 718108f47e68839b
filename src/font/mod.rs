//! The one font of the papers, and how wide a text is in it; beside `units` at the top of the house.
//!
//! Layout never asks the machine for a font: the same netlist is laid out alike everywhere.
//! The font is a subset of Noto Sans under the SIL Open Font License, whose text lies beside it.

mod advances;

/// The name of the font as the SVG refers to it.
pub const FAMILY: &str = "Noto Sans";

/// The font file, to be embedded so that no text is cut on a machine without the font.
pub const FILE: &[u8] = include_bytes!("NotoSans-subset.ttf");

const UNITS_PER_EM: f64 = 2048.0;

/// Width of one character in em that a reader without our font may get instead; a monospaced face has it.
const PLAIN_WIDTH_EM: f64 = 0.6;

/// Advances of the ASCII characters in em; the first range begins with the space and has all that are printed.
const ASCII_EM: [f64; 128] = {
    let mut advances = [PLAIN_WIDTH_EM; 128];
    let (first, widths) = advances::RANGES[0];
    let mut at = first as usize;
    while at < advances.len() && at - (first as usize) < widths.len() {
        advances[at] = widths[at - first as usize] as f64 / UNITS_PER_EM;
        at += 1;
    }
    advances
};

/// Advance of one character in em; of the missing-glyph box where the font lacks it.
#[must_use]
pub fn advance_em(character: char) -> f64 {
    // Nearly all text is ASCII.
    if let Some(&advance) = ASCII_EM.get(character as usize) {
        return advance;
    }
    let at = advances::RANGES.partition_point(|&(first, _)| first <= character);
    let advance = at
        .checked_sub(1)
        .and_then(|index| advances::RANGES.get(index))
        .and_then(|&(first, widths)| {
            let offset = u32::from(character) - u32::from(first);
            widths.get(offset as usize)
        });
    advance.map_or(PLAIN_WIDTH_EM, |&units| f64::from(units) / UNITS_PER_EM)
}

/// Width in mm that a text is given at a font size in mm.
///
/// The larger of its width in the shipped font and 0.6 em a character, so that it also fits in another face.
#[must_use]
pub fn width(text: &str, size_mm: f64) -> f64 {
    let mut extent = Extent::default();
    extent.push_str(text);
    extent.width(size_mm)
}

/// Width of a text that grows, without measuring again what was there before.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Extent {
    /// In the shipped font, in em.
    shipped: f64,
    /// At 0.6 em a character, in em.
    plain: f64,
}

impl Extent {
    /// Adds a character.
    pub fn push(&mut self, character: char) {
        self.shipped += advance_em(character);
        self.plain += PLAIN_WIDTH_EM;
    }

    /// Adds a text.
    pub fn push_str(&mut self, text: &str) {
        for character in text.chars() {
            self.push(character);
        }
    }

    /// The same with a text added.
    #[must_use]
    pub fn with(mut self, text: &str) -> Self {
        self.push_str(text);
        self
    }

    /// Width in mm at a font size in mm, as [`width`] gives it.
    #[must_use]
    pub fn width(self, size_mm: f64) -> f64 {
        self.shipped.max(self.plain) * size_mm
    }

    /// Width in mm at a font size in mm, as [`set_width`] gives it.
    #[must_use]
    pub fn set_width(self, size_mm: f64) -> f64 {
        self.shipped * size_mm
    }
}

/// Width in mm of a text set in the shipped font, as the PDF sets it: no kerning, no ligatures.
#[must_use]
pub fn set_width(text: &str, size_mm: f64) -> f64 {
    text.chars().map(advance_em).sum::<f64>() * size_mm
}

#[cfg(test)]
mod tests {
    use super::*;

    fn u16_at(bytes: &[u8], at: usize) -> u16 {
        u16::from_be_bytes([bytes[at], bytes[at + 1]])
    }

    fn table(tag: [u8; 4]) -> &'static [u8] {
        let count = usize::from(u16_at(FILE, 4));
        let record = (0..count)
            .map(|index| &FILE[12 + 16 * index..28 + 16 * index])
            .find(|record| record[..4] == tag)
            .expect("the font has the table");
        let number =
            |at: usize| usize::from(u16_at(record, at)) << 16 | usize::from(u16_at(record, at + 2));
        &FILE[number(8)..number(8) + number(12)]
    }

    /// Glyph of a character by the format 4 subtable of `cmap`.
    fn glyph(character: char) -> usize {
        let cmap = table(*b"cmap");
        let count = usize::from(u16_at(cmap, 2));
        let subtable = (0..count)
            .map(|index| usize::from(u16_at(cmap, 4 + 8 * index + 6)))
            .map(|offset| &cmap[offset..])
            .find(|subtable| u16_at(subtable, 0) == 4)
            .expect("the font has a format 4 map");
        let code = u16::try_from(u32::from(character)).expect("in the basic plane");
        let segments = usize::from(u16_at(subtable, 6)) / 2;
        for segment in 0..segments {
            let end = u16_at(subtable, 14 + 2 * segment);
            let start = u16_at(subtable, 16 + 2 * segments + 2 * segment);
            if code > end || code < start {
                continue;
            }
            let delta = u16_at(subtable, 16 + 4 * segments + 2 * segment);
            let range_at = 16 + 6 * segments + 2 * segment;
            let range = usize::from(u16_at(subtable, range_at));
            if range == 0 {
                return usize::from(code.wrapping_add(delta));
            }
            let found = u16_at(subtable, range_at + range + 2 * usize::from(code - start));
            return usize::from(found.wrapping_add(delta));
        }
        0
    }

    /// The table of widths is that of the font we ship.
    #[test]
    fn advances_are_those_of_the_font_file() {
        let metrics = usize::from(u16_at(table(*b"hhea"), 34));
        let mut read = 0;
        for &(first, widths) in advances::RANGES {
            for (character, &width) in (first..).zip(widths) {
                let glyph = glyph(character).min(metrics - 1);
                assert_ne!(glyph, 0, "{character:?} has no glyph");
                assert_eq!(u16_at(table(*b"hmtx"), 4 * glyph), width, "{character:?}");
                read += 1;
            }
        }
        assert!(read > 300, "only {read} characters");
    }

    #[test]
    fn every_unit_symbol_of_the_papers_is_in_the_font() {
        for character in "Ωµ²°×±≤≥→←↑↓–é".chars() {
            assert_ne!(glyph(character), 0, "{character:?}");
        }
    }

    #[test]
    fn a_text_is_never_given_less_than_it_needs_in_either_face() {
        assert!(width("WWWW", 2.5) > 4.0 * 0.6 * 2.5);
        assert!((width("iiii", 2.5) - 4.0 * 0.6 * 2.5).abs() < 1e-9);
        assert!(width("", 2.5).abs() < 1e-9);
    }
}
