//! The load on the frame: pressure less what the free balloon needs at that diameter.

mod drawn;
mod elastic;
mod energy;
mod errors;
mod optical;
mod seen;
mod source;
mod waist;
mod yielding;

use super::unfolding::free_pressure;
use super::{Crept, FreeBalloon, LineModel, Unfolding};
use crate::calibrate::mad_sigma;
use crate::recording::Trace;
use crate::segment::Rest;
use crate::uncertain::{
    Budget, Component, Quantity, StatedBudget, less, root_of_variance, u_of_median,
};
use seen::{Moves, Seen};
use source::{Moved, Source};
use waist::{Moment, Opening, Part, Waist};

pub use drawn::DrawnLoad;
pub use elastic::elastic_line;
pub use energy::{LISTED_U_MM, LineEnergy, line_energy, ring_work};
pub use errors::LoadErrors;
pub use optical::{optical_before, optical_budget};
pub use waist::{BAND_U, CREEP_SHARE_HALF, SHOULDER_HALF};
pub use yielding::{OffsetYield, offset_yield, up_to_highest_load, yield_break};

/// Rounds in which the opening of the frame at its first rest follows from the compliance that rests on it.
const ROUNDS: usize = 3;
/// Standard uncertainty of a compliance that is a secant between two rests, as a share: half of it as the half width of a rectangle (an
/// estimate of ours).
const SECANT_U: f64 = 0.288_675_134_594_812_9;
/// The same where it spans less than that: all of it as the half width of a rectangle (an estimate of ours).
const NEAR_U: f64 = 2.0 * SECANT_U;
/// A secant spans at least so many times the load of its first point: what opening is left over from there is then less than what was seen.
const SECANT_LOADS: f64 = 2.0;
/// Fewest second differences that tell a scatter.
const FEWEST_BENDS: usize = 4;
/// Least load that a relative uncertainty is taken of, kPa: far below what any channel resolves.
const LEAST_LOAD_KPA: f64 = 1e-9;
/// A component below this is one of rounding, mm.
const ROUNDING_MM: f64 = 1e-9;
/// Largest step over which the stiffness of the free balloon is taken, mm.
const STEP_MOST_MM: f64 = 0.5;

/// What the load is computed from.
pub struct LoadInput<'a> {
    /// The trace.
    pub trace: &'a Trace,
    /// Its quasi-static points.
    pub rests: &'a [Rest],
    /// The free balloon.
    pub free: &'a FreeBalloon,
    /// What it needs below its unfolded size, where a fill shows it.
    pub unfolding: Option<&'a Unfolding>,
    /// The line.
    pub line: Option<&'a LineModel>,
    /// The free balloon was measured with another counter: gains differ.
    pub other_counter: bool,
    /// Mean diameter before, mm, with its standard uncertainty.
    pub before: Option<(f64, f64)>,
    /// Mean diameter on the inflated balloon, mm, with its standard uncertainty.
    pub loaded: Option<(f64, f64)>,
    /// Height of the frame's band, mm: the length the ring force is taken over.
    pub band_height_mm: Option<f64>,
    /// First break, slip, burst or leak, s; the frame is only one frame up to there.
    pub until_s: f64,
    /// Deviation of the shoulder of the waist from the middle of what it may be: 0, but in trials.
    pub shoulder_by: f64,
    /// First slip, burst or leak, s; infinite where nothing was lost. What was measured on the balloon in the end is then no diameter at the
    /// last rest.
    pub lost_s: f64,
    /// What the wall of the balloon had crept by in the course of this run.
    pub crept: &'a Crept,
    /// Part by which it has crept more than the free balloon than it is taken to have: 0, but in trials.
    pub creep_by: f64,
    /// Permanent opening of the offset method, as a share of the diameter before.
    pub yield_offset_share: f64,
}

