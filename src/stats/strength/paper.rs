//! Positions on probability paper under censoring.

use super::super::error::StatsError;
use super::super::kaplan_meier::kaplan_meier;
use super::super::observation::{IntervalObservation, Observation};
use super::super::turnbull::turnbull;
use super::StrengthModel;

/// A point of a probability plot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlotPoint {
    /// Failure seen at this value, or above it where it is known by a step.
    pub above: f64,
    /// Upper end of the step, the value itself where it is known; finite.
    pub up_to: f64,
    /// Part of the population below: middle of the jump of the estimated distribution.
    pub probability: f64,
}

impl PlotPoint {
    /// Where to draw it: the value, or the middle of its step on the scale of the family. A step without a finite lower end is drawn at
    /// its upper one.
    pub fn abscissa(&self, model: &StrengthModel) -> f64 {
        let (from, to) = (model.abscissa(self.above), model.abscissa(self.up_to));
        if from.is_finite() {
            f64::midpoint(from, to)
        } else {
            to
        }
    }
}

/// Positions of the failures: the middle of each jump of the product-limit estimate, or of that of Turnbull where steps are among the
/// observations (Meeker & Escobar 1998, Statistical Methods for Reliability Data, chapter 6; from memory). Without censoring these are
/// `(i - 1/2)/n` (Hazen). What is known only as not reached has no point.
pub fn plot_points(observations: &[IntervalObservation]) -> Result<Vec<PlotPoint>, StatsError> {
    let simple: Option<Vec<Observation>> = observations
        .iter()
        .map(|o| match o.value() {
            Some(value) => Some(Observation::failure(value)),
            None => (o.up_to == f64::INFINITY).then(|| Observation::censored(o.above)),
        })
        .collect();
    let mut before = 1.0;
    let mut point = |above: f64, up_to: f64, after: f64| {
        let probability = 1.0 - f64::midpoint(before, after);
        before = after;
        PlotPoint {
            above,
            up_to,
            probability,
        }
    };
    Ok(match simple {
        Some(simple) => kaplan_meier(&simple)?
            .steps
            .iter()
            .map(|s| point(s.value, s.value, s.survival))
            .collect(),
        None => turnbull(observations)?
            .steps
            .iter()
            .filter(|s| s.up_to.is_finite())
            .map(|s| point(s.above, s.up_to, s.survival))
            .collect(),
    })
}

impl StrengthModel {
    /// Correlation of abscissa and ordinate of the points on the paper of the family: near 1 where they lie on a straight line (Filliben
    /// 1975, Technometrics 17:111, with the positions of [`plot_points`]). Fails for fewer than three points.
    pub fn plot_correlation(&self, points: &[PlotPoint]) -> Result<f64, StatsError> {
        const LEAST_POINTS: usize = 3;
        if points.len() < LEAST_POINTS {
            return Err(StatsError::TooFew {
                what: "points of a probability plot",
                needed: LEAST_POINTS,
                found: points.len(),
            });
        }
        let n = points.len() as f64;
        let pairs: Vec<(f64, f64)> = points
            .iter()
            .map(|p| (p.abscissa(self), self.ordinate(p.probability)))
            .collect();
        let mean_x = pairs.iter().map(|p| p.0 / n).sum::<f64>();
        let mean_y = pairs.iter().map(|p| p.1 / n).sum::<f64>();
        let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
        for (x, y) in pairs {
            let (x, y) = (x - mean_x, y - mean_y);
            xx += x * x;
            yy += y * y;
            xy += x * y;
        }
        let r = xy / (xx * yy).sqrt();
        if r.is_finite() {
            Ok(r)
        } else {
            Err(StatsError::NotConverged {
                what: "the correlation of a probability plot",
            })
        }
    }
}
