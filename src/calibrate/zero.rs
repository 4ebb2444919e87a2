//! Zero from the vented stretch, drift between first and last vent, and the gauge/absolute check.

use super::noise::{mad_sigma, median};
use super::stretches::extremes;
use crate::recording::{Finding, Place, Trace};
use crate::rig::{ChannelSpec, Reference, Rig, Settings};
use crate::uncertain::u_of_median;
use rayon::prelude::*;

/// A vented line reads less than this share of the highest pressure...
const VENT_SHARE: f64 = 0.03;
/// ... or less than this, kPa: zero, drift and a few centimetres of water.
const VENT_KPA: f64 = 30.0;
/// Ambient pressure within this share: weather and altitude of a lab.
const ABSOLUTE_SHARE: f64 = 0.15;

/// Length over which the pressure of the opening vent is compared with its beginning, s.
const LOOK_S: f64 = 0.3;
/// Slow noise counts as independent from one stretch of this length to the next, s.
const INDEPENDENT_S: f64 = 0.5;
/// Half-width of what a drift may stand off the straight line between the vents, as a part of the drift (a rectangle): a warm-up that dies
/// away exponentially, with a time constant of half the run or more, stands off by at most 0.23.
const DRIFT_BEND: f64 = 0.25;
/// Samples that tell the volume at the start.
const START: usize = 5;
/// Fewest samples of a vent.
const FEWEST: usize = 3;
/// The pressure has risen from so many standard deviations of its noise ...
const RISE_SIGMAS: f64 = 8.0;
/// ... and from this much, kPa: a few centimetres of water.
const RISE_KPA: f64 = 2.0;
/// The pressure still creeps if the halves of the closing vent differ by so many standard deviations of its noise ...
const CREEP_SIGMAS: f64 = 5.0;
/// ... and by this much, kPa.
const CREEP_KPA: f64 = 1.0;
/// A recording shorter than so many vents of usual length has no closing vent apart from the opening one ...
const VENTS: f64 = 4.0;
/// ... where a vent usually is as long as the README asks for, s.
const VENT_USUAL_S: f64 = 2.0;
/// The rest is looked at again after this part of the length looked at.
const LOOKS: usize = 30;

/// Volume has moved from so many standard deviations of its noise ...
const MOVED_SIGMAS: f64 = 10.0;
/// ... and from this much, mL: the touch of a plunger.
const MOVED_ML: f64 = 0.03;
/// Length of the closing vent looked at, s.
const LAST_VENT_S: f64 = 0.8;
/// The closing vent counts as one if no more than this share of the moved volume is still in.
const RETURNED_SHARE: f64 = 0.2;

/// Seconds in a minute.
const S_PER_MIN: f64 = 60.0;

/// Fewest samples worth a thread.
const SHARE: usize = 1 << 15;

/// A vented stretch.
struct Vent {
    mean: f64,
    middle_s: f64,
    /// Standard deviation of a sample, kPa.
    scatter: f64,
    samples: f64,
    /// Independent stretches of it.
    stretches: f64,
    /// Variance of slow noise from one stretch to the next, kPa²; a single stretch cannot tell it from white noise.
    slow: Option<f64>,
}

impl Vent {
    /// Standard uncertainty of the level, kPa: white noise averages out over its samples, slow noise only over stretches long enough to be
    /// independent, of which there are few. `slow` is its variance where another vent of the run tells it.
    fn u(&self, slow: Option<f64>) -> f64 {
        match self.slow.or(slow) {
            Some(slow) => {
                u_of_median(self.scatter, self.samples).hypot((slow / self.stretches).sqrt())
            }
            None => self.scatter,
        }
    }
}

