//! The load on the frame: pressure less what the free balloon needs at that diameter.

use super::{FreeBalloon, LineModel};
use crate::calibrate::median;
use crate::fit::{broken_line, straight_line};
use crate::recording::Trace;
use crate::segment::Rest;
use crate::uncertain::Quantity;

/// The compliance is taken between these shares of the highest load before yield or fracture.
const COMPLIANCE_WINDOW: (f64, f64) = (0.2, 0.6);
/// Fewest points of a compliance or a yield onset.
const FEWEST: usize = 5;
/// A yield onset needs the slope of diameter on load to grow at least so many times.
const YIELD_SLOPE_RATIO: f64 = 1.8;
/// ... and the broken line to fit better than a straight one by so much (an F value of two parameters, with a margin).
const YIELD_IMPROVEMENT: f64 = 12.0;
/// Optical readings just before an event are taken over this time, s.
const BEFORE_EVENT_S: f64 = 0.2;
/// Standard uncertainty of the time of an optical diameter, s: one frame of a slow camera.
const CAMERA_U_S: f64 = 0.04;
/// Up to this share of the highest pressure before anything happened a frame still has about the diameter it had before.
const STILL_ELASTIC_SHARE: f64 = 0.25;
/// Two rests say something about the waist length if their cylinders differ by this much, mL for a millimetre of waist.
const SHAPES_APART_ML_PER_MM: f64 = 0.02;
/// Share of the volume gain's uncertainty left after the deficit was fitted to measured diameters (an estimate of ours).
const GAIN_LEFT_SHARE: f64 = 0.3;
/// Standard uncertainty of the diameter before where nobody measured it, mm.
const UNMEASURED_U_MM: f64 = 0.1;
/// A waist is taken as a cylinder; what its shoulders do is worth this share of the change of diameter (an estimate of ours, from
/// how far the waist length fitted before and after differ in practice).
const WAIST_SHAPE_SHARE: f64 = 0.1;
/// Deficits below this pressure are not used: the balloon still unfolds, kPa.
const UNFOLDED_KPA: f64 = 40.0;

/// What the load is computed from.
pub struct LoadInput<'a> {
    /// The trace.
    pub trace: &'a Trace,
    /// Its quasi-static points.
    pub rests: &'a [Rest],
    /// The free balloon.
    pub free: &'a FreeBalloon,
    /// The line.
    pub line: Option<&'a LineModel>,
    /// Mean diameter before, mm, with its standard uncertainty.
    pub before: Option<(f64, f64)>,
    /// Mean diameter on the inflated balloon, mm, with its standard uncertainty.
    pub loaded: Option<(f64, f64)>,
    /// Height of the frame's band, mm: the length the ring force is taken over.
    pub band_height_mm: Option<f64>,
    /// First break, slip, burst or leak, s; the frame is only one frame up to there.
    pub until_s: f64,
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
    /// Load on the frame, kPa.
    pub load_kpa: f64,
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
    /// Standard uncertainty of one diameter, mm.
    pub u_diameter_mm: f64,
    /// Waist length the deficit was turned into a diameter with, mm.
    pub waist_length_mm: Option<f64>,
    /// Diametral compliance, mm/kPa.
    pub compliance: Quantity,
    /// Load at the onset of yield, kPa.
    pub yield_load: Quantity,
    /// Diameter there, mm.
    pub yield_diameter: Quantity,
    /// When: time, earliest, latest (s).
    pub yield_time: Option<(f64, f64, f64)>,
    /// Volume deficit to diameter, if that is how it was had: offset (mL) and waist length (mm).
    deficit: Option<(f64, f64)>,
}

impl FrameLoad {
    /// Diameter just before a time, mm, with its standard uncertainty.
    pub fn diameter_before(
        &self,
        input: &LoadInput<'_>,
        t_s: f64,
        pressure_kpa: f64,
        volume_ml: f64,
    ) -> Option<(f64, f64)> {
        if self.deficit.is_none() {
            return optical_before(input.trace, t_s);
        }
        let d = deficit_diameter(input, self.deficit?, pressure_kpa, volume_ml)?;
        Some((d, self.u_diameter_mm))
    }
}

