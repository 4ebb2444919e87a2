//! Distribution of strengths known by steps, without assuming a family (Turnbull 1976, J. R. Stat. Soc. B 38:290).

use super::error::StatsError;
use super::observation::IntervalObservation;

/// Most observations taken; each round of the iteration passes over all of them.
const MOST_OBSERVATIONS: usize = 10_000;
const ROUNDS: usize = 200_000;
/// Most rounds times observations: some seconds.
const MOST_WORK: usize = 400_000_000;
/// Log-likelihood that may still be to gain when the iteration ends: probabilities are then good to about six digits.
const GAIN_LEFT: f64 = 1e-12;
/// A probability below this, at a place where the likelihood does not want any, is set to nothing; the last check undoes it if wrong.
const NEGLIGIBLE: f64 = 1e-8;

/// A range in which the estimate has probability; where in it, the data do not say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurnbullStep {
    /// The failures lie above this value (`-∞` where nothing is known to be withstood).
    pub above: f64,
    /// And up to this one; equal to `above` for strengths known by value, infinite for what was never reached.
    pub up_to: f64,
    /// Probability in the range.
    pub probability: f64,
    /// Part of the population that survives beyond `up_to`.
    pub survival: f64,
}

/// Estimated distribution. It has no standard uncertainty: with steps the estimate does not follow the rule of 1/√n, and formulas that
/// pretend so are not used here.
#[derive(Debug, Clone, PartialEq)]
pub struct TurnbullCurve {
    /// Ranges with probability, in rising order.
    pub steps: Vec<TurnbullStep>,
    /// Number of units.
    pub n: usize,
}

impl TurnbullCurve {
    /// Least and greatest survival beyond `value` that the estimate allows: they differ within a range.
    pub fn survival_at(&self, value: f64) -> (f64, f64) {
        let (mut low, mut high) = (1.0, 1.0);
        for step in &self.steps {
            if value > step.above || (step.above == step.up_to && value >= step.up_to) {
                low = step.survival;
            }
            if value >= step.up_to {
                high = step.survival;
            }
        }
        (low, high)
    }
}

/// An end of an observation, ordered as on the line: at one value first a value itself begins, then ranges that hold it end, then ranges
/// above it begin.
#[derive(Debug, Clone, Copy, PartialEq)]
struct End {
    at: f64,
    order: u8,
}

impl End {
    fn before(&self, other: &Self) -> std::cmp::Ordering {
        self.at
            .total_cmp(&other.at)
            .then(self.order.cmp(&other.order))
    }

    fn is_upper(self) -> bool {
        self.order == 1
    }
}

fn ends(o: &IntervalObservation) -> (End, End) {
    let order = if o.value().is_some() { 0 } else { 2 };
    // -0 and 0 are one value.
    let at = |x: f64| if x == 0.0 { 0.0 } else { x };
    (
        End {
            at: at(o.above),
            order,
        },
        End {
            at: at(o.up_to),
            order: 1,
        },
    )
}

