//! From a pulse-duplicator record to RMS flow, mean gradient and effective orifice area.

use super::closed_valve::flow_through_closed;
use super::effective::EffectiveArea;
use super::flow_period::{FlowError, FlowPeriod, positive_pressure_periods};
use super::formula::OrificeFormula;
use super::regurgitation::{Regurgitation, measure_regurgitation};
use crate::recording::{ByTrials, Finding, FlowRecord};
use crate::rig::FlowSpec;
use crate::uncertain::{
    Budget, Component, Input, MonteCarlo, Quantity, StatedBudget, Trials, monte_carlo,
};

/// What the instruments of the flow loop are worth, all standard uncertainties. The defaults are common practice (no source), for rigs
/// that declare nothing in `[flow]`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlowInstruments {
    /// Flow, relative: a probe calibrated in place by timed collection to ± 1 % (k = 2).
    pub u_flow_rel: f64,
    /// Zero of the flow, mL/s: zeroed in still fluid before the record, to 0.02 L/min.
    pub u_flow_zero_ml_s: f64,
    /// Pressure difference, relative: transducers checked against a water column to ± 0.5 %, rectangular.
    pub u_dp_rel: f64,
    /// Zero of the pressure difference, mmHg: zeroed before the record; 0.3 mm of water column.
    pub u_dp_zero_mmhg: f64,
    /// Density of the fluid, relative: saline or glycerol mix at 37 ± 2 °C.
    pub u_density_rel: f64,
}

impl FlowInstruments {
    /// What a rig declares, defaults where it does not, and the keys of these.
    pub fn declared(spec: &FlowSpec) -> (Self, Vec<&'static str>) {
        let usual = Self::default();
        let mut assumed = Vec::new();
        let mut take = |key: &'static str, declared: Option<f64>, usual: f64| {
            declared.unwrap_or_else(|| {
                assumed.push(key);
                usual
            })
        };
        let declared = Self {
            u_flow_rel: take("u_flow_rel", spec.u_flow_rel, usual.u_flow_rel),
            u_flow_zero_ml_s: take("u_flow_ml_s", spec.u_flow_zero_ml_s, usual.u_flow_zero_ml_s),
            u_dp_rel: take("u_dp_rel", spec.u_dp_rel, usual.u_dp_rel),
            u_dp_zero_mmhg: take("u_dp_mmhg", spec.u_dp_zero_mmhg, usual.u_dp_zero_mmhg),
            u_density_rel: take("u_density_rel", spec.u_density_rel, usual.u_density_rel),
        };
        (declared, assumed)
    }
}

impl Default for FlowInstruments {
    fn default() -> Self {
        Self {
            u_flow_rel: 0.005,
            u_flow_zero_ml_s: 0.3,
            u_dp_rel: 0.003,
            u_dp_zero_mmhg: 0.02,
            u_density_rel: 0.001,
        }
    }
}

/// What a flow record says.
#[derive(Debug, Clone, PartialEq)]
pub struct FlowMeasure {
    /// Effective orifice area, cm².
    pub effective_orifice_area: Quantity,
    /// Mean pressure difference over the positive-pressure period, mmHg.
    pub mean_gradient: Quantity,
    /// Highest pressure difference, mean of the beats, mmHg.
    pub peak_gradient: Quantity,
    /// Root mean square forward flow over the period, mL/s.
    pub rms_flow: Quantity,
    /// Length of the period, s.
    pub period: Quantity,
    /// Beats per minute; missing for a single beat.
    pub rate: Quantity,
    /// Volumes of the whole beats.
    pub volumes: Regurgitation,
    /// The beats used.
    pub beats: Vec<FlowPeriod>,
    /// Where the uncertainty of the effective area comes from, cm².
    pub budget: Budget,
    /// Where that of the flow comes from, mL/s.
    rms_budget: Budget,
    /// Inputs of the effective area for trials: flow, pressure difference, density, and what the beats differ by.
    area_trials: Option<[Input; 4]>,
    /// The mean gradient for trials.
    gradient_trials: Input,
    /// Doubts.
    pub findings: Vec<Finding>,
}

/// Mean, and standard deviation of the mean (`None` for one value).
pub(super) fn mean_of(values: &[f64]) -> (f64, Option<f64>) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let sum: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
    let spread = (values.len() > 1).then(|| (sum / (n - 1.0) / n).sqrt());
    (mean, spread)
}

/// Name of the component.
const BETWEEN: &str = "spread between beats";
/// Name of what the ends of the period are not known by.
const ENDS: &str = "ends of the period";

/// Adds the spread between beats where there is one.
pub(super) fn between(mut budget: Budget, spread: Option<f64>, beats: usize) -> Budget {
    if let Some(spread) = spread {
        budget.push(Component::normal(BETWEEN, spread).dof(beats as f64 - 1.0));
    }
    budget
}