/// Optical diameter just before a time, mm, with its standard uncertainty: a straight line through the last moments, carried to
/// that time, because the waist often opens fast before a break.
pub fn optical_before(trace: &Trace, t_s: f64) -> Option<(f64, f64)> {
    let channel = trace.diameter_mm.as_ref()?;
    let to = trace.time_s.partition_point(|t| *t < t_s);
    let from = trace
        .time_s
        .partition_point(|t| *t < t_s - BEFORE_EVENT_S.max(3.0 * trace.step_s));
    let (t, d): (Vec<f64>, Vec<f64>) = trace
        .time_s
        .get(from..to)?
        .iter()
        .zip(channel.get(from..to)?)
        .filter(|(_, d)| d.is_finite())
        .map(|(t, d)| (*t, *d))
        .unzip();
    let channel_u = if trace.u_diameter_mm.is_finite() {
        trace.u_diameter_mm
    } else {
        0.0
    };
    let (value, scatter, slope) = match straight_line(&t, &d, None) {
        Ok(line) if t.len() > 3 => (line.at(t_s), line.u_at(t_s), line.slope),
        _ => (median(&d), crate::calibrate::mad_sigma(&d), 0.0),
    };
    // A camera shows the past: its frames and the declared delay place a diameter in time no better than this, and its clock may be
    // another one.
    let u_time = CAMERA_U_S.hypot(trace.diameter_u_time_s);
    let u = (channel_u.powi(2) + scatter.powi(2) + (u_time * slope).powi(2)).sqrt();
    value
        .is_finite()
        .then_some((value, if u > 0.0 { u } else { f64::NAN }))
}

/// Diameter from the volume the waist keeps out: `V_free(p) - V_b = offset + (pi/4) L (D_free(p)² - D²)`.
fn deficit_diameter(
    input: &LoadInput<'_>,
    (offset, length): (f64, f64),
    pressure: f64,
    volume: f64,
) -> Option<f64> {
    let kept_out =
        input.free.volume_at(pressure)? - (volume - input.line?.volume_ml(pressure)) - offset;
    let free = input.free.diameter.as_ref()?.at(pressure);
    let square = free * free - 4000.0 * kept_out / (std::f64::consts::PI * length);
    (square > 0.0).then(|| square.sqrt())
}

/// Offset and waist length that give the measured diameters before (at a rest under low load) and loaded (at the last); with only the
/// first, the offset is taken as none; with neither, the waist is the band.
fn calibrate_deficit(input: &LoadInput<'_>) -> Option<((f64, f64), String)> {
    let curve = input.free.diameter.as_ref()?;
    let line = input.line?;
    let deficit = |r: &Rest| {
        Some(input.free.volume_at(r.pressure_kpa)? - (r.volume_ml - line.volume_ml(r.pressure_kpa)))
    };
    let shape = |r: &Rest, d: f64| {
        std::f64::consts::PI / 4.0 * (curve.at(r.pressure_kpa).powi(2) - d * d) / 1000.0
    };
    let usable = |r: &&Rest| {
        r.volume_ml.is_finite()
            && r.pressure_kpa > UNFOLDED_KPA
            && input.free.volume_at(r.pressure_kpa).is_some()
    };
    // The free balloon must have outgrown the frame clearly, and the frame must not have given way yet.
    let top = input
        .rests
        .iter()
        .filter(|r| r.t_s < input.until_s)
        .map(|r| r.pressure_kpa)
        .fold(0.0, f64::max);
    let early = |r: &&Rest| {
        usable(r) && r.t_s < input.until_s && r.pressure_kpa <= STILL_ELASTIC_SHARE * top
    };
    let first = input
        .rests
        .iter()
        .rfind(early)
        .or_else(|| input.rests.iter().find(usable))?;
    let last = input.rests.iter().rev().find(usable)?;
    let band = input.band_height_mm;
    let plausible = |length: f64| (2.0..=40.0).contains(&length);
    if let (Some((before, _)), Some((loaded, _))) = (input.before, input.loaded) {
        let (x1, x2) = (shape(first, before), shape(last, loaded));
        let (y1, y2) = (deficit(first)?, deficit(last)?);
        // Two points with nearly the same shape say nothing about the length.
        if (x1 - x2).abs() > SHAPES_APART_ML_PER_MM && plausible((y1 - y2) / (x1 - x2)) {
            let length = (y1 - y2) / (x1 - x2);
            let text = format!(
                "volume kept out by a waist of {length:.1} mm, fitted to the diameters before and loaded"
            );
            return Some(((y1 - length * x1, length), text));
        }
    }
    if let Some((before, _)) = input.before {
        let length = deficit(first)? / shape(first, before);
        if plausible(length) {
            let text = format!(
                "volume kept out by a waist of {length:.1} mm, fitted to the diameter before"
            );
            return Some(((0.0, length), text));
        }
    }
    let length = band?;
    Some((
        (0.0, length),
        format!("volume kept out by a waist as long as the band, {length:.1} mm"),
    ))
}

