//! Mean two-point diameter from caliper readings, with its budget.
//!
//! Repeats are averaged within an operator and an orientation, operators within an orientation, then orientations (see
//! `orientation.rs`), so that no hand and no angle counts twice. The budget keeps apart what more readings average (repeatability),
//! what only more operators average (bias of hand and instrument), what only more orientations average (sampling of an
//! out-of-round ring) and what nothing averages (the step of the scale).

use super::orientation::{ASSUMED_OVAL_SHARE, mean_over};
use super::repeatability::Repeatability;
use super::scatter::{Cells, Scatter, cells, mean};
use crate::recording::{CaliperRow, Finding};
use crate::uncertain::{Budget, Component, Quantity};
use std::collections::{BTreeMap, BTreeSet};

/// Share of the variance of a hand's bias that stays from one stage to the next; the rest changes with how the caliper was set up and held
/// that time (chosen, no source).
pub(super) const BIAS_STAYS: f64 = 0.5;

/// What the gauge is worth, mm, as the rig declares it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct GaugeWorth {
    /// Smallest step.
    pub resolution_mm: Option<f64>,
    /// Standard uncertainty of one reading.
    pub u_mm: Option<f64>,
    /// Repeatability over the whole study; without it that of the readings themselves.
    pub repeat: Option<Repeatability>,
}

/// What one reading is worth where only the step of its scale is declared, mm: a caliper is stated to about 0.04 mm (k = 2; common
/// practice, no source), and no better than its step.
const USUAL_U_MM: f64 = 0.02;

impl GaugeWorth {
    /// From what a rig declares; where it says the step alone, a reading is worth what is usual.
    pub fn declared(resolution_mm: Option<f64>, u_mm: Option<f64>) -> Self {
        Self {
            resolution_mm,
            u_mm: u_mm.or_else(|| resolution_mm.map(Self::usual_u_mm)),
            repeat: None,
        }
    }

    /// The usual standard uncertainty of a reading on a scale of a step, mm.
    pub fn usual_u_mm(step_mm: f64) -> f64 {
        USUAL_U_MM.max(step_mm)
    }
}

/// A mean diameter and what it rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct CaliperMean {
    /// Mean two-point diameter, mm.
    pub diameter: Quantity,
    /// Ovality (Dmax − Dmin)/Dmean of the oval through the orientations.
    pub ovality: Quantity,
    /// Eccentricity index 1 − Dmin/Dmax of the same.
    pub eccentricity_index: Quantity,
    /// Where the uncertainty comes from, mm.
    pub budget: Budget,
    /// Standard uncertainty of the bias of one operator with the caliper, mm; `None` where nothing is declared. See
    /// [`CaliperMean::shared_with`].
    pub bias_u_mm: Option<f64>,
    /// Named operators, each with its share of the mean.
    pub hands: BTreeMap<String, f64>,
    /// Readings used.
    pub readings: usize,
    /// Different orientations.
    pub orientations: usize,
    /// Different operators.
    pub operators: usize,
    /// Doubts.
    pub findings: Vec<Finding>,
}

impl CaliperMean {
    /// Standard uncertainty that two means of the same caliper have in common, mm: the bias of the operators who read both.
    pub fn shared_with(&self, other: &Self) -> f64 {
        let (Some(bias), Some(others)) = (self.bias_u_mm, other.bias_u_mm) else {
            return 0.0;
        };
        let shares = self.hands.iter();
        let both: f64 = shares
            .filter_map(|(name, share)| Some(share * other.hands.get(name)?))
            .sum();
        bias.min(others) * (BIAS_STAYS * both).sqrt()
    }
}

