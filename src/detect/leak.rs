//! Leak: at rest the pressure falls without slowing down; the square root of the pressure falls linearly (outflow through a hole).
//!
//! A ductile frame that creeps loses pressure at rest too, as fast as a pinhole does. The difference is the shape: creep dies out within
//! seconds and begins anew after every stroke, a hole knows nothing of strokes.

use super::{Context, Detector};
use crate::calibrate::median;
use crate::fit::polynomial_fit;
use crate::recording::{Event, EventKind, Grade, Odds, PhaseKind, Trace};
use crate::segment::State;
use crate::stats::normal_cdf;
use crate::uncertain::Quantity;

/// Shortest rest that tells a leak from noise, s.
const SHORTEST_S: f64 = 0.25;
/// A long rest, s: here it must not slow down.
const LONG_S: f64 = 1.0;
/// The ends of a rest may still move, s: the half window that motion is told by.
const ENDS_S: f64 = 0.15;
/// Frames relax with time constants in this range, s (polymers and metals, common practice, no source), every ratio being as likely ...
const RELAXES_S: (f64, f64) = (0.2, 20.0);
/// ... looked at in so many steps.
const RELAXES_STEPS: usize = 60;
/// A leak slows down as well where the capacity of line and balloon grows with the pressure it loses: by up to so many times its relative
/// loss a second, every value being as likely ...
const SLOWS_WITH_LOSS: f64 = 1.5;
/// ... and by this much either way, 1/s: what drift makes of it.
const SLOWS_LEAST: f64 = 0.01;
/// Relative loss a second of a frame that creeps much; a leak of a multiple of it is that power more likely ...
const CREEPS_PER_S: f64 = 0.03;
const LOSS_POWER: f64 = 3.0;
/// ... up to this, as a logarithm: holes are of every size.
const LOSS_SURE: f64 = 2.0;
/// No comparison says more than this, as a logarithm.
const SURE: f64 = 6.0;
/// ... but against a hold, where only noise counts, up to this.
const HOLD_SURE: f64 = 12.0;
/// A leak loses at least this share of the pressure over the last long rest: less cannot be told from drift and creep.
const LOST_SHARE: f64 = 0.01;
/// A rest belongs to the leak if it loses this share of what the last one does.
const ONSET_SHARE: f64 = 0.3;
/// What is lost must stand out of the noise of a sample by so many standard deviations ...
const LOST_SIGMAS: f64 = 6.0;
/// ... and the pace of the loss out of its own uncertainty.
const LOSS_SIGMAS: f64 = 5.0;
/// A leaking rest begins at this share of its highest pressure or more.
const TOP_SHARE: f64 = 0.85;
/// Pressures below this share of the highest are not looked at.
const LOW_SHARE: f64 = 0.05;

/// A rest is told from so many points: more of them, each with more noise, tell the same.
const MOST_POINTS: usize = 4000;

/// A rest under pressure.
struct Rest {
    from: usize,
    to: usize,
    /// Median pressure, kPa.
    middle_kpa: f64,
    /// Relative loss of pressure a second.
    loss_per_s: f64,
    /// Loss over its own standard uncertainty.
    loss_sigmas: f64,
    /// True for a long rest whose loss stands out of the noise.
    losing: bool,
    long: bool,
    /// Shape of a long rest.
    shape: Option<Shape>,
}

/// How the square root of the pressure falls in the middle of a rest.
#[derive(Clone, Copy)]
struct Shape {
    /// Speed of the fall, √kPa/s.
    speed: f64,
    /// By how much it slows down, √kPa/s².
    slows: f64,
    /// Variance of that.
    var_slows: f64,
}

/// See the module.
pub(super) struct Leak;