/// Adds by how much other ends of the periods move a mean, where there are any.
fn with_ends(budget: Budget, off: f64) -> Budget {
    if off.abs() > 0.0 {
        budget.with(Component::rectangular(ENDS, off.abs()))
    } else {
        budget
    }
}

/// Measures a flow record at a fluid density in g/mL.
///
/// # Errors
/// [`FlowError`] where no whole beat is found.
pub fn measure_flow(
    record: &FlowRecord,
    density_g_per_ml: f64,
    instruments: &FlowInstruments,
) -> Result<FlowMeasure, FlowError> {
    let beats = positive_pressure_periods(&record.time_s, &record.flow_ml_s, &record.dp_mmhg)?;
    let pick = |f: fn(&FlowPeriod) -> f64| mean_of(&beats.iter().map(f).collect::<Vec<_>>());
    let n = beats.len();
    let method = |what: &str| format!("{what}, mean of {n} beat(s)");

    let (gradient, gradient_spread) = pick(|b| b.mean_gradient_mmhg);
    let dp_instrument = Budget::new()
        .with(Component::normal("pressure difference", instruments.u_dp_rel).sensitivity(gradient))
        .with(Component::normal(
            "zero of the pressure difference",
            instruments.u_dp_zero_mmhg,
        ));
    let dp_u = dp_instrument.combined();
    let gradient_budget = between(dp_instrument.clone(), gradient_spread, n);
    let gradient_budget = with_ends(gradient_budget, pick(|b| b.by_ends.1).0);

    let (rms, rms_spread) = pick(|b| b.rms_flow_ml_s);
    // A zero moves the mean square by twice the mean flow.
    let (mean_flow, _) = pick(|b| b.mean_flow_ml_s);
    let by_zero = mean_flow / rms;
    let flow = Budget::new()
        .with(Component::normal("flow", instruments.u_flow_rel).sensitivity(rms))
        .with(
            Component::normal("zero of the flow", instruments.u_flow_zero_ml_s)
                .sensitivity(by_zero),
        );
    let flow_u = flow.combined();
    let rms_budget = with_ends(between(flow, rms_spread, n), pick(|b| b.by_ends.0).0);

    let (peak, peak_spread) = pick(|b| b.peak_gradient_mmhg);
    let peak_u = peak_spread
        .unwrap_or(0.0)
        .hypot(instruments.u_dp_zero_mmhg)
        .hypot(instruments.u_dp_rel * peak);
    let (length, length_spread) = pick(|b| b.end_s - b.start_s);

    let (area, budget) = effective_area(
        &beats,
        [(rms, flow_u), (gradient, dp_u)],
        density_g_per_ml,
        instruments,
    );
    let area_trials = area.is_ok().then(|| {
        let own = [BETWEEN, ENDS];
        let spread = budget.components.iter();
        let spread = spread.filter(|c| own.contains(&c.name.as_str()));
        [
            Input::normal(rms, flow_u),
            Input {
                value: gradient,
                budget: dp_instrument,
            },
            Input::normal(
                density_g_per_ml,
                density_g_per_ml * instruments.u_density_rel,
            ),
            Input {
                value: 0.0,
                budget: Budget {
                    components: spread.cloned().collect(),
                },
            },
        ]
    });
    let gradient_trials = Input {
        value: gradient,
        budget: gradient_budget.clone(),
    };
    let mut findings = Vec::new();
    if n == 1 {
        findings.push(Finding::doubt(
            "one-beat",
            "only one whole beat: the spread between beats is not in the uncertainty",
        ));
    }
    findings.extend(flow_through_closed(record, instruments));
    Ok(FlowMeasure {
        effective_orifice_area: match area {
            Ok(value) => budget.widened_quantity(value, "cm2", method(EffectiveArea.equation())),
            Err(why) => Quantity::missing("cm2", why),
        },
        mean_gradient: gradient_budget.widened_quantity(
            gradient,
            "mmHg",
            method("time mean over the positive-pressure period of forward flow"),
        ),
        peak_gradient: Quantity::known(peak, peak_u, "mmHg", method("highest sample of a beat")),
        rms_flow: rms_budget.widened_quantity(
            rms,
            "mL/s",
            method("root mean square over the positive-pressure period"),
        ),
        period: length_spread.map_or_else(
            || Quantity::without_u(length, "s", method("positive-pressure period"), "one beat"),
            |u| Quantity::known(length, u, "s", method("positive-pressure period")),
        ),
        rate: rate(&beats),
        volumes: measure_regurgitation(record, instruments),
        beats,
        budget,
        rms_budget,
        area_trials,
        gradient_trials,
        findings,
    })
}

