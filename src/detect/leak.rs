//! Leak: at rest the pressure falls without slowing down; the square root of the pressure falls linearly (outflow through a hole).
//!
//! A ductile frame that creeps loses pressure at rest too, as fast as a pinhole does. The difference is the shape: creep dies out within
//! seconds and begins anew after every stroke, a hole knows nothing of strokes.

use super::{Context, Detector};
use crate::calibrate::median;
use crate::fit::polynomial_fit;
use crate::recording::{Event, EventKind, Grade, Odds, PhaseKind, Trace};
use crate::rig::settings;
use crate::segment::State;
use crate::stats::normal_cdf;
use crate::uncertain::Quantity;

/// ... looked at in so many steps.
const RELAXES_STEPS: usize = 60;

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
        let is = &context.settings.leak;
        let stretches = stretches(context);
        let low = is.low_share * context.highest();
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
        while first > 0 && rests[first - 1].loss_per_s > is.onset_share * steady {
            first -= 1;
        }
        let over = leak_over_relaxation(&rests[first..=last], steady, is);
        if over <= 0.0 {
            return Vec::new();
        }
        vec![event(context, &rests, (first, last), over)]
    }
}

/// Logarithm of how much likelier a leak is than relaxation, from how the long rests together slow down and from how much is lost.
fn leak_over_relaxation(rests: &[Rest], loss_per_s: f64, is: &settings::Leak) -> f64 {
    let loss = is.loss_power * (loss_per_s / is.creeps_share_per_s).ln();
    let loss = loss.clamp(-is.loss_sure_log_odds, is.loss_sure_log_odds);
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
    let (slow, fast) = (is.relaxes_slowest_s.recip(), is.relaxes_fastest_s.recip());
    let at = |k: usize| slow * (fast / slow).powf(k as f64 / RELAXES_STEPS as f64);
    let relaxes = (0..RELAXES_STEPS)
        .map(|k| between(at(k), at(k + 1)))
        .sum::<f64>()
        / RELAXES_STEPS as f64;
    let leaks = between(
        -is.slows_least_per_s,
        (is.slows_with_loss_ratio * loss_per_s).max(is.slows_least_per_s),
    );
    let shape = (leaks.max(f64::MIN_POSITIVE) / relaxes.max(f64::MIN_POSITIVE)).ln();
    loss + shape.clamp(-is.sure_log_odds, is.sure_log_odds)
}

fn event(context: &Context<'_>, rests: &[Rest], (first, last): (usize, usize), over: f64) -> Event {
    let (trace, is) = (context.trace, &context.settings.leak);
    let onset_hi = rests[first].from;
    let onset_lo = if first > 0 {
        rests[first - 1].to - 1
    } else {
        onset_hi.saturating_sub(1)
    };
    let t_lo = trace.time_s[onset_lo.min(onset_hi)];
    let t_hi = trace.time_s[onset_hi];
    let beside = is.beside_samples;
    let level = |i: usize| {
        let (from, to) = (i.saturating_sub(beside), (i + beside + 1).min(trace.len()));
        median(&trace.pressure_kpa[from..to])
    };
    let (p, p_end) = (level(onset_hi), level(rests[last].to - 1));
    let u = trace.u_pressure_at(p, trace.time_s[onset_hi]);
    let loss = rests[last].loss_per_s;
    // Against a hold that only seems to lose: normal noise.
    let steady = (-0.5 * rests[last].loss_sigmas.powi(2)).max(-is.hold_sure_log_odds);
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
    let (trace, is) = (context.trace, &context.settings.leak);
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
        .filter(|(from, to)| trace.time_s[to - 1] - trace.time_s[*from] >= is.shortest_s)
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
    let (trace, is) = (context.trace, &context.settings.leak);
    // Sudden falls inside a rest are events of their own: only what follows the last of them counts.
    let from = context
        .falls
        .iter()
        .filter(|f| f.after > from && f.first < to)
        .map(|f| f.after + is.after_fall_samples)
        .fold(from, usize::max);
    let points = Points::of(trace, from, to)?;
    let (p, n) = (&points.pressure_kpa, points.samples as f64);
    let seconds = points.last_s - points.first_s;
    if seconds < is.shortest_s {
        return None;
    }
    let whole = slope(&points.time_s, p);
    let mean = p.iter().sum::<f64>() / p.len() as f64;
    let loss_per_s = if mean > 0.0 { -whole / mean } else { 0.0 };
    let long = seconds >= is.long_s;
    let noise = trace.noise_kpa * 12.0_f64.sqrt() / (seconds * n.sqrt());
    let lost = -whole * seconds;
    // A leak starts from the highest pressure of the rest and ends at zero: what first rises is a stroke too slow to be told, and what
    // passes through zero is pulled by a hand.
    let tip = ((is.tips_share * p.len() as f64) as usize).max(1);
    let (start, end) = (median(&p[..tip]), median(&p[p.len() - tip..]));
    let top = p.iter().copied().fold(0.0, f64::max);
    let from_the_top = start > is.top_share * top
        && end > -(is.lost_sigmas * trace.noise_kpa + is.lost_share * top);
    let losing = long
        && from_the_top
        && lost > (is.lost_share * mean).max(is.lost_sigmas * trace.noise_kpa)
        && loss_per_s > context.settings.leak_share_per_s
        && -whole > is.loss_sigmas * noise;
    Some(Rest {
        from,
        to,
        middle_kpa: median(p),
        loss_per_s,
        loss_sigmas: -whole / noise,
        losing,
        long,
        shape: losing.then(|| shape(&points, is.ends_s)).flatten(),
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
fn shape(points: &Points, ends_s: f64) -> Option<Shape> {
    let (start, end) = (points.first_s + ends_s, points.last_s - ends_s);
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
