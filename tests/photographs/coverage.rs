//! How often the intervals hold the truth.

use super::scene::{Chance, Scene, row, scale};
use hooptrace::measure::photograph::photograph;
use hooptrace::recording::Tone;

/// Relative uncertainty of the scale of those measured in mm.
const U_SCALE: f64 = 5e-4;
const MM_PER_PX: f64 = 0.05;

/// Every kind of scene that a bench may take: either side bright, round or lobed, sharp or not, quiet or noisy, even or tilted light.
pub fn scene(chance: &mut Chance) -> Scene {
    let (dark, step) = (chance.between(15.0, 60.0), chance.between(60.0, 160.0));
    let (inside, outside) = if chance.between(0.0, 1.0) < 0.5 {
        (dark, dark + step)
    } else {
        (dark + step, dark)
    };
    Scene {
        size: 200,
        centre: (chance.between(92.0, 107.0), chance.between(92.0, 107.0)),
        radius: chance.between(30.0, 65.0),
        lobes: 3.0,
        depth: if chance.between(0.0, 1.0) < 0.5 {
            0.0
        } else {
            chance.between(0.05, 0.2)
        },
        blur: chance.between(0.5, 2.5),
        disc: chance.between(0.0, 1.0) < 0.5,
        inside,
        outside,
        tilt: if chance.between(0.0, 1.0) < 0.5 {
            0.0
        } else {
            chance.between(0.0, 0.15)
        },
        tilt_angle: chance.between(0.0, 6.3),
        shade: 0.0,
        noise: chance.between(1.0, 8.0),
        srgb: chance.between(0.0, 1.0) < 0.3,
    }
}

pub struct Held {
    pub pictures: usize,
    pub area: usize,
    pub diameter: usize,
    pub diameter_mm: usize,
    /// Root of the mean square of error over u, for area.
    pub rms: f64,
}

/// The share of `pictures` whose interval value ± 2 u holds the truth.
pub fn held(seed: u64, pictures: usize, tell: bool) -> Held {
    let mut chance = Chance::new(seed);
    let mut held = Held {
        pictures,
        area: 0,
        diameter: 0,
        diameter_mm: 0,
        rms: 0.0,
    };
    for i in 0..pictures {
        let made = scene(&mut chance);
        let picture = made.picture(&mut chance);
        let mut row = row();
        if made.srgb {
            row.tone = Tone::Srgb;
        }
        let (found, findings) = photograph(picture.clone(), &row, false);
        let Some(found) = found else {
            panic!("{made:?}: {findings:?}");
        };
        let (area, u) = found.area.pair().unwrap();
        let (diameter, u_diameter) = found.area_diameter.pair().unwrap();
        held.area += usize::from((area - made.area()).abs() <= 2.0 * u);
        held.diameter += usize::from((diameter - made.diameter()).abs() <= 2.0 * u_diameter);
        held.rms += ((area - made.area()) / u).powi(2) / pictures as f64;
        // In mm, with a scale that is itself off by as much as it says.
        let true_scale = MM_PER_PX * (1.0 + U_SCALE * chance.normal());
        row.scale = Some(scale(MM_PER_PX, U_SCALE));
        let (found, _) = photograph(picture, &row, false);
        let (mm, u_mm) = found.unwrap().area_diameter.pair().unwrap();
        held.diameter_mm += usize::from((mm - true_scale * made.diameter()).abs() <= 2.0 * u_mm);
        if tell {
            println!(
                "{i} disc {} blur {:.2} noise {:.1} step {:.0} tilt {:.2} depth {:.2} srgb {} r {:.0}: error {:+.2} u {:.2} ratio {:+.2}",
                made.disc,
                made.blur,
                made.noise,
                (made.inside - made.outside),
                made.tilt,
                made.depth,
                made.srgb,
                made.radius,
                area - made.area(),
                u,
                (area - made.area()) / u
            );
        }
    }
    held.rms = held.rms.sqrt();
    held
}
