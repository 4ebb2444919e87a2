//! The recording's own noise, measured where it rests.

use crate::recording::Trace;

/// Normal-consistency of the median absolute deviation: 1 / Φ⁻¹(3/4).
const MAD_TO_SIGMA: f64 = 1.482_602_218_505_602;

/// Length of the stretches whose quietest quarter tells the noise, s: short against a hold.
const STRETCH_S: f64 = 0.5;
/// Sums taken side by side.
const LANES: usize = 4;
/// Fewest samples that tell a spread, and most that are needed to.
const SHORTEST: usize = 8;
const SHORTEST_ML: usize = 5;
const LONGEST: usize = 500;

/// Median of finite values; NaN where there are none.
pub fn median(values: &[f64]) -> f64 {
    let mut finite: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    if finite.is_empty() {
        return f64::NAN;
    }
    let middle = finite.len() / 2;
    let (low, &mut high, _) = finite.select_nth_unstable_by(middle, f64::total_cmp);
    if low.len() == middle && finite.len().is_multiple_of(2) {
        let below = finite[..middle]
            .iter()
            .copied()
            .fold(f64::NEG_INFINITY, f64::max);
        return f64::midpoint(below, high);
    }
    high
}

/// Robust standard deviation: median absolute deviation from the median, scaled to a normal distribution.
pub fn mad_sigma(values: &[f64]) -> f64 {
    let centre = median(values);
    let deviations: Vec<f64> = values.iter().map(|v| (v - centre).abs()).collect();
    MAD_TO_SIGMA * median(&deviations)
}

/// Standard deviation of one sample from the first differences (robust), so that slow change does not count.
pub fn difference_sigma(values: &[f64]) -> f64 {
    let steps: Vec<f64> = values.windows(2).map(|w| w[1] - w[0]).collect();
    mad_sigma(&steps) / std::f64::consts::SQRT_2
}

/// Fills the noise of pressure and volume: the quietest quarter of half-second stretches, not less than the step of the
/// converter allows (q/√12).
pub(super) fn measure(trace: &mut Trace, resolution_kpa: Option<f64>) {
    let window = ((STRETCH_S / trace.step_s).round() as usize).clamp(SHORTEST, LONGEST);
    // On a slow clock a longer stretch of the counter holds a stroke, as a rule; pressure rests longer than a hand.
    let window_ml = ((STRETCH_S / trace.step_s).round() as usize).clamp(SHORTEST_ML, LONGEST);
    let floor = resolution_kpa.unwrap_or(0.0) / 12.0_f64.sqrt();
    let (noise_kpa, noise_ml) = rayon::join(
        || quiet(&trace.pressure_kpa, window),
        || trace.volume_ml.as_deref().map(|v| quiet(v, window_ml)),
    );
    // What a check of the samples said of the noise before stands.
    trace.noise_kpa = noise_kpa.max(floor).max(trace.noise_kpa).max(1e-6);
    trace.noise_ml = noise_ml.map_or(f64::NAN, |noise| noise.max(1e-6));
}

/// Standard deviation of one sample in the quietest quarter of the stretches, from the differences of neighbours.
fn quiet(values: &[f64], window: usize) -> f64 {
    let mut spreads: Vec<f64> = values
        .chunks(window)
        .filter_map(|chunk| {
            let finite: usize = chunk.iter().map(|v| usize::from(v.is_finite())).sum();
            if finite * 2 <= window {
                return None;
            }
            // Several sums side by side: one after the other they would wait for each other.
            let (mut sums, mut counts) = ([0.0; LANES], [0.0; LANES]);
            let mut add = |befores: &[f64], afters: &[f64]| {
                for (lane, (before, after)) in befores.iter().zip(afters).enumerate() {
                    let square = (after - before) * (after - before);
                    let counts_here = square.is_finite();
                    sums[lane] += if counts_here { square } else { 0.0 };
                    counts[lane] += if counts_here { 1.0 } else { 0.0 };
                }
            };
            let (befores, afters) = (chunk.as_chunks::<LANES>(), chunk[1..].as_chunks::<LANES>());
            let together = befores.0.len().min(afters.0.len());
            for (before, after) in befores.0.iter().zip(afters.0) {
                add(before, after);
            }
            add(&chunk[together * LANES..], &chunk[together * LANES + 1..]);
            let (sum, count): (f64, f64) = (sums.iter().sum(), counts.iter().sum());
            Some((sum / count.max(1.0) / 2.0).sqrt())
        })
        .filter(|s| s.is_finite())
        .collect();
    if spreads.is_empty() {
        return 0.0;
    }
    let quarter = spreads.len() / 4;
    *spreads.select_nth_unstable_by(quarter, f64::total_cmp).1
}