impl Detector for Leak {
    fn name(&self) -> &'static str {
        "leak"
    }

    fn looks_for(&self) -> &'static str {
        "pressure that falls at rest without slowing down, in every rest from some moment on"
    }

    fn find(&self, context: &Context<'_>) -> Vec<Event> {
        let stretches = stretches(context);
        let low = LOW_SHARE * context.highest();
        let rest =
            |(from, to): &(usize, usize)| rest(context, *from, *to).filter(|r| r.middle_kpa > low);
        // The last long rest must leak: in most runs it does not, and no other need be looked at.
        let last = stretches.iter().rev().filter_map(rest).find(|r| r.long);
        if last.is_none_or(|r| !r.losing) {
            return Vec::new();
        }
        // From the onset on every rest must.
        let rests: Vec<Rest> = stretches.iter().filter_map(rest).collect();
        let Some(last) = rests.iter().rposition(|r| r.long) else {
            return Vec::new();
        };
        let steady = rests[last].loss_per_s;
        let mut first = last;
        while first > 0 && rests[first - 1].loss_per_s > ONSET_SHARE * steady {
            first -= 1;
        }
        let over = leak_over_relaxation(&rests[first..=last], steady);
        if over <= 0.0 {
            return Vec::new();
        }
        vec![event(context, &rests, (first, last), over)]
    }
}

/// Logarithm of how much likelier a leak is than relaxation, from how the long rests together slow down and from how much is lost.
fn leak_over_relaxation(rests: &[Rest], loss_per_s: f64) -> f64 {
    let loss = (LOSS_POWER * (loss_per_s / CREEPS_PER_S).ln()).clamp(-LOSS_SURE, LOSS_SURE);
    // One relative slowing for all rests, weighted by what each tells of it.
    let (mut product, mut square) = (0.0, 0.0);
    for shape in rests.iter().filter_map(|r| r.shape) {
        product += shape.slows * shape.speed / shape.var_slows;
        square += shape.speed * shape.speed / shape.var_slows;
    }
    if square <= 0.0 {
        return loss;
    }
    let (slows, u) = (product / square, square.sqrt().recip());
    // Mean likelihood of a slowing between two values, up to a factor.
    let between = |from: f64, to: f64| {
        (normal_cdf((to - slows) / u) - normal_cdf((from - slows) / u)) / (to - from)
    };
    // A parabola through a relaxation slows down by 1/τ.
    let (slow, fast) = (RELAXES_S.1.recip(), RELAXES_S.0.recip());
    let at = |k: usize| slow * (fast / slow).powf(k as f64 / RELAXES_STEPS as f64);
    let relaxes = (0..RELAXES_STEPS)
        .map(|k| between(at(k), at(k + 1)))
        .sum::<f64>()
        / RELAXES_STEPS as f64;
    let leaks = between(
        -SLOWS_LEAST,
        (SLOWS_WITH_LOSS * loss_per_s).max(SLOWS_LEAST),
    );
    let shape = (leaks.max(f64::MIN_POSITIVE) / relaxes.max(f64::MIN_POSITIVE)).ln();
    loss + shape.clamp(-SURE, SURE)
}

