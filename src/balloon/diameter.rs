//! Diameter of the free balloon against pressure: a choice of models, the best by the corrected information criterion.
//!
//! The pressure is taken as exact although it is measured too. What a rig declares as uncertain in it is common to the points of a run
//! (gain, zero): that moves the whole curve, is nothing for a fit in both directions to share out, and goes into each reported diameter as
//! slope times uncertainty. What is left from point to point, u of about half a kPa in the mean of a rest, scatters the diameters about the
//! curve and is so in the uncertainty of the fit; the bias of leaving it out is f'' u²/2, for a foot of 0.8 mm within 180 kPa (the chart
//! in `tests/plug_ins.rs`) 0.8/180² · 0.5²/2 = 3e-6 mm. A chart states its pressures exactly.

use super::chart::MonotoneChart;
use super::{hyperbolic::Hyperbolic, saturating::Saturating, straight::Straight};
use crate::fit::{Candidate, CurveFit, Model, fit_curve, rank_models};
use crate::recording::ModelRank;
use crate::uncertain::{Distribution, widened};
use nalgebra::{Cholesky, DMatrix};

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

/// Part of an extrapolated growth that is the half width of a rectangle.
const UNSEEN_SHARE: f64 = 0.5;
/// What stands in the place of a model's name where a chart is read between its points.
const CHART: &str = "chart interpolation";

/// What gives the diameter at a pressure.
#[derive(Clone)]
enum Shape {
    /// A model with its fit.
    Model(&'static dyn BalloonModel, CurveFit),
    /// A chart, read between its points.
    Chart(MonotoneChart),
}

/// Diameter against pressure. Outside its pressures it goes on as the model does, or straight; callers say how far they trust that.
#[derive(Clone)]
pub struct DiameterCurve {
    shape: Shape,
    /// Factor on the uncertainties by scatter, which few points tell badly; 1 for a chart.
    wider: f64,
    /// Lower triangular root of the covariance of the parameters, so widened.
    root: Option<DMatrix<f64>>,
    /// Added to every diameter, mm: none but in a curve that was drawn.
    shift_mm: f64,
    /// Gain (relative) and offset (kPa) by which its pressures were read wrong: none but in a curve that was drawn.
    misread: (f64, f64),
    /// Lowest fitted pressure, kPa.
    pub lowest_kpa: f64,
    /// Highest fitted pressure, kPa.
    pub highest_kpa: f64,
    /// Standard uncertainty common to all diameters (scale of the chart or camera), mm.
    pub u_common_mm: f64,
    /// Every model tried, the best first.
    pub ranking: Vec<ModelRank>,
}

impl std::fmt::Debug for DiameterCurve {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let mut out = f.debug_struct("DiameterCurve");
        match &self.shape {
            Shape::Model(model, fit) => out.field("model", &model.name()).field("fit", fit),
            Shape::Chart(chart) => out.field("chart", chart),
        };
        out.finish_non_exhaustive()
    }
}

