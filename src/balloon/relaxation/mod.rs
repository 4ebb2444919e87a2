//! How the pressure falls in a hold: several models on the same window, the best by the corrected information criterion.
//!
//! A hold is seen through means of equal blocks of its samples, so a long recording costs what a short one does. Slow noise makes
//! neighbouring means alike: then blocks are put together until they are hardly so any more, and what is left widens the uncertainties.

mod exponential;
mod leak;
mod logarithm;
mod permeation;
mod two_exponentials;

use self::{
    exponential::Exponential, leak::Leak, logarithm::Logarithm, permeation::Permeation,
    two_exponentials::TwoExponentials,
};
use crate::fit::{
    Bound, Candidate, CurveFit, Fitted, Model, Ranked, check_residuals, fit_curve,
    profile_parameter, rank_models,
};
use crate::recording::{ModelRank, Phase, PhaseKind, RelaxationResult, TimeConstant, Trace};
use crate::rig::settings;
use crate::uncertain::{Quantity, widened};
use statrs::distribution::{ContinuousCDF, StudentsT};

/// A curve the pressure of a hold may follow; time from the start of the window.
pub trait RelaxationModel: Model + Sync {
    /// Name, one word.
    fn name(&self) -> &'static str;
    /// Equation in plain text, with units.
    fn equation(&self) -> &'static str;
    /// Where the equation comes from.
    fn source(&self) -> &'static str;
    /// First guess of the parameters from times (s, from 0) and pressures (kPa); `None` where there is none.
    fn guess(&self, time_s: &[f64], pressure_kpa: &[f64]) -> Option<Vec<f64>>;
    /// Index of the parameter that is the pressure in the end, where the model has one.
    fn floor(&self) -> Option<usize>;
    /// Indices of the parameters that are time constants.
    fn times(&self) -> &'static [usize];
    /// Indices of the parameters that are falls of the pressure: never below nothing, since what relaxes does not rise.
    fn falls(&self) -> &'static [usize] {
        &[]
    }
}

/// Every model. A new one is one file and one line here.
pub const RELAXATION_MODELS: &[&dyn RelaxationModel] = &[
    &Exponential,
    &TwoExponentials,
    &Logarithm,
    &Leak,
    &Permeation,
];

/// Blocks a hold is seen through at most: a time constant of four per cent of the hold is still two of them.
const MOST_POINTS: usize = 48;
/// Degrees of freedom below which a standard deviation of Student's t is no longer finite or sensible.
const FEWEST_DOF: f64 = 3.0;
/// Blocks put together must stay so many, or correlation is only counted.
const FEWEST_POINTS: usize = 20;
/// Neighbouring residuals may be so much alike before blocks are put together (two standard deviations of 96 independent ones).
const ALIKE: f64 = 0.2;
/// Samples whose place in a block tells the same curve must be seen in most blocks.
const FEWEST_SHARE: f64 = 0.5;
/// Times are looked for from so many blocks ...
const FASTEST_STEPS: f64 = 0.5;
/// ... up to so many holds: what is slower falls as a straight line does.
const SLOWEST_HOLDS: f64 = 20.0;
/// Why a model that falls is not ranked where the pressure ends no lower than it began.
const NO_FALL: &str = "the pressure does not fall in this hold";
/// Why a model with a time is not ranked.
const NOT_TOLD: &str = "its time constant cannot be told from this hold";
/// A second time constant is looked for where residuals of the first are alike with less than this probability by chance.
const STRUCTURE_P: f64 = 0.05;

