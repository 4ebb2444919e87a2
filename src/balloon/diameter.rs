//! Diameter of the free balloon against pressure: a choice of models, the best by the corrected information criterion.

use super::{hyperbolic::Hyperbolic, saturating::Saturating, straight::Straight};
use crate::fit::{CurveFit, Model, fit_curve};

/// A curve the diameter of a free, unfolded balloon may follow.
pub trait BalloonModel: Model + Sync {
    /// Name, one word.
    fn name(&self) -> &'static str;
    /// Equation in plain text, with units.
    fn equation(&self) -> &'static str;
    /// Where the equation comes from.
    fn source(&self) -> &'static str;
    /// First guess of the parameters from points of pressure (kPa, increasing) and diameter (mm); `None` for too few points.
    fn guess(&self, pressure_kpa: &[f64], diameter_mm: &[f64]) -> Option<Vec<f64>>;
}

/// Every model. A new one is one file and one line here.
pub const MODELS: &[&dyn BalloonModel] = &[&Straight, &Saturating, &Hyperbolic];

/// A fitted diameter curve. Outside the fitted pressures it goes on as the model does; callers say how far they trust that.
#[derive(Clone)]
pub struct DiameterCurve {
    /// The model chosen.
    pub model: &'static dyn BalloonModel,
    /// The fit.
    pub fit: CurveFit,
    /// Highest fitted pressure, kPa.
    pub highest_kpa: f64,
    /// Standard uncertainty common to all diameters (scale of the chart or camera), mm.
    pub u_common_mm: f64,
}

impl std::fmt::Debug for DiameterCurve {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("DiameterCurve")
            .field("model", &self.model.name())
            .field("fit", &self.fit)
            .finish_non_exhaustive()
    }
}

impl DiameterCurve {
    /// Diameter at a gauge pressure (kPa, negative counts as zero), mm.
    pub fn at(&self, pressure_kpa: f64) -> f64 {
        self.model
            .value(&self.fit.parameters, pressure_kpa.max(0.0))
    }

    /// Standard uncertainty of that diameter, mm.
    pub fn u_at(&self, pressure_kpa: f64) -> f64 {
        self.fit
            .u_curve(self.model, pressure_kpa.max(0.0))
            .unwrap_or(f64::NAN)
            .hypot(self.u_common_mm)
    }

    /// Pressure the free balloon needs for a diameter (mm), kPa: zero below its unfolded size.
    pub fn pressure_for(&self, diameter_mm: f64) -> f64 {
        if diameter_mm <= self.at(0.0) {
            return 0.0;
        }
        let (mut low, mut high) = (0.0, self.highest_kpa.max(1.0));
        // The curve rises, so the bracket is widened until it holds the diameter; four times the fitted range is the end of sense.
        while self.at(high) < diameter_mm && high < 4.0 * self.highest_kpa {
            low = high;
            high *= 1.5;
        }
        for _ in 0..60 {
            let middle = f64::midpoint(low, high);
            if self.at(middle) < diameter_mm {
                low = middle;
            } else {
                high = middle;
            }
        }
        f64::midpoint(low, high)
    }
}

/// Fits every model to points of pressure (kPa) and diameter (mm) and keeps the best; `None` where no model can be fitted or the
/// diameter does not grow.
pub fn fit_diameter(
    pressure_kpa: &[f64],
    diameter_mm: &[f64],
    u_common_mm: f64,
) -> Option<DiameterCurve> {
    let mut best: Option<DiameterCurve> = None;
    let highest_kpa = pressure_kpa.iter().copied().fold(0.0, f64::max);
    for &model in MODELS {
        let Some(start) = model.guess(pressure_kpa, diameter_mm) else {
            continue;
        };
        let Ok(fit) = fit_curve(model, pressure_kpa, diameter_mm, None, &start, None) else {
            continue;
        };
        let curve = DiameterCurve {
            model,
            fit,
            highest_kpa,
            u_common_mm,
        };
        let rises = curve.at(highest_kpa) > curve.at(0.0)
            && (0..10).all(|k| {
                let p = highest_kpa * f64::from(k) / 10.0;
                curve.at(p + highest_kpa / 10.0) >= curve.at(p) - 1e-9
            });
        let better = best
            .as_ref()
            .is_none_or(|b| curve.fit.aic_corrected() < b.fit.aic_corrected());
        if rises && better {
            best = Some(curve);
        }
    }
    best
}
