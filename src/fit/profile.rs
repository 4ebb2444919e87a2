//! Intervals by profiling the sum of squares: of a parameter, or of any function of the parameters.
//!
//! The profile t of a value `c` of the function `g` is `τ(c) = ± sqrt((S(c) - S) / s²)`, where `S(c)` is the least sum of squares with
//! `g = c`; the interval holds every `c` with `|τ| <= t` (Bates & Watts 1988, Nonlinear Regression Analysis, 6.1.2). For a model linear in
//! its parameters it is the usual `± t u`; where the curve bends in them it is not symmetric, and may have no end.
//!
//! `S(c)` is found by fitting the points and, as one more of them, `g` to a target: the end of that fit has the least sum of squares for the
//! value that `g` has there, whatever the weight of the target, so that nothing is approximate about it.

use super::bands::student_factor;
use super::bounds::Bound;
use super::curve_fit::CurveFit;
use super::error::{FitError, check_length};
use super::least_squares::fit_curve;
use super::model::Model;

/// Weight of the target beside what the points say of the function: large enough that its value follows the target.
const TARGET_WEIGHT: f64 = 1e4;
/// The end is looked for at doubling distances, so many times: up to a million standard uncertainties.
const DOUBLINGS: usize = 20;
/// Steps of the search between two bracketing distances; it takes about ten.
const STEPS: usize = 60;
/// The first step is made longer by what it fell short and this factor, so that the end lies before the next.
const OVERSHOOT: f64 = 1.1;
/// The profile t is met to this part.
const TOLERANCE: f64 = 1e-7;
/// A sum of squares lower than that of the fit by this part of it is another minimum, not rounding.
const DEEPER: f64 = 1e-6;
/// A function that moved by less than this part of the distance asked for does not follow its target.
const FOLLOWS: f64 = 0.5;

/// What was fitted to what, as it was given to [`fit_curve`].
#[derive(Clone, Copy)]
pub struct Fitted<'a> {
    /// The model.
    pub model: &'a dyn Model,
    /// Where it was observed.
    pub x: &'a [f64],
    /// What was observed.
    pub y: &'a [f64],
    /// Weights, if any.
    pub weights: Option<&'a [f64]>,
    /// Bounds, if any.
    pub bounds: Option<&'a [Bound]>,
}

/// Why an interval has no end on a side.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OpenEnd {
    /// The sum of squares does not rise so far, however far the value goes.
    NeverRises,
    /// A bound or the form of the function stops the value before the sum of squares has risen so far.
    Stopped,
    /// The fits with the value held did not converge, or the model is not finite there.
    FitLost,
    /// With the value held there is a lower sum of squares than that of the fit: it is not the least.
    DeeperMinimum,
    /// There is no uncertainty of the value to begin with: no degrees of freedom, no scatter, or not determined at all.
    NoUncertainty,
}

impl std::fmt::Display for OpenEnd {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::NeverRises => "open: the sum of squares does not rise so far on this side",
            Self::Stopped => {
                "open: a bound stops the value before the sum of squares has risen so far"
            }
            Self::FitLost => "open: no fit converges with the value held farther out",
            Self::DeeperMinimum => "open: the sum of squares has a deeper minimum on this side",
            Self::NoUncertainty => "open: the data give no uncertainty of the value",
        })
    }
}

/// An interval of a parameter or of a function of the parameters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProfileInterval {
    /// Value at the fit.
    pub value: f64,
    /// Lower end, or why there is none.
    pub lower: Result<f64, OpenEnd>,
    /// Upper end, or why there is none.
    pub upper: Result<f64, OpenEnd>,
    /// Confidence of the interval.
    pub confidence: f64,
}

/// The model with the function as one more observation; `x` is the index of the point.
struct WithTarget<'a> {
    of: &'a Fitted<'a>,
    function: &'a dyn Fn(&[f64]) -> f64,
    /// Where the function is a parameter: its index, so that its derivatives need no differences.
    parameter: Option<usize>,
}

impl Model for WithTarget<'_> {
    fn names(&self) -> &[&str] {
        self.of.model.names()
    }
    fn value(&self, params: &[f64], x: f64) -> f64 {
        match self.of.x.get(x as usize) {
            Some(&x) => self.of.model.value(params, x),
            None => (self.function)(params),
        }
    }
    fn gradient(&self, params: &[f64], x: f64, out: &mut [f64]) {
        match self.of.x.get(x as usize) {
            Some(&x) => self.of.model.gradient(params, x, out),
            None => function_gradient(self.function, self.parameter, params, out),
        }
    }
}

fn function_gradient(
    function: &dyn Fn(&[f64]) -> f64,
    parameter: Option<usize>,
    params: &[f64],
    out: &mut [f64],
) {
    match parameter {
        Some(index) => {
            for (i, slot) in out.iter_mut().enumerate() {
                *slot = if i == index { 1.0 } else { 0.0 };
            }
        }
        None => super::derivative::difference_gradient(function, params, out),
    }
}

/// A point of the profile: what the function was fitted to, its value, profile t without its sign, and the parameters there.
struct Point {
    target: f64,
    value: f64,
    tau: f64,
    parameters: Vec<f64>,
}

/// Profile-t interval of parameter `index` of a fit, for a confidence between 0 and 1. `fit` must be of the same data.
pub fn profile_parameter(
    of: &Fitted<'_>,
    fit: &CurveFit,
    index: usize,
    confidence: f64,
) -> Result<ProfileInterval, FitError> {
    check_length("parameters", of.model.names().len(), fit.parameters.len())?;
    let parameter = |p: &[f64]| p.get(index).copied().unwrap_or(f64::NAN);
    profile(of, fit, &parameter, Some(index), confidence)
}

