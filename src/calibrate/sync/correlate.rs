//! The offset between two clocks by cross-correlation of what both recordings saw.

use super::grid::{common_step, half_width, on_grid, usual_step};
use super::window::{FEWEST, Window};
use super::{Alignment, LARGEST_DRIFT, Search, Signal, birge};
use crate::calibrate::{difference_sigma, mad_sigma, median};
use rustfft::{Fft, FftPlanner, num_complex::Complex};
use std::sync::Arc;

/// Rates above so many times the one that is exceeded a twentieth of the time are cut off: a deflation or a break, which one
/// channel may see larger than the other, shall not outweigh all strokes.
const CUT: f64 = 3.0;
/// Share of the time that is meant.
const FAST_SHARE: f64 = 0.05;
/// An offset counts only where recordings overlap so long, s (one stroke with its hold) ...
const LEAST_OVERLAP_S: f64 = 5.0;
/// ... and where at least this share of the movement of one of them lies in the overlap.
const LEAST_MOVEMENT: f64 = 0.5;
/// Correlation (of rates of change) below which two recordings have nothing to do with each other: with some fifty independent
/// strokes, holds and edges, chance reaches four standard deviations, 4/√50, over all offsets tried.
const LEAST_CORRELATION: f64 = 0.55;
/// The second-best offset may reach this share of the best correlation: regular strokes look alike one stroke later.
const SECOND_SHARE: f64 = 0.85;
/// Two different quantities need not move at once: a waist that gives way lags behind the pressure that drives it, by how much the
/// recordings do not tell. Half width of a rectangle, s: as long as an edge of a stroke takes (twice the lag seen on the simulated bench, no
/// source).
const LAG_S: f64 = 0.2;
/// Rates of noise alone stay below so many robust standard deviations; strokes and deflation stand out of it.
const STILL_SIGMAS: f64 = 5.0;
/// Sums over a constant channel leave this share of its size (rounding).
const ROUNDING: f64 = 1e-9;
/// Usual length of a window, s, and how many there may be: enough strokes in each, enough of them to see a drift.
const WINDOW_S: f64 = 5.0;
const WINDOWS: (usize, usize) = (6, 24);
/// A window agrees if the main channel explains this much of the further one (correlation) at an offset inside the search.
const WINDOW_CORRELATION: f64 = 0.7;
/// Of the windows in which something moves at least this share must agree, and so many at all: three would agree by chance.
const WINDOWS_AGREE: f64 = 0.7;
const FEWEST_WINDOWS: usize = 4;
/// Windows of two recordings that share nothing fit each other at any offset searched. That they agree as they do may be chance once in so
/// many tries: of pairs of runs of one operator 7 % came as far as this, so that less than one pair in a thousand passes.
const BY_CHANCE: f64 = 1e-2;
/// The further channel moves in a window if it spreads over so many standard deviations of its noise ...
const MOVED_SIGMAS: f64 = 3.0;
/// ... and this share of its spread over the whole overlap.
const MOVED_SHARE: f64 = 0.02;
/// A window further off the line of the others than so many robust standard deviations saw something else; fewer windows than so many
/// do not tell which of them is off.
const STEADY_SIGMAS: f64 = 4.0;
const STEADY_LEAST: usize = 5;
/// A window tells something if its offset is known to this, smoothing widths.
const TELLING: f64 = 0.5;

