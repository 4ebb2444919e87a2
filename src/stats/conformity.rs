//! Decisions on a measured value with its uncertainty (JCGM 106:2012, The role of measurement uncertainty in conformity assessment).

use super::error::StatsError;
use super::normal::{normal_cdf, normal_ln_cdf};

/// A tolerance interval of a property; a missing end is infinite.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tolerance {
    /// Lower tolerance limit, `-∞` if there is none.
    pub lower: f64,
    /// Upper tolerance limit, `∞` if there is none.
    pub upper: f64,
}

/// Outcome of a decision rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Conformity {
    /// The measured value lies within the acceptance limits.
    Accepted,
    /// It lies within the tolerance, but not within the acceptance limits: neither is shown.
    Guarded,
    /// It lies outside the tolerance.
    Rejected,
}

/// Decision on a measured value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GuardedDecision {
    /// Without a guard band (simple acceptance, shared risk).
    pub simple: Conformity,
    /// With the guard band.
    pub guarded: Conformity,
    /// Width of the guard band, in the unit of the value.
    pub guard_band: f64,
    /// Probability that the property conforms, given the measured value as normal with its standard uncertainty and no knowledge before.
    pub conformance: f64,
    /// Probability that it does not, kept apart since it may be too small to be one less the other.
    pub non_conformance: f64,
}

fn check(tolerance: Tolerance, value: f64, u: f64) -> Result<(), StatsError> {
    if tolerance.lower.is_nan() || tolerance.upper.is_nan() || tolerance.lower >= tolerance.upper {
        return Err(StatsError::OutOfRange {
            what: "the lower tolerance limit",
            range: "below the upper one",
            found: tolerance.lower,
        });
    }
    if tolerance.lower == f64::NEG_INFINITY && tolerance.upper == f64::INFINITY {
        return Err(StatsError::TooFew {
            what: "finite tolerance limits",
            needed: 1,
            found: 0,
        });
    }
    if !value.is_finite() {
        return Err(StatsError::BadValue {
            must_be: "a finite measured value",
            index: 0,
        });
    }
    if !(u > 0.0 && u.is_finite()) {
        return Err(StatsError::OutOfRange {
            what: "the standard uncertainty",
            range: "finite and greater than zero",
            found: u,
        });
    }
    Ok(())
}

/// Decides on `value` with standard uncertainty `u`. The acceptance limits stand `w = multiple u` inside the tolerance limits (JCGM 106,
/// 8.3.2): 2 is the guard band of the expanded uncertainty, at which no more than 2.3 % are accepted wrongly at one limit; 1.645 keeps
/// 5 %; 0 is simple acceptance. A value on a limit is accepted.
pub fn guarded_decision(
    tolerance: Tolerance,
    value: f64,
    u: f64,
    multiple: f64,
) -> Result<GuardedDecision, StatsError> {
    check(tolerance, value, u)?;
    if !(multiple >= 0.0 && multiple.is_finite()) {
        return Err(StatsError::OutOfRange {
            what: "the multiple of the standard uncertainty",
            range: "not negative",
            found: multiple,
        });
    }
    let band = multiple * u;
    let within = |w: f64| value >= tolerance.lower + w && value <= tolerance.upper - w;
    let simple = if within(0.0) {
        Conformity::Accepted
    } else {
        Conformity::Rejected
    };
    let below = normal_cdf((tolerance.lower - value) / u);
    let above = normal_cdf((value - tolerance.upper) / u);
    Ok(GuardedDecision {
        simple,
        guarded: match simple {
            Conformity::Accepted if !within(band) => Conformity::Guarded,
            other => other,
        },
        guard_band: band,
        conformance: conformance(tolerance, value, u),
        non_conformance: (below + above).min(1.0),
    })
}

/// `Φ((upper - value)/u) - Φ((lower - value)/u)` (JCGM 106, 7.3), to full relative precision on either side of the interval.
fn conformance(tolerance: Tolerance, value: f64, u: f64) -> f64 {
    let (mut a, mut b) = ((tolerance.lower - value) / u, (tolerance.upper - value) / u);
    if a > 0.0 {
        (a, b) = (-b, -a);
    }
    if b <= 0.0 {
        let upper = normal_ln_cdf(b);
        return upper.exp() * -(normal_ln_cdf(a) - upper).exp_m1();
    }
    (1.0 - normal_cdf(a) - normal_cdf(-b)).max(0.0)
}