/// Profile-t interval of a smooth function of the parameters of a fit. Takes five to ten fits for each end.
pub fn profile_function(
    of: &Fitted<'_>,
    fit: &CurveFit,
    function: &dyn Fn(&[f64]) -> f64,
    confidence: f64,
) -> Result<ProfileInterval, FitError> {
    check_length("parameters", of.model.names().len(), fit.parameters.len())?;
    profile(of, fit, function, None, confidence)
}

fn profile(
    of: &Fitted<'_>,
    fit: &CurveFit,
    function: &dyn Fn(&[f64]) -> f64,
    parameter: Option<usize>,
    confidence: f64,
) -> Result<ProfileInterval, FitError> {
    check_length("y", of.x.len(), of.y.len())?;
    let value = function(&fit.parameters);
    let open = ProfileInterval {
        value,
        lower: Err(OpenEnd::NoUncertainty),
        upper: Err(OpenEnd::NoUncertainty),
        confidence,
    };
    let (Some(limit), Some(sd)) = (student_factor(fit.dof, confidence), fit.residual_sd) else {
        return Ok(open);
    };
    let mut g = ndarray::Array1::zeros(fit.parameters.len());
    if let Some(g) = g.as_slice_mut() {
        function_gradient(function, parameter, &fit.parameters, g);
    }
    // A parameter that the function does not depend on may lack its uncertainty.
    let mut variance = 0.0;
    for ((i, j), c) in fit.covariance.indexed_iter() {
        if g[i] != 0.0 && g[j] != 0.0 {
            variance += g[i] * c * g[j];
        }
    }
    if !(variance > 0.0 && variance.is_finite() && sd > 0.0 && value.is_finite()) {
        return Ok(open);
    }
    let search = Search {
        model: WithTarget {
            of,
            function,
            parameter,
        },
        fit,
        value,
        u: variance.sqrt(),
        sd,
        limit,
    };
    Ok(ProfileInterval {
        lower: search.end(-1.0),
        upper: search.end(1.0),
        ..open
    })
}

struct Search<'a> {
    model: WithTarget<'a>,
    fit: &'a CurveFit,
    value: f64,
    u: f64,
    sd: f64,
    limit: f64,
}

impl Search<'_> {
    /// The point of the profile whose function lies next to `target`.
    fn point(&self, target: f64, from: &[f64]) -> Result<Point, OpenEnd> {
        let of = self.model.of;
        let n = of.x.len();
        let x: Vec<f64> = (0..=n).map(|i| i as f64).collect();
        let mut y = of.y.to_vec();
        y.push(target);
        let mut weights = of.weights.map_or_else(|| vec![1.0; n], <[f64]>::to_vec);
        weights.push(TARGET_WEIGHT * (self.sd / self.u).powi(2));
        let fit = fit_curve(&self.model, &x, &y, Some(&weights), from, of.bounds)
            .map_err(|_| OpenEnd::FitLost)?;
        let value = (self.model.function)(&fit.parameters);
        let squares: f64 = (0..n)
            .map(|i| (self.model.value(&fit.parameters, i as f64) - y[i]).powi(2) * weights[i])
            .sum();
        let rise = squares - self.fit.sum_of_squares;
        if !fit.stop.converged() || !rise.is_finite() || !value.is_finite() {
            return Err(OpenEnd::FitLost);
        }
        if rise < -DEEPER * self.fit.sum_of_squares {
            return Err(OpenEnd::DeeperMinimum);
        }
        Ok(Point {
            target,
            value,
            tau: rise.max(0.0).sqrt() / self.sd,
            parameters: fit.parameters,
        })
    }

    /// The end on one side.
    fn end(&self, side: f64) -> Result<f64, OpenEnd> {
        let mut inner = Point {
            target: self.value,
            value: self.value,
            tau: 0.0,
            parameters: self.fit.parameters.clone(),
        };
        // Of a function that is nearly straight in the parameters the end lies here.
        let mut distance = self.limit * self.u;
        let mut outer = None;
        for step in 0..DOUBLINGS {
            let point = self.point(self.value + side * distance, &inner.parameters)?;
            if point.tau >= self.limit {
                outer = Some(point);
                break;
            }
            if side * (point.value - self.value) < FOLLOWS * distance {
                return Err(OpenEnd::Stopped);
            }
            // The first step tells by how much it was too short; after it the reach is doubled.
            let short = OVERSHOOT * self.limit / point.tau;
            distance *= if step == 0 { short.min(2.0) } else { 2.0 };
            inner = point;
        }
        let mut outer = outer.ok_or(OpenEnd::NeverRises)?;
        // Regula falsi with the Illinois rule: the weight of an end that stays twice is halved.
        let (mut low, mut high) = (inner.tau - self.limit, outer.tau - self.limit);
        let mut was_below = None;
        for _ in 0..STEPS {
            let middle = (inner.target * high - outer.target * low) / (high - low);
            let point = self.point(middle, &inner.parameters)?;
            let off = point.tau - self.limit;
            if off.abs() <= TOLERANCE * self.limit {
                return Ok(point.value);
            }
            let below = off < 0.0;
            if below {
                (inner, low) = (point, off);
                high *= if was_below == Some(true) { 0.5 } else { 1.0 };
            } else {
                (outer, high) = (point, off);
                low *= if was_below == Some(false) { 0.5 } else { 1.0 };
            }
            was_below = Some(below);
            if (outer.target - inner.target).abs() <= 1e-12 * self.u {
                break;
            }
        }
        Ok(0.5 * (inner.value + outer.value))
    }
}