/// Finds the offset of the clock of `own` to that of `main`. The message says why there is none.
///
/// Both channels are put on a common even grid and smoothed (for this only), turned into rates of change (which takes mean and trend out),
/// cut where only one may be large, and correlated over all offsets by FFT with zero padding; at every offset the correlation is normalised
/// by the movement inside the overlap. The best offset must stand out. Then windows along the run place it to fractions
/// of a step by least squares, and a weighted straight line through them gives offset and drift ([`Alignment::through`]).
pub fn correlate(main: Signal<'_>, own: Signal<'_>, search: Search) -> Result<Alignment, String> {
    let step = common_step(main, own);
    let steps = [step, usual_step(main), usual_step(own)];
    if steps.iter().any(|s| !(s.is_finite() && *s > 0.0)) {
        return Err("a recording has too few values".to_owned());
    }
    // What averaging and smoothing leave of the noise of one sample.
    let averaged = (2 * half_width(step) + 1) as f64 * step / usual_step(own);
    let noise = difference_sigma(own.values) / averaged.sqrt();
    let main_rounding = ROUNDING * largest(main.values);
    let own_rounding = ROUNDING * largest(own.values);
    let (main, own) = (on_grid(main, step), on_grid(own, step));
    let (main_rate, own_rate) = (rate(&main), rate(&own));
    for (rates, rounding, whose) in [
        (&main_rate, main_rounding, "main"),
        (&own_rate, own_rounding, "further"),
    ] {
        if rates.iter().filter(|r| r.is_finite()).count() < FEWEST {
            return Err(format!(
                "the channel of the {whose} recording is too short or full of gaps"
            ));
        }
        if let Some(reason) = still(rates, rounding) {
            return Err(format!("the channel of the {whose} recording {reason}"));
        }
    }
    let lags = Lags::of(&prepared(&main_rate), &prepared(&own_rate), step);
    let (lag, best) = lags.best(search)?;
    let own = without_jumps(own, &own_rate, 2 * half_width(step) + 1);
    let mut line = through_windows(&main, &own, lag, step, noise, search)?;
    line.correlation = Some(best);
    if search.curved {
        line.u_offset_s = line.u_offset_s.hypot(LAG_S / 3.0_f64.sqrt());
    }
    Ok(line)
}

/// Rate of change a grid step, from the neighbours.
fn rate(values: &[f64]) -> Vec<f64> {
    let mut rates = vec![f64::NAN; values.len()];
    for (rate, around) in rates.iter_mut().skip(1).zip(values.windows(3)) {
        *rate = around[2] - around[0];
    }
    rates
}

/// Why nothing can be seen to move, if so.
fn still(rates: &[f64], rounding: f64) -> Option<&'static str> {
    let top = largest(rates);
    if top <= rounding {
        Some("never changes")
    } else if top < STILL_SIGMAS * mad_sigma(rates) {
        Some("does not stand out of its own noise")
    } else {
        None
    }
}

/// The rate above which rates are cut ([`CUT`]).
fn cut_rate(rates: &[f64]) -> f64 {
    let mut sizes: Vec<f64> = rates
        .iter()
        .map(|r| r.abs())
        .filter(|r| r.is_finite())
        .collect();
    sizes.sort_by(f64::total_cmp);
    let slower = sizes.len() - (FAST_SHARE * sizes.len() as f64) as usize;
    let fast = slower.checked_sub(1).and_then(|k| sizes.get(k));
    fast.map_or(f64::INFINITY, |fast| CUT * fast)
}

/// A channel on the grid without what is faster than the cut, as far as smoothing carries it. A break falls between two samples, and where
/// in their step it lay, neither recorder knows: to the fit it would look like the surest of all places.
fn without_jumps(mut values: Vec<f64>, rates: &[f64], width: usize) -> Vec<f64> {
    let limit = cut_rate(rates);
    for (k, _) in rates.iter().enumerate().filter(|(_, r)| r.abs() > limit) {
        let to = (k + width + 1).min(values.len());
        if let Some(near) = values.get_mut(k.saturating_sub(width)..to) {
            near.fill(f64::NAN);
        }
    }
    values
}

/// Rates with their mean taken out and cut; NaN stays.
fn prepared(rates: &[f64]) -> Vec<f64> {
    let limit = cut_rate(rates);
    let cut: Vec<f64> = rates.iter().map(|r| r.clamp(-limit, limit)).collect();
    let (sum, count) = cut
        .iter()
        .filter(|r| r.is_finite())
        .fold((0.0, 0.0), |(s, n), r| (s + r, n + 1.0));
    cut.iter().map(|r| r - sum / count).collect()
}

/// Correlation at every lag, from the one at which only the last step of the further recording meets the first of the main one; NaN where the
/// overlap is too small.
struct Lags {
    correlation: Vec<f64>,
    /// Position of lag 0.
    zero: usize,
    step: f64,
}

