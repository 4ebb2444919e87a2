//! Mean two-point diameter from caliper readings, with its budget.
//!
//! Repeats are averaged within an operator and an orientation, operators within an orientation, then orientations (see
//! `orientation.rs`), so that no hand and no angle counts twice. The budget keeps apart what more readings average (repeatability),
//! what only more operators average (bias of hand and instrument), what only more orientations average (sampling of an
//! out-of-round ring) and what nothing averages (the step of the scale).

use super::orientation::{ASSUMED_OVAL_SHARE, mean_over};
use crate::recording::{CaliperRow, Finding};
use crate::uncertain::{Budget, Component, Quantity};
use std::collections::{BTreeMap, BTreeSet};

/// Fewest degrees of freedom before the observed repeatability is taken out of the declared uncertainty of a reading: below, it
/// may be off by half.
const DOF_TO_SUBTRACT: f64 = 4.0;
/// At least this share of the declared uncertainty of a reading stays as bias, however well readings repeat.
const LEAST_BIAS_SHARE: f64 = 0.5;
/// Operators farther apart than so many standard uncertainties of their difference do not measure alike (common practice).
const OPERATORS_APART: f64 = 4.0;

/// What the gauge is worth, mm, as the rig declares it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct GaugeWorth {
    /// Smallest step.
    pub resolution_mm: Option<f64>,
    /// Standard uncertainty of one reading.
    pub u_mm: Option<f64>,
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
    /// The part that another stage measured by the same operators with the same caliper may share (their bias), mm; `None` where
    /// nothing is declared. See `mechanics`.
    pub shared_u_mm: Option<f64>,
    /// Readings used.
    pub readings: usize,
    /// Different orientations.
    pub orientations: usize,
    /// Different operators.
    pub operators: usize,
    /// Doubts.
    pub findings: Vec<Finding>,
}

/// Readings of a cell: one orientation (tenths of a degree; `None` not recorded) and operator.
type Cells = BTreeMap<Option<i64>, BTreeMap<String, Vec<f64>>>;

fn cells(readings: &[&CaliperRow]) -> Cells {
    let mut cells = Cells::new();
    for row in readings {
        // A two-point diameter at 200° is the one at 20°.
        let orientation = row
            .orientation_deg
            .filter(|angle| angle.is_finite())
            .map(|angle| (angle.rem_euclid(180.0) * 10.0).round() as i64 % 1800);
        cells
            .entry(orientation)
            .or_default()
            .entry(row.operator.clone().unwrap_or_default())
            .or_default()
            .push(row.value_mm);
    }
    cells
}

fn mean(values: impl ExactSizeIterator<Item = f64>) -> f64 {
    let n = values.len() as f64;
    values.sum::<f64>() / n
}

/// Mean diameter of readings of one run, stage and method (caliper or optical; plugs never: see [`super::plug`]).
///
/// Never fails: no usable reading gives a missing diameter with the reason.
pub fn mean_diameter(readings: &[&CaliperRow], gauge: &GaugeWorth) -> CaliperMean {
    let mut findings = Vec::new();
    let usable: Vec<&CaliperRow> = readings
        .iter()
        .copied()
        .filter(|row| row.value_mm.is_finite() && row.value_mm > 0.0)
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
    let (budget, shared_u_mm) = scatter.budget(
        &over.noise_factor,
        per_orientation,
        over.u_sampling,
        operators.len(),
        gauge,
    );
    scatter.check_operators(&cells, &mut findings);
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
    let (ovality, eccentricity_index) = out_of_round(
        over.mean,
        over.oval_amplitude,
        noise,
        angles.len(),
        over.assumed,
    );
    CaliperMean {
        diameter,
        ovality,
        eccentricity_index,
        budget,
        shared_u_mm,
        readings: usable.len(),
        orientations: cells.len(),
        operators: operators.len(),
        findings,
    }
}

