//! Readings by orientation and operator, and how much they scatter.

use super::caliper::GaugeWorth;
use crate::recording::{CaliperRow, Finding};
use crate::uncertain::{Budget, Component, Distribution};
use std::collections::BTreeMap;

/// Operators farther apart than so many standard uncertainties of their difference do not measure alike (common practice).
const OPERATORS_APART: f64 = 4.0;

/// Values that scatter by this share of a step are rounded independently of each other: from half a step on, rounding is as good as noise
/// (Widrow 1961, from memory).
pub(super) const DITHER: f64 = 0.5;
/// A hand and its caliper are biased by no less than this share of what one reading is worth, whatever the scatter leaves of that (chosen:
/// the scatter is only estimated).
const BIAS_LEAST: f64 = 0.3;

/// Name of the component that a hand brings into everything it reads.
pub(super) const HAND_BIAS: &str = "bias of operator and caliper";

/// Readings of a cell: one orientation (tenths of a degree; `None` not recorded) and operator.
pub(super) type Cells = BTreeMap<Option<i64>, BTreeMap<String, Vec<f64>>>;

/// Orientation of a reading in tenths of a degree; `None` not recorded. A two-point diameter at 200° is the one at 20°.
pub(super) fn angle_tenths(row: &CaliperRow) -> Option<i64> {
    row.orientation_deg
        .filter(|angle| angle.is_finite())
        .map(|angle| (angle.rem_euclid(180.0) * 10.0).round() as i64 % 1800)
}

/// Readings sorted into cells.
pub(super) fn cells(readings: &[&CaliperRow]) -> Cells {
    let mut cells = Cells::new();
    for row in readings {
        cells
            .entry(angle_tenths(row))
            .or_default()
            .entry(row.operator.clone().unwrap_or_default())
            .or_default()
            .push(row.value_mm);
    }
    cells
}

/// Mean; NaN of nothing.
pub(super) fn mean(values: impl ExactSizeIterator<Item = f64>) -> f64 {
    let n = values.len() as f64;
    values.sum::<f64>() / n
}

/// Sum of squares of repeats about their means, and its degrees of freedom; where nothing was repeated, that of what operators and
/// orientations leave unexplained.
pub(super) fn within(cells: &Cells) -> (f64, f64) {
    let (mut sum, mut dof) = (0.0, 0.0);
    for repeats in cells.values().flat_map(BTreeMap::values) {
        let middle = mean(repeats.iter().copied());
        sum += repeats.iter().map(|v| (v - middle).powi(2)).sum::<f64>();
        dof += repeats.len() as f64 - 1.0;
    }
    if dof < 1.0 {
        return interaction(cells);
    }
    (sum, dof)
}

/// What the readings say about themselves.
pub(super) struct Scatter {
    /// Standard deviation of one reading under the same hand and angle, mm.
    pub repeat: f64,
    /// Its degrees of freedom; 0 where nothing was repeated.
    dof: f64,
    /// Standard uncertainty of the bias of one operator with the caliper, mm: what the declared uncertainty of a reading leaves beside its
    /// scatter, all of it where nothing was repeated.
    pub bias: f64,
    /// Standard deviation of the values of the orientations, mm.
    spread: f64,
}

impl Scatter {
    pub(super) fn of(cells: &Cells, gauge: &GaugeWorth) -> Self {
        let (repeat, dof) = match gauge.repeat {
            Some(pooled) => (pooled.sd_mm, pooled.dof),
            None => match within(cells) {
                (sum, dof) if dof >= 1.0 => ((sum / dof).sqrt(), dof),
                _ => (0.0, 0.0),
            },
        };
        let declared = gauge.u_mm.unwrap_or(0.0).max(0.0);
        let step = gauge.resolution_mm.unwrap_or(0.0).max(0.0);
        // Whether the worth of a reading counts its rounding is not said: the bias is taken as if it did not. Scatter has it in it.
        let rounding = Distribution::Resolution.standard_uncertainty(step);
        let scatter = (repeat.powi(2) - rounding.powi(2)).max(0.0);
        let left = declared.powi(2) - scatter;
        let bias = if dof > 0.0 {
            left.max(0.0).sqrt().max(BIAS_LEAST * declared)
        } else {
            declared
        };
        let values: Vec<f64> = cells
            .values()
            .map(|operators| mean(operators.values().map(|v| mean(v.iter().copied()))))
            .collect();
        let middle = mean(values.iter().copied());
        let squares: f64 = values.iter().map(|v| (v - middle).powi(2)).sum();
        let spread = (squares / (values.len() as f64 - 1.0).max(1.0)).sqrt();
        Self {
            repeat,
            dof,
            bias,
            spread,
        }
    }

    /// The budget of a mean over orientations.
    pub(super) fn budget(
        &self,
        noise_factor: f64,
        per_orientation: f64,
        u_sampling: f64,
        (orientations, operators): (usize, usize),
        gauge: &GaugeWorth,
    ) -> Budget {
        let mut budget = Budget::new();
        if self.dof > 0.0 {
            let share = (noise_factor / per_orientation).sqrt();
            budget.push(
                Component::normal("repeatability of a reading", self.repeat)
                    .sensitivity(share)
                    .dof(self.dof),
            );
        }
        if gauge.u_mm.is_some_and(|u| u > 0.0) {
            let share = 1.0 / (operators.max(1) as f64).sqrt();
            budget.push(Component::normal(HAND_BIAS, self.bias).sensitivity(share));
        }
        if let Some(step) = gauge.resolution_mm.filter(|q| *q > 0.0)
            && self.repeat < DITHER * step
        {
            // Diameters that differ by more than a step are each rounded their own way; equal ones all alike.
            let rounded = if self.spread > DITHER * step {
                orientations.max(1) as f64
            } else {
                1.0
            };
            budget.push(
                Component::resolution("step of the caliper", step)
                    .sensitivity(rounded.sqrt().recip()),
            );
        }
        budget.push(Component::normal(
            "out-of-roundness between orientations",
            u_sampling,
        ));
        budget
    }

    /// Operators who differ more than their bias and the scatter allow.
    pub(super) fn check_operators(&self, cells: &Cells, findings: &mut Vec<Finding>) {
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