/// Mean diameter of readings of one run, stage and method (caliper or optical; plugs never: see [`super::plug`]).
///
/// Never fails: no usable reading gives a missing diameter with the reason.
pub fn mean_diameter(readings: &[&CaliperRow], gauge: &GaugeWorth) -> CaliperMean {
    let mut findings = Vec::new();
    let usable: Vec<&CaliperRow> = readings
        .iter()
        .copied()
        .filter(|row| row.usable())
        .collect();
    if usable.len() < readings.len() {
        let count = readings.len() - usable.len();
        findings.push(Finding::doubt(
            "caliper-reading-unusable",
            format!("{count} reading(s) are not positive lengths and were left out"),
        ));
    }
    let cells = cells(&usable);
    let operators: BTreeSet<&String> = cells.values().flat_map(BTreeMap::keys).collect();
    if cells.is_empty() {
        return nothing(findings);
    }
    let scatter = Scatter::of(&cells, gauge);
    let (angles, values) = by_orientation(&cells, &mut findings);
    let per_orientation = mean(
        cells
            .values()
            .map(|operators| operators.values().map(Vec::len).sum::<usize>() as f64)
            .collect::<Vec<_>>()
            .into_iter(),
    );
    let noise = scatter.repeat / per_orientation.sqrt();
    let over = mean_over(&angles, &values, noise);
    if over.assumed {
        findings.push(
            Finding::doubt(
                "caliper-one-orientation",
                format!(
                    "one orientation does not show whether the ring is oval; {} % of oval is assumed",
                    2.0 * ASSUMED_OVAL_SHARE * 100.0
                ),
            )
            .help("read at two or more orientations spread evenly over 180°"),
        );
    }
    let mut budget = scatter.budget(
        over.noise_factor,
        per_orientation,
        over.u_sampling,
        (cells.len(), operators.len()),
        gauge,
    );
    let kept: Vec<&CaliperRow> = usable
        .iter()
        .copied()
        .filter(|row| !row.stands_off)
        .collect();
    scatter.check_operators(&super::scatter::cells(&kept), &mut findings);
    // A reading that stands off is nobody's to drop but the hand's that took it; until then how far it moves the mean is not known better.
    let rest = (kept.len() < usable.len()).then(|| mean_diameter(&kept, gauge));
    if let Some(moved) = rest.as_ref().and_then(|rest| rest.diameter.value) {
        let moved = (over.mean - moved).abs();
        budget.push(Component::normal("readings that stand off", moved));
    }
    let method = format!(
        "{}: {} readings, {} orientation(s), {} operator(s)",
        over.method,
        usable.len(),
        cells.len(),
        operators.len()
    );
    let diameter = if gauge.u_mm.is_none() && gauge.resolution_mm.is_none() {
        findings.push(
            Finding::doubt(
                "caliper-uncertainty-undeclared",
                "the caliper's uncertainty is not declared: the mean diameter stays without one",
            )
            .help("declare `caliper_u_mm` and `caliper_resolution_mm` under [geometry] in the rig"),
        );
        Quantity::without_u(
            over.mean,
            "mm",
            method,
            "caliper_u_mm is not declared in the rig",
        )
    } else {
        budget.quantity(over.mean, "mm", method)
    };
    let (mut ovality, mut eccentricity_index) = out_of_round(
        over.mean,
        over.oval_amplitude,
        noise,
        angles.len(),
        over.assumed,
    );
    if let Some(rest) = &rest {
        widen(&mut ovality, &rest.ovality);
        widen(&mut eccentricity_index, &rest.eccentricity_index);
    }
    CaliperMean {
        diameter,
        ovality,
        eccentricity_index,
        budget,
        bias_u_mm: gauge.u_mm.filter(|u| *u > 0.0).map(|_| scatter.bias),
        hands: hands(&cells),
        readings: usable.len(),
        orientations: cells.len(),
        operators: operators.len(),
        findings,
    }
}

/// Adds to the uncertainty of a value how far it is from the one without the readings that stand off.
fn widen(with: &mut Quantity, without: &Quantity) {
    if let (Some(a), Some(b), Some(u)) = (with.value, without.value, with.u) {
        with.u = Some(u.hypot(a - b));
    }
}

fn nothing(findings: Vec<Finding>) -> CaliperMean {
    let missing = |unit| Quantity::missing(unit, "no reading");
    CaliperMean {
        diameter: missing("mm"),
        ovality: missing("1"),
        eccentricity_index: missing("1"),
        budget: Budget::new(),
        bias_u_mm: None,
        hands: BTreeMap::new(),
        readings: 0,
        orientations: 0,
        operators: 0,
        findings,
    }
}

/// Named operators with their shares of the mean: alike in each orientation they read.
fn hands(cells: &Cells) -> BTreeMap<String, f64> {
    let mut hands = BTreeMap::new();
    for operators in cells.values() {
        for name in operators.keys().filter(|name| !name.is_empty()) {
            *hands.entry(name.clone()).or_insert(0.0) +=
                1.0 / (operators.len() * cells.len()) as f64;
        }
    }
    hands
}

/// Angles (rad) and values (mm): operators averaged within each orientation. Readings without an orientation are used only where
/// none has one.
fn by_orientation(cells: &Cells, findings: &mut Vec<Finding>) -> (Vec<f64>, Vec<f64>) {
    let value = |operators: &BTreeMap<String, Vec<f64>>| {
        mean(
            operators
                .values()
                .map(|repeats| mean(repeats.iter().copied())),
        )
    };
    let known: Vec<(f64, f64)> = cells
        .iter()
        .filter_map(|(orientation, operators)| {
            Some(((*orientation)? as f64 / 10.0, value(operators)))
        })
        .collect();
    if let Some(unknown) = cells.get(&None) {
        findings.push(Finding::doubt(
            "caliper-orientation-unknown",
            if known.is_empty() {
                "no reading has an orientation: all are treated as one".to_owned()
            } else {
                "readings without an orientation were left out of the mean".to_owned()
            },
        ));
        if known.is_empty() {
            return (vec![0.0], vec![value(unknown)]);
        }
    }
    known
        .into_iter()
        .map(|(degrees, value)| (degrees.to_radians(), value))
        .unzip()
}

/// Ovality and eccentricity index of D̄ ± amplitude.
fn out_of_round(
    mean: f64,
    amplitude: f64,
    noise: f64,
    orientations: usize,
    assumed: bool,
) -> (Quantity, Quantity) {
    if assumed {
        let missing = || Quantity::missing("1", "one orientation does not show an oval");
        return (missing(), missing());
    }
    let (max, min) = (mean + amplitude, mean - amplitude);
    // Amplitude of a fitted wave: noise √(2/n) in each of its parts.
    let u = noise * (2.0 / orientations.max(1) as f64).sqrt();
    let method = "from the oval wave through the orientations";
    (
        Quantity::known(2.0 * amplitude / mean, 2.0 * u / mean, "1", method),
        Quantity::known(1.0 - min / max, 2.0 * u * mean / (max * max), "1", method),
    )
}
