//! The one font of the figures: DejaVu Sans, carried inside the program so that the same input gives the same picture anywhere.

use plotters::style::{FontDesc, FontFamily, FontStyle, register_font};
use std::sync::OnceLock;

/// Family list written into the SVG: viewers without the first take the next. It is also the name the font is registered under.
pub const FAMILY: &str = "DejaVu Sans, Verdana, sans-serif";

/// Plotters divides a size by this before writing `font-size`.
const SIZE_FACTOR: f64 = 1.24;

/// Registers both weights, once in the life of the program. False where the font could not be read.
fn ready() -> bool {
    static READY: OnceLock<bool> = OnceLock::new();
    *READY.get_or_init(|| {
        register_font(FAMILY, FontStyle::Normal, dejavu::sans::regular()).is_ok()
            && register_font(FAMILY, FontStyle::Bold, dejavu::sans::bold()).is_ok()
    })
}

/// The font at a size in pixels of the drawing; `None` where it could not be registered.
pub fn font(pixels: f64, bold: bool) -> Option<FontDesc<'static>> {
    let style = if bold {
        FontStyle::Bold
    } else {
        FontStyle::Normal
    };
    ready().then(|| FontDesc::new(FontFamily::Name(FAMILY), pixels * SIZE_FACTOR, style))
}

/// Width of a text in pixels at a size in pixels. Long text is cut first: nobody reads a label of a thousand characters.
pub fn width(text: &str, pixels: f64, bold: bool) -> f64 {
    // Measured large and scaled back, since the measure is a whole number.
    const LARGE: f64 = 100.0;
    let measured = font(LARGE, bold).and_then(|font| font.box_size(text).ok());
    // Without a measure, 0.6 em is the mean width of a character of this family.
    measured.map_or(text.chars().count() as f64 * 0.6 * pixels, |(w, _)| {
        f64::from(w) * pixels / LARGE
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn width_grows_with_text_and_size() {
        assert!(width("mmmm", 12.0, false) > width("mm", 12.0, false));
        assert!((width("kPa", 24.0, false) / width("kPa", 12.0, false) - 2.0).abs() < 1e-9);
    }
}
