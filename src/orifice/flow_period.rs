//! The periods of forward flow with a positive pressure difference, one per beat.
//!
//! Noise makes the pressure difference cross zero many times where it comes near zero. A beat is therefore recognised by its flow
//! (half of the high level, which noise cannot reach), the crossing nearest to it on either side by a running median, and its time
//! by a parabola through enough samples to rise above the noise.

use nalgebra::{Matrix3, Vector3};
use std::fmt;

/// Fewest samples of a record worth looking at.
const FEWEST_SAMPLES: usize = 20;
/// Fewest samples inside a period.
const FEWEST_INSIDE: usize = 5;
/// Share of the high flow level that marks a beat: far above noise, reached by every ejection.
const BEAT_LEVEL: f64 = 0.5;
/// Share of samples above the "high flow level": peaks are short, the 98th percentile is near them and no single spike moves it.
const HIGH_SHARE: f64 = 0.98;
/// Half width of the running median, samples: removes single and double excursions.
const MEDIAN_HALF: usize = 3;
/// A step above so many noise standard deviations is an edge and needs no averaging.
const EDGE_SIGMAS: f64 = 6.0;
/// Reach of the parabola on each side of a crossing, s: less than a tenth of an ejection, so that the falling pressure difference
/// has one bend at most; shorter, the noise shows.
const SIDE_S: f64 = 0.018;
/// A sample below zero by so many noise standard deviations opposes the flow: by chance one in 700.
const OPPOSED_SIGMAS: f64 = 3.0;
/// A mean pressure difference less negative than this share of the noise of a sample is none that opposes the flow.
const ZERO_SHARE: f64 = 0.5;
/// The sample at which a crossing was found was picked for not being positive: with no pressure difference at all it lies by this share of the
/// noise below zero (mean of a half-normal, √(2/π)).
const PICKED_SHARE: f64 = 0.797_884_560_802_865_4;
/// A period whose length differs from the median by more is not a whole beat.
const ODD_LENGTH: f64 = 0.3;

/// Why no period was found.
#[derive(Debug, Clone, PartialEq)]
pub enum FlowError {
    /// The three lists differ in length.
    Lengths,
    /// Fewer than 20 usable samples.
    TooShort {
        /// Usable samples.
        samples: usize,
    },
    /// Times do not rise.
    Clock {
        /// Position of the first offending sample, from 0.
        index: usize,
    },
    /// No forward flow.
    NoForwardFlow,
    /// Forward flow, but no whole period with a positive pressure difference.
    NoWholeBeat,
}

impl fmt::Display for FlowError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Lengths => f.write_str("time, flow and pressure difference differ in length"),
            Self::TooShort { samples } => write!(
                f,
                "{samples} usable samples, at least {FEWEST_SAMPLES} are needed"
            ),
            Self::Clock { index } => write!(f, "time does not rise at sample {}", index + 1),
            Self::NoForwardFlow => f.write_str("there is no forward flow"),
            Self::NoWholeBeat => f.write_str(
                "no beat has a whole period of forward flow with a positive pressure difference",
            ),
        }
    }
}

impl std::error::Error for FlowError {}

/// One period.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlowPeriod {
    /// Pressure difference becomes positive, s.
    pub start_s: f64,
    /// Pressure difference, or the flow if earlier, falls to zero, s.
    pub end_s: f64,
    /// Root mean square flow, mL/s.
    pub rms_flow_ml_s: f64,
    /// Mean flow, mL/s.
    pub mean_flow_ml_s: f64,
    /// Mean pressure difference, mmHg.
    pub mean_gradient_mmhg: f64,
    /// Highest pressure difference sample, mmHg.
    pub peak_gradient_mmhg: f64,
    /// Where its ends are those of the flow: by how much the root mean square flow (mL/s) and the mean pressure difference (mmHg) of the ends of
    /// the pressure difference, which noise hides, are off from these; 0 where its ends are told by the pressure difference.
    pub by_ends: (f64, f64),
}

/// A beat as it was found: where the pressure difference rises from zero and falls to it (or the flow, if earlier), and where the flow does, s.
struct Found {
    start: f64,
    end: f64,
    flow_start: Option<f64>,
    flow_end: Option<f64>,
}

