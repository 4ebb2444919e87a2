//! A trend of proportions over ordered groups (Cochran 1954, Biometrics 10:417; Armitage 1955, Biometrics 11:375).

use super::error::StatsError;
use super::fisher::hypergeometric;
use super::normal::normal_cdf;

/// Most tables that are visited one by one for the exact probabilities.
const MOST_TABLES: f64 = 200_000.0;
/// Most units in a group.
const MOST_UNITS: u64 = 100_000;

/// Events in one of the ordered groups.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrendGroup {
    /// Place of the group on the scale of the trend: a dose, a size, or 0, 1, 2, ...
    pub score: f64,
    /// Units with an event.
    pub events: u64,
    /// Units.
    pub n: u64,
}

/// Result of the test for a trend.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProportionTrend {
    /// Standardised slope; above 0 where events become more frequent with the score.
    pub z: f64,
    /// Two-sided probability by the normal distribution.
    pub p: f64,
    /// Exact two-sided probability, with the sums of the table held, of a slope as steep as this or steeper; `None` where there are too
    /// many tables to visit.
    pub p_exact: Option<f64>,
    /// Exact one-sided probability of a slope at least this high.
    pub p_exact_rising: Option<f64>,
}

/// Tests proportions for a trend over the scores: `z = Σ s (x - n p)/√(p q (Σ n s² - (Σ n s)²/N))`. Fails below two groups, where all or
/// none had the event, and where all scores are alike.
pub fn proportion_trend(groups: &[TrendGroup]) -> Result<ProportionTrend, StatsError> {
    if groups.len() < 2 {
        return Err(StatsError::TooFew {
            what: "groups",
            needed: 2,
            found: groups.len(),
        });
    }
    let bad =
        |g: &TrendGroup| !g.score.is_finite() || g.n == 0 || g.n > MOST_UNITS || g.events > g.n;
    if let Some(index) = groups.iter().position(bad) {
        return Err(StatsError::BadValue {
            must_be: "a group with a finite score, 1 to 100000 units and not more events than units",
            index,
        });
    }
    let sum = |f: &dyn Fn(&TrendGroup) -> f64| groups.iter().map(f).sum::<f64>();
    let n = sum(&|g| g.n as f64);
    let events: u64 = groups.iter().map(|g| g.events).sum();
    let share = events as f64 / n;
    // Scores from their mean on: the slope does not depend on where they start.
    let centre = sum(&|g| g.n as f64 * g.score) / n;
    let slope = sum(&|g| (g.score - centre) * g.events as f64);
    let squares = sum(&|g| g.n as f64 * (g.score - centre).powi(2));
    let z = slope / (share * (1.0 - share) * squares).sqrt();
    if !z.is_finite() {
        return Err(StatsError::NoMaximum {
            why: "all or none had the event, or all scores are alike",
        });
    }
    let exact = exact(groups, events, centre, slope);
    Ok(ProportionTrend {
        z,
        p: (2.0 * normal_cdf(-z.abs())).min(1.0),
        p_exact: exact.map(|e| e.0),
        p_exact_rising: exact.map(|e| e.1),
    })
}

/// Exact probabilities, two-sided and rising, by visiting every table with the same sums.
fn exact(groups: &[TrendGroup], events: u64, centre: f64, slope: f64) -> Option<(f64, f64)> {
    let tables: f64 = groups
        .iter()
        .skip(1)
        .map(|g| g.n.min(events) as f64 + 1.0)
        .product();
    if tables > MOST_TABLES {
        return None;
    }
    let scale: f64 = groups
        .iter()
        .map(|g| ((g.score - centre) * g.n as f64).abs())
        .sum();
    let mut walk = Walk {
        slope,
        rounding: 1e-10 * scale,
        two_sided: 0.0,
        rising: 0.0,
    };
    let (mut sizes, mut left): (Vec<(f64, u64)>, u64) = (Vec::new(), 0);
    for g in groups {
        sizes.push((g.score - centre, g.n));
        left += g.n;
    }
    walk.visit(&sizes, left, events, 0.0, 1.0);
    Some((walk.two_sided.min(1.0), walk.rising.min(1.0)))
}

struct Walk {
    slope: f64,
    rounding: f64,
    two_sided: f64,
    rising: f64,
}

impl Walk {
    /// Shares `events` out among the groups left, which have `units` together: those in the first of them are hypergeometric.
    fn visit(&mut self, groups: &[(f64, u64)], units: u64, events: u64, sum: f64, weight: f64) {
        let Some((&(score, n), rest)) = groups.split_first() else {
            if sum >= self.slope - self.rounding {
                self.rising += weight;
            }
            if sum.abs() >= self.slope.abs() - self.rounding {
                self.two_sided += weight;
            }
            return;
        };
        let others = units - n;
        let least = events.saturating_sub(others);
        for (extra, p) in (0..).zip(hypergeometric(n, others, events)) {
            let x: u64 = least + extra;
            self.visit(rest, others, events - x, sum + score * x as f64, weight * p);
        }
    }
}
