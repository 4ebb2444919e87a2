//! Classes of prosthesis-patient mismatch by indexed area: words for a hypothetical patient, no advice for anybody.

use crate::uncertain::Quantity;

/// An indexed area crosses a cut-off where it lies within so many standard uncertainties of it.
const COVERAGE: f64 = 2.0;

/// Cut-offs of the indexed effective area of an aortic prosthesis for a class of body mass, cm²/m². Upper bounds belong to the class
/// below them (closed), and values are compared as they are, not rounded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CutOffs {
    /// Class of body mass in words.
    pub body_mass: &'static str,
    /// Severe up to and including this.
    pub severe_at_most: f64,
    /// Moderate above that, up to and including this.
    pub moderate_at_most: f64,
}

/// From this body mass index on the lower cut-offs hold, kg/m².
pub const OBESE_BMI: f64 = 30.0;

/// VARC-3 (Eur Heart J 2021, 42:1825), aortic position: below 30 kg/m², and from 30 kg/m² on.
pub const CUT_OFFS: [CutOffs; 2] = [
    CutOffs {
        body_mass: "BMI < 30 kg/m²",
        severe_at_most: 0.65,
        moderate_at_most: 0.85,
    },
    CutOffs {
        body_mass: "BMI ≥ 30 kg/m²",
        severe_at_most: 0.55,
        moderate_at_most: 0.70,
    },
];

/// Place in [`CUT_OFFS`] for a body mass index, kg/m².
pub fn class_of(bmi: f64) -> usize {
    usize::from(bmi >= OBESE_BMI)
}

impl CutOffs {
    /// The class of an indexed area, cm²/m².
    pub fn mismatch(&self, indexed: f64) -> &'static str {
        if indexed <= self.severe_at_most {
            "severe"
        } else if indexed <= self.moderate_at_most {
            "moderate"
        } else {
            "none"
        }
    }

    /// The class of an indexed area with its uncertainty: "between" where the interval of ± 2 u lies in more than one. `None` without
    /// a value; without an uncertainty the class is that of the value, and says so.
    pub fn said(&self, indexed: &Quantity) -> Option<String> {
        let value = indexed.value?;
        let Some(u) = indexed.u else {
            return Some(format!("{} (uncertainty not known)", self.mismatch(value)));
        };
        let low = self.mismatch(value - COVERAGE * u);
        let high = self.mismatch(value + COVERAGE * u);
        Some(if low == high {
            low.to_owned()
        } else {
            format!("between {low} and {high}")
        })
    }
}
