//! Curves of any form by least squares, with the Levenberg-Marquardt method of MINPACK (Moré 1978).

use std::cell::Cell;

use levenberg_marquardt::LevenbergMarquardt;
use nalgebra::DVector;
use ndarray::Array2;

use super::bounds::Bound;
use super::covariance::{NoUncertainty, inverse_normal};
use super::curve_fit::CurveFit;
use super::error::{FitError, check_finite, check_length, check_weights};
use super::model::Model;
use super::polish::polish;
use super::problem::Problem;
use super::stop::StopReason;

/// Evaluations of the whole curve allowed, for each parameter and run. MINPACK's own default is 100; the hard sets of NIST use 100 to 300
/// in all.
const PATIENCE: usize = 200;
/// The fit is started again from its own end until the sum of squares falls by less than this part of itself...
const IMPROVEMENT: f64 = 1e-12;
/// ...but not more often than this.
const RESTARTS: usize = 4;
/// Length of the first step in units of the scaled start (MINPACK's `factor`, whose default is 100). The shorter ones serve where the
/// first ended on a plateau, see [`start_over`].
const STEPS: [f64; 3] = [100.0, 1.0, 0.1];

/// Fits a curve by (weighted) least squares.
///
/// `weights` multiply the squared residuals (proportional to `1/u²`); `start` is one value for each name of the model; `bounds`, if given,
/// one [`Bound`] for each. A start on its bound is moved inside a little. Least squares finds the minimum next to the start, which need not
/// be the least of all.
///
/// A parameter that ends on its bound is held there, the others are fitted again, and their uncertainties are those *given* that bound.
pub fn fit_curve(
    model: &dyn Model,
    x: &[f64],
    y: &[f64],
    weights: Option<&[f64]>,
    start: &[f64],
    bounds: Option<&[Bound]>,
) -> Result<CurveFit, FitError> {
    let p = model.names().len();
    check_input(p, x, y, weights, start)?;
    let bounds = match bounds {
        None => vec![Bound::FREE; p],
        Some(b) => {
            check_length("bounds", p, b.len())?;
            for (j, (bound, &s)) in b.iter().zip(start).enumerate() {
                bound.check(s, j)?;
            }
            b.to_vec()
        }
    };
    let mut problem = Problem {
        model,
        x,
        y,
        root_weights: weights.map(|w| w.iter().map(|v| v.sqrt()).collect()),
        bounds,
        full: start.to_vec(),
        free: Vec::new(),
        q: DVector::zeros(0),
        evaluations: Cell::new(0),
    };
    problem.set_free((0..p).collect());
    if let Some(index) = x
        .iter()
        .position(|&x| !model.value(&problem.full, x).is_finite())
    {
        return Err(FitError::StartNotFinite { index });
    }
    let (problem, stop) = iterate(problem, STEPS[0]);
    let (problem, stop) = start_over(problem, stop, start);
    let (mut problem, stop) = settle_on_bounds(problem, stop);
    if stop.converged() {
        polish(&mut problem);
    }
    Ok(summarise(&problem, stop))
}

fn check_input(
    p: usize,
    x: &[f64],
    y: &[f64],
    weights: Option<&[f64]>,
    start: &[f64],
) -> Result<(), FitError> {
    if p == 0 {
        return Err(FitError::NoParameters);
    }
    check_length("y", x.len(), y.len())?;
    check_length("start", p, start.len())?;
    check_finite("x", x)?;
    check_finite("y", y)?;
    check_finite("start", start)?;
    check_weights(weights, x.len())?;
    if x.len() < p {
        return Err(FitError::TooFewPoints {
            needed: p,
            found: x.len(),
        });
    }
    Ok(())
}

/// Runs the iteration, and runs it again from its end as long as that still helps: a fresh trust region gets out of narrow valleys in
/// which the first one had shrunk.
fn iterate(mut problem: Problem<'_>, step: f64) -> (Problem<'_>, StopReason) {
    let mut best = f64::INFINITY;
    let mut stop = StopReason::NothingToMove;
    if problem.free.is_empty() {
        return (problem, stop);
    }
    for _ in 0..=RESTARTS {
        let (ended, report) = LevenbergMarquardt::new()
            .with_patience(PATIENCE)
            .with_stepbound(step)
            .minimize(problem);
        problem = ended;
        stop = StopReason::from(&report.termination);
        let reached = report.objective_function;
        if !reached.is_finite() || reached >= best * (1.0 - IMPROVEMENT) || reached <= 0.0 {
            break;
        }
        best = reached;
    }
    (problem, stop)
}

