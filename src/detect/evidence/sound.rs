//! What the microphone heard: a bang near the onset, against everything else it heard in the run.
//!
//! The energy of short windows is taken from their spectra, each band over its own median along the run, so that hum, pumps and rumble
//! count for nothing and what is unusual in any band counts. Ratchet clicks, taps on the bath and stopcocks are loud too: what the bang is worth
//! follows from how often the run is as loud elsewhere. That share is a p-value `p`, and what a p-value is worth at most is `1/(-e p ln p)`
//! (T. Sellke, M. J. Bayarri, J. O. Berger, The American Statistician 55:62, 2001; cited from memory).

use super::{Context, Fall, Witness};
use crate::calibrate::median;
use crate::rig::settings;
use rustfft::{FftPlanner, num_complex::Complex};

/// Fewest and most samples of a window.
const WINDOW_SAMPLES: (usize, usize) = (4, 4096);
/// The run is listened to in so many windows ...
const WINDOWS: usize = 4000;
/// An impulse that this share of the run is as loud as says nothing: where the worth of a p-value is 1.
const USUAL: f64 = 1.0 / std::f64::consts::E;

pub(super) fn witness(context: &Context<'_>, fall: &Fall) -> Option<Witness> {
    let (trace, is) = (context.trace, &context.settings.evidence);
    let sound = trace.sound.as_deref()?;
    let near = is.sound_near_s + is.clock_sigmas * trace.sound_u_time_s;
    let from = trace.time_s.partition_point(|t| *t < fall.t_lo_s - near);
    let to = trace.time_s.partition_point(|t| *t < fall.t_hi_s + near);
    let heard = Heard::of(sound, trace.step_s, (from, to), is)?;
    let (times, share) = (heard.loudest, heard.as_loud);
    let ms = 1e3 * near;
    let weight = if share < USUAL {
        -(-std::f64::consts::E * share * share.ln()).ln()
    } else {
        -is.sound_not_heard_log_odds
    };
    let says = if share < USUAL {
        format!(
            "sound: an impulse of {times:.0} times the background within {ms:.0} ms of the onset; {:.1} % of the run is as loud",
            100.0 * share
        )
    } else {
        format!("sound: no impulse within {ms:.0} ms of the onset")
    };
    let weight = weight.clamp(-is.sound_not_heard_log_odds, is.sure_log_odds);
    Some(Witness {
        says,
        weights: [weight, weight, 0.0, 0.0],
    })
}

/// The loudest window near an onset against the windows of the run.
struct Heard {
    /// Energy over the background.
    loudest: f64,
    /// Chance that as many windows elsewhere hold one as loud.
    as_loud: f64,
}

impl Heard {
    /// Near the samples `from..to`.
    fn of(
        sound: &[f64],
        step_s: f64,
        (from, to): (usize, usize),
        is: &settings::Evidence,
    ) -> Option<Self> {
        let n = (is.sound_window_s / step_s).max(1.0) as usize;
        let n = n
            .next_power_of_two()
            .clamp(WINDOW_SAMPLES.0, WINDOW_SAMPLES.1);
        let hop = n / 2;
        let fft = FftPlanner::new().plan_fft_forward(n);
        let spectrum = |start: usize| {
            let window = sound.get(start..start + n)?;
            if window.iter().any(|v| !v.is_finite()) {
                return None;
            }
            let mut bins: Vec<Complex<f64>> =
                window.iter().map(|v| Complex::new(*v, 0.0)).collect();
            fft.process(&mut bins);
            // Without the mean: an envelope and an offset stand off from zero.
            Some(bins[1..=n / 2].iter().map(Complex::norm_sqr).collect())
        };
        let near = |start: usize| start < to && start + n > from;
        let starts = |every: usize| (0..sound.len().saturating_sub(n)).step_by(every);
        let every = hop.max(sound.len() / WINDOWS);
        let elsewhere: Vec<Vec<f64>> = starts(every)
            .filter(|start| !near(*start))
            .filter_map(spectrum)
            .collect();
        if elsewhere.len() < is.sound_windows_least {
            return None;
        }
        let background: Vec<f64> = (0..hop)
            .map(|bin| median(&elsewhere.iter().map(|s| s[bin]).collect::<Vec<_>>()))
            .collect();
        let energy = |spectrum: &Vec<f64>| {
            let over = spectrum.iter().zip(&background);
            over.filter(|(_, b)| **b > 0.0)
                .map(|(power, background)| power / background)
                .sum::<f64>()
                / hop as f64
        };
        // One at a time: on a slow clock of a camera they may be a good part of the run.
        let here = starts(hop).filter(|start| near(*start));
        let (loudest, windows) = here
            .filter_map(spectrum)
            .map(|spectrum| energy(&spectrum))
            .fold((0.0, 0), |(loudest, count), energy| {
                (f64::max(loudest, energy), count + 1)
            });
        if windows == 0 {
            return None;
        }
        let louder = elsewhere.iter().filter(|s| energy(s) >= loudest).count();
        let share = (louder + 1) as f64 / (elsewhere.len() + 1) as f64;
        Some(Self {
            loudest,
            as_loud: 1.0 - (1.0 - share).powi(windows),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::uncertain::Draws;

    /// Hum twenty times as large as the noise, and a click of the size of the hum: the click counts, the hum does not.
    #[test]
    fn a_click_is_heard_in_hum_and_clicks_everywhere_are_worth_nothing() {
        let mut draws = Draws::new(4, "sound");
        let is = settings::Evidence::default();
        let mut sound: Vec<f64> = (0..20_000)
            .map(|k| 2.0 * (f64::from(k) * 0.05 * std::f64::consts::TAU).sin())
            .map(|hum| hum + 0.1 * draws.normal())
            .collect();
        let heard = |sound: &[f64]| Heard::of(sound, 1e-3, (9_950, 10_050), &is).map(|h| h.as_loud);
        assert!(heard(&sound).is_some_and(|share| share > 0.05));
        sound[10_000] += 2.0;
        assert!(heard(&sound).is_some_and(|share| share < 0.01));
        for k in (0..20_000).step_by(50).filter(|k| *k != 10_000) {
            sound[k] += 2.0;
        }
        assert!(heard(&sound).is_some_and(|share| share > USUAL));
    }
}