impl LoadInput<'_> {
    /// Samples of a rest.
    fn samples(rest: &Rest) -> f64 {
        (rest.to - rest.from).max(1) as f64
    }

    /// Standard uncertainty of the pressure at a rest, a median of its samples, by noise alone, kPa. Slow noise is the same for all of them.
    pub fn u_noise_kpa(&self, rest: &Rest) -> f64 {
        u_of_median(self.trace.noise_kpa, Self::samples(rest)).hypot(self.trace.slow_kpa)
    }

    /// Standard uncertainty of the counter at a rest apart from its gain, mL; 0 where its noise is not known.
    pub fn u_counter(&self, rest: &Rest) -> f64 {
        let noise = if self.trace.noise_ml.is_finite() {
            self.trace.noise_ml
        } else {
            0.0
        };
        u_of_median(noise, Self::samples(rest))
    }

    /// What the pressures of a run err by for themselves, kPa: each run has a zero and an error of its own. The gain is common.
    fn u_of_run(&self, rest: &Rest) -> f64 {
        self.trace
            .u_pressure_kpa
            .hypot(self.trace.u_zero_at(rest.t_s))
    }

    /// Standard uncertainty that the hand-overs of both counters leave in the volumes of this run against those of the free one, mL.
    pub fn u_joined_ml(&self) -> f64 {
        self.trace.u_handover_ml.hypot(self.free.u_handover_ml)
    }

    /// What the gains of two counters differ by, relative: one that free and frame runs share only scales the length of the waist.
    fn u_counter_gain(&self) -> f64 {
        if self.other_counter {
            std::f64::consts::SQRT_2 * self.trace.u_volume_rel
        } else {
            0.0
        }
    }
}

/// A quasi-static point of the frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoadPoint {
    /// Time, s.
    pub t_s: f64,
    /// Balloon pressure, kPa.
    pub pressure_kpa: f64,
    /// Diameter at the waist, mm.
    pub diameter_mm: f64,
    /// Its standard uncertainty, mm.
    pub u_diameter_mm: f64,
    /// Load on the frame, kPa.
    pub load_kpa: f64,
    /// Its standard uncertainty, kPa, ...
    pub u_load_kpa: f64,
    /// ... and what that is made of.
    pub errors: LoadErrors,
    /// Covariance of diameter and load, mm kPa: a waist thought too wide is one thought too little loaded.
    pub covariance: f64,
    /// What its diameter errs by itself, apart from all others, at least, mm.
    pub own_mm: f64,
    /// What the free balloon needs more for a diameter larger by 1 mm, kPa; 0 where no uncertainty was asked for.
    pub free_kpa_per_mm: f64,
    /// Volume of the balloon, mL; NaN where unknown.
    pub volume_ml: f64,
}

/// The load on the frame over a run.
#[derive(Debug, Clone)]
pub struct FrameLoad {
    /// Points in time order.
    pub points: Vec<LoadPoint>,
    /// How the diameter was had.
    pub source: String,
    /// Waist length the deficit was turned into a diameter with, mm.
    pub waist_length_mm: Option<f64>,
    /// Diametral compliance, mm/kPa.
    pub compliance: Quantity,
    /// Yield by change point: load (kPa) and diameter (mm) where two straight lines meet, ...
    pub yield_load: Quantity,
    /// ...
    pub yield_diameter: Quantity,
    /// ... and when: time, earliest, latest (s).
    pub yield_time: Option<(f64, f64, f64)>,
    /// Yield by offset: load, kPa, ...
    pub offset_yield_load: Quantity,
    /// ... and diameter, mm.
    pub offset_yield_diameter: Quantity,
    /// Rise of the load with the diameter after yield, kPa/mm.
    pub hardening: Quantity,
    /// The same over that before yield, 1.
    pub hardening_ratio: Quantity,
    /// Work done on the ring up to the first event or the highest load, mJ.
    pub work: Quantity,
    /// Elastic energy in the ring at the end of it, mJ.
    pub energy_stored: Quantity,
    /// How much wider the frame was at its first rest than unloaded, mm.
    pub opened_mm: f64,
    /// Load up to which it is elastic, kPa; infinite where no yield stands out.
    pub elastic_end: f64,
    /// What the uncertainties of compliance, work and energy stored are made of.
    pub budgets: Vec<(&'static str, StatedBudget)>,
    how: Source,
}

impl FrameLoad {
    /// True where the diameter rests on a waist taken to be as long as the band.
    pub fn by_band(&self) -> bool {
        matches!(&self.how, Source::Volume(waist) if waist.is_band())
    }

    /// What a camera errs by at a rest by itself, mm; 0 where the volume tells the diameter.
    pub fn own_mm(&self, rest: &Rest) -> f64 {
        match &self.how {
            Source::Optical => self
                .points
                .iter()
                .find(|p| p.t_s == rest.t_s)
                .map_or(0.0, |p| p.own_mm),
            Source::Volume(_) => 0.0,
        }
    }