fn event(context: &Context<'_>, rests: &[Rest], (first, last): (usize, usize), over: f64) -> Event {
    let trace = context.trace;
    let onset_hi = rests[first].from;
    let onset_lo = if first > 0 {
        rests[first - 1].to - 1
    } else {
        onset_hi.saturating_sub(1)
    };
    let t_lo = trace.time_s[onset_lo.min(onset_hi)];
    let t_hi = trace.time_s[onset_hi];
    let level =
        |i: usize| median(&trace.pressure_kpa[i.saturating_sub(2)..(i + 3).min(trace.len())]);
    let (p, p_end) = (level(onset_hi), level(rests[last].to - 1));
    let u = trace.u_pressure_at(p, trace.time_s[onset_hi]);
    let loss = rests[last].loss_per_s;
    // Against a hold that only seems to lose: normal noise.
    let steady = (-0.5 * rests[last].loss_sigmas.powi(2)).max(-HOLD_SURE);
    let odds = |mine: f64, a: f64, b: f64| mine - (a.exp() + b.exp()).ln();
    let (leak, relaxation, hold) = (
        odds(over, 0.0, steady),
        odds(0.0, over, steady),
        odds(steady, over, 0.0),
    );
    Event {
        kind: EventKind::Leak,
        t_s: Some(f64::midpoint(t_lo, t_hi)),
        t_lo_s: Some(t_lo),
        t_hi_s: Some(t_hi),
        sample: trace.row.get(onset_hi).map(|row| row as usize),
        pressure: Quantity::known(
            p,
            u.hypot(trace.noise_kpa),
            "kPa",
            "pressure at the first rest that leaks",
        ),
        drop: Quantity::known(
            p - p_end,
            (u * u + trace.noise_kpa.powi(2)).sqrt(),
            "kPa",
            "from there to the end of the last rest",
        ),
        volume: trace.volume_ml.as_ref().map_or_else(
            || Quantity::missing("mL", "no volume channel"),
            |v| {
                Quantity::known(
                    v[onset_hi],
                    trace.u_volume_ml.hypot(trace.u_volume_rel * v[onset_hi]),
                    "mL",
                    "injected volume at the onset",
                )
            },
        ),
        pressures: Vec::new(),
        confidence: (1000.0 / (1.0 + (-leak).exp())).round() / 1000.0,
        log_odds: [("leak", leak), ("relaxation", relaxation), ("hold", hold)]
            .map(|(of, log_odds)| Odds {
                of: of.to_owned(),
                log_odds: (100.0 * log_odds).round() / 100.0,
            })
            .to_vec(),
        grade: Grade::TraceOnly,
        evidence: vec![
            format!(
                "for ({over:+.1}): at rest the pressure falls by {:.1} % a second and slows down no more than a leak does",
                100.0 * loss
            ),
            format!(
                "for ({:+.1}): the loss is {:.0} times its own uncertainty",
                -steady, rests[last].loss_sigmas
            ),
            "no fast edge begins it".to_owned(),
        ],
        before: onset_lo,
        after: onset_hi,
    }
}

/// Stretches of rest under pressure with the balloon in sight: first sample, and one past the last.
fn stretches(context: &Context<'_>) -> Vec<(usize, usize)> {
    let trace = context.trace;
    let end = context.deflation_start();
    context
        .motion
        .stretches()
        .iter()
        .copied()
        .filter(|(state, from, to)| {
            let quiet = *state == State::Still;
            quiet && *from >= trace.handover.unwrap_or(0) && *to <= end
        })
        .flat_map(|(_, from, to)| in_sight(context, from, to))
        .filter(|(from, to)| trace.time_s[to - 1] - trace.time_s[*from] >= SHORTEST_S)
        .filter(|(from, to)| !in_refill(context, usize::midpoint(*from, *to)))
        .collect()
}

/// While volume is out for a refill, a balloon that relaxes back hides a leak.
fn in_refill(context: &Context<'_>, sample: usize) -> bool {
    context
        .phases
        .iter()
        .any(|p| p.kind == PhaseKind::Refill && p.start <= sample && sample < p.end)
}

/// Parts of a stretch in which the stopcock was open.
fn in_sight(context: &Context<'_>, from: usize, to: usize) -> Vec<(usize, usize)> {
    let mut parts = Vec::new();
    let mut start = from;
    for &(shut, open) in context.shut {
        if open > start && shut < to {
            parts.push((start, shut.max(start)));
            start = open;
        }
    }
    parts.push((start, to));
    parts.retain(|(a, b)| b > a);
    parts
}

