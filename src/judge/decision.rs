//! How the uncertainty of a measurement counts in a verdict (JCGM 106:2012).

use super::words::names;
use crate::recording::RunResult;

/// Guard band over the standard uncertainty where a protocol does not name another: the one-sided 95 % quantile of the normal distribution,
/// 1.6449 rounded up, so that at most 5 % of values at one limit are accepted wrongly (JCGM 106:2012, 8.3.2 and 8.3.3).
pub const GUARD_FACTOR: f64 = 1.645;

/// Decision rule of a protocol.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub enum Decision {
    /// Simple acceptance: values count as they are, the risk of a wrong decision at the limit is shared (JCGM 106:2012, 8.2).
    #[default]
    Simple,
    /// Guarded acceptance: the limit moves inwards by so many standard uncertainties of the measurement (JCGM 106:2012, 8.3.2).
    Guarded(f64),
}

/// A guard band with the words a verdict prints.
pub(super) struct Band {
    /// Width, in the unit of the values.
    pub width: f64,
    /// The decision rule in words.
    pub words: String,
    /// Why nothing can be accepted, where uncertainties are missing.
    pub lacks: Option<String>,
}

impl Decision {
    /// The band of values of which the largest standard uncertainty counts. `us` are those of the runs, in `unit`.
    pub(super) fn band(self, us: &[(&RunResult, Option<f64>)], unit: &str) -> Band {
        let Self::Guarded(factor) = self else {
            return Band {
                width: 0.0,
                words: "simple acceptance (JCGM 106:2012, 8.2): the limit itself decides, no guard band for the uncertainty of the measurement".to_owned(),
                lacks: None,
            };
        };
        let without = us.iter().filter(|(_, u)| u.is_none());
        let without: Vec<&str> = without.map(|(run, _)| run.run_id.as_str()).collect();
        let largest = us.iter().filter_map(|(_, u)| *u).fold(0.0, f64::max);
        let width = factor * largest;
        Band {
            width,
            words: format!(
                "guarded acceptance (JCGM 106:2012, 8.3.2): the limit moved inwards by w = {factor} u = {}, u the largest standard uncertainty of a value",
                amount(width, unit)
            ),
            lacks: (!without.is_empty()).then(|| {
                format!(
                    "guarded acceptance needs the standard uncertainty of every value, and {} {} none",
                    names(without.iter().copied()),
                    if without.len() == 1 { "has" } else { "have" }
                )
            }),
        }
    }

    /// Where no value came so far that it could decide anything.
    pub(super) fn unused(self) -> String {
        match self {
            Self::Simple => {
                "simple acceptance (JCGM 106:2012, 8.2); there was nothing to decide by it"
                    .to_owned()
            }
            Self::Guarded(factor) => format!(
                "guarded acceptance (JCGM 106:2012, 8.3.2) with w = {factor} u; there was nothing to decide by it"
            ),
        }
    }

    /// For counts of outcomes, which have no uncertainty of measurement.
    pub(super) fn of_counts(self) -> String {
        let simple = "simple acceptance: a count of outcomes has no uncertainty of measurement, so no guard band applies";
        match self {
            Self::Simple => "simple acceptance of a count of outcomes".to_owned(),
            Self::Guarded(_) => simple.to_owned(),
        }
    }
}

/// A number with four digits and its unit.
pub(super) fn amount(value: f64, unit: &str) -> String {
    let number = digits(value);
    match unit {
        "1" | "" => number,
        unit => format!("{number} {unit}"),
    }
}

/// A number as reasons print it: five significant digits, without needless zeros.
pub(super) fn digits(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return value.to_string();
    }
    let decimals = (4 - value.abs().log10().floor() as i32).clamp(0, 12);
    let text = format!("{value:.*}", decimals as usize);
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}
