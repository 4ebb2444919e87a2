//! The diameter of a frame from the volume its waist keeps out of the balloon.
//!
//! `V_free(p) - V_b = offset + (π/4) (D_free(p)² - D²) (L + s (D_free(p) - D))`: a cylinder of the waist's length L, and at both ends a
//! shoulder that falls from the free balloon to the waist. How steep shoulders are nobody sees: between a sharp edge (s = 0) and a slope
//! of 45° (half of the step on either side is missing over the length of the step: s = 1/2). Offset and length follow from the diameters
//! measured before and loaded, so what they leave is the bow between the two.

use super::seen::{Moves, Seen};
use super::{LoadInput, LoadPoint};
use crate::segment::Rest;
use std::f64::consts::FRAC_PI_4;

/// Shoulder s: the middle between a sharp edge and a slope of 45°, and the standard deviation of a rectangle between them.
const SHOULDER: (f64, f64) = (SHOULDER_HALF, SHOULDER_HALF / 1.732_050_807_568_877_2);
/// Half of what a shoulder may be.
pub const SHOULDER_HALF: f64 = 0.25;
/// Up to this share of the highest pressure before anything happened a frame still has about the diameter it had before.
const STILL_ELASTIC_SHARE: f64 = 0.25;
/// Two rests say something about the waist length if their cylinders differ by this much, mL for a millimetre of waist.
const SHAPES_APART_ML_PER_MM: f64 = 0.02;
/// Waists that may be, mm, where no band is listed, ...
const PLAUSIBLE_MM: (f64, f64) = (2.0, 40.0);
/// ... and as so many heights of the band: a balloon touches little more than the ring.
const PLAUSIBLE_BANDS: (f64, f64) = (0.5, 2.5);
/// Why a waist of another length is none.
const CONTRADICTS: &str = "no optical channel, and the volumes contradict the diameters before and loaded: no waist near the height of the band keeps so much out, volume was lost or counted wrong";
const NOTHING: &str = "no optical channel, and the volume kept out by the waist cannot be had";
/// Deficits below this pressure are not used: the balloon still unfolds, kPa.
pub(super) const UNFOLDED_KPA: f64 = 40.0;
/// Standard uncertainty of the diameter before where nobody measured it, mm.
const UNMEASURED_U_MM: f64 = 0.1;
/// Standard uncertainty of the waist length where it is taken as that of the band, as a share: the balloon reaches over both edges (an
/// estimate of ours).
pub const BAND_U: f64 = 0.1;

/// What a waist was fitted to.
#[derive(Debug, Clone, Copy)]
enum By {
    /// Diameters before and loaded, at the first and at the last rest.
    Two { before: f64, loaded: f64 },
    /// The diameter before, at the first rest.
    One { before: f64 },
    /// Nothing: as long as the band.
    Band,
}

/// How much wider than unloaded a frame is at the first rest of its waist.
#[derive(Debug, Clone, Copy)]
pub(super) struct Opening {
    pub mm: f64,
    /// Standard uncertainty, mm.
    pub u_mm: f64,
    /// Whether the compliance is no line but a secant: its uncertainty is then that of the model, not of scatter.
    pub by_secant: bool,
    /// The rest up to which the compliance was seen that it follows from.
    pub up_to: Rest,
}

/// A waist fitted to the diameters that were measured.
#[derive(Debug, Clone)]
pub struct Waist {
    by: By,
    first: Rest,
    last: Rest,
    band_mm: f64,
    /// How much wider the frame was at the first rest than before, mm, ...
    opened_mm: f64,
    /// ... and where that follows from the run itself.
    opening: Option<Opening>,
    /// What a volume scatters by from rest to rest, mL.
    scatter_ml: f64,
    /// Standard uncertainties of the inputs, in the order of [`Deviations`].
    u: [f64; INPUTS],
}

