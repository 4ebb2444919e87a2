//! What an earlier analysis saw of frames on a balloon: where they broke, and how wide they stood.

use super::earlier::Run;
use super::free::FreeCurve;
use crate::stats::{Observation, kaplan_meier};
use serde::Serialize;

/// Shares of a group whose fracture pressure is told.
const SHARES: [f64; 3] = [0.1, 0.5, 0.9];
/// Room for rounding where a survival is compared with a share.
const ROUNDING: f64 = 1e-9;

/// The frames of a group of the study on this balloon. Pressures are those of the onset, whatever the study calls the fracture pressure: what
/// a step must stay below is where frames gave way.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GroupSeen {
    /// Name of the group; `no group` for runs in none.
    pub group: String,
    /// Frame runs that count.
    pub runs: usize,
    /// Fractured among them.
    pub fractured: usize,
    /// Lowest known fracture pressure, kPa; null where no frame broke at a known one.
    pub lowest_kpa: Option<f64>,
    /// The highest, kPa.
    pub highest_kpa: Option<f64>,
    /// Largest standard uncertainty of a fracture pressure, kPa.
    pub largest_u_kpa: Option<f64>,
    /// Highest pressure of the runs without a fracture, kPa: those frames held at least so much.
    pub held_kpa: Option<f64>,
    /// Quantiles, with frames that did not break right-censored.
    pub quantiles: Vec<Quantile>,
}

/// Pressure at which a share of the frames had broken.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Quantile {
    /// The share.
    pub share: f64,
    /// Pressure, kPa; null where so many did not break.
    pub pressure_kpa: Option<f64>,
    /// Why there is none.
    pub reason: Option<String>,
}

impl GroupSeen {
    /// What the runs of one group say.
    pub(super) fn of(group: &str, runs: &[&Run]) -> Self {
        let mut strengths = Vec::new();
        let mut largest_u: Option<f64> = None;
        let mut held: Option<f64> = None;
        let wider = |most: Option<f64>, next: f64| Some(most.map_or(next, |m| m.max(next)));
        for run in runs {
            if run.outcome != "fractured" {
                if let Some(pressure) = run.highest_pressure.value {
                    strengths.push(Observation::censored(pressure));
                    held = wider(held, pressure);
                }
                continue;
            }
            let breaks = run.events.iter().filter(|e| e.kind == "fracture");
            let first = breaks
                .filter_map(|e| Some((e.t_s?, &e.pressure)))
                .min_by(|a, b| a.0.total_cmp(&b.0));
            let Some((pressure, u)) = first.and_then(|(_, p)| Some((p.value?, p.u))) else {
                continue;
            };
            // Without an uncertainty only a lower bound is known: the channel stood at its limit.
            match u {
                Some(u) => {
                    strengths.push(Observation::failure(pressure));
                    largest_u = wider(largest_u, u);
                }
                None => strengths.push(Observation::censored(pressure)),
            }
        }
        let known = || strengths.iter().filter(|o| !o.censored).map(|o| o.value);
        Self {
            group: group.to_owned(),
            runs: runs.len(),
            fractured: runs.iter().filter(|r| r.outcome == "fractured").count(),
            lowest_kpa: known().min_by(f64::total_cmp),
            highest_kpa: known().max_by(f64::total_cmp),
            largest_u_kpa: largest_u,
            held_kpa: held,
            quantiles: quantiles(&strengths),
        }
    }

    /// True where this pressure lies among the fractures seen.
    pub(super) fn holds(&self, pressure_kpa: f64) -> bool {
        self.lowest_kpa.is_some_and(|low| low <= pressure_kpa)
            && self.highest_kpa.is_some_and(|high| pressure_kpa <= high)
    }
}

/// Product-limit quantiles (Kaplan & Meier 1958).
fn quantiles(strengths: &[Observation]) -> Vec<Quantile> {
    let curve = kaplan_meier(strengths);
    let quantile = |share: f64| {
        let found = curve.as_ref().map_err(ToString::to_string).and_then(|c| {
            let below = |survival: f64| survival <= 1.0 - share + ROUNDING;
            let step = c.steps.iter().find(|s| below(s.survival));
            step.map(|s| s.value)
                .ok_or_else(|| "fewer frames broke than that".to_owned())
        });
        Quantile {
            share,
            pressure_kpa: found.as_ref().ok().copied(),
            reason: found.err(),
        }
    };
    SHARES.map(quantile).to_vec()
}

/// Diameter at which a frame stood on the balloon at a gauge pressure, mm, up to its first fall: from the load on it and what the free
/// balloon needs at that diameter, straight between the points of its curve.
pub(super) fn waist_at(run: &Run, free: &FreeCurve<'_>, pressure_kpa: f64) -> Option<f64> {
    let curve = &run.frame.as_ref()?.curve;
    let mut before: Option<(f64, f64)> = None;
    for (load, diameter) in curve.pressure_kpa.iter().zip(&curve.diameter_mm) {
        let (Some(load), Some(diameter)) = (*load, *diameter) else {
            continue;
        };
        let here = load + free.pressure_at(diameter)?;
        if let Some((p, d)) = before {
            if here <= p {
                return None;
            }
            if (p..=here).contains(&pressure_kpa) {
                return Some(d + (diameter - d) * (pressure_kpa - p) / (here - p));
            }
        }
        before = Some((here, diameter));
    }
    None
}
