//! Falls by as much in every decade of time: polymers without a time constant of their own.

use super::RelaxationModel;
use crate::fit::Model;
use std::f64::consts::LN_10;

/// `p = p0 (1 - k log10(1 + t / t0))`; p in kPa, t and t0 in s, k of 1 a decade.
pub(super) struct Logarithm;

impl Model for Logarithm {
    fn names(&self) -> &[&str] {
        &["start_kpa", "share_a_decade", "begin_s"]
    }

    fn value(&self, params: &[f64], x: f64) -> f64 {
        match params {
            [start, share, begin] if *begin > 0.0 => {
                start * (1.0 - share * (1.0 + x / begin).log10())
            }
            _ => f64::NAN,
        }
    }

    fn gradient(&self, params: &[f64], x: f64, out: &mut [f64]) {
        if let ([start, share, begin], [of_start, of_share, of_begin]) = (params, out) {
            let decades = (1.0 + x / begin).log10();
            (*of_start, *of_share) = (1.0 - share * decades, -start * decades);
            *of_begin = start * share * x / (begin * begin * (1.0 + x / begin) * LN_10);
        }
    }
}

impl RelaxationModel for Logarithm {
    fn name(&self) -> &'static str {
        "logarithm"
    }

    fn equation(&self) -> &'static str {
        "p = p0 (1 - k log10(1 + t / t0))  (kPa, s)"
    }

    fn source(&self) -> &'static str {
        "common practice, no source"
    }

    fn guess(&self, time_s: &[f64], pressure_kpa: &[f64]) -> Option<Vec<f64>> {
        let (start, end) = (pressure_kpa.first()?, pressure_kpa.last()?);
        let whole = time_s.last()?;
        // Begun after a tenth of the hold: a little over one decade of it.
        Some(vec![
            *start,
            (start - end) / start / 11.0_f64.log10(),
            whole / 10.0,
        ])
    }

    fn floor(&self) -> Option<usize> {
        None
    }

    fn times(&self) -> &'static [usize] {
        &[2]
    }

    fn falls(&self) -> &'static [usize] {
        &[1]
    }
}
