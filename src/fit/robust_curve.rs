//! Curves that wild points do not upset: M-estimation by iteratively reweighted least squares.

use ndarray::Array2;

use super::bounds::Bound;
use super::covariance::NoUncertainty;
use super::error::FitError;
use super::least_squares::fit_curve;
use super::model::Model;
use super::robust::{BIWEIGHT, MAD_TO_SIGMA, median};
use super::stop::StopReason;

/// Huber's function keeps 95 % of the efficiency of least squares on normal data with this many sigmas (Huber 1981, Robust Statistics).
const HUBER: f64 = 1.345;
/// Rounds of reweighting at most; usual fits take ten to thirty.
const ROUNDS: usize = 100;
/// The rounds end when no weight changes by more.
const RESTS: f64 = 1e-9;
/// Points of less weight than this are left out of a round: least squares needs weights above zero.
const NOTHING: f64 = 1e-12;
/// A point whose weight fell below this is named as down-weighted: it counts for less than half of a point.
pub const DOWN_WEIGHTED: f64 = 0.5;

/// How a residual of `t` scales counts; both losses have bounded influence.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Loss {
    /// Huber's: quadratic up to 1.345 scales, straight beyond. A wild point keeps a bounded pull.
    Huber,
    /// Tukey's bisquare with 4.685 scales: a point farther off has no pull at all. It has more than one minimum; the fit begins from that
    /// of Huber's loss.
    Bisquare,
}

impl Loss {
    /// Weight `ψ(t) / t`.
    fn weight(self, t: f64) -> f64 {
        match self {
            Self::Huber if t.abs() <= HUBER => 1.0,
            Self::Huber => HUBER / t.abs(),
            Self::Bisquare if t.abs() < BIWEIGHT => (1.0 - (t / BIWEIGHT).powi(2)).powi(2),
            Self::Bisquare => 0.0,
        }
    }

    /// Derivative `ψ'(t)`.
    fn slope(self, t: f64) -> f64 {
        match self {
            Self::Huber => f64::from(u8::from(t.abs() <= HUBER)),
            Self::Bisquare if t.abs() < BIWEIGHT => {
                let s = (t / BIWEIGHT).powi(2);
                (1.0 - s) * (1.0 - 5.0 * s)
            }
            Self::Bisquare => 0.0,
        }
    }
}

/// Result of [`fit_curve_robust`].
#[derive(Debug, Clone, PartialEq)]
pub struct RobustFit {
    /// Names of the parameters.
    pub names: Vec<String>,
    /// Fitted parameters.
    pub parameters: Vec<f64>,
    /// Covariance of the parameters; `NaN` in rows and columns of parameters without uncertainty.
    pub covariance: Array2<f64>,
    /// For each parameter why it has no uncertainty, if it has none.
    pub missing: Vec<Option<NoUncertainty>>,
    /// Robust standard deviation of a point (of unit weight) about the curve: 1.4826 times the median of the absolute residuals.
    pub scale: f64,
    /// For each point the part of its given weight that it kept, 0 to 1.
    pub kept: Vec<f64>,
    /// Indices of the points that kept less than [`DOWN_WEIGHTED`].
    pub down_weighted: Vec<usize>,
    /// Points less free parameters.
    pub dof: usize,
    /// Whether the weights came to rest.
    pub settled: bool,
    /// Rounds of reweighting.
    pub rounds: usize,
    /// Why the last of the weighted fits stopped.
    pub stop: StopReason,
}

impl RobustFit {
    /// Standard uncertainty of parameter `i`, or the reason why there is none.
    pub fn u(&self, i: usize) -> Result<f64, NoUncertainty> {
        match self.missing.get(i) {
            None => Err(NoUncertainty::NoSuchParameter),
            Some(Some(reason)) => Err(*reason),
            Some(None) => Ok(self.covariance[(i, i)].sqrt()),
        }
    }
}

