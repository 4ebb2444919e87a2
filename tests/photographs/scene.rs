//! Made-up photographs of openings whose area is known.

use hooptrace::recording::{ImageScale, OpeningSide, PhotographRow, Picture, Shows, Stage, Tone};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};
use std::f64::consts::{PI, TAU};

/// Numbers from a seed.
pub struct Chance(ChaCha8Rng);

impl Chance {
    pub fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// Even between two limits.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        let share = (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64;
        low + share * (high - low)
    }

    /// Normal with standard deviation 1 (Box and Muller).
    pub fn normal(&mut self) -> f64 {
        let (a, b) = (self.between(1e-300, 1.0), self.between(0.0, 1.0));
        (-2.0 * a.ln()).sqrt() * (TAU * b).cos()
    }
}

/// An opening r(θ) = R (1 + a cos n θ) before a plain ground.
#[derive(Debug, Clone)]
pub struct Scene {
    pub size: usize,
    pub centre: (f64, f64),
    pub radius: f64,
    pub lobes: f64,
    pub depth: f64,
    /// Standard deviation of the lens's blur in one direction, px.
    pub blur: f64,
    /// True where the blur is an even disc (out of focus), false where it is normal.
    pub disc: bool,
    /// Light of the opening and of the ground, levels of 255.
    pub inside: f64,
    pub outside: f64,
    /// Relative change of the light from the middle to the border, and the angle it goes to.
    pub tilt: f64,
    pub tilt_angle: f64,
    /// Loss of light from the middle to the corner.
    pub shade: f64,
    /// Standard deviation of the noise, levels.
    pub noise: f64,
    /// True where the camera writes levels of the sRGB curve.
    pub srgb: bool,
}

impl Default for Scene {
    fn default() -> Self {
        Self {
            size: 200,
            centre: (100.3, 98.6),
            radius: 60.0,
            lobes: 3.0,
            depth: 0.0,
            blur: 1.0,
            disc: false,
            inside: 200.0,
            outside: 40.0,
            tilt: 0.0,
            tilt_angle: 0.0,
            shade: 0.0,
            noise: 2.0,
            srgb: false,
        }
    }
}

impl Scene {
    /// ½ ∮ r² dθ = π R² (1 + a²/2).
    pub fn area(&self) -> f64 {
        PI * self.radius.powi(2) * (1.0 + self.depth.powi(2) / 2.0)
    }

    pub fn diameter(&self) -> f64 {
        2.0 * (self.area() / PI).sqrt()
    }

    fn holds(&self, x: f64, y: f64) -> bool {
        let (dx, dy) = (x - self.centre.0, y - self.centre.1);
        let angle = dy.atan2(dx);
        dx.hypot(dy) < self.radius * (1.0 + self.depth * (self.lobes * angle).cos())
    }

    /// Share of a pixel inside, over 16 × 16 places of it.
    fn cover(&self, x: usize, y: usize) -> f64 {
        const FINE: i32 = 16;
        let (x, y) = (x as f64, y as f64);
        let away = (x - self.centre.0).hypot(y - self.centre.1);
        if away < self.radius * (1.0 - self.depth) - 1.0 {
            return 1.0;
        }
        if away > self.radius * (1.0 + self.depth) + 1.0 {
            return 0.0;
        }
        let places = (0..FINE * FINE).filter(|k| {
            let at = |k: i32| (f64::from(k) + 0.5) / f64::from(FINE) - 0.5;
            self.holds(x + at(k % FINE), y + at(k / FINE))
        });
        places.count() as f64 / f64::from(FINE * FINE)
    }

    /// Light in levels of 255, without noise.
    fn light(&self) -> Vec<f64> {
        let size = self.size;
        let mut cover: Vec<f64> = (0..size * size)
            .map(|i| self.cover(i % size, i / size))
            .collect();
        if self.disc && self.blur > 0.0 {
            cover = out_of_focus(&cover, size, 2.0 * self.blur);
        } else if self.blur > 0.0 {
            cover = smear(&cover, size, self.blur, 1);
            cover = smear(&cover, size, self.blur, size);
        }
        let half = size as f64 / 2.0;
        let at = |i: usize| ((i % size) as f64 - half, (i / size) as f64 - half);
        let (sin, cos) = self.tilt_angle.sin_cos();
        cover
            .iter()
            .enumerate()
            .map(|(i, share)| {
                let (dx, dy) = at(i);
                let tilt = 1.0 + self.tilt * (dx * cos + dy * sin) / half;
                let shade = 1.0 - self.shade * (dx * dx + dy * dy) / (2.0 * half * half);
                (self.outside + share * (self.inside - self.outside)) * tilt * shade
            })
            .collect()
    }