/// Part by which what the frame's balloon has crept more or less than the free one may be wrong: a wall has more than one time constant,
/// and in the frame it is not loaded alike everywhere; half the width of a rectangle (an estimate of ours).
pub const CREEP_SHARE_HALF: f64 = 0.5;
const INPUTS: usize = 11;
/// What the inputs are called in a budget, in the order of [`Deviations`].
const NAMES: [&str; INPUTS] = [
    "diameter before, and opening up to the first rest",
    "diameter on the balloon",
    "volume at the first rest",
    "volume at the last rest",
    "shoulders of the balloon",
    "length of the waist",
    "diameter of the free balloon",
    PRESSURE,
    "creep of the balloon",
    "hand-overs of the counters",
    "gains of the counters",
];
/// What moves the pressure too, ...
pub(super) const PRESSURE: &str = "pressure of the run";
/// ... and as much for itself.
const FREE_PRESSURE: &str = "pressure of the free run";
/// Largest ratio of that series: above it a compliance would hang on the opening that hangs on it.
const SERIES_MOST: f64 = 0.8;
/// Steps of Newton's method: the shoulders change a cylinder by a few per cent, so that three are exact.
const STEPS: usize = 4;

/// What a shape is computed from, each as its deviation from what was measured: diameter before and loaded (mm), volume at the first and
/// at the last rest (mL), shoulder (1), length of the band (relative), diameter of the free balloon (mm), pressure of this run against that
/// of the free one (kPa), part of what it has crept more than the free balloon (1), all volumes of this run against those of the free one
/// (mL, and relative).
type Deviations = [f64; INPUTS];

/// A fitted waist: offset (mL), length (mm), shoulder (1), and what free diameter (mm) and pressure (kPa) are moved by.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shape {
    offset: f64,
    length: f64,
    shoulder: f64,
    pub wider: f64,
    higher: f64,
    creep: f64,
    joined: f64,
    gain: f64,
}

