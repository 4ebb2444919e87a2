//! Mains hum: a line in the spectrum of the pressure at rest.

use super::{Channel, Said, median};
use crate::recording::{Finding, Place, Trace};
use rustfft::{Fft, FftPlanner, num_complex::Complex};
use std::sync::{Arc, LazyLock};

/// Steps larger than so many standard deviations are strokes and events, not hum: they are cut off.
const STEP_SIGMAS: f64 = 20.0;
/// Longest stretch looked at, samples: a power of two of steps between them, which is transformed fastest.
const LONGEST: usize = (1 << 13) + 1;
/// Fewest samples in whose spectrum a line can be told.
const FEWEST: usize = 256;
/// Pressure that goes one way for so long, s, is moved by a hand: it is no part of the spectrum. Hum turns many times meanwhile.
const STRETCH_S: f64 = 0.25;
/// It goes one way if the change over the stretch is this share of all its steps: noise makes a few hundredths of a long stretch.
const ONE_WAY: f64 = 0.3;
/// Hands and balloons move below this frequency, Hz.
const LOWEST_HZ: f64 = 5.0;
/// Bins beside a line that show whether it stands alone: nearest, and farthest.
const AROUND: (usize, usize) = (5, 32);
/// A line stands over its neighbours by this share of what it stands over the whole spectrum; the largest of sixty bins of noise is six
/// times their median.
const OVER_NEIGHBOURS: f64 = 0.1;
/// Lines closer to the end of the spectrum than so many of its bins are drift.
const LOWEST_BIN: usize = 4;

/// The transform of the longest stretch, which most recordings have.
static LONGEST_PLAN: LazyLock<Arc<dyn Fft<f64>>> =
    LazyLock::new(|| FftPlanner::new().plan_fft_forward(LONGEST - 1));

/// A line that stands out of the spectrum of the first differences of the pressure.
pub(super) fn look(trace: &Trace, channel: &Channel<'_>) -> Said {
    let Some((frequency, amplitude)) = line(trace, channel.settings.hum_over_floor) else {
        return Said::default();
    };
    let finding = Finding::note(
        "hum",
        format!("a line of about {amplitude:.2} kPa at {frequency:.1} Hz stands in the pressure (mains hum or its alias at this rate)"),
    )
    .at(Place {
        column: Some(channel.column.to_owned()),
        ..Place::file(channel.file)
    })
    .count(1)
    .effect(format!(
        "nothing is filtered; the noise of {:.2} kPa contains it, and the smallest fall that counts grows with that",
        trace.noise_kpa
    ))
    .help("screen the cable or log faster; the smallest drop that can be seen grows with it");
    Said::only(finding)
}

/// Power of the bins on either side of a line, without the bins it spreads over.
fn around(power: &[f64], peak: usize) -> f64 {
    let from = peak.saturating_sub(AROUND.1);
    let to = (peak + AROUND.1 + 1).min(power.len());
    let near: Vec<f64> = (from..to)
        .filter(|k| k.abs_diff(peak) >= AROUND.0)
        .map(|k| power[k])
        .collect();
    median(&near)
}

/// Frequency (Hz) and amplitude (kPa) of the line.
fn line(trace: &Trace, over_floor: f64) -> Option<(f64, f64)> {
    let finite: Vec<f64> = trace
        .pressure_kpa
        .iter()
        .copied()
        .filter(|v| v.is_finite())
        .take(LONGEST)
        .collect();
    if finite.len() < FEWEST {
        return None;
    }
    let limit = STEP_SIGMAS * trace.noise_kpa;
    let mut steps: Vec<f64> = finite
        .windows(2)
        .map(|w| (w[1] - w[0]).clamp(-limit, limit))
        .collect();
    let stretch = ((STRETCH_S / trace.step_s).round() as usize).max(FEWEST / 32);
    let mut resting = 0;
    for part in steps.chunks_mut(stretch) {
        let change: f64 = part.iter().sum();
        let path: f64 = part.iter().map(|step| step.abs()).sum();
        if change.abs() > ONE_WAY * path {
            part.fill(0.0);
        } else {
            resting += part.len();
        }
    }
    if resting < FEWEST / 2 {
        return None;
    }
    let mut signal: Vec<Complex<f64>> = steps.into_iter().map(|s| Complex::new(s, 0.0)).collect();
    let n = signal.len();
    if n == LONGEST - 1 {
        LONGEST_PLAN.process(&mut signal);
    } else {
        FftPlanner::new().plan_fft_forward(n).process(&mut signal);
    }
    // The difference filter is undone: |1 - e^{-iw}| = 2 sin(w/2), the half angles by turning from one to the next.
    let step = Complex::cis(std::f64::consts::PI / n as f64);
    let mut half_angle = Complex::new(1.0, 0.0);
    let power: Vec<f64> = (1..n / 2)
        .map(|k| {
            half_angle *= step;
            signal[k].norm_sqr() / (4.0 * half_angle.im * half_angle.im)
        })
        .collect();
    let low = ((LOWEST_HZ * trace.step_s * n as f64).ceil() as usize)
        .max(LOWEST_BIN)
        .min(power.len());
    let (peak, &height) = power
        .iter()
        .enumerate()
        .skip(low)
        .max_by(|a, b| a.1.total_cmp(b.1))?;
    let floor = median(&power[low..]);
    if floor <= 0.0 || height <= over_floor * floor {
        return None;
    }
    // What a specimen does falls off smoothly from the lowest frequency on; a line stands alone.
    if height <= OVER_NEIGHBOURS * over_floor * around(&power, peak) {
        return None;
    }
    let frequency = (peak + 1) as f64 / (n as f64 * trace.step_s);
    Some((frequency, 2.0 * height.sqrt() / resting as f64))
}