    pub fn picture(&self, chance: &mut Chance) -> Picture {
        let grey = self.light().into_iter().map(|light| {
            let light = light + self.noise * chance.normal();
            let level = if self.srgb {
                255.0 * srgb(light / 255.0)
            } else {
                light
            };
            level.round().clamp(0.0, 255.0) as u16
        });
        Picture {
            width: self.size,
            height: self.size,
            grey: grey.collect(),
            white: 255,
            formula: "made up",
        }
    }
}

/// The curve of IEC 61966-2-1.
fn srgb(light: f64) -> f64 {
    if light <= 0.003_130_8 {
        12.92 * light.max(0.0)
    } else {
        1.055 * light.powf(1.0 / 2.4) - 0.055
    }
}

/// A normal blur along rows (`step` 1) or columns (`step` = size).
fn smear(values: &[f64], size: usize, sigma: f64, step: usize) -> Vec<f64> {
    let reach = (4.0 * sigma).ceil() as i64;
    let kernel: Vec<f64> = (-reach..=reach)
        .map(|k| (-(k as f64).powi(2) / (2.0 * sigma * sigma)).exp())
        .collect();
    let total: f64 = kernel.iter().sum();
    let last = size as i64 - 1;
    (0..values.len())
        .map(|i| {
            let along = if step == 1 { i % size } else { i / size } as i64;
            let sum: f64 = kernel
                .iter()
                .zip(-reach..=reach)
                .map(|(weight, k)| {
                    let to = (along + k).clamp(0, last) - along;
                    weight * values[(i as i64 + to * step as i64) as usize]
                })
                .sum();
            sum / total
        })
        .collect()
}

/// Blur by an even disc, whose standard deviation in one direction is half its radius.
fn out_of_focus(values: &[f64], size: usize, radius: f64) -> Vec<f64> {
    const FINE: i32 = 8;
    let reach = radius.ceil() as i64 + 1;
    let mut taps = Vec::new();
    for dy in -reach..=reach {
        for dx in -reach..=reach {
            let at =
                |middle: i64, k: i32| middle as f64 + (f64::from(k) + 0.5) / f64::from(FINE) - 0.5;
            let within = |k: &i32| at(dx, k % FINE).hypot(at(dy, k / FINE)) < radius;
            let weight = (0..FINE * FINE).filter(within).count();
            if weight > 0 {
                taps.push((dx, dy, weight as f64));
            }
        }
    }
    let total: f64 = taps.iter().map(|tap| tap.2).sum();
    let last = size as i64 - 1;
    (0..values.len() as i64)
        .map(|i| {
            let (x, y) = (i % size as i64, i / size as i64);
            let sum: f64 = taps
                .iter()
                .map(|(dx, dy, weight)| {
                    let (x, y) = ((x + dx).clamp(0, last), (y + dy).clamp(0, last));
                    weight * values[(y * size as i64 + x) as usize]
                })
                .sum();
            sum / total
        })
        .collect()
}

/// The row of a table for a made-up photograph: linear levels, no scale.
pub fn row() -> PhotographRow {
    PhotographRow {
        run_id: "f1".to_owned(),
        stage: Stage::Before,
        file: "images/f1.png".to_owned(),
        scale: None,
        threshold: None,
        side: OpeningSide::Auto,
        tone: Tone::Linear,
        shows: Shows::Ring,
        centre_x: None,
        centre_y: None,
        used: true,
        table: "images.csv".to_owned(),
        line: 2,
    }
}

/// A scale with its relative uncertainty.
pub fn scale(mm_per_px: f64, u_rel: f64) -> ImageScale {
    ImageScale {
        mm_per_px,
        u_rel: Some(u_rel),
        source: "made up".to_owned(),
    }
}
