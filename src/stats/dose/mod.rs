//! Pass or fail at chosen levels: how the probability of failure rises with the level (Finney 1971, Probit Analysis).

mod logistic;
mod penalised;

use super::error::{StatsError, check_probability};
use super::levels::{Level, check_levels, data_of_levels};
use super::location_scale::{Family, LocationScale, fit};
use super::normal::normal_quantile;
use super::normal_family::Normal;
use super::quantiles::chi_squared_upper_tail;
use super::strength::ProfileLimits;
use logistic::Logistic;
use penalised::Penalised;

/// Shape of the rise.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DoseCurve {
    /// `Φ((level - ed50)/spread)`: thresholds are normal, `spread` their standard deviation.
    Probit,
    /// `1/(1 + exp(-(level - ed50)/spread))`: thresholds are logistic, `spread` their scale (standard deviation over 1.8138).
    Logit,
}

/// What is made greatest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DoseEstimate {
    /// The likelihood. Exists only where levels with failures and with passes overlap.
    MaximumLikelihood,
    /// The likelihood with Jeffreys' prior as a penalty: less bias in small samples, and finite without overlap too.
    BiasReduced,
}

/// Levels with passes all lie below those with failures: the data fit a sharp threshold anywhere between, and no spread of it can be told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Separation {
    /// Highest level at which a unit passed.
    pub highest_pass: f64,
    /// Lowest level at which a unit failed; equal to `highest_pass` where one level has both.
    pub lowest_failure: f64,
}

/// Whether outcomes are separated; `None` if they overlap, or if all passed or all failed.
pub fn separation(levels: &[Level]) -> Option<Separation> {
    let highest_pass = levels
        .iter()
        .filter(|l| l.failures < l.n)
        .map(|l| l.level)
        .reduce(f64::max)?;
    let lowest_failure = levels
        .iter()
        .filter(|l| l.failures > 0)
        .map(|l| l.level)
        .reduce(f64::min)?;
    (highest_pass <= lowest_failure).then_some(Separation {
        highest_pass,
        lowest_failure,
    })
}

/// A fitted dose-response curve.
#[derive(Debug, Clone)]
pub struct DoseFit {
    /// Shape of the rise.
    pub curve: DoseCurve,
    /// What was made greatest.
    pub estimate: DoseEstimate,
    /// Level at which half of the units fail.
    pub ed50: f64,
    /// Spread of the thresholds, in the unit of the levels; see [`DoseCurve`]. One over it is the slope.
    pub spread: f64,
    /// Log-likelihood without binomial coefficients and without a penalty.
    pub ln_likelihood: f64,
    /// Twice the log-likelihood that a share for each level of its own would gain.
    pub deviance: f64,
    /// Levels less two; the deviance is chi-squared distributed with it where levels have some five expected outcomes of each kind.
    pub dof: usize,
    /// Units.
    pub n: usize,
    /// Units that failed.
    pub failures: usize,
    inner: Inner,
}

#[derive(Debug, Clone)]
enum Inner {
    Likelihood(LocationScale),
    Penalised(Penalised),
}

fn family(curve: DoseCurve) -> &'static dyn Family {
    match curve {
        DoseCurve::Probit => &Normal,
        DoseCurve::Logit => &Logistic,
    }
}

/// Fits a curve. Every unit must have been tested once.
///
/// Fails where failures do not rise with the level, where all units passed or all failed, and by maximum likelihood where outcomes are
/// separated (see [`separation`]).
pub fn dose_fit(
    levels: &[Level],
    curve: DoseCurve,
    estimate: DoseEstimate,
) -> Result<DoseFit, StatsError> {
    check_levels(levels)?;
    let n: usize = levels.iter().map(|l| l.n).sum();
    let failures: usize = levels.iter().map(|l| l.failures).sum();
    if failures == 0 || failures == n {
        return Err(StatsError::NoMaximum {
            why: "all units passed, or all failed",
        });
    }
    let (ed50, spread, ln_likelihood, inner) = match estimate {
        DoseEstimate::MaximumLikelihood => {
            let inner = fit(family(curve), &data_of_levels(levels))?;
            (
                inner.mu,
                inner.sigma,
                inner.ln_likelihood,
                Inner::Likelihood(inner),
            )
        }
        DoseEstimate::BiasReduced => {
            let inner = penalised::fit(family(curve), levels)?;
            (
                inner.mu,
                inner.sigma,
                inner.ln_likelihood,
                Inner::Penalised(inner),
            )
        }
    };
    let saturated: f64 = levels
        .iter()
        .flat_map(|l| [(l.failures, l.n), (l.n - l.failures, l.n)])
        .filter(|(x, _)| *x > 0)
        .map(|(x, n)| x as f64 * (x as f64 / n as f64).ln())
        .sum();
    Ok(DoseFit {
        curve,
        estimate,
        ed50,
        spread,
        ln_likelihood,
        deviance: (2.0 * (saturated - ln_likelihood)).max(0.0),
        dof: levels.iter().filter(|l| l.n > 0).count().saturating_sub(2),
        n,
        failures,
        inner,
    })
}

impl DoseFit {
    /// Level at which the part `p` of the units fails: 0.5 gives the ED50, 0.9 the ED90.
    pub fn level(&self, p: f64) -> Result<f64, StatsError> {
        let w = self.standard(p)?;
        Ok(match &self.inner {
            Inner::Likelihood(fit) => fit.quantile(w),
            Inner::Penalised(fit) => fit.quantile(w),
        })
    }

    /// Standard uncertainty of that level, by the delta method: from the observed information (maximum likelihood) or the expected one
    /// (bias-reduced).
    pub fn u_level(&self, p: f64) -> Result<f64, StatsError> {
        let w = self.standard(p)?;
        Ok(match &self.inner {
            Inner::Likelihood(fit) => fit.u_quantile(w),
            Inner::Penalised(fit) => fit.u_quantile(w),
        })
    }

    /// Two-sided interval of that level by the ratio of (penalised) likelihoods. An end is open where the data do not show that failures
    /// rise with the level at this confidence.
    pub fn level_limits(&self, p: f64, confidence: f64) -> Result<ProfileLimits, StatsError> {
        check_probability("the confidence", confidence)?;
        let w = self.standard(p)?;
        let fall = normal_quantile(0.5 + 0.5 * confidence).powi(2);
        let limit = |side: f64| match &self.inner {
            Inner::Likelihood(fit) => fit.profile_limit(w, side, fall),
            Inner::Penalised(fit) => fit.profile_limit(w, side, fall),
        };
        Ok(ProfileLimits {
            lower: limit(-1.0),
            upper: limit(1.0),
        })
    }

    /// Probability of a deviance as large as this or larger if the curve holds; `None` for two levels, which any curve fits.
    pub fn p_of_fit(&self) -> Option<f64> {
        (self.dof > 0).then(|| chi_squared_upper_tail(self.deviance, self.dof as f64))
    }

    fn standard(&self, p: f64) -> Result<f64, StatsError> {
        check_probability("the probability", p)?;
        Ok(family(self.curve).quantile(p))
    }
}