impl Lags {
    fn of(main: &[f64], own: &[f64], step: f64) -> Self {
        let total = main.len() + own.len() - 1;
        let zero = own.len() - 1;
        let size = total.next_power_of_two();
        let mut planner = FftPlanner::new();
        let there = planner.plan_fft_forward(size);
        let back = planner.plan_fft_inverse(size);
        let spectrum = |values: &[f64], pick: fn(f64) -> f64| {
            let mut padded = vec![Complex::new(0.0, 0.0); size];
            for (to, value) in padded.iter_mut().zip(values) {
                to.re = if value.is_finite() { pick(*value) } else { 0.0 };
            }
            there.process(&mut padded);
            padded
        };
        let (value, square, seen) = (|v: f64| v, |v: f64| v * v, |_: f64| 1.0);
        let shared = product(&spectrum(main, value), &spectrum(own, value), &back);
        let main_moves = product(&spectrum(main, square), &spectrum(own, seen), &back);
        let own_moves = product(&spectrum(main, seen), &spectrum(own, square), &back);
        let overlap = product(&spectrum(main, seen), &spectrum(own, seen), &back);
        let energy = |values: &[f64]| -> f64 {
            let finite = values.iter().filter(|v| v.is_finite());
            finite.map(|v| v * v).sum()
        };
        let (main_all, own_all) = (energy(main), energy(own));
        let correlation = (0..total)
            .map(|k| {
                let at = (k + size - zero) % size;
                let enough = overlap[at] * step >= LEAST_OVERLAP_S
                    && (main_moves[at] >= LEAST_MOVEMENT * main_all
                        || own_moves[at] >= LEAST_MOVEMENT * own_all);
                let both = main_moves[at].max(0.0) * own_moves[at].max(0.0);
                if enough && both > 0.0 {
                    shared[at] / both.sqrt()
                } else {
                    f64::NAN
                }
            })
            .collect();
        Self {
            correlation,
            zero,
            step,
        }
    }

    /// Lag of a position, grid steps.
    fn lag(&self, at: usize) -> f64 {
        at as f64 - self.zero as f64
    }

    fn r(&self, at: usize) -> f64 {
        self.correlation.get(at).copied().unwrap_or(f64::NAN)
    }

    /// The lag of the best correlation (grid steps) with that correlation, if it stands out.
    fn best(&self, search: Search) -> Result<(f64, f64), String> {
        let offset = |k: usize| self.lag(k) * self.step;
        let tried: Vec<usize> = (0..self.correlation.len())
            .filter(|&k| {
                let far = (offset(k) - search.guess_s).abs();
                self.r(k).is_finite() && search.max_offset_s.is_none_or(|most| far <= most)
            })
            .collect();
        let better = |a: &&usize, b: &&usize| self.r(**a).total_cmp(&self.r(**b));
        let Some(&best) = tried.iter().max_by(better) else {
            return Err(format!(
                "the recordings are too short: nowhere do they share {LEAST_OVERLAP_S} s in which half of what one of them saw happened"
            ));
        };
        let top = self.r(best);
        if top < LEAST_CORRELATION {
            return Err(format!(
                "the best correlation is {top:.2}, below {LEAST_CORRELATION}: they do not seem to show one run"
            ));
        }
        // The peak itself: as far as the correlation stays above half.
        let half = |k: &usize| self.r(*k) < top / 2.0 || self.r(*k).is_nan();
        let low = (0..best).rev().find(|k| half(k)).unwrap_or(0);
        let high = (best..self.correlation.len()).find(half);
        let second = tried
            .iter()
            .filter(|&&k| k < low || high.is_some_and(|high| k > high))
            .max_by(better);
        if let Some(&second) = second
            && self.r(second) > SECOND_SHARE * top
        {
            return Err(format!(
                "two offsets fit alike: {:.2} s (correlation {top:.2}) and {:.2} s ({:.2})",
                offset(best),
                offset(second),
                self.r(second)
            ));
        }
        let edge = tried.first() == Some(&best) || tried.last() == Some(&best);
        if edge && search.max_offset_s.is_some() {
            return Err(
                "the best offset lies at the end of the range searched (max_offset_s)".to_owned(),
            );
        }
        Ok((self.lag(best), top))
    }
}

/// Cross-correlation from two spectra.
fn product(main: &[Complex<f64>], own: &[Complex<f64>], back: &Arc<dyn Fft<f64>>) -> Vec<f64> {
    let mut both: Vec<Complex<f64>> = main.iter().zip(own).map(|(a, b)| a * b.conj()).collect();
    back.process(&mut both);
    let size = both.len() as f64;
    both.iter().map(|v| v.re / size).collect()
}

