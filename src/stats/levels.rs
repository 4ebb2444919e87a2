//! Pass or fail at chosen levels: what is known of thresholds.

use super::error::StatsError;
use super::location_scale::Datum;

/// Outcome at one level; every unit is used once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// The load applied.
    pub level: f64,
    /// Units tested at it.
    pub n: usize,
    /// Units of them that failed.
    pub failures: usize,
}

/// Fails for no unit, and for a level that is not finite or has more failures than units.
pub(super) fn check_levels(levels: &[Level]) -> Result<(), StatsError> {
    let bad = |l: &Level| !l.level.is_finite() || l.failures > l.n;
    if let Some(index) = levels.iter().position(bad) {
        return Err(StatsError::BadValue {
            must_be: "finite, with not more failures than units",
            index,
        });
    }
    if levels.iter().all(|l| l.n == 0) {
        return Err(StatsError::TooFew {
            what: "units",
            needed: 1,
            found: 0,
        });
    }
    Ok(())
}

/// Thresholds as each level leaves them known.
pub(super) fn data_of_levels(levels: &[Level]) -> Vec<Datum> {
    let mut data = Vec::new();
    for l in levels {
        if l.failures > 0 {
            data.push(Datum::between(f64::NEG_INFINITY, l.level).times(l.failures as f64));
        }
        if l.failures < l.n {
            data.push(Datum::between(l.level, f64::INFINITY).times((l.n - l.failures) as f64));
        }
    }
    data
}
