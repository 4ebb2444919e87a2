//! The two-parameter Weibull distribution of a strength, from failures, runs without failure, and steps.

use statrs::function::gamma::gamma;

use super::binomial::Limits;
use super::error::{StatsError, check_probability};
use super::location_scale::{Family, LocationScale, fit};
use super::normal::normal_quantile;
use super::observation::{
    IntervalObservation, Observation, data_of, data_of_intervals, ln_jacobian_of_logarithm,
};

/// With fewer failures than this the estimate of the shape is too high by half or more on average (Thoman, Bain & Antle 1969,
/// Technometrics 11:445: factor 1/0.669 for five failures, from memory), and a fit should carry a warning.
pub const FEW_FAILURES: usize = 5;

/// Smallest extreme value distribution, `F = 1 - exp(-exp(z))`: that of the logarithm of a Weibull variable.
#[derive(Debug)]
pub(super) struct SmallestExtreme;

impl Family for SmallestExtreme {
    fn ln_density(&self, z: f64) -> f64 {
        z - z.exp()
    }
    fn score(&self, z: f64) -> f64 {
        -z.exp_m1()
    }
    fn score_slope(&self, z: f64) -> f64 {
        -z.exp()
    }
    fn ln_interval(&self, a: f64, b: f64) -> f64 {
        let before = if a.is_finite() { a.exp() } else { 0.0 };
        if b == f64::INFINITY {
            return -before;
        }
        let inside = if a.is_finite() {
            before * (b - a).exp_m1()
        } else {
            b.exp()
        };
        (-(-inside).exp_m1()).ln() - before
    }
    fn quantile(&self, p: f64) -> f64 {
        (-(-p).ln_1p()).ln()
    }
}

/// A fitted Weibull distribution `F(x) = 1 - exp(-(x/scale)^shape)`.
#[derive(Debug, Clone)]
pub struct WeibullFit {
    /// Shape (Weibull modulus), no unit.
    pub shape: f64,
    /// Scale (63.2 % quantile), in the unit of the values.
    pub scale: f64,
    /// Standard uncertainty of the shape, from the observed information.
    pub u_shape: f64,
    /// Standard uncertainty of the scale.
    pub u_scale: f64,
    /// Log-likelihood at the maximum (densities in the unit of the values).
    pub ln_likelihood: f64,
    /// Number of observations.
    pub n: usize,
    /// Number of them that failed (at a value or in a step).
    pub failures: usize,
    inner: LocationScale,
}

impl WeibullFit {
    /// The value below which the part `p` of the population fails: `scale (-ln(1 - p))^(1/shape)`.
    pub fn quantile(&self, p: f64) -> Result<f64, StatsError> {
        check_probability("the probability", p)?;
        Ok(self.inner.quantile(SmallestExtreme.quantile(p)).exp())
    }

    /// Standard uncertainty of [`quantile`](Self::quantile), by the delta method.
    pub fn u_quantile(&self, p: f64) -> Result<f64, StatsError> {
        Ok(self.quantile(p)? * self.inner.u_quantile(SmallestExtreme.quantile(p)))
    }

    /// Value below which a tenth of the population fails.
    pub fn b10(&self) -> f64 {
        self.inner.quantile(SmallestExtreme.quantile(0.1)).exp()
    }

    /// Two-sided Wald interval of the shape, on its logarithm.
    pub fn shape_limits(&self, confidence: f64) -> Result<Limits, StatsError> {
        wald(self.shape, self.inner.var_ln_sigma.sqrt(), confidence)
    }

    /// Two-sided Wald interval of the scale, on its logarithm.
    pub fn scale_limits(&self, confidence: f64) -> Result<Limits, StatsError> {
        wald(self.scale, self.inner.var_mu.sqrt(), confidence)
    }

    /// Two-sided Wald interval of a quantile, on its logarithm. Prefer [`quantile_profile`](Self::quantile_profile) for small samples.
    pub fn quantile_limits(&self, p: f64, confidence: f64) -> Result<Limits, StatsError> {
        let value = self.quantile(p)?;
        wald(
            value,
            self.inner.u_quantile(SmallestExtreme.quantile(p)),
            confidence,
        )
    }

    /// Two-sided interval of a quantile by the likelihood ratio: the values at which twice the log-likelihood, all else chosen best,
    /// has fallen by the chi-squared quantile of one degree of freedom.
    pub fn quantile_profile(&self, p: f64, confidence: f64) -> Result<Limits, StatsError> {
        check_probability("the confidence", confidence)?;
        let one_sided = 0.5 + 0.5 * confidence;
        Ok(Limits {
            lower: self.profile_limit(p, one_sided, -1.0)?,
            upper: self.profile_limit(p, one_sided, 1.0)?,
        })
    }

