//! A sheet as a picture of pixels, drawn from its SVG with the shipped font and no other.

use super::svg;
use crate::drawing::scene::Sheet;
use crate::font;
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb};
use std::sync::Arc;
use thiserror::Error;

pub use super::order::DEFAULT_DPI;

/// Most pixels of a picture; a pixel takes four bytes of memory.
const MAX_PIXELS: f64 = 60e6;

/// Why there is no picture.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum Unmade {
    /// More pixels than memory should be asked for.
    #[error("it would be {width} by {height} pixels; choose fewer than {dpi} to the inch")]
    TooLarge {
        /// Width in pixels.
        width: u64,
        /// Height in pixels.
        height: u64,
        /// Pixels to the inch that were asked for.
        dpi: u16,
    },
    /// The drawing could not be read back.
    #[error("the picture cannot be drawn: {0}")]
    Format(String),
}

/// What pictures are drawn with, made once for many.
#[derive(Clone, Debug)]
pub struct Pen {
    fonts: Arc<fontdb::Database>,
    dpi: u16,
}

impl Pen {
    /// A pen with the shipped font, for so many pixels to the inch, at least one.
    #[must_use]
    pub fn new(dpi: u16) -> Self {
        let mut fonts = fontdb::Database::new();
        fonts.load_font_data(font::FILE.to_vec());
        Self {
            fonts: Arc::new(fonts),
            dpi: dpi.max(1),
        }
    }

    /// Draws a sheet.
    ///
    /// # Errors
    /// A picture too large for memory, or a drawing that cannot be read back.
    pub fn draw(&self, sheet: &Sheet) -> Result<Vec<u8>, Unmade> {
        let pixels = |millimetres: f64| (millimetres / 25.4 * f64::from(self.dpi)).round().max(1.0);
        let (width, height) = (pixels(sheet.width), pixels(sheet.height));
        let whole = |side: f64| {
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            // at least 1, and any width saturates
            {
                side as u64
            }
        };
        let too_large = || Unmade::TooLarge {
            width: whole(width),
            height: whole(height),
            dpi: self.dpi,
        };
        if !(width * height).is_finite() || width * height > MAX_PIXELS {
            return Err(too_large());
        }
        let side = |side: f64| u32::try_from(whole(side)).map_err(|_| too_large());
        let options = Options {
            fontdb: Arc::clone(&self.fonts),
            font_family: font::FAMILY.to_owned(),
            ..Options::default()
        };
        let broken = |error: &dyn std::fmt::Display| Unmade::Format(error.to_string());
        let text = svg::write_with(sheet, svg::Lettering::Named).replace(
            // One weight of the font is shipped, so heavy lettering is drawn with a line around it.
            "font-weight=\"bold\"",
            "stroke=\"#000000\" stroke-width=\"0.035em\"",
        );
        let tree = Tree::from_str(&text, &options).map_err(|error| broken(&error))?;
        let mut picture = Pixmap::new(side(width)?, side(height)?).ok_or_else(too_large)?;
        let size = tree.size();
        #[allow(clippy::cast_possible_truncation)] // at most 60 million
        let scale =
            Transform::from_scale(width as f32 / size.width(), height as f32 / size.height());
        resvg::render(&tree, scale, &mut picture.as_mut());
        let bytes = picture.encode_png().map_err(|error| broken(&error))?;
        Ok(with_scale(&bytes, self.dpi))
    }
}

/// Adds the chunk that tells how large a pixel is (PNG specification, third edition, 11.3.4.3).
fn with_scale(bytes: &[u8], dpi: u16) -> Vec<u8> {
    /// The signature and the first chunk have a fixed length.
    const HEAD: usize = 8 + 25;
    /// Pixels to the metre follow, and the unit is the metre.
    const METRE: u8 = 1;
    if bytes.len() < HEAD {
        return bytes.to_vec();
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // at most 65,535 to the inch
    let per_metre = (f64::from(dpi) / 0.0254).round() as u32;
    let mut chunk = b"pHYs".to_vec();
    chunk.extend(per_metre.to_be_bytes());
    chunk.extend(per_metre.to_be_bytes());
    chunk.push(METRE);
    let mut out = Vec::with_capacity(bytes.len() + 21);
    out.extend_from_slice(&bytes[..HEAD]);
    out.extend(9_u32.to_be_bytes());
    out.extend_from_slice(&chunk);
    out.extend(crc(&chunk).to_be_bytes());
    out.extend_from_slice(&bytes[HEAD..]);
    out
}

/// Check sum of a chunk: the CRC-32 of the PNG specification, annex D.
fn crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |sum, &byte| {
        (0..8).fold(sum ^ u32::from(byte), |sum, _| {
            if sum & 1 == 1 {
                0xedb8_8320 ^ (sum >> 1)
            } else {
                sum >> 1
            }
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::scene::{Anchor, Form, Group, Mark, Rgb, Role, Shape, SheetKind};

    fn sheet(width: f64, text: &str) -> Sheet {
        Sheet {
            kind: SheetKind::List,
            number: 1,
            count: 1,
            width,
            height: 25.4,
            title: text.to_owned(),
            groups: vec![Group {
                id: "g".to_owned(),
                role: Role::Note,
                title: String::new(),
                shapes: vec![Shape {
                    form: Form::Text {
                        at: (2.0, 20.0),
                        text: text.to_owned(),
                        size: 12.0,
                        anchor: Anchor::Start,
                        bold: true,
                    },
                    stroke: None,
                    fill: Some(Rgb::BLACK),
                    mark: Mark::Plain,
                }],
            }],
            filled: 1.0,
        }
    }

    /// Check value of CRC-32 for the nine digits: catalogue value, from memory.
    #[test]
    fn check_sums_are_right() {
        assert_eq!(crc(b"123456789"), 0xcbf4_3926);
    }

    #[test]
    fn a_picture_has_its_pixels_its_scale_and_its_letters() {
        let pen = Pen::new(DEFAULT_DPI);
        let bytes = pen.draw(&sheet(50.8, "WM")).expect("the sheet is sound");
        assert_eq!(
            bytes,
            pen.draw(&sheet(50.8, "WM")).expect("the sheet is sound")
        );
        assert_eq!(&bytes[16..24], &[0, 0, 1, 44, 0, 0, 0, 150]);
        // 150 to the inch are 5,906 to the metre.
        assert_eq!(
            &bytes[37..46],
            &[b'p', b'H', b'Y', b's', 0, 0, 0x17, 0x12, 0]
        );
        let picture = Pixmap::decode_png(&bytes).expect("it is a picture");
        let dark = picture
            .pixels()
            .iter()
            .filter(|pixel| pixel.red() < 64)
            .count();
        assert!(dark > 300, "no letters: {dark} dark pixels");
        let empty = pen.draw(&sheet(50.8, "")).expect("the sheet is sound");
        let picture = Pixmap::decode_png(&empty).expect("it is a picture");
        assert!(picture.pixels().iter().all(|pixel| pixel.red() == 255));
    }

    #[test]
    fn a_picture_that_is_too_large_is_refused() {
        let pen = Pen::new(600);
        assert!(matches!(
            pen.draw(&sheet(1e9, "W")),
            Err(Unmade::TooLarge { dpi: 600, .. })
        ));
        assert!(pen.draw(&sheet(f64::NAN, "W")).is_err());
    }
}