/// Samples without gaps.
pub(super) struct Samples {
    pub(super) t: Vec<f64>,
    pub(super) q: Vec<f64>,
    p: Vec<f64>,
    /// Running median of the pressure difference.
    smooth: Vec<f64>,
    /// Noise of the pressure difference, mmHg.
    noise: f64,
}

pub(super) fn get(list: &[f64], i: usize) -> f64 {
    list.get(i).copied().unwrap_or(f64::NAN)
}

pub(super) fn quantile(values: impl Iterator<Item = f64>, share: f64) -> f64 {
    let mut sorted: Vec<f64> = values.collect();
    sorted.sort_by(f64::total_cmp);
    let last = sorted.len().saturating_sub(1);
    get(&sorted, (share * last as f64).round() as usize)
}

/// Standard deviation of a sample by second differences, which of white noise have √6 of it; their median ignores edges and steep parts.
pub(super) fn sample_noise(values: &[f64]) -> f64 {
    /// Standard deviation of a normal error over the median of its size: 1/Φ⁻¹(3/4).
    const OVER_MEDIAN: f64 = 1.4826;
    let bends = values.windows(3).filter_map(|w| match w {
        [a, b, c] => Some((a - 2.0 * b + c).abs()),
        _ => None,
    });
    OVER_MEDIAN * quantile(bends, 0.5) / 6.0_f64.sqrt()
}

impl Samples {
    pub(super) fn new(time_s: &[f64], flow: &[f64], dp: &[f64]) -> Result<Self, FlowError> {
        if time_s.len() != flow.len() || flow.len() != dp.len() {
            return Err(FlowError::Lengths);
        }
        let mut samples = Self {
            t: Vec::new(),
            q: Vec::new(),
            p: Vec::new(),
            smooth: Vec::new(),
            noise: 0.0,
        };
        for (index, ((t, q), p)) in time_s.iter().zip(flow).zip(dp).enumerate() {
            // A sample with a hole is bridged by the straight lines between its neighbours.
            if t.is_finite() && q.is_finite() && p.is_finite() {
                if samples.t.last().is_some_and(|last| last >= t) {
                    return Err(FlowError::Clock { index });
                }
                samples.t.push(*t);
                samples.q.push(*q);
                samples.p.push(*p);
            }
        }
        let n = samples.t.len();
        if n < FEWEST_SAMPLES {
            return Err(FlowError::TooShort { samples: n });
        }
        samples.smooth = (0..n)
            .map(|i| {
                let low = i.saturating_sub(MEDIAN_HALF);
                let high = (i + MEDIAN_HALF + 1).min(n);
                let window = samples.p.get(low..high).unwrap_or_default();
                quantile(window.iter().copied(), 0.5)
            })
            .collect();
        samples.noise = sample_noise(&samples.p);
        Ok(samples)
    }

    /// Ranges of samples, first to last, with flow above the beat level.
    pub(super) fn beats(&self) -> Result<Vec<(usize, usize)>, FlowError> {
        let high = quantile(self.q.iter().copied(), HIGH_SHARE);
        if high.is_nan() || high <= 0.0 {
            return Err(FlowError::NoForwardFlow);
        }
        let (on, off) = (BEAT_LEVEL * high, BEAT_LEVEL * high / 2.0);
        let mut beats = Vec::new();
        let mut start = None;
        for (i, q) in self.q.iter().enumerate() {
            match start {
                None if *q > on => start = Some(i),
                Some(from) if *q < off => {
                    beats.push((from, i));
                    start = None;
                }
                _ => {}
            }
        }
        Ok(beats)
    }

    /// Last sample at or before `from` and after `limit` where the pressure difference is not positive.
    fn before(&self, from: usize, limit: usize) -> Option<usize> {
        // An edge is where the raw value changes; the median decides whether a negative value is more than a flicker.
        (limit..=from)
            .rev()
            .find(|&i| get(&self.p, i) <= 0.0 && (get(&self.smooth, i) <= 0.0 || self.edge(i)))
    }

    /// First sample from `from` up to `limit` where the pressure difference is no longer positive.
    fn after(&self, from: usize, limit: usize) -> Option<usize> {
        (from..limit).find(|&i| {
            get(&self.smooth, i) <= 0.0 || (get(&self.p, i) <= 0.0 && i > 0 && self.edge(i - 1))
        })
    }