/// The load on the frame at every rest. `Err` says what is missing.
pub fn frame_load(input: &LoadInput<'_>) -> Result<FrameLoad, String> {
    let curve = input
        .free
        .diameter
        .as_ref()
        .ok_or("the free diameter of the balloon is not known")?;
    let optical = input
        .rests
        .iter()
        .filter(|r| r.diameter_mm.is_finite())
        .count();
    let (deficit, source, u) = if optical * 2 > input.rests.len() && optical >= 3 {
        (
            None,
            "optical waist diameter".to_owned(),
            input.trace.u_diameter_mm,
        )
    } else {
        let (deficit, source) = calibrate_deficit(input)
            .ok_or("no optical channel, and the volume kept out by the waist cannot be had")?;
        // The gain of the volume channel acts on the whole balloon; the calibration at two points leaves a part of it.
        let volume = input.rests.last().map_or(0.0, |r| r.volume_ml);
        let u_volume =
            (GAIN_LEFT_SHARE * input.trace.u_volume_rel * volume).hypot(input.trace.noise_ml);
        let middle = curve.at(0.0).max(1.0);
        let u = 2000.0 * u_volume / (std::f64::consts::PI * middle * deficit.1);
        let opened = match (input.before, input.loaded) {
            (Some((before, _)), Some((loaded, _))) => loaded - before,
            _ => curve.at(curve.highest_kpa) - middle,
        };
        let u_shape = WAIST_SHAPE_SHARE * opened;
        let u_before = input.before.map_or(UNMEASURED_U_MM, |b| b.1);
        let u = (u.powi(2) + u_shape.powi(2) + u_before.powi(2)).sqrt();
        (Some(deficit), source, u)
    };
    let points: Vec<LoadPoint> = input
        .rests
        .iter()
        .filter_map(|r| {
            let diameter_mm = match deficit {
                None => r.diameter_mm,
                Some(d) if r.pressure_kpa > UNFOLDED_KPA => {
                    deficit_diameter(input, d, r.pressure_kpa, r.volume_ml)?
                }
                Some(_) => return None,
            };
            let load_kpa = (r.pressure_kpa - curve.pressure_for(diameter_mm)).max(0.0);
            let volume_ml = input
                .line
                .map_or(f64::NAN, |l| r.volume_ml - l.volume_ml(r.pressure_kpa));
            (diameter_mm.is_finite() && load_kpa.is_finite()).then_some(LoadPoint {
                t_s: r.t_s,
                pressure_kpa: r.pressure_kpa,
                diameter_mm,
                load_kpa,
                volume_ml,
            })
        })
        .collect();
    if points.is_empty() {
        return Err("no quasi-static point with a diameter".to_owned());
    }
    let rising = rising(&points, input.until_s);
    let onset = yield_onset(&rising);
    let elastic_end = onset.as_ref().map_or(f64::INFINITY, |o| o.load);
    let elastic: Vec<&LoadPoint> = rising
        .iter()
        .copied()
        .filter(|p| p.load_kpa <= elastic_end)
        .collect();
    let (yield_load, yield_diameter, yield_time) = if let Some(o) = &onset {
        (
            Quantity::known(
                o.load,
                o.u_load.hypot(input.trace.u_pressure_at(o.load, o.time.0)),
                "kPa",
                "break of two straight lines, diameter on load",
            ),
            Quantity::known(o.diameter, u, "mm", "diameter where the lines meet"),
            Some(o.time),
        )
    } else {
        let reason = "no break in the curve of diameter on load stands out";
        (
            Quantity::missing("kPa", reason),
            Quantity::missing("mm", reason),
            None,
        )
    };
    Ok(FrameLoad {
        compliance: compliance(&elastic),
        points,
        source,
        u_diameter_mm: u,
        waist_length_mm: deficit.map(|d| d.1),
        yield_load,
        yield_diameter,
        yield_time,
        deficit,
    })
}

