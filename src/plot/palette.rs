//! The colours of every figure and of the page.
//!
//! The hues follow the blue-orange axis that the common forms of colour blindness keep, and no two that meet in one figure share
//! a lightness, so a grey print still tells them apart. Colour never carries meaning alone: every curve also has a word.

use crate::recording::PhaseKind;

/// An sRGB colour with an opacity from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ink {
    /// Red, green, blue.
    pub rgb: (u8, u8, u8),
    /// Opacity.
    pub alpha: f64,
}

impl Ink {
    const fn opaque(r: u8, g: u8, b: u8) -> Self {
        Self {
            rgb: (r, g, b),
            alpha: 1.0,
        }
    }

    /// The same colour at another opacity.
    #[must_use]
    pub const fn faded(self, alpha: f64) -> Self {
        Self { alpha, ..self }
    }
}

/// Text.
pub const TEXT: Ink = Ink::opaque(0x26, 0x2b, 0x33);
/// Second-rank text.
pub const QUIET: Ink = Ink::opaque(0x5d, 0x66, 0x73);
/// Frame of a panel.
pub const AXIS: Ink = Ink::opaque(0x9a, 0xa3, 0xae);
/// Grid lines.
pub const GRID: Ink = Ink::opaque(0xe4, 0xe7, 0xeb);
/// Ground of a figure.
pub const PAPER: Ink = Ink::opaque(0xff, 0xff, 0xff);
/// Pressure: the darkest curve.
pub const PRESSURE: Ink = Ink::opaque(0x17, 0x3f, 0x6b);
/// Volume: mid lightness.
pub const VOLUME: Ink = Ink::opaque(0xb8, 0x66, 0x1c);
/// Diameter: between the two.
pub const DIAMETER: Ink = Ink::opaque(0x2f, 0x7f, 0x79);
/// Force and sound.
pub const SECOND: Ink = Ink::opaque(0x7a, 0x5a, 0x9e);
/// Events.
pub const EVENT: Ink = Ink::opaque(0xa8, 0x1f, 0x3a);
/// Reference lines and curves of other runs.
pub const REFERENCE: Ink = Ink::opaque(0x7d, 0x87, 0x94);
/// Missing stretches.
pub const MISSING: Ink = Ink::opaque(0xa4, 0xac, 0xb6);

/// Colours of the arms, from dark to light and back; markers differ as well.
pub const ARMS: &[Ink] = &[
    Ink::opaque(0x17, 0x3f, 0x6b),
    Ink::opaque(0xc9, 0x76, 0x20),
    Ink::opaque(0x4f, 0xa0, 0xa0),
    Ink::opaque(0x7b, 0x2f, 0x55),
    Ink::opaque(0x8f, 0x9a, 0x3a),
    Ink::opaque(0x6f, 0x8f, 0xc9),
];

/// Tint of a phase's band. Holds stay nearly white: most of a run is holds, and the curve should stand out there.
pub fn phase(kind: PhaseKind) -> Ink {
    match kind {
        PhaseKind::Vent => Ink::opaque(0xb9, 0xbe, 0xc4),
        PhaseKind::Fill => Ink::opaque(0x8f, 0xb8, 0xdc),
        PhaseKind::Switch => Ink::opaque(0xe3, 0xb4, 0x4e),
        PhaseKind::Stroke => Ink::opaque(0x7f, 0xb5, 0x94),
        PhaseKind::Hold => Ink::opaque(0xe3, 0xe6, 0xe4),
        PhaseKind::Refill => Ink::opaque(0xd9, 0x8f, 0x72),
        PhaseKind::Deflate => Ink::opaque(0xa9, 0x9c, 0xc9),
    }
}

/// Word of a phase, as in the results.
pub fn phase_word(kind: PhaseKind) -> &'static str {
    match kind {
        PhaseKind::Vent => "vent",
        PhaseKind::Fill => "fill",
        PhaseKind::Switch => "switch",
        PhaseKind::Stroke => "stroke",
        PhaseKind::Hold => "hold",
        PhaseKind::Refill => "refill",
        PhaseKind::Deflate => "deflate",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance, WCAG 2.1.
    fn luminance(ink: Ink) -> f64 {
        let part = |c: u8| {
            let c = f64::from(c) / 255.0;
            if c <= 0.040_45 {
                c / 12.92
            } else {
                ((c + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * part(ink.rgb.0) + 0.7152 * part(ink.rgb.1) + 0.0722 * part(ink.rgb.2)
    }

    fn contrast(a: Ink, b: Ink) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    /// WCAG 2.1: text 4.5 to 1, graphics 3 to 1 against the ground.
    #[test]
    fn contrast_on_paper_is_enough() {
        for text in [TEXT, QUIET, EVENT] {
            assert!(contrast(text, PAPER) >= 4.5, "{text:?}");
        }
        for line in [PRESSURE, VOLUME, DIAMETER, SECOND, REFERENCE] {
            assert!(contrast(line, PAPER) >= 3.0, "{line:?}");
        }
    }

    /// Curves that share a panel keep apart in grey.
    #[test]
    fn curves_that_meet_differ_in_lightness() {
        for (a, b) in [
            (PRESSURE, VOLUME),
            (PRESSURE, REFERENCE),
            (PRESSURE, SECOND),
        ] {
            assert!(contrast(a, b) > 1.6, "{a:?} {b:?}");
        }
    }
}
