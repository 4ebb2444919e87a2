//! What the strengths of a group say: mean and spread, Weibull, tolerance limits. Pressures in kPa.

use super::families::open_interval;
use super::sample::Sample;
use super::words::percent;
use crate::recording::{Interval, PressureStatistics, ToleranceResult, WeibullResult};
use crate::stats::{
    FEW_FAILURES, Limits, ParameterEstimate, ProfileLimits, StatsError, StrengthFit, WEIBULL,
    clopper_pearson, describe, strength_fit, tolerance_one_sided, tolerance_two_sided,
};
use crate::uncertain::Quantity;

const UNIT: &str = "kPa";
/// Confidence and coverage of the tolerance limits given: those that protocols ask for (common practice, no source).
const LEVELS: &[(f64, f64)] = &[
    (0.90, 0.90),
    (0.90, 0.95),
    (0.95, 0.90),
    (0.95, 0.95),
    (0.95, 0.99),
    (0.99, 0.90),
    (0.99, 0.95),
];
/// Fewest fractures to which a distribution is fitted.
pub(super) const FEWEST_FOR_A_FIT: usize = 2;
/// Fewest pressures for tolerance limits: two values give factors of 20 and more, which say nothing.
pub(super) const FEWEST_FOR_TOLERANCE: usize = 3;

/// Mean and spread of the fracture pressures of the fractured runs.
///
/// `u` of the mean is its standard error, `u` of the standard deviation `sd / √(2 (n − 1))` (GUM E.4.3, for normal values).
pub(super) fn pressure_statistics(sample: &Sample<'_>) -> PressureStatistics {
    let pressures = sample.fracture_pressures();
    let n = pressures.len();
    let by_step = sample.by_step();
    let Some(d) = describe(&pressures).ok().filter(|_| !by_step) else {
        let reason = if by_step {
            "fracture pressures are known by steps only: see the distributions"
        } else {
            "no run has a fracture pressure"
        };
        return PressureStatistics {
            n,
            mean: Quantity::missing(UNIT, reason),
            sd: Quantity::missing(UNIT, reason),
            min_kpa: None,
            max_kpa: None,
        };
    };
    let one = "a single fracture pressure has no spread";
    let method = "mean of the fractured runs alone; u is the standard error sd/√n";
    let alike = "the fracture pressures do not differ: their scatter is below what was resolved";
    let mean = match d.standard_error {
        Some(0.0) => Quantity::without_u(d.mean, UNIT, method, alike),
        Some(error) => Quantity::known(d.mean, error, UNIT, method),
        None => Quantity::without_u(d.mean, UNIT, "the only fracture pressure", one),
    };
    let sd = d.sd.map_or_else(
        || Quantity::missing(UNIT, one),
        |sd| {
            let u = sd / (2.0 * (n as f64 - 1.0)).sqrt();
            let method =
                "standard deviation of the fractured runs alone, with n - 1; u is sd/√(2(n-1))";
            Quantity::known(sd, u, UNIT, method)
        },
    );
    PressureStatistics {
        n,
        mean,
        sd,
        min_kpa: Some(d.min),
        max_kpa: Some(d.max),
    }
}

/// A share with its exact two-sided limits; `of` says what it is a share of.
pub(super) fn share(some: usize, all: usize, confidence: f64, of: &str) -> Interval {
    interval(
        some as f64 / all as f64,
        clopper_pearson(some as u64, all as u64, confidence),
        confidence,
        "1",
        &format!("{of}; exact two-sided limits (Clopper-Pearson)"),
    )
}

/// An interval from an estimate and its limits; where the limits failed, the method says why.
pub(super) fn interval(
    value: f64,
    limits: Result<Limits, StatsError>,
    confidence: f64,
    unit: &str,
    method: &str,
) -> Interval {
    let sound = limits.and_then(|l| {
        if l.lower.is_finite() && l.upper.is_finite() {
            Ok(l)
        } else {
            Err(StatsError::NotConverged {
                what: "the interval",
            })
        }
    });
    let method = match &sound {
        Ok(_) => method.to_owned(),
        Err(error) => format!("{method}; no limits: {error}"),
    };
    let limits = sound.ok();
    Interval {
        value: value.is_finite().then_some(value),
        lower: limits.map(|l| l.lower),
        upper: limits.map(|l| l.upper),
        confidence,
        unit: unit.to_owned(),
        method,
    }
}