/// Starts over with shorter first steps if the fit did not converge or ended where some parameter no longer has any effect: a long first
/// step may land on a plateau of the model, which looks like a minimum. A bound that was met explains that better. Keeps the end with the
/// least sum of squares.
fn start_over<'a>(
    mut problem: Problem<'a>,
    mut stop: StopReason,
    start: &[f64],
) -> (Problem<'a>, StopReason) {
    let sound = |problem: &Problem<'_>, stop: StopReason| {
        stop.converged()
            && (problem.touching().next().is_some()
                || inverse_normal(&problem.model_jacobian())
                    .is_some_and(|(_, determined)| determined.into_iter().all(|d| d)))
    };
    for step in STEPS.into_iter().skip(1) {
        if sound(&problem, stop) {
            break;
        }
        let mut again = problem.copy();
        again.full.copy_from_slice(start);
        again.set_free((0..start.len()).collect());
        let (again, again_stop) = iterate(again, step);
        let better =
            again.residual_vector().norm_squared() < problem.residual_vector().norm_squared();
        if better || (again_stop.converged() && !stop.converged()) {
            problem = again;
            stop = again_stop;
        } else {
            problem.evaluations.set(again.evaluations.get());
        }
    }
    (problem, stop)
}

/// Holds parameters that ended next to a bound on it and fits the others again; keeps that if it is not worse.
fn settle_on_bounds(problem: Problem<'_>, stop: StopReason) -> (Problem<'_>, StopReason) {
    /// How much worse the sum of squares may be with the parameter held: it is the limit of what the iteration could reach.
    const NOT_WORSE: f64 = 1e-9;
    let touching: Vec<(usize, f64)> = problem.touching().collect();
    if touching.is_empty() {
        return (problem, stop);
    }
    let before = problem.residual_vector().norm_squared();
    let mut held = problem.copy();
    for &(j, edge) in &touching {
        held.full[j] = edge;
    }
    let free = (0..held.full.len())
        .filter(|j| touching.iter().all(|(t, _)| t != j))
        .collect();
    held.set_free(free);
    let (held, held_stop) = iterate(held, STEPS[0]);
    let after = held.residual_vector().norm_squared();
    if after <= before * (1.0 + NOT_WORSE) {
        (held, held_stop)
    } else {
        problem.evaluations.set(held.evaluations.get());
        (problem, stop)
    }
}

