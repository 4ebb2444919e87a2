//! Intervals of any statistic by drawing from the sample itself (Efron 1987, JASA 82:171).

use super::binomial::Limits;
use super::error::{StatsError, check_finite, check_probability};
use super::normal::{normal_cdf, normal_quantile};

/// Fewest and most drawn samples: an end of a 95 % interval should have some tens of them beyond it.
const DRAWS: (usize, usize) = (1000, 1_000_000);
/// With fewer values the drawn samples are too much alike, and every such interval is too narrow (common practice, no source).
const LEAST_VALUES: usize = 5;

/// What drawing again and again tells of a statistic.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bootstrap {
    /// The statistic of the sample.
    pub estimate: f64,
    /// Standard deviation of the drawn statistics.
    pub standard_error: f64,
    /// Interval between quantiles of the drawn statistics.
    pub percentile: Limits,
    /// Interval corrected for bias and acceleration; `None` where the statistic does not move when a value is left out, or nearly all
    /// drawn ones lie on one side.
    pub bca: Option<Limits>,
    /// Acceleration by leaving out one value at a time; `None` where the statistic does not move.
    pub acceleration: Option<f64>,
    /// Drawn samples for which the statistic exists.
    pub draws: usize,
}

/// Draws samples with replacement. `statistic` may fail on a sample; more than one in twenty failing fails the whole. `uniform` gives
/// numbers in [0, 1); the same numbers give the same result. Bootstrap intervals of small samples (below some twenty values) hold less than
/// they say.
pub fn bootstrap(
    values: &[f64],
    statistic: &dyn Fn(&[f64]) -> Option<f64>,
    draws: usize,
    confidence: f64,
    uniform: &mut dyn FnMut() -> f64,
) -> Result<Bootstrap, StatsError> {
    check_finite(values)?;
    check_probability("the confidence", confidence)?;
    let n = values.len();
    if n < LEAST_VALUES {
        return Err(StatsError::TooFew {
            what: "values",
            needed: LEAST_VALUES,
            found: n,
        });
    }
    check_draws(draws)?;
    let finite = |sample: &[f64]| statistic(sample).filter(|s| s.is_finite());
    let none = StatsError::NotConverged {
        what: "the statistic of the sample",
    };
    let estimate = finite(values).ok_or(none)?;
    let mut drawn = Vec::with_capacity(draws);
    let mut sample = Vec::with_capacity(n);
    for _ in 0..draws {
        draw(values, &mut sample, uniform);
        drawn.extend(finite(&sample));
    }
    enough(drawn.len(), draws)?;
    drawn.sort_by(f64::total_cmp);
    let count = drawn.len() as f64;
    let tail = 0.5 - 0.5 * confidence;
    let acceleration = acceleration(values, &finite);
    // Drawn statistics below the estimate, those equal counting half.
    let below =
        drawn.partition_point(|x| *x < estimate) + drawn.partition_point(|x| *x <= estimate);
    let z0 = normal_quantile(0.5 * below as f64 / count);
    let bca = acceleration.and_then(|a| {
        let shifted = |q: f64| {
            let z = z0 + normal_quantile(q);
            normal_cdf(z0 + z / (1.0 - a * z))
        };
        let (low, high) = (shifted(tail), shifted(1.0 - tail));
        (z0.is_finite() && low < high).then(|| Limits {
            lower: quantile(&drawn, low),
            upper: quantile(&drawn, high),
        })
    });
    Ok(Bootstrap {
        estimate,
        standard_error: spread(&drawn),
        percentile: Limits {
            lower: quantile(&drawn, tail),
            upper: quantile(&drawn, 1.0 - tail),
        },
        bca,
        acceleration,
        draws: drawn.len(),
    })
}

/// A sixth of the skewness of the statistic when each value in turn is left out.
fn acceleration(values: &[f64], statistic: &dyn Fn(&[f64]) -> Option<f64>) -> Option<f64> {
    let mut left = Vec::with_capacity(values.len());
    let mut each = Vec::with_capacity(values.len());
    for skipped in 0..values.len() {
        left.clear();
        left.extend(
            values
                .iter()
                .enumerate()
                .filter(|(i, _)| *i != skipped)
                .map(|(_, v)| *v),
        );
        each.push(statistic(&left)?);
    }
    if each.windows(2).all(|w| w.first() == w.last()) {
        return None;
    }
    let n = each.len() as f64;
    let mean = each.iter().map(|x| x / n).sum::<f64>();
    let squares: f64 = each.iter().map(|x| (mean - x).powi(2)).sum();
    let cubes: f64 = each.iter().map(|x| (mean - x).powi(3)).sum();
    let a = cubes / (6.0 * squares.powf(1.5));
    a.is_finite().then_some(a)
}