/// Fits a curve by M-estimation; input as for [`fit_curve`]. Begins from least squares, whose scale is too large rather than too small,
/// and re-estimates the scale in every round. Points far out in `x` can still pull the curve to themselves: the loss sees residuals only.
///
/// The covariance is that of Huber (1981, 7.6.9): `K² [Σψ²/(n-p)] / [Σψ'/n]² σ² (JᵀWJ)⁻¹` with `K = 1 + (p/n) var(ψ') / mean(ψ')²`.
pub fn fit_curve_robust(
    model: &dyn Model,
    x: &[f64],
    y: &[f64],
    weights: Option<&[f64]>,
    start: &[f64],
    bounds: Option<&[Bound]>,
    loss: Loss,
) -> Result<RobustFit, FitError> {
    let all = fit_curve(model, x, y, weights, start, bounds)?;
    let mut state = State {
        parameters: all.parameters.clone(),
        scale: 0.0,
        kept: vec![1.0; x.len()],
        settled: false,
        rounds: 0,
        stop: all.stop,
    };
    let data = Data {
        model,
        x,
        y,
        weights,
        bounds,
    };
    if loss == Loss::Bisquare {
        data.reweight(&mut state, Loss::Huber)?;
    }
    data.reweight(&mut state, loss)?;
    data.summarise(state, loss, all.names)
}

struct Data<'a> {
    model: &'a dyn Model,
    x: &'a [f64],
    y: &'a [f64],
    weights: Option<&'a [f64]>,
    bounds: Option<&'a [Bound]>,
}

struct State {
    parameters: Vec<f64>,
    scale: f64,
    kept: Vec<f64>,
    settled: bool,
    rounds: usize,
    stop: StopReason,
}