    /// Whether the pressure difference jumps between a sample and the next.
    fn edge(&self, i: usize) -> bool {
        (get(&self.p, i + 1) - get(&self.p, i)).abs() > EDGE_SIGMAS * self.noise
    }

    /// Time of the zero crossing near the pair of samples `i`, `i + 1`; `rising` tells which way it goes.
    fn crossing(&self, i: usize, rising: bool) -> f64 {
        let (t1, t2) = (get(&self.t, i), get(&self.t, i + 1));
        let (p1, p2) = (get(&self.p, i), get(&self.p, i + 1));
        let direct = (t1 + (t2 - t1) * p1 / (p1 - p2)).clamp(t1, t2);
        let fallback = if direct.is_finite() { direct } else { t1 };
        if self.edge(i) {
            return if rising {
                self.opening_edge(i).unwrap_or(fallback)
            } else {
                fallback
            };
        }
        let mut centre = i;
        let mut at = fallback;
        // The second parabola is centred on the crossing the first one found.
        for _ in 0..2 {
            let Some(found) = self.fitted_crossing(centre, rising) else {
                break;
            };
            at = found;
            centre = self.t.partition_point(|t| *t <= found).saturating_sub(1);
        }
        at
    }

    /// Where a pressure difference that rises across an edge reaches zero, if it goes on as steeply as it came: a valve opens once it is
    /// positive and then holds it down, so that a straight line to the next sample crosses too late. `None` where it came more slowly than
    /// it goes on across the edge.
    fn opening_edge(&self, i: usize) -> Option<f64> {
        self.carried_on(i.checked_sub(1)?, i, i + 1)
    }

    /// Crossing of the parabola through samples around a pair.
    fn fitted_crossing(&self, i: usize, rising: bool) -> Option<f64> {
        let mut low = i;
        let mut high = i + 1;
        let (origin, end) = (get(&self.t, i), get(&self.t, i + 1));
        while low > 0 && origin - get(&self.t, low - 1) <= SIDE_S && !self.edge(low - 1) {
            low -= 1;
        }
        while high + 1 < self.t.len() && get(&self.t, high + 1) - end <= SIDE_S && !self.edge(high)
        {
            high += 1;
        }
        let mut normal = Matrix3::zeros();
        let mut right = Vector3::zeros();
        for k in low..=high {
            // In units of the reach, so that the matrix is well scaled.
            let x = (get(&self.t, k) - origin) / SIDE_S;
            let row = Vector3::new(1.0, x, x * x);
            normal += row * row.transpose();
            right += row * get(&self.p, k);
        }
        let parabola = normal.cholesky()?.solve(&right);
        let (level, slope, bend) = (parabola[0], parabola[1], parabola[2]);
        // The root of the branch that goes the right way, written without cancellation.
        let root = (slope * slope - 4.0 * bend * level).sqrt() * if rising { 1.0 } else { -1.0 };
        let at = origin - SIDE_S * 2.0 * level / (slope + root);
        let (first, last) = (get(&self.t, low), get(&self.t, high));
        ((slope > 0.0) == rising && at >= first && at <= last).then_some(at)
    }

    /// Where a pressure difference that falls across an edge passed zero, if it fell as steeply before as it goes on: the mirror of
    /// [`Self::opening_edge`]. `i` is the first sample below.
    fn closing_edge(&self, i: usize) -> Option<f64> {
        self.carried_on(i + 1, i, i.checked_sub(1)?)
    }

    /// Where the line from sample `far` to sample `near`, carried on to `beyond`, reaches zero; `None` where it is not steeper than the step
    /// that it crosses.
    fn carried_on(&self, far: usize, near: usize, beyond: usize) -> Option<f64> {
        let slope = |a: usize, b: usize| {
            (get(&self.p, b) - get(&self.p, a)) / (get(&self.t, b) - get(&self.t, a))
        };
        let (steep, crossed) = (slope(far, near), slope(near, beyond));
        let (t, end) = (get(&self.t, near), get(&self.t, beyond));
        (steep / crossed > 1.0)
            .then(|| (t - get(&self.p, near) / steep).clamp(t.min(end), t.max(end)))
    }

