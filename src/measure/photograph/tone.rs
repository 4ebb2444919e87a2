//! Grey levels as light. An edge out of focus mixes light, not grey levels, so half the height of the edge is half the light.

use crate::recording::Picture;

/// Light (0..1) of a level (0..1), IEC 61966-2-1 (sRGB).
pub fn light(level: f64) -> f64 {
    if level <= 0.040_45 {
        level / 12.92
    } else {
        ((level + 0.055) / 1.055).powf(2.4)
    }
}

/// Level (0..1) of light (0..1), the inverse of [`light`].
pub fn level(light: f64) -> f64 {
    if light <= 0.003_130_8 {
        12.92 * light
    } else {
        1.055 * light.powf(1.0 / 2.4) - 0.055
    }
}

/// Turns the levels of a picture into light, in place, white at 65535.
pub fn linearise(picture: &mut Picture) {
    let white = f64::from(picture.white);
    let table: Vec<u16> = (0..=picture.white)
        .map(|grey| (f64::from(u16::MAX) * light(f64::from(grey) / white)).round() as u16)
        .collect();
    for grey in &mut picture.grey {
        *grey = table.get(usize::from(*grey)).copied().unwrap_or(u16::MAX);
    }
    picture.white = u16::MAX;
}

/// Half the light between two levels less the middle of the levels, were they of the curve; `white` is the level of white.
pub fn half_light_shift(dark: f64, bright: f64, white: f64) -> f64 {
    let half = f64::midpoint(light(dark / white), light(bright / white));
    white * level(half) - f64::midpoint(dark, bright)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Printed values of IEC 61966-2-1: the two branches meet at 0.0031308, and 18 % grey is level 118 of 255.
    #[test]
    fn the_curve_is_that_of_the_standard() {
        assert!((light(0.040_45) - 0.003_130_8).abs() < 1e-7);
        assert!((255.0 * level(0.18) - 117.6).abs() < 0.2);
        for grey in 0..=255 {
            let share = f64::from(grey) / 255.0;
            assert!((level(light(share)) - share).abs() < 1e-6, "{grey}");
        }
    }
}
