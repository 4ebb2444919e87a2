//! Mains hum: a line in the spectrum of the pressure at rest.

use crate::recording::{Finding, Place, Trace};
use crate::rig::Settings;
use rustfft::{FftPlanner, num_complex::Complex};

/// Steps larger than so many standard deviations are strokes and events, not hum: they are cut off.
const STEP_SIGMAS: f64 = 20.0;
/// Longest stretch transformed, samples.
const LONGEST: usize = 8192;

/// Reports a line that stands out of the spectrum of the first differences of the pressure. It changes no number: the detector's
/// thresholds are measured with the hum in the recording.
pub(super) fn report(trace: &Trace, file: &str, settings: &Settings, findings: &mut Vec<Finding>) {
    let finite: Vec<f64> = trace
        .pressure_kpa
        .iter()
        .copied()
        .filter(|v| v.is_finite())
        .take(LONGEST)
        .collect();
    if finite.len() < 256 {
        return;
    }
    let limit = STEP_SIGMAS * trace.noise_kpa;
    let mut signal: Vec<Complex<f64>> = finite
        .windows(2)
        .map(|w| Complex::new((w[1] - w[0]).clamp(-limit, limit), 0.0))
        .collect();
    let n = signal.len();
    FftPlanner::new().plan_fft_forward(n).process(&mut signal);
    // The difference filter is undone: |1 - e^{-iw}| = 2 sin(w/2).
    let power: Vec<f64> = (1..n / 2)
        .map(|k| {
            let gain = 2.0 * (std::f64::consts::PI * k as f64 / n as f64).sin();
            signal[k].norm_sqr() / (gain * gain)
        })
        .collect();
    let low = ((2.0 * trace.step_s * n as f64).ceil() as usize).min(power.len());
    let Some((peak, &height)) = power
        .iter()
        .enumerate()
        .skip(low)
        .max_by(|a, b| a.1.total_cmp(b.1))
    else {
        return;
    };
    let floor = super::median(&power[low..]);
    if height > settings.hum_over_floor * floor && floor > 0.0 {
        let frequency = (peak + 1) as f64 / (n as f64 * trace.step_s);
        let amplitude = 2.0 * height.sqrt() / n as f64;
        findings.push(
            Finding::note(
                "hum",
                format!("a line of about {amplitude:.2} kPa at {frequency:.1} Hz stands in the pressure (mains hum or its alias at this rate)"),
            )
            .at(Place::file(file))
            .help("screen the cable or log faster; the smallest drop that can be seen grows with it"),
        );
    }
}