/// A shape with those of moved inputs.
pub(super) struct Shapes {
    found: Shape,
    moved: Vec<(&'static str, [Option<Shape>; 2])>,
}

/// What an input does, by its name.
pub(super) type Part = (&'static str, Moves);

/// A moment of the run: time (s), pressure (kPa), injected volume (mL).
#[derive(Debug, Clone, Copy)]
pub(super) struct Moment {
    pub t_s: f64,
    pub pressure: f64,
    pub volume: f64,
}

impl Moment {
    pub fn of(rest: &Rest) -> Self {
        Self {
            t_s: rest.t_s,
            pressure: rest.pressure_kpa,
            volume: rest.volume_ml,
        }
    }
}

/// Volume kept out, mL: the free balloon as crept as this one is, less this one. `creep` is the part by which the difference in creep is
/// larger than it is taken to be.
fn kept_out(input: &LoadInput<'_>, at: Moment, creep: f64) -> Option<f64> {
    let Moment {
        t_s,
        pressure,
        volume,
    } = at;
    let crept = input.crept.at(t_s) - input.free.crept_at(pressure);
    let free = free_volume(input, pressure)? + (1.0 + creep) * crept;
    Some(free - (volume - input.line?.volume_ml(pressure)))
}

/// Volume of the free balloon, mL: between two of its points it goes with the square of its diameter. A straight line in the pressure is too
/// low while folds are still pressed out: by V'' h²/8, a hundredth of a millilitre between strokes at one atmosphere.
fn free_volume(input: &LoadInput<'_>, pressure: f64) -> Option<f64> {
    let (points, curve) = (&input.free.volume, input.free.diameter.as_ref()?);
    let above = points.partition_point(|p| p.0 < pressure);
    let pair = above
        .checked_sub(1)
        .and_then(|k| Some((points.get(k)?, points.get(above)?)));
    let Some((a, b)) = pair else {
        return input.free.volume_at(pressure);
    };
    let square = |p: f64| curve.at(p).powi(2);
    let share = (square(pressure) - square(a.0)) / (square(b.0) - square(a.0));
    if (0.0..=1.0).contains(&share) {
        Some(a.1 + (b.1 - a.1) * share)
    } else {
        input.free.volume_at(pressure)
    }
}

impl Waist {
    /// Picks the rests and what is fitted. `Err` says why the volume kept out tells no diameter.
    pub fn new(input: &LoadInput<'_>) -> Result<Self, String> {
        let curve = input.free.diameter.as_ref().ok_or(NOTHING)?;
        let usable = |r: &&Rest| {
            r.t_s < input.lost_s
                && r.volume_ml.is_finite()
                && r.pressure_kpa > UNFOLDED_KPA
                && kept_out(input, Moment::of(r), 0.0).is_some()
        };
        // The free balloon must have outgrown the frame clearly, and the frame must not have given way yet.
        let until = |r: &&Rest| r.t_s < input.until_s;
        let top = input
            .rests
            .iter()
            .filter(until)
            .map(|r| r.pressure_kpa)
            .fold(0.0, f64::max);
        let early =
            |r: &&Rest| usable(r) && until(r) && r.pressure_kpa <= STILL_ELASTIC_SHARE * top;
        let first = input
            .rests
            .iter()
            .rfind(early)
            .or_else(|| input.rests.iter().find(usable))
            .ok_or(NOTHING)?;
        let last = input.rests.iter().rev().find(usable).ok_or(NOTHING)?;
        let counter = |r: &Rest| input.u_counter(r);
        let measured = |d: Option<(f64, f64)>| d.map_or(UNMEASURED_U_MM, |d| d.1);
        let mut waist = Self {
            by: By::Band,
            first: *first,
            last: *last,
            band_mm: input.band_height_mm.unwrap_or(f64::NAN),
            opened_mm: 0.0,
            opening: None,
            scatter_ml: 0.0,
            u: [
                measured(input.before),
                measured(input.loaded),
                counter(first),
                counter(last),
                SHOULDER.1,
                BAND_U,
                curve.u_common_mm,
                input.u_of_run(first),
                CREEP_SHARE_HALF / 3.0_f64.sqrt(),
                input.u_joined_ml(),
                input.u_counter_gain(),
            ],
        };
        let loaded = input.loaded.filter(|_| input.lost_s.is_infinite());
        if let (Some((before, _)), Some((loaded, _))) = (input.before, loaded) {
            waist.by = By::Two { before, loaded };
            match waist.shape(input, &[0.0; INPUTS]) {
                Some(shape) if waist.is_plausible(shape.length) => return Ok(waist),
                Some(_) => return Err(CONTRADICTS.to_owned()),
                None => {}
            }
        }
        if let Some((before, _)) = input.before {
            waist.by = By::One { before };
            let shape = waist.shape(input, &[0.0; INPUTS]);
            if shape.is_some_and(|shape| waist.is_plausible(shape.length)) {
                return Ok(waist);
            }
        }
        waist.by = By::Band;
        if waist.band_mm.is_finite() {
            Ok(waist)
        } else {
            Err(NOTHING.to_owned())
        }
    }

    fn is_plausible(&self, length_mm: f64) -> bool {
        let (least, most) = if self.band_mm.is_finite() {
            (
                PLAUSIBLE_BANDS.0 * self.band_mm,
                PLAUSIBLE_BANDS.1 * self.band_mm,
            )
        } else {
            PLAUSIBLE_MM
        };
        (least..=most).contains(&length_mm)
    }

    /// The frame at the first rest was so much wider than before, mm.
    #[must_use]
    pub fn wider_by(mut self, opened_mm: f64) -> Self {
        self.opened_mm = opened_mm;
        self
    }

    /// The same as it follows from the run.
    #[must_use]
    pub fn opened_by(self, opening: Opening) -> Self {
        Self {
            opening: Some(opening),
            ..self.wider_by(opening.mm)
        }
    }

    /// Points scatter by so much, mm: what counter, pressure noise and the points of the free balloon leave in a volume. It is in the two
    /// rests of the fit as in every other.
    pub fn scattered_by(&mut self, input: &LoadInput<'_>, scatter_mm: f64) {
        let Some(shape) = self.shape(input, &[0.0; INPUTS]) else {
            return;
        };
        let d = self.first_diameter(input);
        self.scatter_ml = 2.0 * FRAC_PI_4 * d * shape.length * scatter_mm / 1000.0;
        let apart = [self.first, self.last]
            .map(|rest| self.apart_ml(input, Moment::of(&rest), input.u_noise_kpa(&rest)));
        for (slot, apart) in self.u.iter_mut().skip(2).zip(apart) {
            *slot = slot.hypot(apart);
        }
    }

    /// What a volume kept out errs by itself beside the noise of its counter, mL: what points are seen to scatter by, and not less than the
    /// noise of the pressure (`u_kpa`) makes, here and at the points of the free balloon. At low pressures a balloon is soft, and it makes most.
    pub fn apart_ml(&self, input: &LoadInput<'_>, at: Moment, u_kpa: f64) -> f64 {
        let by_noise = Self::by_noise_ml(input, at, u_kpa);
        self.scatter_ml.max(std::f64::consts::SQRT_2 * by_noise)
    }

    /// What an error of the pressure by `u_kpa` does to the volume kept out at a moment, mL.
    pub fn by_noise_ml(input: &LoadInput<'_>, at: Moment, u_kpa: f64) -> f64 {
        let side = |by: f64| {
            let pressure = at.pressure + by;
            kept_out(input, Moment { pressure, ..at }, 0.0)
        };
        side(u_kpa)
            .zip(side(-u_kpa))
            .map_or(0.0, |(up, down)| 0.5 * (up - down).abs())
    }

    fn first_diameter(&self, input: &LoadInput<'_>) -> f64 {
        match self.by {
            By::Two { before, .. } | By::One { before } => before,
            By::Band => input.free.diameter.as_ref().map_or(f64::NAN, |c| c.at(0.0)),
        }
    }

    /// Time of the first rest, s.
    pub fn first_time(&self) -> f64 {
        self.first.t_s
    }

    fn shape(&self, input: &LoadInput<'_>, by: &Deviations) -> Option<Shape> {
        let curve = input.free.diameter.as_ref()?;
        let [
            before_by,
            loaded_by,
            first_by,
            last_by,
            shoulder_by,
            band_by,
            wider,
            higher,
            creep_by,
            joined,
            gain,
        ] = *by;
        let creep = input.creep_by + creep_by;
        let shoulder = SHOULDER.0 + input.shoulder_by + shoulder_by;
        // Kept out beside the shoulders, mL, and by a millimetre of waist.
        let at = |r: &Rest, dv: f64, d: f64| {
            let p = r.pressure_kpa + higher;
            let free = curve.at(p) + wider;
            let ring = FRAC_PI_4 * (free * free - d * d) / 1000.0;
            let moment = Moment {
                t_s: r.t_s,
                pressure: p,
                volume: r.volume_ml * (1.0 + gain) + dv + joined,
            };
            let out = kept_out(input, moment, creep)?;
            Some((out - ring * shoulder * (free - d), ring))
        };
        let (offset, length) = match self.by {
            By::Two { before, loaded } => {
                let (y1, x1) = at(&self.first, first_by, before + before_by + self.opened_mm)?;
                let (y2, x2) = at(&self.last, last_by, loaded + loaded_by)?;
                let length = (y1 - y2) / (x1 - x2);
                // Two points with nearly the same shape say nothing about the length.
                if (x1 - x2).abs() <= SHAPES_APART_ML_PER_MM {
                    return None;
                }
                (y1 - length * x1, length)
            }
            By::One { before } => {
                let (y, x) = at(&self.first, first_by, before + before_by + self.opened_mm)?;
                (0.0, y / x)
            }
            By::Band => (0.0, self.band_mm * (1.0 + band_by)),
        };
        Some(Shape {
            offset,
            length,
            shoulder,
            wider,
            higher,
            creep,
            joined,
            gain,
        })
    }

    /// Diameter of a shape at a moment, mm.
    fn at(input: &LoadInput<'_>, shape: Shape, mut moment: Moment) -> Option<f64> {
        let (length, shoulder) = (shape.length, shape.shoulder);
        moment.pressure += shape.higher;
        moment.volume = moment.volume * (1.0 + shape.gain) + shape.joined;
        let pressure = moment.pressure;
        let out = 1000.0 * (kept_out(input, moment, shape.creep)? - shape.offset);
        let free = input.free.diameter.as_ref()?.at(pressure) + shape.wider;
        // Newton's method from the cylinder that keeps as much out; a volume counted too large puts the waist above the free balloon.
        let square = free * free - out / (FRAC_PI_4 * length);
        if square <= 0.0 {
            return None;
        }
        let mut d = square.sqrt();
        for _ in 0..STEPS {
            let (ring, long) = (
                FRAC_PI_4 * (free * free - d * d),
                length + shoulder * (free - d),
            );
            let slope = -2.0 * FRAC_PI_4 * d * long - ring * shoulder;
            d -= (ring * long - out) / slope;
        }
        (d.is_finite() && d > 0.0).then_some(d)
    }

    /// The shape, and where uncertainties are asked for those of moved inputs.
    pub fn shapes(&self, input: &LoadInput<'_>, with_u: bool) -> Option<Shapes> {
        Some(Shapes {
            found: self.shape(input, &[0.0; INPUTS])?,
            moved: if with_u {
                self.moved_shapes(input)
            } else {
                Vec::new()
            },
        })
    }

    /// Diameter (mm) at a moment whose volume is known to `u_volume` (mL), with its standard uncertainty: of each input
    /// the half of what the diameter moves by over ± u (JCGM 100, 5.1.3 note 2).
    pub fn diameter(
        input: &LoadInput<'_>,
        shapes: &Shapes,
        moment: Moment,
        u_volume: f64,
    ) -> Option<Seen> {
        let (value, own, parts) = Self::parts(input, shapes, moment, u_volume)?;
        let parts = parts.into_iter().map(|(_, by)| by);
        Some(Seen::moved_by(value, own, parts))
    }

    /// The diameter, what its own volume does to it (mm), and what each input does.
    pub fn parts(
        input: &LoadInput<'_>,
        shapes: &Shapes,
        moment: Moment,
        u_volume: f64,
    ) -> Option<(f64, f64, Vec<Part>)> {
        let value = Self::at(input, shapes.found, moment)?;
        let side = |shape: Option<Shape>, dv: f64| {
            shape
                .and_then(|shape| {
                    let volume = moment.volume + dv;
                    Self::at(input, shape, Moment { volume, ..moment })
                })
                .unwrap_or(f64::NAN)
        };
        let by_volume = side(Some(shapes.found), u_volume) - side(Some(shapes.found), -u_volume);
        let half = |pair: [Option<Shape>; 2], of: fn(&Shape) -> f64| {
            let [up, down] = pair.map(|shape| shape.as_ref().map_or(f64::NAN, of));
            0.5 * (up - down)
        };
        let mut parts = Vec::with_capacity(shapes.moved.len() + 1);
        for (name, pair) in &shapes.moved {
            let [up, down] = pair;
            let by = Moves {
                mm: 0.5 * (side(*up, 0.0) - side(*down, 0.0)),
                free_mm: half(*pair, |shape| shape.wider),
                kpa: half(*pair, |shape| shape.higher),
            };
            parts.push((*name, by));
            // What the pressures of the free run are off by does the same to the diameter, and nothing to the pressure.
            if *name == PRESSURE {
                parts.push((FREE_PRESSURE, Moves { kpa: 0.0, ..by }));
            }
        }
        Some((value, 0.5 * by_volume, parts))
    }

    /// Standard uncertainty of the volume kept out at any moment by itself, mL.
    pub fn u_moment_ml(&self, input: &LoadInput<'_>, at: Moment) -> f64 {
        let apart = self.apart_ml(input, at, input.trace.slow_kpa);
        input.trace.noise_ml.hypot(apart)
    }

    /// Standard uncertainty of the counter at a rest apart from what the fit has of it already, mL.
    pub fn u_own(&self, input: &LoadInput<'_>, rest: &Rest) -> f64 {
        if rest.from == self.first.from || rest.from == self.last.from {
            0.0
        } else {
            let apart = self.apart_ml(input, Moment::of(rest), input.u_noise_kpa(rest));
            input.u_counter(rest).hypot(apart)
        }
    }

    /// Shapes with every input moved up and down by its standard uncertainty; none where there is none so.
    pub fn moved_shapes(&self, input: &LoadInput<'_>) -> Vec<(&'static str, [Option<Shape>; 2])> {
        let opening = self.opening;
        let found = self.shape(input, &[0.0; INPUTS]);
        let grown = |shape: Shape| {
            let at = |rest: &Rest| Self::at(input, shape, Moment::of(rest));
            Some(at(&opening?.up_to)? - at(&self.first)?)
        };
        let side = |at: usize, by: f64| {
            let mut all = [0.0; INPUTS];
            *all.get_mut(at)? = by;
            let shape = self.shape(input, &all)?;
            // What makes the frame comply more makes it open more up to the first rest as well, and so on: a geometric series.
            let more = |shape: Shape| {
                let before = found.and_then(grown).filter(|mm| *mm > 0.0)?;
                let now = grown(shape).filter(|mm| *mm > 0.0)?;
                Some(opening?.mm * (now / before - 1.0))
            };
            let opened = |by: f64| {
                let mut all = all;
                let [diameter, ..] = &mut all;
                *diameter += by;
                self.shape(input, &all)
            };
            let Some(once) = more(shape).filter(|mm| *mm != 0.0) else {
                return Some(shape);
            };
            let twice = opened(once).and_then(more).unwrap_or(once);
            let ratio = (twice / once - 1.0).clamp(-SERIES_MOST, SERIES_MOST);
            opened(once / (1.0 - ratio))
        };
        let mut all = self.u;
        // The frame at the first rest is as wide as before, and what it had opened by.
        if let Some(first) = all.first_mut() {
            *first = first.hypot(opening.map_or(0.0, |o| o.u_mm));
        }
        let inputs = NAMES.iter().zip(all).enumerate();
        inputs
            .filter(|(_, (_, u))| *u > 0.0)
            .map(|(at, (name, u))| (*name, [side(at, u), side(at, -u)]))
            .collect()
    }

    /// Diameter of a point with another shape, mm.
    pub fn moved(input: &LoadInput<'_>, point: &LoadPoint, shape: Shape) -> Option<f64> {
        let volume = point.volume_ml + input.line?.volume_ml(point.pressure_kpa);
        let (t_s, pressure) = (point.t_s, point.pressure_kpa);
        Self::at(
            input,
            shape,
            Moment {
                t_s,
                pressure,
                volume,
            },
        )
    }

    /// True where its length is that of the band.
    pub fn is_band(&self) -> bool {
        matches!(self.by, By::Band)
    }

    /// Length of the waist, mm.
    pub fn length_mm(&self, input: &LoadInput<'_>) -> Option<f64> {
        Some(self.shape(input, &[0.0; INPUTS])?.length)
    }

    /// How the diameter was had, in words.
    pub fn words(&self, length_mm: f64) -> String {
        let fitted = match self.by {
            By::Two { .. } => "fitted to the diameters before and loaded",
            By::One { .. } => "fitted to the diameter before",
            By::Band => "as long as the band",
        };
        format!("volume kept out by a waist of {length_mm:.1} mm, {fitted}")
    }
}
