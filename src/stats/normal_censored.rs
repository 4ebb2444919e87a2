//! The normal distribution of a strength, from failures, runs without failure, and steps.

use super::binomial::Limits;
use super::error::{StatsError, check_probability};
use super::location_scale::{Family, LocationScale, fit};
use super::normal::{self, normal_quantile};
use super::observation::{IntervalObservation, Observation, data_of, data_of_intervals};

/// Standard normal distribution.
#[derive(Debug)]
pub(super) struct Normal;

impl Family for Normal {
    fn ln_density(&self, z: f64) -> f64 {
        normal::ln_density(z)
    }
    fn score(&self, z: f64) -> f64 {
        -z
    }
    fn score_slope(&self, _: f64) -> f64 {
        -1.0
    }
    fn ln_interval(&self, a: f64, b: f64) -> f64 {
        normal::ln_interval(a, b)
    }
    fn quantile(&self, p: f64) -> f64 {
        normal_quantile(p)
    }
}

/// A fitted normal distribution.
#[derive(Debug, Clone)]
pub struct NormalFit {
    /// Mean of the population, in the unit of the values.
    pub mean: f64,
    /// Standard deviation of the population by maximum likelihood (with `n`, not `n - 1`, where nothing is censored).
    pub sd: f64,
    /// Standard uncertainty of the mean, from the observed information.
    pub u_mean: f64,
    /// Standard uncertainty of the standard deviation.
    pub u_sd: f64,
    /// Log-likelihood at the maximum.
    pub ln_likelihood: f64,
    /// Number of observations.
    pub n: usize,
    /// Number of them that failed (at a value or in a step).
    pub failures: usize,
    inner: LocationScale,
}

impl NormalFit {
    pub(super) fn new(inner: LocationScale, n: usize, failures: usize) -> Self {
        Self {
            mean: inner.mu,
            sd: inner.sigma,
            u_mean: inner.var_mu.sqrt(),
            u_sd: inner.sigma * inner.var_ln_sigma.sqrt(),
            ln_likelihood: inner.ln_likelihood,
            n,
            failures,
            inner,
        }
    }

    /// Value below which the part `p` of the population fails.
    pub fn quantile(&self, p: f64) -> Result<f64, StatsError> {
        check_probability("the probability", p)?;
        Ok(self.inner.quantile(normal_quantile(p)))
    }

    /// Standard uncertainty of [`quantile`](Self::quantile), by the delta method.
    pub fn u_quantile(&self, p: f64) -> Result<f64, StatsError> {
        check_probability("the probability", p)?;
        Ok(self.inner.u_quantile(normal_quantile(p)))
    }

    /// Two-sided Wald interval of a quantile.
    pub fn quantile_limits(&self, p: f64, confidence: f64) -> Result<Limits, StatsError> {
        check_probability("the confidence", confidence)?;
        let (value, u) = (self.quantile(p)?, self.u_quantile(p)?);
        let off = normal_quantile(0.5 + 0.5 * confidence) * u;
        Ok(Limits {
            lower: value - off,
            upper: value + off,
        })
    }
}

fn check_failures(failures: usize) -> Result<(), StatsError> {
    if failures < 2 {
        return Err(StatsError::TooFew {
            what: "failures",
            needed: 2,
            found: failures,
        });
    }
    Ok(())
}

/// Fits a normal distribution to failures and right-censored runs by maximum likelihood. Fails as
/// [`weibull_fit`](super::weibull_fit) does, but takes values of any sign.
pub fn normal_fit(observations: &[Observation]) -> Result<NormalFit, StatsError> {
    let data = data_of(observations, false, |x| x)?;
    let failures = observations.iter().filter(|o| !o.censored).count();
    check_failures(failures)?;
    Ok(NormalFit::new(
        fit(&Normal, &data)?,
        observations.len(),
        failures,
    ))
}

/// Fits a normal distribution to strengths known by the step in which they failed.
pub fn normal_fit_intervals(observations: &[IntervalObservation]) -> Result<NormalFit, StatsError> {
    let data = data_of_intervals(observations, false, |x| x)?;
    let failures = observations.iter().filter(|o| o.up_to.is_finite()).count();
    check_failures(failures)?;
    Ok(NormalFit::new(
        fit(&Normal, &data)?,
        observations.len(),
        failures,
    ))
}