    /// Whether a sample of the pressure difference opposes the flow by more than noise.
    fn opposes(&self, i: usize) -> bool {
        get(&self.p, i) < -OPPOSED_SIGMAS * self.noise
    }

    /// A start of the flow, or where the last sample from there up to `until` that opposes it is left behind: noise about a closed valve
    /// starts a flow early.
    fn not_before_opening(&self, start: f64, until: f64) -> f64 {
        let first = self.t.partition_point(|t| *t <= start);
        let last = self.t.partition_point(|t| *t < until);
        let Some(i) = (first..last).rev().find(|i| self.opposes(*i)) else {
            return start;
        };
        self.opening_edge(i)
            .unwrap_or(get(&self.t, i + 1))
            .min(until)
    }

    /// An end of the flow, or where the first sample after `from` up to there opposes it.
    fn not_after_closing(&self, from: f64, end: f64) -> f64 {
        let first = self.t.partition_point(|t| *t <= from);
        let last = self.t.partition_point(|t| *t < end);
        let Some(i) = (first..last).find(|i| self.opposes(*i)) else {
            return end;
        };
        let before = i.saturating_sub(1);
        self.closing_edge(i)
            .unwrap_or(get(&self.t, before))
            .max(from)
    }

    /// Whether the pressure difference in these stretches, from and to, all in all does not oppose the flow; false where no sample lies in them.
    fn not_opposed(&self, stretches: impl Iterator<Item = (f64, f64)>) -> bool {
        let (mut n, mut sum) = (0.0, 0.0);
        for (start, end) in stretches {
            let first = self.t.partition_point(|t| *t <= start);
            let last = self.t.partition_point(|t| *t < end);
            if first < last {
                sum += PICKED_SHARE * self.noise;
            }
            for p in self.p.get(first..last).unwrap_or_default() {
                n += 1.0;
                sum += p;
            }
        }
        sum / n >= -ZERO_SHARE * self.noise
    }

    /// Time before sample `from` where the flow rises from zero, if after sample `limit`.
    fn flow_start(&self, from: usize, limit: usize) -> Option<f64> {
        let i = (limit..from)
            .rev()
            .find(|&i| get(&self.q, i) <= 0.0 && get(&self.q, i + 1) > 0.0)?;
        let (q1, q2) = (get(&self.q, i), get(&self.q, i + 1));
        let (t1, t2) = (get(&self.t, i), get(&self.t, i + 1));
        Some(t1 + (t2 - t1) * q1 / (q1 - q2))
    }

    /// Time after sample `from` where the flow falls to zero, if before sample `limit`.
    fn flow_end(&self, from: usize, limit: usize) -> Option<f64> {
        let i = (from..limit).find(|&i| get(&self.q, i + 1) <= 0.0 && get(&self.q, i) > 0.0)?;
        let (q1, q2) = (get(&self.q, i), get(&self.q, i + 1));
        let (t1, t2) = (get(&self.t, i), get(&self.t, i + 1));
        Some(t1 + (t2 - t1) * q1 / (q1 - q2))
    }

    pub(super) fn flow_at(&self, time: f64) -> f64 {
        let i = self.t.partition_point(|t| *t <= time).max(1) - 1;
        let (t1, t2) = (get(&self.t, i), get(&self.t, i + 1));
        let (q1, q2) = (get(&self.q, i), get(&self.q, i + 1));
        if t2 > t1 {
            q1 + (q2 - q1) * (time - t1) / (t2 - t1)
        } else {
            q1
        }
    }

