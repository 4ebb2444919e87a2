//! Product-limit estimate of survival (Kaplan & Meier 1958, JASA 53:457).

use super::binomial::Limits;
use super::error::{StatsError, check_probability};
use super::normal::normal_quantile;
use super::observation::Observation;

/// Rounding allowed where a survival is compared with a half: products such as 2/3 · 3/4 come out one unit too high.
const ROUNDING: f64 = 1e-12;

/// State after the failures at one value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SurvivalStep {
    /// The value at which there were failures.
    pub value: f64,
    /// Units that had neither failed nor been censored before it.
    pub at_risk: usize,
    /// Failures at this value.
    pub failures: usize,
    /// Part of the population that survives beyond this value.
    pub survival: f64,
    /// Standard uncertainty of `survival` (Greenwood 1926); `None` where all have failed and the formula gives no answer.
    pub u: Option<f64>,
}

impl SurvivalStep {
    /// Limits of the survival at this value by the log(-log) transformation, which stay within 0..1. `None` where there is no `u`.
    pub fn limits(&self, confidence: f64) -> Option<Limits> {
        if !(confidence > 0.0 && confidence < 1.0) || self.survival >= 1.0 {
            return None;
        }
        let z = normal_quantile(0.5 + 0.5 * confidence);
        let ln_s = self.survival.ln();
        let off = z * self.u? / (self.survival * ln_s.abs());
        Some(Limits {
            lower: (ln_s * off.exp()).exp(),
            upper: (ln_s * (-off).exp()).exp(),
        })
    }
}

/// A survival curve: 1 before the first step, then constant from each step to the next.
#[derive(Debug, Clone, PartialEq)]
pub struct SurvivalCurve {
    /// One step for each value at which something failed, in rising order.
    pub steps: Vec<SurvivalStep>,
    /// Number of units.
    pub n: usize,
    /// Number of failures.
    pub failures: usize,
    /// Greatest value seen, failed or censored: the curve is not known beyond it.
    pub last: f64,
}

impl SurvivalCurve {
    /// Survival beyond `value`; `None` beyond the last observation unless all had failed by then.
    pub fn survival_at(&self, value: f64) -> Option<f64> {
        let known = value <= self.last || self.steps.last().is_some_and(|s| s.survival <= 0.0);
        known.then(|| {
            self.steps
                .iter()
                .take_while(|s| s.value <= value)
                .last()
                .map_or(1.0, |s| s.survival)
        })
    }

    /// First value at which the survival is not more than a half; `None` if the curve ends above it.
    pub fn median(&self) -> Option<f64> {
        self.steps
            .iter()
            .find(|s| s.survival <= 0.5 + ROUNDING)
            .map(|s| s.value)
    }

    /// Confidence limits of the median: the values at which the lower and the upper log(-log) limit of the survival first reach a half
    /// (Brookmeyer & Crowley 1982, Biometrics 38:29). An upper limit that is not reached is `None`, and so is a lower one.
    pub fn median_limits(&self, confidence: f64) -> Result<(Option<f64>, Option<f64>), StatsError> {
        check_probability("the confidence", confidence)?;
        let first = |limit: fn(Limits) -> f64| {
            self.steps
                .iter()
                .find(|s| s.limits(confidence).is_some_and(|l| limit(l) <= 0.5))
                .map(|s| s.value)
        };
        Ok((first(|l| l.lower), first(|l| l.upper)))
    }
}

/// Estimates the survival curve. Units censored at a value at which others failed count as at risk there. Fails for no observation or a
/// value that is not finite; a sample without any failure gives a curve without steps.
pub fn kaplan_meier(observations: &[Observation]) -> Result<SurvivalCurve, StatsError> {
    if let Some(index) = observations.iter().position(|o| !o.value.is_finite()) {
        return Err(StatsError::BadValue {
            must_be: "a finite number",
            index,
        });
    }
    let mut sorted = observations.to_vec();
    sorted.sort_by(|a, b| a.value.total_cmp(&b.value));
    let Some(last) = sorted.last().map(|o| o.value) else {
        return Err(StatsError::TooFew {
            what: "observations",
            needed: 1,
            found: 0,
        });
    };
    let mut at_risk = sorted.len();
    let mut survival = 1.0;
    let mut greenwood = 0.0;
    let mut steps = Vec::new();
    for same in sorted.chunk_by(|a, b| a.value == b.value) {
        let failures = same.iter().filter(|o| !o.censored).count();
        if let (1.., Some(first)) = (failures, same.first()) {
            let (d, r) = (failures as f64, at_risk as f64);
            survival *= (r - d) / r;
            greenwood += d / (r * (r - d));
            let u: f64 = survival * greenwood.sqrt();
            steps.push(SurvivalStep {
                value: first.value,
                at_risk,
                failures,
                survival,
                u: (u.is_finite() && failures < at_risk).then_some(u),
            });
        }
        at_risk -= same.len();
    }
    Ok(SurvivalCurve {
        failures: steps.iter().map(|s| s.failures).sum(),
        steps,
        n: sorted.len(),
        last,
    })
}