fn nothing(findings: Vec<Finding>) -> CaliperMean {
    let missing = |unit| Quantity::missing(unit, "no reading");
    CaliperMean {
        diameter: missing("mm"),
        ovality: missing("1"),
        eccentricity_index: missing("1"),
        budget: Budget::new(),
        shared_u_mm: None,
        readings: 0,
        orientations: 0,
        operators: 0,
        findings,
    }
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

/// What the readings say about themselves.
struct Scatter {
    /// Standard deviation of one reading under the same hand and angle, mm.
    repeat: f64,
    /// Its degrees of freedom; 0 where nothing was repeated.
    dof: f64,
    /// Bias of one operator with the caliper, mm.
    bias: f64,
}

impl Scatter {
    fn of(cells: &Cells, gauge: &GaugeWorth) -> Self {
        let (mut sum, mut dof) = (0.0, 0.0);
        for repeats in cells.values().flat_map(BTreeMap::values) {
            let middle = mean(repeats.iter().copied());
            sum += repeats.iter().map(|v| (v - middle).powi(2)).sum::<f64>();
            dof += repeats.len() as f64 - 1.0;
        }
        if dof < 1.0 {
            (sum, dof) = interaction(cells);
        }
        let declared = gauge.u_mm.unwrap_or(0.0).max(0.0);
        let repeat2 = if dof >= 1.0 { sum / dof } else { 0.0 };
        // The declared uncertainty of one reading holds its repeatability, which the readings show themselves; the rest is bias.
        let bias2 = if dof >= DOF_TO_SUBTRACT {
            (declared * declared - repeat2).max((LEAST_BIAS_SHARE * declared).powi(2))
        } else {
            declared * declared
        };
        Self {
            repeat: repeat2.sqrt(),
            dof: if dof >= 1.0 { dof } else { 0.0 },
            bias: bias2.sqrt(),
        }
    }

    fn budget(
        &self,
        noise_factor: &f64,
        per_orientation: f64,
        u_sampling: f64,
        operators: usize,
        gauge: &GaugeWorth,
    ) -> (Budget, Option<f64>) {
        let mut budget = Budget::new();
        if self.dof > 0.0 {
            let share = (noise_factor / per_orientation).sqrt();
            budget.push(
                Component::normal("repeatability of a reading", self.repeat)
                    .sensitivity(share)
                    .dof(self.dof),
            );
        }
        let shared = gauge.u_mm.filter(|u| *u > 0.0).map(|_| {
            let share = 1.0 / (operators.max(1) as f64).sqrt();
            budget.push(
                Component::normal("bias of operator and caliper", self.bias).sensitivity(share),
            );
            self.bias * share
        });
        if let Some(step) = gauge.resolution_mm.filter(|q| *q > 0.0) {
            budget.push(Component::resolution("step of the caliper", step));
        }
        budget.push(Component::normal(
            "out-of-roundness between orientations",
            u_sampling,
        ));
        (budget, shared)
    }

    /// Operators who differ more than their bias and the scatter allow.
    fn check_operators(&self, cells: &Cells, findings: &mut Vec<Finding>) {
        let mut by_operator: BTreeMap<&String, Vec<f64>> = BTreeMap::new();
        for (orientation, operators) in cells {
            let middle = mean(operators.values().map(|v| mean(v.iter().copied())));
            if orientation.is_some() && operators.len() > 1 {
                for (name, repeats) in operators {
                    let deviation = mean(repeats.iter().copied()) - middle;
                    by_operator.entry(name).or_default().push(deviation);
                }
            }
        }
        let means: Vec<(&&String, f64, usize)> = by_operator
            .iter()
            .map(|(name, list)| (name, mean(list.iter().copied()), list.len()))
            .collect();
        let low = means.iter().min_by(|a, b| a.1.total_cmp(&b.1));
        let high = means.iter().max_by(|a, b| a.1.total_cmp(&b.1));
        if let (Some(low), Some(high)) = (low, high) {
            let n = low.2.min(high.2) as f64;
            let u = (2.0 * (self.bias.powi(2) + self.repeat.powi(2) / n)).sqrt();
            if u > 0.0 && high.1 - low.1 > OPERATORS_APART * u {
                findings.push(Finding::doubt(
                    "operators-disagree",
                    format!(
                        "operators `{}` and `{}` differ by {:.3} mm, more than {OPERATORS_APART} times its standard uncertainty {u:.3} mm",
                        low.0, high.0, high.1 - low.1
                    ),
                ));
            }
        }
    }
}

/// Without repeats: what operators and orientations leave unexplained, as sum of squares and degrees of freedom; only where every
/// operator read every orientation.
fn interaction(cells: &Cells) -> (f64, f64) {
    let rows: Vec<Vec<f64>> = cells
        .values()
        .map(|operators| {
            operators
                .values()
                .map(|v| mean(v.iter().copied()))
                .collect()
        })
        .collect();
    let names =
        |operators: &BTreeMap<String, Vec<f64>>| operators.keys().cloned().collect::<Vec<String>>();
    let columns = rows.first().map_or(0, Vec::len);
    let mut keys = cells.values().map(names);
    let first = keys.next();
    if columns < 2 || rows.len() < 2 || !keys.all(|k| Some(k) == first) {
        return (0.0, 0.0);
    }
    let grand = mean(rows.iter().map(|row| mean(row.iter().copied())));
    let column: Vec<f64> = (0..columns)
        .map(|j| mean(rows.iter().map(|row| row.get(j).copied().unwrap_or(grand))))
        .collect();
    let sum = rows
        .iter()
        .map(|row| {
            let level = mean(row.iter().copied());
            row.iter()
                .zip(&column)
                .map(|(v, c)| (v - level - c + grand).powi(2))
                .sum::<f64>()
        })
        .sum();
    (sum, ((rows.len() - 1) * (columns - 1)) as f64)
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