fn summarise(problem: &Problem<'_>, stop: StopReason) -> CurveFit {
    let (n, p) = (problem.x.len(), problem.full.len());
    let sum_of_squares = problem.residual_vector().norm_squared();
    let dof = n - problem.free.len();
    let variance = if dof > 0 {
        sum_of_squares / dof as f64
    } else {
        f64::NAN
    };
    let mut unscaled = Array2::from_elem((p, p), f64::NAN);
    let mut missing = vec![Some(NoUncertainty::AtBound); p];
    let inverse = if problem.free.is_empty() {
        None
    } else {
        inverse_normal(&problem.model_jacobian())
    };
    for (a, &i) in problem.free.iter().enumerate() {
        missing[i] = match &inverse {
            _ if !stop.converged() => Some(NoUncertainty::NotConverged),
            _ if dof == 0 => Some(NoUncertainty::NoDegreesOfFreedom),
            Some((_, determined)) if determined[a] && sum_of_squares <= 0.0 => {
                Some(NoUncertainty::NoScatter)
            }
            Some((_, determined)) if determined[a] => None,
            _ => Some(NoUncertainty::Undetermined),
        };
        if let Some((matrix, _)) = &inverse {
            for (b, &j) in problem.free.iter().enumerate() {
                unscaled[(i, j)] = matrix[(a, b)];
            }
        }
    }
    let k = (problem.free.len() + 1) as f64;
    CurveFit {
        names: problem
            .model
            .names()
            .iter()
            .map(ToString::to_string)
            .collect(),
        parameters: problem.full.clone(),
        covariance: &unscaled * variance,
        covariance_as_weighted: unscaled,
        missing,
        residual_sd: (dof > 0).then(|| variance.sqrt()),
        dof,
        sum_of_squares,
        aic: n as f64 * (sum_of_squares / n as f64).ln() + 2.0 * k,
        stop,
        evaluations: problem.evaluations.get(),
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::super::made_up::Exponential;
    use super::*;

    /// `a + b + c x`: only the sum of the first two is determined.
    struct Redundant;
    impl Model for Redundant {
        fn names(&self) -> &[&str] {
            &["a", "b", "c"]
        }
        fn value(&self, p: &[f64], x: f64) -> f64 {
            p[0] + p[1] + p[2] * x
        }
    }

    const X: [f64; 6] = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0];
    const Y: [f64; 6] = [2.02, 1.19, 0.75, 0.43, 0.29, 0.15];

    #[test]
    fn an_undetermined_parameter_says_so_and_the_others_do_not() {
        let y = [1.0, 3.1, 4.9, 7.0, 9.1, 10.9];
        let fit = fit_curve(&Redundant, &X, &y, None, &[0.3, 0.4, 1.0], None).unwrap();
        assert_eq!(fit.u(0), Err(NoUncertainty::Undetermined));
        assert_eq!(fit.u(1), Err(NoUncertainty::Undetermined));
        let line = super::super::straight_line(&X, &y, None).unwrap();
        assert!((fit.parameters[2] - line.slope).abs() < 1e-9);
        assert!(fit.u(2).is_ok());
    }

    #[test]
    fn a_parameter_on_its_bound_is_held_and_named() {
        let free = fit_curve(&Exponential, &X, &Y, None, &[1.0, 1.0], None).unwrap();
        assert!(free.parameters[1] > 0.4 && free.u(1).is_ok());
        let bounds = [Bound::FREE, Bound::between(0.6, 2.0)];
        let fit = fit_curve(&Exponential, &X, &Y, None, &[1.0, 1.0], Some(&bounds)).unwrap();
        assert_eq!(fit.parameters[1], 0.6);
        assert_eq!(fit.u(1), Err(NoUncertainty::AtBound));
        // With the rate held the size is linear: sum(y e) / sum(e²).
        let e: Vec<f64> = X.iter().map(|x| (-0.6 * x).exp()).collect();
        let size =
            e.iter().zip(Y).map(|(e, y)| e * y).sum::<f64>() / e.iter().map(|e| e * e).sum::<f64>();
        assert!((fit.parameters[0] - size).abs() < 1e-9);
        assert_eq!(fit.dof, 5);
        assert!(fit.u(0).is_ok());
    }

    #[test]
    fn bounds_that_do_not_bind_change_nothing() {
        let free = fit_curve(&Exponential, &X, &Y, None, &[1.0, 1.0], None).unwrap();
        let bounds = [Bound::at_least(0.0), Bound::between(0.0, 3.0)];
        let bounded = fit_curve(&Exponential, &X, &Y, None, &[0.0, 3.0], Some(&bounds)).unwrap();
        for i in 0..2 {
            assert!((free.parameters[i] - bounded.parameters[i]).abs() < 1e-7);
            assert!((free.u(i).unwrap() - bounded.u(i).unwrap()).abs() < 1e-7);
        }
    }

    #[test]
    fn as_many_parameters_as_points_leave_no_uncertainty() {
        let fit = fit_curve(&Exponential, &X[..2], &Y[..2], None, &[1.0, 1.0], None).unwrap();
        assert_eq!(fit.u(0), Err(NoUncertainty::NoDegreesOfFreedom));
        assert_eq!(fit.residual_sd, None);
        assert!((fit.parameters[0] - 2.02).abs() < 1e-9);
    }

    #[test]
    fn broken_input_is_refused() {
        let run =
            |x: &[f64], y: &[f64], start: &[f64]| fit_curve(&Exponential, x, y, None, start, None);
        assert!(matches!(
            run(&X, &Y[..5], &[1.0, 1.0]),
            Err(FitError::LengthMismatch { .. })
        ));
        assert!(matches!(
            run(&X[..1], &Y[..1], &[1.0, 1.0]),
            Err(FitError::TooFewPoints { .. })
        ));
        assert!(matches!(
            run(&X, &Y, &[1.0]),
            Err(FitError::LengthMismatch { .. })
        ));
        assert!(matches!(
            run(&X, &Y, &[1.0, f64::NAN]),
            Err(FitError::NotFinite { .. })
        ));
        assert!(matches!(
            run(&X, &Y, &[1.0, -1e6]),
            Err(FitError::StartNotFinite { .. })
        ));
    }
}