/// Takes the zero out of the pressure: the mean of the vented stretch before anything was injected; where a second vent follows
/// the deflation, the drift between both is taken out as a straight line.
pub(super) fn apply(
    trace: &mut Trace,
    spec: &ChannelSpec,
    rig: &Rig,
    file: &str,
    settings: &Settings,
    usual_drift: Option<f64>,
    findings: &mut Vec<Finding>,
) {
    let Some(first) = first_vent(trace, rig.ambient(), settings) else {
        trace.u_zero_kpa = spec.u.unwrap_or(0.0);
        findings.push(
            Finding::doubt(
                "no-vented-stretch",
                "no vented stretch at the start, so the zero of the pressure is not checked",
            )
            .at(Place::file(file))
            .effect(
                "no zero is taken out; the uncertainty of the channel stands for that of the zero",
            )
            .help("record two seconds with both ports open before filling"),
        );
        return;
    };
    let ambient = rig.ambient();
    if spec.reference == Reference::Gauge && (first.mean - ambient).abs() < ABSOLUTE_SHARE * ambient
    {
        findings.push(
            Finding::doubt(
                "looks-absolute",
                format!("the vented reading is {:.1} kPa, close to ambient: the channel looks absolute but is declared gauge", first.mean),
            )
            .at(spec.place(&rig.file))
            .effect(format!("the vented reading is taken out as a zero of {:.1} kPa, so gauge pressures stand if the line was vented", first.mean))
            .help("declare reference = \"absolute\" if it is"),
        );
    } else if spec.reference == Reference::Absolute
        && (first.mean + ambient).abs() < ABSOLUTE_SHARE * ambient
    {
        findings.push(
            Finding::doubt(
                "looks-gauge",
                "the vented reading is about zero: the channel looks gauge but is declared absolute",
            )
            .at(spec.place(&rig.file))
            .effect("ambient pressure is taken off and comes back with the zero, so gauge pressures stand if the line was vented")
            .help("declare reference = \"gauge\" if it is"),
        );
    }
    if first.mean.abs() > settings.zero_doubt_kpa {
        findings.push(
            Finding::doubt(
                "large-zero",
                format!("a zero of {:.2} kPa was taken out", first.mean),
            )
            .at(Place::line(file, trace.line.at(0)))
            .effect("taken off every pressure of the run"),
        );
    }
    let last = last_vent(trace, settings)
        .filter(|last| (last.mean - first.mean).abs() < settings.drift_largest_kpa);
    let mut slope = 0.0;
    let u_first = first.u(last.as_ref().and_then(|last| last.slow));
    trace.u_zero_kpa = u_first;
    let slow: Vec<f64> = std::iter::once(&first)
        .chain(&last)
        .filter_map(|vent| vent.slow)
        .collect();
    trace.slow_kpa = (slow.iter().sum::<f64>() / slow.len().max(1) as f64).sqrt();
    trace.zeroed_at_s = first.middle_s;
    if let Some(last) = &last {
        let drift = last.mean - first.mean;
        slope = drift / (last.middle_s - first.middle_s);
        trace.drift_kpa_per_s = Some(slope);
        let bend = DRIFT_BEND * drift;
        let u_last = last.u(first.slow);
        trace.u_zero_kpa = (u_first.powi(2) + u_last.powi(2) + bend.powi(2) / 3.0).sqrt();
        if drift.abs() > settings.drift_doubt_kpa {
            findings.push(
                Finding::doubt(
                    "zero-drift",
                    format!("the zero drifts by {drift:.2} kPa between the first and the last vent; a straight line was taken out"),
                )
                .at(Place::line(file, trace.line.last().unwrap_or(0)))
                .effect(format!("the standard uncertainty of the zero is {:.2} kPa", trace.u_zero_kpa))
                .help("let the transducer warm up, or zero it again"),
            );
        }
    } else {
        let (effect, help) = unseen_drift(trace, spec, usual_drift);
        let note = Finding::note(
            "drift-unknown",
            "no vented stretch at the end, so the drift of the zero is not checked",
        )
        .at(Place::file(file))
        .effect(effect);
        findings.push(match help {
            Some(help) => note.help(help),
            None => note,
        });
    }
    trace
        .pressure_kpa
        .par_iter_mut()
        .zip(&trace.time_s[..])
        .with_min_len(SHARE)
        .for_each(|(p, t)| *p -= first.mean + slope * (t - first.middle_s));
}

/// Takes a drift that no closing vent shows into the uncertainty: as declared in the rig, else as large as that of the reference runs. Says
/// what it does, and what to do where neither is known.
fn unseen_drift(
    trace: &mut Trace,
    spec: &ChannelSpec,
    usual_drift: Option<f64>,
) -> (String, Option<&'static str>) {
    let declared = spec.u_drift_kpa_per_min.map(|u| u / S_PER_MIN);
    let (u, source) = match (declared, usual_drift) {
        (Some(u), _) => (u, "declared in the rig"),
        (None, Some(u)) => (u, "the root mean square of the reference runs"),
        (None, None) => {
            return (
                "no drift is taken out, and none is in the uncertainty of the zero".to_owned(),
                Some("vent at the end of blank and free runs, or declare drift_u_kpa_per_min"),
            );
        }
    };
    trace.u_drift_kpa_per_s = u;
    let effect = format!(
        "no drift is taken out; a standard uncertainty of {:.2} kPa/min since the first vent ({source}) is in the uncertainty of the zero",
        u * S_PER_MIN
    );
    (effect, None)
}

fn vent(trace: &Trace, from: usize, to: usize) -> Option<Vent> {
    let values: Vec<f64> = trace.pressure_kpa[from..to]
        .iter()
        .copied()
        .filter(|v| v.is_finite())
        .collect();
    if values.len() < FEWEST {
        return None;
    }
    let length_s = trace.time_s[to - 1] - trace.time_s[from];
    let scatter = mad_sigma(&values).max(trace.noise_kpa);
    let stretches = (length_s / INDEPENDENT_S).floor().max(1.0);
    let long = values.len().div_ceil(stretches as usize);
    let levels: Vec<f64> = values
        .chunks_exact(long)
        .map(|part| part.iter().sum::<f64>() / long as f64)
        .collect();
    let n = levels.len() as f64;
    let mean = levels.iter().sum::<f64>() / n;
    let between = levels.iter().map(|l| (l - mean).powi(2)).sum::<f64>() / (n - 1.0);
    Some(Vent {
        mean: median(&values),
        middle_s: f64::midpoint(trace.time_s[from], trace.time_s[to - 1]),
        scatter,
        samples: values.len() as f64,
        stretches,
        slow: (n > 1.0).then(|| (between - scatter.powi(2) / long as f64).max(0.0)),
    })
}