/// The longest holds of a run, in time order. Holds are cut at events (s) and begin after a while that belongs to the stroke.
///
/// # Errors
/// Why there is none.
pub fn relaxations(
    trace: &Trace,
    phases: &[Phase],
    events_s: &[f64],
    settings: &settings::Relaxation,
) -> Result<Vec<RelaxationResult>, String> {
    let mut windows: Vec<(f64, f64)> = phases
        .iter()
        .filter(|p| p.kind == PhaseKind::Hold)
        .flat_map(|p| between_events((p.t_start_s, p.t_end_s), events_s))
        .map(|(from, to)| (from + settings.skip_s, to))
        .collect();
    let longest_s = windows.iter().map(|w| w.1 - w.0).fold(0.0, f64::max);
    windows.retain(|(from, to)| to - from >= settings.shortest_s);
    if windows.is_empty() {
        return Err(format!(
            "no hold of at least {} s without an event, beside the {} s that belong to its stroke; the longest has {longest_s:.1} s",
            settings.shortest_s, settings.skip_s
        ));
    }
    windows.sort_by(|a, b| {
        (b.1 - b.0)
            .total_cmp(&(a.1 - a.0))
            .then(a.0.total_cmp(&b.0))
    });
    windows.truncate(settings.most_holds);
    windows.sort_by(|a, b| a.0.total_cmp(&b.0));
    let found: Vec<RelaxationResult> = windows
        .into_iter()
        .filter_map(|window| relaxation(trace, window, settings))
        .collect();
    if found.is_empty() {
        return Err("half of the samples of the longest hold are missing, the channel stood at its limit there, or no model can be fitted".to_owned());
    }
    Ok(found)
}

/// The parts of a stretch between events.
fn between_events((from, to): (f64, f64), events_s: &[f64]) -> Vec<(f64, f64)> {
    let mut ends: Vec<f64> = events_s
        .iter()
        .copied()
        .filter(|t| *t > from && *t < to)
        .collect();
    ends.sort_by(f64::total_cmp);
    ends.push(to);
    let mut start = from;
    ends.into_iter()
        .map(|end| (std::mem::replace(&mut start, end), end))
        .collect()
}

/// Means of equal blocks: time from the start of the window (s), pressure (kPa). `None` where half of the samples are missing or any was
/// at the limit of the channel.
fn blocks(trace: &Trace, (from_s, to_s): (f64, f64)) -> Option<(Vec<f64>, Vec<f64>)> {
    let from = trace.time_s.partition_point(|t| *t < from_s);
    let to = trace.time_s.partition_point(|t| *t <= to_s);
    let (time, pressure) = (
        trace.time_s.get(from..to)?,
        trace.pressure_kpa.get(from..to)?,
    );
    if trace.clipped.get(from..to)?.iter().any(|c| *c) {
        return None;
    }
    let long = time.len().div_ceil(MOST_POINTS).max(1);
    let mean = |values: &mut dyn Iterator<Item = f64>| {
        let (sum, n) = values.fold((0.0, 0.0), |(sum, n), v| (sum + v, n + 1.0));
        sum / n
    };
    // The last block must not weigh a single sample as much as many.
    let (t, p): (Vec<f64>, Vec<f64>) = time
        .chunks_exact(long)
        .zip(pressure.chunks_exact(long))
        .map(|(t, p)| {
            let seen = || t.iter().zip(p).filter(|(_, p)| p.is_finite());
            (
                mean(&mut seen().map(|(t, _)| t - from_s)),
                mean(&mut seen().map(|(_, p)| *p)),
            )
        })
        .filter(|(_, p)| p.is_finite())
        .unzip();
    (t.len() as f64 >= FEWEST_SHARE * (time.len() / long) as f64 && t.len() >= FEWEST_POINTS)
        .then_some((t, p))
}

/// Blocks put together, so many at a time.
fn merged(values: &[f64], together: usize) -> Vec<f64> {
    values
        .chunks_exact(together)
        .map(|c| c.iter().sum::<f64>() / together as f64)
        .collect()
}

/// Fits of every model, in the order of [`RELAXATION_MODELS`].
fn fit_all(t: &[f64], p: &[f64]) -> Vec<Result<CurveFit, String>> {
    let mut fits: Vec<Result<CurveFit, String>> = Vec::new();
    for model in RELAXATION_MODELS {
        let is_second = model.times().len() > 1;
        let one = fits.first().filter(|_| is_second);
        fits.push(match one {
            Some(Err(_)) => Err("not tried: not even one time constant can be told".to_owned()),
            Some(Ok(one)) if is_noise(t, p, one) => {
                Err("not tried: one time constant leaves nothing but noise".to_owned())
            }
            _ => fit_model(*model, t, p),
        });
    }
    fits
}

/// Whether the first of the models leaves residuals that do not hang together.
fn is_noise(t: &[f64], p: &[f64], one: &CurveFit) -> bool {
    alike(&Exponential, t, p, one).is_some_and(|(_, chance)| chance > STRUCTURE_P)
}

