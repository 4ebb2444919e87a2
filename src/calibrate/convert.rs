//! Raw numbers to bench units: calibration, unit, absolute to gauge, missing codes, delay, calibration dates.

use crate::recording::{Finding, Numbering, Place, RawChannel, Readings, RunRow, Trace};
use crate::rig::{Calibration, ChannelQuantity, ChannelSpec, Reference, Rig};
use crate::units::{Dimension, Unit};
use jiff::civil::Date;
use rayon::prelude::*;

/// Numbers that loggers write for "nothing measured". They count as missing only where they are no possible reading.
const MISSING_CODES: &[f64] = &[
    -999.0, -9999.0, -99999.0, 9999.0, 99999.0, 999.0, -999.9, -9999.9, 1e30, -1e30, 9.9e37,
];
/// No code is smaller than this.
const SMALLEST_CODE: f64 = 999.0;
/// No balloon is taken to this gauge pressure, kPa (80 bar; used where the rig states no range).
const BEYOND_BALLOONS_KPA: f64 = 8000.0;
/// No run moves this much, mL (ten large syringes; used where the rig states no range).
pub(super) const BEYOND_SYRINGES_ML: f64 = 500.0;
/// A gauge pressure below this is impossible in a liquid line, kPa.
const BELOW_VACUUM_KPA: f64 = -120.0;

/// Values asked together whether one of them may be a code.
const BLOCK: usize = 256;
/// Samples converted at a time.
const PIECE: usize = 1 << 15;

/// What was met while converting some samples.
#[derive(Debug, Clone, Copy, Default)]
struct Met {
    missing: usize,
    first_missing: Option<usize>,
    beyond_table: usize,
}

/// A channel in bench units, one value a sample of the trace; missing codes and values that cannot be are NaN.
pub(super) fn to_bench(
    channel: RawChannel,
    spec: &ChannelSpec,
    rig: &Rig,
    trace: &Trace,
    file: &str,
    findings: &mut Vec<Finding>,
) -> Readings {
    let conversion = Conversion::of(channel.quantity, channel.unit, spec, rig);
    let mut values = in_order(channel.values, &trace.row);
    let met = values
        .par_chunks_mut(PIECE)
        .enumerate()
        .map(|(piece, values)| conversion.apply(values, piece * PIECE))
        .reduce(Met::default, |a, b| Met {
            missing: a.missing + b.missing,
            first_missing: a.first_missing.or(b.first_missing),
            beyond_table: a.beyond_table + b.beyond_table,
        });
    if let Some(first) = met.first_missing {
        findings.push(
            Finding::doubt(
                "missing-code",
                format!(
                    "{} cells of column {} hold a number that stands for \"nothing measured\"; they are left out",
                    met.missing,
                    channel.column
                ),
            )
            .at(Place::cell(file, trace.line.at(first), &channel.column))
            .count(met.missing)
            .effect(format!(
                "{} of {} readings of the column left out",
                met.missing,
                values.len()
            )),
        );
    }
    if met.beyond_table > 0 {
        findings.push(
            Finding::doubt(
                "beyond-calibration",
                format!(
                    "{} values lie outside the calibration table and were held at its end",
                    met.beyond_table
                ),
            )
            .at(Place::cell(
                file,
                trace.line.get(0).unwrap_or(1),
                &channel.column,
            ))
            .count(met.beyond_table)
            .effect("those values are at the end of the table instead of beyond it"),
        );
    }
    values
}

/// The codes that are possible readings of a channel, in bench units, as converting the column gives them to the last digit.
pub(super) fn codes_in_bench(spec: &ChannelSpec, unit: &'static Unit, rig: &Rig) -> Vec<f64> {
    let conversion = Conversion::of(spec.quantity, unit, spec, rig);
    let mut values = MISSING_CODES.to_vec();
    conversion.apply(&mut values, 0);
    values.retain(|value| value.is_finite());
    values
}

/// The values of the rows, in the order of the trace.
fn in_order(values: Readings, rows: &Numbering) -> Readings {
    if *rows == Numbering::from_first(0, values.len()) {
        return values;
    }
    rows.iter()
        .map(|row| values.get(row as usize).copied().unwrap_or(f64::NAN))
        .collect()
}

/// From numbers of the file to bench units.
struct Conversion<'c> {
    spec: &'c ChannelSpec,
    unit: &'static Unit,
    per_turn: f64,
    ambient_kpa: f64,
}

impl<'c> Conversion<'c> {
    fn of(
        quantity: ChannelQuantity,
        unit: &'static Unit,
        spec: &'c ChannelSpec,
        rig: &Rig,
    ) -> Self {
        let turns = unit.dimension == Dimension::Turns;
        let absolute =
            quantity == ChannelQuantity::Pressure && spec.reference == Reference::Absolute;
        Self {
            spec,
            unit,
            per_turn: if turns {
                spec.ml_per_turn.or(rig.ml_per_turn).unwrap_or(1.0)
            } else {
                1.0
            },
            ambient_kpa: if absolute { rig.ambient() } else { 0.0 },
        }
    }