/// Points on the way up before the frame changed: each with a higher pressure than all before.
fn rising(points: &[LoadPoint], until_s: f64) -> Vec<&LoadPoint> {
    let mut highest = f64::NEG_INFINITY;
    points
        .iter()
        .filter(|p| p.t_s < until_s)
        .filter(|p| {
            let up = p.pressure_kpa > highest;
            highest = highest.max(p.pressure_kpa);
            up
        })
        .collect()
}

fn compliance(points: &[&LoadPoint]) -> Quantity {
    let top = points.iter().map(|p| p.load_kpa).fold(0.0, f64::max);
    let inside: Vec<&&LoadPoint> = points
        .iter()
        .filter(|p| {
            p.load_kpa >= COMPLIANCE_WINDOW.0 * top && p.load_kpa <= COMPLIANCE_WINDOW.1 * top
        })
        .collect();
    let reason = "fewer than three points between 20 and 60 % of the load before yield";
    if inside.len() < 3 {
        return Quantity::missing("mm/kPa", reason);
    }
    let (x, y): (Vec<f64>, Vec<f64>) = inside.iter().map(|p| (p.load_kpa, p.diameter_mm)).unzip();
    straight_line(&x, &y, None).map_or_else(
        |error| Quantity::missing("mm/kPa", error.to_string()),
        |line| {
            let slope = line.slope;
            Quantity::known(
                slope,
                line.u_slope,
                "mm/kPa",
                "straight line between 20 and 60 % of the load before yield",
            )
        },
    )
}

struct Onset {
    load: f64,
    u_load: f64,
    diameter: f64,
    time: (f64, f64, f64),
}

fn yield_onset(points: &[&LoadPoint]) -> Option<Onset> {
    if points.len() < FEWEST + 2 {
        return None;
    }
    let (x, y): (Vec<f64>, Vec<f64>) = points.iter().map(|p| (p.load_kpa, p.diameter_mm)).unzip();
    let broken = broken_line(&x, &y).ok()?;
    if broken.slope_right < YIELD_SLOPE_RATIO * broken.slope_left.max(0.0)
        || broken.slope_right <= 0.0
        || broken.improvement < YIELD_IMPROVEMENT
    {
        return None;
    }
    let after = points.iter().position(|p| p.load_kpa > broken.x_break)?;
    let (a, b) = (points[after.checked_sub(1)?], points[after]);
    let share = ((broken.x_break - a.load_kpa) / (b.load_kpa - a.load_kpa)).clamp(0.0, 1.0);
    let u_load = if broken.u_break.is_finite() {
        broken.u_break
    } else {
        (b.load_kpa - a.load_kpa) / 12.0_f64.sqrt()
    };
    Some(Onset {
        load: broken.x_break,
        u_load,
        diameter: broken.y_break,
        time: (a.t_s + share * (b.t_s - a.t_s), a.t_s, b.t_s),
    })
}