/// Correlation of neighbouring residuals, with the probability of one as large by chance.
fn alike(model: &dyn Model, t: &[f64], p: &[f64], fit: &CurveFit) -> Option<(f64, f64)> {
    let test = check_residuals(model, t, p, None, fit).ok()?.lag_one?;
    Some((test.statistic, test.p))
}

fn fit_model(model: &dyn RelaxationModel, t: &[f64], p: &[f64]) -> Result<CurveFit, String> {
    let mut start = model
        .guess(t, p)
        .ok_or("no first guess of its parameters")?;
    let bounds = bounds_of(model, t, &mut start)?;
    let fit =
        fit_curve(model, t, p, None, &start, Some(&bounds)).map_err(|error| error.to_string())?;
    if model.times().iter().any(|at| fit.u(*at).is_err()) {
        return Err(NOT_TOLD.to_owned());
    }
    Ok(fit)
}

/// Between what the parameters of a model are looked for in a hold; a first guess (at `start`) is brought in.
fn bounds_of(
    model: &dyn RelaxationModel,
    t: &[f64],
    start: &mut [f64],
) -> Result<Vec<Bound>, String> {
    // A time far below the step of the blocks or far beyond the hold is none that the hold tells; without an end the fit would look for
    // it for ever.
    let (step, whole) = match t {
        [first, second, .., last] => (second - first, last - first),
        _ => return Err("too few points".to_owned()),
    };
    let times = Bound::between(FASTEST_STEPS * step, SLOWEST_HOLDS * whole);
    let mut bounds = vec![Bound::FREE; start.len()];
    for &i in model.falls() {
        if let (Some(slot), Some(value)) = (bounds.get_mut(i), start.get(i)) {
            *slot = Bound::at_least(0.0);
            if *value < 0.0 {
                return Err(NO_FALL.to_owned());
            }
        }
    }
    for &i in model.times() {
        if let (Some(slot), Some(value)) = (bounds.get_mut(i), start.get_mut(i)) {
            *slot = times;
            // A guess out of reach already says what a fit would find out slowly.
            if *value > times.upper {
                return Err(NOT_TOLD.to_owned());
            }
            *value = value.max(times.lower);
        }
    }
    Ok(bounds)
}

/// Interval of a time constant (s): where the sum of squares has risen as far as the confidence asks, which for times is farther to the
/// long side than to the short one. `dof` are the degrees of freedom of independent points; `spread` is the factor by which points that
/// are alike scatter more than they seem to.
fn time_interval(
    model: &dyn RelaxationModel,
    (t, p): (&[f64], &[f64]),
    fit: &CurveFit,
    index: usize,
    (dof, spread): (f64, f64),
) -> (Option<f64>, Option<f64>) {
    let mut parameters = fit.parameters.clone();
    let Ok(bounds) = bounds_of(model, t, &mut parameters) else {
        return (None, None);
    };
    let of = Fitted {
        model,
        x: t,
        y: p,
        weights: None,
        bounds: Some(&bounds),
    };
    let student = |dof: f64| StudentsT::new(0.0, 1.0, dof).ok();
    let (Some(true_t), Some(fit_t)) = (student(dof), student(fit.dof as f64)) else {
        return (None, None);
    };
    // The profile takes all points for independent: it is asked for the confidence at which it goes as far as the fewer do.
    let limit = spread * true_t.inverse_cdf(0.5 + 0.5 * TimeConstant::CONFIDENCE);
    let confidence = 2.0 * fit_t.cdf(limit) - 1.0;
    let Ok(found) = profile_parameter(&of, fit, index, confidence) else {
        return (None, None);
    };
    (found.lower.ok(), found.upper.ok())
}

fn ranking(fits: &[Result<CurveFit, String>]) -> Vec<Ranked> {
    let candidates: Vec<Candidate<'_>> = RELAXATION_MODELS
        .iter()
        .zip(fits)
        .map(|(model, fit)| Candidate {
            name: model.name(),
            fit: fit.as_ref().map_err(Clone::clone),
        })
        .collect();
    rank_models(&candidates)
}