    /// Means over a period by the trapezium rule, the ends interpolated.
    fn period(&self, start: f64, end: f64) -> Option<FlowPeriod> {
        let first = self.t.partition_point(|t| *t <= start);
        let last = self.t.partition_point(|t| *t < end);
        if last < first + FEWEST_INSIDE {
            return None;
        }
        let inside = (first..last).map(|i| (get(&self.t, i), get(&self.q, i), get(&self.p, i)));
        let ends = |time: f64| (time, self.flow_at(time), 0.0);
        let nodes: Vec<_> = [ends(start)]
            .into_iter()
            .chain(inside)
            .chain([ends(end)])
            .collect();
        let (mut q, mut qq, mut p, mut peak) = (0.0, 0.0, 0.0, 0.0_f64);
        for pair in nodes.windows(2) {
            let [(t1, q1, p1), (t2, q2, p2)] = *pair else {
                continue;
            };
            let step = t2 - t1;
            q += step * f64::midpoint(q1, q2);
            // Exact for a straight line of flow between samples.
            qq += step * (q1 * q1 + q1 * q2 + q2 * q2) / 3.0;
            p += step * f64::midpoint(p1, p2);
            peak = peak.max(p1);
        }
        let length = end - start;
        Some(FlowPeriod {
            start_s: start,
            end_s: end,
            rms_flow_ml_s: (qq / length).sqrt(),
            mean_flow_ml_s: q / length,
            mean_gradient_mmhg: p / length,
            peak_gradient_mmhg: peak,
            by_ends: (0.0, 0.0),
        })
    }
}

/// Whole periods of forward flow with a positive pressure difference, in order. Beats cut off by the ends of the record, and beats
/// whose period differs by more than 30 % from the median, are left out.
///
/// # Errors
/// [`FlowError`].
pub fn positive_pressure_periods(
    time_s: &[f64],
    flow_ml_s: &[f64],
    dp_mmhg: &[f64],
) -> Result<Vec<FlowPeriod>, FlowError> {
    let samples = Samples::new(time_s, flow_ml_s, dp_mmhg)?;
    let beats = samples.beats()?;
    let mut found = Vec::new();
    for (k, &(from, to)) in beats.iter().enumerate() {
        let floor = match k.checked_sub(1).and_then(|k| beats.get(k)) {
            Some((_, end)) => *end,
            None => 0,
        };
        let ceiling = beats.get(k + 1).map_or(samples.t.len(), |(next, _)| *next);
        let Some(opening) = samples.before(from, floor) else {
            continue;
        };
        // The search for the end starts at the highest pressure of the beat, well clear of the opening.
        let top = (from..to)
            .max_by(|&a, &b| get(&samples.smooth, a).total_cmp(&get(&samples.smooth, b)))
            .unwrap_or(from);
        let by_pressure = samples
            .after(top, ceiling)
            .map(|i| samples.crossing(i.saturating_sub(1), false));
        let by_flow = samples.flow_end(top, ceiling.saturating_sub(1));
        let Some(end) = by_pressure.into_iter().chain(by_flow).reduce(f64::min) else {
            continue;
        };
        let start = samples.crossing(opening, true);
        let flow_start = samples.flow_start(from, floor);
        found.push(Found {
            start,
            end,
            flow_start: flow_start.map(|flow| samples.not_before_opening(flow, start)),
            flow_end: by_flow.map(|flow| samples.not_after_closing(end, flow)),
        });
    }
    // Where the pressure difference leaves zero more slowly than its noise shows, the flow tells better when it did: for all beats alike.
    let starts = samples.not_opposed(found.iter().filter_map(|f| Some((f.flow_start?, f.start))));
    let ends = samples.not_opposed(found.iter().filter_map(|f| Some((f.end, f.flow_end?))));
    let mut periods: Vec<FlowPeriod> = found
        .iter()
        .filter_map(|f| {
            let start = f.flow_start.filter(|flow| starts && *flow < f.start);
            let end = f.flow_end.filter(|flow| ends && *flow > f.end);
            let mut period = samples.period(start.unwrap_or(f.start), end.unwrap_or(f.end))?;
            if let Some(other) = start.or(end).and_then(|_| samples.period(f.start, f.end)) {
                period.by_ends = (
                    other.rms_flow_ml_s - period.rms_flow_ml_s,
                    other.mean_gradient_mmhg - period.mean_gradient_mmhg,
                );
            }
            Some(period)
        })
        .collect();
    periods.retain(|period| period.mean_gradient_mmhg > 0.0 && period.mean_flow_ml_s > 0.0);
    let middle = quantile(periods.iter().map(|p| p.end_s - p.start_s), 0.5);
    periods.retain(|p| (p.end_s - p.start_s - middle).abs() <= ODD_LENGTH * middle);
    if periods.is_empty() {
        return Err(FlowError::NoWholeBeat);
    }
    Ok(periods)
}
