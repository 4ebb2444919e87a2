//! The offset between two clocks by pulses given to a marker channel of both recordings.

use super::grid::usual_step;
use super::{Alignment, LARGEST_DRIFT, Search, Signal};

/// An edge is where the marker passes this share of its height ...
const RISEN: f64 = 0.5;
/// ... after it was below this share, so that noise at the edge is no second pulse.
const FALLEN: f64 = 0.3;
/// Lowest level: that below which a marker is a twentieth of the time. A pulse may be one sample, so the highest level is the top.
const LOW_SHARE: f64 = 0.05;
/// A marker has a few pulses a run; so many are looked at.
const MOST_PULSES: usize = 300;
/// An edge is found within this many steps of both clocks together.
const NEAR_STEPS: f64 = 1.5;
/// The second-best offset may match this share of the pulses of the best.
const SECOND_SHARE: f64 = 0.75;

/// Times of the rising edges (s), straight between the samples, and the standard uncertainty of one (s): it lies somewhere in its step.
pub fn rising_edges(signal: Signal<'_>) -> (Vec<f64>, f64) {
    let mut sorted: Vec<f64> = signal
        .values
        .iter()
        .copied()
        .filter(|v| v.is_finite())
        .collect();
    sorted.sort_by(f64::total_cmp);
    let low = sorted.get((LOW_SHARE * sorted.len() as f64) as usize);
    let (Some(&low), Some(&high)) = (low, sorted.last()) else {
        return (Vec::new(), f64::NAN);
    };
    let u = usual_step(signal) / 12.0_f64.sqrt();
    let (rise, fall) = (low + RISEN * (high - low), low + FALLEN * (high - low));
    let mut edges = Vec::new();
    let mut armed = false;
    let mut before: Option<(f64, f64)> = None;
    for (t, v) in signal
        .time_s
        .iter()
        .copied()
        .zip(signal.values.iter().copied())
    {
        if !v.is_finite() {
            // What the marker did meanwhile is not known.
            (armed, before) = (false, None);
            continue;
        }
        if let Some((t0, v0)) = before
            && armed
            && v >= rise
            && high > low
        {
            edges.push(t0 + (t - t0) * ((rise - v0) / (v - v0)).clamp(0.0, 1.0));
            armed = false;
        }
        armed |= v < fall;
        before = Some((t, v));
    }
    (edges, u)
}

/// Matches the pulses of both markers and places the further clock by them. Pulses that only one recording has are left out.
///
/// # Errors
/// Why there is no one offset: no pulses, or several that fit alike (pulses at even distances).
pub fn match_pulses(
    main: Signal<'_>,
    own: Signal<'_>,
    search: Search,
) -> Result<Alignment, String> {
    let ((mut theirs, u_main), (mut ours, u_own)) = (rising_edges(main), rising_edges(own));
    theirs.truncate(MOST_PULSES);
    ours.truncate(MOST_PULSES);
    for (edges, whose) in [(&theirs, "main"), (&ours, "further")] {
        if edges.is_empty() {
            return Err(format!("the marker of the {whose} recording has no pulse"));
        }
    }
    let near = NEAR_STEPS * (u_main + u_own) * 12.0_f64.sqrt();
    let mut tried: Vec<(usize, f64, usize)> = Vec::new();
    for (at, own) in ours.iter().enumerate() {
        for main in &theirs {
            let offset = main - own;
            let inside = search
                .max_offset_s
                .is_none_or(|most| (offset - search.guess_s).abs() <= most);
            if inside {
                tried.push((pairs(&theirs, &ours, offset, *own, near).len(), offset, at));
            }
        }
    }
    let Some(&(most, offset, at)) = tried.iter().max_by(|a, b| {
        (a.0, b.1.abs())
            .partial_cmp(&(b.0, a.1.abs()))
            .unwrap_or(std::cmp::Ordering::Equal)
    }) else {
        return Err("no pair of pulses lies within max_offset_s".to_owned());
    };
    let span = ours.last().unwrap_or(&0.0) - ours.first().unwrap_or(&0.0);
    let same = near + LARGEST_DRIFT * span;
    let second = tried
        .iter()
        .filter(|t| (t.1 - offset).abs() > 2.0 * same)
        .max_by_key(|t| t.0);
    if let Some(second) = second
        && second.0 as f64 > SECOND_SHARE * most as f64
    {
        return Err(format!(
            "two offsets match the pulses alike: {offset:.3} s ({most} pulses) and {:.3} s ({})",
            second.1, second.0
        ));
    }
    let start = ours.get(at).copied().unwrap_or(0.0);
    let u = u_main.hypot(u_own);
    let places: Vec<(f64, f64, f64)> = pairs(&theirs, &ours, offset, start, near)
        .into_iter()
        .map(|(main, own)| (own, main - own, u))
        .collect();
    Alignment::through(&places, search.drift)
        .ok_or_else(|| "no pulses match".to_owned())?
        .plausible()
}

/// Pulses of both that lie together at an offset that holds at `start`, each used once. Farther from there a drift may part them.
fn pairs(main: &[f64], own: &[f64], offset: f64, start: f64, near: f64) -> Vec<(f64, f64)> {
    let mut found: Vec<(f64, f64)> = Vec::new();
    let mut from = 0;
    for t in own {
        let at = t + offset;
        let tolerance = near + LARGEST_DRIFT * (t - start).abs();
        while main.get(from).is_some_and(|m| *m < at - tolerance) {
            from += 1;
        }
        let nearest = main
            .iter()
            .enumerate()
            .skip(from)
            .take_while(|(_, m)| **m <= at + tolerance)
            .min_by(|a, b| (a.1 - at).abs().total_cmp(&(b.1 - at).abs()));
        if let Some((k, m)) = nearest {
            found.push((*m, *t));
            from = k + 1;
        }
    }
    found
}