impl DiameterCurve {
    /// Name of the model, or of what stands in its place.
    pub fn name(&self) -> &'static str {
        match &self.shape {
            Shape::Model(model, _) => model.name(),
            Shape::Chart(_) => CHART,
        }
    }

    /// Diameter at a gauge pressure (kPa, negative counts as zero), mm.
    pub fn at(&self, pressure_kpa: f64) -> f64 {
        let (gain, offset) = self.misread;
        let p = ((pressure_kpa - offset) / (1.0 + gain)).max(0.0);
        self.shift_mm
            + match &self.shape {
                Shape::Model(model, fit) => model.value(&fit.parameters, p),
                Shape::Chart(chart) => chart.at(p),
            }
    }

    /// Standard normal numbers that [`Self::drawn`] takes: one for what is common to all diameters, and one for each parameter.
    pub fn draws(&self) -> usize {
        match &self.shape {
            Shape::Model(_, fit) => 1 + fit.parameters.len(),
            Shape::Chart(_) => 1,
        }
    }

    /// The curve moved by standard normal numbers, as its uncertainty has it: all diameters together, and the parameters of its model by
    /// their covariance. A covariance that has no root moves each parameter by itself.
    #[must_use]
    pub fn drawn(&self, z: &[f64]) -> Self {
        let mut moved = self.clone();
        let (common, rest) = z
            .split_first()
            .map_or((0.0, z), |(first, rest)| (*first, rest));
        moved.shift_mm += self.u_common_mm * common;
        if let (Shape::Model(_, fit), Some(root)) = (&mut moved.shape, &self.root) {
            for (i, parameter) in fit.parameters.iter_mut().enumerate() {
                *parameter += rest
                    .iter()
                    .take(i + 1)
                    .enumerate()
                    .map(|(j, z)| root[(i, j)] * z)
                    .sum::<f64>();
            }
        }
        moved
    }

    /// The curve where its pressures were read wrong by a gain (relative) and an offset (kPa).
    #[must_use]
    pub fn misread(mut self, gain: f64, offset_kpa: f64) -> Self {
        self.misread = (gain, offset_kpa);
        self
    }

    /// Standard uncertainty of that diameter, mm.
    pub fn u_at(&self, pressure_kpa: f64) -> f64 {
        self.u_scatter_at(pressure_kpa).hypot(self.u_common_mm)
    }

    /// Standard uncertainty of the diameter at a gauge pressure (kPa) by the scatter about the curve alone, mm.
    pub fn u_scatter_at(&self, pressure_kpa: f64) -> f64 {
        match &self.shape {
            Shape::Model(model, fit) => fit
                .u_curve(*model, pressure_kpa.max(0.0))
                .map_or(f64::NAN, |u| self.wider * u),
            Shape::Chart(_) => 0.0,
        }
    }

    /// Standard uncertainty that a diameter below the lowest fitted pressure (kPa) has by that, mm: what grows between the two nobody saw, and
    /// models that follow the points alike part there; half of that growth is the half width of a rectangle (an estimate of ours).
    pub fn u_unseen_at(&self, pressure_kpa: f64) -> f64 {
        let p = pressure_kpa.min(self.lowest_kpa);
        let growth = (self.at(self.lowest_kpa) - self.at(p)).abs();
        Distribution::Rectangular.standard_uncertainty(UNSEEN_SHARE * growth)
    }

    /// Limits (mm) between which a new reading of the diameter at a gauge pressure (kPa) lies with a confidence, by the scatter about the
    /// curve; `None` for a chart, and for so few points that nothing scatters.
    pub fn reading_band(&self, pressure_kpa: f64, confidence: f64) -> Option<(f64, f64)> {
        match &self.shape {
            Shape::Model(model, fit) => {
                let band = fit.band(*model, pressure_kpa, 1.0, confidence)?;
                Some(band.observation)
            }
            Shape::Chart(_) => None,
        }
    }

    /// Standard uncertainty of the growth between two gauge pressures (kPa) by the scatter about the curve, mm: what is off everywhere falls
    /// out of it. What a chart is off by at two of its points need not be the same.
    pub fn u_growth(&self, from_kpa: f64, to_kpa: f64) -> f64 {
        let Shape::Model(model, fit) = &self.shape else {
            return std::f64::consts::SQRT_2 * self.u_common_mm;
        };
        let gradient = |p: f64| {
            let mut out = vec![0.0; fit.parameters.len()];
            model.gradient(&fit.parameters, p, &mut out);
            ndarray::Array1::from_vec(out)
        };
        let by = gradient(to_kpa) - gradient(from_kpa);
        self.wider * by.dot(&fit.covariance.dot(&by)).max(0.0).sqrt()
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
/// diameter does not grow. Where the points are too few to rank any, the first of [`MODELS`] that can be fitted stands.
pub fn fit_diameter(
    pressure_kpa: &[f64],
    diameter_mm: &[f64],
    u_common_mm: f64,
) -> Option<DiameterCurve> {
    let highest_kpa = pressure_kpa.iter().copied().fold(0.0, f64::max);
    let fits: Vec<Result<CurveFit, String>> = MODELS
        .iter()
        .map(|&model| fit_model(model, pressure_kpa, diameter_mm, highest_kpa))
        .collect();
    let candidates: Vec<Candidate<'_>> = MODELS
        .iter()
        .zip(&fits)
        .map(|(model, fit)| Candidate {
            name: model.name(),
            fit: fit.as_ref().map_err(Clone::clone),
        })
        .collect();
    let ranked = rank_models(&candidates);
    let best = ranked
        .first()
        .filter(|r| r.weight.is_some())
        .map(|r| r.index)
        .or_else(|| fits.iter().position(Result::is_ok))?;
    let fit = fits.into_iter().nth(best)?.ok()?;
    // The scatter about the curve is told by the few points of a balloon.
    let dof = pressure_kpa.len().saturating_sub(fit.parameters.len());
    let wider = widened(dof as f64);
    Some(DiameterCurve {
        wider,
        root: root_of(&fit).map(|root| root * wider),
        shift_mm: 0.0,
        misread: (0.0, 0.0),
        shape: Shape::Model(*MODELS.get(best)?, fit),
        lowest_kpa: pressure_kpa.iter().copied().fold(f64::INFINITY, f64::min),
        highest_kpa,
        u_common_mm,
        ranking: ranked
            .into_iter()
            .map(|r| ModelRank {
                model: r.name,
                delta_aicc: r.delta_aicc.filter(|d| d.is_finite()),
                weight: r.weight,
                reason: r.reason,
            })
            .collect(),
    })
}

/// A maker's chart: the best model where it follows the chart within its standard uncertainty (mm), else the chart itself, read between
/// its points.
pub fn fit_chart(pressure_kpa: &[f64], diameter_mm: &[f64], u_mm: f64) -> Option<DiameterCurve> {
    let fitted = fit_diameter(pressure_kpa, diameter_mm, u_mm);
    let off = |curve: &DiameterCurve| {
        let pairs = pressure_kpa.iter().zip(diameter_mm);
        pairs
            .map(|(p, d)| (curve.at(*p) - d).abs())
            .fold(0.0, f64::max)
    };
    if fitted.as_ref().is_some_and(|curve| off(curve) <= u_mm) {
        return fitted;
    }
    let Some(chart) = MonotoneChart::through(pressure_kpa, diameter_mm) else {
        return fitted;
    };
    let mut ranking = vec![ModelRank {
        model: CHART.to_owned(),
        delta_aicc: None,
        weight: None,
        reason: Some(format!(
            "stands: no model follows every point of the chart within {u_mm:.2} mm"
        )),
    }];
    ranking.extend(fitted.into_iter().flat_map(|curve| curve.ranking));
    Some(DiameterCurve {
        wider: 1.0,
        root: None,
        shift_mm: 0.0,
        misread: (0.0, 0.0),
        shape: Shape::Chart(chart),
        lowest_kpa: pressure_kpa.first().copied()?,
        highest_kpa: pressure_kpa.last().copied()?,
        u_common_mm: u_mm,
        ranking,
    })
}

/// Root of a covariance, with parameters of very different size brought to one; where there is none, each parameter by itself.
fn root_of(fit: &CurveFit) -> Option<DMatrix<f64>> {
    let n = fit.parameters.len();
    let u: Vec<f64> = (0..n).map(|i| fit.u(i).unwrap_or(0.0)).collect();
    if u.iter().any(|u| *u <= 0.0) {
        return None;
    }
    let correlation = DMatrix::from_fn(n, n, |i, j| fit.covariance[[i, j]] / (u[i] * u[j]));
    let root = Cholesky::new(correlation).map_or_else(|| DMatrix::identity(n, n), |c| c.l());
    Some(DMatrix::from_fn(n, n, |i, j| u[i] * root[(i, j)]))
}

/// One model, or why it cannot stand for the balloon.
fn fit_model(
    model: &dyn BalloonModel,
    pressure_kpa: &[f64],
    diameter_mm: &[f64],
    highest_kpa: f64,
) -> Result<CurveFit, String> {
    let start = model
        .guess(pressure_kpa, diameter_mm)
        .ok_or("too few points for a first guess of its parameters")?;
    let fit = fit_curve(model, pressure_kpa, diameter_mm, None, &start, None)
        .map_err(|error| error.to_string())?;
    let at = |share: i32| model.value(&fit.parameters, highest_kpa * f64::from(share) / 10.0);
    let rises = at(10) > at(0) && (0..10).all(|k| at(k + 1) >= at(k) - 1e-9);
    if rises {
        Ok(fit)
    } else {
        Err("its best curve does not rise with pressure everywhere".to_owned())
    }
}