    /// One-sided lower limit of a quantile by the likelihood ratio, as for the pressure that all but the part `p` withstand.
    pub fn quantile_lower_profile(&self, p: f64, confidence: f64) -> Result<f64, StatsError> {
        if !(confidence > 0.5 && confidence < 1.0) {
            return Err(StatsError::OutOfRange {
                what: "the confidence",
                range: "between 0.5 and 1",
                found: confidence,
            });
        }
        self.profile_limit(p, confidence, -1.0)
    }

    fn profile_limit(&self, p: f64, one_sided: f64, side: f64) -> Result<f64, StatsError> {
        check_probability("the probability", p)?;
        let fall = normal_quantile(one_sided).powi(2);
        self.inner
            .profile_limit(SmallestExtreme.quantile(p), side, fall)
            .map(f64::exp)
            .ok_or(StatsError::NotConverged {
                what: "the likelihood limit of the quantile",
            })
    }

    /// Mean of the distribution, `scale Γ(1 + 1/shape)`.
    pub fn mean(&self) -> f64 {
        self.scale * gamma(1.0 + 1.0 / self.shape)
    }

    /// Standard deviation of the distribution, `scale sqrt(Γ(1 + 2/shape) - Γ(1 + 1/shape)²)`.
    pub fn sd(&self) -> f64 {
        let first = gamma(1.0 + 1.0 / self.shape);
        self.scale
            * (gamma(1.0 + 2.0 / self.shape) - first * first)
                .max(0.0)
                .sqrt()
    }
}

/// `value exp(± z u)` with the standard uncertainty `u` of the logarithm.
fn wald(value: f64, u_ln: f64, confidence: f64) -> Result<Limits, StatsError> {
    check_probability("the confidence", confidence)?;
    let off = normal_quantile(0.5 + 0.5 * confidence) * u_ln;
    Ok(Limits {
        lower: value * (-off).exp(),
        upper: value * off.exp(),
    })
}

/// Failures needed: one failure among any number of runs fixes no shape worth a name.
const LEAST_FAILURES: usize = 2;

fn check_failures(failures: usize) -> Result<(), StatsError> {
    if failures < LEAST_FAILURES {
        return Err(StatsError::TooFew {
            what: "failures",
            needed: LEAST_FAILURES,
            found: failures,
        });
    }
    Ok(())
}

fn finish(inner: LocationScale, n: usize, failures: usize, ln_jacobian: f64) -> WeibullFit {
    let (shape, scale) = (1.0 / inner.sigma, inner.mu.exp());
    WeibullFit {
        shape,
        scale,
        u_shape: shape * inner.var_ln_sigma.sqrt(),
        u_scale: scale * inner.var_mu.sqrt(),
        ln_likelihood: inner.ln_likelihood + ln_jacobian,
        n,
        failures,
        inner,
    }
}

/// Fits a Weibull distribution to failures and right-censored runs by maximum likelihood.
///
/// Fails with the reason for fewer than two failures, for values that are not positive, and where all failures are equal with nothing
/// withstood beyond them (the shape would be infinite). Warn below [`FEW_FAILURES`].
pub fn weibull_fit(observations: &[Observation]) -> Result<WeibullFit, StatsError> {
    let data = data_of(observations, true, f64::ln)?;
    let failures = observations.iter().filter(|o| !o.censored).count();
    check_failures(failures)?;
    let exact = observations.iter().filter(|o| !o.censored).map(|o| o.value);
    let ln_jacobian = ln_jacobian_of_logarithm(exact);
    let inner = fit(&SmallestExtreme, &data)?;
    Ok(finish(inner, observations.len(), failures, ln_jacobian))
}

/// Fits a Weibull distribution to strengths known by the step in which they failed, `ln L = Σ ln(F(up_to) - F(above))`.
pub fn weibull_fit_intervals(
    observations: &[IntervalObservation],
) -> Result<WeibullFit, StatsError> {
    let data = data_of_intervals(observations, true, f64::ln)?;
    let failures = observations.iter().filter(|o| o.up_to.is_finite()).count();
    check_failures(failures)?;
    let inner = fit(&SmallestExtreme, &data)?;
    let exact = observations.iter().filter_map(IntervalObservation::value);
    let ln_jacobian = ln_jacobian_of_logarithm(exact);
    Ok(finish(inner, observations.len(), failures, ln_jacobian))
}
