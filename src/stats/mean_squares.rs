//! Confidence limits of sums and differences of mean squares, as variance components are.

use super::binomial::Limits;
use super::error::{StatsError, check_probability};
use super::quantiles::{chi_squared_quantile, f_quantile};

/// A mean square with its weight in a sum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Term {
    /// Weight; may be negative.
    pub weight: f64,
    /// Mean square.
    pub ms: f64,
    /// Degrees of freedom.
    pub df: f64,
}

impl Term {
    fn size(&self) -> f64 {
        self.weight.abs() * self.ms
    }
}

/// How far a mean square may lie above what it estimates, and below it, as shares of itself at one tail.
struct Reach {
    down: f64,
    up: f64,
}

fn reach(df: f64, tail: f64) -> Result<Reach, StatsError> {
    Ok(Reach {
        down: 1.0 - df / chi_squared_quantile(1.0 - tail, df)?,
        up: df / chi_squared_quantile(tail, df)? - 1.0,
    })
}

/// Modified large-sample limits of a weighted sum of independent mean squares: Graybill & Wang (1980, JASA 75:869) where all weights are
/// positive, Ting et al. (1990, J. Stat. Comput. Simul. 35:135) where some are negative; for one mean square the exact chi-squared limits.
/// Formulas from memory; their coverage is checked by simulation.
pub(super) fn limits(terms: &[Term], confidence: f64) -> Result<Limits, StatsError> {
    check_probability("the confidence", confidence)?;
    let tail = 0.5 - 0.5 * confidence;
    let value: f64 = terms.iter().map(|t| t.weight * t.ms).sum();
    let reaches = terms
        .iter()
        .map(|t| reach(t.df, tail))
        .collect::<Result<Vec<Reach>, StatsError>>()?;
    let of = |sign: f64| -> Vec<(&Term, &Reach)> {
        let all = terms.iter().zip(&reaches);
        all.filter(|(t, _)| t.weight * sign > 0.0).collect()
    };
    let (plus, minus) = (of(1.0), of(-1.0));
    let (mut below, mut above) = (0.0, 0.0);
    for (t, r) in &plus {
        below += (r.down * t.size()).powi(2);
        above += (r.up * t.size()).powi(2);
    }
    for (t, r) in &minus {
        below += (r.up * t.size()).powi(2);
        above += (r.down * t.size()).powi(2);
    }
    for (a, ra) in &plus {
        for (b, rb) in &minus {
            let sizes = a.size() * b.size();
            let f = f_quantile(1.0 - tail, a.df, b.df)?;
            below += ((f - 1.0).powi(2) - (ra.down * f).powi(2) - rb.up.powi(2)) / f * sizes;
            let f = f_quantile(tail, a.df, b.df)?;
            above += ((1.0 - f).powi(2) - (ra.up * f).powi(2) - rb.down.powi(2)) / f * sizes;
        }
    }
    if !minus.is_empty() {
        below += same_sign(&plus, tail)?;
    }
    if !plus.is_empty() {
        above += same_sign(&minus, tail)?;
    }
    Ok(Limits {
        lower: value - below.max(0.0).sqrt(),
        upper: value + above.max(0.0).sqrt(),
    })
}

/// The share of pairs of mean squares of one sign.
fn same_sign(terms: &[(&Term, &Reach)], tail: f64) -> Result<f64, StatsError> {
    let mut sum = 0.0;
    for (at, (a, ra)) in terms.iter().enumerate() {
        for (b, rb) in terms.iter().skip(at + 1) {
            let df = a.df + b.df;
            let joint = reach(df, tail)?.down.powi(2) * df * df / (a.df * b.df);
            let own = ra.down.powi(2) * a.df / b.df + rb.down.powi(2) * b.df / a.df;
            sum += (joint - own) * a.size() * b.size();
        }
    }
    Ok(sum / (terms.len().max(2) - 1) as f64)
}