    /// Converts samples in place; `start` is the first of them.
    fn apply(&self, values: &mut [f64], start: usize) -> Met {
        match &self.spec.calibration {
            Calibration::None => self.each(values, start, |raw| raw),
            Calibration::GainOffset { gain, offset } => {
                self.each(values, start, |raw| gain * raw + offset)
            }
            Calibration::Polynomial { coefficients } => self.each(values, start, |raw| {
                coefficients.iter().rev().fold(0.0, |sum, c| sum * raw + c)
            }),
            Calibration::Table { raw: x, value: y } => {
                let mut beyond = 0;
                let mut met = self.each(values, start, |raw| {
                    let outside = Some(&raw) < x.first() || Some(&raw) > x.last();
                    beyond += usize::from(raw.is_finite() && outside);
                    interpolate(x, y, raw)
                });
                met.beyond_table = beyond;
                met
            }
        }
    }

    fn each(&self, values: &mut [f64], start: usize, mut value_of: impl FnMut(f64) -> f64) -> Met {
        let mut met = Met::default();
        let mut bench = |raw| self.unit.to_bench(value_of(raw)) * self.per_turn - self.ambient_kpa;
        // Every code is a large number: nearly all values pass at once, many together.
        let large = |raw: f64| raw.abs() >= SMALLEST_CODE;
        for (block, values) in values.chunks_mut(BLOCK).enumerate() {
            if !values.iter().fold(false, |any, raw| any | large(*raw)) {
                for value in values {
                    *value = bench(*value);
                }
                continue;
            }
            for (sample, value) in values.iter_mut().enumerate() {
                let raw = std::mem::replace(value, bench(*value));
                if large(raw) && MISSING_CODES.contains(&raw) && impossible(*value, self.spec) {
                    met.missing += 1;
                    met.first_missing
                        .get_or_insert(start + block * BLOCK + sample);
                    *value = f64::NAN;
                }
            }
        }
        met
    }
}

fn impossible(bench: f64, spec: &ChannelSpec) -> bool {
    match spec.range {
        Some((low, high)) => bench < low || bench > high,
        None => match spec.quantity {
            ChannelQuantity::Pressure => !(BELOW_VACUUM_KPA..=BEYOND_BALLOONS_KPA).contains(&bench),
            ChannelQuantity::Diameter => !(0.0..=100.0).contains(&bench),
            ChannelQuantity::Volume | ChannelQuantity::Turns => bench.abs() > BEYOND_SYRINGES_ML,
            _ => false,
        },
    }
}

fn interpolate(x: &[f64], y: &[f64], at: f64) -> f64 {
    if !at.is_finite() || x.is_empty() || x.len() != y.len() {
        return f64::NAN;
    }
    let above = x.partition_point(|v| *v < at);
    if above == 0 {
        return y[0];
    }
    if above == x.len() {
        return y[x.len() - 1];
    }
    let share = (at - x[above - 1]) / (x[above] - x[above - 1]);
    y[above - 1] + share * (y[above] - y[above - 1])
}

/// A channel whose clock runs late by `delay_s`, moved back: value(t) = recorded(t + delay), straight between samples.
pub(super) fn undo_delay(time_s: &[f64], values: Readings, delay_s: f64) -> Readings {
    if delay_s == 0.0 {
        return values;
    }
    let mut above = 0;
    time_s
        .iter()
        .map(|t| {
            let at = t + delay_s;
            while above < time_s.len() && time_s[above] < at {
                above += 1;
            }
            match above {
                0 => values.first().copied().unwrap_or(f64::NAN),
                k if k == time_s.len() => f64::NAN,
                k => {
                    let share = (at - time_s[k - 1]) / (time_s[k] - time_s[k - 1]);
                    values[k - 1] + share * (values[k] - values[k - 1])
                }
            }
        })
        .collect()
}

/// A calibration past due at the date of the test (not today) is a doubt on every number of the channel.
pub(super) fn check_due(spec: &ChannelSpec, run: &RunRow, file: &str, findings: &mut Vec<Finding>) {
    let Some(due) = spec.due_on else { return };
    let tested = run
        .started_at
        .as_deref()
        .and_then(|text| text.get(..10))
        .and_then(|date| date.parse::<Date>().ok());
    let Some(tested) = tested else {
        findings.push(
            Finding::note(
                "test-date-unknown",
                format!("whether the calibration of the {} channel was in date (due {due}) cannot be told without started_at", spec.quantity.word()),
            )
            .at(Place::line(&run.file, run.line)),
        );
        return;
    };
    if tested > due {
        findings.push(
            Finding::doubt(
                "calibration-overdue",
                format!(
                    "the {} channel was due for calibration on {due}, before the test on {tested}",
                    spec.quantity.word()
                ),
            )
            .at(Place::file(file))
            .effect("the declared uncertainty of the channel is used as it stands")
            .help("recalibrate and judge whether this run stands"),
        );
    }
    if spec.calibrated_on.is_some_and(|date| date > tested) {
        findings.push(
            Finding::doubt(
                "calibrated-after-test",
                format!(
                    "the {} channel was calibrated after the test on {tested}",
                    spec.quantity.word()
                ),
            )
            .at(Place::file(file))
            .effect("the calibration declared is used as it stands"),
        );
    }
}