/// Quantile of sorted values at rank `q (B + 1)`, ranks between being interpolated.
fn quantile(sorted: &[f64], q: f64) -> f64 {
    let place = (q * (sorted.len() + 1) as f64 - 1.0).clamp(0.0, sorted.len() as f64 - 1.0);
    let at = |i: usize| sorted.get(i).copied().unwrap_or(f64::NAN);
    let (low, part) = (at(place as usize), place.fract());
    if part > 0.0 {
        low + part * (at(place as usize + 1) - low)
    } else {
        low
    }
}

/// Difference of a statistic of two independent samples, second less first, each drawn from itself: estimate and percentile interval.
/// `bca` and `acceleration` are left out. Otherwise as [`bootstrap`].
pub fn bootstrap_difference(
    (first, second): (&[f64], &[f64]),
    statistic: &dyn Fn(&[f64]) -> Option<f64>,
    draws: usize,
    confidence: f64,
    uniform: &mut dyn FnMut() -> f64,
) -> Result<Bootstrap, StatsError> {
    check_finite(first)?;
    check_finite(second)?;
    check_probability("the confidence", confidence)?;
    let least = first.len().min(second.len());
    if least < LEAST_VALUES {
        return Err(StatsError::TooFew {
            what: "values",
            needed: LEAST_VALUES,
            found: least,
        });
    }
    check_draws(draws)?;
    let difference = |a: &[f64], b: &[f64]| Some(statistic(b)? - statistic(a)?);
    let finite = |a: &[f64], b: &[f64]| difference(a, b).filter(|d| d.is_finite());
    let estimate = finite(first, second).ok_or(StatsError::NotConverged {
        what: "the statistic of the samples",
    })?;
    let (mut a, mut b) = (Vec::new(), Vec::new());
    let mut drawn = Vec::with_capacity(draws);
    for _ in 0..draws {
        draw(first, &mut a, uniform);
        draw(second, &mut b, uniform);
        drawn.extend(finite(&a, &b));
    }
    enough(drawn.len(), draws)?;
    drawn.sort_by(f64::total_cmp);
    let tail = 0.5 - 0.5 * confidence;
    Ok(Bootstrap {
        estimate,
        standard_error: spread(&drawn),
        percentile: Limits {
            lower: quantile(&drawn, tail),
            upper: quantile(&drawn, 1.0 - tail),
        },
        bca: None,
        acceleration: None,
        draws: drawn.len(),
    })
}

/// A sample of the same size, drawn with replacement.
fn draw(from: &[f64], sample: &mut Vec<f64>, uniform: &mut dyn FnMut() -> f64) {
    sample.clear();
    let n = from.len();
    for _ in 0..n {
        let place = ((uniform() * n as f64) as usize).min(n - 1);
        sample.extend(from.get(place));
    }
}

/// Standard deviation of drawn statistics.
fn spread(drawn: &[f64]) -> f64 {
    let count = drawn.len() as f64;
    let mean = drawn.iter().map(|x| x / count).sum::<f64>();
    (drawn.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (count - 1.0)).sqrt()
}

fn check_draws(draws: usize) -> Result<(), StatsError> {
    if (DRAWS.0..=DRAWS.1).contains(&draws) {
        Ok(())
    } else {
        Err(StatsError::OutOfRange {
            what: "the number of drawn samples",
            range: "1000 to 1000000",
            found: draws as f64,
        })
    }
}

/// Samples for which the statistic does not exist would all have been of one kind.
fn enough(found: usize, draws: usize) -> Result<(), StatsError> {
    let needed = draws - draws / 20;
    if found < needed {
        Err(StatsError::TooFew {
            what: "drawn samples for which the statistic exists",
            needed,
            found,
        })
    } else {
        Ok(())
    }
}
