//! How far a fall must stand out of noise so that noise alone makes one only so often.
//!
//! The difference of two neighbouring means of `n` samples, looked at sample by sample along `m` of them, crosses `b` of its standard
//! deviations `m/n b φ(b) ν(b sqrt(2/n))` times on average, crossings that follow each other at once counted as one: the boundary
//! crossing of a process whose correlation falls linearly, by `1/n` a sample (J. Pickands, Trans. Amer. Math. Soc. 145:51, 1969), looked at in
//! steps (D. Siegmund, Sequential Analysis, 1985; both cited from memory). `ν(x)` is close to `exp(-0.583 x)`.

/// Exponent of the correction for looking in steps.
const STEPS: f64 = 0.583;
/// Standard deviations are taken within these limits: below, everything is a fall; above, nothing is noise.
const LIMITS: (f64, f64) = (2.0, 20.0);

/// False alarms of noise alone, for a threshold of `b` standard deviations.
fn alarms(b: f64, looks: f64, n: f64) -> f64 {
    let density = (-0.5 * b * b).exp() / std::f64::consts::TAU.sqrt();
    looks / n * b * density * (-STEPS * b * (2.0 / n).sqrt()).exp()
}

/// Falls that the noise of a recording makes by itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noise {
    /// Standard deviation of an estimated fall at rest, kPa.
    pub sigma_kpa: f64,
    /// Looks at falls.
    pub looks: usize,
    /// Samples of a level.
    pub level: usize,
}

impl Default for Noise {
    fn default() -> Self {
        Self {
            sigma_kpa: f64::NAN,
            looks: 0,
            level: 1,
        }
    }
}

impl Noise {
    /// Falls of so many standard deviations in the run by noise alone, on average.
    pub fn alarms(&self, times: f64) -> f64 {
        alarms(times, self.looks as f64, self.level.max(1) as f64)
    }
}

/// Standard deviations that a fall needs so that noise makes `rate` of them in so many looks at levels of `n` samples.
pub(super) fn sigmas(rate: f64, looks: usize, n: usize) -> f64 {
    let (mut low, mut high) = LIMITS;
    // The rate falls with the threshold beyond one standard deviation.
    while high - low > 1e-6 {
        let middle = f64::midpoint(low, high);
        if alarms(middle, looks as f64, n.max(1) as f64) > rate {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::uncertain::Draws;

    /// Noise alone, many times over: as often as promised, within five standard errors of a count and a fifth for the approximation.
    #[test]
    fn noise_crosses_as_often_as_it_is_allowed_to() {
        let (n, gap, m, runs) = (10, 3, 2000, 400);
        for rate in [0.5, 0.1] {
            let b = sigmas(rate, m, n);
            let mut draws = Draws::new(9, "noise");
            let mut count = 0;
            for _ in 0..runs {
                let x: Vec<f64> = (0..m + 2 * n + gap).map(|_| draws.normal()).collect();
                let mean = |from: usize| x[from..from + n].iter().sum::<f64>() / n as f64;
                let z = |i: usize| (mean(i) - mean(i + n + gap - 1)) / (2.0 / n as f64).sqrt();
                let mut last = None;
                for i in (0..m).filter(|i| z(*i) > b) {
                    count += usize::from(last.is_none_or(|last| i - last > n));
                    last = Some(i);
                }
            }
            let expected = rate * f64::from(runs);
            let allowed = 5.0 * expected.sqrt() + 0.2 * expected;
            assert!(
                (f64::from(u32::try_from(count).unwrap_or(0)) - expected).abs() < allowed,
                "{rate}: {count} for {expected}"
            );
        }
    }

    #[test]
    fn longer_runs_need_more() {
        let short = sigmas(1e-4, 3 * 4000, 10);
        assert!((5.2..6.2).contains(&short), "{short}");
        assert!(sigmas(1e-4, 3 * 400_000, 10) > short + 0.5);
        assert!(
            sigmas(0.0, 1000, 10) >= LIMITS.1 - 1e-3 && sigmas(1e9, 1000, 10) <= LIMITS.0 + 1e-3
        );
    }
}