    /// What the volume at a rest errs by itself beside what the noise of its pressure does to the volume kept out, mL.
    pub fn own_ml(&self, input: &LoadInput<'_>, rest: &Rest) -> f64 {
        let counter = input.u_counter(rest);
        let Source::Volume(waist) = &self.how else {
            return counter;
        };
        let (at, u_kpa) = (Moment::of(rest), input.u_noise_kpa(rest));
        let by_noise = Waist::by_noise_ml(input, at, u_kpa);
        let apart = waist.apart_ml(input, at, u_kpa);
        let beside = less(apart, by_noise);
        counter.hypot(beside)
    }

    /// What the volume at a moment, of a pressure and a volume, errs by itself, mL; 0 where a camera tells the diameter.
    pub fn own_ml_at(&self, input: &LoadInput<'_>, t_s: f64, pressure: f64, volume: f64) -> f64 {
        let at = Moment {
            t_s,
            pressure,
            volume,
        };
        match &self.how {
            Source::Optical => 0.0,
            Source::Volume(waist) => waist.u_moment_ml(input, at),
        }
    }

    /// Diameter and load just before a time. Pressure (kPa) with its standard uncertainty, volume in mL.
    pub fn just_before(
        &self,
        input: &LoadInput<'_>,
        t_s: f64,
        (pressure_kpa, u_kpa): (f64, f64),
        volume_ml: f64,
    ) -> Option<LoadPoint> {
        let moment = Moment {
            t_s,
            pressure: pressure_kpa,
            volume: volume_ml,
        };
        let seen = self.seen_before(input, moment, u_kpa)?;
        loaded(input, seen, moment, u_kpa)
    }

    /// What the uncertainty of that diameter is made of.
    pub fn budget_before(
        &self,
        input: &LoadInput<'_>,
        t_s: f64,
        (pressure, u_kpa): (f64, f64),
        volume: f64,
    ) -> Option<Budget> {
        let Source::Volume(waist) = &self.how else {
            return Some(optical_budget(input.trace, t_s)?.1);
        };
        let at = Moment {
            t_s,
            pressure,
            volume,
        };
        let (_, own, parts) = Self::parts_before(waist, input, at, u_kpa)?;
        let named = parts.into_iter().map(|(name, by)| (name, by.mm));
        // What the fitted waist takes out of the diameter is no component, but for rounding.
        let all = named.chain([("volume at the break", own)]);
        let all = all.filter(|(_, by)| by.is_nan() || by.abs() > ROUNDING_MM);
        Some(all.fold(Budget::new(), |budget, (name, by)| {
            budget.with(Component::normal(name, by.abs()))
        }))
    }

    /// The diameter at a moment whose pressure is known to `u_kpa`, what its own volume does to it, mm, and what each input does.
    fn parts_before(
        waist: &Waist,
        input: &LoadInput<'_>,
        at: Moment,
        u_kpa: f64,
    ) -> Option<(f64, f64, Vec<Part>)> {
        let shapes = waist.shapes(input, true)?;
        let u_ml = waist.u_moment_ml(input, at);
        let (value, own, mut parts) = Waist::parts(input, &shapes, at, u_ml)?;
        // What zero and channel are off by at the break as at every rest is an input of the shapes, and the gain is that of the free run.
        let u_own = input.trace.u_beside_channel(u_kpa, at.pressure, at.t_s);
        let higher = Moment {
            pressure: at.pressure + u_own,
            ..at
        };
        let moved = Waist::parts(input, &shapes, higher, u_ml);
        let by_pressure = Moves {
            mm: moved.map_or(0.0, |(moved, ..)| moved - value),
            free_mm: 0.0,
            kpa: u_own,
        };
        parts.push(("pressure at the break", by_pressure));
        Some((value, own, parts))
    }

