//! Two time constants down to a floor: the line or the balloon's wall beside the frame.

use super::RelaxationModel;
use crate::fit::Model;

/// `p = p_inf + a exp(-t / tau1) + b exp(-t / tau2)`; p in kPa, t and tau in s.
pub(super) struct TwoExponentials;

impl Model for TwoExponentials {
    fn names(&self) -> &[&str] {
        &["floor_kpa", "fast_kpa", "fast_s", "slow_kpa", "slow_s"]
    }

    fn value(&self, params: &[f64], x: f64) -> f64 {
        match params {
            [floor, fast, fast_s, slow, slow_s] if *fast_s > 0.0 && slow_s > fast_s => {
                floor + fast * (-x / fast_s).exp() + slow * (-x / slow_s).exp()
            }
            _ => f64::NAN,
        }
    }

    fn gradient(&self, params: &[f64], x: f64, out: &mut [f64]) {
        if let ([_, fast, fast_s, slow, slow_s], [d0, d1, d2, d3, d4]) = (params, out) {
            let (left_fast, left_slow) = ((-x / fast_s).exp(), (-x / slow_s).exp());
            (*d0, *d1, *d3) = (1.0, left_fast, left_slow);
            *d2 = fast * left_fast * x / (fast_s * fast_s);
            *d4 = slow * left_slow * x / (slow_s * slow_s);
        }
    }
}

impl RelaxationModel for TwoExponentials {
    fn name(&self) -> &'static str {
        "two-exponentials"
    }

    fn equation(&self) -> &'static str {
        "p = p_inf + a exp(-t / tau1) + b exp(-t / tau2)  (kPa, s)"
    }

    fn source(&self) -> &'static str {
        "Maxwell-Wiechert solid of two branches (any text on viscoelasticity)"
    }

    fn guess(&self, time_s: &[f64], pressure_kpa: &[f64]) -> Option<Vec<f64>> {
        let (start, end) = (pressure_kpa.first()?, pressure_kpa.last()?);
        let whole = time_s.last()?;
        let fall = start - end;
        Some(vec![
            end - 0.1 * fall,
            0.4 * fall,
            whole / 12.0,
            0.7 * fall,
            whole / 2.0,
        ])
    }

    fn floor(&self) -> Option<usize> {
        Some(0)
    }

    fn times(&self) -> &'static [usize] {
        &[2, 4]
    }

    fn falls(&self) -> &'static [usize] {
        &[1, 3]
    }
}