/// Places the offset in windows along the run, around a lag (grid steps) found before, and draws a weighted line through them. Both
/// channels are on the grid of `step` (s); `noise` is the standard deviation of the further one there.
///
/// # Errors
/// Why the windows do not agree on one offset: then the peak of the correlation was chance.
fn through_windows(
    main: &[f64],
    own: &[f64],
    lag: f64,
    step: f64,
    noise: f64,
    search: Search,
) -> Result<Alignment, String> {
    let from = (-lag).max(0.0).ceil() as usize;
    let to = ((main.len() as f64 - lag).max(0.0) as usize).min(own.len());
    let overlap = own.get(from..to).unwrap_or_default();
    let seconds = overlap.len() as f64 * step;
    let count = ((seconds / WINDOW_S) as usize).clamp(WINDOWS.0, WINDOWS.1);
    let length = (overlap.len() / count).max(FEWEST);
    let width = 2 * half_width(step) + 1;
    let reach = width as f64 + LARGEST_DRIFT * seconds / step;
    let still = (MOVED_SIGMAS * noise).max(MOVED_SHARE * spread(overlap));
    let (mut places, mut against) = (Vec::new(), 0_usize);
    for (k, part) in overlap.chunks_exact(length).enumerate() {
        let first = from + k * length;
        let window = Window {
            main,
            own: part,
            first: first as f64 + lag,
            degree: if search.curved { 2 } else { 1 },
            // Two boxes make neighbours alike over one and a half widths.
            alike: width + width / 2,
        };
        let fits = window
            .find(reach)
            .filter(|found| found.correlation >= WINDOW_CORRELATION);
        let middle = (first as f64 + part.len() as f64 / 2.0) * step;
        match fits {
            // A slow ramp fits anywhere: it says neither yes nor no.
            Some(f) if f.u >= TELLING * width as f64 => {}
            Some(f) if f.inside => places.push((middle, (lag + f.shift) * step, f.u * step)),
            _ => against += usize::from(spread(part) > still),
        }
    }
    let all = places.len() + against;
    if places.len() < FEWEST_WINDOWS || (places.len() as f64) < WINDOWS_AGREE * all as f64 {
        return Err(format!(
            "only {} of the {all} stretches in which something moves fit each other there",
            places.len()
        ));
    }
    let places = steady(places);
    let line = Alignment::through(&places, search.drift).ok_or("no stretch places the offset")?;
    if chance(&places, &line, reach * step) > BY_CHANCE {
        return Err(format!(
            "the offsets of the {} stretches that fit lie apart as if by chance",
            places.len()
        ));
    }
    let line = line.plausible()?;
    if line.u_offset_s > width as f64 * step {
        return Err(format!(
            "the offset is known to {:.2} s only",
            line.u_offset_s
        ));
    }
    Ok(line)
}

/// Probability that places searched over `reach_s` to both sides agree so well by chance: of all but the best known, which sets the offset,
/// the share of the search that two standard uncertainties (widened as the scatter asks) to both sides take.
fn chance(places: &[(f64, f64, f64)], line: &Alignment, reach_s: f64) -> f64 {
    let slope = line.drift_found.map_or(0.0, |(slope, _)| slope);
    let wider = birge(places, line.offset_s, slope, line.centre_s, 2);
    let mut shares: Vec<f64> = places
        .iter()
        .map(|p| (2.0 * wider * p.2 / reach_s).min(1.0))
        .collect();
    shares.sort_by(f64::total_cmp);
    shares.iter().skip(1).product()
}

/// Largest size of the finite values.
fn largest(values: &[f64]) -> f64 {
    let sizes = values.iter().map(|v| v.abs()).filter(|v| v.is_finite());
    sizes.fold(0.0, f64::max)
}

/// Standard deviation of the finite values.
fn spread(values: &[f64]) -> f64 {
    let finite: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    let count = finite.len().max(1) as f64;
    let mean = finite.iter().sum::<f64>() / count;
    (finite.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / count).sqrt()
}

/// Without the places far off the others, where one channel saw something the other did not.
fn steady(places: Vec<(f64, f64, f64)>) -> Vec<(f64, f64, f64)> {
    if places.len() < STEADY_LEAST {
        return places;
    }
    let Some(line) = Alignment::through(&places, true) else {
        return places;
    };
    let off: Vec<f64> = places
        .iter()
        .map(|p| (p.1 - line.main_time(p.0) + p.0) / p.2)
        .collect();
    let (middle, spread) = (median(&off), mad_sigma(&off).max(1.0));
    places
        .into_iter()
        .zip(off)
        .filter(|(_, off)| (off - middle).abs() <= STEADY_SIGMAS * spread)
        .map(|(place, _)| place)
        .collect()
}