/// Estimates the distribution that makes the observations most likely, with probability on the innermost ranges only: by
/// self-consistency (an EM iteration) until the log-likelihood can gain no more than 1e-12 (Gentleman & Geyer 1994, Biometrika 81:618).
///
/// Fails for no observation, more than ten thousand, or ends that are no interval. Without steps the estimate is
/// [`kaplan_meier`](super::kaplan_meier).
pub fn turnbull(observations: &[IntervalObservation]) -> Result<TurnbullCurve, StatsError> {
    let n = observations.len();
    if n == 0 {
        return Err(StatsError::TooFew {
            what: "observations",
            needed: 1,
            found: 0,
        });
    }
    if n > MOST_OBSERVATIONS {
        return Err(StatsError::OutOfRange {
            what: "the number of observations",
            range: "at most 10000",
            found: n as f64,
        });
    }
    let bad = |o: &IntervalObservation| {
        let value = o.above == o.up_to && o.above.is_finite();
        !(value || (o.above < o.up_to && o.above < f64::INFINITY && o.up_to > f64::NEG_INFINITY))
    };
    if let Some(index) = observations.iter().position(bad) {
        return Err(StatsError::BadValue {
            must_be: "an interval (above, up_to] or a value",
            index,
        });
    }
    let ranges = innermost(observations);
    // The ranges within an observation stand side by side: from the first that does not begin before it to the last that ends in it.
    let spans: Vec<(usize, usize)> = observations
        .iter()
        .map(|o| {
            let (lower, upper) = ends(o);
            (
                ranges.partition_point(|r| r.0.before(&lower).is_lt()),
                ranges.partition_point(|r| r.1.before(&upper).is_le()),
            )
        })
        .collect();
    let probabilities = self_consistent(&spans, ranges.len())?;
    let mut left = 1.0;
    let steps = ranges
        .iter()
        .zip(probabilities)
        .filter(|(_, p)| *p > 0.0)
        .map(|((lower, upper), probability)| {
            left -= probability;
            TurnbullStep {
                above: lower.at,
                up_to: upper.at,
                probability,
                // What rounding leaves at the end is nothing.
                survival: if left < 1e-9 { 0.0 } else { left },
            }
        })
        .collect();
    Ok(TurnbullCurve { steps, n })
}

/// Ranges from a lower end to an upper one with no other end between.
fn innermost(observations: &[IntervalObservation]) -> Vec<(End, End)> {
    let mut all: Vec<End> = observations
        .iter()
        .flat_map(|o| {
            let (lower, upper) = ends(o);
            [lower, upper]
        })
        .collect();
    all.sort_by(End::before);
    all.windows(2)
        .filter_map(|w| match w {
            &[a, b] if !a.is_upper() && b.is_upper() => Some((a, b)),
            _ => None,
        })
        .collect()
}

/// Probabilities `p` that solve `p_j = p_j/n Σ 1/P_i` over the observations `i` that hold the range `j`.
fn self_consistent(spans: &[(usize, usize)], m: usize) -> Result<Vec<f64>, StatsError> {
    let n = spans.len() as f64;
    let mut p = vec![1.0 / m as f64; m];
    let mut prune = true;
    for round in 1..=ROUNDS.min(MOST_WORK / spans.len().max(1)) {
        // Wanted at each range, by differences.
        let mut sums = Vec::with_capacity(m + 1);
        let mut sum = 0.0;
        sums.push(0.0);
        for x in &p {
            sum += x;
            sums.push(sum);
        }
        let mut wanted = vec![0.0; m + 1];
        for &(from, to) in spans {
            if let (Some(a), Some(b)) = (sums.get(from), sums.get(to)) {
                let inverse = 1.0 / (b - a).max(f64::MIN_POSITIVE);
                wanted[from] += inverse;
                wanted[to] -= inverse;
            }
        }
        let mut running = 0.0;
        for w in &mut wanted {
            running += *w;
            *w = running / n;
        }
        // At the maximum no range is wanted more than 1; what is beyond bounds the gain still to be had.
        let most = wanted.iter().take(m).copied().fold(0.0, f64::max);
        if n * (most - 1.0) <= GAIN_LEFT.max(n * 4.0 * m as f64 * f64::EPSILON) {
            return Ok(p);
        }
        let total: f64 = p.iter().zip(&wanted).map(|(x, w)| x * w).sum();
        for (x, w) in p.iter_mut().zip(&wanted) {
            *x *= w / total;
            if prune && round > 100 && *x < NEGLIGIBLE && *w < 0.999 {
                *x = 0.0;
            }
            if *x == 0.0 && *w > 1.0 + 1e-6 {
                *x = NEGLIGIBLE;
                prune = false;
            }
        }
    }
    Err(StatsError::NotConverged {
        what: "the distribution of strengths known by steps",
    })
}
