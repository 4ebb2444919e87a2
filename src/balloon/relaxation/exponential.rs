//! One time constant down to a floor: a frame or a wall that creeps out once.

use super::RelaxationModel;
use crate::fit::Model;

/// `p = p_inf + a exp(-t / tau)`; p in kPa, t and tau in s.
pub(super) struct Exponential;

impl Model for Exponential {
    fn names(&self) -> &[&str] {
        &["floor_kpa", "fall_kpa", "time_s"]
    }

    fn value(&self, params: &[f64], x: f64) -> f64 {
        match params {
            [floor, fall, time] if *time > 0.0 => floor + fall * (-x / time).exp(),
            _ => f64::NAN,
        }
    }

    fn gradient(&self, params: &[f64], x: f64, out: &mut [f64]) {
        if let ([_, fall, time], [of_floor, of_fall, of_time]) = (params, out) {
            let left = (-x / time).exp();
            (*of_floor, *of_fall) = (1.0, left);
            *of_time = fall * left * x / (time * time);
        }
    }
}

impl RelaxationModel for Exponential {
    fn name(&self) -> &'static str {
        "one-exponential"
    }

    fn equation(&self) -> &'static str {
        "p = p_inf + a exp(-t / tau)  (kPa, s)"
    }

    fn source(&self) -> &'static str {
        "standard linear solid under constant strain (any text on viscoelasticity)"
    }

    fn guess(&self, time_s: &[f64], pressure_kpa: &[f64]) -> Option<Vec<f64>> {
        let (start, end) = (pressure_kpa.first()?, pressure_kpa.last()?);
        let whole = time_s.last()?;
        let fall = start - end;
        // A third of the hold leaves a twentieth at its end.
        Some(vec![end - 0.05 * fall, 1.05 * fall, whole / 3.0])
    }

    fn floor(&self) -> Option<usize> {
        Some(0)
    }

    fn times(&self) -> &'static [usize] {
        &[2]
    }

    fn falls(&self) -> &'static [usize] {
        &[1]
    }
}