/// Weibull fit with right-censoring, or the reason there is none, as a remark.
pub(super) fn weibull(
    sample: &Sample<'_>,
    confidence: f64,
    remarks: &mut Vec<String>,
) -> Option<WeibullResult> {
    let fit = match strength_fit(&WEIBULL, &sample.ranges) {
        Ok(fit) => fit,
        Err(error) => {
            remarks.push(format!("No Weibull fit: {error}."));
            return None;
        }
    };
    if fit.failures < FEW_FAILURES {
        remarks.push(format!(
            "The Weibull fit rests on {} fractures: with fewer than {FEW_FAILURES} its shape comes out far too high on average, and limits from it are too narrow.",
            fit.failures
        ));
    }
    let likelihood = "maximum likelihood, runs without fracture right-censored";
    let [scale, shape] = fit.parameters(confidence).ok()?;
    let method = format!("{likelihood}; likelihood-ratio interval");
    let parameter = |of: &ParameterEstimate, unit: &str| {
        open_interval(of.value, Ok(of.limits), confidence, unit, &method)
    };
    Some(WeibullResult {
        shape: parameter(&shape, "1"),
        scale: parameter(&scale, UNIT),
        b10: b10(&fit, confidence, likelihood),
        log_likelihood: fit.ln_likelihood,
        failures: fit.failures,
    })
}

fn b10(fit: &StrengthFit, confidence: f64, likelihood: &str) -> Interval {
    let profile = fit
        .quantile_limits(0.1, confidence)
        .map(ProfileLimits::closed);
    let (limits, how) = match profile {
        Ok(Some(closed)) => (Ok(closed), "likelihood-ratio interval"),
        _ => (
            fit.quantile_wald(0.1, confidence),
            "Wald interval on the logarithm",
        ),
    };
    let method = format!("{likelihood}; 10 % quantile, {how}");
    interval(
        fit.quantile(0.1).unwrap_or(f64::NAN),
        limits,
        confidence,
        UNIT,
        &method,
    )
}

/// Normal tolerance limits, one- and two-sided, where every run that counts fractured; else a remark says why there are none.
///
/// A one-sided lower and a one-sided upper limit are two statements, each with its own confidence, and stand in entries of their own.
pub(super) fn tolerance(sample: &Sample<'_>, remarks: &mut Vec<String>) -> Vec<ToleranceResult> {
    let pressures = sample.fracture_pressures();
    let unbroken = sample.runs.len() - sample.fractured();
    let why_not = if sample.by_step() {
        Some(
            "fracture pressures are known by steps only; use the quantiles of the distributions"
                .to_owned(),
        )
    } else if unbroken > 0 {
        Some(format!(
            "{unbroken} of {} runs did not fracture{}",
            sample.runs.len(),
            if sample.fractured() >= FEWEST_FOR_A_FIT {
                "; use the quantiles of the distributions"
            } else {
                ""
            }
        ))
    } else if pressures.len() < FEWEST_FOR_TOLERANCE {
        Some(format!(
            "fracture pressures: at least {FEWEST_FOR_TOLERANCE} needed, {} given",
            pressures.len()
        ))
    } else {
        None
    };
    if let Some(why) = why_not {
        remarks.push(format!("No tolerance limits: {why}."));
        return Vec::new();
    }
    let Some((d, sd)) = describe(&pressures)
        .ok()
        .and_then(|d| Some((d, d.sd.filter(|sd| *sd > 0.0)?)))
    else {
        remarks.push("No tolerance limits: the fracture pressures do not differ.".to_owned());
        return Vec::new();
    };
    let n = d.n as u64;
    let mut limits = Vec::new();
    for &(confidence, coverage) in LEVELS {
        let entry = |sides: u8, k: f64, below: bool, above: bool| ToleranceResult {
            confidence,
            coverage,
            sides,
            k,
            lower: below.then_some(d.mean - k * sd),
            upper: above.then_some(d.mean + k * sd),
            unit: UNIT.to_owned(),
        };
        let mut failed = |error: StatsError| {
            remarks.push(format!(
                "No tolerance limits at {} confidence and {} coverage: {error}.",
                percent(confidence),
                percent(coverage)
            ));
        };
        match tolerance_one_sided(n, coverage, confidence) {
            Ok(k) => limits.extend([entry(1, k, true, false), entry(1, k, false, true)]),
            Err(error) => failed(error),
        }
        match tolerance_two_sided(n, coverage, confidence) {
            Ok(k) => limits.push(entry(2, k, true, true)),
            Err(error) => failed(error),
        }
    }
    remarks.push(
        "Tolerance limits hold if fracture pressures are normally distributed, and each at its own confidence, not all at once."
            .to_owned(),
    );
    if limits.iter().any(|l| l.lower.is_some_and(|x| x < 0.0)) {
        remarks.push(
            "A lower tolerance limit below zero says that the runs are too few for a lower limit."
                .to_owned(),
        );
    }
    limits
}