/// The best model of a ranking with its fit.
fn best<'f>(
    ranked: &[Ranked],
    fits: &'f [Result<CurveFit, String>],
) -> Option<(&'static dyn RelaxationModel, &'f CurveFit)> {
    let first = ranked.first().filter(|r| r.weight.is_some())?;
    Some((
        *RELAXATION_MODELS.get(first.index)?,
        fits.get(first.index)?.as_ref().ok()?,
    ))
}

fn relaxation(
    trace: &Trace,
    window: (f64, f64),
    settings: &settings::Relaxation,
) -> Option<RelaxationResult> {
    let (mut t, mut p) = blocks(trace, window)?;
    let (start, end) = (*p.first()?, *p.last()?);
    if start < settings.least_kpa {
        return None;
    }
    let mut fits = fit_all(&t, &p);
    let mut ranked = ranking(&fits);
    let mut correlation = best(&ranked, &fits).and_then(|(model, fit)| alike(model, &t, &p, fit));
    if let Some((r, _)) = correlation.filter(|c| c.0 > ALIKE) {
        // Neighbours so many blocks apart are alike by r to that power.
        let apart = (ALIKE.ln() / r.ln()).ceil().max(2.0) as usize;
        let together = apart.min(t.len() / FEWEST_POINTS);
        if together > 1 {
            (t, p) = (merged(&t, together), merged(&p, together));
            fits = fit_all(&t, &p);
            ranked = ranking(&fits);
            correlation = best(&ranked, &fits).and_then(|(model, fit)| alike(model, &t, &p, fit));
        }
    }
    let (model, fit) = best(&ranked, &fits)?;
    // Variance of a mean of a first-order autoregressive series over that of an independent one (Bayley and Hammersley 1946).
    let r = correlation.map_or(0.0, |c| c.0.clamp(0.0, 0.95));
    let alike_share = (1.0 - r) / (1.0 + r);
    // So few points know their own scatter badly: a t distribution is wider than the normal one.
    let dof = (t.len() as f64 * alike_share - fit.parameters.len() as f64).max(FEWEST_DOF);
    let spread = alike_share.sqrt().recip();
    let wider = spread * widened(dof);
    let channel = trace.u_pressure_at(start, window.0);
    let said = format!("{}, {}", model.name(), model.equation());
    let at = |x: f64| {
        (
            model.value(&fit.parameters, x),
            fit.u_curve(model, x).unwrap_or(f64::NAN) * wider,
        )
    };
    let (p0, u0) = at(0.0);
    let (p1, u1) = at(window.1 - window.0);
    let floor = model.floor().map_or_else(
        || Quantity::missing("kPa", "the best model has no floor"),
        |i| {
            let value = fit.parameters.get(i).copied().unwrap_or(f64::NAN);
            let u = fit.u(i).unwrap_or(f64::NAN) * wider;
            Quantity::known(value, u.hypot(channel), "kPa", said.clone())
        },
    );
    let time_constants = model
        .times()
        .iter()
        .map(|&i| {
            let (low_s, high_s) = time_interval(model, (&t, &p), fit, i, (dof, spread));
            TimeConstant {
                name: model.names().get(i).copied().unwrap_or_default().to_owned(),
                time: Quantity::known(
                    fit.parameters.get(i).copied().unwrap_or(f64::NAN),
                    fit.u(i).unwrap_or(f64::NAN) * wider,
                    "s",
                    said.clone(),
                ),
                low_s,
                high_s,
            }
        })
        .collect();
    let share = (p0 - p1) / p0;
    Some(RelaxationResult {
        t_start_s: window.0,
        t_end_s: window.1,
        points: t.len(),
        model: model.name().to_owned(),
        models: ranked
            .iter()
            .map(|r| ModelRank {
                model: r.name.clone(),
                delta_aicc: r.delta_aicc.filter(|d| d.is_finite()),
                weight: r.weight,
                reason: r.reason.clone(),
            })
            .collect(),
        p_start: Quantity::known(
            p0,
            u0.hypot(channel),
            "kPa",
            format!("{said}, at the start of the window"),
        ),
        p_inf: floor,
        time_constants,
        share_relaxed: Quantity::known(
            share,
            u0.hypot(u1).hypot((start - end).abs() * channel / start) / p0,
            "1",
            "fall of the fitted curve over the window, over its start",
        ),
        residual_correlation: correlation.map(|c| c.0),
    })
}