impl FlowMeasure {
    /// What the uncertainties of area, gradient and flow are made of, by the name of the quantity.
    pub fn budgets(&self) -> Vec<(&'static str, StatedBudget)> {
        let area = (&self.effective_orifice_area, &self.budget);
        let gradient = (&self.mean_gradient, &self.gradient_trials.budget);
        [
            ("effective_orifice_area", area),
            ("mean_gradient", gradient),
            ("rms_flow", (&self.rms_flow, &self.rms_budget)),
        ]
        .into_iter()
        .filter_map(|(name, (quantity, budget))| {
            Some((name, StatedBudget::of(quantity, budget.clone())?))
        })
        .chain(self.volumes.budgets.iter().cloned())
        .collect()
    }

    /// Orifice area and mean gradient by trials, where they have an uncertainty.
    pub fn by_trials(&self, stage: &str, label: &str, trials: Trials) -> Vec<ByTrials> {
        let mut said = Vec::new();
        let formula = &self.area_trials;
        let mut add = |name: &str, quantity: &Quantity, found: Option<MonteCarlo>| {
            let found = found.filter(|_| quantity.pair().is_some());
            let name = format!("flow.{stage}.{name}");
            said.extend(found.map(|found| ByTrials::new(name, quantity, found)));
        };
        if let Some(inputs) = formula {
            let area = |x: &[f64]| match x {
                [flow, gradient, density, beats] => {
                    EffectiveArea.equation_value(&[*flow, *gradient, *density]) + beats
                }
                _ => f64::NAN,
            };
            add(
                "effective_orifice_area",
                &self.effective_orifice_area,
                monte_carlo(&area, inputs, &[], &format!("{label} area"), trials),
            );
        }
        add(
            "mean_gradient",
            &self.mean_gradient,
            monte_carlo(
                &|x| x.first().copied().unwrap_or(f64::NAN),
                std::slice::from_ref(&self.gradient_trials),
                &[],
                &format!("{label} gradient"),
                trials,
            ),
        );
        said
    }
}

/// Effective area from the means over the beats; its spread between beats from the areas of the single beats.
fn effective_area(
    beats: &[FlowPeriod],
    [(rms, flow_u), (gradient, dp_u)]: [(f64, f64); 2],
    density: f64,
    instruments: &FlowInstruments,
) -> (Result<f64, String>, Budget) {
    let area = match EffectiveArea.compute(&[rms, gradient, density]) {
        Ok(area) => area,
        Err(error) => return (Err(error.to_string()), Budget::new()),
    };
    let single: Vec<f64> = beats
        .iter()
        .map(|b| EffectiveArea.equation_value(&[b.rms_flow_ml_s, b.mean_gradient_mmhg, density]))
        .collect();
    // A ∝ Q Δp^(−1/2) ρ^(1/2).
    let budget = Budget::new()
        .with(Component::normal("flow", flow_u).sensitivity(area / rms))
        .with(
            Component::normal("pressure difference and its zero", dp_u)
                .sensitivity(area / (2.0 * gradient)),
        )
        .with(Component::normal("density", instruments.u_density_rel).sensitivity(area / 2.0));
    let budget = between(budget, mean_of(&single).1, beats.len());
    // Other ends move flow and pressure difference together, and the area by little.
    let other: Vec<f64> = beats
        .iter()
        .map(|b| {
            let (by_flow, by_dp) = b.by_ends;
            let (rms, dp) = (b.rms_flow_ml_s + by_flow, b.mean_gradient_mmhg + by_dp);
            EffectiveArea.equation_value(&[rms, dp, density])
        })
        .collect();
    (
        Ok(area),
        with_ends(budget, mean_of(&other).0 - mean_of(&single).0),
    )
}

/// Beats per minute from the starts of neighbouring periods; a beat left out in between makes a double gap, so the median counts.
fn rate(beats: &[FlowPeriod]) -> Quantity {
    let mut gaps: Vec<f64> = beats
        .windows(2)
        .filter_map(|pair| Some(pair.last()?.start_s - pair.first()?.start_s))
        .collect();
    gaps.sort_by(f64::total_cmp);
    let Some(middle) = gaps.get(gaps.len() / 2).copied() else {
        return Quantity::missing("1/min", "a single beat has no rate");
    };
    let method = "median time between openings";
    let near: Vec<f64> = gaps.into_iter().filter(|gap| *gap < 1.5 * middle).collect();
    match mean_of(&near).1 {
        Some(spread) => Quantity::known(
            60.0 / middle,
            60.0 / (middle * middle) * spread,
            "1/min",
            method,
        ),
        None => Quantity::without_u(60.0 / middle, "1/min", method, "one interval"),
    }
}