    fn seen_before(&self, input: &LoadInput<'_>, at: Moment, u_kpa: f64) -> Option<Seen> {
        let Source::Volume(waist) = &self.how else {
            let (d, u) = optical_before(input.trace, at.t_s)?;
            let u_free = input.free.diameter.as_ref()?.u_common_mm;
            return Some(Seen::by_itself(d, u, 0.0, u_free));
        };
        if at.t_s > input.lost_s {
            return None;
        }
        let (value, own, parts) = Self::parts_before(waist, input, at, u_kpa)?;
        let parts = parts.into_iter().map(|(_, by)| by);
        Some(Seen::moved_by(value, own, parts))
    }
}

/// The load on the frame at every rest. `Err` says what is missing.
pub fn frame_load(input: &LoadInput<'_>) -> Result<FrameLoad, String> {
    if input.free.diameter.is_none() {
        return Err("the free diameter of the balloon is not known".to_owned());
    }
    let mut how = Source::of(input)?;
    let mut points = all_points(input, &how, false);
    let mut opened = None;
    for _ in 0..ROUNDS {
        // A frame measured before carries nothing; at the first rest it has opened a little.
        let Some(found) = opening(input, &how, &points) else {
            break;
        };
        opened = Some(found);
        how = how.opened_by(found);
        points = all_points(input, &how, false);
    }
    if let Source::Volume(waist) = &mut how {
        waist.scattered_by(input, scatter(&rising(&points, input.until_s)));
    }
    points = all_points(input, &how, true);
    if points.is_empty() {
        return Err("no quasi-static point with a diameter".to_owned());
    }
    let rising = rising(&points, input.until_s);
    let moved = how.moved(input, &rising);
    let said = yielding::Said::of(input, &moved, &rising);
    let spent = energy::Spent::of(input, &moved, &rising, said.elastic_end);
    let (waist_length_mm, source) = how.words(input);
    let figures = [
        ("frame.compliance", &said.compliance),
        ("frame.yield_load", &said.load),
        ("frame.yield_diameter", &said.diameter),
        ("frame.offset_yield_load", &said.offset_load),
        ("frame.offset_yield_diameter", &said.offset_diameter),
        ("frame.hardening", &said.hardening),
        ("frame.hardening_ratio", &said.hardening_ratio),
        ("frame.work", &spent.work),
        ("frame.energy_stored", &spent.stored),
    ];
    let budgets = figures
        .iter()
        .filter_map(|(name, figure)| Some((*name, figure.stated()?)))
        .collect();
    Ok(FrameLoad {
        source,
        waist_length_mm,
        compliance: said.compliance.quantity,
        yield_load: said.load.quantity,
        yield_diameter: said.diameter.quantity,
        yield_time: said.time,
        offset_yield_load: said.offset_load.quantity,
        offset_yield_diameter: said.offset_diameter.quantity,
        hardening: said.hardening.quantity,
        hardening_ratio: said.hardening_ratio.quantity,
        work: spent.work.quantity,
        energy_stored: spent.stored.quantity,
        budgets,
        opened_mm: opened.map_or(0.0, |o: Opening| o.mm),
        elastic_end: said.elastic_end,
        points,
        how,
    })
}

/// What diameters scatter by about a smooth curve, mm: by second differences, which a straight piece does not show (of independent errors
/// their variance is six times that of one). 0 where there are too few.
fn scatter(points: &[LoadPoint]) -> f64 {
    let bends: Vec<f64> = points
        .windows(3)
        .filter_map(|w| match w {
            [a, b, c] => Some(a.diameter_mm - 2.0 * b.diameter_mm + c.diameter_mm),
            _ => None,
        })
        .collect();
    if bends.len() < FEWEST_BENDS {
        return 0.0;
    }
    mad_sigma(&bends) / 6.0_f64.sqrt()
}

/// How much wider the frame is at the first rest of a waist than unloaded; `None` where the diameter is not had from a waist, or nothing tells
/// how the frame complies. Too few points for its compliance still tell a secant.
fn opening(input: &LoadInput<'_>, how: &Source, points: &[LoadPoint]) -> Option<Opening> {
    let Source::Volume(waist) = how else {
        return None;
    };
    let rising = rising(points, input.until_s);
    let end = yielding::elastic_end(&rising, input.yield_offset_share);
    let first = points.iter().find(|p| p.t_s >= waist.first_time())?;
    let apart = |p: &&LoadPoint| p.load_kpa <= end && p.load_kpa >= SECANT_LOADS * first.load_kpa;
    let found = rising.iter().rfind(apart);
    let far = found.is_some();
    // Where no rest lies far above the first, the last one that lies above it at all still tells more than nothing.
    let above = |p: &&LoadPoint| p.load_kpa > first.load_kpa && p.diameter_mm > first.diameter_mm;
    let last = found.or_else(|| rising.iter().rfind(above))?;
    let line = elastic_line(&rising, end);
    let by_secant = line.is_err();
    let (slope, u_slope) = line.map_or_else(
        |_| {
            let slope = (last.diameter_mm - first.diameter_mm) / (last.load_kpa - first.load_kpa);
            (slope, SECANT_U * slope)
        },
        |line| (line.slope, line.u_slope),
    );
    let up_to = *input.rests.iter().find(|r| r.t_s == last.t_s)?;
    let u_slope = if far || !by_secant {
        u_slope
    } else {
        NEAR_U * slope
    };
    (slope.is_finite() && slope > 0.0).then_some(Opening {
        mm: slope * first.load_kpa,
        u_mm: u_slope * first.load_kpa,
        by_secant,
        up_to,
    })
}

/// The load at every rest, with or without its uncertainty, which takes longer.
fn all_points(input: &LoadInput<'_>, how: &Source, with_u: bool) -> Vec<LoadPoint> {
    let Some(with) = how.solver(input, with_u) else {
        return Vec::new();
    };
    let one = |r| point(input, with(r)?, r);
    input.rests.iter().filter_map(one).collect()
}

/// The load at a rest.
fn point(input: &LoadInput<'_>, seen: Seen, rest: &Rest) -> Option<LoadPoint> {
    let own = input
        .trace
        .u_pressure_at(rest.pressure_kpa, rest.t_s)
        .hypot(input.u_noise_kpa(rest));
    loaded(input, seen, Moment::of(rest), own)
}

/// The load at a moment: its pressure, known to `u_kpa`, less what the free balloon needs at that diameter.
fn loaded(input: &LoadInput<'_>, seen: Seen, at: Moment, u_kpa: f64) -> Option<LoadPoint> {
    let Seen {
        diameter_mm,
        u_diameter_mm,
        own_mm,
        u_apart_mm,
        both_mm2,
        u_kpa: u_shared_kpa,
        with_kpa,
    } = seen;
    let needed = |d: f64| free_pressure(input.free, input.unfolding, d);
    let (free, u_folds) = needed(diameter_mm)?;
    let curve = input.free.diameter.as_ref()?;
    // What the points of the free balloon scatter by about its curve (too few of them tell nothing: then the most that is looked at); what
    // errs for all of them alike is in the diameter seen.
    let u_curve = if free > 0.0 {
        Some(curve.u_scatter_at(free))
            .filter(|u| u.is_finite())
            .map_or(STEP_MOST_MM, |u| u.min(STEP_MOST_MM))
    } else {
        0.0
    };
    let step = u_apart_mm.hypot(u_curve).min(STEP_MOST_MM);
    let side = |d: f64| needed(d).map_or(free, |f| f.0);
    let free_kpa_per_mm = if u_diameter_mm > 0.0 && step > 0.0 {
        0.5 * (side(diameter_mm + step) - side(diameter_mm - step)) / step
    } else {
        0.0
    };
    let load_kpa = (at.pressure - free).max(0.0);
    // What the pressure errs by is partly in the diameter too (JCGM 100, 5.2.2).
    let with_pressure = (free_kpa_per_mm * u_apart_mm).powi(2) + u_shared_kpa.powi(2)
        - 2.0 * free_kpa_per_mm * with_kpa.1;
    let errors = LoadErrors {
        diameter: root_of_variance(with_pressure),
        pressure: less(u_kpa, u_shared_kpa),
        curve: (free_kpa_per_mm * u_curve).abs(),
        folds: u_folds,
    };
    let line_ml = input.line.map_or(f64::NAN, |l| l.volume_ml(at.pressure));
    (diameter_mm.is_finite() && load_kpa.is_finite()).then_some(LoadPoint {
        t_s: at.t_s,
        pressure_kpa: at.pressure,
        diameter_mm,
        u_diameter_mm,
        load_kpa,
        u_load_kpa: errors.combined(),
        errors,
        covariance: with_kpa.0 - free_kpa_per_mm * both_mm2,
        own_mm,
        free_kpa_per_mm,
        volume_ml: at.volume - line_ml,
    })
}

/// Points on the way up before the frame changed: each with a higher pressure than all before.
fn rising(points: &[LoadPoint], until_s: f64) -> Vec<LoadPoint> {
    let mut highest = f64::NEG_INFINITY;
    points
        .iter()
        .filter(|p| p.t_s < until_s)
        .filter(|p| {
            let up = p.pressure_kpa > highest;
            highest = highest.max(p.pressure_kpa);
            up
        })
        .copied()
        .collect()
}