fn rest(context: &Context<'_>, from: usize, to: usize) -> Option<Rest> {
    let trace = context.trace;
    // Sudden falls inside a rest are events of their own: only what follows the last of them counts.
    let from = context
        .falls
        .iter()
        .filter(|f| f.after > from && f.first < to)
        .map(|f| f.after + 2)
        .fold(from, usize::max);
    let points = Points::of(trace, from, to)?;
    let (p, n) = (&points.pressure_kpa, points.samples as f64);
    let seconds = points.last_s - points.first_s;
    if seconds < SHORTEST_S {
        return None;
    }
    let whole = slope(&points.time_s, p);
    let mean = p.iter().sum::<f64>() / p.len() as f64;
    let loss_per_s = if mean > 0.0 { -whole / mean } else { 0.0 };
    let long = seconds >= LONG_S;
    let noise = trace.noise_kpa * 12.0_f64.sqrt() / (seconds * n.sqrt());
    let lost = -whole * seconds;
    // A leak starts from the highest pressure of the rest and ends at zero: what first rises is a stroke too slow to be told, and what
    // passes through zero is pulled by a hand.
    let tenth = (p.len() / 10).max(1);
    let (start, end) = (median(&p[..tenth]), median(&p[p.len() - tenth..]));
    let top = p.iter().copied().fold(0.0, f64::max);
    let from_the_top =
        start > TOP_SHARE * top && end > -(LOST_SIGMAS * trace.noise_kpa + LOST_SHARE * top);
    let losing = long
        && from_the_top
        && lost > (LOST_SHARE * mean).max(LOST_SIGMAS * trace.noise_kpa)
        && loss_per_s > context.settings.leak_share_per_s
        && -whole > LOSS_SIGMAS * noise;
    Some(Rest {
        from,
        to,
        middle_kpa: median(p),
        loss_per_s,
        loss_sigmas: -whole / noise,
        losing,
        long,
        shape: losing.then(|| shape(&points)).flatten(),
    })
}

/// The samples of a rest that tell a pressure, as means over as many of them as leave [`MOST_POINTS`] points.
struct Points {
    time_s: Vec<f64>,
    pressure_kpa: Vec<f64>,
    /// Samples they are means of.
    samples: usize,
    first_s: f64,
    last_s: f64,
}

impl Points {
    /// `None` for fewer than three samples.
    fn of(trace: &Trace, from: usize, to: usize) -> Option<Self> {
        let (time_s, pressure_kpa) = (&trace.time_s[..], &trace.pressure_kpa[..]);
        let told = |i: &usize| pressure_kpa[*i].is_finite() && !trace.clipped[*i];
        let samples = (from..to).filter(told).count();
        if samples < 3 {
            return None;
        }
        let each = samples.div_ceil(MOST_POINTS);
        let mut points = Self {
            time_s: Vec::with_capacity(samples / each + 1),
            pressure_kpa: Vec::with_capacity(samples / each + 1),
            samples,
            first_s: time_s[(from..to).find(told)?],
            last_s: time_s[(from..to).rev().find(told)?],
        };
        let (mut t, mut p, mut count) = (0.0, 0.0, 0);
        for (at, i) in (from..to).filter(told).enumerate() {
            t += time_s[i];
            p += pressure_kpa[i];
            count += 1;
            if count == each || at + 1 == samples {
                points.time_s.push(t / count as f64);
                points.pressure_kpa.push(p / count as f64);
                (t, p, count) = (0.0, 0.0, 0);
            }
        }
        Some(points)
    }
}

/// Parabola through the square root of the pressure of a rest without its ends.
fn shape(points: &Points) -> Option<Shape> {
    let (start, end) = (points.first_s + ENDS_S, points.last_s - ENDS_S);
    let middle = f64::midpoint(start, end);
    let (t, root): (Vec<f64>, Vec<f64>) = points
        .time_s
        .iter()
        .zip(&points.pressure_kpa)
        .filter(|(t, _)| **t >= start && **t <= end)
        .map(|(t, p)| (t - middle, p.max(0.0).sqrt()))
        .unzip();
    let fit = polynomial_fit(&t, &root, 2, None).ok()?;
    let u = 2.0 * fit.u(2).ok()?;
    Some(Shape {
        speed: -fit.parameters[1],
        slows: 2.0 * fit.parameters[2],
        var_slows: u * u,
    })
}

fn slope(x: &[f64], y: &[f64]) -> f64 {
    let n = x.len() as f64;
    let (mx, my) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
    let xx: f64 = x.iter().map(|x| (x - mx).powi(2)).sum();
    let xy: f64 = x.iter().zip(y).map(|(x, y)| (x - mx) * (y - my)).sum();
    if xx > 0.0 { xy / xx } else { 0.0 }
}