impl Data<'_> {
    fn weight(&self, i: usize) -> f64 {
        self.weights.and_then(|w| w.get(i)).copied().unwrap_or(1.0)
    }

    /// Residuals over their scale, and the scale.
    fn scaled(&self, parameters: &[f64]) -> (Vec<f64>, f64) {
        let mut rests: Vec<f64> = self
            .x
            .iter()
            .zip(self.y)
            .enumerate()
            .map(|(i, (&x, &y))| (y - self.model.value(parameters, x)) * self.weight(i).sqrt())
            .collect();
        let sizes: Vec<f64> = rests.iter().map(|r| r.abs()).collect();
        let scale = MAD_TO_SIGMA * median(&sizes).unwrap_or(f64::NAN);
        // Residuals of an exact curve are rounding errors; below that there is no scatter to divide by.
        let size = self
            .y
            .iter()
            .enumerate()
            .fold(0.0_f64, |m, (i, y)| m.max(y.abs() * self.weight(i).sqrt()));
        let divisor = scale.max(8.0 * f64::EPSILON * size).max(f64::MIN_POSITIVE);
        for r in &mut rests {
            *r /= divisor;
        }
        (rests, scale)
    }

    fn reweight(&self, state: &mut State, loss: Loss) -> Result<(), FitError> {
        state.settled = false;
        for _ in 0..ROUNDS {
            let (rests, scale) = self.scaled(&state.parameters);
            let kept: Vec<f64> = rests.iter().map(|&t| loss.weight(t)).collect();
            let moved = kept
                .iter()
                .zip(&state.kept)
                .fold(0.0_f64, |m, (a, b)| m.max((a - b).abs()));
            state.kept = kept;
            state.scale = scale;
            if moved <= RESTS {
                state.settled = true;
                return Ok(());
            }
            let counting: Vec<usize> = (0..self.x.len())
                .filter(|&i| state.kept[i] > NOTHING)
                .collect();
            let pick =
                |values: &[f64]| -> Vec<f64> { counting.iter().map(|&i| values[i]).collect() };
            let w: Vec<f64> = counting
                .iter()
                .map(|&i| self.weight(i) * state.kept[i])
                .collect();
            let fit = fit_curve(
                self.model,
                &pick(self.x),
                &pick(self.y),
                Some(&w),
                &state.parameters,
                self.bounds,
            )?;
            state.parameters = fit.parameters;
            state.stop = fit.stop;
            state.rounds += 1;
        }
        Ok(())
    }

    fn summarise(
        &self,
        state: State,
        loss: Loss,
        names: Vec<String>,
    ) -> Result<RobustFit, FitError> {
        // The normal matrix of all points with their given weights, and what cannot have an uncertainty.
        let here = fit_curve(
            self.model,
            self.x,
            &self
                .x
                .iter()
                .map(|&x| self.model.value(&state.parameters, x))
                .collect::<Vec<f64>>(),
            self.weights,
            &state.parameters,
            self.bounds,
        )?;
        let n = self.x.len() as f64;
        let (rests, scale) = self.scaled(&state.parameters);
        let slopes: Vec<f64> = rests.iter().map(|&t| loss.slope(t)).collect();
        let mean = slopes.iter().sum::<f64>() / n;
        let variance = slopes.iter().map(|s| (s - mean).powi(2)).sum::<f64>() / n;
        let p = n - here.dof as f64;
        let k = 1.0 + p / n * variance / (mean * mean);
        let psi2: f64 = rests.iter().map(|&t| (loss.weight(t) * t).powi(2)).sum();
        let factor = (k * scale / mean).powi(2) * psi2 / here.dof as f64;
        let missing = here
            .missing
            .iter()
            .map(|m| match m {
                Some(
                    reason @ (NoUncertainty::AtBound
                    | NoUncertainty::Undetermined
                    | NoUncertainty::NoDegreesOfFreedom),
                ) => Some(*reason),
                _ if !state.settled || !state.stop.converged() => Some(NoUncertainty::NotConverged),
                _ if !(factor > 0.0 && factor.is_finite()) => Some(NoUncertainty::NoScatter),
                _ => None,
            })
            .collect();
        let down_weighted = (0..state.kept.len())
            .filter(|&i| state.kept[i] < DOWN_WEIGHTED)
            .collect();
        Ok(RobustFit {
            names,
            parameters: state.parameters,
            covariance: here.covariance_as_weighted * factor,
            missing,
            scale,
            kept: state.kept,
            down_weighted,
            dof: here.dof,
            settled: state.settled,
            rounds: state.rounds,
            stop: state.stop,
        })
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::super::made_up::Exponential;
    use super::*;

    fn scattered() -> (Vec<f64>, Vec<f64>) {
        let x: Vec<f64> = (0..30).map(|i| 0.2 * f64::from(i)).collect();
        let y = x
            .iter()
            .enumerate()
            .map(|(i, x)| 3.0 * (-0.5 * x).exp() + 0.02 * (7.3 * i as f64).sin())
            .collect();
        (x, y)
    }

    #[test]
    fn wild_points_are_named_and_move_nothing() {
        let (x, mut y) = scattered();
        let clean = fit_curve(&Exponential, &x, &y, None, &[1.0, 1.0], None).unwrap();
        y[4] += 2.0;
        y[20] -= 1.0;
        let upset = fit_curve(&Exponential, &x, &y, None, &[1.0, 1.0], None).unwrap();
        for (loss, within) in [(Loss::Huber, 3.0), (Loss::Bisquare, 1.0)] {
            let fit =
                fit_curve_robust(&Exponential, &x, &y, None, &[1.0, 1.0], None, loss).unwrap();
            assert!(fit.settled && fit.down_weighted == [4, 20], "{fit:?}");
            for i in 0..2 {
                let off = (fit.parameters[i] - clean.parameters[i]).abs();
                assert!(off < within * clean.u(i).unwrap(), "{loss:?} {i}: {off}");
                assert!(off < 0.2 * (upset.parameters[i] - clean.parameters[i]).abs());
                let ratio = fit.u(i).unwrap() / clean.u(i).unwrap();
                assert!((0.6..1.7).contains(&ratio), "{loss:?} {i}: {ratio}");
            }
        }
    }

    #[test]
    fn an_exact_curve_with_one_wild_point_is_found_exactly() {
        let x: Vec<f64> = (0..12).map(f64::from).collect();
        let mut y: Vec<f64> = x.iter().map(|x| 3.0 * (-0.5 * x).exp()).collect();
        y[3] = 40.0;
        let fit = fit_curve_robust(
            &Exponential,
            &x,
            &y,
            None,
            &[2.0, 0.7],
            None,
            Loss::Bisquare,
        )
        .unwrap();
        assert!((fit.parameters[1] - 0.5).abs() < 1e-6, "{fit:?}");
        assert_eq!(fit.down_weighted.first(), Some(&3));
    }
}