/// From the first sample until volume or pressure moves.
fn first_vent(trace: &Trace, ambient: f64, settings: &Settings) -> Option<Vent> {
    let end_time = trace.time_s[0] + settings.vent_longest_s;
    let mut end = trace.time_s.partition_point(|t| *t < end_time);
    if let Some(volume) = &trace.volume_ml {
        let start = median(&volume[..end.min(START)]);
        let moved = (MOVED_SIGMAS * trace.noise_ml).max(MOVED_ML);
        if let Some(first) = volume[..end].iter().position(|v| (v - start).abs() > moved) {
            end = first;
        }
    }
    // Pressure that climbs ends the stretch too (no volume channel, or a channel that lags).
    let look = (LOOK_S / trace.step_s).round().max(FEWEST as f64) as usize;
    let base = median(&trace.pressure_kpa[..look.min(trace.len())]);
    let rise = (RISE_SIGMAS * trace.noise_kpa).max(RISE_KPA);
    if let Some(first) = climbs(&trace.pressure_kpa[..end], look, base, rise) {
        end = first;
    }
    // A recording cut out of the middle of a run starts under pressure: no vent. An absolute channel declared gauge stands at ambient.
    let top = trace.highest_kpa();
    let near_zero = base.abs() < (VENT_SHARE * top).max(VENT_KPA);
    if !near_zero && (base.abs() - ambient).abs() > ABSOLUTE_SHARE * ambient {
        return None;
    }
    let long_enough =
        end >= FEWEST && trace.time_s[end - 1] - trace.time_s[0] >= settings.vent_shortest_s;
    long_enough.then(|| vent(trace, 0, end)).flatten()
}

/// First sample, of those a part of `look` apart, from which on most of about `look` readings lie off a level by more than `rise`, on one
/// side: their median does.
fn climbs(p: &[f64], look: usize, level: f64, rise: f64) -> Option<usize> {
    let stride = (look / LOOKS).max(1);
    let (low, high) = (level - rise, level + rise);
    // Readings below, above and in all, in each part.
    let counts: Vec<[usize; 3]> = p
        .chunks(stride)
        .map(|part| {
            let count = |is: &dyn Fn(f64) -> bool| part.iter().filter(|v| is(**v)).count();
            [
                count(&|v| v < low),
                count(&|v| v > high),
                count(&f64::is_finite),
            ]
        })
        .collect();
    let parts = look.div_ceil(stride);
    let climbs = |parts: &[[usize; 3]]| {
        let sum = |of: usize| parts.iter().map(|counts| counts[of]).sum::<usize>();
        2 * sum(0).max(sum(1)) > sum(2)
    };
    let all = p.len().saturating_sub(look).div_ceil(stride);
    counts
        .windows(parts)
        .take(all)
        .position(climbs)
        .map(|part| part * stride)
}

/// The last second, if pressure and volume rest there and the pressure is far below the highest of the run.
fn last_vent(trace: &Trace, settings: &Settings) -> Option<Vent> {
    let end = trace.len();
    let last = trace.time_s[end - 1];
    let from = trace.time_s.partition_point(|t| *t < last - LAST_VENT_S);
    if from + FEWEST > end || last < VENTS * settings.vent_longest_s.min(VENT_USUAL_S) {
        return None;
    }
    if let Some(volume) = &trace.volume_ml {
        // A balloon that burst or leaked may stand near zero with its volume still in: what is left then is no zero.
        // The plunger of an inflator that took over from a syringe returns to where that was: what the syringe filled is vented then.
        let returned = |begin: usize| {
            let (low, high) = extremes(&volume[begin..]);
            let left = median(&volume[from..]) - median(&volume[begin..end.min(begin + START)]);
            left.abs() <= RETURNED_SHARE * (high - low)
        };
        if !returned(0) && !trace.handover.is_some_and(returned) {
            return None;
        }
        let moved = median(&volume[from..from + (end - from) / 2])
            - median(&volume[from + (end - from) / 2..]);
        if moved.abs() > (MOVED_SIGMAS * trace.noise_ml).max(MOVED_ML) {
            return None;
        }
    }
    let half = from + (end - from) / 2;
    let creep = median(&trace.pressure_kpa[from..half]) - median(&trace.pressure_kpa[half..]);
    let vent = vent(trace, from, end)?;
    (creep.abs() < (CREEP_SIGMAS * trace.noise_kpa).max(CREEP_KPA)).then_some(vent)
}
