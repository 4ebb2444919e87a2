//! Leak: at rest the pressure falls without slowing down; the square root of the pressure falls linearly (outflow through a hole).

use super::{Context, Detector};
use crate::calibrate::median;
use crate::recording::{Event, EventKind, Grade};
use crate::segment::State;
use crate::uncertain::Quantity;

/// Shortest rest that tells a leak from noise, s.
const SHORTEST_S: f64 = 0.25;
/// A long rest, s: here it must not slow down.
const LONG_S: f64 = 1.0;
/// The second half of a long rest loses at least this share of what the first loses (in the square root of pressure). A relaxation
/// with a time constant below the length of the rest loses less.
const HALVES_SHARE: f64 = 0.5;
/// A leak loses at least this share of the pressure over the last long rest: less cannot be told from drift and creep.
const LOST_SHARE: f64 = 0.01;
/// Pressures below this share of the highest are not looked at.
const LOW_SHARE: f64 = 0.05;

/// A rest under pressure.
struct Rest {
    from: usize,
    to: usize,
    /// Relative loss of pressure a second.
    loss_per_s: f64,
    /// True where the loss stands out of the noise and does not slow down.
    leaking: bool,
    long: bool,
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
        let rests = rests(context);
        // The last long rest must leak, and from the onset on every rest must.
        let Some(last) = rests.iter().rposition(|r| r.long) else {
            return Vec::new();
        };
        if !rests[last].leaking {
            return Vec::new();
        }
        let steady = rests[last].loss_per_s;
        let mut first = last;
        while first > 0 && rests[first - 1].loss_per_s > 0.3 * steady {
            first -= 1;
        }
        vec![event(context, &rests, first, last)]
    }
}

fn event(context: &Context<'_>, rests: &[Rest], first: usize, last: usize) -> Event {
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
    let u = trace.u_pressure_at(p);
    let loss = rests[last].loss_per_s;
    Event {
        kind: EventKind::Leak,
        t_s: Some(f64::midpoint(t_lo, t_hi)),
        t_lo_s: Some(t_lo),
        t_hi_s: Some(t_hi),
        sample: trace.row.get(onset_hi).copied(),
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
        confidence: (1.0 - (-loss / context.settings.leak_share_per_s).exp()).clamp(0.0, 0.99),
        grade: Grade::TraceOnly,
        evidence: vec![
            format!(
                "at rest the pressure falls by {:.1} % a second and does not slow down",
                100.0 * loss
            ),
            "no fast edge begins it".to_owned(),
        ],
        before: onset_lo,
        after: onset_hi,
    }
}

fn rests(context: &Context<'_>) -> Vec<Rest> {
    let trace = context.trace;
    let low = LOW_SHARE * context.highest();
    let end = context.deflation_start();
    context
        .motion
        .stretches()
        .into_iter()
        .filter(|(state, from, to)| {
            let quiet = *state == State::Still;
            quiet && *from >= trace.handover.unwrap_or(0) && *to <= end
        })
        .filter(|(_, from, to)| trace.time_s[to - 1] - trace.time_s[*from] >= SHORTEST_S)
        .filter_map(|(_, from, to)| rest(context, from, to))
        .filter(|r| median(&trace.pressure_kpa[r.from..r.to]) > low)
        .collect()
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
    let at: Vec<usize> = (from..to)
        .filter(|&i| trace.pressure_kpa[i].is_finite() && !trace.clipped[i])
        .collect();
    if at.len() < 3 {
        return None;
    }
    let seconds = trace.time_s[at[at.len() - 1]] - trace.time_s[at[0]];
    if seconds < SHORTEST_S {
        return None;
    }
    let root = |range: &[usize]| {
        slope(
            range
                .iter()
                .map(|&i| (trace.time_s[i], trace.pressure_kpa[i].max(0.0).sqrt())),
        )
    };
    let whole = slope(at.iter().map(|&i| (trace.time_s[i], trace.pressure_kpa[i])));
    let mean = at.iter().map(|&i| trace.pressure_kpa[i]).sum::<f64>() / at.len() as f64;
    let loss_per_s = if mean > 0.0 { -whole / mean } else { 0.0 };
    let long = seconds >= LONG_S;
    let (a, b) = at.split_at(at.len() / 2);
    let (early, late) = (-root(a), -root(b));
    let noise = trace.noise_kpa * 12.0_f64.sqrt() / (seconds * (at.len() as f64).sqrt());
    let lost = -whole * seconds;
    let leaking = lost > (LOST_SHARE * mean).max(6.0 * trace.noise_kpa)
        && loss_per_s > context.settings.leak_share_per_s
        && -whole > 5.0 * noise
        && late > HALVES_SHARE * early;
    Some(Rest {
        from,
        to,
        loss_per_s,
        leaking,
        long,
    })
}

fn slope(points: impl Iterator<Item = (f64, f64)>) -> f64 {
    let points: Vec<(f64, f64)> = points.collect();
    let n = points.len() as f64;
    let (mx, my) = (
        points.iter().map(|p| p.0).sum::<f64>() / n,
        points.iter().map(|p| p.1).sum::<f64>() / n,
    );
    let xx: f64 = points.iter().map(|p| (p.0 - mx).powi(2)).sum();
    let xy: f64 = points.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum();
    if xx > 0.0 { xy / xx } else { 0.0 }
}
